"""Keys and their signatures (common practice: the circle of fifths)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.keys import guess_fifths, modal_key, read_key, sounds_minor, write_key
from companion.chart.model import ChordSpan, MelodyNote
from companion.errors import ChartError
from companion.music.chords import parse_chord
from companion.music.pitch import parse_name

SHARPS = ["C", "G", "D", "A", "E", "B", "F#", "C#"]
FLATS = ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "Cb"]
RELATIVE = {"C": "A", "G": "E", "F": "D", "Eb": "C", "A": "F#", "Db": "Bb"}


def test_sharps_and_flats_come_round_the_circle_of_fifths() -> None:
    for count, (sharp, flat) in enumerate(zip(SHARPS, FLATS, strict=True)):
        assert read_key(sharp) == (count, False)
        assert read_key(f"{flat} major") == (-count, False)


def test_a_minor_key_has_the_signature_of_its_relative_major() -> None:
    for major, minor in RELATIVE.items():
        assert read_key(f"{minor} minor") == (read_key(major)[0], True) == read_key(f"{minor}m")


@pytest.mark.parametrize("fifths", range(-7, 8))
@pytest.mark.parametrize("minor", [False, True])
def test_a_key_that_is_written_reads_back(fifths: int, minor: bool) -> None:
    assert read_key(write_key(fifths, minor)) == (fifths, minor)


@pytest.mark.parametrize("text", ["", "H", "C dorian", "G# major", "minor", "CM7", "Fb"])
def test_what_is_no_key_is_refused(text: str) -> None:
    with pytest.raises(ChartError, match="is not a key"):
        read_key(text)


SCALES = {
    0: "C D E F G A B", 1: "G A B C D E F#", 2: "D E F# G A B C#", 7: "C# D# E# F# G# A# B#",
    -1: "F G A Bb C D E", -4: "Ab Bb C Db Eb F G", -7: "Cb Db Eb Fb Gb Ab Bb",
}  # fmt: skip


def sung(names: str, length: float = 1) -> list[MelodyNote]:
    return [
        MelodyNote(Fraction(k), Fraction(length), parse_name(n).at(60 + parse_name(n).pc))
        for k, n in enumerate(names.split())
    ]


def over(*spans: tuple[float, float, str]) -> list[ChordSpan]:
    return [ChordSpan(Fraction(start), Fraction(end), parse_chord(symbol)) for start, end, symbol in spans]


@pytest.mark.parametrize("fifths", SCALES)
def test_a_scale_is_in_the_key_that_needs_no_accidentals_for_it(fifths: int) -> None:
    assert guess_fifths(sung(SCALES[fifths]), []) == fifths


@pytest.mark.parametrize(
    ("names", "fifths"),
    [
        ("C", 0),
        ("B", 0),
        ("F", 0),
        ("B F", 0),
        ("F#", 1),
        ("Bb", -1),
        ("C# D# E# F## G# A# B#", 7),
        ("Cb Db Eb Fb Gb Ab Bbb", -7),
    ],
)  # fmt: skip
def test_of_equal_keys_the_plainest_is_meant_and_none_has_more_than_seven_signs(names: str, fifths: int) -> None:
    assert guess_fifths(sung(names), []) == fifths


def test_the_longer_of_two_tones_that_no_key_has_together_tells() -> None:
    assert guess_fifths([*sung("Bb", 2), *sung("B", 1)], []) == -1
    assert guess_fifths([*sung("Bb", 1), *sung("B", 2)], []) == 0
    assert guess_fifths([], over((0, 8, "Bb"), (8, 12, "B7"), (12, 16, "N.C."))) == -1
    assert guess_fifths(sung("B", 6), over((20, 24, "Bb"))) == 0


@pytest.mark.parametrize(
    ("symbols", "minor"),
    [
        ("C Am", True), ("Am7", True), ("Am N.C.", True), ("Am C", False), ("A7", False), ("Amaj7", False),
        ("Dm", False), ("N.C.", False), ("", False),
    ],
)  # fmt: skip
def test_a_tune_that_ends_on_its_minor_tonic_is_in_minor(symbols: str, minor: bool) -> None:
    spans = over(*((4 * k, 4 * k + 4, symbol) for k, symbol in enumerate(symbols.split())))
    assert sounds_minor(0, spans) is minor
    assert not sounds_minor(1, spans)


@pytest.mark.parametrize(
    ("tonic", "mode", "wanted"),
    [
        ("F", "lyd", (0, -1, False, False)), ("C", "ion", (0, 0, False, True)), ("C", "maj", (0, 0, False, True)),
        ("G", "mix", (0, 1, False, False)), ("D", "dor", (0, -1, True, False)), ("A", "aeo", (0, 0, True, True)),
        ("A", "min", (0, 0, True, True)), ("E", "phr", (0, 1, True, False)), ("B", "loc", (0, 2, True, False)),
        ("C#", "maj", (7, 7, False, True)), ("Cb", "maj", (-7, -7, False, True)), ("G#", "maj", (8, -4, False, True)),
        ("Fb", "maj", (-8, 4, False, True)), ("Db", "min", (-8, 4, True, True)), ("B#", "min", (9, -3, True, True)),
    ],
)  # fmt: skip
def test_each_mode_of_the_white_keys_has_no_sign_and_the_chart_the_key_on_its_tonic(
    tonic: str, mode: str, wanted: tuple[int, int, bool, bool]
) -> None:
    """Common practice: the seven modes on F, C, G, D, A, E and B have the signature of C major."""
    assert modal_key(parse_name(tonic), mode) == wanted
