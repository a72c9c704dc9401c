"""The onsets of a sweep: what was struck together, where the chart has it and where it came.

Written notes have their place from the chart; those of a free bass and of free chords the nearest one. Off-beat quavers
sound where this player swings them. Who plays what is written and a free part tells the beat with both: what of the
free part lies at its place between the written notes counts, what is late or early there doesn't.

Conventions: beats in quarters through the choruses; seconds on the take's clock; places are shares of a quarter from
the beat before.
"""

from __future__ import annotations

import math
import statistics
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from companion.chart.model import Form
from companion.follow.roles import swings
from companion.music.played import BeatMap
from companion.music.swing import straight_quarters
from companion.practice.bar_tempo import BeatOnset
from companion.practice.beat_curve import Timed, manner_of, smoothed
from companion.practice.expected import SWUNG_MOST
from companion.practice.judging import TOGETHER, JudgedNote
from companion.practice.sweeps import MEDIUM_SWING, Sweep

SHOWN = 6
"""Off-beat quavers from which it is known how one swings."""
TOLD_WITHIN, HELD_NEAR = 0.6, 0.3
"""Quarters from an off-beat quaver to a note that tells where its beat is; from a beat that was held back to one whose
place isn't known."""
PLAIN_SHARE = 0.25
"""Of the onsets that must lie elsewhere than off the beat for them alone to tell the beat."""
OFF_BEAT_LOOSE = 0.02
"""Quarters by which a swung quaver may differ from the others (standard deviation)."""
OFF_BEAT_TIMES = 1.6
"""How many times as far as others a swung quaver may lie from its place."""
ON_A_BEAT = 0.2
"""Quarters from its place within which a note that isn't written is taken to be there."""
AT_ITS_PLACE = 0.07
"""Seconds from its place within which a chord between written notes tells the beat: farther off it is late or early."""
ROUNDS = 3


@dataclass(frozen=True)
class TakeOnset:
    """Notes struck for one place of the chart."""

    beat: float
    """Written."""
    seconds: float
    """The median of theirs."""
    place: float
    """Where in its quarter it came."""
    swung: bool
    """Whether it is an off-beat quaver that may be swung."""
    notes: tuple[JudgedNote, ...]
    shows: bool = False
    """Whether it shows how one swings: an off-beat quaver in a beat that is known."""


@dataclass(frozen=True)
class SweepTiming:
    """The timing of a sweep."""

    onsets: tuple[TakeOnset, ...]
    beats: BeatMap
    """The player's own."""
    written: bool
    """Whether the chart has the onsets."""
    between: tuple[TakeOnset, ...] = ()
    """Of free chords and a free bass between the written onsets."""


def sweep_timing(form: Form, sweep: Sweep, notes: Iterable[JudgedNote]) -> SweepTiming:
    """The onsets of a sweep: the written ones, with those of bass and chords between them, or else these alone."""
    notes = tuple(notes)
    if written := written_onsets(form, sweep, notes):
        between, beats = onsets_between(form, sweep, notes, written)
        return SweepTiming(tuple(written), beats, True, tuple(between))
    onsets, beats = free_onsets(form, sweep, notes)
    return SweepTiming(tuple(onsets), beats, False)


def written_onsets(form: Form, sweep: Sweep, notes: Iterable[JudgedNote]) -> list[TakeOnset]:
    """The onsets of a sweep that are in the chart, in order; what sounds out of order is left out."""
    length = float(form.length)
    groups: dict[float, list[JudgedNote]] = {}
    for note in notes:
        if note.expected is not None and note.seconds is not None:
            groups.setdefault(round(note.chart_beat + (note.chorus - 1) * length, 4), []).append(note)
    even = straight_quarters(note.beat for note in form.melody)
    found: list[TakeOnset] = []
    for beat in sorted(groups):
        at = statistics.median(note.seconds or 0.0 for note in groups[beat])
        if found and at <= found[-1].seconds + 1e-3:
            continue
        quarter = math.floor(beat + 1e-6)
        swung = swings(form) and _off_beat(beat) and quarter % int(length) not in even
        known = not any(quarter - HELD_NEAR < held <= quarter + 1 for held, _ in sweep.held)
        found.append(TakeOnset(beat, at, 0.0, swung, tuple(groups[beat]), swung and known))
    moments = _beat_without_off_beats(form, sweep, found)
    plain = [onset.beat for onset in found if not _off_beat(onset.beat)]
    return [
        replace(
            onset,
            place=_place(moments, math.floor(onset.beat + 1e-6), onset.seconds),
            shows=onset.shows and _near(plain, onset.beat),
        )
        for onset in found
    ]


