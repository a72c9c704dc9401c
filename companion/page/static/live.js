// While it is played: where am I, what comes next, which notes.
//
// Everything is drawn at the moment at which it sounds, not when the news of it comes.
import { get } from "./ask.js";
import { Beats } from "./beats.js";
import { ChordNames } from "./chord-names.js";
import { el } from "./dom.js";
import { FormLine } from "./form-line.js";
import { changeLook, lookWords } from "./look.js";
import { Moments } from "./moments.js";
import { DELAY } from "./sound.js";
import { Systems } from "./systems.js";
import { Treating } from "./treating.js";
import { wishButtons, wishOfKey } from "./wishes.js";

const HIGH = 30; // spaces that a system of two staves takes, with its symbols
const WIDE = 150; // spaces of a line of four bars
const NARROW = 100; // the same of two or three, where the window is high: large notes come before many bars
const SMALL = 4.7; // pixels of a space: a staff that can still be read in the hand
const SMALLEST = 4; // the same, where only so two systems have room
const BRACE = 3; // spaces that the brace takes beside a line
const READ = 4000; // milliseconds that a remark stays
const STEP = 5; // spaces: widths are asked for in steps, so that not every pixel is engraved anew

export class Live {
  name = "live";
  #begun;
  #clock;
  #sound;
  #moments = new Moments();
  #tune = null;
  #key = "";
  #round = null;
  #choruses = new Map();
  #chorus = { number: 1, event: "" };
  #width = 0;
  #line = null;
  #beats = null;
  #chords = new ChordNames();
  #systems = new Systems();
  #head = el("header");
  #where = el("p.where", { id: "where" });
  #note = el("p.note", { role: "status", id: "note" });
  #cover = el("p.cover", { hidden: true }, "by heart");
  #music = el("div.music");
  #watch;
  #keys;
  #awake = null;
  #last = null;
  #stood = null;
  #event = "";
  #treated = {}; // sections that are treated otherwise since it began, and how
  #treating = null;
  #treatings = el("div.treatings");
  #open = el("span");
  #remarked = 0; // until when what was said last stays
  #turned = 0; // how often what is drawn was treated otherwise

