"""The follower: it knows where the player is by what they strike and by what they don't, and how sure that is.

The performances here are as exact as a machine's, so that what is tried is the one thing that is changed in each. How
people are followed is tried in tests/stage.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from companion.chart.model import Form, MelodyNote
from companion.follow.belief import VV, WAY, XX, Crowd, V, X
from companion.follow.follower import Follower
from companion.follow.lead import Lead
from companion.follow.roles import manner_for, places_for, readings_for
from companion.follow.shape import TempoShape
from companion.load import load
from companion.resources import chart_path

BEFORE = 2.0
"""Seconds before the first downbeat."""


@pytest.fixture(scope="module")
def form() -> Form:
    """A tune of 32 bars, A1 A2 B A2, whose feel is made straight so that written beats are sounding ones."""
    return replace(load(chart_path("ferry-without-lights")).unfold(), feel="straight")


def struck(
    form: Form, tempo: float = 120.0, start: float = BEFORE, low: float = -4.0, high: float = 128.0
) -> list[tuple[float, float, int]]:
    """The melody between two beats, dead in time: second, chart beat, MIDI number."""
    notes: Iterable[MelodyNote] = (note for note in form.melody if low <= note.beat < high)
    return [(start + float(note.beat) * 60 / tempo, float(note.beat), note.pitch.midi) for note in notes]


def followed(follower: Follower, notes: Iterable[tuple[float, float, int]]) -> list[tuple[float, Lead]]:
    """Play notes; gives the true chart beat and what the follower says after each."""
    leads = []
    for seconds, beat, pitch in notes:
        follower.hear(seconds, pitch)
        assert follower.lead is not None
        leads.append((beat, follower.lead))
    return leads


def off(form: Form, beat: float, lead: Lead) -> float:
    """Beats from the true place to the one that is gone by, whatever the chorus."""
    length = float(form.length)
    return abs((lead.beat - beat + length / 2) % length - length / 2)


@pytest.mark.parametrize("tempo", [40.0, 120.0, 300.0])
def test_a_melody_in_time_is_followed_note_by_note(form: Form, tempo: float) -> None:
    follower = Follower(form, frozenset({"melody"}), tempo=tempo, start=BEFORE)
    for beat, lead in followed(follower, struck(form, tempo)):
        assert off(form, beat, lead) < 0.1
        assert lead.speed * 60 == pytest.approx(tempo, rel=0.03)


def test_what_it_says_are_probabilities(form: Form) -> None:
    follower = Follower(form, frozenset({"melody"}))
    dice = random.Random(3)
    for n in range(120):
        follower.hear(0.37 * n + dice.uniform(0, 0.3), dice.randrange(48, 84), dice.randrange(1, 128))
        lead = follower.look(0.37 * n + 0.32)
        assert lead is not None and lead.speed > 0 and lead.spread >= 0
        for share in (lead.mass, lead.free, lead.stopped):
            assert -1e-9 <= share <= 1 + 1e-9
        assert sum(weight for _, _, weight in follower.likeliest()) <= 1 + 1e-6


def test_two_wrong_notes_are_no_reason_to_leave(form: Form) -> None:
    notes = struck(form, high=32.0)
    wrong = [(s, b, p + 1 if n in (9, 10) else p) for n, (s, b, p) in enumerate(notes)]
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE)
    assert all(off(form, beat, lead) < 0.25 for beat, lead in followed(follower, wrong))


def test_notes_left_out_are_passed_over(form: Form) -> None:
    notes = [note for n, note in enumerate(struck(form, high=64.0)) if n % 7 != 3]
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE)
    assert all(off(form, beat, lead) < 0.25 for beat, lead in followed(follower, notes))


def test_a_leap_to_the_bridge_is_followed_within_two_bars(form: Form) -> None:
    bridge = 64.0  # the third of four sections of eight bars
    first = struck(form, high=24.0)
    later = struck(form, start=BEFORE + (24.0 - bridge) / 2, low=bridge, high=96.0)
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE)
    followed(follower, first)
    leads = followed(follower, later)
    there = next(beat for beat, lead in leads if off(form, beat, lead) < 0.25)
    assert there < bridge + 8.0
    assert all(off(form, beat, lead) < 0.25 for beat, lead in leads if beat > there)


def test_going_back_two_bars_is_followed_within_two_bars(form: Form) -> None:
    first = struck(form, high=24.0)
    again = struck(form, start=BEFORE + 8.0 / 2, low=16.0, high=48.0)
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE)
    followed(follower, first)
    leads = followed(follower, again)
    there = next(beat for beat, lead in leads if off(form, beat, lead) < 0.25)
    assert there < 16.0 + 8.0


def test_after_a_pause_the_next_note_says_where_it_goes_on(form: Form) -> None:
    pause = 4.0
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE)
    followed(follower, struck(form, high=24.0))
    leads = followed(follower, struck(form, start=BEFORE + pause, low=24.0, high=48.0))
    assert all(off(form, beat, lead) < 0.5 for beat, lead in leads[3:])


def test_a_silence_where_notes_are_promised_looks_like_a_stop_and_a_rest_does_not(form: Form) -> None:
    notes = struck(form, high=16.0)
    last = notes[-1][0]
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE)
    followed(follower, notes)
    soon, late = follower.look(last + 0.25), None
    assert soon is not None
    early = soon.stopped
    late = follower.look(last + 6.0)
    assert late is not None and late.stopped > 0.8 > early


def test_of_two_equal_places_it_stays_where_it_is_until_the_notes_tell(form: Form) -> None:
    # the second and the fourth section are the same; whoever goes on from the first is in the second
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE)
    for beat, lead in followed(follower, struck(form, high=64.0)):
        assert abs(lead.beat % float(form.length) - beat % float(form.length)) < 1.0 or beat < 0


def test_it_depends_on_nothing_but_what_it_is_told(form: Form) -> None:
    def run() -> list[Lead]:
        follower = Follower(form, frozenset({"melody"}))
        return [lead for _, lead in followed(follower, struck(form, 133.0, high=48.0))]

    assert run() == run()


def test_without_a_count_in_the_opening_is_known_within_two_bars(form: Form) -> None:
    follower = Follower(form, frozenset({"melody"}))
    leads = followed(follower, struck(form, 132.0, high=24.0))
    assert all(off(form, beat, lead) < 0.25 for beat, lead in leads if beat >= 8.0)


@pytest.mark.parametrize("you", [{"melody"}, {"chords"}, {"bass"}, {"solo"}, {"melody", "chords"}])
def test_before_the_first_note_and_without_a_count_in_it_knows_nothing(form: Form, you: set[str]) -> None:
    follower = Follower(form, frozenset(you))
    assert follower.look(3.0) is None and follower.lead is None and follower.likeliest() == []
    follower.hear(4.0, 60)
    assert follower.lead is not None


# A tune goes through its events: the same player in another role, or in other bars


def test_a_player_who_goes_from_the_melody_to_a_solo_and_back_is_kept_in_place(form: Form) -> None:
    """The beat goes on through the changes of role; a soloist is followed by chord notes on the beats."""
    dice = random.Random(3)
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE)
    followed(follower, struck(form))
    solo, melody = frozenset({"solo"}), frozenset({"melody"})
    follower.switch(BEFORE + 63.5, readings_for(form, solo), manner_for(form, solo))
    assert follower.lead is not None and abs(follower.lead.beat - 127) < 0.1 and follower.lead.mass > 0.9
    for n in range(240):
        beat = 128 + n / 2
        pitches = sorted(form.chord_at(beat).chord.pitch_classes) or [7]
        if dice.random() < 0.7:
            follower.hear(BEFORE + beat / 2, 60 + dice.choice(pitches))
    assert abs(follower.lead.beat - 247) < 1.5 and follower.lead.speed == pytest.approx(2.0, rel=0.02)
    follower.switch(BEFORE + 126.5, readings_for(form, melody), manner_for(form, melody))
    leads = followed(follower, struck(form, start=BEFORE + 128))
    assert all(off(form, beat, lead) < 0.2 for beat, lead in leads[4:])
    assert leads[-1][1].beat == pytest.approx(256 + leads[-1][0], abs=0.2)


def test_after_a_change_of_role_nothing_is_overdue(form: Form) -> None:
    follower = Follower(form, frozenset({"solo"}), tempo=120.0, start=BEFORE)
    follower.hear(BEFORE, 67)
    melody = frozenset({"melody"})
    follower.switch(BEFORE + 30.0, readings_for(form, melody), manner_for(form, melody))
    assert follower.lead is not None and follower.lead.stopped < 0.1


def test_where_the_band_leads_the_player_is_taken_to_be_with_it(form: Form) -> None:
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE)
    followed(follower, struck(form, high=64.0))
    follower.set_position(60.0, 70.0, 1.2)
    assert follower.lead is not None
    assert (follower.lead.beat, follower.lead.speed) == (pytest.approx(70.0), pytest.approx(1.2))
    assert follower.lead.when(71.0) == pytest.approx(60.0 + 1 / 1.2)


def test_a_place_can_be_counted_in_another_chorus(form: Form) -> None:
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE)
    notes = struck(form)
    followed(follower, notes[:20])
    assert follower.lead is not None
    before = follower.lead
    follower.renumber(2)
    assert follower.lead.beat == before.beat + 256
    (_, lead), *_ = followed(follower, notes[20:21])
    assert lead.beat == pytest.approx(256 + notes[20][1], abs=0.1) and lead.mass > 0.9


def test_an_introduction_is_counted_in_as_the_form_is(form: Form) -> None:
    at_the_top = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE)
    before_it = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE, begin=-128.0)
    assert at_the_top.lead is not None and before_it.lead is not None
    assert before_it.lead.beat == at_the_top.lead.beat - 128


def test_a_last_chord_is_awaited_from_whoever_plays(form: Form) -> None:
    without_pickup = replace(form, melody=tuple(note for note in form.melody if note.beat >= 0))
    for role in ("melody", "chords", "bass", "solo"):
        places = places_for(without_pickup, frozenset({role}), hold=Fraction(124))
        last = places.next_place(124.0 - 1e-6)
        assert places.place_at(last) == 124.0 and places.strike[last % places.count] > 0.9
        assert places.place_at(last + 1) >= 128.0


def test_a_player_who_tries_the_keys_during_the_count_in_comes_in_at_the_top_all_the_same(form: Form) -> None:
    tune = replace(form, chords=(), melody=())
    follower = Follower(tune, frozenset({"solo"}), tempo=225.0, start=BEFORE)
    for early in (2.1, 1.95, 1.6, 1.1, 0.9):
        follower.hear(BEFORE - early, 60)
        due = follower.lead.when(0.0) if follower.lead else None
        assert due == pytest.approx(BEFORE, abs=0.1)  # 0.1 s are a quaver's third: the first beat is where it was
    assert follower.course.came_from(follower.lead, anew=False) == pytest.approx(-2.0, abs=0.3)


# Earlier takes

WIDENED = 12
"""The half bar that the player of these tests holds half as long again; they lean on the first half of each bar."""


def stretches(form: Form, widened: float = 0.4) -> tuple[float, ...]:
    """Of each half bar, as that player shapes it."""
    leant = [0.1 if n % 2 == 0 else -0.1 for n in range(int(form.length) // 2)]
    leant[WIDENED] = widened
    return tuple(leant)


def known(form: Form) -> TempoShape:
    """What earlier takes of that player tell."""
    beats = tuple(2.0 * n for n in range(int(form.length) // 2))
    return TempoShape(float(form.length), beats, stretches(form), (0.04,) * len(beats), takes=4)


def shaped(form: Form, beat: float) -> float:
    """The moment of a beat in that player's hands, in seconds."""
    halves = [math.exp(much) for much in stretches(form)]
    whole = int(max(beat, 0.0) // 2)
    return BEFORE + sum(halves[:whole]) + (beat - 2 * whole) / 2 * halves[whole]


def foreseen(form: Form, shape: TempoShape | None) -> float:
    """Seconds by which the end of what is widened is foreseen too early, when its beginning has been heard."""
    manner = manner_for(form, frozenset({"melody"}))
    manner = manner.shaped_by(shape) if shape else manner
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE, manner=manner)
    low = 2.0 * WIDENED
    notes = [(shaped(form, beat), beat, pitch) for _, beat, pitch in struck(form, high=low + 0.1)]
    lead = followed(follower, notes)[-1][1]
    return shaped(form, low + 2) - lead.when(low + 2)


