"""What the companion plays: the notes of its parts, chorus by chorus, where they sound and how loud, and their ends.

Conventions: beats in quarters from the first downbeat, going on through the choruses; seconds on the rehearsal's clock;
velocities 1-127. Written beats become sounding ones by :mod:`companion.music.swing`, with a ratio that goes with the
tempo. Dynamics follow the player: the level is a running mean of their velocities (common practice: a louder player, a
louder band).
"""

from __future__ import annotations

import heapq
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from companion.arrange.events import Stretch, stretch_notes
from companion.arrange.part import Note
from companion.arrange.request import Request
from companion.arrange.touch.stroke import PLAIN, Stroke, strokes
from companion.arrange.touch.swinging import end_ratio, part_ratio
from companion.arrange.treating import AS_CHARTED, Treatments, treated_otherwise
from companion.chart.model import Form
from companion.messages import TINY, Order, Part
from companion.music.swing import feel, straight_quarters, to_sounding, to_written
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences
from companion.preferences.listening import ListeningPreferences
from companion.preferences.touch import TouchPreferences
from companion.stage.clicks import FIRST, LASTS, LOUDER, OTHER
from companion.stage.order import OrderOfEvents, parts, roles
from companion.stage.settings import Settings

_TOP = Fraction(0)
NOTE_ON, NOTE_OFF = 0x90, 0x80
KEPT = 96
"""Arranged parts of stretches that are kept: those that sound, those prepared, and alternatives."""


@dataclass(frozen=True, order=True)
class Cue:
    """A note where it sounds; when it is struck, and how, is the stroke's."""

    beat: float
    end: float
    note: Note = field(compare=False)
    stroke: Stroke = field(default=PLAIN, compare=False)


@dataclass
class _Down:
    """A key that is down, or is ordered to be."""

    begun: float
    end: float
    """When it is to come up, in seconds."""
    left: float
    """Beats that are left of the note, by the beats gone since."""


@dataclass(frozen=True)
class _Arranged:
    """A part of one stretch."""

    notes: tuple[Note, ...]
    """In order of beat."""
    beats: tuple[float, ...]
    """Where each is written, as chart beat."""
    straight: frozenset[int]
    """Quarters that don't swing."""
    strokes: tuple[Stroke, ...]
    """How each is struck."""


@dataclass(frozen=True)
class PartAsked:
    """A part to be arranged: all that its notes depend on."""

    stretch: Stretch
    part: Part
    request: Request
    """By a player who improvises in the melody's place, a solo is played there."""


PreparedParts = dict[PartAsked, _Arranged]
"""Parts that are arranged, by what was asked."""


def _gap(beats: Sequence[float], n: int) -> float:
    """Quarters from a note to the nearer of its neighbours."""
    before = beats[n] - beats[n - 1] if n else float("inf")
    return min(before, beats[n + 1] - beats[n] if n + 1 < len(beats) else float("inf"))


