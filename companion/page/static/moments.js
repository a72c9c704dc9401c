// What is to be drawn at its moment, and not when the news of it came.

const FRAME = 8; // milliseconds: half a frame; a picture that is due before the next one is drawn now
const FORGOTTEN = 2000; // milliseconds late, after which only the last of what is due is drawn

export class Moments {
  #waiting = [];
  #frame = null;

  /** Have something done at a moment of performance.now(), however late that comes where it is `lasting`. */
  at(moment, action, lasting = false) {
    this.#waiting.push({ moment, action, lasting });
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
    for (const one of due.filter((one, n) => n === due.length - 1 || one.lasting || one.moment > now - FORGOTTEN)) one.action();
    if (this.#waiting.length) this.#frame ??= requestAnimationFrame(() => this.#draw());
  }
}
