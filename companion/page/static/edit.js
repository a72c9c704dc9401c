// A chart's text: chords, form, melody and treatments, changed in place; what is wrong is shown at its line at once.
import { ask, get } from "./ask.js";
import { chosen } from "./chosen.js";
import { el } from "./dom.js";
import { Page } from "./shell.js";

const PAUSE = 350; // milliseconds without a key after which it is looked through

export class Edit extends Page {
  #name;
  #stamp = "";
  #kept = "";
  #former = [];
  #timer = null;
  #turn = 0;
  #text = el("textarea.chart-text", { spellcheck: "false", autocapitalize: "off", autocomplete: "off", wrap: "off", "aria-label": "The chart", "aria-describedby": "faults" });
  #gutter = el("pre.gutter", { "aria-hidden": "true" });
  #faults = el("ul.faults", { id: "faults" });
  #heard = el("div", { role: "status" }, this.#faults);
  #save = el("button", { type: "button", disabled: true, "aria-keyshortcuts": "Control+s" }, "Keep it");
  #back = el("button", { type: "button", disabled: true }, "Undo all since it was kept");
  #hear = el("button.sample", { type: "button", "aria-pressed": "false" }, "Hear what is kept");

  constructor(context, name) {
    super("Change a chart", "tunes", context);
    this.#name = name;
    this.body.append(
      el("p.more", {}, el("a", { href: "#tunes" }, "Back to the tunes")),
      el("div.editor", {}, this.#gutter, this.#text),
      this.#heard,
      el("p.buttons", {}, this.#save, this.#back, this.#hear),
      this.note,
      el("p.about", {}, "Chords stand in bars between strokes; % is the chord before. The melody is in ABC notes. Undo is Ctrl-Z, as everywhere."),
    );
    this.#text.addEventListener("input", () => this.#changed());
    this.#text.addEventListener("scroll", () => (this.#gutter.scrollTop = this.#text.scrollTop));
    this.#save.addEventListener("click", () => this.#keep());
    this.#back.addEventListener("click", () => this.#undo());
    this.#hear.addEventListener("click", () => this.tried(() => this.playback.play(this.#hear, () => ask("/tune/hear", { chart: this.#name }))));
    this.element.addEventListener("keydown", (event) => {
      if (!(event.ctrlKey || event.metaKey) || event.key !== "s") return;
      event.preventDefault();
      if (!this.#save.disabled) this.#keep();
    });
    this.#load();
  }

  end() {
    super.end();
    clearTimeout(this.#timer);
    if (this.#text.value !== this.#kept) sessionStorage.setItem(this.#draft(), this.#text.value);
  }

  #draft() {
    return `draft ${this.#name}`;
  }

  async #load() {
    const told = await this.tried(() => get("/tune/text", { chart: this.#name }));
    if (!told) return;
    this.#stamp = told.stamp;
    this.#kept = told.text;
    const draft = sessionStorage.getItem(this.#draft());
    this.#text.value = draft ?? told.text;
    if (draft) this.say("This is what you had written and not kept.");
    else if (!told.own) this.say("This chart isn’t your own: what you change is kept as a copy among yours.");
    this.#changed();
    await this.#check();
  }

  #changed() {
    const lines = this.#text.value.split("\n").length;
    if (this.#gutter.childElementCount !== lines) this.#gutter.replaceChildren(...Array.from({ length: lines }, (_, n) => el("span", {}, `${n + 1}\n`)));
    this.#save.disabled = true;
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#check(), PAUSE);
  }

  async #check() {
    const turn = ++this.#turn;
    const text = this.#text.value;
    const told = await this.tried(() => ask("/tune/check", { chart: this.#name, text }));
    if (!told || turn !== this.#turn) return;
    const marked = new Set(told.faults.map((fault) => fault.line));
    for (const [n, line] of [...this.#gutter.children].entries()) line.classList.toggle("fault", marked.has(n + 1));
    this.#faults.replaceChildren(...(told.faults.length ? told.faults.map((fault) => this.#fault(fault)) : [el("li.fine", {}, "Nothing is wrong with it.")]));
    this.#text.setAttribute("aria-invalid", String(told.faults.length > 0));
    const same = text === this.#kept;
    this.#save.disabled = same || !told.playable;
    this.#back.disabled = same && !this.#former.length;
    this.#back.textContent = same ? "Undo what was kept last" : "Undo all since it was kept";
  }

  #fault({ where, text, line }) {
    const words = [where ? el("b", {}, where) : null, where ? ": " : "", text].filter((part) => part);
    if (!line) return el("li", {}, ...words);
    return el("li", {}, el("button.plain", { type: "button", onclick: () => this.#goTo(line) }, ...words));
  }

  #goTo(line) {
    const lines = this.#text.value.split("\n");
    const from = lines.slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0);
    this.#text.focus();
    this.#text.setSelectionRange(from, from + lines[line - 1].length);
    const high = this.#text.scrollHeight / lines.length;
    this.#text.scrollTop = Math.max(0, (line - 5) * high);
  }

  async #keep() {
    const text = this.#text.value;
    const told = await this.tried(() => ask("/tune/save", { chart: this.#name, text, stamp: this.#stamp }));
    if (!told) return;
    sessionStorage.removeItem(this.#draft());
    this.#former.push(this.#kept);
    chosen.moved(this.#name, told.name);
    this.#name = told.name;
    history.replaceState(null, "", `#edit/${encodeURIComponent(told.name)}`);
    this.#stamp = told.stamp;
    this.#kept = text;
    const copy = told.copied ? ` as a copy of your own, ${told.name}` : "";
    this.say(`Kept${copy}${told.former ? `; what was there is kept as ${told.former}` : ""}.`);
    await this.#check();
  }

  #undo() {
    const former = this.#text.value === this.#kept ? this.#former.pop() : this.#kept;
    if (former === undefined) return;
    this.#text.value = former;
    this.#changed();
    this.#text.focus();
    this.say("Undone here; Keep it, and it is so in the file as well.");
  }
}
