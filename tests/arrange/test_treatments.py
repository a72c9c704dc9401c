"""Treatments are data that a player copies."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from companion.arrange import treatments
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Form
from companion.errors import ConfigError
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences
from companion.preferences.reading import forget
from companion.resources import data_folder

Composer = Callable[..., Form]


@pytest.fixture
def own() -> Iterator[Path]:
    """The player's own folder for configurations, empty before and after."""
    folder = data_folder() / "configs"
    folder.mkdir(parents=True, exist_ok=True)
    forget()
    yield folder
    for file in folder.iterdir():
        file.unlink()
    forget()


def test_a_player_adds_a_treatment_by_copying_a_file(own: Path) -> None:
    (own / "treatments-mine.toml").write_text('[sunday]\nabout = "slow"\nbass = "in-two"\nchords = ["quartal"]\n')
    assert "sunday" in treatments.names()
    assert treatments.treatment("sunday").chords == ("quartal",)
    assert "walking" in treatments.names()


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ('[sunday]\nbass = "strolling"\n', "strolling"),
        ('[sunday]\nplacement = "somewhere"\n', "somewhere"),
        ("[sunday]\ncolour = 3\n", "colour"),
        ("sunday = 3\n", "sunday"),
        ("[sunday\n", "TOML"),
        ('[sunday]\nlate = "often"\n', "late"),
        ('[sunday]\nwhere = "attic"\n', "attic"),
        ("[sunday]\nfeel = 3\n", "feel"),
    ],
)
def test_what_is_wrong_in_a_treatment_is_said_in_one_line(own: Path, text: str, what: str) -> None:
    (own / "treatments-mine.toml").write_text(text)
    with pytest.raises(ConfigError, match=what) as error:
        treatments.names()
    assert "treatments-mine.toml" in str(error.value)
    assert "\n" not in str(error.value)


def test_an_unknown_treatment_is_answered_with_the_nearest_there_is_the_players_own_among_them(own: Path) -> None:
    (own / "treatments-mine.toml").write_text('[sunday]\nabout = "slow"\n')
    with pytest.raises(ConfigError, match="sunday"):
        treatments.treatment("sundae")
    assert {one.name: file for one, file in treatments.listed()}["sunday"] == own / "treatments-mine.toml"


def test_a_treatment_of_the_players_own_is_proposed_where_it_asks_for_most(own: Path, compose: Composer) -> None:
    (own / "treatments-mine.toml").write_text('[sunday]\nbass = "in-two"\nmetre = "4/4"\nfeel = "swing"\n')
    assert treatments.proposed(compose("Gm7 | C7")).name == "sunday"
    assert treatments.proposed(compose("Gm7 | C7", metre="3/4")).name == "waltz"


def test_a_pattern_of_the_players_own_is_played(own: Path, compose: Composer) -> None:
    (own / "bass.toml").write_text('[patterns.stroll]\n"4" = [[0, "root"], [2.5, "fifth"]]\n')
    (own / "treatments-mine.toml").write_text('[sunday]\nbass = "stroll"\n')
    notes = arrange(compose("Gm7 | C7 | Fmaj7 | D7"), "bass", Request(treatment="sunday", seed=11))
    assert [float(n.beat % 4) for n in notes] == [0, 2.5] * 4
    assert [n.degree for n in notes[::2]] == ["1"] * 4


@pytest.mark.parametrize("places", ['[[0, "roof"]]', "[[0]]", "3", "[]", '[{ share = -1, at = [[0, "root"]] }]'])
def test_a_pattern_that_cannot_be_read_is_said_in_one_line(own: Path, compose: Composer, places: str) -> None:
    (own / "bass.toml").write_text(f'[patterns.stroll]\n"4" = {places}\n')
    (own / "treatments-mine.toml").write_text('[sunday]\nbass = "stroll"\n')
    with pytest.raises(ConfigError, match="stroll") as error:
        arrange(compose("Gm7 | C7 | Fmaj7 | D7"), "bass", Request(treatment="sunday", seed=12))
    assert "\n" not in str(error.value)


def test_a_single_taste_may_be_changed(own: Path) -> None:
    (own / "bass.toml").write_text("[skips]\nshare = 0.0\n")
    bass = preferences(BassPreferences)
    assert bass.skips.share == 0.0 and bass.range.lowest == 28


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ('[skips]\nshare = "often"\n', "share"),
        ("[costs]\ninterval = 3\n", "interval"),
        ('[costs]\ninterval = [0, "far"]\n', "interval"),
        ("costs = 3\n", "costs"),
        ("[range]\nlowest = true\n", "lowest"),
    ],
)
def test_a_taste_of_another_kind_is_refused_in_one_line(own: Path, text: str, what: str) -> None:
    (own / "bass.toml").write_text(text)
    with pytest.raises(ConfigError, match=what) as error:
        preferences(BassPreferences)
    assert "bass.toml" in str(error.value)
    assert "ours says" in str(error.value) or "write [costs] on a line of its own" in str(error.value)


@pytest.mark.parametrize("text", ["lowest = 60", "highest = 30", "comfortable = [31]", "comfortable = [48, 31]"])
def test_a_range_that_is_none_is_said(own: Path, text: str) -> None:
    (own / "bass.toml").write_text(f"[range]\n{text}\n")
    with pytest.raises(ConfigError, match=r"\[range\]"):
        preferences(BassPreferences)


def test_every_treatment_says_what_it_is() -> None:
    assert all(treatments.treatment(name).about for name in treatments.names())
