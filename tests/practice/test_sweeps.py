"""Sweeps: the beats of stretches without a leap, however the player swings."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.model import Form
from companion.load import load
from companion.music.swing import straight_quarters, to_sounding
from companion.practice.beat_curve import BeatManner, Timed
from companion.practice.departures import Departure
from companion.practice.expected import expected_notes
from companion.practice.placing import TakePlace
from companion.practice.sweeps import Sweep, _free, _swing_of, _timed, _usual_quarter, swept
from companion.resources import chart_path

QUARTER = 0.5


@pytest.fixture(scope="module")
def form() -> Form:
    return load(chart_path("ferry-without-lights")).unfold()


def placed(form: Form, ratio: float, start: float = 3.0) -> list[TakePlace]:
    even = straight_quarters(Fraction(note.beat) for note in form.melody)
    return [
        TakePlace(float(note.beat), float(note.beat), start + to_sounding(note.beat, ratio, even) * QUARTER, n == 0)
        for n, note in enumerate(form.melody)
    ]


def sweeps(
    form: Form, places: list[TakePlace], left: list[Departure], bounds: tuple[float, float]
) -> tuple[Sweep, ...]:
    return swept(form, expected_notes(form, {"melody"}), places, left, bounds)


@pytest.mark.parametrize("ratio", [1.0, 1.6, 2.2])
def test_the_beat_is_the_same_however_the_quavers_swing(form: Form, ratio: float) -> None:
    (sweep,) = sweeps(form, placed(form, ratio), [], (-1.0, 128.0))
    assert [beat for beat, _ in sweep.beats] == [float(n) for n in range(-1, 129)]
    assert max(abs(seconds - (3.0 + beat * QUARTER)) for beat, seconds in sweep.beats[2:-2]) < 0.012


def test_a_departure_makes_two_sweeps_each_with_its_own_beats(form: Form) -> None:
    places = placed(form, 1.6)
    middle = next(n for n, place in enumerate(places) if place.beat >= 64)
    later = [TakePlace(p.beat, p.written, p.seconds + 3.0, n == 0, p.free) for n, p in enumerate(places[middle:])]
    first, second = sweeps(form, [*places[:middle], *later], [Departure(middle - 1, 64.0, 64.0, 3.0)], (-1.0, 128.0))
    assert (first.low, first.high, second.low, second.high) == (-1.0, 64.0, 64.0, 128.0)
    assert second.map().seconds(64.0) - first.map().seconds(64.0) == pytest.approx(3.0, abs=0.05)


def test_where_something_else_was_played_is_told(form: Form) -> None:
    places = [TakePlace(float(n), float(n), 3.0 + n * QUARTER, n == 0, free=32 <= n < 64) for n in range(128)]
    (sweep,) = sweeps(form, places, [], (0.0, 128.0))
    assert sweep.free == ((32.0, 64.0),)


def test_one_note_alone_still_has_a_beat(form: Form) -> None:
    places = placed(form, 1.6)
    found = sweeps(form, [*places[:30], places[40]], [Departure(29, 40.0, 60.0, 0.0)], (-1.0, 61.0))
    assert len(found[1].beats) >= 2
    assert all(b > a for (_, a), (_, b) in zip(found[1].beats, found[1].beats[1:], strict=False))


# A take that slows down evenly, by a hand that is off as told: what stands here is what is found today

WOBBLE = (0, 6, -4, 12, -6, 14, -2, 1, -11, 9)
"""Milliseconds."""


def slowing(form: Form, ratio: float, count: int = 60, held: float = 0.0) -> list[TakePlace]:
    """Notes of the melody that slow down, so many seconds held back before the ninth bar."""
    even = straight_quarters(Fraction(note.beat) for note in form.melody)
    found = []
    for n, note in enumerate(form.melody[:count]):
        beat, sounding = float(note.beat), float(to_sounding(note.beat, ratio, even))
        at = 3 + sounding / 2 + 0.0006 * sounding**2 + WOBBLE[n % 10] / 1000 + held * (beat >= 32)
        found.append(TakePlace(beat, beat, at, n == 0))
    return found


def every_eighth(sweep: Sweep) -> list[float]:
    return [seconds for beat, seconds in sweep.beats if beat % 8 == 0]


@pytest.mark.parametrize(
    ("ratio", "held", "moments"),
    [
        (1.9, 0.0, [2.99984, 7.03727, 11.15641, 15.34712, 19.61348, 23.96225, 28.38536, 32.88313, 37.45688, 42.11165]),
        (1.3, 0.8, [3.00017, 7.0381, 11.15672, 15.34664, 20.40931, 24.76357, 29.1858, 33.68365, 38.25702, 42.91163]),
    ],
)
def test_the_beats_of_a_take_that_slows_down(form: Form, ratio: float, held: float, moments: list[float]) -> None:
    (sweep,) = sweeps(form, slowing(form, ratio, held=held), [], (-1.0, 72.0))
    assert (sweep.low, sweep.high) == (-1.0, 72.0)
    assert every_eighth(sweep) == pytest.approx(moments, abs=2e-5)
    assert sweep.held == ((32.0, pytest.approx(0.7947, abs=2e-4)),) if held else not sweep.held


def test_after_a_stop_the_beats_of_both_stretches_are_the_same_hands(form: Form) -> None:
    places = slowing(form, 1.3, held=0.8)
    cut = next(n for n, place in enumerate(places) if place.beat >= 40)
    later = [TakePlace(one.beat, one.written, one.seconds + 2, n == 0) for n, one in enumerate(places[cut:])]
    first, second = sweeps(form, [*places[:cut], *later], [Departure(cut - 1, 40.0, 40.0, 2.0)], (-1.0, 72.0))
    assert every_eighth(first) == pytest.approx([3.00012, 7.03821, 11.15662, 15.3464, 20.40973, 24.75847], abs=2e-5)
    assert every_eighth(second) == pytest.approx([26.74057, 31.1868, 35.68359, 40.25699, 44.91164], abs=2e-5)


def test_beats_as_they_were_followed_are_smoothed_more_and_stretches_away_end_on_a_beat(form: Form) -> None:
    places = [
        TakePlace(float(n), float(n), 3 + n / 2 + WOBBLE[n % 10] / 1000, n == 0, free=8 <= n < 24 or n > 30)
        for n in range(40)
    ]
    (sweep,) = sweeps(form, places, [], (0.0, 40.0))
    assert every_eighth(sweep) == pytest.approx([3.00155, 7.00097, 11.00164, 15.00208, 19.00253, 23.00122], abs=2e-5)
    assert sweep.free == ((8.0, 24.0), (31.0, 40.0))


def test_one_note_alone_has_the_tempo_of_the_others(form: Form) -> None:
    places = [*slowing(form, 1.6)[:30], TakePlace(100.0, 100.0, 60.0, True)]
    _, last = sweeps(form, places, [Departure(29, 36.0, 100.0, 0.0)], (-1.0, 104.0))
    assert [beat for beat, _ in last.beats] == [100.0, 101.0, 102.0, 103.0, 104.0]
    assert every_eighth(last) == pytest.approx([62.1016], abs=2e-5)


def test_of_eight_notes_it_is_not_known_how_one_swings(form: Form) -> None:
    (sweep,) = sweeps(form, slowing(form, 1.9, 8), [], (-1.0, 8.0))
    assert every_eighth(sweep) == pytest.approx([3.00453, 7.03554], abs=2e-5)


# By itself: the usual quarter, where places sound, and what is free


def at(
    beat: float, seconds: float, *, leapt: bool = False, free: bool = False, written: float | None = None
) -> TakePlace:
    return TakePlace(beat, beat if written is None else written, seconds, leapt, free)


@pytest.mark.parametrize(
    ("places", "quarter"),
    [
        ([at(0.0, 1.0), at(1.0, 1.5), at(2.0, 2.1), at(4.0, 3.3)], 0.6),
        ([at(0.0, 1.0), at(1.0, 1.5), at(2.0, 3.1, leapt=True), at(3.0, 3.6)], 0.5),  # a leap tells nothing
        ([at(0.0, 1.0), at(1.0, 1.4), at(1.0, 2.0), at(0.5, 9.0)], 0.4),  # nor does what doesn't go on
        ([at(0.0, 1.0)], 0.5),
        ([at(0.0, 1.0), at(1.0, 3.0, leapt=True)], 0.5),
    ],
)
def test_the_usual_quarter_is_that_of_most_steps(places: list[TakePlace], quarter: float) -> None:
    assert _usual_quarter(places) == pytest.approx(quarter)


def test_places_sound_where_they_swing_and_off_beats_and_followed_beats_lie_looser(form: Form) -> None:
    """Eight to five, and nothing that doesn't rise; in the second chorus as in the first."""
    places = [
        at(0.0, 1.0), at(0.5, 1.3), at(1.0, 1.5), at(1.0, 1.6), at(1.25, 1.5), at(2.0, 1.4), at(3.0, 2.5, free=True),
        at(3.5, 2.7, free=True), at(128.0, 65.0), at(128.5, 65.3), at(129.0, 65.5),
    ]  # fmt: skip
    long = 8 / 13
    assert _timed(form, places, 1.6, ()) == [
        Timed(0.0, 1.0, 1.0), Timed(pytest.approx(long), 1.3, 1.6), Timed(1.0, 1.5, 1.0), Timed(3.0, 2.5, 1.6),
        Timed(3.5, 2.7, 1.6), Timed(128.0, 65.0, 1.0), Timed(pytest.approx(128 + long), 65.3, 1.6),
        Timed(129.0, 65.5, 1.0),
    ]  # fmt: skip
    assert [one.loose for one in _timed(form, places[:3], 1.0, ())] == [1.0, 1.0, 1.0], "even quavers are as near"
    pickup = _timed(form, [at(-0.5, 0.5), at(0.0, 1.0)], 1.6, ())
    assert [one.beat for one in pickup] == [pytest.approx(-1 + long), 0.0]


