"""How a chord's quality is written after its root: reading what lead sheets write, and writing it in one way.

Conventions: the text is what stands between the root and a slash ('m7b5', '7(b9,b13)', '' for a major triad). Reading
gives the set of its degrees; which MusicXML kind that is, :mod:`companion.music.kinds` says. ``M`` is major and ``m``
minor; other words are read in either case. Spellings and their meaning are common practice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from companion.errors import ChordError
from companion.music.kinds import FUNCTIONAL, KINDS, Change, Degree, degree, degrees, tones_of

_SIGNS = str.maketrans(
    {
        "♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##", "∆": "Δ", "△": "Δ", "▵": "Δ", "Ø": "ø", "∅": "ø", "º": "°", "˚": "°",
        "−": "-", "–": "-", "‑": "-", "⁺": "+", " ": "", "\u00a0": "", "\u202f": "", "[": "(", "]": ")",
        "⁰": "0", "¹": "1", "²": "2", "³": "3", "⁴": "4", "⁵": "5", "⁶": "6", "⁷": "7", "⁸": "8", "⁹": "9",
    }
)  # fmt: skip

_MAJOR_WORD = r"(?i:major|maj|ma(?!dd))|M|Δ"
_HEADS = re.compile(
    rf"(?P<major>{_MAJOR_WORD})|(?P<minor>(?i:minor|min|mi)|m|-)|(?P<dim>(?i:dim)|°|o(?!mit))|(?P<half>ø)"
    r"|(?P<aug>(?i:aug)|\+)|(?P<dominant>(?i:dom))"
)
_TOKENS = re.compile(
    rf"""(?P<mark>[(),])
    |(?P<major>{_MAJOR_WORD})(?P<extent>13|11|9|7)?
    |(?P<sus>(?i:sus))(?P<instead>[24])?
    |(?P<alt>(?i:altered|alt))
    |(?i:add)(?P<added>[b\#x]*(?:1[0-3]|[1-9]))
    |(?i:no|omit)(?P<left_out>1[0-3]|[1-9])(?i:rd|th)?
    |(?P<sign>[b\#+x-]+)(?P<changed>1[0-3]|[2-9])
    |(?P<sharp_five>\+|(?i:aug))
    |(?P<number>69|13|11|9|7|6|5|4|2)""",
    re.VERBOSE,
)
_TRIADS = {
    "": "1 3 5", "major": "1 3 5", "dominant": "1 3 5", "minor": "1 b3 5", "dim": "1 b3 b5", "half": "1 b3 b5",
    "aug": "1 3 #5",
}  # fmt: skip
_EXTENTS = {"6": "6", "69": "6 9", "7": "", "9": "9", "11": "9 11", "13": "9 11 13"}
ALTERED = frozenset(degrees("1 3 b7 b9 #9 #11 b13"))
"""What 'alt' says: both ninths, and both ways of altering the fifth, here as #11 and b13 (common practice)."""


@dataclass
class _Reading:
    """What has been read so far of one symbol."""

    head: str
    extent: str = ""
    major_seventh: bool = False
    alt: bool = False
    sus: str = ""
    changed: list[Degree] = field(default_factory=list)
    added: list[Degree] = field(default_factory=list)
    left_out: list[int] = field(default_factory=list)


def plain(text: str) -> str:
    """The same symbol in plain characters: flats as b, sharps as #, no spaces, brackets round."""
    return text.strip().translate(_SIGNS)


def read_quality(text: str) -> frozenset[Degree] | str:
    """The degrees that a quality names, or the name of a functional kind.

    Raises
    ------
    ChordError
        When the text isn't a quality; the message says what could be meant, where that can be guessed.
    """
    text = plain(text).replace("6/9", "69").replace("6(9)", "69").replace("6add9", "69")
    for kind in (*FUNCTIONAL, "pedal"):
        if text.strip("()").lower() == kind.lower():
            return kind
    match = _HEADS.match(text)
    reading = _Reading(head=(match.lastgroup or "") if match else "")
    _read_tail(reading, text, match.end() if match else 0)
    if match and match[0] == "Δ" and reading.extent in ("", "5"):
        reading.extent = "7"
    return _build(reading)


def _read_tail(reading: _Reading, text: str, start: int) -> None:
    depth, fresh = 0, True
    while start < len(text):
        token = _TOKENS.match(text, start)
        if not token:
            raise ChordError("", mend=f"{text[start:]!r} can't be read")
        start = token.end()
        if mark := token["mark"]:
            depth += {"(": 1, ")": -1, ",": 0}[mark]
            fresh = False
            if depth < 0:
                break
            continue
        _take(reading, token, fresh)
        fresh = False
    if depth:
        raise ChordError("", mend="a bracket has no partner")


def _take(reading: _Reading, token: re.Match[str], fresh: bool) -> None:
    if token["major"]:
        reading.major_seventh = True
        reading.extent = token["extent"] or reading.extent or "7"
    elif token["sus"]:
        reading.sus = token["instead"] or "4"
    elif token["alt"]:
        reading.alt = True
    elif token["added"]:
        reading.added.append(degree(token["added"]))
    elif token["left_out"]:
        reading.left_out.append(int(token["left_out"]))
    elif token["sharp_five"]:
        reading.changed.append(Degree(5, 1))
    elif token["changed"]:
        _take_change(reading, token["sign"].replace("+", "#").replace("-", "b"), token["changed"])
    elif fresh:
        reading.extent = token["number"]
    elif token["number"] in ("9", "11", "13"):
        reading.added.append(degree(token["number"]))
    else:
        raise ChordError("", mend=f"it is not clear what the {token['number']} adds")


def _take_change(reading: _Reading, sign: str, number: str) -> None:
    if sign == "#" and number == "7" and reading.head == "minor":
        reading.major_seventh, reading.extent = True, reading.extent or "7"
        return
    # A changed second or fourth is the ninth or eleventh by its other name.
    number = {"2": "9", "4": "11"}.get(number, number)
    try:
        reading.changed.append(degree(sign + number))
    except ValueError as error:
        raise ChordError("", mend=str(error)) from None


def _build(reading: _Reading) -> frozenset[Degree]:
    if reading.alt:
        if reading.head not in ("", "dominant") or reading.extent not in ("", "7") or reading.sus:
            raise ChordError("", mend="'alt' stands after the root or a 7")
        return ALTERED
    tones = set(_base(reading))
    if reading.sus:
        tones = {tone for tone in tones if tone.number not in (3, 11)} | {Degree(int(reading.sus))}
    for new in reading.changed:
        if new.number == 6 and any(tone.number == 7 for tone in tones):
            new = Degree(13, new.alter)
        tones = {tone for tone in tones if tone.number != new.number or tone in reading.changed} | {new}
    tones |= set(reading.added)
    for number in reading.left_out:
        if not any(tone.number == number for tone in tones):
            raise ChordError("", mend=f"it has no {number} to leave out")
        tones = {tone for tone in tones if tone.number != number}
    return frozenset(tones)


def _base(reading: _Reading) -> tuple[Degree, ...]:
    """Triad, seventh and what a number stands for above them."""
    head, extent = reading.head, reading.extent
    if reading.sus and head in ("minor", "dim", "half"):
        raise ChordError("", mend="a suspended chord has no third to be minor: leave out the m or the sus")
    if extent == "5" and not head:
        return degrees("1 5")
    if extent in ("2", "4", "5"):
        raise ChordError("", mend=f"the {extent} may mean two things: write add9, sus2, sus4 or b5")
    if head == "aug" and extent in ("11", "13"):
        raise ChordError("", mend=f"write 7#{extent} or {extent}#5, whichever is meant")
    tones = degrees(_TRIADS[head])
    if extent and extent not in ("6", "69") or head == "half":
        major = reading.major_seventh or head == "major"
        tones += (Degree(7, 0 if major else -2 if head == "dim" else -1),)
    elif reading.major_seventh:
        tones += (Degree(7),)
    return tones + degrees(_EXTENTS.get(extent, ""))


_HEAD_TEXT = {
    "major": "", "minor": "m", "augmented": "aug", "diminished": "dim", "dominant": "7", "major-seventh": "maj7",
    "minor-seventh": "m7", "diminished-seventh": "dim7", "augmented-seventh": "7", "half-diminished": "m7",
    "major-minor": "m(maj7)", "major-sixth": "6", "minor-sixth": "m6", "dominant-ninth": "9", "major-ninth": "maj9",
    "minor-ninth": "m9", "dominant-11th": "11", "major-11th": "maj11", "minor-11th": "m11", "dominant-13th": "13",
    "major-13th": "maj13", "minor-13th": "m13", "power": "5", "other": "",
}  # fmt: skip


def write_quality(kind: str, changes: tuple[Change, ...] = ()) -> str:
    """The quality in this project's spelling, such that reading it gives the same degrees."""
    if kind == "none":
        return "N.C."
    if kind not in _HEAD_TEXT and not kind.startswith("suspended"):
        return f"({kind})"
    tones = frozenset(tones_of(kind, changes))
    if tones == ALTERED:
        return "7alt"
    head, rest = _head_and_rest(kind, tones)
    before = frozenset(KINDS[kind])
    parts = []
    for new in sorted(rest - before):
        beside = any(tone.number == new.number and tone.alter != new.alter for tone in tones & before)
        parts.append(_part(new, beside, "7" in head or "9" in head or "1" in head))
    parts += [f"no{tone.number}" for tone in sorted(before) if not any(t.number == tone.number for t in tones)]
    if kind in ("augmented-seventh", "half-diminished"):
        fifth = "#5" if kind == "augmented-seventh" else "b5"
        parts = [fifth, *parts] if degree(fifth) in tones else parts
    return _joined(head, parts)


def _part(new: Degree, beside: bool, has_seventh: bool) -> str:
    if new.alter and not beside:
        return str(new)
    return str(new) if has_seventh and not beside and new.number in (9, 11, 13) else f"add{new}"


def _head_and_rest(kind: str, tones: frozenset[Degree]) -> tuple[str, frozenset[Degree]]:
    """The word in front, and the degrees that it does not say yet."""
    if not kind.startswith("suspended"):
        for number, text, flat in (("major-sixth", "6/9", "9"), ("minor-sixth", "m6/9", "9"), ("half-diminished", "m9", "9")):
            if kind == number and degree(flat) in tones:
                return text, tones - {degree(flat)}
        if kind == "diminished" and Degree(7) in tones:
            return "dim(maj7)", tones - {Degree(7)}
        return _HEAD_TEXT[kind], tones
    word = "sus4" if kind == "suspended-fourth" else "sus2"
    for head, said in (
        ("13", "b7 9 13"), ("9", "b7 9"), ("7", "b7"), ("maj9", "7 9"), ("maj7", "7"), ("6/9", "6 9"), ("6", "6"),
    ):  # fmt: skip
        if set(degrees(said)) <= tones:
            return head + word, tones - set(degrees(said))
    return word, tones


def _joined(head: str, parts: list[str]) -> str:
    if not parts:
        return head
    bare = len(parts) == 1 and (head[-1:].isdigit() if parts[0][0] in "b#" else not head and parts[0].startswith("add"))
    return head + (parts[0] if bare else f"({','.join(parts)})")
