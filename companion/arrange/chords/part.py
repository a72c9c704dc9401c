"""The chords as a part: where they are struck, how they are voiced, which hand takes them, and why.

Conventions: beats and lengths in quarters from the first downbeat of the form; voices are counted from the lowest
note, 1.
"""

from __future__ import annotations

import random
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

from companion.arrange.chords.comping import strikes
from companion.arrange.chords.comping_style import CompingStyle
from companion.arrange.chords.context import HALF, TINY, Strike
from companion.arrange.chords.kept import among_kept
from companion.arrange.chords.late import gathered, late_voices, with_late_voice
from companion.arrange.chords.liking import OWN, Liking, is_own, liking_of
from companion.arrange.chords.reasons import voicing_reason
from companion.arrange.chords.sliding import landings, with_slides
from companion.arrange.chords.soundness import clear
from companion.arrange.chords.voicings import Voicing, candidates, choose_voicings
from companion.arrange.holding import PedalIndex
from companion.arrange.melody.part import MelodyIndex
from companion.arrange.part import Note
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form
from companion.messages import Hand
from companion.music.pitch import Pitch, pitch_in_key
from companion.preferences import preferences
from companion.preferences.comping import CompingPreferences
from companion.preferences.like_you import LikeYouPreferences
from companion.preferences.voicings import VoicingPreferences

MOMENT = 0.01
"""Quarters within which keys go down together."""


def chord_notes(
    form: Form,
    plan: TreatmentPlan,
    above: MelodyIndex,
    below: Sequence[Note],
    *,
    hand: Hand = "right",
    chorus: int = 1,
    seed: int = 0,
    kept: Sequence[Note] = (),
    kept_bars: Collection[int] = (),
    style: CompingStyle | None = None,
) -> tuple[Note, ...]:
    """The chords of one chorus.

    Parameters
    ----------
    form : Form
    plan : sequence of (start, end, Treatment)
        Which treatment rules from where to where.
    above : MelodyIndex
        The melody that sounds meanwhile, whoever plays it; empty behind a soloist.
    below : sequence of Note
        The bass that sounds meanwhile; empty where it isn't known.
    hand : str
        The hand that takes a voicing of one hand.
    chorus, seed : int
        The same numbers give the same chords.
    kept, kept_bars : sequence of Note, collection of int
        Chords that stand already, and the bars in which nothing else is struck: the hand comes from them and goes to
        them. They aren't among what is given back.
    style : CompingStyle, optional
        How the player comps, where chords are to be like theirs.
    """
    liking = liking_of(style, preferences(LikeYouPreferences)) if style is not None else None
    voicings, comping = preferences(VoicingPreferences), preferences(CompingPreferences)
    meant = strikes(form, plan, above, chorus=chorus, seed=seed, liking=liking)
    meant = gathered(meant, above, random.Random(f"late voices/{seed}/{chorus}"))
    struck, standing = among_kept(form, meant, plan, kept, kept_bars)
    bass_under, pedal = _bass_under(below), PedalIndex(form, below)
    below_at = {n.beat: n.midi for n in below}
    chance = random.Random(f"voicings/{seed}/{chorus}")
    arrivals = [n for n, strike in enumerate(struck) if not strike.slides]
    chosen: list[Voicing | None] = [None] * len(struck)
    fixed = {k: standing[n] for k, n in enumerate(arrivals) if n in standing}
    offered: list[list[Voicing]] = []
    for n in arrivals:
        pedalled = pedal.is_down(struck[n].beat)
        struck[n], found_there = _roomiest(voicings, struck[n], above, bass_under, pedalled, liking)
        reached = [v for v in found_there if _left_reaches(voicings, v, below_at.get(struck[n].beat))]
        offered.append(landings(voicings, struck[n], reached, above, bass_under(struck[n])))
    under = [bass_under(strike) for strike in struck]
    arriving = [struck[n] for n in arrivals]
    best = choose_voicings(voicings, arriving, above, [under[n] for n in arrivals], chance, fixed, offered)
    for n, voicing in zip(arrivals, best, strict=True):
        chosen[n] = voicing
    chosen = with_slides(voicings, comping.slides.chance, struck, chosen, above, under, chance)
    _elsewhere(voicings, form, struck, chosen, above, bass_under, liking)
    for n, (strike, voicing) in enumerate(zip(struck, chosen, strict=True)):
        if voicing is not None and strike.meant > strike.length and n not in standing:
            until = struck[n + 1].beat if n + 1 < len(struck) else form.length - HALF
            struck[n] = _ringing(voicings, strike, voicing, until, above, bass_under)
        if voicing is not None and n not in standing:
            struck[n] = _let_go(voicings, struck[n], voicing, above, pedal)
    crossed = _routes_of_the_left(voicings, struck, chosen, above, pedal, below_at)
    found: list[Note] = []
    before: Voicing | None = None
    free = [None if n in standing else voicing for n, voicing in enumerate(chosen)]
    late = late_voices(comping, voicings, struck, free, above, chance)
    for n, (strike, voicing) in enumerate(zip(struck, chosen, strict=True)):
        if n in standing:
            before = standing[n]
        elif voicing is not None:
            why = voicing_reason(strike, voicing, before, above)
            if liking is not None and is_own(liking, strike.harmony, voicing.shape):
                why = f"{why}; {OWN}"
            chord = _notes_of_voicing(form, strike, voicing, "left" if n in crossed else hand, why)
            found += with_late_voice(form, strike, chord, late[n]) if n in late else chord
            before = voicing
    return tuple(sorted(found, key=lambda n: float(n.beat)))


