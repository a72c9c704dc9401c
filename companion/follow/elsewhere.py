"""Hypotheses of a player who isn't where the belief expects them: leaps, hesitations, new starts, entrances.

Each is proposed by the note just heard. A *leap* keeps the pulse and lands a whole number of beats away. A *hesitation*
is late by part of a beat or a whole one, and the pulse with it. A *new start* after a silence takes up the note that
was due, or a phrase, or any place. An *entrance* without a count-in may be at any place and tempo; after a count-in,
earlier or later than it said, or at another tempo.

Conventions: as in :mod:`companion.follow.belief`. The constants are prior probabilities for a player who rehearses;
that they take up mostly at phrases and sections is common practice.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from companion.arrays import Floats, Ints
from companion.follow.belief import (
    HEARD,
    HELD,
    JUST_HELD,
    LOG_2PI,
    ON_IT,
    READ,
    SHIFTED,
    VV,
    WAY,
    WEIGHT,
    XV,
    XX,
    Crowd,
    Filter,
    V,
    X,
    joined_crowds,
)
from companion.follow.habits import Habits
from companion.follow.places import PROMISED, Places

SOURCES = 4
"""Hypotheses from which leaps and the like are proposed: the likeliest."""
TARGETS = 24
"""Places to which they are proposed, at most."""
SECTION, PHRASE, EIGHTS, BACK, BAR, ANY = 60.0, 12.0, 40.0, 10.0, 5.0, 1.0
"""How much likelier than anywhere a leap lands on a section, a phrase, 4 or 8 bars away, up to 8 bars back, or whole
bars away."""
AGAIN, AGAIN_ELSEWHERE = 600.0, 30.0
"""The same factor for a leap that the player has made before: from the same bar, and from another."""
DUE, OPENING, FROM_THE_TOP, ANYWHERE = 0.48, 0.32, 0.08, 0.12
"""Shares of where a new start takes up: the note that was due; the start of a phrase; the top; any place."""
TOOK_UP = 0.3
"""Share of the new starts at a place where the player has started anew before."""
PRESENT = 0.7
"""Of the new starts at a phrase, the share of the phrase that was being played."""
AWAITED = 0.2
"""Prior rate of new starts, a second."""
FROM_TOP, FROM_OPENING = 0.55, 0.30
"""Shares of where a player comes in who was not counted in: the top; a section or phrase; the rest is any place."""
TEMPI = (52.0, 76.0, 110.0, 160.0, 230.0)
"""Tempi tried at an entrance, in quarters a minute."""
ENTRIES = 96
"""Places tried at an entrance, at most."""
WORSE = 4.0
"""Log likelihood, below that of the best place, down to which a place is tried: the player may begin in another
octave."""
WIDE, NARROW = 0.22, 0.08
"""Relative standard deviation of the tempo at an entrance: about one of :data:`TEMPI`, and about one given
beforehand."""
ENTRANCES = ((0.5, 0, 0.02), (1.0, 0, 0.03), (-1.0, 0, 0.03), (2.0, 0, 0.01), (0.0, 1, 0.03), (-0.5, 0, 0.005))
"""Offsets of the first note after a count-in, in beats and bars, each with its probability."""
OTHER_TEMPI = ((0.5, 0.015), (0.67, 0.02), (0.82, 0.04), (1.2, 0.04), (1.5, 0.015), (2.0, 0.01))
"""Ratios of the tempo played to that of the count-in, each with its probability."""
NEAR = (0.7, 1.4)
"""Bounds of that ratio for a player of other parts than the melody."""
READS = 0.75
"""Ratio below which the player is taken to be sight-reading, which makes hesitations likelier."""
ABOUT = 0.08
"""Relative standard deviation of the tempo about each of these ratios."""
UNTOLD = {"solo": 0.02, "chords": 0.2}
"""Factor on other tempi where the part has no promised strokes, whose lateness would show them."""
ANY_TIME, ANY_TEMPO = 0.03, 0.012
"""Prior rates, a second, of an entrance that ignores the count-in: at its tempo, and at any tempo."""
RECALLED = 0.03
"""Relative standard deviation of the tempo at a new start, about the one before it."""
ASTRAY = 0.1
"""Probability that the pulse is not kept from what was taken for a solo into the melody."""
FURTHEST = 24
"""Places that may go by in a hesitation, at most."""
HELD_BACK, LEAST_BACK = 3.0, 0.15
"""Beats by which a hesitation is late: at most, and at least."""
AND_AGAIN = 0.3
"""Probability that the note after a hesitation is held back, too."""
NEVER = -1e9
"""Log probability of what can't be."""


