"""The file that says how the companion reaches the instrument."""

from __future__ import annotations

import re

import pytest

from companion.errors import ConfigError
from companion.messages import PARTS
from companion.ports.binding import SERVICES as KNOWN
from companion.ports.instruments import SERVICES, read_instruments
from companion.resources import shipped_folder

SHIPPED = (shipped_folder() / "configs" / "instruments.toml").read_text()


@pytest.fixture
def own(tmp_path, monkeypatch):
    """Writes the player's own file."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))

    def write(text: str) -> None:
        (tmp_path / "configs").mkdir(exist_ok=True)
        (tmp_path / "configs" / "instruments.toml").write_text(text)

    return write


def test_as_shipped_a_piano_keeps_its_own_sounds_and_every_part_has_a_channel(own):
    instruments = read_instruments()
    assert instruments.setups["piano"].programs == {}
    for setup in instruments.setups.values():
        assert set(setup.channels) == set(PARTS) and setup.channels["click"] == 10  # General MIDI: drums


def test_the_computers_sound_has_a_bass(own):
    assert read_instruments().setups["synth"].programs["bass"] == 33  # General MIDI level 1, counted from 1


def test_the_player_is_heard_on_every_channel_but_the_drums(own):
    assert read_instruments().listen == set(range(1, 17)) - {10}


def test_as_shipped_the_keyboard_has_the_keys_of_a_piano_and_pedals_that_nobody_knows(own):
    instruments = read_instruments()
    assert (instruments.lowest_key, instruments.highest_key) == (21, 108)  # MIDI 1.0: A0 and C8 of the 88 keys
    assert instruments.pedals == () and not instruments.half_pedal


def test_milliseconds_in_the_file_are_seconds_inside(own):
    own(
        "echo-window-ms = 250\ngive-up-after-s = 30\n[piano]\nlatency-ms = 20\n[module]\nlatency-ms = 0\n"
        "[synth]\nlatency-ms = 35\n"
    )
    instruments = read_instruments()
    assert (instruments.echo_window, instruments.give_up_after) == (0.25, 30)
    assert {name: setup.latency for name, setup in instruments.setups.items()} == {
        "piano": 0.02, "module": 0.0, "synth": 0.035,
    }  # fmt: skip


def test_only_another_instrument_may_sound_what_the_player_plays(own):
    own("[module]\nthrough = true\n[synth]\nthrough = true\n")
    through = {name: setup.through for name, setup in read_instruments().setups.items()}
    assert through == {"piano": False, "module": True, "synth": True}


def test_pedals_are_told_once_and_in_order_and_listen_names_channels(own):
    own("pedals = [67, 64, 67]\nlisten = [16, 1]\n")
    assert read_instruments().pedals == (64, 67) and read_instruments().listen == {1, 16}


def test_a_shorter_keyboard_and_its_pedals_are_taken(own):
    own("lowest-key = 36\nhighest-key = 96\npedals = [67, 64]\nhalf-pedal = true\n")
    instruments = read_instruments()
    assert (instruments.lowest_key, instruments.highest_key) == (36, 96)
    assert instruments.pedals == (64, 67) and instruments.half_pedal


def test_the_players_own_channels_are_taken(own):
    own(SHIPPED.replace("bass = 1\n", "bass = 7\n", 1))
    assert read_instruments().setups["piano"].channels["bass"] == 7


@pytest.mark.parametrize(
    ("shipped", "changed", "says"),
    [
        ("bass = 1\n", "bass = 17\n", r"\[piano.channels\]: bass = 17 is not a whole number from 1 to 16"),
        ("bass = 33\nchords", "bass = 0\nchords", r"\[synth.programs\]: bass = 0 .*1 to 128"),
        ("bass = 33\nchords", "tuba = 58\nchords", "'tuba'"),
        ("latency-ms = 10 ", "latency-ms = -3 ", "latency-ms = -3 is not a number from 0 to 1000"),
        ("lowest-key = 21 ", "lowest-key = 108 ", "lowest-key lies below highest-key"),
        ("pedals = []", "pedals = [200]", r"pedals = \[200\] is not a list, each .* \(a MIDI controller\)"),
        ("listen = []", "listen = [0]", r"listen = \[0\] is not a list, each .* \(a MIDI channel\)"),
        ("through = false", 'through = "no"', 'through = "no" is not true or false'),
        ('midi = "auto"', "midi = 3", "midi = 3 is not one of 'auto', 'alsa'"),
        ("options = []", "options = 4", "options = 4"),
    ],
)
def test_a_value_that_can_not_be_is_named_with_its_file_and_place(own, shipped, changed, says):
    assert shipped in SHIPPED
    own(SHIPPED.replace(shipped, changed, 1))
    with pytest.raises(ConfigError) as wrong:
        read_instruments()
    assert re.search(says, str(wrong.value)) and "instruments.toml" in str(wrong.value) and "\n" not in str(wrong.value)


def test_every_midi_service_that_can_be_named_can_be_opened():
    assert set(SERVICES) == {"auto", *KNOWN}


def test_a_midi_service_that_nobody_knows_is_one_line(own):
    own(SHIPPED.replace('"auto"', '"jakc"', 1))
    with pytest.raises(
        ConfigError, match=r"instruments.toml: midi = \"jakc\" is not one of 'auto', .*; did you mean 'jack'\?"
    ):
        read_instruments()
