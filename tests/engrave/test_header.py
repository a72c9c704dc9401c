"""What stands over the first line: title, form, order, feel and tempo."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree.ElementTree import fromstring

import pytest

from companion.chart.model import Chart
from companion.engrave.header import head, height
from companion.engrave.paper import PAPERS, Paper
from companion.engrave.score import lead_sheet
from companion.engrave.tempo_marking import tempo_marking
from companion.music.meter import Metre
from tests.wrapping import lines

pytest.importorskip("verovio", reason="the extra print isn't installed")


@pytest.mark.parametrize(
    ("tempo", "feel", "words", "swung"),
    [
        (132.0, "swing", "Swing", (2, 1)),
        (240.0, "swing", "Light swing", (3, 2)),
        (300.0, "swing", "Fast, even eighths", None),
        (132.0, "straight", "Straight eighths", None),
    ],
)
def test_swing_is_marked_as_it_sounds_at_the_tempo(
    ferry: Chart, tempo: float, feel: str, words: str, swung: tuple[int, int] | None
) -> None:
    # Ratios by tempo: Friberg & Sundström, Music Perception 19(3), 2002, from memory.
    how = tempo_marking(lead_sheet(replace(ferry, tempo=tempo, feel=feel)))
    assert (how.words, how.swung, how.per_minute) == (words, swung, round(tempo))


@pytest.mark.parametrize("metre", [Metre(6, 8), Metre(12, 8)])
def test_what_is_counted_in_dotted_quarters_does_not_swing(ferry: Chart, metre: Metre) -> None:
    how = tempo_marking(replace(lead_sheet(ferry), metre=metre))
    assert (how.words, how.swung) == ("", None)


@pytest.mark.parametrize(
    ("metre", "beat", "dotted", "per_minute"),
    [(Metre(4, 4), "quarter", False, 120), (Metre(6, 8), "quarter", True, 80), (Metre(2, 2), "half", False, 60)],
)
def test_the_tempo_is_that_of_the_beat_which_is_counted(
    ferry: Chart, metre: Metre, beat: str, dotted: bool, per_minute: int
) -> None:
    how = tempo_marking(replace(lead_sheet(ferry), metre=metre, tempo=120.0))
    assert (how.beat, how.dotted, how.per_minute) == (beat, dotted, per_minute)


@pytest.mark.parametrize("paper", PAPERS.values(), ids=PAPERS)
@pytest.mark.parametrize("title", ["Q", "A Very Long Walk Along the Canal and Back in Somebody Else's Boots" * 3])
def test_the_header_stays_on_the_paper_whatever_it_says(ferry: Chart, title: str, paper: Paper) -> None:
    sheet = replace(lead_sheet(ferry), title=title, composer="N. O. Body" * 20, order="head – " * 60, form=("A1",) * 90)
    drawn = fromstring(f"<svg>{''.join(head(sheet, paper, 1, 3))}</svg>")
    for text in drawn.iter("text"):
        assert 0 < float(text.get("x", "")) < paper.units_wide and 0 < float(text.get("y", "")) < paper.units_high
        assert len(text.text or "") * float(text.get("font-size", "")) * 0.45 < paper.units_wide
    assert max(float(text.get("y", "")) for text in drawn.iter("text") if "/ 3" not in (text.text or "")) < height(
        sheet
    )


def test_notes_are_drawn_and_need_no_font(ferry: Chart) -> None:
    drawn = "".join(head(lead_sheet(ferry), PAPERS["a4"], 1, 1))
    assert "<path" in drawn and 'd=""' not in drawn
    assert not re.search("[\ue000-\uf8ff♩♪]", drawn)


# where everything stands, as it is drawn today: look at a page (``companion print``) before it is changed

FIRST_PAGE = """
<text x=420 y=1162 size=12 anchor=middle weight=normal>1 / 2
<text x=420 y=58 size=30 anchor=middle weight=normal>Ferry Without Lights
<text x=420 y=78 size=13 anchor=middle weight=normal>A1 A2 B A2
<text x=420 y=95 size=13 anchor=middle weight=normal>Head
<text x=48 y=130 size=16 anchor=start weight=bold>Swing
<text x=99 y=130 size=16 anchor=start weight=normal>(
<path transform=translate(107 127) scale(0.024 -0.024) d=shape 1
<path d=M114 126.4 V110 stroke=black stroke-width=1
<path transform=translate(123 127) scale(0.024 -0.024) d=shape 1
<path d=M130 126.4 V110 stroke=black stroke-width=1
<path d=M113.5 110 H130.5 v3.2 H113.5 z
<text x=137 y=130 size=16 anchor=start weight=normal>=
<path transform=translate(153 127) scale(0.024 -0.024) d=shape 1
<path d=M160 126.4 V110 stroke=black stroke-width=1
<path transform=translate(172 127) scale(0.024 -0.024) d=shape 1
<path d=M179 126.4 V110 stroke=black stroke-width=1
<path transform=translate(179 110) scale(0.024 -0.024) d=shape 2
<path d=M153 107 v-4 h10 M172 103 h10 v4 fill=none stroke=black
<text x=167.5 y=107 size=10 anchor=middle weight=bold>3
<text x=188 y=130 size=16 anchor=start weight=normal>)
<path transform=translate(210 127) scale(0.024 -0.024) d=shape 1
<path d=M217 126.4 V110 stroke=black stroke-width=1
<text x=226 y=130 size=16 anchor=start weight=normal>= 132
<text x=792 y=130 size=13 anchor=end weight=normal>N. O. Body
"""
IN_SIX_EIGHT = """
<text x=431.8 y=58 size=30 anchor=middle weight=normal>Ferry Without Lights
<path transform=translate(48 93) scale(0.024 -0.024) d=shape 1
<path d=M55 92.4 V76 stroke=black stroke-width=1
<circle cx=59 cy=93 r=1.3
<text x=69 y=96 size=16 anchor=start weight=normal>= 60
"""
IN_TWO_HALVES = """
<text x=431.8 y=58 size=30 anchor=middle weight=normal>Ferry Without Lights
<text x=48 y=96 size=16 anchor=start weight=bold>Straight eighths
<path transform=translate(189.2 93) scale(0.024 -0.024) d=shape 1
<path d=M196.2 92.4 V76 stroke=black stroke-width=1
<text x=205.2 y=96 size=16 anchor=start weight=normal>= 45
"""
NEXT_PAGE = """
<text x=431.8 y=1091.6 size=12 anchor=middle weight=normal>2 / 3
<text x=431.8 y=40 size=13 anchor=middle weight=normal>Ferry Without Lights
"""
"""Elements with their attributes, without quotation marks; the music font's shapes by the order in which they come."""


