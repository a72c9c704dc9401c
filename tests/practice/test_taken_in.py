"""Takes that lie in their folders get into the records: tunes and drills, once, and none that can't be read."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from companion.chart.model import Chart
from companion.load import load
from companion.messages import Beat, Heard, Order, Report, Round, State
from companion.pianist.player import simulate
from companion.practice.drill import Drill
from companion.practice.records import Records
from companion.practice.request import Said, drill_request
from companion.practice.taken_in import chart_word, round_record, section_of, take_in, take_record, was_played
from companion.resources import chart_path
from companion.stage.demo import perform
from companion.stage.settings import Settings
from companion.stage.take_files import DATA, takes_folder
from companion.stage.take_writer import TakeWriter
from tests.practice.conftest import RoundPlayer, Slips
from tests.practice.test_partner import TUNE, take_of

MELODY = frozenset({"melody"})


def drilled_take(
    chart: Chart, data: Path, rounds: int, watch: Callable[[Heard | Order | Report], None] = lambda one: None
) -> Path:
    """A drill in virtual time, kept as a take as it is while playing: the first round goes wrong, the others don't."""
    request = drill_request(chart, (9, 12), Said(you=MELODY, start=80.0, goal=100.0))
    drill = Drill(chart, request)
    writer, player = TakeWriter(chart, Settings(you=MELODY), data), RoundPlayer()
    for number in range(rounds):
        slips = Slips(wrong=frozenset({2})) if number == 0 else Slips()
        heard: list[Heard] = player.plays(drill.round, slips)
        told: list[Heard | Order | Report] = []
        for event in [*heard, None]:
            step = drill.advance(event.seconds, [event]) if event else drill.advance(heard[-1].seconds + 4.0, [])
            told += [*([event] if event else []), *step.orders, *step.reports]
        for one in sorted(told, key=lambda one: one.seconds):
            writer.add(one)
            watch(one)
    folder = writer.close("stopped")
    assert folder
    return folder


