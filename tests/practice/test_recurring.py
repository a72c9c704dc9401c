"""When a slip is said to recur: the same place, in takes enough, and more than chance would show."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest

from companion.load import load
from companion.practice.findings import Finding, Recurrence
from companion.practice.records import BarRecord, SlipRecord, TakeRecord
from companion.practice.recurring import (
    RecurringSlip,
    before_words,
    recurring_slips,
    recurs_words,
    slip_places,
    slips_of,
    trend,
    with_recurrences,
)
from companion.preferences import preferences
from companion.preferences.review import RecurringRules, ReviewPreferences
from companion.resources import chart_path
from tests.practice.days import a_take, evening

RULES: RecurringRules = preferences(ReviewPreferences).recurring
BARS, NOTES = 16, 4
"""Of a tune, and in each of its bars."""


def takes(many: int) -> list[TakeRecord]:
    return [a_take(evening(date(2026, 11, 1) + timedelta(days=n)), folder=f"take-{n}") for n in range(many)]


def went_over(folders: list[str], choruses: int = 1) -> list[BarRecord]:
    return [
        BarRecord(folder, bar, chorus, NOTES, 0, 0, 0, 120.0, 0.0, 8.0)
        for folder in folders
        for chorus in range(1, choruses + 1)
        for bar in range(1, BARS + 1)
    ]


def missed(take: int, beat: float = 25.0, *, what: str = "missed-note", chorus: int = 1, degree: int = 4) -> SlipRecord:
    bar = int(beat // 4) + 1
    return SlipRecord(f"take-{take}", bar, bar, chorus, what, beat, degree, f"bar {bar}: A missed")


def hesitated(take: int, bar: int, last: int | None = None) -> SlipRecord:
    return SlipRecord(f"take-{take}", bar, last or bar, 1, "hesitated", None, None, f"bar {bar}: hesitated for 0.9 s")


def found(slips: list[SlipRecord], many: int = 4, now: int | None = None, choruses: int = 1) -> list[RecurringSlip]:
    played = takes(many)
    bars = went_over([take.folder for take in played], choruses)
    return recurring_slips(played, bars, slips, RULES, now=None if now is None else f"take-{now}")


def test_a_note_left_out_in_two_takes_before_and_again_recurs() -> None:
    (slip,) = found([missed(0), missed(2), missed(3)], now=3)
    assert (slip.bar, slip.times, slip.takes, slip.words) == (7, 3, 4, "bar 7: A missed")


def test_once_before_may_have_been_chance() -> None:
    assert not found([missed(1), missed(3)], now=3)


def test_a_note_now_left_out_now_played_wrong_is_one_slip_and_said_so() -> None:
    (slip,) = found([missed(0), missed(1, what="wrong-note"), missed(3)], now=3)
    assert not slip.same and slip.times == 3
    assert recurs_words(Recurrence(3, 4, slip.same)) == "not right for the third time in four takes"


def test_another_note_of_the_same_bar_is_another_place() -> None:
    assert not found([missed(0, 24.0), missed(1, 25.0), missed(2, 26.0)])


def test_holding_back_before_one_bar_is_found_where_two_stretches_meet() -> None:
    slips = [hesitated(0, 5), hesitated(1, 4, 5), hesitated(2, 5)]
    (slip,) = found(slips, 3)
    assert (slip.bar, slip.times) == (5, 3)


def test_bars_that_are_dragged_together_each_time_are_one_slip() -> None:
    (slip,) = found([hesitated(n, 5, 8) for n in range(3)], 3)
    assert (slip.bar, slip.last, slip.words) == (5, 8, "bars 5 to 8: hesitated for 0.9 s")


def test_takes_that_left_the_bar_out_dont_count_against_it() -> None:
    played = takes(4)
    bars = [one for one in went_over([t.folder for t in played]) if (one.take, one.bar) != ("take-1", 7)]
    (slip,) = recurring_slips(played, bars, [missed(0), missed(2), missed(3)], RULES)
    assert slip.made == (True, True, True)


def test_what_lies_farther_back_than_the_takes_looked_at_is_forgotten() -> None:
    assert not found([missed(0), missed(1), missed(2)], 3 + RULES.takes)


def test_whoever_slips_everywhere_has_no_place_where_it_recurs() -> None:
    """A fifth of all notes left out at random, in four takes: many places have two, and that says nothing."""
    chance = random.Random(3)
    slips = [missed(n, float(b)) for n in range(4) for b in range(4 * BARS) if chance.random() < 0.2]
    assert len({slip.beat for slip in slips}) < len(slips) - 8
    assert not found(slips)


@pytest.mark.parametrize("rate", [0.01, 0.03, 0.08])
def test_slips_at_random_are_seldom_said_to_recur(rate: float) -> None:
    """Over 60 tunes of four takes, each two times through, no more than the share that the preferences allow."""
    chance = random.Random(round(1000 * rate))
    told = 0
    for _ in range(60):
        slips = [
            missed(n, float(b), chorus=chorus)
            for n in range(4)
            for chorus in (1, 2)
            for b in range(4 * BARS)
            if chance.random() < rate
        ]
        told += len(found(slips, choruses=2))
    assert told <= 2 * 60 * RULES.by_chance


def test_a_slip_that_is_gone_from_the_last_takes_gets_rarer() -> None:
    (slip,) = found([missed(0), missed(1), missed(2)], 6)
    assert trend(slip.made) == "getting rarer" and slip.lately == 0
    (slip,) = found([missed(3), missed(4), missed(5)], 6)
    assert trend(slip.made) == "more often of late" and slip.lately == 1


def test_a_tune_in_another_key_has_its_slips_at_the_same_places() -> None:
    form = load(chart_path("ferry-without-lights")).unfold()
    fourth_up = replace(form, fifths=form.fifths - 1)
    here = Finding(7, 1, "missed-note", 1.0, "bar 7: A missed", beat=25.0, midi=69)
    there = replace(here, midi=74)
    (one,), (other,) = slips_of("a", form, [here]), slips_of("b", fourth_up, [there])
    assert one.degree == other.degree


def test_a_finding_has_how_often_it_was_there_and_one_at_a_new_place_has_not() -> None:
    form = load(chart_path("ferry-without-lights")).unfold()
    degree = (69 - 7 * form.fifths) % 12
    recurring = found([missed(n, degree=degree) for n in range(4)])
    again = Finding(7, 1, "missed-note", 1.0, "bar 7: A missed", beat=25.0, midi=69)
    new = replace(again, bar=8, beat=29.0)
    marked = with_recurrences([again, new], list(slips_of("take-3", form, [again, new])), recurring)
    assert [one.recurs for one in marked] == [Recurrence(4, 4), None]


# What is more than chance, by the binomial distribution: the figures are worked out by hand


@pytest.mark.parametrize(
    ("here", "elsewhere", "recurs"),
    [
        # Of 256 notes, four times each of 64: 64 · 6 · (2.5 / 253)² = 0.04 places have two by chance.
        (2, 2, True), (2, 3, False),
        (3, 14, True), (3, 15, False),  # 64 · 4 · (14.5 / 253)³ = 0.05
    ],
)  # fmt: skip
def test_notes_recur_where_chance_shows_as_much_at_one_place_in_twenty_tunes(
    here: int, elsewhere: int, recurs: bool
) -> None:
    others = [missed(n % 4, 32.0 + n) for n in range(elsewhere)]
    assert bool(found([*(missed(n) for n in range(here)), *others])) is recurs


@pytest.mark.parametrize(
    ("here", "elsewhere", "recurs"),
    [
        (2, 0, True), (2, 1, False),  # of 16 bars, gone through four times: 16 · 6 · (1.5 / 61)² = 0.06
        (3, 5, True), (3, 6, False),  # 16 · 4 · (5.5 / 61)³ = 0.05
    ],
)  # fmt: skip
def test_bars_recur_where_chance_shows_as_much_at_one_bar_in_twenty_tunes(
    here: int, elsewhere: int, recurs: bool
) -> None:
    others = [hesitated(n % 4, 4 + n) for n in range(elsewhere)]
    assert bool(found([*(hesitated(n, 3) for n in range(here)), *others])) is recurs


@pytest.mark.parametrize(
    ("notes", "here", "elsewhere", "expected"),
    [
        # Two bars, gone through four times: right, wrong and missing notes of each. Of 8 places of a note each has two
        # slips of four with P = 1 - (1 - q)⁴ - 4q(1 - q)³, where q = 3.5 / 29 at the others.
        ((1, 2, 1), 2, 3, 8 * (1 - (25.5 / 29) ** 4 - 4 * (3.5 / 29) * (25.5 / 29) ** 3)),
        ((1, 2, 1), 2, 0, 8 * (1 - (28.5 / 29) ** 4 - 4 * (0.5 / 29) * (28.5 / 29) ** 3)),
        ((1, 2, 1), 3, 3, 8 * (4 * (3.5 / 29) ** 3 * (25.5 / 29) + (3.5 / 29) ** 4)),
        ((1, 0, 0), 2, 1, 2 * (1 - (3.5 / 5) ** 4 - 4 * (1.5 / 5) * (3.5 / 5) ** 3)),
        ((0, 0, 0), 3, 0, 1 * (4 * 0.5**3 * 0.5 + 0.5**4)),  # no more notes than times through: 4 · 2 / 8 places
        ((0, 0, 0), 2, 3, 1.0),  # more slips elsewhere than notes: each has one
    ],
)
def test_how_many_places_would_show_as_many_slips_by_chance(
    notes: tuple[int, int, int], here: int, elsewhere: int, expected: float
) -> None:
    """The binomial tail times the number of places; one place is taken out of those that the rate is told from."""
    played = takes(4)
    right, wrong, missing = notes
    bars = [
        replace(bar, right=right, wrong=wrong, missing=missing)
        for bar in went_over([take.folder for take in played])
        if bar.bar <= 2
    ]
    slips = [*(missed(n, 1.0) for n in range(here)), *(missed(n, 5.0 + n) for n in range(elsewhere))]
    for allowed, recurs in ((1.001 * expected, True), (0.999 * expected, False)):
        told = recurring_slips(played, bars, slips, replace(RULES, by_chance=allowed))
        assert [one.bar for one in told] == ([1] if recurs else [])


@pytest.mark.parametrize(
    ("passes", "expected"),
    [
        (0, 0.0),  # no bar was judged, so that there is no place
        (1, 2 * (0.5 / 1) ** 2),  # two places, gone through once; both takes have it
    ],
)
def test_where_hardly_a_bar_was_judged_the_slips_tell_how_often_it_was_gone_through(
    passes: int, expected: float
) -> None:
    played = takes(2)
    bars = [replace(bar, right=0) for bar in went_over(["take-0"])[:passes]]
    slips = [missed(0, 1.0), missed(1, 1.0)]
    assert recurring_slips(played, bars, slips, replace(RULES, by_chance=1.001 * expected))
    assert not recurring_slips(played, bars, slips, replace(RULES, by_chance=0.999 * expected - 1e-9))


def test_one_take_may_be_enough() -> None:
    (take,) = played = takes(1)
    rules = replace(RULES, earlier=1, by_chance=99.0)
    (slip,) = recurring_slips(played, went_over(["take-0"]), [missed(0)], rules)
    assert (slip.you, slip.at, slip.made) == (take.you, take.started, (True,))


def test_the_notes_of_a_bar_are_all_that_were_asked_for_in_it() -> None:
    """As many wrong and missing as right: the same as if all were right."""
    played = takes(4)
    halves = [
        replace(bar, right=0, wrong=1, missing=3) if bar.bar % 2 else bar
        for bar in went_over([take.folder for take in played])
    ]
    for elsewhere, recurs in ((2, True), (3, False)):
        slips = [missed(0), missed(1), *(missed(n % 4, 32.0 + n) for n in range(elsewhere))]
        assert bool(recurring_slips(played, halves, slips, RULES)) is recurs


def test_two_times_through_a_take_count_as_two_but_a_take_has_a_slip_once() -> None:
    slips = [missed(n, chorus=chorus) for n in range(3) for chorus in (1, 2)]
    (slip,) = found(slips, choruses=2)
    assert (slip.times, slip.takes, slip.made) == (3, 4, (True, True, True, False))
    assert not found([missed(0, chorus=1), missed(0, chorus=2)], choruses=2), "one take alone may have been chance"


@pytest.mark.parametrize(("takes_looked_at", "times"), [(0, None), (3, None), (4, 2), (5, 3), (8, 3)])
def test_the_latest_takes_count_and_none_where_none_is_asked_for(takes_looked_at: int, times: int | None) -> None:
    played = takes(6)
    bars = went_over([take.folder for take in played])
    slips = [missed(1), missed(2), missed(3)]
    found_ = recurring_slips(played, bars, slips, replace(RULES, takes=takes_looked_at))
    assert [slip.times for slip in found_] == ([times] if times else [])


@pytest.mark.parametrize(
    ("slip", "places"),
    [
        (missed(0, 25.0), [("note", 25.0, 4)]),
        (missed(0, 25.0, what="wrong-note"), [("note", 25.0, 4)]),
        (missed(0, 25.0, what="extra-note"), [("extra-note", 7.0, 4)]),
        (hesitated(0, 5, 7), [("hesitated", 5.0, -1), ("hesitated", 6.0, -1), ("hesitated", 7.0, -1)]),
        (missed(0, 25.0, degree=0), [("note", 25.0, 0)]),
        (replace(hesitated(0, 5), beat=16.0), [("hesitated", 5.0, -1)]),
    ],
)
def test_the_place_of_a_slip(slip: SlipRecord, places: list[tuple[str, float, int]]) -> None:
    assert slip_places(slip) == places


def test_findings_are_recorded_by_degree_beat_and_bars() -> None:
    """In G (one sharp) B is the third degree's pitch, four semitones above."""
    in_g = replace(load(chart_path("ferry-without-lights")).unfold(), fifths=1)
    findings = [
        Finding(7, 2, "wrong-note", 1.0, "bar 7: C, not B", beat=25.33333, midi=71),
        Finding(5, 1, "swing", 1.0, "bars 5 to 8: even quavers", 8),
    ]
    assert list(slips_of("a", in_g, findings)) == [
        SlipRecord("a", 7, 7, 2, "wrong-note", 25.333, 4, "bar 7: C, not B"),
        SlipRecord("a", 5, 8, 1, "swing", None, None, "bars 5 to 8: even quavers"),
    ]


