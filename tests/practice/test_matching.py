"""Which key is which note: the likeliest path through a small chart, through slips, leaps and silences."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest

from companion.practice.matching import USUAL, ChartOnsets, Laid, MatchingCosts, StruckOnset, _Paths, match

SCALE = (60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79, 81, 83, 84, 86)


def line(pitches: tuple[int, ...] = SCALE) -> ChartOnsets:
    """One note a quarter."""
    count = len(pitches)
    opens = np.arange(count) % 4 == 0
    top = np.arange(count) == 0
    sets = tuple(frozenset({pitch}) for pitch in pitches)
    return ChartOnsets(np.arange(count, dtype=float), np.zeros(count), sets, opens, top, float(count))


def struck(*notes: tuple[float, int]) -> list[StruckOnset]:
    return [StruckOnset(seconds, frozenset({pitch})) for seconds, pitch in notes]


def path(chart: ChartOnsets, onsets: list[StruckOnset]) -> list[tuple[int, int]]:
    return [(laid.onset, laid.place) for laid in match(chart, onsets)]


def through(quarter: float = 0.5) -> list[tuple[float, int]]:
    return [(1.0 + n * quarter, pitch) for n, pitch in enumerate(SCALE)]


@pytest.mark.parametrize("quarter", [0.25, 0.5, 1.5])
def test_a_line_is_laid_note_on_note_at_any_tempo(quarter: float) -> None:
    assert path(line(), struck(*through(quarter))) == [(n, n) for n in range(16)]


def test_only_the_first_of_a_line_is_leapt_to() -> None:
    assert [laid.leapt for laid in match(line(), struck(*through()))] == [True, *[False] * 15]


def test_a_note_beside_the_right_one_is_laid_on_it_and_costs() -> None:
    notes = through()
    notes[6] = (notes[6][0], 70)
    found = match(line(), struck(*notes))
    assert found[6].place == 6
    assert [laid.unlike > 0 for laid in found] == [n == 6 for n in range(16)]


def test_a_note_left_out_leaves_its_place_empty() -> None:
    notes = through()
    del notes[6]
    assert [place for _, place in path(line(), struck(*notes))] == [n for n in range(16) if n != 6]


def test_a_key_too_many_is_laid_nowhere() -> None:
    notes = sorted([*through(), (4.27, 61)])
    laid = {onset for onset, _ in path(line(), struck(*notes))}
    assert {n for n in range(17) if n not in laid} == {notes.index((4.27, 61))}


def test_a_silence_of_any_length_is_no_leap() -> None:
    notes = [(seconds + (9.0 if n >= 8 else 0.0), pitch) for n, (seconds, pitch) in enumerate(through())]
    found = match(line(), struck(*notes))
    assert [laid.place for laid in found] == list(range(16))
    assert not any(laid.leapt for laid in found[1:])


def test_going_back_is_a_leap() -> None:
    notes = through()[:12] + [(7.0 + 0.5 * n, pitch) for n, pitch in enumerate(SCALE[4:])]
    found = match(line(), struck(*notes))
    assert [laid.place for laid in found] == [*range(12), *range(4, 16)]
    assert [n for n, laid in enumerate(found) if laid.leapt] == [0, 12]


def test_of_two_places_alike_the_nearest_is_meant() -> None:
    twice = line((*SCALE[:8], *SCALE[8:], *SCALE[:8], 90, 91, 92, 93))
    notes = [(1.0 + 0.5 * n, pitch) for n, pitch in enumerate((*SCALE[:6], *SCALE[:6]))]
    assert [place for _, place in path(twice, struck(*notes))] == [*range(6), *range(6)]


def test_the_whole_again_goes_over_the_end_without_a_leap() -> None:
    notes = [*through(), *((9.0 + 0.5 * n, pitch) for n, pitch in enumerate(SCALE))]
    found = match(line(), struck(*notes))
    assert [laid.place for laid in found] == [*range(16), *range(16)]
    assert not any(laid.leapt for laid in found[1:])


def test_company_disturbs_nothing() -> None:
    low = [StruckOnset(1.1 + 0.5 * n, frozenset({36, 43}), company=True) for n in range(16)]
    onsets = sorted([*struck(*through()), *low], key=lambda onset: onset.seconds)
    found = match(line(), onsets)
    assert [laid.place for laid in found] == list(range(16))
    assert not any(onsets[laid.onset].company for laid in found)


def test_something_else_altogether_is_laid_nowhere_in_the_main() -> None:
    notes = struck(*((1.0 + 0.21 * n, 40 + (n * 7) % 9) for n in range(24)))
    assert len(match(line(), notes)) < 12


def test_nothing_is_laid_on_nothing() -> None:
    assert match(line(), []) == []
    assert match(line(()), struck((1.0, 60))) == []


# What it costs to take one onset for another


@pytest.mark.parametrize(
    ("written", "played", "cost"),
    [
        ({60}, {60}, 0.0),
        ({60}, {72}, USUAL.octave),
        ({60}, {48}, USUAL.octave),
        ({60}, {59}, USUAL.neighbour),
        ({60}, {61}, USUAL.neighbour),
        ({60}, {58}, USUAL.neighbour),
        ({60}, {62}, USUAL.neighbour),
        ({60}, {57}, USUAL.wrong),
        ({60}, {63}, USUAL.wrong),
        ({60}, {60, 64}, USUAL.also),
        ({60}, {60, 64, 67}, 2 * USUAL.also),
        ({60, 64}, {60}, 1.2 / 2**0.5),
        ({60, 64}, {60, 65}, USUAL.neighbour / 2**0.5),
        ({60, 64}, {72, 76}, 2 * USUAL.octave / 2**0.5),
        ({60, 64, 67, 71}, {60, 64, 67, 71}, 0.0),
        ({0}, {1}, USUAL.neighbour),  # the ends of the numbers (MIDI 1.0)
        ({127}, {126}, USUAL.neighbour),
        ({127}, {7}, USUAL.octave),
    ],
)
def test_a_key_is_the_less_likely_meant_for_another_the_odder_the_slip(
    written: set[int], played: set[int], cost: float
) -> None:
    chart = replace(line((60, 62, 64, 65)), pitches=(frozenset(written), *(frozenset({n}) for n in (30, 32, 34))))
    onsets = [StruckOnset(1.0, frozenset(played)), *struck((1.5, 30), (2.0, 32), (2.5, 34))]
    found = match(chart, onsets)
    assert [laid.place for laid in found] == [0, 1, 2, 3]
    assert found[0].unlike == pytest.approx(cost)


def test_from_likely_to_unlikely_a_slip_is_one_key_more_the_octave_the_next_key_and_any_key() -> None:
    """Common practice: the hand is right and the finger isn't, more often than both are wrong."""
    assert 0 < USUAL.also < USUAL.octave < USUAL.neighbour < USUAL.wrong
    assert USUAL.company < USUAL.grace < USUAL.extra
    assert USUAL.start[0] > USUAL.start[1] > USUAL.start[2] == 0.0
    assert USUAL.leap[0] > USUAL.leap[1] > USUAL.leap[2] > USUAL.interval, "whoever hesitates has not gone elsewhere"


