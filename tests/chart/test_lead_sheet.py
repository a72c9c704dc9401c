"""A lead sheet becomes a chart: what it leaves open is found, and what no chart could hold is refused."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from companion.chart.lead_sheet import (
    FINEST,
    LONGEST_BAR,
    LeadSheet,
    as_chart,
    check_metre,
    metre_from_lengths,
    with_lengths,
)
from companion.chart.remarks import Remark
from companion.chart.written import BarMarks, NoteHead, WrittenBar
from companion.errors import ChartError
from companion.music.chords import parse_chord
from companion.music.meter import Metre
from companion.music.pitch import Pitch

C5 = Pitch("C", 0, 5)


def bar(number: int = 1, length: Fraction | float = 4, chord: str = "", **more: object) -> WrittenBar:
    """A bar of one note."""
    size = Fraction(length)
    chords = ((Fraction(0), parse_chord(chord)),) if chord else ()
    return WrittenBar(str(number), size, Fraction(4), (NoteHead(Fraction(0), size, C5),), chords, **more)  # type: ignore[arg-type]


def sheet(*bars: WrittenBar, **more: object) -> LeadSheet:
    told = {"title": "Trial", "composer": None, "metre": Metre(), "fifths": 0, "minor": False, "tempo": None}
    return LeadSheet(bars=bars, **{**told, "feel": None, **more})  # type: ignore[arg-type]


FOUR = tuple(bar(k) for k in range(1, 5))


def test_what_the_sheet_says_goes_into_the_chart() -> None:
    told = {"composer": " Nobody ", "fifths": -3, "minor": True, "tempo": 84.0, "feel": "bossa"}
    chart = as_chart(sheet(*FOUR, **told), "sheet.abc").chart
    assert (chart.title, chart.composer, chart.source) == ("Trial", "Nobody", "sheet.abc")
    assert (chart.fifths, chart.minor, chart.tempo, chart.feel) == (-3, True, 84.0, "bossa")
    assert (chart.form, [float(size) for size in chart.sections[0].bars]) == (("A",), [4, 4, 4, 4])


def test_what_the_sheet_leaves_open_is_the_usual() -> None:
    chart = as_chart(sheet(*FOUR, title=" \n", composer=" "), "x").chart
    assert (chart.title, chart.composer, chart.tempo, chart.feel) == ("Untitled", None, 120.0, "swing")
    in_six = [replace(one, length=Fraction(3), nominal=Fraction(3), notes=()) for one in FOUR]
    assert as_chart(sheet(*in_six, metre=Metre(6, 8)), "x").chart.feel == "straight"


def test_without_a_key_signature_the_notes_tell_and_without_a_mode_the_last_chord() -> None:
    flat = NoteHead(Fraction(0), Fraction(4), Pitch("E", -1, 5))
    bars = [replace(one, notes=(flat,)) for one in (*FOUR[:3], bar(4, chord="Gm"))]
    chart = as_chart(sheet(*bars, fifths=None, minor=None), "x").chart
    assert (chart.fifths, chart.minor) == (-2, True)
    assert as_chart(sheet(*FOUR[:3], bar(4, chord="C"), minor=None), "x").chart.minor is False
    assert as_chart(sheet(*FOUR[:3], bar(4, chord="Am"), minor=None), "x").chart.minor is True


def test_the_order_of_playing_is_the_sheets_or_that_of_its_marks() -> None:
    bars = (*FOUR[:3], bar(4, marks=BarMarks(repeat_end=2)))
    assert len(as_chart(sheet(*bars), "x").chart.unfold().bars) == 8
    assert len(as_chart(sheet(*bars, order=(0, 1, 2, 3)), "x").chart.unfold().bars) == 4


def test_a_remark_has_its_section_and_bar_and_what_is_never_played_is_said() -> None:
    words = Remark("words", "slowly")
    bars = [bar(k, remarks=(words,) if k in (2, 5) else ()) for k in range(1, 7)]
    bars[2] = bar(3, 2.5)
    imported = as_chart(sheet(*bars, order=(0, 1, 2, 3), remarks=(Remark("rhythm", "a walk"),)), "x")
    assert imported.remarks == (
        Remark("rhythm", "a walk"),
        Remark("words", "slowly", "2", "A", 2),
        Remark("lasts 2.5 quarters where its metre has 4", "", "3", "A", 3),
        Remark("words", "slowly", "5"),
        Remark("is never played", "", "5"),
        Remark("is never played", "", "6"),
    )


def test_a_heading_is_made_fit_to_be_printed() -> None:
    chart = as_chart(sheet(bar(marks=BarMarks(heading=" Verse\x1b ")), *FOUR[1:]), "x").chart
    assert [section.name.strip() for section in chart.sections] == [chart.sections[0].name]
    assert chart.sections[0].name.startswith("Verse")
    assert as_chart(sheet(bar(marks=BarMarks(heading=" \n ")), *FOUR[1:]), "x").chart.form == ("A",)


SIXTY_FOUR = WrittenBar("3", LONGEST_BAR, Fraction(4))
ODD = Fraction(1, FINEST + 1)


def head(beat: Fraction = Fraction(0), length: Fraction = Fraction(4)) -> tuple[NoteHead, ...]:
    return (NoteHead(beat, length, C5),)


@pytest.mark.parametrize(
    ("wrong", "line"),
    [
        (replace(SIXTY_FOUR, length=LONGEST_BAR + 1), "bar 3: lasts 65 quarters; look for bar lines that are missing"),
        (replace(SIXTY_FOUR, length=3 + ODD), "bar 3: lasts 2884/961 of a quarter; look for a note of an odd length"),
        (replace(SIXTY_FOUR, notes=head(beat=ODD)), "bar 3: parts a quarter into 961; look for a note of an odd"),
        (replace(SIXTY_FOUR, notes=head(length=ODD)), "bar 3: parts a quarter into 961"),
        (replace(SIXTY_FOUR, chords=((ODD, parse_chord("C")),)), "bar 3: parts a quarter into 961"),
    ],
)
def test_what_no_chart_could_write_down_is_refused_with_its_bar(wrong: WrittenBar, line: str) -> None:
    with pytest.raises(ChartError) as error:
        as_chart(sheet(*FOUR, wrong), "x")
    assert str(error.value).startswith(line)


def test_the_longest_bar_and_the_finest_parts_are_read() -> None:
    part = Fraction(1, FINEST)
    finest = replace(bar(6, 4), length=4 + part, notes=head(part, part), chords=((part, parse_chord("C")),))
    chart = as_chart(sheet(*FOUR, SIXTY_FOUR, finest), "x").chart
    assert chart.sections[0].bars[4:] == (64, 4 + part) and LONGEST_BAR == 64 and FINEST == 960


@pytest.mark.parametrize(("metre", "fine"), [("32/4", True), ("33/4", False), ("4/32", True), ("4/64", False)])
def test_a_metre_has_no_more_than_32_beats_nor_any_shorter_than_a_32nd(metre: str, fine: bool) -> None:
    beats, _, kind = metre.partition("/")
    if fine:
        check_metre(Metre(int(beats), int(kind)))
        return
    with pytest.raises(ChartError, match=f"a metre of {metre}; look for bar lines that are missing"):
        check_metre(Metre(int(beats), int(kind)))


@pytest.mark.parametrize(
    ("lengths", "metre"),
    [
        ([3, 3, 4, 3], "3/4"), ([4, 1], "4/4"), ([2.5, 2.5], "5/8"), ([1.75] * 2, "7/16"), ([0.375] * 2, "3/32"),
        ([Fraction(1, 3)] * 2, "4/4"), ([0, 0, 3], "3/4"), ([], "4/4"),
    ],
)  # fmt: skip
def test_without_a_time_signature_the_commonest_length_of_the_bars_is_the_metre(
    lengths: list[float], metre: str
) -> None:
    assert str(metre_from_lengths([bar(length=size) for size in lengths])) == metre


def test_bars_that_ask_for_nothing_ask_for_their_metre_and_empty_ones_are_as_long() -> None:
    bars = [replace(bar(length=size), nominal=Fraction(nominal)) for size, nominal in ((2, 0), (0, 0), (2, 4))]
    found = with_lengths(bars, Metre(3, 4))
    assert [(float(one.length), float(one.nominal)) for one in found] == [(2, 3), (3, 3), (2, 4)]
