"""Which functions each test of a room reaches: so that a mutant is tried only by tests that can see it.

A room's tests are run once as they stand, and every function of the package is noted that is called meanwhile, in any
thread. A function that is called while a test is set up may be called for all the tests of its file (by a fixture that
is kept), so it counts for each of them. What runs in another process isn't seen: a test that starts one counts as
reaching everything.

Conventions: a function is named by its file from the checkout and its qualified name, as
``companion/music/scales.py:Scale.degrees``; seconds.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

STARTING = "subprocess.Popen", "os.fork", "os.posix_spawn"
"""Audit events of starting a process."""
ANYTHING = "*"
"""What a test reaches that starts a process."""


class ReachedFunctions:
    """A plugin of pytest that notes what each test reaches."""

    def __init__(self, checkout: Path):
        self._top = f"{checkout}/"
        self._package = f"{checkout}/companion/"
        self._now: dict[tuple[str, str], None] = {}
        self._starts = False
        self.tests: dict[str, tuple[float, set[str]]] = {}
        """Of each test: how long it took, in seconds, and the functions that it reached itself."""
        self.set_up: dict[str, set[str]] = {}
        """Of each test file: the functions reached while its tests were set up."""

    def begin(self) -> None:
        """Note calls from now on, to the end of the process."""
        sys.addaudithook(self._audit)
        threading.settrace(self._called)
        sys.settrace(self._called)

    def _audit(self, event: str, _: Any) -> None:
        if event in STARTING:
            self._starts = True

    def _called(self, frame: FrameType, event: str, _: Any) -> None:
        code: CodeType = frame.f_code
        if code.co_filename.startswith(self._package):
            self._now[code.co_filename, code.co_qualname] = None

    def _taken(self) -> set[str]:
        found = {f"{file.removeprefix(self._top)}:{name}" for file, name in list(self._now)}
        if self._starts:
            found.add(ANYTHING)
        self._now, self._starts = {}, False
        return found

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_setup(self, item: pytest.Item) -> Iterator[None]:
        self._taken()
        try:
            return (yield)
        finally:
            self.set_up.setdefault(item.nodeid.split("::")[0], set()).update(self._taken())

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item: pytest.Item) -> Iterator[None]:
        sys.settrace(self._called)  # a test may have taken it away
        begun = time.process_time()
        try:
            return (yield)
        finally:
            self.tests[item.nodeid] = time.process_time() - begun, self._taken()

    def told(self) -> dict[str, tuple[float, list[str]]]:
        """Of each test, its seconds and all that it may reach."""
        return {
            test: (round(seconds, 4), sorted(found | self.set_up.get(test.split("::")[0], set())))
            for test, (seconds, found) in self.tests.items()
        }


def reaching(tests: dict[str, tuple[float, list[str]]], functions: set[str]) -> list[str]:
    """The tests that reach one of these functions, the quickest first; at the end those that start a process."""
    found = [
        (ANYTHING in reached, seconds, test)
        for test, (seconds, reached) in tests.items()
        if ANYTHING in reached or not functions.isdisjoint(reached)
    ]
    return [test for _, _, test in sorted(found)]
