// The beat and the tempo: strokes for the beats of a bar, a notehead on the one that sounds; the tempo with its note value.
import { drawn, el } from "./dom.js";

export class Beats {
  #tune;
  #count;
  #head = drawn("ellipse.head", { rx: 6.5, ry: 4.6, cy: 12 });
  #tempo = el("span.tempo", { id: "tempo" });

  constructor(tune) {
    this.#tune = tune;
    this.#count = Math.max(1, Math.round(tune.metre.bar / tune.metre.pulse));
    const wide = 20 * this.#count + 8;
    const strokes = Array.from({ length: this.#count }, (_, n) =>
      drawn("line", { x1: 14 + 20 * n, x2: 14 + 20 * n, y1: n ? 6 : 2, y2: n ? 18 : 22 }),
    );
    const svg = drawn("svg.strokes", { viewBox: `0 0 ${wide} 24`, width: wide, height: 24, "aria-hidden": "true" }, ...strokes, this.#head);
    this.element = el("div.beats", {}, svg, this.#tempo);
    this.tempo(tune.tempo);
  }

  /** Quarters a minute, shown in the note value that is counted. */
  tempo(quarters) {
    if (!quarters) return;
    const { sign, words, quarters: each } = this.#tune.counted;
    const per = Math.round(quarters / each);
    const shown = `${sign} = ${per}`;
    if (this.#tempo.textContent === shown) return;
    this.#tempo.textContent = shown;
    this.#tempo.setAttribute("title", `${per} ${words} notes a minute`);
  }

  /** The beat of the bar, from 0. */
  at(beat) {
    const x = 14 + 20 * (((Math.floor(beat + 1e-3) % this.#count) + this.#count) % this.#count);
    this.#head.setAttribute("cx", x);
    this.#head.setAttribute("transform", `rotate(-20 ${x} 12)`);
    this.#head.classList.add("there");
  }
}
