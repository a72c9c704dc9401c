"""The chord that some notes say: the one that is written, or on the quaver before another one that."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from companion.arrange.scales import chord_said
from companion.chart.model import Form

Composer = Callable[..., Form]
B_FLAT, C, D, E, F, G = 10, 0, 2, 4, 5, 7
QUAVER = Fraction(1, 2)


def test_without_its_root_a_chord_is_not_taken_for_the_one_over_another_bass(compose: Composer) -> None:
    form = compose("| Gm7/C | Gm7 | C7 | Fmaj7 |")
    ahead = chord_said(form, Fraction(7, 2), QUAVER, {B_FLAT, D, F})
    assert (ahead.root, ahead.bass) == (G, G)


def test_where_its_root_is_heard_a_chord_rules_to_its_end(compose: Composer) -> None:
    form = compose("| Gm7/C | Gm7 | C7 | Fmaj7 |")
    still = chord_said(form, Fraction(7, 2), QUAVER, {G, B_FLAT, D, F})
    assert (still.root, still.bass) == (G, C)


def test_a_chord_struck_a_quaver_early_is_the_next_one_by_its_notes(compose: Composer) -> None:
    form = compose("| Gm7 | C7 | Fmaj7 | Fmaj7 |")
    assert chord_said(form, Fraction(7, 2), QUAVER, {E, B_FLAT, C}).root == C
    assert chord_said(form, Fraction(7, 2), QUAVER, {F, B_FLAT, D}).root == G
