"""What each note of a bass line costs: worked examples in which every price is another power of two, added by hand.

So a sum says which prices are in it. What is counted where is described in ``bass.toml``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from companion.arrange.bass.costs import (
    FORBIDDEN,
    _lead,
    _low_root,
    _register,
    _rising,
    _root_to_root,
    entry_costs,
    lead_costs,
    middle_costs,
)
from companion.arrange.bass.slots import Slot
from companion.arrange.harmony import harmonies
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences, BassRange

Composer = Callable[..., Form]
LOWEST, HIGHEST = 28, 55
_SHIPPED = preferences(BassPreferences)
BASS = replace(
    _SHIPPED,
    range=BassRange(LOWEST, HIGHEST, (31, 48), 0.5),
    costs=replace(
        _SHIPPED.costs,
        interval=tuple(1000.0 * step for step in range(13)),
        turn=1, no_turn=2, no_turn_wide=4, there_and_back=8, third_time=16, quick_leap=64,
        chromatic=128, chromatic_and_back=256, wrong=512, avoided_leap=0.25,
        root=1, not_root=2, chord_tone=1, guide_tone=2, scale_tone=4, avoided=8, root_again=16, downbeat_other=32,
        downbeat_chromatic=64, long_not_root=128, long_root_between=256,
        lead_semitone=1, lead_step=2, lead_fifth=4, lead_fifth_below=8, lead_other=16, repeat_across=32,
        root_to_root=64, leap=5, wide=8, long=3,
    ),
    spelling=replace(_SHIPPED.spelling, not_own=512, third_beat_other=1024, fourth=2048, subdominant=4096),
    instead=replace(
        _SHIPPED.instead, fifth_by_root=4, fifth_by_third=8, seventh_by_fifth=16, other=32, high_root=64,
        small_rise=128, no_rise=256,
    ),
)  # fmt: skip


@pytest.fixture(scope="module")
def slot(compose: Composer) -> Callable[..., Slot]:
    """A slot of a walk within a chord, unless told otherwise."""

    def make(symbol: str = "Cmaj7", role: str = "walk", **told: object) -> Slot:
        harmony = harmonies(compose(f"{symbol} | {symbol}"))[0]
        plain = Slot(Fraction(0), Fraction(1), harmony, "walk", False, False, 1, False, "walking", Fraction(9, 10))
        return replace(plain, role=role, **told)  # type: ignore[arg-type]

    return make


def after_two(slot: Slot, notes: tuple[int, int, int], bass: BassPreferences = BASS) -> float:
    """Cost of the last of three MIDI numbers, the slot being that of the one in the middle."""
    p, q, r = (midi - LOWEST for midi in notes)
    return float(middle_costs(bass, slot)[r, p, q])


def struck(slot: Slot, midi: int, after: int = 40, before: Slot | None = None, dominant: int = 7) -> float:
    """Cost of striking a MIDI number at a slot after another at the slot before."""
    return float(entry_costs(BASS, slot, before, dominant)[midi - LOWEST, after - LOWEST])


# three notes running


@pytest.mark.parametrize(
    ("notes", "cost"),
    [
        ((38, 38, 38), 16),  # the third time
        ((38, 38, 39), 1000),
        ((38, 39, 39), 0),
        ((38, 40, 41), 1000),  # on the same way: nothing but its interval
        ((38, 40, 38), 2000 + 1 + 8),  # a turn, and there and back
        ((40, 38, 40), 2000 + 1 + 8),
        ((38, 40, 39), 1000 + 1),
        ((40, 38, 39), 1000 + 1),
        ((38, 42, 43), 1000),  # a third is no leap
        ((38, 43, 44), 1000 + 2),  # a fourth is, and goes on
        ((43, 38, 37), 1000 + 2),
        ((38, 43, 43), 0),
        ((38, 43, 42), 1000 + 1),
        ((38, 45, 46), 1000 + 2),
        ((38, 46, 47), 1000 + 4),  # a wide one goes on
        ((46, 38, 37), 1000 + 4),
        ((38, 46, 46), 4),  # or stays
        ((38, 46, 42), 4000 + 1),  # a third back is enough of a turn
        ((46, 38, 42), 4000 + 1),
        ((38, 46, 41), 5000 + 1 + 4),  # a fourth back is another leap
        ((38, 50, 51), 1000),  # the octave needn't turn
        ((38, 51, 52), 1000 + 4),
        ((30, 30, 42), 12000),
        ((30, 30, 43), FORBIDDEN),  # farther than any price in the list
    ],
)
def test_three_notes_cost_their_interval_and_what_the_line_does(
    slot: Callable[..., Slot], notes: tuple[int, int, int], cost: float
) -> None:
    assert after_two(slot(role="root"), notes) == cost


def test_a_pattern_with_prices_of_its_own_doesnt_mind_repeats_and_may_leap_freely(slot: Callable[..., Slot]) -> None:
    own = replace(BASS.patterns["broken"], interval=(1000.0, 2000.0, 3000.0), free_leaps=True)
    bass = replace(BASS, patterns={"walking": own})
    free = slot(role="root")
    assert after_two(free, (38, 38, 38), bass) == 1000
    assert after_two(free, (38, 40, 38), bass) == 3000 + 1  # a turn all the same
    assert after_two(free, (38, 47, 48), bass) == 2000  # no leap has to turn back
    assert after_two(free, (38, 43, 44), bass) == 2000
    assert after_two(free, (30, 30, 33), bass) == 3000  # beyond the list: its last price
    bound = replace(BASS, patterns={"walking": replace(own, free_leaps=False)})
    assert after_two(free, (38, 47, 48), bound) == 2000 + 4
    assert after_two(free, (38, 43, 44), bound) == 2000 + 2
    assert after_two(free, (30, 30, 33), bound) == FORBIDDEN


def test_a_list_of_prices_may_be_longer_than_the_range(slot: Callable[..., Slot]) -> None:
    narrow = replace(BASS, range=BassRange(LOWEST, LOWEST + 12, (LOWEST, LOWEST + 12), 0.5))
    long = replace(narrow.patterns["broken"], interval=tuple(100.0 * step for step in range(19)))
    assert after_two(slot(role="root"), (28, 28, 40), replace(narrow, patterns={"walking": long})) == 1200


@pytest.mark.parametrize(
    ("notes", "cost"),
    [
        ((38, 42, 44), 2000),  # to it by a third, from it by a tone
        ((38, 43, 45), 2000 + 2 + 64),  # a leap to it
        ((38, 40, 43), 3000 + 64),  # more than a step from it
        ((38, 40, 39), 1000 + 1 + 32),  # a turn: half of that
        ((38, 40, 40), 0),
        ((38, 43, 40), 3000 + 1 + 64 + 64 + 32),
    ],
)
def test_a_quaver_between_the_beats_is_reached_and_left_by_step(
    slot: Callable[..., Slot], notes: tuple[int, int, int], cost: float
) -> None:
    assert after_two(slot(role="root", quick=True), notes) == cost


@pytest.mark.parametrize(
    ("notes", "leads", "cost"),
    [
        ((36, 37, 38), False, 1000 + 128),  # C, C sharp, D
        ((38, 37, 36), False, 1000 + 128),
        ((36, 37, 36), False, 1000 + 1 + 8 + 512),
        ((35, 37, 39), False, 2000 + 512),  # by the same interval, but a tone
        ((35, 37, 38), False, 1000 + 512),
        ((35, 37, 38), True, 1000 + 128),  # a semitone from the root that it leads to
        ((36, 37, 36), True, 1000 + 1 + 8 + 128 + 256),  # between twice the same
        ((40, 37, 36), True, 1000 + 128 + 0.25),  # by leap to a flat ninth, which rubs as well
        ((34, 36, 37), True, 1000),
        ((36, 37, 39), True, 2000 + 512),
        ((36, 37, 37), True, 512),
        ((38, 40, 41), True, 1000),  # E is in the scale
    ],
)
def test_what_is_not_in_the_scale_passes_by_semitones(
    slot: Callable[..., Slot], notes: tuple[int, int, int], leads: bool, cost: float
) -> None:
    assert after_two(slot(leads=leads), notes) == cost
    assert after_two(slot(role="lead", leads=leads), notes) == cost
    plain = cost - cost % 1 - sum(price for price in (512, 128, 256) if int(cost) % 1000 & price)
    assert after_two(slot(role="root", leads=leads), notes) == plain, "who has no choice is not asked"
    assert after_two(slot(new=True, leads=leads), notes) == plain


@pytest.mark.parametrize(
    ("notes", "cost"),
    [
        ((40, 41, 43), 2000),  # E, F, G: by step past the fourth over a major third
        ((43, 41, 40), 1000),
        ((38, 41, 43), 2000 + 0.25),  # D, F: by leap to it
        ((40, 41, 44), 3000 + 0.25),  # or from it
        ((38, 40, 43), 3000),
    ],
)
def test_a_scale_note_that_rubs_is_passed_by_step(
    slot: Callable[..., Slot], notes: tuple[int, int, int], cost: float
) -> None:
    assert after_two(slot(), notes) == cost
    assert after_two(slot(role="tone"), notes) == cost - cost % 1


def test_a_chord_without_anything_foreign_costs_its_intervals_alone(slot: Callable[..., Slot]) -> None:
    whole = slot("C+")
    assert not np.array_equal(middle_costs(BASS, whole), middle_costs(BASS, slot(role="root")))
    assert np.array_equal(middle_costs(BASS, slot(role="tone")), middle_costs(BASS, slot(role="root")))


# one note


@pytest.mark.parametrize(
    ("midi", "cost"), [(28, 1.5), (29, 1.0), (30, 0.5), (31, 0), (48, 0), (49, 0.5), (50, 1.0), (55, 3.5)]
)
def test_outside_the_comfortable_range_each_semitone_costs(slot: Callable[..., Slot], midi: int, cost: float) -> None:
    assert struck(slot(role="pedal"), midi, dominant=midi % 12) == cost


ALL = -1
"""Stands for every pitch class that isn't named."""


