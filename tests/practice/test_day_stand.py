"""What a day's proposal goes by: charts that can be read, the player's own to be begun before the others."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from companion.practice.day_stand import stand_now
from companion.resources import DATA_VARIABLE, chart_names, chart_path


def test_a_chart_of_ones_own_is_begun_first_and_a_damaged_one_is_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    shipped = chart_names()
    (tmp_path / "charts").mkdir()
    text = chart_path("ferry-without-lights").read_text(encoding="utf-8")
    (tmp_path / "charts" / "zinc-bar-stool.toml").write_text(text, encoding="utf-8")
    (tmp_path / "charts" / "torn.toml").write_text("format = ", encoding="utf-8")
    stand, trouble = stand_now(datetime.now().astimezone())
    assert trouble == "" and not stand.tunes
    assert stand.unplayed[0] == "zinc-bar-stool"
    assert set(stand.charts) == {"zinc-bar-stool", *shipped}


@pytest.mark.parametrize(("own", "others"), [(23, 1), (24, 0), (25, 0)])
def test_two_dozen_charts_are_looked_at_for_one_to_begin_the_players_own_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, own: int, others: int
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    (tmp_path / "charts").mkdir()
    text = 'format = 1\ntitle = "Short"\nkey = "C major"\n[section.A]\nchords = "| C |"\nmelody = "| c8 |"\n'
    names = [f"zinc-{number}" for number in range(own)]
    for name in names:
        (tmp_path / "charts" / f"{name}.toml").write_text(text, encoding="utf-8")
    found = set(stand_now(datetime.now().astimezone())[0].unplayed)
    assert (len(found & set(names)), len(found - set(names))) == (min(own, 24), others)