class Band:
    """The companion's parts through the choruses.

    Parameters
    ----------
    form : Form
    settings : Settings
    tune : OrderOfEvents, optional
        The way through the tune; round and round if not given.
    """

    def __init__(self, form: Form, settings: Settings, tune: OrderOfEvents | None = None) -> None:
        self.form, self.settings = form, settings
        self.tune = tune or OrderOfEvents(form, settings)
        self.touch = preferences(TouchPreferences).parts
        self.latest = preferences(TouchPreferences).live.latest_ms / 1000
        self._quickest = preferences(BassPreferences).fills.shortest_ms
        self.dynamics = preferences(ListeningPreferences).dynamics
        self.level = 64.0
        self._straight_melody = straight_quarters(note.beat % form.length for note in form.melody)
        self.orders: list[Order] = []
        self.treatments = AS_CHARTED
        """Sections that are treated otherwise."""
        self.behind_a_solo = False
        """Whether the player improvises where they were to play the melody."""
        self._arranged: PreparedParts = {}
        self._line: tuple[Sequence[Note], float, _Arranged] | None = None
        """The notes that were laid last, where, and how they are struck."""
        self._ends: list[tuple[float, Part, int]] = []
        self._down: dict[tuple[Part, int], _Down] = {}
        self._up: dict[tuple[Part, int], float] = {}
        """When each key came up last."""

    def accompany(self, *, improvised: bool) -> None:
        """Comp as behind a soloist from now on, or around the melody again."""
        self.behind_a_solo = improvised

    def treat(self, treatments: Treatments) -> None:
        """Treat some sections otherwise from the next note on: call it at a bar line."""
        self.treatments = treatments

    def hear(self, velocity: int, beats: float) -> None:
        """Follow the player's dynamics: 70 per cent of the way within two beats, however many notes they have.

        ``beats`` is how long ago their last note was, in quarters; a chord's further notes count a little each. The
        numbers are in ``listening.toml``.
        """
        way = self.dynamics
        share = max(way.least, 1 - 0.5 ** (min(beats, way.latest) / way.halfway))
        self.level += share * (velocity - self.level)

    def _ratio(self, tempo: float) -> float:
        """Long quaver to short one at a tempo, quarters a minute; modest where a tune is practised below its own."""
        if self.form.metre.compound:
            return 1.0
        swings = feel(self.form.feel)
        return round(swings.ratio(tempo, practice=tempo < swings.practice_below * self.form.tempo), 2)

    def cues(self, low: float, high: float, tempo: float, only: tuple[Part, ...] | None = None) -> list[Cue]:
        """The notes that sound from ``low`` up to, not including, ``high``, in order of beat.

        The tempo is in quarters a minute; ``only`` some parts. A pickup of the next chorus is among the notes.
        """
        found = []
        for stretch in self.tune.around(low, high):
            for part in parts(stretch, self.settings):
                if only is None or part in only:
                    found += self._sounding_between(low, high, stretch, part, tempo)
        return sorted(found)

    def laid(self, low: float, high: float, tempo: float, line: Sequence[Note], zero: float) -> list[Cue]:
        """Of some notes in order, those that sound between two beats; their beat 0 is at ``zero``.

        Parameters
        ----------
        low, high : float
            Beats through the choruses, the second excluded.
        tempo : float
            Quarters a minute.
        line : sequence of Note
            In order, in chart beats.
        zero : float
            The beat through the choruses that is their beat 0.
        """
        if self._line is None or self._line[0] is not line or self._line[1] != zero:
            self._line = line, zero, _struck(self.form, line, f"{self.settings.seed}/{zero}")
        return self._between(low, high, zero, self._line[2], tempo)

    def _sounding_between(self, low: float, high: float, stretch: Stretch, part: Part, tempo: float) -> list[Cue]:
        return self._between(low, high, float(stretch.zero), self._part(stretch, part, self.behind_a_solo), tempo)

    def _between(self, low: float, high: float, base: float, arranged: _Arranged, tempo: float) -> list[Cue]:
        if not arranged.notes:
            return []
        part = arranged.notes[0].part
        ratio, ends = (round(of(self.form, part, tempo), 2) for of in (part_ratio, end_ratio))
        # Swing delays, and moves nothing out of its quarter: only what is written thereabouts need be looked at.
        first = bisect_left(arranged.beats, low - base - 1)
        last = bisect_left(arranged.beats, high - base)
        found = []
        for n in range(first, last):
            note, stroke = arranged.notes[n], arranged.strokes[n]
            if (
                part == "bass"
                and note.beat % self.form.metre.pulse
                and _gap(arranged.beats, n) * 60_000 / tempo < self._quickest
            ):
                continue  # a fill that is too quick at this tempo
            start = to_sounding(note.beat, ratio, arranged.straight)
            if low - TINY <= base + start < high - TINY:
                straight = arranged.straight | (self._straight_melody if part == "chords" else frozenset())
                end = to_sounding(note.beat + note.length, ends, straight)  # let go as the melody moves on, not after
                until = base + (start + (end - start) * stroke.held)
                found.append(Cue(base + start, until, note, self._in_time(stroke)))
        return found

    def prepare(self, chorus: int, treatments: Treatments | None = None) -> Callable[[], PreparedParts]:
        """What arranges a chorus (1 = the first) before it is needed, in whatever thread it is called.

        The treatments are those that are on, unless others are given, which are going to be.
        """
        treatments = self.treatments if treatments is None else treatments
        told, tune, known = self.settings, self.tune.as_it_stands(), dict(self._arranged)

        def work() -> PreparedParts:
            made: PreparedParts = {}
            for stretch in tune.possible(chorus):
                for part in parts(stretch, told):
                    for improvised in (False, True):  # which most parts have nothing to do with
                        asked = _asked(told, stretch, part, improvised, treatments)
                        if asked not in known and asked not in made:
                            made[asked] = _arrange(asked)
            return made

        return work

    def adopt(self, prepared: PreparedParts) -> None:
        """Take parts that were arranged ahead; what is there already stays."""
        for asked, arranged in prepared.items():
            if asked not in self._arranged:
                self._keep(asked, arranged)

    def _part(self, stretch: Stretch, part: Part, improvised: bool) -> _Arranged:
        """A part as arranged; the chords may be those behind a solo."""
        asked = _asked(self.settings, stretch, part, improvised, self.treatments)
        arranged = self._arranged.get(asked)
        if arranged is None:
            arranged = _arrange(asked)
            self._keep(asked, arranged)
        return arranged

    def _keep(self, asked: PartAsked, arranged: _Arranged) -> None:
        self._arranged[asked] = arranged
        for old in list(self._arranged)[:-KEPT]:  # played long ago; it would be arranged the same again
            del self._arranged[old]

    def strike(self, cue: Cue, seconds: float, speed: float) -> None:
        """Order a note at a moment.

        Parameters
        ----------
        cue : Cue
        seconds : float
            The moment, that of its stroke.
        speed : float
            Quarters a second: it tells how long the note lasts.
        """
        touch = self.touch[cue.note.part]
        velocity = touch.level + touch.follows * (self.level - 64)
        velocity *= cue.note.weight * cue.stroke.firmness
        beats = cue.end - cue.beat
        self._on(cue.note.part, cue.note.midi, velocity, seconds, max(0.04, beats / speed), beats)

    def sound(self, part: Part, midi: int, seconds: float, beats: float, speed: float) -> None:
        """Order a note that isn't in the plan, at the part's level, for so many beats at a speed.

        Parameters
        ----------
        part : Part
        midi : int
        seconds : float
            The moment.
        beats : float
            How long it lasts, in quarters.
        speed : float
            Quarters a second.
        """
        touch = self.touch[part]
        velocity = touch.level + touch.follows * (self.level - 64)
        self._on(part, midi, velocity, seconds, beats / speed, beats)

    def click(self, seconds: float, first: bool) -> None:
        """Order a click; the first of a bar is higher."""
        level = self.touch["click"].level * (LOUDER if first else 1)
        self._on("click", FIRST if first else OTHER, level, seconds, LASTS, 0.0)

    def _on(self, part: Part, midi: int, velocity: float, seconds: float, lasts: float, beats: float) -> None:
        """A key goes down at a moment, and is to come up so many seconds later; ``beats`` is what is written."""
        key, end = (part, midi), seconds + lasts
        down = self._down.get(key)
        if down is not None and seconds <= down.begun + TINY:  # a key goes down once: two voices meet on it
            down.left = max(down.left, beats)
            self._end_at(key, max(down.end, end))
            return
        if down is not None:
            self._off(part, midi, min(seconds, down.end))
        begun = max(seconds, self._up.get(key, seconds))  # never before it came up, by whatever the last digit says
        self._down[key] = _Down(begun, end, beats)
        self._end_at(key, end)
        self.orders.append(Order(begun, part, NOTE_ON, midi, round(min(max(velocity, 8), 120))))

    def _end_at(self, key: tuple[Part, int], seconds: float) -> None:
        self._down[key].end = seconds
        heapq.heappush(self._ends, (seconds, *key))

    def _off(self, part: Part, midi: int, seconds: float) -> None:
        """A key comes up; one that was only just to go down stays up."""
        down = self._down.pop((part, midi))
        if seconds <= down.begun + TINY and self._withdrawn(down, part, midi):
            return
        seconds = self._up[part, midi] = max(seconds, down.begun)
        self.orders.append(Order(seconds, part, NOTE_OFF, midi, 0))

    def _withdrawn(self, down: _Down, part: Part, midi: int) -> bool:
        """Take a note back that nobody has taken yet; whether there was one."""
        for n, order in enumerate(self.orders):
            if (order.seconds, order.part, order.status, order.data1) == (down.begun, part, NOTE_ON, midi):
                del self.orders[n]
                return True
        return False

    def next_end(self) -> float | None:
        """When the next sounding note ends, in seconds."""
        while self._ends and self.until(*self._ends[0][1:]) != self._ends[0][0]:
            heapq.heappop(self._ends)
        return self._ends[0][0] if self._ends else None

    def end_due(self, seconds: float) -> None:
        """Order the ends of notes that are over by a moment."""
        while (end := self.next_end()) is not None and end <= seconds + TINY:
            _, part, midi = heapq.heappop(self._ends)
            self._off(part, midi, end)

    def beat_sounded(self, seconds: float) -> None:
        """A beat is sounded: what is written to be over for a beat or more comes to its end.

        How many seconds a note lasts is known by the speed at which it is struck; a player who then races away leaves
        it behind.
        """
        pulse = float(self.form.metre.pulse)
        for (part, midi), down in list(self._down.items()):
            down.left -= pulse
            if down.left < -pulse and part != "click":
                self._off(part, midi, min(down.end, seconds))

    def release(self, seconds: float, keep: Callable[[Part], bool] = lambda part: False) -> None:
        """End what sounds at a moment, but for the parts to keep."""
        for (part, midi), down in sorted(self._down.items(), key=lambda one: one[0]):
            if not keep(part):
                self._off(part, midi, min(down.end, seconds))

    def sounding(self, part: Part) -> tuple[int, ...]:
        """MIDI numbers of what sounds of a part, or is ordered to."""
        return tuple(midi for p, midi in self._down if p == part)

    def until(self, part: Part, midi: int) -> float:
        """When a sounding note is to end, in seconds; minus infinity when it doesn't sound."""
        down = self._down.get((part, midi))
        return float("-inf") if down is None else down.end

    def silence(self, part: Part, midi: int, seconds: float) -> None:
        """End one note early."""
        if (part, midi) in self._down:
            self._off(part, midi, min(seconds, self._down[part, midi].end))

    def shorten(self, part: Part, midi: int, seconds: float) -> None:
        """Let one note end at a moment, if it would sound longer."""
        if self.until(part, midi) > seconds:
            self._end_at((part, midi), seconds)

    def planned(self, part: Part, beat: float) -> tuple[Note, ...]:
        """All notes of a part in the stretch of a beat, in order, at chart beats."""
        return self._part(self.tune.at(beat), part, self.behind_a_solo).notes

    def written(self, beat: float, tempo: float) -> float:
        """The written place of what sounds at a beat."""
        return to_written(beat, self._ratio(tempo))

    def by_hand(self, chord: Sequence[Cue], tempo: float) -> list[Cue]:
        """A chord that isn't in the plan, at its written beat, as it is to be struck at a tempo, quarters a minute."""
        seed = f"{self.settings.seed}/{chord[0].beat if chord else 0.0}"
        found = strokes(self.form, [cue.note for cue in chord], seed)
        return [
            replace(cue, beat=self.swung(cue.beat, tempo), stroke=self._in_time(stroke))
            for cue, stroke in zip(chord, found, strict=True)
        ]

    def swung(self, beat: float, tempo: float) -> float:
        """Where a chord's written place sounds at a tempo, quarters a minute."""
        return to_sounding(beat, part_ratio(self.form, "chords", tempo))

    def _in_time(self, stroke: Stroke) -> Stroke:
        """A stroke as it is at the piano, no later behind the player's beat than is allowed."""
        return replace(stroke, late=min(stroke.late, self.latest)) if stroke.late > self.latest else stroke

    def take_orders(self) -> list[Order]:
        """The orders given since the last call, ends before beginnings at the same moment."""
        orders, self.orders = self.orders, []
        return sorted(orders, key=lambda order: (order.seconds, order.status))


