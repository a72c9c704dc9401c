"""The rhythm of an improvised line: what is taken up from the player, and the cells of its beats."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

import pytest

from companion.arrange.solo.rhythm import cell_onsets, motif_of, player_onsets
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.solo import SoloPreferences

Composer = Callable[..., Form]
SOLO = preferences(SoloPreferences)
MOTIF = replace(SOLO.motif, bars=2, notes=(3, 4))


@pytest.mark.parametrize(
    ("heard", "motif"),
    [
        ([], []),
        ([(4, 60)], []),
        ([(4, 60), (5, 62), (6, 64)], [(0, 60), (1, 62), (2, 64)]),
        ([(4.03, 60), (5.52, 62), (6.34, 64)], [(0, 60), (1.5, 62), (7 / 3, 64)]),  # to quavers and triplets
        ([(0, 60), (1, 62), (2, 64), (4, 65)], [(0, 60), (1, 62), (2, 64)]),  # the last bar says too little
        ([(0, 60), (1, 62), (4, 64), (5, 65)], [(0, 64), (1, 65)]),  # neither says enough: two will do
        ([(0, 60), (1, 62), (2, 64), (8, 65)], [(2, 64), (8, 65)]),  # too long ago
        ([(4, 60), (4.5, 62), (5, 64), (5.5, 65), (6, 67)], [(0, 60), (0.5, 62), (1, 64), (1.5, 65)]),  # its most
        ([(4, 60), (4.05, 67), (4.1, 64), (5, 62), (6, 64)], [(0, 67), (1, 62), (2, 64)]),  # the top of a chord
        ([(4, 60), (4.125, 67), (5, 62)], [(0, 67), (1, 62)]),
    ],
)
def test_a_motif_is_the_last_bar_of_the_players_that_says_something(
    compose: Composer, heard: list[tuple[float, int]], motif: list[tuple[float, int]]
) -> None:
    found = motif_of(MOTIF, compose("C | C | C | C"), heard)
    assert [(pytest.approx(float(place)), midi) for place, midi in found] == motif


PLAYED = ((Fraction(1, 2), 60), (Fraction(1), 64), (Fraction(3), 62))


@pytest.mark.parametrize(
    ("again", "start", "stop", "onsets", "at"),
    [
        (0.0, 4, 16, [(4.5, None), (5, 4), (7, -2)], 8),
        (1.0, 4, 16, [(4.5, None), (5, 4), (7, -2), (8.5, None), (9, 4), (11, -2)], 12),
        (1.0, 4, 11, [(4.5, None), (5, 4), (7, -2)], 8),  # no room for all of it
        (1.0, 4, 7, [], 4),
        (0.0, 5, 16, [(5.5, None), (6, 4), (8, -2)], 9),  # begun late: from there
    ],
)
def test_the_players_motif_comes_once_or_twice(
    compose: Composer, again: float, start: int, stop: int, onsets: list[tuple[float, int | None]], at: int
) -> None:
    taste = replace(SOLO, motif=replace(SOLO.motif, again=again))
    form = compose("C | C | C | C")
    found, goes_on = player_onsets(taste, form, Fraction(start), Fraction(stop), PLAYED, random.Random(2))
    assert ([(float(beat), step) for beat, step in found], goes_on) == (onsets, at)


def test_a_motif_of_a_late_beat_begins_where_the_phrase_does(compose: Composer) -> None:
    late = tuple((place + 2, midi) for place, midi in PLAYED)
    taste = replace(SOLO, motif=replace(SOLO.motif, again=0.0))
    found, _ = player_onsets(taste, compose("C | C | C"), Fraction(5), Fraction(12), late, random.Random(2))
    assert [beat for beat, _ in found] == [Fraction(11, 2), 6, 8]


def cells(compose: Composer, tempo: float, metre: str = "4/4", warm: float = 0.5) -> list[tuple[Fraction, ...]]:
    """The places struck in each beat of a long line."""
    form = compose(" | ".join(["C"] * 256), tempo=tempo, metre=metre)
    pulse = form.metre.pulse
    struck = cell_onsets(SOLO, form, Fraction(0), form.length, warm, True, random.Random(3))
    beats = {n: tuple(beat % pulse for beat in some) for n, some in groupby(struck, key=lambda beat: beat // pulse)}
    return [beats.get(n, ()) for n in range(int(form.length / pulse))]


@pytest.mark.parametrize(
    ("tempo", "triplets", "turns", "semiquavers"),
    [(60, True, True, True), (76, True, True, True), (77, True, True, False), (132, True, True, False),
     (133, True, False, False), (199, True, False, False), (200, False, False, False)],
)  # fmt: skip
def test_what_is_quick_is_left_out_where_the_tempo_is(
    compose: Composer, tempo: float, triplets: bool, turns: bool, semiquavers: bool
) -> None:
    found = set(cells(compose, tempo))
    third, quarter = Fraction(1, 3), Fraction(1, 4)
    assert ((0, third, 2 * third) in found) == triplets
    assert ((0, third / 2, third, Fraction(1, 2)) in found) == turns
    assert ((0, quarter, 2 * quarter, 3 * quarter) in found) == semiquavers


@pytest.mark.parametrize(("metre", "known"), [("4/4", SOLO.cells), ("6/8", SOLO.cells_compound)])
def test_no_cell_comes_too_often_running(compose: Composer, metre: str, known: object) -> None:
    most = known.most  # type: ignore[attr-defined]
    by_hits = {
        tuple(Fraction(hit).limit_denominator(24) for hit in cell.hits): most[name]
        for name, cell in known.named.items()  # type: ignore[attr-defined]
    }
    longest: dict[tuple[Fraction, ...], int] = {}
    for cell, some in groupby(cells(compose, 100.0, metre)):
        longest[cell] = max(longest.get(cell, 0), len(list(some)))
    assert all(count <= by_hits[cell] for cell, count in longest.items())
    assert any(longest[cell] == by_hits[cell] > 1 for cell in longest)


def test_the_hotter_a_phrase_the_busier(compose: Composer) -> None:
    counts = [sum(map(len, cells(compose, 150.0, warm=warm))) for warm in (0.0, 0.5, 1.0)]
    assert counts == sorted(counts) and counts[2] > 1.1 * counts[0]


def test_onsets_lie_from_the_beat_asked_for_to_the_one_where_it_stops(compose: Composer) -> None:
    form = compose(" | ".join(["C"] * 8))
    for start, stop in ((2.5, 6), (3, 3.5), (4, 4)):
        found = cell_onsets(SOLO, form, Fraction(start), Fraction(stop), 1.0, True, random.Random(5))
        assert all(start <= beat < stop for beat in found)
