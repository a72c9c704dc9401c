"""Notes written in ABC: heads that add up, triplets, ties over bar lines, accidentals where readers differ (ABC 2.1)."""

# ruff: noqa: E501 (texts and what is said of them stand whole in the tables)

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.abc.write import AbcChord, SoundingSpan, write_line, write_melody
from companion.chart.model import MelodyNote
from companion.chart.toml.melody import read_melody
from companion.music.pitch import Pitch

EIGHTH = Fraction(1, 2)


def pitch(name: str) -> Pitch:
    return Pitch(name[0], name.count("#") - name[1:].count("b"), int(name.strip("ABCDEFG#b")))


def written(notes: str, bars: int = 1, fifths: int = 0, beat: Fraction = Fraction(1), size: int = 4) -> str:
    """Notes as 'C5@0+1', with beats and lengths in quarters."""
    melody = []
    for note in notes.split():
        name, _, place = note.partition("@")
        at, _, length = place.partition("+")
        melody.append(MelodyNote(Fraction(at), Fraction(length), pitch(name)))
    sizes = [Fraction(size)] * bars
    pickup, inside, after = write_melody(melody, sizes, EIGHTH, fifths, beat)
    text = f"{pickup}|{'|'.join(inside)}|{after}"
    assert read_melody(text, sizes, Fraction(size), EIGHTH, fifths)[0] == tuple(melody)
    return text


@pytest.mark.parametrize(
    ("notes", "text"),
    [
        ("C5@0+4", "|c8|"), ("C5@0+1/2 D5@1/2+1/2 E5@1+1", "|cd e2 z4|"), ("C5@0+3/2 D5@3/2+1/2", "|c3d z4|"),
        ("C5@0+7/2", "|c7z|"), ("C5@0+5/2", "|c4-cz3|"), ("C5@0+9/4", "|c4-c/2z7/2|"), ("C5@0+1/4 D5@1/4+1/4", "|c/2d/2z7|"),
        ("C5@0+15/4", None), ("C4@0+1 C3@1+1 C6@2+1 C7@3+1", "|C2 C,2 c'2 c''2|"), ("", "|z8|"),
        ("C5@0+1/3 D5@1/3+1/3 E5@2/3+1/3 F5@1+3", "|(3cde f6|"), ("C5@0+2/3 D5@2/3+2/3 E5@4/3+2/3", "|(3c2d2e2 z4|"),
        ("C5@0+2/3 D5@2/3+1/3", "|(3:2:2c2d z6|"), ("C5@0+1/3 D5@1/3+2/3", "|(3:2:2cd2 z6|"),
        ("C5@0+1/6 D5@1/6+1/6 E5@1/3+1/6", "|(3c/2d/2e/2z7|"), ("C5@0+4/3 D5@4/3+4/3 E5@8/3+4/3", "|(3c4d4e4|"),
        ("C5@0+2/5", "|c4/5z36/5|"), ("C5@1/3+1/3", None), ("C5@0+1/3 D5@1/3+5/3", "|(3:2:2cd/2-d3 z4|"),
        ("C5@0+1/12 D5@1/12+1/12 E5@1/6+1/12", "|(3c/4d/4e/4z7z/2|"), ("C5@1/2+1/6 D5@2/3+1/6 E5@5/6+1/6", "|z(3c/2d/2e/2 z6|"),
        ("C5@1/4+1/6 D5@5/12+1/6 E5@7/12+1/6", "|z/2(3c/2d/2e/2z6z/2|"), ("C5@1/2+1/3 D5@5/6+1/3 E5@7/6+1/3", "|z(3cdez4z|"),
        ("C5@1/4+1/3 D5@7/12+1/3 E5@11/12+1/3", "|z/2(3:2:2cd/2-(3:2:2d/2ez4z3/2|"), ("C5@2/3+1/3 D5@1+1", "|(3:2:2z2c d2 z4|"),
        ("C5@1+2/3 D5@5/3+2/3 E5@7/3+2/3", "|z2 (3c2d2e2 z2|"), ("C5@1/3+1/3 D5@2/3+1/3", "|(3zcd z6|"),
        ("C5@0+1/3 D5@1/3+1/6 E5@1/2+1/6 F5@2/3+1/3", "|(3:2:2cd/2(3:2:2e/2f z6|"), ("C5@0+1/6 D5@1/6+5/6", "|(3:2:2c/2d/4-d3/2 z6|"),
    ],
)  # fmt: skip
def test_how_lengths_are_written(notes: str, text: str | None) -> None:
    found = written(notes)
    assert text is None or found == text


