"""A connection that is gone is noticed, though the ports' names are as before, and made again."""

from __future__ import annotations

import subprocess
import time

import pytest

from companion.ports import connection, jack
from companion.ports.connection import Connection, alsa_connections
from companion.ports.midi import Input, Output

# As Linux prints it (kernel, sound/core/seq/seq_clientmgr.c and seq_ports.c; from memory).
CLIENTS = """\
Client info
  cur  clients : 5
  peak clients : 5
  max  clients : 192

Client   0 : "System" [Kernel Legacy]
  Port   0 : "Timer" (Rwe-)
  Port   1 : "Announce" (R-e-)
    Connecting To: 131:0
Client  20 : "Piano" [Kernel Legacy]
  Port   0 : "Piano MIDI 1" (RWeX)
    Connecting To: 128:0, 130:1[r:0]
    Connected From: 129:0
  Port   1 : "Piano MIDI 2" (RWeX)
Client 128 : "companion" [User Legacy]
  Port   0 : "in" (-We-)
    Connected From: 20:0[r:0]
  Output pool :
    Pool size          : 500
Client 129 : "companion" [User Legacy]
  Port   0 : "out" (R-e-)
    Connecting To: 20:0
"""


@pytest.mark.parametrize(
    ("name", "listening", "others"),
    [
        ("Piano:Piano MIDI 1 20:0", True, {"128:0", "130:1"}),
        ("Piano:Piano MIDI 1 20:0", False, {"129:0"}),
        ("Piano:Piano MIDI 2 20:1", True, set()),
        ("Piano:Piano MIDI 1 21:0", True, set()),
        ("companion:in 128:0", False, {"20:0"}),
        ("a port without numbers", True, set()),
        ("System:Announce 0:1", True, {"131:0"}),
        ("System:Timer 0:0", True, set()),  # the next port's connection is not its own
        ("companion:out 129:0", True, {"20:0"}),
        ("companion:out 129:0", False, set()),
        ("Piano:Piano MIDI 1 2:0", True, set()),  # 2 is not 20
        ("20:0 was its number once", True, set()),
    ],
)
def test_who_is_connected_is_read_from_the_list_of_alsa_s_clients(name, listening, others):
    assert alsa_connections(CLIENTS, name, listening) == others
    assert alsa_connections("", name, listening) == set()


def heard_by(*connected: str) -> str:
    """ALSA's list of clients where a piano is heard by some."""
    row = f"    Connecting To: {', '.join(connected)}\n" if connected else ""
    return f'Client  20 : "Piano" [Kernel Legacy]\n  Port   0 : "Piano MIDI 1" (RWeX)\n{row}'


def test_over_alsa_our_connection_is_the_one_that_came_last_and_stands_until_it_is_gone(tmp_path, monkeypatch):
    clients = tmp_path / "clients"
    monkeypatch.setattr(connection, "ALSA_CLIENTS", clients)
    clients.write_text(heard_by("130:0"), encoding="utf-8")
    ours = Connection("alsa", "Piano:Piano MIDI 1 20:0", listening=True)
    stood = []
    for others in (["130:0"], ["130:0", "128:0"], ["128:0", "131:0"], ["130:0", "131:0"], [], ["128:0"]):
        clients.write_text(heard_by(*others), encoding="utf-8")
        stood.append(ours.stands())
    assert stood == [True, True, True, False, False, True], "not yet seen, there, there, gone, gone, there again"
    assert not ours.mend(), "only opening it again does"


def test_without_a_list_of_connections_each_is_taken_to_stand(tmp_path, monkeypatch):
    monkeypatch.setattr(connection, "ALSA_CLIENTS", tmp_path / "none")
    for service in ("alsa", "core", "windows"):
        ours = Connection(service, "Piano:Piano MIDI 1 20:0", listening=False)
        assert ours.stands()
        assert not ours.mend()


def wait_for(condition, seconds=8.0):
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.01)
    return condition()


def heard_at(source: str) -> str:
    """The port of ours that listens to it, by the name that JACK gave it: one of our name may still be leaving."""
    assert wait_for(lambda: jack.watch().connections(source))
    (port,) = jack.watch().connections(source)
    return port


def cut(server: str, source: str, destination: str) -> None:
    """Take a connection away and leave the ports."""
    subprocess.run(["jack_disconnect", "-s", server, source, destination], check=True, stdout=subprocess.DEVNULL)


@pytest.mark.jack
@pytest.mark.parametrize("seen", [True, False], ids=["seen before", "never seen"])
def test_a_cut_input_is_noticed_and_hears_again(instrument, jack_server, seen):
    piano, heard = instrument(), []
    port = Input("jack", "upright:keys", lambda delta, message: heard.append(tuple(message)))
    assert port.present() and (not seen or wait_for(port.connected))
    cut(jack_server, "upright:keys", heard_at("upright:keys"))
    assert port.present() and wait_for(lambda: not port.connected())
    assert port.reconnect() and wait_for(port.connected)
    time.sleep(0.1)
    piano.play(0x90, 60, 80)
    assert wait_for(lambda: heard == [(0x90, 60, 80)])
    port.close()


@pytest.mark.jack
@pytest.mark.parametrize("seen", [True, False], ids=["seen before", "never seen"])
def test_an_output_to_an_instrument_that_came_back_at_once_is_noticed_and_sounds_again(instrument, seen):
    piano = instrument()
    port = Output("jack", "upright-01:ears")
    assert not seen or wait_for(port.connected)
    piano.close()
    again = instrument()
    assert port.present() and wait_for(lambda: not port.connected())  # by its name alone it never was away
    assert port.reconnect() and wait_for(port.connected)
    time.sleep(0.1)
    port.send((0x90, 60, 80))
    assert wait_for(lambda: again.notes_on() == [60])
    port.close()


@pytest.mark.jack
def test_another_s_connection_to_the_same_instrument_is_not_ours(instrument, jack_server):
    instrument()
    first = Input("jack", "upright:keys", lambda delta, message: None)
    assert wait_for(first.connected)
    ours = heard_at("upright:keys")
    second = Input("jack", "upright:keys", lambda delta, message: None)
    cut(jack_server, "upright:keys", ours)
    assert wait_for(lambda: not first.connected()) and second.connected()
    first.close()
    second.close()
