// What is to be drawn at its moment, and not when the news of it came.

const FRAME = 8; // milliseconds: half a frame; a picture that is due before the next one is drawn now
const FORGOTTEN = 2000; // milliseconds late, after which only the last of its kind is drawn

export class Moments {
  #waiting = [];
  #frame = null;

  /** Have something done at a moment of performance.now(); what is told of a kind stands until the next of its kind. */
  at(moment, kind, action) {
    this.#waiting.push({ moment, kind, action });
    this.#waiting.sort((a, b) => a.moment - b.moment);
    this.#frame ??= requestAnimationFrame(() => this.#draw());
  }

  /** Forget what waits. */
  clear() {
    this.#waiting = [];
  }

  #draw() {
    this.#frame = null;
    const now = performance.now();
    const due = [];
    while (this.#waiting.length && this.#waiting[0].moment <= now + FRAME) due.push(this.#waiting.shift());
    const last = new Map(due.map((one) => [one.kind, one]));
    for (const one of due) if (one.moment > now - FORGOTTEN || last.get(one.kind) === one) one.action();
    if (this.#waiting.length) this.#frame ??= requestAnimationFrame(() => this.#draw());
  }
}
