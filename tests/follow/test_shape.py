"""The shape of a player's time: segments from the form's beginning to its end, each with its stretch."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.follow.shape import TempoShape

WALTZ = TempoShape(6.0, (0.0, 1.0, 2.5, 4.0), (0.0, 0.3, -0.2, 0.1), (0.05, 0.02, 0.1, 0.05))


def test_an_excerpt_keeps_the_tempi_of_its_spots() -> None:
    part = WALTZ.part(2.0, 3.0)
    assert (part.length, part.beats) == (3.0, (0.0, 0.5, 2.0))
    assert part.stretch == (0.3, -0.2, 0.1)


@pytest.mark.parametrize(
    "wrong",
    [
        {"beats": (0.5, 1.0, 2.5, 4.0)},
        {"beats": (0.0, 2.5, 1.0, 4.0)},
        {"beats": (0.0, 1.0, 2.5, 6.0)},
        {"stretch": (0.0, 0.3)},
        {"stretch": (0.0, float("nan"), 0.1, 0.1)},
        {"spread": (0.0, 0.1, 0.1, -0.1)},
    ],
)
def test_what_cannot_be_a_shape_is_refused(wrong: dict[str, tuple[float, ...]]) -> None:
    with pytest.raises(ValueError):
        replace(WALTZ, **wrong)  # type: ignore[arg-type]
