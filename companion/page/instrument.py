"""How the companion reaches the instrument, and what its keys and pedals tell, as far as a page sees and sets it.

Conventions: milliseconds; channels and controllers as instruments count them; MIDI numbers of keys.
"""

from __future__ import annotations

from typing import Any

import msgspec

from companion.errors import DeviceError, InputError, UseError
from companion.messages import WISHES, WishName
from companion.page.takes import Nothing
from companion.ports.choice import choose_ports, lasting_name
from companion.ports.instruments import Instruments, SetupName, read_instruments
from companion.ports.midi import find_ports
from companion.ports.setup.keys import range_text
from companion.ports.setup.pedals import PEDALS
from companion.ports.setup.review import LONGEST
from companion.preferences import preferences
from companion.preferences.instruments import InstrumentPreferences
from companion.preferences.own_file import changed_file, own_path
from companion.preferences.reading import forget
from companion.preferences.signals import SignalPreferences, TaughtPress
from companion.stage.signal_keys import controller_name, keyboard_range, press_name, wish_text
from companion.stage.teaching import keep_taught, told_already

HEADER = "# What was set on the page. All else is as in the companion's own file.\n"


class PianoAsked(msgspec.Struct, frozen=True):
    """What is to hold from now on; whatever is None stays as it is."""

    input: str | None = None
    output: str | None = None
    computer: bool | None = None
    """Whether the computer sounds the companion, and no output."""
    latency_ms: float | None = None
    """Of the setup that is in use."""
    keyboard: tuple[int, int] | None = None
    """Lowest and highest key."""
    pedals: tuple[int, ...] | None = None
    half_pedal: bool | None = None
    channel: int | None = None
    """One that is listened to as well."""


class TeachAsked(msgspec.Struct, frozen=True):
    """What is to tell a wish from now on; None: nothing of the player's own."""

    wish: WishName
    key: int | None = None
    controller: int | None = None
    program: int | None = None


def status(asked: Nothing) -> dict[str, Any]:
    """The ports, what is set, and what the keys and pedals tell; ready for JSON."""
    forget()  # it may have been set up at a terminal meanwhile
    told = read_instruments()
    setup: SetupName = "synth" if told.computer else "piano"
    found: dict[str, Any] = {"inputs": [], "outputs": [], "input": None, "output": None, "fault": ""}
    try:
        ports = find_ports(told.midi, told.input, None if told.computer else told.output)
        found |= {"inputs": list(ports.inputs), "outputs": list(ports.outputs)}
        try:
            choice = choose_ports(ports, told.input, told.output, play=not told.computer)
            found |= {"input": choice.input, "output": choice.output}
            setup = "synth" if told.computer else "piano" if choice.same else "module"
        except DeviceError as error:
            found["fault"] = str(error)
    except (DeviceError, UseError) as error:
        found["fault"] = str(error)
    return {
        **found,
        "wanted": {"input": told.input, "output": told.output},
        "computer": told.computer,
        "no_computer": _no_computer(told),
        "setup": setup,
        "latency_ms": round(1000 * told.setups[setup].latency, 1),
        "longest_ms": LONGEST,
        "keyboard": range_text(keyboard_range()),
        "pedals": [PEDALS.get(pedal, controller_name(pedal)) for pedal in told.pedals],
        "half_pedal": told.half_pedal,
        "wishes": _wishes(),
        "signals": _signals(),
    }


def _no_computer(told: Instruments) -> str:
    """Why the computer can't sound anything; '' where it can."""
    from companion.ports.sound import find_program, find_soundfont

    try:
        find_program()
        find_soundfont(told.synth.soundfont)
    except DeviceError as error:
        return str(error)
    return ""


def _wishes() -> list[dict[str, Any]]:
    """What can be told, and by what of the player's own, if that was taught."""
    taught, keyboard = preferences(SignalPreferences).taught.of, keyboard_range()
    return [
        {
            "wish": wish,
            "words": wish_text(wish),
            "press": press_name(taught[wish], keyboard) if wish in taught else "",
            "is_key": wish in taught and taught[wish].key is not None,
        }
        for wish in WISHES
    ]


