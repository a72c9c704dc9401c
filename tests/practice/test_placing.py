"""Onsets in order through the choruses, and the stretches in which something else is played."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.practice.expected import expected_notes
from companion.practice.judging import BELOW, TOGETHER, Struck
from companion.practice.matching import Laid, StruckOnset
from companion.practice.placing import (
    TakePlace,
    as_written,
    chart_onsets,
    in_time,
    laid_places,
    quarter_at,
    stretches_away,
    take_onsets,
    through_choruses,
    with_followed,
)
from companion.resources import chart_path

MELODY = {"melody"}


@pytest.fixture(scope="module")
def form() -> Form:
    return load(chart_path("ferry-without-lights")).unfold()


def test_the_onsets_of_a_form_rise_and_its_pickup_lies_at_their_end(form: Form) -> None:
    onsets = chart_onsets(form, expected_notes(form, MELODY))
    assert list(onsets.beat) == sorted(onsets.beat)
    assert onsets.beat[-1] >= float(form.length - form.pickup)
    assert onsets.top[0] and onsets.top.sum() == 2
    assert set(onsets.pitches[0]) == {note.pitch.midi for note in form.melody if note.beat == 0}


def test_keys_struck_together_are_one_onset_and_low_ones_are_company(form: Form) -> None:
    struck = [Struck(1.0, 71), Struck(1.02, 76), Struck(1.5, 30)]
    onsets = take_onsets(form, MELODY, expected_notes(form, MELODY), struck)
    assert [(set(onset.pitches), onset.company) for onset in onsets] == [({71, 76}, False), ({30}, True)]


def test_a_player_of_chords_besides_the_melody_brings_company_but_for_a_lone_key_as_high_as_the_melody(
    form: Form,
) -> None:
    struck = [Struck(1.0, 71), Struck(2.0, 67), Struck(2.01, 71), Struck(3.0, 50)]
    onsets = take_onsets(form, {"melody", "chords"}, expected_notes(form, MELODY), struck)
    assert [onset.company for onset in onsets] == [False, True, True]
    assert take_onsets(form, {"melody", "bass"}, expected_notes(form, MELODY), struck[:1])[0].company


def onsets(count: int) -> list[StruckOnset]:
    return [StruckOnset(1.0 + 0.5 * n, frozenset({60})) for n in range(count)]


def test_a_stretch_with_little_as_written_is_not_laid_at_all() -> None:
    found = [Laid(n, n, n == 0, 0.0 if n < 20 or n >= 40 else 4.0) for n in range(60)]
    kept = as_written(onsets(60), found)
    assert {laid.onset for laid in kept} >= {*range(16), *range(44, 60)}
    assert not {laid.onset for laid in kept} & set(range(24, 36))
    assert [laid.leapt for laid in kept].count(True) == 2  # where it begins, and where it is taken up again


def test_a_wrong_note_now_and_then_is_as_written() -> None:
    found = [Laid(n, n, n == 0, 4.0 if n % 4 == 0 else 0.0) for n in range(60)]
    assert as_written(onsets(60), found) == found


def test_the_second_time_through_goes_on_counting(form: Form) -> None:
    expected = expected_notes(form, MELODY)
    chart = chart_onsets(form, expected)
    last = len(chart.beat) - 1
    path = [Laid(0, last - 2, True, 0.0), Laid(1, last - 1, False, 0.0), Laid(2, 0, False, 0.0)]
    laid = through_choruses(form, laid_places(form, expected, path, onsets(3)))
    assert laid[2].written == pytest.approx(float(form.length))
    assert laid[0].written < laid[1].written < laid[2].written


def test_who_comes_in_with_the_pickup_comes_in_below_zero(form: Form) -> None:
    expected = expected_notes(form, MELODY)
    chart = chart_onsets(form, expected)
    first = int(chart.top.nonzero()[0][-1])
    path = [Laid(0, first, True, 0.0), *(Laid(n + 1, n, False, 0.0) for n in range(3))]
    if first != len(chart.beat) - 1:
        path = [Laid(n - first, n % len(chart.beat), n == first, 0.0) for n in range(first, len(chart.beat) + 3)]
    laid = through_choruses(form, laid_places(form, expected, path, onsets(len(path))))
    assert laid[0].written == pytest.approx(-float(form.pickup))
    assert laid[-1].written > 0


def test_some_notes_in_a_row_that_are_laid_nowhere_are_a_stretch_away() -> None:
    known = [1.0, 2.0, 12.0]
    struck = [*known, *(3.0 + n for n in range(8))]
    assert set(stretches_away(known, sorted(struck))) == {2}
    assert stretches_away(known, sorted([*known, 3.0, 4.0])) == {}


def test_beats_as_followed_stand_in_a_stretch_away_and_nowhere_else(form: Form) -> None:
    known = [TakePlace(float(n), float(n), 1.0 + n, n == 0) for n in (0, 1, 12)]
    followed = [(float(n), 1.01 + n) for n in range(20)]
    found = with_followed(form, known, followed, {2: (2.1, 12.9)})
    assert [place.beat for place in found] == [0.0, 1.0, *map(float, range(2, 12)), 12.0]
    assert [place.free for place in found] == [False, False, *[True] * 10, False]


def test_the_tempo_at_a_place_is_that_of_the_steps_before_it() -> None:
    places = [TakePlace(float(n), float(n), 0.5 * n if n < 8 else 3.5 + 0.8 * (n - 7), n == 0) for n in range(20)]
    assert quarter_at(places, 7) == pytest.approx(0.5)
    assert quarter_at(places, 19) == pytest.approx(0.8)


@pytest.mark.parametrize(("passed", "step", "right"), [(4.2, 4.0, True), (5.0, 4.0, False), (17.5, 16.0, True)])
def test_the_longer_the_silence_the_less_exact_its_count(passed: float, step: float, right: bool) -> None:
    assert in_time(passed, step) is right


# Counts and moments exactly on a limit


@pytest.mark.parametrize(("others", "away"), [(0, False), (1, False), (5, False), (6, True), (7, True)])
def test_six_strokes_in_a_row_that_are_laid_nowhere_are_a_stretch_away_and_five_are_not(
    others: int, away: bool
) -> None:
    struck = [0.0, *(10.0 + n for n in range(others)), 30.0]
    between = {1: (10.0 - 0.5, 10.0 + others - 1 + 4.0)} if away else {}
    assert stretches_away([0.0, 30.0], struck) == between


def test_a_stretch_away_keeps_clear_of_the_notes_that_are_known() -> None:
    crowded = [8.0 + n / 4 for n in range(1, 8)]
    assert stretches_away([8.0, 10.0], [8.0, *crowded, 10.0]) == {1: (8.0 + 0.1, 10.0 - 0.1)}


def test_whoever_plays_something_else_first_or_last_is_away_before_and_after_what_is_known() -> None:
    known = [20.0, 21.0]
    before, after = [float(n) for n in range(6)], [float(n) for n in range(40, 46)]
    assert stretches_away(known, [*before, *known, *after]) == {0: (0.0 - 0.5, 5.0 + 4.0), 2: (40.0 - 0.5, 45.0 + 4.0)}
    assert stretches_away([], before) == {0: (-0.5, 9.0)}


@pytest.mark.parametrize(("unlike", "left"), [(6, False), (7, True)])
@pytest.mark.parametrize("after", [0, 20])
def test_a_part_is_left_when_something_else_is_the_larger_half_of_twelve_and_lasts(
    unlike: int, left: bool, after: int
) -> None:
    """In the middle of a take and at its end. (Six at the end outweigh what is near them at five onsets in a row.)"""
    costs = [0.0] * 30 + [4.0] * unlike + [0.0] * after
    path = [Laid(n, n, n == 0, cost) for n, cost in enumerate(costs)]
    kept = as_written(onsets(len(costs)), path)
    assert (len(kept) < len(path)) == left


@pytest.mark.parametrize(("cost", "kept"), [(0.99, True), (1.0, False)])
def test_what_is_as_unlike_as_a_wrong_note_is_not_as_written(cost: float, kept: bool) -> None:
    path = [Laid(n, n, n == 0, cost) for n in range(12)]
    assert bool(as_written(onsets(12), path)) == kept


@pytest.mark.parametrize(
    ("passed", "step", "right"),
    [
        (1.34, 1.0, True), (1.36, 1.0, False), (0.66, 1.0, True), (0.64, 1.0, False),  # a third of a quarter at least
        (11.1, 10.0, True), (11.3, 10.0, False), (8.9, 10.0, True), (8.7, 10.0, False),  # an eighth of a long silence
    ],
)  # fmt: skip
def test_a_count_of_silence_is_right_early_and_late_alike(passed: float, step: float, right: bool) -> None:
    assert in_time(passed, step) is right


def steady(*beats: float, quarter: float = 0.5) -> list[TakePlace]:
    return [TakePlace(beat, beat, beat * quarter, False) for beat in beats]


def test_where_nothing_tells_the_tempo_it_is_a_hundred_and_twenty() -> None:
    assert quarter_at(steady(0.0, quarter=2.0), 0) == 0.5
    assert quarter_at(steady(4.0, 4.0, quarter=2.0), 1) == 0.5, "two on one beat tell nothing"


@pytest.mark.parametrize(("fast", "quarter"), [(5, 0.25), (4, 1.0)])
def test_a_tempo_is_told_by_the_steps_of_the_last_eight_beats_and_no_more(fast: int, quarter: float) -> None:
    """Nine steps begin or end within them: whichever tempo has most."""
    slow = steady(*range(10), quarter=1.0)
    places = [*slow, *(TakePlace(9.0 + n, 9.0 + n, 9.0 + n / 4, False) for n in range(1, fast + 1))]
    assert quarter_at(places, len(places) - 1) == quarter


def test_a_tempo_is_never_told_across_a_leap() -> None:
    after = [TakePlace(40.0 + n, 40.0 + n, 11.0 + n / 4, n == 0) for n in range(3)]
    places = [*steady(*range(10), quarter=1.0), *after]
    assert quarter_at(places, 12) == quarter_at(places, 10) == 0.25
    assert quarter_at([*places[:10], *steady(9.0)], 9) == 1.0


def test_a_leap_far_ahead_lands_in_the_chorus_that_the_silence_leads_to(form: Form) -> None:
    """Who rests for a whole chorus in time is a chorus on; who waits for no time that fits goes on in this one."""
    length = float(form.length)
    first = steady(*map(float, range(8)))
    for silence, chorus in ((length, 1), (2 * length, 2), (length / 2, 0)):
        later = TakePlace(8.0, 8.0, (8.0 + silence) * 0.5, True)
        placed = through_choruses(form, [*first, later])
        assert placed[-1].beat == placed[-1].written == 8.0 + chorus * length


def test_a_beat_that_comes_again_is_the_next_chorus_but_a_pickup_into_the_first_is_not(form: Form) -> None:
    length = float(form.length)
    again = [*steady(0.0, 1.0), TakePlace(0.0, 0.0, 20.0, False), TakePlace(1.0, 1.0, 20.5, False)]
    assert [place.beat for place in through_choruses(form, again)] == [0.0, 1.0, length, length + 1.0]
    same = [*steady(3.0), TakePlace(3.0, 3.0, 2.0, False)]
    assert [place.beat for place in through_choruses(form, same)] == [3.0, 3.0 + length]
    pickup = [TakePlace(-1.0, -1.0, 0.0, True), *steady(0.0, 1.0)]
    assert [place.beat for place in through_choruses(form, pickup)] == [-1.0, 0.0, 1.0]


def test_followed_beats_that_go_on_are_no_leap_over_the_double_bar_either(form: Form) -> None:
    length = float(form.length)
    followed = [(length - 2, 1.0), (length - 1, 1.5), (0.0, 2.0), (1.0, 2.5), (5.0, 3.0), (4.0, 3.5)]
    found = with_followed(form, [TakePlace(5.0, 5.0, 9.0, False)], followed, {0: (0.0, 5.0)})
    assert [place.beat for place in found] == [length - 2, length - 1, 0.0, 1.0, 5.0, 4.0, 5.0]
    assert [place.leapt for place in found] == [True, False, False, False, True, True, True]


def test_followed_beats_are_taken_from_the_beginning_of_a_stretch_and_up_to_its_end(form: Form) -> None:
    followed = [(0.0, 1.0), (1.0, 2.0), (2.0, 3.0)]
    found = with_followed(form, [], followed, {0: (1.0, 3.0)})
    assert [place.seconds for place in found] == [1.0, 2.0]


def test_keys_within_the_time_of_a_chord_are_one_onset_at_their_median(form: Form) -> None:
    expected = expected_notes(form, MELODY)
    at = [1.0, 1.0 + TOGETHER / 2, 1.0 + TOGETHER * 0.99]
    (one,) = take_onsets(form, MELODY, expected, [Struck(seconds, 70 + n) for n, seconds in enumerate(at)])
    assert one.seconds == at[1] and one.pitches == {70, 71, 72}
    assert len(take_onsets(form, MELODY, expected, [Struck(1.0, 70), Struck(1.001 + TOGETHER, 71)])) == 2
    assert len(take_onsets(form, MELODY, expected, [Struck(0.0, 70), Struck(TOGETHER, 71)])) == 1
    chain = [Struck(1.0 + 0.7 * n * TOGETHER, 70 + n) for n in range(3)]
    assert len(take_onsets(form, MELODY, expected, chain)) == 2, "a chord is counted from its first key"


def test_low_keys_are_company_from_a_fixed_distance_below_the_melody_on(form: Form) -> None:
    expected = expected_notes(form, MELODY)
    lowest = min(note.pitch for note in expected)
    for pitch, company in ((lowest - BELOW - 1, True), (lowest - BELOW, False), (lowest, False)):
        (one,) = take_onsets(form, MELODY, expected, [Struck(1.0, pitch)])
        assert one.company is company
    for pitch, company in ((lowest - 1, True), (lowest, False)):
        (one,) = take_onsets(form, {"melody", "chords"}, expected, [Struck(1.0, pitch)])
        assert one.company is company


def test_phrases_open_after_two_beats_of_rest_on_bar_lines_and_at_the_top(stand: Any) -> None:
    """Bar 1: a crotchet on 1, after one beat's rest another on 2½ …; what opens is told by the bar and the rests."""
    chart = stand.chart(("| C6 | % |", "| C2 z2 E2 z G | z8 |"))
    tune = chart.unfold()
    found = chart_onsets(tune, expected_notes(tune, MELODY))
    assert list(found.opens) == [True, True, False] and list(found.top) == [True, False, False]
    assert found.length == 8.0 and [set(pitches) for pitches in found.pitches] == [{60}, {64}, {67}]


