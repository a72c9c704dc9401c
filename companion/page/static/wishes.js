// What can be asked for while it plays: a button each, and a key.
import { post } from "./ask.js";
import { el } from "./dom.js";

const WORDS = {
  stop: ["Stop", "Escape"],
  again: ["From the top", "Home"],
  slower: ["Slower", "-"],
  faster: ["Faster", "+"],
  "last time": ["Last time", "l"],
  next: ["Next", "n"],
  stay: ["Stay", "s"],
  keep: ["Keep", "k"],
};

let before = Promise.resolve(null);

/** Ask for something, after what was asked for before; null when it was taken. */
export function wished(wish, value = null) {
  before = before.then(() => post("/wish", { wish, value }));
  return before;
}

/** The buttons for what can be wished for; `failed` is told what is wrong when one wasn't taken. */
export function wishButtons(wishes, failed) {
  return wishes
    .filter((wish) => wish in WORDS)
    .map((wish) => {
      const [words, key] = WORDS[wish];
      const ask = () => wished(wish).then((fault) => fault && failed(fault));
      return el("button", { type: "button", "data-wish": wish, "aria-keyshortcuts": key, onclick: ask }, words);
    });
}

/** The wish that a key stands for, among those that there are. */
export function wishOfKey(key, wishes) {
  return wishes.find((wish) => WORDS[wish]?.[1] === key);
}
