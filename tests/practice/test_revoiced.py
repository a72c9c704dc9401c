"""A passage of a take revoiced: in words by bar, and on the staff as it was played and after it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.engrave.musicxml_out import musicxml
from companion.engrave.sheet import RIGHT
from companion.errors import UseError
from companion.messages import Order
from companion.practice.alignment import Alignment
from companion.practice.judging import JudgedNote
from companion.practice.revoiced import RevoicedPassage, passage_lines, passage_sheet, revoiced_passage
from companion.practice.sweeps import Sweep

QUARTER = 0.5
CHORDS = frozenset({"chords"})


def chart(bars: str = "Dm7 | G7 | Cmaj7 | Cmaj7", melody: str = "") -> Chart:
    sung = f'\nmelody = """\n{melody}\n"""' if melody else ""
    return parse_toml(
        f'format = 1\ntitle = "Row of Pots"\nkey = "C major"\nform = "A"\n[section.A]\nchords = "| {bars} |"{sung}\n'
    )


def laid(chords: Sequence[Sequence[int]], *, choruses: int = 1) -> Alignment:
    """A chord on the first beat of each bar, time after time; an empty one is none."""
    notes = [
        JudgedNote(
            "right", 4.0 * bar, None, key, 2.0 + QUARTER * (4 * bar + 16 * chorus), None, "chords", chorus=chorus + 1
        )
        for chorus in range(choruses)
        for bar, keys in enumerate(chords)
        for key in keys
    ]
    whole = 16.0 * choruses
    sweep = Sweep(0.0, whole, ((0.0, 2.0), (whole, 2.0 + whole * QUARTER)))
    return Alignment((tuple(notes),), (sweep,), ())


BAD = [(53, 57, 60, 64), (53, 57, 59, 66), (53, 55, 59, 62), (52, 55, 59, 62)]
"""F sharp over G7, the fourth over Cmaj7."""


def revoiced(chords: Sequence[Sequence[int]], bars: tuple[int, int] = (1, 4), **more: object) -> RevoicedPassage:
    return revoiced_passage(chart().unfold(), laid(chords), bars, CHORDS, **more)  # type: ignore[arg-type]


def test_what_is_changed_is_said_bar_by_bar_with_its_reason() -> None:
    assert passage_lines(chart().unfold(), revoiced(BAD)) == [
        "bars 1 to 4, 2 notes changed",
        "bar 1, Dm7: as you played it",
        "bar 2, G7: E instead of F♯ (F♯ is no note of G7; E is held from bar 1)",
        "bar 3, Cmaj7: E instead of F (F clashes with Cmaj7 when held)",
        "bar 4, Cmaj7: as you played it",
    ]


def test_a_hand_that_leaps_is_told_to_turn_the_chord_over() -> None:
    found = revoiced([(53, 57, 60, 64), (59, 64, 65, 69), (52, 55, 59, 62), ()], (1, 3))
    assert passage_lines(chart().unfold(), found)[2] == (
        "bar 2, G7: F an octave lower and A an octave lower (the hand need not leap; F and A are held from bar 1)"
    )


def test_a_missing_seventh_is_put_in() -> None:
    found = revoiced([(53, 57, 64), (), (), ()], (1, 1))
    assert found.changes == 1
    assert passage_lines(chart().unfold(), found)[1].endswith("(its seventh was missing)")


def test_bars_in_which_nothing_is_wrong_need_no_change() -> None:
    found = revoiced([(53, 57, 60, 64), (53, 57, 59, 64), (), ()], (1, 2))
    assert passage_lines(chart().unfold(), found) == ["bars 1 to 2: nothing need be changed"]


def test_the_companions_bass_is_what_a_chord_stands_on() -> None:
    """The root is doubled only where a bass sounds with it."""
    rooted = [(50, 53, 57, 60), (), (), ()]
    bass = [Order(1.9, "bass", 0x90, 38, 70), Order(2.6, "bass", 0x80, 38, 0)]
    assert revoiced(rooted, (1, 1)).changes == 0
    found = revoiced(rooted, (1, 1), ours=bass, parts=("bass",))
    assert found.changes == 1 and "D (D is the bass's)" in passage_lines(chart().unfold(), found)[1]


def test_the_charts_melody_lies_over_the_chords() -> None:
    tune = chart(melody="d8 | z8 | z8 | z8 |")
    form = tune.unfold()
    with_it = revoiced_passage(form, laid([(57, 60, 64, 65), (), (), ()]), (1, 1), frozenset({"melody", "chords"}))
    (one,) = with_it.chords
    assert one.chord.played.around.melody == (74,)
    behind_a_solo = revoiced_passage(form, laid([(57, 60, 64, 65), (), (), ()]), (1, 1), CHORDS)
    assert behind_a_solo.chords[0].chord.played.around.melody == ()


def test_of_several_times_through_the_last_one_counts() -> None:
    found = revoiced_passage(chart().unfold(), laid(BAD, choruses=2), (2, 2), CHORDS)
    assert [one.place for one in found.chords] == [Fraction(4)]
    assert found.chords[0].chord.played.beat == pytest.approx(20.0)


def test_what_was_begun_again_counts_as_it_was_played_then() -> None:
    first, second = laid(BAD), laid([(53, 57, 60, 64), (53, 57, 59, 64), (), ()])
    later = [replace(note, seconds=(note.seconds or 0.0) + 6.0) for note in second.judged[0]]
    begun = [note for note in first.judged[0] if note.chart_beat < 8]
    sweeps = (
        Sweep(0.0, 8.0, ((0.0, 2.0), (8.0, 6.0))),
        Sweep(0.0, 8.0, ((0.0, 8.0), (8.0, 12.0))),
    )
    found = revoiced_passage(chart().unfold(), Alignment((tuple(begun), tuple(later)), sweeps, ()), (1, 2), CHORDS)
    assert [one.chord.played.midi for one in found.chords] == [(53, 57, 60, 64), (53, 57, 59, 64)]
    assert found.changes == 0


def test_bars_that_there_are_not_or_without_a_chord_are_said() -> None:
    with pytest.raises(UseError, match="there is no bar 9"):
        revoiced(BAD, (1, 9))
    with pytest.raises(UseError, match="you struck no chord in bar 2"):
        revoiced([BAD[0], (), (), ()], (2, 2))


def test_on_the_staff_the_bars_stand_as_they_were_played_and_after_that_changed() -> None:
    sheet = passage_sheet(chart(), revoiced(BAD), CHORDS)
    assert [(bar.number, bar.heading) for bar in sheet.bars if bar.heading] == [
        (1, "as you played it"),
        (1, "with the fewest changes"),
    ]
    struck = [
        tuple(pitch.midi for voice in bar.voices if voice.staff == RIGHT for pitch in voice.heads[0].pitches)
        for bar in sheet.bars
    ]
    assert struck[:4] == BAD
    assert struck[4:] == [BAD[0], (53, 57, 59, 64), (52, 55, 59, 62), BAD[3]]
    assert "F" in musicxml(sheet) and sheet.title == "Row of Pots, bars 1 to 4"
