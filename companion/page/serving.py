"""The server: one socket, the page behind its guard, until Ctrl-C or until whoever started it is gone.

Conventions: run in a process that plays nothing. It has the usual priority, since a player process that it starts has
the same; what takes long is drawn elsewhere (:mod:`companion.page.draughtsman`).
"""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import Callable
from dataclasses import dataclass

from companion.errors import UseError
from companion.installation import install_command
from companion.page.stand import MusicStand

PACKAGES = ("starlette", "uvicorn", "verovio")
"""What the extra ``page`` consists of."""
PORT = 7341
"""Where the page is unless said otherwise; where that is taken, anywhere."""
LOOPBACK, EVERYWHERE = "127.0.0.1", "0.0.0.0"
GOODBYE = 1
"""Seconds that open pages have at the end."""


@dataclass(frozen=True)
class Address:
    """Where the page is."""

    socket: socket.socket
    url: str
    """For this machine."""
    shared: str = ""
    """For other machines; empty where it isn't shared."""

    @property
    def hosts(self) -> list[str]:
        """What a request may name as its host."""
        port = self.socket.getsockname()[1]
        names = [LOOPBACK, "localhost", *([self.shared.split("/")[2].rpartition(":")[0]] if self.shared else [])]
        return [f"{name}:{port}" for name in names]


def check_installed() -> None:
    """Raise UseError where what serves the page isn't installed."""
    try:
        import starlette
        import uvicorn
        import verovio
    except ImportError as missing:
        mend = f"install it with: {install_command('page', PACKAGES)}"
        raise UseError(f"the page needs {missing.name}, which isn't installed", mend=mend) from None
    del starlette, uvicorn, verovio


def open_address(port: int | None, *, share: bool = False) -> Address:
    """Take the page's place on the network.

    Parameters
    ----------
    port : int, optional
        0: any that is free; None: the usual one, else any that is free.
    share : bool
        Whether other machines can reach it.

    Raises
    ------
    UseError
        The port is taken.
    """
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name == "posix":
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    host = EVERYWHERE if share else LOOPBACK
    for wanted in (PORT, 0) if port is None else (port,):
        with contextlib.suppress(OSError):
            listening.bind((host, wanted))
            break
    else:
        listening.close()
        raise UseError(f"port {port} is taken", mend="name another with --page-port, or leave it out")
    got = listening.getsockname()[1]
    shared = f"http://{own_address()}:{got}/" if share else ""
    return Address(listening, f"http://{LOOPBACK}:{got}/", shared)


def own_address() -> str:
    """This machine's address in its network, as far as that can be told; nothing is sent."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # an address that is nobody's (RFC 5737)
        return str(probe.getsockname()[0])
    return LOOPBACK


def serve(stand: MusicStand, address: Address, *, share: bool = False, ready: Callable[[str], None]) -> None:
    """Serve the page until the process is asked to end.

    Parameters
    ----------
    stand : MusicStand
    address : Address
    share : bool
        Whether other machines are let in, with a code.
    ready : callable
        Told the code when the page can be opened; empty where it isn't shared.
    """
    import asyncio

    import uvicorn

    from companion.page.app import application
    from companion.page.between import LIMITS
    from companion.page.guard import Code, Guard

    code = Code() if share else None
    guarded = Guard(application(stand, code), address.hosts, code, LIMITS)
    config = uvicorn.Config(
        guarded,
        log_level="error",
        access_log=False,
        ws="none",
        http="h11",
        loop="asyncio",
        lifespan="on",
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=GOODBYE,
    )

    class Server(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            ready(code.code if code else "")

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            await asyncio.to_thread(stand.close)
            stand.hub.close()  # or the pages' streams would hold it up
            await super().shutdown(sockets)

    asyncio.run(Server(config).serve(sockets=[address.socket]))
