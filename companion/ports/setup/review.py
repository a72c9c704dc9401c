"""The last step: what would be written is shown, and written only when the player says so."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from companion.ports.setup.desk import NO, YES, Desk, Findings, FromPort, Talk, Typed
from companion.ports.setup.sounds import ENOUGH
from companion.preferences.own_file import OwnFile

DECIDE = 30.0
"""Seconds to look at it."""
LONGEST = 1000.0
"""Milliseconds that a sound chain may take (``preferences/units.py``)."""


@dataclass(frozen=True)
class Writing:
    """What would be written."""

    files: tuple[OwnFile, ...]
    latency: str
    """What is known of the sound's latency, in words."""


def review(desk: Desk, writing: Callable[[Findings], Writing]) -> Talk[Writing | None]:
    """Show what was found; what is to be written, or None."""
    desk.step = "keep"
    figures = desk.echo.returns.figures()
    if figures["count"] >= ENOUGH:
        desk.found.there_and_back_ms = figures["median_ms"]
        desk.found.latest_copy_ms = figures["worst_ms"]
    plan = writing(desk.found)
    desk.say(f"7  {plan.latency}", *_shown(plan))
    if not plan.files:
        desk.say("   Nothing was found that isn't so already.")
        return None
    if desk.found.setup is not None:
        desk.say_typist("   (If you know your sound's latency, type it in milliseconds.)")
    yes, no = ("Any key or Enter", "silence, or n,") if desk.typing else ("Any key", "silence")
    desk.say(f"   Keep this? {yes} is yes; {no} leaves everything as it was.")
    until = desk.now + DECIDE
    while (event := (yield until)) is not None:
        if isinstance(event, FromPort) and desk.is_key(event):
            return plan
        if not isinstance(event, Typed):
            continue
        if event.text in ("", *YES):
            return plan
        if event.text in NO:
            break
        until = desk.now + DECIDE
        if (latency := _milliseconds(event.text)) is None or desk.found.setup is None:
            desk.say("   (Enter keeps it, n doesn't; a number is the latency in milliseconds.)")
        else:
            desk.found.latency_ms = latency
            plan = writing(desk.found)
            desk.say(*_shown(plan), "   Keep it?")
    return None


def _shown(plan: Writing) -> list[str]:
    return [line for file in plan.files for line in (f"   {file.path}", *(f"     {text}" for text in file.said))]


def _milliseconds(text: str) -> float | None:
    try:
        value = float(text.removesuffix("ms").strip().replace(",", "."))
    except ValueError:
        return None
    return value if 0 <= value <= LONGEST else None
