"""Scales where a chord stands and for a whole tune, and how they are spelled. The pairs: tests/reference."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.music.chords import NO_CHORD, Chord, parse_chord
from companion.music.kinds import Degree, described
from companion.music.pitch import Name, parse_name
from companion.music.scales import (
    SCALES,
    Scale,
    keys_over,
    resolves_to_minor,
    scale,
    scales_for,
    scales_over,
    tonic_of,
    tune_scales,
    tune_scales_in_words,
    unserved_sections,
)

C = Name("C")


@dataclass(frozen=True)
class Stretch:
    start: Fraction
    end: Fraction
    chord: Chord


@dataclass(frozen=True)
class Changes:
    """A tune as its changes: one chord a bar of four quarters."""

    fifths: int
    minor: bool
    chords: tuple[Stretch, ...]


def changes(symbols: str, fifths: int = 0, minor: bool = False) -> Changes:
    bars = [parse_chord(symbol) for symbol in symbols.split()]
    spans = (Stretch(Fraction(4 * n), Fraction(4 * n + 4), chord) for n, chord in enumerate(bars))
    return Changes(fifths, minor, tuple(spans))


def best(symbol: str, **place: object) -> str:
    return scales_for(parse_chord(symbol), **place)[0].name  # type: ignore[arg-type]


@given(
    st.builds(Name, st.sampled_from("CDEFGAB"), st.integers(-1, 1)),
    st.frozensets(st.builds(Degree, st.integers(2, 13), st.integers(-1, 1)), max_size=6),
)
def test_every_chord_has_a_scale(root: Name, tones: frozenset[Degree]) -> None:
    found = scales_for(Chord(root, *described(tones | {Degree(1)})))
    assert found
    assert len({one.name for one in found}) == len(found)
    assert all(one.root == root for one in found)


@pytest.mark.parametrize(
    "symbol",
    [
        "C",
        "Cm7",
        "C7b9",
        "C13#11",
        "Csus4",
        "C7alt",
        "Cmaj7#5",
        "C7(b9,b13)",
        "Cm(maj7)",
        "Cdim7",
        "C6/9",
        "Cm9b5",
        "C7sus4b9",
    ],
)
def test_a_scale_has_every_note_of_the_symbol_but_for_a_plain_fifth(symbol: str) -> None:
    chord = parse_chord(symbol)
    for one in scales_for(chord):
        missing = set(chord.pitch_classes) - set(one.pitch_classes)
        assert missing <= ({7} if chord.quality == "7" else set()), one.name


def test_no_chord_has_no_scale() -> None:
    assert scales_for(NO_CHORD) == ()


@pytest.mark.parametrize(
    ("symbol", "follows", "name"),
    [  # common practice
        ("G7", "Cm7", "phrygian dominant"),
        ("G7", "Cm7b5", "phrygian dominant"),
        ("G7", "Cmaj7", "mixolydian"),
        ("G7", "Fm7", "mixolydian"),
        ("G7b9", "Cmaj7", "half-whole diminished"),
        ("G7b9", "Cm6", "phrygian dominant"),
        ("G7#9", "Cm6", "altered"),
        ("G13", "Cm6", "mixolydian"),
        ("Db7", "Cmaj7", "lydian dominant"),
        ("Db7", "Cm7", "lydian dominant"),
        ("Db9", "C6", "lydian dominant"),
    ],
)
def test_what_follows_a_dominant_chooses_its_scale(symbol: str, follows: str, name: str) -> None:
    assert best(symbol, follows=parse_chord(follows)) == name


def test_a_dominant_may_be_said_to_lead_to_minor() -> None:
    assert scales_for(parse_chord("G7"), True) == scales_for(parse_chord("G7"), follows=parse_chord("Cm6"))


@pytest.mark.parametrize(
    ("symbol", "follows", "leads"),
    [("G7", "Cm", True), ("G7alt", "Cm6", True), ("G7", "C", False), ("Gm7", "Cm7", False), ("G7", "Am7", False)],
)
def test_only_a_dominant_that_falls_a_fifth_leads_to_minor(symbol: str, follows: str, leads: bool) -> None:
    assert resolves_to_minor(parse_chord(symbol), parse_chord(follows)) is leads


def test_the_chords_of_a_major_key_take_its_modes() -> None:
    chords = {
        "Cmaj7": "ionian", "Dm7": "dorian", "Em7": "phrygian", "Fmaj7": "lydian", "G7": "mixolydian", "Am7": "aeolian",
        "Bm7b5": "locrian", "F": "lydian", "Fmaj13": "lydian", "G": "mixolydian", "G7sus4": "mixolydian",
        "E7sus4": "mixolydian", "Bdim": "whole-half diminished",
    }  # fmt: skip
    assert {symbol: best(symbol, tonic=C) for symbol in chords} == chords


def test_the_chords_of_a_minor_key_take_its_notes_and_the_tonic_its_own() -> None:
    chords = {
        "Cm": "melodic minor", "Cm7": "dorian", "Cm6": "melodic minor", "Dm7b5": "locrian", "Ebmaj7": "ionian",
        "Fm7": "dorian", "Abmaj7": "lydian", "Bb7": "mixolydian",
    }  # fmt: skip
    assert {symbol: best(symbol, tonic=C, minor=True) for symbol in chords} == chords


def test_a_dominant_outside_the_key_on_the_lowered_second_or_seventh_is_lydian() -> None:
    assert best("Bb7", tonic=C) == best("Db7", tonic=C, minor=True) == "lydian dominant"  # Levine, from memory
    assert best("Bb7", tonic=C, follows=parse_chord("Ebmaj7")) == "mixolydian"


def test_chords_of_a_form_are_read_where_they_stand_and_the_last_leads_to_the_first() -> None:
    tune = changes("Cm6 Cm6 Fm7 Db7 N.C. G7", fifths=-3, minor=True)
    firsts = [str(found[0]) if found else "" for found in scales_over(tune)]
    assert firsts[1:] == ["C melodic minor", "F dorian", "Db lydian dominant", "", "G phrygian dominant"]


def test_a_form_of_one_chord_needs_nothing_to_follow() -> None:
    assert [found[0].name for found in scales_over(changes("Dm7 Dm7", fifths=0))] == ["dorian", "dorian"]


@pytest.mark.parametrize(
    ("root", "name", "notes"),
    [  # common practice
        ("C", "altered", "C Db Eb Fb Gb Ab Bb"),  # the notes of Db melodic minor
        ("D", "altered", "D Eb F Gb Ab Bb C"),
        ("G", "half-whole diminished", "G Ab Bb B C# D E F"),
        ("Bb", "mixolydian", "Bb C D Eb F G Ab"),
        ("F#", "lydian", "F# G# A# B# C# D# E#"),
        ("Ab", "minor blues", "Ab Cb Db Ebb Eb Gb"),
        ("A", "major blues", "A B C C# E F#"),
        ("D", "melodic minor", "D E F G A B C#"),
        ("B", "whole-half diminished", "B C# D E F G G# A#"),
    ],
)
def test_scales_are_spelled_by_their_degrees(root: str, name: str, notes: str) -> None:
    assert " ".join(map(str, scale(parse_name(root), name).names)) == notes


@pytest.mark.parametrize(
    ("root", "name", "notes"),
    [
        ("F#", "altered", "F# G A Bb C D E"),
        ("Ab", "minor blues", "Ab B Db D Eb Gb"),
        ("C", "lydian dominant", "C D E F# G A Bb"),
        ("C#", "altered", "C# D E F G A B"),
        ("D", "altered", "D Eb F Gb Ab Bb C"),
        ("B", "altered", "B C D Eb F G A"),
    ],
)
def test_for_the_eye_no_double_accidentals_are_left(root: str, name: str, notes: str) -> None:
    assert " ".join(map(str, scale(parse_name(root), name).names_to_read)) == notes


@pytest.mark.parametrize("name", sorted(SCALES))
def test_a_scale_is_easy_to_read_on_every_root(name: str) -> None:
    for root in map(parse_name, ("C", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B", "C#", "G#")):
        notes = scale(root, name).names_to_read
        assert notes[0] == root
        assert {note.alter for note in notes} <= {-1, 0, 1}
        assert sum(a.step == b.step for a, b in pairwise(notes)) <= 2, notes  # eight notes need one letter twice


@given(st.builds(Name, st.sampled_from("CDEFGAB"), st.integers(-2, 2)), st.sampled_from(sorted(SCALES)))
def test_a_scale_sounds_as_it_is_spelled_either_way(root: Name, name: str) -> None:
    found = scale(root, name)
    assert tuple(note.pc for note in found.names) == found.pitch_classes
    assert tuple(note.pc for note in found.names_to_read) == found.pitch_classes
    assert all(abs(note.alter) <= 1 for note in found.names_to_read)
    assert len(set(found.pitch_classes)) == len(found.degrees)


def test_the_tonic_of_a_signature() -> None:
    assert [str(tonic_of(fifths, minor)) for fifths, minor in [(0, False), (0, True), (-5, True), (4, False)]] == [
        "C", "A", "Bb", "E",
    ]  # fmt: skip


def named(found: tuple[Scale, ...]) -> list[str]:
    return [str(one) for one in found]


def test_over_a_minor_tune_the_relative_major_and_the_minor_blues_scale_serve() -> None:
    tune = changes("Cm7 Fm7 Bb7 Ebmaj7 Abmaj7 Dm7b5 Ab Cm7", fifths=-3, minor=True)
    assert named(tune_scales(tune)) == ["Eb major", "C minor blues"]  # common practice


def test_a_third_scale_is_named_where_many_chords_ask_for_it() -> None:
    tune = changes("Cm6 G7 Cm6 G7 Fm7 Dm7b5 G7 Cm6", fifths=-3, minor=True)
    found = named(tune_scales(tune))
    assert found[:2] == ["Eb major", "C minor blues"] and len(found) == 3
    assert found[2] in ("C harmonic minor", "C melodic minor")


def test_over_a_major_tune_its_scale_and_its_blues_scale_serve() -> None:
    assert named(tune_scales(changes("Cmaj7 Am7 Dm7 G7"))) == ["C major", "C major blues"]


def test_over_a_blues_both_blues_scales_serve() -> None:
    tune = changes("F7 Bb7 F7 F7 Bb7 Bb7 F7 D7b9 Gm7 C7 F7 C7", fifths=-1)
    assert named(tune_scales(tune)) == ["F mixolydian", "F minor blues", "F major blues"]


class Sectioned:
    """A tune of sections, four quarters a chord."""

    def __init__(self, **sections: str) -> None:
        self.fifths, self.minor = 0, False
        symbols = [(name, symbol) for name, text in sections.items() for symbol in text.split()]
        self.chords = changes(" ".join(symbol for _, symbol in symbols)).chords
        starts = [next(k for k, (other, _) in enumerate(symbols) if other == name) for name in sections]
        ends = [*starts[1:], len(symbols)]
        self.sections = [
            Section(name, Fraction(4 * start), Fraction(4 * end))
            for name, start, end in zip(sections, starts, ends, strict=True)
        ]


@dataclass(frozen=True)
class Section:
    name: str
    start: Fraction
    end: Fraction


def test_the_scales_of_a_tune_say_which_section_they_do_not_serve() -> None:
    tune = Sectioned(A="Cmaj7 Am7 Dm7 G7 Cmaj7 Fmaj7 Dm7 G7", B="Ebm7 Ab7 Dbmaj7 Dbmaj7")  # a bridge elsewhere
    assert unserved_sections(tune, tune_scales(tune)) == ("B",)
    assert tune_scales_in_words(tune).endswith("; not in B, where each chord has its own scale")
    assert "not in" not in tune_scales_in_words(Sectioned(A="Cmaj7 Am7 Dm7 G7", B="Fmaj7 Em7 Dm7 G7"))


def test_a_tune_through_many_keys_is_offered_no_scale_for_the_whole_form() -> None:
    tune = Sectioned(A="Dm7 G7 Cmaj7 Cm7 F7 Bbmaj7", B="Bbm7 Eb7 Abmaj7 F#m7 B7 Emaj7")  # common practice
    assert tune_scales(tune) == ()
    assert tune_scales_in_words(tune) == "none, it goes through too many keys; take each chord's own scale"


def test_a_tune_without_chords_has_the_scales_of_its_key() -> None:
    for chords in ("N.C.", ""):
        assert named(tune_scales(changes(chords, fifths=1))) == ["G major", "G major blues"]


@pytest.mark.parametrize(
    ("plain", "borrowed", "fifths", "minor", "third"),
    [  # a tenth of the form is worth a scale of its own, less is not
        (18, "Gm7 Gm7", 0, False, "C mixolydian"),
        (19, "Gm7 Gm7", 0, False, None),
        (8, "C7", 0, False, "C mixolydian"),
        (6, "Ebmaj7 Cm7 Fm7", 0, False, "C minor blues"),
        (6, "F#m7 F#m7", 0, False, None),
        (6, "E7 E7", 0, True, "A harmonic minor"),
        (6, "E7 D7 D7", 0, True, "A melodic minor"),
        (6, "Gmaj7 Em7", 0, True, "A dorian"),
    ],
)
def test_a_third_scale_is_worth_naming_for_a_tenth_of_the_form(
    plain: int, borrowed: str, fifths: int, minor: bool, third: str | None
) -> None:
    home = "Am7" if minor else "Cmaj7"
    tune = changes(" ".join([home] * plain + borrowed.split()), fifths, minor)
    assert named(tune_scales(tune))[2:] == ([] if third is None else [third])


@pytest.mark.parametrize(("dominant", "blues"), [("C7 C7 C6", True), ("C7 C6", False), ("C6 F7 F7", False)])
def test_a_blues_has_its_tonic_mostly_as_a_dominant(dominant: str, blues: bool) -> None:
    assert ("C mixolydian" in named(tune_scales(changes(dominant)))[:1]) == blues


@pytest.mark.parametrize(("elsewhere", "served"), [("F#7 F#7", True), ("F#7 F#7 F#7", False)])
def test_scales_that_serve_half_of_a_section_are_offered_for_it(elsewhere: str, served: bool) -> None:
    tune = Sectioned(A="Cmaj7 Am7 Dm7 G7", B=f"Dm7 G7 {elsewhere}")
    assert (unserved_sections(tune, tune_scales(tune)) == ()) == served


@pytest.mark.parametrize(
    ("symbol", "served"),
    [
        ("Bb6", False), ("Esus2", False), ("A", False), ("Fsus4", False), ("Bm6", False), ("Gmaj7", False),
        ("Em7b5", True), ("G7b9", True), ("Bdim", True),  # neither the fifth nor a tension tells a chord apart
    ],
)  # fmt: skip
def test_a_scale_serves_a_chord_whose_root_third_or_fourth_and_seventh_or_sixth_it_has(
    symbol: str, served: bool
) -> None:
    """Of C major: each lacks one of them."""
    tune = Sectioned(A="Cmaj7 Am7 Dm7 G7", B=symbol)
    assert (unserved_sections(tune, (scale(C, "major"),)) == ()) == served


def test_a_thirteenth_chord_does_not_ask_for_the_eleventh_that_is_left_out_of_it() -> None:
    """Common practice: the eleventh clashes with the major third, so it isn't played."""
    assert [one.name for one in scales_for(parse_chord("Fmaj13"))] == ["ionian", "lydian"]
    assert [one.name for one in scales_for(parse_chord("F13"))] == ["mixolydian", "lydian dominant"]
    assert [one.name for one in scales_for(parse_chord("F11"))] == ["mixolydian", "dorian"]


