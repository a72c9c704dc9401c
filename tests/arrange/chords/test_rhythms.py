"""The rhythm of the chords: call and answer, riffs over four bars, and chords early at turns (common practice)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.arrange.audit.chords import chords_of, intended_chord
from companion.arrange.audit.figures import AuditFigure
from companion.arrange.audit.rhythm import RhythmBar, answers, machine, rhythm_bars, rhythm_figures, riffs, turn
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.chart.model import Form, MelodyNote
from companion.load import load
from companion.music.pitch import pitch_in_key
from companion.resources import chart_names, chart_path

Composer = Callable[..., Form]
SOLOIST = frozenset({"solo"})
CHANGES = "Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | Cmaj7"


def bars_of(form: Form, treatment: str, **how: object) -> list[RhythmBar]:
    request = Request(treatment=treatment, **how)  # type: ignore[arg-type]
    struck = [(beat, intended_chord(form, beat, chord)) for beat, chord in chords_of(arrange(form, "chords", request))]
    return rhythm_bars(form, plan(form, treatment), struck)


def counted(form: Form, treatment: str | None, player: frozenset[str], seeds: int = 4) -> dict[str, AuditFigure]:
    form = form if treatment is None else form.free
    choruses = [
        arrange(form, "chords", Request(treatment=treatment, seed=seed, chorus=chorus, player=player))
        for seed in range(seeds)
        for chorus in (1, 2)
    ]
    return {figure.name: figure for figure in rhythm_figures(form, plan(form, treatment), choruses)}


def places(*beats: float) -> tuple[Fraction, ...]:
    return tuple(Fraction(beat) for beat in beats)


def test_an_answer_has_the_rhythm_of_the_call_before_it(compose: Composer) -> None:
    """Two bars are sung, two are left; what is struck in them has a rhythm that was sung."""
    call = [(0, 1.5, 76), (1.5, 0.5, 74), (2, 2, 72), (4, 1.5, 74), (5.5, 2.5, 72)]
    form = compose(" | ".join([CHANGES] * 2), melody=[(8 * k + b, n, p) for k in range(0, 8, 2) for b, n, p in call])
    left = [
        bar
        for seed in range(8)
        for bar in bars_of(form, "walking", seed=seed)
        if (bar.number - 1) % 4 > 1 and len(bar.places) > 1
    ]
    answering = sum(answers(bar, form.melody) for bar in left)
    assert len(left) >= 30
    assert answering / len(left) >= 0.5


def test_behind_a_soloist_riffs_are_kept_and_then_broken(compose: Composer) -> None:
    form = compose(" | ".join([CHANGES] * 4))
    kept = 0
    for chorus in range(1, 7):
        bars = bars_of(form, "solos", chorus=chorus, player=SOLOIST)
        found = riffs(bars)
        kept += len(found)
        assert machine(bars) <= 4
        for riff in found:
            after = riff[-1].number
            if riff[-1].number % 4 == 0 and after < len(bars) and riff[-2].number == after - 1:
                assert bars[after].places != riff[-1].places, "broken at the fifth bar"
    assert kept >= 6 * 3


def test_a_turn_of_the_harmony_is_reached_a_quaver_early_more_often_than_another_chord(compose: Composer) -> None:
    form = compose(" | ".join(["Dm7 | Em7 | Fmaj7 | G7"] * 8))
    early = {True: 0, False: 0}
    bars = {where: sum(turn(form, bar) == where for bar in form.bars[1:]) for where in (True, False)}
    for chorus in range(1, 9):
        notes = arrange(form, "chords", Request(treatment="solos", chorus=chorus, player=SOLOIST))
        for beat, _ in chords_of(notes):
            if beat > 0 and (beat + Fraction(1, 2)) in form.bars:
                early[turn(form, beat + Fraction(1, 2))] += 1
    assert early[True] / bars[True] > 3 * early[False] / bars[False]


def test_no_new_chord_is_struck_a_quaver_after_one_on_the_last_beat(compose: Composer) -> None:
    form = compose(" | ".join([CHANGES] * 4))
    for chorus in range(1, 7):
        beats = [beat for beat, _ in chords_of(arrange(form, "chords", Request(treatment="solos", chorus=chorus)))]
        assert not any(beat % 4 == 3 and beat + Fraction(1, 2) in beats for beat in beats)


@pytest.mark.parametrize("name", chart_names()[:4])
@pytest.mark.parametrize("treatment", [None, "solos"])
def test_over_our_tunes_most_bars_answer_or_are_of_a_riff(name: str, treatment: str | None) -> None:
    form = load(chart_path(name)).unfold()
    found = counted(form, treatment, SOLOIST if treatment else frozenset())
    assert found["bars that answer the melody or are of a riff"].value >= 0.5
    assert found["bars running with one rhythm, or two in turn"].value <= 4
    assert found["a new chord a quaver after one on the last beat"].value <= 0.02


def bar(number: int, *beats: float) -> RhythmBar:
    start = Fraction(4 * (number - 1))
    return RhythmBar(number, start, start + 4, places(*beats), number % 4 == 1, True)


def test_the_audit_tells_a_riff_from_a_machine() -> None:
    """Four bars and then another rhythm are meant; the fifth bar the same is not."""
    riff = [bar(n, 0, 1.5) for n in range(1, 5)] + [bar(5, 1, 3), bar(6, 2), bar(7, 2.5), bar(8, 0.5)]
    assert machine(riff) == 4
    assert [[one.number for one in found] for found in riffs(riff)] == [[1, 2, 3, 4]]
    assert machine([bar(n, 0, 1.5) for n in range(1, 9)]) == 8
    assert machine([bar(n, 0, 1.5) if n % 2 else bar(n, 1) for n in range(1, 9)]) == 8, "two in turn are one, too"
    assert riffs([bar(1, 0), bar(2, 1), bar(3, 2), bar(4, 3)]) == []


def test_the_audit_hears_an_answer_only_after_its_call() -> None:
    melody = [MelodyNote(Fraction(b), Fraction(1, 2), pitch_in_key(72)) for b in (0, Fraction(3, 2), 2)]
    assert answers(bar(2, 1, 2.5), melody), "a beat and a half apart, as sung, a beat later in the bar"
    assert not answers(bar(2, 1, 2), melody)
    assert not answers(bar(5, 1, 2.5), melody), "too long ago"
    assert not answers(bar(2, 1), melody), "one chord is no rhythm"


# what an audit sees in rows of bars


def row_of(*told: tuple[float, ...] | None, first: Sequence[int] = (0, 4, 8), rhythmic: bool = True) -> list[RhythmBar]:
    """Bars of four quarters, each struck at some places."""
    return [
        RhythmBar(n + 1, Fraction(4 * n), Fraction(4 * n + 4), places(*(one or ())), n in first, rhythmic)
        for n, one in enumerate(told)
    ]


X, Y, Z = (0, 1.5), (1, 2.5), (2,)


@pytest.mark.parametrize(
    ("row", "found"),
    [
        ([X, X, Y, Z], [[1, 2]]),
        ([X, Y, X, Z], [[1, 2, 3]]),
        ([X, Y, Z, X], []),  # three bars on
        ([X, None, X, X], [[1, 3, 4]]),
        ([None, None, X, Y], []),
        ([Y, Z, Z, X, X, Y], [[2, 3]]),  # not over the fifth bar
        ([X, X, Y, Z, X, X], [[1, 2], [5, 6]]),
    ],
)
def test_a_riff_is_a_rhythm_that_comes_again_within_two_bars(
    row: list[tuple[float, ...] | None], found: list[list[int]]
) -> None:
    assert [[bar.number for bar in one] for one in riffs(row_of(*row))] == found
    assert not riffs(row_of(*row, rhythmic=False))


@pytest.mark.parametrize(
    ("row", "longest"),
    [
        ([X, Y, Z, X], 0),
        ([X, X, Y, Z], 2),
        ([X, X, X, Y], 3),
        ([X, Y, X, Z], 3),  # in turn
        ([X, Y, X, Y, X], 5),
        ([None, None, None], 0),
        ([X, None, X, None, Y], 3),
    ],
)
def test_the_longest_run_like_a_machines(row: list[tuple[float, ...] | None], longest: int) -> None:
    assert machine(row_of(*row)) == longest
    assert machine(row_of(*row, rhythmic=False)) == 0
    reached = [replace(bar, only_reached=True) for bar in row_of(*row)]
    assert machine(reached) == 0


@pytest.mark.parametrize(
    ("sung", "struck", "answered"),
    [
        ([0, 1.5], (0, 1.5), True),
        ([0.5, 2], (1.5, 3), True),  # at another beat of the bar, on the same side of it
        ([0, 1.5], (0.5, 2), False),
        ([0, 1, 2.5], (1, 2.5), True),  # its end
        ([0, 1.5, 2], (0, 1), False),
        ([0, 1, 1.5], (0, 1), True),  # its accents
        ([0, 1.5], (0, 1.5, 3), True),  # two of three
        ([0, 2.5], (0, 2.5), False),  # too far apart
        ([0, 1.5], (0,), False),
        ([-4, -2.5], (0, 1.5), True),  # two bars before
        ([-4.5, -3], (0.5, 2), False),  # longer ago
    ],
)
def test_an_answer_has_two_chords_running_in_the_calls_rhythm(
    sung: list[float], struck: tuple[float, ...], answered: bool
) -> None:
    melody = [MelodyNote(Fraction(beat), Fraction(1, 2), pitch_in_key(72)) for beat in sung]
    bar = replace(row_of(X, struck)[1])
    assert answers(bar, melody) == answered


@pytest.mark.parametrize(
    ("changes", "turns"),
    [
        ("Dm7 | G7 | Cmaj7 | A7", [0, 8]),  # dominants lead there, to the top as well
        ("Dm7 | Db7 | Cmaj7 | Cmaj7", [0, 8]),  # a semitone down
        ("Dm7 | G7 | Am7 | Am7", [0]),
        ("Dm7 | Dm7 | Dm7 | Dm7", []),
        ("C6 | C6 | C6 | C6 | F6 | F6 | F6 | G7", [0, 16]),  # four bars begin
        ("C6 | C6 | C6 | G7 | N.C. | F6", [0]),
    ],
)
def test_the_harmony_turns_where_a_dominant_leads_or_four_bars_begin(
    compose: Composer, changes: str, turns: list[int]
) -> None:
    form = compose(changes)
    assert [int(bar) for bar in form.bars if turn(form, bar)] == turns
