"""The XML of a score out of its file, safely: plain (.musicxml, .xml) or in its compressed container (.mxl).

The container is MusicXML 4.0's: a zip whose ``META-INF/container.xml`` names the score as its first ``rootfile``.
What comes from anywhere may be hostile: sizes are limited before anything is unpacked (zip bombs), entities are
refused and nothing is fetched (defusedxml).
"""

from __future__ import annotations

import io
import zipfile
import zlib
from pathlib import Path
from xml.etree.ElementTree import Element, ParseError

from companion.errors import ChartError

MOST_BYTES = 16 * 1024 * 1024
"""A larger score is refused; a lead sheet has some hundred thousand bytes at most."""
MOST_DEPTH = 100
"""Elements within elements; MusicXML needs about ten."""


def read_score(path: Path) -> Element:
    """The root element of a score.

    Raises
    ------
    ChartError
        When the file can't be read, isn't a MusicXML score, or is too large. Names file and, where known, line.
    """
    try:
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise ChartError(f"can't be read: {error.strerror or error}", file=str(path)) from error
    if data[:2] == b"PK":
        data = _score_in(data, path)
    if len(data) > MOST_BYTES:
        raise _too_large(path)
    return parse_xml(data, path)


def parse_xml(data: bytes, path: Path) -> Element:
    """Parse XML from anywhere: no entities, nothing fetched, no abyss of elements."""
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        root: Element = fromstring(data)
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
    except (ValueError, LookupError, RecursionError, MemoryError) as error:
        raise ChartError(f"can't be read as XML: {error}", file=str(path)) from error
    level, depth = [root], 0
    while level:
        depth += 1
        if depth > MOST_DEPTH:
            raise ChartError(f"has elements more than {MOST_DEPTH} deep", file=str(path))
        level = [child for element in level for child in element]
    for element in root.iter():
        if isinstance(element.tag, str):
            element.tag = element.tag.rpartition("}")[2]
    return root


def _score_in(data: bytes, path: Path) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as container:
            return _member(container, _score_name(container, path), path)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError, ValueError) as error:
        if isinstance(error, ChartError):
            raise
        raise ChartError(f"isn't a sound .mxl container: {error}", file=str(path), mend="save it again") from error


def _score_name(container: zipfile.ZipFile, path: Path) -> str:
    names = container.namelist()
    if "META-INF/container.xml" in names:
        root = parse_xml(_member(container, "META-INF/container.xml", path), path)
        named = [r.get("full-path", "") for r in root.iter("rootfile")]
        if found := next((name for name in named if name in names), None):
            return found
    scores = [n for n in names if not n.startswith("META-INF/") and n.lower().endswith((".musicxml", ".xml"))]
    if not scores:
        raise ChartError("the container holds no score", file=str(path), mend="save it again as .mxl or .musicxml")
    return scores[0]


def _member(container: zipfile.ZipFile, name: str, path: Path) -> bytes:
    """Unpack one member, never more than :data:`MOST_BYTES`, whatever its entry claims."""
    with container.open(name) as stream:
        data = stream.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise _too_large(path)
    return data


def _too_large(path: Path) -> ChartError:
    return ChartError(
        f"is larger than {MOST_BYTES // 1024 // 1024} MB unpacked, too large for a lead sheet", file=str(path)
    )
