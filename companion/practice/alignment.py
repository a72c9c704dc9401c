"""A whole take against the chart, after the event: where the player was at every moment, and what became of every note.

Three steps, each with the whole take in view: :mod:`companion.practice.matching` lays what was struck on the chart;
here the path is cut into sweeps, stretches in which the chart goes on without a leap or a stop; and over each sweep
:mod:`companion.practice.beat_curve` finds the player's own beat, and :mod:`companion.practice.judging` judges its notes.

Conventions: beats in quarters from the first downbeat of the form, going on through the choruses within a sweep; chart
beats start again at 0 in each; seconds on the take's clock.
"""

from __future__ import annotations

import math
import statistics
from bisect import bisect_right
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise

import numpy as np

from companion.chart.model import Form
from companion.follow.roles import swings
from companion.music.played import BeatMap
from companion.music.swing import straight_quarters, to_sounding
from companion.practice.beat_curve import Timed, manner_of, smoothed
from companion.practice.judging import (
    BELOW,
    SWUNG_MOST,
    TOGETHER,
    Expected,
    JudgedNote,
    Struck,
    expected_between,
    expected_notes,
    judge,
    without_repeats,
)
from companion.practice.matching import ChartOnsets, Laid, Onset, match

STOPPED, STOPPED_BEATS = 1.2, 1.0
"""Seconds, and beats of the metre, by which a note comes late where the player is taken to have stopped."""
IN_TIME, IN_TIME_SHARE = 0.35, 0.12
"""Quarters, and share of the beats between, by which the player may be off after a silence and have gone on in time."""
PHRASE_REST = 2.0
"""Quarters without an onset before which a phrase begins (common practice)."""
NEAR_TOP = 2.0
"""Bars from where one began or left off within which what is not played was left out."""
LEFT_OUT = 4
"""Onsets that may be left out there."""
OFF_BEAT_LOOSE = 1.6
"""How many times as far as others a swung quaver may lie from its place."""
MEDIUM_SWING, LEAST_SHOWN = 1.55, 6
"""Long quaver to short one where the player doesn't show theirs; off-beat quavers from which theirs is known."""


@dataclass(frozen=True)
class Sweep:
    """A stretch in which the chart went on without a leap or a stop."""

    low: float
    high: float
    """Beats through the choruses; ``high`` excluded."""
    beats: tuple[tuple[float, float], ...]
    """The player's beats of the metre and their moments, both rising; at least two, the last maybe at ``high``."""
    held: tuple[tuple[float, float], ...] = ()
    """Beats before which they held back, and for how many seconds."""

    def map(self) -> BeatMap:
        """Beats and moments."""
        return BeatMap(self.beats)


@dataclass(frozen=True)
class Move:
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

    notes: tuple[JudgedNote, ...]
    """In order of time."""
    sweeps: tuple[Sweep, ...]
    moves: tuple[Move, ...]
    """Between the sweeps: one fewer."""


def align(form: Form, parts: Collection[str], played: Sequence[Struck], end: float | None = None) -> Alignment:
    """Lay a take on the chart, for a player of parts of which the chart has at least one note for note.

    Parameters
    ----------
    form : Form
    parts : collection of str
        The player's.
    played : sequence of Struck
        In order of time.
    end : float, optional
        When the take ends; with its last key unless given.
    """
    expected = expected_notes(form, parts)
    struck = without_repeats(played)
    if not expected or not struck:
        return Alignment((), (), ())
    onsets = _onsets(form, parts, expected, struck)
    placed = _placed(form, expected, match(chart_onsets(form, expected), onsets), onsets)
    if len(placed) < 2:
        return Alignment((), (), ())
    end = max(end or 0.0, struck[-1].seconds)
    cuts = _cuts(form, placed, expected)
    ends = _Ends(form, parts, placed, end)
    sweeps = _smoothed(form, expected, placed, cuts, ends)
    notes = _judged(form, parts, struck, placed, cuts, sweeps)
    return Alignment(notes, sweeps, tuple(cut.move(sweep) for cut, sweep in zip(cuts, sweeps[1:], strict=True)))


