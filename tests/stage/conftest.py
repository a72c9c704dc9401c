"""What a test of the stage has limited for its own process is limited no longer once it has run."""

from __future__ import annotations

from collections.abc import Generator

import pytest

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
