"""``chart treatments`` as a shell sees it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from companion.preferences.reading import forget

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Path]:
    """The player's own folder for configurations, with a treatment in it."""
    folder = tmp_path / "data" / "configs"
    folder.mkdir(parents=True)
    (folder / "treatments-mine.toml").write_text('[sunday]\nabout = "slow"\nbass = "in-two"\n', encoding="utf-8")
    forget()
    yield folder
    forget()


def test_a_treatment_of_the_players_own_is_listed_played_and_named(run: Run, own: Path, one_line: OneLine) -> None:
    status, out, _ = run("chart", "treatments")
    listed = out.splitlines()
    assert status == 0 and str(own) in out
    assert any(line.split()[0] == "sunday" and line.endswith("slow  (treatments-mine.toml)") for line in listed)
    named = listed[:-2]
    width = max(len(line.split()[0]) for line in named)
    assert all(line[width : width + 2] == "  " and line[width + 2] != " " for line in named), "a column each"
    assert any(line.startswith("walking ") and "toml" not in line for line in listed)
    status, out, _ = run("chart", "explain", "two-spoons-short", "--treatment", "sunday", "--bars", "1-2")
    assert status == 0 and "sunday" in out
    status, _, err = run("chart", "explain", "two-spoons-short", "--treatment", "sundae")
    assert status == 2 and "sunday" in one_line(err)
