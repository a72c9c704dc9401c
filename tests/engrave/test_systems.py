"""Systems for a screen: every bar once and in order, in as many as the width asks for, each onset where it is drawn."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING
from xml.etree.ElementTree import fromstring

import pytest

from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.engrave.systems import System, engraved_systems

if TYPE_CHECKING:
    from companion.chart.model import Chart
    from tests.conftest import Stand

pytest.importorskip("verovio", reason="the engraver is not installed")


def bars(systems: list[System]) -> list[int]:
    return [bar.number for system in systems for bar in system.bars]


def test_what_comes_again_is_written_out_in_the_order_of_playing(stand: Stand) -> None:
    chart = stand.chart(stand.TEN, form="A A")
    systems = engraved_systems(chart, 100, Request())
    assert bars(systems) == list(range(1, 17))
    starts = [bar.start for system in systems for bar in system.bars]
    assert starts == [4.0 * n for n in range(16)]


def test_a_narrow_screen_gets_more_systems_of_fewer_bars(stand: Stand) -> None:
    chart = stand.tune()
    wide, narrow = (engraved_systems(chart, width, Request()) for width in (160, 60))
    assert len(narrow) > len(wide)
    assert bars(narrow) == bars(wide)
    assert max(len(system.bars) for system in narrow) < max(len(system.bars) for system in wide)


def test_every_onset_of_a_part_is_an_element_of_its_systems_drawing(stand: Stand) -> None:
    chart = stand.tune()
    systems = engraved_systems(chart, 100, Request())
    struck = {round(float(note.beat), 4) for part in ("melody", "bass") for note in arrange(chart.unfold(), part)}
    found = {beat for system in systems for bar in system.bars for beat, _ in bar.onsets}
    assert struck <= found
    for system in systems:
        ids = set(re.findall(r'id="([^"]+)"', system.svg))
        assert {element for bar in system.bars for _, element in bar.onsets} <= ids
        for bar in system.bars:
            assert all(bar.start <= beat < bar.start + bar.length for beat, _ in bar.onsets)


def test_in_an_order_of_events_the_introduction_comes_before_the_first_head_alone(ferry: Chart) -> None:
    first, second = (engraved_systems(ferry, 120, Request(chorus=chorus), event="head") for chorus in (1, 4))
    assert bars(first)[:5] == [-3, -2, -1, 0, 1]
    assert bars(second)[0] in (0, 1)
    assert max(bars(first)) > 32  # the ending


def test_a_drawing_is_sound_xml_without_style_or_script(ferry: Chart) -> None:
    """The page's policy lets neither in."""
    for system in engraved_systems(ferry, 120, Request()):
        fromstring(system.svg)
        assert "<style" not in system.svg and "style=" not in system.svg and "<script" not in system.svg


@pytest.mark.parametrize(("asked", "spaces"), [(5, 24), (24, 24), (60, 60), (400, 400), (1000, 400)])
def test_a_system_is_as_wide_as_is_asked_for_within_reason(stand: Stand, asked: float, spaces: float) -> None:
    """A space is 2 mm, in the drawing 20 units; a brace reaches 45 into the margin, and 8 are left at the right."""
    (first, *_) = engraved_systems(stand.chart(("| Cmaj7 |", "| C8 |")), asked, Request(), staves=(1,))
    frame = re.search(r'viewBox="(\S+) 0 (\S+) \S+"', first.svg)
    assert frame and (float(frame[1]), float(frame[2])) == (75, spaces * 20 + 45 + 8)
    lines = [float(y) for y in re.findall(r'<path d="M\S+ (\d+) L\S+ \1"', first.svg)][:5]
    assert [round(after - before) for before, after in pairwise(lines)] == [200] * 4, "hundredths of a millimetre"
