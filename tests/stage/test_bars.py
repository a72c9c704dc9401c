"""The demo's bars in text: whose beats are held is told by their place and their moment, notes belong to their bar."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.arrange.events import excerpt
from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.messages import Beat, Heard, Order, State
from companion.pianist.player import SimulatedPerformance, TrueBeat
from companion.pianist.route import Passage
from companion.resources import chart_path
from companion.stage.bars import BarLines


@pytest.fixture(scope="module")
def blues() -> Form:
    return load(chart_path("two-spoons-short")).unfold()


def a_player(*heard: Heard, marks: dict[int, str] | None = None) -> SimulatedPerformance:
    """One who plays a beat a second from second 0."""
    truth = tuple(TrueBeat(float(n), float(n), 1, (marks or {}).get(n, "")) for n in range(16))
    return SimulatedPerformance(heard, truth, 60.0, 0.0)


def lines_of(
    form: Form, player: SimulatedPerformance, steps: list[tuple[float, list[Order], list[Beat | State]]]
) -> list[str]:
    said: list[str] = []
    bars = BarLines(form, player, said.append)
    for now, orders, reports in steps:
        bars.watch(now, orders, reports)
    bars.finish(steps[-1][0])
    return said


def beats(*seconds: float, sure: float = 0.9) -> list[tuple[float, list[Order], list[Beat | State]]]:
    return [(at, [], [Beat(float(n), at, sure)]) for n, at in enumerate(seconds)]


def test_a_line_a_bar_names_the_changes_and_marks_each_beat(blues: Form) -> None:
    said = lines_of(blues, a_player(), beats(0.0, 1.06, 2.12, 3.4, 4.0, 5.0, 5.97, 7.0))
    assert said[0] == "chorus 1"
    assert said[1].split() == ["A", "1", "F13", "●●◐○", "90", "%"]
    assert said[2].split() == ["A", "2", "Bb13", "Bdim7", "●●●●", "90", "%"]


def test_the_right_moment_at_the_wrong_place_is_not_held(blues: Form) -> None:
    one_on = [(at, [], [Beat(float(n + 1), at, 0.9)]) for n, at in enumerate((0.0, 1.0, 2.0))]
    assert "○○○" in lines_of(blues, a_player(), one_on)[1]


def test_notes_stand_in_their_bar_spelled_in_the_key(blues: Form) -> None:
    player = a_player(Heard(0.01, 0x90, 65, 80), Heard(0.5, 0x80, 65, 0), Heard(3.97, 0x90, 68, 80))
    steps = beats(0.0, 1.0, 2.0, 3.0, 4.0)
    steps[0][1][:] = [Order(0.0, "bass", 0x90, 41, 80), Order(0.4, "bass", 0x80, 41, 0)]
    steps[1][1][:] = [Order(1.0, "click", 0x90, 76, 90)]
    steps[2][1][:] = [Order(2.01, "chords", 0x90, 63, 70), Order(2.0, "chords", 0x90, 57, 70)]
    said = lines_of(blues, player, steps)
    # F13: the seventh of F is E flat; the note just before the second bar belongs to it
    assert said[1].split() == ["A", "1", "F13", "●●●●", "90", "%", "F", "F", "A-Eb"]
    assert said[2].split() == ["A", "2", "Bb13", "Bdim7", "●", "90", "%", "Ab"]


def test_notes_are_spelled_by_the_chord_they_sound_over() -> None:
    """Over D flat a fourth is G flat and a seventh C flat, whatever the key (common practice)."""
    text = 'format = 1\nkey = "G minor"\n[section.A]\nchords = "| Db9sus4 | D7alt |"\nmelody = "| _A8 | A8 |"\n'
    player = a_player(Heard(0.0, 0x90, 66, 80), Heard(1.0, 0x90, 71, 80), Heard(4.0, 0x90, 66, 80))
    steps = beats(*map(float, range(8)))
    steps[2][1][:] = [
        Order(2.0, "chords", 0x90, 56, 70),
        Order(2.0, "chords", 0x90, 61, 70),
        Order(2.0, "chords", 0x90, 66, 70),
    ]
    said = lines_of(parse_toml(text).unfold(), player, steps)
    assert said[1].split()[5:] == ["%", "Gb", "Cb", "Ab-Db-Gb"]
    assert said[2].split()[5:] == ["%", "F#"]


def test_a_bar_in_which_the_last_time_is_told_stands_there_once(blues: Form) -> None:
    steps = beats(*map(float, range(8)))
    told = State(1.5, "playing", event="head", last=True)
    steps = [(0.0, [], [State(0.0, "playing", event="head")]), *steps[:2], (1.5, [], [told]), *steps[2:]]
    said = lines_of(blues, a_player(), steps)
    assert [line.split()[:2] for line in said if "%" in line.split()] == [["A", "1"], ["A", "2"]]
    assert said[said.index(next(line for line in said if "tells" in line)) - 1].split()[:2] == ["A", "1"]


def test_a_bar_in_which_the_companion_thins_out_stands_there_once(blues: Form) -> None:
    steps = beats(*map(float, range(8)))
    said = lines_of(blues, a_player(), [*steps[:2], (1.5, [], [State(1.5, "thinning")]), *steps[2:]])
    assert [line.split()[:2] for line in said if "%" in line.split()] == [["A", "1"], ["A", "2"]]


def test_whoever_goes_on_in_mid_bar_is_told_with_the_beat(blues: Form) -> None:
    player = a_player(marks={7: "resume"})
    player = replace(player, truth=tuple(replace(b, seconds=b.seconds + 3 * (b.chart_beat >= 7)) for b in player.truth))
    said = lines_of(blues, player, [*beats(*map(float, range(7))), (10.0, [], [])])
    assert any("the pianist goes on from bar 2, beat 4 after a stop of 4.0 s" in line for line in said)


def test_stops_and_holds_are_told_between_the_bars(blues: Form) -> None:
    player = a_player(marks={4: "resume"})
    player = replace(player, truth=tuple(replace(b, seconds=b.seconds + 3 * (b.chart_beat >= 4)) for b in player.truth))
    steps = [*beats(0.0, 1.0, 2.0, 3.0), (5.0, [], [State(5.0, "thinning")]), (7.1, [], [Beat(4.0, 7.1, 0.5)])]
    said = lines_of(blues, player, steps)
    assert [line.strip() for line in said[2:4]] == [
        "the companion thins out",
        "the pianist goes on from bar 2 after a stop of 4.0 s",
    ]
    assert said[4].split()[:2] == ["A", "2"]


def test_events_stand_between_the_bars_which_have_their_own_changes(blues: Form) -> None:
    vamp = excerpt(blues, 2, 1)
    player = replace(a_player(), route=(Passage(-4.0, 0.0, 1, form=vamp), Passage(0.0, 48.0, 1)))
    steps = [
        (0.0, [], [State(0.0, "playing", event="introduction"), Beat(-4.0, 0.0, 0.9, 1, "introduction")]),
        (1.0, [], [State(1.0, "playing", event="head"), Beat(0.0, 1.0, 0.9, 1, "head")]),
        (2.0, [], [State(2.0, "playing", event="head", last=True)]),
        (3.0, [], [State(3.0, "ended", event="head")]),
    ]
    said = lines_of(blues, player, steps)
    assert said[0] == "introduction" and said[1].split()[:2] == ["1", vamp.chords[0].chord.symbol]
    assert said[2] == "head" and said[3].split()[:3] == ["A", "1", "F13"]
    assert said[4].strip() == "the pianist tells the last time: the ending comes next"
    assert not any("taken back" in line for line in said)
