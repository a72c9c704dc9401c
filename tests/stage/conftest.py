"""Companions that run, and a tune that can't be arranged from some chorus on.

What a test of the stage has limited for its own process is limited no longer once it has run.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from typing import Any

import pytest

from companion.resources import shipped_folder
from companion.stage import band
from tests.stage.running import CHART, STAND_IN, Running

try:
    import resource
except ImportError:  # Windows: nothing can be limited there
    resource = None


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call() -> Generator[None, object, object]:
    """Let files grow again before anything is printed: what pytest prints may go to a file, too."""
    try:
        return (yield)
    finally:
        if resource is not None:
            hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
            resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))


@pytest.fixture
def break_from(monkeypatch: pytest.MonkeyPatch) -> Callable[[int, Exception], None]:
    """Have the arranging of whatever belongs to a chorus or to a later one raise an error; all else is as it is."""

    def from_chorus(number: int, error: Exception) -> None:
        arrange = band.stretch_notes

        def notes(stretch: Any, part: str, *more: Any) -> Any:
            if stretch.chorus >= number:
                raise error
            return arrange(stretch, part, *more)

        monkeypatch.setattr(band, "stretch_notes", notes)

    return from_chorus


@pytest.fixture
def start(tmp_path, jack_server):
    """Starts companions: 'play' as a player would, or 'stand-in' with something plain in the rehearsal's place."""
    chart, stand_in, data = tmp_path / "back-stairs.toml", tmp_path / "stand_in.py", tmp_path / "data"
    chart.write_text(CHART)
    stand_in.write_text(STAND_IN)
    running = []

    def begin(kind: str, *words: str) -> Running:
        command = ["-m", "companion", "play"] if kind == "play" else [str(stand_in)]
        running.append(Running([*command, str(chart), *words], data))
        return running[-1]

    yield begin
    for companion in running:
        companion.close()


@pytest.fixture
def configure(tmp_path):
    """Changes a line of the shipped instruments.toml in the player's own."""

    def change(shipped: str, own: str) -> None:
        text = (shipped_folder() / "configs" / "instruments.toml").read_text()
        assert shipped in text
        place = tmp_path / "data" / "configs" / "instruments.toml"
        place.parent.mkdir(parents=True)
        place.write_text(text.replace(shipped, own))

    return change
