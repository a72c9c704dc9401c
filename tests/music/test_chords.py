"""What a chord tells the rooms that play it: pitch classes, family, bass, tensions, and its way into MusicXML and back.

Families and tensions are common practice.
"""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import ChordError
from companion.music.chords import NO_CHORD, QUALITIES, Change, Chord, Degree, from_musicxml, parse_chord, transpose
from companion.music.kinds import KINDS, degrees
from companion.music.pitch import Name

C = Name("C")
SYMBOLS = st.sampled_from(
    [
        "C", "Dm", "Eb7", "F#maj7", "Gm7b5", "Abdim7", "Bb13b9", "B7alt", "Csus4", "Db7sus4b9", "Em(maj7)", "F6/9",
        "Gaug", "A7(b9,b13)/C#", "Bb5", "C/E", "D(German)",
    ]
)  # fmt: skip


@pytest.mark.parametrize(
    ("quality", "symbols"),
    [
        ("maj7", "Cmaj7 Cmaj9 Cmaj13 Cmaj7#11 Cmaj7#5 Cmaj7b5"),
        ("6", "C6 C6/9"),
        ("maj", "C Cadd9 C(b5) C(add11)"),
        ("m7", "Cm7 Cm9 Cm11 Cm13 Cm7(11) Cm7(no5)"),
        ("m6", "Cm6 Cm6/9 Cm6(no5)"),
        ("mmaj7", "Cm(maj7) Cm(maj9) Cm(maj7)(no5)"),
        ("m", "Cm Cm(add9) Cm(b6) Cm(no5)"),
        ("7", "C7 C9 C13 C7b9 C7#9 C7#11 C7b13 C7b5 C7#5 C9#11 C13b9 C7(b9,b13) C13#11 C9#5 C7(no3)"),
        ("7sus", "C7sus4 C9sus4 C13sus4 C7sus4b9 C11 C7sus2"),
        ("7alt", "C7alt C7(#5,#9) C7(b5,b9) C7(b9,#11,no5)"),
        ("m7b5", "Cm7b5 Cm9b5 Cm11b5"),
        ("dim7", "Cdim Cdim7 Cdim(maj7)"),
        ("aug", "Caug"),
        ("sus", "Csus4 Csus2 Cmaj7sus4"),
        ("power", "C5 C(pedal)"),
        ("other", "C(German) C(Tristan)"),
        ("none", "N.C."),
    ],
)
def test_a_chord_belongs_to_the_family_of_its_third_and_seventh(quality: str, symbols: str) -> None:
    assert quality in QUALITIES
    assert {parse_chord(symbol).quality for symbol in symbols.split()} == {quality}


def test_pitch_classes_begin_with_the_root_and_leave_the_slash_out() -> None:
    assert parse_chord("F7/Eb").pitch_classes == (5, 9, 0, 3)
    assert parse_chord("D/C").pitch_classes == (2, 6, 9)


def test_the_bass_plays_the_slash_or_else_the_root() -> None:
    basses = {"C7": "C", "C7/E": "E", "F/G": "G", "C(German)": "Ab", "C(Neapolitan)": "F", "C(German)/C": "C"}
    assert {symbol: str(parse_chord(symbol).bass_name) for symbol in basses} == basses


def test_no_chord_has_no_notes() -> None:
    assert not NO_CHORD.is_chord
    assert (NO_CHORD.tones, NO_CHORD.pitch_classes, NO_CHORD.available, NO_CHORD.avoid) == ((), (), (), ())
    assert NO_CHORD.bass_name is None
    assert str(NO_CHORD) == "N.C."
    with pytest.raises(ValueError, match="no chord has no degrees"):
        NO_CHORD.name_of(Degree(3))


@pytest.mark.parametrize(
    ("symbol", "names"),
    [  # common practice: every chord tone on its own letter
        ("Ebm7", "Eb Gb Bb Db"),
        ("F#7", "F# A# C# E"),
        ("Bdim7", "B D F Ab"),
        ("Db7b9", "Db F Ab Cb Ebb"),
        ("G7#9", "G B D F A#"),
        ("Caug", "C E G#"),
        ("Ab6", "Ab C Eb F"),
        ("E7alt", "E G# D F F## A# C"),
        ("C(German)", "Ab C Eb F#"),
        ("F(Tristan)", "F B D# G#"),
    ],
)
def test_the_notes_of_a_chord_are_spelled(symbol: str, names: str) -> None:
    chord = parse_chord(symbol)
    assert " ".join(str(chord.name_of(tone)) for tone in chord.tones) == names


@pytest.mark.parametrize(
    ("symbol", "available", "avoid"),
    [  # common practice
        ("Cmaj7", "9 #11 13", "b9 11"),
        ("Cm7", "9 11 13", "b9 b13"),
        ("C7", "b9 9 #9 #11 b13 13", "11"),
        ("C9", "#11 b13 13", "11"),
        ("C7b9", "#9 #11 b13 13", "11"),
        ("C13", "#11", ""),
        ("C7b13", "b9 9 #9 #11", "11"),
        ("Cmaj13", "#11", "b9"),
        ("C13b9", "#9 #11", ""),
        ("C7#5", "b9 9 #9 #11", "11"),
        ("C7alt", "", "5 9 11 13"),
        ("C7sus4", "b9 9 13", "3"),
        ("Cm7b5", "9 11 b13", "b9"),
        ("Cdim7", "7 9 11 b13", "b9"),
        ("Cm6", "7 9 11", "b9 b13"),
        ("C5", "", ""),
    ],
)
def test_tensions_are_those_that_the_symbol_leaves_open(symbol: str, available: str, avoid: str) -> None:
    chord = parse_chord(symbol)
    assert (chord.available, chord.avoid) == (degrees(available), degrees(avoid))


