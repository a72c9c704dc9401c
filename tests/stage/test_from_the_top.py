"""A tune begun again by the player, faster and slower: in time, with nothing left sounding, the same in any cutting.

The pianist plays exactly in time; 70 ms as in mir_eval's ``beat.f_measure``.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import pytest

from companion.messages import Beat, Heard, Order, State, Wish
from companion.stage.from_the_top import BREATH, FromTheTop, usable_wishes
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings

START, TEMPO = 5.0, 120.0
COUNTED = Settings(tempo=TEMPO, start=START, count_in=1, order="open")
STEADY = Settings(tempo=TEMPO, start=START, count_in=1, order="open", time="steady")
BAR = 4 * 60 / TEMPO


def beats(recording: Recording, since: float = 0.0) -> list[Beat]:
    return [r for r in recording.reports if isinstance(r, Beat) and r.seconds >= since]


def states(recording: Recording) -> list[str]:
    return [name for name, _ in itertools.groupby(r.name for r in recording.reports if isinstance(r, State))]


def left_on(recording: Recording) -> set[tuple[str, int]]:
    on: set[tuple[str, int]] = set()
    for order in sorted(recording.orders, key=lambda o: (o.seconds, o.status)):
        on = on | {(order.part, order.data1)} if order.status == 0x90 else on - {(order.part, order.data1)}
    return on


def until(recording: Recording, moment: float) -> Recording:
    return Recording((), tuple(o for o in recording.orders if o.seconds <= moment), ())


@pytest.fixture
def asked_again(stand: Any) -> tuple[Recording, float]:
    """Again in bar 4; the player begins with the new count-in. And when beat 0 is due then."""
    chart, asked = stand.tune(), START + 14.3 * 0.5
    zero = asked + BREATH + BAR
    first = [h for h in stand.melody(chart, (START, 0, 64, TEMPO)) if h.seconds < asked]
    second = stand.melody(chart, (zero, 0, 64, TEMPO))
    return replay(chart, [*first, Wish(asked, "again"), *second], COUNTED, until=zero + 30), zero


def test_again_counts_in_and_begins_from_the_top_in_time(asked_again: tuple[Recording, float]) -> None:
    recording, zero = asked_again
    counting = [r.seconds for r in recording.reports if isinstance(r, State) and r.name == "counting"]
    assert counting[-4:] == pytest.approx([zero - BAR + n * 0.5 for n in range(4)], abs=0.02)
    said = beats(recording, zero - 0.1)
    assert [b.chart_beat for b in said[:8]] == list(range(8)) and said[0].chorus == 1
    assert all(abs(b.seconds - (zero + b.chart_beat * 0.5)) < 0.07 for b in said[:56])
    assert "ended" not in states(recording)[:-1]


def test_again_leaves_nothing_sounding_before_the_new_count(asked_again: tuple[Recording, float]) -> None:
    recording, zero = asked_again
    assert not left_on(until(recording, zero - BAR - 0.5))
    assert left_on(until(recording, zero - BAR - BREATH - 0.05)), "before that something sounded"


def test_uncounted_it_waits_for_the_player_again(stand: Any) -> None:
    chart, settings = stand.tune(), Settings(tempo=TEMPO, order="open")
    first = stand.melody(chart, (1.0, 0, 16, TEMPO))
    second = stand.melody(chart, (14.0, 0, 32, TEMPO))
    recording = replay(chart, [*first, Wish(10.0, "again"), *second], settings, until=29)
    assert states(recording).count("waiting") == 1
    said = beats(recording, 14.0)
    assert said and said[0].seconds < 14.0 + 2 * BAR and said[0].chorus == 1
    assert all(abs(b.seconds - (14.0 + b.chart_beat * 0.5)) < 0.07 for b in said)


def test_again_before_the_first_beat_begins_the_count_anew(stand: Any) -> None:
    chart, asked = stand.tune(), START - 1.0
    zero = asked + BREATH + BAR
    recording = replay(chart, [Wish(asked, "again"), *stand.melody(chart, (zero, 0, 32, TEMPO))], COUNTED)
    assert [b.chart_beat for b in beats(recording)][:4] == [0, 1, 2, 3]
    assert beats(recording)[0].seconds == pytest.approx(zero, abs=0.03)


def test_again_after_the_end_changes_nothing(stand: Any) -> None:
    chart = stand.tune()
    recording = replay(chart, [Wish(START, "stop"), Wish(START + 1, "again")], COUNTED, until=START + 10)
    assert states(recording)[-1] == "ended" and not beats(recording, START + 1)


@pytest.mark.parametrize(("wish", "factor"), [("faster", 1.05), ("slower", 1 / 1.05)])
def test_in_steady_time_the_tempo_changes_by_a_step_from_that_moment(stand: Any, wish: Any, factor: float) -> None:
    chart, asked = stand.tune(), START + 16.2 * 0.5
    recording = replay(chart, [Wish(asked, wish)], STEADY, until=START + 28)
    order = {b.chart_beat: b.seconds for b in beats(recording) if b.chorus == 1}
    assert order[16] == pytest.approx(START + 8, abs=0.02)
    for beat in range(18, 40):
        assert order[beat] == pytest.approx(asked + (beat - 16.2) * 0.5 / factor, abs=0.02)


@pytest.mark.parametrize("told", [TEMPO, None], ids=["told", "the chart's"])
def test_faster_in_the_count_in_counts_anew_at_that_tempo(stand: Any, told: float | None) -> None:
    chart, asked = stand.tune(tempo=TEMPO), START - 0.7
    recording = replay(chart, [Wish(asked, "faster")], replace(STEADY, tempo=told), until=START + 10)
    zero = asked + BREATH + BAR / 1.05
    assert [b.seconds for b in beats(recording)[:4]] == pytest.approx(
        [zero + n * 0.5 / 1.05 for n in range(4)], abs=0.02
    )


def test_whoever_is_followed_makes_the_tempo(stand: Any) -> None:
    chart = stand.tune()
    heard = stand.melody(chart, (START, 0, 32, TEMPO))
    asked = sorted([*heard, Wish(START + 6, "faster")], key=lambda e: e.seconds)
    assert replay(chart, asked, COUNTED).reports == replay(chart, heard, COUNTED).reports
    assert not {"faster", "slower"} & set(usable_wishes(COUNTED)) and {"faster", "slower"} < set(usable_wishes(STEADY))


def test_the_last_time_can_be_told_where_there_is_one() -> None:
    assert "last time" in usable_wishes(COUNTED) and "last time" not in usable_wishes(Settings(order="form"))


def test_in_one_advance_or_in_many_it_is_the_same(stand: Any) -> None:
    chart = stand.tune()
    wishes = [Wish(START + 3.1, "faster"), Wish(START + 5.2, "again"), Wish(START + 12.7, "slower")]
    heard = [h for h in stand.melody(chart, (START, 0, 32, TEMPO)) if h.seconds < START + 15]
    events: list[Heard | Wish] = sorted([*heard, *wishes], key=lambda e: e.seconds)
    for settings in (STEADY, COUNTED):
        one, many = FromTheTop(chart, settings), FromTheTop(chart, settings)
        whole = one.advance(START + 20, events)
        orders, reports = list[Order](), list[Any]()
        for n in range(1, 2500):
            moment = n * (START + 20) / 2499
            step = many.advance(moment, [e for e in events if moment - (START + 20) / 2499 < e.seconds <= moment])
            orders, reports = orders + list(step.orders), reports + list(step.reports)
        assert tuple(orders) == whole.orders and tuple(reports) == whole.reports


def test_what_was_prepared_for_the_beginning_before_is_not_taken(stand: Any) -> None:
    rehearsal = FromTheTop(stand.tune(), COUNTED)
    late = rehearsal.prepare(2)()
    rehearsal.advance(START, [Wish(START - 1, "again")])
    arranged = vars(rehearsal._rehearsal.band)["_arranged"]
    before = dict(arranged)
    rehearsal.adopt(late)
    assert arranged == before
    rehearsal.adopt(rehearsal.prepare(2)())
    assert len(arranged) > len(before)
    step = rehearsal.advance(START + 20, [])
    assert any(isinstance(r, Beat) for r in step.reports)


def test_what_comes_next_can_be_wished_where_something_follows_and_ends_the_tune(stand: Any) -> None:
    assert "next" not in usable_wishes(COUNTED)
    assert "next" in usable_wishes(COUNTED, next_follows=True)
    chart, asked = stand.tune(), START + 14.3 * 0.5
    melody = [h for h in stand.melody(chart, (START, 0, 64, TEMPO)) if h.seconds < asked]
    recording = replay(chart, [*melody, Wish(asked, "next")], COUNTED, until=asked + 10)
    assert states(recording)[-1] == "ended" and not left_on(recording)
    assert not beats(recording, asked + 0.1)


@pytest.mark.parametrize("bars", [1, 2])
def test_the_new_count_begins_a_second_and_a_half_after_the_wish_however_long_it_is(stand: Any, bars: int) -> None:
    """Time for the hand to go back to its keys."""
    step = FromTheTop(stand.tune(), replace(COUNTED, count_in=bars, start=9.0)).advance(20.0, [Wish(3.0, "again")])
    clicks = [o.seconds for o in step.orders if o.part == "click" and o.status == 0x90]
    assert clicks == pytest.approx([4.5 + n * 0.5 for n in range(4 * bars)])
    first = next(r for r in step.reports if isinstance(r, Beat))
    assert first.seconds == pytest.approx(4.5 + bars * BAR) and first.chart_beat == 0


@pytest.mark.parametrize(
    ("time", "wish", "told"),
    [
        ("steady", "faster", [120, 126]), ("steady", "slower", [120, 120 / 1.05]), ("steady", "again", [120, 120]),
        ("follow", "faster", [120]), ("follow", "slower", [120]), ("follow", "again", [120, 120]),
    ],
)  # fmt: skip
def test_while_it_waits_a_step_of_the_tempo_is_taken_where_the_companion_keeps_the_time(
    stand: Any, time: str, wish: Any, told: list[float]
) -> None:
    rehearsal = FromTheTop(stand.tune(), Settings(tempo=TEMPO, order="open", time=time))
    rehearsal.advance(3.0, [Wish(2.0, wish)])
    assert rehearsal.settings.tempo == pytest.approx(told[-1]) and rehearsal.settings.start is None
    assert rehearsal._time == len(told), "how often it has begun"


def test_a_treatment_can_be_prepared_for_a_section_that_there_is(stand: Any) -> None:
    chart = stand.tune()
    rehearsal, section = FromTheTop(chart, COUNTED), chart.unfold().sections[0].name
    assert rehearsal.prepare_treatment(Wish(1.0, "treatment", (section, "walking"))) is not None
    assert rehearsal.prepare_treatment(Wish(1.0, "treatment", ("no such section", "walking"))) is None
