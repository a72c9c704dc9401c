"""What was played, drawn over the written notes: a mark for each note, told apart by its shape.

    right     a soft shadow of the head, to the left where it was early, to the right where it was late
    free      a small full head: nothing was written there note for note, and it fits
    wrong     a cross where it was played
    missing   a broken ring around the written head
    extra     an open diamond where it was played
    left out  a grey band behind a bar that wasn't played

Conventions: the engraver's units, as in :mod:`companion.engrave.note_places`; sizes in spaces of a staff.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from companion.chart.model import Form
from companion.engrave.note_places import BarPlace
from companion.engrave.sheet import LEFT, RIGHT
from companion.music.pitch import Pitch, pitch_in_key
from companion.practice.judging import JudgedNote
from companion.practice.plotting import FAINT, FAULT, INK

SHADOW, FITS = "#b9cbd3", "#5f7f8d"
"""Of right notes, and of free ones."""
A_SPACE_MS = 40.0
"""Milliseconds early or late that are drawn as one space, so that they are seen ..."""
FARTHEST = 2.2
"""... and how many spaces at the most."""
BESIDE = 1.3
"""How far to the right a mark stands that would hide the written head."""
MarkKind = Literal["right", "free", "wrong", "missing", "extra", "left out"]
LEGEND: tuple[tuple[MarkKind, str], ...] = (
    ("right", "right (left of the note: early; right of it: late)"),
    ("free", "fits"),
    ("wrong", "wrong"),
    ("missing", "missing"),
    ("extra", "too many"),
    ("left out", "not played"),
)
MIDDLE_C = 60


@dataclass(frozen=True)
class Mark:
    """An element, and whether it lies under the notes."""

    svg: str
    under: bool = False


def staff_for(note: JudgedNote, staves: Sequence[int]) -> int:
    """The staff on which a note is drawn; a line above a bass goes to the right hand's, whatever it was taken for."""
    pitch = note.pitch if note.pitch is not None else note.expected
    from_here = {"bass": MIDDLE_C, "chords": MIDDLE_C - 7}.get(note.part, 0)
    low = pitch is not None and pitch < from_here
    wanted = LEFT if low else RIGHT
    return wanted if wanted in staves else staves[0]


def mark(
    note: JudgedNote, place: BarPlace, beat: float, form: Form, staff: int, written: Pitch | None = None
) -> list[Mark]:
    """What is drawn for a note.

    Parameters
    ----------
    note : JudgedNote
    place : BarPlace
        Its bar.
    beat : float
        Where it is written in the bar, or fell.
    form : Form
        Whose key spells what wasn't written.
    staff : int
    written : Pitch, optional
        What was expected, as it stands there.
    """
    space, x = place.staves[staff].space, place.x(beat)

    def y(midi: int) -> float:
        return place.y(written or pitch_in_key(midi, form.fifths, form.minor), staff)

    if note.kind == "right" and note.expected is not None:
        off = (note.deviation_ms or 0.0) / A_SPACE_MS
        shifted = x + space * min(max(off, -FARTHEST), FARTHEST)
        return [Mark(shape("right", shifted, y(note.expected), space), under=True)]
    if note.kind == "missing":
        at = y(note.expected) if note.expected is not None else place.staves[staff].top + 2 * space
        return [Mark(shape("missing", x, at, space))]
    if note.pitch is None:
        return []
    played = pitch_in_key(note.pitch, form.fifths, form.minor)
    at = place.y(played, staff)
    kind: MarkKind = note.kind if note.is_fault else "free"
    if kind in ("wrong", "extra") and note.expected is not None and abs(at - y(note.expected)) < 0.9 * space:
        x += BESIDE * space
    drawn = [Mark(line, under=True) for line in _ledger_lines(place, staff, x, at)]
    drawn.append(Mark(shape(kind, x, at, space)))
    if kind in ("wrong", "extra") and (sign := _sign(played, form)):
        drawn.append(Mark(_text(sign, x + 1.25 * space, at + 0.5 * space, 1.7 * space)))
    return drawn


