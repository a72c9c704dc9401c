"""A MusicXML lead sheet (.musicxml, .xml, .mxl) as a chart.

Method: each measure of the melody's part becomes a :class:`~companion.chart.written.WrittenBar`
(:mod:`companion.chart.musicxml.measures`); :mod:`companion.chart.lead_sheet` makes a chart of them. Source: MusicXML
4.0 (W3C Music Notation Community Group, 2021). A pickup bar needs no mark: it is a short first bar.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from companion.chart.imported import Imported
from companion.chart.lead_sheet import LeadSheet, as_chart, metre_from_lengths, with_lengths
from companion.chart.model import MOST_BARS, Chart
from companion.chart.musicxml.directions import settle_codas
from companion.chart.musicxml.measures import MeasureReader, melody_voice_id
from companion.chart.musicxml.mxl import read_score
from companion.chart.musicxml.remarks import lyric_remarks, tune_remarks
from companion.chart.remarks import Remark
from companion.chart.written import WrittenBar
from companion.errors import ChartError

MOST_PARTS = 100
"""Of a score; the largest orchestra has half as many."""


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
        One line that names the file and, where there is one, the bar as the sheet numbers it.
    """
    path = Path(path)
    return _chart(read_written(path), path).chart


def import_musicxml(path: str | Path, melody: str | None = None) -> Imported:
    """Read a lead sheet as a chart, with what the chart doesn't hold; also chord symbols that aren't understood.

    Parameters
    ----------
    path : str or Path
    melody : str, optional
        Name or id of the part with the melody; by default the first one that has notes.

    Raises
    ------
    ChartError
        As for :func:`read_musicxml`.
    """
    path = Path(path)
    return _chart(read_written(path, melody=melody, lenient=True), path)


def _chart(sheet: LeadSheet, path: Path) -> Imported:
    try:
        return as_chart(sheet, str(path))
    except ChartError as error:
        raise error.within(file=str(path)) from error


def read_written(path: Path, *, melody: str | None = None, lenient: bool = False) -> LeadSheet:
    """Read a lead sheet's bars as they stand on the page. Raises ChartError."""
    root = read_score(path)
    if root.tag not in ("score-partwise", "score-timewise"):
        raise ChartError(f"is not a MusicXML score (its root is <{root.tag}>)", file=str(path))
    parts = _parts(root, str(path))
    part = _melody_part(parts, _part_names(root), melody, str(path))
    measures = _with_other_symbols(part, parts)
    if len(measures) > MOST_BARS:
        raise ChartError(f"has more than {MOST_BARS} bars", file=str(path), mend="export one tune alone")
    notes = (element for _, elements in measures for element in elements if element.tag == "note")
    reader = MeasureReader(str(path), melody_voice_id(notes), lenient=lenient)
    bars = [reader.bar(number, measure) for number, measure in measures]
    if not bars or not any(bar.notes or bar.chords for bar in bars):
        raise ChartError("holds neither melody nor chords", file=str(path), mend="open a lead sheet")
    first = parts[part][0]
    bars[0] = replace(bars[0], uncounted=first.get("implicit") == "yes" or first.get("number") == "0")
    bars = _play_again(settle_codas(bars), reader.again)
    bars = _with_remarks(bars, lyric_remarks(reader.sung))
    for name, others in parts.items():
        if name != part:
            bars = _with_remarks(bars, _other_part(others, _part_names(root).get(name) or name, str(path)))
    metre = reader.metres.most_common(1)[0][0] if reader.metres else metre_from_lengths(bars)
    title, composer = _title(root) or path.stem, _composer(root)
    remarks = list(tune_remarks(root, title, composer))
    if reader.shift:
        remarks.append(Remark("written for a transposing instrument; here it stands as it sounds"))
    return LeadSheet(
        title=title,
        composer=composer,
        bars=with_lengths(bars, metre),
        metre=metre,
        fifths=reader.first_fifths,
        minor=reader.minor,
        tempo=reader.tempo,
        feel=reader.feel,
        remarks=tuple(remarks),
    )


