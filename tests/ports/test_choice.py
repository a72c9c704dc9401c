"""Which ports are used, by names as ALSA, JACK and Windows spell them (from memory)."""

from __future__ import annotations

import pytest

from companion.errors import DeviceError
from companion.ports.choice import Choice, Ports, choose_ports, device, instrument_ports, lasting_name

NAMES = ("Midi Through:Midi Through Port-0 14:0", "Piano:Piano MIDI 1 20:0")
PIANO = Ports("alsa", NAMES, NAMES)


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
