"""Which shapes and rhythms a player used in a take, where they chose them.

A chord counts that is right where it stands (:mod:`companion.arrange.chords.soundness`): a slip, a note that rubs, a
root doubled over the bass is nobody's habit. What a chart has note for note, and a chord over another bass than its
root, are not the player's choice. A bar's rhythm counts where each of its chords lies on the beat or on an off-beat
quaver as this player swings it.

Conventions: MIDI numbers; places and lengths in quarters from the bar line, written, a place below 0 before it.
"""

from __future__ import annotations

import math
import statistics
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from companion.arrange.chords.own_notes import has_own_notes_alone
from companion.arrange.chords.soundness import Surroundings, chord_faults, form_quality, left_hand, row
from companion.arrange.harmony import Harmony
from companion.arrange.lookup import harmony_at
from companion.chart.model import Form
from companion.messages import Heard
from companion.music.played import BeatMap, KeyPress
from companion.practice.alignment import Alignment, align
from companion.practice.chord_timing import TakeChord, struck_chords
from companion.practice.judging import JudgedNote
from companion.practice.onsets import sweep_timing, usual_place
from companion.practice.sweeps import Sweep
from companion.practice.voicings_played import AHEAD, NEAR, PlayedVoicing, voicings_played
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences
from companion.stage.take import Take
from companion.transcribe.playing import keys_of

ON_A_PLACE = 0.17
"""Quarters from its place within which a chord lies on it."""
SHORTEST, LONGEST = 0.5, 4.0
"""Quarters that a chord of a rhythm lasts."""
SAME = 1e-3
"""Seconds within which a note and a key that went down are one."""
BASS = 24
"""MIDI number of a C below every chord: where somebody else's bass is supposed."""

ShapeKey = tuple[str, str, int]
"""Kind of chord, degrees from the lowest note up, how many of its notes the left hand has."""
RhythmKey = tuple[str, str, tuple[float, ...]]
"""Metre, feel, places."""


@dataclass(frozen=True)
class TakeUses:
    """What a take shows."""

    shapes: dict[ShapeKey, list[int]]
    """The top notes of each shape, one for each time that it came."""
    rhythms: dict[RhythmKey, list[tuple[float, ...]]]
    """How long the chords of each rhythm lasted, one row for each bar that had it."""

    @property
    def empty(self) -> bool:
        """Whether it shows nothing."""
        return not self.shapes and not self.rhythms


def uses_of_take(take: Take) -> TakeUses:
    """What a take shows; nothing of a drill, and of one in which the player had no chords.

    Raises
    ------
    InputError
        It is damaged.
    """
    chart, settings = take.rehearsed()
    if take.rounds or "chords" not in settings.you:
        return TakeUses({}, {})
    heard = take.heard()
    return chord_uses(chart.unfold(), align(chart, settings, heard, take.seconds), heard, bass="bass" in settings.you)


def chord_uses(form: Form, alignment: Alignment, heard: Sequence[Heard] = (), *, bass: bool = False) -> TakeUses:
    """What a take that is laid on its chart shows.

    Parameters
    ----------
    form : Form
    alignment : Alignment
    heard : sequence of Heard
        What the keyboard sent: how long chords were held is taken from there.
    bass : bool
        Whether the player has the bass, too; otherwise somebody else has it.
    """
    played = [one for one in voicings_played(form, alignment) if not _written(form, one)]
    harmonies = {one.seconds: harmony_of(form, one) for one in played}
    return TakeUses(_shapes(played, harmonies, bass=bass), _rhythms(form, alignment, heard, harmonies))


def harmony_of(form: Form, one: PlayedVoicing) -> Harmony:
    """The chart's chord for which a chord was played: that of its moment, or the coming one."""
    here, coming = (harmony_at(form, Fraction(one.chart_beat + by).limit_denominator(960)) for by in (NEAR, AHEAD))
    return here if here.chord.symbol == one.chord else coming


def _written(form: Form, one: PlayedVoicing) -> bool:
    part = form.written_part("chords")
    return part is not None and one.bar in part.bars


# Shapes


def _shapes(
    played: Sequence[PlayedVoicing], harmonies: dict[float, Harmony], *, bass: bool
) -> dict[ShapeKey, list[int]]:
    voicings = preferences(VoicingPreferences)
    found: dict[ShapeKey, list[int]] = defaultdict(list)
    for one in played:
        harmony = harmonies[one.seconds]
        if one.called.other or one.rubs or has_own_notes_alone(harmony) or not harmony.written:
            continue
        under = (one.bass,) if one.bass is not None else () if bass else (BASS + harmony.bass,)
        left = left_hand(voicings.hand, one.midi)
        if left is None or chord_faults(voicings, harmony, one.midi, Surroundings(bass=under)):
            continue
        degrees = " ".join(map(str, row(harmony, one.midi)))
        found[form_quality(harmony), degrees, left].append(one.midi[-1])
    return dict(found)


