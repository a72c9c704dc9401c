"""Played notes come back as they are written: beats, lengths, swing, triplets, pickups, ornaments."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from companion.messages import Heard
from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.music.swing import straight_quarters, to_sounding
from companion.pianist.player import manners, simulate
from companion.transcribe.captured import KnownTune, Pass, captured_chart
from companion.transcribe.lengths import notes_with_lengths
from companion.transcribe.playing import keys_of, together, top_line, without_repeats
from companion.transcribe.quantise import quantise
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
