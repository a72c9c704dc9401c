"""A chart as text: what is left out, lines under lines, and what can't be written down."""

# ruff: noqa: E501 (messages stand whole in the tables)

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.model import ChordSpan, Event, MelodyNote, Section
from companion.chart.toml.write import (
    section_header,
    written_bar_metres,
    written_bars,
    written_event,
    written_form,
    written_section,
    written_tempo,
)
from companion.errors import ChartError
from companion.music.chords import parse_chord
from companion.music.meter import Metre
from companion.music.pitch import Pitch

FOUR = Metre(4, 4)


def section(chords: list[tuple[float, float, str]], notes: list[tuple[float, float]], bars: int = 1) -> Section:
    spans = tuple(ChordSpan(Fraction(a), Fraction(b), parse_chord(symbol)) for a, b, symbol in chords)
    melody = tuple(MelodyNote(Fraction(beat), Fraction(length), Pitch("C", 0, 5)) for beat, length in notes)
    return Section("A", (Fraction(4),) * bars, spans, melody)


@pytest.mark.parametrize(("tempo", "text"), [(120.0, "120"), (132.5, "132.5"), (66, "66")])
def test_a_tempo_is_whole_where_it_is(tempo: float, text: str) -> None:
    assert written_tempo(tempo) == text


@pytest.mark.parametrize(
    ("form", "text"),
    [(["A", "A", "B"], '"A A B"'), (["A", "The End"], '["A", "The End"]'), ([], "[]"), (["A", ""], '["A", ""]')],
)
def test_a_form_is_one_text_where_names_allow_it(form: list[str], text: str) -> None:
    assert written_form(form) == text


@pytest.mark.parametrize(
    ("event", "text"),
    [
        (Event("head"), '{ play = "head" }'), (Event("solos", 2), '{ play = "solos", choruses = 2 }'),
        (Event("introduction", how="vamp", bars=4), '{ play = "introduction", how = "vamp", bars = 4 }'),
        (Event("ending", treatment="slow"), '{ play = "ending", treatment = "slow" }'),
    ],
)  # fmt: skip
def test_an_event_says_what_is_not_usual(event: Event, text: str) -> None:
    assert written_event(event) == text


@pytest.mark.parametrize(
    ("name", "text"), [("A1", "A1"), ("Lead-in", "Lead-in"), ("The End", '"The End"'), ("", '""'), ("é", '"é"')]
)
def test_a_section_s_name_is_quoted_where_toml_asks_for_it(name: str, text: str) -> None:
    """TOML 1.0: bare keys are of ASCII letters, digits, underscores and hyphens."""
    assert section_header(name) == f"[section.{text}]"


@pytest.mark.parametrize(
    ("bars", "text"),
    [
        ([4, 4], ""), ([4, 2], '{ 2 = "2/4" }'), ([3.5, 4, 1.25], '{ 1 = "7/8", 3 = "5/16" }'), ([0.375], '{ 1 = "3/32" }'),
        ([Fraction(10, 3)], '{ 1 = "5/6" }'), ([Fraction(8, 3)], '{ 1 = "2/3" }'), ([Fraction(1, 16)], '{ 1 = "1/64" }'),
    ],
)  # fmt: skip
def test_bars_of_another_length_have_a_metre_of_their_own(bars: list[float], text: str) -> None:
    assert written_bar_metres([Fraction(bar) for bar in bars], FOUR) == text


@pytest.mark.parametrize(
    ("made", "chords", "melody"),
    [
        (section([(0, 4, "C")], []), ["| C |"], []), (section([], [(0, 4)]), [], ["| c8 |"]), (section([], []), ["| . |"], []),
        (section([(0, 4, "Cmaj7#11")], [(0, 4)]), ["| Cmaj7#11 |"], ["| c8       |"]),
        (section([(0, 4, "C")], [(-1, 1), (0, 4)]), ["   | C  |"], ["c2 | c8 |"]),
        (section([(0, 4, "C")], [(2, 3)]), ["| C      |"], ["| z4 c4- | c2"]),
        (section([(0, 16, "C"), (16, 20, "F7")], [], 5), ["| C  | % | % | % |", "| F7 |"], []),
        (section([(0, 20, "C")], [(0, 4), (16, 4)], 5), ["| C  | %  | %  | %  |", "| %  |"],
         ["| c8 | z8 | z8 | z8 |", "| c8 |"]),
        (section([(0, 20, "C")], [(0, 4), (16, 6)], 5), ["| C   | %  | %  | %  |", "| %   |"],
         ["| c8  | z8 | z8 | z8 |", "| c8- | c4"]),
    ],
)  # fmt: skip
def test_bar_lines_stand_under_bar_lines_four_bars_a_line(made: Section, chords: list[str], melody: list[str]) -> None:
    assert written_bars(made, FOUR, 0) == (chords, melody)


def test_notes_are_grouped_by_the_pulse_and_a_plain_note_is_the_metres() -> None:
    six = Section(
        "A", (Fraction(3),), (), tuple(MelodyNote(Fraction(k, 2), Fraction(1, 2), Pitch("C", 0, 5)) for k in range(6))
    )
    assert written_bars(six, Metre(6, 8), 0)[1] == ["| ccc ccc |"]
    assert written_bars(six, Metre(3, 4), 0)[1] == ["| cc cc cc |"]
    assert written_bars(six, Metre(3, 4), 0, Fraction(1))[1] == ["| c/2c/2 c/2c/2 c/2c/2 |"]
    assert written_section(Section("A", (Fraction(2),), (), six.melody[:4], "slow"), FOUR, 0) == [
        "[section.A]", 'treatment = "slow"', 'bar_metres = { 1 = "2/4" }', 'melody = """', "| cc cc |", '"""',
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("chords", "line"),
    [
        ([(-1, 4, "C")], "section A: a chord in the pickup can't be written down"),
        ([(0, 1, "C"), (2, 4, "F")], "section A: a gap between two chords can't be written down; put N.C. there"),
        ([(0, 3, "C")], "section A: its chords don't reach its end; put N.C. there"),
        ([(0, 5, "C")], "section A: its chords don't reach its end"),
    ],
)
def test_chords_that_leave_gaps_cannot_be_written(chords: list[tuple[float, float, str]], line: str) -> None:
    with pytest.raises(ChartError) as error:
        written_bars(section(chords, []), FOUR, 0)
    assert str(error.value).startswith(line)
