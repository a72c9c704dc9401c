"""A passage of chords revoiced with the fewest changes: each right where it stands, and the hand not thrown about.

Every chord has candidates: its own notes with some of them replaced, left out or added, as far as
:func:`~companion.arrange.chords.soundness.chord_faults` finds nothing wrong. Dynamic programming (Viterbi) finds the
row of them in which the hand is thrown the fewest times, then with the fewest changed notes, then with the best forms
and the least movement, by the prices of ``voicings.toml``.

Conventions: MIDI numbers from the lowest up; beats in quarters through the choruses. A note put in another's place is
one change, and so is one that is left out or added.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from companion.arrange.chords.own_notes import has_own_notes_alone
from companion.arrange.chords.soundness import (
    ALONE,
    ROOT_ALLOWED,
    ChordFault,
    Surroundings,
    chord_faults,
    form_quality,
    is_form,
    left_hand,
    may_have,
    row,
    semitones,
)
from companion.arrange.harmony import Harmony
from companion.preferences.like_you import RevoicingRules
from companion.preferences.voicings import VoicingPreferences

AROUND = 7
"""Semitones beyond a chord's own notes in which others are looked for."""
MOST_CHANGED = 4
"""Notes of a chord; it has seldom more in a hand."""
FEW_CHANGED = 2
"""Of a chord of more notes than that."""
MOST_WAYS = 160
"""Candidates with one number of changes, the nearest ones."""
THROWN, CHANGED = 1e6, 1e3
"""Costs of a hand that is thrown, or a chord that stays wrong, and of a changed note: each outweighs what follows."""
NO_FORM, OTHER_SIZE, STRANGE, LOST = 4.0, 8.0, 4.0, 12.0
"""In the prices of ``voicings.toml``: a changed chord that is no form of the handbooks; a note more or fewer; a new
note from outside the scale of the place; a note that was right and is gone in every octave."""
_FOURTHS = (4, 5, 6)


@dataclass(frozen=True)
class ChordPlayed:
    """A chord as it was struck, and what sounded with it."""

    harmony: Harmony
    midi: tuple[int, ...]
    beat: float
    around: Surroundings = ALONE


@dataclass(frozen=True)
class Revoiced:
    """What becomes of a chord."""

    played: ChordPlayed
    midi: tuple[int, ...]
    faults: tuple[ChordFault, ...]
    """What was wrong with it as it was played."""
    thrown: bool
    """Whether the hand was thrown to it, or from it on, as it was played."""

    @property
    def changes(self) -> int:
        """Notes changed."""
        return changes(self.played.midi, self.midi)


def changes(before: Sequence[int], after: Sequence[int]) -> int:
    """How many notes are put in others' place, left out or added."""
    return max(len({*before} - {*after}), len({*after} - {*before}))


def revoice(voicings: VoicingPreferences, rules: RevoicingRules, chords: Sequence[ChordPlayed]) -> list[Revoiced]:
    """Revoice a row of chords.

    Parameters
    ----------
    voicings : VoicingPreferences
    rules : RevoicingRules
    chords : sequence of ChordPlayed
        In order of time.

    Returns
    -------
    list of Revoiced
        One for each; unchanged where nothing is wrong with it, or where nothing right can be struck in its place.
    """
    if not chords:
        return []
    found = [_Ways(voicings, chords, n) for n in range(len(chords))]
    while True:
        chosen = _cheapest_row(voicings, rules, chords, [one.ways for one in found])
        thrown = _thrown(rules, chords, chosen)
        more = [found[n].deepen() for n in range(len(chords)) if any(thrown[max(0, n - 1) : n + 1])]
        if not any(more):
            break
    before = [is_thrown(rules, a, a.midi, b, b.midi) for a, b in pairwise(chords)]
    return [
        Revoiced(
            chord,
            way,
            tuple(chord_faults(voicings, chord.harmony, chord.midi, chord.around)),
            any(before[max(0, n - 1) : n + 1]),
        )
        for n, (chord, way) in enumerate(zip(chords, chosen, strict=True))
    ]


def _cheapest_row(
    voicings: VoicingPreferences,
    rules: RevoicingRules,
    chords: Sequence[ChordPlayed],
    options: Sequence[Sequence[tuple[int, ...]]],
) -> list[tuple[int, ...]]:
    nodes = [
        np.array([_price(voicings, chord, way) for way in ways]) for chord, ways in zip(chords, options, strict=True)
    ]
    best, back = nodes[0], []
    for k, pair in enumerate(pairwise(chords)):
        total = best[:, None] + _steps(voicings, rules, pair, options[k], options[k + 1])
        back.append(total.argmin(axis=0))
        best = total.min(axis=0) + nodes[k + 1]
    at = int(best.argmin())
    chosen = []
    for k in range(len(chords) - 1, -1, -1):
        chosen.append(options[k][at])
        at = int(back[k - 1][at]) if k else 0
    return chosen[::-1]


