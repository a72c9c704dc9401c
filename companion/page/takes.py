"""Takes, as the page shows them: listed, reviewed, heard again, deleted.

A take goes by the name of its folder among the player's takes, and by nothing else.

Conventions: seconds on the take's clock; bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

import re
from dataclasses import asdict, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec

from companion.errors import TakeError
from companion.messages import PARTS, Round
from companion.page.choosing import messages, rows
from companion.page.demo_player import DEMO_MARK, demo_takes
from companion.practice.account import NOTHING, sentences
from companion.practice.findings import Finding, place_words
from companion.practice.review import Review, take_review
from companion.practice.review_table import review_table
from companion.practice.slips_before import in_the_light_of_earlier
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
    """Which take, and whether what is drawn of it is for a screen in the hand."""

    take: str
    narrow: bool = False


def takes_listed(asked: Nothing) -> dict[str, Any]:
    """The takes, the latest first."""
    takes = list_takes()
    listed = [_row(take) for take in takes[:MOST_LISTED]]
    demos = [_row(take, demo=True) for take in list_takes(demo_takes())]
    return {"takes": listed, "more": max(0, len(takes) - MOST_LISTED), "demos": demos}


def _row(take: Take | DamagedTake, *, demo: bool = False) -> dict[str, Any]:
    name = f"{DEMO_MARK if demo else ''}{take.folder.name}"
    when = {"take": name, "demo": demo, "day": f"{take.started:%A}, {take.started.day} {take.started:%B %Y}"}
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
    folder, name = takes_folder(demo_takes() if name.startswith(DEMO_MARK) else None), name.removeprefix(DEMO_MARK)
    folder = folder / name
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
    demo = asked.take.startswith(DEMO_MARK)
    before = take.rounds[0].first - 1 if demo and take.rounds else 0
    found = take_review(take)
    if not demo:
        found = in_the_light_of_earlier(found, take, take.rehearsed()[1].you)
    found = _in_the_tune(found, before)
    said = sentences(found) if found.bars else [NOTHING]
    table = review_table(found)
    return {
        **_row(take, demo=demo),
        "chart": chosen_by(chart_word(Path(take.source) if take.source else None, take.title)),
        "said": [_of_the_pianist(sentence) for sentence in said] if demo else said,
        "findings": table["findings"],
        "bars": table["bars"],
        "rows": [{**row, "bars": [{**bar, "bar": bar["bar"] + before} for bar in row["bars"]]} for row in rows(form)],
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


_PLACE = re.compile(r"\bthe pickup|\bbars? (\d+)(?: to (\d+))?")
"""A place as :func:`companion.practice.findings.place_words` has it."""


def _in_the_tune(found: Review, before: int) -> Review:
    """A review of some bars of a tune, with the numbers that they have there: so many bars lie before the first."""
    if not before:
        return found
    bars = tuple(replace(one, bar=one.bar + before) for one in found.bars)
    return replace(found, bars=bars, findings=tuple(_renumbered(one, before) for one in found.findings))


def _renumbered(one: Finding, before: int) -> Finding:
    bar, last = one.bar + before, None if one.last is None else one.last + before

    def place(found: re.Match[str]) -> str:
        first, end = int(found[1] or 0), found[2]
        return place_words(first + before, int(end) + before if end else None)

    return replace(one, bar=bar, last=last, text=_PLACE.sub(place, one.text))


def _of_the_pianist(sentence: str) -> str:
    """What is said to the player, said of the built-in pianist."""
    return re.sub(r"^You(r?)\b", lambda found: "The pianist’s" if found[1] else "The pianist", sentence)


def pictured(asked: TakeAsked) -> dict[str, Any]:
    """The pictures of a take's review, one for each time through of which a bar was played.

    Returns
    -------
    dict
        'pictures', each with its 'svg' and the 'places' of bars of which something is said; none where nothing was
        played, and of a drill.

    Raises
    ------
    InputError
        There is no such take, or it is damaged.
    UseError
        What draws them isn't installed.
    """
    folder = _folder(asked.take)
    return {"pictures": _pictures(folder, folder.stat().st_mtime_ns, asked.narrow)}


@lru_cache(maxsize=8)
def _pictures(folder: Path, changed: int, narrow: bool) -> list[dict[str, Any]]:
    """The pictures; made again when the take has changed."""
    from companion.practice.review_picture import review_pictures

    take = read_take(folder)
    if take.rounds:
        return []  # the form was never gone through: it would be a picture a round
    chart, settings = take.rehearsed()
    drawn = review_pictures(chart, settings.you, take_review(take), "", narrow=narrow)  # the page bears the title
    return [asdict(one) for one in drawn]


def sounding(asked: TakeAsked) -> dict[str, Any]:
    """All that sounded in a take, as messages with their seconds, each in order.

    Raises
    ------
    InputError
        There is no such take, or it is damaged.
    """
    take = read_take(_folder(asked.take))
    yours = [(round(e.seconds, 4), e.status, e.data1, e.data2) for e in take.heard()]
    notes = sorted([*yours, *messages(take.sounded())])
    begin = max(0.0, notes[0][0] - BEFORE) if notes else 0.0
    return {"notes": [(at - begin, *message) for at, *message in notes], "seconds": take.seconds - begin}


def deleted(asked: TakeAsked) -> dict[str, Any]:
    """Delete a take for good; the page has asked. Raises TakeError."""
    return {"trouble": delete_take(_folder(asked.take))}