def test_a_spot_that_was_widened_in_earlier_takes_is_foreseen(form: Form) -> None:
    assert foreseen(form, None) > 0.3, "nobody could know"
    assert abs(foreseen(form, known(form))) < 0.15


def test_who_does_not_widen_it_this_time_is_followed_all_the_same(form: Form) -> None:
    manner = manner_for(form, frozenset({"melody"})).shaped_by(known(form))
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE, manner=manner)
    for beat, lead in followed(follower, struck(form, high=64.0)):
        assert off(form, beat, lead) < 0.15
        assert lead.speed * 60 == pytest.approx(120.0, rel=0.05 if beat > 30 else 0.25)


def test_the_shape_of_another_tune_is_soon_believed_no_more(form: Form) -> None:
    dice = random.Random(2)
    beats = tuple(float(n) for n in range(128))
    wild = TempoShape(float(form.length), beats, tuple(dice.uniform(-0.4, 0.4) for _ in beats), (0.03,) * 128)
    manner = manner_for(form, frozenset({"melody"})).shaped_by(wild)
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE, manner=manner)
    *_, (_, lead) = followed(follower, struck(form, high=32.0))
    assert lead.shaped < 0.05


def test_the_swing_of_earlier_takes_is_expected_from_the_first_note(form: Form) -> None:
    swung = replace(form, feel="swing")
    manner = manner_for(swung, frozenset({"melody"}))
    shape = replace(known(swung), swing=0.07)
    follower = Follower(swung, frozenset({"melody"}), tempo=120.0, start=BEFORE, manner=manner.shaped_by(shape))
    assert follower.habits.swing == 0.07
    assert Follower(swung, frozenset({"melody"}), tempo=120.0, start=BEFORE, manner=manner).habits.swing != 0.07


