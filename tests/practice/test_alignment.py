"""Whole takes laid on their chart: every note and every beat is where the player had it, whatever way they took."""

from __future__ import annotations

import random
import statistics
from collections import Counter
from collections.abc import Sequence
from functools import cache
from itertools import pairwise

import pytest

from companion.chart.model import Chart, Form
from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.messages import Beat, Heard
from companion.practice.alignment import (
    NOTHING,
    Alignment,
    _bounds,
    _in_chorus,
    _inside,
    _is_borne_out,
    _spans,
    _within,
    align,
    stretches_as_written,
)
from companion.practice.judging import JudgedNote
from companion.practice.placing import TakePlace
from companion.practice.sweeps import Sweep
from companion.resources import chart_path
from companion.stage.settings import Settings
from tests.practice.planted import Leg, PlantedTake, perform

CHARTS = ("ferry-without-lights", "salt-in-the-ink", "mill-wheel-at-rest", "umbrella-at-a-gallop", "five-gates-down")
"""4/4 with a pickup, 3/4, 6/8, fast, 5/4."""
NEAR = 0.050
"""Seconds: two events nearer than this are heard as one, about (common practice)."""


@cache
def chart(name: str) -> Chart:
    return load(chart_path(name))


def form(name: str) -> Form:
    return chart(name).unfold()


def laid(name: str, take: PlantedTake, you: frozenset[str] = frozenset({"melody"})) -> Alignment:
    return align(chart(name), Settings(you=you), take.heard)  # type: ignore[arg-type]


def through(name: str, **more: float) -> PlantedTake:
    whole = form(name)
    return perform(whole, [Leg(-float(whole.pickup), float(whole.length))], **more)  # type: ignore[arg-type]


def faults(alignment: Alignment) -> Counter[tuple[str, float]]:
    return Counter((n.kind, n.chart_beat) for n in alignment.notes if n.kind != "right" and not n.forgiven)


def beats_kept(name: str, take: PlantedTake, alignment: Alignment) -> float:
    """The share of the true beats that lie within 50 ms of the same chart beat as it was found."""
    length = float(form(name).length)
    found = [
        (beat % length, seconds)
        for sweep in alignment.sweeps
        for beat, seconds in sweep.beats
        if sweep.low - 1e-6 <= beat < sweep.high - 1e-6
    ]
    kept = [any(abs(at - beat) < 1e-3 and abs(s - moment) < NEAR for at, s in found) for beat, moment in take.beats]
    return sum(kept) / len(kept)


@pytest.mark.parametrize("name", CHARTS)
def test_a_tune_played_through_is_right_at_every_note_and_its_beats_are_the_players(name: str) -> None:
    take = through(name)
    alignment = laid(name, take)
    assert not faults(alignment)
    assert not alignment.moves
    assert len(alignment.notes) == len(form(name).melody)
    assert [n.seconds for n in alignment.notes] == [n.seconds for n in take.notes]
    assert beats_kept(name, take, alignment) > 0.97
    assert max(abs(note.deviation_ms or 0.0) for note in alignment.notes) < 60


@pytest.mark.parametrize("name", CHARTS)
def test_wrong_and_missing_notes_are_found_where_they_are(name: str) -> None:
    chance = random.Random(name)
    take = through(name, seed=5)
    played = range(3, len(take.notes) - 3)
    wrong, missing = chance.sample(played, 2)
    take = take.changed(wrong, take.notes[wrong].expected + chance.choice((1, -1))).changed(missing, None)
    expected = {("wrong", take.notes[wrong].beat): 1, ("missing", take.notes[missing].beat): 1}
    assert faults(laid(name, take)) == expected


def test_a_key_too_many_is_extra_where_it_was_struck() -> None:
    take = through("ferry-without-lights")
    gaps = [(b.seconds - a.seconds, n) for n, (a, b) in enumerate(pairwise(take.notes))]
    n = max(gaps)[1]
    moment = take.notes[n].seconds + 0.45 * max(gaps)[0]
    found = faults(laid("ferry-without-lights", take.with_key(moment, take.notes[n].expected + 6)))
    ((kind, beat),) = found
    assert kind == "extra"
    assert take.notes[n].beat < beat < take.notes[n + 1].beat


