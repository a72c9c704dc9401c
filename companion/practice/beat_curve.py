"""The player's own beat, with the whole take in view: from notes that are known to the moments of beats.

Between two beats the tempo wanders a little (its changes gather as white noise), a note falls near its beat, and now
and then the player holds back: then the pulse goes on from where they take it up. Moments are smoothed forwards and
backwards over these (Kalman filter and the smoother of Rauch, Tung and Striebel, 1965), with weights by which a note
far off counts less (Student's t; Lange, Little and Taylor, 1989). How freely this player takes the tempo, and how
near to it their notes fall, is what makes the notes likeliest.

Conventions: beats in quarters as they sound; seconds; variances in their squares.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field

TOUCHES = (0.007, 0.012, 0.018, 0.026, 0.036)
"""Seconds, standard deviation of a note from its beat: what is tried."""
FREEDOMS = (3e-6, 3e-5, 2e-4, 1e-3, 5e-3, 2e-2)
"""Variance of the tempo's change in a quarter, as a share of its square: what is tried."""
TAILS = 4.0
"""Degrees of freedom of Student's t."""
ROUNDS = 3
HELD_SPREADS, HELD_SHARE = 5.0, 0.3
"""From how many standard deviations, and what share of a quarter, a delay is taken for a hesitation; if it stays."""
STAYS = 0.6
"""Share of the delay that the next notes must have, too."""


@dataclass(frozen=True)
class BeatManner:
    """How one keeps time."""

    touch: float
    """Seconds, standard deviation of a note from its beat."""
    freedom: float
    """Variance of the tempo's change in a quarter, as a share of its square."""


@dataclass(frozen=True)
class Timed:
    """A note that is known."""

    beat: float
    seconds: float
    loose: float = 1.0
    """How many times the usual it may lie off."""


@dataclass(frozen=True)
class BeatCurve:
    """Moments of beats, smoothed."""

    beats: tuple[float, ...]
    seconds: tuple[float, ...]
    held: tuple[tuple[float, float], ...] = ()
    """Beats before which the player held back, and for how many seconds."""


def manner_of(stretches: Sequence[Sequence[Timed]]) -> BeatManner:
    """How a player keeps time, by what makes their notes likeliest.

    Parameters
    ----------
    stretches : sequence of sequences of Timed
        Each without a leap, beats and seconds rising.
    """
    long = [stretch for stretch in stretches if len(stretch) >= 6]
    if not long:
        return BeatManner(0.018, 2e-4)

    def cost(manner: BeatManner) -> float:
        return sum(_Pass(stretch, (), manner, [1.0] * len(stretch)).cost for stretch in long)

    return min((BeatManner(touch, freedom) for touch in TOUCHES for freedom in FREEDOMS), key=cost)


def smoothed(notes: Sequence[Timed], beats: Sequence[float], manner: BeatManner, pulse: float = 1.0) -> BeatCurve:
    """The moments of beats, from notes in order.

    Parameters
    ----------
    notes : sequence of Timed
        At least two; beats and seconds rising.
    beats : sequence of float
        Rising; they may lie outside the notes.
    manner : BeatManner
    pulse : float
        Quarters in a beat of the metre: before one of them the player takes the pulse up again.
    """
    weights = [1.0] * len(notes)
    for n in range(ROUNDS):
        run = _Pass(notes, beats if n == ROUNDS - 1 else (), manner, weights, pulse)
        moments, at_notes = run.smoothed()
        weights = [
            (TAILS + 1) / (TAILS + ((note.seconds - at) / (manner.touch * note.loose)) ** 2)
            for note, at in zip(notes, at_notes, strict=True)
        ]
    return BeatCurve(tuple(beats), _rising(moments), tuple(run.held))


def _rising(moments: Sequence[float]) -> tuple[float, ...]:
    found: list[float] = []
    for moment in moments:
        found.append(moment if not found else max(moment, found[-1] + 1e-3))
    return tuple(found)


_State = tuple[float, float, float, float, float]
"""Moment, seconds a quarter, and their variances and covariance: of the moment, of both, of the quarter."""


@dataclass
class _Knot:
    """A beat on the way, before and after its note was heard."""

    beat: float
    note: int | None
    """Index of the note there."""
    step: float = field(init=False)
    """Quarters from the knot before it."""
    ahead: _State = field(init=False)
    """As foreseen."""
    after: _State = field(init=False)
    """The note heard."""


