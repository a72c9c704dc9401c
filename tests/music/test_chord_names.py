"""What a name of played notes costs, and a step from one chord to the next.

Voicings and progressions are the trade's (tests/reference/test_chord_names.py); what they cost against each other is
our own, and what stands here is what it is today.
"""

from __future__ import annotations

import numpy as np
import pytest

from companion.music.chord_names import (
    _MAJOR,
    _MINOR,
    KINDS,
    SoundedChord,
    _CandidateName,
    _cheapest,
    _costs,
    _in_key,
    _names,
    _step,
    name_chords,
    root_name,
    spelled_in_key,
    with_bass,
)
from companion.music.chords import parse_chord
from companion.music.pitch import name_in_key
from tests.wrapping import lines, wrapped

ROLES = {"tonic": "maj7", "minor": "m6", "ii": "m7", "half": "m7b5", "V": "7", "alt": "7alt", "sus": "7sus4",
         "dim": "dim7"}  # fmt: skip
"""A kind of each role."""
KIND = {kind.symbol: kind for kind in KINDS}


def named(root: int, symbol: str) -> _CandidateName:
    return _CandidateName(root, KIND[symbol], None, 0.0, True)


def told(name: _CandidateName) -> str:
    root = name_in_key(name.root, 0)
    bass = f"/{name_in_key(name.bass, 0)}" if name.bass is not None else ""
    return f"{root}{name.kind.symbol}{bass}{'' if name.rooted else '-'}{'+9' if name.ninth else ''}={name.price:.2f}"


