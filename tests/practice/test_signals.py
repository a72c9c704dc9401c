"""Rounds with hands on the keys: what is told in the midst of a round is done once, and is no note of it.

Key numbers are a piano's (MIDI 21 to 108).
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from companion.chart.model import Chart
from companion.messages import WISHES, Heard, Wish
from companion.practice.drill import Drill, RoundPlayed
from companion.practice.replayed import replay_drill
from companion.practice.request import Said, drill_request
from companion.practice.signals import drill_signals
from companion.stage.signals import sifted
from tests.practice.conftest import RoundPlayer

BARS = (9, 12)
MELODY = Said(you=frozenset({"melody"}), start=80.0, goal=120.0, step=4.0)


def struck(seconds: float, key: int) -> list[Heard]:
    return [Heard(seconds, 0x90, key, 70), Heard(seconds + 0.2, 0x80, key, 0)]


def with_the_pedal_down(events: list[Heard]) -> list[Heard]:
    return sorted([Heard(0.0, 0xB0, 64, 127), *events], key=lambda event: event.seconds)


@pytest.mark.parametrize("tempo", [40.0, 96.0, 300.0])
def test_a_key_in_the_midst_of_a_round_is_no_note_of_it_and_the_next_round_is_slower(
    ferry: Chart, round_player: RoundPlayer, tempo: float
) -> None:
    request = drill_request(ferry, BARS, replace(MELODY, start=tempo, goal=tempo + 8), "usual")
    signals = drill_signals(ferry, request)
    slower = next(key for key, wish in signals.table.keys.items() if wish == "slower")
    drill = Drill(ferry, request)
    middle = drill.round.start + 5 * 60 / tempo
    played = with_the_pedal_down([*round_player.plays(drill.round), *struck(middle, slower)])
    replay_drill(drill, sifted(played, signals), played[-1].seconds)
    first, second = drill.rounds[:2]
    assert first.verdict and first.verdict.good and not first.verdict.counts()["extra"]
    assert second.tempo == tempo - 4.0


def test_hundreds_of_wishes_over_a_drill_are_each_granted_once(ferry: Chart) -> None:
    """Round by round a clean player who strikes a key now and then, at any moment of the round."""
    dice, player, meant, granted = random.Random(4), RoundPlayer(4), list[str](), list[str]()
    for seed in range(12):
        request = drill_request(
            ferry, BARS, replace(MELODY, parts=(), start=dice.uniform(40, 280), goal=300.0), "usual"
        )
        signals = drill_signals(ferry, request)
        usual = {key: wish for key, wish in signals.table.keys.items() if wish in ("again", "faster", "slower", "keep")}
        drill, heard = Drill(ferry, request), list[Heard]()
        for _ in range(8):
            told: RoundPlayed = drill.round
            notes = player.plays(told)
            end = notes[-1].seconds
            moments = [told.start + share * (end - told.start) for share in (0.2, 0.6)]
            keys = [dice.choice(sorted(usual)) for _ in moments]
            meant_now = [usual[key] for key in keys]
            events = sorted(
                [*notes, *(e for pair in zip(moments, keys, strict=True) for e in struck(*pair))],
                key=lambda event: event.seconds,
            )
            found = [event for event in sifted(events, signals) if event.seconds >= told.first_click]
            wishes = [event.name for event in found if isinstance(event, Wish)]
            twice = len(set(meant_now)) == 1 and moments[1] - moments[0] < 1.0
            meant += meant_now[:1] if twice and meant_now[0] not in ("faster", "slower") else meant_now
            granted += wishes
            before = drill.round.number
            for event in found:
                step = drill.advance(event.seconds, [event])
            while step.wake is not None and drill.round.number == before and not drill.ended:
                step = drill.advance(step.wake, [])
            heard += notes
            assert not {h.data1 for played in drill.rounds for h in played.heard} & set(usual), seed
    assert granted == meant and len(meant) > 150


def test_everything_can_be_told_and_no_key_changes_its_meaning_with_the_hand_or_the_key(ferry: Chart) -> None:
    request = drill_request(ferry, BARS, replace(MELODY, swap=2), "usual")
    table = drill_signals(ferry, request).table
    assert set(table.keys.values()) == set(WISHES) and table.over_a_bar_line == 0
    assert min(table.keys) > 60, "the other hand plays the bass, down to the lowest key"