@pytest.mark.parametrize("count", [1, 2, 3])
def test_the_shortest_charts_and_takes_are_laid_as_well(count: int) -> None:
    assert path(line(SCALE[:count]), struck(*through()[:count])) == [(n, n) for n in range(count)]
    assert path(line(), struck(*through()[:count])) == [(n, n) for n in range(count)]
    assert path(line(SCALE[:1]), struck(*((1.0 + 0.5 * n, 60) for n in range(count)))) == [(n, 0) for n in range(count)]


@pytest.mark.parametrize("slip", [0, 7, 15])
def test_an_octave_slip_is_laid_on_its_note_at_either_end_and_in_the_middle(slip: int) -> None:
    notes = through()
    notes[slip] = (notes[slip][0], notes[slip][1] + 12)
    found = match(line(), struck(*notes))
    assert [laid.place for laid in found] == list(range(16)) and found[slip].unlike == pytest.approx(USUAL.octave)


# What stands here is what is laid today: when it changes, see whether the path is the likelier one


PHRASES = (*SCALE, *SCALE[::-2], 60, 67, 64, 72, 59, 71, 62, 74)


def stumbling(seed: int) -> list[StruckOnset]:
    """Somebody who finds their way through thirty-two notes with slips, stops, leaps, ornaments and something else."""
    dice = random.Random(seed)
    at, quarter, place = 1.0, dice.choice((0.3, 0.5, 0.8)), dice.choice((0, 0, 4, 9))
    found: list[StruckOnset] = []
    while len(found) < 44:
        match dice.choice(("on",) * 6 + ("slip", "out", "extra", "grace", "stop", "leap", "else", "tempo", "both")):
            case "out":
                skipped = dice.randint(1, 9)
                place, at = place + skipped, at + skipped * quarter * dice.choice((0.0, 1.0, 1.0))
            case "extra":
                found.append(StruckOnset(at - 0.45 * quarter, frozenset({dice.randint(50, 90)})))
            case "grace":
                found.append(StruckOnset(at - 0.1, frozenset({PHRASES[place % 32] - 1})))
            case "stop":
                at += dice.choice((0.25, 0.4, 0.7, 1.5, 6.0)) * quarter
            case "leap":
                place = dice.choice((0, 4, 8, dice.randint(0, 31)))
                at += dice.choice((0.0, 0.3, 2.0)) * quarter
            case "else":
                for _ in range(dice.randint(3, 10)):
                    company = dice.random() < 0.3
                    found.append(StruckOnset(at, frozenset({dice.randint(48, 84)}), company))
                    at += dice.choice((0.5, 1.0)) * quarter
            case "tempo":
                quarter *= dice.choice((0.75, 0.88, 1.12, 1.4))
        pitch = PHRASES[place % 32] + dice.choice((0,) * 9 + (1, -2, 3, 12))
        keys = frozenset({pitch, pitch - dice.choice((3, 4))}) if dice.random() < 0.15 else frozenset({pitch})
        found.append(StruckOnset(at + dice.gauss(0, 0.04) * quarter, keys))
        place, at = place + 1, at + quarter
    return sorted(found, key=lambda onset: onset.seconds)


