"""What a right note is: what a player was to play, held against what they played, for rounds and for whole takes alike.

Parts that are written note for note (a melody, a written bass, written chords) are judged note by note. What is free (a
solo, chords and bass that the chart leaves to the player) isn't: every note is held against the chord of its moment,
and a bar in which nothing was played is missing.

Method for written parts: expected onsets and played ones, each a note or several at once, are aligned in their order by
dynamic programming. An onset may be left out or added; a pair costs what its pitches are apart, and how much its delay
against the beat differs from that of the pair before, up to a bound: so a phrase that comes late is late once, and a
hesitation shifts what follows without a fault in every note. (Alignment by edit distance with costs for insertion,
deletion and substitution: Needleman and Wunsch, 1970; for performances and scores: Dannenberg, 1984.)

What is expected is :mod:`companion.practice.expected`, how far a note fell from its beat
:mod:`companion.practice.deviations`.

Conventions: chart beats in quarters, written; seconds on the performance's clock; MIDI numbers; deviations in
milliseconds, late is positive.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import groupby, pairwise
from math import ceil, floor

import numpy as np

from companion.arrange.harmony import Harmony
from companion.arrange.lookup import harmony_at
from companion.chart.model import Form
from companion.messages import NoteKind, Part
from companion.music.played import BeatMap
from companion.practice.deviations import deviations
from companion.practice.expected import Expected, expected_between

TOGETHER = 0.045
"""Seconds within which keys struck one after the other are one chord, rolled or not."""
AGAIN = 0.060
"""Seconds within which the same key struck again is one note: nobody repeats a note so fast."""
GRACE, GRACE_INTERVAL = 0.150, 2
"""Seconds before a right note, and semitones from it, within which a note more is its ornament."""
CRUSHED = 0.025
"""Seconds before it within which it isn't: the finger caught two keys."""
OCTAVE = 12
BELOW = 12
"""Semitones below the lowest note of a melody, from which a key is the other hand's."""

_MISSING, _EXTRA = 1.0, 1.0
"""Costs of a note left out and of a note too many."""
_WRONG = 1.3
"""Cost of another pitch, near in time: less than a note missing and one too many."""
_OTHER_OCTAVE = 0.4
_DELAY = 0.9
"""Cost of a beat's change of delay from one pair to the next."""
_DELAY_MOST = 1.6
"""What a change of delay costs at most, however long the player hesitated."""
_FAR, _FAR_WRONG = 4.0, 0.75
"""Beats from where a note is due within which it may be that note; within which another pitch may be in its place."""
_SKIPPED, _ADDED = 24, 12
"""Onsets in a row that may be left out, or added, between two pairs."""
_CHANGE_NEAR = 0.55
"""Quarters before a chord from which what is struck may already be that chord's."""


@dataclass(frozen=True)
class Struck:
    """A key that was struck."""

    seconds: float
    pitch: int


@dataclass(frozen=True)
class JudgedNote:
    """What became of a written note, or of a key that was struck."""

    kind: NoteKind
    chart_beat: float
    """Of a note that was expected: where it is written. Of one that wasn't: where it fell."""
    expected: int | None
    pitch: int | None
    seconds: float | None
    deviation_ms: float | None = None
    part: Part = "melody"
    forgiven: bool = False
    """Of an extra note: an ornament, or a note struck double."""
    chorus: int = 1
    """In a whole take, how often the form has been begun."""

    @property
    def is_fault(self) -> bool:
        """Whether it is held against the player: of a line that is made up as it goes, what lies outside its chord
        may be meant so."""
        made_up = self.expected is None and self.kind == "wrong" and self.part in ("solo", "bass")
        return self.kind != "right" and not self.forgiven and not made_up


@dataclass(frozen=True)
class Judgement:
    """All notes of a window in order of time, and how much had to be explained away."""

    notes: tuple[JudgedNote, ...]
    cost: float
    """Missing, extra and wrong notes, and changes of delay, each at its price."""


