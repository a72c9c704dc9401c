"""Where bars, beats and pitches stand on an engraved page, so that something can be drawn over the music.

Conventions: the engraver's units, a hundredth of a millimetre, within the line of music (which is moved as a whole, see
:mod:`companion.engrave.placing`); beats in quarters from the bar's start. Heads are found by the names that
:mod:`companion.engrave.musicxml_notes` gives them.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from companion.engrave.musicxml_notes import head_name
from companion.engrave.sheet import LEFT, RIGHT, Bar, Sheet
from companion.music.pitch import STEPS, Pitch

_SYSTEM = re.compile(r'<g id="[^"]*" class="system"')
_MOVED = re.compile(r'transform="translate\(0, (-?[\d.]+)\)"')
_LINE = re.compile(r'class="staff"[^>]*>\s*' + r'<path d="M(-?[\d.]+) (-?[\d.]+) L(-?[\d.]+) [^>]*/>\s*' * 2)
_HEAD = re.compile(r'<g id="(bar-?\d+voice\d+head\d+)" class="(?:note|rest)">.*?translate\((-?[\d.]+),', re.DOTALL)
_SIGN = re.compile(r'class="(?:clef|keySig|meterSig)".*?</g>', re.DOTALL)
_AT = re.compile(r"translate\((-?[\d.]+),")
_TOP = {RIGHT: ("F", 5), LEFT: ("A", 3)}
"""The top line of each staff: treble and bass clef."""
HALF_HEAD = 0.59
"""From the left edge of a note head to its middle, in spaces of a staff (SMuFL 1.4, noteheadBlack: 1.18 wide)."""
BEFORE_FIRST, AFTER_SIGNS = 1.5, 2.5
"""From a bar line, and from the left edge of the last sign at the beginning of a line, to the first beat, where no head
tells it, in spaces."""
AT_THE_EDGE = 0.9
"""How near to a bar line something may be drawn, in spaces."""


@dataclass(frozen=True)
class StaffPlace:
    """A staff in a bar."""

    top: float
    """Its top line."""
    space: float
    """Between two lines."""


@dataclass(frozen=True)
class BarPlace:
    """A bar on the page."""

    number: int
    line: int
    """Of the lines of music, from 0."""
    left: float
    right: float
    staves: Mapping[int, StaffPlace]
    """1: the right hand's, 2: the left hand's."""
    beats: tuple[tuple[float, float], ...]
    """Beats of the bar with the middles of the heads that stand there, both rising; its end is its right edge."""

    def x(self, beat: float) -> float:
        """Where a beat stands; one that lies outside the bar, at its edge, clear of the bar line."""
        at = min(max(bisect_right(self.beats, (beat, float("inf"))) - 1, 0), len(self.beats) - 2)
        (low, left), (high, right) = self.beats[at : at + 2]
        edge = AT_THE_EDGE * next(iter(self.staves.values())).space
        return min(max(left + (beat - low) * (right - left) / (high - low), self.left + edge), self.right - edge)

    def y(self, pitch: Pitch, staff: int) -> float:
        """Where a pitch stands on a staff."""
        step, octave = _TOP[staff]
        below = 7 * (octave - pitch.octave) + STEPS.index(step) - STEPS.index(pitch.step)
        place = self.staves[staff]
        return place.top + below * place.space / 2


def bar_places(svg: str, sheet: Sheet) -> list[BarPlace]:
    """The bars of an engraved page, in order; empty where they can't be told.

    Parameters
    ----------
    svg : str
        A page with all of the sheet.
    sheet : Sheet
        Whose bars have numbers of their own: nothing in it is folded.
    """
    starts = [found.start() for found in _SYSTEM.finditer(svg)]
    measures = [
        (line, measure)
        for line, (begin, end) in enumerate(pairwise([*starts, len(svg)]))
        for measure in svg[begin:end].split('class="measure"')[1:]
    ]
    if len(measures) != len(sheet.bars):
        return []
    return [_place(bar, line, text, sheet.staves) for bar, (line, text) in zip(sheet.bars, measures, strict=True)]


def line_shifts(svg: str) -> list[float]:
    """How far each line of a page was moved down from where its bars' places say, in their units."""
    return [
        float(moved[1]) if (moved := _MOVED.search(svg, found.start(), svg.index(">", found.start()))) else 0.0
        for found in _SYSTEM.finditer(svg)
    ]


def _place(bar: Bar, line: int, measure: str, staves: Sequence[int]) -> BarPlace:
    lines = _LINE.findall(measure)
    places = {
        staff: StaffPlace(float(first), float(second) - float(first))
        for staff, (_, first, _, _, second, _) in zip(staves, lines, strict=False)
    }
    left, right = float(lines[0][0]), float(lines[0][2])
    space = places[staves[0]].space
    drawn = {name: float(x) + HALF_HEAD * space for name, x in _HEAD.findall(measure)}
    heads = [
        (float(head.start), drawn[name])
        for v, voice in enumerate(bar.voices)
        for h, head in enumerate(voice.heads)
        if (name := head_name(bar, v, h)) in drawn and not head.whole_bar
    ]
    beats: list[tuple[float, float]] = []
    for beat, x in sorted([*heads, (float(bar.length), right)]):
        if not beats or (beat > beats[-1][0] and x > beats[-1][1]):
            beats.append((beat, x))
    if beats[0][0] > 0:
        signs = [float(x) for sign in _SIGN.findall(measure) for x in _AT.findall(sign)]
        first = max([left + BEFORE_FIRST * space, *(x + AFTER_SIGNS * space for x in signs)])
        beats.insert(0, (0.0, min(first, beats[0][1] - 1.0)))
    return BarPlace(bar.number, line, left, right, places, tuple(beats))


def without_rests(svg: str, sheet: Sheet, staves: Collection[int]) -> str:
    """A page on which the rests of some staves aren't seen."""
    hidden = {
        head_name(bar, v, h)
        for bar in sheet.bars
        for v, voice in enumerate(bar.voices)
        if voice.staff in staves
        for h in range(len(voice.heads))
    }

    def unseen(found: re.Match[str]) -> str:
        return found[0].replace(" class=", ' visibility="hidden" class=') if found[1] in hidden else found[0]

    return re.sub(r'<g id="(bar-?\d+voice\d+head\d+)" class="rest"', unseen, svg)


def with_marks(svg: str, under: Mapping[int, Sequence[str]], over: Mapping[int, Sequence[str]]) -> str:
    """A page with something drawn under the notes and over them, by lines of music.

    Parameters
    ----------
    svg : str
    under, over : mapping of int to sequence of str
        SVG elements, in the units of the line.
    """
    heads = list(_SYSTEM.finditer(svg))
    parts = [svg[: heads[0].start()]] if heads else [svg]
    ends = [head.start() for head in heads[1:]] + [svg.find("</svg>", heads[-1].start())] if heads else []
    for line, (head, end) in enumerate(zip(heads, ends, strict=True)):
        last = line == len(heads) - 1
        begin = svg.index(">", head.start()) + 1
        close = svg.rindex("</g>", begin, end)
        close = svg.rindex("</g>", begin, close) if last else close  # the page's own comes after that of its last line
        parts += [
            svg[head.start() : begin],
            *under.get(line, ()),
            svg[begin:close],
            *over.get(line, ()),
            svg[close:end],
        ]
    return "".join([*parts, svg[ends[-1] :] if ends else ""])