def _thrown(rules: RevoicingRules, chords: Sequence[ChordPlayed], ways: Sequence[tuple[int, ...]]) -> list[bool]:
    """From which chords on the hand goes farther than it may to the next."""
    return [
        _is_asked(rules, a, b) and _is_far(before, after, _limit(rules, a, b))
        for (a, b), (before, after) in zip(pairwise(chords), pairwise(ways), strict=True)
    ]


# Candidates


class _Ways:
    """The candidates of a chord: those with the fewest changes and one more; with still more, as they are needed."""

    def __init__(self, voicings: VoicingPreferences, chords: Sequence[ChordPlayed], n: int):
        self._voicings, self._chord = voicings, chords[n]
        self._near = [one.midi for one in chords[max(0, n - 1) : n + 2]]
        own = len(set(self._chord.midi))
        self._most = own if own <= MOST_CHANGED else FEW_CHANGED + own - len(_staying(self._chord))
        self._next = 0
        self.ways: list[tuple[int, ...]] = []
        while not self.ways and self.deepen():
            pass
        if self.ways:
            self.deepen()
        else:
            self.ways = [self._chord.midi]

    def deepen(self) -> bool:
        """Look for those with one change more; whether there can be any."""
        if self._next > self._most:
            return False
        found = ways_of(self._voicings, self._chord, self._next)
        found.sort(key=lambda way: sum(_far(way, other) for other in self._near))
        self.ways += found[:MOST_WAYS]
        self._next += 1
        return True


def ways_of(voicings: VoicingPreferences, chord: ChordPlayed, many: int) -> list[tuple[int, ...]]:
    """Every right chord that has so many of its notes changed.

    No note is added that it has already, nor its root. It gets more notes than it had only where one is missing, and
    fewer only where something is wrong with it; where nothing is, it is turned over: the same notes in other octaves,
    in a form of the handbooks. What one hand took stays in one hand.
    """
    faults = chord_faults(voicings, chord.harmony, chord.midi, chord.around)
    lacks = any(fault.kind == "incomplete" for fault in faults)
    own = tuple(sorted(set(chord.midi)))
    pool = [note for note in _pool(voicings, chord) if note not in own]
    kept = _staying(chord)
    found = []
    for left in range(max(0, len(own) - many), len(kept) + 1):
        gone = len(own) - left
        for added in range(0 if faults else gone, min(many, gone + lacks) + 1):
            if max(gone, added) != many or not left + added:
                continue
            for stay in combinations(kept, left):
                classes = {note % 12 for note in stay}
                fresh = [note for note in pool if note % 12 not in classes]
                for new in combinations(fresh, added):
                    way = tuple(sorted((*stay, *new)))
                    usual = faults or not many or _is_turned_over(voicings, chord, way)
                    if len({note % 12 for note in new}) == added and usual and _fits(voicings, chord, way):
                        found.append(way)
    return found


def _is_turned_over(voicings: VoicingPreferences, chord: ChordPlayed, way: tuple[int, ...]) -> bool:
    return {note % 12 for note in way} == {note % 12 for note in chord.midi} and _is_form(voicings, chord, way)


def _fits(voicings: VoicingPreferences, chord: ChordPlayed, way: tuple[int, ...]) -> bool:
    one_hand = left_hand(voicings.hand, chord.midi) == 0
    return not (one_hand and left_hand(voicings.hand, way)) and is_right(voicings, chord, way)


def is_right(voicings: VoicingPreferences, chord: ChordPlayed, way: tuple[int, ...]) -> bool:
    """Whether nothing is wrong with a chord where it stands."""
    return not chord_faults(voicings, chord.harmony, way, chord.around)


def _is_form(voicings: VoicingPreferences, chord: ChordPlayed, way: tuple[int, ...]) -> bool:
    return is_form(voicings, form_quality(chord.harmony), semitones(chord.harmony, way))


def _staying(chord: ChordPlayed) -> list[int]:
    """Its notes that are right by themselves: with any other every chord is wrong."""
    return [note for note in sorted(set(chord.midi)) if _may_stay(chord, note)]


def _pool(voicings: VoicingPreferences, chord: ChordPlayed) -> list[int]:
    """Notes that the chord may have around where it lies, no lower than where a hand's chord sounds clear."""
    one_hand = left_hand(voicings.hand, chord.midi) == 0
    lowest = (voicings.register if one_hand else voicings.register_of_two_hands).lowest
    low = max(min(chord.midi) - AROUND, lowest, *(one + 1 for one in chord.around.bass))
    high = min(max(chord.midi) + AROUND, voicings.register_of_the_melody.highest)
    notes = range(low, min(high, *(one - 1 for one in chord.around.melody), high) + 1)
    harmony = chord.harmony
    root = None if harmony.chord.quality in ROOT_ALLOWED or has_own_notes_alone(harmony) else harmony.root
    return [note for note in notes if may_have(harmony, row(harmony, (note,))[0]) and note % 12 != root]


def _may_stay(chord: ChordPlayed, note: int) -> bool:
    """Whether a note is right by itself; else every chord with it is wrong."""
    over, under = chord.around.melody, chord.around.bass
    inside = all(note < one for one in over) and all(note > one for one in under)
    sung = {one % 12 for one in over}
    return inside and (may_have(chord.harmony, row(chord.harmony, (note,))[0]) or note % 12 in sung)


