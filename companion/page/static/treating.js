// How a section is treated while it is played: one touch, and from the next bar line on it is treated otherwise.
import { el } from "./dom.js";
import { wished } from "./wishes.js";

const KEY = "treatments";

export class Treating {
  #sections;
  #say;
  #now;
  #wanted = new Map();
  #section = "";
  #picked = false;
  #select = el("select", { "aria-label": "The section whose treatment is changed" });
  #row = el("div.ways", { role: "group", "aria-label": "Treatments" });
  #buttons = new Map();

  constructor(tune, say) {
    this.#say = say;
    this.#now = { ...tune.treated };
    this.#sections = [...new Set(tune.sections.map((one) => one.name))].filter((name) => name in this.#now);
    this.#select.append(...this.#sections.map((name) => el("option", { value: name }, name)));
    this.#select.addEventListener("change", () => this.#pick(this.#select.value, true));
    for (const { name, about } of tune.treatments) {
      const button = el("button", { type: "button", title: about, "aria-pressed": "false" }, words(name));
      button.addEventListener("click", () => this.#ask(name));
      this.#buttons.set(name, button);
      this.#row.append(button);
    }
    this.element = el("div.treating", { hidden: localStorage.getItem(KEY) !== "shown" }, el("label", {}, this.#select), this.#row);
    this.toggle = el("button.plain", { type: "button", "aria-expanded": String(!this.element.hidden), onclick: () => this.#show() }, "Treatments");
    this.at(this.#sections[0]);
  }

  /** The section that is played: the one that is meant, until another is picked. */
  at(section) {
    if (this.#picked || section === this.#section || !this.#sections.includes(section)) return;
    this.#select.value = section;
    this.#pick(section, false);
  }

  /** From now on sections are treated so. */
  treated(sections) {
    for (const [section, name] of Object.entries(sections)) {
      if (this.#now[section] !== name) this.#say(`${section}: ${words(name)}`);
      this.#now[section] = name;
      if (this.#wanted.get(section) === name) this.#wanted.delete(section);
    }
    this.#mark();
  }

  #show() {
    this.element.hidden = !this.element.hidden;
    localStorage.setItem(KEY, this.element.hidden ? "" : "shown");
    this.toggle.setAttribute("aria-expanded", String(!this.element.hidden));
    this.#mark();
  }

  #pick(section, picked) {
    this.#section = section;
    this.#picked = picked;
    this.#mark();
  }

  async #ask(name) {
    const section = this.#section;
    this.#wanted.set(section, name);
    this.#mark();
    this.#say(`${section}: ${words(name)} from the next bar on`);
    const fault = await wished("treatment", [section, name]);
    if (!fault) return;
    this.#wanted.delete(section);
    this.#mark();
    this.#say(fault);
  }

  #mark() {
    const now = this.#now[this.#section];
    const wanted = this.#wanted.get(this.#section);
    for (const [name, button] of this.#buttons) {
      button.setAttribute("aria-pressed", String(name === now));
      button.classList.toggle("wanted", name === wanted);
    }
    const seen = this.#buttons.get(wanted ?? now);
    if (seen && this.#row.clientWidth) this.#row.scrollLeft = seen.offsetLeft - (this.#row.clientWidth - seen.offsetWidth) / 2;
  }
}

function words(name) {
  return name.replaceAll("-", " ");
}