# What is laid on what


def chart_onsets(form: Form, expected: Sequence[Expected]) -> ChartOnsets:
    """The onsets of a form as the matching takes them: once through, a pickup at the end."""
    length, bar = float(form.length), float(form.metre.bar)
    groups: dict[float, list[Expected]] = {}
    for note in expected:
        groups.setdefault(round(_middle(note) % length, 6), []).append(note)
    beats = np.array(sorted(groups))
    wide = [groups[beat][0].latest - groups[beat][0].earliest for beat in sorted(groups)]
    rests = np.diff(beats, prepend=beats[-1] - length)
    starts = {float(section.start) for section in form.sections}
    on_bar = np.array([any(abs(beat - start) < 0.01 for start in map(float, form.bars)) for beat in beats])
    first = np.array([min(beats[beats >= s - 0.01], default=-1.0) for s in starts])
    opens = (rests >= PHRASE_REST) | on_bar | np.isin(beats, first)
    top = np.isclose(beats, beats[0])
    if expected[0].beat < 0:
        top |= np.isclose(beats, _middle(expected[0]) % length)
    pitches = tuple(frozenset(note.pitch for note in groups[beat]) for beat in sorted(groups))
    return ChartOnsets(beats, np.array(wide) / 3, pitches, opens | top, top, length)


def _middle(note: Expected) -> float:
    """Where a note is likeliest to sound: half way between even and swung."""
    return (note.earliest + note.latest) / 2


def _onsets(form: Form, parts: Collection[str], expected: Sequence[Expected], struck: Sequence[Struck]) -> list[Onset]:
    """Keys that went down together, and whether they may be a part's that isn't expected note for note."""
    free = any(part in ("chords", "bass") and not form.written_part(part) for part in parts)
    lowest = min(note.pitch for note in expected) - BELOW
    groups: list[list[Struck]] = []
    for note in struck:
        if groups and note.seconds - groups[-1][0].seconds <= TOGETHER:
            groups[-1].append(note)
        else:
            groups.append([note])
    return [
        Onset(
            statistics.median(note.seconds for note in group),
            frozenset(note.pitch for note in group),
            free or all(note.pitch < lowest for note in group),
        )
        for group in groups
    ]


@dataclass(frozen=True)
class _Placed:
    """An onset of the take on its beat through the choruses."""

    beat: float
    """Where it is likeliest to sound."""
    written: float
    seconds: float
    leapt: bool


def _placed(form: Form, expected: Sequence[Expected], path: Sequence[Laid], onsets: Sequence[Onset]) -> list[_Placed]:
    """The path with its beats going on through the choruses."""
    length = float(form.length)
    pickup = float(form.pickup)
    by_beat = {round(_middle(note) % length, 6): note.beat % length for note in reversed(expected)}
    beats = sorted(by_beat)
    found: list[_Placed] = []
    chorus, before = 0, -1.0
    leading = False
    for n, laid in enumerate(path):
        beat = beats[laid.place]
        if laid.leapt:
            leading = _leads_in(path[n:], beats, length - pickup) if pickup else False
        elif beat <= before:
            chorus += not leading
            leading = False
        at = beat + chorus * length - (length if leading else 0.0)
        written = at + by_beat[beat] - beat
        found.append(_Placed(at, written, onsets[laid.onset].seconds, laid.leapt))
        before = beat
    return found


def _leads_in(path: Sequence[Laid], beats: Sequence[float], pickup: float) -> bool:
    """Whether the player came in with the pickup, and from there into the form."""
    before = -1.0
    for n, laid in enumerate(path):
        beat = beats[laid.place]
        if n and laid.leapt:
            return False
        if beat < before:
            return True
        if beat < pickup - 1e-6:
            return False
        before = beat
    return False


# Where the course is left