def left_out(place: BarPlace) -> Mark:
    """A bar that wasn't played."""
    first, last = min(place.staves), max(place.staves)
    top, bottom = place.staves[first].top, place.staves[last].top + 4 * place.staves[last].space
    where = f'x="{place.left:.0f}" y="{top:.0f}" width="{place.right - place.left:.0f}" height="{bottom - top:.0f}"'
    return Mark(f'<rect {where} fill="{FAINT}"/>', under=True)


def _sign(pitch: Pitch, form: Form) -> str:
    """The accidental that a pitch needs in the key."""
    in_key = (form.fifths - "FCGDAEB".index(pitch.step) + 6) // 7
    return "" if pitch.alter == in_key else {0: "♮", 1: "♯", -1: "♭", 2: "♯♯", -2: "♭♭"}.get(pitch.alter, "")


def _ledger_lines(place: BarPlace, staff: int, x: float, at: float) -> list[str]:
    staff_place = place.staves[staff]
    space, top = staff_place.space, staff_place.top
    bottom = top + 4 * space
    lines = []
    y = top - space
    while y >= at - 1:
        lines.append(y)
        y -= space
    y = bottom + space
    while y <= at + 1:
        lines.append(y)
        y += space
    half = 0.95 * space
    return [
        f'<path d="M{x - half:.0f} {y:.0f} H{x + half:.0f}" style="stroke:{INK}" stroke-width="12"/>' for y in lines
    ]


def shape(kind: MarkKind, x: float, y: float, space: float) -> str:
    """A mark at a place. Its colours are said as style, which goes before what the engraver says of all paths.

    Parameters
    ----------
    kind : str
        As in :data:`LEGEND`.
    x, y : float
        Its middle.
    space : float
        Between two lines of a staff.
    """
    s = space
    if kind == "left out":
        return (
            f'<rect x="{x - s:.0f}" y="{y - 0.7 * s:.0f}" width="{2 * s:.0f}" height="{1.4 * s:.0f}" fill="{FAINT}"/>'
        )
    if kind == "right":
        return f'<ellipse cx="{x:.0f}" cy="{y:.0f}" rx="{0.95 * s:.0f}" ry="{0.78 * s:.0f}" fill="{SHADOW}"/>'
    if kind == "free":
        turned = f'transform="rotate(-22 {x:.0f} {y:.0f})"'
        return f'<ellipse cx="{x:.0f}" cy="{y:.0f}" rx="{0.6 * s:.0f}" ry="{0.42 * s:.0f}" fill="{FITS}" {turned}/>'
    pen = f'stroke-linecap="round" style="fill:{"white" if kind == "extra" else "none"};stroke:{FAULT}"'
    if kind == "wrong":
        a = 0.62 * s
        path = f"M{x - a:.0f} {y - a:.0f} L{x + a:.0f} {y + a:.0f} M{x - a:.0f} {y + a:.0f} L{x + a:.0f} {y - a:.0f}"
        return f'<path d="{path}" {pen} stroke-width="{0.28 * s:.0f}"/>'
    if kind == "missing":
        dashes = f'stroke-dasharray="{0.5 * s:.0f} {0.42 * s:.0f}"'
        return f'<circle cx="{x:.0f}" cy="{y:.0f}" r="{1.15 * s:.0f}" {pen} stroke-width="{0.2 * s:.0f}" {dashes}/>'
    a = 0.72 * s
    path = f"M{x - a:.0f} {y:.0f} L{x:.0f} {y - a:.0f} L{x + a:.0f} {y:.0f} L{x:.0f} {y + a:.0f} Z"
    return f'<path d="{path}" {pen} stroke-width="{0.2 * s:.0f}"/>'


def _text(text: str, x: float, y: float, size: float) -> str:
    where = f'x="{x:.0f}" y="{y:.0f}" font-size="{size:.0f}px" text-anchor="middle"'
    return f'<text {where} fill="{FAULT}" font-family="DejaVu Sans, sans-serif">{text}</text>'
