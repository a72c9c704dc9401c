"""Marks over the written notes: each kind has its shape, and stands where the note was played."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from companion.chart.transpose import signature
from companion.engrave.note_places import BarPlace, StaffPlace
from companion.engrave.sheet import LEFT, RIGHT
from companion.messages import NoteKind, Part
from companion.practice.judging import JudgedNote
from companion.practice.marks import (
    A_SPACE_MS,
    BESIDE,
    FARTHEST,
    LEGEND,
    Mark,
    MarkKind,
    left_out,
    mark,
    shape,
    staff_for,
)
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


def test_forty_milliseconds_are_a_space_and_two_spaces_and_a_fifth_are_the_farthest() -> None:
    assert (A_SPACE_MS, FARTHEST, BESIDE) == (40, 2.2, 1.3)


@pytest.mark.parametrize(
    ("late", "spaces"), [(None, 0), (A_SPACE_MS, 1), (-A_SPACE_MS, -1), (10 * A_SPACE_MS, FARTHEST)]
)
def test_the_shadow_falls_to_the_left_where_it_was_early_and_to_the_right_where_late(
    late: float | None, spaces: float
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


SHAPES = {
    "right": '<ellipse cx="1000" cy="500" rx="95" ry="78" fill="#b9cbd3"/>',
    "free": '<ellipse cx="1000" cy="500" rx="60" ry="42" fill="#5f7f8d" transform="rotate(-22 1000 500)"/>',
    "wrong": '<path d="M938 438 L1062 562 M938 562 L1062 438" stroke-linecap="round" '
    'style="fill:none;stroke:#a8443a" stroke-width="28"/>',
    "missing": '<circle cx="1000" cy="500" r="115" stroke-linecap="round" style="fill:none;stroke:#a8443a" '
    'stroke-width="20" stroke-dasharray="50 42"/>',
    "extra": '<path d="M928 500 L1000 428 L1072 500 L1000 572 Z" stroke-linecap="round" '
    'style="fill:white;stroke:#a8443a" stroke-width="20"/>',
    "left out": '<rect x="900" y="430" width="200" height="140" fill="#d9d7dd"/>',
}
"""As they are drawn today, on a staff with a space of 100."""


@pytest.mark.parametrize("kind", SHAPES)
def test_each_shape_is_drawn_about_its_middle(kind: MarkKind) -> None:
    assert shape(kind, 1000, 500, SPACE) == SHAPES[kind]


def test_a_bar_that_was_left_out_has_a_band_over_its_staves() -> None:
    band = left_out(BarPlace(1, 0, 500.0, 4000.0, STAVES, PLACE.beats))
    assert band == Mark('<rect x="500" y="1000" width="3500" height="1400" fill="#d9d7dd"/>', under=True)
    alone = left_out(BarPlace(1, 0, 500.0, 4000.0, {RIGHT: STAVES[RIGHT]}, PLACE.beats))
    assert 'height="400"' in alone.svg


@pytest.mark.parametrize(
    ("pitch", "staff", "lines"),
    [
        (79, RIGHT, []), (81, RIGHT, [900]), (83, RIGHT, [900]), (84, RIGHT, [900, 800]), (62, RIGHT, []),
        (60, RIGHT, [1500]), (59, RIGHT, [1500]), (57, RIGHT, [1500, 1600]), (41, LEFT, []), (40, LEFT, [2500]),
        (36, LEFT, [2500, 2600]), (60, LEFT, [1900]),
    ],
)  # fmt: skip
def test_ledger_lines_go_from_the_staff_to_the_note(pitch: int, staff: int, lines: list[int]) -> None:
    """As notation has them (common practice): up to the note's own line, or the one before its space."""
    under = [one for one in drawn(note("extra", None, pitch), staff) if one.under]
    style = 'style="stroke:#2b2a33" stroke-width="12"'
    assert [one.svg for one in under] == [f'<path d="M405 {y} H595" {style}/>' for y in lines]


@pytest.mark.parametrize(
    ("key", "pitch", "sign"),
    [
        ("C major", 65, ""), ("C major", 66, "♯"), ("C major", 70, "♭"), ("F major", 70, ""), ("F major", 71, "♮"),
        ("G major", 66, ""), ("G major", 65, "♮"), ("D major", 73, ""), ("D major", 72, "♮"), ("B major", 70, ""),
        ("Eb major", 68, ""), ("Eb major", 69, "♮"), ("Gb major", 71, ""), ("Gb major", 65, ""), ("F# major", 65, ""),
    ],
)  # fmt: skip
def test_a_pitch_that_the_key_has_needs_no_accidental(key: str, pitch: int, sign: str) -> None:
    """Key signatures: common practice."""
    form = replace(FORM, fifths=signature(key, minor=False))
    text = [one.svg for one in mark(note("extra", None, pitch), PLACE, 0.0, form, RIGHT) if "<text" in one.svg]
    assert len(text) == bool(sign) and all(f">{sign}<" in one for one in text)


def test_an_accidental_stands_beside_its_mark() -> None:
    (_, sign) = drawn(note("wrong", None, 66))
    where = 'x="625" y="1400" font-size="170px" text-anchor="middle"'
    assert sign.svg == f'<text {where} fill="#a8443a" font-family="DejaVu Sans, sans-serif">♯</text>'


@pytest.mark.parametrize(
    ("kind", "expected", "pitch", "x"),
    [("wrong", 77, 76, 630), ("wrong", 77, 79, 630), ("wrong", 77, 74, 500), ("extra", None, 77, 500)],
)
def test_only_a_mark_less_than_a_space_from_the_written_head_is_moved(
    kind: NoteKind, expected: int | None, pitch: int, x: float
) -> None:
    one = next(one for one in drawn(note(kind, expected, pitch)) if not one.under)
    numbers = [float(number) for number in re.findall(r"[ML](\d+)", one.svg)]
    assert sum(numbers) / len(numbers) == x


def test_what_has_no_pitch_is_missing_in_the_middle_of_the_staff_or_not_drawn() -> None:
    (ring,) = drawn(note("missing", None, None))
    assert middle(ring) == (500, 1200)
    assert drawn(note("extra", None, None)) == []


@pytest.mark.parametrize(
    ("part", "pitch", "staff"),
    [("bass", 59, LEFT), ("bass", 60, RIGHT), ("chords", 52, LEFT), ("chords", 53, RIGHT), ("melody", 0, RIGHT)],
)
def test_from_which_pitch_a_part_goes_to_the_right_hand(part: Part, pitch: int, staff: int) -> None:
    assert staff_for(note("right", None, pitch, part=part), (RIGHT, LEFT)) == staff
    assert staff_for(note("right", None, pitch, part=part), (LEFT,)) == LEFT
