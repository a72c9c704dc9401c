"""Where a pattern of the bass strikes in one chorus, and what is wanted at each place.

Conventions: beats and lengths in quarters from the first downbeat of the form. A pattern of ``bass.toml`` has several
ways through a bar, dealt out anew in every chorus; a chord that begins between two of its places gets one of its own. A
walking bass strikes every beat, counted from the bar line, and some quavers between: where a root can't lead to the
next, where a bar has too few beats to say its chord, where a section turns to the next.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Any

from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.tables import Table, table
from companion.chart.model import Form
from companion.errors import ConfigError
from companion.music.meter import Metre

Patterns = tuple[tuple[Fraction, Fraction, str], ...]
"""From where to where, in quarters, which pattern of ``bass.toml`` rules; together they cover the form."""
ROLES = ("root", "fifth", "seventh", "tenth", "octave", "tone", "walk", "lead", "ahead", "pedal")


@dataclass(frozen=True)
class Place:
    """One place that is struck."""

    beat: Fraction
    role: str
    """One of :data:`ROLES`."""
    pattern: str
    quick: bool = False
    """Between two beats of a walk."""


def places(form: Form, patterns: Patterns, chance: random.Random) -> tuple[Place, ...]:
    """The places struck in one chorus, in order; ``chance`` deals out the ways through the bars.

    Raises
    ------
    ConfigError
        When a pattern of the player's own can't be read.
    """
    return tuple(place for start, end, name in patterns for place in _places(form, start, end, name, chance))


@lru_cache(maxsize=16)
def chord_starts(form: Form) -> tuple[Fraction, ...]:
    """Where each chord of a form begins."""
    return tuple(chord.start for chord in harmonies(form))


def _bars(form: Form, start: Fraction, end: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Start and end of the bars that begin in a stretch."""
    return [(a, b) for a, b in pairwise([*form.bars, form.length]) if start <= a < end]


def _places(form: Form, start: Fraction, end: Fraction, name: str, chance: random.Random) -> list[Place]:
    """The places of one pattern over a stretch of the form."""
    pattern = table("bass")["patterns"][name]
    if pattern.get("every") == "beat":
        return _walked(form, start, end, name, chance)
    found: dict[Fraction, str] = {}
    last: dict[str, int] = {}
    changes = [] if pattern.get("one-note") else _changes(form, start, end)
    bars = _bars(form, start, end)
    for bar, following in bars:
        inside = [beat for beat in changes if bar < beat < following] if pattern.get("by-chord") else []
        for a, b in pairwise([bar, *inside, following]):
            found |= {a + at: role for at, role in _way(pattern, name, b - a, form.metre, last, chance)}
    told = _told(form, bars, found)
    found |= {beat: "root" for beat in changes if beat not in told}
    return [Place(beat, role, name) for beat, role in sorted(found.items())]


def _told(form: Form, bars: Sequence[tuple[Fraction, Fraction]], found: dict[Fraction, str]) -> set[Fraction]:
    """Bar lines whose chord the bass has said ahead of them."""
    ahead = [beat for beat, role in found.items() if role == "ahead"]
    return {end % form.length for start, end in bars if any(start <= beat < end for beat in ahead)}


def _changes(form: Form, start: Fraction, end: Fraction) -> list[Fraction]:
    """Where another chord begins within a stretch of the form."""
    return [b.start for a, b in pairwise(harmonies(form)) if start <= b.start < end and a.label != b.label]


# ways through a bar

_Way = list[tuple[Fraction, str]]


def _way(
    pattern: Table, name: str, length: Fraction, metre: Metre, last: dict[str, int], chance: random.Random
) -> _Way:
    """One of a pattern's ways through a bar, another than the ``last`` for that length where there is one."""
    key, scale = _key(pattern, length, metre)
    if key is None:
        return _joined(pattern, name, length, metre, last, chance)
    ways = _ways(pattern[key], name, key)
    shares = [share * (0.3 if n == last.get(key) and n else 1.0) for n, (share, _) in enumerate(ways)]
    last[key] = chance.choices(range(len(ways)), shares)[0] if len(ways) > 1 else 0
    return [(scale(Fraction(at).limit_denominator(24)), role) for at, role in ways[last[key]][1]]