def in_runs(found: list[Laid]) -> str:
    """A path as runs of onsets on runs of places: "0-3:4-7"; a leap is "|", what is unlike has its price."""
    told: list[str] = []
    for before, one in zip([None, *found], found, strict=False):
        goes_on = before and one.onset == before.onset + 1 and one.place == before.place + 1 and not one.leapt
        price = f" {one.unlike:.2f}" if one.unlike else ""
        if goes_on and not price and told[-1][-1] != ")":
            first = told[-1].split("-")[0]
            told[-1] = f"{first}-{one.onset}"
        else:
            told.append(f"{'|' * one.leapt}{one.onset}:{one.place}{f' ({price[1:]})' if price else ''}")
    return ", ".join(told)


@pytest.mark.parametrize(
    ("seed", "laid"),
    [
        (63, ("|12:4, 13:5 (2.60), 14:6 (0.90), 15:7 (0.90), 16:8 (0.30), 17:9, 18:10 (2.60), 19:11, "
             "20:12 (2.60), 21:13, 22:14 (4.00), 26:15 (0.90), 27:16 (0.90), 28:17-29")),
        (33, ("|0:0, 2:1 (2.60), 4:2 (2.60), 5:3, 7:4-10, 11:8 (2.60), 12:9-14, |32:4, 33:5 (2.90), 34:6 (2.60), 36:7, "
             "37:8 (0.30), 38:9 (0.30), 40:10 (2.90), 41:11 (0.90), 42:12 (0.90), 43:13")),
        (60, ("|1:4-2, 3:6 (2.60), 4:7-5, 7:9, 8:10 (2.60), 10:11-12, 13:14 (4.00), 14:15, 15:22, 17:23, 21:24 (0.90), "
             "28:25, 29:26 (0.30), 30:27 (2.60), 31:28-32, 33:30 (4.00), 35:31, 36:0, 37:1 (4.00), 38:2, "
             "39:5-41, 43:8")),
        (70, ("|0:29, 2:30, 3:31 (0.90), 4:0 (0.90), 5:1 (4.00), 8:2 (0.90), 10:3 (0.90), |13:0 (4.00), 15:1, 17:2, "
             "18:3 (0.90), 19:4 (4.00), 20:5-21, |23:0-24, 25:2 (2.60), 26:3, 28:4-30, 32:7, 33:8 (2.60), 34:9-36, "
             "38:12, 40:13")),
        (15, "|1:0, 6:1"),
        (29, ("|0:0 (2.60), 1:1-3, 5:4-6, 7:6 (2.60), 15:7 (2.60), 16:8, 17:9 (2.60), 20:10 (0.90), 22:11-23, "
             "25:15 (0.30), 26:16-27, 28:18 (2.90), 29:19-33, 34:24 (2.60), |38:3, 39:4 (4.00), 40:5-41, 42:7 (0.90), "
             "43:8 (0.30)")),
    ],
)  # fmt: skip
def test_whoever_stumbles_through_a_tune_is_laid_where_they_were(seed: int, laid: str) -> None:
    """An onset and its place, "7:4-10" for onsets 7 to 10 on places from 4 on; every other note may be swung."""
    chart = replace(line(PHRASES), loose=np.where(np.arange(len(PHRASES)) % 2, 0.06, 0.0))
    assert in_runs(match(chart, stumbling(seed))) == laid


