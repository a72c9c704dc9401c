"""A melody between bar lines: where bars begin, what may be left out, and what is said of what can't be read."""

# ruff: noqa: E501 (messages stand whole in the tables)

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.model import MelodyNote
from companion.chart.toml.melody import count_melody_bars, read_melody
from companion.errors import ChartError

EIGHTH, FOUR = Fraction(1, 2), Fraction(4)


def told(notes: tuple[MelodyNote, ...]) -> str:
    return " ".join(f"{note.pitch}@{float(note.beat):g}+{float(note.length):g}" for note in notes)


def read(text: str, bars: int | None = None, faults: list[ChartError] | None = None) -> str:
    sizes = None if bars is None else [FOUR] * bars
    if faults is None:
        return told(read_melody(text, sizes, FOUR, EIGHTH)[0])
    return told(read_melody(text, sizes, FOUR, EIGHTH, report=faults.append)[0])


@pytest.mark.parametrize(
    ("text", "bars", "notes"),
    [
        ("| c8 | d8 |", 2, "C5@0+4 D5@4+4"), ("c8 | d8", 2, "C5@0+4 D5@4+4"), ("| c8 | d8", 2, "C5@0+4 D5@4+4"),
        ("c8 | d8 |", 2, "C5@0+4 D5@4+4"), ("G2 | c8 | d8 |", 2, "G4@-1+1 C5@0+4 D5@4+4"), ("c8", 1, "C5@0+4"),
        ("c8", None, "C5@0+4"), ("G2 | c8 |", None, "G4@-1+1 C5@0+4"), ("| c8- | c4 z4 |", None, "C5@0+6"),
        ("| z4 c4- | c2", 1, "C5@2+3"), ("| c8- | c8- c2", 1, "C5@0+9"), ("| Z2 | c8 |", 3, "C5@8+4"), ("| Z | c8 |", 2, "C5@4+4"),
        ("| Z0 | c8 |", 2, "C5@4+4"), ("| c8 | % the end\n| d8 |", 2, "C5@0+4 D5@4+4"), ("| | c8 |", 2, "C5@4+4"),
        ("G2- | G2 c6 |", None, "G4@-1+2 C5@1+3"), ("| [ce]4 {ab}g4 |", 1, "E5@0+2 G5@2+2"),
    ],
)  # fmt: skip
def test_where_notes_stand(text: str, bars: int | None, notes: str) -> None:
    assert read(text, bars) == notes


def test_a_rest_of_a_whole_bar_lasts_as_long_as_its_bar_to_the_last_one() -> None:
    assert told(read_melody("| Z | c8 | Z |", [Fraction(2), FOUR, Fraction(3)], FOUR, EIGHTH)[0]) == "C5@2+4"


@pytest.mark.parametrize(
    ("text", "bars", "faults", "notes"),
    [
        ("| c8 | d9 | e8 |", 3, ["bar 2: the melody lasts 4.5 quarters in a bar of 4; count its notes"], "C5@0+4 E5@8+4"),
        ("| c8 | h8 |", 2, ["bar 2: 'h8' is not ABC note syntax; notes are the letters A to G"], "C5@0+4"),
        ("| c8 | d8 | e8 |", 2,
         ["the melody has 3 bars, the chords have 2; bar 3 of the melody has no chords: write them, or take it out"], ""),
        ("| c8 |", 3,
         ["the melody has 1 bar, the chords have 3; bar 2 of the chords has no melody: write it (z for a rest), or take it out"], ""),
        ("| c8 | d4 | e4 |", 2,
         ["the melody has 3 bars, the chords have 2; melody bars 2 and 3 make one: take out the bar line between them"], ""),
        ("| c4 | d4 | e8 |", 4,
         ["the melody has 3 bars, the chords have 4; melody bars 1 and 2 make one: take out the bar line between them"], ""),
        ("| c4 | d2 | e8 |", 2,
         ["the melody has 3 bars, the chords have 2; bar 3 of the melody has no chords: write them, or take it out"], ""),
        ("| c8 | d2", 1, ["something stands after the last bar line; close the bar with |, or tie the last note over it"],
         "C5@0+4"),
        ("| c8- |", 1, ["bar 1: the last note is tied to nothing; take its - away"], "C5@0+4"),
        ("| c8- | d8 |", 2, ["bar 2: C5 is tied to D5; a tie joins one pitch"], "C5@0+4 D5@4+4"),
        ("| c8- | z8 |", 2, ["bar 2: C5 is tied to a rest; a tie joins one pitch"], "C5@0+4"),
        ("| c8- | d9 |", 2, ["bar 2: the melody lasts 4.5 quarters in a bar of 4; count its notes"], "C5@0+4"),
        ("| c4 d2>e2> |", 1, ["bar 1: a broken rhythm without a note after it"], ""),
        ("| Z2 c8 |", 1, ["bar 1: a rest of whole bars stands alone; put a bar line after it"], ""),
        ("| c8 | d8- | d2 e2", 2,
         ["something stands after the last bar line; close the bar with |, or tie the last note over it",
          "bar 2: the last note is tied to nothing; take its - away"], "C5@0+4 D5@4+4"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_with_its_bar_and_the_others_are_read(
    text: str, bars: int, faults: list[str], notes: str
) -> None:
    found: list[ChartError] = []
    assert (read(text, bars, found), [str(fault) for fault in found]) == (notes, faults)


@pytest.mark.parametrize(
    ("text", "count"),
    [("| c8 | d8 |", 2), ("c8 | d8", 1), ("c8", 1), ("| Z3 | c8 |", 4), ("| Z | Z12 |", 13), ("G2 | c8 |", 1), ("", 0)],
)
def test_how_many_bars_a_melody_has(text: str, count: int) -> None:
    assert count_melody_bars(text) == count


def test_repeats_have_no_place_in_a_melody() -> None:
    for text, sign in (("|: c8 :|", "|:"), ("| c8 :|", ":|"), ("|1 c8 |", "|1"), ("| c8 [2 d8 |", "[2")):
        with pytest.raises(ChartError) as error:
            count_melody_bars(text)
        assert str(error.value) == f"{sign!r} in a melody; the form says what is repeated; an ending is a section"
