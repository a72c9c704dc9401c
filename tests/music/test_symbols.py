"""Chord symbols as lead sheets write them: every spelling is read, every chord is written so that it reads back.

What the spellings mean is common practice.
"""

from __future__ import annotations

import string

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from companion.errors import ChordError
from companion.music.chords import NO_CHORD, Chord, parse_chord
from companion.music.kinds import FUNCTIONAL, Degree, degrees, described
from companion.music.pitch import Name

NAMES = st.builds(Name, st.sampled_from("CDEFGAB"), st.integers(-2, 2))

SPELLINGS = {
    "maj7": ["maj7", "M7", "Δ", "Δ7", "ma7", "Maj7", "MAJ7", "major7", "7M", "(maj7)"],
    "maj9": ["maj9", "M9", "Δ9", "ma9", "maj7(9)"],
    "maj13": ["maj13", "M13", "Δ13"],
    "maj7#11": ["maj7#11", "maj7(#11)", "Δ#11", "M7+11", "maj7#4", "maj7 (♯11)"],
    "maj7#5": ["maj7#5", "maj7(#5)", "+maj7", "aug(maj7)", "+M7", "Δ+", "maj7+5"],
    "7": ["7", "dom", "dominant", "dom7", "dominant7"],
    "9": ["9", "7(9)", "7add9"],
    "11": ["11"],
    "13": ["13"],
    "7(13)": ["7(13)", "7add13", "7(add13)", "7/13"],
    "m7": ["m7", "-7", "mi7", "min7", "MI7", "minor7", "−7", "m⁷"],
    "m9": ["m9", "-9", "min9", "m7(9)"],
    "m11": ["m11", "-11", "mi11"],
    "m13": ["m13", "-13"],
    "m7b5": ["m7b5", "ø", "ø7", "Ø", "Ø7", "-7b5", "m7(b5)", "m7♭5", "min7-5", "half-dim", "halfdim7", "-7(♭5)"],
    "m9b5": ["m9b5", "ø9", "m7b5(9)"],
    "dim": ["dim", "°", "o", "mb5", "m(b5)", "º"],
    "dim7": ["dim7", "°7", "o7", "º7", "DIM7", "diminished7"],
    "dim(maj7)": ["dim(maj7)", "°maj7", "oΔ7", "°(M7)"],
    "6": ["6", "maj6", "M6", "add6"],
    "6/9": ["6/9", "69", "6(9)", "6add9", "maj6/9", "6 9"],
    "m6": ["m6", "-6", "min6", "m(add6)"],
    "m6/9": ["m6/9", "-69", "m6(add9)"],
    "m(maj7)": ["m(maj7)", "mM7", "-Δ7", "-Δ", "mmaj7", "min/maj7", "m(M7)", "-maj7", "minMaj7", "m(#7)"],
    "m(maj9)": ["m(maj9)", "-Δ9", "mM9"],
    "aug": ["aug", "+", "(#5)", "+5", "augmented"],
    "7#5": ["7#5", "+7", "aug7", "7+", "7(#5)", "7+5", "7aug", "7♯5"],
    "9#5": ["9#5", "+9", "9+", "9(♯5)"],
    "": ["", "maj", "M", "major"],
    "m": ["m", "-", "min", "mi", "minor"],
    "m(add9)": ["m(add9)", "madd9", "-(add9)", "m add9", "min(add 9)"],
    "add9": ["add9", "(add9)", "(9)", "/9"],
    "sus4": ["sus4", "sus", "SUS", "suspended"],
    "sus2": ["sus2"],
    "7sus4": ["7sus4", "7sus", "sus7", "sus47"],
    "9sus4": ["9sus4", "9sus", "7sus4(9)", "sus9"],
    "13sus4": ["13sus4", "13sus", "9sus4(13)", "sus13"],
    "7sus4b9": ["7sus4b9", "7b9sus4", "7sus(b9)", "sus7b9", "7(b9)sus"],
    "7b9": ["7b9", "7-9", "7(b9)", "7♭9", "7/b9", "9b9"],
    "7#9": ["7#9", "7+9", "7(♯9)"],
    "7#11": ["7#11", "7+11", "7(#11)", "7#4"],
    "7b13": ["7b13", "7(♭13)", "7b6", "7-13"],
    "7b5": ["7b5", "7-5", "7(b5)"],
    "9#11": ["9#11", "9(#11)", "9+11"],
    "13b9": ["13b9", "13(b9)", "13-9"],
    "13#11": ["13#11", "13(♯11)"],
    "7(b9,b13)": ["7(b9,b13)", "7b9b13", "7(b9b13)", "7(b13 b9)", "7b9(b13)", "7 b9 b13"],
    "7(#5,#9)": ["7(#5,#9)", "7#9#5", "+7#9", "7(#9,#5)", "7+5+9"],
    "7alt": ["7alt", "alt", "7altered", "7(alt)", "7alt(b9)", "ALT"],
    "5": ["5", "no3", "(no 3rd)", "omit3"],
    "7(no5)": ["7(no5)", "7omit5", "7no5"],
}  # fmt: skip


@pytest.mark.parametrize(
    ("written", "spelling"), [(ours, spelling) for ours, others in SPELLINGS.items() for spelling in others]
)
def test_every_spelling_of_a_quality_is_read(written: str, spelling: str) -> None:
    chord = parse_chord(f"E{spelling}")
    assert chord.symbol == f"E{written}"
    assert chord == parse_chord(f"E{written}")
    assert parse_chord(f"Ab{spelling}/Gb").symbol == f"Ab{written}/Gb"


def test_the_text_stays_as_it_was_written_but_for_plain_signs() -> None:
    assert parse_chord("B♭-7♭5/F").text == "-7b5"


