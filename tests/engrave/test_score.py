"""What stands on the page, before any file format."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest

from companion.arrange.part import Note
from companion.chart.model import Chart, FormSection
from companion.engrave.score import _within, at_place, lead_sheet, metre_of, pickup_bars, sheet, written_bar
from companion.engrave.sheet import Sheet
from companion.engrave.voices import spans_by_voice
from companion.errors import ChartError
from companion.music.pitch import Pitch

if TYPE_CHECKING:
    from tests.conftest import Stand


def test_a_pickup_stands_in_a_short_bar_before_the_first(ferry: Chart) -> None:
    bars = written_out(ferry).bars
    assert (bars[0].number, bars[0].length) == (0, 1)
    assert [bar.number for bar in bars[1:]] == list(range(1, len(ferry.unfold().bars) + 1))


def written_out(chart: Chart) -> Sheet:
    """A chart whose sections all differ, so that nothing is folded: the arrangement of its bass."""
    form = chart.unfold()
    notes = [Note(at, Fraction(1), Pitch("CDEFG"[k % 5], 0, 3), "bass", "left") for k, at in enumerate(form.bars)]
    pickup = Note(Fraction(-1), Fraction(1), Pitch("A", 0, 2), "bass", "left")
    return sheet(chart, form, [pickup, *notes], (2,))


def test_every_section_has_its_letter_a_double_bar_and_a_line_of_its_own(ferry: Chart) -> None:
    bars = written_out(ferry).bars
    headed = [bar for bar in bars if bar.heading]
    assert [bar.heading for bar in headed] == list(ferry.form)
    assert all(bar.new_line for bar in headed[1:])
    assert [bars[k - 1].double for k, bar in enumerate(bars) if bar.heading][1:] == [True] * (len(ferry.form) - 1)


def test_the_hands_stand_on_their_own_staves(ferry: Chart, arranged: Callable[[Chart], Sheet]) -> None:
    voices = {(voice.staff, voice.number) for bar in arranged(ferry).bars for voice in bar.voices}
    assert voices == {(1, 1), (1, 2), (2, 6)}


def test_a_silent_voice_leaves_no_rests_beside_one_that_sounds(
    shipped: Chart, arranged: Callable[[Chart], Sheet]
) -> None:
    for bar in arranged(shipped).bars:
        right = [voice for voice in bar.voices if voice.staff == 1 and not voice.hidden]
        assert right and (len(right) == 1 or all(any(h.pitches for h in voice.heads) for voice in right))


def test_a_bass_note_struck_short_is_written_up_to_the_next(ferry: Chart) -> None:
    form = ferry.unfold()
    pitch = Pitch("G", 0, 2)
    notes = [Note(Fraction(k), Fraction(9, 10), pitch, "bass", hand="left") for k in range(4)]
    (voice,) = sheet(ferry, form, notes, (2,)).bars[0].voices
    assert [(head.value, head.dots) for head in voice.heads] == [("quarter", 0)] * 4


def test_a_root_held_by_the_pedal_has_its_signs(ferry: Chart) -> None:
    form = ferry.unfold()
    pitch = Pitch("G", 0, 2)
    notes = [Note(Fraction(4 * k), Fraction(4), pitch, "bass", hand="left", pedal=k < 2) for k in range(3)]
    bars = sheet(ferry, form, notes, (2,)).bars
    assert [bar.pedals for bar in bars[:3]] == [((0, "first"), (4, "stop")), ((0, "start"), (4, "stop")), ()]


# bars and their time signatures, by worked examples


@pytest.mark.parametrize(
    ("length", "metre"),
    [
        (Fraction(4), "4/4"), (Fraction(3), "3/4"), (Fraction(1), "1/4"), (Fraction(7, 2), "7/8"),
        (Fraction(3, 2), "3/8"), (Fraction(5, 4), "5/16"), (Fraction(1, 8), "1/32"), (Fraction(3, 16), "3/64"),
        (Fraction(1, 3), "5/64"),  # none says it, and a check tells
    ],
)  # fmt: skip
def test_a_bar_s_time_signature_has_the_largest_beat_that_says_its_length(length: Fraction, metre: str) -> None:
    found = metre_of(length)
    assert f"{found.beats}/{found.beat_type}" == metre


@pytest.mark.parametrize(
    ("first", "bars"),
    [
        (Fraction(0), []),
        (Fraction(1), []),
        (Fraction(-1), [(0, -1, 1)]),
        (Fraction(-1, 2), [(0, Fraction(-1, 2), Fraction(1, 2))]),
        (Fraction(-3, 2), [(0, Fraction(-3, 2), Fraction(3, 2))]),
        (Fraction(-1, 3), [(0, -1, 1)]),  # the rest of a triplet belongs to it
        (Fraction(-4, 3), [(0, -2, 2)]),
        (Fraction(-4), [(0, -4, 4)]),
        (Fraction(-5), [(-1, -5, 1), (0, -4, 4)]),
        (Fraction(-9, 2), [(-1, Fraction(-9, 2), Fraction(1, 2)), (0, -4, 4)]),
        (Fraction(-8), [(-1, -8, 4), (0, -4, 4)]),
        (Fraction(-10), [(-2, -10, 2), (-1, -8, 4), (0, -4, 4)]),
    ],
)
def test_a_pickup_is_as_long_as_its_notes_need(
    ferry: Chart, first: Fraction, bars: list[tuple[int, Fraction, Fraction]]
) -> None:
    assert pickup_bars(ferry.unfold(), first) == bars


@pytest.mark.parametrize(
    ("number", "length", "metre", "values"),
    [
        (0, Fraction(5, 2), "4/4", "eighth half"),  # the end of a bar, whose middle is seen
        (-1, Fraction(5, 2), "4/4", "eighth half"),
        (1, Fraction(3, 2), "3/8", "quarter."),
        (0, Fraction(4), "4/4", "whole"),
        (1, Fraction(4), "4/4", "whole"),
        (1, Fraction(2), "2/4", "half"),
        (0, Fraction(2), "4/4", "half"),
        (0, Fraction(6), "6/4", "whole."),
    ],
)
def test_a_short_bar_before_the_form_is_the_end_of_one_and_any_other_has_a_metre_of_its_own(
    ferry: Chart, number: int, length: Fraction, metre: str, values: str
) -> None:
    held = spans_by_voice([Note(Fraction(0), length, Pitch("C", 0, 5), "melody")], (1,))
    found, (voice,) = written_bar(held, ferry.unfold(), number, Fraction(0), length, (1,))
    assert f"{found.beats}/{found.beat_type}" == metre
    assert " ".join(head.value + "." * head.dots for head in voice.heads) == values


@pytest.mark.parametrize(
    ("chords", "printed"),
    [
        ("| C | F | G | C |", {1: "C", 2: "F", 3: "G", 4: "C"}),
        ("| N.C. | N.C. | C | N.C. |", {1: "N.C.", 3: "C", 4: "N.C."}),
        ("| C | N.C. | N.C. | C |", {1: "C", 2: "N.C.", 4: "C"}),
        ("| N.C. | N.C. | N.C. | N.C. |", {}),
        ("| C F | G | C | C |", {1: "C F", 2: "G", 3: "C", 4: "C"}),
    ],
)
def test_that_there_is_no_chord_is_said_once_and_not_bar_by_bar(
    stand: Stand, chords: str, printed: dict[int, str]
) -> None:
    bars = lead_sheet(stand.chart((chords, "| C8 | D8 | E8 | F8 |"))).bars
    assert {bar.number: " ".join(str(chord) for _, chord in bar.chords) for bar in bars if bar.chords} == printed
    assert all(beat in (0, 2) for bar in bars for beat, _ in bar.chords)


@pytest.mark.parametrize(
    ("start", "where"),
    [
        (-4, "pickup"), (0, "section A, bar 1"), (4, "section A, bar 2"), (8, "section B, bar 1"),
        (12, "section B, bar 2"), (16, "pickup"),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_bar_is_said_with_its_section_and_its_bar_there(start: int, where: str) -> None:
    places = [FormSection(name, Fraction(8 * k), Fraction(8 * k + 8)) for k, name in enumerate("AB")]
    bars = [(k + 1, Fraction(4 * k), Fraction(4)) for k in range(-1, 4)]
    with pytest.raises(ChartError) as error, at_place(places, bars, Fraction(start)):
        raise ChartError("is wrong")
    assert error.value.where == where


def test_a_note_over_bar_lines_is_tied_on_and_back_in_each_of_its_bars(ferry: Chart) -> None:
    held = spans_by_voice([Note(Fraction(2), Fraction(8), Pitch("C", 0, 5), "melody")], (1,))
    ties = []
    for number in range(4):
        _, (voice,) = written_bar(held, ferry.unfold(), number + 1, Fraction(4 * number), Fraction(4), (1,))
        ties.append([(float(h.start), h.value, h.tied_back, h.tied_on) for h in voice.heads if h.pitches])
    assert ties == [[(2, "half", False, True)], [(0, "whole", True, True)], [(0, "half", True, False)], []]


def test_a_silent_bar_rests_in_the_melodys_voice_or_in_the_chords_where_there_is_no_melody(ferry: Chart) -> None:
    chord = Note(Fraction(0), Fraction(4), Pitch("E", 0, 4), "chords", "right")
    tune = Note(Fraction(0), Fraction(4), Pitch("C", 0, 5), "melody")
    later = Note(Fraction(4), Fraction(4), Pitch("E", 0, 4), "chords", "right")

    def voices(*notes: Note) -> list[tuple[int, int, bool]]:
        _, found = written_bar(spans_by_voice(notes, (1, 2)), ferry.unfold(), 2, Fraction(4), Fraction(4), (1, 2))
        return [(voice.staff, voice.number, voice.hidden) for voice in found]

    assert voices(chord) == [(1, 2, False), (2, 6, False)]
    assert voices(tune) == voices(tune, chord) == [(1, 1, False), (2, 6, False)]
    assert voices(tune, later) == [(1, 1, True), (1, 2, False), (2, 6, False)]
    assert voices(later) == [(1, 2, False), (2, 6, False)]


def test_a_sign_that_ends_with_a_bar_stands_in_it_and_one_that_begins_there_in_the_next() -> None:
    signs = tuple((Fraction(beat), what) for beat, what in ((0, "start"), (4, "stop"), (4, "start"), (6, "stop")))
    assert _within(signs, Fraction(0), Fraction(4)) == ((0, "start"), (4, "stop"))
    assert _within(signs, Fraction(4), Fraction(4)) == ((0, "start"), (2, "stop"))


def test_a_chart_without_a_melody_has_slashes(stand: Stand) -> None:
    assert lead_sheet(stand.chart(("| C | F |", "| z8 | z8 |"))).slashes
    assert not lead_sheet(stand.chart(("| C | F |", "| C8 | z8 |"))).slashes
