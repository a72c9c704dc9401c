"""How a player comps, learnt from their takes: which shapes and rhythms are habits.

What each take shows (:mod:`companion.practice.chords_used`) is kept in ``comping.json`` of the folder for user data, so
that a take is looked through once. All of it can be made again from the takes: a file that is damaged is begun anew,
and a take whose folder is gone tells nothing any more. Nothing leaves the machine.

A later take counts more. A shape or a rhythm is a habit when it came as often, and in as many takes, as
``like-you.toml`` says; its worth is its share, against that of the one that is used most, less while little is known.

Conventions: as in :mod:`companion.practice.chords_used`.
"""

from __future__ import annotations

import json
import statistics
from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from companion.arrange.chords.comping_style import CompingStyle, UsedRhythm, UsedShape
from companion.errors import CompanionError
from companion.files import read_limited, write_whole
from companion.practice.chords_used import TakeUses, uses_of_take
from companion.preferences import preferences
from companion.preferences.like_you import LearningRules, LikeYouPreferences
from companion.resources import data_folder
from companion.stage.recovery import take_folders
from companion.stage.take import read_take
from companion.stage.typed_rows import of_type

FILE, FORMAT = "comping.json", 1
MOST_BYTES = 16 * 1024 * 1024
MOST_OF_A_KIND = 8
"""Shapes of a kind of chord, rhythms of a metre."""
TAIL = 10
"""Percent of the top notes at each end that don't count."""


def style_of_player(
    data: Path | None = None, *, progress: Callable[[float], None] = lambda share: None
) -> CompingStyle:
    """How the player comps, as their latest takes show it; a style without shapes and rhythms where they show none.

    What can't be read or written is left out: it is missed, and nothing else is.

    Parameters
    ----------
    data : path, optional
        The folder for user data.
    progress : callable, optional
        Told the share done, 0-1.
    """
    rules = preferences(LikeYouPreferences).learning
    file = (data or data_folder()) / FILE
    known, shown = _read(file), []
    folders = take_folders(data)[::-1]
    before = len(known)
    try:
        for number, folder in enumerate(folders):
            progress(number / len(folders))
            uses = known.get(folder.name) or _shown(folder)
            if uses is not None:
                known[folder.name] = uses
                shown += [] if uses.empty else [uses]
            if len(shown) == rules.takes:
                break
    finally:  # whoever is tired of waiting loses nothing of what was looked through
        names = {folder.name for folder in folders}
        if len(known) > before or not names >= known.keys():
            _keep(file, known, names)
    return style_of(shown, rules)


def is_wished(wish: bool | None) -> bool:
    """Whether chords are to be like the player's: as was said, and where nothing was, as ``like-you.toml`` has it."""
    return preferences(LikeYouPreferences).wish.always if wish is None else wish


def _shown(folder: Path) -> TakeUses | None:
    """What a take shows; None where it can't be read, now at least: it may be being played."""
    try:
        return uses_of_take(read_take(folder))
    except CompanionError:
        return None


def _keep(file: Path, known: Mapping[str, TakeUses], names: Collection[str]) -> None:
    with suppress(OSError):
        file.parent.mkdir(parents=True, exist_ok=True)
        write_whole(file, _written({name: uses for name, uses in known.items() if name in names}))


# What is a habit


@dataclass
class _Tally:
    """How often something came."""

    weight: float = 0.0
    times: int = 0
    takes: int = 0
    rows: list[Any] = field(default_factory=list)
    """Of shapes the top notes, of rhythms the lengths."""


def style_of(takes: Sequence[TakeUses], rules: LearningRules) -> CompingStyle:
    """The style that takes show, the latest first."""
    shapes = _tallied([uses.shapes for uses in takes], rules)
    rhythms = _tallied([uses.rhythms for uses in takes], rules)
    used = [
        UsedShape(quality, degrees, left, worth, *_range(one.rows), one.times, one.takes)
        for (quality, degrees, left), worth, one in _habits(shapes, rules, lambda key: key[0])
    ]
    struck = [
        UsedRhythm(metre, feel, places, _lengths(one.rows), worth, one.times, one.takes)
        for (metre, feel, places), worth, one in _habits(rhythms, rules, lambda key: key[:2])
    ]
    return CompingStyle(tuple(used), tuple(struck), len(takes))


