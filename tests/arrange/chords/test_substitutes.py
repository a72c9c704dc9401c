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
