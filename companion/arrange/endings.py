"""Endings: what comes between the last time through a tune and its last chord, and that chord.

A close is put off until the last chord, or until the tune's own close in the last phrase. 'held' is the last chord
alone, 'ritardando' the same, towards which the form slows down; 'tag' the last phrase twice more, the first time with
its close put off; 'turnaround' III-VI-II-V twice, with the end of the last phrase over it; 'deceptive' the lowered
sixth degree and the lowered second, under the tune's last note; 'vamp' the introduction's, once more. Each comes to
rest on the tonic, held, in a colour that the tune has room for (all common practice).

Conventions: beats in quarters from the ending's first downbeat.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from companion.arrange.excerpts import excerpt, form_of, sections_as
from companion.arrange.harmony import harmonies, tonic
from companion.arrange.introductions import introduction, over_vamp
from companion.arrange.turnarounds import homecoming, in_bar, put_off, stated, tonic_name, turnaround
from companion.chart.model import ChordSpan, Form, MelodyNote
from companion.music.chords import Chord, parse_chord

ENDINGS = ("held", "tag", "vamp", "ritardando", "turnaround", "deceptive")
"""How endings are made."""
RISES = 4
"""Notes of a figure that rises to the last one."""
AT_REST = "open"
"""Treatment of the last chord."""


def before_the_last_chord(form: Form, how: str, bars: int) -> list[Form]:
    """What an ending has before its last chord, made in one of the :data:`ENDINGS`; empty where it has nothing."""
    if how == "tag":
        phrase = excerpt(form, len(form.bars) - bars)
        found = homecoming(phrase)
        last = put_off(phrase) if found and found[1] < phrase.length else phrase
        return [put_off(phrase), last]
    if how == "vamp":
        made = introduction(form, "vamp", bars)
        return [replace(made, melody=over_vamp(form, made, made.length))]
    if how == "turnaround":
        return [_turnaround(form, bars)]
    return [_deceptive(form)] if how == "deceptive" else []


def _turnaround(form: Form, bars: int) -> Form:
    """III-VI-II-V, and again, the last bar of the tune's melody over each first bar of two."""
    made = turnaround(replace(form, chords=_home(form)), bars, from_third=True)
    said = _last_words(form)
    sung: list[MelodyNote] = []
    for n in range(0, bars, 2):
        sung += stated(made, said, n * form.metre.bar, min(made.length, (n + 2) * form.metre.bar))
    return replace(made, melody=tuple(sung))


def _home(form: Form) -> tuple[ChordSpan, ...]:
    """The tonic, to which an ending's turnaround leads whatever a tune begins on."""
    return (ChordSpan(Fraction(0), form.length, tonic(form)),)


def _last_words(form: Form) -> tuple[MelodyNote, ...]:
    """The last bar of the melody that moves, from its bar line."""
    for n in reversed(range(len(form.bars))):
        notes = excerpt(form, n, 1).melody
        if len(notes) > 2:
            return notes
    return excerpt(form, len(form.bars) - 1, 1).melody


def _deceptive(form: Form) -> Form:
    """A bar of the lowered sixth degree and a bar of the lowered second, which have the tonic for third and seventh."""
    one, bar = tonic_name(form), form.metre.bar
    six, two = one.above(6, 8), one.above(2, 1)
    spans = (*in_bar(form, Fraction(0), (f"{six}maj7",)), *in_bar(form, bar, (f"{two}maj7",)))
    made = form_of(form, (Fraction(0), bar), spans, 2 * bar)
    last = form.melody[-1].pitch.midi if form.melody else 60 + one.pc
    at = last + (one.pc - last + 6) % 12 - 6  # the tonic nearest to the last note
    return replace(made, melody=(MelodyNote(Fraction(0), 2 * bar, one.at(at)),))


def last_chord(form: Form, how: str = "held") -> Form:
    """One long bar of the tonic, in a colour: as the tune's last chord says it, or one that suits its last note.

    Where the melody hasn't closed before it does now: on a held note, or after a vamp in a figure that rises to one.
    """
    length, chord = 2 * form.metre.bar, _coloured(form)
    made = form_of(form, (Fraction(0),), (ChordSpan(Fraction(0), length, chord),), length)
    closed = homecoming(form)
    if not form.melody or (how in ("held", "ritardando", "tag") and closed and closed[1] == form.length):
        return sections_as(made, AT_REST)
    rises = how in ("vamp", "turnaround")
    return sections_as(replace(made, melody=_rising(form, made) if rises else _close(form, made)), AT_REST)


def _close(form: Form, made: Form) -> tuple[MelodyNote, ...]:
    """One held note: the tune's last, or the tone of the chord nearest to it."""
    midi = min(_tones(made), key=lambda one: abs(one - form.melody[-1].pitch.midi))
    return (MelodyNote(Fraction(0), made.length, harmonies(made)[0].name(midi % 12).at(midi)),)


def _rising(form: Form, made: Form) -> tuple[MelodyNote, ...]:
    """Four tones of the chord in a row upwards, on each half beat, the last of them held."""
    half, middle = form.metre.pulse / 2, form.melody[-1].pitch.midi
    start = min(range(len(_tones(made)) - RISES), key=lambda n: abs(_tones(made)[n] - middle))
    tones = _tones(made)[start : start + RISES]
    lengths = [half] * (len(tones) - 1) + [made.length - half * (len(tones) - 1)]
    name = harmonies(made)[0].name
    return tuple(
        MelodyNote(n * half, long, name(midi % 12).at(midi))
        for n, (midi, long) in enumerate(zip(tones, lengths, strict=True))
    )


def _tones(made: Form) -> list[int]:
    """The tones of the last chord within the melody's reach, from the lowest, the root left out."""
    home = harmonies(made)[0]
    return [midi for midi in range(60, 90) if midi % 12 in home.tones and midi % 12 != home.root]


def _coloured(form: Form) -> Chord:
    home, last = tonic_name(form), harmonies(form)[-1]
    at_home = [h.chord for h in harmonies(form) if h.root == home.pc and h.bass == home.pc]
    if any(d.number == 7 and d.alter == -1 for chord in at_home[-1:] for d in chord.tones) and not form.minor:
        return parse_chord(f"{home}13")  # a blues ends as it lives
    if last.root == home.pc and len(last.chord.tones) > 4:
        return last.chord
    names = ("m6/9", "m(maj7)") if form.minor else ("6/9", "maj9", "maj7#11")
    sung = {form.melody[-1].pitch.midi % 12} if form.melody else set()
    chords = [parse_chord(f"{home}{name}") for name in names]
    fitting = [c for c in chords if all((pc - home.pc) % 12 in {d.semitones % 12 for d in c.tones} for pc in sung)]
    return (fitting or chords)[len(form.melody) % len(fitting or chords)]
