"""What is written of what was found: worked examples of latency, echo window and hands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from companion.ports.instruments import read_instruments
from companion.ports.setup.desk import Findings
from companion.ports.setup.identity import Identity
from companion.ports.setup.keeping import writing_of
from companion.ports.setup.review import Writing


def writing(**found: Any) -> Writing:
    return writing_of(Findings(**found), read_instruments(), "2026-01-01")


def said(**found: Any) -> dict[str, str]:
    """Values by their keys, as they are shown."""
    return dict(tuple(line.split(" = ", 1)) for file in writing(**found).files for line in file.said)  # type: ignore[misc]


@pytest.mark.parametrize(
    ("found", "latency", "why"),
    [
        ({}, None, "Latency: nothing comes back to measure it by; it stays at 10 ms."),
        ({"there_and_back_ms": 20.0}, None,
         "Latency: MIDI takes 20.0 ms there and back, the sound itself isn't seen; it stays at 10 ms."),
        ({"there_and_back_ms": 22.0}, "11",
         "Latency: MIDI takes 22.0 ms there and back; half of it is the least it can be: 11 ms."),
        ({"there_and_back_ms": 90.0, "latency_ms": 23.5}, "23.5", "Latency: 23.5 ms, as you say."),
        ({"latency_ms": 12.0}, "12", "Latency: 12 ms, as you say."),
    ],
)  # fmt: skip
def test_half_of_the_way_there_and_back_is_the_least_that_the_latency_can_be(
    own_folder: Path, found: dict[str, float], latency: str | None, why: str
) -> None:
    """As shipped it is 10 ms."""
    assert said(setup="piano", **found).get("[piano] latency-ms") == latency
    assert writing(setup="piano", **found).latency == why
    assert writing(**found).latency == "What was found:"


@pytest.mark.parametrize(
    ("latest", "window"),
    [(None, None), (80.0, None), (240.0, None), (240.1, "370"), (300.0, "450"), (301.0, "460"), (666.0, "1000"),
     (700.0, "1000")],
)  # fmt: skip
def test_the_echo_window_becomes_half_as_long_again_as_the_latest_copy_took(
    own_folder: Path, latest: float | None, window: str | None
) -> None:
    """As 300 ms stand: from four fifths of them on, up to a second, in tens."""
    own_folder.mkdir()
    (own_folder / "instruments.toml").write_text("echo-window-ms = 300\n")
    assert said(latest_copy_ms=latest).get("echo-window-ms") == window


def test_a_new_file_says_what_it_is_of_and_when(own_folder: Path) -> None:
    identity = Identity((0x7D,), 258, 3, (1, 0, 0, 2))
    (file,) = writing(input="upright:keys", channels={3}, identity=identity).files
    assert file.text.splitlines()[:2] == [
        '# "upright:keys" as `companion setup` found it on 2026-01-01. All else is as in the companion\'s own file.',
        "# It answers as manufacturer 7D, family 258, member 3, version 1.0.0.2.",
    ]
    (file,) = writing(pedals=(64,)).files
    first, second = file.text.splitlines()[:2]
    assert first.startswith("# your instrument as `companion setup` found it") and "answers" not in second


def test_the_narrower_of_two_hands_counts_and_each_is_told(own_folder: Path) -> None:
    (both,) = writing(hands={"left": 16, "right": 13}).files
    assert both.said == ("[hand] span = 13",) and "semitones: left 16, right 13; the narrower counts" in both.text
    (one,) = writing(hands={"left": 16}).files
    assert "semitones: left 16" in one.text and "narrower" not in one.text
    assert one.text.startswith("# Your hands as `companion setup` found them on 2026-01-01.")


@pytest.mark.parametrize(
    ("setup", "values"),
    [
        ("piano", {"[piano.channels] bass": "5", "[piano.programs] bass": "33"}),
        ("module", {"out": '"module:ears"', "[module] through": "true", "[module.channels] bass": "5",
                    "[module.programs] bass": "33"}),
        ("synth", {"computer": "true"}),
    ],
)  # fmt: skip
def test_each_way_of_sounding_is_written_in_its_own_table(own_folder: Path, setup: str, values: dict[str, str]) -> None:
    found = {"output": "module:ears", "setup": setup, "parts": {"bass": 5}, "programs": {"bass": 33}, "through": True}
    assert {key: value for key, value in said(**found).items() if "synth" not in key} == values


def test_what_isnt_known_is_not_written(own_folder: Path) -> None:
    assert writing().files == () and said(input="upright:keys") == {}
    assert said(keys=(28, 103), pedals=(), half_pedal=False) == {
        "lowest-key": "28", "highest-key": "103", "pedals": "[]", "half-pedal": "false",
    }  # fmt: skip
