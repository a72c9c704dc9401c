"""What a good round of a drill is, and what is said where one isn't.

The notes are judged by :mod:`companion.practice.judging`, as those of a whole take are; here it is decided whether that
makes a good round, by the limits in ``drills.toml``: notes wrong, missing or too many, off their beat, unevenly played;
and whether the player hesitated, stopped, went back, or let the tempo go.

Conventions: beats in quarters from the way in's first downbeat; seconds on the drill's clock; bars of the form.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from companion.chart.model import Form
from companion.music.played import BeatMap
from companion.practice.judging import JudgedNote, Struck, judge
from companion.practice.note_words import fault_words, lateness_words
from companion.practice.rounds import RoundFault, RoundPlayed, Verdict
from companion.preferences.drills import GoodRules
from companion.stage.clicks import click_pattern
from companion.stage.settings import Time

Points = Sequence[tuple[float, float]]
"""Beats of a round and their seconds, both rising."""
HELD_BY = 2
"""Notes on a beat without a click from which it is told whether the beat held."""
HELD_WITHIN_MS = 35.0
"""Milliseconds, at the median, within which it held."""
MOST_TOLD = 3
"""Faults that are told of one round."""
CONTINUOUS = 1.5
"""Beats of the metre from one sounded beat to the next, above which the player has leapt."""
PATIENCE = 0.1
"""Share of a long silence by which the note after it may be late before it is a hesitation: nobody counts exactly."""
LEAP = 2.0
"""What it costs to take it that the player leapt, against notes missing and too many."""
LEAD = 0.5
"""Beats before the first beat after a leap from which notes belong to what follows it."""
WAY_IN_NEAR = 0.25
"""Quarters before the passage from which a note that isn't written belongs to it."""
STOPPED_SHORT = 1.0
"""Beats of the metre before the end of the passage from which a round that ends there was broken off."""


def judge_round(played: RoundPlayed, time: Time, rules: GoodRules, click: str = "") -> Verdict:
    """Judge a round that is over.

    Parameters
    ----------
    played : RoundPlayed
    time : Time
        How the time was kept: where it was steady, notes are held against the click.
    rules : GoodRules
    click : str
        The pattern of the click (:mod:`companion.stage.clicks`): where it went away, it is told whether the beat held.
    """
    form = played.passage.chart.unfold()
    first = float(played.passage.way_in)
    quarter = 60 / played.tempo
    struck = [Struck(n.seconds, n.data1) for n in played.heard if n.seconds >= played.first_click]
    if not any(note.seconds >= played.start - quarter for note in struck):
        return Verdict(False, "nothing was played", nothing=True)
    heard = _followed(played, struck, form, own_beat=time != "steady")
    sweeps = heard.sweeps
    within = tuple(note for note in heard.notes if note.chart_beat >= first - WAY_IN_NEAR)
    bar = _Bars(form, played)
    faults = [
        *_moves(sweeps, bar, first, float(form.length), form),
        *_notes(within, form, bar, rules),
        *_timing(heard, first, form, bar, played, time, rules),
    ]
    if time == "follow":
        faults += _tempo(sweeps, played, bar, rules)
    faults.sort(key=lambda fault: fault.bar)
    held = _held(within, form, played, click) if click and time == "steady" else ""
    return Verdict(not faults, "; ".join(text for text in (_sentence(faults), held) if text), within, tuple(faults))


class _Bars:
    """Numbers of bars, as the whole tune counts them, from beats of a round."""

    def __init__(self, form: Form, played: RoundPlayed):
        self._form, self._first = form, played.bars[0]
        self._way_in = sum(1 for bar in form.bars if bar < played.passage.way_in)

    def __call__(self, beat: float) -> int:
        inside = min(max(beat, 0.0), float(self._form.length) - 0.001)
        return self._form.bar_at(inside) - self._way_in + self._first - 1


@dataclass(frozen=True)
class _Heard:
    """How a round was gone through, and what became of its notes."""

    notes: tuple[JudgedNote, ...]
    sweeps: tuple[Points, ...]
    """Beats and seconds of each stretch that was played without a leap."""


