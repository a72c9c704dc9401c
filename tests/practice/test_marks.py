"""Marks over the written notes: each kind has its shape, and stands where the note was played."""

from __future__ import annotations

import re

import pytest

from companion.engrave.note_places import BarPlace, StaffPlace
from companion.engrave.sheet import LEFT, RIGHT
from companion.messages import NoteKind, Part
from companion.practice.judging import JudgedNote
from companion.practice.marks import A_SPACE_MS, BESIDE, FARTHEST, LEGEND, Mark, mark, shape, staff_for
from tests.practice.test_partner import TUNE

FORM = TUNE.unfold()
SPACE = 100.0
STAVES = {RIGHT: StaffPlace(1000.0, SPACE), LEFT: StaffPlace(2000.0, SPACE)}
PLACE = BarPlace(1, 0, 0.0, 4000.0, STAVES, ((0.0, 500.0), (4.0, 4000.0)))


def note(
    kind: NoteKind, expected: int | None, pitch: int | None, deviation: float | None = None, part: Part = "melody"
) -> JudgedNote:
    return JudgedNote(kind, 0.0, expected, pitch, 1.0, deviation, part)


def drawn(one: JudgedNote, staff: int = RIGHT) -> list[Mark]:
    return mark(one, PLACE, 0.0, FORM, staff)


def middle(one: Mark) -> tuple[float, float]:
    found = re.search(r'cx="(-?\d+)" cy="(-?\d+)"', one.svg)
    assert found
    return float(found[1]), float(found[2])


def test_a_right_note_casts_a_shadow_under_its_head() -> None:
    """F5 is the top line of the treble staff."""
    (shadow,) = drawn(note("right", 77, 77, 0.0))
    assert shadow.under and middle(shadow) == (500, 1000)


@pytest.mark.parametrize(("late", "spaces"), [(A_SPACE_MS, 1), (-A_SPACE_MS, -1), (10 * A_SPACE_MS, FARTHEST)])
def test_the_shadow_falls_to_the_left_where_it_was_early_and_to_the_right_where_late(
    late: float, spaces: float
) -> None:
    (shadow,) = drawn(note("right", 77, 77, late))
    assert middle(shadow)[0] == 500 + spaces * SPACE


def test_each_kind_has_a_shape_of_its_own() -> None:
    shapes = {kind: re.sub(r"[\d.-]+", "0", shape(kind, 0, 0, SPACE)) for kind, _ in LEGEND}
    without_colour = {re.sub(r"#\w+", "", text) for text in shapes.values()}
    assert len(without_colour) == len(LEGEND)


def test_a_missing_note_is_ringed_where_it_is_written() -> None:
    (ring,) = drawn(note("missing", 77, None))
    assert "stroke-dasharray" in ring.svg and middle(ring) == (500, 1000)


def test_a_wrong_note_is_crossed_where_it_was_played_with_its_accidental() -> None:
    """F♯4 stands in the lowest space, seven steps below the top line; G5 was written."""
    cross, sign = drawn(note("wrong", 79, 66))
    assert cross.svg.startswith('<path d="M438 1288')
    assert ">♯<" in sign.svg


def test_a_mark_that_would_hide_the_written_head_stands_beside_it() -> None:
    far, near = (drawn(note("wrong", 77, pitch))[0] for pitch in (72, 79))
    assert far.svg.startswith('<path d="M438')
    assert near.svg.startswith(f'<path d="M{438 + BESIDE * SPACE:.0f}')


def test_a_note_off_the_staff_has_its_ledger_lines() -> None:
    """Middle C has one below the treble staff, A5 one above it."""
    for pitch in (60, 81):
        lines = [one for one in drawn(note("extra", None, pitch)) if one.under]
        assert len(lines) == 1
    assert not [one for one in drawn(note("extra", None, 79)) if one.under], "G5 sits on the staff"


def test_what_is_free_and_fits_is_no_cross() -> None:
    (head,) = drawn(note("right", None, 71, part="chords"))
    assert "ellipse" in head.svg and not head.under
    (head,) = [one for one in drawn(note("wrong", None, 71, part="solo")) if not one.under]
    assert "ellipse" in head.svg, "of a line that is made up as it goes nothing is crossed out"


def test_notes_stand_on_the_staff_of_their_hand() -> None:
    both, alone = (RIGHT, LEFT), (RIGHT,)
    assert staff_for(note("right", None, 40, part="bass"), both) == LEFT
    assert staff_for(note("right", None, 40, part="bass"), alone) == RIGHT
    assert staff_for(note("right", None, 72, part="bass"), both) == RIGHT, "no bass is as high"
    assert staff_for(note("right", None, 64, part="chords"), both) == RIGHT
    assert staff_for(note("right", None, 48, part="chords"), both) == LEFT
    assert staff_for(note("missing", 50, None), both) == RIGHT, "a low melody is the melody all the same"
