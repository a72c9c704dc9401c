"""What is drawn in a figure, in lines: the same whichever version of the library draws it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def drawn(figure: Figure) -> list[str]:
    """Axes from above, and in each of them marks, lines, bands and words, with their places and their looks."""
    wide, high = figure.get_size_inches()
    head = figure.get_suptitle()
    lines = [f"{wide:g} by {high:g} inches" + (f": {head}" if head else "")]
    lines += [f"{text.get_fontsize():g} from {text.get_position()[0]:g}" for text in figure.texts]
    for axes in figure.axes:
        lines += _axes(axes)
    return lines


def _axes(axes: Axes) -> list[str]:
    from matplotlib.ticker import FixedLocator

    title = axes.get_title(loc="left")
    ratio = axes.get_gridspec().get_height_ratios()[axes.get_subplotspec().rowspan.start]  # type: ignore[union-attr]
    lines = [f"{title}: {_numbers(axes.get_xlim())} by {_numbers(axes.get_ylim())}, height {ratio:g}"]
    for name, axis in (("x", axes.xaxis), ("y", axes.yaxis)):
        if isinstance(axis.get_major_locator(), FixedLocator):
            places, words = axis.get_majorticklocs(), " ".join(text.get_text() for text in axis.get_ticklabels())
            lines.append(f"  {name} marked at {_numbers(places)}: {words}".rstrip(": "))
    for marks in axes.collections:
        places = [f"({_numbers(place)})" for place in marks.get_offsets()]
        face, edge = (_colours(found) for found in (marks.get_facecolor(), marks.get_edgecolor()))
        corners = len(marks.get_paths()[0].vertices)
        sizes = _numbers(marks.get_sizes())  # type: ignore[attr-defined]
        look = f"{face}/{edge}, size {sizes}, line {_numbers(marks.get_linewidth())}, {corners} corners"
        if places:
            lines.append(f"  marks {look}, layer {marks.get_zorder():g}: {' '.join(places)}")
    for line in axes.lines:
        places = [f"({_numbers(place)})" for place in line.get_xydata()]
        look = f"{line.get_color()}, {line.get_linewidth():g}, {line.get_linestyle()} {line.get_drawstyle()}"
        mark = "" if line.get_marker() == "None" else f", {line.get_marker()} {line.get_markersize():g}"
        lines.append(f"  line {look}{mark}, layer {line.get_zorder():g}: {' '.join(places)}")
    for patch in axes.patches:
        box = patch.get_extents().transformed(axes.transData.inverted())
        look = f"{_colours([patch.get_facecolor()])}: from {box.x0:.2f} to {box.x1:.2f}"
        lines.append(f"  band {look}, layer {patch.get_zorder():g}")
    for text in axes.texts:
        where = _numbers((*text.xy, *text.get_position()))  # type: ignore[attr-defined]
        lines.append(f"  {text.get_text()!r} {text.get_fontsize():g} {text.get_color()} at {where}")
    return lines


def _numbers(found: Iterable[Any]) -> str:
    """Numbers to a hundredth; what is the same throughout once."""
    texts = [f"{float(one):.2f}".rstrip("0").rstrip(".") for one in found]
    return texts[0] if len(set(texts)) == 1 and len(texts) > 2 else " ".join(texts)


def _colours(found: Iterable[Any]) -> str:
    from matplotlib.colors import to_hex

    return " ".join(dict.fromkeys(to_hex(one) for one in found))
