"""The ways in which one and the same fault may be meant, and in which a player may comp.

"A bar rushed by 40 ms a beat" may leave all that follows early, or be made good at the bar line or over the next bar;
each note may come early by what has gathered up to it, or with its beat. A bar may be begun again after half of it, at
its end, or from the next downbeat, in time or after a pause. Whoever plants faults elsewhere has one of these in mind.

Conventions: beats in quarters; seconds; MIDI numbers.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, get_args

from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Form

Rush = Literal["shifted", "caught up", "beside", "by beats", "from the first", "made good"]
Restart = Literal["anywhere", "half", "whole", "next", "in time"]
Hesitation = Literal["before a note", "before the bar"]
Added = Literal["between", "quavers", "together"]
Comping = Literal["scattered", "one rhythm", "on changes", "arranged"]

A_BEAT = 0.040
"""Seconds a beat by which a bar is rushed or dragged."""
STRIKES = ((0.0,), (0.0, 1.5), (0.0, 2.0), (1.0, 3.0), (0.0, 2.5), (1.5,))
"""Where chords are struck in a bar."""
RUBS = (0, 1, 13)
"""Semitones below a melody note that a good player leaves out of the chord."""
CLEAR = 0.4
"""Quarters from a note of the melody within which no chord is struck but with it."""


@dataclass(frozen=True)
class Ways:
    """How each fault is done, and how the player comps."""

    rush: Rush = "shifted"
    """All that follows stays shifted; is on its old place again with the next bar; all the bar's notes are as far off,
    and nothing else; like the first, but notes within a beat as early as the beat; the first beat, too, is early by
    as much as each; what was gathered is given back over the next bar."""
    restart: Restart = "anywhere"
    """Where the player leaves the bar that they begin again: at any note or its end; after half; at its end; after the
    next downbeat; after half, without letting the pulse go."""
    hesitation: Hesitation = "before a note"
    added: Added = "between"
    """Where a key more is struck: between notes with room; between quavers, too; with a note."""
    comping: Comping = "scattered"
    beside: tuple[int, ...] = (-4, -3, -1, 1, 3, 4)
    """Semitones from the nearest note of the melody of a key more."""

    def of(self, what: str) -> str:
        """How a fault of a kind is done; empty where there is one way only."""
        ways = {"restarted": self.restart, "hesitated": self.hesitation, "extra-note": self.added}
        return self.rush if what in ("rushed", "dragged") else ways.get(what, "")

    @property
    def pause(self) -> tuple[float, float]:
        """Seconds, from and to, before a bar that is begun again."""
        return (0.0, 0.0) if self.restart == "in time" else (0.1, 0.8) if self.restart == "anywhere" else (0.0, 1.5)


USUAL = Ways()


def drawn_ways(chance: random.Random) -> Ways:
    """Each way drawn by lot."""
    added = chance.choice(get_args(Added))
    return Ways(
        rush=chance.choice(get_args(Rush)),
        restart=chance.choice(get_args(Restart)),
        hesitation=chance.choice(get_args(Hesitation)),
        added=added,
        comping=chance.choice(get_args(Comping)),
        beside=(-2, -1, 1, 2) if added == "together" else USUAL.beside,
    )


def lag(way: Rush, beat: float, low: float, high: float, pulse: float) -> float:
    """In beats of the metre, how much of a dragged bar from ``low`` to ``high`` has gathered at a beat.

    >>> [lag("caught up", beat, 4.0, 8.0, 1.0) for beat in (4.0, 5.5, 7.0, 8.0)]
    [0.0, 1.5, 3.0, 0.0]
    """
    whole = (high - low) / pulse
    here = (beat - low) / pulse
    if here < -1e-6:
        return 0.0
    match way:
        case "shifted":
            return min(here, whole)
        case "caught up":
            return here if here < whole - 1e-6 else 0.0
        case "beside":
            return 1.0 if here < whole - 1e-6 else 0.0
        case "by beats":
            return min(math.floor(here + 1e-6), whole)
        case "from the first":
            return min(math.floor(here + 1e-6) + 1.0, whole)
        case "made good":
            return max(min(here, 2 * whole - here), 0.0)


# Comping


def comping(form: Form, way: Comping, chance: random.Random, *, with_melody: bool) -> list[tuple[float, int]]:
    """Beats and keys of chords without their roots; where the player has the melody, in its gaps and with its notes."""
    if way == "arranged":
        player = frozenset({"melody", "chords"} if with_melody else {"chords"})
        notes = arrange(form, "chords", Request(seed=chance.randrange(1000), player=player))
        return sorted((float(note.beat), note.pitch.midi) for note in notes)
    moving = sorted(float(note.beat) for note in form.melody) if with_melody else []
    found = []
    for beat in _strikes(form, way, chance):
        near = min((abs(beat - other) for other in moving), default=9.0)
        if near < CLEAR and (near > 0.01 or chance.random() < 0.7):
            continue
        low = chance.randint(50, 54)
        over = [note.pitch.midi for note in form.melody if abs(float(note.beat) - beat) < 0.01] if with_melody else []
        for pc in list(form.chord_at(beat).chord.pitch_classes)[1:5]:
            key = low + (pc - low) % 12
            if not any(note - key in RUBS for note in over):
                found.append((beat, key))
    return found


def _strikes(form: Form, way: Comping, chance: random.Random) -> list[float]:
    bars: Sequence[float] = [*map(float, form.bars), float(form.length)]
    one = chance.choice(STRIKES)
    rhythms: dict[Comping, Callable[[], Sequence[float]]] = {
        "scattered": lambda: chance.choice(STRIKES),
        "one rhythm": lambda: one,
        "on changes": lambda: (0.0,),
    }
    found = [start + strike for start, end in pairwise(bars) for strike in rhythms[way]() if start + strike < end]
    changes = [float(span.start) for span in form.chords] if way == "on changes" else []
    return sorted({*found, *(beat for beat in changes if 0 <= beat < bars[-1])})
