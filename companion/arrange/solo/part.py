"""The companion's improvised line as a part: for trading with the player, or for a chorus that the player comps behind.

Method: the plan of the solo (:mod:`companion.arrange.solo.story`) says where phrases lie and what each has to do with
those before it. The rhythm of each is made first, new or from an idea of one of the last two phrases
(:mod:`companion.arrange.solo.rhythm`, :mod:`companion.arrange.solo.ideas`), then its pitches
(:mod:`companion.arrange.solo.line`); the first phrase after the player takes up their rhythm and intervals.

Conventions: beats and lengths in quarters from the first downbeat of the form, written; MIDI numbers. What the player
just played is given as (beat, MIDI number), beats on the same scale.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.part import Note
from companion.arrange.solo.ideas import Idea, again, has_character, idea_of, varied
from companion.arrange.solo.line import Aim, Onset, line_pitches
from companion.arrange.solo.rhythm import HeardNotes, Motif, cell_onsets, motif_of, player_onsets
from companion.arrange.solo.story import ALONE, PhrasePlan, SoloChorus, story
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.solo import SoloPreferences, Touch

QUAVER = Fraction(1, 2)
GAP = Fraction(3, 4)
"""Quarters of silence between two phrases at least."""
LONGEST = Fraction(3, 2)
"""Quarters that a note sounds at most within a phrase."""
CLIMB = 3
"""Notes before the highest one of all, at least."""
TRIES = 16
"""How often a rhythm is drawn until it says something."""
PLAYERS, OWN = "taken up from the player", "taken up from a phrase before"


@dataclass(frozen=True)
class _Draft:
    """A phrase's onsets, each with the interval that is asked for and where that is from."""

    onsets: tuple[tuple[Fraction, int | None, str], ...]
    begins: int | None = None
    """Where what is taken up is to begin, as a MIDI number."""


