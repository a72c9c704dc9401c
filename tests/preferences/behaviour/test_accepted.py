"""Whatever preferences are accepted, with them a tune can be arranged, sounded and written down."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.engrave.recording import sounded
from companion.errors import ConfigError
from companion.messages import Beat
from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.pianist.player import simulate
from companion.preferences import preferences
from companion.preferences.every import check_preferences
from companion.preferences.following import FollowingPreferences
from companion.preferences.reading import forget
from companion.resources import read_toml_file, shipped_folder
from companion.stage.replay import replay
from companion.stage.settings import Settings
from companion.transcribe.lengths import notes_with_lengths
from companion.transcribe.quantise import quantise

NUMBERS = (-1000.0, -3, -0.5, 0, 0.01, 0.3, 1, 2, 7, 20, 64, 100, 127, 600, 1000)
ARRANGED = ("bass", "comping", "voicings", "solo", "turning", "touch", "accents", "feels")
HEAD = 'format = 1\nkey = "G"\nmetre = "{metre}"\ntempo = {tempo}\nfeel = "swing"\n'
CHANGES = 'form = "A A"\n[section.A]\nchords = "| Am7 D7 | Gmaj7 | Cm7 F7 | G6 |"\nmelody = "{melody}"\n'


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The player's own folder for preferences."""
    folder = tmp_path_factory.mktemp("data")
    (folder / "configs").mkdir()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COMPANION_DATA", str(folder))
        forget()
        yield folder / "configs"
    forget()


def form(metre: str, tempo: int) -> Form:
    melody = "| c2 B2 A4 | z4 B2 d2 | c4 z4 | B8 |" if metre == "4/4" else "| c4 B2 | A6 | c4 z2 | B6 |"
    return parse_toml(HEAD.format(metre=metre, tempo=tempo) + CHANGES.format(melody=melody)).unfold()


def numbers(table: dict[str, Any], place: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The places of the single numbers in a file."""
    for key, value in table.items() if isinstance(table, dict) else enumerate(table):
        if isinstance(value, dict | list):
            yield from numbers(value, (*place, key))
        elif isinstance(value, int | float) and not isinstance(value, bool):
            yield (*place, key)


def changed(data: st.DataObject, own: Path, names: tuple[str, ...]) -> bool:
    """One to three numbers of one file are others; whether the file is still accepted."""
    for file in own.iterdir():
        file.unlink()
    name = data.draw(st.sampled_from(names))
    table = read_toml_file(shipped_folder() / "configs" / f"{name}.toml")
    for place in data.draw(st.lists(st.sampled_from(sorted(numbers(table), key=str)), min_size=1, max_size=3)):
        inner = table
        for key in place[:-1]:
            inner = inner[key]
        inner[place[-1]] = data.draw(st.sampled_from(NUMBERS))
    (own / f"{name}.toml").write_text(tomlkit.dumps(table), encoding="utf-8")
    forget()
    try:
        check_preferences()
    except ConfigError as refused:
        assert "\n" not in str(refused)
        return False
    return True


@pytest.mark.slow
@given(st.data())
def test_whatever_taste_is_accepted_a_tune_is_arranged_and_sounded(own: Path, data: st.DataObject) -> None:
    if not changed(data, own, ARRANGED):
        return
    tune = form(data.draw(st.sampled_from(["4/4", "3/4"])), data.draw(st.sampled_from([50, 140, 300])))
    treatment = data.draw(st.sampled_from([None, "walking", "ballad", "sliding", "turned", "open", "block", "in-two"]))
    for part in ("bass", "chords", "solo", "melody"):
        notes = arrange(tune, part, Request(treatment=treatment, chorus=2, seed=3))
        assert all(note.length > 0 and 0 <= note.midi <= 127 for note in notes)
        assert all(0 <= m.data2 <= 127 for m in sounded(tune, notes))


@pytest.mark.slow
@given(st.data())
def test_whatever_players_are_accepted_they_play(own: Path, data: st.DataObject) -> None:
    if not changed(data, own, ("players", "feels")):
        return
    role = data.draw(st.sampled_from(["melody", "melody,chords", "chords", "bass", "solo"]))
    manner = data.draw(st.sampled_from(["clean", "evening", "loose", "free", "messy"]))
    played = simulate(form("4/4", 140), role, manner=manner, seed=1)
    down: dict[int, int] = {}
    for message in played.heard:
        if message.status in (0x80, 0x90):
            down[message.data1] = down.get(message.data1, 0) + (1 if message.is_note_on else -1)
    assert not any(down.values())


@pytest.mark.slow
@given(st.data())
def test_whatever_costs_are_accepted_playing_becomes_writing(own: Path, data: st.DataObject) -> None:
    if not changed(data, own, ("capture",)):
        return
    keys = [KeyPress(2 + 0.25 * n, 2.2 + 0.25 * n, 60 + n % 7, 64) for n in range(16)]
    reading = quantise(keys, BeatMap.steady(120.0, 2.0), Metre())
    assert all(note.length > 0 for note in notes_with_lengths(reading, Metre()))


@pytest.mark.slow
@given(st.data())
def test_whatever_is_accepted_of_following_a_player_is_followed(own: Path, data: st.DataObject) -> None:
    if not changed(data, own, ("following",)):
        return
    role = data.draw(st.sampled_from(["melody", "chords", "solo"]))
    melody = "| c2 B2 A4 | z4 B2 d2 | c4 z4 | B8 |"
    chart = parse_toml(HEAD.format(metre="4/4", tempo=140) + CHANGES.format(melody=melody))
    played = simulate(chart.unfold(), role, manner="evening", seed=1)
    counted = {"tempo": played.tempo, "start": played.start} if data.draw(st.booleans()) else {}
    if not counted and preferences(FollowingPreferences).coming_in.notes > len(form("4/4", 140).melody):
        return  # it waits for more notes than the tune has
    recording = replay(chart, played.heard, Settings(you=frozenset({role}), **counted), until=played.heard[-1].seconds)
    assert any(isinstance(report, Beat) for report in recording.reports)
