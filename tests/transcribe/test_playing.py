"""Keys from messages, and which of them were struck together."""

from __future__ import annotations

import pytest

from companion.messages import Heard
from companion.music.played import KeyPress
from companion.transcribe.playing import held_chords, keys_of, together, top_line, without_repeats


def key(on: float, off: float, midi: int = 60) -> KeyPress:
    return KeyPress(on, off, midi)


def read(*messages: tuple[float, int, int, int], pedal: bool = True) -> list[tuple[float, float, int, int]]:
    found = keys_of([Heard(*message) for message in messages], pedal=pedal)
    return [(k.on, k.off, k.midi, k.velocity) for k in found]


def test_a_key_lasts_from_its_note_on_to_its_note_off() -> None:
    """Statuses of MIDI 1.0; a note-on of velocity 0 is a note-off."""
    assert read((1, 0x90, 60, 70), (2, 0x80, 60, 40)) == [(1, 2, 60, 70)]
    assert read((1, 0x93, 60, 70), (2, 0x93, 60, 0)) == [(1, 2, 60, 70)]
    assert read((1, 0x90, 64, 1), (1, 0x90, 60, 2), (3, 0x80, 64, 0), (2, 0x80, 60, 0)) == [
        (1, 2, 60, 2),
        (1, 3, 64, 1),
    ]
    assert read((1, 0x90, 60, 70), (2, 0x80, 61, 0), (5, 0x80, 62, 0)) == [(1, 5, 60, 70)], (
        "to the end, if never let go"
    )
    assert read((1, 0x90, 60, 70), (2, 0x90, 60, 80), (3, 0x80, 60, 0)) == [(1, 2, 60, 70), (2, 3, 60, 80)]


@pytest.mark.parametrize(("value", "end"), [(64, 5), (63, 2), (127, 5), (0, 2)])
def test_the_damper_pedal_holds_from_64(value: int, end: float) -> None:
    """Controller 64, on from 64: MIDI 1.0."""
    down = (0, 0xB0, 64, value), (1, 0x90, 60, 70), (2, 0x80, 60, 0)
    assert read(*down, (5, 0xB0, 64, 0)) == [(1, end, 60, 70)]
    assert read(*down, (5, 0xB0, 64, 0), pedal=False) == [(1, 2, 60, 70)]
    assert read((0, 0xB0, 66, 127), *down[1:], (5, 0xB0, 66, 0)) == [(1, 2, 60, 70)], "the sostenuto is another pedal"


def test_a_key_struck_again_under_the_pedal_ends_the_first_stroke() -> None:
    held = (0, 0xB0, 64, 127), (1, 0x90, 60, 70), (2, 0x80, 60, 0), (3, 0x90, 60, 50), (4, 0x80, 60, 0)
    assert read(*held, (6, 0xB0, 64, 0)) == [(1, 3, 60, 70), (3, 6, 60, 50)]
    assert read(*held, (6, 0x90, 62, 9)) == [(1, 3, 60, 70), (3, 6, 60, 50), (6, 6, 62, 9)], "and what is never let go"
    assert read(*held[:2], (3, 0x90, 60, 50), (6, 0x80, 60, 0), (7, 0xB0, 64, 0)) == [(1, 3, 60, 70), (3, 7, 60, 50)]


def test_a_key_that_bounces_lasts_as_long_as_the_longer_of_its_strokes() -> None:
    assert without_repeats([key(1.0, 1.4), key(1.049, 1.1), key(1.04, 1.2, 62)], 0.05) == [
        key(1.0, 1.4),
        key(1.04, 1.2, 62),
    ]
    assert without_repeats([key(1.0, 1.1), key(1.049, 1.5)], 0.05) == [key(1.0, 1.5)]
    two = [key(1.0, 1.04), key(1.05, 1.5)]
    assert without_repeats([key(1.0, 1.04), key(1.06, 1.5)], 0.05) == [key(1.0, 1.04), key(1.06, 1.5)]
    assert without_repeats(two, 0.04) == two


