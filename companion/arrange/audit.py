"""What a teacher would count in an arrangement: figures about the bass and the chords, each with its target.

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers. Shares are fractions of 1. Ghosted notes
(weight below 0.6) don't count as notes of the line. "New chord": a chord with another root, quality or slash bass that begins
on a beat of the metre. The figures are worked out from the notes alone, not from how they were found.

Targets are common practice put into numbers: a walking bass says the root and leads to the next, moves by steps and thirds,
and never loops; chords hold their third and seventh, move little, and leave the melody alone.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, pairwise

from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.part import Note
from companion.chart.model import Form, MelodyNote

GHOST = 0.6
CLEAR = 0.125
"""Quarters within which a chord counts as struck together with a melody note."""


@dataclass(frozen=True)
class Figure:
    """One figure of an audit."""

    name: str
    value: float
    at_least: float | None = None
    at_most: float | None = None
    of: int = 1
    """How many cases it was counted over."""
    places: tuple[str, ...] = ()
    """Where it went wrong, the first few."""

    @property
    def reached(self) -> bool:
        """Whether the target is met; so is one with nothing to count."""
        if not self.of:
            return True
        low = self.at_least is None or self.value >= self.at_least - 1e-9
        return low and (self.at_most is None or self.value <= self.at_most + 1e-9)


class _Count:
    """Hits and cases of one figure, with the places of the misses."""

    def __init__(self) -> None:
        self.hits, self.cases = 0, 0
        self.places: list[str] = []

    def add(self, hit: bool, place: str, noted: bool) -> None:
        self.hits += hit
        self.cases += 1
        if noted and len(self.places) < 8:
            self.places.append(place)

    def figure(self, name: str, *, at_least: float | None = None, at_most: float | None = None) -> Figure:
        return Figure(
            name, self.hits / self.cases if self.cases else 0.0, at_least, at_most, self.cases, tuple(self.places)
        )


# --- the bass ---------------------------------------------------------------------------------------------------------


def walking(form: Form, choruses: Sequence[Sequence[Note]]) -> list[Figure]:
    """Figures of a walking bass over the choruses given."""
    rows = [[n for n in notes if n.weight >= GHOST] for notes in choruses]
    figures = _roots_and_leads(form, rows) + _motion(form, rows) + _membership(form, rows)
    return figures + [_guides(form, rows), _patterns(form, rows)] + _novelty(form, rows)


def _changes(form: Form) -> list[tuple[Fraction, Harmony]]:
    """Beats on which a new chord begins."""
    pulse = form.metre.pulse
    chords = [h for h in harmonies(form) if h.written]
    found = []
    for n, harmony in enumerate(chords):
        if (n == 0 or chords[n - 1].label != harmony.label) and harmony.start % pulse == 0:
            found.append((harmony.start, harmony))
    return found


def _roots_and_leads(form: Form, rows: Sequence[Sequence[Note]]) -> list[Figure]:
    roots, leads = _Count(), _Count()
    for notes in rows:
        starts = [n.beat for n in notes]
        for beat, harmony in _changes(form):
            k = bisect_left(starts, beat)
            struck = notes[k] if k < len(notes) and starts[k] == beat else None
            right = struck is not None and struck.midi % 12 == harmony.bass
            roots.add(right, _place(form, beat), not right)
            if k and struck is not None:
                ok = _leads(struck.midi - notes[k - 1].midi)
                leads.add(ok, _place(form, starts[k - 1]), not ok)
    return [
        roots.figure("root on the first beat of a new chord", at_least=0.95),
        leads.figure("the last note before a new chord leads to it", at_least=0.90),
    ]


def _leads(move: int) -> bool:
    """By a semitone or a step, or from the fifth of what comes, above or below it."""
    return abs(move) in (1, 2, 7) or move == 5


def _motion(form: Form, rows: Sequence[Sequence[Note]]) -> list[Figure]:
    leaps, repeats, thrice = _Count(), _Count(), 0
    lengths: list[int] = []
    for notes in rows:
        run, direction = 1, 0
        for n, (a, b) in enumerate(pairwise(notes)):
            move = b.midi - a.midi
            leap = abs(move) > 7 and abs(move) != 12
            leaps.add(leap, _place(form, b.beat), leap)
            repeats.add(move == 0, _place(form, b.beat), move == 0)
            thrice += n > 0 and move == 0 and notes[n - 1].midi == a.midi
            sign = (move > 0) - (move < 0)
            if sign and direction and sign != direction:
                lengths.append(run)
                run = 1
            else:
                run += 1
            direction = sign or direction
    return [
        leaps.figure("leaps over a fifth, octaves apart", at_most=0.03),
        repeats.figure("the same pitch twice running", at_most=0.03),
        Figure("the same pitch three times", float(thrice), at_most=0.0),
        Figure("notes between changes of direction", sum(lengths) / max(1, len(lengths)), 2.0, 6.0, len(lengths)),
    ]


def _membership(form: Form, rows: Sequence[Sequence[Note]]) -> list[Figure]:
    range_, wrong = _Count(), _Count()
    for notes in rows:
        for n, note in enumerate(notes):
            out = not 28 <= note.midi <= 55
            range_.add(out, _place(form, note.beat), out)
            before = notes[n - 1].midi if n else None
            after = notes[n + 1].midi if n + 1 < len(notes) else None
            bad = not _belongs(form, note, before, after, n + 1 == len(notes))
            wrong.add(bad, f"{_place(form, note.beat)} {note.pitch}", bad)
    return [
        range_.figure("outside E1 to G3", at_most=0.0),
        wrong.figure("neither chord, scale, passing nor leading note", at_most=0.0),
    ]


def _belongs(form: Form, note: Note, before: int | None, after: int | None, last: bool) -> bool:
    harmony = harmony_at(form, note.beat)
    pc = note.midi % 12
    if pc == harmony.bass or pc in harmony.scale:
        return True
    if after is None:
        return last
    passing = before is not None and abs(after - note.midi) == 1 and after - note.midi == note.midi - before
    return passing or abs(after - note.midi) == 1


def _guides(form: Form, rows: Sequence[Sequence[Note]]) -> Figure:
    count = _Count()
    for notes in rows:
        for bar, start, end in _bars(form):
            inside = {h.label for h in harmonies(form) if h.start < end and h.end > start and h.written}
            if len(inside) != 1 or not all(h.written for h in harmonies(form) if h.start < end and h.end > start):
                continue
            harmony = harmony_at(form, start)
            has = any(n.midi % 12 in harmony.guides for n in notes if start <= n.beat < end)
            count.add(has, f"bar {bar}", not has)
    return count.figure("third or seventh in bars of one chord", at_least=0.70)


def _patterns(form: Form, rows: Sequence[Sequence[Note]]) -> Figure:
    worst, which = 0.0, ""
    for notes in rows:
        seen: Counter[tuple[int, ...]] = Counter()
        bars = _bars(form)
        for _, start, end in bars:
            inside = [n for n in notes if start <= n.beat < end]
            seen[tuple((n.midi - harmony_at(form, n.beat).root) % 12 for n in inside)] += 1
        if seen:
            pattern, times = seen.most_common(1)[0]
            if times > 1 and times / len(bars) > worst:
                worst, which = times / len(bars), " ".join(map(str, pattern))
    return Figure("share of the commonest pattern of degrees", worst, at_most=0.15, places=(which,))


def _novelty(form: Form, rows: Sequence[Sequence[Note]]) -> list[Figure]:
    lines = [
        [tuple((n.beat - start, n.midi) for n in notes if start <= n.beat < end) for _, start, end in _bars(form)]
        for notes in rows
    ]
    equal, shared = 0, 0.0
    pairs = list(combinations(lines, 2))
    for a, b in pairs:
        same = sum(x == y for x, y in zip(a, b, strict=True)) / max(1, len(a))
        shared = max(shared, same)
        equal += same == 1.0
    return [
        Figure("choruses with the same line", float(equal), at_most=0.0, of=len(pairs)),
        Figure("bars shared between two choruses, at most", shared, at_most=0.25, of=len(pairs)),
    ]


# --- the chords -------------------------------------------------------------------------------------------------------


def voiced(
    form: Form, choruses: Sequence[Sequence[Note]], basses: Sequence[Sequence[Note]], *, rootless: bool = True
) -> list[Figure]:
    """Figures of the chords' notes; ``basses`` are the bass lines that sound below them, chorus by chorus."""
    rooted, bare, clash, mud, hand, above = (_Count() for _ in range(6))
    moves: list[float] = []
    for n, notes in enumerate(choruses):
        struck = chords_of(notes)
        below = sorted(basses[n], key=lambda x: x.beat) if n < len(basses) else []
        for beat, chord in struck:
            harmony = _meant(form, beat, chord)
            place = f"{_place(form, beat)} {' '.join(str(x.pitch) for x in chord)}"
            _judge(form, harmony, chord, below, place, rootless, (rooted, bare, clash, mud, hand, above))
        moves += _moves(form, struck)
    zero = {"at_most": 0.0}
    return [
        rooted.figure("rootless voicings with the root in them", **zero),
        bare.figure("voicings without third and seventh", **zero),
        Figure(
            "movement of a voice between chords, semitones", sum(moves) / max(1, len(moves)), at_most=2.0, of=len(moves)
        ),
        clash.figure("clashes with the melody", **zero),
        mud.figure("below the low limits", **zero),
        hand.figure("wider than a hand", **zero),
        above.figure("struck above a sounding melody note", **zero),
    ]


