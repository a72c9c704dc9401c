"""What to practise today: something to keep, something to mend, something new, with the command that starts each.

The time after the warm-up is shared out by ``repertoire.toml``, in short things rather than long ones (blocks that
alternate are kept better than the same blocks one after the other: Carter & Grahn, Frontiers in Psychology 7, 2016, on
clarinettists; from memory). What there isn't gives its time to the others. A pause comes between two things where
otherwise more than the minutes of ``care.toml`` would be played without one.

Conventions: minutes; tempo in quarters a minute; bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from math import ceil
from typing import Literal

from companion.chart.model import Chart
from companion.practice.recurring import RecurringSlip, before_words
from companion.practice.repertoire import PassageStanding, TuneStanding, practice_day
from companion.preferences.care import PauseRules
from companion.preferences.drills import DrillPreferences
from companion.preferences.repertoire import ProposalRules, RepertoirePreferences

Purpose = Literal["warm up", "keep", "mend", "new", "pause"]

KEEP_FROM, MEND_FROM, NEARER_FROM = 0.85, 0.7, 0.85
"""Where a ladder begins, as a share of the tempo reached: of what holds, of what failed, of what isn't up to tempo."""
FARTHER = 1.1
"""How far beyond the tempo reached a ladder leads, where the passage isn't up to tempo."""
FIRST_TO_GO = ("new", "keep", "mend")
"""Where there is little time."""
COUNT_IN = "2"
"""Bars of the count-in for a whole tune."""
STILL_MADE = 0.5
"""Share of a tune's last takes that have a slip from which it is worth a drill of its own."""
MONTH = 30
SLOWEST = 20.0
"""Quarters a minute below which no ladder begins."""


@dataclass(frozen=True)
class PlanItem:
    """One thing to do."""

    purpose: Purpose
    minutes: int
    what: str
    """The tune and its bars."""
    why: str = ""
    command: tuple[str, ...] = ()
    """The words after ``companion``; none for a pause."""


@dataclass(frozen=True)
class Stand:
    """What is on the stand: how tunes stand, and the charts that could be played."""

    tunes: Sequence[TuneStanding]
    charts: Mapping[str, Chart]
    """Those that there are, by the word for them; a tune whose chart has gone isn't proposed."""
    unplayed: Sequence[str]
    """Words for charts never played, the first to be begun first."""
    slips: Mapping[str, Sequence[RecurringSlip]] = field(default_factory=dict)
    """Those that recur in the takes of each tune."""


def day_plan(
    stand: Stand,
    now: datetime,
    rules: RepertoirePreferences,
    pause: PauseRules,
    drills: DrillPreferences,
    minutes: int | None = None,
) -> list[PlanItem]:
    """What to do today, in order.

    Parameters
    ----------
    stand : Stand
    now : datetime
        With its zone.
    rules, pause, drills
        The preferences that it goes by.
    minutes : int, optional
        In all, pauses included; by default those of the preferences.
    """
    whole = minutes or rules.proposal.minutes
    planner = _Planner(stand, now, rules, drills)
    pauses = 0
    while True:
        planned = list(_with_pauses(planner.items(whole - pauses * round(pause.lasts)), pause))
        needed = sum(item.purpose == "pause" for item in planned)
        if needed <= pauses:
            return planned
        pauses += 1  # one by one: with fewer minutes to play fewer pauses may do


def _with_pauses(items: Sequence[PlanItem], pause: PauseRules) -> Iterator[PlanItem]:
    since = 0
    for item in items:
        if pause.after and since and since + item.minutes > pause.after:
            yield PlanItem("pause", round(pause.lasts), "hands off the keys, and stand up")
            since = 0
        yield item
        since += item.minutes


