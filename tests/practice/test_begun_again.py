"""Whoever plays a bar's first notes, stops and plays them once more has begun it again, and made no slip."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.messages import Heard
from companion.practice.alignment import Alignment, TakeMove, align
from companion.practice.begun_again import bars_begun_again
from companion.practice.judging import JudgedNote
from companion.practice.review import review
from companion.practice.sweeps import Sweep
from companion.resources import chart_path
from companion.stage.settings import Settings

CHART = load(chart_path("salt-in-the-ink"))
FORM = CHART.unfold()
MELODY = frozenset({"melody"})
QUARTER = 60 / 120
BAR = 6
"""One whose melody has notes enough."""


def played(notes: list[tuple[float, int]]) -> tuple[Heard, ...]:
    return tuple(
        event
        for seconds, pitch in sorted(notes)
        for event in (Heard(seconds, 0x90, pitch, 80), Heard(seconds + 0.05, 0x80, pitch, 0))
    )


def line(bar: int = BAR) -> tuple[list[tuple[float, int]], float, float]:
    """The whole melody in seconds and pitches, and from when to when a bar goes."""
    notes = [(2 + float(note.beat) * QUARTER, note.pitch.midi) for note in FORM.melody]
    starts = [*map(float, FORM.bars), float(FORM.length)]
    return notes, 2 + starts[bar - 1] * QUARTER, 2 + starts[bar] * QUARTER


def stammered(many: int, pause: float = 0.6, *, off: int = 0) -> tuple[Heard, ...]:
    """The first notes of a bar, silence, and the bar from its beginning; the first notes ``off`` semitones beside."""
    notes, start, end = line()
    inside = [note for note in notes if start - 0.01 <= note[0] < end - 0.01]
    first = [(seconds, pitch + off) for seconds, pitch in inside[:many]]
    later = first[-1][0] + QUARTER / 2 + pause - start
    return played(
        [note for note in notes if note[0] < start - 0.01]
        + first
        + [(seconds + later, pitch) for seconds, pitch in notes if seconds >= start - 0.01]
    )


def said(heard: tuple[Heard, ...]) -> set[tuple[str, int]]:
    settings = Settings(you=MELODY)
    return {(one.what, one.bar) for one in review(FORM, align(CHART, settings, heard), MELODY, heard).findings}


@pytest.mark.parametrize("many", [1, 2])
@pytest.mark.parametrize("pause", [0.6, 1.4])
def test_a_bar_begun_again_after_a_few_notes_is_said_to_be_and_nothing_else(many: int, pause: float) -> None:
    assert said(stammered(many, pause)) == {("restarted", BAR)}


def test_other_keys_before_a_pause_are_keys_too_many() -> None:
    found = {what for what, _ in said(stammered(2, off=1))}
    assert "restarted" not in found and "extra-note" in found


def test_holding_back_alone_begins_nothing_again() -> None:
    notes, start, _ = line()
    heard = played([(seconds + (0.9 if seconds >= start - 0.01 else 0.0), pitch) for seconds, pitch in notes])
    assert said(heard) == {("hesitated", BAR)}


def test_the_notes_played_before_are_forgiven_and_counted() -> None:
    alignment = align(CHART, Settings(you=MELODY), stammered(1))
    extra = [note for note in alignment.notes if note.kind == "extra"]
    assert extra, "laid note by note they are too many"
    after, again = bars_begun_again(FORM, alignment, MELODY)
    assert {replace(note, forgiven=True) for note in extra} <= set(after.notes)
    (bar,) = again.values()
    assert bar.start == float(FORM.bars[BAR - 1])
    assert 0 < bar.share < 1


# Where the limits lie, of takes that are laid already

TUNE = parse_toml("""
format = 1
title = "Steps"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | C6 | C6 | C6 |"
melody = "| C2 D2 E2 F2 | G2 A2 B2 c2 | C2 D2 E2 F2 | G2 A2 B2 c2 |"
""").unfold()


def begun(
    *extra: tuple[float, int], by: float = 1.0, beat: float = 4.0, stopped: bool = False, chorus: int = 0
) -> list[tuple[float, float]]:
    """Bars begun again, by their first beat and share, of who held back before a beat; keys too many by their moments.

    A quarter lasts half a second; the beat comes at 10 s.
    """
    on = 16.0 * chorus
    at = beat + on
    moments = tuple((n + on, 10.0 + (n - beat) / 2 - (by if n < beat else 0.0)) for n in range(17))
    keys = tuple(JudgedNote("extra", 0.0, None, pitch, seconds, chorus=chorus + 1) for seconds, pitch in extra)
    if stopped:
        split = int(beat)
        sweeps = (Sweep(on, at, (*moments[:split], (at, 10.0 - by))), Sweep(at, on + 16, moments[split:]))
        alignment = Alignment((keys, ()), sweeps, (TakeMove(10.0, beat, beat, by),))
    else:
        alignment = Alignment((keys,), (Sweep(on, on + 16, moments, ((at, by),)),), ())
    after, found = bars_begun_again(TUNE, alignment, MELODY)
    assert all(note.forgiven for note in after.notes) is (bool(found) or not extra)
    return [(one.start, one.share) for one in found.values()]


@pytest.mark.parametrize("stopped", [False, True])
@pytest.mark.parametrize(
    ("extra", "more", "found"),
    [
        (((8.9, 67),), {}, [(4.0, 0.25)]),  # G, the first note of bar 2
        (((8.4, 67), (8.9, 69)), {}, [(4.0, 0.5)]),
        (((8.4, 79), (8.9, 57)), {}, [(4.0, 0.5)]),  # in any octave
        (((8.4, 69), (8.9, 67)), {}, []),  # not in their order
        (((8.9, 69),), {}, []),  # the second note of the bar
        ((), {}, []),
        (((8.5, 67), (8.6, 69), (8.7, 71), (8.8, 72)), {}, [(4.0, 1.0)]),
        (((8.5, 67), (8.6, 69), (8.7, 71), (8.8, 72), (8.9, 67)), {}, []),  # more than the bar has
        (((8.9, 67),), {"by": 0.41}, [(4.0, 0.25)]),
        (((8.9, 67),), {"by": 0.4}, [(4.0, 0.25)]),
        (((8.9, 67),), {"by": 0.39}, []),
        (((8.9, 60),), {"beat": 1.0}, [(0.0, 0.25)]),  # the first bar
        (((8.9, 67),), {"beat": 6.0}, [(4.0, 0.25)]),  # the bar around the beat
        (((8.9, 60),), {"beat": 12.0}, []),
        (((8.9, 67),), {"beat": 12.0}, [(12.0, 0.25)]),
        (((8.9, 67),), {"beat": 12.0, "chorus": 1}, [(28.0, 0.25)]),
        (((6.9, 67),), {}, []),  # longer before than a bar takes
        (((7.1, 67),), {}, [(4.0, 0.25)]),
        (((11.9, 67),), {}, [(4.0, 0.25)]),
        (((12.1, 67),), {}, []),
    ],
)  # fmt: skip
def test_a_bar_is_begun_again_by_its_first_notes_in_order_within_a_bar_of_a_pause(
    stopped: bool, extra: tuple[tuple[float, int], ...], more: dict[str, Any], found: list[tuple[float, float]]
) -> None:
    assert begun(*extra, stopped=stopped, **more) == found


def test_whoever_stops_and_goes_on_elsewhere_has_begun_no_bar_again() -> None:
    sweeps = (Sweep(0.0, 4.0, ((0.0, 7.0), (4.0, 9.0))), Sweep(8.0, 16.0, ((8.0, 10.0), (16.0, 14.0))))
    keys = (JudgedNote("extra", 0.0, None, 60, 8.9),)
    assert not bars_begun_again(TUNE, Alignment((keys, ()), sweeps, (TakeMove(10.0, 4.0, 8.0, 1.0),)), MELODY)[1]
