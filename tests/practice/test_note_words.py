"""What became of a note, in words: names as the key spells them, late and early."""

from __future__ import annotations

import pytest

from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.practice.judging import JudgedNote
from companion.practice.note_words import fault_words, lateness_words, note_name


def in_key(key: str) -> Form:
    return parse_toml(f"""
format = 1
title = "One Bar"
key = "{key}"
form = "A"

[section.A]
chords = "| C6 |"
""").unfold()


@pytest.mark.parametrize(("key", "midi", "name"), [("D major", 66, "F♯"), ("Db major", 66, "G♭"), ("C major", 60, "C")])
def test_notes_are_named_as_their_key_spells_them(key: str, midi: int, name: str) -> None:
    assert note_name(midi, in_key(key)) == name


@pytest.mark.parametrize(
    ("note", "words"),
    [
        (JudgedNote("missing", 0.0, 66, None, None), "F♯ missed"),
        (JudgedNote("wrong", 0.0, 66, 67, 1.0), "G, not F♯"),
        (JudgedNote("extra", 0.0, None, 69, 1.0), "A too many"),
        (JudgedNote("wrong", 0.0, None, 69, 1.0), "A, no note of the chord"),
        (JudgedNote("missing", 0.0, None, None, None), "nothing played"),
    ],
)
def test_a_fault_is_said_shortly(note: JudgedNote, words: str) -> None:
    assert fault_words(note, in_key("D major")) == words


def test_late_is_positive() -> None:
    assert (lateness_words(90.2), lateness_words(-40.0)) == ("late by 90 ms", "early by 40 ms")
