"""Chords late and early, from chords of which everything is known."""

from __future__ import annotations

import math
import random

import pytest

from companion.messages import Part
from companion.music.played import BeatMap
from companion.practice.alignment import Alignment
from companion.practice.chord_timing import (
    OffChord,
    TakeChord,
    _delay,
    _in_use,
    _known_around,
    _likelihood,
    _place_of,
    _sides,
    _spread,
    _usual_places,
    off_chords,
    struck_chords,
)
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


# A hand that wobbles the same way each time; one chord is off by so many milliseconds

WOBBLE = (0, 6, -4, 2, -6, 4, -2, 1)


def wobbling(
    off: int, number: int = 20, *, sure: float = 4.0, least: float = 60.0, notes: list[list[float]] | None = None
) -> list[tuple[float, float]]:
    """The beats at which a chord was due that is told, and by how many milliseconds it came late."""
    struck = []
    for n in range(12 * len(PLACES)):
        beat = 12.0 * (n // len(PLACES)) + PLACES[n % len(PLACES)]
        for k, pitch in enumerate((53, 57, 60)):
            seconds = BEATS.seconds(beat) + (WOBBLE[(n * 3 + k) % 8] + off * (n == number)) / 1000
            struck.append(JudgedNote("right", beat, None, pitch, seconds, None, "chords"))
    found = off_chords(struck_chords(struck), [BEATS], SWUNG, sure, least, notes=notes or ())
    return [(round(one.beat, 3), one.late_ms) for one in found]


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        (wobbling(64), []), (wobbling(70), [(40.0, 64.0)]), (wobbling(220), [(40.0, 214.0)]), (wobbling(250), []),
        (wobbling(-64), []), (wobbling(-70), [(39.98, -66.0)]), (wobbling(-120), [(39.98, -116.0)]),
        (wobbling(-150), []),  # by as much it is a swung quaver
        (wobbling(50, sure=3.0, least=30.0), [(40.0, 44.0)]),
        (wobbling(70, sure=4.0, least=10.0), [(40.0, 64.0)]), (wobbling(70, sure=7.0, least=10.0), []),
        # The next chord is due on beat 42: late by a third of a beat and more, it is an early one on the swung quaver.
        (wobbling(160, 21), [(42.0, 160.0)]), (wobbling(180, 21), [(42.608, -124.0)]),
        (wobbling(-70, 21), [(41.62, 120.0)]),
    ],
)  # fmt: skip
def test_a_chord_is_late_or_early_from_a_limit_on_and_by_as_much_as_is_likeliest(
    told: list[tuple[float, float]], expected: list[tuple[float, float]]
) -> None:
    assert told == expected


@pytest.mark.parametrize(
    ("number", "notes", "many"),
    [
        (0, None, 0), (1, None, 1), (70, None, 1), (71, None, 0),
        (71, [[142.0, 144.0]], 1), (71, [[142.0, 144.9]], 0), (71, [[141.0]], 0), (0, [[0.5]], 0),
        (0, [[-2.0]], 0), (0, [[-1.75]], 1), (0, [[-1.9]], 0), (0, [[-2.5]], 0), (0, [[0.0]], 1),
    ],
)  # fmt: skip
def test_what_lies_on_both_sides_of_a_chord_within_two_beats_tells_the_beat(
    number: int, notes: list[list[float]] | None, many: int
) -> None:
    assert len(wobbling(100, number, notes=notes)) == many


