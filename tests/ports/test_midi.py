"""Ports over a real JACK server: which there are, which are used, and what happens when one is unplugged."""

from __future__ import annotations

import time
from queue import SimpleQueue

import pytest

from companion.errors import DeviceError, UseError
from companion.ports import midi
from companion.ports.choice import Ports
from companion.ports.midi import Input, Output, find_ports, list_ports

NAMES = ("Midi Through:Midi Through Port-0 14:0", "Piano:Piano MIDI 1 20:0")
PIANO = Ports("alsa", NAMES, NAMES)


def wait_for(condition, seconds=5.0):
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.01)
    return condition()


@pytest.mark.parametrize(
    ("wanted", "api"),
    [({}, "two"), ({"wanted_in": "upright"}, "three"), ({"wanted_out": "module"}, "one"),
     ({"wanted_in": "grand", "wanted_out": "grand"}, "two"), ({"wanted_in": "nobody"}, "two")],
)  # fmt: skip
def test_a_service_is_taken_that_has_what_is_wanted_or_else_an_instrument(monkeypatch, wanted, api):
    there = {
        "none": None,
        "one": Ports("one", ("Midi Through",), ("Module",)),
        "two": Ports("two", ("Grand",), ("Grand",)),
        "three": Ports("three", ("Grand", "Upright"), ("Upright",)),
    }
    monkeypatch.setattr(midi, "_apis", lambda wanted: list(there))
    monkeypatch.setattr(midi, "_ports_of", there.get)
    assert find_ports(**wanted).api == api


def test_the_ports_are_listed_with_why_none_would_be_used(monkeypatch):
    monkeypatch.setattr(midi, "_apis", lambda wanted: ["alsa"])
    monkeypatch.setattr(midi, "_ports_of", lambda api: PIANO)
    assert list_ports() == [
        "MIDI service: alsa",
        "to listen to (--in):", f"    {NAMES[0]}", f"  * {NAMES[1]}",
        "to play on (--out):", f"    {NAMES[0]}", f"  * {NAMES[1]}",
        "* would be used: one instrument for both",
    ]  # fmt: skip
    monkeypatch.setattr(midi, "_ports_of", lambda api: Ports("alsa", ("Keys",), ("Module",)))
    assert list_ports()[-1] == "* would be used"
    monkeypatch.setattr(midi, "_ports_of", lambda api: Ports("alsa", (), ()))
    lines = list_ports()
    assert lines[1:5] == ["to listen to (--in):", "    none", "to play on (--out):", "    none"]
    assert lines[5].startswith("no MIDI instrument is connected")
    with pytest.raises(DeviceError, match="no MIDI input is called 'organ'"):
        list_ports("organ")


def test_an_unknown_midi_service_is_refused_with_those_there_are():
    with pytest.raises(UseError, match="jack"):
        find_ports("pneumatic")


def test_a_service_that_does_not_run_is_a_device_error_and_nothing_else_is_printed(monkeypatch, capfd):
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "there-is-none")
    with pytest.raises(DeviceError, match="not running"):
        find_ports("jack")
    assert capfd.readouterr().err == ""


@pytest.mark.jack
def test_ports_are_listed_with_a_mark_at_those_used(instrument):
    instrument("upright")
    lines = list_ports("upright", None, "jack")
    assert "  * upright:keys" in lines and any(line.startswith("  * upright") and "ears" in line for line in lines)
    assert lines[-1] == "* would be used: one instrument for both"


@pytest.mark.jack
def test_of_several_services_the_one_with_the_wanted_port_is_used(instrument, monkeypatch):
    instrument("upright")
    monkeypatch.delenv(midi.API_VARIABLE)
    jack = find_ports("jack")
    monkeypatch.setattr(midi, "_apis", lambda wanted: ["alsa", "jack"])
    monkeypatch.setattr(midi, "_ports_of", lambda api: jack if api == "jack" else PIANO)
    assert find_ports().api == "alsa"
    assert find_ports(wanted_in="upright").api == "jack"
    assert find_ports(wanted_out="upright").api == "jack"


@pytest.mark.jack
def test_our_own_ports_are_not_offered(instrument):
    piano = instrument("upright")
    listener = Input("jack", "upright:keys", lambda delta, message: None)
    try:
        assert find_ports("jack") == Ports("jack", ("upright:keys",), (f"{piano.name}-01:ears",))
    finally:
        listener.close()


@pytest.mark.jack
def test_a_played_note_arrives_with_its_stamp_and_one_sent_is_heard(instrument):
    piano, came = instrument("upright"), SimpleQueue()
    listener = Input("jack", "upright:keys", lambda delta, message: came.put((delta, list(message))))
    player = Output("jack", "upright-01:ears")
    try:
        piano.play(0x90, 60, 80)
        assert came.get(timeout=5) == (0.0, [0x90, 60, 80])
        time.sleep(0.05)
        piano.play(0x80, 60, 64)
        delta, message = came.get(timeout=5)
        assert message == [0x80, 60, 64] and 0.04 < delta < 2.0
        player.send((0x91, 40, 90))
        assert wait_for(lambda: piano.received) and piano.received[0][1] == [0x91, 40, 90]
    finally:
        listener.close()
        player.close()


@pytest.mark.jack
def test_unplugging_is_noticed_and_the_port_is_found_again_by_name(instrument):
    piano = instrument("upright")
    listener = Input("jack", "upright:keys", lambda delta, message: None)
    try:
        assert listener.present()
        piano.close()
        assert wait_for(lambda: not listener.present())
        assert listener.find_again() is None
        instrument("upright")
        assert listener.find_again() == "upright:keys"
    finally:
        listener.close()


@pytest.mark.jack
def test_a_port_that_has_just_gone_can_not_be_opened(jack_server):
    with pytest.raises(DeviceError, match="not there"):
        Output("jack", "upright:ears")