def test_a_player_adds_nothing_to_a_chord_without_third_or_fourth_nor_to_a_triad_with_a_note_added() -> None:
    """Common practice: who writes C5, Csus2 or Cadd9 wants just that."""
    exact = "C5 Csus2 C7sus2 Cadd9(no3) C7(no3) C(pedal) Cadd9 Cadd4 C(add2) C(add11) Cm(add9) Cm(add11)"
    open_ones = "C Cm C(add6) C6/9 Cmaj9 C9 C11 C13(no3) Csus4 Csus4(add9) C7sus4 Cmaj7sus4 C(German) N.C."
    assert {symbol: parse_chord(symbol).is_exact for symbol in exact.split()} == dict.fromkeys(exact.split(), True)
    found = {symbol: parse_chord(symbol).is_exact for symbol in open_ones.split()}
    assert found == dict.fromkeys(open_ones.split(), False)


@given(SYMBOLS)
def test_nothing_is_both_available_and_to_be_avoided(symbol: str) -> None:
    chord = parse_chord(symbol)
    taken = {tone.pc for tone in chord.tones}
    tensions, avoided = ({tone.pc for tone in tones} for tones in (chord.available, chord.avoid))
    assert not tensions & avoided
    assert not taken & (tensions | avoided)


def test_how_a_symbol_was_written_makes_no_other_chord() -> None:
    assert parse_chord("C-7") == parse_chord("Cmin7")
    assert len({parse_chord("CΔ"), parse_chord("Cmaj7"), parse_chord("C/C"), parse_chord("C")}) == 2


def test_an_interval_moves_root_and_bass_and_keeps_the_letters() -> None:
    assert transpose(parse_chord("Dm7/C"), 3, 3).symbol == "Fm7/Eb"
    assert transpose(parse_chord("C7alt"), 2, 1).symbol == "Db7alt"
    assert transpose(parse_chord("C7alt"), 1, 1).symbol == "C#7alt"
    assert transpose(NO_CHORD, 3, 3) is NO_CHORD


@given(SYMBOLS, st.integers(1, 7), st.integers(0, 11))
def test_a_transposed_chord_sounds_the_same_elsewhere(symbol: str, number: int, semitones: int) -> None:
    chord = parse_chord(symbol)
    moved = transpose(chord, number, semitones)
    assert moved.pitch_classes == tuple((pc + semitones) % 12 for pc in chord.pitch_classes)
    assert (moved.quality, moved.changes) == (chord.quality, chord.changes)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_musicxml_makes_a_chord_that_goes_back_to_it(kind: str) -> None:
    chord = from_musicxml(kind, root=C)
    assert (chord.kind, chord.changes) == ("pedal" if kind == "other" else kind, ()), (
        "of another kind the root is known"
    )
    assert chord.tones == KINDS[kind]
    if kind != "none":
        assert parse_chord(chord.symbol) == chord


@pytest.mark.parametrize(
    ("kind", "text", "changes", "symbol"),
    [
        ("dominant", "7b9", [Change("add", 9, -1)], "C7b9"),
        ("dominant", "", [Change("add", 9)], "C9"),
        ("minor-seventh", "", [Change("alter", 5, -1)], "Cm7b5"),
        ("suspended-fourth", "7sus", [Change("add", 7)], "C7sus4"),
        ("dominant", "7sus", [Change("subtract", 3), Change("add", 4)], "C7sus4"),
        ("major", "", [Change("add", 6), Change("add", 9)], "C6/9"),
        ("other", "", [Change("add", 3), Change("add", 5), Change("add", 7, 1)], "Cmaj7"),
        ("dominant", "7alt", [], "C7alt"),
        ("other", "7alt", [], "C7alt"),
        ("dominant", "7(b9,b13)", [], "C7(b9,b13)"),
        # The text may say less, or something else: then the kind counts.
        ("minor-seventh", "", [], "Cm7"),
        ("dominant-ninth", "7", [], "C9"),
        ("minor-seventh", "7", [], "Cm7"),
        ("dominant", "see below", [], "C7"),
        ("German", "", [Change("add", 9)], "C(b6,add8,add9,addb10,#11,no1,no3,no5)"),
    ],
)
def test_a_harmony_of_musicxml_is_read(kind: str, text: str, changes: list[Change], symbol: str) -> None:
    chord = from_musicxml(kind, text, changes, root=C)
    assert chord.symbol == symbol
    assert chord.text == text


def test_a_harmony_of_musicxml_may_say_that_there_is_none() -> None:
    none = from_musicxml("none", text="N.C.", root=C)
    assert none == NO_CHORD and none.text == "N.C."
    assert from_musicxml("major", bass=C) == NO_CHORD


def test_a_kind_that_musicxml_does_not_know_is_refused() -> None:
    with pytest.raises(ChordError, match="'quartal' is not a kind of chord in MusicXML"):
        from_musicxml("quartal", root=C)


@given(SYMBOLS)
def test_kind_and_changes_written_to_musicxml_read_back_equal(symbol: str) -> None:
    chord = parse_chord(symbol)
    assert from_musicxml(chord.kind, "", chord.changes, chord.root, chord.bass) == chord


def test_chords_are_values() -> None:
    chord = parse_chord("C7")
    with pytest.raises(dataclasses.FrozenInstanceError):
        chord.kind = "major"  # type: ignore[misc]
    assert isinstance(chord, Chord) and hash(chord) == hash(parse_chord("Cdom7"))


def test_no_chord_keeps_the_text_that_stands_for_it() -> None:
    assert from_musicxml("none", "tacet").text == "tacet" and from_musicxml("none").text == "N.C."
    assert from_musicxml("major", "tacet").root is None