def _key(pattern: Table, length: Fraction, metre: Metre) -> tuple[str | None, Callable[[Fraction], Fraction]]:
    """Under which length a pattern says what to do in a bar, and how its places are scaled to it."""
    if length == metre.bar and str(metre) in pattern:
        return str(metre), lambda at: at
    if metre.compound and length % metre.pulse == 0 and _number(length / metre.pulse) in pattern:
        return _number(length / metre.pulse), _lilting
    return (_number(length) if _number(length) in pattern else None), lambda at: at


def _number(length: Fraction) -> str:
    return str(length) if length.denominator == 1 else f"{float(length):g}"


def _lilting(at: Fraction) -> Fraction:
    """A place counted in quarters, in dotted quarters: what lies between two beats falls on the last quaver."""
    beat = at // 1
    return beat * Fraction(3, 2) + (1 if at % 1 else 0)


def _joined(
    pattern: Table, name: str, length: Fraction, metre: Metre, last: dict[str, int], chance: random.Random
) -> _Way:
    """A bar of a length that the pattern doesn't know: three and two of five, four and three of seven."""
    known = sorted((Fraction(key) for key in pattern if key.replace(".", "").isdigit()), reverse=True)
    parts = [size for size in known if size < length and (length - size >= 1 or length < 2)]
    if not parts:
        return [(Fraction(0), "pedal" if pattern.get("one-note") else "root")]
    size = next((size for size in parts if length - size in known), parts[0])
    head = _way(pattern, name, size, metre, last, chance)
    if length - size < 1:
        return head
    rest = _way(pattern, name, length - size, metre, last, chance)
    return head + [(size + at, "tone" if role == "root" else role) for at, role in rest]


def _ways(listed: Any, name: str, key: str) -> list[tuple[float, list[tuple[float, str]]]]:
    """The ways of a pattern for one length, each with its share: a list of places alone is the only way."""
    try:
        ways = listed if isinstance(listed[0], dict) else [{"at": listed}]
        found = [(float(way.get("share", 1)), [(float(at), str(role)) for at, role in way["at"]]) for way in ways]
    except (LookupError, TypeError, ValueError, AttributeError):
        raise _unreadable(name, key, "isn't a list of places") from None
    for share, way in found:
        if strange := [role for _, role in way if role not in ROLES]:
            raise _unreadable(name, key, f"{strange[0]!r} is not a place of the bass", f"use {', '.join(ROLES)}")
        if not way or share < 0 or any(at < 0 for at, _ in way):
            raise _unreadable(name, key, "has a way without places, or a number below 0")
    return found


def _unreadable(name: str, key: str, what: str, mend: str = 'write it as [[0, "root"], [2, "fifth"]]') -> ConfigError:
    return ConfigError(what, file="bass.toml", where=f'[patterns.{name}], "{key}"', mend=mend)


# a walk


@dataclass(frozen=True)
class _Bar:
    """A bar that is walked through, and the quavers that may lie between its beats."""

    beats: tuple[Fraction, ...]
    between: tuple[Fraction, ...]
    """A place after each beat."""
    needed: frozenset[int]
    """After which beats a quaver must lead to the next chord, as a root can't."""
    few: bool
    """Whether it has too few beats to say its chord."""
    fast: bool
    """Whether one quaver is all that the hand has time for."""
    all_new: bool
    """Whether each beat has a chord of its own."""
    turns: bool
    """Whether a section ends with it."""
    passing: tuple[Fraction, ...]
    """Where chords begin that are gone by the next beat."""


