"""The scores of following, on examples small enough to be counted by hand."""

from __future__ import annotations

from math import inf

import pytest
from beat_scores import (
    Claim,
    TrueBeat,
    claims,
    counted_claims,
    counted_errors,
    equal_places,
    errors,
    held,
    miscalibration,
    recoveries,
    reliability,
    share,
    sounded,
    stray,
    unsteady,
)

from companion.messages import Beat


def beats(*pairs: tuple[float, float], sure: float = 0.9) -> list[Beat]:
    return [Beat(chart_beat, seconds, sure) for chart_beat, seconds in pairs]


def true(*pairs: tuple[float, float], marks: dict[int, str] | None = None) -> list[TrueBeat]:
    return [TrueBeat(b, s, (marks or {}).get(n, "")) for n, (b, s) in enumerate(pairs)]


EIGHT = true(*((float(n), 10 + 0.5 * n) for n in range(8)))


def test_a_beat_is_held_up_to_seventy_milliseconds_and_not_beyond() -> None:
    said = beats((0, 10.07), (1, 10.43), (2, 11.071), (3, 11.429))
    assert held(errors(EIGHT[:4], said)) == [True, True, False, False]


def test_only_an_announcement_of_the_same_place_counts() -> None:
    late = errors(EIGHT[:3], beats((0, 10.0), (5, 10.5), (2, 11.02)))
    assert late[0] == 0 and late[1] == inf and late[2] == pytest.approx(0.02)
    assert share(held(late)) == pytest.approx(2 / 3)


def test_the_nearest_time_through_counts() -> None:
    twice = true((0, 10), (1, 11), (0, 12), (1, 13))
    assert errors(twice, beats((0, 10.1), (0, 11.96), (1, 13.0))) == pytest.approx([0.1, 2.0, -0.04, 0.0])


def test_an_equal_place_counts_where_it_is_named() -> None:
    said = beats((16, 10.0), (17, 10.5))
    assert errors(EIGHT[:2], said) == [inf, inf]
    assert errors(EIGHT[:2], said, [[16.0], []]) == [0.0, inf]


def test_one_beat_too_many_puts_all_that_follow_out_of_the_count() -> None:
    truth = {6: 3.0, 8: 4.0, 9: 4.5, 10: 5.0, 12: 6.0}
    right = beats((0, 4.0), (1, 4.5), (2, 5.0), (3, 5.5), (4, 6.0))
    assert counted_errors(truth, right, 8) == [0, 0, 0, 0]
    extra = beats((0, 4.0), (1, 4.25), (2, 4.5), (3, 5.0), (4, 5.5))
    assert counted_errors(truth, extra, 8) == [0, -0.25, -0.5, -0.5]
    assert counted_errors(truth, right[:2], 8) == [0, 0, inf, inf]


def test_an_announcement_more_than_half_a_beat_away_is_astray() -> None:
    said = beats((0, 10.0), (1, 10.76), (2, 11.24), (99, 11.5), (4, 15.0))
    assert stray(EIGHT, said) == pytest.approx(2 / 4)  # place 99 is none of the player's


def test_nothing_is_astray_while_nobody_can_know_of_the_jump() -> None:
    jumping = true(*((float(b), 10 + 0.5 * n) for n, b in enumerate([0, 1, 2, 3, 0, 1, 2, 3])), marks={4: "jump"})
    # the last beat before the jump is at 11.5; four beats from it end at 13.5
    assert stray(jumping, beats((2, 11.9), (3, 12.4))) == 0.0
    assert stray(jumping, beats((2, 13.49), (2, 13.51))) == pytest.approx(1 / 2)


def test_the_way_back_is_counted_to_the_first_of_four_held_beats() -> None:
    truth = true(*((float(n), float(n)) for n in range(16)), marks={2: "jump", 9: "resume"})
    together = [True, True, False, True, False, True, True, True, True, False, True, True, True, False, True, True]
    assert recoveries(truth, together) == [3, inf]
    assert recoveries(truth, [True] * 16) == [0, 0]
    assert recoveries(EIGHT, [True] * 8) == []


