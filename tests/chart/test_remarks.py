"""Remarks, texts made printable, and symbols at their beats: small things that every reader of sheets leans on."""

# ruff: noqa: E501 (rows stand whole in the tables)

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.plain import printable_text, unfit
from companion.chart.remarks import NOT_UNDERSTOOD, Remark, merged, printable
from companion.chart.written import WrittenBar, one_a_beat
from companion.music.chords import parse_chord


def test_a_remark_is_told_on_one_line_with_its_text_if_it_has_one() -> None:
    assert str(Remark("a slur")) == "a slur" and str(Remark("words", "slow\ndown\x1b")) == "words: slow down?"
    assert printable(" a \t b\x00 ") == "a b?"


def test_remarks_of_a_bar_are_said_once_and_what_is_not_understood_together_at_the_end() -> None:
    slur, hash_, star = Remark("a slur"), Remark(NOT_UNDERSTOOD, "#"), Remark(NOT_UNDERSTOOD, "*")
    assert merged([hash_, slur, star, slur, hash_]) == (slur, Remark(NOT_UNDERSTOOD, "# *"))
    assert merged([slur]) == (slur,) and merged([]) == ()


@pytest.mark.parametrize(
    ("text", "plain", "first"),
    [
        ("Kettle at Six", "Kettle at Six", None), ("a\x00b\x1bc\x7f\x9f", "abc", "'\\x00'"), ("a\nb\r\nc\td", "a b c d", "'\\n'"),
        ("a\u2028b\x85c", "a b c", "'\\u2028'"), ("a\ud800b\ufffe\uffff", "ab", "'\\ud800'"), ("\u202eabc\u2069", "abc", "'\\u202e'"),
        ("é ♭ 🎹", "é ♭ 🎹", None),
    ],
)  # fmt: skip
def test_a_text_is_made_printable(text: str, plain: str, first: str | None) -> None:
    """XML 1.0, section 2.2; Unicode Standard Annex 9."""
    assert (printable_text(text), unfit(text)) == (plain, first)


def placed(
    *symbols: tuple[object, str], length: int = 4, notes: bool = True
) -> tuple[list[tuple[float, str]], list[str]]:
    found, given_way = one_a_beat([(Fraction(str(b)), parse_chord(s)) for b, s in symbols], Fraction(length), notes)
    return [(float(beat), chord.symbol) for beat, chord in found], given_way


def test_of_several_symbols_over_one_note_the_last_stays_and_without_notes_they_share_the_rest_of_the_bar() -> None:
    assert placed((2, "F"), (0, "C")) == ([(0, "C"), (2, "F")], [])
    assert placed((0, "C"), (0, "F"), (0, "G")) == ([(0, "G")], ["C", "F"])
    assert placed((0, "C"), (0, "F"), notes=False) == ([(0, "C"), (2, "F")], [])
    assert placed((1, "C"), (1, "F"), (1, "G"), notes=False) == ([(1, "C"), (2, "F"), (3, "G")], [])
    assert placed((0, "C"), (2, "F"), (2, "G"), notes=False) == ([(0, "C"), (2, "F"), (3, "G")], [])


@pytest.mark.parametrize(("length", "short"), [(3, True), (4, False), (5, False)])
def test_a_bar_is_short_where_it_holds_less_than_its_metre_asks_for(length: int, short: bool) -> None:
    assert WrittenBar("1", Fraction(length), Fraction(4)).short is short