# A tune of fourteen notes with a pickup, note for note

TUNE = parse_toml("""
format = 1
title = "Two before the Bar"
key = "C major"
form = "A B"
feel = "swing"

[section.A]
chords = "| C6 | C6 |"
melody = "CD | E2 F2 z2 G2 | A2 z AB2 z2 |"

[section.B]
chords = "| C6 | C6 |"
melody = "| z2 c2 d2 e2 | f4 z2 CD |"
""").unfold()
EXPECTED = expected_notes(TUNE, MELODY)


def test_the_onsets_of_a_tune_lie_half_way_between_even_and_swung() -> None:
    """An off-beat lies from a half to five sevenths: its middle is 0.6071, and a third of the room its deviation."""
    found = chart_onsets(TUNE, EXPECTED)
    room = 2.5 / 3.5 - 0.5
    quavers = {4, 11}
    beats = [0, 1, 3, 4, 5.5, 6, 9, 10, 11, 12, 15, 15.5]
    assert list(found.beat) == pytest.approx([b + room / 2 * (n in quavers) for n, b in enumerate(beats)], abs=1e-5)
    assert list(found.loose) == pytest.approx([room / 3 * (n in quavers) for n in range(12)], abs=1e-5)
    assert [next(iter(one)) for one in found.pitches] == [64, 65, 67, 69, 69, 71, 72, 74, 76, 77, 60, 62]
    # The top, the first after two beats' rest, bar lines, the first of a section, and the pickup.
    assert [n for n, opens in enumerate(found.opens) if opens] == [0, 2, 3, 6, 9, 10]
    assert [n for n, top in enumerate(found.top) if top] == [0, 10]
    assert found.length == 16.0


