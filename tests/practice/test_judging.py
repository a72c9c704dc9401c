"""What a right note is: planted faults are found at their notes, and good playing has none."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest

from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.music.played import BeatMap
from companion.music.swing import straight_quarters, to_sounding
from companion.practice.judging import Judgement, Struck, judge
from companion.resources import chart_path

TEMPO = 120.0
BEATS = BeatMap(tuple((float(beat), beat * 60 / TEMPO) for beat in range(129)))


@pytest.fixture(scope="module")
def form() -> Form:
    return load(chart_path("ferry-without-lights")).unfold()


def played(form: Form, ratio: float = 1.5, touch: float = 0.008, seed: int = 1) -> list[Struck]:
    """The melody, once through, as a good player strikes it."""
    rng = random.Random(seed)
    even = straight_quarters(note.beat for note in form.melody)
    notes = [(to_sounding(note.beat, ratio, even), note.pitch.midi) for note in form.melody]
    return [Struck(beat * 60 / TEMPO + rng.gauss(0, touch), midi) for beat, midi in notes]


def kinds(judgement: Judgement) -> Counter[str]:
    return Counter(note.kind for note in judgement.notes if not note.forgiven)


def of_melody(form: Form, notes: list[Struck], **more: float) -> Judgement:
    return judge(form, {"melody"}, notes, BEATS, low=-4.0, high=float(form.length), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.2])
def test_a_good_player_has_every_note_right_however_they_swing(form: Form, ratio: float) -> None:
    judgement = of_melody(form, played(form, ratio))
    assert kinds(judgement) == {"right": len(form.melody)}
    assert max(abs(note.deviation_ms or 0) for note in judgement.notes) < 45


def test_each_planted_fault_is_found_where_it_was_planted(form: Form) -> None:
    rng = random.Random(3)
    for _ in range(30):
        notes = played(form, seed=rng.randrange(999))
        wrong, missing = rng.sample(range(2, len(notes) - 2), 2)
        gone = form.melody[missing]
        sharp = form.melody[wrong]
        notes[wrong] = replace(notes[wrong], pitch=notes[wrong].pitch + 1)
        del notes[missing]
        judgement = of_melody(form, notes)
        faults = {(note.kind, note.chart_beat) for note in judgement.notes if note.kind != "right"}
        assert faults == {("wrong", float(sharp.beat)), ("missing", float(gone.beat))}


def test_a_late_note_is_late_by_as_much_and_the_others_are_not(form: Form) -> None:
    notes = played(form, touch=0.004)
    notes[10] = replace(notes[10], seconds=notes[10].seconds + 0.12)
    late = {note.chart_beat: note.deviation_ms or 0.0 for note in of_melody(form, notes).notes}
    beat = float(form.melody[10].beat)
    assert late.pop(beat) == pytest.approx(120, abs=30)
    assert max(abs(off) for off in late.values()) < 45


def test_a_hesitation_shifts_what_follows_without_a_fault_in_every_note(form: Form) -> None:
    notes = played(form)
    notes = [*notes[:20], *(replace(note, seconds=note.seconds + 0.9) for note in notes[20:])]
    assert kinds(of_melody(form, notes)) == {"right": len(form.melody)}


def test_a_player_who_lies_behind_the_click_is_late_against_it_and_not_against_their_own_beat(form: Form) -> None:
    notes = [replace(note, seconds=note.seconds + 0.06) for note in played(form)]
    own = [note.deviation_ms or 0.0 for note in of_melody(form, notes).notes]
    clicked = judge(form, {"melody"}, notes, BEATS, own_beat=False, low=-4.0, high=float(form.length))
    against = [note.deviation_ms or 0.0 for note in clicked.notes]
    assert abs(sum(own) / len(own)) < 10
    assert 35 < sum(against) / len(against) < 65  # off-beat quavers have some room, so less than the whole


def test_a_tune_an_octave_higher_is_right(form: Form) -> None:
    notes = [replace(note, pitch=note.pitch + 12) for note in played(form)]
    assert kinds(of_melody(form, notes)) == {"right": len(form.melody)}


def test_grace_notes_and_doubled_octaves_are_forgiven_and_other_notes_are_too_many(form: Form) -> None:
    notes = played(form)
    graced = sorted([*notes, replace(notes[8], seconds=notes[8].seconds - 0.09, pitch=notes[8].pitch - 1)],
                    key=lambda note: note.seconds)  # fmt: skip
    assert kinds(of_melody(form, graced)) == {"right": len(form.melody)}
    doubled = sorted([*notes, replace(notes[8], pitch=notes[8].pitch - 12)], key=lambda note: note.seconds)
    assert kinds(of_melody(form, doubled))["extra"] == 0
    between = (notes[8].seconds + notes[9].seconds) / 2
    more = sorted([*notes, Struck(between, notes[8].pitch + 5)], key=lambda note: note.seconds)
    assert kinds(of_melody(form, more))["extra"] == 1


def test_a_finger_that_catches_two_keys_strikes_one_too_many(form: Form) -> None:
    notes = played(form)
    caught = [Struck(notes[20].seconds - by, notes[20].pitch - 1) for by in (0.010, 0.060)]
    assert [kinds(of_melody(form, [*notes, key]))["extra"] for key in caught] == [1, 0], "the other is its ornament"


def test_a_key_that_bounces_is_one_note(form: Form) -> None:
    notes = played(form)
    notes = sorted([*notes, replace(notes[5], seconds=notes[5].seconds + 0.03)], key=lambda note: note.seconds)
    assert kinds(of_melody(form, notes)) == {"right": len(form.melody)}


def test_the_other_hands_notes_are_no_faults_of_the_melody(form: Form) -> None:
    low = [Struck(beat * 60 / TEMPO, 40) for beat in range(32)]
    notes = sorted([*played(form), *low], key=lambda note: note.seconds)
    assert kinds(of_melody(form, notes)) == {"right": len(form.melody)}


def test_nothing_played_is_everything_missing(form: Form) -> None:
    assert kinds(of_melody(form, [])) == {"missing": len(form.melody)}


CHORDS = parse_toml("""
format = 1
title = "Two Chords"
key = "C major"
form = "A"

