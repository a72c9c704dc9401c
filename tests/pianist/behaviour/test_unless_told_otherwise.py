"""What the built-in player does where nothing more is said: one chorus from the top, each note in time and as it is."""

from __future__ import annotations

from dataclasses import MISSING, fields
from inspect import signature
from typing import Any

import pytest

from companion.pianist import lines, pulse
from companion.pianist.lines import IntendedNote
from companion.pianist.player import simulate
from companion.pianist.route import Passage


@pytest.mark.parametrize(
    ("made", "told"),
    [(IntendedNote, {"weight": 1.0, "lag": 0.0}), (Passage, {"pause": 0.0, "slows": 0.0})],
)
def test_a_note_is_in_time_and_a_passage_without_a_stop(made: Any, told: dict[str, float]) -> None:
    usual = {field.name: field.default for field in fields(made) if field.default is not MISSING}
    assert {name: usual[name] for name in told} == told


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (simulate, {"seed": 0, "choruses": 1, "begin": 0.0}),
        (lines.voicing, {"below": 127}),
        (pulse.strict_pulses, {"gain": 0.0, "steady": 0}),
    ],
)
def test_a_performance_is_one_chorus_from_the_top(asked: Any, told: dict[str, float]) -> None:
    usual = signature(asked).parameters
    assert {name: usual[name].default for name in told} == told
