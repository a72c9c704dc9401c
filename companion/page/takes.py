"""Takes, as the page shows them: listed, reviewed, heard again, deleted.

A take goes by the name of its folder among the player's takes, and by nothing else.

Conventions: seconds on the take's clock; bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec

from companion.errors import TakeError
from companion.messages import PARTS, Round
from companion.page.choosing import messages, rows
from companion.practice.account import NOTHING, sentences
from companion.practice.review import take_review
from companion.practice.review_table import review_table
from companion.practice.taken_in import chart_word
from companion.practice.taken_out import delete_take
from companion.resources import chart_names
from companion.stage.take import DamagedTake, Take, list_takes, read_take
from companion.stage.take_files import takes_folder

MOST_LISTED = 200
BEFORE = 0.3
"""Seconds of silence before the first note when it is heard again."""


class Nothing(msgspec.Struct, frozen=True):
    """Where nothing more is to be said."""


class TakeAsked(msgspec.Struct, frozen=True):
    """Which take."""

    take: str


def takes_listed(asked: Nothing) -> dict[str, Any]:
    """The takes, the latest first."""
    takes = list_takes()
    return {"takes": [_row(take) for take in takes[:MOST_LISTED]], "more": max(0, len(takes) - MOST_LISTED)}


def _row(take: Take | DamagedTake) -> dict[str, Any]:
    when = {"take": take.folder.name, "day": f"{take.started:%A}, {take.started.day} {take.started:%B %Y}"}
    when["hour"] = f"{take.started:%H:%M}"
    if isinstance(take, DamagedTake):
        return {**when, "title": take.folder.name[18:] or take.folder.name, "fault": take.why}
    you = take.settings.get("you", ())
    return {
        **when,
        "title": take.title,
        "seconds": round(take.seconds),
        "you": [part for part in PARTS if part in you],
        "how": take.how,
        "drill": bool(take.rounds),
        "kept": take.kept,
    }


def _folder(name: str) -> Path:
    folder = takes_folder() / name
    if Path(name).name != name or name in ("", ".", "..") or not folder.is_dir():
        raise TakeError("there is no such take", mend="load the list again")
    return folder


def reviewed(asked: TakeAsked) -> dict[str, Any]:
    """The review of a take: what is said of it, and its bars one by one.

    Raises
    ------
    InputError
        There is no such take, or it is damaged.
    """
    take = read_take(_folder(asked.take))
    form = take.rehearsed()[0].unfold()
    found = take_review(take)
    table = review_table(found)
    return {
        **_row(take),
        "chart": chosen_by(chart_word(Path(take.source) if take.source else None, take.title)),
        "said": sentences(found) if found.bars else [NOTHING],
        "findings": table["findings"],
        "bars": table["bars"],
        "rows": rows(form),
        "rounds": [_round(one) for one in take.rounds if one.good is not None],
    }


def chosen_by(word: str) -> str:
    """The name by which a chart is chosen on the page; empty for one that isn't among those that have names."""
    return word if word in chart_names() else ""


def _round(one: Round) -> dict[str, Any]:
    return {
        "number": one.number,
        "bars": [one.first, one.last],
        "key": one.key,
        "tempo": round(one.tempo),
        "good": one.good,
        "why": one.why,
    }


def pictured(asked: TakeAsked) -> dict[str, Any]:
    """The pictures of a take's review, one for each time through of which a bar was played.

    Returns
    -------
    dict
        'pictures', SVG documents; none where nothing was played.

    Raises
    ------
    InputError
        There is no such take, or it is damaged.
    UseError
        What draws them isn't installed.
    """
    folder = _folder(asked.take)
    return {"pictures": _pictures(folder, folder.stat().st_mtime_ns)}


@lru_cache(maxsize=4)
def _pictures(folder: Path, changed: int) -> list[str]:
    """The pictures; made again when the take has changed."""
    from companion.practice.review_picture import review_pictures

    take = read_take(folder)
    chart, settings = take.rehearsed()
    return review_pictures(chart, settings.you, take_review(take), take.title)


def sounding(asked: TakeAsked) -> dict[str, Any]:
    """All that sounded in a take, as messages with their seconds, each in order.

    Raises
    ------
    InputError
        There is no such take, or it is damaged.
    """
    take = read_take(_folder(asked.take))
    yours = [(round(e.seconds, 4), e.status & 0xF0, e.data1, e.data2) for e in take.heard()]
    notes = sorted([*yours, *messages(take.sounded())])
    begin = max(0.0, notes[0][0] - BEFORE) if notes else 0.0
    return {"notes": [(at - begin, *message) for at, *message in notes], "seconds": take.seconds - begin}


def deleted(asked: TakeAsked) -> dict[str, Any]:
    """Delete a take for good; the page has asked. Raises TakeError."""
    return {"trouble": delete_take(_folder(asked.take))}
