"""How each tune and each passage stands, worked out from the records: what holds, what doesn't, and when it comes back.

A *passage* is bars drilled with the same parts. A day on which it was played **held** where a good round was about as
fast as the fastest before, **failed** where there were rounds and none such, and says nothing where one only went
slowly through it, and well. A good round over more bars counts for the passages within. A take of a tune counts as a
round over the whole form that nobody judged: it held where the player went through it without stopping.

When it comes back: within two days while it isn't up to tempo; then later each time that it held, by so many times as
long as it had been away, so that practising the same every day doesn't put it off; after a day that failed the next
day, and after that a part of the former wait. (That practice spread over growing intervals is kept longer: Landauer &
Bjork, in Practical Aspects of Memory, 1978; Cepeda et al., Psychological Bulletin 132, 2006, on how the best gap grows
with the time it is to last; in musicians: Simmons, Journal of Research in Music Education 59, 2012. All from memory;
the numbers in ``repertoire.toml`` are our choice.)

It is learnt at a tempo after good rounds at that tempo, or faster, on three days.

Conventions: moments with their zone; a day is a day of practice in the zone of ``now``; tempo in quarters a minute;
bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, tzinfo

from companion.practice.records import RoundRecord, TakeRecord
from companion.preferences.repertoire import AgainRules, RepertoirePreferences

ANYWHERE = "anywhere"
"""The kind of drill whose rounds begin in a bar drawn by lot: they are no passage of their own."""


@dataclass(frozen=True)
class PassageStanding:
    """How a passage stands."""

    chart: str
    first: int
    last: int
    you: tuple[str, ...]
    days: int
    """On which it was played."""
    played: date
    """The last of them."""
    reached: float | None
    """Tempo of the fastest good round; of a tune never drilled whole, of the fastest time through without a stop."""
    learnt: float | None
    """The tempo at which it is learnt."""
    failed: bool
    """Whether the last day that said something was none that held."""
    why: str
    """What wasn't right in the last round that failed, on that day."""
    up_to_tempo: bool
    wait: float
    """Days from the day it was last played until it comes back."""
    due: date
    whole: bool = False
    """Whether it is the whole form."""

    @property
    def holds(self) -> bool:
        """Whether it is to be kept rather than mended."""
        return self.up_to_tempo and not self.failed

    def overdue(self, today: date) -> float:
        """How far beyond its day it is, as a share of its wait; below 0 before that day."""
        return (today - self.due).days / max(self.wait, 1.0)


@dataclass(frozen=True)
class TuneStanding:
    """How a tune stands."""

    chart: str
    title: str
    played: datetime
    """When it was last played."""
    takes: int
    rounds: int
    tempo: float | None
    """Its own."""
    through: float | None
    """Tempo of the fastest time through without a stop."""
    passages: tuple[PassageStanding, ...]
    by_bar: tuple[tuple[int, float], ...]
    """Bars with the tempo of the fastest good round that went over them."""
    you: tuple[str, ...]
    """The parts that the player mostly takes in it."""

    def due(self, today: date) -> list[PassageStanding]:
        """What of it is due."""
        return [passage for passage in self.passages if passage.due <= today]


def counts_for_the_tune(one: RoundRecord) -> bool:
    """Whether a round tells something of a passage of the tune: it was in its key, and over bars that were chosen."""
    return one.own_key and one.kind != ANYWHERE


def practice_day(moment: datetime, zone: tzinfo | None, begin: int) -> date:
    """The day of practice to which a moment belongs; it begins at an hour in the night."""
    return (moment.astimezone(zone) - timedelta(hours=begin)).date()


def standings(
    rounds: Iterable[RoundRecord], takes: Iterable[TakeRecord], now: datetime, rules: RepertoirePreferences
) -> list[TuneStanding]:
    """How every tune stands that was ever played, the latest first.

    Parameters
    ----------
    rounds, takes : iterable
        As the records have them; what lies after ``now`` counts as well (a clock may have been wrong).
    now : datetime
        With its zone, by which days are told.
    rules : RepertoirePreferences
    """
    by_chart: dict[str, tuple[list[RoundRecord], list[TakeRecord]]] = defaultdict(lambda: ([], []))
    for one in rounds:
        by_chart[one.chart][0].append(one)
    for take in takes:
        by_chart[take.chart][1].append(take)
    tunes = [_tune(chart, *found, now, rules) for chart, found in by_chart.items()]
    return sorted(tunes, key=lambda tune: tune.played, reverse=True)


def _tune(
    chart: str, rounds: list[RoundRecord], takes: list[TakeRecord], now: datetime, rules: RepertoirePreferences
) -> TuneStanding:
    both: list[RoundRecord | TakeRecord] = sorted([*rounds, *takes], key=_moment)
    latest = both[-1]
    own = [one for one in rounds if counts_for_the_tune(one)]
    by_bar: dict[int, float] = {}
    for one in own:
        if one.good:
            for bar in range(one.first, one.last + 1):
                by_bar[bar] = max(one.tempo, by_bar.get(bar, one.tempo))
    through = [_run_through(take) for take in takes if _is_through(take)]
    smooth = [run.tempo for run in through if run.good]
    tempo = next((one.tune_tempo for one in reversed(both) if one.tune_tempo), None)
    return TuneStanding(
        chart=chart,
        title=latest.title,
        played=_moment(latest),
        takes=len(takes),
        rounds=len(rounds),
        tempo=tempo,
        through=max(smooth, default=None),
        passages=tuple(_passages(chart, own, through, tempo, now.tzinfo, rules)),
        by_bar=tuple(sorted(by_bar.items())),
        you=_mostly(both),
    )