def test_the_sections_that_are_not_served_are_listed() -> None:
    elsewhere = "F#7 B7"
    tune = Sectioned(A="Cmaj7 Am7 Dm7 G7 Cmaj7 Am7 Dm7 G7 Cmaj7 Am7", B=elsewhere, C=elsewhere, D=elsewhere)
    assert tune_scales_in_words(tune, lambda one: one.name) == (
        "major; major blues; not in B, C and D, where each chord has its own scale"
    )


@pytest.mark.parametrize(
    ("symbols", "keys"),
    [
        ("Dm7 G7 Cmaj7", "C C C"),
        ("Dm7 G7 Cm7", "Cm Cm Cm"),
        ("Am7 D7 Gmaj7 C6", "G G G C"),
        ("Am7b5 D7 Gm6 C6", "Gm Gm Gm C"),
        ("Am7b5 D7 C6 C6", "C C C C"),  # a half-diminished ii says nothing of a I that doesn't come
        ("Am7 D7alt C6 F6", "C C C C"),
        ("Am7 D7 C6 F6", "G G C C"),  # a ii-V that leads elsewhere
        ("Am7 D7sus4 D7 G6 C6", "G G G G C"),
        ("Am7 Am7 D7 Gmaj7 C6", "G G G G C"),
        ("Am6 D7 Gmaj7 C6", "C C C C"),
        ("Am7 Db7 Gmaj7 C6", "C C C C"),
        ("Am7 D7", "C C"),
        ("G6 C6 Am7 D7", "G C G G"),  # round the end of the form
    ],
)
def test_a_ii_v_i_is_read_in_the_key_that_it_leads_to(symbols: str, keys: str) -> None:
    found = keys_over([parse_chord(symbol) for symbol in symbols.split()], C, False)
    assert " ".join(f"{tonic}{'m' if minor else ''}" for tonic, minor in found) == keys


