"""How the tests are given out to several processes: what plays in real time comes first and to few of them.

A plugin of pytest, loaded by conftest.py, for pytest-xdist where that is installed.
"""

from __future__ import annotations

import gc
import json
import os
import subprocess
import sys
from functools import cache, cached_property
from itertools import islice, takewhile
from pathlib import Path
from typing import Any

import pytest

from companion.resources import DATA_VARIABLE

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
REAL_TIME = "real time: "
"""Whatever plays in real time is given out a file at a time, under its name after this."""
BEGUN = pytest.StashKey[pytest.Item]()
"""The first test of this process."""


def is_one_of_several(config: pytest.Config) -> bool:
    """Whether the tests run in several processes, of which this is one."""
    return hasattr(config, "workerinput")


def is_timed(item: pytest.Item) -> bool:
    """Whether a test plays in real time, so that other work on its core would disturb it."""
    return bool(PORTS & set(getattr(item, "fixturenames", ())) or item.get_closest_marker("real_time"))


def cores() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@cache
def together() -> int:
    """In how many processes tests play in real time: in two they disturb each other on a slow or a busy machine."""
    working = [subprocess.Popen([sys.executable, "-c", WORK], stdout=subprocess.PIPE) for _ in range(cores())]
    return 2 if max(float(one.communicate()[0]) for one in working) < QUICK else 1


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """All the tests run in a process for each core, and some that play in real time, which are mostly waiting.

    What is named is run in this process, at once.
    """
    if config.args_source is not pytest.Config.ArgsSource.TESTPATHS or cores() == 1:
        return 0
    return cores() + (together() if hasattr(os, "SCHED_IDLE") else 0)  # without it the others would take their cores


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    """Tell each process where to list what plays in real time."""
    node.workerinput["real_time"] = str(Path(os.environ[DATA_VARIABLE], "real-time.json"))


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With several processes, what plays in real time comes first."""
    if is_one_of_several(config):
        items.sort(key=lambda item: not is_timed(item))


@pytest.hookimpl(tryfirst=True)  # before the tests are reported for being given out
def pytest_collection_finish(session: pytest.Session) -> None:
    """With several processes, list what plays in real time for the one that gives the tests out.

    Thousands of tests stay in memory to the end: the garbage collector is told not to go through them again and again.
    """
    gc.freeze()
    if is_one_of_several(session.config):
        listed = Path(session.config.workerinput["real_time"])
        mine = listed.with_name(f"{listed.name}-{os.getpid()}")
        mine.write_text(json.dumps([item.nodeid for item in session.items if is_timed(item)]))
        mine.replace(listed)  # whole at any moment; every process writes the same


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """What plays in real time is given out first and to few processes, a file to each; the rest beside it.

    Of those files the ones with most tests come first. Of the rest a test goes to one process with all its rows.
    """
    from xdist.scheduler import LoadScopeScheduling

    class RealTimeTogether(LoadScopeScheduling):  # type: ignore[misc]
        @cached_property
        def timed(self) -> frozenset[str]:
            return frozenset(json.loads(Path(os.environ[DATA_VARIABLE], "real-time.json").read_text()))

        def _split_scope(self, nodeid: str) -> str:
            return REAL_TIME + nodeid.split("::")[0] if nodeid in self.timed else nodeid.split("[")[0]

        def _next_for(self, node: Any) -> str | None:
            """What a process is to do next; None where all that is left plays in real time, and others do that."""
            timed = list(takewhile(lambda scope: scope.startswith(REAL_TIME), self.workqueue))
            if timed and node in self.nodes[: together()]:
                return max(timed, key=lambda scope: len(self.workqueue[scope]))
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
    everybody may take back a priority given away.
    """
    begun = item.config.stash.setdefault(BEGUN, item)
    if begun is item and is_one_of_several(item.config) and not is_timed(item) and hasattr(os, "SCHED_IDLE"):
        os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
