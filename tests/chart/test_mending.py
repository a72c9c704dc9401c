"""Slips of the pen are read as a musician would read them, and said in one line with the bar (common practice)."""

# ruff: noqa: E501 (rows stand whole in the tables)

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from companion.chart.imported import report, write_imported
from companion.chart.mending import kept_metre, mended
from companion.chart.toml.read import parse_toml
from companion.chart.written import BarMarks, NoteHead, WrittenBar
from companion.errors import ChartError
from companion.load import import_file
from companion.music.meter import Metre
from companion.music.pitch import Pitch

Write = Callable[..., Path]
C, D, E, F, G = "C4", "D4", "E4", "F4", "G4"


def read(path: Path) -> tuple[str, list[str]]:
    """The letters of the bars in the order of playing, one a bar, and what is said."""
    imported = import_file(path)
    form = imported.chart.unfold()
    assert parse_toml(write_imported(imported)).unfold().melody == form.melody, "what is mended can be kept"
    return "".join(str(note.pitch)[0] for note in form.melody), report(imported)


def bar(ink: Any, note: str, left: tuple[str, ...] = (), right: tuple[str, ...] = ()) -> str:
    """A bar of one note, with what stands on its bar lines."""
    inside = ink.chord("C") + ink.note(note, 4)
    return (ink.left(*left) if left else "") + inside + (ink.right(*right) if right else "")


def ending(ink: Any, note: str, number: str, *right: str) -> str:
    return bar(ink, note, (ink.ending(number, "start"),), (*right, ink.ending(number, "stop")))


def test_a_first_ending_without_its_repeat_sign_leads_back(written: Write, ink: Any) -> None:
    bars = [bar(ink, C), bar(ink, D), ending(ink, E, "1"), ending(ink, F, "2"), bar(ink, G)]
    played, said = read(written(bars))
    assert played == "CDECDFG"
    assert said == ["bar 3 (section A1, bar 3): an ending without its repeat sign, read with one"]


def test_a_first_ending_that_is_not_drawn_to_its_end_reaches_the_second(written: Write, ink: Any) -> None:
    first = bar(ink, D, (ink.ending("1", "start"),))
    played, said = read(written([bar(ink, C), first, bar(ink, E), ending(ink, F, "2"), bar(ink, G)]))
    assert played == "CDECFG"
    assert [line.partition(" ")[2][:1] for line in said] == ["3"]


def test_a_lone_first_ending_without_its_repeat_sign_is_left_out_the_second_time(written: Write, ink: Any) -> None:
    played, said = read(written([bar(ink, C), ending(ink, D, "1"), bar(ink, E), bar(ink, F)]))
    assert played == "CDCEF" and len(said) == 1


def test_a_first_ending_from_which_one_leaps_back_needs_no_repeat_sign(written: Write, ink: Any) -> None:
    first = ending(ink, D, "1").replace("<note>", ink.words("D.C.") + "<note>", 1)
    assert not any("repeat sign" in line for line in read(written([bar(ink, C), first, ending(ink, E, "2")]))[1])


@pytest.mark.parametrize("double", [True, False])
def test_a_repeat_that_is_never_closed_goes_to_the_double_bar_or_the_end(
    written: Write, ink: Any, double: bool
) -> None:
    ends = (ink.double,) if double else ()
    bars = [bar(ink, C), bar(ink, D, (ink.repeat,)), bar(ink, E, (), ends), bar(ink, F)]
    played, said = read(written(bars))
    assert played == ("CDEDEF" if double else "CDEFDEF")
    last = 3 if double else 4
    assert any("bar 2" in line and f"never closed, read to the end of bar {last}" in line for line in said)


def test_a_repeat_that_is_never_closed_goes_to_the_next_one(written: Write, ink: Any) -> None:
    bars = [bar(ink, C, (ink.repeat,)), bar(ink, D), bar(ink, E, (ink.repeat,)), bar(ink, F, (), (ink.back,))]
    played, said = read(written(bars))
    assert played == "CDCDEFEF"
    assert len(said) == 1 and "bar 2" in said[0]


