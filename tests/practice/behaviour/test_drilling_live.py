"""A running ``companion drill`` over real ports: rounds go on while the hands stay on the keys."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from companion.load import load
from companion.messages import Heard
from companion.practice.drill import Drill
from companion.practice.request import Said, drill_request
from companion.stage.take import Take, list_takes
from tests.conftest import Instrument
from tests.practice.conftest import RoundPlayer, Slips

pytestmark = pytest.mark.jack

CHART = """
format = 1
title = "Two Steps Down"
key = "C major"
tempo = 240
feel = "straight"
form = "A"

[section.A]
chords = "| Cmaj7 | Dm7 | G7 | C6 |"
melody = "| c4 e4 | d4 f4 | d4 B4 | c8 |"
"""
TEMPO = 240
WOOD_BLOCK = 76


def clicks(instrument: Instrument) -> list[float]:
    """When the first click of each bar came."""
    return [moment for moment, message in instrument.received if message[0] & 0xF0 == 0x90 and message[1] == WOOD_BLOCK]


def play_round(instrument: Instrument, told: list[Heard], first_click: float) -> None:
    """Strike the notes of a round whose first click came at a moment."""
    for event in told:
        time.sleep(max(0.0, first_click + event.seconds - time.perf_counter()))
        instrument.play(event.status, event.data1, event.data2)


def test_two_rounds_are_drilled_and_kept_and_nothing_is_left_sounding(
    instrument: Callable[[str], Instrument], tmp_path: Path
) -> None:
    piano = instrument("upright")
    chart = tmp_path / "two-steps-down.toml"
    chart.write_text(CHART)
    words = ["drill", str(chart), "--bars", "2-3", "--from", str(TEMPO), "--to", str(TEMPO), "--rounds", "2", "--line"]
    drilling = subprocess.Popen(
        [sys.executable, "-m", "companion", *words, "--time", "steady"],
        env={**os.environ, "COMPANION_DATA": str(tmp_path / "data")},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        request = drill_request(load(chart), (2, 3), Said(you=frozenset({"melody"}), start=TEMPO, goal=TEMPO))
        told = Drill(load(chart), request).round
        rounds = [RoundPlayer().plays(told), RoundPlayer().plays(told, Slips(wrong=frozenset({1})))]
        begun = 0
        for notes in rounds:
            end = time.monotonic() + 20
            while len(clicks(piano)) <= begun and time.monotonic() < end:
                time.sleep(0.002)
            play_round(piano, notes, clicks(piano)[begun])
            begun = len(clicks(piano))
        out, err = drilling.communicate(timeout=20)
    finally:
        drilling.kill()
    assert drilling.returncode == 0, err
    assert "2 rounds, 1 good" in out and "all rounds are played" in out and "into round 2" in out
    assert "bars 2–3 · round 1 · ♩ = 240, again · clean" in err
    assert "round 2" in err and "not" in err
    assert not piano.sounding()
    (take,) = list_takes(tmp_path / "data")
    assert isinstance(take, Take)
    assert [played.good for played in take.rounds if played.then is not None or played.good is not None] == [
        True,
        False,
    ]
