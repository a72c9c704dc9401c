"""Pedals, as they are pressed: MIDI 1.0 for the numbers of controllers, and for what is up and down."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.ports.setup.desk import FromPort
from companion.ports.setup.pedals import find_pedals

from .simulated import KEYS, Evening, SimulatedPiano, a_desk, driven, key, typed

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


@pytest.mark.parametrize(
    ("values", "half"),
    [
        ((127, 10, 117, 0), True),
        ((127, 9, 60, 0), False),
        ((127, 118, 60, 0), False),
        ((127, 60, 60, 0), False),
        ((127, 60, 61, 0), True),
    ],
)
def test_two_values_clear_of_the_ends_are_half_pedalling(set_up: SetUp, values: tuple[int, ...], half: bool) -> None:
    evening = set_up(SimulatedPiano(pedals={64: values}))
    assert evening.dialogue.found.half_pedal == half
    assert ("damper (half positions too)" in evening.text) == half


@pytest.mark.parametrize(
    ("values", "wrong"), [((63, 64), True), ((64, 63), False), ((63, 63), False), ((64, 64), False)]
)
def test_a_pedal_is_down_from_64_on(set_up: SetUp, values: tuple[int, ...], wrong: bool) -> None:
    assert ("the wrong way round" in set_up(SimulatedPiano(pedals={64: values})).text) == wrong


@pytest.mark.parametrize(
    ("controller", "name"),
    [(64, "damper"), (65, "portamento"), (66, "sostenuto"), (67, "soft"), (68, "legato"), (69, "hold"),
     (4, "foot controller"), (11, "expression")],
)  # fmt: skip
def test_pedals_have_the_names_of_their_controllers(controller: int, name: str) -> None:
    # MIDI 1.0, table of controllers
    desk = a_desk()
    moves = [FromPort(11.0, KEYS, (0xB0, controller, value)) for value in (127, 0)]
    others = [FromPort(11.0, KEYS, (0xA0, 64, 1)), FromPort(11.0, "other:out", (0xB0, 66, 1)), key(1.0, 64)]
    assert driven(desk, find_pedals(desk), *moves, *others) == (None, 3.5)
    assert desk.found.pedals == (controller,) and desk.lines[-1] == f"   {name}"


def test_ten_seconds_for_the_first_pedal_two_and_a_half_for_the_next_and_half_a_minute_for_all() -> None:
    desk = a_desk()
    moves = [FromPort(10.0 + at, KEYS, (0xBF, 64, 127)) for at in (9.9, 12.3, 14.7)]
    assert driven(desk, find_pedals(desk), *moves) == (None, 17.2)
    desk = a_desk()
    trembling = [FromPort(10.0 + at, KEYS, (0xB0, 64, at % 2)) for at in range(40)]
    assert driven(desk, find_pedals(desk), *trembling) == (None, 30.0)
    desk = a_desk()
    assert driven(desk, find_pedals(desk)) == (None, 10.0)
    desk = a_desk()
    assert driven(desk, find_pedals(desk), moves[0], typed(10.5, "")) == (None, 10.5)
    assert desk.found.pedals == (64,)
