"""A tune in ABC notation (.abc) as a chart.

Method: the body's lines are read into voices (:mod:`companion.chart.abc.voice`), which become one
:class:`~companion.chart.lead_sheet.LeadSheet` (:mod:`companion.chart.abc.sheet`). Everything else is kept in remarks.

Source: The ABC Music Standard 2.1 (December 2011), sections 3 information fields, 3.2 fields in the body, 5 lyrics, 7
multiple voices, 9 macros, 11 directives.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from companion.chart.abc.fields import KEPT, LAYOUT, read_metre, read_tempo, read_unit
from companion.chart.abc.file import MOST_SIGNS, AbcTune, SourceLine, read_tune
from companion.chart.abc.file import text as plain_text
from companion.chart.abc.key import KeyField, read_clef, read_key_field
from companion.chart.abc.note_syntax import default_unit
from companion.chart.abc.sheet import bars_at_pitch, bars_with_others, melody_voice, part_order
from companion.chart.abc.voice import VoiceReader
from companion.chart.imported import Imported
from companion.chart.lead_sheet import LeadSheet, as_chart, metre_from_lengths, with_lengths
from companion.chart.model import Chart
from companion.chart.remarks import Remark
from companion.chart.words import feel_of
from companion.errors import ChartError
from companion.music.meter import Metre


def read_abc(path: str | Path) -> Chart:
    """Read a tune as a chart; the file holds only one. Raises ChartError."""
    return import_abc(path).chart


def import_abc(path: str | Path, tune: int | None = None, melody: str | None = None) -> Imported:
    """Read a tune as a chart, with what the chart doesn't hold.

    Parameters
    ----------
    path : str or Path
    tune : int, optional
        Which tune of a book: its X: number.
    melody : str, optional
        Id or name of the voice with the melody; by default the one that is called so, or the first that isn't a bass.

    Raises
    ------
    ChartError
        One line that names the file and what is wrong.
    """
    path = Path(path)
    try:
        found = read_tune(path, tune)
        return as_chart(_TuneReader(found).sheet(melody, path.stem), str(path))
    except ChartError as error:
        raise error.within(file=str(path)) from error


class _TuneReader:
    """Reads one tune line by line."""

    def __init__(self, tune: AbcTune):
        self.tune = tune
        self.metre: Metre | None = None
        self.unit: Fraction | None = None
        self.key: KeyField | None = None
        self.composers: list[str] = []
        self.title = tune.title
        self.tempo: float | None = None
        self.feel: str | None = None
        self.remarks: list[Remark] = []
        self.order = ""
        """What a P: field of the header says."""
        self.parts: list[tuple[str, int]] = []
        """Each part that a P: field of the body names, and the bar with which it begins."""
        self.letters: dict[str, str] = {}
        self.macros: list[tuple[str, str]] = []
        self.reach = "pitch"
        self.voices: dict[str, VoiceReader] = {}
        self.described: dict[str, str] = {}
        self.voice: VoiceReader | None = None
        self.in_text = False
        self.titles = 0

    # the header

    def sheet(self, melody: str | None, fallback: str) -> LeadSheet:
        """The tune as a lead sheet. Raises ChartError."""
        for line in self.tune.header:
            self._header(line)
        ended = False
        for line in self.tune.body:
            ended = ended or (not line.field and not line.text.strip() and bool(self.voices))
            if ended and not line.field and line.text.strip() and not re.search(r"[|\]]", line.text):
                self.remarks.append(Remark("text after the tune", line.text))
            else:
                self._body(line)
        for voice in self.voices.values():
            voice.finish()
        return self._lead_sheet(melody_voice(list(self.voices.values()), melody), fallback)

    def _header(self, line: SourceLine) -> None:
        text = line.text
        match line.field:
            case "T":
                self.titles += 1
                if self.titles > 1 and text:
                    self.remarks.append(Remark("another title", plain_text(text)))
            case "C":
                self.composers.append(plain_text(text))
            case "M":
                self.metre = self._metre(text)
            case "L":
                self.unit = self._unit(text) or self.unit
            case "Q":
                self._tempo(text)
            case "P":
                self.order = text
            case "K":
                self.key = read_key_field(text) or KeyField(0, False, ())
                if self.key.name:
                    self.remarks.append(Remark("a key that a chart names only by its tonic", self.key.name))
            case "V":
                self._declare(text)
            case "R":
                self._rhythm(text)
            case _:
                self._anywhere(line, None)

    def _anywhere(self, line: SourceLine, voice: VoiceReader | None) -> None:
        """Fields and directives that mean the same in header and body."""
        if line.field == "U":
            letter, _, meaning = line.text.partition("=")
            self.letters[letter.strip()[:1]] = meaning.strip()
        elif line.field == "m":
            target, _, expansion = line.text.partition("=")
            if "n" in target or not target.strip():
                self._note(voice, "a macro that isn't played", line.text)
            else:
                self.macros.append((target.strip(), expansion.strip()))
        elif line.field == "%":
            self._directive(line.text, voice)
        elif line.field in KEPT and line.text:
            self._note(voice, KEPT[line.field], plain_text(line.text))
        elif line.field and line.field not in "Xs" and line.text:
            self._note(voice, "a field", f"{line.field}:{line.text}")

    def _note(self, voice: VoiceReader | None, what: str, text: str) -> None:
        if voice is None:
            self.remarks.append(Remark(what, text))
        else:
            voice.remark(what, text)

    def _directive(self, text: str, voice: VoiceReader | None) -> None:
        name = text.split()[0].lower() if text.split() else ""
        if name in ("begintext", "endtext"):
            self.in_text = name == "begintext"
        elif name == "propagate-accidentals" and (reach := text.split()[-1].lower()) in ("not", "octave", "pitch"):
            self.reach = reach
        elif not name.startswith(LAYOUT):
            self._note(voice, "a directive", f"%%{text}")

    def _metre(self, text: str) -> Metre | None:
        metre = read_metre(text)
        if metre is None and text not in ("", "none"):
            self.remarks.append(Remark("a metre that isn't understood", text))
        return metre

    def _unit(self, text: str) -> Fraction | None:
        unit = read_unit(text)
        if unit is None:
            self.remarks.append(Remark("a unit note length that isn't understood", text))
        return unit

    def _rhythm(self, text: str) -> None:
        if feel := feel_of(text):
            self.feel = self.feel or feel
        elif text:
            self.remarks.append(Remark("rhythm", plain_text(text)))

    def _tempo(self, text: str) -> None:
        """A tempo: the first one is the tune's, later ones are kept with their bar."""
        tempo, words = read_tempo(text, self._plain())
        feel = feel_of(words)
        self.feel = self.feel or feel
        if self.tempo is None and tempo is not None and self.voice is None:
            self.tempo = tempo
            if words and not feel:
                self.remarks.append(Remark("tempo", plain_text(words)))
        elif tempo is not None and self.voice is not None:
            if self.tempo is None and not self.voice.here:
                self.tempo = tempo
            elif tempo != self.tempo:
                self.voice.remark("a change of tempo", plain_text(text))
        elif not feel and text:
            self._note(self.voice, "tempo", plain_text(text))

    def _plain(self) -> Fraction:
        """Length of a plain note in quarters."""
        return self.unit if self.unit is not None else default_unit(self.metre or Metre())

    # the voices

    def _declare(self, text: str) -> str:
        """A V: field: the voice's id; what else it says is kept with the voice."""
        name, _, rest = text.strip().partition(" ")
        name = name or "1"
        self.described[name] = f"{self.described.get(name, '')} {rest}"
        if name in self.voices:
            self._describe(self.voices[name])
        return name

    def _select(self, name: str) -> VoiceReader:
        voice = self.voices.get(name)
        if voice is None:
            alterations = dict(self.key.alterations or ()) if self.key else {}
            voice = self.voices[name] = VoiceReader(name, self._plain(), self.metre, alterations)
            voice.letters = self.letters
            voice.note_reader.reach = self.reach
            if self.key:
                voice.semitones, voice.clef = self.key.semitones, self.key.clef
                voice.note_reader.octaves = self.key.octaves
            self._describe(voice)
        self.voice = voice
        return voice

    def _describe(self, voice: VoiceReader) -> None:
        text = self.described.get(voice.name, "")
        clef, octaves, semitones = read_clef(text)
        voice.clef = clef or voice.clef
        if octaves:
            voice.note_reader.octaves = octaves
        voice.semitones = semitones or voice.semitones
        if match := re.search(r'\b(?:name|nm)\s*=\s*(?:"([^"]*)"|(\S+))', text):
            voice.title = plain_text(match[1] or match[2] or "")

    # the body

    def _body(self, line: SourceLine) -> None:
        if line.field == "%" and line.text.split()[:1] in (["begintext"], ["endtext"]):
            self.in_text = line.text.startswith("begin")
        elif self.in_text:
            self.remarks.append(Remark("text", plain_text(line.text)))
        elif line.field:
            self._field(line)
        elif line.text.strip():
            self._music(line.text)

    def _music(self, text: str) -> None:
        for target, expansion in self.macros:
            if len(text) + text.count(target) * (len(expansion) - len(target)) > MOST_SIGNS:
                raise ChartError(f"its macros make a line of more than {MOST_SIGNS} signs", mend="write the notes out")
            text = text.replace(target, expansion)
        text = text.rstrip()
        text = text[:-1] if text.endswith("\\") else text
        voice = self.voice or self._select("1")
        voice.begin_line()
        at = 0
        for inline in re.finditer(r"\[([A-Za-z]):([^\]|]*)\]", text):
            self._current().read(text[at : inline.start()])
            at = inline.end()
            before = self.voice
            self._field(SourceLine(inline[1], inline[2].strip()))
            if self.voice is not before and self.voice is not None:
                self.voice.begin_line()
        self._current().read(text[at:])

    def _current(self) -> VoiceReader:
        return self.voice or self._select("1")

    def _field(self, line: SourceLine) -> None:
        """A field in the body, or in a line of music."""
        text = line.text
        if line.field == "V":
            self._select(self._declare(text))
            return
        voice = self._current()
        match line.field:
            case "K":
                self._change_key(voice, text)
            case "M":
                voice.set_metre(self._metre(text))
            case "L":
                voice.note_reader.unit = self._unit(text) or voice.note_reader.unit
            case "Q":
                self._tempo(text)
            case "P":
                self._part(voice, plain_text(text))
            case "T":
                if text:
                    voice.remark("a title", plain_text(text))
            case "w":
                self._sung(voice, text)
            case "s":
                if not voice.lay_symbols(text):
                    self._at_line(voice, "signs over the notes", text)
            case "R":
                self._rhythm(text)
            case "W":
                self.remarks.append(Remark("words to sing", plain_text(text)))
            case "X":
                pass
            case "I":
                self._directive(text, voice)
            case _:
                self._anywhere(line, voice)
                voice.note_reader.reach = self.reach

    def _change_key(self, voice: VoiceReader, text: str) -> None:
        key = read_key_field(text)
        if key is None or (key.alterations is None and not (key.clef or key.octaves or key.semitones)):
            voice.remark("a key that isn't understood", text)
            return
        if key.octaves:
            voice.note_reader.octaves = key.octaves
        if key.alterations is None:
            return
        voice.set_key(dict(key.alterations))
        if voice.here or voice.position:
            voice.remark("the key changes", text)
        elif self.key is None or key.fifths is not None:
            self.key = key

    def _part(self, voice: VoiceReader, text: str) -> None:
        if not text:
            return
        first = next(iter(self.voices.values())) if self.voices else voice
        if voice is first:
            self.parts.append((text, voice.here + (1 if voice.position else 0)))
        voice.head(text)

    def _sung(self, voice: VoiceReader, text: str) -> None:
        """Words to sing: kept with the bar in which their line of music begins."""
        self._at_line(voice, "words to sing", plain_text(text))

    def _at_line(self, voice: VoiceReader, what: str, text: str) -> None:
        """Something about a whole line of music, kept where the line begins."""
        if voice.line_began < len(voice.bars):
            bar = voice.bars[voice.line_began]
            voice.bars[voice.line_began] = replace(bar, remarks=(*bar.remarks, Remark(what, text)))
        else:
            voice.remark(what, text)

    # together

    def _lead_sheet(self, voice: VoiceReader, fallback: str) -> LeadSheet:
        bars = bars_with_others(voice, [other for other in self.voices.values() if other is not voice])
        metre = Counter(voice.metres).most_common(1)[0][0] if voice.metres else metre_from_lengths(bars)
        bars = list(with_lengths(bars, metre))
        fifths, minor = (self.key.fifths, self.key.minor) if self.key else (0, False)
        if voice.semitones:
            bars, fifths = bars_at_pitch(bars, voice.semitones, fifths)
            self.remarks.append(Remark("written for a transposing instrument; here it stands as it sounds"))
        first = 0 if len(bars) > 1 and bars[0].short else 1
        bars = [replace(bar, number=str(first + k)) for k, bar in enumerate(bars)]
        order = part_order(self.order, self.parts, bars)
        if self.order and order is None:
            self.remarks.append(Remark("an order of parts that the tune doesn't name", self.order))
        return LeadSheet(
            title=plain_text(self.title) or fallback,
            composer=", ".join(self.composers) or None,
            bars=tuple(bars),
            metre=metre,
            fifths=fifths,
            minor=minor,
            tempo=self.tempo,
            feel=self.feel or next((v.feel for v in self.voices.values() if v.feel), None),
            order=order,
            remarks=tuple(self.remarks),
        )
