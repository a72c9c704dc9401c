"""Room for a chord, to the quarter: how long the melody has to have sounded or rested, and until when a chord may last.

Common practice: where the melody moves, the chord waits; where it holds or rests, the chord answers.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.arrange.chords.context import CompingContext, Found, Strike, bar_plan, free_from
from companion.arrange.chords.rhythms import CompingRhythm, accented, fours, pushed, rhythm, taken_up
from companion.arrange.chords.riffs import PastBar, kept, places_of, worn
from companion.arrange.chords.room import meant, room_for, strike_of
from companion.arrange.harmony import harmonies
from companion.arrange.melody.part import index_melody
from companion.arrange.plan import plan
from companion.arrange.treatments import treatment
from companion.chart.model import Form, MelodyNote
from companion.music.pitch import pitch_in_key
from companion.preferences import preferences
from companion.preferences.comping import CompingPreferences

Composer = Callable[..., Form]
Melody = Sequence[tuple[float, float, int]]
_SHIPPED = preferences(CompingPreferences)
COMPING = replace(
    _SHIPPED,
    placement=replace(
        _SHIPPED.placement,
        clear=0.125, long=2.0, after_long=1.0, after_short=0.5, gap=1.5, shortest=0.375,
        next=0.5, next_after_early=1.5, before_early=1.0, worn=10.0, worn_before=1.0,
    ),
)  # fmt: skip
ONE_CHORD = " | ".join(["Dm7"] * 6)
SUNG: Melody = ((0, 1, 72), (4, 4, 76), (8, 2, 74), (10, 0.5, 72), (11.5, 0.5, 74), (16, 1, 76))


@pytest.fixture(scope="module")
def context_of(compose: Composer) -> Callable[..., CompingContext]:
    def make(changes: str = ONE_CHORD, melody: Melody = SUNG, gap: float = 1.5) -> CompingContext:
        form = compose(changes, melody=melody)
        comping = replace(COMPING, placement=replace(COMPING.placement, gap=gap))
        chords = harmonies(form)
        starts = [float(one.start) for one in chords]
        length, chance = float(form.length), random.Random(1)
        return CompingContext(
            form, index_melody(form), chords, starts, length, chance, comping, frozenset({"roots"}), {}
        )

    return make


Contexts = Callable[..., CompingContext]


def room(
    context: CompingContext, at: float, length: float, placement: str = "gaps", must: bool = False
) -> Found | None:
    whole = bar_plan(context, plan(context.form, "walking"), 0)
    return room_for(context, replace(whole, placement=placement, size=context.length), at, length, must)


@pytest.mark.parametrize(
    ("at", "length", "found"),
    [
        (0, 1, None),  # with a short note
        (0.125, 1, None),  # as good as with it
        (0.375, 1, None),  # it has not sounded long enough
        (0.5, 1, 1),
        (0.5, 8, 3.5),  # until the next note
        (3, 1, 1),
        (3.625, 1, 0.375),
        (3.75, 1, None),  # too short
        (3.875, 1, None),
        (4, 1, None),
        (4.5, 9, 3.5),
        (8.5, 9, 1.5),  # a note of two quarters is long
        (10.5, 9, 1),  # a gap of a quarter and a half
        (12, 9, 4),
        (17, 9, 3),  # until the chord ends
    ],
)
def test_in_the_melodys_gaps_a_chord_waits_and_ends_with_them(
    context_of: Contexts, at: float, length: float, found: float | None
) -> None:
    there = room(context_of(), at, length)
    assert (there.length if there else None) == found
    assert there is None or not there.early


@pytest.mark.parametrize(
    ("at", "found"), [(0.5, True), (4.5, False), (4.75, False), (5, True), (8.5, False), (9, True)]
)
def test_an_answer_waits_longer_over_a_long_note(context_of: Contexts, at: float, found: bool) -> None:
    assert (room(context_of(), at, 0.5, "answering") is not None) == found
    assert room(context_of(), at, 0.5, "gaps")


@pytest.mark.parametrize(("gap", "must", "found"), [(1.5, False, True), (1.625, False, False), (1.625, True, True)])
def test_a_small_gap_will_do_where_something_must_be_struck(
    context_of: Contexts, gap: float, must: bool, found: bool
) -> None:
    assert (room(context_of(gap=gap), 10.5, 0.5, must=must) is not None) == found


def test_behind_a_soloist_only_bar_and_harmony_end_a_chord(context_of: Contexts) -> None:
    context = context_of()
    assert [found and found.length for found in (room(context, at, 9, "free") for at in (0, 4, 10.25))] == [4, 4, 1.75]
    assert room(context, -0.5, 1, "free") is None
    bar = bar_plan(context, plan(context.form, "walking"), 1)
    assert [room_for(context, bar, at, 1) is not None for at in (7.5, 7.99, 8.0)] == [True, False, False]


def test_before_the_melody_has_the_fourth_a_chord_with_a_major_third_ends(context_of: Contexts) -> None:
    """The F over C7; a minor chord and one that must be struck don't mind."""
    for symbol, must, length in (("C7", False, 1.5), ("C7", True, 2), ("Cm7", False, 2), ("F7", False, 2)):
        context = context_of(f"{symbol} | {symbol}", [(0, 2, 72), (2, 4, 77)], gap=0)
        found = room(context, 0.5, 2, "free", must)
        assert found and found.length == length, symbol


