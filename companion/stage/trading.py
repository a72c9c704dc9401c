"""Trading: the player and the companion improvise in turn, so many bars each; the player begins.

In the companion's turn its line waits while the player still plays a line, stops when they come in, and goes on when
they are silent again; chords of the player's are accompaniment and don't stop it. The line takes up what the player
played last (:mod:`companion.arrange.solo.part`). Waiting times are in ``configs/trading.toml``.

Conventions: seconds on the rehearsal's clock; beats in quarters from the first downbeat, going on through the choruses;
speed in quarters a second; MIDI numbers. A decision depends only on what was told before it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from dataclasses import dataclass
from fractions import Fraction

from companion.arrange.events import Stretch
from companion.arrange.part import Note
from companion.arrange.solo.part import improvised_line
from companion.messages import TINY
from companion.preferences import preferences
from companion.preferences.trading import TradingPreferences
from companion.stage.order import OrderOfEvents, roles
from companion.stage.settings import Settings

HALFWAY = 0.5
"""Share of a beat after which the next beat of the line is made, when the player has played what belongs to this
one."""


@dataclass(frozen=True)
class Turn:
    """Whose bars they are."""

    start: float
    end: float
    number: int
    """0 = the first."""
    stretch: Stretch

    @property
    def ours(self) -> bool:
        """Whether it is the companion's; the player begins."""
        return self.number % 2 == 1


@dataclass
class _KeyGroup:
    """Keys struck together."""

    seconds: float
    beat: float
    keys: list[int]


