"""Real-time priority is taken where it is granted, and given back."""

from __future__ import annotations

import gc
import os
import sys
import threading
from types import SimpleNamespace

import pytest

from companion.stage import priority
from companion.stage.priority import (
    ATTRIBUTES,
    ask_for_priority,
    ask_for_short_turns,
    give_priority_back,
    is_granted,
    undisturbed,
)

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


@pytest.fixture
def asked(monkeypatch):
    """What the scheduler is asked for, which grants everything: a process, a policy, a priority."""
    found = []
    monkeypatch.setattr(os, "sched_getscheduler", lambda process: os.SCHED_OTHER)
    monkeypatch.setattr(os, "sched_getparam", lambda process: os.sched_param(0))
    monkeypatch.setattr(
        os, "sched_setscheduler", lambda process, policy, param: found.append((process, policy, param.sched_priority))
    )
    return found


def test_what_is_asked_for_is_first_come_first_served_and_not_for_children(asked):
    """SCHED_FIFO with SCHED_RESET_ON_FORK (man sched_setscheduler)."""
    assert ask_for_priority(60, 123) == (os.SCHED_OTHER, 0) and ask_for_priority(10) == (os.SCHED_OTHER, 0)
    give_priority_back((os.SCHED_FIFO, 7))
    fifo = os.SCHED_FIFO | RESET
    assert asked == [(123, fifo, 60), (0, fifo, 10), (0, fifo, 7)]


def test_whether_priority_is_granted_is_found_out_and_nothing_changed(asked, monkeypatch):
    assert is_granted(5) is True
    assert asked == [(0, os.SCHED_FIFO | RESET, 5), (0, os.SCHED_OTHER | RESET, 0)]
    monkeypatch.setattr(priority, "ask_for_priority", lambda wanted: None)
    assert is_granted(5) is False and len(asked) == 2


@pytest.mark.parametrize(
    ("system", "machine", "answer", "number", "granted"),
    [
        # Numbers of sched_setattr in Linux's tables of system calls.
        ("Linux", "x86_64", 0, 314, True), ("Linux", "aarch64", 0, 274, True), ("Linux", "riscv64", 0, 274, True),
        ("Linux", "x86_64", -1, 314, False), ("Linux", "sparc64", 0, None, False), ("Darwin", "x86_64", 0, None, False),
    ],
)  # fmt: skip
def test_short_turns_are_asked_for_where_the_system_knows_of_them(
    monkeypatch, system, machine, answer, number, granted
):
    """``struct sched_attr`` has 48 bytes; a turn of a tenth of a millisecond is the shortest (man sched_setattr)."""
    calls = []

    def syscall(*words):
        calls.append(words)
        return answer

    monkeypatch.setattr(priority.platform, "system", lambda: system)
    monkeypatch.setattr(priority.platform, "machine", lambda: machine)
    monkeypatch.setattr(priority.ctypes, "CDLL", lambda name: SimpleNamespace(syscall=syscall))
    monkeypatch.setattr(os, "getpriority", lambda which, who: 3 if (which, who) == (os.PRIO_PROCESS, 0) else -1)
    assert ask_for_short_turns() is granted
    if number is None:
        assert calls == []
        return
    [(told, thread, wanted, flags)] = calls
    assert (told, thread, flags) == (number, 0, 0)
    assert len(wanted) == 48 and ATTRIBUTES.unpack(wanted) == (48, os.SCHED_OTHER, 0, 3, 0, 100_000, 0, 0)


@pytest.fixture(params=[False, True], ids=["nothing frozen", "frozen before"])
def frozen(request):
    """Whether somebody else has frozen what is there."""
    before = gc.get_freeze_count()
    gc.unfreeze()
    if request.param:
        gc.freeze()
    yield request.param
    gc.unfreeze()
    if before:
        gc.freeze()


@pytest.mark.parametrize("granted", [True, False])
def test_while_nobody_may_disturb_it_turns_are_short_and_garbage_stays(monkeypatch, granted, frozen):
    before, told = sys.getswitchinterval(), []
    had = (os.SCHED_OTHER, 0) if granted else None
    monkeypatch.setattr(priority, "ask_for_priority", lambda wanted: told.append(wanted) or had)
    monkeypatch.setattr(priority, "give_priority_back", lambda kept: told.append(kept))
    monkeypatch.setattr(priority, "ask_for_short_turns", lambda: told.append("short turns"))
    with undisturbed(60):
        assert sys.getswitchinterval() == pytest.approx(0.0005) and gc.get_freeze_count() > 0
    assert told == ([60, had] if granted else [60, "short turns", None])
    assert sys.getswitchinterval() == before and bool(gc.get_freeze_count()) == frozen
