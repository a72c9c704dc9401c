"""Care for the player: after so long at the keys a pause is proposed, once, and never in the midst of a phrase.

What counts is playing: the time between keys that follow each other within :data:`ACTIVE`. A pause that is taken lets
it begin anew. It is shown where the player has come to a rest, by themselves or because a round is over; to who never
rests (a walking bass doesn't) it is shown with the first beat of a chorus.

Conventions: seconds on the rehearsal's clock.
"""

from __future__ import annotations

from companion.messages import Beat, Heard, Order, Report, State
from companion.preferences.care import PauseRules

CAUTION = (
    "Pain, tingling or numbness means stop; if it comes back, see a doctor. Keep the volume moderate. "
    "Where your teacher says otherwise, believe your teacher."
)
"""What every word about practising for long comes with; the README's cautions say the same."""
ACTIVE = 20.0
"""Seconds without a key after which one isn't playing any more."""
AT_A_CHORUS = 120.0
"""Seconds that it waits for a rest before the first beat of a chorus will do."""
RESTS = ("resting", "waiting", "holding")
"""States in which no phrase is under way."""
NOTE_ON, NOTE_OFF = 0x90, 0x80


class PauseReminder:
    """Knows how long the player has been playing, and when to say so.

    Parameters
    ----------
    rules : PauseRules
    """

    def __init__(self, rules: PauseRules) -> None:
        self.played = 0.0
        """Seconds of playing since the last pause; may be set where one has played before."""
        self._rules = rules
        self._last_note: float | None = None
        self._down: set[int] = set()
        self._released = float("-inf")
        """When the last key came up."""
        self._rests = self._chorus_begins = self._shown = False
        self._chorus = 0

    def take(self, event: Heard | Order | Report) -> None:
        """Take what was heard or reported, in order of time."""
        self._chorus_begins = False
        if isinstance(event, Heard):
            self._hear(event)
        elif isinstance(event, State):
            self._rests = event.name in RESTS
        elif isinstance(event, Beat):
            self._chorus_begins = bool(self._chorus) and event.chorus > self._chorus
            self._chorus = event.chorus

    def _hear(self, event: Heard) -> None:
        if event.is_note_on:
            gap = event.seconds - self._last_note if self._last_note is not None else 0.0
            if gap >= 60 * self._rules.lasts:
                self.played, self._shown = 0.0, False
            elif gap < ACTIVE:
                self.played += gap
            self._last_note = event.seconds
            self._down.add(event.data1)
        elif event.status in (NOTE_ON, NOTE_OFF):
            self._down.discard(event.data1)
            self._released = event.seconds

    def due(self, now: float) -> str:
        """What is to be shown at this moment, once; empty: nothing."""
        after = 60 * self._rules.after
        if not after or self._shown or self.played < after:
            return ""
        silent = not self._down and now - self._released >= self._rules.phrase
        rests = self._rests and not self._down
        if not (silent or rests or (self._chorus_begins and self.played >= after + AT_A_CHORUS)):
            return ""
        self._shown = True
        return f"{self.played / 60:.0f} minutes of playing: time for {self._rules.lasts:g} minutes of pause. {CAUTION}"
