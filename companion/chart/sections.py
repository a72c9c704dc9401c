"""Played bars cut into the named sections of a chart.

A reader of staff notation hands over its written bars and the order in which they are played. They are laid end to
end, ties joined and chords carried on; cut where a musician would see a section begin (a repeat, a leap, a double
bar, a rehearsal mark, a phrase that comes again); and named (:mod:`companion.chart.naming`). Unfolding the chart gives
back just what was laid out.

Conventions: beats in quarter notes as Fractions, from the first downbeat; bars are indices into the written bars.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from companion.chart.model import ChordSpan, MelodyNote, Section
from companion.chart.naming import UnnamedSection, alike, name_pieces
from companion.chart.written import WrittenBar
from companion.music.chords import Chord
from companion.music.pitch import Pitch

PHRASES = (8, 16)
"""Bars of the phrases that a tune without marks is looked through for (common practice)."""
PHRASE = 8
"""Where no phrase comes again, a long stretch without marks is cut into so many bars (common practice)."""
SHORTEST = 4
"""A rest of fewer bars belongs to the phrase before."""


@dataclass
class _PlayedBar:
    """A bar as played: one written bar, or a short one made good by the pickup that follows it."""

    start: Fraction
    length: Fraction
    source: int
    begins: bool = False
    """A section begins here."""
    heading: str | None = None
    upbeat: Fraction | None = None
    """From this beat on the notes are the next section's pickup."""


@dataclass
class _Laid:
    """Everything end to end."""

    bars: list[_PlayedBar] = field(default_factory=list)
    melody: list[MelodyNote] = field(default_factory=list)
    symbols: list[tuple[Fraction, Chord]] = field(default_factory=list)
    tied_on: bool = False
    """The last note head is tied to the next."""
    sounded: dict[int, int] = field(default_factory=dict)
    """For each written bar, the index of the bar in which it is first played; -1 for the pickup to the whole."""


@dataclass(frozen=True)
class Cut:
    """The sections of a chart, and where each written bar has come to stand."""

    sections: tuple[Section, ...]
    """Each once, in the order of its first appearance."""
    form: tuple[str, ...]
    """Their names in the order of playing."""
    places: Mapping[int, tuple[str, int]]
    """For each written bar that is played, its section and the bar there: 1 = the first, 0 = its pickup."""


def cut_into_sections(bars: Sequence[WrittenBar], order: Sequence[int]) -> Cut:
    """Sections and form of a chart.

    Parameters
    ----------
    bars : sequence of WrittenBar
        The page.
    order : sequence of int
        Indices into ``bars`` in the order of playing.

    Returns
    -------
    Cut
    """
    laid = _lay(bars, order)
    starts = _starts(laid)
    _settle_upbeats(laid, starts)
    spans = _spans(laid.symbols, laid.bars[-1].start + laid.bars[-1].length)
    pieces = [_piece(laid, spans, first, after) for first, after in pairwise([*starts, len(laid.bars)])]
    sections, form = name_pieces(pieces)
    places = {}
    for source, bar in laid.sounded.items():
        piece = bisect_right(starts, max(bar, 0)) - 1
        places[source] = form[piece], bar - starts[piece] + 1
    return Cut(sections, form, places)


def _lay(bars: Sequence[WrittenBar], order: Sequence[int]) -> _Laid:
    laid = _Laid()
    at = Fraction(0)
    begins, heading = True, None
    k = 0
    if len(order) > 1 and (bars[order[0]].short or bars[order[0]].pickup):
        _sound(bars[order[0]], -bars[order[0]].length, laid)
        laid.sounded[order[0]] = -1
        heading, k = bars[order[0]].marks.heading, 1
    while k < len(order):
        bar = bars[order[k]]
        cut, name = _cut(bars, order, k)
        begins, heading = begins or cut or _ending_over(bars, laid), heading or name
        if cut and bar.short and laid.bars and _leapt(bars, order[k - 1], order[k]):
            _lay_over(bar, at, laid)
            laid.sounded.setdefault(order[k], len(laid.bars) - 1)
            k += 1
            continue
        _sound(bar, at, laid)
        played = _PlayedBar(at, bar.length, order[k], begins, heading)
        laid.sounded.setdefault(order[k], len(laid.bars))
        laid.bars.append(played)
        begins, heading = False, None
        if bar.marks.heading and bar.marks.heading_beat:
            begins, heading = True, bar.marks.heading
            if bar.marks.heading_beat < bar.length:
                played.upbeat = at + bar.marks.heading_beat
        if k + 1 < len(order) and _made_good(bar, bars[order[k + 1]]):
            cut, heading = _cut(bars, order, k + 1)
            if cut:
                begins, played.upbeat = True, at + bar.length
            _sound(bars[order[k + 1]], at + bar.length, laid)
            laid.sounded.setdefault(order[k + 1], len(laid.bars) - 1)
            played.length = bar.nominal
            k += 1
        at += played.length
        k += 1
    last = laid.bars[-1]
    last.length = max(last.length, bars[last.source].nominal)
    return laid