def test_a_leap_in_a_shaped_tune_is_followed(form: Form) -> None:
    manner = manner_for(form, frozenset({"melody"})).shaped_by(known(form))
    follower = Follower(form, frozenset({"melody"}), tempo=120.0, start=BEFORE, manner=manner)
    first = struck(form, high=48.0)
    again = [(s + 16.0, b, p) for s, b, p in struck(form, low=16.0, high=40.0)]
    *_, (beat, lead) = followed(follower, [*first, *again])
    assert off(form, beat, lead) < 0.15


def test_from_a_solo_into_the_shaped_head_the_tempo_is_kept(form: Form) -> None:
    you, solo = frozenset({"melody"}), frozenset({"solo"})
    follower = Follower(form, you, tempo=120.0, start=BEFORE, manner=manner_for(form, you).shaped_by(known(form)))
    followed(follower, struck(form, high=25.0))
    for part, manner in ((solo, manner_for(form, solo)), (you, manner_for(form, you).shaped_by(known(form)))):
        before = follower.look(BEFORE + 12.6)
        follower.switch(BEFORE + 12.6, readings_for(form, part), manner)
        after = follower.look(BEFORE + 12.6)
        assert before is not None and after is not None
        assert after.speed == pytest.approx(before.speed, rel=0.1)


