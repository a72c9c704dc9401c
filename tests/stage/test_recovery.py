"""No journal and no take that was damaged stands in the way of the next playing, and none is lost."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.toml.read import parse_toml
from companion.errors import InputError
from companion.messages import Beat, Heard, Order, State
from companion.stage.journal import JOURNAL, head_line, line_of
from companion.stage.recovery import AS_FOUND, SET_ASIDE, recover
from companion.stage.settings import Settings
from companion.stage.take import DamagedTake, Take, list_takes, read_take
from companion.stage.take_files import DATA, MIDI, takes_folder
from companion.stage.take_writer import TakeWriter

CHART = parse_toml(
    'format = 1\ntitle = "Back Stairs"\nkey = "C minor"\nmetre = "4/4"\ntempo = 120\nform = "A"\n'
    '[section.A]\nchords = "| Cm7 | G7 |"\n'
)
EVENTS = [
    State(0.0, "counting", None, 120.0),
    Heard(1.0, 0x90, 67, 80),
    Order(1.5, "bass", 0x90, 43, 90),
    Beat(0.0, 1.5, 0.9),
    Heard(1.6, 0x80, 67, 64),
    Order(1.9, "bass", 0x80, 43, 64),
]


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A kept take: its folder."""
    writer = TakeWriter(CHART, Settings(), tmp_path_factory.mktemp("kept"))
    for event in EVENTS:
        writer.add(event)
    return writer.close("ended")


@pytest.fixture(scope="module")
def head(kept):
    """What the first row of its journal said."""
    table = json.loads((kept / DATA).read_text())
    return {name: table[name] for name in ("format", "companion", "title", "started", "chart", "settings")}


def broken_off(data, *lines: bytes, name: str = "2026-01-01-200000-back-stairs"):
    """A journal as a crash leaves it."""
    place = takes_folder(data) / name
    place.mkdir(parents=True)
    (place / JOURNAL).write_bytes(b"".join(lines))
    return place


ROWS = [line_of(event) for event in EVENTS]


def test_a_journal_with_a_byte_that_is_no_midi_becomes_a_take_without_it(tmp_path, head):
    place = broken_off(tmp_path, head_line(head), *ROWS, b'["heard",2.0,144,60,200]\n', b'["heard",2.1,144,200,64]\n')
    before = (place / JOURNAL).read_bytes()
    assert recover(tmp_path).completed == [place]
    [take] = list_takes(tmp_path)
    assert [h.data1 for h in take.heard()] == [67, 67] and len(take.beats) == 1
    assert (place / AS_FOUND).read_bytes() == before  # what was passed over is not lost
    assert not recover(tmp_path).lines()


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"format": 2}, "another format"),
        ({"format": "1"}, "another format"),
        ({"format": None}, "another format"),
        ({"title": None}, "damaged"),
        ({"started": "yesterday"}, "damaged"),
        ({"chart": "| Cm7 |"}, "damaged"),
        ({"settings": []}, "damaged"),
    ],
)
def test_a_journal_of_another_version_or_without_its_head_is_set_aside_and_named(tmp_path, head, change, why):
    place = broken_off(tmp_path, head_line({**head, **change}), *ROWS)
    content = (place / JOURNAL).read_bytes()
    found = recover(tmp_path)
    aside = tmp_path / SET_ASIDE / place.name
    assert (aside / JOURNAL).read_bytes() == content and not place.exists()
    [line] = found.lines()
    assert str(aside) in line and why in line
    assert recover(tmp_path).lines() == [] and list_takes(tmp_path) == []


def test_two_of_one_name_that_are_set_aside_have_places_of_their_own(tmp_path):
    for _ in range(2):
        broken_off(tmp_path, *ROWS)
        recover(tmp_path)
    assert len(list((tmp_path / SET_ASIDE).iterdir())) == 2


def test_what_can_not_be_set_aside_stays_and_is_named(tmp_path):
    (tmp_path / SET_ASIDE).write_text("a file where the folder should be")
    place = broken_off(tmp_path, *ROWS)
    [line] = recover(tmp_path).lines()
    assert str(place) in line and (place / JOURNAL).exists()


def test_listing_takes_sets_nothing_aside(tmp_path):
    place = broken_off(tmp_path, *ROWS)
    [damaged] = list_takes(tmp_path)
    assert isinstance(damaged, DamagedTake) and damaged.folder == place
    assert damaged.why == f"{place / JOURNAL}: the row that says what was played is missing"
    assert (place / JOURNAL).exists()


def test_what_is_recovered_is_what_an_orderly_end_keeps(tmp_path, head, kept):
    place = broken_off(tmp_path, head_line(head), *ROWS)
    recover(tmp_path)
    assert (place / MIDI).read_bytes() == (kept / MIDI).read_bytes()
    assert read_take(place).beats == read_take(kept).beats
    assert read_take(place).states == read_take(kept).states


