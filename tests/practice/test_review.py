"""The review of a take: its bars, its moves, and what is said of it, from takes of which everything is known."""

from __future__ import annotations

import json
import statistics
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest

from companion.chart.toml.read import parse_toml
from companion.messages import Heard, Part
from companion.practice.alignment import Alignment, TakeMove, align
from companion.practice.judging import JudgedNote
from companion.practice.review import Review, _off_places, _voicings_summary, review
from companion.practice.review_table import review_table
from companion.practice.sweeps import Sweep
from companion.practice.voicing_names import VoicingName
from companion.practice.voicings_played import PlayedVoicing
from companion.stage.settings import Settings
from tests.practice.planted import Leg, PlantedTake, perform
from tests.practice.test_alignment import chart, form
from tests.practice.test_flow import FORM as STEPS
from tests.practice.test_flow import played as on_beats
from tests.practice.test_flow import sweep

NAME = "ferry-without-lights"


def reviewed(take: PlantedTake, name: str = NAME) -> Review:
    return review(form(name), align(chart(name), Settings(you=frozenset({"melody"})), take.heard))


@cache
def through() -> PlantedTake:
    return perform(form(NAME), [Leg(-1, 127), Leg(-1, 128)])


@cache
def clean() -> Review:
    return reviewed(through())


def test_every_bar_played_has_a_row_for_each_time_through() -> None:
    rows = [(bar.chorus, bar.bar) for bar in clean().bars]
    assert rows == [(1, 0), *((chorus, bar) for chorus in (1, 2) for bar in range(1, 33))]


def test_of_clean_playing_nothing_is_said() -> None:
    assert clean().findings == ()


def test_the_tempo_of_a_bar_is_the_players() -> None:
    moments = [seconds for _, seconds in through().beats[:128]]
    for bar in clean().bars[1:31]:
        first = 4 * (bar.bar - 1)
        assert bar.tempo == pytest.approx(60 * 4 / (moments[first + 4] - moments[first]), rel=0.04)
    assert statistics.median(bar.tempo for bar in clean().bars) == pytest.approx(132, rel=0.1)


def test_a_bar_that_was_begun_again_has_two_rows_and_is_said_to_be() -> None:
    found = reviewed(perform(form(NAME), [Leg(-1, 88), Leg(80, 128, pause=0.7)]))
    assert [bar.bar for bar in found.bars if bar.bar in (20, 21, 22)] == [20, 21, 22, 21, 22]
    assert [(one.what, one.bar, one.text) for one in found.findings] == [
        ("restarted", 22, "bar 22: went back to bar 21")
    ]


def test_a_bar_that_is_begun_again_from_the_next_downbeat_is_the_one_that_is_told() -> None:
    found = reviewed(perform(form(NAME), [Leg(-1, 85), Leg(80, 128, pause=0.7)]))
    assert [(one.what, one.bar, one.text) for one in found.findings] == [("restarted", 21, "bar 21: begun again")]


def test_left_out_bars_are_said_to_be_and_have_no_row() -> None:
    found = reviewed(perform(form(NAME), [Leg(-1, 48), Leg(64, 128)]))
    assert [(one.what, one.bar, one.figure) for one in found.findings] == [("skipped", 13, 4.0)]
    assert not {13, 14, 15, 16} & {bar.bar for bar in found.bars}


def test_a_stop_within_a_bar_is_told_once_and_the_bar_is_one() -> None:
    take = perform(form(NAME), [Leg(-1, 128)])
    at = next(note for note in take.notes if note.beat == 82)
    found = reviewed(take.held(at.seconds - 0.02, 2.5))
    assert [(one.what, one.bar) for one in found.findings] == [("hesitated", 21)]
    assert found.findings[0].figure == pytest.approx(2.5, abs=0.4)
    assert [bar.bar for bar in found.bars].count(21) == 1


def test_each_wrong_note_is_said_with_its_bar_and_names() -> None:
    take = perform(form(NAME), [Leg(-1, 128)])
    index = next(n for n, note in enumerate(take.notes) if note.beat == 84)
    found = reviewed(take.changed(index, take.notes[index].expected + 1).changed(index + 3, None))
    wrong, missed = found.findings
    assert (wrong.what, wrong.bar, wrong.figure) == ("wrong-note", 22, 1.0)
    assert wrong.text == "bar 22: C, not B"  # MIDI 72 and 71
    assert missed.what == "missed-note" and missed.text.endswith("missed")


