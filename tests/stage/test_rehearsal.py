"""The rehearsal as clockwork: whatever is played, and however it is driven, what comes out is whole and in time.

The promises are the project's own (what `companion replay` may be relied on for); values are from the MIDI 1.0
specification where they are named.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.chart.model import Chart, Section
from companion.chart.model import Event as TuneEvent
from companion.errors import ChartError, UseError
from companion.follow.lead import Lead
from companion.messages import Beat, Belief, Heard, Order, Report, State, Wish
from companion.stage.rehearsal import Rehearsal
from companion.stage.replay import replay
from companion.stage.settings import ORDERS, TIMES, Settings

Event = Heard | Wish
ROLES = ("melody", "chords", "bass", "solo", "melody,chords", "bass,solo", "melody,chords,bass")
PARTS = ("melody", "chords", "bass")


def agreed(role: str, time: str = "follow", **more: Any) -> Settings:
    """Who plays what: the companion has the rest, and the click where there is none."""
    you = frozenset(role.split(","))
    rest = tuple(p for p in PARTS if p not in you and not (p == "melody" and "solo" in you))
    return Settings(you=you, parts=rest or ("click",), time=time, **more)


def on_the_stand(stand: Any, order: str) -> Chart:
    """The tune; where there is an order of events, a short one, so that some seconds go through much of it."""
    if order != "chart":
        return stand.tune() if order == "form" else stand.chart(stand.TEN)
    events = (
        TuneEvent("introduction", how="last", bars=1),
        TuneEvent("head"),
        TuneEvent("solos", 2, "solos"),
        TuneEvent("head"),
        TuneEvent("ending", how="tag", bars=1),
    )
    return replace(stand.chart(("| Dm7 G7 | C6 |", "G,A, | D2 F2 A2 c2 | e3 d B2 z2 |"), tempo=240), events=events)


def drive(rehearsal: Rehearsal, events: Sequence[Event], moments: Sequence[float]) -> tuple[list[Order], list[Report]]:
    """Call the rehearsal at these moments, each time with what came since the last."""
    orders: list[Order] = []
    reports: list[Report] = []
    at = 0
    for moment in moments:
        upto = next((n for n in range(at, len(events)) if events[n].seconds > moment), len(events))
        step = rehearsal.advance(moment, events[at:upto])
        orders += step.orders
        reports += step.reports
        at = upto
    step = rehearsal.finish(moments[-1])
    return orders + list(step.orders), reports + list(step.reports)


def drive_as_live(rehearsal: Rehearsal, events: Sequence[Event], end: float) -> list[tuple[float, Order]]:
    """Call it when it asks to be called and when something is heard; each order with the moment of its giving."""
    given: list[tuple[float, Order]] = []
    wake: float | None = rehearsal.advance(-10.0, []).wake
    waiting = list(events)
    for _ in range(20_000):
        moment = min(waiting[0].seconds if waiting else end, end if wake is None else wake)
        heard = [waiting.pop(0)] if waiting and waiting[0].seconds <= moment else []
        step = rehearsal.advance(moment, heard)
        given += [(moment, order) for order in step.orders]
        wake = step.wake
        if moment >= end:
            return given + [(end, order) for order in rehearsal.finish(end).orders]
    raise AssertionError("it asks to be called over and over, and time stands still")


@st.composite
def performances(draw: st.DrawFn, most: float = 9.0) -> tuple[list[Event], float]:
    """Some bars of the tune from anywhere, at any tempo, with stops, leaps, slips and a foot on the pedal."""
    import random

    dice = random.Random(draw(st.integers(0, 10**6)))
    pitches = [60, 64, 67, 69, 71, 72, 74, 76, 65, 77, 79]
    tells = draw(st.sampled_from([0, 1, 20]))
    events: list[Event] = []
    at, beat = draw(st.sampled_from([0.0, 2.0, 2.0])), dice.choice([0, 0, 0, 16, 32])
    speed = draw(st.sampled_from([0.7, 2.0, 2.0, 5.0]))
    while at < most:
        kind = dice.choices(
            ["on", "wrong", "chord", "gap", "pedal", "off", "zero"], [12, 2, 2, 1, 1 + tells / 5, 2, 1]
        )[0]
        if dice.randrange(40) < tells / 10:
            events.append(Heard(at, 0x90, 21, 64))  # the key that tells the last time
        pitch = pitches[beat % len(pitches)] if kind != "wrong" else dice.randrange(21, 109)
        if kind in ("on", "wrong", "chord"):
            for step in (0, 4, 7) if kind == "chord" else (0,):
                events.append(Heard(at, 0x90, min(pitch + step, 127), dice.randrange(1, 128)))
        elif kind == "pedal":
            events.append(Heard(at, 0xB0, dice.choice([64, 67]), dice.choice([0, 127])))
        elif kind in ("off", "zero"):
            events.append(Heard(at, 0x80 if kind == "off" else 0x90, pitch, 0))
        at += 3.0 if kind == "gap" else dice.choice([0.0, 0.5, 0.5, 1.0, 1.0, 2.0, dice.random()]) / speed
        beat += 1
    if draw(st.booleans()):
        events.append(Wish(at, "stop"))
    return events, at + draw(st.sampled_from([0.0, 1.0, 6.0]))


played = given(
    performance=performances(),
    role=st.sampled_from(ROLES),
    time=st.sampled_from(TIMES),
    order=st.sampled_from(ORDERS),
    count_in=st.sampled_from(
        [{}, {"tempo": 120.0}, {"tempo": 120.0, "start": 2.0}, {"tempo": 120.0, "start": 2.0, "count_in": 1}]
    ),
    latency=st.sampled_from([0.0, 0.010, 0.060]),
)


def paired(orders: Sequence[Order]) -> None:
    """Every note-on has its note-off after it, and no note is begun twice; in order of sounding, then of giving."""
    on: dict[tuple[str, int], float] = {}
    for order in sorted(orders, key=lambda o: o.seconds):
        key = order.part, order.data1
        if order.status == 0x90:
            assert key not in on, f"{key} struck again at {order.seconds} while it sounds"
            on[key] = order.seconds
        elif order.status == 0x80:
            assert on.pop(key, None) is not None, f"{key} ended at {order.seconds} without having begun"
    assert not on, f"left sounding: {on}"


@settings(max_examples=10)
@played
def test_one_call_or_many_give_the_same(
    stand: Any, performance: tuple[list[Event], float], role: str, time: str, order: str, count_in: Any, latency: float
) -> None:
    events, end = performance
    chart, told = on_the_stand(stand, order), agreed(role, time, order=order, latency=latency, **count_in)
    at_once = drive(Rehearsal(chart, told), events, [end])
    every_event = drive(Rehearsal(chart, told), events, [*(e.seconds for e in events), end])
    odd = [n * 0.0371 for n in range(int(end / 0.0371) + 1)]
    assert at_once == every_event == drive(Rehearsal(chart, told), events, [*odd, end])


@settings(max_examples=10)
@played
def test_called_when_it_asks_it_gives_every_order_at_its_moment(
    stand: Any, performance: tuple[list[Event], float], role: str, time: str, order: str, count_in: Any, latency: float
) -> None:
    events, end = performance
    chart, told = on_the_stand(stand, order), agreed(role, time, order=order, latency=latency, **count_in)
    given_at = drive_as_live(Rehearsal(chart, told), events, end)
    assert [order for _, order in given_at] == drive(Rehearsal(chart, told), events, [end])[0]
    early = [(now, order) for now, order in given_at if order.seconds < now + latency - 2e-6]
    assert not early, "an order can't sound sooner than the sound chain takes"
    late = [(now, o) for now, o in given_at if o.status == 0x90 and o.seconds > now + latency + 2e-6]
    assert not late, "a note ordered ahead of its moment can't go with the player any more"


@settings(max_examples=15)
@played
def test_every_note_begun_is_ended_and_beats_never_run_backwards(
    stand: Any, performance: tuple[list[Event], float], role: str, time: str, order: str, count_in: Any, latency: float
) -> None:
    events, end = performance
    chart, told = on_the_stand(stand, order), agreed(role, time, order=order, latency=latency, **count_in)
    orders, reports = drive(Rehearsal(chart, told), events, [end])
    paired(orders)
    assert all(o.seconds <= end + latency + 1e-9 for o in orders)
    beats = [r for r in reports if isinstance(r, Beat)]
    assert all(a.seconds <= b.seconds for a, b in itertools.pairwise(beats))
    length = float(chart.unfold().length)
    for b in beats:
        low, high = {"introduction": (-4, 0), "ending": (length, length + 9)}.get(b.event, (0, length))
        assert 0 <= b.sure <= 1 and low <= b.chart_beat < high and b.chart_beat % 1 == 0
    assert all(1 <= o.data2 <= 127 for o in orders if o.status == 0x90)


@settings(max_examples=12)
@given(
    performance=performances(),
    role=st.sampled_from(ROLES),
    time=st.sampled_from(TIMES),
    order=st.sampled_from(ORDERS),
    cut=st.floats(0.1, 0.9),
)
def test_nothing_is_played_or_announced_for_what_comes_later(
    stand: Any, performance: tuple[list[Event], float], role: str, time: str, order: str, cut: float
) -> None:
    events, end = performance
    heard = [e for e in events if isinstance(e, Heard)]
    chart, told, until = on_the_stand(stand, order), agreed(role, time, order=order, tempo=120.0, start=2.0), cut * end
    whole, part = replay(chart, heard, told, until=end), replay(chart, heard, told, until=until)
    assert [o for o in whole.orders if o.seconds <= until] == [o for o in part.orders if o.seconds <= until]
    beats = [[r for r in one.reports if isinstance(r, Beat) and r.seconds <= until] for one in (whole, part)]
    assert beats[0] == beats[1]


def test_a_chorus_arranged_ahead_of_time_changes_nothing(stand: Any) -> None:
    chart = stand.tune()
    heard = stand.melody(chart, (2.0, 0, 80, 200))
    told = agreed("melody", tempo=200.0, start=2.0)
    plain, ahead = Rehearsal(chart, told), Rehearsal(chart, told)
    for chorus in (1, 2, 3):
        ahead.adopt(ahead.prepare(chorus)())
    assert drive(plain, heard, [28.0]) == drive(ahead, heard, [28.0])


def test_what_is_worked_out_ahead_touches_nothing_until_it_is_handed_back(stand: Any) -> None:
    rehearsal = Rehearsal(stand.tune(), agreed("melody", tempo=200.0, start=2.0))
    rehearsal.advance(2.5, [])
    arranged, listened = vars(rehearsal.band)["_arranged"], vars(rehearsal.ears)["_ears"]
    before = dict(arranged), dict(listened)
    prepared = rehearsal.prepare(7)()
    assert (arranged, listened) == before and prepared.parts and not prepared.parts.keys() & arranged.keys()
    rehearsal.adopt(prepared)
    assert arranged == before[0] | prepared.parts


def test_a_wished_treatment_is_worked_out_for_the_chorus_that_is_on_and_the_next(stand: Any) -> None:
    rehearsal = Rehearsal(stand.tune(), agreed("melody", tempo=200.0, start=2.0))
    assert rehearsal.treatments == ()
    for value in (("C", "walking"), ("A", "no such way"), ("A",), None):
        assert rehearsal.prepare_treatment(Wish(1.0, "treatment", value)) is None  # type: ignore[arg-type]
    work = rehearsal.prepare_treatment(Wish(1.0, "treatment", ("A", "walking")))
    assert work is not None
    prepared = work()
    assert {asked.stretch.chorus for asked in prepared.parts} == {1, 2} and prepared.ears is None
    rehearsal.treat((("A", "walking"),))
    assert rehearsal.treatments == (("A", "walking"),)


def test_there_is_never_a_second_way_to_listen_for_the_same(stand: Any) -> None:
    """What the rehearsal had to make itself, because it was needed before it was prepared, stays the one there is."""
    chart = stand.tune()
    solos = replace(chart, events=(TuneEvent("head"), TuneEvent("solos"), TuneEvent("head")))
    rehearsal = Rehearsal(solos, agreed("melody", order="chart", tempo=200.0, start=2.0))
    ears = rehearsal.ears
    late = rehearsal.prepare(2)()
    stretch = rehearsal.tune.plan[1]
    here = vars(type(ears))["_of"](ears, stretch)
    rehearsal.adopt(late)
    assert vars(type(ears))["_of"](ears, stretch) is here


def test_after_an_advance_that_failed_what_sounds_is_ended(
    stand: Any, break_from: Callable[[int, Exception], None]
) -> None:
    break_from(3, ZeroDivisionError("a bar without beats"))
    chart = stand.tune()
    rehearsal = Rehearsal(chart, agreed("melody", tempo=120.0, start=0.0))
    orders: list[Order] = []
    with pytest.raises(ZeroDivisionError):
        for event in stand.melody(chart, (0.0, 0, 192, 120)):
            orders += rehearsal.advance(event.seconds, [event]).orders
    assert rehearsal.now > 30.0, "the first chorus is over"
    orders += rehearsal.finish(rehearsal.now + 5.0).orders
    paired(orders)
    assert len(orders) > 100


def test_an_unknown_time_is_refused_in_one_line(stand: Any) -> None:
    with pytest.raises(UseError, match="follow, steady, patient"):
        Rehearsal(stand.tune(), Settings(time="rubato"))


def test_after_the_wish_to_stop_nothing_sounds_whatever_is_played(stand: Any) -> None:
    chart = stand.tune()
    heard = stand.melody(chart, (2.0, 0, 64, 120))
    events = sorted([*heard, Wish(10.0, "stop")], key=lambda e: e.seconds)
    orders, reports = drive(Rehearsal(chart, agreed("melody", tempo=120.0, start=2.0)), events, [30.0])
    paired(orders)
    assert any(o.seconds > 9.0 for o in orders) and not [o for o in orders if o.seconds > 10.0 + 0.011]
    assert [r.name for r in reports if isinstance(r, State)][-1] == "ended"
    assert not [r for r in reports if isinstance(r, Beat) and r.seconds > 10.02]


def test_finishing_twice_ends_things_once(stand: Any) -> None:
    rehearsal = Rehearsal(stand.tune(), agreed("melody", tempo=120.0, start=0.0))
    first = rehearsal.advance(1.3, [])
    ends = rehearsal.finish(1.3)
    again = rehearsal.finish(1.4)
    paired([*first.orders, *ends.orders])
    assert ends.orders and not again.orders and not again.reports and again.wake is None


@pytest.mark.parametrize("bars", [1, 2])
def test_the_count_in_clicks_every_beat_and_the_first_of_the_bar_is_higher(stand: Any, bars: int) -> None:
    told = agreed("melody", tempo=90.0, start=6.0, count_in=bars)
    orders, reports = drive(Rehearsal(stand.tune(), told), [], [5.98])
    clicks = [o for o in orders if o.part == "click" and o.status == 0x90]
    times = [6.0 - k * 60 / 90 for k in range(4 * bars, 0, -1)]
    assert [c.seconds for c in clicks] == pytest.approx(times)
    assert [c.data1 == clicks[0].data1 for c in clicks] == [k % 4 == 0 for k in range(4 * bars)]
    assert not [o for o in orders if o.status == 0x90 and o.part != "click" and o.seconds < 5.9]
    assert not [r for r in reports if isinstance(r, Beat)], "the form's beats begin with the form"
    assert next(r for r in reports if isinstance(r, State)).name == "counting"


# Moments and distances worked out by hand


@pytest.mark.parametrize(
    ("tempo", "count_in", "begins"),
    [
        # Three quavers lead in; without a count the first whole beat before them is the first, two beats ahead.
        (120.0, 0, 5.0), (120.0, 1, 4.0), (120.0, 2, 2.0), (60.0, 1, 2.0), (None, 1, 5.0), (None, 0, 5.5),
    ],
)  # fmt: skip
def test_when_the_first_beat_is_counted(stand: Any, tempo: float | None, count_in: int, begins: float) -> None:
    """By the chart's own tempo, 240, where none is named; the tune begins at 6 seconds."""
    chart = stand.chart(("| Dm7 G7 | C6 |", "G,A,B, | D2 F2 A2 c2 | e3 d B2 z2 |"), tempo=240)
    rehearsal = Rehearsal(chart, agreed("melody", tempo=tempo, start=6.0, count_in=count_in, order="form"))
    assert rehearsal.begins_at == pytest.approx(begins)
    assert rehearsal.state == ("counting" if count_in else "playing")
    step = rehearsal.advance(12.0, [])
    clicks = [o.seconds for o in step.orders if o.part == "click" and o.status == 0x90]
    assert clicks == pytest.approx([begins + n * 60 / (tempo or 240) for n in range(4 * count_in)])
    told = next(r for r in step.reports if isinstance(r, State))
    assert told.seconds == pytest.approx(begins) and told.tempo == pytest.approx(tempo or 240)