@pytest.mark.parametrize(
    ("places", "leaps", "written", "through"),
    [
        (range(12), [], [0, 1, 3, 4, 5.5, 6, 9, 10, 11, 12, 15, 15.5], [0, 1, 3, 4, 5.5, 6, 9, 10, 11, 12, 15, 15.5]),
        ([10, 11, 0, 1], [], [-1, -0.5, 0, 1], [-1, -0.5, 0, 1]),
        ([11, 0, 1], [], [-0.5, 0, 1], [-0.5, 0, 1]),
        ([10, 11], [], [15, 15.5], [15, 15.5]),  # nobody knows whether it led into anything
        ([9, 10, 11, 0], [], [12, 15, 15.5, 0], [12, 15, 15.5, 16]),
        ([0, 1, 10, 11, 0], [2], [0, 1, -1, -0.5, 0], [0, 1, -1, -0.5, 0]),
        ([10, 11, 1, 2], [2], [15, 15.5, 1, 3], [15, 15.5, 1, 3]),
        ([10, 11, 0, 1, 10, 11, 0], [], [-1, -0.5, 0, 1, 15, 15.5, 0], [-1, -0.5, 0, 1, 15, 15.5, 16]),
        ([10, 0, 1], [1], [15, 0, 1], [15, 16, 17]),  # a leap from it leads into nothing
    ],
)
def test_a_pickup_lies_before_the_form_it_leads_into_and_at_the_end_of_one_that_goes_on(
    places: Sequence[int], leaps: list[int], written: list[float], through: list[float]
) -> None:
    path = [Laid(n, place, n == 0 or n in leaps, 0.0) for n, place in enumerate(places)]
    found = laid_places(TUNE, EXPECTED, path, onsets(len(path)))
    assert [one.written for one in found] == written
    assert [one.written for one in through_choruses(TUNE, found)] == through
    assert [one.leapt for one in found] == [laid.leapt for laid in path]
    assert [one.seconds for one in found] == [1.0 + 0.5 * n for n in range(len(path))]


