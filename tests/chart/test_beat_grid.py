"""A section on a grid of beats, as a pianist reads it at the stand."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.chart.beat_grid import BeatGrid, systems
from companion.chart.toml.read import parse_toml
from companion.load import load

CHARTS = sorted((Path(__file__).parents[2] / "charts").glob("*.toml"))


def shown(melody: str, chords: str = "| Cmaj7 |", width: int = 100, more: str = "", head: str = "") -> list[str]:
    chart = parse_toml(f'format = 1\n{head}\n[section.A]\nchords = "{chords}"\nmelody = "{melody}"\n{more}')
    section = chart.sections[0]
    return list(systems(BeatGrid(section, chart.metre), width, list(range(1, len(section.bars) + 1))))


def test_each_note_stands_on_its_beat_and_is_drawn_as_long_as_it_is_held() -> None:
    assert shown("| c4 d2 e f |") == [
        "    | 1  2 3  4  +  |",
        "  1 | Cmaj7         |",
        "    | C5-- D5 E5 F5 |",
    ]


def test_a_rest_is_left_blank() -> None:
    ruler, _, melody = shown("| z2 c2 z2 d2 |")
    assert [melody[ruler.index(beat)] for beat in "1234"] == [" ", "C", " ", "D"]


def test_a_note_tied_over_the_bar_line_reaches_it_and_goes_on_without_a_name() -> None:
    _, _, melody = shown("| c8- | c2 z6 |", "| C | G |")
    first, second = melody.split("|")[1:3]
    assert first.startswith(" C5-") and first.endswith("-")
    assert second.startswith(" -") and second.rstrip().endswith("-") and "C5" not in second


def test_what_sounds_together_stands_in_one_column() -> None:
    _, chords, melody = shown("| c4 d4 | e6 f2 |", "| Cmaj7 G7 | Dm7 . . G7 |")
    assert chords.index("G7") == melody.index("D5") and chords.rindex("G7") == melody.index("F5")


def test_a_triplet_has_columns_of_its_own() -> None:
    """Three in the time of two (ABC 2.1, section 4.13): places at thirds of the beat, which have no name."""
    ruler, _, melody = shown("| (3cde f2 g4 |")
    assert [ruler[melody.index(name)] for name in ("C5", "D5", "E5", "F5", "G5")] == ["1", ".", ".", "2", "3"]


def test_in_six_eight_the_beats_are_dotted_quarters() -> None:
    ruler, _, melody = shown("| c3 d3 |", head='metre = "6/8"\nunit = "1/8"')
    assert ruler.split("|")[1].split() == ["1", "2"]
    assert melody.index("D5") == ruler.index("2")


def test_a_pickup_stands_under_its_beats_before_the_first_bar() -> None:
    ruler, _, melody = shown("GA | c8 |")
    before = melody.split("|")[0]
    assert before.split() == ["G4", "A4"] and ruler.split("|")[0].split() == ["4", "+"]
    assert ruler.index("4") == melody.index("G4") and ruler.index("+") == melody.index("A4")


def test_where_there_is_no_room_the_pickup_has_a_line_of_its_own() -> None:
    lines = shown("GA | c2d2e2fg | c8 |", "| Cmaj7 | G7 |", width=23)
    assert lines[0].startswith("pickup: ") and max(map(len, lines)) <= 23


def test_a_long_symbol_pushes_the_next_chord_away() -> None:
    _, chords, _ = shown("| c4 d4 |", "| Cmaj7#11 Gm7b5 |")
    assert "Cmaj7#11 " in chords and "Gm7b5 " in chords


@pytest.mark.parametrize("path", CHARTS, ids=lambda path: path.stem)
def test_no_note_of_our_tunes_is_lost_and_none_runs_into_another(path: Path) -> None:
    chart = load(path)
    for section in chart.sections:
        grid = BeatGrid(section, chart.metre)
        drawn = [word.rstrip("-") for bar in grid.bars() for word in bar.melody.split() if word.strip("-")]
        drawn = [word.rstrip("-") for word in grid.pickup()[1].split()] + drawn
        assert drawn == [str(note.pitch) for note in section.melody]
        assert all(len(bar.melody) == len(bar.chords) == grid.width for bar in grid.bars())
        symbols = [word for bar in grid.bars() for word in bar.chords.split() if word != "%"]
        assert symbols == [word for span in section.chords for word in span.chord.symbol.split()]


@pytest.mark.parametrize(("width", "bars"), [(49, 4), (48, 2), (27, 2), (26, 1), (5, 1)])
def test_as_many_bars_stand_on_a_line_as_fit(width: int, bars: int) -> None:
    """Four, two or one: here of nine columns each, beside a margin of three and their bar lines."""
    lines = shown("| c8 | d8 | e8 | f8 |", "| C | F | G | Am |", width=width)
    assert lines[0] == "    |" + " 1  2 3 4 |" * bars and len(lines) == 1 + 2 * (4 // bars)
    assert [line.split("|")[0].strip() for line in lines[1::2]] == [str(k) for k in range(1, 5, bars)]


@pytest.mark.parametrize(("width", "apart"), [(32, False), (31, True)])
def test_a_pickup_stands_beside_its_bar_to_the_last_column_that_there_is(width: int, apart: bool) -> None:
    lines = shown("GABc | c8 |", "| C |", width=width)
    beside = [
        "3  +  4  +  | 1  2 3  +  4  +  |",
        "          1 | C                |",
        "G4 A4 B4 C5 | C5-------------- |",
    ]
    above = [
        "pickup: 3  +  4  + ",
        "        G4 A4 B4 C5",
        "  | 1  2 3  +  4  +  |",
        "1 | C                |",
        "  | C5-------------- |",
    ]
    assert lines == (above if apart else beside)


def test_a_pickup_may_be_a_bar_long_and_one_that_is_longer_is_left_out() -> None:
    assert shown("G8 | c8 |", "| C |") == ["1  2 3 4 | 1  2 3 4 |", "       1 | C        |", "G4------ | C5------ |"]
    assert shown("A2G8 | c8 |", "| C |") == ["    | 1  2 3 4 |", "  1 | C        |", "    | C5------ |"]


def test_a_pickup_of_one_note_is_never_apart() -> None:
    assert not shown("G2 | c8 |", "| C |", width=5)[0].startswith("pickup")


def test_a_bar_without_a_new_chord_has_a_sign_and_a_tie_runs_over_the_bar_line() -> None:
    assert shown("| c8 | z6 c2- | c4 z4 |", "| C | . | G7alt . . F7 |") == [
        "    | 1  2 3 4  | 1  2 3 4  | 1  2 3 4  |",
        "  1 | C         | %         | G7alt  F7 |",
        "    | C5------- |        C5-| ----      |",
    ]


def test_what_begins_between_the_beats_has_a_column_of_its_own() -> None:
    assert shown("| c2e/2f/2 g3 z a |", "| C Gm7b5 |") == [
        "    | 1  2  .  +  3 4 +  |",
        "  1 | C           Gm7b5  |",
        "    | C5 E5 F5 G5--   A5 |",
    ]


def test_bars_of_a_section_that_is_never_played_have_no_numbers() -> None:
    chart = parse_toml('format = 1\n[section.A]\nchords = "| C |"\nmelody = "| c8 |"')
    assert list(systems(BeatGrid(chart.sections[0], chart.metre), 100, [])) == [
        "    | 1  2 3 4 |", "    | C        |", "    | C5------ |",
    ]  # fmt: skip


def test_from_the_tenth_beat_on_numbers_have_a_column_more() -> None:
    ruler, _, _ = shown("| c24 |", "| C |", head='metre = "12/4"\nunit = "1/8"')
    assert ruler == "    | 1  2 3 4 5 6 7 8 9 10 11 12 |"
