"""Nobody but the page itself, from here or with the code, is answered; and a browser loads nothing from elsewhere."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from companion.page.guard import COOKIE, Code, Guard
from tests.page.conftest import finished

HERE = "http://127.0.0.1:5000"


async def answer(request: Request) -> PlainTextResponse:
    return PlainTextResponse(f"{len(await request.body())} bytes")


APP = Starlette(routes=[Route("/{any:path}", answer, methods=["GET", "POST"])])


def ask(
    method: str,
    path: str,
    *,
    client: str = "127.0.0.1",
    code: Code | None = None,
    limits: dict[str, int] | None = None,
    **more: Any,
) -> httpx.Response:
    """One request, from a machine with that address."""
    guard = Guard(APP, ["127.0.0.1:5000", "localhost:5000", "192.168.1.7:5000"], code, limits)

    async def go() -> httpx.Response:
        transport = httpx.ASGITransport(guard, client=(client, 4000), raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url=more.pop("base", HERE)) as opened:
            return await opened.request(method, path, **more)

    return finished(go())


def test_the_page_is_answered_and_told_to_load_nothing_from_elsewhere() -> None:
    got = ask("GET", "/")
    assert got.status_code == 200
    policy = got.headers["content-security-policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy and "*" not in policy
    assert "frame-ancestors 'none'" in policy
    assert got.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("host", ["evil.example", "evil.example:5000", "127.0.0.1", "127.0.0.1:80", ""])
def test_a_name_that_was_made_to_point_here_is_not_answered(host: str) -> None:
    """DNS rebinding: the browser believes that it talks to that name."""
    assert ask("GET", "/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "origin", [None, "null", "http://evil.example", "https://127.0.0.1:5000", "http://127.0.0.1:1"]
)
def test_another_site_can_ask_for_nothing(origin: str | None) -> None:
    headers = {} if origin is None else {"origin": origin}
    assert ask("POST", "/wish", headers=headers).status_code == 403
    if origin is not None:
        assert ask("GET", "/events", headers=headers).status_code == 403


def test_the_page_itself_can() -> None:
    assert ask("POST", "/wish", headers={"origin": HERE}, content=b"{}").text == "2 bytes"


@pytest.fixture
def shared() -> Iterator[dict[str, Any]]:
    yield {"client": "192.168.1.20", "base": "http://192.168.1.7:5000"}


def test_another_machine_gets_nothing_where_the_page_is_not_shared(shared: dict[str, Any]) -> None:
    for path in ("/", "/events", "/static/main.js", "/charts"):
        assert ask("GET", path, **shared).status_code == 401


def test_another_machine_gives_the_code_first(shared: dict[str, Any]) -> None:
    code = Code()
    assert len(code.code) == 6 and code.code.isdigit()
    first = ask("GET", "/", code=code, **shared)
    assert (first.status_code, first.headers["location"]) == (303, "/code")
    assert ask("GET", "/code", code=code, **shared).status_code == 200
    for path in ("/events", "/static/main.js", "/static/../app.py", "/charts"):
        assert ask("GET", path, code=code, **shared).status_code == 401
    assert ask("GET", "/charts", code=code, headers={"cookie": f"{COOKIE}=guessed"}, **shared).status_code == 401
    token = code.enter(f" {code.code} ")
    assert ask("GET", "/charts", code=code, headers={"cookie": f"{COOKIE}={token}"}, **shared).status_code == 200


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """A clock that is set by hand."""
    set_by_hand = [100.0]
    monkeypatch.setattr("companion.page.guard.time.monotonic", lambda: set_by_hand[0])
    return set_by_hand


def wrong(code: Code) -> str:
    return "000000" if code.code != "000000" else "111111"


def test_a_code_cannot_be_found_by_trying(clock: list[float]) -> None:
    code = Code()
    for _ in range(2):  # and so it is again afterwards
        for _ in range(4):
            assert code.enter(wrong(code)) is None
        assert code.enter(code.code) is not None, "four wrong ones are no harm, and are forgotten"
        for _ in range(5):
            assert code.enter(wrong(code)) is None
        assert code.enter(code.code) is None
        clock[0] += 59.9
        assert code.enter(code.code) is None
        clock[0] += 0.1
        for _ in range(5):  # no more may be tried than before
            assert code.enter(wrong(code)) is None
        assert code.enter(code.code) is None
        clock[0] += 60.0
        assert code.enter(code.code) is not None


def test_after_a_minute_to_the_second_as_many_codes_may_be_tried_as_at_first(clock: list[float]) -> None:
    code = Code()
    for _ in range(5):
        code.enter(wrong(code))
    clock[0] += 60.0
    for _ in range(4):
        assert code.enter(wrong(code)) is None
    assert code.enter(code.code) is not None


def test_a_token_is_too_long_to_be_guessed_and_known_only_when_given_out() -> None:
    code = Code()
    token = code.enter(code.code)
    assert token is not None and len(token) == 32, "24 bytes in base64"
    assert code.knows(token) and not code.knows(token[:-1]) and not code.knows("")


@pytest.mark.parametrize(("path", "most"), [("/wish", 65536), ("/import", 10), ("/large", 70000)])
def test_each_route_takes_as_many_bytes_as_it_may_said_or_not(path: str, most: int) -> None:
    async def in_halves(count: int) -> Any:
        yield b"x" * (count // 2)
        yield b"x" * (count - count // 2)

    limits = {"/import": 10, "/large": 70000}
    for content in (lambda count: b"x" * count, in_halves):
        asked = {"headers": {"origin": HERE}, "limits": limits}
        assert ask("POST", path, content=content(most), **asked).text == f"{most} bytes"
        assert ask("POST", path, content=content(most + 1), **asked).status_code >= 400


@pytest.mark.parametrize("length", ["-1", "1e3", "x", "65537"])
def test_a_length_that_is_none_is_refused(length: str) -> None:
    assert ask("GET", "/", headers={"content-length": length}).status_code == 413


@pytest.mark.parametrize(
    ("method", "origin", "status"),
    [("GET", None, 200), ("HEAD", None, 200), ("POST", None, 403), ("PUT", None, 403), ("DELETE", HERE.upper(), 403)],
)
def test_what_changes_something_says_where_it_comes_from(method: str, origin: str | None, status: int) -> None:
    assert ask(method, "/", headers={"origin": origin} if origin else {}).status_code == status


def test_the_names_of_hosts_are_read_in_any_case() -> None:
    headers = {"host": "LOCALHOST:5000", "origin": "http://LocalHost:5000"}
    assert ask("POST", "/", headers=headers).status_code == 200


@pytest.mark.parametrize(
    ("client", "here"),
    [("127.0.0.1", True), ("127.9.9.9", True), ("::1", True), ("192.168.1.20", False), ("a name", False), ("", False)],
)
def test_this_machine_is_known_by_its_address(client: str, here: bool) -> None:
    assert ask("GET", "/charts", client=client).status_code == (200 if here else 401)


@pytest.mark.parametrize("cookie", ["", "stand", "other=1", "stand=a b; c", "\x01=;"])
def test_a_cookie_that_isnt_ours_is_none(cookie: str, shared: dict[str, Any]) -> None:
    assert ask("GET", "/charts", code=Code(), headers={"cookie": cookie}, **shared).status_code == 401


@pytest.mark.parametrize(
    ("path", "status"), [("/code", 200), ("/static/page.css", 200), ("/static/type/italic.woff2", 200), ("/codes", 401)]
)
def test_of_the_page_another_machine_gets_only_what_asks_for_the_code(
    path: str, status: int, shared: dict[str, Any]
) -> None:
    got = ask("GET", path, code=Code(), **shared)
    assert got.status_code == status and "content-security-policy" in got.headers, "refused or not"


def test_beside_requests_only_the_servers_own_life_is_handed_on() -> None:
    handed: list[str] = []

    async def app(scope: Any, receive: Any, send: Any) -> None:
        handed.append(scope["type"])

    async def nothing(*_: Any) -> Any:
        raise AssertionError("nothing is said")

    for kind in ("lifespan", "websocket"):
        finished(Guard(app, [])({"type": kind}, nothing, nothing))
    assert handed == ["lifespan"]