def _signals() -> list[dict[str, str]]:
    """What tells the companion something though nobody taught it."""
    told, found = preferences(SignalPreferences), []
    if told.end_keys.on:
        white = ", ".join(map(wish_text, told.end_keys.white))
        found.append(
            {"press": "the white keys at either end, inwards, as far as a tune leaves them free", "wish": white}
        )
    if told.last_time.pedal:
        found.append({"press": f"{controller_name(told.last_time.pedal)}, held over a bar line", "wish": "last time"})
    return found


def set_piano(asked: PianoAsked) -> dict[str, Any]:
    """Keep what was set in the player's own file; what stood there is kept beside it.

    Raises
    ------
    InputError
        There is no such port, no such latency, or the file can't be written.
    ConfigError
        The keyboard can't be, or the file can't be changed.
    """
    values = {**_ports_asked(asked), **_keys_asked(asked)}
    if asked.computer is not None:
        if asked.computer and (why := _no_computer(read_instruments())):
            raise InputError(f"the computer has no sound: {why}")
        values["computer"] = asked.computer
    if asked.latency_ms is not None:
        if not 0 <= asked.latency_ms <= LONGEST:
            raise InputError("that is no latency", mend=f"give milliseconds from 0 to {LONGEST:g}")
        setup = "synth" if asked.computer else status(Nothing())["setup"]
        values[setup] = {"latency-ms": _plain(asked.latency_ms)}
    file = changed_file(InstrumentPreferences, values, header=HEADER) if values else None
    return {"said": file.write() if file else "nothing has changed"}


def _ports_asked(asked: PianoAsked) -> dict[str, Any]:
    values: dict[str, Any] = {}
    ports = find_ports(read_instruments().midi) if asked.input or asked.output else None
    for key, wanted, there in (
        ("in", asked.input, ports.inputs if ports else ()),
        ("out", asked.output, ports.outputs if ports else ()),
    ):
        if wanted is None:
            continue
        if wanted and wanted not in there:
            raise InputError(f"there is no port '{wanted}' any more", mend="choose one that is there")
        values[key] = lasting_name(wanted)
    return values


def _keys_asked(asked: PianoAsked) -> dict[str, Any]:
    values: dict[str, Any] = {}
    if asked.keyboard is not None:
        values |= {"lowest-key": asked.keyboard[0], "highest-key": asked.keyboard[1]}
    if asked.pedals is not None:
        values["pedals"] = sorted(set(asked.pedals))
    if asked.half_pedal is not None:
        values["half-pedal"] = asked.half_pedal
    if asked.channel is not None:
        values["listen"] = sorted(read_instruments().listen | {asked.channel})
    return values


def teach(asked: TeachAsked) -> dict[str, Any]:
    """Keep what tells a wish in the player's own file.

    Raises
    ------
    InputError
        It tells something else already, or the file can't be written.
    ConfigError
        It is for playing, or the file can't be changed.
    """
    if asked.key is None and asked.controller is None and asked.program is None:
        keep_taught({asked.wish: None})
        return {"said": f"{wish_text(asked.wish)}: nothing of your own tells it any more"}
    try:
        press = TaughtPress(asked.key, asked.controller, asked.program)
    except ValueError as error:
        raise InputError(str(error), mend="press another") from None
    others = {wish: its for wish, its in preferences(SignalPreferences).taught.of.items() if wish != asked.wish}
    if taken := told_already(press, others):
        raise InputError(f"{press_name(press)} tells '{wish_text(taken)}' already", mend="press another")
    keep_taught({asked.wish: press})
    return {"said": f"{press_name(press, keyboard_range())} tells it: {wish_text(asked.wish)}. "
            f"Kept in {own_path(SignalPreferences).name}"}  # fmt: skip


def _plain(value: float) -> float | int:
    return int(value) if value == int(value) else value