# Rhythms


def _rhythms(
    form: Form, alignment: Alignment, heard: Sequence[Heard], harmonies: dict[float, Harmony]
) -> dict[RhythmKey, list[tuple[float, ...]]]:
    found: dict[RhythmKey, list[tuple[float, ...]]] = defaultdict(list)
    keys: dict[int, list[KeyPress]] = defaultdict(list)
    for key in keys_of(heard):
        keys[key.midi].append(key)
    for sweep, notes in zip(alignment.sweeps, alignment.judged, strict=True):
        for hits in _bars(form, sweep, notes, harmonies, keys).values():
            places = tuple(at for at, _ in hits)
            if all(a < b for a, b in pairwise(places)):
                found[str(form.metre), form.feel, places].append(tuple(long for _, long in hits))
    return dict(found)


def _bars(
    form: Form,
    sweep: Sweep,
    notes: Sequence[JudgedNote],
    harmonies: Mapping[float, Harmony],
    keys: Mapping[int, list[KeyPress]],
) -> dict[tuple[int, int], list[tuple[float, float]]]:
    """Place and length of each chord of each bar; bars in which a chord lies elsewhere, or none, are left out."""
    length, usual = float(form.length), float(form.metre.bar)
    starts = [*map(float, form.bars), length]
    found: dict[tuple[int, int], list[tuple[float, float]]] = defaultdict(list)
    odd: set[tuple[int, int]] = set()
    for one in placed_chords(form, sweep, notes):
        if one.chord.written or one.chord.first not in harmonies:
            continue
        chorus, within = divmod(one.beat if one.place is None else one.place, length)
        bar = min(bisect_right(starts, within + 1e-6), len(form.bars)) - 1
        key = int(chorus), bar
        if one.place is None:
            odd.add(key)
            continue
        at = within - starts[bar]
        if _comes_early(form, harmonies[one.chord.first], within, starts, bar):
            key = (key[0], bar + 1) if bar + 1 < len(form.bars) else (key[0] + 1, 0)
            at = -0.5
        found[key].append((round(at, 3), _held(keys, one)))
    whole = {n for n in range(len(form.bars)) if abs(starts[n + 1] - starts[n] - usual) < 1e-6}
    return {key: _until_the_next(hits) for key, hits in found.items() if key not in odd and key[1] in whole}


@dataclass(frozen=True)
class PlacedChord:
    """A chord where it was struck."""

    chord: TakeChord
    beat: float
    """As it sounded, in quarters through the choruses."""
    place: float | None
    """As it would be written; None where it lies on no beat and no off-beat quaver."""
    beats: BeatMap


def placed_chords(form: Form, sweep: Sweep, notes: Sequence[JudgedNote]) -> list[PlacedChord]:
    """The chords of a sweep, in order, by the player's own beat and swing."""
    timing = sweep_timing(form, sweep, notes)
    swung = usual_place(form, timing.onsets)
    found = []
    for chord in struck_chords(notes):
        beat = timing.beats.beat(chord.first)
        found.append(PlacedChord(chord, beat, _place(form, beat, swung), timing.beats))
    return found


def _place(form: Form, beat: float, swung: float) -> float | None:
    """The written place at which a chord was struck; None where it lies on none."""
    quarter = math.floor(beat + ON_A_PLACE)
    if form.metre.compound:
        place = round(2 * beat) / 2
        return place if abs(beat - place) <= ON_A_PLACE else None
    ways = {float(quarter): float(quarter), quarter + swung: quarter + 0.5, quarter + 1.0: quarter + 1.0}
    near = min(ways, key=lambda one: abs(beat - one))
    return ways[near] if abs(beat - near) <= ON_A_PLACE else None


def _comes_early(form: Form, harmony: Harmony, within: float, starts: Sequence[float], bar: int) -> bool:
    """Whether a chord on the quaver before a bar is the chord of that bar."""
    if abs(starts[bar + 1] - within - 0.5) > 1e-6:
        return False
    return float(harmony.start) == starts[bar + 1] % float(form.length)


def _until_the_next(hits: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The hits, none of them held beyond the next."""
    nexts = [at for at, _ in hits[1:]]
    return [
        (at, max(min(long, after - at), 0.0) or SHORTEST)
        for (at, long), after in zip(hits, [*nexts, math.inf], strict=True)
    ]


def _held(keys: Mapping[int, list[KeyPress]], one: PlacedChord) -> float:
    """Quarters for which a chord was held, to the half; two where that isn't known."""
    ends = [
        key.off
        for note in one.chord.notes
        for key in keys.get(note.pitch or 0, ())
        if abs(key.on - (note.seconds or 0.0)) < SAME
    ]
    if not ends:
        return 2.0
    held = one.beats.beat(statistics.median(ends)) - one.beat
    return min(max(round(2 * held) / 2, SHORTEST), LONGEST)