def _followed(played: RoundPlayed, struck: Sequence[Struck], form: Form, *, own_beat: bool) -> _Heard:
    """The notes of a round judged in the likelier of two ways: played through, however haltingly, or with leaps.

    The companion may have taken a hesitation for a leap while it was playing; with the whole round in view the notes
    tell which it was. Of a note that was played more than once, the player having gone back, the best counts.
    """
    sweeps = _sweeps(played, float(form.metre.pulse))
    quarter = 60 / played.tempo
    through = _through(sweeps, quarter)
    whole = judge(form, played.you, struck, _map(through), own_beat=own_beat, low=0.0, high=float(form.length))
    if len(sweeps) < 2:
        return _Heard(whole.notes, (through,))
    parts, cost = [], LEAP * (len(sweeps) - 1)
    for n, sweep in enumerate(sweeps):
        first = sweep[0][1] if n else float("-inf")
        last = sweeps[n + 1][0][1] if n + 1 < len(sweeps) else float("inf")
        window = [note for note in struck if first - LEAD * quarter <= note.seconds < last - LEAD * quarter]
        here = sweep[-1][0]
        there = sweeps[n + 1][0][0] if n + 1 < len(sweeps) else float(form.length)
        # What was left out is missing; what comes again isn't.
        high = there if there > here else _reached(sweep, window)
        if len(sweep) > 1 or high > here:
            beats = sweep if len(sweep) > 1 else [*sweep, (here + 1.0, sweep[0][1] + quarter)]
            found = judge(
                form, played.you, window, _map(beats), own_beat=own_beat, low=sweep[0][0] if n else 0.0, high=high
            )
            parts.append(found)
            cost += found.cost
    if cost >= whole.cost:
        return _Heard(whole.notes, (through,))
    return _Heard(_best(note for part in parts for note in part.notes), tuple(sweeps))


def _reached(sweep: Points, struck: Sequence[Struck]) -> float:
    """How far a stretch was played before the player went back: to the last beat that sounded, or a key after it."""
    here = sweep[-1][0]
    if not struck or len(sweep) < 2:
        return here
    return max(here, _map(sweep).beat(struck[-1].seconds) + LEAD)


def _map(points: Points) -> BeatMap:
    return BeatMap(tuple(points))


def _best(notes: Iterable[JudgedNote]) -> tuple[JudgedNote, ...]:
    """Of several attempts at a note the best; what was too many stays."""
    rank = {"right": 2, "wrong": 1, "missing": 0}
    kept: dict[tuple[float, int | None, str], JudgedNote] = {}
    found = []
    for note in notes:
        if note.kind == "extra" or note.expected is None:
            found.append(note)
            continue
        key = note.chart_beat, note.expected, note.part
        if key not in kept or rank[note.kind] >= rank[kept[key].kind]:
            kept[key] = note
    return tuple(sorted([*found, *kept.values()], key=lambda note: note.chart_beat))


def _sweeps(played: RoundPlayed, pulse: float) -> list[Points]:
    """The beats of a round, cut where the player was taken to be elsewhere; the end of the passage is the last."""
    form = played.passage.chart.unfold()
    quarter, zero = 60 / played.tempo, _zero(played)
    sweeps: list[list[tuple[float, float]]] = []
    for beat, seconds in played.beats:
        if sweeps and 0 < beat - sweeps[-1][-1][0] <= CONTINUOUS * pulse:
            sweeps[-1].append((beat, seconds))
        else:
            sweeps.append([(beat, seconds)])
    if not sweeps:
        return [[(0.0, zero), (float(form.length), zero + float(form.length) * quarter)]]
    last, moment = sweeps[-1][-1]
    if played.end is not None and last + pulse >= float(form.length) - 1e-6 and played.end > moment:
        sweeps[-1].append((last + pulse, played.end))
    return [*sweeps]


def _through(sweeps: Sequence[Points], quarter: float) -> Points:
    """The beats of a round as if it was played through: of beats sounded more than once the last."""
    latest = {beat: seconds for sweep in sweeps for beat, seconds in sweep}
    rising: list[tuple[float, float]] = []
    for beat, seconds in sorted(latest.items(), reverse=True):
        if not rising or seconds < rising[-1][1]:
            rising.append((beat, seconds))
    rising.reverse()
    if len(rising) > 1:
        return rising
    beat, seconds = rising[0]
    return [(beat, seconds), (beat + 1.0, seconds + quarter)]


def _notes(notes: Sequence[JudgedNote], form: Form, bar: _Bars, rules: GoodRules) -> list[RoundFault]:
    """What is wrong, missing or too many, above what is allowed."""
    allowed = {"wrong": rules.wrong, "missing": rules.missing, "extra": rules.extra}
    faults = []
    for kind, most in allowed.items():
        found = [note for note in notes if note.kind == kind and not note.forgiven]
        if len(found) > most:
            faults += [RoundFault(bar(note.chart_beat), fault_words(note, form)) for note in found]
    return faults


