"""Single voicings, each as a drawing of its own: a clef and the notes, to be read from a metre away.

Conventions: as in :mod:`companion.engrave.systems`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from companion.engrave.page import lay_music_out, open_engraver
from companion.engrave.paper import MARGIN_MM, Paper
from companion.engrave.sheet import LEFT, RIGHT, Bar, Sheet, Voice
from companion.engrave.systems import STAFF_MM, TIGHT, a_page_each, framed
from companion.engrave.values import Head
from companion.music.meter import Metre
from companion.music.pitch import Pitch

WIDE_MM = 24.0
"""Of a drawing: clef, accidentals, and notes."""
MIDDLE = 57
"""MIDI number; a voicing whose middle lies below stands in the bass clef."""
_METRE = Metre(4, 4)


def small_staves(voicings: Iterable[tuple[Pitch, ...]]) -> dict[tuple[Pitch, ...], str]:
    """Draw voicings.

    Parameters
    ----------
    voicings : iterable of tuple of Pitch
        Each from the lowest note up.

    Returns
    -------
    dict
        For each its drawing (SVG).

    Raises
    ------
    UseError
        The engraver isn't installed.
    """
    wanted = list(dict.fromkeys(voicing for voicing in voicings if voicing))
    found: dict[tuple[Pitch, ...], str] = {}
    for staff in (RIGHT, LEFT):
        here = [voicing for voicing in wanted if _staff(voicing) == staff]
        found |= dict(zip(here, _drawn(here, staff), strict=True))
    return found


def _staff(voicing: tuple[Pitch, ...]) -> int:
    return RIGHT if sum(pitch.midi for pitch in voicing) / len(voicing) >= MIDDLE else LEFT


def _drawn(voicings: Sequence[tuple[Pitch, ...]], staff: int) -> list[str]:
    if not voicings:
        return []
    number = 1 if staff == RIGHT else 5
    rows = [voicings[0], *voicings]  # the first has the time signature beside it, and isn't shown
    bars = tuple(
        Bar(
            number=k,
            length=_METRE.bar,
            metre=_METRE,
            voices=(Voice(staff, number, (Head(Fraction(0), _METRE.bar, "whole", 0, pitches),)),),
            new_line=k > 1,
        )
        for k, pitches in enumerate(rows, 1)
    )
    sheet = a_page_each(Sheet("", None, _METRE, 0, False, 120.0, "straight", (staff,), bars))
    engraver = open_engraver()
    paper = Paper(WIDE_MM + 2 * MARGIN_MM, 100.0)
    count = lay_music_out(engraver, sheet, paper, STAFF_MM, breaks="encoded", **TIGHT)
    return [framed(engraver.renderToSVG(page)) for page in range(2, count + 1)]
