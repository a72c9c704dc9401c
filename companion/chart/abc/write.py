"""Notes written in ABC note syntax (The ABC Music Standard 2.1), so that they read back the same.

Conventions: as in :mod:`companion.chart.toml.melody`. Notes are grouped by the beat; triplets are written as such where
the notes fill one; a length that no single note head has is written as tied notes. An accidental is repeated wherever
readers might differ on how far the last one reaches: after a bar line under a tie, and in another octave.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, pairwise

from companion.chart.abc.note_syntax import key_alterations
from companion.chart.model import MelodyNote
from companion.music.pitch import Pitch

_SIGNS = {2: "^^", 1: "^", 0: "=", -1: "_", -2: "__"}
_HEADS = (7, 3, 1)
"""Numerators that a single head has: double dotted, dotted, plain (over or times a power of two)."""
_WINDOWS = tuple(Fraction(2) ** n for n in (-2, -1, 0, 1, 2))
"""Stretches that a triplet may fill, in quarters."""


@dataclass(frozen=True)
class AbcChord:
    """What is struck together, from the lowest note up, with the marks before it."""

    pitches: tuple[Pitch, ...]
    marks: str = ""
    each: tuple[str, ...] = ()
    """Marks of each note of a chord, inside its brackets."""

    def text(self, accidentals: _Accidentals, marked: bool) -> str:
        """It in ABC, without a length; without its marks where a tie leads to it."""
        each = self.each if marked and self.each else ("",) * len(self.pitches)
        names = "".join(mark + accidentals.name(p) for mark, p in zip(each, self.pitches, strict=True))
        return (self.marks if marked else "") + (names if len(self.pitches) == 1 else f"[{names}]")


@dataclass(frozen=True)
class SoundingSpan:
    """From when to when something sounds, in quarters as written."""

    start: Fraction
    end: Fraction
    struck: AbcChord


@dataclass(frozen=True)
class _BarSpan:
    """A stretch of one bar: what is struck (or goes on) or a rest."""

    start: Fraction
    end: Fraction
    struck: AbcChord | None
    tied: bool = False
    goes_on: bool = False
    """A tie leads to it."""

    @property
    def length(self) -> Fraction:
        return self.end - self.start


def write_melody(
    melody: Sequence[MelodyNote],
    bars: Sequence[Fraction],
    unit: Fraction,
    fifths: int = 0,
    beat: Fraction = Fraction(1),
) -> tuple[str, list[str], str]:
    """Write a section's melody.

    Parameters
    ----------
    melody : sequence of MelodyNote
        In order, one at a time.
    bars : sequence of Fraction
        Length of each bar in quarters.
    unit : Fraction
        Length of a plain note in quarters.
    fifths : int
        Key signature.
    beat : Fraction
        Notes are grouped by it.

    Returns
    -------
    pickup : str
        What goes before the first bar line; '' without a pickup.
    bars : list of str
        One a bar.
    after : str
        What goes after the last bar line: the rest of a note tied over it.
    """
    sung = [SoundingSpan(note.beat, note.beat + note.length, AbcChord((note.pitch,))) for note in melody]
    pickup, written, after = write_line(sung, bars, unit, fifths, beat)
    silent = ["z" + _number(length / unit) for length in bars]
    return pickup, [bar or silence for bar, silence in zip(written, silent, strict=True)], after


def write_line(
    sounding: Sequence[SoundingSpan],
    bars: Sequence[Fraction],
    unit: Fraction,
    fifths: int = 0,
    beat: Fraction = Fraction(1),
    taken: Sequence[set[str]] | None = None,
) -> tuple[str, list[str], str]:
    """Write one line of notes and chords; as :func:`write_melody`, but bars in which nothing sounds are ''.

    Parameters
    ----------
    sounding : sequence of SoundingSpan
        In order, one at a time.
    bars, unit, fifths, beat
        As in :func:`write_melody`.
    taken : sequence of set of str, optional
        For the pickup, each bar and what comes after: letters that another line of the same bar has given an
        accidental, so that this one says its own. Those of this line are added.
    """
    end = sum(bars, Fraction(0))
    start = min(Fraction(0), sounding[0].start) if sounding else Fraction(0)
    last = max(end, max((one.end for one in sounding), default=end))
    lines = [start, *accumulate(bars, initial=Fraction(0)), last]
    before, *inside, after = _cut(_with_rests(sounding, start, last), lines)
    key, said = key_alterations(fifths), taken or [set() for _ in lines]
    pickup = _write(before, unit, key, beat, start - start % beat, said[0]) if before else ""
    written = []
    for at, pieces, letters in zip(lines[1:], inside, said[1:], strict=False):
        silent = all(piece.struck is None for piece in pieces)
        written.append("" if silent else _write(pieces, unit, key, beat, at, letters))
    rest = [piece for piece in after if piece.struck is not None]
    return pickup, written, _write(rest, unit, key, beat, end, said[-1]) if rest else ""


def _with_rests(sounding: Sequence[SoundingSpan], start: Fraction, end: Fraction) -> list[_BarSpan]:
    pieces: list[_BarSpan] = []
    at = start
    for one in sounding:
        if one.start > at:
            pieces.append(_BarSpan(at, one.start, None))
        at = one.end
        pieces.append(_BarSpan(one.start, at, one.struck))
    if at < end:
        pieces.append(_BarSpan(at, end, None))
    return pieces


def _cut(pieces: Sequence[_BarSpan], lines: Sequence[Fraction]) -> list[list[_BarSpan]]:
    """The pieces between each two bar lines; notes cut by one are tied over it."""
    cells: list[list[_BarSpan]] = []
    k = 0
    for start, end in pairwise(lines):
        cell = []
        while k < len(pieces) and pieces[k].start < end:
            piece = pieces[k]
            tied, goes_on = (piece.struck is not None and cut for cut in (piece.end > end, piece.start < start))
            cell.append(_BarSpan(max(piece.start, start), min(piece.end, end), piece.struck, tied, goes_on))
            if piece.end > end:
                break
            k += 1
        cells.append(cell)
    return cells


def _write(
    pieces: list[_BarSpan], unit: Fraction, key: dict[str, int], beat: Fraction, zero: Fraction, taken: set[str]
) -> str:
    """One bar: grouped by beats counted from ``zero``."""
    accidentals = _Accidentals(key, frozenset(taken))
    text = ""
    k = 0
    while k < len(pieces):
        window = _triplet_window(pieces, k, zero)
        if window is None:
            new = "".join(_heads(pieces[k], unit, accidentals))
            start, used = pieces[k].start, 1
        else:
            new, start = _triplet(window, unit, accidentals), pieces[k].start
            stop = window[-1].end
            used = sum(piece.end <= stop for piece in pieces[k : k + len(window)])
            if pieces[k + used - 1].end < stop:
                cut = pieces[k + used]
                pieces[k + used] = replace(cut, start=stop, goes_on=cut.struck is not None)
        text += (" " if text and (start - zero) % beat == 0 else "") + new
        k += used
    taken.update(accidentals.letters)
    return text


def _triplet_window(pieces: list[_BarSpan], k: int, zero: Fraction) -> list[_BarSpan] | None:
    """The pieces from the k-th on that fill a triplet, the last one cut at its end; None when there is none.

    Thirds are preferred to sixths, and a triplet that ends with a note to one that cuts through it.
    """
    if pieces[k].end.denominator % 3 or pieces[k].start.denominator % 3 == 0:
        return None
    near = pieces[k : bisect_left(pieces, pieces[k].start + max(_WINDOWS), k, key=lambda piece: piece.start)]
    found = [
        window
        for parts in (3, 6)
        for whole in (True, False)
        for length in _WINDOWS
        if (window := _window(near, length, parts, whole, zero)) is not None
    ]
    return found[0] if found else None


def _window(pieces: list[_BarSpan], length: Fraction, parts: int, whole: bool, zero: Fraction) -> list[_BarSpan] | None:
    """Pieces that fill ``length``, all beginning and ending on so many parts of it; ``whole``: none is cut."""
    start = pieces[0].start
    stop = start + length
    inside = [piece for piece in pieces if piece.start < stop]
    last = inside[-1]
    if (start - zero) % (length / 2) or last.end < stop or whole != (last.end == stop) or len(inside) < 2:
        return None
    if any((piece.start - start) % (length / parts) for piece in inside):
        return None
    tied = last.tied if whole else last.struck is not None
    return [*inside[:-1], replace(last, end=stop, tied=tied)]


def _triplet(pieces: Sequence[_BarSpan], unit: Fraction, accidentals: _Accidentals) -> str:
    heads = [head for piece in pieces for head in _heads(piece, unit * Fraction(2, 3), accidentals)]
    return ("(3" if len(heads) == 3 else f"(3:2:{len(heads)}") + "".join(heads)


def _heads(piece: _BarSpan, unit: Fraction, accidentals: _Accidentals) -> list[str]:
    """A piece as one head, or as several tied ones."""
    lengths = _split(piece.length / unit)
    if piece.struck is None:
        return ["z" + _number(length) for length in lengths]
    heads = [
        piece.struck.text(accidentals, marked=not (n or piece.goes_on)) + _number(length)
        for n, length in enumerate(lengths)
    ]
    return [head + "-" for head in heads[:-1]] + [heads[-1] + ("-" if piece.tied else "")]


def _split(length: Fraction) -> list[Fraction]:
    """Lengths of note heads that add up to a length; one number when its denominator is no power of two."""
    if length.denominator & (length.denominator - 1):
        return [length]
    parts = []
    while length:
        size = Fraction(1, length.denominator)
        whole = int(length / size)
        head = max(n << shift for n in _HEADS for shift in range(whole.bit_length()) if n << shift <= whole)
        parts.append(head * size)
        length -= head * size
    return parts


def _number(length: Fraction) -> str:
    """A length in units, as ABC writes it after a note."""
    if length == 1:
        return ""
    if length.denominator == 1:
        return str(length.numerator)
    return f"{length.numerator if length.numerator != 1 else ''}/{length.denominator}"


class _Accidentals:
    """What the accidentals in a bar have done so far; ``taken`` are letters that need one in any case."""

    def __init__(self, key: dict[str, int], taken: frozenset[str]):
        self.key, self.taken = key, taken
        self.letters: dict[str, int] = {}
        self.places: dict[tuple[str, int], int] = {}

    def name(self, pitch: Pitch) -> str:
        """A pitch in ABC, with its accidental where one is needed."""
        usual = self.key.get(pitch.step, 0)
        place = (pitch.step, pitch.octave)
        needed = self.letters.get(pitch.step, usual) != pitch.alter or self.places.get(place, usual) != pitch.alter
        needed |= pitch.step in self.taken and place not in self.places
        if needed:
            self.letters[pitch.step] = self.places[place] = pitch.alter
        if pitch.octave > 4:
            letter = pitch.step.lower() + "'" * (pitch.octave - 5)
        else:
            letter = pitch.step + "," * (4 - pitch.octave)
        return (_SIGNS[pitch.alter] if needed else "") + letter