@pytest.mark.parametrize(
    ("symbol", "role", "told", "prices"),
    [
        ("Cmaj7", "pedal", {}, {7: 0, ALL: FORBIDDEN}),
        ("Cmaj7", "root", {}, {0: 1, 4: 2, 7: 2, ALL: FORBIDDEN}),
        ("Cmaj7", "ahead", {}, {0: 1, 4: 2, 7: 2, ALL: FORBIDDEN}),
        ("Cmaj7", "walk", {"new": True}, {0: 1, 4: 2, 7: 2, ALL: FORBIDDEN}),
        ("Cmaj7", "fifth", {"new": True}, {0: 1, 4: 2, 7: 2, ALL: FORBIDDEN}),
        ("Cmaj7/G", "root", {}, {7: 1, 4: 2, ALL: FORBIDDEN}),
        ("Cmaj7/D", "root", {}, {2: 1, 4: 2, 7: 2, ALL: FORBIDDEN}),
        ("Cm7b5", "root", {}, {0: 1, 3: 2, 6: 2, ALL: FORBIDDEN}),
        ("C+", "root", {}, {0: 1, 4: 2, 8: 2, ALL: FORBIDDEN}),
        ("C7sus4", "root", {}, {0: 1, 5: 2, 7: 2, ALL: FORBIDDEN}),
        ("Csus2", "root", {}, {0: 1, 2: 2, 7: 2, ALL: FORBIDDEN}),
        ("C5", "third", {}, {0: 0, ALL: FORBIDDEN}),  # without a third its root
        ("Cmaj7", "third", {}, {4: 0, ALL: FORBIDDEN}),
        ("Cm7", "third", {}, {3: 0, ALL: FORBIDDEN}),
        ("C7sus4", "third", {}, {5: 0, ALL: FORBIDDEN}),
        ("Cmaj7", "third", {"new": True}, {4: 0, ALL: FORBIDDEN}),  # a walk may stand on it
        ("Cmaj7", "third", {"new": True, "pattern": "bossa"}, {0: 1, 4: 2, 7: 2, ALL: FORBIDDEN}),
        ("Cmaj7", "fifth", {}, {7: 0, 0: 4, 4: 8, ALL: 32}),
        ("C7alt", "fifth", {}, {0: 0, 4: 8, ALL: 32}),  # its fifths are tensions
        ("Cmaj7", "seventh", {}, {11: 0, 7: 16, ALL: 32}),
        ("C7", "seventh", {}, {10: 0, 7: 16, ALL: 32}),
        ("C6", "seventh", {}, {9: 0, 7: 16, ALL: 32}),
        ("Cmaj7/G", "octave", {}, {7: 0, ALL: 32}),
        ("Cmaj7", "tenth", {}, {4: 0, ALL: 32}),
        ("Cmaj7", "tone", {}, {0: 0, 4: 0, 7: 0, 11: 0, ALL: 32}),
        ("C13", "tone", {}, {0: 0, 4: 0, 7: 0, 10: 0, ALL: 32}),  # no tensions
    ],
)
def test_a_role_asks_for_its_notes(
    slot: Callable[..., Slot], symbol: str, role: str, told: Mapping[str, object], prices: Mapping[int, float]
) -> None:
    place = slot(symbol, role, **told)
    found = {midi % 12: struck(place, midi) for midi in range(36, 48)}
    assert found == {pc: prices.get(pc, prices[ALL]) for pc in range(12)}


