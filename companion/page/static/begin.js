// Playing begins: with the built-in pianist, heard in the browser, or with whoever sits at the piano.
import { post } from "./ask.js";
import { chosen, how } from "./chosen.js";

/** Begin what is chosen for a tune; tells what is wrong, or null. */
export function begin(sound, name, drill = null) {
  const what = chosen.of(name);
  const asked = { chart: name, you: what.you.split(","), how: how(what) };
  if (what.who === "piano") return post("/play", { ...asked, how: { ...asked.how, bars: drill ? what.bars : null }, drill });
  sound.start();
  return post("/demo", asked);
}

/** Begin a passage of a tune: a drill at the piano; without one the built-in pianist goes over it again and again. */
export function beginPassage(sound, name, bars, drill = {}) {
  const what = chosen.of(name);
  chosen.tune = name;
  what.bars = bars;
  if (drill.you) what.you = drill.you.join(",");
  const { kind = "usual", start = null, goal = null, minutes = null } = drill;
  return begin(sound, name, what.who === "piano" ? { kind, start, goal, minutes } : null);
}
