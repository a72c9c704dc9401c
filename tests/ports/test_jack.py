"""A JACK server's death is told to whoever has a port on it."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from companion.ports import jack
from companion.ports.binding import binding
from companion.ports.jack import TOLD, watch


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
    found.ask()  # nobody answers
    assert found.connections("system:midi_capture_1") == set() and not found.connect("a:out", "b:in")
    assert watch() is not found, "a server may be there next time"


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
from companion.ports.binding import binding
from companion.ports.jack import watch
binding()
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


@pytest.mark.jack
def test_a_cable_between_two_instruments_is_laid_and_seen_from_both_ends(instrument):
    for name in ("upright", "organ"):
        instrument(name)  # JACK numbers the second client of a name, which has the ears
    found = watch()
    assert found.connections("upright:keys") == set() == found.connections("nobody:keys")
    assert found.connect("upright:keys", "organ-01:ears")
    end = time.monotonic() + 5
    while not found.connections("upright:keys") and time.monotonic() < end:
        time.sleep(0.01)  # JACK makes a connection between two periods
    assert found.connections("upright:keys") == {"organ-01:ears"}
    assert found.connections("organ-01:ears") == {"upright:keys"}
    assert found.connect("upright:keys", "organ-01:ears"), "it is there already"
    assert found.connect("upright:keys", "upright-01:ears")
    while len(found.connections("upright:keys")) < 2 and time.monotonic() < end:
        time.sleep(0.01)
    assert found.connections("upright:keys") == {"organ-01:ears", "upright-01:ears"}
    assert not found.connect("upright:keys", "nobody:ears")
    found.alive = False
    try:
        assert found.connections("upright:keys") == set() and not found.connect("upright:keys", "organ-01:ears")
    finally:
        found.alive = True


@pytest.mark.parametrize(
    ("loaded", "taken"),
    [
        ("7f0 r-xp 08:01 12 /usr/lib/libc.so.6\n7f1 r-xp 08:01 13 /a/libjack-1.so.0.1\n", "/a/libjack-1.so.0.1"),
        ("7f1 r-xp 08:01 13 /a/libjacket.txt\n7f2 r-xp 08:01 14 /a/lib.so\n", "of the system"),
        (None, "of the system"),
    ],
)
def test_without_a_copy_for_all_the_one_that_the_ports_use_is_taken(loaded, taken, tmp_path, monkeypatch):
    maps: Path = tmp_path / "maps"
    if loaded is not None:
        maps.write_text(loaded)
    monkeypatch.setattr(jack, "share_library", lambda: False)
    monkeypatch.setattr(jack, "_LOADED", maps)
    monkeypatch.setattr(jack.ctypes.util, "find_library", lambda name: "of the system" if name == "jack" else None)
    assert jack._library() == taken


def test_where_no_copy_is_found_the_library_is_asked_for_by_its_usual_name(tmp_path, monkeypatch):
    monkeypatch.setattr(jack, "share_library", lambda: False)
    monkeypatch.setattr(jack, "_LOADED", tmp_path / "maps")
    monkeypatch.setattr(jack.ctypes.util, "find_library", lambda name: None)
    assert jack._library() == "libjack.so.0"


def test_before_a_client_is_opened_the_others_have_learnt_of_one_that_left(monkeypatch):
    clock, slept = [100.0], []
    server = SimpleNamespace(ask=lambda: slept.append("asked"))
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "one of ours")
    monkeypatch.setattr(jack, "_watches", {"one of ours": server})
    monkeypatch.setattr(jack, "_left_at", float("-inf"))
    monkeypatch.setattr(jack, "time", SimpleNamespace(monotonic=lambda: clock[0], sleep=slept.append))
    jack.wait_until_told()
    jack.client_left()
    jack.wait_until_told()
    clock[0] += TOLD
    jack.wait_until_told()
    assert slept == ["asked", TOLD], "not before one left, not long after"


@pytest.mark.jack
def test_one_client_after_another_is_opened_with_that_pause_between_them(jack_server):
    first = binding().talker("jack", "spinet")
    first.release()
    left = time.monotonic()
    second = binding().listener("jack", "spinet")
    assert time.monotonic() >= left + TOLD
    second.release()
