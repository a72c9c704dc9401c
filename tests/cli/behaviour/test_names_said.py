"""A name that there isn't is one line before anything sounds: the file, the place in it, and the nearest right name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from companion.stage import band

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]

CHART = """
format = 1
title = "Back Stairs"
tempo = 200
form = "A"
order = [{ play = "head" }, { play = "head", choruses = 2 }, { play = "solos", treatment = "walkin" }]

[section.A]
chords = "| C6 | Am7 | Dm7 | G7 |"
melody = "| c2 e2 g2 e2 | a4 e4 | f2 d2 A2 d2 | B8 |"
"""


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    path = tmp_path / "back-stairs.toml"
    path.write_text(CHART)
    return path


def words(command: str, tune: Path, performance: Path) -> list[object]:
    return {
        "play": ["play", tune, "--count-in", 1],
        "demo": ["demo", tune, "--fast", "--order", "chart"],
        "replay": ["replay", tune, performance, "--order", "chart"],
    }[command]


@pytest.mark.parametrize("command", ["play", "demo", "replay"])
def test_a_misspelt_treatment_in_the_order_is_one_line_at_the_start(
    run: Run, one_line: OneLine, tune: Path, performance: Path, command: str
) -> None:
    status, out, err = run(*words(command, tune, performance))
    assert (status, out) == (2, "")
    said = f"companion: {tune}: order, event 3: there is no treatment 'walkin'; did you mean 'walking'?\n"
    assert one_line(err) == said


@pytest.mark.parametrize("command", ["play", "demo", "replay"])
def test_a_misspelt_treatment_that_was_asked_for_is_one_line_at_the_start(
    run: Run, one_line: OneLine, tune: Path, performance: Path, command: str
) -> None:
    status, out, err = run(*words(command, tune, performance), "--treatment", "in-too")
    assert (status, out) == (2, "")
    said = "companion: --treatment: there is no treatment called 'in-too'; did you mean 'in-two'?\n"
    assert one_line(err) == said


@pytest.mark.parametrize("command", ["demo", "replay"])
def test_what_breaks_in_the_middle_is_one_line(
    run: Run,
    one_line: OneLine,
    tune: Path,
    performance: Path,
    command: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Four bars are once through the form; the third time can't be arranged. The demo keeps what was played."""
    arrange = band.stretch_notes

    def broken(stretch: Any, part: str, **more: Any) -> Any:
        if stretch.chorus == 3:
            raise ValueError("no chord fits")
        return arrange(stretch, part, **more)

    monkeypatch.setattr(band, "stretch_notes", broken)
    status, out, err = run(*words(command, tune, performance), "--treatment", "walking")
    assert status == 70
    assert "a defect of the companion, not of yours (ValueError)" in one_line(err)
    takes = [*tmp_path.glob("data/demo/takes/*")]
    assert [path.name for take in takes for path in sorted(take.iterdir())] == (
        ["take.json", "take.mid"] if command == "demo" else []
    )
    assert [f"kept in {take}" in out for take in takes] == [True] * len(takes)