class Trading:
    """The turns of one rehearsal, and the companion's line in its own.

    Parameters
    ----------
    settings : Settings
    tune : OrderOfEvents
    """

    def __init__(self, settings: Settings, tune: OrderOfEvents) -> None:
        self.settings, self.tune = settings, tune
        self.manners = preferences(TradingPreferences).manners
        self._struck: deque[_KeyGroup] = deque(maxlen=256)
        self._turn: Turn | None = None
        """The turn for which there is a line, or is to be one."""
        self._line: tuple[Note, ...] = ()
        """What is being said, in chart beats."""
        self._began: float | None = None
        """The moment at which that began; None: it waits."""
        self._until = 0.0
        """The beat up to which it goes."""
        self._stopped = False
        """The player came in during this turn."""
        self._last: int | None = None
        """The last note of the line before."""
        self._ahead: tuple[float, float, Turn] | None = None
        """When to think ahead, and of which beat of which turn."""
        self._made: tuple[object, tuple[Note, ...]] | None = None
        """The line made last, and what it was made of."""
        if settings.trade:  # so that the first line is made as quickly as the others
            improvised_line(tune.form, end=tune.form.metre.bar, seed=settings.seed)

    # Turns

    def turn(self, beat: float) -> Turn | None:
        """Whose turn a beat is in; None where nobody trades."""
        if not self.settings.trade:
            return None
        stretch = self.tune.at(beat)
        if beat < stretch.start - TINY or "solo" not in roles(stretch, self.settings.you):
            return None
        if self.tune.plan and stretch.kind != "solos":
            return None
        bars = [float(stretch.start + bar) for bar in stretch.form.bars]
        size = min(self.settings.trade, len(bars))
        before = stretch.time - 1 if self.tune.plan else stretch.chorus - 1
        n = max(0, bisect_right(bars, beat + TINY) - 1) // size
        end = bars[(n + 1) * size] if (n + 1) * size < len(bars) else float(stretch.end)
        return Turn(bars[n * size], end, before * -(-len(bars) // size) + n, stretch)

    def ours(self, beat: float) -> bool:
        """Whether a beat is in a turn of the companion's."""
        turn = self.turn(beat)
        return turn is not None and turn.ours

    def is_silent(self, chorus: int, chart_beat: float) -> bool:
        """Whether a player who keeps to their turns is silent at a chart beat of a chorus (1 = the first)."""
        return self.ours((chorus - 1) * self.tune.length + chart_beat)

    # What the player does

    def key_down(self, seconds: float, beat: float, midi: int) -> None:
        """A key went down; ``beat`` is its written place."""
        if self._struck and seconds - self._struck[-1].seconds <= self.manners.together:
            self._struck[-1].keys.append(midi)
        else:
            self._struck.append(_KeyGroup(seconds, beat, [midi]))

    def next_moment(self, now: float) -> float | None:
        """When there is something to do, in seconds: to tell a line of the player's from a chord, or to think ahead."""
        moments = [] if self._ahead is None else [self._ahead[0]]
        if self._began is not None and self._struck:
            moments.append(self._struck[-1].seconds + self.manners.together)
        return min((moment for moment in moments if moment > now + TINY), default=None)

    def think(self, now: float) -> None:
        """Make up beforehand what is to be said from the next beat on, so that it is there at its moment."""
        if self._ahead is not None and self._ahead[0] <= now + TINY:
            _, beat, turn = self._ahead
            self._ahead = None
            self._make(beat, turn)

    def comes_in(self, now: float) -> bool:
        """Whether the player has come in on the line, which then is over."""
        last = self._spoke(now)
        if self._began is None or last is None or last.seconds <= self._began:
            return False
        if now - last.seconds < self.manners.together - TINY:
            return False
        self._began, self._line, self._stopped = None, (), True
        return True

    def holds_back(self, now: float) -> bool:
        """Whether the next note waits, because a key was struck of which nothing is known yet."""
        last = self._struck[-1] if self._struck else None
        return last is not None and now - last.seconds < self.manners.together - TINY

    # What the companion says

    def line(self, now: float, beat: float, speed: float) -> tuple[tuple[Note, ...], float]:
        """The line in which a beat lies, its notes in chart beats, and where their beat 0 is; empty while it is silent.

        Called for each beat of the companion's turns, as it is about to be sounded.
        """
        turn, zero = self.turn(beat), 0.0
        if turn is None or not turn.ours:
            self._turn, self._began, self._line = None, None, ()
        else:
            zero = float(turn.stretch.zero)
            self._speak(now, beat, speed, turn)
        self._look_ahead(now, beat, speed)
        return self._line, zero

    def _speak(self, now: float, beat: float, speed: float, turn: Turn) -> None:
        """Begin a line in the companion's turn, or go on with it, where that is due."""
        if self._turn is None or turn.number != self._turn.number:
            self._turn, self._began, self._line, self._stopped = turn, None, (), False
        if self._began is None and self._may_speak(now, beat, speed, turn):
            self._go_on(beat, turn)
            self._began = now
        elif self._began is not None and beat >= self._until - TINY:
            self._go_on(beat, turn)

    def _look_ahead(self, now: float, beat: float, speed: float) -> None:
        """Where the next beat may begin something new to say, it is thought of halfway there."""
        pulse = float(self.tune.form.metre.pulse)
        turn, self._ahead = self.turn(beat + pulse), None
        if turn is None or not turn.ours:
            return
        begins = abs(turn.start - beat - pulse) < TINY
        if begins or (self._began is not None and beat + pulse >= self._until - TINY):
            self._ahead = now + HALFWAY * pulse / speed, beat + pulse, turn

    def _go_on(self, beat: float, turn: Turn) -> None:
        self._line, self._until = self._make(beat, turn)
        self._last = self._line[-1].midi if self._line else self._last

    def _may_speak(self, now: float, beat: float, speed: float, turn: Turn) -> bool:
        last = self._spoke(now)
        quiet = (now - last.seconds) * speed if last else float("inf")
        on_time = beat < turn.start + TINY
        if not on_time and turn.end - beat < self.manners.least - TINY:
            return False
        return quiet >= (self.manners.again if self._stopped else self.manners.wait) - TINY

    def _make(self, beat: float, turn: Turn) -> tuple[tuple[Note, ...], float]:
        """What there is to say from a beat on, and up to which beat; made once for the same that was heard."""
        zero, form = float(turn.stretch.zero), turn.stretch.form
        ahead = [float(turn.stretch.start + bar) for bar in form.bars if float(turn.stretch.start + bar) > beat + TINY]
        most = self.manners.at_once
        until = min(turn.end, ahead[most - 1] if len(ahead) >= most else turn.end)
        goes_on = self._turn == turn and self._began is not None
        heard = () if goes_on else tuple((b - zero, midi) for b, midi in self._answered(turn, beat))
        asked = beat, turn.number, self._last, heard
        if self._made is None or self._made[0] != asked:
            line = improvised_line(
                form,
                start=Fraction(beat - zero).limit_denominator(24),
                end=Fraction(until - zero).limit_denominator(24),
                heard=heard,
                last=self._last,
                chorus=turn.number + 1,
                seed=self.settings.seed,
            )
            self._made = asked, line
        return self._made[1], until

    def _answered(self, turn: Turn, beat: float) -> tuple[tuple[float, int], ...]:
        """What the player said since the companion's last turn, line by line."""
        since = turn.start - (turn.end - turn.start) - 1
        return tuple((one.beat, max(one.keys)) for one in self._struck if since <= one.beat < beat + TINY)

    def _spoke(self, now: float) -> _KeyGroup | None:
        """The player's last note that isn't part of an accompaniment."""
        for one in reversed(self._struck):
            undecided = now - one.seconds < self.manners.together - TINY
            if undecided or len(one.keys) < self.manners.comping:
                return one
        return None
