"""A program changes the player's own file: what a person put there stays, and nothing is written that can't be."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.errors import ConfigError
from companion.preferences import preferences
from companion.preferences.own_file import own_path, set_values
from companion.preferences.signals import SignalPreferences, TaughtPress


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    return own_path(SignalPreferences)


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