@pytest.mark.parametrize(
    ("bar", "last", "recurs"), [(4, None, None), (5, None, 3), (8, None, 3), (9, None, None), (3, 5, 3), (1, 3, None)]
)
def test_a_finding_in_a_bar_of_a_stretch_that_recurs_recurs(bar: int, last: int | None, recurs: int | None) -> None:
    form = load(chart_path("ferry-without-lights")).unfold()
    recurring = found([hesitated(n, 5, 8) for n in range(3)], 3)
    one = Finding(bar, 1, "hesitated", 0.9, f"bar {bar}: hesitated for 0.9 s", last)
    (marked,) = with_recurrences([one], list(slips_of("take-2", form, [one])), recurring)
    assert marked.recurs == (Recurrence(3, 3) if recurs else None)
    other = replace(one, what="rushed")
    assert with_recurrences([other], list(slips_of("take-2", form, [other])), recurring)[0].recurs is None


def test_of_several_slips_at_a_place_the_most_frequent_is_told_and_what_is_gone_is_not() -> None:
    form = load(chart_path("ferry-without-lights")).unfold()
    (often,) = found([hesitated(n, 5) for n in range(4)])
    (gone,) = found([hesitated(n, 6) for n in range(3)])
    one = Finding(5, 1, "hesitated", 0.9, "bars 5 to 6: hesitated", 6)
    slips = list(slips_of("take-3", form, [one]))
    assert with_recurrences([one], slips, [replace(often, made=(True, True, False, True)), often])[0].recurs == (
        Recurrence(4, 4)
    )
    assert with_recurrences([one], slips, [gone])[0].recurs is None, "it wasn't made this time"


