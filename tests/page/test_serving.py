"""Where the page is: on this machine alone unless it is shared, and a port that is taken is said in a line."""

from __future__ import annotations

import io
import os
import socket
from collections.abc import Callable
from typing import Any

import pytest

from companion.errors import UseError
from companion.page.beside_player import run_beside
from companion.page.hub import Hub
from companion.page.outgoing import PageOpened, read_from_page
from companion.page.serving import PORT, Address, open_address, own_address, serve
from companion.page.stand import MusicStand


def test_the_page_is_on_this_machine_alone_unless_it_is_shared() -> None:
    address = open_address(0)
    with address.socket:
        assert address.socket.getsockname()[0] == "127.0.0.1"
        port = address.socket.getsockname()[1]
        assert address.url == f"http://127.0.0.1:{port}/" and address.shared == ""
        assert address.hosts == [f"127.0.0.1:{port}", f"localhost:{port}"]
        # Elsewhere the option lets others take the port as well.
        taken_again = address.socket.getsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR) != 0
        assert taken_again is (os.name == "posix"), "begun again at once, the page is where it was"


def test_a_shared_page_answers_to_this_machines_own_address() -> None:
    address = open_address(0, share=True)
    with address.socket:
        assert address.socket.getsockname()[0] == "0.0.0.0"
        assert f"{own_address()}:{address.socket.getsockname()[1]}" in address.hosts
        assert own_address() in address.shared


def test_a_port_that_is_taken_is_said_and_the_usual_one_gives_way_to_any_other() -> None:
    taken = open_address(0)
    with taken.socket:
        taken.socket.listen()
        port = taken.socket.getsockname()[1]
        with pytest.raises(UseError, match=f"port {port} is taken; name another with --page-port, or leave it out"):
            open_address(port)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("companion.page.serving.PORT", port)
            other = open_address(None)
            with other.socket:
                assert other.socket.getsockname()[1] != port


def test_the_usual_port_is_one_that_anybody_may_take() -> None:
    # RFC 6335: 1024 to 49151 need no privileges, and what is handed out by chance lies above.
    assert PORT == 7341 and 1024 <= PORT < 49152


@pytest.mark.parametrize(("share", "told"), [(True, 6), (False, 0)])
def test_whoever_shares_the_page_is_told_a_code_when_it_can_be_opened(
    monkeypatch: pytest.MonkeyPatch, share: bool, told: int
) -> None:
    pytest.importorskip("uvicorn", reason="the extra page isn't installed")
    codes: list[str] = []
    patience: list[int] = []
    address, stand = open_address(0), MusicStand(Hub())

    async def ends_at_once(server: Any) -> None:
        patience.append(server.config.timeout_graceful_shutdown)

    monkeypatch.setattr("uvicorn.Server.main_loop", ends_at_once)
    serve(stand, address, share=share, ready=codes.append)
    assert [len(code) for code in codes] == [told] and patience == [1], "an open page holds it up for a second"


@pytest.mark.parametrize(
    ("words", "share", "port", "opened"),
    [
        ([], False, None, False),
        (["share", "open"], True, None, True),
        (["5001"], False, 5001, False),
        (["open", "0"], False, 0, True),
    ],
)
def test_a_page_beside_a_player_says_where_it_is(
    monkeypatch: pytest.MonkeyPatch, words: list[str], share: bool, port: int | None, opened: bool
) -> None:
    asked: list[Any] = []
    out = io.TextIOWrapper(io.BytesIO())
    address = Address(None, "http://here/", "http://there/")  # type: ignore[arg-type]

    def open_it(wanted: int | None, *, share: bool) -> Address:
        asked.append((wanted, share))
        return address

    def serve_it(stand: MusicStand, where: Address, *, share: bool, ready: Callable[[str], None]) -> None:
        asked.append(share)
        ready("123456" if share else "")

    monkeypatch.setattr("companion.page.beside_player.open_address", open_it)
    monkeypatch.setattr("companion.page.beside_player.serve", serve_it)
    monkeypatch.setattr("companion.page.beside_player.open_browser", lambda url: asked.append(url))
    monkeypatch.setattr("companion.page.beside_player.PlayerLines", lambda *_: asked.append("listens"))
    monkeypatch.setattr("sys.stdout", out)
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO()))
    assert run_beside(words) == 0
    said = read_from_page(out.buffer.getvalue())  # type: ignore[attr-defined]
    assert said == (PageOpened("http://here/", "http://there/", "123456") if share else PageOpened("http://here/"))
    assert asked == [(port, share), share, *(["http://here/"] if opened else []), "listens"]
