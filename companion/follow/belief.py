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

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from companion.arrays import Floats, Ints
from companion.follow.even_time import EvenTime
from companion.follow.habits import FADES, OCTAVES, Habits
from companion.follow.readings import BESIDE, Readings
from companion.follow.rhythm import TRUST
from companion.follow.shape import TempoShape

LOG_2PI = float(np.log(2 * np.pi))
X, V, XX, XV, VV, HEARD, WAY, READ, WEIGHT, HELD, SHIFTED, JUST_HELD = range(12)
"""Rows of a crowd."""
LATEST = 0.03
"""Seconds behind its place that a stroke is still looked for."""
ON_IT = 0.25
"""Beats about a place within which a stroke may have been meant for it."""
PHRASED, HELD_BACK, RARELY = 0.5, 0.7, 0.05
"""Seconds by which phrases are displaced, and by which hardly any is: so long a delay holds the beat back. Of those
that would be displaced by more, the share that is."""
LULL = 1.0
"""Beats of a gap that tell against fills: they come in bursts, and longer gaps tell no more."""
OVERDUE = 0.6
"""Beats behind the player at which a melody note that wasn't heard has been left out."""
WIDEST = 8
"""Places that one note may be, at most, in one hypothesis."""


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
    late : float
        How far behind the beat, in terms of what the places say: 0 on it, 2 twice as late.
    counted : float
        How far the tempo may be from the one counted in: relative standard deviation.
    """

    drift: float
    sway: float
    share: float
    counted: float = 0.008
    late: float = 1.0
    shaped: bool = False
    """Whether the tempo goes as it went in earlier takes (:mod:`companion.follow.shape`)."""


AS_BEFORE = Freedom(drift=0.08, sway=0.03, share=1.0, counted=0.08, shaped=True)
"""The way of a player who shapes the tune as in earlier takes; how far they stray from that is the shape's."""


@dataclass(frozen=True)
class Manner:
    """What the filter takes for granted of a player; probabilities, beats and seconds as named."""

    freedoms: tuple[Freedom, ...] = (
        Freedom(0.002, 0.0, 0.50),
        Freedom(0.008, 0.0, 0.20, 0.02),
        Freedom(0.06, 0.07, 0.30, 0.08),
    )
    loosening: float = 0.001
    """Probability a beat that the player changes their way of keeping time."""
    touch: float = 0.020
    """Standard deviation of a stroke about its beat in seconds."""
    jitter: float = 0.030
    """The same in beats: what a beat wobbles without adding up (2.5 % in trios, and some for the rest)."""
    leap: float = 0.006
    """Probability a beat that the player goes on from another place without losing the pulse."""
    hesitation: float = 0.004
    """Probability a beat that the player hesitates, and the pulse with them."""
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
    shape: TempoShape | None = None
    """How the player shaped the tune in earlier takes, where one of the freedoms goes by that."""

    def shaped_by(self, shape: TempoShape, chance: float = 0.5) -> Manner:
        """The same, and that with this probability they shape the tune as before: one more way, before the free one."""
        *strict, free = self.freedoms
        share = chance / (1 - chance) * sum(way.share for way in self.freedoms)
        return replace(self, freedoms=(*strict, replace(AS_BEFORE, share=share), free), shape=shape)

    @property
    def first_free(self) -> int:
        """The first of the freedoms that takes the time freely: the last one, or that of a shape before it."""
        return len(self.freedoms) - (1 if self.shape is None else 2)

    @property
    def strict(self) -> int:
        """How many of the freedoms, the first ones, may be a player's who keeps the time."""
        return max(1, self.first_free)