def leaps(
    sieve: Filter, likely: Crowd, pitch: int, habits: Habits, beats: float, onto: int = 0, readily: float = 1.0
) -> Crowd:
    """Leaps that would make the note just heard fit.

    ``likely`` are the likeliest few, moved to its moment; ``beats`` have gone by since the last note; ``onto`` is the
    reading in which the leap lands; they leap so many times as ``readily`` as others. A leap keeps the pulse; into
    another reading than before it need not: whoever takes up the melody again may have been taken for a soloist in the
    wrong place.
    """
    reading, manner = sieve.readings.each[onto], sieve.manner
    places = reading.places
    fits, said = sieve.fits(pitch, habits, onto)
    rows = likely.rows
    x, v, xx, weight = (rows[n][:, None] for n in (X, V, XX, WEIGHT))
    chorus = np.floor(x / places.period)
    far = places.beat[fits] + places.swung[fits] * habits.swing + places.late[fits] * v - (x - chorus * places.period)
    whole = np.rint(far / places.pulse) * places.pulse
    off = far - whole
    total = xx + places.scatter[fits] ** 2 + manner.jitter**2 + (manner.touch * v) ** 2
    chance = np.log(manner.leap * places.leap * min(max(beats, 0.25), 2.0) * readily)
    chance = chance - np.log(np.maximum(habits.displaces(rows[SHIFTED][:, None]), 1.0))
    near = -0.5 * (off * off / total + np.log(total) + LOG_2PI)
    strays = (sieve.readings.kin[likely.read] != sieve.readings.kin[onto])[:, None]
    astray = strays & (near < np.log(ASTRAY / places.pulse))
    fit = _landing(places, fits, whole, x % places.period, habits) + said
    fit += weight + np.log(v) + chance
    fit += np.where(astray, np.log(ASTRAY / places.pulse), near)
    fit[(np.abs(whole) < places.pulse / 2) & ~strays] = NEVER
    fit = fit.ravel()
    best = np.argpartition(-fit, TARGETS)[:TARGETS] if len(fit) > TARGETS else np.arange(len(fit))
    best = best[fit[best] > weight.max() - manner.faint - 4]
    i, j = best // len(fits), best % len(fits)
    anew = astray[i, j]
    gx, gv, off = np.where(anew, 1.0, rows[XX][i] / total[i, j]), rows[XV][i] / total[i, j], off[i, j]
    gv[anew] = 0.0
    return Crowd.of(
        rows[X][i] + whole[i, j] + gx * off,
        rows[V][i] + gv * off,
        np.where(anew, (manner.touch * rows[V][i]) ** 2 + manner.jitter**2, rows[XX][i] * (1 - gx)),
        rows[XV][i] * (1 - gx),
        rows[VV][i] - gv * rows[XV][i] + np.where(anew, (RECALLED * rows[V][i]) ** 2, 0.0),
        fits[j] + chorus[i, 0] * places.count,
        rows[WAY][i],
        onto,
        fit[best],
        held=rows[HELD][i],
        shifted=rows[SHIFTED][i],
    )


def _landing(places: Places, fits: Ints, whole: Floats, left: Floats, habits: Habits) -> Floats:
    """Log prior of leaping by ``whole`` quarters from the beats ``left`` onto each place."""
    bars = whole / places.bar
    near = np.rint(bars)
    back = (near < 0) & (near >= -8)
    eights = (near == -8) | (near == -4) | (near == 4) | (near == 8)
    share = (np.abs(bars - near) < 0.01) * (BAR + BACK * back + EIGHTS * eights)
    share += _welcome(places)[fits]
    for beat, by in habits.returns:
        half = places.period / 2
        same = np.abs((whole - by + half) % places.period - half) < 0.1
        here = np.abs((left - beat + half) % places.period - half) < places.bar
        share += same * np.where(here, AGAIN, AGAIN_ELSEWHERE)
    return np.asarray(np.log(share / _everywhere(places)))


@lru_cache(maxsize=8)
def _welcome(places: Places) -> Floats:
    """How likely a leap lands on each place, wherever it comes from."""
    return np.asarray(ANY + SECTION * places.first + PHRASE * places.opening)


@lru_cache(maxsize=8)
def _everywhere(places: Places) -> float:
    sections, openings = int(places.first.sum()), int(places.opening.sum())
    anywhere = places.period / places.pulse * ANY + BAR * places.period / places.bar
    return anywhere + 4 * EIGHTS + 8 * BACK + SECTION * sections + PHRASE * openings


