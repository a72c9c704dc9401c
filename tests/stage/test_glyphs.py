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


@pytest.mark.parametrize(
    ("text", "columns"),
    [("", 0), ("A", 5), ("i", 1), ("AA", 11), ("A A", 14), ("i i", 6), (" ", 2), ("–", 0), ("A–A", 11)],
)
@pytest.mark.parametrize("size", [1, 2, 4])
def test_letters_stand_a_dot_apart_and_a_space_is_two_dots_wide(text: str, columns: int, size: int) -> None:
    assert width(text, size) == columns * size
    assert {len(row) for row in large(text, size)} == {columns * size}


def test_a_dot_is_a_block_two_or_four_columns_wide_and_one_or_two_rows_high() -> None:
    assert large("L", 2) == ["██        "] * 6 + ["██" * 5]
    assert large("L", 4) == ["████" + " " * 16] * 12 + ["████" * 5] * 2
    assert large("L i", 1) == ["█        ▀", "█        █", "█        █", "▀▀▀▀▀    ▀"], "two dots in a row of text"


def test_what_can_not_be_drawn_is_left_out() -> None:
    assert drawable("E♭maj7♯11 – ß") == "E♭maj7♯11  " and large("ß", 1) == large("", 1)


@pytest.mark.parametrize(
    ("columns", "rows", "size"),
    [
        (64, 14, 4), (63, 14, 2), (64, 13, 2), (32, 7, 2), (31, 7, 1), (32, 6, 1), (16, 4, 1), (15, 4, 0), (16, 3, 0),
    ],
)  # fmt: skip
def test_how_much_room_a_text_needs(columns: int, rows: int, size: int) -> None:
    """Three letters of five dots less one, and a dot between them: sixteen dots."""
    assert width("G7i", 1) == 13 and width("Gm6", 1) == 17
    assert largest("GiD", 999, 99) == large("GiD", 4) and width("GKh", 1) == 16
    assert largest("GKh", columns, rows) == (large("GKh", size) if size else ["GKh"])


def test_where_there_is_no_room_at_all_a_text_is_cut() -> None:
    assert largest("E♭maj7", 4, 1) == ["E♭ma"]
