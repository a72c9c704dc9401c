"""What a voicing costs where it may be struck, and what moving to the next one costs, worked out by hand.

Every price is nought but those that an example names, so that they can be told apart. What is counted where is
described in ``voicings.toml``.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.arrange.chords.context import Strike
from companion.arrange.chords.shapes import Shape
from companion.arrange.chords.voicings import Voicing, candidates, choose_voicings
from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.melody.part import MelodyIndex, index_melody
from companion.arrange.treatments import treatment
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.voicings import Register, VoicingPreferences

Composer = Callable[..., Form]
Melody = Sequence[tuple[float, float, int]]
_SHIPPED = preferences(VoicingPreferences)
SPAN = 14
"""Semitones that a hand takes."""


def only(outside: float = 0, **prices: float) -> VoicingPreferences:
    """Preferences in which nothing costs but what is named; ``outside``: a semitone beyond the centre of a register."""
    registers = {
        field.name: replace(getattr(_SHIPPED, field.name), outside=outside)
        for field in fields(_SHIPPED)
        if isinstance(getattr(_SHIPPED, field.name), Register)
    }
    nothing = {field.name: 0.0 for field in fields(_SHIPPED.costs)}
    free_line = replace(_SHIPPED.top_voice, **{f.name: 0.0 for f in fields(_SHIPPED.top_voice)})
    return replace(_SHIPPED, costs=replace(_SHIPPED.costs, **(nothing | prices)), top_voice=free_line, **registers)


def ruling(compose: Composer, changes: str, bar: int = 0) -> Harmony:
    return harmonies(compose(changes))[bar]


def sung(compose: Composer, *notes: tuple[float, float, int]) -> MelodyIndex:
    """A melody over sixteen bars, so that it doesn't come round."""
    return index_melody(compose(" | ".join(["C"] * 16), melody=notes))


@pytest.fixture(scope="module")
def priced(compose: Composer) -> Callable[..., dict[tuple[int, ...], float]]:
    """The price of each voicing of a chord struck on beat 9 for a beat, unless told otherwise."""

    def make(
        voicings: VoicingPreferences,
        symbol: str = "Dm7",
        named: str = "walking",
        melody: Melody = (),
        bass: Sequence[int] = (),
        pedalled: bool = False,
        aim: int | None = None,
    ) -> dict[tuple[int, ...], float]:
        harmony = ruling(compose, f"{symbol} | {symbol}")
        strike = Strike(Fraction(9), Fraction(1), harmony, treatment(named), "", aim=aim)
        found = candidates(voicings, strike, sung(compose, *melody), bass, pedalled=pedalled)
        return {one.midi: one.price for one in found}

    return make


Priced = Callable[..., dict[tuple[int, ...], float]]
UNDER = ((8.0, 4.0, 77),)
"""F5, struck a beat before the chord and held over it."""
UNDER_IT = {"full_under_melody": 1, "thin_under_melody": 2, "thinner_under_melody": 4}


@pytest.mark.parametrize(
    ("named", "told", "register"),
    [
        ("walking", {}, "register"),
        ("walking", {"melody": UNDER}, "register_under_the_melody"),
        ("walking", {"melody": UNDER, "pedalled": True}, "register"),
        ("sliding", {"aim": 72}, "register_of_the_melody"),
        ("sliding", {"aim": 72, "melody": ((8.0, 4.0, 84),)}, "register_of_the_melody"),
    ],
)
def test_a_chord_lies_in_its_register_and_pays_for_each_semitone_beyond_the_centre(
    priced: Priced, named: str, told: Mapping[str, object], register: str
) -> None:
    where: Register = getattr(_SHIPPED, register)
    low, high = where.centre
    found = priced(only(outside=1), "Dm7", named, **told)
    assert found == {midi: max(0, low - midi[0]) + max(0, midi[-1] - high) for midi in found}
    assert any(found.values())
    assert all(where.lowest <= midi[0] <= where.lowest_at_most and midi[-1] <= where.highest for midi in found)


def test_chords_of_both_hands_lie_lower(priced: Priced) -> None:
    where = _SHIPPED.register_of_two_hands
    found = priced(only(outside=1), "Dm7", "open")
    two_hands = {midi: price for midi, price in found.items() if midi[-1] - midi[0] > SPAN}
    assert two_hands == {
        midi: max(0, where.centre[0] - midi[0]) + max(0, midi[-1] - where.centre[1]) for midi in two_hands
    }
    assert min(midi[0] for midi in two_hands) < _SHIPPED.register.lowest


