"""Which part a key that was pressed belongs to: the line of the melody or solo, the chords, or the bass.

What the player plays at all is known (``--you``); where that is several parts, register and company tell: the bass is
what lies at the bottom, alone or under the others; the line is on top where one note sounds there, or where the chart
has a note of its melody; the rest are chords (common practice of a pianist's two hands).

Conventions: MIDI numbers; seconds.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from companion.messages import Part
from companion.music.played import KeyPress
from companion.preferences.capture import CapturePreferences
from companion.transcribe.playing import together, top_line, without_repeats


@dataclass(frozen=True)
class PartedKeys:
    """The keys of a take, by part; each in order of onset."""

    line: tuple[KeyPress, ...]
    """One at a time."""
    chords: tuple[tuple[KeyPress, ...], ...]
    """Those struck together, from the bottom up."""
    bass: tuple[KeyPress, ...]
    """One at a time."""


def part_keys(
    costs: CapturePreferences, keys: Sequence[KeyPress], you: Collection[Part], sung: Callable[[float], bool]
) -> PartedKeys:
    """Give every key to a part.

    Parameters
    ----------
    costs : CapturePreferences
        How soon a key bounces, within which time keys are struck together, and where hands part.
    keys : sequence of KeyPress
    you : collection of str
        The parts that the player plays.
    sung : callable
        Whether the chart has a melody note at about a moment (seconds).
    """
    again, spread, hands = costs.timing.again_ms / 1000, costs.timing.spread_ms / 1000, costs.hands
    line_too, chords_too, bass_too = bool({"melody", "solo"} & set(you)), "chords" in you, "bass" in you
    line: list[KeyPress] = []
    chords: list[tuple[KeyPress, ...]] = []
    bass: list[KeyPress] = []
    over: list[KeyPress] = []
    """Keys of the line that may still be down."""
    for group in together(without_repeats(keys, again), spread):
        if bass_too and (group[0].midi < hands.bass_below or not (line_too or chords_too)):
            bass.append(group[0])
            group = group[1:]
        if not group:
            continue
        if not chords_too:
            line += group if line_too else ()
            continue
        over = [key for key in over if key.off > group[-1].on]
        under = any(key.midi > group[-1].midi for key in over)
        alone = len(group) < hands.chord or sung(group[-1].on)
        if line_too and not under and alone:
            line.append(group[-1])
            over.append(group[-1])
            group = group[:-1]
        if group:
            chords.append(group)
    if line_too and not chords_too:
        line = top_line(line, again=again, spread=spread)
    return PartedKeys(tuple(line), tuple(chords), tuple(bass))
