"""Every note that we begin ends, and none that the player holds is ended by us while we play.

That a piano's note has died away within two slow bars is common practice.
"""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from companion.ports.sounding import LONGEST, Sounding

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