@pytest.mark.parametrize(("first", "second"), [("1", "1"), ("2", "3"), ("2", "1"), ("2", "2")])
def test_endings_misnumbered_are_taken_in_the_order_of_the_page(
    written: Write, ink: Any, first: str, second: str
) -> None:
    bars = [bar(ink, C), ending(ink, D, first, ink.back), ending(ink, E, second), bar(ink, F)]
    played, said = read(written(bars))
    assert played == "CDCEF"
    assert len(said) == 1
    assert said[0].endswith(f"endings numbered {first} and {second}, taken in the order of the page")
    assert said[0].startswith("bar 2 ")


def test_three_endings_of_which_two_are_numbered_alike(written: Write, ink: Any) -> None:
    ends = [ending(ink, note, number, ink.back) for note, number in ((D, "1"), (E, "2"))]
    assert read(written([bar(ink, C), *ends, ending(ink, F, "2"), bar(ink, G)]))[0] == "CDCECFG"


@pytest.mark.parametrize("how", ['implicit="yes" ', 'number="0" '])
def test_a_full_bar_that_is_not_counted_is_a_pickup(written: Write, ink: Any, how: str) -> None:
    """W3C MusicXML 4.0, measure: pickups are not counted, as ``implicit`` says; many programs number them 0."""
    pickup = ink.rest(2) + ink.note("G4", 1) + ink.note("B4", 1)
    path = written([pickup, bar(ink, C), bar(ink, D), bar(ink, E, (), (ink.back,))])
    old = '<measure number="1">'
    new = f'<measure {how}number="1">' if "implicit" in how else f"<measure {how.strip()}>"
    path.write_text(path.read_text(encoding="utf-8").replace(old, new, 1), encoding="utf-8")
    imported = import_file(path)
    form = imported.chart.unfold()
    assert [(float(n.beat), str(n.pitch)) for n in form.melody[:3]] == [(-2, "G4"), (-1, "B4"), (0, "C4")]
    assert len(form.bars) == 6 and "a full bar of pickup" in report(imported)[0]


def test_a_first_bar_with_a_metre_of_its_own_is_a_pickup(written: Write, ink: Any) -> None:
    change = "<attributes><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    bars = [ink.note("G4", 1), change + bar(ink, C), bar(ink, D), bar(ink, E)]
    imported = import_file(written(bars, ink.attributes(time="1/4")))
    form = imported.chart.unfold()
    assert form.metre == Metre(4, 4) and form.bars == (0, 4, 8)
    assert float(form.melody[0].beat) == -1
    assert report(imported) == ["bar 1 (section A, pickup): a pickup, though it has a time signature of its own"]


def test_a_time_signature_that_no_bar_keeps_to_gives_way(written: Write, ink: Any) -> None:
    bars = [bar(ink, note) for note in (C, D, E, F, G, C, D, E)]
    imported = import_file(written(bars, ink.attributes(time="3/4")))
    assert imported.chart.metre == Metre(4, 4)
    assert imported.chart.unfold().bars == tuple(4 * n for n in range(8))
    said = "bar 1 (section A, bar 1): the time signature says 3/4, but the bars last as in 4/4, and are read so"
    assert report(imported) == [said]


def test_bars_that_keep_to_a_metre_which_no_chart_has_are_refused_when_they_are_read(written: Write, ink: Any) -> None:
    bars = [ink.chord("C") + ink.note(note, 36) for note in (C, D, E, F, G, C)]
    with pytest.raises(ChartError, match="a metre of 36/4"):
        import_file(written(bars))


def test_the_same_slips_are_mended_in_abc(tmp_path: Path) -> None:
    """Endings and repeats: The ABC Music Standard 2.1, sections 4.8 to 4.10."""
    head = "X:1\nT:A trial\nM:4/4\nL:1/4\nK:C\n"
    for music, expected in (('"C"C4|[1 D4|[2 E4|]', "CDCE"), ('"C"C4|:D4|E4||F4|]', "CDEDEF")):
        path = tmp_path / "tune.abc"
        path.write_text(head + music + "\n", encoding="utf-8")
        played, said = read(path)
        assert played == expected and len(said) == 1


