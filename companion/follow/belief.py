"""The belief: a probability over every place in the chart and every tempo, as a sum of Gaussians.

Each hypothesis of the crowd is a Gaussian over (position, speed), the place that its last note was heard as, how free
its time is, and a weight. Between notes it moves on (a random walk of the tempo); a note splits it into one
hypothesis for each place that the note may have been, and one in which the note belonged to none; a place that was
passed over in silence costs its probability of being struck, once. Leaps and new starts are further hypotheses. Those
that have come to mean the same are merged by their moments, the unlikely ones are dropped. So wrong notes, skipped
bars and a jump back are one update, and what it costs grows with the doubt, not with the chart.

The method is the Gaussian-sum approximation of a switching state-space model: A. T. Cemgil and B. Kappen, "Monte Carlo
methods for tempo tracking and rhythm quantization", JAIR 18, 2003; merging after D. J. Salmond, "Mixture reduction
algorithms for target tracking", 1989; position and tempo as one state after N. Whiteley, A. T. Cemgil and S. Godsill,
"Bayesian modelling of temporal structure in musical audio", ISMIR 2006; the rehearsing player who stops and leaps after
E. Nakamura, T. Nakamura, Y. Saito, N. Ono and S. Sagayama, "Outer-product hidden Markov model and polyphonic MIDI score
following", JNMR 43, 2014 (works named from memory).

Conventions: position in quarters from the first downbeat (it goes on through the choruses; below 0 in a pickup), speed
in quarters a second, time in seconds, log weights natural. Covariances: ``xx`` beats², ``xv``, ``vv``.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from companion.follow.places import Floats, Ints, Places

LOG_2PI = float(np.log(2 * np.pi))


@dataclass(frozen=True)
class Freedom:
    """How free the time may be: one way of keeping time.

    Attributes
    ----------
    drift : float
        Random walk of the tempo: relative standard deviation a beat. Trios drift by 0.2 % a beat.
    sway : float
        Random walk of the position itself, beats, standard deviation a beat: what is stretched and not kept.
    share : float
        Prior probability of this way.
    """

    drift: float
    sway: float
    share: float


@dataclass(frozen=True)
class Manner:
    """What the filter takes for granted of a player; probabilities, beats and seconds as named."""

    freedoms: tuple[Freedom, ...] = (
        Freedom(0.0025, 0.0, 0.60),
        Freedom(0.010, 0.0, 0.25),
        Freedom(0.035, 0.05, 0.15),
    )
    loosening: float = 0.002
    """Probability a beat that the player changes their way of keeping time."""
    touch: float = 0.017
    """Standard deviation of a stroke about its beat in seconds."""
    jitter: float = 0.025
    """The same in beats: what a beat wobbles without adding up (2.5 % in trios)."""
    leap: float = 0.006
    """Probability a beat that the player goes on from another place without losing the pulse."""
    halt: float = 0.02
    """Probability that a silence of more than ``pause`` was a stop, before what was missed in it counts."""
    pause: float = 1.0
    """Seconds of silence after which a note may be a new start."""
    grace: float = 0.10
    """Beats by which a note may be late before its absence counts."""
    slowest: float = 0.45
    """Quarters a second (27 a minute): slower is taken for stopped."""
    fastest: float = 6.0
    """Quarters a second (360 a minute)."""
    crowd: int = 160
    """Hypotheses kept at most."""
    faint: float = 11.0
    """Natural log of how much less likely than the best a hypothesis may be."""
    reach: float = 3.2
    """Standard deviations within which a place may be what was heard."""
    together: float = 0.035
    """Seconds within which two strokes are one chord."""


@dataclass(frozen=True)
class Crowd:
    """The hypotheses, one an entry of each array."""

    x: Floats
    v: Floats
    xx: Floats
    xv: Floats
    vv: Floats
    heard: Ints
    """Place as which the last note was heard; places after it are still to come or were missed."""
    way: Ints
    """Which freedom."""
    weight: Floats
    """Log weight."""

    def pick(self, which: np.ndarray) -> Crowd:  # type: ignore[type-arg]
        """Those hypotheses, by index or mask."""
        return Crowd(*(getattr(self, f.name)[which] for f in fields(self)))

    def __len__(self) -> int:
        return len(self.x)


def joined(crowds: list[Crowd]) -> Crowd:
    """All hypotheses of several crowds."""
    return Crowd(*(np.concatenate([getattr(c, f.name) for c in crowds]) for f in fields(Crowd)))


def moved(crowd: Crowd, dt: float, manner: Manner) -> Crowd:
    """The crowd ``dt`` seconds later, nothing having been heard."""
    if dt <= 0:
        return crowd
    drift = np.array([f.drift for f in manner.freedoms])[crowd.way]
    sway = np.array([f.sway for f in manner.freedoms])[crowd.way]
    beats = crowd.v * dt
    walk = (drift * crowd.v) ** 2 * beats
    return replace(
        crowd,
        x=crowd.x + beats,
        xx=crowd.xx + 2 * dt * crowd.xv + dt * dt * (crowd.vv + walk / 3) + sway**2 * beats,
        xv=crowd.xv + dt * (crowd.vv + walk / 2),
        vv=crowd.vv + walk,
    )


def heard(crowd: Crowd, places: Places, manner: Manner, pitch: int, swing: float, gap: float) -> Crowd:
    """The crowd after a note: every hypothesis split by what the note may have been. Not yet merged.

    Parameters
    ----------
    crowd : Crowd
        Moved to the moment of the note.
    pitch : int
        MIDI number.
    swing : float
        By how many beats an off-beat quaver is late.
    gap : float
        Seconds since the last note.
    """
    reach = manner.reach * (np.sqrt(crowd.xx) + manner.jitter + manner.touch * crowd.v)
    first = np.maximum(crowd.heard + 1, places.next_after(crowd.x - swing - reach - 0.03 * crowd.v))
    high = crowd.x + reach
    width = int(np.clip((places.next_after(high) - first).max(initial=0), 1, 8))
    k = first[:, None] + np.arange(width)
    if gap <= manner.together:
        k = np.concatenate([crowd.heard[:, None], k], axis=1)
    at = k % places.count
    aim = places.beat[at] + places.period * (k // places.count) + places.swung[at] * swing
    aim += places.late[at] * crowd.v[:, None]
    scatter = places.scatter[at] ** 2 + (manner.touch * crowd.v[:, None]) ** 2 + manner.jitter**2
    off = aim - crowd.x[:, None]
    total = crowd.xx[:, None] + scatter
    said = places.pitch[places.row[at], pitch]
    chance = np.log(places.strike[at]) + places.passing(np.broadcast_to(crowd.heard[:, None] + 1, k.shape), k)
    fit = crowd.weight[:, None] + chance + said - 0.5 * (off * off / total + np.log(total) + LOG_2PI)
    fit += np.log(crowd.v)[:, None]
    gain_x, gain_v = crowd.xx[:, None] / total, crowd.xv[:, None] / total
    if gap <= manner.together:
        # One more note of the same stroke: no news of the time, only of the pitch.
        fit[:, 0] = crowd.weight + np.log(places.again[at[:, 0]] / manner.together) + said[:, 0]
        gain_x[:, 0] = gain_v[:, 0] = 0
    bar = max(float(fit.max(initial=-np.inf)), float(crowd.weight.max())) - manner.faint - 6
    i, j = np.nonzero(fit > bar)
    shift = off[i, j]
    gx, gv = gain_x[i, j], gain_v[i, j]
    matched = Crowd(
        crowd.x[i] + gx * shift,
        crowd.v[i] + gv * shift,
        crowd.xx[i] * (1 - gx),
        crowd.xv[i] * (1 - gx),
        crowd.vv[i] - gv * crowd.xv[i],
        k[i, j],
        crowd.way[i],
        fit[i, j],
    )
    cell = np.floor(crowd.x % places.period / places.cell).astype(np.int64) % len(places.other)
    stray = crowd.weight + np.log(places.others * crowd.v) + places.other[cell, pitch]
    return joined([matched, replace(crowd, weight=stray)])


def merged(crowd: Crowd, places: Places, manner: Manner) -> Crowd:
    """Hypotheses that have come to mean the same made one by their moments; the faint dropped; weights sum to 1."""
    keep = (crowd.weight > crowd.weight.max() - manner.faint) & (crowd.v > manner.slowest) & (crowd.v < manner.fastest)
    if not keep.any():
        keep = crowd.weight >= crowd.weight.max()
    crowd = crowd.pick(keep)
    chorus = np.floor((crowd.x + places.period * 0.02) / places.period)
    place = np.round((crowd.x - chorus * places.period) * 10).astype(np.int64)
    speed = np.round(np.log(crowd.v) * 33).astype(np.int64) + 64
    key = ((place * 256 + speed) * 8 + crowd.way) * 4096 + crowd.heard % places.count
    _, first, group = np.unique(key, return_index=True, return_inverse=True)
    if len(first) < len(crowd):
        crowd = _melted(crowd, places, group, len(first))
    if len(crowd) > manner.crowd:
        crowd = crowd.pick(np.argpartition(-crowd.weight, manner.crowd)[: manner.crowd])
    top = crowd.weight.max()
    return replace(crowd, weight=crowd.weight - top - np.log(np.exp(crowd.weight - top).sum()))


def _melted(crowd: Crowd, places: Places, group: Ints, count: int) -> Crowd:
    weight = np.exp(crowd.weight - crowd.weight.max())
    mass = np.bincount(group, weight, count)
    order = np.argsort(weight)
    chief = np.zeros(count, np.int64)
    chief[group[order]] = order

    def mean(values: Floats) -> Floats:
        return np.bincount(group, weight * values, count) / mass

    # The same place in another chorus is the same place: count from the chief's chorus.
    base = crowd.x[chief]
    half = places.period / 2
    dx = (crowd.x - base[group] + half) % places.period - half
    v, shift = mean(crowd.v), mean(dx)
    dx = dx - shift[group]
    dv = crowd.v - v[group]
    return Crowd(
        base + shift,
        v,
        mean(crowd.xx + dx * dx),
        mean(crowd.xv + dx * dv),
        mean(crowd.vv + dv * dv),
        crowd.heard[chief],
        crowd.way[chief],
        np.log(mass) + crowd.weight.max(),
    )


def standing(crowd: Crowd, places: Places, manner: Manner) -> Floats:
    """Log weights as of now: each hypothesis also pays for the promised notes that are overdue in it."""
    slack = np.maximum(manner.grace, 1.5 * np.sqrt(crowd.xx) + 2 * manner.touch * crowd.v)
    due = places.next_after(crowd.x - slack)
    return crowd.weight + places.passing(crowd.heard + 1, due)
