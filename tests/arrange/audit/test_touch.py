"""The audit of the touch tells a hand from a machine.

Values: named beside the figures in the audit; the shipped charts are held to them.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import pytest

from companion.arrange.audit.figures import AuditFigure
from companion.arrange.audit.touch import touch_figures
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.arrange.touch.performed import Performed, performed
from companion.chart.model import Chart, Form
from companion.load import load
from companion.resources import chart_names, chart_path

PARTS = ("bass", "chords", "melody", "solo")


def performances(form: Form, change: Callable[[Performed], Performed] = lambda one: one) -> list[list[Performed]]:
    rows = []
    for seed in range(3):
        notes = [note for part in PARTS for note in arrange(form, part, Request(seed=seed))]
        rows.append([change(one) for one in performed(form, notes, seed)])
    return rows


def missed(figures: list[AuditFigure]) -> set[str]:
    return {figure.name for figure in figures if not figure.reached}


@pytest.mark.parametrize("name", chart_names()[1::2])
def test_what_is_performed_has_a_persons_hand(name: str) -> None:
    form = load(chart_path(name)).unfold()
    assert missed(touch_figures(form, performances(form))) == set()


@pytest.fixture
def form(ferry: Chart) -> Form:
    return ferry.unfold()


def test_notes_on_their_places_at_one_velocity_are_a_machines(form: Form) -> None:
    played = performances(form, lambda one: replace(one, start=one.place, velocity=64))
    found = missed(touch_figures(form, played))
    assert {f"{part}: spread in ms" for part in PARTS[1:]} <= found
    assert "chords whose top note is the firmest" in found


def test_dice_have_no_memory(form: Form) -> None:
    dice = random.Random(1)
    played = performances(form, lambda one: replace(one, start=one.place + dice.gauss(0, 0.020)))
    found = missed(touch_figures(form, played))
    assert {f"{part}: correlation with the stroke before" for part in PARTS[1:]} <= found
    assert "bass within 5 ms of its place" in found


def test_a_solo_that_swings_wider_than_the_chords_is_told(form: Form) -> None:
    def wide(one: Performed) -> Performed:
        late = one.note.part == "solo" and one.note.beat % 1 * 2 == 1
        return replace(one, place=one.place + 0.12, start=one.start + 0.12) if late else one

    assert missed(touch_figures(form, performances(form, wide))) == {"solo: long quaver to short one"}


def test_a_tune_that_does_not_swing_has_no_ratio_to_count(form: Form) -> None:
    even = replace(form, feel="straight")
    assert not [figure for figure in touch_figures(even, performances(even)) if "quaver" in figure.name]
