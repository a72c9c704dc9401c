"""Which pedals there are: the controllers that move when each is pressed.

Source of the numbers: MIDI 1.0 Detailed Specification, controllers 64 to 69, and 4 and 11 for pedals that glide. Half
pedalling is any value between up and down; a switch sends two (MIDI 1.0: up to 63 off, from 64 on).
"""

from __future__ import annotations

from companion.ports.setup.desk import CONTROLLER, DOWN, Desk, FromPort, Talk, Typed
from companion.preferences.signals import DAMPER, PIANO_PEDALS

PEDALS = {
    **PIANO_PEDALS,
    65: "portamento",
    68: "legato",
    69: "hold",
    4: "foot controller",
    11: "expression",
}
"""What is worked by a foot, by controller. Wheels, volume and bank selection are none, and many pianos send them."""
FIRST_PEDAL = 10.0
"""Seconds to wait for the first."""
NEXT_PEDAL = 2.5
"""Seconds after the last movement, when all are up."""
LONGEST = 30.0
"""Seconds for all of them; a worn pedal never stands still."""
BETWEEN = 2
"""Values between up and down that are half pedalling; a worn switch may bounce through one ..."""
CLEAR = range(10, 118)
"""... and these are between: near its ends a worn pedal trembles."""


def find_pedals(desk: Desk) -> Talk[None]:
    """Press each pedal: which controllers move, and whether the damper sends what lies between."""
    desk.step = "pedals"
    desk.say("3  Press each pedal once, slowly. (None there: wait.)")
    values: dict[int, list[int]] = {}
    until, end = desk.now + FIRST_PEDAL, desk.now + LONGEST
    while (event := (yield until)) is not None:
        if isinstance(event, Typed):
            break
        if (moved := _pedal(desk, event)) is not None:
            values.setdefault(moved[0], []).append(moved[1])
            until = min(desk.now + NEXT_PEDAL, end)
    if not values:
        desk.say("   no pedal heard: it stays as it was")
        return
    damper = values.get(DAMPER, [])
    desk.found.pedals = tuple(sorted(values))
    desk.found.half_pedal = len({value for value in damper if value in CLEAR}) >= BETWEEN
    desk.say(f"   {', '.join(_name(pedal, desk.found.half_pedal) for pedal in desk.found.pedals)}")
    if damper and damper[0] < DOWN <= damper[-1] and len(damper) > 1:
        desk.say("   The damper works the wrong way round: switch the piano on with the foot off the pedal.")


def _pedal(desk: Desk, event: object) -> tuple[int, int] | None:
    """Controller and value, when a pedal of the player's moved."""
    if not isinstance(event, FromPort) or event.port != desk.found.input or len(event.message) != 3:
        return None
    kind, controller, value = event.message
    return (controller, value) if kind & 0xF0 == CONTROLLER and controller in PEDALS else None


def _name(pedal: int, half: bool) -> str:
    return PEDALS[pedal] + (" (half positions too)" if pedal == DAMPER and half else "")
