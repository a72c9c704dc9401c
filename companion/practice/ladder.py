"""The ladder of a drill: how fast the next round is, and from memory how much is withheld in it.

The rungs go up first through what is withheld (where a drill is from memory) and then through the tempi. After so many
good rounds in a row it is a rung up, after so many bad ones a rung down, never below the first; the goal is reached
with so many good rounds in a row on the last. (That a task grows with success and shrinks with failure, step by step,
is the staircase of psychophysics: Levitt, Transformed up-down methods, 1971.)

Conventions: tempo in quarters a minute.
"""

from __future__ import annotations

from dataclasses import dataclass

from companion.errors import UseError
from companion.preferences.drills import LadderRules

LARGEST = 600.0
SMALLEST = 10.0
NEAR = 1e-6
"""Difference of two tempi that are the same."""


@dataclass(frozen=True)
class Rung:
    """One step of a ladder."""

    tempo: float
    withheld: int = 0
    """How many steps have been taken towards playing from memory."""


class Ladder:
    """Where a drill is between its first tempo and its goal.

    Parameters
    ----------
    rules : LadderRules
        After how many rounds it goes up and down.
    start, goal : float
        Tempi, quarters a minute.
    step : float
        Quarters a minute.
    memory : int
        Steps that are withheld at the end; 0: nothing is.

    Raises
    ------
    UseError
        The goal lies below the start.
    """

    def __init__(self, rules: LadderRules, start: float, goal: float, step: float, memory: int = 0) -> None:
        if goal < start - NEAR:
            what = f"a ladder climbs: {goal:g} lies below {start:g}"
            raise UseError(what, mend="say --from the slower and --to the faster tempo")
        self.rules, self.step = rules, step
        self._start, self._goal = start, goal
        self._memory = memory
        self.rung = Rung(start)
        self.good_in_a_row = self.bad_in_a_row = 0
        """Rounds in a row on this rung."""
        self.stays = False
        """Whether the player asked to stay on this rung."""

    @property
    def last(self) -> bool:
        """Whether it is on the last rung."""
        return self.rung.tempo >= self._goal - NEAR and self.rung.withheld == self._memory

    @property
    def reached(self) -> bool:
        """Whether the goal is reached."""
        return self.last and not self.stays and self.good_in_a_row >= self.rules.hold

    def take(self, *, good: bool) -> None:
        """Take the outcome of a round, and go where the next one is."""
        self.good_in_a_row = self.good_in_a_row + 1 if good else 0
        self.bad_in_a_row = 0 if good else self.bad_in_a_row + 1
        if self.stays:
            return
        if self.good_in_a_row >= self.rules.up_after and not self.last:
            self._go(self.above())
        elif self.bad_in_a_row >= self.rules.down_after:
            self._go(self.below())

    def above(self) -> Rung:
        """The rung above this one; this one where there is none."""
        if self.rung.withheld < self._memory:
            return Rung(self.rung.tempo, self.rung.withheld + 1)
        return Rung(min(self.rung.tempo + self.step, self._goal), self.rung.withheld)

    def below(self) -> Rung:
        """The rung below this one; this one where there is none."""
        if self.rung.tempo > self._start + NEAR:
            return Rung(max(self.rung.tempo - self.step, self._start), self.rung.withheld)
        return Rung(self.rung.tempo, max(self.rung.withheld - 1, 0))

    def hurry(self, steps: int) -> None:
        """So many steps faster, or slower below 0, as the player asked; beyond start and goal where they like."""
        tempo = min(max(self.rung.tempo + steps * self.step, SMALLEST), LARGEST)
        self._start, self._goal = min(self._start, tempo), max(self._goal, tempo)
        self._go(Rung(tempo, self.rung.withheld))

    def stay(self) -> None:
        """Stay on this rung until told again."""
        self.stays = not self.stays
        self.good_in_a_row = self.bad_in_a_row = 0

    def _go(self, rung: Rung) -> None:
        if rung != self.rung:
            self.rung = rung
        self.good_in_a_row = self.bad_in_a_row = 0
