"""What stands on the page, before any file format."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from companion.arrange.part import Note
from companion.chart.model import Chart
from companion.engrave.score import sheet
from companion.engrave.sheet import Sheet
from companion.music.pitch import Pitch


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