def _roomiest(
    voicings: VoicingPreferences,
    strike: Strike,
    above: MelodyIndex,
    under: Callable[[Strike], Sequence[int]],
    pedalled: bool,
    liking: Liking | None,
) -> tuple[Strike, list[Voicing]]:
    """A strike and its voicings; shorter, where the bass's next note would leave no room for a full one."""
    bass = under(strike)
    found = candidates(voicings, strike, above, bass, pedalled=pedalled, liking=liking)
    shorter, better = strike, found
    start, long, _ = above.around(float(strike.beat))
    held = start + long > float(strike.beat) + TINY  # the same hand holds the melody: a thin chord is as good there
    while (not better or (better[0].forced and not held)) and len(bass) > 1 and shorter.length > HALF:
        shorter = replace(shorter, length=max(HALF, shorter.length - HALF))
        bass = under(shorter)
        better = candidates(voicings, shorter, above, bass, pedalled=pedalled, liking=liking)
    return (shorter, better) if better and not better[0].forced else (strike, found)


def _elsewhere(
    voicings: VoicingPreferences,
    form: Form,
    struck: list[Strike],
    chosen: list[Voicing | None],
    above: MelodyIndex,
    under: Callable[[Strike], Sequence[int]],
    liking: Liking | None,
) -> None:
    """Where a bar without a melody note has no chord that can be struck at its place: another place in the bar."""
    voiced = {form.bar_at(s.beat) for s, v in zip(struck, chosen, strict=True) if v is not None and s.beat >= 0}
    for n, (strike, voicing) in enumerate(zip(struck, chosen, strict=True)):
        bar = form.bar_at(strike.beat)
        end = form.bars[bar] if bar < len(form.bars) else form.length
        if voicing is not None or bar in voiced or strike.slides:
            continue
        if not above.rests(float(form.bars[bar - 1]), float(end)):
            continue
        earliest = max(
            strike.harmony.start, form.bars[bar - 1], struck[n - 1].beat + Fraction(1, 2) if n else strike.beat
        )
        until = min(end, strike.harmony.end, struck[n + 1].beat if n + 1 < len(struck) else end)
        for moved in _moved(strike, earliest, until):
            found = candidates(voicings, moved, above, under(moved), liking=liking)
            if found:
                struck[n], chosen[n] = moved, min(found, key=lambda v: v.price)
                voiced.add(bar)
                break


def _ringing(
    voicings: VoicingPreferences,
    strike: Strike,
    voicing: Voicing,
    until: Fraction,
    above: MelodyIndex,
    under: Callable[[Strike], Sequence[int]],
) -> Strike:
    """A chord over a pedal, held as long as its rhythm has it, though the melody moves on, as long as nothing rubs."""
    length = min(strike.meant, until - strike.beat, max(strike.harmony.end - strike.beat, strike.length))
    while length > strike.length:
        longer = replace(strike, length=length)
        sounding = [n.pitch.midi for n in above.sounding(float(strike.beat), float(strike.beat + length))]
        if clear(voicings, voicing.midi, sounding, under(longer)):
            return longer
        length -= HALF
    return strike


