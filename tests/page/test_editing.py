"""A chart's text on the page: each fault at its line, and no text that is lost or written over."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.chart.own import own_folder
from companion.chart.toml.read import MOST_BYTES
from companion.errors import ChartError, InputError
from companion.load import load
from companion.page.editing import CheckAsked, SaveAsked, TextAsked, checked, line_of, saved, text_of
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


def test_of_a_lead_sheet_its_chart_is_edited_and_kept_among_the_players_own(tmp_path: Path) -> None:
    sheet = tmp_path / "kettle.abc"
    sheet.write_text('X:1\nT:Kettle\nM:4/4\nL:1/4\nK:C\n"C"cdef|"G7"g4|]\n', encoding="utf-8")
    told = text_of(TextAsked(str(sheet)))
    assert told["text"].startswith("format = 1\n") and told["own"] is False
    kept = saved(SaveAsked(str(sheet), told["text"], told["stamp"]))
    assert kept["copied"] and kept["former"] == "" and load(own_folder() / f"{kept['name']}.toml").title == "Kettle"
    assert text_of(TextAsked(str(own_folder() / f"{kept['name']}.toml")))["own"] is True


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


# Lines

LINES = '''format = 1
title = "Stairs"
tempo = 120
[section.A]
# the first
chords = """
| C6 | G7 |
| F7 | % |
"""
melody = """
| c8 | d8 |
| e8 |
| f8 |
"""
[section."B b"]
chords = "| Am7 | D7 |"
melody = "| g8 | Am7 |"
treatment = "sparse"
[section.C]
chords = """| Fm7 |
| Bb7 |"""

[[arrangement]]
'''


@pytest.mark.parametrize(
    ("where", "what", "line"),
    [
        ("line 3, column 1", "", 3),
        ("tempo", "", 3),
        ("tempo, in words", "", 3),
        ("title", "", 2),
        ("titl", "", None),
        ("itle", "", None),
        ("", "", None),
        ("section A", "", 4),
        ("section A, bar 1", "", 7),
        ("section A, bar 2", "the chords are odd", 7),
        ("section A, bar 2", "the melody is odd", 11),
        ("section A, bar 3", "", 8),
        ("section A, bar 3", "the melody is odd", 12),
        ("section A, bar 4", "the melody is odd, and more", 13),
        ("section A, bar 4, beat 2", "", 8),
        ("section A, bar 4", "'f8' is odd", 13),
        ("section A, bar 9", "", 4),
        ("section A", "'first' is odd", 5),
        ("section A", '"e8" is odd', 12),
        ("section A", "'Am7' is odd", 4),
        ("section B b, bar 1", "", 16),
        ("section B b, bar 1", "'g8' is odd", 17),
        ("section B b, bar 3", "", 15),
        ("section B b", "'sparse' is odd", 18),
        ("section C, bar 1", "", 20),
        ("section C, bar 2", "", 21),
        ("section C, bar 3", "", 19),
        ("section C", "'arrangement' is odd", 19),
        ("section D", "", None),
        ("section D, bar 1", "", None),
    ],
)
def test_a_fault_has_the_line_of_what_it_names(where: str, what: str, line: int | None) -> None:
    assert line_of(ChartError(what or "is odd", where=where or None), LINES) == line


def test_a_fault_is_told_with_what_mends_it() -> None:
    (fault,) = checked(CheckAsked(SHORT.replace("Hm7", "Bm7") + 'treatment = "spars"\n'))["faults"]
    assert fault["text"] == "there is no treatment 'spars'; did you mean 'sparse'?" and fault["line"] == 7


def test_a_text_may_be_as_long_as_a_chart_and_no_longer() -> None:
    text = SHORT.replace("Hm7", "Bm7")
    filled = text + "#" * (MOST_BYTES - len(text))
    assert checked(CheckAsked(filled)) == {"faults": [], "playable": True}
    told = checked(CheckAsked(filled + "#"))
    assert (told["faults"][0]["text"], told["playable"]) == ("is too large for a chart", False)


def test_what_cant_be_printed_is_told_though_it_can_be_played() -> None:
    text = SHORT.replace("Hm7", "Bm7").replace("[section.A]", '[section.A]\nbar_metres = { 2 = "11/12" }')
    told = checked(CheckAsked(text.replace('melody = "| c8 | d8 | e8 |"', "")))
    assert told["playable"] and "which no time signature says" in told["faults"][0]["text"]
