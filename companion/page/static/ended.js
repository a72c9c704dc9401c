// After what was played at the piano: the page has nothing more to show, and says so.
import { el } from "./dom.js";

export class Ended {
  name = "choose";
  element = el(
    "div.page",
    {},
    el("header", {}, el("h1", {}, "That was it.")),
    el("p", {}, "What became of it stands at the terminal; this page comes back with the next tune."),
  );

  end() {}
}