@pytest.mark.parametrize(("notes", "bass", "names"), [
    ((60, 64, 67, 71), None, """
Cmaj7=0.00 Am7-=0.15 D7sus4-=3.30 Cmaj7#11=5.80 C=6.40 Em=7.30 G6=7.60 Dbm7b5-=8.40 Fmaj7#11-=9.15 Abmaj7#5-=10.50
C7=10.50 C6=11.20 F#7sus4b9-=11.20
"""),
    ((52, 57, 58, 62), None, """
C7-=0.30 F#7alt-=0.30 Gm6-=1.05 Bbmaj7#11=2.20 Em7b5=5.05 Bbmaj7=6.90 E7sus4=7.00 A7sus4b9=7.40 Gm(maj7)-=8.00
Asus4=8.10 Bm7-=8.15 Fmaj7-=8.15 C7#11-=8.20
"""),
    ((52, 57, 58, 62), 36, """
C7=0.30 F#7alt/C-=4.30 Gm6/C-=5.05 Bbmaj7#11/C=5.45 C7#11=6.20 C6=6.85 Em7b5/C=9.05 F#7alt/C-=9.10 Bbmaj7/C=10.15
Fmaj7/C-=10.35 A7sus4b9/C=10.50 Cmaj7=10.80 E7sus4/C=11.00
"""),
    ((52, 57, 58, 62), 42, """
F#7alt=0.30 C7/F#-=4.30 Gm6/F#-=5.05 Bbmaj7#11/F#=5.30 Gm(maj7)/F#-=5.70 C7#11/F#-=5.90 F#7#5=7.00 F#7#9=7.40
D/F#+9=8.75 Em7b5/F#=9.20 Bbmaj7/F#=10.00 Bm7/F#-=10.35 A7sus4b9/F#=10.50
"""),
    ((64, 67, 72), None, """
Am7-=1.20 C=1.30 D7sus4-=2.35 Abmaj7#5-=3.70 Fmaj7-=4.65 C7=5.40 Cmaj7=5.40 Dbdim7-=5.45 F#7alt-=5.70 Fm(maj7)-=5.85
Dm7-=6.00 C6=6.10 G7sus4=6.55
"""),
    ((60, 64, 67), None, """
C=0.40 Am7-=1.00 D7sus4-=2.15 Abmaj7#5-=3.50 C7=5.50 Cmaj7=5.50 Dm7-=5.80 C6=6.20 Dbdim7-=6.45 Eb7b9-=6.45
Fmaj7-=6.85 A7#9-=6.90 Abmaj7-=7.00
"""),
    ((60, 62, 64, 67), None, """
C+9=0.55 D7sus4+9=2.05 Am7-=2.15 C7+9=4.65 Cmaj7+9=4.65 C6+9=5.35 Dm7+9=5.70 E7alt=5.70 G7sus4=6.55 Em7=6.90
Fmaj7-=8.00 Gsus4=8.10 Ebmaj7-=8.15
"""),
    ((53, 57, 60, 64), 43, """
G7sus4=1.30 Fmaj7/G=4.15 Dm7/G-=4.30 Am7/G=8.20 C6/G=8.90 Fmaj7#11/G=9.95 Am/G=10.40 F/G=10.55 G7=10.80 Gm7=10.80
D7sus4/G-=11.35 Bbmaj7#11/G-=12.10 F#m7b5/G-=12.40
"""),
    ((51, 54, 57, 60), None, """
Ebdim7=0.80 Adim7=1.70 Cdim7=1.70 F#dim7=1.70 B7b9-=2.80 F7b9-=2.80 Ab7b9-=4.00 D7b9-=4.00 Ebdim=6.90 Ebm6=6.90
"""),
    ((58, 62, 65, 67), 48, """
C7sus4=1.15 Gm7/C=4.15 Cm7=4.80 Bb6/C=4.85 Abmaj7#11/C-=5.80 Ebmaj7/C-=6.30 Csus4=7.35 F7sus4/C+9=8.00 Dm7/C=8.35
Bb7/C=8.80 Bbmaj7/C=8.80 G7sus4/C=9.20 Fsus4/C=9.55
"""),
    ((52, 56, 58, 63), None, """
C7alt-=0.30 F#7-=0.30 Dbm6-=1.05 Emaj7#11=1.30 Bbm7b5=5.95 Emaj7=6.00 Eb7sus4b9=7.40 Bb7sus4=7.90 Dbm(maj7)-=8.00
Ebsus4=8.10 Bmaj7-=8.15 Fm7-=8.15 F#7#11-=8.20
"""),
    ((53, 56, 60, 63), 46, """
Bb7sus4=1.15 Fm7/Bb=4.15 Dbmaj7/Bb-=4.30 Bbm7=4.80 Ab6/Bb=4.85 F#maj7#11/Bb-=5.80 Bbsus4=7.35 Eb7sus4/Bb+9=8.00
Cm7/Bb=8.35 Ab7/Bb=8.80 Abmaj7/Bb=8.80 F7sus4/Bb=9.20 Ebsus4/Bb=9.55
"""),
    ((60, 64, 68), 60, """
Caug=1.20 Abaug/C=3.40 Am(maj7)/C-=3.40 Dbm(maj7)/C-=3.40 Eaug/C=3.40 Fm(maj7)/C-=3.40 C7#5=5.50 Cmaj7#5=7.00
Dm7b5/C-=7.25 F#m7b5/C-=7.25 Ab7#5/C=7.70 E7#5/C=7.70
"""),
    ((58, 62, 64, 68), 36, """
C7#5=1.15 E7#11/C=5.40 Bb7#11/C=5.55 C7=6.15 F#7#5/C-=7.15 E7#5/C=9.20 Bb7alt/C=9.40 E7alt/C=9.40 Bb7alt/C=9.70
E7alt/C=9.85 E7/C=10.00 Bb7/C=10.15 C7alt=10.80
"""),
    ((48, 49, 53, 58), None, """
Dbmaj7=1.05 Bbm+9=1.45 C7sus4b9=2.00 Gm7b5-=2.55 F#maj7#11-=4.50 Bbm7+9=5.55 Bbm6+9=6.45 Bbm(maj7)+9=6.75 Eb7-=6.80
Dbmaj7#11=6.85 C7sus4=7.00 Db6=7.60 Eb7sus4-=7.80
"""),
    ((59, 62, 64, 66), 36, """
Cmaj7#11=1.45 D7/C+9=2.50 D6/C+9=4.85 Cmaj7=6.15 Gmaj7/C-=6.15 D7#11/C+9=8.40 Bm7/C=8.65 E7/C+9=8.65 Em7/C+9=8.65
Dmaj7/C+9=8.80 E7sus4/C+9=9.65 Bm/C=10.40 Ab7alt/C-=10.50
"""),
])  # fmt: skip
def test_every_name_of_some_notes_has_its_price(notes: tuple[int, ...], bass: int | None, names: str) -> None:
    """Without a minus the root is heard; ``+9``: with its ninth in the symbol."""
    found = sorted((name for name in _names(SoundedChord(notes, bass))), key=lambda n: (round(n.price, 6), told(n)))
    assert wrapped(told(name) for name in found if name.price < found[-1].price - 1e-6) == lines(names)


MAJOR_KEY = """
tonic:.oooo.oooooo minor:oooooooooooo ii:oo.o.oooo.oo half:ooooooooooo. V:nnnnnnn.nnnn alt:nnnnnnnnnnnn
sus:nononnononon dim:ononoononono
"""
MINOR_KEY = """
tonic:ooo.oooo.ooo minor:.ooooooooooo ii:ooooo.oooooo half:oo.ooooooooo V:nnnnnnn.nn.n alt:nnnnnnn.nnnn
sus:nonnononnono dim:onoononoonon
"""