[section.A]
chords = "| Dm7 | G7 | Cmaj7 | C6 |"
""").unfold()
FOUR_BARS = BeatMap(tuple((float(beat), beat * 0.5) for beat in range(17)))


def test_free_chords_are_held_against_the_chord_of_their_moment() -> None:
    # Rootless voicings from the third (F A C E over Dm7, F A B E over G7, E G B D over Cmaj7): common practice.
    voicings = [(0, (53, 57, 60, 64)), (3.5, (53, 57, 59, 64)), (8, (52, 55, 59, 62)), (12, (52, 55, 57, 62))]
    notes = [Struck(beat * 0.5, midi) for beat, chord in voicings for midi in chord]
    assert kinds(judge(CHORDS, {"chords"}, notes, FOUR_BARS)) == {"right": 16}
    wrong = [replace(note, pitch=54) if note.pitch == 53 and note.seconds == 0 else note for note in notes]
    assert kinds(judge(CHORDS, {"chords"}, wrong, FOUR_BARS)) == {"right": 15, "wrong": 1}


def test_a_bar_in_which_nothing_is_played_is_missing() -> None:
    notes = [Struck(0.0, 53), Struck(0.0, 60), Struck(4.0, 52), Struck(6.0, 52)]
    missing = [note for note in judge(CHORDS, {"chords"}, notes, FOUR_BARS).notes if note.kind == "missing"]
    assert [(note.chart_beat, note.expected) for note in missing] == [(4.0, None)]


def test_a_free_bass_may_approach_by_a_semitone() -> None:
    walk = [38, 41, 45, 44, 43, 47, 50, 49, 48, 52, 55, 54, 53, 52, 50, 47]  # A flat and C sharp lead on
    notes = [Struck(beat * 0.5, midi) for beat, midi in enumerate(walk)]
    assert kinds(judge(CHORDS, {"bass"}, notes, FOUR_BARS)) == {"right": 16}


def test_of_a_solo_nothing_is_missing() -> None:
    assert kinds(judge(CHORDS, {"solo"}, [Struck(1.0, 65)], FOUR_BARS)) == {"right": 1}