def _with_remarks(bars: list[WrittenBar], found: Mapping[int, Sequence[Remark]]) -> list[WrittenBar]:
    return [replace(bar, remarks=(*bar.remarks, *found.get(k, ()))) for k, bar in enumerate(bars)]


def _other_part(measures: Sequence[Element], name: str, file: str) -> dict[int, list[Remark]]:
    """What another part than the melody's has, bar by bar."""
    reader = MeasureReader(file, ("", ""), lenient=True)
    found: dict[int, list[Remark]] = {}
    for index, measure in enumerate(measures):
        try:
            bar = reader.bar(measure.get("number", ""), list(measure))
        except ChartError as error:
            found[index] = [Remark(f"part {name} can't be read", error.what)]
        else:
            found[index] = [replace(remark, what=f"part {name}, {remark.what}") for remark in bar.remarks]
    return found


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


def _parts(root: Element, file: str) -> dict[str, list[Element]]:
    """The measures of every part that has some, by the part's id. Raises ChartError."""
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
    if len(parts) > MOST_PARTS:
        raise ChartError(f"has more than {MOST_PARTS} parts", file=file, mend="export the melody and its chords alone")
    return parts


def _part_names(root: Element) -> dict[str, str]:
    parts = root.findall("part-list/score-part")
    return {part.get("id", ""): " ".join((part.findtext("part-name") or "").split()) for part in parts}


def _melody_part(
    parts: Mapping[str, Sequence[Element]], names: Mapping[str, str], wanted: str | None, file: str
) -> str:
    """Id of the part with the melody: the one wanted, or the first that has notes. Raises ChartError."""
    if wanted is not None:
        for part in parts:
            if wanted.lower() in (part.lower(), names.get(part, "").lower()):
                return part
        there = ", ".join(names.get(part) or part for part in parts)
        raise ChartError(f"has no part {wanted!r}", file=file, mend=f"there are {there}")
    return next((part for part, measures in parts.items() if _holds(measures, "note/pitch")), next(iter(parts)))


def _holds(measures: Sequence[Element], path: str) -> bool:
    return any(measure.find(path) is not None for measure in measures)


def _with_other_symbols(part: str, parts: Mapping[str, list[Element]]) -> list[tuple[str, list[Element]]]:
    """A part measure by measure: its number and its elements, with another part's chord symbols where it has none."""
    melody = parts[part]
    if not _holds(melody, "harmony"):
        symbols = next((m for m in parts.values() if _holds(m, "harmony")), None)
        if symbols is not None and len(symbols) == len(melody):
            return _paired(melody, symbols)
    return [(measure.get("number", str(k)), list(measure)) for k, measure in enumerate(melody, 1)]


def _paired(melody: Sequence[Element], symbols: Sequence[Element]) -> list[tuple[str, list[Element]]]:
    """Two parts measure by measure, the second one's symbols under the first; each counts in its own divisions."""
    own = others = Element("attributes")
    ElementTree.SubElement(own, "divisions").text = "1"
    found = []
    for k, (measure, other) in enumerate(zip(melody, symbols, strict=True), 1):
        under = [Element("rewind"), others, *_symbols_alone(other)]
        own, others = _divisions(measure) or own, _divisions(other) or others
        found.append((measure.get("number", str(k)), [*measure, *under, own]))
    return found


def _divisions(measure: Element) -> Element | None:
    """The last divisions that a measure says, as attributes that say nothing else."""
    said = measure.findall("attributes/divisions")
    if not said:
        return None
    alone = Element("attributes")
    alone.append(said[-1])
    return alone


def _symbols_alone(other: Element) -> list[Element]:
    """The chord symbols of a measure, its time kept by forwards."""
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
    return silent
