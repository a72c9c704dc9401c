"""Every onset of a take on its beat of the chart, and the beats of stretches that the chart doesn't have note for note.

What the matching has laid on the chart is put in order through the choruses. Where it laid little, the player played
something else (they improvise, or play a free part): there the beats stand as the follower took them while it
listened.

Conventions: beats in quarters from the first downbeat of the first chorus, going on through the choruses; seconds on
the take's clock.
"""

from __future__ import annotations

import math
import statistics
from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from companion.chart.model import Form
from companion.practice.expected import Expected
from companion.practice.judging import BELOW, TOGETHER, Struck
from companion.practice.matching import ChartOnsets, Laid, StruckOnset

PHRASE_REST = 2.0
"""Quarters without an onset before which a phrase begins (common practice)."""
AWAY_ONSETS, AWAY_SHARE = 12, 0.5
"""Of so many onsets in a row, the share that must be as written for them to be the written part."""
AWAY_LEAST = 6
"""Onsets in a row that must be something else for the player to have left the written part."""
IN_TIME, IN_TIME_SHARE = 0.35, 0.12
"""Quarters, and share of the beats between, by which the player may be off after a silence and have gone on in time."""
CLEAR, EARLY, LATE = 0.1, 0.5, 4.0
"""Seconds from a note that is known within which no followed beat is taken; before the first and after the last key of
a stretch within which they are."""


@dataclass(frozen=True)
class TakePlace:
    """A moment of the take whose beat is known."""

    beat: float
    """Where it is likeliest to sound."""
    written: float
    seconds: float
    leapt: bool
    """Whether it need not go on from the one before."""
    free: bool = False
    """Whether it is a beat as it was followed, where nothing is written note for note."""


# What is laid on what


def chart_onsets(form: Form, expected: Sequence[Expected]) -> ChartOnsets:
    """The onsets of a form as the matching takes them: once through, a pickup at the end."""
    length = float(form.length)
    groups: dict[float, list[Expected]] = {}
    for note in expected:
        groups.setdefault(_within(note, length), []).append(note)
    laid = sorted(groups)
    beats = np.array(laid)
    wide = [groups[beat][0].latest - groups[beat][0].earliest for beat in laid]
    rests = np.diff(beats, prepend=beats[-1] - length)
    bars = np.array([float(bar) for bar in form.bars])
    on_bar = (np.abs(beats[:, None] - bars[None, :]) < 0.01).any(axis=1)
    firsts = {
        min((beat for beat in laid if beat >= float(place.start) - 0.01), default=-1.0) for place in form.sections
    }
    top = np.isclose(beats, beats[0])
    if expected[0].beat < 0:
        top |= np.isclose(beats, _within(expected[0], length))
    opens = (rests >= PHRASE_REST) | on_bar | np.isin(beats, list(firsts)) | top
    pitches = tuple(frozenset(note.pitch for note in groups[beat]) for beat in laid)
    return ChartOnsets(beats, np.array(wide) / 3, pitches, opens, top, length)


def _within(note: Expected, length: float) -> float:
    """Where a note is likeliest to sound, half way between even and swung, within the form."""
    return round((note.earliest + note.latest) / 2 % length, 6)


def take_onsets(
    form: Form, parts: Collection[str], expected: Sequence[Expected], struck: Sequence[Struck]
) -> list[StruckOnset]:
    """Keys that went down together, and whether they may be a part's that isn't expected note for note.

    A key by itself, as high as the melody, is no chord: one who plays both has gone back, or left something out.
    """
    bass, chords = (part in parts and not form.written_part(part) for part in ("bass", "chords"))
    lowest = min(note.pitch for note in expected)
    groups: list[list[Struck]] = []
    for note in struck:
        if groups and note.seconds - groups[-1][0].seconds <= TOGETHER:
            groups[-1].append(note)
        else:
            groups.append([note])
    return [
        StruckOnset(
            statistics.median(note.seconds for note in group),
            frozenset(note.pitch for note in group),
            bass
            or all(note.pitch < lowest - BELOW for note in group)
            or (chords and (len(group) > 1 or group[0].pitch < lowest)),
        )
        for group in groups
    ]


