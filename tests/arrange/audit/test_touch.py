"""The audit of the touch tells a hand from a machine.

Values: named beside the figures in the audit; the shipped charts are held to them.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.arrange.audit.figures import AuditFigure
from companion.arrange.audit.touch import (
    _loudness,
    _on_the_beat,
    _ratio,
    _spread,
    _strokes,
    _swing,
    _top_notes,
    touch_figures,
)
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.arrange.touch.performed import Performed, performed
from companion.chart.model import Chart, Form
from companion.load import load
from companion.messages import Part
from companion.music.meter import Metre
from companion.music.pitch import pitch_in_key
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


# by hand, at 120: half a second a beat


@pytest.fixture(scope="module")
def even(compose: Callable[..., Form]) -> Form:
    return compose("C6 | C6 | C6 | C6", tempo=120.0)


def stroke(
    beat: float, late_ms: float = 0.0, velocity: int = 64, midi: int = 60, part: Part = "solo", weight: float = 1.0
) -> Performed:
    note = Note(Fraction(beat).limit_denominator(24), Fraction(1, 2), pitch_in_key(midi), part, weight=weight)
    return Performed(note, beat, beat + 0.5, beat + late_ms / 500, beat + 0.5, velocity)


@pytest.mark.parametrize(("late", "near"), [(5.0, 1), (-5.0, 1), (5.1, 0), (-5.1, 0)])
def test_a_bass_is_within_five_milliseconds_of_its_place(even: Form, late: float, near: int) -> None:
    found = _on_the_beat(even, [[stroke(4, late, part="bass")]])
    assert (found.value, found.of, found.at_least) == (near, 1, 1.0)
    assert found.places == (() if near else ("bar 2 beat 1",))


def test_a_spread_is_told_of_twelve_strokes_and_its_memory_of_what_is_beyond_habit(even: Form) -> None:
    """On the beat 20 ms late, between 10; beyond that by turns 4 more and 4 less, two and two."""
    beyond = [4, 4, -4, -4] * 3
    row = [stroke(n / 2, (20 if n % 2 == 0 else 10) + beyond[n]) for n in range(12)]
    spread, memory = _spread(even, "solo", [row])
    assert (spread.value, spread.of) == (pytest.approx((25 + 16) ** 0.5), 12)
    assert memory.value == pytest.approx((6 - 5) / 11), "of eleven pairs six alike and five not"
    assert (spread.at_least, spread.at_most, memory.at_least, memory.at_most) == (5.0, 15.0, 0.2, 0.9)
    assert _spread(even, "solo", [row[:11]]) == []
    still = _spread(even, "melody", [[stroke(n) for n in range(12)]])
    assert [(one.name, one.value) for one in still] == [
        ("melody: spread in ms", 0.0), ("melody: correlation with the stroke before", 0.0)
    ]  # fmt: skip


def test_loudness_is_told_of_twelve_strokes_and_a_bass_may_be_more_even(even: Form) -> None:
    row = [stroke(n, velocity=60 + 8 * (n % 2)) for n in range(12)]
    solo, bass = _loudness("solo", [row]), _loudness("bass", [row])
    assert (solo.value, solo.of, solo.at_least, solo.at_most) == (4.0, 12, 3.0, 14.0)
    assert (bass.at_least, bass.at_most) == (1.0, 14.0)
    few = _loudness("solo", [row[:11]])
    assert (few.value, few.of) == (0.0, 0)


def test_the_top_note_of_a_chord_is_the_firmest_where_none_is_written_softer(even: Form) -> None:
    def chord(beat: float, *velocities: int, weights: tuple[float, ...] = (1.0, 1.0, 1.0)) -> list[Performed]:
        return [
            stroke(beat, velocity=v, midi=60 + 4 * n, part="chords", weight=weights[n])
            for n, v in enumerate(velocities)
        ]

    played = [
        *chord(0, 50, 51, 60), *chord(1, 50, 60, 60), *chord(2, 61, 50, 60), *chord(3, 50),
        *chord(4, 61, 50, 60, weights=(1.0, 0.5, 1.0)), *chord(5, 50, 60),
    ]  # fmt: skip
    found = _top_notes(even, [played])
    assert (found.value, found.of, found.at_least) == (0.5, 4, 0.95)
    assert found.places == ("bar 1 beat 2", "bar 1 beat 3")


def test_how_a_part_swings_is_the_median_of_twelve_off_beats_and_a_short_one_lasts_a_tenth_of_a_second(
    even: Form,
) -> None:
    def swung(ratio: float, many: int = 12, part: Part = "chords") -> list[Performed]:
        late = (ratio / (ratio + 1) - 0.5) * 500
        return [stroke(n + 0.5, late, part=part) for n in range(many)] + [stroke(n, part=part) for n in range(many)]

    assert _ratio(even, swung(2.0)) == (pytest.approx(2.0), 12) and _ratio(even, swung(2.0, 11)) == (0.0, 0)
    rows: dict[Part, list[list[Performed]]] = {"chords": [swung(1.8)], "solo": [swung(1.5, part="solo")]}
    chords, solo = _swing(even, rows)
    assert (chords.value, chords.of, chords.at_least) == (pytest.approx(1.8), 12, 1.0)
    assert chords.at_most == pytest.approx(500 / 95 - 1), "a quaver of 95 ms beside the rest of a beat of 500"
    assert (solo.value, solo.at_most) == (pytest.approx(1.5), pytest.approx(1.8)), "flatter than the chords"
    assert _swing(even, {"chords": [swung(1.09)]}) == [] and len(_swing(even, {"chords": [swung(1.11)]})) == 1
    assert _swing(replace(even, metre=Metre(6, 8)), rows) == []
    (alone,) = _swing(even, {"chords": [swung(1.8)]})
    assert alone.name == "chords: long quaver to short one"


def test_ghosts_are_left_out_and_a_chord_is_one_stroke() -> None:
    played = [
        stroke(0, 10, midi=60, part="chords"), stroke(0, 4, midi=67, part="chords"), stroke(1, part="solo"),
        stroke(2, part="chords", weight=0.6), stroke(3, part="chords", weight=0.59),
    ]  # fmt: skip
    found = _strokes(played, "chords")
    assert [(one.note.midi, float(one.note.beat)) for one in found] == [(67, 0), (60, 2)]
    assert found[0].start == pytest.approx(7 / 500)
