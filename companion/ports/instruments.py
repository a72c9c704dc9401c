"""How the companion reaches the instrument: ``configs/instruments.toml``, read and checked.

Conventions: channels 1-16 and General MIDI programs 1-128, as musicians and keyboards count them; seconds.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal, get_args

from companion.errors import ConfigError, right_name
from companion.messages import PARTS, Part
from companion.resources import config_path, read_config

NAME = "instruments"
Service = Literal["auto", "alsa", "jack", "core", "windows"]
"""The systems' MIDI services; 'auto': whichever there is."""
SERVICES: tuple[Service, ...] = get_args(Service)
SetupName = Literal["piano", "module", "synth"]
"""The instrument that the player plays; another one; the computer."""
SETUPS: tuple[SetupName, ...] = get_args(SetupName)


@dataclass(frozen=True)
class Synth:
    """What FluidSynth is started with."""

    soundfont: str = ""
    driver: str = ""
    gain: float = 0.6
    period_frames: int = 64
    periods: int = 3
    options: tuple[str, ...] = ()


@dataclass(frozen=True)
class Setup:
    """One way of sounding the companion's parts."""

    name: SetupName
    latency: float
    """Seconds from the message to the sound."""
    channels: dict[Part, int]
    """By part."""
    programs: dict[Part, int] = field(default_factory=dict)
    """By part; a part that isn't in it keeps the sound that the instrument has."""
    through: bool = False
    """Whether what the player plays is sounded there too."""


@dataclass(frozen=True)
class Instruments:
    """Everything in the file."""

    midi: Service
    input: str
    output: str
    listen: frozenset[int]
    """Channels that are the player's."""
    echo_window: float
    give_up_after: float
    setups: dict[SetupName, Setup]
    synth: Synth


def read_instruments() -> Instruments:
    """Read the player's own file, or the shipped one.

    Raises
    ------
    ConfigError
        A value that can't be; the message has the file and the key.
    """
    table = read_config(NAME)
    try:
        return Instruments(
            midi=_service(table),
            input=_text(table, "in", ""),
            output=_text(table, "out", ""),
            listen=frozenset(_channels(table)),
            echo_window=_number(table, "echo-window-ms", 120, 0, 1000) / 1000,
            give_up_after=_number(table, "give-up-after-s", 60, 0, 86400),
            setups={name: _setup(table, name) for name in SETUPS},
            synth=_synth(table),
        )
    except ConfigError as error:
        raise error.within(file=str(config_path(NAME))) from None


def _service(table: dict[str, Any]) -> Service:
    said = _text(table, "midi", "auto")
    if said not in SERVICES:
        raise ConfigError(f"there is no MIDI service {said!r}", where="midi", mend=right_name(said, SERVICES))
    return said


def _setup(table: dict[str, Any], name: SetupName) -> Setup:
    section = _table(table, name)
    try:
        channels = {part: _whole(_table(section, "channels"), part, 1, 16) for part in PARTS}
        told = _table(section, "programs")
        programs = {part: _whole(told, part, 1, 128) for part in PARTS if part in told}
        if unknown := set(told) - set(PARTS):
            raise ConfigError(f"'{min(unknown)}' is not a part", where="programs", mend=f"there are {', '.join(PARTS)}")
        latency = _number(section, "latency-ms", 10, 0, 1000) / 1000
        return Setup(name, latency, channels, programs, _yes(section, "through"))
    except ConfigError as error:
        raise error.within(where=f"[{name}]") from None


def _synth(table: dict[str, Any]) -> Synth:
    section = _table(table, "synth")
    try:
        options = section.get("options", [])
        if not isinstance(options, list) or not all(isinstance(o, str) and "=" in o for o in options):
            raise ConfigError("'options' is not a list of texts like 'name=value'")
        return Synth(
            _text(section, "soundfont", ""),
            _text(section, "driver", ""),
            _number(section, "gain", 0.6, 0, 10),
            _whole({"period-frames": 64, **section}, "period-frames", 16, 8192),
            _whole({"periods": 3, **section}, "periods", 2, 64),
            tuple(options),
        )
    except ConfigError as error:
        raise error.within(where="[synth]") from None


def _table(table: dict[str, Any], key: str) -> dict[str, Any]:
    value = table.get(key, {})
    if not isinstance(value, dict):
        raise ConfigError(f"'{key}' is not a table", mend=f"write [{key}] on a line of its own")
    return value


def _text(table: dict[str, Any], key: str, default: str) -> str:
    value = table.get(key, default)
    if not isinstance(value, str):
        raise ConfigError(f"'{key}' is not a text", mend="put it in quotation marks")
    return value


def _yes(table: dict[str, Any], key: str) -> bool:
    value = table.get(key, False)
    if not isinstance(value, bool):
        raise ConfigError(f"'{key}' is neither true nor false")
    return value


def _number(table: dict[str, Any], key: str, default: float, lowest: float, highest: float) -> float:
    value = table.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int | float) or not lowest <= value <= highest:
        raise ConfigError(f"'{key}' is not a number from {lowest:g} to {highest:g}")
    return float(value)


def _whole(table: dict[str, Any], key: str, lowest: int, highest: int) -> int:
    value = table.get(key)
    if isinstance(value, bool) or not isinstance(value, int) or not lowest <= value <= highest:
        raise ConfigError(f"'{key}' is not a whole number from {lowest} to {highest}")
    return value


def _channels(table: dict[str, Any]) -> list[int]:
    channels = table.get("listen", [])
    if not isinstance(channels, list) or not all(type(c) is int and 1 <= c <= 16 for c in channels):
        raise ConfigError("'listen' is not a list of channels from 1 to 16")
    return channels or [c for c in range(1, 17) if c != 10]