def test_a_run_of_held_beats_does_not_reach_over_the_next_jump() -> None:
    truth = true(*((float(n), float(n)) for n in range(10)), marks={2: "jump", 5: "jump"})
    assert recoveries(truth, [True] * 10) == [inf, 0]


def test_an_even_player_met_by_alternating_lateness_is_unsteady() -> None:
    truth = true(*((float(n), 0.5 * n) for n in range(12)))
    late = [0.01 if n % 2 else -0.01 for n in range(12)]  # second differences of +-40 ms against 20 ms
    assert unsteady(truth, late) == pytest.approx(2.0)
    assert unsteady(truth, [0.03] * 12) == pytest.approx(0.0)


def test_too_few_held_beats_say_nothing_of_steadiness() -> None:
    truth = true(*((float(n), 0.5 * n) for n in range(9)))
    assert unsteady(truth, [0.0] * 9) is None  # seven triples
    jump = true(*((float(n), 0.5 * n) for n in range(11)), marks={5: "jump"})
    assert unsteady(jump, [0.0] * 11) is None  # nine triples, two of them across the jump


def test_a_bass_on_every_announced_beat_is_sounded_and_one_that_is_late_is_not() -> None:
    said = beats(*((float(n), 10 + 0.5 * n) for n in range(5)))
    assert sounded(said, [10.0, 10.509, 11.0, 11.5]) == 1.0
    assert sounded(said, [10.0, 10.511, 11.0, 11.5]) == pytest.approx(3 / 4)
    assert sounded(said, [10.0, 11.0]) == 0.0  # fewer than half of them
    assert sounded(said, []) is None


TUNE = [(0.0, 60), (2.0, 64), (4.0, 62), (8.0, 60), (10.0, 64), (12.0, 65)]
"""Sixteen quarters: two phrases that begin alike and part on their fifth beat."""


def test_two_phrases_that_begin_alike_are_equal_until_they_part() -> None:
    assert equal_places(TUNE, 16.0, 4.0, 0.0, [0.0, 2.0, 4.0, 5.0, 8.0]) == [[4.0, 8.0, 12.0], [10.0], [12.0], [], []]


def test_the_second_phrase_is_equal_to_the_first_and_the_form_goes_round() -> None:
    assert equal_places(TUNE, 16.0, 8.0, 8.0, [9.0, 12.0, 13.0]) == [[1.0], [4.0], []]
    assert equal_places(TUNE, 16.0, 8.0, 14.0, [14.0, 16.0, 20.0, 21.0]) == [[6.0], [8.0], [12.0], []]


def test_claims_are_judged_from_the_first_true_beat_to_the_last() -> None:
    said = [Beat(7, 9.5, 0.1), Beat(0, 10.0, 0.9), Beat(1, 10.6, 0.8), Beat(77, 11.0, 0.7), Beat(8, 14.0, 0.6)]
    assert claims(EIGHT, said) == [Claim(0.9, True), Claim(0.8, False), Claim(0.7, False)]


def test_claims_of_beats_that_nobody_marked_are_passed_over() -> None:
    assert counted_claims({8: 4.0, 10: 5.1}, beats((0, 4.0), (1, 4.5), (2, 5.0)), 8) == [
        Claim(0.9, True),
        Claim(0.9, False),
    ]


def test_of_ten_beats_called_seventy_percent_sure_seven_hold_when_calibrated() -> None:
    found = [Claim(0.7, n < 7) for n in range(10)] + [Claim(1.0, n < 3) for n in range(4)]
    table = reliability(found)
    assert [(b.low, b.count) for b in table] == [(0.7, 10), (0.9, 4)]
    assert table[0].sure == pytest.approx(table[0].right) and table[1].right == pytest.approx(0.75)
    assert miscalibration(table) == pytest.approx(4 * 0.25 / 14)
