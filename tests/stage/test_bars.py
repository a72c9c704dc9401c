"""The demo's bars in text: whose beats are held is told by their place and their moment, notes belong to their bar."""

from __future__ import annotations

import io
import sys
from dataclasses import replace
from typing import Any

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
    form: Form,
    player: SimulatedPerformance,
    steps: list[tuple[float, list[Order], list[Beat | State]]],
    width: int | None = None,
) -> list[str]:
    said: list[str] = []
    bars = BarLines(form, player, said.append, width)
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


# Moments exactly on a limit


@pytest.mark.parametrize(
    ("off", "mark"), [(0.0, "●"), (0.069, "●"), (0.071, "◐"), (0.149, "◐"), (0.151, "○"), (-0.069, "●"), (-0.149, "◐")]
)
def test_how_near_a_beat_lies_to_the_players_own(blues: Form, off: float, mark: str) -> None:
    """Held within 70 ms, as in mir_eval's ``beat.f_measure``; near within 150."""
    assert lines_of(blues, a_player(), [(2.0 + off, [], [Beat(2.0, 2.0 + off, 0.9)])])[1].split()[3] == mark


@pytest.mark.parametrize(("seconds", "mark"), [(0.07, "●"), (-0.07, "●"), (0.15, "◐"), (-0.15, "◐")])
def test_just_so_far_is_still_near(blues: Form, seconds: float, mark: str) -> None:
    assert lines_of(blues, a_player(), [(seconds, [], [Beat(0.0, seconds, 0.9)])])[1].split()[3] == mark


@pytest.mark.parametrize(("place", "mark"), [(2.0009, "●"), (2.0011, "○"), (1.9991, "●"), (1.9989, "○")])
def test_a_beat_is_compared_with_that_of_its_own_place(blues: Form, place: float, mark: str) -> None:
    assert lines_of(blues, a_player(), [(2.0, [], [Beat(place, 2.0, 0.9)])])[1].split()[3] == mark


def test_of_two_beats_at_one_place_the_nearer_counts(blues: Form) -> None:
    player = replace(
        a_player(), truth=(TrueBeat(0.0, 1.0, 1, ""), TrueBeat(0.0, 1.1, 1, ""), TrueBeat(0.0, 1.2, 1, ""))
    )
    assert "●" in lines_of(blues, player, [(1.12, [], [Beat(0.0, 1.12, 0.9)])])[1]


@pytest.mark.parametrize(("seconds", "bar"), [(3.939, 1), (3.94, 2), (3.941, 2), (4.0, 2), (3.0, 1)])
def test_a_note_just_before_a_bar_line_belongs_to_the_bar_after_it(blues: Form, seconds: float, bar: int) -> None:
    steps = beats(*map(float, range(8)))
    steps[3][1][:] = [Order(seconds, "bass", 0x90, 41, 80)]
    said = lines_of(blues, a_player(Heard(seconds, 0x90, 65, 80)), steps)
    assert [line.split()[-2:] == ["F", "F"] for line in said[1:]] == [bar == 1, bar == 2]
    assert " ".join(said[1:]).split().count("F") == 2, "and to that one alone"


@pytest.mark.parametrize(("apart", "together"), [(0.034, True), (0.036, False)])
def test_notes_within_35_milliseconds_are_a_chord(blues: Form, apart: float, together: bool) -> None:
    player = a_player(Heard(1.0, 0x90, 65, 80), Heard(1.0 + apart, 0x90, 57, 80), Heard(1.0 + 2 * apart, 0x90, 60, 80))
    (_, line) = lines_of(blues, player, beats(0.0, 1.0))
    assert line.endswith("A-F C" if together else "F A C")


def test_a_note_is_spelled_by_the_chord_that_it_comes_just_before() -> None:
    """A sixtieth of a second before D flat it is a G flat, a tenth of one the leading note in G (common practice)."""
    text = 'format = 1\nkey = "G minor"\n[section.A]\nchords = "| D7 Db9sus4 | Gm |"\nmelody = "| A8 | A8 |"\n'
    form = parse_toml(text).unfold()
    for seconds, name in ((1.95, "Gb"), (1.94, "Gb"), (1.939, "F#"), (1.9, "F#")):
        assert lines_of(form, a_player(Heard(seconds, 0x90, 66, 80)), beats(0.0, 1.0, 2.0, 3.0))[1].split()[-1] == name


