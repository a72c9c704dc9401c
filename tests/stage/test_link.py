"""The link to a sender, against senders that do as they are told: a process that answers, one that is silent, one that
fails at once. Frames are those of :mod:`companion.stage.wire`; the real sender is met in ``test_sender.py``.
"""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import pytest

from companion.errors import DeviceError
from companion.stage import link
from companion.stage.link import HUNG, UNANSWERED, Notice, SenderLink
from companion.stage.wire import ALIVE, END, FRAME, HEARTBEAT, ORDER, PLAYER, THROUGH, SenderWords, unpack

READY = '{"what": "ready", "realtime": false, "port": "synth", "silenced": true, "mark": null}'
SENDER = """
import sys
kept, ready, answers = open(sys.argv[1], "wb", buffering=0), sys.argv[2], sys.argv[3:]
print(ready, flush=True)
while frame := sys.stdin.buffer.read(12):
    kept.write(frame)
    for answer in answers:
        kind, line = answer.split(" ", 1)
        if frame[8] == int(kind):
            print(line, flush=True)
            if line == "":
                sys.exit()
"""


class Sender:
    """One link after the other; what their senders got, and what was told."""

    def __init__(self, folder: Path, patch: pytest.MonkeyPatch) -> None:
        self.frames = folder / "frames"
        self.notices: SimpleQueue[Notice] = SimpleQueue()
        self.clock = 1000.0
        self.links: list[SenderLink] = []
        patch.setattr(link, "now", lambda: self.clock)
        self.patch = patch

    def __call__(self, *answers: str, ready: str = READY, **more: Any) -> SenderLink:
        words = [sys.executable, "-S", "-E", "-c", SENDER, str(self.frames), ready, *answers]

        def start(*_: str) -> subprocess.Popen[bytes]:
            return subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE)

        self.patch.setattr(link, "start_beside", start)
        made = SenderLink(SenderWords("", None, (0, 1), **more), self.notices.put)
        self.links.append(made)
        return made

    def got(self, count: int) -> list[tuple[float, int, tuple[int, int, int]]]:
        """So many frames, as soon as they are there."""
        wait_for(lambda: self.frames.stat().st_size >= count * FRAME.size)
        data = self.frames.read_bytes()
        return [tuple(unpack(data[at : at + FRAME.size])) for at in range(0, len(data), FRAME.size)]  # type: ignore[misc]


def wait_for(condition: Callable[[], bool], seconds: float = 8.0) -> None:
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.005)
    assert condition()


@pytest.fixture
def sender(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Sender]:
    made = Sender(tmp_path, monkeypatch)
    yield made
    for one in made.links:
        one._process.kill()
        one._wait_for_end()


def test_what_the_sender_says_when_it_is_ready_is_known(sender: Sender) -> None:
    made = sender()
    assert (made.realtime, made.port, made.silenced) == (False, "synth", True) and made.pid > 0


@pytest.mark.parametrize(
    ("ready", "said"),
    [
        ('{"what": "failed", "text": "no such port", "mend": "plug it in"}', "no such port"),
        ('{"what": "failed"}', "did not start"), ("no notice", "did not start"), ("{}", "did not start"),
    ],
)  # fmt: skip
def test_a_sender_that_can_not_open_its_output_is_told_in_its_words(sender: Sender, ready: str, said: str) -> None:
    with pytest.raises(DeviceError, match=said):
        sender(ready=ready)


def test_orders_and_the_players_own_messages_cross_as_frames(sender: Sender) -> None:
    made = sender()
    made.order(1000.5, (0x91, 40, 90))
    made.player((0x90, 60, 80))
    made.player((0x90, 62, 80), through=1000.25)
    assert sender.got(3) == [
        (1000.5, ORDER, (0x91, 40, 90)), (0.0, PLAYER, (0x90, 60, 80)), (1000.25, THROUGH, (0x90, 62, 80))
    ]  # fmt: skip


def test_signs_of_life_are_given_when_they_are_due(sender: Sender) -> None:
    made = sender()
    for later in (0.0, 0.1, 0.19, 0.21, 0.4, 0.42):
        sender.clock = 1000.0 + later
        made.alive()
    made.order(0.0, (0x90, 1, 1))
    assert [kind for _, kind, _ in sender.got(4)] == [ALIVE, ALIVE, ALIVE, ORDER]


def test_while_it_waits_signs_of_life_go_on(sender: Sender, monkeypatch: pytest.MonkeyPatch) -> None:
    made, slept = sender(), list[float]()

    def sleep(seconds: float) -> None:
        slept.append(seconds)
        sender.clock += seconds

    with monkeypatch.context() as patch:
        patch.setattr(link.time, "sleep", sleep)
        made.wait_until(1000.55)
        made.wait_until(1000.0)
    assert sum(slept) == pytest.approx(0.55) and max(slept) <= HEARTBEAT / 2
    assert [kind for _, kind, _ in sender.got(3)] == [ALIVE] * 3


