"""Pianists who tell the companion things while they play: each is done once, none is missed, none is made of playing.

The pianists are the built-in ones with their slips, over every chart that is shipped and in every role, at 40 to 300
quarters a minute, with the pedal down and notes held. Signals are struck when a hand gets to them, that is at any
moment, as players strike a far key: for 30 to 400 ms, at any loudness, now and then twice in haste, now and then with a
neighbour brushed along. Key numbers are a piano's (MIDI 21 to 108).
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.load import load
from companion.messages import WISHES, Beat, Heard, Part, State, Wish
from companion.pianist.player import simulate
from companion.resources import chart_names, chart_path
from companion.stage.from_the_top import signals_of
from companion.stage.replay import replay
from companion.stage.settings import Settings
from companion.stage.signal_keys import SignalTable, signals_for
from companion.stage.signals import Signals, sifted

ROLES: tuple[tuple[Part, ...], ...] = (
    ("melody",), ("chords",), ("bass",), ("solo",), ("melody", "chords"), ("bass", "solo"),
)  # fmt: skip
MANNERS = ("human", "messy", "loose", "stopping", "leaping", "evening")
SMALL = {"61 keys": (36, 96), "76 keys": (28, 103), "88 keys": (21, 108)}
HASTE = (0.05, 0.12, 0.25, 0.5)
"""Seconds after which a key that is struck twice in haste comes again."""
STEPS = ("faster", "slower")


def performances(chart: Chart, seed: int) -> Iterator[tuple[tuple[Part, ...], list[Heard]]]:
    """The chart in every role in which it can be played, each at a tempo and in a manner drawn at random."""
    dice, form = random.Random(seed), chart.unfold()
    for you in ROLES:
        if "melody" in you and not form.melody:
            continue
        tempo, manner = dice.uniform(40, 300), dice.choice(MANNERS)
        yield you, list(simulate(form, you, manner=manner, tempo=tempo, seed=dice.randrange(9999)).heard)


def test_no_pianist_tells_anything_by_playing(shipped: Chart) -> None:
    for seed in range(2):
        for you, heard in performances(shipped, seed):
            for name, keyboard in SMALL.items():
                signals = Signals(signals_for([shipped], you, WISHES, keyboard=keyboard))
                assert sifted(heard, signals) == heard, name


def with_signals(heard: list[Heard], table: SignalTable, seed: int) -> tuple[list[Heard], list[str]]:
    """A performance with signals struck at any moment, and what was meant by them."""
    dice, meant, found = random.Random(seed), list[str](), list[Heard]()
    moment, end = dice.uniform(0, 2), heard[-1].seconds
    keys = sorted(table.keys)
    while moment < end:
        key, hold, velocity = dice.choice(keys), dice.uniform(0.03, 0.4), dice.randint(25, 120)
        found += [Heard(moment, 0x90, key, velocity), Heard(moment + hold, 0x80, key, 0)]
        meant.append(table.keys[key])
        if dice.random() < 0.2 and table.keys[key] not in STEPS:
            again = max(dice.choice(HASTE), hold + 0.02)
            found += [Heard(moment + again, 0x90, key, velocity), Heard(moment + again + 0.05, 0x80, key, 0)]
        elif dice.random() < 0.2 and key + 1 in table.keys:
            found += [Heard(moment + 0.01, 0x90, key + 1, velocity // 3), Heard(moment + 0.06, 0x80, key + 1, 0)]
        moment += dice.uniform(1.3, 3.0)
    pedalled = [Heard(0.0, 0xB0, 64, 127), *heard]
    return sorted([*pedalled, *found], key=lambda event: event.seconds), meant


def test_thousands_of_signals_in_the_midst_of_playing_are_each_done_once_and_heard_by_nobody() -> None:
    told = 0
    for number, name in enumerate(chart_names()):
        chart = load(chart_path(name))
        for you, heard in performances(chart, 100 + number):
            table = signals_for([chart], you, WISHES, keyboard=(21, 108))
            events, meant = with_signals(heard, table, number)
            found = sifted(events, Signals(table), events[-1].seconds + 1)
            assert [event.name for event in found if isinstance(event, Wish)] == meant, (name, you)
            assert [event for event in found if isinstance(event, Heard)] == [Heard(0.0, 0xB0, 64, 127), *heard]
            told += len(meant)
    assert told > 2000


@pytest.mark.parametrize("end", [(20, 60), (60, 109)], ids=["low", "high"])
def test_a_glissando_in_the_midst_of_playing_tells_nothing(ferry: Chart, end: tuple[int, int]) -> None:
    """Over white keys or all, up or down, to the end of the keyboard or from it; 15 to 80 ms a key."""
    table, dice = signals_for([ferry], {"melody"}, WISHES, keyboard=(21, 108)), random.Random(7)
    heard = list(simulate(ferry.unfold(), "melody", tempo=140).heard)
    for _ in range(200):
        begin, step = dice.uniform(1, heard[-1].seconds), dice.uniform(0.015, 0.08)
        keys = [k for k in range(max(end[0], 21), end[1]) if dice.random() < 2 or k % 12 in (0, 2, 4, 5, 7, 9, 11)]
        keys = keys if dice.random() < 0.5 else keys[::-1]
        keys = [k for k in keys if k % 12 in (0, 2, 4, 5, 7, 9, 11)] if dice.random() < 0.5 else keys
        slide = [Heard(begin + step * n, 0x90, key, dice.randint(40, 90)) for n, key in enumerate(keys)]
        slide += [Heard(begin + step * (n + 0.8), 0x80, key, 0) for n, key in enumerate(keys)]
        events = sorted([*heard, *slide], key=lambda event: event.seconds)
        found = sifted(events, Signals(table), events[-1].seconds + 1)
        assert not [event for event in found if isinstance(event, Wish)]
        assert sorted(e.data1 for e in found if isinstance(e, Heard) and e.is_note_on) == sorted(
            e.data1 for e in events if e.is_note_on
        )


@pytest.mark.parametrize("tempo", [40, 120, 300])
def test_the_follower_goes_on_as_if_nothing_had_been_told(stand: Any, tempo: int) -> None:
    """Beats and orders are those of the same playing without signals, as far as these ask for nothing."""
    chart, settings = stand.tune(tempo=tempo), Settings(tempo=tempo, start=4.0, count_in=1, order="open")
    heard = stand.melody(chart, (4.0, 0, 60, tempo))
    table = signals_of(chart, settings).table
    key = next(key for key, wish in table.keys.items() if wish == "keep")
    struck = [event for n in range(4, 20, 2) for event in stand.strike(n + 0.37, key, 0.2)]
    struck += [event for n in range(4, 20, 2) for event in stand.strike(n + 0.39, 20, 0.2)]  # below the keyboard
    events = sorted([*heard, *(e for e in struck if e.data1 != 20)], key=lambda event: event.seconds)
    told = replay(chart, events, settings, signals=Signals(table), until=30)
    plain = replay(chart, heard, settings, until=30)
    assert told.heard == plain.heard and told.orders == plain.orders and told.reports == plain.reports


def test_a_pianist_plays_three_choruses_begins_again_and_stops_by_keys_alone(stand: Any) -> None:
    chart = stand.tune(tempo=140)
    settings = Settings(tempo=140, start=4.0, count_in=1, order="open")
    table = signals_of(chart, settings).table
    key = {wish: key for key, wish in table.keys.items()}
    first = stand.melody(chart, (4.0, 0, 70, 140))
    asked = 4.0 + 70.5 * 60 / 140
    zero = asked + 0.15 + 1.5 + 4 * 60 / 140
    second = stand.melody(chart, (zero, 0, 30, 140))
    stopped = zero + 31 * 60 / 140
    events = sorted(
        [*first, *stand.strike(asked, key["again"]), *second, *stand.strike(stopped, key["stop"])],
        key=lambda event: event.seconds,
    )
    recording = replay(chart, events, settings, signals=Signals(table), until=stopped + 5)
    beats = [r for r in recording.reports if isinstance(r, Beat)]
    assert [b.chart_beat for b in beats if b.seconds > asked + 0.2][:30] == list(range(30))
    assert [r for r in recording.reports if isinstance(r, State)][-1].name == "ended"
    assert max(b.seconds for b in beats) < stopped + 0.3
    on: set[tuple[str, int]] = set()
    for order in sorted(recording.orders, key=lambda o: (o.seconds, o.status)):
        on = on | {(order.part, order.data1)} if order.status == 0x90 else on - {(order.part, order.data1)}
    assert not on
