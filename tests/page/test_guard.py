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

from companion.page.guard import AGAIN_AFTER, COOKIE, LONGEST_BODY, TRIES, Code, Guard
from tests.page.conftest import finished

HERE = "http://127.0.0.1:5000"


async def answer(request: Request) -> PlainTextResponse:
    return PlainTextResponse(f"{len(await request.body())} bytes")


APP = Starlette(routes=[Route("/{any:path}", answer, methods=["GET", "POST"])])


def ask(method: str, path: str, *, client: str = "127.0.0.1", code: Code | None = None, **more: Any) -> httpx.Response:
    """One request, from a machine with that address."""
    guard = Guard(APP, ["127.0.0.1:5000", "localhost:5000", "192.168.1.7:5000"], code)

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


def test_what_is_too_large_is_not_read_whether_it_says_so_or_not() -> None:
    much = b"x" * (LONGEST_BODY + 1)

    async def in_pieces() -> Any:
        for _ in range(3):
            yield much

    assert ask("POST", "/wish", headers={"origin": HERE}, content=much).status_code == 413
    assert ask("POST", "/wish", headers={"origin": HERE}, content=in_pieces()).status_code >= 400
    assert ask("POST", "/wish", headers={"origin": HERE}, content=much[1:]).status_code == 200


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


def test_a_code_cannot_be_found_by_trying(monkeypatch: pytest.MonkeyPatch) -> None:
    code, clock = Code(), [100.0]
    monkeypatch.setattr("companion.page.guard.time.monotonic", lambda: clock[0])
    for _ in range(TRIES):
        assert code.enter("000000" if code.code != "000000" else "111111") is None
    assert code.enter(code.code) is None
    clock[0] += AGAIN_AFTER + 1
    assert code.enter(code.code) is not None
