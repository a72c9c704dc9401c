"""Chords struck late or early.

Where chords are free, nobody has written down when one is due: it is due where this player puts chords. Every chord may
be meant for a beat or an off-beat quaver as they swing it, or for another place where they strike chords again and
again in this take (a triplet, a semiquaver). A chord far from all of these is late or early, whichever is likelier by
how often they use that place of a bar and by how far it is; chords come late more often than early (common practice).
Nothing is said where the beat isn't known on both sides, by a chord or a written note that is where it was due.

Limits: a chord lies ``sure`` standard deviations off, of how this player's chords lie around their places (from the
median absolute deviation), and by as much as ``chord-ms`` in ``review.toml``. A rolled chord is taken at its nearest
note; a voice that follows a chord by itself is no chord.

Conventions: beats in quarters through the choruses; seconds; milliseconds, late is positive.
"""

from __future__ import annotations

import math
import statistics
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from companion.music.played import BeatMap
from companion.practice.judging import TOGETHER, JudgedNote
from companion.practice.swing_played import NORMAL

PLACES = (0.25, 1 / 3, 0.5, 2 / 3, 0.75)
"""Shares of a quarter where chords are struck besides beat and swung quaver."""
IN_USE, IN_USE_SHARE = 3, 0.08
"""Chords, and share of the take's, from which such a place is in use."""
AT_PLACE = 0.030
"""Seconds from a place within which a chord is struck there."""
APART = 0.045
"""Seconds from beat and swung quaver from which another place can be told from them."""
SPREAD_LEAST = 0.010
"""Seconds, standard deviation: nobody's chords lie nearer to their places."""
MEANT = 0.08
"""Seconds, standard deviation by which one that isn't where it was meant is off."""
LATE_RATHER = 3.0
"""How many times as often chords come late as early."""
NEVER_USED = 0.5
"""Chords for which a place of the bar counts where the player has put none."""
CHORD_KEYS = 2
"""Keys of a chord."""
SIDE = 1
"""Chords before one and after it that must be where they were due."""
NOTE_NEAR = 2.0
"""Quarters to a note that is where it was due, which stands for such a chord."""
ENOUGH = 6
"""Chords in a take from which it is known where they are put."""


@dataclass(frozen=True)
class TakeChord:
    """Keys struck together."""

    first: float
    last: float
    """Moments, in seconds."""
    notes: tuple[JudgedNote, ...]
    sweep: int = 0
    """Index of the sweep."""

    @property
    def written(self) -> bool:
        """Whether the chart has it note for note."""
        return any(note.part == "chords" and note.expected is not None for note in self.notes)


@dataclass(frozen=True)
class OffChord:
    """A chord that was struck late or early."""

    chord: TakeChord
    beat: float
    """Where it was due."""
    late_ms: float


def struck_chords(notes: Iterable[JudgedNote], sweep: int = 0) -> list[TakeChord]:
    """The chords of a sweep, in order: keys of chords, with a note of the melody where it was struck with them."""
    groups: list[list[JudgedNote]] = []
    for note in sorted((n for n in notes if n.seconds is not None), key=_moment):
        if note.part not in ("chords", "melody"):
            continue
        if groups and _moment(note) - _moment(groups[-1][-1]) <= TOGETHER:
            groups[-1].append(note)
        else:
            groups.append([note])
    return [
        TakeChord(_moment(group[0]), _moment(group[-1]), tuple(group), sweep)
        for group in groups
        if len(group) >= CHORD_KEYS and any(note.part == "chords" for note in group)
    ]


def _moment(note: JudgedNote) -> float:
    return note.seconds if note.seconds is not None else 0.0


def off_chords(
    chords: Sequence[TakeChord],
    maps: Sequence[BeatMap],
    swung: float,
    sure: float,
    least: float,
    *,
    bar: float = 4.0,
    notes: Sequence[Sequence[float]] = (),
) -> list[OffChord]:
    """Chords that were struck late or early.

    Parameters
    ----------
    chords : sequence of TakeChord
    maps : sequence of BeatMap
        The player's own beat, for each sweep.
    swung : float
        Where this player's off-beat quavers lie in a quarter.
    sure : float
        Standard deviations.
    least : float
        Milliseconds.
    bar : float
        Quarters in a bar.
    notes : sequence of sequences of float
        For each sweep, beats at which written notes are where they were due, rising.
    """
    if len(chords) < ENOUGH:
        return []
    at = [maps[chord.sweep].beat(chord.first) for chord in chords]
    quarters = [60 / maps[chord.sweep].tempo(beat) for chord, beat in zip(chords, at, strict=True)]
    rolled = [chord.last - chord.first for chord in chords]
    weights = _in_use(at, quarters, swung)
    spread = _spread(at, quarters, list(weights), rolled)
    usual = _usual_places(at, quarters, list(weights), bar)
    off = [_off(one, weights) for one in zip(at, quarters, rolled, strict=True)]
    limit = max(least / 1000, sure * spread)
    found = []
    for n, (chord, beat, quarter) in enumerate(zip(chords, at, quarters, strict=True)):
        if chord.written:
            late = _written_lateness(chord)
            if abs(late) >= limit:
                found.append(OffChord(chord, beat - late / quarter, round(1000 * late, 1)))
        elif off[n] >= limit and _known_around(n, off, chords, limit, _sides(beat, notes, chord.sweep)):
            ways = [_delay(beat - place, quarter, rolled[n]) for place in weights]
            rates = [_likelihood(late, usual[_place_of(beat - late / quarter, bar)]) for late in ways]
            late = ways[rates.index(max(rates))]
            found.append(OffChord(chord, beat - late / quarter, round(1000 * late, 1)))
    return found