@pytest.mark.parametrize("times", [2, 3])
def test_each_time_through_is_counted_and_the_pickup_belongs_to_the_chorus_before(times: int) -> None:
    whole = form("ferry-without-lights")
    length, pickup = float(whole.length), float(whole.pickup)
    legs = [Leg(-pickup, length - pickup)] * (times - 1) + [Leg(-pickup, length)]
    take = perform(whole, legs)
    alignment = laid("ferry-without-lights", take)
    assert not faults(alignment)
    assert not alignment.moves
    counts = Counter(note.chorus for note in alignment.notes)
    assert set(counts) == set(range(1, times + 1))
    before_first = [note for note in alignment.notes if note.chart_beat < 0]
    assert {note.chorus for note in before_first} == {1}
    assert len(before_first) == sum(note.beat < 0 for note in whole.melody)


@pytest.mark.parametrize("name", CHARTS)
def test_a_stop_of_three_seconds_is_a_move_to_the_same_place(name: str) -> None:
    take = through(name)
    at = len(take.notes) // 2
    bars = {float(bar) for bar in form(name).bars}
    at = next(n for n in range(at, len(take.notes)) if take.notes[n].beat in bars)
    take = take.held(take.notes[at].seconds - 0.02, 3.0)
    alignment = laid(name, take)
    (move,) = alignment.moves
    assert move.from_beat == move.to_beat == take.notes[at].beat
    assert move.seconds == pytest.approx(take.notes[at].seconds, abs=NEAR)
    assert move.pause == pytest.approx(3.0, abs=0.3)
    assert not faults(alignment)
    assert beats_kept(name, take, alignment) > 0.96


@pytest.mark.parametrize("name", ["ferry-without-lights", "umbrella-at-a-gallop"])
def test_a_hesitation_shifts_what_follows_and_is_no_fault_of_any_note(name: str) -> None:
    take = through(name)
    bars = {float(bar) for bar in form(name).bars}
    at = next(n for n in range(30, len(take.notes)) if take.notes[n].beat in bars)
    take = take.held(take.notes[at].seconds - 0.02, 0.9)
    alignment = laid(name, take)
    assert not faults(alignment)
    held = [(beat, by) for sweep in alignment.sweeps for beat, by in sweep.held]
    assert [beat for beat, _ in held] == [take.notes[at].beat]
    assert held[0][1] == pytest.approx(0.9, abs=0.15)
    assert beats_kept(name, take, alignment) > 0.96


def test_a_leap_in_time_is_a_move_and_what_was_skipped_is_not_missing() -> None:
    name = "ferry-without-lights"
    take = perform(form(name), [Leg(-1, 48), Leg(64, 128)])
    alignment = laid(name, take)
    (move,) = alignment.moves
    assert (move.from_beat, move.to_beat, move.pause) == (48, 64, 0)
    assert move.seconds == pytest.approx(take.begins[1], abs=NEAR)
    assert not faults(alignment)
    assert beats_kept(name, take, alignment) > 0.97


def test_a_dropped_bar_is_a_leap_of_one_bar() -> None:
    name = "ovens-at-five"
    take = perform(form(name), [Leg(0, 68), Leg(72, 128)])
    (move,) = laid(name, take).moves
    assert move.to_beat - move.from_beat == pytest.approx(4)
    assert abs(move.from_beat - 68) <= 4


@pytest.mark.parametrize("pause", [0.0, 0.5, 0.8, 1.5])
def test_a_bar_begun_again_is_a_move_back_and_both_attempts_are_judged(pause: float) -> None:
    name = "ovens-at-five"
    take = perform(form(name), [Leg(0, 68), Leg(64, 128, pause=pause)])
    alignment = laid(name, take)
    (move,) = alignment.moves
    assert (move.from_beat, move.to_beat) == (68, 64)
    assert move.seconds == pytest.approx(take.begins[1], abs=NEAR)
    assert not faults(alignment)
    again = Counter(note.chart_beat for note in alignment.notes if 64 <= note.chart_beat < 68)
    assert set(again.values()) == {2}


