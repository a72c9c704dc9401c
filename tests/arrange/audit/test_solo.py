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


def counted(form: Form, *solos: list[list[Note]]) -> dict[str, tuple[float, int, tuple[str, ...]]]:
    return {figure.name: (figure.value, figure.of, figure.places) for figure in solo_figures(form, solos)}


def test_what_is_counted_of_a_solo_of_four_phrases(compose: Composer) -> None:
    form, half = compose("C6 | C6 | C6 | C6"), Fraction(1, 2)
    solo = [
        *said([60, 64, 67, 72, 69], CALL),
        *said([62, 65, 69, 71, 65], CALL, at=4),  # the rhythm of the first
        *said([60, 62, 64, 65], [0, half, 1, 3 * half], at=8),  # nothing of either
        *said([67, 76, 60, 62, 64], CALL, at=12),  # the rhythm of the last but one; a leap of sixteen semitones
    ]
    found = counted(form, [solo])
    assert found["phrases that take up one of the last two"] == (pytest.approx(2 / 3), 3, ())
    assert found["highest note in the third quarter"] == (0.0, 1, ("at 0.78",))
    assert found["phrases of five bars at most"] == (1.0, 4, ())
    assert found["phrases without a leap wider than an octave"][:2] == (0.75, 4)
    assert found["chord tones on the beat"][:2] == (5 / 8, 8)
    assert found["share of silence"][:2] == (pytest.approx(1 - 9.5 / 16), 1)
    assert found["semitones from the first quarter up to the third"][:2] == (pytest.approx(64.5 - 65.75), 1)
    assert found["choruses that are another again"][:2] == (0.0, 1)
    again = counted(form, [solo, solo], [solo])
    assert again["choruses that are another again"][:2] == (pytest.approx(2 / 3), 2)
    assert again["phrases that take up one of the last two"][:2] == (pytest.approx((2 + 1 + 2 + 2) / 10), 10)


@pytest.mark.parametrize(("beat", "inside"), [(7, False), (8, True), (12, True), (13, False)])
def test_the_third_quarter_is_from_the_middle_to_three_quarters(compose: Composer, beat: int, inside: bool) -> None:
    found = counted(compose("C6 | C6 | C6 | C6"), [said([60, 72], [0, beat])])
    assert found["highest note in the third quarter"][0] == inside


@pytest.mark.parametrize(("quarters", "step", "short", "narrow"), [(20, 12, 1, 1), (21, 13, 0, 0)])
def test_a_phrase_lasts_five_bars_and_leaps_an_octave_at_most(
    compose: Composer, quarters: int, step: int, short: int, narrow: int
) -> None:
    row = [
        Note(Fraction(n), Fraction(1), pitch_in_key(60 + step * (n % 2)), "solo") for n in range(quarters)
    ]  # fmt: skip
    found = counted(compose(" | ".join(["C6"] * 8)), [row])
    assert found["phrases of five bars at most"] == (short, 1, () if short else ("bar 1 beat 1",))
    assert found["phrases without a leap wider than an octave"][:2] == (narrow, 1)


def test_a_breath_is_three_quarters_of_a_beat() -> None:
    for gap, many in ((Fraction(3, 4), 2), (Fraction(2, 3), 1)):
        line = [*said([60], [0]), *said([62], [Fraction(1, 2) + gap])]
        assert len(phrases(line)) == many
