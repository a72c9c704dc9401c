"""What is to be drilled, made definite: kinds, ladders, tempi, hands and keys."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.chart.model import Chart
from companion.errors import UseError
from companion.messages import Part
from companion.practice.request import Said, drill_request, key_text, other_hand, round_the_keys

MELODY = Said(you=frozenset({"melody"}))


def test_a_ladder_takes_its_tempi_from_the_tunes(ferry: Chart) -> None:
    request = drill_request(ferry, (1, 4), MELODY)
    assert (request.start, request.goal) == (round(0.6 * ferry.tempo), ferry.tempo)


def test_what_is_said_comes_before_the_kind(ferry: Chart) -> None:
    request = drill_request(ferry, (1, 4), replace(MELODY, time="follow", start=50.0), "time")
    assert (request.time, request.click, request.start) == ("follow", "away-2", 50.0)


@pytest.mark.parametrize(("start", "goal", "tempi"), [(200.0, None, (200, 200)), (None, 40.0, (40, 40))])
def test_one_tempo_said_alone_never_lies_beyond_the_other(
    ferry: Chart, start: float | None, goal: float | None, tempi: tuple[float, float]
) -> None:
    request = drill_request(ferry, (1, 4), replace(MELODY, start=start, goal=goal))
    assert (request.start, request.goal) == tempi


@pytest.mark.parametrize("bars", [(0, 4), (30, 33), (90, 99)])
def test_bars_that_the_form_does_not_have_are_said_before_anything_is_opened(
    ferry: Chart, bars: tuple[int, int]
) -> None:
    with pytest.raises(UseError, match=r"no bar (0|33|90).*bars 1 to 32"):
        drill_request(ferry, bars, MELODY)


def test_misspelt_kinds_and_ladders_are_answered_with_the_nearest(ferry: Chart) -> None:
    with pytest.raises(UseError, match=r"'memry'.*memory"):
        drill_request(ferry, (1, 4), MELODY, "memry")
    with pytest.raises(UseError, match=r"'slo'.*slow"):
        drill_request(ferry, (1, 4), replace(MELODY, ladder="slo"))


def test_the_keys_go_round_by_fourths_by_semitones_or_as_they_are_named(ferry: Chart) -> None:
    tonic = ferry.fifths  # G minor: two flats
    assert round_the_keys(ferry, "fourths")[:4] == (tonic, tonic - 1, tonic - 2, tonic - 3)
    assert [(key - tonic) * 7 % 12 for key in round_the_keys(ferry, "semitones")] == list(range(12))
    assert round_the_keys(ferry, "F minor, Bb minor") == (-4, -5)
    assert all(-6 <= key <= 6 for way in ("fourths", "semitones") for key in round_the_keys(ferry, way))
    with pytest.raises(UseError, match="not a key"):
        round_the_keys(ferry, "H")


def test_the_other_hand() -> None:
    assert other_hand({"melody", "chords"}) == {"bass"}
    assert other_hand({"bass"}) == {"melody"}
    with pytest.raises(UseError, match="both hands"):
        other_hand({"bass", "melody"})


@pytest.mark.parametrize(
    ("swap", "you", "hands"),
    [(0, "melody", "mmmmm"), (1, "melody", "mbmbm"), (2, "melody", "mmbbm"), (3, "bass", "bbbmm")],
)
def test_hands_change_after_so_many_rounds(ferry: Chart, swap: int, you: Part, hands: str) -> None:
    """The companion takes the rest of the tune, or what was said as long as the player keeps their own hand."""
    request = drill_request(ferry, (1, 4), Said(you=frozenset({you}), swap=swap))
    told = Said(you=frozenset({you}), swap=swap, parts=("click",))
    others = {"m": ("chords", "bass"), "b": ("melody", "chords")}
    for number, hand in enumerate(hands, 1):
        mine = frozenset({"melody" if hand == "m" else "bass"})
        assert request.hands(number) == (mine, others[hand])
        parts = ("click",) if hand == you[0] else others[hand]
        assert drill_request(ferry, (1, 4), told).hands(number) == (mine, parts)


@pytest.mark.parametrize(("each", "keys"), [(1, [-2, 0, 1, -2, 0]), (2, [-2, -2, 0, 0, 1]), (3, [-2, -2, -2, 0, 0])])
def test_each_key_has_its_rounds_and_then_they_begin_anew(ferry: Chart, each: int, keys: list[int]) -> None:
    request = drill_request(ferry, (1, 4), replace(MELODY, keys="G minor, A minor, E minor", each=each))
    assert [request.key(number) for number in range(1, 6)] == keys


def test_what_is_not_said_is_as_the_kind_and_its_ladder_have_it(ferry: Chart) -> None:
    request = drill_request(ferry, (1, 4), MELODY)
    assert (request.step, request.each, request.swap, request.divide, request.seed) == (4.0, 1, 0, 1, 0)
    assert (request.time, request.click, request.keys, request.rounds) == ("follow", "", (ferry.fifths,), None)
    said = replace(MELODY, step=7.0, each=3, divide=2, seed=5, rounds=9, click="2,4")
    found = drill_request(ferry, (1, 4), said)
    assert (found.step, found.each, found.divide, found.seed, found.rounds) == (7.0, 3, 2, 5, 9)
    assert drill_request(ferry, (1, 4), Said(you=frozenset({"melody", "bass"}))).swap == 0, "without a swap both may be"


@pytest.mark.parametrize(("fifths", "fourths"), [(0, -1), (-5, -6), (-6, 5), (5, 4), (-2, -3)])
def test_a_way_round_the_keys_has_six_flats_and_five_sharps_at_most(ferry: Chart, fifths: int, fourths: int) -> None:
    """Each key once (the circle of fifths; common practice)."""
    way = round_the_keys(replace(ferry, fifths=fifths), "fourths")
    assert (way[0], way[1]) == (fifths, fourths) and sorted(way) == list(range(-6, 6))
    assert round_the_keys(replace(ferry, fifths=fifths), "") == (fifths,)


def test_what_a_drill_is_for_is_said_in_the_words_of_its_kind(ferry: Chart) -> None:
    said = [drill_request(ferry, (1, 4), MELODY, kind).what for kind in ("usual", "warm-up")]
    assert said == ["up to tempo, step by step", "to warm up, slower than one thinks"]


@pytest.mark.parametrize(("fifths", "minor", "text"), [(-3, False, "Eb"), (-3, True, "C minor"), (0, True, "A minor")])
def test_a_key_is_named_as_musicians_do(ferry: Chart, fifths: int, minor: bool, text: str) -> None:
    """Relative keys share a signature (common practice)."""
    assert key_text(replace(ferry, minor=minor), fifths).removesuffix(" major") == text
