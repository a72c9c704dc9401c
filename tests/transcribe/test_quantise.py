"""Played notes come back as they are written: beats, lengths, swing, triplets, pickups, ornaments."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction
from math import log
from random import Random

import pytest

from companion.messages import Heard
from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.music.swing import straight_quarters, to_sounding
from companion.pianist.player import manners, simulate
from companion.preferences import preferences
from companion.preferences.capture import CapturePreferences
from companion.transcribe.captured import KnownTune, Pass, captured_chart
from companion.transcribe.lengths import notes_with_lengths
from companion.transcribe.playing import keys_of, together, top_line, without_repeats
from companion.transcribe.quantise import (
    Quantisation,
    _bend,
    _lateness_at,
    _onward,
    _PartialReading,
    _places_after,
    _reading,
    _Search,
    quantise,
)
from companion.transcribe.rhythms import division
from companion.transcribe.tempo import find_beats

F = Fraction
TUNE = [("0", 1), ("1", "1/2"), ("3/2", "1/2"), ("2", 2), ("4", "3/2"), ("11/2", "1/2"), ("6", 1), ("7", 1), ("8", 3),
        ("11", "1/2"), ("23/2", "1/2"), ("12", 1), ("13", 1), ("14", "1/2"), ("29/2", "3/2"), ("16", 4)]  # fmt: skip
PITCHES = (60, 62, 64, 67, 65, 64, 62, 69, 67, 72, 71, 69, 67, 65, 64, 60)


def play(tune, tempo=120.0, ratio=1.0, start=1.0, jitter=0.0, held=0.9, late=0.0, drift=0.0, seed=0):
    """Keys of somebody who plays a tune: swing, onsets spread by ``jitter`` seconds, ``late`` behind the click."""
    dice = Random(seed)
    beats = [F(beat) for beat, _ in tune]
    straight = straight_quarters(beats)
    keys = []
    for k, (beat, length) in enumerate(tune):
        on, off = (to_sounding(b, ratio, straight) for b in (F(beat), F(beat) + F(length)))
        seconds = [start + late + b * (1 + drift * b) * 60 / tempo for b in (on, on + (off - on) * held)]
        moved = dice.gauss(0, jitter)
        keys.append(KeyPress(seconds[0] + moved, seconds[1] + moved, PITCHES[k % len(PITCHES)]))
    return keys


def written(keys, metre=None, beats=None, **more):
    reading = quantise(keys, beats or BeatMap.steady(120, 1.0), metre, **more)
    return [(note.beat, note.length) for note in notes_with_lengths(reading, metre or Metre())]


def as_written(tune):
    return [(F(beat), F(length)) for beat, length in tune]


@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0])
def test_swing_is_undone_whatever_its_ratio(ratio):
    keys = play(TUNE, ratio=ratio)
    reading = quantise(keys, BeatMap.steady(120, 1.0))
    assert written(keys) == as_written(TUNE)
    assert reading.swung == (ratio > 1) and reading.ratio == pytest.approx(ratio, abs=0.25)


@pytest.mark.parametrize("seed", range(4))
def test_human_timing_behind_the_click_is_read_as_written(seed):
    # 18 ms about a lateness of 30: Hofmann et al., J. New Music Research 2017 (values from secondary reading)
    assert written(play(TUNE, ratio=1.8, jitter=0.018, late=0.03, seed=seed)) == as_written(TUNE)


def test_a_beat_that_gets_faster_is_followed_without_a_click():
    # a quarter faster at the end; nothing tells how long the last note is meant
    assert written(play(TUNE, ratio=1.8, drift=-0.008))[:-1] == as_written(TUNE)[:-1]


def test_triplets_and_semiquavers_are_told_from_swung_quavers():
    triplet = [("0", "1/3"), ("1/3", "1/3"), ("2/3", "1/3")]
    semiquavers = [("2", "1/4"), ("9/4", "1/4"), ("5/2", "1/4"), ("11/4", "1/4"), ("3", 1)]
    quavers = [(str(F(k, 2)), "1/2") for k in (8, 9, 10, 11)]
    tune = [*triplet, ("1", "1/2"), ("3/2", "1/2"), *semiquavers, *quavers, ("6", 2)]
    assert written(play(tune, tempo=90, ratio=1.7), beats=BeatMap.steady(90, 1.0)) == as_written(tune)


def test_three_crotchets_in_the_time_of_two_are_a_triplet():
    tune = [("0", 1), ("1", 1), ("2", "2/3"), ("8/3", "2/3"), ("10/3", "2/3"), ("4", 2), ("6", 2)]
    assert written(play(tune)) == as_written(tune)


def test_six_eight_is_counted_in_dotted_crotchets():
    tune = [
        ("-1/2", "1/2"),
        ("0", 1),
        ("1", "1/2"),
        ("3/2", "1/2"),
        ("2", "1/2"),
        ("5/2", "1/2"),
        ("3", "3/2"),
        ("9/2", "3/2"),
    ]
    keys = play(tune, tempo=150, start=2.0, jitter=0.01)
    assert written(keys, Metre(6, 8), BeatMap.steady(150, 2.0)) == as_written(tune)


def test_staccato_throughout_is_written_as_full_lengths_and_a_real_rest_as_a_rest():
    crotchets = [(str(beat), 1) for beat in range(16)]
    assert written(play(crotchets, held=0.4)) == as_written(crotchets)
    resting = [("0", 1), ("1", 1), ("2", 1), ("4", 1), ("5", 1), ("6", 1), ("8", 2), ("12", 1)]
    assert written(play(resting))[:-1] == as_written(resting)[:-1]


def test_overlapping_notes_end_where_the_next_begins():
    assert written(play(TUNE, held=1.1)) == as_written(TUNE)


def test_a_grace_note_is_written_nowhere():
    keys = play(TUNE)
    grace = KeyPress(keys[4].on - 0.07, keys[4].on - 0.01, keys[4].midi - 1)
    reading = quantise(sorted([*keys, grace], key=lambda key: key.on), BeatMap.steady(120, 1.0))
    assert [note.key for note in reading.notes if note.beat is None] == [grace]


def test_a_key_that_bounces_is_struck_once_and_of_an_octave_the_upper_note_is_the_melody():
    keys = [KeyPress(1.0, 1.03, 60), KeyPress(1.05, 1.4, 60), KeyPress(1.5, 1.9, 64), KeyPress(1.512, 1.9, 52)]
    first = without_repeats(keys, 0.075)[0]
    assert (first.on, first.off) == (1.0, 1.4)
    assert [key.midi for key in top_line(keys, again=0.075, spread=0.035)] == [60, 64]
    assert [len(group) for group in together(keys[2:], 0.035)] == [2]


def test_a_short_note_just_before_the_next_is_no_part_of_a_chord():
    # a swung semiquaver, early by a hair, before a long note: let go when the long one goes down
    keys = [KeyPress(1.0, 1.05, 60), KeyPress(1.03, 1.6, 64), KeyPress(2.0, 2.05, 62), KeyPress(2.06, 2.5, 62)]
    assert top_line(keys, again=0.05, spread=0.035) == keys


def test_a_short_note_that_comes_in_every_bar_is_written_and_no_grace_note():
    bar = [("0", "1/2"), ("1/2", "1/2"), ("1", 1), ("2", 1), ("3", "3/4"), ("15/4", "1/4")]
    tune = [(str(4 * k + F(beat)), length) for k in range(8) for beat, length in bar]
    keys = [KeyPress(key.on, key.off, 60 + (k + 1) % 6) for k, key in enumerate(play(tune, jitter=0.012))]
    assert written(keys)[:-1] == as_written(tune)[:-1]


def test_a_held_pedal_holds_the_notes():
    heard = [Heard(0, 0xB0, 64, 127), Heard(0.1, 0x90, 60, 70), Heard(0.2, 0x80, 60, 0), Heard(1, 0xB0, 64, 0)]
    assert [key.off for key in keys_of(heard)] == [1]
    assert [key.off for key in keys_of(heard, pedal=False)] == [0.2]


def test_a_long_silence_and_stray_notes_lose_nothing():
    tune = [("0", 1), ("1", 1), ("400", 1), ("401", 1)]
    assert [beat for beat, _ in written(play(tune))] == [0, 1, 400, 401]


def test_nothing_played_is_nothing_written():
    assert written([]) == []


def test_divisions_of_a_beat():
    assert [division(places) for places in ((0,), (0, 12), (0, 18), (0, 8, 16), (0, 6, 8))] == [1, 2, 4, 3, 0]


def test_a_recording_without_a_click_shows_its_beats():
    keys = play(TUNE, tempo=140, ratio=1.7, start=3.3, jitter=0.008)
    beats = find_beats(keys)
    assert beats.tempo(0) == pytest.approx(140, rel=0.02)
    assert written(keys, beats=beats) == as_written(TUNE)


def test_the_built_in_players_melody_comes_back_as_its_chart(stand):
    form = stand.tune().unfold()
    played = simulate(form, "melody", manner=replace(manners()["clean"], drift=0.0), seed=5)
    beats = BeatMap.steady(form.tempo, 1.0 + 8 * 60 / form.tempo)
    found = captured_chart(Pass(tuple(keys_of(played.heard)), beats), None, KnownTune(key=(0, False))).chart.unfold()
    assert [(n.beat, n.pitch) for n in found.melody] == [(n.beat, n.pitch) for n in form.melody]
    assert sum(a.length == b.length for a, b in zip(found.melody, form.melody, strict=True)) >= 0.95 * len(form.melody)


# The search by hand

COSTS = preferences(CapturePreferences)


def search(
    *onsets: float, metre: Metre | None = None, feel: str | None = None, pitches: tuple[int, ...] = ()
) -> _Search:
    """Of keys at so many beats, half a second each."""
    keys = [
        KeyPress(beat / 2, beat / 2 + 0.1, pitch)
        for beat, pitch in itertools.zip_longest(onsets, pitches, fillvalue=60)
    ]
    return _Search(keys, list(onsets), [0.5] * len(onsets), metre or Metre(), feel, False, COSTS)


def state(looking: _Search, **more: object) -> _PartialReading:
    return replace(looking.starts[0], **more)  # type: ignore[arg-type]


def test_a_reading_goes_on_by_the_random_walk_of_its_beat():
    """With the click 97 % of the distance from it is left after a beat; the length of a beat is the map's own."""
    looking = search(0.0, 1.0)
    before = state(looking, pulse=3, t=3.1, p=1.02, tt=0.01, tp=0.002, tb=0.001, pp=0.004, pb=0.0005, bb=0.02)
    after = _onward(before)
    wander = (0.007 / 0.5) ** 2
    assert (after.pulse, after.t, after.p, after.b) == (
        4,
        pytest.approx(4 + 0.97 * 0.1 + 0.02),
        pytest.approx(1.02),
        before.b,
    )
    assert (after.tt, after.tp, after.tb) == (
        pytest.approx(0.97**2 * 0.01 + 2 * 0.97 * 0.002 + 0.004 + wander),
        pytest.approx(0.97 * 0.002 + 0.004),
        pytest.approx(0.97 * 0.001 + 0.0005),
    )
    assert (after.pp, after.pb, after.bb) == (pytest.approx(0.004), pytest.approx(0.0005), 0.02)
    assert _onward(before, 2) == _onward(after)
    free = next(one for one in looking.starts if one.manner.way.free)
    later = _onward(replace(free, pulse=3, t=3.1, p=1.02, pp=0.004, tp=0.002, pb=0.0005))
    assert (later.t, later.p) == (pytest.approx(4.12), pytest.approx(1 + 0.99 * 0.02))
    assert (later.pp, later.tp, later.pb) == (
        pytest.approx(0.99**2 * 0.004 + 0.004**2), pytest.approx(0.99 * (0.002 + 0.004)), pytest.approx(0.99 * 0.0005)
    )  # fmt: skip


