"""What hands did, made ready for writing: keys struck together, keys struck twice, and the moments on a map of beats.

Conventions: seconds on the clock of whoever recorded; MIDI numbers and velocities; a map of beats counts in quarters
from the first downbeat, what lies before it is below 0.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

HELD_TOGETHER = 0.5
"""Share of its length for which a key is down together with another of the same chord, at least."""


class Message(Protocol):
    """A key or controller message with its moment, such as :class:`companion.messages.Heard`."""

    @property
    def seconds(self) -> float:
        """Its moment."""

    @property
    def status(self) -> int:
        """0x80 note-off, 0x90 note-on, 0xB0 controller."""

    @property
    def data1(self) -> int:
        """MIDI number, or the controller's number."""

    @property
    def data2(self) -> int:
        """Velocity, or the controller's value."""


@dataclass(frozen=True)
class Key:
    """A key that went down and up."""

    on: float
    off: float
    """Seconds; not before ``on``."""
    midi: int
    velocity: int = 64


@dataclass(frozen=True)
class BeatMap:
    """Where beats fell: the click, or a recording's own tempo map.

    Parameters
    ----------
    points : tuple of (beat, seconds)
        At least two, both rising. Before the first and after the last the tempo there goes on.
    """

    points: tuple[tuple[float, float], ...]

    @classmethod
    def steady(cls, tempo: float, start: float) -> BeatMap:
        """One tempo throughout, in quarters a minute; ``start`` is the moment of beat 0 in seconds."""
        return cls(((0.0, start), (1.0, start + 60.0 / tempo)))

    def beat(self, seconds: float) -> float:
        """The beat at a moment."""
        return _along([(s, b) for b, s in self.points], seconds)

    def seconds(self, beat: float) -> float:
        """The moment of a beat."""
        return _along(self.points, beat)

    def tempo(self, beat: float) -> float:
        """Quarters a minute at a beat."""
        return 60.0 / (self.seconds(beat + 0.5) - self.seconds(beat - 0.5))


def _along(points: Sequence[tuple[float, float]], x: float) -> float:
    k = min(max(bisect_right(points, (x, float("inf"))) - 1, 0), len(points) - 2)
    (x0, y0), (x1, y1) = points[k], points[k + 1]
    return y0 + (x - x0) * (y1 - y0) / (x1 - x0)


def keys_of(heard: Iterable[Message], *, pedal: bool = True) -> list[Key]:
    """Keys pressed, in order of onset, from messages in order of time.

    Parameters
    ----------
    heard : iterable
        Note-ons, note-offs and controllers; a note-on with velocity 0 is a note-off (MIDI 1.0).
    pedal : bool
        Whether a note that the damper pedal holds lasts until the pedal is up.
    """
    down: dict[int, Key] = {}
    caught: dict[int, Key] = {}
    keys: list[Key] = []
    held, last = False, 0.0
    for m in heard:
        last = max(last, m.seconds)
        kind = m.status & 0xF0
        if kind == 0xB0 and m.data1 == 64 and pedal:
            held = m.data2 >= 64
            if not held:
                keys += [replace(key, off=m.seconds) for key in caught.values()]
                caught.clear()
        elif kind in (0x80, 0x90):
            for waiting in (down, caught) if kind == 0x90 and m.data2 else (down,):
                if (key := waiting.pop(m.data1, None)) is not None:
                    ended = replace(key, off=m.seconds)
                    if held and waiting is down and not (kind == 0x90 and m.data2):
                        caught[m.data1] = ended
                    else:
                        keys.append(ended)
            if kind == 0x90 and m.data2:
                down[m.data1] = Key(m.seconds, m.seconds, m.data1, m.data2)
    keys += [replace(key, off=last) for key in (*down.values(), *caught.values())]
    return sorted(keys, key=lambda key: (key.on, key.midi))


def without_repeats(keys: Sequence[Key], again: float) -> list[Key]:
    """Keys without those struck again within ``again`` seconds, as a bouncing finger or a worn contact does."""
    kept: list[Key] = []
    last: dict[int, int] = {}
    for key in keys:
        place = last.get(key.midi)
        if place is not None and key.on - kept[place].on < again:
            kept[place] = replace(kept[place], off=max(kept[place].off, key.off))
            continue
        last[key.midi] = len(kept)
        kept.append(key)
    return kept


def together(keys: Sequence[Key], spread: float) -> list[tuple[Key, ...]]:
    """Keys struck together: each within ``spread`` seconds of the one before, and all within twice that.

    In order of time, each group from the bottom up.
    """
    groups: list[list[Key]] = []
    for key in sorted(keys, key=lambda key: key.on):
        group = groups[-1] if groups else []
        if group and key.on - group[-1].on <= spread and key.on - group[0].on <= 2 * spread:
            group.append(key)
        else:
            groups.append([key])
    return [tuple(sorted(group, key=lambda key: key.midi)) for group in groups]


def top_line(keys: Sequence[Key], *, again: float, spread: float) -> list[Key]:
    """The melody among keys: of those struck together the highest.

    The lower keys of an octave or a chord are held about as long as the highest. One let go as the next goes down is
    a note of its own, however quickly the next follows: a short note before a long one, or a grace note.
    """
    line: list[Key] = []
    for group in together(without_repeats(keys, again), spread):
        line += [key for key in sorted(group, key=lambda key: key.on) if key is group[-1] or not _with(key, group)]
    return line


def _with(key: Key, group: Sequence[Key]) -> bool:
    """Whether a key of a group is held together with another that goes down after it, or before."""
    return any(_overlap(key, other) >= HELD_TOGETHER for other in group if other is not key)


def _overlap(one: Key, other: Key) -> float:
    """Share of the longer of two keys for which both are down."""
    both = min(one.off, other.off) - max(one.on, other.on)
    return both / max(one.off - one.on, other.off - other.on, 1e-6)