def _tallied(takes: Sequence[Mapping[Any, Sequence[Any]]], rules: LearningRules) -> dict[Any, _Tally]:
    found: dict[Any, _Tally] = defaultdict(_Tally)
    for age, uses in enumerate(takes):
        for key, rows in uses.items():
            one = found[key]
            one.weight += len(rows) * 0.5 ** (age / rules.halves_after)
            one.times += len(rows)
            one.takes += 1
            one.rows += rows
    return found


def _habits(
    tallies: Mapping[Any, _Tally], rules: LearningRules, kind: Callable[[Any], Any]
) -> list[tuple[Any, float, _Tally]]:
    """What is a habit, with its worth: kind by kind, the most used first."""
    kinds: dict[Any, list[tuple[Any, _Tally]]] = defaultdict(list)
    for key, one in tallies.items():
        kinds[kind(key)].append((key, one))
    found = []
    for _, rows in sorted(kinds.items()):
        whole = sum(one.weight for _, one in rows)
        kept = [
            (key, one)
            for key, one in rows
            if one.times >= rules.uses and one.takes >= rules.in_takes and one.weight >= rules.least_share * whole
        ]
        kept.sort(key=lambda row: (-row[1].weight, row[0]))
        known = whole / (whole + rules.doubt) if whole else 0.0
        found += [(key, round(known * one.weight / kept[0][1].weight, 4), one) for key, one in kept[:MOST_OF_A_KIND]]
    return found


def _range(tops: Sequence[int]) -> tuple[int, int]:
    """From where to where the top notes lie, the outermost left out."""
    ordered = sorted(tops)
    tail = len(ordered) * TAIL // 100
    return ordered[tail], ordered[-1 - tail]


def _lengths(rows: Sequence[tuple[float, ...]]) -> tuple[float, ...]:
    return tuple(round(2 * statistics.median(column)) / 2 or 0.5 for column in zip(*rows, strict=True))


# The file


def _read(file: Path) -> dict[str, TakeUses]:
    """What is known of takes; nothing where the file is damaged, or of another format."""
    try:
        table = json.loads(read_limited(file, MOST_BYTES, "what your takes show of your chords"))
        if table["format"] != FORMAT:
            return {}
        return {str(name): _uses(row) for name, row in table["takes"].items()}
    except (CompanionError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _uses(row: Any) -> TakeUses:
    """What a take shows, as it stands in the file; ValueError where it can't be that."""
    shapes, rhythms = {}, {}
    for quality, degrees, left, tops in row["shapes"]:
        key = of_type(quality, str), of_type(degrees, str), of_type(left, int)
        shapes[key] = list(of_type(tops, tuple[int, ...]))
        UsedShape(*key, 0.0, min(shapes[key]), max(shapes[key]), 1, 1)  # refuses what is none
    for metre, feel, places, lengths in row["rhythms"]:
        where = of_type(metre, str), of_type(feel, str), of_type(places, tuple[float, ...])
        rhythms[where] = [of_type(one, tuple[float, ...]) for one in lengths]
        for one in rhythms[where] or [()]:
            UsedRhythm(*where, one, 0.0, 1, 1)
    return TakeUses(shapes, rhythms)


def _written(known: Mapping[str, TakeUses]) -> str:
    takes = {
        name: {
            "shapes": [[*key, tops] for key, tops in uses.shapes.items()],
            "rhythms": [[*key, lengths] for key, lengths in uses.rhythms.items()],
        }
        for name, uses in known.items()
    }
    return json.dumps({"format": FORMAT, "takes": takes})
