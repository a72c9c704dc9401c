"""Which scales serve for improvising over a chord, and over a whole tune.

Conventions: a scale's degrees count from its root and lie within one octave. Names are spelled as scales are taught: a
scale of seven notes has each letter once (D altered is E flat melodic minor from D: D Eb F Gb Ab Bb C); a diminished
scale has both thirds or both sixths, as in C Db Eb E F# G A Bb. Pitch classes 0-11 with C = 0.

Method: for each quality an order of preference; where the chord stands (what follows, where the tonic is) may put
another scale first, and a ii-V-I is read in the key that it leads to; a scale that lacks a note of the symbol is left
out, but for a dominant's plain fifth and for an eleventh that a 13th chord holds by definition only. Source of chord
and scale pairs: Levine, The Jazz Theory Book, 1995 (from memory); blues scales and what serves a whole minor tune:
common practice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise, product
from typing import Protocol

from companion.music.chords import Chord
from companion.music.kinds import Degree, degrees
from companion.music.pitch import STEPS, Name, name_at_fifth

SCALES: dict[str, tuple[Degree, ...]] = {
    name: degrees(steps)
    for name, steps in {
        "major": "1 2 3 4 5 6 7",
        "ionian": "1 2 3 4 5 6 7",
        "dorian": "1 2 b3 4 5 6 b7",
        "phrygian": "1 b2 b3 4 5 b6 b7",
        "lydian": "1 2 3 #4 5 6 7",
        "mixolydian": "1 2 3 4 5 6 b7",
        "aeolian": "1 2 b3 4 5 b6 b7",
        "locrian": "1 b2 b3 4 b5 b6 b7",
        "melodic minor": "1 2 b3 4 5 6 7",
        "dorian b2": "1 b2 b3 4 5 6 b7",
        "lydian augmented": "1 2 3 #4 #5 6 7",
        "lydian dominant": "1 2 3 #4 5 6 b7",
        "mixolydian b6": "1 2 3 4 5 b6 b7",
        "locrian natural 2": "1 2 b3 4 b5 b6 b7",
        "altered": "1 b2 b3 b4 b5 b6 b7",
        "harmonic minor": "1 2 b3 4 5 b6 7",
        "phrygian dominant": "1 b2 3 4 5 b6 b7",
        "half-whole diminished": "1 b2 b3 3 #4 5 6 b7",
        "whole-half diminished": "1 2 b3 4 b5 b6 6 7",
        "whole tone": "1 2 3 #4 #5 b7",
        "minor blues": "1 b3 4 b5 5 b7",
        "major blues": "1 2 b3 3 5 6",
    }.items()
}
_MODES = ("ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian")
_DOMINANT = (
    "mixolydian", "lydian dominant", "half-whole diminished", "phrygian dominant", "altered", "mixolydian b6",
    "whole tone",
)  # fmt: skip
_TO_MINOR = ("phrygian dominant", "altered", "half-whole diminished", "mixolydian b6")
_FOR_QUALITY: dict[str, tuple[str, ...]] = {
    "maj7": ("ionian", "lydian", "lydian augmented"),
    "6": ("ionian", "lydian", "major blues"),
    "maj": ("ionian", "lydian", "major blues", "mixolydian"),
    "m7": ("dorian", "aeolian", "phrygian", "minor blues"),
    "m6": ("melodic minor", "dorian"),
    "mmaj7": ("melodic minor", "harmonic minor"),
    "m": ("dorian", "aeolian", "melodic minor", "harmonic minor", "minor blues"),
    "7": _DOMINANT,
    "7sus": ("mixolydian", "dorian b2", "phrygian", "dorian"),
    "7alt": ("altered", "half-whole diminished"),
    "m7b5": ("locrian", "locrian natural 2"),
    "dim7": ("whole-half diminished",),
    "aug": ("whole tone", "lydian augmented"),
    "sus": ("mixolydian", "ionian", "dorian", "lydian"),
    "power": ("ionian", "mixolydian", "dorian", "aeolian"),
}
# What a dominant's symbol asks for, the first degree found deciding.
_FOR_ALTERATION = {
    "b9": ("half-whole diminished", "phrygian dominant", "altered"),
    "#9": ("half-whole diminished", "altered"),
    "#5": ("whole tone", "altered", "mixolydian b6"),
    "b5": ("whole tone", "lydian dominant", "altered"),
    "#11": ("lydian dominant", "half-whole diminished", "whole tone"),
    "b13": ("mixolydian b6", "phrygian dominant", "altered", "whole tone"),
}
_PLAIN_MAJOR = frozenset({"maj7", "6", "maj"})
_MINOR = frozenset({"m7", "m6", "mmaj7", "m", "m7b5"})
_DOMINANTS = frozenset({"7", "7alt", "7sus"})


@dataclass(frozen=True)
class Scale:
    """A scale on a root."""

    name: str
    root: Name
    degrees: tuple[Degree, ...]

    @property
    def pitch_classes(self) -> tuple[int, ...]:
        """Pitch classes 0-11 from the root up."""
        return tuple((self.root.pc + tone.semitones) % 12 for tone in self.degrees)

    @property
    def names(self) -> tuple[Name, ...]:
        """The notes, spelled, from the root up."""
        return tuple(self.root.above(tone.number, tone.pc) for tone in self.degrees)

    @property
    def names_to_read(self) -> tuple[Name, ...]:
        """The same notes for a player's eye: no double accidentals, and where possible no letter twice running.

        >>> " ".join(str(note) for note in scale(Name("F", 1), "altered").names_to_read)
        'F# G A Bb C D E'
        """
        return min(product(*(_ways_to_write(note) for note in self.names)), key=lambda way: _effort(way, self.names))

    def __str__(self) -> str:
        return f"{self.root} {self.name}"


def _ways_to_write(note: Name) -> tuple[Name, ...]:
    simple = (Name(step, alter) for step in STEPS for alter in (0, -1, 1))
    return tuple(name for name in simple if name.pc == note.pc)


_HARD_TO_READ = {"E#": 1.25, "B#": 1.7, "Cb": 1.6, "Fb": 1.6}
_HARDER_UNASKED = 1.0
"""More for one of them where the scale's own spelling has another name."""


