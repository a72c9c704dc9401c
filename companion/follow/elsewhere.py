"""Elsewhere: the hypotheses that the player has gone to another place, or begins, or begins again.

Three ways of being elsewhere, each proposed by the note just heard: a *leap* keeps the pulse and lands on a place whose
distance is a whole number of beats; a *new start* after a silence takes up the note that was due, or the phrase, or
anything; an *entrance* without a count-in may be anywhere, at any tempo.

Conventions: as in :mod:`companion.follow.belief`. The shares are the prior probabilities of rehearsing players; that
they take up mostly at phrases and sections is common practice.
"""

from __future__ import annotations

import numpy as np

from companion.follow.belief import LOG_2PI, Crowd, Manner, joined
from companion.follow.places import Floats, Ints, Places

SOURCES = 4
"""From how many hypotheses leaps are considered: the likeliest."""
TARGETS = 24
"""To how many places at most."""
SECTION, PHRASE, EIGHTS, BAR, ANY = 60.0, 12.0, 40.0, 5.0, 1.0
"""How much likelier than anywhere a leap lands on a section, a phrase, 8 bars back or 4 or 8 on, or whole bars away."""
DUE, OPENING, ANYWHERE = 0.45, 0.35, 0.20
"""Where a new start takes up: the note that was due; the start of a phrase, the present one above all; any note."""
PRESENT = 0.7
"""Of the new starts at a phrase, the share of the one that was being played."""
AWAITED = 0.2
"""New starts a second."""
FROM_TOP, FROM_OPENING = 0.55, 0.30
"""Where a player comes in who wasn't counted in: from the top, from a section or phrase, or (the rest) anywhere."""
TEMPI = (52.0, 76.0, 110.0, 160.0, 230.0)
"""Tempi tried at an entrance, quarters a minute; each stands for a fifth about it."""


def leaps(crowd: Crowd, places: Places, manner: Manner, pitch: int, swing: float, beats: float) -> Crowd | None:
    """Leaps that would make the note just heard fit. ``crowd`` is moved to its moment; ``beats`` since the last note."""
    sources = crowd.pick(np.argsort(-crowd.weight)[:SOURCES])
    said = places.pitch[places.row, pitch]
    fits = np.flatnonzero(said > said.max() - 2.0)
    if not len(fits):
        return None
    aim = places.beat[fits] + places.swung[fits] * swing + places.late[fits] * sources.v[:, None]
    far = aim - sources.x[:, None] % places.period
    whole = np.round(far / places.pulse) * places.pulse
    off = far - whole
    total = (
        sources.xx[:, None] + places.scatter[fits] ** 2 + manner.jitter**2 + (manner.touch * sources.v[:, None]) ** 2
    )
    prior = _landing(places, fits, whole)
    chance = np.log(manner.leap * places.leap * np.clip(beats, 0.25, 2.0))
    fit = sources.weight[:, None] + chance + prior + said[fits] - 0.5 * (off * off / total + np.log(total) + LOG_2PI)
    fit += np.log(sources.v)[:, None]
    fit[np.abs(whole) < places.pulse / 2] = -np.inf
    best = np.argsort(-fit, axis=None)[:TARGETS]
    i, j = np.unravel_index(best, fit.shape)
    keep = fit[i, j] > -np.inf
    i, j = i[keep], j[keep]
    gx = sources.xx[i] / total[i, j]
    gv = sources.xv[i] / total[i, j]
    chorus = np.floor(sources.x[i] / places.period)
    return Crowd(
        sources.x[i] % places.period + whole[i, j] + gx * off[i, j] + chorus * places.period,
        sources.v[i] + gv * off[i, j],
        sources.xx[i] * (1 - gx),
        sources.xv[i] * (1 - gx),
        sources.vv[i] - gv * sources.xv[i],
        fits[j] + (chorus * places.count).astype(np.int64),
        sources.way[i],
        fit[i, j],
    )


