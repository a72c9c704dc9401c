"""A whole take against the chart, after the event: where the player was at every moment, and what became of every note.

Each step has the whole take in view. :mod:`companion.practice.matching` lays what was struck on the chart and
:mod:`companion.practice.placing` puts it in order; :mod:`companion.practice.departures` finds where the player left the
chart's course, and :mod:`companion.practice.sweeps` the player's own beat between; :mod:`companion.practice.judging`
judges the notes against it. What the chart doesn't have note for note (a solo, free chords, a free bass, and where
someone told as the melody improvises) is placed by the beats that the follower took while it listened; comping alone by
:mod:`companion.practice.comped_beat`.

Conventions: beats in quarters, in sweeps going on through the choruses, in notes and moves starting again at 0 in each;
seconds on the take's clock.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from companion.chart.model import Chart, Form
from companion.messages import Beat, Heard
from companion.practice.comped_beat import comped_places
from companion.practice.departures import Departure, departures, floor_to
from companion.practice.expected import expected_between, expected_notes
from companion.practice.judging import TOGETHER, JudgedNote, Struck, judge, without_repeats
from companion.practice.matching import Laid, StruckOnset, match
from companion.practice.placing import (
    TakePlace,
    as_written,
    chart_onsets,
    laid_places,
    quarter_at,
    stretches_away,
    take_onsets,
    through_choruses,
    with_followed,
)
from companion.practice.sweeps import Sweep, swept
from companion.stage.replay import replay
from companion.stage.settings import Settings

NEAR_TOP, LEFT_OUT = 2.0, 4
"""Bars from where one began or left off, and onsets in them, within which what wasn't played was left out."""
WAITED = 4.0
"""Bars to the end of the form that may have been waited for in silence."""
LEAD_IN = 0.25
"""Quarters before the beat on which one goes on from which keys belong to it."""
SURE, APART = 0.7, 0.2
"""How sure the follower has to be of a beat to have a say; quarters within which a place is the one where it was:
half of the way from a beat to the swung quaver before it."""
AGAINST = {"melody": "solo"}
"""What a part is taken for where something else is played than what is written."""


@dataclass(frozen=True)
class TakeMove:
    """Where the player left the chart's course: a leap, a stop, or both."""

    seconds: float
    """When they went on."""
    from_beat: float
    to_beat: float
    """Chart beats; the same after a stop from which they went on."""
    pause: float
    """Seconds of silence beyond what the chart has there."""


@dataclass(frozen=True)
class Alignment:
    """A take laid on the chart."""

    judged: tuple[tuple[JudgedNote, ...], ...]
    """The notes of each sweep, in order of time."""
    sweeps: tuple[Sweep, ...]
    moves: tuple[TakeMove, ...]
    """Between the sweeps: one fewer."""

    @property
    def notes(self) -> tuple[JudgedNote, ...]:
        """All notes, in order of time."""
        return tuple(note for notes in self.judged for note in notes)


NOTHING = Alignment((), (), ())


def align(chart: Chart, settings: Settings, heard: Sequence[Heard], end: float | None = None) -> Alignment:
    """Lay a take on its chart.

    Parameters
    ----------
    chart : Chart
    settings : Settings
        As it was played: the player's parts, the count-in where there was one, the order of events.
    heard : sequence of Heard
        In order of time.
    end : float, optional
        When the take ends, in seconds; with its last key unless given.
    """
    form, parts = chart.unfold(), settings.you
    struck = without_repeats(Struck(note.seconds, note.data1) for note in heard if note.is_note_on)
    if not struck:
        return NOTHING
    end = max(end or 0.0, struck[-1].seconds)
    placed = _placed(chart, settings, heard, struck, end)
    if len(placed) < 2:
        return NOTHING
    expected = expected_notes(form, parts)
    left = departures(form, placed, expected)
    sweeps = swept(form, expected, placed, left, _bounds(form, parts, placed, end))
    judged = _judged(form, parts, struck, placed, left, sweeps)
    moves = tuple(_move(cut, sweep, float(form.length)) for cut, sweep in zip(left, sweeps[1:], strict=True))
    return Alignment(judged, sweeps, moves)


def _placed(
    chart: Chart, settings: Settings, heard: Sequence[Heard], struck: Sequence[Struck], end: float
) -> list[TakePlace]:
    """What is known of the take's beats; the follower is asked only where little is as it is written."""
    form = chart.unfold()
    expected = expected_notes(form, settings.you)
    moments = [note.seconds for note in struck]
    path: list[Laid] = []
    onsets: list[StruckOnset] = []
    if expected:
        onsets = take_onsets(form, settings.you, expected, struck)
        path = as_written(onsets, match(chart_onsets(form, expected), onsets))
        laid = {one.onset for one in path}
        moments = [onset.seconds for n, onset in enumerate(onsets) if n in laid or not onset.company]
    known = laid_places(form, expected, path, onsets)
    away = stretches_away([place.seconds for place in known], moments)
    beats = followed(chart, settings, heard, end) if away else []
    if not expected and settings.you == {"chords"}:
        comped = comped_places(form, struck, settings.tempo, settings.start)
        if comped and _is_borne_out(form, comped, beats):
            return through_choruses(form, comped)
    moved = [(beat.chart_beat, beat.seconds) for beat in beats]
    return through_choruses(form, with_followed(form, known, moved, away))


