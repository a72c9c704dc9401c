"""What an account says of the player's notes, against players whose every note is known."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.messages import Beat, Heard, State
from companion.pianist.player import simulate
from companion.resources import chart_path
from companion.stage.player_tally import PlayerTally, tally_of
from companion.stage.replay import replay
from companion.stage.settings import Settings

FERRY = load(chart_path("ferry-without-lights"))
FORM = FERRY.unfold()
MELODY = [note for note in FORM.melody if note.beat >= 0]
PULSE = 0.5
"""Seconds a beat: 120 a minute."""


def played(
    late: float = 0.0, leave_out: tuple[int, ...] = (), shift: int = 0, until: float = float("inf")
) -> list[Heard]:
    """The melody once through at 120, so many seconds late; without the notes of some bars, in another octave."""
    return [
        Heard(float(note.beat) * PULSE + late, 0x90, note.pitch.midi + shift, 80)
        for note in MELODY
        if FORM.bar_at(note.beat) not in leave_out and note.beat < until
    ]


def beats(first: int = 0, last: int = int(FORM.length) + 2, **more) -> list[Beat]:
    """The companion's beats at 120; the form begins again."""
    length = int(FORM.length)
    return [Beat(float(n % length), n * PULSE, 0.95, 1 + n // length, **more) for n in range(first, last)]


def said(*events, you=("melody",)) -> list[str]:
    return tally_of(FORM, you, [event for group in events for event in group]).lines()


def test_all_of_the_melody_in_time_is_said_to_have_come() -> None:
    lines = said(played(), beats())
    assert lines[0] == f"the melody: {len(MELODY)} of {len(MELODY)} notes within half a beat of their place"
    assert any(line.startswith("on the beat: ") and "at the median on it" in line for line in lines)
    assert "tempo: 120 quarters a minute" in lines
    assert not any("stopped" in line or "elsewhere" in line for line in lines)


@pytest.mark.parametrize("octave", [-12, 12, 24])
def test_in_another_octave_it_is_the_melody_all_the_same(octave: int) -> None:
    assert said(played(shift=octave), beats())[0].startswith(f"the melody: {len(MELODY)} of {len(MELODY)} notes")


def test_in_another_key_it_is_not_the_melody() -> None:
    tally = tally_of(FORM, ["melody"], [*played(shift=1), *beats()])
    assert tally.came["melody"] < 0.3 * len(MELODY)


def test_bars_in_which_notes_are_missing_are_named() -> None:
    lines = said(played(leave_out=(2, 10)), beats())
    left = sum(FORM.bar_at(note.beat) in (2, 10) for note in MELODY)
    assert lines[0].startswith(f"the melody: {len(MELODY) - left} of {len(MELODY)} notes")
    assert lines[0].endswith("; missing in bars 2 and 10")


@pytest.mark.parametrize(("late", "words"), [(0.025, "25 ms after it"), (-0.018, "18 ms before it")])
def test_ahead_of_the_beat_and_behind_it_are_told_apart(late: float, words: str) -> None:
    [line] = [line for line in said(played(late), beats()) if line.startswith("on the beat")]
    assert words in line


def test_what_was_silent_because_the_player_had_stopped_is_not_missing() -> None:
    stop = [State(18 * 4 * PULSE, "holding", 72.0)]
    lines = said(played(until=64), beats(last=72), stop)
    before = sum(note.beat < 64 for note in MELODY)
    assert lines[0] == f"the melody: {before} of {before} notes within half a beat of their place"
    assert "stopped once, in bar 18" in lines


def test_a_leap_is_told_and_what_was_leapt_over_is_not_missing() -> None:
    heard = [*played(until=32), *(replace(h, seconds=h.seconds - 16.0) for h in played() if h.seconds >= 32.0)]
    there = [*beats(last=32), *(replace(b, seconds=b.seconds - 16.0) for b in beats(first=64))]
    lines = said(heard, there)
    assert "went on elsewhere once, from bar 8 to bar 17" in lines and "missing" not in lines[0]


def test_where_they_improvise_or_the_companion_is_lost_nothing_is_held_against_the_chart() -> None:
    for unclear in (beats(event="solos"), beats(turn="ours"), [replace(beat, sure=0.2) for beat in beats()]):
        assert not any(line.startswith("the melody") for line in said([], unclear))
        assert not any(line.startswith("the melody") for line in said(played(), unclear))


def test_a_bass_is_held_against_the_basses_of_the_chords() -> None:
    chords = [span for span in FORM.chords if span.chord.is_chord]
    roots = [Heard(float(s.start) * PULSE, 0x90, 36 + s.chord.bass_name.pc, 90) for s in chords if s.chord.bass_name]
    lines = said(roots, beats(), you=("bass",))
    assert lines[0] == f"the bass: {len(chords)} of the bass of {len(chords)} chords within half a beat of their place"


def test_with_both_hands_a_chord_does_not_stand_for_the_melody() -> None:
    under = [Heard(h.seconds, 0x90, h.data1 - 12, 60) for h in played()]
    above = [Heard(h.seconds, 0x90, 95 if h.data1 % 12 != 95 % 12 else 96, 60) for h in played()]
    lines = said(under, above, beats(), you=("melody", "chords"))
    assert lines[0].startswith(f"the melody: 0 of {len(MELODY)} notes")


def test_touch_is_told_by_most_of_the_velocities() -> None:
    heard = [replace(h, data2=50 + n % 41) for n, h in enumerate(played())]
    [line] = [line for line in said(heard, beats()) if line.startswith("touch")]
    assert line == "touch: velocity 70 at the median, 8 of 10 notes from 54 to 86"


def test_asked_for_twice_it_says_the_same() -> None:
    tally = tally_of(FORM, ["melody"], [*played(leave_out=(3,)), *beats()])
    assert tally.lines() == tally.lines()


def test_a_long_evening_takes_no_more_room_than_a_short_one() -> None:
    tally = PlayerTally(FORM, {"melody"})
    for chorus in range(40):
        later = chorus * float(FORM.length) * PULSE
        events = [*played(), *beats(last=int(FORM.length))]
        for event in sorted(events, key=lambda one: one.seconds):
            tally.add(replace(event, seconds=event.seconds + later))
    assert len(tally._strokes) < 100 and len(tally._undecided) < 100
    assert tally.came["melody"] > 38 * len(MELODY)


@pytest.mark.parametrize(("manner", "seed"), [("evening", 1), ("evening", 2), ("messy", 3)])
def test_of_a_simulated_player_as_many_notes_come_as_they_played(manner: str, seed: int) -> None:
    """The pianist's own record says which notes were right; an octave's worth of luck goes to wrong ones."""
    player = simulate(FORM, frozenset({"melody"}), manner=manner, seed=seed, choruses=3)
    settings = Settings(tempo=player.tempo, start=player.start, count_in=2, choruses=3)
    recording = replay(FERRY, player.heard, settings, until=player.heard[-1].seconds + 2)
    tally = tally_of(FORM, {"melody"}, [*recording.heard, *recording.reports])
    right = sum(note.kind == "right" for note in player.notes)
    written = right + sum(note.kind in ("wrong", "missing") for note in player.notes)
    came, counted = tally.came["melody"], tally.came["melody"] + tally.missed.total()
    assert 0.85 * written < counted <= written * 1.02
    assert came / counted == pytest.approx(right / written, abs=0.05)


# Moments and counts exactly on a limit


def tallied(*events, you=("melody",)) -> PlayerTally:
    return tally_of(FORM, you, [event for group in events for event in group])


@pytest.mark.parametrize(("late", "comes"), [(-0.26, False), (-0.25, True), (0.0, True), (0.25, True), (0.26, False)])
def test_a_note_comes_within_half_a_beat_of_its_place_early_or_late(late: float, comes: bool) -> None:
    one = next(note for note in MELODY if note.beat >= 4)
    stroke = Heard(float(one.beat) * PULSE + late, 0x90, one.pitch.midi, 80)
    assert tallied([stroke], beats(0, 16)).came["melody"] == comes


@pytest.mark.parametrize(
    ("late", "counted"), [(-0.101, False), (-0.099, True), (0.0, True), (0.099, True), (0.101, False)]
)
def test_a_stroke_is_meant_for_a_beat_within_a_fifth_of_it(late: float, counted: bool) -> None:
    tally = tallied([Heard(8 * PULSE + late, 0x90, 60, 80)], beats(0, 16))
    assert dict(tally.off) == ({round(1000 * late): 1} if counted else {})


@pytest.mark.parametrize(("sure", "held_against"), [(0.49, False), (0.5, True)])
def test_where_the_place_is_not_sure_nothing_is_held_against_the_chart(sure: float, held_against: bool) -> None:
    unsure = [replace(beat, sure=sure) for beat in beats(0, 40)]
    tally = tallied([Heard(n * PULSE, 0x90, 1, 80) for n in range(40)], unsure)
    assert bool(tally.missed) == held_against


def test_a_tempo_is_taken_over_four_beats_in_whole_quarters() -> None:
    assert dict(tallied(beats(0, 4)).tempi) == {}
    assert dict(tallied(beats(0, 5)).tempi) == {120: 1}
    assert dict(tallied(beats(0, 12)).tempi) == {120: 8}
    slower = [replace(beat, seconds=beat.seconds * 1.5) for beat in beats(0, 6)]
    assert dict(tallied(slower).tempi) == {80: 2}
    at_once = [replace(beat, seconds=beat.seconds / 1e4) for beat in beats(0, 5)]
    assert dict(tallied(at_once).tempi) == {1000: 1}


@pytest.mark.parametrize("skipped", [1, 2, 8, -1, -4])
def test_a_leap_is_counted_by_where_from_where_to_and_over_how_many_beats(skipped: int) -> None:
    there = [replace(beat, chart_beat=beat.chart_beat + skipped) for beat in beats(12, 16)]
    tally = tallied(beats(0, 12), there)
    landed = FORM.bar_at(12 + skipped)
    assert dict(tally.leaps) == {(3, landed, skipped): 1}


def test_from_the_end_of_the_form_to_its_beginning_is_no_leap_and_after_a_stop_nothing_is() -> None:
    length = int(FORM.length)
    assert not tallied(beats(length - 4, length + 4)).leaps
    stop = State(12 * PULSE - 0.1, "holding")
    again = [replace(beat, chart_beat=beat.chart_beat - 8) for beat in beats(12, 16)]
    tally = tallied(beats(0, 12), [stop], again)
    assert not tally.leaps and dict(tally.stops) == {3: 1}


@pytest.mark.parametrize(
    ("stops", "words"),
    [(1, "stopped once, in bar 1"), (2, "stopped twice, in bar 1"), (3, "stopped 3 times, in bar 1")],
)
def test_how_often_is_said_as_people_say_it(stops: int, words: str) -> None:
    holding = [State(0.6 + 0.01 * n, "holding") for n in range(stops)]
    assert words in said(beats(0, 2), holding)


@pytest.mark.parametrize(
    ("bars", "words"),
    [
        ((2,), "once, in bar 2"),
        ((2, 5), "twice, in bars 2 and 5"),
        ((2, 5, 9), "3 times, in bars 2, 5 and 9"),
        ((2, 5, 9, 9, 12, 5, 2), "7 times, in 4 bars, most of them in bars 2, 5 and 9"),
    ],
)
def test_bars_are_named_up_to_three_and_then_those_with_most(bars: tuple[int, ...], words: str) -> None:
    tally = PlayerTally(FORM, ["melody"])
    for bar in bars:
        tally.stops[bar] += 1
    assert f"stopped {words}" in tally.lines()


@pytest.mark.parametrize(("count", "told"), [(7, False), (8, True)])
def test_of_eight_notes_or_beats_a_distribution_is_told_and_of_seven_none(count: int, told: bool) -> None:
    tally = PlayerTally(FORM, ["melody"])
    for n in range(count):
        tally.off[n - 1] += 1
        tally.tempi[100 + n] += 1
        tally.velocities[60 + n] += 1
    lines = tally.lines()
    assert len(lines) == (3 if told else 0)
    if told:  # worked by hand: a tenth, a half and nine tenths of eight are reached with the 1st, 4th and 8th
        assert lines == [
            "on the beat: 8 notes, at the median 2 ms after it, 8 of 10 from −1 to +6 ms",
            "tempo: 103 quarters a minute, from 100 to 107",
            "touch: velocity 63 at the median, 8 of 10 notes from 60 to 67",
        ]


@pytest.mark.parametrize(
    ("over", "words"),
    [
        (1, "a beat left out in bar 7"), (-1, "a beat twice in bar 7"),
        (3, "3 beats left out in bar 7"), (-3, "3 beats twice in bar 7"),
        (4, "from bar 5 to bar 7"), (-4, "from bar 5 to bar 7"), (0, "from bar 5 to bar 7"),
    ],
)  # fmt: skip
def test_a_leap_within_a_bar_is_told_in_beats_and_a_longer_one_in_bars(over: int, words: str) -> None:
    tally = PlayerTally(FORM, ["melody"])
    tally.leaps[5, 7, over] += 1
    assert tally.lines() == [f"went on elsewhere once, {words}"]


ONE = next(note for note in MELODY if note.beat >= 8)
"""A note of the melody, and the moment of its beat at 120."""
ITS_MOMENT = float(ONE.beat) * PULSE


@pytest.mark.parametrize(
    ("you", "apart", "above", "comes"),
    [
        # Of both hands only what nothing stands above within 35 ms may be the melody.
        (("melody", "chords"), 0.0, 1, False), (("melody", "chords"), 0.034, 1, False),
        (("melody", "chords"), -0.034, 1, False), (("melody", "chords"), 0.036, 1, True),
        (("melody", "chords"), 0.0, -1, True), (("melody",), 0.0, 1, True),
    ],
)  # fmt: skip
def test_what_of_two_keys_may_be_the_melody(you: tuple[str, ...], apart: float, above: int, comes: bool) -> None:
    other = 6 if ONE.pitch.midi % 12 != (ONE.pitch.midi + 6) % 12 else 5
    keys = [
        Heard(ITS_MOMENT, 0x90, ONE.pitch.midi, 80),
        Heard(ITS_MOMENT + apart, 0x90, ONE.pitch.midi + above * other, 80),
    ]
    tally = tallied(keys, beats(0, 20), you=you)
    assert (tally.came["melody"] > 0) == comes


@pytest.mark.parametrize(("above", "comes"), [(1, True), (-1, False)])
def test_of_both_hands_the_bass_is_the_lowest(above: int, comes: bool) -> None:
    span = next(s for s in FORM.chords if s.start >= 8 and s.chord.bass_name)
    assert span.chord.bass_name is not None
    at, root = float(span.start) * PULSE, 36 + span.chord.bass_name.pc
    tally = tallied(
        [Heard(at, 0x90, root, 80), Heard(at, 0x90, root + 5 * above, 80)], beats(0, 20), you=("bass", "chords")
    )
    assert (tally.came["bass"] > 0) == comes


def test_one_stroke_stands_for_one_note_and_the_nearest_is_taken() -> None:
    near = [(a, b) for a, b in pairwise(MELODY) if a.beat >= 4 and b.beat - a.beat <= 1]
    twice = next((a, b) for a, b in near if a.pitch.midi % 12 == b.pitch.midi % 12)
    moments = [float(note.beat) * PULSE for note in twice]
    one = Heard(sum(moments) / 2, 0x90, twice[0].pitch.midi, 80)
    both = [Heard(at, 0x90, twice[0].pitch.midi, 80) for at in moments]
    assert tallied([one], beats(0, 40)).came["melody"] == 1
    assert tallied(both, beats(0, 40)).came["melody"] == 2


@pytest.mark.parametrize(
    ("step", "leap"), [(1.0, False), (1.24, False), (0.76, False), (1.25, True), (0.75, True), (2.0, True)]
)
def test_which_beat_follows_another(step: float, leap: bool) -> None:
    tally = tallied(beats(0, 8), [Beat(7 + step, 8 * PULSE, 0.95)])
    assert bool(tally.leaps) == leap


@pytest.mark.parametrize(
    ("last", "first", "leap"),
    [(1.0, 0.0, False), (1.24, 0.0, False), (1.25, 0.0, True), (1.0, 0.24, False), (1.0, 0.25, True)],
)
def test_the_top_follows_the_last_beat_of_the_form(last: float, first: float, leap: bool) -> None:
    length = float(FORM.length)
    tally = tallied([Beat(length - last, 1.0, 0.95), Beat(first, 1.5, 0.95)])
    assert bool(tally.leaps) == leap


def test_from_an_introduction_to_the_head_is_no_leap_and_neither_is_what_lies_outside_the_form() -> None:
    length = float(FORM.length)
    assert not tallied([Beat(-1.0, 1.0, 0.9, 1, "introduction"), Beat(0.0, 1.5, 0.9, 1, "head")]).leaps
    assert not tallied([Beat(-8.0, 1.0, 0.9, 1, "introduction"), Beat(-4.0, 1.5, 0.9, 1, "introduction")]).leaps
    assert not tallied([Beat(length + 4, 1.0, 0.9, 1, "ending"), Beat(length + 9, 1.5, 0.9, 1, "ending")]).leaps


def test_neither_a_pickup_nor_what_comes_after_the_form_is_leapt_from_and_a_new_event_is_no_leap() -> None:
    length = float(FORM.length)
    assert not tallied([Beat(-1.0, 1.0, 0.9), Beat(20.0, 1.5, 0.9)]).leaps
    assert not tallied([Beat(20.0, 1.0, 0.9), Beat(length, 1.5, 0.9)]).leaps
    assert tallied([Beat(20.0, 1.0, 0.9), Beat(length - 1, 1.5, 0.9)]).leaps
    assert not tallied([Beat(8.0, 1.0, 0.9, 1, "head"), Beat(0.0, 1.5, 0.9, 2, "solos")]).leaps


def test_a_stop_is_in_the_bar_of_the_beat_sounded_last() -> None:
    assert dict(tallied(beats(0, 5), [State(2.2, "holding")]).stops) == {2: 1}


def test_in_six_eight_beats_are_dotted_quarters() -> None:
    form = parse_toml('format = 1\nmetre = "6/8"\n[section.A]\nchords = "| C6 | F6 | G7 | C6 |"\n').unfold()
    tally = tally_of(form, ["melody"], [Beat(1.5 * n, n / 2, 0.9) for n in range(5)])
    assert dict(tally.tempi) == {180: 1}, "120 dotted quarters a minute"
    tally.add(Beat(9.0, 2.5, 0.9))
    assert dict(tally.leaps) == {(3, 4, 1): 1}


def test_in_six_eight_a_quaver_is_due_a_third_of_a_beat_later_and_the_top_follows_the_last_beat() -> None:
    text = 'format = 1\nmetre = "6/8"\n[section.A]\nchords = "| C6 | F6 |"\nmelody = "| ceg gec | fac\' c\'af |"\n'
    form = parse_toml(text).unfold()
    heard = [Heard(0.6 * float(note.beat), 0x90, note.pitch.midi, 80) for note in form.melody]
    tally = tally_of(form, ["melody"], [*heard, *(Beat(1.5 * (n % 4), 0.9 * n, 0.9, 1 + n // 4) for n in range(6))])
    assert tally.came["melody"] == 12 and not tally.missed and not tally.leaps
    tally.leaps[1, 2, 1] += 2
    tally.leaps[1, 2, 2] += 1
    assert "went on elsewhere 3 times, a beat left out in bar 2 and from bar 1 to bar 2" in tally.lines()


def test_how_far_a_stroke_is_from_a_beat_is_told_in_milliseconds() -> None:
    """A fifth of a beat at the most, which may be long."""
    assert dict(tallied([Heard(0.1, 0x90, 60, 80)], beats(0, 4)).off) == {100: 1}
    slow = [Beat(float(n), 4.0 * n, 0.9) for n in range(4)]
    assert dict(tallied([Heard(4.75, 0x90, 60, 80)], slow).off) == {750: 1}


def test_of_a_hundred_the_tenth_the_fiftieth_and_the_ninetieth_are_told() -> None:
    """Of tempi the fifth and the ninety-fifth."""
    tally = PlayerTally(FORM, ["melody"])
    for n in range(1, 101):
        tally.off[n] += 1
        tally.tempi[100 + n] += 1
        tally.velocities[n] += 1
    assert tally.lines() == [
        "on the beat: 100 notes, at the median 50 ms after it, 8 of 10 from +10 to +90 ms",
        "tempo: 150 quarters a minute, from 105 to 195",
        "touch: velocity 50 at the median, 8 of 10 notes from 10 to 90",
    ]


def test_beats_told_at_one_moment_say_nothing_of_the_tempo() -> None:
    assert not tallied([Beat(float(n), 1.0, 0.9) for n in range(6)]).tempi


def test_each_key_is_counted_once_and_looked_for_during_eight_seconds() -> None:
    tally = tallied([Heard(0.0, 0x90, 60, 80), Heard(1.0, 0x90, 60, 80), Heard(1.2, 0x80, 60, 0)], beats(0, 2))
    assert dict(tally.velocities) == {80: 2}
    for seconds, kept in ((8.0, 2), (8.1, 1), (9.0, 1), (9.1, 0)):
        tally.add(Beat(4.0, seconds, 0.9))
        assert len(tally._strokes) == kept


def test_a_pickup_is_not_counted_and_the_first_beat_is() -> None:
    chart = replace(FERRY)
    form = chart.unfold()
    silent = [Heard(at, 0x90, 1, 80) for at in (0.0, 0.5, 1.0)]
    tally = tallied(silent, [Beat(float(n), n * PULSE, 0.95) for n in range(-2, 5)])
    within = sum(0 <= note.beat < 3 for note in form.melody)
    assert sum(tally.missed.values()) + tally.came.total() == within


@pytest.mark.parametrize(
    ("missed", "line"),
    [
        ({}, "the melody: 3 of 3 notes within half a beat of their place"),
        ({4: 1}, "the melody: 3 of 4 notes within half a beat of their place; missing in bar 4"),
        ({4: 1, 2: 2}, "the melody: 3 of 6 notes within half a beat of their place; missing in bars 2 and 4"),
    ],
)
def test_how_much_of_a_part_came_is_said_in_a_line(missed: dict[int, int], line: str) -> None:
    tally = PlayerTally(FORM, ["melody", "bass"])
    tally.came["melody"] += 1
    assert tally.lines() == ["the melody: 1 of 1 note within half a beat of its place"]
    tally.came["melody"] += 1
    assert tally.lines() == ["the melody: 2 of 2 notes within half a beat of their place"]
    tally.came["melody"] += 1
    for bar, count in missed.items():
        tally.missed["melody", bar] += count
    assert tally.lines() == [line]
    tally.missed["bass", 9] += 1
    assert tally.lines()[1] == "the bass: 0 of the bass of 1 chord within half a beat of its place; missing in bar 9"


def test_the_commonest_leaps_are_told_and_all_are_counted() -> None:
    tally = PlayerTally(FORM, ["melody"])
    for bar, count in ((1, 1), (2, 4), (3, 3), (4, 2)):
        tally.leaps[bar, bar + 10, 40] += count
    assert tally.lines() == [
        "went on elsewhere 10 times, among them from bar 2 to bar 12, from bar 3 to bar 13 and from bar 4 to bar 14"
    ]
    del tally.leaps[1, 11, 40]
    assert tally.lines()[0].startswith("went on elsewhere 9 times, from bar 2")


@pytest.mark.parametrize(
    ("offs", "said"),
    [([0] * 8, "on it, 8 of 10 from 0 to 0 ms"), ([-5] * 8, "5 ms before it, 8 of 10 from −5 to −5 ms"),
     ([5] * 8, "5 ms after it, 8 of 10 from +5 to +5 ms"),
     ([-9, *[3] * 20, 40], "3 ms after it, 8 of 10 from +3 to +3 ms")],
)  # fmt: skip
def test_how_near_to_the_beat_is_said(offs: list[int], said: str) -> None:
    tally = PlayerTally(FORM, ["melody"])
    tally.off.update(offs)
    assert tally.lines() == [f"on the beat: {len(offs)} notes, at the median {said}"]


@pytest.mark.parametrize(
    ("tempi", "said"),
    [([120] * 8, "120 quarters a minute"), ([100, *[120] * 30, 140], "120 quarters a minute"),
     ([100, *[120] * 18, 140], "120 quarters a minute, from 100 to 120"),
     ([110] * 4 + [130] * 4, "110 quarters a minute, from 110 to 130")],
)  # fmt: skip
def test_how_fast_it_was_is_said(tempi: list[int], said: str) -> None:
    tally = PlayerTally(FORM, ["melody"])
    tally.tempi.update(tempi)
    assert tally.lines() == [f"tempo: {said}"]
