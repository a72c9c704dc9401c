"""What a chord offers where it stands: its kind, its colours, its degrees and the spelling of every note.

Which kinds are which and what a copyist writes are common practice; C is 0, C sharp 1 and so on to B, 11.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.arrange.harmony import Harmony, guide_semitones, harmonies, tonic
from companion.chart.model import Form
from companion.music.chords import parse_chord

Composer = Callable[..., Form]
C_MINOR, FLAT, SHARP = {"fifths": -3, "minor": True}, {"fifths": -5}, {"fifths": 4}


@pytest.fixture(scope="module")
def first(compose: Composer) -> Callable[..., Harmony]:
    return lambda changes, **told: harmonies(compose(changes, **told))[0]


First = Callable[..., Harmony]


@pytest.mark.parametrize(
    ("changes", "told", "plain", "spelled_out", "minor_tonic"),
    [
        ("Cmaj7 | F", {}, {0, 4, 7, 11}, False, False),
        ("C13 | F", {}, {0, 4, 7, 10}, False, False),
        ("C7sus4 | F", {}, {0, 5, 7, 10}, False, False),
        ("Cm7b5 | F", {}, {0, 3, 6, 10}, False, False),
        ("Cdim7 | F", {}, {0, 3, 6, 9}, True, False),
        ("Cm(maj7) | F", {}, {0, 3, 7, 11}, True, True),
        ("Cm6 | G7", C_MINOR, {0, 3, 7, 9}, False, True),
        ("Cm | G7", C_MINOR, {0, 3, 7}, False, True),
        ("Cm7 | F7", {}, {0, 3, 7, 10}, False, False),
        ("Cm9 | F7", {}, {0, 3, 7, 10}, False, False),
        ("C5 | F", {}, {0, 7}, False, False),
    ],
)
def test_the_plain_tones_say_what_kind_of_chord_it_is(
    first: First, changes: str, told: dict[str, int], plain: set[int], spelled_out: bool, minor_tonic: bool
) -> None:
    found = first(changes, **told)
    assert (set(found.plain), found.spelled_out, found.minor_tonic) == (plain, spelled_out, minor_tonic)


@pytest.mark.parametrize(
    ("symbol", "guides"),
    [("maj7", (4, 11)), ("m7", (3, 10)), ("6", (4, 9)), ("m6", (3, 9)), ("7sus4", (5, 10)), ("sus2", (2,)),
     ("dim7", (3, 9)), ("5", ()), ("", (4,)), ("+", (4,)), ("m(maj7)", (3, 11)), ("13", (4, 10))],
)  # fmt: skip
def test_third_and_seventh_guide_or_what_stands_for_them(symbol: str, guides: tuple[int, ...]) -> None:
    assert guide_semitones(parse_chord(f"C{symbol}")) == guides


@pytest.mark.parametrize(
    ("changes", "told", "missing"),
    [
        ("G7 | C6", {}, {6}),  # a dominant may have every colour but its major seventh
        ("G7 | Cm6", {}, {4, 6, 9}),  # on its way to minor no natural thirteenth and ninth
        ("G13 | Cm6", {}, {3, 6, 8, 10}),  # unless the symbol says so
        ("C/E | F", {}, {1, 2, 3, 5, 6, 8, 9, 10, 11}),  # over another bass its own notes
        ("C/D | F", {}, {1, 3, 5, 6, 8, 9, 10, 11}),  # and that bass
        ("Csus2 | F", {}, {1, 3, 4, 5, 6, 8, 9, 10, 11}),  # as the symbol wants it
        ("Cmaj7 | F", {}, {1, 3, 8, 10}),
    ],
)
def test_what_colours_a_chord_may_have(first: First, changes: str, told: dict[str, int], missing: set[int]) -> None:
    assert set(range(12)) - first(changes, **told).colours == missing


@pytest.mark.parametrize(
    ("changes", "told", "degrees", "names"),
    [
        ("Cmaj7 | F", {}, "1 x 2 x 3 4 x 5 x 6 x 7", "C Db D Eb E F F# G Ab A Bb B"),
        ("Cm7b5 | F", {}, "1 b2 x b3 x 4 b5 x b6 x b7 x", "C Db D Eb E F Gb G Ab A Bb B"),
        ("Cdim7 | F", {}, "1 x 2 b3 x 4 b5 x b6 bb7 x 7", "C Db D Eb E F Gb G Ab A Bb B"),
        ("G7 | Cm6", {}, "4 x 5 b6 x b7 x 1 b2 x x 3", "C Db D Eb E F F# G Ab A Bb B"),
        ("C7alt | Fm", {}, "1 b2 x b3 3 x b5 x b6 x b7 x", "C Db D Eb E F F# G Ab A Bb B"),
        ("Em7 | Am7", {}, "x x b7 x 1 x x b3 x 4 x 5", "C Db D Eb E F F# G Ab A Bb B"),
        ("Abm | Db7", FLAT, "x 4 x 5 x 6 b7 x 1 x 2 b3", "C Db D Eb E F Gb G Ab A Bb Cb"),
        ("F#m7b5 | B7", {"fifths": 1}, "b5 x b6 x b7 x 1 b2 x b3 x 4", "C C# D Eb E F F# G Ab A Bb B"),
    ],
)
def test_every_note_over_a_chord_has_its_degree_and_its_name(
    first: First, changes: str, told: dict[str, int], degrees: str, names: str
) -> None:
    found = first(changes, **told)
    assert " ".join(found.degree(pc) for pc in range(12)) == degrees
    assert " ".join(str(found.name(pc)) for pc in range(12)) == names


def test_the_bass_of_a_slash_chord_has_the_name_that_is_written(first: First) -> None:
    assert str(first("Am7/D# | F").name(3)) == "D#"
    assert str(first("Ebm7/Gb | F", fifths=2).name(6)) == "Gb"
    assert str(first("G#m7 | F", fifths=-2).name(8)) == "G#"


@pytest.mark.parametrize(
    ("changes", "told", "up", "down"),
    [
        ("Cmaj7 | F", {}, "C# D# F# G# A#", "Db Eb Gb Ab Bb"),
        ("Cmaj7 | F", {"fifths": -3}, "C# Eb F# Ab Bb", "Db Eb Gb Ab Bb"),
        ("E7#9 | A", SHARP, "C# D# F# G# A#", "C# D# F# G# Bb"),
    ],
)
def test_a_chromatic_note_is_spelled_as_the_neighbour_of_the_next(
    first: First, changes: str, told: dict[str, int], up: str, down: str
) -> None:
    found, black = first(changes, **told), (1, 3, 6, 8, 10)
    assert " ".join(str(found.name(pc, pc + 1)) for pc in black) == up
    assert " ".join(str(found.name(pc, pc - 1)) for pc in black) == down


def test_under_no_chord_the_last_one_sounds_on_and_before_the_first_the_tonic(compose: Composer) -> None:
    form = compose("N.C. | Dm7 | N.C. | G7 | G7", fifths=-2, minor=True)
    found = harmonies(form)
    assert [one.chord.symbol for one in found] == ["Gm6", "Dm7", "Dm7", "G7", "G7"]
    assert [one.written for one in found] == [False, True, False, True, True]
    assert [(one.start, one.end) for one in found] == [(Fraction(4 * n), Fraction(4 * n + 4)) for n in range(5)]
    assert [a.label == b.label for a, b in pairwise(found)] == [False, True, False, True]
    assert tonic(compose("C", fifths=3)).symbol == "A6"


def test_a_chord_is_another_by_root_kind_change_or_bass(compose: Composer) -> None:
    labels = [one.label for one in harmonies(compose("C7 | D7 | Cm7 | C7b9 | C7#9 | C7/E | C7"))]
    assert len(set(labels)) == 6 and labels[0] == labels[-1]


def test_a_dominant_looks_past_its_own_kind_for_what_it_resolves_to(compose: Composer) -> None:
    assert [one.to_minor for one in harmonies(compose("G7 | G7b9 | Cm7 | C7"))] == [True, True, False, False]
    assert harmonies(compose("Fm6 | C7"))[1].to_minor, "round to the top"