def test_an_onset_is_one_step_of_the_kalman_filter_over_beat_tempo_and_swing():
    looking = search(0.0, 1.0)
    before = state(looking, cost=1.0, t=2.0, p=1.0, b=0.1, tt=0.01, tp=0.002, tb=0.001, pp=0.004, pb=0.0005, bb=0.02)
    noise = 0.002
    after = looking._measured(before, 1, 2.7, noise, 0.5, 1.0)
    assert after is not None
    ht, hp, hb = 0.01 + 0.001 + 0.001, 0.002 + 0.002 + 0.0005, 0.001 + 0.00025 + 0.02
    variance, miss = ht + 0.5 * hp + hb + noise, 0.1
    assert (after.miss, after.spread) == (pytest.approx(miss), pytest.approx(variance**0.5))
    even = (0.018 / 0.5) ** 2 + min(0.025, 0.009 / 0.5) ** 2
    assert after.cost == pytest.approx(1.0 + 0.5 * miss**2 / variance + 0.5 * log(variance / even))
    assert (after.t, after.p, after.b) == tuple(
        pytest.approx(mean + gain / variance * miss) for mean, gain in ((2.0, ht), (1.0, hp), (0.1, hb))
    )
    moments = (after.tt, after.tp, after.tb, after.pp, after.pb, after.bb)
    before_it = (0.01, 0.002, 0.001, 0.004, 0.0005, 0.02)
    pairs = ((ht, ht), (ht, hp), (ht, hb), (hp, hp), (hp, hb), (hb, hb))
    assert moments == tuple(pytest.approx(m - a * b / variance) for m, (a, b) in zip(before_it, pairs, strict=True))


