"""Takes that are over teach how the player shapes the tune: that tune, in any key, and nothing that was changed."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from companion.arrange.transposition import in_key
from companion.chart.model import Chart
from companion.load import load
from companion.messages import Heard
from companion.music.pitch import Pitch
from companion.practice.earlier import FOLDER, learn, shape_from_earlier, tune_mark
from companion.resources import chart_path
from companion.stage.settings import Settings
from companion.stage.take import read_take
from companion.stage.take_writer import TakeWriter
from tests.practice.test_partner import TUNE

MELODY = frozenset({"melody"})


@pytest.fixture(scope="module")
def spoons() -> Chart:
    return load(chart_path("two-spoons-short"))


def take_of(chart: Chart, data: Path, settings: Settings | None = None, slower_from: float = 24.0) -> Path:
    """A take of the melody once through at 120, at 90 from a beat on."""
    writer = TakeWriter(chart, settings or Settings(you=MELODY), data)
    for note in chart.unfold().melody:
        beat = float(note.beat)
        at = 2.0 + min(beat, slower_from) * 0.5 + max(beat - slower_from, 0.0) * 0.667
        writer.add(Heard(at, 0x90, note.pitch.midi, 80))
        writer.add(Heard(at + 0.1, 0x80, note.pitch.midi, 64))
    folder = writer.close("ended")
    assert folder is not None
    return folder


def test_a_take_that_is_over_tells_where_it_slowed_down(spoons: Chart, tmp_path: Path) -> None:
    assert shape_from_earlier(spoons.unfold(), MELODY, tmp_path) is None
    learn(take_of(spoons, tmp_path), tmp_path)
    shape = shape_from_earlier(spoons.unfold(), MELODY, tmp_path)
    assert shape is not None and shape.takes == 1
    early, late = (
        [s for b, s in zip(shape.beats, shape.stretch, strict=True) if low <= b < low + 16] for low in (2.0, 28.0)
    )
    assert sum(late) / len(late) > sum(early) / len(early) + 0.1


def test_the_takes_from_before_are_looked_at_with_the_next_one(spoons: Chart, tmp_path: Path) -> None:
    for _ in range(2):
        take_of(spoons, tmp_path)
    learn(take_of(spoons, tmp_path), tmp_path)
    shape = shape_from_earlier(spoons.unfold(), MELODY, tmp_path)
    assert shape is not None and shape.takes == 3


def test_another_key_is_the_same_tune_and_a_changed_melody_another(spoons: Chart) -> None:
    form = spoons.unfold()
    assert tune_mark(in_key(spoons, "Eb").unfold()) == tune_mark(form)
    first, *rest = form.melody
    moved = replace(form, melody=(replace(first, pitch=Pitch(first.pitch.step, 1, 3)), *rest))
    later = replace(
        form, melody=(*form.melody[:-1], replace(form.melody[-1], beat=form.melody[-1].beat + Fraction(1, 2)))
    )
    assert len({tune_mark(one) for one in (form, moved, later, replace(form, feel="straight"))}) == 4


def test_a_take_of_a_chart_that_was_changed_is_left_out(spoons: Chart, tmp_path: Path) -> None:
    section = spoons.sections[0]
    changed = replace(spoons, sections=(replace(section, melody=section.melody[1:]), *spoons.sections[1:]))
    take_of(changed, tmp_path)
    learn(take_of(spoons, tmp_path), tmp_path)
    shape = shape_from_earlier(spoons.unfold(), MELODY, tmp_path)
    assert shape is not None and shape.takes == 1


@pytest.mark.parametrize(
    "settings",
    [Settings(you=MELODY, time="patient"), Settings(you=MELODY, time="steady"), Settings(you=frozenset({"bass"}))],
)
def test_a_time_that_was_not_the_players_own_teaches_nothing(spoons: Chart, tmp_path: Path, settings: Settings) -> None:
    learn(take_of(spoons, tmp_path, settings), tmp_path)
    assert shape_from_earlier(spoons.unfold(), MELODY, tmp_path) is None


def test_a_deleted_take_teaches_nothing_any_more(spoons: Chart, tmp_path: Path) -> None:
    folder = take_of(spoons, tmp_path)
    learn(folder, tmp_path)
    shutil.rmtree(folder)
    assert shape_from_earlier(spoons.unfold(), MELODY, tmp_path) is None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '{"format": 2}',
        '{"format": 1, "takes": {"a": [[[1, 2], [0, 3]]]}}',
        '{"format": 1, "takes": [1]}',
    ],
)
def test_a_damaged_file_is_begun_anew_from_the_takes(spoons: Chart, tmp_path: Path, text: str) -> None:
    learn(take_of(spoons, tmp_path), tmp_path)
    (file,) = (tmp_path / FOLDER).iterdir()
    file.write_text(text)
    assert shape_from_earlier(spoons.unfold(), MELODY, tmp_path) is None
    learn(take_of(spoons, tmp_path), tmp_path)
    shape = shape_from_earlier(spoons.unfold(), MELODY, tmp_path)
    assert shape is not None and shape.takes == 2


def test_who_plays_no_melody_is_not_followed_by_one(spoons: Chart, tmp_path: Path) -> None:
    learn(take_of(spoons, tmp_path), tmp_path)
    for you in (frozenset({"bass"}), frozenset({"solo"})):
        assert shape_from_earlier(spoons.unfold(), you, tmp_path) is None


def test_only_the_last_takes_count_as_many_as_wished(
    spoons: Chart, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from companion.preferences import preferences
    from companion.preferences.following import FollowingPreferences

    likes = preferences(FollowingPreferences)
    for _ in range(3):
        learn(take_of(spoons, tmp_path), tmp_path)
    for earlier, many in ((replace(likes.earlier, takes=2), 2), (replace(likes.earlier, on=False), 0)):
        wished = replace(likes, earlier=earlier)
        monkeypatch.setattr("companion.practice.earlier.preferences", lambda kind, wished=wished: wished)
        shape = shape_from_earlier(spoons.unfold(), MELODY, tmp_path)
        assert (shape.takes if shape else 0) == many


def test_a_take_keeps_the_shape_that_it_was_followed_with(spoons: Chart, tmp_path: Path) -> None:
    learn(take_of(spoons, tmp_path), tmp_path)
    shape = shape_from_earlier(spoons.unfold(), MELODY, tmp_path)
    assert shape is not None
    folder = take_of(spoons, tmp_path, Settings(you=MELODY, shape=shape))
    assert read_take(folder).rehearsed()[1].shape == shape
    table = json.loads((folder / "take.json").read_text())
    table["settings"]["shape"]["beats"][0] = "one"
    (folder / "take.json").write_text(json.dumps(table))
    with pytest.raises(Exception, match="its settings are damaged"):
        read_take(folder).rehearsed()


def test_the_word_for_a_tune_stays_as_it_is() -> None:
    """It names files and stands in records: with another one nothing that was learnt would be found again."""
    form = TUNE.unfold()
    assert tune_mark(form) == "ad36ef9770dc18679477"
    assert tune_mark(replace(form, melody=())) == "a0f8f14e00d234dd71bf"


def test_of_a_tune_the_fifty_latest_takes_are_kept(spoons: Chart, tmp_path: Path) -> None:
    folder = take_of(spoons, tmp_path)
    file = tmp_path / FOLDER / f"{tune_mark(spoons.unfold())}.json"
    file.parent.mkdir()
    known = {f"2020-01-01-0000{n:02}-two-spoons-short": [] for n in range(60)}
    file.write_text(json.dumps({"format": 1, "takes": known}), encoding="utf-8")
    learn(folder, tmp_path)
    kept = json.loads(file.read_text(encoding="utf-8"))
    assert kept["format"] == 1
    assert list(kept["takes"]) == [folder.name, *sorted(known, reverse=True)[:49]]
    assert all(at == round(at, 4) for run in kept["takes"][folder.name] for _, at in run)