def _effort(names: tuple[Name, ...], spelled: tuple[Name, ...]) -> float:
    """How hard a scale is to read: a letter twice running, another spelling, E sharp and its like.

    Seven notes want seven letters; a blues or diminished scale must use some letter twice.
    """
    again = sum(a.step == b.step for a, b in pairwise(names))
    other = sum(a != b for a, b in zip(names, spelled, strict=True))
    hard = sum(
        _HARD_TO_READ[str(a)] + (_HARDER_UNASKED if a != b else 0.0)
        for a, b in zip(names, spelled, strict=True)
        if str(a) in _HARD_TO_READ
    )
    return (2.0 if len(names) == 7 else 1.4) * again + 1.5 * other + hard + 4.0 * (names[0] != spelled[0])


def scale(root: Name, name: str) -> Scale:
    """The scale of a name in :data:`SCALES` on a root.

    >>> " ".join(str(note) for note in scale(Name("E", -1), "lydian dominant").names)
    'Eb F G A Bb C Db'
    """
    return Scale(name, root, SCALES[name])


def resolves_to_minor(chord: Chord, follows: Chord) -> bool:
    """Whether a dominant falls a fifth into a minor chord; a half-diminished one counts as minor."""
    return chord.quality in _DOMINANTS and _interval(chord, follows) == 5 and follows.quality in _MINOR


@lru_cache(maxsize=2048)
def scales_for(
    chord: Chord,
    resolves_to_minor: bool = False,
    *,
    follows: Chord | None = None,
    tonic: Name | None = None,
    minor: bool = False,
) -> tuple[Scale, ...]:
    """Scales for a chord, the best first; none for N.C.

    Parameters
    ----------
    chord : Chord
    resolves_to_minor : bool
        The chord is the dominant of a minor chord that follows it.
    follows : Chord, optional
        The next chord; tells the same, and whether the root falls by a semitone (a tritone substitute).
    tonic : Name, optional
        The tonic of the tune: a chord of its key takes the key's own notes.
    minor : bool
        The tune is in minor.

    >>> [str(one) for one in scales_for(Chord(Name("G"), "dominant"), resolves_to_minor=True)][:2]
    ['G phrygian dominant', 'G altered']
    """
    if chord.root is None:
        return ()
    order = (
        *_by_place(chord, resolves_to_minor, follows, tonic, minor),
        *_by_symbol(chord),
        *_FOR_QUALITY.get(chord.quality, tuple(SCALES)),
    )
    needed = _needed(chord)
    lacking = {name: len(needed - {tone.pc for tone in SCALES[name]}) for name in order}
    # No scale has all notes of an outlandish symbol: then the nearest ones.
    fewest = min(lacking.values())
    return tuple(scale(chord.root, name) for name, missing in lacking.items() if missing == fewest)


