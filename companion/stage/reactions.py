"""Reactions: how the companion's notes change with what the player does, decided as each note is struck.

More onsets than are written, or a running line: chords are left out, and thinned. A rest, or a note held longer than is
written: the companion answers with a chord. An unsure belief about the place: the bass keeps to roots, the chords rest.
Another chord than the chart's: notes that clash with it give way (:mod:`companion.arrange.chords.substitutes`). To a
player who plays what is written there is no reaction. Amounts and thresholds are in ``configs/listening.toml``.

Conventions: seconds on the rehearsal's clock; beats in quarters from the first downbeat, going on through the choruses;
speed in quarters a second; MIDI numbers. A decision depends only on what was told before it, so that a performance
gives the same however it is cut in pieces. Chance comes from the seed and the place.
"""

from __future__ import annotations

import random
from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from companion.arrange.chords.answering import answer
from companion.arrange.chords.substitutes import MeantChord, clashes, meant_harmony, nearest_agreeing, unforeseen
from companion.arrange.events import Stretch
from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.melody.part import index_melody
from companion.arrange.part import Note
from companion.chart.model import Form
from companion.messages import TINY, Part
from companion.music.pitch import pitch_in_key
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences, BassRange
from companion.preferences.listening import ListeningPreferences
from companion.stage.band import Cue
from companion.stage.order import roles
from companion.stage.settings import Settings

APPROACHES = (1, -1, 2, -2, 7, -5)
"""Semitones from a root to the notes that lead to it (common practice)."""
ANSWER = "answers where the player rests"
"""Reason of an answering chord, as it is said to the player."""
FIRM = ("1", "b3", "3", "4", "b7", "7", "bb7", "6")
"""Degrees that a thinned chord keeps first; roots where the voicing has them."""


@dataclass(frozen=True)
class HeldKey:
    """A key that is down."""

    seconds: float
    beat: float
    """Where it belongs: what comes just before a chord belongs to that chord."""
    written: bool
    """The chart's melody has it there."""
    needs: float
    """Beats that it must be down to count by itself."""


@dataclass(frozen=True)
class _HarmonySpan:
    """A chord of the chart as long as it lasts, over bar lines too."""

    start: float
    end: float
    harmony: Harmony


@dataclass(frozen=True)
class _PlayedChord:
    """A chord that the player struck: where it belongs, and what."""

    beat: float
    classes: frozenset[int]
    lowest: int


