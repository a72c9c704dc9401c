"""Where onsets lie by the chart, and the beat that both hands tell, from a take of which everything is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from companion.music.played import BeatMap
from companion.practice.judging import JudgedNote
from companion.practice.onsets import (
    TakeOnset,
    free_onsets,
    in_order,
    onsets_between,
    sounding_beats,
    sweep_timing,
    usual_place,
    written_onsets,
)
from companion.practice.sweeps import Sweep
from tests.practice.test_alignment import form

NAME, QUARTER, BARS = "ferry-without-lights", 0.5, 16
STEADY = BeatMap.steady(60 / QUARTER, 1.0)
SWEEP = Sweep(0.0, 4.0 * BARS, tuple((float(n), STEADY.seconds(n)) for n in range(4 * BARS + 1)))


def melody(*, late: float = 0.0) -> list[JudgedNote]:
    """A note on each downbeat."""
    at = (4.0 * n for n in range(BARS))
    return [JudgedNote("right", beat, 64, 64, STEADY.seconds(beat) + late, 0.0) for beat in at]


def chords(off: dict[float, float]) -> list[JudgedNote]:
    """A chord under each downbeat and one on each third beat; some of them off by so many seconds."""
    return [
        JudgedNote("right", beat, None, pitch, STEADY.seconds(beat) + off.get(beat, 0.0), None, "chords")
        for beat in (2.0 * n for n in range(2 * BARS))
        for pitch in (53, 57)
    ]


def both(off: dict[float, float]) -> tuple[list[float], BeatMap]:
    """The beats of the chords between the melody's notes, and the beat that both tell."""
    notes = [*melody(), *chords(off)]
    between, beats = onsets_between(form(NAME), SWEEP, notes, written_onsets(form(NAME), SWEEP, notes))
    return [one.beat for one in between], beats


def test_chords_between_the_notes_of_a_melody_tell_the_beat() -> None:
    found, beats = both(dict.fromkeys((18.0, 22.0, 26.0), 0.03))
    assert found == [4.0 * n + 2 for n in range(BARS)]
    assert beats.seconds(22) > STEADY.seconds(22) + 0.005


def test_a_late_chord_does_not_draw_the_beat_to_itself() -> None:
    found, beats = both({22.0: 0.12})
    assert 22.0 not in found and len(found) == BARS - 1
    assert beats.seconds(22) == pytest.approx(STEADY.seconds(22), abs=0.003)


def test_of_a_chord_and_a_note_that_cross_the_note_counts() -> None:
    notes = [*melody(late=0.2), *chords({})]
    written = written_onsets(form(NAME), SWEEP, notes)
    under = onsets_between(form(NAME), SWEEP, [*melody(), *chords({})], written_onsets(form(NAME), SWEEP, melody()))
    mixed = in_order(written, under[0])
    assert [one.beat for one in mixed] == sorted(one.beat for one in mixed)
    assert [one.seconds for one in mixed] == sorted(one.seconds for one in mixed)
    assert {one.beat for one in written} <= {one.beat for one in mixed}


# A take that slows down evenly, written out: what stands here is what is found today

WOBBLE = (0, 6, -4, 12, -6, 14, -2, 1, -11, 9)
"""Milliseconds by which the hand is off."""
CHORDS = (1.0, 2.5, 4.5, 6.0, 9.0, 10.5, 12.5, 14.0, 15.5, 17.0, 18.5, 20.5, 22.5, 25.0, 26.5, 28.0, 30.3, 31.5)
"""Beats of chords; the last but one lies near neither beat nor quaver."""


def slowing(beat: float) -> float:
    return 2 + beat / 2 + 0.0008 * beat**2


SLOWING = Sweep(-1.0, 36.0, tuple((float(n), slowing(n)) for n in range(-1, 37)), ((16.0, 0.4),))


