"""The late fourth voice: one note that comes after its chord, and with those of the next chords makes a line by step.

Conventions: beats and lengths in quarters from the first downbeat of the form; MIDI numbers.

Method: how many chords of a stretch have one is what its treatment asks for. For each chord there is a choice of
notes: one of its own that waits (neither third nor seventh, and not the lowest, on which the others stand), another
tone of its scale in that one's place, or one more where it has three. Dynamic programming finds as many as are asked
for that join best: by step from one to the next, on chords not far apart. Common practice; prices in
``configs/comping.toml``.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise

import numpy as np
from numpy.typing import NDArray

from companion.arrange.chords.context import HALF, Strike
from companion.arrange.chords.own_notes import has_own_notes_alone
from companion.arrange.chords.soundness import clear, muddy
from companion.arrange.chords.voicings import Voicing
from companion.arrange.harmony import Harmony
from companion.arrange.melody.part import MelodyIndex
from companion.arrange.part import Note
from companion.chart.model import Form
from companion.music.kinds import Degree
from companion.music.pitch import pitch_in_key
from companion.preferences.comping import CompingPreferences, LateVoices
from companion.preferences.voicings import VoicingPreferences

REASON = "late fourth voice, a line of its own"
NEVER = 1e9
"""Stands for no way."""
MOST_CHOICES = 8
"""Notes that are weighed for one chord."""


@dataclass(frozen=True)
class LateVoice:
    """A note that comes late to its chord."""

    midi: int
    degree: Degree
    delay: Fraction
    """Quarters after the chord."""
    instead: int | None
    """Which voice of the chord, 0 the lowest, waits for it or gives way to it; None where it is one more."""
    price: float


# --- where a chord is struck twice ------------------------------------------------------------------------------------


def gathered(struck: Sequence[Strike], above: MelodyIndex, chance: random.Random) -> list[Strike]:
    """Strikes, with some that say their chord again left to a late voice of it, where late voices are asked for.

    The more of them are asked for, the more often.
    """
    found: list[Strike] = []
    for strike in struck:
        before = found[-1] if found else None
        if before is not None and _may_gather(before, strike, above) and chance.random() < 2 * strike.treatment.late:
            until = strike.beat + strike.length
            meant = max(before.meant, strike.beat - before.beat + strike.meant) if before.meant else before.meant
            found[-1] = replace(before, length=until - before.beat, meant=meant, again=strike.beat)
        else:
            found.append(strike)
    return found


def _may_gather(before: Strike, strike: Strike, above: MelodyIndex) -> bool:
    apart = strike.beat - before.beat
    same = (
        before.harmony.start == strike.harmony.start and before.treatment is strike.treatment and before.again is None
    )
    return same and not strike.slides and apart <= 2 and not above.begins(float(before.beat), float(strike.beat) + 0.01)


# --- which notes come late --------------------------------------------------------------------------------------------


def late_voices(
    comping: CompingPreferences,
    voicings: VoicingPreferences,
    struck: Sequence[Strike],
    chosen: Sequence[Voicing | None],
    above: MelodyIndex,
    chance: random.Random,
) -> dict[int, LateVoice]:
    """Late voices by the index of their chord.

    Parameters
    ----------
    comping : CompingPreferences
    voicings : VoicingPreferences
    struck : sequence of Strike
    chosen : sequence of Voicing or None
        The voicing of each strike; None where nothing is played, or where what is played stands already.
    above : MelodyIndex
        The melody that sounds meanwhile.
    chance : random.Random
        Makes choruses differ.
    """
    found: dict[int, LateVoice] = {}
    for late, group in groupby(range(len(struck)), key=lambda n: struck[n].treatment.late):
        indices = [n for n in group if chosen[n] is not None]
        asked = _asked(comping.late, late * len(indices), chance)
        if asked:
            choices = [_choices(comping, voicings, struck[n], chosen[n], above, chance) for n in indices]
            beats = [float(struck[n].beat) for n in indices]
            line = _line(comping.late, beats, choices, asked)
            found |= {indices[k]: late_voice for k, late_voice in line.items()}
    return found


def _asked(taste: LateVoices, wanted: float, chance: random.Random) -> int:
    """How many late voices there are to be where so many are wanted on average: enough for a line, or none."""
    if wanted < taste.least:
        return taste.least if chance.random() * taste.least < wanted else 0
    return int(wanted + chance.random())


def _choices(
    comping: CompingPreferences,
    voicings: VoicingPreferences,
    strike: Strike,
    voicing: Voicing | None,
    above: MelodyIndex,
    chance: random.Random,
) -> list[LateVoice]:
    """Notes that may come late to a chord, the likeliest first."""
    if voicing is None or strike.slides or voicing.shape.left or len(voicing.midi) not in (2, 3, 4):
        return []
    found: dict[int, LateVoice] = {}
    sounding = [n.pitch.midi for n in above.sounding(float(strike.beat), float(strike.beat + strike.length))]
    for delay, waits in _delays(comping, strike, above):
        for one in _notes(comping.late, voicings, strike, voicing, sounding):
            price = one.price + waits + chance.gauss(0, comping.late.chance)
            if one.midi not in found or price < found[one.midi].price:
                found[one.midi] = replace(one, delay=delay, price=price)
    return sorted(found.values(), key=lambda one: one.price)[:MOST_CHOICES]


def _delays(comping: CompingPreferences, strike: Strike, above: MelodyIndex) -> list[tuple[Fraction, float]]:
    """How long a note may wait, with the price: so that it sounds for a while, and alone."""
    taste, alone = comping.late, comping.placement.late_alone
    usual = [Fraction(one).limit_denominator(24) for one in taste.after]
    delays = [strike.again - strike.beat] if strike.again is not None else []
    delays += [one for one in usual if one not in delays]
    return [
        (delay, n * taste.otherwise)
        for n, delay in enumerate(delays)
        if strike.length - delay >= HALF
        and not above.begins(float(strike.beat + delay) - alone, float(strike.beat + delay) + alone)
    ]


def _notes(
    taste: LateVoices, voicings: VoicingPreferences, strike: Strike, voicing: Voicing, sounding: Sequence[int]
) -> list[LateVoice]:
    """The chord's own notes that may wait, and tones of its scale that may come instead or besides."""
    harmony, midi = strike.harmony, voicing.midi
    free: list[int | None] = []
    found: list[LateVoice] = []
    for n in range(1, len(midi) if len(midi) == 4 else 0):
        if midi[n] % 12 not in harmony.guides:
            found.append(LateVoice(midi[n], voicing.shape.degrees[n], Fraction(0), n, 0.0))
            if not _stands_for_seventh(harmony, midi[n]):
                free.append(n)
    if has_own_notes_alone(harmony):
        return found  # nothing stands for its own notes
    had = {note % 12 for note in midi}
    tones = {pc: degree for pc, degree in {**harmony.scale, **harmony.tones}.items() if pc not in harmony.avoid}
    for instead in free or [None] * (len(midi) < 4):
        others = [note for n, note in enumerate(midi) if n != instead]
        for note in range(others[0] + 1, others[0] + voicings.hand.span + 1):
            degree = tones.get(note % 12)
            if degree is None or note % 12 in had or note % 12 == harmony.root or degree.number in (3, 7):
                continue
            row = tuple(sorted([*others, note]))
            if any(b - a < 2 for a, b in pairwise(row)) or muddy(voicings, row):
                continue
            if clear(voicings, (note,), sounding, ()):
                price = taste.other if instead is not None else taste.one_more * (4 - len(midi))
                found.append(LateVoice(note, _above_the_octave(degree), Fraction(0), instead, price))
    return found


