// What the server tells, as it comes. After the line was lost the newest of each kind comes again.
//
// The browser connects again by itself where a line breaks. One that falls silent (a tablet out of reach, a server that
// stands still) is no error to it: the server gives a sign of life every two seconds, and without one the line is lost.

const SILENCE = 6000; // milliseconds
const AGAIN = 1000; // milliseconds
const CODE_WANTED = 401;

export class Stream {
  #takers = new Map();
  #line = () => {};
  #source = null;
  #watch = null;

  /** Have each message of a kind given to somebody. */
  on(kind, take) {
    this.#takers.set(kind, [...(this.#takers.get(kind) ?? []), take]);
    return this;
  }

  /** Connect; `line` is told whether the line is there. */
  open(line) {
    this.#line = line;
    this.#connect();
  }

  #connect() {
    this.#source?.close();
    const source = (this.#source = new EventSource("/events"));
    const here = () => {
      clearTimeout(this.#watch);
      this.#watch = setTimeout(() => this.#lost(), SILENCE);
    };
    here();
    source.onopen = () => {
      here();
      this.#line(true);
    };
    source.onerror = () => {
      this.#line(false);
      if (source.readyState === EventSource.CLOSED) setTimeout(() => this.#again(source), AGAIN);
    };
    source.onmessage = (event) => {
      here();
      const message = JSON.parse(event.data);
      for (const take of this.#takers.get(message.kind) ?? []) take(message);
    };
  }

  #lost() {
    this.#line(false);
    this.#connect();
  }

  /** The server turned the page away: perhaps it is another one by now, which wants its code. */
  async #again(source) {
    if (source !== this.#source) return;
    const answer = await fetch("/clock").catch(() => null);
    if (answer?.status === CODE_WANTED) location.assign("/");
    else this.#connect();
  }
}