def _needed(chord: Chord) -> frozenset[int]:
    """Semitones above the root, 0-11, that a scale must have."""
    optional = set()
    if chord.quality in ("7", "7sus"):
        optional.add(Degree(5))
    if chord.quality == "7sus":
        optional.add(Degree(3))
    return frozenset(tone.pc for tone in _meant(chord) if tone not in optional)


def _meant(chord: Chord) -> frozenset[Degree]:
    """A chord's tones, without an eleventh that it holds by definition only."""
    by_definition = {Degree(11)} if chord.kind in ("dominant-13th", "major-13th") else set()
    return frozenset(chord.tones) - by_definition


def _by_symbol(chord: Chord) -> tuple[str, ...]:
    if chord.quality != "7":
        return ()
    has = {str(tone) for tone in chord.tones}
    return next((order for altered, order in _FOR_ALTERATION.items() if altered in has), ())


def _by_place(chord: Chord, to_minor: bool, follows: Chord | None, tonic: Name | None, minor: bool) -> Iterable[str]:
    """What the place of the chord asks for, before what its symbol does."""
    falls_by_fifth = follows is not None and _interval(chord, follows) == 5
    if chord.quality == "7":
        if to_minor or (follows and resolves_to_minor(chord, follows)):
            return _TO_MINOR
        if _is_substitute(chord, follows, tonic, minor, falls_by_fifth):
            return ("lydian dominant",)
    # A diminished triad is played as dim7 and a sus chord as a dominant, in the key or not.
    if tonic is None or chord.root is None or chord.quality in ("dim7", "7sus"):
        return ()
    if chord.root.pc == tonic.pc and minor:
        return ("melodic minor",) if chord.quality == "m" else ()
    key = tonic.above(3, 3) if minor else tonic
    step = _MAJOR_STEPS.get((chord.root.pc - key.pc) % 12)
    meant = {(chord.root.pc + tone.pc) % 12 for tone in _meant(chord)}
    if step is not None and meant <= set(scale(key, "major").pitch_classes):
        return (_MODES[step],)
    borrowed = (chord.root.pc - tonic.pc) % 12 in _BORROWED and chord.quality in _PLAIN_MAJOR
    return ("lydian",) if borrowed else ()


_BORROWED = frozenset({1, 3, 8, 10})
"""Semitones above the tonic of major chords borrowed from elsewhere: bII, bIII, bVI and bVII, all lydian (Levine, The
Jazz Theory Book, 1995, from memory: a major chord that isn't the tonic's takes the raised fourth)."""


_MAJOR_STEPS = {tone.pc: step for step, tone in enumerate(SCALES["major"])}


def _is_substitute(chord: Chord, follows: Chord | None, tonic: Name | None, minor: bool, falls_by_fifth: bool) -> bool:
    """A dominant that stands for another: on the lowered second, the lowered seventh, or falling by a semitone."""
    if follows is not None and _interval(chord, follows) == 11:
        return True
    if tonic is None or chord.root is None or falls_by_fifth:
        return False
    above = (chord.root.pc - tonic.pc) % 12
    return above == 1 or (above == 10 and not minor)


def _interval(chord: Chord, follows: Chord) -> int | None:
    """Semitones from root up to root, 0-11."""
    return (follows.root.pc - chord.root.pc) % 12 if chord.root and follows.root else None


class Span(Protocol):
    """A chord and the stretch it rules, in quarters."""

    @property
    def start(self) -> Fraction:
        """Where it begins."""

    @property
    def end(self) -> Fraction:
        """Where it ends, excluded."""

    @property
    def chord(self) -> Chord:
        """What is played there."""


class HarmonicForm(Protocol):
    """What a form tells about its harmony."""

    @property
    def fifths(self) -> int:
        """Sharps (positive) or flats (negative) of the key signature."""

    @property
    def minor(self) -> bool:
        """Whether the tonic is minor."""

    @property
    def chords(self) -> Sequence[Span]:
        """Once through, in order."""