@pytest.mark.parametrize("answers", [True, False])
def test_a_sender_that_answers_no_sign_of_life_is_ended(sender: Sender, answers: bool) -> None:
    made = sender(*([f'{ALIVE} {{"what": "alive"}}'] if answers else []))
    for n in range(HUNG):
        sender.clock = 1000.0 + n
        made.alive()
        if answers:
            wait_for(lambda: made._unanswered == 0)
    assert made._process.poll() is None and made._unanswered == (0 if answers else HUNG)
    sender.clock = 2000.0
    made.alive()
    if answers:
        assert len(sender.got(HUNG + 1)) == HUNG + 1 and made._process.poll() is None
    else:
        assert sender.notices.get(timeout=8) == Notice("died") and made._process.wait(8) != 0


def test_what_the_sender_says_is_handed_on_and_its_port_may_change(sender: Sender) -> None:
    made = sender(
        f'{ORDER} {{"what": "lost"}}', f'{PLAYER} {{"what": "back", "port": "upright"}}', f'{ALIVE} {{"what": "alive"}}'
    )
    made.order(0.0, (0x90, 1, 1))
    assert sender.notices.get(timeout=8) == Notice("lost") and made.port == "synth"
    made.alive()
    made.player((0x90, 60, 80))
    assert sender.notices.get(timeout=8) == Notice("back", {"port": "upright"}) and made.port == "upright"


def test_at_an_orderly_end_the_figures_are_told_and_nothing_died(sender: Sender) -> None:
    made = sender(f'{END} {{"what": "done", "sent": 4, "dropped": 1}}', f"{END} ")
    assert made.end() == {"sent": 4, "dropped": 1}
    assert sender.notices.empty() and not made._stood_in and made._process.returncode == 0


def test_a_sender_that_does_not_end_is_ended(sender: Sender, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(link, "END_PATIENCE", 0.05)
    made = sender()
    assert made.end() == {} and made._stood_in and made._process.returncode != 0
    assert [kind for _, kind, _ in sender.got(1)] == [END]


@pytest.mark.parametrize(("unanswered", "asked"), [(UNANSWERED - 1, True), (UNANSWERED, False)])
def test_a_sender_in_doubt_is_not_waited_for_long(
    sender: Sender, monkeypatch: pytest.MonkeyPatch, unanswered: int, asked: bool
) -> None:
    waited: list[float | None] = []
    made = sender()
    for n in range(unanswered):
        sender.clock = 1000.0 + n
        made.alive()
    sender.got(unanswered)
    silent = threading.Event()
    monkeypatch.setattr(made._silent, "wait", lambda seconds: waited.append(seconds) or silent.is_set())
    made.end()
    assert waited == [link.END_PATIENCE if asked else link.IMPATIENCE]


def test_a_sender_that_dies_is_told_once(sender: Sender) -> None:
    made = sender(f"{ORDER} ")
    made.order(0.0, (0x90, 1, 1))
    assert sender.notices.get(timeout=8) == Notice("died")
    made.order(0.0, (0x90, 1, 1))  # into a pipe that nobody reads
    made.alive()
    assert made.end() == {} and sender.notices.empty()


# What is silenced from here, where the sender was killed


class Port:
    """An output that remembers what was sent."""

    sent: list[tuple[int, ...]]

    def __init__(self, api: str, port: str) -> None:
        self.sent = Port.sent = []

    def send(self, message: Any) -> None:
        self.sent.append(tuple(message))

    def close(self) -> None:
        self.sent.append(())


def test_what_a_killed_sender_left_sounding_is_ended_from_here(
    sender: Sender, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    mark = tmp_path / "mark"
    mark.write_text("{}")
    made = sender(ready=READY.replace('"mark": null', f'"mark": "{mark}"'))
    monkeypatch.setattr(link, "Output", Port)
    monkeypatch.setattr(link, "DRAIN", 0.0)
    monkeypatch.setattr(link.jack, "_left_at", float("-inf"))
    made.words = SenderWords("jack", "upright", (0, 1))
    made.order(1000.0, (0x91, 40, 90))  # still down
    made.order(999.0, (0x91, 47, 90))
    made.order(999.4, (0x81, 47, 64))  # more than half a second ago: that end has been sent
    made.order(1000.0, (0x91, 43, 90))
    made.order(1000.2, (0x81, 43, 64))  # this one may not have been
    made.order(1000.0, (0x90, 60, 0))
    made.silence_for()
    assert link.jack._left_at > float("-inf")  # the sender's client, whose place is taken now
    ended = {(m[0] & 15, m[1]) for m in Port.sent if m and m[0] & 0xF0 == 0x80}
    assert ended == {(1, 40), (1, 43)} and Port.sent[-1] == () and not mark.exists()
    assert {(m[0] & 15, *m[1:]) for m in Port.sent if m and m[0] & 0xF0 == 0xB0} >= {(0, 123, 0), (1, 123, 0)}


def test_where_the_output_has_gone_as_well_there_is_nothing_to_silence(
    sender: Sender, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone(*_: str) -> Port:
        raise DeviceError("it has gone")

    made = sender()
    monkeypatch.setattr(link, "Output", gone)
    made.words = SenderWords("jack", "upright", (0, 1))
    made.order(1000.0, (0x91, 40, 90))
    made.silence_for()
    assert made._stood_in
