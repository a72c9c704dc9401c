"""The plan: which treatment each section gets, and the notes of each part for one chorus.

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers. All functions are pure: the same form,
treatment, chorus and seed give the same notes.
"""

from __future__ import annotations

import random
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache

from companion.arrange import bass, comping, melody, voicings
from companion.arrange.part import Note
from companion.arrange.treatments import Treatment, proposed, treatment
from companion.chart.model import Form
from companion.errors import UseError

Plan = tuple[tuple[Fraction, Fraction, Treatment], ...]


def arrange(
    form: Form,
    part: str,
    *,
    treatment: str | None = None,
    chorus: int = 1,
    seed: int = 0,
    player: frozenset[str] = frozenset(),
) -> tuple[Note, ...]:
    """The notes of one part for one chorus.

    Parameters
    ----------
    form : Form
        The unfolded chart.
    part : str
        'bass', 'chords' or 'melody'.
    treatment : str, optional
        One treatment for the whole form; otherwise each section's own, or what suits the form.
    chorus : int
        1 the first time through: every chorus is new.
    seed : int
        Another seed, other notes; the same seed, the same.
    player : frozenset of str
        Parts that the player plays: chords leave room for what sounds above and below them.

    Returns
    -------
    tuple of Note
        In order of beat, written (swing is put on when it is played). A chord before the first downbeat has a negative beat.

    Raises
    ------
    UseError
        When there is no such part.
    ConfigError
        When there is no such treatment.
    """
    if form.length <= 0:
        return ()
    if part == "melody":
        return _melody(form)
    if part == "bass":
        return _bass(form, treatment, chorus, seed)
    if part == "chords":
        return _chords(form, treatment, chorus, seed, player)
    raise UseError(f"there is no part called {part!r} to arrange", mend="use melody, chords or bass")


@lru_cache(maxsize=64)
def plan(form: Form, name: str | None = None) -> Plan:
    """From where to where which treatment rules: the one named, each section's own, or the one proposed."""
    if name is not None:
        return ((Fraction(0), form.length, treatment(name)),)
    found: list[tuple[Fraction, Fraction, Treatment]] = []
    for place in form.sections:
        chosen = treatment(place.treatment) if place.treatment else proposed(form, place)
        found.append((place.start, place.end, chosen))
    return tuple(found) or ((Fraction(0), form.length, proposed(form, None)),)


@lru_cache(maxsize=16)
def _melody(form: Form) -> tuple[Note, ...]:
    return melody.notes(form)


@lru_cache(maxsize=64)
def _bass(form: Form, name: str | None, chorus: int, seed: int) -> tuple[Note, ...]:
    patterns = tuple((start, end, one.bass) for start, end, one in plan(form, name))
    return bass.notes(form, patterns, chorus=chorus, seed=seed)


@lru_cache(maxsize=64)
def _chords(form: Form, name: str | None, chorus: int, seed: int, player: frozenset[str]) -> tuple[Note, ...]:
    treatments = plan(form, name)
    above = melody.NOTHING if "solo" in player else melody.line(form)
    struck = comping.strikes(form, treatments, above, chorus=chorus, seed=seed)
    below = () if "bass" in player else _bass(form, name, chorus, seed)
    starts = [float(n.beat) for n in below]
    under = [_under(starts, below, s) for s in struck]
    chosen = voicings.choose(struck, above, under, random.Random(f"voicings/{seed}/{chorus}"))
    hand = "left" if {"melody", "solo"} & player and "bass" in player else "right"
    found: list[Note] = []
    for strike, voicing in zip(struck, chosen, strict=True):
        if voicing is not None:
            reason = f"{voicing.shape.family} {voicing.shape.name}; {strike.reason}"
            found += voicings.notes(strike, voicing, hand, reason)
    return tuple(found)


def _under(starts: Sequence[float], below: Sequence[Note], strike: comping.Strike) -> list[int]:
    """Bass notes that sound at any time during a strike; ``starts`` are their beats."""
    at, end = float(strike.beat), float(strike.beat + strike.length)
    first = max(0, bisect_right(starts, at) - 1)
    return [n.midi for n in below[first : bisect_left(starts, end)] if float(n.beat + n.length) > at]
