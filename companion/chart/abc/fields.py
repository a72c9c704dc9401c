"""What the information fields of an ABC tune say, each read by itself.

Source: The ABC Music Standard 2.1 (December 2011), sections 3.1.6 metre, 3.1.7 unit note length, 3.1.8 tempo, 3.1.9
parts, 3 for the fields that say nothing about the music, 11 directives.

Conventions: lengths in quarter notes as Fractions, tempi in quarters a minute.
"""

from __future__ import annotations

import re
from fractions import Fraction

from companion.chart.words import plausible_tempo
from companion.errors import ChartError
from companion.music.meter import Metre

MOST_PARTS = 500
"""A tune that plays its parts more often is a fault of the file."""
KEPT = {
    "A": "region", "B": "book", "D": "recording", "F": "address", "G": "group", "H": "history", "N": "a note",
    "O": "origin", "R": "rhythm", "S": "source", "Z": "transcription", "W": "words to sing", "w": "words to sing",
    "r": "a remark",
}  # fmt: skip
"""Section 3: fields that say nothing a chart could hold."""
LAYOUT = ("page", "left", "right", "top", "bot", "staff", "system", "scale", "font", "line", "stretch", "abc-",
           "score", "staves", "barn", "measure", "setbar", "indent", "vocal", "title", "music", "parts", "compose",
           "info", "landscape", "sep", "vskip", "newpage", "slur", "writef", "gchord", "decoration", "continue", "flat",
           "max", "note", "pos", "print", "straight", "tuplets", "graceslurs", "linebreak", "aligncomp", "wordsf",
           "subtitle", "tempof", "repeat", "annot", "voice", "header", "footer")  # fmt: skip
"""Beginnings of directives that are about the page alone (section 11.4)."""


def read_metre(text: str) -> Metre | None:
    """A time signature; None when there is none, or it isn't one.

    >>> str(read_metre("C|")), str(read_metre("(2+3)/8"))
    ('2/2', '5/8')
    """
    if text in ("C", "C|"):
        return Metre(4, 4) if text == "C" else Metre(2, 2)
    match = re.fullmatch(r"\(?\s*(\d{1,2}(?:\s*\+\s*\d{1,2})*)\s*\)?\s*/\s*(1|2|4|8|16|32|64)", text)
    if match and 0 < (beats := sum(map(int, match[1].split("+")))) <= 64:
        return Metre(beats, int(match[2]))
    return None


def read_unit(text: str) -> Fraction | None:
    """Length of a plain note; None when the text isn't one."""
    if match := re.fullmatch(r"(\d{1,3})\s*/\s*(\d{1,3})|1", text.strip()):
        numerator, denominator = int(match[1] or 1), int(match[2] or 1)
        if numerator and denominator:
            return 4 * Fraction(numerator, denominator)
    return None


def read_tempo(text: str, unit: Fraction) -> tuple[float | None, str]:
    """A tempo and its words: 'Q:1/4=120', 'Q:"Easy swing" 3/8=50', and what older tunes write.

    Parameters
    ----------
    text : str
    unit : Fraction
        Length of a plain note, for a tempo that names no note ('Q:120', 'Q:C=120', both outdated).

    Returns
    -------
    tempo : float or None
        None when it gives none that a chart could have.
    words : str
    """
    words = " ".join(re.findall(r'"([^"]*)"', text))
    bare = re.sub(r'"[^"]*"', " ", text)
    beats = re.search(r"((?:\d{1,2}\s*/\s*\d{1,2}\s*)+|[CL]\d?)\s*=\s*(\d{1,4}(?:\.\d+)?)", bare)
    tempo = 0.0
    if beats and beats[1][0] not in "CL":
        pairs = re.findall(r"(\d+)\s*/\s*(\d+)", beats[1])
        length = sum((4 * Fraction(int(a), int(b)) for a, b in pairs if int(b)), Fraction(0))
        tempo = float(length) * float(beats[2])
    elif number := re.search(r"(\d{1,4}(?:\.\d+)?)\s*$", bare):
        many = int(beats[1][1:] or 1) if beats else 1
        tempo = float(unit) * many * float(number[1])
    return plausible_tempo(str(tempo)), words


def expand_parts(text: str) -> list[str]:
    """The order of parts that a P: field gives. Raises ChartError.

    >>> "".join(expand_parts("A0B2.((AB)2C)2"))
    'BBABABCABABC'
    """
    stack: list[list[str]] = [[]]
    last: list[str] = []
    for token in re.findall(r"[A-Za-z]|\d+|[()]", text):
        if token == "(":
            stack.append([])
            last = []
            continue
        if token == ")":
            last = stack.pop() if len(stack) > 1 else []
            stack[-1] += last
        elif token.isdigit():
            times = int(token[:4])
            if last:
                del stack[-1][len(stack[-1]) - len(last) :]
                stack[-1] += last * min(times, MOST_PARTS)
            last = []
        else:
            last = [token]
            stack[-1] += last
        if len(stack[-1]) > MOST_PARTS:
            raise ChartError(f"plays more than {MOST_PARTS} parts", where="its P: field")
    return [name for level in stack for name in level][: MOST_PARTS + 1]