def test_a_passage_gone_round_four_times_is_heard_four_times() -> None:
    name = "ladder-in-the-pear-tree"
    take = perform(form(name), [Leg(-1, 32), Leg(16, 32), Leg(16, 32), Leg(16, 128)])
    alignment = laid(name, take)
    assert [(move.from_beat, move.to_beat) for move in alignment.moves] == [(32, 16)] * 3
    assert not faults(alignment)


def test_a_player_who_begins_in_the_middle_left_nothing_out() -> None:
    name = "chimney-weather"
    take = perform(form(name), [Leg(64, 128)])
    alignment = laid(name, take)
    assert not faults(alignment)
    assert alignment.sweeps[0].low == pytest.approx(64, abs=2)


@pytest.mark.parametrize("tempo", [40.0, 260.0])
def test_any_tempo_will_do_without_being_told(tempo: float) -> None:
    take = through("ovens-at-five", tempo=tempo, ratio=1.2)
    alignment = laid("ovens-at-five", take)
    assert not faults(alignment)
    assert beats_kept("ovens-at-five", take, alignment) > 0.95


def test_the_other_hands_notes_are_no_faults_and_do_not_disturb() -> None:
    name = "ferry-without-lights"
    take = through(name)
    for beat, moment in take.beats:
        take = take.with_key(moment + 0.004, 38 + round(beat) % 5)
    alignment = laid(name, take)
    assert not faults(alignment)
    assert beats_kept(name, take, alignment) > 0.97


def test_a_solo_after_the_head_is_judged_by_its_chords_and_not_as_the_melody() -> None:
    name = "ferry-without-lights"
    whole = form(name)
    head = perform(whole, [Leg(-1, 128)])
    quarter = 60 / whole.tempo
    begins = head.beats[-1][1] + quarter
    chance = random.Random(2)
    line = [
        (begins + n * quarter / 2, chance.choice(whole.chord_at(n / 2).chord.pitch_classes) + 60) for n in range(256)
    ]
    for moment, pitch in line:
        head = head.with_key(moment, pitch)
    alignment = laid(name, head)
    solo = [note for note in alignment.notes if note.chorus == 2]
    assert Counter(note.part for note in solo)["solo"] > 0.9 * len(line)
    assert sum(note.kind == "right" for note in solo) > 0.85 * len(line)
    first = Counter(note.kind for note in alignment.notes if note.chorus == 1 and note.part == "melody")
    assert first["right"] > 0.97 * len(whole.melody)


def test_nothing_played_is_nothing_laid() -> None:
    assert align(chart("chimney-weather"), Settings(), []) == NOTHING
    assert align(chart("chimney-weather"), Settings(), [Heard(1.0, 0xB0, 64, 127)]) == NOTHING


def test_one_key_alone_is_no_take() -> None:
    assert align(chart("chimney-weather"), Settings(), [Heard(1.0, 0x90, 60, 70)]) == NOTHING


def test_chords_that_all_come_before_the_beat_stay_there_after_a_count_in() -> None:
    # Comping on the and of 4 and the and of 2 alone (common practice): by themselves the chords fit the beats as well.
    tune = form("ovens-at-five")
    heard = []
    for at in [4.0 * bar + place for bar in range(24) for place in (1.5, 3.5)]:
        moment = 4.0 + 0.5 * (at + 0.11)  # two bars counted in at 120, and swung
        for tone in list(tune.chord_at(at + 0.5 if at % 4 == 3.5 else at).chord.pitch_classes)[1:5]:
            heard.append(Heard(moment, 0x90, 52 + (tone - 52) % 12, 60))
    told = Settings(you=frozenset({"chords"}), tempo=120.0, start=4.0, count_in=2)
    (sweep,) = align(chart("ovens-at-five"), told, heard).sweeps
    off = [sweep.map().beat(note.seconds) - 2 * (note.seconds - 4.0) for note in heard]
    assert abs(statistics.median(off)) < 0.25


# A small tune, a note on each beat: where a take begins and ends

