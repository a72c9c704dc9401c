"""Chord symbols of a written bar: one a beat over notes, in even shares where there is none (common practice)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.written import WrittenBar, one_a_beat
from companion.music.chords import parse_chord


@pytest.mark.parametrize(
    ("symbols", "notes", "found", "given_way"),
    [
        ("0:C 2:F", True, "0:C 2:F", ""), ("2:F 0:C", True, "0:C 2:F", ""), ("", True, "", ""),
        ("0:C 0:F 0:G 2:Am", True, "0:G 2:Am", "C F"), ("0:C 2:F", False, "0:C 2:F", ""),
        ("0:C 0:F", False, "0:C 2:F", ""), ("0:C 0:F 0:G 0:Am", False, "0:C 1:F 2:G 3:Am", ""),
        ("1:C 1:F 1:G", False, "1:C 2:F 3:G", ""),
    ],
)  # fmt: skip
def test_of_several_chords_at_once_the_last_rules_over_notes_and_without_notes_they_share_the_bar(
    symbols: str, notes: bool, found: str, given_way: str
) -> None:
    placed = [(Fraction(beat), parse_chord(symbol)) for beat, symbol in (word.split(":") for word in symbols.split())]
    chords, others = one_a_beat(placed, Fraction(4), notes)
    assert " ".join(f"{beat}:{chord}" for beat, chord in chords) == found and " ".join(others) == given_way


@pytest.mark.parametrize(("length", "short"), [(3, True), (4, False), (5, False)])
def test_a_bar_is_short_that_holds_less_than_its_time_signature_asks_for(length: int, short: bool) -> None:
    assert WrittenBar("1", Fraction(length), Fraction(4)).short is short
