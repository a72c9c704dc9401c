"""Real-time priority, where the system grants it (SCHED_FIFO on Linux).

A thread that has it runs as soon as it wants to, before everything ordinary: a note isn't late because a browser is
busy. It must sleep most of the time, or nothing else runs. Threads and processes that it starts don't inherit it.
"""

from __future__ import annotations

import os

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
