"""What is known of a played note where nothing is said of it: it was in time, and nothing is doubtful."""

from __future__ import annotations

from dataclasses import MISSING, fields
from fractions import Fraction
from inspect import signature
from typing import Any

import pytest

from companion.transcribe import quantise
from companion.transcribe.lengths import TranscribedNote, _Weigher
from companion.transcribe.played_bars import PlayedForm
from companion.transcribe.quantise import QuantisedNote, _PartialReading, _Search


@pytest.mark.parametrize(
    ("made", "told"),
    [
        (TranscribedNote, {"doubt": 0.0}),
        (QuantisedNote, {"off": 0.0, "doubt": 0.0}),
        (PlayedForm, {"first": Fraction(0)}),
        (_PartialReading, {"miss": 0.0, "spread": 1.0}),
    ],
)
def test_a_note_is_in_its_place(made: Any, told: dict[str, object]) -> None:
    usual = signature(made).parameters
    assert {name: usual[name].default for name in told} == told
    assert all(field.default is not MISSING for field in fields(made) if field.name in told)


@pytest.mark.parametrize(
    ("asked", "told"),
    [(quantise._onward, {"pulses": 1}), (_Search.run, {"grace": 0.0}), (_Weigher.length, {"times": 1})],
)
def test_a_reading_goes_on_by_a_beat_and_a_length_was_heard_once(asked: Any, told: dict[str, object]) -> None:
    usual = signature(asked).parameters
    assert {name: usual[name].default for name in told} == told
