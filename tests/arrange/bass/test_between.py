"""What a walk strikes between its beats: fills counted back from the bar line, and the divided beats of a slow walk."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.arrange.bass.between import divided, fill
from companion.preferences import preferences
from companion.preferences.bass import BassFills, BassPreferences, FillFigure, SlowWalk

BASS = preferences(BassPreferences)
FOUR = tuple(map(Fraction, range(4, 9)))
DOTTED = tuple(Fraction(3, 2) * n for n in range(3))


def fills(*at: float, tempo: tuple[float, float] = (60, 100), phrase: float = 1.0, section: float = 1.0) -> BassFills:
    return replace(BASS.fills, phrase=phrase, section=section, ways=(FillFigure(at, tempo),))


@pytest.mark.parametrize(
    ("at", "bounds", "struck"),
    [
        ((0.5,), FOUR, (7.5,)),
        ((1.5, 0.5), FOUR, (6.5, 7.5)),
        ((0.667, 0.333), FOUR, (7 + 1 / 3, 7 + 2 / 3)),
        ((2.5,), FOUR[2:], ()),  # a bar of two beats has no such place
        ((1.5,), FOUR[2:], (6.5,)),
        ((0.5,), DOTTED, (2.5,)),  # in dotted quarters the last quaver
        ((0.667, 0.333), DOTTED, ()),  # which have no thirds
        ((0.25,), FOUR, (7.75,)),
    ],
)
def test_a_fill_is_counted_back_from_the_next_bar_line(
    at: tuple[float, ...], bounds: tuple[Fraction, ...], struck: tuple[float, ...]
) -> None:
    found = fill(fills(*at), bounds, 80, False, random.Random(1))
    assert [float(beat) for beat in found] == pytest.approx(list(struck))


@pytest.mark.parametrize(("tempo", "there"), [(59.9, False), (60, True), (100, True), (100.1, False)])
def test_a_figure_is_played_from_its_slowest_to_its_fastest_tempo(tempo: float, there: bool) -> None:
    assert bool(fill(fills(0.5), FOUR, tempo, False, random.Random(1))) == there


def test_sections_have_a_share_of_their_own() -> None:
    never = fills(0.5, phrase=0.0)
    assert not fill(never, FOUR, 80, False, random.Random(1)) and fill(never, FOUR, 80, True, random.Random(1))
    always = fills(0.5, section=0.0)
    assert fill(always, FOUR, 80, False, random.Random(1)) and not fill(always, FOUR, 80, True, random.Random(1))


def slow(share: float, leads: float = 1.0, at: tuple[float, ...] = (0.5,)) -> SlowWalk:
    return replace(
        BASS.slow, from_tempo=90.0, down_to=50.0, share=share, leads=leads, ways=(FillFigure(at, (10.0, 90.0)),)
    )


def shares(rules: SlowWalk, tempo: float, leads: int | None = None, bars: int = 4000) -> list[float]:
    """How often each of four beats is divided."""
    chance, counts = random.Random(4), [0] * 4
    for _ in range(bars):
        for beat in divided(rules, FOUR, tempo, lambda k: k == leads, chance):
            counts[int(beat) - 4] += 1
    return [count / bars for count in counts]


def test_never_two_beats_running_are_divided_and_none_from_a_tempo_on() -> None:
    found = divided(slow(1.0), FOUR, 50, lambda k: False, random.Random(1))
    assert [float(beat) for beat in found] == [4.5, 6.5]
    assert divided(slow(1.0), FOUR, 90, lambda k: False, random.Random(1)) == ()
    assert divided(slow(1.0), FOUR[:1], 50, lambda k: False, random.Random(1)) == ()
    two = divided(slow(1.0, at=(0.333, 0.667)), FOUR, 50, lambda k: False, random.Random(1))
    assert [float(beat) for beat in two] == pytest.approx([4 + 1 / 3, 4 + 2 / 3, 6 + 1 / 3, 6 + 2 / 3])


@pytest.mark.parametrize(("tempo", "share"), [(50, 0.2), (40, 0.2), (70, 0.1), (80, 0.05)])
def test_the_slower_the_more_beats_are_divided(tempo: float, share: float) -> None:
    found = shares(slow(0.2), tempo)
    assert sum(found) / 4 == pytest.approx(share, abs=0.02)


def test_a_beat_that_leads_to_another_chord_is_divided_rather() -> None:
    found = shares(slow(0.2, leads=3.0), 50, leads=0)
    assert found[0] == pytest.approx(3 * 0.2 * 4 / 6 * 1.2, abs=0.02)
    assert found[2] / found[0] == pytest.approx(1 / 3, abs=0.07)
