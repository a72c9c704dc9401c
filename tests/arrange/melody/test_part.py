"""The melody laid out for looking up: what sounds when, what comes next, and the pickup round the end of the form."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.arrange.melody.part import NOTHING, MelodyIndex, index_melody, melody_notes
from companion.chart.model import Form

Composer = Callable[..., Form]


@pytest.fixture(scope="module")
def index(compose: Composer) -> MelodyIndex:
    """Sixteen quarters: a pickup, three notes, and nothing in the last bar but the pickup again."""
    return index_melody(compose("C | F | G7 | C", melody=[(-1, 1, 67), (0, 2, 72), (4, 4, 74), (8, 1, 71)]))


def test_the_pickup_lies_in_the_last_bar_too_and_what_the_chorus_before_ends_with_before_it(index: MelodyIndex) -> None:
    assert index.onsets == (-8, -1, 0, 4, 8, 15, 16, 20)
    assert index.ends == (-7, 0, 2, 8, 9, 16, 18, 24)
    assert index.home == 15


def test_a_note_of_the_chorus_before_ends_where_the_pickup_begins(compose: Composer) -> None:
    long = index_melody(compose("C | F", melody=[(-1, 1, 67), (0, 2, 72), (5, 6, 74)]))
    assert (long.onsets[:2], long.ends[:2]) == ((-8, -3), (-6, -1))


def test_without_a_melody_there_is_nothing(compose: Composer) -> None:
    assert index_melody(compose("C | F")) is NOTHING
    assert NOTHING.around(3) == (-32, 0, 35) and NOTHING.after(0) is None and NOTHING.rests(0, 9)


@pytest.mark.parametrize(
    ("start", "end", "begins", "rests", "sounding"),
    [
        (0, 1, [72], False, [72]),
        (-0.5, 0, [], True, [67]),
        (0.5, 4, [], True, [72]),
        (2, 4, [], True, []),
        (4, 8, [74], False, [74]),
        (8, 8.5, [71], False, [71]),
        (7.5, 8.5, [71], False, [74, 71]),
        (9, 15, [], True, []),
        (12, 16, [67], True, [67]),  # a pickup to the next chorus is no note of this one
        (16, 17, [72], True, [72]),
    ],
)
def test_what_begins_and_sounds_in_a_stretch(
    index: MelodyIndex, start: float, end: float, begins: list[int], rests: bool, sounding: list[int]
) -> None:
    assert [note.pitch.midi for note in index.within(start, end)] == begins
    assert (index.begins(start, end), index.rests(start, end)) == (bool(begins), rests)
    assert [note.pitch.midi for note in index.sounding(start, end)] == sounding
    assert index.classes(start, end) == {midi % 12 for midi in sounding}


@pytest.mark.parametrize(
    ("beat", "around", "after"),
    [
        (-20, (-32, 0, -8), 71),
        (-1, (-1, 1, 0), 72),
        (1, (0, 2, 4), 74),
        (4, (4, 4, 8), 71),
        (14, (8, 1, 15), 67),
        (21, (20, 4, 53), None),
    ],
)
def test_the_note_before_and_the_next(
    index: MelodyIndex, beat: float, around: tuple[float, float, float], after: int | None
) -> None:
    found = index.after(beat)
    assert index.around(beat) == around
    assert (found.pitch.midi if found else None) == after


def test_what_is_heard_counts_from_the_beginning_of_the_stretch(index: MelodyIndex) -> None:
    assert index.heard(5, 9) == [(5, 2), (8, 11)]


def test_each_note_has_its_degree_of_the_chord_that_rules_it(compose: Composer) -> None:
    form = compose("Cmaj7 G7 | Fmaj7", melody=[(-1, 1, 65), (0, 1, 64), (2, 2, 65), (3.5, 0.5, 61), (4, 1, 65)])
    assert [note.degree for note in melody_notes(form)] == ["1", "3", "b7", "x", "1"]