class _Pass:
    """One way forwards through the notes."""

    def __init__(
        self,
        notes: Sequence[Timed],
        beats: Sequence[float],
        manner: BeatManner,
        weights: Sequence[float],
        pulse: float = 1.0,
    ) -> None:
        self.cost = 0.0
        self.held: list[tuple[float, float]] = []
        self._notes = notes
        self._touch = [(manner.touch * n.loose) ** 2 / w for n, w in zip(notes, weights, strict=True)]
        self._pulse = pulse
        self._quarter = _usual_quarter(notes)
        self._wander = manner.freedom * self._quarter**2
        self._knots = sorted(
            [_Knot(note.beat, n) for n, note in enumerate(notes)] + [_Knot(beat, None) for beat in beats],
            key=lambda knot: (knot.beat, knot.note is not None),
        )
        self._forwards()

    def _forwards(self) -> None:
        first = self._knots[0]
        lead = self._notes[0].beat - first.beat
        start = self._notes[0].seconds - lead * self._quarter
        state = (start, self._quarter, 25.0, 0.0, (0.5 * self._quarter) ** 2)
        shift_at, shift = math.inf, 0.0
        before = first.beat
        for knot in self._knots:
            step = knot.step = knot.beat - before
            state = _on(state, step, self._wander)
            if knot.beat >= shift_at - 1e-9 and shift:
                state = (state[0] + shift, state[1], state[2] + shift**2, state[3], state[4])
                shift_at, shift = math.inf, 0.0
            knot.ahead = state
            if knot.note is not None:
                state = self._heard(knot.note, state)
                shift_at, shift = self._coming(knot.note, state)
            knot.after = state
            before = knot.beat

    def _heard(self, n: int, state: _State) -> _State:
        at, quarter, p, c, v = state
        spread = p + self._touch[n]
        off = self._notes[n].seconds - at
        if n:
            # Student's t, so that one note far off does not decide how a player keeps time.
            self.cost += 0.5 * math.log(spread) + 0.5 * (TAILS + 1) * math.log1p(off * off / spread / TAILS)
        gain, turn = p / spread, c / spread
        return at + gain * off, quarter + turn * off, (1 - gain) * p, (1 - gain) * c, v - turn * c

    def _coming(self, n: int, state: _State) -> tuple[float, float]:
        """Whether the player holds back before the next note: the beat from which, and the seconds; or never."""
        if n + 1 >= len(self._notes):
            return math.inf, 0.0
        here = self._notes[n].beat

        def late(m: int) -> float:
            return self._notes[m].seconds - state[0] - (self._notes[m].beat - here) * state[1]

        step = self._notes[n + 1].beat - here
        ahead = _on(state, step, self._wander)
        most = max(HELD_SPREADS * math.sqrt(ahead[2] + self._touch[n + 1]), HELD_SHARE * self._quarter)
        off = late(n + 1)
        following = range(n + 2, min(n + 4, len(self._notes)))
        if off < most or any(late(m) < STAYS * off for m in following):
            return math.inf, 0.0
        on = math.floor(self._notes[n + 1].beat / self._pulse + 1e-6) * self._pulse
        at = on if on > here + 1e-6 else self._notes[n + 1].beat
        self.held.append((at, off))
        return at, off

    def smoothed(self) -> tuple[list[float], list[float]]:
        """Moments of the beats asked for, and of those of the notes."""
        moments: dict[int, float] = {}
        state = self._knots[-1].after
        moments[len(self._knots) - 1] = state[0]
        at, quarter = state[0], state[1]
        for k in range(len(self._knots) - 2, -1, -1):
            here, ahead = self._knots[k], self._knots[k + 1].ahead
            step = self._knots[k + 1].step
            x, d, p, c, v = here.after
            across, own = p + step * c, c + step * v
            whole = ahead[2] * ahead[4] - ahead[3] ** 2
            if whole <= 1e-30:
                at, quarter = at - step * quarter, quarter
            else:
                g00 = (across * ahead[4] - c * ahead[3]) / whole
                g01 = (c * ahead[2] - across * ahead[3]) / whole
                g10 = (own * ahead[4] - v * ahead[3]) / whole
                g11 = (v * ahead[2] - own * ahead[3]) / whole
                off, turn = at - ahead[0], quarter - ahead[1]
                at, quarter = x + g00 * off + g01 * turn, d + g10 * off + g11 * turn
            moments[k] = at
        asked = [moments[k] for k, knot in enumerate(self._knots) if knot.note is None]
        notes = [moments[k] for k, knot in enumerate(self._knots) if knot.note is not None]
        return asked, notes


def _on(state: _State, step: float, wander: float) -> _State:
    """Go on by some quarters."""
    at, quarter, p, c, v = state
    return (
        at + step * quarter,
        quarter,
        p + 2 * step * c + step * step * v + wander * step**3 / 3 + 1e-10,
        c + step * v + wander * step**2 / 2,
        v + wander * step,
    )


def _usual_quarter(notes: Sequence[Timed]) -> float:
    """Seconds a quarter, as most notes have it: the median over pairs about four quarters apart."""
    beats = [note.beat for note in notes]
    rates = []
    for n, note in enumerate(notes):
        m = min(bisect_left(beats, note.beat + 4.0), len(notes) - 1)
        if m > n and notes[m].beat > note.beat:
            rates.append((notes[m].seconds - note.seconds) / (notes[m].beat - note.beat))
    return max(sorted(rates)[len(rates) // 2], 0.02) if rates else 0.5