@dataclass(frozen=True)
class _Cut:
    """Between two onsets of the path: where the player left, and where they went on."""

    after: int
    """Index of the last onset before it."""
    leave: float
    land: float
    pause: float
    length: float

    def move(self, resumed: Sweep) -> Move:
        """What is told of it."""
        moment = resumed.map().seconds(self.land)
        return Move(moment, self.leave % self.length, self.land % self.length, self.pause)


def _cuts(form: Form, placed: list[_Placed], expected: Sequence[Expected]) -> list[_Cut]:
    """Where the player leapt or stopped. Puts onsets after a silence that went on in time into the next chorus."""
    length, pulse = float(form.length), float(form.metre.pulse)
    beats = sorted({note.beat % length for note in expected})
    found = []
    for n, (a, b) in enumerate(pairwise(list(placed))):
        b = placed[n + 1]
        a = placed[n]
        quarter = _quarter_at(placed, n)
        passed, step = (b.seconds - a.seconds) / quarter, b.beat - a.beat
        if b.leapt and not 0 < step and abs(passed - step - length) < _slack(passed):
            for m in range(n + 1, len(placed)):
                placed[m] = replace(
                    placed[m], beat=placed[m].beat + length, written=placed[m].written + length
                )
            continue
        late = passed - step
        if b.leapt or late < 0:
            if step > 0 and abs(late) < _slack(step):
                continue
            if not b.leapt and (step > 0 and late > -max(1.0, 0.3 * step)):
                continue
        stopped = late * quarter > STOPPED and late > STOPPED_BEATS * pulse
        if step > 0 and stopped and (not b.leapt or passed > 1.3 * step + 2):
            found.append(_stop(form, n, a, b, late * quarter))
        elif b.leapt or late < 0:
            found.append(_leap(form, n, a, b, quarter, beats))
    return found


def _slack(step: float) -> float:
    return max(IN_TIME, IN_TIME_SHARE * step)


def _quarter_at(placed: Sequence[_Placed], n: int) -> float:
    """Seconds a quarter around an onset, by the steps before it; after it where it is the first."""
    rates: list[float] = []
    for m in range(n, 0, -1):
        if placed[m].leapt or placed[n].beat - placed[m].beat > 8:
            break
        step = placed[m].beat - placed[m - 1].beat
        rates += [(placed[m].seconds - placed[m - 1].seconds) / step] * max(1, round(2 * step))
    if len(rates) < 4:
        for m in range(n + 2, min(n + 10, len(placed))):
            if placed[m].leapt:
                break
            step = placed[m].beat - placed[m - 1].beat
            rates += [(placed[m].seconds - placed[m - 1].seconds) / step] * max(1, round(2 * step))
    return statistics.median(rates) if rates else 0.5


def _floor(beat: float, grid: float) -> float:
    return math.floor(beat / grid + 1e-6) * grid


def _stop(form: Form, n: int, a: _Placed, b: _Placed, pause: float) -> _Cut:
    """A silence from which the player went on where they had been: at the beat of the next note."""
    pulse = float(form.metre.pulse)
    at = _floor(b.written, pulse)
    if at <= a.written + 1e-6:
        at = b.written
    return _Cut(n, at, at, pause, float(form.length))


def _leap(form: Form, n: int, a: _Placed, b: _Placed, quarter: float, beats: Sequence[float]) -> _Cut:
    """Going on elsewhere: in time, left where the fewest notes are left out, at a bar line rather than within a bar;
    or after a silence."""
    pulse, bar, length = float(form.metre.pulse), float(form.metre.bar), float(form.length)
    passed = (b.seconds - a.seconds) / quarter
    next_beat, landing = _floor(a.written, pulse) + pulse, _floor(b.written, pulse)
    distance = round((b.beat - a.beat - passed) / pulse) * pulse
    candidates = []
    leave = next_beat
    while leave <= a.written + passed + pulse and len(candidates) < 64:
        land = leave + distance
        if a.written < leave and land <= b.written + 1e-6:
            lost = _between(beats, a.written, leave, length) + _between(beats, land, b.written, length)
            candidates.append((lost, land % bar > 1e-6, leave % bar > 1e-6, -leave, land))
        leave += pulse
    off = abs(b.beat - a.beat - passed - distance)
    if not candidates or passed > 8 or off > 0.35 * pulse:
        pause = max(0.0, passed - (next_beat - a.written) - (b.written - landing)) * quarter
        if pause < STOPPED / 2:
            pause = 0.0
        return _Cut(n, next_beat, landing, pause, length)
    _, _, _, leave, land = min(candidates)
    return _Cut(n, -leave, land, 0.0, length)


