"""Some hundred damaged files, drawn once and for all: every reader reads them, or answers with one line."""

from __future__ import annotations

from pathlib import Path

import pytest
from damaged_files import FINE, KINDS, TOGETHER, answer, damaged

from companion.preferences.reading import forget
from companion.resources import DATA_VARIABLE

SEED = 2
USUAL = 30
FEWER = {"midi": 4, "recording": 4, "take": 8, "take-notes": 4, "journal": 4, "arrangement": 15, "chart": 25}
"""Of kinds that take longer to read."""
SMALL = ("musicxml", "mxl", "abc", "beats")
"""Of which every whole file is read, and not the first alone."""
PATIENCE = 20.0
"""Seconds of processor time, so that a busy machine fails no test: whoever measures has two seconds."""


@pytest.mark.parametrize("kind", KINDS)
def test_a_damaged_file_is_read_or_answered_with_one_line(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COMPANION_DEBUG", "1")
    valid = KINDS[kind].valid()
    said = []
    for number in range(FEWER.get(kind, USUAL)):
        folder = tmp_path / str(number)
        folder.mkdir()
        monkeypatch.setenv(DATA_VARIABLE, str(folder))
        forget()
        said.append(answer(kind, SEED, number, valid, folder, PATIENCE))
    forget()
    assert [one for one in said if one.said not in FINE] == []


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_that_is_whole_is_read(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    valid = KINDS[kind].valid()
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    forget()
    for path, content in valid.items():
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).write_bytes(content)
    names = [path for path in valid if path.endswith(TOGETHER.get(kind, ""))]
    for name in names[: None if kind in SMALL else 1]:
        KINDS[kind].read(tmp_path / name)
    forget()


def test_a_number_gives_the_same_damage_each_time() -> None:
    valid = KINDS["abc"].valid()
    drawn = [damaged("abc", 1, number, valid) for number in range(50)]
    assert drawn == [damaged("abc", 1, number, valid) for number in range(50)]
    assert sum(data == valid[name] for name, data in drawn) < 10, "most are damaged"
