"""What a chord must be to be right: the rows of the handbooks are, and what teachers strike out is not.

Source of the rows: Levine, The Jazz Piano Book, 1989 (from memory), and common practice.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.arrange.chords.soundness import Surroundings, chord_faults, degree_above, left_hand, row
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