def _between(beats: Sequence[float], low: float, high: float, length: float) -> int:
    """Onsets of the chart after one beat and before another."""
    if high <= low:
        return 0
    chorus = math.floor(low / length)
    both = [beat + (chorus + n) * length for n in (0, 1, 2) for beat in beats]
    return sum(low + 1e-6 < beat < high - 1e-6 for beat in both)


# The player's own beat


class _Ends:
    """Where the first sweep begins and the last one ends."""

    def __init__(self, form: Form, parts: Collection[str], placed: Sequence[_Placed], end: float) -> None:
        near = NEAR_TOP * float(form.metre.bar)
        pulse = float(form.metre.pulse)
        first, last = placed[0].written, placed[-1].written
        early = expected_between(form, parts, -float(form.pickup) - 1.0, first)
        top = early[0].beat if early else first
        self.low = min(0.0, top) if first <= near and len(early) <= LEFT_OUT else _floor(first, pulse)
        length = float(form.length)
        over = (math.floor(last / length + 1e-9) + 1) * length
        late = expected_between(form, parts, last + 1e-3, over)
        self.whole = over - last <= near and len(late) <= LEFT_OUT
        self.high = over if self.whole else _floor(last, pulse) + pulse
        self.end = end


def _smoothed(
    form: Form, expected: Sequence[Expected], placed: Sequence[_Placed], cuts: Sequence[_Cut], ends: _Ends
) -> tuple[Sweep, ...]:
    """The sweeps with the player's own beat."""
    stretches = [
        placed[a:b] for a, b in pairwise([0, *(cut.after + 1 for cut in cuts), len(placed)])
    ]
    bounds = list(
        zip(
            [ends.low, *(cut.land for cut in cuts)],
            [*(cut.leave for cut in cuts), ends.high],
            strict=True,
        )
    )
    ratio = MEDIUM_SWING if swings(form) else 1.0
    even = straight_quarters(Fraction(note.beat).limit_denominator(960) for note in expected)
    timed = [_timed(form, stretch, ratio, even) for stretch in stretches]
    manner = manner_of(timed)
    if swings(form):
        ratio = _swing_of(form, stretches, timed, manner, even)
        timed = [_timed(form, stretch, ratio, even) for stretch in stretches]
        manner = manner_of(timed)
    usual = _usual(placed)
    return tuple(
        _sweep(form, notes, low, high, manner, usual) for notes, (low, high) in zip(timed, bounds, strict=True)
    )


def _usual(placed: Sequence[_Placed]) -> float:
    rates = [
        (b.seconds - a.seconds) / (b.beat - a.beat) for a, b in pairwise(placed) if not b.leapt and b.beat > a.beat
    ]
    return statistics.median(rates) if rates else 0.5


def _timed(form: Form, stretch: Sequence[_Placed], ratio: float, even: Collection[int]) -> list[Timed]:
    """The notes of a stretch where they sound with so much swing."""
    length = int(form.length)
    found: list[Timed] = []
    for note in stretch:
        chorus = math.floor(note.written / length) * length if note.written >= 0 else 0
        sounding = chorus + to_sounding(note.written - chorus, ratio, even)
        off = _swung(note.written) and ratio > 1
        if not found or (sounding > found[-1].beat and note.seconds > found[-1].seconds):
            found.append(Timed(sounding, note.seconds, OFF_BEAT_LOOSE if off else 1.0))
    return found


