"""The review of a take in the light of the takes before it: which of its findings recur, and which slips are gone.

The takes before are judged where nobody did so yet, no more of them than are looked at. Where the records can't be read
or written, the review is as it was.

Conventions: bars of the form, 1 = its first full bar, 0 = a pickup.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import groupby
from pathlib import Path

from companion.errors import CompanionError
from companion.practice.judged_bars import judge_takes, what_is_kept
from companion.practice.records import Records
from companion.practice.recurring import RecurringSlip, recurring_slips, slips_of, with_recurrences
from companion.practice.review import Review
from companion.practice.taken_in import take_in
from companion.preferences import preferences
from companion.preferences.review import RecurringRules, ReviewPreferences
from companion.stage.take import Take

PATIENCE = 20.0
"""Seconds for takes that nobody has judged yet; whatever isn't judged by then is the next time's."""


def in_the_light_of_earlier(
    found: Review,
    take: Take,
    you: frozenset[str],
    data: Path | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> Review:
    """A review with what takes before it say of its findings.

    Parameters
    ----------
    found : Review
        Of the take.
    take : Take
    you : set of str
        The parts by which it was reviewed; where they aren't the take's own, nothing is compared.
    data : path, optional
        The folder for user data.
    progress : callable, optional
        Told the share done, 0-1.
    """
    chart, settings = take.rehearsed()
    if take.rounds or you != settings.you or "solo" in you or not found.bars:
        return found
    rules, form = preferences(ReviewPreferences).recurring, chart.unfold()
    folder = take.folder.name
    kept = what_is_kept(folder, form, found)
    try:
        with Records(data) as records:
            take_in(records, data)
            records.add_bars(folder, kept.bars, kept.slips, kept.tune)
            word = {one.folder: one.chart for one in records.takes()}.get(folder)
            if word is None:
                return found
            until = [
                one for one in records.takes(word) if one.started <= take.started and one.you == tuple(sorted(you))
            ]
            only = {one.folder for one in until[-rules.takes :]} if rules.takes else set()
            judge_takes(records, data, chart=word, only=only, patience=PATIENCE, progress=progress)
            tunes = records.tunes(word)
            same = [one for one in until if tunes.get(one.folder) == kept.tune and one.folder != folder]
            same += [one for one in until if one.folder == folder]
            recurring = recurring_slips(same, records.bars(word), records.slips(word), rules, now=folder)
    except CompanionError:
        return found
    findings = with_recurrences(found.findings, slips_of(folder, form, found.findings), recurring)
    went = {bar.bar for bar in found.bars if bar.notes}
    gone = [one for one in recurring if not one.made[-1] and set(range(one.bar, one.last + 1)) <= went]
    return replace(found, findings=tuple(findings), gone=tuple(gone))


def recurring_in(records: Records, chart: str, rules: RecurringRules) -> list[RecurringSlip]:
    """The slips that recur in the takes of a chart that were judged, with each choice of parts; by their bars.

    Of charts that were changed between takes the last form counts.
    """
    tunes = records.tunes(chart)
    takes = [one for one in records.takes(chart) if one.folder in tunes]
    if not takes:
        return []
    bars, slips = records.bars(chart), records.slips(chart)
    mine = sorted((one for one in takes if tunes[one.folder] == tunes[takes[-1].folder]), key=lambda one: one.you)
    by_parts = [list(group) for _, group in groupby(mine, key=lambda one: one.you)]
    return [slip for group in by_parts for slip in recurring_slips(group, bars, slips, rules)]
