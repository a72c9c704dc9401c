"""A chart on a terminal."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from companion.chart.beat_grid import LEGEND
from companion.chart.model import WrittenNote, WrittenPart
from companion.chart.show import show
from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.music.pitch import Pitch

CHARTS = sorted((Path(__file__).parents[2] / "charts").glob("*.toml"))
TUNE = """format = 1
title = "A trial"
key = "G minor"
form = "A B A"
order = [{ play = "introduction", bars = 4, how = "vamp" }, { play = "solos", choruses = 2 }]
[section.A]
treatment = "walking"
chords = "| Gm6 | D7alt | Gm6 | % |"
melody = "D2 | G8- | G2 z2 e2 c2 | B8 | z8 |"
[section.B]
chords = "| Cm7 F7 | Bbmaj7 |"
"""


def test_a_chart_is_shown_with_form_order_bars_symbols_notes_and_scales() -> None:
    assert show(parse_toml(TUNE)).splitlines() == [
        "A trial",
        "G minor, 4/4, 120 quarters a minute, swing",
        "form: A B A, 10 bars, with a pickup",
        "order: introduction (4 bars, vamp), 2 choruses of solos",
        "",
        LEGEND,
        "",
        "A, walking (bars 1-4, 7-10)",
        " 4  | 1   2 3   4  | 1   2 3   4  | 1   2 3   4  | 1   2 3   4  |",
        "  1 | Gm6          | D7alt        | Gm6          | %            |",
        " D4 | G4-----------| ---   Eb5 C5 | Bb4--------- |              |",
        "",
        "B (bars 5-6)",
        "  5 | Cm7 F7 | Bbmaj7 |",
        "",
        *show(parse_toml(TUNE)).splitlines()[15:],
    ]
    assert "  D7alt   D altered" in show(parse_toml(TUNE))
    assert "chord by chord" not in show(parse_toml(TUNE), scales=False)


@pytest.mark.parametrize("path", CHARTS, ids=lambda path: path.stem)
@pytest.mark.parametrize("width", [40, 80, 200])
def test_bar_lines_stand_under_bar_lines_and_lines_fit_where_they_can(path: Path, width: int) -> None:
    blocks = show(load(path), width=width, scales=False).split("\n\n")[1:]
    assert sum("(bars " in block or "(bar " in block for block in blocks) == len(load(path).sections)
    for block in blocks:
        rows = [row for row in block.splitlines()[1:] if "|" in row]
        places = [[i for i, sign in enumerate(row) if sign == "|"] for row in rows]
        assert all(row == places[0][: len(row)] for row in places)
        assert width < 80 or all(len(row) <= width for row in rows)


def test_there_are_twenty_tunes() -> None:
    assert len({load(path).title for path in CHARTS}) >= 20


def test_a_title_can_not_move_the_cursor() -> None:
    assert "\x1b" not in show(parse_toml(TUNE.replace("A trial", "A \\u001b[2J trial")))


@pytest.mark.parametrize(
    ("bars", "words"),
    [
        ({1}, "bar 1"), ({1, 2}, "bars 1-2"), ({1, 3}, "bars 1 and 3"), ({1, 2, 4, 6, 7}, "bars 1-2, 4 and 6-7"),
        ({1, 2, 3}, "bars 1-3"),
    ],
)  # fmt: skip
def test_written_bars_are_told_in_runs(bars: set[int], words: str) -> None:
    chart = parse_toml('format = 1\n[section.A]\nchords = "| C | % | % | % | % | % | % |"')
    note = WrittenNote(Fraction(4 * min(bars) - 4), Fraction(1), Pitch("C", 0, 2))
    chart = replace(chart, written=(WrittenPart("bass", frozenset(bars), (note,)),))
    assert f"written: bass in {words}" in show(chart).splitlines()


def lines_of(chords: str, width: int) -> list[str]:
    text = show(parse_toml(f'format = 1\n[section.A]\nchords = "{chords}"'), width=width, scales=False)
    return [line for line in text.splitlines() if "|" in line]


@pytest.mark.parametrize(("width", "a_line"), [(29, 4), (28, 2), (17, 2), (16, 1), (1, 1)])
def test_chords_alone_stand_four_two_or_one_a_line(width: int, a_line: int) -> None:
    """Here of three letters each, with bar lines and a blank on either side, beside a margin of three and its line."""
    rows = lines_of("| Cm7 | Fm7 | Gm7 | Am7 |", width)
    assert [row.count("|") - 1 for row in rows] == [a_line] * (4 // a_line)
    assert all(row.startswith(f"{number:>3} |") for row, number in zip(rows, range(1, 5, a_line), strict=True))


@pytest.mark.parametrize(("width", "a_line"), [(26, [3]), (25, [2, 1])])
def test_three_bars_stand_on_a_line_that_has_room_for_them(width: int, a_line: list[int]) -> None:
    assert [row.count("|") - 1 for row in lines_of("| Cm7 | Fm7 | Gm7 |", width)] == a_line


@pytest.mark.parametrize(("last", "a_line"), [("Bbm7", [4]), ("Gmaj7", [2, 2])])
def test_a_line_has_a_hundred_columns_unless_it_is_said(last: str, a_line: list[int]) -> None:
    """A margin of five, and four bars of twenty-one letters, or once of twenty, each with its line and two blanks."""
    bars = ["Cmaj7 Fmaj7 Gmaj7 Am7", "Fmaj7 Gmaj7 Am7 Cmaj7", "Gmaj7 Am7 Cmaj7 Fmaj7", f"Am7 Cmaj7 Fmaj7 {last}"]
    chart = parse_toml(f'format = 1\n[section.A]\nchords = "| {" | ".join(bars)} |"')
    rows = [line for line in show(chart, scales=False).splitlines() if "|" in line]
    assert [row.count("|") - 1 for row in rows] == a_line


def test_one_bar_one_chorus_and_no_pickup_are_said_in_the_singular() -> None:
    text = show(parse_toml('format = 1\norder = [{ play = "head" }]\n[section.A]\nchords = "| N.C. |"'))
    assert text.splitlines()[2:] == ["form: A, 1 bar", "order: head", "", "A (bars 1-1)", "  1 | N.C. |"]


def test_scales_are_told_for_the_whole_form_and_for_each_chord_once() -> None:
    """Common practice: over a tune in minor its relative major, the minor blues, and one that the V asks for."""
    text = show(parse_toml('format = 1\nkey = "G minor"\n[section.A]\nchords = "| Gm6 | D7alt | Gm6 | Am7b5 |"'))
    whole = ["Bb major (Bb C D Eb F G A)", "G minor blues (G Bb C Db D F)", "G melodic minor (G A Bb C D E F#)"]
    assert text.splitlines()[7:] == [
        f"over the whole form: {'; '.join(whole)}",
        "chord by chord:",
        "  Gm6    G melodic minor  G A Bb C D E F#",
        "  D7alt  D altered        D Eb F Gb Ab Bb C",
        "  Am7b5  A locrian        A Bb C D Eb F G",
    ]
