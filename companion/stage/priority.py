"""Real-time priority, where the system grants it (SCHED_FIFO on Linux), and short turns, where it doesn't.

A thread that has it runs as soon as it wants to, before everything ordinary: a note isn't late because a browser is
busy. It must sleep most of the time, or nothing else runs. Threads and processes that it starts don't inherit it.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import os
import platform
import struct
import sys
from collections.abc import Iterator

SHORT_TURN = 100_000
"""Nanoseconds: the shortest turn that can be asked for."""
SWITCH = 0.0005
"""Seconds after which another Python thread gets its turn (Python's own: ten times as long)."""
ATTRIBUTES = struct.Struct("=IIQiIQQQ")
"""``struct sched_attr``: size, policy, flags, nice, priority, runtime, deadline, period."""
SCHED_SETATTR = {"x86_64": 314, "aarch64": 274, "riscv64": 274}
"""Numbers of Linux's system call, which many C libraries have no function for."""

Schedule = tuple[int, int]
"""A policy of the scheduler, and a priority within it."""


def ask_for_priority(priority: int, process: int = 0) -> Schedule | None:
    """Ask for real-time priority for the calling thread, or the main thread of a process.

    Parameters
    ----------
    priority : int
        1-99; the sound servers have 60 and more.
    process : int
        Number of the process; 0 is the calling thread.

    Returns
    -------
    tuple or None
        What it had before; None when it is refused, or unknown on this system.
    """
    if not hasattr(os, "sched_setscheduler"):
        return None
    try:
        before = os.sched_getscheduler(process), os.sched_getparam(process).sched_priority
        os.sched_setscheduler(process, os.SCHED_FIFO | os.SCHED_RESET_ON_FORK, os.sched_param(priority))
    except OSError:
        return None
    return before


def give_priority_back(before: Schedule | None) -> None:
    """Return to what :func:`ask_for_priority` told."""
    if before is not None:
        policy, priority = before
        os.sched_setscheduler(0, policy | os.SCHED_RESET_ON_FORK, os.sched_param(priority))


def is_granted(priority: int) -> bool:
    """Whether real-time priority is granted here; nothing is changed."""
    before = ask_for_priority(priority)
    give_priority_back(before)
    return before is not None


def ask_for_short_turns() -> bool:
    """Ask for short turns on the processor for the calling thread, in exchange for being let in sooner.

    Nobody has to grant it: a thread gets no more of the processor by it. Linux's scheduler (EEVDF, from version 6.12)
    lets a thread that wakes up in before those with longer turns (man sched_setattr: ``sched_runtime`` of
    SCHED_OTHER). Threads started afterwards inherit it. False where the system knows nothing of it.
    """
    number = SCHED_SETATTR.get(platform.machine())
    if number is None or platform.system() != "Linux":
        return False
    nice = os.getpriority(os.PRIO_PROCESS, 0)
    wanted = ATTRIBUTES.pack(ATTRIBUTES.size, os.SCHED_OTHER, 0, nice, 0, SHORT_TURN, 0, 0)
    return bool(ctypes.CDLL(None).syscall(number, 0, wanted, 0) == 0)


@contextlib.contextmanager
def undisturbed(priority: int) -> Iterator[None]:
    """Keep others off the calling thread.

    Python's housekeeping is kept short: what is there already needn't be looked at for garbage, and threads take turns
    after :data:`SWITCH`. And this thread gets real-time priority where it is granted; the threads beside it don't.
    """
    interval, frozen = sys.getswitchinterval(), gc.get_freeze_count()
    gc.collect()
    gc.freeze()
    sys.setswitchinterval(SWITCH)
    before = ask_for_priority(priority)
    if before is None:
        ask_for_short_turns()
    try:
        yield
    finally:
        give_priority_back(before)
        sys.setswitchinterval(interval)
        if not frozen:  # or else it is the business of whoever froze first
            gc.unfreeze()
