"""What is said of a take's timing: bars rushed and dragged, bars that swing otherwise than the rest,
chords late and early.

Conventions: as in :mod:`companion.practice.bar_tempo`; figures in milliseconds.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from companion.chart.model import Form
from companion.practice.alignment import Alignment
from companion.practice.bar_tempo import BarTempo, SweepOnsets, rushed_and_dragged
from companion.practice.chord_timing import off_chords, struck_chords
from companion.practice.findings import Finding, What, bar_and_chorus, place_words
from companion.practice.judging import JudgedNote
from companion.practice.onsets import SweepTiming, in_order, sounding_beats, sweep_timing, usual_place
from companion.practice.sweeps import Sweep
from companion.practice.swing_played import OffBeat, OtherSwing, other_swing, ratio_of
from companion.preferences.review import ReviewPreferences

MOST_OFF = 0.25
"""Share of a beat by which nobody rushes or drags through a bar: they phrase it otherwise, or are elsewhere."""
PHRASED, PHRASED_SHARE = 80.0, 0.1
"""Milliseconds off the player's own beat, and share of the notes, from which the player phrases the tune freely."""
FREE_NEAR = 8.0
"""Quarters around what is improvised in which the beat isn't known well enough."""
IN_PLACE = 0.030
"""Seconds from where it was due within which a note tells the beat for a chord near it."""
HELD_LONG = 0.35
"""Seconds from which holding back is one moment's, not a bar's."""
HELD_AFTER = 0.1
"""Quarters after a beat that was held back within which a chord belongs to it."""


def take_timing(form: Form, alignment: Alignment) -> list[SweepTiming]:
    """The timing of every sweep."""
    return [sweep_timing(form, sweep, notes) for sweep, notes in zip(alignment.sweeps, alignment.judged, strict=True)]


def phrases_freely(notes: Sequence[JudgedNote]) -> bool:
    """Whether the player phrases: so many notes early or late that none of it is a fault of their time."""
    off = [abs(note.deviation_ms) for note in notes if note.expected is not None and note.deviation_ms is not None]
    return bool(off) and sum(one >= PHRASED for one in off) >= PHRASED_SHARE * len(off)


def tempo_findings(
    form: Form, alignment: Alignment, timing: Sequence[SweepTiming], rules: ReviewPreferences
) -> list[tuple[float, Finding]]:
    """Bars rushed and dragged, each with its moment."""
    usual = usual_place(form, [one for sweep in timing for one in sweep.onsets])
    pulse = float(form.metre.pulse)
    if phrases_freely(alignment.notes):
        return []
    take, quarters = [], []
    for sweep, heard in zip(alignment.sweeps, timing, strict=True):
        bars = sweep_bars(form, sweep)
        quarters.append(statistics.median(60 / sweep.map().tempo(low) for low in bars))
        held = tuple(beat for beat, by in sweep.held if by >= HELD_LONG)
        onsets = in_order(heard.onsets, heard.between)
        take.append(SweepOnsets(tuple(sounding_beats(onsets, usual, quarters[-1])), tuple(bars), held))
    improvises = any(sweep.free for sweep in alignment.sweeps)
    found = []
    for sweep, quarter, told in zip(
        alignment.sweeps, quarters, rushed_and_dragged(take, pulse, rules.timing.sure), strict=True
    ):
        beat = pulse * quarter
        unknown = [*sweep.free, *([(sweep.low, sweep.low), (sweep.high, sweep.high)] if improvises else [])]
        for one in told:
            least = (rules.timing.beside_ms if one.beside else rules.timing.rushed_ms) / 1000
            away = any(start - FREE_NEAR < one.high and one.low < end + FREE_NEAR for start, end in unknown)
            if max(least, rules.timing.rushed * beat) <= abs(one.late) <= MOST_OFF * beat and not away:
                found.append((sweep.map().seconds(one.low), _tempo_finding(*bar_and_chorus(form, one.low), one)))
    return found


def _tempo_finding(bar: int, chorus: int, one: BarTempo) -> Finding:
    figure = round(1000 * one.late, 1)
    if one.beside:
        text = f"{abs(figure):.0f} ms {'behind' if figure > 0 else 'ahead of'} your own beat"
    else:
        text = f"{'dragged' if figure > 0 else 'rushed'} by {abs(figure):.0f} ms a beat"
    return Finding(bar, chorus, "dragged" if figure > 0 else "rushed", figure, f"{place_words(bar)}: {text}")


