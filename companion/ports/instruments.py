"""How the companion reaches the instrument: ``configs/instruments.toml``, read and checked.

Conventions: channels 1-16 and General MIDI programs 1-128, as musicians and keyboards count them; seconds.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, get_args

from companion.messages import Part
from companion.preferences.services import Service

if TYPE_CHECKING:
    from companion.preferences.instruments import Piano

DRUMS = 10
"""The channel of the drums (General MIDI)."""
SERVICES: tuple[Service, ...] = get_args(Service)
SetupName = Literal["piano", "module", "synth"]
"""The instrument that the player plays; another one; the computer."""


@dataclass(frozen=True)
class Synth:
    """What FluidSynth is started with."""

    soundfont: str = ""
    driver: str = ""
    gain: float = 0.4
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
    computer: bool
    """Whether the computer sounds the companion's parts, where nothing else is said."""
    listen: frozenset[int]
    """Channels that are the player's."""
    lowest_key: int
    """MIDI number of the keyboard's lowest key ..."""
    highest_key: int
    """... and of its highest."""
    pedals: tuple[int, ...]
    """Controllers that its pedals send, in order; none where they aren't known."""
    half_pedal: bool
    """Whether the damper pedal sends what lies between up and down."""
    echo_window: float
    give_up_after: float
    setups: dict[SetupName, Setup]
    synth: Synth


def read_instruments() -> Instruments:
    """How the player has it, as ``configs/instruments.toml`` says.

    Raises
    ------
    ConfigError
        A value that can't be; the message has the file and the key.
    """
    from companion.preferences import preferences
    from companion.preferences.instruments import InstrumentPreferences

    told = preferences(InstrumentPreferences)
    synth = told.synth
    setups: dict[SetupName, Piano] = {"piano": told.piano, "module": told.module, "synth": synth}
    return Instruments(
        midi=told.midi,
        input=told.input,
        output=told.output,
        computer=told.computer,
        listen=frozenset(told.listen or (channel for channel in range(1, 17) if channel != DRUMS)),
        lowest_key=told.lowest_key,
        highest_key=told.highest_key,
        pedals=tuple(sorted(set(told.pedals))),
        half_pedal=told.half_pedal,
        echo_window=told.echo_window_ms / 1000,
        give_up_after=told.give_up_after_s,
        setups={name: _setup(name, setup) for name, setup in setups.items()},
        synth=Synth(synth.soundfont, synth.driver, synth.gain, synth.period_frames, synth.periods, synth.options),
    )


def _setup(name: SetupName, told: Piano) -> Setup:
    through = getattr(told, "through", False)  # the piano hears the player itself
    return Setup(name, told.latency_ms / 1000, dict(told.channels.of), dict(told.programs.of), through)
