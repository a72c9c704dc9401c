"""Written parts as text: what sounds at once, overlays, ties, free bars, and the lines (ABC 2.1, 4.17 and 7.4)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.model import WrittenNote
from companion.chart.toml.part_read import read_part
from companion.chart.toml.part_write import PartText, laid_out, write_part
from companion.music.meter import Metre
from companion.music.pitch import Pitch

EIGHTH = Fraction(1, 2)


def note(beat: object, length: object, name: str, hand: str = "right", voice: int = 1) -> WrittenNote:
    pitch = Pitch(name[0], name.count("#") - name.count("b"), int(name[-1]))
    return WrittenNote(Fraction(str(beat)), Fraction(str(length)), pitch, hand, voice)  # type: ignore[arg-type]


def text(*notes: WrittenNote, written: tuple[int, ...] = (1, 2), metre: str = "4/4", fifths: int = 0) -> str:
    beats, _, kind = metre.partition("/")
    rule = Metre(int(beats), int(kind))
    told = write_part(
        notes, "chords", [rule.bar] * 2, written, metre=rule, unit=EIGHTH, fifths=fifths, hold=Fraction(1)
    )
    return f"{told.pickup}|{'|'.join(told.bars)}|{told.after}"


@pytest.mark.parametrize(
    ("notes", "wanted"),
    [
        ([], "|z8|z8|"),
        ([note(0, 4, "C4"), note(0, 4, "E4", voice=2)], "|[CE]8|z8|"),
        ([note(0, 2, "C4"), note(1, 1, "E4", voice=2)], "|C4 z4 & x2 E2 x4|z8|"),
        ([note(0, 4, "C3", "left"), note(0, 4, "C4", voice=2)], "|C8 & !left!C,8|z8|"),
        ([note(0, 2, "C3", "left"), note(2, 2, "D3", "left"), note(2, 2, "C4", voice=2)], None),
        ([note(0, 4, "C3", "left"), note(0, 4, "E3", "left", 2)], "|!left![C,E,]8|z8|"),
        ([note(0, 4, "C3", "left"), note(0, 4, "E3", "left", 3)], "|!left![C,!voice3!E,]8|z8|"),
        ([note(3, 2, "C4"), note(4, 1, "C#4", "left")], "|z6 C2-|=C2 z6 & !left!!voice1!^C2 x6|"),
        ([note(3, 2, "C4")], "|z6 C2-|C2 z6|"), ([note(7, 2, "C4")], "|z8|z6 C2-|C2"),
        ([note(-1, 1, "C4")], "C2|z8|z8|"),
        ([note(-1, 2, "C4")], "C2-|C2 z6|z8|"), ([note(0, 1, "C4"), note(1, 1, "D4")], "|C2 D2 z4|z8|"),
        ([note(0, 1, "C#4"), note(1, 1, "C4")], "|^C2 =C2 z4|z8|"),
    ],
)  # fmt: skip
def test_what_is_written_for_what_is_struck(notes: list[WrittenNote], wanted: str | None) -> None:
    found = text(*notes)
    if wanted is not None:
        assert found == wanted
    pickup, *bars, after = found.split("|")
    again = read_part(
        f"{pickup}|{'|'.join(bars)}|{after}", "chords", [Fraction(4)] * 2, unit=EIGHTH, fifths=0, compound=False,
        hold=Fraction(1),
    )  # fmt: skip
    assert again.notes == tuple(notes)


def test_a_bar_that_is_not_written_is_free_but_for_the_end_of_a_tie() -> None:
    assert text(written=()) == "|X|X|"
    assert text(note(0, 4, "C4"), written=(1,)) == "|C8|X|"
    assert text(note(0, 5, "C4"), written=(1,)) == "|C8-|C2 x6|"
    assert text(note(0, 8, "C4"), written=(1,)) == "|C8-|C8 y|"
    assert text(note(0, 8, "C4"), note(0, 5, "C3", "left"), written=(1,)) == "|C8- & !left!C,8-|C8 y & C,2 x6|"


def test_a_note_that_has_ended_at_the_bar_line_asks_for_no_accidental_after_it() -> None:
    assert text(note(0, 4, "C#4"), note(4, 4, "C4")) == "|^C8|C8|"


def test_a_line_of_an_overlay_says_its_own_accidental_where_another_has_altered_the_letter() -> None:
    """ABC 2.1, section 11.3: an accidental reaches to the end of the bar, and readers differ on whose line."""
    assert text(note(0, 4, "C#4"), note(1, 2, "C4", "left"), written=(1,)) == "|^C8 & x2 !left!=C4 x2|X|"
    assert text(note(0, 4, "D4"), note(1, 2, "C4", "left"), written=(1,)) == "|D8 & x2 !left!C4 x2|X|"


def test_in_compound_metres_notes_are_grouped_by_dotted_quarters() -> None:
    eighths = [note(Fraction(k, 2), "1/2", "C4") for k in range(6)]
    assert text(*eighths, metre="6/8", written=(1,)) == "|CCC CCC|X|"
    assert text(*eighths, metre="3/4", written=(1,)) == "|CC CC CC|X|"


def test_two_pitches_of_one_letter_tied_into_a_bar_say_their_accidentals_there() -> None:
    both = (note(3, 2, "C4"), note(3, 1, "C#4", "left"), note(4, 1, "C#4", "left"))
    told = text(*both)
    again = read_part(told, "chords", [Fraction(4)] * 2, unit=EIGHTH, fifths=0, compound=False, hold=Fraction(1))
    assert {(n.beat, n.length, n.pitch) for n in again.notes} == {(n.beat, n.length, n.pitch) for n in both}


@pytest.mark.parametrize(
    ("told", "bars_a_line", "lines"),
    [
        (PartText("", ("C8", "D4 E4", "F8"), ""), 4, ["| C8 | D4 E4 | F8 |"]),
        (PartText("", ("C8", "D4 E4", "F4 G4"), ""), 2, ["| C8    | D4 E4 |", "| F4 G4 |"]),
        (PartText("G2", ("C8", "D8", "E8"), "E2"), 2, ["G2 | C8 | D8 |", "   | E8 | E2"]),
        (PartText("", ("C8",) * 4, ""), 4, ["| C8 | C8 | C8 | C8 |"]),
        (PartText("", ("C8",) * 5, ""), 4, ["| C8 | C8 | C8 | C8 |", "| C8 |"]),
    ],
)  # fmt: skip
def test_lines_are_laid_out_with_bar_lines_under_bar_lines(told: PartText, bars_a_line: int, lines: list[str]) -> None:
    assert laid_out(told, bars_a_line) == lines
