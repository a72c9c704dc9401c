"""A MusicXML lead sheet (.musicxml, .xml, .mxl) as a chart.

Method: each measure of the melody's part becomes a :class:`~companion.chart.written.WrittenBar`
(:mod:`companion.chart.measures`); :mod:`companion.chart.repeats` finds the order of playing, and
:mod:`companion.chart.sections` cuts it into sections. Source: MusicXML 4.0 (W3C Music Notation Community Group, 2021).

A pickup bar needs no mark: it is a short first bar. Where a sheet gives no metre, its bars tell; where it gives no
key, its notes do.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from xml.etree.ElementTree import Element

from companion.chart.directions import settle_codas
from companion.chart.keys import guess_fifths, sounds_minor
from companion.chart.measures import MeasureReader, melody_voice
from companion.chart.model import Chart
from companion.chart.mxl import read_score
from companion.chart.repeats import playing_order
from companion.chart.sections import cut_into_sections
from companion.chart.written import WrittenBar
from companion.errors import ChartError
from companion.music.meter import Metre


@dataclass(frozen=True)
class Score:
    """A lead sheet as written, one bar after the other."""

    title: str
    composer: str | None
    bars: tuple[WrittenBar, ...]
    metre: Metre
    fifths: int | None
    """None: the sheet gives no key signature."""
    minor: bool | None
    """None: the sheet doesn't say."""
    tempo: float | None
    """Quarters a minute, where the sheet says."""
    feel: str | None


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
    path = Path(path)
    score = read_written(path)
    try:
        order = playing_order([bar.marks for bar in score.bars])
        sections, form = cut_into_sections(score.bars, order)
    except ChartError as error:
        raise error.within(file=str(path)) from error
    melody = [note for section in sections for note in section.melody]
    chords = [span for name in form for section in sections if section.name == name for span in section.chords]
    fifths = guess_fifths(melody, chords) if score.fifths is None else score.fifths
    return Chart(
        title=score.title,
        sections=sections,
        form=form,
        metre=score.metre,
        fifths=fifths,
        minor=sounds_minor(fifths, chords) if score.minor is None else score.minor,
        tempo=score.tempo or 120.0,
        feel=score.feel or ("straight" if score.metre.compound else "swing"),
        composer=score.composer,
        source=str(path),
    )


def read_written(path: Path) -> Score:
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
    metre = reader.metres.most_common(1)[0][0] if reader.metres else _metre_from_lengths(bars)
    bars = [bar if bar.nominal else replace(bar, nominal=metre.bar, length=bar.length or metre.bar) for bar in bars]
    return Score(
        title=_title(root) or path.stem,
        composer=_composer(root),
        bars=tuple(bars),
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


def _metre_from_lengths(bars: list[WrittenBar]) -> Metre:
    """The metre of a sheet that gives none: the commonest length of its bars."""
    lengths = Counter(bar.length for bar in bars if bar.length)
    if not lengths:
        return Metre()
    length = lengths.most_common(1)[0][0]
    for beat_type in (4, 8, 16, 32):
        if (length * beat_type / 4).denominator == 1:
            return Metre(int(length * beat_type / 4), beat_type)
    return Metre()
