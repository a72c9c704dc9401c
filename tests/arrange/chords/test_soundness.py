"""What a chord must be to be right: the rows of the handbooks are, and what teachers strike out is not.

Source of the rows: Levine, The Jazz Piano Book, 1989 (from memory), and common practice.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.arrange.chords.soundness import (
    COLOURS,
    MAJOR_COLOURS,
    Surroundings,
    chord_faults,
    clear,
    colours_of,
    degree_above,
    fits_hands,
    form_quality,
    is_own_rub,
    left_hand,
    muddy,
    row,
)
from companion.arrange.harmony import Harmony
from companion.arrange.lookup import harmony_at
from companion.chart.toml.read import parse_toml
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences
from tests.practice.test_voicing_names import ROOTS, ROWS, harmony, stacked

VOICINGS = preferences(VoicingPreferences)
TWO_HANDS = ("m11", "1 5 9 b3 b7 11")


def faults(chord: Harmony, midi: list[int], around: Surroundings = Surroundings()) -> set[str]:  # noqa: B008
    return {fault.kind for fault in chord_faults(VOICINGS, chord, midi, around)}


@pytest.mark.parametrize(("quality", "text"), [one[:2] for one in ROWS if one[:2] != TWO_HANDS])
def test_every_row_of_the_handbooks_is_right_in_twelve_keys(quality: str, text: str) -> None:
    for root in ROOTS:
        chord = harmony(root + quality)
        low = [note + 12 for note in stacked(chord, text)]  # above the low limits
        assert not faults(chord, low), (root, low)


@pytest.mark.parametrize(
    ("symbol", "midi", "kind"),
    [
        ("Cmaj7", [53, 55, 59, 62], "avoid"),  # the fourth over a major third
        ("G7", [53, 57, 59, 66], "wrong"),  # the major seventh of a dominant
        ("G7alt", [53, 57, 59, 64], "avoid"),  # natural ninth and thirteenth over an altered dominant
        ("Dm7", [57, 60, 64], "incomplete"),  # no third
        ("Cmaj7", [52, 55, 62], "incomplete"),  # no seventh
        ("G7", [53, 56, 57, 59], "against"),  # b9 and 9 at once
        ("Cmaj7", [40, 43, 47, 50], "mud"),  # a third on E2
        ("Cmaj7", [48 + 4, 71, 74, 91], "hand"),
    ],
)
def test_what_a_teacher_strikes_out_is_told(symbol: str, midi: list[int], kind: str) -> None:
    assert kind in faults(harmony(symbol), midi)


def test_a_root_is_doubled_only_over_a_bass_and_not_where_the_kind_has_it() -> None:
    over = Surroundings(bass=(36,))
    assert faults(harmony("Cmaj7"), [48, 52, 55, 59], over) == {"root"}
    assert not faults(harmony("Cmaj7"), [48, 52, 55, 59])
    assert not faults(harmony("Cm7b5"), [51, 54, 58, 60], over)  # the root is allowed here


def test_a_semitone_under_the_melody_rubs_unless_it_is_the_chords_own() -> None:
    assert faults(harmony("Dm7"), [53, 57, 60, 64], Surroundings(melody=(65,))) == {"rubs"}  # E under F
    assert not faults(harmony("Cmaj7"), [52, 55, 59], Surroundings(melody=(60,)))  # its seventh under its root
    assert "crosses" in faults(harmony("Cmaj7"), [52, 55, 59, 62], Surroundings(melody=(60,)))


def test_the_third_gives_way_where_the_melody_has_the_fourth() -> None:
    assert not faults(harmony("G7"), [53, 57, 62], Surroundings(melody=(72,)))
    assert "incomplete" in faults(harmony("G7"), [53, 57, 62])


def test_a_dominant_that_resolves_to_minor_has_no_natural_ninth_and_thirteenth() -> None:
    form = parse_toml(
        'format = 1\ntitle = "t"\nkey = "C minor"\nform = "A"\n[section.A]\nchords = "| G7 | Cm6 |"\n'
    ).unfold()
    chord = harmony_at(form, Fraction(0))
    assert faults(chord, [53, 57, 59, 64]) == {"wrong"}
    assert not faults(chord, [53, 56, 59, 63])


def test_degrees_are_named_as_in_a_voicing() -> None:
    said = " ".join(map(str, row(harmony("G7"), (53, 56, 58, 59, 61, 63, 64))))
    assert said == "b7 b9 #9 3 #11 b13 13"
    assert str(degree_above(harmony("Dm7"), 64)) == "9" and str(degree_above(harmony("Dm7"), 67)) == "11"


def test_hands_part_at_the_widest_gap() -> None:
    hand = VOICINGS.hand
    assert left_hand(hand, (53, 57, 60, 64)) == 0
    assert left_hand(hand, (43, 50, 52, 64, 67, 71)) == 3
    assert left_hand(hand, (40, 60, 80, 100)) is None


# tables of limits: a ninth and five notes to a hand, common practice


@pytest.mark.parametrize(
    ("midi", "left"),
    [
        ((60,), 0),
        ((60, 74), 0),  # a ninth
        ((60, 75), 1),
        ((60, 62, 64, 66, 68), 0),  # five notes
        ((60, 61, 62, 64, 66, 68), 3),
        ((40, 45, 60, 64), 2),
        ((40, 50, 60), 1),  # of two gaps as wide the lower
        ((40, 50, 61), 2),
        ((40, 54, 55, 69), 2),
        ((40, 41, 55, 70), None),  # one of the hands would need more
        ((40, 55, 69), 1),
        ((40, 55, 70), None),
        (tuple(range(40, 50)), 5),
        (tuple(range(40, 51)), None),  # eleven notes
    ],
)
def test_what_two_hands_hold_and_where_they_part(midi: tuple[int, ...], left: int | None) -> None:
    assert left_hand(VOICINGS.hand, midi) == left
    assert left_hand(VOICINGS.hand, midi[::-1]) == left
    if left is not None:
        assert fits_hands(VOICINGS.hand, midi, left)


@pytest.mark.parametrize(
    ("midi", "left", "fits"),
    [((40, 54), 2, True), ((40, 55), 2, False), ((40, 55), 1, True), ((40, 60, 74), 1, True), ((40, 60, 75), 1, False),
     ((60, 62, 64, 65, 67), 0, True), ((60, 62, 64, 65, 67, 69), 0, False)],
)  # fmt: skip
def test_each_hand_holds_its_own_notes(midi: tuple[int, ...], left: int, fits: bool) -> None:
    assert fits_hands(VOICINGS.hand, midi, left) == fits


@pytest.mark.parametrize(("interval", "lowest"), sorted(VOICINGS.low_limits.items()))
def test_below_its_low_limit_an_interval_is_mud(interval: int, lowest: int) -> None:
    assert not muddy(VOICINGS, (lowest, lowest + interval))
    assert muddy(VOICINGS, (lowest - 1, lowest - 1 + interval))
    assert clear(VOICINGS, (lowest + interval,), (), (lowest,))
    assert not clear(VOICINGS, (lowest - 1 + interval,), (), (lowest - 1,))


@pytest.mark.parametrize(
    ("sounding", "bass", "good"),
    [
        ((), (), True),
        ((73,), (), True),  # a step above
        ((72,), (), False),  # a semitone above the top note
        ((71,), (), False),  # in it
        ((70,), (), False),
        ((73, 72), (), False),
        ((77,), (), False),  # a minor ninth above the lowest
        ((78,), (), True),
        ((), (52,), True),
        ((), (64,), False),
        ((), (65,), False),
        ((), (52, 64), False),
    ],
)
def test_a_chord_is_clear_of_melody_and_bass(sounding: tuple[int, ...], bass: tuple[int, ...], good: bool) -> None:
    assert clear(VOICINGS, (64, 71), sounding, bass) == good


@pytest.mark.parametrize(
    ("symbol", "said"),
    [
        ("Cmaj7", "1 b9 9 b3 3 11 #11 5 b13 13 b7 7"),
        ("C7", "1 b9 9 #9 3 11 #11 5 b13 13 b7 7"),
        ("C7#5", "1 b9 9 #9 3 11 #11 5 #5 13 b7 7"),
        ("Cm7", "1 b9 9 b3 3 11 #11 5 b13 13 b7 7"),
        ("Cm6", "1 b9 9 b3 3 11 #11 5 b13 6 b7 7"),
        ("Cm7b5", "1 b9 9 b3 3 11 b5 5 b13 13 b7 7"),
        ("Csus4", "1 b9 9 #9 3 4 #11 5 b13 13 b7 7"),
        ("Csus2", "1 b9 2 #9 3 11 #11 5 b13 13 b7 7"),
        ("Cadd9", "1 b9 9 b3 3 11 #11 5 b13 13 b7 7"),
    ],
)
def test_each_note_of_the_twelve_has_its_degree_in_a_voicing(symbol: str, said: str) -> None:
    assert " ".join(map(str, row(harmony(symbol), range(60, 72)))) == said


@pytest.mark.parametrize(
    ("symbol", "midi", "told"),
    [
        ("G7", (53, 56, 57, 59), [("against", (56, 57))]),  # flat and natural ninth
        ("G7", (53, 57, 58, 59), [("against", (57, 58))]),  # natural and raised
        ("G7", (53, 59, 63, 64), [("against", (63, 64))]),  # both thirteenths
        ("G7", (53, 59, 62, 63), [("against", (62, 63))]),  # the fifth beside the flat thirteenth
        ("G7", (53, 56, 58, 59), []),  # flat and raised go together
        ("Gm7", (53, 57, 58, 62), []),
        ("G7", (53, 57, 59, 66), [("wrong", (66,))]),
        ("Cmaj7", (53, 55, 59, 62), [("avoid", (53,))]),
        ("Cmaj7", (55, 62), [("incomplete", ()), ("incomplete", ())]),
        ("G7", (53, 57, 62), [("incomplete", ())]),
        ("Cmaj7", (), [("alone", ())]),
        ("C/E", (55, 60), []),
        ("C/E", (52, 55), []),  # the bass has nothing that the hand needn't say; its root is somebody's
        ("Csus2", (60, 62, 67), []),
        ("Csus2", (60, 64, 67), [("wrong", (64,))]),
    ],
)
def test_faults_are_told_with_their_notes(symbol: str, midi: tuple[int, ...], told: list[tuple[str, object]]) -> None:
    around = Surroundings(bass=(40,)) if "/" in symbol else Surroundings()
    found = [(one.kind, one.notes) for one in chord_faults(VOICINGS, harmony(symbol), midi, around)]
    assert found == told


@pytest.mark.parametrize(
    ("symbol", "midi", "missing"),
    [
        ("Cmaj7", (52, 55, 62), ["7"]),
        ("Cmaj7", (52, 55, 57), []),  # the sixth stands for it
        ("C6", (52, 55, 59), []),  # and it for the sixth
        ("C7", (52, 55, 57), ["b7"]),  # not over a dominant
        ("Cm6", (51, 55, 59), []),
        ("Cm7", (51, 55, 57), ["b7"]),
        ("Cdim7", (51, 54, 59), []),  # any of its notes a tone up
        ("Cdim7", (54, 60, 62), ["b3", "bb7"]),
        ("C/G", (60, 67), ["3"]),
    ],
)
def test_what_is_missing_is_named(symbol: str, midi: tuple[int, ...], missing: list[str]) -> None:
    around = Surroundings(bass=(43,)) if "/" in symbol else Surroundings()
    found = chord_faults(VOICINGS, harmony(symbol), midi, around)
    assert [one.degree for one in found if one.kind == "incomplete"] == missing


@pytest.mark.parametrize(
    ("symbol", "low", "high", "own"),
    [("Cmaj7", 59, 60, True), ("Cmaj7", 59, 72, True), ("C7b9", 60, 61, True), ("C7", 60, 61, False),
     ("C7", 59, 60, False), ("Dm7", 64, 65, False), ("Cmaj7", 64, 65, False)],
)  # fmt: skip
def test_a_rub_is_a_chords_own_between_seventh_and_root_or_root_and_flat_ninth(
    symbol: str, low: int, high: int, own: bool
) -> None:
    assert is_own_rub(harmony(symbol), low, high) == own


@pytest.mark.parametrize(
    ("around", "told"),
    [
        (Surroundings(melody=(67,)), set()),
        (Surroundings(melody=(66,)), {"rubs"}),  # a minor ninth over F
        (Surroundings(melody=(65,)), {"rubs"}),  # a semitone over E
        (Surroundings(melody=(77,)), {"rubs"}),  # a minor ninth over it
        (Surroundings(melody=(64,)), {"crosses"}),
        (Surroundings(melody=(63, 79)), {"crosses"}),
        (Surroundings(bass=(52,)), set()),  # a semitone under F, but on its way
        (Surroundings(bass=(53,)), {"crosses"}),
        (Surroundings(bass=(38,)), set()),
        (Surroundings(bass=(40,)), set()),  # a note that passes rubs with nothing
    ],
)
def test_melody_and_bass_are_kept_clear_of(around: Surroundings, told: set[str]) -> None:
    assert faults(harmony("Dm7"), [53, 57, 60, 64], around) == told


def test_the_kind_of_a_minor_triad_is_that_of_its_seventh_in_the_key() -> None:
    def of(symbol: str, key: str) -> str:
        text = f'format = 1\ntitle = "t"\nkey = "{key}"\nform = "A"\n[section.A]\nchords = "| {symbol} | G7 |"\n'
        return form_quality(harmony_at(parse_toml(text).unfold(), Fraction(0)))

    assert (of("Am", "C major"), of("Cm", "C minor"), of("C", "C major"), of("C7", "C major")) == (
        "m7",
        "m6",
        "maj",
        "7",
    )


def test_what_may_stand_for_a_degree_goes_by_the_kind_of_chord() -> None:
    assert {quality: colours_of(quality) for quality in ("7", "7alt", "7sus", "aug", "sus")} == dict.fromkeys(
        ("7", "7alt", "7sus", "aug", "sus"), COLOURS
    )
    assert {quality: colours_of(quality) for quality in ("maj7", "6", "maj")} == dict.fromkeys(
        ("maj7", "6", "maj"), MAJOR_COLOURS
    )
    assert all(colours_of(quality) == {} for quality in ("m7", "m", "m6", "m7b5", "dim7", "mmaj7"))


@pytest.mark.parametrize(
    ("note", "bass", "rubs"), [(61, 60, True), (73, 60, True), (62, 60, False), (85, 60, False), (61, 59, False)]
)
def test_a_note_rubs_with_the_bass_a_semitone_or_a_minor_ninth_below_it(note: int, bass: int, rubs: bool) -> None:
    """Over C; with its B, which may pass, nothing rubs."""
    found = chord_faults(VOICINGS, harmony("C6"), (note, 88), Surroundings((), (bass,)))
    assert ("rubs" in {fault.kind for fault in found}) == rubs