@pytest.mark.parametrize(
    ("symbol", "place", "first"),
    [
        ("G7", {"follows": "C6"}, "mixolydian"),
        ("G7", {"follows": "Cm7"}, "phrygian dominant"),
        ("G7", {"follows": "F#maj7"}, "lydian dominant"),  # falls by a semitone
        ("Db7", {"tonic": C}, "lydian dominant"),  # on the lowered second
        ("Db7", {"tonic": C, "follows": "Gb6"}, "mixolydian"),
        ("Bb7", {"tonic": C}, "lydian dominant"),
        ("Bb7", {"tonic": C, "minor": True}, "mixolydian"),
        ("D7", {"tonic": C}, "mixolydian"),
        ("Em7", {"tonic": C}, "phrygian"),
        ("Am7", {"tonic": C}, "aeolian"),
        ("Fmaj7", {"tonic": C}, "lydian"),
        ("Bm7b5", {"tonic": C}, "locrian"),
        ("Ebmaj7", {"tonic": C}, "lydian"),  # borrowed
        ("Abmaj7", {"tonic": C}, "lydian"),
        ("Bbmaj7", {"tonic": C}, "lydian"),
        ("Dbmaj7", {"tonic": C}, "lydian"),
        ("Amaj7", {"tonic": C}, "ionian"),
        ("Cm", {"tonic": C, "minor": True}, "melodic minor"),
        ("Cm7", {"tonic": C, "minor": True}, "dorian"),
        ("Fm7", {"tonic": C, "minor": True}, "dorian"),
        ("Gm7", {"tonic": C, "minor": True}, "phrygian"),
        ("Bdim7", {"tonic": C}, "whole-half diminished"),
    ],
)
def test_where_a_chord_stands_tells_its_scale(symbol: str, place: dict[str, object], first: str) -> None:
    """Levine, The Jazz Theory Book, 1995 (from memory)."""
    if isinstance(follows := place.get("follows"), str):
        place = place | {"follows": parse_chord(follows)}
    assert best(symbol, **place) == first


