"""What an audit finds in chords, note by note: values of the limits are common practice (from memory)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from companion.arrange.audit.chords import LOW_LIMITS, chords_of, intended_chord, placement_figures, voicing_figures
from companion.arrange.part import Note
from companion.arrange.plan import plan
from companion.chart.model import Form
from companion.messages import Hand
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]


def chord(beat: float, length: float, *midi: int, hand: Hand = "right", reason: str = "") -> list[Note]:
    return [Note(Fraction(beat), Fraction(length), pitch_in_key(m), "chords", hand, reason=reason) for m in midi]


def bass(beat: float, length: float, midi: int) -> Note:
    return Note(Fraction(beat), Fraction(length), pitch_in_key(midi), "bass", "left")


def faults(form: Form, notes: Sequence[Note], below: Sequence[Note] = (), treatment: str = "walking") -> set[str]:
    found = voicing_figures(form, plan(form, treatment), [notes], [below])
    return {figure.name for figure in found if figure.at_most == 0 and figure.value}


CLASH, MUD, WIDE, ABOVE = (
    "clashes with the melody",
    "below the low limits",
    "wider than a hand",
    "above a sounding melody note",
)
ROOT, BARE = "rootless voicings with the root in them", "rootless voicings without third and seventh"


@pytest.mark.parametrize(
    ("melody", "found"),
    [
        ([], set()),
        ([(0, 4, 67)], set()),
        ([(0, 4, 66)], {CLASH}),  # a minor ninth over F
        ([(0, 4, 65)], {CLASH}),  # a semitone over E
        ([(0, 4, 70)], {CLASH}),  # a minor ninth over A
        ([(0, 4, 63)], {ABOVE}),
        ([(0, 4, 64)], set()),  # the same note is not above it
        ([(1.5, 1, 63)], set()),  # struck later
        ([(0, 1, 65), (2, 2, 65)], set()),  # over before, and begun after
        ([(1.5, 1, 65)], {CLASH}),
    ],
)
def test_chords_are_held_against_the_melody(
    compose: Composer, melody: list[tuple[float, float, int]], found: set[str]
) -> None:
    form = compose("Dm7 | G7", melody=melody)
    assert faults(form, chord(1, 1, 53, 57, 60, 64)) == found


@pytest.mark.parametrize(("interval", "lowest"), LOW_LIMITS.items())
def test_below_the_limit_of_an_interval_is_mud(compose: Composer, interval: int, lowest: int) -> None:
    form = compose("Dm7 | G7")
    for midi, found in ((lowest, set()), (lowest - 1, {MUD})):
        assert faults(form, chord(1, 1, midi, midi + interval), treatment="modal") & {MUD} == found
        assert faults(form, chord(1, 1, midi + interval), [bass(0, 4, midi)], "modal") & {MUD} == found


@pytest.mark.parametrize(
    ("below", "found"),
    [((0, 4, 53), {MUD}), ((0, 4, 60), {MUD}), ((0, 1, 60), set()), ((2, 2, 60), set()), ((1.5, 2, 60), {MUD})],
)
def test_a_bass_in_the_chord_or_above_it_counts_while_it_sounds(
    compose: Composer, below: tuple[float, float, int], found: set[str]
) -> None:
    assert faults(compose("Dm7 | G7"), chord(1, 1, 53, 57, 60, 64), [bass(*below)]) == found


@pytest.mark.parametrize(
    ("right", "left", "found"),
    [
        ((60, 74), (), set()),
        ((60, 75), (), {WIDE}),
        ((60, 63, 66, 69, 72), (), set()),
        ((60, 62, 64, 66, 68, 70), (), {WIDE}),
        ((60, 64), (45, 60), {WIDE}),
        ((64, 74), (46, 60), set()),
    ],
)
def test_a_hand_takes_a_ninth_and_five_notes(
    compose: Composer, right: tuple[int, ...], left: tuple[int, ...], found: set[str]
) -> None:
    notes = [*chord(1, 1, *right), *chord(1, 1, *left, hand="left")]
    assert faults(compose("Dm7 | G7"), notes, treatment="modal") & {WIDE} == found


@pytest.mark.parametrize(
    ("symbol", "midi", "found"),
    [
        ("Dm7", (53, 57, 60, 64), set()),
        ("Dm7", (50, 53, 60), {ROOT}),
        ("Dm7", (57, 60, 64), {BARE}),
        ("Dm7", (53, 57, 64), {BARE}),
        ("D6", (54, 57, 59), set()),  # the sixth stands for the seventh
        ("Dsus4", (55, 60, 64), set()),  # the fourth for the third
        ("Dm7", (55, 60, 64), {BARE}),
        ("Dm7b5", (50, 53, 60), set()),  # its root is allowed
        ("Dm7/G", (50, 57), set()),  # its own notes alone
        ("Ddim7", (50, 53, 59), set()),
    ],
)
def test_rootless_chords_have_third_and_seventh_and_no_root(
    compose: Composer, symbol: str, midi: tuple[int, ...], found: set[str]
) -> None:
    form = compose(f"{symbol} | {symbol}")
    assert faults(form, chord(1, 1, *midi)) == found
    assert not faults(form, chord(1, 1, *midi), treatment="modal"), "fourths are another matter"


def test_under_the_melodys_fourth_no_third_is_missed(compose: Composer) -> None:
    for melody, found in (([(0, 4, 72)], set()), ([(0, 1, 72)], {BARE}), ([(2, 2, 72)], {BARE})):
        form = compose("G7 | G7", melody=melody)
        assert faults(form, chord(1, 1, 53, 57, 60)) == found


@pytest.mark.parametrize(
    ("beat", "midi", "root"),
    [
        (1, (53, 57, 59, 64), 2),
        (3.5, (53, 57, 59, 64), 7),  # G7 on the quaver before it
        (3.5, (53, 57, 60, 64), 2),
        (3.25, (53, 57, 59, 64), 2),
        (7.5, (53, 57, 60, 64), 2),  # the top again
    ],
)
def test_a_chord_on_the_quaver_before_another_is_heard_as_the_one_it_says(
    compose: Composer, beat: float, midi: tuple[int, ...], root: int
) -> None:
    form = compose("Dm7 | G7")
    assert intended_chord(form, Fraction(beat), chord(beat, 1, *midi)).root == root


def test_what_is_struck_together_is_a_chord_and_a_late_voice_belongs_to_the_one_before() -> None:
    late = chord(2, 1, 60, reason="late fourth voice")
    found = chords_of([*chord(3, 1, 62), *late, *chord(1, 2, 64, 53)])
    assert [(beat, [note.midi for note in notes]) for beat, notes in found] == [(1, [53, 60, 64]), (3, [62])]


@pytest.mark.parametrize(
    ("rows", "moved", "cases"),
    [
        ([(1, (53, 57, 60, 64)), (5, (53, 57, 59, 64))], 0.25, 4),
        ([(1, (53, 57, 60, 64)), (2, (60, 64, 65, 69))], 0.0, 0),  # the same chord
        ([(1, (53, 57, 60, 64)), (5, (53, 59, 62))], 4 / 3 - 1 / 3, 3),  # each of the fewer to the nearest
        ([(1, (53, 60)), (5, (59, 65, 69))], (6 + 1) / 2, 2),
    ],
)
def test_movement_is_that_of_each_voice(
    compose: Composer, rows: list[tuple[float, tuple[int, ...]]], moved: float, cases: int
) -> None:
    form = compose("Dm7 | G7")
    notes = [note for beat, midi in rows for note in chord(beat, 1, *midi)]
    figure = voicing_figures(form, plan(form, "walking"), [notes], [()])[-1]
    assert (figure.value, figure.of) == (pytest.approx(moved), cases)


def test_where_chords_fall_is_counted(compose: Composer) -> None:
    """With the melody's moving notes within an eighth, in bars where it rests, and one rhythm in bars running."""
    form = compose("Dm7 | G7 | Dm7 | G7 | Dm7", melody=[(0, 1.5, 72), (1.5, 2.5, 74), (4, 1, 72)])
    notes = [note for beat in (0.125, 1.5, 3, 4.25, 5, 9, 13, 17) for note in chord(beat, 0.5, 60, 64)]
    running, together, unanswered = placement_figures(form, plan(form, "walking"), [notes])
    assert (running.value, running.of) == (3, 1)
    assert (together.value, together.of) == (1 / 8, 8)
    assert (unanswered.value, unanswered.of) == (0, 3)
    running, together, unanswered = placement_figures(form, plan(form, "walking"), [notes[:10]])
    assert running.value == 1 and (unanswered.value, unanswered.places) == (1, ("bar 3", "bar 4", "bar 5"))
