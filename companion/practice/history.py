"""How it went with a tune over the weeks: the tempo reached by section and part, clean bars, and the weakest ones.

All of it is worked out from the records. A bar is *clean* when nothing in it was wrong, missing or too many. A section
has *reached* the tempo of its slowest bar, and each bar that of the fastest good round over it; or, where that was
faster, the tempo at which a take went through the section with every bar clean. It is *learnt* at the tempo at which
each of its bars lies in a passage that is learnt (:mod:`companion.practice.repertoire`). A week begins on Monday.

Conventions: tempo in quarters a minute; bars of the form, 1 = its first full bar; days as days of practice.
"""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from companion.chart.model import Form
from companion.practice.records import BarRecord, RoundRecord, TakeRecord
from companion.practice.recurring import RecurringSlip
from companion.practice.repertoire import PassageStanding, TuneStanding, counts_for_the_tune, practice_day, standings
from companion.preferences.repertoire import RepertoirePreferences

Parts = tuple[str, ...]


@dataclass(frozen=True)
class SectionPass:
    """Once through a section in a take."""

    at: datetime
    """When the take began."""
    tempo: float
    """Median of its bars."""
    clean: bool


@dataclass(frozen=True)
class SectionProgress:
    """How far a section has come, with some parts."""

    name: str
    first: int
    last: int
    you: Parts
    reached: float | None
    """None while no good round went over some bar."""
    covered: int
    """Bars over which one went."""
    learnt: float | None
    rounds: int
    """That touched it."""
    good: int
    passes: tuple[SectionPass, ...]
    """Each time that a take went through all of it."""

    def touches(self, one: RoundRecord) -> bool:
        """Whether a round went over a bar of it."""
        return one.first <= self.last and one.last >= self.first


@dataclass(frozen=True)
class TempoBand:
    """Rounds at about one tempo."""

    low: int
    high: int
    rounds: int
    good: int


@dataclass(frozen=True)
class TakeClean:
    """How clean a take was."""

    take: TakeRecord
    clean: int
    """Bars, each time that one was played."""
    played: int
    bars: tuple[BarRecord, ...]


@dataclass(frozen=True)
class WeakBar:
    """A bar in which something went wrong."""

    bar: int
    faults: float
    """Notes wrong, missing or too many, each time that it was played."""
    times: int


@dataclass(frozen=True)
class Week:
    """A week in which the tune was played."""

    monday: date
    rounds: int
    good: int
    clean: int
    """Bars of its takes that were clean ..."""
    played: int
    """... of so many."""
    weak: tuple[WeakBar, ...]
    """Every bar with a fault, the weakest first."""
    clean_bars: tuple[int, ...]
    """Those that were clean each time."""
    tempi: tuple[float, ...]
    """Of its takes."""


@dataclass(frozen=True)
class TuneHistory:
    """How it went with a tune."""

    standing: TuneStanding
    days: tuple[date, ...]
    """On which it was played."""
    sections: tuple[SectionProgress, ...]
    bands: tuple[TempoBand, ...]
    rounds: tuple[RoundRecord, ...]
    """In its own key, and over a passage."""
    takes: tuple[TakeClean, ...]
    """Those that were judged bar by bar."""
    weeks: tuple[Week, ...]
    slips: tuple[RecurringSlip, ...] = ()
    """Those that recur, by parts and bars."""


BAND = 20
"""Quarters a minute that are told as one tempo."""


def tune_history(
    rounds: Sequence[RoundRecord],
    takes: Sequence[TakeRecord],
    bars: Sequence[BarRecord],
    form: Form | None,
    now: datetime,
    rules: RepertoirePreferences,
    slips: Sequence[RecurringSlip] = (),
) -> TuneHistory:
    """How it went with one tune.

    Parameters
    ----------
    rounds, takes, bars : sequence
        The tune's, in order of time; there is a round or a take.
    form : Form or None
        None where its chart isn't there any more: sections aren't told then.
    now : datetime
        With the zone by which days are told.
    rules : RepertoirePreferences
    slips : sequence of RecurringSlip
        Those of its takes that recur.
    """

    def day(moment: datetime) -> date:
        return practice_day(moment, now.tzinfo, rules.days.begin)

    (standing,) = standings(rounds, takes, now, rules)
    own = tuple(one for one in rounds if counts_for_the_tune(one))
    by_take: dict[str, list[BarRecord]] = defaultdict(list)
    for bar in bars:
        by_take[bar.take].append(bar)
    judged = tuple(_clean(take, by_take[take.folder]) for take in takes if by_take[take.folder])
    return TuneHistory(
        standing=standing,
        days=tuple(sorted({day(one.at) for one in rounds} | {day(take.started) for take in takes})),
        sections=tuple(_sections(form, own, judged, standing)) if form else (),
        bands=tuple(_bands(own)),
        rounds=own,
        takes=judged,
        weeks=tuple(_weeks(own, judged, day)),
        slips=tuple(slips),
    )


