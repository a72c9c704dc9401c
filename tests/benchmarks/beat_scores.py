"""How well the beats that the companion sounded are the player's: the figures that ``following.py`` prints.

Conventions: seconds on the performance's clock; chart beats in quarters from the first downbeat of the form, starting
again at 0 with each time through. *Truth* is every beat that the player felt, in order of time; *said* is every beat
that the companion sounded, in order of time. Within 70 ms a beat counts as together: two players who are further apart
are heard as two (ensemble players are 20 to 50 ms apart; Hofmann, Wesolowski & Goebl, J. New Music Research 2017, from
secondary reading), and the evaluation of beat tracking has used this tolerance since Davies, Degara & Plumbley 2009.
"""

from __future__ import annotations

import bisect
import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf

from companion.messages import Beat

WITHIN = 0.070
"""Seconds from the player's beat within which a sounded one is together with it."""
RUN = 4
"""Beats held in a row from which the companion counts as back."""
EVEN = 0.020
"""Seconds: a spread of second differences that counts as even however even the player is."""
TIGHT, REACH = 0.010, 0.080
"""Seconds from an announced beat: a bass note so near is on it; one so near, and within a fifth of a beat, is meant."""
TINY = 1e-9
BROKEN = ("jump", "resume")
"""Marks of the first true beat after the player left the form's order, or stopped."""


@dataclass(frozen=True)
class TrueBeat:
    """A beat of the metre as the player felt it."""

    chart_beat: float
    seconds: float
    mark: str = ""
    """'jump' or 'resume' on the first beat after one."""


def errors(
    truth: Sequence[TrueBeat], said: Sequence[Beat], equal: Sequence[Iterable[float]] | None = None
) -> list[float]:
    """For each true beat, by how many seconds the nearest announcement of the same chart beat was late.

    ``equal`` may give, for each true beat, further chart beats that are as good. Never announced: infinity.
    """
    moments = _moments((b.chart_beat, b.seconds) for b in said)
    found = []
    for n, beat in enumerate(truth):
        names = [beat.chart_beat, *(equal[n] if equal else ())]
        near = [_nearest(moments.get(_key(name), []), beat.seconds) for name in names]
        found.append(min((t - beat.seconds for t in near), key=abs))
    return found


def counted_errors(truth: Mapping[int, float], said: Sequence[Beat], first: int) -> list[float]:
    """The same where only the count tells the beats: the first beat said is the true one numbered ``first``, and so on.

    A beat lost or gained puts all that follow out. Never said: infinity.
    """
    wanted = [index for index in sorted(truth) if index >= first]
    return [said[i - first].seconds - truth[i] if i - first < len(said) else inf for i in wanted]


def held(late: Iterable[float]) -> list[bool]:
    """Which beats were sounded within 70 ms of the player's."""
    return [abs(x) <= WITHIN + TINY for x in late]


def share(flags: Sequence[bool]) -> float:
    """Share of the flags that are up; 0 where there is none."""
    return sum(flags) / len(flags) if flags else 0.0


def stray(truth: Sequence[TrueBeat], said: Sequence[Beat]) -> float:
    """Share of the announcements that lie more than half a beat from every true beat of their name.

    Names that the player never comes to are passed over, and so are the moments when nobody can know: up to four beats'
    time from the last true beat before a jump or stop.
    """
    moments = _moments((b.chart_beat, b.seconds) for b in truth)
    judged = [b for b in said if _key(b.chart_beat) in moments]
    beat = statistics.median(b.seconds - a.seconds for a, b in pairwise(truth))
    blind = [(a.seconds, a.seconds + 4 * beat) for a, b in pairwise(truth) if b.mark in BROKEN]
    astray = [
        abs(_nearest(moments[_key(b.chart_beat)], b.seconds) - b.seconds) > beat / 2
        and not any(low < b.seconds < high for low, high in blind)
        for b in judged
    ]
    return share(astray)


def recoveries(truth: Sequence[TrueBeat], together: Sequence[bool]) -> list[float]:
    """For each jump and resuming: true beats until four held in a row begin; infinity: not before the next one."""
    breaks = [n for n, beat in enumerate(truth) if beat.mark in BROKEN]
    found = []
    for this, after in pairwise([*breaks, len(truth)]):
        starts = (n - this for n in range(this, after - RUN + 1) if all(together[n : n + RUN]))
        found.append(next(starts, inf))
    return found


def unsteady(truth: Sequence[TrueBeat], late: Sequence[float]) -> float | None:
    """How unevenly the held beats were sounded: 1 is as evenly as the player, over 1.3 a bass is heard to jerk.

    The standard deviation of the second differences of the sounded moments over that of the true ones (over 20 ms,
    where theirs is less), over three held beats in a row without a jump or stop between. None for fewer than 8 such.
    """
    theirs, ours = [], []
    together = held(late)
    for n in range(len(truth) - 2):
        three = range(n, n + 3)
        if all(together[k] for k in three) and not any(truth[k].mark in BROKEN for k in (n + 1, n + 2)):
            a, b, c = (truth[k].seconds for k in three)
            x, y, z = (truth[k].seconds + late[k] for k in three)
            theirs.append(c - 2 * b + a)
            ours.append(z - 2 * y + x)
    if len(theirs) < 8:
        return None
    return statistics.pstdev(ours) / max(statistics.pstdev(theirs), EVEN)


