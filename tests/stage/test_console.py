"""What a player sees: a quiet line while it goes, an account after it."""

from __future__ import annotations

import io
import threading
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest

from companion.chart.toml.read import parse_toml
from companion.messages import Beat, Order, Round, State, StateName, WhoseTurn
from companion.stage.console import (
    TURNS,
    WORDS,
    Account,
    BeatTally,
    LiveLine,
    columns_of,
    count_notes,
    doubt_text,
    event_text,
    folded,
    round_text,
    tempo_of,
    told_text,
)

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


@pytest.mark.parametrize(("columns", "tempo"), [(42, True), (41, False)])
def test_the_line_leaves_the_last_column_of_a_terminal_free(terminal, columns, tempo):
    terminal.resize(24, columns)
    line = LiveLine(FORM, terminal.screen)
    line.report(State(0.0, "playing"))
    for beat in beats(6, 4):
        line.report(beat)
    line.close()
    whole = "chorus 1   B, bar 3   ♩ = 120   90 % sure"
    assert len(whole) == 41
    assert terminal.shown().rstrip().endswith("♩ = 120   90 % sure" if tempo else "90 % sure")


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
    orders += [Order(2, "bass", 0x91, 40, 1), Order(2, "melody", 0x80, 72, 64), Order(3, "click", 0xB0, 64, 127)]
    assert count_notes(orders) == {"bass": 2}


def test_there_are_words_for_whatever_the_companion_may_do():
    assert set(WORDS) == set(get_args(StateName)) and set(TURNS) == set(get_args(WhoseTurn))


@pytest.mark.parametrize(
    ("places", "tempo"),
    [
        ([(0, 0.0), (1, 0.5), (2, 1.0)], 120),
        ([(0, 0.0), (2, 1.5)], 80),  # beats of a half note
        ([(0, 0.0), (2.01, 1.5)], None),  # farther on: a leap
        ([(0, 0.0), (1.5, 1.0)], 90),  # dotted quarters
        ([(4, 0.0), (4, 0.5)], None),  # the same beat again
        ([(4, 0.0), (3, 0.5)], None),
        ([(0, 0.5), (1, 0.5)], None),  # in no time
        ([(0, 0.0), (1, 0.5), (2, 1.5), (3, 1.9)], 120),  # the median of 120, 60 and 150
        ([], None),
    ],
)
def test_the_tempo_is_the_median_of_beats_that_follow_each_other(places, tempo):
    assert tempo_of([Beat(beat, seconds, 1.0) for beat, seconds in places]) == (tempo and pytest.approx(tempo))


def test_a_tally_has_the_last_chorus_the_mean_surety_and_the_median_tempo():
    assert (BeatTally().count, BeatTally().chorus, BeatTally().sure, BeatTally().tempo) == (0, 0, 0.0, None)
    two = [Beat(0.0, 0.0, 0.5, 1), Beat(1.0, 0.5, 0.7, 2)]
    assert (BeatTally(two).count, BeatTally(two).chorus, BeatTally(two).tempo) == (2, 2, 120)
    assert BeatTally(two).sure == pytest.approx(0.6) and BeatTally(two[:1]).tempo is None
    faster = [*two, Beat(2.0, 0.9, 0.6, 2), Beat(3.0, 1.2, 0.6, 1)]  # 120, 150, 200
    assert (BeatTally(faster).tempo, BeatTally(faster).chorus) == (150, 2)
    assert BeatTally([*faster, Beat(4.0, 2.2, 0.6)]).tempo == 120  # and 60: of four the lower of the middle two
    assert BeatTally([Beat(0.0, 0.0, 1.0), Beat(1.0, 0.001, 1.0)]).tempo == 1000, "a slip of the clock is no tempo"


