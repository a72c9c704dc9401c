"""What stands between the network and the page: who may ask, from where, how much, and what a browser may load.

Every request must name one of our own hosts (against names that are made to point here: DNS rebinding), and one that
changes something must come from our own page (its ``Origin``; RFC 6454). What is sent is limited before it is read. A
browser is told to load nothing from anywhere else (Content Security Policy level 3).

From another machine nothing is served but the page that asks for the code, until the code was given.
"""

from __future__ import annotations

import hmac
import ipaddress
import secrets
import threading
import time
from collections.abc import Collection
from http.cookies import CookieError, SimpleCookie

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LONGEST_BODY = 64 * 1024
"""Bytes of a request, unless its route says more."""
COOKIE = "stand"
CODE_DIGITS = 6
TRIES, AGAIN_AFTER = 5, 60.0
"""Wrong codes after which none is taken for so many seconds."""
TYPE = ("/static/type/upright.woff2", "/static/type/italic.woff2")
WITHOUT_CODE = ("/code", "/static/code.js", "/static/ask.js", "/static/page.css", *TYPE)
"""What another machine gets without the code."""
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


class Code:
    """The code that lets another machine in, and the tokens of those that are in."""

    def __init__(self) -> None:
        self.code = "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS))
        self._tokens: set[str] = set()
        self._wrong, self._closed_until = 0, 0.0
        self._lock = threading.Lock()

    def enter(self, code: str) -> str | None:
        """A token for the right code; None for a wrong one, and for any while too many were wrong."""
        with self._lock:
            if time.monotonic() < self._closed_until:
                return None
            if not hmac.compare_digest(code.strip().encode(), self.code.encode()):
                self._wrong += 1
                if self._wrong >= TRIES:
                    self._wrong, self._closed_until = 0, time.monotonic() + AGAIN_AFTER
                return None
            self._wrong = 0
            token = secrets.token_urlsafe(24)
            self._tokens.add(token)
            return token

    def knows(self, token: str) -> bool:
        """Whether it was given out."""
        with self._lock:
            return token in self._tokens


class Guard:
    """ASGI middleware that turns away what isn't ours.

    Parameters
    ----------
    app : ASGI application
    hosts : collection of str
        What a request may name as its host, with the port: '127.0.0.1:8000'.
    code : Code, optional
        What other machines must know; without one they get nothing.
    limits : dict, optional
        Bytes that a request may hold, for paths where that isn't :data:`LONGEST_BODY`.
    """

    def __init__(
        self, app: ASGIApp, hosts: Collection[str], code: Code | None = None, limits: dict[str, int] | None = None
    ):
        self._app, self._hosts, self._code, self._limits = app, frozenset(hosts), code, limits or {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request, or turn it away."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no web sockets here
        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                ours = [(name.encode(), value.encode()) for name, value in HEADERS.items()]
                message = {**message, "headers": [*message["headers"], *ours]}
            await send(message)

        refused = self._refused(scope, headers)
        if refused is not None:
            await refused(scope, receive, send_with_headers)
            return
        most = self._limits.get(scope["path"], LONGEST_BODY)
        await self._app(scope, _limited(receive, most), send_with_headers)

    def _refused(self, scope: Scope, headers: dict[str, str]) -> PlainTextResponse | None:
        if headers.get("host", "").lower() not in self._hosts:
            return PlainTextResponse("this is not the address of the page", 421)
        changes = scope["method"] not in ("GET", "HEAD")
        origin = headers.get("origin")
        if (changes or origin is not None) and not self._is_own(origin):
            return PlainTextResponse("only the page itself may ask for that", 403)
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > self._limits.get(scope["path"], LONGEST_BODY):
            return PlainTextResponse("that is too large", 413)
        if self._is_here(scope) or scope["path"] in WITHOUT_CODE:
            return None
        if self._code is not None and self._code.knows(_token(headers)):
            return None
        if scope["path"] == "/" and self._code is not None:
            return PlainTextResponse("", 303, {"location": "/code"})
        return PlainTextResponse("give the code first, at /code", 401)

    def _is_own(self, origin: str | None) -> bool:
        scheme, _, host = (origin or "").partition("://")
        return scheme == "http" and host.lower() in self._hosts

    @staticmethod
    def _is_here(scope: Scope) -> bool:
        try:
            return ipaddress.ip_address((scope.get("client") or ("",))[0]).is_loopback
        except ValueError:
            return False


def _token(headers: dict[str, str]) -> str:
    try:
        cookie = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return ""
    return cookie.value if cookie else ""


def _limited(receive: Receive, most: int) -> Receive:
    """What is received, cut off where it is longer than it said."""
    left = most

    async def limited() -> Message:
        nonlocal left
        message = await receive()
        if message["type"] == "http.request":
            left -= len(message.get("body", b""))
            if left < 0:
                return {"type": "http.disconnect"}
        return message

    return limited
