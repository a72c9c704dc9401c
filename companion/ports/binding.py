"""RtMidi for Python, by whichever of its bindings is installed: nobody else knows which.

RtMidi speaks to the systems' MIDI services; two packages bind it. python-rtmidi is used where it has wheels, up to
Python 3.12; supriya-midi has them from 3.11 on. Both open a port under a name of ours, send, list names, and stamp what
comes in before Python runs. They hand it on differently:

- python-rtmidi calls back from RtMidi's thread.
- supriya-midi would, too, but a callback that is ended while a message is on its way to it crashes the process
  (26.10b4). So what came is fetched every :data:`FETCH` seconds, in a thread of ours; the stamps are the same.

Conventions: ports by number are counted from 0, in the order of ``names()``; seconds; messages are bytes as integers.
Whatever a binding raises comes out as OSError.
"""

from __future__ import annotations

import atexit
import ctypes
import gc
import os
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from typing import Any, Protocol

from companion.errors import DeviceError
from companion.ports import jack

BINDING_VARIABLE = "COMPANION_RTMIDI"
"""The environment's word for which binding to use, where both are installed: a package's name."""
FIRST_WITHOUT = (3, 13)
"""The first Python for which python-rtmidi has no wheels."""
FETCH = 0.001
"""Seconds between two looks for what came."""
QUEUE = 4096
"""Messages that wait to be fetched, at most: a page of system exclusive and a glissando with the pedal."""

SERVICES: dict[str, str] = {
    "alsa": "LINUX_ALSA",
    "jack": "UNIX_JACK",
    "core": "MACOSX_CORE",
    "windows": "WINDOWS_MM",
}
"""The systems' MIDI services, by our word and by RtMidi's."""

Receive = Callable[[float, Sequence[int]], None]
"""Gets each message with the seconds since the one before, in another thread; must return at once."""


class Client(Protocol):
    """A client of a MIDI service, with one port of ours once that is opened."""

    handle: Any
    """The binding's own object."""

    def names(self) -> list[str]:
        """The names of the ports that ours may be connected to."""

    def open(self, number: int, name: str) -> None:
        """Open a port of ours under a name, connected to one of :meth:`names`."""

    def close(self) -> None:
        """Close it; it may be opened again."""

    def release(self) -> None:
        """Leave the service, once the port is closed."""

    def keep(self) -> None:
        """Never leave it: leaving a service that is dead crashes, now or when Python tidies up."""


class Listener(Client, Protocol):
    """A client that hears. Clock and active sensing are left out, and system exclusive messages unless wanted."""

    def listen(self, receive: Receive, *, sysex: bool = False) -> None:
        """Have each message given to ``receive`` from now on, and after closing and opening, too."""

    def unlisten(self) -> None:
        """Give nothing more; what is on its way may still come."""


class Talker(Client, Protocol):
    """A client that sends."""

    def send(self, message: Sequence[int]) -> None:
        """Send one message now, through the open port."""


class Binding(Protocol):
    """One of the packages."""

    package: str

    def services(self) -> list[str]:
        """Those of :data:`SERVICES` that it was built for."""

    def listener(self, service: str, client: str) -> Listener:
        """A new client that hears, under a name."""

    def talker(self, service: str, client: str) -> Talker:
        """A new client that sends, under a name."""


@cache
def binding() -> Binding:
    """The binding that is installed; of both, the environment's choice or else the one for this Python.

    Raises
    ------
    DeviceError
        There is none.
    """
    os.environ.setdefault("JACK_NO_START_SERVER", "1")  # to look for ports is not to start a server
    jack.share_library()
    known: dict[str, Callable[[], Binding]] = {"python-rtmidi": PythonRtmidi, "supriya-midi": SupriyaMidi}
    usual = "python-rtmidi" if sys.version_info < FIRST_WITHOUT else "supriya-midi"
    wanted = os.environ.get(BINDING_VARIABLE)
    for package in [wanted] if wanted in known else sorted(known, key=lambda name: name != usual):
        try:
            return known[package]()
        except ImportError:
            continue
    missing = wanted if wanted in known else usual
    mend = f"install it with: python3 -m pip install {missing}"
    raise DeviceError(f"there are no MIDI ports without the package {missing}", mend=mend)


@contextmanager
def _as_os_error(*kinds: type[Exception]) -> Iterator[None]:
    try:
        yield
    except kinds as error:
        raise OSError(str(error)) from None


class _Client:
    """What the clients of both have in common.

    ``kinds`` are the errors that the binding raises; a talkative one complains, at the very end of the process, of
    clients that were kept.
    """

    def __init__(self, handle: Any, *kinds: type[Exception], talkative: bool = False):
        self.handle, self._kinds, self._talkative = handle, kinds, talkative

    def names(self) -> list[str]:
        with _as_os_error(*self._kinds):
            names: list[str] = self.handle.get_ports()
        return names

    def open(self, number: int, name: str) -> None:
        with _as_os_error(*self._kinds):
            self.handle.open_port(number, name)

    def close(self) -> None:
        with _as_os_error(*self._kinds):
            self.handle.close_port()

    def release(self) -> None:
        with _as_os_error(*self._kinds):
            self.handle.delete()
        jack.client_left()

    def keep(self) -> None:
        ctypes.pythonapi.Py_IncRef(ctypes.py_object(self.handle))
        if self._talkative:
            atexit.register(_silence)