def judge(
    form: Form,
    parts: Collection[str],
    played: Sequence[Struck],
    beats: BeatMap,
    *,
    own_beat: bool = True,
    low: float | None = None,
    high: float | None = None,
) -> Judgement:
    """Hold what was played against what was to be played, in a window that the player went through once.

    Parameters
    ----------
    form : Form
    parts : collection of str
        The player's.
    played : sequence of Struck
        In order of time, all of the window and nothing else.
    beats : BeatMap
        Beats as they were sounded or clicked: near the player's beat, not on it.
    own_beat : bool
        Whether deviations are measured against the player's own beat, or against these beats as they are.
    low, high : float, optional
        The window, ``high`` excluded: by default from the first of the beats to the last. Beats go on through the
        choruses.

    Returns
    -------
    Judgement
        Its notes in order of time, a missing one where it was due.
    """
    low = beats.points[0][0] if low is None else low
    high = beats.points[-1][0] if high is None else high
    expected = expected_between(form, parts, low, high)
    free = {part for part in parts if part in ("chords", "bass", "solo") and not form.written_part(part)}
    struck = without_repeats(played)
    if parts == {"melody"} and expected:
        lowest = min(note.pitch for note in expected) - BELOW
        struck = [note for note in struck if note.pitch >= lowest]
    line, under = _top(struck) if free & {"chords", "bass"} else (struck, [])
    pairs, cost = _aligned(expected, line, beats) if expected else (_Pairs(), 0.0)
    left = [note for n, note in enumerate(line) if n not in pairs.used]
    left = sorted([*left, *under], key=lambda note: note.seconds)
    if free:
        made = _free(form, free, left, beats, low, high, sung="melody" in parts)
    else:
        made = [_extra(note, beats, pairs.right) for note in left]
        cost += sum(_EXTRA for note in made if not note.forgiven) if not expected else 0.0
    judged = [*pairs.notes, *made]
    judged = _with_deviations(judged, pairs, beats, own_beat=own_beat)
    return Judgement(tuple(sorted(judged, key=lambda note: _moment(note, beats))), cost)


def _moment(note: JudgedNote, beats: BeatMap) -> float:
    return note.seconds if note.seconds is not None else beats.seconds(note.chart_beat)


@dataclass
class _Pairs:
    """What was found to belong together."""

    notes: list[JudgedNote] = field(default_factory=list)
    places: dict[int, Expected] = field(default_factory=dict)
    """By index among the notes, what each was expected as."""
    used: set[int] = field(default_factory=set)
    """Indices of struck keys."""
    right: list[Struck] = field(default_factory=list)


def without_repeats(played: Iterable[Struck]) -> list[Struck]:
    """Keys in order of time; one that bounced is one."""
    last: dict[int, float] = {}
    found = []
    for note in sorted(played, key=lambda struck: (struck.seconds, struck.pitch)):
        if note.seconds - last.get(note.pitch, float("-inf")) > AGAIN:
            found.append(note)
        last[note.pitch] = note.seconds
    return found


def _top(struck: Sequence[Struck]) -> tuple[list[Struck], list[Struck]]:
    """Of keys struck together the highest, which may be the melody's, and the others, which are not."""
    line: list[Struck] = []
    under: list[Struck] = []
    for note in struck:
        if line and note.seconds - line[-1].seconds <= TOGETHER:
            low, high = sorted((line[-1], note), key=lambda one: one.pitch)
            line[-1] = high
            under.append(low)
        else:
            line.append(note)
    return line, under


# Written parts: alignment


def _aligned(expected: Sequence[Expected], struck: Sequence[Struck], beats: BeatMap) -> tuple[_Pairs, float]:
    """Which keys are which notes, and what the rest costs."""
    wanted = [list(group) for _, group in groupby(expected, key=lambda note: note.beat)]
    chords = any(len(group) > 1 for group in wanted)
    onsets = _onsets(struck, chords)
    shift = _octave(expected, struck, beats)
    path, cost = _cheapest(wanted, [[struck[n].pitch for n in onset] for onset in onsets],
                           [struck[onset[0]].seconds for onset in onsets], beats, shift)  # fmt: skip
    pairs = _Pairs()
    matched = dict(path)
    for i, group in enumerate(wanted):
        keys = list(onsets[matched[i]]) if i in matched else []
        _pair(group, keys, struck, pairs, shift)
    return pairs, cost


def _onsets(struck: Sequence[Struck], chords: bool) -> list[list[int]]:
    """Keys that go down together, by their indices; where one voice is expected, every key by itself."""
    found: list[list[int]] = []
    for n, note in enumerate(struck):
        if chords and found and note.seconds - struck[found[-1][-1]].seconds <= TOGETHER:
            found[-1].append(n)
        else:
            found.append([n])
    return found


def _octave(expected: Sequence[Expected], struck: Sequence[Struck], beats: BeatMap) -> int:
    """By how many semitones all is played higher, in octaves: a player may take a tune where it lies best."""
    votes: Counter[int] = Counter()
    written = [note.beat for note in expected]
    for note in struck:
        at = beats.beat(note.seconds)
        for n in range(bisect_left(written, at - 1.0), bisect_right(written, at + 1.0)):
            if (note.pitch - expected[n].pitch) % OCTAVE == 0:
                votes[note.pitch - expected[n].pitch] += 1
    if not votes:
        return 0
    best, count = votes.most_common(1)[0]
    return best if count > votes[0] + 1 and abs(best) <= 2 * OCTAVE else 0