# pitch classes: C 0, C sharp 1, D 2, E flat 3, E 4, F 5, F sharp 6, G 7, A flat 8, A 9, B flat 10, B 11
WALKED = {
    # C and G of C major seventh are chord tones, E and B guide tones, F rubs
    "Cmaj7": {0: 16, 2: 4, 4: 2, 5: 8, 7: 1, 9: 4, 11: 2, 1: 8, ALL: 0},
    "C7": {0: 16, 2: 4, 4: 2, 5: 8, 7: 1, 9: 4, 10: 2, ALL: 0},
}


@pytest.mark.parametrize("symbol", WALKED)
@pytest.mark.parametrize("role", ["walk", "lead"])
def test_a_walking_note_costs_what_it_is_in_its_chord(slot: Callable[..., Slot], symbol: str, role: str) -> None:
    found = {midi % 12: struck(slot(symbol, role), midi) for midi in range(36, 48)}
    assert found == {pc: WALKED[symbol].get(pc, 0) for pc in range(12)}


@pytest.mark.parametrize(
    ("told", "prices"),
    [
        # a bar line: root, third and fifth, or what lies a third to a sixth above the root, else 32 more; chromatic 64
        ({"downbeat": True, "lasts": 2}, {0: 16, 4: 2, 7: 1, 2: 36, 5: 40, 9: 36, 11: 34, 1: 40, ALL: 64}),
        ({"downbeat": True, "lasts": 2, "since": 1}, {0: 16, 4: 2, 7: 1, 2: 36, 5: 40, 9: 36, 11: 34, 1: 40, ALL: 64}),
        # of a long chord: the root again in its third bar, not in its second
        ({"downbeat": True, "lasts": 3, "since": 2}, {
            0: 16, 4: 130, 7: 129, 2: 164, 5: 168, 9: 164, 11: 162, 1: 168, ALL: 64}),
        ({"downbeat": True, "lasts": 3, "since": 1}, {
            0: 272, 4: 2, 7: 1, 2: 36, 5: 40, 9: 36, 11: 34, 1: 40, ALL: 64}),
        ({"downbeat": False, "lasts": 3, "since": 2}, {**WALKED["Cmaj7"]}),
        # the middle of the bar: 1024 for what isn't root, third, fifth or seventh and has a price at all
        ({"middle": True}, {0: 16, 4: 2, 7: 1, 11: 2, 2: 1028, 5: 1032, 9: 1028, 1: 1032, ALL: 0}),
    ],
)  # fmt: skip
def test_a_walking_note_costs_by_its_place(
    slot: Callable[..., Slot], told: Mapping[str, object], prices: Mapping[int, float]
) -> None:
    found = {midi % 12: struck(slot(**told), midi) for midi in range(36, 48)}
    assert found == {pc: prices.get(pc, prices[ALL]) for pc in range(12)}


