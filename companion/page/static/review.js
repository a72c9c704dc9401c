// The review of a take: what is said of it, each finding with the bars that it leads to, and its notes bar by bar.
import { get } from "./ask.js";
import { beginPassage } from "./begin.js";
import { chosen } from "./chosen.js";
import { drawn, el } from "./dom.js";
import { CARE, Page } from "./shell.js";
import { minutes } from "./takes.js";

const AROUND = 1; // bars after the one that a finding is of, that are looped with it
const HIGH = 44; // pixels of a column
const FIRST = 12; // findings shown at first
const DRAWN = 2; // pictures shown at first: each is once through the form

export class Review extends Page {
  #take;
  #turn = 0;
  #narrow = matchMedia("(max-width: 640px)");
  #pictures = el("section.pictures", { "aria-label": "The take on its notes", hidden: true });
  #inside = el("div.review", {}, el("p.about", {}, "Going through it …"));

  constructor(context, take) {
    super("A take, looked at", "takes", context);
    this.#take = take;
    this.body.append(el("p.more", {}, el("a", { href: "#takes" }, "All takes")), this.note, this.#inside);
    this.#fill();
  }

  async #fill() {
    const told = await this.tried(() => get("/take/review", { take: this.#take }));
    if (!told) return this.fill(this.#inside);
    this.title.textContent = document.title = told.title;
    const hear = el("button.sample", { type: "button", "aria-pressed": "false" }, "Hear it again");
    hear.addEventListener("click", () => this.tried(() => this.playback.play(hear, () => get("/take/notes", { take: this.#take }))));
    const who = told.demo ? "the built-in pianist: " : "";
    const head = `${told.day}, ${told.hour} · ${minutes(told.seconds)} · ${who}${told.you.join(", ")}`;
    this.fill(
      this.#inside,
      el("p.about", {}, head),
      ...told.said.map((text, n) => el(n ? "p.about" : "p.verdict", {}, text)),
      el("p.buttons", {}, hear),
      this.#pictures,
      this.#findings(told),
      columns(told, (bar) => this.#loop(told, bar)),
      told.rounds.length ? rounds(told.rounds) : null,
      el("p.care", {}, CARE),
    );
    return this.#picture(told);
  }

  /** What was played on what is written, and its timing: drawn apart, for it takes a while; anew when a phone is turned. */
  async #picture(told) {
    if (!told.bars.length || told.drill) return;
    const turn = ++this.#turn;
    const narrow = this.#narrow.matches;
    const say = (text) => this.#pictures.replaceChildren(el("p.about", {}, text));
    this.#narrow.onchange = () => this.#narrow.matches !== narrow && this.#picture(told);
    this.#pictures.hidden = false;
    if (!this.#pictures.childElementCount) say("Drawing what was played on what is written …");
    try {
      const { pictures } = await get("/take/pictures", { take: this.#take, narrow: narrow ? 1 : "" });
      if (turn !== this.#turn) return;
      const count = pictures.length;
      const drawn = pictures.map((places, n) => () => this.#drawn(told, places, n + 1, count, narrow));
      const more = el("button.plain", { type: "button" }, `Show the other ${count - DRAWN} times through`);
      more.addEventListener("click", () => more.replaceWith(...drawn.slice(DRAWN).map((draw) => draw())));
      this.#pictures.replaceChildren(...drawn.slice(0, DRAWN).map((draw) => draw()), count > DRAWN ? more : "");
      this.#pictures.hidden = !count;
    } catch (error) {
      say(error.message);
    }
  }

  end() {
    super.end();
    this.#narrow.onchange = null;
  }

  /** A picture; bars in it of which something is said can be touched. The list below has a button for each, for keys. */
  #drawn(told, places, number, count, narrow) {
    const which = count > 1 ? `, picture ${number} of ${count}` : "";
    const faults = told.findings.length;
    const list = faults ? `The list below says the same in words: ${faults === 1 ? "one finding" : `${faults} findings`}.` : "Nothing was wrong.";
    const alt = `${told.title}${which}: what was played, laid on the written notes, and below it how early or late each note was. ${list}`;
    const src = `/take/picture?${new URLSearchParams({ take: this.#take, number, narrow: narrow ? 1 : "" })}`;
    return el("figure.picture", {}, el("img", { src, alt }), ...places.map((place) => this.#touchable(told, place)));
  }

  #touchable(told, { bar, ...place }) {
    const button = el("button.said-here", { type: "button", tabindex: -1, "aria-hidden": "true", title: `Loop bar ${bar}` });
    for (const [side, share] of Object.entries(place)) button.style.setProperty(side, `${100 * share}%`);
    if (told.chart) button.addEventListener("click", () => this.#loop(told, bar));
    else button.disabled = true;
    return button;
  }

  #findings(told) {
    if (!told.findings.length) return null;
    const items = told.findings.map((finding, n) => {
      const which = (finding.pass > 1 ? `, time ${finding.pass} through` : "") + (finding.recurs ? `, ${finding.recurs.text}` : "");
      const words = told.chart ? "Loop it" : "";
      const button = words
        ? el("button", { type: "button", "aria-label": `Loop bar ${finding.bar}: ${finding.text}`, onclick: () => this.#loop(told, finding.bar) }, words)
        : null;
      return el("li", { hidden: n >= FIRST }, el("span", {}, `${finding.text}${which}`), button);
    });
    const rest = items.slice(FIRST);
    const more = rest.length ? el("button.plain", { type: "button" }, `Show ${rest.length} more`) : null;
    more?.addEventListener("click", () => {
      for (const item of rest) item.hidden = false;
      more.remove();
    });
    return el("section", {}, el("h2", {}, "What wasn’t right"), el("ul.findings", {}, ...items), more ?? "");
  }

  async #loop(told, bar) {
    if (!told.chart) return this.say("Its chart isn’t among the tunes any more, so it can’t be looped.");
    this.playback.stop();
    const count = Math.max(...told.rows.flatMap((row) => row.bars.map((one) => one.bar)));
    const first = Math.max(1, bar);
    const what = chosen.of(told.chart);
    what.you = told.you.filter((part) => part !== "click").join(",") || what.you;
    this.say(what.who === "piano" ? "Hands on the keys …" : "The pianist sits down …");
    const fault = await beginPassage(this.sound, told.chart, [first, Math.min(count, first + AROUND)]);
    if (fault) this.say(fault);
    return undefined;
  }
}

/** Each bar as a column: what was right from the line up, what wasn't from the line down, by shape as well as colour. */
function columns(told, loop) {
  const passes = [...new Set(told.bars.map((bar) => bar.pass))];
  const most = Math.max(1, ...told.bars.map((bar) => Math.max(bar.right, bar.wrong + bar.missing + bar.extra)));
  const played = new Map(told.bars.map((bar) => [`${bar.pass} ${bar.bar}`, bar]));
  const lines = passes.map((pass) => {
    const sections = told.rows.map((row) =>
      el("div.section", {}, el(passes.length > 1 ? "h4" : "h3", {}, row.name), el("div.columns", {}, ...row.bars.map(({ bar }) => column(played.get(`${pass} ${bar}`), bar, most, loop)))),
    );
    return el("div.pass", {}, passes.length > 1 ? el("h3", {}, `Time ${pass} through`) : null, ...sections);
  });
  const legend = "Each column is a bar: up, the notes that were right; down, those wrong, missing or too many. Touch one to loop it.";
  return el("section.by-bar", {}, el("h2", {}, "Bar by bar"), ...lines, el("p.about", {}, legend));
}

function column(bar, number, most, loop) {
  if (!bar) return el("span.column.empty", { "aria-hidden": "true" });
  const faults = bar.wrong + bar.missing + bar.extra;
  const up = (HIGH * bar.right) / most;
  const down = (HIGH * faults) / most;
  const svg = drawn(
    "svg",
    { viewBox: `0 0 20 ${2 * HIGH}`, "aria-hidden": "true", preserveAspectRatio: "none" },
    drawn("rect.right", { x: 3, y: HIGH - up, width: 14, height: up }),
    drawn("rect.wrong", { x: 6, y: HIGH, width: 8, height: down }),
    drawn("line", { x1: 0, x2: 20, y1: HIGH, y2: HIGH }),
  );
  const said = `Bar ${number}: ${bar.right} right${faults ? `, ${bar.wrong} wrong, ${bar.missing} missing, ${bar.extra} too many` : ""}`;
  return el("button.column", { type: "button", title: said, "aria-label": said, onclick: () => loop(number) }, svg);
}

function rounds(list) {
  const items = list.map((one) => el("li", {}, `Round ${one.number}, bars ${one.bars[0]}–${one.bars[1]} at ${one.tempo}: ${one.good ? "good" : one.why || "not yet"}`));
  return el("section", {}, el("h2", {}, "Its rounds"), el("ol.findings", {}, ...items));
}
