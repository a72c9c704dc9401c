"""The commands: reads the words, calls one function, prints the answer."""

from __future__ import annotations

import sys


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit status."""
    print("companion: no commands yet", file=sys.stderr)
    return 2