@pytest.mark.parametrize(
    ("at", "length", "root", "until", "early"),
    [
        (3, 1, 2, 4, False),
        (3.5, 0.5, 7, 8, True),  # on the quaver before G7
        (3.5, 0.375, 2, 4, False),  # it doesn't reach it
        (3.25, 2, 2, 4, False),  # too early for that
        (11.5, 1, 7, 12, False),  # nor here
        (15.5, 1, 0, 20, False),  # the same chord goes on
        (19.5, 1, 2, 24, True),  # the form from the top
        (23.5, 1, 7, 28, True),
    ],
)
def test_a_chord_on_the_quaver_before_another_is_the_other(
    context_of: Contexts, at: float, length: float, root: int, until: float, early: bool
) -> None:
    harmony, end, comes_early = meant(context_of("Dm7 | G7 | N.C. | C6 | C6", []), at, length)
    assert (harmony.root, end, comes_early) == (root, until, early)


@pytest.mark.parametrize(("midi", "early"), [(71, True), (69, True), (72, False), (66, False), (77, True)])
def test_no_chord_comes_early_against_the_melody(context_of: Contexts, midi: int, early: bool) -> None:
    """Over G7 its third, ninth and seventh may sound; its fourth and its major seventh may not."""
    assert meant(context_of("Dm7 | G7", [(2, 2, midi)]), 3.5, 1)[2] == early


def test_the_strike_says_what_it_is_and_lasts_as_long_as_there_is_room(context_of: Contexts) -> None:
    context = context_of("Dm7 | G7", [])
    bar = bar_plan(context, plan(context.form, "walking"), 0)
    d, g = context.chords
    hit = Fraction(7, 2), Fraction(2)
    early = strike_of(context, bar, hit, Found(g, 1.5, True), "on 4")
    assert (early.beat, early.length, early.reason) == (
        Fraction(7, 2),
        Fraction(3, 2),
        "on 4, a quaver before G7 begins",
    )
    assert early.early and not early.ahead and early.meant == 0
    assert strike_of(context, bar, hit, Found(g, 2, True), "").reason == "a quaver before G7 begins"
    said = strike_of(context, bar, hit, Found(g, 2, True), "the quaver before the bar")
    assert said.reason == "a quaver before G7 begins" and said.length == 2
    assert strike_of(context, bar, (Fraction(-1, 2), Fraction(1)), Found(d, 1, False), "x").ahead
    under = replace(bar, placement="answering", treatment=treatment("sparse"))
    assert strike_of(context, under, hit, Found(d, 0.5, False), "x").meant == 2, "it may ring over the pedal"


# the context


