// What is heard between takes: messages with their seconds, handed on to the page's sound a little ahead of time.
import { get } from "./ask.js";

const AHEAD = 1.2; // seconds that are handed on at a time
const LOOK = 400; // milliseconds between two looks
const FIRST = 0.15; // seconds until it begins

export class Playback {
  #sound;
  #turn = 0;
  #button = null;

  constructor(sound) {
    this.#sound = sound;
  }

  /** Sound what `fetched` gives; `button` shows that it does, and when pressed again ends it. */
  async play(button, fetched) {
    const again = this.#button === button;
    this.stop();
    if (again) return;
    this.#sound.start();
    this.#mark(button);
    const turn = ++this.#turn;
    try {
      const [{ notes, seconds }] = await Promise.all([fetched(), this.#sound.ready]);
      if (turn === this.#turn) await this.#go(turn, notes, seconds);
    } catch (error) {
      if (turn === this.#turn) this.stop();
      throw error;
    }
  }

  stop() {
    this.#turn++;
    if (!this.#button) return;
    this.#sound.fade();
    this.#mark(null);
  }

  async #go(turn, notes, seconds) {
    const { now } = await get("/clock");
    const started = performance.now();
    const waiting = [...notes];
    const end = Math.max(seconds, notes.at(-1)?.[0] ?? 0);
    while (turn === this.#turn) {
      const reached = (performance.now() - started) / 1000;
      const due = [];
      while (waiting.length && waiting[0][0] <= reached + AHEAD) due.push(waiting.shift());
      this.#sound.take(due.map(([at, ...message]) => [now + FIRST + at, ...message]));
      if (!waiting.length && reached > end + 0.5) return this.stop();
      await new Promise((done) => setTimeout(done, LOOK));
    }
    return undefined;
  }

  #mark(button) {
    this.#button?.setAttribute("aria-pressed", "false");
    this.#button = button;
    button?.setAttribute("aria-pressed", "true");
  }
}
