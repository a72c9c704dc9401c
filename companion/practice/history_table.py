"""The records as a table for other programs (CSV, RFC 4180): a row a take, a round of a drill, a bar of a take.

Conventions: moments in UTC (ISO 8601); tempo in quarters a minute; an empty cell is what isn't known or doesn't apply.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from companion.practice.records import BarRecord, RoundRecord, TakeRecord, utc_text

COLUMNS = (
    "what", "at", "chart", "title", "section", "first_bar", "last_bar", "chorus", "you", "key", "tempo", "tune_tempo",
    "time", "kind", "round", "good", "why", "right", "wrong", "missing", "extra", "deviation_ms", "spread_ms",
    "seconds", "choruses", "stops", "take",
)  # fmt: skip


def history_csv(rounds: Sequence[RoundRecord], takes: Sequence[TakeRecord], bars: Sequence[BarRecord]) -> str:
    """Everything that the records hold of these, in order of time; the bars of a take follow it."""
    rows: list[tuple[str, dict[str, Any]]] = [(utc_text(one.at), _round(one)) for one in rounds]
    by_take = {take.folder: take for take in takes}
    rows += [(utc_text(take.started), _take(take)) for take in takes]
    rows += [(utc_text(by_take[bar.take].started), _bar(bar, by_take[bar.take])) for bar in bars]
    rows.sort(key=lambda row: row[0])
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(row for _, row in rows)
    return text.getvalue()


def _round(one: RoundRecord) -> dict[str, Any]:
    names = ("chart", "title", "section", "key", "tempo", "tune_tempo", "time", "kind", "why", "right", "wrong",
             "missing", "extra", "spread_ms", "take")  # fmt: skip
    return {name: getattr(one, name) for name in names} | {
        "what": "round",
        "at": utc_text(one.at),
        "first_bar": one.first,
        "last_bar": one.last,
        "you": " ".join(one.you),
        "round": one.number,
        "good": "yes" if one.good else "no",
        "seconds": round(one.seconds, 3),
    }


def _take(one: TakeRecord) -> dict[str, Any]:
    names = ("chart", "title", "key", "tempo", "tune_tempo", "time", "choruses", "stops")
    return {name: getattr(one, name) for name in names} | {
        "what": "take",
        "at": utc_text(one.started),
        "you": " ".join(one.you),
        "seconds": round(one.seconds, 3),
        "take": one.folder,
    }


def _bar(one: BarRecord, take: TakeRecord) -> dict[str, Any]:
    names = ("chorus", "tempo", "right", "wrong", "missing", "extra", "deviation_ms", "spread_ms", "take")
    return {name: getattr(one, name) for name in names} | {
        "what": "bar",
        "at": utc_text(take.started),
        "chart": take.chart,
        "title": take.title,
        "first_bar": one.bar,
        "last_bar": one.bar,
        "you": " ".join(take.you),
        "key": take.key,
        "tune_tempo": take.tune_tempo,
        "time": take.time,
    }
