"""Every voice that shows a note fills its bar with what is printed: in MusicXML, and in what the engraver draws.

A player counts what is on the paper: a voice whose rests are left out in part can't be counted (Gould, Behind Bars,
2011, on rests in double-stemmed writing, from memory). A voice that is silent all bar needn't be printed.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest

from companion.chart.model import Chart
from companion.engrave import page
from companion.engrave.musicxml_out import musicxml
from companion.engrave.paper import PAPERS
from companion.engrave.programme import arrangement
from companion.engrave.sheet import Sheet
from companion.load import load
from companion.resources import chart_path

SVG = "{http://www.w3.org/2000/svg}"
TREATMENTS = ("walking", "ballad", "open", "block")
"""Chords in the gaps, late notes, chords of two hands, voices in lock-step."""


def test_every_voice_that_shows_a_note_fills_its_bar_in_the_file(varied: Chart) -> None:
    assert _short_in_the_file(arrangement(varied)) == []


@pytest.mark.parametrize("treatment", TREATMENTS)
def test_every_voice_fills_its_bar_however_a_tune_is_treated(treatment: str) -> None:
    assert _short_in_the_file(arrangement(load(chart_path("half-a-moon-in-the-millpond")), treatment=treatment)) == []


@pytest.mark.parametrize("name", ["umbrella-at-a-gallop", "chimney-weather", "half-a-moon-in-the-millpond"])
def test_every_voice_that_shows_a_note_fills_its_bar_as_it_is_drawn(
    name: str, drawn: Callable[[Sheet], list[str]]
) -> None:
    sheet = arrangement(load(chart_path(name)))
    lengths = [bar.length for bar in sheet.bars]
    found = [voices for svg in drawn(sheet) for voices in _drawn_bars(svg)]
    assert len(found) == len(lengths)
    short = [(k, v) for k, (length, voices) in enumerate(zip(lengths, found, strict=True)) for v in voices - {length}]
    assert short == []


def test_a_late_note_needs_no_voice_of_its_own() -> None:
    sheet = arrangement(load(chart_path("half-a-moon-in-the-millpond")), treatment="ballad")
    assert {voice.number for bar in sheet.bars for voice in bar.voices} <= {1, 2, 5, 6}
    assert any(head.joining for bar in sheet.bars for voice in bar.voices for head in voice.heads)


def _short_in_the_file(sheet: Sheet) -> list[tuple[str, str, Fraction]]:
    """Bar, voice and what is printed of it in quarters, where a voice shows a note and doesn't fill the bar."""
    root = ElementTree.fromstring(musicxml(sheet))
    divisions = int(root.findtext(".//divisions") or 0)
    short = []
    for measure, bar in zip(root.iter("measure"), sheet.bars, strict=True):
        printed: dict[str, Fraction] = {}
        sounds = set()
        for note in measure.iter("note"):
            if note.find("chord") is not None or note.get("print-object") == "no":
                continue
            voice = note.findtext("voice") or ""
            printed[voice] = printed.get(voice, Fraction(0)) + Fraction(int(note.findtext("duration") or 0), divisions)
            if note.find("pitch") is not None:
                sounds.add(voice)
        short += [(str(measure.get("number")), v, printed[v]) for v in sorted(sounds) if printed[v] != bar.length]
    return short


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> Callable[[Sheet], list[str]]:
    """The pages of a sheet as SVG whose notes and rests tell their values; its line ends change none."""
    verovio: Any = pytest.importorskip("verovio", reason="the extra print isn't installed")

    class Telling(verovio.toolkit):  # type: ignore[misc]
        def setOptions(self, options: dict[str, Any]) -> Any:  # noqa: N802
            tags = [f"{what}@{how}" for what in ("note", "chord", "rest") for how in ("dur", "dots")]
            told = {"svgAdditionalAttribute": [*tags, "tuplet@num", "tuplet@numbase"]}
            return super().setOptions({**options, **told})

    monkeypatch.setattr(verovio, "toolkit", Telling)

    def pages(sheet: Sheet) -> list[str]:
        engraver = page.open_engraver()
        count = page.lay_music_out(engraver, sheet, PAPERS["a4"], 6.5, breaks="auto")
        return [engraver.renderToSVG(number) for number in range(1, count + 1)]

    return pages


def _drawn_bars(svg: str) -> list[set[Fraction]]:
    """For each bar, what the voices that show a note last in quarters, as drawn."""
    bars = []
    for measure in _of(ElementTree.fromstring(svg), "measure"):
        layers = [layer for layer in _of(measure, "layer") if list(_of(layer, "note"))]
        bars.append({_length(layer, Fraction(1)) for layer in layers})
    return bars


def _of(element: Element, what: str) -> list[Element]:
    return [found for found in element.iter(f"{SVG}g") if found.get("class", "").split(" ")[0] == what]


def _length(element: Element, times: Fraction) -> Fraction:
    total = Fraction(0)
    for child in element:
        what = child.get("class", "").split(" ")[0]
        if what in ("note", "chord", "rest") and child.get("data-dur"):
            value = Fraction(4, int(child.get("data-dur", "4")))
            total += value * (2 - Fraction(1, 2 ** int(child.get("data-dots", "0")))) * times
        elif what == "tuplet":
            total += _length(
                child, times * Fraction(int(child.get("data-numbase", "1")), int(child.get("data-num", "1")))
            )
        else:
            total += _length(child, times)
    return total
