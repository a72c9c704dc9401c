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


@pytest.mark.parametrize(("width", "height"), [(100.0, 50.0), (400.0, 200.0)])
def test_a_picture_within_another_keeps_its_proportions(width: float, height: float) -> None:
    picture = b'<?xml?><svg viewBox="0 0 200.5 100.25"><metadata>\nwhen</metadata><style>a\nb</style><g/></svg>\n'
    text, high = nested(picture, 10.5, 20, width)
    assert high == height
    assert text == (
        f'<svg x="10.5" y="20" width="{width:g}" height="{height:g}" viewBox="0 0 200.5 100.25" '
        'stroke-linejoin="round" stroke-linecap="butt"><g/></svg>'
    )


def test_every_figure_has_the_same_quiet_look() -> None:
    pytest.importorskip("matplotlib", reason="the extra pictures isn't installed")
    from matplotlib.text import Text

    made, rows = figure(4, [1, 2])
    assert [made.get_figwidth(), made.get_figheight()] == [4, 3.5], "half an inch more than its rows"
    assert len(rows) == len(made.axes) == 2, "one below the other"
    assert rows[0].get_gridspec().get_height_ratios() == [1, 2]
    for axes in rows:
        shown = {side: line.get_visible() for side, line in axes.spines.items()}
        assert shown == {"left": True, "bottom": True, "top": False, "right": False}
        assert axes.spines["left"].get_linewidth() == 0.7
        assert axes.yaxis.get_label().get_fontsize() == 9
    titled(rows[0], "Tempo", "a minute")
    (more,) = rows[0].texts
    assert (more.get_text(), more.xy, more.get_position(), more.get_fontsize()) == ("a minute", (1, 0), (6, 0), 8)
    (title,) = (one for one in rows[0].get_children() if isinstance(one, Text) and one.get_text() == "Tempo")
    assert title.get_fontsize() == 9.5
    assert rows[0].title.get_text() == "" and rows[0].get_title(loc="left") == "Tempo"
    titled(rows[1], "Bars")
    assert not rows[1].texts


def test_a_picture_for_the_screen_has_160_points_an_inch() -> None:
    """PNG (ISO/IEC 15948): width and height stand in bytes 16 to 23."""
    pytest.importorskip("matplotlib", reason="the extra pictures isn't installed")
    png = written(figure(2, [1])[0], ".png")
    assert (int.from_bytes(png[16:20], "big"), int.from_bytes(png[20:24], "big")) == (320, 240)


def test_a_drawing_bears_no_date_so_that_the_same_is_the_same_tomorrow() -> None:
    pytest.importorskip("matplotlib", reason="the extra pictures isn't installed")
    assert b"date" not in written(figure(2, [1])[0], ".svg")
