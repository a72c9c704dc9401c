"""What a walking bass is like, judged from outside: by the MIDI file that ``companion replay`` writes, and the sheet.

    python tests/benchmarks/walking_bass.py FOLDER [FOLDER …] [--seeds 10] [--choruses 3] [--every N] [--ghosts]

Each sheet or chart in a FOLDER is played through by the built-in player, plainly and at its tempo, and
``companion replay --treatment walking --out`` accompanies; nothing of the arranger is looked at. Prints each figure
with its target, the mean over all sheets, the worst sheet, and the sheets that miss it. With ``--ghosts`` the ghosted
quavers count as notes of the line, as for a listener who can't tell them.

Conventions: beats in quarters from the form's first downbeat, going on through the choruses; MIDI numbers. Chord tones
are the symbols'; scales are the table of Levine, The Jazz Theory Book, 1995 (from memory), of several that fit all. A
new chord is one with another root, other tones or another bass that begins on a beat of the metre.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import statistics
import sys
import tempfile
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, pairwise
from pathlib import Path

import mido

from companion.chart.model import Form
from companion.cli import main as companion
from companion.load import load
from companion.pianist.player import SimulatedPerformance, simulate

TICKS = 960


@dataclass(frozen=True)
class Struck:
    """A note of the bass where it was meant: on a beat, or between two."""

    beat: Fraction
    midi: int
    velocity: int


@dataclass(frozen=True)
class Harmony:
    """What a symbol says."""

    start: Fraction
    root: int
    bass: int
    tones: frozenset[int]
    scale: frozenset[int]


@dataclass(frozen=True)
class Target:
    """What a figure is to reach, in which direction."""

    at_least: float | None = None
    at_most: float | None = None

    def misses(self, value: float) -> bool:
        """Whether a value isn't enough, or too much."""
        low = self.at_least is not None and value < self.at_least - 1e-9
        return low or (self.at_most is not None and value > self.at_most + 1e-9)


TARGETS = {
    "root or slash bass on a new chord": Target(at_least=0.95),
    "last note before a new chord approaches": Target(at_least=0.90),
    "the same, its fifth literally a fifth away": Target(),
    "third or seventh in a bar of one chord": Target(at_least=0.70),
    "leaps over a fifth, octaves apart": Target(at_most=0.03),
    "same pitch twice": Target(at_most=0.03),
    "same pitch three times": Target(at_most=0.0),
    "commonest pattern of degrees": Target(at_most=0.15),
    "notes to a change of direction": Target(2.0, 6.0),
    "outside E1 to G3": Target(at_most=0.0),
    "foreign notes": Target(at_most=0.0),
    "two choruses the same": Target(at_most=0.0),
    "bars shared by two choruses": Target(at_most=0.25),
}

SCALES = (
    ({4, 11}, {0, 2, 4, 5, 7, 9, 11}, {0, 2, 4, 6, 7, 9, 11}),
    ({4, 10, 1}, {0, 1, 3, 4, 6, 7, 9, 10}, {0, 1, 4, 5, 7, 8, 10}),
    ({4, 10, 3}, {0, 1, 3, 4, 6, 8, 10}, {0, 1, 3, 4, 6, 7, 9, 10}),
    ({4, 10, 8}, {0, 2, 4, 6, 8, 10}, {0, 1, 3, 4, 6, 8, 10}),
    ({4, 10, 6}, {0, 2, 4, 6, 7, 9, 10}, {0, 1, 3, 4, 6, 8, 10}),
    ({4, 10}, {0, 2, 4, 5, 7, 9, 10}, {0, 2, 4, 6, 7, 9, 10}),
    ({4, 8}, {0, 2, 4, 6, 8, 10}, {0, 2, 4, 6, 8, 9, 11}),
    (
        {4, 6},
        {0, 2, 4, 6, 7, 9, 11},
    ),
    ({4}, {0, 2, 4, 5, 7, 9, 11}, {0, 2, 4, 6, 7, 9, 11}),
    ({3, 11}, {0, 2, 3, 5, 7, 9, 11}),
    ({3, 6, 9}, {0, 2, 3, 5, 6, 8, 9, 11}),
    ({3, 6, 10}, {0, 1, 3, 5, 6, 8, 10}, {0, 2, 3, 5, 6, 8, 10}),
    ({3, 6}, {0, 2, 3, 5, 6, 8, 9, 11}, {0, 1, 3, 5, 6, 8, 10}),
    ({3, 10}, {0, 2, 3, 5, 7, 9, 10}),
    ({3}, {0, 2, 3, 5, 7, 9, 10}, {0, 2, 3, 5, 7, 9, 11}, {0, 2, 3, 5, 7, 8, 10}),
    ({5, 10, 1}, {0, 1, 3, 5, 7, 8, 10}, {0, 1, 3, 5, 7, 9, 10}),
    (set[int](), {0, 2, 5, 7, 9, 10}, {0, 2, 4, 5, 7, 9, 10}, {0, 2, 4, 5, 7, 9, 11}),
)
"""Tones that a chord must have, and the scales that serve over it, in semitones above the root; the first that fits."""
TO_MINOR = frozenset({0, 1, 4, 5, 7, 8, 10})
"""The scale of a plain dominant seventh that resolves to minor."""


