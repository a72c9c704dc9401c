"""A tune's history in words: how far each section has come, what is learnt, and how the weeks went."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from datetime import date

from companion.practice.day_plan import days_ago
from companion.practice.history import SectionProgress, TuneHistory, WeakBar, Week
from companion.practice.recurring import RecurringSlip, trend
from companion.preferences.repertoire import RepertoirePreferences

WIDE = 100
"""Columns of a line, at most."""
MOST_WEEKS = 12
"""Weeks that are told, the latest."""
MADE, NOT_MADE = "●", "○"
"""A take with a slip, and one without."""
MOST_BARS = 4
"""Weakest bars of a week."""


def history_lines(found: TuneHistory, rules: RepertoirePreferences) -> list[str]:
    """All that is said of one tune."""
    lines = [_head(found), *_sections(found.sections), *_learnt(found, rules.held.learnt)]
    if found.bands:
        told = (f"{band.low}-{band.high}: {band.good} of {band.rounds}" for band in found.bands)
        lines += [f"good rounds by tempo: {', '.join(told)}"]
    return [*lines, *_weeks(found.weeks), *_slips(found.slips)]


def _slips(slips: Sequence[RecurringSlip]) -> list[str]:
    """Slips that recur, with how often; the takes as marks, so that one sees whether they get rarer."""
    if not slips:
        return []
    rows = [["slips that recur", "takes", f"{MADE} made, {NOT_MADE} not; the latest last"]]
    before: tuple[str, ...] = ()
    for one in slips:
        if one.you != before:
            rows.append([f"{', '.join(one.you)}:", "", ""])
        marks = "".join(MADE if made else NOT_MADE for made in one.made)
        more = trend(one.made)
        rows.append([f"  {one.words}", _of(one.times, one.takes), f"{marks}  {more}" if more else marks])
        before = one.you
    wide = max(len(row[2]) for row in rows)
    return ["", *table([[*row[:2], row[2].ljust(wide)] for row in rows], left=1)]


def _head(found: TuneHistory) -> str:
    tune = found.standing
    what = " and ".join(text for text in (count(tune.takes, "take"), count(tune.rounds, "round")) if text)
    first, last = found.days[0], found.days[-1]
    when = f"on {_day(first)}" if first == last else f"on {len(found.days)} days, {_day(first)} to {_day(last)}"
    return f"{tune.title}: {what} {when}" + (f"; its tempo is ♩ = {tune.tempo:g}" if tune.tempo else "")


def count(number: int, what: str) -> str:
    """So many of something; empty of none.

    >>> count(2, "take"), count(1, "round"), count(0, "round")
    ('2 takes', '1 round', '')
    """
    return f"{number} {what}{'s' * (number != 1)}" if number else ""


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _sections(sections: Sequence[SectionProgress]) -> list[str]:
    if not sections:
        return []
    rows = [["", "", "tempo reached", "learnt at", "good rounds", "clean in takes"]]
    before: tuple[str, ...] = ()
    for one in sections:
        size = one.last - one.first + 1
        reached = f"{one.reached:g}" if one.reached else f"{one.covered} of {size} bars" if one.covered else "-"
        learnt = f"{one.learnt:g}" if one.learnt else "-"
        who = ", ".join(one.you) if one.you != before else ""
        good, clean = _of(one.good, one.rounds), _of(sum(p.clean for p in one.passes), len(one.passes))
        rows.append([who, f"{one.name}, bars {one.first}-{one.last}", reached, learnt, good, clean])
        before = one.you
    return ["", *table(rows)]


def _of(some: int, number: int) -> str:
    """So many of a number; a dash where that is none."""
    return f"{some} of {number}" if number else "-"


def table(rows: Sequence[Sequence[str]], left: int = 2) -> list[str]:
    """Rows in columns, the first ones to the left and the others to the right, each as wide as it needs."""
    wide = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = []
    for row in rows:
        cells = [
            cell.ljust(w) if n < left else cell.rjust(w) for n, (cell, w) in enumerate(zip(row, wide, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return lines


def _learnt(found: TuneHistory, days: int) -> list[str]:
    told = [
        f"{'the whole form' if p.whole else f'bars {p.first}-{p.last}'} ({', '.join(p.you)}) at {p.learnt:g}"
        for p in found.standing.passages
        if p.learnt
    ]
    drilled = any(not p.whole for p in found.standing.passages)
    said = f"learnt, with good rounds on {days} days: {'; '.join(told)}"
    lines = textwrap.wrap(said, WIDE, subsequent_indent="  ", break_on_hyphens=False) if told else []
    if drilled and not told:
        lines = [f"no passage is learnt yet: that takes good rounds at a tempo on {days} days"]
    if found.standing.through:
        lines.append(f"through without a stop at {found.standing.through:g}")
    return ["", *lines] if lines else []


def _weeks(weeks: Sequence[Week]) -> list[str]:
    if not weeks:
        return []
    rows = [["week of", "good rounds", "takes at", "clean bars", "weakest bars (faults each time)"]]
    for week in weeks[-MOST_WEEKS:]:
        tempi = _from_to(round(min(week.tempi)), round(max(week.tempi))) if week.tempi else "-"
        rounds, clean = _of(week.good, week.rounds), _of(week.clean, week.played)
        rows.append([f"{week.monday.day} {week.monday:%b}", rounds, tempi, clean, weakest(week.weak)])
    wide = max(len(row[4]) for row in rows)
    return ["", *table([[*row[:4], row[4].ljust(wide)] for row in rows], left=1)]


def weakest(bars: Iterable[WeakBar]) -> str:
    """The weakest bars in a few words.

    >>> weakest([WeakBar(13, 2.0, 3), WeakBar(0, 0.333, 3)])
    '13 (2), the pickup (0.3)'
    """
    told = list(bars)[:MOST_BARS]
    return ", ".join(f"{one.bar or 'the pickup'} ({round(one.faults, 1):g})" for one in told)


def overview_lines(found: Sequence[TuneHistory], today: date) -> list[str]:
    """A line a tune, the one played last first."""
    rows = [["", "", "takes", "rounds", "tempo reached", "learnt", "clean bars"]]
    for one in found:
        tune = one.standing
        best = [tempo for _, tempo in tune.by_bar] or ([tune.through] if tune.through else [])
        reached = "-" if not best else _from_to(min(best), max(best)) + (f" of {tune.tempo:g}" if tune.tempo else "")
        learnt = {bar for p in tune.passages if p.learnt for bar in range(p.first, p.last + 1)}
        clean = f"{one.takes[-1].clean} of {one.takes[-1].played}" if one.takes else "-"
        played = days_ago((today - one.days[-1]).days)
        rows.append(
            [tune.title, played, str(tune.takes), str(tune.rounds), reached, count(len(learnt), "bar") or "-", clean]
        )
    return table(rows)


def _from_to(low: float, high: float) -> str:
    return f"{low:g}" if low == high else f"{low:g}-{high:g}"
