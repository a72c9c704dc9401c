"""The beat of comping alone: through a late chord, a pause, a hurried bar; none where the chords are others."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.practice.comped_beat import _Search, _Strike, _Ways, comped_places
from companion.practice.judging import Struck
from companion.practice.placing import TakePlace
from companion.resources import chart_path

QUARTER, TOUCH = 0.5, 0.008
RHYTHM = (0.0, 1.5, 3.0)
BARS = 8


@pytest.fixture(scope="module")
def form() -> Form:
    return load(chart_path("ovens-at-five")).unfold()


def comped(form: Form, late: Callable[[float], float], transposed: int = 0) -> list[Struck]:
    """Three chords a bar, even quavers laid a little late as swing has them; ``late`` by beat, in seconds."""
    dice = random.Random(3)
    struck = []
    for beat in [4 * bar + place for bar in range(BARS) for place in RHYTHM]:
        sounding = beat + (0.11 if beat % 1 else 0.0)
        at = 1.0 + QUARTER * sounding + late(beat)
        for tone in list(form.chord_at(beat).chord.pitch_classes)[1:5]:
            struck.append(Struck(at + dice.gauss(0, TOUCH), 52 + (tone + transposed - 52) % 12))
    return sorted(struck, key=lambda one: one.seconds)


def written(places: list[TakePlace]) -> list[float]:
    return [place.written for place in places]


PLAYED = [4 * bar + place for bar in range(BARS) for place in RHYTHM]


def test_every_chord_of_steady_comping_has_its_beat(form: Form) -> None:
    assert written(comped_places(form, comped(form, lambda beat: 0.0))) == PLAYED


def test_a_late_chord_is_late_on_its_beat_and_the_next_one_is_not(form: Form) -> None:
    assert written(comped_places(form, comped(form, lambda beat: 0.12 if beat == 16.0 else 0.0))) == PLAYED


def test_the_beat_goes_on_after_a_pause(form: Form) -> None:
    assert written(comped_places(form, comped(form, lambda beat: 0.9 if beat >= 16.0 else 0.0))) == PLAYED


def test_a_bar_that_is_rushed_keeps_its_beats(form: Form) -> None:
    assert written(comped_places(form, comped(form, lambda beat: -0.04 * min(max(beat - 16.0, 0.0), 4.0)))) == PLAYED


def test_chords_of_another_key_have_no_place(form: Form) -> None:
    assert comped_places(form, comped(form, lambda beat: 0.0, transposed=1)) == []


def test_a_few_chords_tell_nothing(form: Form) -> None:
    assert comped_places(form, comped(form, lambda beat: 0.0)[:12]) == []


def test_off_beats_alone_stay_there_after_a_count_in(form: Form) -> None:
    struck = []
    for bar in range(24):
        at = 1.0 + QUARTER * (4 * bar + 1.61)
        struck += [
            Struck(at, 52 + (tone - 52) % 12) for tone in list(form.chord_at(4 * bar + 1.5).chord.pitch_classes)[1:5]
        ]
    places = comped_places(form, struck, 60 / QUARTER, 1.0)
    assert written(places) == [4 * bar + 1.5 for bar in range(24)]


def test_hurrying_after_a_count_in_wins_no_half_beat_where_quavers_are_even() -> None:
    tune = load(chart_path("confetti-on-the-stairs")).unfold()
    dice = random.Random(2)
    struck, played = [], []
    for bar in range(24):
        for place in dice.choice([(0.0,), (0.0, 1.5), (0.0, 2.0), (1.5,)]):
            beat = 4 * bar + place
            played.append(beat)
            hurried = sum(0.04 * min(max(beat - 4 * low, 0), 4) for low in (6, 13))
            at = 1.0 + 0.37 * beat - hurried + dice.gauss(0, TOUCH)
            tones = list(tune.chord_at(beat).chord.pitch_classes)[1:5]
            struck += [Struck(at, 52 + (tone - 52) % 12) for tone in tones]
    assert written(comped_places(tune, struck, 60 / 0.37, 1.0)) == played


# What stands here is what is found today: when it changes, see whether it is nearer to what was played


def wandering(form: Form, seed: int) -> list[Struck]:
    """Ten bars of somebody whose chords come late, early, ahead and beside, who holds back, leaps and hurries."""
    dice = random.Random(seed)
    struck = []
    at, quarter, beat = 1.0, dice.choice((0.42, 0.5, 0.6)), dice.choice((0.0, 0.0, 8.0, 1.5))
    end = beat + 40
    while beat < end:
        rate, late, ahead = quarter, 0.0, 0.0
        event = dice.choice(("on",) * 7 + ("late", "early", "held", "leap", "hurry", "ahead", "outside"))
        match event:
            case "held":
                at += dice.choice((0.42, 0.9, 2.0))
            case "leap":
                beat = 4 * dice.randint(0, 20)
            case "late":
                late = dice.choice((0.06, 0.12))
            case "early":
                late = -0.07
            case "hurry":
                rate = quarter * dice.choice((0.88, 0.93, 1.09))
            case "ahead":
                ahead = dice.choice((0.5, 1.0))
        tones = list(form.chord_at((beat + ahead) % 128).chord.pitch_classes)[1:5]
        if event == "outside":
            tones = [(tone + dice.choice((0, 1))) % 12 for tone in tones]
        sounding = at + late + (0.11 * quarter if beat % 1 else 0)
        struck += [Struck(sounding + dice.gauss(0, 0.01), 52 + (tone - 52) % 12) for tone in tones]
        step = dice.choice((1.5, 1.5, 2.0, 2.5, 1.0, 4.0, 0.5, 3.0))
        beat, at, quarter = beat + step, at + rate * step, quarter * dice.choice((1.0, 1.0, 0.985, 1.02))
    return sorted(struck, key=lambda one: one.seconds)


@pytest.mark.parametrize(
    ("seed", "tempo", "way"),
    [
        (3, 120.0, ""),
        (4, None, "|8 9 11 12 16 17 17.5 19 22 25 29 31.5 33 34 35 37 42 43 45.5 46 47.5"),
        (7, None, "|0 1.5 4 5.5 7.5 10 11.5 14 16.5 20.5 24.5 27.5 30.5 32 34.5 35.5 36 38"),
        (8, None, "|80 83.5 88 89 89.5 94.5 98 100 102.5 106.5 108 111 111.5"),
        (10, None, "|0 1 3.5 4.5 6.5 8.5 11.5 12 13.5 15 18 20 22.5 24"),
        (14, None, "|0 2 4.5 6.5 7.5 9 11 12.5 14 16 17.5 18 21 22 23 24 28 30 30.5 31.5 33.5 35 38"),
        (15, 120.0, "|0 2 6 10 10.5 13.5 15.5 16 18.5 23 23.5 25 26 28.5 29 30 30.5"),
    ],
)
def test_whoever_wanders_through_a_chart_is_found_where_they_were(
    form: Form, seed: int, tempo: float | None, way: str
) -> None:
    """The beats of the chords, a leap as "|"."""
    places = comped_places(form, wandering(form, seed), tempo, 1.0 if tempo else None)
    assert " ".join(f"{'|' * place.leapt}{place.written:g}" for place in places) == way
    swung = 1.55 / 2.55
    assert all(place.beat == pytest.approx(place.written // 1 + swung * (place.written % 1 > 0)) for place in places)


@pytest.mark.parametrize(("end", "found"), [(15, 0), (16, 12)])
def test_twelve_chords_show_a_way_through_the_chart_and_eleven_do_not(form: Form, end: int, found: int) -> None:
    assert PLAYED.index(15.0) == 11
    struck = [one for one in comped(form, lambda beat: 0.0) if one.seconds < 0.9 + QUARTER * end]
    assert len(comped_places(form, struck)) == found


def test_in_compound_time_comping_alone_shows_nothing() -> None:
    tune = load(chart_path("mill-wheel-at-rest")).unfold()
    assert tune.metre.compound
    assert comped_places(tune, [Struck(0.5 * n, 60 + k) for n in range(24) for k in (0, 4, 7)]) == []


def exactly(form: Form, late: Callable[[float], float], beats: list[float]) -> list[float]:
    """Where chords on these beats are found by a hand that is off by some milliseconds, the same ones each time."""
    struck = []
    for beat in beats:
        dice = random.Random(beat)
        at = 1.0 + QUARTER * (beat + (0.11 if beat % 1 else 0.0)) + late(beat)
        tones = list(form.chord_at(beat).chord.pitch_classes)[1:5]
        struck += [Struck(at + dice.gauss(0, 0.004), 52 + (tone - 52) % 12) for tone in tones]
    return written(comped_places(form, sorted(struck, key=lambda one: one.seconds)))


@pytest.mark.parametrize(
    ("late", "kept"),
    [
        (lambda beat: 0.42 * (beat >= 16), True), (lambda beat: 3.9 * (beat >= 16), True),
        (lambda beat: 0.38 * (beat >= 16), False), (lambda beat: 4.1 * (beat >= 16), False),  # no pause, or too long
        (lambda beat: 0.2 * (beat == 16), True), (lambda beat: 0.3 * (beat == 16), False),  # nearer to the next quaver
        (lambda beat: -0.1 * (beat == 16), True), (lambda beat: -0.2 * (beat == 16), False),
        (lambda beat: 0.002 * beat**2, True), (lambda beat: 0.003 * beat**2, False),  # a tempo that goes away
        (lambda beat: -0.1 * min(max(beat - 16, 0), 4), True), (lambda beat: -0.15 * min(max(beat - 16, 0), 4), False),
    ],
)  # fmt: skip
def test_the_beats_of_comping_are_kept_up_to_where_another_way_is_likelier(
    form: Form, late: Callable[[float], float], kept: bool
) -> None:
    assert (exactly(form, late, PLAYED) == PLAYED) is kept


@pytest.mark.parametrize(("rest", "kept"), [(10.0, True), (10.5, False)])
def test_after_ten_beats_of_rest_the_beat_is_kept_and_after_more_it_may_be_lost(
    form: Form, rest: float, kept: bool
) -> None:
    beats = [beat for beat in PLAYED if beat <= 8] + [8 + rest + beat for beat in PLAYED[:12]]
    assert (exactly(form, lambda beat: 0.0, beats) == beats) is kept


ROOMS = parse_toml("""
format = 1
title = "Four Rooms"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | F7 | D-7 | G7 |"
""").unfold()
"""Four bars: much fits at more than one place, and little decides."""


def in_rooms(
    off: Callable[[float], float], beats: Sequence[float], quarter: float = QUARTER, ahead: float = 0.0
) -> list[Struck]:
    """Chords off by some milliseconds, the same ones each time; off-beat ones may go before their harmony."""
    struck = []
    for beat in beats:
        at = 1.0 + quarter * beat + off(beat) + random.Random(beat).gauss(0, 0.004)
        tones = list(ROOMS.chord_at((beat + ahead * (beat % 1 > 0)) % 16).chord.pitch_classes)[:4]
        struck += [Struck(at, 52 + (tone - 52) % 12) for tone in tones]
    return sorted(struck, key=lambda one: one.seconds)


LEFT_OUT = [beat for beat in PLAYED if not 8 <= beat < 12][:14]


@pytest.mark.parametrize(
    ("struck", "tempo", "way"),
    [
        (
            in_rooms(lambda beat: 0.04 * (beat == 8), PLAYED[:15]),
            None,
            "|0.5 2 3.5 4.5 6 7.5 8.5 10 11.5 12.5 14 15.5 0.5 2 3.5",
        ),
        (in_rooms(lambda beat: -0.14 * (beat == 8), PLAYED[:15]), None, "|0 2 2.5 4 6 8 9 9.5 11.5 13 15 15.5 1 3 5"),
        (
            in_rooms(lambda beat: 0.6 * (beat >= 8), PLAYED[:15]),
            None,
            "|1 2 3 3.5 4.5 5.5 7 8 9 9.5 10 11 11.5 12.5 13.5",
        ),
        (
            in_rooms(lambda beat: -0.06 * min(max(beat - 8, 0), 4), PLAYED[:15]),
            None,
            "|0 1.5 3 4 5.5 7 8 9.5 11 12 13.5 15 0 1.5 3",
        ),
        (
            in_rooms(lambda beat: 0.12 * min(max(beat - 8, 0), 4), PLAYED[:15]),
            None,
            "|0 1.5 3 4 5.5 6 7 9 11 12 14 15.5 0.5 2 3.5",
        ),
        (in_rooms(lambda beat: 0.0, PLAYED[:15], ahead=0.5), None, "|0 1.5 3 4 5.5 7 8 9.5 11 12 13.5 15 0 1.5 3"),
        (in_rooms(lambda beat: 0.0, PLAYED[3:17]), None, "|0.5 2.5 4.5 6 8 10 11.5 13.5 15.5 1 3 3.5 5 7"),
        (
            in_rooms(lambda beat: 0.0, PLAYED[:15], quarter=0.125),
            None,
            "|1 2 3 3.5 4.5 5.5 6 7 8 8.5 9.5 10.5 11 12 13",
        ),
        (in_rooms(lambda beat: -0.14, PLAYED[:15]), 120.0, "|0 1.5 3 4 5.5 7 8 9.5 11 12 13.5 15 0 1.5 3"),
        (in_rooms(lambda beat: 0.0, PLAYED[:15]), 149.0, "|0 1.5 3.5 5 7 7.5 9 11 11.5 13 15 15.5 1 3 5"),
        (in_rooms(lambda beat: 0.0, PLAYED[:15]), 63.0, ""),
        (in_rooms(lambda beat: -2.0 * (beat >= 12), LEFT_OUT), 120.0, ""),
    ],
)
def test_a_way_through_four_bars_is_the_likeliest_of_many(struck: list[Struck], tempo: float | None, way: str) -> None:
    """As it is found today. With a count-in the downbeat was due a second after the clock's zero."""
    places = comped_places(ROOMS, struck, tempo, 1.0 if tempo else None)
    assert " ".join(f"{'|' * place.leapt}{place.written:g}" for place in places) == way


