"""The hand with which the companion plays along: never early on the player's beat, hardly later, and never twice alike.

Values: the bass within 5 ms of its beat, a live chord within a few; a chord's notes a few milliseconds apart with the
top note firmer (common practice). Less than 10 ms isn't heard as late (Jack et al., Music Perception 36(1), 2018; from
memory).
"""

from __future__ import annotations

import statistics
from typing import Any

import pytest

from companion.messages import Beat, Order, Part
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings

START, TEMPO = 2.0, 120.0
BEATS = 64
LATEST = {"bass": 0.005, "chords": 0.006}
"""Seconds behind the beat."""


def accompanied(stand: Any, seed: int = 0, latency: float = 0.0) -> Recording:
    chart = stand.tune()
    told = Settings(
        you=frozenset({"melody"}),
        parts=("chords", "bass"),
        tempo=TEMPO,
        start=START,
        treatment="walking",
        seed=seed,
        latency=latency,
    )
    return replay(chart, stand.melody(chart, (START, 0, BEATS, TEMPO)), told)


def struck(recording: Recording, part: Part) -> list[Order]:
    return [order for order in recording.orders if order.part == part and order.status == 0x90]


def behind(recording: Recording, part: Part) -> list[float]:
    """By how many seconds each note about a beat lies behind it."""
    beats = [report.seconds for report in recording.reports if isinstance(report, Beat)]
    near = (
        (order.seconds, min(beats, key=lambda beat: abs(beat - order.seconds))) for order in struck(recording, part)
    )
    return [moment - beat for moment, beat in near if abs(moment - beat) < 0.05]


@pytest.mark.parametrize("latency", [0.0, 0.02])
@pytest.mark.parametrize("part", ["bass", "chords"])
def test_on_the_beat_nothing_is_early_and_nothing_is_heard_as_late(stand: Any, part: Part, latency: float) -> None:
    late = behind(accompanied(stand, latency=latency), part)
    assert len(late) > 20
    assert min(late) >= -1e-6 and max(late) <= LATEST[part] + 1e-6
    assert len({round(seconds, 4) for seconds in late}) > 5, "no machine strikes so"


def test_between_the_beats_a_chord_may_be_early_or_a_little_late(stand: Any) -> None:
    recordings = [accompanied(stand, seed) for seed in range(4)]
    swung = 2 / 3 * 60 / TEMPO  # two to one at a medium tempo
    off = []
    for recording in recordings:
        beats = [report.seconds for report in recording.reports if isinstance(report, Beat)]
        places = [beat + swung for beat in beats]
        for order in struck(recording, "chords"):
            place = min(places, key=lambda at: abs(at - order.seconds))
            if abs(order.seconds - place) < 0.06:
                off.append(1000 * (order.seconds - place))
    assert len(off) > 40
    assert statistics.pstdev(off) > 3.0 and min(off) < -3.0


def test_a_chord_is_struck_from_the_top_within_twelve_milliseconds_and_its_top_note_is_the_firmest(stand: Any) -> None:
    firmest = spread = count = 0
    at = -1.0
    groups: list[list[Order]] = []
    for order in sorted(struck(accompanied(stand), "chords"), key=lambda order: order.seconds):
        if order.seconds - at > 0.03:
            groups.append([])
        groups[-1].append(order)
        at = order.seconds
    for chord in (group for group in groups if len(group) > 1):
        count += 1
        top = max(chord, key=lambda order: order.data1)
        firmest += top.data2 == max(order.data2 for order in chord)
        spread += chord[-1].seconds - chord[0].seconds <= 0.012
        assert top.seconds == chord[0].seconds
    assert count > 15 and firmest == spread == count


def test_the_same_take_is_replayed_alike_and_another_seed_has_another_hand(stand: Any) -> None:
    assert accompanied(stand, 1).orders == accompanied(stand, 1).orders
    assert behind(accompanied(stand, 1), "bass") != behind(accompanied(stand, 2), "bass")


def test_the_bass_is_not_struck_at_one_loudness(stand: Any) -> None:
    loud = [order.data2 for order in struck(accompanied(stand), "bass")]
    assert len(loud) > BEATS // 2 and len(set(loud)) > 5
