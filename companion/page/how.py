"""How a tune is to be played, as a browser asks for it, laid over the chart and the usual settings.

Conventions: tempo in quarters a minute; bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace

import msgspec

from companion.arrange.chords.comping_style import CompingStyle
from companion.arrange.treating import left_written
from companion.arrange.treatments import treatment
from companion.chart.model import Chart
from companion.chart.toml.read import check_tempo
from companion.errors import UseError
from companion.messages import TUNE_PARTS, Part
from companion.practice.passage import passage
from companion.practice.request import USUAL, Said
from companion.preferences.drills import Divide, Rounds, TempoStep
from companion.preferences.units import Count
from companion.stage.settings import Settings, Time


class How(msgspec.Struct, frozen=True):
    """What was chosen; whatever wasn't is as the chart has it."""

    time: Time = "follow"
    tempo: float | None = None
    treatments: dict[str, str] = {}  # msgspec makes a new one each time
    """By section."""
    bars: tuple[int, int] | None = None
    """First and last of those that are gone over."""
    seed: int = 0
    like_you: bool | None = None
    """Whether chords are like the player's own; None: as ``like-you.toml`` has it."""


AS_WRITTEN = How()


class DrillAsked(msgspec.Struct, frozen=True):
    """How a drill is to go; whatever is None is as its kind has it. The words are those of ``companion drill``."""

    kind: str = USUAL
    start: float | None = None
    goal: float | None = None
    step: TempoStep | None = None
    rounds: Rounds | None = None
    minutes: float | None = None
    time: Time | None = None
    click: str | None = None
    divide: Divide | None = None
    swap: Count | None = None
    keys: str | None = None
    each: Rounds | None = None
    memory: bool | None = None
    anywhere: bool | None = None


class PianoWords(msgspec.Struct, frozen=True):
    """What it is started with."""

    chart: str
    """A file."""
    number: int
    you: tuple[Part, ...]
    how: How = How()
    drill: DrillAsked | None = None
    """None: the tune is played."""


def chart_asked(chart: Chart, how: How) -> Chart:
    """The chart as it is to be played: its sections treated as asked, and no more of it than the bars that are meant.

    Raises
    ------
    UseError
        There are no such bars, or no such tempo.
    ConfigError
        There is no such treatment.
    """
    chart = treated(chart, how.treatments)
    if how.tempo is not None:
        check_tempo(how.tempo)
        chart = replace(chart, tempo=float(how.tempo))
    if how.bars is None:
        return chart
    first, last = how.bars
    cut = passage(chart, first, last, way_in=0).chart
    which = f"bar {first}" if first == last else f"bars {first}–{last}"
    return replace(cut, title=f"{chart.title}, {which}")


def drill_said(drill: DrillAsked, you: tuple[Part, ...], how: How) -> Said:
    """What is said of a drill; a tempo chosen for the tune is the one to reach, unless the drill says another."""
    of_kind = {one.name for one in fields(Said)} & set(drill.__struct_fields__)
    said = {name: getattr(drill, name) for name in of_kind}
    return replace(Said(frozenset(you), **said), goal=drill.goal or how.tempo, seed=how.seed)


def style_asked(how: How) -> CompingStyle | None:
    """How the player comps, where chords are to be like theirs; else None."""
    from companion.practice.comping_learnt import is_wished, style_of_player

    return style_of_player() if is_wished(how.like_you) else None


def treated(chart: Chart, treatments: Mapping[str, str]) -> Chart:
    """The chart with other treatments in some sections; what is written note for note there is free then.

    Raises
    ------
    ConfigError
        There is no such treatment.
    """
    changed = {name: word for name, word in treatments.items() if word}
    for word in changed.values():
        treatment(word)
    sections = tuple(
        replace(section, treatment=changed.get(section.name, section.treatment)) for section in chart.sections
    )
    return replace(chart, sections=sections, written=left_written(chart.unfold(), changed))


def settings_asked(chart: Chart, you: tuple[Part, ...], how: How) -> Settings:
    """Who plays what, and how; the companion has what of the tune is left.

    Raises
    ------
    UseError
        There is nothing to play.
    """
    melody = any(section.melody for section in chart.sections)
    if not you:
        raise UseError("nobody plays anything", mend="choose what you play")
    if set(you) == {"melody"} and not melody:
        raise UseError("the chart has no melody to play", mend="take the bass or the chords, or improvise over it")
    rest = tuple(
        part for part in TUNE_PARTS if part not in you and not (part == "melody" and ("solo" in you or not melody))
    )
    ordered = bool(chart.events) and "solo" not in you and how.bars is None
    return Settings(
        you=frozenset(you),
        parts=rest,
        time=how.time,
        tempo=how.tempo,
        seed=how.seed,
        order="chart" if ordered else "form",
    )