@pytest.mark.parametrize(("apart", "laid"), [(0.118, 1), (0.122, 2), (3.99, 2), (4.01, 1)])
def test_two_notes_a_quarter_apart_tell_any_tempo_from_fifteen_to_five_hundred(apart: float, laid: int) -> None:
    assert len(path(line(), struck((1.0, 60), (1.0 + apart, 62)))) == laid


# Where one price outweighs another, with no regard to time: a note that is laid is worth 2.5

TIMELESS = replace(USUAL, interval=0.0, far=0.0, wrong=99.0, neighbour=99.0, octave=99.0)
STRANGE = 20
"""A key that is none of the line's, nor near one."""


def by_prices(costs: MatchingCosts, keys: Sequence[int], apart: Mapping[int, float] | None = None) -> list[Laid]:
    """The path of keys half a second apart; ``apart``: from some onset to the next, in seconds."""
    at, found = 1.0, []
    for n, key in enumerate(keys):
        found.append(StruckOnset(at, frozenset({key})))
        at += (apart or {}).get(n, 0.5)
    return match(line(), found, costs)


@pytest.mark.parametrize(
    ("place", "price"),
    [
        (9, 3.0 + 4 * 0.9 - 1.5 * 2 * 6 / 16),  # five notes left out; six of sixteen away
        (13, 3.0 + 8 * 0.9 - 1.5 * 2 * 6 / 16),  # nine; six away the other way round
        (5, 3.0 - 1.5 * 2 * 2 / 16),
    ],
)
def test_notes_are_left_out_where_that_costs_less_than_a_leap_so_far(place: int, price: float) -> None:
    keys = [*SCALE[:4], *SCALE[place:], *SCALE[:4]]
    for leap, leapt in ((price - 0.02, True), (price + 0.02, False)):
        found = by_prices(replace(TIMELESS, leap=(leap, leap, leap), far=USUAL.far), keys)
        assert [one.place for one in found] == [*range(4), *range(place, 16), *range(4)]
        assert found[4].leapt is leapt


@pytest.mark.parametrize(("apart", "extra"), [(0.5, 1.5), (0.14, 1.5), (0.12, 0.8)])
def test_a_strange_key_is_too_many_where_that_and_a_note_missing_cost_less_than_a_wrong_one(
    apart: float, extra: float
) -> None:
    """An ornament is followed within 130 ms."""
    keys = [*SCALE[:6], STRANGE, *SCALE[7:]]
    for wrong, laid in ((extra + 3.0 + 2.5 - 0.02, True), (extra + 3.0 + 2.5 + 0.02, False)):
        found = by_prices(replace(TIMELESS, wrong=wrong), keys, {6: apart})
        assert ((6, 6) in [(one.onset, one.place) for one in found]) is laid


def test_a_strange_key_of_the_other_hand_costs_little() -> None:
    onsets = struck(*through())
    onsets[6] = StruckOnset(onsets[6].seconds, frozenset({STRANGE}), company=True)
    for wrong, laid in ((0.3 + 3.0 + 2.5 - 0.02, True), (0.3 + 3.0 + 2.5 + 0.02, False)):
        found = match(line(), onsets, replace(TIMELESS, wrong=wrong))
        assert (6 in [one.onset for one in found]) is laid


@pytest.mark.parametrize(("strange", "leapt"), [(7, False), (8, True)])
def test_a_step_goes_over_seven_keys_that_are_nothing_and_more_are_a_leap(strange: int, leapt: bool) -> None:
    found = by_prices(TIMELESS, [*SCALE[:8], *[STRANGE] * strange, *SCALE[8:]])
    assert [one.place for one in found] == list(range(16))
    assert found[8].leapt is leapt


@pytest.mark.parametrize(("left", "leapt"), [(23, False), (24, True)])
def test_a_step_leaves_out_23_notes_and_more_are_a_leap(left: int, leapt: bool) -> None:
    long = tuple(range(40, 80))
    onsets = struck(*((1.0 + n / 2, key) for n, key in enumerate([*long[:4], *long[4 + left :]])))
    found = match(line(long), onsets, replace(TIMELESS, missing=(0.1, 0.1)))
    assert found[4].place == 4 + left and found[4].leapt is leapt


