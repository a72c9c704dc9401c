"""Voicings on a small staff: each its own drawing, low ones in the bass clef."""

from __future__ import annotations

import re

import pytest

from companion.engrave.small_staff import small_staves
from companion.music.pitch import Pitch, pitch_in_key

pytest.importorskip("verovio", reason="the engraver is not installed")

TREBLE, BASS = "E050", "E062"
"""Clefs by their code points in SMuFL 1.4."""


def voicing(*midi: int) -> tuple[Pitch, ...]:
    return tuple(pitch_in_key(number, -1) for number in midi)


def test_each_voicing_has_as_many_heads_as_notes_and_the_clef_that_it_lies_in() -> None:
    high, low = voicing(58, 62, 65, 69), voicing(48, 52, 55)
    drawn = small_staves([high, low, high])
    assert set(drawn) == {high, low}
    for notes, clef in ((high, TREBLE), (low, BASS)):
        svg = drawn[notes]
        assert svg.count('class="notehead"') == len(notes)
        assert f"#{clef}" in svg
        assert "timeSig" not in svg and "meterSig" not in svg


def test_nothing_is_drawn_of_nothing() -> None:
    assert small_staves([()]) == {}


@pytest.mark.parametrize(
    ("notes", "clef"), [((50, 57, 64), TREBLE), ((50, 57, 63), BASS), ((57,), TREBLE), ((56,), BASS)]
)
def test_a_voicing_stands_in_the_treble_clef_whose_middle_is_a_3_or_more(notes: tuple[int, ...], clef: str) -> None:
    (svg,) = small_staves([voicing(*notes)]).values()
    assert f"#{clef}" in svg and "keyAccid" not in svg


def test_a_drawing_is_24_mm_wide_with_room_for_a_brace_and_the_last_line() -> None:
    """In tenths of a millimetre: 12 mm of margin on both sides are cut off but for 4.5 and 0.8 mm."""
    (svg,) = small_staves([voicing(58, 62)]).values()
    frame = re.search(r'viewBox="(\S+) 0 (\S+) \S+"', svg)
    assert frame and (float(frame[1]), float(frame[2])) == (120 - 45, 240 + 45 + 8)
