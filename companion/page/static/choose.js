// Between takes: which tune is on the stand, who plays what, and one large button.
import { get, post } from "./ask.js";
import { el } from "./dom.js";
import { changeLook, lookWords } from "./look.js";

const HANDS = [
  ["melody", "the melody", "the companion walks a bass and comps"],
  ["chords", "the chords", "the companion has melody and bass"],
  ["bass", "the bass", "the companion has melody and chords"],
];
const CARE =
  "Take a break now and then, keep the volume moderate, and stop when anything hurts. " +
  "A teacher or a doctor knows your hands; a program doesn't.";

export class Choose {
  name = "choose";
  #sound;
  #list = el("div.contents");
  #note = el("p.note", { role: "status" });
  #start;

  constructor(sound, why = "") {
    this.#sound = sound;
    this.#start = el("button.large", { type: "submit", disabled: true }, "Hear it played");
    const look = el("button.plain", { type: "button" }, lookWords());
    look.addEventListener("click", () => {
      changeLook();
      look.textContent = lookWords();
    });
    this.element = el(
      "form.page",
      {},
      el("header", {}, el("h1", {}, "What is on the stand?"), look),
      el("fieldset", {}, el("legend", {}, "The tunes"), this.#list),
      el("fieldset.who", {}, el("legend", {}, "The built-in pianist plays"), ...HANDS.map(hand)),
      el("div.go", {}, this.#start, this.#note),
      el("p.care", {}, CARE),
    );
    this.element.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#play();
    });
    this.#note.textContent = why;
    this.#fill();
  }

  told(message) {
    if (message.kind === "over") {
      this.#start.disabled = false;
      this.#note.textContent = message.why;
    }
    if (message.kind === "remark") this.#note.textContent = message.text;
  }

  end() {}

  async #fill() {
    try {
      const { charts } = await get("/charts");
      this.#list.replaceChildren(...charts.map(tune));
      this.#start.disabled = false;
    } catch (error) {
      this.#note.textContent = error.message;
    }
  }

  async #play() {
    this.#sound.start();
    this.#start.disabled = true;
    this.#note.textContent = "The pianist sits down …";
    const { chart, you } = Object.fromEntries(new FormData(this.element));
    const fault = await post("/demo", { chart, you: [you] });
    if (fault !== null) {
      this.#start.disabled = false;
      this.#note.textContent = fault;
    }
  }
}

function hand([part, words, rest], n) {
  const input = el("input", { type: "radio", name: "you", value: part, checked: n === 0 });
  return el("label", {}, input, el("span", {}, el("b", {}, words), el("i", {}, rest)));
}

function tune(chart, n) {
  const input = el("input", { type: "radio", name: "chart", value: chart.name, checked: n === 0, disabled: "fault" in chart });
  const about = chart.fault ?? `${chart.key}, ${chart.metre}, ${chart.counted.sign} = ${chart.tempo}`;
  return el("label", {}, input, el("span.title", {}, chart.title), el("span.dots", { "aria-hidden": "true" }), el("span.about", {}, about));
}
