"""Real-time priority is taken where it is granted, and given back."""

from __future__ import annotations

import os
import threading

import pytest

from companion.stage.priority import ask_for_priority, give_priority_back

pytestmark = pytest.mark.skipif(not hasattr(os, "sched_setscheduler"), reason="this system has no SCHED_FIFO")
RESET = getattr(os, "SCHED_RESET_ON_FORK", 0)


def policy() -> int:
    return os.sched_getscheduler(0) & ~RESET


def test_priority_is_for_the_thread_alone_and_given_back():
    seen, usual = [], policy()

    def play():
        before = ask_for_priority(10)
        if before is None:
            return  # refused: nothing to give back
        seen.append(policy())
        inner = threading.Thread(target=lambda: seen.append(policy()))
        inner.start()
        inner.join()
        give_priority_back(before)
        seen.append(policy())

    thread = threading.Thread(target=play)
    thread.start()
    thread.join()
    assert seen in ([], [os.SCHED_FIFO, os.SCHED_OTHER, usual])


def test_a_refusal_is_no_error(monkeypatch):
    def refuse(*_):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "sched_setscheduler", refuse)
    assert ask_for_priority(10) is None
    give_priority_back(None)
