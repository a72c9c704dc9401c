"""A program changes the player's own file: what a person put there stays, and nothing is written that can't be."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from companion.errors import ConfigError, InputError
from companion.preferences import preferences
from companion.preferences.instruments import InstrumentPreferences
from companion.preferences.own_file import OwnFile, changed_file, own_path, set_values
from companion.preferences.reading import forget
from companion.preferences.signals import SignalPreferences, TaughtPress
from companion.preferences.voicings import VoicingPreferences


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    forget()
    return own_path(SignalPreferences)


@pytest.fixture
def own_folder(own: Path) -> Path:
    """Where the player's own files are; none yet."""
    return own.parent


def test_a_file_that_is_not_there_is_made_and_holds_only_what_was_set(own: Path) -> None:
    assert set_values(SignalPreferences, "taught", {"last time": {"controller": 66}}) is None
    assert own.read_text(encoding="utf-8") == '[taught]\n"last time" = {controller = 66}\n'
    assert preferences(SignalPreferences).taught.of == {"last time": TaughtPress(controller=66)}


def test_comments_and_other_values_stay_and_the_former_file_is_kept(own: Path) -> None:
    before = "# mine\n[press]\nlightest = 20 # my touch\n\n[taught]\nstop = { key = 108 } # far right\n"
    own.parent.mkdir()
    own.write_text(before, encoding="utf-8")
    former = set_values(SignalPreferences, "taught", {"again": {"program": 3}})
    assert former is not None and former.read_text(encoding="utf-8") == before
    assert all(line in own.read_text(encoding="utf-8") for line in before.splitlines())
    told = preferences(SignalPreferences)
    assert told.press.lightest == 20 and set(told.taught.of) == {"stop", "again"}


def test_a_value_is_changed_and_taken_out(own: Path) -> None:
    set_values(SignalPreferences, "taught", {"again": {"program": 3}, "stop": {"key": 108}})
    set_values(SignalPreferences, "taught", {"again": {"controller": 66}, "stop": None})
    assert preferences(SignalPreferences).taught.of == {"again": TaughtPress(controller=66)}


def test_what_cannot_be_is_refused_and_the_file_stays(own: Path) -> None:
    set_values(SignalPreferences, "taught", {"stop": {"key": 108}})
    before = own.read_text(encoding="utf-8")
    with pytest.raises(ConfigError, match=r"signals.toml: \[taught\]: 'stop' and 'again' are told by the same"):
        set_values(SignalPreferences, "taught", {"again": {"key": 108}})
    assert own.read_text(encoding="utf-8") == before


@pytest.mark.parametrize(("text", "says"), [("[taught\n", "not valid TOML"), ("taught = 3\n", "'taught' is no table")])
def test_a_file_that_cannot_be_read_is_not_written_over(own: Path, text: str, says: str) -> None:
    own.parent.mkdir()
    own.write_text(text, encoding="utf-8")
    with pytest.raises(ConfigError, match=says):
        set_values(SignalPreferences, "taught", {"stop": {"key": 108}})
    assert own.read_text(encoding="utf-8") == text


# Made first, and shown

HEADER = "# At the top.\n"


def changed(values: dict[str, Any], *always: str) -> OwnFile | None:
    return changed_file(InstrumentPreferences, values, header=HEADER, always=frozenset(always))


def written(folder: Path, text: str) -> Path:
    """A file of the player's, from before."""
    folder.mkdir(parents=True)
    path = folder / "instruments.toml"
    path.write_text(text, encoding="utf-8")
    forget()
    return path


def test_a_new_file_holds_what_is_new_with_our_comments(own_folder: Path) -> None:
    file = changed({"in": "upright", "listen": [3], "give-up-after-s": 60, "piano": {"channels": {"bass": 2}}})
    assert file is not None
    lines = file.text.splitlines()
    assert lines[0] == "# At the top."
    assert 'in = "upright" # part of the name of the port to listen to' in lines[1]
    assert tomllib.loads(file.text) == {"in": "upright", "listen": [3], "piano": {"channels": {"bass": 2}}}
    assert file.said == ('in = "upright"', "listen = [3]", "[piano.channels] bass = 2")


def test_what_holds_already_is_written_only_where_it_always_is(own_folder: Path) -> None:
    assert changed({"lowest-key": 21}) is None
    file = changed({"lowest-key": 21}, "lowest-key")
    assert file is not None and tomllib.loads(file.text) == {"lowest-key": 21}


