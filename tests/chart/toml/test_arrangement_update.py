"""New bars in a written part's text: the others stay to the letter, bar lines stand under bar lines."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from companion.chart.model import WrittenNote, WrittenPart
from companion.chart.toml.arrangement_update import with_bars
from companion.chart.toml.part_write import PartText
from companion.chart.toml.read import parse_toml
from companion.chart.toml.update import update_toml
from companion.music.pitch import Pitch

OLD = PartText("", ("c8", "d8", "e8", "f8"), "")


def changed(text: str, bars: dict[int, str] | None = None, pickup: str = "", after: str = "") -> str | None:
    """A text of C, D, E and F with other bars (from 1), pickup, or rest of a tie."""
    new = tuple((bars or {}).get(k, bar) for k, bar in enumerate(OLD.bars, 1))
    return with_bars(text, OLD, PartText(pickup, new, after))


@pytest.mark.parametrize(
    ("text", "bars", "wanted"),
    [
        ("| c8 | d8 |\n| e8 | f8 |", {}, "| c8 | d8 |\n| e8 | f8 |"),
        ("| c8 | d8 |\n| e8 | f8 |", {3: "g8"}, "| c8 | d8 |\n| g8 | f8 |"),
        ("| c8 | d8 |\n| e8 | f8 |", {3: "g4a4"}, "| c8   | d8 |\n| g4a4 | f8 |"),
        ("|c8|d8|\n|e8|f8|", {2: "g8"}, "|c8| g8 |\n|e8|f8  |"),
        ("| c8 | d8 |\n|  e8  | f8 |", {3: "g8"}, "| c8 | d8 |\n| g8   | f8 |"),  # it wasn't aligned before
        ("| c8 | d8 |\n|  e8  | f8 |", {4: "g4a4"}, "| c8 | d8 |\n|  e8  | g4a4 |"),
        ("  | c8 | d8 | e8 |\n  | f8 |", {4: "g4a4"}, "  | c8   | d8 | e8 |\n  | g4a4 |"),
        ("| c8 || d8 |] % slow\n% then\n| e8 | f8 | % end", {2: "g8", 4: "z8"},
         "| c8 || g8 |] % slow\n% then\n| e8 | z8 | % end"),
        ("| c8 | d8 | e8 | f8 |", {1: "X", 4: "b4 a4"}, "| X  | d8 | e8 | b4 a4 |"),
        ("", {}, ""),
    ],
)  # fmt: skip
def test_only_what_differs_is_written(text: str, bars: dict[int, str], wanted: str) -> None:
    assert changed(text, bars) == wanted


@pytest.mark.parametrize(
    "text",
    [
        "| c8 | d8 | e8 |\n f8 |",  # a bar at the beginning of a line without its bar line
        "| c8 | d8\n | e8 | f8 |", "| c8 | d8 | e8 |", "| c8 | d8 | e8 | f8 | g8 |", "c8\n| c8 | d8 | e8 | f8 |",
        "| c8 | d8 | e8 | f8 |\nc8", "",
    ],
)  # fmt: skip
def test_a_text_laid_out_otherwise_is_written_anew(text: str) -> None:
    assert changed(text, {1: "g8"}) is None


def test_a_pickup_and_the_end_of_a_tie_come_and_go() -> None:
    text = "| c8 | d8 | e8 | f8 |  % end"
    assert changed(text, pickup="G2") == "G2 | c8 | d8 | e8 | f8 |  % end"
    assert changed(text, after="f2") == "| c8 | d8 | e8 | f8 | f2  % end"
    assert changed("| c8 | d8 | e8 | f8 |", after="f2") == "| c8 | d8 | e8 | f8 | f2"
    with_both = PartText("G2", OLD.bars, "f2")
    assert with_bars("G2 | c8 | d8 | e8 | f8 | f2 % end", with_both, OLD) == "| c8 | d8 | e8 | f8 |  % end"
    two = "G2 | c8 | d8 |\n   | e8 | f8 |"
    assert with_bars(two, replace(with_both, after=""), PartText("FG2", OLD.bars, "")) == (
        "FG2 | c8 | d8 |\n    | e8 | f8 |"
    )


def test_rests_of_several_bars_are_opened_one_by_one() -> None:
    old, new = PartText("", ("X", "X", "X", "f8"), ""), PartText("", ("X", "g8", "X", "f8"), "")
    assert with_bars("| X3 | f8 |", old, new) == "| X | g8 | X | f8 |"
    old, new = (replace(text, bars=tuple("Z" if bar == "X" else bar for bar in text.bars)) for text in (old, new))
    assert with_bars("| Z3 | f8 |", old, new) == "| Z | g8 | Z | f8 |"


CHART = """format = 1
form = "A A"
[section.A]
chords = "| C | F |"

[[arrangement]]  # bars 1-2
section = "A"
hold = { bass = 0.9 }
bass = '''
| C,,8 | F,,8 |  % roots
'''
"""


def bass(*notes: tuple[int, str, str], bars: set[int]) -> tuple[WrittenPart, ...]:
    made = tuple(WrittenNote(Fraction(b), Fraction(size), Pitch(step, 0, 2), "left") for b, size, step in notes)
    return (WrittenPart("bass", frozenset(bars), made),)


@pytest.mark.parametrize(
    ("notes", "bars", "lines"),
    [
        ([(0, "3.6", "C"), (4, "3.6", "G")], {1, 2}, ["hold = { bass = 0.9 }", "| C,,8 | G,,8 |  % roots"]),
        ([(0, "3.6", "C")], {1}, ["hold = { bass = 0.9 }", "| C,,8 | X    |  % roots"]),
        ([(0, "3.6", "C"), (4, "4", "F")], {1, 2}, ["hold = { bass = 0.9 }", "| C,,8 | !tenuto!F,,8 |  % roots"]),
        ([(0, "3.6", "C"), (4, "3.6", "F"), (8, "4", "C")], {1, 2, 3},
         ["hold = { bass = 0.9 }", "| C,,8 | F,,8 |  % roots", "[[arrangement]]  # bars 3-4", "| C,,8 | X |"]),
        ([(8, "4", "C")], {3}, ["[[arrangement]]  # bars 3-4", "| C,,8 | X |"]),
        ([], set(), []),
    ],
)  # fmt: skip
def test_a_charts_tables_follow_what_is_written(
    notes: list[tuple[int, str, str]], bars: set[int], lines: list[str]
) -> None:
    before = parse_toml(CHART)
    after = replace(before, written=bass(*notes, bars=bars) if bars else ())
    text = update_toml(CHART, after)
    assert parse_toml(text).written == after.written
    told = [line for line in text.splitlines() if "hold" in line or "|" in line or "bars 3-4" in line][1:]
    assert told == lines


def test_shares_that_stay_are_not_touched() -> None:
    kept = CHART.replace("hold = { bass = 0.9 }", "hold = {bass = 0.90}  # short")
    after = replace(parse_toml(kept), written=bass((0, "3.6", "C"), (4, "3.6", "G"), bars={1, 2}))
    assert update_toml(kept, after) == kept.replace("F,,8", "G,,8").replace("'''", '"""')


def test_in_another_key_a_part_is_spelled_anew_and_its_comments_stay() -> None:
    before = parse_toml(CHART)
    text = update_toml(CHART, replace(before, fifths=-3))
    assert '"""\n% roots\n| C,,8 | F,,8 |\n"""' in text.replace("'''", '"""')
    assert parse_toml(text).written == before.written
