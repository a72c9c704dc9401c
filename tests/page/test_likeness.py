"""Chords like the player's own: offered once something was learnt, and taken as wished or as always."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.arrange.chords.comping_style import CompingStyle, UsedRhythm
from companion.page.how import How, style_asked
from companion.page.likeness import likeness
from companion.page.takes import Nothing
from companion.preferences.reading import forget
from companion.resources import DATA_VARIABLE

CHARLESTON = UsedRhythm("4/4", "swing", (0.0, 1.5), (1.0, 0.5), 1.0, 12, 4)
KNOWN = CompingStyle((), (CHARLESTON,), 5)


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    return tmp_path


def test_before_anything_is_learnt_it_is_said_what_to_do() -> None:
    told = likeness(Nothing())
    assert told["known"] == "" and "play the chords yourself" in told["why"] and told["always"] is False


def test_what_is_always_wished_holds_on_the_page_unless_it_is_left_out(
    data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("companion.practice.comping_learnt.style_of_player", lambda: KNOWN)
    assert style_asked(How()) is None
    assert style_asked(How(like_you=True)) is KNOWN
    (data / "configs").mkdir()
    (data / "configs" / "like-you.toml").write_text("[wish]\nalways = true\n", encoding="utf-8")
    forget()
    assert style_asked(How()) is KNOWN
    assert style_asked(How(like_you=False)) is None
    forget()
