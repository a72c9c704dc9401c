"""Processes of our own: one that ends while its input is still being read ends in order."""

from __future__ import annotations

import subprocess
import sys

WAITING = """
import threading, time
from companion.stage.beside import take_standard_input
begun = threading.Event()
def read():
    pipe = take_standard_input()
    while line := pipe.readline():
        print(line.decode().strip(), flush=True)
        begun.set()
threading.Thread(target=read, daemon=True).start()
begun.wait(10)
time.sleep(0.1)  # by now it waits for the next line
"""


def test_a_process_may_end_while_a_thread_of_it_waits_for_input() -> None:
    words = [sys.executable, "-c", WAITING]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen(words, **pipes) as process:
        assert process.stdin is not None and process.stdout is not None and process.stderr is not None
        process.stdin.write(b"a line\n")
        process.stdin.flush()
        assert process.stdout.readline() == b"a line\n"
        status, said = process.wait(10), process.stderr.read()
    assert (status, said) == (0, b"")
