"""How loud a take is played: the melody against the chords, and accents."""

from __future__ import annotations

import random
import statistics

import pytest

from companion.messages import Heard, Part
from companion.practice.dynamics_played import (
    Difference,
    Loudness,
    difference,
    dynamics_figures,
    dynamics_findings,
    loudness_of,
    velocities,
)
from companion.practice.judging import JudgedNote
from tests.practice.test_alignment import form

TUNE = form("ferry-without-lights")


def take(
    melody: dict[int, float] | None = None, *, chords: float = 58.0, seed: int = 1
) -> tuple[list[JudgedNote], list[Heard]]:
    """Sixteen bars of four melody notes and a chord, by bar how loud the melody is where it isn't 82."""
    dice = random.Random(seed)
    notes, heard = [], []
    for n in range(64):
        beat, seconds = float(n), 1.0 + 0.5 * n
        loud = (melody or {}).get(n // 4 + 1, 82.0)
        keys = [(72, "melody", loud)] + [(pitch, "chords", chords) for pitch in (53, 57, 60) if n % 4 == 0]
        for pitch, part, level in keys:
            notes.append(JudgedNote("right", beat, None, pitch, seconds, None, part))  # type: ignore[arg-type]
            heard.append(Heard(seconds, 0x90, pitch, round(dice.gauss(level, 5))))
    return notes, heard


def told(notes: list[JudgedNote], heard: list[Heard]) -> list[int]:
    return [one.bar for _, one in dynamics_findings(TUNE, notes, loudness_of(heard), 4.0)]


def test_a_bar_in_which_the_chords_drown_the_melody_is_told() -> None:
    assert told(*take({9: 40.0})) == [9]


def test_of_even_playing_and_of_who_always_plays_the_chords_louder_no_bar_is_told() -> None:
    for seed in range(20):
        assert not told(*take(seed=seed))
        assert not told(*take(chords=90.0, seed=seed))


def test_a_keyboard_without_touch_tells_nothing() -> None:
    notes, heard = take({9: 40.0})
    flat = [Heard(one.seconds, one.status, one.data1, 64) for one in heard]
    assert not told(notes, flat) and not dynamics_figures(notes, loudness_of(flat))
    assert loudness_of(flat)(notes[0]) is None
    assert velocities(flat)[1.0, 72] == 64


def test_how_far_the_melody_lies_above_the_chords_is_said_with_its_uncertainty() -> None:
    line, *_ = dynamics_figures(*_with_loudness())
    assert line.startswith("dynamics: the melody lies 2") and "above the chords" in line and "±" in line


def _with_loudness() -> tuple[list[JudgedNote], Loudness]:
    notes, heard = take()
    return notes, loudness_of(heard)


def test_a_difference_has_the_error_that_statistics_promise() -> None:
    """The standard error of a difference of means: sqrt(s1^2 / n1 + s2^2 / n2) (any textbook of statistics)."""
    dice = random.Random(3)
    some, others = [dice.gauss(10, 5) for _ in range(50)], [dice.gauss(0, 5) for _ in range(50)]
    found = difference(some, others, statistics.fmean)
    assert found is not None and found.told
    promised = (statistics.variance(some) / 50 + statistics.variance(others) / 50) ** 0.5
    assert found.error == pytest.approx(promised, rel=0.15)
    assert difference(some[:3], others) is None


def levels(last: int, usual: int = 75, *, each: int = 3, bars: int = 6) -> list[int]:
    """The bars of which it is told, where the melody is as loud in all bars and otherwise in the last; chords at 60."""
    notes, heard = [], []
    for bar in range(bars):
        at = 1.0 + 2.0 * bar
        keys = [(72, "melody", 4.0 * bar + n, at + n / 2, last if bar == bars - 1 else usual) for n in range(each)]
        keys += [(50 + n, "chords", 4.0 * bar, at, 59 + n) for n in range(3)]
        for pitch, part, beat, seconds, level in keys:
            notes.append(JudgedNote("right", beat, None, pitch, seconds, None, part))  # type: ignore[arg-type]
            heard.append(Heard(seconds, 0x90, pitch, level))
    return told(notes, heard)


@pytest.mark.parametrize(
    ("played", "bars"),
    [
        (levels(59), [6]),  # 16 below the others: four times the least that bars differ
        (levels(59, 74), []),
        (levels(60, 90), []),  # as loud as the chords is loud enough
        (levels(59, 90, each=2), []),  # of two notes nothing is said
        (levels(59, 90, bars=5), []),  # nor of five bars
    ],
)
def test_the_melody_is_too_soft_where_it_lies_below_the_chords_and_far_below_what_is_usual(
    played: list[int], bars: list[int]
) -> None:
    assert played == bars


def test_what_is_told_of_a_soft_bar_has_its_moment_and_how_far_the_melody_lies_below() -> None:
    notes, heard = take({9: 40.0}, seed=4)
    ((moment, one),) = dynamics_findings(TUNE, notes, loudness_of(heard), 4.0)
    assert (moment, one.bar, one.chorus, one.what, one.figure) == (17.0, 9, 1, "dynamics", -17.7)
    assert one.text == "bar 9: the melody is softer than the chords"


def accented(by: int, part: Part = "melody", step: float = 0.5, touch: float = 3.0, count: int = 64) -> list[str]:
    """What is said of quavers of a melody, or of a bass, of which every other is so much firmer."""
    dice = random.Random(2)
    notes = [JudgedNote("right", n * step, None, 40, 1 + n / 2, None, part) for n in range(count)]
    heard = [Heard(1 + n / 2, 0x90, 40, round(70 + dice.gauss(0, touch) + by * (n % 2))) for n in range(count)]
    return dynamics_figures(notes, loudness_of(heard))


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (accented(9), ["accents: off-beat quavers 10 firmer than those on the beat (velocity, ± 1)"]),
        (accented(-9), ["accents: off-beat quavers 8 softer than those on the beat (velocity, ± 1)"]),
        (accented(5), []),  # nobody hears it
        (accented(9, touch=20.0), []),  # chance would show it
        (accented(9, count=14), []),  # too few
        (accented(9, "bass", 1.0), ["accents: in the bass, beats 2 and 4 10 firmer than 1 and 3 (velocity, ± 1)"]),
        (accented(-9, "bass", 1.0), ["accents: in the bass, beats 2 and 4 8 softer than 1 and 3 (velocity, ± 1)"]),
        (accented(9, "chords"), []),
        (dynamics_figures(*_with_loudness()),
         ["dynamics: the melody lies 22 above the chords (velocity, ± 1)"]),
    ],
)  # fmt: skip
def test_accents_are_said_where_they_are_heard_and_are_no_chance(lines: list[str], said: list[str]) -> None:
    assert lines == said


