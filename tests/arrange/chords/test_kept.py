"""Chords that stand already among those that are made: what gives way to them, and until when."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from companion.arrange.chords.context import Strike
from companion.arrange.chords.kept import among_kept
from companion.arrange.harmony import harmonies
from companion.arrange.part import Note
from companion.arrange.plan import plan
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]


@pytest.fixture(scope="module")
def form(compose: Composer) -> Form:
    return compose("Dm7 | G7 | Cmaj7 | Am7", sections=[("A", 2, "walking"), ("B", 2, "sparse")])


def chord(beat: float, length: float, *midi: int) -> list[Note]:
    return [Note(Fraction(beat), Fraction(length), pitch_in_key(m), "chords") for m in midi]


def together(form: Form, made: list[tuple[float, float]], kept: list[Note], bars: set[int]) -> list[tuple[object, ...]]:
    """Beat, length and voicing (None where it is made) of every strike."""
    ruled = plan(form)[0][2]
    struck = [Strike(Fraction(b), Fraction(n), harmonies(form)[0], ruled, "") for b, n in made]
    strikes, standing = among_kept(form, struck, plan(form), kept, bars)
    return [
        (float(s.beat), float(s.length), standing[n].midi if n in standing else None) for n, s in enumerate(strikes)
    ]


KEPT = [*chord(5, 2, 64, 59, 53), *chord(9, 1, 52, 55, 59, 62)]


@pytest.mark.parametrize(
    ("made", "bars", "found"),
    [
        ([(1, 1), (4, 1)], set(), [(1, 1, None), (4, 1, None)]),
        ([(1, 1), (4, 1)], {2}, [(1, 1, None), (5, 2, (53, 59, 64)), (9, 1, (52, 55, 59, 62))]),
        ([(3.5, 4)], {2}, [(3.5, 1.5, None), (5, 2, (53, 59, 64)), (9, 1, (52, 55, 59, 62))]),  # ends where it begins
        ([(6.5, 1), (7, 1)], {3}, [(5, 2, (53, 59, 64)), (7, 1, None), (9, 1, (52, 55, 59, 62))]),  # sounds still
        ([(5, 1)], {3}, [(5, 2, (53, 59, 64)), (9, 1, (52, 55, 59, 62))]),
        ([(-0.5, 1), (13, 4)], {1}, [(5, 2, (53, 59, 64)), (9, 1, (52, 55, 59, 62)), (13, 4, None)]),
        ([(-0.5, 1)], {2}, [(-0.5, 1, None), (5, 2, (53, 59, 64)), (9, 1, (52, 55, 59, 62))]),
    ],
)
def test_what_is_made_gives_way_to_what_stands(
    form: Form, made: list[tuple[float, float]], bars: set[int], found: list[tuple[object, ...]]
) -> None:
    assert together(form, made, KEPT if bars else [], bars) == found


def test_a_standing_chord_has_the_harmony_and_the_treatment_of_its_place(form: Form) -> None:
    strikes, standing = among_kept(form, [], plan(form), [*KEPT, *chord(20, 1, *range(50, 58))], {2})
    assert [(one.harmony.root, one.treatment.name, one.reason) for one in strikes] == [
        (7, "walking", "written"), (0, "sparse", "written"), (7, "walking", "written"),
    ]  # fmt: skip
    assert [one.pc for one in standing[0].shape.degrees] == [10, 4, 9], "F, B, E over G"
    assert len(standing[2].midi) == 6
    assert strikes[1].length == 1


def test_a_chord_that_stands_in_the_last_bar_has_that_bars_treatment(form: Form) -> None:
    halves = [(Fraction(0), Fraction(8), plan(form)[0][2]), (Fraction(8), Fraction(12), plan(form)[-1][2])]
    (first,), _ = among_kept(form, [], halves, chord(8, 1, 52, 55), {3})
    assert first.treatment.name == "sparse", "it rules from its first beat on"
    (last,), _ = among_kept(form, [], halves, chord(13, 1, 52, 55), {4})
    assert (last.treatment.name, last.harmony.root) == ("sparse", 9), "beyond the plan its last treatment rules"


def test_a_chord_that_stands_is_one_hands_as_written_and_costs_nothing(form: Form) -> None:
    (_, standing) = among_kept(form, [], plan(form), KEPT, {2})
    for voicing in standing.values():
        shape = voicing.shape
        assert (shape.family, shape.name, shape.left, shape.price, voicing.price) == ("", "as written", 0, 0.0, 0.0)
