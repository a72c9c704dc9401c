"""What earlier takes teach the follower about a tune: kept by tune, so that beginning to play waits for nothing.

When a take is over it is laid on its chart, and when its notes were struck is kept in ``timing/`` of the folder for
user data, one file a tune. A tune is known by its form and its melody in any key; a chart that was changed there is
another tune. All of it can be made again from the takes: a file that is damaged is begun anew, and a take whose folder
is gone teaches nothing any more.

Conventions: as in :mod:`companion.practice.shaping`.
"""

from __future__ import annotations

import hashlib
import json
import math
import time
from contextlib import suppress
from itertools import pairwise
from pathlib import Path
from typing import Any

from companion.chart.model import Form
from companion.errors import CompanionError, InputError
from companion.files import read_limited, write_whole
from companion.follow.shape import TempoShape
from companion.practice.shaping import Run, runs_of, shape_of
from companion.preferences import preferences
from companion.preferences.following import FollowingPreferences
from companion.resources import data_folder
from companion.stage.recovery import take_folders
from companion.stage.take import Take, read_take
from companion.stage.take_files import slug, takes_folder

FOLDER, FORMAT = "timing", 1
MOST_BYTES = 16 * 1024 * 1024
MOST_KEPT = 50
"""Takes of a tune whose timing is kept."""
PATIENCE = 3.0
"""Seconds for the takes from before that haven't been laid on their chart, after the one that is over."""

MOST_NOTES = 400
"""Of a take, the last ones, which are laid on the chart: so that the end of a long take is waited for no longer."""

TimingByTake = dict[str, list[Run]]
"""What each take shows, by its folder's name; nothing of one that isn't of this tune or was played otherwise."""


def shape_from_earlier(form: Form, you: frozenset[str], data: Path | None = None) -> TempoShape | None:
    """How the player shaped a tune in their last few takes of it; None where that isn't known, or isn't wished.

    Parameters
    ----------
    form : Form
    you : frozenset of str
        The player's parts: without the melody nothing is known.
    data : path, optional
        The folder for user data.
    """
    likes = preferences(FollowingPreferences).earlier
    if not likes.on or "melody" not in you or not form.melody:
        return None
    takes: list[list[Run]] = []
    root = takes_folder(data)
    for name, runs in sorted(_read(_file(form, data)).items(), reverse=True):
        if runs and len(takes) < likes.takes and (root / name).is_dir():
            takes.append(runs)
    return shape_of(form, takes)


def learn(folder: Path, data: Path | None = None) -> None:
    """Keep what a take that is over shows, and what others of the same tune do that nobody looked at yet.

    What can't be read or written is left out: it is missed, and nothing else is.
    """
    with suppress(CompanionError):
        take = read_take(folder)
        form = take.rehearsed()[0].unfold()
        file = _file(form, data)
        known = _read(file)
        begun = time.monotonic()
        for place in [folder, *_others(take, known, data)]:
            known[place.name] = _shown(place, tune_mark(form))
            if time.monotonic() - begun > PATIENCE:
                break
        kept = dict(sorted(known.items(), reverse=True)[:MOST_KEPT])
        with suppress(OSError):
            file.parent.mkdir(parents=True, exist_ok=True)
            write_whole(file, _written(kept))


def tune_mark(form: Form) -> str:
    """A word that tunes share whose form and melody are the same, in whatever key."""
    first = form.melody[0].pitch.midi if form.melody else 0
    metre = [str(form.metre.bar), str(form.metre.pulse), form.feel, str(form.length)]
    melody = [f"{note.beat}:{note.pitch.midi - first}" for note in form.melody]
    text = " ".join([*metre, *map(str, form.bars), *melody])
    return hashlib.sha256(text.encode()).hexdigest()[:20]


def _file(form: Form, data: Path | None) -> Path:
    return (data or data_folder()) / FOLDER / f"{tune_mark(form)}.json"


def _others(take: Take, known: TimingByTake, data: Path | None) -> list[Path]:
    """Takes of that title that nobody looked at yet, the latest first."""
    title = slug(take.title)
    found = [place for place in take_folders(data) if title in place.name and place.name not in known]
    return sorted((p for p in found if p.name != take.folder.name), key=lambda p: p.name, reverse=True)[:MOST_KEPT]


def _shown(folder: Path, mark: str) -> list[Run]:
    """What a take shows; nothing where it is of another tune, or tells nothing of the player's own time."""
    from companion.practice.alignment import stretches_as_written  # not before one begins to play

    try:
        take = read_take(folder)
        chart, settings = take.rehearsed()
        form = chart.unfold()
        if take.rounds or settings.time != "follow" or "melody" not in settings.you or tune_mark(form) != mark:
            return []
        struck = [event for event in take.heard() if event.is_note_on]
        return runs_of(form, stretches_as_written(form, settings.you, struck[-MOST_NOTES:]))
    except CompanionError:
        return []


def _read(file: Path) -> TimingByTake:
    try:
        table = json.loads(read_limited(file, MOST_BYTES, "the timing of a tune"))
        if table["format"] != FORMAT:
            return {}
        return {str(name): [_run(rows) for rows in runs] for name, runs in table["takes"].items()}
    except (InputError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _written(timing: TimingByTake) -> str:
    takes = {
        name: [[(beat, round(at, 4)) for beat, at in run.items()] for run in runs] for name, runs in timing.items()
    }
    return json.dumps({"format": FORMAT, "takes": takes})


def _run(rows: Any) -> Run:
    """A time through as it stands in the file; ValueError where it can't be one."""
    run = {float(beat): float(at) for beat, at in rows}
    if not all(math.isfinite(x) for pair in run.items() for x in pair):
        raise ValueError("no number")
    if not all(a < c and b < d for (a, b), (c, d) in pairwise(run.items())):
        raise ValueError("out of order")
    return run