def _routes_of_the_left(
    voicings: VoicingPreferences,
    struck: Sequence[Strike],
    chosen: list[Voicing | None],
    above: MelodyIndex,
    pedal: PedalIndex,
    bass: Mapping[Fraction, int],
) -> set[int]:
    """Sliding chords that the left hand takes: the pedal holds its root, and the right can't reach them.

    A route stays in one hand. Where the left isn't free, what is out of reach is left out, and what slides to it.
    """
    found: set[int] = set()
    for slides, group in groupby(range(len(struck)), key=lambda n: struck[n].slides):
        route = [n for n in group if slides and chosen[n] is not None]
        far = [n for n in route if _beyond(voicings, struck[n], chosen[n], above, pedal)]
        if far and all(pedal.is_down(struck[n].beat) and struck[n].beat not in bass for n in route):
            found |= set(route)
        elif far:
            for n in route[: route.index(far[-1]) + 1]:
                chosen[n] = None
    return found


def _left_reaches(voicings: VoicingPreferences, voicing: Voicing, bass: int | None) -> bool:
    """Whether the left hand can strike its notes of a chord together with a bass note, if there is one."""
    left = voicing.shape.left
    return not left or bass is None or voicing.midi[left - 1] - bass <= voicings.hand.span


def _beyond(
    voicings: VoicingPreferences, strike: Strike, voicing: Voicing | None, above: MelodyIndex, pedal: PedalIndex
) -> bool:
    """Whether the melody's hand can't reach a chord: from what it strikes with it, or holds without the pedal."""
    start = float(strike.beat)
    held = [n for n in above.sounding(start, start + MOMENT) if n.beat == strike.beat or not pedal.is_down(strike.beat)]
    return voicing is not None and any(n.pitch.midi - voicing.midi[0] > voicings.hand.span for n in held)


def _let_go(
    voicings: VoicingPreferences, strike: Strike, voicing: Voicing, above: MelodyIndex, pedal: PedalIndex
) -> Strike:
    """A chord, until its hand has to leave it for a melody note out of its reach, unless the pedal holds it."""
    lowest, start = voicing.midi[voicing.shape.left], float(strike.beat)
    for note in above.within(start + TINY, float(strike.beat + strike.length)):
        if note.pitch.midi - lowest > voicings.hand.span and not pedal.is_down(note.beat):
            return replace(strike, length=note.beat - strike.beat)
    return strike


def _moved(strike: Strike, earliest: Fraction, until: Fraction) -> Iterator[Strike]:
    """A strike elsewhere: later, or else sooner; shorter, where it can't be long."""
    places = [earliest + n * HALF for n in range(int((until - earliest) / HALF))]
    for length in (3 * HALF, 2 * HALF, HALF):
        for beat in sorted(places, key=lambda beat: (beat <= strike.beat, abs(beat - strike.beat))):
            if beat + length <= until:
                yield replace(strike, beat=beat, length=length)


def _bass_under(below: Sequence[Note]) -> Callable[[Strike], list[int]]:
    """What tells which bass notes sound at any time during a strike."""
    starts, ends = [float(n.beat) for n in below], [float(n.beat + n.length) for n in below]
    midi = [n.midi for n in below]

    def under(strike: Strike) -> list[int]:
        at, end = float(strike.beat), float(strike.beat + strike.length)
        first = max(0, bisect_right(starts, at) - 1)
        return [midi[n] for n in range(first, bisect_left(starts, end)) if ends[n] > at]

    return under


def _notes_of_voicing(form: Form, strike: Strike, voicing: Voicing, hand: Hand, why: str) -> list[Note]:
    left = voicing.shape.left
    found = []
    for n, midi in enumerate(voicing.midi):
        tone = None if strike.slides else voicing.shape.degrees[n]
        found.append(
            Note(
                beat=strike.beat,
                length=strike.length,
                pitch=_pitch(form, strike, midi, n, voicing),
                part="chords",
                hand=("left" if n < left else "right") if left else hand,
                voice=n + 1,
                degree=str(tone) if tone is not None else "x",
                reason=why,
                weight=strike.weight,
                pedal=bool(left),
            )
        )
    return found


def _pitch(form: Form, strike: Strike, midi: int, n: int, voicing: Voicing) -> Pitch:
    """The note as the chord spells it, without double accidentals; as the key does where fourths slide through it."""
    if strike.slides:
        return pitch_in_key(midi, form.fifths)
    name = strike.harmony.name_of(voicing.shape.degrees[n])
    return name.at(midi) if abs(name.alter) <= 1 else pitch_in_key(midi, form.fifths)
