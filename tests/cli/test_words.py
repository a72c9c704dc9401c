"""Words on the command line: those that can be meant, and one line for those that can't."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

import pytest

from companion.cli.words import ArrangingOptions, your_parts

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
    assert ArrangingOptions.by(argparse.Namespace(key=None, chart="a tune")) == ArrangingOptions()
