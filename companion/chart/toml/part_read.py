"""One part of a written arrangement read from its text; :mod:`companion.chart.toml.part_write` says how it is written.

Conventions: beats and lengths in quarter notes as Fractions, from the first downbeat of the place. Ties join the same
pitch from one head to the next, whichever line of the bar they stand in. An accidental reaches to the end of its bar,
in its own line of an overlay.

Source: The ABC Music Standard 2.1 (December 2011); see :mod:`companion.chart.abc.note_syntax` for the notes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import accumulate

from companion.chart.abc.note_syntax import NOTE_PARTS, NoteReader, key_alterations, multiple
from companion.chart.model import WrittenNote
from companion.chart.toml.bar_lines import REPEATS, BarTexts, FaultHandler, cut_at_bar_lines, stop, written_length
from companion.chart.toml.marks import FULL, NoteMarks, usual_hand, usual_voices
from companion.errors import ChartError
from companion.music.pitch import Pitch

_LENGTH = r"\d{0,4}/*\d{0,4}"
_NOTE = rf"(?:\^\^|\^|__|_|=)?[A-Ga-g][',]*{_LENGTH}"
_TOKENS = re.compile(
    rf"""(?P<space>[\s`]+ | y\d* | \)+)
    | !(?P<mark>[^\s!|][^!|]*)! | (?P<dot>\.)(?=[\s\["!^_=A-Ga-g])
    | "(?P<text>[^"]*)"
    | (?P<tuplet>\((?P<p>[2-9])(?::(?P<q>\d*))?(?::(?P<r>\d*))?)
    | (?P<slur>\()
    | (?P<chord>\[(?P<inner>(?:"[^"]*" | ![^!|]*! | [^\]"!|])*)\](?P<chord_length>{_LENGTH}))
    | (?P<rest>[zx])(?P<rest_length>{_LENGTH})
    | (?P<note>{_NOTE})
    | (?P<tie>-)
    | (?P<broken>>{{1,3}}|<{{1,3}})""",
    re.VERBOSE,
)
_INNER = re.compile(rf'\s+|!(?P<mark>[^\s!|][^!|]*)!|(?P<dot>\.)|"(?P<text>[^"]*)"|(?P<note>{_NOTE})')
_WHOLE = re.compile(r"\s*(?P<sign>[XZ])(?P<count>\d{0,3})\s*")


_NO_MARKS = re.compile(r'![^!|]*!|"[^"]*"')
_IS_OPEN = re.compile(r"[^xyz]*[xy][^z]*")
"""A bar whose first line has only invisible rests, and in which nothing begins, is as free as one with ``X``."""
PICKUP, AFTER = "pickup", "after the last bar"


@dataclass
class _PlacedHead:
    """A note head where it stands."""

    beat: Fraction
    length: Fraction
    pitch: Pitch
    marks: NoteMarks
    where: str
    tied: bool = False


@dataclass(frozen=True)
class ReadPart:
    """What a text says of a part in one place."""

    notes: tuple[WrittenNote, ...]
    """In order of beat."""
    bars: frozenset[int]
    """Numbers of the bars that are written, 1 = the first."""


def read_part(
    text: str,
    part: str,
    bars: Sequence[Fraction],
    *,
    unit: Fraction,
    fifths: int,
    compound: bool,
    hold: Fraction,
    report: FaultHandler = stop,
) -> ReadPart:
    """Read a part of one place.

    Parameters
    ----------
    text : str
        Bars between ``|``; before the first one a pickup, after the last what notes tied over it still last.
    part : str
    bars : sequence of Fraction
        Length of each bar.
    unit : Fraction
        Length of a plain note.
    fifths : int
        Key signature.
    compound : bool
        The metre is compound, for tuplets of 5, 7 and 9.
    hold : Fraction
        Share of its written length that a note sounds unless its marks say otherwise.
    report : callable
        Is told of each fault; unless it raises, the faulty bar is taken for silent.

    Raises
    ------
    ChartError
        With the bar as its place.
    """
    before, cells, after = _cells(text, len(bars))
    reader = _PartReader(NoteReader(unit, key_alterations(fifths), compound))
    starts = list(accumulate(bars, initial=Fraction(0)))
    written, open_bars = set(), []
    reader.bar(before, PICKUP, Fraction(0), None, report)
    for number, (cell, length, start) in enumerate(zip(cells, bars, starts, strict=False), 1):
        if cell != "X":
            written.add(number)
            if _IS_OPEN.fullmatch(_NO_MARKS.sub("", cell).partition("&")[0]):
                open_bars.append(number)
            reader.bar("" if cell == "Z" else cell, f"bar {number}", start, length, report)
    reader.bar(after, AFTER, starts[-1], None, report)
    heads = reader.joined(report)
    begun = {head.where for head in heads}
    written -= {number for number in open_bars if f"bar {number}" not in begun}
    return ReadPart(_as_notes(heads, part, hold), frozenset(written))


def _cells(text: str, count: int) -> tuple[str, list[str], str]:
    """Pickup, bars and what comes after; rests of several bars taken apart. Raises ChartError on a wrong count."""
    plain = "\n".join(line.partition("%")[0] for line in text.splitlines())
    if repeat := REPEATS.search(plain):
        raise ChartError(f"{repeat[0]!r} in the arrangement", mend="write the bars out")
    texts = cut_at_bar_lines(plain)
    if not texts.bars and texts.before:
        texts = BarTexts("", (texts.before,), texts.after)
    cells: list[str] = []
    for cell in texts.bars:
        whole = _WHOLE.fullmatch(cell)
        cells += [whole["sign"]] * max(1, int(whole["count"] or 1)) if whole else [cell]
    if len(cells) == count - 1 and texts.after:
        return texts.before, [*cells, texts.after], ""
    if len(cells) != count:
        have = "1 bar" if len(cells) == 1 else f"{len(cells)} bars"
        raise ChartError(f"has {have}, the section has {count}", mend="write X for each bar that is to stay free")
    return texts.before, cells, texts.after


@dataclass
class _Layer:
    """One line of a bar while it is read."""

    marks: NoteMarks = field(default_factory=NoteMarks)
    struck: list[list[_PlacedHead]] = field(default_factory=list)
    """What is struck together, one after the other; an empty list for a rest."""
    lengths: list[Fraction] = field(default_factory=list)
    tuplet: Fraction = FULL
    left: int = 0
    broken: Fraction | None = None

    @property
    def length(self) -> Fraction:
        return sum(self.lengths, Fraction(0))

    def add(self, struck: list[_PlacedHead], length: Fraction) -> None:
        """Add what is struck, or a rest, with its length before tuplets and broken rhythm."""
        if self.left:
            length, self.left = length * self.tuplet, self.left - 1
        if self.broken is not None:
            length, self.broken = length * self.broken, None
        self.struck.append(struck)
        self.lengths.append(length)
        self.marks = NoteMarks()


class _PartReader:
    """Reads bar after bar and keeps the heads."""

    def __init__(self, note_reader: NoteReader) -> None:
        self.note_reader = note_reader
        self.heads: list[_PlacedHead] = []
        self.open: dict[tuple[str, int, Fraction], list[Pitch]] = {}
        """What ties lead to: step, octave and beat; and the pitches that are tied."""

    def bar(self, text: str, where: str, start: Fraction, length: Fraction | None, report: FaultHandler) -> None:
        """Read a bar that begins at ``start``. What has no length may be of any; a pickup ends at its ``start``."""
        found: list[_PlacedHead] = []
        try:
            for words in text.split("&") if text.strip() else ():
                line = self._line(words, where, start)
                if length is not None and line.length != length:
                    lasts = f"lasts {written_length(line.length)} quarters in a bar of {written_length(length)}"
                    raise ChartError(lasts, where=where, mend="count its notes")
                found += _placed(line, start - line.length if where == PICKUP else start)
        except ChartError as error:
            report(error if error.where else error.within(where=where))
            return
        for head in found:
            if head.tied:
                place = head.pitch.step, head.pitch.octave, head.beat + head.length
                self.open.setdefault(place, []).append(head.pitch)
        self.heads += found

    def _line(self, text: str, where: str, start: Fraction) -> _Layer:
        line, at = _Layer(), 0
        self.note_reader.begin_bar()
        while at < len(text):
            token = _TOKENS.match(text, at)
            if token is None:
                raise ChartError(f"{text[at:].split()[0]!r} is not ABC note syntax", where=where)
            at = token.end()
            self.note_reader.held = None
            self._take(token, line, where, start)
        if line.broken is not None:
            raise ChartError("a broken rhythm without a note after it", where=where)
        if line.marks != NoteMarks():
            raise ChartError("a mark without a note after it", where=where)
        return line

    def _take(self, token: re.Match[str], line: _Layer, where: str, start: Fraction) -> None:
        at = start + line.length
        if mark := token["mark"] or token["dot"]:
            line.marks = line.marks.marked(mark)
        elif token["text"] is not None:
            line.marks = line.marks.annotated(token["text"])
        elif token["tuplet"]:
            line.tuplet, line.left = self.note_reader.tuplet_of(token, where)
        elif token["rest"]:
            if line.marks != NoteMarks():
                raise ChartError("a mark without a note after it", where=where)
            line.add([], self.note_reader.unit * multiple(token["rest_length"], where))
        elif token["note"]:
            head = self._head(token["note"], line.marks, where, at)
            line.add([head], head.length)
        elif token["chord"]:
            struck = self._chord(token["inner"], line.marks, where, at)
            line.add(struck, struck[0].length * multiple(token["chord_length"], where))
        elif token["tie"]:
            if not line.struck or not line.struck[-1]:
                raise ChartError("a tie without a note before it", where=where)
            for head in line.struck[-1]:
                head.tied = True
        elif token["broken"]:
            line.broken = _break(token["broken"], line, where)

    def _chord(self, inner: str, around: NoteMarks, where: str, beat: Fraction) -> list[_PlacedHead]:
        struck: list[_PlacedHead] = []
        marks, at = around, 0
        while at < len(inner):
            token = _INNER.match(inner, at)
            if token is None:
                raise ChartError(f"{inner[at:].split()[0]!r} is not a note of a chord", where=where)
            at = token.end()
            if mark := token["mark"] or token["dot"]:
                marks = marks.marked(mark)
            elif token["text"] is not None:
                marks = marks.annotated(token["text"])
            elif token["note"]:
                struck.append(self._head(token["note"], marks, where, beat))
                marks = around
        if not struck:
            raise ChartError("a chord without a note", where=where)
        return struck

    def _head(self, text: str, marks: NoteMarks, where: str, beat: Fraction) -> _PlacedHead:
        parts = NOTE_PARTS.fullmatch(text)
        assert parts is not None
        octave = (5 if parts["letter"].islower() else 4) + parts["octave"].count("'") - parts["octave"].count(",")
        step = parts["letter"].upper()
        tied = self.open.get((step, octave, beat), [])
        as_usual = (pitch for pitch in tied if pitch.alter == self.note_reader.altered.get(step, 0))
        self.note_reader.held = next(as_usual, tied[0] if tied else None)
        event = self.note_reader.note(text, where)
        assert event.pitch is not None
        return _PlacedHead(beat, event.length, event.pitch, marks, where)

    def joined(self, report: FaultHandler) -> list[_PlacedHead]:
        """The heads in order, ties joined."""
        found: list[_PlacedHead] = []
        tied: dict[tuple[Pitch, Fraction], _PlacedHead] = {}
        for head in sorted(self.heads, key=lambda head: (head.beat, head.pitch.midi)):
            end, first = head.beat + head.length, tied.pop((head.pitch, head.beat), None)
            if first is not None:
                first.length = end - first.beat
            elif head.where == AFTER:
                mend = "close the bar with |, or tie its note over it"
                report(ChartError("something stands there", where=AFTER, mend=mend))
                continue
            else:
                first = replace(head)
                found.append(first)
            if head.tied:
                tied[head.pitch, end] = first
        for (pitch, _), head in tied.items():
            report(ChartError(f"{pitch} is tied to nothing", where=head.where, mend="take its - away"))
        return found


def _placed(line: _Layer, start: Fraction) -> list[_PlacedHead]:
    """The heads of a line with their beats and lengths, now that tuplets and broken rhythms are known."""
    beat = start
    for struck, length in zip(line.struck, line.lengths, strict=True):
        for head in struck:
            head.beat, head.length = beat, length
        beat += length
    return [head for struck in line.struck for head in struck]


def _break(sign: str, line: _Layer, where: str) -> Fraction:
    """Lengthen or shorten what is before; the factor for what comes after (ABC 2.1, section 4.4)."""
    if not line.struck:
        raise ChartError("a broken rhythm without a note before it", where=where)
    short = Fraction(1, 2 ** len(sign))
    before, after = (2 - short, short) if sign[0] == ">" else (short, 2 - short)
    line.lengths[-1] *= before
    return after


def _as_notes(heads: Sequence[_PlacedHead], part: str, hold: Fraction) -> tuple[WrittenNote, ...]:
    notes = []
    for head in heads:
        marks = head.marks
        hand = marks.hand or usual_hand(part)
        notes.append(
            WrittenNote(head.beat, marks.sounding(head.length, hold), head.pitch, hand, 1, marks.weight, marks.pedal)
        )
    voiced = zip(notes, heads, usual_voices(notes, part), strict=True)
    found = [replace(note, voice=head.marks.voice or voice) for note, head, voice in voiced]
    return tuple(sorted(found, key=lambda n: (n.beat, n.pitch.midi, n.voice)))
