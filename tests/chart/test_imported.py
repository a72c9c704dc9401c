"""What an import keeps of a file beyond the chart: comments where they belong, and a report a person can read."""

# ruff: noqa: E501 (rows stand whole in the tables)

from __future__ import annotations

import shutil
import tomllib
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from companion.chart.imported import Imported, report, write_imported
from companion.chart.model import Chart, ChordSpan, MelodyNote, Section
from companion.chart.remarks import Remark
from companion.chart.toml.read import parse_toml
from companion.chart.toml.update import update_toml
from companion.errors import ChartError
from companion.load import import_file
from companion.music.chords import parse_chord
from companion.music.pitch import Pitch

NOTES = tuple(MelodyNote(Fraction(4 * k), Fraction(4), Pitch("C", 0, 5)) for k in range(4))
CHART = Chart("Trial", (Section("A", (Fraction(4),) * 4, (), NOTES), Section("B", (Fraction(4),) * 4)), ("A", "A", "B"))


def comments(imported: Imported) -> list[str]:
    return [line for line in write_imported(imported).splitlines() if line.startswith("#")]


def test_a_remark_stands_as_a_comment_at_the_head_of_its_section() -> None:
    remarks = (Remark("dynamics", "mf", "9", "B", 1), Remark("rights", "free"))
    lines = write_imported(Imported(CHART, remarks)).splitlines()
    assert lines[:2] == ["format = 1", "# rights: free"]
    assert lines[lines.index("[section.B]") + 1] == "# bar 1: dynamics: mf"


def test_the_comments_change_nothing_and_outlive_a_change_of_the_chart() -> None:
    imported = Imported(
        CHART, (Remark("words", 'slow down"""\n[section.A]', "9", "B", 2), Remark("a slur", "", "1", "A", 1))
    )
    text = write_imported(imported)
    assert parse_toml(text) == CHART
    changed = update_toml(text, replace(CHART, tempo=90.0))
    assert '# bar 2: words: slow down""" [section.A]' in changed and "# bar 1: a slur" in changed


def test_what_stands_in_several_bars_is_said_once() -> None:
    remarks = tuple(Remark("a slur", "", str(k), "A", k) for k in (1, 2, 4))
    assert comments(Imported(CHART, remarks)) == ["# bars 1-2, 4: a slur"]
    assert report(Imported(CHART, remarks)) == ["bars 1-2, 4: a slur"]


def test_the_report_names_the_bar_of_the_sheet_and_the_place_in_the_chart() -> None:
    remarks = (Remark("words", "rit.", "14", "B", 2), Remark("grace notes", "{g}", "0", "A", 0), Remark("a field", "x"))
    assert report(Imported(CHART, remarks)) == [
        "bar 14 (section B, bar 2): words: rit.", "bar 0 (section A, pickup): grace notes: {g}", "a field: x",
    ]  # fmt: skip


def test_a_long_list_of_one_kind_is_one_line_of_the_report_and_whole_in_the_file() -> None:
    remarks = tuple(Remark("voice 2", f"C{k}", str(k), "A" if k < 5 else "B", (k - 1) % 4 + 1) for k in range(1, 9))
    assert report(Imported(CHART, remarks)) == ["bars 1-8: voice 2 (8 places)"]
    assert len(comments(Imported(CHART, remarks))) == 8


def test_no_text_breaks_out_of_its_comment() -> None:
    text = write_imported(Imported(CHART, (Remark("words", "a\nb\r\x00\x1b[2J" + "x" * 5000, "1", "A", 1),)))
    assert tomllib.loads(text)["title"] == "Trial"
    assert max(map(len, text.splitlines())) < 1100


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("tune.pdf", ".pdf can't be imported; give one of .musicxml"),
        ("tune", "a file without a suffix can't be imported"),
        ("none.abc", "there is no such file"),
        ("folder.abc", "is a folder, not a file"),
    ],
)
def test_what_cant_be_imported_is_said_in_one_line(tmp_path: Path, name: str, line: str) -> None:
    (tmp_path / "folder.abc").mkdir()
    with pytest.raises(ChartError) as error:
        import_file(tmp_path / name)
    assert str(error.value).startswith(f"{tmp_path / name}: {line}")
    shutil.rmtree(tmp_path / "folder.abc")