@pytest.mark.parametrize(("many", "quarter"), [(3, 0.5), (2, 0.5), (1, 1.0)])
def test_where_few_steps_came_before_those_after_tell_the_tempo_too(many: int, quarter: float) -> None:
    """So many beats at half a second, twice counted each, and then five at a second."""
    fast = steady(*range(many + 1))
    slow = [TakePlace(many + n, many + n, many / 2 + n, False) for n in range(1, 6)]
    assert quarter_at([*fast, *slow], many) == quarter


def test_at_most_nine_places_after_it_tell_a_tempo_and_none_beyond_a_leap() -> None:
    first = steady(0.0)
    later = [TakePlace(float(n), float(n), min(n, 5) / 2 + max(n - 5, 0), n == 0) for n in range(1, 20)]
    assert quarter_at([*first, *later], 0) == 0.75, "four steps at half a second, and four at a second"
    leapt = [replace(one, leapt=one.beat == 6) for one in later]
    assert quarter_at([*first, *leapt], 0) == 0.5


@pytest.mark.parametrize(("silence", "chorus"), [(16.0, 1), (17.8, 1), (18.2, 0), (14.3, 1), (13.9, 0), (32.0, 2)])
def test_a_rest_of_a_whole_chorus_is_counted_to_an_eighth(silence: float, chorus: int) -> None:
    first = steady(*map(float, range(4)))
    later = TakePlace(3.5, 3.5, (3.5 + silence) / 2, True)
    assert through_choruses(TUNE, [*first, later])[-1].beat == 3.5 + 16 * chorus