# By numbers


MELODY = frozenset({"melody"})


def test_who_is_counted_in_is_two_beats_before_the_first_and_as_sure_as_each_way_of_keeping_time(form: Form) -> None:
    """A pickup comes on top. The tempo may be 0.8, 2 or 8 % off that of the count-in, by how free the time is."""
    follower = Follower(form, MELODY, tempo=90.0, start=BEFORE)
    crowd, back = follower.crowd, 2.0 + float(form.pickup)
    assert crowd is not None and follower.last == pytest.approx(BEFORE - back / 1.5)
    assert set(crowd.rows[X]) == {-back} and set(crowd.rows[V]) == {1.5} and set(crowd.rows[XX]) == {0.03**2}
    spreads = {0: 0.008, 1: 0.02, 2: 0.08}
    assert crowd.rows[VV] == pytest.approx([(spreads[int(way)] * 1.5) ** 2 for way in crowd.rows[WAY]])
    readings = follower.readings
    shares = [readings.each[int(n)].share * (0.5, 0.2, 0.3)[int(w)] for n, w in zip(crowd.read, crowd.way, strict=True)]
    assert np.exp(crowd.weight) == pytest.approx(np.array(shares) / sum(shares))
    free = {(n, way) for n, way in zip(crowd.read, crowd.way, strict=True) if way == 2}
    assert {n for n, _ in free} == {n for n, reading in enumerate(readings.each) if reading.free}
    due = readings.next_after(np.full(len(crowd), -back), crowd.read) - 1
    assert list(crowd.heard) == list(due)


