// A tune on paper, or for another program: links that download it.
import { el } from "./dom.js";

const WHATS = [
  ["both", "Both hands"],
  ["right", "The right hand"],
  ["left", "The left hand"],
  ["lead", "Melody and chord symbols"],
];
const KINDS = [
  ["pdf", "PDF"],
  ["musicxml", "MusicXML"],
  ["mid", "MIDI"],
];

/** The links for a tune; `how` tells what is chosen at the moment of pressing one. */
export function papers(chart, how) {
  const link = (what, kind, words, of) => {
    const a = el("a", { download: "", "aria-label": `${of}, ${words}` }, words);
    const aim = () => a.setAttribute("href", `/tune/paper?${new URLSearchParams({ chart, what, kind, how: JSON.stringify(how()) })}`);
    aim();
    for (const event of ["pointerdown", "focus", "keydown"]) a.addEventListener(event, aim);
    return a;
  };
  const rows = WHATS.map(([what, words]) =>
    el("li", {}, el("span", {}, words), ...KINDS.map(([kind, called]) => link(what, kind, called, words))),
  );
  return el("details.papers", {}, el("summary", {}, "On paper, and for other programs"), el("ul", {}, ...rows));
}
