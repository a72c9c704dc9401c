"""The XML of a score out of its file, safely: plain (.musicxml, .xml) or in its compressed container (.mxl).

The container is MusicXML 4.0's: a zip of stored and deflated files whose ``META-INF/container.xml`` names the score as
its first ``rootfile``. What comes from anywhere may be hostile: it is unpacked no further than the limits below
(:mod:`companion.archives`); entities are refused and nothing is fetched (defusedxml).
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import Element, ParseError

from companion.archives import opened_archive, unpacked
from companion.errors import ChartError
from companion.files import MEGABYTE, read_limited

if TYPE_CHECKING:
    import zipfile

MOST_BYTES = 8 * MEGABYTE
"""A larger score is refused; a lead sheet has some hundred thousand bytes at most."""
MOST_CONTENTS = 64 * 1024
"""Bytes of a container's table of contents, which has two lines or three."""
MOST_ELEMENTS = 200_000
"""A lead sheet of 32 bars has about 1500."""
MOST_DEPTH = 100
"""Elements within elements; MusicXML needs about ten."""


def read_score(path: Path) -> Element:
    """The root element of a score.

    Raises
    ------
    ChartError
        When the file can't be read, isn't a MusicXML score, or is too large. Names file and, where known, line.
    """
    data = read_limited(path, MOST_BYTES, "a lead sheet", ChartError)
    if data[:2] == b"PK":
        data = _score_in(data, path)
    return parse_xml(data, path)


def parse_xml(data: bytes, path: Path) -> Element:
    """Parse XML from anywhere: no entities, nothing fetched, no abyss of elements."""
    from defusedxml.common import DefusedXmlException

    try:
        root = _built(data, path)
    except ParseError as error:
        line, column = error.position
        why = str(error).split(":")[0]
        raise ChartError(
            f"isn't well-formed XML: {why}",
            file=str(path),
            where=f"line {line}, column {column + 1}",
            mend="save it again as MusicXML",
        ) from error
    except DefusedXmlException as error:
        raise ChartError(
            "declares XML entities, which no score needs", file=str(path), mend="save it again as MusicXML"
        ) from error
    except ChartError:
        raise
    except (ValueError, LookupError, RecursionError, MemoryError) as error:
        raise ChartError(f"can't be read as XML: {error}", file=str(path)) from error
    for element in root.iter():
        if isinstance(element.tag, str):
            element.tag = element.tag.rpartition("}")[2]
    return root


def _built(data: bytes, path: Path) -> Element:
    """The tree of a document, given up when it grows too large or too deep."""
    from defusedxml.ElementTree import iterparse

    parsed: Any = iterparse(io.BytesIO(data), ("start", "end"))
    count = depth = 0
    for event, _ in parsed:
        begins = event == "start"
        depth += 1 if begins else -1
        count += begins
        if depth > MOST_DEPTH:
            raise ChartError(f"has elements more than {MOST_DEPTH} deep", file=str(path))
        if count > MOST_ELEMENTS:
            what = f"has more than {MOST_ELEMENTS} elements, too many for a lead sheet"
            raise ChartError(what, file=str(path), mend="export the melody and its chords alone")
    root: Element = parsed.root
    return root


def _score_in(data: bytes, path: Path) -> bytes:
    try:
        with opened_archive(data, ".mxl container", ChartError, "save it again") as container:
            return _member(container, _score_name(container, path), MOST_BYTES)
    except ChartError as error:
        raise error.within(file=str(path)) from error


def _score_name(container: zipfile.ZipFile, path: Path) -> str:
    names = container.namelist()
    if "META-INF/container.xml" in names:
        root = parse_xml(_member(container, "META-INF/container.xml", MOST_CONTENTS), path)
        named = [r.get("full-path", "") for r in root.iter("rootfile")]
        if found := next((name for name in named if name in names), None):
            return found
    scores = [n for n in names if not n.startswith("META-INF/") and n.lower().endswith((".musicxml", ".xml"))]
    if not scores:
        raise ChartError("the container holds no score", file=str(path), mend="save it again as .mxl or .musicxml")
    return scores[0]


def _member(container: zipfile.ZipFile, name: str, most: int) -> bytes:
    return unpacked(container, name, most, "a lead sheet", ChartError)
