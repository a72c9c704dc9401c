"""Chords against mir_eval: Harte's notation for chords, and pitch classes as bitmaps.

Source: Harte, Sandler, Abdallah & Gómez, Symbolic Representation of Musical Chords, ISMIR 2005; mir_eval.chord.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.music.chords import Chord, parse_chord
from companion.music.kinds import KINDS, Degree, degree, described
from companion.music.pitch import Name, parse_name

SHORTHANDS = {
    "maj": "major", "min": "minor", "aug": "augmented", "dim": "diminished", "maj7": "major-seventh", "7": "dominant",
    "min7": "minor-seventh", "hdim7": "half-diminished", "dim7": "diminished-seventh", "minmaj7": "major-minor",
    "maj6": "major-sixth", "min6": "minor-sixth", "sus2": "suspended-second", "sus4": "suspended-fourth",
    "9": "dominant-ninth", "maj9": "major-ninth", "min9": "minor-ninth",
}  # fmt: skip
"""Harte's shorthands and the kinds of MusicXML that mean the same."""


def parse_harte(text: str) -> Chord:
    """A chord in Harte's notation: root:shorthand(degrees)/degree, '*3' for a degree left out."""
    match = re.fullmatch(r"([A-G][b#]*)(?::([a-z]*\d*)(?:\(([^)]*)\))?)?(?:/(\S+))?", text)
    assert match, text
    root, shorthand, more, over = match.groups()
    bare = more and not shorthand
    tones = {Degree(1)} if bare else set(KINDS[SHORTHANDS[shorthand or "maj"]])
    for part in (more or "").split(",") if more else ():
        tones ^= {degree(part.removeprefix("*"))}
    chord = Chord(parse_name(root), *described(frozenset(tones)))
    return Chord(chord.root, chord.kind, chord.changes, chord.name_of(degree(over))) if over else chord


def bitmap_of(harte: str) -> tuple[int, set[int], int]:
    """Root, pitch classes above it, and bass above it, as mir_eval reads them; degrees beyond the octave folded."""
    import mir_eval.chord  # takes seconds

    root, bitmap, bass = mir_eval.chord.encode(harte, reduce_extended_chords=True)
    return int(root), {pc for pc, there in enumerate(bitmap) if there}, int(bass)


PAIRS = {
    "C": "C:maj", "Ebm": "Eb:min", "F#aug": "F#:aug", "Bdim": "B:dim", "Abmaj7": "Ab:maj7", "D7": "D:7",
    "C#m7": "C#:min7", "Gm7b5": "G:hdim7", "Edim7": "E:dim7", "Bbm(maj7)": "Bb:minmaj7", "A6": "A:maj6",
    "Dbm6": "Db:min6", "Gsus2": "G:sus2", "F#sus4": "F#:sus4", "C7sus4": "C:sus4(b7)", "C9": "C:9", "Fmaj9": "F:maj9",
    "Am9": "A:min9", "E7b9": "E:7(b9)", "E7#9": "E:7(#9)", "Bb7#11": "Bb:7(#11)", "C7b5": "C:7(*5,b5)",
    "C7#5": "C:aug(b7)",
    "D9#5": "D:9(*5,#5)", "C6/9": "C:maj6(9)", "C7/E": "C:7/3", "Fm/Ab": "F:min/b3", "G7/F": "G:7/b7", "C/G": "C/5",
    "C5": "C:(5)", "Dm(add9)": "D:min(9)",
}  # fmt: skip


@pytest.mark.parametrize(("symbol", "harte"), PAIRS.items())
def test_a_lead_sheet_symbol_and_its_name_in_hartes_notation_are_one_chord(symbol: str, harte: str) -> None:
    chord = parse_chord(symbol)
    assert chord == parse_harte(harte)
    assert chord.root and chord.bass_name
    root, above, bass = bitmap_of(harte)
    assert chord.root.pc == root
    assert {(pc - root) % 12 for pc in chord.pitch_classes} | {bass} == above | {bass}
    assert (chord.bass_name.pc - root) % 12 == bass


# mir_eval's 13 brings the 11th along, as MusicXML's kinds do: both agree by definition, and part from what is played.
@pytest.mark.parametrize(
    ("symbol", "harte"), [("C11", "C:11"), ("C13", "C:13"), ("Cm11", "C:min11"), ("Cmaj13", "C:maj13")]
)
def test_long_chords_have_the_same_notes_by_definition(symbol: str, harte: str) -> None:
    assert set(parse_chord(symbol).pitch_classes) == bitmap_of(harte)[1]


@given(
    st.sampled_from(["C", "F#", "Bb", "Eb", "G#", "Cb"]),
    st.frozensets(st.builds(Degree, st.integers(2, 13), st.integers(-1, 1)), min_size=1, max_size=6),
)
def test_any_degrees_fall_on_the_same_pitch_classes(root: str, tones: frozenset[Degree]) -> None:
    harte = f"{root}:({','.join(map(str, sorted(tones)))})"
    chord = Chord(parse_name(root), *described(tones | {Degree(1)}))
    number, above, _ = bitmap_of(harte)
    assert {(number + pc) % 12 for pc in above} == set(chord.pitch_classes)
    assert parse_harte(harte) == chord


@given(st.builds(Name, st.sampled_from("CDEFGAB"), st.integers(-2, 2)))
def test_roots_fall_on_the_same_pitch_class(name: Name) -> None:
    import mir_eval.chord

    assert mir_eval.chord.pitch_class_to_semitone(str(name)) % 12 == name.pc
