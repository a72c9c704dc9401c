"""Notes and chords in bars: pickups, silent bars that fill a phrase, names, remarks, bars of other lengths."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.model import MOST_BARS, MelodyNote
from companion.chart.remarks import Remark
from companion.errors import ChartError
from companion.music.chords import parse_chord
from companion.music.meter import Metre
from companion.music.pitch import pitch_in_key
from companion.transcribe.barring import Heading, in_bars

F = Fraction
FOUR, SIX = Metre(4, 4), Metre(6, 8)


def notes(*beats: str | int, length: str | int = 1) -> list[MelodyNote]:
    return [MelodyNote(F(beat), F(length), pitch_in_key(60 + n)) for n, beat in enumerate(beats)]


def bars(*beats: str | int, metre: Metre = FOUR, **more: object) -> list[tuple[str, F, list[F]]]:
    """Number and length of each bar, and where in it its notes begin."""
    found = in_bars(notes(*beats), more.pop("chords", ()), metre, **more)  # type: ignore[arg-type]
    return [(bar.number, bar.length, [head.beat for head in bar.notes]) for bar in found]


@pytest.mark.parametrize(
    ("metre", "first", "pickup"),
    [
        (FOUR, "-1", 1),
        (FOUR, "-1/2", "1/2"),
        (FOUR, "-1/4", "1/2"),  # as long as its notes ask for, in whole beats or halves of one
        (FOUR, "-1/3", "1/2"),
        (FOUR, "-7/2", "7/2"),
        (SIX, "-1/2", "1/2"),
        (SIX, "-1", 1),
        (SIX, "-3/4", 1),
    ],
)
def test_a_pickup_is_as_long_as_its_notes_ask_for(metre: Metre, first: str, pickup: str | int) -> None:
    found = in_bars(notes(first, 0, length="1/4"), (), metre)
    assert (found[0].number, found[0].length, found[0].nominal) == ("0", F(pickup), metre.bar)
    assert [head.beat for head in found[0].notes] == [F(first) + F(pickup)]
    assert [bar.number for bar in found] == ["0", "1"] and [head.beat for head in found[1].notes] == [0]


def test_a_pickup_of_more_than_a_bar_has_whole_bars_before_the_first() -> None:
    assert bars("-5", "-4", 0, 1) == [("0", 1, [0]), ("1", 4, [0]), ("2", 4, [0, 1])]
    assert bars("-4", 0) == [("1", 4, [0]), ("2", 4, [0])]
    shifted = in_bars(notes("-9", 0), [(F(-9), parse_chord("C")), (F(0), parse_chord("F"))], FOUR, bars=2,
                      headings=[Heading(F(0), "A")], remarks={0: [Remark("x")], 1: [Remark("y")]})  # fmt: skip
    assert [bar.marks.heading for bar in shifted] == [None, None, None, "A", None]
    assert [[said.what for said in bar.remarks] for bar in shifted] == [[], [], ["x"], ["y"], []]
    assert [[(at, str(chord)) for at, chord in bar.chords] for bar in shifted] == [[], [(0, "C")], [], [(0, "F")], []]


@pytest.mark.parametrize(("last", "count"), [(0, 1), (3, 1), (4, 2), (7, 2), (8, 4), (12, 4), (16, 5), (24, 8)])
def test_a_tune_that_lacks_one_bar_of_a_phrase_of_four_has_it_silent(last: int, count: int) -> None:
    assert len(bars(0, last)) == count


def test_there_are_as_many_bars_as_are_asked_for_or_the_notes_and_chords_need() -> None:
    assert len(bars(0, 9, bars=3)) == 3 and len(bars(0, bars=6)) == 6 and len(bars(bars=0)) == 1
    assert len(bars()) == 1
    c = parse_chord("C")
    assert len(bars(0, chords=[(F(3), c)])) == 1 and len(bars(0, chords=[(F(4), c)])) == 2, "a chord needs a beat"
    assert len(bars(0, chords=[(F(7, 2), c)])) == 2
    lengths = [F(3), F(5)]
    assert bars(0, 3, 8, lengths=lengths) == [("1", 3, [0]), ("2", 5, [0]), ("3", 4, [0]), ("4", 4, [])]


def test_before_the_first_chord_there_is_none() -> None:
    c = parse_chord("C")
    later, at_once, early = (in_bars(notes(0), [(F(beat), c)], FOUR)[0].chords for beat in (1, 0, -1))
    assert [(at, str(chord)) for at, chord in later] == [(0, "N.C."), (1, "C")]
    assert [(at, str(chord)) for at, chord in at_once] == [(at, str(chord)) for at, chord in early] == [(0, "C")]


def test_there_are_no_more_bars_than_a_chart_may_have() -> None:
    assert len(bars(0, bars=MOST_BARS)) == MOST_BARS
    with pytest.raises(ChartError, match=f"has more than {MOST_BARS} bars"):
        bars(0, bars=MOST_BARS + 1)
