// The player's clock, seen from here.
//
// The server tells the time; half of the way there and back is added. Of several answers the one that was fastest is
// the best (Cristian, Probabilistic clock synchronization, Distributed Computing 3, 1989). Asked again now and then,
// since two clocks drift apart.

const AT_FIRST = 6;
const KEPT = 8;
const AGAIN_AFTER = 15000; // milliseconds

export class Clock {
  #answers = [];
  #asking = null;

  /** Begin to ask. */
  start() {
    this.#asking ??= this.#askOnAndOn();
  }

  async #askOnAndOn() {
    for (let asked = 0; ; asked++) {
      await this.#ask();
      const pause = asked < AT_FIRST ? 60 : AGAIN_AFTER;
      await new Promise((done) => setTimeout(done, pause));
    }
  }

  async #ask() {
    try {
      const before = performance.now();
      const { now } = await (await fetch("/clock")).json();
      const after = performance.now();
      const answer = { took: after - before, offset: (before + after) / 2 - 1000 * now };
      this.#answers = [...this.#answers.slice(1 - KEPT), answer];
    } catch {
      this.#answers = []; // another server may have another clock
    }
  }

  get known() {
    return this.#answers.length > 0;
  }

  /** Milliseconds of this page's clock (performance.now) at a moment of the player's, in seconds. */
  here(seconds) {
    const best = this.#answers.reduce((a, b) => (b.took < a.took ? b : a), { took: Infinity, offset: null });
    return best.offset === null ? performance.now() : 1000 * seconds + best.offset;
  }
}