@pytest.mark.parametrize(
    ("notes", "text"),
    [
        ("C5@3+2", "|z6 c2-|c2 z6|"), ("C5@-1+1 D5@0+4", "c2|d8|z8|"), ("C5@-1+2", "c2-|c2 z6|z8|"), ("C5@7+3", "|z8|z6 c2-|c4"),
        ("C5@-1/2+1/2", "c|z8|z8|"), ("C5@-3/2+1/2 D5@-1+1", "c d2|z8|z8|"), ("C5@3+6", "|z6 c2-|c8-|c2"),
        ("C5@11/3+1/3 D5@4+4", None), ("C5@3+1/3 D5@10/3+4/3 E5@14/3+1/3", "|z6 (3:2:2cd2-|(3:2:2d2e z6|"),
        ("C5@-1+1/3 D5@-2/3+2/3 E5@0+4", "(3:2:2cd2|e8|z8|"), ("C5@-1/2+1/6 D5@-1/3+1/6 E5@-1/6+1/6", "(3c/2d/2e/2|z8|z8|"),
    ],
)  # fmt: skip
def test_notes_over_bar_lines_before_the_first_and_after_the_last(notes: str, text: str | None) -> None:
    found = written(notes, 2)
    assert text is None or found == text


@pytest.mark.parametrize(
    ("notes", "fifths", "text"),
    [
        ("C#5@0+2 C#5@2+2", 0, "|^c4 c4|"), ("C#5@0+2 C5@2+2", 0, "|^c4 =c4|"), ("F#5@0+2 F5@2+2", 1, "|f4 =f4|"),
        ("Bb4@0+4", -1, "|B8|"), ("B4@0+2 B4@2+2", -1, "|=B4 B4|"), ("C#5@0+2 C4@2+2", 0, "|^c4 =C4|"),
        ("C#5@0+2 C#4@2+2", 0, "|^c4 ^C4|"), ("C##5@0+2 Cbb5@2+2", 0, "|^^c4 __c4|"), ("C#5@0+1 C4@1+1 C#5@2+2", 0, "|^c2 =C2 ^c4|"),
    ],
)  # fmt: skip
def test_an_accidental_stands_wherever_readers_might_differ(notes: str, fifths: int, text: str) -> None:
    assert written(notes, 1, fifths) == text


def test_after_a_bar_line_an_accidental_is_said_again_under_a_tie() -> None:
    assert written("C#5@3+2 C#5@5+1", 2) == "|z6 ^c2-|^c2 c2 z4|"
    assert written("C#5@3+2 C5@5+1", 2) == "|z6 ^c2-|^c2 =c2 z4|"


def test_notes_are_grouped_by_the_beat_that_is_given() -> None:
    eighths = " ".join(f"C5@{k}/2+1/2" for k in range(6))
    assert written(eighths, beat=Fraction(3, 2), size=3) == "|ccc ccc|"
    assert written(eighths, size=3) == "|cc cc cc|"


def test_notes_of_a_bar_of_five_quavers_are_grouped_from_its_own_beginning() -> None:
    melody = [MelodyNote(Fraction(k, 2), Fraction(1, 2), pitch("C5")) for k in range(10)]
    assert write_melody(melody, [Fraction(5, 2)] * 2, EIGHTH)[1] == ["cc cc c"] * 2


def test_a_chord_has_its_marks_before_it_and_those_of_its_notes_inside() -> None:
    chord = AbcChord((pitch("C4"), pitch("E4")), "!ped!", ("", "!voice3!"))
    one = AbcChord((pitch("G4"),), "!>!")
    spans = [SoundingSpan(Fraction(0), Fraction(5, 2), chord), SoundingSpan(Fraction(3), Fraction(5), one)]
    found = write_line(spans, [Fraction(4)] * 3, EIGHTH)
    assert found == ("", ["!ped![C!voice3!E]4-[CE]z !>!G2-", "G2 z6", ""], "")


def test_letters_that_another_line_of_the_bar_has_altered_say_their_accidental() -> None:
    spans = [
        SoundingSpan(Fraction(0), Fraction(2), AbcChord((pitch("C5"),))),
        SoundingSpan(Fraction(2), Fraction(4), AbcChord((pitch("C5"),))),
    ]
    taken: list[set[str]] = [set(), {"C"}, set()]
    assert write_line(spans, [Fraction(4)], EIGHTH, taken=taken)[1] == ["=c4 c4"] and taken[1] == {"C"}
    over = [SoundingSpan(Fraction(2), Fraction(5), AbcChord((pitch("C5"),)))]
    assert write_line(over, [Fraction(4)], EIGHTH, taken=[set(), set(), {"C"}]) == ("", ["z4 c4-"], "=c2")
    before = [SoundingSpan(Fraction(-1), Fraction(0), AbcChord((pitch("C5"),)))]
    assert write_line(before, [Fraction(4)], EIGHTH, taken=[{"C"}, set(), set()]) == ("=c2", [""], "")
    fresh: list[set[str]] = [set(), set(), set()]
    sharp = [SoundingSpan(Fraction(0), Fraction(4), AbcChord((pitch("F#5"),)))]
    assert write_line(sharp, [Fraction(4)], EIGHTH, taken=fresh)[1] == ["^f8"] and fresh == [set(), {"F"}, set()]
