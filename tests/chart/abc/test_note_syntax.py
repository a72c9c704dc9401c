"""ABC's notes read from left to right: lengths, accidentals, tuplets, broken rhythm, limits (ABC 2.1, 4.1 to 4.17)."""

# ruff: noqa: E501 (texts and what is said of them stand whole in the tables)

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.abc.note_syntax import (
    MOST_SIGNS,
    NoteReader,
    default_unit,
    key_alterations,
    multiple,
)
from companion.errors import ChartError
from companion.music.meter import Metre

QUARTER = Fraction(1)


def told(text: str, fifths: int = 0, *, compound: bool = False, reach: str = "pitch", octaves: int = 0) -> str:
    reader = NoteReader(QUARTER, key_alterations(fifths), compound)
    reader.reach, reader.octaves = reach, octaves
    reader.read(text, "bar 1", Fraction(4))
    reader.end_bar("bar 1")
    assert reader.position == sum((event.length for event in reader.events), Fraction(0))
    return " ".join(f"{event.pitch or 'z'}:{event.length}{'-' * event.tied}" for event in reader.events)


@pytest.mark.parametrize(
    ("text", "notes"),
    [
        ("C D2 E3/2 F/ G// A/4 B", "C4:1 D4:2 E4:3/2 F4:1/2 G4:1/4 A4:1/4 B4:1"), ("c' c'' C, C,,", "C6:1 C7:1 C3:1 C2:1"),
        ("z x2 y Z3", None), ("C>D C<D", "C4:3/2 D4:1/2 C4:1/2 D4:3/2"), ("C>>D C<<<D", "C4:7/4 D4:1/4 C4:1/8 D4:15/8"),
        ("C>z D", "C4:3/2 z:1/2 D4:1"), ("(3CDE F", "C4:2/3 D4:2/3 E4:2/3 F4:1"), ("(3:2:2C2D E", "C4:4/3 D4:2/3 E4:1"),
        ("(2CD (4CDEF", "C4:3/2 D4:3/2 C4:3/4 D4:3/4 E4:3/4 F4:3/4"), ("(6CDEFGA", "C4:1/3 D4:1/3 E4:1/3 F4:1/3 G4:1/3 A4:1/3"),
        ("(8CDEFGABc", "C4:3/8 D4:3/8 E4:3/8 F4:3/8 G4:3/8 A4:3/8 B4:3/8 C5:3/8"), ("(7CDEFGAB", "C4:2/7 D4:2/7 E4:2/7 F4:2/7 G4:2/7 A4:2/7 B4:2/7"),
        ("(3C>DE", "C4:1 D4:1/3 E4:2/3"), ("(5:3CDEFG", "C4:3/5 D4:3/5 E4:3/5 F4:3/5 G4:3/5"), ("(3:1:1C D", "C4:1/3 D4:1"),
        ("[CEG]2 [C2E]", "G4:2 E4:2"), ("[EC]3/2", "E4:3/2"), ("C- C", "C4:1- C4:1"), ("C.- [C-E-]", "C4:1- E4:1-"),
        ("{ab}C !trill!D ~E (F G)", "C4:1 D4:1 E4:1 F4:1 G4:1"), ("Z", "z:4"), ("Z4", "z:4"), ("", ""),
    ],
)  # fmt: skip
def test_notes_and_their_lengths(text: str, notes: str | None) -> None:
    if notes is None:
        with pytest.raises(ChartError, match="bar 1: Z stands for a whole bar and stands alone"):
            told(text)
    else:
        assert told(text) == notes


@pytest.mark.parametrize("p", [5, 7, 9])
def test_section_4_13_five_seven_and_nine_go_in_two_or_in_compound_time_in_three(p: int) -> None:
    notes = "C" * p
    assert told(f"({p}{notes}") == " ".join([f"C4:{Fraction(2, p)}"] * p)
    assert told(f"({p}{notes}", compound=True) == " ".join([f"C4:{Fraction(3, p)}"] * p)


