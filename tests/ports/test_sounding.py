"""Every note that we begin ends, and none that the player holds is ended by us while we play.

That a piano's note has died away within two slow bars is common practice.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.ports.echo import LATEST
from companion.ports.sounding import DOUBTFUL, LONGEST, SOON, Sounding

ON, OFF, PEDAL_DOWN, PEDAL_UP = (0x90, 40, 90), (0x80, 40, 64), (0xB0, 64, 127), (0xB0, 64, 0)
THEIRS = (0x90, 40, 70)


def shared() -> Sounding:
    return Sounding({0}, shared=True)


def test_a_note_goes_out_and_ends():
    sounding = Sounding({0})
    assert sounding.order(ON) == [ON] and sounding.notes == [(0, 40)]
    assert sounding.order(OFF) == [OFF] and sounding.notes == []


def test_a_note_off_for_a_key_that_the_player_holds_waits_until_they_let_go():
    sounding = shared()
    sounding.order(ON)
    assert sounding.player(ON) == []
    assert sounding.order(OFF) == []
    assert sounding.player(OFF) == [OFF] and sounding.notes == []


def test_a_key_that_the_player_holds_is_not_struck_again():
    sounding = shared()
    sounding.player(ON)
    assert sounding.order(ON) == [] and sounding.order(OFF) == []
    sounding.player(OFF)
    assert sounding.order(ON) == [ON]


def test_on_another_instrument_the_players_keys_change_nothing():
    sounding = Sounding({0})
    sounding.player(ON)
    assert sounding.order(ON) == [ON] and sounding.order(OFF) == [OFF]


def test_on_another_channel_of_the_same_instrument_there_is_another_sound():
    sounding = shared()
    sounding.player((0x93, 40, 90))
    sounding.player((0xB3, 64, 127))
    assert sounding.order(ON) == [ON] and sounding.order(OFF) == [OFF]
    assert sounding.silence() == [PEDAL_UP, (0xB0, 123, 0)]


def test_on_another_instrument_silence_leaves_nothing_to_the_players_keys_and_pedal() -> None:
    sounding = Sounding({0})
    sounding.order(ON)
    sounding.player(THEIRS)
    sounding.player(PEDAL_DOWN)
    assert sounding.order(PEDAL_UP) == [PEDAL_UP]
    assert sounding.silence() == [OFF, PEDAL_UP, (0xB0, 123, 0)]


def test_a_note_struck_again_before_its_end_is_ended_once_for_each():
    sounding = Sounding({0})
    sent = [m for order in (ON, ON, OFF, OFF) for m in sounding.order(order)]
    assert sent == [ON, OFF, ON, OFF]


def test_our_pedal_never_lifts_the_players():
    sounding = shared()
    assert sounding.order(PEDAL_DOWN) == [PEDAL_DOWN]
    sounding.player(PEDAL_DOWN)
    assert sounding.order(PEDAL_UP) == []
    assert sounding.player(PEDAL_UP) == [PEDAL_UP]


def test_silence_ends_each_note_lifts_pedals_and_says_all_notes_off():
    sounding = Sounding({0, 2})
    sounding.order(ON)
    sounding.order((0x92, 60, 80))
    assert sounding.silence() == [
        OFF,
        (0x82, 60, 64),
        (0xB0, 64, 0),
        (0xB2, 64, 0),
        (0xB0, 123, 0),
        (0xB2, 123, 0),
    ]
    assert sounding.notes == []


def test_silence_ends_all_of_ours_whatever_the_player_seems_to_hold_and_leaves_theirs_alone():
    sounding = shared()
    sounding.order(ON)
    sounding.order((0x90, 43, 90))
    sounding.player(ON)
    sounding.player((0x90, 50, 70))
    assert sounding.silence() == [OFF, (0x80, 43, 64), PEDAL_UP]  # no "all notes off": it would end theirs
    assert sounding.notes == []


def test_a_note_off_that_waits_goes_out_when_the_key_is_held_longer_than_any_chord():
    sounding = shared()
    sounding.order(ON, 10.0)
    sounding.player(THEIRS, 10.2)
    assert sounding.order(OFF, 11.0) == []
    other = (0x90, 50, 90)
    assert sounding.order(other, 10.2 + LONGEST - 0.1) == [other]
    assert sounding.order((0x80, 50, 64), 10.2 + LONGEST + 0.1) == [OFF, (0x80, 50, 64)]
    assert sounding.notes == [] and sounding.player(OFF, 99.0) == []


def test_a_key_held_longer_than_any_chord_is_ours_to_strike_and_to_end():
    sounding = shared()
    sounding.player(THEIRS, 10.0)
    assert sounding.order(ON, 11.0) == [] and sounding.order(OFF, 12.0) == []
    later = 10.0 + LONGEST + 1.0
    assert sounding.order(ON, later) == [ON] and sounding.order(OFF, later + 1.0) == [OFF]


def test_a_key_that_is_struck_again_is_held_anew():
    sounding = shared()
    sounding.order(ON, 10.0)
    sounding.player(THEIRS, 10.0)
    sounding.player(OFF, 20.0)
    sounding.order(ON, 21.0)
    sounding.player(THEIRS, 21.5)
    assert sounding.order(OFF, 10.0 + LONGEST + 1.0) == []


def test_a_key_that_goes_down_just_as_we_struck_it_holds_up_nothing_for_long():
    sounding = shared()
    sounding.order(ON, 10.0)
    sounding.player(ON, 10.15)
    assert sounding.order(OFF, 10.4) == []
    assert sounding.order(ON, 10.8) == []
    assert sounding.order(ON, 11.2) == [OFF, ON]


KEYS = st.sampled_from([40, 41])
STEPS = st.lists(st.tuples(st.sampled_from(["strike", "end", "hold", "release"]), KEYS), max_size=60)


@given(STEPS)
def test_whatever_happens_nothing_of_ours_is_left_and_nothing_of_theirs_is_ended_while_we_play(steps):
    sounding, held, ours = shared(), set(), set()
    ordered: list[int] = []

    def heard(messages):
        for message in messages:
            if message[0] == 0x90:
                ours.add(message[1])
            elif message[0] == 0x80:
                assert message[1] not in held
                ours.discard(message[1])

    for step, key in steps:
        if step == "strike":
            ordered.append(key)
            heard(sounding.order((0x90, key, 90)))
        elif step == "end" and key in ordered:
            ordered.remove(key)
            heard(sounding.order((0x80, key, 64)))
        elif step == "hold":
            held.add(key)
            sounding.player((0x90, key, 70))
        elif step == "release" and key in held:
            held.discard(key)
            heard(sounding.player((0x80, key, 64)))
    ended = {message[1] for message in sounding.silence() if message[0] == 0x80}
    assert ended == ours


# What the bytes of a message mean (MIDI 1.0): a note-on without velocity is a note-off, 64 and more is a pedal that is
# down, the low half of a status byte is the channel


def test_the_softest_note_is_a_note_and_one_without_velocity_an_end() -> None:
    sounding = Sounding({0})
    assert sounding.order((0x90, 40, 1)) == [(0x90, 40, 1)] and sounding.notes == [(0, 40)]
    assert sounding.order((0x90, 40, 0)) == [OFF] and sounding.notes == []
    theirs = shared()
    theirs.player((0x90, 40, 1))
    assert theirs.order(ON) == []
    theirs.player((0x90, 40, 0))
    assert theirs.order(OFF) == [] and theirs.order(ON) == [ON]


@pytest.mark.parametrize(("value", "held"), [(0, False), (1, False), (63, False), (64, True), (65, True), (127, True)])
def test_a_pedal_is_down_from_the_middle_of_its_values_on(value: int, held: bool) -> None:
    sounding = shared()
    sounding.player((0xB0, 64, value))
    assert sounding.order(PEDAL_UP) == ([] if held else [PEDAL_UP])
    ours = shared()
    ours.player(PEDAL_DOWN)
    assert ours.order((0xB0, 64, value)) == ([(0xB0, 64, value)] if held else [])


@pytest.mark.parametrize(
    "message", [(0xB0, 63, 0), (0xB0, 65, 0), (0xB0, 123, 0), (0xC0, 64), (0xE0, 64, 0), (0xA0, 40, 0)]
)
def test_what_is_no_note_and_no_sustain_pedal_goes_out_as_it_is(message: tuple[int, ...]) -> None:
    sounding = shared()
    sounding.player(PEDAL_DOWN)
    sounding.player(ON)
    assert sounding.order(message) == [message] and sounding.notes == []


@pytest.mark.parametrize("message", [(0xB0, 63, 127), (0xB0, 65, 127), (0xA0, 64, 127), (0xE0, 64, 127)])
def test_what_is_no_sustain_pedal_of_the_players_holds_none(message: tuple[int, ...]) -> None:
    sounding = shared()
    sounding.player(message)
    assert sounding.order(PEDAL_UP) == [PEDAL_UP]


@pytest.mark.parametrize("message", [(0xB0, 63, 0), (0xB0, 7, 100), (0xA0, 64, 0), (0xE0, 64, 64)])
def test_what_is_no_sustain_pedal_of_the_players_lifts_none(message: tuple[int, ...]) -> None:
    sounding = shared()
    sounding.player(PEDAL_DOWN)
    assert sounding.order(PEDAL_UP) == []
    assert sounding.player(message) == [] and sounding.order(PEDAL_UP) == []
    assert sounding.player(PEDAL_UP) == [PEDAL_UP]


@pytest.mark.parametrize("channel", [0, 1, 14, 15])
def test_each_channel_is_ended_on_itself(channel: int) -> None:
    on, off = (0x90 | channel, 40, 90), (0x80 | channel, 40, 64)
    sounding = Sounding((), shared=True)
    assert sounding.order(on) == [on] and sounding.notes == [(channel, 40)]
    sounding.player((0x90 | channel, 40, 70))
    assert sounding.order(off) == [] and sounding.notes == [(channel, 40)]
    assert sounding.player(off) == [off]
    sounding.player((0xB0 | channel, 64, 127))
    assert sounding.order((0xB0 | channel, 64, 0)) == []
    assert sounding.player((0xB0 | channel, 64, 0)) == [(0xB0 | channel, 64, 0)]
    assert sounding.silence() == [(0xB0 | channel, 64, 0), (0xB0 | channel, 123, 0)]


# Moments exactly on a limit


def test_no_chord_is_held_longer_than_two_bars_at_forty() -> None:
    assert LONGEST == 2 * 4 * 60 / 40
    assert SOON < DOUBTFUL == 60 / 60, "a copy that is taken for a key holds up ours for a beat at 60, no longer"
    assert SOON == LATEST, "as long as anything may be a copy (companion.ports.echo)"


@pytest.mark.parametrize(("after", "held"), [(LONGEST - 1, True), (LONGEST, True), (LONGEST + 0.01, False)])
def test_a_key_is_taken_to_be_held_to_the_end_of_the_longest_chord(after: float, held: bool) -> None:
    sounding = shared()
    sounding.player(THEIRS, 0.0)
    assert sounding.order(ON, after) == ([] if held else [ON])


@pytest.mark.parametrize(
    ("struck_after", "velocity", "asked_after", "held"),
    [
        (SOON, 90, DOUBTFUL, True),  # our own velocity: a copy, perhaps
        (SOON, 90, DOUBTFUL + 0.01, False),
        (SOON + 0.01, 90, DOUBTFUL + 0.01, True),  # too late for a copy
        (0.0, 91, DOUBTFUL + 0.01, True),  # too loud for one
    ],
)
def test_what_may_be_a_copy_of_ours_holds_its_key_only_for_a_moment(
    struck_after: float, velocity: int, asked_after: float, held: bool
) -> None:
    sounding = shared()
    sounding.order(ON, 16.0)
    sounding.player((0x90, 40, velocity), 16.0 + struck_after)
    assert sounding.order(OFF, 16.0 + struck_after + asked_after) == ([] if held else [OFF])


# What is owed is owed once


def test_a_note_taken_over_from_another_is_ended_once_and_silenced() -> None:
    sounding = Sounding(())
    sounding.adopt(3, 40)
    assert sounding.notes == [(3, 40)]
    assert sounding.order((0x83, 40, 64)) == [(0x83, 40, 64)] and sounding.order((0x83, 40, 64)) == []
    sounding.adopt(3, 40)
    assert sounding.silence() == [(0x83, 40, 64), (0xB3, 64, 0), (0xB3, 123, 0)]


def test_a_pedal_that_we_put_down_again_is_not_lifted_with_the_players() -> None:
    sounding = shared()
    sounding.player(PEDAL_DOWN)
    assert sounding.order(PEDAL_UP) == [] and sounding.order(PEDAL_DOWN) == [PEDAL_DOWN]
    assert sounding.player(PEDAL_UP) == []


def test_after_silence_nothing_is_owed() -> None:
    sounding = shared()
    sounding.player(PEDAL_DOWN)
    sounding.order(ON)
    sounding.player(THEIRS)
    sounding.order(OFF)
    sounding.order(PEDAL_UP)
    sounding.silence()
    assert sounding.player(OFF) == [] and sounding.player(PEDAL_UP) == [] and sounding.silence()[-1] == (0xB0, 123, 0)


def test_an_end_without_a_beginning_is_not_sent() -> None:
    sounding = Sounding({0})
    assert sounding.order(OFF) == []
    assert sounding.order(ON) == [ON] and sounding.order(OFF) == [OFF] and sounding.order(OFF) == []


def test_two_parts_on_one_key_end_it_with_the_last() -> None:
    sounding = Sounding({0})
    for _ in range(3):
        sounding.order(ON)
    assert [sounding.order(OFF) for _ in range(4)] == [[], [], [OFF], []]
