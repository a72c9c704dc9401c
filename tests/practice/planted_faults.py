"""Takes by good players with planted faults, and what was planted where. Nothing here knows how takes are judged.

The player has a touch of 8 ms on a beat that wanders as people's do: by itself (a random walk that comes home, 1 to 3 %
of the tempo), or as the beats of a recording do. They play the melody as it is written, swung; chords without their
roots, in the melody's gaps where they have it, too; a bass that walks.

Conventions: beats in quarters; seconds from the start of the take; bars counted from 1.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_right
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from companion.chart.model import Form
from companion.messages import Heard
from companion.music.swing import straight_quarters, to_sounding
from tests.practice.fault_ways import A_BEAT, USUAL, Ways, comping, lag
from tests.practice.planted import HOME, TOUCH, WANDER, Leg

FaultKind = Literal[
    "rushed", "dragged", "wrong-note", "missed-note", "extra-note", "hesitated", "restarted", "swing", "skipped",
    "late-chord",
]  # fmt: skip
HELD_BACK, CHORD_LATE, EVEN_BARS = 0.9, 0.120, 4
"""Seconds of a hesitation, of a late chord; bars of even quavers."""
OF_MELODY: tuple[FaultKind, ...] = (
    "rushed", "dragged", "wrong-note", "missed-note", "extra-note", "hesitated", "restarted", "swing", "skipped",
)  # fmt: skip
KINDS: dict[str, tuple[FaultKind, ...]] = {
    "melody": OF_MELODY,
    "melody,chords": (*OF_MELODY, "late-chord"),
    "chords": ("rushed", "dragged", "hesitated", "late-chord"),
    "bass": ("rushed", "dragged", "hesitated"),
}
"""What can go wrong in each role so that a listener could tell: a key more among free chords is no fault."""
EVEN_FEELS = ("straight", "bossa", "latin")
CHORD_CLEAR = 0.05
"""Seconds from the next beat or off-beat quaver at which a late chord is heard as late."""
BACK_IN_PLACE, HEARD = ("caught up", "beside", "made good"), 3
"""Ways of rushing after which what follows is in its place; notes that must be out of it."""
CLEAR_BARS = 2
"""Bars between one fault and the next."""


@dataclass(frozen=True)
class Fault:
    """What was planted, and in which bars."""

    what: FaultKind
    first: int
    last: int
    at: float = 0.0
    """The beat of the note or chord, where it is one."""


@dataclass(frozen=True)
class Sounding:
    """A key of the player's before it has its moment."""

    beat: float
    """As written."""
    pitch: int
    part: str


@dataclass(frozen=True)
class FaultyTake:
    """A take and what was planted in it."""

    heard: tuple[Heard, ...]
    faults: tuple[Fault, ...]
    beats: tuple[tuple[float, float], ...]
    """Chart beats in quarters and their moments."""
    tempo: float
    """Quarters a minute, about: what a count-in says."""


