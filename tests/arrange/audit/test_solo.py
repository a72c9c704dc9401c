"""What is counted in a solo, on lines made by hand, and what the companion's own solos reach.

That phrases take up what was said before, that a solo rises to a peak in its third quarter and leaves space, is common
practice; the targets are the project's.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from companion.arrange.audit.solo import peak_share, phrases, solo_figures, takes_up
from companion.arrange.part import Note
from companion.arrange.solo.part import improvised_line
from companion.arrange.solo.story import SoloChorus, is_blues
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]

CALL: list[Fraction | int] = [0, Fraction(1, 2), Fraction(3, 2), 2, Fraction(5, 2)]


def said(midi: Sequence[int], beats: Sequence[Fraction | int], at: int = 0) -> list[Note]:
    pitches = [pitch_in_key(one) for one in midi]
    return [Note(Fraction(at) + b, Fraction(1, 2), p, "solo") for b, p in zip(beats, pitches, strict=True)]


def test_the_rhythm_of_a_call_with_other_notes_is_taken_up_and_an_even_run_is_not() -> None:
    call = said([67, 69, 70, 72, 69], CALL)
    assert takes_up(said([62, 65, 62, 60, 58], CALL, at=9), call)
    even: list[Fraction | int] = [Fraction(n, 2) for n in range(5)]
    assert not takes_up(said([62, 65, 62, 60, 58], even, at=8), said([67, 69, 70, 72, 69], even))


def test_six_intervals_are_taken_up_in_any_rhythm_and_five_are_not() -> None:
    row = [67, 69, 70, 74, 72, 70, 65]
    slow: list[Fraction | int] = list(range(7))
    quick: list[Fraction | int] = [Fraction(n, 2) for n in range(7)]
    assert takes_up(said([m - 2 for m in row], quick, at=8), said(row, slow))
    assert not takes_up(said([m - 2 for m in row[:-1]] + [66], quick, at=8), said(row, slow))


def test_phrases_are_cut_at_breaths_and_the_peak_is_the_first_highest_note(minor_swing: Form) -> None:
    line = [*said([67, 69], [0, 1]), *said([70, 79], [0, 1], at=80)]
    assert [len(phrase) for phrase in phrases(line)] == [2, 2]
    assert peak_share(minor_swing, [line]) == pytest.approx(81 / 128)


def solos(form: Form, times: int, seeds: int) -> list[list[tuple[Note, ...]]]:
    return [
        [improvised_line(form, chorus=t, seed=s, place=SoloChorus(t, times)) for t in range(1, times + 1)]
        for s in range(seeds)
    ]


@pytest.mark.parametrize("times", [1, 2, 3])
def test_a_solo_tells_a_story_with_a_peak_in_its_third_quarter(minor_swing: Form, times: int) -> None:
    for figure in solo_figures(minor_swing, solos(minor_swing, times, 5)):
        assert figure.reached, (figure.name, figure.value, figure.places)


def test_one_chorus_of_a_blues_is_a_riff_that_stays_where_it_is(compose: Composer) -> None:
    blues = compose("F7 | Bb7 | F7 | F7 | Bb7 | Bb7 | F7 | D7 | Gm7 | C7 | F7 D7 | Gm7 C7")
    assert is_blues(blues)
    for seed in range(5):
        riff = solos(blues, 4, 5)[seed][1]
        first, again, fourth = ([n for n in riff if at <= n.beat < at + 8] for at in (0, 8, 16))
        assert [n.beat for n in first] == [n.beat - 8 for n in again] == [n.beat - 16 for n in fourth]
        assert 4 <= len(first) <= 7
        assert all(abs(a.midi - b.midi) <= 4 for a, b in zip(first, again, strict=True))


def test_where_nothing_is_played_nothing_is_counted(compose: Composer) -> None:
    form = compose("C | C")
    assert phrases([]) == [] and peak_share(form, [[]]) == 0.0
    found = {figure.name: (figure.value, figure.of) for figure in solo_figures(form, [])}
    assert set(found.values()) == {(0.0, 0)}


def test_the_first_of_equal_peaks_counts_over_all_choruses(compose: Composer) -> None:
    form = compose("C | C")
    low, high = said([60, 62], [0, 2]), said([64, 67, 67], [0, 4, 6])
    assert peak_share(form, [low, high]) == (1 + 4 / 8) / 2
    assert peak_share(form, [high, low]) == (4 / 8) / 2