# slips, bar by bar: without a file

SIGNS = {
    "[": {"repeat_start": True}, "]": {"repeat_end": 2}, "/": {"ending_stops": True}, "|": {"double_bar": True},
    "a": {"ending": (1,)}, "b": {"ending": (2,)}, "c": {"ending": (3,)}, "C": {"jump": "capo"}, "f": {"fine": True},
    "t": {"to_coda": True}, ".": {},
}  # fmt: skip
"""A letter or sign for each mark of a bar."""


def page(signs: str) -> list[WrittenBar]:
    bars = []
    for number, bar_signs in enumerate(signs.split(), 1):
        told: dict[str, Any] = {}
        for sign in bar_signs:
            told |= SIGNS[sign]
        note = NoteHead(Fraction(0), Fraction(4), Pitch("C", 0, 5))
        bars.append(WrittenBar(str(number), Fraction(4), Fraction(4), (note,), marks=BarMarks(**told)))
    return bars


def signs_of(bars: Sequence[WrittenBar]) -> str:
    """The marks of a page again, and behind each bar of which something is said a '!'."""
    told = []
    for bar in bars:
        marks = bar.marks
        text = "".join(
            sign for sign, one in SIGNS.items() if one and all(getattr(marks, k) == v for k, v in one.items())
        )
        told.append((text or ".") + "!" * len(bar.remarks))
    return " ".join(told)


@pytest.mark.parametrize(
    ("signs", "meant"),
    [
        (". a/ b/ .", ". ]/a! /b ."), (". a/] b/ .", ". ]/a /b ."), (". a . b/ .", ". a ]/! /b ."), (". a/ . .", ". ]/a! . ."),
        (". b/ . .", ". /b . ."), (". a/ [ b/ .", ". ]/a! [! /b ]"), (". a/ [b/ .", ". ]/a! [/b! ]"),
        (". a/C b/ .", ". /aC /b ."), (". a/f b/ .", ". /af /b ."), (". a/t b/ .", ". /at /b ."), (". a/] b/ c/ .", ". ]/a ]/b! /c ."),
        (". a/] b/] c/ .", ". ]/a ]/b /c ."), (". a/] a/ .", ". ]/a! /b ."), (". b/] c/ .", ". ]/a! /b ."), (". a/] b/] b/ .", ". ]/a! ]/b /c ."),
        (". a/] . b/ .", ". ]/a . /b ."), (". a/] b/ [ a/] b/", ". ]/a /b [ ]/a /b"), (". [ . |", ". [! . ]|"),
        ("[ . | .", "[! . ]| ."), ("[ . C .", "[! . ]C ."), ("[ . [ ] .", "[! ] [ ] ."), ("[ . ] .", "[ . ] ."), ("[ .", "[! ]"), ("[", "[]!"),
        (". a/] [b/ .", ". ]/a [/b! ]"), (". b/] [c/] .", ". ]/b []/c ."), (". a/] b/ [a/] b/", ". ]/a /b []/a /b"),
    ],
)  # fmt: skip
def test_signs_as_they_are_meant(signs: str, meant: str) -> None:
    assert signs_of(mended(page(signs))) == meant


def metred(*bars: tuple[float, float], uncounted: bool = False) -> list[WrittenBar]:
    """Bars of a length, each with what its metre asks for."""
    note = (NoteHead(Fraction(0), Fraction(1), Pitch("C", 0, 5)),)
    made = [WrittenBar(str(k), Fraction(a), Fraction(b), note) for k, (a, b) in enumerate(bars)]
    return [replace(made[0], uncounted=uncounted), *made[1:]]


