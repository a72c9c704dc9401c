"""Files that can't be used are named in one line, whatever is in them; they are never a defect of ours."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from companion.resources import chart_path

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]


EMPTY = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0">
  <part-list><score-part id="P1"><part-name>Lead</part-name></score-part></part-list>
  <part id="P1"></part>
</score-partwise>
"""
BOMB = """<?xml version="1.0"?>
<!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa">
<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>
<score-partwise version="4.0"><part-list/><part id="P1"><measure number="1">&b;</measure></part></score-partwise>"""


BAD_CHARTS: dict[str, bytes] = {
    "empty.toml": b"",
    "garbled.toml": b'format = 1\ntitle = "no end\n',
    "bytes.toml": bytes(range(256)),
    "other.toml": b"[tool.other]\nname = 'something else'\n",
    "newer.toml": b"format = 9999\ntitle = 'From later'\n",
    "empty.musicxml": b"",
    "text.musicxml": b"Dear reader,\n",
    "cut.musicxml": EMPTY.encode()[:120],
    "page.musicxml": b"<html><body/></html>",
    "bomb.musicxml": BOMB.encode(),
    "no-bars.musicxml": EMPTY.encode(),
    "text.mxl": b"Dear reader,\n",
    "cut.mxl": b"PK\x03\x04" + bytes(40),
    "score.pdf": b"%PDF-1.7\n",
    "no-suffix": b"format = 1\n",
}


BAD_PERFORMANCES: dict[str, bytes] = {
    "empty.mid": b"",
    "text.mid": b"Dear reader,\n",
    "header.mid": b"MThd",
    "cut.mid": b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk\0\0\0\x40\0\x90\x3c",
    "silent.mid": b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk\0\0\0\4\0\xff\x2f\0",
    "no-clock.mid": b"MThd\0\0\0\6\0\0\0\1\0\0MTrk\0\0\0\4\0\xff\x2f\0",
    "wave.mid": b"RIFF\x24\0\0\0WAVEfmt ",
}


@pytest.mark.parametrize("name", BAD_CHARTS)
def test_a_chart_that_cannot_be_played_is_named_in_one_line(
    run: Run, tmp_path: Path, performance: Path, name: str, one_line: OneLine
) -> None:
    path = tmp_path / name
    path.write_bytes(BAD_CHARTS[name])
    status, out, err = run("replay", path, performance)
    assert (status, out) == (2, "")
    assert f"companion: {path}: " in one_line(err)


@pytest.mark.parametrize("name", BAD_PERFORMANCES)
def test_a_performance_that_cannot_be_read_is_named_in_one_line(
    run: Run, tmp_path: Path, sheet: Path, name: str, one_line: OneLine
) -> None:
    path = tmp_path / name
    path.write_bytes(BAD_PERFORMANCES[name])
    status, out, err = run("replay", sheet, path)
    assert (status, out) == (2, "")
    assert f"companion: {path}: " in one_line(err)


def test_a_missing_file_and_a_folder_are_named(
    run: Run, tmp_path: Path, sheet: Path, performance: Path, one_line: OneLine
) -> None:
    for typed in (
        [tmp_path / "none.toml", performance],
        [tmp_path, performance],
        [sheet, tmp_path / "none.mid"],
        [sheet, tmp_path],
        ["x" * 5000, performance],
        [sheet, "x" * 5000],
    ):
        status, out, err = run("replay", *typed)
        assert (status, out) == (2, ""), err
        one_line(err)


def test_a_chord_that_is_none_is_found_by_its_bar(
    run: Run, tmp_path: Path, sheet: Path, performance: Path, one_line: OneLine
) -> None:
    text = sheet.read_text(encoding="utf-8")
    path = tmp_path / "odd.musicxml"
    path.write_text(text.replace("<root-step>A</root-step>", "<root-step>H</root-step>", 1), encoding="utf-8")
    status, _, err = run("replay", path, performance)
    assert status == 2
    assert str(path) in one_line(err) and re.search(r"bar 4: .*'H'", err)


def test_a_damaged_file_is_never_our_defect(
    run: Run, tmp_path: Path, sheet: Path, performance: Path, one_line: OneLine
) -> None:
    chart = chart_path("two-spoons-short")
    dice = random.Random(1)
    for original in (chart, sheet, performance):
        for number in range(40):
            data = bytearray(original.read_bytes())
            for _ in range(dice.choice((1, 2, 20))):
                at = dice.randrange(len(data))
                data[at : at + dice.randrange(3)] = bytes(
                    dice.choice(b"09|ab<>-/=[]\x00\x80\xff") for _ in range(dice.randrange(3))
                )
            path = tmp_path / f"{number}{original.suffix}"
            path.write_bytes(data)
            typed = ["replay", sheet, path] if original is performance else ["chart", "check", path]
            status, _, err = run(*typed)
            assert status in (0, 1, 2), (path, err)
            assert status == 0 or one_line(err)
