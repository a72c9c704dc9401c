"""One voice of an ABC tune, gathered bar by bar.

Source: The ABC Music Standard 2.1 (December 2011), sections 4.5 rests, 4.8 repeats and bar symbols, 4.9 first and
second repeats, 4.10 variant endings, 4.11 ties, 4.14 decorations, 4.18 chord symbols, 4.19 annotations, 7.4 voice
overlays.

Conventions: lengths in quarter notes as Fractions, beats from the bar's start.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from companion.chart.abc.file import text as plain_text
from companion.chart.abc.note_syntax import MOST_SIGNS, AbcNote, NoteReader
from companion.chart.model import MOST_BARS
from companion.chart.remarks import NOT_UNDERSTOOD, Remark, merged
from companion.chart.words import ending_times, feel_of, headed, read_chord_word, read_words
from companion.chart.written import BarMarks, NoteHead, WrittenBar, one_a_beat
from companion.errors import ChartError, ChordError
from companion.music.chords import NO_CHORD, Chord, parse_chord
from companion.music.meter import Metre
from companion.music.pitch import Pitch

_BAR = re.compile(r"\.?:*\[?\|[|\]]*(?:\[\|[|\]]*)?:*|::+")
_ENDING = re.compile(r"\[\s*(?P<numbers>\d[\d,\-]*)|\[\"(?P<named>[^\"]*)\"")
_BARE_ENDING = re.compile(r"\s*(?P<numbers>\d[\d,\-]*)")
_MUSIC = re.compile(
    r"""(?:"[^"]{0,400}" | ![^!|]{0,80}! | \{[^}|]{0,200}\} | \[(?![A-Za-z]:|\s*\d|\||")[^\]|]{0,200}\]
    | \(\d(?::\d*){0,2} | \.(?![|:]) | [^|:\[&".])+""",
    re.VERBOSE,
)
_LETTERS = {
    ".": "staccato", "~": "roll", "H": "fermata", "L": "accent", "M": "lowermordent", "O": "coda", "P": "uppermordent",
    "S": "segno", "T": "trill", "u": "upbow", "v": "downbow",
}  # fmt: skip
"""Section 4.14: what a single letter before a note means, unless a U: field says otherwise."""
_DYNAMICS = re.compile(r"p{1,4}|f{1,4}|m[pf]|sfz|fp|(crescendo|diminuendo)[()]|[<>][()]")
_JUMPS = {
    "D.C.": ("capo", ""), "dacapo": ("capo", ""), "D.S.": ("segno", ""), "D.C.alcoda": ("capo", "coda"),
    "D.C.alfine": ("capo", "fine"), "D.S.alcoda": ("segno", "coda"), "D.S.alfine": ("segno", "fine"),
}  # fmt: skip


@dataclass
class _OpenBar:
    """What has been gathered of one bar."""

    marks: BarMarks = field(default_factory=BarMarks)
    chords: list[tuple[Fraction, Chord]] = field(default_factory=list)
    words: list[tuple[Fraction, str, bool]] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    raw: str = ""
    first_layer: list[AbcNote] | None = None
    """The bar's own notes while an overlay is being read."""


class VoiceReader:
    """Reads the music of one voice.

    Parameters
    ----------
    name : str
        What the tune calls it.
    unit : Fraction
        Length of a plain note in quarters.
    """

    def __init__(self, name: str, unit: Fraction, metre: Metre | None, key: Mapping[str, int]):
        self.name = name
        self.title = ""
        self.clef = ""
        self.semitones = 0
        self.note_reader = NoteReader(unit, key, bool(metre and metre.compound), self._aside)
        self.metre = metre
        self.bars: list[WrittenBar] = []
        self.raw: list[str] = []
        """The text of each bar."""
        self.metres: list[Metre] = []
        self.letters: dict[str, str] = {}
        """What U: fields say of single letters."""
        self.feel: str | None = None
        self.line_began = 0
        """Index of the bar in which the last line of music began."""
        self.sung: list[tuple[int, Fraction]] = []
        """Bar and beat of each note of that line, for what is aligned with it."""
        self._tied: Pitch | None = None
        self._tied_at_ending: tuple[Pitch | None, Pitch | None] = None, None
        self._bar = _OpenBar()
        self._open_ending = False
        self._held: Pitch | None = None
        """What the bar's own last note is tied to, while an overlay is being read."""

    # fields

    def set_metre(self, metre: Metre | None) -> None:
        """From here on another time signature rules; None: none does."""
        self.metre = metre
        self.note_reader.compound = bool(metre and metre.compound)

    def set_key(self, alterations: Mapping[str, int]) -> None:
        """From here on another key signature rules."""
        self.note_reader.key = dict(alterations)
        self.note_reader.altered = dict(alterations)

    def head(self, text: str) -> None:
        """A section begins here and is called so."""
        self._bar.marks = headed(self._bar.marks, text, self.position)

    @property
    def position(self) -> Fraction:
        """Beat in the bar; while an overlay is being read, that of the bar's own notes."""
        if self._bar.first_layer is not None:
            return sum((event.length for event in self._bar.first_layer), Fraction(0))
        return self.note_reader.position

    @property
    def here(self) -> int:
        """Index of the bar that is being read."""
        return len(self.bars)

    def remark(self, what: str, text: str = "") -> None:
        """Something in this bar that a chart can't hold."""
        self._bar.remarks.append(Remark(what, text))

    # music

    def begin_line(self) -> None:
        """A line of music begins."""
        self.line_began, self.sung = self.here, []

    def read(self, text: str) -> None:
        """Read music up to the next field."""
        at = 0
        while at < len(text):
            if bar := _BAR.match(text, at):
                at = self._bar_line(bar, text)
            elif ending := _ENDING.match(text, at):
                at = ending.end()
                self._ending(ending["numbers"] or ending["named"])
            elif text[at] == "&":
                at += 1
                self._overlay()
            else:
                music = _MUSIC.match(text, at)
                piece = music[0] if music else text[at]
                self._bar.raw += piece
                self._check_room()
                before, beat = len(self.note_reader.events), self.note_reader.position
                self.note_reader.read(piece, "", self._nominal)
                self._note_places(before, beat)
                at += len(piece)

    def _check_room(self) -> None:
        if len(self._bar.raw) > MOST_SIGNS:
            what = f"has more than {MOST_SIGNS} signs"
            raise ChartError(what, where=f"bar {self.here + 1}", mend="look for bar lines that are missing")

    def _note_places(self, before: int, beat: Fraction) -> None:
        """Note where the events from the ``before``-th on stand, the first of them at a beat."""
        if self._bar.first_layer is None:
            for event in self.note_reader.events[before:]:
                if event.pitch is not None:
                    self.sung.append((self.here, beat))
                beat += event.length

    @property
    def _nominal(self) -> Fraction:
        return self.metre.bar if self.metre is not None else Fraction(0)

    def _overlay(self) -> None:
        self.note_reader.end_bar("")
        if self._bar.first_layer is None:
            self._bar.first_layer = self.note_reader.events
            self._held = self.note_reader.held
        self._bar.raw += "&"
        altered = self.note_reader.altered
        self.note_reader.begin_bar()
        self.note_reader.altered = altered

    def _bar_line(self, sign: re.Match[str], text: str) -> int:
        """Close the bar; where reading goes on."""
        signs = sign[0].lstrip(".")
        body = signs.strip(":")
        ends = len(signs) - len(signs.lstrip(":")) if body else len(signs) // 2
        starts = len(signs) - len(signs.rstrip(":")) if body else len(signs) // 2
        double = len(body) > 1 and body != "[|"
        self.close(repeat_end=ends + 1 if ends else 0, double=double or body == "[|")
        if starts:
            self._bar.marks = replace(self._bar.marks, repeat_start=True)
        at = sign.end()
        if ending := _BARE_ENDING.match(text, at):
            at = ending.end()
            self._ending(ending["numbers"])
        return at

    def _ending(self, numbers: str) -> None:
        if self._filled:
            self.close()  # an ending may begin in mid-bar
        if self._open_ending and self.bars:
            self._mark_last(ending_stops=True)
        try:
            times = ending_times(numbers)
        except ChartError:
            self.remark("an ending that isn't understood", numbers)
            return
        if 1 in times:
            self._tied_at_ending = self._tied, self.note_reader.held
        else:
            self._tied, self.note_reader.held = self._tied_at_ending
        self._bar.marks = replace(self._bar.marks, ending=times)
        self._open_ending = True

    @property
    def _filled(self) -> bool:
        return bool(self.note_reader.events or self._bar.first_layer or self._bar.chords)

    def _mark_last(self, **marks: object) -> None:
        """Marks on the last bar that is closed."""
        if self.bars:
            last = self.bars[-1]
            self.bars[-1] = replace(last, marks=replace(last.marks, **marks))  # type: ignore[arg-type]

    def close(self, *, repeat_end: int = 0, double: bool = False) -> None:
        """A bar line: the bar is done. An empty bar is only another sign at the bar line before."""
        stops = self._open_ending and bool(repeat_end or double)
        if stops:
            self._open_ending = False
        if not self._filled:
            if repeat_end:
                self._mark_last(repeat_end=repeat_end)
            if double:
                self._mark_last(double_bar=True)
            if stops:
                self._mark_last(ending_stops=True)
            if repeat_end or double:
                self._hand_on()
            return
        bar = self._bar
        rests = self.note_reader.whole_bars if bar.first_layer is None else 0
        events = self._settled_events(bar)
        length = sum((event.length for event in events), Fraction(0)) or self._nominal
        self._read_words()
        chords, given_way = one_a_beat(bar.chords, length, bool(events))
        if given_way:
            bar.remarks.append(Remark("another chord over the same note", " ".join(given_way)))
        bar.marks = replace(bar.marks, repeat_end=repeat_end, double_bar=double or bool(repeat_end), ending_stops=stops)
        notes, remarks = tuple(self._notes(events)), merged(bar.remarks)
        self.bars.append(WrittenBar("", length, self._nominal, notes, tuple(chords), bar.marks, remarks))
        self._done(bar.raw)
        if rests > 1:
            self._rest(rests - 1, bar.marks)
        self._bar = _OpenBar()
        self.note_reader.begin_bar()

    def _settled_events(self, bar: _OpenBar) -> list[AbcNote]:
        """The bar's own notes; those of overlays are kept in a remark."""
        self.note_reader.end_bar("")
        if bar.first_layer is None:
            return self.note_reader.events
        self.note_reader.held = self._held
        bar.remarks.append(Remark("a second voice", bar.raw.partition("&")[2].strip()))
        return bar.first_layer

    def _done(self, raw: str) -> None:
        self.raw.append(" ".join(raw.split()))
        if self.metre is not None:
            self.metres.append(self.metre)
        if len(self.bars) > MOST_BARS:
            raise ChartError(f"has more than {MOST_BARS} bars", mend="look for a rest of far too many bars")

    def _rest(self, count: int, marks: BarMarks) -> None:
        """So many bars of rest more: what ends the last bar goes to the last of them."""
        first = self.bars[-1]
        last = BarMarks(repeat_end=marks.repeat_end, double_bar=marks.double_bar, ending_stops=marks.ending_stops)
        self.bars[-1] = replace(
            first, marks=replace(marks, repeat_end=0, double_bar=False, ending_stops=False), length=self._nominal
        )
        for k in range(count):
            silent = WrittenBar("", self._nominal, self._nominal, marks=last if k == count - 1 else BarMarks())
            self.bars.append(silent)
            self._done("")

    def _hand_on(self) -> None:
        """What stood between two bar lines without a note belongs to the bar that follows."""
        self._bar.marks = replace(self._bar.marks, repeat_end=0)

    def finish(self) -> None:
        """The tune is over: an open bar is closed, what hangs over goes to the last bar."""
        if self._filled:
            self.close()
        elif self.bars:
            last, bar = self.bars[-1], self._bar
            self._read_words()
            moved = replace(
                last.marks, jump=last.marks.jump or bar.marks.jump, until=last.marks.until or bar.marks.until
            )
            moved = replace(
                moved, fine=moved.fine or bar.marks.fine, ending_stops=moved.ending_stops or self._open_ending
            )
            self.bars[-1] = replace(last, marks=moved, remarks=(*last.remarks, *merged(bar.remarks)))
        if self._open_ending and self.bars:
            self._mark_last(ending_stops=True)

    def _notes(self, events: list[AbcNote]) -> list[NoteHead]:
        notes = []
        beat = Fraction(0)
        for event in events:
            if event.pitch is not None:
                back = self._tied is not None and self._tied == event.pitch
                notes.append(NoteHead(beat, event.length, event.pitch, back, event.tied))
            self._tied = event.pitch if event.tied else None
            beat += event.length
        return notes

    # what stands beside the notes

    def _aside(self, kind: str, text: str) -> None:
        if kind == "text":
            self.quoted(text[1:-1], self.note_reader.position)
        elif kind == "decoration":
            self.decorated(text)
        elif kind == "grace":
            self.remark("grace notes", text)
        elif kind == "struck":
            self.remark("notes struck together, the top one is the melody", text)
        elif kind == "slur":
            self.remark("a slur")
        else:
            self.remark(NOT_UNDERSTOOD, text)

    def quoted(self, text: str, beat: Fraction) -> None:
        """A text in quotes: an annotation where it begins with a sign of place, else a chord symbol."""
        text = plain_text(text.replace("\\n", ";"))
        if text[:1] in ("^", "_", "<", ">", "@"):
            words = re.sub(r"^@[-\d.]*,?[-\d.]*\s*", "", text) if text.startswith("@") else text[1:]
            self._bar.words.append((beat, words.strip(), False))
            return
        symbol, *more = [part.strip() for part in text.split(";")]
        bracketed = re.fullmatch(r"(.+?)\s*\((.*)\)", symbol)
        if bracketed and _chord(bracketed[2]) is not None and _chord(symbol) is None:
            symbol = bracketed[1]
            self.remark("another chord for the same place", bracketed[2])
        chord = _chord(symbol)
        if chord is not None:
            self._bar.chords.append((beat, chord))
        elif symbol:
            self._bar.words.append((beat, symbol, True))
        self._bar.words += [(beat, words, False) for words in more if words]

    def decorated(self, sign: str) -> None:
        """A decoration: a sign that steers the order of playing, or one for the fingers."""
        name = sign.strip("!+") if len(sign) > 1 else self.letters.get(sign, _LETTERS.get(sign, sign))
        if name.startswith('"'):
            self.quoted(name.strip('"'), self.note_reader.position)
            return
        name = name.strip("!+")
        marks = self._bar.marks
        if name in _JUMPS:
            back, until = _JUMPS[name]
            self._bar.marks = replace(marks, jump=back, until=until)
        elif name == "segno":
            self._bar.marks = replace(marks, segno=True)
        elif name == "coda":
            self._bar.marks = replace(marks, coda=True)
        elif name == "dacoda":
            self._bar.marks = replace(marks, to_coda=True)
        elif name == "fine":
            self._bar.marks = replace(marks, fine=True)
        elif _DYNAMICS.fullmatch(name):
            self.remark("dynamics", name)
        elif name not in ("nil", ""):
            self.remark("a decoration", name)

    def _read_words(self) -> None:
        for beat, words, symbol in self._bar.words:
            if not symbol and re.fullmatch(r"[A-H][1-4]?'*", words):
                self._bar.marks = headed(self._bar.marks, words, beat)
                continue
            if not symbol and read_chord_word(words) not in (None, NO_CHORD):
                self.remark("words", words)  # chords have signs of their own
                continue
            if read_words(self._bar, beat, words, False):
                continue
            if self.feel is None and (feel := feel_of(words)) is not None:
                self.feel = feel
            else:
                self.remark("a chord symbol that isn't understood" if symbol else "words", words)
        self._bar.words = []

    def lay_symbols(self, text: str) -> bool:
        """Lay what an s: line holds over the notes of the last line (section 5); False where it can't be."""
        at = 0
        for bar, token in re.findall(r"(\|)|(\"[^\"]*\"|![^!]*!|\*|\S)", text):
            if bar:
                here = self.sung[at - 1][0] if 0 < at <= len(self.sung) else self.line_began - 1
                at = next((k for k in range(at, len(self.sung)) if self.sung[k][0] > here), len(self.sung))
                continue
            if at >= len(self.sung):
                return False
            index, beat = self.sung[at]
            at += 1
            chord = _chord(token[1:-1]) if token[0] == '"' else None
            if token == "*":
                continue
            if chord is None or index >= len(self.bars):
                return False
            chords = sorted((*self.bars[index].chords, (beat, chord)), key=lambda placed: placed[0])
            self.bars[index] = replace(self.bars[index], chords=tuple(chords))
        return True


def _chord(symbol: str) -> Chord | None:
    try:
        return parse_chord(symbol)
    except ChordError:
        return read_chord_word(symbol)
