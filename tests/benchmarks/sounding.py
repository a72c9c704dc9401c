"""The chords' figures as they sound: swung and struck by hand, as long as the touch has it, over a melody by hand.

usage: python tests/benchmarks/sounding.py [FOLDER] [--treatment walking] [--seeds 10] [--choruses 3]

FOLDER holds MusicXML lead sheets or charts; without it the shipped charts are taken. The audit counts in what is
written. Here counts what overlaps by more than 30 ms at the chart's tempo, and the melody has the spread of a good
player's hand (15 ms: common practice). Prints a line a figure, with the charts that come off worst.
"""

from __future__ import annotations

import argparse
import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from companion.arrange.harmony import Harmony
from companion.arrange.lookup import bar_and_beat, harmony_at, treatment_at
from companion.arrange.plan import plan
from companion.chart.model import Form
from companion.load import load
from companion.music.swing import straight_quarters, swing_ratio, to_sounding
from companion.resources import shipped_folder
from companion.stage.band import Band, Cue
from companion.stage.settings import Settings

OVERLAP, SPREAD = 0.030, 0.015
"""Seconds that two notes must share to be heard together, and by which a hand's onsets vary."""
CLEAR = 0.125
"""Quarters between a chord and the start of a moving melody note."""
LOW_LIMITS = {1: 52, 2: 51, 3: 48, 4: 46, 5: 46, 6: 46, 7: 34, 8: 43, 9: 41, 10: 41, 11: 41, 13: 40, 14: 39}
"""Lowest MIDI number of the lower of two neighbours, by interval (common practice; from memory)."""
SPAN = 14
ROOT_ALLOWED = ("m7b5", "dim7", "power", "other")


@dataclass(frozen=True)
class Sung:
    """A melody note as it is played: beats from the first chorus on."""

    start: float
    end: float
    midi: int
    length: float


@dataclass
class Tally:
    """Hits and cases of one figure, and where the first hits were."""

    hits: int = 0
    cases: int = 0
    places: list[str] = field(default_factory=list)

    def add(self, hit: bool, where: str) -> None:
        self.hits += hit
        self.cases += 1
        if hit and len(self.places) < 3:
            self.places.append(where)


def sung(form: Form, choruses: int, ratio: float, dice: random.Random) -> list[Sung]:
    """The melody over some choruses, a pickup in the last bar of the one before, one note at a time."""
    straight = straight_quarters(n.beat for n in form.melody)
    rows = sorted(
        (
            chorus * float(form.length) + to_sounding(n.beat, ratio, straight),
            chorus * float(form.length) + to_sounding(n.beat + n.length, ratio, straight),
            n.pitch.midi,
            float(n.length),
        )
        for chorus in range(choruses)
        for n in form.melody
    )
    ends = [*(row[0] for row in rows[1:]), float("inf")][: len(rows)]
    late = [dice.gauss(0, SPREAD) * form.tempo / 60 for _ in rows]
    return [
        Sung(a + d, min(b, until) - 0.03 * (b - a) + min(d, 0), midi, length)
        for (a, b, midi, length), until, d in zip(rows, ends, late, strict=True)
    ]


def together(cues: Sequence[Cue]) -> Iterator[list[Cue]]:
    """Notes struck at one moment, from the lowest up."""
    group: list[Cue] = []
    for cue in cues:
        if group and cue.note.beat != group[0].note.beat:
            yield sorted(group, key=lambda c: c.note.midi)
            group = []
        group.append(cue)
    if group:
        yield sorted(group, key=lambda c: c.note.midi)


def faults(
    chord: Sequence[Cue], melody: Sequence[Sung], bass: Sequence[Cue], harmonies: Sequence[Harmony], heard: float
) -> dict[str, bool]:
    """What is wrong with one chord that may stand for any of ``harmonies``; ``heard``: the overlap in quarters."""
    start, end, midi = min(c.beat for c in chord), max(c.end for c in chord), [c.note.midi for c in chord]
    over = [m for m in melody if m.start < end and m.end > start]
    under = [b.note.midi for b in bass if min(b.end, end) - max(b.beat, start) > heard]
    hands = [[c.note.midi for c in chord if c.note.hand == hand] for hand in ("left", "right")]
    found = {
        "a clash with the melody": any(
            m.midi - c.note.midi in (1, 13) and min(m.end, c.end) - max(m.start, c.beat) > heard
            for m in over
            for c in chord
        ),
        "struck above a sounding melody note": any(
            m.start <= start + heard / 3 and m.end > start + heard and midi[-1] > m.midi for m in over
        ),
        "below a low limit": any(low < LOW_LIMITS.get(high - low, 0) for low, high in pairwise(midi))
        or any(low >= midi[0] or low < LOW_LIMITS.get(midi[0] - low, 0) for low in under),
        "a hand broken": any(len(hand) > 5 or (hand and hand[-1] - hand[0] > SPAN) for hand in hands),
    }
    if chord[0].note.reason.startswith(("rootless", "thinned")):
        best = min((rootless(h, midi, over) for h in harmonies), key=sum)
        found |= dict(zip(("the root in a rootless voicing", "third or seventh missing"), best, strict=True))
    return found