def starts(sieve: Filter, kept: Crowd, pitch: int, habits: Habits) -> Crowd:
    """New starts after a silence. ``kept`` is the crowd as it was when the last note had been heard."""
    places, manner = sieve.places, sieve.manner
    fits, said = sieve.fits(pitch, habits)
    rows = kept.likeliest(SOURCES).rows
    home = sieve.readings.kin[rows[READ].astype(np.int64)] == 0
    due = np.where(home, rows[HEARD] + 1, places.next_after(rows[X] - ON_IT)).astype(np.int64)
    chances = np.array([_taken_up(places, int(at))[fits] for at in due % places.count])
    for beat, by in habits.returns:
        before = np.abs(places.beat[fits] - (beat + by) % places.period) < places.bar
        chances = np.logaddexp(chances, np.where(before, np.log(TOOK_UP / len(habits.returns) / places.bar), NEVER))
    fit = (rows[WEIGHT][:, None] + np.log(manner.halt * places.resume * AWAITED) + chances + said).ravel()
    best = np.argsort(-fit)[:TARGETS]
    i, j = best // len(fits), best % len(fits)
    chorus, v = np.floor(rows[X][i] / places.period), rows[V][i]
    return Crowd.of(
        places.beat[fits[j]] + places.swung[fits[j]] * habits.swing + places.late[fits[j]] * v + chorus * places.period,
        v,
        (manner.touch * v) ** 2 + manner.jitter**2,
        0.0,
        rows[VV][i] + (RECALLED * v) ** 2,
        fits[j] + chorus * places.count,
        rows[WAY][i],
        0.0,
        fit[best],
        held=rows[HELD][i],
        shifted=rows[SHIFTED][i],
    )


@lru_cache(maxsize=256)
def _taken_up(places: Places, due: int) -> Floats:
    """Log probability of a new start at each place, the one at ``due`` having been next.

    Where no stroke is promised, the next one may as well be any of those of the two bars to come.
    """
    share = np.full(places.count, ANYWHERE / places.count)
    openings = np.flatnonzero(places.opening)
    share[openings] += OPENING * (1 - PRESENT) / max(1, len(openings))
    share[openings[np.searchsorted(openings, due, "right") - 1] if len(openings) else due] += OPENING * PRESENT
    share[places.top] += FROM_THE_TOP / places.top.sum()
    if places.strike[due] >= PROMISED:
        share[due] += DUE
    else:
        soon = np.flatnonzero((places.beat - places.beat[due]) % places.period < 2 * places.bar)
        share[soon] += DUE * places.strike[soon] / places.strike[soon].sum()
    return np.asarray(np.log(share))


def hesitations(sieve: Filter, likely: Crowd, pitch: int, habits: Habits, beats: float) -> Crowd:
    """That the player held a beat back, and the pulse with it: the note is a place that has gone by already.

    ``likely``: the likeliest few, moved to the moment of the note; ``beats`` since the last one.
    """
    readings, places, manner = sieve.readings, sieve.places, sieve.manner
    rows, read = likely.rows, likely.read
    x, v, weight = (rows[n][:, None] for n in (X, V, WEIGHT))
    last, of = likely.heard[:, None], read[:, None]
    longest = HELD_BACK * places.pulse
    first = readings.next_after(rows[X] - longest, read)
    width = min(max(1, int((readings.next_after(rows[X], read) - first).max())), FURTHEST)
    k = np.maximum(first[:, None], last + 1) + np.arange(width)
    count = readings.count[of]
    chorus = k // count
    local = k - chorus * count
    at = local + readings.base[of]
    aim = readings.beat[at] + places.period * chorus + readings.swung[at] * habits.swing + readings.late[at] * v
    back = x - aim
    repetition = (last + 1) // count
    missed = readings.missed_before(local, chorus, of) - readings.missed_before(
        last + 1 - repetition * count, repetition, of
    )
    readily = habits.hesitates(rows[HELD][:, None])
    often = manner.hesitation * readily * min(max(beats, 0.25), 2.0)
    often += (AND_AGAIN - often) * rows[JUST_HELD][:, None]
    chance = np.log(often / longest)
    fit = weight + np.log(v) + chance + readings.strike[at] + missed + sieve.pitch_likelihood(pitch, habits)[at]
    i, j = np.nonzero((back > LEAST_BACK * places.pulse) & (back < longest) & (fit > weight.max() - manner.faint - 4))
    return Crowd.of(
        aim[i, j],
        rows[V][i],
        (manner.touch * rows[V][i]) ** 2 + manner.jitter**2,
        0.0,
        rows[VV][i] + (RECALLED * rows[V][i]) ** 2,
        k[i, j],
        rows[WAY][i],
        rows[READ][i],
        fit[i, j],
        held=rows[HELD][i] + 1,
        just_held=1.0,
        shifted=rows[SHIFTED][i],
    )