# Whatever stands in the files

SCALARS = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
ANYTHING = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner, max_size=4),
    max_leaves=8,
)
NUMBERS = st.sampled_from([-1, 0, 1, 127, 128, 144, 200, 1e9, 1e308, float("nan"), 10**400, True, "1", None])
WORDS = st.sampled_from(["take", "heard", "order", "beat", "state", "chapter"])


def lines_of(values):
    return json.dumps(values).encode() + b"\n"


ROW = (
    st.sampled_from(ROWS)
    | st.builds(lambda word, values: lines_of([word, *values]), WORDS, st.lists(NUMBERS | SCALARS, max_size=7))
    | st.builds(lines_of, ANYTHING)
    | st.binary(max_size=30).map(lambda data: data + b"\n")
    | st.sampled_from([b"[" * 100_000 + b"\n", b"\xff\xfe\n", b'"\\ud800"\n'])
)


def changed(table, path, value):
    """A table in which one value, found by going down, is another or is gone."""
    if not path or not isinstance(table, dict | list) or not table:
        return value
    step, *rest = path
    if isinstance(table, list):
        n = step % len(table)
        return [*table[:n], changed(table[n], rest, value), *table[n + 1 :]]
    key = sorted(table)[step % len(table)]
    if value == "remove" and not rest:
        return {k: v for k, v in table.items() if k != key}
    return {**table, key: changed(table[key], rest, value)}


PATH = st.lists(st.integers(0, 30), min_size=1, max_size=4)
VALUE = ANYTHING | NUMBERS | st.sampled_from(["remove", "\ud800", "9999-12-31T23:59:59", "2026-01-01"])


@pytest.mark.parametrize(("name", "value"), [("you", -1), ("parts", ["chords", 1]), ("time", None)])
def test_a_take_that_does_not_say_who_played_what_is_set_aside(tmp_path, head, name, value):
    broken_off(tmp_path, lines_of(["take", {**head, "settings": {**head["settings"], name: value}}]), b"")
    found = recover(tmp_path)
    assert len(found.set_aside) == 1 and not found.completed


@given(rows=st.lists(ROW, max_size=8), path=PATH | st.just([]), value=VALUE, end=st.binary(max_size=6))
def test_whatever_a_journal_holds_it_is_completed_or_set_aside_and_nothing_is_lost(
    tmp_path_factory, head, rows, path, value, end
):
    data = tmp_path_factory.mktemp("journal")
    first = lines_of(["take", changed(head, path, value) if path else head])
    place = broken_off(data, first, *rows, end)
    found = recover(data)
    assert not found.waiting
    kept = [read_take(folder) for folder in found.completed]
    for take in kept:
        assert all(0 <= h.data1 < 128 and 0 <= h.data2 < 128 for h in take.heard())
        take.sounded()
    assert list_takes(data) == kept
    if not kept:
        assert [(aside / JOURNAL).exists() for aside, _ in found.set_aside] == [True]
    assert len(found.lines()) == 1 and place.name in found.lines()[0]
    assert not recover(data).lines()


@given(path=PATH, value=VALUE)
def test_whatever_the_data_of_a_take_hold_reading_it_is_one_line(tmp_path_factory, kept, path, value):
    folder = takes_folder(tmp_path_factory.mktemp("data")) / "a-take"
    folder.mkdir(parents=True)
    (folder / MIDI).write_bytes((kept / MIDI).read_bytes())
    (folder / DATA).write_text(json.dumps(changed(json.loads((kept / DATA).read_text()), path, value)))
    _read_all(folder)


@given(data=st.binary(max_size=40) | ANYTHING.map(lines_of), midi=st.binary(max_size=60))
def test_whatever_bytes_a_take_s_files_hold_reading_it_is_one_line(tmp_path_factory, kept, data, midi):
    folder = takes_folder(tmp_path_factory.mktemp("data")) / "a-take"
    folder.mkdir(parents=True)
    (folder / MIDI).write_bytes(midi)
    (folder / DATA).write_bytes(data)
    _read_all(folder)
    (folder / DATA).write_bytes((kept / DATA).read_bytes())
    _read_all(folder)


def _read_all(folder):
    """Read everything of a take; what is wrong with it is an error of ours, in one line."""
    readings = [lambda: read_take(folder)]
    [listed] = list_takes(folder.parents[1])
    assert listed.folder == folder, "whatever is wrong with it, it is named"
    for take in [listed] if isinstance(listed, Take) else []:
        readings += [take.heard, take.sounded, take.rehearsed]
    for reading in readings:
        try:
            reading()
        except InputError as error:
            assert "\n" not in str(error)