@pytest.mark.parametrize(
    ("spans", "found"),
    [
        (((0, 8, False), (8, 12, True), (12.3, 16, False)), [(8.0, 12.0)]),  # up to the beat on which one goes on
        (((0.5, 8, True), (8, 16, False)), [(-1.0, 8.0)]),  # from where the sweep begins
        (((0, 8, False), (8.5, 14, True)), [(8.5, 18.0)]),  # to where it ends
        (((0, 4, True),), [(-1.0, 18.0)]),
        (((0, 2, False), (2, 4, True), (4, 6, False), (6, 8, True), (8, 9, False)), [(2.0, 4.0), (6.0, 8.0)]),
        (((0, 8, False), (8.6, 9, True), (8.7, 12, False)), [(8.6, 8.6)]),  # of no length
    ],
)  # fmt: skip
def test_something_else_lasts_from_its_first_beat_to_the_beat_of_the_next_note(
    spans: tuple[tuple[float, float, bool], ...], found: list[tuple[float, float]]
) -> None:
    places = [at(low + n, low + n, free=free) for low, high, free in spans for n in range(max(1, int(high - low)))]
    assert _free(places, -1.0, 18.0, 1.0) == found


@pytest.mark.parametrize(("high", "last"), [(0.4, 1.0), (1.0, 1.0), (1.2, 2.0)])
def test_a_sweep_has_two_beats_and_one_after_its_end(form: Form, high: float, last: float) -> None:
    (sweep,) = sweeps(form, [at(0.0, 1.0), at(high / 2, 1.0 + high / 4)], [], (0.0, high))
    assert [beat for beat, _ in sweep.beats] == [float(n) for n in range(int(last) + 1)]


