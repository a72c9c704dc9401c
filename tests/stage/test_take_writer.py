"""A disk that is full, locked or away: it is said, the playing goes on, and what can be kept is kept."""

from __future__ import annotations

import json
import re
import shutil
import tempfile
import time
from dataclasses import asdict, replace
from functools import partial
from pathlib import Path

import pytest

from companion.chart.toml.read import parse_toml
from companion.follow.shape import TempoShape
from companion.messages import Beat, Heard, Order, Round, State
from companion.stage import take_writer
from companion.stage.journal import JOURNAL
from companion.stage.recovery import recover
from companion.stage.settings import Settings
from companion.stage.take import list_takes, read_take
from companion.stage.take_files import DATA, MIDI, TakeFiles, takes_folder
from companion.stage.take_writer import TakeWriter, settings_table, why_not_kept

resource = pytest.importorskip("resource", reason="a file's size can't be limited here")

CHART = parse_toml(
    'format = 1\ntitle = "Back Stairs"\nkey = "C minor"\nmetre = "4/4"\ntempo = 120\nform = "A"\n'
    '[section.A]\nchords = "| Cm7 | G7 |"\n'
)


class Disk:
    """A disk that can become full: no file grows beyond so many bytes (setrlimit, RLIMIT_FSIZE)."""

    def __init__(self):
        self.before = resource.getrlimit(resource.RLIMIT_FSIZE)

    def holds(self, count: int) -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (count, self.before[1]))

    def has_room(self) -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, self.before)


@pytest.fixture
def disk():
    limited = Disk()
    yield limited
    limited.has_room()


@pytest.fixture
def told():
    return []


@pytest.fixture
def writer(tmp_path, told):
    return TakeWriter(CHART, Settings(), tmp_path / "data", tell=told.append)


def play(writer, first, last):
    for n in range(first, last):
        writer.add(Heard(1.0 + 0.1 * n, 0x90 if n % 2 == 0 else 0x80, 60, 80))


def notes(folder):
    return sum(h.is_note_on for h in read_take(folder).heard())


def wait_for(condition, seconds=8.0):
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.01)
    return condition()


def test_a_disk_that_becomes_full_and_has_room_again_loses_no_note(writer, disk, told):
    play(writer, 0, 20)
    disk.holds(2500)
    play(writer, 20, 100)
    assert wait_for(lambda: told)
    assert "held in memory" in told[0]
    disk.has_room()
    assert wait_for(lambda: len(told) == 2)
    assert "nothing of it is missing" in told[1]
    play(writer, 100, 120)
    folder = writer.close("ended")
    assert notes(folder) == 60 and writer.trouble is None
    assert sorted(p.name for p in folder.iterdir()) == [DATA, MIDI]


def test_what_a_crash_leaves_after_a_full_disk_is_read_up_to_there(writer, disk, told, tmp_path):
    play(writer, 0, 20)
    disk.holds(2500)
    play(writer, 20, 100)
    assert wait_for(lambda: told)
    [journal] = (tmp_path / "data").rglob(JOURNAL)
    assert journal.stat().st_size == 2500  # the last row is cut off
    copy = takes_folder(tmp_path / "crashed") / "broken-off"
    copy.mkdir(parents=True)
    disk.has_room()
    shutil.copy(journal, copy / JOURNAL)
    assert recover(tmp_path / "crashed").completed == [copy]
    assert 10 < notes(copy) < 50
    writer.close("ended")


def test_a_take_whose_journal_is_cut_off_is_kept_whole_where_its_files_fit(writer, disk, told):
    disk.holds(2500)
    play(writer, 0, 200)  # a note takes four bytes in the file, and ten times as many in the journal
    folder = writer.close("ended")
    assert told and writer.trouble is None
    assert notes(folder) == 100


def test_a_take_that_can_not_be_kept_where_it_belongs_is_kept_elsewhere_and_the_end_says_where(tmp_path, told):
    (tmp_path / "takes").write_text("a file where the folder should be")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    writer = TakeWriter(CHART, Settings(), tmp_path, tell=told.append, elsewhere=elsewhere)
    play(writer, 0, 40)
    folder = writer.close("ended")
    assert folder.parent == elsewhere and notes(folder) == 20
    assert str(folder) in writer.trouble and str(tmp_path / "takes") in writer.trouble


def test_a_folder_that_is_taken_away_while_one_plays_loses_nothing(tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    writer = TakeWriter(CHART, Settings(), tmp_path / "data", elsewhere=elsewhere)
    play(writer, 0, 20)
    assert wait_for(lambda: list(tmp_path.rglob(JOURNAL)))
    shutil.rmtree(tmp_path / "data")
    play(writer, 20, 40)
    folder = writer.close("ended")
    assert notes(folder) == 20 and str(folder) in writer.trouble


def test_where_nothing_can_be_kept_the_end_says_so_and_names_no_folder(tmp_path):
    (tmp_path / "takes").write_text("a file where the folder should be")
    writer = TakeWriter(CHART, Settings(), tmp_path, elsewhere=tmp_path / "not-there")
    play(writer, 0, 40)
    assert writer.close("ended") is None
    assert re.fullmatch(r"the take could not be kept in .* \((?!None)\w.*\)", writer.trouble)


def test_what_stays_in_a_journal_at_the_end_is_named_and_becomes_a_take_when_there_is_room(writer, disk, tmp_path):
    play(writer, 0, 40)
    assert wait_for(lambda: list(tmp_path.rglob(JOURNAL)))
    [journal] = tmp_path.rglob(JOURNAL)
    assert wait_for(lambda: journal.read_bytes().count(b"\n") == 41)
    disk.holds(100)
    assert writer.close("ended") is None
    assert f"; what was played lies in {journal}" in writer.trouble
    disk.has_room()
    [take] = list_takes(tmp_path / "data")
    assert notes(take.folder) == 20


def test_where_the_disk_took_nothing_no_journal_is_named(tmp_path, disk):
    writer = TakeWriter(CHART, Settings(), tmp_path / "data", elsewhere=tmp_path / "not-there")
    disk.holds(0)
    play(writer, 0, 4)
    assert writer.close("ended") is None
    assert writer.trouble.startswith("the take could not be kept in") and JOURNAL not in writer.trouble


def test_settings_are_a_table_of_what_json_can_hold():
    shape = TempoShape(16.0, (0.0, 8.0), (1.0, 0.9), (0.1, 0.1), 2)
    table = settings_table(Settings(you=frozenset({"melody", "bass"}), shape=shape))
    assert table["you"] == ["bass", "melody"] and table["tempo"] is None and table["shape"] == asdict(shape)
    assert json.loads(json.dumps(table))["shape"]["beats"] == [0.0, 8.0]


def test_a_full_temporary_folder_costs_no_note(writer, monkeypatch, tmp_path):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "not-there"))
    monkeypatch.setattr(take_writer, "TakeFiles", partial(TakeFiles, in_memory=4096))
    count = 1000  # more than lies in memory
    play(writer, 0, count)
    assert notes(writer.close("ended")) == count // 2 and writer.trouble is None


