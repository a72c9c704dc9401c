"""What earlier takes of a chart are worth to the follower: the same players followed with them and without.

usage: learning.py DATA [--set people|mirrored|others|choruses] [--kind ROW] [--last N] [--half first|second] [--rows]

=========  ==========================================================================================================
people     each of the people who play one piece of ``rubato/``, after all others who play it
mirrored   the same, but the others stretch where they pushed and push where they stretched: it must not hurt
others     players of ``sessions/`` who play a melody, after whoever else of ``sessions/`` and ``practising/`` plays the
           same sheet, at other tempi: it must not hurt
choruses   players of ``sessions/`` who play the form several times: their first time is the earlier take, and the
           times after it are judged
=========  ==========================================================================================================

A row says which share of the true beats was sounded within 70 ms without earlier takes and with them, for all beats and
for those on which the melody has no note. Goal of ``people``: 10 points or more on these, 0.90 of all beats.
``--last N`` takes N earlier takes at most. ``--half`` divides the players of each row in order: tune on the first half.
DATA as for ``following.py``.
"""

from __future__ import annotations

import argparse
import statistics
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import beat_scores as scores
from followed_players import Entry, Player, practising, rubato, sessions

from companion.follow.shape import TempoShape
from companion.messages import Beat
from companion.practice.alignment import stretches_as_written
from companion.practice.shaping import Run, runs_of, shape_of
from companion.stage.replay import replay

WITH_MELODY = (
    "melody-clean",
    "melody-human",
    "melody-messy",
    "right-hand",
    "slow",
    "accelerate",
    "melody-jump",
    "melody-stop",
)
"""Kinds of session that play a melody."""
SHEET = 0
"""Which of an entry's arguments is the chart's file."""


@dataclass(frozen=True)
class Pupil:
    """A player to be followed after earlier takes; beats before a moment aren't judged."""

    entry: Entry
    earlier: tuple[Sequence[Run], ...]
    since: float = 0.0


@cache
def player_of(entry: Entry) -> Player:
    """Read once."""
    return entry.player()


@cache
def runs(entry: Entry, until: float = float("inf")) -> tuple[Run, ...]:
    """What a player's performance up to a moment shows."""
    player = player_of(entry)
    heard = tuple(note for note in player.heard if note.seconds < until)
    form = player.chart.unfold()
    return tuple(runs_of(form, stretches_as_written(form, player.settings.you, heard)))


def people(data: Path) -> Iterator[Pupil]:
    """Those who play a piece, each after all the others."""
    entries = list(rubato(data))
    for entry in entries:
        others = [other for other in entries if other.row == entry.row and other is not entry]
        yield Pupil(entry, tuple(runs(other) for other in others))


def others(data: Path) -> Iterator[Pupil]:
    """Players of a melody, after all others who play the same sheet."""
    entries = [e for e in sessions(data) if e.row in WITH_MELODY]
    more = [e for e in practising(data) if e.arguments[3] == "melody" and not e.name.endswith("-free")]
    for entry in entries:
        same = [o for o in (*entries, *more) if o.arguments[SHEET] == entry.arguments[SHEET] and o is not entry]
        if same:
            yield Pupil(entry, tuple(runs(other) for other in same))


def choruses(data: Path) -> Iterator[Pupil]:
    """Players who play the form several times, after their own first time."""
    for entry in sessions(data):
        truth = player_of(entry).truth if entry.row in WITH_MELODY else ()
        tops = [beat.seconds for beat in truth if beat.chart_beat == 0]
        if len(tops) > 1:
            yield Pupil(entry, (runs(entry, tops[1] - 0.1),), tops[1])


SETS = {"people": people, "mirrored": people, "others": others, "choruses": choruses}


def mirrored(shape: TempoShape) -> TempoShape:
    """The shape of someone who does the opposite."""
    return replace(shape, stretch=tuple(-much for much in shape.stretch))


