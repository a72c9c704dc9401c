"""The bass in phrases: fills at their ends, a slow walk divided, patterns kept and varied, chords spelled.

What is right here is common practice, as bass methods teach it.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from companion.arrange.bass.arc import Arc
from companion.arrange.bass.phrases import last_bars, phrase_starts
from companion.arrange.bass.strikes import on_thirds
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences

Composer = Callable[..., Form]


def choruses(form: Form, treatment: str, count: int = 6) -> list[list[Note]]:
    """The bass of some choruses, without ghosted skips."""
    found = (arrange(form, "bass", Request(treatment=treatment, chorus=c)) for c in range(1, count + 1))
    return [[n for n in notes if n.weight >= 0.6] for notes in found]


def bars(form: Form, notes: list[Note]) -> Iterator[list[Note]]:
    for start, end in zip(form.bars, (*form.bars[1:], form.length), strict=True):
        yield [n for n in notes if start <= n.beat < end]


def degrees(form: Form, bar: list[Note], root: int) -> list[int]:
    """Semitones above a root of the notes on the beats."""
    return [(n.midi - root) % 12 for n in bar if n.beat % form.metre.pulse == 0]


# phrases


def test_phrases_are_of_four_bars_and_of_eight_where_bars_are_short(compose: Composer) -> None:
    shape = preferences(BassPreferences).shape
    changes = " | ".join(["Cmaj7"] * 16)
    assert phrase_starts(shape, compose(changes, tempo=120.0)) == (0, 16, 32, 48)
    assert phrase_starts(shape, compose(changes, tempo=280.0)) == (0, 32)


def test_phrases_begin_anew_with_each_section_and_a_bar_left_over_belongs_to_the_last(compose: Composer) -> None:
    shape = preferences(BassPreferences).shape
    form = compose(" | ".join(["Cmaj7"] * 11), sections=[("A", 6, None), ("B", 5, None)])
    assert [int(start / 4) for start in phrase_starts(shape, form)] == [0, 4, 6]
    assert sorted(int(bar / 4) for bar in last_bars(shape, form)) == [3, 5, 10]


def test_fills_come_where_phrases_end_and_rarely_elsewhere(compose: Composer) -> None:
    form = compose(" | ".join(["Cmaj7", "Am7", "Dm7", "G7"] * 8), tempo=126.0)
    ends = other = 0
    for notes in choruses(form, "walking"):
        for number, bar in enumerate(bars(form, notes), 1):
            filled = any(n.beat.denominator > 1 for n in bar)
            if number % 4 == 0:
                ends += filled
            else:
                other += filled
    assert 0.3 * 48 <= ends <= 0.8 * 48
    assert other == 0


def test_a_fill_may_be_a_triplet_or_a_run_of_quavers(compose: Composer) -> None:
    form = compose(" | ".join(["Cmaj7", "Am7", "Dm7", "G7"] * 8), tempo=108.0)
    ways = set()
    for notes in choruses(form, "walking", 12):
        ways |= {tuple(n.beat % 4 for n in bar if n.beat.denominator > 1) for bar in bars(form, notes)}
    third, half = Fraction(1, 3), Fraction(1, 2)
    assert {(3 + half,), (2 + half, 3 + half), (3 + third, 4 - third)} <= ways


def test_a_fill_moves_by_step_and_leads_to_the_next_bar(compose: Composer) -> None:
    form = compose(" | ".join(["Cmaj7", "Am7", "Dm7", "G7"] * 8), tempo=126.0)
    moves = []
    for notes in choruses(form, "walking"):
        between = [k for k, n in enumerate(notes[:-1]) if n.beat.denominator > 1]
        moves += [abs(notes[k + 1].midi - notes[k].midi) for k in between]
    assert sum(move <= 2 for move in moves) >= 0.7 * len(moves)
    assert all(move <= 7 or move == 12 for move in moves)


# a slow walk


def test_at_forty_a_walk_is_divided_by_quavers_and_triplets_and_at_medium_tempo_it_is_not(compose: Composer) -> None:
    changes = " | ".join(["Cmaj7", "Am7", "Dm7", "G7"] * 8)
    slow, medium = compose(changes, tempo=40.0), compose(changes, tempo=120.0)
    split = {int(n.beat) for n in choruses(slow, "walking", 1)[0] if n.beat.denominator > 1}
    assert 0.2 * 128 <= len(split) <= 0.6 * 128
    assert {n.beat.denominator for notes in choruses(slow, "walking") for n in notes} >= {1, 2, 3}
    assert sum(n.beat.denominator > 1 for n in choruses(medium, "walking", 1)[0]) < 0.15 * 128


def test_a_slow_walk_is_divided_rather_where_it_leads_to_another_chord(compose: Composer) -> None:
    form = compose(" | ".join(["Cmaj7", "Am7", "Dm7", "G7"] * 8), tempo=44.0)
    divided = [int(n.beat % 4) for notes in choruses(form, "walking") for n in notes if n.beat.denominator > 1]
    assert divided.count(3) > 1.3 * max(divided.count(k) for k in (0, 1))


# patterns


def rhythms(form: Form, notes: list[Note]) -> list[tuple[Fraction, ...]]:
    return [tuple(n.beat % 4 for n in bar) for bar in bars(form, notes)]


@pytest.mark.parametrize("treatment", ["bossa", "tumbao"])
def test_a_bossa_and_a_tumbao_keep_a_pattern_for_a_section_and_vary_its_end(compose: Composer, treatment: str) -> None:
    sections = [("A", 8, None), ("A", 8, None), ("B", 8, None), ("A", 8, None)]
    form = compose(" | ".join(["Cmaj7", "Am7", "Dm7", "G7"] * 8), feel="straight", sections=sections)
    kept = set()
    for notes in choruses(form, treatment):
        rows = rhythms(form, notes)
        for start in (0, 8, 16, 24):
            assert len(set(rows[start : start + 7])) == 1
            assert rows[start + 7] != rows[start]
        assert rows[0] == rows[8] == rows[24], "the same section has the same pattern"
        kept.add((rows[0], rows[16]))
    assert len(kept) > 1, "another chorus, another pattern"


def test_where_a_bossa_stays_on_a_chord_it_says_root_and_fifth(compose: Composer) -> None:
    form = compose(" | ".join(["Cmaj7"] * 8), feel="straight")
    for notes in choruses(form, "bossa"):
        said = [(n.midi - 36) % 12 for n in notes if n.beat < 28]
        assert sum(step in (0, 7) for step in said) >= 0.7 * len(said)
        assert set(said) <= {0, 4, 7}


def test_in_two_phrases_end_with_a_pickup_to_the_next(compose: Composer) -> None:
    form = compose(" | ".join(["Cmaj7", "Am7", "Dm7", "G7"] * 8))
    led = [any(n.beat % 4 > 2 for n in bar) for notes in choruses(form, "in-two") for bar in bars(form, notes)]
    at_ends, elsewhere = led[3::4], [one for k, one in enumerate(led) if k % 4 != 3]
    assert sum(at_ends) >= 0.7 * len(at_ends)
    assert sum(elsewhere) < 0.5 * len(elsewhere)


# spelling


def test_a_chord_is_spelled_by_two_of_its_tones_and_mostly_on_the_third_beat(compose: Composer) -> None:
    form = compose(" | ".join(["C13", "F13", "Gm9", "Ebmaj7#11"] * 8))
    plain = [{0, 4, 7, 10}, {5, 9, 0, 3}, {7, 10, 2, 5}, {3, 7, 10, 2}] * 8
    third = two = 0
    for notes in choruses(form, "walking"):
        for own, bar in zip(plain, bars(form, notes), strict=True):
            own_beats = [n.midi % 12 in own for n in bar if n.beat.denominator == 1]
            third += own_beats[2]
            two += sum(own_beats[:3]) >= 2
    assert third >= 0.75 * 192
    assert two >= 0.97 * 192


def test_a_minor_sixth_has_no_line_of_its_subdominant(compose: Composer) -> None:
    form = compose(" | ".join(["Cm6", "Cm6", "Dm7b5", "G7"] * 8), fifths=-3, minor=True)
    for notes in choruses(form, "walking"):
        for number, bar in enumerate(bars(form, notes)):
            if number % 4 < 2:
                steps = degrees(form, bar, 36)
                assert steps[2] != 5
                assert not {5, 9} <= set(steps), "F and A are F7"


@pytest.mark.parametrize(("symbol", "own"), [("Bdim7", {0, 3, 6, 9}), ("Cm(maj7)", {0, 3, 7, 11})])
def test_diminished_and_minor_major_chords_are_walked_in_arpeggio(
    compose: Composer, symbol: str, own: set[int]
) -> None:
    form = compose(" | ".join([symbol, "Fm7"] * 8), fifths=-3, minor=True)
    root = 35 if symbol.startswith("B") else 36
    said = [
        step in own
        for notes in choruses(form, "walking")
        for bar in list(bars(form, notes))[::2]
        for step in degrees(form, bar, root)[:3]
    ]
    assert sum(said) >= 0.8 * len(said)


def test_some_approaches_come_from_the_fifth(compose: Composer) -> None:
    form = compose(" | ".join(["Cmaj7", "Am7", "Dm7", "G7"] * 8))
    moves = [
        abs(after.midi - before.midi)
        for notes in choruses(form, "walking")
        for before, after in pairwise(notes)
        if after.beat % 4 == 0
    ]
    assert 0.10 <= sum(move in (5, 7) for move in moves) / len(moves) <= 0.20


def test_a_chord_may_stand_on_its_third_where_the_bass_goes_by_step(compose: Composer) -> None:
    assert on_thirds(compose("Fmaj7 | C | Dm7 | G7 | Dm7 | C7 | F6 | G7")) == (4, 20), "F C/E Dm, and Dm C7/E F"
    assert on_thirds(compose("G7 | C | F | G7")) == (), "a fourth below is no step"
    assert on_thirds(compose("Fmaj7 | C/G | Dm7 | G7")) == (), "its bass is written"
    form = compose(" | ".join(["Fmaj7", "C", "Dm7", "G7"] * 8))
    said = [n.pitch.name.step for notes in choruses(form, "walking") for n in notes if n.beat % 16 == 4]
    assert set(said) == {"C", "E"}
    assert said.count("E") < said.count("C")


def test_no_fill_leads_into_silence(compose: Composer) -> None:
    phrases = "F | Bb | C7 | F N.C. | F | Bb | C7 | F | "
    form = compose((phrases * 4).removesuffix(" | "), tempo=108.0, fifths=-1)
    fills = [n.beat % 32 for notes in choruses(form, "walking", 12) for n in notes if n.beat.denominator > 1]
    assert any(beat > 28 for beat in fills)
    assert not any(13 <= beat < 16 for beat in fills)


# Arcs, by hand


class Thrown(random.Random):
    """Dice that fall as they are told, one after the other; what lies between two numbers is told as a share."""

    def __init__(self, *fallen: float):
        super().__init__(0)
        self.fallen = list(fallen)

    def random(self) -> float:
        return self.fallen.pop(0)

    def uniform(self, a: float, b: float) -> float:
        return a + (b - a) * self.fallen.pop(0)


@pytest.mark.parametrize(
    ("dice", "phrases", "places", "heights"),
    [
        # low, and back to low over a height in the middle of the phrase
        ((0.4, 0.6, 0.5, 0, 0, 0), (0, 4), [0, 2, 4], [30, 50, 30]),
        # high; begins below 0.35
        ((0.34, 0.6, 0.5, 0, 0, 0), (0, 4), [0, 2, 4], [50, 30, 50]),
        ((0.35, 0.6, 0.5, 0, 0, 0), (0, 4), [0, 2, 4], [30, 50, 30]),
        # from 0.65 on it rises or falls
        ((0.4, 0.65, 0, 0), (0, 4), [0, 4], [30, 50]),
        ((0.3, 0.7, 0, 0), (0, 4), [0, 4], [50, 30]),
        # it turns between 35 and 65 hundredths of the phrase, and lies up to 15 hundredths of the range inside it
        ((0.4, 0, 0, 0.5, 1, 0), (0, 4), [0, 1.4, 4], [31.5, 47, 30]),
        ((0.4, 0, 1, 0, 0, 1), (0, 4), [0, 2.6, 4], [30, 50, 33]),
        # a phrase of one bar goes one way, one of two may go both
        ((0.4, 0, 0, 0), (0, 1), [0, 1], [30, 50]),
        ((0.4, 0, 0.5, 0, 0, 0), (0, 2), [0, 1, 2], [30, 50, 30]),
        # the next goes on from there
        ((0.4, 0.9, 0, 0.5, 0, 0, 0, 0), (0, 4, 8), [0, 4, 6, 8], [30, 50, 30, 50]),
    ],
)
def test_an_arc_lies_low_and_high_by_turns(
    dice: tuple[float, ...], phrases: tuple[int, ...], places: list[float], heights: list[float]
) -> None:
    shape = preferences(BassPreferences).shape
    arc = Arc(shape, (30, 50), phrases, Thrown(*dice))
    assert arc.places == pytest.approx(places) and arc.heights == pytest.approx(heights)


def test_between_two_knots_an_arc_follows_half_a_cosine() -> None:
    arc = Arc(preferences(BassPreferences).shape, (30, 50), (0, 4), Thrown(0.4, 0.6, 0.5, 0, 0, 0))
    quarter = 10 - 10 * math.cos(math.pi / 4)
    found = arc.at(np.array([0, 0.5, 1, 1.5, 2, 2.5, 3, 4]))
    assert found == pytest.approx([30, 30 + quarter, 40, 50 - quarter, 50, 50 - quarter, 40, 30])


@pytest.mark.parametrize(
    ("bars", "starts"),
    [
        ((8,), [0, 4]),
        ((5,), [0]),  # a bar that is left over belongs to the phrase before
        ((6,), [0, 4]),
        ((9,), [0, 4]),
        ((1,), [0]),
        ((1, 8), [0, 1, 5]),  # alone it is one
        ((3, 5, 4), [0, 3, 8]),
    ],
)
def test_a_section_is_divided_into_phrases_of_four_bars(
    compose: Callable[..., Form], bars: tuple[int, ...], starts: list[int]
) -> None:
    """At 120 a bar lasts two seconds, and a phrase about eight; at 240 it has eight bars."""
    sections = [(chr(65 + n), size, None) for n, size in enumerate(bars)]
    changes, shape = " | ".join(["C"] * sum(bars)), preferences(BassPreferences).shape
    found = phrase_starts(shape, compose(changes, tempo=120.0, sections=sections))
    assert [start // 4 for start in found] == starts
    if len(bars) == 1:
        assert [start // 4 for start in phrase_starts(shape, compose(changes, tempo=240.0))] == [0]
    ends = last_bars(shape, compose(changes, tempo=120.0, sections=sections))
    assert sorted(end // 4 for end in ends) == sorted([*(start - 1 for start in starts[1:]), sum(bars) - 1])
