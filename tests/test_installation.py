"""The command that installs an extra, for each way in which the companion may have been installed."""

from __future__ import annotations

import importlib.metadata
import json
import re
import shlex
import sys
from pathlib import Path

import pytest

from companion import cli, installation
from companion.installation import install_command

WANTED = ["typst", "verovio"]
METADATA = """Metadata-Version: 2.1
Name: companion
Version: 1
Provides-Extra: print
Requires-Dist: numpy>=1.26
Requires-Dist: typst>=0.11; extra == "print"
Requires-Dist: verovio>=4.1 ; extra == 'print'
Requires-Dist: pytest>=8; extra == "test"
"""


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """An installation whose record says where it came from, as pip writes it (PEP 610)."""

    def install(record: str | None) -> None:
        folder = tmp_path / "companion-1.dist-info"
        folder.mkdir()
        (folder / "METADATA").write_text(METADATA, encoding="utf-8")
        if record is not None:
            (folder / "direct_url.json").write_text(record, encoding="utf-8")
        found = importlib.metadata.Distribution.at(folder)
        monkeypatch.setattr(installation, "distribution", lambda name: found)
        monkeypatch.setattr(installation, "__file__", str(tmp_path / "site-packages" / "companion" / "installation.py"))

    return install


def typed() -> list[str]:
    """What the shell makes of the command, after 'python -m pip install'."""
    words = shlex.split(install_command("print", WANTED))
    assert words[:4] == [sys.executable, "-m", "pip", "install"]
    return words[4:]


def test_from_a_folder_it_is_that_folder_with_the_extra(installed, tmp_path: Path) -> None:
    source = tmp_path / "my music" / "companion"
    source.mkdir(parents=True)
    installed(json.dumps({"url": source.as_uri(), "dir_info": {}}))
    assert typed() == [f"{source}[print]"]


def test_an_editable_installation_stays_one(installed, tmp_path: Path) -> None:
    installed(json.dumps({"url": tmp_path.as_uri(), "dir_info": {"editable": True}}))
    assert typed() == ["-e", f"{tmp_path}[print]"]


@pytest.mark.parametrize("record", [None, "{}", "[]", "no JSON", '{"url": "file:///not/there/any/more.whl"}'])
def test_where_its_source_is_gone_the_packages_are_named(installed, record: str | None) -> None:
    installed(record)
    assert typed() == ["typst>=0.11", "verovio>=4.1"]


def test_what_was_never_installed_is_installed_from_its_checkout(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> None:
        raise importlib.metadata.PackageNotFoundError(name)

    monkeypatch.setattr(installation, "distribution", missing)
    assert typed() == [f"{Path(__file__).parents[1]}[print]"]


@pytest.mark.parametrize(("package", "suffix"), [("verovio", "svg"), ("typst", "pdf")])
def test_where_the_engraver_is_missing_the_whole_command_is_said(
    package: str, suffix: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    pytest.importorskip("verovio", reason="the extra print isn't installed")
    monkeypatch.setitem(sys.modules, package, None)
    assert cli.main(["print", "two-spoons-short", "--out", str(tmp_path / f"sheet.{suffix}")]) == 2
    said = capsys.readouterr().err
    assert re.search(r"install it with: \S+ -m pip install .*\[print\]", said) and said.count("\n") == 1
