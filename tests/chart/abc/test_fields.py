"""Information fields of ABC, each by itself (The ABC Music Standard 2.1, sections 3.1.6 to 3.1.9)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.abc.fields import MOST_PARTS, expand_parts, read_metre, read_tempo, read_unit
from companion.errors import ChartError

EIGHTH = Fraction(1, 2)


@pytest.mark.parametrize(
    ("text", "metre"),
    [
        ("C", "4/4"), ("C|", "2/2"), ("6/8", "6/8"), ("2+2+3/8", "7/8"), ("( 2 + 3 ) / 8", "5/8"), ("64/64", "64/64"),
        ("1/1", "1/1"), ("65/4", None), ("0/4", None), ("32+33/4", None), ("4/3", None), ("4", None), ("none", None),
        ("", None), ("100/4", None),
    ],
)  # fmt: skip
def test_section_3_1_6_a_metre(text: str, metre: str | None) -> None:
    found = read_metre(text)
    assert (None if found is None else str(found)) == metre


@pytest.mark.parametrize(
    ("text", "quarters"),
    [("1/8", EIGHTH), ("1/4", 1), (" 3 / 16 ", Fraction(3, 4)), ("1", 4), ("1/0", None), ("0/4", None), ("x", None),
     ("2", None), ("1/1000", None), ("1/256", Fraction(1, 64))],
)  # fmt: skip
def test_section_3_1_7_a_unit_note_length(text: str, quarters: Fraction | None) -> None:
    assert read_unit(text) == quarters


@pytest.mark.parametrize(
    ("text", "tempo", "words"),
    [
        ("1/4=120", 120, ""), ("3/8 = 50", 75, ""), ("1/2=60.5", 121, ""), ("1/4 1/8=80", 120, ""),
        ('"Easy" 1/4=96 "swing"', 96, "Easy swing"), ('"Slowly"', None, "Slowly"), ("1/0=80", None, ""),
        ("120", 60, ""), ("C=200", 100, ""), ("C3=50", 75, ""), ("L2=100", 100, ""), ("1/4=19", None, ""),
        ("1/4=401", None, ""), ("", None, ""), ("1/4=c. 90", 45, ""),
    ],
)  # fmt: skip
def test_section_3_1_8_a_tempo_in_quarters_where_a_plain_note_is_an_eighth(
    text: str, tempo: float | None, words: str
) -> None:
    """10: 'Q:120' and 'Q:C3=50' are outdated: so many plain notes a minute, or so many times three of them."""
    assert read_tempo(text, EIGHTH) == (tempo, words)


@pytest.mark.parametrize(
    ("text", "played"),
    [
        ("ABA", "ABA"), ("A0B", "B"), ("A1B", "AB"), ("A12", "A" * 12),
        ("(AB)2C", "ABABC"), ("(A(BC)2)2", "ABCBCABCBC"),
        ("2A", "A"), ("(A)22", "A" * 22), ("A2 2B", "AAB"), ("(AB", "AB"),
        ("AB)2", "AB"), ("()3A", "A"), ("a.b!", "ab"),
        ("", ""),
    ],
)  # fmt: skip
def test_section_3_1_9_parts(text: str, played: str) -> None:
    assert "".join(expand_parts(text)) == played


def test_parts_are_played_five_hundred_times_at_most() -> None:
    assert len(expand_parts(f"A{MOST_PARTS}")) == MOST_PARTS == 500
    assert len(expand_parts("A9999")) == MOST_PARTS
    for text in ("A500B", "(A250)2B", "(AB)251"):
        with pytest.raises(ChartError, match="its P: field: plays more than 500 parts"):
            expand_parts(text)
