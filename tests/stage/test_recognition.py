"""Solo or head, by how many of the melody's notes are heard: counted by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from companion.arrange.events import Stretch, chorus
from companion.chart.model import Event
from companion.preferences import preferences
from companion.preferences.following import FollowingPreferences
from companion.stage.recognition import Recognition, bars_gone

SCALE = "CDEFGABC"
PITCHES = (60, 62, 64, 65, 67, 69, 71, 72)


def head(stand: Any, bar: str = "C2 D2 E2 F2", number: int = 2) -> Stretch:
    """Four bars of the same notes, the second time through: from beat 16 on."""
    return chorus(stand.chart(("| C6 | % | % | % |", f"| {bar} " * 4 + "|")).unfold(), number, Event("head"))


def heard(*notes: tuple[float, int]) -> Recognition:
    found = Recognition(preferences(FollowingPreferences).solo_or_head)
    for note in notes:
        found.hear(*note)
    return found


def quarters(right: int, of: int = 8, off: float = 0.0) -> list[tuple[float, int]]:
    """Quarters from beat 16 on, of which the last ones are a tritone off, in another octave."""
    return [(16 + n + off, PITCHES[n % 4] + 12 + (0 if n < right else 6)) for n in range(of)]


@pytest.mark.parametrize(
    ("right", "said"), [(0, "solos"), (3, "solos"), (4, None), (5, None), (6, "head"), (8, "head")]
)
def test_few_of_the_melodys_notes_are_a_solo_and_most_of_them_the_head(stand: Any, right: int, said: str) -> None:
    """Of eight notes in two bars; the limits are 0.43 and 0.65 (configs/following.toml)."""
    assert heard(*quarters(right)).played(head(stand), 24.0) == said


@pytest.mark.parametrize(("beat", "solo", "said"), [(20.0, True, None), (24.0, True, "solos"), (20.0, False, "head")])
def test_a_solo_is_concluded_after_two_bars_and_the_head_at_once(
    stand: Any, beat: float, solo: bool, said: str
) -> None:
    quavers = [(16 + n / 2, PITCHES[n % 8] + 6 * solo) for n in range(16)]
    assert heard(*quavers).played(head(stand, SCALE), beat) == said


@pytest.mark.parametrize(("written", "played", "said"), [(4, 8, None), (5, 4, None), (5, 5, "head")])
def test_of_fewer_than_five_notes_nothing_is_concluded(stand: Any, written: int, played: int, said: str) -> None:
    bar = "".join(SCALE[:written]) + "z" * (8 - written)
    assert heard(*((16 + n / 2, PITCHES[n % 8]) for n in range(played))).played(head(stand, bar), 20.0) == said


@pytest.mark.parametrize(("more", "said"), [(8, "head"), (9, None)])
def test_who_plays_more_than_twice_as_many_notes_is_not_playing_the_head(stand: Any, more: int, said: str) -> None:
    assert heard(*quarters(8), *((16.5, 61) for _ in range(more))).played(head(stand), 24.0) == said


@pytest.mark.parametrize(("off", "said"), [(0.44, "head"), (0.46, "solos"), (-0.44, "head"), (-0.46, "solos")])
def test_how_far_a_note_may_lie_from_its_place(stand: Any, off: float, said: str) -> None:
    assert heard(*quarters(8, off=off), *quarters(0)).played(head(stand), 24.0) == said


def test_only_what_was_played_in_the_chorus_counts(stand: Any) -> None:
    assert heard(*((beat - 16, pitch) for beat, pitch in quarters(8))).played(head(stand), 24.0) is None
    for first in (15.56, 15.55):
        early = heard((first, 60), *quarters(8)[1:5])
        assert early.played(head(stand, "C2 D2 E2 F2"), 21.0) == "head", "the first note a little early"
    assert heard((15.5, 60), *quarters(8)[1:5]).played(head(stand), 21.0) is None
    assert heard(*quarters(4, 4), (24.0, 60), (25.0, 62)).played(head(stand), 24.0) is None, "not yet played"


@pytest.mark.parametrize(("right", "said"), [(4, "solos"), (5, None), (6, "head")])
def test_just_as_few_and_just_as_many_as_are_asked_for_say_it(stand: Any, right: int, said: str) -> None:
    likes = replace(preferences(FollowingPreferences).solo_or_head, solo=0.5, head=0.75)
    found = Recognition(likes)
    for note in quarters(right):
        found.hear(*note)
    assert found.played(head(stand), 24.0) == said


@pytest.mark.parametrize(("more", "said"), [(120, "head"), (121, None)])
def test_a_hundred_and_twenty_eight_notes_are_remembered(stand: Any, more: int, said: str) -> None:
    """Of eight notes six are right, which is just enough; with the first of them it is too few."""
    assert heard(*quarters(6), *((40.0, 60) for _ in range(more))).played(head(stand), 24.0) == said


def test_only_the_latest_notes_are_remembered(stand: Any) -> None:
    assert heard(*quarters(8), *((40.0, 60) for _ in range(120))).played(head(stand), 24.0) == "head"
    assert heard(*quarters(8), *((40.0, 60) for _ in range(124))).played(head(stand), 24.0) is None


@pytest.mark.parametrize(("beat", "bars"), [(16, 0), (20, 1), (24, 2), (28, 3), (22, 0), (32, 0), (20 + 1e-9, 1)])
def test_bars_are_counted_on_bar_lines(stand: Any, beat: float, bars: int) -> None:
    assert bars_gone(head(stand), float(beat)) == bars