@pytest.mark.parametrize(("length", "playable"), [(Fraction(1, 2), False), (Fraction(1), True), (Fraction(2), True)])
def test_a_form_has_one_beat_at_least(length: Fraction, playable: bool) -> None:
    chart = Chart("A Beat", (Section("A", (length,)),), ("A",))
    if playable:
        assert Rehearsal(chart, Settings(parts=("click",))).length == length
    else:
        with pytest.raises(ChartError, match="shorter than one beat"):
            Rehearsal(chart, Settings(parts=("click",)))


@pytest.fixture
def placed(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Rehearsal]:
    """A rehearsal at 10 seconds in which the follower has the player at a place, at so many quarters a second."""

    def place(chart: Chart, beat: float, speed: float = 2.0, mass: float = 0.95, **more: Any) -> Rehearsal:
        rehearsal = Rehearsal(chart, agreed("melody", order="form", **more))
        reading = rehearsal.follower.readings.each[0]
        found = Lead(10.0, beat, speed, mass, 0.1, 0.1, 0.0, 0.0, 0, reading)
        rehearsal.now = 10.0
        monkeypatch.setattr(rehearsal.pace, "lead", lambda: found)
        monkeypatch.setattr(rehearsal.pace, "ready", lambda: True)
        monkeypatch.setattr(rehearsal.pace, "place_is_likely", lambda: True)
        return rehearsal

    return place


