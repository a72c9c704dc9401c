// The piano: ports, latency and sound, what keys and pedals tell; and which command does what can't be done from here.
import { ask, get } from "./ask.js";
import { el } from "./dom.js";
import { Page } from "./shell.js";

const ELSEWHERE = [
  ["companion setup", "finds out at the keys which notes, pedals and channels your piano has"],
  ["companion signals teach", "teaches a key, a pedal or a switch to tell the companion something"],
  ["companion play CHART --sound", "plays through the computer’s own sound instead of your piano’s"],
];

export class Piano extends Page {
  #inside = el("div", {}, el("p.about", {}, "Looking for instruments …"));

  constructor(context) {
    super("The piano", "piano", context);
    this.body.append(this.note, this.#inside);
    this.#fill();
  }

  async #fill() {
    const told = await this.tried(() => get("/piano"));
    if (!told) return this.fill(this.#inside);
    return this.fill(
      this.#inside,
      told.fault ? el("p.verdict", {}, `No piano is reached: ${told.fault}.`) : el("p.verdict", {}, `It listens to ${told.input}.`),
      told.inputs.length ? this.#port("Listen to", "input", told.inputs, told.wanted.input, told.input) : null,
      told.outputs.length ? this.#port("Play on", "output", told.outputs, told.wanted.output, told.output) : null,
      this.#latency(told),
      el("p.buttons", {}, el("button", { type: "button", onclick: () => this.#fill() }, "Look again")),
      el("h2", {}, "What keys and pedals tell"),
      el("p.about", {}, `The keyboard: ${told.keyboard}${told.pedals.length ? `; its pedals: ${told.pedals.join(", ")}` : ""}.`),
      el("dl.signals", {}, ...told.signals.flatMap(({ press, wish }) => [el("dt", {}, press), el("dd", {}, wish)])),
      el("h2", {}, "What a page can’t do"),
      el("p.about", {}, "These are typed at a terminal, where the piano is:"),
      el("dl.commands", {}, ...ELSEWHERE.flatMap(([words, what]) => [el("dt", {}, el("code", {}, words)), el("dd", {}, what)])),
    );
  }

  #port(legend, which, ports, wanted, now) {
    const options = [el("option", { value: "", selected: !wanted }, `the first instrument there is${!wanted && now ? ` (${now})` : ""}`)];
    options.push(...ports.map((port) => el("option", { value: port, selected: Boolean(wanted) && port === now }, port)));
    const select = el("select", {}, ...options);
    select.addEventListener("change", () => this.#set({ [which]: select.value }));
    return el("label.field", {}, el("span", {}, legend), select);
  }

  #latency(told) {
    const input = el("input", { type: "number", min: 0, max: 200, step: 1, value: told.latency_ms });
    input.addEventListener("change", () => input.checkValidity() && this.#set({ latency_ms: Number(input.value) }));
    const where = { piano: "your piano", module: "the other instrument", synth: "the computer" }[told.setup];
    return el("label.field", {}, el("span", {}, `Milliseconds that ${where} takes from a message to its sound`), input);
  }

  async #set(what) {
    const told = await this.tried(() => ask("/piano", what));
    if (!told) return;
    this.say(told.said);
    await this.#fill();
  }
}
