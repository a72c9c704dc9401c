"""A passage: the bars of the tune as they are, with their way in, and the companion's part as it is in its place."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.errors import UseError
from companion.load import load
from companion.practice.passage import Arranged, arranged_chart, companion_parts, passage, roots_alone, section_bars
from companion.resources import chart_path

PLAIN = """
format = 1
title = "Four Plain Bars"
key = "C major"
tempo = 100
form = "A B"

[section.A]
chords = "| C6      | Am7     |"
melody = "G2 | c4 d4 | e8    |"

[section.B]
chords = "| Dm7 G7  | C6      |"
melody = "f4 d4   | c8      |"
"""


@pytest.fixture(scope="module")
def plain() -> Chart:
    return parse_toml(PLAIN)


def test_the_bar_before_is_the_way_in(plain: Chart) -> None:
    cut = passage(plain, 3, 4)
    form = cut.chart.unfold()
    assert (cut.bars, cut.start, cut.way_in, cut.length, form.length) == ((3, 4), 4, 4, 8, 12)
    assert (form.melody[0].beat, form.melody[0].pitch.midi) == (0, 76)
    assert [span.chord.symbol for span in form.chords] == ["Am7", "Dm7", "G7", "C6"]


def test_before_the_first_bar_there_is_its_pickup_alone(plain: Chart) -> None:
    cut = passage(plain, 1, 2)
    assert (cut.start, cut.way_in) == (0, 0)
    assert cut.chart.unfold().pickup == plain.unfold().pickup > 0


def test_bars_that_there_are_not_are_named(plain: Chart) -> None:
    with pytest.raises(UseError, match=r"no bar 5.*bars 1 to 4"):
        passage(plain, 4, 5)


def test_a_section_is_found_by_its_name_in_any_case(plain: Chart) -> None:
    assert section_bars(plain.unfold(), "b") == (3, 4)
    with pytest.raises(UseError, match=r"no section 'C'.*A, B"):
        section_bars(plain.unfold(), "C")


def test_whoever_solos_leaves_chords_and_bass() -> None:
    assert companion_parts({"solo"}) == {"chords", "bass"}
    assert companion_parts({"melody", "chords"}) == {"bass"}


@pytest.mark.parametrize("name", ["ferry-without-lights", "mill-wheel-at-rest", "lamplight-by-the-yard"])
def test_a_passage_is_the_tune_as_it_is_arranged_in_its_place(name: str) -> None:
    chart = arranged_chart(load(chart_path(name)), Arranged(frozenset({"bass", "chords"})))
    form = chart.unfold()
    bars = len(form.bars)
    for first in range(1, bars, 5):
        cut = passage(chart, first, min(first + 3, bars))
        short = cut.chart.unfold()
        low, high = cut.start, cut.start + short.length

        def inside(beat: Fraction, low: Fraction = low, high: Fraction = high) -> bool:
            return low <= beat < high or (low == 0 and beat < 0)

        assert [(n.beat + low, n.pitch) for n in short.melody] == [
            (n.beat, n.pitch) for n in form.melody if inside(n.beat)
        ]
        for part in short.written:
            whole = form.written_part(part.part)
            assert whole is not None
            assert [(n.beat + low, n.pitch) for n in part.notes] == [
                (n.beat, n.pitch) for n in whole.notes if inside(n.beat)
            ]


def test_roots_alone_are_the_roots_for_as_long_as_each_chord(plain: Chart) -> None:
    bass = roots_alone(plain).unfold().written_part("bass")
    assert bass is not None
    assert [(n.beat, n.length, n.pitch.name.pc) for n in bass.notes] == [
        (0, 4, 0), (4, 4, 9), (8, 2, 2), (10, 2, 7), (12, 4, 0)
    ]  # fmt: skip
