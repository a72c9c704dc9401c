// The engraved systems: the one in hand with its sounding bar marked, and those that come.
//
// What is being read never moves. The systems stand in places one under the other; when the play goes on to the next
// place, the one that is left gets the system after the last that is seen, as a page that is turned in halves.
import { drawing, drawn, el } from "./dom.js";

const UNITS = 20; // of a drawing's frame in a space of the staff
const SPACE = 200; // of its inside
const STAFF = 4 * SPACE;
const EPSILON = 1e-3; // beats

export class Systems {
  #slots = [];
  #rows = [];
  #shown = [];
  #current = -1;
  #slot = 0;
  #bar = null;
  #mark = drawn("g.mark", {}, drawn("rect.wash"), drawn("path.edge"));
  #beat = drawn("path.beat", { d: `M${-SPACE * 0.8} ${SPACE * 1.3} L0 0 L${SPACE * 0.8} ${SPACE * 1.3} Z` });
  #after = () => null;

  constructor() {
    this.element = el("div.systems", { "aria-label": "Music", role: "img" });
  }

  /** The size of a space in pixels, and how many systems have room. */
  places(count, space) {
    this.element.style.setProperty("--space", `${space}px`);
    if (count === this.#slots.length) return;
    this.#slots = Array.from({ length: count }, () => el("div.slot"));
    this.element.replaceChildren(...this.#slots);
    this.#reset();
  }

  /** Take the systems of a chorus; `after` gives those that follow it, or null while they aren't known. */
  take(rows, after) {
    this.#rows = rows;
    this.#after = after;
    this.#shown = this.#shown.map(() => null);
    if (this.#current >= 0) {
      const bar = this.#bar;
      this.#current = -1;
      if (bar) this.at(bar.start);
    }
  }

  /** Whether these are the systems that are shown. */
  has(rows) {
    return this.#rows === rows;
  }

  /** Mark the bar and the beat that sound. */
  at(place) {
    const found = this.#find(place);
    if (!found) return this.clear();
    const [index, bar] = found;
    if (index !== this.#current) this.#turnTo(index);
    if (bar !== this.#bar || !this.#mark.isConnected) this.#markBar(bar);
    this.#markBeat(bar, place);
    return undefined;
  }

  /** Show from a place on, nothing being marked. */
  from(place) {
    const found = this.#find(place);
    if (!found) return;
    this.#turnTo(found[0]);
    this.clear();
  }

  /** Mark nothing. */
  clear() {
    this.#mark.remove();
    this.#beat.remove();
    this.#bar = null;
  }

  #reset() {
    this.#shown = this.#slots.map(() => null);
    this.#current = -1;
    const bar = this.#bar;
    if (bar) this.at(bar.start);
  }

  #find(place) {
    for (const [index, row] of this.#rows.entries())
      for (const bar of row.bars)
        if (place >= bar.start - EPSILON && place < bar.start + bar.length - EPSILON) return [index, bar];
    return null;
  }

  #turnTo(index) {
    const count = this.#slots.length;
    if (!count) return;
    const wanted = this.#rows[index];
    const there = this.#shown.indexOf(wanted);
    this.#slot = there >= 0 && (there === (this.#slot + 1) % count || there === this.#slot) ? there : 0;
    this.#current = index;
    this.fill();
  }

  /** Put what comes into the places that are left. */
  fill() {
    const count = this.#slots.length;
    if (this.#current < 0 || !count) return;
    const coming = [...this.#rows.slice(this.#current), ...(this.#after() ?? [])];
    for (let n = 0; n < count; n++) this.#put((this.#slot + n) % count, coming[n] ?? null);
    for (const [n, slot] of this.#slots.entries()) {
      slot.classList.toggle("in-hand", n === this.#slot);
      slot.classList.toggle("turned", count > 1 && n === 0 && this.#slot === count - 1);
    }
  }

  #put(slot, row) {
    if (this.#shown[slot] === row) return;
    this.#shown[slot] = row;
    this.#slots[slot].replaceChildren(...(row ? [this.#system(row)] : []));
  }

  #system(row) {
    const svg = drawing(row.svg);
    const [, , wide, high] = svg.getAttribute("viewBox").split(" ").map(Number);
    svg.style.setProperty("--wide", wide / UNITS);
    svg.style.setProperty("--high", high / UNITS);
    return svg;
  }

  #markBar(bar) {
    const measure = this.#slots[this.#slot]?.querySelector(`[id="${bar.element}"]`);
    this.#bar = bar;
    if (!measure) return;
    this.#mark.remove();
    this.#beat.remove();
    const staves = [...measure.querySelectorAll(":scope > .staff")].map((staff) => staff.querySelector("path").getBBox());
    if (!staves.length) return;
    const left = Math.min(...staves.map((box) => box.x));
    const right = Math.max(...staves.map((box) => box.x + box.width));
    const top = Math.min(...staves.map((box) => box.y)) - SPACE;
    const bottom = Math.max(...staves.map((box) => box.y + STAFF)) + SPACE;
    const [wash, edge] = this.#mark.children;
    for (const [name, value] of Object.entries({ x: left, y: top, width: right - left, height: bottom - top }))
      wash.setAttribute(name, value);
    const foot = SPACE * 0.7;
    edge.setAttribute("d", `M${left} ${bottom - foot} v${foot} H${right} v${-foot} M${left} ${top + foot} v${-foot} H${right} v${foot}`);
    measure.parentNode.insertBefore(this.#mark, measure.parentNode.firstChild);
    this.#mark.dataset.bar = bar.number;
    const system = measure.parentNode.getBBox();
    this.#mark.place = { left, right, bottom: Math.max(bottom, system.y + system.height) };
  }

  #markBeat(bar, place) {
    if (!this.#mark.isConnected) return;
    const { left, right, bottom } = this.#mark.place;
    this.#mark.parentNode.append(this.#beat);
    this.#beat.setAttribute("transform", `translate(${this.#x(bar, place, left, right)} ${bottom + SPACE * 0.25})`);
  }

  /** Where a beat stands: on what begins there, or between its neighbours. */
  #x(bar, place, left, right) {
    let before = [bar.start, left + SPACE];
    let after = [bar.start + bar.length, right];
    for (const [beat, id] of bar.onsets) {
      const element = this.#slots[this.#slot].querySelector(`[id="${id}"]`);
      if (!element) continue;
      const head = element.querySelector(".notehead") ?? element;
      const box = head.getBBox();
      const x = box.x + box.width / 2;
      if (beat <= place + EPSILON) before = [beat, x];
      else if (beat < after[0]) {
        after = [beat, x];
        break;
      }
    }
    const share = after[0] > before[0] ? (place - before[0]) / (after[0] - before[0]) : 0;
    return before[1] + share * (after[1] - before[1]);
  }
}
