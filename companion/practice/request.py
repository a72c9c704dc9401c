"""What is to be drilled: what was said on the command line laid over a kind of drill, and made definite for a chart.

Conventions: tempo in quarters a minute; bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import TypeVar

from companion.arrange.chords.comping_style import CompingStyle
from companion.chart.keys import write_key
from companion.chart.model import Chart
from companion.chart.transpose import signature
from companion.errors import UseError, right_name
from companion.messages import Part
from companion.practice.passage import check_bars, companion_parts
from companion.preferences import preferences
from companion.preferences.drills import DrillPreferences, LadderRules
from companion.stage.settings import Time

T = TypeVar("T")
USUAL = "usual"


@dataclass(frozen=True)
class Said:
    """What was asked for; whatever is None is as the kind of drill has it."""

    you: frozenset[Part]
    parts: tuple[Part, ...] | None = None
    start: float | None = None
    goal: float | None = None
    step: float | None = None
    ladder: str | None = None
    rounds: int | None = None
    time: Time | None = None
    click: str | None = None
    divide: int | None = None
    swap: int | None = None
    keys: str | None = None
    each: int | None = None
    memory: bool | None = None
    anywhere: bool | None = None
    treatment: str | None = None
    seed: int = 0
    style: CompingStyle | None = None


@dataclass(frozen=True)
class DrillRequest:
    """A drill, all of it said."""

    bars: tuple[int, int]
    you: frozenset[Part]
    parts: tuple[Part, ...] | None
    """The companion's; None: whatever of the tune the player leaves."""
    ladder: LadderRules
    start: float
    goal: float
    step: float
    rounds: int | None
    """After how many it is over, whatever becomes of them; None: with the goal."""
    time: Time
    click: str
    divide: int
    swap: int
    keys: tuple[int, ...]
    """Key signatures in fifths, in the order of the rounds."""
    each: int
    """Rounds in each key."""
    memory: bool
    anywhere: bool
    treatment: str | None
    seed: int
    what: str = ""
    """In words."""
    style: CompingStyle | None = None
    """How the player comps, where free chords are to be like theirs."""

    def hands(self, number: int) -> tuple[frozenset[Part], tuple[Part, ...]]:
        """Who plays what in a round (1 = the first): the player's parts and the companion's."""
        you = self.you
        if self.swap and (number - 1) // self.swap % 2:
            you = other_hand(you)
        parts = self.parts
        if parts is None or you != self.you:
            left = companion_parts(you)
            parts = tuple(part for part in ("melody", "chords", "bass") if part in left)
        return you, parts

    def key(self, number: int) -> int:
        """The key signature of a round (1 = the first), in fifths."""
        return self.keys[(number - 1) // self.each % len(self.keys)]


def drill_request(chart: Chart, bars: tuple[int, int], said: Said, kind: str = USUAL) -> DrillRequest:
    """What is to be drilled in a chart.

    Parameters
    ----------
    chart : Chart
    bars : pair of int
        First and last bar of the passage.
    said : Said
    kind : str
        A kind of drill, by its name in ``drills.toml``.

    Raises
    ------
    UseError
        There are no such bars, no such kind, ladder, key or click; or what was said doesn't fit together.
    """
    check_bars(chart, *bars)
    known = preferences(DrillPreferences)
    usual = known.kinds.get(kind)
    if usual is None:
        raise UseError(f"there is no kind of drill called {kind!r}", mend=right_name(kind, known.kinds))
    name = said.ladder or usual.ladder
    rules = known.ladders.get(name)
    if rules is None:
        raise UseError(f"there is no ladder called {name!r}", mend=right_name(name, known.ladders))
    swap = _said(said.swap, usual.swap)
    if swap:
        other_hand(said.you)
    start, goal = _tempi(chart, said, rules)
    return DrillRequest(
        bars=bars,
        you=said.you,
        parts=said.parts,
        ladder=rules,
        start=start,
        goal=goal,
        step=said.step or rules.step,
        rounds=said.rounds,
        time=said.time or usual.time,
        click=_said(said.click, usual.click),
        divide=_said(said.divide, usual.divide),
        swap=swap,
        keys=round_the_keys(chart, _said(said.keys, usual.keys)),
        each=said.each or usual.each,
        memory=_said(said.memory, usual.memory),
        anywhere=_said(said.anywhere, usual.anywhere),
        treatment=said.treatment,
        seed=said.seed,
        what=usual.what or kind,
        style=said.style,
    )


def _said(value: T | None, usual: T) -> T:
    return usual if value is None else value


def _tempi(chart: Chart, said: Said, rules: LadderRules) -> tuple[float, float]:
    """First tempo and goal; one of them alone said, the other is not beyond it."""
    start = said.start if said.start is not None else round(rules.start * chart.tempo)
    goal = said.goal if said.goal is not None else round(rules.to * chart.tempo)
    if said.goal is None:
        goal = max(goal, start)
    elif said.start is None:
        start = min(start, goal)
    return float(start), float(goal)


def other_hand(you: Collection[Part]) -> frozenset[Part]:
    """The parts of the other hand.

    Raises
    ------
    UseError
        The player has parts of both hands.
    """
    if "bass" not in you:
        return frozenset({"bass"})
    if len(you) > 1:
        raise UseError("both hands are yours: there is nothing to swap", mend="say --you melody or --you bass")
    return frozenset({"melody"})


def round_the_keys(chart: Chart, text: str) -> tuple[int, ...]:
    """The key signatures of a way round the keys, in fifths.

    Parameters
    ----------
    chart : Chart
        It begins in the chart's key.
    text : str
        'fourths', 'semitones' (upwards), keys with commas ('F, Bb, Eb'), or nothing: the chart's own.

    Raises
    ------
    UseError
        A key is none.
    """
    word = text.strip().lower()
    if not word:
        return (chart.fifths,)
    if word in ("fourths", "semitones"):
        step = -1 if word == "fourths" else 7
        return tuple(_in_six(chart.fifths + step * n) for n in range(12))
    return tuple(signature(one, chart.minor) for one in re.split(r"[,\s]+(?=[A-Ga-g])", text.strip()) if one)


def _in_six(fifths: int) -> int:
    """A key signature with the fewest signs: five sharps at most, six flats."""
    return (fifths + 6) % 12 - 6


def key_text(chart: Chart, fifths: int) -> str:
    """A key as it is named: 'Eb', 'F minor'."""
    return write_key(fifths, chart.minor)
