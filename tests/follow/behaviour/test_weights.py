"""The odds, limits and memories by which a player is followed, as they were measured.

What stands here is what is used today: the trials (DEVELOPERS.md, "Measuring") were made with these numbers. One that
was changed on purpose is measured again, and written down here; one that was changed by mistake is found.
"""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from companion.follow import (
    belief,
    course,
    elsewhere,
    follower,
    habits,
    lead,
    places,
    rhythm,
    roles,
    scout,
    shape,
)
from companion.follow.belief import Freedom

WEIGHTS: list[tuple[ModuleType, dict[str, object]]] = [
    (belief, {
        "ON_IT": 0.25, "PHRASED": 0.5, "WIDEST": 8, "RARELY": 0.05, "HELD_BACK": 0.7, "LULL": 1.0, "LATEST": 0.03,
        "OVERDUE": 0.6, "AS_BEFORE": Freedom(0.08, 0.03, 1.0, 0.08, 1.0, True),
    }),
    (course, {
        "WENT": 1.6, "SETTLED": 4, "ANEW": 2.0, "FEW": 4, "SETTLED_MASS": 0.15, "RESUMED": 8.0,
        "PRIOR_COUNTS": (20.0, 1.0),
    }),
    (elsewhere, {
        # where a leap lands
        "ANY": 1.0, "SECTION": 60.0, "PHRASE": 12.0, "BAR": 5.0, "BACK": 10.0, "EIGHTS": 40.0, "AGAIN": 600.0,
        "AGAIN_ELSEWHERE": 30.0, "RECALLED": 0.03, "AND_AGAIN": 0.3, "SOURCES": 4, "TARGETS": 24, "ABOUT": 0.08,
        "ASTRAY": 0.1, "WORSE": 4.0,
        # where one takes up again after a silence
        "DUE": 0.48, "AWAITED": 0.2, "OPENING": 0.32, "FROM_THE_TOP": 0.08, "ANYWHERE": 0.12, "TOOK_UP": 0.3,
        "PRESENT": 0.7,
        # what is held back
        "HELD_BACK": 3.0, "LEAST_BACK": 0.15, "FURTHEST": 24,
        # where one comes in, and at which tempo
        "ENTRANCES": ((0.5, 0, 0.02), (1.0, 0, 0.03), (-1.0, 0, 0.03), (2.0, 0, 0.01), (0.0, 1, 0.03),
                      (-0.5, 0, 0.005)),
        "OTHER_TEMPI": ((0.5, 0.015), (0.67, 0.02), (0.82, 0.04), (1.2, 0.04), (1.5, 0.015), (2.0, 0.01)),
        "TEMPI": (52.0, 76.0, 110.0, 160.0, 230.0), "NARROW": 0.08, "WIDE": 0.22, "NEAR": (0.7, 1.4), "ENTRIES": 96,
        "FROM_TOP": 0.55, "FROM_OPENING": 0.3, "ANY_TIME": 0.03, "ANY_TEMPO": 0.012, "READS": 0.75,
        "UNTOLD": {"solo": 0.02, "chords": 0.2},
    }),
    (follower, {
        "WINDOW": 0.3, "RIVALS": 8, "EQUAL": 0.05, "ONWARD": 2.0, "TAKE": 0.6, "RIVAL": 0.3, "TIMES": 4.0,
        "SWITCHED": 40,
        "SURPRISE": 1.0, "SETTLING": 16.0, "STOPPED": 0.3, "DOUBTFUL": 0.5, "COUNTED": 0.03, "JUST_PAST": 0.1,
    }),
    (habits, {
        "REMEMBERED": 3, "FORGETS": 0.95, "FADES": 0.98, "LEAST": 0.3, "MOST": 6.0, "MOST_HESITANT": 20.0,
        "HESITANT_NOTES": (0.12, 30.0), "DISPLACED_NOTES": (1.0, 50.0), "OCTAVE_NOTES": (0.15, 4.0, 0.15),
        "OCTAVES": (-12, 0, 12),
    }),
    (lead, {"SAME_TEMPO": 0.12}),
    (places, {"MEMORY": 8.0, "DIFFERENCE": 0.1, "PROMISED": 0.9}),
    (rhythm, {"SLOTS": 24, "TEMPI": (140.0, 160.0, 180.0, 200.0, 225.0, 250.0), "TRUST": 0.7, "FLOOR": 0.02}),
    (roles, {"MEDIUM": 120.0, "EVEN_RATIO": 1.05}),
    (scout, {
        "JUST_PAST": 0.1, "RETOLD": 0.05, "CONVINCED": 6.0, "LONGEST": 128, "HOPELESS": -12.0, "REPLACED": 0.05,
        "SHIFTS": ((0.33, 0.04), (0.5, 0.13), (0.67, 0.03), (1.0, 0.25), (2.0, 0.05)),
    }),
    (shape, {"MOST": 1.0}),
]  # fmt: skip


@pytest.mark.parametrize(("module", "weights"), WEIGHTS, ids=lambda one: getattr(one, "__name__", "").split(".")[-1])
def test_a_player_is_followed_by_the_odds_that_were_measured(module: ModuleType, weights: dict[str, object]) -> None:
    assert {name: getattr(module, name) for name in weights} == weights


def test_a_soloist_keeps_time_strictly_or_a_little_freely_and_an_improviser_by_the_table() -> None:
    strict, freely = roles.SOLOIST.freedoms
    assert strict == Freedom(drift=0.002, sway=0.0, share=0.8) and freely == Freedom(0.006, 0.0, 0.2, 0.02)
    assert (roles.SOLOIST.touch, roles.SOLOIST.loosening) == (0.025, 0.005)
    assert roles.IMPROVISER.freedoms == (Freedom(0.003, 0.0, 1.0, 0.01),)
    assert (roles.IMPROVISER.touch, roles.IMPROVISER.jitter) == (0.0, 0.0)
    assert np.allclose(roles.EVEN, 1 / 12)
