"""Which hand and voice a note belongs to, and what it lasts on paper."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.arrange.part import Note
from companion.engrave.values import write_bar
from companion.engrave.voices import BASS, CHORDS, MELODY, OPEN, OTTAVA, OTTAVA_BASSA, octaves, pedals, spans_by_voice
from companion.music.meter import Metre
from companion.music.pitch import pitch_in_key


def note(midi: int, beat: float, length: float, part: str = "chords", hand: str = "right", pedal: bool = False) -> Note:
    return Note(Fraction(beat), Fraction(length), pitch_in_key(midi), part, hand=hand, pedal=pedal)


def test_an_open_chord_is_shared_between_the_hands_above_the_bass() -> None:
    notes = [note(36, 0, 4, "bass", "left"), note(52, 1, 3, hand="left"), note(67, 1, 3)]
    found = spans_by_voice(notes, (1, 2))
    assert [len(found[place]) for place in (BASS, OPEN, CHORDS)] == [1, 1, 1]
    assert spans_by_voice(notes, (1,)).keys().isdisjoint({BASS, OPEN})


def test_a_chord_is_tied_to_itself_with_the_note_that_comes_late_to_it() -> None:
    notes = [note(60, 0, 3), note(64, 0, 3), note(69, 0, 3), note(67, 1, 2), note(62, 4, 1)]
    found = spans_by_voice(notes, (1,))[CHORDS]
    assert [(s.start, s.end, [p.midi for p in s.pitches]) for s in found] == [
        (0, 1, [60, 64, 69]), (1, 3, [60, 64, 67, 69]), (4, 5, [62]),
    ]  # fmt: skip
    assert found[0].tied_on and found[1].tied_back
    assert [pitch.midi for pitch in found[1].joining] == [67]


def test_a_late_note_has_no_tie_before_it_wherever_its_chord_is_cut() -> None:
    notes = [note(60, 0, 4), note(64, 0, 4), note(67, 1, 3)]
    heads = write_bar(spans_by_voice(notes, (1,))[CHORDS], Fraction(4), Metre())
    late = [[head.held_over(pitch) for pitch in head.pitches if pitch.midi == 67] for head in heads]
    assert late == [[], [False], [True]]  # a quarter, a quarter and a half: the middle of the bar is seen


def test_the_pedal_is_changed_with_the_harmony_and_not_with_each_note_it_gathers() -> None:
    rising = [note(m, b, 1, "bass", "left", pedal=True) for m, b in ((36, 0), (43, 1), (52, 2), (41, 4), (48, 5))]
    signs = pedals(rising, [Fraction(0), Fraction(4)])
    assert signs == [(0, "first"), (3, "stop"), (4, "first"), (6, "stop")]
    held = [note(36, 0, 4, "bass", "left", pedal=True), note(41, 4, 4, "bass", "left", pedal=True)]
    assert pedals(held, [Fraction(0), Fraction(4)]) == [(0, "first"), (4, "stop"), (4, "start"), (8, "stop")]


@pytest.mark.parametrize(
    ("bass", "signs"),
    [
        ([28, 29, 31, 32, 31, 29, 28, 31], [(0, "start"), (8, "stop")]),
        ([40, 28, 43, 45, 43, 41, 40, 43], []),  # one low note has ledger lines
        ([45, 28, 29, 31, 32, 31, 29, 45], [(1, "start"), (7, "stop")]),
        ([33, 33, 31, 33, 33, 33, 31, 33], [(0, "start"), (8, "stop")]),  # A1: its third ledger line
        ([34, 35, 36, 38, 36, 35, 34, 35], []),  # two ledger lines are read as they stand
        ([33, 33, 33, 33, 45, 33], []),  # four in a row, and one alone
        ([33, 33, 33, 33, 41, 33], [(0, "start"), (6, "stop")]),  # F2 may stand between them
        ([33, 33, 33, 33, 42, 33], []),  # F sharp 2 would stand above the staff's upper half
        ([33, 33, 33, 40, 40, 33, 33], [(0, "start"), (7, "stop")]),  # two between them
        ([33, 33, 33, 40, 40, 40, 33, 33], []),  # three part them
    ],
)
def test_a_low_passage_is_written_an_octave_higher(bass: list[int], signs: list[tuple[int, str]]) -> None:
    notes = [note(midi, beat, 1, "bass", "left") for beat, midi in enumerate(bass)]
    assert octaves(spans_by_voice(notes, (2,)), [], OTTAVA_BASSA) == signs


@pytest.mark.parametrize(
    ("melody", "chords", "signs"),
    [
        ([88, 89, 91, 93, 91, 89, 88, 79], [], [(0, "start"), (7, "stop")]),  # E6: the third ledger line
        ([81, 83, 84, 86, 87, 86, 84, 83], [], []),
        ([87] * 8, [], []),
        ([88] * 5, [], [(0, "start"), (5, "stop")]),
        ([88] * 4, [], []),
        ([88, 88, 77, 88, 88, 88], [], [(0, "start"), (6, "stop")]),  # F5, the top line
        ([88, 88, 76, 88, 88, 88], [], []),
        ([88, 88, 80, 80, 88, 88, 88], [], [(0, "start"), (7, "stop")]),
        ([88, 88, 80, 80, 80, 88, 88, 88], [], []),
        ([88] * 8, [note(60, 0, 1), note(60, 6, 2)], [(1, "start"), (6, "stop")]),  # while nothing else sounds there
        ([88] * 8, [note(60, 4, 1)], []),
        ([88, 89, 91, 93, 91, 89, 88, 79], [note(60, 2, 2)], []),  # a chord below would be drawn down with it
    ],
)
def test_a_high_passage_is_written_an_octave_lower(
    melody: list[int], chords: list[Note], signs: list[tuple[int, str]]
) -> None:
    notes = [note(midi, beat, 1, "melody") for beat, midi in enumerate(melody)]
    assert octaves(spans_by_voice([*notes, *chords], (1,)), [], OTTAVA) == signs


@pytest.mark.parametrize(("rest", "passages"), [(3, 1), (4, 0)])
def test_a_passage_goes_on_over_a_rest_of_less_than_four_quarters(rest: int, passages: int) -> None:
    notes = [note(88, beat + rest * (beat > 2), 1, "melody") for beat in range(6)]
    found = octaves(spans_by_voice(notes, (1,)), [], OTTAVA)
    assert found == [(0, "start"), (6 + rest, "stop")] * passages


@pytest.mark.parametrize(
    ("beat", "length", "following", "end"),
    [
        (0, 3.75, 4, 4),  # less than a quaver's rest is touch
        (0, 3.5, 4, 3.5),
        (0, 2.25, 2.625, 2.625),  # up to the next, wherever that is
        (0, 2.25, 2.75, 2.5),
        (0, 2.25, None, 2.5),
        (0, 2.5, None, 2.5),
        (0, 3, None, 3),
        (1, 0.125, None, 1.5),
        (0, 5, 4, 4),  # nothing overlaps
    ],
)
def test_a_bass_note_lasts_up_to_the_next_or_to_the_half_beat(
    beat: float, length: float, following: float | None, end: float
) -> None:
    notes = [note(40, beat, length, "bass", "left"), *([note(41, following, 1, "bass", "left")] if following else [])]
    span = spans_by_voice(notes, (2,))[BASS][0]
    assert (span.start, span.end) == (beat, end)


def test_a_melody_s_lengths_are_the_chart_s() -> None:
    (span,) = spans_by_voice([note(72, 0, 2.25, "melody")], (1,))[MELODY]
    assert span.end == Fraction(9, 4)


def test_a_chord_that_comes_off_the_first_beat_is_no_late_note() -> None:
    (span,) = spans_by_voice([note(60, 0.5, 0.5), note(64, 0.5, 0.5)], (1,))[CHORDS]
    assert (span.start, span.end, len(span.pitches)) == (0.5, 1, 2)


def test_the_pedal_changes_with_every_harmony_and_once_for_notes_struck_together() -> None:
    notes = [note(36, b, 4, "bass", "left", pedal=True) for b in (0, 4, 8)]
    notes += [note(48, b, 2, "bass", "left", pedal=True) for b in (8, 9)]
    signs = pedals(notes, [Fraction(0), Fraction(4), Fraction(8)])
    assert signs == [(0, "first"), (4, "stop"), (4, "start"), (8, "stop"), (8, "start"), (12, "stop")]
    late = [note(36, 0, 4, "bass", "left", pedal=True), note(43, 5, 1, "bass", "left", pedal=True)]
    assert pedals(late, [Fraction(0)]) == [(0, "first"), (4, "stop"), (5, "first"), (6, "stop")]
    long = [note(36, 0, 6, "bass", "left", pedal=True), note(43, 4, 4, "bass", "left", pedal=True)]
    assert pedals(long, [Fraction(0), Fraction(4)]) == [(0, "first"), (4, "stop"), (4, "start"), (8, "stop")]


def test_a_low_passage_ends_with_its_section() -> None:
    notes = [note(28 + k % 4, k, 1, "bass", "left") for k in range(16)]
    found = octaves(spans_by_voice(notes, (2,)), [Fraction(0), Fraction(8)], OTTAVA_BASSA)
    assert found == [(0, "start"), (8, "stop"), (8, "start"), (16, "stop")]