@pytest.mark.parametrize(
    ("state", "said"),
    [
        (State(0.0, "playing"), ""),
        (State(0.0, "playing", event="head", time=1, times=1), "head"),
        (State(0.0, "playing", event="head", time=2, times=2), "head, chorus 2 of 2"),
        (State(0.0, "playing", event="solos", time=3), "solos"),
        (State(0.0, "playing", event="solos", time=1, times=3), "solos, chorus 1 of 3"),
        (State(0.0, "playing", event="ending", time=1, times=2), "ending"),
        (State(0.0, "playing", event="introduction", time=1, times=2), "introduction"),
    ],
)
def test_which_event_is_on(state, said):
    assert event_text(state) == said


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({}, "bars 17–24 · round 5 · ♩ = 96"),
        ({"last": 17}, "bar 17 · round 5 · ♩ = 96"),
        ({"then": 100, "why": "clean"}, "bars 17–24 · round 5 · ♩ = 96, next 100 · clean"),
        ({"then": 96, "why": "bar 18: a wrong note"}, "bars 17–24 · round 5 · ♩ = 96, again · bar 18: a wrong note"),
        ({"tempo": 92.5, "then": 90.25}, "bars 17–24 · round 5 · ♩ = 92.5, next 90.25"),
    ],
)
def test_a_round_of_a_drill_in_a_line(more, said):
    told = {"first": 17, "last": 24, "tempo": 96.0, **more}
    assert round_text(Round(0.0, 5, you=("melody",), key="C major", start=1.0, **told)) == said


@pytest.mark.parametrize(
    ("name", "event", "last", "before", "said"),
    [
        ("playing", "solos", True, False, "last time: the head comes next"),
        ("playing", "head", True, False, "last time: the ending comes next"),
        ("playing", "head", True, True, ""),
        ("playing", "head", False, True, "taken back: it goes on as before"),
        ("ended", "ending", False, True, ""),
        ("playing", "head", False, False, ""),
    ],
)
def test_what_was_understood_of_the_last_time(name, event, last, before, said):
    assert told_text(State(0.0, name, event=event, last=last), before) == said


@pytest.mark.parametrize(
    ("sure", "said"), [(0.0, "looking"), (0.29, "looking"), (0.3, "not sure"), (0.59, "not sure"), (0.6, ""), (1.0, "")]
)
def test_how_unsure_the_place_is_in_words(sure, said):
    assert doubt_text(sure).startswith(said) and bool(doubt_text(sure)) == bool(said)


def test_a_terminal_is_as_wide_as_it_says_and_80_columns_where_it_says_nothing(terminal):
    terminal.resize(24, 97)
    assert columns_of(terminal.screen) == 97
    terminal.resize(24, 0)
    assert columns_of(terminal.screen) == columns_of(io.StringIO()) == 80
    terminal.shown()


@pytest.mark.parametrize(
    ("at", "event", "said"),
    [
        (-8.0, "introduction", "the head in 2 bars"), (-4.5, "introduction", "the head in 2 bars"),
        (-4.0, "introduction", "the head in a bar"), (-1.0, "introduction", "the head in a bar"),
        (16.0, "ending", "bar 1"), (19.0, "ending", "bar 1"), (20.0, "ending", "bar 2"),
        (0.0, "", "A, bar 1"), (7.0, "", "A, bar 2"), (8.0, "", "B, bar 3"), (15.0, "head", "B, bar 4"),
    ],
)  # fmt: skip
def test_where_one_is_in_bars(at, event, said):
    line = LiveLine(FORM, io.StringIO())
    assert line.place(Beat(at, 0.0, 0.9, 1, event)).split("   ")[1] == said
    line.close()


def test_the_tempo_shown_is_that_of_the_last_beats():
    line = LiveLine(FORM, io.StringIO())
    line.report(State(0.0, "playing"))
    for beat in (*beats(0, 5, 60.0), *beats(5, 8, 120.0, start=5.0)):
        line.report(beat)
    assert "♩ = 120" in line.place(beats(12, 1)[0])
    line.report(Round(9.0, 3, 1, 2, ("melody",), "C major", 96.0, 9.0))
    turn = line.place(Beat(12.0, 9.0, 0.5, 3, turn="ours"))
    assert turn == "round 3   B, bar 4   its turn   ♩ = 120   50 % sure"
    line.close()


def test_of_nine_beats_most_were_fast():
    """Four intervals of a slow tempo and five of a fast one: the oldest of more than eight don't count."""
    line = LiveLine(FORM, io.StringIO())
    for beat in (*beats(0, 5, 60.0), *beats(5, 5, 120.0, start=4.5)):
        line.report(beat)
    assert "♩ = 120" in line.place(beats(9, 1)[0])
    line.close()


