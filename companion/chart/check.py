"""What is wrong with a chart, all of it, a line each with section and bar.

Reading a chart for playing stops at its first fault; a check goes on and lists them all, and adds what can be read but
hardly be meant: a section that is never played, a treatment that doesn't exist, a note that no piano has.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from fractions import Fraction
from itertools import groupby, pairwise

from companion.chart.model import Chart, Section, WrittenNote
from companion.chart.toml.arrangement import places_of
from companion.errors import ChartError, right_name
from companion.messages import EVENTS, EventKind

PIANO = (21, 108)
"""MIDI numbers of the lowest and the highest key (common practice)."""

FINGERS, TENTH = 5, 16
"""Most notes of one hand, and most semitones from its lowest to its highest (common practice)."""

LEAD_IN = 2
"""A section of so few bars may do without a chord: the melody leads in alone."""


def check(
    chart: Chart, *, treatments: Collection[str] | None = None, feels: Collection[str] | None = None
) -> tuple[ChartError, ...]:
    """What in a chart that can be read is hardly meant so.

    Parameters
    ----------
    chart : Chart
    treatments, feels : collection of str, optional
        The names there are; None: names are not checked.
    """
    faults = list(_names(chart, treatments, feels))
    for section in chart.sections:
        where = f"section {section.name}"
        faults += [fault.within(where=where) for fault in _section(chart, section)]
    faults += _order(chart)
    faults += _pickups(chart)
    faults += _written(chart)
    return tuple(faults)


def _names(chart: Chart, treatments: Collection[str] | None, feels: Collection[str] | None) -> Iterator[ChartError]:
    if feels is not None and chart.feel not in feels:
        yield unknown_feel(chart.feel, feels)
    if treatments is not None:
        yield from unknown_treatments(chart, treatments)


def unknown_feel(name: str, feels: Collection[str]) -> ChartError:
    """What is wrong with a feel that there isn't."""
    return ChartError(f"there is no feel {name!r}", where="feel", mend=right_name(name, sorted(feels)))


def unknown_treatments(
    chart: Chart,
    treatments: Collection[str],
    *,
    sections: Collection[str] | None = None,
    kinds: Collection[EventKind] = EVENTS,
) -> Iterator[ChartError]:
    """A fault for each treatment that a chart names and that there isn't.

    Parameters
    ----------
    chart : Chart
    treatments : collection of str
        The names there are.
    sections : collection of str, optional
        The sections that are looked at; all unless given.
    kinds : collection of EventKind
        The kinds of events that are looked at.
    """
    named = [(f"section {s.name}", s.treatment) for s in chart.sections if sections is None or s.name in sections]
    named += [(f"order, event {number}", e.treatment) for number, e in enumerate(chart.events, 1) if e.kind in kinds]
    for where, name in named:
        if name is not None and name not in treatments:
            yield ChartError(f"there is no treatment {name!r}", where=where, mend=right_name(name, sorted(treatments)))


def _section(chart: Chart, section: Section) -> Iterator[ChartError]:
    if section.name not in chart.form:
        yield ChartError("is never played", mend="name it in the form, or take it out")
    if len(section.bars) > LEAD_IN and not any(span.chord.is_chord for span in section.chords):
        yield ChartError("has no chord", mend="write its chords, or there is nothing to accompany with")
    for note in section.melody:
        if not PIANO[0] <= note.pitch.midi <= PIANO[1]:
            yield ChartError(
                f"{note.pitch} is beyond the piano", where=_bar(section, note.beat), mend="write it in another octave"
            )
    if chart.source is not None and not chart.source.lower().endswith(".toml"):
        for number, length in enumerate(section.bars, 1):
            if length != chart.metre.bar:
                yield ChartError(
                    f"lasts {float(length):g} quarters in {chart.metre}",
                    where=f"bar {number}",
                    mend="look whether notes or rests are missing",
                )


def _bar(section: Section, beat: Fraction) -> str:
    end = Fraction(0)
    for number, length in enumerate(section.bars, 1):
        end += length
        if beat < 0:
            return "pickup"
        if beat < end:
            return f"bar {number}"
    return "after the last bar"


def _order(chart: Chart) -> Iterator[ChartError]:
    last = len(chart.events)
    for number, event in enumerate(chart.events, 1):
        where = f"order, event {number}"
        if event.kind == "introduction" and number > 1:
            yield ChartError("an introduction comes first", where=where, mend="move it to the top")
        if event.kind == "ending" and number < last:
            yield ChartError("an ending comes last", where=where, mend="move it to the bottom")


def _written(chart: Chart) -> Iterator[ChartError]:
    """What no hand can play of a written arrangement."""
    for number, place in enumerate(places_of(chart), 1):
        for part in chart.written:
            inside = [n for n in part.notes if place.start <= n.beat < place.end or (n.beat < 0 and number == 1)]
            for beat, struck in groupby(inside, key=lambda note: note.beat):
                for fault in _hands(list(struck)):
                    bar = sum(start <= beat for start in place.starts) or 1
                    where = f"arrangement, place {number} ({place.name}), {part.part}, bar {bar}"
                    yield fault.within(where=where)


def _hands(struck: list[WrittenNote]) -> Iterator[ChartError]:
    for note in struck:
        if not PIANO[0] <= note.pitch.midi <= PIANO[1]:
            yield ChartError(f"{note.pitch} is beyond the piano", mend="write it in another octave")
    for hand in ("left", "right"):
        notes = sorted((note.pitch for note in struck if note.hand == hand), key=lambda pitch: pitch.midi)
        if len(notes) > FINGERS:
            yield ChartError(f"{len(notes)} notes at once for the {hand} hand", mend="give some to the other hand")
        elif notes and notes[-1].midi - notes[0].midi > TENTH:
            what = f"from {notes[0]} to {notes[-1]} is too wide for the {hand} hand"
            yield ChartError(what, mend="give some notes to the other hand with !left! or !right!")


def _pickups(chart: Chart) -> Iterator[ChartError]:
    """A pickup takes the place of what stands before it; notes that it drowns are hardly meant."""
    by_name = {section.name: section for section in chart.sections}
    seen = set()
    for before, name in pairwise([chart.form[-1], *chart.form]):
        section, earlier = by_name.get(name), by_name.get(before)
        if section is None or earlier is None or not section.melody or (before, name) in seen:
            continue
        seen.add((before, name))
        pickup = {(note.beat + earlier.length, note.pitch) for note in section.melody if note.beat < 0}
        start = min((beat for beat, _ in pickup), default=earlier.length)
        drowned = sum(note.beat >= start and (note.beat, note.pitch) not in pickup for note in earlier.melody)
        if pickup and drowned:
            what = "a note" if drowned == 1 else f"{drowned} notes"
            yield ChartError(
                f"its pickup takes the place of {what} that section {before} ends with",
                where=f"section {name}",
                mend="shorten one of them",
            )