def test_the_rows_of_a_chord_are_found_in_every_octave(priced: Priced) -> None:
    """The rootless D minor seventh, from its third and from its seventh, between C3 and D5."""
    assert {(53, 57, 60, 64), (48, 52, 53, 57), (60, 64, 65, 69)} <= set(priced(only(thin=1, thinner=1)))


@pytest.mark.parametrize(
    ("named", "melody", "prices", "by_size"),
    [
        ("walking", (), {"thin": 1, "thinner": 2}, {4: 0, 3: 1, 2: 2}),
        ("walking", (), UNDER_IT, {4: 0, 3: 0, 2: 0}),
        ("walking", UNDER, UNDER_IT, {4: 1, 3: 2, 2: 4}),
        ("walking", UNDER, {"thin": 1, "thinner": 2}, {4: 0, 3: 0, 2: 0}),
    ],
)  # fmt: skip
def test_fewer_notes_cost_by_whether_the_hand_holds_the_melody(
    priced: Priced, named: str, melody: Melody, prices: dict[str, float], by_size: dict[int, float]
) -> None:
    found = priced(only(**prices), "Dm7", named, melody)
    assert {len(midi): price for midi, price in found.items()} == by_size
    assert found == {midi: by_size[len(midi)] for midi in found}


def test_fourths_that_are_thinned_become_something_else_and_cost_more(priced: Priced) -> None:
    prices = {"thin": 1, "thinner": 2, "unlike": 4, "thin_under_melody": 8, "thinner_under_melody": 16}
    for melody in ((), UNDER):
        found = priced(only(**prices), "Dm7", "modal", melody)
        assert {price for midi, price in found.items() if len(midi) == 2} == {2 + 4}
        assert {price for midi, price in found.items() if len(midi) == 3} == {0, 1 + 4}
        assert found[(50, 55, 60)] == 0 if not melody else True


def test_a_family_later_in_the_list_costs_for_each_place(priced: Priced) -> None:
    found = priced(only(family=1), "Dm7", "open")
    assert {0.0, 1.0, 2.0} == set(found.values())
    assert found[(53, 60, 64, 69)] == 0, "open: third, seventh, ninth, fifth"


def test_another_inversion_than_on_third_or_seventh_costs(priced: Priced) -> None:
    found = priced(only(inversion=1, thin=9, thinner=9))
    assert (found[(53, 57, 60, 64)], found[(60, 64, 65, 69)], found[(52, 53, 57, 60)]) == (0, 0, 1)


@pytest.mark.parametrize("melody", [67, 69, 71, 74])
def test_a_top_note_within_a_tone_of_the_melody_costs(priced: Priced, melody: int) -> None:
    found = priced(only(near_melody=1), melody=((8.0, 4.0, melody),))
    assert found == {midi: float(melody - midi[-1] <= 2) for midi in found}
    assert set(found.values()) == {0.0, 1.0}
    assert not any(melody - note in (1, 13) or note >= melody for midi in found for note in midi)


def test_a_chord_out_of_reach_of_the_held_note_makes_the_hand_let_go_unless_the_pedal_holds_it(priced: Priced) -> None:
    found = priced(only(let_go=1), melody=UNDER)
    assert found == {midi: float(77 - midi[0] > SPAN) for midi in found}
    assert set(found.values()) == {0.0, 1.0}
    assert not any(priced(only(let_go=1), melody=UNDER, pedalled=True).values())


def test_what_the_melody_strikes_with_the_chord_is_within_the_same_hand(priced: Priced) -> None:
    on_c = (60, 64, 65, 69)
    for pedalled in (False, True):
        assert on_c in priced(only(), melody=((9.0, 2.0, 74),), pedalled=pedalled), "a ninth"
        assert on_c not in priced(only(), melody=((9.0, 2.0, 75),), pedalled=pedalled)


@pytest.mark.parametrize(
    ("comes", "counts"), [(10.0, True), (11.0, True), (11.5, False), (12.0, False)]
)  # the chord ends on 10
def test_lying_above_the_note_to_come_costs_each_semitone_up_to_four(
    priced: Priced, comes: float, counts: bool
) -> None:
    found = priced(only(above_next=1), melody=((comes, 1.0, 62),))
    expected = {midi: min(max(midi[-1] - 62, 0), 4) if counts else 0 for midi in found}
    assert found == expected
    assert not counts or {0, 4} < set(expected.values())