@pytest.mark.parametrize(
    ("bars", "nominal"),
    [
        ([(1, 1), (4, 4), (4, 4)], 4), ([(1, 1), (4, 4)], 1), ([(1, 2), (4, 4), (4, 4)], 4), ([(2, 1), (4, 4), (4, 4)], 1),
        ([(1, 1), (4, 4), (1, 1)], 1), ([(4, 4), (3, 3), (3, 3)], 4), ([(3, 3), (3, 4), (4, 4)], 4),
        ([(4, 5), (4, 4), (4, 4)], 5), ([(1, 1), (4, 4), (3, 3)], 4),
    ],
)  # fmt: skip
def test_a_first_bar_with_a_shorter_metre_than_all_others_is_a_pickup(
    bars: list[tuple[float, float]], nominal: int
) -> None:
    found = mended(metred(*bars))
    assert found[0].nominal == nominal and len(found[0].remarks) == (nominal != bars[0][1])


@pytest.mark.parametrize(
    ("bars", "uncounted", "pickup"),
    [
        ([(4, 4)] * 3, True, True), ([(4, 4)] * 3, False, False), ([(4, 4)] * 2, True, False), ([(3, 4), (4, 4), (4, 4)], True, False),
    ],
)  # fmt: skip
def test_a_full_first_bar_that_is_not_counted_is_a_pickup(
    bars: list[tuple[float, float]], uncounted: bool, pickup: bool
) -> None:
    found = mended(metred(*bars, uncounted=uncounted))
    assert (found[0].pickup, len(found[0].remarks)) == (pickup, int(pickup))
    silent = [replace(metred(*bars, uncounted=uncounted)[0], notes=()), *metred(*bars)[1:]]
    assert not mended(silent)[0].pickup


def test_a_repeat_to_the_beginning_leaves_a_full_pickup_out() -> None:
    for signs, start in ((". . ]", True), (". . ] [ ]", True), ("[ . ]", False), (". [ ]", True), (". . .", False)):
        bars = page(signs)
        assert mended([replace(bars[0], uncounted=True), *bars[1:]])[1].marks.repeat_start is start


def test_a_bar_that_a_repeat_now_leads_back_to_keeps_its_own_signs() -> None:
    first, second, last = page(". . ]")
    marked = [replace(first, uncounted=True), replace(second, marks=BarMarks(segno=True)), last]
    assert mended(marked)[1].marks == BarMarks(segno=True, repeat_start=True)


@pytest.mark.parametrize(
    ("lengths", "metre", "meant"),
    [
        ([1, 4, 4, 4, 4, 3], "3/4", "4/4"), ([4, 4, 4, 4, 4], "3/4", "3/4"), ([3] * 6, "3/4", "3/4"), ([1] + [2.5] * 4 + [1], "4/4", "5/8"),
        ([1] + [3.75] * 4 + [1], "4/4", "15/16"), ([1] + [0.375] * 4 + [1], "4/4", "3/32"), ([1] + [0.1875] * 4 + [1], "4/4", "4/4"),
        ([1] + [4] * 9 + [3, 1], "3/4", "4/4"), ([1] + [4] * 8 + [3, 1], "3/4", "3/4"),
    ],
)  # fmt: skip
def test_nine_bars_of_ten_between_the_first_and_the_last_tell_the_metre(
    lengths: list[float], metre: str, meant: str
) -> None:
    beats, _, kind = metre.partition("/")
    said = Metre(int(beats), int(kind))
    bars, found = kept_metre(metred(*((length, float(said.bar)) for length in lengths)), said)
    assert str(found) == meant and {bar.nominal for bar in bars} == {found.bar}
    assert len(bars[0].remarks) == (meant != metre)


def test_a_metre_that_changes_on_the_way_is_meant() -> None:
    bars = metred((4, 3), *[(4, 3)] * 5, (4, 4))
    assert kept_metre(bars, Metre(3, 4)) == (tuple(bars), Metre(3, 4))
    empty = [replace(bar, notes=()) for bar in metred(*[(4, 3)] * 6)]
    assert kept_metre(empty, Metre(3, 4))[1] == Metre(3, 4)
