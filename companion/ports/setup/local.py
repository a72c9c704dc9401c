"""Local control: whether the piano's keys sound the piano by themselves (controller 122, MIDI 1.0).

What it was can't be asked for. What is turned off here is turned on again unless it is kept; what is turned on stays
so, because nobody is helped by keys that are silent.
"""

from __future__ import annotations

from companion.ports.setup.desk import NO, YES, Desk, FromPort, Talk, Typed

DECIDE = 4.0
"""Seconds for an answer."""
KEEP = 6.0
"""Seconds in which silence must be confirmed, before the keys sound again."""


def offer_local(desk: Desk) -> Talk[None]:
    """Offer to join or part keys and sound; only where the piano can be reached."""
    found = desk.found
    piano = desk.partner(found.input) if found.input else None
    if piano is None or found.output is None or not found.channels:
        return
    desk.step = "local"
    desk.say("5  Local control joins your keys to the piano's own sound.")
    if found.setup == "piano":
        yield from _joined(desk)
    else:
        yield from _parted(desk, piano)


def _joined(desk: Desk) -> Talk[None]:
    """The companion sounds on the piano as well, so the player's keys had better."""
    desk.say("   It should be on here. If your keys are silent, press one: it is turned on.")
    desk.say("   If they sound, just wait.")
    desk.say_typist("   (Type off to part them: the keys then only send MIDI.)")
    word = yield from _decided(desk)
    if word == "on":
        desk.switch_local(True)
        desk.say("   turned on")
    elif word == "off":
        desk.switch_local(False)
        yield from _confirmed(desk)
    else:
        desk.say("   left as it is")


def _parted(desk: Desk, piano: str) -> Talk[None]:
    """The companion sounds elsewhere: there the player may want to sound as well, and there alone."""
    output = desk.found.output
    assert output is not None
    desk.say(f"   Off, your keys sound only by {output}, through the companion.")
    desk.say("   Any key turns it off, to try; silence leaves it.")
    if (yield from _decided(desk)) not in ("on", "off"):
        desk.say("   left as it is")
        return
    if not (yield from desk.open(piano)):
        return
    desk.switch_local(False)
    if (yield from _confirmed(desk)):
        desk.found.through = True


def _confirmed(desk: Desk) -> Talk[bool]:
    """Whether the player wants it off, now that they know what it's like; else it is on again."""
    desk.step = "keep local"
    desk.owes_local = True
    desk.say("   It is off. Press a key to keep it so; silence turns it on again.")
    yield from desk.pause(0.5)
    if (yield from desk.answer(KEEP)):
        desk.say("   off, until the piano is switched off: many forget it then")
        return True
    desk.switch_local(True)
    desk.owes_local = False
    desk.say("   on again")
    return False


def _decided(desk: Desk) -> Talk[str]:
    """'on' by any key; or what was typed; '' after silence."""
    until = desk.now + DECIDE
    while (event := (yield until)) is not None:
        if isinstance(event, Typed):
            return "on" if event.text in YES else "" if event.text in NO else event.text
        if isinstance(event, FromPort) and desk.is_key(event):
            return "on"
    return ""