@pytest.mark.parametrize(
    ("melody", "counts"),
    [
        (((10.0, 1.0, 84),), True),  # the next note
        (((10.5, 1.0, 84),), True),
        (((11.0, 1.0, 84),), False),  # there is time
        (((8.0, 1.0, 84),), True),  # the last one, which ends where the chord begins
        (((7.0, 1.0, 84),), False),
    ],
)
def test_each_semitone_that_the_hand_leaps_beyond_its_span_costs(priced: Priced, melody: Melody, counts: bool) -> None:
    found = priced(only(leap=1), melody=melody)
    assert found == {midi: max(84 - midi[0] - SPAN, 0) if counts else 0 for midi in found}


def test_both_ways_of_the_hand_count_but_not_from_a_note_that_it_holds(priced: Priced) -> None:
    both = priced(only(leap=1), melody=((8.0, 1.0, 84), (10.0, 1.0, 79)))
    assert both == {midi: max(84 - midi[0] - SPAN, 0) + max(79 - midi[0] - SPAN, 0) for midi in both}
    held = priced(only(leap=1), melody=((8.0, 1.5, 84),))
    assert not any(held.values())


def test_fourths_in_the_melodys_place_land_on_its_note_in_its_octave(priced: Priced) -> None:
    found = priced(only(astray=100, astray_semitone=1), "Dm7", "sliding", aim=72)
    assert found == {midi: 100 * ((midi[-1] - 72) % 12 != 0) + abs(midi[-1] - 72) for midi in found}
    assert {0, 100} <= {price - price % 100 for price in found.values()}


def test_no_more_than_two_voicings_are_looked_at_for_each_top_note(priced: Priced) -> None:
    tops = [midi[-1] for midi in priced(_SHIPPED)]
    assert max(tops.count(top) for top in tops) == 2


def test_above_a_bass_note_there_is_no_mud(priced: Priced) -> None:
    for bass in ((40,), (43,), (46,), (48,), (38, 48), (50, 36)):
        for midi in priced(_SHIPPED, bass=bass):
            assert all(midi[0] > low and low >= _SHIPPED.low_limits.get(midi[0] - low, 0) for low in bass)


# --- from chord to chord ----------------------------------------------------------------------------------------------

A, B, FAR = (53, 57, 60, 64), (52, 55, 59, 62), (57, 60, 64, 65)
"""Rootless on D, on C a step lower (one, two, one and two semitones), and four, three, four and one away."""


def row(midi: tuple[int, ...], price: float = 0.0) -> Voicing:
    return Voicing(Shape("rootless", "", (), 0, 0.0), midi, price)


@pytest.fixture(scope="module")
def costs_of_moving(compose: Composer) -> Callable[..., None]:
    """Holds that going from one chord to another costs so much: a little dearer way is not taken, a cheaper one is.

    The other way is to have struck the second chord already, which costs nothing then.
    """

    def hold(
        voicings: VoicingPreferences,
        before: tuple[int, ...],
        after: tuple[int, ...],
        cost: float,
        *,
        same: bool = False,
        named: str = "walking",
        apart: float = 4,
        aim: int | None = None,
        melody: Melody = (),
        other: tuple[int, ...] | None = None,
    ) -> None:
        there, other = harmonies(compose("Dm7 | G7")), other or after
        strikes = [
            Strike(
                Fraction(8) + n * Fraction(apart), Fraction(1), there[0 if same else n], treatment(named), "", aim=aim
            )
            for n in range(2)
        ]
        for price, wanted in ((cost + 0.01, before), (cost - 0.01, other)):
            offered = [[row(before), row(other, price)], [row(after)]]
            above = sung(compose, *melody)
            chosen = choose_voicings(voicings, strikes, above, [(), ()], random.Random(1), None, offered)
            assert [v.midi for v in chosen if v] == [wanted, after], price

    return hold


Moving = Callable[..., None]


