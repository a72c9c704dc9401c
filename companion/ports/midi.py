"""MIDI ports by name: which there are, and open ones for input and output.

Unplugging raises nothing: a port stays "open" and sending succeeds. So whoever holds a port asks
``present()`` about once a second and opens it again by name when it has come back. A cable that was out for less is
told by ``connected()``, and ``reconnect()`` mends that.

RtMidi is used through :mod:`companion.ports.binding`, which keeps the driver's time stamps.
"""

from __future__ import annotations

import contextlib
import os
import re
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Generic, TypeVar

from companion.errors import DeviceError, UseError
from companion.ports import jack
from companion.ports.binding import Client, Listener, Receive, Talker, binding
from companion.ports.choice import Choice, Ports, choose_ports, device, suits
from companion.ports.connection import Connection
from companion.ports.quiet import quiet_libraries

API_VARIABLE = "COMPANION_MIDI"
CLIENT = "companion"
"""What our own ports are called; they are never offered."""
JACK_CONNECTS = 0.06
"""Seconds after which a connection is in force: JACK makes it between two periods, and loses what is sent before."""
JACK_PERIOD = 0.1
"""Seconds after which a period that was under way is over, on a busy machine too: RtMidi frees what it reads."""
DRAIN = 0.2
"""Seconds that the driver gets to pass on the last messages; over JACK, closing before would crash."""
ALSA_SEQUENCER = Path("/dev/snd/seq")

C = TypeVar("C", bound=Client)


def find_ports(midi: str | None = None, wanted_in: str | None = None, wanted_out: str | None = None) -> Ports:
    """The ports there are.

    Parameters
    ----------
    midi : str, optional
        The MIDI service: 'alsa', 'jack', 'core', 'windows'. By default, or with 'auto', what the environment's
        COMPANION_MIDI says; else, of those that run on this system, the first that has the ports wanted; else the first
        that has an instrument; else the first.
    wanted_in, wanted_out : str, optional
        Parts of names.

    Raises
    ------
    UseError
        There is no such service.
    DeviceError
        It doesn't run.
    """
    wanted = midi if midi and midi != "auto" else os.environ.get(API_VARIABLE, "auto")
    with quiet_libraries():
        running = [ports for api in _apis(wanted) if (ports := _ports_of(api))]
    if not running:
        name = "" if wanted == "auto" else f" '{wanted}'"
        mend = "load ALSA's sequencer (modprobe snd-seq), or start JACK"
        if sys.platform != "linux":
            mend = "restart the system's MIDI service"
        raise DeviceError(f"the system's MIDI service{name} is not running", mend=mend)

    return max(running, key=lambda ports: suits(ports, wanted_in, wanted_out))  # of equals, max takes the first


class PortList:
    """The ports of one service, looked at again and again by clients that are kept.

    Parameters
    ----------
    api : str
        As in :class:`Ports`.

    Raises
    ------
    DeviceError
        The service doesn't run.
    """

    def __init__(self, api: str):
        clients = _clients_of(api)
        if clients is None:
            raise DeviceError(f"the system's MIDI service '{api}' is not running", mend="start it again")
        self._api, (self._listener, self._talker) = api, clients

    def ports(self) -> Ports:
        """Those there are now."""
        return Ports(self._api, _foreign(self._listener.names()), _foreign(self._talker.names()))

    def close(self) -> None:
        """Give the clients back."""
        self._listener.release()
        self._talker.release()


def list_ports(wanted_in: str | None = None, wanted_out: str | None = None, midi: str | None = None) -> list[str]:
    """The ports as lines to print, with a mark at those that would be used.

    What isn't given is taken from ``configs/instruments.toml``, as :func:`companion.stage.live.play` does.

    Raises
    ------
    DeviceError
        No MIDI service runs, or one that was asked for is not there.
    """
    from companion.ports.instruments import read_instruments

    instruments = read_instruments()
    wanted_in, wanted_out = wanted_in or instruments.input, wanted_out or instruments.output
    ports = find_ports(midi or instruments.midi, wanted_in, wanted_out)
    try:
        choice: Choice | None = choose_ports(ports, wanted_in, wanted_out)
        why = None
    except DeviceError as error:
        if wanted_in or wanted_out:
            raise
        choice, why = None, str(error)
    lines = [f"MIDI service: {ports.api}"]
    for title, names, used in (
        ("to listen to (--in)", ports.inputs, choice and choice.input),
        ("to play on (--out)", ports.outputs, choice and choice.output),
    ):
        lines.append(f"{title}:")
        lines += [f"  {'*' if name == used else ' '} {name}" for name in names] or ["    none"]
    if choice:
        lines.append("* would be used" + (": one instrument for both" if choice.same else ""))
    elif why:
        lines.append(why)
    return lines


class Input:
    """An open input port.

    Parameters
    ----------
    api, name : str
        As in :class:`Ports`.
    receive : callable
        See :data:`Receive`.
    sysex : bool
        Whether system exclusive messages are wanted, too.

    Raises
    ------
    DeviceError
        It isn't there or can't be opened.
    """

    def __init__(self, api: str, name: str, receive: Receive, *, sysex: bool = False):
        self.name = name
        self._port = _Port(api, name, _listener, listening=True)
        self._port.client.listen(receive, sysex=sysex)

    def present(self) -> bool:
        """Whether the port is still there."""
        return self._port.present()

    def connected(self) -> bool:
        """Whether the connection to the port still stands; a port may have gone and come back meanwhile."""
        return self._port.connection.stands()

    def reconnect(self) -> bool:
        """Connect again to a port that is there; False when it can't be done."""
        return self._port.connection.mend() or self._port.open_again()

    def find_again(self) -> str | None:
        """The present name of the port after it was plugged in again; None while it is away."""
        return self._port.find_again()

    def close(self) -> None:
        """Stop receiving."""
        self._port.client.unlisten()
        self._port.close()


