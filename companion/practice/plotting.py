"""Pictures of figures: one quiet look for all of them, and a file's bytes by its suffix. Drawn by matplotlib.

Nothing is told by colour alone: what went well is a filled mark, what didn't an open one or another shape, so that a
picture says the same printed in black and to whoever doesn't tell red from green.
"""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, Any

from companion.errors import UseError
from companion.installation import install_command

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PACKAGES = ("matplotlib",)
"""What the extra ``pictures`` consists of."""
SUFFIXES = (".svg", ".png")
INK, SOFT, FAINT, FAULT, WASH = "#2b2a33", "#8c8a94", "#d9d7dd", "#a8443a", "#f3f1ec"
"""Of what is read, of what stands beside it, of lines to read along, of faults, and of bands behind."""
_STYLE: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.size": 9,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "text.color": INK,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "svg.hashsalt": "companion",  # the same figures, the same bytes
    "savefig.dpi": 160,
}


def figure(width: float, heights: list[float]) -> tuple[Figure, list[Axes]]:
    """An empty figure with rows of axes that share what goes across.

    Parameters
    ----------
    width : float
        Inches.
    heights : list of float
        Of each row, inches.

    Raises
    ------
    UseError
        matplotlib isn't installed.
    """
    try:
        import matplotlib
    except ImportError:
        how = f"install it with: {install_command('pictures', PACKAGES)}"
        raise UseError("pictures need matplotlib, which isn't installed", mend=how) from None
    from matplotlib.figure import Figure

    with matplotlib.rc_context(_STYLE):
        made = Figure(figsize=(width, sum(heights) + 0.5), layout="constrained")
        rows = made.subplots(len(heights), 1, sharex=True, squeeze=False, gridspec_kw={"height_ratios": heights})
    return made, [row[0] for row in rows]


def titled(axes: Axes, text: str, more: str = "") -> None:
    """Say over its left edge what axes show, and softly what else is to be known."""
    title = axes.set_title(text, loc="left", fontsize=9.5, color=INK)
    if more:
        axes.annotate(more, (1, 0), xycoords=title, xytext=(6, 0), textcoords="offset points", fontsize=8, color=SOFT,
                      va="bottom")  # fmt: skip


def written(made: Figure, suffix: str) -> bytes:
    """A figure as the bytes of a file with a suffix of :data:`SUFFIXES`."""
    import matplotlib

    stream = io.BytesIO()
    more: dict[str, Any] = {"metadata": {"Date": None}} if suffix == ".svg" else {}
    with matplotlib.rc_context(_STYLE):
        made.savefig(stream, format=suffix.removeprefix("."), facecolor="white", **more)
    return stream.getvalue()


def nested(picture: bytes, x: float, y: float, width: float) -> tuple[str, float]:
    """A picture in SVG as part of another one, and its height there.

    Parameters
    ----------
    picture : bytes
        From :func:`written`.
    x, y, width : float
        Where it stands, in the other's units.
    """
    text = picture.decode("utf-8")
    found = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', text)
    wide, high = (float(found[1]), float(found[2])) if found else (1.0, 1.0)
    inside = text[text.index(">", text.index("<svg")) + 1 : text.rindex("</svg>")]
    inside = re.sub(r"<metadata>.*?</metadata>", "", inside, flags=re.DOTALL)
    # matplotlib's style is for all elements of a document, and there are others in this one
    inside = re.sub(r"<style[^>]*>.*?</style>", "", inside, flags=re.DOTALL)
    height = high * width / wide
    frame = f'<svg x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" viewBox="0 0 {wide:g} {high:g}"'
    return f'{frame} stroke-linejoin="round" stroke-linecap="butt">{inside}</svg>', height
