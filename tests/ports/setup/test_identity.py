"""Identity replies: MIDI 1.0 Detailed Specification, Universal System Exclusive, General Information."""

from __future__ import annotations

import pytest

from companion.ports.setup.identity import IDENTITY_REQUEST, Identity, read_identity

SHORT = (0xF0, 0x7E, 0x00, 0x06, 0x02, 0x7D, 0x02, 0x01, 0x05, 0x00, 1, 0, 0, 2, 0xF7)
LONG = (0xF0, 0x7E, 0x7F, 0x06, 0x02, 0x00, 0x20, 0x7A, 0x7F, 0x7F, 0x00, 0x01, 1, 2, 3, 4, 0xF7)


def test_a_makers_number_has_one_byte_or_three_and_the_low_bits_come_first() -> None:
    assert read_identity(SHORT) == Identity((0x7D,), 2 + 128, 5, (1, 0, 0, 2))
    assert read_identity(LONG) == Identity((0x00, 0x20, 0x7A), 127 + 127 * 128, 128, (1, 2, 3, 4))


@pytest.mark.parametrize(
    "message",
    [
        (0xF0, 0x7E, 0x7F, 0x06, 0x01, 0xF7),  # the request, echoed
        SHORT[:-1],
        SHORT[:8] + SHORT[-1:],
        (*SHORT[:9], 0x80, *SHORT[10:]),
        (0xF1, *SHORT[1:]),
        (0xF0, 0x7F, *SHORT[2:]),  # real time, not non-real time
        (*SHORT[:3], 0x07, *SHORT[4:]),  # another subject
        (*SHORT[:4], 0x01, *SHORT[5:]),  # a request
        (*SHORT[:5], 0x00, *SHORT[6:]),  # a maker's number of three bytes, and one byte too few after it
        (*SHORT[:-1], 0, 0xF7),
        (*LONG[:-2], 0xF7),
        (*SHORT[:-1], 0xF6),
        (0xF0, 0xF7),
        (0xF0,),
        (0xFE,),
    ],
)
def test_what_is_no_whole_reply_is_none(message: tuple[int, ...]) -> None:
    assert read_identity(message) is None


def test_every_device_is_asked() -> None:
    assert IDENTITY_REQUEST == (0xF0, 0x7E, 0x7F, 0x06, 0x01, 0xF7)  # MIDI 1.0: 7F is all devices


def test_the_largest_numbers_are_numbers() -> None:
    most = (*SHORT[:5], *[0x7F] * 9, 0xF7)
    assert read_identity(most) == Identity((127,), (1 << 14) - 1, (1 << 14) - 1, (127,) * 4)
