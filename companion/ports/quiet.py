"""What libraries print by themselves, kept off the terminal."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator


@contextlib.contextmanager
def quiet_libraries() -> Iterator[None]:
    """Keep what the MIDI libraries print by themselves off standard error; what Python prints there still appears.

    They write to the file descriptor, from threads of their own and at any time.
    """
    try:
        sys.stderr.flush()
        kept = os.dup(2)
    except (OSError, ValueError, AttributeError):
        yield  # no standard error at all
        return
    ours = sys.stderr
    direct = getattr(ours, "fileno", None)
    try:
        to_terminal = direct is not None and direct() == 2
    except (OSError, ValueError):
        to_terminal = False
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    os.close(nowhere)
    if to_terminal:
        sys.stderr = os.fdopen(os.dup(kept), "w", encoding=ours.encoding, errors="replace", buffering=1)
    try:
        yield
    finally:
        if to_terminal:
            sys.stderr.close()
            sys.stderr = ours
        os.dup2(kept, 2)
        os.close(kept)