@pytest.mark.parametrize(
    ("metre", "speed", "latency", "there", "coming"),
    [
        # An eighth of a second late it is struck at once all the same, or a third of a beat where that is less.
        ("4/4", 2.0, 0.0, 4.23, 4.0), ("4/4", 2.0, 0.0, 4.25, 5.0), ("4/4", 4.0, 0.0, 4.34, 4.0),
        ("4/4", 4.0, 0.0, 4.36, 5.0), ("6/8", 8.0, 0.0, 3.5, 3.0), ("6/8", 8.0, 0.0, 3.55, 4.5),
        # It sounds so much later than it is ordered.
        ("4/4", 2.0, 0.05, 4.13, 4.0), ("4/4", 2.0, 0.05, 4.15, 5.0),
    ],
)  # fmt: skip
def test_with_which_beat_it_comes_in_with_a_player_who_is_found(
    stand: Any, placed: Callable[..., Rehearsal], metre: str, speed: float, latency: float, there: float, coming: float
) -> None:
    bars = "| c4 d4 | e8 |" if metre == "4/4" else "| c3 d3 | e6 |"
    rehearsal = placed(stand.chart(("| Dm7 | G7 |", bars), metre=metre), there, speed, latency=latency)
    rehearsal._realign()
    assert rehearsal._clock.next == coming and rehearsal.state == "playing"


