"""What stands over and between the bars of a MusicXML score: bar lines, signs, words, tempo.

MusicXML 4.0's ``barline``, ``direction`` and ``sound``. Lead sheets often carry D.C., D.S., Fine and coda as words or
signs alone, without the ``<sound>`` that would say what they mean; both are read (:mod:`companion.chart.words`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from companion.chart.words import MOST_TIMES, Gathered, ending_times, feel_of, headed, plausible_tempo
from companion.chart.written import BarMarks, WrittenBar
from companion.errors import ChartError

_UNITS = {"whole": 4.0, "half": 2.0, "quarter": 1.0, "eighth": 0.5, "16th": 0.25}


def barline(element: Element, marks: BarMarks) -> BarMarks:
    """The marks with what a bar line adds. Raises ChartError when a repeat or bracket makes no sense."""
    location = element.get("location", "right")
    style = (element.findtext("bar-style") or "").strip()
    if location == "right" and style in ("light-light", "light-heavy", "heavy-light", "heavy-heavy"):
        marks = replace(marks, double_bar=True)
    if (repeat := element.find("repeat")) is not None:
        if repeat.get("direction") == "forward":
            marks = replace(marks, repeat_start=True)
        elif repeat.get("direction") == "backward":
            times = repeat.get("times") or "2"
            if not times.isdigit() or not 1 <= int(times) <= MOST_TIMES:
                raise ChartError(f"a repeat to be played {times!r} times")
            marks = replace(marks, repeat_end=max(2, int(times)), repeat_after_jump=repeat.get("after-jump") == "yes")
        else:
            raise ChartError(f"a repeat with direction {repeat.get('direction')!r}")
    if location == "left":
        marks = replace(
            marks,
            segno=marks.segno or element.find("segno") is not None,
            coda=marks.coda or element.find("coda") is not None,
        )
    for ending in element.findall("ending"):
        if ending.get("type") == "start":
            marks = replace(marks, ending=ending_times(ending.get("number") or "1"))
        else:
            marks = replace(marks, ending_stops=True)
    return marks


def read_signs(element: Element, bar: Gathered, beat: Fraction) -> None:
    """Signs and words of a ``<direction>``; words are kept until the whole bar has been read."""
    for rehearsal in element.iter("rehearsal"):
        if text := " ".join((rehearsal.text or "").split()):
            bar.marks = headed(bar.marks, text, beat)
    texts = [(" ".join((w.text or "").split()), w) for w in element.iter("words")]
    # A direction's words may come in pieces ("D.S." "al Coda"); whole directions make sense, pieces may not.
    whole = " ".join(text for text, _ in texts if text)
    if whole:
        framed = any(w.get("enclosure", "none") != "none" for _, w in texts)
        bar.words.append((beat, whole, framed))
    worded = bool(re.search(r"(?i)\b(d\.? ?[cs]\b|dal segno|da capo|to coda|al coda|al segno)", whole))
    if element.find("direction-type/segno") is not None and not worded:
        bar.marks = replace(bar.marks, segno=True)
    if element.find("direction-type/coda") is not None and not worded:
        bar.marks = replace(bar.marks, coda=True)


def sound_marks(element: Element, marks: BarMarks) -> BarMarks:
    """What ``<sound>`` says of the order of playing."""
    if element.get("segno") is not None:
        marks = replace(marks, segno=True)
    if element.get("coda") is not None:
        marks = replace(marks, coda=True)
    if element.get("tocoda") is not None:
        marks = replace(marks, to_coda=True, coda=False)
    if element.get("fine") is not None:
        marks = replace(marks, fine=True)
    if element.get("dacapo") == "yes":
        marks = replace(marks, jump="capo")
    if element.get("dalsegno") is not None:
        marks = replace(marks, jump="segno")
    return marks


def settle_codas(bars: Sequence[WrittenBar]) -> list[WrittenBar]:
    """Tell coda signs apart: of two with nothing to tell which is which, the first means 'to the coda'."""
    settled = list(bars)
    signs = [i for i, bar in enumerate(settled) if bar.marks.coda]
    if len(signs) > 1 and not any(bar.marks.to_coda for bar in settled):
        for i in signs[:-1]:
            settled[i] = replace(settled[i], marks=replace(settled[i].marks, coda=False, to_coda=True))
    return settled


def metronome(element: Element) -> float | None:
    """Quarters a minute of a metronome mark, or None."""
    mark = element.find("direction-type/metronome")
    if mark is None or mark.findtext("per-minute") is None:
        return None
    unit = _UNITS.get((mark.findtext("beat-unit") or "quarter").strip(), 1.0)
    if mark.find("beat-unit-dot") is not None:
        unit *= 1.5
    number = re.search(r"\d+(\.\d+)?", mark.findtext("per-minute") or "")
    return plausible_tempo(str(float(number[0]) * unit)) if number else None


def feel_of_direction(element: Element) -> str | None:
    """The feel that a ``<direction>`` asks for in words, or by the mark that makes two eighths a long and a short."""
    if named := feel_of(" ".join(w.text or "" for w in element.iter("words"))):
        return named
    return "swing" if element.find("direction-type/metronome/metronome-note") is not None else None
