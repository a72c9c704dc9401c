"""Words over the bars as sheets have them: leaps, headings, feels, tempi, chord names (common practice)."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

import pytest

from companion.chart.words import (
    MOST_TIMES,
    ending_times,
    feel_of,
    headed,
    plausible_tempo,
    read_chord_word,
    read_words,
)
from companion.chart.written import BarMarks
from companion.errors import ChartError
from companion.music.chords import NO_CHORD, Chord, parse_chord


@dataclass
class Bar:
    """A bar being read."""

    marks: BarMarks = field(default_factory=BarMarks)
    chords: list[tuple[Fraction, Chord]] = field(default_factory=list)
    words: list[tuple[Fraction, str, bool]] = field(default_factory=list)


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("1", (1,)), ("1.", (1,)), ("1, 3-4", (1, 3, 4)), ("1,2", (1, 2)), ("2 - 4", (2, 3, 4)), ("", (1,)),
        ("16", (16,)), ("14-99", (14, 15, 16)), ("3-1", (3,)),
        ("0001" + "9" * 5000, (1,)), ("1-0002" + "9" * 5000, (1, 2)),
    ],
)  # fmt: skip
def test_an_ending_is_for_the_times_that_it_names(text: str, times: tuple[int, ...]) -> None:
    assert ending_times(text) == times and MOST_TIMES == 16


@pytest.mark.parametrize("text", ["0", "17", "0-2", "17-18"])
def test_an_ending_for_a_time_that_never_comes_is_refused(text: str) -> None:
    with pytest.raises(ChartError, match="an ending numbered"):
        ending_times(text)


BEAT = Fraction(2)
MARKED = {
    "D.C.": BarMarks(jump="capo"),
    "D. C. al Fine": BarMarks(jump="capo", until="fine"),
    "Da Capo al Coda": BarMarks(jump="capo", until="coda"),
    "dc": BarMarks(jump="capo"),
    "D.S. al Coda": BarMarks(jump="segno", until="coda"),
    "d. s. al fine": BarMarks(jump="segno", until="fine"),
    "Dal Segno": BarMarks(jump="segno"),
    "Fine.": BarMarks(fine=True),
    "To Coda": BarMarks(to_coda=True),
    "al coda": BarMarks(to_coda=True),
    "to the ⊕ 2": BarMarks(to_coda=True),
    "Coda": BarMarks(coda=True),
    "⊕ Coda": BarMarks(coda=True),
    "Verse 2:": BarMarks(heading="Verse 2", heading_beat=BEAT),
    "BRIDGE": BarMarks(heading="Bridge", heading_beat=BEAT),
    "Intro.": BarMarks(heading="Intro", heading_beat=BEAT),
}


@pytest.mark.parametrize("words", MARKED)
def test_words_that_steer_the_playing_or_head_a_section_are_marks(words: str) -> None:
    bar = Bar()
    assert read_words(bar, BEAT, words, False)
    assert (bar.marks, bar.chords) == (MARKED[words], [])


@pytest.mark.parametrize("words", ["slowly", "dcl", "decode", "the coda", "Hm7", "C D"])
def test_other_words_change_nothing(words: str) -> None:
    bar = Bar()
    assert not read_words(bar, BEAT, words, False)
    assert bar == Bar()


@pytest.mark.parametrize(("words", "heads"), [("Q", True), ("x" * 16, True), ("x" * 17, False)])
def test_short_words_in_a_frame_are_a_rehearsal_mark(words: str, heads: bool) -> None:
    bar = Bar()
    assert read_words(bar, BEAT, words, True) is heads
    assert bar.marks == (BarMarks(heading=words, heading_beat=BEAT) if heads else BarMarks())


def test_a_chord_name_is_a_chord_and_where_one_stands_a_single_letter_is_a_rehearsal_mark() -> None:
    bar = Bar()
    assert read_words(bar, BEAT, "Am7", False) and read_words(bar, Fraction(0), "C", False)
    assert bar.chords == [(BEAT, parse_chord("Am7")), (0, parse_chord("C"))] and bar.marks == BarMarks()
    assert read_words(bar, BEAT, "Bm", False) and bar.marks == BarMarks(), "two letters are the same chord again"
    assert read_words(bar, BEAT, "B", False) and len(bar.chords) == 2
    assert bar.marks == BarMarks(heading="B", heading_beat=BEAT)


def test_the_first_of_two_headings_stays() -> None:
    first = headed(BarMarks(fine=True), "A", Fraction(1))
    assert first == BarMarks(fine=True, heading="A", heading_beat=Fraction(1))
    assert headed(first, "B", Fraction(3)) == first


@pytest.mark.parametrize(
    ("text", "tempo"),
    [("20", 20), ("19.99", None), ("400", 400), ("400.1", None), ("132.5", 132.5), ("fast", None), ("nan", None)],
)
def test_a_tempo_lies_between_20_and_400(text: str, tempo: float | None) -> None:
    assert plausible_tempo(text) == tempo


@pytest.mark.parametrize(
    ("words", "feel"),
    [
        ("Medium Swing", "swing"), ("even 8ths", "straight"), ("Straight, no swing", "straight"), ("BOSSA", "bossa"),
        ("a Latin two", "latin"), ("slow shuffle", "shuffle"), ("swinging", None), ("evenly", None), ("", None),
    ],
)  # fmt: skip
def test_a_feel_is_known_by_its_name(words: str, feel: str | None) -> None:
    assert feel_of(words) == feel


@pytest.mark.parametrize(
    ("text", "symbol"),
    [
        ("Am7", "Am7"), (" G7, ", "G7"), ("D7-9", "D7b9"), ("C7+11", "C7#11"), ("G7+5", "G7#5"), ("Fine", None),
        ("C D", None), ("am7", None), ("Hm7", None),
    ],
)  # fmt: skip
def test_a_word_may_be_a_chord_with_plus_and_minus_for_raised_and_lowered_tones(text: str, symbol: str | None) -> None:
    assert read_chord_word(text) == (parse_chord(symbol) if symbol else None)


@pytest.mark.parametrize("text", ["N.C.", "(n.c.)", "NC", "No Chord", "tacet"])
def test_where_no_chord_is_to_be_played_the_sheet_says_so(text: str) -> None:
    assert read_chord_word(text) == NO_CHORD
