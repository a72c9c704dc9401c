"""The notes of all parts as they are performed at the form's own tempo: swung, struck by hand, let go.

Conventions: beats in quarters from the first downbeat, as they sound; velocities 1-127, while nobody plays along.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from companion.arrange.part import Note
from companion.arrange.touch.stroke import Stroke, strokes
from companion.arrange.touch.swinging import end_ratio, part_ratio
from companion.chart.model import Form
from companion.messages import TINY
from companion.music.swing import straight_quarters, to_sounding
from companion.preferences import preferences
from companion.preferences.touch import TouchPreferences


@dataclass(frozen=True)
class Performed:
    """One note as it sounds."""

    note: Note
    place: float
    """Where it would begin and end if it were struck by no hand."""
    full: float
    start: float
    end: float
    velocity: int


EVEN_HAND = Stroke(held=0.9)
"""Every note at its place and let go alike: so it is told from a sequencer's, and read back as it is written."""


def performed(form: Form, notes: Iterable[Note], seed: int = 0, *, plain: bool = False) -> list[Performed]:
    """The notes as they sound, part by part, in each in order of their places.

    Parameters
    ----------
    form : Form
        For its tempo, its feel and its bars.
    notes : iterable of Note
        Of any parts.
    seed : int
        Another seed, another hand.
    plain : bool
        Swung, every note at its place and held alike.
    """
    played = list(notes)
    found: list[Performed] = []
    for part in dict.fromkeys(note.part for note in played):
        found += _part(form, [note for note in played if note.part == part], seed, plain)
    return found


def _part(form: Form, notes: Sequence[Note], seed: int, plain: bool) -> list[Performed]:
    level = preferences(TouchPreferences).parts[notes[0].part].level
    ratio, ends = part_ratio(form, notes[0].part), end_ratio(form, notes[0].part)
    straight = straight_quarters(note.beat for note in notes)
    found = []
    struck = [EVEN_HAND] * len(notes) if plain else strokes(form, notes, str(seed))
    for note, stroke in zip(notes, struck, strict=True):
        place = to_sounding(note.beat, ratio, straight)
        full = to_sounding(note.beat + note.length, ends, straight)
        start = place + stroke.late * form.tempo / 60.0
        velocity = max(1, min(127, round(level * note.weight * stroke.firmness)))
        found.append(Performed(note, place, full, start, start + (full - place) * stroke.held, velocity))
    return _one_at_a_time(sorted(found, key=lambda one: one.place))


def _one_at_a_time(found: Sequence[Performed]) -> list[Performed]:
    """A key that is struck again is let go before, however early it is struck."""
    kept: list[Performed] = []
    after: dict[int, float] = {}
    for one in reversed(found):
        again = after.get(one.note.midi)
        if again is not None and one.start + TINY < again < one.end:
            one = replace(one, end=again)
        after[one.note.midi] = one.start
        kept.append(one)
    return kept[::-1]
