"""A sheet's notes as they sound once through: a Standard MIDI File in bars and beats, or messages to be rendered.

Conventions: the file starts with a bar line, the bar of the pickup included; beats are quarters from there, seconds
too. Swing and touch are those of the stage, the tempo is the chart's. Channels and programs are those of every file of
the companion's. Source: Standard MIDI Files 1.0 (tempo, time signature, key signature, marker).
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

from companion.arrange.part import Note
from companion.arrange.touch.performed import Performed, performed
from companion.chart.model import Form
from companion.engrave.score import metre_of
from companion.messages import PARTS, Order, Part
from companion.music.pitch import name_at_fifth
from companion.stage.ritardando import Ritardando

NOTE_ON, NOTE_OFF, CONTROL = 0x90, 0x80, 0xB0
SUSTAIN = 64
DOWN, UP = 127, 0
TICKS_A_QUARTER = 960


@dataclass(frozen=True)
class Sounded:
    """One message and its sounding beat."""

    beat: float
    part: Part
    status: int
    data1: int
    data2: int


def orders(form: Form, notes: Iterable[Note], seed: int = 0, slows: Ritardando | None = None) -> tuple[Order, ...]:
    """The notes as messages with their seconds, in order of time.

    Parameters
    ----------
    form : Form
        For its tempo and feel.
    notes : iterable of Note
        Of any parts.
    seed : int
        Another seed, another hand.
    slows : Ritardando, optional
        Where it slows down, in quarters from beat 0 of the form.
    """
    played = list(notes)
    tempi = _tempi(form, slows, float(_origin(form, played)))
    return tuple(
        Order(_seconds(tempi, m.beat), m.part, m.status, m.data1, m.data2) for m in sounded(form, played, seed)
    )


def _tempi(form: Form, slows: Ritardando | None, origin: float) -> list[tuple[float, float]]:
    """From which beat of the file which tempo holds, in quarters a minute."""
    steps = slows.steps(float(form.metre.pulse)) if slows else []
    return [(0.0, form.tempo), *((beat - origin, share * form.tempo) for beat, share in steps)]


def _seconds(tempi: Sequence[tuple[float, float]], beat: float) -> float:
    """The moment of a beat under some tempi; no beat lies before the file."""
    ends = [start for start, _ in tempi[1:]] + [beat]
    return sum(max(0.0, min(end, beat) - start) * 60.0 / tempo for (start, tempo), end in zip(tempi, ends, strict=True))


def sounded(form: Form, notes: Iterable[Note], seed: int = 0, *, plain: bool = False) -> list[Sounded]:
    """The notes as messages with their sounding beats, in order; of two at one beat the one that ends comes first."""
    played = list(notes)
    origin = float(_origin(form, played))
    found: list[Sounded] = []
    for one in performed(form, played, seed, plain=plain):
        found += _messages(one, origin)
    return sorted(found, key=lambda m: (m.beat, m.status == NOTE_ON, m.data2 == DOWN and m.status == CONTROL))


def _origin(form: Form, notes: Iterable[Note]) -> Fraction:
    """The bar line with which the file begins: that of the pickup, or 0."""
    before = min((note.beat for note in notes if note.beat < 0), default=Fraction(0))
    return before // form.metre.bar * form.metre.bar


def _messages(one: Performed, origin: float) -> list[Sounded]:
    """The pedal stays at the note's place: it catches what is struck, and holds on to nothing that was there before."""
    part, midi, start = one.note.part, one.note.midi, max(0.0, one.start - origin)
    found = [
        Sounded(start, part, NOTE_ON, midi, one.velocity),
        Sounded(max(start, one.end - origin), part, NOTE_OFF, midi, 0),
    ]
    if one.note.pedal:
        found.append(Sounded(one.place - origin, part, CONTROL, SUSTAIN, DOWN))
        found.append(Sounded(one.full - origin, part, CONTROL, SUSTAIN, UP))
    return found


def midi_file(
    form: Form,
    notes: Iterable[Note],
    title: str,
    seed: int = 0,
    slows: Ritardando | None = None,
    *,
    plain: bool = False,
) -> bytes:
    """The notes as a type 1 Standard MIDI File: title, tempo, metre, key and sections first, then a track a part.

    Parameters
    ----------
    form : Form
    notes : iterable of Note
        Of any parts.
    title : str
        Name of the first track.
    seed : int
        Another seed, another hand.
    slows : Ritardando, optional
        Where it slows down, in quarters from beat 0 of the form: a tempo on each pulse.
    plain : bool
        Without a hand, so that a program reads it back as it is written.
    """
    import mido

    from companion.stage.performance import CHANNELS, PROGRAMS

    played = list(notes)
    midi = mido.MidiFile(type=1, ticks_per_beat=TICKS_A_QUARTER, charset="utf-8")
    timed = [(_tick(beat), message) for beat, message in _conductor(form, _origin(form, played), slows)]
    midi.tracks.append(_track(title, timed))
    messages = sounded(form, played, seed, plain=plain)
    for part in (part for part in PARTS if any(m.part == part for m in messages)):
        channel = CHANNELS[part]
        timed = [(0, mido.Message("program_change", channel=channel - 1, program=PROGRAMS.get(channel, 1) - 1))]
        for m in messages:
            if m.part == part:
                message = mido.Message.from_bytes([m.status | (channel - 1), m.data1, m.data2])
                timed.append((_tick(m.beat), message))
        midi.tracks.append(_track(part, timed))
    buffer = io.BytesIO()
    midi.save(file=buffer)
    return buffer.getvalue()


def _conductor(form: Form, origin: Fraction, slows: Ritardando | None) -> Iterable[tuple[Fraction | float, Any]]:
    import mido

    tonic = name_at_fifth(form.fifths + 3 if form.minor else form.fifths)
    for beat, tempo in _tempi(form, slows, float(origin)):
        yield beat, mido.MetaMessage("set_tempo", tempo=round(60e6 / tempo))
    yield Fraction(0), mido.MetaMessage("key_signature", key=f"{tonic}{'m' if form.minor else ''}")
    bars = [(start, end - start) for start, end in pairwise([*form.bars, form.length])]
    before = None
    for start, length in [(origin, form.metre.bar), *bars] if origin else bars:
        metre = form.metre if length == form.metre.bar else metre_of(length)
        if metre != before:
            signature = mido.MetaMessage("time_signature", numerator=metre.beats, denominator=metre.beat_type)
            yield start - origin, signature
        before = metre
    for place in form.sections:
        yield place.start - origin, mido.MetaMessage("marker", text=place.name)


def _tick(beat: float | Fraction) -> int:
    return round(beat * TICKS_A_QUARTER)


def _track(name: str, timed: Iterable[tuple[int, Any]]) -> Any:
    import mido

    track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
    last = 0
    for tick, message in sorted(timed, key=lambda pair: pair[0]):
        track.append(message.copy(time=tick - last))
        last = tick
    return track