def harmonies(form: Form) -> list[Harmony]:
    """The chords of a sheet in order; N.C. is None's business: what it leaves open is judged by nobody."""
    spans = [span for span in form.chords if span.chord.is_chord and span.chord.root is not None]
    found = []
    for n, span in enumerate(spans):
        root = span.chord.root.pc if span.chord.root else 0
        tones = frozenset(span.chord.pitch_classes)
        bass = span.chord.bass_name.pc if span.chord.bass_name else root
        above = {(pc - root) % 12 for pc in tones}
        fits = next(row[1:] for row in SCALES if row[0] <= above)
        serving = set().union(*fits)
        after = spans[(n + 1) % len(spans)].chord
        minor = {(pc - after.root.pc) % 12 for pc in after.pitch_classes} >= {0, 3} if after.root else False
        if {4, 10} <= above and after.root and (after.root.pc - root) % 12 == 5 and minor:
            serving |= TO_MINOR
        found.append(Harmony(span.start, root, bass, tones, frozenset((root + s) % 12 for s in serving)))
    return found


def silent(form: Form) -> list[tuple[Fraction, Fraction]]:
    """Where the sheet says N.C. or nothing."""
    return [(span.start, span.end) for span in form.chords if not span.chord.is_chord]


# from the file to notes in their places


def accompanied(
    sheet: Path, form: Form, seed: int, choruses: int, treatment: str
) -> tuple[SimulatedPerformance, list[tuple[float, int, int]]]:
    """A plain performance of the melody, and the bass that replay wrote under it: (seconds, pitch, velocity)."""
    role = "melody" if form.melody else "solo"
    played = simulate(form, role, manner="clean", seed=seed, choruses=choruses)
    with tempfile.TemporaryDirectory() as folder:
        take, out = Path(folder) / "take.mid", Path(folder) / "out.mid"
        write(take, played)
        words = ["replay", str(sheet), str(take), "--you", role, "--treatment", treatment, "--seed", str(seed)]
        words += ["--tempo", f"{played.tempo:.6f}", "--start", f"{played.start:.6f}", "--out", str(out)]
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            status = companion(words)
        if status:
            raise SystemExit(f"{sheet}: replay ended with status {status}")
        return played, part(out, "bass")


def write(path: Path, played: SimulatedPerformance) -> None:
    """A performance as a Standard MIDI File of format 0, 1920 ticks a second."""
    track, last = mido.MidiTrack(), 0
    for event in played.heard:
        tick = round(event.seconds * 2 * TICKS)
        track.append(mido.Message.from_bytes([event.status, event.data1, event.data2], time=tick - last))
        last = tick
    until = round(played.truth[-1].seconds * 2 * TICKS)
    track.append(mido.MetaMessage("end_of_track", time=max(0, until - last)))
    mido.MidiFile(type=0, ticks_per_beat=TICKS, tracks=[track]).save(path)


def part(path: Path, name: str) -> list[tuple[float, int, int]]:
    """Onsets of the track of a name: seconds, pitch, velocity."""
    file = mido.MidiFile(path)
    track = next(track for track in file.tracks if track.name == name)
    tempi = [(0, 500_000)]
    tick = 0
    for message in file.tracks[0]:
        tick += message.time
        if message.type == "set_tempo":
            tempi.append((tick, message.tempo))
    found, tick = [], 0
    for message in track:
        tick += message.time
        if message.type == "note_on" and message.velocity:
            found.append((seconds(tick, tempi, file.ticks_per_beat), message.note, message.velocity))
    return found


def seconds(tick: int, tempi: Sequence[tuple[int, int]], division: int) -> float:
    """The moment of a tick under a file's changes of tempo."""
    total = 0.0
    for (start, tempo), (end, _) in pairwise([*tempi, (tick, 0)]):
        total += max(0, min(end, tick) - start) * tempo / division / 1e6
    return total


