"""Takes that lie in their folders get into the records: tunes and drills, once, and none that can't be read."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from companion.chart.model import Chart
from companion.load import load
from companion.messages import Heard, Order, Report, Round
from companion.pianist.player import simulate
from companion.practice.drill import Drill
from companion.practice.records import Records
from companion.practice.request import Said, drill_request
from companion.practice.taken_in import chart_word, round_record, section_of, take_in, was_played
from companion.resources import chart_path
from companion.stage.demo import perform
from companion.stage.settings import Settings
from companion.stage.take_files import DATA, takes_folder
from companion.stage.take_writer import TakeWriter
from tests.practice.conftest import RoundPlayer, Slips

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
