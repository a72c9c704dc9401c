"""Ideas: what of a phrase the next ones take up, and how it comes again.

Method: an idea is the first few notes of a phrase, up to its first gap: places against its bar line and pitches. It
comes again over the new chords at its old places, with its intervals asked for; or a beat later, mirrored, its
beginning twice or three times running, as it was and going on, or as a rhythm with other notes (common practice;
A. Schoenberg, Fundamentals of Musical Composition, 1967, on varying a motive, from memory).

Conventions: places in quarters from the bar line to which the phrase belongs, a pickup below 0; MIDI numbers.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from companion.preferences.solo import IdeaPreferences

Idea = tuple[tuple[Fraction, int], ...]
"""Places and MIDI numbers, in order."""
Asked = tuple[Fraction, int | None]
"""A place, and the interval from the note before that is asked for, in semitones."""
FRAGMENT = 4
"""Notes of the beginning that come running, at most."""


@dataclass(frozen=True)
class Retold:
    """An idea as it comes again."""

    asked: tuple[Asked, ...]
    goes_on: bool
    """Whether the phrase goes on after it."""
    lift: int
    """Semitones by which it begins higher than it did."""


def idea_of(rules: IdeaPreferences, said: Sequence[tuple[Fraction, int]], bar: Fraction) -> Idea:
    """The idea of a phrase: its first notes, up to a gap; empty where there are fewer than two."""
    fewest, most = rules.notes
    kept = [one for one in said[:most] if one[0] < rules.bars * bar]
    for n in range(fewest, len(kept)):
        if kept[n][0] - kept[n - 1][0] >= rules.gap:
            kept = kept[:n]
            break
    return tuple(kept) if len(kept) > 1 else ()


def has_character(places: Sequence[Fraction], fewest: int) -> bool:
    """Whether a rhythm can be told from a row of equal notes: its first ones don't all come as fast."""
    gaps = [b - a for a, b in pairwise(places[: fewest + 1])]
    return len(gaps) >= fewest - 1 and len(set(gaps)) > 1


def again(rules: IdeaPreferences, idea: Idea, rising: bool, chance: random.Random) -> Retold:
    """The idea as it was, over other chords, a little higher or lower."""
    return Retold(_with_intervals(idea), False, _lift(rules, rising, chance))


def varied(
    rules: IdeaPreferences, idea: Idea, pulse: Fraction, room: Fraction, rising: bool, chance: random.Random
) -> Retold:
    """The idea in another way; ``room`` is how many quarters the phrase has from its bar line."""
    ways = {
        _displaced: rules.displaced,
        _mirrored: rules.mirrored,
        _fragments: rules.fragment,
        _continued: rules.continued,
        _reshaped: rules.reshaped,
    }
    way = chance.choices(list(ways), list(ways.values()))[0]
    asked = tuple(one for one in way(idea, pulse, room, chance) if one[0] < room)
    return Retold(asked, True, _lift(rules, rising, chance))


def _with_intervals(idea: Idea) -> tuple[Asked, ...]:
    steps = [None, *(b - a for (_, a), (_, b) in pairwise(idea))]
    return tuple((place, step) for (place, _), step in zip(idea, steps, strict=True))


def _lift(rules: IdeaPreferences, rising: bool, chance: random.Random) -> int:
    low, high = rules.lift
    rises, falls = rules.higher
    return chance.randint(low, high) * (1 if chance.random() < (rises if rising else falls) else -1)


def _displaced(idea: Idea, pulse: Fraction, room: Fraction, chance: random.Random) -> tuple[Asked, ...]:
    by = pulse if idea[0][0] < pulse or chance.random() < 0.5 else -pulse
    return tuple((place + by, step) for place, step in _with_intervals(idea))


def _mirrored(idea: Idea, pulse: Fraction, room: Fraction, chance: random.Random) -> tuple[Asked, ...]:
    return tuple((place, None if step is None else -step) for place, step in _with_intervals(idea))


def _fragments(idea: Idea, pulse: Fraction, room: Fraction, chance: random.Random) -> tuple[Asked, ...]:
    """The first notes twice or three times, as closely as they fit on beats."""
    part = _with_intervals(idea[:FRAGMENT])
    long = part[-1][0] - part[0][0]
    stride = ((long + pulse / 2) // pulse + 1) * pulse
    found: list[Asked] = []
    for n in range(chance.choice((2, 3))):
        found += ((place + n * stride, step) for place, step in part)
    return tuple(found)


def _continued(idea: Idea, pulse: Fraction, room: Fraction, chance: random.Random) -> tuple[Asked, ...]:
    return _with_intervals(idea)


def _reshaped(idea: Idea, pulse: Fraction, room: Fraction, chance: random.Random) -> tuple[Asked, ...]:
    return tuple((place, None) for place, _ in idea)
