"""Voicings against what the books and the trade say.

Sources: Mark Levine, The Jazz Piano Book, 1989, for rootless, altered and minor voicings, fourths and a third, and
ii-V-I (all values from memory); what is marked common practice is taught everywhere. Notes from the lowest up.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.arrange.chords.context import Strike
from companion.arrange.chords.shapes import Shape, shapes
from companion.arrange.chords.voicings import Voicing, choose_voicings
from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.melody.part import NOTHING
from companion.arrange.treatments import treatment
from companion.chart.model import ChordSpan, Form, FormSection
from companion.music.chords import Chord, from_musicxml, parse_chord
from companion.music.kinds import FUNCTIONAL, KINDS
from companion.music.meter import Metre
from companion.music.pitch import Name, name_in_key
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences

C = Name("C")
VOICINGS = preferences(VoicingPreferences)
LEVINE = "Levine 1989, from memory"
PRACTICE = "common practice"


def form(changes: str, fifths: int = 0, minor: bool = False) -> Form:
    return of_chords([parse_chord(symbol) for symbol in changes.split()], fifths, minor)


def of_chords(chords: Sequence[Chord], fifths: int = 0, minor: bool = False) -> Form:
    spans = tuple(ChordSpan(Fraction(4 * n), Fraction(4 * n + 4), chord) for n, chord in enumerate(chords))
    length = Fraction(4 * len(spans))
    starts = tuple(span.start for span in spans)
    place = FormSection("A", Fraction(0), length)
    return Form(Metre(), fifths, minor, 140.0, "swing", length, starts, (place,), spans, ())


def spelled(harmony: Harmony, shape: Shape) -> str:
    return " ".join(str(harmony.name_of(d)) for d in shape.degrees)


def degrees(shape: Shape) -> str:
    return " ".join(map(str, shape.degrees))


def found(changes: str, family: str, **key: object) -> list[tuple[Harmony, Shape]]:
    """Shapes of the first chord in a family."""
    harmony = harmonies(form(changes, **key))[0]  # type: ignore[arg-type]
    return [(harmony, s) for s in shapes(VOICINGS, harmony, frozenset(), (family,)) if s.family == family]


@pytest.mark.parametrize(
    ("symbol", "notes", "source"),
    [
        ("Cmaj7", "E G B D", LEVINE),
        ("Cmaj7", "B D E G", LEVINE),
        ("Dm7", "F A C E", LEVINE),
        ("Dm7", "C E F A", LEVINE),
        ("C7", "E A Bb D", LEVINE),
        ("C7", "Bb D E A", LEVINE),
        ("C7alt", "E Ab Bb Eb", LEVINE),
        ("C7alt", "Bb Eb E Ab", LEVINE),
        ("C7alt", "E Ab Bb Db", LEVINE),
        ("Cm6", "Eb G A D", LEVINE),
        ("Cm(maj7)", "Eb G B D", LEVINE),
        ("Cm7b5", "Eb Gb Bb F", PRACTICE),
        ("Dm7b5", "F Ab C D", PRACTICE),
        ("Cdim7", "Eb Gb A C", PRACTICE),
        ("Cdim7", "Eb Gb A D", PRACTICE),
        ("C", "E G A D", PRACTICE),
        ("C7sus4", "Bb D F G", PRACTICE),
        ("C7sus4", "F A Bb D", PRACTICE),
        ("Cmaj7#11", "B D E F#", PRACTICE),
        ("C7#5", "Bb D E G#", PRACTICE),
        ("C7b5", "Bb D E Gb", PRACTICE),
        ("Cdim", "Eb Gb A C", "common practice: a triad as a symbol, voiced as dim7"),
    ],
)
def test_rootless_voicings_are_those_of_the_books(symbol: str, notes: str, source: str) -> None:
    # Followed by itself, so that no resolution colours it. The dim7 is written plainly: A, not B double flat.
    written = [spelled(h, s).replace("Bbb", "A") for h, s in found(symbol, "rootless")]
    assert notes in written, source


@pytest.mark.parametrize(
    "symbol", ["Cmaj7", "C6", "C7", "C9", "C13", "Cm7", "Cm9", "Cm6", "C7alt", "C7sus4", "C", "Cm", "C+"]
)
def test_no_rootless_voicing_holds_its_root(symbol: str) -> None:
    """Levine 1989, from memory; the root is allowed in half-diminished and diminished chords only (common practice)."""
    assert all(d.semitones % 12 for _, s in found(symbol, "rootless") for d in s.degrees)


FAMILIES = ("rootless", "quartal", "open", "shells", "fourths-and-a-third")


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in FUNCTIONAL | {"none", "other", "pedal"}])
@pytest.mark.parametrize("family", FAMILIES)
def test_over_another_bass_every_voicing_has_the_root_and_nothing_that_the_chord_has_not(
    kind: str, family: str
) -> None:
    """Common practice: rootless over its fifth, Ebmaj7 would be Gm7. Tones by kind: W3C MusicXML 4.0, kind-value."""
    tones = {tone.semitones % 12 for tone in KINDS[kind]}
    for semitones in [*sorted(tones - {0}), 2]:
        chord = replace(from_musicxml(kind, root=C), bass=name_in_key(semitones, 0))
        harmony = harmonies(of_chords([chord]))[0]
        for shape in shapes(VOICINGS, harmony, frozenset(), (family,)):
            played = {d.semitones % 12 for d in shape.degrees}
            assert 0 in played and played <= tones, (chord.symbol, str(shape))


@pytest.mark.parametrize(
    ("symbol", "notes"),
    [  # common practice: close position in each inversion
        ("Ebmaj7/Bb", {"Eb G Bb D", "G Bb D Eb", "Bb D Eb G", "D Eb G Bb"}),
        ("C/E", {"C E G", "E G C", "G C E"}),
        ("Dm7/C", {"D F A C", "F A C D", "A C D F", "C D F A"}),
        ("F/G", {"F A C", "A C F", "C F A"}),
    ],
)
def test_a_chord_over_another_bass_is_struck_in_its_inversions(symbol: str, notes: set[str]) -> None:
    assert {spelled(h, s) for h, s in found(symbol, "rootless")} == notes


@pytest.mark.parametrize(
    ("symbol", "tones"),
    [  # W3C MusicXML 4.0: suspended-second 1 2 5, power 1 5, and triads with an added <degree>
        ("Csus2", {0, 2, 7}),
        ("C5", {0, 7}),
        ("Cadd9", {0, 2, 4, 7}),
        ("Cm(add9)", {0, 2, 3, 7}),
        ("C7sus2", {0, 2, 7, 10}),
    ],
)
@pytest.mark.parametrize("family", FAMILIES)
def test_open_chords_and_added_notes_are_played_without_what_was_not_written(
    symbol: str, tones: set[int], family: str
) -> None:
    harmony = harmonies(form(symbol))[0]
    found = shapes(VOICINGS, harmony, frozenset(), (family,))
    assert found and all({d.semitones % 12 for d in s.degrees} <= tones for s in found)
    full = max(found, key=lambda shape: len(shape.degrees))
    assert {d.semitones % 12 for d in full.degrees} >= tones - {0}, "all but the root, which the bass has"


@pytest.mark.parametrize(
    ("changes", "sets"),
    [
        ("G7 Cm6", {"3 b13 b7 b9", "3 b13 b7 #9", "b7 b9 3 b13", "b7 #9 3 b13"}),
        ("G7 Cmaj7", {"3 13 b7 9", "b7 9 3 13"}),
        ("G9 Cm6", {"3 b13 b7 9", "b7 9 3 b13"}),
        ("G13 Cm6", {"3 13 b7 9", "b7 9 3 13"}),
    ],
)
def test_a_dominant_that_resolves_to_minor_is_altered_unless_its_symbol_says_so(changes: str, sets: set[str]) -> None:
    """Common practice."""
    assert {degrees(s) for _, s in found(changes, "rootless")} == sets


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        ("Cm7", {"1 4 b7", "5 1 4", "9 5 1", "4 b7 b3"}),
        ("C7sus4", {"1 4 b7", "5 1 4"}),
        ("C7", {"b7 3 13"}),
        ("C7alt", {"3 b7 #9", "b7 #9 b13"}),
        ("Cmaj7", {"3 6 9", "7 3 6", "6 9 5"}),
        ("Cm7b5", {"11 b7 b3", "b5 1 11"}),
    ],
)
def test_fourths_by_chord(symbol: str, expected: set[str]) -> None:
    """Common practice; over a major seventh never the fourth. A flat ninth may stand for a sharp one."""
    assert {degrees(s) for _, s in found(symbol, "quartal")} == expected


def test_fourths_and_a_third_are_three_fourths_and_a_major_third() -> None:
    """Levine 1989, from memory: Em7 as E A D G B; the same notes over C major."""
    on_minor = {spelled(h, s) for h, s in found("Em7", "fourths-and-a-third")}
    on_major = {spelled(h, s) for h, s in found("Cmaj7", "fourths-and-a-third")}
    assert "E A D G B" in on_minor
    assert "E A D G B" in on_major


def test_the_open_minor_eleventh_is_two_stacks_of_fifths_a_semitone_apart() -> None:
    """Common practice: Cm11 as C G D, Eb Bb F. The root is the bass's, struck first and caught by the pedal."""
    harmony, shape = next((h, s) for h, s in found("Cm11", "open") if "eleventh" in s.name)
    assert spelled(harmony, shape) == "G D Eb Bb F"
    assert shape.left == 2


