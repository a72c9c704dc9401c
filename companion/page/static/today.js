// What to practise today, each thing with a button that begins it; and how each tune stands.
import { get } from "./ask.js";
import { begin, beginPassage } from "./begin.js";
import { chosen } from "./chosen.js";
import { drawn, el } from "./dom.js";
import { CARE, Page } from "./shell.js";
import { choice } from "./tune.js";

const PURPOSES = { "warm up": "to warm up", keep: "to keep", mend: "to mend", new: "to begin", pause: "a pause" };
const WHO = [
  ["piano", "I play, at the piano", ""],
  ["pianist", "the built-in pianist shows me", ""],
];
const HIGH = 26; // pixels of a column

export class Today extends Page {
  #who = "piano";
  #inside = el("div", {}, el("p.about", {}, "Looking through your takes …"));

  constructor(context) {
    super("Today", "today", context);
    this.body.append(this.note, this.#inside);
    this.#fill();
  }

  async #fill() {
    const told = await this.tried(() => get("/today"));
    if (!told) return this.fill(this.#inside);
    this.title.textContent = told.day;
    if (told.trouble) this.say(told.trouble);
    const minutes = told.items.length ? `${told.minutes} minutes, in this order` : "Bring a chart, and there will be something to do.";
    return this.fill(
      this.#inside,
      el("p.about", {}, minutes),
      el("ol.plan", {}, ...told.items.map((item) => this.#item(item))),
      choice("When one begins", "who", WHO, this.#who, (who) => (this.#who = who)),
      el("p.care", {}, CARE),
      told.tunes.length ? el("section", {}, el("h2", {}, "Your tunes"), ...told.tunes.map(standing), el("p.about", {}, LEGEND)) : null,
    );
  }

  #item(item) {
    const words = el("div", {}, el("b", {}, item.what), item.why ? el("p.about", {}, item.why) : null);
    const start = item.begins ? el("button", { type: "button", "aria-label": `Begin ${item.what}` }, "Begin") : null;
    start?.addEventListener("click", () => this.#begin(item.begins));
    return el("li", {}, el("span.purpose", {}, PURPOSES[item.purpose] ?? item.purpose), el("span.minutes", {}, `${item.minutes} min`), words, start);
  }

  async #begin(what) {
    chosen.tune = what.chart;
    const now = chosen.of(what.chart);
    Object.assign(now, { who: this.#who, you: what.you.join(","), tempo: what.tempo ?? now.tempo, time: what.time ?? now.time, bars: what.bars });
    this.say(this.#who === "piano" ? "Hands on the keys …" : "The pianist sits down …");
    const fault = what.drill ? await beginPassage(this.sound, what.chart, what.bars, what) : await begin(this.sound, what.chart);
    if (fault) this.say(fault);
  }
}

const LEGEND = "A column is a bar, as high as the tempo of your best good round there; the line above is the tune’s own tempo.";

function standing(tune) {
  const name = tune.chart ? el("b", {}, tune.title) : el("b", {}, `${tune.title} (its chart isn’t there any more)`);
  return el("div.standing", {}, el("p", {}, name, ` ${tune.words}`), el("div.columns", {}, ...tune.sections.map(columns)));
}

function columns({ name, bars }) {
  const wide = 8 * bars.length;
  const each = bars.map((share, n) =>
    share === null
      ? drawn("circle", { cx: 8 * n + 4, cy: HIGH - 2, r: 1.2 })
      : drawn("rect", { x: 8 * n + 1.5, y: HIGH - share * (HIGH - 4), width: 5, height: share * (HIGH - 4) }),
  );
  const held = bars.filter((share) => share !== null).length;
  const svg = drawn("svg", { viewBox: `0 0 ${wide} ${HIGH}`, width: wide, height: HIGH, role: "img", "aria-label": `${name}: ${held} of ${bars.length} bars drilled well` }, drawn("line", { x1: 0, x2: wide, y1: 4, y2: 4 }), drawn("line", { x1: 0, x2: wide, y1: HIGH - 0.5, y2: HIGH - 0.5 }), ...each);
  return el("figure", {}, svg, el("figcaption", { "aria-hidden": "true" }, name));
}
