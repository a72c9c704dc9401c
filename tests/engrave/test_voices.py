"""Which hand and voice a note belongs to, what it lasts on paper, and what is left unprinted."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.arrange.part import Note
from companion.engrave.sheet import Voice
from companion.engrave.values import VoiceSpan, write_bar
from companion.engrave.voices import BASS, CHORDS, LATE, OPEN, octaves, pedals, spans_by_voice, with_rests_said_once
from companion.music.meter import Metre
from companion.music.pitch import Pitch, pitch_in_key


def note(midi: int, beat: float, length: float, part: str = "chords", hand: str = "right", pedal: bool = False) -> Note:
    return Note(Fraction(beat), Fraction(length), pitch_in_key(midi), part, hand=hand, pedal=pedal)


def test_an_open_chord_is_shared_between_the_hands_above_the_bass() -> None:
    notes = [note(36, 0, 4, "bass", "left"), note(52, 1, 3, hand="left"), note(67, 1, 3)]
    found = spans_by_voice(notes, (1, 2))
    assert [len(found[place]) for place in (BASS, OPEN, CHORDS)] == [1, 1, 1]
    assert spans_by_voice(notes, (1,)).keys().isdisjoint({BASS, OPEN})


def test_a_late_note_is_a_voice_of_its_own_and_the_chord_sounds_on() -> None:
    notes = [note(60, 0, 3), note(64, 0, 3), note(69, 0, 3), note(67, 1, 2), note(62, 4, 1)]
    found = spans_by_voice(notes, (1,))
    assert [(s.start, s.end, len(s.pitches)) for s in found[CHORDS]] == [(0, 3, 3), (4, 5, 1)]
    assert [(s.start, s.end) for s in found[LATE]] == [(1, 3)]


def test_a_rest_that_the_voice_above_has_too_is_printed_once() -> None:
    def voice(number: int, start: int, end: int) -> Voice:
        sounding = [VoiceSpan(Fraction(start), Fraction(end), (Pitch("C", 0, 5),))]
        return Voice(1, number, write_bar(sounding, Fraction(4), Metre()))

    melody, chords = with_rests_said_once([voice(1, 0, 2), voice(2, 1, 2)])
    assert [head.hidden for head in melody.heads] == [False, False]
    assert [(head.start, head.hidden) for head in chords.heads if not head.pitches] == [(0, False), (2, True)]


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
    ],
)
def test_a_low_passage_is_written_an_octave_higher(bass: list[int], signs: list[tuple[int, str]]) -> None:
    notes = [note(midi, beat, 1, "bass", "left") for beat, midi in enumerate(bass)]
    assert octaves(spans_by_voice(notes, (2,)), []) == signs


def test_a_low_passage_ends_with_its_section() -> None:
    notes = [note(28 + k % 4, k, 1, "bass", "left") for k in range(16)]
    found = octaves(spans_by_voice(notes, (2,)), [Fraction(0), Fraction(8)])
    assert found == [(0, "start"), (8, "stop"), (8, "start"), (16, "stop")]
