"""Introductions: made of the tune's last phrase, or of its motif over a vamp or a pedal.

'last' (and 'last-four', 'last-eight') is the tune's last phrase, whose close turns round to the first chord; 'vamp' the
motif and its answers over the turnaround of the key, or over the tune's own first two chords where it stands on them;
'pedal' the motif over the dominant, which the first chord resolves (all common practice).

Conventions: beats in quarters from the introduction's first downbeat.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from companion.arrange.excerpts import excerpt, form_of
from companion.arrange.harmony import harmonies, tonic
from companion.arrange.turnarounds import (
    in_bar,
    is_home,
    leading,
    motif,
    put_off,
    stands_on,
    stated,
    tonic_name,
    turnaround,
)
from companion.chart.model import ChordSpan, Form, MelodyNote
from companion.music.chords import Chord
from companion.preferences import preferences
from companion.preferences.order import OrderPreferences

BREATH = Fraction(1)
"""Quarters of silence before the tune, or its pickup, at least."""


def introduction(form: Form, how: str, bars: int) -> Form:
    """An introduction of so many bars, made in one of the :data:`INTRODUCTIONS`."""
    return _MADE[how](form, max(1, bars))


def _last_phrase(form: Form, bars: int) -> Form:
    made = put_off(excerpt(form, len(form.bars) - bars))
    elsewhere = not is_home(form, harmonies(form)[0].chord)
    if elsewhere or is_home(form, made.chords[-1].chord) or made.chords[-1].start < made.bars[-1]:
        last = made.bars[-1]
        kept = [replace(c, end=min(c.end, last)) for c in made.chords if c.start < last]
        made = replace(made, chords=(*kept, *in_bar(form, last, leading(form))))
    room = made.length - form.pickup
    sung = [replace(n, length=min(n.length, room - n.beat)) for n in made.melody if n.beat < room]
    return replace(made, melody=tuple(sung))


def _vamp(form: Form, bars: int) -> Form:
    static = stands_on(form)
    return _with_motif(form, _in_turn(form, static, bars) if static else turnaround(form, bars))


def _pedal(form: Form, bars: int) -> Form:
    """The first chord and the suspended dominant in turn, over the dominant; at the end it is no longer suspended."""
    first, five = harmonies(form)[0].chord, tonic_name(form).above(5, 7)
    home = first if is_home(form, first) else tonic(form)
    bar, late = form.metre.bar, _begins_late(form)
    spans: list[ChordSpan] = []
    for n in range(bars):
        if n % 2 == late and n < bars - 1:
            spans.append(ChordSpan(n * bar, (n + 1) * bar, home))
        else:
            name = f"{five}7b9" if n == bars - 1 else f"{five}7sus4b9" if form.minor else f"{five}9sus4"
            spans += in_bar(form, n * bar, (name,))
    return _with_motif(form, form_of(form, tuple(n * bar for n in range(bars)), tuple(spans), bars * bar))


def _in_turn(form: Form, chords: tuple[Chord, ...], bars: int) -> Form:
    """One or two chords, a bar each, round and round."""
    bar, late = form.metre.bar, _begins_late(form)
    spans = tuple(ChordSpan(n * bar, (n + 1) * bar, chords[(n + late) % len(chords)]) for n in range(bars))
    return form_of(form, tuple(n * bar for n in range(bars)), spans, bars * bar)


def _begins_late(form: Form) -> int:
    """1 where the motif has a pickup, which then takes the end of the first bar; 0 where it hasn't."""
    said = motif(form)
    return int(bool(said) and said[0].beat < 0)


def _with_motif(form: Form, made: Form) -> Form:
    return replace(made, melody=over_vamp(form, made, made.length - form.pickup - BREATH))


def over_vamp(form: Form, made: Form, room: Fraction) -> tuple[MelodyNote, ...]:
    """The motif every two bars, now higher and now as it was, the last time only its beginning; all before a beat.

    One with a pickup begins with it, in the first bar.
    """
    said, bar, lifts = motif(form), form.metre.bar, preferences(OrderPreferences).motif.lifts
    found: list[MelodyNote] = []
    first = _begins_late(form) if len(made.bars) > 1 else 0
    starts = [n * bar for n in range(first, len(made.bars), 2)]
    for n, at in enumerate(starts):
        last = n == len(starts) - 1 and n > 0
        notes = [note for note in said if note.beat < bar] if last else said
        free = found[-1].beat + found[-1].length if found else Fraction(0)
        before = min((note.beat for note in said), default=Fraction(0))
        until = min(room, starts[n + 1] + min(before, Fraction(0)) if n + 1 < len(starts) else room)
        found += [note for note in stated(made, notes, at, until, lifts[n % len(lifts)]) if note.beat >= free]
    return tuple(found)


_MADE: dict[str, Callable[[Form, int], Form]] = {"last": _last_phrase, "vamp": _vamp, "pedal": _pedal}
INTRODUCTIONS = tuple(_MADE)
"""How introductions are made."""
