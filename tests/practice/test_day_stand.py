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
