"""What the pitches of an improvised line cost, over their chords and from one to the next, every price by hand."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np
import pytest

from companion.arrange.harmony import harmonies
from companion.arrange.solo.line import Aim, Move, Onset, _aims_well, _figure, _in_figure, _in_motif, _row, _steps
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.solo import SoloPreferences

Composer = Callable[..., Form]
TASTE = preferences(SoloPreferences)
COSTS = TASTE.costs
MIDI = np.arange(58, 86)


def onset(
    compose: Composer, symbol: str = "Dm7", *, strong: bool = True, first: bool = False, step: int | None = None
) -> Onset:
    return Onset(Fraction(0), harmonies(compose(f"{symbol} | G7"))[0], strong, first, step)


def test_a_note_costs_what_it_is_over_its_chord_on_the_beat_and_between(compose: Composer) -> None:
    """Over D minor seventh: its own D F A C, its tensions E, G and B, and what is outside."""
    wide = Aim(58, 85, 85)
    on, off = (_row(TASTE, onset(compose, strong=strong), wide, MIDI) for strong in (True, False))
    kinds = {"chord": (62, 65, 69, 72), "tension": (64, 67, 71), "outside": (61, 63, 66, 68, 70)}
    prices = {
        "chord": (COSTS.chord_on_beat, COSTS.chord_off), "tension": (COSTS.tension_on_beat, COSTS.scale_off),
        "outside": (COSTS.wrong, COSTS.foreign),
    }  # fmt: skip
    for kind, notes in kinds.items():
        for note in notes:
            assert (on[note - 58], off[note - 58]) == pytest.approx(prices[kind]), (kind, note)
    fourth = [_row(TASTE, onset(compose, "Cmaj7", strong=strong), wide, MIDI)[65 - 58] for strong in (True, False)]
    assert fourth == pytest.approx([COSTS.scale_on_beat, COSTS.scale_off]), "F over C is of its scale alone"
    fresh = _row(TASTE, onset(compose, first=True), wide, MIDI) - on
    assert fresh[[62 - 58, 65 - 58, 69 - 58, 72 - 58]] == pytest.approx([0, COSTS.guide, 0, COSTS.guide])


def test_a_note_costs_the_more_the_further_it_lies_outside_of_where_the_phrase_lies(compose: Composer) -> None:
    here = onset(compose)
    wide, narrow = (_row(TASTE, here, aim, MIDI) for aim in (Aim(58, 85, 85), Aim(62, 74, 77)))
    away, ceiling = TASTE.range.away, COSTS.ceiling
    found = (narrow - wide)[[58 - 58, 61 - 58, 62 - 58, 74 - 58, 75 - 58, 77 - 58, 78 - 58]]
    assert found == pytest.approx([4 * away, away, 0, 0, away, 3 * away, 4 * away + ceiling])


def test_a_step_costs_what_its_figure_says_and_any_other_by_its_size() -> None:
    up = Move("scale", 1, ((1, 0.3), (2, 0.1), (-1, 2.6)))
    prices = dict(zip(range(-4, 5), _in_figure(COSTS, up, 4).tolist(), strict=True))
    other, more = COSTS.other_step, COSTS.other_semitone
    assert prices == pytest.approx({
        -4: other + 4 * more, -3: other + 3 * more, -2: other + 2 * more, -1: 2.6, 0: COSTS.same, 1: 0.3, 2: 0.1,
        3: other + 3 * more, 4: other + 4 * more,
    })  # fmt: skip
    down = _in_figure(COSTS, Move("scale", -1, up.steps), 4)
    assert down[::-1] == pytest.approx(_in_figure(COSTS, up, 4)), "downwards the same"


def test_a_motif_asks_for_its_interval_and_for_its_direction_above_all() -> None:
    found = dict(zip(range(-3, 5), _in_motif(COSTS, 2, 4).tolist()[1:], strict=True))
    one, turned = COSTS.motif, COSTS.motif_turned
    assert found == pytest.approx({
        -3: 5 * one + turned, -2: 4 * one + turned, -1: 3 * one + turned, 0: 2 * one + turned, 1: one, 2: 0, 3: one,
        4: 2 * one,
    })  # fmt: skip


def test_what_is_foreign_leads_by_a_semitone_into_a_chord_note_on_the_beat(compose: Composer) -> None:
    """From C sharp over D minor; beyond an octave nothing goes."""
    how = Move("scale", 1, ((1, 0.0), (2, 0.0)))
    before, strong, weak = (onset(compose, strong=s) for s in (False, True, False))
    on, off = (_steps(COSTS, before, after, how, MIDI) for after in (strong, weak))
    plain = _in_figure(COSTS, how, len(MIDI) - 1)

    def cost(table: np.ndarray, q: int, r: int) -> float:
        return float(table[q - 58, r - 58] - plain[r - q + len(MIDI) - 1])

    assert cost(on, 61, 62) == pytest.approx(0) and cost(off, 61, 62) == pytest.approx(COSTS.wrong)
    assert cost(on, 63, 62) == pytest.approx(0) and cost(on, 61, 64) == pytest.approx(COSTS.wrong), "not by a third"
    assert cost(on, 63, 64) == pytest.approx(COSTS.wrong), "nor to what is no note of the chord"
    assert cost(on, 62, 64) == pytest.approx(0)
    assert cost(on, 62, 74) == pytest.approx(0) and cost(on, 62, 75) == pytest.approx(2 * COSTS.wrong)
    asked = _steps(COSTS, before, onset(compose, step=-2), how, MIDI)
    assert asked[64 - 58, 62 - 58] == 0.0 and asked[64 - 58, 65 - 58] == pytest.approx(
        3 * COSTS.motif + COSTS.motif_turned
    )


def test_figures_are_of_so_many_moves_and_an_enclosure_ends_on_a_beat(compose: Composer) -> None:
    figures = TASTE.figures
    run = _figure("scale", figures.scale, -1, 4)
    assert [(move.figure, move.way) for move in run] == [("scale", -1)] * 4
    assert len({move.steps for move in run}) == 1 and run[0].steps == tuple(figures.scale.steps.items())
    around = _figure("enclosure", figures.enclosure, 1, 3)
    told = figures.enclosure
    assert [move.steps for move in around] == [tuple(one.items()) for one in (told.steps, told.back, told.home)]
    leap = _figure("leap", figures.leap, 1, 3)
    assert leap[0].steps == tuple(figures.leap.first.items())
    assert [move.steps for move in leap[1:]] == [tuple(figures.leap.steps.items())] * 2
    row = [onset(compose, strong=n % 2 == 0) for n in range(5)]
    assert [_aims_well(row, n, 3) for n in range(5)] == [True, False, True, False, False]
