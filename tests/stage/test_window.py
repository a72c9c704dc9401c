"""The whole window shows at a glance where one is, and leaves the terminal as it was."""

from __future__ import annotations

import io
import os
import re
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from companion.arrange.transposition import in_key
from companion.chart.toml.read import parse_toml
from companion.messages import Beat, Round, State
from companion.stage.console import round_text
from companion.stage.glyphs import large
from companion.stage.window import CLOSE, HOME, LEAST, OPEN, WIPE, Scene, Window, drawn, fits

SCENE = Scene("A2  13", "B in 4", "E♭maj7", "Am7♭5", "solos, chorus 1 of 2   ♩ = 132", "not sure of the place", "kept")
CONTROL = re.compile(r"\x1b\[[?0-9;]*[A-Za-z]")


def plain(rows: list[str]) -> list[str]:
    return [CONTROL.sub("", row) for row in rows]


@pytest.mark.parametrize("columns", [LEAST[0], 80, 132, 240])
@pytest.mark.parametrize("rows", [LEAST[1], 24, 50, 90])
def test_it_fits_the_window_and_the_chord_now_is_the_largest(columns, rows):
    found = plain(drawn(SCENE, columns, rows))
    assert len(found) <= rows and max(map(len, found)) <= columns
    now = next(size for size in (4, 2, 1) if all(any(row in line for line in found) for row in large("E♭maj7", size)))
    then = [size for size in (4, 2, 1) if all(any(row in line for line in found) for row in large("Am7♭5", size))]
    assert now >= max(then, default=1)
    assert any("not sure of the place" in line for line in found[-2:])


def test_the_largest_window_has_the_largest_letters():
    found = plain(drawn(SCENE, 240, 90))
    assert all(any(row in line for line in found) for row in large("E♭maj7", 4))


def layout(scene: Scene, columns: int, rows: int) -> str:
    """In which size each text is drawn, and in which row it begins."""
    found, said = plain(drawn(scene, columns, rows)), []
    assert len(found) == rows and (found[-2].strip(), found[-1].strip()) == (scene.note, scene.foot)
    for name in ("place", "ahead", "now", "then"):
        for size in (4, 2, 1):
            letters = [row.rstrip() for row in large(getattr(scene, name), size)]
            at = [k for k in range(rows) if all(a in b for a, b in zip(letters, found[k:], strict=False))]
            if letters[0] and at:
                said.append(f"{name} {size} in row {at[0]}")
                break
    return ", ".join(said)


@pytest.mark.parametrize(
    ("columns", "rows", "found"),
    [
        (48, 15, "place 1 in row 2, now 1 in row 7"),
        (60, 20, "place 1 in row 2, now 1 in row 7, then 1 in row 12"),
        (70, 21, "place 1 in row 2, ahead 1 in row 2, now 1 in row 7, then 1 in row 12"),
        (70, 22, "place 1 in row 2, ahead 1 in row 2, now 2 in row 7, then 1 in row 15"),
        (80, 24, "place 1 in row 2, ahead 1 in row 2, now 2 in row 7, then 1 in row 15"),
        (132, 30, "place 1 in row 2, ahead 1 in row 2, now 2 in row 7, then 1 in row 15"),
        (132, 40, "place 1 in row 2, ahead 1 in row 2, now 4 in row 7, then 2 in row 22"),
        (132, 41, "place 2 in row 2, ahead 2 in row 2, now 4 in row 10, then 2 in row 25"),
        (132, 50, "place 2 in row 2, ahead 2 in row 2, now 4 in row 10, then 2 in row 25"),
        (240, 90, "place 4 in row 2, ahead 4 in row 2, now 4 in row 17, then 2 in row 32"),
    ],
)
def test_how_large_each_thing_is_in_a_window_of_some_size(columns, rows, found):
    """What it does today, kept: look at a window when it changes."""
    assert layout(SCENE, columns, rows) == found


def test_without_a_chord_now_the_next_one_has_the_room():
    assert layout(replace(SCENE, now=""), 240, 90).endswith("then 4 in row 18")
    assert "then" not in layout(replace(SCENE, then=""), 240, 90)


@pytest.mark.parametrize(("columns", "beside"), [(63, False), (64, True)])
def test_two_texts_stand_side_by_side_where_four_columns_are_left_between_them(columns, beside):
    scene = Scene(place="HHHHHH", ahead="MMMM")  # 35 and 23 columns at the smallest, and the margins
    assert ("ahead" in layout(scene, columns + 2, 24)) == beside


def test_what_is_small_is_cut_at_the_margin():
    scene = Scene(head="h" * 90, note="n" * 90, foot="f" * 90)
    found = drawn(scene, 60, 20)
    assert [found[0], *found[-2:]] == ["  " + letter * 56 for letter in "hnf"]


