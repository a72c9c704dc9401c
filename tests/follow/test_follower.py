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

import pytest

from companion.chart.model import Form, MelodyNote
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
