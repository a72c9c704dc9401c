"""The bars that a take went through, in the order in which they were played: what its beats and its chart tell.

A player leaps, goes back and stops, and plays choruses on end. On paper that is one bar after the other, each with the
chords of the bar of the chart that was being played.

Conventions: beats in quarters; *chart beats* as in the chart, each time through from 0; *written beats* from the first
bar that was played. Seconds on the take's clock.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from companion.chart.model import Form
from companion.messages import TINY, Beat
from companion.music.chords import Chord
from companion.music.played import BeatMap
from companion.transcribe.barring import Heading

MOST_TEMPO = 600.0
"""Quarters a minute: beats that follow each other faster are one beat, said again."""


@dataclass(frozen=True)
class PlayedForm:
    """The form under a beat, and where that form begins.

    Attributes
    ----------
    form : Form
        The tune's, or that of an introduction or an ending.
    first : Fraction
        Chart beat of its first downbeat.
    name : str
        Of the event, where its sections have no names of their own.
    """

    form: Form
    first: Fraction = Fraction(0)
    name: str = ""


@dataclass(frozen=True)
class PlayedBar:
    """One bar that was played."""

    start: Fraction
    """Written beat."""
    length: Fraction
    source: PlayedForm
    inside: Fraction
    """Where it begins in that form, in quarters."""
    chorus: int


@dataclass(frozen=True)
class PlayedBars:
    """The bars of a take, and where its beats fell."""

    bars: tuple[PlayedBar, ...]
    beats: BeatMap
    """Written beats against seconds."""

    @property
    def chords(self) -> list[tuple[Fraction, Chord]]:
        """Chord symbols with the written beats at which they begin; one that goes on isn't said again."""
        found: list[tuple[Fraction, Chord]] = []
        for bar in self.bars:
            for span in bar.source.form.chords:
                low, high = max(span.start, bar.inside), min(span.end, bar.inside + bar.length)
                if low < high and (not found or found[-1][1] != span.chord):
                    found.append((bar.start + low - bar.inside, span.chord))
        return found

    @property
    def headings(self) -> list[Heading]:
        """Names where sections and choruses begin, and where the player went elsewhere."""
        found: list[Heading] = []
        several = len({bar.chorus for bar in self.bars}) > 1
        before: PlayedBar | None = None
        for bar in self.bars:
            form = bar.source.form
            section = form.section_at(bar.inside)
            opens = bar.source.name if bar.inside == 0 and bar.source.name else section.name
            of = f", chorus {bar.chorus}" if several and not bar.source.name else ""
            goes_on = before is not None and (
                before.inside + before.length == bar.inside or (bar.inside == 0 and before.chorus < bar.chorus)
            )
            if bar.inside == section.start:
                found.append(Heading(bar.start, f"{opens}{of}"))
            elif before is None or (before.source is bar.source and not goes_on):
                found.append(Heading(bar.start, f"{section.name}, bar {form.bar_at(bar.inside)}"))
            before = bar
        return _told_apart(found)


def played_bars(beats: Sequence[Beat], form_of: Callable[[Beat], PlayedForm]) -> PlayedBars | None:
    """The bars that were played.

    Parameters
    ----------
    beats : sequence of Beat
        As the companion sounded them, in order of time.
    form_of : callable
        The form under a beat.

    Returns
    -------
    PlayedBars or None
        None where fewer than two beats were sounded: nothing tells where the bars are.
    """
    bars: list[PlayedBar] = []
    points: list[tuple[float, float]] = []
    for beat in beats:
        source = form_of(beat)
        length = source.form.length
        inside = (Fraction(beat.chart_beat).limit_denominator(960) - source.first) % length
        number = source.form.bar_at(inside) - 1
        begin = source.form.bars[number]
        end = source.form.bars[number + 1] if number + 1 < len(source.form.bars) else length
        last = bars[-1] if bars else None
        same = last is not None and last.source is source and last.inside == begin and last.chorus == beat.chorus
        at = float(last.start + inside - begin) if last is not None and same else 0.0
        if last is None or not same or at <= points[-1][0]:
            start = last.start + last.length if last is not None else Fraction(0)
            bars.append(PlayedBar(start, end - begin, source, begin, beat.chorus))
            at = float(start + inside - begin)
        while points and beat.seconds - points[-1][1] < (at - points[-1][0]) * 60 / MOST_TEMPO - TINY:
            points.pop()  # the companion corrected itself at once
        points.append((at, beat.seconds))
    return PlayedBars(tuple(bars), BeatMap(tuple(points))) if len(points) > 1 else None


def _told_apart(headings: Sequence[Heading]) -> list[Heading]:
    """Headings of which no two are called alike: what comes again is counted."""
    times: dict[str, int] = {}
    found = []
    for heading in headings:
        times[heading.name] = count = times.get(heading.name, 0) + 1
        found.append(heading if count == 1 else Heading(heading.beat, f"{heading.name} ({count})"))
    return found
