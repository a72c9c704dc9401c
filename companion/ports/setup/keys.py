"""Which port and channels the piano's keys come from, how far the keyboard goes, and how far each hand reaches."""

from __future__ import annotations

from contextlib import suppress

from companion.errors import DeviceError
from companion.music.pitch import pitch_in_key
from companion.ports.instruments import DRUMS
from companion.ports.setup.desk import Desk, FromPort, Skipped, Talk, Typed, channel_of, is_release, is_stroke

FIRST_WAIT = 30.0
"""Seconds to wait for the first key, twice."""
TOGETHER = 0.25
"""Seconds within which one key arrives by all the ports and channels that it is sent on."""
BY_ITSELF = 1.5
"""Seconds for a key from elsewhere, when the first note comes from a port that sent notes before anybody was asked."""
LISTEN_BEFORE = 1.0
"""Seconds before the first question, in which nobody was asked to play."""
NEXT_KEY = 20.0
"""Seconds to walk to the other end of the keyboard."""
LAST_KEY = 1.2
"""Seconds after the last key, when there was a low one and a high one."""
APART = 24
"""Semitones: the ends of any keyboard lie two octaves apart."""
USUAL = (25, 32, 37, 44, 49, 54, 61, 64, 72, 73, 76, 85, 88, 97)
"""Numbers of keys that keyboards are built with (common practice)."""
WIDEST = 19
"""Semitones, a twelfth: nobody's hand holds more."""
HELD = 0.15
"""Seconds that keys are held together, as against passing from one to the next."""
LET_GO = 0.4
"""Seconds after a chord was let go of, in which a better one may begin."""
CHORD_WAIT = 12.0
"""Seconds to wait for a hand."""
SPANS = {
    5: "a fourth", 6: "a tritone", 7: "a fifth", 8: "a minor sixth", 9: "a major sixth", 10: "a minor seventh",
    11: "a major seventh", 12: "an octave", 13: "a minor ninth", 14: "a ninth", 15: "a minor tenth", 16: "a tenth",
    17: "an eleventh", 18: "an augmented eleventh", 19: "a twelfth",
}  # fmt: skip
"""Intervals by their semitones, as far as a hand goes."""
NARROWEST = min(SPANS)


def find_keyboard(desk: Desk) -> Talk[None]:
    """Press a key: which port it comes from, and on which channels.

    Clock, active sensing and whatever else isn't a key says nothing. A port that sends notes by itself comes second.

    Raises
    ------
    DeviceError
        No key was heard.
    """
    desk.step = "key"
    noisy: set[str] = set()
    until = desk.now + LISTEN_BEFORE
    while (event := (yield until)) is not None:
        noisy |= {event.port} if isinstance(event, FromPort) and is_stroke(event.message) else set()
    desk.say("1  Press any key at the piano.")
    first = yield from _first_key(desk)
    if first is None:
        _without_a_key(desk)
        return
    if first.port in noisy:
        first = (yield from _from_elsewhere(desk, noisy)) or first
    came = [first]
    until = desk.now + TOGETHER
    while (event := (yield until)) is not None:
        if isinstance(event, FromPort) and is_stroke(event.message) and event.message[1] == first.message[1]:
            came.append(event)
    desk.found.first_channel = channel_of(first.message)
    ports = list(dict.fromkeys(one.port for one in came))
    port = next((one for one in ports if desk.partner(one)), ports[0])
    desk.found.input = port
    desk.found.channels = {channel_of(one.message) for one in came if one.port == port}
    desk.say(f"   {port}, {channels_text(desk.found.channels)}")
    desk.say(*(f"   {other} sends the same, and is left out" for other in ports if other != port))


def _without_a_key(desk: Desk) -> None:
    """Enter instead of a key: the first port there is, which is what is taken without a set-up as well."""
    desk.found.input = desk.ports.inputs[0]
    desk.say(f"   skipped: {desk.found.input} is taken, the first there is")