@pytest.mark.parametrize(
    ("symbol", "third", "fifth"), [("Cm7b5", 3, 6), ("C+", 4, 8), ("C7sus4", 5, 7), ("Cm7", 3, 7), ("C6", 4, 7)]
)
def test_on_a_bar_line_every_kind_of_third_and_fifth_is_free(
    slot: Callable[..., Slot], symbol: str, third: int, fifth: int
) -> None:
    weak, strong = (slot(symbol, downbeat=downbeat, lasts=2) for downbeat in (False, True))
    more = {midi % 12: struck(strong, midi) - struck(weak, midi) for midi in range(36, 48)}
    assert {pc for pc, price in more.items() if price == 0} == {0, third, fifth}
    assert {price for price in more.values() if price} == {32, 64}


def test_a_diminished_chord_is_spelled_by_its_arpeggio(slot: Callable[..., Slot]) -> None:
    found = {midi % 12: struck(slot("Bdim7"), midi) for midi in range(35, 47)}
    assert {pc: found[pc] for pc in (11, 2, 5, 8)} == {11: 16, 2: 2, 5: 1, 8: 2}
    assert {pc: found[pc] for pc in (1, 4, 7, 10)} == dict.fromkeys((1, 4, 7, 10), 4 + 512)
    assert found[0] == 8 + 512, "the flat ninth of the diminished chord rubs"