def tonic_of(fifths: int, minor: bool) -> Name:
    """The tonic of a key signature.

    >>> str(tonic_of(-3, True)), str(tonic_of(-3, False))
    ('C', 'Eb')
    """
    return name_at_fifth(fifths + 3 if minor else fifths)


def scales_over(tune: HarmonicForm) -> tuple[tuple[Scale, ...], ...]:
    """The scales for each chord of a form, in its order, each where it stands; the last chord leads to the first."""
    chords = [span.chord for span in tune.chords]
    keys = keys_over(chords, tonic_of(tune.fifths, tune.minor), tune.minor)
    found = []
    for here, (chord, (tonic, minor)) in enumerate(zip(chords, keys, strict=True)):
        after = (*chords[here + 1 :], *chords[: here + 1])
        follows = next((other for other in after if other.is_chord and other != chord), None)
        found.append(scales_for(chord, follows=follows, tonic=tonic, minor=minor))
    return tuple(found)


def keys_over(chords: Sequence[Chord], tonic: Name, minor: bool) -> list[tuple[Name, bool]]:
    """The key in which each chord of a form is read, as its tonic and whether it is minor.

    It is the tune's, but for the chords of a ii-V-I, which are read in the key that they lead to, and for a ii-V that
    leads elsewhere than to its I: its ii is one (common practice). The last chord leads to the first.

    >>> from companion.music.chords import parse_chord
    >>> changes = [parse_chord(symbol) for symbol in ("Am7", "D7", "Gmaj7", "C6")]
    >>> [str(key) for key, _ in keys_over(changes, Name("C"), False)]
    ['G', 'G', 'G', 'C']
    """
    found = [(tonic, minor)] * len(chords)
    runs = _runs(chords)
    for n, two in enumerate(runs):
        if len(runs) < 3:
            break
        five, one = runs[(n + 1) % len(runs)], runs[(n + 2) % len(runs)]
        goal = _goal(chords[two[-1]], [chords[k] for k in five], chords[one[0]])
        if goal is None:
            continue
        arrived = chords[one[0]].root == goal[0]
        for k in (*two, *five, *(one if arrived else ())):
            found[k] = goal
    return found


_TWOS = frozenset({"m7", "m7b5", "m"})
_ONES = {"maj7": False, "6": False, "maj": False, "m6": True, "mmaj7": True, "m7": True, "m": True}
"""Qualities that a I may have, and whether it is minor."""


def _runs(chords: Sequence[Chord]) -> list[list[int]]:
    """Indices of neighbours that are on one root: a chord again, or a dominant after its own suspension."""
    found: list[list[int]] = []
    for k, chord in enumerate(chords):
        before = chords[found[-1][-1]] if found else None
        same = before is not None and before.root == chord.root
        if same and before is not None and (before.quality == chord.quality or _both_dominant(before, chord)):
            found[-1].append(k)
        else:
            found.append([k])
    return found


def _both_dominant(a: Chord, b: Chord) -> bool:
    return a.quality in _DOMINANTS and b.quality in _DOMINANTS


def _goal(two: Chord, five: Sequence[Chord], one: Chord) -> tuple[Name, bool] | None:
    """The key to which a ii-V leads; None where there is none, or where it leads to minor and says nothing of its I."""
    if two.root is None or five[-1].root is None or two.quality not in _TWOS or five[-1].quality not in _DOMINANTS:
        return None
    if _interval(two, five[-1]) != 5:
        return None
    goal = five[-1].root.above(4, 5)
    if _interval(five[-1], one) == 5 and one.quality in _ONES and one.root is not None:
        return one.root, _ONES[one.quality]
    return (goal, False) if two.quality == "m7" and {c.quality for c in five} <= {"7", "7sus"} else None


TUNE_SHARE = 0.10
"""A third scale is worth naming when it serves this share of the form, where the first doesn't."""
SERVED = 0.5
"""Of the time of a section, or of a form, that scales have to serve to be offered for it."""


class SectionedForm(HarmonicForm, Protocol):
    """A form whose sections are known."""

    @property
    def sections(self) -> Sequence[NamedSpan]:
        """Once through, in order."""


class NamedSpan(Protocol):
    """A section and the stretch it covers, in quarters."""

    @property
    def name(self) -> str:
        """What it is called."""

    @property
    def start(self) -> Fraction:
        """Where it begins."""

    @property
    def end(self) -> Fraction:
        """Where it ends, excluded."""


