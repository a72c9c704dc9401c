"""Chords between bar lines: even shares, dots, repeats, lengths; what doesn't go in; and written again."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.model import ChordSpan
from companion.chart.toml.chords import MOST_PLACES, MOST_SHARES, count_bars, read_chords, write_chords
from companion.errors import ChartError
from companion.music.meter import Metre

FOUR, WALTZ, SIX, CUT = Metre(4, 4), Metre(3, 4), Metre(6, 8), Metre(2, 2)


def read(text: str, metre: Metre = FOUR, bars: list[float] | None = None) -> tuple[ChordSpan, ...]:
    sizes = [metre.bar] * count_bars(text) if bars is None else [Fraction(size) for size in bars]
    return read_chords(text, sizes, metre)


def told(spans: tuple[ChordSpan, ...]) -> str:
    """Each chord with its beats."""
    return " ".join(f"{span.chord.symbol}:{float(span.start):g}-{float(span.end):g}" for span in spans)


@pytest.mark.parametrize(
    ("text", "metre", "spans"),
    [
        ("| C |", FOUR, "C:0-4"), ("| C F |", FOUR, "C:0-2 F:2-4"), ("| C F | % |", FOUR, "C:0-2 F:2-4 C:4-6 F:6-8"),
        ("| C | % | . | F . |", FOUR, "C:0-12 F:12-16"), ("| . . C . |", FOUR, "C:2-4"),
        ("| C . . F |", FOUR, "C:0-3 F:3-4"),
        ("| C . | F |", FOUR, "C:0-4 F:4-8"), ("| C | . F | % |", FOUR, "C:0-6 F:6-10 F:10-12"),
        ("| C F G |", WALTZ, "C:0-1 F:1-2 G:2-3"), ("| C F |", WALTZ, "C:0-1.5 F:1.5-3"), ("| C . F |", SIX, None),
        ("| C F |", SIX, "C:0-1.5 F:1.5-3"), ("| C F G Am |", SIX, "C:0-0.75 F:0.75-1.5 G:1.5-2.25 Am:2.25-3"),
        ("| C F G Am Bb Eb |", SIX, "C:0-0.5 F:0.5-1 G:1-1.5 Am:1.5-2 Bb:2-2.5 Eb:2.5-3"), ("| C F G Am |", CUT,
         "C:0-1 F:1-2 G:2-3 Am:3-4"), ("| C F G |", FOUR, None), ("| C F G Am Bb Eb Ab Db |", FOUR,
         "C:0-0.5 F:0.5-1 G:1-1.5 Am:1.5-2 Bb:2-2.5 Eb:2.5-3 Ab:3-3.5 Db:3.5-4"),
        ("| C*5/2 F*3/2 |", FOUR, "C:0-2.5 F:2.5-4"), ("| .*1 C*3 | F |", FOUR, "C:1-4 F:4-8"),
        ("| C | .*3 F*1 |", FOUR, "C:0-7 F:7-8"),
        ("| C F G |", Metre(12, 8), None), ("| C . F . |", Metre(12, 8), "C:0-3 F:3-6"),
        ("| C F G Am |", Metre(8, 4), "C:0-2 F:2-4 G:4-6 Am:6-8"),
        ("C | F", FOUR, "C:0-4 F:4-8"), ("| N.C. C |", FOUR, "N.C.:0-2 C:2-4"),
    ],
)  # fmt: skip
def test_how_chords_share_a_bar(text: str, metre: Metre, spans: str | None) -> None:
    if spans is None:
        with pytest.raises(ChartError, match="bar 1: 3 places don't go into this bar; put a"):
            read(text, metre)
        return
    assert told(read(text, metre)) == spans


@pytest.mark.parametrize(
    ("text", "bars", "line"),
    [
        ("| % |", None, "bar 1: there is no bar before it to repeat"),
        ("| C | |", None, "bar 2: the bar is empty; write a chord"),
        ("| C | % |", [4, 2], "bar 2: the bar before it has another length; write the chords out"),
        ("| C % |", None, "bar 1: a repeat sign stands alone in its bar"),
        ("| Hm |", None, "bar 1: 'Hm' is not a chord symbol"),
        ("| C*0 F*4 |", None, "bar 1: 'C*0' doesn't say how long it lasts; write it as Dm7*3/2"),
        ("| C*4/0 |", None, "bar 1: 'C*4/0' doesn't say how long"),
        ("| C*2 F |", None, "bar 1: 'F' doesn't say how long"),
        ("| C*2 F*1 |", None, "bar 1: its chords last 3 quarters in a bar of 4"),
        ("|: C :|", [4], "'|:' in the chords; the form says"),
        ("", [4], "there is no bar of chords; write them between bar lines"),
        (f"| {'C ' * (MOST_SHARES + 16)}|", None, "bar 1: more than 48 places in a bar"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_bar_of_chords(text: str, bars: list[float] | None, line: str) -> None:
    with pytest.raises(ChartError) as error:
        read(text, bars=[4.0] if bars is None and "%" not in text[:3] and text.count("|") == 2 else bars)
    assert str(error.value).startswith(line)


def test_a_bar_may_have_forty_eight_places() -> None:
    assert len(read(f"| {'C ' * MOST_SHARES}|", bars=[12])) == MOST_SHARES == 48


def test_after_a_bar_that_cannot_be_read_the_chord_before_goes_on() -> None:
    faults: list[ChartError] = []
    spans = read_chords("| C | H | F |", [Fraction(4)] * 3, FOUR, faults.append)
    assert told(spans) == "C:0-8 F:8-12" and [fault.where for fault in faults] == ["bar 2"]


@pytest.mark.parametrize(
    ("text", "metre", "written"),
    [
        ("| C | F G |", FOUR, ["C", "F G"]), ("| C | % | . |", FOUR, ["C", "%", "%"]),
        ("| C F | . | . |", FOUR, ["C F", ".", "%"]),
        ("| . | C . . F |", FOUR, [".", "C . . F"]), ("| C*5/2 F*3/2 |", FOUR, ["C . . . . F . ."]),
        ("| C*7/2 F*1/2 |", FOUR, ["C . . . . . . F"]), ("| C*15/4 F*1/4 |", FOUR, ["C*15/4 F*1/4"]),
        ("| .*1/4 C*15/4 |", FOUR, [".*1/4 C*15/4"]), ("| C . F |", WALTZ, ["C . F"]), ("| C F |", WALTZ, ["C F"]),
        ("| . F |", FOUR, [". F"]), ("| C*4/3 F*4/3 G*4/3 |", FOUR, ["C*4/3 F*4/3 G*4/3"]),
    ],
)  # fmt: skip
def test_chords_are_written_in_even_places_where_eight_are_enough(text: str, metre: Metre, written: list[str]) -> None:
    spans = read(text, metre)
    assert write_chords(spans, [metre.bar] * len(written), metre) == written and MOST_PLACES == 8
    assert read(f"| {' | '.join(written)} |", metre) == spans


def test_a_bar_of_another_length_is_no_repeat() -> None:
    spans = read("| C | . |", bars=[4, 2])
    assert write_chords(spans, [Fraction(4), Fraction(2)], FOUR) == ["C", "."]
    assert write_chords((), [Fraction(4)] * 2, FOUR) == [".", "."]
    assert write_chords(read("| C |"), [Fraction(4)] * 2, FOUR) == ["C", "."], "the chord has ended"
