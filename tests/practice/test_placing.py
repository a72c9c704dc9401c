"""Onsets in order through the choruses, and the stretches in which something else is played."""

from __future__ import annotations

import pytest

from companion.chart.model import Form
from companion.load import load
from companion.practice.judging import Struck, expected_notes
from companion.practice.matching import Laid, StruckOnset
from companion.practice.placing import (
    TakePlace,
    as_written,
    chart_onsets,
    in_time,
    laid_places,
    quarter_at,
    stretches_away,
    take_onsets,
    through_choruses,
    with_followed,
)
from companion.resources import chart_path

MELODY = {"melody"}


@pytest.fixture(scope="module")
def form() -> Form:
    return load(chart_path("ferry-without-lights")).unfold()


def test_the_onsets_of_a_form_rise_and_its_pickup_lies_at_their_end(form: Form) -> None:
    onsets = chart_onsets(form, expected_notes(form, MELODY))
    assert list(onsets.beat) == sorted(onsets.beat)
    assert onsets.beat[-1] >= float(form.length - form.pickup)
    assert onsets.top[0] and onsets.top.sum() == 2
    assert set(onsets.pitches[0]) == {note.pitch.midi for note in form.melody if note.beat == 0}


def test_keys_struck_together_are_one_onset_and_low_ones_are_company(form: Form) -> None:
    struck = [Struck(1.0, 71), Struck(1.02, 76), Struck(1.5, 30)]
    onsets = take_onsets(form, MELODY, expected_notes(form, MELODY), struck)
    assert [(set(onset.pitches), onset.company) for onset in onsets] == [({71, 76}, False), ({30}, True)]


def test_a_player_of_chords_besides_the_melody_brings_company_but_for_a_lone_key_as_high_as_the_melody(
    form: Form,
) -> None:
    struck = [Struck(1.0, 71), Struck(2.0, 67), Struck(2.01, 71), Struck(3.0, 50)]
    onsets = take_onsets(form, {"melody", "chords"}, expected_notes(form, MELODY), struck)
    assert [onset.company for onset in onsets] == [False, True, True]
    assert take_onsets(form, {"melody", "bass"}, expected_notes(form, MELODY), struck[:1])[0].company


def onsets(count: int) -> list[StruckOnset]:
    return [StruckOnset(1.0 + 0.5 * n, frozenset({60})) for n in range(count)]


def test_a_stretch_with_little_as_written_is_not_laid_at_all() -> None:
    found = [Laid(n, n, n == 0, 0.0 if n < 20 or n >= 40 else 4.0) for n in range(60)]
    kept = as_written(onsets(60), found)
    assert {laid.onset for laid in kept} >= {*range(16), *range(44, 60)}
    assert not {laid.onset for laid in kept} & set(range(24, 36))
    assert [laid.leapt for laid in kept].count(True) == 2  # where it begins, and where it is taken up again


def test_a_wrong_note_now_and_then_is_as_written() -> None:
    found = [Laid(n, n, n == 0, 4.0 if n % 4 == 0 else 0.0) for n in range(60)]
    assert as_written(onsets(60), found) == found


def test_the_second_time_through_goes_on_counting(form: Form) -> None:
    expected = expected_notes(form, MELODY)
    chart = chart_onsets(form, expected)
    last = len(chart.beat) - 1
    path = [Laid(0, last - 2, True, 0.0), Laid(1, last - 1, False, 0.0), Laid(2, 0, False, 0.0)]
    laid = through_choruses(form, laid_places(form, expected, path, onsets(3)))
    assert laid[2].written == pytest.approx(float(form.length))
    assert laid[0].written < laid[1].written < laid[2].written


def test_who_comes_in_with_the_pickup_comes_in_below_zero(form: Form) -> None:
    expected = expected_notes(form, MELODY)
    chart = chart_onsets(form, expected)
    first = int(chart.top.nonzero()[0][-1])
    path = [Laid(0, first, True, 0.0), *(Laid(n + 1, n, False, 0.0) for n in range(3))]
    if first != len(chart.beat) - 1:
        path = [Laid(n - first, n % len(chart.beat), n == first, 0.0) for n in range(first, len(chart.beat) + 3)]
    laid = through_choruses(form, laid_places(form, expected, path, onsets(len(path))))
    assert laid[0].written == pytest.approx(-float(form.pickup))
    assert laid[-1].written > 0


def test_some_notes_in_a_row_that_are_laid_nowhere_are_a_stretch_away() -> None:
    known = [1.0, 2.0, 12.0]
    struck = [*known, *(3.0 + n for n in range(8))]
    assert set(stretches_away(known, sorted(struck))) == {2}
    assert stretches_away(known, sorted([*known, 3.0, 4.0])) == {}


def test_beats_as_followed_stand_in_a_stretch_away_and_nowhere_else(form: Form) -> None:
    known = [TakePlace(float(n), float(n), 1.0 + n, n == 0) for n in (0, 1, 12)]
    followed = [(float(n), 1.01 + n) for n in range(20)]
    found = with_followed(form, known, followed, {2: (2.1, 12.9)})
    assert [place.beat for place in found] == [0.0, 1.0, *map(float, range(2, 12)), 12.0]
    assert [place.free for place in found] == [False, False, *[True] * 10, False]


def test_the_tempo_at_a_place_is_that_of_the_steps_before_it() -> None:
    places = [TakePlace(float(n), float(n), 0.5 * n if n < 8 else 3.5 + 0.8 * (n - 7), n == 0) for n in range(20)]
    assert quarter_at(places, 7) == pytest.approx(0.5)
    assert quarter_at(places, 19) == pytest.approx(0.8)


@pytest.mark.parametrize(("passed", "step", "right"), [(4.2, 4.0, True), (5.0, 4.0, False), (17.5, 16.0, True)])
def test_the_longer_the_silence_the_less_exact_its_count(passed: float, step: float, right: bool) -> None:
    assert in_time(passed, step) is right
