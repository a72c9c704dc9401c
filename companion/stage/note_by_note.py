"""NoteByNote for a player note by note, in `patient` time: where they are is the last note that they got right.

The follower's belief weighs everything that a player may be doing; somebody who works out a passage with the companion
waiting for them does one thing: they look for the next note, however long it takes. So the companion's place is kept by
the row of onsets that are to be played. The one that is due moves it on, in any octave; another key doesn't. A note
left out on purpose moves it on with the next right one where that comes in time, else with the one after. A player who
begins again elsewhere is found by the notes that they play there: three from the head of a bar that was played already,
four from anywhere.

Conventions: seconds on the rehearsal's clock; beats in quarters, through the choruses; speed in quarters a second.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from math import exp, floor, log

from companion.arrange.touch.swinging import part_ratio
from companion.chart.model import Form
from companion.music.swing import straight_quarters, to_sounding
from companion.stage.settings import Settings

OCTAVE = 12
SKIPPED = 3
"""Onsets that may be left out at a time."""
SKIP_NEAR = 0.25
"""Quarters from its moment within which an onset is believed at once where those before it weren't struck. At any other
time it may be a wrong key as well, until the next one is right, too."""
TOGETHER = 0.15
"""Seconds after an onset in which its further keys, or the same key again, say nothing new."""
FROM_A_BAR, FROM_ANYWHERE = 3, 4
"""Notes in a row by which a player is found elsewhere: from the first note of a bar gone by, and from any place."""
STEADIER = 0.35
"""How much of a new tempo is taken over from one quarter to the next."""
SLOWEST, FASTEST = 0.6, 1.5
"""Of the tempo that was: what is slower is a hesitation, what is faster a slip."""
JUST_BEFORE = 0.02
"""Quarters before the onset that is waited for at which the companion's place stands still."""


@dataclass(frozen=True)
class DueOnset:
    """Notes that are to be struck together."""

    beat: float
    """Written, in the form."""
    sounds: float
    """Where they sound, swing put on."""
    pitches: frozenset[int]
    """Pitch classes."""
    opens_bar: bool
    """Whether nothing is to be played before it in its bar."""


def onsets_of(form: Form, you: frozenset[str], tempo: float) -> tuple[DueOnset, ...]:
    """What a player is to strike note for note, once through the form; empty where their parts are free.

    Parameters
    ----------
    form : Form
    you : frozenset of str
        The player's parts.
    tempo : float
        Quarters a minute.
    """
    notes = [(note.beat, note.pitch.midi) for note in form.melody] if "melody" in you else []
    for part in ("chords", "bass"):
        if part in you and (written := form.written_part(part)):
            notes += [(note.beat, note.pitch.midi) for note in written.notes]
    even, ratio = straight_quarters(note.beat for note in form.melody), part_ratio(form, "melody", tempo)
    found: list[DueOnset] = []
    bar = -1
    for beat, group in groupby(sorted(notes), key=lambda note: note[0]):
        here = form.bar_at(max(beat, form.bars[0]))
        pitches = frozenset(midi % OCTAVE for _, midi in group)
        found.append(DueOnset(float(beat), to_sounding(beat, ratio, even), pitches, here != bar))
        bar = here
    return tuple(found)