def _landing(places: Places, fits: Ints, whole: Floats) -> Floats:
    """Log prior of leaping by ``whole`` quarters onto each place."""
    bars = np.round(whole / places.bar)
    even = np.abs(whole - bars * places.bar) < 0.01
    eights = even & np.isin(bars, (-8, 4, 8))
    first = np.zeros(places.count, bool)
    first[np.searchsorted(places.beat, places.sections - 1e-9) % places.count] = True
    share = ANY + BAR * even + EIGHTS * eights + SECTION * first[fits] + PHRASE * places.opening[fits]
    pulses = places.period / places.pulse
    norm = pulses * ANY + BAR * places.period / places.bar + 3 * EIGHTS + SECTION * len(places.sections)
    return np.log(share / (norm + PHRASE * places.opening.sum()))


def starts(kept: Crowd, places: Places, manner: Manner, pitch: int, swing: float) -> Crowd | None:
    """New starts after a silence. ``kept`` is the crowd as it was when the last note had been heard."""
    sources = kept.pick(np.argsort(-kept.weight)[:SOURCES])
    said = places.pitch[places.row, pitch]
    fits = np.flatnonzero(said > said.max() - 2.0)
    due = (sources.heard + 1) % places.count
    chances = []
    opened = places.opening
    for at in due:
        share = np.full(places.count, ANYWHERE / places.count)
        share[opened] += OPENING * (1 - PRESENT) / max(1, opened.sum())
        before = np.flatnonzero(opened[: at + 1])
        share[before[-1] if len(before) else np.flatnonzero(opened)[-1] if opened.any() else at] += OPENING * PRESENT
        share[at] += DUE
        chances.append(np.log(share[fits]))
    fit = sources.weight[:, None] + np.log(manner.halt * AWAITED) + np.array(chances) + said[fits]
    i, j = (n.ravel() for n in np.indices(fit.shape))
    order = np.argsort(-fit[i, j])[:TARGETS]
    i, j = i[order], j[order]
    chorus = np.floor(sources.x[i] / places.period)
    v = sources.v[i]
    scatter = (manner.touch * v) ** 2 + manner.jitter**2
    return Crowd(
        places.beat[fits[j]] + places.swung[fits[j]] * swing + places.late[fits[j]] * v + chorus * places.period,
        v,
        scatter,
        np.zeros(len(i)),
        sources.vv[i] + (0.03 * v) ** 2,
        fits[j] + (chorus * places.count).astype(np.int64),
        sources.way[i],
        fit[i, j],
    )


def entrance(places: Places, manner: Manner, pitch: int, tempo: float | None) -> Crowd:
    """Where a player may be who strikes this note first, not having been counted in; ``tempo`` in quarters a minute."""
    said = places.pitch[places.row, pitch]
    fits = np.flatnonzero(said > said.max() - 2.5)
    share = np.full(places.count, (1 - FROM_TOP - FROM_OPENING) / places.count)
    share[places.opening] += FROM_OPENING / max(1, places.opening.sum())
    share[_top(places)] += FROM_TOP
    tempi = np.array(TEMPI if tempo is None else (tempo,)) / 60
    wide = 0.22 if tempo is None else 0.08
    crowds = []
    for way, freedom in enumerate(manner.freedoms):
        k, n = (m.ravel() for m in np.meshgrid(fits, np.arange(len(tempi)), indexing="ij"))
        v = tempi[n]
        crowds.append(
            Crowd(
                places.beat[k] + places.late[k] * v,
                v,
                (manner.touch * v) ** 2 + manner.jitter**2,
                np.zeros(len(k)),
                (wide * v) ** 2,
                k.astype(np.int64),
                np.full(len(k), way),
                np.log(share[k]) + said[k] + np.log(freedom.share / len(tempi)),
            )
        )
    return joined(crowds)


def _top(places: Places) -> int:
    """The place with which the form begins: the first of a pickup, if there is one, else the first on or after 0."""
    late = np.flatnonzero(places.opening & (places.beat > places.period - places.bar))
    return int(late[-1]) if len(late) else 0
