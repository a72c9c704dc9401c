"""The plan of a solo: how hot it is where, how its bars are told, where its highest note may lie, and the riff.

A peak in the third quarter, and that a blues has twelve bars and goes to the fourth degree in the fifth, are common
practice.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.arrange.solo.story import SoloChorus, heat, is_blues, is_riff_chorus, story
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.solo import SoloPreferences

Composer = Callable[..., Form]
SOLO = preferences(SoloPreferences)
ARC = replace(SOLO.arc, begins=0.2, peak=0.5, ends=0.4, curve=2.0)
BLUES = "F7 | Bb7 | F7 | F7 | Bb7 | Bb7 | F7 | F7 | C7 | Bb7 | F7 | C7"


@pytest.mark.parametrize(
    ("share", "hot"),
    [(0, 0.2), (0.25, 0.2 + 0.8 / 4), (0.5, 1.0), (0.75, 0.7), (1.0, 0.4)],  # a quarter of the way up at half the time
)
def test_heat_rises_to_the_peak_and_falls_evenly(share: float, hot: float) -> None:
    assert heat(ARC, share) == pytest.approx(hot)


def test_a_peak_at_the_very_beginning_or_end_is_no_harm() -> None:
    assert heat(replace(ARC, peak=1.0), 1.0) == pytest.approx(1.0)
    assert heat(replace(ARC, peak=0.0), 0.5) == pytest.approx(0.7)


@pytest.mark.parametrize(
    ("time", "times", "beat", "share"),
    [
        (1, 1, 0, 0),
        (1, 1, 16, 0.5),
        (2, 4, 0, 0.25),
        (2, 4, 16, 0.375),
        (4, 4, 32, 1),
        (3, 4, -4, 0.5),
        (3, 4, 40, 0.75),
    ],
)
def test_how_much_of_a_solo_is_over(compose: Composer, time: int, times: int, beat: int, share: float) -> None:
    form, place = compose(" | ".join(["C"] * 8)), SoloChorus(time, times)
    assert place.share(form, Fraction(beat)) == pytest.approx(share)
    if 0 <= beat <= 32:
        assert place.beat(form, share) == beat


@pytest.mark.parametrize(
    ("changes", "blues"),
    [(BLUES, True), (f"{BLUES} | {BLUES}", True), (BLUES.replace("F7 | F7 | Bb7 | Bb7", "F7 | F7 | F7 | Bb7"), False),
     (BLUES + " | F7", False), (BLUES.replace("F7 | F7 | C7 | Bb7 | F7 | C7", "F7"), False)],
)  # fmt: skip
def test_a_blues_has_twelve_bars_and_goes_to_the_fourth_degree_in_the_fifth(
    compose: Composer, changes: str, blues: bool
) -> None:
    assert is_blues(compose(changes, fifths=-1)) == blues


@pytest.mark.parametrize(("times", "riff"), [(2, 1), (3, 1), (4, 2), (5, 3), (6, 3), (8, 5)])
def test_the_chorus_before_the_peaks_is_a_riff(compose: Composer, times: int, riff: int) -> None:
    taste = replace(SOLO, arc=replace(SOLO.arc, peak=0.66))
    form, chance = compose(BLUES, fifths=-1), random.Random(1)
    found = [time for time in range(1, times + 1) if is_riff_chorus(taste, form, SoloChorus(time, times), chance)]
    assert found == [riff]
    assert not is_riff_chorus(taste, compose("C | F | C | G7"), SoloChorus(riff, times), chance)


def test_a_solo_of_one_chorus_is_a_riff_now_and_then(compose: Composer) -> None:
    form, chance = compose(BLUES, fifths=-1), random.Random(1)
    for share in (0.0, 1.0):
        taste = replace(SOLO, riff=replace(SOLO.riff, chance=share))
        assert all(is_riff_chorus(taste, form, SoloChorus(), chance) == bool(share) for _ in range(5))


def told(form: Form, place: SoloChorus | None, seed: int = 1, **taste: object) -> list[tuple[float, float, str]]:
    found = story(replace(SOLO, **taste), form, Fraction(0), form.length, place, random.Random(seed))  # type: ignore[arg-type]
    return [(float(one.start / 4), float(one.stop / 4), one.role) for one in found]


def test_a_riff_is_said_twice_in_each_line_and_goes_on_in_the_last(compose: Composer) -> None:
    form = compose(BLUES, fifths=-1)
    assert told(form, SoloChorus(1, 3)) == [
        (0, 2, "new"), (2, 4, "again"), (4, 6, "again"), (6, 8, "again"), (8, 12, "varied"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("bars", "sections", "edges"),
    [
        (8, [], [0, 8]),
        (16, [], [0, 8, 16]),
        (12, [("A", 5, None), ("B", 7, None)], [0, 5, 12]),
        (9, [], [0, 8, 9]),
        (20, [("A", 10, None), ("A", 10, None)], [0, 8, 10, 18, 20]),
    ],
)
def test_a_paragraph_is_a_section_or_eight_bars_of_it(
    compose: Composer, bars: int, sections: list[tuple[str, int, None]], edges: list[int]
) -> None:
    form = compose(" | ".join(["C"] * bars), sections=sections)
    arc = replace(SOLO.arc, carried=0.0)
    for seed in range(6):
        found = told(form, SoloChorus(2, 3), seed, arc=arc)
        assert (found[0][0], found[-1][1]) == (0, bars)
        assert all(a[1] == b[0] for a, b in pairwise(found)), "no bar is left out"
        assert set(edges) <= {0, *(stop for _, stop, _ in found)}
        assert all(stop - start <= 5 for start, stop, _ in found)
        begins = [role for start, _, role in found if start in edges[:-1]]
        assert set(begins) == {"new"}


def test_bars_that_no_paragraph_has_are_told_in_phrases_of_two_to_four(compose: Composer) -> None:
    form = compose(" | ".join(["C"] * 7))
    phrase = replace(SOLO.phrase, bars=(3,))
    assert [(a, b) for a, b, _ in told(form, SoloChorus(2, 3), phrase=phrase)] == [(0, 3), (3, 7)], "no bar alone"
    phrase = replace(SOLO.phrase, bars=(2,))
    found = told(form, SoloChorus(2, 3), phrase=phrase)
    assert found == [(0, 2, "new"), (2, 4, "again"), (4, 7, "varied")]


def test_a_paragraph_may_carry_on_what_was_said(compose: Composer) -> None:
    form = compose(" | ".join(["C"] * 16))
    found = told(form, SoloChorus(2, 3), arc=replace(SOLO.arc, carried=1.0))
    assert [role for start, _, role in found if start in (0, 8)] == ["new", "varied"]


def test_in_turn_with_the_player_nothing_climbs(compose: Composer) -> None:
    form = compose(" | ".join(["C"] * 8))
    found = story(SOLO, form, Fraction(8), Fraction(24), None, random.Random(1))
    assert {one.heat for one in found} == {SOLO.arc.trading} and not any(one.peak for one in found)
    assert (found[0].start, found[-1].stop) == (8, 24)


@pytest.mark.parametrize(("time", "times", "peak"), [(1, 1, True), (1, 3, False), (2, 3, True), (3, 3, False)])
def test_one_phrase_has_the_highest_note_in_the_third_quarter_of_the_whole(
    compose: Composer, time: int, times: int, peak: bool
) -> None:
    form, place = compose(" | ".join(["C"] * 16)), SoloChorus(time, times)
    taste = replace(SOLO, arc=replace(SOLO.arc, peak=0.6))
    found = story(taste, form, Fraction(0), form.length, place, random.Random(3))
    spans = [one.peak for one in found if one.peak]
    assert len(spans) == peak
    for start, stop in spans:
        assert 0.5 < place.share(form, start) < place.share(form, stop) < 0.75
        assert any(one.start <= start < stop <= one.stop for one in found)
    assert [one.heat for one in found] == [heat(taste.arc, place.share(form, (o.start + o.stop) / 2)) for o in found]
