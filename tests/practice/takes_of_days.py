"""Takes of a short tune, each on a day of its own."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

from companion.stage.take import Take, read_take
from companion.stage.take_files import DATA, takes_folder
from tests.practice.days import evening
from tests.practice.test_partner import take_of

Line = list[int | None]
LINE: Line = [77, None, 81, None, 79, None, 77, None, 76, None, None, None, 79, None, None, None]
"""The tune's melody, a MIDI number a beat."""
WITHOUT: Line = [*LINE[:6], None, *LINE[7:]]
"""The second note of bar 2 left out."""
FIRST = date(2026, 11, 2)


def played_on(data: Path, day: int, line: Line) -> Take:
    """A take of the tune's melody, on a day."""
    take = take_of(data / f"day-{day}", [line], you="melody")
    told = json.loads((take.folder / DATA).read_text(encoding="utf-8"))
    started = evening(FIRST + timedelta(days=day))
    told["started"] = started.isoformat()
    (take.folder / DATA).write_text(json.dumps(told), encoding="utf-8")
    takes_folder(data).mkdir(parents=True, exist_ok=True)
    return read_take(take.folder.rename(takes_folder(data) / f"{started:%Y-%m-%d-%H%M%S}-four-steps"))
