"""Pictures of figures: where they can't be drawn, and as part of another one."""

from __future__ import annotations

import sys
from xml.etree.ElementTree import fromstring

import pytest

from companion.errors import UseError
from companion.practice.plotting import figure, nested, titled, written

NAMES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'


def test_without_matplotlib_it_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(UseError, match="matplotlib") as error:
        figure(4, [1])
    assert "pip install" in str(error.value)


def test_a_picture_within_another_says_nothing_of_the_others_lines() -> None:
    pytest.importorskip("matplotlib", reason="the extra pictures isn't installed")
    made, (axes,) = figure(4, [1])
    titled(axes, "Tempo", "a minute")
    text, height = nested(written(made, ".svg"), 10, 20, 400)
    inside = fromstring(f"<svg {NAMES}>{text}</svg>")
    assert not list(inside.iter("{http://www.w3.org/2000/svg}style")), "a style would be for the whole document"
    (frame,) = inside
    assert (frame.get("x"), frame.get("y"), frame.get("width")) == ("10", "20", "400")
    assert height == pytest.approx(400 * 1.5 / 4, rel=0.01)
