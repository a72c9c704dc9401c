"""What RtMidi leaves out of JACK: whether a port's server still lives, how ports are connected, when a client may come.

When a server dies, its clients still see its list of ports, and closing a client of a dead server crashes the process.
RtMidi doesn't tell; JACK's own interface does: a client of ours, which has no ports, is told of the shutdown (JACK API,
``jack_on_shutdown``). Where the library can't be had, a server is taken to live. The same client sees and makes
connections between any two ports (``jack_port_get_all_connections``, ``jack_connect``), which RtMidi doesn't.

There is one watch a process and server, and it is never closed. When the last client of a process closes, libjack tears
down what all clients share while threads of its own may still be at it: now and then it waits for ever, now and then it
crashes. A client that stays keeps that standing. For the same reason it belongs to the copy of the library that RtMidi
uses. Wheels bring a copy each, which may be too old for the server that runs here ("JACK protocol mismatch"), so the
system's own is loaded before them, and its functions take the place of theirs (:func:`share_library`).

A new client gets the lowest number that is free, perhaps that of one which has just left. The server tells the others
of that, but doesn't wait for them. In a process with several clients one of them may learn it late and take away what
the number stands for, on which the new client crashes (jackd 1.9.21). So none is opened before all must have learnt it
(:func:`wait_until_told`).
"""

from __future__ import annotations

import contextlib
import ctypes
import ctypes.util
import os
import sys
import time
from errno import EEXIST
from functools import cache
from pathlib import Path
from typing import Any

NO_START_SERVER = 0x01
"""``JackNoStartServer`` of JACK's ``types.h``."""
LIBRARY = "libjack.so.0"
TOLD = 0.05
"""Seconds after which all clients have learnt that one left; with three busy processes a core it took 4 ms at most."""
SERVER_VARIABLE = "JACK_DEFAULT_SERVER"
_LOADED = Path("/proc/self/maps")
"""Where Linux lists the libraries that a process has loaded."""

_Shutdown = ctypes.CFUNCTYPE(None, ctypes.c_void_p)


class ServerWatch:
    """Is told when the server dies. Use :func:`watch`, which makes one and keeps it."""

    def __init__(self) -> None:
        self.alive = True
        self._client: int | None = None
        self._library: Any = None
        self._callback = _Shutdown(self._died)  # kept, because the library keeps only its address
        with contextlib.suppress(OSError, AttributeError):
            self._open(ctypes.CDLL(_library()))

    def _open(self, library: Any) -> None:
        client, text = ctypes.c_void_p, ctypes.c_char_p
        for name, result, arguments in (
            ("jack_client_open", client, [text, ctypes.c_int, ctypes.POINTER(ctypes.c_int)]),
            ("jack_on_shutdown", None, [client, _Shutdown, ctypes.c_void_p]),
            ("jack_port_by_name", ctypes.c_void_p, [client, text]),
            ("jack_port_get_all_connections", ctypes.POINTER(text), [client, ctypes.c_void_p]),
            ("jack_connect", ctypes.c_int, [client, text, text]),
            ("jack_get_uuid_for_client_name", ctypes.c_void_p, [client, text]),
            ("jack_free", None, [ctypes.c_void_p]),
        ):
            function = getattr(library, name)
            function.restype, function.argtypes = result, arguments
        self._client = library.jack_client_open(b"companion-watch", NO_START_SERVER, ctypes.byref(ctypes.c_int()))
        if self._client:
            self._library = library
            library.jack_on_shutdown(self._client, self._callback, None)

    def connections(self, port: str) -> set[str]:
        """The ports that a port is connected to; none where it isn't there, or nothing is known."""
        if not self.alive or not self._client:
            return set()
        found = self._library.jack_port_by_name(self._client, port.encode())
        names = self._library.jack_port_get_all_connections(self._client, found) if found else None
        if not names:
            return set()
        others = set[str]()
        while (name := names[len(others)]) is not None:
            others.add(name.decode(errors="replace"))
        self._library.jack_free(names)
        return others

    def connect(self, source: str, destination: str) -> bool:
        """Connect an output port to an input port; whether they are, or will be with the next period."""
        if not self.alive or not self._client:
            return False
        result = self._library.jack_connect(self._client, source.encode(), destination.encode())
        return result in (0, EEXIST)

    def ask(self) -> None:
        """Ask the server something of no account: it answers when it has done with all that came before."""
        if self.alive and self._client:
            self._library.jack_get_uuid_for_client_name(self._client, b"nobody")

    @property
    def had_server(self) -> bool:
        """Whether there was a server to watch."""
        return self._client is not None

    def _died(self, _argument: Any) -> None:
        self.alive = False


_watches: dict[str, ServerWatch] = {}
_dead: list[ServerWatch] = []
"""Those of dead servers: the library still holds the addresses of their callbacks."""


def watch() -> ServerWatch:
    """The watch of this process over the present server; a new one when the server before has died."""
    server = os.environ.get(SERVER_VARIABLE, "")
    found = _watches.get(server)
    if found is None or not found.alive:
        _dead.extend([found] if found else [])
        found = ServerWatch()
        if found.had_server:
            _watches[server] = found
    return found


_left_at = float("-inf")
"""When a client of this process, or one whose place a client of this process takes, left; by the monotonic clock."""


def client_left() -> None:
    """Say that a client has left, or was killed, just now."""
    global _left_at
    _left_at = time.monotonic()


def wait_until_told() -> None:
    """Before a client is opened: give the others of this process the time to learn of one that has just left."""
    if time.monotonic() < _left_at + TOLD:
        if found := _watches.get(os.environ.get(SERVER_VARIABLE, "")):
            found.ask()
        time.sleep(TOLD)


@cache
def share_library() -> bool:
    """Have whatever is loaded from now on use the system's copy of libjack; whether there is one.

    On Linux a library finds its functions first in what was loaded for all (dlopen(3), RTLD_GLOBAL), then in the copy
    that it brought.
    """
    if sys.platform != "linux":
        return False
    with contextlib.suppress(OSError):
        ctypes.CDLL(LIBRARY, mode=ctypes.RTLD_GLOBAL)
        return True
    return False


def _library() -> str:
    """The copy of libjack that RtMidi uses: the system's, or else one that is loaded already."""
    if share_library():
        return LIBRARY
    with contextlib.suppress(OSError):
        for line in _LOADED.read_text().splitlines():
            path = line.rpartition(" ")[2]
            if Path(path).name.startswith("libjack") and ".so" in path:
                return path
    return ctypes.util.find_library("jack") or LIBRARY