def _stands_for_seventh(harmony: Harmony, midi: int) -> bool:
    """Whether a note is the sixth or seventh that makes the voicing of a triad whole."""
    return len(harmony.guides) < 2 and (midi - harmony.root) % 12 in (9, 10, 11)


def _above_the_octave(degree: Degree) -> Degree:
    """A second, fourth or sixth as the ninth, eleventh or thirteenth that it is in a voicing."""
    return Degree(degree.number + 7, degree.alter) if degree.number in (2, 4, 6) else degree


# --- the line ---------------------------------------------------------------------------------------------------------

_Costs = NDArray[np.float64]
"""The least cost of so many late voices, by their number."""


@dataclass(frozen=True)
class _End:
    """The best lines that end with one choice, by how many late voices they have."""

    chord: int
    beat: float
    voice: LateVoice
    costs: _Costs
    before: list[_End | None]
    """By how many they have: what the last one is joined to, or comes after."""


def _line(
    taste: LateVoices, beats: Sequence[float], choices: Sequence[Sequence[LateVoice]], asked: int
) -> dict[int, LateVoice]:
    """As many late voices as are asked for, or can be, at the least cost; never in two chords running."""
    ends: list[_End] = []
    fresh: list[_End] = []
    best: list[tuple[float, _End | None]] = [(0.0, None), *[(NEVER, None)] * asked]
    for chord, voices in enumerate(choices):
        near = [end for end in ends if beats[chord] - end.beat <= taste.joined]
        new = [_extended(taste, (chord, beats[chord]), voice, near, best, asked) for voice in voices]
        _keep_best(best, fresh)
        ends += fresh
        fresh = new
    _keep_best(best, fresh)
    count = max((n for n in range(1, asked + 1) if best[n][1] is not None), default=0)
    found: dict[int, LateVoice] = {}
    last = best[count][1]
    while last is not None and count:
        found[last.chord] = last.voice
        last, count = last.before[count], count - 1
    return found