def tune_scales(tune: HarmonicForm) -> tuple[Scale, ...]:
    """The two or three scales that serve over a whole tune, taken in turn, the plainest first.

    In minor the relative major scale and the tonic's minor blues scale; in major the tonic's major and major blues
    scales; over a blues the tonic's mixolydian scale and both blues scales (common practice). A third one is added
    where it has root, third and seventh of chords for which the first lacks them. There are none where the tune goes
    through so many keys that they would serve less than half of it.
    """
    found = _offered(tune)
    spans = [span for span in tune.chords if span.chord.is_chord]
    return found if _share_served(tune, found, spans) >= SERVED else ()


def _offered(tune: HarmonicForm) -> tuple[Scale, ...]:
    tonic = tonic_of(tune.fifths, tune.minor)
    if tune.minor:
        first, second = scale(tonic.above(3, 3), "major"), scale(tonic, "minor blues")
        more = [scale(tonic, name) for name in ("harmonic minor", "melodic minor", "dorian")]
    elif _is_blues(tune, tonic):
        return scale(tonic, "mixolydian"), scale(tonic, "minor blues"), scale(tonic, "major blues")
    else:
        first, second = scale(tonic, "major"), scale(tonic, "major blues")
        more = [scale(tonic, "mixolydian"), scale(tonic, "minor blues")]
    rest = [span for span in tune.chords if span.chord.is_chord and not _serves(first, span.chord)]
    third = max(more, key=lambda one: _time(span for span in rest if _serves(one, span.chord)))
    served = _time(span for span in rest if _serves(third, span.chord))
    return (first, second, third) if served >= TUNE_SHARE * _time(tune.chords) > 0 else (first, second)


def unserved_sections(tune: SectionedForm, scales: Sequence[Scale]) -> tuple[str, ...]:
    """Names of the sections in which the scales of a tune serve less than half of the time, each once."""
    spans = [span for span in tune.chords if span.chord.is_chord]
    found = []
    for section in tune.sections:
        inside = [span for span in spans if section.start <= span.start < section.end]
        if _share_served(tune, scales, inside) < SERVED:
            found.append(section.name)
    return tuple(dict.fromkeys(found))


def tune_scales_in_words(tune: SectionedForm, named: Callable[[Scale], str] = str) -> str:
    """The scales of a tune in one line, with the sections that they don't serve; or why there are none."""
    scales = tune_scales(tune)
    if not scales:
        return "none, it goes through too many keys; take each chord's own scale"
    lacking = unserved_sections(tune, scales)
    listed = " and ".join([", ".join(lacking[:-1]), lacking[-1]] if len(lacking) > 1 else lacking)
    return "; ".join(named(one) for one in scales) + (
        f"; not in {listed}, where each chord has its own scale" if lacking else ""
    )


def _share_served(tune: HarmonicForm, scales: Sequence[Scale], spans: Sequence[Span]) -> float:
    """The share of the time of some chords that a tune's scales serve; all, of a blues and where there is no chord.

    A blues scale serves by its sound, not by its notes, so it isn't counted.
    """
    if _is_blues(tune, tonic_of(tune.fifths, tune.minor)) or not spans:
        return 1.0
    plain = [one for one in scales if "blues" not in one.name]
    return _time(span for span in spans if any(_serves(one, span.chord) for one in plain)) / (_time(spans) or 1.0)


def _is_blues(tune: HarmonicForm, tonic: Name) -> bool:
    """Whether the tonic is mostly a dominant chord."""
    home = [span for span in tune.chords if span.chord.root and span.chord.root.pc == tonic.pc]
    return 2 * _time(span for span in home if span.chord.quality in _DOMINANTS) > _time(home)


def _serves(one: Scale, chord: Chord) -> bool:
    """Whether a scale has what tells the chord apart: root, third (or fourth, in sus) and seventh (or sixth)."""
    telling = {tone.pc for tone in chord.tones if tone.number in (1, 2, 3, 4, 6, 7)}
    return chord.root is not None and {(chord.root.pc + tone) % 12 for tone in telling} <= set(one.pitch_classes)


def _time(spans: Iterable[Span]) -> float:
    return float(sum(span.end - span.start for span in spans))
