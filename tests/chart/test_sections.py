"""Sections as a musician would find them on a page: by its marks, by what comes again, or by eight bars."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest

from companion.chart.sections import Cut, cut_into_sections
from companion.chart.written import BarMarks, NoteHead, WrittenBar
from companion.music.pitch import pitch_in_key


def page(bars: Sequence[int], marks: dict[int, BarMarks] | None = None) -> Cut:
    """A page whose bars each hold one whole note of so many semitones above middle C."""
    written = [
        WrittenBar(
            str(k + 1), Fraction(4), Fraction(4), (NoteHead(Fraction(0), Fraction(4), pitch_in_key(60 + step)),), (),
            (marks or {}).get(k, BarMarks()),
        )
        for k, step in enumerate(bars)
    ]  # fmt: skip
    return cut_into_sections(written, range(len(written)))


A, B, C = [*range(8)], [*range(8, 16)], [*range(3, 11)]


@pytest.mark.parametrize(
    ("bars", "form"),
    [
        (A + A + B + A, "A A B A"),
        (A + A[:6] + [20, 21] + B + A, "A1 A2 B A1"),  # begins alike, ends otherwise
        (A + B + C + B, "A B C B"),
        (A + B + C, "A B C"),  # nothing comes again: eight bars each
        (A + B + C[:4], "A B C"),  # a rest of four stands alone
        (A + B[:6], "A"),  # too short to fall apart
        (A[:6] + B[:6], "A"),
    ],
)
def test_a_page_without_marks_falls_into_eights(bars: list[int], form: str) -> None:
    assert " ".join(page(bars).form) == form


def test_double_bars_go_before_eights() -> None:
    cut = page(A[:6] + B[:6], {5: BarMarks(double_bar=True)})
    assert [(section.name, len(section.bars)) for section in cut.sections] == [("A", 6), ("B", 6)]


def test_a_stretch_that_the_page_names_stays_whole() -> None:
    cut = page(A + B + C, {0: BarMarks(heading="Verse"), 8: BarMarks(heading="Refrain")})
    assert [(section.name, len(section.bars)) for section in cut.sections] == [("Verse", 8), ("Refrain", 16)]


def test_every_written_bar_is_found_in_its_section() -> None:
    cut = page(A + A + B + A)
    assert cut.places[0] == ("A", 1) and cut.places[9] == ("A", 2) and cut.places[17] == ("B", 2)


def test_a_heading_that_means_one_section_is_its_name_and_one_over_two_is_numbered() -> None:
    bars = A + A[:6] + [20, 21] + B + A[:6] + [30, 31]
    headings = {0: "A1", 8: "A2", 16: "B", 24: "A"}
    marks = {bar: BarMarks(heading=name) for bar, name in headings.items()}
    assert page(bars, marks).form == ("A1", "A2", "B", "A")
    same = {**marks, 8: BarMarks(heading="A"), 0: BarMarks(heading="A")}
    assert page(bars, same).form == ("A1", "A2", "B", "A3")


def test_the_pickup_belongs_to_its_section_each_time() -> None:
    def bar(steps: Sequence[int], length: int = 4, *, double_bar: bool = False) -> WrittenBar:
        notes = tuple(NoteHead(Fraction(k), Fraction(1), pitch_in_key(60 + step)) for k, step in enumerate(steps))
        return WrittenBar("1", Fraction(length), Fraction(4), notes, (), BarMarks(double_bar=double_bar))

    pickup, last = bar([0], 1), bar([9, 7, 5, 0], double_bar=True)
    tune = [bar([k, k + 2, k + 4, k + 5]) for k in range(7)]
    end = bar([9, 7, 5])
    cut = cut_into_sections([pickup, *tune, last, *tune, end], range(17))
    assert cut.form == ("A", "A")
    assert cut.sections[0].melody[0].beat == -1
