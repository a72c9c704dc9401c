"""Slips that recur: what the reviews of several takes of a tune found at the same place.

The same place is the same written note, whether it was left out or played wrong; a key too many of the same name in the
same bar; and for everything else the same kind of finding in the same bar. Takes are held against each other where they
went over the same form and melody, in whatever key, with the same parts of the player's.

A slip *recurs* where enough takes have it (``[recurring]`` of ``review.toml``), and where that is more than chance: by
how often the player slips so at all other places, the binomial distribution says how likely as many slips at one place
are; times the number of places there are, that is how many would show it without a reason (the union bound).

Conventions: bars of the form, 1 = its first full bar, 0 = a pickup; chart beats in quarters.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from companion.chart.model import Form
from companion.practice.findings import Finding, Recurrence, place_words
from companion.practice.records import BarRecord, SlipRecord, TakeRecord
from companion.preferences.review import RecurringRules

SlipPlace = tuple[str, float, int]
"""Where a slip is: its group, its chart beat or bar, and a note's degree (else -1)."""
TakePass = tuple[str, int]
"""One time through, of a take: its folder's name, and which."""
NOTE = "note"
"""The group of whatever becomes of a written note."""
LATELY = 3
"""Takes, the latest, by which it is told whether a slip is still made."""
TREND = 0.1
"""Probability with which takes in any order would look as much like a slip that gets rarer, or the contrary."""
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
ORDINALS = ("", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth",
            "eleventh", "twelfth")  # fmt: skip


@dataclass(frozen=True)
class RecurringSlip:
    """A slip that was made at one place in several takes."""

    place: SlipPlace
    what: str
    """The kind of finding, the last time."""
    bar: int
    last: int
    text: str
    """As it was said the last time, without its bar."""
    made: tuple[bool, ...]
    """Whether each take that went over the place has it, the latest last."""
    same: bool
    """Whether it was of one kind each time."""
    you: tuple[str, ...]
    at: datetime
    """When the last of these takes began."""

    @property
    def times(self) -> int:
        """Takes that have it."""
        return sum(self.made)

    @property
    def takes(self) -> int:
        """Takes that went over the place."""
        return len(self.made)

    @property
    def lately(self) -> float:
        """The share of the last few takes that have it, 0-1."""
        return sum(self.made[-LATELY:]) / len(self.made[-LATELY:])

    @property
    def words(self) -> str:
        """What it is, with its bar."""
        last = self.last if self.last > self.bar else None
        return f"{place_words(self.bar, last)}: {self.text}"


def slips_of(folder: str, form: Form, findings: Iterable[Finding]) -> Iterable[SlipRecord]:
    """What is recorded of the findings of a take."""
    for one in findings:
        degree = None if one.midi is None else (one.midi - 7 * form.fifths) % 12
        beat = None if one.beat is None else round(one.beat, 3)
        yield SlipRecord(folder, one.bar, one.last or one.bar, one.chorus, one.what, beat, degree, one.text)


def slip_places(slip: SlipRecord) -> list[SlipPlace]:
    """Where a slip is; one that goes on over several bars is in each of them."""
    if slip.degree is not None and slip.beat is not None:
        if slip.what in ("wrong-note", "missed-note"):
            return [(NOTE, slip.beat, slip.degree)]
        return [(slip.what, float(slip.bar), slip.degree)]
    return [(slip.what, float(bar), -1) for bar in range(slip.bar, slip.last + 1)]


def recurring_slips(
    takes: Sequence[TakeRecord],
    bars: Sequence[BarRecord],
    slips: Sequence[SlipRecord],
    rules: RecurringRules,
    *,
    now: str | None = None,
) -> list[RecurringSlip]:
    """The slips that recur, in order of their bars.

    Parameters
    ----------
    takes : sequence of TakeRecord
        Takes of one tune with the same parts, the latest last; of many the latest count.
    bars, slips : sequence
        What is recorded of them, and maybe of others.
    rules : RecurringRules
    now : str, optional
        The folder of the take that is reviewed: so many takes beside it must have a slip.
    """
    window = [take.folder for take in takes[-rules.takes :]] if rules.takes else []
    went: defaultdict[int, set[TakePass]] = defaultdict(set)
    asked = 0
    for one in bars:
        if one.take in window:
            went[one.bar].add((one.take, one.chorus))
            asked += one.right + one.wrong + one.missing
    found: defaultdict[SlipPlace, dict[TakePass, SlipRecord]] = defaultdict(dict)
    for slip in slips:
        if slip.take in window:
            for place in slip_places(slip):
                found[place][slip.take, slip.chorus] = slip
    chance = _Chance(went, asked, found)
    kept = []
    for place, by_time in found.items():
        latest = next(reversed(by_time.values()))
        bar = latest.bar if place[0] == NOTE else int(place[1])
        have = {take for take, _ in by_time}
        over = {take for take, _ in (*went[bar], *by_time)}
        enough = len(have - {now}) >= rules.earlier
        if enough and chance.expected(place, went[bar] | set(by_time)) <= rules.by_chance:
            made = tuple(take in have for take in window if take in over)
            same = len({slip.what for slip in by_time.values()}) == 1
            text = latest.text.partition(": ")[2] or latest.text
            kept.append(RecurringSlip(place, latest.what, bar, bar, text, made, same, takes[-1].you, takes[-1].started))
    return list(_joined(sorted(kept, key=lambda one: (one.what if one.place[2] < 0 else "", one.bar, one.place[1]))))