def swinging(quavers: int, place: float = 0.64, beats: int = 9) -> tuple[list[TakePlace], list[Timed]]:
    """Notes on the beat and so many between them, at 120; and where they would sound at 1.55 to 1."""
    places = [at(float(n), 1 + n / 2) for n in range(beats)]
    places += [at(n + 0.5, 1 + (n + place) / 2) for n in range(quavers)]
    places.sort(key=lambda one: one.beat)
    return places, [Timed(one.beat + 0.1078 * (one.beat % 1 > 0), one.seconds, 1.6 if one.beat % 1 else 1.0)
                    for one in places]  # fmt: skip


@pytest.mark.parametrize(
    ("quavers", "place", "beats", "even", "ratio"),
    [
        (6, 0.64, 9, (), 0.64 / 0.36),
        (5, 0.64, 9, (), 1.55),  # five don't show it
        (6, 0.64, 9, (3,), 1.55),  # one of a beat of even quavers counts for nothing
        (7, 0.64, 9, (3,), 0.64 / 0.36),
        (8, 0.9, 9, (), 2.5),  # nobody swings more than five to two
        (8, 0.4, 9, (), 1.0),
        (6, 0.64, 4, (), 0.64 / 0.36),
        (8, 0.64, 3, (), 1.55),  # three notes on the beat don't tell it
    ],
)
def test_how_one_swings_is_told_by_six_off_beats_against_four_notes_on_the_beat(
    form: Form, quavers: int, place: float, beats: int, even: tuple[int, ...], ratio: float
) -> None:
    places, timed = swinging(quavers, place, beats)
    assert _swing_of(form, [places], [timed], BeatManner(0.012, 2e-4), even) == pytest.approx(ratio, rel=2e-3)


