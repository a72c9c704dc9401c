"""What crosses the pipes arrives as it was: frames of twelve bytes, and the words on the command line."""

from __future__ import annotations

import struct

import pytest

from companion.ports.instruments import Synth
from companion.stage.wire import (
    ALIVE,
    END,
    HEARTBEAT,
    ORDER,
    PLAYER,
    SILENT_AFTER,
    THROUGH,
    TOO_LATE,
    SenderWords,
    length_of,
    pack,
    unpack,
)


@pytest.mark.parametrize("kind", [ORDER, PLAYER, ALIVE, THROUGH, END])
@pytest.mark.parametrize(
    ("message", "bytes_of_it"),
    [((0x91, 40, 90), (0x91, 40, 90)), ((0xC1, 32), (0xC1, 32, 0)), ([0xB0, 123, 0], (0xB0, 123, 0))],
)
def test_a_frame_is_its_moment_its_kind_and_three_bytes(
    kind: int, message: tuple[int, ...], bytes_of_it: tuple[int, int, int]
) -> None:
    frame = pack(12.5, kind, message)
    assert frame == struct.pack("<d", 12.5) + bytes((kind, *bytes_of_it)) and len(frame) == 12
    assert unpack(frame) == (12.5, kind, bytes_of_it)


def test_a_frame_without_a_message_is_filled_up_and_no_two_kinds_are_alike() -> None:
    assert unpack(pack(0.0, ALIVE)).message == (0, 0, 0)
    assert len({ORDER, PLAYER, ALIVE, THROUGH, END}) == 5


@pytest.mark.parametrize(
    ("status", "length"),
    [(0x80, 3), (0x9F, 3), (0xA3, 3), (0xB0, 3), (0xC0, 2), (0xCF, 2), (0xD0, 2), (0xDF, 2), (0xE0, 3), (0xEF, 3)],
)
def test_program_change_and_channel_pressure_are_a_byte_shorter(status: int, length: int) -> None:
    """MIDI 1.0, table of channel voice messages."""
    assert length_of(status) == length


@pytest.mark.parametrize("synth", [None, Synth(), Synth("a.sf2", "alsa", 0.5, 128, 2, ("audio.jack.id=piano",))])
def test_what_a_sender_is_started_with_crosses_the_command_line_as_it_is(synth: Synth | None) -> None:
    least = SenderWords("jack", None, (0, 9), synth=synth)
    assert SenderWords.from_json(least.to_json()) == least
    full = SenderWords(
        "alsa", "upright", (0, 1, 9), ((1, 32), (2, 0)), True, 7.5, synth, False, "marks", "keys", "Tune", True
    )
    assert SenderWords.from_json(full.to_json()) == full


def test_what_a_sender_does_where_nothing_else_is_said() -> None:
    words = SenderWords("jack", None, (0,))
    assert (words.shared, words.realtime, words.report_each, words.give_up_after) == (False, True, False, 120.0)


def test_a_late_sign_of_life_or_two_silence_nothing_and_a_late_note_is_heard_as_late() -> None:
    """A note 20 ms late is heard to be late (Jack et al., Music Perception 36(1); from memory)."""
    assert 3 * HEARTBEAT < SILENT_AFTER <= 1.0 and 0.02 < TOO_LATE <= 0.05
