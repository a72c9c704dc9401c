"""The line that says how far long work is: ten times a second at most, and gone at the end."""

from __future__ import annotations

import io
import sys
from types import SimpleNamespace

import pytest

from companion.cli import progress
from companion.cli.ending import leave_a_clean_line
from companion.cli.progress import Progress
from tests.cli.test_asking import Terminal


class Clock:
    """A clock that is set by hand."""

    now = 0.0

    def monotonic(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(progress, "time", SimpleNamespace(monotonic=made.monotonic))
    return made


def at_a_terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    """What standard error shows; called within a test, for pytest takes its place between fixtures and tests."""
    made = Terminal()
    monkeypatch.setattr(sys, "stderr", made)
    return made


def test_the_line_is_rewritten_in_place_ten_times_a_second_and_taken_away(
    clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    terminal = at_a_terminal(monkeypatch)
    with Progress("replaying", 20.0) as shown:
        for clock.now, done in ((0.09, 1.0), (0.1, 5.0), (0.19, 6.0), (0.2, -1.0), (0.35, 21.0)):
            shown.show(done)
    # What was longer before is written over with a space; at the end two columns more, for the ^C of a terminal.
    assert terminal.getvalue() == "\rreplaying: 25 %\rreplaying: 0 % \rreplaying: 100 %\r" + " " * 18 + "\r"


def test_work_of_no_size_is_done(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = at_a_terminal(monkeypatch)
    with Progress("replaying", 0.0) as shown:
        clock.now = 1.0
        shown.show(0.0)
    assert terminal.getvalue().startswith("\rreplaying: 100 %\r")


def test_work_is_measured_in_shares_unless_it_is_said(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = at_a_terminal(monkeypatch)
    with Progress("rendering") as shown:
        clock.now = 1.0
        shown.show(0.5)
    assert terminal.getvalue().startswith("\rrendering: 50 %\r")


def test_short_work_and_work_that_nobody_watches_show_nothing(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = at_a_terminal(monkeypatch)
    with Progress("replaying") as shown:
        shown.show(0.5)
    assert terminal.getvalue() == ""
    for stream in (None, io.StringIO()):
        monkeypatch.setattr(sys, "stderr", stream)
        with Progress("replaying") as shown:
            clock.now += 1
            shown.show(0.5)
        assert stream is None or stream.getvalue() == ""


def test_after_ctrl_c_the_terminal_is_clean_and_elsewhere_the_line_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = at_a_terminal(monkeypatch)
    leave_a_clean_line()
    assert terminal.getvalue() == "\r  \r"
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    leave_a_clean_line()
    assert sys.stderr.getvalue() == "\n"  # type: ignore[attr-defined]
