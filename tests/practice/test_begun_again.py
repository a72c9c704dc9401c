"""Whoever plays a bar's first notes, stops and plays them once more has begun it again, and made no slip."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.load import load
from companion.messages import Heard
from companion.practice.alignment import align
from companion.practice.begun_again import bars_begun_again
from companion.practice.review import review
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
