"""The picture of a review: the written notes, a mark for each that was played, findings at their bars, timing below."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from xml.etree.ElementTree import Element, fromstring

import pytest

from companion.chart.model import WrittenNote, WrittenPart
from companion.music.pitch import Pitch
from companion.practice.alignment import align
from companion.practice.judging import JudgedNote
from companion.practice.marks import FITS, SHADOW
from companion.practice.plotting import FAINT, FAULT
from companion.practice.review import Review, ReviewedBar, review
from companion.practice.review_picture import review_pictures
from companion.stage.take import Take
from tests.practice.test_judged_bars import BAD
from tests.practice.test_partner import TUNE, WALK, take_of
from tests.practice.test_proposal import LINE

pytest.importorskip("verovio", reason="the extra print isn't installed")
pytest.importorskip("matplotlib", reason="the extra pictures isn't installed")

SVG = "{http://www.w3.org/2000/svg}"


def pictures(take: Take) -> list[str]:
    chart, settings = take.rehearsed()
    found = review(chart.unfold(), align(chart, settings, take.heard(), take.seconds))
    return [one.svg for one in review_pictures(chart, settings.you, found, take.title)]


def music(picture: str) -> Element:
    """The engraved page within a picture: its legend and its timing are outside of it."""
    return next(one for one in fromstring(picture).iter(f"{SVG}g") if one.get("class") == "page-margin")


def marks(picture: str, colour: str) -> int:
    return sum(
        colour in (one.get("style") or one.get("fill") or "") for one in music(picture).iter() if one.text is None
    )


def test_each_time_through_is_a_picture_with_its_marks_and_findings(tmp_path: Path) -> None:
    first, second = pictures(take_of(tmp_path, [LINE, BAD], you="melody"))
    assert first.count('class="measure"') == second.count('class="measure"') == 4
    assert (marks(first, SHADOW), marks(first, FAULT)) == (6, 0)
    assert (marks(second, SHADOW), marks(second, FAULT)) == (4, 2)
    assert sum(bool(one.get("stroke-dasharray")) for one in music(second).iter()) == 1, "a ring round the missing note"
    assert "F missed" in second and "missed" not in first.split("page-margin")[1].split("definition-scale")[0]
    assert "time 2 through" in second


def test_once_through_is_one_picture_without_a_number(tmp_path: Path) -> None:
    (picture,) = pictures(take_of(tmp_path, [LINE], you="melody"))
    assert "through" not in picture


def test_what_comes_again_is_written_out_so_that_every_bar_has_its_place(tmp_path: Path) -> None:
    (picture,) = pictures(take_of(tmp_path, [LINE], you="melody"))
    assert 'class="ending' not in picture and picture.count('class="measure"') == 4


def test_a_bass_that_is_made_up_stands_on_a_staff_of_its_own_without_rests(tmp_path: Path) -> None:
    (picture,) = pictures(take_of(tmp_path, [WALK], you="bass"))
    page = music(picture)
    staves = [one for one in page.iter(f"{SVG}g") if one.get("class") == "staff"]
    rests = [one for one in page.iter(f"{SVG}g") if one.get("class") == "rest"]
    assert len(staves) == 4, "one staff, four bars"
    assert rests and all(one.get("visibility") == "hidden" for one in rests)
    assert marks(picture, FITS) == len(WALK)


def test_where_nothing_can_be_laid_on_the_chart_there_is_no_picture() -> None:
    assert review_pictures(TUNE, ["melody"], Review((), (), (), ()), "Four Steps") == []


def test_a_low_note_of_the_right_hand_is_marked_where_it_stands() -> None:
    """E3, written for the right hand: its ring is round its own head, not on the staff where low chords go."""
    low = WrittenNote(Fraction(0), Fraction(4), Pitch("E", 0, 3), "right")
    chart = replace(TUNE, written=(WrittenPart("chords", frozenset({1, 2, 3, 4}), (low,)),))
    missing = JudgedNote("missing", 0.0, 52, None, None, part="chords")
    (picture,) = review_pictures(
        chart, ["chords"], Review((missing,), (ReviewedBar(1, 1, [missing], 120.0),), (), ()), ""
    )
    page = music(picture.svg)
    (ring,) = [one for one in page.iter(f"{SVG}circle") if one.get("stroke-dasharray")]
    (head,) = [one for one in page.iter(f"{SVG}g") if one.get("class") == "notehead"]
    x, y = map(float, re.findall(r"-?\d+", head[0].get("transform", ""))[:2])
    assert abs(float(ring.get("cy", 0)) - y) < 10 and 0 < float(ring.get("cx", 0)) - x < 200


def test_bars_that_were_left_out_have_a_band_behind_them(tmp_path: Path) -> None:
    """A take that ends after two of the four bars."""
    (picture,) = pictures(take_of(tmp_path, [LINE[:8]], you="melody"))
    page = music(picture)
    assert sum(one.get("fill") == FAINT for one in page.iter(f"{SVG}rect")) == 2
    assert "not played" in picture
    (whole,) = pictures(take_of(tmp_path / "whole", [LINE], you="melody"))
    assert "not played" not in whole


def test_the_same_take_is_the_same_picture(tmp_path: Path) -> None:
    take = take_of(tmp_path, [BAD], you="melody")
    assert pictures(take) == pictures(take)