def _cheapest(
    wanted: Sequence[Sequence[Expected]],
    pitches: Sequence[Sequence[int]],
    seconds: Sequence[float],
    beats: BeatMap,
    shift: int,
) -> tuple[list[tuple[int, int]], float]:
    """The cheapest alignment: pairs of indices in order, and what it costs."""
    many, keys = len(wanted), len(seconds)
    add = np.concatenate([[0.0], np.cumsum([_EXTRA * len(chord) for chord in pitches])])
    leave = np.concatenate([[0.0], np.cumsum([_MISSING * len(group) for group in wanted])])
    places = np.array([beats.beat(moment) for moment in seconds])
    best = np.full((many, keys), np.inf)
    delay = np.zeros((many, keys))
    came: dict[tuple[int, int], tuple[int, int] | None] = {}
    for i, group in enumerate(wanted):
        middle = (group[0].earliest + group[0].latest) / 2
        near = range(int(np.searchsorted(places, middle - _FAR)), int(np.searchsorted(places, middle + _FAR, "right")))
        for j in near:
            delay[i, j] = group[0].off(places[j])
            cost = _unlike(group, pitches[j], delay[i, j], shift)
            if cost is None:
                continue
            began = leave[i] + add[j] + min(_DELAY * abs(delay[i, j]), _DELAY_MOST)
            chosen: tuple[int, int] | None = None
            low, left = max(0, i - _SKIPPED), max(0, j - _ADDED)
            if i and j:
                before = (
                    best[low:i, left:j]
                    + (leave[i] - leave[low + 1 : i + 1])[:, None]
                    + (add[j] - add[left + 1 : j + 1])[None, :]
                    + np.minimum(_DELAY * np.abs(delay[low:i, left:j] - delay[i, j]), _DELAY_MOST)
                )
                where = int(np.argmin(before))
                if before.flat[where] < began:
                    began = float(before.flat[where])
                    chosen = low + where // before.shape[1], left + where % before.shape[1]
            best[i, j] = began + cost
            came[i, j] = chosen
    whole = leave[many] + add[keys]
    ends = best + (leave[many] - leave[1:])[:, None] + (add[keys] - add[1:])[None, :] if keys else best
    if not ends.size or ends.min() >= whole:
        return [], float(whole)
    at: tuple[int, int] | None = (int(np.argmin(ends)) // keys, int(np.argmin(ends)) % keys)
    path = []
    while at is not None:
        path.append(at)
        at = came[at]
    return path[::-1], float(ends.min())


def _unlike(group: Sequence[Expected], pitches: Sequence[int], delay: float, shift: int) -> float | None:
    """What it costs to take keys for a group of notes; None: they are not those notes."""
    wanted = Counter(note.pitch + shift for note in group)
    there = Counter(pitches)
    same = sum((wanted & there).values())
    if same == 0:
        classes = {(note.pitch - key) % OCTAVE for note in group for key in pitches}
        if 0 in classes:
            same_class = _OTHER_OCTAVE
        elif abs(delay) > _FAR_WRONG:
            return None
        else:
            same_class = _WRONG
        return same_class + _MISSING * (len(group) - 1) + _EXTRA * (len(pitches) - 1)
    replaced = min(len(group), len(pitches)) - same
    return (
        _WRONG * replaced + _MISSING * (len(group) - same - replaced) + _EXTRA * 0.5 * (len(pitches) - same - replaced)
    )


def _pair(group: Sequence[Expected], keys: list[int], struck: Sequence[Struck], pairs: _Pairs, shift: int) -> None:
    """Put down what became of the notes of one onset."""
    left = list(group)
    for octaves in (False, True):
        for note in list(left):
            apart = ((struck[k].pitch - note.pitch - shift, k) for k in keys)
            key = next((k for off, k in apart if off == 0 or (octaves and off % OCTAVE == 0)), None)
            if key is not None:
                left.remove(note)
                keys.remove(key)
                pairs.right.append(struck[key])
                _put(pairs, "right", note, struck[key], key)
    for note, key in _beside(left, keys, struck, shift):
        left.remove(note)
        _put(pairs, "wrong", note, struck[key], key)
    for note in left:
        pairs.places[len(pairs.notes)] = note
        pairs.notes.append(JudgedNote("missing", note.beat, note.pitch, None, None, None, note.part))


def _beside(
    notes: Sequence[Expected], keys: Sequence[int], struck: Sequence[Struck], shift: int
) -> list[tuple[Expected, int]]:
    """Which of some keys, by their indices, stand for which notes: in order of pitch, the nearest all in all."""
    wanted, there = sorted(notes, key=lambda note: note.pitch), sorted(keys, key=lambda k: struck[k].pitch)
    ways: list[tuple[int, list[tuple[Expected, int]]]] = [(0, [])] * (len(there) + 1)
    for n, note in enumerate(wanted, 1):
        before, ways = ways, [ways[0]]
        for k, key in enumerate(there, 1):
            off, pairs = before[k - 1]
            paired = off + abs(struck[key].pitch - note.pitch - shift), [*pairs, (note, key)]
            others = [way for way in (before[k], ways[k - 1]) if len(way[1]) == min(n, k)]
            ways.append(min([paired, *others], key=lambda way: way[0]))
    return ways[-1][1]


def _put(pairs: _Pairs, kind: NoteKind, note: Expected, key: Struck, index: int) -> None:
    pairs.used.add(index)
    pairs.places[len(pairs.notes)] = note
    pairs.notes.append(JudgedNote(kind, note.beat, note.pitch, key.pitch, key.seconds, None, note.part))


def _extra(note: Struck, beats: BeatMap, right: Sequence[Struck]) -> JudgedNote:
    """A key that wasn't asked for: too many, or the ornament or the double of a right one."""
    forgiven = any(
        (CRUSHED < other.seconds - note.seconds <= GRACE and abs(other.pitch - note.pitch) <= GRACE_INTERVAL)
        or (abs(other.seconds - note.seconds) <= TOGETHER and (other.pitch - note.pitch) % OCTAVE == 0)
        for other in right
    )
    return JudgedNote("extra", beats.beat(note.seconds), None, note.pitch, note.seconds, None, forgiven=forgiven)


# Free parts


def _free(
    form: Form,
    parts: Collection[str],
    struck: Sequence[Struck],
    beats: BeatMap,
    low: float,
    high: float,
    *,
    sung: bool,
) -> list[JudgedNote]:
    """Keys held against the chord of their moment, and bars in which nothing was played.

    Of a player who has the melody, too (``sung``), no bar is missing: they answer where the melody leaves room.
    """
    part: Part = "chords" if "chords" in parts else "bass" if "bass" in parts else "solo"
    found = []
    for n, note in enumerate(struck):
        beat = beats.beat(note.seconds)
        chords = [_chord(form, at) for at in (beat, beat + _CHANGE_NEAR)]
        after = struck[n + 1].pitch if n + 1 < len(struck) else None
        fits = any(_fits(chord, note.pitch, part, after) for chord in chords)
        found.append(JudgedNote("right" if fits else "wrong", beat, None, note.pitch, note.seconds, None, part))
    if part == "solo" or sung:
        return found
    struck_at = sorted(note.chart_beat for note in found)
    length = float(form.length)
    bars = list(pairwise([*map(float, form.bars), length]))
    choruses = range(max(0, floor(low / length)), max(1, ceil(high / length)))
    for start, end in ((a + n * length, b + n * length) for n in choruses for a, b in bars):
        if start < low - 1e-6 or end > high + 1e-6 or not form.chord_at(start).chord.is_chord:
            continue
        first = bisect_left(struck_at, start - _CHANGE_NEAR)
        if first == len(struck_at) or struck_at[first] >= end - _CHANGE_NEAR:
            found.append(JudgedNote("missing", start, None, None, None, None, part))
    return found


def _chord(form: Form, beat: float) -> Harmony:
    """The chord at a place between beats."""
    return harmony_at(form, Fraction(beat).limit_denominator(960))


def _fits(chord: Harmony, pitch: int, part: Part, after: int | None) -> bool:
    """Whether a key belongs to a chord or its scale, or leads by a semitone to a note of the bass."""
    pc = pitch % OCTAVE
    if pc in chord.tones or pc in chord.scale:
        return True
    return part in ("bass", "solo") and after is not None and abs(after - pitch) <= 2


def _with_deviations(notes: list[JudgedNote], pairs: _Pairs, beats: BeatMap, *, own_beat: bool) -> list[JudgedNote]:
    """The notes with how far each that was paired fell from its beat."""
    timed = [(n, seconds) for n in pairs.places if (seconds := notes[n].seconds) is not None]
    wanted, struck_at = [pairs.places[n] for n, _ in timed], [seconds for _, seconds in timed]
    found = list(notes)
    for (n, _), off in zip(timed, deviations(wanted, struck_at, beats, own_beat=own_beat), strict=True):
        found[n] = replace(found[n], deviation_ms=off)
    return found
