// How a drill goes: its kind, and what of it is to be otherwise. All that `companion drill` asks a player at the keys,
// but for what is chosen elsewhere on the page: bars, parts, treatments, another arrangement, the instrument.
import { el } from "./dom.js";

const TIMES = [
  ["follow", "it goes with you"],
  ["steady", "it keeps the tempo"],
  ["patient", "it waits for you"],
];
const CLICKS = [
  ["", "none"],
  ["all", "every beat"],
  ["2,4", "on 2 and 4"],
  ["other-bars", "every other bar"],
  ["away-2", "two bars with, two without"],
];
const DIVIDED = [
  ["1", "beats alone"],
  ["2", "halves"],
  ["3", "thirds"],
  ["4", "quarters"],
];
const KEYS = [
  ["", "the tune’s own"],
  ["fourths", "all twelve, by fourths"],
  ["semitones", "all twelve, upwards by semitones"],
  ["named", "keys that you name"],
];
const YES = [
  ["", "no"],
  ["yes", "yes"],
];

export class Drilling {
  #tune;
  #what;
  #fields = el("div.fields");
  element;

  constructor(tune, what) {
    this.#tune = tune;
    this.#what = what;
    const about = (value) => tune.drills.find((one) => one.kind === value)?.about ?? "";
    const kinds = tune.drills.map(({ kind }) => [kind, kind.replaceAll("-", " ")]);
    const kind = select(kinds, what.drill.kind, (value) => {
      what.drill = { kind: value };
      chosen.querySelector("i").textContent = about(value);
      this.#fill();
    });
    const chosen = field("Kind", about(what.drill.kind), kind);
    this.element = el(
      "details.drilling",
      {},
      el("summary", {}, "How a drill goes"),
      chosen,
      el("p.hint", {}, "The rest follows from the kind until you say otherwise."),
      this.#fields,
    );
    this.#fill();
  }

  /** Shown where somebody at the piano can be drilled. */
  show(there) {
    this.element.hidden = !there;
  }

  #fill() {
    const { counted, metre, quarters } = this.#tune;
    const { start, goal } = this.#of();
    const least = Math.ceil(20 / counted.quarters);
    const most = Math.floor(400 / counted.quarters);
    const per = (value) => Math.round(value / counted.quarters);
    const clicks = CLICKS.filter(([value]) => value !== "2,4" || metre.startsWith("4/"));
    const named = !KEYS.some(([value]) => value === this.#of().keys);
    const names = el("input", { type: "text", value: named ? this.#of().keys : "", placeholder: "F, B♭, E♭", "aria-label": "The keys, with commas", hidden: !named });
    names.addEventListener("change", () => this.#say("keys", names.value.replaceAll("♭", "b").replaceAll("♯", "#").trim()));
    const keys = select(KEYS, named ? "named" : this.#of().keys, (value) => {
      names.hidden = value !== "named";
      if (value === "named") names.focus();
      else this.#say("keys", value);
    });
    this.#fields.replaceChildren(
      field("From", `${counted.sign} a minute: the first tempo`, number(per(start), least, most, (value) => this.#say("start", value && value * counted.quarters))),
      field("To", `${counted.sign} a minute: with good rounds here it is reached`, number(per(this.#what.drill.goal ?? this.#what.tempo ?? goal ?? quarters), least, most, (value) => this.#say("goal", value && value * counted.quarters))),
      field("Step", "by how much it climbs after good rounds, and comes down after others", number(per(this.#of().step), 1, 100, (value) => this.#say("step", value && value * counted.quarters))),
      field("Rounds", "after so many it ends, good or not; empty: when the tempo is reached", number(this.#of().rounds, 1, 100, (value) => this.#say("rounds", value))),
      field("Minutes", "it ends with the round in which so many are over; empty: no limit", number(this.#of().minutes, 1, 180, (value) => this.#say("minutes", value))),
      field("Time", "what the companion does when you hurry or linger", select(TIMES, this.#of().time, (value) => this.#say("time", value))),
      field("Click", "a metronome beside the companion", select(known(clicks, this.#of().click), this.#of().click, (value) => this.#say("click", value))),
      field("Click divides", "into how many parts of a beat", select(DIVIDED, String(this.#of().divide), (value) => this.#say("divide", Number(value)))),
      field("Through the keys", "each round, or so many, in the next key", el("span.pair", {}, keys, names)),
      field("Rounds in each key", "before it goes on to the next", number(this.#of().each, 1, 100, (value) => this.#say("each", value))),
      field("Change parts after", "rounds, then you play the companion’s hand; 0: never", number(this.#of().swap, 0, 100, (value) => this.#say("swap", value))),
      field("From memory", "less is shown and played, step by step", select(YES, this.#of().memory ? "yes" : "", (value) => this.#say("memory", value === "yes"))),
      field("From any bar", "each round begins in a bar drawn by lot", select(YES, this.#of().anywhere ? "yes" : "", (value) => this.#say("anywhere", value === "yes"))),
    );
  }

  /** What holds: the kind's, and over it what was said here. */
  #of() {
    const { drill } = this.#what;
    return { ...this.#tune.drills.find((one) => one.kind === drill.kind), ...drill };
  }

  #say(name, value) {
    if (value === null) delete this.#what.drill[name];
    else this.#what.drill[name] = value;
  }
}

function field(name, about, control) {
  return el("label.field", {}, el("span", {}, el("b", {}, name), el("i", {}, about)), control);
}

function select(options, now, chose) {
  const made = el("select", {}, ...options.map(([value, words]) => el("option", { value, selected: value === now }, words)));
  made.addEventListener("change", () => chose(made.value));
  return made;
}

/** A number; an empty one is null, and one that can't be isn't taken. */
function number(now, min, max, chose) {
  const input = el("input", { type: "number", min, max, step: 1, value: now ?? "" });
  input.addEventListener("change", () => input.checkValidity() && chose(input.value === "" ? null : Number(input.value)));
  return input;
}

/** The options, and one more where a kind of the player's own has another. */
function known(options, now) {
  return options.some(([value]) => value === now) ? options : [...options, [now, now]];
}
