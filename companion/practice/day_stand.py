"""What a day's proposal goes by: the records with all takes in them, and the charts that there are."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from companion.chart.model import Chart
from companion.errors import InputError
from companion.load import load
from companion.practice.day_plan import Stand, by_ease
from companion.practice.judged_bars import judge_takes
from companion.practice.records import Records
from companion.practice.repertoire import standings
from companion.practice.slips_before import recurring_in
from companion.practice.taken_in import take_in
from companion.preferences import preferences
from companion.preferences.repertoire import RepertoirePreferences
from companion.preferences.review import ReviewPreferences
from companion.resources import chart_names, chart_path, is_shipped

PATIENCE = 4.0
"""Seconds for the takes that nobody has judged yet, the latest first; then it goes by those that are."""
MOST_NEW = 24
"""Charts that are looked at to find one to begin."""


def stand_now(now: datetime) -> tuple[Stand, str]:
    """What the records and the folders of charts hold, and what is amiss with the records; empty where nothing is.

    Raises
    ------
    RecordsError
        Nothing can be written now.
    """
    with Records() as records:
        take_in(records)
        judge_takes(records, patience=PATIENCE)
        tunes = standings(records.rounds(), records.takes(), now, preferences(RepertoirePreferences))
        recurring = preferences(ReviewPreferences).recurring
        slips = {tune.chart: recurring_in(records, tune.chart, recurring) for tune in tunes}
    charts = _charts([tune.chart for tune in tunes])
    played = {tune.chart for tune in tunes}

    def own(word: str) -> bool:
        return not is_shipped(chart_path(word))

    names = sorted((name for name in chart_names() if name not in played), key=lambda name: not own(name))
    unplayed = _charts(names[:MOST_NEW])
    return Stand(tunes, charts | unplayed, by_ease(unplayed, own), slips), records.trouble


def _charts(words: Sequence[str]) -> dict[str, Chart]:
    """The charts that can be read, by the words for them."""
    found = {}
    for word in words:
        try:
            found[word] = load(chart_path(word))
        except InputError:
            continue  # it has gone, or is damaged; whoever names it is told so
    return found
