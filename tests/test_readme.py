"""The README keeps its word: its commands are commands, and its chart is a chart."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from companion.cli.commands import build_parser

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"(?:^ {4,7}| && |python3 -m )(companion .+)$", README, re.M)


@pytest.mark.parametrize("line", COMMANDS)
def test_a_command_in_the_readme_is_one(line: str) -> None:
    args = build_parser().parse_args(shlex.split(line.removeprefix("companion ")))
    assert args.run is not None


@pytest.mark.parametrize("line", [line for line in COMMANDS if re.match(r"companion (play|chart show|replay)", line)])
def test_a_chart_that_the_readme_plays_is_there(line: str) -> None:
    from companion.resources import chart_names

    name = build_parser().parse_args(shlex.split(line.removeprefix("companion "))).chart
    assert name in chart_names() or name == "last"


def test_the_readme_begins_with_the_job_and_the_two_commands() -> None:
    first, second = re.findall(r"^    (python3 -m pip .*)$", README, re.M)[:2]
    assert README.index(first) < README.index("\n## ")
    assert "companion demo" in first and "pytest" in second


@pytest.mark.parametrize("caution", ["20 to 25 minutes", "numbness means stop", "doctor", "volume moderate", "teacher"])
def test_the_readme_gives_the_usual_cautions(caution: str) -> None:
    assert caution in README