def _off_beat(beat: float) -> bool:
    return abs(beat % 1 - 0.5) < 1e-3


def _near(plain: Sequence[float], beat: float) -> bool:
    """Whether there is a note near that tells where the beat is."""
    n = bisect_left(plain, beat)
    return any(abs(other - beat) <= TOLD_WITHIN for other in plain[max(0, n - 1) : n + 1])


def _beat_without_off_beats(form: Form, sweep: Sweep, onsets: Sequence[TakeOnset]) -> BeatMap:
    """The player's beat by the notes whose place doesn't depend on the swing; the sweep's, where they are few."""
    plain = [Timed(onset.beat, onset.seconds) for onset in onsets if not _off_beat(onset.beat)]
    if len(plain) < max(SHOWN, PLAIN_SHARE * len(onsets)):
        return sweep.map()
    low, high = math.floor(min(onsets[0].beat, sweep.low)), math.ceil(max(onsets[-1].beat + 1, sweep.high))
    quarters = [float(quarter) for quarter in range(low, high + 1)]
    curve = smoothed(plain, quarters, manner_of([plain]), float(form.metre.pulse))
    return BeatMap(tuple(zip(curve.beats, curve.seconds, strict=True)))


def free_onsets(form: Form, sweep: Sweep, notes: Iterable[JudgedNote]) -> tuple[list[TakeOnset], BeatMap]:
    """The onsets of a bass or of chords that nobody has written down, in order, and the beat that they tell.

    Each is on the beat or the off-beat quaver that it is nearest to; what is near neither is left out.
    """
    moments = _free_moments(notes)
    beats = sweep.map()
    found: list[TakeOnset] = []
    swung = MEDIUM_SWING / (MEDIUM_SWING + 1) if swings(form) else 0.5
    for _ in range(ROUNDS):
        found = _placed(form, moments, beats, swung)
        if len(found) < SHOWN:
            break
        swung = usual_place(form, found)
        timed = [Timed(one.beat, one.seconds) for one in sounding_beats(found, swung)]
        low, high = math.floor(min(sweep.low, timed[0].beat)), math.ceil(max(sweep.high, timed[-1].beat)) + 1
        curve = smoothed(timed, [float(n) for n in range(low, high + 1)], manner_of([timed]), float(form.metre.pulse))
        beats = BeatMap(tuple(zip(curve.beats, curve.seconds, strict=True)))
    return found, beats


def _free_moments(notes: Iterable[JudgedNote]) -> list[tuple[float, JudgedNote]]:
    """When bass and chords were struck that nobody has written down, keys struck together once."""
    moments: list[tuple[float, JudgedNote]] = []
    for note in sorted((n for n in notes if n.seconds is not None), key=lambda n: n.seconds or 0.0):
        at = note.seconds or 0.0
        free = note.part in ("bass", "chords") and note.expected is None
        if free and (not moments or at - moments[-1][0] > TOGETHER):
            moments.append((at, note))
    return moments


