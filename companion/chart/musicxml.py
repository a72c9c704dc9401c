"""A MusicXML lead sheet (.musicxml, .xml, .mxl) as a chart.

Method: each measure of the melody's part becomes a :class:`~companion.chart.written.WrittenBar`
(:mod:`companion.chart.measures`); :mod:`companion.chart.lead_sheet` makes a chart of them. Source: MusicXML 4.0 (W3C
Music Notation Community Group, 2021). A pickup bar needs no mark: it is a short first bar.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from xml.etree.ElementTree import Element

from companion.chart.directions import settle_codas
from companion.chart.imported import Imported
from companion.chart.lead_sheet import LeadSheet, as_chart, metre_from_lengths, with_lengths
from companion.chart.measures import MeasureReader, melody_voice
from companion.chart.model import Chart
from companion.chart.mxl import read_score
from companion.chart.written import WrittenBar
from companion.errors import ChartError


def read_musicxml(path: str | Path) -> Chart:
    """Read a lead sheet as a chart.

    Parameters
    ----------
    path : str or Path
        A .musicxml, .xml or .mxl file.

    Returns
    -------
    Chart

    Raises
    ------
    ChartError
        One line that names the file and, where there is one, the measure.
    """
    return import_musicxml(path).chart


def import_musicxml(path: str | Path) -> Imported:
    """Read a lead sheet as a chart, with what the chart doesn't hold. Raises ChartError as :func:`read_musicxml`."""
    path = Path(path)
    try:
        return as_chart(read_written(path), str(path))
    except ChartError as error:
        raise error.within(file=str(path)) from error


def read_written(path: Path) -> LeadSheet:
    """Read a lead sheet's bars as they stand on the page. Raises ChartError."""
    root = read_score(path)
    if root.tag not in ("score-partwise", "score-timewise"):
        raise ChartError(f"is not a MusicXML score (its root is <{root.tag}>)", file=str(path))
    measures = _melody_measures(root, str(path))
    notes = (element for _, elements in measures for element in elements if element.tag == "note")
    reader = MeasureReader(str(path), melody_voice(notes))
    bars = [reader.bar(number, measure) for number, measure in measures]
    if not bars or not any(bar.notes or bar.chords for bar in bars):
        raise ChartError("holds neither melody nor chords", file=str(path), mend="open a lead sheet")
    bars = _play_again(settle_codas(bars), reader.again)
    metre = reader.metres.most_common(1)[0][0] if reader.metres else metre_from_lengths(bars)
    return LeadSheet(
        title=_title(root) or path.stem,
        composer=_composer(root),
        bars=with_lengths(bars, metre),
        metre=metre,
        fifths=reader.first_fifths,
        minor=reader.minor,
        tempo=reader.tempo,
        feel=reader.feel,
    )


def _play_again(bars: list[WrittenBar], again: Mapping[int, int]) -> list[WrittenBar]:
    """Fill in the bars that stand as a repeat sign: each holds what the bar so many before it does."""
    filled = list(bars)
    for at, back in sorted(again.items()):
        if back <= at and not (bars[at].notes or bars[at].chords):
            before = filled[at - back]
            filled[at] = replace(bars[at], notes=before.notes, chords=before.chords, length=before.length)
    return filled


def _title(root: Element) -> str:
    for where in ("work/work-title", "movement-title"):
        if (text := (root.findtext(where) or "").strip()) and text.lower() != "untitled":
            return " ".join(text.split())
    return ""


def _composer(root: Element) -> str | None:
    for creator in root.findall("identification/creator"):
        if creator.get("type", "composer") == "composer" and (creator.text or "").strip():
            return " ".join((creator.text or "").split())
    return None


def _melody_measures(root: Element, file: str) -> list[tuple[str, list[Element]]]:
    """The melody's part, measure by measure: its number and its elements, chord symbols of other parts included."""
    parts: dict[str, list[Element]] = {}
    if root.tag == "score-partwise":
        parts = {part.get("id", str(k)): part.findall("measure") for k, part in enumerate(root.findall("part"))}
    else:
        for measure in root.findall("measure"):
            for part in measure.findall("part"):
                part.set("number", measure.get("number", ""))
                parts.setdefault(part.get("id", ""), []).append(part)
    parts = {name: measures for name, measures in parts.items() if measures}
    if not parts:
        raise ChartError("has no part with measures", file=file)

    def holds(measures: list[Element], path: str) -> bool:
        return any(measure.find(path) is not None for measure in measures)

    singing = [measures for measures in parts.values() if holds(measures, "note/pitch")]
    melody = singing[0] if singing else next(iter(parts.values()))
    if not holds(melody, "harmony"):
        symbols = next((m for m in parts.values() if holds(m, "harmony")), None)
        if symbols is not None and len(symbols) == len(melody):
            paired = enumerate(zip(melody, symbols, strict=True), 1)
            return [(m.get("number", str(k)), _with_symbols(m, s)) for k, (m, s) in paired]
    return [(measure.get("number", str(k)), list(measure)) for k, measure in enumerate(melody, 1)]


def _with_symbols(measure: Element, other: Element) -> list[Element]:
    """A measure with the chord symbols of another part's laid under it from the start, its time kept by forwards."""
    rewind = Element("rewind")
    kept = [e for e in other if e.tag in ("harmony", "note", "forward", "backup", "attributes")]
    silent: list[Element] = []
    for element in kept:
        if element.tag == "attributes":
            if (divisions := element.find("divisions")) is not None:
                attributes = Element("attributes")
                attributes.append(divisions)
                silent.append(attributes)
        elif element.tag == "note":
            if element.find("chord") is None and (duration := element.find("duration")) is not None:
                forward = Element("forward")
                forward.append(duration)
                silent.append(forward)
        else:
            silent.append(element)
    return [*list(measure), rewind, *silent]
