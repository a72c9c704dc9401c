"""Bars that can't be put on paper are found by a check, and said by ``print`` in one line with section and bar."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.model import Chart, ChordSpan, MelodyNote, Section
from companion.chart.toml.read import parse_toml
from companion.engrave.musicxml_out import musicxml
from companion.engrave.score import lead_sheet
from companion.engrave.writable import unprintable_bars
from companion.errors import ChartError
from companion.music.chords import NO_CHORD
from companion.music.pitch import Pitch

HEAD = 'format = 1\ntitle = "Kettle at Six"\n[section.A]\n'


@pytest.mark.parametrize(
    ("section", "line"),
    [
        (
            'bar_metres = { 2 = "11/12" }\nchords = "| C | Dm7 | G7 |"',
            "section A, bar 2: lasts 11/3 quarters, which no time signature says; give it a metre such as 2/4",
        ),
        (
            'bar_metres = { 1 = "1/24" }\nchords = "| C | G7 |"\nmelody = "| C/3- | C2/3 D22/3 |"',
            "section A, bar 1: lasts 1/6 quarters, which no time signature says; give it a metre such as 2/4",
        ),
        (
            'chords = "| C | G7 |"\nmelody = "| C8 | C/1024 z8191/1024 |"',
            "section A, bar 2: holds a rhythm that no note values can write; look for notes of odd lengths",
        ),
    ],
)
def test_a_bar_that_cannot_be_written_is_found_with_its_place(section: str, line: str) -> None:
    chart = parse_toml(f"{HEAD}{section}\n")
    assert [str(fault) for fault in unprintable_bars(chart)] == [line]
    with pytest.raises(ChartError) as error:
        lead_sheet(chart)
    assert str(error.value) == line


def test_each_bar_is_said_once_however_often_it_is_played() -> None:
    chart = parse_toml(
        f'{HEAD}bar_metres = {{ 1 = "3/7" }}\nchords = "| C | G7 |"\n'.replace("[sec", 'form = "A A"\n[sec')
    )
    assert len(unprintable_bars(chart)) == 1


def test_a_written_part_is_looked_at_too() -> None:
    bass = '[[arrangement]]\nsection = "A"\nbass = "| C,8 | z/1024 D,8191/1024 |"\n'
    chart = parse_toml(f'{HEAD}chords = "| C | G7 |"\n{bass}')
    assert [fault.where for fault in unprintable_bars(chart)] == ["section A, bar 2"]


@pytest.mark.parametrize("melody", ["| C8 | C4/3 D2 E4 z2/3 |", "C2/3 | C8 | D8 |", "| C8 | C1/7 z55/7 |"])
def test_an_incomplete_tuplet_is_filled_up_with_rests(melody: str) -> None:
    chart = parse_toml(f'{HEAD}chords = "| C | G7 |"\nmelody = "{melody}"\n')
    assert unprintable_bars(chart) == () and musicxml(lead_sheet(chart))


LENGTHS = st.fractions(Fraction(1, 16), 5, max_denominator=24)


@given(st.lists(LENGTHS, min_size=1, max_size=4), st.lists(st.tuples(LENGTHS, st.booleans()), max_size=12))
def test_whatever_the_bars_and_notes_last_a_sheet_is_written_or_the_check_says_why(
    bars: list[Fraction], notes: list[tuple[Fraction, bool]]
) -> None:
    melody, at, end = [], Fraction(0), sum(bars, Fraction(0))
    for length, sounds in notes:
        if sounds and at + length <= end:
            melody.append(MelodyNote(at, length, Pitch("C", 0, 5)))
        at += length
    section = Section("A", tuple(bars), (ChordSpan(Fraction(0), end, NO_CHORD),), tuple(melody))
    chart = Chart("Kettle at Six", (section,), ("A",))
    faults = unprintable_bars(chart)
    try:
        musicxml(lead_sheet(chart))
    except ChartError as error:
        assert str(error) in map(str, faults)
    else:
        assert not faults