def other_tempi(sieve: Filter, counted: Crowd) -> Crowd:
    """That a player who was counted in comes in where they were told, at another tempo. ``counted`` as below."""
    tells = sieve.readings.each[0].part == "melody"  # whose rhythm tells one tempo from its double
    tempi = [(factor, chance) for factor, chance in OTHER_TEMPI if tells or NEAR[0] < factor < NEAR[1]]
    factors = np.array([factor for factor, _ in tempi])
    log = np.log([chance for _, chance in tempi])
    rows = np.repeat(counted.rows, len(factors), axis=1)
    rows[V] *= np.tile(factors, len(counted))
    rows[VV] = (ABOUT * rows[V]) ** 2
    rows[XV] = 0.0
    rows[WEIGHT] += np.tile(log, len(counted))
    rows[HELD] += np.tile(factors < READS, len(counted))
    return Crowd(rows)


def late_entrances(sieve: Filter, counted: Crowd) -> Crowd:
    """That a player who was counted in comes in later or earlier than they were to, by less or more than a beat.

    ``counted`` is the crowd as it would be if they came in as they were told, moved to the moment of their first note.
    """
    places, readings = sieve.places, sieve.readings
    shift = np.array([beats * places.pulse + bars * places.bar for beats, bars, _ in ENTRANCES])
    log = np.log([chance for _, _, chance in ENTRANCES])
    rows = np.repeat(counted.rows, len(shift), axis=1)
    rows[X] -= np.tile(shift, len(counted))
    rows[WEIGHT] += np.tile(log, len(counted))
    read = rows[READ].astype(np.int64)
    rows[WEIGHT] += np.log([UNTOLD.get(reading.part, 1.0) for reading in readings.each])[read]
    rows[HEARD] = readings.next_after(rows[X] - 0.5 * places.pulse, read) - 1
    return Crowd(rows)


def entrance(sieve: Filter, pitch: int, tempo: float | None, habits: Habits) -> Crowd:
    """Where a player may be who strikes this note first, not having been counted in; ``tempo`` in quarters a minute."""
    return joined_crowds([_entrance(sieve, n, pitch, tempo, habits) for n in sieve.readings.families])


def _entrance(sieve: Filter, number: int, pitch: int, tempo: float | None, habits: Habits) -> Crowd:
    """The same for one reading."""
    reading, manner = sieve.readings.each[number], sieve.manner
    places = reading.places
    fits, said = sieve.fits(pitch, habits, number, WORSE if reading.promises else 2.0)
    # Whoever begins with the pickup begins the first chorus.
    first = int(np.argmax(places.top))
    before = (fits >= first) & reading.promises & (places.beat[first] > places.period - places.bar)
    share = np.full(places.count, (1 - FROM_TOP - FROM_OPENING) / places.count)
    share[places.opening] += FROM_OPENING / max(1, places.opening.sum())
    share[places.top] += FROM_TOP / places.top.sum()
    chances = np.log(share[fits]) + said
    if len(fits) > ENTRIES:
        likeliest = np.argpartition(-chances, ENTRIES)[:ENTRIES]
        fits, chances, before = fits[likeliest], chances[likeliest], before[likeliest]
    tempi = np.array(TEMPI if tempo is None else (tempo,)) / 60
    wide = WIDE if tempo is None else NARROW
    ways = np.arange(len(manner.freedoms) if reading.free else manner.strict)
    n, k, way = (grid.ravel() for grid in np.meshgrid(tempi, np.arange(len(fits)), ways, indexing="ij"))
    shares = np.log([reading.share * freedom.share / len(tempi) for freedom in manner.freedoms])
    return Crowd.of(
        places.beat[fits[k]] + places.late[fits[k]] * n - places.period * before[k],
        n,
        (manner.touch * n) ** 2 + manner.jitter**2,
        0.0,
        (wide * n) ** 2,
        fits[k] - places.count * before[k],
        way,
        number,
        chances[k] + shares[way],
        held=habits.hesitations,
        shifted=habits.displaced,
    )
