// The keyboard and its sound: which one is listened to, with a light as it is played; where the companion sounds and how
// late that is; and what keys and pedals tell. What the server keeps goes where `companion setup` keeps it.
import { ask, get } from "./ask.js";
import { el } from "./dom.js";
import { HeardKeys } from "./heard.js";
import { Pedals, Range, Telling } from "./learning.js";
import { Page } from "./shell.js";

const LIT = 700; // milliseconds that a light stays on after a key
const ENDED = {
  elsewhere: "Another page listens to the keyboards now.",
  playing: "While something is played, this page doesn’t listen.",
  broken: "Listening to the keyboards broke down.",
};
const ELSEWHERE = [
  ["companion setup", "tries which channels of your piano are heard, parts its keys from its sound, and asks how far your hands reach"],
  ["companion play CHART --midi NAME", "uses another of the system’s MIDI services"],
];

export class Piano extends Page {
  #inside = el("div", {}, el("p.about", {}, "Looking for instruments …"));
  #heard = el("p.about.heard", { role: "status" }, "Strike a key: the keyboard that it comes from lights up.");
  #keys = new HeardKeys((message) => this.#take(message));
  #told = null;
  #lights = new Map();
  #learning = null;
  #asked = 0;

  constructor(context) {
    super("Keyboard and sound", "piano", context);
    this.body.append(this.note, this.#inside);
    this.#fill().then(() => this.#keys.open());
  }

  end() {
    this.#keys.close();
    super.end();
  }

  async #fill() {
    const asked = ++this.#asked;
    const told = await this.tried(() => get("/piano"));
    if (asked !== this.#asked) return;
    if (!told) return this.fill(this.#inside);
    const at = this.#inside.contains(document.activeElement) ? document.activeElement.id : "";
    this.#told = told;
    this.#learning = null;
    this.fill(this.#inside, ...this.#keyboard(told), ...this.#sounding(told), ...this.#telling(told), ...elsewhere());
    if (at) document.getElementById(at)?.focus();
  }

  // What is listened to

  #keyboard(told) {
    this.#lights.clear();
    const set = el("fieldset.ports", {}, el("legend", {}, "Listen to"));
    const first = `the first instrument there is${!told.wanted.input && told.input ? `, now ${told.input}` : ""}`;
    set.append(this.#input("", first, !told.wanted.input));
    told.inputs.forEach((port, n) => set.append(this.#input(port, port, Boolean(told.wanted.input) && port === told.input, n + 1)));
    const begun = (one) => this.#learn(one);
    const keep = (what) => this.#set(what);
    const pedals = told.pedals.map((name, n) => (n === 0 && told.half_pedal ? `${name} (half positions too)` : name));
    return [
      el("h2", {}, "The keyboard"),
      told.fault ? el("p.verdict", {}, `Nothing can be played yet: ${told.fault}.`) : null,
      set,
      this.#heard,
      new Range(told.keyboard, keep, begun).element,
      new Pedals(pedals.join(", ") || "not known", keep, begun).element,
    ];
  }

  #input(port, words, checked, n = 0) {
    const radio = el("input", { type: "radio", name: "input", id: `input-${n}`, value: port, checked });
    radio.addEventListener("change", () => this.#set({ input: port }));
    const light = port ? el("span.light", { "aria-hidden": "true" }) : null;
    if (port) this.#lights.set(port, { light, dark: null });
    return el("label", {}, radio, el("span", {}, words), light);
  }

  // Where it sounds

  #sounding(told) {
    const set = el("fieldset.ports", {}, el("legend", {}, "The companion plays on"));
    const one = (computer, words, about, disabled) => {
      const radio = el("input", { type: "radio", name: "computer", id: `computer-${computer}`, checked: told.computer === computer, disabled });
      radio.addEventListener("change", () => this.#set({ computer }));
      return el("label", {}, radio, el("span", {}, el("b", {}, words), el("i", {}, about)));
    };
    set.append(
      one(false, "an instrument", "by MIDI, the one you play or another", false),
      one(true, "this computer", told.no_computer || "by its synthesizer, FluidSynth", Boolean(told.no_computer) && !told.computer),
    );
    return [
      el("h2", {}, "Its sound"),
      set,
      told.computer ? null : this.#output(told),
      this.#latency(told),
      el("p.about", {}, "The built-in pianist sounds from this page, whatever is chosen here. You yourself can’t be accompanied so: a browser sounds about a fifth of a second late."),
    ];
  }

  #output({ outputs, wanted, output }) {
    if (!outputs.length) return null;
    const options = [el("option", { value: "", selected: !wanted.output }, `the one that is listened to${!wanted.output && output ? ` (${output})` : ""}`)];
    options.push(...outputs.map((port) => el("option", { value: port, selected: Boolean(wanted.output) && port === output }, port)));
    const select = el("select", { id: "output" }, ...options);
    select.addEventListener("change", () => this.#set({ output: select.value }));
    return el("label.field", {}, el("span", {}, "Which instrument"), select);
  }

  #latency(told) {
    const input = el("input", { type: "number", id: "latency", min: 0, max: told.longest_ms, step: "any", value: told.latency_ms });
    input.addEventListener("change", () => input.checkValidity() && this.#set({ latency_ms: Number(input.value) }));
    const where = { piano: "your piano", module: "the other instrument", synth: "the computer" }[told.setup];
    return el("label.field", {}, el("span", {}, `Latency: milliseconds that ${where} takes from a message to its sound. More, where the companion sounds late.`), input);
  }

  // What keys and pedals tell

  #telling({ wishes, signals }) {
    const teach = (what) => this.#teach(what);
    const begun = (one) => this.#learn(one);
    const lines = wishes.map((one) => el("li", {}, new Telling(one, teach, begun).element));
    return [
      el("h2", {}, "What keys and pedals tell"),
      el("p.about", {}, "While you play, a key, pedal or switch can tell the companion something, with no hand on the computer."),
      el("ul.tellings", {}, ...lines),
      el("p.about", {}, "Besides, as long as nothing of your own is taught for them:"),
      el("dl.signals", {}, ...signals.flatMap(({ press, wish }) => [el("dt", {}, press), el("dd", {}, wish)])),
    ];
  }

  // What comes from the keyboards

  #take(message) {
    if (message.kind === "press") this.#pressed(message);
    else if (message.kind === "ended") this.#ended(ENDED[message.why]);
    else if (message.kind === "ports") this.#ports(message);
  }

  /** A keyboard was plugged in, or out: the lists are made anew. */
  #ports({ inputs, outputs, deaf }) {
    const same = (a, b) => a.length === b.length && a.every((one, n) => one === b[n]);
    if (this.#told && !(same(inputs, this.#told.inputs) && same(outputs, this.#told.outputs))) this.#fill();
    const [name] = Object.keys(deaf);
    if (name) this.#heard.textContent = `${name} can’t be listened to: ${deaf[name]}.`;
  }

  #pressed(press) {
    this.#light(press.input);
    const channel = press.listened ? null : this.#channel(press);
    this.#heard.replaceChildren(`${press.input}: ${press.words}`, ...(channel ? [`, on channel ${press.channel}, which isn’t listened to `, channel] : []));
    const meant = this.#told?.input;
    if (this.#learning?.on && press.listened && (!meant || press.input === meant)) this.#learning.heard(press);
  }

  #channel({ channel }) {
    return el("button", { type: "button", onclick: () => this.#set({ channel }) }, `Listen to channel ${channel}, too`);
  }

  #light(port) {
    const there = this.#lights.get(port);
    if (!there) return;
    there.light.classList.add("on");
    clearTimeout(there.dark);
    there.dark = setTimeout(() => there.light.classList.remove("on"), LIT);
  }

  #ended(words) {
    const again = el("button", { type: "button", onclick: () => this.#keys.open() }, "Listen here");
    this.#heard.replaceChildren(`${words} `, again);
  }

  /** One thing is learnt at a time. */
  #learn(one) {
    if (this.#learning?.on) this.#learning.leave();
    this.#learning = one;
  }

  // What is kept

  async #set(what) {
    const told = await this.tried(() => ask("/piano", what));
    await this.#fill();
    if (told) this.say(told.said);
  }

  async #teach(what) {
    const told = await this.tried(() => ask("/piano/teach", what));
    if (!told) return; // what is wrong is said, and another press is waited for
    await this.#fill();
    this.say(told.said);
  }
}

function elsewhere() {
  return [
    el("h2", {}, "What this page can’t do"),
    el("p.about", {}, "These are typed at a terminal, where the piano is:"),
    el("dl.commands", {}, ...ELSEWHERE.flatMap(([words, what]) => [el("dt", {}, el("code", {}, words)), el("dd", {}, what)])),
  ];
}
