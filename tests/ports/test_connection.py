"""A connection that is gone is noticed, though the ports' names are as before, and made again."""

from __future__ import annotations

import subprocess
import time

import pytest

from companion.ports.connection import alsa_connections
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
    ],
)
def test_who_is_connected_is_read_from_the_list_of_alsa_s_clients(name, listening, others):
    assert alsa_connections(CLIENTS, name, listening) == others
    assert alsa_connections("", name, listening) == set()


def wait_for(condition, seconds=8.0):
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.01)
    return condition()


def cut(server: str, source: str, destination: str) -> None:
    """Take a connection away and leave the ports."""
    subprocess.run(["jack_disconnect", "-s", server, source, destination], check=True, stdout=subprocess.DEVNULL)


@pytest.mark.jack
@pytest.mark.parametrize("seen", [True, False], ids=["seen before", "never seen"])
def test_a_cut_input_is_noticed_and_hears_again(instrument, jack_server, seen):
    piano, heard = instrument(), []
    port = Input("jack", "upright:keys", lambda delta, message: heard.append(tuple(message)))
    assert port.present() and (not seen or wait_for(port.connected))
    cut(jack_server, "upright:keys", "companion:in")
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
    second = Input("jack", "upright:keys", lambda delta, message: None)
    cut(jack_server, "upright:keys", "companion:in")
    assert wait_for(lambda: not first.connected()) and second.connected()
    first.close()
    second.close()
