"""Where bars, beats and pitches stand on an engraved page: held against what the engraver itself drew."""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise
from xml.etree.ElementTree import fromstring

import pytest

from companion.chart.model import Chart
from companion.engrave.musicxml_notes import head_name
from companion.engrave.note_places import (
    HALF_HEAD,
    BarPlace,
    StaffPlace,
    bar_places,
    line_shifts,
    with_marks,
    without_rests,
)
from companion.engrave.page import long_page
from companion.engrave.score import chart_melody
from companion.engrave.score import sheet as laid_out
from companion.engrave.sheet import LEFT, RIGHT, Bar, Sheet, Voice
from companion.engrave.values import VoiceSpan, write_bar
from companion.music.meter import Metre
from companion.music.pitch import Pitch

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


# worked examples, on a drawing of one bar

STAVES = {RIGHT: StaffPlace(1000.0, 100.0), LEFT: StaffPlace(2000.0, 100.0)}
PLACE = BarPlace(1, 0, 0.0, 1000.0, STAVES, ((0.0, 200.0), (2.0, 600.0), (4.0, 1000.0)))


@pytest.mark.parametrize(
    ("beat", "x"),
    [
        (-0.6, 90),
        (-0.5, 100),
        (0.0, 200),
        (0.5, 300),
        (2.0, 600),
        (3.0, 800),
        (3.5, 900),
        (3.6, 910),
        (4.0, 910),
        (9.0, 910),
    ],
)
def test_beats_lie_evenly_between_heads_and_nine_tenths_of_a_space_from_the_bar_lines(beat: float, x: float) -> None:
    assert PLACE.x(beat) == pytest.approx(x)


@pytest.mark.parametrize(
    ("step", "octave", "staff", "y"),
    [
        ("F", 5, RIGHT, 1000), ("E", 4, RIGHT, 1400), ("C", 4, RIGHT, 1500), ("A", 5, RIGHT, 900),
        ("A", 3, LEFT, 2000), ("G", 2, LEFT, 2400), ("C", 4, LEFT, 1900), ("D", 3, LEFT, 2200),
    ],
)  # fmt: skip
def test_a_pitch_stands_on_its_line_of_treble_and_bass_clef(step: str, octave: int, staff: int, y: float) -> None:
    """Common practice: the treble staff's lines are E4 to F5, the bass staff's G2 to A3."""
    assert PLACE.y(Pitch(step, 0, octave), staff) == y


def drawn(*heads: tuple[int, int], signs: str = "", moved: str = "") -> str:
    """A line of one bar from 100 to 1100 whose heads, by number, have their left edges there; a space is 20."""
    staff = "".join(f'<path d="M100 {y} L1100 {y}" stroke="x"/> ' for y in (500, 520, 540))
    notes = "".join(
        f'<g id="bar1voice0head{n}" class="note"><use transform="translate({x}, 7)"/></g>' for n, x in heads
    )
    bar = f'<g class="measure"><g class="staff">{staff}</g>{signs}{notes}</g>'
    return f'<svg><g id="s" class="system"{moved}>{bar}</g></svg>'


def one_bar(*edges: int) -> Sheet:
    """Its melody sounds between these beats, one note after the other."""
    spans = [VoiceSpan(Fraction(a), Fraction(b), (Pitch("C", 0, 5),)) for a, b in pairwise(edges)]
    bar = Bar(1, Fraction(4), Metre(), (Voice(RIGHT, 1, write_bar(spans, Fraction(4), Metre())),))
    return Sheet("One", None, Metre(), 0, False, 120.0, "swing", (RIGHT,), (bar,))


def test_a_head_s_middle_is_half_its_width_from_its_edge() -> None:
    (place,) = bar_places(drawn((0, 200), (1, 600)), one_bar(0, 2, 4))
    assert (place.number, place.line, place.left, place.right) == (1, 0, 100.0, 1100.0)
    assert place.staves == {RIGHT: StaffPlace(500.0, 20.0)}
    assert place.beats == ((0.0, 200 + 0.59 * 20), (2.0, 600 + 0.59 * 20), (4.0, 1100.0))  # SMuFL 1.4: 1.18 wide


SIGN = '<g class="{}"><use transform="translate({}, 7)"/></g>'


@pytest.mark.parametrize(
    ("signs", "first"),
    [
        ("", 100 + 30),
        (SIGN.format("clef", 110), 110 + 50),
        (SIGN.format("clef", 110) + SIGN.format("keySig", 160) + SIGN.format("meterSig", 200), 200 + 50),
        (SIGN.format("clef", 2000), 1099),  # before the bar's end all the same
    ],
)
def test_where_no_head_tells_it_the_first_beat_stands_after_bar_line_and_signs(signs: str, first: float) -> None:
    """Of a whole rest, which stands in the middle."""
    (place,) = bar_places(drawn(signs=signs), one_bar())
    assert place.beats == ((0.0, first), (4.0, 1100.0))


def test_a_head_that_isn_t_drawn_to_the_right_of_the_last_tells_nothing() -> None:
    (place,) = bar_places(drawn((0, 600), (1, 600), (2, 800)), one_bar(0, 1, 2, 4))
    assert [beat for beat, _ in place.beats] == [0.0, 2.0, 4.0]


def test_how_far_a_line_was_moved_is_read_from_itself() -> None:
    assert line_shifts(drawn()) == [0.0]
    two = drawn(moved=' transform="translate(0, -250)"') + drawn(moved=' transform="translate(0, 300.5)"')
    assert line_shifts(two) == [-250.0, 300.5]


def test_marks_stand_at_the_beginning_and_the_end_of_a_line_and_nowhere_else() -> None:
    svg = '<svg><g><g id="a" class="system"><path/></g>\n<g id="b" class="system"><path/></g></g></svg>'
    assert with_marks(svg, {0: ["<u/>"]}, {1: ["<o/>", "<p/>"]}) == (
        '<svg><g><g id="a" class="system"><u/><path/></g>\n<g id="b" class="system"><path/><o/><p/></g></g></svg>'
    )
    assert with_marks(svg, {}, {0: ["<o/>"]}).count("<path/><o/></g>\n") == 1
    assert with_marks("<svg></svg>", {0: ["<u/>"]}, {}) == "<svg></svg>"


def test_only_the_rests_of_the_staff_that_is_asked_for_are_unseen() -> None:
    rest, note = '<g id="bar1voice0head0" class="rest"/>', '<g id="bar1voice0head0" class="note"/>'
    hidden = '<g id="bar1voice0head0" visibility="hidden" class="rest"/>'
    assert without_rests(rest + note, one_bar(), (RIGHT,)) == hidden + note
    assert without_rests(rest, one_bar(), (LEFT,)) == rest
