"""A sheet as MusicXML 4.0.

Conventions: one part, its staves numbered from the top; voices as :mod:`companion.engrave.score` numbers them. Chord
symbols carry kind, degrees and bass, and the text that is printed; reading the file back gives the same chords. Source:
MusicXML 4.0 (W3C Music Notation Community Group, 2021).
"""

from __future__ import annotations

import io
import zipfile
from fractions import Fraction
from math import lcm
from pathlib import PurePath
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from companion.engrave.accidentals import Place, accidentals
from companion.engrave.score import Bar, Sheet, Voice
from companion.engrave.values import Head
from companion.music.chords import Chord
from companion.music.pitch import Name
from companion.music.symbols import write_quality

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
FEELS = {"straight": "Straight eighths"}
"""What is printed over the first bar, where it isn't the feel's own name."""
CLEFS = {1: ("G", "2"), 2: ("F", "4")}
_SIGNS = str.maketrans({"b": "♭", "#": "♯"})


def musicxml(sheet: Sheet, *, degrees: bool = True) -> str:
    """The sheet as the text of an uncompressed MusicXML file.

    Without ``degrees`` the chord symbols are their root, text and bass alone: for an engraver that prints the degrees
    beside the text which names them already.
    """
    root = Element("score-partwise", version="4.0")
    SubElement(SubElement(root, "work"), "work-title").text = sheet.title
    identification = SubElement(root, "identification")
    if sheet.composer:
        SubElement(identification, "creator", type="composer").text = sheet.composer
    SubElement(SubElement(identification, "encoding"), "software").text = "companion"
    part_list = SubElement(root, "part-list")
    SubElement(SubElement(part_list, "score-part", id="P1"), "part-name", {"print-object": "no"}).text = "Piano"
    part = SubElement(root, "part", id="P1")
    divisions = _divisions(sheet)
    before: Bar | None = None
    for bar in sheet.bars:
        _measure(part, sheet, bar, before, divisions)
        before = bar
    for harmony in () if degrees else root.iter("harmony"):
        for degree in harmony.findall("degree"):
            harmony.remove(degree)
    indent(root, " ")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{DOCTYPE}\n{tostring(root, encoding="unicode")}\n'


def compressed(text: str, name: str = "score.musicxml") -> bytes:
    """The text of a MusicXML file as a compressed one (.mxl). The same text gives the same bytes."""
    name = PurePath(name).name
    container = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles>'
        f'<rootfile full-path="{name}" media-type="application/vnd.recordare.musicxml+xml"/></rootfiles></container>\n'
    )
    files = {
        "mimetype": "application/vnd.recordare.musicxml",
        "META-INF/container.xml": container,
        name: text,
    }
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for place, content in files.items():
            entry = zipfile.ZipInfo(place, (1980, 1, 1, 0, 0, 0))
            kind = zipfile.ZIP_STORED if place == "mimetype" else zipfile.ZIP_DEFLATED
            archive.writestr(entry, content, kind)
    return buffer.getvalue()


def _divisions(sheet: Sheet) -> int:
    """Parts of a quarter that every length and place is a whole number of."""
    beats = [bar.length for bar in sheet.bars]
    beats += [beat for bar in sheet.bars for beat, _ in (*bar.chords, *bar.pedals)]
    heads = [head for bar in sheet.bars for voice in bar.voices for head in voice.heads]
    beats += [beat for head in heads for beat in (head.start, head.length)]
    return lcm(2, *(beat.denominator for beat in beats))


# bars


def _measure(part: Element, sheet: Sheet, bar: Bar, before: Bar | None, divisions: int) -> None:
    measure = SubElement(part, "measure", number=str(bar.number))
    if not bar.number:
        measure.set("implicit", "yes")
    if bar.new_line or bar.new_page:
        SubElement(measure, "print", {"new-page" if bar.new_page else "new-system": "yes"})
    _attributes(measure, sheet, bar, before, divisions)
    if before is None:
        SubElement(measure, "sound", tempo=_number(sheet.tempo))
    if bar.heading:
        _heading(measure, bar.heading, sheet)
    if before is None:
        _manner(measure, sheet)
    printed: dict[int, dict[Place, str]] = {
        staff: accidentals([voice for voice in bar.voices if voice.staff == staff], sheet.fifths)
        for staff in sheet.staves
    }
    for number, voice in enumerate(bar.voices):
        if number:
            SubElement(SubElement(measure, "backup"), "duration").text = str(int(bar.length * divisions))
        shared = sum(other.staff == voice.staff and not other.hidden for other in bar.voices) > 1
        stem = ("up" if voice.number == 1 else "down") if shared else None
        chords = bar.chords if not number else ()
        pedals = bar.pedals if voice.staff == 2 else ()
        _voice(measure, sheet, chords, pedals, voice, printed[voice.staff], stem, divisions)
    last = bar is sheet.bars[-1]
    if last or bar.double:
        line = SubElement(measure, "barline", location="right")
        SubElement(line, "bar-style").text = "light-heavy" if last else "light-light"


