"""How the companion reaches the instrument, as far as it can be seen and set from a page.

Conventions: milliseconds; channels and controllers as instruments count them; MIDI numbers of keys.
"""

from __future__ import annotations

import shutil
from typing import Any

import msgspec

from companion.errors import DeviceError, InputError, UseError
from companion.page.takes import Nothing
from companion.ports.instruments import SetupName, read_instruments
from companion.ports.midi import choose_ports, find_ports
from companion.preferences import preferences
from companion.preferences.instruments import InstrumentPreferences
from companion.preferences.own_file import changed_file
from companion.preferences.signals import SignalPreferences
from companion.stage.signal_keys import controller_name, key_name, keyboard_range, press_name, wish_text

LATEST = 200.0
"""Milliseconds of the longest latency that can be set."""
HEADER = "# What was set on the page. All else is as in the companion's own file.\n"


class PianoAsked(msgspec.Struct, frozen=True):
    """What is to hold from now on; whatever is None stays as it is."""

    input: str | None = None
    output: str | None = None
    latency_ms: float | None = None
    """Of the setup that is in use."""


def status(asked: Nothing) -> dict[str, Any]:
    """The ports, what is set, and what the keys and pedals tell; ready for JSON."""
    told = read_instruments()
    found: dict[str, Any] = {"inputs": [], "outputs": [], "input": None, "output": None, "fault": ""}
    try:
        ports = find_ports(told.midi, told.input, told.output)
        found |= {"inputs": list(ports.inputs), "outputs": list(ports.outputs)}
        try:
            choice = choose_ports(ports, told.input, told.output)
            found |= {"input": choice.input, "output": choice.output}
        except DeviceError as error:
            found["fault"] = str(error)
    except (DeviceError, UseError) as error:
        found["fault"] = str(error)
    setup = _setup(found["output"], found["input"])
    return {
        **found,
        "wanted": {"input": told.input, "output": told.output},
        "setup": setup,
        "latency_ms": round(1000 * told.setups[setup].latency, 1),
        "synth": shutil.which("fluidsynth") is not None,
        "keyboard": " to ".join(key_name(key) for key in keyboard_range()),
        "pedals": [controller_name(pedal) for pedal in told.pedals],
        "signals": _signals(),
    }


def _setup(output: str | None, listening: str | None) -> SetupName:
    from companion.ports.midi import device

    if output is None:
        return "synth"
    return "piano" if listening is None or device(output) == device(listening) else "module"


def _signals() -> list[dict[str, str]]:
    """What tells the companion something while one plays."""
    told, keyboard = preferences(SignalPreferences), keyboard_range()
    found = [{"press": press_name(press, keyboard), "wish": wish_text(wish)} for wish, press in told.taught.of.items()]
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
    """
    told = read_instruments()
    values: dict[str, Any] = {}
    ports = find_ports(told.midi) if asked.input or asked.output else None
    for key, wanted, there in (
        ("in", asked.input, ports.inputs if ports else ()),
        ("out", asked.output, ports.outputs if ports else ()),
    ):
        if wanted is None:
            continue
        if wanted and wanted not in there:
            raise InputError(f"there is no port '{wanted}' any more", mend="load the page again")
        values[key] = wanted
    if asked.latency_ms is not None:
        if not 0 <= asked.latency_ms <= LATEST:
            raise InputError("that is no latency", mend=f"give milliseconds from 0 to {LATEST:g}")
        now = status(Nothing())
        values[now["setup"]] = {"latency-ms": _plain(asked.latency_ms)}
    file = changed_file(InstrumentPreferences, values, header=HEADER) if values else None
    return {"said": file.write() if file else "nothing has changed"}


def _plain(value: float) -> float | int:
    return int(value) if value == int(value) else value
