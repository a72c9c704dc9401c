"""A chart's text on the page: each fault at its line, and no text that is lost or written over."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.chart.own import own_folder
from companion.errors import InputError
from companion.load import load
from companion.page.editing import CheckAsked, SaveAsked, TextAsked, checked, saved, text_of
from companion.resources import DATA_VARIABLE, chart_path

FERRY = chart_path("ferry-without-lights")
SHORT = """format = 1
title = "Back Stairs"
form = "A"
[section.A]
chords = "| C6 | G7 | Hm7 |"
melody = "| c8 | d8 | e8 |"
"""


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))


@pytest.mark.parametrize(
    ("right", "wrong", "where", "playable"),
    [
        ("| Bbmaj9   |", "| Hmaj9   |", "section B, bar 3", False),
        ("| Gm6      | C7sus4 C7", "| Gm6      | C7sas4 C7", "section A1, bar 2", False),
        ("| f3_d f2 g2- |", "| f3_d f2 g3- |", "section A1, bar 6", False),
        ('treatment = "sparse"', 'treatment = "spars"', "section B", True),
        ("tempo = 132", "tempo = 1320", "tempo", False),
        ('metre = "4/4"', 'metre = "4:4"', "metre", False),
        ('key = "G minor"', 'key = = "G minor"', "line 5, column 7", False),
    ],
)
def test_what_is_wrong_is_said_at_its_place_and_on_its_line(right: str, wrong: str, where: str, playable: bool) -> None:
    text = FERRY.read_text(encoding="utf-8")
    assert right in text
    changed = text.replace(right, wrong, 1)
    told = checked(CheckAsked(changed))
    fault = told["faults"][0]
    assert (fault["where"], told["playable"]) == (where, playable)
    assert wrong.strip("|").split()[-1].strip("|-") in changed.split("\n")[fault["line"] - 1]


def test_bars_on_one_line_are_found_as_well() -> None:
    (fault,) = checked(CheckAsked(SHORT))["faults"]
    assert (fault["where"], fault["line"]) == ("section A, bar 3", 5)
    (fault,) = checked(CheckAsked(SHORT.replace("Hm7", "Bm7").replace("e8 |", "e9 |")))["faults"]
    assert (fault["where"], fault["line"]) == ("section A, bar 3", 6)


@pytest.mark.parametrize("text", ["", "\0", "format = 99", "[" * 5000, "format = 1\nx = " + "9" * 5000, "|" * 100_000])
def test_no_text_breaks_it(text: str) -> None:
    told = checked(CheckAsked(text))
    assert told["faults"] and not told["playable"]


def test_a_shipped_chart_is_kept_as_a_copy_and_then_changed_in_its_place_with_the_former_beside_it() -> None:
    told = text_of(TextAsked(str(FERRY)))
    assert not told["own"]
    first = saved(SaveAsked(str(FERRY), told["text"].replace("132", "100"), told["stamp"]))
    assert first["copied"] and first["name"] == FERRY.stem and not first["former"]
    own = chart_path(FERRY.stem)
    assert own.parent == own_folder() and load(own).tempo == 100
    second = saved(SaveAsked(str(own), told["text"].replace("132", "90"), first["stamp"]))
    assert not second["copied"] and load(own).tempo == 90
    assert "tempo = 100" in (own_folder() / second["former"]).read_text(encoding="utf-8")
    assert FERRY.read_text(encoding="utf-8") == told["text"]


def test_a_text_that_cant_be_played_isnt_kept() -> None:
    told = text_of(TextAsked(str(FERRY)))
    with pytest.raises(InputError, match="can't be played yet"):
        saved(SaveAsked(str(FERRY), told["text"].replace("Bbmaj9", "Hmaj9"), told["stamp"]))
    assert not own_folder().exists()


def test_what_somebody_else_changed_meanwhile_is_not_written_over() -> None:
    told = text_of(TextAsked(str(FERRY)))
    kept = saved(SaveAsked(str(FERRY), told["text"], told["stamp"]))
    own = chart_path(FERRY.stem)
    theirs = told["text"].replace("132", "111")
    own.write_text(theirs, encoding="utf-8")
    with pytest.raises(InputError, match="changed meanwhile"):
        saved(SaveAsked(str(own), told["text"].replace("132", "90"), kept["stamp"]))
    assert own.read_text(encoding="utf-8") == theirs


def test_a_chart_of_a_newer_format_is_never_written_over() -> None:
    told = text_of(TextAsked(str(FERRY)))
    own_folder().mkdir(parents=True)
    newer = own_folder() / "later.toml"
    newer.write_text("format = 99\n", encoding="utf-8")
    stamp = text_of(TextAsked(str(newer)))["stamp"]
    with pytest.raises(InputError, match="newer"):
        saved(SaveAsked(str(newer), told["text"], stamp))
    assert newer.read_text(encoding="utf-8") == "format = 99\n"
