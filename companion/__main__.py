"""The command ``companion``, and ``python -m companion``.

Everything is imported inside, so that Ctrl-C has an answer of ours from the first moment.
"""

from __future__ import annotations

import signal
import sys

INTERRUPTED = 130


def run() -> int:
    """Run the command with the words of the process; its exit status."""
    try:
        from companion.cli import main

        status = main()
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # it is done: Python may clean up undisturbed
        return status
    except KeyboardInterrupt:  # before there was anybody to take it, or after
        return INTERRUPTED


if __name__ == "__main__":
    sys.exit(run())
