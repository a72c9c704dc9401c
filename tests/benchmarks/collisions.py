"""Ink that stands on other ink, read out of an engraved page with bounding boxes: heads, signs, dots, rests and ties.

Counted are, within a bar and a staff: a head on a head of another voice (but for a unison), an accidental, a dot or a
rest on a head or on another such sign, and a tie that runs through the head of a note which it doesn't join.

Conventions: hundredths of a millimetre, y downwards.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise
from xml.etree.ElementTree import Element, fromstring

SVG = "{http://www.w3.org/2000/svg}"
TOUCH = 25.0
"""What two signs may share: their boxes are wider than their ink."""
SIGNS = ("note", "accid", "rest", "dots")
_NUMBERS = re.compile(r"-?[\d.]+")


@dataclass(frozen=True)
class Ink:
    """A sign's box, and the voice it belongs to."""

    what: str
    layer: int
    left: float
    top: float
    right: float
    foot: float

    def meets(self, other: Ink) -> bool:
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.foot, other.foot) - max(self.top, other.top)
        return across > TOUCH and down > TOUCH

    def same_place(self, other: Ink) -> bool:
        return abs(self.top - other.top) < 1


def collisions(svg: str) -> Iterator[str]:
    """What stands on what, bar by bar of a page."""
    for number, measure in enumerate(_of(fromstring(svg), "measure"), 1):
        for staff in _of(measure, "staff"):
            ink = [one for k, layer in enumerate(_of(staff, "layer")) for one in _ink(layer, k)]
            for one, other in combinations(ink, 2):
                if one.meets(other) and _matters(one, other):
                    yield f"bar {number} of the page: {one.what} on {other.what}"
        heads = [one for staff in _of(measure, "staff") for one in _ink(staff, 0) if one.what == "note"]
        for tie in _of(measure, "tie"):
            if _through(tie, heads):
                yield f"bar {number} of the page: tie through note"


def _matters(one: Ink, other: Ink) -> bool:
    kinds = {one.what, other.what}
    if kinds == {"note"}:
        return one.layer != other.layer and not one.same_place(other)
    return kinds != {"dots"} or one.layer != other.layer


def _of(element: Element, what: str) -> list[Element]:
    return [g for g in element.iter(f"{SVG}g") if g.get("class", "").split(" ") == [what]]


def _ink(element: Element, layer: int) -> Iterator[Ink]:
    for group in element.iter(f"{SVG}g"):
        kind, *rest = group.get("class", "").split(" ")
        if kind not in SIGNS:
            continue
        if kind == "dots" and not rest:
            for dot in group.iter(f"{SVG}ellipse"):
                x, y, r = (float(dot.get(key, "0")) for key in ("cx", "cy", "rx"))
                yield Ink(kind, layer, x - r, y - r, x + r, y + r)
        elif "bounding-box" in rest and kind != "dots":
            for rect in group.iter(f"{SVG}rect"):
                x, y, w, h = (float(rect.get(key, "0")) for key in ("x", "y", "width", "height"))
                if w and h:
                    yield Ink(kind, layer, x, y, x + w, y + h)


def _through(tie: Element, heads: list[Ink]) -> bool:
    """Whether the middle of a tie's curve lies in a head."""
    path = next((path.get("d", "") for path in tie.iter(f"{SVG}path")), "")
    numbers = [float(n) for n in _NUMBERS.findall(path)]
    if len(numbers) < 8:
        return False
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = list(zip(numbers[::2], numbers[1::2], strict=False))[:4]
    points = []
    for k in range(3, 18):
        t, u = k / 20, 1 - k / 20
        points.append(
            (u**3 * x0 + 3 * u * u * t * x1 + 3 * u * t * t * x2 + t**3 * x3,
             u**3 * y0 + 3 * u * u * t * y1 + 3 * u * t * t * y2 + t**3 * y3)
        )  # fmt: skip
    inside = [any(h.left + 20 < x < h.right - 20 and h.top + 20 < y < h.foot - 20 for h in heads) for x, y in points]
    return any(a and b for a, b in pairwise(inside))
