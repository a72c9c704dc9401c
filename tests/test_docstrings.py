"""The examples in docstrings say what happens."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "companion"


def with_examples() -> list[str]:
    """Modules that show an example."""
    paths = sorted(path for path in PACKAGE.rglob("*.py") if ">>> " in path.read_text(encoding="utf-8"))
    return [".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts) for path in paths]


@pytest.mark.parametrize("name", with_examples())
def test_the_examples_of_a_module_come_out_as_they_say(name: str) -> None:
    found = doctest.testmod(importlib.import_module(name), optionflags=doctest.REPORT_NDIFF)
    assert found.attempted and not found.failed
