// A bar explained: what the companion plays there and why; and its arrangement kept note for note, or made anew.
import { ask } from "./ask.js";
import { chosen, how } from "./chosen.js";
import { el } from "./dom.js";

const MOST = 4; // bars explained at a time

export class Explained {
  #page;
  #name;
  #what;
  #bars = null;
  #turn = 0;
  element = el("div.explained", { role: "region", "aria-label": "Why it is played so", "aria-live": "polite", hidden: true });

  constructor(page, name, what) {
    this.#page = page;
    this.#name = name;
    this.#what = what;
  }

  /** Explain some bars, or nothing. */
  async show(bars) {
    this.#bars = bars;
    const turn = ++this.#turn;
    this.#page.playback.stop();
    this.element.hidden = !bars;
    if (!bars) return;
    const asked = { chart: this.#name, how: how(this.#what()), bars: [bars[0], Math.min(bars[1], bars[0] + MOST - 1)] };
    const told = await this.#page.tried(() => ask("/tune/explain", asked));
    if (turn === this.#turn && told) this.element.replaceChildren(...told.bars.map(explained), this.#buttons(told.bars));
  }

  #buttons(bars) {
    const written = bars.some((bar) => bar.written.length);
    const hear = el("button.sample", { type: "button", "aria-pressed": "false" }, "Hear these bars");
    hear.addEventListener("click", () => this.#page.tried(() => this.#page.playback.play(hear, () => ask("/tune/hear", this.#asked()))));
    const anew = el("button", { type: "button" }, "Another arrangement");
    anew.addEventListener("click", () => {
      this.#what().seed += 1;
      this.show(this.#bars);
    });
    const keep = el("button", { type: "button" }, written ? "Write them anew" : "Keep them as they are");
    keep.addEventListener("click", () => this.#keep(false));
    const free = written ? el("button", { type: "button", onclick: () => this.#keep(true) }, "Make them free again") : null;
    return el("p.buttons", {}, hear, anew, keep, free);
  }

  #asked(more = {}) {
    return { chart: this.#name, how: how(this.#what()), bars: this.#bars, ...more };
  }

  async #keep(free) {
    const told = await this.#page.tried(() => ask("/tune/keep", this.#asked({ free })));
    if (!told) return;
    this.#page.say(told.said);
    chosen.moved(this.#name, told.name);
    this.#name = told.name;
    this.show(this.#bars);
  }
}

function explained(bar) {
  const rows = [...bar.lines, ...(bar.scales ? [{ part: "scales", text: bar.scales }] : [])];
  return el(
    "div",
    {},
    el("h4", {}, `Bar ${bar.bar}`, el("span.symbols", {}, bar.chords), bar.written.length ? el("em", {}, "written") : null),
    el("dl", {}, ...rows.flatMap(({ part, text }) => [el("dt", {}, part), el("dd", {}, text)])),
  );
}
