"""An ending turned the other way: the last phrase mirrored over the same rhythm, to the same last note.

Method: the phrase is mirrored at the line from its first note to its last, so that both stay; then dynamic programming
finds the singable row nearest to the mirrored one: chord tones on strong beats, notes of the scale elsewhere, steps and
small leaps, no note struck twice where the line moved, few notes as they were, and a step into the last note, at which
the phrase aims. Common practice; prices in ``configs/turning.toml``.

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from companion.arrange.harmony import Harmony, harmonies
from companion.chart.model import Form, MelodyNote
from companion.preferences import preferences
from companion.preferences.turning import Prices, TurnedPhrase, TurningPreferences


def last_phrase(form: Form, start: Fraction, end: Fraction) -> list[MelodyNote]:
    """The last phrase of a section, from a breath on, with notes enough to be turned; empty where there is none."""
    rules = preferences(TurningPreferences).phrase
    bars = [bar for bar in form.bars if start <= bar < end][-rules.bars :]
    if not bars:
        return []
    inside = [note for note in form.melody if bars[0] <= note.beat < end]
    inside = _without_pickup(inside, end, form.metre.bar, rules.rest)
    breaths = [n for n in range(1, len(inside)) if _breathes(inside[n - 1], inside[n], rules)]
    for first in reversed(breaths):
        whole = inside[first:]
        if len(whole) >= rules.notes and end - whole[0].beat >= rules.least_bars * form.metre.bar:
            return whole
    return inside if len(inside) >= rules.fewest else []


def _breathes(before: MelodyNote, note: MelodyNote, rules: TurnedPhrase) -> bool:
    """Whether a phrase may begin with a note: after a rest, or after a long note."""
    return note.beat - before.beat - before.length >= rules.breath or before.length >= rules.long


def _without_pickup(notes: list[MelodyNote], end: Fraction, bar: Fraction, rest: float) -> list[MelodyNote]:
    """The notes but for what, after a ``rest`` in the second half of the last bar, leads to the next section."""
    for n in range(len(notes) - 1, 0, -1):
        before, note = notes[n - 1], notes[n]
        if note.beat < end - bar / 2:
            break
        if note.beat - before.beat - before.length >= rest:
            return notes[:n]
    return notes


def turned(form: Form, phrase: Sequence[MelodyNote]) -> list[MelodyNote]:
    """A phrase with its rhythm kept and its line turned; the first and the last note stay."""
    if len(phrase) < 3:
        return list(phrase)
    taste = preferences(TurningPreferences)
    reach, prices = taste.reach, taste.prices
    chords = [_ruling(form, note.beat) for note in phrase]
    every = [note.pitch.midi for note in form.melody]
    low, high = min(every) - reach.beyond, max(every) + reach.beyond
    rows: list[dict[int, float]] = []
    for n, note in enumerate(phrase):
        if n in (0, len(phrase) - 1):
            rows.append({note.pitch.midi: 0.0})
            continue
        goal = min(max(_mirrored(phrase, n, reach.farthest), low), high)
        near = range(max(low, goal - reach.around), min(high, goal + reach.around) + 1)
        last = phrase[-1].pitch.midi if n == len(phrase) - 2 else None
        price = {midi: _price(prices, form, chords[n], note, midi) for midi in near}
        rows.append({midi: abs(midi - goal) + price[midi] + _aim(prices, chords[n], midi, last) for midi in near})
    midi = _cheapest(prices, phrase, rows)
    return [
        note
        if n in (0, len(phrase) - 1)
        else MelodyNote(note.beat, note.length, chords[n].name(midi[n] % 12, midi[n + 1] % 12).at(midi[n]))
        for n, note in enumerate(phrase)
    ]


def _mirrored(phrase: Sequence[MelodyNote], n: int, most: int) -> int:
    """Where a note lies when the phrase is mirrored at the line from its first to its last, not too far from it."""
    first, last = phrase[0], phrase[-1]
    share = (phrase[n].beat - first.beat) / (last.beat - first.beat)
    line = first.pitch.midi + share * (last.pitch.midi - first.pitch.midi)
    away = line - phrase[n].pitch.midi
    return round(line + max(Fraction(-most), min(Fraction(most), away)))


def _price(prices: Prices, form: Form, harmony: Harmony, note: MelodyNote, midi: int) -> float:
    """Price of a note for itself."""
    pc = midi % 12
    if pc not in harmony.scale:
        return prices.wrong
    if _strong(form, note) and pc not in harmony.tones:
        return prices.no_chord_tone
    unchanged = prices.unchanged if midi == note.pitch.midi else 0.0
    return unchanged + (prices.rubs if _rubs(harmony, pc) and note.length >= 1 else 0.0)


def _rubs(harmony: Harmony, pc: int) -> bool:
    """Whether the chord avoids a note, or has a major third below it, though its symbol counts the eleventh in."""
    return pc in harmony.avoid or (pc == (harmony.root + 5) % 12 and (harmony.root + 4) % 12 in harmony.tones)


def _aim(prices: Prices, harmony: Harmony, midi: int, last: int | None) -> float:
    """Price of the note before the last one, if that follows: a step leads to it, and the chord doesn't avoid it."""
    if last is None:
        return 0.0
    avoided = prices.rubs if _rubs(harmony, midi % 12) or midi == last else 0.0
    return avoided + prices.astray * max(0, abs(midi - last) - 2)


def _strong(form: Form, note: MelodyNote) -> bool:
    """On the bar's first beat or its middle, or long and on a beat."""
    within = note.beat % form.length - form.bars[form.bar_at(note.beat) - 1]
    middle = within == form.metre.bar / 2 and form.metre.beats % 2 == 0
    return within == 0 or middle or (note.length >= 1 and within.denominator == 1)


def _cheapest(prices: Prices, phrase: Sequence[MelodyNote], rows: Sequence[dict[int, float]]) -> list[int]:
    best = {midi: (price, [midi]) for midi, price in rows[0].items()}
    for (before, note), row in zip(pairwise(phrase), rows[1:], strict=True):
        was = note.pitch.midi - before.pitch.midi
        best = {
            midi: min(
                ((cost + price + _step(prices, midi - way[-1], was), [*way, midi]) for cost, way in best.values()),
                key=lambda one: one[0],
            )
            for midi, price in row.items()
        }
    return min(best.values(), key=lambda one: one[0])[1]


def _step(prices: Prices, step: int, was: int) -> float:
    """Price of a step where the phrase as written had another."""
    price = prices.again if step == 0 and was != 0 else 0.0
    price += prices.same_way if step * was > 0 else 0.0
    price += prices.leap * max(0, abs(step) - 5)
    return price + (prices.wide if abs(step) > 9 or abs(step) == 6 else 0.0)


def _ruling(form: Form, beat: Fraction) -> Harmony:
    at = beat % form.length
    return next((h for h in harmonies(form) if h.start <= at < h.end), harmonies(form)[-1])
