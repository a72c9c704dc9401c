"""Figures of the touch: how far a part spreads in time and loudness, with what memory, and how much it swings.

Conventions: milliseconds against the place that swing gives a note; MIDI velocities. A part's strokes are counted, not
its notes: a chord is struck at the mean of its notes' moments, as firmly as its top note. Targets are common practice
put into numbers, unless they name a source.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import groupby, pairwise
from math import floor

from companion.arrange.audit.figures import AuditFigure, HitCount
from companion.arrange.lookup import bar_and_beat
from companion.arrange.touch.performed import Performed
from companion.chart.model import Form
from companion.messages import Part

Performance = Sequence[Performed]
"""What is heard once through the form, of any parts."""

HANDS: tuple[Part, ...] = ("chords", "melody", "solo")
FEWEST = 12
"""Strokes that say something about a spread."""
WITHIN = 5.0
"""Milliseconds that the bass may lie from its beat."""
SPREAD = (5.0, 15.0)
"""Milliseconds: the standard deviation of a good player's hand."""
MEMORY = (0.2, 0.9)
"""Correlation of one stroke's deviation with the next one's: people's are correlated over many beats (Gilden, Thornton
& Mallon, Science 267, 1995; Hennig et al., PLoS ONE 6(10), 2011; from memory); 0 is a machine's dice, 1 a shift."""
LOUDNESS = (3.0, 14.0)
"""Velocities: the standard deviation of what isn't ghosted."""
SHORTEST = 95.0
"""Milliseconds that the short quaver lasts at least: about 100, but for the hand's own spread (Friberg & Sundström,
Music Perception 19(3), 2002; from memory)."""
GHOST = 0.6
"""Weight below which a note is a ghost."""


def touch_figures(form: Form, performances: Sequence[Performance]) -> list[AuditFigure]:
    """Figures of performances of one form, one after the other."""
    by_part: dict[Part, list[list[Performed]]] = {
        part: [_strokes(one, part) for one in performances] for part in ("bass", *HANDS)
    }
    found = [_on_the_beat(form, by_part["bass"])]
    for part in HANDS:
        found += _spread(form, part, by_part[part])
    found += [_loudness(part, rows) for part, rows in by_part.items()]
    return [*found, _top_notes(form, performances), *_swing(form, by_part)]


def _strokes(performance: Performance, part: Part) -> list[Performed]:
    """What a part strikes at one place as one note, in order; ghosts left out."""
    notes = sorted((one for one in performance if one.note.part == part), key=lambda one: one.note.beat)
    chords = (list(group) for _, group in groupby(notes, key=lambda one: one.note.beat))
    return [_as_one(chord) for chord in chords if chord[0].note.weight >= GHOST]


def _as_one(chord: Sequence[Performed]) -> Performed:
    top = max(chord, key=lambda one: one.note.midi)
    return replace(top, start=statistics.fmean(one.start for one in chord))


def _late(form: Form, one: Performed) -> float:
    """Milliseconds."""
    return (one.start - one.place) * 60_000 / form.tempo


def _on_the_beat(form: Form, rows: Iterable[Sequence[Performed]]) -> AuditFigure:
    count = HitCount()
    for one in (one for row in rows for one in row):
        near = abs(_late(form, one)) <= WITHIN + 1e-6
        count.add(near, bar_and_beat(form, one.note.beat), not near)
    return count.figure("bass within 5 ms of its place", at_least=1.0)


def _spread(form: Form, part: Part, rows: Sequence[Sequence[Performed]]) -> list[AuditFigure]:
    told = [row for row in rows if len(row) >= FEWEST]
    values = [_late(form, one) for row in told for one in row]
    if not values:
        return []
    chance = _without_habit(form, told)
    pairs = [a * b for row in chance for a, b in pairwise(row)]
    variance = statistics.fmean(late * late for row in chance for late in row)
    memory = statistics.fmean(pairs) / variance if variance else 0.0
    return [
        AuditFigure(f"{part}: spread in ms", statistics.pstdev(values), *SPREAD, of=len(values)),
        AuditFigure(f"{part}: correlation with the stroke before", memory, *MEMORY, of=len(values)),
    ]


def _without_habit(form: Form, rows: Sequence[Sequence[Performed]]) -> list[list[float]]:
    """How late each is beyond what is usual, on the beat and between: to lie behind on the beat is no chance."""
    told = [[(one.note.beat % form.metre.pulse == 0, _late(form, one)) for one in row] for row in rows]
    usual = {
        on: statistics.fmean(late for row in told for here, late in row if here == on)
        for on in {on for row in told for on, _ in row}
    }
    return [[late - usual[on] for on, late in row] for row in told]


def _loudness(part: Part, rows: Sequence[Sequence[Performed]]) -> AuditFigure:
    values = [one.velocity for row in rows for one in row]
    spread = statistics.pstdev(values) if len(values) >= FEWEST else 0.0
    low, high = LOUDNESS if part != "bass" else (1.0, LOUDNESS[1])
    return AuditFigure(f"{part}: spread in velocity", spread, low, high, of=len(values) if spread else 0)


def _top_notes(form: Form, performances: Iterable[Performance]) -> AuditFigure:
    count = HitCount()
    for performance in performances:
        chords = sorted((one for one in performance if one.note.part == "chords"), key=lambda one: one.note.beat)
        for beat, group in groupby(chords, key=lambda one: one.note.beat):
            notes = sorted(group, key=lambda one: one.note.midi)
            alike = len({one.note.weight for one in notes}) == 1
            if len(notes) > 1 and alike:
                firmest = all(one.velocity < notes[-1].velocity for one in notes[:-1])
                count.add(firmest, bar_and_beat(form, beat), not firmest)
    return count.figure("chords whose top note is the firmest", at_least=0.95)


def _swing(form: Form, by_part: dict[Part, list[list[Performed]]]) -> list[AuditFigure]:
    """Long quaver to short one, part by part, where the feel swings; a solo is flatter than the chords."""
    ratios = {part: _ratio(form, [one for row in rows for one in row]) for part, rows in by_part.items()}
    if form.metre.compound or max((ratio for ratio, _ in ratios.values()), default=1.0) < 1.1:
        return []
    found = []
    for part, (ratio, cases) in ratios.items():
        longest = 60_000 / form.tempo / SHORTEST - 1.0
        highest = min(longest, ratios["chords"][0] or longest) if part == "solo" else longest
        found.append(AuditFigure(f"{part}: long quaver to short one", ratio, 1.0, max(1.0, highest), of=cases))
    return found


def _ratio(form: Form, strokes: Sequence[Performed]) -> tuple[float, int]:
    """The median over the strokes half way between two quarters that swing, and how many there are."""
    apart = [one.start - floor(one.note.beat) for one in strokes if one.note.beat % 1 * 2 == 1]
    if len(apart) < FEWEST:
        return 0.0, 0
    late = statistics.median(apart)
    return late / (1.0 - late), len(apart)
