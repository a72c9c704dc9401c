"""Timing over bars: a mark for each note that has a beat to be early or late against."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from companion.chart.model import Chart
from companion.messages import NoteKind
from companion.practice.alignment import align
from companion.practice.findings import Finding
from companion.practice.judging import JudgedNote
from companion.practice.review import Review, ReviewedBar, review
from companion.practice.timing_picture import WIDTH, timing_figure, timing_picture
from tests.practice.drawn_figures import drawn
from tests.practice.test_judged_bars import BAD
from tests.practice.test_partner import TUNE, take_of
from tests.practice.test_proposal import LINE
from tests.wrapping import lines

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


WIDE = """
7.3 by 2.8 inches
Early (below) and late (above) against your own beat: 1 5 by -60 60, height 1.5
  x marked at 1.5 2.5 3.5 4.5
  marks #2b2a33/#2b2a33, size 9, line 1, 26 corners, layer 3: (1 -15) (1.5 30) (2.5 10) (5 5) (4.75 0)
  marks #a8443a/#a8443a, size 18, line 1, 4 corners, layer 3: (2 40) (2.88 -30)
  line #d9d7dd, 0.8, - default, layer 1: (1 0) (1 1)
  line #8c8a94, 0.7, - default, layer 1: (0 0) (1 0)
  line #8c8a94, 1.6, - default, layer 2: (1.06 7.5) (1.94 7.5)
  line #8c8a94, 1.6, - default, layer 2: (2.06 10) (2.94 10)
  line #8c8a94, 1.6, - default, layer 2: (4.06 2.5) (4.94 2.5)
  band #f3f1ec: from 2.00 to 3.00, layer 0
  "milliseconds; a line: the bar's median" 8 #8c8a94 at 1 0 6 0
Tempo of each bar: 1 5 by 90 132, height 0.8
  x marked at 1.5 2.5 3.5 4.5: 1 2 3 4
  line #d9d7dd, 0.8, - default, layer 1: (1 0) (1 1)
  line #2b2a33, 1.4, - default, layer 2: (1 120) (2 120)
  line #2b2a33, 1.4, - default, layer 2: (2 132) (3 132)
  line #2b2a33, 1.4, - default, layer 2: (4 90) (5 90)
  band #f3f1ec: from 2.00 to 3.00, layer 0
  '♩ a minute' 8 #8c8a94 at 1 0 6 0
"""
NARROW = """
3 by 2.8 inches
Early below, late above: 0 33 by -160 160, height 1.5
  x marked at 1.5 9.5 17.5 25.5
  marks #2b2a33/#2b2a33, size 9, line 1, 26 corners, layer 3: (0.75 -160) (1.5 160)
  marks #a8443a/#a8443a, size 18, line 1, 4 corners, layer 3: (2 160)
  line #d9d7dd, 0.8, - default, layer 1: (1 0) (1 1)
  line #d9d7dd, 0.8, - default, layer 1: (9 0) (9 1)
  line #d9d7dd, 0.8, - default, layer 1: (17 0) (17 1)
  line #d9d7dd, 0.8, - default, layer 1: (25 0) (25 1)
  line #8c8a94, 0.7, - default, layer 1: (0 0) (1 0)
  line #8c8a94, 1.6, - default, layer 2: (0.06 -160) (0.94 -160)
  line #8c8a94, 1.6, - default, layer 2: (1.06 160) (1.94 160)
  line #8c8a94, 1.6, - default, layer 2: (2.06 160) (2.94 160)
  'ms' 8 #8c8a94 at 1 0 6 0
Tempo of each bar: 0 33 by 115.92 136.08, height 0.8
  x marked at 1.5 9.5 17.5 25.5: 1 9 17 25
  line #d9d7dd, 0.8, - default, layer 1: (1 0) (1 1)
  line #d9d7dd, 0.8, - default, layer 1: (9 0) (9 1)
  line #d9d7dd, 0.8, - default, layer 1: (17 0) (17 1)
  line #d9d7dd, 0.8, - default, layer 1: (25 0) (25 1)
  line #2b2a33, 1.4, - default, layer 2: (1 120) (2 120)
  line #2b2a33, 1.4, - default, layer 2: (2 132) (3 132)
  '♩ a minute' 8 #8c8a94 at 1 0 6 0
"""


def note(kind: NoteKind, beat: float, late: float | None) -> JudgedNote:
    return JudgedNote(kind, beat, 60, 60, 1.0, late)


def once_through(*notes: JudgedNote, said: tuple[int, ...] = ()) -> Review:
    """Four bars at 120, 132, without a tempo, and at 90; with something said of some."""
    bars = tuple(
        ReviewedBar(n, 1, [one for one in notes if 4 * n - 4 <= one.chart_beat < 4 * n], tempo)
        for n, tempo in enumerate((120.0, 132.0, 0.0, 90.0), 1)
    )
    return Review(notes, bars, (), tuple(Finding(bar, 1, "wrong-note", 1.0, "") for bar in said))


def test_notes_are_drawn_at_their_beats_as_late_as_they_were_and_tempi_bar_by_bar() -> None:
    """What stands here is what is drawn today."""
    found = once_through(
        note("right", 0.0, -15.0), note("right", 2.0, 30.0), note("right", 3.0, None), note("wrong", 4.0, 40.0),
        note("right", 6.0, 10.0), note("extra", 7.5, -30.0), note("right", 16.0, 5.0), note("right", 15.0, 0.0),
        said=(2,),
    )  # fmt: skip
    assert drawn(timing_figure(TUNE.unfold(), found, WIDTH)) == lines(WIDE)


def test_what_is_very_late_stands_at_the_edge_and_a_pickup_before_bar_1(ferry: Chart) -> None:
    found = once_through(note("right", -1.0, -200.0), note("right", 2.0, 190.0), note("wrong", 4.0, 170.0))
    assert drawn(timing_figure(ferry.unfold(), found, 3.0)) == lines(NARROW)


@pytest.mark.parametrize(("late", "edge"), [(10.0, 60), (-54.0, 60), (60.0, 66), (-100.0, 110), (150.0, 160)])
def test_the_scale_goes_a_tenth_beyond_the_latest_note(late: float, edge: float) -> None:
    """From 60 to 160 ms."""
    timing = timing_figure(TUNE.unfold(), once_through(note("right", 1.0, late)), WIDTH).axes[0]
    assert timing.get_ylim() == pytest.approx((-edge, edge))


@pytest.mark.parametrize(
    ("bars", "width", "each"),
    [(16, WIDTH, 1), (17, WIDTH, 2), (8, WIDTH / 2, 1), (9, WIDTH / 2, 2), (64, WIDTH, 4), (65, WIDTH, 8),
     (128, WIDTH, 8), (256, WIDTH, 16), (257, WIDTH, 32)],
)  # fmt: skip
def test_sixteen_bar_numbers_at_most_fit_the_width(bars: int, width: float, each: int) -> None:
    form = replace(TUNE.unfold(), bars=tuple(Fraction(4 * n) for n in range(bars)), length=Fraction(4 * bars))
    axes = timing_figure(form, once_through(), width).axes[1]
    assert [text.get_text() for text in axes.get_xticklabels()] == [str(bar) for bar in range(1, bars + 1, each)]


@pytest.mark.parametrize(("width", "narrow"), [(4.9, True), (5.0, False)])
def test_on_a_narrow_picture_the_words_are_fewer(width: float, narrow: bool) -> None:
    timing = timing_figure(TUNE.unfold(), once_through(), width).axes[0]
    assert (timing.get_title(loc="left") == "Early below, late above") == narrow
