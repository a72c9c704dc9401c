"""What is counted of the rhythm of chords: riffs, machines, answers and turns made by hand (common practice)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from companion.arrange.audit.rhythm import (
    RhythmBar,
    _accents,
    answers,
    machine,
    rhythm_bars,
    rhythm_figures,
    riffs,
    turn,
)
from companion.arrange.harmony import harmonies
from companion.arrange.part import Note
from companion.arrange.plan import plan
from companion.chart.model import Form, MelodyNote
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]
F = Fraction
KINDS = {"A": (F(0), F(3, 2)), "B": (F(1), F(5, 2)), "C": (F(2),), "-": ()}
"""Rhythms of a bar, by a letter."""


def bars(text: str, firsts: Sequence[int] = (1, 5, 9), free: bool = True) -> list[RhythmBar]:
    """Bars of four quarters with the rhythms of some letters; new fours begin in ``firsts``."""
    return [
        RhythmBar(n, F(4 * n - 4), F(4 * n), KINDS[letter], n in firsts, free)
        for n, letter in enumerate(text, 1)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("AABC", [[1, 2]]),  # running
        ("ABAC", [[1, 2, 3]]),  # two bars apart, and what is between
        ("ABCA", []),  # three apart is too far
        ("ABAB", [[1, 2, 3, 4]]),
        ("A-AB", [[1, 3]]),
        ("--AB", []),
        ("CBBA", [[2, 3]]),
        ("CAABCBCA", [[2, 3], [5, 6, 7]]),
        ("BCAAABCB", [[3, 4], [6, 7, 8]]),  # not from one four to the next
    ],
)
def test_a_riff_comes_again_a_bar_or_two_on_within_four_bars(text: str, found: list[list[int]]) -> None:
    assert [[bar.number for bar in one] for one in riffs(bars(text))] == found
    assert riffs(bars(text, free=False)) == [], "where chords have no rhythm of their own there is none"


@pytest.mark.parametrize(
    ("text", "longest"),
    [("ABC", 0), ("AAB", 2), ("AAAB", 3), ("CBABABC", 5), ("ABABA", 5), ("AABAA", 3), ("----", 0), ("A-A-A", 3),
     ("", 0)],
)  # fmt: skip
def test_a_machine_goes_on_with_one_rhythm_or_two_in_turn(text: str, longest: int) -> None:
    assert machine(bars(text)) == longest
    assert machine(bars(text, free=False)) == 0


def test_the_end_of_a_rhythm_that_reaches_into_a_bar_counts_for_nothing() -> None:
    first, second = bars("AA")
    assert machine([first, second]) == 2
    assert machine([first, RhythmBar(2, second.start, second.end, second.places, False, True, True)]) == 0


def sung(*beats: float) -> list[MelodyNote]:
    return [MelodyNote(F(beat), F(1, 2), pitch_in_key(72)) for beat in beats]


@pytest.mark.parametrize(
    ("places", "melody", "found"),
    [
        ((0.0, 1.5), (4, 5.5), True),  # the rhythm of two notes in the bar before
        ((0.0, 1.5), (0, 1.5), True),  # two bars before
        ((0.0, 1.5), (0.5, 2), False),  # from another place in the beat
        ((1.0, 2.5), (4, 5.5), True),  # up to whole beats
        ((0.0, 1.5), (4, 5), False),
        ((0.0,), (4, 5.5), False),  # one is no rhythm
        ((0.0, 1.5, 2.0), (4, 5.5), True),  # two of three running
        ((0.0, 1.0, 2.5), (4, 5.5), True),
        ((0.0, 1.5), (4, 4.5, 5.5), False),  # not with another between ...
        ((0.0, 1.5), (4, 5.5, 5.75, 6), True),
        ((0.0, 1.5), (3.5, 4, 5.5, 7.5), True),
        ((0.5, 2.0), (4, 4.5, 6), True),  # ... unless that is among its accents
        ((0.0, 2.0), (4, 6), True),  # two beats apart at the most
        ((0.0, 2.5), (4, 6.5), False),
        ((0.0, 1.5), (8, 9.5), False),  # not the notes to come
        ((0.0, 1.5), (), False),
    ],
)
def test_a_bar_answers_with_the_rhythm_that_the_melody_has_had(
    places: tuple[float, ...], melody: tuple[float, ...], found: bool
) -> None:
    bar = RhythmBar(3, F(8), F(12), tuple(map(F, places)), False, True)
    assert answers(bar, sung(*melody)) == found


def test_the_accents_are_the_notes_before_a_beat_and_more_and_the_last() -> None:
    found = _accents(sung(0, 0.5, 1.5, 2.25, 3.25, 3.5))
    assert [note.beat for note in found] == [0.5, 2.25, 3.5] and _accents([]) == []


@pytest.mark.parametrize(
    ("changes", "beat", "turns"),
    [
        ("C6 | F6 | G7 | C6", 12, True),  # a fifth down from a dominant
        ("C6 | F6 | Db7 | C6", 12, True),  # a semitone down
        ("C6 | F6 | G7 | Am7", 12, False),
        ("C6 | F6 | Gm7 | C6", 12, False),  # no dominant
        ("C6 | F6 | G7 | C6", 4, False),
        ("C6 | F6 | G7 | C6", 0, False),  # the same chord goes on
        ("C6 | F6 | Dm7 | A6", 0, True),  # four bars begin
        ("C6 | F6 | Dm7 | A6 | Bb6 | F6 | Dm7 | A6", 16, True),
        ("C6 | F6 | Dm7 | A6 | Bb6 | F6 | Dm7 | A6", 20, False),
        ("C6 | G7 | G7 | C6", 8, False),
        ("C6 | G7 | N.C. | C6", 8, False),
    ],
)
def test_the_harmony_turns_after_a_dominant_and_where_four_bars_begin(
    compose: Composer, changes: str, beat: int, turns: bool
) -> None:
    assert turn(compose(changes), F(beat)) == turns


def test_a_chord_on_the_last_quaver_that_is_the_chord_to_come_belongs_to_its_bar(compose: Composer) -> None:
    form = compose("C6 | F6 | G7 | C6")
    c, f, g, _ = harmonies(form)
    struck = [(F(0), c), (F(3, 2), c), (F(7, 2), f), (F(15, 2), f), (F(23, 2), g), (F(12), c), (F(14), c)]
    found = rhythm_bars(form, plan(form, "walking"), struck)
    assert [bar.places for bar in found] == [(0, F(3, 2)), (0, F(7, 2)), (F(7, 2),), (0, 2)]
    assert [bar.first for bar in found] == [True, False, False, False]
    assert [(bar.number, bar.start, bar.end) for bar in found] == [(n, 4 * n - 4, 4 * n) for n in range(1, 5)]
    reached = rhythm_bars(form, plan(form, "walking"), [(F(0), c), (F(7, 2), f)])
    assert [(bar.places, bar.only_reached) for bar in reached[:3]] == [((0,), False), ((0,), True), ((), False)]


def chords(form: Form, *beats: float, early: Sequence[float] = ()) -> list[Note]:
    """Third and seventh of what rules, or of what comes where a chord is early."""
    found = []
    for beat in sorted((*beats, *early)):
        ruling = next(h for h in reversed(harmonies(form)) if h.start <= beat + (0.5 if beat in early else 0))
        midi = sorted(48 + (pc - 48) % 12 for pc in list(ruling.tones)[:4])
        found += [Note(F(beat), F(1, 2), pitch_in_key(one), "chords", degree="1") for one in midi]
    return found


def test_what_is_counted_of_a_chorus(compose: Composer) -> None:
    form = compose("Dm7 | G7 | Cmaj7 | Fmaj7", melody=[(0, 0.5, 74), (1.5, 0.5, 76)])
    ruled = plan(form, "walking")
    struck = chords(form, 1, 2.5, 4, 5.5, 9, 10.5, 12, 14, early=(7.5,))
    found = {figure.name: figure for figure in rhythm_figures(form, ruled, [struck])}
    recur = found["bars that answer the melody or are of a riff"]
    assert (recur.of, recur.at_least) == (4, 0.6) and recur.places == ("bar 1", "bar 4")
    riff = found["bars of a riff"]
    assert (riff.of, riff.value, riff.at_least, riff.at_most) == (0, 0.0, 2.5, 4.0)
    running = found["bars running with one rhythm, or two in turn"]
    assert (running.value, running.at_most) == (0.0, 4.0)
    common = found["bars with the commonest rhythm of two chords"]
    assert (common.value, common.of, common.at_most) == (0.25, 4, None), "of few bars it says nothing"
    at_turns = found["early chords where the harmony turns"]
    assert (at_turns.value, at_turns.of, at_turns.at_least) == (1.0, 1, 0.7)
    pushed = found["turns reached early, of those with room for it"]
    assert (pushed.value, pushed.of, pushed.at_least) == (1.0, 1, 0.3)
    assert found["a new chord a quaver after one on the last beat"].value == 0.0
    twice = {figure.name: figure for figure in rhythm_figures(form, ruled, [chords(form, 0, 7, early=(7.5,))] * 25)}
    assert twice["a new chord a quaver after one on the last beat"].value == pytest.approx(1 / 3)
    assert twice["bars with the commonest rhythm of two chords"].at_most is None
    many = {figure.name: figure for figure in rhythm_figures(form, ruled, [chords(form, 0, 4, 8, 12)] * 25)}
    assert many["bars with the commonest rhythm of two chords"].at_most == 0.12, "of a hundred it does"
