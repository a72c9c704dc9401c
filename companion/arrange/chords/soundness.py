"""What a chord as it was struck must be to be right: complete, without wrong notes, in the hand, and clear of the rest.

This is the one place that says so: of the player's chords by :func:`chord_faults`; the arranger's own are made of the
forms of ``voicings.toml`` within the limits at the end. A row of degrees that is such
a form, in a colour that the chord may have, is right whatever it lacks: fourths have no third, a shell has the root.

Conventions: MIDI numbers from the lowest up; pitch classes 0-11. Source: Levine, The Jazz Piano Book, 1989 (from
memory), and common practice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Literal

from companion.arrange.chords.own_notes import has_own_notes_alone
from companion.arrange.harmony import Harmony
from companion.music.kinds import Degree, degree
from companion.preferences.voicings import HandLimits, VoicingPreferences

FaultKind = Literal["wrong", "avoid", "incomplete", "root", "against", "rubs", "crosses", "mud", "hand", "alone"]
"""A note outside the chord's scale; one that clashes with it when held; third or seventh missing; the root doubled over
the bass; two colours that exclude each other; a clash with melody or bass; a note above the melody or under the bass;
too low for its interval; more than the hands hold; no chord at all."""
RUBS = (1, 13)
"""Semitones above a note at which another rubs: a semitone, a minor ninth."""
ROOT_ALLOWED = ("m7b5", "dim7", "power", "other")
"""Kinds of chord that a hand plays with the root, too."""
_DOMINANTS = ("7", "7alt", "7sus", "aug", "sus")
_MAJORS = ("maj7", "6", "maj")
_OVER_DOMINANTS = {1: "b9", 2: "9", 3: "#9", 5: "11", 6: "#11", 8: "b13", 9: "13"}
_OVER_OTHERS = {1: "b9", 2: "9", 5: "11", 6: "#11", 8: "b13", 9: "13", 11: "7"}
_PARTED = "|"


@dataclass(frozen=True)
class ChordFault:
    """What is wrong with a chord."""

    kind: FaultKind
    notes: tuple[int, ...] = ()
    """MIDI numbers that have it."""
    degree: str = ""
    """What is missing."""


@dataclass(frozen=True)
class Surroundings:
    """What sounds with a chord, and when."""

    melody: tuple[int, ...] = ()
    bass: tuple[int, ...] = ()


ALONE = Surroundings()


def form_quality(harmony: Harmony) -> str:
    """The kind of chord under which ``voicings.toml`` has its forms.

    A minor triad takes the seventh of the key where that is in its scale, else the sixth.
    """
    quality = harmony.chord.quality
    if quality == "m":
        return "m7" if (harmony.root + 10) % 12 in harmony.scale else "m6"
    return quality


def degree_above(harmony: Harmony, midi: int) -> Degree:
    """The degree that a note is in a voicing: a ninth and not a second."""
    found = harmony.tones.get(midi % 12)
    if found is not None:
        return Degree(found.number + 7, found.alter) if found.number in (2, 4) and 3 in _numbers(harmony) else found
    above = (midi - harmony.root) % 12
    colours = _OVER_DOMINANTS if harmony.chord.quality in _DOMINANTS else _OVER_OTHERS
    plain = ("1", "b9", "9", "b3", "3", "11", "b5", "5", "b13", "13", "b7", "7")
    return degree(colours.get(above, plain[above]))


def _numbers(harmony: Harmony) -> frozenset[int]:
    return frozenset(tone.number for tone in harmony.tones.values())


def row(harmony: Harmony, midi: Sequence[int]) -> tuple[Degree, ...]:
    """The degrees of a chord, from the lowest note up."""
    return tuple(degree_above(harmony, note) for note in midi)


def left_hand(hand: HandLimits, midi: Sequence[int]) -> int | None:
    """How many notes, from the lowest up, the left hand takes; 0 where one hand holds all; None where two can't.

    The hands part at the widest gap of those at which both can hold their notes.
    """
    notes = sorted(midi)
    if _held(hand, notes):
        return 0
    gaps = [
        (notes[n] - notes[n - 1], -n) for n in range(1, len(notes)) if _held(hand, notes[:n]) and _held(hand, notes[n:])
    ]
    return -max(gaps)[1] if gaps else None


def _held(hand: HandLimits, notes: Sequence[int]) -> bool:
    return len(notes) <= hand.notes and notes[-1] - notes[0] <= hand.span


def chord_faults(
    voicings: VoicingPreferences, harmony: Harmony, midi: Sequence[int], around: Surroundings = ALONE
) -> list[ChordFault]:
    """All that is wrong with a chord where it stands.

    Parameters
    ----------
    voicings : VoicingPreferences
    harmony : Harmony
        The chart's chord.
    midi : sequence of int
        Its notes, the bass not among them.
    around : Surroundings
        MIDI numbers of the melody that sounds with it, and of the bass.
    """
    notes = sorted(set(midi))
    if not notes:
        return [ChordFault("alone")]
    found = _of_notes(harmony, notes, around)
    if not found and not is_form(voicings, form_quality(harmony), semitones(harmony, notes)):
        found = _of_the_whole(harmony, notes, around)
    found += _around(harmony, notes, around)
    if left_hand(voicings.hand, notes) is None:
        found.append(ChordFault("hand", tuple(notes)))
    low = [around.bass[-1]] if around.bass and around.bass[-1] < notes[0] else []
    if muddy(voicings, [*low, *notes]):
        limits = voicings.low_limits
        found += [ChordFault("mud", (a, b)) for a, b in pairwise([*low, *notes]) if a < limits.get(b - a, 0)]
    return found


def semitones(harmony: Harmony, notes: Sequence[int]) -> tuple[int, ...]:
    """Semitones above the root, 0-11, each once."""
    return tuple(dict.fromkeys((note - harmony.root) % 12 for note in notes))


def may_have(harmony: Harmony, tone: Degree) -> bool:
    """Whether a chord may have a degree: its own, one of its scale that doesn't clash, or a colour that is free."""
    pc = (harmony.root + tone.semitones) % 12
    return pc in harmony.colours and pc not in harmony.avoid