@pytest.mark.parametrize(("scale", "kept"), [(_MAJOR, MAJOR_KEY), (_MINOR, MINOR_KEY)])
def test_the_keys_own_chords_cost_nothing_and_foreign_ones_the_more(scale: dict[int, str], kept: str) -> None:
    """By role, on each of the twelve steps above the tonic: ``.`` nothing, ``n`` near the key, ``o`` outside."""
    rows = []
    for role, symbol in ROLES.items():
        prices = [_in_key(named((7 + up) % 12, symbol), 7, scale) for up in range(12)]
        rows.append(role + ":" + "".join({0.0: ".", 0.5: "n", 1.1: "o"}[price] for price in prices))
    assert wrapped(rows) == lines(kept)


PLAIN = (0.5, 1.1, 0.9, 1.3, 1.3, 0.0, 1.6, 0.9, 1.2, 0.9, 1.0, 0.8)
"""By the semitones that the root rises, 0 to 11; a fourth up is what roots do most (common practice)."""
USUAL = """
ii-V+5:-1.2 ii-V+11:-0.1 ii-alt+5:-1.2 ii-sus+5:-0.8 half-V+5:-1.0 half-alt+5:-1.6 V-tonic+5:-1.0 V-tonic+11:-0.6
V-minor+5:-0.6 V-minor+11:-0.4 V-ii+5:-0.6 V-V+5:-0.3 alt-tonic+5:-0.8 alt-tonic+11:-0.5 alt-minor+5:-1.4
alt-ii+5:-1.0 sus-V+0:-0.6 sus-alt+0:-0.4 dim-ii+1:-0.8 dim-V+1:-0.3
"""
"""The progressions of the trade, and how much less they cost."""


@pytest.mark.parametrize(
    ("symbol", "major", "minor"),
    [
        ("", ".oooo.o.oooo", "ooo.ooo..o.o"),
        ("m", "oo.o.oooo.oo", ".oooo.oooooo"),
        ("dim", "ononoononon.", "on.ononoonon"),
    ],
)
def test_a_triad_does_what_the_keys_chord_on_its_step_does(symbol: str, major: str, minor: str) -> None:
    """As above: I, IV and V of major are major, ii, iii and vi minor, vii diminished; in minor i and iv, III, V, VI."""
    for scale, kept in ((_MAJOR, major), (_MINOR, minor)):
        prices = [_in_key(named((7 + up) % 12, symbol), 7, scale) for up in range(12)]
        assert "".join({0.0: ".", 0.5: "n", 1.1: "o"}[price] for price in prices) == kept


def test_a_step_costs_what_its_roots_and_roles_say() -> None:
    rows = []
    for before, one in ROLES.items():
        for after, other in ROLES.items():
            for up, plain in enumerate(PLAIN):
                less = _step(named(3, one), named((3 + up) % 12, other)) - plain
                if before == after and up == 0:
                    assert less == -plain, "the same again costs nothing"
                elif abs(less) > 1e-9:
                    rows.append(f"{before}-{after}+{up}:{less:.1f}")
    assert wrapped(rows) == lines(USUAL)


@pytest.mark.parametrize(
    ("notes", "bass"),
    [
        ([36, 52, 57], 36),
        ([47, 48, 52], 47),
        ([48, 52, 57], None),  # C3 is no bass
        ([47, 47], None),  # nor is a note alone
        ([50, 60, 64], 50),  # ten semitones apart
        ([50, 59, 64], None),
        ([40, 46, 60], None),  # two low notes are a chord
    ],
)
def test_a_low_note_or_one_well_below_the_others_is_a_bass(notes: list[int], bass: int | None) -> None:
    assert with_bass(notes).bass == bass


@pytest.mark.parametrize(
    ("voicings", "key", "ends", "symbols"),
    [
        (((53, 57, 60, 64), (53, 57, 59, 64), (52, 55, 59, 62)), None, True, "Dm7 G7 Cmaj7"),
        (((52, 55, 59, 62), (57, 61, 64, 67), (53, 57, 60, 62)), None, True, "Em7 A7 Dm7"),
        (((53, 57, 59, 64),), (0, False), True, "Fmaj7#11"),
        (((53, 57, 59, 64),), (0, False), False, "Fmaj7#11"),
        (((60, 64, 67), (65, 69, 72), (67, 71, 74), (60, 64, 67)), None, True, "C F G C"),
        (((60, 63, 66, 69), (61, 64, 68, 71)), (-1, True), True, "Cdim7 C#m7"),
        (((55, 58, 62, 64), (54, 57, 62, 64)), (-2, True), True, "Gm6 Dadd9"),
        (((59, 63, 66, 70), (59, 63, 65, 70), (58, 61, 65, 68)), None, True, "G#m7 C#7 F#maj7"),
        (((54, 58, 61, 65), (54, 58, 60, 65), (53, 56, 60, 63)), None, True, "Ebm7 Ab7 Dbmaj7"),
    ],
)
def test_a_sequence_has_the_cheapest_names(
    voicings: tuple[tuple[int, ...], ...], key: tuple[int, bool] | None, ends: bool, symbols: str
) -> None:
    assert " ".join(c.symbol for c in name_chords([SoundedChord(v) for v in voicings], key, ends)) == symbols


