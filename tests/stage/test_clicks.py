"""The click: on which beats it sounds, and how it divides them."""

from __future__ import annotations

import pytest

from companion.chart.model import Chart, Section
from companion.errors import UseError
from companion.music.meter import Metre
from companion.stage.clicks import Clicks, click_pattern
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import Settings


def clicked(pattern: str, bars: int = 4, *, metre: Metre = Metre(), whole: int = 0, divide: int = 1) -> list[float]:
    """The moments of the clicks in some bars, in seconds from the first downbeat, a quarter being one second."""
    chart = Chart("Click", (Section("A", (metre.bar,) * bars),), ("A",), metre=metre)
    settings = Settings(
        parts=("click",), time="steady", tempo=60, start=10.0, count_in=1, choruses=1,
        click=pattern, whole_bars=whole, divide=divide,
    )  # fmt: skip
    orders = Rehearsal(chart, settings).advance(100.0, []).orders
    return [round(o.seconds - 10.0, 3) for o in orders if o.status == 0x90 and o.seconds > 9.99]


def test_every_beat_is_clicked_where_nothing_is_said() -> None:
    assert clicked("all", 2) == [0, 1, 2, 3, 4, 5, 6, 7]


def test_two_and_four() -> None:
    assert clicked("2,4", 2) == [1, 3, 5, 7]


def test_every_second_bar() -> None:
    assert clicked("other-bars", 3) == [0, 1, 2, 3, 8, 9, 10, 11]


def test_it_goes_away_for_two_bars_and_comes_back() -> None:
    assert clicked("away-2", 5) == [*range(8), *range(16, 20)]


def test_the_way_in_is_clicked_whole_before_the_pattern_begins() -> None:
    assert clicked("4", 3, whole=1) == [0, 1, 2, 3, 7, 11]
    assert clicked("away-1", 3, whole=1) == [0, 1, 2, 3, 4, 5, 6, 7]


def test_slow_beats_are_divided_and_the_divisions_are_softer() -> None:
    assert clicked("all", 1, divide=2) == [0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5]
    assert clicked("2,4", 1, divide=3) == [1, 1.333, 1.667, 3, 3.333, 3.667]
    chart = Chart("Click", (Section("A", (Metre().bar,)),), ("A",))
    settings = Settings(parts=("click",), time="steady", tempo=40, start=10.0, count_in=1, choruses=1, divide=2)
    orders = [o for o in Rehearsal(chart, settings).advance(60.0, []).orders if o.status == 0x90]
    assert max(o.data2 for o in orders[1::2]) < min(o.data2 for o in orders[::2])


def test_in_six_eight_the_dotted_quarters_are_clicked() -> None:
    assert clicked("all", 2, metre=Metre(6, 8)) == [0, 1.5, 3, 4.5]
    assert clicked("2", 2, metre=Metre(6, 8)) == [1.5, 4.5]


@pytest.mark.parametrize(("word", "said"), [("5", "beats 1 to 4"), ("loud", "no way to click"), ("away-0", "no way")])
def test_what_is_no_pattern_is_told(word: str, said: str) -> None:
    with pytest.raises(UseError, match=said):
        click_pattern(word)


def test_before_the_first_bar_every_beat_sounds_whatever_the_pattern() -> None:
    clicks = Clicks(Metre(), "4")
    assert all(clicks.sounds(beat) for beat in (-4.0, -3.0, -2.0, -1.0))


def test_bars_without_a_click_are_known() -> None:
    pattern = click_pattern("away-2")
    assert [pattern.away(bar) for bar in range(-1, 5)] == [False, False, False, True, True, False]