@pytest.fixture(scope="module")
def tune_played(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder for user data with a take of a tune, two times through."""
    data, ferry = tmp_path_factory.mktemp("tune"), load(chart_path("ferry-without-lights"))
    player = simulate(ferry.unfold(), MELODY, choruses=2, seed=5, manner="human")
    settings = Settings(tempo=player.tempo, start=player.start, count_in=2, choruses=2)
    perform(ferry, settings, player, fast=True, data=data)
    return data


@pytest.fixture
def tune_data(tune_played: Path, tmp_path: Path) -> Path:
    """The same, for one test to change."""
    shutil.copytree(tune_played, tmp_path, dirs_exist_ok=True)
    return tmp_path


def test_a_take_of_a_tune_is_taken_in_once(tune_data: Path, ferry: Chart) -> None:
    with Records(tune_data) as records:
        assert take_in(records, tune_data) == 1
        assert take_in(records, tune_data) == 0
        (take,) = records.takes()
    assert (take.chart, take.title, take.bars) == ("ferry-without-lights", ferry.title, 32)
    assert take.choruses == 2 and take.you == ("melody",)
    assert take.tempo == pytest.approx(ferry.tempo, rel=0.1)
    assert abs(take.started - datetime.now().astimezone()) < timedelta(minutes=5)


def test_the_rounds_of_a_drill_are_found_in_its_take(tmp_path: Path, ferry: Chart) -> None:
    folder = drilled_take(ferry, tmp_path, 3)
    with Records(tmp_path) as records:
        take_in(records, tmp_path)
        rounds, (take,) = records.rounds(), records.takes()
    assert [one.good for one in rounds] == [False, True, True]
    assert "bar" in rounds[0].why and rounds[1].why == ""
    assert {(one.first, one.last, one.section, one.you) for one in rounds} == {(9, 12, "A2", ("melody",))}
    assert {one.take for one in rounds} == {folder.name}
    assert all(one.own_key and one.tune_tempo == ferry.tempo and one.spread_ms is not None for one in rounds)
    assert rounds[0].wrong == 1 and rounds[1].wrong == 0
    assert take.choruses == 0, "rounds are no times through the form"


def test_rounds_told_live_and_found_in_the_take_are_the_same(tmp_path: Path, ferry: Chart) -> None:
    """Live they come with the clock's time; in the take with the seconds since its first note."""
    told: list[Heard | Order | Report] = []
    drilled_take(ferry, tmp_path, 3, told.append)
    with Records(tmp_path) as records:
        take_in(records, tmp_path)
        found, (take,) = records.rounds(), records.takes()
        played = [one for one in told if isinstance(one, Round) and was_played(one)]
        assert len(played) == len(found)
        first_note = next(one.seconds for one in told if isinstance(one, Heard))
        since = (found[0].at - take.started).total_seconds()
        assert since == pytest.approx(played[0].seconds - first_note, abs=0.01), "a take is begun with its first note"
        first = found[0].at - timedelta(seconds=played[0].seconds)
        for report in played:
            at = first + timedelta(seconds=report.seconds + 1.5)
            assert not records.add_round(round_record(report, at, ferry, found[0].chart, kind="usual"))
        assert records.rounds() == found


def test_a_damaged_take_is_left_for_the_next_time(tune_data: Path) -> None:
    (folder,) = takes_folder(tune_data).iterdir()
    whole = (folder / DATA).read_bytes()
    (folder / DATA).write_bytes(whole[:200])
    with Records(tune_data) as records:
        assert take_in(records, tune_data) == 0
        (folder / DATA).write_bytes(whole)
        assert take_in(records, tune_data) == 1


def test_a_take_whose_folder_has_gone_stays_in_the_records(tune_data: Path) -> None:
    """A disk that isn't plugged in is no wish to forget."""
    with Records(tune_data) as records:
        take_in(records, tune_data)
        shutil.rmtree(takes_folder(tune_data))
        assert take_in(records, tune_data) == 0
        assert len(records.takes()) == 1


def test_records_that_were_damaged_are_made_anew_from_the_takes(tmp_path: Path, ferry: Chart) -> None:
    drilled_take(ferry, tmp_path, 3)
    with Records(tmp_path) as records:
        take_in(records, tmp_path)
        before = records.rounds()
    (tmp_path / "records.db").write_bytes(b"noise" * 1000)
    with Records(tmp_path) as records:
        assert records.trouble
        take_in(records, tmp_path)
        assert records.rounds() == before


def test_a_chart_is_known_by_the_word_that_a_command_finds_it_by(tmp_path: Path) -> None:
    assert chart_word(chart_path("ferry-without-lights"), "Ferry") == "ferry-without-lights"
    assert chart_word(Path("/gone/charts/ferry-without-lights.toml"), "Ferry") == "ferry-without-lights"
    other = tmp_path / "ferry-without-lights.toml"
    other.write_text("another tune of that name")
    assert chart_word(other, "Ferry") == str(other)
    assert chart_word(None, "Ferry") == "Ferry"


def test_bars_lie_in_a_section_or_in_several(ferry: Chart) -> None:
    form = ferry.unfold()
    assert section_of(form, 9, 16) == "A2"
    assert section_of(form, 8, 9) == ""
    assert section_of(form, 30, 40) == ""


def test_a_drill_in_another_key_is_not_in_the_tunes_own(ferry: Chart) -> None:
    report = Round(10.0, 1, 9, 12, ("melody",), "Z", 80.0, 2.0, good=True, right=9)
    at = datetime.now().astimezone()
    assert not round_record(report, at, ferry, "x").own_key
    assert round_record(replace(report, key="Z"), at, None, "x").own_key, "of a chart that has gone nothing is known"


@pytest.mark.parametrize(
    ("first", "last", "section"),
    [
        (1, 1, "A1"),
        (1, 8, "A1"),
        (9, 9, "A2"),
        (32, 32, "A2"),
        (0, 1, ""),
        (0, 0, ""),
        (32, 33, ""),
        (9, 8, ""),
        (16, 17, ""),
    ],
)
def test_a_passage_is_in_the_section_that_has_all_of_it(ferry: Chart, first: int, last: int, section: str) -> None:
    assert section_of(ferry.unfold(), first, last) == section


@pytest.mark.parametrize(
    ("change", "played"),
    [({"right": 1}, True), ({"wrong": 1}, True), ({"extra": 1}, True), ({"missing": 9}, False),
     ({"right": 1, "wrong": 1}, True), ({"right": 1, "extra": 1}, True), ({"wrong": 1, "extra": 1}, True),
     ({"right": 1, "good": None}, False), ({"right": 1, "good": False}, True)],
)  # fmt: skip
def test_a_round_was_played_where_it_is_over_and_a_note_was_struck(change: dict[str, int], played: bool) -> None:
    report = Round(10.0, 1, 9, 12, ("melody",), "C", 80.0, 2.0, good=True)
    assert was_played(replace(report, **change)) == played  # type: ignore[arg-type]


def test_how_time_was_kept_in_a_round_is_as_it_was_told_else_as_its_take_has_it(tmp_path: Path) -> None:
    report = Round(10.0, 1, 1, 2, ("melody",), "C major", 80.0, 2.0, good=True)
    take = take_of(tmp_path, [[77]], you="melody")
    take = replace(take, settings={**take.settings, "time": "steady"})
    told = [
        round_record(report, take.started, TUNE, "four", time=time, take=of).time
        for time, of in (("patient", None), ("patient", take), ("", take), ("", None))
    ]
    assert told == ["patient", "patient", "steady", ""]


def test_a_round_lasts_from_its_downbeat_to_its_judgement() -> None:
    at = datetime.now().astimezone()
    report = Round(10.0, 1, 9, 12, ("melody",), "C", 80.0, 2.5, good=False, why="bar 9: stopped", right=1)
    found = round_record(report, at, None, "a word", kind="usual", time="steady")
    assert (found.seconds, found.why, found.title, found.section) == (7.5, "bar 9: stopped", "a word", "")
    assert round_record(replace(report, start=11.0), at, None, "a word").seconds == 0.0


@pytest.mark.parametrize(
    ("beats", "choruses"),
    [
        ([(1, range(16))], 1),
        ([(1, range(15))], 1),  # whoever leaps over a beat or two has still played it
        ([(1, range(14))], 0),
        ([(1, range(16)), (2, range(8))], 1),
        ([(1, range(16)), (2, range(1, 16))], 2),
        ([(1, range(8)), (2, range(8, 16))], 0),
        ([(1, range(-4, 12))], 0),  # what lies before the first downbeat doesn't count
        ([(1, range(4, 20))], 0),  # nor what lies after the end
    ],
)
def test_a_chorus_counts_with_nine_tenths_of_its_beats(
    tmp_path: Path, beats: list[tuple[int, Sequence[float]]], choruses: int
) -> None:
    """Sixteen beats a chorus: fifteen are enough."""
    take = take_of(tmp_path, [[60] * 4])
    told = tuple(Beat(float(at), 1.0 + n, 0.99, chorus) for chorus, row in beats for n, at in enumerate(row))
    assert take_record(replace(take, beats=told), TUNE, "four-steps").choruses == choruses
    around = tuple(replace(one, event="introduction") for one in told)
    assert take_record(replace(take, beats=around), TUNE, "four-steps").choruses == 0


def test_a_take_says_how_often_it_was_waited_for_and_what_it_is_of(tmp_path: Path) -> None:
    take = take_of(tmp_path, [[60] * 4])
    states = [State(1.0, name, 0.0, 120.0) for name in ("playing", "holding", "playing", "holding", "ended")]
    found = take_record(replace(take, states=tuple(states)), TUNE, "four-steps")
    assert (found.stops, found.bars, found.key, found.tune_tempo, found.time) == (2, 4, "C major", 120.0, "follow")
    gone = take_record(take, None, "four-steps")
    assert (gone.stops, gone.bars, gone.key, gone.tune_tempo, gone.choruses) == (0, 0, "", None, 0)
    assert take_record(replace(take, settings={}), TUNE, "four-steps").you == ()