def _swung(beat: float) -> bool:
    return abs(beat % 1 - 0.5) < 1e-6


def _swing_of(form, stretches, timed, manner, even) -> float:  # type: ignore[no-untyped-def]
    """How this player swings: by their off-beat quavers against the beat that all their notes show."""
    shown = []
    for stretch, notes in zip(stretches, timed, strict=True):
        if len(notes) < 4:
            continue
        low, high = math.floor(notes[0].beat), math.ceil(notes[-1].beat)
        on_beat = [note for note in notes if note.loose == 1.0]
        known = on_beat if len(on_beat) > 3 else notes
        beats = [float(beat) for beat in range(low, high + 1)]
        curve = smoothed(known, beats, manner, float(form.metre.pulse))
        moments = dict(zip(curve.beats, curve.seconds, strict=True))
        for note in stretch:
            quarter = math.floor(note.written)
            if _swung(note.written) and quarter % int(form.length) not in even and float(quarter + 1) in moments:
                here, there = moments.get(float(quarter)), moments[float(quarter + 1)]
                if here is not None and there > here:
                    shown.append((note.seconds - here) / (there - here))
    if len(shown) < LEAST_SHOWN:
        return MEDIUM_SWING
    place = min(max(statistics.median(shown), 0.5), SWUNG_MOST / (SWUNG_MOST + 1))
    return place / (1 - place)


def _sweep(form: Form, notes: Sequence[Timed], low: float, high: float, manner, usual: float) -> Sweep:  # type: ignore[no-untyped-def]
    """One sweep with its beats of the metre, from its first up to its last."""
    pulse = float(form.metre.pulse)
    first = math.ceil(low / pulse - 1e-6)
    last = max(math.ceil(high / pulse - 1e-6), first + 1)
    beats = [n * pulse for n in range(first, last + 1)]
    if len(notes) == 1:
        only = notes[0]
        notes = [only, Timed(only.beat + 1.0, only.seconds + usual, 4.0)]
    curve = smoothed(notes, beats, manner, pulse)
    return Sweep(low, high, tuple(zip(curve.beats, curve.seconds, strict=True)), curve.held)


# What became of the notes


def _judged(
    form: Form,
    parts: Collection[str],
    struck: Sequence[Struck],
    placed: Sequence[_Placed],
    cuts: Sequence[_Cut],
    sweeps: Sequence[Sweep],
) -> tuple[JudgedNote, ...]:
    """All notes, sweep by sweep."""
    length = float(form.length)
    borders = []
    for cut, sweep in zip(cuts, sweeps[1:], strict=True):
        before, after = placed[cut.after].seconds, placed[cut.after + 1].seconds
        border = sweep.map().seconds(cut.land - 0.25)
        borders.append(min(max(border, before + TOGETHER), after - TOGETHER))
    moments = [note.seconds for note in struck]
    at = [0, *(bisect_right(moments, border) for border in borders), len(struck)]
    found: list[JudgedNote] = []
    for (a, b), sweep in zip(pairwise(at), sweeps, strict=True):
        judgement = judge(form, parts, struck[a:b], sweep.map(), low=sweep.low, high=sweep.high)
        for note in judgement.notes:
            chorus = max(0, math.floor((note.chart_beat + 1e-9) / length))
            found.append(replace(note, chart_beat=note.chart_beat - chorus * length, chorus=chorus + 1))
    return tuple(found)


def by_bar(notes: Sequence[JudgedNote], form: Form) -> dict[tuple[int, int], list[JudgedNote]]:
    """The notes by chorus and bar."""

    def key(note: JudgedNote) -> tuple[int, int]:
        return note.chorus, form.bar_at(note.chart_beat) if note.chart_beat >= 0 else 0

    return {at: list(group) for at, group in groupby(sorted(notes, key=key), key)}
