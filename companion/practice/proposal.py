"""What to drill where nothing was said: what was played worst in the last take of the tune, recurs through its takes,
and failed in drills before; else its beginning.

What a finding weighs is in ``review.toml``, what the past weighs in ``drills.toml``. Of the records those count that
are there: takes that were looked at bar by bar, and passages that failed on the last day that said something of them,
unless they are to come back later.

Conventions: bars of the form, 1 = its first full bar; days as days of practice.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from companion.chart.model import Form
from companion.errors import CompanionError
from companion.messages import TUNE_PARTS, Part
from companion.practice.findings import Finding
from companion.practice.history import WeakBar, weak_bars
from companion.practice.judged_bars import judge_takes
from companion.practice.records import Records
from companion.practice.recurring import RecurringSlip, before_words
from companion.practice.repertoire import PassageStanding, practice_day, standings
from companion.practice.review import take_review
from companion.practice.slips_before import recurring_in
from companion.preferences import preferences
from companion.preferences.drills import DrillPreferences, ProposalWeights
from companion.preferences.repertoire import RepertoirePreferences
from companion.preferences.review import ReviewPreferences
from companion.stage.take import Take, read_take
from companion.stage.take_files import takes_folder

PATIENCE = 4.0
"""Seconds for the takes that nobody has judged yet, the latest first; then it goes by those that are."""
LOOKED_AT = 20
"""Takes that are looked at for one of this tune, the latest first."""


@dataclass(frozen=True)
class Proposal:
    """What to drill."""

    bars: tuple[int, int]
    why: str
    you: frozenset[Part] | None = None
    """The player's parts in the take that tells it; None: as is usual."""


def beginning(form: Form) -> Proposal:
    """The first bars of a tune."""
    return Proposal((1, min(preferences(DrillPreferences).rounds.bars, len(form.bars))), "the beginning")


def proposed(
    form: Form,
    you: frozenset[Part] | None = None,
    data: Path | None = None,
    *,
    chart: str | None = None,
    now: datetime | None = None,
) -> Proposal:
    """The bars to begin with.

    Parameters
    ----------
    form : Form
    you : frozenset of str, optional
        The player's parts; where they played others, that tells nothing.
    data : path, optional
        The folder for user data.
    chart : str, optional
        The word under which the tune is recorded; without it records tell nothing.
    now : datetime, optional
        With its zone; this moment unless given.
    """
    rules = preferences(DrillPreferences)
    many = min(rules.rounds.bars, len(form.bars))
    take = latest_take(form, you, data)
    faults = faults_by_bar(take) if take else {}
    yours = you or (take.rehearsed()[1].you if take else None)
    before = _recorded(chart, yours, take, data, now or datetime.now().astimezone(), rules) if chart else Recorded()
    past = before.by_bar(form, many, rules.proposal, preferences(ReviewPreferences))
    found = worst_bars(form, added(faults, past), many, rules.proposal.least)
    if found is None:
        return beginning(form)
    reasons = []
    if take and any(faults.get(bar) for bar in range(found[0], found[1] + 1)):
        reasons.append(f"played worst in your take of {take.started:%d %B, %H:%M}")
    reasons += [f"{slip.words} {before_words(slip)}" for slip in before.slips_in(found)[:1]]
    if (failed := before.failed_in(found)) is not None:
        reasons.append(f"failed when you drilled {'it' if reasons else 'bars here'} on {failed.played:%d %B}")
    who = yours or (failed and frozenset(part for part in TUNE_PARTS if part in failed.you)) or None
    return Proposal(found, "; ".join(reasons) or "a weak place in your takes before", who)


@dataclass(frozen=True)
class Recorded:
    """What the records hold against the bars of a tune."""

    failed: tuple[PassageStanding, ...] = ()
    """Passages that failed when they were last drilled, and are due soon."""
    weak: tuple[WeakBar, ...] = ()
    """Of takes before the last."""
    slips: tuple[RecurringSlip, ...] = ()
    """Those that recur, and were made in one of the last takes."""

    def by_bar(self, form: Form, many: int, weights: ProposalWeights, review: ReviewPreferences) -> Mapping[int, float]:
        """How much that weighs in each bar; a passage's weight is that of so many bars of it, or of all where it has
        fewer. A slip that recurs weighs the more, the more of the last takes have it."""
        found: defaultdict[int, float] = defaultdict(float)
        for one in self.weak:
            found[one.bar] += weights.before * one.faults
        for slip in self.slips:
            for bar in range(slip.bar, slip.last + 1):
                found[max(bar, 1)] += review.recurring.weight * review.weights[slip.what] * slip.lately
        for passage in self.failed:
            last = min(passage.last, len(form.bars))
            for bar in range(passage.first, last + 1):
                found[bar] += weights.failed / min(last - passage.first + 1, many)
        return found

    def slips_in(self, bars: tuple[int, int]) -> list[RecurringSlip]:
        """The slips that recur in some bars, those of the most takes first."""
        here = [one for one in self.slips if one.bar <= bars[1] and max(one.last, 1) >= bars[0]]
        return sorted(here, key=lambda one: -one.times)

    def failed_in(self, bars: tuple[int, int]) -> PassageStanding | None:
        """A passage with some of the bars that failed, the latest."""
        touched = [one for one in self.failed if one.first <= bars[1] and one.last >= bars[0]]
        return max(touched, key=lambda one: one.played, default=None)


