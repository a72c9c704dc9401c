"""What became of a note, said as one says it: "F♯ missed", "G, not F♯", "late by 90 ms"; of rounds and takes alike."""

from __future__ import annotations

from companion.chart.model import Form
from companion.music.pitch import pitch_in_key
from companion.practice.judging import JudgedNote

SIGNS = str.maketrans({"b": "♭", "#": "♯"})


def note_name(midi: int, form: Form) -> str:
    """The name of a note in the form's key, without its octave.

    Parameters
    ----------
    midi : int
        MIDI number.
    """
    return str(pitch_in_key(midi, form.fifths, form.minor)).rstrip("-0123456789").translate(SIGNS)


def fault_words(note: JudgedNote, form: Form) -> str:
    """What is wrong with a note: one that is wrong, missing or too many."""
    if note.kind == "missing":
        return "nothing played" if note.expected is None else f"{note_name(note.expected, form)} missed"
    played = note_name(note.pitch or 0, form)
    if note.kind == "wrong":
        wanted = "no note of the chord" if note.expected is None else f"not {note_name(note.expected, form)}"
        return f"{played}, {wanted}"
    return f"{played} too many"


def lateness_words(milliseconds: float) -> str:
    """How far a note fell from its beat; late is positive."""
    return f"{'late' if milliseconds > 0 else 'early'} by {abs(milliseconds):.0f} ms"
