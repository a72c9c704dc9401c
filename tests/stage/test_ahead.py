"""Work done ahead of its moment, beside the playing: in bites, with the same results, and never failing in silence."""

from __future__ import annotations

import sys
import threading
import time
from itertools import count
from queue import SimpleQueue
from typing import Any

import pytest

from companion.messages import Order
from companion.stage import ahead as ahead_of_time
from companion.stage.ahead import SLICE, Ahead, in_slices
from companion.stage.rehearsal import Prepared, Rehearsal
from companion.stage.settings import Settings


def waited_for(queue: SimpleQueue[Any]) -> Any:
    return queue.get(timeout=20)


def test_it_is_done_in_the_order_in_which_it_is_asked_for_beside_who_asks() -> None:
    done: SimpleQueue[tuple[int, threading.Thread]] = SimpleQueue()
    ahead = Ahead(done.put, done.put)
    ahead.start()
    for chorus in (3, 4, 5):
        ahead.ask(lambda chorus=chorus: (chorus, threading.current_thread()))
    found = [waited_for(done) for _ in range(3)]
    ahead.end()
    assert [chorus for chorus, _ in found] == [3, 4, 5]
    assert all(thread is not threading.current_thread() for _, thread in found)


def test_what_fails_is_told_and_is_the_end_of_it(capfd: pytest.CaptureFixture[str]) -> None:
    told: SimpleQueue[Exception] = SimpleQueue()
    begun: list[int] = []
    given: list[object] = []

    def work() -> None:
        begun.append(1)
        raise ValueError("no such chord")

    ahead = Ahead(given.append, told.put)
    ahead.start()
    ahead.ask(work)
    ahead.ask(work)
    assert str(waited_for(told)) == "no such chord"
    ahead.end()
    ahead.join(10)
    assert begun == [1] and told.empty() and not given
    assert capfd.readouterr() == ("", "")


def test_it_pauses_over_and_over_so_that_others_get_their_turn() -> None:
    """By the thread's own clock: no piece between two pauses takes much more than a bite of work."""
    pieces: list[float] = []
    begun = [time.thread_time()]

    def pause(_: float) -> None:
        pieces.append(time.thread_time() - begun[0])
        begun[0] = time.thread_time()

    def work() -> None:
        end = time.thread_time() + 40 * SLICE
        while time.thread_time() < end:
            sorted(range(50), key=lambda n: -n)

    thread = threading.Thread(target=lambda: in_slices(work, pause))
    thread.start()
    thread.join(20)
    assert len(pieces) >= 10
    assert sum(pieces) / len(pieces) < 3 * SLICE


def test_it_pauses_as_soon_as_a_slice_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """By a clock that goes on by one with each look: every slice is three long, and begins with a look of its own."""
    clock = count(1)
    looks: list[int] = []

    def look() -> int:
        looks.append(next(clock))
        return looks[-1]

    paused: list[tuple[int, float]] = []
    monkeypatch.setattr(ahead_of_time, "SLICE", 3)
    monkeypatch.setattr(ahead_of_time, "now", look)
    in_slices(lambda: [abs(n) for n in range(20)], lambda seconds: paused.append((looks[-1], seconds)))
    assert [at for at, _ in paused[:3]] == [4, 8, 12] and {seconds for _, seconds in paused} == {0.0012}


@pytest.mark.parametrize(("priority", "asked"), [(0, []), (5, [5])])
def test_it_asks_for_the_priority_that_it_was_given(
    monkeypatch: pytest.MonkeyPatch, priority: int, asked: list[int]
) -> None:
    found: list[int] = []
    done: SimpleQueue[int] = SimpleQueue()
    monkeypatch.setattr(ahead_of_time, "ask_for_priority", found.append)
    working = Ahead(done.put, done.put, priority)
    working.start()
    working.ask(lambda: 1)
    assert waited_for(done) == 1 and found == asked
    working.end()
    working.join(10)


def test_nothing_of_it_stays_in_the_thread_that_did_the_work() -> None:
    assert in_slices(lambda: 5, lambda _: None) == 5
    assert sys.getprofile() is None


def test_a_chorus_prepared_in_slices_is_the_same_note_for_note(stand: Any) -> None:
    chart = stand.tune()
    heard = stand.melody(chart, (2.0, 0, 128, 200))
    told = Settings(tempo=200.0, start=2.0)
    plain, ahead = Rehearsal(chart, told), Rehearsal(chart, told)
    failed: SimpleQueue[Exception] = SimpleQueue()
    inbox: SimpleQueue[Prepared] = SimpleQueue()
    working = Ahead(inbox.put, failed.put)
    working.start()
    orders: list[list[Order]] = [[], []]
    for n, event in enumerate(heard):
        if n % 40 == 0:
            working.ask(ahead.prepare(n // 40 + 1))
        while not inbox.empty():
            ahead.adopt(inbox.get())
        for mine, rehearsal in zip(orders, (plain, ahead), strict=True):
            mine += rehearsal.advance(event.seconds, [event]).orders
    working.end()
    assert orders[0] == orders[1] and len(orders[0]) > 100 and failed.empty()
