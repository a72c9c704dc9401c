"""The course of a player: where they stopped, began again and went, and how many notes they left out.

The belief says where the player is; the course remembers how they came there. The follower uses it to choose between
places that the notes don't tell apart, and to expect the next return.

Conventions: seconds on the rehearsal's clock; beats in quarters, through the choruses.
"""

from __future__ import annotations

from companion.follow.habits import Habits
from companion.follow.lead import Lead

ANEW = 2.0
"""Bars after a new start in which the distance from where the player stopped counts, not from where they would be
now."""
WENT = 1.6
"""Beats by which the lead's place has to change, against what was foreseen, to count as going elsewhere."""
SETTLED, SETTLED_MASS = 4, 0.15
"""Notes at a new place, and its probability, from which the player is taken to have gone there."""
RESUMED = 8.0
"""Bars after a stop within which a new place counts as where they began again."""
PRIOR_COUNTS = (20.0, 1.0)
"""Prior counts of notes, and of notes left out."""
FEW = 4
"""Places passed over, from which on they no longer count as notes left out one by one."""


class Course:
    """What is remembered of a player's way through the form.

    Parameters
    ----------
    pulse, bar : float
        Quarters.
    """

    def __init__(self, pulse: float, bar: float) -> None:
        self._pulse, self._bar = pulse, bar
        self._resumed = float("-inf")
        """When the player began again after a stop."""
        self._left = 0.0
        """The beat at which they had stopped."""
        self._going: tuple[float, float, int] | None = None
        """Where they left for elsewhere, how far they have gone, and the notes since."""
        self._notes, self._omitted = PRIOR_COUNTS

    def resume(self, seconds: float, lead: Lead) -> None:
        """The player begins again; ``lead`` is what was gone by until then."""
        self._resumed, self._left = seconds, lead.reading.place_at(lead.heard)

    def anew(self, seconds: float, lead: Lead) -> bool:
        """Whether they have only just begun again."""
        return (seconds - self._resumed) * lead.speed < ANEW * self._bar

    def came_from(self, lead: Lead, anew: bool) -> float:
        """Where they stopped, if they begin ``anew``; else the beat where they were last settled."""
        return self._left if anew else self._going[0] if self._going else lead.reading.place_at(lead.heard)

    def heard_since(self, seconds: float, lead: Lead) -> float:
        """Beats that were heard since the player began again, less one: where that was is known no better."""
        return (seconds - self._resumed) * lead.speed - self._pulse

    @property
    def omits(self) -> float:
        """Share of the notes that the player leaves out."""
        return self._omitted / self._notes

    def count_omissions(self, before: Lead, lead: Lead) -> None:
        """Count the notes passed over from one lead to the next."""
        if before.reading.places is not lead.reading.places:
            return
        if 0 < (step := lead.heard - before.heard) < FEW:
            self._notes += step
            self._omitted += step - 1

    def gone(self, habits: Habits, before: Lead, lead: Lead) -> Habits:
        """Remember where the player went, once they have been there for some notes.

        After a pause it is where they began again that counts, otherwise the way from where they left.
        """
        foreseen = before.beat + before.speed * (lead.seconds - before.seconds)
        by = lead.beat - foreseen
        resumes = lead.seconds == self._resumed
        if resumes or abs(by) > WENT * self._pulse:
            left, so_far, _ = self._going or (before.reading.place_at(before.heard) if resumes else foreseen, 0.0, 0)
            self._going = (left, so_far + by, 0)
        elif self._going is not None:
            left, so_far, notes = self._going
            self._going = (left, so_far, notes + 1)
            if notes + 1 >= SETTLED and lead.mass > SETTLED_MASS:
                self._going = None
                gap = lead.seconds - self._resumed
                if gap * lead.speed < RESUMED * self._bar:
                    anew = lead.beat - gap * lead.speed - left
                    return habits if 0 <= anew < 2 * self._bar else habits.going(left, anew)
                if abs(so_far) > WENT * self._pulse:
                    return habits.going(left, so_far)
        return habits