class Seen(Window):
    """A window whose scenes are kept instead of drawn."""

    def _write(self) -> None:
        self.scenes = []
        while (scene := self._queue.get()) is not None:
            self.scenes.append(scene)


@pytest.fixture
def window(stand):
    seen = Seen(stand.tune().unfold(), None)  # type: ignore[arg-type]
    yield seen
    seen.close()


def last(window: Seen) -> Scene:
    window._queue.put(None)
    window._thread.join(2)
    return window.scenes[-1]


def test_it_counts_the_count_in_with_the_first_chord_to_come(window):
    for beat in range(-8, -5):
        window.report(State(float(beat), "counting", float(beat), 120.0))
    scene = last(window)
    assert (scene.now, scene.then, scene.note) == ("3", "Cmaj7", "counting in")


def test_it_says_section_bar_chord_and_what_comes_next(window):
    window.report(State(0.0, "playing", 0.0, 120.0))
    window.report(Beat(6.0, 3.0, 0.95))  # the second half of bar 2: | Em7 A7 |
    scene = last(window)
    assert (scene.place, scene.ahead, scene.now, scene.then) == ("A  2", "B in 7", "A7", "Dm7")
    assert scene.note == ""


def test_at_the_end_of_the_form_the_top_comes_next(window):
    window.report(State(0.0, "playing", 0.0, 120.0))
    window.report(Beat(63.0, 30.0, 0.95))
    scene = last(window)
    assert (scene.ahead, scene.then) == ("A in 1", "Cmaj7")


@pytest.mark.parametrize(("sure", "said"), [(0.9, ""), (0.5, "not sure of the place"), (0.1, "looking for you")])
def test_how_sure_it_is_is_said_only_where_it_isnt_and_in_words(window, sure, said):
    window.report(State(0.0, "playing", 0.0, 120.0))
    window.report(Beat(6.0, 3.0, sure))
    note = last(window).note
    assert note.startswith(said) and bool(note) == bool(said)


def test_a_change_of_state_stands_until_it_plays_again(window):
    window.report(State(0.0, "playing", 0.0, 120.0))
    window.report(State(4.0, "holding", 8.0, 120.0))
    assert "go on when you like" in last(window).note


