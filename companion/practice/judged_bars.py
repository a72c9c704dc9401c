"""What became of the bars of takes, and which slips were found in them, put into the records when somebody asks:
judging a take takes a moment, and at the end of playing nobody waits for it.

A take of a drill has its rounds; of what is improvised nothing is said bar by bar. Both stay as they are, and so does a
take whose chart or notes can't be read.

Conventions: bars of the form, 1 = its first full bar, 0 = a pickup; deviations in milliseconds, late is positive.
"""

from __future__ import annotations

import statistics
import time
from collections import Counter
from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path

from companion.chart.model import Form
from companion.errors import CompanionError
from companion.messages import NoteKind
from companion.practice.earlier import tune_mark
from companion.practice.records import UNKNOWN_TUNE, BarRecord, Records, SlipRecord
from companion.practice.recurring import slips_of
from companion.practice.review import Review, ReviewedBar, take_review
from companion.stage.take import Take, read_take
from companion.stage.take_files import takes_folder


def judge_takes(
    records: Records,
    data: Path | None = None,
    *,
    chart: str | None = None,
    only: Collection[str] | None = None,
    patience: float | None = None,
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
    only : collection of str, optional
        Folders of takes; otherwise all.
    patience : float, optional
        Seconds after which no other is begun.
    progress : callable, optional
        Told the share done, 0-1.

    Raises
    ------
    RecordsError
        Nothing can be written now.
    """
    waiting, said = [folder for folder in records.unjudged(chart) if only is None or folder in only], 0
    begun = time.monotonic()
    for number, folder in enumerate(waiting):
        if patience is not None and time.monotonic() - begun > patience:
            break
        progress(number / len(waiting))
        place = takes_folder(data) / folder
        if not place.is_dir():
            continue  # its takes may lie on a disk that isn't there now
        judged = _judged(place)
        records.add_bars(folder, judged.bars, judged.slips, judged.tune)
        said += bool(judged.bars)
    return said


@dataclass(frozen=True)
class JudgedTake:
    """What is recorded of a take when it is judged."""

    bars: tuple[BarRecord, ...] = ()
    slips: tuple[SlipRecord, ...] = ()
    tune: str = UNKNOWN_TUNE


def _judged(folder: Path) -> JudgedTake:
    try:
        return judged_take(read_take(folder))
    except CompanionError:
        return JudgedTake()


def judged_take(take: Take) -> JudgedTake:
    """The bars of a take and its slips; nothing of a drill's and of what is improvised.

    Raises
    ------
    InputError
        The take is damaged.
    """
    chart, settings = take.rehearsed()
    if take.rounds or "solo" in settings.you:
        return JudgedTake()
    return what_is_kept(take.folder.name, chart.unfold(), take_review(take))


def what_is_kept(folder: str, form: Form, found: Review) -> JudgedTake:
    """What is recorded of a take's review."""
    bars = [bar_record(folder, bar) for bar in found.bars if bar.notes]
    return JudgedTake(tuple(bars), tuple(slips_of(folder, form, found.findings)), tune_mark(form))


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