@pytest.mark.parametrize(("miss", "kept"), [(3.59, True), (3.61, False), (-3.59, True)])
def test_no_onset_is_further_from_its_place_than_three_and_a_half_deviations(miss, kept):
    looking = search(0.0, 1.0)
    before = state(looking, t=2.0, p=1.0, b=0.0, tt=0.009, tp=0.0, tb=0.0, pp=0.0, pb=0.0, bb=0.0)
    found = looking._measured(before, 1, 2.0 + miss * 0.1, 0.001, 0.0, 0.0)
    assert (found is not None) == kept
    if found is not None:
        even = looking.even_noise
        assert found.cost - before.cost == pytest.approx(0.5 * miss**2 + 0.5 * log(0.01 / even))


@pytest.mark.parametrize(("late", "kept"), [(-0.02, False), (0.0, True), (0.2, True), (0.22, False)])
def test_a_swung_quaver_is_no_earlier_than_half_way_and_no_later_than_five_to_two(late, kept):
    looking = search(0.0, 1.0, feel="swing")
    before = state(looking, t=2.0, p=1.0, b=0.1, tt=0.0, tp=0.0, tb=0.0, pp=0.0, pb=0.0, bb=1.0)
    found = looking._measured(before, 1, 2.5 + late, 1e-6, 0.5, 1.0)
    assert (found is not None) == kept