@pytest.mark.parametrize(
    ("minor", "chords"),
    [
        (False, "Bbmaj7:ionian Cm7:dorian Dm7:phrygian Ebmaj7:lydian F7:mixolydian Gm7:aeolian Am7b5:locrian"),
        (False, "Dbmaj7:lydian Gbmaj7:lydian Abmaj7:lydian Cbmaj7:lydian Emaj7:ionian Amaj7:ionian"),
        (True, "Bbm6:melodic Cm7b5:locrian Dbmaj7:ionian Ebm7:dorian Gbmaj7:lydian Ab7:mixolydian"),
    ],
)
def test_the_chords_of_a_key_with_flats_take_its_modes_and_borrowed_ones_lydian(minor: bool, chords: str) -> None:
    """Of B flat: as in C (Levine, The Jazz Theory Book, 1995, from memory)."""
    tonic = parse_name("Bb")
    for symbol, name in (word.split(":") for word in chords.split()):
        assert best(symbol, tonic=tonic, minor=minor).split()[0] == name, symbol


def test_the_substitutes_of_a_key_with_flats_are_lydian_dominants() -> None:
    """Of B flat: on the lowered second, and in major on the lowered seventh."""
    found = {symbol: best(symbol, tonic=parse_name("Bb")) for symbol in ("B7", "Ab7", "C7", "Db7")}
    assert found == {"B7": "lydian dominant", "Ab7": "lydian dominant", "C7": "mixolydian", "Db7": "mixolydian"}