def _leapt(bars: Sequence[WrittenBar], before: int, here: int) -> bool:
    """Whether one goes from a bar to another by a D.C. or D.S., or because the sheet's order of parts says so."""
    if bars[before].marks.jump:
        return True
    if here > before:
        return here > before + 1 and not bars[here].marks.ending
    return not bars[before].marks.repeat_end


def _lay_over(pickup: WrittenBar, at: Fraction, laid: _Laid) -> None:
    """Back at a pickup after a full bar: the pickup takes the place of what that bar ends with."""
    start = at - pickup.length
    while laid.melody and laid.melody[-1].beat >= start:
        laid.melody.pop()
    _sound(pickup, start, laid)
    laid.bars[-1].upbeat = start


def _cut(bars: Sequence[WrittenBar], order: Sequence[int], k: int) -> tuple[bool, str | None]:
    """Does a section begin with the k-th played bar, and under which heading?"""
    marks = bars[order[k]].marks
    heading = marks.heading if marks.heading and not marks.heading_beat else None
    if not k:
        return True, heading
    here, before = order[k], order[k - 1]
    past = bars[before].marks
    leapt = here <= before or (here > before + 1 and (past.to_coda or marks.coda))
    cut = leapt or marks.repeat_start or bool(past.repeat_end) or past.double_bar or heading is not None or marks.coda
    return cut, heading or ("Coda" if marks.coda and leapt else None)


def _made_good(bar: WrittenBar, after: WrittenBar) -> bool:
    """A short bar and the short bar played after it make one: a repeat, a double bar or the end of a line broke it."""
    return bar.short and after.short and bar.length + after.length == bar.nominal


def _ending_over(bars: Sequence[WrittenBar], laid: _Laid) -> bool:
    """A last ending is over as soon as its time through has as many bars as the one before it."""
    starts = [i for i, bar in enumerate(laid.bars) if bar.begins][-2:]
    if len(starts) < 2 or len(laid.bars) - starts[1] != starts[1] - starts[0]:
        return False
    same_start = laid.bars[starts[0]].source == laid.bars[starts[1]].source
    return same_start and any(bars[bar.source].marks.ending for bar in laid.bars[starts[1] :])


def _sound(bar: WrittenBar, at: Fraction, laid: _Laid) -> None:
    """Lay a written bar's notes and symbols down at a beat."""
    for note in bar.notes:
        beat = at + note.beat
        if laid.melody:
            before = laid.melody[-1]
            end = before.beat + before.length
            if note.tied_back and laid.tied_on and end == beat and before.pitch == note.pitch:
                laid.melody[-1] = replace(before, length=before.length + note.length)
                laid.tied_on = note.tied_on
                continue
            if end > beat:
                laid.melody[-1] = replace(before, length=beat - before.beat)
        laid.melody.append(MelodyNote(beat, note.length, note.pitch))
        laid.tied_on = note.tied_on
    for beat, chord in bar.chords:
        while laid.symbols and laid.symbols[-1][0] >= at + beat:
            laid.symbols.pop()
        laid.symbols.append((at + beat, chord))


def _starts(laid: _Laid) -> list[int]:
    """The bars with which sections begin."""
    marked = [i for i, bar in enumerate(laid.bars) if bar.begins or i == 0]
    spans = _spans(laid.symbols, laid.bars[-1].start + laid.bars[-1].length)
    starts: list[int] = []
    for first, after in pairwise([*marked, len(laid.bars)]):
        starts += _phrases(laid, spans, first, after)
    return starts