def _of_notes(harmony: Harmony, notes: Sequence[int], around: Surroundings) -> list[ChordFault]:
    """Notes that the chord can't have, each by itself and against another."""
    may = harmony.colours
    if has_own_notes_alone(harmony):
        outside = tuple(note for note in notes if note % 12 not in may)
        return [ChordFault("wrong", outside)] if outside else []
    wrong = tuple(n for n in notes if n % 12 not in may and n % 12 not in harmony.avoid)
    sung = {note % 12 for note in around.melody}  # where the melody has the fourth, the third gives way to it
    held = tuple(n for n in notes if n % 12 in harmony.avoid - sung)
    against = _against(harmony, notes)
    ways: tuple[tuple[FaultKind, tuple[int, ...]], ...] = (("wrong", wrong), ("avoid", held), ("against", against))
    return [ChordFault(kind, which) for kind, which in ways if which]


def _against(harmony: Harmony, notes: Sequence[int]) -> tuple[int, ...]:
    """Notes that are in two colours at once: a ninth natural and altered, a thirteenth, a fifth beside a flat 13."""
    if harmony.chord.quality not in _DOMINANTS:
        return ()
    by = {(note - harmony.root) % 12: note for note in notes}
    pairs = ((2, 1), (2, 3), (9, 8), (7, 8))
    return tuple(sorted({by[one] for a, b in pairs if a in by and b in by for one in (a, b)}))


def _of_the_whole(harmony: Harmony, notes: Sequence[int], around: Surroundings) -> list[ChordFault]:
    """What a chord that is no form of the handbooks lacks or has too many of."""
    had = {note % 12 for note in (*notes, *around.melody)}
    if has_own_notes_alone(harmony):
        missing = [pc for pc in harmony.tones if pc not in had | {pc % 12 for pc in around.bass}]
        missing = [pc for pc in missing if pc != harmony.root and harmony.tones[pc].number != 5]
        return [ChordFault("incomplete", (), str(harmony.tones[pc])) for pc in missing]
    found = [
        ChordFault("incomplete", (), str(harmony.tones.get(pc) or harmony.scale.get(pc) or ""))
        for pc in sorted(harmony.guides - had)
        if not _stands_for(harmony, pc, had) and not _gives_way(harmony, pc, around)
    ]
    root = tuple(n for n in notes if n % 12 == harmony.root)
    if root and around.bass and harmony.chord.quality not in ROOT_ALLOWED:
        found.append(ChordFault("root", root))
    return found


def _stands_for(harmony: Harmony, guide: int, had: set[int]) -> bool:
    """Whether a sixth stands for the seventh, or a seventh for the sixth, of a chord that isn't a dominant.

    Of a diminished chord any note may be raised by a tone.
    """
    if harmony.chord.quality == "dim7":
        return (guide + 2) % 12 in had
    if harmony.chord.quality not in ("maj7", "6", "maj", "m6", "m", "mmaj7"):
        return False
    sevenths = {(harmony.root + above) % 12 for above in (9, 11)}
    return guide in sevenths and bool(sevenths & had)


