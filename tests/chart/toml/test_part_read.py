"""One part of a written arrangement read: cells, marks, chords, ties, overlays, and every fault with its bar."""

# ruff: noqa: E501 (messages stand whole in the tables)

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.toml.part_read import ReadPart, read_part
from companion.errors import ChartError

EIGHTH = Fraction(1, 2)


def read(
    text: str, bars: int = 2, hold: str = "1", *, compound: bool = False, faults: list[ChartError] | None = None
) -> ReadPart:
    size = Fraction(3 if compound else 4)
    more = {} if faults is None else {"report": faults.append}
    return read_part(
        text, "chords", [size] * bars, unit=EIGHTH, fifths=0, compound=compound, hold=Fraction(hold), **more
    )


def told(part: ReadPart) -> str:
    return " ".join(f"{n.pitch}@{float(n.beat):g}+{float(n.length):g}" for n in part.notes)


@pytest.mark.parametrize(
    ("text", "notes", "bars"),
    [
        ("| c8 | d8 |", "C5@0+4 D5@4+4", {1, 2}), ("| X | d8 |", "D5@4+4", {2}), ("| Z | d8 |", "D5@4+4", {1, 2}),
        ("| X2 |", "", set()), ("| Z2 |", "", {1, 2}), ("| z8 | x8 |", "", {1}), ("| x4 z4 | x4 z4 & c8 |", "C5@4+4", {1, 2}),
        ("| x8 & c8 | X |", "C5@0+4", {1}), ("| c8- | c4 x4 |", "C5@0+6", {1}), ("| c8- | c8 y |", "C5@0+8", {1}),
        ("g2 | c8 | d8 |", "G5@-1+1 C5@0+4 D5@4+4", {1, 2}),
        ("| c8 | d8- | d2", "C5@0+4 D5@4+5", {1, 2}), ("| c8 | d8", "C5@0+4 D5@4+4", {1, 2}), ("| c8 % here | no\n| d8 |",
         "C5@0+4 D5@4+4", {1, 2}), ("| [ce]4z4 | [c2e2]4 |", "C5@0+2 E5@0+2 C5@4+4 E5@4+4", {1, 2}),
    ],
)  # fmt: skip
def test_what_stands_in_the_bars_of_a_place(text: str, notes: str, bars: set[int]) -> None:
    part = read(text)
    assert (told(part), part.bars) == (notes, bars)


@pytest.mark.parametrize(
    ("bar", "notes"),
    [
        ("c>d e6", "C5@0+0.75 D5@0.75+0.25 E5@1+3"), ("c<d e6", "C5@0+0.25 D5@0.25+0.75 E5@1+3"),
        ("c2 d>e e4", "C5@0+1 D5@1+0.75 E5@1.75+0.25 E5@2+2"), ("c>>d e6", "C5@0+0.875 D5@0.875+0.125 E5@1+3"), ("c<<<d e6", "C5@0+0.0625 D5@0.0625+0.9375 E5@1+3"),
        ("(3c2d2e2 z4", "C5@0+0.666667 D5@0.666667+0.666667 E5@1.33333+0.666667"), ("(2cd z5", "C5@0+0.75 D5@0.75+0.75"),
        ("(5:4cdefg z4", "C5@0+0.4 D5@0.4+0.4 E5@0.8+0.4 F5@1.2+0.4 G5@1.6+0.4"),
        ("c z d z e4", "C5@0+0.5 D5@1+0.5 E5@2+2"), ("c,4 C'4", "C4@0+2 C5@2+2"), ("^c4 c4", "C#5@0+2 C#5@2+2"),
        ("[^ce]4 [=ce]4", "C#5@0+2 E5@0+2 C5@2+2 E5@2+2"), ("(c4 d4)", "C5@0+2 D5@2+2"),
        ("[c2e]2 z4", "C5@0+2 E5@0+2"),
    ],
)  # fmt: skip
def test_notes_of_a_bar(bar: str, notes: str) -> None:
    assert told(read(f"| {bar} |", 1)) == notes


def test_in_compound_time_five_notes_go_in_the_time_of_three() -> None:
    assert [note.length for note in read("| (5cdefg z3 |", 1, compound=True).notes] == [Fraction(3, 10)] * 5
    assert [note.length for note in read("| (5cdefg z6 |", 1).notes] == [Fraction(1, 5)] * 5


def test_marks_stand_before_one_note_or_before_a_chord_or_in_it() -> None:
    marked = read('| !left!c2 .d2 "_0.5"[!ped!e!voice3!g]2 !tenuto!a2 |', 1, "0.9").notes
    assert [(str(n.pitch), n.hand, float(n.length), n.weight, n.pedal, n.voice) for n in marked] == [
        ("C5", "left", 0.9, 1.0, False, 1), ("D5", "right", 0.8, 1.0, False, 1), ("E5", "right", 0.9, 0.5, True, 1),
        ("G5", "right", 0.9, 0.5, False, 3), ("A5", "right", 1.0, 1.0, False, 1),
    ]  # fmt: skip


def test_a_tied_note_sounds_as_its_first_head_is_marked_and_keeps_its_accidental() -> None:
    assert [(str(n.pitch), n.length) for n in read("| ^C8- | C8 |").notes] == [("C#4", 8)]
    notes = read("| z4 !left!^c4- | c4 z4 |", hold="0.5").notes
    assert [(str(n.pitch), n.beat, n.length, n.hand) for n in notes] == [("C#5", 2, 2, "left")]
    for text in (
        "| [c^c]8- | [=c^c]8 |",
        "| [c^c]8- | [c^c]8 |",
        "| [^c=c]8- | [c^c]8 |",
    ):  # without a sign it is the one that the key has
        assert [(str(n.pitch), n.length) for n in read(text).notes] == [("C5", 8), ("C#5", 8)]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("| c8 |", "has 1 bar, the section has 2; write X for each bar that is to stay free"),
        ("| c8 | d8 | e8 |", "has 3 bars, the section has 2"), ("|: c8 | d8 :|", "'|:' in the arrangement; write the bars out"),
        ("| c8 | d7 |", "bar 2: lasts 3.5 quarters in a bar of 4; count its notes"), ("| c8 | h8 |", "bar 2: 'h8' is not ABC note"),
        ("| c8 | d8> |", "bar 2: a broken rhythm without a note after it"), ("| c8 | >d8 |", "bar 2: a broken rhythm without a note before"),
        ("| c8 | d8 !ped! |", "bar 2: a mark without a note after it"), ("| c8 | !ped!z8 |", "bar 2: a mark without a note after it"),
        ("| c8 | -d8 |", "bar 2: a tie without a note before it"), ("| c8 | z4-d4 |", "bar 2: a tie without a note before it"),
        ("| c8- | d8 |", "bar 1: C5 is tied to nothing; take its - away"), ("| c8 | [!ped!]8 |", "bar 2: a chord without a note"),
        ("| c8 | [c(d]8 |", "bar 2: '(d' is not a note of a chord"), ("| c8 | d8 | e2", "after the last bar: something stands there"),
        ("!trill!c2 | c8 | d8 |", "pickup: '!trill!' has no meaning here"),
    ],
)  # fmt: skip
def test_a_fault_is_said_with_its_bar(text: str, line: str) -> None:
    with pytest.raises(ChartError) as error:
        read(text)
    assert str(error.value).startswith(line)


def test_a_faulty_bar_is_silent_and_the_others_are_read() -> None:
    faults: list[ChartError] = []
    part = read("| c7 | d8 |", faults=faults)
    assert (told(part), part.bars, [fault.where for fault in faults]) == ("D5@4+4", {1, 2}, ["bar 1"])
