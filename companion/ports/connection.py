"""Whether the connection between a port of ours and an instrument's still stands.

A cable that was out for a moment, or a program that was started again, leaves the ports' names as they were, and only
the connection is gone: nothing is heard and nothing sounds any more, while everything looks well. RtMidi doesn't tell
of it. JACK does (:mod:`companion.ports.jack`), and ALSA's sequencer, in a file; elsewhere a connection is taken to
stand as long as the port is there.

Conventions: ports by the service's own names, which are "client:port" for JACK and numbers, "20:0", for ALSA.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Literal

from companion.ports import jack

PortChange = Literal["lost", "again", "back", "gone"]
"""What has become of a port: it went away; it was away so shortly that only its connection was gone, and that is made
again; it is back; it did not come back in time."""

ALSA_CLIENTS = Path("/proc/asound/seq/clients")
"""Where Linux lists the sequencer's clients, their ports and the connections (kernel, sound/core/seq)."""


class Connection:
    """The connection of a port that is about to be opened.

    Parameters
    ----------
    api, name : str
        The instrument's port, as in :class:`companion.ports.choice.Ports`.
    listening : bool
        Whether we listen to it, or else play on it.
    """

    def __init__(self, api: str, name: str, listening: bool):
        self._name, self._listening = name, listening
        self._watch = jack.watch() if api == "jack" else None
        self._others: Callable[[], set[str]] = {
            "jack": self._of_jack,
            "alsa": lambda: alsa_connections(_text(ALSA_CLIENTS), name, listening),
        }.get(api, set)
        self._before = self._others()
        self._is_told = self._watch is not None and self._watch.had_server
        """Whether every connection is known to be told; what ALSA's list looks like is the kernel's affair."""
        self._ours = ""
        """Our own port; '' where it isn't known."""

    def stands(self) -> bool:
        """Whether it is still there; true where nothing is known of it.

        Ours is the one that wasn't there before the port was opened. Over JACK it shows some periods after it was made.
        """
        others = self._others()
        self._ours = self._ours or min(others - self._before, default="")
        return self._ours in others if self._ours else not self._is_told

    def mend(self) -> bool:
        """Connect our port again; False where only opening it again does."""
        if self._watch is None or not self._ours:
            return False
        ends = (self._name, self._ours) if self._listening else (self._ours, self._name)
        return self._watch.connect(*ends)

    def _of_jack(self) -> set[str]:
        return self._watch.connections(self._name) if self._watch else set()


def alsa_connections(clients: str, name: str, listening: bool) -> set[str]:
    """What a port is connected to.

    Parameters
    ----------
    clients : str
        The text of :data:`ALSA_CLIENTS`.
    name : str
        The port's name, with its numbers at the end: "Piano:Piano MIDI 1 20:0".
    listening : bool
        Those that listen to it, or else those that play on it.

    Returns
    -------
    set of str
        Client and port of each, as "128:0".
    """
    numbers = re.search(r"(\d+):(\d+)$", name)
    if not numbers:
        return set()
    client = re.search(rf"^Client +{numbers[1]} :.*\n((?: .*\n?)*)", clients, re.MULTILINE)
    port = re.search(rf"^  Port +{numbers[2]} :.*\n((?:    .*\n?)*)", client[1], re.MULTILINE) if client else None
    word = "Connecting To" if listening else "Connected From"
    rows = re.findall(rf"^    {word}:(.*)$", port[1], re.MULTILINE) if port else []
    return {other for row in rows for other in re.findall(r"\d+:\d+", row)}


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
