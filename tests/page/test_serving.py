"""Where the page is: on this machine alone unless it is shared, and a port that is taken is said in a line."""

from __future__ import annotations

import pytest

from companion.errors import UseError
from companion.page.serving import open_address, own_address


def test_the_page_is_on_this_machine_alone_unless_it_is_shared() -> None:
    address = open_address(0)
    with address.socket:
        assert address.socket.getsockname()[0] == "127.0.0.1"
        port = address.socket.getsockname()[1]
        assert address.url == f"http://127.0.0.1:{port}/" and address.shared == ""
        assert address.hosts == [f"127.0.0.1:{port}", f"localhost:{port}"]


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
        with pytest.raises(UseError, match=f"port {port} is taken"):
            open_address(port)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("companion.page.serving.PORT", port)
            other = open_address(None)
            with other.socket:
                assert other.socket.getsockname()[1] != port