@dataclass(frozen=True)
class Crowd:
    """The hypotheses, one a column.

    The rows: position, speed, their covariances, the place as which the last note was heard (places after it are still
    to come, or were missed), the way of keeping time (which freedom), the reading to which the place belongs, the log
    weight, how often the player has held a beat back and displaced a phrase so far, if the hypothesis is right, and
    whether their last note was held back. One array, because that is what makes picking and joining cheap.
    """

    rows: Floats
    """Shape (12, hypotheses)."""

    @classmethod
    def of(cls, *rows: ArrayLike, held: ArrayLike = 0.0, shifted: ArrayLike = 0.0, just_held: ArrayLike = 0.0) -> Crowd:
        """A crowd from its rows up to the weight, in the order of the constants, each an array or one value for all;
        the first is an array."""
        found = np.empty((JUST_HELD + 1, np.size(rows[0])))
        for n, row in enumerate((*rows, held, shifted, just_held)):
            found[n] = row
        return cls(found)

    @property
    def weight(self) -> Floats:
        """Log weights."""
        return np.asarray(self.rows[WEIGHT])

    @property
    def heard(self) -> Ints:
        """Places as whole numbers."""
        return np.asarray(self.rows[HEARD], np.int64)

    @property
    def way(self) -> Ints:
        """Ways as whole numbers."""
        return np.asarray(self.rows[WAY], np.int64)

    @property
    def read(self) -> Ints:
        """Readings as whole numbers."""
        return np.asarray(self.rows[READ], np.int64)

    def pick(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> Crowd:
        """Those hypotheses, by index or mask."""
        return Crowd(self.rows[:, which])

    def likeliest(self, count: int) -> Crowd:
        """The likeliest few, the best first."""
        return Crowd(self.rows[:, np.argsort(-self.rows[WEIGHT])[:count]])

    def with_row(self, row: int, values: Floats) -> Crowd:
        """The same with one row exchanged."""
        rows = self.rows.copy()
        rows[row] = values
        return Crowd(rows)

    def __len__(self) -> int:
        return int(self.rows.shape[1])


def joined_crowds(crowds: list[Crowd]) -> Crowd:
    """All hypotheses of several crowds."""
    return Crowd(np.concatenate([crowd.rows for crowd in crowds], axis=1))


class Filter:
    """How a crowd moves, hears and thins, for one player's readings and one manner of playing."""

    def __init__(self, readings: Readings, manner: Manner) -> None:
        self.readings, self.manner = readings, manner
        self.places = readings.home
        self._drift = np.array([way.drift for way in manner.freedoms]) ** 2
        self._sway = np.array([way.sway for way in manner.freedoms]) ** 2
        self._late = np.array([way.late for way in manner.freedoms])
        self._again = readings.again - np.log(manner.together)
        self._scatter = readings.scatter + manner.jitter**2
        self._best = readings.pitch.max(axis=1)[readings.row]
        self._principal = self.places.pitch.argmax(axis=1)[self.places.row]
        self._chances = np.exp(readings.pitch)
        self.even_time = EvenTime(manner.shape) if manner.shape else None
        self._shaped = next((n for n, way in enumerate(manner.freedoms) if way.shaped), -1)
        self._turns = np.arange(1, len(manner.freedoms))[:, None]
        self._lags = bool(readings.late.any())
        self._sayings: tuple[tuple[int, tuple[float, ...]], Floats] | None = None
        self._aims: tuple[float, Floats] = (0.0, readings.beat)
        self._changes = _changes(readings)
        more = np.maximum(readings.others - readings.others[0], 0.0)
        self._busy = more if more.any() else None
        """How many more notes of no place a beat are expected in each reading than in the first: they are missed."""

    def fits(self, pitch: int, habits: Habits, reading: int = 0, within: float = 2.0) -> tuple[Ints, Floats]:
        """The places of a reading that a pitch fits best, and how well: log probabilities, and how much worse than the
        best they may be."""
        base = self.readings.base[reading]
        said = self.pitch_likelihood(pitch, habits)[base : base + self.readings.count[reading]]
        fits = np.flatnonzero(said > said.max() - within)
        return fits, said[fits]

    def pitch_likelihood(self, pitch: int, habits: Habits) -> Floats:
        """Log probability of a pitch at each place of each reading, in the octaves in which the player plays."""
        told = pitch, habits.octaves
        if self._sayings is None or self._sayings[0] != told:
            sources = np.clip(pitch - np.array(OCTAVES), 0, 127)
            column = np.log(self._chances[:, sources] @ habits.shares)
            self._sayings = told, column[self.readings.row]
        return self._sayings[1]

    def likeliest_pitch(self, place: Ints) -> Ints:
        """The likeliest pitch at each place of the first reading."""
        return np.asarray(self._principal[place])

    def _aim(self, swing: float) -> Floats:
        """Where each place sounds with so much swing, in beats."""
        if self._aims[0] != swing:
            self._aims = swing, self.readings.beat + self.readings.swung * swing
        return self._aims[1]

    def moved(self, crowd: Crowd, dt: float) -> Crowd:
        """The crowd ``dt`` seconds later, nothing having been heard."""
        if dt <= 0:
            return crowd
        rows = crowd.rows.copy()
        way = crowd.way
        beats = rows[V] * dt
        walk = self._drift[way] * rows[V] ** 2 * beats
        rows[X] += beats
        if self._busy is not None:
            rows[WEIGHT] -= self._busy[crowd.read] * np.minimum(beats, LULL)
        rows[XX] += dt * (2 * rows[XV] + dt * (rows[VV] + walk / 3)) + self._sway[way] * beats
        rows[XV] += dt * (rows[VV] + walk / 2)
        rows[VV] += walk
        if self.even_time is not None:
            which = np.flatnonzero(way == self._shaped)
            rows[:, which] = self._moved_in_shape(crowd.rows[:, which], rows[:, which], self.even_time, dt)
        return Crowd(rows)

    def _moved_in_shape(self, before: Floats, rows: Floats, shape: EvenTime, dt: float) -> Floats:
        """Hypotheses that were moved at one speed, as the shape has them stretch and push on the way."""
        even = shape.even(before[X]) + before[V] * dt
        rows[X] = shape.chart(even)
        pace, after = shape.pace(before[X]), shape.pace(rows[X])
        beats = rows[X] - before[X]
        walk = self._drift[self._shaped] * before[V] ** 2 * beats
        change = after / pace
        rows[XV] = change * before[XV] + after * dt * (before[VV] + walk / 2)
        rows[XX] = change**2 * before[XX] + after * dt * (
            2 * change * before[XV] + after * dt * (before[VV] + walk / 3)
        )
        rows[XX] += (self._sway[self._shaped] + shape.straying((before[X] + rows[X]) / 2)) * beats
        return rows

    def speed(self, crowd: Crowd) -> Floats:
        """Quarters a second of each hypothesis at its place; the row of those who play in a shape is the usual one."""
        if self.even_time is None:
            return np.asarray(crowd.rows[V])
        local = crowd.rows[V] * self.even_time.pace(crowd.rows[X])
        return np.asarray(np.where(crowd.way == self._shaped, local, crowd.rows[V]))

    def rewayed(self, rows: Floats, before: Floats) -> None:
        """Have the speeds of hypotheses, as of these ways ``before``, be those of the ways that they have now."""
        if self.even_time is None:
            return
        pace = self.even_time.pace(rows[X])
        change = np.where(before == self._shaped, pace, 1.0) / np.where(rows[WAY] == self._shaped, pace, 1.0)
        rows[V] *= change
        rows[XV] *= change
        rows[VV] *= change**2

    def loosened(self, crowd: Crowd, likely: Crowd, seconds: float) -> Crowd:
        """The crowd, and some of the likely ones having taken up another way of keeping time."""
        ways = len(self.manner.freedoms)
        if ways < 2:
            return crowd
        rows = np.concatenate([crowd.rows, *[likely.rows] * (ways - 1)], axis=1)
        new = rows[:, len(crowd) :].reshape(len(rows), ways - 1, -1)
        new[WAY] += self._turns
        new[WAY] %= ways
        if self.even_time is not None:
            self.rewayed(rows[:, len(crowd) :], np.tile(likely.rows[WAY], ways - 1))
        new[WEIGHT] += np.log(self.manner.loosening * np.maximum(likely.rows[V] * seconds, 0.1))
        if not self.readings.free.all():
            taken = (new[WAY] >= self.manner.strict) & (self.readings.free[new[READ].astype(np.int64)] == 0)
            new[WEIGHT, taken] = np.log(BESIDE) + crowd.rows[WEIGHT].max() - self.manner.faint
        return Crowd(rows)

    def reread(self, crowd: Crowd, likely: Crowd, habits: Habits) -> Crowd:
        """The crowd, and the likely ones in the other readings that their player may have gone over to.

        ``crowd`` and ``likely`` have been moved to the moment of a note that is yet to be heard.
        """
        if len(self.readings) < 2:
            return crowd
        stays, goes = self._changes
        rows = crowd.rows.copy()
        rows[WEIGHT] += stays[crowd.read]
        i, to = np.nonzero(goes[likely.read] > np.log(BESIDE))
        new = likely.rows[:, i]
        before = likely.read[i]
        strict = (new[WAY] < self.manner.strict) | (self.readings.free[to] == 1)
        new[WEIGHT] += goes[before, to]
        by = np.abs(self.readings.displaced[to])
        far = np.clip(1 - (by / new[V] - PHRASED) / (HELD_BACK - PHRASED), RARELY, 1.0)
        new[WEIGHT] += np.where(by > 0, np.log(habits.displaces(new[SHIFTED]) * far), 0.0)
        new[SHIFTED] += (by > 0) & (self.readings.displaced[before] == 0)
        new[READ] = to
        # Displaced or not, the melody's notes come one after the other. Between other readings places can't be
        # compared: what lies well behind is gone.
        kin = self.readings.kin[before] == self.readings.kin[to]
        due = self.readings.next_after(new[X] - ON_IT, to) - 1
        new[HEARD] = np.where(kin, new[HEARD], due)
        return Crowd(np.concatenate([rows, new[:, strict]], axis=1))

    def heard(self, crowd: Crowd, pitch: int, habits: Habits, gap: float) -> tuple[Crowd, float]:
        """The crowd after a note: every hypothesis split by what the note may have been. Not yet merged.

        Parameters
        ----------
        crowd : Crowd
            Moved to the moment of the note.
        pitch : int
            MIDI number.
        habits : Habits
            Of the player.
        gap : float
            Seconds since the last note.

        Returns
        -------
        Crowd
        float
            The surprise: by how much (natural log) the note fits the best hypothesis worse than one that is struck at
            its moment and with its pitch.
        """
        readings, manner = self.readings, self.manner
        x, xx, xv, weight = (crowd.rows[n][:, None] for n in (X, XX, XV, WEIGHT))
        v = self.speed(crowd)[:, None]
        last, read = crowd.heard, crowd.read
        first, width = self._window(crowd, last, read, habits.swing)
        k = first[:, None] + np.arange(width)
        together = gap <= manner.together
        if together:
            k = np.concatenate([last[:, None], k], axis=1)
        count = readings.count[read][:, None]
        chorus = k // count
        local = k - chorus * count
        at = local + readings.base[read][:, None]
        off = self._aim(habits.swing)[at]
        off += self.places.period * chorus - x
        if self._lags:
            off += readings.late[at] * (v * self._late[crowd.way][:, None])
        total = self._scatter[at]
        total += xx + (manner.touch * v) ** 2
        said = self.pitch_likelihood(pitch, habits)[at]
        fit = self._chance(last[:, None], k, chorus, local, at, read[:, None], v) + said
        fit += weight + np.log(v) - 0.5 * LOG_2PI
        fit -= 0.5 * (off * off / total + np.log(total))
        gx, gv = xx / total, xv / total
        if together:
            # One more note of the same stroke: no news of the time, only of the pitch.
            fit[:, 0] = crowd.rows[WEIGHT] + self._again[at[:, 0]] + said[:, 0]
            gx[:, 0] = gv[:, 0] = 0
        best = int(np.argmax(fit))
        surprise = self._best[at.flat[best]] - said.flat[best] + 0.5 * off.flat[best] ** 2 / total.flat[best]
        surprise += crowd.rows[WEIGHT].max() - crowd.rows[WEIGHT, best // k.shape[1]]
        if together and best % k.shape[1] == 0:
            surprise = 0.0
        bar = max(float(fit.flat[best]), float(weight.max()) - 8) - manner.faint
        which = np.flatnonzero(fit > bar)
        i = which // k.shape[1]
        shift, gx, gv = off.ravel()[which], gx.ravel()[which], gv.ravel()[which]
        n = len(which)
        found = np.concatenate([crowd.rows[:, i], crowd.rows], axis=1)
        found[HELD : SHIFTED + 1] *= FADES
        found[JUST_HELD] = 0.0
        rows = found[:, :n]
        rows[X] += gx * shift
        rows[V] += gv * shift
        rows[VV] -= gv * rows[XV]
        rows[XX : XV + 1] *= 1 - gx
        rows[HEARD] = k.ravel()[which]
        rows[WEIGHT] = fit.ravel()[which]
        cell = np.floor(crowd.rows[X] / self.places.cell).astype(np.int64) % len(self.places.other)
        found[WEIGHT, n:] += np.log(readings.others[read] * crowd.rows[V]) + self.places.other[cell, pitch]
        if self._busy is not None:
            self._charge(found[:, n:], self._busy[read] > 0)
        return Crowd(found), float(surprise)

    def _charge(self, rows: Floats, busy: NDArray[np.bool_]) -> None:
        """Whoever fills the gaps of a melody plays the melody too: its notes that are well behind have been missed."""
        which = np.flatnonzero(busy)
        if len(which) == 0:
            return
        read, heard = rows[READ, which].astype(np.int64), rows[HEARD, which].astype(np.int64)
        due = np.maximum(self.readings.next_after(rows[X, which] - OVERDUE, read), heard + 1)
        rows[WEIGHT, which] += self.readings.passing(heard + 1, due, read)
        rows[HEARD, which] = due - 1

    def _window(self, crowd: Crowd, last: Ints, read: Ints, swing: float) -> tuple[Ints, int]:
        """The first place that the note may be in each hypothesis, and how many are looked at."""
        places, manner = self.places, self.manner
        if places.rhythm is not None:
            near = np.rint(crowd.rows[X] * places.count / places.period).astype(np.int64)
            return np.maximum(near - WIDEST // 2, last + 1), WIDEST + 1
        reach = manner.reach * (np.sqrt(crowd.rows[XX]) + manner.jitter + manner.touch * crowd.rows[V])
        low, high = crowd.rows[X] - swing - reach - LATEST * crowd.rows[V], crowd.rows[X] + reach
        bounds = self.readings.next_after(np.concatenate([low, high]), np.concatenate([read, read]))
        first = np.maximum(last + 1, bounds[: len(last)])
        return first, min(int((bounds[len(last) :] - first).max(initial=1)), WIDEST)

    def _chance(self, last: Ints, k: Ints, chorus: Ints, local: Ints, at: Ints, read: Ints, v: Floats) -> Floats:
        """Log probability that the next stroke after place ``last`` is place ``k``, which is ``local`` in its
        ``chorus`` and ``at`` among all; shapes (n, 1) and (n, m)."""
        rhythm, readings = self.places.rhythm, self.readings
        if rhythm is not None:
            return rhythm.following(last, k - last, v) + (TRUST - 1) * np.log(v)
        count = readings.count[read]
        repetition = (last + 1) // count
        missed = readings.missed_before(local, chorus, read)
        missed -= readings.missed_before(last + 1 - repetition * count, repetition, read)
        return np.asarray(readings.strike[at] + np.maximum(missed, readings.rest[read]))

    def merged(self, crowd: Crowd) -> Crowd:
        """What has come to mean the same made one by its moments; the faint dropped; weights sum to 1."""
        manner, places = self.manner, self.places
        rows = crowd.rows
        keep = rows[WEIGHT] > rows[WEIGHT].max() - manner.faint
        keep &= (rows[V] > manner.slowest) & (rows[V] < manner.fastest)
        if not keep.any():
            keep = rows[WEIGHT] >= rows[WEIGHT].max()
        rows = rows[:, keep]
        place = np.rint((rows[X] + places.period * 0.02) % places.period * 10)
        speed = np.rint(np.log(rows[V]) * 33) + 64
        heard = rows[HEARD] % self.readings.count[rows[READ].astype(np.int64)]
        key = (((place * 256 + speed) * 8 + rows[WAY]) * 8 + rows[READ]) * 65536 + heard
        order = np.argsort(key)
        in_order = key[order]
        new = np.ones(len(order), bool)
        new[1:] = in_order[1:] != in_order[:-1]
        if not new.all():
            group = np.empty(len(order), np.int64)
            group[order] = np.cumsum(new) - 1
            rows = self._melted(rows, group, int(new.sum()))
        if rows.shape[1] > manner.crowd:
            rows = self._likeliest_of_each(rows)
        top = rows[WEIGHT].max()
        rows[WEIGHT] -= top + np.log(np.exp(rows[WEIGHT] - top).sum())
        return Crowd(rows)

    def _likeliest_of_each(self, rows: Floats) -> Floats:
        """The likeliest hypotheses of the first reading and of those that share its places, and of the others: none is
        crowded out while it isn't known what is played."""
        first = self.readings.kin[rows[READ].astype(np.int64)] == 0
        kept = []
        for which, most in ((first, self.manner.crowd), (~first, self.manner.crowd * 3 // 4)):
            some = np.flatnonzero(which)
            if len(some) > most:
                some = some[np.argpartition(-rows[WEIGHT, some], most)[:most]]
            kept.append(some)
        return rows[:, np.concatenate(kept)]

    def _melted(self, rows: Floats, group: Ints, count: int) -> Floats:
        weight = np.exp(rows[WEIGHT] - rows[WEIGHT].max())
        order = np.argsort(weight)
        chief = np.zeros(count, np.int64)
        chief[group[order]] = order
        # The same place in another chorus is the same place: count from the chief's chorus.
        base = rows[X][chief]
        half = self.places.period / 2
        dx = (rows[X] - base[group] + half) % self.places.period - half
        mass = np.bincount(group, weight, count)
        shift = np.bincount(group, weight * dx, count) / mass
        v = np.bincount(group, weight * rows[V], count) / mass
        dx, dv = dx - shift[group], rows[V] - v[group]
        found = rows[:, chief]
        found[X] = base + shift
        found[V] = v
        found[XX] = np.bincount(group, weight * (rows[XX] + dx * dx), count) / mass
        found[XV] = np.bincount(group, weight * (rows[XV] + dx * dv), count) / mass
        found[VV] = np.bincount(group, weight * (rows[VV] + dv * dv), count) / mass
        found[HELD] = np.bincount(group, weight * rows[HELD], count) / mass
        found[SHIFTED] = np.bincount(group, weight * rows[SHIFTED], count) / mass
        found[JUST_HELD] = np.bincount(group, weight * rows[JUST_HELD], count) / mass
        found[WEIGHT] = np.log(mass) + rows[WEIGHT].max()
        return found

    def current_weights(self, crowd: Crowd) -> Floats:
        """Log weights as of now: each hypothesis also pays for the promised notes that are overdue in it."""
        rows, manner = crowd.rows, self.manner
        slack = np.maximum(manner.grace, 1.5 * np.sqrt(rows[XX]) + 2 * manner.touch * rows[V])
        due = self.readings.next_after(rows[X] - slack, crowd.read)
        owed: Floats = rows[WEIGHT] + self.readings.passing(crowd.heard + 1, due, crowd.read)
        return owed


def _changes(readings: Readings) -> tuple[Floats, Floats]:
    """Log probabilities a stroke of staying in each reading, and of going from each (row) to each other (column).

    From the first reading to any other and back; between two of the others by way of it.
    """
    n = len(readings)
    taken = np.array([reading.taken_up for reading in readings.each])
    given = np.array([reading.given_up for reading in readings.each])
    goes = given[:, None] * taken[None, :]
    goes[:, 0] = given
    goes[0] = taken
    goes[np.arange(n), np.arange(n)] = 0.0
    stays = 1 - goes.sum(axis=1)
    return np.log(stays), np.log(goes + BESIDE)
