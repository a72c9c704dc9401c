"""What became of the bars of takes, put into the records when somebody asks: judging a take takes a moment, and at the
end of playing nobody waits for it.

A take of a drill has its rounds; of what is improvised nothing is said bar by bar. Both stay as they are, and so does a
take whose chart or notes can't be read.

Conventions: bars of the form, 1 = its first full bar, 0 = a pickup; deviations in milliseconds, late is positive.
"""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from companion.errors import CompanionError
from companion.messages import NoteKind
from companion.practice.records import BarRecord, Records
from companion.practice.review import ReviewedBar, take_review
from companion.stage.take import Take, read_take
from companion.stage.take_files import takes_folder


def judge_takes(
    records: Records,
    data: Path | None = None,
    *,
    chart: str | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> int:
    """Judge the takes in the records that nobody has judged; how many of them there was something to say of.

    Parameters
    ----------
    records : Records
    data : path, optional
        The folder for user data.
    chart : str, optional
        The word of the one whose takes are wanted; otherwise all.
    progress : callable, optional
        Told the share done, 0-1.

    Raises
    ------
    RecordsError
        Nothing can be written now.
    """
    waiting, said = records.unjudged(chart), 0
    for number, folder in enumerate(waiting):
        progress(number / len(waiting))
        place = takes_folder(data) / folder
        if not place.is_dir():
            continue  # its takes may lie on a disk that isn't there now
        bars = _judged(place)
        records.add_bars(folder, bars)
        said += bool(bars)
    return said


def _judged(folder: Path) -> list[BarRecord]:
    try:
        return bars_of(read_take(folder))
    except CompanionError:
        return []


def bars_of(take: Take) -> list[BarRecord]:
    """The bars of a take, judged; none of a drill's and of what is improvised.

    Raises
    ------
    InputError
        The take is damaged.
    """
    if take.rounds or "solo" in take.rehearsed()[1].you:
        return []
    found = take_review(take)
    return [bar_record(take.folder.name, bar) for bar in found.bars if bar.notes]


def bar_record(folder: str, bar: ReviewedBar) -> BarRecord:
    """What is recorded of a bar of a take."""
    counts = Counter[NoteKind](note.kind for note in bar.notes if note.kind == "right" or note.is_fault)
    off = bar.deviations
    return BarRecord(
        take=folder,
        bar=bar.bar,
        chorus=bar.chorus,
        right=counts["right"],
        wrong=counts["wrong"],
        missing=counts["missing"],
        extra=counts["extra"],
        tempo=round(bar.tempo, 1),
        deviation_ms=round(statistics.median(off), 1) if off else None,
        spread_ms=round(statistics.pstdev(off), 1) if len(off) > 1 else None,
    )