def test_a_chord_is_one_by_its_own_first_note(blues: Form) -> None:
    player = a_player(*(Heard(at, 0x90, midi, 80) for at, midi in ((0.0, 65), (1.0, 60), (1.01, 57), (2.0, 65))))
    (_, line) = lines_of(blues, player, beats(0.0, 1.0, 2.0))
    assert line.endswith("F A-C F")
    apart = a_player(Heard(0.0, 0x90, 65, 80), Heard(0.035, 0x90, 57, 80))
    assert lines_of(blues, apart, beats(0.0, 1.0))[1].endswith("F A"), "35 ms are two strokes"


def test_what_comes_before_the_first_beat_is_spelled_by_its_chord() -> None:
    text = 'format = 1\nkey = "G minor"\n[section.A]\nchords = "| D7 Db9sus4 Db9sus4 Db9sus4 | Gm |"\n'
    player = a_player(Heard(0.5, 0x90, 66, 80))
    assert lines_of(parse_toml(text).unfold(), player, beats(1.0, 2.0, 3.0, 4.0))[1].split()[-1] == "F#"


def test_each_leap_is_told_when_it_comes_and_in_six_eight_by_the_dotted_quarter() -> None:
    form = parse_toml('format = 1\nmetre = "6/8"\n[section.A]\nchords = "| C6 | G7 | C6 | G7 |"\n').unfold()
    truth = tuple(TrueBeat(1.5 * n, float(n), 1, "jump" if n in (3, 6) else "") for n in range(8))
    said: list[str] = []
    bars = BarLines(form, SimulatedPerformance((), truth, 60.0, 0.0), said.append)
    told = ["the pianist leaps to bar 2, beat 2", "the pianist leaps to bar 4"]
    for now, count in ((2.9, 0), (3.0, 1), (5.9, 1), (6.0, 2)):
        bars.watch(now, [], [])
        assert [line.strip() for line in said] == told[:count]


@pytest.mark.parametrize(
    ("metre", "chords", "heads"),
    [
        ("4/4", "| C6 | G7 |", "     bar  changes  beats  sure"),
        ("4/4", "| Dm7b5 G7alt | C6 |", "     bar  changes      beats  sure"),
        ("12/8", "| C6 | G7 |", "     bar  changes  beats  sure"),
    ],
)
def test_columns_are_as_wide_as_the_widest_changes_and_the_beats_of_a_bar(metre: str, chords: str, heads: str) -> None:
    form = parse_toml(f'format = 1\nmetre = "{metre}"\n[section.A]\nchords = "{chords}"\n').unfold()
    assert BarLines(form, a_player(), print).heading()[-1].startswith(heads)


@pytest.mark.parametrize(
    ("sure", "told"), [([0.9, 0.9], "90 %"), ([0.5, 0.8, 0.2], "50 %"), ([0.996], "100 %"), ([0.0], "0 %")]
)
def test_how_sure_it_was_is_told_as_a_mean(blues: Form, sure: list[float], told: str) -> None:
    steps: Any = [(float(n), [], [Beat(float(n), float(n), one)]) for n, one in enumerate(sure)]
    assert told in lines_of(blues, a_player(), steps)[1]