def as_written(onsets: Sequence[StruckOnset], path: Sequence[Laid]) -> list[Laid]:
    """The path without the stretches in which little is as written: what was laid there was laid by chance."""
    cost = {laid.onset: laid.unlike for laid in path}
    heard = [n for n, onset in enumerate(onsets) if not onset.company or n in cost]
    good = [1.0 if cost.get(n, 9.0) < 1.0 else 0.0 for n in heard]
    weak = [
        statistics.fmean(good[max(0, k - AWAY_ONSETS // 2) : k + AWAY_ONSETS // 2 + 1]) < AWAY_SHARE
        for k in range(len(heard))
    ]
    gone = {heard[k] for k, is_weak in enumerate(weak) if is_weak and _run(weak, k) >= AWAY_LEAST}
    kept = [laid for laid in path if laid.onset not in gone]
    before = {laid.onset: path[k - 1].onset if k else None for k, laid in enumerate(path)}
    return [laid if before[laid.onset] not in gone else replace(laid, leapt=True) for laid in kept]


def _run(flags: Sequence[bool], k: int) -> int:
    """How many flags like this one stand in a row around it."""
    low = high = k
    while low and flags[low - 1] == flags[k]:
        low -= 1
    while high + 1 < len(flags) and flags[high + 1] == flags[k]:
        high += 1
    return high - low + 1


# In order through the choruses


def laid_places(
    form: Form, expected: Sequence[Expected], path: Sequence[Laid], onsets: Sequence[StruckOnset]
) -> list[TakePlace]:
    """The path, each place within the form; a pickup that leads into it below 0."""
    length = float(form.length)
    by_beat = {_within(note, length): note.beat % length for note in reversed(expected)}
    beats = sorted(by_beat)
    pickup = length - float(form.pickup)
    found: list[TakePlace] = []
    leading = False
    for n, laid in enumerate(path):
        beat = beats[laid.place]
        if laid.leapt:
            leading = _leads_in([beats[one.place] for one in _until_leap(path, n)], pickup)
        elif beat < pickup - 1e-6:
            leading = False
        shift = -length if leading else 0.0
        found.append(TakePlace(beat + shift, by_beat[beat] + shift, onsets[laid.onset].seconds, laid.leapt))
    return found


def _until_leap(path: Sequence[Laid], n: int) -> Sequence[Laid]:
    end = next((m for m in range(n + 1, len(path)) if path[m].leapt), len(path))
    return path[n:end]


def _leads_in(beats: Sequence[float], pickup: float) -> bool:
    """Whether the player came in with the pickup, and from there into the form."""
    wraps = next((n for n, (a, b) in enumerate(pairwise(beats)) if b < a), None)
    return wraps is not None and min(beats[: wraps + 1]) >= pickup - 0.3


def stretches_away(known: Sequence[float], struck: Sequence[float]) -> dict[int, tuple[float, float]]:
    """Where the player went on with something else.

    Parameters
    ----------
    known : sequence of float
        Seconds of the places that are known.
    struck : sequence of float
        Seconds of what was struck, company left out.

    Returns
    -------
    dict
        By index of the known place that comes next: from when to when, in seconds.
    """
    found = {}
    for n, (a, b) in enumerate(pairwise([float("-inf"), *known, float("inf")])):
        others = struck[bisect_left(struck, a + 1e-6) : bisect_left(struck, b - 1e-6)]
        if len(others) >= AWAY_LEAST:
            found[n] = max(a + CLEAR, others[0] - EARLY), min(b - CLEAR, others[-1] + LATE)
    return found


def with_followed(
    form: Form,
    known: Sequence[TakePlace],
    followed: Sequence[tuple[float, float]],
    away: Mapping[int, tuple[float, float]],
) -> list[TakePlace]:
    """The known places, and between them, where the player was away, the beats as they were followed.

    Parameters
    ----------
    followed : sequence of (beat, seconds)
        Chart beats of the metre, in order of time.
    away : mapping
        As of :func:`stretches_away`.
    """
    pulse, length = float(form.metre.pulse), float(form.length)
    moments = [seconds for _, seconds in followed]
    found: list[TakePlace] = []
    for n in range(len(known) + 1):
        low, high = away.get(n, (0.0, 0.0))
        before = None
        for beat, seconds in followed[bisect_left(moments, low) : bisect_left(moments, high)]:
            on = before is not None and abs((beat - before - pulse + 0.5) % length - 0.5) < 0.01
            found.append(TakePlace(beat % length, beat % length, seconds, not on, free=True))
            before = beat
        if n < len(known):
            resumed = bool(found) and found[-1].free
            found.append(replace(known[n], leapt=known[n].leapt or resumed))
    return found


def through_choruses(form: Form, found: Sequence[TakePlace]) -> list[TakePlace]:
    """The places with their beats going on from one chorus to the next."""
    length = float(form.length)
    placed: list[TakePlace] = []
    chorus = 0
    for n, place in enumerate(found):
        if placed:
            before, last = placed[-1], found[n - 1]
            if place.leapt:
                on = before.beat + (place.seconds - before.seconds) / quarter_at(placed, n - 1)
                nearest = round((on - place.beat) / length)
                ahead = place.beat + nearest * length - before.beat
                if nearest >= chorus and ahead > 0 and in_time(on - before.beat, ahead):
                    chorus = nearest
            elif place.beat <= last.beat and not (last.beat < 0 <= place.beat):
                chorus += 1
        on = chorus * length
        placed.append(replace(place, beat=place.beat + on, written=place.written + on))
    return placed


def in_time(passed: float, step: float) -> bool:
    """Whether the beats that have passed are those of the step."""
    return abs(passed - step) < max(IN_TIME, IN_TIME_SHARE * step)


def quarter_at(placed: Sequence[TakePlace], n: int) -> float:
    """Seconds a quarter around a place, by the steps before it; by those after it, too, where there are few."""
    rates: list[float] = []
    for m in range(n, 0, -1):
        if placed[m].leapt or placed[n].beat - placed[m].beat > 8:
            break
        rates += _rates(placed[m - 1], placed[m])
    if len(rates) < 4:
        for m in range(n + 2, min(n + 10, len(placed))):
            if placed[m].leapt:
                break
            rates += _rates(placed[m - 1], placed[m])
    return statistics.median(rates) if rates else 0.5


def _rates(a: TakePlace, b: TakePlace) -> list[float]:
    """The rate of a step, once for each half of a quarter."""
    step = b.beat - a.beat
    return [(b.seconds - a.seconds) / step] * max(1, math.ceil(2 * step)) if step > 0 else []