def test_over_a_minor_tonic_its_fourth_is_dear_and_in_the_middle_of_the_bar_more_so(slot: Callable[..., Slot]) -> None:
    weak, middle = slot("Cm6"), slot("Cm6", middle=True)
    assert (struck(weak, 41), struck(middle, 41)) == (2048 + 4, 2048 + 4096)
    assert struck(slot("Cm7"), 41) == 4, "a minor seventh is no tonic"


# what leads to a new chord


@pytest.mark.parametrize(
    ("move", "price"),
    [(0, 48), (1, 1), (-1, 1), (2, 2), (-2, 2), (-7, 4), (7, 16), (5, 8), (-5, 16), (3, 16), (12, 16), (-12, 16)],
)
def test_a_walking_note_leads_by_semitone_step_or_fifth(slot: Callable[..., Slot], move: int, price: float) -> None:
    for role in ("walk", "lead"):
        assert lead_costs(BASS, slot(role=role))[20 + move if move < 0 else 12 + move, 20 if move < 0 else 12] == price


@pytest.mark.parametrize(
    ("move", "price"), [(0, 64), (1, 0), (-1, 0), (2, 0), (-2, 0), (3, 64), (5, 0), (-5, 64), (7, 0), (-7, 0), (12, 64)]
)
def test_a_root_right_after_a_root_is_taken_in_the_octave_that_leads(
    slot: Callable[..., Slot], move: int, price: float
) -> None:
    assert lead_costs(BASS, slot(new=True))[14 + move, 14] == price


def test_who_has_no_choice_need_not_lead(slot: Callable[..., Slot]) -> None:
    for role in ("root", "fifth", "tone"):
        assert not lead_costs(BASS, slot(role=role)).any()


def test_what_leads_counts_where_a_chord_begins_and_only_there(slot: Callable[..., Slot]) -> None:
    begins, goes_on = slot(role="root", new=True), slot(role="root")
    assert struck(begins, 36, after=38, before=slot()) == 1 + 2
    assert struck(goes_on, 36, after=38, before=slot()) == 1
    assert struck(begins, 36, after=38) == 1, "the first of all is reached from nowhere"


# patterns that rise


def test_in_a_pattern_that_rises_a_root_leaves_room_for_its_tenth(slot: Callable[..., Slot]) -> None:
    """A tenth is sixteen semitones: the highest root that has room for one under G3 is D sharp 2."""
    pitches = range(36, 44)
    rising, level = (
        [struck(slot(f"{name}maj7", "root", pattern=pattern), midi)
         for midi, name in zip(pitches, ["C", "Db", "D", "Eb", "E", "F", "Gb", "G"], strict=True)]
        for pattern in ("broken", "in-two")
    )  # fmt: skip
    assert level == [1] * 8
    assert rising == [1, 1, 1, 1, 1 + 64, 1 + 128, 1 + 192, 1 + 256]
    assert struck(slot("Gmaj7", "fifth", pattern="broken"), 50, after=43) == 1, "the root alone"


