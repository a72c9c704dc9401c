"""The built-in player's route through the form, and their beat along it: choruses, leaps, stops, hesitations.

Conventions: chart beats in quarters from the first downbeat of the form; places on the route in quarters since the
player began; seconds from the start of the performance. Two bars are counted in, the first click at 1.000 s.
"""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random
from typing import Literal

from companion.chart.model import Form
from companion.music.swing import to_sounding
from companion.pianist.pulse import free_pulses, hesitate, slowed, strict_pulses
from companion.preferences.players import PlayerManner

FIRST_CLICK = 1.0
"""Seconds before the count-in begins."""


BeatMark = Literal["", "count_in", "jump", "resume"]
"""What there is to say of a beat."""


@dataclass(frozen=True)
class TrueBeat:
    """Where a beat really was."""

    chart_beat: float
    seconds: float
    chorus: int
    """1 the first time through; 0 in the count-in."""
    mark: BeatMark = ""
    """On the first beat after a leap or a stop, and on those that are counted in."""


@dataclass(frozen=True)
class Passage:
    """A passage of the chart played without a break."""

    start: float
    end: float
    chorus: int
    mark: BeatMark = ""
    pause: float = 0.0
    """Seconds of silence before it."""
    form: Form | None = None
    """The bars of an introduction or an ending, which begin where the passage does; None: the form's own."""
    parts: frozenset[str] | None = None
    """What the player plays in it; None: their usual parts."""
    slows: float = 0.0
    """Quarters before its last beat from which the player slows down."""
    rests: bool = False
    """Whether its last beat is a chord, held: the end."""
    tells: float | None = None
    """The chart beat of a bar line over which the player holds down the soft pedal: this is the last time."""


def plan_route(form: Form, choruses: int, begin: float, how: PlayerManner, dice: Random) -> list[Passage]:
    """Choruses in order, broken by the leaps and stops of the manner.

    Parameters
    ----------
    form : Form
    choruses : int
    begin : float
        Chart beat at which the first chorus begins; below 0 with a pickup.
    how : PlayerManner
    dice : random.Random
    """
    length = float(form.length)
    route = [Passage(begin if c == 1 else 0.0, length, c) for c in range(1, choruses + 1)]
    return tune_route(form, route, how, dice)


def tune_route(form: Form, route: Sequence[Passage], how: PlayerManner, dice: Random) -> list[Passage]:
    """A route through the events of a tune, with the leaps and stops of the manner in its heads."""
    found = list(route)
    tellable = _tellable(form) if how.moves else set()
    breaks: tuple[tuple[BeatMark, int], ...] = (("jump", how.moves), ("resume", how.stops))
    for kind, most in breaks:
        for _ in range(dice.randint(1, most) if most else 0):
            _break(form, found, kind, tellable, how, dice)
    return found


def _break(
    form: Form, route: list[Passage], kind: BeatMark, tellable: set[float], how: PlayerManner, dice: Random
) -> None:
    """Break one passage of the route, where there is room before and after it."""
    pulse, bar = float(form.metre.pulse), float(form.metre.bar)
    room = min(4 * bar, float(form.length) / 4)
    for _ in range(60):
        index = dice.randrange(len(route))
        old = route[index]
        if old.form is not None or old.parts is not None or old.end - old.start < 2 * room + pulse:
            continue
        leave = old.start + room + dice.randrange(int((old.end - old.start - 2 * room) / pulse) + 1) * pulse
        if kind == "jump" and dice.random() < 0.75:
            leave = _bar_start(form, leave)
        land = _landing(form, leave, kind, tellable, dice)
        if land is None or leave <= old.start or old.end - land < room:
            continue
        pause = dice.uniform(*how.stop_seconds) if kind == "resume" else 0.0
        route[index : index + 1] = [replace(old, end=leave), Passage(land, old.end, old.chorus, kind, pause)]
        return