def _clean(take: TakeRecord, bars: Sequence[BarRecord]) -> TakeClean:
    return TakeClean(take, sum(not bar.faults for bar in bars), len(bars), tuple(bars))


def _sections(
    form: Form, rounds: Sequence[RoundRecord], takes: Sequence[TakeClean], standing: TuneStanding
) -> Iterable[SectionProgress]:
    """Every section with every choice of parts with which it was drilled or played."""
    for you in dict.fromkeys([*(one.you for one in rounds), *(one.take.you for one in takes)]):
        drilled = [one for one in rounds if one.you == you]
        played = [one for one in takes if one.take.you == you]
        learnt = [passage for passage in standing.passages if passage.you == you and passage.learnt]
        for place in form.sections:
            bars = [n for n, start in enumerate(form.bars, 1) if place.start <= start < place.end]
            touched = [one for one in drilled if one.first <= bars[-1] and one.last >= bars[0]]
            passes = tuple(_passes(played, bars))
            if not touched and not passes:
                continue
            best = [_fastest(touched, bar) for bar in bars]
            clean = max((one.tempo for one in passes if one.clean), default=0.0)
            yield SectionProgress(
                name=place.name,
                first=bars[0],
                last=bars[-1],
                you=you,
                reached=max(min(best), clean) or None,
                covered=sum(map(bool, best)),
                learnt=min(_learnt(learnt, bar) for bar in bars) or None,
                rounds=len(touched),
                good=sum(one.good for one in touched),
                passes=passes,
            )


def _learnt(passages: Iterable[PassageStanding], bar: int) -> float:
    """The tempo at which a bar is learnt; 0 where it isn't."""
    return max((p.learnt or 0.0 for p in passages if p.first <= bar <= p.last), default=0.0)


def _passes(takes: Sequence[TakeClean], bars: Collection[int]) -> Iterable[SectionPass]:
    """Each time that takes went through all bars of a section that have notes, in order of time."""
    asked = {bar.bar for one in takes for bar in one.bars if bar.bar in bars}
    for one in takes:
        choruses: dict[int, list[BarRecord]] = defaultdict(list)
        for bar in one.bars:
            if bar.bar in bars:
                choruses[bar.chorus].append(bar)
        for _, played in sorted(choruses.items()):
            if asked <= {bar.bar for bar in played}:
                clean = not any(bar.faults for bar in played)
                yield SectionPass(one.take.started, round(statistics.median(bar.tempo for bar in played)), clean)


def _fastest(rounds: Iterable[RoundRecord], bar: int) -> float:
    """Tempo of the fastest good round over a bar; 0 where there was none."""
    return max((one.tempo for one in rounds if one.good and one.first <= bar <= one.last), default=0.0)


def _bands(rounds: Sequence[RoundRecord]) -> Iterable[TempoBand]:
    found: dict[int, list[bool]] = defaultdict(list)
    for one in rounds:
        found[int(one.tempo // BAND) * BAND].append(one.good)
    for low, good in sorted(found.items()):
        yield TempoBand(low, low + BAND - 1, len(good), sum(good))


def monday(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def _weeks(
    rounds: Sequence[RoundRecord], takes: Sequence[TakeClean], day: Callable[[datetime], date]
) -> Iterable[Week]:
    begun = {monday(day(one.at)) for one in rounds} | {monday(day(one.take.started)) for one in takes}
    for week in sorted(begun):
        drilled = [one for one in rounds if monday(day(one.at)) == week]
        played = [one for one in takes if monday(day(one.take.started)) == week]
        bars = [bar for one in played for bar in one.bars]
        weak = weak_bars(bars)
        yield Week(
            monday=week,
            rounds=len(drilled),
            good=sum(one.good for one in drilled),
            clean=sum(one.clean for one in played),
            played=sum(one.played for one in played),
            weak=tuple(weak),
            clean_bars=tuple(sorted({bar.bar for bar in bars} - {one.bar for one in weak})),
            tempi=tuple(one.take.tempo for one in played if one.take.tempo),
        )


def weak_bars(bars: Iterable[BarRecord]) -> list[WeakBar]:
    """The bars in which something went wrong, those with the most faults each time first."""
    found: dict[int, list[int]] = defaultdict(list)
    for one in bars:
        found[one.bar].append(one.faults)
    weak = [WeakBar(bar, sum(faults) / len(faults), len(faults)) for bar, faults in found.items() if any(faults)]
    return sorted(weak, key=lambda one: (-one.faults, one.bar))
