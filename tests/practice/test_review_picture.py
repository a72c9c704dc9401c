"""The picture of a review: the written notes, a mark for each that was played, findings at their bars, timing below."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from xml.etree.ElementTree import Element, fromstring

import pytest

from companion.chart.model import Chart, WrittenNote, WrittenPart
from companion.chart.toml.read import parse_toml
from companion.messages import NoteKind, Part
from companion.music.pitch import Pitch
from companion.practice.alignment import align
from companion.practice.findings import Finding
from companion.practice.judging import JudgedNote
from companion.practice.marks import FITS, SHADOW
from companion.practice.plotting import FAINT, FAULT
from companion.practice.review import Review, ReviewedBar, review
from companion.practice.review_picture import ReviewPicture, review_pictures
from companion.stage.take import Take
from tests.practice.test_judged_bars import BAD
from tests.practice.test_partner import TUNE, WALK, take_of
from tests.practice.test_proposal import LINE
from tests.wrapping import lines

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


FAULTY = [*LINE[:2], None, *LINE[3:6], None, *LINE[7:8], None, *LINE[9:12], None, *LINE[13:]]
"""A note missing in each of the four bars."""


def faulty_pictures(take: Take, *, narrow: bool = False) -> list[ReviewPicture]:
    chart, settings = take.rehearsed()
    found = review(chart.unfold(), align(chart, settings, take.heard(), take.seconds))
    said = replace(found, findings=tuple(Finding(bar, 1, "missed-note", 1.0, "missed") for bar in (1, 2, 3, 4)))
    return review_pictures(chart, settings.you, said, "", narrow=narrow)


@pytest.mark.parametrize(("narrow", "cut"), [(False, 0.0), (True, 16.0)])
def test_bars_with_something_said_may_be_touched_where_they_stand(tmp_path: Path, narrow: bool, cut: float) -> None:
    """From two and a half spaces above the staff to as many below it. The page is drawn in hundredths of a millimetre,
    the frame in quarters."""
    (picture,) = faulty_pictures(take_of(tmp_path, [FAULTY], you="melody"), narrow=narrow)
    left, _, wide, high = map(float, fromstring(picture.svg).get("viewBox", "").split())
    assert left == cut
    page = music(picture.svg)
    right, down = map(float, re.findall(r"-?\d+", page.get("transform", "")))
    expected = []
    for system in page.iter(f"{SVG}g"):
        if system.get("class") != "system":
            continue
        x, y = map(float, re.findall(r"-?\d+", system.get("transform", "0 0")))
        for measure in (one for one in system.iter(f"{SVG}g") if one.get("class") == "measure"):
            (staff,) = (one for one in measure.iter(f"{SVG}g") if one.get("class") == "staff")
            lines = [[float(n) for n in re.findall(r"-?\d+", one.get("d", ""))] for one in staff.findall(f"{SVG}path")]
            begin, top, end, bottom = lines[0][0], lines[0][1], lines[0][2], lines[4][1]
            reach = 2.5 * (bottom - top) / 4
            expected.append(
                (((right + x + begin) * 0.04 - cut) / wide, (down + y + top - reach) * 0.04 / high,
                 (end - begin) * 0.04 / wide, (bottom - top + 2 * reach) * 0.04 / high)
            )  # fmt: skip
    assert [one.bar for one in picture.places] == [1, 2, 3, 4]
    for place, where in zip(picture.places, expected, strict=True):
        assert (place.left, place.top, place.width, place.height) == pytest.approx(where, abs=1e-3)


def below_the_music(picture: str) -> list[str]:
    """The legend and the place of the timing, from the lower edge of the music."""
    frame = fromstring(picture)
    page, timing = frame.findall(f"{SVG}svg")
    edge = float(page.get("height", 0))
    found = [f"frame {frame.get('width')} {float(frame.get('viewBox', '').split()[2]):g}"]
    for one in (*frame.findall(f"{SVG}path"), *frame.findall(f"{SVG}text")):
        x, y = one.get("x") or one.get("d", "").split()[0][1:], one.get("y") or one.get("d", "").split()[1]
        found.append(f"{one.text or one.get('d', '').split()[2]} at {x} {float(y) - edge:.2f}")
    for group in (one for one in frame.findall(f"{SVG}g") if one.get("transform") == "scale(0.01)"):
        kind = group[0].tag.removeprefix(SVG)
        places = re.findall(r"-?\d+", group[0].get("d", "0 0"))
        x, y = (group[0].get(f"c{one}") or group[0].get(one) or places[n] for n, one in enumerate("xy"))
        found.append(f"{kind} {x} {float(y) - 100 * edge:.0f}")
    wide, high = float(timing.get("width", 0)), float(timing.get("height", 0))
    found.append(f"timing {timing.get('x')} {float(timing.get('y', 0)) - edge:.2f} {wide:g}")
    total = float(frame.get("viewBox", "").split()[3])
    assert total == pytest.approx(float(timing.get("y", 0)) + high + 48, abs=0.01)
    assert float(frame.get("height", "").removesuffix("mm")) == pytest.approx(total / 4, abs=0.01)
    return found


WIDE = """
frame 210mm 840
h744 at 48 -6.00
right (left of the note: early; right of it: late) at 70 12.00
wrong at 440 12.00
missing at 513 12.00
too many at 599.2 12.00
not played at 692 12.00
ellipse 5600 800
path 42166 366
circle 49900 800
path 58016 800
rect 67100 310
timing 48 26.00 744
"""
NARROW = """
frame 80mm 320
h272 at 48 -6.00
right (left of the note: early; right of it: late) at 70 12.00
wrong at 70 30.00
missing at 143 30.00
too many at 229.2 30.00
not played at 70 48.00
ellipse 5600 800
path 5166 2166
circle 12900 2600
path 21016 2600
rect 4900 3910
timing 48 62.00 272
"""


@pytest.mark.parametrize(("narrow", "expected"), [(False, WIDE), (True, NARROW)])
def test_what_the_marks_mean_stands_under_the_music_in_rows_that_fit(
    tmp_path: Path, narrow: bool, expected: str
) -> None:
    """What stands here is what is drawn today."""
    (picture,) = faulty_pictures(take_of(tmp_path, [FAULTY], you="melody"), narrow=narrow)
    assert below_the_music(picture.svg) == lines(expected)


def test_marks_that_there_are_not_are_not_explained(tmp_path: Path) -> None:
    written, free = "right (left of the note: early; right of it: late)", "fits"
    (melody,) = pictures(take_of(tmp_path / "a", [LINE], you="melody"))
    (bass,) = pictures(take_of(tmp_path / "b", [WALK], you="bass"))
    assert written in melody and f">{free}<" not in melody
    assert written not in bass and f">{free}<" in bass


def test_progress_is_told_for_each_time_through(tmp_path: Path) -> None:
    chart, settings = (take := take_of(tmp_path, [LINE, LINE], you="melody")).rehearsed()
    found = review(chart.unfold(), align(chart, settings, take.heard(), take.seconds))
    told: list[float] = []
    review_pictures(chart, settings.you, found, "", progress=told.append)
    assert told == [0.0, 0.5]


# A review made by hand


def judged(
    kind: NoteKind, beat: float, expected: int | None, pitch: int | None, chorus: int = 1, part: Part = "melody"
) -> JudgedNote:
    return JudgedNote(kind, beat, expected, pitch, 1.0, None, part, chorus=chorus)


def drawn(
    chart: Chart, *notes: JudgedNote, bars: Sequence[tuple[int, int]] = (), you: tuple[Part, ...] = ("melody",)
) -> list[str]:
    """The pictures of notes, with these bars (and their time through) played; else all four, once."""
    played = bars or [(bar, 1) for bar in (1, 2, 3, 4)]
    found = Review(notes, tuple(ReviewedBar(bar, chorus, [], 120.0) for bar, chorus in played), (), ())
    return [one.svg for one in review_pictures(chart, you, found, "")]


def rings(picture: str) -> int:
    return sum(bool(one.get("stroke-dasharray")) for one in music(picture).iter())


def bar_of_marks(picture: str, colour: str) -> list[int]:
    """The bars, from 1, in which marks of a colour stand, by where they are."""
    page = music(picture)
    edges = []
    for measure in (one for one in page.iter(f"{SVG}g") if one.get("class") == "measure"):
        staff = next(one for one in measure.iter(f"{SVG}g") if one.get("class") == "staff")
        edges.append(float(re.findall(r"-?\d+", staff.findall(f"{SVG}path")[0].get("d", ""))[0]))
    found = []
    for one in page.iter():
        if colour in (one.get("style") or one.get("fill") or "") and one.tag != f"{SVG}text":
            x = float(one.get("cx") or re.findall(r"-?\d+", one.get("d", "0"))[0])
            found.append(sum(edge <= x for edge in edges))
    return sorted(found)


PICKUP = parse_toml("""
format = 1
title = "Five Steps"
key = "C major"
form = "A"
[section.A]
chords = "| Dm7 | G7 | Cmaj7 | C6 |"
melody = "e2 | f4 a4 | g4 f4 | e8 | g6 z2 |"
""")


def test_a_pickup_stands_before_the_first_time_through_and_in_the_last_bar_of_the_others() -> None:
    """The second time through begins with a wrong note in place of its pickup."""
    first, second = drawn(
        PICKUP,
        judged("right", -1.0, 76, 76), judged("right", 0.0, 77, 77), judged("wrong", -1.0, 76, 66, chorus=2),
        judged("missing", 0.0, 77, None, chorus=2),
        bars=[(0, 1), (1, 1), (2, 1), (3, 1), (4, 1), (1, 2), (2, 2), (3, 2), (4, 2)],
    )  # fmt: skip
    assert (first.count('class="measure"'), second.count('class="measure"')) == (5, 4)
    assert (bar_of_marks(first, SHADOW), bar_of_marks(first, FAULT)) == ([1, 2], [5]), "the pickup is the first of them"
    assert (bar_of_marks(second, FAULT), rings(second)) == ([1], 1)


def test_a_pickup_that_was_left_out_the_second_time_has_no_head_to_be_ringed() -> None:
    first, second = drawn(
        PICKUP, judged("right", 0.0, 77, 77), judged("missing", -1.0, 76, None, chorus=2),
        judged("missing", -1.0, 76, None), bars=[(1, 1), (4, 1), (1, 2)],
    )  # fmt: skip
    assert (rings(first), rings(second)) == (1, 0)


def test_what_was_played_after_going_back_is_not_missing() -> None:
    (picture,) = drawn(
        TUNE, judged("missing", 0.0, 77, None), judged("right", 0.0, 77, 77), judged("missing", 2.0, 81, None)
    )
    assert (rings(picture), bar_of_marks(picture, SHADOW)) == (1, [1])


def test_a_key_too_many_stands_in_its_bar_and_outside_the_tune_in_the_next() -> None:
    beats = (-0.4, 0.0, 3.9, 4.0, 11.99, 12.0, 15.9, 16.0, 17.5)
    (picture,) = drawn(TUNE, *(judged("extra", beat, None, 72) for beat in beats))
    assert bar_of_marks(picture, FAULT) == [1, 1, 1, 2, 3, 4, 4, 4, 4]


def test_bars_that_were_not_played_are_washed_each_time_through_for_itself() -> None:
    first, second = drawn(TUNE, bars=[(1, 1), (2, 1), (3, 1), (4, 1), (3, 2)])
    washed = [sum(one.get("fill") == FAINT for one in music(one).iter(f"{SVG}rect")) for one in (first, second)]
    assert washed == [0, 3]
    assert ("not played" in first, "not played" in second) == (False, True)


@pytest.mark.parametrize(
    ("notes", "you", "staves"),
    [
        ([], ("melody",), 1),
        ([("right", 0.0, None, 38, "bass")], ("bass",), 1),
        ([("right", 0.0, None, 38, "bass")], ("melody", "bass"), 2),
        ([("right", 0.0, None, 45, "chords"), ("right", 1.0, None, 64, "chords")], ("chords",), 2),
    ],
)
def test_there_are_as_many_staves_as_hands(
    notes: list[tuple[NoteKind, float, int | None, int, Part]], you: tuple[Part, ...], staves: int
) -> None:
    made = [judged(kind, beat, expected, pitch, part=part) for kind, beat, expected, pitch, part in notes]
    (picture,) = drawn(TUNE, *made, you=you)
    found = [one for one in music(picture).iter(f"{SVG}g") if one.get("class") == "staff"]
    assert len(found) == 4 * staves
    assert len(bar_of_marks(picture, FITS)) == len(notes)


def test_on_a_staff_for_which_nothing_is_written_each_beat_has_its_place() -> None:
    """A rest a beat, that nobody sees, keeps the beats of a bar apart."""
    (picture,) = drawn(TUNE, *(judged("right", float(n), None, 45, part="bass") for n in range(4)), you=("bass",))
    rests = [one for one in music(picture).iter(f"{SVG}g") if one.get("class") == "rest"]
    assert len(rests) == 4 * 4 and all(one.get("visibility") == "hidden" for one in rests)
    page = music(picture)
    places = sorted(float(one.get("cx", 0)) for one in page.iter(f"{SVG}ellipse") if one.get("fill") == FITS)
    assert len(places) == 4 and all(b - a > 300 for a, b in pairwise(places))
