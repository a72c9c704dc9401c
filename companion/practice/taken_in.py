"""Takes that lie in their folders, taken into the records: those played before there were any, or while nothing
could be written. What a drill's rounds were is in its take as well, so that records can be made anew from takes.

Conventions: moments with their zone; chart beats in quarters.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from companion.chart.keys import write_key
from companion.chart.model import Chart, Form
from companion.errors import CompanionError, InputError
from companion.messages import Beat, Round
from companion.practice.records import Records, RoundRecord, TakeRecord
from companion.resources import chart_names, chart_path
from companion.stage.console import BeatTally
from companion.stage.recovery import recover, take_folders
from companion.stage.take import Take, read_take

ENOUGH = 0.9
"""Share of a chorus's beats with which it counts as played: who leaps over a bar has still played it."""


def take_in(records: Records, data: Path | None = None) -> int:
    """Take in every take that isn't in the records yet; how many they were.

    One that is being played now, and one that can't be read, is left for the next time.

    Raises
    ------
    RecordsError
        Nothing can be written now.
    """
    recover(data, set_aside=False)
    new = [place for place in take_folders(data) if not records.knows_take(place.name)]
    return sum(take_in_one(records, place) for place in new)


def take_in_one(records: Records, folder: Path) -> bool:
    """Take in one take; whether it is in the records now and wasn't before. As :func:`take_in`."""
    try:
        take = read_take(folder)
        begun_at = take.started - timedelta(seconds=_first_note(take)) if take.rounds else take.started
    except InputError:
        return False
    chart = _chart(take)
    word = chart_word(Path(take.source) if take.source else None, take.title)
    return records.add_take(
        take_record(take, chart, word),
        [
            round_record(report, begun_at + timedelta(seconds=report.seconds), chart, word, take=take)
            for report in take.rounds
            if was_played(report)
        ],
    )


def chart_word(source: Path | None, title: str) -> str:
    """The word by which a command finds a chart: its name where that needs no path, else its path, else its title."""
    if source is None:
        return title
    if source.stem in chart_names():
        known = chart_path(source.stem)
        if not source.exists() or known.resolve() == source.resolve():
            return source.stem
    return str(source.absolute())


def was_played(report: Round) -> bool:
    """Whether a report tells of a round that is over, and in which there was something to judge."""
    return report.good is not None and bool(report.right + report.wrong + report.extra)


def round_record(
    report: Round,
    at: datetime,
    chart: Chart | None,
    word: str,
    *,
    kind: str = "",
    time: str = "",
    take: Take | None = None,
) -> RoundRecord:
    """What is recorded of a round that was judged at a moment.

    Parameters
    ----------
    report : Round
    at : datetime
    chart : Chart or None
        None where it can't be read any more.
    word : str
        By which a command finds it.
    kind, time : str
        Of the drill.
    take : Take, optional
        In which it lies.
    """
    return RoundRecord(
        at=at,
        chart=word,
        title=take.title if take else chart.title if chart else word,
        kind=kind,
        number=report.number,
        first=report.first,
        last=report.last,
        section=section_of(chart.unfold(), report.first, report.last) if chart else "",
        you=tuple(sorted(report.you)),
        key=report.key,
        own_key=chart is None or report.key == write_key(chart.fifths, chart.minor),
        tempo=report.tempo,
        tune_tempo=chart.tempo if chart else None,
        time=time or (str(take.settings.get("time", "follow")) if take else ""),
        good=bool(report.good),
        why="" if report.good else report.why,
        right=report.right,
        wrong=report.wrong,
        missing=report.missing,
        extra=report.extra,
        spread_ms=report.spread_ms,
        seconds=max(0.0, report.seconds - report.start),
        take=take.folder.name if take else None,
    )


def section_of(form: Form, first: int, last: int) -> str:
    """The section in which bars lie; empty where that is several, or no bars of the form."""
    if not 1 <= first <= last <= len(form.bars):
        return ""
    begin, end = (form.section_at(form.bars[bar - 1]) for bar in (first, last))
    return begin.name if begin == end else ""


def take_record(take: Take, chart: Chart | None, word: str) -> TakeRecord:
    """What is recorded of a take."""
    form = chart.unfold() if chart else None
    time = str(take.settings.get("time", "follow"))
    you = take.settings.get("you")
    return TakeRecord(
        folder=take.folder.name,
        started=take.started,
        chart=word,
        title=take.title,
        you=tuple(sorted(str(part) for part in you)) if isinstance(you, list) else (),
        key=write_key(chart.fifths, chart.minor) if chart else "",
        tempo=BeatTally(take.beats).tempo,
        tune_tempo=chart.tempo if chart else None,
        time=time,
        seconds=take.seconds,
        how=take.how,
        bars=len(form.bars) if form else 0,
        choruses=_choruses(take.beats, form) if form and not take.rounds else 0,
        stops=sum(state.name == "holding" for state in take.states),
    )


def _choruses(beats: Sequence[Beat], form: Form) -> int:
    """How many times the form was gone through, beats of introduction and ending left out."""
    heard: dict[int, set[float]] = defaultdict(set)
    for beat in beats:
        if 0 <= beat.chart_beat < form.length and beat.event not in ("introduction", "ending"):
            heard[beat.chorus].add(beat.chart_beat)
    whole = float(form.length / form.metre.pulse)
    return sum(len(found) >= ENOUGH * whole for found in heard.values())


def _chart(take: Take) -> Chart | None:
    from companion.chart.toml.read import parse_toml

    try:
        return parse_toml(take.chart)
    except CompanionError:
        return None


def _first_note(take: Take) -> float:
    """Seconds of the take at which its first note was heard: it began to be kept at that moment."""
    return next((event.seconds for event in take.heard() if event.is_note_on), 0.0)
