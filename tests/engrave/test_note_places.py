"""Where bars, beats and pitches stand on an engraved page: held against what the engraver itself drew."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree.ElementTree import fromstring

import pytest

from companion.chart.model import Chart
from companion.engrave.musicxml_notes import head_name
from companion.engrave.note_places import HALF_HEAD, BarPlace, bar_places, with_marks, without_rests
from companion.engrave.page import long_page
from companion.engrave.score import chart_melody
from companion.engrave.score import sheet as laid_out
from companion.engrave.sheet import RIGHT, Sheet

pytest.importorskip("verovio", reason="the extra print isn't installed")


@pytest.fixture
def written_out(ferry: Chart) -> Sheet:
    form = ferry.unfold()
    return laid_out(ferry, form, chart_melody(form), (RIGHT,), fold=False)


@pytest.fixture
def page(written_out: Sheet) -> str:
    return long_page(written_out, 210.0)[0]


@pytest.fixture
def places(page: str, written_out: Sheet) -> list[BarPlace]:
    return bar_places(page, written_out)


def test_every_bar_has_its_place_and_they_follow_each_other(places: list[BarPlace], ferry: Chart) -> None:
    assert [one.number for one in places] == list(range(len(ferry.unfold().bars) + 1))
    for before, after in pairwise(places):
        assert (after.line, after.left) > (before.line, before.left)
        if before.line == after.line:
            assert after.left == before.right


def test_the_heads_that_the_engraver_drew_stand_where_their_beats_and_pitches_do(
    page: str, places: list[BarPlace], written_out: Sheet
) -> None:
    checked = 0
    for bar, place in zip(written_out.bars, places, strict=True):
        space = place.staves[RIGHT].space
        for v, voice in enumerate(bar.voices):
            for h, head in enumerate(voice.heads):
                name = head_name(bar, v, h)
                drawn = re.search(rf'id="{name}" class="note">.*?translate\((-?\d+), (-?\d+)\)', page, re.DOTALL)
                if not head.pitches or drawn is None:
                    continue
                x, y = float(drawn[1]) + HALF_HEAD * space, float(drawn[2])
                assert place.x(float(head.start)) == pytest.approx(x, abs=space)
                assert place.y(head.pitches[0], RIGHT) == pytest.approx(y, abs=0.05 * space)
                checked += 1
    assert checked > 80


def test_a_beat_stands_between_its_neighbours_and_clear_of_the_bar_lines(places: list[BarPlace]) -> None:
    for place in places[1:]:
        across = [place.x(n / 4) for n in range(17)]
        assert across == sorted(across)
        assert place.left < across[0] and across[-1] < place.right
        assert place.x(-1.0) > place.left and place.x(9.0) < place.right


def test_at_the_beginning_of_a_line_the_first_beat_stands_behind_clef_and_key(ferry: Chart) -> None:
    """Of a staff on which nothing is written, no head tells it."""
    form = ferry.unfold()
    empty = laid_out(ferry, form, [], (RIGHT,), fold=False)
    svg, _ = long_page(empty, 210.0)
    first = bar_places(svg, empty)[0]
    signs = [
        float(x) for x in re.findall(r'class="(?:clef|keyAccid|meterSig)".*?translate\((\d+),', svg, re.DOTALL)[:4]
    ]
    assert first.x(0.0) > max(signs) + first.staves[RIGHT].space


def test_what_is_drawn_lies_in_its_own_line_under_or_over_the_notes(page: str, places: list[BarPlace]) -> None:
    lines = places[-1].line + 1
    mark = {line: [f'<circle r="{line + 1}"/>'] for line in range(lines)}
    root = fromstring(with_marks(page, mark, mark))
    svg = "{http://www.w3.org/2000/svg}"
    systems = [one for one in root.iter(f"{svg}g") if one.get("class") == "system"]
    assert len(systems) == lines
    for line, system in enumerate(systems):
        assert system[0].tag == system[-1].tag == f"{svg}circle"
        assert [one.get("r") for one in system.iter(f"{svg}circle")] == [str(line + 1)] * 2


def test_the_rests_of_a_staff_can_be_made_unseen(page: str, written_out: Sheet) -> None:
    assert page.count('class="rest"') > 10 and 'visibility="hidden"' not in page
    assert without_rests(page, written_out, ()) == page
    assert without_rests(page, written_out, (RIGHT,)).count('visibility="hidden"') == page.count('class="rest"')


def test_a_folded_page_says_nothing_of_places(page: str, ferry: Chart) -> None:
    form = ferry.unfold()
    assert bar_places(page, laid_out(ferry, form, chart_melody(form), (RIGHT,))) == []
