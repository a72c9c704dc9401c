"""The review of a take: what became of its notes, bar by bar, where the player went, and what is said of it.

Everything here follows from the alignment (:mod:`companion.practice.alignment`). A bar that was played more than once
has a row for each time. What is said is found by modules of its own: notes here, :mod:`companion.practice.flow`,
:mod:`companion.practice.timing`, :mod:`companion.practice.voicings_played`,
:mod:`companion.practice.dynamics_played`; each says in its docstring what it takes for no more than chance.

Conventions: chart beats in quarters, a first pickup below 0; bars of the form, 1 = its first full bar, 0 = a pickup;
seconds on the take's clock; deviations in milliseconds, late is positive; tempo in quarters a minute.
"""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from companion.chart.model import Form
from companion.follow.roles import swings
from companion.messages import Heard, NoteKind
from companion.practice.added_notes import with_additions_forgiven
from companion.practice.alignment import Alignment, TakeMove, align
from companion.practice.begun_again import bars_begun_again
from companion.practice.between_hands import hands_figures
from companion.practice.chord_tops import without_chord_tops
from companion.practice.dynamics_played import dynamics_figures, dynamics_findings, loudness_of
from companion.practice.expected import SWUNG_MOST
from companion.practice.findings import NOTE_FAULTS, Finding, bar_at, place_words
from companion.practice.flow import flow_findings
from companion.practice.judging import JudgedNote
from companion.practice.note_words import fault_words
from companion.practice.onsets import SweepTiming
from companion.practice.recurring import RecurringSlip
from companion.practice.registers import by_register
from companion.practice.solo_figures import solo_figures
from companion.practice.steadiness import TAKE_LEAST, is_unsteady, usual_spread
from companion.practice.sweeps import Sweep
from companion.practice.timing import (
    chord_findings,
    phrases_freely,
    swing_by_bar,
    swing_findings,
    take_timing,
    tempo_findings,
)
from companion.practice.voicings_played import PlayedVoicing, voicing_findings, voicings_played
from companion.preferences import preferences
from companion.preferences.review import ReviewPreferences
from companion.stage.take import Take

DRIFT_BARS, DRIFTED = 4, 1.04
"""Bars over which a tempo is taken; from how many times the slowest tempo the fastest is told."""
AT_ONCE = 0.2
"""Quarters after a note at which nobody strikes it again."""
VOICINGS_NAMED = 4
"""In the summary of chords."""


@dataclass
class ReviewedBar:
    """A bar, one time that it was played."""

    bar: int
    chorus: int
    notes: list[JudgedNote] = field(default_factory=list)
    tempo: float = 0.0
    """What was held back is left out of it."""
    swing: float | None = None
    """Long quaver to short one, as most off-beat quavers of the bar have it; None where none shows it."""

    @property
    def counts(self) -> Counter[NoteKind]:
        """Notes of each kind."""
        return Counter(note.kind for note in self.notes)

    @property
    def deviations(self) -> list[float]:
        """Of the notes that have one."""
        return [note.deviation_ms for note in self.notes if note.deviation_ms is not None]


@dataclass(frozen=True)
class Review:
    """What is known of a take after the event."""

    notes: tuple[JudgedNote, ...]
    bars: tuple[ReviewedBar, ...]
    moves: tuple[TakeMove, ...]
    findings: tuple[Finding, ...]
    voicings: tuple[PlayedVoicing, ...] = ()
    """Every chord of the player's, in order of time."""
    figures: tuple[str, ...] = ()
    """What else was measured, in words, a line each."""
    gone: tuple[RecurringSlip, ...] = ()
    """Slips of takes before that weren't made this time."""


def take_review(take: Take) -> Review:
    """Look through a take that was kept.

    Raises
    ------
    InputError
        It is damaged.
    """
    chart, settings = take.rehearsed()
    heard = take.heard()
    return review(chart.unfold(), align(chart, settings, heard, take.seconds), settings.you, heard)