# The steps of the search, by hand: by the prices at the head of the module, after Kalman (1960) and Viterbi (1967)


def searching(
    *classes: int, seconds: float = 1.0, tempo: float | None = None, start: float | None = None
) -> tuple[_Search, _Strike]:
    """A search through the four bars that begins with one chord; and that chord."""
    strike = _Strike(seconds, frozenset(classes))
    return _Search(ROOMS, [strike], tempo, start), strike


def ways(*rows: tuple[float, float, float, float], quarter: float = 0.5, place: int = 0) -> _Ways:
    """A way a row: its cost, and the variances of beat, both and quarter; the beat is there after one second."""
    cost, beat, both, tempo = np.array(rows, float).T
    many = np.ones(len(rows))
    return _Ways(
        np.full(len(rows), place), cost, many, quarter * many, quarter * many, beat, both, tempo,
        np.zeros(len(rows), np.int64), np.zeros(len(rows), np.bool_),
    )  # fmt: skip


BEFORE = (1.0, 0.0004, 0.0001, 0.0002)


@pytest.mark.parametrize(
    ("classes", "place", "cost"),
    [
        ({0, 4, 7}, 0, 0.0),
        ({0, 2}, 0, 0.7),
        ({1}, 0, 2.5),
        ({1, 2}, 0, 3.2),
        ({1, 3}, 0, 5.0),
        ({1, 3, 6}, 0, 7.0),  # as much as anything costs
        ({5, 9, 3}, 8, 0.0),  # F, A and E flat over F7,
        ({5, 9, 3}, 7, 1.0),  # a quaver ahead of it,
        ({5, 9, 3}, 6, 3.2),  # and two, over C6: F is in the scale, and E flat is not
        ({0, 9}, 7, 0.0),
    ],
)
def test_a_chord_costs_what_lies_outside_the_harmony_of_its_place_or_of_the_next(
    classes: set[int], place: int, cost: float
) -> None:
    search, strike = searching(*classes)
    assert search._fit(strike)[place] == pytest.approx(cost)