def chords_of(notes: Iterable[Note]) -> list[tuple[Fraction, list[Note]]]:
    """Notes gathered into chords: what is struck within three quarters of one shape is one chord, its late voice included."""
    found: dict[Fraction, list[Note]] = {}
    for note in notes:
        late = note.reason.startswith("late") and found
        beat = max(found) if late else note.beat
        found.setdefault(beat, []).append(note)
    return [(beat, sorted(chord, key=lambda n: n.midi)) for beat, chord in sorted(found.items())]


def _meant(form: Form, beat: Fraction, chord: Sequence[Note]) -> Harmony:
    """The chord that a voicing stands for: the one to come where it is struck just before it and sounds into it."""
    here = harmony_at(form, beat)
    if 0 < here.end - beat <= Fraction(1, 2) or beat < 0:
        coming = harmony_at(form, beat + Fraction(1, 2))
        pcs = {n.midi % 12 for n in chord}
        if coming.label != here.label and len(coming.guides & pcs) >= len(here.guides & pcs):
            return coming
    return here


def _judge(
    form: Form,
    harmony: Harmony,
    chord: Sequence[Note],
    below: Sequence[Note],
    place: str,
    rootless: bool,
    counts: tuple[_Count, ...],
) -> None:
    rooted, bare, clash, mud, hand, above = counts
    pcs = {n.midi % 12 for n in chord}
    if rootless and harmony.chord.quality not in ("m7b5", "dim7", "power", "other"):
        has = harmony.root in pcs
        rooted.add(has, place, has)
    third_and_seventh = _guided(harmony, pcs)
    if rootless and harmony.chord.quality not in ("power", "other"):
        bare.add(not third_and_seventh, place, not third_and_seventh)
    start, end = min(n.beat for n in chord), max(n.beat + n.length for n in chord)
    over = [m for m in form.melody if m.beat < end and m.beat + m.length > start]
    bad = any(
        m.pitch.midi - n.midi in (1, 13)
        for m in over
        for n in chord
        if m.beat < n.beat + n.length and m.beat + m.length > n.beat
    )
    clash.add(bad, place, bad)
    under = [n for n in below if n.beat < end and n.beat + n.length > start]
    muddy = any(_muddy([b.midi] + [n.midi for n in chord]) for b in under) or _muddy([n.midi for n in chord])
    mud.add(muddy, place, muddy)
    wide = any(_too_wide([n for n in chord if n.hand == side and not n.pedal]) for side in ("left", "right"))
    hand.add(wide, place, wide)
    high = any(m.beat <= start < m.beat + m.length and chord[-1].midi > m.pitch.midi for m in over)
    above.add(high, place, high)


