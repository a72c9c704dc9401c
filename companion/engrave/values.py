"""Note values: how a span of a bar is written with note heads, dots, ties, rests, tuplets and beams.

Conventions: beats and lengths in quarters from the start of the bar, as Fractions. A span that no single head may
stand for is cut at the strongest place inside it, again and again, so that the middle of the bar and the beats stay
visible; rests are cut more often than notes (common practice; Gould, Behind Bars, 2011, "Grouping of note values", from
memory).

A tuplet is found by its arithmetic: the shortest even span of the bar which holds all the ends that don't fall on
halves of halves of a quarter. So many equal parts stand there in the place of the next lower power of two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise
from math import lcm

from companion.chart.musicxml.measures import TYPES
from companion.errors import ChartError
from companion.music.meter import Metre
from companion.music.pitch import Pitch

NAMES = {length: name for name, length in TYPES.items()}
"""Names of the note values by their length in quarters."""
TUPLET_STRETCHES = (Fraction(1, 2), Fraction(1), Fraction(2), Fraction(4))
MOST_PARTS = 9
"""Rather than a tuplet of more parts, a note is tied across the edge of a smaller one."""
FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5}
HALF = Fraction(1, 2)
_UNEVEN = {
    (3, 8): (), (5, 8): (3 * HALF,), (7, 8): (2 * HALF, 4 * HALF), (5, 16): (3 * HALF / 2,), (7, 16): (HALF, 2 * HALF),
}  # fmt: skip
"""Where the beamed groups of a bar part, in quarters, where its pulse doesn't say (common practice)."""


@dataclass(frozen=True)
class VoiceSpan:
    """What sounds in one voice from here to there; without a pitch, a rest."""

    start: Fraction
    end: Fraction
    pitches: tuple[Pitch, ...] = ()
    tied_back: bool = False
    """It began in the bar before."""
    tied_on: bool = False
    """It goes on in the next bar."""
    joining: tuple[Pitch, ...] = ()
    """Of a chord that is tied back: the notes that are struck here and join it."""
    small: bool = False
    """Played when the head comes again, and not the first time."""


@dataclass(frozen=True)
class Tuplet:
    """So many parts in the place of so many, from here to there."""

    start: Fraction
    end: Fraction
    actual: int
    normal: int


@dataclass(frozen=True)
class Head:
    """A note head, a chord of them, or a rest, as it is written."""

    start: Fraction
    length: Fraction
    """What it lasts, in quarters."""
    value: str
    """MusicXML's name of the note value."""
    dots: int
    pitches: tuple[Pitch, ...]
    tied_back: bool = False
    tied_on: bool = False
    tuplet: Tuplet | None = None
    whole_bar: bool = False
    """A rest that fills the bar, whatever its length."""
    beams: tuple[str, ...] = ()
    """MusicXML's beam values, from the first beam on."""
    tied_away: bool = False
    """Tied to a note that doesn't stand next on the page: over a repeat."""
    slash: bool = False
    """No note, but a beat on which to play what the chord symbol says."""
    hidden: bool = False
    """A rest of a voice that is silent all bar: written, so that other readers find the voice, but not printed."""
    joining: tuple[Pitch, ...] = ()
    """Of a chord that is tied back: the notes that are struck here and join it."""
    small: bool = False
    """Of the size of a cue."""

    @property
    def end(self) -> Fraction:
        """Where it ends."""
        return self.start + self.length

    def held_over(self, pitch: Pitch) -> bool:
        """Whether a pitch of it is tied back to the head before."""
        return self.tied_back and pitch not in self.joining


