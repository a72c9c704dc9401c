"""The XML of a score out of its file: which score of a container, and how much of it (MusicXML 4.0, .mxl files)."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from companion.chart.musicxml.mxl import MOST_BYTES, MOST_CONTENTS, MOST_DEPTH, parse_xml, read_score
from companion.errors import ChartError

CONTAINER = "META-INF/container.xml"


def contents(*names: str) -> str:
    roots = "".join(f'<rootfile full-path="{name}"/>' for name in names)
    return f"<container><rootfiles>{roots}</rootfiles></container>"


def packed(path: Path, files: dict[str, str]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as container:
        for name, text in files.items():
            container.writestr(name, text)
    return path


@pytest.mark.parametrize(
    ("files", "root"),
    [
        ({"a.xml": "<a/>", "b.musicxml": "<b/>", CONTAINER: contents("b.musicxml", "a.xml")}, "b"),
        ({"a.xml": "<a/>", "b.xml": "<b/>", CONTAINER: contents("gone.xml", "b.xml")}, "b"),
        ({"a.xml": "<a/>", "b.xml": "<b/>", CONTAINER: contents("gone.xml")}, "a"),
        ({"META-INF/x.xml": "<x/>", "cover.png": "", "B.XML": "<b/>"}, "b"), ({"b.musicxml": "<b/>"}, "b"),
    ],
)  # fmt: skip
def test_the_score_is_the_first_rootfile_that_is_there_or_else_the_first_file_of_xml(
    tmp_path: Path, files: dict[str, str], root: str
) -> None:
    assert read_score(packed(tmp_path / "sheet.mxl", files)).tag == root


@pytest.mark.parametrize("files", [{"cover.png": "x"}, {"META-INF/x.xml": "<x/>"}, {"notes.txt": "<x/>"}])
def test_a_container_without_a_score_is_said_to_be_one(tmp_path: Path, files: dict[str, str]) -> None:
    with pytest.raises(ChartError, match=r"sheet\.mxl: the container holds no score; save it again as"):
        read_score(packed(tmp_path / "sheet.mxl", files))


@pytest.mark.parametrize(("size", "fits"), [(MOST_CONTENTS, True), (MOST_CONTENTS + 1, False)])
def test_a_table_of_contents_has_sixty_four_kilobytes_at_most(tmp_path: Path, size: int, fits: bool) -> None:
    text = contents("b.xml")
    path = packed(tmp_path / "sheet.mxl", {"b.xml": "<b/>", CONTAINER: text + " " * (size - len(text))})
    assert (MOST_CONTENTS, MOST_BYTES) == (64 * 1024, 8 * 1024 * 1024)
    if fits:
        assert read_score(path).tag == "b"
        return
    with pytest.raises(ChartError, match=r"sheet\.mxl: META-INF/container\.xml: is larger than 64 kB"):
        read_score(path)


@pytest.mark.parametrize(("depth", "fits"), [(MOST_DEPTH, True), (MOST_DEPTH + 1, False)])
def test_elements_lie_a_hundred_deep_at_most(depth: int, fits: bool) -> None:
    data = ("<x>" * depth + "</x>" * depth).encode()
    if fits:
        assert sum(1 for _ in parse_xml(data, Path("a.xml")).iter()) == depth == 100
        return
    with pytest.raises(ChartError, match=r"a\.xml: has elements more than 100 deep"):
        parse_xml(data, Path("a.xml"))


def test_names_are_read_without_their_namespace_and_faults_have_line_and_column() -> None:
    root = parse_xml(b'<s:score xmlns:s="urn:x"><s:part/><!-- no --></s:score>', Path("a.xml"))
    assert [element.tag for element in root.iter()] == ["score", "part"]
    with pytest.raises(ChartError, match=r"a\.xml: line 2, column 4: isn't well-formed XML: mismatched tag; save it"):
        parse_xml(b"<a>\n </b>", Path("a.xml"))
    with pytest.raises(ChartError, match=r"a\.xml: can't be read as XML: "):
        parse_xml(b'<?xml version="1.0" encoding="none-such"?><a/>', Path("a.xml"))
