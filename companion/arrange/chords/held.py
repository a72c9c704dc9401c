"""Chords held over a root that the pedal has caught: struck soon after it, in another rhythm from bar to bar.

Conventions: beats and lengths in quarters from the first downbeat of the form, written. The ways are in
``comping.toml``, by the length of the stretch that one chord rules in a bar.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from companion.arrange.chords.room import Bar, Room, Strike
from companion.arrange.harmony import Harmony
from companion.arrange.tables import table


def held(room: Room, bar: Bar) -> list[Strike]:
    """The chords of a bar, each soon after its root and held until the next."""
    found: list[Strike] = []
    for harmony in room.within(bar.start, bar.end):
        found += _one(room, bar, harmony)
    return found


def _one(room: Room, bar: Bar, harmony: Harmony) -> list[Strike]:
    start, end = max(harmony.start, bar.start), min(harmony.end, bar.end)
    way = max(_ways(end - start), key=lambda way: _liking(room, way, float(start)))
    room.used.append(way["name"])
    places = [start + Fraction(at).limit_denominator(24) for at in way["after"]]
    return [
        Strike(at, until - at, harmony, bar.treatment, f"held, {way['name']}")
        for at, until in zip(places, [*places[1:], end], strict=True)
    ]


def _ways(length: Fraction) -> list[dict[str, Any]]:
    """Ways for a stretch of so many quarters, or for the longest stretch that is shorter."""
    ways = table("comping")["held"]
    fitting = [key for key in ways if float(key) <= length]
    if not fitting:
        return [{"name": "with its root", "after": [0]}]
    found: list[dict[str, Any]] = ways[max(fitting, key=float)]
    return found


def _liking(room: Room, way: dict[str, Any], start: float) -> float:
    """A way is liked where its chords fall between the melody's notes, and better after another than after itself."""
    rules = table("comping")["placement"]
    struck_with = sum(room.moves(start + at, rules["clear"]) for at in way["after"])
    again = sum(name == way["name"] for name in room.used[-2:])
    return float(room.chance.gauss(0, rules["chance"]) - rules["lost"] * struck_with - rules["worn"] * again)