def test_root_in_the_melody_over_a_major_seventh_takes_the_sixth() -> None:
    """Common practice."""
    harmony = harmonies(form("Cmaj7"))[0]
    voiced = {degrees(s) for s in shapes(VOICINGS, harmony, frozenset({0}), ("rootless",)) if s.family == "rootless"}
    assert voiced == {"3 5 6 9", "6 9 3 5"}


def test_under_the_fourth_in_the_melody_the_third_gives_way() -> None:
    """Common practice."""
    harmony = harmonies(form("C7"))[0]
    assert all("3" not in degrees(s).split() for s in shapes(VOICINGS, harmony, frozenset({5}), ("rootless",)))


def voiced(changes: str, **key: object) -> list[Voicing]:
    """The whole progression, a chord a bar, as the arranger voices it."""
    how = treatment("solos")
    strikes = [Strike(h.start, Fraction(2), h, how, "test") for h in harmonies(form(changes, **key))]  # type: ignore[arg-type]
    chosen = choose_voicings(VOICINGS, strikes, NOTHING, [()] * len(strikes), random.Random(0))
    assert all(chosen)
    return [v for v in chosen if v]


@pytest.mark.parametrize("semitones", range(12))
def test_two_five_one_keeps_the_hand_still(semitones: int) -> None:
    """Levine 1989, from memory: from the third, the seventh, the third, or the other way about; seconds at most."""
    names = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]
    two, five, one = (names[(pc + semitones) % 12] for pc in (2, 7, 0))
    row = voiced(f"{two}m7 {five}7 {one}maj7")
    assert [v.shape.name for v in row] in (
        ["from the third", "from the seventh", "from the third"],
        ["from the seventh", "from the third", "from the seventh"],
    )
    for a, b in pairwise(row):
        assert max(abs(x - y) for x, y in zip(a.midi, b.midi, strict=True)) <= 2


