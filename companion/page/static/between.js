// Which view is seen between takes: what stands after the # says it, so that the browser's own way back works.
import { Choose } from "./choose.js";
import { Edit } from "./edit.js";
import { Piano } from "./piano.js";
import { Playback } from "./playback.js";
import { Review } from "./review.js";
import { Takes } from "./takes.js";
import { Today } from "./today.js";

let context = null;

/** The view that is meant now. */
export function between(sound) {
  context ??= { sound, playback: new Playback(sound) };
  const [way, which = ""] = location.hash.slice(1).split("/").map(decodeURIComponent);
  if (way === "today") return new Today(context);
  if (way === "takes") return new Takes(context);
  if (way === "take" && which) return new Review(context, which);
  if (way === "piano") return new Piano(context);
  if (way === "edit" && which) return new Edit(context, which);
  return new Choose(context);
}
