"""What every open page gets: the newest of each kind at once, then whatever comes.

Server-sent events (WHATWG HTML, section 9.2). A page whose line is slow misses what it can't take, and then gets the
newest of each kind again; it holds up nobody.

Conventions: everything here runs in the server's own loop, but for :meth:`Hub.tell`.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator

from companion.page.outgoing import AnyOutgoing, Begun, Notes, Over, to_line

QUEUE = 256
"""Messages that wait for a slow page."""
SIGN_OF_LIFE = 2.0
"""Seconds without a message after which a page is told that the line is there; ``stream.js`` waits thrice as long."""
HERE, MISSED = b'data: {"kind":"here"}\n\n', b'data: {"kind":"missed"}\n\n'
"""That the line is there; that some messages were left out, among them perhaps the ends of notes."""
AGAIN_AFTER = b"retry: 500\n\n"
"""How long a page waits before it connects again, in milliseconds."""


class Hub:
    """Hands what is told to every page that listens."""

    def __init__(self) -> None:
        self._loop: asyncio.AbstractEventLoop | None = None
        self._newest: dict[type, AnyOutgoing] = {}
        self._pages: set[asyncio.Queue[bytes | None]] = set()

    def first(self, message: AnyOutgoing) -> None:
        """What is told before anything happens."""
        self._newest = {type(message): message}

    def open(self) -> None:
        """Begin, in the server's loop."""
        self._loop = asyncio.get_running_loop()

    def close(self) -> None:
        """End every page's stream."""
        for page in self._pages:
            _emptied(page).put_nowait(None)
        self._loop = None

    @property
    def pages(self) -> int:
        """How many listen."""
        return len(self._pages)

    def tell(self, message: AnyOutgoing) -> None:
        """Tell every page; from any thread."""
        loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(self._tell, message)

    def _tell(self, message: AnyOutgoing) -> None:
        if isinstance(message, Begun | Over):
            self._newest = {}
        if not isinstance(message, Notes):
            self._newest.pop(type(message), None)  # in the order in which they were told
            self._newest[type(message)] = message
        event = _event(message)
        for page in self._pages:
            if page.full():
                _emptied(page).put_nowait(MISSED)
                for newest in self._newest.values():
                    page.put_nowait(_event(newest))
            else:
                page.put_nowait(event)

    async def stream(self) -> AsyncIterator[bytes]:
        """What one page gets, until it goes or the server ends."""
        page: asyncio.Queue[bytes | None] = asyncio.Queue(QUEUE)
        for message in self._newest.values():
            page.put_nowait(_event(message))
        self._pages.add(page)
        try:
            yield AGAIN_AFTER
            while True:
                try:
                    event = await asyncio.wait_for(page.get(), SIGN_OF_LIFE)
                except TimeoutError:
                    event = HERE
                if event is None:
                    return
                yield event
        finally:
            self._pages.discard(page)


def _event(message: AnyOutgoing) -> bytes:
    return b"data: " + to_line(message) + b"\n"


def _emptied(page: asyncio.Queue[bytes | None]) -> asyncio.Queue[bytes | None]:
    while not page.empty():
        page.get_nowait()
    return page