class Reactions:
    """What was heard of one player in one rehearsal, and what follows from it.

    Parameters
    ----------
    settings : Settings
    stretch : Stretch
        What is played first.
    """

    def __init__(self, settings: Settings, stretch: Stretch) -> None:
        self.settings = settings
        self.likes = preferences(ListeningPreferences)
        self.bass = preferences(BassPreferences).range
        self.ahead = self.likes.agree.ahead
        """Beats by which sounding notes are compared with what comes."""
        self.unsure = False
        self.company = 0.0
        """How busy the companion's own line makes it, 0 to 1."""
        self._down: dict[int, HeldKey] = {}
        self._onsets: deque[float] = deque(maxlen=64)
        """Moments at which keys were struck, those of one chord once."""
        self._struck: dict[int, bool] = {}
        """The last keys that were struck together, and whether each is the melody's there."""
        self._struck_at = float("-inf")
        """The moment of the first of them."""
        self._said: _PlayedChord | None = None
        self._chord_at = float("-inf")
        """Where the companion's last chord was struck."""
        self._answer_at = float("-inf")
        """The moment at which the last answer was decided on."""
        self.enter(stretch)

    def enter(self, stretch: Stretch, *, improvised: bool = False) -> None:
        """From now on a stretch is on: its bars, chords and melody; the player may improvise in the melody's place."""
        self.form, self.you = stretch.form, roles(stretch, self.settings.you, improvised=improvised)
        self.zero, self.length = float(stretch.start), float(stretch.form.length)
        self._runs = _runs(self.form)
        self._starts = [run.start for run in self._runs]
        self._written = index_melody(self.form) if "melody" in self.you else None
        self._melody_onsets = sorted({round(float(note.beat % self.form.length), 4) for note in self.form.melody})

    # What the player does

    def key_down(self, seconds: float, beat: float, midi: int) -> None:
        """A key went down; ``beat`` is where the player is then."""
        agree = self.likes.agree
        left = self._left(beat)
        belongs = beat + left if left <= agree.early else beat
        low = "bass" in self.you and (midi < agree.left_hand or len(self.you) == 1)
        needs = agree.held_bass if low else agree.held
        written = self._in_melody(beat, midi)
        self._down[midi] = HeldKey(seconds, belongs, written, needs)
        if not self._struck or seconds - self._struck_at > agree.together:
            self._onsets.append(seconds)
            self._struck, self._struck_at = {}, seconds
        self._struck[midi] = written
        # A run or an ornament of the melody is no chord, however fast: the melody's own notes don't count.
        own = {key % 12 for key, of_melody in self._struck.items() if not of_melody}
        if len(own) >= (agree.chord_comping if "chords" in self.you else agree.chord):
            self._said = _PlayedChord(belongs, frozenset(key % 12 for key in self._struck), min(self._struck) % 12)

    def key_up(self, midi: int) -> None:
        """A key came up."""
        self._down.pop(midi, None)

    def believe(self, mass: float) -> None:
        """How probable the player's place is by now."""
        doubt = self.likes.doubt
        self.unsure = mass < (doubt.sure if self.unsure else doubt.unsure)

    def beside(self, line: float) -> None:
        """How busy the companion's own line makes it from now on, 0 to 1; 0 without one."""
        self.company = line

    def busy(self, now: float, beat: float, speed: float) -> float:
        """How busy the player is: 0 at leisure or as written, 1 at the most."""
        data = self.likes.busy
        window = data.window
        since = now - window / speed
        played = len(self._onsets) - bisect_right(self._onsets, since)
        if self._written is None:
            low, high = (window * rate for rate in data.running)
        else:
            low, high = data.extra
            played -= self._notes_written(beat - window, beat + data.slack)
        return float(min(1.0, max(0.0, (played - low) / (high - low))))

    # What follows from it

    def next_moment(self, now: float, speed: float) -> float | None:
        """When a key that is down now will count by itself, in seconds."""
        moments = (key.seconds + key.needs / speed for key in self._down.values() if not key.written)
        return min((moment for moment in moments if moment > now + TINY), default=None)

    def judged(self, now: float, cue: Cue, beat: float, speed: float, sounding: Collection[int]) -> Note | None:
        """The note to be struck in a cue's place: itself, or another; None when it is to be left out.

        Parameters
        ----------
        now : float
            The moment of deciding, in seconds.
        cue : Cue
        beat : float
            Where the player is, in beats through the choruses.
        speed : float
            Quarters a second.
        sounding : collection of int
            MIDI numbers of what else sounds of its part.
        """
        part = cue.note.part
        if part == "bass" and self.unsure:
            return self._root(cue)
        if part == "chords":
            if self.unsure or not self._wanted(now, cue, beat, speed):
                return None
            self._chord_at = cue.beat
        return self._agreed(now, cue, beat, sounding) if part in ("bass", "chords", "solo") else cue.note

    def yields(self, beat: float, sounding: Iterable[tuple[Part, int]]) -> list[tuple[Part, int]]:
        """Of the notes that sound, those that clash with what the player sounds: part and MIDI number."""
        run, place = self._run(beat)
        heard, lowest = self._heard(beat, run, place)
        if not unforeseen(run.harmony, heard):
            return []
        instead = meant_harmony(self.likes.agree, run.harmony, heard, lowest)
        return [(part, midi) for part, midi in sounding if clashes(midi % 12, run.harmony, heard, instead)]

    def moved(self, beat: float, midi: int) -> int | None:
        """Where a bass note that clashes goes: a MIDI number, or None."""
        run, place = self._run(beat)
        heard, lowest = self._heard(beat, run, place)
        instead = meant_harmony(self.likes.agree, run.harmony, heard, lowest)
        if instead is not None and midi % 12 == run.harmony.bass:
            return _nearest(instead.root, midi, self.bass)
        return _within(nearest_agreeing(midi, run.harmony, heard, instead), self.bass)

    def may_answer(self, now: float, beat: float, speed: float) -> bool:
        """Whether the player leaves a gap that the chart doesn't have."""
        data = self.likes.answer
        if self.unsure or not self._onsets or beat - self._chord_at < data.apart:
            return False
        quiet, slack = (now - self._onsets[-1]) * speed, self.likes.busy.slack
        if self._written is None:
            return quiet >= data.rest
        return quiet >= data.gap and self._notes_written(beat - quiet + slack, beat - slack) > 0

    def answers(self, now: float, beat: float, coming: Sequence[Cue], plan: Sequence[Note]) -> list[Cue]:
        """A chord for a gap that the chart doesn't have, to be struck within the beat that begins now; or nothing.

        Parameters
        ----------
        now : float
            The moment of deciding, in seconds.
        beat : float
            Through the choruses.
        coming : sequence of Cue
            The chords arranged for the next beats.
        plan : sequence of Note
            The chords of the whole chorus, in chart beats.
        """
        data = self.likes.answer
        if coming:
            return []
        chance = random.Random(f"answer/{self.settings.seed}/{round(beat, 3)}")
        at = beat + (0.5 if chance.random() < data.off_beat else 0.0)
        run, _ = self._run(at)
        length = min(data.length, self._left(at))
        if length < 0.5 or not run.harmony.written:
            return []
        self._answer_at = now
        notes = answer(
            self.form,
            run.harmony,
            Fraction(self._at(at)).limit_denominator(24),
            Fraction(length).limit_denominator(24),
            arranged=plan,
            above=self._above(self._at(at), length),
            treatment=self.settings.treatment,
            reason=ANSWER,
            weight=data.weight,
        )
        return [Cue(at, at + length, note) for note in notes]

    # Parts of the above

    def _run(self, beat: float) -> tuple[_HarmonySpan, tuple[int, int]]:
        """The chord of a beat, and which it is: of which time through the stretch's bars, and its number."""
        n = max(0, bisect_right(self._starts, self._at(beat) + TINY) - 1)
        return self._runs[n], (int((beat - self.zero + TINY) // self.length), n)

    def _at(self, beat: float) -> float:
        """A beat in the stretch's own bars, which go round; just before the top it is the top, just below 0."""
        return (beat - self.zero + TINY) % self.length - TINY

    def _left(self, beat: float) -> float:
        """Beats up to the next chord."""
        return self._run(beat)[0].end - self._at(beat)

    def _in_melody(self, beat: float, midi: int) -> bool:
        near = self.likes.agree.written
        if self._written is None:
            return False
        at = self._at(beat)
        return midi % 12 in self._written.classes(at - near, at + near)

    def _notes_written(self, low: float, high: float) -> int:
        """Onsets in the chart's melody from one beat up to another, through the choruses."""
        return self._written_before(high) - self._written_before(low)

    def _written_before(self, beat: float) -> int:
        turns, at = divmod(beat - self.zero, self.length)
        return int(turns) * len(self._melody_onsets) + bisect_left(self._melody_onsets, at)

    def _heard(self, beat: float, run: _HarmonySpan, place: tuple[int, int]) -> tuple[frozenset[int], int]:
        """Pitch classes that the player sounds over the chord of a beat, as far as they count, and the lowest."""
        agree = self.likes.agree
        classes: set[int] = set()
        lowest = -1
        if self._said is not None and self._run(self._said.beat + TINY)[1] == place:
            classes |= self._said.classes
            lowest = self._said.lowest
        since = self._at(beat) - run.start
        for midi, key in sorted(self._down.items()):
            if key.written or key.beat > beat + TINY:
                continue
            carried = self._run(key.beat + TINY)[1] != place
            if since >= agree.carried if carried else beat - key.beat >= key.needs - TINY:
                classes.add(midi % 12)
                lowest = midi % 12 if lowest < 0 else lowest
        return frozenset(classes), lowest

    def _root(self, cue: Cue) -> Note | None:
        """The root where a chord begins, or a bar of a long one; otherwise nothing."""
        at = self._at(cue.beat)
        run, _ = self._run(cue.beat)
        begins = abs(at - run.start) < 0.1 or any(abs(at - float(bar)) < 0.1 for bar in self.form.bars)
        if not begins or not run.harmony.written:
            return None
        midi = _nearest(run.harmony.bass, cue.note.midi, self.bass)
        return self._as(cue.note, midi, "the root, until the place is sure again")

    def _wanted(self, now: float, cue: Cue, beat: float, speed: float) -> bool:
        """Whether a chord's note is wanted, as busy as the player is."""
        if cue.note.reason == ANSWER:
            return self._onsets[-1] <= self._answer_at  # unless they have come in meanwhile
        busy = max(self.company, self.busy(now, beat, speed))
        if busy <= 0:
            return True
        data = self.likes.busy
        chance = random.Random(f"busy/{self.settings.seed}/{round(cue.beat, 2)}")
        if chance.random() < data.left_out * busy:
            return False
        most, least = data.voices
        return self._rank(cue.note) < int(most - round(busy * (most - least)))

    def _rank(self, note: Note) -> int:
        """Which of a chord's voices to keep: 0 and 1 for third and seventh, then the others from the top."""
        if note.degree in FIRM:
            return 0 if "3" in note.degree or note.degree == "4" else 1
        return 2 if note.degree not in ("5", "b5", "#5") else 3

    def _agreed(self, now: float, cue: Cue, beat: float, sounding: Collection[int]) -> Note | None:
        """The cue's note, or what agrees with the player in its place."""
        note, midi = cue.note, cue.note.midi
        run, place = self._run(cue.beat)
        left = self._left(cue.beat)
        pulse = float(self.form.metre.pulse)
        if note.part == "chords" and left <= self.likes.agree.early:
            return note  # it belongs to the chord to come
        heard, lowest = self._heard(max(beat, cue.beat), run, place)
        if not unforeseen(run.harmony, heard):
            return note
        instead = meant_harmony(self.likes.agree, run.harmony, heard, lowest)
        if not clashes(midi % 12, run.harmony, heard, instead):
            return note
        if note.part == "bass":
            leads = left <= pulse + 0.1 < run.end - run.start
            new = self._other_approach(cue, heard, run, instead) if leads else self.moved(cue.beat, midi)
            return self._as(note, midi if new is None else new, "with the chord that the player means")
        new = nearest_agreeing(midi, run.harmony, heard, instead)
        if new is None or new in sounding or new in self._down:
            return None
        return self._as(note, new, "with the chord that the player means")

    def _other_approach(
        self, cue: Cue, heard: frozenset[int], run: _HarmonySpan, instead: MeantChord | None
    ) -> int | None:
        """Another way into the next chord's root: a semitone, a tone or a fifth from it, without a clash."""
        midi = cue.note.midi
        goal = _nearest(self._run(cue.beat + self._left(cue.beat) + TINY)[0].harmony.bass, midi, self.bass)
        ways = [goal + step for step in APPROACHES if not clashes((goal + step) % 12, run.harmony, heard, instead)]
        return _within(min(ways, key=lambda way: abs(way - midi), default=None), self.bass)

    def _as(self, note: Note, midi: int, why: str) -> Note:
        return note if midi == note.midi else replace(note, pitch=pitch_in_key(midi, self.form.fifths), reason=why)

    def _above(self, place: float, length: float) -> list[int]:
        """What the player holds, and what is written for them meanwhile, as MIDI numbers."""
        written = self._written.sounding(place, place + length) if self._written is not None else []
        return [*self._down, *(note.pitch.midi for note in written)]


@lru_cache(maxsize=16)
def _runs(form: Form) -> tuple[_HarmonySpan, ...]:
    found: list[_HarmonySpan] = []
    for harmony in harmonies(form):
        if found and found[-1].harmony.label == harmony.label and found[-1].harmony.written == harmony.written:
            found[-1] = replace(found[-1], end=float(harmony.end))
        else:
            found.append(_HarmonySpan(float(harmony.start), float(harmony.end), harmony))
    return tuple(found)


def _nearest(pc: int, midi: int, span: BassRange) -> int:
    """The note of a pitch class nearest to a bass note, in the bass's range."""
    within = (m for m in range(span.lowest, span.highest + 1) if m % 12 == pc)
    return min(within, key=lambda m: (abs(m - midi), m))


def _within(midi: int | None, span: BassRange) -> int | None:
    """A bass note, in another octave where it lies outside of the bass's range."""
    if midi is None:
        return None
    return midi + 12 if midi < span.lowest else midi - 12 if midi > span.highest else midi
