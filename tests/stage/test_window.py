"""The whole window shows at a glance where one is, and leaves the terminal as it was."""

from __future__ import annotations

import io
import re
import threading
import time
from dataclasses import replace

import pytest

from companion.arrange.transposition import in_key
from companion.chart.toml.read import parse_toml
from companion.messages import Beat, Round, State
from companion.stage.glyphs import large
from companion.stage.window import LEAST, Scene, Window, drawn, fits

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