@dataclass
class Held:
    """Beats of a row: which were held, without and with earlier takes, and which have no melody note."""

    pairs: list[tuple[bool, bool]]
    silent: list[tuple[bool, bool]]
    uneven: list[tuple[float, float]]


def followed(pupil: Pupil, shape: TempoShape | None) -> tuple[list[bool], float]:
    """Which beats were held, and how unevenly they were sounded."""
    player = player_of(pupil.entry)
    settings = replace(player.settings, shape=shape)
    reports = replay(player.chart, player.heard, settings, until=player.until).reports
    late = scores.errors(player.truth, [report for report in reports if isinstance(report, Beat)])
    return scores.held(late), scores.unsteady(player.truth, late) or 0.0


def measure(pupil: Pupil, opposite: bool, into: Held) -> str:
    """Follow one player without and with earlier takes; a line about it."""
    player = player_of(pupil.entry)
    form = player.chart.unfold()
    shape = shape_of(form, pupil.earlier)
    if shape is not None and opposite:
        shape = mirrored(shape)
    (without, uneven), (after, uneven_after) = followed(pupil, None), followed(pupil, shape)
    struck = {round(float(note.beat), 3) for note in form.melody}
    pairs = [
        (a, b, round(beat.chart_beat, 3) in struck)
        for a, b, beat in zip(without, after, player.truth, strict=True)
        if beat.seconds >= pupil.since
    ]
    into.pairs += [(a, b) for a, b, _ in pairs]
    into.silent += [(a, b) for a, b, note in pairs if not note]
    into.uneven.append((uneven, uneven_after))
    takes = shape.takes if shape else 0
    return f"  {pupil.entry.name:28} {takes:3} takes  {shown([(a, b) for a, b, _ in pairs])}"


def shown(pairs: Sequence[tuple[bool, bool]]) -> str:
    """Shares held without and with, and the difference in points."""
    if not pairs:
        return f"{'-':>20}"
    without, after = (statistics.fmean(pair[n] for pair in pairs) for n in (0, 1))
    return f"{without:6.3f} {after:6.3f} {100 * (after - without):+6.1f}"


def main() -> None:
    """Measure and print a table."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("data", type=Path)
    words.add_argument("--set", default="people", choices=tuple(SETS))
    words.add_argument("--kind")
    words.add_argument("--last", type=int, default=0, help="earlier takes at most")
    words.add_argument("--half", choices=("first", "second"))
    words.add_argument("--rows", action="store_true")
    asked = words.parse_args()
    rows: dict[str, list[Pupil]] = defaultdict(list)
    for pupil in SETS[asked.set](asked.data):
        if asked.kind in (None, pupil.entry.row):
            rows[pupil.entry.row].append(pupil)
    table: dict[str, Held] = {}
    for row, pupils in rows.items():
        middle = (len(pupils) + 1) // 2
        chosen = {"first": pupils[:middle], "second": pupils[middle:]}.get(asked.half or "", pupils)
        table[row] = Held([], [], [])
        for pupil in chosen:
            some = replace(pupil, earlier=pupil.earlier[: asked.last]) if asked.last else pupil
            line = measure(some, asked.set == "mirrored", table[row])
            if asked.rows:
                print(line, flush=True)
    print(f"\n{'row':16} {'beats':>6} {'all beats':>20} {'':8} {'without a note':>20}   unsteady")
    for row, held in table.items():
        uneven, after = (statistics.fmean(pair[n] for pair in held.uneven) for n in (0, 1))
        print(
            f"{row:16} {len(held.pairs):6} {shown(held.pairs)} {len(held.silent):8} {shown(held.silent)}"
            f"   {uneven:.2f} {after:.2f}"
        )
    pairs = [pair for held in table.values() for pair in held.pairs]
    silent = [pair for held in table.values() for pair in held.silent]
    print(f"{'all':16} {len(pairs):6} {shown(pairs)} {len(silent):8} {shown(silent)}")


if __name__ == "__main__":
    main()
