"""Questions to whoever sits at the terminal: yes or no, and no unless they say yes."""

from __future__ import annotations

import sys


def agreed(question: str) -> bool | None:
    """Ask, and wait for a line; None where nobody answers."""
    print(f"{question} [y/N] ", end="", file=sys.stderr, flush=True)
    answer = sys.stdin.readline() if sys.stdin and not sys.stdin.closed else ""
    return answer.strip().lower() in ("y", "yes") if answer else None


def ask(question: str) -> bool:
    """The same at a terminal, where no answer, as by Ctrl-D, is a no."""
    answer = agreed(question)
    if answer is None:
        print(file=sys.stderr)  # Ctrl-D leaves the line as it is
    return bool(answer)


def is_terminal() -> bool:
    """Whether somebody can be asked: what a script pipes in is no answer, and a question in a file is not seen."""
    streams = (sys.stdin, sys.stderr)
    return all(stream is not None and not stream.closed and stream.isatty() for stream in streams)
