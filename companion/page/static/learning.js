// What is found out by pressing it: the keyboard's two ends, its pedals, and what is to tell the companion something.
import { el } from "./dom.js";

const ENDS = 24; // semitones: the ends of any keyboard lie two octaves apart

/** A line that says what is known, and learns it anew from what is pressed. */
class Learning {
  element = el("div.learning");
  #on = false;

  /** `begun` is told as it begins: one thing is learnt at a time. */
  constructor({ id, name, known, ask, begun }) {
    Object.assign(this, { id, name, known, ask, begun });
    this.leave();
  }

  get on() {
    return this.#on;
  }

  begin() {
    this.begun(this);
    this.#on = true;
    this.clear();
    this.show();
    this.element.querySelector("button").focus();
  }

  leave() {
    const had = this.#on && this.element.contains(document.activeElement);
    this.#on = false;
    const button = el("button", { type: "button", id: this.id, "aria-label": this.buttonLabel(), onclick: () => this.begin() }, this.buttonWords());
    this.element.replaceChildren(el("span", {}, el("b", {}, this.name), " ", this.known), ...this.others(), button);
    if (had) button.focus();
  }

  others() {
    return [];
  }

  show() {
    const ready = this.ready();
    const keep = ready ? el("button", { type: "button", id: this.id, onclick: () => this.keep() }, "Keep it") : null;
    const leave = el("button", { type: "button", id: ready ? null : this.id, onclick: () => this.leave() }, "Leave it");
    this.element.replaceChildren(el("span", { role: "status" }, el("b", {}, this.name), " ", this.said() || this.ask), ...[keep, leave].filter(Boolean));
  }
}

/** The lowest and the highest key. */
export class Range extends Learning {
  constructor(known, keep, begun) {
    super({ id: "range", name: "Its keys:", known, ask: "Play the lowest key, then the highest.", begun });
    this.kept = keep;
  }

  buttonWords() {
    return "Show its two ends";
  }

  buttonLabel() {
    return "Show the keyboard’s two ends";
  }

  clear() {
    this.low = this.high = null;
  }

  heard({ key, words }) {
    if (key === null) return;
    if (!this.low || key < this.low.key) this.low = { key, words };
    if (!this.high || key > this.high.key) this.high = { key, words };
    this.show();
    this.element.querySelector("button").focus();
  }

  ready() {
    return this.low !== null && this.high.key - this.low.key >= ENDS;
  }

  said() {
    if (!this.low) return "";
    const count = this.high.key - this.low.key + 1;
    return this.ready() ? `${count} keys, ${this.low.words} to ${this.high.words}. Is that all of it?` : `${this.low.words} so far; now the other end.`;
  }

  keep() {
    this.kept({ keyboard: [this.low.key, this.high.key] });
  }
}

/** Which pedals there are. */
export class Pedals extends Learning {
  constructor(known, keep, begun) {
    super({ id: "pedals", name: "Its pedals:", known, ask: "Press each pedal once, slowly.", begun });
    this.kept = keep;
  }

  buttonWords() {
    return "Show its pedals";
  }

  buttonLabel() {
    return "Show the keyboard’s pedals";
  }

  clear() {
    this.found = new Map();
    this.half = false;
  }

  heard({ pedal, half, words }) {
    if (pedal === null) return;
    this.found.set(pedal, words);
    this.half ||= half && pedal === 64;
    this.show();
    this.element.querySelector("button").focus();
  }

  ready() {
    return this.found.size > 0;
  }

  said() {
    const half = this.half ? " (half positions too)" : "";
    return [...this.found].map(([pedal, words]) => words + (pedal === 64 ? half : "")).join(", ");
  }

  keep() {
    this.kept({ pedals: [...this.found.keys()], half_pedal: this.half });
  }
}

/** One thing that can be told, and by which key, pedal or switch. */
export class Telling extends Learning {
  constructor({ wish, words, press }, teach, begun) {
    super({ id: `tell-${wish.replaceAll(" ", "-")}`, name: `${words}:`, known: press || "not taught", ask: "Press the key, pedal or switch that is to tell it.", begun });
    Object.assign(this, { wish, words, press, teach });
    this.leave();
  }

  buttonWords() {
    return "Teach";
  }

  buttonLabel() {
    return `Teach what tells: ${this.words}`;
  }

  others() {
    if (!this.press) return [];
    const forget = el("button.plain", { type: "button", "aria-label": `Forget what tells: ${this.words}` }, "Forget");
    forget.addEventListener("click", () => this.teach({ wish: this.wish }));
    return [forget];
  }

  clear() {}

  heard({ signal, pedal, words }) {
    if (signal) this.teach({ wish: this.wish, ...signal });
    else if (pedal === 64) this.element.querySelector("span").textContent = `The ${words} is for playing. Press another.`;
  }

  ready() {
    return false;
  }

  said() {
    return "";
  }
}
