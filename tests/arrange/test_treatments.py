"""Treatments are data that a player copies."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.arrange import tables, treatments
from companion.errors import ConfigError
from companion.resources import data_folder


@pytest.fixture
def own() -> Iterator[Path]:
    """The player's own folder for configurations, empty before and after."""
    folder = data_folder() / "configs"
    folder.mkdir(parents=True, exist_ok=True)
    treatments._all.cache_clear()
    tables.table.cache_clear()
    yield folder
    for file in folder.iterdir():
        file.unlink()
    treatments._all.cache_clear()
    tables.table.cache_clear()


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
    ],
)
def test_what_is_wrong_in_a_treatment_is_said_in_one_line(own: Path, text: str, what: str) -> None:
    (own / "treatments-mine.toml").write_text(text)
    with pytest.raises(ConfigError, match=what) as error:
        treatments.names()
    assert "treatments-mine.toml" in str(error.value)
    assert "\n" not in str(error.value)


def test_a_single_taste_may_be_changed(own: Path) -> None:
    (own / "bass.toml").write_text("[skips]\nshare = 0.0\n")
    assert tables.table("bass")["skips"]["share"] == 0.0
    assert tables.table("bass")["range"]["lowest"] == 28


def test_every_treatment_says_what_it_is() -> None:
    assert all(treatments.treatment(name).about for name in treatments.names())