def test_where_one_puts_chords_counts_beside_eight_chords_of_anybody() -> None:
    """On the beat anybody plays e^0.5 times as often as off it, of the eight quavers of a bar."""
    search, strike = searching()
    search._learn([])
    anybody = math.log(2 / (1 + math.exp(-0.5)))
    assert search._fit(strike)[:3] == pytest.approx([anybody, anybody + 0.5, anybody])
    search._learn([0, 8, 16, 24, 0, 8, 16, 24])
    share = 1 / (4 + 4 * math.exp(-0.5))
    downbeat = anybody - math.log((8 + 8 * share) / 16 / share)
    elsewhere = anybody - math.log(8 / 16)
    assert search._fit(strike)[:10] == pytest.approx(
        [downbeat, *(elsewhere + 0.5 * (n % 2) for n in range(1, 8)), downbeat, elsewhere + 0.5]
    )


def begun(search: _Search, quarter: float) -> dict[int, float]:
    """What it costs to begin at each place at a tempo, by seconds a quarter."""
    found = search._begun()
    near = np.flatnonzero(np.abs(found.quarter - quarter) < 1e-9)
    return {int(found.place[n]): float(found.cost[n]) for n in near}


def test_one_begins_at_the_top_or_at_a_bar_and_near_the_charts_tempo() -> None:
    search, _ = searching()
    slowest, fastest = (begun(search, 60 / tempo) for tempo in (36.0, 300.0))
    assert slowest[0] == pytest.approx((math.log(36 / 120) / 0.6) ** 2 / 2)
    assert fastest[0] == pytest.approx((math.log(300 / 120) / 0.6) ** 2 / 2)
    more = {place: round(cost - slowest[0], 6) for place, cost in slowest.items()}
    assert more == {place: 0 if not place else 1 if place < 4 else 3 if place % 8 == 0 else 6 for place in range(32)}
    found = search._begun()
    assert len({round(float(quarter), 9) for quarter in found.quarter}) == 26
    assert set(found.beat) == {1.0} and set(found.of_beat) == {0.012**2} and set(found.of_both) == {0.0}
    assert found.of_quarter == pytest.approx((0.03 * found.quarter) ** 2)
    assert found.leapt.all()


