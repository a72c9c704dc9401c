"""``chart ear``: what is asked of the stage, and what is said at the end."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from companion.stage.settings import Settings
from tests.cli.conftest import Asked, Keyboard

Run = Callable[..., tuple[int, str, str]]
TUNE = """format = 1
title = "Four"
tempo = 100
[section.A]
chords = "| Dm7 | G7 | Cmaj7 | % |"
melody = "| d8 | f8 | z8 | c8 |"
"""


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    path = tmp_path / "four.toml"
    path.write_text(TUNE, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("words", "bars", "tempo"),
    [("", (1, 4), None), ("--bars 2", (2, 2), None), ("--bars 1-2 --tempo 80", (1, 2), 80.0)],
)
def test_the_bars_that_were_named_are_asked_for(
    run: Run, keyboard: Keyboard, tune: Path, words: str, bars: tuple[int, int], tempo: float | None
) -> None:
    assert run("chart", "ear", tune, *words.split()) == (0, "", "")
    (asked,) = keyboard.asked
    by_ear = asked.more["rehearsal"]
    assert asked.settings == Settings(you=frozenset({"melody"}), parts=("click",), tempo=by_ear.tempo)
    assert by_ear.tempo == (tempo or 100.0)
    assert min(one.bars[0] for one in by_ear.questions) == bars[0]
    assert max(one.bars[1] for one in by_ear.questions) == bars[1]
    usual = ["port_in", "port_out", "midi", "sound", "ask"]
    assert {name: asked.more[name] for name in usual} == dict.fromkeys(usual)


def test_at_the_end_it_is_said_how_many_questions_were_answered_right(run: Run, keyboard: Keyboard, tune: Path) -> None:
    def answers(asked: Asked) -> None:
        by_ear = asked.more["rehearsal"]
        first, *_ = by_ear.questions
        for right in (False, True):
            answer: Any = SimpleNamespace(question=first, right=right)
            by_ear.answers.append(answer)

    keyboard.plays = answers
    status, out, _ = run("chart", "ear", tune, "--bars", "1-2")
    count = len(keyboard.asked[0].more["rehearsal"].questions)
    assert status == 0 and out == f"1 of {count} questions answered right, in 2 answers\n"


@pytest.mark.parametrize(
    ("bars", "said"),
    [
        ("5", "there is no bar 5; the form has 4 bars"),
        ("5-6", "there is no bar 5; the form has 4 bars"),
        ("3", None),
    ],
)
def test_bars_in_which_there_is_nothing_to_hear_are_told(
    run: Run, keyboard: Keyboard, tune: Path, bars: str, said: str | None
) -> None:
    status, _, err = run("chart", "ear", tune, "--bars", bars)
    if said:
        assert (status, err) == (2, f"companion: {tune}: {said}\n") and not keyboard.asked
    else:
        (asked,) = keyboard.asked
        assert {one.what for one in asked.more["rehearsal"].questions} == {"roots"}, "there is no melody in it"


def test_the_last_bar_may_be_asked_for(run: Run, keyboard: Keyboard, tune: Path) -> None:
    assert run("chart", "ear", tune, "--bars", 4)[0] == 0
    assert {one.bars for one in keyboard.asked[0].more["rehearsal"].questions} == {(4, 4)}


@pytest.mark.parametrize(("words", "phrases"), [("", {(1, 4), (5, 8), (9, 12)}), ("--phrase 6", {(1, 6), (7, 12)})])
def test_a_phrase_has_four_bars_unless_it_is_said(
    run: Run, keyboard: Keyboard, words: str, phrases: set[tuple[int, int]]
) -> None:
    assert run("chart", "ear", "two-spoons-short", *words.split())[0] == 0
    assert {one.bars for one in keyboard.asked[0].more["rehearsal"].questions} == phrases


def test_each_answer_is_told_once_when_it_was_given(
    run: Run, keyboard: Keyboard, tune: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("companion.stage.by_ear.answer_text", lambda answer, form: f"{answer.right}: {form.tempo:g}")

    def answers(asked: Asked) -> None:
        by_ear, (watch,) = asked.more["rehearsal"], asked.more["watch"]
        for right in (False, True):
            answer: Any = SimpleNamespace(question=by_ear.questions[0], right=right)
            by_ear.answers.append(answer)
            watch(None)
            watch(None)

    keyboard.plays = answers
    assert run("chart", "ear", tune)[1].splitlines()[:-1] == ["False: 100", "True: 100"]


def test_where_nothing_is_written_there_is_nothing_to_ask(run: Run, keyboard: Keyboard, tmp_path: Path) -> None:
    path = tmp_path / "silent.toml"
    path.write_text('format = 1\n[section.A]\nchords = "| N.C. | N.C. |"\n', encoding="utf-8")
    status, _, err = run("chart", "ear", path)
    assert (status, err) == (2, f"companion: {path}: nothing is written in these bars; name others with --bars\n")
