"""Which chord is meant, and what gives way: substitutions of the trade (common practice)."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest

from companion.arrange.chords.substitutes import clashes, meant_harmony, nearest_agreeing, unforeseen
from companion.arrange.harmony import Harmony, harmonies
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.listening import ListeningPreferences

Composer = Callable[..., Form]
AGREE = preferences(ListeningPreferences).agree
NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


def over(compose: Composer, symbols: str) -> Harmony:
    """The first of some chords."""
    return harmonies(compose(symbols))[0]


def classes(names: str) -> tuple[frozenset[int], int]:
    found = [NAMES.index(name) for name in names.split()]
    return frozenset(found), found[0]


@pytest.mark.parametrize(
    ("changes", "played", "root", "qualities"),
    [
        ("Cmaj7 | F7", "Eb G Bb", "C", {"m7"}),
        ("Cmaj7 | F7", "C Eb G A", "C", {"m6"}),
        ("Dm7 | G7", "Gb A C E", "D", {"7"}),
        ("G7 | Cmaj7", "Db F Ab B", "Db", {"7"}),
        ("G7 | Cmaj7", "F Ab B Eb", "G", {"7alt"}),
        ("Cmaj7 | F7", "Eb", "C", {"m7", "m6", "mmaj7"}),
        ("Am7 | D7", "Eb G Bb C", "A", {"m7b5", "7alt"}),
    ],
)
def test_a_substitute_is_told_by_its_notes(
    compose: Composer, changes: str, played: str, root: str, qualities: set[str]
) -> None:
    heard = meant_harmony(AGREE, over(compose, changes), *classes(played))
    assert heard is not None and heard.root == NAMES.index(root)
    assert heard.quality in qualities


@pytest.mark.parametrize("played", ["E G B D", "G C E", "E A D", "B D E G", "C", "E Gb B"])
def test_the_charts_own_chord_is_no_substitute(compose: Composer, played: str) -> None:
    assert meant_harmony(AGREE, over(compose, "Cmaj7 | F7"), *classes(played)) is None


def test_a_major_third_gives_way_to_the_minor(compose: Composer) -> None:
    harmony, (heard, lowest) = over(compose, "Cmaj7 | F7"), classes("Eb G Bb D")
    instead = meant_harmony(AGREE, harmony, heard, lowest)
    assert clashes(4, harmony, heard, instead) and clashes(11, harmony, heard, instead)
    assert nearest_agreeing(64, harmony, heard, instead) == 63 and nearest_agreeing(59, harmony, heard, instead) == 58
    assert not any(clashes(pc, harmony, heard, instead) for pc in (0, 7, 2))


def test_a_flat_ninth_is_a_colour_over_the_root_and_a_mistake_over_the_ninth(compose: Composer) -> None:
    harmony, (heard, lowest) = over(compose, "G7 | Cmaj7"), classes("F Ab B E")
    instead = meant_harmony(AGREE, harmony, heard, lowest)
    assert unforeseen(harmony, heard) == {8}
    assert not clashes(7, harmony, heard, instead) and clashes(9, harmony, heard, instead)


def test_where_nothing_strange_is_heard_nothing_clashes(compose: Composer) -> None:
    for harmony, _ in pairwise(harmonies(compose("Dm7 | G7 | Cmaj7 | A7alt | Bm7b5 | E7b9"))):
        heard = frozenset(harmony.tones)
        assert not any(
            clashes(pc, harmony, heard, meant_harmony(AGREE, harmony, heard, harmony.root)) for pc in range(12)
        )


# What stands here is what is made of notes struck at random today, not what is right: kept as in test_written_out.py.
# The chart's chord and the next, the notes heard, the chord meant, what clashes, and which notes agree that are nearest
# to C4, E flat 4, F sharp 4 and A4.
HEARD = [
    ("Cmaj7 | F7", "F", "", "", [59, 65, 65, 67]),
    ("Cmaj7 | F7", "D Gb C", "C m7b5", "F G", [58, 62, 62, 70]),
    ("Cmaj7 | F7", "Db Ab B F", "Db 7", "C D E Gb G A Bb", [59, 61, 65, 68]),
    ("Dm7 | G7", "A", "", "", [62, 62, 65, 72]),
    ("Dm7 | G7", "C Ab Eb", "D 7alt", "E G A", [58, 62, 65, 68]),
    ("Dm7 | G7", "C Db Gb A", "F 7", "D G Ab Bb B", [61, 61, 63, 66]),
    ("G7 | Cmaj7", "Db", "G m7b5", "C D", [61, 61, 65, 70]),
    ("G7 | Cmaj7", "Eb Db Ab", "G 7alt", "C D E A", [59, 61, 65, 68]),
    ("G7 | Cmaj7", "Gb C A Db", "G dim7", "D F", [61, 64, 64, 66]),
    ("G7 | Cm6", "Eb", "", "", [59, 65, 65, 67]),
    ("G7 | Cm6", "Bb B A", "", "Ab", [59, 62, 65, 70]),
    ("G7 | Cm6", "C A Bb Gb", "G mmaj7", "F Ab", [58, 62, 67, 70]),
    ("Am7b5 | D7", "C", "", "", [57, 60, 67, 67]),
    ("Am7b5 | D7", "Eb C Ab", "A dim7", "G", [63, 60, 68, 68]),
    ("Am7b5 | D7", "D E Gb B", "A m6", "Eb F G Bb", [59, 62, 64, 71]),
    ("C6 | A7", "Ab", "C 7alt", "G A", [61, 64, 64, 68]),
    ("C6 | A7", "Db A E", "Db 7alt", "C Eb Ab Bb", [59, 62, 65, 67]),
    ("C6 | A7", "Ab Bb D Db", "Bb 7alt", "C Eb G A", [59, 62, 64, 68]),
    ("Cm6 | G7", "A", "", "", [57, 60, 67, 67]),
    ("Cm6 | G7", "A Bb Eb", "C m7", "B", [58, 60, 67, 70]),
    ("Cm6 | G7", "F Db Ab Bb", "Bb m7", "C D E Gb G A B", [61, 61, 65, 68]),
    ("Bdim7 | C", "A", "B m7", "Ab Bb", [59, 62, 69, 71]),
    ("Bdim7 | C", "C A Eb", "B 7alt", "Db E Ab Bb", [59, 62, 65, 67]),
    ("Bdim7 | C", "G Bb Ab Gb", "C 7", "F A B", [58, 64, 67, 68]),
    ("Ebmaj7/G | Ab", "F", "", "", [58, 62, 65, 70]),
    ("Ebmaj7/G | Ab", "G A B", "Eb 7alt", "C Ab Bb", [59, 64, 67, 67]),
    ("Ebmaj7/G | Ab", "F E Eb D", "G 7", "Db Gb", [59, 62, 65, 67]),
    ("G7alt | Cm", "B", "", "", [59, 61, 65, 68]),
    ("G7alt | Cm", "Eb Db A", "Eb m7b5", "C D E Ab Bb", [61, 61, 63, 66]),
    ("G7alt | Cm", "E Ab G F", "E 7alt", "Eb Gb A", [58, 62, 65, 68]),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "played", "meant", "clashing", "near"), HEARD)
def test_what_is_made_of_notes_struck_at_random(
    compose: Composer, changes: str, played: str, meant: str, clashing: str, near: list[int | None]
) -> None:
    harmony, (heard, lowest) = over(compose, changes), classes(played)
    instead = meant_harmony(AGREE, harmony, heard, lowest)
    assert (f"{NAMES[instead.root]} {instead.quality}" if instead else "") == meant
    assert [NAMES[pc] for pc in range(12) if clashes(pc, harmony, heard, instead)] == clashing.split()
    assert [nearest_agreeing(60 + pc, harmony, heard, instead) for pc in range(0, 12, 3)] == near