def test_minor_two_five_one_keeps_the_hand_still() -> None:
    """Common practice: Dm7b5 F Ab C D, G7alt F Ab B Eb, Cm6 Eb G A D, or the other way about."""
    row = voiced("Dm7b5 G7alt Cm6", fifths=-3, minor=True)
    for a, b in pairwise(row):
        assert max(abs(x - y) for x, y in zip(a.midi, b.midi, strict=True)) <= 2


def test_shells_take_turns_as_the_roots_fall_by_fifths() -> None:
    """Common practice: root and seventh, then root and third."""
    how = treatment("shells")
    strikes = [Strike(h.start, Fraction(2), h, how, "test") for h in harmonies(form("Dm7 G7 Cmaj7 F7"))]
    row = [v for v in choose_voicings(VOICINGS, strikes, NOTHING, [()] * 4, random.Random(0)) if v]
    assert {v.shape.family for v in row} == {"shells"}
    kinds = ["seventh" in v.shape.name for v in row]
    assert kinds in ([True, False, True, False], [False, True, False, True])


def test_thirteenth_chords_leave_the_eleventh_out_and_elevenths_the_third() -> None:
    """Common practice."""
    assert all("11" not in degrees(s).split() for _, s in found("C13", "rootless"))
    assert all("3" not in degrees(s).split() for _, s in found("C11", "rootless"))


def test_the_same_notes_have_several_names() -> None:
    """Common practice: C13 from the third is Gb7alt; Cm6/9 is F13 and B7alt, all rootless."""

    def classes(symbol: str) -> set[frozenset[int]]:
        return {frozenset((h.root + d.semitones) % 12 for d in s.degrees) for h, s in found(symbol, "rootless")}

    assert classes("C13") & classes("Gb7alt")
    assert classes("Cm6") & classes("F13") & classes("B7alt")


def test_register_is_around_middle_c() -> None:
    """Common practice: lowest note about C3 to G3 or a little above, highest below about C5."""
    for voicing in voiced("Dm7 G7 Cmaj7 A7 Dm7 Db7 Cmaj7 Ebdim7 Am7b5 D7alt Gm6 C13 Fmaj7 Bb7 E7 A7"):
        assert 48 <= voicing.midi[0] <= 62
        assert voicing.midi[-1] <= 74
