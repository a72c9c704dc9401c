// The chord that is now and the one that is next, large; and how the next one is voiced, on a small staff.
import { drawing, el } from "./dom.js";

/** A chord symbol: the root large, what stands beside it smaller and raised, the bass after a slash. */
function setChord(element, chord) {
  element.replaceChildren(
    ...(chord
      ? [
          el("span.root", {}, chord.root),
          chord.rest ? el("span.rest", {}, chord.rest) : null,
          chord.bass ? el("span.bass", {}, `/${chord.bass}`) : null,
        ].filter(Boolean)
      : []),
  );
}

export class ChordNames {
  #now = el("p.now", { id: "chord-now" });
  #then = el("p.then", { id: "chord-next" });
  #when = el("p.when");
  #staff = el("figure.voicing", { "aria-hidden": "true" });
  #shown = { now: null, then: null };
  #voicings = new Map();
  #voicing = undefined;
  #watch;

  constructor() {
    this.element = el(
      "section.chord-names",
      { "aria-label": "Chords" },
      this.#now,
      el("div.following", {}, el("div.coming", {}, this.#when, this.#then), this.#staff),
    );
    this.#watch = new ResizeObserver(() => this.#fit());
    this.#watch.observe(this.element);
  }

  end() {
    this.#watch.disconnect();
  }

  /** A long name is set smaller, so that it neither runs into its neighbour nor is cut off. */
  #fit() {
    for (const name of [this.#now, this.#then]) {
      name.style.removeProperty("--fit");
      const room = name.clientWidth;
      if (name.scrollWidth > room && room) name.style.setProperty("--fit", (0.98 * room) / name.scrollWidth);
    }
  }

  /** The voicings of the chorus: a drawing for the beat of each chord. */
  voiced(voicings) {
    this.#voicings = new Map(voicings.map((one) => [one.start, one.svg]));
    this.#voicing = undefined;
    this.#shown.then = null;
  }

  /** Show a chord, the one after it, and after how many beats that comes. */
  show(now, then, beats) {
    if (now !== this.#shown.now) setChord(this.#now, now);
    if (then !== this.#shown.then) {
      setChord(this.#then, then);
      this.#draw(then ? this.#voicings.get(then.start) : undefined);
    }
    this.#when.textContent = then ? (beats === null ? "first" : `in ${beats}`) : "";
    if (now !== this.#shown.now || then !== this.#shown.then) this.#fit();
    this.#shown = { now, then };
  }

  /** Show a word or a number where the chord is. */
  say(word, then = null) {
    this.#now.replaceChildren(el("span.root", {}, word));
    this.#shown.now = word;
    if (then !== this.#shown.then) {
      setChord(this.#then, then);
      this.#draw(then ? this.#voicings.get(then.start) : undefined);
      this.#when.textContent = then ? "first" : "";
      this.#shown.then = then;
    }
    this.#fit();
  }

  #draw(svg) {
    if (svg === this.#voicing) return;
    this.#voicing = svg;
    if (!svg) {
      this.#staff.replaceChildren();
      return;
    }
    const staff = drawing(svg);
    const [, , wide, high] = staff.getAttribute("viewBox").split(" ").map(Number);
    staff.style.setProperty("--wide", wide / 20);
    staff.style.setProperty("--high", high / 20);
    this.#staff.replaceChildren(staff);
  }
}
