"""A belief that is wrong is put right by one that was begun afresh, and one that is right is left alone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from companion.chart.model import Form
from companion.follow.belief import Crowd
from companion.follow.follower import Follower
from companion.follow.scout import CONVINCED, HOPELESS, LONGEST, Scout, evidence

MELODY = frozenset({"melody"})


@pytest.fixture(scope="module")
def form(stand: Any) -> Form:
    found: Form = stand.tune().unfold()
    return found


def crowd(*weights: float) -> Crowd:
    return Crowd.of(np.zeros(len(weights)), 2.0, 0.01, 0.0, 0.01, 0.0, 0.0, 0.0, np.array(weights))


def test_evidence_is_the_log_of_the_summed_probabilities() -> None:
    assert evidence(crowd(np.log(0.2), np.log(0.3))) == pytest.approx(np.log(0.5))
    assert evidence(crowd(-1000.0, -1000.0)) == pytest.approx(-1000.0 + np.log(2)), "however small they are"


def test_a_scout_is_done_when_it_is_hopeless_or_old_and_convincing_when_it_explains_more() -> None:
    assert not Scout(crowd(0.0)).done and not Scout(crowd(0.0)).convincing
    assert Scout(crowd(0.0), gain=HOPELESS - 1).done and Scout(crowd(0.0), notes=LONGEST).done
    assert Scout(crowd(0.0), gain=CONVINCED + 1).convincing


def test_a_player_who_is_taken_for_a_soloist_elsewhere_is_found_in_the_melody(form: Form) -> None:
    """The band was at beat 40 at half the tempo; the player plays the tune from its top."""
    follower = Follower(form, MELODY, tempo=60.0, start=0.0)
    follower.hear(0.0, 60)
    follower.set_position(10.0, 40.3, 1.0)
    notes = [note for note in form.melody if 0 <= note.beat < 48]
    for note in notes:
        follower.hear(10.0 + float(note.beat) / 2, note.pitch.midi)
    assert follower.lead is not None
    length = float(form.length)
    off = (follower.lead.beat - float(notes[-1].beat) + length / 2) % length - length / 2
    assert abs(off) < 0.2 and follower.lead.speed == pytest.approx(2.0, rel=0.05)
