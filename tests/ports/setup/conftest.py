"""A person at simulated pianos, with a data folder of their own."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

from companion.ports.setup.desk import FromPort, SetupStep
from companion.preferences.reading import forget

from .simulated import Evening, Person, Room, SimulatedPiano


@pytest.fixture
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The player's own configs, none yet."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    forget()
    return tmp_path / "configs"


SetUp = Callable[..., Evening]


@pytest.fixture
def set_up(own_folder: Path) -> SetUp:
    """Goes through the dialogue at a piano."""

    def run(
        *pianos: SimulatedPiano,
        person: Person | None = None,
        noise: Iterable[FromPort] = (),
        computer: bool = False,
        leave_in: SetupStep | None = None,
    ) -> Evening:
        made = pianos or (SimulatedPiano(),)
        room = Room(made, person or Person(), list(noise), computer)
        return room.run(leave_in=leave_in)

    return run


@pytest.fixture
def upright() -> SimulatedPiano:
    """A piano with 88 keys, two pedals and half pedalling, that hears every channel."""
    return SimulatedPiano()
