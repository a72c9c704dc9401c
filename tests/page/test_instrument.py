"""The piano on the page: what is reached, what is set and kept, and what there isn't."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from companion.errors import InputError
from companion.page.instrument import PianoAsked, set_piano, status
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
    assert set_piano(PianoAsked(input=port))["said"] == "nothing has changed"
    with pytest.raises(InputError, match="no port"):
        set_piano(PianoAsked(input="a piano that was sold"))
    with pytest.raises(InputError, match="no latency"):
        set_piano(PianoAsked(latency_ms=-1))
    assert read_instruments().input == port