@pytest.mark.parametrize("role", ["fifth", "seventh", "octave"])
def test_in_a_pattern_that_rises_each_note_lies_above_the_one_before(slot: Callable[..., Slot], role: str) -> None:
    place, before = slot("Cmaj7", role, pattern="broken"), slot("Cmaj7", "root", pattern="broken")
    level = slot("Cmaj7", role, pattern="in-two")
    extra = [struck(place, 43, after, before) - struck(level, 43, after, before) for after in (42, 43, 44)]
    assert extra == [0, 256, 256]


@pytest.mark.parametrize(
    ("before", "extra"),
    [
        ({"role": "root"}, [256, 256, 128, 128, 0]),
        ({"role": "walk", "new": True}, [256, 256, 128, 128, 0]),
        ({"role": "fifth"}, [256, 256, 0, 0, 0]),
        (None, [256, 256, 0, 0, 0]),
    ],
)
def test_a_tenth_lies_an_octave_above_its_root(
    slot: Callable[..., Slot], before: Mapping[str, object] | None, extra: list[float]
) -> None:
    place, level = (slot("Cmaj7", "tenth", pattern=name) for name in ("broken", "in-two"))
    last = slot("Cmaj7", pattern="broken", **before) if before is not None else None
    found = [struck(place, 52, after, last) - struck(level, 52, after, last) for after in (53, 52, 51, 41, 40)]
    assert found == extra


def test_a_root_and_a_new_chord_need_not_rise(slot: Callable[..., Slot]) -> None:
    before = slot("Cmaj7", "root", pattern="broken")
    for told in ({"role": "root"}, {"role": "fifth", "new": True}):
        assert struck(slot("Cmaj7", pattern="broken", **told), 36, 40, before) == 1


def test_the_register_costs_by_the_semitone_beyond_the_comfortable_range_and_nothing_within() -> None:
    """As shipped: from G1 to C3, 0.3 a semitone below and above it."""
    found = _register(_SHIPPED)
    assert [float(price) for price in found[[0, 2, 3, 4, 20, 21, 27]]] == pytest.approx([0.9, 0.3, 0, 0, 0, 0.3, 2.1])


def test_a_note_leads_to_a_root_by_step_or_fifth_and_by_nothing_else() -> None:
    """Each interval to the root, from an octave below to an octave above, by the prices of the table above."""
    table = _lead(BASS)
    root = 14
    below = [float(table[root, root - far]) for far in range(13)]
    above = [float(table[root, root + far]) for far in range(13)]
    assert below == [48, 1, 2, 16, 16, 8, 16, 16, 16, 16, 16, 16, 16], "the root from so far below it"
    assert above == [48, 1, 2, 16, 16, 16, 16, 4, 16, 16, 16, 16, 16]
    roots = _root_to_root(BASS)
    assert [float(roots[root, root - far]) for far in range(9)] == [64, 0, 0, 64, 64, 0, 64, 0, 64]
    assert [float(roots[root, root + far]) for far in range(9)] == [64, 0, 0, 64, 64, 64, 64, 0, 64]


def test_where_a_pattern_rises_the_next_note_lies_above_by_as_much_as_is_asked_for() -> None:
    for least, costs in ((1, [256, 256, 0, 0, 0]), (12, [256, 256, 128, 128, 0])):
        found = _rising(BASS, least)
        assert [float(found[10 + move, 10]) for move in (-1, 0, 1, 11, 12)] == costs


def test_a_root_too_high_for_its_tenth_costs_by_the_semitone() -> None:
    found = _low_root(BASS)
    high = HIGHEST - LOWEST - 16
    assert [float(found[high + n]) for n in (-1, 0, 1, 2)] == [0, 0, 64, 128]