def sizes(*moments: float, spread: float = 0.03) -> list[int]:
    """How many keys of a rising scale are struck together, each held for a second."""
    return [len(group) for group in together([key(on, on + 1.0, 60 + n) for n, on in enumerate(moments)], spread)]


@pytest.mark.parametrize(
    ("moments", "found"),
    [
        ((1.0, 1.02, 1.04), [3]),  # each within 30 ms of the one before, and all within 60
        ((1.0, 1.025, 1.05, 1.07), [3, 1]),
        ((1.0, 1.031), [1, 1]),
        ((1.0, 1.029), [2]),
        ((), []),
    ],
)
def test_keys_close_one_after_the_other_are_struck_together(moments: tuple[float, ...], found: list[int]) -> None:
    assert sizes(*moments) == found


def test_keys_struck_together_stand_from_the_bottom_up() -> None:
    [group] = together([key(1.0, 2.0, 67), key(1.01, 2.0, 60), key(1.02, 2.0, 64)], 0.035)
    assert [k.midi for k in group] == [60, 64, 67]


@pytest.mark.parametrize(
    ("second", "one"),
    [
        (key(1.02, 2.0, 64), True),
        (key(1.0301, 2.0, 64), False),  # too late
        (key(1.02, 1.53, 64), True),  # down together for half of the longer one
        (key(1.02, 1.49, 64), False),
        (key(1.0, 1.1, 64), True),  # at the same moment, as a file has it
        (key(1.02, 3.01, 64), False),
    ],
)
def test_a_chord_is_struck_as_one_and_held_together(second: KeyPress, one: bool) -> None:
    assert held_chords([key(1.0, 2.0), second], 0.03, 0.3) == ([[0, 1]] if one else [[0], [1]])


def test_a_rolled_chord_goes_on_while_each_note_follows_the_last_within_a_time() -> None:
    rolled = [key(1.0 + 0.02 * n, 2.0, 60 + n) for n in (3, 1, 0, 2, 4)]
    assert held_chords(rolled, 0.03, 0.065) == [[2, 1, 3, 0], [4]], "in order of time, by their places in the list"


def test_of_keys_held_together_the_highest_is_the_melody_and_a_short_one_before_it_stays() -> None:
    chord, grace = [key(1.0, 2.0), key(1.01, 1.9, 76), key(1.02, 1.55, 67)], key(0.99, 1.06, 75)
    assert top_line(chord, again=0.05, spread=0.03) == [chord[1]]
    assert top_line([grace, *chord], again=0.05, spread=0.03) == [grace, chord[1]]
    assert top_line([grace, key(1.0, 1.07, 76)], again=0.05, spread=0.03) == [key(1.0, 1.07, 76)]


def test_a_roll_is_one_chord_as_long_as_its_last_key_is_near_enough_to_its_first() -> None:
    rolled = [key(1.0, 2.0), key(1.03, 2.0), key(1.06, 2.0)]
    assert held_chords(rolled, 0.04, 0.05) == [[0, 1], [2]]
    assert held_chords(rolled, 0.04, 0.07) == [[0, 1, 2]]


def test_as_far_apart_as_is_allowed_is_still_together() -> None:
    """A quarter of a second from the one before, and half a second in all."""
    assert sizes(0.0, 0.25, spread=0.25) == [2] and sizes(0.0, 0.25, 0.5, spread=0.25) == [3]
    assert sizes(0.0, 0.25, 0.5, 0.625, spread=0.25) == [3, 1] and sizes(0.0, 0.28125, spread=0.25) == [1, 1]
    keys = [key(n * 0.25, 2.0 + n * 0.25, 60 + n) for n in range(4)]
    assert held_chords(keys, 0.25, 0.75) == [[0, 1, 2, 3]] and held_chords(keys, 0.25, 0.625) == [[0, 1, 2], [3]]
    assert held_chords(keys, 0.125, 0.75) == [[0], [1], [2], [3]]
