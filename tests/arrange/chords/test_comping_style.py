"""A player's style as data: what a shape is known by, how much it is liked, and what a damaged one is refused for."""

from __future__ import annotations

from dataclasses import asdict

import pytest

from companion.arrange.chords.comping_style import (
    CompingStyle,
    UsedRhythm,
    UsedShape,
    liked,
    places,
    shape_liking,
)
from companion.music.kinds import degrees
from companion.preferences.like_you import ShapeLikings
from companion.stage.typed_rows import from_table

THIRD = UsedShape("m7", "b3 5 b7 9", 0, 0.8, 64, 70, 24, 5)
LIKES = ShapeLikings(10.0, 0.5, 0.1)


def test_a_shape_is_the_same_in_whatever_colour() -> None:
    assert places(degrees("3 13 b7 9")) == places(degrees("3 b13 b7 #9")) != places(degrees("b7 9 3 13"))


def test_the_players_shape_is_liked_by_its_worth_and_another_inversion_less() -> None:
    assert shape_liking(LIKES, (THIRD,), degrees("b3 5 b7 9")) == ((8.0, 64, 70),)
    assert shape_liking(LIKES, (THIRD,), degrees("b7 9 b3 5")) == ((4.0, 64, 70),)
    assert shape_liking(LIKES, (THIRD,), degrees("b3 b7 9")) == ()


def test_the_liking_fades_beyond_the_top_notes_that_the_player_has() -> None:
    ways = shape_liking(LIKES, (THIRD,), THIRD.row)
    assert [round(liked(LIKES, ways, top), 2) for top in (62, 64, 70, 73, 90)] == [6.4, 8.0, 8.0, 5.6, 0.0]
    assert liked(LIKES, (), 66) == 0.0


def test_a_style_comes_back_from_a_file_as_it_was() -> None:
    style = CompingStyle((THIRD,), (UsedRhythm("4/4", "swing", (-0.5, 2.0), (1.0, 0.5), 0.7, 9, 3),), 5)
    assert from_table(CompingStyle, asdict(style)) == style


@pytest.mark.parametrize(
    "changed",
    [
        {"degrees": "b3 five"},
        {"degrees": ""},
        {"worth": 1.5},
        {"worth": float("nan")},
        {"low": 80},
        {"high": 128},
        {"left": -1},
    ],
)
def test_a_shape_that_can_not_be_is_refused(changed: dict[str, object]) -> None:
    with pytest.raises(ValueError):
        from_table(UsedShape, asdict(THIRD) | changed)


@pytest.mark.parametrize(
    ("at", "long"), [((), ()), ((1.0,), ()), ((2.0, 1.0), (1.0, 1.0)), ((-9.0,), (1.0,)), ((1.0,), (0.0,))]
)
def test_a_rhythm_that_can_not_be_is_refused(at: tuple[float, ...], long: tuple[float, ...]) -> None:
    with pytest.raises(ValueError):
        UsedRhythm("4/4", "swing", at, long, 0.5, 3, 2)


@pytest.mark.parametrize(
    ("changed", "fits"),
    [
        ({"worth": 0}, True), ({"worth": 1}, True), ({"worth": 1.001}, False), ({"worth": -0.001}, False),
        ({"low": 0}, True), ({"low": -1}, False), ({"low": 70}, True), ({"low": 71}, False),
        ({"high": 127}, True), ({"high": 64}, True), ({"high": 63}, False),
        ({"left": 0}, True), ({"left": 10}, True), ({"left": 11}, False),
        ({"degrees": "1"}, True), ({"degrees": " ".join(["1"] * 10)}, True), ({"degrees": " ".join(["1"] * 11)}, False),
    ],
)  # fmt: skip
def test_a_shape_has_ten_notes_at_most_on_the_keyboard(changed: dict[str, object], fits: bool) -> None:
    told = asdict(THIRD) | changed
    if fits:
        assert asdict(UsedShape(**told)) == told
    else:
        with pytest.raises(ValueError):
            UsedShape(**told)


@pytest.mark.parametrize(
    ("at", "long", "worth", "fits"),
    [
        ((-4.0,), (1.0,), 0, True),
        ((-4.1,), (1.0,), 0.5, False),
        ((64.0,), (64.0,), 1, True),
        ((64.1,), (1.0,), 0.5, False),
        ((1.0,), (64.1,), 0.5, False),
        ((1.0,), (1.0,), 1.001, False),
        ((1.0,), (1.0,), -0.001, False),
        ((1.0, 1.0), (1.0, 1.0), 0.5, False),
        ((1.0, 2.0), (1.0, 1.0), 0.5, True),
        (tuple(range(16)), (1.0,) * 16, 0.5, True),
        (tuple(range(17)), (1.0,) * 17, 0.5, False),
    ],
)
def test_a_rhythm_has_sixteen_chords_at_most_within_reach_of_its_bar(
    at: tuple[float, ...], long: tuple[float, ...], worth: float, fits: bool
) -> None:
    if fits:
        assert UsedRhythm("4/4", "swing", at, long, worth, 3, 2).places == at
    else:
        with pytest.raises(ValueError):
            UsedRhythm("4/4", "swing", at, long, worth, 3, 2)


def test_a_style_is_asked_by_kind_metre_and_feel() -> None:
    waltz, swing = (UsedRhythm(metre, "swing", (1.0,), (1.0,), 0.7, 9, 3) for metre in ("3/4", "4/4"))
    style = CompingStyle((THIRD,), (waltz, swing), 5)
    assert style.of_kind("m7") == (THIRD,) and style.of_kind("7") == ()
    assert style.in_metre("4/4", "swing") == (swing,) and style.in_metre("4/4", "bossa") == ()
    assert style.uses("m7", degrees("b3 b5 b7 b9")) and not style.uses("m7", degrees("b7 9 b3 5"))
    assert not style.uses("7", THIRD.row)


def test_a_ninth_is_a_second_an_octave_up_and_so_on() -> None:
    assert places(degrees("9 11 13 1 3 5 7")) == places(degrees("2 4 6 1 3 5 7")) == (1, 3, 5, 0, 2, 4, 6)
