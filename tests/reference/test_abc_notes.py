"""Melodies against The ABC Music Standard 2.1 (December 2011): its rules and examples, section by section.

The sections are named beside each check; the wording and examples are quoted from memory of the standard.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.abc.note_syntax import default_unit
from companion.chart.abc.write import write_melody
from companion.chart.model import MelodyNote
from companion.chart.toml.melody import read_melody
from companion.errors import ChartError
from companion.music.meter import Metre
from companion.music.pitch import Pitch

EIGHTH = Fraction(1, 2)


def read(text: str, bar: float | Fraction = 4, fifths: int = 0, compound: bool = False) -> tuple[MelodyNote, ...]:
    return read_melody(text, None, Fraction(bar), EIGHTH, fifths, compound)[0]


def pitches(text: str, bar: float | Fraction = 4, fifths: int = 0) -> str:
    return " ".join(str(note.pitch) for note in read(text, bar, fifths))


def lengths(text: str, bar: float | Fraction = 4, compound: bool = False) -> list[Fraction]:
    """In eighths."""
    return [note.length / EIGHTH for note in read(text, bar, compound=compound)]


def test_section_3_1_7_a_plain_note_is_an_eighth_or_in_short_metres_a_sixteenth() -> None:
    # "computed by converting the meter fraction into a decimal: if it is less than 0.75 the default is a sixteenth"
    units = {"2/4": "1/16", "3/4": "1/8", "4/4": "1/8", "6/8": "1/8", "5/8": "1/16", "3/8": "1/16"}
    for text, unit in units.items():
        beats, kind = map(int, text.split("/"))
        assert default_unit(Metre(beats, kind)) == 4 * Fraction(unit), text


def test_section_4_1_letters_commas_and_apostrophes_give_the_octave() -> None:
    # C is middle C, c the one above; c' and C, lie an octave further.
    assert pitches("| C,D,E,F, G,A,B,C |") == "C3 D3 E3 F3 G3 A3 B3 C4"
    assert pitches("| CDEF GABc |") == "C4 D4 E4 F4 G4 A4 B4 C5"
    assert pitches("| cdef gabc' |") == "C5 D5 E5 F5 G5 A5 B5 C6"
    # "it is possible to use any number of commas and apostrophes", mixed ones too: C,', = C,
    assert pitches("| C,',4 c''4 |") == "C3 C7"


def test_section_4_2_signs_are_sharps_naturals_and_flats() -> None:
    assert pitches("| ^c2 =c2 _c2 ^^c2 | __c8 |", fifths=0) == "C#5 C5 Cb5 C##5 Cbb5"


def test_section_4_2_a_key_signature_holds_where_no_sign_stands() -> None:
    assert pitches("| f2 c2 =f2 g2 | f8 |", fifths=2) == "F#5 C#5 F5 G5 F#5"


def test_sections_4_2_and_11_3_a_sign_reaches_to_the_end_of_its_bar_in_every_octave() -> None:
    # 11.3 propagate-accidentals: "the default is pitch", all octaves up to the end of the bar.
    assert pitches("| ^f2 f2 F2 f2 | f8 |") == "F#5 F#5 F#4 F#5 F5"


def test_section_4_3_lengths_are_multiples_and_fractions() -> None:
    # "A/2, A3/2, A/4 ..."; A/ is A/2 and A// is A/4.
    assert lengths("| A A2 A3 A2 |") == [1, 2, 3, 2]
    assert lengths("| A/2A/2 A/A/ A//A//A//A// A3/2A/2 A3 |") == [
        *[Fraction(1, 2)] * 4, *[Fraction(1, 4)] * 4, Fraction(3, 2), Fraction(1, 2), 3,
    ]  # fmt: skip


def test_section_4_4_broken_rhythm_dots_one_note_and_halves_the_other() -> None:
    # "the previous note is dotted, the next note halved"; >> double dotted, >>> triple dotted.
    assert lengths("| a>b c<d a>>b c<<d |") == [
        Fraction(3, 2), Fraction(1, 2), Fraction(1, 2), Fraction(3, 2),
        Fraction(7, 4), Fraction(1, 4), Fraction(1, 4), Fraction(7, 4),
    ]  # fmt: skip
    assert lengths("| a>>>b c6 |") == [Fraction(15, 8), Fraction(1, 8), 6]


def test_section_4_5_rests_take_time_seen_or_unseen_and_Z_takes_bars() -> None:  # noqa: N802
    notes = read("| c2 z2 x2 d2 | Z2 | e8 |")
    assert [note.beat for note in notes] == [0, 3, 12]


def test_section_4_8_bar_lines_may_be_double_or_thick() -> None:
    assert [note.beat for note in read("| c8 || d8 |]")] == [0, 4]


def test_section_4_11_a_tie_joins_across_the_bar_line_and_a_slur_does_not() -> None:
    assert [(n.beat, n.length) for n in read("| (c4 d4-| d4) e4 |")] == [(0, 2), (2, 4), (6, 2)]


def test_section_4_11_a_tied_note_keeps_its_accidental() -> None:
    assert pitches("| z4 ^f4- | f4 f4 |") == "F#5 F5"


def test_section_4_12_grace_notes_take_no_time() -> None:
    assert lengths("| {gd}c4 {/g}A4 |") == [4, 4]


def test_section_4_13_tuplets_put_p_notes_into_the_time_of_q() -> None:
    # The table of the standard: (2 in 3, (3 in 2, (4 in 3, (6 in 2, (8 in 3; (5 (7 (9 in n.
    assert lengths("| (3abc z6 |") == [Fraction(2, 3)] * 3
    assert lengths("| (2ab z5 |") == [Fraction(3, 2)] * 2
    assert lengths("| (4abcd z5 |") == [Fraction(3, 4)] * 4
    assert lengths("| (6abcdef z6 |") == [Fraction(1, 3)] * 6
    assert lengths("| (5abcde z6 |") == [Fraction(2, 5)] * 5
    assert lengths("| (5abcde z3 |", bar=3, compound=True) == [Fraction(3, 5)] * 5


def test_section_4_13_a_tuplet_may_say_how_many_notes_it_takes() -> None:
    # "(3:2:2G4c2": two notes fill it, long and short; "(3::2" leaves q to the table.
    assert lengths("| (3:2:2G4c2 z4 |") == [Fraction(8, 3), Fraction(4, 3)]
    assert lengths("| (3::2G4c2 z4 |") == [Fraction(8, 3), Fraction(4, 3)]


def test_section_4_14_decorations_change_neither_pitch_nor_time() -> None:
    assert lengths("| .a2 ~b2 !trill!c2 Hd2 |") == [2, 2, 2, 2]


def test_section_4_17_of_a_chord_the_melody_is_the_top_and_its_length_the_first_notes() -> None:
    notes = read("| [CEG]4 [C2E2G2]2 |")
    assert [(str(n.pitch), n.length) for n in notes] == [("G4", 2), ("G4", 2)]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("| c8 : |", "':' is not ABC note syntax"),
        ("|: c8 :|", "'|:' in a melody; the form says what is repeated"),
        ('| "Am"c8 |', "\"'\\\"Am\\\"c8' is not ABC note syntax; chord symbols stand in the section's chords"),
        ("| c4 |", "bar 1: the melody lasts 2 quarters in a bar of 4"),
        ("| -c8 |", "bar 1: a tie without a note before it"),
        ("| >c8 |", "bar 1: a broken rhythm without a note before it"),
        ("| c8> |", "bar 1: a broken rhythm without a note after it"),
        ("| c8- | d8 |", "bar 2: C5 is tied to D5"),
        ("| c8- |", "bar 1: the last note is tied to nothing"),
        ("| c,,,,,,,8 |", "is beyond every keyboard"),
        ("| c0 |", "'0' is not a length"),
    ],
)
def test_what_is_not_in_the_standard_is_refused(text: str, fault: str) -> None:
    with pytest.raises(ChartError) as error:
        read(text)
    assert fault.strip('"').replace('\\"', '"') in str(error.value)


NOTES = st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(1, 7))


@given(st.lists(st.tuples(NOTES, st.integers(1, 16)), min_size=1, max_size=20), st.integers(-7, 7))
def test_any_melody_is_written_so_that_it_reads_back(line: list[tuple[Pitch, int]], fifths: int) -> None:
    beat = Fraction(0)
    melody = []
    for pitch, sixteenths in line:
        melody.append(MelodyNote(beat, Fraction(sixteenths, 4), pitch))
        beat += Fraction(sixteenths, 4)
    bars = (Fraction(4),) * (int(beat / 4) + 1)
    _, written, _ = write_melody(melody, bars, EIGHTH, fifths)
    assert read_melody("|" + "|".join(written) + "|", bars, Fraction(4), EIGHTH, fifths)[0] == tuple(melody)