def long(text: str) -> Imported:
    return Imported(CHART, (Remark("words", text, "1", "A", 1),))


def test_a_remark_is_cut_at_a_thousand_signs() -> None:
    fits, cut = "x" * (1000 - len("bar 1 (section A, bar 1): words: ")), "x" * 1000
    assert report(long(fits)) == [f"bar 1 (section A, bar 1): words: {fits}"]
    assert report(long(fits + "x"))[0].endswith("x ...") and len(report(long(fits + "x"))[0]) == 1000
    assert len(comments(long(cut))[0]) == 1002, "the sign of a comment, a blank, and a thousand"


@pytest.mark.parametrize(
    ("count", "lines"),
    [(6, 6), (7, 1)],
)
def test_of_one_kind_six_different_remarks_are_said_each(count: int, lines: int) -> None:
    remarks = tuple(Remark("words", f"w{k}", str(k), "A", k) for k in range(1, count + 1))
    assert len(report(Imported(CHART, remarks))) == lines


@pytest.mark.parametrize(
    ("bars", "place"),
    [
        (["1"], "bar 1 (section A, bar 1): "), (["1", "2", "3"], "bars 1-3: "), (["1", "3", "4"], "bars 1, 3-4: "),
        (["1", "1"], "bar 1 (section A, bar 1): "), (["1", "1a", "2"], "bars 1, 1a, 2: "), (["9", "8"], "bars 9, 8: "),
        ([""], ""), (["", "2"], "bar 2 (section A, bar 1): "),
    ],
)  # fmt: skip
def test_runs_of_bars_are_drawn_together(bars: list[str], place: str) -> None:
    remarks = tuple(Remark("a slur", "", bar, "A", 1) for bar in bars)
    assert report(Imported(CHART, remarks)) == [f"{place}a slur"]


def test_places_in_the_file_and_in_the_sheet() -> None:
    remarks = (
        Remark("a", "", "0", "A", 0), Remark("b", "", "7"), Remark("c", "", "8", "Gone", 2), Remark("d", "", "", "B"),
        Remark("e", "", "1", "A", 1), Remark("e", "", "0", "A", 0),
    )  # fmt: skip
    assumed = (Remark("the tempo is taken for granted"),)
    assert comments(Imported(CHART, remarks, assumed)) == [
        "# the tempo is taken for granted", "# bar 7 of the sheet: b", "# bar 2 of the sheet: c", "# pickup: a", "# bars 1, pickup: e",
        "# pickup: d",
    ]  # fmt: skip
    assert report(Imported(CHART, remarks, assumed)) == [
        "the tempo is taken for granted", "bar 0 (section A, pickup): a", "bar 7: b", "bar 8 (section Gone, bar 2): c", "d", "bars 1, 0: e",
    ]  # fmt: skip


def test_a_chart_that_would_not_read_back_is_never_given_out() -> None:
    gap = (
        ChordSpan(Fraction(0), Fraction(4), parse_chord("C")),
        ChordSpan(Fraction(8), Fraction(16), parse_chord("F")),
    )
    with pytest.raises(ChartError, match="section A: a gap between two chords can't be written down"):
        write_imported(Imported(replace(CHART, sections=(replace(CHART.sections[0], chords=gap), CHART.sections[1]))))
    with pytest.raises(ChartError, match=r"can't be written as a chart: .*; look there for notes of an odd length"):
        write_imported(Imported(replace(CHART, tempo=500.0)))
    lost = replace(CHART, sections=(CHART.sections[0], replace(CHART.sections[1], treatment="slow\x07")))
    with pytest.raises(ChartError, match="can't be written as a chart"):
        write_imported(Imported(replace(lost, title="two\nlines")))
