"""How a chord's quality is written after its root: reading what lead sheets write, and writing it in one way.

Conventions: the text is what stands between the root and a slash ('m7b5', '7(b9,b13)', '' for a major triad). Reading
gives the set of its degrees; which MusicXML kind that is, :mod:`companion.music.kinds` says. ``M`` is major and ``m``
minor; other words are read in either case. A ``+`` or ``-`` before a number raises or lowers it, except right after the
root, where they are augmented and minor. Spellings and their meanings are common practice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from companion.errors import ChordError
from companion.music.kinds import FUNCTIONAL, KINDS, Change, Degree, degree, degrees, tones_of

_SIGNS = str.maketrans(
    {
        "♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##", "∆": "Δ", "△": "Δ", "▵": "Δ", "Ø": "ø", "∅": "ø", "º": "°", "˚": "°",
        "−": "-", "–": "-", "‑": "-", "⁺": "+", "\u00a0": " ", "\u202f": " ", "[": "(", "]": ")",
        "⁰": "0", "¹": "1", "²": "2", "³": "3", "⁴": "4", "⁵": "5", "⁶": "6", "⁷": "7", "⁸": "8", "⁹": "9",
    }
)  # fmt: skip

_MAJOR_WORD = r"(?i:major|maj|ma(?!dd))|M(?![iI])|Δ"
_HEADS = re.compile(
    rf"(?P<major>{_MAJOR_WORD})|(?P<minor>(?i:minor|min|mi)|m|-)|(?P<dim>(?i:diminished|dim)|°|o(?!mit))"
    r"|(?P<half>ø|(?i:half-?dim(?:inished)?))|(?P<aug>(?i:augmented|aug)|\+)|(?P<dominant>(?i:dominant|dom))"
)
_TOKENS = re.compile(
    rf"""(?P<mark>[(), ]|/(?=[b\#+-]?\d|{_MAJOR_WORD}|(?i:add|no|omit)))
    |(?P<major>{_MAJOR_WORD})(?P<extent>13|11|9|7)?
    |(?P<sus>(?i:suspended|sus))(?P<instead>[24])?
    |(?P<alt>(?i:altered|alt))
    |(?i:add)\ ?(?P<added>[b\#]*(?:1[0-3]|[1-9]))
    |(?i:no|omit)\ ?(?P<left_out>1[0-3]|[1-9])(?i:rd|th)?
    |(?P<sign>[b\#+-]+)(?P<changed>13|11|9|7|6|5|4|2)
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
class _ParsedQuality:
    """What has been read so far of one quality."""

    head: str
    extent: str = ""
    major_seventh: bool = False
    alt: bool = False
    sus: str = ""
    """Which notes stand instead of the third: '4', '2' or both."""
    changed: list[Degree] = field(default_factory=list)
    added: list[Degree] = field(default_factory=list)
    left_out: list[int] = field(default_factory=list)


def plain_symbol(text: str) -> str:
    """The same symbol in plain characters: flats as b, sharps as #, brackets round, single spaces."""
    return " ".join(text.translate(_SIGNS).split())


def read_quality(text: str) -> frozenset[Degree] | str:
    """The degrees that a quality names, or the name of a functional kind.

    Raises
    ------
    ChordError
        When the text isn't a quality; ``mend`` says what is unclear.
    """
    text = plain_symbol(text)
    for kind in (*FUNCTIONAL, "pedal"):
        if text.strip("()").lower() == kind.lower():
            return kind
    for six_nine in ("6/9", "6(9)", "6add9", "6(add9)", "6 9"):
        text = text.replace(six_nine, "69")
    head = _HEADS.match(text)
    reading = _ParsedQuality(head=(head.lastgroup or "") if head else "")
    _read_tail(reading, text, head.end() if head else 0)
    if head and (head[0] == "Δ" or reading.head == "dominant"):
        reading.extent = reading.extent or "7"
    return _build(reading)


def _unclear(why: str) -> ChordError:
    return ChordError("the quality of the chord can't be read", mend=why)


def _read_tail(reading: _ParsedQuality, text: str, start: int) -> None:
    depth, before = 0, "head"
    while start < len(text):
        token = _TOKENS.match(text, start)
        if not token:
            raise _unclear(f"{text[start:]!r} makes no sense there")
        start = token.end()
        if token["mark"]:
            depth += {"(": 1, ")": -1}.get(token["mark"], 0)
            if depth < 0:
                break
            before = before if token["mark"] == " " and before == "head" else "mark"
        else:
            _take(reading, token, before)
            before = "sus" if token["sus"] else "other"
    if depth:
        raise _unclear("a bracket has no partner")


def _take(reading: _ParsedQuality, token: re.Match[str], before: str) -> None:
    """Note what one token says. ``before`` is what stood before it: head, mark, sus or other."""
    if token["major"]:
        reading.major_seventh = True
        reading.extent = token["extent"] or reading.extent or "7"
    elif token["sus"]:
        reading.sus += token["instead"] or "4"
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
    elif before == "head" or (before == "sus" and not reading.extent):
        reading.extent = token["number"]
    elif before == "mark" and token["number"] in ("9", "11", "13"):
        reading.added.append(degree(token["number"]))
    else:
        raise _unclear(f"it is not clear what the {token['number']} adds")


def _take_change(reading: _ParsedQuality, sign: str, number: str) -> None:
    if sign == "#" and number == "7" and reading.head == "minor":
        reading.major_seventh, reading.extent = True, reading.extent or "7"
        return
    # A changed second or fourth is the ninth or eleventh by its other name.
    number = {"2": "9", "4": "11"}.get(number, number)
    if number == "7":
        raise _unclear("write maj7, m7 or 7, whichever seventh is meant")
    try:
        reading.changed.append(degree(sign + number))
    except ValueError as error:
        raise _unclear(str(error)) from None


def _build(reading: _ParsedQuality) -> frozenset[Degree]:
    if reading.alt:
        return _altered(reading)
    tones = set(_base(reading))
    if reading.sus:
        tones = {tone for tone in tones if tone.number not in (3, 11)} | {Degree(int(tone)) for tone in reading.sus}
    seventh = any(tone.number == 7 for tone in tones)
    changed = {Degree(13, new.alter) if new.number == 6 and seventh else new for new in reading.changed}
    numbers = {new.number for new in changed}
    tones = {tone for tone in tones if tone.number not in numbers} | changed
    for number in reading.left_out:
        if not any(tone.number == number for tone in tones):
            raise _unclear(f"it has no {number} to leave out")
        tones = {tone for tone in tones if tone.number != number}
    return frozenset(tones | set(reading.added))


def _altered(reading: _ParsedQuality) -> frozenset[Degree]:
    """'alt' says everything; alterations that are written out beside it change nothing."""
    alone = not (reading.sus or reading.major_seventh or reading.added or reading.left_out)
    known = ALTERED | set(degrees("b5 #5"))
    if reading.head in ("", "dominant") and reading.extent in ("", "7") and alone and known.issuperset(reading.changed):
        return ALTERED
    raise _unclear("'alt' stands by itself after the root or a 7")


def _base(reading: _ParsedQuality) -> tuple[Degree, ...]:
    """Triad, seventh and what a number stands for above them."""
    head, extent = reading.head, reading.extent
    if reading.sus and head in ("minor", "dim", "half"):
        raise _unclear("a suspended chord has no third to be minor: leave out the m or the sus")
    if extent == "5" and head in ("", "aug"):
        return degrees("1 3 #5" if head else "1 5")
    if extent in ("2", "4", "5"):
        raise _unclear(f"the {extent} may mean two things: write add9, sus2, sus4 or b5")
    if head == "aug" and extent in ("11", "13"):
        raise _unclear(f"write 7#{extent} or {extent}#5, whichever is meant")
    tones = degrees(_TRIADS[head])
    if extent in ("7", "9", "11", "13") or head == "half":
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
_FIFTHS = {"augmented-seventh": Degree(5, 1), "half-diminished": Degree(5, -1)}
"""Kinds whose fifth is written like an alteration: 7#5, m7b5."""
_SIGNED = frozenset({5, 6, 9, 11, 13})
"""Degrees that a sign alone changes, as in 7b9; all others are added."""
_LONGER_HEADS = {
    "major-sixth": (("6/9", "6 9"),),
    "minor-sixth": (("m6/9", "6 9"),),
    "half-diminished": (("m9", "b7 9"),),
    "diminished": (("dim(maj7)", "7"),),
    "major-minor": (("m(maj9)", "7 9"),),
    "suspended": (
        ("13", "b7 9 13"), ("9", "b7 9"), ("7", "b7"), ("maj13", "7 9 13"), ("maj9", "7 9"), ("maj7", "7"),
        ("6/9", "6 9"), ("6", "6"),
    ),
}  # fmt: skip
"""What is written as one word with the degrees it says, longest first."""


def write_quality(kind: str, changes: tuple[Change, ...] = ()) -> str:
    """The quality in this project's spelling, such that reading it gives the same degrees."""
    if kind == "none":
        return "N.C."
    if kind in FUNCTIONAL or kind == "pedal":
        return f"({kind})"
    tones = frozenset(tones_of(kind, changes))
    if tones == ALTERED:
        return "7alt"
    head, said = _head(kind, tones)
    extended = any(tone.number == 7 for tone in tones)
    parts, replaced = [], set()
    for new in sorted(tones - said):
        kept = any(tone.number == new.number for tone in said & tones)
        if new.alter and not kept and new.number in _SIGNED and not (new.number == 6 and extended):
            parts.append(str(new))
            replaced.add(new.number)
        else:
            natural = extended and not kept and not new.alter and new.number in (9, 11, 13)
            parts.append(str(new) if natural else f"add{new}")
    return _joined(head, parts + [f"no{tone.number}" for tone in sorted(said - tones) if tone.number not in replaced])


def _head(kind: str, tones: frozenset[Degree]) -> tuple[str, frozenset[Degree]]:
    """The word in front, and the degrees that it says by itself."""
    own = frozenset(KINDS[kind]) - {_FIFTHS.get(kind)}
    ending = {"suspended-fourth": "sus4", "suspended-second": "sus2"}.get(kind, "")
    for head, more in _LONGER_HEADS.get("suspended" if ending else kind, ()):
        said = set(degrees(more))
        if said <= tones:
            return head + ending, own | said
    return ending or _HEAD_TEXT[kind], own


def _joined(head: str, parts: list[str]) -> str:
    if not parts:
        return head
    bare = len(parts) == 1 and (head[-1:].isdigit() if parts[0][0] in "b#" else not head and parts[0].startswith("add"))
    return head + (parts[0] if bare else f"({','.join(parts)})")
