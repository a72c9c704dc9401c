"""Questions at the terminal: no is meant unless somebody says yes."""

from __future__ import annotations

import io
import sys

import pytest

from companion.cli.asking import agreed, ask, is_terminal


class Terminal(io.StringIO):
    """A stream that says that somebody sits there."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("typed", "answer"),
    [("y\n", True), ("Yes \n", True), ("\n", False), ("n\n", False), ("yep\n", False), ("", None)],
)
def test_only_a_yes_is_a_yes_and_the_end_of_the_input_is_no_answer(
    typed: str, answer: bool | None, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    assert agreed("all of it?") is answer
    assert capsys.readouterr() == ("", "all of it? [y/N] ")
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    assert ask("all of it?") is bool(answer)
    assert capsys.readouterr().err == "all of it? [y/N] " + ("\n" if answer is None else "")


def test_without_an_input_nobody_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    closed = io.StringIO("y\n")
    closed.close()
    for stream in (None, closed):
        monkeypatch.setattr(sys, "stdin", stream)
        assert agreed("all of it?") is None and ask("all of it?") is False


def test_somebody_can_be_asked_where_both_streams_are_a_terminals(monkeypatch: pytest.MonkeyPatch) -> None:
    closed = Terminal()
    closed.close()
    for stdin, stderr, asked in (
        (Terminal(), Terminal(), True),
        (io.StringIO(), Terminal(), False),
        (Terminal(), io.StringIO(), False),
        (None, Terminal(), False),
        (Terminal(), closed, False),
    ):
        monkeypatch.setattr(sys, "stdin", stdin)
        monkeypatch.setattr(sys, "stderr", stderr)
        assert is_terminal() is asked