def sounded(said: Sequence[Beat], strikes: Sequence[float]) -> float | None:
    """Of the announced beats that a part strikes (seconds, in order), the share struck within 10 ms.

    A walking bass strikes nearly all: it gets 0 for striking fewer than half. None where there is nothing to judge.
    """
    if len(said) < 2 or not strikes:
        return None
    meant = hit = 0
    for this, after in pairwise(said):
        off = abs(_nearest(strikes, this.seconds) - this.seconds)
        meant += off <= min(REACH, max(after.seconds - this.seconds, 0.05) / 5)
        hit += off <= TIGHT
    return hit / meant if meant >= len(said) / 2 else 0.0


def equal_places(
    melody: Sequence[tuple[float, int]], length: float, step: float, start: float, beats: Sequence[float]
) -> list[list[float]]:
    """For each beat, the other chart beats that the melody played since ``start`` doesn't tell from it.

    Parameters
    ----------
    melody : sequence of (beat, MIDI number)
        Of the form, which repeats for ever.
    length, step : float
        Of the form, and of a bar: only places whole bars away are taken for equal. Quarters.
    start : float
        Where the player began, in quarters, unwrapped.
    beats : sequence of float
        Unwrapped, from ``start`` on: a form's length more in each further time through.
    """
    end = max(beats, default=start)
    known = {}
    for n in range(1, round(length / step)):
        known[n * step] = _first_difference(melody, length, start, end, n * step)
    return [[(b + shift) % length for shift, until in known.items() if b <= until + 1e-6] for b in beats]


def _first_difference(
    melody: Sequence[tuple[float, int]], length: float, start: float, end: float, shift: float
) -> float:
    """The place from ``start`` on at which the melody and itself ``shift`` later first differ; infinity: nowhere."""
    here = _stretch(melody, length, start, end, 0.0)
    there = _stretch(melody, length, start, end, shift)
    return min((beat for beat, _ in here ^ there), default=inf)


def _stretch(
    melody: Sequence[tuple[float, int]], length: float, start: float, end: float, shift: float
) -> set[tuple[float, int]]:
    found = set()
    for beat, pitch in melody:
        at = (beat - shift - start) % length + start
        while at <= end:
            found.add((round(at, 4), pitch))
            at += length
    return found


@dataclass(frozen=True)
class Claim:
    """One announced beat: how sure the companion was of it, and whether it was the player's within 70 ms."""

    sure: float
    right: bool


def claims(truth: Sequence[TrueBeat], said: Sequence[Beat]) -> list[Claim]:
    """What was claimed of each beat announced from the first true beat to the last."""
    moments = _moments((b.chart_beat, b.seconds) for b in truth)
    low, high = truth[0].seconds - WITHIN - TINY, truth[-1].seconds + WITHIN + TINY
    return [
        Claim(b.sure, abs(_nearest(moments.get(_key(b.chart_beat), []), b.seconds) - b.seconds) <= WITHIN + TINY)
        for b in said
        if low <= b.seconds <= high
    ]


def counted_claims(truth: Mapping[int, float], said: Sequence[Beat], first: int) -> list[Claim]:
    """The same where only the count tells the beats; beats that nobody marked are passed over."""
    pairs = ((truth.get(first + n), beat) for n, beat in enumerate(said))
    return [Claim(b.sure, abs(b.seconds - t) <= WITHIN + TINY) for t, b in pairs if t is not None]


@dataclass(frozen=True)
class Bin:
    """The claims of about one probability: how many, how sure on average, and what share of them was right."""

    low: float
    high: float
    count: int
    sure: float
    right: float


def reliability(found: Sequence[Claim], bins: int = 10) -> list[Bin]:
    """The claims in bins of equal width by how sure they were; empty bins are left out.

    A companion is calibrated when ``sure`` and ``right`` agree in each (the reliability diagram of Murphy & Winkler,
    Applied Statistics 26, 1977).
    """
    table = []
    for n in range(bins):
        inside = [c for c in found if min(int(c.sure * bins), bins - 1) == n]
        if inside:
            mean = statistics.fmean(c.sure for c in inside)
            table.append(Bin(n / bins, (n + 1) / bins, len(inside), mean, share([c.right for c in inside])))
    return table


def miscalibration(table: Sequence[Bin]) -> float:
    """Mean distance between how sure the claims were and how many were right, weighed by their number.

    The expected calibration error (Naeini, Cooper & Hauskrecht, AAAI 2015). 0 is calibrated.
    """
    total = sum(b.count for b in table)
    return sum(b.count * abs(b.sure - b.right) for b in table) / total if total else 0.0


def _key(chart_beat: float) -> int:
    return round(chart_beat * 100)


def _moments(beats: Iterable[tuple[float, float]]) -> dict[int, list[float]]:
    """Moments by chart beat, each list in order."""
    found: dict[int, list[float]] = {}
    for chart_beat, seconds in beats:
        found.setdefault(_key(chart_beat), []).append(seconds)
    return found


def _nearest(times: Sequence[float], t: float) -> float:
    """The time nearest to t; infinity where there is none."""
    k = bisect.bisect_left(times, t)
    return min((times[j] for j in (k - 1, k) if 0 <= j < len(times)), key=lambda x: abs(x - t), default=inf)
