"""What one chooses by: a tune with its sections, chords and treatments, and how it sounds with others.

Conventions: bars of the form, 1 = its first full bar; seconds from where it begins; channels as on the
wire, 0-15.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import msgspec

from companion.arrange.lookup import treatment_at
from companion.arrange.plan import plan
from companion.arrange.treatments import listed
from companion.chart.model import Chart, Form
from companion.chart.own import is_own
from companion.engrave.programme import sounding
from companion.engrave.recording import orders
from companion.load import load
from companion.messages import Order, Part
from companion.page.demo_player import CHANNELS
from companion.page.drawing import SIGNS, tune_in_short
from companion.page.how import How, chart_asked, style_asked
from companion.preferences import preferences
from companion.preferences.drills import DrillPreferences
from companion.resources import is_shipped


class TuneAsked(msgspec.Struct, frozen=True):
    """Which tune."""

    path: str


class HearAsked(msgspec.Struct, frozen=True):
    """What of a tune is to be heard, and how."""

    path: str
    how: How
    parts: tuple[Part, ...] = ("melody", "chords", "bass")


def tune(asked: TuneAsked) -> dict[str, Any]:
    """All that one chooses by, ready for JSON."""
    path = Path(asked.path)
    chart = load(path)
    form = chart.unfold()
    return {
        **tune_in_short(chart),
        "quarters": chart.tempo,
        "own": is_own(path),
        "shipped": is_shipped(path),
        "written": sorted({part.part for part in chart.written}),
        "ordered": bool(chart.events),
        "sections": _sections(form),
        "rows": rows(form),
        "treatments": [{"name": one.name, "about": one.about} for one, _ in listed()],
        "drills": _drills(chart),
    }


def _drills(chart: Chart) -> list[dict[str, Any]]:
    """The kinds of drill, and what each stands for as long as nothing else is said."""
    known = preferences(DrillPreferences)
    kinds = [
        (name, kind, known.ladders[kind.ladder]) for name, kind in known.kinds.items() if kind.ladder in known.ladders
    ]
    return [
        {
            **{name: value for name, value in asdict(kind).items() if name not in ("what", "ladder")},
            "kind": name,
            "about": kind.what,
            "start": round(ladder.start * chart.tempo),
            "goal": round(ladder.to * chart.tempo),
            "step": ladder.step,
        }
        for name, kind, ladder in kinds
        if ladder is not None
    ]


def _sections(form: Form) -> list[dict[str, Any]]:
    """The sections in the order in which they come first, each once, with the treatment that it gets."""
    ruled = plan(form)
    found: dict[str, dict[str, Any]] = {}
    for place in form.sections:
        first = form.bar_at(place.start)
        last = form.bar_at(place.end - form.metre.pulse / 4)
        new = {"name": place.name, "first": first, "last": last, "treatment": treatment_at(ruled, place.start).name}
        found.setdefault(place.name, {**new, "said": place.treatment is not None, "times": 0})["times"] += 1
    return list(found.values())


def rows(form: Form) -> list[dict[str, Any]]:
    """Every bar in its section, with the symbols of the chords that begin in it."""
    found: list[dict[str, Any]] = []
    ends = [*form.bars[1:], form.length]
    for place in form.sections:
        bars = [
            (n, a, b) for n, (a, b) in enumerate(zip(form.bars, ends, strict=True), 1) if place.start <= a < place.end
        ]
        found.append({"name": place.name, "bars": [{"bar": n, "chords": _symbols(form, a, b)} for n, a, b in bars]})
    return found


def _symbols(form: Form, start: Any, end: Any) -> list[str]:
    return [span.chord.symbol.translate(SIGNS) for span in form.chords if start <= span.start < end]


def hear(asked: HearAsked) -> dict[str, Any]:
    """Some bars as the companion plays all parts, or some of them, as messages with their seconds.

    Raises
    ------
    InputError
        There are no such bars, or no such treatment.
    """
    chart = replace(chart_asked(load(asked.path), asked.how), events=())
    form, notes = sounding(chart, seed=asked.how.seed, style=style_asked(asked.how))
    sounded = [note for note in notes if note.part in asked.parts]
    return {"notes": messages(orders(form, sounded, asked.how.seed)), "seconds": _seconds(form)}


def _seconds(form: Form) -> float:
    return float(form.length) * 60 / form.tempo


def messages(found: Iterable[Order]) -> list[tuple[float, int, int, int]]:
    """Orders as a browser sounds them: seconds, status with the channel, and two data bytes."""
    return [(round(o.seconds, 4), o.status & 0xF0 | CHANNELS[o.part] - 1, o.data1, o.data2) for o in found]
