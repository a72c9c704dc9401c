"""Where onsets lie by the chart, and the beat that both hands tell, from a take of which everything is known."""

from __future__ import annotations

import pytest

from companion.music.played import BeatMap
from companion.practice.judging import JudgedNote
from companion.practice.onsets import in_order, onsets_between, written_onsets
from companion.practice.sweeps import Sweep
from tests.practice.test_alignment import form

NAME, QUARTER, BARS = "ferry-without-lights", 0.5, 16
STEADY = BeatMap.steady(60 / QUARTER, 1.0)
SWEEP = Sweep(0.0, 4.0 * BARS, tuple((float(n), STEADY.seconds(n)) for n in range(4 * BARS + 1)))


def melody(*, late: float = 0.0) -> list[JudgedNote]:
    """A note on each downbeat."""
    at = (4.0 * n for n in range(BARS))
    return [JudgedNote("right", beat, 64, 64, STEADY.seconds(beat) + late, 0.0) for beat in at]


def chords(off: dict[float, float]) -> list[JudgedNote]:
    """A chord under each downbeat and one on each third beat; some of them off by so many seconds."""
    return [
        JudgedNote("right", beat, None, pitch, STEADY.seconds(beat) + off.get(beat, 0.0), None, "chords")
        for beat in (2.0 * n for n in range(2 * BARS))
        for pitch in (53, 57)
    ]


def both(off: dict[float, float]) -> tuple[list[float], BeatMap]:
    """The beats of the chords between the melody's notes, and the beat that both tell."""
    notes = [*melody(), *chords(off)]
    between, beats = onsets_between(form(NAME), SWEEP, notes, written_onsets(form(NAME), SWEEP, notes))
    return [one.beat for one in between], beats


def test_chords_between_the_notes_of_a_melody_tell_the_beat() -> None:
    found, beats = both(dict.fromkeys((18.0, 22.0, 26.0), 0.03))
    assert found == [4.0 * n + 2 for n in range(BARS)]
    assert beats.seconds(22) > STEADY.seconds(22) + 0.005


def test_a_late_chord_does_not_draw_the_beat_to_itself() -> None:
    found, beats = both({22.0: 0.12})
    assert 22.0 not in found and len(found) == BARS - 1
    assert beats.seconds(22) == pytest.approx(STEADY.seconds(22), abs=0.003)


def test_of_a_chord_and_a_note_that_cross_the_note_counts() -> None:
    notes = [*melody(late=0.2), *chords({})]
    written = written_onsets(form(NAME), SWEEP, notes)
    under = onsets_between(form(NAME), SWEEP, [*melody(), *chords({})], written_onsets(form(NAME), SWEEP, melody()))
    mixed = in_order(written, under[0])
    assert [one.beat for one in mixed] == sorted(one.beat for one in mixed)
    assert [one.seconds for one in mixed] == sorted(one.seconds for one in mixed)
    assert {one.beat for one in written} <= {one.beat for one in mixed}
