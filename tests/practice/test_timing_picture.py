"""Timing over bars: a mark for each note that has a beat to be early or late against."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from companion.practice.alignment import align
from companion.practice.review import Review, review
from companion.practice.timing_picture import timing_picture
from tests.practice.test_judged_bars import BAD
from tests.practice.test_partner import TUNE, take_of
from tests.practice.test_proposal import LINE

pytest.importorskip("matplotlib", reason="the extra pictures isn't installed")


def reviewed(folder: Path, line: list[int | None]) -> Review:
    take = take_of(folder, [line], you="melody")
    chart, settings = take.rehearsed()
    return review(chart.unfold(), align(chart, settings, take.heard(), take.seconds))


def test_right_and_wrong_notes_are_told_apart_by_shape(tmp_path: Path) -> None:
    found = reviewed(tmp_path, BAD)
    svg = timing_picture(TUNE.unfold(), found).decode("utf-8")
    sizes = sorted(len(re.findall("<use ", group)) for group in re.split(r'<g id="PathCollection_\d"', svg)[1:3])
    timed = [note.kind for note in found.notes if note.deviation_ms is not None]
    assert timed.count("right") == 4 and timed.count("wrong") == 1
    assert sizes[0] >= 1 and 'id="PathCollection_2"' in svg


def test_nothing_played_is_an_empty_picture_and_no_fault() -> None:
    assert b"<svg" in timing_picture(TUNE.unfold(), Review((), (), (), ()))


def test_the_same_timing_is_the_same_picture(tmp_path: Path) -> None:
    found = reviewed(tmp_path, LINE)
    assert timing_picture(TUNE.unfold(), found) == timing_picture(TUNE.unfold(), found)
