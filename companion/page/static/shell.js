// What all views between takes have in common: the ways between them, a line for what there is to say, and no more.
import { el } from "./dom.js";
import { changeLook, lookWords } from "./look.js";

const WAYS = [
  ["tunes", "Tunes"],
  ["today", "Today"],
  ["takes", "Takes"],
  ["piano", "Piano"],
];

export const CARE =
  "Take a break now and then, keep the volume moderate, and stop when anything hurts. " +
  "A teacher or a doctor knows your hands; a program doesn't.";

/** A view between takes: `body` is what a view fills, `say` tells something, `playback` sounds what is to be heard. */
export class Page {
  name = "choose";
  between = true;
  note = el("p.note", { role: "status" });
  body;

  constructor(title, way, { sound, playback }, tag = "div") {
    this.sound = sound;
    this.playback = playback;
    this.title = el("h1", { tabindex: "-1" }, title);
    const look = el("button.plain", { type: "button" }, lookWords());
    look.addEventListener("click", () => {
      changeLook();
      look.textContent = lookWords();
    });
    const ways = WAYS.map(([hash, words]) =>
      el("a", { href: `#${hash}`, "aria-current": hash === way ? "page" : null }, words),
    );
    this.body = el("div.body");
    this.element = el(
      `${tag}.page`,
      {},
      el("header", {}, this.title, look),
      el("nav", { "aria-label": "The page" }, ...ways),
      this.body,
    );
    document.title = title;
  }

  /** Tell something where it can't be missed. */
  say(text) {
    if (this.note.textContent !== text) this.note.textContent = text;
  }

  told(message) {
    if (message.kind === "over") this.#over(message);
    else if (message.text) this.say(message.text);
  }

  /** What was played is over: why, where that needs a word, and the way to the take that was kept. */
  #over({ why, take }) {
    this.say(why);
    if (why || !take) return;
    const words = take.startsWith("demo:") ? "Look through what the pianist played" : "Look through what you played";
    this.note.replaceChildren(el("a", { href: `#take/${encodeURIComponent(take)}` }, words));
  }

  end() {
    this.playback.stop();
  }

  /** Fill a place; what is null isn't there. */
  fill(place, ...parts) {
    place.replaceChildren(...parts.filter((part) => part !== null && part !== undefined));
  }

  /** Do something that asks the server, and say what went wrong with it. */
  async tried(work) {
    try {
      return await work();
    } catch (error) {
      this.say(error.message);
      return null;
    }
  }
}