@dataclass
class _Player:
    """A player of one form, with what they are about to do wrong."""

    form: Form
    parts: Collection[str]
    chance: random.Random
    quarter: float
    """Seconds, about."""
    ratio: float
    ways: Ways = USUAL
    notes: list[Sounding] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.even = straight_quarters(note.beat for note in self.form.melody)
        self.bars = [*map(float, self.form.bars), float(self.form.length)]
        if "melody" in self.parts:
            self.notes += [Sounding(float(note.beat), note.pitch.midi, "melody") for note in self.form.melody]
        if "chords" in self.parts:
            self.notes += self._chords()
        if "bass" in self.parts:
            self.notes += self._bass()
        self.notes.sort(key=lambda note: (note.beat, note.pitch))

    def _tones(self, beat: float) -> tuple[int, list[int]]:
        """Root and the other pitch classes of the chord at a beat; none under N.C."""
        chord = self.form.chord_at(beat).chord
        classes = list(chord.pitch_classes)
        return (classes[0], classes[1:5]) if classes else (0, [])

    def _chords(self) -> list[Sounding]:
        keys = comping(self.form, self.ways.comping, self.chance, with_melody="melody" in self.parts)
        return [Sounding(beat, key, "chords") for beat, key in keys]

    def _bass(self) -> list[Sounding]:
        found = []
        pulse = float(self.form.metre.pulse)
        before = 40
        for n in range(math.ceil(float(self.form.length) / pulse)):
            beat = n * pulse
            root, others = self._tones(beat)
            first = not n or self.form.chord_at(beat) != self.form.chord_at(beat - pulse)
            if others:
                pc = root if first else self.chance.choice([root, *others[:2]])
                below = before - (before - pc) % 12
                before = min((below, below + 12), key=lambda midi: (not 28 <= midi <= 52, abs(midi - before)))
                found.append(Sounding(beat, before, "bass"))
        return found

    def bar(self, beat: float) -> int:
        """The bar of a beat, 0 = a pickup."""
        return bisect_right(self.bars, beat + 1e-6)

    def within(self, bar: int, part: str | None = None) -> list[Sounding]:
        """The notes of a bar."""
        return [n for n in self.notes if self.bar(n.beat) == bar and part in (None, n.part)]

    def sounds_at(self, beat: float, ratio: float) -> float:
        """Where a written beat sounds with so much swing."""
        return beat if self.form.metre.compound else to_sounding(beat, ratio, self.even)


def faulty(
    form: Form,
    parts: Collection[str],
    *,
    kinds: Sequence[FaultKind],
    many: int = 6,
    tempo: float | None = None,
    ratio: float = 1.6,
    seed: int = 1,
    periods: Sequence[float] | None = None,
    ways: Ways = USUAL,
) -> FaultyTake:
    """Go through a form once, with faults of these kinds at places drawn by lot.

    Parameters
    ----------
    form : Form
    parts : collection of str
        The player's: melody, chords, bass.
    kinds : sequence of str
        What may be planted; drawn in turn, from one at random.
    many : int
        Faults; fewer where there is no place for more.
    tempo : float, optional
        Quarters a minute; the form's own unless given.
    ratio : float
        Long quaver to short one, where the tune swings.
    seed : int
    periods : sequence of float, optional
        Lengths of a recording's beats as shares of their mean, instead of a beat that wanders by itself.
    ways : Ways
        How each is done.
    """
    ratio = 1.0 if form.feel in EVEN_FEELS else ratio
    usual = 60 / (tempo or form.tempo)
    player = _Player(form, parts, random.Random(seed), usual, ratio, ways)
    faults = _drawn(player, kinds, many)
    legs, moment, beats = _timeline(player, faults, usual, periods)
    by_beat = {(fault.what, fault.at): fault for fault in faults if fault.at}
    swing = [fault for fault in faults if fault.what == "swing"]
    keys: list[tuple[float, int, str]] = []
    for n, leg in enumerate(legs):
        for note in player.notes:
            if not leg.low - 1e-6 <= note.beat < leg.high - 1e-6:
                continue
            bar = player.bar(note.beat)
            here = 1.0 if any(fault.first <= bar <= fault.last for fault in swing) else ratio
            at = moment(n, player.sounds_at(note.beat, here)) + player.chance.gauss(0, TOUCH)
            mine = note.part == "melody" or (player.parts != {"melody"} and "melody" not in player.parts)
            if mine and ("missed-note", note.beat) in by_beat:
                continue
            off = player.chance.choice((-1, 1)) if mine and ("wrong-note", note.beat) in by_beat else 0
            if note.part == "chords" and ("late-chord", note.beat) in by_beat:
                at += CHORD_LATE
            keys.append((at, note.pitch + off, note.part))
        for fault in faults:
            if fault.what == "extra-note" and leg.low <= fault.at < leg.high:
                line = [note for note in player.notes if note.part == "melody"]
                near = min(line, key=lambda note: abs(note.beat - fault.at))
                pitch = near.pitch + player.chance.choice(ways.beside)
                at = player.sounds_at(fault.at, ratio) if ways.added == "together" else fault.at
                keys.append((moment(n, at) + player.chance.gauss(0, TOUCH), pitch, "melody"))
    return FaultyTake(_sent(player, keys), tuple(faults), beats, 60 / usual)


