"""How far the values of a player's file may go: the last that is taken, the first that is refused."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from companion.preferences import preferences
from companion.preferences.bass import BassPreferences, Role, Way
from companion.preferences.by_ear import ByEarPreferences
from companion.preferences.capture import CapturePreferences
from companion.preferences.comping import CompingPreferences, HeldWay
from companion.preferences.drills import DrillPreferences
from companion.preferences.feels import FeelPreferences
from companion.preferences.following import FollowingPreferences, Phrasing
from companion.preferences.instruments import InstrumentPreferences
from companion.preferences.like_you import LikeYouPreferences
from companion.preferences.listening import ListeningPreferences
from companion.preferences.order import OrderPreferences
from companion.preferences.paper import PaperPreferences
from companion.preferences.players import PlayerPreferences
from companion.preferences.repertoire import RepertoirePreferences
from companion.preferences.review import ReviewPreferences
from companion.preferences.signals import SignalPreferences
from companion.preferences.solo import Cell, Figure, SoloPreferences
from companion.preferences.touch import TouchPreferences
from companion.preferences.voicings import VoicingPreferences

ROOT: tuple[tuple[float, Role], ...] = ((0.0, "root"),)
STILL = Figure(1.0, (1, 1), {1: 0.0})
FIGURES = "scale", "arpeggio", "enclosure", "leap", "digits"


def held(*after: float) -> dict[str, Any]:
    """Chords so many quarters after a root that rules a quarter."""
    return {"ways": {1.0: (HeldWay("after", after),)}}


def ways(at_first: float, begins: float) -> dict[str, Any]:
    """Melodies that are phrased otherwise in a quarter of the cases, filled in an eighth, or a line instead."""
    ours = preferences(FollowingPreferences)
    return {
        "phrasing": {"late": Phrasing(0.5, 0.25, 0.1)},
        "fills": replace(ours.fills, begins=0.125),
        "improvising": replace(ours.improvising, at_first=at_first, begins=begins),
    }


def cells(name: str, weight: tuple[float, float, float], hits: tuple[float, ...] = (0.0,)) -> dict[str, Any]:
    """One cell, and how likely it is as a phrase opens, goes on and closes."""
    return {"named": {name: Cell(hits, weight)}}


EDGES: list[tuple[type[Any], str, dict[str, Any], dict[str, Any]]] = [
    (BassPreferences, "range", {"highest": 40, "comfortable": (28, 40)}, {"highest": 39, "comfortable": (28, 39)}),
    (BassPreferences, "range", {"comfortable": (40, 40)}, {"comfortable": (41, 40)}),
    (BassPreferences, "range", {"comfortable": (28, 55)}, {"comfortable": (27, 55)}),
    (BassPreferences, "range", {"comfortable": (28, 55)}, {"comfortable": (28, 56)}),
    (BassPreferences, "slow", {"down_to": 91.9}, {"down_to": 92.0}),
    (BassPreferences, "skips", {"length": 0.01}, {"length": 0.0}),
    (BassPreferences, "quavers", {"of_few": (0.0, 0.1, 0.9)}, {"of_few": (0.0, 0.0, 1.0)}),
    (BassPreferences, "quavers", {"of_few": (0.1, 0.0, 0.9)}, {"of_few": (0.0, 0.0, 1.0)}),
    (BassPreferences, "patterns.in-two.ways.4.0", {"at": ((0.0, "root"),)}, {"at": ((-0.5, "root"),)}),
    (
        BassPreferences,
        "patterns.in-two",
        {"ways": {"4": (Way(ROOT, share=0.1), Way(ROOT, share=0.0, ends=True))}},
        {"ways": {"4": (Way(ROOT, share=0.0), Way(ROOT, share=0.1, ends=True))}},
    ),
    (ByEarPreferences, "tempo", {"slower": 0.01}, {"slower": 0.0}),
    (ByEarPreferences, "tempo", {"slowest": 0.01}, {"slowest": 0.0}),
    (CapturePreferences, "timing", {"key_ms": 0.1}, {"key_ms": 0.0}),
    (CapturePreferences, "swing", {"usual_most": 1.0, "most": 1.0}, {"usual_most": 0.9}),
    (CapturePreferences, "swing", {"usual_most": 2.5}, {"usual_most": 2.6}),
    (CapturePreferences, "division", {"simple": {"a": {1: 0.0}}}, {"simple": {"a": {2: 0.0}}}),
    (CapturePreferences, "division", {"compound": {"a": {1: 0.0}}}, {"compound": {"a": {3: 0.0}}}),
    (CapturePreferences, "length", {"held": (0.5, 0.5)}, {"held": (0.5, 0.4)}),
    (CapturePreferences, "length", {"held": (0.1, 0.5)}, {"held": (0.0, 0.5)}),
    (CompingPreferences, "placement", {"shortest": 0.1}, {"shortest": 0.0}),
    (CompingPreferences, "held.ways.1.0.0", {"after": (0.0, 0.5)}, {"after": (0.5, 0.5)}),
    (CompingPreferences, "held", held(0.0, 0.9), held(0.0, 1.0)),
    (CompingPreferences, "slides.routes.4.0", {"steps": ((0.0, 1), (0.1, 1))}, {"steps": ((0.1, 1), (0.1, 1))}),
    (CompingPreferences, "swing.bars.4.0", {"hits": ((0.0, 1), (0.1, 1))}, {"hits": ((0.1, 1), (0.1, 1))}),
    (DrillPreferences, "ladders.usual", {"to": 0.6}, {"to": 0.59}),
    (FeelPreferences, "named.swing", {"ratio": ((60.0, 2.0), (60.0, 2.0))}, {"ratio": ((61.0, 2.0), (60.0, 2.0))}),
    (FollowingPreferences, "phrasing.early-quaver", {"by": 0.5}, {"by": 0}),
    (FollowingPreferences, "improvising", {"back": 0.7}, {"back": 0.71}),
    (FollowingPreferences, "solo_or_head", {"solo": 0.65}, {"solo": 0.66}),
    (FollowingPreferences, "solo_or_head", {"soonest": 4}, {"soonest": 5}),
    (FollowingPreferences, "solo", {"on_beat": (0.5, 0.499)}, {"on_beat": (0.5, 0.4999)}),
    (FollowingPreferences, "solo", {"off_beat": (0.5, 0.499)}, {"off_beat": (0.5, 0.4999)}),
    (FollowingPreferences, "solo.strikes", {"simple": {"0": 0.5, "23/24": 0.1}}, {"simple": {"0": 0.5, "1": 0.1}}),
    (FollowingPreferences, "solo.strikes", {"compound": {"35/24": 0.1}}, {"compound": {"3/2": 0.1}}),
    (FollowingPreferences, "solo.strikes", {"simple": {"0": 0.1}}, {"simple": {}}),
    (
        FollowingPreferences,
        "",
        {"phrasing": {"a": Phrasing(0.5, 0.43, 0.1)}},
        {"phrasing": {"a": Phrasing(1, 0.44, 0.1)}},
    ),
    (FollowingPreferences, "", ways(at_first=0.125, begins=0.0), ways(at_first=0.126, begins=0.0)),
    (FollowingPreferences, "", ways(at_first=0.0, begins=0.125), ways(at_first=0.0, begins=0.126)),
    (InstrumentPreferences, "", {"lowest_key": 107}, {"lowest_key": 108}),
    (LikeYouPreferences, "learning", {"takes": 5, "in_takes": 5}, {"takes": 5, "in_takes": 6}),
    (LikeYouPreferences, "shapes", {"liking": 0.0}, {"liking": -0.1}),
    (LikeYouPreferences, "rhythms", {"liking": 0.0}, {"liking": -0.1}),
    (LikeYouPreferences, "revoicing", {"smooth": 2.0, "mended": 2.0}, {"smooth": 2.0, "mended": 2.1}),
    (ListeningPreferences, "dynamics", {"halfway": 0.1}, {"halfway": 0.0}),
    (ListeningPreferences, "busy", {"extra": (2.0, 2.1)}, {"extra": (2.0, 2.0)}),
    (ListeningPreferences, "busy", {"running": (2.0, 2.1)}, {"running": (2.0, 2.0)}),
    (OrderPreferences, "ritardando", {"to": 0.01}, {"to": 0.0}),
    (PaperPreferences, "staff", {"piano": (7.0, 7.0)}, {"piano": (7.1, 7.0)}),
    (PaperPreferences, "staff", {"single": (7.0, 7.0)}, {"single": (7.1, 7.0)}),
    (PlayerPreferences, "lines.chords", {"sizes": (0.0, 0.0, 0.1)}, {"sizes": (0.0, 0.0, 0.0)}),
    (PlayerPreferences, "lines.bass", {"highest": 40}, {"highest": 39}),
    (PlayerPreferences, "lines.bass", {"begins": (40, 40)}, {"begins": (41, 40)}),
    (PlayerPreferences, "lines.bass", {"leads": {1: 0.1}}, {"leads": {1: 0.0}}),
    (PlayerPreferences, "lines.solo", {"highest": 70}, {"highest": 69}),
    (PlayerPreferences, "lines.solo", {"begins": (67, 67)}, {"begins": (68, 67)}),
    (PlayerPreferences, "lines.solo", {"steps": {1: 0.1}}, {"steps": {1: 0.0}}),
    (PlayerPreferences, "lines.solo", {"figures": ((1.0, 2, 0.1),)}, {"figures": ((1.0, 2, 0.0),)}),
    (RepertoirePreferences, "again", {"first": 2.0}, {"first": 2.1}),
    (RepertoirePreferences, "again", {"first": 0.1}, {"first": 0.0}),
    (RepertoirePreferences, "again", {"longest": 2.0}, {"longest": 1.9}),
    (RepertoirePreferences, "proposal", {"keep": 0.5, "mend": 0.5}, {"keep": 0.6, "mend": 0.5}),
    (RepertoirePreferences, "proposal", {"least": 10}, {"least": 11}),
    (ReviewPreferences, "", {}, {"weights": {"rushed": 1.0}}),
    (SignalPreferences, "end_keys", {"black": ("slower", "faster")}, {"black": ("slower", "slower")}),
    (SignalPreferences, "end_keys", {"white": ("again", "next")}, {"white": ("again", "slower")}),
    (SignalPreferences, "end_keys", {"white": ()}, {"white": (), "black": ("slower", "faster", "stop")}),
    (SoloPreferences, "range", {"highest": 70, "comfortable": (58, 70)}, {"highest": 69, "comfortable": (58, 69)}),
    (SoloPreferences, "range", {"comfortable": (62, 62)}, {"comfortable": (63, 62)}),
    (SoloPreferences, "range", {"comfortable": (58, 85)}, {"comfortable": (57, 85)}),
    (SoloPreferences, "range", {"comfortable": (58, 85)}, {"comfortable": (58, 86)}),
    (SoloPreferences, "figures.scale", {"notes": (3, 3)}, {"notes": (4, 3)}),
    (SoloPreferences, "figures", {}, {name: replace(STILL, weight=0.0) for name in FIGURES}),
    (SoloPreferences, "cells_compound", cells("on", (0.1, 0.1, 0.1)), cells("on", (0.0, 0.1, 0.1))),
    (SoloPreferences, "cells_compound", cells("on", (9.0, 0.1, 0.1)), cells("on", (0.1, 0.0, 0.1))),
    (SoloPreferences, "cells_compound", cells("on", (9.0, 9.0, 0.1)), cells("on", (0.1, 0.1, 0.0))),
    (SoloPreferences, "cells_compound", cells("on", (1.0, 1.0, 1.0)), cells("turn", (1.0, 1.0, 1.0))),
    (SoloPreferences, "cells_compound", cells("on", (1.0, 1.0, 1.0)), cells("on", (1.0, 1.0, 1.0), ())),
    (SoloPreferences, "paragraphs.sentence", {}, {"roles": ("new", "again")}),
    (TouchPreferences, "parts.bass", {"swing": ((50.0, 0.4), (50.0, 0.4))}, {"swing": ((51.0, 0.4), (50.0, 0.4))}),
    (VoicingPreferences, "register", {"lowest_at_most": 74}, {"lowest_at_most": 75}),
    (VoicingPreferences, "register", {"lowest_at_most": 48}, {"lowest_at_most": 47}),
    (VoicingPreferences, "register", {"centre": (50, 50)}, {"centre": (51, 50)}),
]
"""A file, a table in it, what may be said there, and what may not."""


def table(kind: type[Any], path: str) -> Any:
    """What stands in a file of ours under this path."""
    found: Any = preferences(kind)
    for word in re.findall(r"[^.]+(?:\.0(?=\.))?", path):
        if isinstance(found, Mapping):
            found = found[next(key for key in found if str(key) == word)]
        else:
            found = found[int(word)] if isinstance(found, tuple) else getattr(found, word)
    return found


@pytest.mark.parametrize("file", sorted({kind.__name__ for kind, *_ in EDGES}))
def test_values_are_taken_up_to_the_edge_and_refused_beyond_it(file: str) -> None:
    for kind, path, taken, refused in EDGES:
        if kind.__name__ == file:
            replace(table(kind, path), **taken)
            with pytest.raises(ValueError, match=r"\w{3}"):
                replace(table(kind, path), **refused)
                pytest.fail(f"{path} takes {refused}")