class _Planner:
    """Chooses what to propose; as :func:`day_plan`."""

    def __init__(self, stand: Stand, now: datetime, rules: RepertoirePreferences, drills: DrillPreferences) -> None:
        self.stand, self.rules, self.now = stand, rules.proposal, now
        self.bars, self.begin = drills.rounds.bars, rules.days.begin
        self.today = practice_day(now, now.tzinfo, rules.days.begin)
        self.tunes = {tune.chart: tune for tune in stand.tunes if tune.chart in stand.charts}
        self.passages = [passage for tune in self.tunes.values() for passage in tune.passages]

    def items(self, minutes: int) -> list[PlanItem]:
        """Everything but the pauses."""
        warm_up = self._warm_up(min(self.rules.warm_up, minutes // 4))
        left = minutes - sum(item.minutes for item in warm_up)
        found = {"keep": self._to_keep(), "mend": self._to_mend(), "new": self._new()}
        return [*warm_up, *_shared_out(found, left, self.rules)]

    # Warming up

    def _warm_up(self, minutes: int) -> list[PlanItem]:
        if minutes < 1:
            return []
        known = sorted((p for p in self._drilled() if p.holds), key=lambda p: p.played, reverse=True)
        known = known or sorted(self._drilled(), key=lambda p: (p.failed, -p.days))
        if known:
            passage = known[0]
            command = self._drill(passage, "--kind", "warm-up")
            return [
                PlanItem("warm up", minutes, self._name(passage), "slower than you think", _timed(command, minutes))
            ]
        word = self._first_tune()
        if word is None:
            return []
        chart = self.stand.charts[word]
        tempo = f"{max(SLOWEST, round(chart.tempo / 2)):g}"
        command = ("play", word, *_yours(chart), "--time", "patient", "--tempo", tempo, "--choruses", "1")
        return [PlanItem("warm up", minutes, chart.title, "find your way through; it waits for you", command)]

    def _drilled(self) -> list[PassageStanding]:
        return [passage for passage in self.passages if not passage.whole]

    # What holds, and what doesn't

    def _to_keep(self) -> list[PlanItem]:
        """What is due, the longest overdue first; where nothing is, what will be first."""
        held = [passage for passage in self.passages if passage.holds and passage.played < self.today]
        held.sort(key=lambda passage: passage.overdue(self.today), reverse=True)
        due = [passage for passage in held if passage.due <= self.today]
        return [self._kept(passage) for passage in _apart(due or held[:1])]

    def _kept(self, passage: PassageStanding) -> PlanItem:
        why = f"held; last played {self._ago(passage)}"
        if passage.learnt:
            why = f"learnt at {passage.learnt:g}; last played {self._ago(passage)}"
        if passage.whole:
            tempo = self._tempo(passage)
            command = ("play", passage.chart, *_you(passage.you), "--tempo", f"{tempo:g}", "--count-in", COUNT_IN)
            return _to_do("keep", self._name(passage), why, command)
        goal = self._tempo(passage)
        command = self._drill(passage, *_from_to(KEEP_FROM * goal, goal))
        return _to_do("keep", self._name(passage), why, command)

    def _to_mend(self) -> list[PlanItem]:
        open_ = [p for p in self.passages if not p.holds and p.played < self.today]
        failed = sorted((p for p in open_ if p.failed), key=lambda p: p.overdue(self.today), reverse=True)
        slow = sorted((p for p in open_ if not p.failed), key=lambda p: p.overdue(self.today), reverse=True)
        return [*self._recurring(failed), *(self._mended(passage) for passage in _apart([*failed, *slow]))]

    def _recurring(self, failed: Sequence[PassageStanding]) -> list[PlanItem]:
        """For each tune the slip that most of its last takes have, where nothing else that failed or was drilled since
        then covers it."""
        items = []
        for chart, slips in self.stand.slips.items():
            tune = self.tunes.get(chart)
            open_ = [
                one for one in slips if one.lately >= STILL_MADE and not (tune and self._seen_to(one, tune, failed))
            ]
            if tune and open_:
                items.append(self._slip_mended(tune, max(open_, key=lambda one: (one.lately, one.times))))
        return items

    def _seen_to(self, slip: RecurringSlip, tune: TuneStanding, failed: Sequence[PassageStanding]) -> bool:
        """Whether a slip's bars are drilled anyway, or were drilled since the last take or on its day."""
        day = practice_day(slip.at, self.now.tzinfo, self.begin)
        over = [p for p in tune.passages if not p.whole and p.you == slip.you and p.first <= slip.bar <= p.last]
        return any(passage in failed or passage.played >= day for passage in over)

    def _slip_mended(self, tune: TuneStanding, slip: RecurringSlip) -> PlanItem:
        """A drill of the bars about a slip, none beyond the end of its section where they are as many as a passage."""
        chart = self.stand.charts[tune.chart]
        pieces = list(_pieces(chart, self.bars, ()))
        first, last = next((a, b) for a, b in pieces if a <= max(slip.bar, 1) <= b)
        goal = tune.tempo or chart.tempo
        begin = _from_to(MEND_FROM * goal, goal)
        command = ("drill", tune.chart, "--bars", _bars(first, last), *_you(slip.you), *begin)
        name = f"{tune.title}, {_bars_text(first, last)}"
        return _to_do("mend", name, f"{slip.words} {before_words(slip)}", command)

    def _mended(self, passage: PassageStanding) -> PlanItem:
        tempo, reached = self._tempo(passage), passage.reached
        if passage.failed:
            why = passage.why or "it didn't hold"
        else:
            why = f"{reached:g} of {tempo:g}"
        if reached is None:
            return _to_do("mend", self._name(passage), why, self._drill(passage, "--kind", "notes"))
        share, farther = (MEND_FROM, 1.0) if passage.failed else (NEARER_FROM, FARTHER)
        begin, goal = share * min(reached, tempo), min(farther * reached, tempo)
        return _to_do("mend", self._name(passage), why, self._drill(passage, *_from_to(begin, goal)))

    # Something new

    def _new(self) -> list[PlanItem]:
        if sum(not passage.holds for passage in self._drilled()) >= self.rules.open:
            return []
        found = [item for tune in self._in_work() for item in self._not_yet_drilled(tune.chart)]
        if not found and (word := self._first_tune()) is not None:
            found = self._not_yet_drilled(word)
        return found

    def _in_work(self) -> list[TuneStanding]:
        """Tunes drilled of late, the latest first."""
        recent = self.rules.months * MONTH
        return [tune for tune in self.tunes.values() if tune.rounds and (self.now - tune.played).days < recent]

    def _first_tune(self) -> str | None:
        """The tune to begin."""
        return next((word for word in self.stand.unplayed if word in self.stand.charts), None)

    def _not_yet_drilled(self, word: str) -> list[PlanItem]:
        """Passages of a tune over which no round went, none beyond the end of a section; the first of them first."""
        chart, tune = self.stand.charts[word], self.tunes.get(word)
        done = {bar for p in (tune.passages if tune else ()) if not p.whole for bar in range(p.first, p.last + 1)}
        you = _you(tune.you) if tune else _yours(chart)
        items = []
        begin = "the next bars" if tune and tune.rounds else "a new tune: the notes first, slowly"
        for first, last, together in _joined(list(_pieces(chart, self.bars, done))):
            command = ("drill", word, "--bars", _bars(first, last), *you, "--kind", "notes")
            why = "now together" if together else begin
            items.append(_to_do("new", f"{chart.title}, {_bars_text(first, last)}", why, command))
        return items

    # In words

    def _tempo(self, passage: PassageStanding) -> float:
        return self.tunes[passage.chart].tempo or passage.reached or self.stand.charts[passage.chart].tempo

    def _name(self, passage: PassageStanding) -> str:
        title = self.tunes[passage.chart].title
        return title if passage.whole else f"{title}, {_bars_text(passage.first, passage.last)}"

    def _ago(self, passage: PassageStanding) -> str:
        return days_ago((self.today - passage.played).days)

    def _drill(self, passage: PassageStanding, *more: str) -> tuple[str, ...]:
        return ("drill", passage.chart, "--bars", _bars(passage.first, passage.last), *_you(passage.you), *more)


def _to_do(purpose: Purpose, what: str, why: str, command: tuple[str, ...]) -> PlanItem:
    """A thing to do that has no minutes yet."""
    return PlanItem(purpose, 0, what, why, command)


def days_ago(days: int) -> str:
    """How long ago, in words.

    >>> days_ago(0), days_ago(1), days_ago(12), days_ago(40)
    ('today', 'yesterday', '12 days ago', '6 weeks ago')
    """
    if days < 2:
        return "yesterday" if days == 1 else "today"
    return f"{days} days ago" if days < 21 else f"{round(days / 7)} weeks ago"


def _shared_out(found: Mapping[str, Sequence[PlanItem]], minutes: int, rules: ProposalRules) -> Iterator[PlanItem]:
    """What was found, as much as there is time for, each with its minutes; first what is kept, last what is new."""
    for name, mine in _minutes(found, minutes, rules).items():
        many = min(len(found[name]), max(1, ceil(mine / rules.most)), max(1, mine // rules.least))
        for n, item in enumerate(found[name][:many]):
            each = mine // many + (n < mine % many)
            if each:
                timed = item.command if item.command[:1] == ("play",) else _timed(item.command, each)
                yield replace(item, minutes=each, command=timed)


def _minutes(found: Mapping[str, Sequence[PlanItem]], minutes: int, rules: ProposalRules) -> dict[str, int]:
    """How many of the minutes each purpose gets: by its share, and no more than it has things for.

    Where there is too little time for all of them, those with the least get none.
    """
    shares = {"keep": rules.keep, "mend": rules.mend, "new": 1 - rules.keep - rules.mend}
    most = {name: rules.most * len(things) for name, things in found.items() if things}
    while True:
        given = _filled({name: max(shares[name], 0.01) for name in most}, most, minutes)
        least = min(given, key=lambda name: (given[name], FIRST_TO_GO.index(name)), default=None)
        if least is None or given[least] >= rules.least or len(given) == 1:
            return given
        del most[least]


def _filled(shares: Mapping[str, float], most: Mapping[str, int], minutes: int) -> dict[str, int]:
    """Minutes shared out; what is too much for one goes to the others."""
    given = dict.fromkeys(shares, 0)
    left = min(minutes, sum(most.values()))
    while left > 0:
        open_ = {name: share for name, share in shares.items() if given[name] < most[name]}
        whole, to_share = sum(open_.values()), left
        for name, share in open_.items():
            more = min(max(1, round(to_share * share / whole)), most[name] - given[name], left)
            given[name], left = given[name] + more, left - more
    return given


def _apart(passages: Sequence[PassageStanding]) -> list[PassageStanding]:
    """Of passages that lie over each other with the same parts only the first."""
    chosen: list[PassageStanding] = []
    for passage in passages:
        if not any(
            other.chart == passage.chart
            and other.you == passage.you
            and other.first <= passage.last
            and passage.first <= other.last
            for other in chosen
        ):
            chosen.append(passage)
    return chosen


def _pieces(chart: Chart, many: int, done: Collection[int]) -> Iterator[tuple[int, int]]:
    """First and last bar of the pieces of a form that are still to be drilled, section by section."""
    form = chart.unfold()
    piece: list[int] = []
    for bar, beat in enumerate(form.bars, 1):
        new_section = bool(piece) and form.section_at(beat) != form.section_at(form.bars[bar - 2])
        if piece and (bar in done or new_section or len(piece) == many):
            yield piece[0], piece[-1]
            piece = []
        if bar not in done:
            piece.append(bar)
    if piece:
        yield piece[0], piece[-1]


def _joined(pieces: Sequence[tuple[int, int]]) -> Iterator[tuple[int, int, bool]]:
    """Pieces of a form, and after each second one both together, where they follow each other; whether it is both."""
    for n, (first, last) in enumerate(pieces):
        yield first, last, False
        if n % 2 and pieces[n - 1][1] + 1 == first:
            yield pieces[n - 1][0], last, True


def by_ease(charts: Mapping[str, Chart], own: Callable[[str], bool]) -> list[str]:
    """Words for charts, in the order in which to begin them: the player's own before others, few notes before many."""
    return sorted(charts, key=lambda word: (not own(word), len(charts[word].unfold().melody) or 9999, word))


def _from_to(begin: float, goal: float) -> tuple[str, ...]:
    return "--from", f"{max(SLOWEST, round(begin)):g}", "--to", f"{max(SLOWEST, round(goal)):g}"


def _timed(command: tuple[str, ...], minutes: int) -> tuple[str, ...]:
    return (*command, "--minutes", str(minutes))


def _bars(first: int, last: int) -> str:
    return f"{first}-{last}"


def _bars_text(first: int, last: int) -> str:
    return f"bar {first}" if first == last else f"bars {first}-{last}"


def _you(parts: Sequence[str]) -> tuple[str, ...]:
    return ("--you", ",".join(parts)) if parts and tuple(parts) != ("melody",) else ()


def _yours(chart: Chart) -> tuple[str, ...]:
    """What one plays of a chart at first: its melody, or the bass where it has none."""
    return () if any(section.melody for section in chart.sections) else ("--you", "bass")