def rootless(harmony: Harmony, midi: Sequence[int], over: Sequence[Sung]) -> tuple[bool, bool]:
    """Whether the root is in it, and whether third or seventh (sixth; fourth in sus) is missing."""
    relative = {(note - harmony.root) % 12 for note in midi}
    gave_way = any((m.midi - harmony.root) % 12 == 5 for m in over)
    quality = harmony.chord.quality
    thirds = {2, 5} if quality in ("sus", "7sus") else {3, 4} | ({5} if gave_way else set())
    return 0 in relative and quality not in ROOT_ALLOWED, not (relative & thirds and relative & {9, 10, 11})


def by_hand(cue: Cue, tempo: float) -> Cue:
    """A note where the hand strikes it."""
    late = cue.stroke.late * tempo / 60
    return replace(cue, beat=cue.beat + late, end=cue.end + late)


def measured(form: Form, treatment: str | None, seed: int, choruses: int) -> dict[str, Tally]:
    """One performance of some choruses."""
    settings = Settings(you=frozenset({"melody"}), treatment=treatment, choruses=choruses, seed=seed)
    band, length = Band(form, settings), float(form.length)
    ratio = 1.0 if form.metre.compound else round(swing_ratio(form.tempo, form.feel), 2)
    melody = sung(form, choruses, ratio, random.Random(seed))
    cues = sorted(by_hand(cue, form.tempo) for cue in band.cues(-8.0, choruses * length, form.tempo))
    bass = [c for c in cues if c.note.part == "bass"]
    chords = list(together([c for c in cues if c.note.part == "chords"]))
    rules, found = plan(form, treatment), defaultdict[str, Tally](Tally)
    for chord in chords:
        at, note = chord[0].beat - chord[0].stroke.late * form.tempo / 60, chord[0].note
        near = [Fraction(at + ahead).limit_denominator(480) for ahead in (1e-3, 0.5)]
        where = f"{bar_and_beat(form, note.beat)}: {' '.join(str(c.note.pitch) for c in chord)}"
        here = harmony_at(form, near[0]), harmony_at(form, near[1])
        around = [m for m in melody if abs(m.start - at) < 16]
        for name, fault in faults(chord, around, bass, here, OVERLAP * form.tempo / 60).items():
            found[name].add(fault, where)
        if treatment_at(rules, near[0] % form.length).placement == "gaps":
            moving = any(m.length < 2 and abs(m.start - at) <= CLEAR for m in around)
            found["struck with a moving melody note, in gaps"].add(moving, where)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--treatment")
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--choruses", type=int, default=3)
    args = parser.parse_args()
    folder = args.folder or shipped_folder() / "charts"
    table: dict[str, list[tuple[str, Tally]]] = defaultdict(list)
    for path in sorted(p for p in folder.iterdir() if p.suffix in (".toml", ".mxl", ".musicxml", ".xml")):
        form, whole = load(path).unfold(), defaultdict[str, Tally](Tally)
        for seed in range(args.seeds):
            for name, tally in measured(form, args.treatment, seed, args.choruses).items():
                whole[name].hits += tally.hits
                whole[name].cases += tally.cases
                whole[name].places += tally.places
        for name, tally in whole.items():
            table[name].append((path.stem, tally))
    for name, rows in table.items():
        hits, cases = sum(t.hits for _, t in rows), sum(t.cases for _, t in rows)
        worst = sorted(rows, key=lambda row: -row[1].hits / max(1, row[1].cases))[:3]
        said = ", ".join(f"{stem} {t.hits}/{t.cases} ({'; '.join(t.places[:2])})" for stem, t in worst if t.hits)
        print(f"{name:<45}{hits:6d} of {cases:6d}   {said}".rstrip())


if __name__ == "__main__":
    main()