@pytest.mark.parametrize(("many", "total", "told"), [(3, 24, 0), (2, 24, 2), (5, 72, 5), (6, 72, 0)])
def test_a_place_is_in_use_from_three_chords_and_a_twelfth_of_them_on(many: int, total: int, told: int) -> None:
    """Chords on every other beat, but for a few a triplet later."""
    notes = []
    for n in range(total):
        late = n % (total // many) == 5 and n // (total // many) < many
        beat = 2.0 * n + late / 3
        notes += [JudgedNote("right", beat, None, pitch, BEATS.seconds(beat), None, "chords") for pitch in (53, 57, 60)]
    assert len(off_chords(struck_chords(notes), [BEATS], SWUNG, 4.0, 60.0)) == told


@pytest.mark.parametrize(
    ("keys", "groups"),
    [
        (((1.0, "chords"), (1.044, "chords"), (1.088, "chords")), [3]),
        (((1.0, "chords"), (1.046, "chords")), []),
        (((1.0, "chords"), (1.02, "melody")), [2]),
        (((1.0, "melody"), (1.02, "melody")), []),
        (((1.0, "chords"), (1.0, "bass")), []),
        (((1.0, "chords"), (1.0, "solo"), (1.01, "chords")), [2]),
        (((2.0, "chords"), (1.0, "chords"), (2.01, "chords"), (1.02, "chords")), [2, 2]),
    ],
)
def test_two_keys_make_a_chord_if_one_of_them_is_of_the_chords(
    keys: tuple[tuple[float, Part], ...], groups: list[int]
) -> None:
    notes = [JudgedNote("right", 0.0, None, 60 + n, at, None, part) for n, (at, part) in enumerate(keys)]
    found = struck_chords([*notes, JudgedNote("missing", 0.0, None, None, None, None, "chords")], 3)
    assert [len(chord.notes) for chord in found] == groups
    assert all(chord.sweep == 3 and chord.first == min(n.seconds or 0 for n in chord.notes) for chord in found)
    assert all(chord.last == max(n.seconds or 0 for n in chord.notes) for chord in found)


@pytest.mark.parametrize(("many", "told"), [(5, 0), (6, 1)])
def test_six_chords_tell_where_a_player_puts_them(many: int, told: int) -> None:
    notes = [
        JudgedNote("right", 4.0 * n, pitch, pitch, 1.0 + 2.0 * n, 61.0 * (n == 2), "chords")
        for n in range(many)
        for pitch in (53, 57)
    ]
    assert len(off_chords(struck_chords(notes), [BEATS], SWUNG, 4.0, 60.0)) == told


# By itself: places, delays and likelihoods, in a tempo of half a second a quarter


@pytest.mark.parametrize(
    ("beats", "roll", "delay"),
    [
        (0.1, 0.0, 0.05), (0.1, 0.03, 0.05), (3.1, 0.0, 0.05), (0.6, 0.0, -0.2),
        (-0.1, 0.0, -0.05), (-0.1, 0.03, -0.02), (-0.1, 0.06, 0.0),  # early only in as far as its last note is
    ],
)  # fmt: skip
def test_a_rolled_chord_is_late_by_its_first_note_and_early_by_its_last(
    beats: float, roll: float, delay: float
) -> None:
    assert _delay(beats, QUARTER, roll) == pytest.approx(delay)


def test_a_late_chord_is_three_times_as_likely_as_an_early_one_and_both_the_less_the_farther() -> None:
    assert _likelihood(0.0, math.e) == pytest.approx(1.0)
    assert _likelihood(-0.08, 1.0) == pytest.approx(-0.5)
    assert _likelihood(0.08, 1.0) == pytest.approx(math.log(3.0) - 0.5)
    assert _likelihood(-0.16, 2.0) == pytest.approx(math.log(2.0) - 2.0)


@pytest.mark.parametrize(
    ("beat", "bar", "place"),
    [(5.62, 4.0, 1.625), (3.95, 4.0, 0.0), (3.9, 4.0, 3.875), (7.0, 3.0, 1.0), (2.97, 3.0, 0.0)],
)
def test_places_of_a_bar_are_counted_by_eighths_of_a_beat(beat: float, bar: float, place: float) -> None:
    assert _place_of(beat, bar) == place


@pytest.mark.parametrize(
    ("quarter", "more", "used"),
    [
        (0.5, (0.25, 0.25, 0.25), {0.0: 25.0, 0.62: 1.0, 0.25: 4.0}),
        (0.5, (0.25, 0.25), {0.0: 25.0, 0.62: 1.0}),  # two are none
        (0.5, (0.75, 0.75, 0.75), {0.0: 25.0, 0.62: 1.0, 0.75: 4.0}),
        (0.5, (0.5, 0.5, 0.5), {0.0: 25.0, 0.62: 1.0, 0.5: 4.0}),
        (0.5, (2 / 3, 2 / 3, 2 / 3), {0.0: 25.0, 0.62: 4.0}),  # nobody tells it from the swung quaver
        (0.3, (0.5, 0.5, 0.5), {0.0: 25.0, 0.62: 1.0}),  # nor this at 200
        (0.4, (0.5, 0.5, 0.5), {0.0: 25.0, 0.62: 1.0, 0.5: 4.0}),  # but at 150
        (0.5, (0.25 + 0.058,) * 3 + (0.25,) * 3, {0.0: 25.0, 0.62: 1.0, 0.25: 4.0, 1 / 3: 4.0}),
        (0.5, (0.058, 0.062, -0.058, -0.062), {0.0: 27.0, 0.62: 1.0}),  # within 30 ms
    ],
)
def test_a_place_is_in_use_that_can_be_told_from_others_and_has_three_chords(
    quarter: float, more: tuple[float, ...], used: dict[float, float]
) -> None:
    """Besides twenty-four on the beat; each place counts one more than it has."""
    at = [*map(float, range(24)), *(30.0 + n for n in more)]
    assert _in_use(at, [quarter] * len(at), SWUNG) == pytest.approx(used)


def test_chords_are_counted_by_their_place_in_the_bar_where_they_are_in_time() -> None:
    at = [0.0, 4.04, 8.0, 1.62, 2.07, 3.0]
    counts = _usual_places(at, [QUARTER] * len(at), (0.0, SWUNG), 4.0)
    assert dict(counts) == {0.0: 3.5, 1.625: 1.5, 3.0: 1.5} and counts[2.0] == 0.5


def test_where_quavers_are_even_a_triplet_later_is_a_place_of_its_own() -> None:
    at = [*map(float, range(24)), *(30.0 + n + 2 / 3 for n in range(3))]
    assert _in_use(at, [QUARTER] * len(at), 0.5) == pytest.approx({0.0: 25.0, 0.5: 1.0, 2 / 3: 4.0})
    many = [*map(float, range(36)), *(40.0 + n + 0.25 for n in range(3))]
    assert 0.25 not in _in_use(many[1:], [QUARTER] * 38, 0.5), "a twelfth of them all"
    assert 0.25 in _in_use(many[2:], [QUARTER] * 37, 0.5)


@pytest.mark.parametrize(("off", "spread"), [(0.04, 1.4826 * 0.02), (0.02, 1.4826 * 0.01), (0.01, 0.01), (0.0, 0.01)])
def test_how_far_chords_lie_from_their_places_is_told_by_the_median(off: float, spread: float) -> None:
    """Beats; ten milliseconds are the least. (1.4826 makes a standard deviation of it: Hampel, 1974.)"""
    at = [0.0, 1.0 + off, 2.0 - off, 3.0 + off, 4.4]
    assert _spread(at, [QUARTER] * 5, (0.0,), [0.0] * 5) == pytest.approx(spread, rel=1e-3)


@pytest.mark.parametrize(
    ("notes", "sides"),
    [
        ([[]], (False, False)), ([[2.0, 6.0]], (True, True)), ([[1.9, 6.1]], (False, False)), ([[4.0]], (False, True)),
        ([[0.0, 3.9]], (True, False)), ([[4.1, 9.0]], (False, True)), ([], (False, False)),
    ],
)  # fmt: skip
def test_a_note_within_two_beats_tells_the_beat_on_its_side(notes: list[list[float]], sides: tuple[bool, bool]) -> None:
    assert _sides(4.0, notes, 0) == sides
    assert _sides(4.0, [[4.5], *notes], 1) == sides if notes else True


@pytest.mark.parametrize(
    ("off", "sweeps", "known"),
    [
        ((0.0, 0.1, 0.0), (0, 0, 0), True), ((0.06, 0.1, 0.0), (0, 0, 0), False), ((0.0, 0.1, 0.06), (0, 0, 0), False),
        ((0.059, 0.1, 0.059), (0, 0, 0), True), ((0.0, 0.1, 0.0), (0, 1, 1), False),
        ((0.0, 0.1, 0.0), (0, 0, 1), False),
    ],
)  # fmt: skip
def test_the_chord_before_and_the_one_after_of_one_sweep_tell_the_beat(
    off: tuple[float, ...], sweeps: tuple[int, ...], known: bool
) -> None:
    three = [TakeChord(float(n), float(n), (), sweep) for n, sweep in enumerate(sweeps)]
    assert _known_around(1, off, three, 0.06, (False, False)) is known
    assert _known_around(1, off, three, 0.06, (True, True))


@pytest.mark.parametrize(("deviation", "beats"), [(60.0, [19.88]), (59.9, []), (-60.0, [20.12]), (-59.9, [])])
def test_a_written_chord_is_told_from_the_limit_on_where_it_was_due(deviation: float, beats: list[float]) -> None:
    notes = [
        JudgedNote("right", 4.0 * n, pitch, pitch, 1.0 + 2.0 * n, deviation * (n == 5), "chords")
        for n in range(6)
        for pitch in (53, 57)
    ]
    assert [round(one.beat, 3) for one in told(notes)] == beats
