"""Rhythms of one bar: those of ``comping.toml``, those taken up from the melody, and those that reach a turn early.

Conventions: places and lengths in quarters from the bar line; a place below 0 lies in the bar before. Common practice:
call and answer, in which the answer has the rhythm of the call or of its end; and a chord on the quaver before the bar
where the harmony turns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from itertools import pairwise

from companion.arrange.chords.context import HALF, BarPlan, CompingContext
from companion.arrange.chords.liking import OWN, Liking
from companion.arrange.harmony import Harmony
from companion.arrange.melody.part import MelodyIndex
from companion.chart.model import Form, MelodyNote
from companion.preferences.comping import CompingPreferences
from companion.preferences.comping import Rhythm as WrittenRhythm

TAKEN_UP = "takes up the melody's rhythm"
AHEAD = -HALF
"""The quaver before the bar."""
_DOMINANTS = ("7", "7alt", "7sus")
_LEADS = (5, 11)
"""Semitones up to the root to which a dominant leads: a fourth, or a semitone down."""


@dataclass(frozen=True, eq=False)
class CompingRhythm:
    """A rhythm of one bar: places and lengths in quarters from its bar line."""

    name: str
    hits: tuple[tuple[Fraction, Fraction], ...]
    floats: tuple[tuple[float, float], ...]
    """The hits again, for comparing."""
    taken_up: bool = False
    """It is the melody's."""

    @property
    def comes_early(self) -> bool:
        """Whether it begins in the bar before."""
        return self.floats[0][0] < 0


def rhythm(name: str, hits: Sequence[tuple[Fraction, Fraction]], taken_up: bool = False) -> CompingRhythm:
    """A rhythm of some hits, in order."""
    return CompingRhythm(name, tuple(hits), tuple((float(at), float(length)) for at, length in hits), taken_up)


@cache
def rhythms(comping: CompingPreferences, name: str, metre: str, length: Fraction) -> tuple[CompingRhythm, ...]:
    """The rhythms of a set for a bar: by its metre, else by its length in quarters, else as the swing set has them."""
    sets = comping.sets[name].bars, comping.swing.bars
    for key in (metre, f"{float(length):g}"):
        for source in sets:
            if key in source and (key != metre or length == _bar_of(metre)):
                return tuple(_exact(one) for one in source[key])
    return (rhythm("on 1", [(Fraction(0), length * Fraction(9, 10))]),)


LONG = 1.0
"""Quarters: a set of rhythms whose chords all last as long, or longer, is one of long chords."""


def rhythms_for(context: CompingContext, bar: BarPlan) -> tuple[CompingRhythm, ...]:
    """The rhythms of a bar's set, and those of the player's that it lacks; a set of long chords takes none in."""
    form, size = context.form, bar.end - bar.start
    own = rhythms(context.comping, bar.treatment.rhythms, str(form.metre), size)
    if context.liking is None or all(long >= LONG for one in own for _, long in one.floats):
        return own
    known = {_places(one) for one in own}
    theirs = _players(context.liking, str(form.metre), form.feel, size)
    return (*own, *(one for one in theirs if _places(one) not in known))


def _places(one: CompingRhythm) -> tuple[float, ...]:
    return tuple(at for at, _ in one.floats)