def _attributes(measure: Element, sheet: Sheet, bar: Bar, before: Bar | None, divisions: int) -> None:
    if before is not None and before.metre == bar.metre:
        return
    attributes = SubElement(measure, "attributes")
    if before is None:
        SubElement(attributes, "divisions").text = str(divisions)
        key = SubElement(attributes, "key")
        SubElement(key, "fifths").text = str(sheet.fifths)
        SubElement(key, "mode").text = "minor" if sheet.minor else "major"
    time = SubElement(attributes, "time")
    SubElement(time, "beats").text = str(bar.metre.beats)
    SubElement(time, "beat-type").text = str(bar.metre.beat_type)
    if before is None:
        if len(sheet.staves) > 1:
            SubElement(attributes, "staves").text = str(len(sheet.staves))
        for number, staff in enumerate(sheet.staves, 1):
            clef = SubElement(attributes, "clef", {"number": str(number)} if len(sheet.staves) > 1 else {})
            for tag, text in zip(("sign", "line"), CLEFS[staff], strict=True):
                SubElement(clef, tag).text = text


def _heading(measure: Element, text: str, sheet: Sheet) -> None:
    direction = SubElement(measure, "direction", placement="above")
    SubElement(SubElement(direction, "direction-type"), "rehearsal", {"font-weight": "bold"}).text = text
    _on_first_staff(direction, sheet)


def _manner(measure: Element, sheet: Sheet) -> None:
    """The feel in words and the tempo, as one direction."""
    direction = SubElement(measure, "direction", placement="above")
    words = SubElement(
        SubElement(direction, "direction-type"), "words", {"font-weight": "bold", "font-style": "normal"}
    )
    words.text = FEELS.get(sheet.feel, sheet.feel.capitalize()) + "\u2003"  # keeps the tempo off the word
    mark = SubElement(SubElement(direction, "direction-type"), "metronome", parentheses="no")
    SubElement(mark, "beat-unit").text = "quarter"
    if sheet.metre.compound:
        SubElement(mark, "beat-unit-dot")
    SubElement(mark, "per-minute").text = str(round(sheet.tempo / float(sheet.metre.pulse)))
    _on_first_staff(direction, sheet)


def _on_first_staff(direction: Element, sheet: Sheet) -> None:
    if len(sheet.staves) > 1:
        SubElement(direction, "staff").text = "1"


def _number(value: float) -> str:
    return f"{value:.10f}".rstrip("0").rstrip(".")


# voices


def _voice(
    measure: Element,
    sheet: Sheet,
    chords: tuple[tuple[Fraction, Chord], ...],
    pedals: tuple[tuple[Fraction, str], ...],
    voice: Voice,
    printed: dict[Place, str],
    stem: str | None,
    divisions: int,
) -> None:
    """One voice, with the chord symbols and pedal signs that it carries."""
    staff = str(sheet.staves.index(voice.staff) + 1) if len(sheet.staves) > 1 else None
    for number, head in enumerate(voice.heads):
        for beat, chord in chords:
            if head.start <= beat < head.end:
                _harmony(measure, chord, (beat - head.start) * divisions, staff)
        for beat, kind in pedals:
            if head.start <= beat < head.end:
                _pedal(measure, kind, (beat - head.start) * divisions, staff)
        for p in range(max(1, len(head.pitches))):
            sign = printed.get((voice.number, number, p))
            _note(measure, voice, number, p, sign, stem, staff, divisions)
    for beat, kind in pedals:
        if beat == voice.heads[-1].end:
            _pedal(measure, kind, Fraction(0), staff)


def _pedal(measure: Element, kind: str, offset: Fraction, staff: str | None) -> None:
    direction = SubElement(measure, "direction", placement="below")
    SubElement(SubElement(direction, "direction-type"), "pedal", type=kind, line="no", sign="yes")
    if offset:
        SubElement(direction, "offset").text = str(int(offset))
    if staff:
        SubElement(direction, "staff").text = staff


