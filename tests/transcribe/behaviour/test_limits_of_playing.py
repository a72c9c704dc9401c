"""How exactly people play, and how much is looked at, in numbers: what stands here is what is used today."""

from __future__ import annotations

from fractions import Fraction
from types import ModuleType

import pytest

from companion.transcribe import (
    barring,
    captured,
    lengths,
    midi_tune,
    played_bars,
    played_tune,
    playing,
    quantise,
    rhythms,
    tempo,
)

LIMITS: list[tuple[ModuleType, dict[str, object]]] = [
    (barring, {"PHRASE": 4}),
    (captured, {"DOUBTFUL": 2.6, "ROLLED": 0.3, "MOST_REMARKS": 40}),
    (lengths, {"NEARLY_ALL": 0.92, "LIKE": 0.2, "LONGEST": 64, "EVEN_TAIL": 0.012}),
    (midi_tune, {
        "LATE": Fraction(1, 8), "MOSTLY": 0.95, "EXACT": pytest.approx(0.012), "FEW": 12, "FIRST_CHORD": 0.4,
        "OWN_BARS": 0.35, "MOST_A_SECOND": 50.0,
    }),
    (played_bars, {"MOST_TEMPO": 600.0}),
    (played_tune, {"NEAR": 0.35}),
    (playing, {"HELD_TOGETHER": 0.5}),
    (quantise, {
        "BEAM": 64, "BEHIND": 16.0, "FEW": 2, "FAR_BEHIND": 40.0, "GATE": 3.6, "NEAR": 0.18, "FURTHEST": 2.0,
        "SLACK": 3.0,
        "MOST_EMPTY": 64, "LOST": 20.0, "MOST_JITTER": 0.009, "GRACES": (0.0, 1.0, 1.4, 1.8),
    }),
    (rhythms, {
        "WHOLE": 24, "HALF": 12, "THIRD": 8, "DIVISIONS": (1, 2, 4, 8, 3, 6), "ALIKE": ((0, 6, 12), (6, 12)),
    }),
    (tempo, {
        "SLOWEST": 40.0, "FASTEST": 270.0, "STEP": 1.05, "PREFERRED": 125.0, "SPREAD": 0.6, "GLANCE": 18,
        "LISTENED": 48,
        "GLANCING": 16, "LIKELY": 3,
    }),
]  # fmt: skip


@pytest.mark.parametrize(("module", "limits"), LIMITS, ids=lambda one: getattr(one, "__name__", "").split(".")[-1])
def test_playing_is_taken_to_be_as_exact_as_people_are(module: ModuleType, limits: dict[str, object]) -> None:
    assert {name: getattr(module, name) for name in limits} == limits
