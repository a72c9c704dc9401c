"""The piano on the page: what is reached, what is set and kept, and what there isn't."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from companion.errors import ConfigError, InputError
from companion.page.instrument import PianoAsked, TeachAsked, set_piano, status, teach
from companion.page.takes import Nothing
from companion.ports.instruments import read_instruments
from companion.resources import DATA_VARIABLE, data_folder

if TYPE_CHECKING:
    from tests.conftest import Instrument


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))


def test_without_a_service_it_is_said_and_the_rest_is_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COMPANION_MIDI", "no-such-service")
    told = status(Nothing())
    assert told["inputs"] == [] and told["fault"]
    assert any("last time" in one["wish"] for one in told["signals"])


@pytest.mark.jack
def test_the_port_and_the_latency_that_are_set_hold_from_then_on(instrument: Callable[[str], Instrument]) -> None:
    instrument("upright")
    instrument("stage piano")
    port = next(name for name in status(Nothing())["inputs"] if "stage" in name)
    said = set_piano(PianoAsked(input=port, latency_ms=25))["said"]
    assert "written" in said and (data_folder() / "configs" / "instruments.toml").exists()
    told = status(Nothing())
    assert told["input"] == port and told["latency_ms"] == 25
    assert told["setup"] == "piano" and read_instruments().setups["piano"].latency == pytest.approx(0.025)
    assert set_piano(PianoAsked(input=port))["said"] == "nothing has changed"
    with pytest.raises(InputError, match="no port"):
        set_piano(PianoAsked(input="a piano that was sold"))
    with pytest.raises(InputError, match="no latency"):
        set_piano(PianoAsked(latency_ms=-1))
    assert read_instruments().input == port


def test_the_keyboard_its_pedals_and_what_sounds_are_kept_where_the_set_up_keeps_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COMPANION_MIDI", "no-such-service")
    own = data_folder() / "configs" / "instruments.toml"
    own.parent.mkdir(parents=True)
    own.write_text("# mine\nlisten = [1]\n[piano]\nlatency-ms = 17  # measured at home\n", encoding="utf-8")
    set_piano(PianoAsked(keyboard=(28, 103), pedals=(67, 64), half_pedal=True, channel=3))
    told = read_instruments()
    assert (told.lowest_key, told.highest_key, told.pedals, told.half_pedal) == (28, 103, (64, 67), True)
    assert told.listen == {1, 3}
    assert status(Nothing())["keyboard"] == "76 keys, E1 to G7"
    assert own.read_text(encoding="utf-8").startswith("# mine\n") and "# measured at home" in own.read_text("utf-8")
    with pytest.raises(ConfigError, match="lowest-key"):
        set_piano(PianoAsked(keyboard=(103, 28)))


def test_the_computer_sounds_only_where_it_can(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COMPANION_MIDI", "no-such-service")
    monkeypatch.setenv("PATH", "")
    assert "FluidSynth" in status(Nothing())["no_computer"]
    with pytest.raises(InputError, match="no sound"):
        set_piano(PianoAsked(computer=True))
    monkeypatch.setattr("companion.page.instrument._no_computer", lambda told: "")
    set_piano(PianoAsked(computer=True, latency_ms=30))
    told = read_instruments()
    assert told.computer and told.setups["synth"].latency == pytest.approx(0.03)


def test_a_pedal_that_is_taught_tells_one_thing_and_is_forgotten_again() -> None:
    def press(wish: str) -> str:
        return next(one["press"] for one in status(Nothing())["wishes"] if one["wish"] == wish)

    assert "sostenuto pedal" in teach(TeachAsked("next", controller=66))["said"]
    assert press("next") == "sostenuto pedal"
    with pytest.raises(InputError, match="tells 'next passage' already"):
        teach(TeachAsked("again", controller=66))
    with pytest.raises(InputError, match="for playing"):
        teach(TeachAsked("again", controller=64))
    teach(TeachAsked("next", key=108))
    assert press("next") == "highest C"
    teach(TeachAsked("next"))
    assert press("next") == ""