@pytest.mark.parametrize(
    ("place", "swings", "bends", "found"),
    [
        (0, True, True, ((0.0, False),)),
        (12, False, False, ((0.0, False),)),
        (12, True, True, ((1.0, False),)),
        (12, True, False, ((1.0, False), (0.0, True))),
        (8, True, True, ((0.0, False),)),
        (16, True, False, ((0.0, False),)),
        (6, True, True, ((0.5, False),)),
        (18, True, True, ((0.5, False),)),
        (21, True, True, ((0.25, False),)),
        (6, True, False, ((0.0, False),)),
    ],
)
def test_semiquavers_share_the_swing_by_half_or_stay_as_they_are_and_triplets_stay(place, swings, bends, found):
    assert _lateness_at(place, swings, bends) == found


@pytest.mark.parametrize(
    ("onsets", "pitches", "counts"),
    [
        ((0.0, 0.28), (60, 61), [0, 1]),  # 140 ms before, a semitone away
        ((0.0, 0.29), (60, 61), [0, 0]),
        ((0.0, 0.1), (60, 62), [0, 1]),
        ((0.0, 0.1), (60, 63), [0, 0]),
        ((0.0, 0.1), (60, 60), [0, 0]),
        ((0.0, 0.1, 0.2), (65, 62, 61), [0, 0, 2]),  # one further step of a minor third
        ((0.0, 0.1, 0.2, 0.3, 0.4), (60, 61, 62, 63, 64), [0, 1, 2, 3, 3]),
        ((0.0, 0.28, 0.56, 0.84), (60, 61, 62, 63), [0, 1, 2, 3]),
        ((0.0, 0.28, 0.57), (60, 61, 62), [0, 1, 0]),
    ],
)
def test_short_steps_close_before_a_note_may_be_its_grace_notes(onsets, pitches, counts):
    assert search(*onsets, pitches=pitches).graces == counts