@pytest.mark.parametrize(
    ("text", "fifths", "notes"),
    [
        ("^C C c", 0, "C#4:1 C#4:1 C#5:1"), ("_B =B B", -2, "Bb4:1 B4:1 B4:1"), ("F f =F f", 1, "F#4:1 F#5:1 F4:1 F5:1"),
        ("^^F __B", 0, "F##4:1 Bbb4:1"), ("B E A D G C F", -7, "Bb4:1 Eb4:1 Ab4:1 Db4:1 Gb4:1 Cb4:1 Fb4:1"),
        ("F C G D A E B", 7, "F#4:1 C#4:1 G#4:1 D#4:1 A#4:1 E#4:1 B#4:1"), ("F", 8, "F##4:1"),
    ],
)  # fmt: skip
def test_section_4_2_accidentals_reach_to_the_end_of_the_bar_in_every_octave(
    text: str, fifths: int, notes: str
) -> None:
    assert told(text, fifths) == notes


@pytest.mark.parametrize(
    ("reach", "notes"), [("pitch", "C#5:1 C#4:1 C#5:1"), ("octave", "C#5:1 C4:1 C#5:1"), ("not", "C#5:1 C4:1 C5:1")]
)
def test_section_11_3_an_accidental_reaches_as_far_as_the_tune_says(reach: str, notes: str) -> None:
    assert told("^c C c", reach=reach) == notes


def test_a_tie_takes_its_pitch_over_the_bar_line_and_only_its_own() -> None:
    reader = NoteReader(QUARTER, {}, False)
    reader.read("^c-", "", Fraction(4))
    reader.begin_bar()
    reader.read("c c C", "", Fraction(4))
    assert [str(event.pitch) for event in reader.events] == ["C#5", "C5", "C4"]
    high = NoteReader(QUARTER, {}, False)
    high.octaves = 1
    high.read("^C-", "", Fraction(4))
    high.begin_bar()
    high.read("C", "", Fraction(4))
    assert str(high.events[0].pitch) == "C#5"
    for between in ("z", "[EG]", "Z"):
        broken = NoteReader(QUARTER, {}, False)
        broken.read("^c-", "", Fraction(4))
        broken.begin_bar()
        broken.read(between, "", Fraction(4))
        broken.begin_bar()
        broken.read("c", "", Fraction(4))
        assert str(broken.events[0].pitch) == "C5", between


def test_everything_may_stand_octaves_higher() -> None:
    assert told("C ^c", octaves=1) == "C5:1 C#6:1" and told("c", octaves=-2) == "C3:1"


@pytest.mark.parametrize(
    ("text", "length"),
    [
        ("", 1), ("3", 3), ("/", Fraction(1, 2)), ("//", Fraction(1, 4)), ("3/2", Fraction(3, 2)), ("3/", Fraction(3, 2)),
        ("/3", Fraction(1, 3)), ("/" * 8, Fraction(1, 256)), ("256", 256), ("3//", Fraction(3, 4)), ("1024/4", 256),
        ("0", None), ("257", None), ("/0", None), ("//3", None), ("0/2", None),
    ],
)  # fmt: skip
def test_section_4_3_lengths(text: str, length: Fraction | None) -> None:
    if length is None:
        with pytest.raises(ChartError, match=r"bar 7: '.*' is not a length"):
            multiple(text, "bar 7")
    else:
        assert multiple(text, "bar 7") == length


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("? C", "'?' is not ABC note syntax"), ("C3/0", "'3/0' is not a length"), ("C" + "/" * 9, "more than 8 halvings of a length"), ("H", "'H' is not ABC note syntax; notes are the letters A to G"),
        ("k", "'k' is not ABC note syntax; notes are the letters A to G"), ('"Am"C', "'\"Am\"C' is not ABC note syntax; chord symbols stand in"),
        ("C ?", "'?' is not ABC note syntax"), ("NC", "'NC' is not ABC note syntax"), ("> C", "a broken rhythm without a note before it"),
        ("C >", "a broken rhythm without a note after it"), ("-C", "a tie without a note before it"), ("z-", "a tie without a note before it"),
        ("C Z", "Z stands for a whole bar and stands alone"), ("Z C", "a rest of whole bars stands alone; put a bar line after it"),
        ("X z", "a rest of whole bars stands alone"), ("[z]", "'[z]' holds no note"), ("(3:0:3CDE", "'(3:0:3' is not a tuplet"),
        ("(3:33:3CDE", "'(3:33:3' is not a tuplet"), ("c'''''", "\"c'''''\" is beyond every keyboard"), ("C,,,,,,", "'C,,,,,,' is beyond every keyboard"),
        ("_C,,,,,", "'_C,,,,,' is beyond every keyboard"), ("^g''''", "\"^g''''\" is beyond every keyboard"),
    ],
)  # fmt: skip
def test_what_is_no_note_is_said(text: str, line: str) -> None:
    with pytest.raises(ChartError) as error:
        told(text)
    assert str(error.value).startswith(f"bar 1: {line}")