STEPS = parse_toml("""
format = 1
title = "Steps"
key = "C major"
form = "A B"

[section.A]
chords = "| C6 | C6 | C6 | C6 |"
melody = "| C2 D2 E2 F2 | G2 A2 B2 c2 | d2 e2 f2 g2 | a2 b2 c'2 d'2 |"

[section.B]
chords = "| C6 | C6 | C6 | C6 |"
melody = "| c'2 a2 b2 g2 | a2 f2 g2 e2 | f2 d2 e2 c2 | d2 B2 c2 G2 |"
""")


def stepped(
    *stretches: tuple[int, int], pauses: Sequence[float] = (), end: float | None = None, low: Sequence[float] = ()
) -> Alignment:
    """Stretches of its beats at 120, pauses between them in seconds; ``low``: when the other hand strikes a key."""
    heard, at = [], 2.0
    pitches = [note.pitch.midi for note in STEPS.unfold().melody]
    for n, (first, last) in enumerate(stretches):
        at += pauses[n - 1] if n and pauses else 0.0
        for beat in range(first, last):
            heard.append(Heard(at, 0x90, pitches[beat % 32], 80))
            at += 0.5
    heard += [Heard(seconds, 0x90, 36, 60) for seconds in low]
    heard.sort(key=lambda one: one.seconds)
    return align(STEPS, Settings(you=frozenset({"melody"})), heard, end)


@pytest.mark.parametrize(
    ("first", "last", "end", "low", "high", "missing"),
    [
        (0, 32, None, 0, 32, 0),
        (4, 32, None, 0, 32, 4),  # four notes were left out
        (5, 32, None, 5, 32, 0),  # more than four: one began there
        (0, 28, None, 0, 32, 4),
        (0, 27, None, 0, 27, 0),
        (0, 21, 2.0 + 16.0, 0, 32, 11),  # who waits for the end in silence has left out what was to come
        (0, 21, 2.0 + 18.1, 0, 21, 0),
        (0, 21, 2.0 + 14.1, 0, 32, 11),
        (0, 21, 2.0 + 13.9, 0, 21, 0),
        (0, 17, 2.0 + 16.0, 0, 32, 15),
        (0, 16, 2.0 + 16.0, 0, 16, 0),  # nobody waits for more than four bars
    ],
)
def test_what_little_lies_before_the_first_note_and_after_the_last_was_left_out(
    first: int, last: int, end: float | None, low: float, high: float, missing: int
) -> None:
    found = stepped((first, last), end=end)
    (one,) = found.sweeps
    assert (one.low, one.high) == (low, high)
    assert sum(note.kind == "missing" for note in found.notes) == missing
    assert not found.moves


def test_each_move_has_its_moment_beats_and_pause_and_each_note_its_sweep() -> None:
    found = stepped((0, 12), (8, 24), (24, 32), pauses=(1.0, 2.0))
    assert [(round(m.seconds, 2), m.from_beat, m.to_beat, round(m.pause, 2)) for m in found.moves] == [
        (9.0, 12.0, 8.0, 1.0), (19.0, 24.0, 24.0, 2.0),
    ]  # fmt: skip
    assert [[note.chart_beat for note in notes] for notes in found.judged] == [
        [float(n) for n in range(12)], [float(n) for n in range(8, 24)], [float(n) for n in range(24, 32)],
    ]  # fmt: skip
    assert [(one.low, one.high) for one in found.sweeps] == [(0.0, 12.0), (8.0, 24.0), (24.0, 32.0)]
    assert {note.kind for note in found.notes} == {"right"}


def test_two_times_through_are_counted_on_and_a_key_of_the_other_hand_is_in_neither() -> None:
    found = stepped((0, 32), (0, 32), low=(5.0, 20.0))
    (one,) = found.sweeps
    assert (one.low, one.high) == (0.0, 64.0)
    assert [(note.chorus, note.chart_beat) for note in found.notes] == [
        (c, float(n)) for c in (1, 2) for n in range(32)
    ]


