"""Keys are found and notes spelled as musicians would."""

from __future__ import annotations

from itertools import pairwise

import pytest

from companion.music.chords import parse_chord
from companion.music.tonality import find_key, spell


def scale(tonic, steps):
    return [(60 + (tonic + step) % 12, 1.0) for step in (*steps, 0)]


@pytest.mark.parametrize("fifths", range(-5, 7))
def test_a_scale_that_ends_on_its_tonic_is_in_its_key(fifths):
    major = fifths * 7 % 12
    assert find_key(scale(major, (0, 2, 4, 5, 7, 9, 11))) == (fifths, False)
    # the harmonic minor scale (common practice)
    assert find_key(scale(major + 9, (0, 2, 3, 5, 7, 8, 11))) == (fifths, True)


def test_chords_tell_a_minor_key_from_its_relative():
    notes = [(p, 1.0) for p in (60, 62, 64, 65, 67, 69, 71, 72)]
    chords = [(parse_chord(symbol), 4.0) for symbol in ("Am6", "Bm7b5", "E7alt", "Am6")]
    assert find_key(notes, chords) == (0, True)


@pytest.mark.parametrize(
    ("notes", "chords", "key", "spelled"),
    [
        # a chord's own notes as it spells them, a chromatic step by the next letter (common practice)
        ([68, 69], ["E7", "Am7"], (0, False), "G#4 A4"),
        ([63, 62], [None, None], (0, False), "Eb4 D4"),
        ([63, 64], [None, None], (0, False), "D#4 E4"),
        ([66, 67], [None, None], (-3, False), "F#4 G4"),
        ([68], ["Fm6"], (0, False), "Ab4"),
        ([71, 72], [None, None], (-3, True), "B4 C5"),
        ([61, 63, 66], [None, None, None], (-5, False), "Db4 Eb4 Gb4"),
        ([61, 63, 66], [None, None, None], (5, False), "C#4 D#4 F#4"),
        ([68], ["E7"], (0, False), "G#4"),
        ([61, 62], ["Fmaj7", "Fmaj7"], (0, False), "C#4 D4"),
        ([66, 68], [None, None], (0, False), "F#4 Ab4"),
        ([67, 63, 64], [None, None, None], (0, False), "G4 D#4 E4"),
        ([67, 63, 62], [None, None, None], (0, False), "G4 Eb4 D4"),
        ([60, 66, 65], [None, None, None], (0, False), "C4 Gb4 F4"),
        ([61, 60], [None, None], (1, False), "Db4 C4"),
        ([70, 71], [None, None], (0, False), "A#4 B4"),
        ([70, 69], [None, None], (3, False), "Bb4 A4"),
        # the key's own notes keep its names, the next ones have the chord's, but for a double flat
        ([66], ["F#7"], (-5, False), "Gb4"),
        ([63], ["Eb7"], (4, False), "D#4"),
        ([66], ["Gb7"], (0, False), "Gb4"),
        ([70], ["A#dim7"], (0, False), "A#4"),
        ([62], ["Db7b9"], (-5, False), "D4"),
    ],
)
def test_notes_are_spelled_by_key_chord_and_step(notes, chords, key, spelled):
    under = [parse_chord(chord) if chord else None for chord in chords]
    assert " ".join(map(str, spell(notes, under, *key))) == spelled


# Where one key gives way to another: the least length of one more note of a pitch, by the profiles of Temperley (2001,
# chapter 7, from memory) as they are correlated with what is heard, and by where the tune begins and ends


def gives_way(notes, midi, chords=()):
    """The key that some notes have when one more of this pitch lasts long enough, and how long, in quarters."""

    def key(length):
        return find_key([(midi, length), *notes], chords)

    lengths = [0.26 * n for n in range(64)]
    before = key(0.0)
    for low, high in pairwise(lengths):
        if (after := key(high)) != before:
            while high - low > 1e-4:
                middle = (low + high) / 2
                low, high = (low, middle) if key(middle) != before else (middle, high)
            return after, high
    return before, 0.0


LIMITS = {
    False: [
        ((0, False), 0.000),
        ((-1, True), 4.000),
        ((1, False), 1.518),
        ((-3, True), 1.600),
        ((1, True), 11.000),
        ((-1, False), 3.500),
        ((1, False), 0.917),
        ((1, False), 2.117),
        ((-3, True), 2.667),
        ((-1, False), 3.500),
        ((-1, False), 1.400),
        ((1, False), 2.458),
    ],
    True: [
        ((0, False), 8.000),
        ((3, False), 1.600),
        ((-1, True), 7.500),
        ((4, False), 2.319),
        ((4, False), 5.351),
        ((-1, False), 3.000),
        ((3, False), 2.667),
        ((0, False), 1.333),
        ((4, False), 5.796),
        ((0, True), 0.000),
        ((-1, False), 2.250),
        ((4, False), 3.750),
    ],
}
"""Fifths, minor, and the length in quarters."""


@pytest.mark.parametrize("minor", [False, True])
def test_one_note_long_enough_changes_the_key(minor):
    """Of a scale of C, or the harmonic one of A minor, that ends on its fifth: for each note, 0 to 11 from C up."""
    steps = (0, 2, 3, 5, 7, 8, 11) if minor else (0, 2, 4, 5, 7, 9, 11)
    notes = [(57 + step if minor else 60 + step, 1.0 + (step == 0)) for step in (*steps, 7)]
    for pc, (key, length) in enumerate(LIMITS[minor]):
        assert gives_way(notes, 60 + pc) == (key, pytest.approx(length, abs=2e-3))


@pytest.mark.parametrize(
    ("last", "chords", "key", "length"),
    [
        (67, "", (1, False), 0.495),
        (60, "", (1, False), 2.385),
        (67, "Dm7 Cmaj7", (1, False), 2.165),
        (67, "C6 G7", (1, False), 1.041),
        (67, "Cm7 Dm7", (1, False), 0.761),
        (67, "G7 C7", (1, False), 0.580),
        (67, "C6 Gmaj7", (1, False), 0.000),
    ],
)
def test_where_a_tune_begins_and_ends_tells_its_key(last, chords, key, length):
    """The scale of C against an F sharp, which leads to G: a last C, a first or a last chord of C holds it back."""
    notes = [(60 + step, 1.0) for step in (0, 2, 4, 5, 7, 9, 11)]
    spans = [(parse_chord(symbol), 0.5) for symbol in chords.split()]
    assert gives_way([*notes, (last, 1.0)], 66, spans) == (key, pytest.approx(length, abs=2e-3))