def write_bar(
    sounding: Sequence[VoiceSpan], length: Fraction, metre: Metre, first: Fraction = Fraction(0)
) -> tuple[Head, ...]:
    """One voice of one bar, written out.

    Parameters
    ----------
    sounding : sequence of VoiceSpan
        In order, without overlap, within the bar; what lies between is rests.
    length : Fraction
        Of the bar.
    metre : Metre
    first : Fraction
        Where in the metre the bar begins: a pickup of one quarter in 4/4 begins at 3.

    Returns
    -------
    tuple of Head
        They fill the bar.

    Raises
    ------
    ChartError
        When no note values do.
    """
    if not sounding and length == metre.bar:
        return (Head(Fraction(0), length, "whole", 0, (), whole_bar=True),)
    try:
        return _written(sounding, length, metre, first)
    except (KeyError, ValueError) as error:
        what = "holds a rhythm that no note values can write"
        raise ChartError(what, mend="look for notes of odd lengths") from error


def _written(sounding: Sequence[VoiceSpan], length: Fraction, metre: Metre, first: Fraction) -> tuple[Head, ...]:
    spans = _with_rests([_moved(span, first) for span in sounding], first, first + length)
    bar = first + length
    tuplets = _tuplets(spans, first, bar)
    edges = sorted({edge for tuplet in tuplets for edge in (tuplet.start, tuplet.end)})
    heads: list[Head] = []
    for span in spans:
        for piece in _cut(span, edges):
            tuplet = next((t for t in tuplets if t.start <= piece.start < t.end), None)
            heads += _in_tuplet(piece, tuplet) if tuplet else _plain(piece, bar, metre)
    return tuple(replace(head, start=head.start - first) for head in _beamed(heads, metre, bar))


def _moved(span: VoiceSpan, by: Fraction) -> VoiceSpan:
    return replace(span, start=span.start + by, end=span.end + by)


def _with_rests(sounding: Sequence[VoiceSpan], first: Fraction, end: Fraction) -> list[VoiceSpan]:
    filled: list[VoiceSpan] = []
    at = first
    for span in sounding:
        if span.start > at:
            filled.append(VoiceSpan(at, span.start))
        filled.append(span)
        at = span.end
    if at < end:
        filled.append(VoiceSpan(at, end))
    return filled


def _cut(span: VoiceSpan, edges: Sequence[Fraction]) -> list[VoiceSpan]:
    """A span cut at some places; its pieces are tied."""
    places = [span.start, *(edge for edge in edges if span.start < edge < span.end), span.end]
    sounds = bool(span.pitches)
    return [
        VoiceSpan(
            start,
            end,
            span.pitches,
            tied_back=span.tied_back if start == span.start else sounds,
            tied_on=span.tied_on if end == span.end else sounds,
            joining=span.joining if start == span.start else (),
            small=span.small,
        )
        for start, end in pairwise(places)
    ]


# tuplets


def _dyadic(beat: Fraction) -> bool:
    return not beat.denominator & (beat.denominator - 1)


def _tuplets(spans: Sequence[VoiceSpan], first: Fraction, length: Fraction) -> list[Tuplet]:
    found: list[Tuplet] = []
    odd = sorted({edge for s in spans for edge in (s.start, s.end) if not _dyadic(edge)})
    at = first
    for edge in odd:
        if edge > at:
            found.append(_tuplet(spans, edge, at, length))
            at = found[-1].end
    return found


def _tuplet(spans: Sequence[VoiceSpan], edge: Fraction, after: Fraction, length: Fraction) -> Tuplet:
    """The shortest span around an odd end that no note with an odd end crosses; one with the fewest parts."""
    choices = []
    for size in TUPLET_STRETCHES:
        start = edge - edge % size
        if start < after or start + size > length:
            continue
        crossing = [s for s in spans if s.start < start < s.end or s.start < start + size < s.end]
        torn = sum(not (_dyadic(s.start) and _dyadic(s.end)) for s in crossing)
        inside = [e for s in spans for e in (s.start, s.end) if start < e < start + size]
        parts = _parts(inside, start, size)
        choices.append((parts > MOST_PARTS, torn, size, start, parts))
    if not choices:  # the end of a bar of sixteenths, such as 5/16
        start = max(after, edge - edge % Fraction(1, 4))
        size = min(Fraction(1), length - start)
        inside = [e for s in spans for e in (s.start, s.end) if start < e < start + size]
        choices.append((False, 0, size, start, _parts(inside, start, size)))
    _, _, size, start, parts = min(choices)
    return Tuplet(start, start + size, parts, 1 << (parts.bit_length() - 1))