def review(
    form: Form,
    alignment: Alignment,
    parts: Collection[str] = ("melody",),
    heard: Sequence[Heard] = (),
    rules: ReviewPreferences | None = None,
) -> Review:
    """Look through a take that is laid on its chart.

    Parameters
    ----------
    form : Form
    alignment : Alignment
    parts : collection of str
        The player's.
    heard : sequence of Heard
        What the keyboard sent: how firmly keys were struck is taken from there.
    rules : ReviewPreferences, optional
        ``review.toml`` unless given.
    """
    rules = rules or preferences(ReviewPreferences)
    loudness = loudness_of(heard)
    alignment = without_chord_tops(form, by_register(form, alignment, parts), parts, loudness)
    alignment, again = bars_begun_again(form, alignment, parts)
    judged = [
        [_timed(form, sweep, note) for note in with_additions_forgiven(form, notes)]
        for sweep, notes in _sweeps(alignment)
    ]
    bars: list[ReviewedBar] = []
    for n, (sweep, group) in enumerate(zip(alignment.sweeps, judged, strict=True)):
        played = _bars(form, sweep, group)
        stopped = n > 0 and alignment.moves[n - 1].from_beat == alignment.moves[n - 1].to_beat
        if stopped and bars and played and (bars[-1].bar, bars[-1].chorus) == (played[0].bar, played[0].chorus):
            bars[-1].notes += played.pop(0).notes
        bars += played
    notes = tuple(note for group in judged for note in group)
    timing = take_timing(form, alignment)
    _put_swing(form, bars, timing)
    voicings = voicings_played(form, alignment)
    found = [
        *_of_notes(form, notes),
        *flow_findings(form, alignment, parts, again),
        *tempo_findings(form, alignment, timing, rules),
        *swing_findings(form, alignment, timing, rules),
        *chord_findings(form, alignment, timing, rules),
        *voicing_findings(form, voicings),
        *dynamics_findings(form, notes, loudness, rules.timing.sure),
    ]
    found += _of_unsteady_bars(bars, [finding for _, finding in found], rules)
    figures = [
        *_drift(bars),
        *_voicings_summary(voicings),
        *dynamics_figures(notes, loudness),
        *hands_figures(notes, float(form.length)),
        *solo_figures(form, notes, len({(bar.chorus, bar.bar) for bar in bars if bar.bar})),
    ]
    findings = tuple(finding for _, finding in sorted(found, key=lambda one: one[0]))
    return Review(notes, tuple(bars), alignment.moves, findings, tuple(voicings), tuple(figures))


def _sweeps(alignment: Alignment) -> list[tuple[Sweep, Sequence[JudgedNote]]]:
    return list(zip(alignment.sweeps, alignment.judged, strict=True))


# Bars


def _bars(form: Form, sweep: Sweep, notes: Sequence[JudgedNote]) -> list[ReviewedBar]:
    """The bars of a sweep, each with its notes; a note just before or after the sweep belongs to its nearest bar."""
    length = float(form.length)
    starts = [*map(float, form.bars), length]
    found: dict[tuple[int, int], ReviewedBar] = {}
    if sweep.low < -1e-6:
        found[1, 0] = ReviewedBar(0, 1, tempo=_tempo(sweep, sweep.low, min(0.0, sweep.high)))
    for chorus in range(max(0, math.floor(sweep.low / length + 1e-9)), max(1, math.ceil(sweep.high / length - 1e-9))):
        for n, (a, b) in enumerate(pairwise(starts)):
            low, high = max(a + chorus * length, sweep.low), min(b + chorus * length, sweep.high)
            if high - low > 1e-6:
                found[chorus + 1, n + 1] = ReviewedBar(n + 1, chorus + 1, tempo=_tempo(sweep, low, high))
    if not found:
        return []
    order = list(found)
    for note in notes:
        at = note.chorus, bar_at(form, note.chart_beat)
        found[at if at in found else min(max(at, order[0]), order[-1])].notes.append(note)
    return [found[key] for key in order]


def _put_swing(form: Form, bars: Sequence[ReviewedBar], timing: Sequence[SweepTiming]) -> None:
    """Put down how each bar swings; a bar that was begun again has it from both times."""
    shown = swing_by_bar(form, timing)
    for bar in bars:
        bar.swing = shown.get((bar.chorus, bar.bar))


def _tempo(sweep: Sweep, low: float, high: float) -> float:
    """Quarters a minute from one beat to another."""
    moments = sweep.map()
    held = sum(by for beat, by in sweep.held if low + 1e-6 < beat <= high + 1e-6)
    return 60 * (high - low) / max(moments.seconds(high) - moments.seconds(low) - held, 1e-3)


def _timed(form: Form, sweep: Sweep, note: JudgedNote) -> JudgedNote:
    """The note with its deviation; of a free one that from the nearest place at which one may strike."""
    if note.seconds is None or note.expected is not None or note.kind not in ("right", "wrong"):
        return note
    moments = sweep.map()
    at = moments.beat(note.seconds)
    off = _off_places(at % 1, swings(form))
    return replace(note, deviation_ms=round(off * 60_000 / moments.tempo(at), 1))