def _landing(form: Form, leave: float, kind: BeatMark, tellable: set[float], dice: Random) -> float | None:
    """Where a player goes who breaks off: after a stop the same place or the start of the phrase; in a leap an earlier
    section, eight bars back, four or eight on, provided that the melody there can be told from any other place's."""
    phrases = _phrase_starts(form)
    if kind == "resume":
        begun = max((p for p in phrases if p <= leave), default=leave)
        return dice.choice((leave, begun))
    bar, here = float(form.metre.bar), _bar_start(form, leave)
    earlier = [float(s.start) for s in form.sections if float(s.start) < here - bar][-2:]
    choices = [*earlier, here - 8 * bar, here + 4 * bar, here + 8 * bar]
    choices = [c for c in choices if c in tellable and c != here]
    return dice.choice(choices) if choices else None


def _phrase_starts(form: Form) -> list[float]:
    """Every section's start and every fourth bar from it."""
    found = set()
    for section in form.sections:
        bars = [float(b) for b in form.bars if section.start <= b < section.end]
        found.update(bars[::4])
    return sorted(found)


def _tellable(form: Form) -> set[float]:
    """Bars whose first two bars of melody are found nowhere else in the form."""
    length = 2 * form.metre.bar
    found: dict[tuple[tuple[Fraction, int], ...], list[float]] = {}
    for bar in form.bars:
        notes = tuple((n.beat - bar, n.pitch.midi) for n in form.melody if bar <= n.beat < bar + length)
        found.setdefault(notes, []).append(float(bar))
    return {places[0] for places in found.values() if len(places) == 1}


def _bar_start(form: Form, beat: float) -> float:
    return float(form.bars[max(0, bisect.bisect_right(form.bars, beat) - 1)])


class Clock:
    """From a place on the route (quarters since the player began) to seconds."""

    def __init__(self, grid: Sequence[float], before: int, pulse: float, shifts: Sequence[float]):
        self.grid, self.before, self.pulse, self.shifts = grid, before, pulse, shifts
        self.swing = 1.0

    def seconds(self, passage: int, at: float, swing: float | None = None) -> float:
        """When a place sounds that belongs to a passage; ``at`` is written, so quavers are swung here."""
        ratio = self.swing if swing is None else swing
        triplet = abs(at * 3 - round(at * 3)) < 0.02  # played as it is written
        if self.pulse == 1.0 and not triplet:
            at = to_sounding(at, ratio)
        x = at / self.pulse + self.before
        k = max(0, min(len(self.grid) - 2, int(x // 1)))
        return self.grid[k] + (x - k) * (self.grid[k + 1] - self.grid[k]) + self.shifts[passage]


def beats_along(
    form: Form, route: Sequence[Passage], tempo: float, how: PlayerManner, dice: Random
) -> tuple[Clock, list[TrueBeat]]:
    """The player's beat over the whole route, the two bars before it, and the rows that tell the truth about it.

    Parameters
    ----------
    form : Form
    route : sequence of Passage
    tempo : float
        Quarters a minute.
    how : PlayerManner
    dice : random.Random
    """
    pulse, bar = float(form.metre.pulse), float(form.metre.bar)
    before, period = max(2, round(2 * bar / pulse)), 60.0 / tempo * pulse
    n = sum(round((s.end - s.start) / pulse) for s in route)
    if how.freedom:
        free = free_pulses(n, period, dice, phrase=max(4, round(4 * bar / pulse)), freedom=how.freedom)
        opening = (free[2] - free[0]) / 2
        grid = [k * opening for k in range(before)] + [before * opening + t for t in free]
    else:
        drift, jitter, gain = how.drift, how.jitter, how.gain
        grid = strict_pulses(before + n, period, dice, steady=before, drift=drift, jitter=jitter, gain=gain)
    doubts = dice.sample(range(before + 4, before + n), min(how.hesitations, max(n - 4, 0)))
    grid = hesitate(grid, doubts, dice)
    if route[-1].slows:
        last = before + n - 1
        grid = slowed(grid, last - round(route[-1].slows / pulse), last)
    grid = [FIRST_CLICK + t for t in grid]
    rows = [TrueBeat(route[0].start + (k - before) * pulse, grid[k], 0, "count_in") for k in range(before)]
    shift, shifts, k = 0.0, [], before
    for passage in route:
        shift += passage.pause
        shifts.append(shift)
        for step in range(round((passage.end - passage.start) / pulse)):
            mark = passage.mark if step == 0 else ""
            rows.append(TrueBeat(passage.start + step * pulse, grid[k] + shift, passage.chorus, mark))
            k += 1
    return Clock(grid, before, pulse, shifts), rows