def _gives_way(harmony: Harmony, guide: int, around: Surroundings) -> bool:
    """Whether a major third gives way to the melody's fourth."""
    above = (guide - harmony.root) % 12
    return above == 4 and any((note - harmony.root) % 12 == 5 for note in around.melody)


def _around(harmony: Harmony, notes: Sequence[int], around: Surroundings) -> list[ChordFault]:
    """Clashes with melody and bass, and what lies beyond them."""
    tones = [low for low in around.bass if _is_tone(harmony, low)]
    found = [
        ChordFault("rubs", (note,))
        for note in notes
        if any(over - note in RUBS and not is_own_rub(harmony, note, over) for over in around.melody)
        or any(note - low in RUBS and not is_own_rub(harmony, low, note) for low in tones)
    ]
    above = tuple(note for note in notes if around.melody and note >= min(around.melody))
    under = tuple(note for note in notes if around.bass and note <= max(around.bass))
    return found + [ChordFault("crosses", which) for which in (above, under) if which]


def _is_tone(harmony: Harmony, midi: int) -> bool:
    """Whether a bass note belongs to the chord: one that passes is heard as on its way, and rubs with nothing."""
    return midi % 12 in harmony.tones or midi % 12 == harmony.bass


def is_own_rub(harmony: Harmony, low: int, high: int) -> bool:
    """Whether two notes that rub are the chord's own: its flat ninth over the root, its root over the seventh."""
    own_ninth = (high - harmony.root) % 12 == 1 and high % 12 in harmony.tones
    own_seventh = (low - harmony.root) % 12 == 11 and low % 12 in harmony.tones
    return own_ninth or own_seventh


def is_form(voicings: VoicingPreferences, quality: str, semitones: Sequence[int]) -> bool:
    """Whether a row, in semitones above the root from the lowest note up, is a form of the handbooks in any colour."""
    return tuple(semitones) in _form_rows(voicings, quality)


COLOURS: Mapping[str, tuple[str, ...]] = {
    "9": ("9", "b9", "#9"), "b9": ("b9", "#9", "9"), "#9": ("#9", "b9", "9"), "13": ("13", "b13"), "b13": ("b13", "13"),
    "5": ("5", "b5", "#5"), "3": ("3",), "11": ("11", "#11"),
}  # fmt: skip
"""What may stand for a degree over a dominant."""
MAJOR_COLOURS: Mapping[str, tuple[str, ...]] = {"5": ("5", "#11", "#5", "b5")}


def colours_of(quality: str) -> Mapping[str, tuple[str, ...]]:
    """What may stand for a degree in a kind of chord, where it may be another than the form's own."""
    return COLOURS if quality in _DOMINANTS else MAJOR_COLOURS if quality in _MAJORS else {}


@lru_cache(maxsize=64)
def _form_rows(voicings: VoicingPreferences, quality: str) -> frozenset[tuple[int, ...]]:
    """Every form of a kind of chord, in every colour."""
    colours = colours_of(quality)
    found: set[tuple[int, ...]] = set()
    for family in voicings.families.values():
        for text in family.forms.get(quality, {}).values():
            rows: list[tuple[int, ...]] = [()]
            for word in text.replace(_PARTED, " ").split():
                rows = [(*row, degree(way).pc) for row in rows for way in colours.get(word, (word,))]
            found |= {row for row in rows if len(set(row)) == len(row)}
    return frozenset(found)


# --- limits that the arranger's chords keep as well -------------------------------------------------------------------


def fits_hands(hand: HandLimits, midi: Sequence[int], left: int) -> bool:
    """Whether the lowest ``left`` notes fit one hand and the others the other."""
    hands = midi[:left], midi[left:]
    return all(len(held) <= hand.notes and (not held or held[-1] - held[0] <= hand.span) for held in hands)


def muddy(voicings: VoicingPreferences, midi: Sequence[int]) -> bool:
    """Whether two neighbours lie below the low limit of their interval."""
    limits = voicings.low_limits
    return any(low < limits.get(high - low, 0) for low, high in pairwise(midi))


def clear(voicings: VoicingPreferences, midi: tuple[int, ...], sounding: Sequence[int], bass: Sequence[int]) -> bool:
    """Nothing above the melody or a semitone or minor ninth below it; no mud against the bass, nor below it."""
    for above in sounding:
        if midi[-1] >= above or any(above - note in (1, 13) for note in midi):
            return False
    limits = voicings.low_limits
    return all(low < midi[0] and low >= limits.get(midi[0] - low, 0) for low in bass)
