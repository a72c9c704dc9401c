// What is chosen, tune by tune: kept while the page is open, so that one comes back from playing to what one left.

const USUAL = { who: "pianist", you: "melody", time: "follow", tempo: null, treatments: {}, bars: null, seed: 0, like_you: null, drill: { kind: "usual" } };
const tunes = new Map();

export const chosen = {
  tune: null,

  /** What is chosen for a tune. */
  of(name) {
    if (!tunes.has(name)) tunes.set(name, { ...USUAL, treatments: {}, drill: { ...USUAL.drill } });
    return tunes.get(name);
  },

  /** What was chosen for a tune goes over to the copy of it that was made. */
  moved(from, to) {
    if (from !== to) tunes.set(to, this.of(from));
    this.tune = to;
  },
};

/** What is chosen, as it is asked for. */
export function how({ time, tempo, treatments, bars, seed, like_you }) {
  return { time, tempo, treatments, bars, seed, like_you };
}
