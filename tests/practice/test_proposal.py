"""What to drill where nothing was said: what was played worst in the last take of the tune."""

from __future__ import annotations

from pathlib import Path

from companion.chart.model import Form
from companion.practice.proposal import beginning, faults_by_bar, proposed, worst_bars
from tests.practice.test_partner import TUNE, take_of

FORM: Form = TUNE.unfold()
LINE: list[int | None] = [77, None, 81, None, 79, None, 77, None, 76, None, None, None, 79, None, None, None]
"""The tune's melody, a MIDI number a beat."""


def test_without_a_take_it_is_the_beginning(tmp_path: Path) -> None:
    assert proposed(FORM, data=tmp_path) == beginning(FORM)


def test_the_bars_with_the_most_faults_are_proposed_and_the_part_that_was_played(tmp_path: Path) -> None:
    bad = [*LINE]
    bad[4], bad[6] = 80, None  # bar 2: a wrong note, and one left out
    take = take_of(tmp_path, [LINE, bad], you="melody")
    assert set(faults_by_bar(take)) == {2}
    found = proposed(FORM, data=tmp_path)
    assert found.bars[0] <= 2 <= found.bars[1]
    assert found.you == {"melody"}
    assert "played worst" in found.why


def test_a_clean_take_proposes_nothing_of_its_own(tmp_path: Path) -> None:
    take_of(tmp_path, [LINE], you="melody")
    assert proposed(FORM, data=tmp_path) == beginning(FORM)


def test_takes_of_another_part_tell_nothing_of_this_one(tmp_path: Path) -> None:
    take_of(tmp_path, [[*LINE[:4], 80, None, None, None, *LINE[8:]]], you="melody")
    assert proposed(FORM, frozenset({"bass"}), data=tmp_path) == beginning(FORM)


def test_the_worst_row_of_bars_is_the_earliest_of_several() -> None:
    assert worst_bars(FORM, {2: 2.0, 4: 2.0}, 1) == (2, 2)
    assert worst_bars(FORM, {2: 1.0, 3: 1.5, 4: 1.0}, 2) == (2, 3)
    assert worst_bars(FORM, {2: 0.5}, 2) is None