def test_of_two_stretches_both_show_how_one_swings_and_followed_beats_do_not(form: Form) -> None:
    places, timed = swinging(3, beats=5)
    manner = BeatManner(0.012, 2e-4)
    assert _swing_of(form, [places, places], [timed, timed], manner, ()) == pytest.approx(0.64 / 0.36, rel=2e-3)
    followed = [at(one.beat, one.seconds, free=True) for one in places]
    assert _swing_of(form, [places, followed], [timed, timed], manner, ()) == 1.55


def test_quavers_of_a_beat_that_is_even_sound_half_way_in_every_chorus(form: Form) -> None:
    places = [at(3.0, 1.0), at(3.5, 1.25), at(4.5, 1.8), at(131.5, 65.0), at(132.5, 65.6)]
    beats = [one.beat for one in _timed(form, places, 1.6, (3,))]
    assert beats == pytest.approx([3.0, 3.5, 4 + 8 / 13, 131.5, 132 + 8 / 13])


def test_where_quavers_are_even_each_tells_the_beat_half_way() -> None:
    straight = load(chart_path("confetti-on-the-stairs")).unfold()
    places = [at(n / 2, 1 + n / 4) for n in range(33)]
    (sweep,) = swept(straight, [], places, [], (0.0, 16.0))
    assert [seconds for _, seconds in sweep.beats] == pytest.approx([1 + n / 2 for n in range(17)], abs=2e-3)


@pytest.mark.parametrize(
    ("bounds", "beats"),
    [((3.0, 9.0), [3.0, 4.5, 6.0, 7.5, 9.0]), ((3.5, 4.0), [4.5, 6.0]), ((3.0, 8.0), [3.0, 4.5, 6.0, 7.5, 9.0])],
)
def test_in_six_eight_the_beats_of_a_sweep_are_dotted(bounds: tuple[float, float], beats: list[float]) -> None:
    wheel = load(chart_path("mill-wheel-at-rest")).unfold()
    places = [at(1.5 * n, 1 + 0.6 * n) for n in range(2, 8)]
    (sweep,) = swept(wheel, [], places, [], bounds)
    assert [beat for beat, _ in sweep.beats] == beats
    assert [seconds for _, seconds in sweep.beats] == pytest.approx([1 + 0.4 * beat for beat in beats], abs=1e-3)
