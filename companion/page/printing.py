"""An arrangement on paper or for another program, made for a download."""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from companion.chart.model import Chart
from companion.engrave.programme import arrangement, slowing, sounding, with_order
from companion.engrave.score import chart_melody, lead_sheet
from companion.engrave.sheet import Sheet
from companion.engrave.voices import staff_of
from companion.load import load
from companion.page.how import How, style_asked, treated
from companion.resources import chart_name

Printable = Literal["both", "lead", "right", "left"]
FileKind = Literal["pdf", "musicxml", "mid"]
TYPES: dict[FileKind, str] = {
    "pdf": "application/pdf",
    "musicxml": "application/vnd.recordare.musicxml+xml",
    "mid": "audio/midi",
}
STAVES: dict[Printable, tuple[int, ...]] = {"right": (1,), "left": (2,), "both": (1, 2), "lead": (1,)}


class PrintAsked(msgspec.Struct, frozen=True):
    """Printable is to be printed, and as what."""

    path: str
    how: How
    what: Printable
    kind: FileKind


def printed(asked: PrintAsked) -> dict[str, Any]:
    """The file's name and its bytes.

    Raises
    ------
    InputError
        It can't be engraved, or the engraver isn't installed.
    """
    chart = treated(load(asked.path), asked.how.treatments)
    name = chart_name(chart.title) + ("" if asked.what == "both" else f"-{asked.what}")
    data = _midi(asked, chart) if asked.kind == "mid" else _paper(asked, chart)
    return {"name": f"{name}.{asked.kind}", "data": data}


def _midi(asked: PrintAsked, chart: Chart) -> bytes:
    from companion.engrave.recording import midi_file

    if asked.what == "lead":
        form = chart.unfold()
        return midi_file(form, chart_melody(form), chart.title, asked.how.seed, None, plain=True)
    form, notes = sounding(chart, seed=asked.how.seed, style=style_asked(asked.how))
    hand = [note for note in notes if staff_of(note) in STAVES[asked.what]]
    return midi_file(form, hand, chart.title, asked.how.seed, slowing(chart))


def _paper(asked: PrintAsked, chart: Chart) -> bytes:
    from companion.engrave.musicxml_out import musicxml

    sheet = _sheet(asked, chart)
    if asked.kind == "musicxml":
        return musicxml(sheet).encode()
    from companion.engrave.page import pages, pdf

    return pdf(pages(sheet), sheet.title)


def _sheet(asked: PrintAsked, chart: Chart) -> Sheet:
    if asked.what == "lead":
        return with_order(lead_sheet(chart), chart)
    return arrangement(chart, staves=STAVES[asked.what], seed=asked.how.seed, style=style_asked(asked.how))