@pytest.mark.parametrize(("by", "told"), [(2.6, True), (2.5, False), (-2.6, True), (-2.5, False)])
def test_a_difference_is_told_from_where_chance_shows_it_once_in_a_hundred_times(by: float, told: bool) -> None:
    """2.58 standard errors of a normal distribution (any table of it)."""
    assert Difference(by, 1.0).told is told


@pytest.mark.parametrize(("many", "known"), [(7, False), (8, True)])
def test_eight_notes_of_each_kind_are_compared(many: int, known: bool) -> None:
    found = difference([5.0] * many, [2.0] * 8)
    assert (found is not None) is known
    assert found is None or (found.by, found.error) == (3.0, 1e-6)


@pytest.mark.parametrize(("values", "felt"), [((64, 70), False), ((64, 70, 71), True)])
def test_three_velocities_show_that_a_keyboard_feels(values: tuple[int, ...], felt: bool) -> None:
    heard = [Heard(float(n), 0x90, 60, value) for n, value in enumerate(values)]
    note = JudgedNote("right", 0.0, None, 60, 0.0)
    assert (loudness_of(heard)(note) is not None) is felt


@pytest.mark.parametrize(("firmer", "said"), [(6, 1), (5, 0), (-6, 1), (-5, 0)])
def test_quavers_within_a_fifth_of_a_beat_of_their_place_are_compared_from_six_steps_of_velocity_on(
    firmer: int, said: int
) -> None:
    """What lies between beat and off-beat, and what was wrong, is left out, however loud."""
    notes, levels = [], {}
    for n in range(16):
        for place, level in ((0.31, 70 + firmer), (0.69, 70 + firmer), (-0.19, 70), (0.19, 70), (0.0, 70), (0.29, 127),
                             (0.71, 127), (0.21, 1), (-0.21, 1)):  # fmt: skip
            notes.append(JudgedNote("right", 1 + n + place, None, 60, 1 + n + place, None, "melody"))
            levels[1 + n + place] = level
        notes.append(JudgedNote("wrong", n + 0.5, None, 60, n + 0.5, None, "melody"))
        levels[n + 0.5] = 100
    found = dynamics_figures(notes, lambda note: levels[note.seconds or 0.0])
    how = "firmer" if firmer > 0 else "softer"
    assert found == [f"accents: off-beat quavers 6 {how} than those on the beat (velocity, ± 0)"] * said


def test_the_second_and_fourth_beats_of_a_bass_are_held_against_the_first_and_third() -> None:
    notes = [JudgedNote("right", float(n), None, 40, float(n), None, "bass") for n in range(32)]
    notes += [JudgedNote("right", float(n), None, 70, n + 0.01, None, "melody") for n in range(32)]
    found = dynamics_figures(notes, lambda note: 50 if note.pitch == 70 else (70, 80, 72, 82)[int(note.chart_beat) % 4])
    assert found == ["accents: in the bass, beats 2 and 4 10 firmer than 1 and 3 (velocity, ± 0)"]


@pytest.mark.parametrize(("melody", "where"), [(60, "0 above"), (59, "1 below"), (61, "1 above")])
def test_a_melody_as_loud_as_the_chords_lies_nothing_above_them(melody: int, where: str) -> None:
    parts: tuple[Part, ...] = ("melody", "chords")
    notes = [JudgedNote("right", float(n), None, 60, float(n), None, part) for n in range(8) for part in parts]
    found = dynamics_figures(notes, lambda note: melody if note.part == "melody" else 60)
    assert found == [f"dynamics: the melody lies {where} the chords (velocity, ± 0)"]
