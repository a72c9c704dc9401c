"""The libraries' own words are kept off the terminal, and ours are not."""

from __future__ import annotations

import subprocess
import sys


def test_what_python_prints_is_seen_while_the_libraries_are_quiet():
    program = """
import os, sys
from companion.ports.quiet import quiet_libraries
with quiet_libraries():
    print("ours", file=sys.stderr)
    os.write(2, b"theirs")
print("after", file=sys.stderr)
"""
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert run.stderr == "ours\nafter\n"