def _sent(player: _Player, keys: Sequence[tuple[float, int, str]]) -> tuple[Heard, ...]:
    """What the keyboard sends."""
    loud = {"melody": 82, "chords": 58, "bass": 66}
    events = []
    for seconds, pitch, part in keys:
        velocity = max(1, min(127, round(player.chance.gauss(loud[part], 5))))
        events += [Heard(seconds, 0x90, pitch, velocity), Heard(seconds + 0.09, 0x80, pitch, 0)]
    return tuple(sorted(events, key=lambda event: (event.seconds, event.status)))


# What goes wrong where


def _drawn(player: _Player, kinds: Sequence[FaultKind], many: int) -> list[Fault]:
    turn = list(kinds)
    player.chance.shuffle(turn)
    faults: list[Fault] = []
    free = set(range(2, len(player.bars) - 2))
    for n in range(4 * many):
        if len(faults) == many:
            break
        what = turn[n % len(turn)]
        places = [fault for bar in sorted(free) if (fault := _place(player, what, bar)) is not None]
        places = [fault for fault in places if set(range(fault.first, fault.last + 1)) <= free]
        if places:
            fault = player.chance.choice(places)
            faults.append(fault)
            free -= set(range(fault.first - CLEAR_BARS, fault.last + CLEAR_BARS + 1))
    return sorted(faults, key=lambda fault: fault.first)


def _place(player: _Player, what: FaultKind, bar: int) -> Fault | None:
    """A fault of a kind in a bar, where a listener could hear it."""
    line = player.within(bar, "melody") if "melody" in player.parts else player.within(bar)
    onsets = sorted({note.beat for note in line})
    chance = player.chance
    if what == "late-chord":
        strikes = sorted({n.beat for n in player.within(bar, "chords") if _is_late_there(player, n.beat)})
        return Fault(what, bar, bar, chance.choice(strikes)) if strikes else None
    if what == "swing":
        return _evened(player, bar)
    if len(onsets) < 2:
        return None
    at: float | None = 0.0
    if what in ("wrong-note", "missed-note"):
        at = chance.choice(onsets)
    elif what == "hesitated":
        at = onsets[0] if player.ways.hesitation == "before the bar" else chance.choice(onsets)
    elif what == "extra-note":
        at = _added(player, onsets)
        if at is None:
            return None
    elif what == "restarted":
        at = _left(player, bar, onsets)
    elif what in ("rushed", "dragged"):
        return Fault(what, bar, bar) if _heard(player, bar, onsets) else None
    elif what == "skipped" and _like_its_neighbour(player, bar):
        return None
    return Fault(what, bar, bar, at)


def _heard(player: _Player, bar: int, onsets: Sequence[float]) -> bool:
    """Whether a bar has notes enough that are early or late, where what follows isn't."""
    low, high = player.bars[bar - 1 : bar + 1]
    off = [beat for beat in onsets if lag(player.ways.rush, beat, low, high, float(player.form.metre.pulse)) > 0]
    return player.ways.rush not in BACK_IN_PLACE or len(off) >= HEARD


def _added(player: _Player, onsets: Sequence[float]) -> float | None:
    """Where a key more is struck among the onsets of a bar."""
    if player.ways.added == "together":
        return player.chance.choice(onsets)
    least = 0.75 if player.ways.added == "between" else 0.45
    gaps = [(a, b) for a, b in pairwise(onsets) if b - a >= least]
    a, b = player.chance.choice(gaps) if gaps else (0.0, 0.0)
    return (a + b) / 2 if gaps else None


def _left(player: _Player, bar: int, onsets: Sequence[float]) -> float:
    """Where the player leaves a bar that they begin again."""
    start, end = player.bars[bar - 1], player.bars[bar]
    match player.ways.restart:
        case "anywhere":
            return player.chance.choice([*onsets[2:], end])
        case "half" | "in time":
            return max(start + (end - start) / 2, math.floor(onsets[1]) + 1.0)
        case "whole":
            return end
    return end + float(player.form.metre.pulse)


