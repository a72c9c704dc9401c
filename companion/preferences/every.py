"""All kinds of preferences, so that every file can be checked before anything begins."""

from __future__ import annotations

from fnmatch import fnmatch
from typing import Any

from companion.errors import ConfigError, nearest
from companion.preferences.accents import AccentPreferences
from companion.preferences.bass import BassPreferences
from companion.preferences.by_ear import ByEarPreferences
from companion.preferences.capture import CapturePreferences
from companion.preferences.care import CarePreferences
from companion.preferences.comping import CompingPreferences
from companion.preferences.drills import DrillPreferences
from companion.preferences.feels import FeelPreferences
from companion.preferences.following import FollowingPreferences
from companion.preferences.instruments import InstrumentPreferences
from companion.preferences.like_you import LikeYouPreferences
from companion.preferences.listening import ListeningPreferences
from companion.preferences.order import OrderPreferences
from companion.preferences.paper import PaperPreferences
from companion.preferences.players import PlayerPreferences
from companion.preferences.reading import file_of, preferences
from companion.preferences.repertoire import RepertoirePreferences
from companion.preferences.review import ReviewPreferences
from companion.preferences.signals import SignalPreferences
from companion.preferences.solo import SoloPreferences
from companion.preferences.touch import TouchPreferences
from companion.preferences.trading import TradingPreferences
from companion.preferences.treatments import TreatmentPreferences, treatments
from companion.preferences.turning import TurningPreferences
from companion.preferences.voicings import VoicingPreferences
from companion.resources import config_paths

EVERY: tuple[type[Any], ...] = (
    AccentPreferences,
    BassPreferences,
    ByEarPreferences,
    CapturePreferences,
    CarePreferences,
    CompingPreferences,
    DrillPreferences,
    FeelPreferences,
    FollowingPreferences,
    InstrumentPreferences,
    LikeYouPreferences,
    ListeningPreferences,
    OrderPreferences,
    PaperPreferences,
    PlayerPreferences,
    RepertoirePreferences,
    ReviewPreferences,
    SignalPreferences,
    SoloPreferences,
    TouchPreferences,
    TradingPreferences,
    TreatmentPreferences,
    TurningPreferences,
    VoicingPreferences,
)

NEARLY = 0.8
"""Likeness (of :mod:`difflib`, 0 to 1) from which a name is taken for a slip: a copy called 'touch-old' is none."""


def check_preferences() -> None:
    """Read every file, so that a fault in one is said before a tune begins and not in the midst of it.

    Raises
    ------
    ConfigError
        The first fault, or a file of the player's whose name is nearly that of one of ours.
    """
    known = [file_of(kind) for kind in EVERY]
    for path in config_paths():
        near = nearest(path.stem, known, NEARLY)
        if near and path.stem not in known and not fnmatch(path.stem, f"{near}-*"):
            raise ConfigError("no preferences have this name", file=str(path), mend=f"did you mean '{near}.toml'?")
    for kind in EVERY:
        preferences(kind)
    treatments()
