"""Names for played chords, against the voicings of the books.

Sources: Mark Levine, The Jazz Piano Book, 1989, for rootless, altered and minor voicings and their way through ii-V-I
(values from memory); what is marked common practice is taught everywhere. Notes from the lowest up, as degrees.
"""

from __future__ import annotations

import pytest

from companion.music.chord_names import SoundedChord, name_chords, root_name, spelled_in_key, with_bass
from companion.music.chords import parse_chord
from companion.music.kinds import degree
from companion.music.pitch import parse_name

LEVINE = "Levine 1989, from memory"
PRACTICE = "common practice"

VOICINGS = [
    ("Cmaj7", "3 5 7 9", LEVINE), ("Cmaj7", "7 9 3 5", LEVINE),
    ("Cm7", "b3 5 b7 9", LEVINE), ("Cm7", "b7 9 b3 5", LEVINE),
    ("C7", "3 13 b7 9", LEVINE), ("C7", "b7 9 3 13", LEVINE),
    ("C7alt", "3 b13 b7 #9", LEVINE), ("C7alt", "b7 #9 3 b13", LEVINE),
    ("C7alt", "3 b13 b7 b9", LEVINE), ("C7alt", "b7 b9 3 b13", LEVINE),
    ("Cm6", "b3 5 6 9", LEVINE), ("Cm(maj7)", "b3 5 7 9", LEVINE),
    ("Cm7b5", "b3 b5 b7 11", PRACTICE), ("Cm7b5", "b3 b5 b7 1", PRACTICE),
    ("Cdim7", "b3 b5 bb7 1", PRACTICE), ("Cdim7", "b3 b5 bb7 9", PRACTICE),
    ("C6", "3 5 6 9", PRACTICE), ("C7sus4", "b7 9 4 5", PRACTICE), ("C7sus4", "4 13 b7 9", PRACTICE),
    ("Cmaj7#11", "7 9 3 #11", PRACTICE), ("C7#5", "b7 9 3 #5", PRACTICE), ("C7b5", "b7 9 3 b5", PRACTICE),
]  # fmt: skip
"""Four notes, the root in the bass."""

WAYS = [
    ("Dm7 G7 Cmaj7", ("b3 5 b7 9", "b7 9 3 13", "3 5 7 9"), LEVINE),
    ("Dm7 G7 Cmaj7", ("b7 9 b3 5", "3 13 b7 9", "7 9 3 5"), LEVINE),
    ("Dm7b5 G7alt Cm6", ("b3 b5 b7 1", "b7 #9 3 b13", "b3 5 6 9"), LEVINE),
    ("Dm7b5 G7alt Cm6", ("b7 1 b3 b5", "3 b13 b7 #9", "6 9 b3 5"), LEVINE),
    ("Cmaj7 Am7 Dm7 G7 C6", ("3 5 7 9", "b7 9 b3 5", "b3 5 b7 9", "b7 9 3 13", "3 5 6 9"), PRACTICE),
    ("Em7 A7alt Dm7 G7 Cmaj7", ("b3 5 b7 9", "b7 #9 3 b13", "b3 5 b7 9", "b7 9 3 13", "3 5 7 9"), PRACTICE),
]
"""Rootless chords whose progression tells what they are, no bass heard."""


def stacked(root: int, degrees: str, lowest: int = 50) -> tuple[int, ...]:
    """Degrees of a chord from the bottom up, the first at or above ``lowest``."""
    notes, at = [], lowest
    for text in degrees.split():
        at += ((root + degree(text).semitones) - at) % 12
        notes.append(at)
    return tuple(notes)


@pytest.mark.parametrize(("symbol", "degrees", "source"), VOICINGS)
def test_four_notes_over_their_root_have_the_chords_name_in_every_key(symbol: str, degrees: str, source: str) -> None:
    meant = parse_chord(symbol)
    for root in range(12):
        [named] = name_chords([SoundedChord(stacked(root, degrees), root)])
        assert named.root is not None, source
        assert (named.root.pc, named.quality) == (root, meant.quality), (named.symbol, source)


