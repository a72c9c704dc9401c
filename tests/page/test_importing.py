"""A file that is dropped: kept among the player's own charts, never over another, whatever it calls itself."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.chart.own import own_folder
from companion.chart.toml.read import MOST_BYTES
from companion.errors import ChartError
from companion.load import load
from companion.page.importing import LARGEST, ImportAsked, imported
from companion.resources import DATA_VARIABLE, chart_path

SHEET = b'X:1\nT:Kettle at Six\nM:4/4\nL:1/8\nK:C\n"Dm7"d4 !mf!f4|"G7"g4 z4|"Cmaj7"e8-|e8|]\n'


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))


def test_what_a_chart_cant_hold_is_said_and_the_same_file_again_is_another_chart() -> None:
    first, second = (imported(ImportAsked("kettle.abc", SHEET)) for _ in range(2))
    assert (first["name"], second["name"]) == ("kettle-at-six", "kettle-at-six-2")
    assert first["title"] == "Kettle at Six" and any("mf" in line for line in first["said"])
    assert load(own_folder() / "kettle-at-six.toml").title == "Kettle at Six"


@pytest.mark.parametrize(("faults", "told"), [(1, 1), (12, 12), (13, 12)])
def test_of_what_is_wrong_with_a_chart_of_ours_a_dozen_are_told(faults: int, told: int) -> None:
    """Sections that are never played; the tune can be played all the same."""
    sections = [f'[section.{chr(65 + n)}]\nchords = "| C |"\n' for n in range(faults + 1)]
    text = 'format = 1\ntitle = "Mine"\nform = "A"\n' + "".join(sections)
    said = imported(ImportAsked("mine.toml", text.encode()))["said"]
    assert len(said) == told and all("is never played" in line for line in said)


@pytest.mark.parametrize("name", ["../../../kettle.abc", "C:\\music\\kettle.abc", "/etc/kettle.ABC"])
def test_the_name_of_a_file_leads_nowhere(name: str, tmp_path: Path) -> None:
    imported(ImportAsked(name, SHEET))
    assert [path.relative_to(own_folder()).as_posix() for path in tmp_path.rglob("*") if path.is_file()] == [
        "kettle-at-six.toml"
    ]


def test_a_chart_of_ours_keeps_its_comments() -> None:
    text = chart_path("ferry-without-lights").read_bytes()
    name = imported(ImportAsked("mine.toml", text.replace(b"\n", b"\r\n")))["name"]
    assert name == "ferry-without-lights-2"
    assert (own_folder() / f"{name}.toml").read_bytes() == text


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("tune.exe", SHEET, "tune.exe: is no kind of file"),
        ("tune.toml", b"format = 99\n", "tune.toml"),
        ("tune.toml", b"\xff\xfe", "not UTF-8"),
        ("tune.mxl", b"PK\x03\x04 broken", "tune.mxl"),
        ("tune.musicxml", b"<!DOCTYPE x [<!ENTITY a 'b'>]><x>&a;</x>", "tune.musicxml"),
        ("tune.mid", b"MThd", "tune.mid"),
        ("", b"", "is no kind of file"),
    ],
)
def test_a_file_that_cant_be_read_is_named_as_the_player_knows_it_and_nothing_is_kept(
    name: str, content: bytes, said: str
) -> None:
    with pytest.raises(ChartError) as refused:
        imported(ImportAsked(name, content))
    assert said in str(refused.value) and "/tmp" not in str(refused.value)
    assert not own_folder().exists() or not any(own_folder().iterdir())


def test_a_chart_of_ours_may_be_as_large_as_a_chart_and_its_faults_are_told_up_to_a_dozen() -> None:
    text = 'format = 1\ntitle = "Large"\n[section.A]\nchords = "| C |"\n'
    told = imported(ImportAsked("large.toml", (text + "#" * (MOST_BYTES - len(text))).encode()))
    assert told == {"name": "large", "title": "Large", "said": []}
    with pytest.raises(ChartError, match=r"^large.toml: is too large for a chart$"):
        imported(ImportAsked("large.toml", (text + "#" * (MOST_BYTES + 1 - len(text))).encode()))


@pytest.mark.parametrize("suffix", [".musicxml", ".mxl", ".xml", ".abc", ".mid", ".midi", ".toml"])
def test_every_kind_of_file_that_can_be_read_may_be_dropped(suffix: str) -> None:
    with pytest.raises(ChartError) as refused:
        imported(ImportAsked(f"tune{suffix.upper()}", b""))
    assert "no kind of file" not in str(refused.value)


def test_what_may_be_brought_is_listed_once_each() -> None:
    with pytest.raises(ChartError, match=r"bring \.") as refused:
        imported(ImportAsked("tune.exe", b""))
    listed = str(refused.value).partition("bring ")[2].split(", ")
    assert {".musicxml", ".mxl", ".abc", ".mid", ".toml"} <= set(listed) and not {".xml", ".midi"} & set(listed)


def test_a_dropped_file_may_be_eight_megabytes_large() -> None:
    assert LARGEST == 8_388_608
