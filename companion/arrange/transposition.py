"""A chart in another key with its written arrangement in reach: the bass in its range, the chords in their register.

Conventions: MIDI numbers; beats in quarters from the first downbeat of the form. Ranges, limits and hands are those in
which the arranger writes (``configs/bass.toml``, ``configs/voicings.toml``).

Method: where a bass line leaves its range, each note takes an octave so that the line changes as little as can be, by
dynamic programming: it changes register where that turns a fourth into a fifth, and not where it leads by step. A chord
that lies too low or too high is inverted, so that a rootless voicing from the third becomes one from the seventh; where
no inversion fits it is thinned, the fifth first, never third or seventh (common practice). What is in reach stays.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations, pairwise

from companion.arrange.chords.soundness import clear, fits_hands, muddy
from companion.arrange.harmony import Harmony
from companion.arrange.lookup import harmony_at
from companion.arrange.melody.part import MelodyIndex, index_melody
from companion.chart.model import Chart, Form, WrittenNote, WrittenPart
from companion.chart.transpose import transposed
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences
from companion.preferences.voicings import VoicingPreferences

OCTAVE = 12
_SHIFTS = (0, 1, -1)
"""Octaves by which a note of the bass may move."""
_OUT = 1000.0
"""Cost for each semitone out of range; above any sum of the others."""
_LONG = 4.0
"""Cost of an interval that has become a long leap."""
_NEW_INTERVAL = {0: 2.0, 1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0, 5: 0.2, 6: 0.8, 7: 0.2, 12: 0.5}
"""Cost of a changed interval, by the new one in semitones; others are long leaps."""
_MISLED = 3.0
"""Cost where a note no longer leads to the chord that follows it."""
_TURNED, _UNUSUAL = 3.0, 3.0
"""Costs of inverting a chord, and of a form that handbooks do not have, in semitones of the hand."""
_LEADS = (1, -1, 2, -2, 5, -7)


def in_key(chart: Chart, key: str | int) -> Chart:
    """A chart in another key, as :func:`companion.chart.transpose.transposed` has it, and what is written in reach.

    Raises
    ------
    UseError
        When the text names no key, or one of the other mode.
    """
    return within_reach(transposed(chart, key))


def within_reach(chart: Chart) -> Chart:
    """A chart whose written bass and chords lie where they can be played."""
    parts = {part.part: part for part in chart.written}
    if bass := parts.get("bass"):
        parts["bass"] = replace(bass, notes=_bass(bass.notes, chart.unfold()))
    if chords := parts.get("chords"):
        below = parts["bass"].notes if "bass" in parts else ()
        form = replace(chart, written=tuple(parts.values())).unfold()
        parts["chords"] = replace(chords, notes=_chords(chords, form, below))
    return replace(chart, written=tuple(parts[part.part] for part in chart.written))


# --- the bass ---------------------------------------------------------------------------------------------------------


def _bass(notes: Sequence[WrittenNote], form: Form) -> tuple[WrittenNote, ...]:
    """A bass line within its range."""
    span = preferences(BassPreferences).range
    lowest, highest = span.lowest, span.highest
    if all(lowest <= note.pitch.midi <= highest for note in notes):
        return tuple(notes)

    def alone(note: WrittenNote, shift: int) -> float:
        outside = not lowest <= note.pitch.midi + OCTAVE * shift <= highest
        return _OUT * outside + 0.001 * abs(shift)

    best = [{shift: (alone(notes[0], shift), shift) for shift in _SHIFTS}]
    for before, note in pairwise(notes):
        leads = harmony_at(form, before.beat).label != harmony_at(form, note.beat).label
        here = {}
        for shift in _SHIFTS:
            costs = ((best[-1][was][0] + _turned(before, note, shift - was, leads), was) for was in _SHIFTS)
            cost, was = min(costs)
            here[shift] = cost + alone(note, shift), was
        best.append(here)
    shift = min(_SHIFTS, key=lambda one: best[-1][one][0])
    found = []
    for note, ways in zip(reversed(notes), reversed(best), strict=True):
        found.append(_moved(note, shift))
        shift = ways[shift][1]
    return tuple(reversed(found))


def _turned(before: WrittenNote, note: WrittenNote, octaves: int, leads: bool) -> float:
    """What it costs that a note moves by so many octaves more than the one before it."""
    if not octaves:
        return 0.0
    was = note.pitch.midi - before.pitch.midi
    now = was + OCTAVE * octaves
    misled = leads and was in _LEADS and now not in _LEADS
    return _NEW_INTERVAL.get(abs(now), _LONG) + _MISLED * misled


# --- the chords -------------------------------------------------------------------------------------------------------


def _chords(written: WrittenPart, form: Form, below: Sequence[WrittenNote]) -> tuple[WrittenNote, ...]:
    """Chords within their register; what is struck together, or ends together, is one chord."""
    above, voicings = index_melody(form), preferences(VoicingPreferences)
    together: dict[Fraction, list[WrittenNote]] = {}
    for note in written.notes:
        together.setdefault(note.beat + note.length, []).append(note)
    options = []
    for end, chord in sorted(together.items(), key=lambda one: min(note.beat for note in one[1])):
        start = min(note.beat for note in chord)
        under = [n.pitch.midi for n in below if n.beat < end and n.beat + n.length > start]
        options.append(_options(voicings, chord, harmony_at(form, start), above, under))
    found = [note for chord in _least_moved(options) for note in chord]
    return tuple(sorted(found, key=lambda note: (note.beat, note.pitch.midi, note.voice)))


_Option = tuple[float, list[WrittenNote]]
"""One position of a chord, from the lowest note up, and its cost apart from the movement of the hand."""


def _options(
    voicings: VoicingPreferences,
    chord: Sequence[WrittenNote],
    harmony: Harmony,
    above: MelodyIndex,
    under: Sequence[int],
) -> list[_Option]:
    """Where a chord can be played, thinned if need be; as it is where there is no such place. The first is as it is."""
    in_order = sorted(chord, key=lambda note: note.pitch.midi)
    start, end = min(n.beat for n in chord), max(n.beat + n.length for n in chord)
    sounding = [n.pitch.midi for n in above.sounding(float(start), float(end))]
    reach = max(sounding, default=0) - in_order[0].pitch.midi  # farther than a hand's where the pedal holds the melody

    def fits(notes: Sequence[WrittenNote]) -> bool:
        midi = tuple(note.pitch.midi for note in notes)
        left = sum(note.hand == "left" for note in notes)
        register = voicings.register_of_two_hands if left else voicings.register_under_the_melody
        if sounding and not left and max(sounding) - midi[0] > max(voicings.hand.span, reach):
            return False
        inside = midi[0] >= register.lowest and midi[-1] <= register.highest
        if not inside or not fits_hands(voicings.hand, midi, left) or muddy(voicings, midi):
            return False
        return clear(voicings, midi, sounding, under)

    found: list[_Option] = [(0.0, in_order)] if fits(in_order) else []
    for thinned in _thinned(in_order, harmony):
        found += [(_strange(ways, in_order), ways) for ways in _inversions(thinned) if ways != in_order and fits(ways)]
        if found:
            return [(cost, notes if notes is in_order else _numbered(notes)) for cost, notes in found]
    return [(0.0, in_order)]


def _strange(chord: Sequence[WrittenNote], was: Sequence[WrittenNote]) -> float:
    """What a chord costs for not being as it was: one of four is rather turned by half than by a note."""
    lowest = {note.pitch.name: n for n, note in enumerate(was)}[chord[0].pitch.name]
    return _TURNED + (_UNUSUAL if len(chord) == 4 and lowest % 2 else 0.0)


def _least_moved(options: Sequence[list[_Option]]) -> list[list[WrittenNote]]:
    """One way for each chord, so that the hand moves least; all as they are where they can be."""
    if all(not ways[0][0] for ways in options):
        return [ways[0][1] for ways in options]
    best: list[list[tuple[float, int]]] = [[(cost, 0) for cost, _ in options[0]]]
    for before, ways in pairwise(options):
        here = []
        for cost, chord in ways:
            costs = (best[-1][n][0] + _way(chord, last) for n, (_, last) in enumerate(before))
            least, came = min((total, n) for n, total in enumerate(costs))
            here.append((least + cost, came))
        best.append(here)
    at = min(range(len(best[-1])), key=lambda n: best[-1][n][0])
    found = []
    for ways, row in zip(reversed(options), reversed(best), strict=True):
        found.append(ways[at][1])
        at = row[at][1]
    return found[::-1]


def _way(chord: Sequence[WrittenNote], before: Sequence[WrittenNote]) -> float:
    """How far the hand has to go, semitones in all."""
    last = [note.pitch.midi for note in before]
    return float(sum(min(abs(note.pitch.midi - midi) for midi in last) for note in chord))


def _inversions(chord: Sequence[WrittenNote]) -> Iterator[list[WrittenNote]]:
    """The same notes with some of the lowest an octave up, or some of the highest an octave down; both hands' stay."""
    if len({note.hand for note in chord}) > 1:
        yield from ([_moved(note, octave) for note in chord] for octave in _SHIFTS)
        return
    for count in range(len(chord) + 1):
        yield sorted([*chord[count:], *(_moved(n, 1) for n in chord[:count])], key=lambda n: n.pitch.midi)
        yield sorted([*(_moved(n, -1) for n in chord[count:]), *chord[:count]], key=lambda n: n.pitch.midi)


def _thinned(chord: Sequence[WrittenNote], harmony: Harmony) -> Iterator[list[WrittenNote]]:
    """The whole chord, then without one note, then without two: the fifth first, never third or seventh."""
    yield list(chord)
    fifth = (harmony.root + 7) % OCTAVE
    spare = sorted(
        (n for n in range(len(chord)) if chord[n].pitch.midi % OCTAVE not in harmony.guides),
        key=lambda n: (chord[n].pitch.midi % OCTAVE != fifth, n),
    )
    for count in (1, 2):
        if len(chord) - count >= 2:
            for dropped in combinations(spare, count):
                yield [note for n, note in enumerate(chord) if n not in dropped]


def _numbered(chord: Sequence[WrittenNote]) -> list[WrittenNote]:
    """The voices counted from below again."""
    return [replace(note, voice=n) for n, note in enumerate(sorted(chord, key=lambda n: n.pitch.midi), 1)]


def _moved(note: WrittenNote, octaves: int) -> WrittenNote:
    return replace(note, pitch=replace(note.pitch, octave=note.pitch.octave + octaves)) if octaves else note
