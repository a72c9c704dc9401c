"""Words over the bars of a lead sheet: leaps, headings, feels, tempi, and chord names among them.

Lead sheets often carry D.C., D.S., Fine and coda as words or signs alone, and chord names as plain words; what they
mean is the same in every format.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from typing import Protocol

from companion.chart.written import BarMarks
from companion.errors import ChartError, ChordError
from companion.music.chords import NO_CHORD, Chord, parse_chord

MOST_TIMES = 16
"""A stretch repeated more often is a fault of the file."""


_HEADING = re.compile(
    r"(?i)(verses?|refrain|chorus|bridge|intro(duction)?|interlude|trio|head|tag|outro|vamp|vers|theme)"
    r"( ?\d+)?[:.]?"
)


_JUMP = re.compile(r"(?i)\b(d\.? ?c\.?|da capo|d\.? ?s\.?|dal segno)(?![a-z])")


class Gathered(Protocol):
    """A measure being read."""

    marks: BarMarks
    chords: list[tuple[Fraction, Chord]]
    words: list[tuple[Fraction, str, bool]]


def ending_times(text: str) -> tuple[int, ...]:
    """The times through that a bracket is for: '1, 3-4' is 1, 3 and 4. Raises ChartError."""
    numbers: list[int] = []
    for first, last in re.findall(r"(\d+)(?:\s*-\s*(\d+))?", text):
        begin = int(first[:4])
        numbers += range(begin, max(begin, min(int(last[:4] or 0), MOST_TIMES)) + 1)
    if any(not 1 <= n <= MOST_TIMES for n in numbers):
        raise ChartError(f"an ending numbered {text!r}")
    return tuple(numbers) or (1,)


def read_words(bar: Gathered, beat: Fraction, words: str, framed: bool) -> bool:
    """Words over a bar: a leap, a heading or a chord name. False when they are other words, which change nothing."""
    lower = words.lower().strip(" .")
    if jump := _JUMP.search(words):
        back = "segno" if re.match(r"(?i)d\.? ?s|dal", jump[1]) else "capo"
        until = "coda" if "coda" in lower else "fine" if "fine" in lower else ""
        bar.marks = replace(bar.marks, jump=back, until=until)
    elif lower == "fine":
        bar.marks = replace(bar.marks, fine=True)
    elif re.fullmatch(r"(to|al) (the )?(coda|⊕|𝄌).*", lower):
        bar.marks = replace(bar.marks, to_coda=True)
    elif re.fullmatch(r"(coda|⊕|𝄌)( (coda|⊕|𝄌))?", lower):
        bar.marks = replace(bar.marks, coda=True)
    elif _HEADING.fullmatch(words):
        bar.marks = headed(bar.marks, words.rstrip(":. ").capitalize(), beat)
    elif framed and len(words) <= 16:
        bar.marks = headed(bar.marks, words, beat)
    elif (chord := read_chord_word(words)) is not None:
        if all(placed != beat for placed, _ in bar.chords):
            bar.chords.append((beat, chord))
        elif len(words) == 1:
            bar.marks = headed(bar.marks, words, beat)
    else:
        return False
    return True


def headed(marks: BarMarks, text: str, beat: Fraction) -> BarMarks:
    """The marks with a heading, if they have none."""
    return marks if marks.heading else replace(marks, heading=text, heading_beat=beat)


def plausible_tempo(text: str) -> float | None:
    """A tempo in quarters a minute, or None when it can't be one."""
    try:
        tempo = float(text)
    except ValueError:
        return None
    return tempo if 20 <= tempo <= 400 else None


def feel_of(words: str) -> str | None:
    """The feel that words over the notes ask for, or None.

    >>> feel_of("Medium Swing"), feel_of("even 8ths"), feel_of("slowly")
    ('swing', 'straight', None)
    """
    if re.search(r"(?i)\b(straight|even)\b", words):
        return "straight"
    named = re.search(r"\b(bossa|latin|shuffle|swing)\b", words.lower())
    return named[1] if named else None


def read_chord_word(text: str) -> Chord | None:
    """The chord that a plain word names, or None when it is another word.

    Older sheets write raised and lowered tones with plus and minus ('D7-9' is D7b9).
    """
    word = text.strip().rstrip(",;")
    if re.fullmatch(r"(?i)\(?n\.? ?c\.?\)?|no chord|tacet", word):
        return NO_CHORD
    if not re.match(r"[A-G]", word) or " " in word:
        return None
    signs = re.sub(r"(?<=\d)([-+])(?=\d)", lambda sign: "b" if sign[1] == "-" else "#", word)
    for spelling in dict.fromkeys((word, signs)):
        try:
            return parse_chord(spelling)
        except ChordError:
            continue
    return None