def test_what_is_known_after_a_stretch_away_need_not_go_on_from_it(form: Form) -> None:
    known = [TakePlace(float(n), float(n), 1.0 + n, n == 0) for n in (0, 1, 12, 13)]
    found = with_followed(form, known, [(float(n), 1.01 + n) for n in range(20)], {2: (2.1, 12.9)})
    assert [place.beat for place in found if place.leapt] == [0.0, 2.0, 12.0]


GOOD = "." * 20


@pytest.mark.parametrize(
    ("played", "gone"),
    [
        (GOOD + "xxxxxxx" + GOOD, range(20, 27)),
        (GOOD + "xxx.xxxx" + GOOD, range(21, 27)),  # seven in a span of eight: six onsets have all in their thirteen
        (GOOD + "xxxx.xxx" + GOOD, range(21, 27)),
        (GOOD + "xxx.xx.xx" + GOOD, ()),  # in a span of nine: five
        (GOOD + "xxxxxx" + GOOD, ()),
        ("xxxxxxx" + GOOD, range(7)),  # at an end the thirteen are fewer
        ("xxxxxx" + GOOD, ()),
        (GOOD + "xxxxxxx", range(20, 27)),
        (GOOD + "xxxxxx", ()),
    ],
)
def test_six_onsets_in_a_row_are_left_out_where_of_the_thirteen_around_each_the_larger_half_is_unlike(
    played: str, gone: Sequence[int]
) -> None:
    path = [Laid(n, n, n == 0, 4.0 if one == "x" else 0.0) for n, one in enumerate(played)]
    kept = as_written(onsets(len(path)), path)
    assert [laid.onset for laid in kept] == [n for n in range(len(path)) if n not in gone]
    again = {max(gone) + 1} if gone and max(gone) + 1 < len(path) else set()
    assert {laid.onset for laid in kept if laid.leapt} == ({0} - set(gone)) | again