@pytest.mark.parametrize(
    ("before", "after", "prices", "cost", "told"),
    [
        (A, B, {"move": 1}, 6, {}),
        (B, A, {"move": 1}, 6, {}),
        (A, FAR, {"move": 1}, 12, {}),
        (A, B, {"jump": 1}, 0, {}),  # no voice goes beyond a tone
        (A, FAR, {"jump": 1}, 2 + 1 + 2, {}),
        (A, FAR, {"move": 1, "jump": 10}, 12 + 50, {}),
        (A, FAR, {"move": 1, "same_chord": 0.25}, 3, {"same": True}),
        (A, FAR, {"move": 1, "same_chord": 0.25}, 12, {}),
        (A, FAR, {"move": 1, "parallel": 0.25, "parallel_on": 0.5}, 12, {}),
        (A, FAR, {"move": 1, "parallel": 0.25, "parallel_on": 0.5}, 6, {"named": "modal"}),
        (A, FAR, {"move": 1, "parallel": 0.25, "same_chord": 1}, 3, {"named": "open", "same": True}),
        (A, FAR, {"move": 1, "parallel_on": 0.5, "landing": 0.25}, 3, {"named": "sliding", "aim": 65}),
        (A, FAR, {"move": 1, "with_melody": 0.5}, 12, {}),
        (A, FAR, {"move": 1, "with_melody": 0.5}, 6, {"melody": [(7, 2, 84)]}),  # comes from under a held note
        (A, FAR, {"move": 1, "with_melody": 0.5}, 6, {"melody": [(11, 2, 84)]}),  # or goes to one
        (A, FAR, {"move": 1, "with_melody": 0.5}, 12, {"melody": [(7, 1, 84)]}),
        (A, A[:3], {"size": 3}, 3, {}),
        (A[:2], A, {"size": 3}, 6, {}),
        (A, (54, 59, 64), {"move": 1}, 1 + 1 + 0, {}),  # of fewer voices each to the nearest
        (A[:3], (52, 58, 59, 65), {"move": 1}, 1 + 1 + 1 + 5, {}),
    ],
)  # fmt: skip
def test_each_voice_pays_for_its_way(
    costs_of_moving: Moving,
    before: tuple[int, ...],
    after: tuple[int, ...],
    prices: dict[str, float],
    cost: float,
    told: dict[str, object],
) -> None:
    shares = {"with_melody": 1.0, "parallel": 1.0, "parallel_on": 1.0, "landing": 1.0}
    costs_of_moving(only(**(shares | prices)), before, after, cost, **told)


@pytest.mark.parametrize(
    ("prices", "cost", "told"),
    [
        ({"again": 5, "again_on": 7}, 5, {"same": True}),
        ({"again": 5, "again_on": 7}, 7, {}),
        ({"again": 5, "again_parallel": 11}, 11, {"same": True, "named": "modal"}),
        ({"again_parallel": 11, "again_on": 7}, 7, {"named": "modal"}),
        ({"again": 8, "same_chord": 0.25, "again_after": 2}, 8, {"same": True, "apart": 2}),
        ({"again": 8, "same_chord": 0.25, "again_after": 2}, 2, {"same": True, "apart": 1.5}),  # one gesture
    ],
)
def test_the_very_same_chord_again_costs(
    costs_of_moving: Moving, prices: dict[str, float], cost: float, told: dict[str, object]
) -> None:
    costs_of_moving(only(**prices), A, A, cost, other=B, **told)


def test_what_stands_is_kept_and_what_cannot_be_struck_is_left_out(compose: Composer) -> None:
    there = harmonies(compose("Dm7 | G7 | Cmaj7"))
    strikes = [Strike(Fraction(4 * n), Fraction(1), there[n], treatment("walking"), "") for n in range(3)]
    offered = [[row(A), row(FAR)], [], [row(B), row(FAR)]]
    kept = {2: row(FAR)}
    found = choose_voicings(
        only(move=1, with_melody=1), strikes, sung(compose), [()] * 3, random.Random(1), kept, offered
    )
    assert [one.midi if one else None for one in found] == [FAR, None, FAR]
    assert choose_voicings(only(), strikes, sung(compose), [()] * 3, random.Random(1), None, [[], [], []]) == [None] * 3


def test_a_little_chance_makes_rows_differ_and_no_more_than_that(compose: Composer) -> None:
    strikes = [Strike(Fraction(0), Fraction(1), ruling(compose, "Dm7 | G7"), treatment("walking"), "")]
    drawn = {
        price: {
            choose_voicings(
                only(temperature=1), strikes, sung(compose), [()], random.Random(n), None, [[row(A), row(B, price)]]
            )[0]
            for n in range(40)
        }
        for price in (0.5, 1.0)
    }
    assert [len(found) for found in drawn.values()] == [2, 1]


def test_low_limits_hold_between_neighbours(priced: Priced) -> None:
    for symbol in ("Dm7", "G7", "Ebmaj7", "F#m7b5"):
        for midi in priced(_SHIPPED, symbol):
            assert all(low >= _SHIPPED.low_limits.get(high - low, 0) for low, high in pairwise(midi))
