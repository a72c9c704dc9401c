"""Words on the command line: those that can be meant, and one line for those that can't."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from companion.chart.model import WrittenPart
from companion.cli.commands import build_parser
from companion.cli.words import (
    ArrangingOptions,
    bar_range,
    count,
    count_or_never,
    data_said,
    milliseconds,
    seconds,
    settings_like,
    settings_of,
    take_part,
    tempo,
    turns,
    with_own_part,
    your_parts,
)
from companion.errors import UseError
from companion.resources import DATA_VARIABLE
from companion.stage.settings import Settings
from companion.stage.take import list_takes
from tests.practice.test_partner import TUNE as TUNE_OF_TAKE
from tests.practice.test_partner import take_of

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (["serenade", "tune"], "there is no command 'serenade', there are"),
        (["replay"], "say also CHART; see companion replay --help"),
        (["replay", "a.toml"], "PERFORMANCE"),
        (
            ["replay", "a.toml", "b.mid", "--yuo", "melody"],
            "with --yuo melody; did you mean '--you'?",
        ),
        (["replay", "a.toml", "b.mid", "--you", "left hand"], "'left hand' is not a part; there are melody, chords"),
        (["replay", "a.toml", "b.mid", "--you", "melody;chords"], "'melody;chords' is not a part"),
        (["replay", "a.toml", "b.mid", "--you", "melody,"], "'' is not a part"),
        (["replay", "a.toml", "b.mid", "--you", "melody,solo"], "in the melody's place"),
        (["replay", "a.toml", "b.mid", "--you", "click"], "'click' is not a part"),
        (["replay", "a.toml", "b.mid", "--parts", "drums"], "'drums' is not a part; there are melody, chords, bass"),
        (["replay", "a.toml", "b.mid", "--time", "rubato"], "--time: there is no 'rubato', there are 'follow'"),
        (["replay", "a.toml", "b.mid", "--time", "patent"], "--time: there is no 'patent'; did you mean 'patient'?"),
        (["plya"], "there is no command 'plya'; did you mean 'play'?"),
        (["chart", "chekc"], "there is no command 'chekc'; did you mean 'check'?"),
        (["replay", "a.toml", "b.mid", "--tempo", "-120"], "--tempo"),
        (["replay", "a.toml", "b.mid", "--tempo=-120"], "'-120' is not a tempo; give quarters a minute, 10 to 600"),
        (["replay", "a.toml", "b.mid", "--tempo", "nan"], "'nan' is not a tempo"),
        (["replay", "a.toml", "b.mid", "--tempo", "inf"], "'inf' is not a tempo"),
        (["replay", "a.toml", "b.mid", "--tempo", "fast"], "'fast' is not a tempo"),
        (["replay", "a.toml", "b.mid", "--start", "2.0"], "--start tells when a count-in ends; say how fast"),
        (["replay", "a.toml", "b.mid", "--tempo", "120", "--start", "soon"], "'soon' is not a moment; give seconds"),
        (["replay", "a.toml", "b.mid", "--choruses", "0"], "'0' is not a number of times"),
        (["replay", "a.toml", "b.mid", "--choruses", "1.5"], "'1.5' is not a number of times"),
        (["replay", "a.toml", "b.mid", "--latency", "-1"], "--latency"),
        (["replay", "a.toml", "b.mid", "--latency", "5000"], "'5000' is not a latency; give milliseconds"),
        (["replay", "a.toml", "b.mid", "--seed", "x"], "--seed: 'x' is not a whole number"),
        (["replay", "a.toml", "b.mid", "--trade", "fours"], "'fours' is no length of a turn; give bars, such as 4"),
        (["replay", "a.toml", "b.mid", "--trade", "99"], "'99' is no length of a turn"),
        (["replay", "a.toml", "b.mid", "more"], "more"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_words_that_cannot_be_meant_get_one_line(run: Run, typed: list[str], said: str, one_line: OneLine) -> None:
    status, out, err = run(*typed)
    assert (status, out) == (2, "")
    assert said in one_line(err)


@pytest.mark.parametrize("before", [0, 1, 2])
def test_the_folder_is_understood_wherever_it_stands(run: Run, before: int, tmp_path: Path) -> None:
    words = ["take", "list"]
    words[before:before] = ["--data", str(tmp_path / "elsewhere")]
    assert run(*words)[1].startswith(f"no take yet in {tmp_path / 'elsewhere'}")


@pytest.mark.parametrize(
    ("name", "there", "not_there"),
    [
        ("explain", ["--treatment NAME", "--seed N", "--chorus N", "--free", "form (default: 1)"], []),
        ("show", ["--key KEY"], ["--treatment", "--seed", "--chorus", "--free"]),
    ],
)
def test_the_help_of_a_command_has_its_options_and_what_is_taken_when_nothing_is_said(
    run: Run, name: str, there: list[str], not_there: list[str]
) -> None:
    told = " ".join(run("chart", name, "--help")[1].split())
    assert [word for word in there if word not in told] == []
    assert [word for word in [*not_there, "(default: None)", "(default: False)"] if word in told] == []


def test_half_an_option_is_not_guessed(run: Run, one_line: OneLine) -> None:
    # a script that says --temp today must not mean something else when an option is added
    status, _, err = run("replay", "a.toml", "b.mid", "--temp", "120")
    assert status == 2 and "--temp" in one_line(err)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("melody", {"melody"}),
        ("chords", {"chords"}),
        ("bass", {"bass"}),
        ("solo", {"solo"}),
        ("melody,chords", {"melody", "chords"}),
        ("bass,solo", {"bass", "solo"}),
        ("melody,chords,bass", {"melody", "chords", "bass"}),
        (" Melody , bass ", {"melody", "bass"}),
    ],
)
def test_you_takes_every_way_of_sharing_a_tune(text: str, parts: set[str]) -> None:
    assert your_parts(text) == parts


def test_what_is_asked_of_an_arrangement_is_one_object_whichever_words_a_command_has() -> None:
    every = argparse.Namespace(treatment="walking", seed=7, chorus=2, key="Eb", free=True, chart="a tune")
    assert ArrangingOptions.by(every) == ArrangingOptions("walking", 7, 2, "Eb", True)
    usual = ArrangingOptions(treatment=None, seed=0, chorus=1, key=None, free=False, like_you=None)
    assert ArrangingOptions.by(argparse.Namespace(key=None, chart="a tune")) == ArrangingOptions() == usual


@pytest.mark.parametrize(
    ("read", "taken", "refused"),
    [
        (tempo, {"10": 10.0, "600": 600.0}, ["9.99", "600.01"]),
        (seconds, {"-86400": -86400.0, "86400": 86400.0}, ["-86400.1", "86400.1"]),
        (milliseconds, {"0": 0.0, "1000": 1000.0}, ["-0.1", "1000.1"]),
        (count, {"1": 1, "9999": 9999, "07": 7}, ["0", "10000", "²", "", "1 "]),
        (count_or_never, {"0": 0, "1": 1, "9999": 9999}, ["00", "-1", "10000", ""]),
        (turns, {"0": 0, "64": 64, " Chorus ": 9999}, ["65", "²", "", "choruses"]),
        (bar_range, {"1": (1, 1), "7-7": (7, 7), "7-8": (7, 8)}, ["0", "7-6", "7-", "-7", "²", "7-²", ""]),
    ],
)
def test_a_number_is_taken_up_to_its_limits_and_refused_beyond(
    read: Callable[[str], object], taken: dict[str, object], refused: list[str]
) -> None:
    assert {text: read(text) for text in taken} == taken
    for text in refused:
        with pytest.raises(argparse.ArgumentTypeError, match=f"'{text}'"):
            read(text)


@pytest.mark.parametrize(
    ("word", "meant"),
    [("sand", "stand"), ("reviewal", "review"), ("standing", "stand"), ("prints", "print"), ("staring", None)],
)
def test_a_word_is_taken_for_a_slip_only_of_one_that_it_is_much_like(run: Run, word: str, meant: str | None) -> None:
    # By the ratio of letters in common, twice over the sum of both lengths: 10/13 for standing, 8/12 for staring.
    assert (f"did you mean '{meant}'?" if meant else "see companion --help") in run(word)[2]


TUNE = ("chords", "bass")
REHEARSED = [
    ("--you melody", Settings()),
    ("--you bass", Settings(you=frozenset({"bass"}), parts=("melody", "chords"))),
    ("--you melody,chords,bass", Settings(you=frozenset({"melody", "chords", "bass"}), parts=())),
    ("--you solo", Settings(you=frozenset({"solo"}), parts=TUNE)),
    (
        "--you solo --order chart",
        Settings(you=frozenset({"solo"}), parts=("melody", *TUNE), order="chart"),
    ),
    ("--you melody --order chart", Settings(order="chart")),
    ("--you melody --parts bass,click", Settings(parts=("bass", "click"))),
    ("--you melody --time patient --tempo 90", Settings(time="patient", tempo=90.0)),
    ("--you melody --choruses 3 --seed 7 --treatment ballad", Settings(choruses=3, seed=7, treatment="ballad")),
    ("--you melody --latency 20", Settings(latency=0.02)),
    ("--you melody --trade 4", Settings(you=frozenset({"solo"}), parts=TUNE, trade=4)),
    ("--you melody,bass --trade 4", Settings(you=frozenset({"solo", "bass"}), parts=("chords",), trade=4)),
    ("--you melody --trade 4 --order chart", Settings(trade=4, order="chart")),
    ("--you solo --trade 8", Settings(you=frozenset({"solo"}), parts=TUNE, trade=8)),
]
"""What is said of a rehearsal, and what comes of it."""


PARSER = build_parser()


def asked(words: str) -> argparse.Namespace:
    return PARSER.parse_args(["replay", "a.toml", "b.mid", *words.split()])


@pytest.mark.parametrize(("words", "settings"), REHEARSED, ids=[words for words, _ in REHEARSED])
def test_the_companion_plays_what_the_player_leaves_in_the_way_that_is_said(words: str, settings: Settings) -> None:
    assert settings_of(asked(words)) == settings


TAKEN = Settings(you=frozenset({"bass"}), parts=("melody", "chords"), tempo=100.0, seed=5, latency=0.03, trace=True)
AGAIN = [
    ("", {}),
    ("--you chords", {"you": frozenset({"chords"}), "parts": ("melody",)}),
    ("--parts chords,click", {"parts": ("chords", "click")}),
    ("--you bass --parts click", {"parts": ("click",)}),
    ("--latency 20 --seed 0 --tempo 90", {"latency": 0.02, "seed": 0, "tempo": 90.0}),
    ("--treatment ballad --choruses 2 --order open", {"treatment": "ballad", "choruses": 2, "order": "open"}),
    ("--trade 4 --you solo", {"trade": 4, "you": frozenset({"solo"}), "parts": ("melody", "chords")}),
    ("--trade 4 --you melody", {"trade": 4, "you": frozenset({"solo"}), "parts": ("melody", "chords")}),
    (
        "--trade 4 --you melody --order chart",
        {"trade": 4, "you": frozenset({"melody"}), "parts": ("chords",), "order": "chart"},
    ),
]


@pytest.mark.parametrize(("words", "otherwise"), AGAIN, ids=[words or "as it was" for words, _ in AGAIN])
def test_a_take_is_played_again_as_it_was_but_for_what_is_said(words: str, otherwise: dict[str, Any]) -> None:
    assert settings_like(TAKEN, asked(words), start=2.5) == replace(TAKEN, trace=False, start=2.5, **otherwise)


def test_who_plays_the_bass_trades_with_nobody() -> None:
    for made in (lambda: settings_of(asked("--you bass --trade 4")), lambda: settings_like(TAKEN, asked("--trade 4"))):
        with pytest.raises(UseError, match=r"^to trade is to improvise in turn; say --you solo, or leave --you out$"):
            made()


MELODY, NONE = ("| C7 |", "| c8 |"), ("| C7 |", "")


@pytest.mark.parametrize(
    ("said", "section", "recorded", "you"),
    [
        ("", MELODY, False, {"melody"}),
        ("", NONE, False, {"solo"}),
        ("--you melody", MELODY, False, {"melody"}),
        ("--you melody", NONE, True, {"melody"}),
        ("--you melody,bass", NONE, False, {"melody", "bass"}),
        ("--you chords", NONE, False, {"chords"}),
        ("--you chords", MELODY, False, {"chords"}),
    ],
)
def test_who_says_nothing_plays_the_melody_or_a_solo_over_a_chart_that_has_none(
    stand: Any, capsys: pytest.CaptureFixture[str], said: str, section: tuple[str, str], recorded: bool, you: set[str]
) -> None:
    args = asked(said)
    take_part(args, stand.chart(section), recorded=recorded)
    told = "the chart has no melody: you improvise over it, as with --you solo\n" if you == {"solo"} else ""
    assert args.you == you and capsys.readouterr().err == told


def test_a_melody_that_isnt_there_cant_be_played(stand: Any) -> None:
    with pytest.raises(UseError, match=r"the chart has no melody to play; improvise over it with --you solo"):
        take_part(asked("--you melody"), stand.chart(NONE))


def test_a_command_that_is_printed_finds_the_folder_that_this_one_was_told() -> None:
    assert data_said(argparse.Namespace(data=None)) == ""
    assert data_said(argparse.Namespace(data=Path("a pupil's"))) == """ --data 'a pupil'"'"'s'"""


def test_a_chart_is_taken_in_another_key_and_without_what_is_written(stand: Any) -> None:
    tune = stand.chart(MELODY)
    written = replace(tune, written=(WrittenPart("bass", frozenset({1}), ()),))
    assert ArrangingOptions().of(written) == written
    assert ArrangingOptions(free=True).of(written) == tune
    assert ArrangingOptions(key="Eb").of(tune).fifths == -3
    request = ArrangingOptions("ballad", 7, 2, like_you=False).request
    assert (request.treatment, request.seed, request.chorus, request.style) == ("ballad", 7, 2, None)


@pytest.fixture
def walked(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """The player's folder with one take: two bars in which they walked."""
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    take_of(tmp_path, [[36, 38, 40, 43]])
    return tmp_path