@pytest.mark.parametrize(
    ("seconds", "costs"),
    [
        (1.0, {0: 0.0, 2: 9.0, 8: 11.0, 5: 14.0}),
        (1.1, {0: 0.5 * 0.1**2 / 0.05**2}),
        (3.1, {8: 0.5 * 0.1**2 / 0.0061 + 0.5 * math.log(0.0061 / 0.0025), 0: 8.0}),  # 50 and 60 ms, as they add up
    ],
)
def test_one_who_was_counted_in_begins_on_its_beat_or_pays_for_it(seconds: float, costs: dict[int, float]) -> None:
    """The downbeat was due after a second, at 120."""
    search, _ = searching(seconds=seconds, tempo=120.0, start=1.0)
    found = begun(search, 0.5)
    assert {place: found[place] for place in costs} == pytest.approx(costs)
    other = 60 / (36 * (300 / 36) ** (10 / 25))
    assert begun(search, other)[0] == pytest.approx(8 + (math.log(60 / other / 120) / 0.15) ** 2 / 2)
    assert begun(searching(tempo=120.0)[0], 60 / 36)[0] == pytest.approx(12.0), "as much as another tempo ever costs"


def test_a_beat_goes_with_its_chord_as_far_as_it_was_in_doubt() -> None:
    """Off by 20 ms, where the beat varies by 20 ms and the chord by 12."""
    search, _ = searching()
    found = search._follows(ways(BEFORE), np.array([0.02]))
    gain, turn = 0.0004 / 0.000544, 0.0001 / 0.000544
    assert found.cost == pytest.approx(1 + 0.5 * 0.0004 / 0.000544 + 0.5 * math.log(0.000544 / 0.000144))
    assert found.beat == pytest.approx(1 + 0.02 * gain) and found.quarter == pytest.approx(0.5 + 0.02 * turn)
    assert found.of_beat == pytest.approx(0.0004 * (1 - gain)) and found.of_both == pytest.approx(0.0001 * (1 - gain))
    assert found.of_quarter == pytest.approx(0.0002 - 0.0001 * turn)
    steep = [search._follows(ways((1.0, 0.0004, 0.01, 0.0002)), np.array([off])).quarter for off in (-0.02, 0.02)]
    assert steep == [pytest.approx(0.5 / 1.15), pytest.approx(0.5 * 1.15)], "no farther from what one began with"


