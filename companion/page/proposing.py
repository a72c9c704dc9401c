"""What to practise today, and how each tune stands, for the page.

Conventions: minutes; tempo in quarters a minute; bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from itertools import groupby
from typing import Any

from companion.chart.model import Chart
from companion.page.takes import Nothing, chosen_by
from companion.practice.day_plan import PlanItem, Stand, day_plan
from companion.practice.day_stand import stand_now
from companion.practice.repertoire import TuneStanding, practice_day
from companion.practice.tune_picture import tune_words
from companion.preferences import preferences
from companion.preferences.care import CarePreferences
from companion.preferences.drills import DrillPreferences
from companion.preferences.repertoire import RepertoirePreferences


def today(asked: Nothing) -> dict[str, Any]:
    """The day's proposal and the tunes, ready for JSON."""
    now, rules = datetime.now().astimezone(), preferences(RepertoirePreferences)
    stand, trouble = stand_now(now)
    items = day_plan(stand, now, rules, preferences(CarePreferences).pause, preferences(DrillPreferences))
    day = practice_day(now, now.tzinfo, rules.days.begin)
    return {
        "day": f"{now:%A}, {now.day} {now:%B}",
        "minutes": sum(item.minutes for item in items),
        "items": [_item(item) for item in items],
        "tunes": [_tune(tune, stand, day, rules.days.begin) for tune in stand.tunes],
        "trouble": trouble,
    }


def _item(item: PlanItem) -> dict[str, Any]:
    return {
        "purpose": item.purpose,
        "minutes": item.minutes,
        "what": item.what,
        "why": item.why,
        "begins": begun_by(item.command),
    }


def begun_by(command: Sequence[str]) -> dict[str, Any] | None:
    """What the page begins for a command of the plan; None for a pause, and for a chart without a name.

    >>> begun_by(("drill", "ferry-without-lights", "--bars", "5-8", "--kind", "notes", "--minutes", "6"))["bars"]
    [5, 8]
    """
    if len(command) < 2 or not chosen_by(command[1]):
        return None
    said = {word.removeprefix("--"): value for word, value in zip(command[2::2], command[3::2], strict=True)}
    bars = [int(bar) for bar in said["bars"].split("-")] if "bars" in said else None

    def number(name: str) -> float | None:
        return float(said[name]) if name in said else None

    return {
        "drill": command[0] == "drill",
        "chart": command[1],
        "you": said.get("you", "melody").split(","),
        "bars": bars,
        "kind": said.get("kind", "usual"),
        "time": said.get("time"),
        "tempo": number("tempo"),
        "start": number("from"),
        "goal": number("to"),
        "minutes": number("minutes"),
    }


def _tune(tune: TuneStanding, stand: Stand, day: date, begin: int) -> dict[str, Any]:
    chart = stand.charts.get(tune.chart)
    return {
        "chart": chosen_by(tune.chart) if chart else "",
        "title": tune.title,
        "words": tune_words(tune, day, practice_day(tune.played, tune.played.tzinfo, begin)),
        "sections": _columns(tune, chart) if chart else [],
        "passages": [
            {"first": one.first, "last": one.last, "holds": one.holds, "reached": one.reached, "why": one.why}
            for one in tune.passages
            if not one.whole
        ],
    }


def _columns(tune: TuneStanding, chart: Chart) -> list[dict[str, Any]]:
    """For each section the share of the tune's tempo that was reached in each of its bars; None where none was."""
    form, by_bar = chart.unfold(), dict(tune.by_bar)
    tempo = tune.tempo or chart.tempo
    found = []
    for section, group in groupby(enumerate(form.bars, 1), key=lambda pair: form.section_at(pair[1])):
        reached = [by_bar.get(bar) for bar, _ in group]
        found.append({"name": section.name, "bars": [None if r is None else min(1.0, r / tempo) for r in reached]})
    return found