def test_the_table_holds_what_other_programs_read() -> None:
    take = perform(form(NAME), [Leg(-1, 48), Leg(64, 128)]).changed(9, None).with_key(9.0, 40)
    table = json.loads(json.dumps(review_table(reviewed(take))))
    assert set(table) == {"notes", "bars", "moves", "findings", "voicings", "figures", "gone"}
    assert all(set(one) == {"bar", "pass", "what", "figure", "text", "recurs"} for one in table["findings"])
    for note in table["notes"]:
        assert set(note) == {"kind", "chart_beat", "pass", "expected", "pitch", "seconds", "deviation_ms"}
        assert (note["seconds"] is None) == (note["pitch"] is None) == (note["kind"] == "missing")
        assert (note["deviation_ms"] is None) == (note["kind"] in ("missing", "extra"))
    assert set(table["bars"][0]) == {
        "bar", "pass", "right", "wrong", "missing", "extra", "deviation_ms", "spread_ms", "tempo", "swing"
    }  # fmt: skip
    for kind in ("right", "wrong", "missing", "extra"):
        assert sum(row[kind] for row in table["bars"]) == sum(note["kind"] == kind for note in table["notes"])
    (move,) = table["moves"]
    assert (move["from_beat"], move["to_beat"], move["pause_s"]) == (48, 64, 0)


def test_a_free_chord_is_off_by_its_distance_from_the_nearest_beat_or_quaver() -> None:
    two_chords = parse_toml("""
format = 1
title = "Two Chords"
key = "C major"
form = "A"

[section.A]
chords = "| Dm7 | G7 | Cmaj7 | C6 | Dm7 | G7 | Cmaj7 | C6 |"
""")
    voicings = {0: (53, 57, 60, 64), 1: (53, 57, 59, 64), 2: (52, 55, 59, 62), 3: (52, 55, 57, 62)}
    late = 0.12
    heard = [
        Heard(2.0 + bar * 2.0 + beat * 0.5 + (late if (bar, beat) == (5, 2) else 0.0), 0x90, midi, 70)
        for bar in range(16)
        for beat in (0, 2)
        for midi in voicings[bar % 4]
    ]
    settings = Settings(you=frozenset({"chords"}), tempo=120.0, start=2.0)
    found = review(two_chords.unfold(), align(two_chords, settings, heard))
    off = [note for note in found.notes if note.deviation_ms is not None and note.deviation_ms > 80]
    assert {round(note.seconds or 0.0, 2) for note in off} == {2.0 + 10.0 + 1.0 + late}
    assert not [note for note in found.notes if note.kind == "wrong"]


def test_how_a_bar_swings_stands_in_its_row() -> None:
    """Takes are swung 1.6 to 1."""
    shown = [bar.swing for bar in clean().bars if bar.swing is not None]
    assert len(shown) >= 8
    assert statistics.median(shown) == pytest.approx(1.6, abs=0.1)


def test_a_note_that_nobody_could_strike_again_so_soon_is_not_missed() -> None:
    bars = " | ".join(["c e g15/4 a/4 a2", "b2 d'2 b2 g2"] * 4)
    anticipated = parse_toml(f"""
format = 1
title = "Anticipations"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | G7 | C6 | G7 | C6 | G7 | C6 | G7 |"
melody = "| {bars} |"
""")
    tune = anticipated.unfold()
    take = perform(tune, [Leg(0, float(tune.length))])
    soon = [n for n, (a, b) in enumerate(pairwise(tune.melody)) if a.pitch == b.pitch and float(b.beat - a.beat) < 0.2]
    assert len(soon) == 4
    for n in soon:
        take = take.changed(n, None)
    settings = Settings(you=frozenset({"melody"}))
    found = review(tune, align(anticipated, settings, take.heard))
    assert not [one for one in found.findings if one.what == "missed-note"]


# Reviews of takes that are laid already, note for note


def laid(*sweeps: Sweep, notes: Sequence[Sequence[JudgedNote]] | None = None, moves: Sequence[TakeMove] = ()) -> Review:
    """A review of the melody of the steps; each note on its beat unless others are given."""
    judged = [on_beats(one.low, one.high) for one in sweeps] if notes is None else notes
    return review(STEPS, Alignment(tuple(map(tuple, judged)), sweeps, tuple(moves)))


def rows(found: Review) -> list[tuple[int, int, int, float]]:
    return [(bar.bar, bar.chorus, len(bar.notes), round(bar.tempo, 1)) for bar in found.bars]


def test_each_bar_has_its_notes_in_each_chorus_and_a_pickup_stands_before_the_first() -> None:
    assert rows(laid(sweep(-2, 40))) == [
        (0, 1, 2, 120.0), *((bar, 1, 4, 120.0) for bar in range(1, 9)), (1, 2, 4, 120.0), (2, 2, 4, 120.0),
    ]  # fmt: skip
    assert rows(laid(sweep(6, 9))) == [(2, 1, 2, 120.0), (3, 1, 1, 120.0)]
    assert rows(laid(sweep(32, 36))) == [(1, 2, 4, 120.0)]
    assert rows(laid(sweep(28, 36))) == [(8, 1, 4, 120.0), (1, 2, 4, 120.0)]