@lru_cache(maxsize=64)
def _players(liking: Liking, metre: str, feel: str, length: Fraction) -> tuple[CompingRhythm, ...]:
    """The player's rhythms for a bar."""
    used = [one for one in liking.style.in_metre(metre, feel) if one.places[-1] < length]
    rows = [(Fraction(x).limit_denominator(24) for x in (*one.places, *one.lengths)) for one in used]
    hits = [list(row) for row in rows]
    return tuple(rhythm(OWN, list(zip(row[: len(row) // 2], row[len(row) // 2 :], strict=True))) for row in hits)


def _bar_of(metre: str) -> Fraction:
    beats, kind = metre.split("/")
    return Fraction(4 * int(beats), int(kind))


def _exact(one: WrittenRhythm) -> CompingRhythm:
    return rhythm(
        one.name,
        [(Fraction(at).limit_denominator(24), Fraction(long).limit_denominator(24)) for at, long in one.hits],
    )


# --- taken up from the melody -----------------------------------------------------------------------------------------


def taken_up(context: CompingContext, bar: BarPlan) -> tuple[CompingRhythm, ...]:
    """Rhythms for a bar that the melody has had: at the same place one bar or two before, or moved by whole beats.

    Of a call there is what its accents say, if it has more notes than an answer should, and its last notes.
    """
    return _taken_up(context.melody, context.comping, bar.start, bar.end, bar.at + bar.size)


@lru_cache(maxsize=1024)
def _taken_up(
    melody: MelodyIndex, comping: CompingPreferences, start: Fraction, end: Fraction, until: float
) -> tuple[CompingRhythm, ...]:
    """The same for every chorus: rhythms for a bar, of which chords are struck ``until`` the next chorus begins."""
    taste, size = comping.phrases, end - start
    found: dict[tuple[float, ...], CompingRhythm] = {}
    for back in (1, 2):
        zero = start - back * size
        heard = melody.within(float(zero), float(zero + size))
        for call in (heard, accented(heard)):
            for few in _parts(_as_floats(call), taste.hits):
                _add(found, few, float(zero), float(size))
    for call in _ends(melody, comping, float(start), until):
        few = _as_floats(call)
        for beats in range(int(size)):
            _add(found, few, float(call[0].beat - beats), float(size))
    return tuple(found.values())


def _as_floats(notes: Sequence[MelodyNote]) -> list[tuple[float, float]]:
    """Beat and length of each note, for comparing."""
    return [(float(note.beat), float(note.length)) for note in notes]


def accented(notes: Sequence[MelodyNote]) -> list[MelodyNote]:
    """The notes that a listener keeps: those after which a beat or more passes, and the last."""
    apart = [after.beat - note.beat for note, after in pairwise(notes)]
    return [note for note, wait in zip(notes, [*apart, Fraction(1)], strict=False) if wait >= 1]


def _parts(notes: Sequence[tuple[float, float]], most: int) -> list[Sequence[tuple[float, float]]]:
    """Runs of two notes and more of a bar."""
    count = len(notes)
    return [notes[a:b] for a in range(count) for b in range(a + 2, min(count, a + most) + 1)]


def _ends(melody: MelodyIndex, comping: CompingPreferences, start: float, until: float) -> list[Sequence[MelodyNote]]:
    """The last two notes and more of each phrase that ends in the bar or not long before it."""
    taste = comping.phrases
    heard = melody.within(start - taste.back, until)
    ends = [n for n, note in enumerate(heard) if _waits_after(melody, note) >= comping.placement.gap]
    return [heard[end + 1 - count : end + 1] for end in ends for count in range(2, taste.hits + 1) if end + 1 >= count]


def _waits_after(melody: MelodyIndex, note: MelodyNote) -> float:
    after = melody.after(float(note.beat))
    return float(after.beat - note.beat) if after is not None else float("inf")


def _add(
    found: dict[tuple[float, ...], CompingRhythm], call: Sequence[tuple[float, float]], zero: float, size: float
) -> None:
    """A call as a rhythm of a bar, with ``zero`` as its bar line, if it can be played by chords: in quavers."""
    places = tuple(beat - zero for beat, _ in call)
    apart = [b - a for a, b in pairwise(places)]
    if places in found or places[0] < 0 or places[-1] >= size or min(apart) < 0.5 or max(apart) > 2:
        return
    if any(place % 0.5 for place in places):
        return
    lengths = [min(length, wait) for (_, length), wait in zip(call, [*apart, 2.0], strict=True)]
    hits = [(Fraction(at), Fraction(one).limit_denominator(24)) for at, one in zip(places, lengths, strict=True)]
    found[places] = rhythm(TAKEN_UP, hits, taken_up=True)


# --- early where the harmony turns ------------------------------------------------------------------------------------


def turns(context: CompingContext, beat: Fraction) -> bool:
    """Whether the harmony turns at a beat: a new chord that a dominant leads to, or one that begins four bars."""
    after, before = context.harmony(float(beat)), context.harmony(float(beat) - 0.25)
    return after.start == beat % context.form.length and _turn(context, before, after, beat)


def _turn(context: CompingContext, before: Harmony, after: Harmony, beat: Fraction) -> bool:
    if before.label == after.label or not after.written:
        return False
    leads = before.chord.quality in _DOMINANTS and (after.root - before.root) % 12 in _LEADS
    return leads or beat % context.form.length in fours(context.form, context.comping.phrases.bars)


@cache
def fours(form: Form, bars: int) -> frozenset[Fraction]:
    """Where a section begins, and every so many bars in it."""
    found: list[Fraction] = []
    for place in form.sections:
        found += [bar for bar in form.bars if place.start <= bar < place.end][::bars]
    return frozenset(found or form.bars[::bars])


def pushed(one: CompingRhythm) -> CompingRhythm:
    """A rhythm that reaches the bar a quaver early: its first chord moved there, or one more before it."""
    rest = [hit for hit in one.hits if hit[0] >= 1]
    until = rest[0][0] if rest else Fraction(2)
    first = AHEAD, min(until - AHEAD, Fraction(2))
    return rhythm("the quaver before the bar", [first, *rest], one.taken_up and len(rest) > 1)