def sweep_bars(form: Form, sweep: Sweep) -> list[float]:
    """Where the bars of a sweep begin, cut off at both ends, and where the last one ends."""
    length = float(form.length)
    first, last = math.floor(sweep.low / length), math.ceil(sweep.high / length)
    starts = [start + n * length for n in range(first, last) for start in form.bar_starts]
    inside = [start for start in starts if sweep.low + 1e-6 < start < sweep.high - 1e-6]
    return [sweep.low, *inside, sweep.high]


def swing_by_bar(form: Form, timing: Sequence[SweepTiming]) -> dict[tuple[int, int], float]:
    """The ratio that is played in each bar that shows it, by chorus and bar."""
    places: dict[tuple[int, int], list[float]] = {}
    for sweep in timing:
        for onset in sweep.onsets:
            if sweep.written and onset.shows:
                bar, chorus = bar_and_chorus(form, onset.beat)
                places.setdefault((chorus, bar), []).append(onset.place)
    return {bar: ratio_of(statistics.median(shown)) for bar, shown in places.items()}


def swing_findings(
    form: Form, alignment: Alignment, timing: Sequence[SweepTiming], rules: ReviewPreferences
) -> list[tuple[float, Finding]]:
    """Bars that swing otherwise than the rest, each stretch with its moment."""
    bars: list[tuple[float, int, int]] = []
    quavers: list[OffBeat] = []
    for sweep, heard in zip(alignment.sweeps, timing, strict=True):
        if not heard.written:
            continue  # how one swings isn't known where nobody has written what is played
        moments, last = sweep.map(), -1.0
        for onset in heard.onsets:
            if not onset.shows:
                continue
            place = bar_and_chorus(form, onset.beat)
            if not bars or bars[-1][1:] != place or onset.beat < last:
                bars.append((moments.seconds(onset.beat), *place))
            last = onset.beat
            quavers.append(OffBeat(len(bars) - 1, onset.place))
    if not quavers:
        return []
    quarter = statistics.median(60 / sweep.map().tempo(low) for sweep in alignment.sweeps for low, _ in sweep.beats)
    told = other_swing(quavers, quarter, rules.timing.sure, rules.timing.swing)
    return [(bars[one.first][0], _swing_finding(bars[one.first], bars[one.last], one)) for one in told]


def _swing_finding(first: tuple[float, int, int], last: tuple[float, int, int], one: OtherSwing) -> Finding:
    ratio, usual = ratio_of(one.place), ratio_of(one.usual)
    even = abs(one.place - 0.5) < abs(one.place - one.usual)
    said = "even quavers" if even else f"quavers swung {ratio:.1f} to 1"
    _, bar, chorus = first
    end = last[1] if last[2] == chorus and last[1] > bar else None
    text = f"{place_words(bar, end)}: {said}, elsewhere {usual:.1f} to 1"
    return Finding(bar, chorus, "swing", round(ratio, 2), text, end)


def _in_place(sweep: SweepTiming, usual: float) -> list[float]:
    """Beats, as they sound, at which written notes are where they were due."""
    if not sweep.written:
        return []
    onsets = sounding_beats(sweep.onsets, usual)
    return [one.beat for one in onsets if abs(sweep.beats.seconds(one.beat) - one.seconds) <= IN_PLACE]


def _is_held(sweep: Sweep, beat: float, pulse: float) -> bool:
    """Whether a beat lies where the player held back: what is struck there waits, and is neither late nor early."""
    return any(held - pulse < beat <= held + HELD_AFTER and by >= HELD_LONG for held, by in sweep.held)


def chord_findings(
    form: Form, alignment: Alignment, timing: Sequence[SweepTiming], rules: ReviewPreferences
) -> list[tuple[float, Finding]]:
    """Chords struck late or early, each with its moment."""
    chords = [chord for n, notes in enumerate(alignment.judged) for chord in struck_chords(notes, n)]
    swung = usual_place(form, [one for sweep in timing for one in sweep.onsets])
    found = []
    beats = [sweep.beats for sweep in timing]
    for one in off_chords(
        chords, beats, swung, rules.timing.sure, rules.timing.chord_ms,
        bar=float(form.metre.bar), notes=[_in_place(sweep, swung) for sweep in timing],
    ):  # fmt: skip
        sweep = alignment.sweeps[one.chord.sweep]
        if _is_held(sweep, beats[one.chord.sweep].beat(one.chord.first), float(form.metre.pulse)):
            continue
        bar, chorus = bar_and_chorus(form, one.beat + 1e-3)
        late = one.late_ms > 0
        text = f"{place_words(bar)}: a chord {abs(one.late_ms):.0f} ms {'late' if late else 'early'}"
        what: What = "late-chord" if late else "early-chord"
        found.append((one.chord.first, Finding(bar, chorus, what, one.late_ms, text)))
    return found