  constructor(begun, clock, sound) {
    this.#begun = begun;
    this.#clock = clock;
    this.#sound = sound;
    this.#music.append(this.#systems.element, this.#cover);
    this.element = el("div.page", {}, this.#head, this.#chords.element, this.#music, this.#treatings, this.#foot());
    this.#watch = new ResizeObserver(() => this.#measure());
    this.#watch.observe(this.#music);
    this.#keys = (event) => this.#pressed(event);
    document.addEventListener("keydown", this.#keys);
    this.#load("");
    this.#stayAwake();
  }

  end() {
    this.#watch.disconnect();
    this.#line?.end();
    this.#chords.end();
    this.#moments.clear();
    document.removeEventListener("keydown", this.#keys);
    this.#awake?.then((lock) => lock?.release());
  }

  told(message) {
    if (message.kind === "remark") this.#remark(message.text);
    else this.#moments.at(this.#moment(message.at), message.kind, () => this[message.kind](message));
  }

  #moment(at) {
    return this.#clock.here(at) + (this.#begun.demo ? DELAY : 0);
  }

  // What is told, at its moment

  beat(beat) {
    this.#last = beat;
    document.documentElement.dataset.beat = beat.place;
    if (!this.#tune) return;
    const { metre } = this.#tune;
    this.#beats.tempo(beat.tempo);
    this.#beats.at((beat.place - this.#barStart(beat.place)) / metre.pulse);
    this.#line.at(beat.place);
    this.#treating?.at(this.#sectionAt(beat.place)?.name);
    this.#where.textContent = this.#whereWords(beat);
    this.element.classList.toggle("in-doubt", beat.doubt !== "");
    if (beat.doubt || performance.now() > this.#remarked) this.#say(beat.doubt || TURNS[beat.turn] || this.#round?.words || "");
    if (this.#round?.hidden) return;
    this.#follow(beat);
    const [now, then, to] = this.#chordsAt(beat.place);
    this.#chords.show(now, then, Math.max(1, Math.round((to - beat.place) / metre.pulse)));
    this.#systems.at(beat.place);
  }

  state(state) {
    this.#stood = state;
    if (state.event_words) this.#event = state.event_words;
    if (!this.#tune) return;
    this.#beats.tempo(state.tempo);
    if (state.name === "counting" && state.place !== null) {
      const { metre } = this.#tune;
      const count = Math.floor((((state.place % metre.bar) + metre.bar) % metre.bar) / metre.pulse + 1e-3);
      this.#beats.at(count);
      this.#chords.say(String(count + 1), this.#round?.hidden ? null : this.#opening());
      if (!this.#round?.hidden && !this.#last) this.#systems.from(this.#start());
    }
    if (state.name === "playing") this.#say(this.#round?.words ?? "");
    else this.#say(this.#last ? state.words : `${state.words} · ${this.#whoWords()}`);
  }

  /** Sections are treated otherwise: what is drawn of them is drawn anew. */
  treated({ sections }) {
    Object.assign(this.#treated, sections);
    this.#treating?.treated(sections);
    this.#turned++;
    if (!this.#tune) return;
    this.#choruses.clear();
    this.#want(this.#chorus).then(() => this.#show(this.#chorus));
  }

  round(round) {
    const before = this.#round;
    this.#round = round;
    if (round.key !== before?.key) this.#load(round.key);
    this.#cover.hidden = !round.hidden;
    this.#systems.element.hidden = round.hidden;
    this.#chords.element.classList.toggle("covered", round.hidden);
    this.#line?.bars(round.first, round.last);
    if (round.good !== null) this.#chords.say(round.good ? "clean" : "again");
    else if (round.hidden) this.#chords.say("");
    this.#say(round.words);
  }

  // What is drawn of it

  async #load(key) {
    this.#key = key;
    try {
      const tune = await get("/draw/form", { number: this.#begun.number, key });
      if (key !== this.#key) return;
      this.#tune = tune;
      this.#choruses.clear();
      this.#dress();
      this.#measure();
      if (this.#last) this.beat(this.#last);
      else if (this.#stood) this.state(this.#stood);
    } catch (error) {
      this.#say(error.message);
    }
  }

  #dress() {
    this.#line?.end();
    this.#line = new FormLine(this.#tune);
    this.#beats = new Beats(this.#tune);
    document.title = this.#tune.title;
    this.#head.replaceChildren(
      el("div.top", {}, el("h1", { title: this.#tune.title }, this.#tune.title), this.#where, this.#beats.element),
      this.#line.element,
    );
    if (this.#round) this.#line.bars(this.#round.first, this.#round.last);
    this.#treat();
    const opening = this.#opening();
    if (!this.#round?.hidden) this.#chords.say("", opening);
  }

  #treat() {
    if (!this.#begun.wishes.includes("treatment")) return;
    const { treated } = this.#tune;
    this.#treating = new Treating({ ...this.#tune, treated: { ...treated, ...this.#treated } }, (text) => this.#remark(text));
    this.#treatings.replaceChildren(this.#treating.element);
    this.#open.replaceChildren(this.#treating.toggle);
  }

  #measure() {
    if (!this.#tune) return;
    const { clientWidth, clientHeight } = this.#music;
    if (!clientWidth || !clientHeight) return;
    const two = clientHeight / (2 * HIGH);
    const space = Math.max(two > SMALLEST ? Math.min(SMALL, two) : SMALL, Math.min(two, Math.max(clientWidth / WIDE, Math.min(clientWidth / NARROW, clientHeight / (3 * HIGH)))));
    const count = Math.min(4, Math.max(1, Math.floor(clientHeight / (HIGH * space) + 0.15)));
    const width = Math.floor((clientWidth / space - BRACE) / STEP) * STEP;
    this.#systems.places(count, clientWidth / (width + BRACE));
    if (width === this.#width) return;
    this.#width = width;
    this.#choruses.clear();
    this.#want(this.#chorus).then(() => this.#show(this.#chorus));
  }

  /** Go with the chorus that is played. */
  #follow(beat) {
    const drilled = this.#round !== null;
    const inside = ["head", "solos"].includes(beat.event);
    const chorus = drilled ? this.#chorus : { number: beat.chorus, event: inside ? beat.event : this.#eventOf(beat) };
    if (chorus.number !== this.#chorus.number || chorus.event !== this.#chorus.event) {
      this.#chorus = chorus;
      this.#show(chorus);
    }
  }

  #eventOf(beat) {
    if (!beat.event) return "";
    const same = this.#tune.plan.filter((one) => one.chorus === beat.chorus && ["head", "solos"].includes(one.event));
    return (beat.event === "introduction" ? same[0] : same.at(-1))?.event ?? this.#chorus.event;
  }

  /** The chorus that comes after one; null when the ending does, or nothing. */
  #afterwards({ number, event }) {
    if (!event) return { number: number + 1, event };
    const { plan } = this.#tune;
    const here = plan.findIndex((one) => one.chorus === number && one.event === event);
    const next = plan[here + 1];
    if (here < 0 || !next) return { number: number + 1, event };
    return next.event === "ending" ? null : { number: next.chorus, event: next.event };
  }

  /** Systems and voicings of a chorus, asked for once. */
  #want({ number, event }) {
    const name = this.#called({ number, event });
    if (!this.#choruses.has(name)) {
      const query = { number: this.#begun.number, key: this.#key, chorus: number, event };
      const both = Promise.all([get("/draw/systems", { ...query, width: this.#width }), get("/draw/voicings", query)]);
      const found = both.then(([rows, voicings]) => ({ rows, voicings }));
      const entry = { found, here: null };
      found.then((here) => (entry.here = here)).catch((error) => {
        this.#choruses.delete(name);
        this.#say(error.message);
      });
      this.#choruses.set(name, entry);
    }
    return this.#choruses.get(name).found.catch(() => null);
  }

  #called({ number, event }) {
    return `${this.#key} ${this.#width} ${event} ${number} ${this.#turned}`;
  }

  #here(chorus) {
    return this.#choruses.get(this.#called(chorus))?.here ?? null;
  }

  async #show(chorus) {
    const found = await this.#want(chorus);
    if (!found || chorus !== this.#chorus) return;
    const inside = (row) => row.bars.some((bar) => bar.start < this.#tune.length);
    const after = this.#afterwards(chorus);
    const own = found.rows.filter((row) => after === null || inside(row));
    this.#systems.take(own, () => {
      if (this.#round) return own;
      const next = after && this.#here(after);
      return next ? next.rows.filter((row) => row.bars.some((bar) => bar.start >= 0 && bar.start < this.#tune.length)) : null;
    });
    this.#chords.voiced(found.voicings);
    if (after && !this.#round && !this.#here(after)) this.#want(after).then(() => this.#systems.fill());
    if (this.#last) this.beat(this.#last);
    else this.#systems.from(this.#start());
  }

  /** The chord at a place, the next one, and where that begins. */
  #chordsAt(place) {
    const { chords, bars, length } = this.#tune;
    const within = chords.findLastIndex((chord) => chord.start <= place + 1e-3);
    const now = chords[within] ?? null;
    let after = within + 1;
    while (chords[after] && same(chords[after], now) && chords[after].start < length) after++;
    let next = chords[after] ?? null;
    let to = next?.start ?? length;
    const end = this.#loops() ? (bars[this.#round.last] ?? length) : length;
    if (this.#loops() && to >= end) return [now, chords.findLast((chord) => chord.start <= this.#start() + 1e-3), end];
    const inForm = place >= 0 && place < length;
    if (inForm && (!next || next.start >= length) && this.#afterwards(this.#chorus) !== null) {
      next = chords.find((chord) => chord.start >= 0);
      to = length;
    }
    return [now, next, to];
  }

  /** Whether some bars are gone over without a pause. */
  #loops() {
    return this.#round !== null && this.#begun.demo;
  }

  #opening() {
    return this.#tune.chords.find((chord) => chord.end > this.#start() + 1e-3) ?? null;
  }

  #start() {
    if (this.#round) return this.#tune.bars[this.#round.first - 1];
    return this.#begun.ordered ? Math.min(0, this.#tune.chords[0]?.start ?? 0) : 0;
  }

  #barStart(place) {
    const { bars, metre, length } = this.#tune;
    if (place < 0) return Math.floor(place / metre.bar + 1e-6) * metre.bar;
    if (place >= length) return length + Math.floor((place - length) / metre.bar + 1e-6) * metre.bar;
    return bars.findLast((bar) => bar <= place + 1e-3) ?? 0;
  }

  #sectionAt(place) {
    return this.#tune.sections.findLast((one) => one.start <= place + 1e-3);
  }

  #whereWords(beat) {
    const { bars } = this.#tune;
    const section = this.#sectionAt(beat.place);
    const bar = bars.filter((one) => one <= beat.place + 1e-3).length;
    const place = ["introduction", "ending"].includes(section?.name)
      ? section.name
      : [section?.name, `bar ${bar}`].filter(Boolean).join(", ");
    const which = this.#round ? `round ${this.#round.number}` : this.#event || `chorus ${beat.chorus}`;
    return place === which ? place : `${place} · ${which}`;
  }

  #whoWords() {
    const { you, parts, demo } = this.#begun;
    const [theirs, ours] = [you, parts].map((names) => names.join(", ") || "nothing");
    return `${demo ? "the pianist" : "you"}: ${theirs} · the companion: ${ours}`;
  }

  /** Say something that is to be read: the next beats don't wipe it away. */
  #remark(text) {
    this.#say(text);
    this.#remarked = performance.now() + READ;
  }

  #say(text) {
    if (this.#note.textContent !== text) this.#note.textContent = text;
  }

  // What is asked for

  #foot() {
    const look = el("button.plain", { type: "button", "aria-keyshortcuts": "d" }, lookWords());
    look.addEventListener("click", () => {
      changeLook();
      look.textContent = lookWords();
    });
    const sound = el("button.plain", { type: "button", hidden: !this.#begun.demo || this.#sound.on }, "Sound here");
    sound.addEventListener("click", () => {
      this.#sound.start();
      sound.hidden = true;
    });
    return el("footer", {}, this.#note, el("div.wishes", {}, ...wishButtons(this.#begun.wishes, (fault) => this.#say(fault)), this.#open, sound, look));
  }

  #pressed(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const wish = wishOfKey(event.key, this.#begun.wishes);
    if (wish) this.element.querySelector(`[data-wish="${wish}"]`).click();
    else if (event.key === "d") changeLook();
  }

  #stayAwake() {
    this.#awake = navigator.wakeLock?.request("screen").catch(() => null);
  }
}

const TURNS = { yours: "your turn", ours: "its turn" };

function same(a, b) {
  return a && b && a.root === b.root && a.rest === b.rest && a.bass === b.bass;
}
