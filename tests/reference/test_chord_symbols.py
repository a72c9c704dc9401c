"""Chord symbols against what every solo jazz pianist and their teacher take for granted.

Notes above C as pitch classes. Books are cited from memory; all else is common practice.
"""

from __future__ import annotations

import pytest

from companion.music.chords import parse_chord
from companion.music.kinds import degrees


@pytest.mark.parametrize(
    ("symbol", "notes"),
    [  # common practice
        ("C", {0, 4, 7}),
        ("Cm", {0, 3, 7}),
        ("C+", {0, 4, 8}),
        ("C°", {0, 3, 6}),
        ("Csus4", {0, 5, 7}),
        ("Csus2", {0, 2, 7}),
        ("C6", {0, 4, 7, 9}),
        ("Cm6", {0, 3, 7, 9}),
        ("Cmaj7", {0, 4, 7, 11}),
        ("C7", {0, 4, 7, 10}),
        ("Cm7", {0, 3, 7, 10}),
        ("Cm(maj7)", {0, 3, 7, 11}),
        ("Cm7b5", {0, 3, 6, 10}),
        ("Cdim7", {0, 3, 6, 9}),
        ("C7#5", {0, 4, 8, 10}),
        ("C7sus4", {0, 5, 7, 10}),
        ("C6/9", {0, 4, 7, 9, 2}),
        ("C7alt", {0, 4, 10, 1, 3, 6, 8}),
        ("C7b9", {0, 4, 7, 10, 1}),
        ("C7#9", {0, 4, 7, 10, 3}),
        ("C7#11", {0, 4, 7, 10, 6}),
        ("C9", {0, 4, 7, 10, 2}),
        ("Cmaj7#11", {0, 4, 7, 11, 6}),
        ("Cadd9", {0, 4, 7, 2}),
    ],
)
def test_a_symbol_has_the_notes_that_players_give_it(symbol: str, notes: set[int]) -> None:
    assert set(parse_chord(symbol).pitch_classes) == notes


def test_an_altered_chord_has_no_natural_fifth_and_ninth() -> None:
    assert not {7, 2} & set(parse_chord("C7alt").pitch_classes)  # common practice


@pytest.mark.parametrize(
    ("symbol", "played", "left_out", "family"),
    [  # common practice: what is played of a chord whose definition holds more
        ("C13", {0, 4, 10, 2, 9}, {7, 5}, "7"),
        ("C11", {0, 5, 7, 10, 2}, {4}, "7sus"),
        ("Cmaj13", {0, 4, 11, 2, 9}, {7, 5}, "maj7"),
    ],
)
def test_a_player_leaves_out_what_the_definition_only_counts_through(
    symbol: str, played: set[int], left_out: set[int], family: str
) -> None:
    chord = parse_chord(symbol)
    assert set(chord.pitch_classes) == played | left_out
    assert chord.quality == family


def test_a_diminished_triad_as_a_symbol_is_voiced_as_a_diminished_seventh() -> None:
    assert parse_chord("C°").quality == parse_chord("C°7").quality == "dim7"  # common practice