@pytest.mark.parametrize(
    ("fifths", "minor", "ends", "prices"),
    [
        (0, False, True, [0.25, 2.05, 4.7]),  # C is home; Am6 and Bbmaj7 are outside
        (0, True, True, [0.95, 0.25, 4.7]),  # A is home; C is the relative major
        (0, True, False, [0.25, 0.25, 4.0]),
        (-2, False, True, [2.05, 2.05, 2.9]),  # B flat is home, which this hand leaves out
    ],
)
def test_a_name_costs_more_outside_the_key_with_its_root_left_out_and_last_where_it_is_not_home(
    fifths: int, minor: bool, ends: bool, prices: list[float]
) -> None:
    names = [named(0, "6"), named(9, "m6"), _CandidateName(10, KIND["maj7"], None, 0.3, False)]
    first, last = _costs([names[:2], names], (0.25, 2.6), fifths, minor, ends)
    assert list(last) == pytest.approx(prices)
    home = [0.7 * (ends and name.root != (fifths * 7 + 9 * minor) % 12) for name in names]
    assert list(last[:2] - first) == pytest.approx(home[:2])


def test_the_cheapest_way_through_three_chords_is_found() -> None:
    """By hand: 5 and 4 to the second chord's names, from the dearer one 5 + 1 + 0 to the last one's cheaper."""
    costs = [np.array([1.0, 3.0]), np.array([2.0, 0.0]), np.array([2.0, 0.0])]
    steps = [np.array([[3.0, 6.0], [0.0, 1.0]]), np.array([[0.0, 1.0], [2.0, 4.0]])]
    assert _cheapest(costs, steps) == (6.0, [1, 0, 1])
    assert _cheapest([np.array([2.0, 1.0, 3.0])], []) == (1.0, [1])


@pytest.mark.parametrize(
    ("fifths", "minor", "roots", "leading"),
    [
        (-7, False, "C Db D Eb Fb F Gb G Ab A Bb Cb", ""), (-6, False, "C Db D Eb E F Gb G Ab A Bb Cb", ""),
        (-5, True, "C Db D Eb E F Gb G Ab A Bb B", ""), (0, False, "C Db D Eb E F F# G Ab A Bb B", ""),
        (0, True, "C C# D D# E F F# G G# A Bb B", ""), (1, True, "C C# D D# E F F# G G# A A# B", ""),
        (3, True, "C C# D D# E F F# G G# A A# B", "C C# D D# E E# F# G G# A A# B"),
        (4, True, "C C# D D# E F F# G G# A A# B", "B# C# D D# E F F# G G# A A# B"),
        (5, True, "C C# D D# E F F# G G# A A# B", ""), (6, False, "C C# D D# E E# F# G G# A A# B", ""),
        (7, True, "B# C# D D# E E# F# G G# A A# B", ""),
    ],
)  # fmt: skip
def test_roots_have_the_keys_names_and_never_two_signs_and_raised_ones_where_they_lead(
    fifths: int, minor: bool, roots: str, leading: str
) -> None:
    """The twelve from C up; a diminished chord on a raised step leads to the note above it (common practice)."""
    for role, wanted in (("", roots), ("dim", leading or roots), ("half", leading or roots)):
        assert " ".join(str(root_name(pc, role, fifths, minor)) for pc in range(12)) == wanted


@pytest.mark.parametrize(
    ("heard", "fifths", "minor", "written"),
    [
        ("Fdim7", 3, True, "E#dim7"), ("Fm7b5", 3, True, "E#m7b5"), ("Fm7", 3, True, "Fm7"), ("F7b5", 3, True, "F7b5"),
        ("Fm7#11", 3, True, "Fm7#11"), ("C#m7", -1, False, "Dbm7"), ("Dbm7", 0, True, "C#m7"),
        ("Fm/Ab", 4, False, "Fm/Ab"),  # the bass is the chord's own third
        ("E9/F#", -5, False, "E9/F#"), ("C/F#", -5, False, "C/Gb"), ("Ebm/Gb", 3, False, "D#m/F#"),
        ("N.C.", 3, True, "N.C."),
    ],
)  # fmt: skip
def test_a_chord_named_by_ear_is_spelled_as_the_key_spells_it(
    heard: str, fifths: int, minor: bool, written: str
) -> None:
    assert str(spelled_in_key(parse_chord(heard), fifths, minor)) == written