@pytest.mark.parametrize(
    ("missing", "behind", "left_out", "stopped"),
    [
        (0, 0.11, 0, 0.0),
        (1, 0.09, 0, 0.0),  # a tenth of a beat is no absence
        (1, 0.11, 0, 0.019 / 0.069),
        (2, 0.11, 0, 0.01992 / 0.02392),
        (1, 0.11, 4, 0.02 * 22 / (0.02 * 22 + 5)),  # five of 27
    ],
)
def test_promised_notes_that_do_not_come_tell_of_a_stop_the_more_the_fewer_were_left_out(
    form: Form, missing: int, behind: float, left_out: int, stopped: float
) -> None:
    """One in fifty silences is a stop; one note in twenty is left out by an unknown player, so one missing leaves 0.05,
    two no more than a rest on purpose, 0.004."""
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    followed(follower, struck(form, low=0.0, high=0.5))
    reading = follower.readings.each[0]
    first = next(
        k for k in range(99) if all(reading.place_at(k + n + 1) - reading.place_at(k + n) > 0.4 for n in range(4))
    )
    lead = Lead(9.0, reading.place_at(first + missing) + behind, 2.0, 1.0, 0.01, 0.01, 0.0, 0.0, first, reading)
    for passed in (3, 3, 1) if left_out else ():
        follower.course.count_omissions(lead, replace(lead, heard=first + passed))
    assert follower._stopped(lead, 0.5) == pytest.approx(stopped)


@pytest.mark.parametrize(
    ("late", "mass", "swing"),
    [
        (0.2, 1.0, 0.1 + 0.15 * 0.1),
        (0.0, 1.0, 0.1 - 0.15 * 0.1),
        (-0.09, 1.0, 0.1 - 0.15 * 0.19),
        (-0.11, 1.0, 0.1),  # no swing, another place
        (0.34, 1.0, 0.1 + 0.15 * 0.24),
        (0.36, 1.0, 0.1),
        (0.2, 0.81, 0.115),
        (0.2, 0.79, 0.1),  # of a place in doubt nothing is learnt
    ],
)
def test_swing_is_learnt_by_about_a_seventh_of_what_an_off_beat_is_late(
    form: Form, late: float, mass: float, swing: float
) -> None:
    swinging = replace(form, feel="swing")
    follower = Follower(swinging, MELODY, tempo=120.0, start=BEFORE)
    reading = follower.readings.each[0]
    off_beat = int(np.flatnonzero(reading.places.swung == 1.0)[0])
    follower.habits = replace(follower.habits, swing=0.1)
    follower.lead = Lead(5.0, reading.place_at(off_beat) + late, 2.0, mass, 0.01, 0.01, 0.0, 0.0, off_beat, reading)
    follower._feel_swing()
    assert follower.habits.swing == pytest.approx(swing)
    follower.lead = replace(follower.lead, heard=int(np.flatnonzero(reading.places.swung == 0.0)[0]))
    follower._feel_swing()
    assert follower.habits.swing == pytest.approx(swing), "on the beat there is none"


def test_swing_stays_between_even_quavers_and_three_to_one(form: Form) -> None:
    follower = Follower(replace(form, feel="swing"), MELODY, tempo=120.0, start=BEFORE)
    reading = follower.readings.each[0]
    k = int(np.flatnonzero(reading.places.swung == 1.0)[0])
    for start, late, swing in ((0.25, 0.34, 0.25), (0.0, -0.09, 0.0)):
        follower.habits = replace(follower.habits, swing=start)
        follower.lead = Lead(5.0, reading.place_at(k) + late, 2.0, 1.0, 0.01, 0.01, 0.0, 0.0, k, reading)
        follower._feel_swing()
        assert follower.habits.swing == pytest.approx(swing)


