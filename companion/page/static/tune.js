// The tune that is chosen: its sections as lines of bars, how each is treated, who plays what, the tempo, the time.
import { get, ask } from "./ask.js";
import { chosen, how } from "./chosen.js";
import { el } from "./dom.js";
import { Drilling } from "./drilling.js";
import { Explained } from "./explain.js";
import { Lines } from "./lines.js";
import { papers } from "./paper.js";

const PARTS = [
  ["melody", "melody"],
  ["chords", "chords"],
  ["bass", "bass"],
  ["melody,chords", "melody and chords"],
  ["melody,chords,bass", "both hands"],
];
const TIMES = [
  ["follow", "it follows", "the companion goes with the player"],
  ["steady", "it is steady", "it keeps the tempo, whatever happens"],
  ["patient", "it waits", "it holds before each beat until the player is there"],
];
const WHO = [
  ["pianist", "the built-in pianist", "heard here, from the browser"],
  ["piano", "I, at the piano", "on a keyboard with MIDI"],
];
const STEP = 4; // beats a minute
let number = 0;

export class Tune {
  #page;
  #name;
  #what;
  #tune = null;
  #changed;
  #lines = null;
  #explained;

  constructor(page, name, changed) {
    this.#page = page;
    this.#name = name;
    this.#what = chosen.of(name);
    this.#changed = changed;
    this.element = el("section", { "aria-label": "The tune" });
    page.tried(async () => {
      this.#tune = await get("/tune", { chart: name });
      this.#fill();
    });
  }

  #fill() {
    const { title, key, metre, feel, bars } = this.#tune;
    this.#explained = new Explained(this.#page, this.#name, () => this.#what);
    this.#lines = new Lines(this.#tune, this.#what.bars, (bars) => this.#loop(bars), (section) => this.#treatment(section));
    const drilling = new Drilling(this.#tune, this.#what);
    drilling.show(this.#what.who === "piano");
    this.element.replaceChildren(
      el("h2", {}, title),
      el("p.about", {}, `${key}, ${metre}, ${feel}, ${bars} bars`, this.#tune.written.length ? `; ${list(this.#tune.written)} written` : ""),
      el("p.hint", { id: "bars-hint" }, "Touch a bar to loop it and see why it is played so; touch another to go up to there."),
      this.#lines.element,
      choice("Who plays", "who", WHO, this.#what.who, (who) => {
        this.#set({ who });
        drilling.show(who === "piano");
      }),
      choice("The player’s part", "you", this.#partsThere(), this.#what.you, (you) => this.#set({ you })),
      choice("The companion’s time", "time", TIMES, this.#what.time, (time) => this.#set({ time })),
      this.#tempo(),
      this.#likeness(),
      drilling.element,
      el("p.more", {}, el("a", { href: `#edit/${encodeURIComponent(this.#name)}` }, "Change its chords, form and melody")),
      papers(this.#name, () => how(this.#what)),
    );
    this.#explain();
  }

  #partsThere() {
    if (this.#tune.melody) return PARTS;
    if (this.#what.you.includes("melody")) this.#what.you = "chords";
    return PARTS.filter(([part]) => !part.includes("melody"));
  }

  #set(what) {
    Object.assign(this.#what, what);
    this.#changed();
  }

  #loop(bars) {
    this.#set({ bars });
    this.#explain();
  }

  #explain() {
    const { bars } = this.#what;
    this.#lines.put(this.#explained.element, bars);
    this.#explained.show(bars);
  }

  /** How a section is treated, with a sample that is heard at once when another is chosen. */
  #treatment(section) {
    const { treatments } = this.#tune;
    const now = this.#what.treatments[section.name] ?? section.treatment;
    const id = `treated-${++number}`;
    const about = el("span.about", {}, treatments.find((one) => one.name === now)?.about ?? "");
    const select = el(
      "select",
      { id, "aria-label": `Treatment of ${section.name}` },
      ...treatments.map((one) => el("option", { value: one.name, selected: one.name === now }, words(one.name))),
    );
    const sample = el("button.sample", { type: "button", "aria-pressed": "false", "aria-label": `Hear ${section.name}` }, "Hear");
    const hear = (keeps) => {
      if (keeps) this.#page.playback.stop();
      const asked = { ...how(this.#what), bars: [section.first, Math.min(section.last, section.first + 7)] };
      this.#page.tried(() => this.#page.playback.play(sample, () => ask("/tune/hear", { chart: this.#name, how: asked })));
    };
    select.addEventListener("change", () => {
      this.#what.treatments = { ...this.#what.treatments, [section.name]: select.value };
      about.textContent = treatments.find((one) => one.name === select.value).about;
      if (this.#what.bars) this.#explain();
      hear(true);
    });
    sample.addEventListener("click", () => hear(false));
    return el("div.treated", {}, select, sample, about);
  }

  /** Whether its chords are like the player's own; it is known only once their takes were looked through. */
  #likeness() {
    const input = el("input", { type: "checkbox", id: "like-you", disabled: true, "aria-describedby": "like-you-about" });
    const about = el("i", { id: "like-you-about" }, "looking through your takes …");
    input.addEventListener("change", () => {
      this.#set({ like_you: input.checked });
      if (this.#what.bars) this.#explain();
    });
    this.#page.tried(async () => {
      const { always, known, why } = await get("/likeness");
      input.disabled = !known;
      input.checked = Boolean(known) && (this.#what.like_you ?? always);
      about.textContent = known ? `the shapes and rhythms that you choose yourself: ${known}` : `not yet: ${why}`;
    });
    return el("label.likeness", {}, input, el("span", {}, el("b", {}, "Chords like yours"), about));
  }

  #tempo() {
    const { counted, quarters } = this.#tune;
    const input = el("input", {
      type: "number",
      id: "tempo-asked",
      min: Math.ceil(20 / counted.quarters),
      max: Math.floor(400 / counted.quarters),
      step: 1,
      value: Math.round((this.#what.tempo ?? quarters) / counted.quarters),
      "aria-label": `Tempo, ${counted.words} notes a minute`,
    });
    const take = () => input.checkValidity() && this.#set({ tempo: Number(input.value) * counted.quarters });
    const by = (step) => () => {
      input.value = Math.min(Number(input.max), Math.max(Number(input.min), Number(input.value) + step));
      take();
    };
    input.addEventListener("change", take);
    return el(
      "fieldset.tempo-asked",
      {},
      el("legend", {}, "Tempo"),
      el("button", { type: "button", "aria-label": "Slower", onclick: by(-STEP) }, "−"),
      el("span", { "aria-hidden": "true" }, `${counted.sign} =`),
      input,
      el("button", { type: "button", "aria-label": "Faster", onclick: by(STEP) }, "+"),
    );
  }
}

/** A choice of one among some, as radio buttons in a row. */
export function choice(legend, name, options, now, chose) {
  const set = el("fieldset.choice", {}, el("legend", {}, legend));
  for (const [value, label, about] of options) {
    const input = el("input", { type: "radio", name, value, checked: value === now });
    input.addEventListener("change", () => chose(value));
    set.append(el("label", {}, input, el("span", {}, el("b", {}, label), about ? el("i", {}, about) : null)));
  }
  return set;
}

function words(name) {
  return name.replaceAll("-", " ");
}

function list(names) {
  return names.length > 1 ? `${names.slice(0, -1).join(", ")} and ${names.at(-1)}` : names[0];
}
