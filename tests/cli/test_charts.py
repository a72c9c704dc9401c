"""``chart check``, ``show``, ``explain`` and ``audit`` as a shell sees them."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]


def test_a_sound_chart_is_called_so(run: Run, sheet: Path) -> None:
    assert run("chart", "check", "two-spoons-short", sheet) == (
        0,
        f"two-spoons-short: nothing wrong\n{sheet}: nothing wrong\n",
        "",
    )


FAULTY = """format = 1
title = "Wrong on Purpose"
key = "C major"
metre = "4/4"
form = "A"
feel = "wobbly"

[section.A]
treatment = "swaggering"
chords = '''
| Cmaj7 | Hm7 | Dm7 G7 |
'''
melody = '''
| c4 e4 | d8 | G4 |
'''
"""


def test_all_faults_of_a_chart_are_listed_with_section_and_bar(run: Run, tmp_path: Path, one_line: OneLine) -> None:
    path = tmp_path / "faulty.toml"
    path.write_text(FAULTY, encoding="utf-8")
    status, out, err = run("chart", "check", path)
    lines = out.splitlines()
    assert status == 1 and all(line.startswith(f"{path}: ") for line in lines)
    assert one_line(err) == f"companion: {len(lines)} faults found\n"
    for place, word in (
        ("section A, bar 2", "Hm7"),
        ("section A, bar 3", ""),
        ("section A", "swaggering"),
        ("", "wobbly"),
    ):
        assert any(place in line and word in line for line in lines), (place, word)


def test_checking_goes_on_after_a_file_that_is_no_chart(run: Run, tmp_path: Path, one_line: OneLine) -> None:
    status, out, err = run("chart", "check", tmp_path / "none.toml", "two-spoons-short")
    assert status == 2 and "none.toml" in one_line(err) and "two-spoons-short: nothing wrong" in out


def test_a_chart_is_shown_with_its_bars_and_scales(run: Run, sheet: Path) -> None:
    status, out, err = run("chart", "show", sheet, "--width", 60)
    assert (status, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 100
    for words in ("Dm7", "D4 E4 F4 A4", "D dorian"):
        assert words in out
    assert "dorian" not in run("chart", "show", sheet, "--no-scales")[1]


def test_an_arrangement_is_explained_for_the_bars_asked_for(run: Run) -> None:
    status, out, err = run("chart", "explain", "two-spoons-short", "--bars", "3-4", "--treatment", "walking")
    assert (status, err) == (0, "")
    assert re.findall(r"^\d+", out, re.M) == ["3", "4"]
    assert "the root says" in out and "rootless from the" in out


@pytest.mark.parametrize(
    ("bars", "said"),
    [("30", "there is no bar 30; the form has 12 bars"), ("4-3", "names no bars"), ("x", "names no bars")],
)
def test_bars_that_are_not_there_are_said(run: Run, bars: str, said: str, one_line: OneLine) -> None:
    status, _, err = run("chart", "explain", "two-spoons-short", "--bars", bars)
    assert status == 2 and said in one_line(err)


def test_an_audit_prints_its_figures_and_writes_them(run: Run, tmp_path: Path, sheet: Path, one_line: OneLine) -> None:
    path = tmp_path / "figures.json"
    typed = ["--treatment", "walking", "--seeds", 1, "--json", path]
    status, out, err = run("chart", "audit", "two-spoons-short", sheet, *typed)
    written = json.loads(path.read_text(encoding="utf-8"))
    missed = [figure for chart in written["charts"] for figure in chart["figures"] if not figure["reached"]]
    assert [chart["chart"] for chart in written["charts"]] == ["two-spoons-short", str(sheet)]
    assert status == (1 if missed else 0) and (not missed or one_line(err))
    assert all(figure["name"] in out for chart in written["charts"] for figure in chart["figures"])
    assert sum(line.startswith("  ! ") for line in out.splitlines()) == len(missed)


def test_a_chart_that_cannot_be_printed_is_found_by_the_check_and_said_in_one_line(
    run: Run, tmp_path: Path, one_line: OneLine
) -> None:
    path = tmp_path / "kettle.toml"
    bars = 'bar_metres = { 2 = "11/12" }\nchords = "| C | Dm7 | G7 |"\n'
    path.write_text(f"format = 1\n[section.A]\n{bars}", encoding="utf-8")
    said = f"{path}: section A, bar 2: lasts 11/3 quarters, which no time signature says; give it a metre such as 2/4"
    assert run("chart", "check", path)[:2] == (1, f"{said}\n")
    for lead in ([], ["--lead"]):
        status, out, err = run("print", path, *lead, "--out", tmp_path / "kettle.musicxml")
        assert (status, out) == (2, "") and one_line(err) == f"companion: {said}\n"


def test_the_list_names_every_chart_with_what_one_chooses_by(run, tmp_path):
    from companion.resources import chart_names

    folder = tmp_path / "data" / "charts"
    folder.mkdir(parents=True)
    (folder / "broken.toml").write_text("format = 1", encoding="utf-8")
    status, out, err = run("chart", "list")
    assert (status, err) == (0, "")
    rows = out.splitlines()[1:-1]
    assert [row.split()[0] for row in rows] == chart_names()
    (blues,) = [row for row in rows if row.startswith("two-spoons-short")]
    assert all(word in blues for word in ("Two Spoons Short", "12", "4/4", "swing")) and "your own" not in blues
    (broken,) = [row for row in rows if row.startswith("broken")]
    assert "can't be read" in broken and broken.endswith("your own")


LONG_FORMS = [("First Bridge AAA", "First Bridge AAA"), ("First Bridge AAAA", "First Bridge AA…")]


@pytest.mark.parametrize(
    ("form", "shown"),
    [
        ("A B C D E F G H", "A B C D E F G H"),
        ("First Bridge AAA", "First Bridge AAA"),
        ("First Bridge AAAA", "First Bridge AA…"),
    ],
)
def test_a_long_form_is_shortened_in_the_list(run: Run, tmp_path: Path, form: str, shown: str) -> None:
    sections = "".join(f'[section.{name}]\nchords = "| C | F |"\n' for name in form.split())
    folder = tmp_path / "data" / "charts"
    folder.mkdir(parents=True)
    text = f'format = 1\ntitle = "Long"\ntempo = 99.5\nkey = "Eb"\nform = "{form}"\n{sections}'
    (folder / "long.toml").write_text(text, encoding="utf-8")
    *rows, end = run("chart", "list")[1].splitlines()
    (row,) = (line for line in rows if line.startswith("long "))
    cells = [cell for cell in re.split(r"  +", row) if cell]
    bars = str(2 * len(form.split()))
    assert cells == ["long", "Long", shown, bars, "Eb major", "4/4", "99.5", "swing", "your own"]
    assert end == f"your own lie in {folder}"


def test_one_fault_is_a_fault_and_a_chart_that_cant_be_read_is_told_as_well(
    run: Run, tmp_path: Path, one_line: OneLine
) -> None:
    path = tmp_path / "one.toml"
    path.write_text('format = 1\n[section.A]\nchords = "| Hm7 |"\n', encoding="utf-8")
    status, _, err = run("chart", "check", path)
    assert (status, one_line(err)) == (1, "companion: a fault found\n")
    assert run("chart", "check", path, tmp_path / "none.toml")[0] == 2, "what can't be read weighs more"


def test_a_chart_is_shown_as_wide_as_the_terminal_and_without_scales_where_they_arent_wanted(
    run: Run, sheet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "61")
    shown = run("chart", "show", sheet)[1]
    assert shown == run("chart", "show", sheet, "--width", 61)[1] != run("chart", "show", sheet, "--width", 90)[1]
    monkeypatch.delenv("COLUMNS")
    asked: list[tuple[int, int]] = []

    def nobody_says(usual: tuple[int, int] = (80, 24)) -> os.terminal_size:
        asked.append(usual)
        return os.terminal_size(usual)

    monkeypatch.setattr("companion.cli.charts.shutil.get_terminal_size", nobody_says)
    bare = run("chart", "show", sheet, "--no-scales")[1]
    assert "dorian" in shown and "dorian" not in bare
    assert bare == run("chart", "show", sheet, "--no-scales", "--width", 100)[1] and (100, 24) in asked


@pytest.mark.parametrize(("words", "bars"), [("", 12), ("--bars 12", 1), ("--bars 3-4", 2), ("--bars 11-14", 2)])
def test_the_bars_that_were_named_are_explained(run: Run, words: str, bars: int) -> None:
    status, out, err = run("chart", "explain", "two-spoons-short", *words.split())
    assert (status, err) == (0, "") and out.startswith("over the whole form: ")
    assert len(re.findall(r"^    scales  ", out, re.MULTILINE)) == bars


def test_what_is_explained_begins_with_the_first_full_bar(run: Run) -> None:
    """The tune has a pickup."""
    told = run("chart", "explain", "ferry-without-lights")[1]
    assert told == run("chart", "explain", "ferry-without-lights", "--bars", "1-32")[1]
