"""The picture of belief: what it takes from a trace, and that it is drawn."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from beat_scores import TrueBeat
from belief_picture import astray, broken, draw, likely, read_trace, true_tempo

from companion.cli.commands import trace_lines
from companion.load import load
from companion.messages import Beat
from companion.pianist.player import simulate
from companion.resources import chart_path
from companion.stage.replay import replay
from companion.stage.settings import Settings


def test_a_replays_trace_is_read_back_report_by_report() -> None:
    chart = load(chart_path("ferry-without-lights"))
    played = simulate(chart.unfold(), frozenset({"melody"}), manner="clean", seed=1)
    settings = Settings(parts=(), tempo=played.tempo, start=played.start, trace=True)
    reports = replay(chart, played.heard, settings, until=8.0).reports
    trace = read_trace(trace_lines(reports).splitlines())
    assert trace.beats == [report for report in reports if isinstance(report, Beat)]
    assert len(trace.beats) > 4 and len(trace.beliefs) > 4
    assert len(trace.beats) + len(trace.beliefs) + len(trace.states) == len(reports)


def test_a_line_breaks_where_the_form_begins_again_and_where_the_player_stops() -> None:
    xs, ys = broken([(0.0, 30.0), (0.5, 31.0), (1.0, 0.0), (1.5, 1.0), (6.0, 2.0)])
    assert xs == [0.0, 0.5, 1.0, 1.0, 1.5, 6.0, 6.0]
    assert [n for n, y in enumerate(ys) if math.isnan(y)] == [2, 5]


def test_a_beat_is_astray_unless_the_player_has_one_of_its_name_there() -> None:
    truth = [TrueBeat(0, 1.0), TrueBeat(1, 1.5)]
    assert astray(truth, [Beat(0, 1.06, 0.9), Beat(1, 1.0, 0.9), Beat(1, 1.58, 0.9)]) == [False, True, True]


def test_dotted_quarters_a_second_apart_are_ninety_quarters_a_minute() -> None:
    _, tempos = true_tempo([TrueBeat(0, 1.0), TrueBeat(1.5, 2.0), TrueBeat(9, 3.0, "jump")])
    assert tempos[0] == pytest.approx(90) and math.isnan(tempos[1])


def test_a_likely_place_goes_on_in_the_silence_after_the_note() -> None:
    note = {"seconds": 2.0, "event": "note", "places": [[8.0, 120.0, 0.9], [40.0, 60.0, 0.001]]}
    assert likely([note, {**note, "seconds": 3.5, "event": "look"}], 0.01) == [(2.0, 8.0, 0.9), (3.5, 11.0, 0.9)]


@pytest.mark.parametrize(("suffix", "begins"), [(".png", b"\x89PNG"), (".svg", b"<?xml")])
def test_the_picture_is_drawn_in_the_format_its_suffix_says(tmp_path: Path, suffix: str, begins: bytes) -> None:
    pytest.importorskip("matplotlib")
    belief = {
        "report": "belief", "seconds": 1.0, "event": "note", "pitch": 60, "chart_beat": 0.0, "tempo": 120.0,
        "mass": 0.9, "spread": 0.01, "free": 1.0000000000000002, "stopped": 0.1,
        "places": [[0.0, 120.0, 0.9], [4.0, 120.0, 0.1]],
    }  # fmt: skip
    rows = [belief, {**belief, "seconds": 1.5, "chart_beat": 1.0}]
    rows += [{"report": "beat", "chart_beat": 1, "seconds": 1.5, "sure": 0.8, "chorus": 1}]
    rows += [{"report": "state", "seconds": 1.0, "name": "holding", "chart_beat": 1, "tempo": 120.0, "sure": 0.8}]
    trace = read_trace(map(json.dumps, rows))
    out = tmp_path / f"belief{suffix}"
    draw(trace, [TrueBeat(0, 1.0), TrueBeat(1, 1.5)], out, 0.0, 3.0, 4.0, "two beats")
    assert out.read_bytes().startswith(begins)
