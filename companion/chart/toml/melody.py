"""The melody of a chart of ours: ABC note syntax between bar lines, read bar by bar.

Source: The ABC Music Standard 2.1 (December 2011), section 3.1.7 for the unit note length, 4.8 for bar lines; the notes
within a bar are read by :mod:`companion.chart.abc.note_syntax`.

Conventions: lengths in quarter notes as Fractions; ``unit`` is the length of a note without a number. Grace notes,
slurs, decorations and beams say nothing about what is played when and are passed over; of notes struck together the
highest is the melody. Repeats and endings have no place here: the chart's form says in which order its sections are
played.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from companion.chart.abc.note_syntax import AbcNote, NoteReader, key_alterations
from companion.chart.model import MelodyNote
from companion.chart.toml.bar_lines import REPEATS, BarTexts, FaultHandler, cut_at_bar_lines, stop, written_length
from companion.errors import ChartError


def read_melody(
    text: str,
    bars: Sequence[Fraction] | None,
    nominal: Fraction,
    unit: Fraction,
    fifths: int = 0,
    compound: bool = False,
    report: FaultHandler = stop,
) -> tuple[tuple[MelodyNote, ...], tuple[Fraction, ...]]:
    """Read a section's melody.

    Parameters
    ----------
    text : str
        ABC note syntax, its bars between ``|``. What stands before the first bar line is the pickup; after the last one
        stands only what a note tied over the section's end still lasts.
    bars : sequence of Fraction or None
        Length of each bar in quarters; None: as many bars as the text has, each of the ``nominal`` length.
    nominal : Fraction
        Length of a usual bar in quarters.
    unit : Fraction
        Length of a plain note in quarters.
    fifths : int
        Key signature.
    compound : bool
        The metre is compound, for tuplets of 5, 7 and 9.
    report : callable
        Is told of a bar that can't be read; unless it raises, the bar is taken for a rest.

    Returns
    -------
    melody : tuple of MelodyNote
        Ties joined; beats from the section's first downbeat, negative in the pickup.
    bars : tuple of Fraction
        Length of each bar.

    Raises
    ------
    ChartError
        With the bar as its place.
    """
    faulty = set()

    def note_fault(error: ChartError) -> None:
        faulty.add(error.where)
        report(error)

    texts = _settle_edges(_bar_texts(text), bars)
    note_reader = _BarReader(NoteReader(unit, key_alterations(fifths), compound), note_fault)
    before = note_reader.bar(texts.before, "pickup", nominal)
    written: list[list[AbcNote]] = []
    for inner in texts.bars:
        number = len(written) + 1
        length = bars[number - 1] if bars is not None and number <= len(bars) else nominal
        written += note_reader.bar_or_rests(inner, f"bar {number}", length)
    lengths = tuple(bars) if bars is not None else (nominal,) * len(written)
    if len(written) != len(lengths):
        report(
            ChartError(
                f"the melody has {_bars(len(written))}, the chords have {len(lengths)}",
                mend=_too_many(written, lengths, nominal),
            )
        )
        return (), lengths
    for number, (events, length) in enumerate(zip(written, lengths, strict=True), 1):
        if wrong := _wrong_length(events, length):
            note_fault(ChartError(wrong, where=f"bar {number}", mend="count its notes"))
            events.clear()
    after = note_reader.bar(texts.after, "after the last bar", nominal)
    over = written[-1][-1:] if written else []
    if after and not (over and all(event.tied for event in (*over, *after[:-1]))):
        report(
            ChartError(
                "something stands after the last bar line", mend="close the bar with |, or tie the last note over it"
            )
        )
        after = []
    if not after and over and over[0].tied:
        report(ChartError("the last note is tied to nothing", where=f"bar {len(written)}", mend="take its - away"))
        over[0].tied = False
    start = -sum((event.length for event in before), Fraction(0))

    def tie_fault(error: ChartError) -> None:
        if error.where not in faulty:
            report(error)

    return _join(before, written, lengths, after, start, tie_fault), lengths


def count_melody_bars(text: str) -> int:
    """How many bars a melody has. Raises ChartError when it holds repeat signs."""
    texts = _settle_edges(_bar_texts(text), None)
    return sum(_bars_of_rest(inner) or 1 for inner in texts.bars)


def _bar_texts(text: str) -> BarTexts:
    """A melody without its comments, cut into bars."""
    text = "\n".join(line.partition("%")[0] for line in text.splitlines())
    if repeat := REPEATS.search(text):
        raise ChartError(f"{repeat[0]!r} in a melody", mend="the form says what is repeated; an ending is a section")
    return cut_at_bar_lines(text)


def _bars_of_rest(text: str) -> int:
    """How many bars a rest of whole bars takes ('Z4'); 0 when the bar holds anything else."""
    whole = re.fullmatch(r"\s*Z(\d{0,3})\s*", text)
    return max(1, int(whole[1] or 1)) if whole else 0


def _settle_edges(texts: BarTexts, bars: Sequence[Fraction] | None) -> BarTexts:
    """Take the first or last stretch for a bar where its bar line has been left out and the count says so."""
    if not texts.bars and texts.before and (bars is None or len(bars) == 1):
        return BarTexts("", (texts.before,), texts.after)
    wanted = len(bars) if bars is not None else len(texts.bars)
    if len(texts.bars) == wanted - 1 and texts.after:
        return BarTexts(texts.before, (*texts.bars, texts.after), "")
    if len(texts.bars) == wanted - 1 and texts.before:
        return BarTexts("", (texts.before, *texts.bars), texts.after)
    if len(texts.bars) == wanted - 2 and texts.before and texts.after:
        return BarTexts("", (texts.before, *texts.bars, texts.after), "")
    return texts


def _bars(count: int) -> str:
    return "1 bar" if count == 1 else f"{count} bars"


def _too_many(written: Sequence[Sequence[AbcNote]], lengths: Sequence[Fraction], nominal: Fraction) -> str:
    """Which bar is too many, or which bar line: two bars of the melody that make one, or the first left over."""
    long = [sum((event.length for event in events), Fraction(0)) for events in written]
    for number, (one, other) in enumerate(pairwise(long), 1):
        if one < nominal and one + other == nominal:
            return f"melody bars {number} and {number + 1} make one: take out the bar line between them"
    if len(written) > len(lengths):
        return f"bar {len(lengths) + 1} of the melody has no chords: write them, or take it out"
    return f"bar {len(written) + 1} of the chords has no melody: write it (z for a rest), or take it out"


def _wrong_length(events: list[AbcNote], length: Fraction) -> str | None:
    total = sum((event.length for event in events), Fraction(0))
    if not events or total == length:
        return None
    return f"the melody lasts {written_length(total)} quarters in a bar of {written_length(length)}"


def _join(
    before: list[AbcNote],
    written: list[list[AbcNote]],
    lengths: Sequence[Fraction],
    after: list[AbcNote],
    start: Fraction,
    report: FaultHandler,
) -> tuple[MelodyNote, ...]:
    """Events as notes at their beats, ties joined."""
    notes: list[MelodyNote] = []
    tied = False
    for beat, event, where in _placed(before, written, lengths, after, start):
        if tied and event.pitch == notes[-1].pitch:
            notes[-1] = replace(notes[-1], length=notes[-1].length + event.length)
        else:
            if tied:
                what = f"{notes[-1].pitch} is tied to {event.pitch or 'a rest'}"
                report(ChartError(what, where=where, mend="a tie joins one pitch"))
            if event.pitch is not None and event.length:
                notes.append(MelodyNote(beat, event.length, event.pitch))
        tied = event.tied
    return tuple(notes)


def _placed(
    before: list[AbcNote],
    written: list[list[AbcNote]],
    lengths: Sequence[Fraction],
    after: list[AbcNote],
    start: Fraction,
) -> Iterator[tuple[Fraction, AbcNote, str]]:
    beat = start
    for event in before:
        yield beat, event, "pickup"
        beat += event.length
    bar = Fraction(0)
    for number, (events, length) in enumerate(zip(written, lengths, strict=True), 1):
        beat = bar
        for event in events or [AbcNote(None, length)]:
            yield beat, event, f"bar {number}"
            beat += event.length
        bar += length
    for event in after:
        yield bar, event, "after the last bar"
        bar += event.length


class _BarReader:
    """Reads bar after bar; one that can't be read is reported, and has no events."""

    def __init__(self, note_reader: NoteReader, report: FaultHandler):
        self.note_reader = note_reader
        self.report = report

    def bar_or_rests(self, text: str, where: str, length: Fraction) -> list[list[AbcNote]]:
        """A bar's events; several bars for a rest of several."""
        if count := _bars_of_rest(text):
            return [[] for _ in range(count)]
        return [self.bar(text, where, length)]

    def bar(self, text: str, where: str, length: Fraction) -> list[AbcNote]:
        """A bar's events; none when it can't be read and that has been reported."""
        self.note_reader.begin_bar()
        try:
            self.note_reader.read(text, where, length)
            self.note_reader.end_bar(where)
        except ChartError as error:
            self.report(error)
            return []
        return self.note_reader.events
