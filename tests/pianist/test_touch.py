"""The built-in player's touch: what becomes of each note, one key at a time, and the pedal."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from companion.messages import Heard
from companion.pianist.lines import IntendedNote
from companion.pianist.route import Clock
from companion.pianist.touch import PlacedNote, TrueNote, _one_at_a_time, _PlannedPress, bar_pedal, key_movements
from companion.preferences.players import PlayerManner

CLOCK = Clock([0.5 * n for n in range(40)], 0, 1.0, [0.0, 2.0])
"""Half a second a beat; the second passage comes two seconds later."""


def placed(at: float, note: IntendedNote, passage: int = 0) -> PlacedNote:
    return PlacedNote(passage, at, at + note.length, note, at, 1)


def test_each_key_movement_is_worked_with_the_same_dice() -> None:
    """A level and a spread for the whole; an offset a hand's chord; fingers 2.5 ms apart; the level swells over eight
    beats, rises with the pitch and varies; keys are let go before the next note."""
    how = PlayerManner(spread_ms=(10.0, 20.0), lead_ms=15.0)
    notes = [
        placed(1.0, IntendedNote(1.0, 1.0, 72, 0.9, lag=0.02)),
        placed(1.0, IntendedNote(1.0, 0.5, 55, hand="left")),
        placed(1.0, IntendedNote(1.0, 0.5, 60, hand="left")),
        placed(3.0, IntendedNote(3.0, 2.0, 76)),
        placed(5.0, IntendedNote(5.0, 0.05, 74), passage=1),
    ]
    dice = Random(3)
    level, spread, held = dice.uniform(66, 84), dice.uniform(10.0, 20.0) / 1000, dice.uniform(0.78, 0.97)
    moves = []
    off = 0.0
    for n, (one, due) in enumerate(zip(notes, (0.5, 0.5, 0.5, 1.5, 4.5), strict=True)):
        right = one.note.hand == "right"
        if n != 2:  # the left hand's chord has one offset
            off = dice.gauss(0.0, spread)
        on = due + one.note.lag + off + dice.gauss(0.0, 0.0025) - (0.015 if right else 0.0)
        length = one.note.length / 2 * min(0.98, held * dice.uniform(0.92, 1.06))
        swell = abs(4.0 * ((one.at / 8.0) % 2.0 - 1.0)) if right else 0.0
        force = level * one.note.weight + swell + 0.15 * (one.note.midi - 70) + dice.gauss(0.0, 5.0)
        moves.append((on, 0x90, one.note.midi, round(force)))
        moves.append((on + max(0.045, length), 0x80, one.note.midi, 40))
    found, _ = key_movements(notes, CLOCK, how, Random(3))
    assert [(h.seconds, h.status, h.data1, h.data2) for h in found] == [
        (pytest.approx(seconds), *rest) for seconds, *rest in sorted(moves)
    ]


@pytest.mark.parametrize(("weight", "force"), [(0.01, 20), (5.0, 122)])
def test_no_key_is_struck_softer_or_harder_than_a_hand_does(weight: float, force: int) -> None:
    found, _ = key_movements([placed(1.0, IntendedNote(1.0, 1.0, 70, weight))], CLOCK, PlayerManner(), Random(1))
    assert found[0].data2 == force


def test_nothing_sounds_before_the_performance_begins() -> None:
    early = placed(0.0, IntendedNote(0.0, 1.0, 70, lag=-1.0))
    assert key_movements([early], CLOCK, PlayerManner(), Random(1))[0][0].seconds == 0.0


def test_what_became_of_each_note_is_told_in_the_order_of_the_chart() -> None:
    notes = [
        placed(4.0, IntendedNote(4.0, 1.0, 71, kind="wrong", meant=72)),
        placed(2.0, IntendedNote(2.0, 1.0, 64, kind="missing")),
        placed(2.0, IntendedNote(2.0, 1.0, 62, kind="extra")),
        replace(placed(3.0, IntendedNote(3.0, 1.0, 60)), chorus=2),
        placed(2.0, IntendedNote(2.0, 1.0, 67)),
    ]
    _, told = key_movements(notes, CLOCK, PlayerManner(), Random(1))
    assert [(n.kind, n.chart_beat, n.chorus, n.expected, n.pitch) for n in told] == [
        ("missing", 2.0, 1, 64, None),
        ("extra", 2.0, 1, None, 62),
        ("right", 2.0, 1, 67, 67),
        ("wrong", 4.0, 1, 72, 71),
        ("right", 3.0, 2, 60, 60),
    ]
    assert all((n.seconds is None) == (n.kind == "missing") for n in told)


def struck(*notes: tuple[float, float, str]) -> tuple[list[Heard], list[TrueNote]]:
    """One key at moments, for beats, each note of a kind; by a player as exact as a machine."""
    exact = PlayerManner(spread_ms=(0.0, 0.0))
    made = [placed(at, IntendedNote(at, length, 60, kind=kind)) for at, length, kind in notes]  # type: ignore[arg-type]
    return key_movements(made, CLOCK, exact, Random(11))


def test_of_two_notes_on_one_key_the_first_is_let_go_before_the_second_is_struck() -> None:
    found, _ = struck((2.0, 4.0, "right"), (3.0, 1.0, "right"))
    on, off, again, _ = found
    assert [h.status for h in found] == [0x90, 0x80, 0x90, 0x80]
    assert again.seconds - off.seconds == pytest.approx(0.008) and on.seconds < off.seconds
    close, _ = struck((2.0, 4.0, "right"), (2.09, 1.0, "right"))
    assert close[1].seconds - close[0].seconds == pytest.approx(max(0.01, close[2].seconds - close[0].seconds - 0.008))


@pytest.mark.parametrize(
    ("kinds", "left"), [(("extra", "right"), "right"), (("right", "extra"), "right"), (("wrong", "right"), "wrong")]
)
def test_two_notes_that_fall_together_on_a_key_are_one_and_the_written_one(kinds: tuple[str, str], left: str) -> None:
    found, told = struck((2.0, 1.0, kinds[0]), (2.04, 1.0, kinds[1]))
    assert len(found) == 2 and [note.kind for note in told] == [left]
    apart, told = struck((2.0, 1.0, kinds[0]), (2.1, 1.0, kinds[1]))
    assert len(apart) == 4 and [note.kind for note in told] == list(kinds)


def test_the_pedal_is_caught_an_eighth_of_a_second_after_the_bar_or_a_fifth_of_it_on() -> None:
    """Controller 64, on from 64 (MIDI 1.0)."""
    found = bar_pedal([1.0, 3.0, 3.5])
    assert [(h.seconds, h.status, h.data1, h.data2) for h in found] == [
        (pytest.approx(1.12), 0xB0, 64, 127),
        (pytest.approx(3.02), 0xB0, 64, 0),
        (pytest.approx(3.1), 0xB0, 64, 127),
        (pytest.approx(3.52), 0xB0, 64, 0),
    ]


@pytest.mark.parametrize(("apart", "presses"), [(0.025, 1), (0.029, 1), (0.031, 2), (0.035, 2)])
def test_a_key_is_struck_twice_only_from_three_hundredths_of_a_second_on(apart: float, presses: int) -> None:
    note = IntendedNote(0.0, 1.0, 70)
    both = [_PlannedPress(on, 0.2, 70, 64, placed(0.0, note)) for on in (1.0, 1.0 + apart)]
    found = _one_at_a_time(both)
    assert len(found) == presses
    if presses == 2:
        assert found[0].length == pytest.approx(max(0.01, apart - 0.008)) and found[1].length == 0.2


def test_the_first_of_two_presses_is_let_go_eight_thousandths_of_a_second_before_the_second() -> None:
    note = IntendedNote(0.0, 1.0, 70)
    for length, kept in ((0.5, 0.192), (0.1, 0.1)):
        first, _ = _one_at_a_time([_PlannedPress(on, length, 70, 64, placed(0.0, note)) for on in (1.0, 1.2)])
        assert first.length == pytest.approx(kept)