HARD_ROOTS = ("C", "F#", "Gb", "B", "Cb", "C#", "Ab", "D#")
TO_READ = {
    "altered": "C Db Eb Fb Gb Ab Bb, F# G A Bb C D E, Gb G A Bb C D E, B C D Eb F G A, "
    "Cb C D Eb F G A, C# D E F G A B, Ab A B C D E Gb, D# E F# G A B C#",
    "phrygian dominant": "C Db E F G Ab Bb, F# G A# B C# D E, Gb G Bb Cb Db D E, B C D# E F# G A, "
    "Cb C Eb Fb Gb G A, C# D E# F# G# A B, Ab A C Db Eb Fb Gb, D# E G G# A# B C#",
    "half-whole diminished": "C Db Eb E F# G A Bb, F# G A A# B# C# D# E, Gb G A Bb C Db Eb Fb, B C D D# E# F# G# A, "
    "Cb C D Eb F Gb Ab A, C# D E F G G# A# B, Ab A B C D Eb F Gb, D# E F# G A A# B# C#",
    "minor blues": "C Eb F Gb G Bb, F# A B C C# E, Gb A B C Db E, B D E F F# A, "
    "Cb D E F Gb A, C# E F# G G# B, Ab B Db D Eb Gb, D# F# G# A A# C#",
    "major blues": "C D Eb E G A, F# G# A A# C# D#, Gb Ab A Bb Db Eb, B C# D D# F# G#, "
    "Cb Db D Eb Gb Ab, C# D# E F G# A#, Ab Bb B C Eb F, D# E# F# G A# C",
    "whole tone": "C D E F# G# Bb, F# G# A# C D E, Gb Ab Bb C D E, B C# D# E# G A, "
    "Cb Db Eb F G A, C# D# E# G A B, Ab Bb C D E Gb, D# E# G A B C#",
    "locrian": "C Db Eb F Gb Ab Bb, F# G A B C D E, Gb G A B C D E, B C D E F G A, "
    "Cb C D E F G A, C# D E F# G A B, Ab A B C# D E Gb, D# E F# G# A B C#",
}


@pytest.mark.parametrize("name", TO_READ)
def test_a_scale_is_spelled_for_the_eye(name: str) -> None:
    """No double accidentals, and where possible no letter twice running (common practice); what it is today."""
    found = (" ".join(map(str, scale(parse_name(root), name).names_to_read)) for root in HARD_ROOTS)
    assert ", ".join(found) == TO_READ[name]


def test_each_chord_of_a_form_is_taken_with_the_one_that_follows_it_and_the_last_with_the_first() -> None:
    tune = changes("Cm6 G7 G7 Cm6 Ebmaj7 N.C. G7", fifths=-3, minor=True)
    assert [scales[0].name for scales in scales_over(tune) if scales] == [
        "melodic minor", "phrygian dominant", "phrygian dominant", "melodic minor", "ionian", "phrygian dominant",
    ]  # fmt: skip
    assert [len(scales) == 0 for scales in scales_over(tune)] == [False] * 5 + [True, False]
    assert scales_over(changes("G7 Cm7 F7"))[0][0].name == "phrygian dominant", "not by the chord after that"
