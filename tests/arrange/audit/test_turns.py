"""What a teacher would count in introductions and endings, held to some made by hand (common practice)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from companion.arrange.audit.turns import all_turn_figures, closes, tunes_own, turn_figures
from companion.chart.model import Form, MelodyNote
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]


@pytest.mark.parametrize(
    ("ending", "times"),
    [
        ("Dm7 G7 | C6", 1),
        ("Dm7 Db7 | C6", 1),  # by its substitute
        ("Dm7 Ab7 | C6", 1),  # from elsewhere, but it ends at home
        ("Dm7 G7 | Am7", 0),
        ("C6 | C6", 1),  # at home all along
        ("G7 C6 | Dm7 G7 | C6 | C6", 1),  # in the first half of four bars a tonic closes nothing
        ("Dm7 | G7 | C6 | G7 | C6", 2),
        ("Dm7 G7 | C6 | Dm7 G7 | C6", 1),
        ("Dm7 | Dm7 G7 | C6 G7 | C6", 2),
        ("Dm7 G7 | C/E", 0),  # in root position
        ("N.C. | G7 | Dm7 G7 | C6", 1),
    ],
)
def test_an_ending_closes_where_the_tonic_comes_after_its_dominant(compose: Composer, ending: str, times: int) -> None:
    assert closes(compose("C6 | G7"), compose(ending)) == times


def tune(*notes: tuple[float, int]) -> list[MelodyNote]:
    """Notes by beat and MIDI number."""
    return [MelodyNote(Fraction(beat), Fraction(1, 2), pitch_in_key(midi)) for beat, midi in notes]


OWN = ((0.0, 60), (1.0, 62), (1.5, 62), (3.0, 59), (4.0, 64))


@pytest.mark.parametrize(
    ("melody", "share"),
    [
        (OWN, 1.0),
        ([(8.0, 67), (9.0, 72), (9.5, 72)], 1.0),  # elsewhere, and with other intervals the same way
        ([(0.0, 60), (1.0, 59), (1.5, 59)], 0.0),  # the other way
        ([(0.0, 60), (1.0, 62), (1.5, 63)], 0.0),  # it went on where the tune stood still
        ([(0.0, 60), (1.0, 62), (1.5, 61)], 0.0),
        ([(0.0, 60), (1.0, 62), (1.75, 62)], 0.0),  # in another rhythm
        ([(0.0, 60), (1.0, 62), (1.5, 62), (2.0, 70)], 0.75),  # three of four
        ([(0.0, 70), (0.5, 60), (1.5, 62), (2.0, 62)], 0.75),
        ([(0.0, 60), (1.0, 61)], 1.0),  # of two both
        ([(0.0, 60), (2.0, 61)], 0.0),
        ([], 0.0),
    ],
)
def test_a_melody_is_the_tunes_own_in_runs_of_three(
    compose: Composer, melody: Sequence[tuple[float, int]], share: float
) -> None:
    form = compose("C6 | G7 | C6", melody=[(beat, 0.5, midi) for beat, midi in OWN])
    assert tunes_own(form, tune(*melody)) == share


def test_introductions_stay_open_and_are_the_tunes_own_and_endings_close_once(compose: Composer) -> None:
    melody = [(beat, 0.5, midi) for beat, midi in OWN]
    form = compose("C6 | Am7 | Dm7 | G7", melody=melody)
    opens, shut, vamp = compose("Dm7 | G7", melody=melody), compose("Dm7 | G7 | C6"), compose("C6 G7 | C6 G7 | C6")
    half = compose(
        "Dm7 | G7", melody=[(0.0, 0.5, 60), (1.0, 0.5, 62), (1.5, 0.5, 62), *((4 + n, 0.5, 70) for n in range(3))]
    )
    own, open_, once = turn_figures(
        form, [opens, shut, vamp, half], [compose("G7 | C6"), compose("Dm7 | G7 | C6 G7 | C6")]
    )
    assert (own.value, own.of, own.places) == (0.5, 4, ("introduction 1: 0.00", "introduction 2: 0.00"))
    assert (open_.value, open_.of) == (0.75, 4), "two chords that go round may come home"
    assert (once.value, once.places) == (0.5, ("ending 1: 2",))
    assert [figure.at_least for figure in (own, open_, once)] == [1.0, 1.0, 1.0]
    assert [figure.value for figure in all_turn_figures(form)] == [1.0, 1.0, 1.0]
    assert turn_figures(compose("C6 | G7"), [opens], [])[0].of == 0, "without a melody none is asked for"
