// What is pressed at any keyboard, as long as somebody looks: the server listens to the ports while this is open.

export class HeardKeys {
  #source = null;

  /** `take` gets every message: the ports there are, what is pressed, and why nothing more comes. */
  constructor(take) {
    this.take = take;
  }

  /** Begin to listen, if nobody does here. */
  open() {
    this.close();
    const source = (this.#source = new EventSource("/piano/heard"));
    source.onmessage = (event) => {
      const message = JSON.parse(event.data);
      if (message.kind === "ended") this.close(); // or the browser would ask for it again
      this.take(message);
    };
  }

  /** Listen no more: the ports are let go of. */
  close() {
    this.#source?.close();
    this.#source = null;
  }
}