def _parts(inside: Sequence[Fraction], start: Fraction, size: Fraction) -> int:
    """Into how many equal parts these ends divide a span."""
    return lcm(*(((end - start) / size).denominator for end in inside))


def _in_tuplet(piece: VoiceSpan, tuplet: Tuplet) -> list[Head]:
    part = (tuplet.end - tuplet.start) / tuplet.actual
    unit = (tuplet.end - tuplet.start) / tuplet.normal
    heads: list[Head] = []
    at, left = piece.start, int((piece.end - piece.start) / part)
    while left:
        count = max(n for n in (1, 2, 3, 4, 6, 8, 12, 16, 24) if n <= left)
        value, dots = _value(count * unit)
        heads.append(_head(piece, at, at + count * part, value, dots, tuplet))
        at, left = at + count * part, left - count
    return heads


# plain values


def _plain(piece: VoiceSpan, length: Fraction, metre: Metre) -> list[Head]:
    heads: list[Head] = []
    for start, end in _values(piece.start, piece.end, length, metre, rest=not piece.pitches):
        value, dots = _value(end - start)
        heads.append(_head(piece, start, end, value, dots, None))
    return heads


def _head(piece: VoiceSpan, start: Fraction, end: Fraction, value: str, dots: int, tuplet: Tuplet | None) -> Head:
    sounds = bool(piece.pitches)
    return Head(
        start=start,
        length=end - start,
        value=value,
        dots=dots,
        pitches=piece.pitches,
        tied_back=piece.tied_back if start == piece.start else sounds,
        tied_on=piece.tied_on if end == piece.end else sounds,
        tuplet=tuplet,
        joining=piece.joining if start == piece.start else (),
        small=piece.small,
    )


def _value(length: Fraction) -> tuple[str, int]:
    """Name of a note value and its dots. Raises KeyError when no single head has this length."""
    if length in NAMES:
        return NAMES[length], 0
    if length * 2 / 3 in NAMES:
        return NAMES[length * 2 / 3], 1
    return NAMES[length * 4 / 7], 2


def _single(length: Fraction) -> bool:
    return length in NAMES or length * 2 / 3 in NAMES


def _values(
    start: Fraction, end: Fraction, bar: Fraction, metre: Metre, *, rest: bool
) -> list[tuple[Fraction, Fraction]]:
    """Where the heads of a span begin and end."""
    if _single(end - start) and _stands(start, end, bar, metre, rest=rest):
        return [(start, end)]
    if not rest and _doubly_dotted(start, end, metre):
        return [(start, end)]
    middle = _strongest(start, end, bar, metre)
    return [
        *_values(start, middle, bar, metre, rest=rest),
        *_values(middle, end, bar, metre, rest=rest),
    ]


def _doubly_dotted(start: Fraction, end: Fraction, metre: Metre) -> bool:
    """Seven eighths of a beat, from the beat on: the long note of a sharply dotted pair."""
    return not metre.compound and start % metre.pulse == 0 and end - start == metre.pulse * 7 / 8


def _stands(start: Fraction, end: Fraction, bar: Fraction, metre: Metre, *, rest: bool) -> bool:
    """Whether one head may stand for it where it is."""
    pulse, length = metre.pulse, end - start
    within_a_beat = start // pulse == (end - Fraction(1, 1024)) // pulse
    on_the_beat = start % pulse == 0
    if rest:
        if within_a_beat:
            return (length in NAMES and start % length == 0) or (on_the_beat and (length == pulse or length in NAMES))
        return (start == 0 and end == bar) or (length == 2 and not metre.compound and bar == 4 and start in (0, 2))
    if within_a_beat:
        return True
    if metre.compound:
        return on_the_beat and length % pulse == 0
    crossed = [middle for middle in _middles(bar, metre) if start < middle < end]
    if on_the_beat:
        most_of_the_bar = length == bar - 1 == 3
        return not crossed or start == 0 or (length.denominator == 1 and len(crossed) == 1 and not most_of_the_bar)
    return not crossed and start % HALF == 0 and end % HALF == 0 and length <= Fraction(3, 2)


