"""Readings: the same notes as the melody on time, early, late or with fills, and as a solo, side by side."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from companion.chart.model import Form
from companion.follow.follower import Follower
from companion.follow.readings import Reading, Readings
from companion.follow.roles import readings_for

MELODY = frozenset({"melody"})
BEAT = 0.5
"""Seconds a beat: 120 a minute."""
START = 2.0


@pytest.fixture(scope="module")
def form(stand: Any) -> Form:
    found: Form = stand.tune().unfold()
    return found


@pytest.fixture(scope="module")
def readings(form: Form) -> Readings:
    return readings_for(form, MELODY)


def followed(form: Form, notes: list[tuple[float, int]]) -> list[tuple[float, Follower]]:
    """Each note's beat, and what a follower who was counted in believes after it; notes are (beat, MIDI number)."""
    follower, found = Follower(form, MELODY, tempo=120.0, start=START), []
    for beat, pitch in notes:
        follower.hear(START + beat * BEAT, pitch)
        found.append((beat, follower.twin()))
    return found


def melody(form: Form, low: float, high: float) -> list[tuple[float, int]]:
    return [(float(note.beat), note.pitch.midi) for note in form.melody if low <= note.beat < high]


def test_a_displaced_stroke_is_looked_for_so_much_later(form: Form, readings: Readings) -> None:
    for n, reading in enumerate(readings.each):
        beats = np.array([0.0, 7.9, float(form.length) + 3.3, -1.0])
        found = readings.next_after(beats, np.full(4, n))
        for beat, k in zip(beats, found, strict=True):
            assert reading.place_at(int(k)) >= beat - 1e-9 > reading.place_at(int(k) - 1) - 1e-9
            assert reading.next_place(float(beat)) == k


def test_what_is_laid_end_to_end_says_what_each_reading_says_alone(readings: Readings) -> None:
    for n, reading in enumerate(readings.each):
        first, last = np.array([2, 5]), np.array([9, 5 + reading.places.count])
        together = readings.passing(first, last, np.full(2, n))
        assert together == pytest.approx(reading.places.passing(first, last))
        table = readings.pitch[readings.row[readings.base[n]]]
        assert table == pytest.approx(reading.places.pitch[reading.places.row[0]])


def test_a_quaver_early_falls_on_the_swung_off_beat_and_an_off_beat_early_on_the_beat(readings: Readings) -> None:
    early = next(reading for reading in readings.each if reading.displaced == -0.5)
    assert early.swung is not None
    on = early.places.beat % 1 == 0
    assert (early.swung[on] == 1.0).all()
    assert (early.swung[early.places.beat % 1 == 0.5] == 0.0).all()


def test_bars_that_lie_later_keep_each_displaced_stroke_with_its_swing(readings: Readings) -> None:
    moved = readings.moved(4.0)
    for before, after in zip(readings.each, moved.each, strict=True):
        swung = before.places.swung if before.swung is None else before.swung
        turned = after.places.swung if after.swung is None else after.swung
        beats = (before.places.beat + 4.0) % before.places.period
        where = {round(float(beat), 6): share for beat, share in zip(beats, swung, strict=True)}
        for beat, share in zip(after.places.beat, turned, strict=True):
            assert where[round(float(beat), 6)] == share


def test_the_probabilities_of_beginning_so_are_whole(readings: Readings) -> None:
    assert sum(reading.share for reading in readings.each) == pytest.approx(1.0)


@pytest.mark.parametrize("late", [-0.5, 0.5])
def test_under_a_phrase_that_is_a_quaver_early_or_late_the_beat_goes_on(form: Form, late: float) -> None:
    """Back-phrasing and anticipation leave the time alone (common practice)."""
    phrase = [(b + late + (0.12 if (b + late) % 1 else 0.0), p) for b, p in melody(form, 16, 20)]  # off-beats swing
    notes = sorted([*melody(form, 0, 16), *phrase, *melody(form, 20, 32)])
    for beat, follower in followed(form, notes):
        assert follower.lead is not None
        assert abs(follower.lead.beat - beat) < 0.2 and follower.lead.speed == pytest.approx(2.0, rel=0.04)


def test_a_line_over_the_changes_is_heard_for_a_solo_and_the_melody_after_it_for_the_melody(form: Form) -> None:
    dice = random.Random(5)
    line = []
    for n in range(32, 96):
        beat = Fraction(n, 2)
        pitches = [p for p in range(60, 82) if p % 12 in form.chord_at(beat).chord.pitch_classes]
        line.append((float(beat) + (0.12 if n % 2 else 0.0), dice.choice(pitches)))
    found = followed(form, [*melody(form, 0, 16), *line, *melody(form, 48, 64)])
    heard = {beat: follower.improvised() for beat, follower in found}
    assert max(share for beat, share in heard.items() if beat < 15) < 0.1
    assert np.mean([share > 0.7 for beat, share in heard.items() if 28 <= beat < 47]) > 0.9
    assert heard[max(heard)] < 0.3
    for beat, follower in found:
        assert follower.lead is not None and abs(follower.lead.beat - beat) < 0.3


