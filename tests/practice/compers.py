"""Takes of players who comp with known shapes and rhythms, bar after bar, by a hand with a touch of 8 ms.

Nothing here knows how chords are found in takes. Conventions: beats in quarters; seconds from the take's start.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from pathlib import Path

from companion.arrange.harmony import harmonies
from companion.chart.model import Chart
from companion.chart.toml.write import write_toml
from companion.messages import Beat, Heard
from companion.music.kinds import degrees
from companion.stage.settings import Settings
from companion.stage.take_files import FORMAT, TakeFiles
from companion.stage.take_writer import settings_table

TOUCH = 0.008
"""Seconds, standard deviation."""
START = 2.0

Shapes = Mapping[str, Sequence[str]]
"""The shapes of each kind of chord, taken in turn."""


def stacked(root: int, text: str, low: int) -> list[int]:
    """Degrees above a pitch class as MIDI numbers, each the nearest above the one before, the first from ``low`` up."""
    notes, last = [], low - 1
    for one in degrees(text):
        last += 1 + (root + one.pc - last - 1) % 12
        notes.append(last)
    return notes


def comped(
    chart: Chart,
    shapes: Shapes,
    places: Sequence[float] = (0.0, 2.0),
    *,
    choruses: int = 1,
    low: int = 52,
    tempo: float = 120.0,
    swung: float = 0.5,
    held: float = 0.4,
    seed: int = 1,
) -> list[Heard]:
    """Each bar with a chord at each place, in the shapes of its kind; a chord of another kind has none.

    ``swung`` is where off-beat quavers lie in a quarter, ``held`` how many quarters a chord lasts.
    """
    dice, form, quarter = random.Random(seed), chart.unfold(), 60 / tempo
    chords, turn, heard = harmonies(form), 0, []
    for chorus in range(choruses):
        for bar in form.bars:
            for place in places:
                written = float(bar) + place
                harmony = next(h for h in reversed(chords) if h.start <= (max(written, 0.0) + (place < 0) * 0.5))
                row = shapes.get(harmony.chord.quality, ())
                at = written + (swung - 0.5 if written % 1 == 0.5 else 0.0) + chorus * float(form.length)
                if at < -1 or not row:
                    continue
                for key in stacked(harmony.root, row[turn % len(row)], low):
                    on = START + quarter * at + dice.gauss(0, TOUCH)
                    heard += [Heard(on, 0x90, key, 64), Heard(on + held * quarter, 0x80, key, 0)]
                turn += 1
    return sorted(heard, key=lambda one: (one.seconds, one.status))


def keep(data: Path, name: str, chart: Chart, heard: Sequence[Heard], settings: Settings | None = None) -> Path:
    """A take of what was played in the folder for user data; of chords that were counted in, unless it is said."""
    usual = Settings(you=frozenset({"chords"}), parts=("bass",), tempo=120.0, start=START)
    folder = data / "takes" / name
    folder.mkdir(parents=True)
    head = {
        "format": FORMAT,
        "companion": "0",
        "title": chart.title,
        "started": f"{name[:10]}T20:00:00+00:00",
        "chart": {"source": None, "toml": write_toml(chart)},
        "settings": settings_table(settings or usual),
    }
    files = TakeFiles()
    files.add(Beat(START, 0.0, 1.0))
    for event in heard:
        files.add(event)
    files.write(folder, head, "ended")
    files.close()
    return folder