def _asked(told: Settings, stretch: Stretch, part: Part, improvised: bool, treatments: Treatments) -> PartAsked:
    """What is to be arranged. Whether the player improvises matters in the head alone, and for the chords alone."""
    player = roles(stretch, told.you, improvised=improvised and stretch.kind == "head" and part == "chords")
    whole = told.treatment
    if treatments:
        stretch = treated_otherwise(stretch, treatments, whole)
        whole = whole if stretch.kind in ("introduction", "ending") else None
    return PartAsked(stretch, part, Request(treatment=whole, seed=told.seed, player=player, style=told.style))


def _arrange(asked: PartAsked) -> _Arranged:
    """Arrange a part: the same for the same, in any thread."""
    stretch = asked.stretch
    found = stretch_notes(stretch, asked.part, asked.request)
    return _struck(stretch.form, found, f"{asked.request.seed}/{stretch.start}", stretch.first)


def _struck(form: Form, notes: Sequence[Note], seed: str, first: Fraction = _TOP) -> _Arranged:
    """Notes of one part in order, and how they are struck; the form's first downbeat is their beat ``first``."""
    in_order = tuple(sorted(notes, key=lambda note: note.beat))
    beats = tuple(float(note.beat) for note in in_order)
    straight = straight_quarters(note.beat for note in in_order)
    in_form = [replace(note, beat=note.beat - first) for note in in_order] if first else in_order
    return _Arranged(in_order, beats, straight, tuple(strokes(form, in_form, seed)))