def test_the_melody_early_or_late_is_the_same_melody_in_other_bars_and_without_new_starts(readings: Readings) -> None:
    for other in (readings.moved(4.0), readings.without_new_starts()):
        assert list(other.kin) == list(readings.kin)
        assert other.families == readings.families
        assert len(other.pitch) == len(readings.pitch), "and its table of pitches is laid down once"


# Readings by hand: two sets of places, the first of which is read as written and a quaver early


@pytest.fixture
def by_hand(readings: Readings) -> Readings:
    places = readings.home
    many = 3
    first = replace(
        places, period=4.0, beat=np.array([0.0, 1.0, 2.5]), swung=np.array([0.0, 0.0, 1.0]),
        strike=np.array([0.5, 0.9, 0.2]), again=np.full(many, 0.1), scatter=np.array([0.1, 0.2, 0.3]),
        row=np.array([0, 1, 0]), pitch=np.log(np.full((2, 128), 1 / 128)), late=np.array([0.0, 0.01, 0.02]),
        opening=np.zeros(many, bool), first=np.zeros(many, bool), top=np.zeros(many, bool), rest=0.04, others=0.3,
    )  # fmt: skip
    second = replace(
        first, beat=np.array([0.5, 3.0, 3.5]), strike=np.array([0.1, 0.1, 0.89]), row=np.array([0, 0, 0]),
        pitch=np.log(np.full((1, 128), 1 / 128)), others=0.7,
    )  # fmt: skip
    return Readings(
        (
            Reading("melody", first),
            Reading("melody", first, displaced=-0.5, others=0.4, free=False),
            Reading("solo", second),
        )
    )


def test_what_readings_share_is_told_by_their_places(by_hand: Readings) -> None:
    assert len(by_hand) == 3 and list(by_hand.kin) == [0, 0, 2] and by_hand.families == [0, 2]
    assert list(by_hand.count) == [3, 3, 3] and list(by_hand.base) == [0, 3, 6]
    assert list(by_hand.row) == [0, 1, 0, 0, 1, 0, 2, 2, 2] and by_hand.pitch.shape == (3, 128)
    assert list(by_hand.beat) == [0.0, 1.0, 2.5, -0.5, 0.5, 2.0, 0.5, 3.0, 3.5]
    assert list(by_hand.free) == [1.0, 0.0, 1.0] and list(by_hand.others) == [0.3, 0.4, 0.7]
    assert by_hand.scatter == pytest.approx([0.01, 0.04, 0.09] * 3)
    assert by_hand.strike[:3] == pytest.approx(np.log([0.5, 0.9, 0.2])) and by_hand.rest == pytest.approx(np.log(0.04))


def test_only_what_is_read_where_it_stands_and_is_struck_nine_times_in_ten_is_a_promise(by_hand: Readings) -> None:
    assert [reading.as_written for reading in by_hand.each] == [True, False, True]
    assert [reading.promises for reading in by_hand.each] == [True, False, False]


@pytest.mark.parametrize(
    ("beat", "found"),
    [
        (-0.5, (0, 0, -1)),
        (0.0, (0, 1, 0)),
        (0.5, (1, 1, 0)),
        (0.51, (1, 2, 1)),
        (2.5, (2, 3, 1)),
        (3.5, (3, 3, 2)),
        (4.0, (3, 4, 3)),
    ],
)
def test_the_next_place_of_each_is_the_one_on_the_beat_or_after_it(
    by_hand: Readings, beat: float, found: tuple[int, ...]
) -> None:
    assert tuple(by_hand.next_after(np.full(3, beat), np.arange(3))) == found
    assert tuple(reading.next_place(beat) for reading in by_hand.each) == found


@pytest.mark.parametrize(
    ("first", "last", "struck"),
    [(0, 0, []), (0, 1, [0.5]), (1, 3, [0.9, 0.2]), (2, 4, [0.2, 0.5]), (-1, 0, [0.2]), (0, 30, None)],
)
def test_to_pass_places_over_costs_each_of_them_over_the_double_bar_too(
    by_hand: Readings, first: int, last: int, struck: list[float] | None
) -> None:
    cost = np.log(0.04) if struck is None else max(float(np.sum(np.log1p(-np.array(struck)))), np.log(0.04))
    one, two = np.array([first]), np.array([last])
    for reading in (0, 1):
        assert by_hand.passing(one, two, np.array([reading])) == pytest.approx([cost])
    assert by_hand.home.passing(one, two) == pytest.approx([cost])


def test_alone_there_is_the_first_and_nobody_is_expected_to_begin_again(by_hand: Readings) -> None:
    assert by_hand.alone().each == by_hand.each[:1]
    quiet = by_hand.without_new_starts()
    assert [reading.places.resume for reading in quiet.each] == [0.0] * 3
    assert list(quiet.kin) == [0, 0, 2]
