"""The measures of a MusicXML part, read one after the other into written bars.

Conventions: lengths in quarter notes as Fractions. The melody is one line: the first staff's first voice, the top
note of a chord; grace and cue notes are left out. A transposing part comes out in concert pitch. Elements are read as
MusicXML 4.0 describes them; older versions differ in nothing that matters here.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from companion.chart.keys import MODES, modal_key, write_key
from companion.chart.musicxml import directions
from companion.chart.musicxml.harmony import read_harmony
from companion.chart.musicxml.remarks import (
    barline_remarks,
    direction_remarks,
    line_text,
    note_remarks,
    style_remarks,
    words_sung,
)
from companion.chart.remarks import Remark, merged
from companion.chart.words import feel_of, plausible_tempo, read_words
from companion.chart.written import BarMarks, NoteHead, WrittenBar, one_a_beat
from companion.errors import ChartError, InputError
from companion.music.chords import Chord, transpose
from companion.music.meter import Metre
from companion.music.pitch import Name, Pitch, name_at_fifth

MOST_DIVISIONS = 10**7
MOST_ELEMENTS = 2000
"""Notes and signs of a measure; a full one of a pianist's two hands has a hundred."""
_TYPES = (
    "1024th", "512th", "256th", "128th", "64th", "32nd", "16th", "eighth", "quarter", "half", "whole", "breve", "long",
    "maxima",
)  # fmt: skip
TYPES = {name: Fraction(2) ** (power - 8) for power, name in enumerate(_TYPES)}
"""MusicXML's note types, in quarters."""
VoiceId = tuple[str, str]
"""Staff and voice."""


@dataclass
class _Measure:
    """What has been gathered of one measure."""

    cursor: Fraction = Fraction(0)
    end: Fraction = Fraction(0)
    onset: Fraction = Fraction(0)
    voices: dict[tuple[str, str], list[NoteHead]] = field(default_factory=dict)
    chords: list[tuple[Fraction, Chord]] = field(default_factory=list)
    words: list[tuple[Fraction, str, bool]] = field(default_factory=list)
    marks: BarMarks = field(default_factory=BarMarks)
    heads: list[tuple[VoiceId, Fraction, Element]] = field(default_factory=list)
    """Every note and rest with its voice and length."""
    remarks: list[Remark] = field(default_factory=list)