def test_a_row_that_the_disk_cut_in_two_is_put_together_again(writer, disk, monkeypatch, tmp_path):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "not-there"))
    monkeypatch.setattr(take_writer, "TakeFiles", partial(TakeFiles, in_memory=64))
    disk.holds(2500)
    play(writer, 0, 200)
    assert notes(writer.close("ended")) == 100 and writer.trouble is None


def test_whether_a_take_can_be_kept_is_known_before_the_first_note(tmp_path, disk):
    assert why_not_kept(tmp_path) is None
    disk.holds(10_000)
    assert "can't be kept" in why_not_kept(tmp_path)
    disk.has_room()
    assert why_not_kept(tmp_path) is None
    assert list(Path(takes_folder(tmp_path)).iterdir()) == []
    shutil.rmtree(takes_folder(tmp_path))
    takes_folder(tmp_path).write_text("a file where the folder should be")
    assert str(takes_folder(tmp_path)) in why_not_kept(tmp_path)


@pytest.mark.parametrize(("room", "kept"), [(1 << 20, True), ((1 << 20) - 1, False)])
def test_a_megabyte_must_fit_before_the_first_note(tmp_path, disk, room, kept):
    """Half an hour of playing."""
    disk.holds(room)
    assert (why_not_kept(tmp_path) is None) == kept


@pytest.mark.parametrize(("first", "kept"), [(3.0, 1.0), (1.25, 1.0), (1.0, 1.0), (0.4, 0.4), (0.0, 0.0)])
def test_a_take_begins_a_second_before_its_first_note_or_with_the_clock(writer, first, kept):
    writer.add(Order(first, "bass", 0x90, 40, 64))
    writer.add(Order(first + 0.5, "bass", 0x80, 40, 0))
    assert [event.seconds for event in writer._waiting] == pytest.approx([kept, kept + 0.5])


def test_what_came_before_a_take_lies_at_its_beginning_and_a_round_begins_by_its_time(writer):
    writer.add(State(5.0, "waiting"))
    writer.add(Order(10.0, "click", 0x90, 76, 64))
    writer.add(Round(12.0, 1, 1, 2, ("melody",), "C major", 96.0, 12.5))
    assert [event.seconds for event in writer._waiting] == pytest.approx([0.0, 1.0, 3.0])
    assert writer._waiting[-1].start == pytest.approx(3.5) and writer.drilled


@pytest.mark.parametrize(("first", "start"), [(9.0, 2.0), (1.5, 9.5), (0.5, 10.0)])
def test_the_start_that_is_kept_is_by_the_takes_own_time(tmp_path, first, start):
    """It begins a second before its first note."""
    source = Path("charts", "back-stairs.toml")
    writer = TakeWriter(replace(CHART, source=source), Settings(start=10.0), tmp_path)
    writer.add(Heard(first, 0x90, 60, 80))
    assert writer._head["settings"]["start"] == pytest.approx(start)
    assert writer._head["chart"]["source"] == str(source)
    assert TakeWriter(CHART, Settings(), tmp_path)._head["chart"]["source"] is None
    writer.close("ended")


@pytest.mark.parametrize(
    ("status", "velocity", "count"),
    [(0x90, 0, 0), (0x90, 1, 1), (0x91, 64, 1), (0x9F, 64, 1), (0x80, 64, 0), (0xA0, 64, 0), (0xB0, 64, 0)],
)
def test_a_note_is_counted_for_its_part_when_it_begins(writer, status, velocity, count):
    """A note-on without velocity is a note-off; the channel is in the lower half of the status byte (MIDI 1.0)."""
    writer.add(Order(1.0, "bass", status, 40, velocity))
    assert writer.notes_by_part["bass"] == count and writer.notes_by_part["chords"] == 0


def test_a_take_is_as_long_as_to_the_last_thing_heard_or_the_last_beat(writer):
    for event, seconds in (
        (Order(1.0, "bass", 0x90, 40, 64), 0.0),
        (Heard(2.5, 0x80, 60, 0), 2.5),
        (Order(9.0, "bass", 0x80, 40, 0), 2.5),
        (Beat(0.0, 3.0, 0.9), 3.0),
        (Beat(1.0, 2.75, 0.9), 3.0),
        (State(12.0, "ended"), 3.0),
    ):
        writer.add(event)
        assert writer.seconds == seconds
    assert writer.notes_heard == 0 and not writer.drilled
