"""Where the bass strikes in one chorus, by the pattern of each stretch, and what is wanted of each note.

A pattern of ``bass.toml`` has several ways through a bar, drawn anew in every chorus; a chord that begins between two
of its strikes gets one of its own. A walking bass strikes every beat, counted from the bar line, and some quavers
between: where a root can't lead to the next, where a bar has too few beats to say its chord, where a section leads to
the next.

Conventions: beats and lengths in quarters from the first downbeat of the form.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import groupby, pairwise

from companion.arrange.bass.between import divided, fill
from companion.arrange.bass.phrases import last_bars
from companion.arrange.harmony import Harmony, harmonies
from companion.chart.model import Form
from companion.music.meter import Metre
from companion.preferences.bass import Arcs, BassPreferences, Pattern, Quavers, Role

PatternPlan = tuple[tuple[Fraction, Fraction, str], ...]
"""From where to where, in quarters, which pattern of ``bass.toml`` rules; together they cover the form."""


@dataclass(frozen=True)
class BassStrike:
    """One place that is struck."""

    beat: Fraction
    role: Role
    pattern: str
    quick: bool = False
    """Between two beats of a walk."""


def bass_strikes(
    bass: BassPreferences, form: Form, patterns: PatternPlan, chance: random.Random
) -> tuple[BassStrike, ...]:
    """The places struck in one chorus, in order; ``chance`` deals out the ways through the bars."""
    return tuple(place for start, end, name in patterns for place in _places(bass, form, start, end, name, chance))


@lru_cache(maxsize=16)
def chord_starts(form: Form) -> tuple[Fraction, ...]:
    """Where each chord of a form begins."""
    return tuple(chord.start for chord in harmonies(form))


def _bars(form: Form, start: Fraction, end: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Start and end of the bars that begin in a stretch."""
    return [(a, b) for a, b in pairwise([*form.bars, form.length]) if start <= a < end]


def _places(
    bass: BassPreferences, form: Form, start: Fraction, end: Fraction, name: str, chance: random.Random
) -> list[BassStrike]:
    """The places of one pattern over a stretch of the form."""
    pattern = bass.patterns[name]
    if pattern.every == "beat":
        return _walked(bass, form, start, end, name, chance)
    dealing = _Dealing(pattern, form.metre, bass.chance.same_way, chance)
    last = last_bars(bass.shape, form)
    sections = {section.start: section.name for section in form.sections}
    ends = {section.end for section in form.sections} | {end}
    found: dict[Fraction, Role] = {}
    changes = [] if pattern.one_note else _changes(form, start, end)
    bars = _bars(form, start, end)
    for bar, following in bars:
        if bar in sections:
            dealing.section = sections[bar]
        share = 0.0 if pattern.keeps else bass.fills.pattern
        closing = bar in last and (following in ends or chance.random() < share)
        inside = [beat for beat in changes if bar < beat < following] if pattern.by_chord else []
        for a, b in pairwise([bar, *inside, following]):
            found |= {a + at: role for at, role in dealing.way(b - a, closing)}
    told = _told(form, bars, found)
    found.update((beat, "root") for beat in changes if beat not in told)
    return [BassStrike(beat, role, name) for beat, role in sorted(found.items())]


def _told(form: Form, bars: Sequence[tuple[Fraction, Fraction]], found: Mapping[Fraction, Role]) -> set[Fraction]:
    """Bar lines whose chord the bass has said ahead of them."""
    ahead = [beat for beat, role in found.items() if role == "ahead"]
    return {end % form.length for start, end in bars if any(start <= beat < end for beat in ahead)}


def _changes(form: Form, start: Fraction, end: Fraction) -> list[Fraction]:
    """Where another chord begins within a stretch of the form."""
    return [b.start for a, b in pairwise(harmonies(form)) if start <= b.start < end and a.label != b.label]


# ways through a bar

_Way = list[tuple[Fraction, Role]]
RUNNING = 3
"""Times that the first of a pattern's ways may come running; once more now and then, but not twice."""