class _Chance:
    """How many places would show as many slips by chance."""

    def __init__(
        self, went: Mapping[int, set[TakePass]], asked: int, found: Mapping[SlipPlace, Mapping[TakePass, SlipRecord]]
    ) -> None:
        self._found = found
        self._bars = len(went)
        self._passes = sum(map(len, went.values()))
        self._asked = asked
        each = {(place[0], slip) for place, by_time in found.items() for slip in by_time.values()}
        self._slips = Counter(group for group, _ in each)

    def expected(self, place: SlipPlace, times: set[TakePass]) -> float:
        """As many of so many times through."""
        many, slips = len(times), len(self._found[place])
        all_ = max(self._asked if place[0] == NOTE else self._passes, many)
        places = all_ * self._bars / max(1, self._passes)
        elsewhere = (self._slips[place[0]] - slips + 0.5) / (all_ - many + 1)
        return places * _as_many(many, slips, min(elsewhere, 1.0))


def _as_many(many: int, least: int, chance: float) -> float:
    """The probability of at least so many of many, each with a chance."""
    return sum(math.comb(many, k) * chance**k * (1 - chance) ** (many - k) for k in range(least, many + 1))


def _joined(slips: Iterable[RecurringSlip]) -> Iterable[RecurringSlip]:
    """Bars that follow each other with the same slip in the same takes, as one; in order of bars."""
    joined: list[RecurringSlip] = []
    for one in slips:
        before = joined[-1] if joined else None
        if before and one.place[2] < 0 and _goes_on(before) == _goes_on(one) and before.last + 1 == one.bar:
            joined[-1] = replace(before, last=one.bar)
        else:
            joined.append(one)
    return sorted(joined, key=lambda one: (one.bar, one.place[1]))


def _goes_on(slip: RecurringSlip) -> tuple[object, ...]:
    """What two bars have in common that are one slip's."""
    return slip.what, slip.made, slip.text


def with_recurrences(
    findings: Sequence[Finding], slips: Iterable[SlipRecord], recurring: Sequence[RecurringSlip]
) -> list[Finding]:
    """Findings, each with what is known of it from takes before; ``slips`` are the same findings, one by one."""
    found = []
    for finding, slip in zip(findings, slips, strict=True):
        here = [one for place in slip_places(slip) for one in recurring if _is_at(place, one) and one.made[-1]]
        most = max(here, key=lambda one: one.times, default=None)
        recurs = Recurrence(most.times, most.takes, most.same) if most else None
        found.append(replace(finding, recurs=recurs))
    return found


def _is_at(place: SlipPlace, slip: RecurringSlip) -> bool:
    """Whether a place is a slip's, which may go on over several bars."""
    if place[2] >= 0 or slip.place[2] >= 0:
        return place == slip.place
    return place[0] == slip.place[0] and slip.bar <= place[1] <= slip.last


# In words


def number_word(number: int) -> str:
    """A number as one says it.

    >>> number_word(4), number_word(20)
    ('four', '20')
    """
    return NUMBERS[number] if number < len(NUMBERS) else str(number)


def recurs_words(found: Recurrence) -> str:
    """That a finding isn't the first.

    >>> recurs_words(Recurrence(3, 4)), recurs_words(Recurrence(3, 3)), recurs_words(Recurrence(3, 5, same=False))
    ('the third time in four takes', 'in each of three takes', 'not right for the third time in five takes')
    """
    if found.same and found.times == found.takes:
        return f"in each of {number_word(found.takes)} takes"
    nth = ORDINALS[found.times] if found.times < len(ORDINALS) else f"{found.times}th"
    return f"{'the' if found.same else 'not right for the'} {nth} time in {number_word(found.takes)} takes"


def before_words(slip: RecurringSlip) -> str:
    """In how many takes a slip was made.

    >>> before_words(RecurringSlip(("swing", 5.0, -1), "swing", 5, 5, "", (True, False, True), True, (), datetime.min))
    'in two of three takes'
    """
    if all(slip.made):
        return f"in each of {number_word(slip.takes)} takes"
    return f"in {number_word(slip.times)} of {number_word(slip.takes)} takes"


def trend(made: Sequence[bool]) -> str:
    """Whether a slip gets rarer or more frequent, by the first half of the takes and the second; empty where that may
    be chance (Fisher's exact test: R. A. Fisher, J. Royal Statistical Society 85, 1922).

    >>> trend([True, True, True, False, False, False]), trend([True, False, True, False])
    ('getting rarer', '')
    """
    half = len(made) // 2
    early, late, all_ = sum(made[:half]), sum(made[len(made) - half :]), 2 * half
    both = early + late
    ways = math.comb(all_, both)

    def beyond(least: int) -> float:
        """So many of them in one half, by chance."""
        most = min(both, half)
        return sum(math.comb(half, k) * math.comb(half, both - k) for k in range(least, most + 1)) / ways

    if early > late and beyond(early) <= TREND:
        return "getting rarer"
    return "more often of late" if late > early and beyond(late) <= TREND else ""