def _recorded(
    chart: str,
    you: frozenset[Part] | None,
    take: Take | None,
    data: Path | None,
    now: datetime,
    rules: DrillPreferences,
) -> Recorded:
    """What the records hold against the bars of a tune; nothing where they can't be read."""
    repertoire = preferences(RepertoirePreferences)
    try:
        with Records(data) as records:
            judge_takes(records, data, chart=chart, patience=PATIENCE)
            rounds, takes, bars = records.rounds(chart), records.takes(chart), records.bars(chart)
            slips = recurring_in(records, chart, preferences(ReviewPreferences).recurring)
    except CompanionError:
        return Recorded()
    if not rounds and not takes:
        return Recorded()
    (tune,) = standings(rounds, takes, now, repertoire)
    until = practice_day(now, now.tzinfo, repertoire.days.begin) + timedelta(days=rules.proposal.soon)
    wanted = None if you is None else tuple(sorted(you))
    failed = [
        one for one in tune.passages if one.failed and not one.whole and one.due <= until and wanted in (None, one.you)
    ]
    earlier = [
        one.folder
        for one in takes
        if wanted in (None, one.you)
        and any(bar.take == one.folder for bar in bars)
        and not (take and one.folder == take.folder.name)
    ]
    last = set(earlier[-rules.proposal.takes :] if rules.proposal.takes else ())
    weak = weak_bars(bar for bar in bars if bar.take in last)
    return Recorded(tuple(failed), tuple(weak), tuple(one for one in slips if one.lately and wanted in (None, one.you)))


def added(*weights: Mapping[int, float]) -> Mapping[int, float]:
    """Weights by bar, together."""
    found: defaultdict[int, float] = defaultdict(float)
    for one in weights:
        for bar, weight in one.items():
            found[bar] += weight
    return found


def latest_take(form: Form, you: frozenset[Part] | None = None, data: Path | None = None) -> Take | None:
    """The latest take of a tune, with some parts of the player's; None where there is none that can be read."""
    folder = takes_folder(data)
    if not folder.is_dir():
        return None
    for place in sorted(folder.iterdir(), reverse=True)[:LOOKED_AT]:
        with suppress(CompanionError, OSError):
            take = read_take(place)
            over, settings = take.rehearsed()
            tune = over.unfold()
            same = tune.bars == form.bars and tune.melody == form.melody and not take.rounds
            if same and (you is None or settings.you == you) and "solo" not in settings.you:
                return take
    return None


def faults_by_bar(take: Take) -> Mapping[int, float]:
    """What the findings of a take weigh in each bar of the form, through all its choruses; empty where there are none.

    Raises
    ------
    InputError
        The take is damaged.
    """
    return findings_by_bar(take_review(take).findings)


def weight_of(finding: Finding, rules: ReviewPreferences) -> float:
    """What a finding weighs; more where it recurs."""
    return rules.weights[finding.what] * (rules.recurring.weight if finding.recurs else 1.0)


def findings_by_bar(findings: Iterable[Finding]) -> Mapping[int, float]:
    """What findings weigh in each bar; a pickup's weigh in the first."""
    rules = preferences(ReviewPreferences)
    found: defaultdict[int, float] = defaultdict(float)
    for one in findings:
        for bar in range(one.bar, (one.last or one.bar) + 1):
            found[max(bar, 1)] += weight_of(one, rules)
    return {bar: weight for bar, weight in found.items() if weight}


def worst_bars(form: Form, faults: Mapping[int, float], many: int, least: float) -> tuple[int, int] | None:
    """The row of so many bars with the most weight, the earliest of several; None where none has at least so much."""
    firsts = range(1, len(form.bars) - many + 2)
    weights = {first: sum(faults.get(bar, 0.0) for bar in range(first, first + many)) for first in firsts}
    worst = max(firsts, key=lambda first: weights[first])
    return (worst, worst + many - 1) if weights[worst] >= least else None
