"""Which of the ports to use, by their names alone.

Conventions: names are as the system spells them. An *instrument* is what the same name stands for on both sides once
the parts that change are taken off: the numbers that ALSA ("Piano:Piano MIDI 1 20:0") and Windows ("Piano 1") add, and
the count that JACK puts on a client's second appearance ("piano-01:in").
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from companion.errors import DeviceError


@dataclass(frozen=True)
class Ports:
    """The ports of one MIDI service, our own left out."""

    api: str
    inputs: tuple[str, ...]
    """What can be listened to."""
    outputs: tuple[str, ...]
    """What can be played on."""


@dataclass(frozen=True)
class Choice:
    """The ports to use."""

    api: str
    input: str
    output: str | None
    """None: no port is played on."""
    same: bool
    """Both belong to one instrument: what is sent and what the player plays share its sound."""


def choose_ports(
    ports: Ports, wanted_in: str | None = None, wanted_out: str | None = None, *, play: bool = True
) -> Choice:
    """Which ports to use.

    Parameters
    ----------
    ports : Ports
        Those there are.
    wanted_in, wanted_out : str, optional
        Part of a name, in upper or lower case. By default the first input that is an instrument, and the output of the
        same instrument.
    play : bool
        Whether an output is wanted at all.

    Raises
    ------
    DeviceError
        There is none of that name; the message lists those there are.
    """
    source = _named(ports.inputs, wanted_in, "input", "--in") if wanted_in else _first(ports.inputs)
    if not play:
        return Choice(ports.api, source, None, False)
    if wanted_out:
        sink = _named(ports.outputs, wanted_out, "output", "--out")
        return Choice(ports.api, source, sink, sink in _partners(ports.outputs, source))
    partners = _partners(ports.outputs, source)
    if partners:
        return Choice(ports.api, source, partners[0], True)
    others = _real(ports.outputs)
    if len(others) == 1:
        return Choice(ports.api, source, others[0], False)
    mend = f"name one with --out, or use --sound; {_there_are(others)}"
    raise DeviceError(f"no output belongs to the input '{source}'", mend=mend)


def suits(ports: Ports, wanted_in: str | None, wanted_out: str | None) -> tuple[bool, bool]:
    """Whether a service has the ports wanted, by parts of names, and whether one of its inputs is an instrument."""
    has_both = all(not w or _fitting(n, w) for n, w in ((ports.inputs, wanted_in), (ports.outputs, wanted_out)))
    return has_both, bool(_real(ports.inputs))


def device(name: str) -> str:
    """A port's name without the numbers that change when it is plugged in again.

    >>> device("Piano:Piano MIDI 1 20:0"), device("piano-01:ears"), device("Piano 2")
    ('Piano:Piano MIDI 1', 'piano:ears', 'Piano')
    """
    name = re.sub(r"\s+\d+:\d+$", "", name.strip())
    name = re.sub(r"-\d\d(?=:)", "", name)
    return name if ":" in name else re.sub(r"\s+\d+$", "", name)


def lasting_name(port: str) -> str:
    """As much of a port's name as stays when it is plugged in again, to be found by."""
    return device(port) if device(port) in port else port


def instrument_ports(ports: Ports) -> Ports:
    """Without those that only pass messages on."""
    return Ports(ports.api, tuple(_real(ports.inputs)), tuple(_real(ports.outputs)))


def _real(names: Sequence[str]) -> list[str]:
    """Without the ports that only pass messages on."""
    return [name for name in names if not re.search(r"\bthr(ough|u)\b", name, re.IGNORECASE)]


def _first(inputs: Sequence[str]) -> str:
    if not _real(inputs):
        raise DeviceError("no MIDI instrument is connected", mend="connect it, switch it on, and see 'companion ports'")
    return _real(inputs)[0]


def _named(names: Sequence[str], wanted: str, kind: str, option: str) -> str:
    fits = _fitting(names, wanted)
    if not fits:
        mend = f"{_there_are(names)} ({option} takes part of a name)"
        raise DeviceError(f"no MIDI {kind} is called '{wanted}'", mend=mend)
    return (_real(fits) or fits)[0]


def _fitting(names: Sequence[str], wanted: str) -> list[str]:
    exact = [name for name in names if name == wanted]
    return exact or [name for name in names if wanted.casefold() in name.casefold()]


def _there_are(names: Sequence[str]) -> str:
    return f"there are: {', '.join(names)}" if names else "there is none"


def _partners(outputs: Sequence[str], source: str) -> list[str]:
    """Outputs of the instrument that an input belongs to, the likeliest first."""
    real = _real(outputs)
    keys: tuple[Callable[[str], str], ...] = (device, _without_direction, _client)
    for key in keys:
        if found := [name for name in real if key(name) and key(name) == key(source)]:
            return found
    return []


def _without_direction(name: str) -> str:
    return re.sub(r"(?<![a-z])(midi|in|out|input|output|capture|playback)(?![a-z])|[\W_]+", "", device(name).casefold())


def _client(name: str) -> str:
    """The program or card before the colon; '' for those that stand for all hardware."""
    client = device(name).partition(":")[0] if ":" in name else ""
    return "" if client.casefold() in ("system", "a2j", "midi-bridge") else client