def _walked(form: Form, start: Fraction, end: Fraction, name: str, chance: random.Random) -> list[Place]:
    """Every beat of a stretch, and the quavers between."""
    bars = _walked_bars(form, start, end)
    bare = [n for n, bar in enumerate(bars) if bar.all_new and not bar.needed]
    kept = chance.sample(bare, min(len(bare), int(table("bass")["costs"]["pattern-share"] * len(bars))))
    found: list[Place] = []
    for n, bar in enumerate(bars):
        quick = {bar.between[k]: "walk" for k in _dealt(bar, n in kept, chance)} | dict.fromkeys(bar.passing, "root")
        inside = [Place(beat, "walk", name) for beat in bar.beats]
        inside += [Place(beat, role, name, True) for beat, role in quick.items()]
        found += sorted(inside, key=lambda place: place.beat) if quick else inside
    return found


def _dealt(bar: _Bar, bare: bool, chance: random.Random) -> set[int]:
    """After which beats of a bar a quaver is struck in one chorus; ``bare``: its roots may stand alone."""
    rules, every = table("bass")["quavers"], range(len(bar.between))
    found = set(bar.needed)
    if not bar.between:
        return found
    if bar.few:
        shares = rules["of-few"][: 2 if bar.fast else 3]
        found |= set(chance.choices([(0,), (len(every) - 1,), every][: len(shares)], shares)[0])
    elif bar.all_new and (not (bare or found) or chance.random() < rules["of-roots"]):
        found.add(chance.choice(every))
    if bar.turns and chance.random() < rules["section-end"]:
        found.add(len(every) - 1)
    return found


@lru_cache(maxsize=32)
def _walked_bars(form: Form, start: Fraction, end: Fraction) -> tuple[_Bar, ...]:
    """What the chords of a stretch ask of its bars."""
    rules = table("bass")["quavers"]
    ends = {section.end for section in form.sections} | {end}
    found = []
    for bar, following in _bars(form, start, end):
        step = beat_of(form, following - bar)
        beats = tuple(bar + step * k for k in range(-(-(following - bar) // step)))
        bounds = (*beats, following)
        pace = form.tempo / float(step)
        after = {Fraction(1): Fraction(1, 2), Fraction(3, 2): Fraction(1)}.get(step, step)
        between = tuple(beat + after for beat, until in pairwise(bounds) if beat + after < until)
        between = between if pace <= rules["fastest"] and len(between) == len(beats) else ()
        news = [_changes_at(form, beat, step) for beat in bounds]
        stuck = (n for n in range(len(between)) if all(news[n : n + 2]) and not _leads(form, *bounds[n : n + 2]))
        found.append(
            _Bar(
                beats,
                between,
                frozenset(stuck),
                len(beats) <= rules["few"] and pace <= rules["fastest-of-few"],
                pace > rules["fastest-of-both"],
                len(beats) > 1 and all(news[:-1]),
                following in ends,
                tuple(_passing(form, between, bounds)),
            )
        )
    return tuple(found)


def beat_of(form: Form, length: Fraction) -> Fraction:
    """Quarters in a beat of a bar: the metre's pulse; in a bar of three quavers a quaver, or all of it if fast."""
    pulse = form.metre.pulse
    if length >= 2 or length % pulse == 0:
        return pulse
    return Fraction(1, 2) if 2 * form.tempo <= table("bass")["quavers"]["fastest"] else length


def _passing(form: Form, between: Sequence[Fraction], bounds: Sequence[Fraction]) -> list[Fraction]:
    """Places between two beats where a chord begins that is gone by the next beat."""
    spans = {chord.start: chord.end for chord in harmonies(form)}
    return [at for at, until in zip(between, bounds[1:], strict=False) if at in spans and spans[at] <= until]


def _chord_at(form: Form, beat: Fraction) -> Harmony:
    return harmonies(form)[bisect_right(chord_starts(form), beat % form.length) - 1]


def _changes_at(form: Form, beat: Fraction, step: Fraction) -> bool:
    """Whether a beat has another chord than the one before; the first of the form counts as one that has."""
    return beat % form.length == 0 or _chord_at(form, beat - step).label != _chord_at(form, beat).label


def _leads(form: Form, beat: Fraction, following: Fraction) -> bool:
    """Whether the bass of the chord at a beat leads by itself to the next, by a step or a fifth."""
    return (_chord_at(form, following).bass - _chord_at(form, beat).bass) % 12 in (1, 2, 5, 7, 10, 11)
