// The form as lines of bars, as a chord sheet has them: symbols above a line, bar lines across it. Bars can be touched.
import { drawn, el } from "./dom.js";

const A_LINE = 4; // bars

export class Lines {
  #bars = new Map();
  #chosen;
  #chose;

  constructor(tune, chosen, chose, beside) {
    this.#chosen = chosen;
    this.#chose = chose;
    const seen = new Set();
    const rows = tune.rows.map((row) => {
      const section = tune.sections.find((one) => one.name === row.name);
      const first = !seen.has(row.name);
      seen.add(row.name);
      const head = el("div.over", {}, el("h3", {}, row.name), first ? beside(section) : el("span.about", {}, "as before"));
      return el("div.section", {}, head, ...cut(row.bars).map((bars) => el("div.bars", {}, ...bars.map((bar) => this.#bar(bar)))));
    });
    this.#all = el("button.plain.all", { type: "button", hidden: true, onclick: () => this.#choose(null) }, "The whole tune again");
    this.element = el("div.lines", { role: "group", "aria-label": "Bars", "aria-describedby": "bars-hint" }, ...rows, this.#all);
    this.#mark();
  }

  #all;

  #bar({ bar, chords }) {
    const said = `Bar ${bar}: ${chords.join(", ") || "the same chord"}`;
    const symbols = chords.length ? chords.map((one) => el("span", {}, one)) : [same()];
    const button = el("button.bar", { type: "button", "data-bar": bar, "aria-pressed": "false", "aria-label": said }, el("small", {}, String(bar)), ...symbols);
    button.addEventListener("click", () => this.#touch(bar));
    this.#bars.set(bar, button);
    return button;
  }

  /** The first touch means one bar, the next goes up to there, one within what is chosen lets it go. */
  #touch(bar) {
    const now = this.#chosen;
    if (!now) this.#choose([bar, bar]);
    else if (now[0] === bar && now[1] === bar) this.#choose(null);
    else if (bar >= now[0] && bar <= now[1]) this.#choose([bar, bar]);
    else this.#choose([Math.min(bar, now[0]), Math.max(bar, now[1])]);
  }

  /** Put something below the line of some bars; without any, at the end. */
  put(element, bars) {
    const line = bars && this.#bars.get(bars[1])?.closest(".bars");
    if (line) line.after(element);
    else this.element.append(element);
  }

  #choose(bars) {
    this.#chosen = bars;
    this.#mark();
    this.#chose(bars);
  }

  #mark() {
    const [first, last] = this.#chosen ?? [0, -1];
    for (const [bar, button] of this.#bars) button.setAttribute("aria-pressed", String(bar >= first && bar <= last));
    this.#all.hidden = this.#chosen === null;
  }
}

/** The sign that the bar before is repeated. */
function same() {
  return drawn(
    "svg.same",
    { viewBox: "0 0 24 20", "aria-hidden": "true" },
    drawn("path", { d: "M3 18 L17 2 h4 L7 18 z" }),
    drawn("circle", { cx: 6, cy: 6, r: 2.1 }),
    drawn("circle", { cx: 18, cy: 14, r: 2.1 }),
  );
}

function cut(bars) {
  const rows = [];
  for (let n = 0; n < bars.length; n += A_LINE) rows.push(bars.slice(n, n + A_LINE));
  return rows;
}
