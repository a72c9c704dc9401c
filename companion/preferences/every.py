"""Every file of preferences there is, for whoever wants all of them checked before anything begins."""

from __future__ import annotations

from typing import Any

from companion.preferences.accents import AccentPreferences
from companion.preferences.bass import BassPreferences
from companion.preferences.by_ear import ByEarPreferences
from companion.preferences.capture import CapturePreferences
from companion.preferences.comping import CompingPreferences
from companion.preferences.feels import FeelPreferences
from companion.preferences.instruments import InstrumentPreferences
from companion.preferences.listening import ListeningPreferences
from companion.preferences.order import OrderPreferences
from companion.preferences.players import PlayerPreferences
from companion.preferences.reading import preferences
from companion.preferences.solo import SoloPreferences
from companion.preferences.touch import TouchPreferences
from companion.preferences.trading import TradingPreferences
from companion.preferences.treatments import TreatmentPreferences
from companion.preferences.turning import TurningPreferences
from companion.preferences.voicings import VoicingPreferences

EVERY: tuple[type[Any], ...] = (
    AccentPreferences,
    BassPreferences,
    ByEarPreferences,
    CapturePreferences,
    CompingPreferences,
    FeelPreferences,
    InstrumentPreferences,
    ListeningPreferences,
    OrderPreferences,
    PlayerPreferences,
    SoloPreferences,
    TouchPreferences,
    TradingPreferences,
    TreatmentPreferences,
    TurningPreferences,
    VoicingPreferences,
)


def check_preferences() -> None:
    """Read every file, so that a fault in one is said before a tune begins and not in the midst of it.

    Raises
    ------
    ConfigError
        The first fault.
    """
    for kind in EVERY:
        preferences(kind)