def _guided(harmony: Harmony, pcs: set[int]) -> bool:
    """Third and seventh are there; sixth for a seventh that the symbol hasn't; a fourth for the third in sus chords."""
    relative = {(pc - harmony.root) % 12 for pc in pcs}
    quality = harmony.chord.quality
    thirds = {5, 2} if quality in ("7sus", "sus") else {3, 4}
    return bool(relative & thirds) and bool(relative & {9, 10, 11})


LOW_LIMITS = {1: 52, 2: 51, 3: 48, 4: 46, 5: 46, 6: 46, 7: 34, 8: 43, 9: 41, 10: 41, 11: 41, 13: 40, 14: 39}
"""MIDI number below which the lower of two neighbours may not lie, by interval (common practice, values from memory)."""


def _muddy(midi: Sequence[int]) -> bool:
    ordered = sorted(midi)
    return any(low < LOW_LIMITS.get(high - low, 0) for low, high in pairwise(ordered)) or ordered != list(midi)


def _too_wide(notes: Sequence[Note]) -> bool:
    return len(notes) > 5 or (len(notes) > 1 and max(n.midi for n in notes) - min(n.midi for n in notes) > 14)


def _moves(form: Form, struck: Sequence[tuple[Fraction, Sequence[Note]]]) -> list[float]:
    """Semitones that each voice moves between neighbouring voicings of different chords."""
    moves: list[float] = []
    for (beat_a, a), (beat_b, b) in pairwise(struck):
        if _meant(form, beat_a, a).label == _meant(form, beat_b, b).label:
            continue
        x, y = [n.midi for n in a], [n.midi for n in b]
        if len(x) == len(y):
            moves += [abs(p - q) for p, q in zip(x, y, strict=True)]
        else:
            short, long = sorted((x, y), key=len)
            moves += [min(abs(p - q) for q in long) for p in short]
    return moves


