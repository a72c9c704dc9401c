"""Ports are the same by either binding of RtMidi. A process has one of them, so each test runs them in others."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from companion.ports import binding as module
from companion.ports.binding import BINDING_VARIABLE, FIRST_WITHOUT, SERVICES, binding

MODULES = {"python-rtmidi": "rtmidi", "supriya-midi": "supriya_midi"}
PROJECT = Path(__file__).parents[2] / "pyproject.toml"


@pytest.fixture(params=MODULES)
def package(request: pytest.FixtureRequest) -> str:
    """Each of those that are installed."""
    if importlib.util.find_spec(MODULES[request.param]) is None:
        pytest.skip(f"{request.param} is not installed")
    return request.param


def run(package: str, program: str) -> str:
    """What a program prints that uses a binding; it may print nothing else, even at its very end."""
    program = f"from companion.ports.binding import binding\nassert binding().package == {package!r}\n{program}"
    environment = {**os.environ, BINDING_VARIABLE: package}
    words = [sys.executable, "-X", "faulthandler", "-c", program]
    done = subprocess.run(words, env=environment, capture_output=True, text=True, timeout=60)
    if done.returncode < 0:  # libjack crashes now and then when several clients of one process leave it: once more
        done = subprocess.run(words, env=environment, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr and "leaked" not in done.stderr, done.stderr
    return done.stdout


INSTRUMENT = """
import time
keys = binding().talker("jack", "spinet")
keys.handle.open_virtual_port("keys")
def wait_for(condition):
    end = time.monotonic() + 5
    while not condition() and time.monotonic() < end:
        time.sleep(0.01)
    assert condition()
def unplug():
    keys.close()
    time.sleep(0.1)
    keys.release()
"""
"""A keyboard to play on, and a wait."""


@pytest.mark.jack
def test_what_is_played_comes_with_the_drivers_stamps_and_without_clock_and_system_messages(package, jack_server):
    played = """
from companion.ports.midi import Input
came = []
port = Input("jack", "spinet:keys", lambda delta, message: came.append((delta, tuple(message))))
wait_for(port.connected)
for message in ((0x90, 60, 80), (0xF8,), (0xFE,), (0xF0, 1, 2, 0xF7), (0xC1, 5), (0xB0, 64, 127)):
    keys.send(message)
wait_for(lambda: len(came) == 3)
time.sleep(0.2)
keys.send((0x80, 60, 64))
wait_for(lambda: len(came) == 4)
assert came[0] == (0.0, (0x90, 60, 80)) and 0.15 < came[3][0] < 5.0, came
print(*(message for _, message in came))
port.close()
unplug()
"""
    assert run(package, INSTRUMENT + played) == "(144, 60, 80) (193, 5) (176, 64, 127) (128, 60, 64)\n"


@pytest.mark.jack
def test_a_port_closes_while_the_pianist_plays_on(package, jack_server):
    # A pedal moved slowly sends hundreds of messages a second. What goes wrong here is a crash, or a wait for ever.
    playing = """
import threading
from companion.ports.midi import Input
playing, notes = True, []
def play():
    while playing:
        keys.send((0xB0, 64, 100))
        time.sleep(0.001)
pianist = threading.Thread(target=play)
pianist.start()
for _ in range(12):
    heard = []
    port = Input("jack", "spinet:keys", lambda delta, message: heard.append(message))
    wait_for(lambda: len(heard) > 20)
    port.close()
    count = len(heard)
    time.sleep(0.02)
    assert len(heard) == count, "something came after closing"
playing = False
pianist.join()
unplug()
print("done")
"""
    assert run(package, INSTRUMENT + playing) == "done\n"


@pytest.mark.jack
def test_a_port_that_can_not_be_opened_is_an_error_and_no_crash(package, jack_server):
    refused = """
for kind in (binding().listener, binding().talker):
    client = kind("jack", "companion")
    try:
        client.open(900, "ours")
    except OSError as error:
        print(error)
    client.release()
