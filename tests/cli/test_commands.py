"""``play`` and ``replay``: what is asked of the stage, and what is written of it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from companion.cli.commands import beats_table, trace_lines
from companion.load import load
from companion.messages import Beat, State, Wish
from companion.stage.replay import Recording
from companion.stage.settings import Settings
from tests.cli.conftest import Keyboard
from tests.practice.test_partner import WALK, take_of

Run = Callable[..., tuple[int, str, str]]

TUNE = """format = 1
title = "Four"
tempo = 100
{order}[section.A]
chords = "| Dm7 | G7 | Cmaj7 | % |"
melody = "| d8 | f8 | e8 | c8 |"
"""
ORDER = """order = [
  { play = "introduction", how = "vamp", bars = 4 },
  { play = "head" },
  { play = "ending", how = "tag" },
]
"""


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    """Four bars without an order of events."""
    path = tmp_path / "four.toml"
    path.write_text(TUNE.format(order=""), encoding="utf-8")
    return path


@pytest.fixture
def ordered(tmp_path: Path) -> Path:
    """The same with an introduction of four bars, sixteen beats."""
    path = tmp_path / "ordered.toml"
    path.write_text(TUNE.format(order=ORDER), encoding="utf-8")
    return path


PLAYED: list[tuple[str, str, dict[str, Any]]] = [
    ("tune", "", {"order": "open"}),
    ("ordered", "", {"order": "open"}),
    # Three seconds until the first click, then so many beats of 0.6 s.
    ("tune", "--count-in 2", {"order": "open", "tempo": 100.0, "start": 3 + 8 * 0.6, "count_in": 2}),
    ("ordered", "--count-in 2", {"order": "chart", "tempo": 100.0, "start": 3 + 24 * 0.6, "count_in": 2}),
    (
        "ordered",
        "--count-in 1 --tempo 120 --choruses 2",
        {"order": "open", "tempo": 120.0, "start": 3 + 4 * 0.5, "count_in": 1, "choruses": 2},
    ),
    ("ordered", "--count-in 1 --order form", {"order": "form", "tempo": 100.0, "start": 3 + 4 * 0.6, "count_in": 1}),
    ("ordered", "--order chart", {"order": "chart"}),
]


@pytest.mark.parametrize(("which", "words", "said"), PLAYED)
def test_a_tune_begins_after_what_is_counted_in_and_its_introduction(
    run: Run, keyboard: Keyboard, request: pytest.FixtureRequest, which: str, words: str, said: dict[str, Any]
) -> None:
    path = request.getfixturevalue(which)
    assert run("play", path, *words.split()) == (0, "", "")
    (asked,) = keyboard.asked
    start = said.pop("start", None)
    assert asked.settings == replace(Settings(**said), start=pytest.approx(start) if start else None)
    assert asked.chart == load(path)


def test_what_is_said_of_the_instrument_is_handed_on(run: Run, keyboard: Keyboard, tune: Path) -> None:
    usual = ["port_in", "port_out", "midi", "sound", "through", "latency", "wav", "ask", "signals"]
    run("play", tune)
    more = keyboard.asked[0].more
    assert {name: more[name] for name in usual} == dict.fromkeys(usual)
    assert (more["force"], more["large"], more["played"], more["watch"]) == (False, True, 0.0, [])
    words = "--in upright --out module --midi jack --sound --no-through --latency 20 --wav out.wav --force --line"
    run("play", tune, *words.split())
    more = keyboard.asked[1].more
    said = ["upright", "module", "jack", True, False, 0.02, Path("out.wav"), None, None]
    assert [more[name] for name in usual] == said
    assert (more["force"], more["large"]) == (True, False)


@pytest.mark.parametrize("words", ["--share", "--page-port 0"])
def test_a_page_that_isnt_shown_isnt_shared(run: Run, keyboard: Keyboard, tune: Path, words: str) -> None:
    status, _, err = run("play", tune, *words.split())
    assert (status, err) == (2, "companion: there is no page to share; say --stand, too\n") and not keyboard.asked


# What is written of a replay

BEATS = (
    State(0.5, "waiting"),
    Beat(-1.0, 1.5, 0.25, 1),
    Beat(-0.0, 2.0, 1.0, 1),
    Beat(1 / 3, 2.1234567, 0.99994, 1),
)


def test_beats_are_written_with_their_place_their_moment_and_how_sure_they_were() -> None:
    assert beats_table(BEATS) == (
        "chart_beat,seconds,sure\n-1,1.500000,0.2500\n0,2.000000,1.0000\n0.3333333333,2.123457,0.9999\n"
    )


def test_reports_are_written_a_line_each_under_their_names() -> None:
    rows = [json.loads(line) for line in trace_lines(BEATS[:2]).splitlines()]
    assert [row["report"] for row in rows] == ["state", "beat"]
    assert (rows[1]["chart_beat"], rows[1]["seconds"], rows[1]["sure"]) == (-1.0, 1.5, 0.25)


INTRODUCED = (
    "the introduction takes 8.0 s and would begin before the recording; give --start 8.0 or later, or --order open"
)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        # Sixteen beats of 0.5 s.
        ("--order chart --tempo 120 --start 8", None),
        (
            "--order chart --tempo 120 --start 7.9",
            INTRODUCED,
        ),
        ("--order chart --tempo 120", None),
        ("--order open --tempo 120 --start 1", None),
        ("--order form --tempo 120 --start 1", None),
    ],
)
def test_an_introduction_has_to_lie_within_the_recording(
    run: Run, ordered: Path, performance: Path, words: str, said: str | None
) -> None:
    status, _, err = run("replay", ordered, performance, *words.split())
    assert (status, err) == ((2, f"companion: {said}\n") if said else (0, ""))


def test_a_count_in_has_a_tempo(run: Run, tune: Path, performance: Path) -> None:
    status, _, err = run("replay", tune, performance, "--start", 0)
    assert status == 2 and err == (
        "companion: --start tells when a count-in ends; say how fast it counts with --tempo BPM\n"
    )


def test_a_tune_that_may_be_brought_to_its_end_has_half_a_minute_more_for_it(
    run: Run, tune: Path, performance: Path
) -> None:
    # The performance lasts 18 s: two seconds and 32 quarters of half a second.
    lasted = {order: run("replay", tune, performance, "--order", order)[1].split(", ")[0] for order in ("form", "open")}
    assert lasted == {"form": "Four: 18 s", "open": "Four: 48 s"}


def test_ports_are_listed_below_the_players_folder(run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("companion.ports.midi.list_ports", lambda *asked: [str(asked), "no port"])
    status, out, err = run("ports", "--in", "stage", "--midi", "jack")
    assert (status, err) == (0, "")
    assert out.splitlines() == [
        f"takes, your own charts and your own configs: {tmp_path / 'data'}",
        "('stage', None, 'jack')",
        "no port",
    ]


@pytest.mark.parametrize(
    ("order", "told", "signals"),
    [
        ("form", None, False),
        ("open", None, True),
        ("open", [], False),
        ("open", [12.0], False),
        ("form", [12.0], False),
    ],
)
def test_a_take_is_replayed_with_what_was_wished_in_it_and_signals_are_looked_for_where_that_isnt_known(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, order: str, told: list[float] | None, signals: bool
) -> None:
    """In a tune that goes round and round there is nothing to signal."""
    asked: list[tuple[Any, ...]] = []

    def replay(chart: Any, heard: Any, settings: Settings, *, signals: Any, until: float, watch: Any) -> Recording:
        asked.append((settings, signals, [event.seconds for event in heard if isinstance(event, Wish)], until))
        return Recording((), (), (State(0.5, "waiting"),))

    monkeypatch.setattr("companion.stage.replay.replay", replay)
    take = take_of(tmp_path / "data", [WALK])
    file = take.folder / "take.json"
    table = json.loads(file.read_text(encoding="utf-8"))
    wishes = None if told is None else [{"seconds": at, "name": "stop", "value": None} for at in told]
    table.pop("wishes", None)
    table |= {} if wishes is None else {"wishes": wishes}
    file.write_text(json.dumps(table), encoding="utf-8")
    for words, trace in (((), False), (("--trace", tmp_path / "trace.jsonl"), True)):
        assert run("replay", "last", "--order", order, *words)[0] == 0
        settings, looked_for, wished, _ = asked.pop()
        assert (settings.trace, settings.order, settings.you) == (trace, order, {"bass"})
        assert (looked_for is not None, wished) == (signals, told or [])