def _keep_best(best: list[tuple[float, _End | None]], ends: Sequence[_End]) -> None:
    """Enter what costs less than the best so far, by how many late voices there are."""
    for end in ends:
        for count in range(1, len(best)):
            if end.costs[count] < best[count][0]:
                best[count] = float(end.costs[count]), end


def _extended(
    taste: LateVoices,
    place: tuple[int, float],
    voice: LateVoice,
    near: Sequence[_End],
    best: Sequence[tuple[float, _End | None]],
    asked: int,
) -> _End:
    """The best lines that end with a voice: it begins one after what came before, or goes on with a near one.

    ``place`` is which chord it comes to, and where that is struck.
    """
    chord, beat = place
    rows = [np.array([cost + taste.begins for cost, _ in best])]
    rows += [end.costs + _join(taste, voice, end, beat) for end in near]
    table = np.array(rows)
    pick = table.argmin(axis=0)
    costs = np.full(asked + 1, NEVER)
    costs[1:] = table.min(axis=0)[:-1] + voice.price
    before = [None, *(best[n][1] if pick[n] == 0 else near[pick[n] - 1] for n in range(asked))]
    return _End(chord, beat, voice, costs, before)


def _join(taste: LateVoices, voice: LateVoice, end: _End, beat: float) -> float:
    """Price of going on from the end of a line to a voice whose chord is struck at a beat."""
    step = abs(voice.midi - end.voice.midi)
    crowded = taste.crowded if beat - end.beat < taste.apart else 0.0
    return crowded + (taste.same if step == 0 else taste.leap * max(0, step - 2))


# --- the chord with it ------------------------------------------------------------------------------------------------


def with_late_voice(form: Form, strike: Strike, chord: Sequence[Note], late: LateVoice) -> list[Note]:
    """The notes of a chord, from the lowest up, with one of them late, or another in its place, or one more."""
    there = [note for n, note in enumerate(chord) if n != late.instead]
    name = strike.harmony.name_of(late.degree)
    waiting = replace(
        chord[0],
        beat=strike.beat + late.delay,
        length=strike.length - late.delay,
        pitch=name.at(late.midi) if abs(name.alter) <= 1 else pitch_in_key(late.midi, form.fifths),
        degree=str(late.degree),
        reason=f"{REASON}: the {late.degree}; {chord[0].reason}",
    )
    in_order = sorted([*there, waiting], key=lambda note: note.midi)
    numbered = [replace(note, voice=n) for n, note in enumerate(in_order, 1)]
    return sorted(numbered, key=lambda note: note.beat)
