"""Pedals, as they are pressed: MIDI 1.0 for the numbers of controllers, and for what is up and down."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from .simulated import Evening, SimulatedPiano

SetUp = Callable[..., Evening]


@pytest.mark.parametrize(
    ("pedals", "found", "half"),
    [
        ({64: (127, 0)}, (64,), False),
        ({64: (127, 0), 66: (127, 0), 67: (127, 0)}, (64, 66, 67), False),
        ({64: (5, 40, 90, 127, 60, 0)}, (64,), True),
        ({64: (127, 64, 127, 0)}, (64,), False),  # a switch that bounces
        ({64: (127, 1, 2, 3, 0)}, (64,), False),  # a worn one that trembles at its end
        ({67: (3, 60, 90, 0)}, (67,), False),  # half values of the soft pedal are no half pedalling
    ],
)
def test_each_pedal_is_known_by_its_controller(
    set_up: SetUp, pedals: dict[int, tuple[int, ...]], found: tuple[int, ...], half: bool
) -> None:
    evening = set_up(SimulatedPiano(pedals=pedals))
    assert (evening.dialogue.found.pedals, evening.dialogue.found.half_pedal) == (found, half)


def test_a_wheel_a_volume_knob_and_a_bank_are_no_pedals(set_up: SetUp) -> None:
    evening = set_up(SimulatedPiano(pedals={1: (30, 0), 7: (100,), 0: (0,), 32: (1,), 64: (127, 0)}))
    assert evening.dialogue.found.pedals == (64,)


def test_a_piano_without_a_pedal_stays_as_it_was(set_up: SetUp) -> None:
    evening = set_up(SimulatedPiano(pedals={}))
    assert evening.dialogue.found.pedals is None and "pedals" not in evening.values()


def test_a_pedal_that_works_the_wrong_way_round_is_told(set_up: SetUp) -> None:
    assert "the wrong way round" in set_up(SimulatedPiano(pedals={64: (0, 127)})).text
    assert "the wrong way round" not in set_up(SimulatedPiano(pedals={64: (127, 0)})).text


def test_a_pedal_that_never_stands_still_holds_nobody_up(set_up: SetUp) -> None:
    evening = set_up(SimulatedPiano(pedals={64: (0, 1) * 2000}))
    assert evening.seconds < 90