def test_the_tempo_shown_is_that_of_eight_intervals():
    """Of the nine, five slow and then four fast, the oldest doesn't count: in the middle of 60 and 120."""
    line = LiveLine(FORM, io.StringIO())
    for beat in (*beats(0, 6, 60.0), *beats(6, 4, 120.0, start=5.5)):
        line.report(beat)
    assert "♩ = 90 " in line.place(beats(9, 1)[0])
    line.close()


@pytest.mark.parametrize(
    ("states", "said"),
    [
        ([("playing", "head"), ("counting", "head")], ["playing", "head", "counting in"]),
        ([("playing", ""), ("ended", "head")], ["playing", "the end"]),
    ],
)
def test_neither_a_count_in_nor_the_end_names_an_event(states, said):
    screen = io.StringIO()
    line = LiveLine(FORM, screen)
    for n, (name, event) in enumerate(states):
        line.report(State(float(n), name, event=event))
    line.close()
    assert screen.getvalue().splitlines() == said


def shown_in(terminal, tell):
    line = LiveLine(FORM, terminal.screen)
    tell(line)
    line.close()
    return terminal.shown()


def test_in_a_terminal_a_line_that_stays_takes_the_place_of_the_one_that_does_not():
    words = "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen"

    left = [(True, "kept"), (False, "A, bar 1, and more"), (False, "A, bar 2"), (True, words), None]

    class WrittenOneByOne(Terminal):
        def flush(self):
            if left:
                line._queue.put(left.pop(0))

    screen = WrittenOneByOne()
    line = LiveLine(FORM, screen)
    line.wait()
    line._thread.join(5)
    assert screen.getvalue().split("\r") == [
        "", "waiting for you", " " * 15, "kept\n", "A, bar 1, and more", "A, bar 2".ljust(18), " " * 8,
        words.removesuffix(" fourteen fifteen") + "\n  fourteen fifteen\n", "  ", "",
    ]  # fmt: skip


@pytest.mark.parametrize(("columns", "shown"), [(16, "waiting for you"), (15, "waiting for y…"), (12, "waiting fo…")])
def test_a_line_too_long_for_the_terminal_is_cut(terminal, columns, shown):
    terminal.resize(24, columns)
    seen = shown_in(terminal, lambda line: line.wait())
    assert seen == f"\r{shown}\r" + " " * min(len(shown) + 2, columns - 1) + "\r"


def test_a_round_is_a_line_where_it_is_over_or_nobody_watches(terminal):
    under_way = Round(0.0, 1, 1, 2, ("melody",), "C major", 96.0, 1.0)
    over = replace(under_way, good=True, why="clean", then=100.0)

    def tell(line):
        line.report(under_way)
        line.report(over)

    assert shown_in(terminal, tell).count("round 1") == 1
    screen = io.StringIO()
    line = LiveLine(FORM, screen)
    line.wait()  # into a file nothing is said of waiting
    tell(line)
    line.close()
    assert screen.getvalue().splitlines() == ["bars 1–2 · round 1 · ♩ = 96", round_text(over)]


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0.4, "0 s"),
        (59.4, "59 s"),
        (59.6, "1 min 0 s"),
        (60.4, "1 min 0 s"),
        (119.0, "1 min 59 s"),
        (3661, "61 min 1 s"),
    ],
)
def test_how_long_it_was(seconds, said):
    assert Account("Back Stairs", seconds, 2, BeatTally(), {}).lines() == [f"Back Stairs: {said}, you played 2 notes"]


@pytest.mark.parametrize(
    ("count", "parts", "more", "said"),
    [
        (1, {}, {}, "the companion: 1 beat, into chorus 1, 90 % sure of the place on average"),
        (2, {}, {"drilled": True}, "the companion: 2 beats, into round 1, 90 % sure of the place on average"),
        (0, {"bass": 3, "chords": 4}, {}, "the companion's notes: bass 3, chords 4"),
    ],
)
def test_what_the_companion_did(count, parts, more, said):
    account = Account("Back Stairs", 3.0, 1, BeatTally(beats(0, count)), parts, who="the pianist", **more)
    assert account.lines() == ["Back Stairs: 3 s, the pianist played 1 note", said]