def placed(onsets: Iterable[tuple[float, int, int]], played: SimulatedPerformance, form: Form) -> list[Struck]:
    """Onsets on the beats where they were meant: the nearest beat, or between two, whatever the swing."""
    pulse = float(form.metre.pulse)
    rows = [
        ((r.chorus - 1) * float(form.length) + r.chart_beat, r.seconds) for r in played.truth if r.mark != "count_in"
    ]
    rows += [(float(form.length) * max(r.chorus for r in played.truth), 2 * rows[-1][1] - rows[-2][1])]
    times = [s for _, s in rows]
    found = []
    for second, midi, velocity in onsets:
        k = min(max(bisect_right(times, second) - 1, 0), len(rows) - 2)
        (a, start), (b, end) = rows[k], rows[k + 1]
        share = (second - start) / (end - start)
        width = b - a
        if share < 0.25 or share > 0.87:
            beat = Fraction(a if share < 0.5 else b)
        else:
            beat = Fraction(a) + (Fraction(1) if pulse == 1.5 and width == 1.5 else Fraction(width) / 2)
        if 0 <= beat < rows[-1][0]:
            found.append(Struck(beat.limit_denominator(24), midi, velocity))
    return found


# figures


def measured(form: Form, line: Sequence[Struck], choruses: int, ghosts: bool = False) -> dict[str, tuple[float, int]]:
    """Each figure of a line through so many choruses, and over how many cases it was counted."""
    firm = 0 if ghosts else statistics.median(n.velocity for n in line) * 0.6
    walk = [n for n in line if n.velocity >= firm]
    found = {**_chords(form, walk, choruses), **_motion(walk), **_bars(form, walk, choruses)}
    found["foreign notes"] = _foreign(form, walk, choruses)
    found["outside E1 to G3"] = _share(not 28 <= n.midi <= 55 for n in line)
    return found


def _share(hits: Iterable[bool]) -> tuple[float, int]:
    cases = list(hits)
    return (sum(cases) / len(cases) if cases else 0.0), len(cases)


def _news(form: Form) -> list[Harmony]:
    """The chords that begin on a beat and are others than the one before."""
    chords = harmonies(form)
    news = [
        here
        for n, here in enumerate(chords)
        if n == 0 or (here.root, here.tones, here.bass) != (chords[n - 1].root, chords[n - 1].tones, chords[n - 1].bass)
    ]
    return [h for h in news if (h.start - form.bars[form.bar_at(h.start) - 1]) % form.metre.pulse == 0]


def approaches(a: int, b: int, *, literal: bool = False) -> bool:
    """Whether a note leads to a root: by semitone or step, or as its fifth, above or below, in any octave or not."""
    move = b - a
    return abs(move) in (1, 2, 7) or (not literal and abs(move) == 5)


def _chords(form: Form, line: Sequence[Struck], choruses: int) -> dict[str, tuple[float, int]]:
    at, beats = {n.beat: n for n in line}, [n.beat for n in line]
    roots, leads, literal = [], [], []
    for chorus in range(choruses):
        for new in _news(form):
            beat = new.start + chorus * form.length
            here = at.get(beat)
            roots.append(here is not None and here.midi % 12 == new.bass)
            k = bisect_right(beats, beat - Fraction(1, 48)) - 1
            if here is not None and k >= 0:
                leads.append(approaches(line[k].midi, here.midi))
                literal.append(approaches(line[k].midi, here.midi, literal=True))
    return {
        "root or slash bass on a new chord": _share(roots),
        "last note before a new chord approaches": _share(leads),
        "the same, its fifth literally a fifth away": _share(literal),
    }


def _motion(line: Sequence[Struck]) -> dict[str, tuple[float, int]]:
    moves = [b.midi - a.midi for a, b in pairwise(line)]
    directions = [move > 0 for move in moves if move]
    turns = sum(a != b for a, b in pairwise(directions))
    return {
        "leaps over a fifth, octaves apart": _share(abs(m) > 7 and abs(m) != 12 for m in moves),
        "same pitch twice": _share(m == 0 for m in moves),
        "same pitch three times": _share(a == 0 and b == 0 for a, b in pairwise(moves)),
        "notes to a change of direction": (len(directions) / max(1, turns), len(directions)),
    }


