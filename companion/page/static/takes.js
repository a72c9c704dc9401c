// The takes: what was played when, heard again, reviewed, deleted after asking.
import { ask, get } from "./ask.js";
import { el } from "./dom.js";
import { Page } from "./shell.js";

const ENDS = { ended: "", stopped: "stopped", interrupted: "broken off", lost: "ended by a failure" };

export class Takes extends Page {
  #list = el("ol.takes");

  constructor(context) {
    super("What was played", "takes", context);
    this.body.append(this.note, this.#list);
    this.#fill();
  }

  async #fill() {
    const told = await this.tried(() => get("/takes"));
    if (!told) return;
    this.#list.replaceChildren(...byDay(told.takes).map(([day, takes]) => this.#day(day, takes)));
    if (!told.takes.length) this.say("No take of yours yet: whatever you play at the piano is kept here.");
    if (told.more) this.#list.append(el("li.more", {}, `and ${told.more} more`));
    if (told.demos.length) this.#list.append(this.#demos(told.demos));
  }

  #day(day, takes) {
    return el("li", {}, el("h2", {}, day), el("ol", {}, ...takes.map((take) => this.#take(take))));
  }

  #demos(takes) {
    const about = "Kept for a while, to be heard and looked through. None of it counts as your practice.";
    return el("li.demos", {}, el("h2", {}, "The built-in pianist"), el("p.about", {}, about), el("ol", {}, ...takes.map((take) => this.#take(take))));
  }

  #take(take) {
    const called = `${take.title}, ${take.hour}`;
    const remove = el("button.plain", { type: "button", "aria-label": `Delete ${called}` }, "Delete");
    const row = el("li.take");
    remove.addEventListener("click", () => this.#askAbout(row, take, called, remove));
    if (take.fault) {
      row.append(el("span.hour", {}, take.hour), el("div", {}, el("b", {}, take.title), el("p.about", {}, `can't be read: ${take.fault}`)), remove);
      return row;
    }
    const hear = el("button.sample", { type: "button", "aria-pressed": "false", "aria-label": `Hear ${called}` }, "Hear");
    hear.addEventListener("click", () => this.tried(() => this.playback.play(hear, () => get("/take/notes", { take: take.take }))));
    const about = [minutes(take.seconds), take.you.join(", "), take.drill ? "a drill" : "", ENDS[take.how], take.kept ? "to be kept" : ""];
    row.append(
      el("span.hour", {}, take.hour),
      el(
        "div",
        {},
        el("a", { href: `#take/${encodeURIComponent(take.take)}`, "aria-label": `Review of ${called}` }, take.title),
        el("p.about", {}, about.filter(Boolean).join(" · ")),
      ),
      hear,
      remove,
    );
    return row;
  }

  #askAbout(row, take, called, remove) {
    const yes = el("button", { type: "button" }, "Delete it for good");
    const no = el("button", { type: "button" }, "Leave it");
    const question = el("div.ask", { role: "group", "aria-label": `Delete ${called}?` }, el("span", {}, "Nothing brings it back."), yes, no);
    remove.hidden = true;
    row.append(question);
    no.focus();
    no.addEventListener("click", () => {
      question.remove();
      remove.hidden = false;
      remove.focus();
    });
    yes.addEventListener("click", async () => {
      this.playback.stop();
      const told = await this.tried(() => ask("/take/delete", { take: take.take }));
      if (!told) return;
      this.say(told.trouble || `${called}: deleted`);
      this.title.focus();
      this.#fill();
    });
  }
}

function byDay(takes) {
  const days = new Map();
  for (const take of takes) days.set(take.day, [...(days.get(take.day) ?? []), take]);
  return [...days];
}

/** A length as minutes and seconds. */
export function minutes(seconds) {
  return `${Math.floor(seconds / 60)}:${String(Math.round(seconds) % 60).padStart(2, "0")}`;
}
