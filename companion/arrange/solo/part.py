"""The companion's improvised line as a part: for trading with the player, or for a chorus that the player comps behind.

Method: phrases of two to four bars with a breath at their end (common practice: a line that a horn could play). The
rhythm of each is made first (:mod:`companion.arrange.solo.rhythm`), then its pitches
(:mod:`companion.arrange.solo.line`); the first phrase takes up the player's rhythm and intervals.

Conventions: beats and lengths in quarters from the first downbeat of the form, written; MIDI numbers. What the player
just played is given as (beat, MIDI number), beats on the same scale.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.part import Note
from companion.arrange.solo.line import Onset, line_pitches
from companion.arrange.solo.rhythm import HeardNotes, Motif, motif_of, phrase_onsets
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.solo import SoloPreferences, Touch

QUAVER = Fraction(1, 2)
LONGEST = Fraction(3, 2)
"""Quarters that a note sounds at most within a phrase."""


def improvised_line(
    form: Form,
    *,
    start: Fraction = Fraction(0),
    end: Fraction | None = None,
    heard: HeardNotes = (),
    last: int | None = None,
    chorus: int = 1,
    seed: int = 0,
) -> tuple[Note, ...]:
    """An improvised line from ``start`` up to ``end`` (the form's end unless given).

    Parameters
    ----------
    form : Form
    start, end : Fraction
        Where the line may sound; its last breath lies before the end, so that it never speaks over the player.
    heard : sequence of (beat, MIDI number)
        What the player played just before: its rhythm and intervals are taken up at the start.
    last : int, optional
        The note that the line goes on from, as a MIDI number.
    chorus, seed : int
        The same numbers give the same line.
    """
    taste = preferences(SoloPreferences)
    until = form.length if end is None else end
    chance = random.Random(f"solo/{seed}/{chorus}/{start}")
    found: list[Note] = []
    at, taken_up = start, motif_of(taste.motif, form, heard)
    while at < until:
        stop = _phrase_end(taste.phrase.bars, form, at, until, chance)
        phrase = _phrase(taste, form, at, stop, last, taken_up, chance)
        found += phrase
        last = phrase[-1].midi if phrase else last
        at, taken_up = stop, ()
    return tuple(found)


def _phrase_end(lengths: Sequence[int], form: Form, at: Fraction, until: Fraction, chance: random.Random) -> Fraction:
    """A bar line two to four bars on; what would leave less than two bars over takes them in."""
    bars = [bar for bar in (*form.bars, form.length) if bar > at]
    stop = bars[min(chance.choice(lengths), len(bars)) - 1] if bars else until
    return until if until - stop < 2 * form.metre.bar else stop


def _phrase(
    taste: SoloPreferences,
    form: Form,
    start: Fraction,
    stop: Fraction,
    last: int | None,
    motif: Motif,
    chance: random.Random,
) -> list[Note]:
    low, high = taste.phrase.breath
    breath = min(Fraction(round(2 * chance.uniform(low, high)), 2), (stop - start) / 2)
    found = phrase_onsets(taste, form, start, stop - breath, motif, chance)
    for _ in range(4):
        if len(found) >= taste.phrase.shortest:
            break
        found = phrase_onsets(taste, form, start, stop - breath, motif, chance)
    if not found:
        return []
    onsets = _onsets(form, found)
    midi, figures = line_pitches(taste, onsets, last, chance)
    return _line_notes(taste.touch, form, onsets, midi, figures, stop - breath / 2, chance)


def _onsets(form: Form, found: Sequence[tuple[Fraction, int | None]]) -> list[Onset]:
    starts, chords = _chords(form)
    onsets: list[Onset] = []
    for beat, interval in found:
        harmony = chords[max(0, bisect_right(starts, beat % form.length) - 1)]
        fresh = not onsets or onsets[-1].harmony is not harmony
        onsets.append(Onset(beat, harmony, beat % form.metre.pulse == 0, fresh, interval))
    return onsets


def _chords(form: Form) -> tuple[list[Fraction], tuple[Harmony, ...]]:
    chords = harmonies(form)
    return [h.start for h in chords], chords


def _line_notes(
    touch: Touch,
    form: Form,
    onsets: Sequence[Onset],
    midi: Sequence[int],
    figures: Sequence[str],
    stop: Fraction,
    chance: random.Random,
) -> list[Note]:
    found = []
    for n, (onset, pitch) in enumerate(zip(onsets, midi, strict=True)):
        following = onsets[n + 1].beat if n + 1 < len(onsets) else max(stop, onset.beat + QUAVER)
        degree = onset.harmony.degree(pitch % 12)
        goal = midi[n + 1] % 12 if n + 1 < len(midi) else None
        found.append(
            Note(
                beat=onset.beat,
                length=min(following - onset.beat, LONGEST),
                pitch=onset.harmony.name(pitch % 12, goal).at(pitch),
                part="solo",
                hand="right",
                degree=degree,
                reason=_reason(onset, degree, figures[n]),
                weight=_weight(touch, onset, midi, n, chance),
            )
        )
    if found[-1].beat % form.metre.pulse and chance.random() < touch.short:
        found[-1] = replace(found[-1], length=min(found[-1].length, QUAVER))
    return found


def _weight(touch: Touch, onset: Onset, midi: Sequence[int], n: int, chance: random.Random) -> float:
    """How strongly a note is struck: peaks stand out, and a note between two higher ones may be swallowed."""
    before, after = midi[max(0, n - 1)], midi[min(len(midi) - 1, n + 1)]
    if before < midi[n] > after:
        return touch.peak
    if before > midi[n] < after and not onset.strong and chance.random() < touch.ghosts:
        return touch.ghost
    return touch.on_beat if onset.strong else touch.off_beat


def _reason(onset: Onset, degree: str, figure: str) -> str:
    if onset.interval is not None:
        return "taken up from the player"
    where = "on the beat" if onset.strong else "between"
    if degree == "x":
        return "leads by a semitone into the beat"
    return f"{degree} of {onset.harmony.chord.symbol}, {where}; {_CALLED[figure]}"


_CALLED = {
    "opens": "opens the phrase",
    "motif": "goes on from the player's",
    "scale": "in a run",
    "arpeggio": "in an arpeggio",
    "enclosure": "about its aim",
    "leap": "after a leap, back by steps",
    "digits": "along the scale",
}
"""Each figure in a musician's words."""
