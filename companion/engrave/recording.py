"""A sheet's notes as they sound once through: what is written as a Standard MIDI File or rendered as sound.

Conventions: seconds from the start of the file; the tempo is the chart's, swing and touch are those of the stage.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from companion.arrange.part import Note
from companion.chart.model import Form
from companion.messages import Order
from companion.music.swing import straight_quarters, swing_ratio, to_sounding
from companion.resources import read_config

NOTE_ON, NOTE_OFF = 0x90, 0x80


def orders(form: Form, notes: Iterable[Note]) -> tuple[Order, ...]:
    """The notes as messages, in order of time; the first sounds after the silence that its bar begins with.

    Parameters
    ----------
    form : Form
        For its tempo and feel.
    notes : iterable of Note
        Of any parts.
    """
    played = list(notes)
    parts = dict.fromkeys(note.part for note in played)
    before = min((note.beat for note in played if note.beat < 0), default=0)
    origin = float(before // form.metre.bar * form.metre.bar)
    found: list[tuple[float, int, Order]] = []
    for part in parts:
        found += _part(form, [note for note in played if note.part == part], origin)
    return tuple(order for _, _, order in sorted(found, key=lambda placed: placed[:2]))


def _part(form: Form, notes: Sequence[Note], origin: float) -> list[tuple[float, int, Order]]:
    touch = read_config("touch")
    table = touch.get(notes[0].part, touch["bass"])
    ratio = 1.0 if form.metre.compound else swing_ratio(form.tempo, form.feel)
    straight = straight_quarters(note.beat for note in notes)
    beat = 60.0 / form.tempo
    found = []
    for note in notes:
        start = to_sounding(note.beat, ratio, straight)
        end = start + (to_sounding(note.beat + note.length, ratio, straight) - start) * float(table["length"])
        velocity = max(1, min(127, round(float(table["level"]) * note.weight)))
        for at, status, struck in ((start, NOTE_ON, velocity), (end, NOTE_OFF, 0)):
            seconds = (at - origin) * beat
            found.append((seconds, int(status == NOTE_ON), Order(seconds, note.part, status, note.midi, struck)))
    return found
