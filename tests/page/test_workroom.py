"""The workroom: what is asked is answered, what is wrong is said, and whatever breaks it, the next thing is done."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.errors import UseError
from companion.page.choosing import TuneAsked
from companion.page.importing import ImportAsked
from companion.page.instrument import PianoAsked
from companion.page.takes import Nothing
from companion.page.workroom import Workroom
from companion.resources import DATA_VARIABLE, chart_path

pytestmark = pytest.mark.real_time
FERRY = TuneAsked(str(chart_path("ferry-without-lights")))


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Workroom]:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    opened = Workroom()
    yield opened
    opened.end()


def test_work_is_done_what_is_wrong_is_said_and_a_death_harms_only_what_was_under_way(room: Workroom) -> None:
    assert json.loads(room.do("tune", FERRY))["title"] == "Ferry Without Lights"
    with pytest.raises(UseError, match="no such file"):
        room.do("tune", TuneAsked("gone.toml"))
    with pytest.raises(UseError, match=r"zero\.mid"):
        room.do("import", ImportAsked("zero.mid", b"\0" * 100))
    assert room._process is not None
    room._process.kill()
    room._process.wait()
    assert json.loads(room.do("tune", FERRY))["bars"] == 32
    room.do("set-piano", PianoAsked(keyboard=(28, 103)))
    assert json.loads(room.do("piano", Nothing()))["keyboard"].startswith("76 keys"), "what was set counts at once"


def test_what_takes_too_long_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    room = Workroom(patience=0.01)
    with pytest.raises(UseError, match="too long"):
        room.do("tune", FERRY)
    room.end()