@pytest.mark.parametrize(
    ("strange", "price"),
    [
        (10, 0.8 + 2.5),  # away for eleven keys instead of ten,
        (5, 4.0 + 6 * 0.8 - 5 * 1.5 + 2.5),  # for six instead of five that were too many,
        (3, 1.5 + 2.5),  # or one more too many
    ],
)
def test_one_note_after_many_strange_keys_is_gone_on_from_where_the_leap_costs_less(strange: int, price: float) -> None:
    for leap, laid in ((price - 0.02, True), (price + 0.02, False)):
        costs = replace(TIMELESS, leap=(leap, leap, leap), missing=(99.0, 99.0))
        found = by_prices(costs, [*SCALE[:6], *[STRANGE] * strange, SCALE[13]])
        assert (found[-1].place == 13) is laid


@pytest.mark.parametrize(("first", "price"), [(7, 1.5 + 2.5 + 3.0), (15, 1.5 + 2.5)])
def test_to_begin_within_a_bar_costs_a_note_less_than_to_begin_with_the_next_bar_or_the_top(
    first: int, price: float
) -> None:
    """Or else the first key is taken for one too many."""
    keys = [*SCALE[first:], *SCALE[:8]]
    for start, laid in ((price - 0.02, 0), (price + 0.02, 1)):
        assert by_prices(replace(TIMELESS, start=(start, 3.0, 0.0)), keys)[0].onset == laid


@pytest.mark.parametrize(("place", "price"), [(3, 1.5 + 2.5 + 9.0), (15, 1.5 + 2.5 + 8.5)])
def test_so_it_is_with_leaping(place: int, price: float) -> None:
    keys = [*SCALE[:12], *SCALE[place:], *SCALE[:3]]
    for leap, onset in ((price - 0.02, 12), (price + 0.02, 13)):
        costs = replace(TIMELESS, leap=(leap, 9.0, 8.5), missing=(99.0, 99.0))
        found = by_prices(costs, keys)
        assert found[12].leapt and found[12].onset == onset


# A step in time, by hand: a Kalman filter on the logarithm of the tempo, with Student's t of three degrees


def stepped(*seconds: float, quarter: float = 0.5, doubt: float = 0.0265) -> tuple[float, float, float]:
    """Cost, tempo and doubt at the second note of the line, whose tempo is known so well at the first."""
    onsets = struck(*zip(seconds, SCALE, strict=False))
    paths = _Paths(line(), onsets, USUAL)
    total, tempo, doubts = np.full((2, 16), np.inf), np.zeros((2, 16)), np.full((2, 16), 4.0)
    total[0, 0], tempo[0, 0], doubts[0, 0] = 0.0, np.log(quarter), doubt
    came, leapt = np.full((2, 16), -1), np.ones((2, 16), np.bool_)
    paths._go_on(1, total, tempo, doubts, came, leapt, np.array([0.0, 0.0, 0.0]))
    assert came[1, 1] == 0 and not leapt[1, 1]
    return float(total[1, 1]), float(tempo[1, 1]), float(doubts[1, 1])


NOISE = 0.07**2 + 0.04**2


@pytest.mark.parametrize("off", [0.1, 0.4, -0.2])
def test_a_step_costs_by_how_unlikely_it_is_and_the_tempo_goes_with_it(off: float) -> None:
    variance = 0.0265 + 0.07**2
    spread = variance + NOISE
    apart = off**2 / spread
    cost, tempo, doubt = stepped(1.0, 1.0 + 0.5 * np.exp(off))
    assert cost == pytest.approx(2 * np.log(1 + apart / 3) + 0.5 * np.log(spread / 0.08**2))
    gain = variance / spread * 4 / (3 + max(apart, 1.0))  # the farther off the less is believed
    assert tempo == pytest.approx(np.log(0.5) + gain * off) and doubt == pytest.approx(variance * (1 - gain))


def test_a_step_far_out_of_time_costs_no_more_and_leaves_the_tempo_in_doubt() -> None:
    assert stepped(1.0, 6.0) == pytest.approx((6.0, np.log(0.5), 0.35**2))
    assert stepped(1.0, 51.0, doubt=0.3)[2] == pytest.approx(0.3 + 0.07**2)


def test_a_first_step_tells_the_tempo() -> None:
    assert stepped(1.0, 1.7, doubt=4.0) == pytest.approx((1.0, np.log(0.7), NOISE + 0.02))
