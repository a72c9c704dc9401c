"""Sweeps: the beats of stretches without a leap, however the player swings."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.model import Form
from companion.load import load
from companion.music.swing import straight_quarters, to_sounding
from companion.practice.departures import Departure
from companion.practice.judging import expected_notes
from companion.practice.placing import TakePlace
from companion.practice.sweeps import Sweep, swept
from companion.resources import chart_path

QUARTER = 0.5


@pytest.fixture(scope="module")
def form() -> Form:
    return load(chart_path("ferry-without-lights")).unfold()


def placed(form: Form, ratio: float, start: float = 3.0) -> list[TakePlace]:
    even = straight_quarters(Fraction(note.beat) for note in form.melody)
    return [
        TakePlace(float(note.beat), float(note.beat), start + to_sounding(note.beat, ratio, even) * QUARTER, n == 0)
        for n, note in enumerate(form.melody)
    ]


def sweeps(
    form: Form, places: list[TakePlace], left: list[Departure], bounds: tuple[float, float]
) -> tuple[Sweep, ...]:
    return swept(form, expected_notes(form, {"melody"}), places, left, bounds)


@pytest.mark.parametrize("ratio", [1.0, 1.6, 2.2])
def test_the_beat_is_the_same_however_the_quavers_swing(form: Form, ratio: float) -> None:
    (sweep,) = sweeps(form, placed(form, ratio), [], (-1.0, 128.0))
    assert [beat for beat, _ in sweep.beats] == [float(n) for n in range(-1, 129)]
    assert max(abs(seconds - (3.0 + beat * QUARTER)) for beat, seconds in sweep.beats[2:-2]) < 0.012


def test_a_departure_makes_two_sweeps_each_with_its_own_beats(form: Form) -> None:
    places = placed(form, 1.6)
    middle = next(n for n, place in enumerate(places) if place.beat >= 64)
    later = [TakePlace(p.beat, p.written, p.seconds + 3.0, n == 0, p.free) for n, p in enumerate(places[middle:])]
    first, second = sweeps(form, [*places[:middle], *later], [Departure(middle - 1, 64.0, 64.0, 3.0)], (-1.0, 128.0))
    assert (first.low, first.high, second.low, second.high) == (-1.0, 64.0, 64.0, 128.0)
    assert second.map().seconds(64.0) - first.map().seconds(64.0) == pytest.approx(3.0, abs=0.05)


def test_where_something_else_was_played_is_told(form: Form) -> None:
    places = [TakePlace(float(n), float(n), 3.0 + n * QUARTER, n == 0, free=32 <= n < 64) for n in range(128)]
    (sweep,) = sweeps(form, places, [], (0.0, 128.0))
    assert sweep.free == ((32.0, 64.0),)


def test_one_note_alone_still_has_a_beat(form: Form) -> None:
    places = placed(form, 1.6)
    found = sweeps(form, [*places[:30], places[40]], [Departure(29, 40.0, 60.0, 0.0)], (-1.0, 61.0))
    assert len(found[1].beats) >= 2
    assert all(b > a for (_, a), (_, b) in zip(found[1].beats, found[1].beats[1:], strict=False))