def test_the_feels_that_are_tried_and_what_they_cost():
    def feels(**more):
        looking = search(0.0, 1.0, **more)
        ways = [one.manner.way for one in looking.starts]
        return [
            (s.manner.swings, s.manner.bends, s.cost, round(s.b, 4)) for s in looking.starts if s.manner.way is ways[0]
        ]

    half = 0.1667  # 2 : 1 at 120
    assert feels() == [(False, False, 4.0, 0.0), (True, True, 0.0, half), (True, False, 8.0, half)]
    assert feels(feel="swing") == [(True, True, 0.0, half), (True, False, 8.0, half)]
    assert feels(feel="straight") == [(False, False, 4.0, 0.0)]
    assert feels(metre=Metre(6, 8)) == [(False, False, 0.0, 0.0)]
    assert len(search(0.0).ways) == 3 and [way.cost for way in search(0.0).ways] == [0.0, 0.0, 5.0]


@pytest.mark.parametrize(("span", "ratio"), [(0.2, 1.25), (60 / 250, 1.4), (0.5, 2.0), (1.2, 2.0)])
def test_how_late_the_off_beat_is_likely_to_be_at_a_tempo(span, ratio):
    """By feels.toml, but five to four at least and two to one at most."""
    late, spread = search(0.0)._lateness(span)
    assert late == pytest.approx(ratio / (ratio + 1) - 0.5, abs=1e-3) and spread == 0.03


def test_the_best_readings_are_kept_and_of_each_feel_a_few_that_are_far_behind():
    looking = search(0.0, 1.0)
    manners = {one.manner.number: one.manner for one in looking.starts}

    def kept(costs, number=0):
        states = [state(looking, cost=cost, manner=manners[number]) for cost in costs]
        return [one.cost for one in looking._kept([state(looking, cost=0.0), *states])]

    assert len(kept([0.01 * n for n in range(80)])) == 64
    assert kept([15.9, 15.95, 16.1]) == [0.0, 15.9, 15.95]
    assert kept([16.1, 16.2, 16.3]) == [0.0, 16.1], "two of each feel"
    assert kept([39.9, 39.95, 39.96, 40.1], 1) == [0.0, 39.9, 39.95]
    assert kept([40.1], 1) == [0.0]


def test_a_beat_that_begins_anew_is_where_the_map_has_it():
    looking = search(0.0, 7.3, 9.8, 12.6, 15.2, 16.25)
    before = state(looking, cost=2.0, onset=0, pulse=4, place=12, places=(0, 12), b=0.12, bb=0.3)
    for onset, pulse, place, t in (
        (1, 7, 12, 7.3 - 0.5),
        (2, 10, 0, 9.8),
        (3, 12, 12, 12.1),
        (4, 15, 0, 15.2),
        (5, 16, 12, 15.75),
    ):
        found = looking._anew(before, onset)
        assert (found.cost, found.onset, found.pulse, found.place, found.places) == (
            22.0,
            onset,
            pulse,
            place,
            (place,),
        )
        assert (found.t, found.b, found.bb, found.tt, found.tp) == (
            pytest.approx(t),
            0.12,
            0.3,
            looking.noise[onset],
            0.0,
        )
        assert found.before is before
    late = looking._anew(replace(before, pulse=20), 2)
    assert (late.pulse, late.place) == (21, 0), "never before a beat that has been read"


