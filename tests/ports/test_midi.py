"""Ports over a real JACK server: which there are, which are used, and what happens when one is unplugged."""

from __future__ import annotations

import subprocess
import sys
import time
from queue import SimpleQueue

import pytest

from companion.errors import DeviceError, UseError
from companion.ports import midi
from companion.ports.midi import (
    Choice,
    Input,
    Output,
    Ports,
    choose_ports,
    device,
    find_ports,
    instrument_ports,
    lasting_name,
    list_ports,
)

NAMES = ("Midi Through:Midi Through Port-0 14:0", "Piano:Piano MIDI 1 20:0")
PIANO = Ports("alsa", NAMES, NAMES)


def wait_for(condition, seconds=5.0):
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.01)
    return condition()


def test_the_first_instrument_is_heard_and_played_and_a_through_port_is_not():
    assert choose_ports(PIANO) == Choice("alsa", "Piano:Piano MIDI 1 20:0", "Piano:Piano MIDI 1 20:0", same=True)


def test_part_of_a_name_in_any_case_is_enough():
    assert choose_ports(PIANO, "piano", "PIANO").output == "Piano:Piano MIDI 1 20:0"


def test_a_port_asked_for_by_name_may_be_a_through_port():
    assert choose_ports(PIANO, "through").input == "Midi Through:Midi Through Port-0 14:0"


def test_a_missing_port_is_one_line_with_the_ports_there_are():
    with pytest.raises(DeviceError) as missing:
        choose_ports(PIANO, "organ")
    assert "organ" in str(missing.value) and "Piano:Piano MIDI 1 20:0" in str(missing.value)
    assert "\n" not in str(missing.value) and missing.value.exit_status == 3


def test_no_instrument_at_all_is_a_device_error():
    with pytest.raises(DeviceError, match="no MIDI instrument"):
        choose_ports(Ports("alsa", PIANO.inputs[:1], PIANO.outputs))


@pytest.mark.parametrize(
    ("source", "outputs", "partner"),
    [
        ("Digital Piano 0", ("Wave Synth 0", "Digital Piano 1"), "Digital Piano 1"),  # Windows counts its ports
        ("upright:keys", ("hall:in", "upright-01:ears"), "upright-01:ears"),  # JACK counts its clients
        ("system:midi_capture_2", ("system:midi_playback_1", "system:midi_playback_2"), "system:midi_playback_2"),
        ("Stage MIDI IN", ("Other MIDI OUT", "Stage MIDI OUT"), "Stage MIDI OUT"),
    ],
)
def test_the_output_of_the_same_instrument_is_found_however_the_system_names_it(source, outputs, partner):
    assert choose_ports(Ports("x", (source,), outputs)) == Choice("x", source, partner, same=True)


def test_a_single_other_output_is_taken_but_is_another_instrument():
    assert choose_ports(Ports("x", ("Keys",), ("Module",))) == Choice("x", "Keys", "Module", same=False)


def test_of_several_foreign_outputs_none_is_guessed():
    with pytest.raises(DeviceError, match="--out"):
        choose_ports(Ports("x", ("Keys",), ("Module", "Organ")))


def test_the_numbers_that_a_system_adds_are_no_part_of_an_instruments_name():
    assert device("Piano:Piano MIDI 1 20:0") == device("Piano:Piano MIDI 1 24:0")


@pytest.mark.parametrize(
    ("name", "same"),
    [
        ("Piano:Piano MIDI 1 20:0", "Piano:Piano MIDI 1"),
        ("Piano:Piano MIDI 1 128:12", "Piano:Piano MIDI 1"),
        ("piano-01:ears", "piano:ears"),
        ("piano-1:ears", "piano-1:ears"),  # JACK counts in two digits
        ("piano-012:ears", "piano-012:ears"),
        ("Piano 2", "Piano"),
        (" Piano 12 ", "Piano"),
        ("Piano2", "Piano2"),
        ("Piano 2:in 1", "Piano 2:in 1"),
    ],
)
def test_what_a_system_adds_to_a_name_is_taken_off_and_no_more(name, same):
    assert device(name) == same


def test_a_port_is_found_again_by_what_lasts_of_its_name():
    names = ("Piano:Piano MIDI 1 20:0", "Piano 2", "piano-01:ears")
    assert [lasting_name(name) for name in names] == ["Piano:Piano MIDI 1", "Piano", "piano-01:ears"]


@pytest.mark.parametrize(
    ("source", "outputs", "partner"),
    [
        ("hall:keys", ("card:in", "hall:ears"), "hall:ears"),  # two ports of one program
        ("a2j:Piano (capture)", ("a2j:Organ", "a2j:Piano (playback)"), "a2j:Piano (playback)"),
        ("Stage-In", ("Stage MIDI Output",), "Stage MIDI Output"),
        ("Piano", ("piano 2", "Piano"), "Piano"),  # the same name comes before a likely one
        ("Thrush", ("Midi Thru", "Thrush"), "Thrush"),
    ],
)
def test_the_likeliest_output_of_an_instrument_is_its_own(source, outputs, partner):
    assert choose_ports(Ports("x", (source,), outputs)) == Choice("x", source, partner, same=True)


@pytest.mark.parametrize("client", ["system", "System", "a2j", "midi-bridge"])
def test_what_stands_for_all_hardware_is_no_instrument(client):
    with pytest.raises(DeviceError, match="no output belongs to the input"):
        choose_ports(Ports("x", (f"{client}:one",), (f"{client}:two", f"{client}:three")))


def test_of_names_that_fit_the_whole_one_comes_first_and_a_through_port_last():
    ports = Ports("x", ("Piano Thru", "Piano Left", "Piano"), ("Organ", "Midi THROUGH", "Piano"))
    wanted = {"piano": "Piano Left", "Piano": "Piano", "thru": "Piano Thru", None: "Piano Left"}
    assert {name: choose_ports(ports, name, play=False).input for name in wanted} == wanted
    assert choose_ports(ports, "Piano", "organ") == Choice("x", "Piano", "Organ", same=False)
    assert choose_ports(ports, "Piano", "Piano") == Choice("x", "Piano", "Piano", same=True)
    assert choose_ports(ports, "Piano", play=False) == Choice("x", "Piano", None, same=False)
    assert instrument_ports(ports) == Ports("x", ("Piano Left", "Piano"), ("Organ", "Piano"))


def test_a_through_port_beside_one_other_output_is_none_of_several():
    assert choose_ports(Ports("x", ("Keys",), ("Midi Through", "Module"))).output == "Module"
    for outputs, there in (
        ((), "there is none"),
        (("Midi Through",), "there is none"),
        (("A", "B"), "there are: A, B"),
    ):
        with pytest.raises(DeviceError, match=f"name one with --out, or use --sound; .*{there}$"):
            choose_ports(Ports("x", ("Keys",), outputs))


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


def test_what_python_prints_is_seen_while_the_libraries_are_quiet():
    program = """
import os, sys
from companion.ports.midi import quiet_libraries
with quiet_libraries():
    print("ours", file=sys.stderr)
    os.write(2, b"theirs")
print("after", file=sys.stderr)
"""
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert run.stderr == "ours\nafter\n"