def test_what_the_context_knows_of_a_beat(context_of: Contexts) -> None:
    context = context_of("Dm7 | G7 N.C. | C6", SUNG)
    assert [context.harmony(at).root for at in (0, 3.99, 4, 7, 11.9, 12, -0.5)] == [2, 2, 7, 7, 0, 2, 0]
    within = [
        [one.root for one in context.within(Fraction(a), Fraction(b))] for a, b in ((0, 4), (0, 5), (5, 6), (6, 8))
    ]
    assert within == [[2], [2, 7], [7], []]
    assert [context.moves(at, 0.25) for at in (3.75, 3.7, 4.25, 4.3, 8)] == [True, False, True, False, True]


def test_what_a_bar_is_to_be(context_of: Contexts, compose: Composer) -> None:
    context = context_of()
    bars = [bar_plan(context, plan(context.form, "walking"), n) for n in range(6)]
    assert [(bar.start, bar.end, bar.at, bar.size, bar.left) for bar in bars] == [
        (4 * n, 4 * n + 4, 4.0 * n, 4.0, 6 - n) for n in range(6)
    ]
    assert [bar.rests for bar in bars] == [False, False, False, True, False, True]
    assert {bar.placement for bar in bars} == {"gaps"}
    silent = context_of(melody=[])
    placed = {name: bar_plan(silent, plan(silent.form, name), 0).placement for name in ("walking", "in-two", "open")}
    assert placed == {"walking": "free", "in-two": "free", "open": "held"}


def test_the_next_chord_waits_longer_after_one_that_came_early(context_of: Contexts) -> None:
    d, g = context_of("Dm7 | G7", []).chords
    last = [
        Strike(Fraction(7, 2), Fraction(1), d, treatment("walking"), ""),
        Strike(Fraction(7, 2), Fraction(1), g, treatment("walking"), ""),
        Strike(Fraction(7, 2), Fraction(1), d, treatment("walking"), "", ahead=True),
    ]
    assert [free_from(COMPING.placement, [one]) for one in last] == [4.0, 5.0, 5.0]
    assert free_from(COMPING.placement, [last[1], last[0]]) == 4.0
    assert free_from(COMPING.placement, []) < -50


# what a bar keeps of a rhythm, and how worn one is


@pytest.mark.parametrize(
    ("hits", "last", "left"),
    [
        ([(0, 1), (2, 1)], -9, [0, 1]),
        ([(0, 1), (0.25, 1), (0.5, 1)], -9, [0, 2]),  # half a beat after one at least
        ([(0, 1), (2, 1)], 0.5, [1]),
        ([(0, 1), (2, 1)], 2, [1]),
        ([(0, 1), (2, 1)], 2.5, []),
        ([(2.5, 1), (3.5, 1)], -9, [0, 1]),  # a beat before one that comes early
        ([(3, 0.5), (3.5, 1)], -9, [0]),
        ([(3.5, 1)], 3, [0]),
        ([(3.5, 1)], 3.25, []),
        ([(-0.5, 1), (0.5, 1), (1, 1)], -9, [0, 2]),  # a beat and a half after one in the bar before
        ([(-0.5, 1), (1, 1)], 3.75, []),
    ],
)
def test_a_bar_keeps_what_has_room_and_time(
    context_of: Contexts, hits: list[tuple[float, float]], last: float, left: list[int]
) -> None:
    context = context_of("Dm7 | G7 | Dm7 | G7", [])
    bar = bar_plan(context, plan(context.form, "walking"), 2)
    one = rhythm("some", [(Fraction(at), Fraction(length)) for at, length in hits])
    assert [n for n, _ in kept(context, bar, one, 8 + last)] == left


def test_a_rhythm_is_worn_by_the_last_four_bars_and_a_little_by_the_twelve_before(context_of: Contexts) -> None:
    context = context_of()
    for ago in range(1, 20):
        row = [PastBar("", (1.0,)) for _ in range(20)]
        row[-ago] = PastBar("", (0.0, 1.5))
        assert worn(context, (0.0, 1.5), row) == (10 if ago <= 4 else 1 if ago <= 16 else 0)
    assert worn(context, (0.0,), [PastBar("", (0.0,))] * 16) == 4 * 10 + 12


