"""Swing: how late off-beat quavers sound, and the map between written and sounding beats.

Conventions: beats in quarters; tempo in quarters a minute; a ratio is the length of the long quaver over that of the
short one, 1 when they are even. Negative beats (a pickup) swing alike.

The map keeps every quarter in its place and bends what lies between: the middle of a quarter moves to
ratio / (ratio + 1), and what lies before and after it moves in proportion. So it is strictly monotone and has an exact
inverse. Quavers swing by it as they are played. A triplet or four semiquavers would limp: in a quarter where a part has
either, its notes stay as they are written (common practice), so the map takes the quarters that stay straight, and
:func:`straight_quarters` finds them. Each part has its own: the bass may swing under a triplet.

How the ratio falls with the tempo is in ``configs/feels.toml``, after Friberg & Sundström, Swing Ratios and Ensemble
Timing in Jazz Performance, Music Perception 19(3), 2002 (values from memory).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import pairwise
from math import floor
from typing import TYPE_CHECKING

from companion.errors import ConfigError

if TYPE_CHECKING:
    from companion.preferences.feels import FeelPreferences

_NEVER: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Feel:
    """How a beat is divided, by tempo: one table of ``configs/feels.toml``."""

    name: str
    ratios: tuple[tuple[float, float], ...]
    """Tempo and ratio, from slow to fast."""
    shortest: float
    """Seconds that the short quaver lasts at least."""
    practice_ratio: float
    """The most below the tune's own tempo."""
    practice_below: float = 0.9
    """Share of the tune's own tempo under which it is being practised."""
    about: str = ""

    def ratio(self, tempo: float, *, practice: bool = False) -> float:
        """Long quaver to short one at a tempo; never below 1 on account of the tempo.

        Parameters
        ----------
        tempo : float
            Quarters a minute.
        practice : bool
            True when a tune is practised below its tempo.
        """
        ratio = between(self.ratios, tempo)
        if ratio > 1 and self.shortest > 0:
            ratio = max(1.0, min(ratio, 60.0 / tempo / self.shortest - 1.0))
        return min(ratio, self.practice_ratio) if practice else ratio


def swing_ratio(tempo: float, feel_name: str = "swing", *, practice: bool = False) -> float:
    """Long quaver to short one in a feel at a tempo (quarters a minute).

    >>> swing_ratio(160), round(swing_ratio(250), 6), swing_ratio(300), swing_ratio(60, practice=True)
    (2.0, 1.4, 1.0, 2.0)
    """
    return feel(feel_name).ratio(tempo, practice=practice)


def feel(name: str) -> Feel:
    """The feel of that name.

    Raises
    ------
    ConfigError
        There is no such feel, or its file can't be used; the message lists the names or says what is wrong.
    """
    return _feel(_feels(), name)


def feel_names() -> list[str]:
    """Names of the feels there are: the shipped ones and those in the player's own file."""
    return list(_feels().named)


def _feels() -> FeelPreferences:
    from companion.preferences import preferences
    from companion.preferences.feels import FeelPreferences

    return preferences(FeelPreferences)


@cache
def _feel(feels: FeelPreferences, name: str) -> Feel:
    if name not in feels.named:
        raise ConfigError(f"there is no feel '{name}'", mend=f"there are: {', '.join(feels.named)}")
    table = feels.named[name]
    return Feel(name, table.ratio, table.shortest_ms / 1000, table.practice_ratio, table.practice_below, table.about)


def between(points: tuple[tuple[float, float], ...], x: float) -> float:
    """The value at x of the line through the points (x, value, from left to right), level beyond its ends.

    >>> between(((60.0, 2.4), (160.0, 2.0)), 110.0)
    2.2
    """
    if x <= points[0][0]:
        return points[0][1]
    for (left, low), (right, high) in pairwise(points):
        if x <= right:
            return low + (high - low) * (x - left) / (right - left)
    return points[-1][1]


def straight_quarters(beats: Iterable[Fraction]) -> frozenset[int]:
    """The quarters in which a part stays as written: those with a note elsewhere than on the beat or half way.

    Parameters
    ----------
    beats : iterable of Fraction
        Where the notes of one part begin, written beats.

    >>> sorted(straight_quarters([Fraction(0), Fraction(1, 2), Fraction(4, 3), Fraction(-1, 4)]))
    [-1, 1]
    """
    return frozenset(floor(beat) for beat in beats if (2 * beat).denominator != 1)


def to_sounding(beat: float | Fraction, ratio: float, straight: Collection[int] = _NEVER) -> float:
    """The sounding beat of a written one. ``straight``: quarters that stay as written.

    >>> to_sounding(0.5, 1.5), to_sounding(-0.5, 3), to_sounding(2, 1.5), to_sounding(0.5, 1.5, {0})
    (0.6, -0.25, 2.0, 0.5)
    """
    quarter = floor(beat)
    return float(beat) if quarter in straight else quarter + _bent(float(beat - quarter), 0.5, ratio / (ratio + 1.0))


def to_written(beat: float, ratio: float, straight: Collection[int] = _NEVER) -> float:
    """The written beat of a sounding one: the inverse of :func:`to_sounding`."""
    quarter = floor(beat)
    return float(beat) if quarter in straight else quarter + _bent(float(beat - quarter), ratio / (ratio + 1.0), 0.5)


def _bent(place: float, knee: float, goal: float) -> float:
    """Two straight lines from 0 to 1 that take the knee to the goal."""
    if place <= knee:
        return place * goal / knee
    return 1.0 - (1.0 - place) * (1.0 - goal) / (1.0 - knee)