class MeasureReader:
    """Reads measure after measure; keeps what one measure hands to the next.

    Parameters
    ----------
    file : str
        For messages.
    voice : (str, str)
        Staff and voice of the melody.
    lenient : bool
        A chord that isn't one is kept as a remark, and the chord before goes on; else it is an error.
    """

    def __init__(self, file: str, voice: VoiceId, *, lenient: bool = False):
        self.file = file
        self.lenient = lenient
        self.sung: list[dict[str, str]] = []
        """The words under each bar of the melody, by verse."""
        self.divisions = 1
        self.nominal = Fraction(0)
        self.metre: Metre | None = None
        self.metres: Counter[Metre] = Counter()
        """How many bars each time signature rules."""
        self.bars = 0
        self.repeating = 0
        self.again: dict[int, int] = {}
        """Bars that stand as a repeat sign, and how many bars before stands what they hold."""
        self.fifths = 0
        self.first_fifths: int | None = None
        self.minor: bool | None = None
        self.tempo: float | None = None
        self.last_tempo: float | None = None
        self.feel: str | None = None
        self.shift: tuple[int, int, int] | None = None
        self.voice = voice

    def bar(self, number: str, elements: list[Element]) -> WrittenBar:
        """The next measure as a bar. Raises ChartError with the bar as its place."""
        try:
            return self._bar(number, elements)
        except InputError as error:
            raise ChartError(error.what, file=self.file, where=f"bar {number}", mend=error.mend) from error
        except (ValueError, ArithmeticError, LookupError, TypeError) as error:
            raise ChartError(f"can't be read: {error}", file=self.file, where=f"bar {number}") from error

    def _bar(self, number: str, elements: list[Element]) -> WrittenBar:
        if len(elements) > MOST_ELEMENTS:
            what = f"has more than {MOST_ELEMENTS} notes and signs"
            raise ChartError(what, mend="look for bar lines that are missing")
        bar = _Measure()
        for element in elements:
            match element.tag:
                case "attributes":
                    self._attributes(element, bar)
                case "note":
                    self._note(element, bar)
                case "backup":
                    bar.cursor = max(Fraction(0), bar.cursor - self._duration(element))
                case "forward":
                    bar.cursor += self._duration(element)
                    bar.end = max(bar.end, bar.cursor)
                case "rewind":
                    bar.cursor = Fraction(0)
                case "harmony":
                    self._harmony(element, bar)
                case "direction":
                    self._direction(element, bar)
                case "sound":
                    self._sound(element, bar)
                case "barline":
                    bar.marks = directions.barline(element, bar.marks)
                    bar.remarks += barline_remarks(element)
                case "figured-bass":
                    bar.remarks.append(Remark("figured bass"))
        for beat, words, framed in bar.words:
            understood = read_words(bar, beat, words, framed) or self._says_the_feel(words)
            if not understood:
                bar.remarks.append(Remark("words", words))
        voice = self._melody_voice(bar)
        notes = list(_one_at_a_time(sorted(bar.voices.get(voice, []), key=lambda note: note.beat)))
        self._remark_notes(bar, voice)
        length = bar.end or self.nominal
        chords, given_way = one_a_beat(bar.chords, length, notes=True)
        if given_way:
            bar.remarks.append(Remark("another chord on the same beat", " ".join(given_way)))
        if self.metre is not None:
            self.metres[self.metre] += 1
        if self.repeating:
            self.again[self.bars] = self.repeating
        self.bars += 1
        return WrittenBar(
            number=number,
            length=length,
            nominal=self.nominal,
            notes=tuple(notes),
            chords=tuple(chords),
            marks=bar.marks,
            remarks=merged(bar.remarks),
        )

    def _says_the_feel(self, words: str) -> bool:
        feel = feel_of(words)
        return feel is not None and feel == self.feel

    def _remark_notes(self, bar: _Measure, melody: VoiceId) -> None:
        """What stands at the melody's notes, and the other voices."""
        sung = [(length, note) for voice, length, note in bar.heads if voice == melody]
        self.sung.append(words_sung(note for _, note in sung))
        for _, note in sung:
            bar.remarks += note_remarks(note)
        struck = re.findall(r"\[[^]]*\]\S*", line_text((n, e) for n, e in sung if e.find("grace") is None))
        if struck:
            bar.remarks.append(Remark("notes struck together, the top one is the melody", " ".join(struck)))
        for voice in dict.fromkeys(voice for voice, _, note in bar.heads if voice != melody):
            heads = [(length, note) for v, length, note in bar.heads if v == voice and note.find("grace") is None]
            if any(note.find("pitch") is not None for _, note in heads):
                staff = f"staff {voice[0]}, " if voice[0] not in ("1", melody[0]) else ""
                bar.remarks.append(Remark(f"{staff}voice {voice[1]}", line_text(heads)))

    def _attributes(self, element: Element, bar: _Measure) -> None:
        if (divisions := element.findtext("divisions")) is not None:
            self.divisions = _whole(divisions, "divisions")
            if not 0 < self.divisions <= MOST_DIVISIONS:
                raise ChartError(f"<divisions> is {self.divisions}")
        if (key := element.find("key")) is not None and key.findtext("fifths") is not None:
            self._key(key, bar)
        if (time := element.find("time")) is not None:
            self._time(time)
        bar.remarks += style_remarks(element)
        for sign in element.iter("measure-repeat"):
            self.repeating = _whole(sign.text, "measure-repeat") if sign.get("type") == "start" else 0
        if (transposition := element.find("transpose")) is not None:
            self._transposition(transposition)

    def _key(self, key: Element, bar: _Measure) -> None:
        before, self.fifths = self.fifths, _whole(key.findtext("fifths"), "fifths")
        if not -7 <= self.fifths <= 7:
            raise ChartError(f"a key signature of {self.fifths} fifths")
        mode = (key.findtext("mode") or "").strip().lower()
        if self.first_fifths is not None:
            if self.fifths != before:
                bar.remarks.append(Remark("the key changes", write_key(self.fifths, mode == "minor")))
            return
        self.first_fifths = self.fifths
        if mode[:3] in MODES:
            tonic = name_at_fifth(self.fifths - MODES[mode[:3]])
            _, self.first_fifths, self.minor, exact = modal_key(tonic, mode[:3])
            if not exact:
                bar.remarks.append(Remark("a key that a chart names only by its tonic", f"{tonic} {mode}"))

    def _time(self, time: Element) -> None:
        if time.find("senza-misura") is not None or time.find("beats") is None:
            return
        beats = [sum(_whole(n, "beats") for n in (b.text or "").split("+")) for b in time.findall("beats")]
        types = [_whole(b.text, "beat-type") for b in time.findall("beat-type")]
        pairs = list(zip(beats, types, strict=False))
        if not pairs or any(b < 1 or b > 64 or t not in (1, 2, 4, 8, 16, 32, 64) for b, t in pairs):
            raise ChartError("an impossible time signature")
        self.nominal = sum((Fraction(4 * b, t) for b, t in pairs), Fraction(0))
        smallest = max(t for _, t in pairs)
        self.metre = Metre(int(self.nominal * smallest / 4), smallest)

    def _transposition(self, element: Element) -> None:
        semitones = _whole(element.findtext("chromatic"), "chromatic")
        steps = element.findtext("diatonic")
        octaves = _whole(element.findtext("octave-change") or "0", "octave-change")
        letters = _whole(steps, "diatonic") if steps else round(semitones * 7 / 12)
        self.shift = (letters, semitones, octaves) if (letters, semitones, octaves) != (0, 0, 0) else None
        if self.shift and self.first_fifths is not None:
            self.first_fifths = _fold_key(self.first_fifths + Name("C").above(letters % 7 + 1, semitones % 12).fifth)

    def _duration(self, element: Element) -> Fraction:
        text = element.findtext("duration")
        if text is not None:
            duration = _number(text, "duration") / self.divisions
        else:
            kind = (element.findtext("type") or "").strip()
            if kind not in TYPES:
                raise ChartError("a note without a duration")
            duration = TYPES[kind] * (2 - Fraction(1, 2 ** len(element.findall("dot"))))
            if (normal := element.findtext("time-modification/normal-notes")) is not None:
                actual = element.findtext("time-modification/actual-notes")
                duration *= Fraction(_whole(normal, "normal-notes"), _whole(actual, "actual-notes"))
        if not 0 <= duration <= 1000:
            raise ChartError(f"a duration of {float(duration):g} quarters")
        return duration.limit_denominator(10080)

    def _note(self, element: Element, bar: _Measure) -> None:
        if element.find("grace") is not None:
            bar.heads.append((_voice_of(element), Fraction(0), element))
            return
        length = self._duration(element)
        bar.heads.append((_voice_of(element), length, element))
        if element.find("chord") is None:
            bar.onset = bar.cursor
            bar.cursor += length
            bar.end = max(bar.end, bar.cursor)
        line = bar.voices.setdefault(_voice_of(element), [])
        pitch = element.find("pitch")
        if pitch is None or element.find("cue") is not None or not length:
            return
        ties = {tie.get("type") for tie in (*element.findall("tie"), *element.findall("notations/tied"))}
        note = NoteHead(bar.onset, length, self._pitch(pitch), "stop" in ties, "start" in ties)
        if element.find("chord") is not None and line and line[-1].beat == note.beat:
            if line[-1].pitch.midi < note.pitch.midi:
                line[-1] = note
        else:
            line.append(note)

    def _pitch(self, element: Element) -> Pitch:
        step = (element.findtext("step") or "").strip().upper()
        alter = round(_number(element.findtext("alter") or "0", "alter"))
        octave = _whole(element.findtext("octave"), "octave")
        if step not in tuple("CDEFGAB") or abs(alter) > 2 or not -1 <= octave <= 9:
            raise ChartError(f"an impossible pitch {step}{octave}")
        pitch = Pitch(step, alter, octave)
        if self.shift:
            letters, semitones, octaves = self.shift
            moved = pitch.midi + semitones + 12 * octaves
            pitch = pitch.name.above(letters % 7 + 1, semitones % 12).at(moved)
        if not 0 <= pitch.midi <= 127:
            raise ChartError(f"{pitch} is beyond every keyboard")
        return pitch

    def _harmony(self, element: Element, bar: _Measure) -> None:
        try:
            chord = read_harmony(element, self.fifths, bool(self.minor))
        except InputError as error:
            if not self.lenient:
                mend = "chart import keeps it as a comment, and the chord before goes on"
                raise ChartError(error.what, mend=error.mend or mend) from error
            bar.remarks.append(Remark("a chord symbol that isn't understood", error.what))
            return
        if element.find("frame") is not None:
            bar.remarks.append(Remark("a chord diagram"))
        if chord is None:
            bar.remarks.append(Remark("a chord named by its function alone", element.findtext("function") or ""))
            return
        if chord.kind == "pedal" and (kind := element.find("kind")) is not None and kind.text != "pedal":
            bar.remarks.append(Remark("of a chord symbol only the root is understood", f"{chord.root}{chord.text}"))
        if self.shift and chord.root is not None:
            chord = transpose(chord, self.shift[0] % 7 + 1, self.shift[1] % 12)
        bar.chords.append((self._at(element, bar), chord))

    def _at(self, element: Element, bar: _Measure) -> Fraction:
        offset = _number(element.findtext("offset") or "0", "offset") / self.divisions
        return max(Fraction(0), (bar.cursor + offset).limit_denominator(10080))

    def _direction(self, element: Element, bar: _Measure) -> None:
        beat = self._at(element, bar)
        directions.read_signs(element, bar, beat)
        bar.remarks += direction_remarks(element)
        self._tempo(directions.metronome(element), bar)
        if (sound := element.find("sound")) is not None:
            self._sound(sound, bar)
        if self.feel is None:
            self.feel = directions.feel_of_direction(element)

    def _tempo(self, tempo: float | None, bar: _Measure) -> None:
        """The first tempo is the tune's; a later one is another."""
        if tempo is None or tempo == self.last_tempo:
            return
        if self.tempo is None:
            self.tempo = tempo
        elif abs(tempo - (self.last_tempo or 0)) > 0.5:
            bar.remarks.append(Remark("a change of tempo", f"{tempo:g} quarters a minute"))
        self.last_tempo = tempo

    def _sound(self, element: Element, bar: _Measure) -> None:
        bar.marks = directions.sound_marks(element, bar.marks)
        if (tempo := element.get("tempo")) is not None:
            self._tempo(plausible_tempo(tempo), bar)
        if self.feel is None and (swing := element.find("swing")) is not None:
            self.feel = "straight" if swing.find("straight") is not None else "swing"

    def _melody_voice(self, bar: _Measure) -> VoiceId:
        """The melody's voice; where it isn't even silent, the first other one of its staff."""
        if self.voice in bar.voices:
            return self.voice
        return next((key for key in sorted(bar.voices) if key[0] == self.voice[0] and bar.voices[key]), self.voice)