def head(place: float = 0.64) -> list[JudgedNote]:
    """Twenty-six notes of the melody, off-beat quavers at a place of their beat."""
    found = []
    for n, note in enumerate(form(NAME).melody[:26]):
        beat = float(note.beat)
        at = slowing(beat // 1 + place) if beat % 1 == 0.5 else slowing(beat)
        found.append(JudgedNote("right", beat, note.pitch.midi, note.pitch.midi, at + WOBBLE[n % 10] / 1000, 0.0))
    return found


def comping() -> list[JudgedNote]:
    found = []
    for n, beat in enumerate(CHORDS):
        at = slowing(beat // 1 + 0.62) if beat % 1 == 0.5 else slowing(beat)
        found += [
            JudgedNote("right", beat, None, pitch, at + WOBBLE[3 * n % 10] / 1000, None, "chords") for pitch in (53, 57)
        ]
    return found


def places(onsets: Sequence[TakeOnset]) -> dict[float, float]:
    return {one.beat: round(one.place, 4) for one in onsets}


def test_each_written_onset_has_its_place_in_the_beat_and_shows_how_one_swings_where_the_beat_is_known() -> None:
    found = written_onsets(form(NAME), SLOWING, head())
    assert places(found) == pytest.approx(
        {-1: 0.008, -0.5: 0.6566, 0: -0.0046, 3.5: 0.6599, 4: -0.0158, 5: 0.0216, 5.5: 0.629, 6: -0.0052, 7.5: 0.6094,
         12.5: 0.6476, 13.5: 0.6314, 14: 0.0037, 15: -0.0137, 16: 0.0187, 19: -0.0067, 19.5: 0.6712, 20: 0.0017,
         21.5: 0.6446, 22: -0.0182, 23: 0.0152, 29: -0.0062, 30: 0.0086, 31: -0.0034, 31.5: 0.6714, 32: 0.002,
         35.5: 0.7358}, abs=1.1e-4,
    )  # fmt: skip
    quavers = [one.beat for one in found if one.swung]
    assert quavers == [-0.5, 3.5, 5.5, 7.5, 12.5, 13.5, 19.5, 21.5, 31.5, 35.5]
    assert [beat for beat in quavers if beat not in {one.beat for one in found if one.shows}] == [7.5, 12.5, 35.5]
    assert usual_place(form(NAME), found) == pytest.approx(0.65663, abs=1e-4)
    assert usual_place(form(NAME), found[:5]) == pytest.approx(1.55 / 2.55), "two quavers don't show it"


@pytest.mark.parametrize(("place", "usual"), [(0.3, 0.5), (0.9, 2.5 / 3.5)])
def test_nobody_swings_less_than_evenly_or_more_than_five_to_two(place: float, usual: float) -> None:
    shown = [TakeOnset(n + 0.5, float(n), place, True, (), True) for n in range(6)]
    assert usual_place(form(NAME), shown) == pytest.approx(usual)


def test_free_chords_lie_on_the_nearest_beat_or_quaver_and_tell_the_beat() -> None:
    found, beats = free_onsets(form(NAME), SLOWING, comping())
    assert places(found) == pytest.approx(
        {1: -0.0035, 2.5: 0.6292, 4.5: 0.6, 6: 0.0043, 9: -0.0146, 10.5: 0.6415, 12.5: 0.5962, 14: 0.0099, 15.5: 0.6062,
         17: -0.0025, 18.5: 0.6103, 20.5: 0.6284, 22.5: 0.6028, 25: 0.0034, 26.5: 0.5967, 28: 0.0065, 31.5: 0.6142},
        abs=1.1e-4,
    )  # fmt: skip
    assert [one.swung and one.shows for one in found] == [one.beat % 1 == 0.5 for one in found]
    moments = [beats.seconds(beat) for beat in (-1, 0, 4, 10, 20, 30, 36)]
    assert moments == pytest.approx([1.48936, 1.99617, 4.02196, 7.08363, 12.32864, 17.73275, 21.02258], abs=2e-5)


def test_chords_under_a_melody_lie_between_its_notes_and_both_tell_the_beat() -> None:
    notes = [*head(), *comping()]
    between, beats = onsets_between(form(NAME), SLOWING, notes, written_onsets(form(NAME), SLOWING, notes))
    assert places(between) == pytest.approx(
        {1: 0.0023, 2.5: 0.6465, 4.5: 0.6206, 9: 0.001, 10.5: 0.6528, 17: 0.0022, 18.5: 0.6253, 20.5: 0.6507,
         22.5: 0.6201, 25: 0.0104, 26.5: 0.6034, 28: 0.0169}, abs=1.1e-4,
    )  # fmt: skip
    moments = [beats.seconds(beat) for beat in (-1, 0, 4, 10, 16, 20, 30, 36)]
    expected = [1.49746, 1.99827, 4.01059, 7.07617, 10.20585, 12.31554, 17.72203, 21.03158]
    assert moments == pytest.approx(expected, abs=2e-5)


def test_the_written_onsets_are_a_sweeps_and_free_ones_where_there_are_none() -> None:
    both, alone = sweep_timing(form(NAME), SLOWING, [*head(), *comping()]), sweep_timing(form(NAME), SLOWING, comping())
    assert (both.written, len(both.onsets), len(both.between)) == (True, 26, 12)
    assert (alone.written, len(alone.onsets), len(alone.between)) == (False, 17, 0)
    nothing = sweep_timing(form(NAME), SLOWING, [])
    assert (nothing.onsets, nothing.beats.points) == ((), SLOWING.beats)


def test_onsets_sound_where_the_player_swings_them() -> None:
    quaver, beat = written_onsets(form(NAME), SLOWING, head())[1:3]
    found = sounding_beats([quaver, beat], 0.6, 0.4)
    assert [(one.beat, one.loose, one.off_beat) for one in found] == [
        (pytest.approx(-0.4), pytest.approx(0.02 * 0.4), True),
        (0.0, 0.0, False),
    ]
    assert sounding_beats([quaver], 0.6)[0].loose == pytest.approx(0.01), "at half a second a quarter"


@pytest.mark.parametrize(
    ("times", "kept"),
    [
        ((1.0, 2.0, 3.0), [0, 1, 2]),
        ((1.0, 0.9, 3.0), [0, 2]),  # the written one counts, before or after
        ((1.0, 3.1, 3.0), [0, 2]),
        ((1.0, 1.0009, 3.0), [0, 2]),
        ((1.0, 1.0011, 3.0), [0, 1, 2]),
        ((1.0, 1.5, 0.9), [0]),
    ],
)
def test_of_onsets_that_cross_the_written_one_counts(times: tuple[float, float, float], kept: list[int]) -> None:
    """A written note on beat 0, a free one on beat 1, and a written one on beat 2."""
    note = JudgedNote("right", 0.0, 60, 60, 0.0)
    every = [
        TakeOnset(float(n), at, 0.0, False, (replace(note, expected=None) if n == 1 else note,))
        for n, at in enumerate(times)
    ]
    assert in_order([every[0], every[2]], [every[1]]) == [every[n] for n in kept]


# Where the limits lie, against a steady beat


@pytest.mark.parametrize(
    ("beat", "lies"), [(8.19, 8.0), (8.21, None), (8.4, None), (8.42, 8.5), (8.81, 9.0), (7.81, 8.0)]
)
def test_a_free_chord_lies_on_a_place_within_a_fifth_of_a_beat(beat: float, lies: float | None) -> None:
    """Off-beats are taken at 1.55 to 1 (0.608) where none show them; few chords leave the beat as it is."""
    notes = [JudgedNote("right", beat, None, 60, STEADY.seconds(beat), None, "chords")]
    assert [one.beat for one in free_onsets(form(NAME), SWEEP, notes)[0]] == ([] if lies is None else [lies])


@pytest.mark.parametrize(("beat", "lies"), [(8.69, 8.5), (8.71, None), (8.31, 8.5), (8.29, None), (8.19, 8.0)])
def test_where_quavers_are_even_an_off_beat_lies_half_way(beat: float, lies: float | None) -> None:
    notes = [JudgedNote("right", beat, None, 60, STEADY.seconds(beat), None, "chords")]
    found, _ = free_onsets(form("confetti-on-the-stairs"), SWEEP, notes)
    assert [(one.beat, one.swung) for one in found] == ([] if lies is None else [(lies, False)])


def test_two_chords_at_one_place_are_the_first_and_another_parts_keys_are_none() -> None:
    keys = [(8.0, "chords"), (8.1, "chords"), (9.0, "melody"), (10.0, "bass"), (11.0, "solo")]
    notes = [JudgedNote("right", beat, None, 60, STEADY.seconds(beat), None, part) for beat, part in keys]  # type: ignore[arg-type]
    written = JudgedNote("right", 12.0, 60, 60, STEADY.seconds(12.0), None, "chords")
    assert [one.beat for one in free_onsets(form(NAME), SWEEP, [*notes, written])[0]] == [8.0, 10.0]


@pytest.mark.parametrize(("late", "told"), [(0.065, True), (0.075, False), (-0.065, True), (-0.075, False)])
def test_a_chord_tells_the_beat_within_70_ms_of_its_place(late: float, told: bool) -> None:
    assert (22.0 in both({22.0: late})[0]) is told


@pytest.mark.parametrize(
    ("held", "shows"),
    [
        (3.0, True),
        (3.8, False),
        (4.0, False),
        (5.0, False),
        (5.01, True),
        (2.6, True),
        (3.71, False),
        (3.7, True),
        (3.69, True),
    ],
)
def test_a_quaver_near_a_beat_that_was_held_back_shows_nothing(held: float, shows: bool) -> None:
    """The off-beat after beat 4."""
    notes = [JudgedNote("right", beat, 60, 60, STEADY.seconds(beat), 0.0) for beat in (4.0, 4.5, 5.0)]
    sweep = replace(SWEEP, held=((held, 0.5),))
    quaver = written_onsets(form("ovens-at-five"), sweep, notes)[1]
    assert quaver.swung and quaver.shows is shows


@pytest.mark.parametrize(
    ("near", "shows"), [(4.0, True), (5.0, True), (3.95, True), (3.85, False), (5.05, True), (5.15, False)]
)
def test_a_quaver_shows_how_one_swings_where_a_note_within_three_fifths_of_a_beat_tells_the_beat(
    near: float, shows: bool
) -> None:
    notes = [JudgedNote("right", beat, 60, 60, STEADY.seconds(beat), 0.0) for beat in sorted((near, 4.5))]
    quaver = next(one for one in written_onsets(form("ovens-at-five"), SWEEP, notes) if one.beat == 4.5)
    assert quaver.shows is shows


@pytest.mark.parametrize(("plain", "alone"), [(6, True), (5, False)])
def test_six_notes_on_the_beat_tell_it_by_themselves_and_fewer_leave_it_to_the_sweep(plain: int, alone: bool) -> None:
    """All of them 30 ms late: then an off-beat at 0.62 of the sweep's beat lies 0.06 earlier in theirs."""
    notes = [JudgedNote("right", float(n), 60, 60, STEADY.seconds(n) + 0.03, 0.0) for n in range(plain)]
    notes.append(JudgedNote("right", 2.5, 60, 60, STEADY.seconds(2.62), 0.0))
    quaver = next(one for one in written_onsets(form("ovens-at-five"), SWEEP, notes) if one.beat == 2.5)
    assert quaver.place == pytest.approx(0.56 if alone else 0.62, abs=0.01)


def test_where_fewer_than_a_quarter_of_the_notes_lie_on_the_beat_they_do_not_tell_it_alone() -> None:
    for quavers, alone in ((17, True), (19, False)):
        notes = [JudgedNote("right", float(n), 60, 60, STEADY.seconds(n) + 0.03, 0.0) for n in range(6)]
        notes += [JudgedNote("right", n + 0.5, 60, 60, STEADY.seconds(n + 0.62), 0.0) for n in range(quavers)]
        notes.sort(key=lambda note: note.seconds or 0.0)
        quaver = next(one for one in written_onsets(form("ovens-at-five"), SWEEP, notes) if one.beat == 2.5)
        assert quaver.place == pytest.approx(0.56 if alone else 0.62, abs=0.015)


def test_the_onsets_of_a_later_chorus_lie_where_it_goes_on() -> None:
    length = float(form(NAME).length)
    notes = [
        JudgedNote("right", beat, 60, 60, STEADY.seconds(length + beat), 0.0, chorus=2) for beat in (0.0, 1.0, 4.5)
    ]
    assert [one.beat for one in written_onsets(form(NAME), SWEEP, notes)] == [length, length + 1, length + 4.5]


def test_a_quaver_that_begins_a_stretch_shows_how_one_swings_by_the_beat_after_it() -> None:
    notes = [JudgedNote("right", beat, 60, 60, STEADY.seconds(beat), 0.0) for beat in (4.5, 5.0, 6.0)]
    assert [one.shows for one in written_onsets(form("ovens-at-five"), SWEEP, notes)] == [True, False, False]


def test_where_quavers_are_even_they_lie_half_way_whatever_is_shown() -> None:
    shown = [TakeOnset(n + 0.5, float(n), 0.6, True, (), True) for n in range(6)]
    assert usual_place(form("confetti-on-the-stairs"), shown) == 0.5


@pytest.mark.parametrize(("held", "told"), [(23.01, True), (23.0, False), (22.0, False), (21.01, False), (21.0, True)])
def test_a_chord_within_a_beat_of_where_one_held_back_does_not_tell_the_beat(held: float, told: bool) -> None:
    sweep, notes = replace(SWEEP, held=((held, 0.5),)), [*melody(), *chords({})]
    between, _ = onsets_between(form(NAME), sweep, notes, written_onsets(form(NAME), sweep, notes))
    assert (22.0 in [one.beat for one in between]) is told


def test_a_written_note_before_one_that_is_kept_is_left_out_with_the_free_one_between_them() -> None:
    note = JudgedNote("right", 0.0, 60, 60, 0.0)
    written = [TakeOnset(beat, at, 0.0, False, (note,)) for beat, at in ((0.0, 1.0), (1.0, 2.0), (3.0, 1.5))]
    between = TakeOnset(2.0, 3.1, 0.0, False, (replace(note, expected=None),))
    assert in_order(written, [between]) == written[:2]


def test_written_onsets_have_their_beats_to_a_ten_thousandth_and_those_out_of_order_are_left_out() -> None:
    """Three on their beats, and one before the last of them that is written after it."""
    beats = ((0.0, 1.0), (1 / 3, 1.2), (1.0, 2.0), (2.0, 1.5))
    notes = [JudgedNote("right", beat, 60, 60, at, 0.0) for beat, at in beats]
    assert [one.beat for one in written_onsets(form(NAME), SWEEP, notes)] == [0.0, 0.3333, 1.0]


@pytest.mark.parametrize(("many", "told"), [(6, True), (5, False)])
def test_six_free_chords_tell_the_beat_and_five_leave_it_as_it_is(many: int, told: bool) -> None:
    """All of them 40 ms late."""
    notes = [
        JudgedNote("right", 2.0 * n, None, 60, STEADY.seconds(2.0 * n) + 0.04, None, "chords") for n in range(many)
    ]
    found, beats = free_onsets(form(NAME), SWEEP, notes)
    assert len(found) == many
    assert beats.seconds(4.0) - STEADY.seconds(4.0) == pytest.approx(0.04 if told else 0.0, abs=0.005)
