"""What the pedal holds, and where a hand lets go of a melody note for a chord that lies too far below."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from companion.arrange.holding import PedalIndex, let_go_for_chords, pedal_changes
from companion.arrange.part import Note
from companion.chart.model import Form
from companion.messages import Hand, Part
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]


def note(
    beat: float, length: float, midi: int = 40, part: Part = "bass", hand: Hand = "left", pedal: bool = True
) -> Note:
    return Note(Fraction(beat), Fraction(length), pitch_in_key(midi), part, hand, pedal=pedal)


@pytest.fixture(scope="module")
def form(compose: Composer) -> Form:
    return compose("Cm7 F7 | Bbmaj7 | Eb")


def test_the_pedal_is_changed_where_a_bar_or_a_chord_begins(form: Form) -> None:
    assert pedal_changes(form) == {0, 2, 4, 8}


@pytest.mark.parametrize(
    ("notes", "down"),
    [
        ([note(4, 2)], {4.5, 5, 5.5}),  # neither where it goes down nor where it is up again
        ([note(4, 1), note(5, 1)], {4.5, 5, 5.5}),  # it stays down over a note within the chord
        ([note(4, 2), note(5, 0.5)], {4.5, 5, 5.5}),
        ([note(4, 1), note(5.5, 1)], {4.5, 6}),  # apart
        ([note(2, 4), note(4, 2)], {2.5, 3, 3.5, 4.5, 5, 5.5}),  # changed on the bar line
        ([note(0, 2), note(2, 2)], {0.5, 1, 1.5, 2.5, 3, 3.5}),  # and with the chord
        ([note(4, 2, pedal=False)], set()),
        ([note(5, 1), note(4, 1)], {4.5, 5, 5.5}),  # in any order
    ],
)
def test_where_it_is_down(form: Form, notes: list[Note], down: set[float]) -> None:
    pedal = PedalIndex(form, notes)
    assert {beat / 2 for beat in range(24) if pedal.is_down(Fraction(beat, 2))} == down


SUNG = note(4, 4, 76, "melody", "right", False)


@pytest.mark.parametrize(
    ("melody", "chords", "bass", "length"),
    [
        (SUNG, [(6, 62)], [], 4),  # a ninth below: within the hand
        (SUNG, [(6, 61)], [], 2),
        (SUNG, [(4, 61)], [], 4),  # struck together, not reached for
        (SUNG, [(8, 61)], [], 4),  # after it
        (SUNG, [(6, 64), (7, 60)], [], 3),
        (SUNG, [(7, 60), (6, 60)], [], 2),
        (SUNG, [(6, 70), (6, 61)], [], 2),  # the lowest note of the chord counts
        (SUNG, [(6, 61)], [note(4, 4)], 4),  # the pedal has it
        (SUNG, [(6, 61)], [note(6, 2)], 2),  # not yet
        (note(4, 4, 76, "melody", "left", False), [(6, 61)], [], 4),
        (note(4, 4, 76, "melody", "right", True), [(6, 61)], [], 4),
    ],
)
def test_a_melody_note_ends_where_its_hand_has_to_leave_it(
    form: Form, melody: Note, chords: list[tuple[float, int]], bass: list[Note], length: float
) -> None:
    below = [note(beat, 1, midi, "chords", "right", False) for beat, midi in chords]
    (held,) = let_go_for_chords(form, [melody], below, bass, 14)
    assert held.length == length
    assert ("let go for the chord" in held.reason) == (length < 4)
    left = [note(beat, 1, midi, "chords", "left", False) for beat, midi in chords]
    assert let_go_for_chords(form, [melody], left, bass, 14) == (melody,), "what the left hand strikes is no matter"
