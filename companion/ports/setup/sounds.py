"""What sounds, and on which channels: quiet notes, and the player says which were heard.

Each try is quiet; what isn't heard comes once more, a little louder, before it counts as silent. On the way it shows
whether the instrument sends back what it gets (:mod:`companion.ports.echo`), and how long that takes. Nothing else
about latency can be known from here, so nothing else is said of it.
"""

from __future__ import annotations

from companion.messages import PARTS
from companion.ports.instruments import DRUMS
from companion.ports.setup.desk import NOTE_OFF, NOTE_ON, PROGRAM, Desk, Skipped, Talk
from companion.ports.sound import NAME as COMPUTER

QUIET, LOUDER = 30, 54
"""Velocities: piano, and mezzo-piano."""
CHORD, LOW, CLICKS = (60, 64, 67), (40, 45, 43), (76, 77, 75)
"""Middle C and up; a bass's range; wood blocks (General MIDI percussion)."""
NOTE = 0.3
"""Seconds a note."""
ANSWER = 3.5
"""Seconds for an answer."""
REST = 0.5
"""Seconds without a key before something is tried."""
SOON = 0.9
"""Seconds for an answer where one channel is tried after the other."""
ACOUSTIC_BASS, GRAND = 33, 1
"""General MIDI programs, counted from 1."""
ENOUGH = 2
"""Notes that have come back from an instrument that returns them."""


def find_sound(desk: Desk) -> Talk[None]:
    """Which output and channel is heard, the likeliest first."""
    if not desk.outputs:
        desk.say("4  There is no output to play on: the companion can only listen.")
        return
    desk.say("4  Set the volume low, on headphones above all, and take your hands off the keys.")
    desk.say("   It plays quiet notes. When you hear them press any key; silence is no.")
    for port in desk.outputs:
        if not (yield from desk.open(port)):
            continue
        desk.say(f"   {port} ...")
        if (channel := (yield from _heard_channel(desk))) is not None:
            _takes(desk, port, channel)
            return
    desk.say("   Nothing was heard. Turn it up, or try another cable or output, and set it up again.")


def _takes(desk: Desk, port: str, channel: int) -> None:
    found = desk.found
    found.output = port
    own = desk.partner(found.input) if found.input else None
    found.setup = "synth" if port == COMPUTER else "piano" if port == own else "module"
    found.parts = {part: channel for part in PARTS if part != "click"} | {"click": DRUMS}
    desk.say(f"   heard, on channel {channel}")
    if found.setup == "synth":
        desk.say("   The companion plays here from then on; --no-sound leaves that out")
    if found.setup == "piano" and found.identity:
        desk.say(f"   it answers as {found.identity}")
    figures = desk.echo.returns.figures()
    if figures["count"] >= ENOUGH:
        desk.say("   it sends back what it gets, which is told from your playing")


def _heard_channel(desk: Desk) -> Talk[int | None]:
    """The player's own channel or channel 1, else whichever of the others is heard."""
    desk.step = "sound"
    likely = dict.fromkeys((desk.found.first_channel, 1))
    for channel in likely:
        if (yield from _is_heard(desk, channel, CHORD)):
            return channel
    if desk.output != desk.outputs[0] or desk.output == COMPUTER:
        return None  # with many outputs it would take too long, and the first is by far the likeliest
    return (yield from _sweep(desk, {*likely, DRUMS}))


def _is_heard(
    desk: Desk, channel: int, notes: tuple[int, ...], velocities: tuple[int, ...] = (QUIET, LOUDER)
) -> Talk[bool]:
    for velocity in velocities:
        yield from desk.quiet(REST, 4.0)
        if (yield from _play(desk, channel, notes, velocity)) or (yield from desk.answer(ANSWER)):
            return True
    return False


def _play(desk: Desk, channel: int, notes: tuple[int, ...], velocity: int) -> Talk[bool]:
    """Whether the player has answered by the end of the last note."""
    answered = False
    for n, note in enumerate(notes):
        desk.send(NOTE_ON, channel, note, velocity)
        try:
            struck = yield from desk.pause(NOTE)
            answered |= struck and (n > 0 or len(notes) == 1)  # sooner nobody answers what they hear
        finally:
            desk.send(NOTE_OFF, channel, note, 64)
    return answered


def _sweep(desk: Desk, tried: set[int]) -> Talk[int | None]:
    """One channel after the other; the one that seemed to be heard, or the one before, is played once more."""
    desk.step = "other channels"
    desk.say("   Not on this channel. Now the others, one by one: press a key when you hear one.")
    others = [channel for channel in range(1, 17) if channel not in tried]
    for n, channel in enumerate(others):
        if (yield from _play(desk, channel, CHORD[:1], LOUDER)) or (yield from desk.answer(SOON)):
            for likely in (channel, *others[max(0, n - 1) : n]):
                desk.say(f"   Channel {likely} once more: heard?")
                if (yield from _is_heard(desk, likely, CHORD, (LOUDER,))):
                    return likely
    return None


def find_channels(desk: Desk) -> Talk[None]:
    """Whether the bass can have a channel and a sound of its own, and whether the click is heard as one."""
    found = desk.found
    if found.output is None or found.setup == "synth":  # the computer's are as they were written
        return
    try:
        yield from _bass(desk)
    except Skipped:
        desk.say("   skipped")
    desk.step = "clicks"
    desk.say("   Clicks on the drum channel. Heard?")
    if not (yield from _is_heard(desk, DRUMS, CLICKS)):
        found.parts["click"] = found.parts["melody"]
        desk.say(f"   no: the click will be high notes on channel {found.parts['click']}")


def _bass(desk: Desk) -> Talk[None]:
    found = desk.found
    main = found.parts["melody"]
    taken = {*found.channels, main, DRUMS}
    free = next(channel for channel in range(1, 17) if channel not in taken)
    desk.step = "bass"
    desk.say(f"   Low notes on channel {free}, so that your pedal won't hold the bass. Heard?")
    if not (yield from _is_heard(desk, free, LOW)):
        desk.say(f"   no: the bass shares channel {main}")
        return
    found.parts["bass"] = free
    desk.step = "bass sound"
    desk.say("   The same as a plucked bass. Did the sound change to one?")
    desk.send(PROGRAM, free, ACOUSTIC_BASS - 1)
    kept = False
    try:
        if not (yield from _is_heard(desk, free, LOW, (LOUDER,))):
            desk.say("   no: the bass has the piano's sound")
            return
        desk.step = "own sound"
        desk.say("   And your own: is this still your piano's sound?")
        kept = yield from _is_heard(desk, main, CHORD)
        if kept:
            found.programs["bass"], desk.owes_program = ACOUSTIC_BASS, free
        else:
            desk.say("   no: the bass has your sound; choose yours at the piano again")
    finally:
        if not kept:
            desk.send(PROGRAM, free, GRAND - 1)
