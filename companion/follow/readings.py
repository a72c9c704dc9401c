"""Readings: the alternative ways in which the same notes are interpreted, side by side in one filter.

The same notes may be the melody as it is written, the melody a quaver early or a crotchet late, or a line improvised
over the changes. Each of these is a *reading*: the places at which it expects strokes, and by how much the strokes are
displaced from where they are written while the beat goes on. Every hypothesis of the belief has one reading. The
likelihood of the notes tells readings apart; at each note a hypothesis may go over to another reading, with a
probability of its own.

Conventions: beats in quarters; displacement is positive where strokes come late. Places are numbered within their
reading, over all repetitions of the form, as in :mod:`companion.follow.places`; in the arrays of all readings, laid end
to end, a place of one form has the number ``base + k % count``. Probabilities are not logarithms unless the name says
so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from companion.arrays import Floats, Ints
from companion.follow.places import PROMISED, Places

BESIDE = 1e-9
"""Where a probability is nothing, its logarithm is taken of this."""


@dataclass(frozen=True, eq=False)
class Reading:
    """One way of taking what is heard.

    Attributes
    ----------
    part : str
        What is played: melody, chords, bass or solo.
    places : Places
    displaced : float
        By how many quarters its strokes are later than their places; below 0 earlier.
    swung : array of shape (count,), optional
        How much of the swing's delay a displaced stroke takes; that of the places, unless given.
    share : float
        Probability that a player begins so.
    taken_up : float
        Probability a stroke that a player of the first reading goes over to this one.
    given_up : float
        Probability a stroke that a player of this reading goes back to the first one.
    others : float, optional
        How many notes come in a beat that belong to no place; that of the places, unless given.
    free : bool
        Whether its player may take their time freely, or keeps it.
    """

    part: str
    places: Places
    displaced: float = 0.0
    swung: Floats | None = None
    share: float = 1.0
    taken_up: float = 0.0
    given_up: float = 0.0
    free: bool = True
    others: float | None = None

    @property
    def as_written(self) -> bool:
        """Whether strokes are looked for where they are written."""
        return self.displaced == 0.0

    @property
    def promises(self) -> bool:
        """Whether some of its strokes are promised where they stand."""
        return self.as_written and bool(self.places.strike.max() >= PROMISED)

    def next_place(self, beat: float) -> int:
        """The first place whose stroke comes at or after a beat."""
        return self.places.next_place(beat - self.displaced)

    def place_at(self, k: int) -> float:
        """The beat at which the stroke of a place comes, straight."""
        return self.places.place_at(k) + self.displaced


@dataclass(frozen=True, eq=False)
class Readings:
    """All readings of one player, their arrays laid end to end; the first is what they are taken to play.

    All have the same form, and so the same period, bar and pulse.
    """

    each: tuple[Reading, ...]
    count: Ints = field(init=False)
    """Places of the form in each reading: shape (readings,)."""
    base: Ints = field(init=False)
    """Number of the first place of each."""
    displaced: Floats = field(init=False)
    beat: Floats = field(init=False)
    """Where each stroke is to come, straight; shape (all places,), as all that follow."""
    swung: Floats = field(init=False)
    strike: Floats = field(init=False)
    """Log probability of being struck."""
    again: Floats = field(init=False)
    """Log probability of a further note at once."""
    scatter: Floats = field(init=False)
    """Variance of the stroke about its place, beats²."""
    late: Floats = field(init=False)
    row: Ints = field(init=False)
    pitch: Floats = field(init=False)
    """The tables of pitches of all readings; ``row`` says which row is a place's."""
    missed: Floats = field(init=False)
    """Running sums of the log probabilities of not striking, one reading's ``count + 1`` after the other's."""
    whole: Floats = field(init=False)
    """What leaving out a whole form costs in each reading."""
    rest: Floats = field(init=False)
    """Log probability of resting on purpose in each reading."""
    others: Floats = field(init=False)
    """Notes a beat that belong to no place, by reading."""
    kin: Ints = field(init=False)
    """The same number for readings that share their places, displaced or not."""
    free: Floats = field(init=False)
    """1 for each reading whose player may take their time freely."""
    _lines: Floats = field(init=False, repr=False)
    """The places of all readings on one line, each reading ``stride`` beyond the last."""
    _stride: float = field(init=False, repr=False)

    def __post_init__(self) -> None:
        parts = [reading.places for reading in self.each]

        def put(name: str, value: object) -> None:
            object.__setattr__(self, name, value)

        def end_to_end(name: str) -> Floats:
            return np.concatenate([np.asarray(getattr(places, name), float) for places in parts])

        count = np.array([places.count for places in parts])
        put("count", count)
        put("base", np.concatenate([[0], np.cumsum(count)[:-1]]))
        put("displaced", np.array([reading.displaced for reading in self.each]))
        put("beat", np.concatenate([reading.places.beat + reading.displaced for reading in self.each]))
        put("swung", np.concatenate([r.places.swung if r.swung is None else r.swung for r in self.each]))
        put("strike", np.log(end_to_end("strike")))
        put("again", np.log(end_to_end("again")))
        put("scatter", end_to_end("scatter") ** 2)
        put("late", end_to_end("late"))
        tables: dict[int, int] = {}
        rows = []
        for places in parts:
            if id(places.pitch) not in tables:
                tables[id(places.pitch)] = sum(len(other.pitch) for other in _distinct(parts)[: len(tables)])
            rows.append(places.row + tables[id(places.pitch)])
        put("row", np.concatenate(rows))
        put("pitch", np.concatenate([places.pitch for places in _distinct(parts)]))
        put("missed", end_to_end("missed"))
        put("whole", np.array([places.missed[-1] for places in parts]))
        put("rest", np.log([places.rest for places in parts]))
        put("others", np.array([r.places.others if r.others is None else r.others for r in self.each]))
        put("kin", np.array([next(n for n, p in enumerate(parts) if p is places) for places in parts]))
        put("free", np.array([float(reading.free) for reading in self.each]))
        put("_stride", 2.0 * self.home.period)
        put("_lines", np.concatenate([places.beat + n * self._stride for n, places in enumerate(parts)]))

    @classmethod
    def of(cls, places: Places, part: str = "melody") -> Readings:
        """One reading alone."""
        return cls((Reading(part, places),))

    @property
    def families(self) -> list[int]:
        """The first of the readings of each set of places."""
        return [n for n in range(len(self.each)) if self.kin[n] == n]

    @property
    def home(self) -> Places:
        """The places of the first reading: what the player is taken to play unless the notes say otherwise."""
        return self.each[0].places

    def __len__(self) -> int:
        return len(self.each)

    def next_after(self, beat: Floats, reading: Ints) -> Ints:
        """The first place, within its reading, whose stroke comes at or after each beat."""
        beat = beat - self.displaced[reading]
        chorus = np.floor(beat / self.home.period)
        on_line = np.searchsorted(self._lines, beat - chorus * self.home.period + reading * self._stride)
        return np.asarray(on_line - self.base[reading] + chorus.astype(np.int64) * self.count[reading])

    def missed_before(self, at: Ints, chorus: Ints, reading: Ints) -> Floats:
        """Sum of the log probabilities of not striking, over all places before place ``at`` of each chorus."""
        return np.asarray(self.missed[at + (self.base[reading] + reading)] + self.whole[reading] * chorus)

    def passing(self, first: Ints, last: Ints, reading: Ints) -> Floats:
        """Log probability of striking none of the places from ``first`` up to, not including, ``last``; 0 if none.

        However many they are, it is not below that of resting on purpose.
        """
        count = self.count[reading]
        chorus, beyond = first // count, last // count
        missed = self.missed_before(last - beyond * count, beyond, reading)
        missed -= self.missed_before(first - chorus * count, chorus, reading)
        return np.clip(missed, self.rest[reading], 0.0)

    def moved(self, by: float) -> Readings:
        """The same readings in bars that lie so many quarters later."""
        rolled = tuple(replace(reading, swung=_rolled(reading, by)) for reading in self.each)
        return Readings(rolled)._with(lambda places: places.moved(by))

    def alone(self) -> Readings:
        """The first reading, and no other."""
        return Readings(self.each[:1])

    def without_new_starts(self) -> Readings:
        """The same, nobody being expected to begin again after a silence."""
        return self._with(lambda places: replace(places, resume=0.0))

    def _with(self, change: Callable[[Places], Places]) -> Readings:
        """The same readings of changed places; what shared its places shares them still."""
        changed = {id(reading.places): change(reading.places) for reading in self.each}
        return Readings(tuple(replace(reading, places=changed[id(reading.places)]) for reading in self.each))


def _distinct(parts: Sequence[Places]) -> list[Places]:
    """One of those that share a table of pitches."""
    return list({id(places.pitch): places for places in parts}.values())


def _rolled(reading: Reading, by: float) -> Floats | None:
    """A displaced reading's swing, in the order that its places have when they lie later."""
    if reading.swung is None:
        return None
    return replace(reading.places, swung=reading.swung).moved(by).swung