def test_choruses_are_counted_and_bars_of_an_event_have_none(blues: Form) -> None:
    steps: Any = [(float(n), [], [Beat(float(n % 48), float(n), 0.9, 1 + n // 48)]) for n in (0, 4, 48, 52)]
    said = lines_of(blues, a_player(), steps)
    assert [line for line in said if line.startswith("chorus")] == ["chorus 1", "chorus 2"]
    assert [line.split()[1] for line in said if not line.startswith("chorus")] == ["1", "2", "1", "2"]
    solos: Any = [(0.0, [], [State(0.0, "playing", event="solos", time=1, times=2), Beat(0.0, 0.0, 0.9, 2, "solos")])]
    assert lines_of(blues, a_player(), solos)[0] == "solos, chorus 1 of 2"


@pytest.mark.parametrize(
    ("chords", "told"),
    [("| C6 | % |", ["C6", "%"]), ("| C6 G7 | N.C. |", ["C6 G7", "N.C."]), ("| C6 | C6 |", ["C6", "C6"])],
)
def test_a_bar_in_which_no_chord_begins_repeats_the_last(chords: str, told: list[str]) -> None:
    form = parse_toml(f'format = 1\n[section.A]\nchords = "{chords}"\n').unfold()
    said = lines_of(form, a_player(), beats(0.0, 1.0, 2.0, 3.0, 4.0))
    assert [line[10:].split("  ")[0].strip() for line in said[1:]] == told


def test_the_companions_line_stands_in_the_players_column_in_its_own_turn(blues: Form) -> None:
    steps: Any = [(0.0, [Order(0.0, "solo", 0x90, 72, 70), Order(0.0, "chords", 0x90, 57, 70)],
                   [Beat(0.0, 0.0, 0.9, turn="ours")])]  # fmt: skip
    assert lines_of(blues, a_player(), steps)[1].split()[6:] == ["its", "line:", "C", "A"]
    assert lines_of(blues, a_player(Heard(0.5, 0x90, 65, 80)), steps)[1].split()[6:] == ["F", "A"]
    steps[0][2][0] = Beat(0.0, 0.0, 0.9, turn="yours")
    assert lines_of(blues, a_player(), steps)[1].split()[6:] == ["A-C"]


@pytest.mark.parametrize(("width", "indent"), [(None, 9), (200, 9), (60, 9), (59, 1), (40, 1)])
def test_what_happens_between_bars_is_set_in_where_there_is_room(blues: Form, width: int | None, indent: int) -> None:
    steps: Any = [(0.0, [], [State(0.0, "thinning")]), (1.0, [], [State(1.0, "holding")])]
    said = lines_of(blues, a_player(marks={2: "jump"}), [*steps, (2.0, [], [])], width)
    assert [line.strip() for line in said] == [
        "the companion thins out", "the companion holds", "the pianist leaps to bar 1, beat 3"
    ]  # fmt: skip
    assert {len(line) - len(line.lstrip()) for line in said} == {indent}


def test_a_long_line_between_bars_is_broken_at_the_width(blues: Form) -> None:
    said = lines_of(blues, a_player(marks={2: "resume"}), [(2.0, [], [])], 40)
    assert said == [" the pianist goes on from bar 1, beat 3\n after a stop of 1.0 s"]


def test_the_heads_stand_above_their_columns_and_the_marks_are_explained(blues: Form) -> None:
    told, heads = BarLines(blues, a_player(), print).heading()
    assert told == "beats: ● within 70 ms of the pianist's own, ◐ within 150, ○ farther off"
    assert heads.split("  ") and heads.split() == ["bar", "changes", "beats", "sure", "pianist", "bass", "above", "the",
                                                   "bass"]  # fmt: skip
    (_, line) = lines_of(blues, a_player(Heard(0.0, 0x90, 65, 80)), beats(0.0, 1.0, 2.0, 3.0))
    for head, cell in (("changes", "F13"), ("beats", "●●●●"), ("pianist", "F ")):
        assert (line + " ").index(cell, 12 if cell == "F " else 0) >= heads.index(head)
    assert line.index("F13") == heads.index("changes") and line.index("●") == heads.index("beats")


@pytest.mark.parametrize(
    ("width", "columns"),
    [
        (None, ["changes", "beats", "sure", "pianist", "bass", "above the bass"]),
        (40, ["changes", "beats", "pianist"]),
        (70, ["changes", "beats", "pianist", "bass", "above the bass"]),
    ],
)  # fmt: skip
def test_in_a_narrow_terminal_the_least_useful_columns_are_left_out(
    blues: Form, width: int | None, columns: list[str]
) -> None:
    *told, heads = BarLines(blues, a_player(), print, width).heading()
    for head in ("changes", "beats", "sure", "pianist", "bass", "above the bass"):
        assert (f"  {head}" in heads) == (head in columns), heads
    assert width is None or max(map(len, [*told, heads])) <= width


@pytest.mark.parametrize(
    ("width", "heads"),
    [
        (
            150,
            "     bar  changes      beats  sure   pianist                         bass                above the bass",
        ),
        (100, "     bar  changes      beats  sure   pianist                         bass             above the bass"),
        (75, "     bar  changes  beats  sure   pianist       bass          above the bass"),
        (74, "     bar  changes      beats  pianist         bass          above the bass"),
        (68, "     bar  changes  beats  pianist       bass          above the bass"),
        (67, "     bar  changes      beats  pianist                  bass"),
        (52, "     bar  changes  beats  pianist       bass"),
        (51, "     bar  changes      beats  pianist"),
        (38, "     bar  changes  beats  pianist"),
        (37, "     bar  beats  pianist"),
    ],
)
def test_which_columns_have_room_and_where_they_begin(blues: Form, width: int, heads: str) -> None:
    """Least widths of 8, 7, 5, 5, 12, 12 and 14 columns, with two between them."""
    assert BarLines(blues, a_player(), print, width).heading()[-1] == heads


def test_seven_beats_and_the_widest_changes_have_their_columns(blues: Form) -> None:
    form = parse_toml('format = 1\nmetre = "7/4"\n[section.A]\nchords = "| C6 | Dm7b5 G7alt |"\n').unfold()
    heads = BarLines(form, a_player(), print).heading()[-1]
    assert heads.startswith("     bar  changes      beats    sure   pianist")
    many = [Heard(0.1 + 0.05 * n, 0x90, 65, 80) for n in range(40)]
    orders: Any = [Order(at, part, 0x90, 65, 80) for at in (h.seconds for h in many) for part in ("bass", "chords")]
    (_, line) = lines_of(blues, a_player(*many), [(0.0, orders, [Beat(0.0, 0.0, 0.9)]), (3.0, [], [])])
    played, bass, above = line.split("  ")[-3:]
    assert [len(played), len(bass), len(above)] == [30, 18, 60] and line.count("…") == 3


@pytest.mark.parametrize(("seconds", "written"), [(7.939, True), (7.941, False)])
def test_the_last_bar_has_what_was_played_up_to_a_second_after_it(
    blues: Form, seconds: float, *, written: bool
) -> None:
    said = lines_of(blues, a_player(Heard(seconds, 0x90, 65, 80)), beats(*map(float, range(8))))
    assert said[-1].endswith("F") == written


def test_a_note_of_an_ending_is_spelled_by_the_endings_own_chord() -> None:
    """Over D flat it is a G flat, over D an F sharp (common practice)."""
    head = 'format = 1\nkey = "G minor"\n'
    form = parse_toml(head + '[section.A]\nchords = "| D7 | Gm |"\n').unfold()
    ending = parse_toml(head + '[section.A]\nchords = "| Db9sus4 | D7 | D7 |"\n').unfold()
    player = replace(a_player(Heard(0.0, 0x90, 66, 80), Heard(4.0, 0x90, 66, 80)),
                     route=(Passage(0.0, 8.0, 1), Passage(8.0, 20.0, 1, form=ending)))  # fmt: skip
    steps: Any = [(at, [], [Beat(8.0 + at, at, 0.9, 1, "ending")]) for at in (0.0, 4.0)]
    said = [line.split() for line in lines_of(form, player, steps)]
    assert [(line[0], line[-1]) for line in said] == [("1", "Gb"), ("2", "F#")]


def test_a_terminal_without_the_signs_gets_plain_ones(blues: Form, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(io.BytesIO(), encoding="ascii"))
    player = a_player(*(Heard(0.1 * n, 0x90, 65, 80) for n in range(30)))
    said = lines_of(blues, player, beats(0.0, 1.1, 2.2), 60)
    assert "*+o" in said[1] and said[1].isascii() and said[1].endswith(".")