def _first_key(desk: Desk) -> Talk[FromPort | None]:
    for last in (False, True):
        until = desk.now + FIRST_WAIT
        while (event := (yield until)) is not None:
            if isinstance(event, FromPort) and is_stroke(event.message):
                return event
            if isinstance(event, Typed):
                return None
        if not last:
            names = ", ".join(desk.ports.inputs)
            desk.say(f"   Nothing heard yet from: {names}.", "   Is the piano on, and its cable in? Press a key.")
    raise DeviceError("no key was heard, and nothing is changed", mend="see 'companion ports', and start again")


def _from_elsewhere(desk: Desk, noisy: set[str]) -> Talk[FromPort | None]:
    until = desk.now + BY_ITSELF
    while (event := (yield until)) is not None:
        if isinstance(event, FromPort) and is_stroke(event.message) and event.port not in noisy:
            return event
    return None


def find_range(desk: Desk) -> Talk[None]:
    """The lowest and the highest key; a number of keys that nobody builds is asked for once more."""
    desk.step = "range"
    desk.say("2  Play the lowest key, then the highest.")
    keys = yield from _ends(desk)
    if keys and _count(keys) not in USUAL:
        desk.say(f"   {range_text(keys)}: an unusual number. Once more, or Enter if it is right.")
        with suppress(Skipped):
            keys = (yield from _ends(desk)) or keys
    if keys is None:
        desk.say("   not heard: it stays as it was")
        return
    desk.found.keys = keys
    desk.say(f"   {range_text(keys)}")
    if len(desk.found.channels) > 1:
        desk.say(f"   the keys come on {channels_text(desk.found.channels)}")


def _ends(desk: Desk) -> Talk[tuple[int, int] | None]:
    keys: set[int] = set()
    until = desk.now + NEXT_KEY
    while (event := (yield until)) is not None:
        desk.check_skip(event)
        if isinstance(event, FromPort) and desk.is_key(event):
            keys.add(event.message[1])
            desk.found.channels.add(channel_of(event.message))
            until = desk.now + (LAST_KEY if max(keys) - min(keys) >= APART else NEXT_KEY)
    return (min(keys), max(keys)) if keys and max(keys) - min(keys) >= APART else None


def find_span(desk: Desk, hand: str) -> Talk[None]:
    """The widest chord that one hand holds: keys that are down together, and not only in passing."""
    desk.step = "left hand" if hand == "left" else "right hand"
    desk.say(f"   {hand.capitalize()} hand: the widest chord it holds, all at once.")
    down: set[int] = set()
    widest, complete = 0, desk.now  # by the messages' own stamps: whoever drives may be late
    until = desk.now + CHORD_WAIT
    while (event := (yield until)) is not None:
        desk.check_skip(event)
        if not isinstance(event, FromPort) or event.port != desk.found.input:
            continue
        if desk.is_key(event):
            down.add(event.message[1])
            complete, until = event.seconds, desk.now + CHORD_WAIT
        elif is_release(event.message):
            widest = max(widest, _held(down) if event.seconds >= complete + HELD else 0)
            down.discard(event.message[1])
            if not down and widest >= NARROWEST:
                until = desk.now + LET_GO
    widest = max(widest, _held(down))
    if NARROWEST <= widest <= WIDEST:
        desk.found.hands[hand] = widest
        desk.say(f"   {SPANS[widest]} ({widest} semitones)")
    elif widest > WIDEST:
        desk.say(f"   {widest} semitones are more than one hand holds: it stays as it was")
    else:
        desk.say("   no chord heard: it stays as it was")


def _held(down: set[int]) -> int:
    return max(down) - min(down) if down else 0


def range_text(keys: tuple[int, int]) -> str:
    """A keyboard in words.

    >>> range_text((21, 108))
    '88 keys, A0 to C8'
    """
    return f"{_count(keys)} keys, {pitch_in_key(keys[0])} to {pitch_in_key(keys[1])}"


def _count(keys: tuple[int, int]) -> int:
    return keys[1] - keys[0] + 1


def channels_text(channels: set[int]) -> str:
    """Channels in words.

    >>> channels_text({3}), channels_text({2, 1})
    ('channel 3', 'channels 1 and 2')
    """
    *most, last = (str(channel) for channel in sorted(channels))
    text = f"channels {', '.join(most)} and {last}" if most else f"channel {last}"
    return f"{text} (the drums')" if channels == {DRUMS} else text