def _timing(
    heard: _Heard,
    first: float,
    form: Form,
    bar: _Bars,
    played: RoundPlayed,
    time: Time,
    rules: GoodRules,
) -> list[RoundFault]:
    """Notes off their beat, hesitations, and unevenness.

    The way in's last note, or the count-in's last click, shows whether the first note came late. Where the companion
    waits for the player, a note has no beat to be off from: then only hesitations count.
    """
    quarter = 60 / played.tempo
    limit = max(rules.late_ms, rules.late * float(form.metre.pulse) * quarter * 1000)
    timed = [note for note in heard.notes if note.kind in ("right", "wrong") and note.deviation_ms is not None]
    struck = [note for note in timed if note.chart_beat >= first]
    before = [note for note in timed if note.chart_beat < first]
    pulse = float(form.metre.pulse)
    led = (before[-1].chart_beat, before[-1].seconds or 0.0) if before else (-pulse, _zero(played) - pulse * quarter)
    onsets = [led, *((note.chart_beat, note.seconds or 0.0) for note in struck)]
    leaps = [sweep[0][1] - LEAD * quarter for sweep in heard.sweeps[1:]]
    faults = _hesitations(onsets, leaps, bar, quarter, rules)
    if time == "patient":
        return faults
    if faults:  # then what follows is late, and no wonder
        return faults
    for note in struck:
        off = note.deviation_ms or 0.0
        if abs(off) > limit:
            faults.append(RoundFault(bar(note.chart_beat), lateness_words(off)))
    if not faults and len(struck) > 4:
        spread = statistics.pstdev(note.deviation_ms or 0.0 for note in struck)
        if spread > max(rules.spread_ms, limit / 2):
            faults.append(RoundFault(bar(struck[0].chart_beat), f"uneven, by {spread:.0f} ms"))
    return faults


def _held(notes: Sequence[JudgedNote], form: Form, played: RoundPlayed, click: str) -> str:
    """Whether the beat held while the click was away: how the notes of the bars without it fell, at the median."""
    pattern = click_pattern(click, form.metre)
    if not pattern.off:
        return ""
    way_in = sum(1 for bar in form.bars if bar < played.passage.way_in)
    alone = [
        note.deviation_ms
        for note in notes
        if note.deviation_ms is not None
        and note.chart_beat % float(form.metre.pulse) == 0  # between beats a note may fall early or late
        and pattern.away(form.bar_at(max(note.chart_beat, 0.0)) - 1 - way_in)
    ]
    if len(alone) < HELD_BY:
        return ""
    off = statistics.median(alone)
    if abs(off) <= HELD_WITHIN_MS:
        return "without the click the beat held"
    return f"without the click {abs(off):.0f} ms {'late' if off > 0 else 'early'}"


def _zero(played: RoundPlayed) -> float:
    """When the way in begins, by the count-in."""
    return played.start - float(played.passage.way_in) * 60 / played.tempo


def _hesitations(
    timed: Sequence[tuple[float, float]], leaps: Sequence[float], bar: _Bars, quarter: float, rules: GoodRules
) -> list[RoundFault]:
    """Where a note came much later after the one before it than the beats between them take.

    Between two notes with a leap between them (``leaps``: their moments) the player was elsewhere, and that is told.
    """
    most = max(rules.hesitation, rules.hesitation_beats * quarter)
    gaps = [
        (b, t - s, b - a) for (a, s), (b, t) in pairwise(timed) if b > a and not any(s < leap <= t for leap in leaps)
    ]
    rates = [seconds / beats for _, seconds, beats in gaps if beats >= 0.5]
    usual = statistics.median(rates) if rates else quarter
    found = []
    for beat, seconds, beats in gaps:
        late = seconds - beats * usual
        if late > max(most, PATIENCE * beats * usual):
            found.append(RoundFault(bar(beat), f"hesitated for {late:.1f} s"))
    return found


def _moves(sweeps: Sequence[Points], bar: _Bars, first: float, length: float, form: Form) -> list[RoundFault]:
    """Where the player stopped or went back."""
    found = []
    pulse = float(form.metre.pulse)
    for before, after in pairwise(sweeps):
        here, there = before[-1][0], after[0][0]
        if there <= here and max(here, there) >= first:  # what is left out is told by its notes
            found.append(RoundFault(bar(here), f"went back to bar {bar(there)}"))
    if sweeps and sweeps[-1][-1][0] < length - STOPPED_SHORT * pulse:
        found.append(RoundFault(bar(sweeps[-1][-1][0]), "stopped"))
    return found


def _tempo(sweeps: Sequence[Points], played: RoundPlayed, bar: _Bars, rules: GoodRules) -> list[RoundFault]:
    """Whether the tempo was kept, where the companion goes with the player."""
    first = float(played.passage.way_in)
    rates = [(t - s) / (b - a) for sweep in sweeps for (a, s), (b, t) in pairwise(sweep) if a >= first]
    if len(rates) < 3:
        return []
    tempo = 60 / statistics.median(rates)
    if tempo < rules.tempo * played.tempo:
        return [RoundFault(bar(first), f"slowed to {tempo:.0f}")]
    return []


def _sentence(faults: Sequence[RoundFault]) -> str:
    """What wasn't right, by bars, as one says it."""
    if not faults:
        return "clean"
    told = [f"bar {fault.bar}: {fault.text}" for fault in faults[:MOST_TOLD]]
    for n in range(len(told) - 1, 0, -1):
        if faults[n].bar == faults[n - 1].bar:
            told[n] = faults[n].text
    left = len(faults) - MOST_TOLD
    return "; ".join([*told, *([f"and {left} more"] if left > 0 else [])])