@pytest.mark.parametrize(
    ("off", "followed", "hurried", "late", "held"),
    [
        (0.03, 1, 0, 0, 0), (0.04, 1, 0, 0, 0), (0.05, 1, 1, 1, 0), (-0.03, 1, 0, 0, 0), (-0.05, 1, 1, 1, 0),
        (0.39, 1, 1, 1, 0), (0.4, 1, 1, 1, 1), (0.99, 1, 1, 1, 1), (1.0, 0, 0, 0, 1), (1.01, 0, 0, 0, 1),
        (-0.99, 1, 1, 1, 0), (-1.0, 0, 0, 0, 0),
    ],
)  # fmt: skip
def test_a_chord_off_the_beat_was_hurried_late_or_held_back(
    off: float, followed: int, hurried: int, late: int, held: int
) -> None:
    """By itself, or with all that follows: from then on the beat is where the chord is, or goes on without it."""
    search, _ = searching()
    one, by, passed = ways(BEFORE), np.array([off]), np.array([2.0])
    found = search._follows(one, by), search._hurries(one, by, passed), search._is_late(one, by), search._held(one, by)
    assert tuple(len(each.cost) for each in found) == (followed, hurried, late, held)
    if hurried:
        spread = 0.000544 + 0.07**2
        assert found[1].cost == pytest.approx(3.5 + 0.5 * off**2 / spread + 0.5 * math.log(spread / 0.000144))
        spread = 0.0104
        assert found[2].cost == pytest.approx(4.0 + 0.5 * off**2 / spread + 0.5 * math.log(spread / 0.000144))
        assert found[2].beat == 1.0 and found[2].of_beat == 0.0004 and found[2].of_both == 0.0001
    for each in (found[1], found[3]):
        assert all(each.beat == 1 + off) and all(each.of_beat == 0.012**2) and all(each.of_both == 0.0)
    assert not held or found[3].cost == pytest.approx(7.5)