def _note(
    measure: Element,
    voice: Voice,
    number: int,
    p: int,
    sign: str | None,
    stem: str | None,
    staff: str | None,
    divisions: int,
) -> None:
    """One note of a head, or its rest; the order of elements is the standard's."""
    head = voice.heads[number]
    note = SubElement(measure, "note", {"print-object": "no"} if voice.hidden else {})
    if p:
        SubElement(note, "chord")
    if head.pitches:
        pitch = SubElement(note, "pitch")
        SubElement(pitch, "step").text = head.pitches[p].step
        if head.pitches[p].alter:
            SubElement(pitch, "alter").text = str(head.pitches[p].alter)
        SubElement(pitch, "octave").text = str(head.pitches[p].octave)
    else:
        SubElement(note, "rest", {"measure": "yes"} if head.whole_bar else {})
    SubElement(note, "duration").text = str(int(head.length * divisions))
    ties = [kind for kind, tied in (("stop", head.tied_back), ("start", head.tied_on)) if tied]
    for kind in ties:
        SubElement(note, "tie", type=kind)
    SubElement(note, "voice").text = str(voice.number)
    if not head.whole_bar:
        SubElement(note, "type").text = head.value
    for _ in range(head.dots):
        SubElement(note, "dot")
    if sign:
        SubElement(note, "accidental").text = sign
    if head.tuplet:
        modification = SubElement(note, "time-modification")
        SubElement(modification, "actual-notes").text = str(head.tuplet.actual)
        SubElement(modification, "normal-notes").text = str(head.tuplet.normal)
    if stem and head.pitches and head.value != "whole":
        SubElement(note, "stem").text = stem
    if staff:
        SubElement(note, "staff").text = staff
    for level, beam in enumerate(head.beams, 1):
        if not p:
            SubElement(note, "beam", number=str(level)).text = beam
    _notations(note, voice, number, p, ties)


def _notations(note: Element, voice: Voice, number: int, p: int, ties: list[str]) -> None:
    head = voice.heads[number]
    brackets = [] if p else _brackets(voice.heads, number)
    if not ties and not brackets:
        return
    notations = SubElement(note, "notations")
    for kind in ties:
        SubElement(notations, "tied", type=kind)
    for kind in brackets:
        tuplet = SubElement(notations, "tuplet", type=kind, number="1")
        if kind == "start":
            together = [other for other in voice.heads if other.tuplet == head.tuplet]
            tuplet.set("bracket", "no" if all(other.beams for other in together) else "yes")


def _brackets(heads: tuple[Head, ...], number: int) -> list[str]:
    tuplet = heads[number].tuplet
    if tuplet is None:
        return []
    first = number == 0 or heads[number - 1].tuplet != tuplet
    last = number + 1 == len(heads) or heads[number + 1].tuplet != tuplet
    return ["start"] * first + ["stop"] * last


# chord symbols


def _harmony(measure: Element, chord: Chord, offset: Fraction, staff: str | None) -> None:
    harmony = SubElement(measure, "harmony")
    if chord.root is None:
        root = SubElement(harmony, "root")
        SubElement(root, "root-step", text="").text = "C"
        SubElement(harmony, "kind", text="N.C.").text = "none"
    else:
        _name(harmony, "root", chord.root)
        SubElement(harmony, "kind", text=quality(chord)).text = chord.kind
        if chord.bass:
            _name(harmony, "bass", chord.bass)
        for change in chord.changes:
            degree = SubElement(harmony, "degree", {"print-object": "no"})
            SubElement(degree, "degree-value").text = str(change.number)
            SubElement(degree, "degree-alter").text = str(change.alter)
            SubElement(degree, "degree-type").text = change.how
    if offset:
        SubElement(harmony, "offset").text = str(int(offset))
    if staff:
        SubElement(harmony, "staff").text = staff


def quality(chord: Chord) -> str:
    """What is printed after the root, with real flats and sharps."""
    text = write_quality(chord.kind, chord.changes)
    return "".join(
        sign.translate(_SIGNS) if text[k + 1 : k + 2].isdigit() or text[k + 1 : k + 2] in ("b", "#") else sign
        for k, sign in enumerate(text)
    )


def _name(harmony: Element, what: str, name: Name) -> None:
    element = SubElement(harmony, what)
    SubElement(element, f"{what}-step").text = name.step
    if name.alter:
        SubElement(element, f"{what}-alter").text = str(name.alter)
