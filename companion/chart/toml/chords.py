"""Chords between bar lines, as they stand in a chart's text.

How a bar is read: its symbols share it evenly (``| Dm7 G7 |`` is half a bar each); ``.`` takes a share in which the
chord before goes on (``| Dm7 . . G7 |``: three beats and one); ``%`` alone repeats the bar before; ``N.C.`` is no
chord. A chord may say how long it lasts in quarters instead: ``| Dm7*5/2 G7*3/2 |``; then every chord of the bar
does.

Conventions: beats and lengths in quarter notes as Fractions, from the section's first downbeat. Dots before a section's
first chord leave that stretch without one.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from companion.chart.model import ChordSpan
from companion.chart.toml.bar_lines import REPEATS, FaultHandler, cut_at_bar_lines, stop
from companion.errors import ChartError, ChordError
from companion.music.chords import Chord, parse_chord
from companion.music.meter import Metre

MOST_SHARES = 48
MOST_PLACES = 8
"""A bar that needs more even places than this is written with lengths instead."""
_LASTING = re.compile(r"(?P<symbol>[^*]+)\*(?P<length>\d{1,4}(?:/\d{1,4})?)")

_Shares = list[tuple[Chord | None, Fraction]]
"""Of one bar: each chord (None: the one before goes on) and how long it lasts."""


def count_bars(text: str) -> int:
    """How many bars a text of chords has. Raises ChartError when it doesn't begin and end with a bar line."""
    return len(_bars(text))


def _bars(text: str) -> tuple[str, ...]:
    if repeat := REPEATS.search(text):
        raise ChartError(f"{repeat[0]!r} in the chords", mend="the form says what is repeated")
    texts = cut_at_bar_lines(text)
    bars = (*((texts.before,) if texts.before else ()), *texts.bars, *((texts.after,) if texts.after else ()))
    if not bars:
        raise ChartError("there is no bar of chords", mend="write them between bar lines: | Dm7 | G7 |")
    return bars


def read_chords(
    text: str, bars: Sequence[Fraction], metre: Metre, report: FaultHandler = stop
) -> tuple[ChordSpan, ...]:
    """Read a section's chords.

    Parameters
    ----------
    text : str
        Symbols in bars between ``|``.
    bars : sequence of Fraction
        Length of each bar in quarters, one for each bar of the text.
    metre : Metre
        The chart's, for its beat.
    report : callable
        Is told of a bar that can't be read; unless it raises, the chord before goes on there.

    Returns
    -------
    tuple of ChordSpan

    Raises
    ------
    ChartError
        With the bar as its place.
    """
    spans: list[ChordSpan] = []
    at = Fraction(0)
    before: _Shares | None = None
    for number, (inner, length) in enumerate(zip(_bars(text), bars, strict=True), 1):
        try:
            shares = _repeated(before, length) if inner == "%" else _shares(inner, length, metre)
        except (ChordError, ChartError) as error:
            report(ChartError(error.what, where=f"bar {number}", mend=error.mend))
            shares = [(None, length)]
        before = shares
        for chord, lasting in shares:
            if chord is None and spans:
                spans[-1] = ChordSpan(spans[-1].start, at + lasting, spans[-1].chord)
            elif chord is not None:
                spans.append(ChordSpan(at, at + lasting, chord))
            at += lasting
    return tuple(spans)


def _repeated(before: _Shares | None, length: Fraction) -> _Shares:
    """The bar before once more; a chord that filled it goes on."""
    if before is None:
        raise ChartError("there is no bar before it to repeat")
    if sum((lasting for _, lasting in before), Fraction(0)) != length:
        raise ChartError("the bar before it has another length", mend="write the chords out")
    if all(chord is None for chord, _ in before[1:]):
        return [(None, length)]
    return before


def _shares(text: str, length: Fraction, metre: Metre) -> _Shares:
    tokens = text.split()
    if not tokens:
        raise ChartError("the bar is empty", mend="write a chord, % to repeat the bar before, or . to go on")
    if any("*" in token for token in tokens):
        return _lasting(tokens, length)
    share = length / len(tokens)
    beat = metre.pulse if metre.compound else Fraction(4, metre.beat_type)
    if len(tokens) > 2 and (share / beat).denominator != 1 and (beat / share).denominator != 1:
        places = f"{len(tokens)} places don't go into this bar"
        raise ChartError(places, mend="put a . for each beat on which the chord before goes on, as in Dm7 . . G7")
    if len(tokens) > MOST_SHARES:
        raise ChartError(f"more than {MOST_SHARES} places in a bar")
    return [(None if token == "." else _chord(token), share) for token in tokens]


def _chord(token: str) -> Chord:
    if token == "%":
        raise ChartError("a repeat sign stands alone in its bar", mend="put a . where the chord goes on")
    return parse_chord(token)


def _lasting(tokens: Sequence[str], length: Fraction) -> _Shares:
    shares: _Shares = []
    for token in tokens:
        match = _LASTING.fullmatch(token)
        if not match or match["length"].endswith("/0") or Fraction(match["length"]) <= 0:
            raise ChartError(f"{token!r} doesn't say how long it lasts", mend="write it as Dm7*3/2, in quarters")
        chord = None if match["symbol"] == "." else _chord(match["symbol"])
        shares.append((chord, Fraction(match["length"])))
    total = sum((lasting for _, lasting in shares), Fraction(0))
    if total != length:
        raise ChartError(f"its chords last {total} quarters in a bar of {length}")
    return shares


def write_chords(spans: Sequence[ChordSpan], bars: Sequence[Fraction], metre: Metre) -> list[str]:
    """Write a section's chords, one text a bar; :func:`read_chords` gives the same spans back."""
    written: list[str] = []
    at, k = Fraction(0), 0
    before, changed = Fraction(0), False
    for length in bars:
        first = k
        while k < len(spans) and spans[k].start < at + length:
            k += 1
        places = {span.start - at: span.chord.symbol for span in spans[first:k]}
        if places:
            written.append(_bar(places, length, metre))
        else:
            goes_on = first > 0 and spans[first - 1].end > at
            written.append("%" if goes_on and before == length and not changed else ".")
        before, changed = length, any(beat > 0 for beat in places)
        at += length
    return written


def _bar(places: dict[Fraction, str], length: Fraction, metre: Metre) -> str:
    """A bar with chords at these beats: in even places where few are enough, else each with its length."""
    for count in range(1, MOST_PLACES + 1):
        tokens = [places.get(k * length / count, ".") for k in range(count)]
        if sum(token != "." for token in tokens) == len(places) and _reads(tokens, length, metre):
            return " ".join(tokens)
    stops = [*places, length]
    shares = [f"{places[beat]}*{stop - beat}" for beat, stop in zip(places, stops[1:], strict=True)]
    return " ".join(shares if 0 in places else [f".*{stops[0]}", *shares])


def _reads(tokens: Sequence[str], length: Fraction, metre: Metre) -> bool:
    try:
        _shares(" ".join(tokens), length, metre)
    except ChartError:
        return False
    return True
