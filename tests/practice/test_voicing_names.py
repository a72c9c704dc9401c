"""Voicings named as they are played: every row of the handbooks, in twelve keys, with and without a bass.

Source of the rows: Levine, The Jazz Piano Book, 1989 (from memory), and common practice.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.arrange.harmony import Harmony
from companion.arrange.lookup import harmony_at
from companion.chart.toml.read import parse_toml
from companion.music.kinds import degrees
from companion.practice.voicing_names import VoicingName, voicing_name
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
ROWS = (
    ("maj7", "3 5 7 9", "rootless from the third"),
    ("maj7", "7 9 3 5", "rootless from the seventh"),
    ("m7", "b3 5 b7 9", "rootless from the third"),
    ("m7", "b7 9 b3 5", "rootless from the seventh"),
    ("7", "3 13 b7 9", "rootless from the third"),
    ("7", "b7 9 3 13", "rootless from the seventh"),
    ("13", "3 13 b7 9", "rootless from the third"),
    ("7alt", "3 b13 b7 #9", "rootless from the third"),
    ("7alt", "b7 #9 3 b13", "rootless from the seventh"),
    ("7alt", "3 b13 b7 b9", "rootless from the third"),
    ("7", "3 b13 b7 b9", "rootless from the third"),
    ("m6", "b3 5 6 9", "rootless from the third"),
    ("m(maj7)", "b3 5 7 9", "rootless from the third"),
    ("m7b5", "b3 b5 b7 11", "rootless with the eleventh"),
    ("m7b5", "b3 b5 b7 1", "rootless from the third"),
    ("dim7", "b3 b5 bb7 1", "rootless from the third"),
    ("dim7", "b3 b5 bb7 9", "rootless, root raised"),
    ("dim7", "b3 b5 7 1", "diminished, the seventh raised"),
    ("", "3 5 6 9", "rootless from the third"),
    ("m", "b3 5 6 9", "rootless from the third"),
    ("7sus4", "b7 9 4 5", "rootless from the seventh"),
    ("7sus4", "4 13 b7 9", "rootless from the fourth"),
    ("maj7#11", "7 9 3 #11", "rootless from the seventh"),
    ("7#5", "b7 9 3 #5", "rootless from the seventh"),
    ("m7", "1 4 b7", "fourths from the root"),
    ("m7", "5 1 4", "fourths from the fifth"),
    ("m7", "9 5 1", "fourths from the ninth"),
    ("m7", "4 b7 b3", "fourths from the fourth"),
    ("7sus4", "5 1 4", "fourths from the fifth"),
    ("7", "b7 3 13", "fourths from the seventh"),
    ("7alt", "3 b7 #9", "fourths from the third"),
    ("maj7", "3 6 9", "fourths from the third"),
    ("maj7", "6 9 5", "fourths from the sixth"),
    ("m7b5", "11 b7 b3", "fourths from the eleventh"),
    ("m7b5", "b5 1 11", "fourths from the fifth"),
    ("m7", "1 4 b7 b3 5", "fourths and a third from the root"),
    ("maj7", "3 6 9 5 7", "fourths and a third from the third"),
    ("m11", "1 5 9 b3 b7 11", "two stacks of fifths"),
    ("7", "1 b7", "shell, root and seventh"),
    ("7", "1 3", "shell, root and third"),
)


def harmony(symbol: str) -> Harmony:
    chart = parse_toml(
        f'format = 1\ntitle = "t"\nkey = "C major"\nform = "A"\n[section.A]\nchords = "| {symbol} | % | % | % |"\n'
    )
    return harmony_at(chart.unfold(), Fraction(0))


def stacked(chord: Harmony, text: str) -> list[int]:
    """The degrees as MIDI numbers, each the nearest above the one before."""
    notes, last = [], 47
    for one in degrees(text):
        last += 1 + (chord.root + one.pc - last - 1) % 12
        notes.append(last)
    return notes


def named(symbol: str, text: str, *, bass: bool = False) -> VoicingName:
    chord = harmony(symbol)
    return voicing_name(preferences(VoicingPreferences), chord, stacked(chord, text), 36 + chord.root if bass else None)


@pytest.mark.parametrize(("quality", "text", "name"), ROWS)
def test_every_row_is_named_in_twelve_keys_with_and_without_a_bass(quality: str, text: str, name: str) -> None:
    for root in ROOTS:
        assert named(root + quality, text).text == name
        assert named(root + quality, text, bass=True).text == name


def test_what_a_voicing_lacks_or_has_besides_is_said() -> None:
    assert named("Dm7", "b3 5 b7").text == "rootless from the third, 9 missing"
    assert named("G7", "3 b7 9").text == "rootless from the third, 13 missing"
    assert named("Cmaj7", "1 3 5 7 9").text == "rootless from the third, with the root"


def test_the_same_notes_have_the_name_that_the_chart_gives_them() -> None:
    """C13 from its third and Gb7alt are the same notes (common practice)."""
    assert named("C13", "3 13 b7 9").text == "rootless from the third"
    assert [note % 12 for note in stacked(harmony("C13"), "3 13 b7 9")] == [4, 9, 10, 2]
    gb = voicing_name(preferences(VoicingPreferences), harmony("Gb7alt"), stacked(harmony("C13"), "3 13 b7 9"), None)
    assert gb.text == "rootless from the seventh"


def test_another_chord_is_named_by_itself() -> None:
    chord = harmony("Dm7")
    found = voicing_name(preferences(VoicingPreferences), chord, [54, 58, 61, 64], 42)  # F sharp 7 over its root
    assert found.other and found.other.startswith(("F#7", "Gb7"))
    assert not named("Dm7", "b3 5 b7 9").other


@pytest.mark.parametrize(
    ("symbol", "text", "name", "price", "with_bass"),
    [
        ("Dm7", "b3 5 b7", "rootless from the third, 9 missing", 1.0, None),
        ("Dm7", "b3 b7 9", "rootless from the third, 5 missing", 1.0, None),
        ("Dm7", "b3 5 b7 9 11", "rootless from the third, with 11", 1.3, None),
        ("Dm7", "1 b3 5 b7 9", "rootless from the third, with the root", 1.3, None),
        ("Dm7", "b3 5 b7 9", "rootless from the third", 0.0, None),
        ("Dm7", "b3 5", "b3 5", 9.0, None),
        ("G7", "b7 3 5", "rootless from the seventh, with the fifth, 9 missing", 1.5, None),
        ("G7", "3 5 b7", "rootless from the third, with the fifth, 9 missing", 1.5, ("root position", 0.6)),
        ("G7", "3 b7", "third and seventh", 0.8, None),
        ("G7", "3 b13 b7 b9", "rootless from the third", 0.3, None),  # two notes of another colour
        ("G7", "b7 3 13 9", "open, seventh and third", 0.2, None),
        ("Cm6", "1 b3 5 6", "third, fifth, sixth, with the root", 3.8, None),
        ("Cmaj7", "1 3 5", "root position, 7 missing", 1.6, None),
        ("Cdim7", "1 b3 b5", "rootless from the seventh, bb7 missing", 1.0, None),
        ("Dm7", "1 4 b7 b3", "fourths and a third from the root, 5 missing", 1.0, None),
        ("Cmaj7", "4 b7 b3", "fourths", 0.0, None),
        ("Cmaj7", "3 #11", "3 b5", 9.0, ("root position, 7 missing", 1.75)),
        ("Dm7", "b3 3", "b3 3", 9.0, None),  # one note outside is no other chord
        ("G7", "1 b2 2", "1 b9 2", 9.0, None),
    ],
)  # fmt: skip
def test_a_voicing_has_the_cheapest_of_its_names(
    symbol: str, text: str, name: str, price: float, with_bass: tuple[str, float] | None
) -> None:
    for bass, (called, cost) in ((False, (name, price)), (True, with_bass or (name, price))):
        found = named(symbol, text, bass=bass)
        assert (found.text, found.other) == (called, "")
        assert found.price == pytest.approx(cost)


@pytest.mark.parametrize(
    ("symbol", "text", "other"),
    [("Dm7", "3 b13", "Gm(maj7)"), ("F7", "3 b13 b7 #9 1", "F7alt"), ("Dm7", "3 b13 b9", "")],
)
def test_two_notes_outside_make_another_chord_unless_it_is_one_of_fourths(symbol: str, text: str, other: str) -> None:
    found = named(symbol, text)
    assert (found.other, found.text) == (other, other or "fourths")


@pytest.mark.parametrize(
    ("text", "raised"),
    [("1 11 b5 bb7", "third"), ("1 b3 b5 7", "seventh"), ("b3 b13 bb7 1", "fifth")],
)
def test_a_diminished_seventh_may_have_one_of_its_notes_a_tone_higher(text: str, raised: str) -> None:
    """Levine, The Jazz Piano Book, 1989 (from memory): any note of the chord may be raised by a whole tone."""
    assert named("Cdim7", text).text == f"diminished, the {raised} raised"
