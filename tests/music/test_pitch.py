"""Spelled pitch against scientific pitch notation and MIDI 1.0 (A4 = 69, C4 = 60), and what is common practice."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.music.pitch import Name, Pitch, name_at_fifth, name_in_key, parse_name, pitch_in_key

NAMES = st.builds(Name, st.sampled_from("CDEFGAB"), st.integers(-2, 2))


@pytest.mark.parametrize(
    ("pitch", "midi"),
    [  # MIDI 1.0, scientific pitch; the piano's range is common practice
        (Pitch("C", 0, 4), 60),
        (Pitch("A", 0, 4), 69),
        (Pitch("A", 0, 0), 21),
        (Pitch("C", 0, 8), 108),
        (Pitch("C", -1, 4), 59),
        (Pitch("B", 1, 3), 60),
        (Pitch("F", 2, 3), 55),
    ],
)
def test_a_spelled_pitch_sounds_as_its_midi_number(pitch: Pitch, midi: int) -> None:
    assert pitch.midi == midi
    assert pitch.name.at(midi) == pitch


def test_names_are_read_as_they_are_written() -> None:
    spellings = {
        "Bb": ("B", -1), "b♭": ("B", -1), "F#": ("F", 1), "C♯": ("C", 1), "E𝄫": ("E", -2), "Gx": ("G", 2),
        "D##": ("D", 2), "Abb": ("A", -2), " a ": ("A", 0), "b": ("B", 0),
    }  # fmt: skip
    assert {text: (parse_name(text).step, parse_name(text).alter) for text in spellings} == spellings


@pytest.mark.parametrize("text", ["", "H", "C#b", "Cbbb", "C4", "Do", "#C"])
def test_what_is_no_note_name_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a note name"):
        parse_name(text)


@given(NAMES)
def test_a_name_reads_back_from_its_text(name: Name) -> None:
    assert parse_name(str(name)) == name


@given(NAMES)
def test_the_line_of_fifths_names_every_note(name: Name) -> None:
    assert name_at_fifth(name.fifth) == name
    assert name.pc == name.fifth * 7 % 12


@pytest.mark.parametrize(
    ("root", "number", "semitones", "found"),
    [  # common practice
        ("D", 3, 4, "F#"),
        ("Eb", 3, 3, "Gb"),
        ("B", 2, 1, "C"),
        ("F#", 7, 10, "E"),
        ("Db", 7, 9, "Cbb"),
        ("C", 9, 14, "D"),
        ("G#", 3, 4, "B#"),
        ("Cb", 5, 7, "Gb"),
    ],
)
def test_an_interval_above_keeps_its_letters(root: str, number: int, semitones: int, found: str) -> None:
    assert str(parse_name(root).above(number, semitones)) == found


@given(NAMES, st.integers(1, 7), st.integers(0, 11))
def test_an_interval_above_sounds_so_many_semitones_higher(name: Name, number: int, semitones: int) -> None:
    assert name.above(number, semitones).pc == (name.pc + semitones) % 12


@pytest.mark.parametrize(
    ("fifths", "minor", "spelled"),
    [  # common practice: flats in flat keys, the leading note of a minor key sharp
        (0, False, "C Db D Eb E F F# G Ab A Bb B"),
        (-3, False, "C Db D Eb E F Gb G Ab A Bb B"),
        (2, False, "C C# D Eb E F F# G G# A Bb B"),
        (0, True, "C C# D D# E F F# G G# A Bb B"),
        (-3, True, "C Db D Eb E F F# G Ab A Bb B"),
        (-6, False, "C Db D Eb E F Gb G Ab A Bb Cb"),
        (6, False, "C C# D D# E E# F# G G# A A# B"),
        (4, True, "B# C# D D# E F F# G G# A A# B"),
    ],
)
def test_black_keys_are_spelled_as_the_key_spells_them(fifths: int, minor: bool, spelled: str) -> None:
    assert " ".join(str(name_in_key(pc, fifths, minor)) for pc in range(12)) == spelled


@given(st.integers(0, 127), st.integers(-7, 7), st.booleans())
def test_every_key_of_the_keyboard_has_a_spelling_in_every_key(midi: int, fifths: int, minor: bool) -> None:
    assert pitch_in_key(midi, fifths, minor).midi == midi


@given(st.integers(-7, 7))
def test_the_notes_of_a_key_keep_its_signature(fifths: int) -> None:
    scale = [name_at_fifth(fifths + place) for place in range(-1, 6)]
    assert [name_in_key(name.pc, fifths) for name in scale] == scale
    assert [name_in_key(name.pc, fifths, minor=True) for name in scale] == scale


def test_a_name_does_not_sound_as_another_pitch_class() -> None:
    with pytest.raises(ValueError, match="Eb does not sound as MIDI 60"):
        Name("E", -1).at(60)
