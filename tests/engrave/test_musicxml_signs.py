"""Signs and words over and under the bars, element by element (MusicXML 4.0, directions and their ``sound``)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any
from xml.etree.ElementTree import Element, tostring

import pytest

from companion.chart.written import BarMarks
from companion.engrave.musicxml_signs import (
    LETTERS_A_BAR,
    LETTERS_A_LINE,
    LETTERS_OF_A_REMARK,
    SMALL,
    signs_at_the_end,
    signs_at_the_start,
    what_next_under,
    write_manner,
)
from companion.engrave.sheet import Bar, Sheet
from companion.music.meter import Metre

FOUR = Metre(4, 4)


def a_bar(**how: Any) -> Bar:
    return Bar(1, Fraction(4), FOUR, (), **how)


def a_sheet(staves: tuple[int, ...] = (1,), metre: Metre = FOUR, tempo: float = 132.0, feel: str = "straight") -> Sheet:
    return Sheet("Lantern", None, metre, 0, False, tempo, feel, staves, ())


def written(write: Callable[..., None], *inside: Any, **how: Any) -> list[str]:
    """The elements that are written into a measure, without their tags of direction and direction-type."""
    measure = Element("measure")
    write(measure, *inside, **how)
    found = [tostring(element, encoding="unicode") for element in measure]
    return [one.replace("<direction-type>", "").replace("</direction-type>", "") for one in found]


def said(write: Callable[..., None], *inside: Any, **how: Any) -> list[str]:
    """Place and text of each of the words that are written."""
    measure = Element("measure")
    write(measure, *inside, **how)
    return [f"{one.get('placement')} {''.join(one.itertext())}" for one in measure]


BOLD = 'font-weight="bold" font-style="normal"'


@pytest.mark.parametrize(
    ("sheet", "tempo", "words", "mark"),
    [
        (a_sheet(), "132", "Straight eighths", "<beat-unit>quarter</beat-unit><per-minute>132</per-minute>"),
        (a_sheet(metre=Metre(2, 2)), "132", "Straight eighths",
         "<beat-unit>half</beat-unit><per-minute>66</per-minute>"),
        (a_sheet(metre=Metre(6, 8), tempo=97.5), "97.5", "",
         "<beat-unit>quarter</beat-unit><beat-unit-dot /><per-minute>65</per-minute>"),
        # even, and a swing tune all the same
        (a_sheet(tempo=300.0, feel="swing"), "300", "Swing",
         "<beat-unit>quarter</beat-unit><per-minute>300</per-minute>"),
    ],
)  # fmt: skip
def test_the_tempo_and_the_feel_stand_over_the_first_bar(sheet: Sheet, tempo: str, words: str, mark: str) -> None:
    bold = f"<words {BOLD}>{words}\u2003</words>" if words else ""
    over = f'{bold}<metronome parentheses="no">{mark}</metronome>'
    for staves, staff in (((1,), ""), ((1, 2), "<staff>1</staff>")):
        assert written(write_manner, replace(sheet, staves=staves)) == [
            f'<sound tempo="{tempo}" />', f'<direction placement="above">{over}{staff}</direction>',
        ]  # fmt: skip


def test_two_swung_quavers_are_a_crotchet_and_a_quaver_of_a_triplet() -> None:
    sound, words, equation = written(write_manner, a_sheet(feel="swing", staves=(1, 2)))
    assert sound == (
        '<sound tempo="132"><swing><first>2</first><second>1</second><swing-type>eighth</swing-type></swing></sound>'
    )
    assert f"<words {BOLD}>Swing\u2003</words>" in words and words.endswith("<staff>1</staff></direction>")
    beamed = "".join(
        "<metronome-note><metronome-type>eighth</metronome-type>"
        f'<metronome-beam number="1">{beam}</metronome-beam></metronome-note>'
        for beam in ("begin", "end")
    )
    triplet = "".join(
        f'<metronome-note><metronome-type>{value}</metronome-type><metronome-tuplet type="{edge}" bracket="yes" '
        'show-number="actual"><actual-notes>3</actual-notes><normal-notes>2</normal-notes>'
        "<normal-type>eighth</normal-type></metronome-tuplet></metronome-note>"
        for value, edge in (("quarter", "start"), ("eighth", "stop"))
    )
    assert equation == (
        f'<direction placement="above"><metronome parentheses="yes">{beamed}'
        f"<metronome-relation>equals</metronome-relation>{triplet}</metronome><staff>1</staff></direction>"
    )


REMARK = 'font-size="8" font-style="italic" font-weight="normal"'


@pytest.mark.parametrize(
    ("bar", "place", "inside", "sound"),
    [
        (a_bar(heading="B"), "above", '<rehearsal font-weight="bold">B</rehearsal>', ""),
        (a_bar(marks=BarMarks(segno=True)), "above", "<segno />", '<sound segno="segno1" />'),
        (a_bar(marks=BarMarks(coda=True)), "above", "<coda />", '<sound coda="coda1" />'),
        (a_bar(remark="skipped"), "above", f"<words {REMARK}>skipped</words>", ""),
        (a_bar(manner="in two"), "below", '<words font-style="italic" font-weight="normal">in two</words>', ""),
    ],
)
def test_a_bar_begins_with_its_letter_its_signs_and_what_is_remarked_of_it(
    bar: Bar, place: str, inside: str, sound: str
) -> None:
    for staves, staff in (((1,), ""), ((1, 2), "<staff>1</staff>")):
        element = f'<direction placement="{place}">{inside}{staff}{sound}</direction>'
        assert written(signs_at_the_start, a_sheet(staves), bar, for_engraver=False) == [element]
    assert written(signs_at_the_start, a_sheet(), a_bar(), for_engraver=False) == []


def test_for_the_engraver_a_remark_is_in_small_lines_of_thirty_two_letters_the_last_first() -> None:
    remark = f"{'a' * 15}; {'b' * 14}; {'c' * 20}"
    lines = [f"above {SMALL}{'c' * 20}", f"above {SMALL}{'a' * 15}; {'b' * 14};"]
    assert LETTERS_OF_A_REMARK == 32 == len(lines[1]) - len(f"above {SMALL}")
    assert said(signs_at_the_start, a_sheet(), a_bar(remark=remark), for_engraver=True) == lines
    longer = remark.replace("b; ", "bb; ")
    assert len(said(signs_at_the_start, a_sheet(), a_bar(remark=longer), for_engraver=True)) == 3
    assert said(signs_at_the_start, a_sheet(), a_bar(remark=remark), for_engraver=False) == [f"above {remark}"]


@pytest.mark.parametrize(
    ("marks", "elements"),
    [
        (BarMarks(), []),
        (BarMarks(repeat_end=2), []),
        (BarMarks(repeat_end=3), [f'<direction placement="above"><words {BOLD}>3×</words></direction>']),
        (BarMarks(repeat_end=3, ending_stops=True), []),
        (
            BarMarks(to_coda=True),
            [f'<direction placement="above"><words {BOLD}>To Coda</words><sound tocoda="coda1" /></direction>'],
        ),
        (
            BarMarks(fine=True),
            [f'<direction placement="above"><words {BOLD}>Fine</words><sound fine="yes" /></direction>'],
        ),
        (
            BarMarks(jump="capo", until="fine"),
            [f'<direction placement="below"><words {BOLD}>D.C. al Fine</words><sound dacapo="yes" /></direction>'],
        ),
        (
            BarMarks(jump="segno", until="coda"),
            [f'<direction placement="below"><words {BOLD}>D.S. al Coda</words><sound dalsegno="segno1" /></direction>'],
        ),
        (
            BarMarks(jump="segno"),
            [f'<direction placement="below"><words {BOLD}>D.S.</words><sound dalsegno="segno1" /></direction>'],
        ),
    ],
)  # fmt: skip
def test_a_bar_ends_with_how_often_and_where_to(marks: BarMarks, elements: list[str]) -> None:
    assert written(signs_at_the_end, a_sheet(), a_bar(marks=marks), 12, for_engraver=False) == elements


def test_what_is_said_under_a_bar_stands_at_the_last_staff_and_what_is_said_over_it_at_the_first() -> None:
    bar = a_bar(marks=BarMarks(fine=True, jump="capo"))
    over, under = written(signs_at_the_end, a_sheet((1, 2)), bar, 12, for_engraver=False)
    assert "<staff>1</staff>" in over and "<staff>2</staff>" in under


def test_for_the_engraver_words_over_the_end_begin_in_mid_bar_and_those_under_it_stand_elsewhere() -> None:
    bar = a_bar(marks=BarMarks(repeat_end=4, fine=True, to_coda=True, jump="capo"))
    found = written(signs_at_the_end, a_sheet(), bar, 12, for_engraver=True)
    assert [one.count("<offset>-24</offset>") for one in found] == [1, 1, 1]
    assert not any("<offset>" in one for one in written(signs_at_the_end, a_sheet(), bar, 12, for_engraver=False))


@pytest.mark.parametrize(
    ("words", "marks", "repeats", "steps"),
    [
        ("", BarMarks(jump="capo"), True, "D.C.; with repeats"),
        ("solos", BarMarks(jump="capo"), False, "solos; then D.C."),
        ("solos; trading", BarMarks(), True, "solos; trading"),
        ("solos", BarMarks(jump="segno", until="coda"), True, "solos; then D.S. al Coda; with repeats"),
        ("", BarMarks(until="fine"), False, ""),
    ],
)
def test_what_is_played_next_is_said_step_by_step(words: str, marks: BarMarks, repeats: bool, steps: str) -> None:
    bar = a_bar(words=words, marks=marks, with_repeats=repeats)
    assert said(signs_at_the_end, a_sheet(), bar, 12, for_engraver=False) == ([f"below {steps}"] if steps else [])


def test_for_the_engraver_what_comes_next_stands_under_its_bar_where_it_fits_else_under_the_bar_before() -> None:
    fits, wide = a_bar(words="x" * LETTERS_A_BAR), a_bar(words="x" * (LETTERS_A_BAR + 1))
    assert (LETTERS_A_BAR, LETTERS_A_LINE) == (22, 48)
    assert said(what_next_under, a_sheet(), fits, None) == [f"below {fits.words}"]
    assert said(what_next_under, a_sheet(), wide, None) == [] == said(what_next_under, a_sheet(), a_bar(), fits)
    assert said(what_next_under, a_sheet(), a_bar(), wide) == [f"below {wide.words}"]
    for edge in ({"new_line": True}, {"new_page": True}):
        first = a_bar(words=wide.words, **edge)
        assert said(what_next_under, a_sheet(), first, None) == [f"below {first.words}"]
        assert said(what_next_under, a_sheet(), a_bar(), first) == []


@pytest.mark.parametrize(("second", "fits"), [(11, True), (12, False)])
def test_two_steps_fit_under_a_bar_with_the_space_between_them(second: int, fits: bool) -> None:
    """Nine letters and a semicolon, a space, and eleven more are twenty-two."""
    bar = a_bar(words=f"{'a' * 9}; {'b' * second}")
    assert said(what_next_under, a_sheet(), bar, None) == ([f"below {bar.words}"] if fits else [])


@pytest.mark.parametrize(("second", "lines"), [(37, 1), (38, 2)])
def test_under_the_bar_before_a_line_has_forty_eight_letters(second: int, lines: int) -> None:
    bar = a_bar(words=f"{'a' * 9}; {'b' * second}")
    assert len(said(what_next_under, a_sheet(), a_bar(), bar)) == lines


def test_where_a_line_begins_each_step_that_does_not_fit_has_its_own() -> None:
    bar = a_bar(words=f"{'a' * 9}; {'b' * 12}; c", new_line=True)
    assert said(what_next_under, a_sheet(), bar, None) == [f"below {'a' * 9};", f"below {'b' * 12}; c"]