def _bars(form: Form, line: Sequence[Struck], choruses: int) -> dict[str, tuple[float, int]]:
    chords, quiet = harmonies(form), silent(form)
    edges = list(pairwise([*form.bars, form.length]))
    guides, patterns, cut = [], [], []
    for chorus in range(choruses):
        seen: Counter[tuple[tuple[Fraction, int], ...]] = Counter()
        bars = []
        for start, end in edges:
            zero = chorus * form.length
            inside = [n for n in line if start <= n.beat - zero < end]
            ruling = _within(chords, start, end)
            bars.append(tuple((n.beat - zero - start, n.midi) for n in inside))
            seen[tuple((n.midi - _at(chords, n.beat - zero).root) % 12 for n in inside)] += 1  # type: ignore[misc]
            if len({(h.root, h.tones) for h in ruling}) == 1 and not any(a < end and b > start for a, b in quiet):
                root = ruling[0].root
                third = {pc for pc in ruling[0].tones if (pc - root) % 12 in (3, 4, 9, 10, 11)} or {
                    pc for pc in ruling[0].tones if (pc - root) % 12 in (2, 5)
                }
                guides.append(any(n.midi % 12 in third for n in inside))
        patterns.append(max(seen.values()) / len(edges))
        cut.append(bars)
    shared = [sum(a == b for a, b in zip(x, y, strict=True)) / len(edges) for x, y in combinations(cut, 2)]
    return {
        "third or seventh in a bar of one chord": _share(guides),
        "commonest pattern of degrees": (max(patterns), len(patterns)),
        "two choruses the same": _share(share == 1 for share in shared),
        "bars shared by two choruses": (max(shared, default=0.0), len(shared)),
    }


def _within(chords: Sequence[Harmony], start: Fraction, end: Fraction) -> list[Harmony]:
    return [_at(chords, start), *(h for h in chords if start < h.start < end)]


def _at(chords: Sequence[Harmony], beat: Fraction) -> Harmony:
    return chords[max(0, bisect_right([h.start for h in chords], beat) - 1)]


def _foreign(form: Form, line: Sequence[Struck], choruses: int) -> tuple[float, int]:
    """Notes of neither chord nor scale, that don't pass chromatically and don't lead by a semitone."""
    chords, quiet, news = harmonies(form), silent(form), {h.start for h in _news(form)}
    wrong = []
    for n, note in enumerate(line[:-1]):
        beat = note.beat % form.length
        if any(a <= beat < b for a, b in quiet):
            continue
        here, move = _at(chords, beat), line[n + 1].midi - note.midi
        passes = n > 0 and abs(move) == 1 and note.midi - line[n - 1].midi == move
        later = line[n + 1].beat % form.length
        leads = abs(move) == 1 and (later in news or _at(chords, later).root != here.root)
        wrong.append(note.midi % 12 not in here.tones | here.scale | {here.bass} and not passes and not leads)
    return _share(wrong)


# the table


def sheets(folders: Iterable[Path]) -> list[Path]:
    """Every sheet and chart in the folders."""
    return [p for f in folders for p in sorted(f.iterdir()) if p.suffix in (".mxl", ".musicxml", ".toml")]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="+", type=Path, metavar="FOLDER")
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--choruses", type=int, default=3)
    parser.add_argument("--every", type=int, default=1, help="only every so many sheets")
    parser.add_argument("--treatment", default="walking")
    parser.add_argument("--ghosts", action="store_true", help="count ghosted quavers as notes of the line")
    args = parser.parse_args()
    table: dict[str, dict[str, list[tuple[float, int]]]] = {}
    paths = sheets(args.folders)[:: args.every]
    for number, path in enumerate(paths):
        form = load(path).unfold()
        for seed in range(args.seeds):
            print(f"\r{number + 1}/{len(paths)} {path.stem} {seed} ", end="", file=sys.stderr, flush=True)
            played, onsets = accompanied(path, form, seed, args.choruses, args.treatment)
            line = placed(onsets, played, form)
            for name, value in measured(form, line, args.choruses, args.ghosts).items():
                table.setdefault(name, {}).setdefault(f"{path.stem} ({form.metre})", []).append(value)
    print(file=sys.stderr)
    for name, target in TARGETS.items():
        report(name, target, table[name])


def report(name: str, target: Target, found: dict[str, list[tuple[float, int]]]) -> None:
    """One figure: its mean, the worst sheet, the sheets that miss the target."""
    by_sheet = {sheet: sum(v * n for v, n in row) / max(1, sum(n for _, n in row)) for sheet, row in found.items()}
    cases = {sheet: sum(n for _, n in row) for sheet, row in found.items()}
    mean = sum(by_sheet[s] * cases[s] for s in by_sheet) / max(1, sum(cases.values()))
    worst = (min if target.at_least is not None and target.at_most is None else max)(
        by_sheet, key=lambda s: by_sheet[s]
    )
    missed = {s: v for s, v in by_sheet.items() if target.misses(v) and cases[s]}
    said = f"{target.at_least} or more" if target.at_most is None else f"{target.at_least or 0} to {target.at_most}"
    print(f"{name:45s} mean {mean:.4f}  worst {by_sheet[worst]:.4f} {worst:26s} target {said}; {len(missed)} miss")
    for sheet, value in sorted(missed.items(), key=lambda row: row[1])[:12]:
        print(f"      {sheet}: {value:.3f} of {cases[sheet]}")


if __name__ == "__main__":
    main()
