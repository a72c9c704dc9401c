"""Some bars of a form as a form of their own, and forms one after the other."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.arrange.excerpts import excerpt, joined, sections_as
from companion.chart.model import Form

Composer = Callable[..., Form]


@pytest.fixture(scope="module")
def tune(compose: Composer) -> Form:
    """Five bars, chords over bar lines, a note on each bar line and one over the next."""
    melody = [(-1, 1, 60), (0, 4, 61), (4, 1, 62), (6, 4, 63), (12, 1, 64), (16, 2, 65)]
    return compose("C | F Bb | G7 | Am | Dm7", melody=melody, sections=[("A", 2, "walking"), ("B", 3, None)])


@pytest.mark.parametrize(
    ("first", "bars", "chords", "sung", "sections"),
    [
        (0, 1, [("C", 0, 4)], [(0, 4, 61)], [("A", 0, 4)]),
        (1, 1, [("F", 0, 2), ("Bb", 2, 4)], [(0, 1, 62), (2, 2, 63)], [("A", 0, 4)]),
        (1, 2, [("F", 0, 2), ("Bb", 2, 4), ("G7", 4, 8)], [(0, 1, 62), (2, 4, 63)], [("A", 0, 4), ("B", 4, 8)]),
        (2, 1, [("G7", 0, 4)], [], [("B", 0, 4)]),
        (3, None, [("Am", 0, 4), ("Dm7", 4, 8)], [(0, 1, 64), (4, 2, 65)], [("B", 0, 8)]),
        (4, 1, [("Dm7", 0, 4)], [(0, 2, 65)], [("B", 0, 4)]),
        (4, 9, [("Dm7", 0, 4)], [(0, 2, 65)], [("B", 0, 4)]),
    ],
)
def test_an_excerpt_has_what_begins_or_sounds_in_its_bars(
    tune: Form,
    first: int,
    bars: int | None,
    chords: list[tuple[str, int, int]],
    sung: list[tuple[int, int, int]],
    sections: list[tuple[str, int, int]],
) -> None:
    made = excerpt(tune, first, *([bars] if bars is not None else []))
    assert [(c.chord.symbol, c.start, c.end) for c in made.chords] == chords
    assert [(n.beat, n.length, n.pitch.midi) for n in made.melody] == sung
    assert [(s.name, s.start, s.end) for s in made.sections] == sections
    assert made.length == sections[-1][2] and made.bars == tuple(range(0, int(made.length), 4))


def test_forms_follow_one_another(tune: Form) -> None:
    one, two = excerpt(tune, 0, 2), excerpt(tune, 3)
    both = joined([one, two])
    assert both.length == 16 and both.bars == (0, 4, 8, 12)
    assert [c.start for c in both.chords] == [0, 4, 6, 8, 12]
    assert [c.end for c in both.chords] == [4, 6, 8, 12, 16]
    assert [(n.beat, n.pitch.midi) for n in both.melody] == [(0, 61), (4, 62), (6, 63), (8, 64), (12, 65)]
    assert [(s.start, s.end, s.treatment) for s in both.sections] == [(0, 8, "walking"), (8, 16, None)]


def test_all_sections_get_one_treatment_or_keep_their_own(tune: Form) -> None:
    assert [s.treatment for s in sections_as(tune, "open").sections] == ["open", "open"]
    assert sections_as(tune, None) is tune


def test_before_the_first_bar_is_nothing_to_take(tune: Form) -> None:
    assert excerpt(tune, -3, 2) == excerpt(tune, 0, 2)
