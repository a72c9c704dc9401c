"""``companion drill``: from a recording, with its rounds as JSON; and what it says of wrong words."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from companion.chart.toml.write import write_toml
from companion.cli import main
from companion.cli.commands import build_parser
from companion.cli.drilling import account_lines
from companion.errors import UseError
from companion.load import load
from companion.practice.drill import Drill
from companion.practice.records import Records
from companion.practice.request import Said, drill_request
from companion.practice.rounds import Verdict
from companion.resources import chart_path
from companion.stage.console import Account
from companion.stage.performance import recording_bytes
from companion.stage.settings import Settings
from tests.cli.conftest import Keyboard
from tests.practice.conftest import RoundPlayer, Slips
from tests.practice.days import a_round
from tests.practice.test_judged_bars import BAD as BAD_LINE
from tests.practice.test_partner import TUNE, take_of

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
        assert table.read_text().startswith('{\n "rounds": ['), "a value a line"
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
        (["--divide", "0"], "--divide: there is no 0, there are 1, 2, 3, 4"),
        (["--divide", "5"], "--divide: there is no 5, there are 1, 2, 3, 4"),
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


# What is said afterwards


@dataclass
class Played:
    """A round as it is told of."""

    good: bool | None
    tempo: float
    nothing: bool = False
    bars: tuple[int, int] = (9, 12)

    @property
    def verdict(self) -> Verdict | None:
        return None if self.good is None else Verdict(self.good, "bar 9: E missed", nothing=self.nothing)


BAD = "the last round: bar 9: E missed"


@pytest.mark.parametrize(
    ("rounds", "ended", "said"),
    [
        ([], None, ["Four: no round was played"]),
        ([Played(None, 60), Played(False, 60, nothing=True)], "player", ["Four: no round was played"]),
        ([Played(True, 60.0)], None, ["Four, bars 9-12: a round, 1 good, the fastest at 60"]),
        ([Played(False, 62.5)], None, ["Four, bars 9-12: a round, 0 good", BAD]),
        (
            [Played(True, 64.5), Played(True, 60), Played(False, 80), Played(None, 90)],
            "player",
            ["Four, bars 9-12: 3 rounds, 2 good, the fastest at 64.5", "ended as you asked", BAD],
        ),
        (
            [Played(False, 60), Played(True, 60, bars=(1, 4))],
            "goal",
            ["Four, bars 1-4: 2 rounds, 1 good, the fastest at 60", "the goal is reached"],
        ),
        (
            [Played(True, 60)] * 2,
            "rounds",
            ["Four, bars 9-12: 2 rounds, 2 good, the fastest at 60", "all rounds are played"],
        ),
    ],
)
def test_what_became_of_a_drill_is_told_in_a_line_or_three(
    stand: Any, rounds: list[Played], ended: str | None, said: list[str]
) -> None:
    drill: Any = SimpleNamespace(rounds=rounds, ended=ended)
    assert account_lines(stand.tune(title="Four"), drill) == said


@pytest.mark.parametrize(("text", "step"), [("0.01", 0.01), ("4", 4.0), ("100", 100.0)])
def test_a_step_is_any_tempo_that_can_be_added(text: str, step: float) -> None:
    assert build_parser().parse_args(["drill", NAME, "--step", text]).step == step


@pytest.mark.parametrize("text", ["0", "-1", "100.01", "x", "nan"])
def test_a_step_that_leads_nowhere_is_refused(text: str) -> None:
    with pytest.raises(UseError, match=f"'{text}' is no step; give quarters a minute, such as 4"):
        build_parser().parse_args(["drill", NAME, f"--step={text}"])


# At the keyboard


def test_a_drill_at_the_keyboard_is_asked_for_as_it_was_said(
    run: Callable[..., tuple[int, str, str]], keyboard: Keyboard
) -> None:
    made: list[Drill] = []
    keyboard.plays = lambda asked: made.append(asked.more["rehearsal"](replace(asked.settings, latency=0.03)))
    words = "--bars 9-12 --you bass --from 60 --to 90 --time steady --treatment ballad --seed 4 --click 2,4"
    status, out, err = run("drill", NAME, *words.split())
    assert (status, out) == (0, "Ferry Without Lights: no round was played\n")
    (asked,) = keyboard.asked
    assert err.startswith("bars 9-12: ") and err.count("\n") == 1
    expected = Settings(
        you=frozenset({"bass"}), parts=("melody", "chords"), time="steady", tempo=60.0, seed=4, click="2,4"
    )
    assert asked.settings == expected
    usual = ["port_in", "port_out", "midi", "sound", "through", "latency", "ask"]
    assert {name: asked.more[name] for name in usual} == dict.fromkeys(usual) and asked.more["large"] is True
    (drill,) = made
    # Four bars of count-in and way in, with the first click three seconds after the command: 8 beats of a second.
    assert drill.round.first_click == pytest.approx(3.0) and drill.round.start == pytest.approx(3 + 8)


def test_who_changes_parts_with_the_companion_begins_with_the_own_one(
    run: Callable[..., tuple[int, str, str]], keyboard: Keyboard
) -> None:
    keyboard.plays = lambda asked: asked.more["rehearsal"](asked.settings)
    assert run("drill", NAME, "--bars", "9-12", "--you", "bass", "--parts", "melody", "--swap", 1)[0] == 0
    (asked,) = keyboard.asked
    assert (asked.settings.you, asked.settings.parts) == ({"bass"}, ("melody",))


def test_what_is_not_said_of_a_drill_at_the_keyboard_is_as_usual(
    run: Callable[..., tuple[int, str, str]], keyboard: Keyboard
) -> None:
    status, _, err = run("drill", NAME, "--latency", 20, "--line")
    (asked,) = keyboard.asked
    assert status == 0 and asked.settings.click == "all" and asked.settings.you == {"melody"}
    assert (asked.more["latency"], asked.more["large"], asked.settings.seed) == (0.02, False, 0)
    proposed = err.splitlines()[0]
    assert proposed.startswith("bars 1-") and proposed.endswith("; --bars or --section says otherwise")


def test_a_melody_that_isnt_written_can_be_drilled_only_from_a_recording(
    run: Callable[..., tuple[int, str, str]], keyboard: Keyboard, tmp_path: Path
) -> None:
    changes, file = tmp_path / "changes.toml", tmp_path / "empty.mid"
    changes.write_text('format = 1\ntitle = "Four"\n[section.A]\nchords = "| C | F | G7 | C |"\n', encoding="utf-8")
    file.write_bytes(recording_bytes([], []))
    words = ["drill", changes, "--bars", "1-2", "--you", "melody"]
    status, _, err = run(*words)
    assert status == 2 and "the chart has no melody to play" in err and not keyboard.asked
    assert "the chart has no melody to play" not in run(*words, "--replay", file)[2]


def test_a_recording_is_drilled_from_the_beginning_and_a_player_where_the_last_take_was_worst(
    run: Callable[..., tuple[int, str, str]], keyboard: Keyboard, tmp_path: Path
) -> None:
    tune, file = tmp_path / "four.toml", tmp_path / "empty.mid"
    tune.write_text(write_toml(TUNE), encoding="utf-8")
    file.write_bytes(recording_bytes([], []))
    take_of(tmp_path / "data", [BAD_LINE], you="melody")
    otherwise = "--bars or --section says otherwise"
    assert run("drill", tune, "--replay", file)[2] == f"bars 1-4: the beginning; {otherwise}\n"
    assert run("drill", tune)[2].startswith("bars 1-4: played worst in your take of ")


def test_where_nothing_is_named_what_failed_before_is_drilled(
    run: Callable[..., tuple[int, str, str]], keyboard: Keyboard, tmp_path: Path
) -> None:
    yesterday = (datetime.now().astimezone() - timedelta(days=1)).replace(hour=12)  # within a day of practice
    with Records(tmp_path / "data") as records:
        records.add_round(a_round(yesterday, (17, 20), 90, False, chart=NAME, tune_tempo=132.0))
    assert run("drill", NAME)[2].startswith(f"bars 17-20: failed when you drilled bars here on {yesterday:%d %B}; ")


@pytest.mark.parametrize("broken_off", [False, True])
def test_the_take_of_a_drill_is_put_into_the_records_where_there_is_one(
    run: Callable[..., tuple[int, str, str]],
    keyboard: Keyboard,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    broken_off: bool,
) -> None:
    kept: list[tuple[Path | None, str]] = []
    monkeypatch.setattr("companion.cli.drilling.take_kept", lambda *told: kept.append(told))

    def play(*asked: Any, **more: Any) -> Account:
        account = keyboard.play(*asked, **more)
        if broken_off:
            raise KeyboardInterrupt
        return replace(account, take=tmp_path / "take")

    monkeypatch.setattr("companion.stage.live.play", play)
    status, _, _ = run("drill", NAME, "--bars", "9-12")
    assert (status, kept) == ((130, [(None, "")]) if broken_off else (0, [(tmp_path / "take", "")]))
