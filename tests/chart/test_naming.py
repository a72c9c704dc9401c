"""Names for sections that have none: A, B, C as musicians call them (common practice)."""

# ruff: noqa: E501 (rows stand whole in the tables)

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.model import ChordSpan, MelodyNote, Section
from companion.chart.naming import UnnamedSection, alike, name_pieces
from companion.music.chords import parse_chord
from companion.music.pitch import Pitch


def section(bars: str, chords: str = "", size: int = 4) -> Section:
    """A letter a bar is a whole note, a point a rest; chords likewise, separated by blanks."""
    notes = tuple(
        MelodyNote(Fraction(size * k), Fraction(size), Pitch(letter.upper(), 0, 4 if letter.isupper() else 5))
        for k, letter in enumerate(bars)
        if letter != "."
    )
    symbols = chords.split()
    spans = tuple(
        ChordSpan(Fraction(size * k), Fraction(size * k + size), parse_chord(s)) for k, s in enumerate(symbols)
    )
    return Section("", (Fraction(size),) * len(bars), spans, notes)


def named(*pieces: str | tuple[str, str]) -> str:
    """The form of some pieces, each its bars, or a heading and its bars; with what stands under each name."""
    made = [
        UnnamedSection(None, section(piece)) if isinstance(piece, str) else UnnamedSection(piece[0], section(piece[1]))
        for piece in pieces
    ]
    sections, form = name_pieces(made)
    assert [section.name for section in sections] == list(dict.fromkeys(form)), "in the order of their appearance"
    by_name = {section.name: section for section in sections}
    for piece, name in zip(made, form, strict=True):
        assert by_name[name].melody == piece.section.melody
    return " ".join(form)


@pytest.mark.parametrize(
    ("pieces", "form"),
    [
        (["CDEF", "GABc"], "A B"), (["CDEF", "CDEF", "GABc", "CDEF"], "A A B A"), (["CDEF", "CDEG", "GABc"], "A1 A2 B"),
        (["CDEF", "GABc", "CDEG", "CDEA", "CDEF"], "A1 B A2 A3 A1"), (["C", "CDEF"], "Lead-in A"), (["CD", "EFGA"], "Lead-in A"),
        (["CDE", "FGAB"], "A B"), (["CD", "EF"], "A B"), (["CD", "EFG"], "Lead-in A"), (["CDEF", "C"], "A B"),
        ([("Verse", "CDEF"), ("Refrain", "GABc")], "Verse Refrain"), ([("A", "CDEF"), ("A", "GABc")], "A B"),
        ([("Verse", "CDEF"), ("Verse", "CDEG")], "Verse1 Verse2"), ([("Verse", "CDEF"), "GABc"], "Verse A"),
        ([("B", "CDEF"), "GABc"], "B A"), ([("A", "CDEF"), "GABc"], "A B"), ([("A1", "CDEF"), "GABc"], "A1 B"),
        ([("Verse 2", "CDEF"), ("Verse 2", "CDEG"), "GABc"], "Verse 2-1 Verse 2-2 A"),
        ([("A1", "CDEF"), ("A2", "CDEG"), "GABc", ("A1", "CDEF")], "A1 A2 B A1"),
        ([("Bridge", "CDEF"), "GABc"], "Bridge A"), ([("Brid", "CDEF"), "GABc", "cdef"], "Brid A B"),
        ([("Bri", "CDEF"), "GABc", "cdef"], "Bri A C"), (["CDEF", ("A", "GABc")], "B A"),
    ],
)  # fmt: skip
def test_pieces_are_named(pieces: list[str | tuple[str, str]], form: str) -> None:
    assert named(*pieces) == form


def test_after_twenty_six_letters_they_are_doubled() -> None:
    pieces = [f"{a}{b}CC" for a in "CDEFGAB" for b in "CDEFGAB"][:28]
    assert named(*pieces).split()[24:28] == ["Y", "Z", "AA", "BB"]


@pytest.mark.parametrize(
    ("one", "other", "bars", "same"),
    [
        ("CDEF", "CDEG", None, True), ("CDEF", "CEGF", None, False), ("CDEFG", "CDEcd", None, True), ("CDEF", "CDEG", 4, False),
        ("CD", "CE", None, True), ("CDE", "CDF", None, True), ("CDE", "CEE", None, False), ("C", "CD", None, False), ("C", "C", None, True),
        ("CDEF", "CE", None, True), ("....", "....", None, False), ("CDEF", "....", None, False),
    ],
)  # fmt: skip
def test_sections_that_begin_alike_end_otherwise(one: str, other: str, bars: int | None, same: bool) -> None:
    """Half of the shorter one, three bars at most; or as many as are asked for."""
    assert alike(section(one), section(other), bars) is same
    assert alike(section(other), section(one), bars) is same


def test_chords_and_lengths_of_bars_tell_as_notes_do() -> None:
    assert alike(section("....", "C F G C"), section("....", "C F G D"))
    assert not alike(section("....", "C F G C"), section("....", "C D G C"))
    assert alike(section("....", "C F G C"), section("....", "Am F G C")), "the first chord may come from before"
    assert not alike(section("CDEF"), section("CDEF", size=3))


@pytest.mark.parametrize(("changed", "same"), [(1, True), (2, True), (3, False)])
def test_four_notes_of_five_are_enough(changed: int, same: bool) -> None:
    def piece(others: int) -> Section:
        notes = tuple(
            MelodyNote(Fraction(k, 2), Fraction(1, 2), Pitch("C", int(k < others), 4)) for k in range(10)
        )  # fmt: skip
        return Section("", (Fraction(4),) * 4, (), notes)

    assert alike(piece(0), piece(changed)) is same


def test_a_chord_on_the_second_beat_tells_two_sections_apart_and_one_on_the_first_does_not() -> None:
    """What a section begins with may have been carried in from the one before."""

    def changed(first: str, second: str) -> Section:
        spans = ((0, 1, first), (1, 16, second))
        chords = tuple(ChordSpan(Fraction(a), Fraction(b), parse_chord(symbol)) for a, b, symbol in spans)
        return Section("", (Fraction(4),) * 4, chords, section("CDEF").melody)

    assert alike(changed("C", "F"), changed("Am", "F")) and not alike(changed("C", "F"), changed("C", "G"))


def test_a_tune_of_one_bar_or_two_is_no_lead_in() -> None:
    assert named("C") == named("CD") == "A"
