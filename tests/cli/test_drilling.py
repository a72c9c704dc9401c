"""``companion drill``: from a recording, with its rounds as JSON; and what it says of wrong words."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from companion.cli import main
from companion.load import load
from companion.practice.drill import Drill
from companion.practice.request import Said, drill_request
from companion.resources import chart_path
from companion.stage.performance import recording_bytes
from tests.practice.conftest import RoundPlayer, Slips

NAME = "ferry-without-lights"
WORDS = ["drill", NAME, "--bars", "9-12", "--you", "melody", "--from", "100", "--to", "110", "--step", "5"]


def drilled(folder: Path, *words: str, rounds: int = 3) -> dict[str, Any]:
    """The JSON after so many rounds, each played as it was told by the one before."""
    heard: list[Any] = []
    player = RoundPlayer()
    for number in range(rounds + 1):
        recording, table = folder / f"{number}.mid", folder / f"{number}.json"
        recording.write_bytes(recording_bytes(heard, []))
        assert main([*WORDS, *words, "--replay", str(recording), "--json", str(table)]) == 0
        told = json.loads(table.read_text())
        if told["ended"] or number == rounds:
            return told
        row = told["rounds"][-1]
        heard += _notes(player, row, number)
    raise AssertionError


def _notes(player: RoundPlayer, row: dict[str, Any], number: int) -> list[Any]:
    """A round played by nothing but what its row says."""
    chart = load(chart_path(NAME))
    said = Said(you=frozenset(row["you"]), start=row["tempo"], goal=row["tempo"])
    told = Drill(chart, drill_request(chart, tuple(row["bars"]), said)).round
    shift = row["start_s"] - told.start
    slips = Slips(missing=frozenset({3})) if number == 1 else Slips()
    return [
        type(event)(event.seconds + shift, event.status, event.data1, event.data2)
        for event in player.plays(told, slips)
    ]


def test_a_recording_is_drilled_round_by_round(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = drilled(tmp_path)
    rows = told["rounds"]
    assert set(rows[0]) == {
        "round", "bars", "you", "key", "tempo", "start_s", "end_s", "good", "why", "right", "wrong", "missing", "extra"
    }  # fmt: skip
    assert [row["good"] for row in rows] == [True, False, True, None]
    assert rows[1]["why"].endswith("missed")
    assert (rows[0]["right"], rows[1]["right"], rows[1]["missing"]) == (11, 10, 1)
    assert told["ended"] is None
    # 4 bars of count-in and way in at 100 quarters a minute: 8 beats of 0.6 s.
    assert rows[0]["start_s"] == pytest.approx(4.8)
    assert rows[0]["end_s"] == pytest.approx(4.8 + 16 * 0.6, abs=0.05)
    assert "3 rounds, 2 good" in capsys.readouterr().out


def test_it_ends_after_as_many_rounds_as_were_asked_for(tmp_path: Path) -> None:
    told = drilled(tmp_path, "--rounds", "2")
    assert (told["ended"], len(told["rounds"])) == ("rounds", 2)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--bars", "90-92"], "no bar 90"),
        (["--section", "Q"], "no section 'Q'"),
        (["--kind", "memry"], "did you mean 'memory'"),
        (["--click", "7"], "beats 1 to 4"),
        (["--from", "120", "--to", "60"], "lies below"),
        (["--you", "melody,bass", "--swap", "2"], "nothing to swap"),
        (["--keys", "H"], "not a key"),
        (["--step", "0"], "no step"),
    ],
)
def test_what_cannot_be_drilled_is_one_line(
    tmp_path: Path, words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "empty.mid"
    file.write_bytes(recording_bytes([], []))
    assert main(["drill", NAME, *words, "--replay", str(file)]) == 2
    told = capsys.readouterr().err.strip().splitlines()[-1]
    assert said in told
