"""Notes that are put into a file at once are the same as those written message by message."""

from __future__ import annotations

import io

import mido
import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from companion.messages import PARTS, Heard, Order
from companion.stage.note_tracks import NOTE, PACKED, with_notes
from companion.stage.performance import recording_bytes
from companion.stage.take_files import TakeFiles

SECONDS = st.floats(0, 24 * 3600, allow_nan=False) | st.sampled_from([0.0, 1.0, 1.0000001, 127 / 1920, 128 / 1920])
DATA = st.integers(0, 127)
HEARD = st.builds(Heard, SECONDS, st.sampled_from([0x80, 0x90, 0xB0]), DATA, DATA)
ORDERS = st.builds(Order, SECONDS, st.sampled_from(PARTS), st.sampled_from([0x80, 0x90, 0xB0, 0xC0]), DATA, DATA)


def messages(data: bytes) -> list[list[mido.Message]]:
    return [list(track) for track in mido.MidiFile(file=io.BytesIO(data)).tracks]


@given(st.lists(HEARD, max_size=30), st.lists(ORDERS, max_size=30))
def test_a_take_s_file_holds_what_the_recording_of_the_same_events_holds(heard, orders):
    files = TakeFiles()
    for event in (*heard, *orders):
        files.add(event)
    on = dict(files._on)
    made = files._midi("Back Stairs")
    files.close()
    # What is left on is ended at the end of the take.
    ends = [Order(files.last, part, 0x80, note, 64) for (part, note), count in on.items() for _ in range(count)]
    assert messages(made) == messages(recording_bytes(heard, [*orders, *ends], title="Back Stairs"))


def test_the_examples_of_the_standard_for_delta_times():
    # Standard MIDI Files 1.0, "Some examples of numbers represented as variable-length quantities".
    examples = {0: "00", 0x40: "40", 0x7F: "7F", 0x80: "8100", 0x2000: "C000", 0x3FFF: "FF7F", 0x4000: "818000"}
    examples |= {0x100000: "C08000", 0x1FFFFF: "FFFF7F", 0x200000: "81808000", 0x8000000: "C0808000"}
    for ticks, quantity in examples.items():
        note = np.frombuffer(PACKED.pack(ticks / 1920, 0, 0x90, 60, 80), NOTE)
        made = with_notes(recording_bytes([], []), {1: note})
        assert bytes.fromhex(quantity) + bytes([0x90, 60, 80, 0, 0xFF, 0x2F, 0]) in made