def short(drawn: list[str]) -> list[str]:
    """What is drawn as it is kept above, an element a row."""
    shapes: dict[str, int] = {}
    text = "\n".join(drawn).replace("/><", "/>\n<").replace(' font-family="Times, serif"', "")
    text = re.sub(r' d="(M[^"]{60,})"', lambda one: f' d="shape {shapes.setdefault(one[1], len(shapes) + 1)}"', text)
    for word, said in (("text-anchor", "anchor"), ("font-weight", "weight"), ("font-size", "size"), ("</text", "")):
        text = text.replace(word, said)
    return [re.sub(r'"|/?>$', "", row) for row in text.splitlines()]


def test_title_form_order_feel_tempo_and_composer_have_their_places(ferry: Chart) -> None:
    sheet = replace(lead_sheet(ferry), order="Head", composer="N. O. Body")
    assert short(head(sheet, PAPERS["a4"], 1, 2)) == lines(FIRST_PAGE)
    six = replace(lead_sheet(ferry), metre=Metre(6, 8), form=("A",), tempo=90.0)
    assert short(head(six, PAPERS["letter"], 1, 1)) == lines(IN_SIX_EIGHT)
    two = replace(lead_sheet(ferry), metre=Metre(2, 2), feel="straight", form=(), tempo=90.0)
    assert short(head(two, PAPERS["letter"], 1, 1)) == lines(IN_TWO_HALVES)
    assert short(head(six, PAPERS["letter"], 2, 3)) == lines(NEXT_PAGE)


