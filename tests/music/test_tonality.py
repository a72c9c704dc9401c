"""Keys are found and notes spelled as musicians would."""

from __future__ import annotations

import pytest

from companion.music.chords import parse_chord
from companion.music.tonality import find_key, spell


def scale(tonic, steps):
    return [(60 + (tonic + step) % 12, 1.0) for step in (*steps, 0)]


@pytest.mark.parametrize("fifths", range(-5, 7))
def test_a_scale_that_ends_on_its_tonic_is_in_its_key(fifths):
    major = fifths * 7 % 12
    assert find_key(scale(major, (0, 2, 4, 5, 7, 9, 11))) == (fifths, False)
    # the harmonic minor scale (common practice)
    assert find_key(scale(major + 9, (0, 2, 3, 5, 7, 8, 11))) == (fifths, True)


def test_chords_tell_a_minor_key_from_its_relative():
    notes = [(p, 1.0) for p in (60, 62, 64, 65, 67, 69, 71, 72)]
    chords = [(parse_chord(symbol), 4.0) for symbol in ("Am6", "Bm7b5", "E7alt", "Am6")]
    assert find_key(notes, chords) == (0, True)


@pytest.mark.parametrize(
    ("notes", "chords", "key", "spelled"),
    [
        # a chord's own notes as it spells them, a chromatic step by the next letter (common practice)
        ([68, 69], ["E7", "Am7"], (0, False), "G#4 A4"),
        ([63, 62], [None, None], (0, False), "Eb4 D4"),
        ([63, 64], [None, None], (0, False), "D#4 E4"),
        ([66, 67], [None, None], (-3, False), "F#4 G4"),
        ([68], ["Fm6"], (0, False), "Ab4"),
        ([71, 72], [None, None], (-3, True), "B4 C5"),
        ([61, 63, 66], [None, None, None], (-5, False), "Db4 Eb4 Gb4"),
        ([61, 63, 66], [None, None, None], (5, False), "C#4 D#4 F#4"),
    ],
)
def test_notes_are_spelled_by_key_chord_and_step(notes, chords, key, spelled):
    under = [parse_chord(chord) if chord else None for chord in chords]
    assert " ".join(map(str, spell(notes, under, *key))) == spelled
