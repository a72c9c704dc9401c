// The page: who listens to what, and which view is seen. Each view is a module with a class that has `element` and `end`.
import { between } from "./between.js";
import { Clock } from "./clock.js";
import { Ended } from "./ended.js";
import { Live } from "./live.js";
import { startLook } from "./look.js";
import { Sound } from "./sound.js";
import { Stream } from "./stream.js";

const clock = new Clock();
const sound = new Sound(clock);
const place = document.getElementById("view");
const line = document.getElementById("line");
const LOST = "The line to the companion is down. What is played at the piano goes on; this page tries again.";
const GONE = "The companion doesn’t answer any more. If it has ended, start it again: this page comes back by itself.";
const PATIENCE = 10000; // milliseconds until it has gone, as far as can be told
let gone = null;
let view = null;

function show(next) {
  view?.end();
  view = next;
  place.className = next.name;
  place.replaceChildren(next.element);
}

function told(message) {
  view?.told?.(message);
}

addEventListener("hashchange", () => {
  if (!view?.between) return;
  show(between(sound));
  view.title.focus();
});

startLook();
clock.start();
new Stream()
  .on("begun", (begun) => {
    sound.fade();
    show(new Live(begun, clock, sound));
  })
  .on("beat", told)
  .on("state", told)
  .on("round", told)
  .on("treated", told)
  .on("remark", told)
  .on("notes", (message) => sound.take(message.notes))
  .on("missed", () => sound.fade())
  .on("over", (over) => {
    sound.end();
    if (!over.chooses) show(new Ended());
    else if (!view?.between) show(between(sound));
    view.told?.(over);
  })
  .open((there) => {
    line.hidden = there || view instanceof Ended;
    if (there) {
      clearTimeout(gone);
      gone = null;
      line.textContent = "";
    } else {
      sound.fade();
      if (!line.textContent) line.textContent = LOST;
      gone ??= setTimeout(() => (line.textContent = GONE), PATIENCE);
    }
  });