def _middles(bar: Fraction, metre: Metre) -> tuple[Fraction, ...]:
    """Where a bar in simple time falls apart: at its halves in 3/2; else 2 + 2, 3 + 2, 3 + 3, 4 + 3, 4 + 4 quarters.

    All common practice.
    """
    if metre.beat_type == 2:
        return tuple(Fraction(beat) for beat in range(2, int(bar), 2))
    places = {4: 2, 5: 3, 6: 3, 7: 4, 8: 4}
    return (Fraction(places[int(bar)]),) if bar.denominator == 1 and bar in places else ()


def _strongest(start: Fraction, end: Fraction, bar: Fraction, metre: Metre) -> Fraction:
    """The strongest place inside a span: the middle of the bar, a beat, a half of one, and so on; else the first."""
    inside = [middle for middle in _middles(bar, metre) if start < middle < end and not metre.compound]
    if inside:
        return inside[0]
    grids = [metre.pulse, HALF] if metre.compound else [Fraction(1), HALF]
    grids += [Fraction(1, 1 << n) for n in range(2, 11)]
    for grid in grids:
        first = start + grid - start % grid
        if first < end:
            return first
    raise ValueError(f"no note values from {start} to {end}")


# beams


def _beamed(heads: Sequence[Head], metre: Metre, bar: Fraction) -> tuple[Head, ...]:
    def group(head: Head) -> tuple[object, ...]:
        beamed = bool(head.pitches) and head.value in FLAGS
        return (beamed, head.tuplet, _under_one_beam(head.start, metre)) if beamed else (False, None, head.start)

    written: list[Head] = []
    wide = _together(heads, metre, bar)
    for (beamed, *_), run in groupby(heads, key=lambda head: wide.get(head.start) or group(head)):
        together = list(run)
        written += _beam(together) if beamed and len(together) > 1 else together
    return tuple(written)


def _under_one_beam(beat: Fraction, metre: Metre) -> int:
    """Which group of beamed notes a beat belongs to: the pulse; in fives and sevens 3 + 2 and 2 + 2 + 3 quavers."""
    edges = _UNEVEN.get((metre.beats, metre.beat_type))
    return int(beat // metre.pulse) if edges is None else sum(beat >= edge for edge in edges)


def _together(heads: Sequence[Head], metre: Metre, bar: Fraction) -> dict[Fraction, tuple[object, ...]]:
    """Quavers under a longer beam: those of half a bar of four quarters, or a bar of three that holds nothing else."""
    plain_bar = bar == metre.bar and metre.pulse == 1 and bar.denominator == 1
    size = {4: 2, 3: 3, 2: 2}.get(int(bar), 0) if plain_bar else 0
    found: dict[Fraction, tuple[object, ...]] = {}
    for k in range(int(bar) // size if size else 0):
        inside = [head for head in heads if k * size <= head.start < (k + 1) * size]
        quavers = [head for head in inside if head.pitches and head.value == "eighth" and not head.dots]
        plain = all(head.tuplet is None and head.value not in list(FLAGS)[1:] and not head.dots for head in inside)
        if plain and (size == 2 or len(quavers) == 6):
            found |= {head.start: (True, None, "wide", k) for head in quavers}
    return found


def _beam(heads: Sequence[Head]) -> list[Head]:
    flags = [FLAGS[head.value] for head in heads]
    return [
        replace(head, beams=tuple(_stroke(flags, k, level) for level in range(1, flags[k] + 1)))
        for k, head in enumerate(heads)
    ]


def _stroke(flags: Sequence[int], k: int, level: int) -> str:
    before = k > 0 and flags[k - 1] >= level
    after = k + 1 < len(flags) and flags[k + 1] >= level
    if before and after:
        return "continue"
    if before or after:
        return "end" if before else "begin"
    return "backward hook" if k else "forward hook"