def test_the_terminal_is_given_back_with_what_was_said(stand, terminal, monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    terminal.resize(30, 100)
    assert fits(terminal.screen)
    terminal.resize(LEAST[1] - 1, 100)
    assert not fits(terminal.screen)
    window = Window(stand.tune().unfold(), terminal.screen)
    window.say("Ten to Ten: you play melody")
    window.report(Beat(0.0, 1.0, 0.9))
    window.close()
    seen = terminal.shown()
    assert seen.startswith("\x1b[?1049h")
    after = seen.split("\x1b[?1049l")[1]
    assert after.replace("\r", "") == "Ten to Ten: you play melody\n"


def test_a_column_stays_free_on_the_right_so_that_no_line_wraps(stand, terminal):
    terminal.resize(30, 100)
    window = Window(stand.tune().unfold(), terminal.screen)
    window.say("x" * 200)
    window.close()
    shown = terminal.shown().split(CLOSE)[0]
    assert max(map(len, re.findall("x+", shown))) == 95, "two columns on each side, and the last one"


def test_a_terminal_that_is_held_up_holds_up_no_note(stand):
    class HeldUp(io.StringIO):
        def write(self, text):
            threading.Event().wait(30)

    window = Window(stand.tune().unfold(), HeldUp())
    began = time.monotonic()
    for beat in range(500):
        window.report(replace(Beat(0.0, 1.0, 0.9), chart_beat=float(beat % 60)))
    assert time.monotonic() - began < 5  # each would wait half a minute
    window.close()


@pytest.mark.parametrize(
    ("more", "shown", "withheld"),
    [({}, "G7", "C7"), ({"key": "F major"}, "C7", "G7"), ({"hidden": True}, "by heart", "G7")],
    ids=["in its own key", "in another key", "from memory"],
)
def test_a_round_of_a_drill_shows_chords_in_its_key_and_none_from_memory(terminal, monkeypatch, more, shown, withheld):
    chart = parse_toml("""
format = 1
title = "Two Chords"
key = "C major"
form = "A"
[section.A]
chords = "| G7 | G7 |"
""")
    monkeypatch.setenv("TERM", "xterm")
    terminal.resize(40, 120)
    window = Window(chart.unfold(), terminal.screen, lambda key: in_key(chart, key).unfold())
    told = {"key": "C major", **more}
    window.report(Round(0.0, 5, 1, 2, ("melody",), tempo=96, start=5.0, **told))
    window.report(Beat(0.0, 5.0, 0.9, 5))
    window.close()
    rows = plain(terminal.shown().replace("\r", "").split("\n"))

    def is_there(text):
        return any(all(any(row in line for line in rows) for row in large(text, size)) for size in (4, 2, 1))

    assert is_there(shown) and not is_there(withheld)
    head = "bars 1–2 · round 5 · ♩ = 96" + (" · F major" if "key" in more else "")
    assert any(head in row for row in rows)


@pytest.mark.parametrize(
    ("at", "scene"),
    [
        # place, what comes next, the chord, the one after it
        (0.0, ("A  1", "B in 8", "Cmaj7", "Em7")),
        (4.0, ("A  2", "B in 7", "Em7", "A7")),
        (6.0, ("A  2", "B in 7", "A7", "Dm7")),
        (31.0, ("A  8", "B in 1", "Cmaj7", "Am7")),
        (32.0, ("B  9", "A in 8", "Am7", "Dm7")),
        (60.0, ("B  16", "A in 1", "Cmaj7", "Cmaj7")),
        (20.0, ("A  6", "B in 3", "F♯m7♭5", "B7")),
    ],
)
def test_where_one_is_and_what_comes_next(window, at, scene):
    window.report(Beat(at, 3.0, 0.95))
    seen = last(window)
    assert (seen.place, seen.ahead, seen.now, seen.then) == scene


def test_of_a_tune_with_one_section_the_bars_to_go_are_counted(stand):
    window = Seen(stand.chart(stand.TEN).unfold(), None)  # type: ignore[arg-type]
    window.report(Beat(4.0, 3.0, 0.95))
    assert last(window).ahead == "7 to go"


@pytest.mark.parametrize(
    ("at", "event", "place", "now"),
    [
        (-8.0, "introduction", "head in", "2"), (-4.0, "introduction", "head in", "1"),
        (-0.5, "introduction", "head in", "1"), (0.0, "introduction", "head in", "1"),
        (64.0, "ending", "ending, bar", "1"), (67.0, "ending", "ending, bar", "1"),
        (68.0, "ending", "ending, bar", "2"),
    ],
)  # fmt: skip
def test_the_bars_of_an_introduction_are_counted_down_and_those_of_an_ending_up(window, at, event, place, now):
    window.report(Beat(at, 3.0, 0.95, 1, event))
    scene = last(window)
    assert (scene.place, scene.now, scene.ahead, scene.then) == (place, now, "", "")


@pytest.mark.parametrize(("metre", "count"), [("4/4", "1234"), ("3/4", "123"), ("6/8", "12")])
def test_the_count_in_counts_the_beats_of_the_metre(stand, metre, count):
    chart = stand.chart(("| C6 | F6 |", ""), metre=metre, feel="straight")
    form = chart.unfold()
    window = Seen(form, None)  # type: ignore[arg-type]
    pulse = float(form.metre.pulse)
    for n in range(len(count)):
        window.report(State(float(n), "counting", -float(form.metre.bar) + n * pulse, 120.0))
    window.report(State(9.0, "counting"))
    assert last(window).then == "C6"
    assert [scene.now for scene in window.scenes] == [*count, "1"]


def test_before_it_is_known_where_one_is_there_is_the_first_chord(window):
    window.wait()
    scene = last(window)
    assert (scene.then, scene.note, scene.now) == ("Cmaj7", "waiting for you", "")


@pytest.mark.parametrize(
    ("chords", "shown"),
    [("| N.C. | C6 |", ""), ("| Bb7 | C6 |", "B♭7"), ("| F#m7 | C6 |", "F♯m7"), ("| C6 F6 G7 Am7 | C6 |", "C6")],
)
def test_an_opening_without_a_chord_shows_none(stand, chords, shown):
    window = Seen(stand.chart((chords, "")).unfold(), None)  # type: ignore[arg-type]
    window.wait()
    assert last(window).then == shown


ROUND = Round(0.0, 5, 2, 3, ("melody",), "C major", 96.0, 5.0)


@pytest.mark.parametrize(
    ("more", "shown"),
    [
        ({}, ("", "", "")),
        ({"good": True, "why": "clean", "then": 100.0}, ("clean", "100", "clean")),
        ({"good": False, "why": "bar 2: E, not F", "then": 92.5}, ("again", "92.5", "bar 2: E, not F")),
        ({"good": True, "why": "clean"}, ("clean", "", "clean")),
        ({"why": "broken off"}, ("", "", "")),
    ],
)
def test_what_became_of_a_round(window, more, shown):
    window.report(replace(ROUND, **more))
    scene = last(window)
    assert (scene.now, scene.then, scene.note) == shown
    assert scene.head == "bars 2–3 · round 5 · ♩ = 96"
    assert scene.foot == (round_text(replace(ROUND, **more)) if more else "")


def test_a_round_is_counted_in_with_the_first_chord_of_its_bars_unless_it_is_played_from_memory(window):
    window.report(ROUND)
    window.report(State(0.0, "counting", -4.0, 96.0))
    window.report(replace(ROUND, hidden=True))
    window.report(State(0.0, "counting", -3.0, 96.0))
    window.report(Beat(6.0, 3.0, 0.5))
    scene = last(window)
    assert [s.then for s in window.scenes if s.now in ("1", "2")] == ["Em7", "Em7", ""]
    assert (scene.place, scene.now, scene.then, scene.note) == ("by heart", "", "", "not sure of the place")


def test_small_on_top_stand_the_event_or_the_chorus_and_the_tempo(window):
    window.report(Beat(0.0, 1.0, 0.9, 2))
    window.report(State(1.0, "playing", 0.0, 132.4))
    window.report(Beat(4.0, 1.5, 0.9, 2))
    window.report(State(1.0, "playing", 0.0, 132.4, event="solos", time=1, times=2))
    window.report(Beat(5.0, 2.0, 0.9, 2))
    last(window)
    heads = [scene.head for scene in window.scenes]
    assert heads == ["chorus 2", "chorus 2", "chorus 2   ♩ = 132", "chorus 2   ♩ = 132",
                     "solos, chorus 1 of 2   ♩ = 120"]  # fmt: skip


def test_the_tempo_is_that_of_the_last_eight_beats(window):
    for n, at in enumerate((0.0, 1.0, 2.0, 3.0, 4.0, 4.5, 5.0, 5.5, 6.0, 6.5)):
        window.report(Beat(float(n), at, 0.9))
    assert last(window).head == "chorus 1   ♩ = 120"  # four of a second, five of half a second


@pytest.mark.parametrize(("turn", "said"), [("yours", "your turn"), ("ours", "its turn"), ("", "")])
def test_whose_turn_it_is_is_said_where_two_improvise_in_turn(window, turn, said):
    window.report(State(0.0, "playing", 0.0, 120.0))
    window.report(Beat(6.0, 3.0, 0.9, turn=turn))
    assert last(window).note == said


def test_until_something_is_told_it_waits_for_the_player(window):
    window.report(Beat(6.0, 3.0, 0.9))
    assert last(window).note == "waiting for you"


def test_what_was_understood_of_the_last_time_stands_at_the_foot(window):
    window.report(State(0.0, "playing", event="head", last=True))
    window.report(State(1.0, "playing", event="head", last=True))
    window.report(State(2.0, "playing", event="head"))
    assert last(window).foot == "taken back: it goes on as before"
    assert window._said == ["last time: the ending comes next", "taken back: it goes on as before"]


@pytest.mark.parametrize(
    ("columns", "rows", "term", "room"),
    [
        (48, 15, "xterm", True), (47, 15, "xterm", False), (48, 14, "xterm", False), (200, 80, "xterm", True),
        (200, 80, "dumb", False), (200, 80, "", False), (200, 80, None, False),
    ],
)  # fmt: skip
def test_which_terminal_has_room_for_it(terminal, monkeypatch, columns, rows, term, room):
    if term is None:
        monkeypatch.delenv("TERM", raising=False)
    else:
        monkeypatch.setenv("TERM", term)
    terminal.resize(rows, columns)
    assert fits(terminal.screen) == room
    assert fits(io.StringIO()) is False
    with Path(os.devnull).open() as nothing:
        assert not fits(nothing)
    terminal.shown()


def test_the_window_is_wiped_only_where_its_size_has_changed(stand, terminal, monkeypatch):
    terminal.resize(30, 100)
    sizes = [(30, 100), (30, 100), (20, 90), (20, 90)]

    class DrawnOneByOne(Window):
        def _show(self, **parts):
            super()._show(**parts)
            drawn_once.wait(5)
            drawn_once.clear()

    drawn_once, flush = threading.Event(), terminal.screen.flush
    monkeypatch.setattr(terminal.screen, "flush", lambda: (flush(), drawn_once.set()), raising=False)
    window = DrawnOneByOne(stand.tune().unfold(), terminal.screen)
    for n, size in enumerate(sizes):
        terminal.resize(*size)
        window._show(foot=f"number {n}")
    window.close()
    seen = terminal.shown()
    starts = [text.endswith(WIPE) for text in seen.split(HOME)[:-1]]
    assert starts == [True, False, True, False]
    assert seen.startswith(OPEN) and seen.endswith(CLOSE)
    last_one = CONTROL.sub("", seen.split(HOME)[-1]).replace("\r", "").split("\n")
    assert len(last_one) == 20 and last_one[-1].strip() == "number 3" and max(map(len, last_one)) <= 89


@pytest.mark.parametrize("rows", [6, 8, 10, 12, 14])
def test_a_window_that_was_made_too_small_is_filled_and_no_more(rows):
    found = plain(drawn(SCENE, 40, rows))
    assert len(found) == rows and [row.strip() for row in found[-2:]] == [SCENE.note, SCENE.foot]