@pytest.mark.parametrize(("feel", "tempo", "swing"), [("swing", 160.0, 2 / 3 - 0.5), ("straight", 160.0, 0.0)])
def test_how_late_off_beats_are_is_expected_from_the_tempo(form: Form, feel: str, tempo: float, swing: float) -> None:
    assert Follower(replace(form, feel=feel), MELODY, tempo=tempo).habits.swing == pytest.approx(swing)


def test_whoever_was_counted_in_may_come_in_when_they_like(form: Form) -> None:
    """Nothing was missed before the first note, up to half a beat behind it."""
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    follower._excuse(BEFORE + 8.2 / 2)
    assert follower.crowd is not None
    due = follower.readings.next_after(np.full(len(follower.crowd), 7.7), follower.crowd.read) - 1
    assert list(follower.crowd.heard) == list(due)


@pytest.mark.parametrize(
    ("beats", "about"), [(0.29, True), (0.31, False), (-0.29, True), (128.2, True), (-127.8, True)]
)
def test_one_place_is_what_lies_within_three_tenths_of_a_beat_in_any_chorus(
    form: Form, beats: float, about: bool
) -> None:
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    crowd = Crowd.of(np.array([20.0 + beats]), 2.0, 0.01, 0.0, 0.01, 0.0, 0.0, 0.0, 0.0)
    assert bool(follower._about(crowd, 20.0)[0]) == about


def test_a_soloist_in_the_melodys_place_is_told_by_the_weight_of_that_reading(form: Form) -> None:
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    solo = next(n for n, reading in enumerate(follower.readings.each) if reading.part == "solo")
    read = np.array([0.0, 1.0, float(solo)])
    follower.crowd = Crowd.of(np.array([4.0, 4.1, 4.2]), [2.0, 1.5, 1.0], 0.01, 0.0, 0.01, 0.0, 0.0, read,
                              np.log([0.5, 0.2, 0.3]))  # fmt: skip
    assert follower.improvised() == pytest.approx(0.3)
    assert follower.likeliest(2) == [
        (4.0, pytest.approx(120.0), pytest.approx(0.5)), (4.2, pytest.approx(60.0), pytest.approx(0.3))
    ]  # fmt: skip
    assert Follower(form, frozenset({"chords"}), tempo=120.0, start=BEFORE).improvised() == 0.0


def test_the_places_that_sound_alike_count_together_at_the_tempo_that_is_gone_by(form: Form) -> None:
    """The last eight bars are the second eight once more: within three tenths of a beat and 5 % of the tempo."""
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    reading = follower.readings.each[0]
    beat = next(b for b in range(44, 60) if reading.places.alike(float(b), float(b + 64)))
    x = np.array([beat, beat + 64.2, beat + 64.4, beat + 64.0, beat + 16.0, beat - 64.0])
    v = np.array([2.0, 2.09, 2.0, 2.11, 2.0, 1.95])
    follower.crowd = Crowd.of(x, v, 0.01, 0.0, 0.01, 0.0, 0.0, 0.0, np.log([0.4, 0.2, 0.1, 0.1, 0.1, 0.1]))
    follower.lead = Lead(9.0, float(beat), 2.0, 0.4, 0.01, 0.01, 0.0, 0.0, 3, reading)
    assert follower.mass_alike() == pytest.approx(0.4 + 0.2 + 0.1)


@pytest.mark.parametrize(
    ("left", "nearest"), [(42.0, 44.0), (106.0, 108.0), (46.0, 44.0), (80.0, 44.0), (60.0, 44.0), (5.0, 108.0)]
)
def test_of_places_that_sound_alike_the_nearest_to_where_the_player_left_is_taken(
    form: Form, left: float, nearest: float
) -> None:
    """A way on weighs twice as much as one back."""
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    reading = follower.readings.each[0]
    assert reading.places.alike(44.0, 108.0)
    x = np.array([44.0, 108.0])
    follower.crowd = Crowd.of(x, 2.0, 0.01, 0.0, 0.01, 0.0, 0.0, 0.0, np.log([0.5, 0.5]))
    follower.lead = Lead(9.0, left, 2.0, 0.4, 0.01, 0.01, 0.0, 0.0, reading.next_place(left), reading)
    for best in (0, 1):
        weight = np.array([0.5, 0.5])
        near = follower._nearer(follower.crowd, weight, best, anew=False)
        assert x[best if near is None else near] == nearest
    unlikely = np.array([1.0, 0.04]) if nearest == 108.0 else np.array([0.04, 1.0])
    assert follower._nearer(follower.crowd, unlikely, int(unlikely.argmax()), anew=False) is None


