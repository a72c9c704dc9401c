"""A tune that can't be arranged from some chorus on. And what a test of the stage has limited for its own process is
limited no longer once it has run."""

from __future__ import annotations

from collections.abc import Callable, Generator
from typing import Any

import pytest

from companion.stage import band

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

        def notes(stretch: Any, part: str, **more: Any) -> Any:
            if stretch.chorus >= number:
                raise error
            return arrange(stretch, part, **more)

        monkeypatch.setattr(band, "stretch_notes", notes)

    return from_chorus