def test_what_was_held_back_is_left_out_of_a_bars_tempo() -> None:
    """Two seconds for four beats, a quarter of one of them held back: four beats in 1.75 s."""
    assert rows(laid(sweep(0, 12, held=((6.0, 0.25),)))) == [
        (1, 1, 4, 120.0), (2, 1, 4, 137.1), (3, 1, 4, 120.0),
    ]  # fmt: skip
    on_the_line = laid(sweep(0, 12, held=((4.0, 0.25), (8.0, 0.5))))
    assert [tempo for *_, tempo in rows(on_the_line)] == [137.1, 160.0, 120.0], (
        "before a downbeat it is the bar's before"
    )


def test_a_bar_in_which_one_stopped_is_one_and_one_that_was_left_and_begun_again_is_two() -> None:
    stopped = TakeMove(10.0, 9.0, 9.0, 1.0)
    assert rows(laid(sweep(0, 9), sweep(9, 16, 10.0), moves=[stopped])) == [(bar, 1, 4, 120.0) for bar in (1, 2, 3, 4)]
    back = TakeMove(10.0, 9.0, 8.0, 1.0)
    assert [row[:3] for row in rows(laid(sweep(0, 9), sweep(8, 16, 10.0), moves=[back]))] == [
        (1, 1, 4), (2, 1, 4), (3, 1, 1), (3, 1, 4), (4, 1, 4),
    ]  # fmt: skip


def test_after_a_stop_and_a_leap_each_is_what_it_was() -> None:
    """Stopped within bar 3, and gone back within bar 4."""
    moves = [TakeMove(10.0, 9.0, 9.0, 1.0), TakeMove(20.0, 14.0, 12.0, 0.0)]
    found = laid(sweep(0, 9), sweep(9, 14, 10.0), sweep(12, 16, 20.0), moves=moves)
    assert [(bar, many) for bar, _, many, _ in rows(found)] == [(1, 4), (2, 4), (3, 4), (4, 2), (4, 4)]


def test_a_pickup_has_its_own_tempo() -> None:
    beats = ((-2.0, 0.0), (-1.0, 0.5), (0.0, 1.0), (1.0, 2.0), (2.0, 3.0), (3.0, 4.0), (4.0, 5.0))
    assert [tempo for *_, tempo in rows(laid(Sweep(-2.0, 4.0, beats)))] == [120.0, 60.0]


def test_of_the_chords_the_four_that_came_most_are_summed_up() -> None:
    names = ["shell"] * 2 + ["open"] * 5 + ["fourths"] + ["block"] * 3 + ["rootless"] * 4
    voicings = [
        PlayedVoicing(1, 1, 0.0, 1.0, "Dm7", (53, 57), None, VoicingName(name), late_voice=n % 2 > 0)
        for n, name in enumerate(names)
    ]
    assert _voicings_summary(voicings) == ["chords: 5 × open; 4 × rootless; 3 × block; 2 × shell"]
    assert _voicings_summary([]) == []


def test_a_key_just_outside_the_sweep_belongs_to_its_nearest_bar() -> None:
    keys = [JudgedNote("extra", beat, None, 61, 1.0, chorus=chorus) for beat, chorus in ((3.9, 1), (9.0, 2))]
    found = laid(sweep(4, 12), notes=[keys])
    assert [len(bar.notes) for bar in found.bars] == [1, 1]


@pytest.mark.parametrize(
    ("place", "deviation"),
    [
        (0.0, 0.0), (0.1, 50.0), (0.9, -50.0), (0.24, 120.0), (0.26, -120.0), (0.5, 0.0), (0.6, 0.0), (0.71, 0.0),
        (0.74, 12.9), (0.84, 62.9), (0.88, -60.0),
    ],
)  # fmt: skip
def test_a_free_note_is_off_by_its_distance_from_a_beat_or_a_quaver_however_swung(
    place: float, deviation: float
) -> None:
    """Off-beats may lie anywhere from a half to five sevenths of a beat; a beat is half a second."""
    free = JudgedNote("right", 2 + place, None, 60, 1 + place / 2, None, "chords")
    ((one,),) = [bar.notes for bar in laid(sweep(0, 4), notes=[[free]]).bars]
    assert one.deviation_ms == pytest.approx(deviation, abs=1e-6), "to a tenth of a millisecond"


