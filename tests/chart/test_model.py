"""From sections to the form: pickups laid over what is there, chords without gaps."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.errors import ChartError
from companion.music.chords import NO_CHORD

TWO = """format = 1
form = "A B A"
[section.A]
treatment = "walking"
chords = "| C | F |"
melody = "G2 | c8 | d4 e4 |"
[section.B]
treatment = "sparse"
chords = "| . . G7 . | C |"
melody = "e2 f2 | g8 | z4 a4- | a4"
"""


def chart() -> Chart:
    return parse_toml(TWO)


def test_the_same_chart_read_again_is_the_very_same_form() -> None:
    assert chart().unfold() is chart().unfold()
    assert replace(chart(), tempo=90.0).unfold() is not chart().unfold()


def test_a_chart_is_laid_out_once_however_often_its_form_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who plays and judges a round asks at every note."""
    tune = chart()
    form = tune.unfold()
    monkeypatch.delattr("companion.chart.model._unfolded")
    assert tune.unfold() is form


@pytest.mark.parametrize("third", [Fraction(1, 3), Fraction(2, 3)])
def test_a_bar_begins_on_its_first_beat_and_not_a_triplet_before(third: Fraction) -> None:
    form = chart().unfold()
    starts = [(bar, n) for n, bar in enumerate(form.bars, 1)]
    assert [form.bar_at(bar) for bar, _ in starts] == [n for _, n in starts]
    assert [form.bar_at(bar - third) for bar, _ in starts] == [n - 1 or len(starts) for _, n in starts]
    assert [form.bar_at(bar + 3 * form.length + third) for bar, _ in starts] == [n for _, n in starts]


def test_the_first_pickup_lies_below_zero() -> None:
    form = chart().unfold()
    assert (form.melody[0].beat, form.pickup) == (-1, 1)


def test_a_pickup_takes_the_place_of_what_stands_in_the_bar_before() -> None:
    form = chart().unfold()
    around = [(float(n.beat), float(n.length), str(n.pitch)) for n in form.melody if 4 <= n.beat < 9]
    # The e of section A gives way to the pickup of section B.
    assert around == [(4, 2, "D5"), (6, 1, "E5"), (7, 1, "F5"), (8, 4, "G5")]


def test_a_note_held_into_a_pickup_is_cut_where_it_begins() -> None:
    text = TWO.replace("d4 e4", "d8")
    around = [(float(n.beat), float(n.length)) for n in parse_toml(text).unfold().melody if 4 <= n.beat < 8]
    assert around == [(4, 2), (6, 1), (7, 1)]


def test_a_note_tied_over_a_section_sounds_until_the_next_note() -> None:
    form = chart().unfold()
    end = [(float(n.beat), float(n.length), str(n.pitch)) for n in form.melody if 14 <= n.beat < 16]
    assert end == [(14, 1, "A5"), (15, 1, "G4")]  # the pickup to the last A comes in
    alone = parse_toml(TWO.replace('"A B A"', '"A B"')).unfold()
    assert (alone.melody[-1].beat, alone.melody[-1].length) == (14, 4)


def test_chords_cover_the_whole_form_and_no_chord_fills_the_gaps() -> None:
    form = chart().unfold()
    spans = form.chords
    assert (spans[0].start, spans[-1].end, form.length) == (0, 24, 24)
    assert all(a.end == b.start for a, b in pairwise(spans))
    assert [s.chord for s in spans if 8 <= s.start < 10] == [NO_CHORD]


def test_every_bar_and_section_has_its_place() -> None:
    form = chart().unfold()
    assert form.bars == tuple(Fraction(4 * k) for k in range(6))
    assert [(p.name, p.start, p.end, p.treatment) for p in form.sections] == [
        ("A", 0, 8, "walking"), ("B", 8, 16, "sparse"), ("A", 16, 24, "walking"),
    ]  # fmt: skip
    assert (form.bar_at(0), form.bar_at(Fraction(15, 2)), form.bar_at(24)) == (1, 2, 1)


def test_a_form_that_names_no_section_is_refused() -> None:
    with pytest.raises(ChartError, match="names a section 'Z'"):
        Chart("x", chart().sections, ("A", "Z")).unfold()


def test_a_form_without_end_is_refused() -> None:
    with pytest.raises(ChartError, match="more than 2000 bars"):
        parse_toml(
            TWO.replace('"A B A"', '"' + "A " * 900 + '"')
            .replace("| C | F |", "| C | F |" + " C |" * 5)
            .replace("| d4 e4 |", "| d4 e4 | Z5 |")
        ).unfold()