@pytest.mark.parametrize("heard", [True, False])
@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize(("beyond", "elsewhere"), [(-0.02, False), (0.02, True)])
def test_how_far_from_the_beats_a_player_is_elsewhere(
    stand: Any, placed: Callable[..., Rehearsal], *, heard: bool, way: int, beyond: float, elsewhere: bool
) -> None:
    """Six tenths of a beat as a note is heard; else a quarter more than a note is waited for."""
    rehearsal = placed(stand.tune(), 20.0)
    rehearsal.state = "playing"
    rehearsal.pace.heard_at = 10.0 if heard else 8.0
    limit = 0.6 if heard else rehearsal.pace.longest + 0.25
    here = 20.0 - way * (limit + beyond)
    rehearsal._clock.begin(here, 0.0)
    rehearsal._clock.sound(10.0)
    rehearsal._realign()
    assert rehearsal._clock.last == (19.0 if elsewhere else here)


@pytest.mark.parametrize(
    ("metre", "struck", "heard", "now", "closes"),
    [
        # Let go at once, or after a while, it has sounded for two beats; what was heard before it ends nothing.
        ("4/4", 10.0, 9.74, 10.2, 12.0), ("4/4", 10.0, 9.76, 10.2, 11.0), ("4/4", 10.0, 10.1, 11.7, 11.7),
        ("6/8", 10.0, 9.6, 10.2, 14.0), ("6/8", 10.0, 9.64, 10.2, 11.5), ("6/8", 10.0, 10.1, 11.4, 11.5),
    ],
)  # fmt: skip
def test_how_long_the_last_chord_sounds_when_the_player_lets_go(
    stand: Any, placed: Callable[..., Rehearsal], metre: str, struck: float, heard: float, now: float, closes: float
) -> None:
    bars = "| c4 d4 | e8 |" if metre == "4/4" else "| c3 d3 | e6 |"
    rehearsal = placed(stand.chart(("| Dm7 | G7 |", bars), metre=metre), 0.0)
    pulse = rehearsal.pulse
    rehearsal._clock.begin(0.0, 0.0)
    rehearsal._clock.sound(struck)
    rehearsal._clock.close(4.0 if pulse == 1 else 8.0, 2.0)  # as written: until 12 seconds, until 14
    rehearsal.now, rehearsal.pace.heard_at = now, heard
    rehearsal._hold_on()
    assert rehearsal._clock.closes == pytest.approx(closes)


