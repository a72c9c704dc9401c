"""What a command writes never takes the place of what stood there: the former file is kept beside it, and said."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]
MINE = b"a file of mine"
ABC = "X:1\nT:Kettle at Six\nM:4/4\nL:1/4\nK:C\nCDEF|GABc|\n"
PAGES = (".pdf", ".svg")
COMMANDS = {
    "replay": (
        "replay {sheet} {performance} --beats beats.csv --out out.mid --trace trace.jsonl",
        "out.mid beats.csv trace.jsonl",
    ),
    **{f"print {kind}": (f"print {{sheet}} --out out{kind}", f"out{kind}") for kind in (*PAGES, ".musicxml", ".mxl")},
    "print .mid": ("print {sheet} --lead --out out.mid", "out.mid"),
    "print .wav": ("print {sheet} --lead --out out.wav", "out.wav"),
    "import": ("chart import {abc} --out out.toml", "out.toml"),
    "capture": ("chart capture --from {performance} --tempo 120 --start 2 --out out.toml", "out.toml"),
    "arrange": ("chart arrange {sheet} --out out.toml", "out.toml"),
    "audit": ("chart audit {sheet} --seeds 1 --json out.json", "out.json"),
    "demo": ("demo {sheet} --fast --choruses 1 --out demo --wav out.wav", "out.wav"),
}


class Writing(NamedTuple):
    """A command that writes, and the files that it writes."""

    words: list[str]
    files: list[Path]


@pytest.fixture(params=COMMANDS)
def writing(
    request: pytest.FixtureRequest, sheet: Path, performance: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Writing:
    """Each such command, in a folder of its own."""
    if request.param.endswith(PAGES):
        pytest.importorskip("verovio")
        pytest.importorskip("typst")
    abc = tmp_path / "kettle.abc"
    abc.write_text(ABC, encoding="utf-8")
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    words, files = COMMANDS[request.param]
    given = [word.format(sheet=sheet, performance=performance, abc=abc) for word in words.split()]
    return Writing(given, [here / name for name in files.split()])


def put(writing: Writing) -> None:
    """Files of the player's own where the command writes."""
    for file in writing.files:
        file.write_bytes(MINE)


def kept() -> list[str]:
    return sorted(file.name for file in Path.cwd().glob("*former*"))


def test_what_stood_there_is_kept_once_and_said_in_one_line_unless_it_is_to_be_replaced(
    run: Run, writing: Writing
) -> None:
    put(writing)
    status, _, err = run(*writing.words)
    assert status in (0, 1)
    said = [line for line in err.splitlines() if "kept" in line]
    assert said == [f"companion: {f.name}: what stood there is kept in {f.name}.former-1" for f in writing.files]
    formers = sorted(f"{file.name}.former-1" for file in writing.files)
    assert kept() == formers and all(Path(name).read_bytes() == MINE for name in formers)
    assert all(file.read_bytes() != MINE for file in writing.files)

    status, _, err = run(*writing.words)
    assert status in (0, 1) and "kept" not in err and kept() == formers, "the same again is not kept"
    put(writing)
    assert run(*writing.words)[0] in (0, 1) and kept() == formers, "one copy of mine is enough"

    for name in formers:
        Path(name).unlink()
    put(writing)
    status, _, err = run(*writing.words, "--force")
    assert status in (0, 1) and "kept" not in err and not kept()
    assert all(file.read_bytes() != MINE for file in writing.files)


def test_each_page_that_stood_there_is_kept(run: Run, sheet: Path, tmp_path: Path) -> None:
    pytest.importorskip("verovio")
    out, names = tmp_path / "ladder.svg", ("ladder-1.svg", "ladder-2.svg")
    for name in names:
        (tmp_path / name).write_bytes(MINE)
    status, said, err = run("print", "ladder-in-the-pear-tree", "--out", out)
    assert said.partition(": ")[0].split(", ") == [str(tmp_path / name) for name in names]
    assert status == 0 and err.count("what stood there is kept in") == 2
    assert all((tmp_path / f"{name}.former-1").read_bytes() == MINE for name in names)


def test_a_chart_of_a_newer_format_stays_where_it_is(run: Run, tmp_path: Path, one_line: OneLine) -> None:
    abc, out = tmp_path / "kettle.abc", tmp_path / "kettle.toml"
    abc.write_text(ABC, encoding="utf-8")
    out.write_text("format = 99\n", encoding="utf-8")
    for words in (["chart", "import", abc], ["chart", "arrange", abc]):
        for more in ([], ["--force"]):
            status, _, err = run(*words, "--out", out, *more)
            assert status == 2 and "newer than this companion reads" in one_line(err)
    assert out.read_text(encoding="utf-8") == "format = 99\n" and len(list(tmp_path.glob("kettle.toml*"))) == 1


def test_a_device_is_written_and_not_replaced(run: Run, sheet: Path, performance: Path) -> None:
    status, _, err = run("replay", sheet, performance, "--beats", os.devnull)
    assert (status, err) == (0, "")
    assert run("print", sheet, "--out", "/dev/null/x.wav")[0] == 2
    assert not Path(os.devnull).is_file()
