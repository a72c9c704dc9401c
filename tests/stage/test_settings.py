"""What holds when nothing is said: as the manual has it."""

from __future__ import annotations

from dataclasses import FrozenInstanceError

import pytest

from companion.stage.settings import ORDERS, TIMES, Settings


def test_unless_said_otherwise_it_follows_a_melody_with_chords_and_bass() -> None:
    usual = Settings()
    assert (usual.you, usual.parts, usual.time) == (frozenset({"melody"}), ("chords", "bass"), "follow")
    assert usual.latency == 0.010 and usual.seed == 0 and usual.choruses is None
    assert (usual.order, usual.trade, usual.count_in, usual.trace) == ("form", 0, 0, False)
    assert (usual.click, usual.whole_bars, usual.divide) == ("all", 0, 1) and ORDERS == ("form", "open", "chart")
    assert usual.tempo is None and usual.start is None and usual.treatment is None


def test_there_are_three_kinds_of_time() -> None:
    assert TIMES == ("follow", "steady", "patient")


def test_settings_do_not_change_under_way_and_equal_ones_are_equal() -> None:
    told = Settings(tempo=120.0)
    with pytest.raises(FrozenInstanceError):
        told.tempo = 90.0  # type: ignore[misc]
    assert told == Settings(tempo=120.0) and hash(told) == hash(Settings(tempo=120.0))