@pytest.mark.parametrize(
    ("mass", "alike", "belief"), [(0.95, 0.99, 0.95), (0.9, 0.97, 0.97), (0.5, 0.8, 0.8), (0.5, 0.3, 0.5)]
)
def test_places_that_the_notes_do_not_tell_apart_are_added_while_the_place_is_not_clear(
    stand: Any, placed: Callable[..., Rehearsal], monkeypatch: pytest.MonkeyPatch, mass: float, alike: float,
    belief: float,
) -> None:  # fmt: skip
    rehearsal = placed(stand.tune(), 4.0, mass=mass)
    monkeypatch.setattr(rehearsal.follower, "mass_alike", lambda: alike)
    assert rehearsal._belief() == belief


def test_between_two_notes_the_player_goes_on_at_their_speed(stand: Any, placed: Callable[..., Rehearsal]) -> None:
    rehearsal = placed(stand.tune(), 4.0, speed=2.5)
    rehearsal.now = 10.4
    assert rehearsal._place() == pytest.approx(5.0) and rehearsal._speed() == 2.5


def test_what_the_follower_believed_is_told_in_beats_a_minute_where_that_was_asked(stand: Any) -> None:
    chart = stand.tune()
    told: dict[bool, list[Belief]] = {}
    for trace in (False, True):
        rehearsal = Rehearsal(chart, agreed("melody", tempo=120.0, start=2.0, trace=trace))
        reports = rehearsal.advance(9.0, stand.melody(chart, (2.0, 0, 12, 120))).reports
        told[trace] = [r for r in reports if isinstance(r, Belief)]
    assert not told[False] and {b.event for b in told[True]} == {"note", "look"}
    assert told[True][-1].tempo == pytest.approx(120, abs=6)