def test_slips_come_by_their_bars_and_only_the_same_slip_in_the_next_bar_is_one_with_it() -> None:
    dragged = [replace(one, what="dragged") for n in range(3) for one in (hesitated(n, 9), hesitated(n, 11))]
    slips = [*(hesitated(n, 10) for n in range(3)), *dragged, *(hesitated(n, 3, 4) for n in range(3))]
    assert [(one.what, one.bar, one.last) for one in recurring_slips(
        takes(3), went_over([f"take-{n}" for n in range(3)], 4), slips, replace(RULES, by_chance=9.0)
    )] == [("hesitated", 3, 4), ("dragged", 9, 9), ("hesitated", 10, 10), ("dragged", 11, 11)]  # fmt: skip


def recurring_at_any_rate(slips: list[SlipRecord], many: int = 3) -> list[RecurringSlip]:
    played = takes(many)
    return recurring_slips(played, went_over([one.folder for one in played]), slips, replace(RULES, by_chance=99.0))


def test_the_same_note_missed_in_two_bars_running_is_two_slips_in_order_of_beats() -> None:
    """Two notes of the key's degree; and in one bar a high note before a low one."""
    tonics = [missed(n, beat, degree=0) for n in range(3) for beat in (28.0, 24.0)]
    tonics = [replace(one, text=f"bar {one.bar}: F missed") for one in tonics]
    falling = [missed(n, beat, degree=degree) for n in range(3) for beat, degree in ((10.0, 2), (9.0, 9))]
    told = recurring_at_any_rate([*falling, *tonics])
    assert [(one.bar, one.last, one.place[1]) for one in told] == [
        (3, 3, 9.0),
        (3, 3, 10.0),
        (7, 7, 24.0),
        (8, 8, 28.0),
    ]


