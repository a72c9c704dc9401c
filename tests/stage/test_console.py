"""What a player sees: a quiet line while it goes, an account after it."""

from __future__ import annotations

import io
import threading
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest

from companion.chart.toml.read import parse_toml
from companion.messages import Beat, Order, State, StateName, WhoseTurn
from companion.stage.console import TURNS, WORDS, Account, BeatTally, LiveLine, count_notes, folded, tempo_of

FORM = parse_toml(
    'format = 1\ntitle = "Back Stairs"\nkey = "C"\nmetre = "4/4"\ntempo = 120\nform = "A B"\n'
    '[section.A]\nchords = "| C6 | % |"\n[section.B]\nchords = "| G7 | % |"\n'
).unfold()


class Terminal(io.StringIO):
    def isatty(self):
        return True


def beats(first, count, tempo=120.0, start=0.0):
    return [Beat(float(first + n), start + n * 60 / tempo, 0.9) for n in range(count)]


def test_tempo_is_told_from_the_beats_and_a_leap_does_not_count():
    assert tempo_of(beats(0, 5, 100.0)) == pytest.approx(100.0)
    assert tempo_of([*beats(0, 4), *beats(32, 4, start=2.0)]) == pytest.approx(120.0)
    assert tempo_of(beats(0, 1)) is None


def test_the_line_says_chorus_section_bar_tempo_and_how_sure():
    screen = Terminal()
    line = LiveLine(FORM, screen)
    line.report(State(0.0, "playing"))
    for beat in beats(6, 4):
        line.report(beat)
    assert line.place(beats(6, 4)[-1]) == "chorus 1   B, bar 3   ♩ = 120   90 % sure"
    line.close()
    assert "B, bar 3" in screen.getvalue() and "\n" not in screen.getvalue()


@pytest.mark.parametrize(
    ("columns", "shown"),
    [
        (90, "solos, chorus 1 of 2   B, bar 4   ♩ = 120   90 % sure   holding, go on when you like"),
        (79, "solos, chorus 1 of 2   B, bar 4   90 % sure   holding, go on when you like"),
        (64, "solos, chorus 1 of 2   B, bar 4   holding, go on when you like"),
        (40, "B, bar 4   holding, go on when you like"),
        (20, "B, bar 4"),
    ],
)
def test_a_narrow_line_leaves_out_what_is_least_useful(columns, shown):
    line = LiveLine(FORM, io.StringIO())
    line.report(State(1.0, "playing", event="solos", time=1, times=2))
    for beat in (replace(beat, event="solos") for beat in beats(8, 8)):
        line.report(beat)
    line.report(State(5.0, "holding", event="solos", time=1, times=2))
    assert line.place(replace(beats(12, 1)[0], event="solos"), columns) == shown
    line.close()


@pytest.mark.parametrize("columns", [12, 40, 132])
def test_the_line_never_wraps_in_a_terminal(terminal, columns):
    terminal.resize(24, columns)
    line = LiveLine(FORM, terminal.screen)
    line.wait()
    line.report(State(0.0, "playing"))
    for beat in beats(0, 12):
        line.report(beat)
    line.report(State(6.0, "holding"))
    line.report(beats(12, 1)[0])
    line.close()
    seen = terminal.shown()
    lines = [text for text in seen.replace("\n", "\r").split("\r") if text.strip()]
    assert lines and max(map(len, lines)) < columns
    assert "bar 4" in lines[-1]


def test_a_line_that_stays_is_broken_between_words_and_a_path_is_not_broken():
    path = "takes/2026-11-29-a-walk-of-an-hour"
    assert folded("highest C: last time; B: again; A: next passage", 24).splitlines() == [
        "highest C: last time; B:",
        "  again; A: next passage",
    ]
    assert path in folded(f"kept in {path}", 20).splitlines()[1]
    assert folded("the end", 7) == "the end"


def test_the_line_says_which_event_is_on_and_what_was_understood_of_the_last_time():
    screen = io.StringIO()
    line = LiveLine(FORM, screen)
    line.report(State(0.0, "counting", event="introduction"))
    line.report(State(1.0, "playing", event="introduction"))
    line.report(State(2.0, "playing", event="head"))
    line.report(State(3.0, "playing", event="solos", time=1, times=2))
    solo = replace(beats(6, 1)[0], event="solos", chorus=2)
    assert line.place(solo).startswith("solos, chorus 1 of 2   A, bar 2")
    line.report(State(4.0, "playing", event="solos", time=1, times=2, last=True))
    line.report(State(5.0, "playing", event="solos", time=1, times=2))
    line.report(State(6.0, "playing", event="solos", time=2, times=2))
    line.report(State(7.0, "playing", event="head"))
    line.report(State(8.0, "playing", event="head", last=True))
    line.report(State(9.0, "playing", event="ending"))
    line.report(State(10.0, "ended", event="ending"))
    line.close()
    assert screen.getvalue().splitlines() == [
        "counting in",
        "playing",
        "introduction",
        "head",
        "solos, chorus 1 of 2",
        "last time: the head comes next",
        "taken back: it goes on as before",
        "solos, chorus 2 of 2",
        "head",
        "last time: the ending comes next",
        "ending",
        "the end",
    ]


def test_the_line_counts_the_bars_of_an_introduction_down_and_those_of_an_ending_up():
    line = LiveLine(FORM, io.StringIO())
    places = [
        Beat(at, 0.0, 0.9, 1, event) for at, event in ((-8.0, "introduction"), (-1.0, "introduction"), (20.0, "ending"))
    ]
    assert ["the head in 2 bars" in line.place(places[0]), "the head in a bar" in line.place(places[1])] == [True, True]
    assert "bar 2" in line.place(places[2])
    line.close()


def test_into_a_file_only_changes_of_state_are_written_a_line_each():
    screen = io.StringIO()
    line = LiveLine(FORM, screen)
    line.report(State(0.0, "playing"))
    for beat in beats(0, 8):
        line.report(beat)
    line.report(State(4.0, "holding"))
    line.close()
    assert screen.getvalue() == "playing\nholding, go on when you like\n"


def test_a_terminal_that_is_held_up_holds_up_no_note():
    class HeldUp(Terminal):
        def write(self, text):
            threading.Event().wait(30)

    line = LiveLine(FORM, HeldUp())
    for beat in beats(0, 100):
        line.report(beat)  # returns at once, or this test takes an hour
    line.close()


def test_the_account_tells_what_was_played_and_where_it_is_kept():
    said = ["the melody: 20 of 24 notes within half a beat of their place; missing in bar 3"]
    text = Account("Back Stairs", 83.2, 120, BeatTally(beats(0, 160)), {"bass": 160}, said, Path("takes/x")).lines()
    assert text == [
        "Back Stairs: 1 min 23 s, you played 120 notes",
        *said,
        "the companion's notes: bass 160; 160 beats, into chorus 1, 90 % sure of the place on average",
        "kept in takes/x",
    ]


def test_an_account_of_nothing_says_so():
    assert Account("Back Stairs", 3.0, 0, BeatTally(), {}).lines() == [
        "Back Stairs: no note of yours was heard, so nothing is kept"
    ]


def test_notes_are_counted_by_part():
    orders = [Order(0, "bass", 0x90, 40, 90), Order(1, "bass", 0x80, 40, 64), Order(1, "chords", 0x90, 60, 0)]
    assert count_notes(orders) == {"bass": 1}


def test_there_are_words_for_whatever_the_companion_may_do():
    assert set(WORDS) == set(get_args(StateName)) and set(TURNS) == set(get_args(WhoseTurn))
