"""A player process as the page sees it: its lines are read to the end, and it is ended though it doesn't listen."""

from __future__ import annotations

import io
import subprocess
import threading
from typing import Any

import pytest

from companion.page import players
from companion.page.outgoing import Begun, LineSaid, OnTheStand, Over, to_line
from companion.page.players import OwnPlayer, PlayerLines, WishPipe

STAND = OnTheStand(Begun(number=1, title="Ferry", you=("melody",), parts=("bass",)), "format = 1")


class Lines(io.BytesIO):
    """Lines that say how much of one is read at a time."""

    asked: int | None = None

    def readline(self, size: int | None = -1) -> bytes:
        self.asked = size
        return super().readline(size)


def test_every_line_is_handed_on_as_what_it_is_and_the_end_is_told_once() -> None:
    told: list[Any] = []
    over = threading.Event()
    written = (to_line(STAND), b"nonsense\n", to_line(LineSaid("hello")), b"{}\n", to_line(Over()))
    lines = Lines(b"".join(written))

    def ended() -> None:
        told.append("ended")
        over.set()

    PlayerLines(lines, told.append, told.append, ended)
    assert over.wait(5)
    assert told == [STAND, LineSaid("hello"), Over(), "ended"]
    assert lines.asked == 4_194_304 and lines.closed, "four megabytes: a chart of one, each sign written as four"


def test_a_wish_to_a_player_who_has_gone_is_dropped() -> None:
    pipe = io.BytesIO()
    wishes = WishPipe(pipe)
    wishes.wish("treatment", ("B", "pedal"))
    assert pipe.getvalue() == b'{"kind":"wish","wish":"treatment","value":["B","pedal"]}\n'
    pipe.close()
    wishes.wish("stop")


class Process:
    """A process that ends when it is asked to, or only when it is killed."""

    def __init__(self, *, listens: bool) -> None:
        self.stdin, self.stdout, self.listens = io.BytesIO(), io.BytesIO(), listens
        self.status: int | None = None
        self.happened: list[Any] = []
        self.stdin.close = lambda: self.happened.append(self.stdin.getvalue())  # type: ignore[method-assign]

    def poll(self) -> int | None:
        return self.status

    def wait(self, timeout: float | None = None) -> None:
        self.happened.append(timeout)
        if not self.listens and self.status is None:
            raise subprocess.TimeoutExpired("player", timeout or 0.0)
        self.status = 0 if self.status is None else self.status

    def kill(self) -> None:
        self.happened.append("killed")
        self.status = -9


@pytest.mark.parametrize(("listens", "happened"), [(True, [3.0]), (False, [3.0, "killed", None])])
def test_a_player_is_ended_in_order_or_at_once_where_it_doesnt_listen(
    monkeypatch: pytest.MonkeyPatch, listens: bool, happened: list[Any]
) -> None:
    process, asked = Process(listens=listens), []

    def start_beside(*words: str) -> Process:
        asked.append(words)
        return process

    monkeypatch.setattr(players, "start_beside", start_beside)
    player = OwnPlayer("companion.page.demo_player", "{}")
    assert asked == [("companion.page.demo_player", "{}")]
    assert player.plays is True and player.lines is process.stdout
    player.end()
    assert process.happened == [b'{"kind":"wish","wish":"stop","value":null}\n', *happened]
    assert player.plays is False
