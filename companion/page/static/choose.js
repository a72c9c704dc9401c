// Between takes: which tune is on the stand, who plays what, and one large button.
import { get } from "./ask.js";
import { begin } from "./begin.js";
import { chosen } from "./chosen.js";
import { el } from "./dom.js";
import { dropPlace } from "./import.js";
import { CARE, Page } from "./shell.js";
import { Tune } from "./tune.js";

export class Choose extends Page {
  #list = el("div.contents");
  #start = el("button.large", { type: "submit", disabled: true }, "Hear it played");
  #loop = el("button.large.second", { type: "button", hidden: true });
  #tune = null;
  #panel = el("div.tune");

  constructor(context) {
    super("What is on the stand?", "tunes", context, "form");
    const tunes = el("fieldset.tunes", {}, el("legend", {}, "The tunes"), this.#list, dropPlace(this, (name) => this.#brought(name)));
    this.body.append(
      el("div.two", {}, tunes, this.#panel),
      el("div.go", {}, this.#start, this.#loop, this.note),
      el("p.care", {}, CARE),
    );
    this.element.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#begin(null);
    });
    this.#loop.addEventListener("click", () => this.#begin(chosen.of(chosen.tune).drill));
    this.#list.addEventListener("change", () => this.#show());
    this.#fill();
  }

  told(message) {
    super.told(message);
    if (message.kind === "over") this.#ready(chosen.tune !== null);
  }

  async #fill() {
    await this.tried(async () => {
      const { charts } = await get("/charts");
      const there = charts.filter((chart) => !chart.fault).map((chart) => chart.name);
      if (!there.includes(chosen.tune)) chosen.tune = there[0] ?? null;
      this.#list.replaceChildren(...charts.map(line));
      const at = this.#list.querySelector(":checked");
      if (at) this.#list.scrollTop = at.closest("label").offsetTop - this.#list.offsetTop - 60;
      this.#ready(chosen.tune !== null);
      if (chosen.tune) this.#show();
    });
  }

  #brought(name) {
    chosen.tune = name;
    this.#fill();
  }

  #show() {
    chosen.tune = this.#list.querySelector(":checked").value;
    this.#tune = new Tune(this, chosen.tune, () => this.#words());
    this.#panel.replaceChildren(this.#tune.element);
    this.#words();
  }

  #words() {
    const { who, bars } = chosen.of(chosen.tune);
    const which = bars && (bars[0] === bars[1] ? `bar ${bars[0]}` : `bars ${bars[0]}–${bars[1]}`);
    const at = who === "piano";
    this.#start.textContent = at ? `Play ${bars ? "the whole tune" : "it"} with the companion` : bars ? `Hear ${which}, over and over` : "Hear it played";
    this.#loop.hidden = !at;
    this.#loop.textContent = `Drill ${which ?? "it"}`;
  }

  #ready(can) {
    this.#start.disabled = this.#loop.disabled = !can;
  }

  async #begin(drill) {
    this.playback.stop();
    this.#ready(false);
    const at = chosen.of(chosen.tune).who === "piano";
    this.say(at ? "Hands on the keys …" : "The pianist sits down …");
    const fault = await begin(this.sound, chosen.tune, drill);
    if (fault === null) return;
    this.#ready(true);
    this.say(fault);
  }
}

function line(chart) {
  const input = el("input", { type: "radio", name: "chart", value: chart.name, checked: chart.name === chosen.tune, disabled: "fault" in chart });
  const about = chart.fault ?? `${chart.key}, ${chart.metre}, ${chart.counted.sign} = ${chart.tempo}`;
  return el("label", {}, input, el("span.title", {}, chart.title), el("span.dots", { "aria-hidden": "true" }), el("span.about", {}, about));
}