def placed(form: Form, choruses: Sequence[Sequence[Note]], *, gaps: bool = True) -> list[Figure]:
    """Figures of where the chords fall."""
    together, unanswered = _Count(), _Count()
    longest = 0
    for notes in choruses:
        beats = [beat for beat, _ in chords_of(notes)]
        moving = [m.beat for m in form.melody if m.length < 2]
        for beat in beats:
            near = _near(moving, beat) if form.melody else False
            together.add(near, _place(form, beat), near)
        longest = max(longest, _same_rhythm(form, beats))
        for bar, start, end in _bars(form):
            if any(start <= m.beat < end for m in form.melody) or not harmony_at(form, start).written:
                continue
            silent = not any(start <= beat < end for beat in beats)
            unanswered.add(silent, f"bar {bar}", silent)
    figures = [Figure("bars running with one rhythm of the chords", float(longest), at_most=4.0)]
    if gaps and form.melody:
        figures.append(together.figure("chords struck with a moving melody note", at_most=0.03))
        figures.append(unanswered.figure("bars without a melody note left unanswered", at_most=0.05))
    return figures


def _near(onsets: Sequence[Fraction], beat: Fraction) -> bool:
    k = bisect_left(onsets, beat)
    return any(0 <= j < len(onsets) and abs(onsets[j] - beat) <= CLEAR for j in (k - 1, k))


def _same_rhythm(form: Form, beats: Sequence[Fraction]) -> int:
    longest, run, last = 0, 0, None
    for _, start, end in _bars(form):
        rhythm = tuple(beat - start for beat in beats if start <= beat < end)
        run = run + 1 if rhythm and rhythm == last else 1
        last = rhythm
        longest = max(longest, run if rhythm else 0)
    return longest


# --- looking things up ------------------------------------------------------------------------------------------------


def harmony_at(form: Form, beat: Fraction) -> Harmony:
    """The chord that rules a beat; the form repeats in both directions."""
    chords = harmonies(form)
    at = beat % form.length
    return chords[max(0, bisect_right([h.start for h in chords], at) - 1)]


def _bars(form: Form) -> list[tuple[int, Fraction, Fraction]]:
    return [(n, a, b) for n, (a, b) in enumerate(pairwise([*form.bars, form.length]), 1)]


def _place(form: Form, beat: Fraction) -> str:
    bar = form.bar_at(beat)
    return f"bar {bar} beat {float(beat % form.length - form.bars[bar - 1]) + 1:g}"


def over_melody(form: Form, notes: Sequence[Note]) -> list[tuple[Note, MelodyNote]]:
    """Pairs of a chord note and a melody note a semitone or minor ninth above it that sound together."""
    return [
        (n, m)
        for n in notes
        for m in form.melody
        if m.beat < n.beat + n.length and m.beat + m.length > n.beat and m.pitch.midi - n.midi in (1, 13)
    ]
