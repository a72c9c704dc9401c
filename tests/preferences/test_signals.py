"""What tells the companion something, as it stands in the player's file."""

from __future__ import annotations

import pytest

from companion.preferences.signals import DAMPER, PIANO_PEDALS, TaughtPress


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
