"""Many notes into the tracks of a Standard MIDI File at once: hours of playing in a fraction of a second.

:func:`companion.stage.performance.recording_bytes` writes a file with empty tracks; here each gets its notes.

Conventions: seconds from the start of the file; a note is a row of :data:`NOTE`. Source: Standard MIDI Files 1.0
(chunks; delta times as variable-length quantities; the end of a track is the meta event FF 2F 00).
"""

from __future__ import annotations

import struct
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from companion.stage.performance import TICKS_A_SECOND

PACKED = struct.Struct("<dBBBB")
"""A note in a draft: seconds, number of its track, status with channel, two data bytes."""
NOTE = np.dtype([("seconds", "<f8"), ("track", "u1"), ("message", "u1", 3)])
"""The same for numpy."""
END_OF_TRACK = b"\x00\xff\x2f\x00"
LONG = (21, 14, 7)
"""Bits above which a delta time needs four, three and two bytes."""


def with_notes(recording: bytes, tracks: Mapping[int, NDArray[np.void]]) -> bytes:
    """Put notes into a file's tracks, before their ends.

    Parameters
    ----------
    recording : bytes
        A Standard MIDI File whose tracks have nothing after their start, at 1920 ticks a second.
    tracks : mapping of int to array of NOTE, shape (notes,)
        What goes into each track, by its number from 0; in any order, of one moment in that order.

    Returns
    -------
    bytes
    """
    at = 8 + struct.unpack(">L", recording[4:8])[0]
    pieces = [recording[:at]]
    number = 0
    while at < len(recording):
        body = recording[at + 8 : at + 8 + struct.unpack(">L", recording[at + 4 : at + 8])[0]]
        at += 8 + len(body)
        if number in tracks:
            body = body.removesuffix(END_OF_TRACK) + _encoded(tracks[number]) + END_OF_TRACK
        pieces.append(b"MTrk" + struct.pack(">L", len(body)) + body)
        number += 1
    return b"".join(pieces)


def _encoded(notes: NDArray[np.void]) -> bytes:
    """Each note's delta time and message, one after the other."""
    ticks = np.maximum(0, np.rint(notes["seconds"] * TICKS_A_SECOND)).astype(np.int64)
    order = np.argsort(ticks, kind="stable")
    deltas = np.diff(ticks[order], prepend=0)
    cells = np.empty((len(notes), len(LONG) + 4), np.uint8)
    used = np.ones(cells.shape, bool)
    for column, bits in enumerate(LONG):
        cells[:, column] = deltas >> bits & 0x7F | 0x80
        used[:, column] = deltas >= 1 << bits
    cells[:, len(LONG)] = deltas & 0x7F
    cells[:, -3:] = notes["message"][order]
    kind = cells[:, -3] & 0xF0
    used[:, -1] = (kind != 0xC0) & (kind != 0xD0)  # program changes and channel pressure have one data byte
    return cells[used].tobytes()