@pytest.mark.parametrize("other", [hesitated(0, 6), replace(hesitated(2, 6), text="bar 6: hesitated for 2.0 s")])
def test_bars_running_with_a_slip_in_other_takes_or_of_another_size_are_two_slips(other: SlipRecord) -> None:
    told = recurring_at_any_rate([*(hesitated(n, 5) for n in (1, 2)), hesitated(1, 6), other])
    assert [(one.bar, one.last) for one in told] == [(5, 5), (6, 6)]


def test_slips_of_several_kinds_over_the_same_bars_are_each_one_and_notes_come_first() -> None:
    dragged = [replace(hesitated(n, 1, 2), what="dragged") for n in range(3)]
    extra = [missed(n, 1.0, what="extra-note", degree=0) for n in range(3)]
    told = recurring_at_any_rate(
        [*dragged, *(hesitated(n, 1, 2) for n in range(3)), *(missed(n, 1.0) for n in range(3)), *extra]
    )
    assert [(one.what, one.bar, one.last) for one in told] == [
        ("missed-note", 1, 1), ("extra-note", 1, 1), ("dragged", 1, 2), ("hesitated", 1, 2),
    ]  # fmt: skip


@pytest.mark.parametrize("degree", [0, 4])
def test_a_recurring_note_is_known_by_its_beat_whatever_its_degree(degree: int) -> None:
    recurring = found([missed(n, degree=degree) for n in range(4)])
    again, beside = missed(3, degree=degree), missed(3, 26.0, degree=degree)
    findings = [Finding(7, 1, "missed-note", 1.0, "bar 7: A missed") for _ in range(2)]
    assert [one.recurs for one in with_recurrences(findings, [again, beside], recurring)] == [Recurrence(4, 4), None]