def test_the_lowest_and_the_highest_note_and_the_longest_tuplet_are_read() -> None:
    assert told("C,,,,, g''''") == "C-1:1 G9:1"
    assert told("(2:32CD") == "C4:16 D4:16" and told("(2:1CD") == "C4:1/2 D4:1/2"


def test_with_an_ear_for_it_what_is_no_note_is_told_and_reading_goes_on() -> None:
    aside: list[tuple[str, str]] = []
    reader = NoteReader(QUARTER, {}, False, lambda kind, text: aside.append((kind, text)))
    reader.read('"Am"!p!{a}(C [CE] ?D - 7 >E>', "", Fraction(4))
    reader.end_bar("")
    assert " ".join(str(event.pitch) for event in reader.events) == "C4 E4 D4 E4"
    assert aside == [
        ("text", '"Am"'), ("decoration", "!p!"), ("grace", "{a}"), ("slur", "("), ("struck", "[CE]"), ("fault", "?"),
        ("fault", "7"), ("fault", "a broken rhythm without a note after it"),
    ]  # fmt: skip
    reader.begin_bar()
    reader.read("[C]2", "", Fraction(4))
    assert len(aside) == 8, "one note in brackets is struck together with none"
    reader.begin_bar()
    reader.read("z-C//", "", Fraction(4))
    assert aside[-1] == ("fault", "a tie without a note before it") and len(reader.events) == 2


def test_a_bar_has_four_thousand_signs_at_most() -> None:
    assert MOST_SIGNS == 4000
    assert told("C " * 2000).count("C4") == 2000
    with pytest.raises(ChartError, match="bar 1: has more than 4000 signs; look for a missing bar line"):
        told("C " * 2000 + "C")


@pytest.mark.parametrize(
    ("metre", "unit"), [("4/4", "1/2"), ("3/4", "1/2"), ("2/4", "1/4"), ("6/8", "1/2"), ("5/8", "1/4")]
)
def test_section_3_1_7_a_plain_note_is_an_eighth_from_three_quarters_on(metre: str, unit: str) -> None:
    beats, _, kind = metre.partition("/")
    assert default_unit(Metre(int(beats), int(kind))) == Fraction(unit)


def test_a_key_signature_in_the_order_of_its_signs() -> None:
    """Common practice: sharps from F by fifths, flats from B by fourths."""
    assert list(key_alterations(3).items()) == [("F", 1), ("C", 1), ("G", 1)]
    assert list(key_alterations(-3).items()) == [("B", -1), ("E", -1), ("A", -1)]
    assert key_alterations(0) == {} and key_alterations(9)["C"] == 2 and key_alterations(-8)["B"] == -2
