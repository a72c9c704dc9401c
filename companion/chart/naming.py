"""Names for the sections of a tune that gives none: A, B, C as musicians would call them.

Equal stretches share a name. Stretches that begin alike and end differently share a letter and are numbered: A1, A2. A
heading on the page ('Refrain') is the name of what stands under it; a bar or two before everything else is the lead-in.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain, count

from companion.chart.model import Section
from companion.music.chords import Chord

ALIKE_BARS = 3
"""Stretches whose first bars agree (this many, or half of the shorter one) are the same section ending differently."""
ALIKE_SHARE = 0.8
"""So much of the melody's notes there must be the same: another text often splits or joins a note."""
LEAD_IN_BARS = 2


@dataclass(frozen=True)
class UnnamedSection:
    """A stretch of played bars: a section without a name."""

    heading: str | None
    section: Section


def name_pieces(pieces: Sequence[UnnamedSection]) -> tuple[tuple[Section, ...], tuple[str, ...]]:
    """Sections, each once in the order of appearance, and the form that plays the pieces in order."""
    headed = {piece.heading: piece.section for piece in pieces if piece.heading}
    if all(piece.heading and headed[piece.heading] == piece.section for piece in pieces):
        # The page names every section, and each name means one thing: nothing is left to guess.
        return tuple(replace(section, name=name) for name, section in headed.items() if name), tuple(
            piece.heading for piece in pieces if piece.heading
        )
    families: list[list[Section]] = []
    headings: list[str | None] = []
    member: list[tuple[int, int]] = []
    for number, piece in enumerate(pieces):
        family = next((f for f, known in enumerate(families) if alike(known[0], piece.section)), None)
        if family is None:
            families.append([])
            headings.append("Lead-in" if number == 0 and _leads_in(pieces) else None)
            family = len(families) - 1
        headings[family] = headings[family] or _stem(piece.heading)
        if piece.section not in families[family]:
            families[family].append(piece.section)
        member.append((family, families[family].index(piece.section)))
    titles = _titles(headings)
    named = _own_names(pieces, member)
    for family, which in member:
        if (family, which) not in named:
            taken = set(named.values())
            numbers = (_numbered(titles[family], number) for number in count(which + 1))
            names = chain([titles[family]] if len(families[family]) == 1 else [], numbers)
            named[family, which] = next(name for name in names if name not in taken)
    sections = tuple(replace(families[f][which], name=named[f, which]) for f, which in dict.fromkeys(member))
    return sections, tuple(named[place] for place in member)


def _own_names(pieces: Sequence[UnnamedSection], member: Sequence[tuple[int, int]]) -> dict[tuple[int, int], str]:
    """Sections whose heading is theirs alone, and their only one."""
    under: dict[str, set[tuple[int, int]]] = {}
    over: dict[tuple[int, int], set[str | None]] = {}
    for piece, place in zip(pieces, member, strict=True):
        over.setdefault(place, set()).add(piece.heading)
        if piece.heading:
            under.setdefault(piece.heading, set()).add(place)
    return {
        place: heading
        for heading, places in under.items()
        for place in places
        if len(places) == 1 and over[place] == {heading}
    }


def _stem(heading: str | None) -> str | None:
    """A heading without the number of its section: what is headed A1 may come again as A2."""
    return re.sub(r"(?<=[A-Za-z])\d+$|-\d+$", "", heading) or heading if heading else None


def alike(known: Section, other: Section, bars: int | None = None) -> bool:
    """Whether two sections begin with the same melody and chords; for so many bars, or for a few."""
    shorter = min(len(known.bars), len(other.bars))
    needed = bars or max(1, min(ALIKE_BARS, (shorter + 1) // 2))
    if shorter == 1 and len(known.bars) != len(other.bars):
        return False
    if known.bars[:needed] != other.bars[:needed]:
        return False
    reach = sum(known.bars[:needed], Fraction(0))
    (melody, chords), (other_melody, other_chords) = _opening(known, reach), _opening(other, reach)
    if chords != other_chords or not (melody or chords):
        return False
    return len(set(melody) & set(other_melody)) >= ALIKE_SHARE * max(len(melody), len(other_melody))


def _opening(section: Section, reach: Fraction) -> tuple[list[tuple[Fraction, int]], list[tuple[Fraction, Chord]]]:
    """What is played from the first downbeat up to a beat; a chord carried in from before doesn't tell."""
    melody = [(n.beat, n.pitch.midi) for n in section.melody if 0 <= n.beat < reach]
    return melody, [(c.start, c.chord) for c in section.chords if 0 < c.start < reach]


def _leads_in(pieces: Sequence[UnnamedSection]) -> bool:
    """The first piece is a bar or two before something longer."""
    return len(pieces) > 1 and len(pieces[0].section.bars) <= LEAD_IN_BARS < len(pieces[1].section.bars)


def _numbered(title: str, number: int) -> str:
    return f"{title}{'' if title[-1:].isalpha() else '-'}{number}"


def _titles(headings: Sequence[str | None]) -> list[str]:
    """A title for each family: its heading, or the next free letter. No title is another one with a number."""
    given = {heading for heading in headings if heading}
    letters = (letter for letter in _letters() if not any(name.startswith(letter) for name in given if len(name) < 4))
    used: set[str] = set()
    titles = []
    for heading in headings:
        title = heading if heading and heading not in used else next(letters)
        used.add(title)
        titles.append(title)
    return titles


def _letters() -> Iterator[str]:
    for times in range(1, 100):
        for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ":
            yield letter * times
