"""What is to be played, and where each note may sound: through the choruses, even or swung."""

from __future__ import annotations

import pytest

from companion.chart.model import Form
from companion.load import load
from companion.practice.expected import Expected, expected_between, expected_notes
from companion.resources import chart_path


@pytest.fixture(scope="module")
def form() -> Form:
    return load(chart_path("ferry-without-lights")).unfold()


@pytest.mark.parametrize(
    ("low", "high", "beats"),
    [
        (-1.0, 0.0, [-1.0, -0.5]),
        (-0.5, 4.0, [-0.5, 0.0, 3.5]),
        (127.0, 128.0, []),  # the pickup to the second chorus is played by who goes on into it
        (127.0, 128.5, [127.0, 127.5, 128.0]),
        (128.0, 132.0, [128.0, 131.5]),
        (255.0, 260.0, [255.0, 255.5, 256.0, 259.5]),
        (0.0, 0.0, []),
    ],
)
def test_what_is_to_be_played_goes_on_through_the_choruses(
    form: Form, low: float, high: float, beats: list[float]
) -> None:
    assert [note.beat for note in expected_between(form, {"melody"}, low, high)] == beats


@pytest.mark.parametrize(
    ("beat", "earliest", "latest"), [(0.0, 0.0, 0.0), (-0.5, -0.5, -0.5 + 2.5 / 3.5 - 0.5), (3.5, 3.5, 3 + 2.5 / 3.5)]
)
def test_an_off_beat_quaver_may_sound_anywhere_up_to_five_to_two(
    form: Form, beat: float, earliest: float, latest: float
) -> None:
    (one,) = [note for note in expected_notes(form, {"melody"}) if note.beat == beat]
    assert (one.earliest, one.latest) == pytest.approx((earliest, latest), abs=1e-6)


def test_in_a_later_chorus_a_note_may_sound_as_much_later_as_in_the_first(form: Form) -> None:
    (first,), (second,) = (expected_between(form, {"melody"}, low, low + 0.5) for low in (3.5, 131.5))
    assert (second.beat - 128, second.earliest - 128, second.latest - 128) == pytest.approx(
        (first.beat, first.earliest, first.latest)
    )


@pytest.mark.parametrize(("beat", "off"), [(0.4, -0.1), (0.5, 0.0), (0.6, 0.0), (0.7, 0.0), (1.0, 0.3)])
def test_a_note_is_off_by_as_much_as_it_lies_outside_of_where_it_may_sound(beat: float, off: float) -> None:
    assert Expected(0.5, 0.5, 0.7, 60, "melody").off(beat) == pytest.approx(off)
