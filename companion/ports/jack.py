"""Whether the JACK server that a port belongs to still lives.

When a server dies, its clients still see its list of ports, and closing a client of a dead server crashes the process.
RtMidi doesn't tell; JACK's own interface does: a client of ours, which has no ports, is told of the shutdown (JACK API,
``jack_on_shutdown``). Where the library can't be had, a server is taken to live.
"""

from __future__ import annotations

import ctypes
import ctypes.util
from typing import Any

NO_START_SERVER = 0x01
"""``JackNoStartServer`` of JACK's ``types.h``."""
LIBRARY = "libjack.so.0"

_Shutdown = ctypes.CFUNCTYPE(None, ctypes.c_void_p)


class ServerWatch:
    """Is told when the server dies."""

    def __init__(self) -> None:
        self.alive = True
        self._client: int | None = None
        self._callback = _Shutdown(self._died)  # kept, because the library keeps only its address
        try:
            self._library: Any = ctypes.CDLL(ctypes.util.find_library("jack") or LIBRARY)
            self._open()
        except (OSError, AttributeError):
            self._library = None

    def _open(self) -> None:
        library = self._library
        library.jack_client_open.restype = ctypes.c_void_p
        library.jack_client_open.argtypes = [ctypes.c_char_p, ctypes.c_int, ctypes.POINTER(ctypes.c_int)]
        library.jack_on_shutdown.restype = None
        library.jack_on_shutdown.argtypes = [ctypes.c_void_p, _Shutdown, ctypes.c_void_p]
        library.jack_client_close.argtypes = [ctypes.c_void_p]
        self._client = library.jack_client_open(b"companion-watch", NO_START_SERVER, ctypes.byref(ctypes.c_int()))
        if self._client:
            library.jack_on_shutdown(self._client, self._callback, None)

    def _died(self, _argument: Any) -> None:
        self.alive = False

    def close(self) -> None:
        """Stop watching."""
        if self._client and self.alive:
            self._library.jack_client_close(self._client)
        elif self._client:
            ctypes.pythonapi.Py_IncRef(ctypes.py_object(self))  # a dead server's client can't be closed, only kept
        self._client = None