@pytest.mark.parametrize(("changes", "voicings", "source"), WAYS)
def test_rootless_chords_are_named_by_where_they_lead(changes: str, voicings: tuple[str, ...], source: str) -> None:
    meant = [parse_chord(symbol) for symbol in changes.split()]
    for up in range(12):
        roots = [(chord.root.pc + up) % 12 for chord in meant if chord.root]
        struck = [SoundedChord(stacked(root, degrees)) for root, degrees in zip(roots, voicings, strict=True)]
        named = name_chords(struck)
        found = [(chord.root.pc, chord.quality) for chord in named if chord.root]
        assert found == [(root, chord.quality) for root, chord in zip(roots, meant, strict=True)], (up, source)


@pytest.mark.parametrize("symbol", ["Cmaj7", "C6", "Cm7", "Cm6", "Cm(maj7)", "C7", "Cm7b5", "Cdim7", "C7sus4", "C7#5"])
def test_a_chord_in_root_position_has_its_own_name(symbol: str) -> None:
    # common practice; with the root lowest, C E G A is C6 and not Am7
    meant = parse_chord(symbol)
    tones = sorted({tone.pc for tone in meant.tones})
    for root in range(12):
        [named] = name_chords([SoundedChord(tuple(48 + root + tone for tone in tones))])
        assert named.root is not None and (named.root.pc, named.quality) == (root, meant.quality)


def test_the_same_four_notes_are_another_chord_over_another_bass() -> None:
    # common practice: E Bb D A over C is C13, over F# (with the fifth lowered) F#7alt
    notes = stacked(0, "3 13 b7 9")
    over_c, over_f_sharp = (name_chords([SoundedChord(notes, bass)])[0] for bass in (0, 6))
    assert over_c.root is not None and over_c.root.pc == 0 and over_c.quality == "7"
    assert over_f_sharp.root is not None and over_f_sharp.root.pc == 6 and over_f_sharp.quality == "7alt"


def test_a_low_note_under_a_hand_is_its_bass() -> None:
    assert with_bass([40, 55, 59, 62, 66]) == SoundedChord((55, 59, 62, 66), 40)
    assert with_bass([52, 55, 59, 62]).bass is None


def test_another_bass_than_the_root_stands_after_the_slash() -> None:
    [named] = name_chords([SoundedChord((60, 64, 67, 71), 40)], (0, False))
    assert named.symbol == "Cmaj7/E"


def test_roots_are_spelled_as_the_key_asks() -> None:
    turn = [
        SoundedChord(stacked(root, "b3 5 b7 9" if minor else "b7 9 3 13"), root) for root, minor in ((10, 1), (3, 0))
    ]
    flat = name_chords([*turn, SoundedChord(stacked(8, "3 5 7 9"), 8)], (-4, False))
    assert [chord.symbol for chord in flat] == ["Bbm7", "Eb7", "Abmaj7"]


@pytest.mark.parametrize(
    ("notes", "symbol"),
    [  # tones as W3C MusicXML 4.0 defines dominant-ninth, major-ninth and minor-ninth; added notes are <degree>s
        ((48, 52, 55, 58, 62), "C9"),
        ((48, 52, 58, 62), "C9"),
        ((50, 53, 57, 60, 64), "Dm9"),
        ((48, 52, 55, 59, 62), "Cmaj9"),
        ((48, 50, 52, 55), "Cadd9"),
        ((36, 52, 55, 62), "Cadd9"),
        ((48, 51, 55, 62), "Cm(add9)"),
        ((48, 52, 55, 57, 62), "C6/9"),
        ((48, 53, 55, 58, 62), "C9sus4"),
    ],
)
def test_a_ninth_struck_with_its_root_is_in_the_symbol(notes: tuple[int, ...], symbol: str) -> None:
    assert name_chords([with_bass(notes)])[0].symbol == symbol


def test_the_ninth_of_a_rootless_voicing_is_the_players_own() -> None:
    """Levine 1989, from memory: F A C E is the rootless voicing of a plain Dm7."""
    assert [c.symbol for c in name_chords([with_bass([38, 53, 57, 60, 64]), with_bass([43, 53, 57, 59])])] == [
        "Dm7",
        "G7",
    ]


