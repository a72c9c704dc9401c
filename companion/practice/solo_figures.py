"""What an improvised line is made of: its notes by strength of beat, its range and phrases, what it repeats, and how it
uses the form.

None of it is a fault: these are figures, such as a teacher would read out. A note is of the chord, of the scale that
fits it best, or outside both, at its moment; one that is struck less than a quaver before a new chord may be the new
chord's. A phrase ends where no note begins for a beat and a half or more.

Conventions: chart beats in quarters; MIDI numbers; phrases in bars.
"""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from companion.arrange.lookup import harmony_at
from companion.chart.model import Form
from companion.practice.findings import bar_at, place_words
from companion.practice.judging import JudgedNote
from companion.practice.note_words import note_name

LEAST, LEAST_SHARE = 16, 0.3
"""Notes, and share of the take's, of which something is said."""
REST = 1.5
"""Quarters from one onset to the next from which a phrase begins."""
AHEAD = 0.4
"""Quarters before a chord within which a note may be that chord's."""
FIGURE, REPEATED = 5, 3
"""Notes of a figure, and how often it comes back before that is said."""
ON_BEAT = 0.2
"""Quarters from a beat within which a note is on it."""
SPARE = 0.5
"""Share of the notes a bar has on average, below which a section is left open."""


def solo_figures(form: Form, notes: Sequence[JudgedNote], bars: int) -> list[str]:
    """The figures of an improvised line, in words; nothing where there is none.

    Parameters
    ----------
    form : Form
    notes : sequence of JudgedNote
        Of the whole take.
    bars : int
        How many were gone through.
    """
    line = [note for note in notes if note.part == "solo" and note.pitch is not None and note.expected is None]
    if len(line) < max(LEAST, LEAST_SHARE * len(notes)):
        return []
    pitches = [note.pitch or 0 for note in line]
    low, high = min(pitches), max(pitches)
    phrases = _phrases(line, float(form.length))
    bar = float(form.metre.bar)
    spans = [(phrase[-1] - phrase[0]) / bar for phrase in phrases]
    lines = [
        *_by_strength(form, line),
        f"range: {_octave_name(low, form)} to {_octave_name(high, form)}, {high - low} semitones",
        f"phrases: {len(phrases)}, of {statistics.median(spans):.1f} bars at the median, {max(spans):.1f} at the most",
    ]
    return lines + _repeats(line, float(form.length)) + _use_of_the_form(form, line, bars)


def _octave_name(midi: int, form: Form) -> str:
    return f"{note_name(midi, form)}{midi // 12 - 1}"


def _by_strength(form: Form, line: Sequence[JudgedNote]) -> list[str]:
    """Shares of notes in the chord, in its scale and outside, by where they fall."""
    counts: dict[str, Counter[str]] = {}
    strong = float(form.metre.bar) / 2 if float(form.metre.bar) % 2 == 0 else float(form.metre.bar)
    for note in line:
        beat = note.chart_beat
        off = abs(beat - round(beat))
        where = "off the beat" if off > ON_BEAT else "on strong beats" if round(beat) % strong == 0 else "on weak beats"
        counts.setdefault(where, Counter())[_kind(form, note)] += 1
    lines = []
    for where in ("on strong beats", "on weak beats", "off the beat"):
        if (found := counts.get(where)) is not None:
            many = sum(found.values())
            shares = ", ".join(f"{100 * found[kind] / many:.0f} % {kind}" for kind in ("chord", "scale", "outside"))
            lines.append(f"{where}: {shares} ({many} notes)")
    return lines


def _kind(form: Form, note: JudgedNote) -> str:
    pc = (note.pitch or 0) % 12
    chords = [harmony_at(form, Fraction(note.chart_beat + ahead).limit_denominator(960)) for ahead in (0.0, AHEAD)]
    if any(pc in chord.tones for chord in chords):
        return "chord"
    return "scale" if any(pc in chord.scale for chord in chords) else "outside"


def _phrases(line: Sequence[JudgedNote], length: float) -> list[list[float]]:
    """The beats of each phrase's onsets."""
    beats = sorted(note.chart_beat + (note.chorus - 1) * length for note in line)
    found = [[beats[0]]]
    for before, here in pairwise(beats):
        if here - before >= REST:
            found.append([])
        found[-1].append(here)
    return found


def _repeats(line: Sequence[JudgedNote], length: float) -> list[str]:
    """The figure that comes back most: intervals in a rhythm of halves of a beat."""
    ordered = sorted(line, key=lambda note: note.chart_beat + (note.chorus - 1) * length)
    steps = [
        ((b.pitch or 0) - (a.pitch or 0), round(2 * (b.chart_beat + (b.chorus - a.chorus) * length - a.chart_beat)))
        for a, b in pairwise(ordered)
    ]
    figures = Counter(tuple(steps[n : n + FIGURE - 1]) for n in range(len(steps) - FIGURE + 2))
    figure, times = figures.most_common(1)[0] if figures else ((), 0)
    if times < REPEATED:
        return [f"no figure of {FIGURE} notes comes back {REPEATED} times"]
    moves = " ".join(f"{step:+d}" for step, _ in figure)
    return [f"what you repeat: a figure of {FIGURE} notes (semitones {moves}) comes {times} times"]


def _use_of_the_form(form: Form, line: Sequence[JudgedNote], bars: int) -> list[str]:
    """In how many bars there is something, and where the form is left open."""
    counts = Counter((note.chorus, bar_at(form, note.chart_beat)) for note in line)
    lines = [f"form: notes in {len(counts)} of {max(bars, len(counts))} bars"]
    whole = bars // len(form.bars)  # times through of which nothing is known to be left out
    if not whole:
        return lines
    by_bar = [sum(counts[chorus, n] for chorus in range(1, whole + 1)) for n in range(1, len(form.bars) + 1)]
    quiet = SPARE * statistics.fmean(by_bar)
    spans: list[list[int]] = []
    for section in form.sections:
        inside = [n for n, start in enumerate(form.bars, 1) if section.start <= start < section.end]
        if inside and statistics.fmean(by_bar[n - 1] for n in inside) < quiet:
            if spans and spans[-1][-1] == inside[0] - 1:
                spans[-1] += inside
            else:
                spans.append(inside)
    return lines + [f"form: {place_words(span[0], span[-1])} left open, mostly" for span in spans]