def _voice_of(note: Element) -> VoiceId:
    return note.findtext("staff") or "1", note.findtext("voice") or "1"


def melody_voice_id(notes: Iterable[Element]) -> VoiceId:
    """The voice that sings most often, of the first staff that has notes; a chord counts for less than one note."""
    counts: Counter[VoiceId] = Counter()
    alone = False
    for note in notes:
        if note.find("pitch") is None:
            continue
        if note.find("chord") is None:
            counts[_voice_of(note)] += 10
            alone = True
        elif alone:
            counts[_voice_of(note)] -= 3
            alone = False
    staff = min((staff for staff, _ in counts), default="1")
    return max(
        (key for key in counts if key[0] == staff), key=lambda key: (counts[key], key[1] == "1"), default=("1", "1")
    )


def _one_at_a_time(notes: list[NoteHead]) -> Iterator[NoteHead]:
    for k, note in enumerate(notes):
        following = notes[k + 1].beat if k + 1 < len(notes) else None
        if following is not None and note.beat + note.length > following:
            if following == note.beat:
                continue
            note = replace(note, length=following - note.beat)
        yield note


def _fold_key(fifths: int) -> int:
    """The enharmonic key with no more than seven sharps or flats."""
    return fifths - 12 if fifths > 7 else fifths + 12 if fifths < -7 else fifths


def _number(text: str, name: str) -> Fraction:
    if not re.fullmatch(r"\s*[-+]?\d{1,12}(\.\d{0,12})?\s*", text, re.ASCII):
        raise ChartError(f"<{name}> should be a number, not {text!r}")
    return Fraction(text.strip())


def _whole(text: str | None, name: str) -> int:
    try:
        return int((text or "").strip())
    except ValueError:
        raise ChartError(f"<{name}> should be a whole number, not {text!r}") from None
