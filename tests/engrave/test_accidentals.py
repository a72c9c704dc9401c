"""Accidentals hold for their line to the end of the bar (common practice)."""

from __future__ import annotations

from fractions import Fraction

from companion.engrave.accidentals import accidentals, altered
from companion.engrave.sheet import Voice
from companion.engrave.values import Head
from companion.music.pitch import Pitch, parse_name


def signs(notes: str, fifths: int = 0) -> str:
    """Notes such as 'Bb4', a quarter each, ``~`` before one tied back; out come the accidentals, '-' for none."""
    *before, bar = (staff(part) for part in notes.split("|"))
    ended = altered(before[-1], fifths) if before else None
    printed = accidentals(bar, fifths, ended)
    return " ".join(printed.get((1, k, 0), "-") for k in range(len(bar[0].heads)))


def staff(notes: str) -> list[Voice]:
    heads = []
    for k, word in enumerate(notes.split()):
        name = parse_name(word.strip("~")[:-1])
        pitch = Pitch(name.step, name.alter, int(word[-1]))
        heads.append(Head(Fraction(k), Fraction(1), "quarter", 0, (pitch,), tied_back=word.startswith("~")))
    return [Voice(1, 1, tuple(heads))]


def test_what_the_key_says_needs_no_accidental() -> None:
    assert signs("Bb4 Eb5 F4", fifths=-2) == "- - -"
    assert signs("F#4 C#5 G4", fifths=2) == "- - -"


def test_the_key_says_seven_sharps_or_flats_and_nothing_in_c() -> None:
    order = ["F", "C", "G", "D", "A", "E", "B"]
    for count in range(8):
        sharps = " ".join(f"{letter}{'#' if letter in order[:count] else ''}4" for letter in order)
        flats = " ".join(f"{letter}{'b' if letter in order[7 - count :] else ''}4" for letter in order)
        assert signs(sharps, fifths=count) == signs(flats, fifths=-count) == "- - - - - - -"
    assert signs("F#4 Bb4") == "sharp flat" and signs("F4 C4", fifths=1) == "natural -"


def test_every_alteration_has_its_name_in_musicxml() -> None:
    # MusicXML 4.0, type accidental-value
    assert signs("Fx4 F#4 F4 Fb4 Fbb4") == "double-sharp sharp natural flat flat-flat"


def test_what_a_bar_ends_with_otherwise_than_in_the_key_is_told_to_the_next() -> None:
    assert altered(staff("F#4 Bb4 G4 C5"), 0) == {("F", 4): 1, ("B", 4): -1}
    assert altered(staff("F#4 F4 C#5"), 2) == {("F", 4): 0}


def test_of_two_voices_the_upper_one_has_the_accidental_that_both_need() -> None:
    (upper,), (lower,) = staff("F#5"), staff("F#5")
    assert accidentals([upper, Voice(1, 2, lower.heads)], 0) == {(1, 0, 0): "sharp"}


def test_an_accidental_holds_to_the_end_of_the_bar_and_is_cancelled_where_it_must() -> None:
    assert signs("F#4 F#4 F4") == "sharp - natural"
    assert signs("B4 Bb4 B4", fifths=-2) == "natural flat natural"


def test_another_octave_gets_a_reminder() -> None:
    assert signs("F#4 F5") == "sharp natural"
    assert signs("Eb4 Eb5") == "flat flat"


def test_a_tied_note_goes_on_without_one_and_the_next_has_its_own() -> None:
    assert signs("~F#4 F#4") == "- sharp"


def test_the_bar_after_reminds_of_what_holds_again_once() -> None:
    assert signs("F#4 G4 | F4 F4") == "natural -"
    assert signs("F#4 F4 | F4") == "-"
    assert signs("B4 | Bb4 B4", fifths=-2) == "flat natural"
    assert signs("F#4 | F5 A4") == "- -"
