// What the server tells, as it comes. The browser connects again by itself, and then gets the newest of each kind.

export class Stream {
  #takers = new Map();

  /** Have each message of a kind given to somebody. */
  on(kind, take) {
    this.#takers.set(kind, [...(this.#takers.get(kind) ?? []), take]);
    return this;
  }

  /** Connect; `line` is told whether the line is there. */
  open(line) {
    const source = new EventSource("/events");
    source.onopen = () => line(true);
    source.onerror = () => {
      line(false);
      if (source.readyState === EventSource.CLOSED) setTimeout(() => this.open(line), 1000);
    };
    source.onmessage = (event) => {
      const message = JSON.parse(event.data);
      for (const take of this.#takers.get(message.kind) ?? []) take(message);
    };
  }
}
