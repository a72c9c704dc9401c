"""Sections as a musician would find them on a page: by its marks, by what comes again, or by eight bars."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest

from companion.chart.model import Section
from companion.chart.sections import Cut, cut_into_sections
from companion.chart.written import BarMarks, NoteHead, WrittenBar
from companion.music.chords import parse_chord
from companion.music.pitch import Pitch, pitch_in_key


def page(bars: Sequence[int | None], marks: dict[int, BarMarks] | None = None) -> Cut:
    """A page whose bars each hold one whole note of so many semitones above middle C, or nothing."""
    written = [
        WrittenBar(
            str(k + 1), Fraction(4), Fraction(4),
            () if step is None else (NoteHead(Fraction(0), Fraction(4), pitch_in_key(60 + step)),), (),
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


def sheet(bars: str, marks: dict[int, BarMarks] | None = None, order: Sequence[int] | None = None) -> list[str]:
    """Sections of a page in four: each bar in letters of a quarter each (a point is a rest, a dash holds on).

    What comes of it is written alike, the pickup in parentheses; before a rest that begins a bar stands no note.
    """
    written = []
    for k, bar in enumerate(bars.split()):
        heads = [
            NoteHead(Fraction(n), Fraction(1 + len(bar[n + 1 :]) - len(bar[n + 1 :].lstrip("-"))), pitch(letter))
            for n, letter in enumerate(bar)
            if letter.isalpha()
        ]
        written.append(
            WrittenBar(str(k), Fraction(len(bar)), Fraction(4), tuple(heads), (), (marks or {}).get(k, PLAIN))
        )
    cut = cut_into_sections(written, range(len(written)) if order is None else order)
    return [*(f"{section.name}: {text_of(section)}" for section in cut.sections), f"form: {' '.join(cut.form)}"]


def pitch(letter: str) -> Pitch:
    return Pitch(letter.upper(), 0, 5 if letter.islower() else 4)


def text_of(section: Section) -> str:
    signs: dict[Fraction, str] = {}
    for note in section.melody:
        assert note.length > 0 and note.beat not in signs, "each beat has one note"
        letter = note.pitch.step if note.pitch.octave == 4 else note.pitch.step.lower()
        signs |= {note.beat + k: "-" if k else letter for k in range(int(note.length))}
    before = [signs.get(Fraction(k), ".") for k in range(int(min(0, *signs, 0)), 0)]
    bars, at = [], Fraction(0)
    for size in section.bars:
        bars.append("".join(signs.get(at + k, ".") for k in range(int(size))))
        at += size
    return (f"({''.join(before)}) " if before else "") + " ".join(bars)


PLAIN, BACK, DOUBLE = BarMarks(), BarMarks(repeat_end=2), BarMarks(double_bar=True)


WHOLE = [
    (
        "CDE", {}, None,  # a bar alone is made full
        "A: CDE.; form: A",
    ),
    (
        "CDEF", {}, None,
        "A: CDEF; form: A",
    ),
    (
        "G CDEF GABc cBAG CDE", {}, None,
        "A: (G) CDEF GABc cBAG CDE.; form: A",
    ),
    (
        "G CDEF GABc cBAG CDE", {0: BarMarks(heading="Verse")}, None,
        "Verse: (G) CDEF GABc cBAG CDE.; form: Verse",
    ),
    (
        "CDEF GA Bc", {}, None,  # the end of a line in the last bar
        "A: CDEF GABc; form: A",
    ),
    (
        "G CDEF GABc cBA", {}, [0, 1, 2, 3] * 2,  # the last bar and the pickup make one
        "A: (G) CDEF GABc cBA.; form: A A",
    ),
    (
        "C DEFG GABc cBA", {3: BACK}, [0, 1, 2, 3] * 2,
        "A: (C) DEFG GABc cBA.; form: A A",
    ),
    (
        "C DEFG GABc cBAG",  # after a leap back to it the pickup ends a full bar
        {3: BarMarks(jump="capo")},
        [0, 1, 2, 3] * 2,
        "A1: (C) DEFG GABc cBA.; A2: (C) DEFG GABc cBAG; form: A1 A2",
    ),
    (
        "C DEFG GABc cBAG", {3: BACK}, [0, 1, 2, 3] * 2,  # a repeat plays all that is written
        "A: (C) DEFG GABc cBAG; B: C DEFG GABc cBAG; form: A B",
    ),
    (
        "C DEFG GABc cBAG", {}, [1, 2, 3, 0, 2, 3],
        "A: DEFG GABc cBA.; B: (C) GABc cBAG; form: A B",
    ),
    (
        "CD EFGA GABc cBAG EFGA", {3: BarMarks(jump="capo")}, [1, 2, 3, 0, 4],  # two notes give way to two
        "A: EFGA GABc cB..; B: (CD) EFGA; form: A B",
    ),
    (
        "CDEF CDE", {}, [0, 1, 1], # again the bar just played, and no sign says so
        "A: CDEF CDE.; form: A",
    ),
    (
        "C DEFG GABc cBAG", {3: BarMarks(to_coda=True)}, [1, 3, 0],
        "A: DEFG cBAC; form: A",
    ),
    (
        "CDEF GAB c cBAG CDEF", {1: DOUBLE}, None,  # a double bar in mid-bar
        "A: CDEF GAB.; B: (c) cBAG CDEF; form: A B",
    ),
    (
        "CDEF GA Bc cBAG CDEF", {1: DOUBLE}, None,
        "A: CDEF GA..; B: (Bc) cBAG CDEF; form: A B",
    ),
    (
        "CDEF GA Bc cBAG CDEF", {}, None,  # the end of a line in mid-bar
        "A: CDEF GABc cBAG CDEF; form: A",
    ),
    (
        "CDEF GA B cBAG CDEF", {1: DOUBLE}, None,  # two short bars that make no whole one
        "Lead-in: CDEF GA; A: B cBAG CDEF; form: Lead-in A",
    ),
    (
        "CDEF GABc C cBAG CDEF", {1: DOUBLE}, None,
        "Lead-in: CDEF GABc; A: C cBAG CDEF; form: Lead-in A",
    ),
    (
        "CDEF GABc cBAG EDC. FEDC", {1: BarMarks(heading="Trio")}, None,
        "Lead-in: CDEF; Trio: GABc cBAG EDC. FEDC; form: Lead-in Trio",
    ),
    (
        "CDEF GABc cBAG EDC. FEDC",  # a heading in mid-bar: what follows is a pickup
        {1: BarMarks(heading="Trio", heading_beat=Fraction(2))},
        None,
        "Lead-in: CDEF GA..; Trio: (Bc) cBAG EDC. FEDC; form: Lead-in Trio",
    ),
    (
        "CDEF GABc cBAG CDEF",  # at its end: the next bar begins
        {2: BarMarks(heading="Trio", heading_beat=Fraction(4))},
        None,
        "A: CDEF GABc cBAG; Trio: CDEF; form: A Trio",
    ),
    (
        "CDEF GABc cBAG EDC. FEDC", {3: BarMarks(repeat_start=True)}, None,
        "A: CDEF GABc cBAG; B: EDC. FEDC; form: A B",
    ),
    (
        "CDEF GABc cBAG EDC. FEDC", {2: BACK}, None,
        "A: CDEF GABc cBAG; B: EDC. FEDC; form: A B",
    ),
    (
        "CDEF GABc cBAG EDC. FEDC", {3: BarMarks(coda=True), 1: BarMarks(to_coda=True)}, [0, 1, 2, 0, 1, 3, 4],
        "A1: CDEF GABc cBAG; A2: CDEF GABc; Coda: EDC. FEDC; form: A1 A2 Coda",
    ),
    (
        "CDEF GABc cBAG EDC. FEDC", {3: BarMarks(coda=True)}, [0, 1, 3, 4],
        "A: CDEF GABc; Coda: EDC. FEDC; form: A Coda",
    ),
    (
        "CDEF GABc cBAG EDC. FEDC", {1: BarMarks(to_coda=True)}, [0, 1, 3, 4],
        "A: CDEF GABc; B: EDC. FEDC; form: A B",
    ),
    (
        "CDEF GABc cBAG EDC. FEDC", {}, [0, 1, 3, 4],  # bars left out
        "A: CDEF GABc EDC. FEDC; form: A",
    ),
    (
        "CDEF GABc cBAG EDC. FEDC", {3: BarMarks(coda=True)}, None,  # a coda that one comes to without a leap
        "A: CDEF GABc cBAG; B: EDC. FEDC; form: A B",
    ),
    (
        "CDEF cccc dddd aaaa", {}, [0, 2, 1, 3],  # back without a sign
        "A: CDEF dddd; B: cccc aaaa; form: A B",
    ),
    (
        "CDEF GABc cBAG EDC. FEDC aaaa bbbb",  # a second ending is as long as the first
        {2: BarMarks(ending=(1,), repeat_end=2), 3: BarMarks(ending=(2,))},
        [0, 1, 2, 0, 1, 3, 4, 5],
        "A1: CDEF GABc cBAG; A2: CDEF GABc EDC.; B: FEDC aaaa; form: A1 A2 B",
    ),
    (
        "CDEF GABc cBAG aaaa EDC. FEDC aaaa bbbb",
        {2: BarMarks(ending=(1,)), 3: BarMarks(repeat_end=2), 4: BarMarks(ending=(2,))},
        [0, 1, 2, 3, 0, 1, 4, 5, 6, 7],
        "A1: CDEF GABc cBAG aaaa; A2: CDEF GABc EDC. FEDC; B: aaaa bbbb; form: A1 A2 B",
    ),
    (
        "CDEF GABc cBAG aaaa EDC. FEDC aaaa bbbb",  # where no bracket says so it isn't
        {2: BarMarks(ending=(1,)), 3: BarMarks(repeat_end=2)},
        [0, 1, 2, 3, 0, 1, 4, 5, 6, 7],
        "A1: CDEF GABc cBAG aaaa; A2: CDEF GABc EDC. FEDC aaaa bbbb; form: A1 A2",
    ),
    (
        "CDEF GABc cBAG EDC. FEDC aaaa bbbb cccc",  # an ending whose time through begins elsewhere
        {2: DOUBLE, 5: BarMarks(ending=(2,))},
        None,
        "A: CDEF GABc cBAG; B: EDC. FEDC aaaa bbbb cccc; form: A B",
    ),
    (
        "G CDEF GABc cBAG CDEF GABc cBA", {3: DOUBLE}, None,  # the pickup leads in again
        "A: (G) CDEF GABc cBA.; form: A A",
    ),
    (
        "G CDEF GABc cBAA CDEF GABc cBA", {3: DOUBLE}, None,  # another note isn't the pickup
        "A1: (G) CDEF GABc cBAA; A2: CDEF GABc cBA.; form: A1 A2",
    ),
    (
        "G CDEF GABc cBAG DDEF GABc cBA", {3: DOUBLE}, None,
        "A1: (G) CDEF GABc cBAG; A2: DDEF GABc cBA.; form: A1 A2",
    ),
    (
        "G CDEF GABc cBAG CDEF FABc cBA", {3: DOUBLE}, None,  # the first bar tells
        "A1: (G) CDEF GABc cBA.; A2: (G) CDEF FABc cBA.; form: A1 A2",
    ),
    (
        "GA CDEF GABc GA CDEF GABc", {3: DOUBLE}, None,  # not a whole bar that sounds like it
        "A1: (GA) CDEF GABc GA; A2: CDEF GABc; form: A1 A2",
    ),
    (
        "GA CDEF GABc cGA CDEF GABc", {3: DOUBLE}, None,
        "A1: (GA) CDEF GABc c..; A2: (GA) CDEF GABc; form: A1 A2",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("bars", "marks", "order", "wanted"), WHOLE)
def test_pages_in_full(bars: str, marks: dict[int, BarMarks], order: list[int] | None, wanted: str) -> None:
    """What is made of them today: sections as a musician would find them, each note once in every time through."""
    assert "; ".join(sheet(bars, marks, order)) == wanted


X = [*range(20, 30)]


@pytest.mark.parametrize(
    ("bars", "sections"),
    [
        (A + B[:7], "A:15"),
        (A + A[:7], "A:15"),
        (A + B, "A:8 B:8"),
        (A + B + C[:3], "A:8 B:11"),
        (A + A + X[:4], "A1:8 A2:12"),
        (A + A + X[:5], "A:8 A:8 B:5"),
        (A + B + A + B + X[:6], "A1:16 A2:22"),
        (A + B + A + B + X[:9], "A:8 B:8 A:8 B:8 C:9"),
        (X[:1] + A + A, "A:8 B:9"),
        (X[:1] + A + B, "A:8 B:9"),
        ([None, *A, *A, *B], "Lead-in:1 A:8 A:8 B:8"),
        ([None, *A, *B, *C], "Lead-in:1 A:8 B:8 C:8"),
        ([None, *A, *B], "Lead-in:1 A:8 B:8"),
        ([None, *A[:7]], "A:8"),
    ],
)
def test_how_far_a_page_without_marks_falls_into_phrases(bars: list[int | None], sections: str) -> None:
    """Each section with its number of bars: of eight, of sixteen where a rest is too long for eight, or whole."""
    cut = page(bars)
    sizes = {section.name: len(section.bars) for section in cut.sections}
    assert " ".join(f"{name}:{sizes[name]}" for name in cut.form) == sections


def test_a_bar_that_leads_in_may_stand_after_a_double_bar() -> None:
    cut = page([*A[:6], None, *B, *C], {5: BarMarks(double_bar=True)})
    assert [len(section.bars) for section in cut.sections] == [6, 1, 8, 8]


def test_a_bar_that_makes_another_one_good_and_one_that_is_laid_over_are_found_where_they_sound() -> None:
    def places(*lengths: int, order: Sequence[int], marks: dict[int, BarMarks]) -> dict[int, tuple[str, int]]:
        bars = [
            WrittenBar(str(k), Fraction(size), Fraction(4), marks=marks.get(k, PLAIN)) for k, size in enumerate(lengths)
        ]
        return dict(cut_into_sections(bars, order).places)

    assert places(1, 4, 4, order=range(3), marks={}) == {0: ("A", 0), 1: ("A", 1), 2: ("A", 2)}
    made_good = places(4, 2, 2, 4, order=range(4), marks={1: DOUBLE})
    assert made_good == {0: ("A", 1), 1: ("A", 2), 2: ("A", 2), 3: ("B", 1)}
    laid_over = places(4, 1, 4, 4, order=[0, 2, 3, 1, 2], marks={3: BarMarks(jump="segno")})
    assert laid_over == {0: ("A", 1), 2: ("A", 2), 3: ("A", 3), 1: ("A", 3)}


def test_a_pickup_of_two_notes_leads_in_again() -> None:
    assert sheet("GA CDEF GABc cBGA CDEF GABc", {3: DOUBLE}) == [
        "A1: (GA) CDEF GABc cB..", "A2: (GA) CDEF GABc", "form: A1 A2",
    ]  # fmt: skip


def in_chords(bars: str, last: int = 4, marks: dict[int, BarMarks] | None = None) -> list[str]:
    """Sections of a page of chords alone (a point carries on), each chord with its first beat and its end."""
    symbols = bars.split()
    lengths = [*[Fraction(4)] * (len(symbols) - 1), Fraction(last)]
    written = [
        WrittenBar(
            str(k), length, length, (), ((Fraction(0), parse_chord(symbol)),) if symbol != "." else (),
            (marks or {}).get(k, PLAIN),
        )
        for k, (symbol, length) in enumerate(zip(symbols, lengths, strict=True))
    ]  # fmt: skip
    sections = cut_into_sections(written, range(len(written))).sections
    return [" ".join(f"{span.chord}:{span.start}-{span.end}" for span in section.chords) for section in sections]


def test_a_chord_lasts_to_the_next_one_to_the_end_of_a_longer_last_bar_and_into_the_next_section() -> None:
    assert in_chords("C . G7 C", 6, {1: DOUBLE}) == ["C:0-8", "G7:0-4 C:4-10"]
    assert in_chords("C . . G7 C", 2, {1: DOUBLE}) == ["C:0-8", "C:0-4 G7:4-8 C:8-10"]


def test_a_stretch_that_the_page_names_falls_apart_where_its_eight_bars_come_again() -> None:
    named = {0: BarMarks(heading="Refrain")}
    assert [len(section.bars) for section in page(A + A[:6] + [20, 21], named).sections] == [8, 8]
    assert [len(section.bars) for section in page([*A, *A[:6], 20, 21, 22], named).sections] == [8, 9]
    assert [len(section.bars) for section in page([None, *A, *A], named).sections] == [1, 8], (
        "after a bar that leads in"
    )
    later = page([*X[:6], *A, *A[:6], 20, 21], {6: BarMarks(heading="Refrain")})
    assert [len(section.bars) for section in later.sections] == [6, 8, 8], "wherever it stands"
    chords = "C . A7 Dm7 . . . ."
    assert in_chords(f"{chords} {chords}", 4, named) == ["C:0-8 A7:8-12 Dm7:12-32"]
    other = "C:32-40 A7:40-44 D7:44-64"
    assert in_chords(f"{chords} {chords.replace('Dm7', 'D7')}", 4, named) == [f"C:0-8 A7:8-12 Dm7:12-32 {other}"]


def test_a_bar_leads_in_that_sings_in_its_second_half_alone() -> None:
    eight = "CDEF GABc cBAG FEDC CCCC DDDD EEEE FFFF"
    assert sheet(f"..GA {eight} {eight}")[0] == "Lead-in: ..GA"
    assert sheet(f".GA. {eight} {eight}")[-1] == "form: A B"


def test_ties_are_joined_where_one_note_leads_to_the_next_and_a_note_gives_way_to_the_one_that_follows() -> None:
    def melody(*heads: tuple[int, int, str, bool, bool]) -> list[tuple[int, int, str]]:
        notes = [
            [NoteHead(Fraction(at % 4), Fraction(length), pitch(name), back, on)
             for at, length, name, back, on in heads if at // 4 == k]
            for k in range(2)
        ]  # fmt: skip
        bars = [WrittenBar(str(k), Fraction(4), Fraction(4), tuple(some)) for k, some in enumerate(notes)]
        (section,) = cut_into_sections(bars, range(2)).sections
        return [(int(note.beat), int(note.length), note.pitch.step) for note in section.melody]

    assert melody((0, 4, "C", False, True), (4, 2, "C", True, False)) == [(0, 6, "C")]
    assert melody((0, 3, "C", False, True), (4, 2, "C", True, False)) == [(0, 3, "C"), (4, 2, "C")]
    assert melody((0, 4, "C", False, True), (4, 2, "D", True, False)) == [(0, 4, "C"), (4, 2, "D")]
    assert melody((0, 4, "C", False, False), (4, 2, "C", True, False)) == [(0, 4, "C"), (4, 2, "C")]
    assert melody((0, 4, "C", False, True), (4, 2, "C", False, False)) == [(0, 4, "C"), (4, 2, "C")]
    assert melody((0, 2, "C", False, False), (2, 6, "D", False, False), (4, 1, "E", False, False)) == [
        (0, 2, "C"), (2, 2, "D"), (4, 1, "E"),
    ]  # fmt: skip


def test_two_chords_a_bar_stand_where_they_are_written_and_of_two_at_once_the_last() -> None:
    c, f, g = (parse_chord(symbol) for symbol in "CFG")
    written = [
        WrittenBar(str(k), Fraction(4), Fraction(4), (), chords)
        for k, chords in enumerate(
            [((Fraction(0), c), (Fraction(2), f)), ((Fraction(0), c), (Fraction(2), f), (Fraction(2), g))]
        )
    ]
    (section,) = cut_into_sections(written, range(2)).sections
    found = [f"{span.chord}:{span.start}-{span.end}" for span in section.chords]
    assert found == ["C:0-2", "F:2-4", "C:4-6", "G:6-8"]