def test_a_chord_on_the_quaver_before_the_bar_counts_as_on_its_first_beat() -> None:
    assert places_of([(1.5, 1), (-0.5, 1), (0, 2), (3, 1)]) == (0.0, 1.5, 3.0)


# rhythms taken up from the melody, and those that come early


def hits(one: CompingRhythm) -> list[tuple[float, float]]:
    return [(float(at), float(length)) for at, length in one.hits]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ([(0, 1), (2, 1)], [(-0.5, 2), (2, 1)]),  # its first chord reaches the bar early
        ([(0.5, 1), (3, 1)], [(-0.5, 2), (3, 1)]),
        ([(1, 1), (3, 1)], [(-0.5, 1.5), (1, 1), (3, 1)]),  # or one more, until the next
        ([(0, 1)], [(-0.5, 2)]),
        ([(2, 1)], [(-0.5, 2), (2, 1)]),
    ],
)
def test_a_rhythm_reaches_the_bar_a_quaver_early(
    before: list[tuple[float, float]], after: list[tuple[float, float]]
) -> None:
    one = pushed(rhythm("x", [(Fraction(at), Fraction(length)) for at, length in before], taken_up=True))
    assert hits(one) == after and one.comes_early
    assert one.taken_up == (len(after) > 2) and one.name == "the quaver before the bar"


@pytest.mark.parametrize(
    ("sung", "there", "absent"),
    [
        ([(0, 1.5, 72), (1.5, 0.5, 74)], [[(0, 1.5), (1.5, 0.5)]], [[(0, 1.5)]]),  # the bar before
        (
            [(0, 1, 72), (1, 1, 74), (2.5, 1, 76)],
            [[(0, 1), (1, 1)], [(1, 1), (2.5, 1)], [(0, 1), (1, 1), (2.5, 1)]],
            [],
        ),
        ([(0, 1, 72), (0.25, 1, 74)], [], [[(0, 0.25), (0.25, 1)]]),  # no quavers
        ([(0, 1, 72), (2.5, 1, 74)], [], [[(0, 1), (2.5, 1)]]),  # more than two beats apart
        ([(0, 1, 72), (1 / 3, 1, 74)], [], [[(0, 1 / 3), (1 / 3, 1)]]),
        ([(0, 1, 72), (0.5, 1, 74), (2, 1, 76)], [[(0.5, 1), (2, 1)]], []),  # its accents
    ],
)
def test_a_rhythm_is_taken_up_from_the_bar_before(
    context_of: Contexts,
    sung: Melody,
    there: list[list[tuple[float, float]]],
    absent: list[list[tuple[float, float]]],
) -> None:
    context = context_of(melody=sung)
    found = [hits(one) for one in taken_up(context, bar_plan(context, plan(context.form, "walking"), 1))]
    assert all(one in found for one in there) and not any(one in found for one in absent)
    assert all(one[0][0] >= 0 and one[-1][0] < 4 for one in found)


def test_the_end_of_a_phrase_is_taken_up_a_beat_earlier_or_later(context_of: Contexts) -> None:
    context = context_of(melody=[(2, 1, 72), (3, 1, 74)])
    bars = [bar_plan(context, plan(context.form, "walking"), n) for n in range(4)]
    places = [{tuple(at for at, _ in hits(one)) for one in taken_up(context, bar)} for bar in bars]
    assert places[1] >= {(0, 1), (1, 2), (2, 3)}
    assert places[3] == set(), "too long ago"


def test_the_accents_are_the_notes_after_which_a_beat_passes_and_the_last() -> None:
    notes = [MelodyNote(Fraction(beat), Fraction(1, 2), pitch_in_key(72)) for beat in (0, 0.5, 1.5, 2, 4, 4.5)]
    assert [float(note.beat) for note in accented(notes)] == [0.5, 2, 4.5]
    assert accented([]) == []


def test_fours_are_counted_from_each_section_on(compose: Composer) -> None:
    form = compose(" | ".join(["C"] * 11), sections=[("A", 6, None), ("B", 5, None)])
    assert sorted(fours(form, 4)) == [0, 16, 24, 40]
    assert sorted(fours(form, 2)) == [0, 8, 16, 24, 32, 40]
