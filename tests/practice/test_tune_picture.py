"""How a tune stands, in a line: as high as the tempo reached, bar by bar."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.practice.repertoire import standings
from companion.practice.tune_picture import HEIGHTS, NONE, WIDE, column, tune_picture, tune_words
from companion.preferences import preferences
from companion.preferences.repertoire import RepertoirePreferences
from companion.resources import chart_path
from tests.practice.days import a_round, a_take, evening

RULES = preferences(RepertoirePreferences)
TODAY = date(2026, 11, 28)


def test_a_column_rises_with_the_tempo_and_no_higher_than_the_tunes() -> None:
    columns = [HEIGHTS.index(column(tempo, 120)) for tempo in range(1, 200)]
    assert columns == sorted(columns) and columns[0] == 0 and columns[-1] == len(HEIGHTS) - 1
    assert column(119, 120) == column(120, 120) == "█", "nearly there looks there"
    assert column(100, 120) != "█"


def test_every_section_stands_under_its_name_a_column_a_bar(ferry: Chart) -> None:
    rounds = [a_round(evening(TODAY), (1, 8), 132, True, tune_tempo=132)]
    rounds.append(a_round(evening(TODAY), (9, 12), 66, True, tune_tempo=132))
    (tune,) = standings(rounds, [], evening(TODAY), RULES)
    assert tune_picture(tune, ferry) == "A1 ████████  A2 ▄▄▄▄····  B ········  A2 ········"


def test_a_long_form_fits_and_shows_the_weaker_of_the_bars_in_a_column() -> None:
    chart = load(chart_path("the-road-by-the-reservoir"))
    rounds = [a_round(evening(TODAY), (1, 3), 208, True, tune_tempo=208)]
    (tune,) = standings(rounds, [], evening(TODAY), RULES)
    picture = tune_picture(tune, chart)
    columns = re.sub(rf"[^{HEIGHTS}{NONE}]", "", picture)
    assert len(chart.unfold().bars) == 64 and len(columns) == 32 <= WIDE
    assert columns.startswith("█·"), "of the bars 3 and 4 only one was played"


def test_the_words_say_when_what_holds_and_what_is_due() -> None:
    days = [evening(TODAY - timedelta(days=n)) for n in (8, 7, 1)]
    rounds = [*(a_round(day, (1, 4), 120, True) for day in days), a_round(days[-1], (5, 8), 80, False)]
    (tune,) = standings(rounds, [a_take(days[0])], days[-1], RULES)
    said = tune_words(tune, TODAY, TODAY - timedelta(days=1))
    assert said == "played yesterday, 1 of 2 passages hold, through without a stop at 120, 2 due"


@pytest.mark.parametrize(
    ("tempo", "mark"),
    [(None, "·"), (0.0, "·"), (1, "▁"), (15, "▁"), (15.1, "▂"), (60, "▄"), (105, "▇"), (105.1, "█"), (240, "█")],
)
def test_a_column_is_an_eighth_of_the_tunes_tempo_higher_each_time(tempo: float | None, mark: str) -> None:
    assert column(tempo, 120) == mark


@pytest.mark.parametrize(("bars", "columns"), [(40, 40), (41, 21), (80, 40), (81, 27)])
def test_forty_columns_are_the_most(bars: int, columns: int) -> None:
    text = f'format = 1\ntitle = "Long"\nkey = "C major"\nform = "A"\n[section.A]\nchords = "{"| C6 " * bars}|"\n'
    (tune,) = standings([a_round(evening(TODAY), (1, 1), 132, True)], [], evening(TODAY), RULES)
    assert len(tune_picture(tune, parse_toml(text))) == len("A ") + columns


@pytest.mark.parametrize(
    ("rounds", "takes", "words"),
    [
        ([((1, 4), True)], 0, "its passage holds, 1 due"),
        ([((1, 4), False)], 0, "its passage doesn't hold yet, 1 due"),
        ([((1, 4), True), ((5, 8), True), ((9, 12), False)], 0, "2 of 3 passages hold, 3 due"),
        ([], 1, "through without a stop at 120, 1 due"),
    ],
)
def test_how_a_tune_stands_in_a_few_words(rounds: list[tuple[tuple[int, int], bool]], takes: int, words: str) -> None:
    """Played five days ago."""
    then = evening(TODAY - timedelta(days=5))
    (tune,) = standings(
        [a_round(then, bars, 120, good) for bars, good in rounds], [a_take(then)] * takes, evening(TODAY), RULES
    )
    assert tune_words(tune, TODAY, then.date()) == f"played 5 days ago, {words}"
    assert "due" not in tune_words(tune, then.date(), then.date())


@pytest.mark.parametrize(
    ("tempo", "tunes", "bars"), [(100, 100.0, "████████"), (100, 200.0, "▄▄▄▄▄▄▄▄"), (66, None, "▄▄▄▄▄▄▄▄")]
)
def test_full_height_is_the_tempo_at_which_the_tune_is_played_else_its_charts(
    ferry: Chart, tempo: float, tunes: float | None, bars: str
) -> None:
    """The chart has 132."""
    (tune,) = standings([a_round(evening(TODAY), (1, 8), tempo, True, tune_tempo=tunes)], [], evening(TODAY), RULES)
    assert tune_picture(tune, ferry).startswith(f"A1 {bars}  A2")
