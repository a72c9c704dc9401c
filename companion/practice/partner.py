"""Oneself as partner: a hand that was played in a take, laid on the chart, is the part that follows the other hand.

Of the choruses in the take the best is taken: the one with the most right notes left over when wrong and missing ones
are taken off. A bar that isn't in it comes from the best chorus that has it; what was never played stays as the chart
has it. The notes are read against the beats that were sounded (:mod:`companion.transcribe.played_bars`), so that the
part keeps the rhythm that was played and goes with whatever tempo the other hand takes.

Conventions: beats in quarters from the first downbeat of the form; bars are counted from 1.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from companion.chart.model import Chart, Form, WrittenNote, WrittenPart
from companion.errors import UseError
from companion.messages import TUNE_PARTS, Part
from companion.music.played import BeatMap
from companion.practice.judging import Struck, judge
from companion.stage.take import Take
from companion.stage.take_chart import take_chart
from companion.transcribe.played_bars import PlayedBar, PlayedForm, played_bars

SHORTEST = Fraction(1, 8)
"""Quarters that a note lasts at least where the next one cuts it off."""


def with_partner(chart: Chart, take: Take, parts: Sequence[Part] | None = None) -> tuple[Chart, tuple[Part, ...]]:
    """A chart in which the parts that a player played in a take are written as they played them.

    Parameters
    ----------
    chart : Chart
        The one that the take was played over.
    take : Take
    parts : sequence of str, optional
        Some of the take's parts; all of them by default.

    Returns
    -------
    chart : Chart
    parts : tuple of str
        Those that were taken from the take.

    Raises
    ------
    UseError
        The take is of another tune, or none of these parts was played in it.
    InputError
        The take is damaged.
    """
    over, settings = take.rehearsed()
    form = chart.unfold()
    if not _same_tune(over.unfold(), form):
        mend = f"it is one of {over.title}; companion take list shows them all"
        raise UseError(f"that take is of another tune than {chart.title}", file=str(take.folder), mend=mend)
    wanted = [part for part in TUNE_PARTS if part in settings.you and (parts is None or part in parts)]
    written = {part.part: part for part in chart.written}
    for part in wanted:
        if found := _part(take, form, part):
            written[part] = found
    made = tuple(part for part in wanted if part in written and written[part] not in chart.written)
    if not made:
        raise UseError(
            f"the player plays no part of the tune in that take but {', '.join(sorted(settings.you))}"
            if not wanted
            else "no whole bar was played in that take",
            file=str(take.folder),
            mend="name a take in which you play the other hand",
        )
    return replace(chart, written=tuple(written[part] for part in TUNE_PARTS if part in written)), made


def _same_tune(a: Form, b: Form) -> bool:
    """Whether two forms have the same bars and the same melody, whatever is arranged over them."""
    return a.bars == b.bars and a.length == b.length and a.melody == b.melody


def _part(take: Take, form: Form, part: Part) -> WrittenPart | None:
    """One part as it was played, on the form."""
    tune = PlayedForm(form)
    went = played_bars([beat for beat in take.beats if beat.event in ("", "head", "solos")], lambda beat: tune)
    if went is None:
        return None
    noted = take_chart(take, alone=True).chart.unfold()
    moved = noted.length - sum((bar.length for bar in went.bars), Fraction(0))
    notes = _notes(noted, part, moved)
    best = _ranked(take, form, part, went.bars)
    chosen: dict[int, PlayedBar] = {}
    for bar in sorted(went.bars, key=lambda bar: best.index(bar.chorus)):
        number = form.bar_at(bar.inside)
        begins = any(bar.start <= note.beat < bar.start + bar.length for note in notes)
        if number not in chosen and begins:
            chosen[number] = bar
    if not chosen:
        return None
    laid = []
    for bar in chosen.values():
        for note in notes:
            if bar.start <= note.beat < bar.start + bar.length:
                laid.append(replace(note, beat=note.beat - bar.start + bar.inside))
    return WrittenPart(part, frozenset(chosen), _one_after_the_other(laid, chords=part == "chords"))


def _notes(noted: Form, part: Part, moved: Fraction) -> list[WrittenNote]:
    """The notes of a part, in written beats from the first bar that was played."""
    if part == "melody":
        return [WrittenNote(note.beat - moved, note.length, note.pitch) for note in noted.melody]
    written = noted.written_part(part)
    return [replace(note, beat=note.beat - moved) for note in written.notes] if written else []


def _ranked(take: Take, form: Form, part: Part, bars: Sequence[PlayedBar]) -> list[int]:
    """The choruses of a take, the best first."""
    beats: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for beat in take.beats:
        points = beats[beat.chorus]
        if not points or (beat.chart_beat > points[-1][0] and beat.seconds > points[-1][1]):
            points.append((beat.chart_beat, beat.seconds))
    heard = [Struck(event.seconds, event.data1) for event in take.heard() if event.is_note_on]
    marks: dict[int, int] = {}
    for chorus in {bar.chorus for bar in bars}:
        points = beats[chorus]
        if len(points) < 2:
            marks[chorus] = -len(heard)
            continue
        window = [note for note in heard if points[0][1] - 0.5 <= note.seconds <= points[-1][1] + 0.5]
        kinds = [note.kind for note in judge(form, {part}, window, BeatMap(tuple(points))).notes]
        marks[chorus] = kinds.count("right") - kinds.count("wrong") - kinds.count("missing")
    return sorted(marks, key=lambda chorus: (-marks[chorus], chorus))


def _one_after_the_other(notes: Sequence[WrittenNote], *, chords: bool) -> tuple[WrittenNote, ...]:
    """Notes in order; each ends at the latest where the next one begins, which may come from another chorus."""
    ordered = sorted(notes, key=lambda note: (note.beat, note.pitch.midi))
    onsets = sorted({note.beat for note in ordered})
    after = dict(pairwise(onsets))
    kept = []
    for note in ordered:
        following = after.get(note.beat)
        room = note.length if following is None else max(following - note.beat, SHORTEST)
        kept.append(replace(note, length=min(note.length, room), hand="right" if chords else note.hand))
    return tuple(kept)
