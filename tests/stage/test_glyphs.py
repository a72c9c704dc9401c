"""Large letters keep their shape in every size."""

from __future__ import annotations

import pytest

from companion.stage.glyphs import drawable, large, largest, width

SYMBOLS = ("E♭maj7", "F♯m7♭5", "D7alt", "B♭13sus4/F", "Cø7", "G°7", "Cm(maj7)", "AΔ9", "N.C.", "C7(♭9,♭13)", "F6/9")


@pytest.mark.parametrize("symbol", SYMBOLS)
@pytest.mark.parametrize(("size", "rows"), [(1, 4), (2, 7), (4, 14)])
def test_every_chord_symbol_can_be_drawn_whole(symbol, size, rows):
    assert drawable(symbol) == symbol
    drawn = large(symbol, size)
    assert len(drawn) == rows
    assert {len(row) for row in drawn} == {width(symbol, size)}


def test_no_two_letters_look_alike():
    """What a player reads at a glance mustn't be taken for something else."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789♭♯°øΔ+-/().,"
    drawn = {letter: tuple(large(letter, 2)) for letter in letters}
    assert len(set(drawn.values())) == len(letters)


def test_a_text_is_as_large_as_there_is_room():
    assert largest("Gm6", 200, 40) == large("Gm6", 4)
    assert largest("Gm6", 40, 8) == large("Gm6", 2)
    assert largest("Gm6", 40, 5) == large("Gm6", 1)
    assert largest("Gm6", 10, 5) == ["Gm6"]