def test_the_music_begins_lower_for_each_line_under_the_title(ferry: Chart) -> None:
    """In quarters of a millimetre."""
    sheet = replace(lead_sheet(ferry), form=(), order="")
    assert [height(replace(sheet, form=form)) for form in ((), ("A",), ("A", "B"))] == [112, 112, 129]
    assert height(replace(sheet, form=("A", "B"), order="Head")) == 146


@pytest.mark.parametrize(
    ("letters", "size", "said"), [(39, 30, 39), (40, 30, 40), (41, 29, 41), (80, 15, 80), (90, 13, 90), (91, 13, 90)]
)
def test_a_long_title_is_set_smaller_and_at_last_cut_short(ferry: Chart, letters: int, size: int, said: int) -> None:
    drawn = head(replace(lead_sheet(ferry), title="Q" * letters), PAPERS["a4"], 1, 1)[0]
    found = re.search(r'font-size="(\d+)".*>(Q+…?)<', drawn)
    assert found and int(found[1]) == size and len(found[2]) == said
    assert found[2].endswith("…") == (letters > 90)


@pytest.mark.parametrize(("letters", "said"), [(70, 70), (71, 70)])
def test_a_title_over_the_next_pages_and_a_composer_are_cut_at_seventy_letters(
    ferry: Chart, letters: int, said: int
) -> None:
    sheet = replace(lead_sheet(ferry), title="Q" * letters, composer="Q" * letters)
    for drawn in (head(sheet, PAPERS["a4"], 2, 2)[1], head(sheet, PAPERS["a4"], 1, 1)[-1]):
        (text,) = re.findall(r">(Q+…?)<", drawn)
        assert len(text) == said and text.endswith("…") == (letters > 70)


@pytest.mark.parametrize(("letters", "said"), [(110, 110), (111, 110)])
def test_an_order_of_events_is_cut_at_a_hundred_and_ten(ferry: Chart, letters: int, said: int) -> None:
    drawn = head(replace(lead_sheet(ferry), order="x" * letters), PAPERS["a4"], 1, 1)
    (text,) = re.findall(r">(x+…?)<", "".join(drawn))
    assert len(text) == said


@pytest.mark.parametrize(
    ("tempo", "words", "swung"),
    [
        (118.0, "Swing", (7, 3)),
        (119.0, "Swing", (2, 1)),
        (212.0, "Swing", (5, 3)),
        (222.0, "Swing", (5, 3)),
        (223.0, "Light swing", (5, 3)),
        (240.0, "Light swing", (3, 2)),
        (260.0, "Light swing", (4, 3)),
        (279.0, "Light swing", None),
        (280.0, "Fast, even eighths", None),
    ],
)
def test_quavers_even_out_as_the_tempo_rises(
    ferry: Chart, tempo: float, words: str, swung: tuple[int, int] | None
) -> None:
    """The ratio as shipped is 1.7 at 222.4 and 1.15 at 279.1 quarters a minute, written in thirds at the finest."""
    how = tempo_marking(replace(lead_sheet(ferry), tempo=tempo))
    assert (how.words, how.swung) == (words, swung)


def test_a_feel_that_nobody_knows_has_its_own_name_and_even_quavers(ferry: Chart) -> None:
    how = tempo_marking(replace(lead_sheet(ferry), feel="slow drag"))
    assert (how.words, how.swung) == ("Slow drag", None)
    assert tempo_marking(replace(lead_sheet(ferry), feel="bossa", metre=Metre(6, 8))).words == "Bossa"