def test_notes_of_a_phrase_that_comes_again_are_heard_together():
    """Five notes, a bar later the same: each is at the mean of both, and surer by half, but for a tenth of its own."""
    beats = [0.0, 1.0, 1.5, 2.0, 3.0]
    onsets = [*beats, *(4.1 + beat for beat in beats)]
    looking = search(*onsets, pitches=(60, 64, 67, 65, 62) * 2)
    noise = looking.noise[0]
    path = [
        state(looking, onset=n, pulse=int(beat), place=0, t=float(int(beat)), p=1.0) for n, beat in enumerate(onsets)
    ]
    looking.listen_again(path, 5)
    assert looking.times == pytest.approx([*(beat + 0.05 for beat in beats), *(4.05 + beat for beat in beats)])
    assert looking.noise == pytest.approx([noise * 0.6 / 1.1] * 10)
    other = search(*onsets, pitches=(60, 64, 67, 65, 62, 60, 64, 67, 65, 63))
    other.listen_again(path, 5)
    assert other.times == onsets
    far = search(*beats, *(4.2 + beat for beat in beats), pitches=(60, 64, 67, 65, 62) * 2)
    far.listen_again(path, 5)
    assert far.times == pytest.approx([*beats, *(4.2 + beat for beat in beats)]), "a fifth of a beat apart is too far"


def test_quavers_swing_from_more_than_eight_to_seven_on():
    assert [Quantisation((), ratio, ()).swung for ratio in (1.0, 1.15, 1.16)] == [False, False, True]


def test_the_ways_to_keep_a_beat_as_capture_toml_has_them_at_half_a_second_a_beat():
    click, free, loose = search(0.0).ways
    assert (click.keep, click.tempo, click.drift, click.back) == (0.97, 0.0, 0.0, 1.0)
    assert (click.start, click.beat) == (pytest.approx(0.06**2), pytest.approx(0.014**2))
    assert (free.keep, free.back, loose.back) == (1.0, 0.99, 1.0)
    assert (free.start, free.tempo, free.beat, free.drift) == tuple(
        pytest.approx(x**2) for x in (0.12, 0.03, 0.02, 0.004)
    )
    assert (loose.start, loose.tempo, loose.beat, loose.drift) == tuple(
        pytest.approx(x**2) for x in (0.12, 0.03, 0.012, 0.012)
    )
    assert [way.free for way in (click, free, loose)] == [False, True, True]
    keys = [KeyPress(0.0, 0.1, 60)]
    assert len(_Search(keys, [0.0], [0.5], Metre(), None, True, COSTS).ways) == 1, "with the click alone"


@pytest.mark.parametrize(("onset", "first"), [(0.0, -1), (0.49, -1), (0.5, 0), (1.4, 0), (3.2, 2)])
def test_a_reading_begins_half_a_beat_before_the_first_onset_the_surer_the_nearer_to_beat_0(onset, first):
    starts = search(onset).starts
    for one in starts:
        assert (one.cost, one.onset, one.pulse, one.place, one.t, one.p) == (one.cost, -1, first, -1, first, 1.0)
        assert (one.places, one.even, one.owed, one.before) == ((), False, "", None)
        assert (one.tb, one.pb, one.bb) == (0.0, 0.0, pytest.approx(0.03**2 if one.manner.swings else 0.012**2))
    click, free = starts[0], starts[3]
    assert (click.tt, click.tp, click.pp) == (pytest.approx(0.0036), 0.0, 0.0)
    assert (free.tt, free.tp, free.pp) == (
        pytest.approx(0.0144 + 0.0009 * first**2), pytest.approx(0.0009 * first), pytest.approx(0.0009)
    )  # fmt: skip
    assert [one.manner.number for one in starts] == list(range(9))
    assert [one.cost for one in starts] == [4, 0, 8, 4, 0, 8, 9, 5, 13]