def test_stretches_as_written_end_at_each_leap_and_stop() -> None:
    pitches = [note.pitch.midi for note in STEPS.unfold().melody]
    beats = [*range(12), *range(8, 24)]
    heard = [Heard(2 + 0.5 * n, 0x90, pitches[beat], 80) for n, beat in enumerate(beats)]
    found = stretches_as_written(STEPS.unfold(), {"melody"}, heard)
    assert [[place.written for place in stretch] for stretch in found] == [
        [float(n) for n in range(12)], [float(n) for n in range(8, 24)],
    ]  # fmt: skip
    assert found[1][0].seconds == 8.0
    assert stretches_as_written(STEPS.unfold(), {"melody"}, heard[:1]) == []
    assert stretches_as_written(STEPS.unfold(), {"melody"}, []) == []
    assert stretches_as_written(STEPS.unfold(), {"chords"}, heard) == [], "nothing of theirs is written"


def test_a_pickup_that_was_not_played_was_left_out_and_one_in_between_belongs_to_the_chorus_before() -> None:
    tune = parse_toml("""
format = 1
title = "With a Pickup"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | C6 | C6 | C6 |"
melody = "D2 | E2 F2 G2 A2 | B2 c2 d2 e2 | f2 g2 a2 b2 | c'2 b2 a2 z2 |"
""")
    notes = sorted((float(note.beat), note.pitch.midi) for note in tune.unfold().melody)
    assert notes[0][0] == -1.0

    def taken(*beats: tuple[float, int]) -> Alignment:
        heard = [Heard(2 + beat / 2, 0x90, pitch, 80) for beat, pitch in beats]
        return align(tune, Settings(you=frozenset({"melody"})), heard)

    whole = [*notes, *((beat + 16, pitch) for beat, pitch in notes)]
    found = taken(*whole)
    assert [(one.low, one.high) for one in found.sweeps] == [(-1.0, 32.0)]
    assert [(n.chorus, n.chart_beat) for n in found.notes][14:18] == [(1, 13.0), (1, 14.0), (1, 15.0), (2, 0.0)]
    late = taken(*notes[1:])
    assert [(one.low, one.high) for one in late.sweeps] == [(-1.0, 16.0)]
    assert [(n.kind, n.chart_beat) for n in late.notes if n.kind != "right"] == [("missing", -1.0)]
    assert [(one.low, one.high) for one in taken(*notes[6:]).sweeps] == [(5.0, 16.0)]
    assert [(one.low, one.high) for one in taken(*notes[5:]).sweeps] == [(4.0, 16.0)]


def test_a_key_just_before_the_beat_on_which_one_goes_on_belongs_to_what_follows() -> None:
    """Going back from beat 12 to beat 8, with an ornament an eighth of a beat before the first note."""
    pitches = [note.pitch.midi for note in STEPS.unfold().melody]
    keys = [(2 + 0.5 * n, pitches[beat]) for n, beat in enumerate([*range(12), *range(8, 32)])]
    keys += [(8.0 - 0.0625, pitches[8] - 1), (7.75, pitches[11] + 2)]
    heard = [Heard(at, 0x90, pitch, 80) for at, pitch in sorted(keys)]
    found = align(STEPS, Settings(you=frozenset({"melody"})), heard)
    extra = [[(note.pitch, note.forgiven) for note in notes if note.kind == "extra"] for notes in found.judged]
    assert extra == [[(pitches[11] + 2, False)], [(pitches[8] - 1, True)]]


# By itself: where a take begins and ends, what is borne out, and what belongs to which span

FAR_APART = parse_toml("""
format = 1
title = "Far Apart"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | C6 | C6 | C6 | C6 | C6 |"
melody = "| C8 | D8 | E2 F6 | G6 A2 | B8 | c8 |"
""").unfold()
"""Notes on beats 0, 4, 8, 9, 12, 15, 16 and 20 of twenty-four."""


def known(*beats: float) -> list[TakePlace]:
    """Places that are known, at 120."""
    return [TakePlace(beat, beat, beat / 2, n == 0) for n, beat in enumerate(beats)]


