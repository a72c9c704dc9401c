"""Which chord a hand means: names for played notes, by the bass and by what comes before and after.

The same four notes have several names (C13 from its third is Gb7alt; Cm6/9 is F13), so each is given every name that
its notes allow, at a price, and the sequence with the cheapest names and steps between them is found (dynamic
programming, as in Viterbi decoding). A step is cheap as the trade's progressions are usual: roots fall by fifths, a
minor seventh leads to a dominant, a dominant to its tonic. Whether the hand plays roots is decided once for the whole
sequence, and so is the key where it isn't known.

Conventions: MIDI numbers; pitch classes 0-11; keys as ``fifths`` and minor. What is named is the chord that a lead
sheet would have: the ninths and thirteenths of rootless voicings are the player's own and not in the symbol, altered
ones are, and so is a ninth struck together with its root.

Source of the voicings: Levine, The Jazz Piano Book, 1989 (from memory), and common practice. Method after Raphael &
Stoddard, Functional Harmonic Analysis Using Probabilistic Models, Computer Music Journal 28(3), 2004 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

from companion.music.chords import Chord, parse_chord
from companion.music.kinds import degree
from companion.music.pitch import STEPS, Name, name_in_key

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

BASS_BELOW = 48
"""Notes under this one are a bass, C3: chords lie above (common practice)."""
BASS_APART = 10
"""Semitones from the lowest note to the next from which on the lowest is a bass."""


@dataclass(frozen=True)
class SoundedChord:
    """Notes that sound together."""

    notes: tuple[int, ...]
    """MIDI numbers from the bottom up, the bass not among them."""
    bass: int | None = None
    """MIDI number or pitch class of the bass note, when one is heard."""


def with_bass(notes: Sequence[int]) -> SoundedChord:
    """Notes with their lowest taken for a bass where it lies low or apart.

    >>> with_bass([36, 52, 57, 58, 62]), with_bass([52, 57, 58, 62]).bass
    (SoundedChord(notes=(52, 57, 58, 62), bass=36), None)
    """
    low, *rest = sorted(set(notes))
    if rest and (low < BASS_BELOW <= rest[0] or rest[0] - low >= BASS_APART):
        return SoundedChord(tuple(rest), low)
    return SoundedChord((low, *rest))


@dataclass(frozen=True)
class Kind:
    """A kind of chord as hands play it; semitones above the root."""

    symbol: str
    needs: frozenset[int]
    """Without these it would be another chord."""
    has: frozenset[int]
    """Root and fifth: there or not."""
    may: frozenset[int]
    """Colours that a player adds."""
    price: float
    """How rare it is."""
    role: str
    """What it does in a progression: 'tonic', 'minor', 'ii', 'half', 'V', 'alt', 'sus', 'dim'."""


def _kind(symbol: str, needs: str, has: str, may: str, price: float, role: str) -> Kind:
    required, usual, added = (frozenset(map(int, text.split())) for text in (needs, has, may))
    return Kind(symbol, required, usual, added, price, role)


KINDS = (
    _kind("maj7", "4 11", "0 7", "2 9", 0.0, "tonic"),
    _kind("6", "4 9", "0 7", "2", 0.7, "tonic"),
    _kind("", "0 4 7", "", "2", 0.4, "tonic"),
    _kind("maj7#11", "4 6 11", "0 7", "2 9", 1.3, "tonic"),
    _kind("maj7#5", "4 8 11", "0", "2 9", 2.5, "tonic"),
    _kind("m7", "3 10", "0 7", "2 5", 0.0, "ii"),
    _kind("m6", "3 9", "0 7", "2", 0.9, "minor"),
    _kind("m(maj7)", "3 11", "0 7", "2 9", 1.2, "minor"),
    _kind("m", "0 3 7", "", "2", 0.4, "minor"),
    _kind("m7b5", "3 6 10", "0", "5 2", 0.4, "half"),
    _kind("dim7", "3 6 9", "0", "2 5 11", 0.8, "dim"),
    _kind("7", "4 10", "0 7", "2 9", 0.0, "V"),
    _kind("7b9", "1 4 10", "0 7", "9", 0.8, "alt"),
    _kind("7#9", "3 4 10", "0 7", "9", 1.4, "alt"),
    _kind("7alt", "1 4 8 10", "0", "", 0.6, "alt"),
    _kind("7alt", "3 4 8 10", "0", "", 0.3, "alt"),
    _kind("7alt", "3 4 6 10", "0", "", 0.9, "alt"),
    _kind("7alt", "1 4 6 10", "0", "8", 1.2, "alt"),
    _kind("7#11", "4 6 10", "0 7", "2 9", 1.4, "V"),
    _kind("7#5", "4 8 10", "0", "2", 1.0, "V"),
    _kind("7sus4", "5 10", "0 7", "2 9", 1.0, "sus"),
    _kind("7sus4b9", "1 5 10", "0 7", "", 2.0, "sus"),
    _kind("sus4", "0 5 7", "", "2", 1.2, "sus"),
    _kind("aug", "0 4 8", "", "", 1.2, "V"),
    _kind("dim", "0 3 6", "", "", 0.9, "dim"),
)
ROOTLESS = {
    "maj7": "3 5 7 9 | 7 9 3 5",
    "maj7#11": "7 9 3 #11",
    "6": "3 5 6 9 | 6 9 3 5",
    "m7": "b3 5 b7 9 | b7 9 b3 5",
    "m6": "b3 5 6 9 | 6 9 b3 5",
    "m(maj7)": "b3 5 7 9 | 7 9 b3 5",
    "7": "3 13 b7 9 | b7 9 3 13 | 3 5 b7 9 | b7 9 3 5",
    "7sus4": "b7 9 4 5 | 4 13 b7 9",
    "7alt": "3 b13 b7 #9 | b7 #9 3 b13 | 3 b13 b7 b9 | b7 b9 3 b13",
    "7b9": "3 13 b7 b9 | b7 b9 3 13",
    "m7b5": "b3 b5 b7 11",
    "7#5": "b7 9 3 #5",
    "7#11": "b7 9 3 b5",
}
"""Rootless voicings of the trade, degrees from the bottom up."""
OTHER_FORM = 2.0
"""A rootless chord of four notes in another form than those."""
MISSING, FOREIGN, COLOUR = 4.5, 6.0, 0.15
ROOTLESS_BOTTOM = frozenset({3, 4, 5, 9, 10, 11})
"""Rootless voicings stand on third or seventh (fourth, sixth or thirteenth): common practice."""
TRIADS, NO_TRIAD = (frozenset({0, 4, 7}), frozenset({0, 3, 7})), 1.0
"""A major or minor triad on its root, and what it costs to take that for a part of another chord."""
UNUSUAL_BOTTOM, TURNED, OTHER_BASS, STRANGE_BASS = 1.2, 0.9, 2.2, 4.0
ROOTED = {"roots": (0.0, 2.6), "rootless": (1.6, 0.3)}
"""Prices of a chord with and without its root, for a hand that plays roots and for one that leaves them out."""
RARER, NOT_HOME = 0.8, 0.7
"""That a hand leaves all roots out; that the last chord isn't the key's own."""
CANDIDATES = 14

# Semitones that the root rises from chord to chord, and what that costs.
_STEPS = {0: 0.5, 5: 0.0, 7: 0.9, 10: 1.0, 2: 0.9, 11: 0.8, 1: 1.1, 9: 0.9, 3: 1.3, 8: 1.2, 4: 1.3, 6: 1.6}
_LEADS = {
    ("ii", "V", 5): -1.2, ("ii", "alt", 5): -1.2, ("ii", "sus", 5): -0.8, ("half", "alt", 5): -1.6,
    ("half", "V", 5): -1.0, ("V", "tonic", 5): -1.0, ("V", "minor", 5): -0.6, ("alt", "minor", 5): -1.4,
    ("alt", "ii", 5): -1.0, ("alt", "tonic", 5): -0.8, ("V", "ii", 5): -0.6, ("V", "V", 5): -0.3,
    ("V", "tonic", 11): -0.6, ("alt", "tonic", 11): -0.5, ("V", "minor", 11): -0.4, ("sus", "V", 0): -0.6,
    ("sus", "alt", 0): -0.4, ("dim", "ii", 1): -0.8, ("dim", "V", 1): -0.3, ("ii", "V", 11): -0.1,
}  # fmt: skip
"""Progressions of the trade: role, role, semitones up."""
_MAJOR = {0: "tonic", 2: "ii", 4: "ii", 5: "tonic", 7: "V", 9: "ii", 11: "half"}
_MINOR = {0: "minor", 2: "half", 3: "tonic", 5: "ii", 7: "alt", 8: "tonic", 10: "V"}
_TRIAD_ROLES = {"": ("tonic", "V", "alt"), "m": ("minor", "ii"), "dim": ("half",)}
"""A triad goes for any chord that has its third and fifth: what it does in a key, its step says."""
IN_KEY, NEAR_KEY, OUTSIDE = 0.0, 0.5, 1.1


@dataclass(frozen=True)
class _CandidateName:
    root: int
    kind: Kind
    bass: int | None
    price: float
    rooted: bool
    ninth: bool = False
    """It has a ninth that isn't a rootless voicing's."""


def name_chords(
    struck: Sequence[SoundedChord], key: tuple[int, bool] | None = None, ends: bool = True
) -> tuple[Chord, ...]:
    """Name what was played, in order.

    Parameters
    ----------
    struck : sequence of SoundedChord
        One for each chord; none empty.
    key : (fifths, minor), optional
        The key; found out unless given.
    ends : bool
        Whether the last chord is likely to be the key's own.

    Returns
    -------
    tuple of Chord

    >>> rootless = (53, 57, 60, 64), (53, 57, 59, 64), (52, 55, 59, 62)
    >>> [chord.symbol for chord in name_chords([SoundedChord(notes) for notes in rootless])]
    ['Dm7', 'G7', 'Cmaj7']
    """
    if not struck:
        return ()
    names = [_names(one) for one in struck]
    steps = [_steps(before, here) for before, here in pairwise(names)]
    keys = [key] if key else [(fifths, minor) for fifths in range(-5, 7) for minor in (False, True)]
    found = []
    for style, prices in ROOTED.items():
        for fifths, minor in keys:
            cost, path = _cheapest(_costs(names, prices, fifths, minor, ends), steps)
            found.append((cost + (RARER if style == "rootless" else 0.0), path, fifths, minor))
    _, path, fifths, minor = min(found, key=lambda one: one[0])
    return tuple(_chord(of[place], fifths, minor) for of, place in zip(names, path, strict=True))


@lru_cache(maxsize=4096)
def _names(struck: SoundedChord) -> tuple[_CandidateName, ...]:
    """Every name that the notes allow, the cheapest first."""
    played = {note % 12 for note in struck.notes}
    bottom = min(struck.notes) % 12 if struck.notes else None
    bass = None if struck.bass is None else struck.bass % 12
    found = []
    for root in range(12):
        heard = {(pc - root) % 12 for pc in played}
        if bass is not None:
            heard |= {(bass - root) % 12}
        for kind in KINDS:
            known = kind.needs | kind.has | kind.may
            foreign = heard - known
            if bass is not None and (bass - root) % 12 in foreign and bass not in played:
                foreign = foreign - {(bass - root) % 12}
            price = kind.price + MISSING * len(kind.needs - heard) + FOREIGN * len(foreign)
            price += COLOUR * len(heard & kind.may)
            price += _stand(root, bottom, bass, heard, kind)
            if bass is None and kind.needs not in TRIADS and bottom is not None:
                price += NO_TRIAD * (frozenset((pc - bottom) % 12 for pc in played) in TRIADS)
            if root not in played and root != bass and len(struck.notes) >= 4:
                form = tuple((note - root) % 12 for note in sorted(struck.notes))
                price += 0.0 if form in _forms(kind.symbol) else OTHER_FORM
            slash = bass if bass is not None and bass != root else None
            found.append(_CandidateName(root, kind, slash, price, 0 in heard, _has_ninth(struck, root, kind)))
    return tuple(sorted(found, key=lambda name: name.price)[:CANDIDATES])


NINTHS = {
    "": "add9", "m": "m(add9)", "maj7": "maj9", "6": "6/9", "m7": "m9", "m6": "m6/9", "m(maj7)": "m(maj9)", "7": "9",
    "7#11": "9#11", "7#5": "9#5", "7sus4": "9sus4", "maj7#11": "maj9#11",
}  # fmt: skip
"""What a chord is called with its ninth (common practice)."""


def _has_ninth(struck: SoundedChord, root: int, kind: Kind) -> bool:
    """Whether a chord has a ninth that belongs in its symbol: the hand has the root, too, or the chord is a triad.

    A hand that leaves the root to the bass and has a seventh or sixth plays a rootless voicing, with the ninth of its
    own.
    """
    played = {(note - root) % 12 for note in struck.notes}
    heard = 2 in played and 2 in kind.may and kind.symbol in NINTHS
    return heard and (0 in played or kind.symbol in ("", "m"))


@cache
def _forms(symbol: str) -> frozenset[tuple[int, ...]]:
    """The rootless voicings of a kind, in semitones above the root within an octave."""
    texts = ROOTLESS.get(symbol, "").split(" | ")
    return frozenset(tuple(degree(text).pc for text in one.split()) for one in texts)


def _stand(root: int, bottom: int | None, bass: int | None, heard: set[int], kind: Kind) -> float:
    """What it costs that the chord stands on the note that it stands on."""
    if bass is not None:
        above = (bass - root) % 12
        return 0.0 if above == 0 else OTHER_BASS if above in kind.needs | kind.has else STRANGE_BASS
    above = ((bottom or 0) - root) % 12
    if above == 0:
        return 0.0
    if 0 in heard:
        return TURNED
    return 0.0 if above in ROOTLESS_BOTTOM else UNUSUAL_BOTTOM


def _steps(before: Sequence[_CandidateName], here: Sequence[_CandidateName]) -> NDArray[np.float64]:
    """The price of each step from one chord's names (rows) to the next one's (columns)."""
    import numpy as np

    return np.array([[_step(last, name) for name in here] for last in before])


def _costs(
    names: Sequence[Sequence[_CandidateName]], prices: tuple[float, float], fifths: int, minor: bool, ends: bool
) -> list[NDArray[np.float64]]:
    """What each name costs by itself, in a key."""
    import numpy as np

    tonic = (fifths * 7 + (9 if minor else 0)) % 12
    scale = _MINOR if minor else _MAJOR
    costs = [
        np.array([n.price + (prices[0] if n.rooted else prices[1]) + _in_key(n, tonic, scale) for n in one])
        for one in names
    ]
    if ends:
        costs[-1] += [0.0 if name.root == tonic else NOT_HOME for name in names[-1]]
    return costs


def _cheapest(costs: Sequence[NDArray[np.float64]], steps: Sequence[NDArray[np.float64]]) -> tuple[float, list[int]]:
    """The cheapest way through, and which name it takes of each chord (Viterbi)."""
    cost, ways = costs[0], []
    for own, step in zip(costs[1:], steps, strict=True):
        along = cost[:, None] + step
        ways.append(along.argmin(axis=0))
        cost = along.min(axis=0) + own
    path = [int(cost.argmin())]
    for way in reversed(ways):
        path.append(int(way[path[-1]]))
    return float(cost.min()), path[::-1]


def _in_key(name: _CandidateName, tonic: int, scale: dict[int, str]) -> float:
    degree = (name.root - tonic) % 12
    role = scale.get(degree)
    if role is None:
        return NEAR_KEY if name.kind.role in ("dim", "V", "alt") else OUTSIDE
    if role in (name.kind.role, *_TRIAD_ROLES.get(name.kind.symbol, ())) or (role == "alt" and name.kind.role == "V"):
        return IN_KEY
    return NEAR_KEY if name.kind.role in ("V", "alt", "sus") or role[0] == name.kind.role[0] else OUTSIDE


@lru_cache(maxsize=65536)
def _step(before: _CandidateName, here: _CandidateName) -> float:
    up = (here.root - before.root) % 12
    if up == 0 and before.kind == here.kind:
        return 0.0
    return _STEPS[up] + _LEADS.get((before.kind.role, here.kind.role, up), 0.0)


def _chord(name: _CandidateName, fifths: int, minor: bool) -> Chord:
    root = root_name(name.root, name.kind.role, fifths, minor)
    chord = parse_chord(f"{root}{NINTHS[name.kind.symbol] if name.ninth else name.kind.symbol}")
    return chord if name.bass is None else _over(chord, name.bass, fifths, minor)


def _over(chord: Chord, bass: int, fifths: int, minor: bool) -> Chord:
    """A chord over a bass, which has the chord's name for it, or else the key's."""
    own = {(chord.root.pc + tone.semitones) % 12: chord.name_of(tone) for tone in chord.tones} if chord.root else {}
    return replace(chord, bass=own.get(bass, name_in_key(bass, fifths, minor)))


def root_name(pc: int, role: str, fifths: int, minor: bool) -> Name:
    """The name of a root: the key's own, else the simplest that the key knows; never one with two signs.

    A raised step of minor is a chord's root only where it leads (common practice): Gm6 in G sharp minor is no F##m6,
    and Fm6 in F sharp minor no E#m6, whereas E#dim7 leads to F sharp minor.

    Parameters
    ----------
    pc : int
        Pitch class.
    role : str
        Of its chord, as in :class:`Kind`.
    fifths : int
    minor : bool

    >>> str(root_name(7, "minor", 5, True)), str(root_name(5, "minor", 3, True)), str(root_name(5, "dim", 3, True))
    ('G', 'F', 'E#')
    """
    name = name_in_key(pc, fifths, minor)
    plain = next((one for one in map(Name, STEPS) if one.pc == pc % 12), None)
    in_scale = fifths - 1 <= name.fifth <= fifths + 5
    leads = role in ("dim", "half") and abs(name.alter) == 1
    return plain if plain and not in_scale and not leads else name


def spelled_in_key(chord: Chord, fifths: int, minor: bool) -> Chord:
    """A chord that was named by ear with the names that a key has for its root and bass.

    Parameters
    ----------
    chord : Chord
    fifths : int
        Of the signature.
    minor : bool
    """
    if chord.root is None:
        return chord
    semitones = {tone.semitones % 12 for tone in chord.tones}
    role = "dim" if {3, 6} <= semitones and 7 not in semitones else ""
    rooted = replace(chord, root=root_name(chord.root.pc, role, fifths, minor), bass=None)
    return _over(rooted, chord.bass.pc, fifths, minor) if chord.bass else rooted