# Which name a root has in a key

CIRCLE = {
    -6: "Gb Ab Bb Cb Db Eb F", -5: "Db Eb F Gb Ab Bb C", -4: "Ab Bb C Db Eb F G", -3: "Eb F G Ab Bb C D",
    -2: "Bb C D Eb F G A", -1: "F G A Bb C D E", 0: "C D E F G A B", 1: "G A B C D E F#", 2: "D E F# G A B C#",
    3: "A B C# D E F# G#", 4: "E F# G# A B C# D#", 5: "B C# D# E F# G# A#", 6: "F# G# A# B C# D# E#",
}  # fmt: skip
"""The steps of the major keys round the circle of fifths: common practice. A minor key has those of its relative."""


@pytest.mark.parametrize("fifths", CIRCLE)
def test_a_root_of_the_key_has_the_keys_name_and_no_root_has_two_signs(fifths: int) -> None:
    names = [parse_name(name) for name in CIRCLE[fifths].split()]
    for minor in (False, True):
        assert [root_name(name.pc, "ii", fifths, minor) for name in names] == names
        every = [root_name(pc, role, fifths, minor) for pc in range(12) for role in ("minor", "V", "dim", "half")]
        assert all(abs(name.alter) <= 1 for name in every)


@pytest.mark.parametrize(
    ("symbol", "fifths", "minor", "named"),
    [
        ("F##m6", 5, True, "Gm6"), ("F##dim7", 5, True, "Gdim7"),
        ("E#m7", 3, True, "Fm7"), ("Fdim7", 3, True, "E#dim7"), ("Gbdim7", -2, True, "F#dim7"),
        ("A#m7", -2, True, "Bbm7"), ("D#maj7", -2, True, "Ebmaj7"), ("Dbdim7", -1, True, "C#dim7"),
        ("G#maj7", -4, False, "Abmaj7"), ("G#7/D#", -4, False, "Ab7/Eb"), ("Fb7", -3, False, "E7"),
    ],
)  # fmt: skip
def test_a_chord_has_the_name_of_its_key_or_the_simplest(symbol: str, fifths: int, minor: bool, named: str) -> None:
    """Common practice: what leads to a step by a semitone is named by the letter below, all else by the key."""
    assert spelled_in_key(parse_chord(symbol), fifths, minor).symbol == named


# Plain triads: what they do in a key, their step says (common practice)


@pytest.mark.parametrize(
    ("changes", "fifths", "minor"),
    [
        ("C F G C", 0, False),
        ("C Am Dm G C", 0, False),
        ("C Am F G", 0, False),
        ("G D Em C", 1, False),
        ("C G Am F", 0, False),
        ("Am Dm E Am", 0, True),
        ("Gm Cm D Gm", -2, True),
        ("Am F G Am", 0, True),
    ],
)
def test_triads_on_their_roots_are_triads_and_no_rootless_sevenths(changes: str, fifths: int, minor: bool) -> None:
    """I IV V, I vi ii V, I vi IV V, I V vi IV; i iv V and i VI VII in minor; with the key told and without."""
    meant = [parse_chord(symbol) for symbol in changes.split()]
    struck = [
        SoundedChord(tuple(48 + (chord.root.pc if chord.root else 0) + tone.semitones for tone in chord.tones))
        for chord in meant
    ]
    for key in (None, (fifths, minor)):
        assert [chord.symbol for chord in name_chords(struck, key)] == changes.split()


def test_three_notes_of_a_rootless_ii_v_i_are_no_triads() -> None:
    """Levine 1989, from memory: third, fifth and seventh over a bass player's root; F A C is Dm7 where G7 follows."""
    struck = [SoundedChord(stacked(root, tones)) for root, tones in ((2, "b3 5 b7"), (7, "b7 9 3 13"), (0, "3 5 7 9"))]
    assert [chord.symbol for chord in name_chords(struck)] == ["Dm7", "G7", "Cmaj7"]