@pytest.mark.parametrize(("span", "uneven"), [(0.3, 0.025), (0.36, 0.025), (0.5, 0.018), (0.9, 0.01)])
def test_an_onset_is_as_unsure_as_a_finger_and_a_beat_that_is_never_off_by_more_than_nine_milliseconds(span, uneven):
    looking = _Search([KeyPress(0.0, 0.1, 60)], [0.0], [span], Metre(), None, False, COSTS)
    assert looking.noise == [pytest.approx((0.018 / span) ** 2 + uneven**2)]
    two = _Search([KeyPress(0.0, 0.1, 60)] * 2, [0.0, 1.0], [span, 0.2], Metre(), None, False, COSTS)
    assert two.even_noise == two.noise[0]
    assert two.latest == pytest.approx(2.5 / 3.5 - 0.5) and two.grace_costs == (4.0, 5.8)


def test_two_places_of_a_bar_are_apart_by_the_shorter_way_round():
    four, six = search(0.0), search(0.0, metre=Metre(6, 8))
    assert (four.bar, six.bar) == (4, 2)
    found = [four._apart(*both) for both in ((0.5, 0.25), (0.1, 3.9), (3.9, 0.1), (7.75, 0.5), (2.0, 0.0), (0.0, 2.0))]
    assert found == pytest.approx([0.25, 0.2, -0.2, -0.75, -2.0, -2.0])
    assert six._apart(1.9, 0.0) == pytest.approx(-0.1)


def test_the_places_of_a_beat_after_those_that_have_an_onset():
    """Halves, quarters, eighths, thirds and sixths, in 24ths: with a third no quarter is any more."""
    assert [place for place, _, _ in _places_after(())] == [0, 3, 4, 6, 8, 9, 12, 15, 16, 18, 20, 21]
    assert [place for place, _, _ in _places_after((0, 12))] == [15, 16, 18, 20, 21]
    assert [place for place, _, _ in _places_after((3,))] == [6, 9, 12, 15, 18, 21]
    assert _places_after((0, 8)) == (
        (12, 0.5, (0, 8, 12)), (16, pytest.approx(2 / 3), (0, 8, 16)), (20, pytest.approx(5 / 6), (0, 8, 20))
    )  # fmt: skip
    assert [_bend(place) for place in (0, 6, 12, 18, 21)] == [0.0, 0.5, 1.0, 0.5, 0.25]


def test_all_readings_cost_too_much_when_none_that_is_left_costs_less():
    looking = search(0.0, 1.0)
    at = {cost: state(looking, cost=cost) for cost in (1.0, 2.0, 3.0)}
    assert not looking._beyond([], [], 0.5)
    assert looking._beyond([at[2.0]], [], 1.9) and not looking._beyond([at[2.0]], [], 2.0)
    assert not looking._beyond([at[2.0]], [{0: at[3.0], 1: at[1.0]}], 1.5), "for one of them it was a grace note"
    assert looking._beyond([at[2.0]], [{0: at[3.0]}, {}], 1.5)
    assert not looking._beyond([at[2.0]], [{}, {0: at[1.0]}], 1.0)


def read(looking: _Search, path: list[_PartialReading], *, scale: float = 1.0) -> Quantisation:
    beats = BeatMap.steady(120.0, 1.0)
    return _reading(looking.keys, looking.times, [0.5] * len(looking.keys), path, beats, scale)


