"""What goes into a rehearsal and comes out of it."""

from __future__ import annotations

import pytest

from companion.messages import EVENTS, HANDS, HELD_WITHIN, PARTS, TINY, TUNE_PARTS, WISHES, Beat, Heard, Round, State


@pytest.mark.parametrize(
    ("status", "velocity", "struck"),
    [(0x90, 1, True), (0x90, 127, True), (0x90, 0, False), (0x80, 64, False), (0xB0, 64, False), (0x91, 64, False)],
)
def test_a_key_goes_down_with_a_note_on_that_has_a_velocity(status: int, velocity: int, struck: bool) -> None:
    """MIDI 1.0: a note-on with velocity 0 is a note-off."""
    assert Heard(0.0, status, 60, velocity).is_note_on is struck


def test_closed_sets_of_words() -> None:
    assert PARTS == ("melody", "chords", "bass", "solo", "click") and TUNE_PARTS == ("melody", "chords", "bass")
    assert EVENTS == ("introduction", "head", "solos", "ending") and HANDS == ("right", "left")
    assert WISHES == ("start", "stop", "again", "faster", "slower", "next", "stay", "last time", "keep"), (
        "all but treatment"
    )


def test_a_report_leaves_out_what_is_usual() -> None:
    assert Beat(0.0, 0.0, 1.0) == Beat(0.0, 0.0, 1.0, chorus=1, event="", turn="")
    assert State(0.0, "waiting") == State(0.0, "waiting", None, None, None, "", 1, None, False)
    begun = Round(0.0, 1, 1, 8, ("melody",), "C", 120.0, 4.0)
    assert (begun.good, begun.why, begun.then, begun.hidden, begun.spread_ms) == (None, "", None, False, None)
    assert (begun.right, begun.wrong, begun.missing, begun.extra) == (0, 0, 0, 0)


def test_a_beat_is_with_the_players_within_seventy_milliseconds() -> None:
    """The usual tolerance for beats (mir_eval, beat.f_measure: 0.07 s); a rounding error is far below what is heard."""
    assert HELD_WITHIN == 0.07 and 0 < TINY < 1e-4
