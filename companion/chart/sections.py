"""Played bars cut into the named sections of a chart.

A reader of staff notation hands over its written bars and the order in which they are played. They are laid end to
end, ties joined and chords carried on; cut where a musician would see a section begin (a repeat, a leap, a double
bar, a rehearsal mark); and named: equal stretches share a name, stretches that begin alike and end differently share
a letter (A1, A2). Unfolding the chart gives back just what was laid out.

Conventions: beats in quarter notes as Fractions, from the first downbeat; bars are indices into the written bars.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from companion.chart.model import ChordSpan, MelodyNote, Section
from companion.chart.written import WrittenBar
from companion.music.chords import NO_CHORD, Chord

_ALIKE_BARS = 3
"""Stretches whose first bars agree (this many, or half of the shorter one) are the same section ending differently."""


@dataclass
class _Bar:
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

    bars: list[_Bar] = field(default_factory=list)
    melody: list[MelodyNote] = field(default_factory=list)
    symbols: list[tuple[Fraction, Chord]] = field(default_factory=list)
    tied_on: bool = False
    """The last note head is tied to the next."""


def cut_into_sections(bars: Sequence[WrittenBar], order: Sequence[int]) -> tuple[tuple[Section, ...], tuple[str, ...]]:
    """Sections and form of a chart.

    Parameters
    ----------
    bars : sequence of WrittenBar
        The page.
    order : sequence of int
        Indices into ``bars`` in the order of playing.

    Returns
    -------
    sections : tuple of Section
        Each section once, in the order of its first appearance.
    form : tuple of str
        Their names in the order of playing.
    """
    laid = _lay(bars, order)
    return _name(_pieces(laid))


def _lay(bars: Sequence[WrittenBar], order: Sequence[int]) -> _Laid:
    laid = _Laid()
    pickup = len(order) > 1 and bars[order[0]].short
    at = -bars[order[0]].length if pickup else Fraction(0)
    endings = _EndingWatch(bars)
    begins, heading = True, None
    k = 0
    while k < len(order):
        bar = bars[order[k]]
        if k:
            cut, name = _cut(bars, order, k)
            begins, heading = begins or cut or endings.complete(laid), heading or name
        endings.pass_by(order[k])
        _sound(bar, at, laid)
        if k == 0 and pickup:
            at, heading = Fraction(0), heading or bar.marks.heading
            k += 1
            continue
        if k == 0 and not bar.marks.heading_beat:
            heading = bar.marks.heading
        played = _Bar(at, bar.length, order[k], begins, heading)
        laid.bars.append(played)
        begins, heading = False, None
        if bar.marks.heading and bar.marks.heading_beat:
            begins, heading, played.upbeat = True, bar.marks.heading, at + bar.marks.heading_beat
        if k + 1 < len(order) and _made_good(bar, bars[order[k + 1]]):
            after = bars[order[k + 1]]
            cut, heading = _cut(bars, order, k + 1)
            if cut:
                begins, played.upbeat = True, at + bar.length
            _sound(after, at + bar.length, laid)
            played.length = bar.nominal
            k += 1
        at += played.length
        k += 1
    last = laid.bars[-1]
    if bars[last.source].short and last.length < bars[last.source].nominal:
        last.length = bars[last.source].nominal
    return laid


def _cut(bars: Sequence[WrittenBar], order: Sequence[int], k: int) -> tuple[bool, str | None]:
    """Does a section begin with the k-th played bar, and under which heading?"""
    here, before = order[k], order[k - 1]
    marks, past = bars[here].marks, bars[before].marks
    heading = marks.heading if marks.heading and not marks.heading_beat else None
    leapt = here <= before or (here > before + 1 and (past.to_coda or marks.coda))
    cut = leapt or marks.repeat_start or bool(past.repeat_end) or past.double_bar or heading is not None or marks.coda
    return cut, heading or ("Coda" if marks.coda and leapt else None)


def _made_good(bar: WrittenBar, after: WrittenBar) -> bool:
    """A short bar and the short bar played after it make one: a repeat, a double bar or the end of a line broke it."""
    return bar.short and after.short and bar.length + after.length == bar.nominal


class _EndingWatch:
    """Says when the section of a last ending is over: as soon as it has as many bars as the time through before it."""

    def __init__(self, bars: Sequence[WrittenBar]):
        self.bars = bars
        self.previous = 0
        self.under_ending = False

    def pass_by(self, bar: int) -> None:
        if self.bars[bar].marks.ending:
            self.under_ending = True

    def complete(self, laid: _Laid) -> bool:
        starts = [i for i, bar in enumerate(laid.bars) if bar.begins]
        if not self.under_ending or len(starts) < 2:
            return False
        same_start = laid.bars[starts[-1]].source == laid.bars[starts[-2]].source
        done = same_start and len(laid.bars) - starts[-1] == starts[-1] - starts[-2]
        if done:
            self.under_ending = False
        return done


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


@dataclass(frozen=True)
class _Piece:
    """A stretch of played bars, as a section without a name."""

    source: int
    heading: str | None
    section: Section


def _pieces(laid: _Laid) -> list[_Piece]:
    starts = [i for i, bar in enumerate(laid.bars) if bar.begins or i == 0]
    end = laid.bars[-1].start + laid.bars[-1].length
    spans = _spans(laid.symbols, end)
    pieces = []
    for first, after in zip(starts, [*starts[1:], len(laid.bars)], strict=True):
        bars = laid.bars[first:after]
        begin, stop = bars[0].start, bars[-1].start + bars[-1].length
        upbeat = laid.bars[first - 1].upbeat if first else None
        low = upbeat if upbeat is not None else (begin if first else Fraction(-1000))
        high = bars[-1].upbeat if bars[-1].upbeat is not None and after < len(laid.bars) else stop
        section = Section(
            name="",
            bars=tuple(bar.length for bar in bars),
            chords=tuple(_within(spans, begin, stop, begin)),
            melody=tuple(replace(n, beat=n.beat - begin) for n in laid.melody if low <= n.beat < high),
        )
        pieces.append(_Piece(bars[0].source, bars[0].heading, section))
    return pieces


def _spans(symbols: Sequence[tuple[Fraction, Chord]], end: Fraction) -> list[ChordSpan]:
    stops = [*(beat for beat, _ in symbols[1:]), end][: len(symbols)]
    return [ChordSpan(beat, stop, chord) for (beat, chord), stop in zip(symbols, stops, strict=True) if beat < stop]


def _within(spans: Iterable[ChordSpan], begin: Fraction, stop: Fraction, zero: Fraction) -> list[ChordSpan]:
    """The spans cut to a stretch, counted from ``zero``; silence (no-chord) at the edges is left unsaid."""
    cut = [
        ChordSpan(max(span.start, begin) - zero, min(span.end, stop) - zero, span.chord)
        for span in spans
        if span.start < stop and span.end > begin
    ]
    return [span for span in cut if span.chord != NO_CHORD or span is not cut[0] or span.start > 0]


def _name(pieces: Sequence[_Piece]) -> tuple[tuple[Section, ...], tuple[str, ...]]:
    """Names for the pieces: equal ones share a name, those that begin alike share a letter."""
    families: list[list[Section]] = []
    headings: list[str | None] = []
    member: list[tuple[int, int]] = []
    for piece in pieces:
        family = next((f for f, known in enumerate(families) if _alike(known[0], piece.section)), None)
        if family is None:
            families.append([])
            headings.append(None)
            family = len(families) - 1
        headings[family] = headings[family] or piece.heading
        if piece.section not in families[family]:
            families[family].append(piece.section)
        member.append((family, families[family].index(piece.section)))
    titles = _titles(headings)
    named: dict[tuple[int, int], str] = {}
    for family, which in member:
        alone = len(families[family]) == 1
        joint = "" if titles[family][-1:].isalpha() else "-"
        named[family, which] = titles[family] if alone else f"{titles[family]}{joint}{which + 1}"
    sections = tuple(replace(families[f][w], name=name) for (f, w), name in named.items())
    return sections, tuple(named[place] for place in member)


def _alike(known: Section, other: Section) -> bool:
    bars = min(len(known.bars), len(other.bars))
    needed = max(1, min(_ALIKE_BARS, (bars + 1) // 2))
    if bars == 1 and len(known.bars) != len(other.bars):
        return False
    if known.bars[:needed] != other.bars[:needed]:
        return False
    reach = sum(known.bars[:needed], Fraction(0))
    return _opening(known, reach) == _opening(other, reach) and bool(_opening(known, reach)[0])


def _opening(section: Section, reach: Fraction) -> tuple[list[tuple[Fraction, int]], list[tuple[Fraction, Chord]]]:
    """What is played from the first downbeat up to a beat; a chord carried in from before doesn't tell."""
    melody = [(n.beat, n.pitch.midi) for n in section.melody if 0 <= n.beat < reach]
    return melody, [(c.start, c.chord) for c in section.chords if 0 < c.start < reach]


def _titles(headings: Sequence[str | None]) -> list[str]:
    """A title for each family: its heading, or the next free letter."""
    taken = {heading for heading in headings if heading}
    letters = (letter for letter in _letters() if letter not in taken)
    used: set[str] = set()
    titles = []
    for heading in headings:
        title = heading if heading and heading not in used else next(letters)
        used.add(title)
        titles.append(title)
    return titles


def _letters() -> Iterable[str]:
    for count in range(1, 100):
        for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ":
            yield letter * count
