"""The click: on which beats it sounds, and how it divides them.

A pattern is a word: ``all`` beats; some beats of each bar by number (``2,4``); ``other-bars``, every second one; or
``away-N``: N bars with the click, N bars without, over and over, so that players find out whether they keep the time
by themselves.

Conventions: bars are counted from 0, beats of the metre from 0 within the bar; beats in quarters elsewhere.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from math import floor

from companion.arrange.part import Note
from companion.errors import UseError
from companion.messages import TINY
from companion.music.meter import Metre
from companion.music.pitch import pitch_in_key

FIRST, OTHER = 76, 77
"""High and low wood block (General MIDI level 1, percussion key map)."""
LOUDER = 1.15
"""The first beat of a bar against the others."""
SOFTER = 0.6
"""A division of the beat against the beat."""
LASTS = 0.05
"""Seconds."""
MOST_PARTS = 4
"""Into which a beat is divided at most."""


@dataclass(frozen=True)
class ClickPattern:
    """On which beats the click sounds."""

    beats: frozenset[int] | None = None
    """Beats of the bar, 0 = the first; None: every one."""
    on: int = 1
    """Bars with the click, then as many without as ``off`` says."""
    off: int = 0

    def sounds(self, bar: int, beat: int) -> bool:
        """Whether it sounds on a beat of a bar; before bar 0 it does on every one."""
        if bar < 0:
            return True
        return bar % (self.on + self.off) < self.on and (self.beats is None or beat in self.beats)

    def away(self, bar: int) -> bool:
        """Whether a bar has no click so that the player keeps the time."""
        return bar >= 0 and bar % (self.on + self.off) >= self.on


@lru_cache(maxsize=32)
def click_pattern(text: str, metre: Metre = Metre()) -> ClickPattern:
    """Read a pattern.

    >>> click_pattern("2,4").sounds(0, 1), click_pattern("2,4").sounds(0, 2), click_pattern("away-2").sounds(2, 0)
    (True, False, False)

    Raises
    ------
    UseError
        It is none, or names a beat that the metre doesn't have.
    """
    word = text.strip().lower()
    if word == "all":
        return ClickPattern()
    if word == "other-bars":
        return ClickPattern(on=1, off=1)
    if (match := re.fullmatch(r"away-(\d{1,2})", word)) and (bars := int(match[1])) > 0:
        return ClickPattern(on=bars, off=bars)
    count = round(metre.bar / metre.pulse)
    if re.fullmatch(r"\d(,\d)*", word):
        beats = frozenset(int(number) - 1 for number in word.split(","))
        if all(0 <= beat < count for beat in beats):
            return ClickPattern(beats)
        raise UseError(f"a bar has beats 1 to {count}", where=f"click {text!r}", mend="name some of them, as in 2,4")
    raise UseError(f"{text!r} is no way to click", mend="say all, some beats as in 2,4, other-bars, or away-2")


class Clicks:
    """The clicks of a rehearsal.

    Parameters
    ----------
    metre : Metre
    pattern : str
        See :func:`click_pattern`.
    whole_bars : int
        Bars of the form before the pattern begins, with a click on every beat.
    divide : int
        Parts of a beat that are clicked; 1: the beat alone.
    """

    def __init__(self, metre: Metre, pattern: str = "all", whole_bars: int = 0, divide: int = 1) -> None:
        self.metre = metre
        self.pattern = click_pattern(pattern, metre)
        self.whole_bars = whole_bars
        self.divide = min(max(divide, 1), MOST_PARTS)

    def sounds(self, beat: float) -> bool:
        """Whether the click sounds on a beat of the metre, counted in quarters from the first downbeat."""
        bar = floor((beat + TINY) / float(self.metre.bar))
        place = round((beat - bar * float(self.metre.bar)) / float(self.metre.pulse))
        return self.pattern.sounds(bar - self.whole_bars, place)

    def between(self, beat: float) -> list[tuple[float, Note]]:
        """Where the divisions of a beat are clicked, in quarters, and as what."""
        if not self.sounds(beat):
            return []
        pulse = self.metre.pulse
        note = Note(pulse * 0, pulse / self.divide, pitch_in_key(OTHER), "click", weight=SOFTER)
        return [(beat + float(pulse * part / self.divide), note) for part in range(1, self.divide)]