@dataclass
class _Dealing:
    """Deals out a pattern's ways through the bars of one chorus."""

    pattern: Pattern
    metre: Metre
    same: float
    """Of its share, what is left to the way that was taken last."""
    chance: random.Random
    section: str = ""
    """The section's name: where a pattern keeps one way through its bars, it is the same whenever it comes again."""
    last: dict[str, tuple[int, int]] = field(default_factory=dict)
    """Which way was taken last and how often running, by the length for which it is written."""
    kept: dict[tuple[str, str], int] = field(default_factory=dict)
    """Which way is kept, by the section's name and that length."""

    def way(self, length: Fraction, closing: bool = False) -> _Way:
        """A way through a bar of so many quarters; ``closing``: one that ends a phrase, if there is any."""
        key, scale = self._key(length)
        if key is None:
            return self._joined(length, closing)
        ways = self.pattern.ways[key]
        if self.pattern.keeps and not closing:
            chosen = self.kept.setdefault((self.section, key), self._drawn(key, closing))
        else:
            chosen = self._drawn(key, closing)
        return [(scale(Fraction(at).limit_denominator(24)), role) for at, role in ways[chosen].at]

    def _drawn(self, key: str, closing: bool) -> int:
        """A way for a length, rather another than the last; the first in the list may come three times running."""
        ways, (last, times) = self.pattern.ways[key], self.last.get(key, (-1, 0))
        closing = closing and any(way.ends for way in ways)
        often = last if times > RUNNING else -1
        fitting = [n for n, way in enumerate(ways) if way.ends == closing and n != often] or [max(0, last)]
        tired = last > 0 or times >= RUNNING
        shares = [ways[n].share * (self.same if n == last and tired else 1.0) for n in fitting]
        chosen = self.chance.choices(fitting, shares)[0] if len(fitting) > 1 else fitting[0]
        self.last[key] = (chosen, times + 1 if chosen == last else 1)
        return chosen

    def _key(self, length: Fraction) -> tuple[str | None, Callable[[Fraction], Fraction]]:
        """Under which length the pattern says what to do in a bar, and how its places are scaled to it."""
        known, metre = self.pattern.ways, self.metre
        if length == metre.bar and str(metre) in known:
            return str(metre), lambda at: at
        if metre.compound and length % metre.pulse == 0 and _number(length / metre.pulse) in known:
            return _number(length / metre.pulse), _lilting
        return (_number(length) if _number(length) in known else None), lambda at: at

    def _joined(self, length: Fraction, closing: bool) -> _Way:
        """A bar of a length that the pattern doesn't know: three and two of five, four and three of seven."""
        known = sorted((Fraction(key) for key in self.pattern.ways if key.replace(".", "").isdigit()), reverse=True)
        parts = [size for size in known if size < length and (length - size >= 1 or length < 2)]
        if not parts:
            return [(Fraction(0), "pedal" if self.pattern.one_note else "root")]
        size = next((size for size in parts if length - size in known), parts[0])
        head = self.way(size, closing)
        if length - size < 1:
            return head
        return [
            *head,
            *((size + at, "tone" if role == "root" else role) for at, role in self.way(length - size, closing)),
        ]


def _number(length: Fraction) -> str:
    return str(length) if length.denominator == 1 else f"{float(length):g}"


def _lilting(at: Fraction) -> Fraction:
    """A place counted in quarters, in dotted quarters: what lies between two beats falls on the last quaver."""
    beat = at // 1
    return beat * Fraction(3, 2) + (1 if at % 1 else 0)


# a walk