@pytest.mark.parametrize(
    ("beats", "silence", "bounds"),
    [
        ((8, 9, 12, 15, 16, 20), 0.0, (0, 24)),  # two bars in, two notes left out
        ((9, 12, 15, 16, 20), 0.0, (9, 24)),
        ((0, 4, 8, 9, 12, 15, 16), 0.0, (0, 24)),  # two bars before the end
        ((0, 4, 8, 9, 12, 15), 0.0, (0, 16)),
        ((0, 4, 8), 8.0, (0, 24)),  # four bars before it, and waited
        ((0, 4, 8), 6.1, (0, 24)),
        ((0, 4, 8), 6.0, (0, 24)),
        ((0, 4, 8), 5.9, (0, 9)),
        ((0, 4), 10.0, (0, 5)),  # nobody waits for five
        ((0, 4, 8, 9, 12, 15, 16, 20, 24, 28, 32), 8.0, (0, 48)),  # of the second time through
        ((32, 33, 36), 0.0, (0, 37)),
        ((33, 36), 0.0, (33, 37)),
    ],
)  # fmt: skip
def test_a_take_begins_and_ends_with_the_form_where_little_of_it_was_not_played(
    beats: tuple[int, ...], silence: float, bounds: tuple[float, float]
) -> None:
    """``silence`` is in seconds after the last note."""
    if beats[0] >= 24:  # nothing lies before the form but the form
        bounds = (float(beats[0]), bounds[1])
    places = known(*map(float, beats))
    assert _bounds(FAR_APART, {"melody"}, places, places[-1].seconds + silence) == bounds


@pytest.mark.parametrize("first", [1.0, 4.0, 8.0])
def test_a_form_that_begins_with_a_rest_is_played_from_its_downbeat(first: float) -> None:
    tune = parse_toml("""
format = 1
title = "After a Rest"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | C6 | C6 | C6 |"
melody = "| z2 C6 | D8 | E8 | F8 |"
""").unfold()
    places = known(*(beat for beat in (1.0, 4.0, 8.0, 12.0) if beat >= first))
    assert _bounds(tune, {"melody"}, places, places[-1].seconds) == (0.0, 16.0)


def test_a_pickup_of_two_notes_that_was_left_out_is_left_out_from_its_first() -> None:
    """Quavers on beats -1 and -0.5."""
    low, _ = _bounds(form("ferry-without-lights"), {"melody"}, known(0.0, 3.5, 4.0, 5.0), 2.5)
    assert low == -1.0


def borne_out(*rows: tuple[float, float], sure: float = 1.0, beats: int = 20) -> bool:
    """Of places at moments and where each is said to be: the follower counted twenty beats of half a second from 0."""
    length = float(FAR_APART.length)
    places = [TakePlace(beat, beat, seconds, False) for seconds, beat in rows]
    return _is_borne_out(FAR_APART, places, [Beat(n % length, n / 2, sure) for n in range(beats)])


@pytest.mark.parametrize(
    ("rows", "right"),
    [
        (((2.0, 4.0), (3.0, 6.0)), True),
        (((2.0, 4.19), (3.0, 5.81)), True),
        (((2.0, 4.21), (3.0, 6.0), (4.0, 9.0)), False),
        (((2.1, 4.2), (3.3, 6.6)), True),  # between the beats
        (((2.1, 4.0), (3.3, 6.3)), True),
        (((2.2, 4.0), (3.2, 6.0)), False),
        (((0.0, 23.9), (3.0, 7.0)), True),  # over the end of the form
        (((2.0, 5.0), (3.0, 6.0), (4.0, 9.0), (5.0, 10.0)), True),  # half of them are enough
        (((2.0, 5.0), (3.0, 6.0), (4.0, 9.0), (5.0, 11.0)), False),
        (((0.0, 1.0), (0.5, 2.0)), False),
        (((-1.0, 1.0), (-0.5, 2.0)), True),  # before it counted, nobody asks
        (((9.5, 1.0), (9.9, 2.0)), True),  # nor after
        (((9.4, 1.0), (9.45, 2.0)), False),
        (((9.4, 1.0), (9.9, 2.0)), False),
        (((9.4, 1.0), (9.9, 2.0), (10.0, 3.0)), True),  # asked of less than half
    ],
)
def test_places_are_borne_out_where_the_follower_was_within_a_fifth_of_a_beat_of_half_of_them(
    rows: tuple[tuple[float, float], ...], right: bool
) -> None:
    assert borne_out(*rows) is right