@given(NAMES, st.frozensets(st.builds(Degree, st.integers(1, 13), st.integers(-2, 2)), max_size=8), st.none() | NAMES)
@example(Name("C"), frozenset(degrees("1 b3 3 5")), None)
@example(Name("C"), frozenset(degrees("1 3 5 b7 9 #9")), None)
@example(Name("C"), frozenset(degrees("1 2 4 5")), None)
@example(Name("C"), frozenset(degrees("b9 11")), Name("E"))
def test_every_chord_reads_back_from_its_symbol(root: Name, tones: frozenset[Degree], bass: Name | None) -> None:
    assume(tones and bass != root)
    chord = Chord(root, *described(tones), bass)
    again = parse_chord(chord.symbol)
    assert again == chord
    assert again.tones == chord.tones
    assert again.symbol == chord.symbol


@given(NAMES, st.sampled_from([spelling for others in SPELLINGS.values() for spelling in others]), st.none() | NAMES)
def test_reading_and_writing_settle_at_once(root: Name, spelling: str, bass: Name | None) -> None:
    chord = parse_chord(f"{root}{spelling}" + (f"/{bass}" if bass else ""))
    assert parse_chord(chord.symbol) == chord
    assert chord.bass == (bass if bass != root else None)


@pytest.mark.parametrize("kind", sorted(FUNCTIONAL | {"pedal"}))
def test_a_functional_kind_reads_back_by_its_name(kind: str) -> None:
    chord = Chord(Name("E", -1), kind)
    assert chord.symbol == f"Eb({kind})"
    assert parse_chord(chord.symbol) == chord


@pytest.mark.parametrize("text", ["N.C.", "NC", "n.c.", "N.C", " N. C. ", "no chord", "tacet"])
def test_no_chord_is_read(text: str) -> None:
    assert parse_chord(text) is NO_CHORD
    assert parse_chord(NO_CHORD.symbol) is NO_CHORD


@pytest.mark.parametrize(
    ("text", "root", "bass"),
    [
        ("B♭", "Bb", "Bb"),
        ("bb7", "Bb", "Bb"),
        ("F♯m7", "F#", "F#"),
        ("C##", "C##", "C##"),
        ("Cx7", "C##", "C##"),
        ("G𝄫m", "Gbb", "Gbb"),
        ("dm7", "D", "D"),
        ("C/E", "C", "E"),
        ("C7/Bb", "C", "Bb"),
        ("C/b", "C", "B"),
        ("F#m7b5/E", "F#", "E"),
        ("C6/9/E", "C", "E"),
        ("Am7 / G", "A", "G"),
        ("C/C", "C", "C"),
        ("E♭♭/G♭", "Ebb", "Gb"),
    ],
)
def test_roots_and_basses_are_read_in_either_case_and_any_accidental(text: str, root: str, bass: str) -> None:
    chord = parse_chord(text)
    assert (str(chord.root), str(chord.bass_name)) == (root, bass)


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("Hm7", "the root is a letter from A to G, so write Bm7"),
        ("", "write N.C. where there is no chord"),
        ("%", "a repeat sign stands alone in its bar"),
        ("m7", "a symbol begins with its root"),
        ("(C7)", "a symbol begins with its root"),
        ("d", "write D or Dm, whichever is meant"),
        ("bb", "write Bb or Bbm, whichever is meant"),
        ("C2", "the 2 may mean two things"),
        ("C4", "the 4 may mean two things"),
        ("C-5", "the 5 may mean two things"),
        ("C+11", "write 7#11 or 11#5, whichever is meant"),
        ("Cm7sus4", "a suspended chord has no third to be minor"),
        ("C7(b9", "a bracket has no partner"),
        ("C7)", "a bracket has no partner"),
        ("C7)b9(", "a bracket has no partner"),
        ("Cno9", "it has no 9 to leave out"),
        ("C7(6)", "it is not clear what the 6 adds"),
        ("C713", "it is not clear what the 13 adds"),
        ("C13alt", "'alt' stands by itself"),
        ("C7altsus4", "'alt' stands by itself"),
        ("C7alt(add13)", "'alt' stands by itself"),
        ("Cmaj7alt", "'alt' stands by itself"),
        ("C7alt(no5)", "'alt' stands by itself"),
        ("Cm7alt", "'alt' stands by itself"),
        ("C7b14", "'b14' makes no sense there"),
        ("C7b#9", "is not a degree"),
        ("C7b7", "write maj7, m7 or 7"),
        ("C7sharp9", "makes no sense there"),
        ("C/H", "'/H' makes no sense there"),
        ("C7/", "'/' makes no sense there"),
        ("C//E", "'/' makes no sense there"),
        ("Coda", "'da' makes no sense there"),
        ("Fine", "makes no sense there"),
    ],
)
def test_what_is_no_chord_symbol_is_named_with_what_would_mend_it(text: str, mend: str) -> None:
    with pytest.raises(ChordError) as caught:
        parse_chord(text)
    assert caught.value.what == f"{text!r} is not a chord symbol"
    assert mend in (caught.value.mend or "")
    assert "\n" not in str(caught.value)


@given(st.text(st.sampled_from("ABCDEFGb#♭♯mM7965113suadlijo°øΔ+-/(),.N "), max_size=10) | st.text(max_size=8))
@example(string.punctuation)
@example("C" + "b" * 40 + "9")
def test_any_text_is_a_chord_or_a_chord_error_and_nothing_else(text: str) -> None:
    try:
        chord = parse_chord(text)
    except ChordError as error:
        assert error.mend
    else:
        assert parse_chord(chord.symbol) == chord
