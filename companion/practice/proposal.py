"""What to drill where nothing was said: what was played worst in the last take of the tune, else its beginning.

Conventions: bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from companion.chart.model import Form
from companion.errors import CompanionError
from companion.messages import Part
from companion.practice.alignment import align
from companion.preferences import preferences
from companion.preferences.drills import DrillPreferences
from companion.stage.take import Take, read_take
from companion.stage.take_files import takes_folder

WRONG, MISSING, EXTRA, LATE, LEFT = 1.0, 1.0, 0.5, 0.5, 1.0
"""What a note wrong, left out, too many or far off its beat weighs, and a place where the player stopped or leapt."""
WORTH_IT = 2.0
"""Weight of a passage's faults from which it is worth a drill."""
LOOKED_AT = 20
"""Takes that are looked at for one of this tune, the latest first."""


@dataclass(frozen=True)
class Proposal:
    """What to drill."""

    bars: tuple[int, int]
    why: str
    you: frozenset[Part] | None = None
    """The player's parts in the take that tells it; None: as is usual."""


def beginning(form: Form) -> Proposal:
    """The first bars of a tune."""
    return Proposal((1, min(preferences(DrillPreferences).rounds.bars, len(form.bars))), "the beginning")


def proposed(form: Form, you: frozenset[Part] | None = None, data: Path | None = None) -> Proposal:
    """The bars to begin with.

    Parameters
    ----------
    form : Form
    you : frozenset of str, optional
        The player's parts; a take in which they played others tells nothing.
    data : path, optional
        The folder for user data.
    """
    take = latest_take(form, you, data)
    if take is None:
        return beginning(form)
    many = min(preferences(DrillPreferences).rounds.bars, len(form.bars))
    found = worst_bars(form, faults_by_bar(take), many)
    if found is None:
        return beginning(form)
    return Proposal(found, f"played worst in your take of {take.started:%d %B, %H:%M}", take.rehearsed()[1].you)


def latest_take(form: Form, you: frozenset[Part] | None = None, data: Path | None = None) -> Take | None:
    """The latest take of a tune, with some parts of the player's; None where there is none that can be read."""
    folder = takes_folder(data)
    if not folder.is_dir():
        return None
    for place in sorted(folder.iterdir(), reverse=True)[:LOOKED_AT]:
        with suppress(CompanionError, OSError):
            take = read_take(place)
            over, settings = take.rehearsed()
            tune = over.unfold()
            same = tune.bars == form.bars and tune.melody == form.melody and not take.rounds
            if same and (you is None or settings.you == you) and "solo" not in settings.you:
                return take
    return None


def faults_by_bar(take: Take) -> Mapping[int, float]:
    """How much went wrong in each bar of the form, through all choruses of a take; empty where nothing did.

    Raises
    ------
    InputError
        The take is damaged.
    """
    chart, settings = take.rehearsed()
    form = chart.unfold()
    late = preferences(DrillPreferences).good.late_ms
    aligned = align(chart, settings, take.heard(), take.seconds)
    weights = {"wrong": WRONG, "missing": MISSING, "extra": EXTRA, "right": 0.0}
    found: defaultdict[int, float] = defaultdict(float)
    for note in aligned.notes:
        weight = 0.0 if note.forgiven else weights[note.kind]
        if note.deviation_ms is not None and abs(note.deviation_ms) > late:
            weight = max(weight, LATE)
        found[form.bar_at(max(note.chart_beat, 0.0))] += weight
    for move in aligned.moves:
        found[form.bar_at(max(move.from_beat, 0.0))] += LEFT
    return {bar: weight for bar, weight in found.items() if weight}


def worst_bars(form: Form, faults: Mapping[int, float], many: int) -> tuple[int, int] | None:
    """The row of so many bars with the most faults, the earliest of several; None where none is worth a drill."""
    last = len(form.bars)
    rows = [(sum(faults.get(bar, 0.0) for bar in range(first, first + many)), -first)
            for first in range(1, last - many + 2)]  # fmt: skip
    most, first = max(rows, default=(0.0, -1))
    return (-first, -first + many - 1) if most >= WORTH_IT else None
