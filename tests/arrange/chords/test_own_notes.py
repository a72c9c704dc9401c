"""Chords played with their own notes alone: which notes, in which positions, and what they are called.

Close position in each inversion, the third inversion on the seventh or sixth, and open position, in which every other
note goes to the left hand, are terms of the trade (common practice).
"""

from __future__ import annotations

import pytest

from companion.arrange.chords.own_notes import _thinned, has_own_notes_alone, own_shapes
from companion.music.kinds import degree
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences
from tests.practice.test_voicing_names import harmony

VOICINGS = preferences(VoicingPreferences)
COSTS = VOICINGS.costs
POSITIONS = ("root position", "first inversion", "second inversion", "third inversion")


def told(symbol: str, *families: str, melody: tuple[int, ...] = ()) -> list[tuple[str, str, str, int, float]]:
    """Family, name, degrees, notes of the left hand and price of each shape; ``melody`` in semitones over the root."""
    found = own_shapes(VOICINGS, harmony(symbol), frozenset(melody), families or ("rootless",))
    return [(one.family, one.name, " ".join(map(str, one.degrees)), one.left, one.price) for one in found]


@pytest.mark.parametrize(
    ("symbol", "melody", "full"),
    [
        ("Ebmaj7/G", (), {"root position": "1 3 5 7", "first inversion": "3 5 7 1", "second inversion": "5 7 1 3",
                          "third inversion": "7 1 3 5"}),
        ("C6/E", (), {"root position": "1 3 5 6", "first inversion": "3 5 6 1", "second inversion": "5 6 1 3",
                      "third inversion": "6 1 3 5"}),
        ("Ebmaj7/G", (0,), {"root position": "1 3 5 6", "first inversion": "3 5 6 1", "second inversion": "5 6 1 3",
                            "third inversion": "6 1 3 5"}),  # 6 for 7 under the root
        ("C7/E", (0, 5), {"root position": "1 4 5 b7", "the fourth lowest": "4 5 b7 1", "second inversion": "5 b7 1 4",
                          "third inversion": "b7 1 4 5"}),  # under the fourth the third gives way
        ("Ebmaj7/G", (4, 11), {"root position": "1 3 5 7", "first inversion": "3 5 7 1", "second inversion": "5 7 1 3",
                               "third inversion": "7 1 3 5"}),
        ("C13/E", (), {"root position": "1 3 13 b7", "first inversion": "3 13 b7 1", "the thirteenth lowest":
                       "13 b7 1 3", "third inversion": "b7 1 3 13"}),  # without fifth, ninth, eleventh
        ("C11/E", (), {"root position": "1 9 11 b7", "the ninth lowest": "9 11 b7 1", "the eleventh lowest":
                       "11 b7 1 9", "third inversion": "b7 1 9 11"}),  # the eleventh is there, so no third
        ("Cadd9", (), {"the ninth lowest": "9 3 5", "first inversion": "3 5 9", "second inversion": "5 9 3"}),
        ("Csus2", (), {"root position": "1 2 5", "first inversion": "2 5 1", "second inversion": "5 1 2"}),
        ("C5", (), {"root position": "1 5", "second inversion": "5 1"}),
    ],
)  # fmt: skip
def test_a_chord_has_its_own_notes_in_every_inversion(
    symbol: str, melody: tuple[int, ...], full: dict[str, str]
) -> None:
    assert has_own_notes_alone(harmony(symbol))
    found = [one for one in told(symbol, melody=melody) if one[0] == "rootless"]
    assert {name: degrees for _, name, degrees, _, _ in found} == full
    assert {(left, price) for *_, left, price in found} == {(0, 0.0)}


@pytest.mark.parametrize(
    ("symbol", "three", "two"),
    [
        ("Ebmaj7/G", ["root, third, seventh", "third, seventh, root", "seventh, root, third"],
         ["root, third", "third, root"]),
        ("C11/E", ["root, ninth, seventh", "ninth, seventh, root", "seventh, root, ninth"],
         ["root, seventh", "seventh, root"]),
        ("C/E", [], ["root, third", "third, root"]),
        ("Cadd9", [], ["ninth, third", "third, ninth"]),
        ("Csus2", [], ["root, second", "second, root"]),
        ("C5", [], []),
    ],
)  # fmt: skip
def test_what_is_left_of_it_is_named_by_its_notes(symbol: str, three: list[str], two: list[str]) -> None:
    found = told(symbol)
    assert [(name, price) for family, name, _, _, price in found if family == "three"] == [
        (name, COSTS.thin) for name in three
    ]
    assert [(name, price) for family, name, _, _, price in found if family == "two"] == [
        (name, COSTS.thinner) for name in two
    ]


def test_in_both_hands_every_other_note_is_the_left_hands() -> None:
    found = told("Cm7/Bb", "open", "quartal")
    assert [one for one in found if one[0] == "open"] == [
        ("open", "root position, open", "1 5 b3 b7", 2, 0.0),
        ("open", "first inversion, open", "b3 b7 5 1", 2, 0.0),
        ("open", "second inversion, open", "5 1 b7 b3", 2, 0.0),
        ("open", "third inversion, open", "b7 b3 1 5", 2, 0.0),
    ]
    assert {left for family, _, _, left, _ in found if family != "open"} == {0}
    assert {price for family, _, _, _, price in found if family == "three"} == {COSTS.thin + COSTS.unlike}


def test_open_position_has_no_minor_ninth_and_needs_four_notes() -> None:
    """Where the root of a major seventh would lie above its seventh, that is a minor ninth."""
    names = {name for family, name, *_ in told("Cmaj7/E", "open") if family == "open"}
    assert names == {"root position, open", "second inversion, open"}
    assert {name for family, name, *_ in told("C/E", "open") if family == "open"} == set(POSITIONS[:3])


def test_why_a_chord_is_played_so_is_told() -> None:
    for symbol, why in (
        ("C/E", "the bass has another note, so the root is in the chord"),
        ("C5", "its own notes and no more"),
    ):
        assert {one.why for one in own_shapes(VOICINGS, harmony(symbol), frozenset(), ("rootless",))} == {why}
    assert not has_own_notes_alone(harmony("Cmaj7"))


@pytest.mark.parametrize(
    ("tones", "size", "inverted", "left"),
    [
        ("1 3 5 7", 3, True, "1 3 7"),  # over another bass the root stays
        ("1 3 5 7", 2, True, "1 3"),
        ("1 3 5 7", 2, False, "3 7"),
        ("1 4 5 b7", 2, False, "4 b7"),
        ("1 2 5", 2, False, "1 2"),
        ("1 2 5", 2, True, "1 2"),
        ("1 4 5 7", 3, True, "1 4 7"),
        ("1 2 5 6", 3, True, "1 2 6"),
        ("1 3 5 6", 2, False, "3 6"),
        ("1 3 5 9", 2, False, "3 9"),  # a ninth comes before the fifth ...
        ("1 3 5 9", 3, True, "1 3 5"),  # ... but not over another bass
    ],
)
def test_a_thinned_chord_keeps_what_tells_it_apart(tones: str, size: int, inverted: bool, left: str) -> None:
    found = _thinned(tuple(degree(tone) for tone in tones.split()), size, inverted)
    assert " ".join(map(str, found)) == left