class NoteByNote:
    """The place of a player who is waited for.

    Parameters
    ----------
    form : Form
    settings : Settings
    onsets : sequence of DueOnset
        Once through the form, one at least.
    """

    def __init__(self, form: Form, settings: Settings, onsets: Sequence[DueOnset]) -> None:
        self._onsets, self._count, self._length = tuple(onsets), len(onsets), float(form.length)
        self.speed = (settings.tempo or form.tempo) / 60
        self._next = 0
        """The onset that is waited for, numbered through the choruses."""
        self._anchor: tuple[float, float] | None = None
        """Beat and second of the last onset that was struck, or of the count-in's end."""
        self._played: deque[tuple[int, int | None]] = deque(maxlen=FROM_ANYWHERE)
        """The last keys' pitch classes, and as which onset each was taken."""
        self._perhaps: int | None = None
        """The onset that the last key may have been, had those before it been left out: the next key tells."""

    @property
    def begun(self) -> bool:
        """Whether it is known where the player is."""
        return self._anchor is not None

    @property
    def since(self) -> float:
        """The moment from which the place is known."""
        return self._anchor[1] if self._anchor else float("-inf")

    @property
    def waits_at(self) -> float:
        """The place at which time stands still: just before the onset that is waited for."""
        return self._sounds(self._next) - JUST_BEFORE

    def begin(self, beat: float, seconds: float) -> None:
        """The player is at a beat at a moment, counted in or found; the first onset from there on is waited for."""
        self._anchor = beat, seconds
        chorus = floor(beat / self._length)
        self._next = chorus * self._count
        while self._beat(self._next) < beat - JUST_BEFORE:
            self._next += 1
        if chorus == 0 and beat == 0.0:
            self._next = 0  # a pickup lies before the first beat

    def place(self, now: float) -> float:
        """Where the player is: in time after the last onset, and just before the next as long as it isn't struck."""
        assert self._anchor is not None
        beat, seconds = self._anchor
        return max(beat, min(beat + (now - seconds) * self.speed, self.waits_at))

    def due(self, beat: float) -> float:
        """When a beat is due in time after the last onset, be it waited for or not."""
        assert self._anchor is not None
        return self._anchor[1] + (beat - self._anchor[0]) / self.speed

    def hear(self, now: float, midi: int) -> None:
        """A key went down."""
        if self._anchor is None:
            return
        pc = midi % OCTAVE
        taken = self._taken_as(now, pc)
        self._played.append((pc, taken))
        if taken is None and (found := self._elsewhere()) is not None:
            taken = found
            self._played[-1] = pc, taken
            self._anchor = None
        if taken is not None and taken != self._next - 1:
            self._strike(taken, now)

    # Which onset it is

    def _taken_as(self, now: float, pc: int) -> int | None:
        assert self._anchor is not None
        beat, seconds = self._anchor
        if pc in self._pitches(self._next):
            return self._next
        if now - seconds <= TOGETHER and self._next and pc in self._pitches(self._next - 1):
            return self._next - 1
        before, self._perhaps = self._perhaps, None
        if before is not None and pc in self._pitches(before + 1):
            return before + 1
        gone = (now - seconds) * self.speed
        for n in range(self._next + 1, self._next + 1 + SKIPPED):
            if pc in self._pitches(n):
                if abs(gone - (self._sounds(n) - beat)) <= SKIP_NEAR:
                    return n
                self._perhaps = self._perhaps or n
        first = self._after_pickup(self._next)
        # Who leaves the pickup out begins with the form.
        return first if first > self._next and pc in self._pitches(first) else None

    def _elsewhere(self) -> int | None:
        """The onset that was struck last if the last keys are a row of onsets somewhere else."""
        found = []
        chorus = self._next // self._count * self._count
        for many in (FROM_A_BAR, FROM_ANYWHERE):
            last = list(self._played)[-many:]
            if len(last) < many or sum(taken is None for _, taken in last) < many - 1:
                continue  # most of it was right where it was: one wrong key makes no other place
            for first in range(chorus, chorus + self._count - many + 1):
                n = first + many - 1
                if many == FROM_A_BAR and not (self._onsets[first % self._count].opens_bar and n < self._next):
                    continue
                if all(pc in self._pitches(first + k) for k, (pc, _) in enumerate(last)):
                    found.append((abs(n - self._next), n))
        return min(found)[1] if found else None

    def _strike(self, n: int, now: float) -> None:
        """An onset was struck: the place is there, and the tempo what it took from the one before."""
        sounds = self._sounds(n)
        if self._anchor is not None and now > self._anchor[1] and sounds > self._anchor[0]:
            beats = sounds - self._anchor[0]
            speed = beats / (now - self._anchor[1])
            if SLOWEST <= speed / self.speed <= FASTEST:
                share = 1 - (1 - STEADIER) ** min(beats, 4.0)
                self.speed = exp((1 - share) * log(self.speed) + share * log(speed))
        self._anchor = sounds, now
        self._next = n + 1

    def _after_pickup(self, n: int) -> int:
        """The first onset from one on that isn't of a pickup."""
        while self._onsets[n % self._count].beat < 0:
            n += 1
        return n

    def _beat(self, n: int) -> float:
        return self._onsets[n % self._count].beat + n // self._count * self._length

    def _sounds(self, n: int) -> float:
        return self._onsets[n % self._count].sounds + n // self._count * self._length

    def _pitches(self, n: int) -> frozenset[int]:
        return self._onsets[n % self._count].pitches
