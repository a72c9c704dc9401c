"""From what was found to the player's own files: ``instruments.toml``, and the hand's span in ``voicings.toml``."""

from __future__ import annotations

from math import ceil
from typing import Any

from companion.messages import Part
from companion.ports.choice import lasting_name
from companion.ports.instruments import Instruments
from companion.ports.setup.desk import Findings
from companion.ports.setup.review import Writing
from companion.preferences.instruments import InstrumentPreferences
from companion.preferences.own_file import OwnFile, changed_file
from companion.preferences.voicings import VoicingPreferences

THE_REST = "All else is as in the companion's own file."
NEARLY = 0.8
"""Share of the echo window from which a copy is nearly too late to be told ..."""
ROOM = 1.5
"""... and how much longer than the latest copy the window becomes then."""


def writing_of(found: Findings, instruments: Instruments, today: str) -> Writing:
    """What would be written of some findings.

    Parameters
    ----------
    found : Findings
    instruments : Instruments
        What holds now.
    today : str
        The date, for the head of a new file.
    """
    latency, why = _latency(found, instruments)
    name = f'"{found.input}"' if found.channels else "your instrument"
    header = f"# {name} as `companion setup` found it on {today}. {THE_REST}\n"
    if found.identity:
        header += f"# It answers as {found.identity}.\n"
    values = _instrument_values(found, instruments, latency)
    always = frozenset({"in", "listen", "lowest-key", "highest-key", "pedals", "half-pedal"})
    files = [changed_file(InstrumentPreferences, values, header=header, always=always), _hand(found, today)]
    return Writing(tuple(file for file in files if file), why)


def _instrument_values(found: Findings, instruments: Instruments, latency: float | None) -> dict[str, Any]:
    values: dict[str, Any] = {}
    if found.input and found.channels:
        values |= {"in": lasting_name(found.input), "listen": sorted(found.channels)}
    if found.output and found.setup != "synth":
        values["out"] = "" if found.setup == "piano" else lasting_name(found.output)
    if found.keys:
        values |= {"lowest-key": found.keys[0], "highest-key": found.keys[1]}
    if found.pedals is not None:
        values |= {"pedals": list(found.pedals), "half-pedal": found.half_pedal}
    if found.latest_copy_ms is not None and found.latest_copy_ms > NEARLY * 1000 * instruments.echo_window:
        values["echo-window-ms"] = min(1000, 10 * ceil(ROOM * found.latest_copy_ms / 10))
    if found.setup is not None:
        values["computer"] = found.setup == "synth"
        values[found.setup] = _setup_values(found, latency)
    return values


def _setup_values(found: Findings, latency: float | None) -> dict[str, Any]:
    values: dict[str, Any] = {}
    if latency is not None:
        values["latency-ms"] = int(latency) if latency == int(latency) else latency
    if found.through is not None and found.setup != "piano":
        values["through"] = found.through
    if found.setup != "synth":
        parts: dict[Part, int] = found.parts
        values["channels"] = dict(parts)
        values["programs"] = dict(found.programs)
    return values


def _latency(found: Findings, instruments: Instruments) -> tuple[float | None, str]:
    """What the latency becomes, None: what it is; and what is known of it, in words.

    The way there and back is measured where copies come back. Half of it is the least that the way there can be taken
    for; what the sound itself takes isn't seen from here.
    """
    if found.setup is None:
        return None, "What was found:"
    stands = 1000 * instruments.setups[found.setup].latency
    if found.latency_ms is not None:
        return found.latency_ms, f"Latency: {found.latency_ms:g} ms, as you say."
    if found.there_and_back_ms is None:
        return None, f"Latency: nothing comes back to measure it by; it stays at {stands:g} ms."
    half = round(found.there_and_back_ms / 2)
    measured = f"Latency: MIDI takes {found.there_and_back_ms:.1f} ms there and back"
    if half > stands:
        return half, f"{measured}; half of it is the least it can be: {half} ms."
    return None, f"{measured}, the sound itself isn't seen; it stays at {stands:g} ms."


def _hand(found: Findings, today: str) -> OwnFile | None:
    if not found.hands:
        return None
    hands = ", ".join(f"{hand} {span}" for hand, span in found.hands.items())
    note = f"semitones: {hands}" + ("; the narrower counts" if len(found.hands) > 1 else "")
    return changed_file(
        VoicingPreferences,
        {"hand": {"span": min(found.hands.values())}},
        header=f"# Your hands as `companion setup` found them on {today}. {THE_REST}\n",
        notes={"hand": {"span": note}},
    )