def _off(one: tuple[float, float, float], places: Iterable[float]) -> float:
    """Seconds from a chord to the nearest place, of its beat, the length of a quarter and of the roll."""
    beat, quarter, roll = one
    return min(abs(_delay(beat - place, quarter, roll)) for place in places)


def _known_around(
    n: int, off: Sequence[float], chords: Sequence[TakeChord], limit: float, by_notes: tuple[bool, bool]
) -> bool:
    """Whether what comes before and after is where it was due: else the beat isn't known well enough."""
    sides = range(n - SIDE, n), range(n + 1, n + 1 + SIDE)
    return all(
        by_note or all(0 <= m < len(off) and off[m] < limit and chords[m].sweep == chords[n].sweep for m in side)
        for side, by_note in zip(sides, by_notes, strict=True)
    )


def _sides(beat: float, notes: Sequence[Sequence[float]], sweep: int) -> tuple[bool, bool]:
    """Whether a note tells the beat before a beat, and after it."""
    if not notes:
        return False, False
    known = notes[sweep]
    n = bisect_left(known, beat)
    return n > 0 and beat - known[n - 1] <= NOTE_NEAR, n < len(known) and known[n] - beat <= NOTE_NEAR


def _delay(beats: float, quarter: float, roll: float) -> float:
    """Seconds from the nearest place of a kind to a chord: to its first note where it is late, its last where early."""
    first = (beats - round(beats)) * quarter
    return first if first >= 0 else min(first + roll, 0.0)


def _likelihood(late: float, weight: float) -> float:
    return math.log(weight) + (math.log(LATE_RATHER) if late > 0 else 0.0) - (late / MEANT) ** 2 / 2


def _in_use(at: Sequence[float], quarters: Sequence[float], swung: float) -> dict[float, float]:
    """The places at which the player strikes chords, and how often."""
    usual = statistics.median(quarters)
    apart = [place for place in PLACES if min(place, abs(place - swung), 1 - place) * usual >= APART]
    counts = dict.fromkeys((0.0, swung, *apart), 0)
    for beat, quarter in zip(at, quarters, strict=True):
        place = min(counts, key=lambda one: abs(_delay(beat - one, quarter, 0.0)))
        counts[place] += abs(_delay(beat - place, quarter, 0.0)) <= AT_PLACE
    least = max(IN_USE, IN_USE_SHARE * len(at))
    return {place: count + 1.0 for place, count in counts.items() if count >= least or place in (0.0, swung)}


def _place_of(beat: float, bar: float) -> float:
    """A place of the bar, by which places are counted."""
    return round(8 * (beat % bar)) % round(8 * bar) / 8


def _usual_places(
    at: Sequence[float], quarters: Sequence[float], places: Sequence[float], bar: float
) -> dict[float, float]:
    """How often the player strikes chords at each place of the bar."""
    counts: dict[float, float] = defaultdict(lambda: NEVER_USED)
    for beat, quarter in zip(at, quarters, strict=True):
        late = min((_delay(beat - place, quarter, 0.0) for place in places), key=abs)
        if abs(late) <= AT_PLACE:
            counts[_place_of(beat - late / quarter, bar)] += 1
    return counts


def _spread(at: Sequence[float], quarters: Sequence[float], places: Sequence[float], rolled: Sequence[float]) -> float:
    """How far the player's chords lie from their places: a standard deviation in seconds."""
    off = [_off(one, places) for one in zip(at, quarters, rolled, strict=True)]
    return max(NORMAL * statistics.median(off), SPREAD_LEAST)


def _written_lateness(chord: TakeChord) -> float:
    """Of a chord that the chart has note for note, by the player's own beat, in seconds."""
    return statistics.median(note.deviation_ms or 0.0 for note in chord.notes if note.expected is not None) / 1000
