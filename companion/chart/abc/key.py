"""ABC's K: field: the key signature, what it says of the tonic, and how the notes are to be read.

Source: The ABC Music Standard 2.1 (December 2011), sections 3.1.14 key and 4.6 clefs and transposition.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from companion.chart.abc.note_syntax import key_alterations
from companion.chart.keys import modal_key
from companion.music.pitch import parse_name

_SIGNS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}
_MODES = ("maj", "ion", "min", "aeo", "mix", "dor", "phr", "lyd", "loc", "m", "exp", "none")
_TONIC = re.compile(r"([A-G])([#b♯♭]?)\s*(?:([A-Za-z]+))?", re.ASCII)
_ACCIDENTAL = re.compile(r"(\^\^|\^|__|_|=)([A-Ga-g])")
_SETTING = re.compile(r"\b\w+(?!\s+=[A-Ga-g](?![A-Za-z]))\s*=\s*(\"[^\"]*\"|\S+)")
"""As 'clef=bass'; in 'D =c' the sign is a natural."""
_OCTAVES = {"+8": 1, "-8": -1, "^8": 1, "_8": -1}


@dataclass(frozen=True)
class KeyField:
    """What a K: field says."""

    fifths: int | None
    """Of the chart's key; None: it gives none."""
    minor: bool | None
    alterations: tuple[tuple[str, int], ...] | None
    """Letters that the signature alters; None: it goes on as before."""
    name: str = ""
    """As it is written, where a chart has no such key: 'D dorian'."""
    clef: str = ""
    octaves: int = 0
    """By how many octaves the notes are to be raised."""
    semitones: int = 0
    """By how many semitones they are to be raised in playing."""


def read_key_field(text: str) -> KeyField | None:
    """Read a K: field; None when it holds neither a key nor anything about the clef."""
    clef, octaves, semitones = read_clef(text)
    bare = _SETTING.sub(" ", text)
    signs = _ACCIDENTAL.findall(bare)
    words = _ACCIDENTAL.sub(" ", bare).split()
    first = words[0] if words else ""
    if first in ("HP", "Hp"):  # the highland pipes: F and C sharp
        return KeyField(2, None, (("F", 1), ("C", 1)), "", clef, octaves, semitones)
    if first.lower() == "none":
        return KeyField(None, None, _altered({}, signs), "", clef, octaves, semitones)
    match = _TONIC.match(" ".join(words))
    if match is None or (match[3] and _mode(match[3]) is None and not _is_clef(match[3])):
        if not (clef or octaves or semitones or signs):
            return None
        return KeyField(None, None, _altered({}, signs) if signs else None, "", clef, octaves, semitones)
    mode = _mode(match[3] or "") or "maj"
    accidental = match[2].replace("♯", "#").replace("♭", "b")
    signature, fifths, minor, exact = modal_key(parse_name(match[1] + accidental), mode)
    alterations = _altered({} if "exp" in (word.lower() for word in words) else key_alterations(signature), signs)
    plain = exact and dict(alterations) == key_alterations(signature)
    name = "" if plain else " ".join(bare.split())
    return KeyField(fifths, minor, alterations, name, clef, octaves, semitones)


def _mode(word: str) -> str | None:
    """The first three letters tell; 'm' alone is minor."""
    short = word.lower() if word.lower() == "m" else word[:3].lower()
    return {"m": "min", "": "maj", "exp": "maj"}.get(short, short) if short in (*_MODES, "") else None


def _is_clef(word: str) -> bool:
    return re.fullmatch(r"(?i)(treble|bass|alto|tenor|perc|none|clef|octave|transpose|middle)\d?", word) is not None


def _altered(alterations: dict[str, int], signs: list[tuple[str, str]]) -> tuple[tuple[str, int], ...]:
    for sign, letter in signs:
        alterations[letter.upper()] = _SIGNS[sign]
    return tuple((letter, alter) for letter, alter in alterations.items() if alter)


def read_clef(text: str) -> tuple[str, int, int]:
    """What a K: or V: field says of clef, octaves and playing transposition.

    Returns
    -------
    clef : str
        Its name; '' when there is none.
    octaves : int
        By how many octaves the notes sound higher.
    semitones : int
        By how many semitones they are to be raised besides.
    """
    match = re.search(r"(?i)(?:clef\s*=\s*\"?|\b)(treble|bass|alto|tenor|perc)\d?([+^_-]8)?", text)
    clef = match[1].lower() if match else ""
    octaves = _OCTAVES.get(match[2] or "", 0) if match else 0
    if found := re.search(r"\boctave\s*=\s*([-+]?\d)\b", text):
        octaves += int(found[1])
    found = re.search(r"\b(?:transpose|t)\s*=\s*([-+]?\d{1,2})\b", text)
    semitones = int(found[1]) if found else 0
    return clef, octaves, semitones if -36 <= semitones <= 36 else 0
