"""The player's own beat, from notes: between them, beyond them, through slips of time and hesitations."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from companion.practice.beat_curve import TOUCHES, BeatManner, Timed, _rising, _usual_quarter, manner_of, smoothed

USUAL = BeatManner(0.012, 2e-4)


def steady(count: int = 33, quarter: float = 0.5, touch: float = 0.0, seed: int = 1) -> list[Timed]:
    chance = random.Random(seed)
    return [Timed(float(n), 2.0 + n * quarter + chance.gauss(0, touch) * (touch > 0)) for n in range(count)]


def test_an_even_pulse_comes_back_between_its_notes_and_beyond_them() -> None:
    notes = [note for note in steady() if note.beat % 4 != 2]
    curve = smoothed(notes, [-2.0, 6.0, 10.0, 34.0], USUAL)
    assert curve.seconds == pytest.approx([1.0, 5.0, 7.0, 19.0], abs=0.005)
    assert curve.held == ()


def test_a_note_that_falls_off_the_beat_does_not_take_the_beat_along() -> None:
    notes = steady()
    notes[12] = Timed(12.0, notes[12].seconds + 0.12)
    curve = smoothed(notes, [11.0, 12.0, 13.0], USUAL)
    assert curve.seconds == pytest.approx([7.5, 8.0, 8.5], abs=0.02)


def test_scattered_notes_make_a_beat_nearer_than_they_are() -> None:
    notes = steady(65, touch=0.02)
    curve = smoothed(notes, [float(n) for n in range(65)], BeatManner(0.018, 3e-5))
    off = [abs(at - (2.0 + n * 0.5)) for n, at in enumerate(curve.seconds)]
    raw = [abs(note.seconds - (2.0 + n * 0.5)) for n, note in enumerate(notes)]
    assert sum(off) < 0.6 * sum(raw)


def test_a_tempo_that_grows_by_a_third_is_followed() -> None:
    notes, now = [], 2.0
    for n in range(65):
        notes.append(Timed(float(n), now))
        now += 0.6 * (1 - n / 192)
    curve = smoothed(notes, [float(n) for n in range(65)], USUAL)
    assert max(abs(at - note.seconds) for at, note in zip(curve.seconds, notes, strict=True)) < 0.015


def test_a_hesitation_is_found_at_its_beat_and_the_pulse_goes_on_from_there() -> None:
    notes = [Timed(note.beat, note.seconds + (0.9 if note.beat >= 16 else 0.0)) for note in steady()]
    curve = smoothed(notes, [15.0, 16.0, 17.0], USUAL)
    ((beat, by),) = curve.held
    assert beat == 16.0
    assert by == pytest.approx(0.9, abs=0.05)
    assert curve.seconds == pytest.approx([9.5, 10.9, 11.4], abs=0.03)


def test_one_late_note_is_no_hesitation() -> None:
    notes = steady()
    notes[16] = Timed(16.0, notes[16].seconds + 0.3)
    assert smoothed(notes, [], USUAL).held == ()


def test_how_near_a_player_strikes_is_learnt_from_their_notes() -> None:
    near, far = (manner_of([steady(65, touch=touch)]) for touch in (0.008, 0.034))
    assert near.touch < far.touch
    assert {near.touch, far.touch} <= set(TOUCHES)


def test_moments_of_beats_always_rise() -> None:
    notes = [Timed(0.0, 1.0), Timed(1.0, 1.002), Timed(1.1, 1.5), Timed(9.0, 1.6)]
    moments = smoothed(notes, [float(n) for n in range(-4, 14)], USUAL).seconds
    assert all(b > a for a, b in pairwise(moments))


# What stands here is what comes out today: when it changes, see whether the beat is the better for it

OFF = (4, -9, 13, 2, -17, 8, 0, 21, -6, 11, -12, 5, 16, -3, -8, 10)
"""Milliseconds."""
PLACES = (0.0, 1.0, 1.5, 2.0, 3.0, 4.0, 5.5, 6.0, 8.0, 9.0, 9.5, 10.0, 11.0, 12.0, 13.5, 15.0)


def phrase(scatter: float = 1.0, held: float = 0.0, quarter: float = 0.5) -> list[Timed]:
    """A phrase that slows down evenly, by a hand that is off now and then; swung quavers may lie farther off."""
    return [
        Timed(
            beat,
            2.0 + quarter * beat + 0.001 * beat**2 + scatter * off / 1000 + (held if beat >= 8 else 0.0),
            1.6 if beat % 1 else 1.0,
        )
        for beat, off in zip(PLACES, OFF, strict=True)
    ]


def bent(by: float) -> list[Timed]:
    """Every other two bars come late in the middle and the others early."""
    bows = [(n % 8) * (n % 8 - 7) * (1 if n // 8 % 2 else -1) for n in range(40)]
    return [Timed(float(n), 1 + 0.5 * n + by * bow / 1000 + OFF[n % 16] / 2000) for n, bow in enumerate(bows)]


@pytest.mark.parametrize(
    ("held", "manner", "pulse", "moments", "found"),
    [
        (
            0.0,
            USUAL,
            1.0,
            {-1: 1.497403, 0: 1.998598, 2: 3.003577, 4: 4.019419, 7: 5.555572, 8: 6.069041, 12: 8.147828,
             15: 9.730367, 17: 10.790789},
            [],
        ),
        (
            0.7,
            USUAL,
            1.0,
            {-1: 1.497878, 0: 1.99859, 2: 3.002725, 4: 4.019663, 7: 5.570508, 8: 6.761826, 12: 8.848912,
             15: 10.430526, 17: 11.490334},
            [(8.0, 0.674514)],
        ),
        (
            0.7,
            BeatManner(0.026, 5e-3),
            1.5,
            {0: 2.00156, 6: 5.053514, 7: 5.576078, 8: 6.760304, 9: 7.284406},
            [(7.5, 0.662962)],
        ),
    ],
    ids=["a phrase", "held back before the third bar", "held back in three-eight by a free hand"],
)  # fmt: skip
def test_the_beat_of_a_phrase_lies_where_it_did(
    held: float, manner: BeatManner, pulse: float, moments: dict[float, float], found: list[tuple[float, float]]
) -> None:
    curve = smoothed(phrase(held=held), [float(beat) for beat in moments], manner, pulse)
    assert curve.beats == tuple(moments)
    assert curve.seconds == pytest.approx(tuple(moments.values()), abs=2e-6)
    assert [beat for beat, _ in curve.held] == [beat for beat, _ in found]
    assert [by for _, by in curve.held] == pytest.approx([by for _, by in found], abs=2e-6)


@pytest.mark.parametrize(
    ("stretches", "touch", "freedom"),
    [
        ([phrase(0.2)], 0.007, 3e-5),
        ([phrase(1.0)], 0.012, 3e-5),
        ([phrase(2.0)], 0.018, 3e-5),
        ([phrase(3.0)], 0.026, 3e-5),
        ([phrase(5.0)], 0.036, 3e-6),
        ([phrase(0.2), phrase(0.4, quarter=0.4)], 0.007, 2e-4),
        ([phrase(1.0), phrase(2.0, quarter=0.4)], 0.018, 3e-5),
        ([phrase(3.0), phrase(6.0, quarter=0.4)], 0.036, 3e-6),
        ([bent(0)], 0.007, 3e-6),
        ([bent(4)], 0.007, 2e-4),
        ([bent(8)], 0.007, 1e-3),
        ([bent(16)], 0.012, 5e-3),
        ([bent(24)], 0.018, 2e-2),
        ([phrase(0.1)[:6]], 0.007, 3e-6),
        ([phrase(0.1)[:5]], 0.018, 2e-4),  # too few notes tell nothing
        ([], 0.018, 2e-4),
    ],
)
def test_touch_and_freedom_are_those_that_make_the_notes_likeliest(
    stretches: list[list[Timed]], touch: float, freedom: float
) -> None:
    assert manner_of(stretches) == BeatManner(touch, freedom)


def held_back(
    by: float, stays: float = 1.0, manner: BeatManner = USUAL, at: int = 16
) -> tuple[tuple[float, float], ...]:
    """Where one held back who comes so late on a beat, and by that share of it on the following ones."""
    late = [0.0 if note.beat < at else by if note.beat == at else stays * by for note in steady()]
    return smoothed([Timed(n.beat, n.seconds + off) for n, off in zip(steady(), late, strict=True)], [], manner).held


@pytest.mark.parametrize(
    ("by", "stays", "manner", "held"),
    [
        (0.149, 1.0, USUAL, False),  # a third of a beat, almost
        (0.151, 1.0, USUAL, True),
        (0.2, 1.0, BeatManner(0.036, 5e-3), False),  # of a hand so uneven it is not enough
        (0.36, 1.0, BeatManner(0.036, 5e-3), False),
        (0.365, 1.0, BeatManner(0.036, 5e-3), True),
        (0.223, 1.0, BeatManner(0.026, 1e-3), False),
        (0.228, 1.0, BeatManner(0.026, 1e-3), True),
        (0.4, 0.59, USUAL, False),  # the next notes catch up
        (0.4, 0.61, USUAL, True),
        (-0.4, 1.0, USUAL, False),
    ],
)
def test_a_delay_is_a_hesitation_from_a_third_of_a_beat_on_if_it_stays(
    by: float, stays: float, manner: BeatManner, held: bool
) -> None:
    assert bool(held_back(by, stays, manner)) is held


@pytest.mark.parametrize("at", [2, 30, 31, 32])
def test_one_may_hold_back_before_the_third_note_and_the_last(at: int) -> None:
    ((beat, by),) = held_back(0.9, at=at)
    assert beat == at and by == pytest.approx(0.9)


def test_two_notes_after_a_delay_tell_whether_it_stays_and_later_ones_do_not() -> None:
    for caught_up, held in ((17, False), (18, False), (19, True)):
        notes = [Timed(n.beat, n.seconds + (0.4 if 16 <= n.beat < caught_up else 0.0)) for n in steady()]
        assert bool(smoothed(notes, [], USUAL).held) is held


@pytest.mark.parametrize(("first", "seconds"), [(0.5, 0.5), (0.005, 0.02)])
def test_of_two_notes_the_beat_is_what_lies_between_them_but_never_less_than_a_fiftieth_of_a_second(
    first: float, seconds: float
) -> None:
    curve = smoothed([Timed(0.0, 1.0), Timed(1.0, 1.0 + first)], [0.0, 1.0, 2.0], BeatManner(0.001, 1e-9))
    assert curve.seconds[2] - curve.seconds[1] == pytest.approx(seconds, abs=0.016)
    assert curve.seconds[1] == pytest.approx(1.0 + first, abs=0.001)


def test_a_beat_comes_a_thousandth_of_a_second_after_the_one_before_it_at_least() -> None:
    assert _rising([1.0, 1.5, 1.4, 1.5005, 2.0]) == pytest.approx((1.0, 1.5, 1.501, 1.502, 2.0))


def test_one_who_holds_back_within_a_beat_does_so_before_the_note_that_comes_late() -> None:
    """On the beat of the note before it nobody waits any more."""
    late = [Timed(16.5, 10.25 + 0.9), *(Timed(note.beat, note.seconds + 0.9) for note in steady() if note.beat > 16)]
    ((beat, by),) = smoothed([*(note for note in steady() if note.beat <= 16), *late], [], USUAL).held
    assert beat == 16.5 and by == pytest.approx(0.9, abs=0.05)


@pytest.mark.parametrize(
    ("notes", "quarter"),
    [
        ([(0.0, 1.0)], 0.5),  # one note tells nothing
        ([(0.0, 1.0), (1.0, 1.005)], 0.02),  # nobody plays faster
        ([(0.0, 1.0), (4.0, 3.0), (8.0, 5.8)], 0.7),
        ([(0.0, 1.0), (1.0, 1.9), (4.0, 3.0), (5.0, 3.9), (8.0, 5.4)], 0.5),  # over four beats, as it may be
    ],
)
def test_the_usual_quarter_is_the_median_over_four_beats(notes: list[tuple[float, float]], quarter: float) -> None:
    assert _usual_quarter([Timed(beat, at) for beat, at in notes]) == pytest.approx(quarter)
