"""What comes again is folded into repeats and endings, and playing what is written gives what was folded."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.chart.model import Chart, ChordSpan, MelodyNote, Section
from companion.chart.repeats import playing_order
from companion.engrave.fold import folded
from companion.engrave.score import lead_sheet
from companion.engrave.sheet import Bar
from companion.music.chords import parse_chord
from companion.music.pitch import Pitch


def tune(form: str, **bars: str) -> Chart:
    """A chart whose sections are given as letters, a bar each: 'abcd' are four bars with these notes."""
    sections = []
    for name, letters in bars.items():
        melody = tuple(
            MelodyNote(Fraction(4 * k), Fraction(4), Pitch(letter.upper(), 0, 5)) for k, letter in enumerate(letters)
        )
        chords = (ChordSpan(Fraction(0), Fraction(4 * len(letters)), parse_chord("C6")),)
        sections.append(Section(name, (Fraction(4),) * len(letters), chords, melody))
    return Chart("Repeats", tuple(sections), tuple(form.split()))


def written(chart: Chart) -> str:
    """The bars as they stand on paper: ``|:``, ``:|``, ``3x:|``, ``[1`` and ``]``, sections by ``(A)``."""
    words = []
    for bar in lead_sheet(chart).bars:
        marks = bar.marks
        word = f"({bar.heading})" if bar.heading else ""
        word += "|:" * marks.repeat_start + (f"[{','.join(map(str, marks.ending))}" if marks.ending else "")
        word += bar.voices[0].heads[0].pitches[0].step.lower()
        times = f"{marks.repeat_end}x" if marks.repeat_end > 2 else ""
        words.append(word + "]" * marks.ending_stops + (f"{times}:|" if marks.repeat_end else ""))
    return " ".join(words)


@pytest.mark.parametrize(
    ("form", "bars", "paper"),
    [
        ("A A B A", {"A": "abcd", "B": "gfed"}, "(A)|:a b c d:| (B)g f e d (A)a b c d"),
        (
            "A1 A2 B A2",
            {"A1": "abcd", "A2": "abce", "B": "gfed"},
            "(A)|:a b c [1d]:| [2e] (B)g f e d (A2)a b c e",
        ),
        ("A A A B", {"A": "abcd", "B": "gfed"}, "(A)|:a b c d3x:| (B)g f e d"),
        ("A1 A1 A2", {"A1": "abcd", "A2": "abce"}, "(A)|:a b c [1,2d]:| [3e]"),
        ("A B A B", {"A": "abcd", "B": "gfed"}, "(A)|:a b c d (B)g f e d:|"),
        ("A B A C", {"A": "abcd", "B": "gfed", "C": "gfec"}, "(A)a b c d (B)g f e d (A)a b c d (C)g f e c"),
        ("A1 A2", {"A1": "abcd", "A2": "agfe"}, "(A1)a b c d (A2)a g f e"),
        ("A B", {"A": "abcd", "B": "abcd"}, "(A)a b c d (B)a b c d"),
        ("A1 A1", {"A1": "abcd"}, "(A1)|:a b c d:|"),
        ("A A", {"A": "ab"}, "(A)|:a b:|"),
        ("A A", {"A": "a"}, "(A)a (A)a"),
        ("A A A A A", {"A": "abcd"}, "(A)a b c d (A)|:a b c d4x:|"),
        ("A1 A2", {"A1": "abcd", "A2": "abcde"}, "(A)|:a b c [1d]:| [2d e]"),
        ("A1 A2", {"A1": "abcdef", "A2": "abcgab"}, "(A)|:a b c [1d e f]:| [2g a b]"),
        ("A1 A2", {"A1": "abcdefg", "A2": "abcgabc"}, "(A1)a b c d e f g (A2)a b c g a b c"),
        ("A1 A2 A2 A1", {"A1": "abcd", "A2": "abce"}, "(A)|:a b c [1d]:| [2,3e]:| [4d]"),
        ("A1 A2 A1 A2", {"A1": "abcdef", "A2": "abcgab"}, "(A1)|:a b c d e f (A2)a b c g a b:|"),
        ("A B1 A B2", {"A": "abcd", "B1": "gfed", "B2": "gabc"}, "(A)|:a b c d (B)g [1f e d]:| [2a b c]"),
        ("A B1 A B2", {"A": "abcd", "B1": "gfed", "B2": "aabc"}, "(A)a b c d (B1)g f e d (A)a b c d (B2)a a b c"),
        (
            "A1 A2",
            {"A1": "abcdefgabcdefgab", "A2": "abcdefgacdefgabc"},
            "(A)|:a b c d e f g a [1b c d e f g a b]:| [2c d e f g a b c]",
        ),
        (
            "A1 A2",
            {"A1": "abcdefgaabcdefgab", "A2": "abcdefgaacdefgabc"},
            "(A)|:a b c d e f g a a [1b c d e f g a b]:| [2c d e f g a b c]",
        ),
        (
            "A1 A2",
            {"A1": "abcdefgaabcdefgabc", "A2": "abcdefgaacdefgabcd"},
            "(A1)a b c d e f g a a b c d e f g a b c (A2)a b c d e f g a a c d e f g a b c d",
        ),
    ],
)
def test_the_form_is_folded_as_a_copyist_would(form: str, bars: dict[str, str], paper: str) -> None:
    assert written(tune(form, **bars)) == paper


def test_the_pickup_to_the_second_time_stands_in_the_first_ending() -> None:
    chart = tune("A A B", A="abcd", B="gfed")
    section = chart.sections[0]
    early = MelodyNote(Fraction(-1), Fraction(1), Pitch("E", 0, 5))
    last = replace(section.melody[-1], length=Fraction(2))
    section = replace(section, melody=(early, *section.melody[:-1], last))
    bars = lead_sheet(replace(chart, sections=(section, chart.sections[1]))).bars
    assert (bars[0].number, bars[0].length, bars[1].marks.repeat_start) == (0, 1, True)
    first, second = (bar for bar in bars if bar.marks.ending)
    assert [[h.pitches[0].step for h in bar.voices[0].heads if h.pitches] for bar in (first, second)] == [
        ["D", "E"],
        ["D"],
    ]


def test_an_ending_never_begins_inside_a_tied_note() -> None:
    chart = tune("A1 A2", A1="abcdd", A2="abcde")
    first = chart.sections[0]
    held = replace(first.melody[3], length=Fraction(8))
    sections = (replace(first, melody=(*first.melody[:3], held)), chart.sections[1])
    for bar in lead_sheet(replace(chart, sections=sections)).bars:
        if bar.marks.ending:
            assert not any(voice.heads[0].tied_back for voice in bar.voices)


def test_an_ending_begins_with_the_note_that_is_held_into_it() -> None:
    """The d is held over a bar and a half the second time, so the bars differ from its second bar on."""
    chart = tune("A1 A2", A1="abcdd", A2="abcde")
    first, second = chart.sections
    held = [replace(first.melody[3], length=Fraction(8))]
    shorter = [replace(first.melody[3], length=Fraction(6)), MelodyNote(Fraction(18), Fraction(2), Pitch("E", 0, 5))]
    sections = (
        replace(first, melody=(*first.melody[:3], *held)),
        replace(second, melody=(*second.melody[:3], *shorter)),
    )
    assert written(replace(chart, sections=sections)) == "(A)|:a b c [1d d]:| [2d d]"


def test_an_ending_has_its_times_its_repeat_and_the_last_the_double_bar() -> None:
    bars = lead_sheet(tune("A1 A1 A2 B", A1="abcdef", A2="abcdga", B="gfed")).bars
    first, second = (k for k, bar in enumerate(bars) if bar.marks.ending)
    assert [bars[k].marks.ending for k in (first, second)] == [(1, 2), (3,)]
    ends = bars[first : second + 2]
    assert [(bar.marks.ending_stops, bar.marks.repeat_end, bar.double) for bar in ends] == [
        (False, 0, False), (True, 2, False), (False, 0, False), (True, 0, True),
    ]  # fmt: skip


def test_bars_without_a_section_stay_as_they_are() -> None:
    bars = [replace(bar, heading=None) for bar in lead_sheet(tune("A", A="abab")).bars]
    assert folded(bars) == bars and folded([]) == []


def test_a_bar_keeps_the_number_of_the_first_time_it_is_played() -> None:
    bars = lead_sheet(tune("A1 A2 B", A1="abcd", A2="abce", B="gfed")).bars
    assert [bar.number for bar in bars] == [1, 2, 3, 4, 8, 9, 10, 11, 12]


@st.composite
def _forms(draw: st.DrawFn) -> list[Bar]:
    """Bars as they are played, of sections that like to come again."""
    names = draw(st.lists(st.sampled_from(["A", "A1", "A2", "B", "C"]), min_size=1, max_size=8))
    notes = {
        "A": "abcdefga", "A1": "abcdefgb", "A2": "abcdefcc", "B": draw(st.text("abcdefg", min_size=1, max_size=9)),
        "C": draw(st.text("ab", min_size=1, max_size=6)),
    }  # fmt: skip
    used = {name: notes[name] for name in names}
    chart = tune(" ".join(names), **used)
    plain = []
    for name in names:
        part = lead_sheet(replace(chart, form=(name,))).bars
        plain += part
    return [replace(bar, number=k, new_line=False) for k, bar in enumerate(plain, 1)]


@settings(deadline=None, max_examples=60)
@given(_forms())
def test_playing_what_is_written_gives_what_was_folded(played: list[Bar]) -> None:
    paper = folded(played)
    order = playing_order([bar.marks for bar in paper])
    assert [paper[k].voices for k in order] == [bar.voices for bar in played]
    assert len(paper) <= len(played)