def _far(a: Sequence[int], b: Sequence[int]) -> float:
    return sum(min(abs(x - y) for y in b) for x in a) / len(a)


# Prices


def _price(voicings: VoicingPreferences, chord: ChordPlayed, way: tuple[int, ...]) -> float:
    """What a candidate costs by itself."""
    wrong = THROWN if way == chord.midi and chord_faults(voicings, chord.harmony, way, chord.around) else 0.0
    many = changes(chord.midi, way)
    gone, new = {*chord.midi} - {*way}, {*way} - {*chord.midi}
    moved = sum(min((abs(note - old) for old in gone), default=2) for note in new)
    form = _is_form(voicings, chord, way)
    low, high = voicings.register.centre
    outside = voicings.register.outside * (max(0, low - way[0]) + max(0, way[-1] - high))
    size = OTHER_SIZE * abs(len(way) - len(set(chord.midi)))
    taste = size + outside + (0.0 if form or not many else NO_FORM) + voicings.costs.move * moved / 2
    right = {n % 12 for n in chord.midi if may_have(chord.harmony, row(chord.harmony, (n,))[0])} - {chord.harmony.root}
    taste += LOST * len(right - {note % 12 for note in way})
    strange = STRANGE * sum(note % 12 not in chord.harmony.scale for note in new)
    return wrong + CHANGED * many + taste + strange


def _steps(
    voicings: VoicingPreferences,
    rules: RevoicingRules,
    pair: tuple[ChordPlayed, ChordPlayed],
    before: Sequence[tuple[int, ...]],
    after: Sequence[tuple[int, ...]],
) -> NDArray[np.float64]:
    """What it costs to go on from each candidate to each of the next chord's: movement, and a throw."""
    moved = mean_moves(before, after)
    costs = voicings.costs
    price = costs.move * 4 * moved + costs.jump * 4 * np.maximum(moved - 2, 0)
    if _is_asked(rules, *pair):
        exempt = np.array([_in_fourths(way) for way in before])[:, None] & np.array([_in_fourths(way) for way in after])
        price = price + THROWN * ((moved > _limit(rules, *pair)) & ~exempt)
    return np.asarray(price)


def _limit(rules: RevoicingRules, a: ChordPlayed, b: ChordPlayed) -> float:
    """Semitones a voice, on average, by which the hand may move: fewer where it was thrown, so that that is mended."""
    return rules.mended if is_thrown(rules, a, a.midi, b, b.midi) else rules.smooth


def _is_asked(rules: RevoicingRules, a: ChordPlayed, b: ChordPlayed) -> bool:
    """Whether the hand is to move smoothly from one chord to the next: to another one, and before long."""
    return a.harmony.label != b.harmony.label and b.beat - a.beat <= rules.joined


def is_thrown(
    rules: RevoicingRules, a: ChordPlayed, before: tuple[int, ...], b: ChordPlayed, after: tuple[int, ...]
) -> bool:
    """Whether the hand is thrown from a chord to the next; fourths may move in parallel."""
    return _is_asked(rules, a, b) and _is_far(before, after, rules.smooth)


def _is_far(before: tuple[int, ...], after: tuple[int, ...], limit: float) -> bool:
    far = float(mean_moves([before], [after])[0, 0]) > limit
    return far and not (_in_fourths(before) and _in_fourths(after))


def _in_fourths(way: Sequence[int]) -> bool:
    return len(way) > 2 and all(b - a in _FOURTHS for a, b in pairwise(way))


def mean_moves(before: Sequence[tuple[int, ...]], after: Sequence[tuple[int, ...]]) -> NDArray[np.float64]:
    """Semitones that a voice moves on average, [before, after]: in order, and where one has more, without these."""
    found = np.zeros((len(before), len(after)))
    for rows, few in _by_size(before).items():
        for columns, many in _by_size(after).items():
            found[np.ix_(few[0], many[0])] = _in_order(few[1], many[1], min(rows, columns))
    return found


def _by_size(ways: Sequence[tuple[int, ...]]) -> dict[int, tuple[list[int], NDArray[np.int64]]]:
    """The candidates of each number of notes: their indices, and their notes."""
    found: dict[int, list[int]] = {}
    for n, way in enumerate(ways):
        found.setdefault(len(way), []).append(n)
    return {size: (places, np.array([ways[n] for n in places], dtype=np.int64)) for size, places in found.items()}


def _in_order(a: NDArray[np.int64], b: NDArray[np.int64], voices: int) -> NDArray[np.float64]:
    """The least mean movement of so many voices that keep their order."""
    found = np.full((len(a), len(b)), np.inf)
    for some in combinations(range(a.shape[1]), voices):
        for others in combinations(range(b.shape[1]), voices):
            moved = np.abs(a[:, None, list(some)] - b[None, :, list(others)]).mean(axis=2)
            np.minimum(found, moved, out=found)
    return found
