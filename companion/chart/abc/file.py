"""The tunes of an ABC file: which there are, and each as its header and the lines of its body.

Source: The ABC Music Standard 2.1 (December 2011), sections 2.2 file structure, 3 information fields, 6.1 comments and
line ends, 8 text strings, 11 directives.

Where real files stray from the standard, they are read as they are meant: a tune without X:, blanks before a field, old
files in Latin-1.
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from companion.errors import ChartError
from companion.files import MEGABYTE, read_limited

MOST_BYTES = 4 * MEGABYTE
MOST_TUNES = 10_000
"""Of one book."""
MOST_SIGNS = 100_000
"""A longer tune than this, in characters, isn't one."""
MOST_NAMED = 8
"""So many tunes are named when one has to be chosen."""
_FIELD = re.compile(r"\s*([A-Za-z+])\s?:(?![|:])(.*)", re.DOTALL)
_MARKS = {
    "`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308", "o": "\u030a", "c": "\u0327",
    "v": "\u030c", "u": "\u0306",
}  # fmt: skip
"""Section 8.2: a backslash, a sign and a letter are the letter with an accent."""
_LETTERS = {"\\/O": "Ø", "\\/o": "ø", "\\AE": "Æ", "\\ae": "æ", "\\OE": "Œ", "\\oe": "œ", "\\ss": "ß", "\\aa": "å"}


@dataclass(frozen=True)
class SourceLine:
    """A line of a tune: a field, a directive, or music."""

    field: str
    """Its letter; '%' for a directive, '' for music."""
    text: str


@dataclass(frozen=True)
class AbcTune:
    """One tune of a file."""

    reference: str
    """Its X: number, or its place in the file where it has none."""
    title: str
    header: tuple[SourceLine, ...]
    """The fields up to K:, those at the head of the file first."""
    body: tuple[SourceLine, ...]


def read_tune(path: Path, number: int | None = None) -> AbcTune:
    """The tune of a file, or the one that has this number.

    Parameters
    ----------
    path : Path
    number : int, optional
        Its X: number; where these aren't told apart, its place in the file, 1 = the first.

    Raises
    ------
    ChartError
        When the file can't be read or holds no such tune; with several and no number, the message names them.
    """
    try:
        tunes = _tunes(_read(path))
    except ChartError as error:
        raise error.within(file=str(path)) from None
    if not tunes:
        raise ChartError(
            "holds no tune", file=str(path), mend="a tune in ABC begins with X: and has a K: before its notes"
        )
    if number is None and len(tunes) > 1:
        what = f"holds {len(tunes)} tunes: {_named(tunes)}"
        raise ChartError(what, file=str(path), mend="chart import --tune N takes one of them")
    for tune in tunes:
        if number is None or tune.reference == str(number):
            if sum(len(line.text) for line in tune.body) > MOST_SIGNS:
                what = f"has more than {MOST_SIGNS} signs, too many for a tune"
                raise ChartError(what, file=str(path), mend="leave out what isn't its melody and chords")
            return tune
    raise ChartError(f"holds no tune {number}, but {_named(tunes)}", file=str(path), mend="name one of them")


def _named(tunes: Sequence[AbcTune]) -> str:
    names = [f"{tune.reference} {tune.title!r}" if tune.title else tune.reference for tune in tunes[:MOST_NAMED]]
    return ", ".join(names) + (f" and {len(tunes) - MOST_NAMED} more" if len(tunes) > MOST_NAMED else "")


def _read(path: Path) -> str:
    data = read_limited(path, MOST_BYTES, "a book of tunes", ChartError)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", "replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")  # the charset of ABC before 2.0


def _tunes(text: str) -> list[AbcTune]:
    """Every tune that has a K: or at least some music."""
    head: list[SourceLine] = []
    blocks: list[list[SourceLine]] = []
    lines = [_line(line) for line in re.split(r"\r\n|\n|\r", text)]
    fresh = True  # at the head of the file, or after a blank line
    for line in _joined(lines):
        if len(blocks) > MOST_TUNES:
            raise ChartError(f"holds more than {MOST_TUNES} tunes", mend="cut it into several files")
        if line.field == "X":
            blocks.append([line])
        elif blocks:
            blocks[-1].append(line)
        elif line.field in ("T", "K") and fresh:
            blocks.append([line])
        elif line.field:
            head.append(line)
        fresh = not line.field and not line.text.strip()
    tunes = [_tune(head, block, str(place)) for place, block in enumerate(blocks, 1)]
    tunes = [tune for tune in tunes if any(not line.field and line.text.strip() for line in tune.body)]
    if len({tune.reference for tune in tunes}) < len(tunes):
        tunes = [AbcTune(str(place), tune.title, tune.header, tune.body) for place, tune in enumerate(tunes, 1)]
    return tunes


def _tune(head: Sequence[SourceLine], block: Sequence[SourceLine], place: str) -> AbcTune:
    key = next((k for k, line in enumerate(block) if line.field == "K"), None)
    if key is None:  # the notes begin where the fields end
        key = next((k for k, line in enumerate(block) if not line.field and line.text.strip()), len(block)) - 1
    header, body = block[: key + 1], block[key + 1 :]
    reference = re.sub(r"\D", "", block[0].text)[:9] if block[0].field == "X" else ""
    title = next((text(line.text) for line in header if line.field == "T" and line.text.strip()), "")
    return AbcTune(str(int(reference)) if reference else place, title, (*head, *header), tuple(body))


def _line(line: str) -> SourceLine:
    if line.startswith("%%"):
        return SourceLine("%", line[2:].strip())
    if line.lstrip().startswith("%"):
        return SourceLine("%", "")
    bare = re.sub(r"(?<!\\)%.*", "", line)
    if match := _FIELD.match(bare):
        if match[1] == "I":
            return SourceLine("%", match[2].strip())
        return SourceLine(match[1], match[2].strip())
    return SourceLine("", bare)


def _joined(lines: Sequence[SourceLine]) -> list[SourceLine]:
    """The lines with +: continuations added to the field before (section 3.3); comments are gone."""
    joined: list[tuple[SourceLine, list[str]]] = []
    for line in lines:
        if line.field == "%" and not line.text:
            continue
        if line.field == "+" and joined and joined[-1][0].field:
            joined[-1][1].append(line.text)
        else:
            joined.append((line, [line.text]))
    return [replace(line, text=" ".join(texts)) if len(texts) > 1 else line for line, texts in joined]


def text(raw: str) -> str:
    r"""A text string as it is meant: entities, unicode and accents of section 8.2 read.

    >>> text("Caf\\'e &amp; \\u00e9t\\'e")
    'Café & été'
    """
    raw = re.sub(r"\\u([0-9A-Fa-f]{4})|\\U([0-9A-Fa-f]{8})", _by_number, raw)
    for written, letter in _LETTERS.items():
        raw = raw.replace(written, letter)
    raw = re.sub(r"\\([`'^~\"ocvu])([A-Za-z])", lambda m: unicodedata.normalize("NFC", m[2] + _MARKS[m[1]]), raw)
    return " ".join(html.unescape(raw.replace("\\%", "%").replace("\\&", "&amp;")).split())


def _by_number(match: re.Match[str]) -> str:
    number = int(match[1] or match[2], 16)
    return chr(number) if number < 0x110000 and not 0xD800 <= number < 0xE000 else "?"
