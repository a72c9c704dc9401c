"""Scales by chord as Levine teaches them, and the scales themselves against music21.

Source: Levine, The Jazz Theory Book, 1995 (from memory); blues scales and tunes in minor: common practice.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.model import ChordSpan, Form, FormSection
from companion.music.chords import parse_chord
from companion.music.meter import Metre
from companion.music.pitch import Name, parse_name
from companion.music.scales import SCALES, scale, scales_for, scales_over

C = Name("C")


@pytest.mark.parametrize(
    ("symbol", "scales"),
    [  # Levine 1995, from memory
        ("Dm7", ["dorian"]),
        ("G7", ["mixolydian"]),
        ("Cmaj7", ["ionian", "lydian"]),
        ("Dm7b5", ["locrian", "locrian natural 2"]),
        ("G7alt", ["altered"]),
        ("G7b9", ["half-whole diminished"]),
        ("G7#11", ["lydian dominant"]),
        ("G7#5", ["whole tone"]),
        ("Gdim7", ["whole-half diminished"]),
        ("Cm(maj7)", ["melodic minor"]),
        ("Cm6", ["melodic minor"]),
        ("G7sus4", ["mixolydian"]),
    ],
)
def test_a_chord_takes_the_scales_of_the_book_first(symbol: str, scales: list[str]) -> None:
    assert [one.name for one in scales_for(parse_chord(symbol))][: len(scales)] == scales


def test_the_dominant_of_a_minor_chord_is_phrygian_dominant() -> None:
    assert scales_for(parse_chord("G7"), resolves_to_minor=True)[0].name == "phrygian dominant"  # Levine, from memory


@pytest.mark.parametrize("symbol", ["Abmaj7", "Bbmaj7", "Dbmaj7", "Ebmaj7", "Ab6", "Bb", "Fmaj7"])
def test_major_chords_from_outside_the_key_are_lydian_as_the_fourth_degree_is(symbol: str) -> None:
    assert scales_for(parse_chord(symbol), tonic=C)[0].name == "lydian"  # Levine, from memory: bVI, bVII, bII, bIII, IV


@pytest.mark.parametrize(
    ("changes", "scales"),
    [  # common practice: a ii-V-I is read in the key that it leads to
        ("Cmaj7 Em7 A7 Dmaj7", "C ionian, E dorian, A mixolydian, D ionian"),
        ("Cmaj7 Bbm7 Eb7 Abmaj7", "C ionian, Bb dorian, Eb mixolydian, Ab ionian"),
        ("Cmaj7 Gm7 C7sus4 C7 Fmaj7", "C ionian, G dorian, C mixolydian, C mixolydian, F ionian"),
        ("Cmaj7 Am7 D7 Dm7 G7", "C ionian, A dorian, D mixolydian, D dorian, G mixolydian"),
        ("Cmaj7 Am7 Dm7 G7", "C ionian, A aeolian, D dorian, G mixolydian"),
        ("Cmaj7 Em7b5 A7 Dm6", "C ionian, E locrian, A phrygian dominant, D melodic minor"),
        ("Cmaj7 Abmaj7 Dbmaj7 G7", "C ionian, Ab lydian, Db lydian, G mixolydian"),
    ],
)
def test_chords_are_read_in_the_key_that_they_lead_to(changes: str, scales: str) -> None:
    spans = [ChordSpan(Fraction(4 * n), Fraction(4 * n + 4), parse_chord(s)) for n, s in enumerate(changes.split())]
    length, place = Fraction(4 * len(spans)), FormSection("A", Fraction(0), Fraction(4 * len(spans)))
    starts = tuple(span.start for span in spans)
    tune = Form(Metre(), 0, False, 140.0, "swing", length, starts, (place,), tuple(spans), ())
    assert ", ".join(str(found[0]) for found in scales_over(tune)) == scales


def test_dominants_on_the_lowered_second_and_seventh_are_lydian_dominant() -> None:
    for symbol in ("Db7", "Bb7"):  # Levine, from memory
        assert scales_for(parse_chord(symbol), tonic=C)[0].name == "lydian dominant"


@pytest.mark.parametrize(
    ("name", "parent", "step"),
    [  # Levine 1995, from memory: the modes of the melodic minor scale, and of the harmonic minor scale
        ("dorian b2", "melodic minor", 2),
        ("lydian augmented", "melodic minor", 3),
        ("lydian dominant", "melodic minor", 4),
        ("mixolydian b6", "melodic minor", 5),
        ("locrian natural 2", "melodic minor", 6),
        ("altered", "melodic minor", 7),
        ("phrygian dominant", "harmonic minor", 5),
        ("dorian", "major", 2),
        ("phrygian", "major", 3),
        ("lydian", "major", 4),
        ("mixolydian", "major", 5),
        ("aeolian", "major", 6),
        ("locrian", "major", 7),
    ],
)
def test_a_mode_is_its_parent_scale_from_another_step(name: str, parent: str, step: int) -> None:
    for root in map(parse_name, ("C", "Eb", "F", "G", "Bb", "D")):
        from_parent = scale(root, parent)
        assert set(scale(from_parent.names[step - 1], name).names) == set(from_parent.names)


def in_music21(kind: str, *mode: int) -> list[int]:
    """Pitch classes of a class of scales on C, upwards."""
    from music21 import scale as scales  # takes seconds

    concrete = getattr(scales, kind)("C", *mode)
    return [note.pitchClass for note in concrete.getPitches("C4", "B4", direction=scales.Direction.ASCENDING)]


@pytest.mark.parametrize(
    ("name", "theirs"),
    [
        ("major", ("MajorScale",)),
        ("ionian", ("MajorScale",)),
        ("dorian", ("DorianScale",)),
        ("phrygian", ("PhrygianScale",)),
        ("lydian", ("LydianScale",)),
        ("mixolydian", ("MixolydianScale",)),
        ("aeolian", ("MinorScale",)),
        ("locrian", ("LocrianScale",)),
        ("melodic minor", ("MelodicMinorScale",)),
        ("harmonic minor", ("HarmonicMinorScale",)),
        ("whole tone", ("WholeToneScale",)),
        ("whole-half diminished", ("OctatonicScale", 2)),
        ("half-whole diminished", ("OctatonicScale", 1)),
    ],
)
def test_music21_has_the_same_scale(name: str, theirs: tuple[str, *tuple[int, ...]]) -> None:
    assert list(scale(C, name).pitch_classes) == in_music21(*theirs)


def test_music21_spells_the_church_modes_alike() -> None:
    from music21 import pitch
    from music21 import scale as scales

    modes = {"dorian": scales.DorianScale, "lydian": scales.LydianScale, "locrian": scales.LocrianScale}
    for name, mode in modes.items():
        for root in ("F#", "Eb", "B", "Ab"):
            spelled = [note.name.replace("-", "b") for note in mode(pitch.Pitch(root.replace("b", "-"))).getPitches()][
                :7
            ]
            ours = scale(Name(root[0], root.count("#") - root.count("b", 1)), name)
            assert [str(note) for note in ours.names] == spelled


def test_the_minor_blues_scale() -> None:
    assert [str(note) for note in scale(C, "minor blues").names] == ["C", "Eb", "F", "Gb", "G", "Bb"]  # common practice


@pytest.mark.parametrize("step", "CDEFGAB")
def test_the_major_blues_scale_is_the_minor_blues_scale_of_the_relative_minor(step: str) -> None:
    major, relative = Name(step), Name(step).above(6, 9)  # common practice
    assert set(scale(major, "major blues").pitch_classes) == set(scale(relative, "minor blues").pitch_classes)


def test_every_scale_ascends_within_one_octave() -> None:
    for name, steps in SCALES.items():
        semitones = [step.semitones for step in steps]
        assert semitones == sorted(set(semitones)) and semitones[-1] < 12, name