class Output:
    """An open output port; parameters and errors as for :class:`Input`."""

    def __init__(self, api: str, name: str):
        self.name = name
        self._port = _Port(api, name, _talker, listening=False)
        if api == "jack":
            time.sleep(JACK_CONNECTS)

    def send(self, message: Sequence[int]) -> None:
        """Send one message now; one that has gone takes it in silence, until :meth:`present` tells."""
        with contextlib.suppress(OSError):
            self._port.client.send(message)

    def present(self) -> bool:
        """Whether the port is still there."""
        return self._port.present()

    def connected(self) -> bool:
        """Whether the connection to the port still stands; a port may have gone and come back meanwhile."""
        return self._port.connection.stands()

    def reconnect(self) -> bool:
        """Connect again to a port that is there; False when it can't be done."""
        return self._port.connection.mend() or self._port.open_again()

    def find_again(self) -> str | None:
        """The present name of the port after it was plugged in again; None while it is away."""
        return self._port.find_again()

    def close(self) -> None:
        """Give the port back."""
        self._port.close()


def _apis(wanted: str) -> list[str]:
    known = binding().services()
    if wanted == "auto":
        return known
    if wanted not in known:
        raise UseError(f"there is no MIDI service '{wanted}' here", mend=f"choose auto, {', '.join(known)}")
    return [wanted]


def _listener(api: str) -> Listener:
    return binding().listener(api, CLIENT)


def _talker(api: str) -> Talker:
    return binding().talker(api, CLIENT)


def _client_of(api: str, make: Callable[[str], C]) -> C | None:
    """A new client of the service, or None where it doesn't run."""
    if api == "alsa" and not ALSA_SEQUENCER.exists():
        return None
    try:
        return make(api)
    except OSError as error:
        if isinstance(error, DeviceError):
            raise
        return None


def _clients_of(api: str) -> tuple[Listener, Talker] | None:
    listener, talker = _client_of(api, _listener), _client_of(api, _talker)
    if listener is None or talker is None:
        return None
    if api == "jack":
        jack.watch()  # stays when these two go, so that they aren't the process's last
    return listener, talker


def _ports_of(api: str) -> Ports | None:
    clients = _clients_of(api)
    if clients is None:
        return None
    listener, talker = clients
    inputs, outputs = _foreign(listener.names()), _foreign(talker.names())
    listener.release()
    talker.release()
    return Ports(api, inputs, outputs)


def _foreign(names: Sequence[str]) -> tuple[str, ...]:
    return tuple(name for name in names if not re.match(rf"{CLIENT}(-\d\d)?:", name))


class _Port(Generic[C]):
    """An open port, by a client of its own, and whether it is still good for anything.

    ``make`` makes the client.
    """

    def __init__(self, api: str, name: str, make: Callable[[str], C], *, listening: bool):
        self.api, self.name, self._listening = api, name, listening
        client = _client_of(api, make)
        names = client.names() if client else []
        if client is None or name not in names:
            if client:
                client.release()
            raise DeviceError(f"the MIDI port '{name}' is not there", mend="see 'companion ports'")
        self.client = client
        self._watch = jack.watch() if api == "jack" else None
        try:
            self.connection = self._open(names)
        except DeviceError:
            self._leave()
            raise

    def _open(self, names: Sequence[str]) -> Connection:
        connection = Connection(self.api, self.name, self._listening)
        try:
            self.client.open(names.index(self.name), "in" if self._listening else "out")
        except OSError as error:
            what = f"the MIDI port '{self.name}' can't be opened ({str(error).rpartition(':')[2].strip()})"
            raise DeviceError(what, mend="close what else uses it") from None
        return connection

    def open_again(self) -> bool:
        """Open the port once more, keeping the client, so that the time stamps go on."""
        with contextlib.suppress(Exception):  # whatever the library says of a port that is going again
            self.client.close()
            self.connection = self._open(self.client.names())
            return True
        return False

    def present(self) -> bool:
        return self._is_served() and self.name in self._names()

    def find_again(self) -> str | None:
        """Ask the open client, which takes a fraction of a millisecond; a new one only when the service has died."""
        names: Sequence[str] = self._names() if self._is_served() else ()
        if not self._is_served():
            with quiet_libraries():
                ports = _ports_of(self.api)
            names = () if ports is None else ports.inputs if self._listening else ports.outputs
        return self.name if self.name in names else next((n for n in names if device(n) == device(self.name)), None)

    def _is_served(self) -> bool:
        return self._watch is None or self._watch.alive

    def _names(self) -> tuple[str, ...]:
        try:
            return _foreign(self.client.names())
        except Exception:  # whatever the library says of a service that has gone
            return ()

    def close(self) -> None:
        if not self._is_served():
            self.client.keep()
            return
        with contextlib.suppress(Exception):
            self.client.close()
            if self.api == "jack":
                time.sleep(JACK_PERIOD)
        self._leave()

    def _leave(self) -> None:
        with contextlib.suppress(Exception):
            self.client.release()