def test_comments_order_and_layout_of_the_players_stay(own_folder: Path) -> None:
    text = """# My studio.
listen   = [4]    # the loud one

[piano]   # the upright
latency-ms = 20   # as I heard it
[piano.channels]
bass = 5
# the end
"""
    written(own_folder, text)
    file = changed({"in": "upright", "listen": [1], "piano": {"latency-ms": 25, "channels": {"bass": 5}}})
    assert file is not None
    without = [line for line in file.text.splitlines(keepends=True) if not line.startswith("in = ")]
    assert "".join(without) == text.replace("[4]", "[1]").replace("20", "25")
    assert file.text.index("in = ") < file.text.index("[piano]")


def test_written_over_it_keeps_what_stood_there(own_folder: Path) -> None:
    path = written(own_folder, "listen = [4]\n")
    file = changed({"listen": [1]})
    assert file is not None
    assert file.write() == f"written: {path}, one value; what stood there is kept in instruments.toml.former-1"
    assert path.with_name("instruments.toml.former-1").read_text() == "listen = [4]\n"
    assert preferences(InstrumentPreferences).listen == (1,), "it counts at once"


@pytest.mark.parametrize(
    "text",
    [
        "piano.latency-ms = 20\n",
        "piano = { latency-ms = 20 }\n",
        "[piano]\nlatency-ms = 20\n",
        "[piano.channels]\nbass = 5\n",
    ],
)
def test_tables_are_found_however_they_are_written(own_folder: Path, text: str) -> None:
    written(own_folder, text)
    file = changed({"in": "upright", "piano": {"latency-ms": 25, "programs": {"bass": 33}}})
    assert file is not None
    said = tomllib.loads(file.text)
    assert said["piano"]["latency-ms"] == 25 and said["piano"]["programs"] == {"bass": 33} and said["in"] == "upright"


def test_line_ends_of_another_system_are_read_and_nothing_is_lost(own_folder: Path) -> None:
    path = written(own_folder, "")
    path.write_bytes(b"# mine\r\nlisten = [4]\r\n")
    file = changed({"listen": [1]})
    assert file is not None and "# mine" in file.text and tomllib.loads(file.text) == {"listen": [1]}


def test_a_broken_file_is_told_with_its_line_and_left_alone(own_folder: Path) -> None:
    path = written(own_folder, "listen = [4\n")
    with pytest.raises(ConfigError, match="line 1"):
        changed({"listen": [1]})
    assert path.read_text() == "listen = [4\n"


def test_a_folder_that_cant_be_written_is_one_line_and_changes_nothing(own_folder: Path) -> None:
    own_folder.parent.joinpath("configs").write_text("in the way")
    file = OwnFile(own_folder / "instruments.toml", "listen = [1]\n", ("listen = [1]",))
    with pytest.raises(InputError) as refused:
        file.write()
    assert "\n" not in str(refused.value) and own_folder.read_text() == "in the way"


def test_a_comment_of_its_own_tells_what_was_found(own_folder: Path) -> None:
    file = changed_file(
        VoicingPreferences,
        {"hand": {"span": 12}},
        header=HEADER,
        notes={"hand": {"span": "semitones: left 12, right 13"}},
    )
    assert file is not None and "span = 12 # semitones: left 12, right 13" in file.text


def test_each_value_is_told_with_its_table_and_counted(own_folder: Path) -> None:
    values = {"in": "upright", "piano": {"latency-ms": 25, "channels": {"bass": 2}}}
    file = changed(values)
    assert file is not None
    assert file.said == ('in = "upright"', "[piano] latency-ms = 25", "[piano.channels] bass = 2")
    assert file.write() == f"written: {own_folder / 'instruments.toml'}, 3 values"
    assert changed(values) is None and changed({"in": "stage"}) is not None


def test_a_file_without_a_word_takes_a_table(own: Path) -> None:
    own.parent.mkdir()
    own.write_text("# nothing yet\n", encoding="utf-8")
    set_values(SignalPreferences, "taught", {"stop": {"key": 108}, "again": None})
    assert own.read_text(encoding="utf-8") == "# nothing yet\n\n[taught]\nstop = {key = 108}\n"
    set_values(SignalPreferences, "press", {"lightest": 20})
    assert preferences(SignalPreferences).press.lightest == 20
