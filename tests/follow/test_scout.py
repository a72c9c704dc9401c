"""A belief that is wrong is put right by one that was begun afresh, and one that is right is left alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from companion.chart.model import Form
from companion.follow.belief import HEARD, VV, WAY, XV, XX, Crowd, Filter, Manner, V, X
from companion.follow.follower import Follower
from companion.follow.habits import Habits
from companion.follow.readings import Readings
from companion.follow.roles import places_for
from companion.follow.scout import CONVINCED, HOPELESS, LONGEST, Scout, evidence, sent_anywhere, sent_beside

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


@pytest.mark.parametrize(
    ("gain", "notes", "done", "convincing"),
    [(-12.0, 0, False, False), (-12.1, 0, True, False), (0.0, 127, False, False), (0.0, 128, True, False),
     (6.0, 0, False, False), (6.1, 0, False, True)],
)  # fmt: skip
def test_a_scout_has_128_notes_and_a_margin_either_way(gain: float, notes: int, done: bool, convincing: bool) -> None:
    scout = Scout(crowd(0.0), gain, notes)
    assert (scout.done, scout.convincing) == (done, convincing)


@pytest.mark.parametrize("pulse", [1.0, 1.5])
def test_a_scout_sent_beside_the_belief_has_its_tempo_and_the_beat_displaced(form: Form, pulse: float) -> None:
    """By a third, a half, two thirds of a beat, by one or by two, either way: half a beat or one above all."""
    places = replace(places_for(form, MELODY), pulse=pulse)
    sieve = Filter(Readings.of(places), Manner())
    likely = Crowd.of(np.array([20.05]), 2.0, 0.01, 0.003, 0.02, 10.0, 1.0, 0.0, -0.5)
    found = sent_beside(sieve, likely).crowd
    order = np.argsort(found.rows[X])
    chances = {0.33: 0.04, 0.5: 0.13, 0.67: 0.03, 1.0: 0.25, 2.0: 0.05}
    shifts = sorted([*chances, *(-shift for shift in chances)])
    assert found.rows[X][order] == pytest.approx([20.05 + shift * pulse for shift in shifts])
    assert np.exp(found.weight[order]) == pytest.approx([chances[abs(shift)] for shift in shifts])
    assert found.rows[XX] == pytest.approx(np.full(10, 0.01 + (0.05 * pulse) ** 2))
    assert found.rows[VV] == pytest.approx(np.full(10, 0.02 + 0.1**2)) and not found.rows[XV].any()
    assert list(found.rows[HEARD][order]) == [places.next_place(20.05 + shift * pulse + 0.1) - 1 for shift in shifts]
    assert set(found.rows[WAY]) == {1.0}


def test_a_scout_sent_anywhere_comes_in_at_the_tempo_or_at_another(form: Form) -> None:
    sieve = Filter(Readings.of(places_for(form, MELODY)), Manner())
    scout = sent_anywhere(sieve, 60, 100.0, Habits())
    assert {round(60 * v) for v in scout.crowd.rows[V]} >= {52, 76, 100, 110, 160, 230}
    assert np.exp(scout.crowd.weight).sum() == pytest.approx(1.0) and (scout.gain, scout.notes) == (0.0, 0)
