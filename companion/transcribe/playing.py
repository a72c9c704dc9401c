"""Played keys made ready for notation: keys from messages, keys struck together, keys struck twice by accident.

Conventions: seconds on the clock of whoever recorded; MIDI numbers and velocities.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Protocol

from companion.music.played import KeyPress

HELD_TOGETHER = 0.5
"""Share of its length for which a key is down together with another of the same chord, at least."""


class TimedMessage(Protocol):
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


def keys_of(heard: Iterable[TimedMessage], *, pedal: bool = True) -> list[KeyPress]:
    """Keys pressed, in order of onset, from messages in order of time.

    Parameters
    ----------
    heard : iterable
        Note-ons, note-offs and controllers; a note-on with velocity 0 is a note-off (MIDI 1.0).
    pedal : bool
        Whether a note that the damper pedal holds lasts until the pedal is up.
    """
    down: dict[int, KeyPress] = {}
    caught: dict[int, KeyPress] = {}
    keys: list[KeyPress] = []
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
                down[m.data1] = KeyPress(m.seconds, m.seconds, m.data1, m.data2)
    keys += [replace(key, off=last) for key in (*down.values(), *caught.values())]
    return sorted(keys, key=lambda key: (key.on, key.midi))


def without_repeats(keys: Sequence[KeyPress], again: float) -> list[KeyPress]:
    """Keys without those struck again within ``again`` seconds, as a bouncing finger or a worn contact does."""
    kept: list[KeyPress] = []
    last: dict[int, int] = {}
    for key in keys:
        place = last.get(key.midi)
        if place is not None and key.on - kept[place].on < again:
            kept[place] = replace(kept[place], off=max(kept[place].off, key.off))
            continue
        last[key.midi] = len(kept)
        kept.append(key)
    return kept


def together(keys: Sequence[KeyPress], spread: float) -> list[tuple[KeyPress, ...]]:
    """Keys struck together: each within ``spread`` seconds of the one before, and all within twice that.

    In order of time, each group from the bottom up.
    """
    groups: list[list[KeyPress]] = []
    for key in sorted(keys, key=lambda key: key.on):
        group = groups[-1] if groups else []
        if group and key.on - group[-1].on <= spread and key.on - group[0].on <= 2 * spread:
            group.append(key)
        else:
            groups.append([key])
    return [tuple(sorted(group, key=lambda key: key.midi)) for group in groups]


def held_chords(keys: Sequence[KeyPress], spread: float, longest: float) -> list[list[int]]:
    """Indices of keys struck as one and held together, in order of time; of a single key alone.

    Each follows another within ``spread`` seconds, all of them within ``longest``, and is down with the first one for
    half of its length: a quick run or a grace note is no chord.
    """
    groups: list[list[int]] = []
    for n in sorted(range(len(keys)), key=lambda n: keys[n].on):
        group = groups[-1] if groups else []
        near = group and keys[n].on - keys[group[-1]].on <= spread and keys[n].on - keys[group[0]].on <= longest
        if near and (keys[n].on == keys[group[0]].on or _overlap(keys[n], keys[group[0]]) >= HELD_TOGETHER):
            group.append(n)
        else:
            groups.append([n])
    return groups


def top_line(keys: Sequence[KeyPress], *, again: float, spread: float) -> list[KeyPress]:
    """The melody among keys: of those struck together the highest.

    The lower keys of an octave or a chord are held about as long as the highest. One let go as the next goes down is
    a note of its own, however quickly the next follows: a short note before a long one, or a grace note.
    """
    line: list[KeyPress] = []
    for group in together(without_repeats(keys, again), spread):
        line += [key for key in sorted(group, key=lambda key: key.on) if key is group[-1] or not _with(key, group)]
    return line


def _with(key: KeyPress, group: Sequence[KeyPress]) -> bool:
    """Whether a key of a group is held together with another that goes down after it, or before."""
    return any(_overlap(key, other) >= HELD_TOGETHER for other in group if other is not key)


def _overlap(one: KeyPress, other: KeyPress) -> float:
    """Share of the longer of two keys for which both are down."""
    both = min(one.off, other.off) - max(one.on, other.on)
    return both / max(one.off - one.on, other.off - other.on, 1e-6)
