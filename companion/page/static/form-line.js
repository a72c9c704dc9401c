// The form as a line: each section as long as it is, and on the line the place, drawn as the head of a note.
import { drawn, el } from "./dom.js";

const HIGH = 46;
const LINE = 17;
const EDGE = 9;
const LETTER = 8.6; // pixels that a letter of a name takes
const INTRO = "intro"; // what is said of an introduction for short
const EPSILON = 1e-3; // beats
const USUAL = 800; // pixels of a window's height at which the line is drawn in its own size

export class FormLine {
  #tune;
  #first;
  #last;
  #head = drawn("ellipse.head", { rx: 8, ry: 5.6, cy: LINE });
  #gone = drawn("line.gone", { y1: LINE, y2: LINE, x1: EDGE, x2: EDGE });
  #svg = drawn("svg", { "aria-hidden": "true" });
  #round = null;
  #place = null;
  #names = []; // beat at which a section begins, and its name as it is drawn
  #watch;

  constructor(tune) {
    this.#tune = tune;
    this.#first = Math.min(0, ...tune.sections.map((section) => section.start));
    this.#last = Math.max(tune.length, ...tune.sections.map((section) => section.end));
    this.element = el("div.form-line", {}, this.#svg);
    this.#watch = new ResizeObserver(() => this.#draw());
    this.#watch.observe(this.element);
  }

  end() {
    this.#watch.disconnect();
  }

  /** Mark the bars of a drill. */
  bars(first, last) {
    this.#round = [first, last];
    this.#draw();
  }

  /** Where it is. */
  at(place) {
    this.#place = place;
    const x = this.#x(place);
    this.#head.setAttribute("cx", x);
    this.#head.setAttribute("transform", `rotate(-20 ${x} ${LINE})`);
    this.#gone.setAttribute("x2", x);
    this.#head.classList.toggle("there", true);
    const here = this.#names.findLast(([start]) => start <= place + EPSILON);
    for (const name of this.#names) name[1].classList.toggle("here", name === here);
  }

  #x(beat) {
    const wide = this.#wide();
    const share = (Math.min(Math.max(beat, this.#first), this.#last) - this.#first) / (this.#last - this.#first);
    return EDGE + share * (wide - 2 * EDGE);
  }

  /** How wide the line is in its own units, which are larger on a large screen. */
  #wide() {
    return (this.element.clientWidth || 600) / this.#scale();
  }

  #scale() {
    return Math.min(2.4, Math.max(0.85, Math.min(innerHeight, innerWidth * 1.2) / USUAL));
  }

  #draw() {
    const wide = this.#wide();
    const scale = this.#scale();
    this.element.style.setProperty("--scale", scale);
    const { sections, bars, length } = this.#tune;
    this.#svg.setAttribute("viewBox", `0 0 ${wide} ${HIGH}`);
    this.#svg.setAttribute("width", wide * scale);
    this.#svg.setAttribute("height", HIGH * scale);
    const parts = [drawn("line.whole", { x1: EDGE, x2: wide - EDGE, y1: LINE, y2: LINE })];
    this.#names = [];
    const close = (wide - 2 * EDGE) / (this.#last - this.#first) < 2;
    for (const bar of close ? [] : bars) parts.push(tick("bar", this.#x(bar), 3.5));
    for (const section of sections) {
      const x = this.#x(section.start);
      const room = this.#x(section.end) - x - 4;
      parts.push(tick("section", x, 9));
      const name = shortened(section.name, room);
      if (name) this.#names.push([section.start, drawn("text", { x: x + 1, y: HIGH - 6 }, name)]);
    }
    const end = this.#x(this.#last);
    parts.push(tick("section", end, 9), tick("section", end - 3.5, 9));
    if (this.#round) {
      const [first, last] = this.#round;
      const from = this.#x(bars[first - 1] ?? 0);
      const to = this.#x(bars[last] ?? length);
      parts.push(drawn("path.passage", { d: `M${from} ${LINE - 9} v-6 H${to} v6` }));
    }
    this.#svg.replaceChildren(...parts, ...this.#names.map(([, name]) => name), this.#gone, this.#head);
    if (this.#place !== null) this.at(this.#place);
  }
}

function tick(kind, x, reach) {
  return drawn(`line.${kind}`, { x1: x, x2: x, y1: LINE - reach, y2: LINE + reach });
}

/** A name in the room there is for it; where there is next to none, what it begins with. */
function shortened(name, room) {
  const fits = Math.floor(room / LETTER);
  if (name.length <= fits) return name;
  if (name === "introduction" && fits >= INTRO.length) return INTRO;
  if (fits >= 4) return `${name.slice(0, fits - 1).trimEnd()}…`;
  return room > LETTER ? name.slice(0, Math.max(1, fits)) : "";
}