def _off_places(place: float, swung: bool) -> float:
    """Quarters from the nearest beat or off-beat quaver, which may be anywhere between even and swung."""
    latest = SWUNG_MOST / (SWUNG_MOST + 1) if swung else 0.5
    off = [place, place - 1, 0.0 if 0.5 <= place <= latest else place - 0.5 if place < 0.5 else place - latest]
    return min(off, key=abs)


# Findings


def _of_notes(form: Form, notes: Sequence[JudgedNote]) -> list[tuple[float, Finding]]:
    """What is wrong, missing or too many."""
    found = []
    moment = 0.0
    right = {(note.chorus, note.chart_beat, note.expected) for note in notes if note.kind == "right"}
    for note in notes:
        moment = note.seconds if note.seconds is not None else moment
        if not note.is_fault or (note.kind == "missing" and _tied(note, right)):
            continue
        bar = bar_at(form, note.chart_beat)
        figure = note.pitch - note.expected if note.pitch is not None and note.expected is not None else 1
        text = f"{place_words(bar)}: {fault_words(note, form)}"
        midi = note.pitch if note.kind == "extra" else note.expected
        what = NOTE_FAULTS[note.kind]
        found.append((moment, Finding(bar, note.chorus, what, float(figure), text, beat=note.chart_beat, midi=midi)))
    return found


def _tied(note: JudgedNote, right: Collection[tuple[int, float, int | None]]) -> bool:
    """Whether a missing note is one with its neighbour: struck again at once, it couldn't be told from it."""
    return any(
        chorus == note.chorus and pitch == note.expected and 0 < abs(beat - note.chart_beat) <= AT_ONCE
        for chorus, beat, pitch in right
    )


def _of_unsteady_bars(
    bars: Sequence[ReviewedBar], found: Sequence[Finding], rules: ReviewPreferences
) -> list[tuple[float, Finding]]:
    """Bars whose notes scatter, where nothing else that is said of them explains it."""
    written = [
        [n.deviation_ms for n in bar.notes if n.deviation_ms is not None and n.expected is not None] for bar in bars
    ]
    every = [off for offs in written for off in offs]
    if len(every) < TAKE_LEAST or phrases_freely([note for bar in bars for note in bar.notes]):
        return []
    usual = usual_spread(every)
    explained = {
        (one.chorus, bar)
        for one in found
        if one.what in ("rushed", "dragged", "hesitated", "restarted", "skipped", "swing")
        for bar in range(one.bar - 1, (one.last or one.bar) + 2)
    }
    told = []
    for bar, offs in zip(bars, written, strict=True):
        spread = is_unsteady(offs, usual, rules.timing.sure, rules.timing.unsteady_ms)
        if spread is not None and (bar.chorus, bar.bar) not in explained:
            text = (
                f"{place_words(bar.bar)}: notes early and late, {spread:.0f} ms about the beat, {usual:.0f} elsewhere"
            )
            moment = min(note.seconds for note in bar.notes if note.seconds is not None)
            told.append((moment, Finding(bar.bar, bar.chorus, "unsteady", round(spread, 1), text)))
    return told


# Figures


def _drift(bars: Sequence[ReviewedBar]) -> list[str]:
    """Where the tempo was fastest and slowest over four bars, where that makes a difference.

    Of a solo it isn't known well enough.
    """
    tempi = [bar for bar in bars if bar.bar]
    if len(tempi) < 3 * DRIFT_BARS or any(note.part == "solo" for bar in bars for note in bar.notes):
        return []
    spans = [tempi[n : n + DRIFT_BARS] for n in range(len(tempi) - DRIFT_BARS + 1)]
    rates = [statistics.median(bar.tempo for bar in span) for span in spans]
    fast, slow = rates.index(max(rates)), rates.index(min(rates))
    if rates[fast] / max(rates[slow], 1e-3) < DRIFTED:
        return []
    ends = [
        f"{word} from bar {spans[n][0].bar} (♩ = {rates[n]:.0f})" for word, n in (("fastest", fast), ("slowest", slow))
    ]
    return [f"tempo: {', '.join(ends)}"]


def _voicings_summary(voicings: Sequence[PlayedVoicing]) -> list[str]:
    names = Counter(one.called.text for one in voicings)
    if not names:
        return []
    return [f"chords: {'; '.join(f'{many} × {name}' for name, many in names.most_common(VOICINGS_NAMED))}"]
