"""Chords held over a root that the pedal has caught."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from companion.arrange.audit.chords import chords_of
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Form

Composer = Callable[..., Form]


def test_over_one_chord_for_long_the_voicing_changes_from_bar_to_bar(compose: Composer) -> None:
    form = compose(
        "Ebm11 | Ebm11 | Ebm11 | Ebm11 | Gbmaj7#11 | Gbmaj7#11 | Gbmaj7#11 | Gbmaj7#11", fifths=-4, minor=True
    )
    for seed in range(5):
        struck = [
            tuple(n.midi for n in c)
            for _, c in chords_of(arrange(form, "chords", Request(treatment="open", seed=seed)))
        ]
        assert len(struck) >= 8
        assert all(a != b for a, b in pairwise(struck))


def test_no_three_bars_running_are_struck_at_the_same_places(compose: Composer) -> None:
    form = compose(" | ".join(["Fm11", "Dbmaj7", "Ebm11", "Abm7"] * 4), fifths=-4, minor=True)
    for seed in range(5):
        beats = [beat for beat, _ in chords_of(arrange(form, "chords", Request(treatment="open", seed=seed)))]
        rhythms = [tuple(b - 4 * bar for b in beats if 4 * bar <= b < 4 * bar + 4) for bar in range(16)]
        assert all(rhythms)
        assert not any(len(set(rhythms[n : n + 3])) == 1 for n in range(14))


def test_an_open_minor_eleventh_lies_in_both_hands_over_its_root(compose: Composer) -> None:
    """Levine, The Jazz Piano Book, 1989, from memory: 1 5 9, b3 b7 11; the root is the bass's, the pedal holds it."""
    form = compose(" | ".join(["Fm11", "Ebm11"] * 4), fifths=-4, minor=True)
    chords = [
        c for seed in range(4) for _, c in chords_of(arrange(form, "chords", Request(treatment="open", seed=seed)))
    ]
    found = [c for c in chords if [n.degree for n in c] == ["5", "9", "b3", "b7", "11"]]
    assert found
    assert all([n.hand for n in c] == ["left", "left", "right", "right", "right"] for c in found)
    assert all(b.midi - a.midi == step for c in found for (a, b), step in zip(pairwise(c), (7, 1, 7, 7), strict=True))