@pytest.mark.parametrize(
    ("place", "swung", "off"),
    [
        (0.2, True, 0.2), (0.3, True, -0.2), (0.42, True, -0.08), (0.5, True, 0.0), (0.7, True, 0.0),
        (0.76, True, 0.76 - 2.5 / 3.5), (0.95, True, -0.05), (0.42, False, -0.08), (0.55, False, 0.05),
        (0.7, False, 0.2), (0.8, False, -0.2),
    ],
)  # fmt: skip
def test_where_quavers_are_even_an_off_beat_is_due_half_way(place: float, swung: bool, off: float) -> None:
    assert _off_places(place, swung) == pytest.approx(off)


@pytest.mark.parametrize(
    ("apart", "pitch", "missed"),
    [(0.19, 62, False), (0.21, 62, True), (-0.19, 62, False), (0.19, 63, True), (0.0, 62, True)],
)
def test_a_note_missing_within_a_fifth_of_a_beat_of_the_same_note_is_one_with_it(
    apart: float, pitch: int, missed: bool
) -> None:
    notes = [JudgedNote("right", 2.0 + apart, pitch, pitch, 1.0), JudgedNote("missing", 2.0, 62, None, None)]
    assert bool(laid(sweep(0, 4), notes=[notes]).findings) is missed


def test_a_fault_has_its_interval_beat_and_moment() -> None:
    notes = [
        JudgedNote("right", 0.0, 60, 60, 0.1, 0.0), JudgedNote("missing", 1.0, 62, None, None),
        JudgedNote("wrong", 2.0, 64, 61, 1.0, 0.0), JudgedNote("extra", 2.5, None, 66, 1.3),
    ]  # fmt: skip
    found = laid(sweep(0, 4), notes=[notes]).findings
    assert [(one.what, one.figure, one.beat, one.midi, one.text) for one in found] == [
        ("missed-note", 1.0, 1.0, 62, "bar 1: D missed"),
        ("wrong-note", -3.0, 2.0, 64, "bar 1: D♭, not E"),
        ("extra-note", 1.0, 2.5, 66, "bar 1: F♯ too many"),
    ]


def drifting(fast: float, bars: int = 12, part: Part = "melody") -> list[str]:
    """What is said of the tempo of steady bars whose last four are so many times as fast; ``part``: of the last key."""
    beats, at = [], 0.0
    for n in range(4 * bars + 1):
        beats.append((float(n), at))
        at += 0.5 / (fast if n >= 4 * (bars - 4) else 1.0)
    one = Sweep(0.0, 4.0 * bars, tuple(beats))
    notes = [*on_beats(0, 4 * bars), JudgedNote("right", 15.5, None, 60, 8.0, None, part)]
    return [line for line in laid(one, notes=[notes]).figures if line.startswith("tempo")]


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        (drifting(1.05), ["tempo: fastest from bar 8 (♩ = 126), slowest from bar 1 (♩ = 120)"]),
        (drifting(1.03), []),
        (drifting(0.9), ["tempo: fastest from bar 1 (♩ = 120), slowest from bar 8 (♩ = 108)"]),
        (drifting(1.05, bars=11), []),  # too few bars
        (drifting(1.05, part="solo"), []),  # of a solo it isn't known well enough
    ],
)
def test_the_tempo_of_four_bars_is_told_where_another_four_differ_by_a_twenty_fifth(
    said: list[str], expected: list[str]
) -> None:
    assert said == expected


def scattered(by: float, notes_known: int = 32, **more: object) -> list[tuple[int, str, float]]:
    """What is said of eight bars of which the third has its notes early and late by so many milliseconds."""
    wobble = (0, 6, -4, 2, -6, 4, -2, 1)
    notes = [
        replace(note, deviation_ms=by * (-1) ** n if 8 <= n < 12 else float(wobble[n % 8]))
        for n, note in enumerate(on_beats(0, notes_known))
    ]
    found = laid(sweep(0, 32, **more), notes=[notes])  # type: ignore[arg-type]
    return [(one.bar, one.text, one.figure) for one in found.findings if one.what == "unsteady"]


def test_a_bar_whose_notes_scatter_is_told_unless_something_else_explains_it() -> None:
    assert scattered(40.0) == [(3, "bar 3: notes early and late, 40 ms about the beat, 8 elsewhere", 40.0)]
    assert scattered(41.27)[0][2] == 41.3, "to a tenth of a millisecond"
    assert scattered(34.0) == []
    assert (len(scattered(40.0, 24)), len(scattered(40.0, 23))) == (1, 0), "of fewer than 24 notes nothing is said"
    for bar, explained in ((12.0, True), (4.0, True), (16.0, False), (0.0, False)):
        assert (not scattered(40.0, held=((bar, 0.6),))) is explained, "in the bar itself, before or after it"