@pytest.mark.parametrize(
    ("symbol", "voicing", "notes"),
    [
        # Levine, The Jazz Piano Book, 1989 (from memory)
        ("C7", "3 13 b7 9", "E A Bb D"),
        ("C7", "b7 9 3 13", "Bb D E A"),
        ("C7alt", "3 b13 b7 #9", "E Ab Bb D#"),
        ("C7alt", "b7 #9 3 b13", "Bb D# E Ab"),
        ("Cm6", "b3 5 6 9", "Eb G A D"),
        ("Cm(maj7)", "b3 5 7 9", "Eb G B D"),
        ("Dm7", "b3 5 b7 9", "F A C E"),
        ("G7", "b7 9 3 13", "F A B E"),
        ("Cmaj7", "3 5 7 9", "E G B D"),
        # common practice
        ("Cm7b5", "b3 b5 b7 11", "Eb Gb Bb F"),
        ("Dm7b5", "b3 b5 b7 1", "F Ab C D"),
        ("G7alt", "b7 b9 3 b13", "F Ab B Eb"),
        ("Cdim7", "b3 b5 bb7 9", "Eb Gb Bbb D"),
        ("C", "3 5 6 9", "E G A D"),
        ("Cm", "b3 5 6 9", "Eb G A D"),
        ("C7sus4", "b7 9 4 5", "Bb D F G"),
        ("C7sus4", "4 13 b7 9", "F A Bb D"),
        ("Cmaj7#11", "7 9 3 #11", "B D E F#"),
        ("C7#5", "b7 9 3 #5", "Bb D E G#"),
        ("C7b5", "b7 9 3 b5", "Bb D E Gb"),
        ("Cm11", "1 5 9 b3 b7 11", "C G D Eb Bb F"),
        ("C7(b9,b13)", "3 b13 b7 b9", "E Ab Bb Db"),
    ],
)
def test_the_voicings_of_the_handbooks_are_made_of_chord_tones_and_available_tensions(
    symbol: str, voicing: str, notes: str
) -> None:
    chord, tones = parse_chord(symbol), degrees(voicing)
    assert " ".join(str(chord.name_of(tone)) for tone in tones) == notes
    usable = {tone.pc for tone in (*chord.tones, *chord.available)}
    assert {tone.pc for tone in tones} <= usable
    assert not {tone.pc for tone in tones} & {tone.pc for tone in chord.avoid}


@pytest.mark.parametrize(
    ("one", "other"),
    [  # common practice: the same notes without their roots
        ("C13", "Gb7alt"),
        ("Cm6/9", "F13"),
        ("F13", "B7alt"),
    ],
)
def test_the_same_hand_plays_chords_of_several_names(one: str, other: str) -> None:
    hands = {"7": "3 13 b7 9", "7alt": "b7 #9 3 b13", "m6": "b3 5 6 9"}
    shapes = []
    for chord in (parse_chord(one), parse_chord(other)):
        assert chord.root
        shapes.append({(chord.root.pc + tone.pc) % 12 for tone in degrees(hands[chord.quality])})
    assert shapes[0] == shapes[1]


@pytest.mark.parametrize(
    ("spelling", "ours"),
    [  # the spellings that lead sheets use for the kinds of MusicXML (common practice)
        *((text, "Cmaj7") for text in ("Cmaj7", "CM7", "CΔ", "CΔ7", "Cma7")),
        *((text, "Cm7") for text in ("Cm7", "C-7", "Cmi7", "Cmin7")),
        *((text, "Cm7b5") for text in ("Cm7b5", "Cø", "Cø7", "C-7b5")),
        *((text, "Cdim7") for text in ("Cdim7", "C°7", "Co7")),
        *((text, "C6/9") for text in ("C69", "C6/9")),
        *((text, "Cm6") for text in ("Cm6", "C-6")),
        *((text, "Cm(maj7)") for text in ("Cm(maj7)", "CmM7", "C-Δ7")),
        *((text, "Caug") for text in ("Caug", "C+")),
        *((text, "C7#5") for text in ("C7#5", "C+7")),
        *((text, "Csus4") for text in ("Csus", "Csus4")),
        *((text, "C7alt") for text in ("C7alt", "Calt")),
        *(
            (text, text)
            for text in (
                "C", "Cm", "Cdim", "C6", "C7", "C9", "C11", "C13", "Cm9", "Cm11", "Cm13", "Cmaj9", "Cmaj13", "Cmaj7#11",
                "Cmaj7#5", "Cm(add9)", "C7sus4", "C9sus4", "Csus2", "Cadd9", "C7b9", "C7#9", "C7#11", "C7b13", "C7b5",
                "C9#11", "C13b9", "C7(b9,b13)", "C13#11", "C13sus4", "C7sus4b9", "C/E", "C7/Bb", "N.C.",
            )
        ),
    ],
)  # fmt: skip
def test_lead_sheet_spellings_are_read(spelling: str, ours: str) -> None:
    assert parse_chord(spelling).symbol == ours
    assert parse_chord(spelling.replace("b", "♭").replace("#", "♯")).symbol == ours
