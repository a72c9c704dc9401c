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


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("5", "beats 1 to 4"), ("0", "beats 1 to 4"), ("2,5", "beats 1 to 4"),
        ("loud", "no way to click"), ("away-0", "no way"), ("away-100", "no way"), ("12", "no way"), ("", "no way"),
    ],
)  # fmt: skip
def test_what_is_no_pattern_is_told(word: str, said: str) -> None:
    with pytest.raises(UseError, match=said):
        click_pattern(word)


def test_before_the_first_bar_every_beat_sounds_whatever_the_pattern() -> None:
    clicks = Clicks(Metre(), "4")
    assert all(clicks.sounds(beat) for beat in (-4.0, -3.0, -2.0, -1.0))


def test_bars_without_a_click_are_known() -> None:
    pattern = click_pattern("away-2")
    assert [pattern.away(bar) for bar in range(-1, 5)] == [False, False, False, True, True, False]


@pytest.mark.parametrize(
    ("metre", "beats"), [(Metre(2, 4), 2), (Metre(3, 4), 3), (Metre(5, 4), 5), (Metre(6, 8), 2), (Metre(12, 8), 4)]
)
def test_a_beat_that_the_metre_has_may_be_clicked_and_the_one_after_may_not(metre: Metre, beats: int) -> None:
    """A compound metre has a beat for each three quavers (common practice)."""
    last = click_pattern(str(beats), metre)
    assert [last.sounds(0, beat) for beat in range(beats)] == [False] * (beats - 1) + [True]
    with pytest.raises(UseError, match=f"beats 1 to {beats}"):
        click_pattern(str(beats + 1), metre)


@pytest.mark.parametrize(
    ("word", "clicked"),
    [
        ("all", [1, 1, 1, 1, 1, 1, 1, 1]),
        ("other-bars", [1, 0, 1, 0, 1, 0, 1, 0]),
        ("away-1", [1, 0, 1, 0, 1, 0, 1, 0]),
        ("away-2", [1, 1, 0, 0, 1, 1, 0, 0]),
        ("AWAY-3 ", [1, 1, 1, 0, 0, 0, 1, 1]),
        ("2", [0, 0, 0, 0, 0, 0, 0, 0]),
    ],
)
def test_which_bars_begin_with_a_click(word: str, clicked: list[int]) -> None:
    pattern = click_pattern(word)
    assert [pattern.sounds(bar, 0) for bar in range(8)] == [bool(one) for one in clicked]
    assert pattern.sounds(-1, 0) and not pattern.away(-1)
    if word != "2":
        assert [pattern.away(bar) for bar in range(8)] == [not one for one in clicked]


@pytest.mark.parametrize(
    ("asked", "parts"),
    [(0, []), (1, []), (2, [0.5]), (3, [1 / 3, 2 / 3]), (4, [0.25, 0.5, 0.75]), (5, [0.25, 0.5, 0.75])],
)
def test_a_beat_is_divided_into_four_at_most(asked: int, parts: list[float]) -> None:
    found = Clicks(Metre(), divide=asked).between(8.0)
    assert [place for place, _ in found] == pytest.approx([8.0 + part for part in parts])
    assert all(note.pitch.midi == 77 for _, note in found)  # low wood block (General MIDI level 1)
    assert all(note.weight < 1 for _, note in found)
    compound = Clicks(Metre(6, 8), divide=3).between(3.0)
    assert [place for place, _ in compound] == pytest.approx([3.5, 4.0])


def test_a_beat_without_a_click_has_no_divisions() -> None:
    clicks = Clicks(Metre(), "2", divide=2)
    assert clicks.between(0.0) == [] and len(clicks.between(1.0)) == 1


@pytest.mark.parametrize("off", [-1e-9, 0.0, 1e-9])
def test_a_beat_is_the_first_of_its_bar_however_it_was_reckoned(off: float) -> None:
    clicks = Clicks(Metre(), "1")
    assert [clicks.sounds(beat + off) for beat in range(8)] == [beat % 4 == 0 for beat in range(8)]
    later = Clicks(Metre(), "1", whole_bars=1)
    assert [later.sounds(beat + off) for beat in range(8)] == [True] * 5 + [False] * 3


@pytest.mark.parametrize(("metre", "divide", "length"), [(Metre(), 2, 0.5), (Metre(), 4, 0.25), (Metre(6, 8), 3, 0.5)])
def test_a_division_is_struck_with_six_tenths_of_the_beat_and_lasts_to_the_next(
    metre: Metre, divide: int, length: float
) -> None:
    notes = [note for _, note in Clicks(metre, divide=divide).between(0.0)]
    assert len(notes) == divide - 1
    assert {(note.beat, note.length, note.weight, note.part) for note in notes} == {(0, length, 0.6, "click")}
