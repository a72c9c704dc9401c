"""ABC's K: field: keys, modes, accidentals, clefs (The ABC Music Standard 2.1, sections 3.1.14 and 4.6)."""

from __future__ import annotations

import pytest

from companion.chart.abc.key import KeyField, read_clef, read_key_field

SHARP = (("F", 1), ("C", 1))
"""Of D major."""


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("C", KeyField(0, False, ())), ("D", KeyField(2, False, SHARP)), ("D major", KeyField(2, False, SHARP)),
        ("Bm", KeyField(2, True, SHARP)), ("B min", KeyField(2, True, SHARP)), ("Bminor", KeyField(2, True, SHARP)),
        ("B Aeolian", KeyField(2, True, SHARP)), ("Bb", KeyField(-2, False, (("B", -1), ("E", -1)))),
        ("B♭ maj", KeyField(-2, False, (("B", -1), ("E", -1)))), ("F♯m", KeyField(3, True, (*SHARP, ("G", 1)))),
        ("E dor", KeyField(1, True, SHARP, "E dor")), ("A mix", KeyField(3, False, SHARP, "A mix")),
        ("F# phr", KeyField(3, True, SHARP, "F# phr")), ("G lydian", KeyField(1, False, SHARP, "G lydian")),
        ("C# loc", KeyField(4, True, SHARP, "C# loc")), ("D ion", KeyField(2, False, SHARP)),
        ("D =c", KeyField(2, False, (("F", 1),), "D =c")), ("D maj =c", KeyField(2, False, (("F", 1),), "D maj =c")),
        ("D =c clef =bass", KeyField(2, False, (("F", 1),), "D =c", "bass")),
        ("D clef = bass", KeyField(2, False, SHARP, "", "bass")),
        ("D exp ^f ^c", KeyField(2, False, SHARP)), ("D exp _b", KeyField(2, False, (("B", -1),), "D exp _b")),
        ("C ^^f __b", KeyField(0, False, (("F", 2), ("B", -2)), "C ^^f __b")),
        ("HP", KeyField(2, None, SHARP)), ("Hp", KeyField(2, None, SHARP)), ("none", KeyField(None, None, ())),
        ("None ^f", KeyField(None, None, (("F", 1),))), ("^f", KeyField(None, None, (("F", 1),))),
        ("clef=bass", KeyField(None, None, None, clef="bass")), ("octave=-1", KeyField(None, None, None, octaves=-1)),
        ("transpose=3", KeyField(None, None, None, semitones=3)),
        ("D clef=bass octave=1 t=-2", KeyField(2, False, SHARP, "", "bass", 1, -2)),
        ("D treble-8", KeyField(2, False, SHARP, "", "treble", -1, 0)),
        ("D minor style", KeyField(-1, True, (("B", -1),))),
    ],
)  # fmt: skip
def test_a_key_field(text: str, field: KeyField) -> None:
    """'K:D maj =c or K:D =c will give a key signature with F sharp and c natural' (from memory)."""
    assert read_key_field(text) == field


@pytest.mark.parametrize("text", ["", "H", "D wobbly", "?"])
def test_what_says_nothing_of_key_or_clef_is_none(text: str) -> None:
    assert read_key_field(text) is None


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("treble", ("treble", 0, 0)), ("clef=alto", ("alto", 0, 0)), ('clef="tenor"', ("tenor", 0, 0)),
        ("bass3", ("bass", 0, 0)), ("treble+8", ("treble", 1, 0)), ("treble^8", ("treble", 1, 0)),
        ("treble_8", ("treble", -1, 0)), ("Bass-8 octave=2", ("bass", 1, 0)), ("octave=+1", ("", 1, 0)),
        ("transpose=-36", ("", 0, -36)), ("t=36", ("", 0, 36)), ("transpose=37", ("", 0, 0)),
        ("transpose=-37", ("", 0, 0)), ("contrabassoon", ("", 0, 0)), ("", ("", 0, 0)),
    ],
)  # fmt: skip
def test_section_4_6_clefs_octaves_and_playing_transposition(text: str, found: tuple[str, int, int]) -> None:
    assert read_clef(text) == found
