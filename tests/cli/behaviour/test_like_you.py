"""Chords like the player's own: the option of the commands that arrange, what is said of it, and what a take keeps."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from companion.arrange.chords.comping_style import CompingStyle, UsedShape
from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.chart.toml.write import write_toml
from companion.messages import Heard
from companion.practice.comping_learnt import FILE
from companion.stage.settings import Settings
from companion.stage.take import read_take
from tests.practice.compers import START, comped, keep
from tests.practice.test_chords_used import THIRD, chart

ROWS = {
    "shapes": [["m7", "b3 5 b7 9", 0, [64, 69] * 9], ["7", "3 13 b7 9", 0, [66] * 9], ["maj7", "3 5 7 9", 0, [66] * 9]],
    "rhythms": [["4/4", "swing", [0.5, 2.5], [[1.0, 1.0]] * 9]],
}


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A folder in which two takes were looked through already."""
    for day in "12":
        (tmp_path / "data" / "takes" / f"2026-11-0{day}-200000-row").mkdir(parents=True)
    known = {f"2026-11-0{day}-200000-row": ROWS for day in "12"}
    (tmp_path / "data" / FILE).write_text(json.dumps({"format": 1, "takes": known}), encoding="utf-8")
    return tmp_path / "data"


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    """Eight bars."""
    file = tmp_path / "row.toml"
    file.write_text(write_toml(chart()), encoding="utf-8")
    return file


def test_the_option_changes_chords_and_says_what_it_goes_by(run, data: Path, tune: Path) -> None:
    asked = ("chart", "explain", tune, "--treatment", "walking")
    status, usual, err = run(*asked)
    assert (status, err) == (0, "")
    status, like, err = run(*asked, "--like-you")
    assert status == 0 and err.startswith("chords like yours: 3 shapes and 1 rhythm of yours, from 2 takes")
    assert like != usual and "as you play it" in like and "as you play it" not in usual
    assert run(*asked, "--like-you")[1] == like


def test_without_habits_the_option_says_so_and_changes_nothing(run, tune: Path) -> None:
    asked = ("chart", "explain", tune)
    usual = run(*asked)[1]
    status, out, err = run(*asked, "--like-you")
    assert (status, out) == (0, usual) and "nothing is known of yet" in err


def test_what_is_printed_and_written_is_like_the_player_too(run, data: Path, tune: Path, tmp_path: Path) -> None:
    files = {}
    for words in ((), ("--like-you",)):
        out = tmp_path / f"sheet{len(words)}.musicxml"
        assert run("print", tune, "--treatment", "walking", "--out", out, *words)[0] == 0
        files[words] = out.read_bytes()
    assert len(set(files.values())) == 2
    out = tmp_path / "own.toml"
    assert run("chart", "arrange", tune, "--bars", "1-4", "--like-you", "--out", out)[0] == 0


def test_it_may_be_wished_for_always_and_left_out_for_once(run, data: Path, tune: Path) -> None:
    (data / "configs").mkdir()
    (data / "configs" / "like-you.toml").write_text("[wish]\nalways = true\n", encoding="utf-8")
    asked = ("chart", "explain", tune, "--treatment", "walking")
    assert run(*asked)[1] == run(*asked, "--like-you")[1] != run(*asked, "--no-like-you")[1]


def test_history_says_which_habits_there_are(run, data: Path, one_line) -> None:
    status, out, err = run("history", "--chords")
    assert (status, err) == (0, "")
    assert "on minor sevenths you play ♭3 5 ♭7 9, rootless from the third, 36 times in 2 takes" in out
    assert "in 4/4, swing, you strike the and of 1 and of 3" in out or "the and of 1 and the and of 3" in out
    status, _, err = run("history", "ferry-without-lights", "--chords")
    assert status == 2 and "all your takes" in one_line(err)


# A take keeps what it was arranged by


def melody() -> Chart:
    text = 'format = 1\ntitle = "Row of Pots"\nkey = "C major"\nform = "A"\n[section.A]\ntreatment = "walking"\n'
    bars = "f8 | z8 | e8 | z8 |"
    return parse_toml(f'{text}chords = "| Dm7 | G7 | Cmaj7 | Am7 |"\nmelody = """\n{bars}\n"""\n')


STYLE = CompingStyle(tuple(UsedShape(kind, row, 0, 0.9, 60, 76, 20, 4) for kind, (row,) in THIRD.items()), (), 4)


def test_a_take_is_replayed_with_the_habits_that_were_known_then(run, tmp_path: Path) -> None:
    heard = [Heard(START + 4 * bar, status, key, 70) for bar, key in ((0, 77), (1, 76)) for status in (0x90, 0x80)]
    heard = [replace(one, seconds=one.seconds + 1.5 * (one.status == 0x80)) for one in heard]
    how = Settings(you=frozenset({"melody"}), tempo=120.0, start=START, choruses=2, style=STYLE)
    folder = keep(tmp_path / "data", "2026-11-20-200000-row", melody(), heard, how)
    assert read_take(folder).rehearsed()[1].style == STYLE
    outs = {}
    for name, words in (("kept", ()), ("again", ()), ("without", ("--no-like-you",))):
        outs[name] = tmp_path / f"{name}.mid"
        assert run("replay", "last", "--out", outs[name], *words)[0] == 0
    assert outs["kept"].read_bytes() == outs["again"].read_bytes() != outs["without"].read_bytes()


def test_a_take_whose_habits_are_damaged_is_told_in_one_line(run, tmp_path: Path, one_line) -> None:
    folder = keep(
        tmp_path / "data", "2026-11-20-200000-row", melody(), [Heard(2.0, 0x90, 77, 70)], Settings(style=STYLE)
    )
    file = folder / "take.json"
    file.write_text(file.read_text(encoding="utf-8").replace("b3 5 b7 9", "b3 five"), encoding="utf-8")
    status, _, err = run("replay", "last", "--out", tmp_path / "x.mid")
    assert status == 2 and "its settings are damaged" in one_line(err)


# A passage revoiced


def test_bars_of_a_take_are_revoiced_in_words_and_on_paper(run, tmp_path: Path, one_line) -> None:
    row = chart(bars="Dm7 | G7 | Cmaj7 | Am7")
    played = [
        replace(one, data1=one.data1 + 2) if 3.9 < one.seconds < 5 and one.data1 == 64 else one
        for one in comped(row, {**THIRD, "7": ["b7 9 3 13"]}, (0.0,))
    ]
    keep(tmp_path / "data", "2026-11-20-200000-row", row, played)
    out = tmp_path / "bars.svg"
    status, text, err = run("review", "last", "--revoice", "1-3", "--out", out)
    assert (status, err) == (0, "")
    assert "bar 2, G7: E instead of F♯" in text and out.read_text(encoding="utf-8").startswith("<")
    assert run("review", "last", "--revoice", "2", "--out", tmp_path / "bars.pdf")[0] == 0
    for words, said in (
        (("--revoice", "9"), "there is no bar 9"),
        (("--revoice", "2", "--json", tmp_path / "x.json"), "--json is the review's"),
        (("--revoice", "2", "--out", tmp_path / "x.png"), "can't be engraved"),
    ):
        status, _, err = run("review", "last", *words)
        assert status == 2 and said in one_line(err)