unplug()
"""
    said = run(package, INSTRUMENT + refused).splitlines()
    assert len(said) == 2 and all(line.startswith("Midi") for line in said)


@pytest.mark.jack
def test_ports_of_a_server_that_died_are_left_without_a_word(package, jack_server):
    dying = """
import os, subprocess, time
from companion.ports.midi import Input, Output
name = f"companion-dying-{os.getpid()}"
os.environ["JACK_DEFAULT_SERVER"] = name
words = ["jackd", "--no-realtime", "--no-mlock", "-n", name, "-d", "dummy", "-r", "48000", "-p", "64"]
server = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
subprocess.run(["jack_wait", "-s", name, "-w", "-t", "20"], check=True, stdout=subprocess.DEVNULL)
spinet = binding().listener("jack", "spinet"), binding().talker("jack", "spinet")
for client in spinet:
    client.handle.open_virtual_port("port")
keys, sound = Input("jack", "spinet-01:port", lambda delta, message: None), Output("jack", "spinet:port")
assert keys.present() and sound.present()
server.terminate()
server.wait()
end = time.monotonic() + 10
while sound.present() and time.monotonic() < end:
    time.sleep(0.01)
sound.send((0x80, 60, 64))
print(keys.present(), sound.present())
keys.close()
sound.close()
for client in spinet:
    client.keep()
"""
    assert run(package, dying) == "False False\n"


def test_a_service_that_does_not_run_has_no_clients_and_is_a_device_error(package, monkeypatch):
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "there-is-none")
    program = """
from companion.errors import DeviceError
from companion.ports.midi import find_ports
try:
    find_ports("jack")
except DeviceError as error:
    print(error.what)
"""
    assert run(package, program) == "the system's MIDI service 'jack' is not running\n"


def test_a_binding_was_built_for_the_services_of_this_system(package):
    built = run(package, "print(*binding().services())").split()
    assert built and set(built) <= set(SERVICES)
    if sys.platform == "linux":
        assert set(built) == {"alsa", "jack"}


@pytest.fixture
def afresh():
    """The choice is made again, here and after the test."""
    binding.cache_clear()
    yield
    binding.cache_clear()


@pytest.mark.parametrize("wanted", [None, "supriya-midi", "python-rtmidi", "of nobody's"])
@pytest.mark.parametrize("version", [(3, 11), (3, 12), (3, 13), (3, 14)])
@pytest.mark.parametrize("installed", [{"python-rtmidi"}, {"supriya-midi"}, {"python-rtmidi", "supriya-midi"}, set()])
def test_of_what_is_installed_the_one_asked_for_is_used_or_the_one_for_this_python(
    wanted, version, installed, monkeypatch, afresh
):
    class Installed:
        def __init__(self, package):
            self.package = package

    def having(package):
        def make():
            if package not in installed:
                raise ImportError(package)
            return Installed(package)

        return make

    monkeypatch.setattr(module, "PythonRtmidi", having("python-rtmidi"))
    monkeypatch.setattr(module, "SupriyaMidi", having("supriya-midi"))
    monkeypatch.setattr(sys, "version_info", version)
    monkeypatch.delenv(BINDING_VARIABLE, raising=False)
    if wanted:
        monkeypatch.setenv(BINDING_VARIABLE, wanted)
    usual = "python-rtmidi" if version < (3, 13) else "supriya-midi"
    asked = wanted if wanted in MODULES else None
    best = asked or (usual if usual in installed else next(iter(installed), usual))
    if best in installed:
        assert binding().package == best
    else:
        with pytest.raises(module.DeviceError, match=f"pip install {best}"):
            binding()


def test_every_python_gets_one_binding_when_the_companion_is_installed():
    # PEP 508: the marker after the semicolon says for which Pythons a dependency is.
    needed = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]["dependencies"]
    markers = {
        line.partition(">=")[0]: line.partition("; ")[2] for line in needed if line.partition(">=")[0] in MODULES
    }
    first = ".".join(map(str, FIRST_WITHOUT))
    assert markers == {
        "python-rtmidi": f"python_version < '{first}'",
        "supriya-midi": f"python_version >= '{first}'",
    }
