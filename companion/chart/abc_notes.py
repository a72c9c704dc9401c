"""A melody in ABC note syntax, read bar by bar.

Source: The ABC Music Standard 2.1 (December 2011), sections 3.1.7 (unit note length), 4.1 pitch, 4.2 accidentals, 4.3
note lengths, 4.4 broken rhythm, 4.5 rests, 4.8 bar symbols, 4.11 ties and slurs, 4.12 grace notes, 4.13 tuplets, 4.14
decorations, 4.17 chords; 11.3 for how far an accidental reaches (all octaves, to the end of the bar).

Conventions: lengths in quarter notes as Fractions; ``unit`` is the length of a note without a number. Grace notes,
slurs, decorations and beams say nothing about what is played when and are passed over; of notes struck together the
highest is the melody. Repeats and endings have no place here: the chart's form says in which order its sections are
played.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.chart.bar_lines import REPEATS, BarTexts, Report, cut_at_bar_lines, stop
from companion.chart.model import MelodyNote
from companion.errors import ChartError
from companion.music.pitch import Pitch

_ACCIDENTALS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}
_LENGTH = r"(?P<num>\d{1,4})?(?P<slashes>/+)?(?P<den>\d{1,4})?"
_NOTE = rf"(?P<acc>\^\^|\^|__|_|=)?(?P<letter>[A-Ga-g])(?P<octave>[',]*){_LENGTH}"
_TOKENS = re.compile(
    r"""(?P<space>[\s`]+ | y\d* | \)+ | [.~HLMOPSTuv](?=[\s\[({^_=A-Ga-gzx.~HLMOPSTuv]) | !\w[^!|]*! | \{[^}|]*\})
    | (?P<tuplet>\((?P<p>[2-9])(?::(?P<q>\d*))?(?::(?P<r>\d*))?)
    | (?P<slur>\()
    | (?P<chord>\[(?P<inner>[^\]|:\d/"][^\]|:"]*)\](?P<chord_length>\d{0,4}/*\d{0,4}))
    | (?P<whole>Z(?P<bars>\d{0,3}))
    | (?P<rest>[zx])(?P<rest_length>\d{0,4}/*\d{0,4})
    | (?P<note>(?P<the_note>(?:\^\^|\^|__|_|=)?[A-Ga-g][',]*\d{0,4}/*\d{0,4}))
    | (?P<tie>-)
    | (?P<broken>>{1,3}|<{1,3})""",
    re.VERBOSE,
)
_NOTE_PARTS = re.compile(_NOTE)
_TUPLETS = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
"""Section 4.13: p notes in the time of q; 5, 7 and 9 go in the time of 2, or of 3 in compound time."""
_ORDER = "FCGDAEB"


@dataclass
class _Event:
    pitch: Pitch | None
    length: Fraction
    tied: bool = False


def key_alterations(fifths: int) -> dict[str, int]:
    """Letters that a key signature alters, and by how much."""
    if fifths >= 0:
        return dict.fromkeys(_ORDER[:fifths], 1)
    return dict.fromkeys(_ORDER[fifths:], -1)


def read_melody(
    text: str,
    bars: Sequence[Fraction] | None,
    nominal: Fraction,
    unit: Fraction,
    fifths: int = 0,
    compound: bool = False,
    report: Report = stop,
) -> tuple[tuple[MelodyNote, ...], tuple[Fraction, ...]]:
    """Read a section's melody.

    Parameters
    ----------
    text : str
        ABC note syntax, its bars between ``|``. What stands before the first bar line is the pickup; after the last one
        stands only what a note tied over the section's end still lasts.
    bars : sequence of Fraction or None
        Length of each bar in quarters; None: as many bars as the text has, each of the ``nominal`` length.
    nominal : Fraction
        Length of a usual bar in quarters.
    unit : Fraction
        Length of a plain note in quarters.
    fifths : int
        Key signature.
    compound : bool
        The metre is compound, for tuplets of 5, 7 and 9.
    report : callable
        Is told of a bar that can't be read; unless it raises, the bar is taken for a rest.

    Returns
    -------
    melody : tuple of MelodyNote
        Ties joined; beats from the section's first downbeat, negative in the pickup.
    bars : tuple of Fraction
        Length of each bar.

    Raises
    ------
    ChartError
        With the bar as its place.
    """
    faulty = set()

    def note_fault(error: ChartError) -> None:
        faulty.add(error.where)
        report(error)

    texts = _settle_edges(_bar_texts(text), bars)
    singer = _Singer(unit, fifths, compound, note_fault)
    before = singer.bar(texts.before, "pickup", nominal)
    written: list[list[_Event]] = []
    for inner in texts.bars:
        number = len(written) + 1
        length = bars[number - 1] if bars is not None and number <= len(bars) else nominal
        written += singer.bar_or_rests(inner, f"bar {number}", length)
    lengths = tuple(bars) if bars is not None else (nominal,) * len(written)
    if len(written) != len(lengths):
        report(
            ChartError(
                f"the melody has {_bars(len(written))}, the chords have {len(lengths)}",
                mend="give both as many bars, each between two bar lines",
            )
        )
        return (), lengths
    for number, (events, length) in enumerate(zip(written, lengths, strict=True), 1):
        if wrong := _wrong_length(events, length):
            note_fault(ChartError(wrong, where=f"bar {number}", mend="count its notes"))
            events.clear()
    after = singer.bar(texts.after, "after the last bar", nominal)
    over = written[-1][-1:] if written else []
    if after and not (over and all(event.tied for event in (*over, *after[:-1]))):
        report(
            ChartError(
                "something stands after the last bar line", mend="close the bar with |, or tie the last note over it"
            )
        )
        after = []
    if not after and over and over[0].tied:
        report(ChartError("the last note is tied to nothing", where=f"bar {len(written)}", mend="take its - away"))
        over[0].tied = False
    start = -sum((event.length for event in before), Fraction(0))

    def tie_fault(error: ChartError) -> None:
        if error.where not in faulty:
            report(error)

    return _join(before, written, lengths, after, start, tie_fault), lengths


def count_melody_bars(text: str) -> int:
    """How many bars a melody has. Raises ChartError when it holds repeat signs."""
    texts = _settle_edges(_bar_texts(text), None)
    return sum(_bars_of_rest(inner) or 1 for inner in texts.bars)


def _bar_texts(text: str) -> BarTexts:
    """A melody without its comments, cut into bars."""
    text = "\n".join(line.partition("%")[0] for line in text.splitlines())
    if repeat := REPEATS.search(text):
        raise ChartError(f"{repeat[0]!r} in a melody", mend="the form says what is repeated; an ending is a section")
    return cut_at_bar_lines(text)


def _bars_of_rest(text: str) -> int:
    """How many bars a rest of whole bars takes ('Z4'); 0 when the bar holds anything else."""
    whole = re.fullmatch(r"\s*Z(\d{0,3})\s*", text)
    return max(1, int(whole[1] or 1)) if whole else 0


def _settle_edges(texts: BarTexts, bars: Sequence[Fraction] | None) -> BarTexts:
    """Take the first or last stretch for a bar where its bar line has been left out and the count says so."""
    if not texts.bars and texts.before and (bars is None or len(bars) == 1):
        return BarTexts("", (texts.before,), texts.after)
    wanted = len(bars) if bars is not None else len(texts.bars)
    if len(texts.bars) == wanted - 1 and texts.after:
        return BarTexts(texts.before, (*texts.bars, texts.after), "")
    if len(texts.bars) == wanted - 1 and texts.before:
        return BarTexts("", (texts.before, *texts.bars), texts.after)
    if len(texts.bars) == wanted - 2 and texts.before and texts.after:
        return BarTexts("", (texts.before, *texts.bars, texts.after), "")
    return texts


def _bars(count: int) -> str:
    return "1 bar" if count == 1 else f"{count} bars"


def _wrong_length(events: list[_Event], length: Fraction) -> str | None:
    total = sum((event.length for event in events), Fraction(0))
    if not events or total == length:
        return None
    return f"the melody lasts {_shown(total)} quarters in a bar of {_shown(length)}"


def _shown(length: Fraction) -> str:
    """A length for a message: '4.5', or '13/3' where decimals have no end."""
    return str(length) if length.denominator % 3 == 0 else f"{float(length):g}"


def _join(
    before: list[_Event],
    written: list[list[_Event]],
    lengths: Sequence[Fraction],
    after: list[_Event],
    start: Fraction,
    report: Report,
) -> tuple[MelodyNote, ...]:
    """Events as notes at their beats, ties joined."""
    notes: list[MelodyNote] = []
    tied = False
    for beat, event, where in _placed(before, written, lengths, after, start):
        if tied and event.pitch == notes[-1].pitch:
            notes[-1] = replace(notes[-1], length=notes[-1].length + event.length)
        else:
            if tied:
                what = f"{notes[-1].pitch} is tied to {event.pitch or 'a rest'}"
                report(ChartError(what, where=where, mend="a tie joins one pitch"))
            if event.pitch is not None and event.length:
                notes.append(MelodyNote(beat, event.length, event.pitch))
        tied = event.tied
    return tuple(notes)


def _placed(
    before: list[_Event], written: list[list[_Event]], lengths: Sequence[Fraction], after: list[_Event], start: Fraction
) -> Iterator[tuple[Fraction, _Event, str]]:
    beat = start
    for event in before:
        yield beat, event, "pickup"
        beat += event.length
    bar = Fraction(0)
    for number, (events, length) in enumerate(zip(written, lengths, strict=True), 1):
        beat = bar
        for event in events or [_Event(None, length)]:
            yield beat, event, f"bar {number}"
            beat += event.length
        bar += length
    for event in after:
        yield bar, event, "after the last bar"
        bar += event.length


class _Singer:
    """Reads bar after bar; a tie takes its pitch over the bar line."""

    def __init__(self, unit: Fraction, fifths: int, compound: bool, report: Report):
        self.unit = unit
        self.report = report
        self.key = key_alterations(fifths)
        self.compound = compound
        self.held: Pitch | None = None

    def bar_or_rests(self, text: str, where: str, length: Fraction) -> list[list[_Event]]:
        """A bar's events; several bars for a rest of several."""
        if count := _bars_of_rest(text):
            return [[] for _ in range(count)]
        return [self.bar(text, where, length)]

    def bar(self, text: str, where: str, length: Fraction) -> list[_Event]:
        """A bar's events; none when it can't be read and that has been reported."""
        try:
            return self._bar(text, where, length)
        except ChartError as error:
            self.report(error)
            return []

    def _bar(self, text: str, where: str, length: Fraction) -> list[_Event]:
        events: list[_Event] = []
        altered = dict(self.key)
        tuplet, left = Fraction(1), 0
        broken = Fraction(0)
        at = 0
        while at < len(text):
            token = _TOKENS.match(text, at)
            if token is None:
                raise ChartError(f"{text[at:].split()[0]!r} is not ABC note syntax", where=where, mend=_mend(text[at]))
            at = token.end()
            if token["tuplet"]:
                tuplet, left = self._tuplet(token, where)
            elif token["tie"]:
                if not events or events[-1].pitch is None:
                    raise ChartError("a tie without a note before it", where=where)
                events[-1].tied = True
                self.held = events[-1].pitch
            elif token["broken"]:
                broken = self._break(token["broken"], events, where)
            elif token["whole"]:
                if text.strip() != token["whole"]:
                    raise ChartError("Z stands for a whole bar and stands alone", where=where)
                events.append(_Event(None, length))
            elif token["note"] or token["chord"] or token["rest"]:
                event = self._event(token, altered, where)
                if left:
                    event.length *= tuplet
                    left -= 1
                if broken:
                    event.length *= broken
                    broken = Fraction(0)
                events.append(event)
        if broken:
            raise ChartError("a broken rhythm without a note after it", where=where)
        return events

    def _event(self, token: re.Match[str], altered: dict[str, int], where: str) -> _Event:
        if token["rest"]:
            self.held = None
            return _Event(None, self.unit * _multiple(token["rest_length"], where))
        if token["note"]:
            event = self._note(token["the_note"], altered, where)
        else:
            struck = [self._note(inner[0], altered, where) for inner in _NOTE_PARTS.finditer(token["inner"])]
            if not struck:
                raise ChartError(f"{token['chord']!r} holds no note", where=where)
            event = max(struck, key=lambda one: one.pitch.midi if one.pitch else 0)
            event.length = struck[0].length * _multiple(token["chord_length"], where)
        self.held = None
        return event

    def _note(self, text: str, altered: dict[str, int], where: str) -> _Event:
        parts = _NOTE_PARTS.fullmatch(text)
        if parts is None:
            raise ChartError(f"{text!r} is not a note", where=where)
        step = parts["letter"].upper()
        octave = (5 if parts["letter"].islower() else 4) + parts["octave"].count("'") - parts["octave"].count(",")
        if parts["acc"]:
            altered[step] = _ACCIDENTALS[parts["acc"]]
        alter = altered.get(step, 0)
        if self.held is not None and not parts["acc"] and (self.held.step, self.held.octave) == (step, octave):
            alter = self.held.alter
        pitch = Pitch(step, alter, octave)
        if not 0 <= pitch.midi <= 127:
            raise ChartError(f"{text!r} is beyond every keyboard", where=where)
        length = (parts["num"] or "") + (parts["slashes"] or "") + (parts["den"] or "")
        return _Event(pitch, self.unit * _multiple(length, where))

    def _tuplet(self, token: re.Match[str], where: str) -> tuple[Fraction, int]:
        p = int(token["p"])
        q = int(token["q"] or _TUPLETS.get(p, 3 if self.compound else 2))
        if q == 0:
            raise ChartError(f"{token['tuplet']!r} is not a tuplet", where=where)
        return Fraction(q, p), int(token["r"] or p)

    def _break(self, sign: str, events: list[_Event], where: str) -> Fraction:
        """Lengthen or shorten the note before; the factor for the note after."""
        if not events:
            raise ChartError("a broken rhythm without a note before it", where=where)
        short = Fraction(1, 2 ** len(sign))
        before, after = (2 - short, short) if sign[0] == ">" else (short, 2 - short)
        events[-1].length *= before
        return after


def _multiple(text: str, where: str) -> Fraction:
    """A note's length in units: '' 1, '3' 3, '/' 1/2, '//' 1/4, '3/2' 3/2."""
    numerator, slash, denominator = text.partition("/")
    if not slash:
        value = Fraction(int(numerator or 1))
    else:
        halvings = 2 ** (1 + len(denominator) - len(denominator.lstrip("/")))
        digits = denominator.lstrip("/")
        if digits and halvings > 2:
            raise ChartError(f"{text!r} is not a length", where=where)
        if digits and int(digits) == 0:
            raise ChartError(f"{text!r} is not a length", where=where)
        value = Fraction(int(numerator or 1), int(digits) if digits else halvings)
    if not 0 < value <= 256:
        raise ChartError(f"{text!r} is not a length", where=where)
    return value


def _mend(sign: str) -> str | None:
    if sign == '"':
        return "chord symbols stand in the section's chords"
    if sign in "HhIiJjKk":
        return "notes are the letters A to G"
    return None