def _moment(one: RoundRecord | TakeRecord) -> datetime:
    return one.at if isinstance(one, RoundRecord) else one.started


def _mostly(played: Sequence[RoundRecord | TakeRecord]) -> tuple[str, ...]:
    """The parts that were taken most often; of several the latest."""
    often = Counter(one.you for one in reversed(played))
    return max(often, key=lambda you: often[you])


# What was played, day by day


@dataclass(frozen=True)
class _Attempt:
    """A round, or a time through the whole form."""

    at: datetime
    first: int
    last: int
    you: tuple[str, ...]
    tempo: float
    good: bool
    judged: bool
    why: str = ""


def _is_through(take: TakeRecord) -> bool:
    """Whether a take says something of the whole tune: it was gone through, and the companion didn't wait."""
    return take.choruses > 0 and take.bars > 0 and take.tempo is not None and take.time != "patient"


def _run_through(take: TakeRecord) -> _Attempt:
    assert take.tempo is not None
    times = {1: "once", 2: "twice"}.get(take.stops, f"{take.stops} times")
    return _Attempt(take.started, 1, take.bars, take.you, take.tempo, not take.stops, False, f"you stopped {times}")


@dataclass
class _Day:
    """What was played of a passage on one day."""

    good: float | None = None
    """Tempo of the fastest good round."""
    judged: float | None = None
    """The same of rounds that were judged."""
    bad: bool = False
    why: str = ""

    def take(self, attempt: _Attempt) -> None:
        """Add an attempt, in order of time."""
        if not attempt.good:
            self.bad, self.why = True, attempt.why
            return
        self.good = max(attempt.tempo, self.good or attempt.tempo)
        if attempt.judged:
            self.judged = max(attempt.tempo, self.judged or attempt.tempo)


@dataclass
class _Course:
    """A passage from day to day."""

    rules: RepertoirePreferences
    tempo: float | None
    """The tune's."""
    reached: float | None = None
    wait: float = 0.0
    """What it would be after a day that holds, at least."""
    failed: bool = False
    why: str = ""
    last: date | None = None
    held: bool = False
    """Whether it ever held."""
    tempi: list[float] = field(default_factory=list)
    """The fastest good round that was judged, by day."""

    def go_on(self, day: date, played: _Day) -> None:
        """To a day, in order."""
        again = self.rules.again
        if played.good is not None and (self.reached is None or played.good >= self.rules.held.near * self.reached):
            away = (day - self.last).days if self.last and self.held else 0
            self.reached = max(played.good, self.reached or played.good)
            longest = again.longest if self.up_to_tempo else again.working
            self.wait = min(max(again.first, self.wait, away * again.stretch), longest)
            self.failed, self.why, self.held = False, "", True
        elif played.bad:
            self.wait = max(again.first, self.wait * (1.0 if self.failed else again.fall))
            self.failed, self.why = True, played.why
        if played.judged is not None:
            self.tempi.append(played.judged)
        self.last = day

    @property
    def up_to_tempo(self) -> bool:
        """Whether it was ever played well about as fast as the tune goes."""
        slow = self.rules.held.slow
        return self.reached is not None and self.reached >= slow * (self.tempo or self.reached)

    def learnt(self) -> float | None:
        """The tempo at which there were good rounds on enough days."""
        days = self.rules.held.learnt
        return sorted(self.tempi, reverse=True)[days - 1] if len(self.tempi) >= days else None


def _passages(
    chart: str,
    rounds: Sequence[RoundRecord],
    through: Sequence[_Attempt],
    tempo: float | None,
    zone: tzinfo | None,
    rules: RepertoirePreferences,
) -> list[PassageStanding]:
    drilled = [_Attempt(one.at, one.first, one.last, one.you, one.tempo, one.good, True, one.why) for one in rounds]
    attempts = sorted([*drilled, *through], key=lambda one: one.at)
    keys = dict.fromkeys((one.first, one.last, one.you) for one in attempts)
    whole = max((one.last for one in through), default=0)
    found = []
    for first, last, you in keys:
        course = _Course(rules, tempo)
        days: dict[date, _Day] = defaultdict(_Day)
        for one in attempts:
            same = (one.first, one.last) == (first, last)
            within = one.good and one.judged and one.first <= first and last <= one.last
            if one.you == you and (same or within):
                days[practice_day(one.at, zone, rules.days.begin)].take(one)
        for day, played in sorted(days.items()):
            course.go_on(day, played)
        is_whole = (first, last) == (1, whole)
        found.append(_standing(chart, (first, last, you), course, len(days), whole=is_whole))
    return sorted(found, key=lambda passage: (passage.first, passage.last, passage.you))


def _standing(
    chart: str, key: tuple[int, int, tuple[str, ...]], course: _Course, days: int, *, whole: bool
) -> PassageStanding:
    assert course.last is not None
    rules = course.rules
    wait = until_again(course.wait, rules.again, failed=course.failed or not course.held)
    first, last, you = key
    return PassageStanding(
        chart=chart,
        first=first,
        last=last,
        you=you,
        days=days,
        played=course.last,
        reached=course.reached,
        learnt=course.learnt(),
        failed=course.failed,
        why=course.why,
        up_to_tempo=course.up_to_tempo,
        wait=wait,
        due=course.last + timedelta(days=round(wait)),
        whole=whole,
    )


def until_again(wait: float, rules: AgainRules, *, failed: bool) -> float:
    """Days until a passage comes back: what failed comes back soon, whatever it is worth once it holds again."""
    return rules.first if failed else max(wait, rules.first)