def _is_late_there(player: _Player, beat: float) -> bool:
    """Whether a chord meant for a beat and late is heard as late, and not as meant for the next place."""
    at = player.sounds_at(beat, player.ratio) + CHORD_LATE / player.quarter
    places = [math.floor(at) + place for place in (0.0, player.sounds_at(0.5, player.ratio), 1.0)]
    return min(abs(at - place) for place in places) * player.quarter >= CHORD_CLEAR


def _evened(player: _Player, bar: int) -> Fault | None:
    last = bar + EVEN_BARS - 1
    if player.form.metre.compound or player.form.feel in EVEN_FEELS or last > len(player.bars) - 2:
        return None
    off_beat = [
        note.beat
        for n in range(bar, last + 1)
        for note in player.within(n, "melody")
        if note.beat % 1 == 0.5 and math.floor(note.beat) not in player.even
    ]
    return Fault("swing", bar, last) if len(off_beat) >= 6 else None


def _like_its_neighbour(player: _Player, bar: int) -> bool:
    """Whether leaving out a bar can't be told from leaving out the next."""

    def line(n: int) -> list[tuple[float, int]]:
        return [(note.beat - player.bars[n - 1], note.pitch) for note in player.within(n, "melody")]

    return line(bar) in (line(bar - 1), line(bar + 1))


# The beat


def _timeline(
    player: _Player, faults: Sequence[Fault], usual: float, periods: Sequence[float] | None
) -> tuple[list[Leg], Callable[[int, float], float], tuple[tuple[float, float], ...]]:
    """The legs of the way through the form, the moment of a sounding beat in a leg, and all beats."""
    chance, form = player.chance, player.form
    legs = []
    low = -math.ceil(float(form.pickup))
    for fault in faults:
        start, end = player.bars[fault.first - 1], player.bars[fault.last]
        if fault.what == "restarted":
            legs.append(Leg(low, fault.at))
            low = start
        elif fault.what == "skipped":
            legs.append(Leg(low, start))
            low = end
    legs.append(Leg(low, float(form.length)))
    ways, pulse = player.ways, float(form.metre.pulse)
    faster = {"rushed": -A_BEAT, "dragged": A_BEAT}
    bars = [
        (player.bars[fault.first - 1], player.bars[fault.first], faster[fault.what])
        for fault in faults
        if fault.what in faster
    ]
    held = sorted(fault.at for fault in faults if fault.what == "hesitated")

    def late(leg: Leg, beat: float) -> float:
        """Seconds by which a beat comes later than the player's pulse has it."""
        waited = HELD_BACK * sum(leg.low <= at < leg.high and beat >= at - 0.01 for at in held)
        off = [size * lag(ways.rush, beat, low, high, pulse) for low, high, size in bars if leg.low <= low < leg.high]
        return waited + sum(off)

    grids: list[dict[int, float]] = []
    beats: list[tuple[float, float]] = []
    off, now, count = 0.0, 1.0 + 2 * usual, 0
    for n, leg in enumerate(legs):
        back = n > 0 and leg.low < legs[n - 1].high
        now += chance.uniform(*ways.pause) if back else 0.0
        first = math.floor(leg.low)
        grid: dict[int, float] = {}
        for quarter in range(first, math.ceil(leg.high) + 1):
            grid[quarter] = now
            off += chance.gauss(0, WANDER) - HOME * off
            share = math.exp(off) if periods is None else periods[count % len(periods)]
            now += usual * share
            count += 1
        on = grid[first] - _between(grid, leg.low)
        grids.append({quarter: moment + on for quarter, moment in grid.items()})
        now = _between(grids[-1], leg.high) + late(leg, leg.high)

    def moment(n: int, beat: float) -> float:
        return _between(grids[n], beat) + late(legs[n], beat)

    for n, leg in enumerate(legs):
        beats += [(q, moment(n, q)) for q in range(max(0, math.ceil(leg.low)), math.ceil(leg.high))]
    return legs, moment, tuple(beats)


def _between(grid: dict[int, float], beat: float) -> float:
    low = min(max(math.floor(beat), min(grid)), max(grid) - 1)
    return grid[low] + (beat - low) * (grid[low + 1] - grid[low])