def test_two_beats_on_the_beat_is_less_sure_by_what_tempo_and_touch_may_have_done() -> None:
    search, strike = searching(seconds=2.0)
    found = search._gone_on(ways((1.0, 0.0001, 0.00002, 0.0003)), strike)
    (n,) = np.flatnonzero((found.place == 4) & ~found.leapt)
    beat = 0.0001 + 4 * 0.00002 + 4 * 0.0003 + 0.25 * (0.0001 * 8 / 3 + 0.008**2 * 2)
    both, tempo = 0.00002 + 2 * 0.0003 + 0.0001 * 0.25 * 2, 0.0003 + 0.0001 * 0.25 * 2
    spread = beat + 0.012**2
    assert found.of_beat[n] == pytest.approx(beat * 0.000144 / spread)
    assert found.of_both[n] == pytest.approx(both * 0.000144 / spread)
    assert found.of_quarter[n] == pytest.approx(tempo - both**2 / spread)
    assert (found.beat[n], found.quarter[n]) == pytest.approx((2.0, 0.5))
    assert found.cost[n] == pytest.approx(1 + 0.5 * math.log(spread / 0.000144) - 0.5 * math.log(0.5))


def test_a_leap_goes_from_the_likeliest_way_to_any_bar() -> None:
    search, strike = searching(seconds=9.0)
    found = search._leaps(ways(BEFORE, (2.0, 0.1, 0.1, 0.1), place=4), strike.seconds)
    assert list(found.place) == [0, 8, 16, 24] and found.leapt.all()
    assert set(found.cost) == {17.0} and set(found.beat) == {9.0} and set(found.came) == {0}
    assert set(found.of_beat) == {0.012**2} and set(found.of_both) == {0.0} and set(found.of_quarter) == {0.0002}