@pytest.mark.parametrize(
    ("times", "of", "same", "words"),
    [
        (3, 4, True, "the third time in four takes"), (3, 3, True, "in each of three takes"),
        (3, 3, False, "not right for the third time in three takes"),
        (12, 13, True, "the twelfth time in 13 takes"), (13, 14, True, "the 13th time in 14 takes"),
        (12, 12, True, "in each of twelve takes"), (1, 2, True, "the first time in two takes"),
    ],
)  # fmt: skip
def test_how_often_is_said_in_words(times: int, of: int, same: bool, words: str) -> None:
    assert recurs_words(Recurrence(times, of, same)) == words


@pytest.mark.parametrize(
    ("made", "lately", "before"),
    [
        ("110", 2 / 3, "in two of three takes"), ("111", 1.0, "in each of three takes"),
        ("11000", 0.0, "in two of five takes"), ("00100", 1 / 3, "in one of five takes"),
        ("01", 0.5, "in one of two takes"),
    ],
)  # fmt: skip
def test_how_often_lately_and_before(made: str, lately: float, before: str) -> None:
    slip = replace(found([missed(n) for n in range(3)])[0], made=tuple(one == "1" for one in made))
    assert slip.lately == pytest.approx(lately) and before_words(slip) == before


@pytest.mark.parametrize(
    ("made", "said"),
    [
        ("111000", "getting rarer"), ("000111", "more often of late"),  # 1 in 20
        ("1100", ""), ("0011", ""),  # 1 in 6
        ("11110001", "getting rarer"), ("10001111", "more often of late"), ("11100000", "getting rarer"),  # 4 in 56
        ("11000000", ""),  # 6 in 28
        ("1110000000000000", "getting rarer"), ("0000000000000111", "more often of late"),  # 56 in 560, one in ten
        ("1111000001", ""),  # 26 in 252, hardly more
        ("1110000", "getting rarer"), ("0001000", ""), ("1", ""), ("", ""),
    ],
)  # fmt: skip
def test_a_trend_is_told_by_fishers_exact_test(made: str, said: str) -> None:
    """R. A. Fisher, J. Royal Statistical Society 85, 1922: the hypergeometric tail."""
    assert trend([one == "1" for one in made]) == said


def test_a_slip_has_the_parts_and_the_moment_of_the_last_of_the_takes() -> None:
    both = ("melody", "bass")
    played = [replace(take, you=both if take.folder == "take-3" else both[::-1]) for take in takes(4)]
    bars = went_over([take.folder for take in played])
    (slip,) = recurring_slips(played, bars, [missed(0), missed(1), missed(2)], RULES)
    assert (slip.at, slip.you) == (played[-1].started, played[-1].you)
    assert slip.at != played[-2].started
