"""How well a whole take is laid on the chart after the event.

usage: aligning.py DATA [--set sessions|practising|rubato] [--kind KIND] [--half first|second]

Of sessions and practising players (kinds with a melody from the chart): the share of the true beats for which the same
chart beat is implied within 50 ms, the median of how far they lie, and the share of the implied beats with no true beat
of their name within half a beat. Goal: 97 % within 50 ms. Of recordings of people (rubato): the share of the melody's
onsets in ``_onsets.csv`` that are found to be the note of their chart beat, within 5 ms. Goal: 99 %.

Tune on the first half of each kind, never on the second. DATA as for ``following.py``.
"""

from __future__ import annotations

import argparse
import csv
import statistics
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from beat_scores import TrueBeat
from followed_players import Entry, Player, practising, rubato, sessions

from companion.practice.alignment import Alignment, align

NEAR, SAME = 0.050, 0.005
"""Seconds within which a beat is where it should be, and a note is the same note."""


def laid(player: Player) -> Alignment:
    """A player's take on its chart."""
    uncounted = replace(player.settings, tempo=None, start=None)
    return align(player.chart, uncounted, player.heard, player.until)


def implied(alignment: Alignment, length: float) -> list[tuple[float, float]]:
    """Chart beats and their moments, those before the form left out."""
    return [
        (beat % length, seconds)
        for sweep in alignment.sweeps
        for beat, seconds in sweep.beats
        if sweep.low - 1e-6 <= beat < sweep.high - 1e-6 and beat > -1e-6
    ]


def beat_errors(truth: Sequence[TrueBeat], beats: Sequence[tuple[float, float]]) -> list[float]:
    """Seconds from each true beat to the nearest implied one of its name; 9 where there is none."""
    moments = defaultdict(list)
    for beat, seconds in beats:
        moments[round(beat * 12)].append(seconds)
    return [
        min((abs(t.seconds - at) for at in moments[round(t.chart_beat * 12)]), default=9.0)
        for t in truth
        if t.chart_beat >= 0 or t.mark
    ]


def strays(truth: Sequence[TrueBeat], beats: Sequence[tuple[float, float]], half: float) -> float:
    """Share of the implied beats with no true one of their name near."""
    moments = defaultdict(list)
    for t in truth:
        moments[round(t.chart_beat * 12)].append(t.seconds)
    far = [min((abs(s - at) for at in moments[round(b * 12)]), default=9.0) > half for b, s in beats]
    return sum(far) / len(far) if far else 0.0


def agreeing(alignment: Alignment, onsets: Path) -> tuple[int, int]:
    """How many of a recording's melody onsets are the note of their beat, and how many there are."""
    found = defaultdict(list)
    for note in alignment.notes:
        if note.seconds is not None and note.expected is not None:
            found[round(note.chart_beat, 3)].append(note.seconds)
    with onsets.open(newline="") as stream:
        rows = [(round(float(r["chart_beat"]), 3), float(r["melody"])) for r in csv.DictReader(stream) if r["melody"]]
    return sum(any(abs(s - at) < SAME for s in found[beat]) for beat, at in rows), len(rows)


def _entries(data: Path, name: str) -> Iterator[Entry]:
    made = {"sessions": sessions, "practising": practising, "rubato": rubato}[name](data)
    seen: dict[str, int] = defaultdict(int)
    for entry in made:
        if name == "practising" and entry.name.endswith("-free"):
            continue
        seen[entry.row] += 1
        yield entry


def main() -> None:
    """Measure and print a table."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("data", type=Path)
    words.add_argument("--set", default="sessions", choices=("sessions", "practising", "rubato"))
    words.add_argument("--kind")
    words.add_argument("--half", choices=("first", "second"))
    asked = words.parse_args()
    entries = [e for e in _entries(asked.data, asked.set) if not asked.kind or asked.kind == e.row]
    kinds: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        kinds[entry.row].append(entry)
    shares = defaultdict(list)
    for row, players in kinds.items():
        middle = (len(players) + 1) // 2
        chosen = {"first": players[:middle], "second": players[middle:]}.get(asked.half or "", players)
        for entry in chosen:
            began = time.perf_counter()
            player = entry.player()
            alignment = laid(player)
            took = time.perf_counter() - began
            if asked.set == "rubato":
                case = entry.name.split("_")[0]
                good, many = agreeing(alignment, asked.data / "rubato" / f"{case}_onsets.csv")
                shares[row].append((good, many))
                print(f"{entry.name:22} {good:4}/{many:4}  {took:.1f} s  sweeps {len(alignment.sweeps)}")
                continue
            beats = implied(alignment, float(player.chart.unfold().length))
            off = beat_errors(player.truth, beats)
            half = (
                statistics.median(b.seconds - a.seconds for a, b in zip(player.truth, player.truth[1:], strict=False))
                / 2
            )
            stray = strays(player.truth, beats, half)
            good = sum(e <= NEAR for e in off)
            shares[row].append((good, len(off)))
            print(
                f"{entry.name:22} within {good / len(off):.3f}  median {1000 * statistics.median(off):5.1f} ms  "
                f"stray {stray:.3f}  sweeps {len(alignment.sweeps)}  {took:.1f} s",
                flush=True,
            )
    print()
    for row, found in shares.items():
        print(f"{row:22} {sum(g for g, _ in found) / sum(n for _, n in found):.4f}")
    every = [pair for found in shares.values() for pair in found]
    if every:
        print(f"{'all':22} {sum(g for g, _ in every) / sum(n for _, n in every):.4f}")


if __name__ == "__main__":
    main()