def improvised_line(
    form: Form,
    *,
    start: Fraction = Fraction(0),
    end: Fraction | None = None,
    heard: HeardNotes = (),
    last: int | None = None,
    chorus: int = 1,
    place: SoloChorus = ALONE,
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
    place : SoloChorus
        Which of how many choruses of the solo it is: a solo climbs over all of them. With an end it doesn't count.
    """
    taste = preferences(SoloPreferences)
    until = form.length if end is None else end
    chance = random.Random(f"solo/{seed}/{chorus}/{start}")
    plans = story(taste, form, start, until, place if end is None else None, chance)
    top = random.Random(f"solo/{seed}/{place.times}").randint(*taste.arc.top)
    found: list[Note] = []
    ideas: list[Idea] = []
    taken_up = motif_of(taste.motif, form, heard)
    for n, plan in enumerate(plans):
        free = found[-1].beat + found[-1].length + GAP if found else start
        room = plans[n + 1].pickup if n + 1 < len(plans) else Fraction(0)
        stop = _stop(taste, plan, room, chance)
        latest = max(stop, plan.stop - room - 1)
        draft = _draft(taste, form, plan, (stop, latest), free, ideas, taken_up, chance)
        taken_up = ()
        if not draft.onsets:
            continue
        phrase = _phrase(taste, form, plan, draft, stop + (plan.stop - room - stop) / 2, last, top, chance)
        said = [(note.beat - plan.start, note.midi) for note in phrase]
        whole = plan.riff and plan.role != "varied"
        ideas = [*ideas[-1:], tuple(said) if whole else idea_of(taste.idea, said, form.metre.bar)]
        found += phrase
        last = phrase[-1].midi
    return tuple(found)


def _stop(taste: SoloPreferences, plan: PhrasePlan, room: Fraction, chance: random.Random) -> Fraction:
    """Where a phrase's last note begins at the latest: a breath before its end, a longer one where it is calm."""
    if plan.riff and plan.role == "again":  # it comes whole
        return plan.stop - QUAVER
    low, high = taste.phrase.breath
    calm, hot = taste.arc.room
    breath = chance.uniform(low, high) + calm + (hot - calm) * plan.heat
    return plan.stop - min(Fraction(round(2 * breath), 2) + room, (plan.stop - plan.start) / 2)


# --- rhythm -----------------------------------------------------------------------------------------------------------


def _draft(
    taste: SoloPreferences,
    form: Form,
    plan: PhrasePlan,
    stops: tuple[Fraction, Fraction],
    free: Fraction,
    ideas: Sequence[Idea],
    motif: Motif,
    chance: random.Random,
) -> _Draft:
    """The onsets of a phrase; none lies before the beat that is ``free``.

    What is new ends at the first of the ``stops``, what is taken up at the second, so that it comes whole.
    """
    stop = stops[0]
    if motif:
        asked, at = player_onsets(taste, form, plan.start, stop, motif, chance)
        more = cell_onsets(taste, form, at, stop, plan.heat, True, chance)
        return _Draft(
            (
                *((beat, step, PLAYERS if step is not None else "") for beat, step in asked),
                *((beat, None, "") for beat in more),
            )
        )
    source = _source(plan, ideas, chance)
    if source:
        found = _retold(taste, form, plan, stops, free, source, chance)
        if found.onsets:
            return found
    for _ in range(TRIES):
        onsets = _new(taste, form, plan, stop, max(free, plan.start - plan.pickup), chance)
        if len(onsets) >= taste.phrase.shortest and has_character(onsets, taste.idea.notes[0]):
            break
    return _Draft(tuple((beat, None, "") for beat in onsets))


def _source(plan: PhrasePlan, ideas: Sequence[Idea], chance: random.Random) -> Idea:
    """What a phrase takes up: the last idea, or now and then the one before it; a riff always the last."""
    known = [idea for idea in ideas if idea]
    if plan.role == "new" or not known:
        return ()
    return known[-1] if plan.riff or chance.random() < 0.75 else known[0]


def _retold(
    taste: SoloPreferences,
    form: Form,
    plan: PhrasePlan,
    stops: tuple[Fraction, Fraction],
    free: Fraction,
    source: Idea,
    chance: random.Random,
) -> _Draft:
    """What is taken up, from its old place in the bar, or from beats later where the phrase before is still on."""
    (stop, latest), pulse = stops, form.metre.pulse
    rising = plan.heat > 0.5 or chance.random() < 0.5
    told = again(taste.idea, source, rising, chance)
    if plan.role == "varied":
        told = varied(taste.idea, source, pulse, latest - plan.start, rising, chance)
    lift, goes_on = (0, plan.role == "varied") if plan.riff else (told.lift, told.goes_on)
    if not goes_on and not plan.riff:
        goes_on = plan.peak is not None or chance.random() >= taste.phrase.rests * (1 - plan.heat)
    if not told.asked:
        return _Draft(())
    late = max(Fraction(0), -((plan.start + told.asked[0][0] - free) // pulse) * pulse)
    onsets = [(plan.start + late + place, step, OWN) for place, step in told.asked]
    onsets = [one for one in onsets if one[0] < latest]
    if goes_on and onsets:
        at = onsets[-1][0] + QUAVER
        more = cell_onsets(taste, form, at, stop, plan.heat, True, chance)
        onsets += ((beat, None, "") for beat in more if beat >= at)
    return _Draft(tuple(onsets), source[0][1] + lift)


def _new(
    taste: SoloPreferences, form: Form, plan: PhrasePlan, stop: Fraction, at: Fraction, chance: random.Random
) -> list[Fraction]:
    late = Fraction(0) if at < plan.start else Fraction(chance.choice(taste.phrase.late)).limit_denominator(2)
    onsets = cell_onsets(taste, form, at + late, stop, plan.heat, False, chance)
    if plan.riff:
        low, high = taste.riff.notes
        onsets = [beat for beat in onsets if beat < plan.start + 2 * form.metre.bar - 1][: chance.randint(low, high)]
    return onsets


# --- pitches ----------------------------------------------------------------------------------------------------------


def _phrase(
    taste: SoloPreferences,
    form: Form,
    plan: PhrasePlan,
    draft: _Draft,
    end: Fraction,
    last: int | None,
    top: int,
    chance: random.Random,
) -> list[Note]:
    onsets = _onsets(form, draft.onsets)
    midi, figures = line_pitches(taste, onsets, last, _aim(taste, plan, onsets, draft.begins, top), chance)
    return _line_notes(taste.touch, form, onsets, midi, figures, end, chance)


def _aim(taste: SoloPreferences, plan: PhrasePlan, onsets: Sequence[Onset], begins: int | None, top: int) -> Aim:
    """Where a phrase lies, by its heat; the peak's goes to the top, which no other reaches."""
    (low, low_hot), (high, high_hot) = taste.arc.low, taste.arc.high
    bottom, above = round(low + (low_hot - low) * plan.heat), round(high + (high_hot - high) * plan.heat)
    if begins is not None:
        begins = min(max(begins, bottom), above)
    if plan.peak is None:
        return Aim(bottom, above, min(above + 2, top - 2), begins, stays=plan.riff)
    first, end = plan.peak
    inside = [n for n, onset in enumerate(onsets) if n and first <= onset.beat < end]
    tops = frozenset([n for n in inside if n >= CLIMB] or inside)
    reached = top - 1  # of two neighbours one is in the scale
    return Aim(bottom, top, taste.range.highest, begins, tops=tops, top=reached)


def _onsets(form: Form, found: Sequence[tuple[Fraction, int | None, str]]) -> list[Onset]:
    starts, chords = _chords(form)
    onsets: list[Onset] = []
    for beat, interval, taken in found:
        harmony = chords[max(0, bisect_right(starts, beat % form.length) - 1)]
        fresh = not onsets or onsets[-1].harmony is not harmony
        onsets.append(Onset(beat, harmony, beat % form.metre.pulse == 0, fresh, interval, taken))
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
    if onset.taken:
        return onset.taken
    where = "on the beat" if onset.strong else "between"
    if degree == "x":
        return "leads by a semitone into the beat"
    return f"{degree} of {onset.harmony.chord.symbol}, {where}; {_CALLED[figure]}"


_CALLED = {
    "opens": "opens the phrase",
    "motif": "as it was before",
    "scale": "in a run",
    "arpeggio": "in an arpeggio",
    "enclosure": "about its aim",
    "leap": "after a leap, back by steps",
    "digits": "along the scale",
}
"""Each figure in a musician's words."""