def test_who_changes_parts_is_listened_to_at_the_forty_likeliest_places(form: Form) -> None:
    chords = frozenset({"chords"})
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    follower.crowd = Crowd.of(np.arange(60.0) + 0.05, 2.0, 0.01, 0.0, 0.01, 0.0, 0.0, 0.0, -0.1 * np.arange(60.0))
    follower.switch(follower.seconds, readings_for(form, chords), manner_for(form, chords))
    assert follower.crowd is not None
    assert sorted(set(np.round(follower.crowd.rows[X], 2))) == pytest.approx([n + 0.05 for n in range(40)])


@pytest.mark.parametrize(("since", "ahead"), [(0.1, 0.1), (0.5, -0.25)])
def test_after_a_change_of_parts_the_way_is_half_kept_and_nothing_is_overdue(
    form: Form, since: float, ahead: float
) -> None:
    """Of the ways of keeping time, half stays where it was and half is as of anybody. A note struck a moment ago may
    have been the new part's; if none was, one a quarter of a beat back may still come."""
    bass = frozenset({"bass"})
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    follower.crowd = Crowd.of(np.array([20.05]), 2.0, 0.01, 0.0, 0.0, 0.0, 2.0, 0.0, 0.0)
    follower.last = follower.seconds - since
    readings = readings_for(form, bass)
    follower.switch(follower.seconds, readings, manner_for(form, bass))
    assert follower.crowd is not None
    weights = dict(zip(follower.crowd.rows[WAY], np.exp(follower.crowd.weight), strict=True))
    assert weights == pytest.approx({0.0: 0.25, 1.0: 0.1, 2.0: 0.65}, abs=1e-6)
    due = readings.each[0].next_place(20.05 + ahead) - 1
    assert set(follower.crowd.heard) == {due}


def test_what_is_heard_an_octave_lower_is_learnt_with_the_weight_of_the_melody(form: Form) -> None:
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    notes = [(seconds, beat, midi - 12) for seconds, beat, midi in struck(form, low=0.0, high=12.0)]
    followed(follower, notes)
    below, as_written, above = follower.habits.octaves
    assert below > 4.5 > as_written and above == pytest.approx(0.15, abs=0.01)


def test_five_places_are_told_unless_another_number_is_asked_for(form: Form) -> None:
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    follower.crowd = Crowd.of(np.arange(9.0), 2.0, 0.01, 0.0, 0.01, 0.0, 0.0, 0.0, -np.arange(9.0))
    assert [beat for beat, _, _ in follower.likeliest()] == [0.0, 1.0, 2.0, 3.0, 4.0]


def test_nobody_has_stopped_who_has_not_begun(form: Form) -> None:
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    lead = follower.look(BEFORE + 20.0)
    assert lead is not None and lead.stopped == 0.0


@pytest.mark.parametrize(("behind", "missing"), [(0.22, False), (0.24, True)])
def test_of_a_place_in_doubt_a_note_is_missing_a_spread_and_a_half_and_two_touches_behind(
    form: Form, behind: float, missing: bool
) -> None:
    """A spread of 0.1 beats; a touch of 0.02 seconds at two beats a second."""
    follower = Follower(form, MELODY, tempo=120.0, start=BEFORE)
    followed(follower, struck(form, low=0.0, high=0.5))
    reading = follower.readings.each[0]
    lead = Lead(9.0, reading.place_at(5) + behind, 2.0, 1.0, 0.1, 0.01, 0.0, 0.0, 4, reading)
    assert (follower._stopped(lead, 0.5) > 0) == missing
