"""A recorded performance played into a drill through a virtual clock, and the rounds as a table.

Conventions: seconds of the performance; the drill's first click falls at second 0.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from companion.messages import Heard, Order, Wish
from companion.practice.drill import Drill


def replay_drill(
    drill: Drill, performance: Sequence[Heard | Wish], length: float, *, watch: Callable[[float], None] | None = None
) -> list[Order]:
    """Play a performance into a drill.

    It goes on to the end of the recording; from there to the judgement of the round in which the player's last note
    lies, so that what comes next is known. The drill hears nothing before its moment.

    Parameters
    ----------
    drill : Drill
    performance : sequence of Heard and Wish
        In order of time, signals taken out.
    length : float
        Seconds to the end of the recording.
    watch : callable, optional
        Called with the moment of each step.

    Returns
    -------
    list of Order
        What the companion plays.
    """
    orders: list[Order] = []
    for event in performance:
        orders += drill.advance(event.seconds, [event]).orders
        if watch:
            watch(event.seconds)
    last_note = max(
        (event.seconds for event in performance if isinstance(event, Heard) and event.is_note_on), default=float("-inf")
    )
    step = drill.advance(max(length, 0.0), [])
    orders += step.orders
    number = drill.round.number
    while step.wake is not None and drill.round.number == number and drill.round.start <= last_note and not drill.ended:
        step = drill.advance(step.wake, [])
        orders += step.orders
    return orders


def rounds_table(drill: Drill) -> list[dict[str, Any]]:
    """The rounds of a drill: one row each, the last one maybe under way."""
    rows = []
    for played in drill.rounds:
        verdict = played.verdict
        rows.append(
            {
                "round": played.number,
                "bars": list(played.bars),
                "you": sorted(played.you),
                "key": played.key,
                "tempo": played.tempo,
                "start_s": round(played.start, 6),
                "end_s": None if played.end is None else round(played.end, 6),
                "good": None if verdict is None else verdict.good,
                "why": "" if verdict is None else verdict.why,
                **(verdict.counts() if verdict else dict.fromkeys(("right", "wrong", "missing", "extra"), 0)),
            }
        )
    return rows
