"""What a player is taken to do where nothing is said of it: the values that the figures of the trials rest on.

Other numbers are no fault where they were changed on purpose, after a measurement (DEVELOPERS.md, "Measuring").
"""

from __future__ import annotations

from dataclasses import MISSING, fields
from inspect import signature
from typing import Any

import pytest

from companion.follow import belief, elsewhere, roles
from companion.follow.belief import Crowd, Filter, Freedom, Manner
from companion.follow.follower import Follower
from companion.follow.habits import Habits
from companion.follow.lead import Lead
from companion.follow.places import Places
from companion.follow.readings import Reading
from companion.follow.roles import PlaceDraft
from companion.follow.scout import Scout
from companion.follow.shape import TempoShape


def test_how_a_player_keeps_time() -> None:
    """Strictly, a little freely, or at will; in quarters, seconds and shares."""
    usual = Manner()
    assert usual.freedoms == (
        Freedom(drift=0.002, sway=0.0, share=0.5, counted=0.008, late=1.0),
        Freedom(drift=0.008, sway=0.0, share=0.2, counted=0.02, late=1.0),
        Freedom(drift=0.06, sway=0.07, share=0.3, counted=0.08, late=1.0),
    )
    assert (usual.loosening, usual.touch, usual.jitter) == (0.001, 0.020, 0.030)
    assert (usual.leap, usual.hesitation, usual.halt, usual.pause, usual.grace) == (0.006, 0.004, 0.02, 1.0, 0.1)
    assert (usual.slowest, usual.fastest) == (0.45, 6.0)
    assert (usual.crowd, usual.faint, usual.reach, usual.together, usual.shape) == (160, 11.0, 3.2, 0.035, None)


@pytest.mark.parametrize(
    ("made", "told"),
    [
        (Habits, {"swing": 0.0, "notes": 0.0, "displaced": 0.0, "hesitations": 0.0}),
        (Lead, {"shaped": 0.0, "usual": 0.0}),
        (Places, {"cell": 1.0, "leap": 1.0, "rest": 0.004, "resume": 1.0}),
        (Reading, {"displaced": 0.0, "share": 1.0, "taken_up": 0.0, "given_up": 0.0}),
        (PlaceDraft, {"again": 0.02, "scatter": 0.0, "swung": 0.0, "late": 0.0}),
        (Scout, {"gain": 0.0, "notes": 0}),
        (TempoShape, {"takes": 1, "offset": 0.0}),
        (Freedom, {"counted": 0.008, "late": 1.0}),
    ],
)
def test_what_is_known_of_a_player_and_a_place_at_first(made: Any, told: dict[str, float]) -> None:
    usual = {field.name: field.default for field in fields(made) if field.default is not MISSING}
    assert {name: usual[name] for name in told} == told


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (Follower.__init__, {"begin": 0.0}),
        (Follower.set_position, {"spread": 0.06}),
        (Follower.hear, {"velocity": 64}),
        (Follower.likeliest, {"count": 5}),
        (Filter.fits, {"reading": 0, "within": 2.0}),
        (Crowd.of, {"held": 0.0, "shifted": 0.0, "just_held": 0.0}),
        (belief.Manner.shaped_by, {"chance": 0.5}),
        (elsewhere.leaps, {"onto": 0, "readily": 1.0}),
        (roles._places, {"leap": 1.0, "rest": 0.004, "resume": 1.0, "pickup": 0.0}),
    ],
)
def test_what_is_asked_of_them_in_few_words(asked: Any, told: dict[str, float]) -> None:
    usual = signature(asked).parameters
    assert {name: usual[name].default for name in told} == told