@pytest.mark.parametrize(
    ("seconds", "first", "last"),
    [(3.0, 1, 11), (4.9, 1, 19), (5.5, 3, 20), (6.9, 8, 20)],
)
def test_the_next_chord_is_a_second_early_at_most_and_not_four_late(seconds: float, first: int, last: int) -> None:
    """From place 0 after one second, at half a second a quarter: as far as ten beats on."""
    search, strike = searching(seconds=seconds)
    found = search._gone_on(ways((1.0, 0.1, 0.0, 0.1)), strike)
    reached = found.place[~found.leapt]
    assert (reached.min(), reached.max()) == (first, last)


@pytest.mark.parametrize(
    ("quarters", "beats", "many"),
    [
        ((0.5, 0.5), (1.0, 1.0), 1),
        ((0.492, 0.501), (1.0, 1.0), 1),  # within a fiftieth
        ((0.5, 0.503), (1.0, 1.0), 2),
        ((0.5, 0.5), (0.962, 0.998), 1),  # within 80 ms
        ((0.5, 0.5), (0.965, 1.005), 2),
    ],
)
def test_of_ways_alike_at_a_place_the_likeliest_goes_on(
    quarters: tuple[float, float], beats: tuple[float, float], many: int
) -> None:
    two = replace(ways(BEFORE, (0.5, 0.0004, 0.0001, 0.0002)), quarter=np.array(quarters), beat=np.array(beats))
    kept = two.kept()
    assert list(kept.cost) == [0.5, 1.0][:many]
    assert len(replace(two, place=np.array([3, 4])).kept().cost) == 2, "at two places both do"


def test_a_way_dearer_than_a_leap_from_the_likeliest_is_given_up() -> None:
    rows = [(cost, 0.0004, 0.0001, 0.0002) for cost in (17.5, 1.0, 17.0, 16.9)]
    some = replace(ways(*rows), place=np.arange(4))
    assert list(some.kept().cost) == [1.0, 16.9, 17.0] and list(some.kept().place) == [1, 3, 2]


def test_a_thousand_ways_go_on() -> None:
    many = replace(ways(*[BEFORE] * 1001), place=np.arange(1001), cost=np.linspace(1.0, 2.0, 1001))
    assert list(many.kept().place) == list(range(1000)), "without the dearest"


def test_where_quavers_are_even_an_off_beat_sounds_half_way() -> None:
    search = _Search(replace(ROOMS, feel="straight"), [_Strike(1.0, frozenset())], None, None)
    assert list(search.sounding) == [n / 2 for n in range(32)]