def test_what_is_told_of_the_reading_that_is_found():
    looking = search(0.0, 0.9, 1.0, 2.5)
    path = [
        state(looking, onset=0, pulse=0, place=0, t=0.1, miss=0.02, spread=0.1),
        state(looking, onset=2, pulse=1, place=0, t=1.0, miss=-0.06, spread=0.2),
        state(looking, onset=3, pulse=2, place=12, t=2.2, b=0.1, miss=0.0, spread=0.1),
    ]
    found = read(looking, path)
    assert [note.beat for note in found.notes] == [0, None, 1, F(5, 2)]
    assert [note.off for note in found.notes] == pytest.approx([0.01, 0.0, -0.03, 0.0])
    assert [note.doubt for note in found.notes] == pytest.approx([0.2, 0.0, 0.3, 0.0])
    assert found.pulses == (
        (0.0, pytest.approx(1.05)), (1.0, pytest.approx(1.5)), (2.0, pytest.approx(2.1))
    ) and found.ratio == 1.0, "it doesn't swing"  # fmt: skip
    swinging = next(one.manner for one in looking.starts if one.manner.swings)
    assert read(looking, [replace(one, manner=swinging) for one in path]).ratio == pytest.approx(1.5)
    dotted = read(looking, path, scale=1.5)
    assert [note.beat for note in dotted.notes] == [0, None, F(3, 2), F(15, 4)]
    assert dotted.pulses[2] == (3.0, pytest.approx(1.0 + 2.2 * 1.5 / 2))
    told = BeatMap.steady(120.0, 1.0).points
    assert read(looking, path[:1]).pulses == told, "one beat is no tempo"
    assert read(looking, [path[0], replace(path[1], t=0.1)]).pulses == told, "two at one moment are none"
    assert len(read(looking, path[:2]).pulses) == 2


@pytest.mark.parametrize(
    ("skipped", "free", "cost"), [(0, 0, 0.0), (1, 0, 4.5), (2, 0, 1.4 * 4.5), (3, 0, 1.8 * 4.5), (1, 3, 6.3)]
)
def test_grace_notes_before_a_note_cost_less_each_and_more_without_the_click(skipped, free, cost):
    looking = search(0.0, 1.85, 1.9, 1.95, 2.0, pitches=(60, 61, 62, 63, 64))
    assert looking.graces[-1] == 3
    divisions = {1: 0.4, 2: 1.2, 4: 4.2, 8: 9.0, 3: 4.2, 6: 8.0}
    looking.run(divisions, looking.ways[0], grace=0.5)
    before = replace(looking.starts[free], cost=0.0, onset=3 - skipped, pulse=0, place=0, places=(0,), t=0.0)
    reached = [{} for _ in looking.keys]
    looking._extend(before, reached)
    new = next(one for one in reached[4].values() if (one.pulse, one.place) == (2, 0))
    alone = next(one for one in looking._placings(before, 4) if (one.pulse, one.place) == (2, 0))
    assert new.cost - alone.cost == pytest.approx(cost)
    assert new.before is before


def test_a_note_on_another_beat_than_the_first_of_a_bar_costs_a_little():
    looking = search(0.0, 4.0)
    looking.run({1: 0.4, 2: 1.2, 4: 4.2, 8: 9.0, 3: 4.2, 6: 8.0}, looking.ways[0])

    def cost(pulse, place=0):
        before = state(looking, cost=0.0, onset=0, pulse=pulse, t=4.0 - place / 24, p=1.0)
        return next(one.cost for one in looking._within(before, 1, 4.0, 0.01, 0.2) if one.place == place)

    assert [cost(pulse) - cost(4) for pulse in (0, 5, 6, 7, 8)] == pytest.approx([0, 0.15, 0.15, 0.15, 0])
    assert cost(5, 12) == pytest.approx(cost(4, 12)), "between two beats nothing"


def test_of_nothing_played_the_beat_is_the_maps_and_nothing_swings():
    told = BeatMap.steady(97.0, 2.0)
    nothing = quantise([], told)
    assert (nothing.notes, nothing.ratio, nothing.pulses) == ((), 1.0, told.points)
