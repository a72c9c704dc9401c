"""The built-in player's route: where they leap and stop, their beat along it, and when a place sounds."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from random import Random
from typing import Any

import pytest

from companion.chart.model import Form, MelodyNote
from companion.pianist import player, route
from companion.pianist.player import simulate
from companion.pianist.route import Clock, Passage, TrueBeat, beats_along, plan_route, tune_route
from companion.preferences.players import PlayerManner

EXACT = PlayerManner(drift=0.0, jitter=0.0, spread_ms=(0.0, 0.0))
GRID = [0.0, 0.5, 1.0, 2.0, 3.0]
"""Seconds of pulses; the last two are slower."""


@pytest.fixture(scope="module")
def form(stand: Any) -> Form:
    found: Form = stand.chart(stand.TEN, stand.ANSWER, stand.TEN, form="A B C", feel="straight").unfold()
    return found


@pytest.mark.parametrize(
    ("before", "pulse", "at", "seconds"),
    [
        (0, 1.0, 0.0, 0.0),
        (0, 1.0, 1.5, 0.75),
        (0, 1.0, 2.25, 1.25),
        (0, 1.0, 5.0, 4.0),  # on as the last pulse was
        (0, 1.0, -1.0, -0.5),
        (2, 1.0, 0.0, 1.0),
        (0, 1.5, 3.0, 1.0),  # dotted quarters
    ],
)
def test_between_two_pulses_the_time_is_even(before: int, pulse: float, at: float, seconds: float) -> None:
    assert Clock(GRID, before, pulse, [0.0, 7.0]).seconds(0, at) == pytest.approx(seconds)
    assert Clock(GRID, before, pulse, [0.0, 7.0]).seconds(1, at) == pytest.approx(seconds + 7.0), "after a silence"


@pytest.mark.parametrize(
    ("at", "ratio", "pulse", "seconds"),
    [
        (0.5, 2.0, 1.0, 1 / 3),
        (1 / 3, 2.0, 1.0, 1 / 6),  # a triplet stands as it is written
        (0.339, 2.0, 1.0, 0.1695),
        (0.345, 2.0, 1.0, 0.23),
        (0.5, 2.0, 1.5, 1 / 6),  # nor does compound time swing
        (0.5, None, 1.0, 0.3),
    ],
)
def test_quavers_are_swung_by_the_clock_and_triplets_are_not(
    at: float, ratio: float | None, pulse: float, seconds: float
) -> None:
    clock = Clock(GRID, 0, pulse, [0.0])
    clock.swing = 1.5
    assert clock.seconds(0, at, ratio) == pytest.approx(seconds)


def test_choruses_follow_each_other_and_the_first_begins_where_it_is_said(form: Form) -> None:
    assert plan_route(form, 2, 8.0, EXACT, Random(1)) == [Passage(8.0, 96.0, 1), Passage(0.0, 96.0, 2)]


def test_phrases_begin_every_four_bars_of_a_section_and_a_beat_belongs_to_its_bar(form: Form) -> None:
    assert route._phrase_starts(form) == [0.0, 16.0, 32.0, 48.0, 64.0, 80.0]
    assert [route._bar_start(form, beat) for beat in (-1.0, 0.0, 3.9, 4.0, 95.0)] == [0.0, 0.0, 0.0, 4.0, 92.0]


def test_only_bars_whose_melody_comes_once_can_be_told(form: Form) -> None:
    """The first eight bars come again as the last eight, whose last one has none after it."""
    assert sorted(route._tellable(form)) == [*(4.0 * bar for bar in range(7, 16)), 92.0]


def landings(form: Form, leave: float, kind: Any, tellable: set[float]) -> set[float | None]:
    return {route._landing(form, leave, kind, tellable, Random(seed)) for seed in range(40)}


@pytest.mark.parametrize(
    ("leave", "kind", "goals"),
    [
        (37.0, "resume", {37.0, 32.0}),  # where they were, or the start of the phrase
        (32.0, "resume", {32.0}),
        (70.0, "jump", {0.0, 32.0, 36.0, 84.0}),  # two sections before; 8 bars back, 4 on; 8 on is beyond the end
        (66.0, "jump", {0.0, 32.0, 80.0}),
        (34.0, "jump", {0.0, 48.0, 64.0}),
        (2.0, "jump", {16.0, 32.0}),
    ],
)
def test_who_breaks_off_goes_on_from_there_or_to_a_place_that_can_be_told(
    form: Form, leave: float, kind: str, goals: set[float]
) -> None:
    assert landings(form, leave, kind, {4.0 * bar for bar in range(24)}) == goals
    if kind == "jump":
        assert landings(form, leave, kind, set()) == {None}


def test_no_leap_or_stop_is_near_the_beginning_or_the_end_of_a_passage(form: Form) -> None:
    """Four bars, or a quarter of the form where that is less, lie before it and after it."""
    how = replace(EXACT, moves=3, stops=3, stop_seconds=(2.0, 4.0))
    kinds = []
    for seed in range(30):
        found = tune_route(form, [Passage(0.0, 96.0, 1), Passage(0.0, 96.0, 2)], how, Random(seed))
        kinds += [passage.mark for passage in found]
        for passage in found:
            assert passage.end - passage.start >= 16.0
            assert (2.0 <= passage.pause <= 4.0) if passage.mark == "resume" else passage.pause == 0.0
        assert 2 <= len([p for p in found if p.mark]) <= 6
    assert kinds.count("resume") > 30 and kinds.count("jump") > 30


def test_introductions_and_solos_are_never_broken(form: Form) -> None:
    how = replace(EXACT, moves=2, stops=2)
    whole = [Passage(0.0, 96.0, 1, form=form), Passage(0.0, 96.0, 2, parts=frozenset({"solo"}))]
    assert tune_route(form, whole, how, Random(1)) == whole
    short = [Passage(0.0, 32.0, 1)]
    assert tune_route(form, short, how, Random(1)) == short, "nor what has no room for it"


def test_the_beats_of_a_route_are_counted_in_and_go_on_after_a_silence(form: Form) -> None:
    """Two bars of clicks, the first at a second; then a beat for each pulse, marked where the player breaks off."""
    passages = [Passage(0.0, 4.0, 1), Passage(8.0, 12.0, 1, "jump"), Passage(12.0, 16.0, 1, "resume", 2.5)]
    clock, rows = beats_along(form, passages, 120.0, EXACT, Random(1))
    assert [(row.chart_beat, row.seconds, row.chorus, row.mark) for row in rows[:9]] == [
        *((n - 8.0, 1.0 + 0.5 * n, 0, "count_in") for n in range(8)),
        (0.0, 5.0, 1, ""),
    ]
    assert [(row.chart_beat, row.seconds, row.mark) for row in rows[12:]] == [
        (8.0, 7.0, "jump"), (9.0, 7.5, ""), (10.0, 8.0, ""), (11.0, 8.5, ""), (12.0, 11.5, "resume"), (13.0, 12.0, ""),
        (14.0, 12.5, ""), (15.0, 13.0, ""),
    ]  # fmt: skip
    assert [clock.seconds(passage, 6.0) for passage in (0, 1, 2)] == [8.0, 8.0, 10.5]


def periods_of(rows: list[TrueBeat]) -> list[float]:
    """Seconds from beat to beat."""
    return [after.seconds - before.seconds for before, after in pairwise(rows)]


def test_a_player_slows_down_to_the_last_beat_of_the_tune(form: Form) -> None:
    _, rows = beats_along(form, [Passage(0.0, 8.0, 1, slows=4.0)], 120.0, EXACT, Random(1))
    periods = periods_of(rows)[8:]
    assert periods[:3] == pytest.approx([0.5] * 3)
    assert periods[3:] == pytest.approx([0.5 / (1 - 0.64 * x) ** 0.5 for x in (1 / 8, 3 / 8, 5 / 8, 7 / 8)])


def test_in_free_time_the_count_in_has_the_tempo_of_the_first_two_beats(form: Form) -> None:
    _, rows = beats_along(form, [Passage(0.0, 32.0, 1)], 120.0, replace(EXACT, freedom=0.15), Random(4))
    periods = periods_of(rows)
    assert periods[:8] == pytest.approx([sum(periods[8:10]) / 2] * 8)


def test_hesitations_come_after_the_first_four_beats(form: Form) -> None:
    for seed in range(20):
        _, rows = beats_along(form, [Passage(0.0, 8.0, 1)], 120.0, replace(EXACT, hesitations=9), Random(seed))
        periods = periods_of(rows)
        assert periods[:11] == pytest.approx([0.5] * 11) and min(periods[11:]) > 0.6


def test_a_whole_tune_has_its_introduction_its_signs_and_its_last_chord(form: Form, stand: Any) -> None:
    """An introduction of four bars that the player leaves to the band; a chorus in which they hold the soft pedal down
    over the bar line at beat 80 (controller 67, MIDI 1.0); an ending whose last beat they hold."""
    intro = stand.chart(("| Dm7 | G7 | Em7 | A7 |", "")).unfold()
    ending = stand.chart(("| Dm7 G7 | C6 |", "")).unfold()
    tune = [
        Passage(0.0, 16.0, 0, form=intro, parts=frozenset()),
        Passage(0.0, 96.0, 1, tells=80.0),
        Passage(96.0, 104.0, 1, form=ending, parts=frozenset({"chords"}), rests=True),
    ]
    played = simulate(form, "melody", manner=EXACT, tempo=120, tune=tune, seed=2)
    on = [heard for heard in played.heard if heard.is_note_on]
    first = played.beats[0].seconds
    assert on[0].seconds == pytest.approx(first + 8.0, abs=0.02), "nothing in the introduction"
    pedal = [
        (heard.seconds - first, heard.data2) for heard in played.heard if heard.data1 == 67 and heard.status == 0xB0
    ]
    assert pedal == [(pytest.approx(8.0 + 39.25), 127), (pytest.approx(8.0 + 40.65), 0)]
    last = [heard for heard in on if heard.seconds > first + 8.0 + 48.0 + 3.4]
    assert [heard.data1 % 12 for heard in last] == [0], "the tonic, where the melody was"
    assert last[0].seconds == pytest.approx(first + 59.5, abs=0.02)


def test_bars_that_a_soloist_leaves_to_the_companion_are_silent(form: Form) -> None:
    played = simulate(form, "solo", manner=EXACT, seed=2, silent=lambda chorus, beat: 16 <= beat < 32)
    places = {note.chart_beat for note in played.notes}
    assert not any(16 <= beat < 32 for beat in places) and any(beat < 16 for beat in places)
    melody = simulate(form, "melody", manner=EXACT, seed=2, silent=lambda chorus, beat: True)
    assert melody.notes, "a melody is played for all that"


def test_of_a_player_who_breaks_off_for_a_silence_no_note_sounds_through_it(form: Form) -> None:
    route_ = [Passage(0.0, 30.0, 1), Passage(30.0, 96.0, 1, "resume", 5.0)]
    played = simulate(form, "melody", manner=EXACT, tempo=120, tune=route_, seed=1)
    stop = next(row.seconds for row in played.beats if row.mark == "resume") - 5.0
    ups = [heard.seconds for heard in played.heard if not heard.is_note_on and heard.seconds < stop + 4.0]
    assert max(ups) < stop + 0.16


@pytest.mark.parametrize(
    ("usual", "after", "room"),
    [
        ("melody", Passage(0.0, 32.0, 2), 1.0),
        ("melody", Passage(0.0, 32.0, 2, "jump"), 0.0),
        ("melody", Passage(0.0, 32.0, 2, parts=frozenset({"solo"})), 0.0),
        ("chords", Passage(0.0, 32.0, 2), 0.0),
        ("chords", Passage(0.0, 32.0, 2, parts=frozenset({"melody"})), 1.0),
        ("melody", None, 0.0),
    ],
)
def test_the_end_of_a_chorus_leaves_room_for_the_pickup_to_the_next_head(
    stand: Any, usual: str, after: Passage | None, room: float
) -> None:
    form = stand.chart((stand.TEN[0], "GA" + stand.TEN[1])).unfold()
    assert player._room_for_pickup(form, frozenset({usual}), [after] if after else []) == room
    ending = Passage(32.0, 40.0, 1, form=form)
    assert player._room_for_pickup(form, frozenset({usual}), [ending]) == 0.0, "nor before an ending"


def test_a_straight_line_through_the_clicks_tells_tempo_and_start() -> None:
    assert player._line([(-2.0, 1.0), (-1.0, 1.5), (0.0, 2.0)]) == (pytest.approx(0.5), pytest.approx(2.0))
    assert player._line([(-2.0, 1.0), (-1.0, 1.6), (0.0, 2.0)]) == (pytest.approx(0.5), pytest.approx(2.0 + 0.1 / 3))


def test_the_last_passage_of_the_pedal_bars_is_let_go_a_second_after_its_last_beat(form: Form) -> None:
    played = simulate(form, "melody", manner=replace(EXACT, pedal=True), tempo=120, seed=1)
    ups = [heard.seconds for heard in played.heard if (heard.status, heard.data1, heard.data2) == (0xB0, 64, 0)]
    assert ups[-1] == pytest.approx(played.truth[-1].seconds + 1.02)


def test_who_leans_on_another_wanders_a_quarter_as_far_and_neither_stops_nor_leaps(form: Form) -> None:
    how = PlayerManner(moves=2, stops=2, hesitations=3, drift=0.02, jitter=0.0)
    alone = simulate(form, "solo", manner=how, seed=3)
    led = simulate(form, "solo", manner=how, seed=3, silent=lambda chorus, beat: False)
    assert {row.mark for row in led.beats} == {""} and len({row.mark for row in alone.beats}) > 1
    quarter = simulate(form, "solo", manner=replace(how, moves=0, stops=0, hesitations=0, drift=0.005), seed=3)
    assert [row.seconds for row in led.truth] == [row.seconds for row in quarter.truth]


def test_a_pickup_in_a_later_chorus_is_told_in_the_last_bar_of_the_one_before(stand: Any) -> None:
    form = stand.chart((stand.TEN[0], "GA" + stand.TEN[1])).unfold()
    notes = simulate(form, "melody", manner=EXACT, seed=1, choruses=2).notes
    assert [(note.chorus, note.chart_beat) for note in notes if note.chart_beat < 0 or note.chart_beat >= 31] == [
        (1, -1.0), (1, -0.5), (1, 31.0), (1, 31.5)
    ]  # fmt: skip


def test_only_the_right_hand_ends_early_for_a_pickup_and_only_before_another_head(stand: Any) -> None:
    """The pickup lasts a beat; a note in the last half beat of the form is played the last time only."""
    form = stand.chart((stand.TEN[0], "GA" + stand.TEN[1])).unfold()
    assert float(form.length) == 32.0
    form = replace(form, melody=(*form.melody, MelodyNote(Fraction(63, 2), Fraction(1, 2), form.melody[0].pitch)))
    twice = [Passage(0.0, 32.0, 1), Passage(0.0, 32.0, 2)]

    def late(parts: str, hand: str) -> list[int]:
        placed = player._notes_on_route(form, frozenset(parts.split(",")), twice, EXACT, Random(1), Random(2))
        return [one.passage for one in placed if one.note.beat >= 31.0 and one.note.hand == hand]

    assert late("melody", "right") == [1]
    assert set(late("melody,bass", "left")) == {0, 1}


def test_a_passage_of_its_own_is_played_by_whoever_is_told_to(stand: Any, form: Form) -> None:
    ending = stand.chart(("| Dm7 G7 | C6 |", "")).unfold()
    for parts, plays in ((frozenset({"bass"}), True), (frozenset(), False), (None, True)):
        there = Passage(96.0, 104.0, 1, form=ending, parts=parts)
        found = player._played(form, there, frozenset({"bass"}), EXACT, Random(1))
        assert bool(found) == plays and all(96 <= note.beat < 104 for note in found)


def test_the_last_beat_of_an_ending_is_a_chord_that_is_held(stand: Any, form: Form) -> None:
    ending = stand.chart(("| Dm7 G7 | C6 |", "")).unfold()
    there = Passage(96.0, 104.0, 1, form=ending, parts=frozenset({"bass"}), rests=True)
    found = player._played(form, there, frozenset({"bass", "chords"}), EXACT, Random(1))
    on_beats = [note for note in found if note.beat % 1 == 0]
    assert {note.beat for note in on_beats} == {96.0 + n for n in range(8)}
    last = [note for note in found if note.beat >= 103]
    assert {note.length for note in last} == {6.0} and len(last) > 2, "root and chord, and no more of the walk"
    assert all(note.length < 6 for note in found if note.beat < 103)


def test_before_a_silence_a_note_lasts_three_tenths_of_a_beat_beyond_at_most(form: Form) -> None:
    """Wherever in the form the passage began."""
    stops = [Passage(8.0, 30.0, 1), Passage(30.0, 96.0, 1, "resume", 5.0)]
    long = replace(form, melody=tuple(replace(note, length=Fraction(8)) for note in form.melody))
    placed = player._notes_on_route(long, frozenset({"melody"}), stops, EXACT, Random(1), Random(2))
    first = [one for one in placed if one.passage == 0]
    assert max(one.until for one in first) == pytest.approx(22.3)
    assert min(one.until - one.at for one in first) < 8 and {one.until - one.at for one in first} >= {8.0}


def test_a_passage_is_broken_that_has_four_bars_before_the_break_and_after_it(form: Form) -> None:
    how = replace(EXACT, stops=1, stop_seconds=(1.0, 1.0))

    def broken(length: float) -> bool:
        return any(len(tune_route(form, [Passage(0.0, length, 1)], how, Random(seed))) > 1 for seed in range(9))

    assert broken(33.0) and not broken(32.0)