def partner(words: str) -> argparse.Namespace:
    return PARSER.parse_args(["play", "a.toml", *words.split()])


def test_what_was_played_in_a_take_goes_with_the_other_hand(walked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    chart = with_own_part(partner("--partner last --you melody"), TUNE_OF_TAKE)
    assert [part.part for part in chart.written] == ["bass"]
    (take,) = list_takes()
    assert capsys.readouterr().err == f"your bass of {take.started:%Y-%m-%d %H:%M} goes with you\n"
    assert with_own_part(partner(""), TUNE_OF_TAKE) is TUNE_OF_TAKE
    assert with_own_part(partner("--partner 1"), TUNE_OF_TAKE) == chart, "nobody said what they play"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--partner nobody", "there is no take 'nobody'; companion take list shows them"),
        ("--partner 1 --treatment ballad", "--treatment makes everything up anew, and --partner is as it was played"),
        ("--partner 1 --you bass", "the bass is your own part in that take, and now as well; say --you melody"),
    ],
)
def test_a_partner_who_cant_be_is_told(walked: Path, words: str, said: str) -> None:
    with pytest.raises(UseError) as told:
        with_own_part(partner(words), TUNE_OF_TAKE)
    assert str(told.value).startswith(said)


def test_who_plays_the_chords_now_and_then_is_told_to_play_the_bass(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    take_of(tmp_path, [[48, 50, 52, 55]], you="chords")
    with pytest.raises(UseError, match=r"say --you bass$"):
        with_own_part(partner("--partner last --you chords"), TUNE_OF_TAKE)
