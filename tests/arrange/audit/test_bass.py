"""The figures of a bass, each held to lines made by hand: what is wrong is found, and what is right isn't.

What counts as right is common practice, as taught everywhere: the root on a new chord, a step, a semitone or a fifth
into the next, no note outside a bass's range.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from companion.arrange.audit.arrangement import figures
from companion.arrange.audit.bass import _novelty, leads_to
from companion.arrange.audit.figures import AuditFigure, totals
from companion.arrange.lookup import numbered_bars
from companion.arrange.part import Note
from companion.arrange.plan import plan
from companion.arrange.written import written_part
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]

C, D, E, F, G, A, B = 36, 38, 40, 41, 43, 45, 47
"""MIDI numbers from C2 up."""
GOOD = [C, E, G, E, F, A, C + 12, A, G, B, A, D, C, B - 13, A - 12, B - 12]
"""C7, F7, G7 and C7, a bar each: roots, thirds, and into each next chord a step, a third or a fifth."""


def walked(*midi: int, beats: Sequence[float] | None = None, ghosts: Sequence[int] = ()) -> tuple[Note, ...]:
    """A line of a crotchet to each number, or at given beats; some of them ghosted, by their index."""
    places = [Fraction(b).limit_denominator(24) for b in (beats or range(len(midi)))]
    return tuple(
        Note(at, Fraction(9, 10), pitch_in_key(m), "bass", "left", weight=0.4 if n in ghosts else 1.0)
        for n, (at, m) in enumerate(zip(places, midi, strict=True))
    )


@pytest.fixture
def form(compose: Composer) -> Form:
    return compose("C7 | F7 | G7 | C7")


def found(form: Form, *lines: tuple[Note, ...], treatment: str = "walking") -> dict[str, AuditFigure]:
    return {f.name: f for f in figures(form, plan(form, treatment), lines, [()] * len(lines))}


ROOTS = "root on the first beat of a new chord"
LEADS = "the last note before a new chord leads to it"
GUIDES = "third or seventh in bars of one chord"
LEAPS = "leaps over a fifth, octaves apart"
TWICE = "the same pitch twice running"
THRICE = "the same pitch three times"
TURNS = "notes between changes of direction"
PATTERN = "share of the commonest pattern of degrees"
SAME = "choruses with the same line"
SHARED = "bars shared between two choruses, at most"
OUTSIDE = "outside E1 to G3"
FOREIGN = "neither chord, scale, passing nor leading note"


def test_a_fifth_in_the_roots_place_is_found(form: Form) -> None:
    line = [*GOOD[:4], C, *GOOD[5:]]
    figure = found(form, walked(*line))[ROOTS]
    assert figure.value == 0.75 and figure.places == ("bar 2 beat 1",)
    assert found(form, walked(*GOOD))[ROOTS].value == 1


def test_a_slash_chord_wants_its_bass_and_not_its_root(compose: Composer) -> None:
    form = compose("C | C/E")
    assert found(form, walked(C, E, G, D, E, G, C + 12, B))[ROOTS].value == 1
    assert found(form, walked(C, E, G, D, C, E, G, B))[ROOTS].value == 0.5


def test_semitones_steps_and_fifths_lead_and_nothing_else_does() -> None:
    assert [move for move in range(-12, 13) if leads_to(move)] == [-7, -2, -1, 1, 2, 5, 7]


def test_a_note_that_leads_nowhere_is_found_where_it_stands(form: Form) -> None:
    line = [*GOOD[:3], A, *GOOD[4:]]
    assert found(form, walked(*line))[LEADS].places == ("bar 1 beat 4",)
    assert found(form, walked(*GOOD))[LEADS].value == 1


def test_a_quaver_before_the_beat_counts_as_the_last_note(form: Form) -> None:
    beats = [0, 1, 2, 3, 3.5, *range(4, 16)]
    assert found(form, walked(C, E, G, A, E, *GOOD[4:], beats=beats))[LEADS].value == 1
    ghosted = found(form, walked(C, E, G, A, E, *GOOD[4:], beats=beats, ghosts=[4]))
    assert ghosted[LEADS].value < 1, "a ghost is none of the line's notes"


def test_bars_of_roots_and_fifths_say_no_chord(form: Form) -> None:
    line = [C, G, C + 12, G, F, C + 12, F + 12, A, G, D + 12, G, D, C, G - 12, C, B - 12]
    assert found(form, walked(*line))[GUIDES].value == 0.25, "the A of F7 alone; a B is no seventh of C7"
    assert found(form, walked(*GOOD))[GUIDES].value == 1


def test_bars_of_two_chords_and_bars_of_none_are_not_asked_for_a_third(compose: Composer) -> None:
    form = compose("C7 F7 | N.C. | C7 | C7")
    assert found(form, walked(*[C, G] * 8))[GUIDES].of == 2


def test_a_sixth_is_a_leap_and_an_octave_is_none(form: Form) -> None:
    sixth = [C, A, G, E, *GOOD[4:]]
    octave = [C, C + 12, G, E, *GOOD[4:]]
    assert found(form, walked(*sixth))[LEAPS].places == ("bar 1 beat 2",)
    assert found(form, walked(*octave))[LEAPS].value == 0


def test_a_pitch_twice_and_three_times_is_found_and_an_octave_or_a_ghost_is_not(form: Form) -> None:
    twice = found(form, walked(C, C, G, E, *GOOD[4:]))
    assert twice[TWICE].value == 1 / 15 and twice[THRICE].value == 0
    thrice = found(form, walked(C, C, C, E, *GOOD[4:]))
    assert thrice[TWICE].value == 2 / 15 and thrice[THRICE].places == ("bar 1 beat 3",)
    beats = [0, 0.5, *range(1, 16)]
    assert found(form, walked(C, C, *GOOD[1:], beats=beats, ghosts=[1]))[TWICE].value == 0


def test_a_line_that_turns_at_every_note_and_one_that_never_turns_are_found(compose: Composer) -> None:
    form = compose("C7 | C7 | C7 | C7")
    saw = found(form, walked(*[C, E, D, F] * 4))[TURNS]
    assert saw.value < 2 and not saw.reached
    stairs = found(form, walked(28, 31, 33, 34, 36, 38, 40, 41, 43, 45, 46, 48, 50, 52, 53, 55))[TURNS]
    assert stairs.value > 6 and not stairs.reached


def test_one_pattern_of_degrees_is_found_over_different_roots(compose: Composer) -> None:
    form = compose("C7 | F7 | C7 | G7")
    loop = [root + step for root in (C, F, C, G) for step in (0, 4, 7, 4)]
    assert found(form, walked(*loop))[PATTERN].value == 1
    other = [C, E, G, E, F, A, D + 12, A, C, B - 2, G, A, G, B, F, D]
    assert found(form, walked(*other))[PATTERN].value == 0, "no pattern comes twice"


@pytest.mark.parametrize(("midi", "outside"), [(27, True), (28, False), (55, False), (56, True)])
def test_the_range_is_from_e1_to_g3(form: Form, midi: int, outside: bool) -> None:
    assert (found(form, walked(C, midi, *GOOD[2:]))[OUTSIDE].value > 0) is outside


@pytest.mark.parametrize("treatment", ["walking", "in-two", "sparse", "ballad"])
def test_a_foreign_note_is_found_under_any_treatment(form: Form, treatment: str) -> None:
    leapt = found(form, walked(C, F + 1, C, E, *GOOD[4:]), treatment=treatment)
    assert leapt[FOREIGN].places == ("bar 1 beat 2 F#2",)


def test_what_passes_or_leads_by_a_semitone_is_not_foreign(form: Form) -> None:
    passing = walked(C, F, F + 1, G, *GOOD[4:])
    leading = walked(C, E, G, F + 1, *GOOD[4:])
    neighbour = walked(C, E, F + 1, E, *GOOD[4:])
    assert found(form, passing)[FOREIGN].value == 0
    assert found(form, leading)[FOREIGN].value == 0
    assert found(form, neighbour)[FOREIGN].value > 0, "it goes back where it came from"


def test_a_pedal_may_lie_under_any_chord(compose: Composer) -> None:
    form = compose("C7 | Db7 | Ebm7 | C7")
    line = walked(G, G, G, G, beats=[0, 4, 8, 12])
    assert found(form, line, treatment="pedal")[FOREIGN].of == 0
    assert found(form, line, treatment="sparse")[FOREIGN].value > 0


def test_a_chorus_that_comes_again_is_found_and_so_are_its_bars(form: Form) -> None:
    other = walked(*GOOD[:8], G, F, D, E, C, D, E, G)
    again = found(form, walked(*GOOD), other, walked(*GOOD))
    assert again[SAME].value == 1 and again[SHARED].value == 1
    half = found(form, walked(*GOOD), other)
    assert half[SAME].value == 0 and half[SHARED].value == 0.5


def test_what_is_written_may_come_again(form: Form) -> None:
    from dataclasses import replace

    written = replace(form, written=(written_part(form, "bass", walked(*GOOD)),))
    again = found(written, walked(*GOOD), walked(*GOOD))
    assert again[SAME].reached and again[SHARED].reached
    assert not found(form, walked(*GOOD), walked(*GOOD))[SAME].reached


def test_several_charts_are_summed_up_by_their_cases_and_the_worst_is_named() -> None:
    a = AuditFigure("leads", 1.0, at_least=0.9, of=30, part="bass")
    b = AuditFigure("leads", 0.8, at_least=0.9, of=10, part="bass")
    nothing = AuditFigure("leads", 0.0, at_least=0.9, of=0, part="bass")
    (total,) = totals([("one", [a]), ("two", [b]), ("three", [nothing])])
    assert total.mean == pytest.approx(0.95)
    assert (total.worst, total.worst_chart, total.missed) == (0.8, "two", ("two",))


def test_choruses_that_belong_together_are_compared_bar_by_bar(compose: Composer) -> None:
    form = compose("C7 | F7 | C7 | G7")
    plain, other = [36, 41, 36, 43], [36, 41, 38, 45]

    def line(roots: list[int]) -> list[Note]:
        return [Note(Fraction(4 * n), Fraction(4), pitch_in_key(midi), "bass", "left") for n, midi in enumerate(roots)]

    def novelty(running: int, *lines: list[int]) -> list[tuple[float, int]]:
        return [(one.value, one.of) for one in _novelty(numbered_bars(form), [line(roots) for roots in lines], running)]

    assert novelty(2, plain, other) == [(0.0, 1), (0.5, 1)]
    assert novelty(2, plain, plain, other, other) == [(2.0, 2), (1.0, 2)]
    assert novelty(2, plain, other, plain, other) == [(0.0, 2), (0.5, 2)], "each two by themselves"
    assert novelty(4, plain, other, plain, other) == [(2.0, 6), (1.0, 6)]
    assert novelty(2, plain) == [(0.0, 0), (0.0, 0)] and novelty(0, plain, other) == [(0.0, 0), (0.0, 0)]
    assert [one.at_most for one in _novelty(numbered_bars(form), [], 2)] == [0.0, 0.25]