def _settle_upbeats(laid: _Laid, starts: Sequence[int]) -> None:
    """Where the notes of the first section's pickup lead to its first bar again, they are its pickup there, too."""
    size = -laid.melody[0].beat if laid.melody else Fraction(0)

    def index(beat: Fraction) -> int:
        return bisect_left(laid.melody, beat, key=lambda note: note.beat)

    def seen(begin: Fraction) -> list[tuple[Fraction, Pitch]]:
        there = laid.melody[index(begin - size) : index(begin + laid.bars[0].length)]
        return [(note.beat - begin, note.pitch) for note in there]

    for start in starts[1:] if size > 0 else ():
        before, begin = laid.bars[start - 1], laid.bars[start].start
        if before.upbeat is not None or size >= before.length:
            continue
        if seen(begin) == seen(laid.bars[0].start):
            before.upbeat = begin - size


def _piece(laid: _Laid, spans: Sequence[ChordSpan], first: int, after: int) -> UnnamedSection:
    """The bars from ``first`` up to ``after``, with their pickup."""
    bars = laid.bars[first:after]
    begin, stop = bars[0].start, bars[-1].start + bars[-1].length
    low = begin if first else min(begin, laid.melody[0].beat if laid.melody else begin)
    if first and (upbeat := laid.bars[first - 1].upbeat) is not None:
        low = upbeat
    high = bars[-1].upbeat if bars[-1].upbeat is not None and after < len(laid.bars) else stop

    def index(beat: Fraction) -> int:
        return bisect_left(laid.melody, beat, key=lambda note: note.beat)

    section = Section(
        name="",
        bars=tuple(bar.length for bar in bars),
        chords=tuple(_within(spans, begin, stop)),
        melody=tuple(replace(note, beat=note.beat - begin) for note in laid.melody[index(low) : index(high)]),
    )
    return UnnamedSection(bars[0].heading, section)


def _phrases(laid: _Laid, spans: Sequence[ChordSpan], first: int, after: int) -> list[int]:
    """Where a long stretch without marks falls into phrases: those that come again (A A B A), or else equal ones.

    A stretch of one bar more than its phrases begins with a bar that leads in. One that the page gives a name is left
    whole when nothing in it comes again.
    """
    for size in PHRASES:
        for lead in (0, 1):
            blocks = range(first + lead, after - size + 1, size)
            rest = after - first - lead - size * len(blocks)
            if len(blocks) < 2 or rest > size // 2 or (lead and not _leads_in(laid, first)):
                continue
            pieces = [_piece(laid, spans, block, block + size).section for block in blocks]
            if any(alike(pieces[k], other, size // 2) for k in range(len(pieces)) for other in pieces[:k]):
                return [first, *blocks] if lead else list(blocks)
    if after - first < 2 * PHRASE or laid.bars[first].heading:
        return [first]
    lead = int((after - first) % PHRASE == 1 and _leads_in(laid, first))
    starts = range(first + lead, after, PHRASE)
    if after - starts[-1] < SHORTEST:
        starts = starts[:-1]
    return [first, *starts] if lead else list(starts)


def _leads_in(laid: _Laid, bar: int) -> bool:
    """Nothing is sung in the first half of the bar."""
    start, length = laid.bars[bar].start, laid.bars[bar].length
    return not any(start - note.length < note.beat < start + length / 2 for note in laid.melody)


def _spans(symbols: Sequence[tuple[Fraction, Chord]], end: Fraction) -> list[ChordSpan]:
    stops = [*(beat for beat, _ in symbols[1:]), end][: len(symbols)]
    return [ChordSpan(beat, stop, chord) for (beat, chord), stop in zip(symbols, stops, strict=True) if beat < stop]


def _within(spans: Sequence[ChordSpan], begin: Fraction, stop: Fraction) -> list[ChordSpan]:
    """The spans cut to a stretch, counted from its start."""
    low, high = bisect_right(spans, begin, key=lambda span: span.end), bisect_left(spans, stop, key=lambda s: s.start)
    return [
        ChordSpan(max(span.start, begin) - begin, min(span.end, stop) - begin, span.chord) for span in spans[low:high]
    ]