@dataclass(frozen=True)
class _WalkedBar:
    """A bar that is walked through, and the quavers that may lie between its beats."""

    beats: tuple[Fraction, ...]
    between: tuple[Fraction, ...]
    """A place after each beat."""
    bounds: tuple[Fraction, ...]
    """Its beats and the next bar line."""
    needed: frozenset[int]
    """After which beats a quaver must lead to the next chord, as a root can't."""
    few: bool
    """Whether it has too few beats to say its chord."""
    fast: bool
    """Whether one quaver is all that the hand has time for."""
    all_new: bool
    """Whether each beat has a chord of its own."""
    leads: frozenset[int]
    """After which beats another chord begins."""
    silent: frozenset[int]
    """After which beats nothing leads on, as no chord is written there or on the next."""
    phrase: bool
    """Whether a phrase ends with it."""
    section: bool
    """Whether a section does."""
    tempo: float
    """Beats a minute."""
    passing: tuple[Fraction, ...]
    """Where chords begin that are gone by the next beat."""


def _walked(
    bass: BassPreferences, form: Form, start: Fraction, end: Fraction, name: str, chance: random.Random
) -> list[BassStrike]:
    """Every beat of a stretch, and the quavers between."""
    bars = _walked_bars(bass.quavers, bass.shape, form, start, end)
    thirds = {beat for beat in on_thirds(form) if start < beat < end and chance.random() < bass.spelling.thirds}
    bare = [n for n, bar in enumerate(bars) if bar.all_new and not bar.needed]
    kept = chance.sample(bare, min(len(bare), int(bass.costs.pattern_share * len(bars))))
    found: list[BassStrike] = []
    for n, bar in enumerate(bars):
        between = [bar.between[k] for k in _dealt(bass.quavers, bar, n in kept, chance)]
        quick: dict[Fraction, Role] = dict.fromkeys((*between, *_figures(bass, bar, between, chance)), "walk")
        quick.update((beat, "root") for beat in bar.passing)
        inside = [BassStrike(beat, "third" if beat in thirds else "walk", name) for beat in bar.beats]
        inside += [BassStrike(beat, role, name, True) for beat, role in quick.items()]
        found += sorted(inside, key=lambda place: place.beat) if quick else inside
    return found


def _dealt(rules: Quavers, bar: _WalkedBar, bare: bool, chance: random.Random) -> set[int]:
    """After which beats of a bar a quaver is struck in one chorus; ``bare``: its roots may stand alone."""
    every = range(len(bar.between))
    found = set(bar.needed)
    if not bar.between:
        return found
    if bar.few:
        shares = rules.of_few[: 2 if bar.fast else 3]
        found |= set(chance.choices([(0,), (len(every) - 1,), every][: len(shares)], shares)[0])
    elif bar.all_new and (not (bare or found) or chance.random() < rules.of_roots):
        found.add(chance.choice(every))
    return found


def _figures(
    bass: BassPreferences, bar: _WalkedBar, between: Sequence[Fraction], chance: random.Random
) -> Iterator[Fraction]:
    """What a slow walk strikes between its beats, and a fill, after the beats that have no quaver yet."""
    taken = [bisect_right(bar.bounds, place) for place in (*between, *bar.passing)]
    taken += [n + 1 for n in bar.silent]
    if bar.phrase and (places := fill(bass.fills, bar.bounds, bar.tempo, bar.section, chance)):
        yield from (place for place in places if bisect_right(bar.bounds, place) not in taken)
        taken += [bisect_right(bar.bounds, place) + k for place in places for k in (-1, 0, 1)]
    for place in divided(bass.slow, bar.bounds, bar.tempo, bar.leads.__contains__, chance):
        if bisect_right(bar.bounds, place) not in taken:
            yield place


