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
