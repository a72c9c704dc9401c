"""A JACK server's death is told to whoever has a port on it."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from companion.ports.jack import watch


@pytest.mark.jack
def test_a_server_that_lives_is_watched_by_one_watch(jack_server):
    found = watch()
    assert found.alive and found.had_server
    assert watch() is found


def test_where_there_is_no_server_nothing_is_said_and_nothing_crashes(monkeypatch):
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "there-is-none")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    found = watch()
    assert found.alive and not found.had_server  # unknown counts as alive: the ports' own list says the rest


@pytest.mark.jack
def test_a_server_that_dies_is_noticed_and_its_clients_end_in_peace(jack_server):
    # In a process of its own: what goes wrong here is a crash.
    program = """
import os, subprocess, sys, time
name = f"companion-watch-{os.getpid()}"
os.environ["JACK_DEFAULT_SERVER"] = name
words = ["jackd", "--no-realtime", "--no-mlock", "-n", name, "-d", "dummy", "-r", "48000", "-p", "64"]
server = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
subprocess.run(["jack_wait", "-s", name, "-w", "-t", "20"], check=True, stdout=subprocess.DEVNULL)
import rtmidi
from companion.ports.jack import watch
found = watch()
server.terminate()
server.wait()
end = time.monotonic() + 10
while found.alive and time.monotonic() < end:
    time.sleep(0.01)
print("alive" if found.alive else "dead", flush=True)
"""
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, env=dict(os.environ))
    assert (run.returncode, run.stdout) == (0, "dead\n")