@pytest.mark.parametrize(("sure", "asked"), [(0.65, False), (0.7, True), (0.75, True)])
def test_a_follower_who_is_not_sure_is_not_asked(sure: float, asked: bool) -> None:
    assert borne_out((2.0, 9.0), (3.0, 12.0), sure=sure) is not asked


@pytest.mark.parametrize(
    ("free", "spans"),
    [
        ((), [(0, 16, False)]),
        (((4, 8),), [(0, 4, False), (4, 8, True), (8, 16, False)]),
        (((0, 4),), [(0, 4, True), (4, 16, False)]),
        (((12, 16),), [(0, 12, False), (12, 16, True)]),
        (((2, 4), (4, 6), (8, 9)), [(0, 2, False), (2, 4, True), (4, 6, True), (6, 8, False), (8, 9, True),
                                    (9, 16, False)]),
    ],
)  # fmt: skip
def test_a_sweep_goes_from_what_is_written_to_what_is_not_and_back(
    free: tuple[tuple[float, float], ...], spans: list[tuple[float, float, bool]]
) -> None:
    assert _spans(Sweep(0.0, 16.0, ((0.0, 1.0), (16.0, 9.0)), (), free)) == spans


@pytest.mark.parametrize(
    ("beat", "low", "high", "inside"),
    [
        (3.75, 4.0, 8.0, True), (3.74, 4.0, 8.0, False), (7.74, 4.0, 8.0, True), (7.75, 4.0, 8.0, False),
        (-3.0, 0.0, 8.0, True), (7.74, 0.0, 8.0, True), (7.75, 0.0, 8.0, False),
        (20.0, 8.0, 16.0, True), (7.74, 8.0, 16.0, False), (7.75, 8.0, 16.0, True),
    ],
)  # fmt: skip
def test_a_key_a_quarter_of_a_beat_before_a_span_is_in_it_and_nothing_is_outside_of_all(
    beat: float, low: float, high: float, inside: bool
) -> None:
    assert _inside(beat, low, high, Sweep(0.0, 16.0, ((0.0, 1.0), (16.0, 9.0)))) is inside


@pytest.mark.parametrize(("before", "second"), [(0.115, True), (0.135, False)])
def test_an_eighth_of_a_second_at_120_leads_in_to_where_one_goes_on(before: float, second: bool) -> None:
    pitches = [note.pitch.midi for note in STEPS.unfold().melody]
    keys = [(2 + 0.5 * n, pitches[beat]) for n, beat in enumerate([*range(12), *range(8, 32)])]
    heard = [Heard(at, 0x90, pitch, 80) for at, pitch in sorted([*keys, (8.0 - before, 55)])]
    found = align(STEPS, Settings(you=frozenset({"melody"})), heard)
    assert [any(note.pitch == 55 for note in notes) for notes in found.judged] == [not second, second]


@pytest.mark.parametrize(
    ("beat", "there"), [(-1.0, (-1.0, 1)), (0.0, (0.0, 1)), (31.5, (31.5, 1)), (32.0, (0.0, 2)), (65.0, (1.0, 3))]
)
def test_a_note_is_counted_in_its_own_time_through(beat: float, there: tuple[float, int]) -> None:
    note = _in_chorus(JudgedNote("right", beat, 60, 60, 1.0), 32.0)
    assert (note.chart_beat, note.chorus) == there
    assert _within(beat, 32.0) == there[0]


@pytest.mark.parametrize("first", [1, 2, 3])
def test_whoever_comes_in_a_note_or_three_late_played_no_wrong_note(first: int) -> None:
    found = stepped((first, 32))
    assert [note.kind for note in found.notes] == ["missing"] * first + ["right"] * (32 - first)
    assert not found.moves and len(found.sweeps) == 1
