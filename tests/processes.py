"""How the tests are given out to several processes: what plays in real time comes first and to few of them.

A plugin of pytest, loaded by conftest.py, for pytest-xdist where that is installed.
"""

from __future__ import annotations

import gc
import json
import os
import subprocess
import sys
from collections.abc import Generator
from functools import cache, cached_property
from itertools import islice, takewhile
from pathlib import Path
from typing import Any

import pytest

from companion.resources import DATA_VARIABLE
from companion.stage.priority import ask_for_priority, ask_for_short_turns, give_priority_back, is_granted

PORTS = {"jack_server", "instrument"}
"""Fixtures of tests that play in real time over real ports."""
WORK = """
from time import perf_counter as now
def work():
    begun = now()
    sum(n * n % 7 for n in range(300_000))
    return now() - begun
print(max(work() for _ in range(8)))
"""
"""What a processor needs 0.02 s for where two processes of tests that play in real time don't disturb each other."""
QUICK = 0.035
"""Seconds for it on a machine that has room for two of them: it is as quick, and has little else to do."""
OVER_PORTS, REAL_TIME = "over ports: ", "real time: "
"""Whatever plays in real time is given out a file at a time, under its name after this."""
PRIORITY, JACK_PRIORITY = 1, 60
"""Of the real-time priorities, 1-99: the lowest for whoever plays in a test; for JACK what sound servers have, which is
higher than a companion's own."""
ALLOCATED = 20_000
"""Objects that are made before the garbage collector looks through the young ones; Python's own is 700."""
BEGUN = pytest.StashKey[pytest.Item]()
"""The first test of this process."""


def is_one_of_several(config: pytest.Config) -> bool:
    """Whether the tests run in several processes, of which this is one."""
    return hasattr(config, "workerinput")


def timed(item: pytest.Item) -> str:
    """How a test plays in real time, so that other work on its core would disturb it; empty where it doesn't."""
    if PORTS & set(getattr(item, "fixturenames", ())):
        return OVER_PORTS
    return REAL_TIME if item.get_closest_marker("real_time") else ""


def cores() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@cache
def shared_out() -> list[tuple[str, ...]]:
    """What plays in real time by the processes that play it, what each does first before the rest.

    Two of them would disturb each other on a slow or a busy machine, and over ports also where nobody is granted
    real-time priority.
    """
    working = [subprocess.Popen([sys.executable, "-c", WORK], stdout=subprocess.PIPE) for _ in range(cores())]
    if max(float(one.communicate()[0]) for one in working) >= QUICK:
        return [(OVER_PORTS, REAL_TIME)]
    return [(OVER_PORTS, REAL_TIME), (REAL_TIME, OVER_PORTS) if is_granted(JACK_PRIORITY) else (REAL_TIME,)]


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """All the tests run in a process for each core, and some that play in real time, which are mostly waiting.

    What is named is run in this process, at once.
    """
    if config.args_source is not pytest.Config.ArgsSource.TESTPATHS or cores() == 1:
        return 0
    if not hasattr(os, "SCHED_IDLE"):  # without it the others would take the cores of those that wait
        return cores()
    return cores() + len(shared_out())


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    """Tell each process where to list what plays in real time."""
    node.workerinput["real_time"] = str(Path(os.environ[DATA_VARIABLE], "real-time.json"))


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With several processes, what plays in real time comes first."""
    if is_one_of_several(config):
        items.sort(key=lambda item: not timed(item))


@pytest.hookimpl(tryfirst=True)  # before the tests are reported for being given out
def pytest_collection_finish(session: pytest.Session) -> None:
    """With several processes, list what plays in real time for the one that gives the tests out.

    Thousands of tests stay in memory to the end, and much that is cached: the garbage collector is told to leave the
    tests out, and to look less often.
    """
    gc.freeze()
    gc.set_threshold(ALLOCATED)
    if is_one_of_several(session.config):
        listed = Path(session.config.workerinput["real_time"])
        mine = listed.with_name(f"{listed.name}-{os.getpid()}")
        mine.write_text(json.dumps({item.nodeid: timed(item) for item in session.items if timed(item)}))
        mine.replace(listed)  # whole at any moment; every process writes the same


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """What plays in real time is given out first and to few processes, a file to each; the rest beside it.

    Of those files the ones with most tests come first. Of the rest a test goes to one process with all its rows.
    """
    from xdist.scheduler import LoadScopeScheduling

    class RealTimeTogether(LoadScopeScheduling):  # type: ignore[misc]
        @cached_property
        def timed(self) -> dict[str, str]:
            return dict(json.loads(Path(os.environ[DATA_VARIABLE], "real-time.json").read_text()))

        def _split_scope(self, nodeid: str) -> str:
            kind = self.timed.get(nodeid)
            return kind + nodeid.split("::")[0] if kind else nodeid.split("[")[0]

        def _next_for(self, node: Any) -> str | None:
            """What a process is to do next; None where all that is left plays in real time, and others do that."""
            timed = list(takewhile(lambda scope: scope.startswith((OVER_PORTS, REAL_TIME)), self.workqueue))
            for kind in dict(zip(self.nodes, shared_out(), strict=False)).get(node, ()):
                if own := [scope for scope in timed if scope.startswith(kind)]:
                    return max(own, key=lambda scope: len(self.workqueue[scope]))
            return next(islice(self.workqueue, len(timed), None), None)

        def _assign_work_unit(self, node: Any) -> None:
            self.workqueue.move_to_end(self._next_for(node) or next(iter(self.workqueue)), last=False)
            super()._assign_work_unit(node)

        def _reschedule(self, node: Any) -> None:
            if self.workqueue and not node.shutting_down and self._next_for(node) is None:
                node.shutdown()
            else:
                super()._reschedule(node)

        def mark_test_complete(self, node: Any, item_index: int, duration: float = 0) -> None:
            super().mark_test_complete(node, item_index, duration)
            # All that a process was given is looked through after each test: what is done is taken out.
            given = self.assigned_work[node]
            scope = self._split_scope(self.registered_collections[node][item_index])
            if all(given[scope].values()):
                del given[scope]

    # In the order in which they were collected: those of a module, which may share a costly fixture, stay together.
    config.option.loadscopereorder = False
    return RealTimeTogether(config, log)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """A process that didn't get what plays in real time takes no core from the one that did.

    It and all that it starts run only where a core would be idle (Linux: sched(7), SCHED_IDLE), to its end: not
    everybody may take back a priority given away. The one that did is let in at once where the system knows how.
    """
    if item.config.stash.setdefault(BEGUN, item) is not item or not is_one_of_several(item.config):
        return
    if timed(item):
        ask_for_short_turns()
    elif hasattr(os, "SCHED_IDLE"):
        os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, object, object]:
    """Who plays in a test that is timed goes before everything ordinary, and doesn't stand still for garbage."""
    if not timed(item) or not is_one_of_several(item.config):
        return (yield)
    gc.disable()
    before = ask_for_priority(PRIORITY)
    try:
        return (yield)
    finally:
        give_priority_back(before)
        gc.enable()
