"""What is meant where a file doesn't say it: a table of named things needs only what makes it different."""

from __future__ import annotations

from typing import Any

import pytest

from companion.preferences.accents import PartAccents
from companion.preferences.bass import FillFigure, Pattern, Way
from companion.preferences.comping import Route
from companion.preferences.drills import DrillKind, LadderRules
from companion.preferences.feels import FeelTable
from companion.preferences.players import PlayerManner
from companion.preferences.structure import structured
from companion.preferences.touch import PartTouch, TouchLengths, TouchLoudness, TouchTiming
from companion.preferences.treatments import Treatment

NEEDED: dict[type[Any], dict[str, Any]] = {
    FillFigure: {"at": [0.5], "tempo": [60, 200]},
    Pattern: {"4": [[0, "root"]]},
    Way: {"at": [[0, "root"]]},
    Route: {"name": "up", "steps": [[0, 2]]},
    FeelTable: {"ratio": [[120, 2]]},
    PartTouch: {"level": 64, "follows": 0.5, "length": 1},
}
"""What a table can't do without; the others need nothing."""

MEANT: list[tuple[type[Any], dict[str, Any]]] = [
    # Factors and shares of others: as it is. Liberties: none.
    (PartAccents, {"first": 1.0, "backbeat": 1.0, "beat": 1.0, "off_beat": 1.0}),
    (FillFigure, {"share": 1.0}),
    (Way, {"share": 1.0, "ends": False}),
    (Route, {"lands": 0.0}),
    (TouchTiming, {"spread_ms": 0.0, "most_ms": 0.0, "memory": (), "behind_ms": 0.0, "fingers_ms": 0.0}),
    (TouchLoudness, dict.fromkeys(("spread", "top", "inner", "peak", "syncopation", "swell"), 0.0)),
    (TouchLengths, {**dict.fromkeys(("step", "leap", "again", "short", "last"), 1.0), "spread": 0.0}),
    (PartTouch, {"timing": TouchTiming(), "loudness": TouchLoudness(), "lengths": TouchLengths()}),
    (PartTouch, {"swing": ((120.0, 1.0),)}),
    # Ours.
    (Pattern, {"hold": 0.9, "every": None, "pedal": False, "rises": False, "by_chord": False, "one_note": False}),
    (Pattern, {"free_leaps": False, "swing_skips": False, "keeps": False, "interval": None}),
    (LadderRules, {"start": 0.6, "to": 1.0, "step": 4.0, "up_after": 2, "down_after": 2, "hold": 2}),
    (DrillKind, {"what": "", "ladder": "usual", "time": "follow", "click": "", "divide": 1, "swap": 0}),
    (DrillKind, {"keys": "", "each": 1, "memory": False, "anywhere": False}),
    (FeelTable, {"shortest_ms": 0.0, "practice_ratio": 2.0, "practice_below": 0.9}),
    (Treatment, {"bass": "walking", "chords": ("rootless",), "placement": "gaps", "rhythms": "swing", "late": 0.0}),
    (Treatment, {"melody": "as-written", "tempo": None, "feel": (), "metre": (), "where": ()}),
    # A player without slips, in the time of jazz trios.
    (PlayerManner, dict.fromkeys(("wrong", "left_out", "ornaments", "octaves", "freedom", "gain", "outside"), 0.0)),
    (PlayerManner, {"moves": 0, "stops": 0, "hesitations": 0, "stop_seconds": (2.0, 6.0), "pedal": False}),
    (PlayerManner, {"drift": 0.004, "jitter": 0.025, "spread_ms": (15.0, 25.0), "lead_ms": 0.0}),
    (PlayerManner, {"behind_ms": (0.0, 0.0)}),
]


@pytest.mark.parametrize(("kind", "meant"), MEANT, ids=lambda one: one.__name__ if isinstance(one, type) else "")
def test_what_a_table_doesnt_say_is_as_usual(kind: type[Any], meant: dict[str, Any]) -> None:
    made = structured(kind, NEEDED.get(kind, {}), ("named",))
    assert {name: getattr(made, name) for name in meant} == meant
