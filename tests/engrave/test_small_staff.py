"""Voicings on a small staff: each its own drawing, low ones in the bass clef."""

from __future__ import annotations

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