def _is_borne_out(form: Form, places: Sequence[TakePlace], beats: Sequence[Beat]) -> bool:
    """Whether places are where the follower was, in as far as it was sure: it heard the count-in, too.

    Chords alone fit a chart as well half a beat or a bar away.
    """
    length = float(form.length)
    moments = [beat.seconds for beat in beats]
    asked = agreed = 0
    for place in places:
        n = bisect_right(moments, place.seconds) - 1
        if not 0 <= n < len(beats) - 1 or beats[n].sure < SURE:
            continue
        share = (place.seconds - moments[n]) / max(moments[n + 1] - moments[n], 1e-3)
        here = beats[n].chart_beat + share * float(form.metre.pulse)
        asked += 1
        agreed += abs((place.beat - here + length / 2) % length - length / 2) < APART
    return agreed >= asked / 2 or asked < len(places) / 2


def stretches_as_written(form: Form, parts: Collection[str], heard: Sequence[Heard]) -> list[list[TakePlace]]:
    """What was played as it is written, in stretches without a leap or a stop; much faster than :func:`align`.

    Parameters
    ----------
    form : Form
    parts : collection of str
        The player's.
    heard : sequence of Heard
        In order of time.
    """
    struck = without_repeats(Struck(note.seconds, note.data1) for note in heard if note.is_note_on)
    expected = expected_notes(form, parts)
    if not struck or not expected:
        return []
    onsets = take_onsets(form, parts, expected, struck)
    path = as_written(onsets, match(chart_onsets(form, expected), onsets))
    placed = through_choruses(form, laid_places(form, expected, path, onsets))
    if len(placed) < 2:
        return []
    ends = [0, *(cut.after + 1 for cut in departures(form, placed, expected)), len(placed)]
    return [placed[a:b] for a, b in pairwise(ends)]


def followed(chart: Chart, settings: Settings, heard: Sequence[Heard], end: float) -> list[Beat]:
    """Beats of the metre, as the follower takes them while it listens."""
    alone = replace(settings, parts=(), trace=False)
    reports = replay(chart, heard, alone, until=end).reports
    return [report for report in reports if isinstance(report, Beat)]


def _bounds(form: Form, parts: Collection[str], placed: Sequence[TakePlace], end: float) -> tuple[float, float]:
    """Where the first sweep begins and the last one ends: with the form, where little of it wasn't played."""
    bar, pulse, length = float(form.metre.bar), float(form.metre.pulse), float(form.length)
    first, last = placed[0].written, placed[-1].written
    early = expected_between(form, parts, -float(form.pickup) - 1.0, first)
    low = floor_to(first, pulse)
    if first <= NEAR_TOP * bar and len(early) <= LEFT_OUT:
        low = min(0.0, early[0].beat if early else first)
    over = (math.floor(last / length + 1e-9) + 1) * length
    late = expected_between(form, parts, last + 1e-3, over)
    silence = (end - placed[-1].seconds) / quarter_at(placed, len(placed) - 1)
    near = over - last <= NEAR_TOP * bar and len(late) <= LEFT_OUT
    waited = over - last <= WAITED * bar and abs(silence - (over - last)) <= bar
    return low, over if near or waited else floor_to(last, pulse) + pulse


def _move(cut: Departure, resumed: Sweep, length: float) -> TakeMove:
    return TakeMove(resumed.map().seconds(cut.land), _within(cut.leave, length), _within(cut.land, length), cut.pause)


def _within(beat: float, length: float) -> float:
    """The chart beat of a beat through the choruses; a first pickup lies below 0."""
    return beat if beat < 0 else beat % length


# What became of the notes


def _judged(
    form: Form,
    parts: Collection[str],
    struck: Sequence[Struck],
    placed: Sequence[TakePlace],
    left: Sequence[Departure],
    sweeps: Sequence[Sweep],
) -> tuple[tuple[JudgedNote, ...], ...]:
    """The notes of each sweep, what is written apart from what isn't. Over a whole take a bar's rest in a free part is
    the player's own choice, and nothing is missing there."""
    borders = []
    for cut, sweep in zip(left, sweeps[1:], strict=True):
        before, after = placed[cut.after].seconds, placed[cut.after + 1].seconds
        border = sweep.map().seconds(cut.land - LEAD_IN)
        borders.append(min(max(border, before + TOGETHER / 2), after - TOGETHER))
    moments = [note.seconds for note in struck]
    at = [0, *(bisect_right(moments, border) for border in borders), len(struck)]
    judged = []
    for (a, b), sweep in zip(pairwise(at), sweeps, strict=True):
        found: list[JudgedNote] = []
        beats = sweep.map()
        for low, high, free in _spans(sweep):
            inside = [note for note in struck[a:b] if _inside(beats.beat(note.seconds), low, high, sweep)]
            these = {AGAINST.get(part, part) for part in parts} if free else set(parts)
            notes = judge(form, these, inside, beats, low=low, high=high).notes
            found += [note for note in notes if note.kind != "missing" or note.expected is not None]
        judged.append(tuple(_in_chorus(note, float(form.length)) for note in found))
    return tuple(judged)


def _spans(sweep: Sweep) -> list[tuple[float, float, bool]]:
    """The sweep in stretches as written and not, one after the other."""
    found, at = [], sweep.low
    for start, end in sweep.free:
        if start > at + 1e-6:
            found.append((at, start, False))
        found.append((start, end, True))
        at = end
    if sweep.high > at + 1e-6:
        found.append((at, sweep.high, False))
    return found


def _inside(beat: float, low: float, high: float, sweep: Sweep) -> bool:
    """Whether a key falls into a span; what lies before the first or after the last belongs to it."""
    after = beat >= low - LEAD_IN or low <= sweep.low + 1e-6
    before = beat < high - LEAD_IN or high >= sweep.high - 1e-6
    return after and before


def _in_chorus(note: JudgedNote, length: float) -> JudgedNote:
    """The note with its beat in its own chorus; a first pickup lies below 0."""
    chorus = max(0, math.floor((note.chart_beat + 1e-9) / length))
    return replace(note, chart_beat=note.chart_beat - chorus * length, chorus=chorus + 1)