@pytest.mark.parametrize(("company", "left_out"), [(True, 0), (False, 6)])
def test_keys_laid_nowhere_speak_against_the_written_part_but_not_those_of_the_other_hand(
    company: bool, left_out: int
) -> None:
    """Eighteen onsets, of which each third alone is laid: the other two in three are the other hand's, or are not."""
    played = [replace(one, company=company and n % 3 > 0) for n, one in enumerate(onsets(18))]
    path = [Laid(n, n // 3, n == 0, 0.0) for n in range(0, 18, 3)]
    assert len(path) - len(as_written(played, path)) == left_out


def test_what_is_laid_counts_even_where_it_may_be_the_other_hands() -> None:
    played = [replace(one, company=True) for one in onsets(12)]
    assert as_written(played, [Laid(n, n, n == 0, 4.0) for n in range(12)]) == []


def test_the_first_note_of_a_section_opens_a_phrase_even_after_little_rest_and_within_a_bar() -> None:
    """The second section begins on its second beat, a beat and a half after an off-beat quaver."""
    tune = parse_toml("""
format = 1
title = "On the Second Beat"
key = "C major"
form = "A B"

[section.A]
chords = "| C6 |"
melody = "| C2 D2 E2 z F |"

[section.B]
chords = "| C6 |"
melody = "| z2 G2 A2 B2 |"
""").unfold()
    found = chart_onsets(tune, expected_notes(tune, MELODY))
    assert [n for n, opens in enumerate(found.opens) if opens] == [0, 4]


def test_followed_beats_are_taken_in_no_stretch_that_is_known_however_early_they_are(form: Form) -> None:
    known = steady(0.0, 1.0)
    assert with_followed(form, known, [(0.0, -0.1), (1.0, 0.0), (2.0, 0.1)], {}) == known


@pytest.mark.parametrize(
    ("beats", "through"),
    [
        ([0.0, 0.0], [0.0, 16.0]),  # the first beat again
        ([-1.0, -0.5, -1.0], [-1.0, -0.5, 15.0]),  # the pickup again
        ([0.5, 0.25], [0.5, 16.25]),
    ],
)
def test_whatever_comes_again_without_a_leap_is_of_the_next_chorus(beats: list[float], through: list[float]) -> None:
    places = [TakePlace(beat, beat, n / 2, False) for n, beat in enumerate(beats)]
    assert [place.beat for place in through_choruses(TUNE, places)] == through


def test_a_leap_over_half_a_beat_into_the_next_chorus_is_in_time() -> None:
    places = [*steady(12.0, 13.0, 14.0, 15.0, 15.5), TakePlace(0.0, 0.0, 8.0, True)]
    assert through_choruses(TUNE, places)[-1].beat == 16.0


def test_a_silence_is_counted_by_the_tempo_up_to_the_note_before_it() -> None:
    """Two notes a second apart, and twenty seconds on the fifth beat of the next chorus."""
    places = [*steady(0.0, 1.0, quarter=1.0), TakePlace(5.0, 5.0, 21.0, True)]
    assert through_choruses(TUNE, places)[-1].beat == 21.0


@pytest.mark.parametrize(("passed", "right"), [(0.34, True), (0.35, False)])
def test_who_is_off_by_as_much_as_the_limit_is_not_in_time(passed: float, right: bool) -> None:
    assert in_time(passed, 0.0) is right


def test_a_step_counts_for_the_tempo_once_for_each_half_beat_of_it() -> None:
    """Three quavers at half a second a beat are three; two beats in one step at a second a beat are four."""
    places = [*steady(0.0, 0.5, 1.0, 1.5), TakePlace(3.5, 3.5, 2.75, False)]
    assert quarter_at(places, 4) == 1.0


@pytest.mark.parametrize(("first", "quarter"), [(1.5, 1.0), (2.0, 0.5)])
def test_fewer_than_four_half_beats_before_it_tell_no_tempo_alone(first: float, quarter: float) -> None:
    """A step at half a second a beat; what comes after, and counts where that is too little, is at a second."""
    before = steady(0.0, first)
    after = [TakePlace(first + n, first + n, first / 2 + n, False) for n in range(1, 4)]
    assert quarter_at([*before, *after], 1) == quarter
