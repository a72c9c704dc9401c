"""What comes before the head and after it: introductions and endings, made from the form's own bars.

Conventions: as in a form, beats are quarters from the first downbeat: an introduction lies below 0, an ending above the
form's length. Chords, bass and melody are arranged for it as for any other bars.

An introduction is 'last' (the last bars of the form, the melody left out), 'vamp' (two bars of the key going round) or
'pedal' (the dominant under the last bars). An ending is 'tag' (the last four bars once more, and again), 'vamp', or
'held'; each comes to rest on the tonic, held (all common practice).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from companion.arrange.harmony import harmonies, tonic
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.chart.model import ChordSpan, Event, Form, MelodyNote, Place
from companion.errors import UseError
from companion.music.chords import parse_chord

INTRODUCTIONS = ("last", "vamp", "pedal")
ENDINGS = ("held", "tag", "vamp")
_OTHER_NAMES = {"last-four": ("last", 4), "last-eight": ("last", 8)}


def introduction(
    form: Form, event: Event, part: str, *, seed: int = 0, player: frozenset[str] = frozenset()
) -> tuple[Note, ...]:
    """The notes of one part of an introduction, with negative beats.

    The bass's last note leads to the form's first chord. Raises UseError when the event says no known way.
    """
    how, bars = _way(event, INTRODUCTIONS, "last", 4)
    before = _vamp(form, bars) if how == "vamp" else _without_melody(excerpt(form, len(form.bars) - bars))
    treatment = "pedal" if how == "pedal" else event.treatment
    notes = arrange(_led_on(before, form), part, treatment=treatment, seed=seed, player=player)
    return _moved(tuple(n for n in notes if n.beat < before.length), -before.length)


def introduction_length(form: Form, event: Event) -> Fraction:
    """Quarters that an introduction takes."""
    how, bars = _way(event, INTRODUCTIONS, "last", 4)
    return _vamp(form, bars).length if how == "vamp" else excerpt(form, len(form.bars) - bars).length


def ending(
    form: Form, event: Event, part: str, *, seed: int = 0, player: frozenset[str] = frozenset()
) -> tuple[Note, ...]:
    """The notes of one part of an ending, from the form's length on.

    Raises UseError when the event says no known way.
    """
    how, bars = _way(event, ENDINGS, "held", 4)
    found: list[Note] = []
    at = form.length
    for time, more in enumerate(_before_the_end(form, how, bars)):
        notes = arrange(more, part, treatment=event.treatment, chorus=time + 1, seed=seed, player=player)
        found += _moved(notes, at)
        at += more.length
    last = final_bar(form)
    return (*found, *_moved(arrange(last, part, treatment="open", seed=seed, player=player), at))


def ending_length(form: Form, event: Event) -> Fraction:
    """Quarters that an ending takes, the held bar included."""
    how, bars = _way(event, ENDINGS, "held", 4)
    return sum((more.length for more in _before_the_end(form, how, bars)), final_bar(form).length)


def _before_the_end(form: Form, how: str, bars: int) -> list[Form]:
    """What is played before the last chord."""
    if how == "tag":
        return [excerpt(form, len(form.bars) - bars)] * 2
    return [_without_melody(_vamp(form, bars))] if how == "vamp" else []


def _way(event: Event, ways: tuple[str, ...], usual: str, bars: int) -> tuple[str, int]:
    """How an event is made, and of how many bars."""
    how, bars = _OTHER_NAMES.get(event.how or usual, (event.how or usual, bars))
    if how not in ways:
        raise UseError(f"{how!r} is no way to make an {event.kind}", mend=f"use one of {', '.join(ways)}")
    return how, event.bars or bars


def excerpt(form: Form, first: int, bars: int | None = None) -> Form:
    """Some bars of a form as a form of their own, from index ``first`` (0 = the first bar) on."""
    first = max(0, first)
    starts = form.bars[first : None if bars is None else first + bars]
    start = starts[0]
    end = form.bars[first + len(starts)] if first + len(starts) < len(form.bars) else form.length
    return replace(
        form,
        length=end - start,
        bars=tuple(bar - start for bar in starts),
        sections=tuple(
            Place(s.name, max(s.start, start) - start, min(s.end, end) - start, s.treatment)
            for s in form.sections
            if s.start < end and s.end > start
        ),
        chords=tuple(
            ChordSpan(max(c.start, start) - start, min(c.end, end) - start, c.chord)
            for c in form.chords
            if c.start < end and c.end > start
        ),
        melody=tuple(
            MelodyNote(n.beat - start, min(n.length, end - n.beat), n.pitch)
            for n in form.melody
            if start <= n.beat < end
        ),
        written=(),
    )


def _led_on(before: Form, form: Form) -> Form:
    """An introduction with the form's first bar after it, so that it leads there."""
    first = excerpt(form, 0, 1)
    spans = (ChordSpan(c.start + before.length, c.end + before.length, c.chord) for c in first.chords)
    return replace(
        before,
        length=before.length + first.length,
        bars=(*before.bars, before.length),
        chords=(*before.chords, *spans),
        sections=(*before.sections, Place("", before.length, before.length + first.length)),
    )


def _without_melody(form: Form) -> Form:
    return replace(form, melody=())


def _vamp(form: Form, bars: int) -> Form:
    """Tonic, sixth degree, second and dominant, two chords a bar, round and round for so many bars."""
    one = tonic(form).root
    assert one is not None
    six, two, five = one.above(6, 8 if form.minor else 9), one.above(2, 2), one.above(5, 7)
    minor = (f"{one}m6", f"{six}maj7", f"{two}m7b5", f"{five}7alt")
    major = (f"{one}6", f"{six}7", f"{two}m7", f"{five}7")
    symbols = minor if form.minor else major
    bar = form.metre.bar
    spans = [ChordSpan(n * bar / 2, (n + 1) * bar / 2, parse_chord(symbols[n % 4])) for n in range(2 * max(1, bars))]
    return _made(form, tuple(n * bar for n in range(bars)), tuple(spans), bars * bar)


def final_bar(form: Form) -> Form:
    """One long bar of the tonic, as the form's last chord says it, or as a sixth chord."""
    home = tonic(form)
    last = harmonies(form)[-1]
    chord = last.chord if last.root == (home.root.pc if home.root else last.root) else home
    length = 2 * form.metre.bar
    return _made(form, (Fraction(0),), (ChordSpan(Fraction(0), length, chord),), length)


def _made(form: Form, bars: tuple[Fraction, ...], spans: tuple[ChordSpan, ...], length: Fraction) -> Form:
    return replace(
        form,
        length=length,
        bars=bars,
        sections=(Place("", Fraction(0), length),),
        chords=spans,
        melody=(),
        written=(),
    )


def _moved(notes: tuple[Note, ...], by: Fraction) -> tuple[Note, ...]:
    return tuple(replace(note, beat=note.beat + by) for note in notes)
