"""What tables tell beyond their values: a range's size, a bar's name, the bars of a ritardando, a taught press."""

from __future__ import annotations

import pytest

from companion.preferences.bass import BassRange, is_bar
from companion.preferences.order import RitardandoBars
from companion.preferences.signals import DAMPER, PIANO_PEDALS, TaughtPress


def test_a_range_counts_both_of_its_ends() -> None:
    assert BassRange(lowest=28, highest=40, comfortable=(28, 40), outside=1.0).size == 13, "an octave and its root"


@pytest.mark.parametrize("text", ["4", "3", "1.5", "0.5", "10", "6/8", "12/8", "7/4"])
def test_a_bar_is_named_by_its_quarters_or_its_metre(text: str) -> None:
    assert is_bar(text)


@pytest.mark.parametrize("text", ["0", "00", "0.0", "", "four", "4.", ".5", "-4", "0/4", "4/0", "6/8/2", "4 "])
def test_nothing_no_quarters_and_no_beats_are_no_bar(text: str) -> None:
    assert not is_bar(text)


@pytest.mark.parametrize(
    ("how", "bars"),
    [
        (None, 1),
        ("held", 1),
        ("tag", 2),
        ("vamp", 3),
        ("ritardando", 4),
        ("turnaround", 5),
        ("deceptive", 6),
        ("cut", 0),
    ],
)
def test_each_way_to_end_has_its_bars_and_an_end_that_is_none_of_them_doesnt_slow(how: str | None, bars: int) -> None:
    each = RitardandoBars(held=1, tag=2, vamp=3, ritardando=4, turnaround=5, deceptive=6)
    assert each.of(how) == bars


def test_a_pianos_pedals_have_the_controllers_of_the_standard() -> None:
    # MIDI 1.0 Detailed Specification (The MIDI Association, 1996), table of control change messages.
    assert DAMPER == 64 and PIANO_PEDALS == {64: "damper", 66: "sostenuto", 67: "soft"}


@pytest.mark.parametrize(
    "said", [{"key": 0}, {"controller": 0}, {"controller": 63}, {"controller": 65}, {"program": 1}]
)
def test_one_key_pedal_or_switch_is_written_as_it_was_taught(said: dict[str, int]) -> None:
    assert TaughtPress(**said).as_written() == said


@pytest.mark.parametrize("said", [{}, {"key": 0, "program": 1}, {"key": 0, "controller": 66}, {"controller": 64}])
def test_nothing_two_at_once_and_the_damper_pedal_are_refused(said: dict[str, int]) -> None:
    with pytest.raises(ValueError, match=r"say one of key, controller and program|for playing"):
        TaughtPress(**said)
