"""What the companion would play in a bar and why; and an arrangement kept note for note, or made anew.

Conventions: bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import msgspec

from companion.arrange.explain import explain, scales_for_form
from companion.arrange.request import Request
from companion.arrange.writing import without_bars, write_arrangement
from companion.chart.model import Chart
from companion.chart.own import place_of_change
from companion.chart.toml.arrangement import WRITTEN_PARTS
from companion.chart.toml.read import check_not_newer, read_text
from companion.chart.toml.update import update_toml
from companion.chart.toml.write import write_toml
from companion.errors import UseError
from companion.files import write_output
from companion.load import load
from companion.page.drawing import SIGNS
from companion.page.how import How, style_asked, treated

MOST_EXPLAINED = 8
"""Bars at a time."""
_SIGN = re.compile(r"(?<=[A-G])[b#]+|[b#]+(?=\d)")
"""The signs of note names ('Bb3'), chord symbols ('Ebmaj7', 'Am7b5') and degrees ('b7')."""


class ExplainAsked(msgspec.Struct, frozen=True):
    """Which bars are to be explained."""

    path: str
    how: How
    first: int
    last: int


class KeepAsked(msgspec.Struct, frozen=True):
    """Which bars are to be written note for note; or to be free again."""

    path: str
    how: How
    bars: tuple[int, int] | None = None
    free: bool = False


def explained(asked: ExplainAsked) -> dict[str, Any]:
    """What each part plays in some bars, and why; ready for JSON."""
    form = treated(load(asked.path), asked.how.treatments).unfold()
    last = min(asked.last, asked.first + MOST_EXPLAINED - 1)
    bars = explain(form, Request(seed=asked.how.seed, style=style_asked(asked.how)), first=asked.first, last=last)
    written = {part.part: part.bars for part in form.written}
    return {
        "scales": _in_print(scales_for_form(form)),
        "bars": [
            {
                "bar": bar.bar,
                "section": bar.section,
                "treatment": bar.treatment,
                "about": bar.about,
                "chords": bar.symbols.translate(SIGNS),
                "scales": _in_print(bar.scales),
                "lines": [{"part": part, "text": _in_print(text)} for part, text in bar.lines],
                "written": [part for part in WRITTEN_PARTS if bar.bar in written.get(part, ())],
            }
            for bar in bars
        ],
    }


def _in_print(text: str) -> str:
    """The text with the signs of notes and chords as they are printed.

    >>> _in_print("F3 Bb3 Eb4 (1 4 b7), behind Am7b5; a breve by Bob")
    'F3 B♭3 E♭4 (1 4 ♭7), behind Am7♭5; a breve by Bob'
    """
    return _SIGN.sub(lambda found: found[0].translate(SIGNS), text)


def kept(asked: KeepAsked) -> dict[str, Any]:
    """Write the arrangement of some bars into the chart, or take it out again.

    Returns
    -------
    dict
        'name', by which the chart is chosen now, and 'said'.

    Raises
    ------
    InputError
        There are no such bars, or the chart can't be written.
    """
    path = Path(asked.path)
    chart = load(path)
    count = len(chart.unfold().bars)
    first, last = asked.bars or (1, count)
    if not 1 <= first <= last <= count:
        raise UseError("there are no such bars", mend=f"the form has bars 1 to {count}")
    bars = range(first, last + 1)
    made = _free(chart, bars) if asked.free else _made(chart, bars, asked.how)
    place = place_of_change(path, made)
    check_not_newer(place)
    text = update_toml(read_text(path), made) if path.suffix.lower() == ".toml" else write_toml(made)
    former = write_output(place, text)
    which = f"bar {first}" if first == last else f"bars {first}–{last}"
    said = f"{which}: free again, new in every chorus" if asked.free else f"{which}: written note for note"
    if place != path:
        said += f"; it is in a copy of your own, {place.stem}"
    if former:
        said += f"; what was there is kept as {former.name}"
    return {"name": place.stem, "said": said}


def _made(chart: Chart, bars: range, how: How) -> Chart:
    """The treatments that were chosen become the chart's own, so that the rest is played in the same way."""
    changed = treated(chart, how.treatments)
    return write_arrangement(replace(changed, written=chart.written), bars=bars, seed=how.seed, style=style_asked(how))


def _free(chart: Chart, bars: range) -> Chart:
    form = chart.unfold()
    left = (without_bars(form, part.part, bars) for part in form.written)
    return replace(chart, written=tuple(part for part in left if part is not None))
