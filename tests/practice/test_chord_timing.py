"""Chords late and early, from chords of which everything is known."""

from __future__ import annotations

import random

import pytest

from companion.music.played import BeatMap
from companion.practice.alignment import Alignment
from companion.practice.chord_timing import OffChord, off_chords, struck_chords
from companion.practice.judging import JudgedNote
from companion.practice.onsets import SweepTiming
from companion.practice.sweeps import Sweep
from companion.practice.timing import chord_findings
from companion.preferences import preferences
from companion.preferences.review import ReviewPreferences
from tests.practice.test_alignment import form

QUARTER, SWUNG = 0.5, 0.62
BEATS = BeatMap.steady(60 / QUARTER, 1.0)
PLACES = (0.0, 1.62, 4.0, 6.0, 8.0, 10.62)


def chords(
    *off: tuple[int, float], seed: int = 1, places: tuple[float, ...] = PLACES, roll: float = 0.0
) -> list[JudgedNote]:
    """Chords of three notes over 36 bars; some, by their number, off by so many seconds."""
    dice = random.Random(seed)
    late = dict(off)
    found = []
    for n in range(12 * len(places)):
        beat = 12.0 * (n // len(places)) + places[n % len(places)]
        for k, pitch in enumerate((53, 57, 60)):
            at = BEATS.seconds(beat) + late.get(n, 0.0) + k * roll + dice.gauss(0, 0.008)
            found.append(JudgedNote("right", beat, None, pitch, at, None, "chords"))
    return found


def told(notes: list[JudgedNote]) -> list[OffChord]:
    return off_chords(struck_chords(notes), [BEATS], SWUNG, 4.0, 60.0)


@pytest.mark.parametrize("seed", range(5))
def test_a_chord_late_by_120_ms_is_told_where_it_was_due(seed: int) -> None:
    (one,) = told(chords((20, 0.12), seed=seed))
    assert one.late_ms == pytest.approx(120, abs=25)
    assert one.beat == pytest.approx(36 + PLACES[2], abs=0.06)


def test_a_chord_that_comes_early_is_told() -> None:
    (one,) = told(chords((20, -0.08)))
    assert one.late_ms == pytest.approx(-80, abs=25)


def test_of_a_rhythm_that_comes_back_in_each_bar_a_late_chord_is_no_early_one() -> None:
    on_two, late = (0.0, 2.62, 6.62, 10.62), 20
    (one,) = told(chords((late, 0.16), places=on_two))
    assert one.late_ms == pytest.approx(160, abs=25)
    assert one.beat == pytest.approx(60.0, abs=0.06)


def test_the_last_chord_is_late_where_a_note_after_it_is_in_time() -> None:
    struck = struck_chords(chords((71, 0.1)))
    assert not off_chords(struck, [BEATS], SWUNG, 4.0, 60.0)
    (one,) = off_chords(struck, [BEATS], SWUNG, 4.0, 60.0, notes=[[143.0, 144.0]])
    assert one.late_ms == pytest.approx(100, abs=25)


@pytest.mark.parametrize(("held", "many"), [((), 1), (((41.0, 0.9),), 0)])
def test_of_a_chord_in_a_hesitation_nobody_knows_whether_it_is_late(
    held: tuple[tuple[float, float], ...], many: int
) -> None:
    notes = tuple(chords((20, 0.14)))  # due on beat 40
    beats = tuple((float(n), BEATS.seconds(n)) for n in range(145))
    sweep = Sweep(0.0, 144.0, beats, held)
    alignment = Alignment((notes,), (sweep,), ())
    timing = [SweepTiming((), BEATS, False)]
    found = chord_findings(form("ferry-without-lights"), alignment, timing, preferences(ReviewPreferences))
    assert len(found) == many


def test_of_good_comping_nothing_is_told() -> None:
    assert not [one for seed in range(20) for one in told(chords(seed=seed))]


def test_a_triplet_that_is_played_again_and_again_is_no_fault() -> None:
    assert not told(chords(places=(0.0, 2.0 + 1 / 3, 4.0, 6.0 + 1 / 3, 8.0)))


def test_rolled_chords_are_on_time_with_their_first_note() -> None:
    assert not told(chords(roll=0.035))


def test_a_single_key_is_no_chord_and_few_chords_tell_nothing() -> None:
    late = chords((3, 0.12))
    assert not told([note for note in late if note.pitch == 53])
    assert not told(late[:15])


def test_chords_that_are_written_are_late_by_the_players_own_beat() -> None:
    notes = [
        JudgedNote("right", 4.0 * n, pitch, pitch, 1.0 + 2.0 * n, 120.0 if n == 5 else 4.0, "chords")
        for n in range(12)
        for pitch in (53, 57, 60)
    ]
    (one,) = told(notes)
    assert one.late_ms == 120.0