class _Talker(_Client):
    def send(self, message: Sequence[int]) -> None:
        with _as_os_error(*self._kinds):
            self.handle.send_message(message)


def _make_way(service: str) -> None:
    """Wait, where a service needs it, until a client may be opened after one that left."""
    if service == "jack":
        jack.wait_until_told()


def _silence() -> None:
    """Close standard error to what the libraries still print; Python has said all it had to say."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)


# python-rtmidi


class PythonRtmidi:
    """python-rtmidi."""

    package = "python-rtmidi"

    def __init__(self) -> None:
        import rtmidi

        self._rtmidi: Any = rtmidi

    def services(self) -> list[str]:
        """Those that it was built for."""
        compiled = set(self._rtmidi.get_compiled_api())
        return [name for name in SERVICES if self._api(name) in compiled]

    def listener(self, service: str, client: str) -> Listener:
        """A new client that hears."""
        return _CallingListener(self._client(self._rtmidi.MidiIn, service, client), self._rtmidi.RtMidiError)

    def talker(self, service: str, client: str) -> Talker:
        """A new client that sends."""
        return _Talker(self._client(self._rtmidi.MidiOut, service, client), self._rtmidi.RtMidiError)

    def _api(self, service: str) -> int:
        api: int = getattr(self._rtmidi, f"API_{SERVICES[service]}")
        return api

    def _client(self, kind: Callable[..., Any], service: str, client: str) -> Any:
        _make_way(service)
        with _as_os_error(self._rtmidi.RtMidiError):
            return kind(self._api(service), name=client)


class _CallingListener(_Client):
    """RtMidi's thread calls."""

    _receive: Receive | None = None
    _sysex = False

    def __init__(self, handle: Any, *kinds: type[Exception]):
        super().__init__(handle, *kinds)
        self._given: list[object] = []

    def open(self, number: int, name: str) -> None:
        super().open(number, name)
        if self._receive is not None:
            self.listen(self._receive, sysex=self._sysex)  # closing had ended it

    def listen(self, receive: Receive, *, sysex: bool = False) -> None:
        self._receive, self._sysex = receive, sysex
        self.handle.ignore_types(sysex=not sysex, timing=True, active_sense=True)
        self.handle.set_callback(self._called)
        # RtMidi's thread has the bare address of a tuple, which it may be about to use when the binding lets it go.
        self._given += gc.get_referents(self.handle)

    def unlisten(self) -> None:
        self._receive = None
        self.handle.cancel_callback()

    def _called(self, event: tuple[list[int], float], _data: Any = None) -> None:
        if (receive := self._receive) is not None:
            receive(event[1], event[0])


# supriya-midi


class SupriyaMidi:
    """supriya-midi."""

    package = "supriya-midi"

    def __init__(self) -> None:
        import supriya_midi

        self._rtmidi: Any = supriya_midi
        self._kinds = (supriya_midi.RtMidiError, RuntimeError)  # the second is what a constructor raises

    def services(self) -> list[str]:
        """Those that it was built for."""
        compiled = set(self._rtmidi.get_compiled_apis())
        return [name for name in SERVICES if self._api(name) in compiled]

    def listener(self, service: str, client: str) -> Listener:
        """A new client that hears."""
        _make_way(service)
        with _as_os_error(*self._kinds):
            handle = self._rtmidi.MidiIn(self._api(service), client, QUEUE)
        return _FetchingListener(self._served(handle), *self._kinds, talkative=True)

    def talker(self, service: str, client: str) -> Talker:
        """A new client that sends."""
        _make_way(service)
        with _as_os_error(*self._kinds):
            handle = self._rtmidi.MidiOut(self._api(service), client)
        return _Talker(self._served(handle), *self._kinds, talkative=True)

    def _api(self, service: str) -> Any:
        return self._rtmidi.RtMidiAPI[SERVICES[service]]

    def _served(self, handle: Any) -> Any:
        """A client, when its service runs: of a service that doesn't, it only tells when it is asked something."""
        try:
            with _as_os_error(*self._kinds):
                handle.get_port_count()
        except OSError:
            handle.delete()
            raise
        return handle


class _FetchingListener(_Client):
    """A thread of ours fetches."""

    _thread: threading.Thread | None = None
    _receive: Receive | None = None

    def listen(self, receive: Receive, *, sysex: bool = False) -> None:
        self._receive = receive
        self.handle.ignore_types(sysex=not sysex, timing=True, active_sense=True)
        self._thread = threading.Thread(target=self._fetch, daemon=True)
        self._thread.start()

    def unlisten(self) -> None:
        self._receive = None
        if self._thread is not None:
            self._thread.join()

    def _fetch(self) -> None:
        fetch = self.handle.get_message
        while (receive := self._receive) is not None:
            while came := fetch():
                receive(came[1], came[0])
            time.sleep(FETCH)