@lru_cache(maxsize=32)
def _walked_bars(rules: Quavers, shape: Arcs, form: Form, start: Fraction, end: Fraction) -> tuple[_WalkedBar, ...]:
    """What the chords of a stretch ask of its bars."""
    last = last_bars(shape, form)
    ends = {section.end for section in form.sections} | {end}
    found = []
    for bar, following in _bars(form, start, end):
        step = beat_of(rules, form, following - bar)
        beats = tuple(bar + step * k for k in range(-(-(following - bar) // step)))
        bounds = (*beats, following)
        pace = form.tempo / float(step)
        after = {Fraction(1): Fraction(1, 2), Fraction(3, 2): Fraction(1)}.get(step, step)
        between = tuple(beat + after for beat, until in pairwise(bounds) if beat + after < until)
        between = between if pace <= rules.fastest and len(between) == len(beats) else ()
        news = [_changes_at(form, beat, step) for beat in bounds]
        stuck = (n for n in range(len(between)) if all(news[n : n + 2]) and not _leads(form, *bounds[n : n + 2]))
        found.append(
            _WalkedBar(
                beats,
                between,
                bounds,
                frozenset(stuck),
                len(beats) <= rules.few and pace <= rules.fastest_of_few,
                pace > rules.fastest_of_both,
                len(beats) > 1 and all(news[:-1]),
                frozenset(n for n in range(len(beats)) if news[n + 1]),
                frozenset(
                    n for n in range(len(beats)) if not all(_chord_at(form, b).written for b in bounds[n : n + 2])
                ),
                bar in last,
                following in ends,
                pace,
                tuple(_passing(form, between, bounds)),
            )
        )
    return tuple(found)


def beat_of(rules: Quavers, form: Form, length: Fraction) -> Fraction:
    """Quarters in a beat of a bar: the metre's pulse; in a bar of three quavers a quaver, or all of it if fast."""
    pulse = form.metre.pulse
    if length >= 2 or length % pulse == 0:
        return pulse
    return Fraction(1, 2) if 2 * form.tempo <= rules.fastest else length


def _passing(form: Form, between: Sequence[Fraction], bounds: Sequence[Fraction]) -> list[Fraction]:
    """Places between two beats where a chord begins that is gone by the next beat."""
    spans = {chord.start: chord.end for chord in harmonies(form)}
    return [at for at, until in zip(between, bounds[1:], strict=False) if at in spans and spans[at] <= until]


def _chord_at(form: Form, beat: Fraction) -> Harmony:
    return harmonies(form)[bisect_right(chord_starts(form), beat % form.length) - 1]


def _changes_at(form: Form, beat: Fraction, step: Fraction) -> bool:
    """Whether a beat has another chord than the one before; the first of the form counts as one that has."""
    return beat % form.length == 0 or _chord_at(form, beat - step).label != _chord_at(form, beat).label


@lru_cache(maxsize=16)
def on_thirds(form: Form) -> tuple[Fraction, ...]:
    """Where a chord of two beats and more may stand on its third: by step between the basses of its neighbours.

    F C/E Dm and Dm C/E F are the trade's inversions (common practice); only plain major and minor thirds under a fifth
    are stood on, and no section or repeat begins with one.
    """
    runs = [list(group) for _, group in groupby(harmonies(form), key=lambda chord: chord.label)]
    heads = {section.start for section in form.sections}
    found = []
    for (*_, before), here, (after, *_) in zip(runs, runs[1:], runs[2:], strict=False):
        chord, lasts = here[0], here[-1].end - here[0].start
        third = next((pc for pc in chord.plain if (pc - chord.root) % 12 in (3, 4)), None)
        if third is None or chord.bass != chord.root or (chord.root + 7) % 12 not in chord.plain or not chord.written:
            continue
        down = [(a - b) % 12 for a, b in ((before.bass, third), (third, after.bass))]
        stepwise = all(move in (1, 2) for move in down) or all(move in (10, 11) for move in down)
        bar = form.bars[form.bar_at(chord.start) - 1]
        on_beat = (chord.start - bar) % form.metre.pulse == 0
        if stepwise and on_beat and chord.start not in heads and 2 * form.metre.pulse <= lasts <= form.metre.bar:
            found.append(chord.start)
    return tuple(found)


def _leads(form: Form, beat: Fraction, following: Fraction) -> bool:
    """Whether the bass of the chord at a beat leads by itself to the next, by a step or a fifth."""
    return (_chord_at(form, following).bass - _chord_at(form, beat).bass) % 12 in (1, 2, 5, 7, 10, 11)