def onsets_between(
    form: Form, sweep: Sweep, notes: Iterable[JudgedNote], written: Sequence[TakeOnset]
) -> tuple[list[TakeOnset], BeatMap]:
    """The onsets of free chords and a free bass apart from the written ones, and the beat that all of them tell.

    Who holds a note of the melody, or rests, says with the other hand where the beat is.
    """
    struck = [one.seconds for one in written]
    moments = [(at, note) for at, note in _free_moments(notes) if not _is_near(struck, at, TOGETHER)]
    beats = sweep.map()
    usual = usual_place(form, written)
    quarter = 60 / beats.tempo(written[0].beat)
    found: list[TakeOnset] = []
    for _ in range(ROUNDS):
        placed = [one for one in _placed(form, moments, beats, usual) if _is_told(sweep, beats, usual, one)]
        found = [one for one in placed if not _is_near([w.beat for w in written], one.beat, 0.01)]
        if not found:
            break
        both = in_order(written, found)
        timed = [
            Timed(one.beat, one.seconds, OFF_BEAT_TIMES if one.off_beat else 1.0)
            for one in sounding_beats(both, usual, quarter)
        ]
        low, high = math.floor(min(sweep.low, timed[0].beat)), math.ceil(max(sweep.high, timed[-1].beat)) + 1
        curve = smoothed(timed, [float(n) for n in range(low, high + 1)], manner_of([timed]), float(form.metre.pulse))
        beats = BeatMap(tuple(zip(curve.beats, curve.seconds, strict=True)))
    return found, beats


def in_order(written: Sequence[TakeOnset], between: Sequence[TakeOnset]) -> list[TakeOnset]:
    """Written onsets and others, beats and seconds rising; of two that cross, the written one counts."""
    found: list[TakeOnset] = []
    for one in sorted([*written, *between], key=lambda onset: onset.beat):
        if found and one.seconds <= found[-1].seconds + 1e-3:
            if found[-1].notes[0].expected is not None:
                continue
            found.pop()
            if found and one.seconds <= found[-1].seconds + 1e-3:
                continue
        found.append(one)
    return found


def _is_near(moments: Sequence[float], at: float, within: float) -> bool:
    n = bisect_left(moments, at)
    return any(abs(other - at) <= within for other in moments[max(0, n - 1) : n + 1])


def _is_told(sweep: Sweep, beats: BeatMap, usual: float, onset: TakeOnset) -> bool:
    """Whether an onset is near enough to its place to be meant for it, where the beat goes on."""
    sounds = math.floor(onset.beat) + (usual if _off_beat(onset.beat) else 0.0)
    near = abs(beats.seconds(sounds) - onset.seconds) <= AT_ITS_PLACE
    return near and not any(onset.beat - 1 < held <= onset.beat + 1 for held, _ in sweep.held)


def _placed(form: Form, moments: Sequence[tuple[float, JudgedNote]], beats: BeatMap, swung: float) -> list[TakeOnset]:
    found: list[TakeOnset] = []
    compound = form.metre.compound
    for seconds, note in moments:
        at = beats.beat(seconds)
        quarter = math.floor(at + ON_A_BEAT)
        places = [quarter, quarter + 1] if compound else [quarter, quarter + swung, quarter + 1]
        place = min(places, key=lambda one: abs(at - one))
        off_beat = place not in (quarter, quarter + 1)
        written = quarter + 0.5 if off_beat else float(place)
        if abs(at - place) <= ON_A_BEAT and (not found or written > found[-1].beat):
            shows = off_beat and swings(form)
            found.append(TakeOnset(written, seconds, at - math.floor(written), shows, (note,), shows))
    return found


def _place(moments: BeatMap, quarter: int, seconds: float) -> float:
    here, there = moments.seconds(quarter), moments.seconds(quarter + 1)
    return (seconds - here) / max(there - here, 1e-3)


def usual_place(form: Form, onsets: Sequence[TakeOnset]) -> float:
    """Where this player's off-beat quavers fall: at a half where they are even."""
    shown = [onset.place for onset in onsets if onset.shows]
    if not swings(form):
        return 0.5
    if len(shown) < SHOWN:
        return MEDIUM_SWING / (MEDIUM_SWING + 1)
    return min(max(statistics.median(shown), 0.5), SWUNG_MOST / (SWUNG_MOST + 1))


def sounding_beats(onsets: Sequence[TakeOnset], usual: float, quarter: float = 0.5) -> list[BeatOnset]:
    """The onsets as the player's beat has them.

    Parameters
    ----------
    usual : float
        As of :func:`usual_place`.
    quarter : float
        Seconds, about.
    """
    return [
        BeatOnset(math.floor(onset.beat) + usual, onset.seconds, OFF_BEAT_LOOSE * quarter, True)
        if onset.swung
        else BeatOnset(onset.beat, onset.seconds)
        for onset in onsets
    ]
