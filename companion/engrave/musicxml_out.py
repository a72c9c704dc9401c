"""A sheet as MusicXML 4.0.

Conventions: one part, its staves numbered from the top; voices as :mod:`companion.engrave.voices` numbers them. A bar's
number is that of the first time it is played, so that it is the same one that reviews and explanations name. Reading a
lead sheet back gives the same chart. Source: MusicXML 4.0 (W3C Music Notation Community Group, 2021).
"""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from math import lcm
from pathlib import PurePath
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from companion.engrave.accidentals import StaffPosition, accidentals, altered
from companion.engrave.musicxml_notes import write_voice
from companion.engrave.musicxml_signs import signs_at_the_end, signs_at_the_start, what_next_under, write_manner
from companion.engrave.sheet import Bar, Sheet, Voice
from companion.engrave.values import VoiceSpan, write_bar
from companion.music.pitch import Pitch

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
CLEFS = {1: ("G", "2"), 2: ("F", "4")}


def musicxml(sheet: Sheet, *, for_engraver: bool = False) -> str:
    """The sheet as the text of an uncompressed MusicXML file.

    The engraver's own differs from everybody else's: its chord symbols are root, text and bass alone, since it would
    print the degrees beside the text which names them already; tempo and feel stand in the header of the page, and the
    numbers of bars beside its lines.
    """
    root = Element("score-partwise", version="4.0")
    SubElement(SubElement(root, "work"), "work-title").text = sheet.title
    identification = SubElement(root, "identification")
    if sheet.composer:
        SubElement(identification, "creator", type="composer").text = sheet.composer
    SubElement(SubElement(identification, "encoding"), "software").text = "companion"
    told = [("form", " ".join(sheet.form)), ("order", sheet.order)]
    if any(text for _, text in told):
        miscellaneous = SubElement(identification, "miscellaneous")
        for name, text in told:
            if text:
                SubElement(miscellaneous, "miscellaneous-field", name=name).text = text
    part_list = SubElement(root, "part-list")
    SubElement(SubElement(part_list, "score-part", id="P1"), "part-name", {"print-object": "no"}).text = "Piano"
    _part(SubElement(root, "part", id="P1"), sheet, for_engraver=for_engraver)
    for harmony in root.iter("harmony") if for_engraver else ():
        _as_engraved(harmony)
    indent(root, " ")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{DOCTYPE}\n{tostring(root, encoding="unicode")}\n'


def _as_engraved(harmony: Element) -> None:
    """A chord symbol with its text alone, and a space after it that keeps the next one off."""
    for degree in harmony.findall("degree"):
        harmony.remove(degree)
    kind = harmony.find("kind")
    if kind is not None and harmony.find("bass") is None:
        kind.set("text", kind.get("text", "") + "\u00a0")


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
    beats += [beat for bar in sheet.bars for beat, _ in (*bar.chords, *bar.pedals, *bar.octaves, *bar.high)]
    heads = [head for bar in sheet.bars for voice in bar.voices for head in voice.heads]
    beats += [beat for head in heads for beat in (head.start, head.length)]
    return lcm(2, *(beat.denominator for beat in beats))


def _part(part: Element, sheet: Sheet, *, for_engraver: bool) -> None:
    if for_engraver:
        sheet = _with_slashes(sheet) if sheet.slashes else sheet
        sheet = _with_ties_cut_at_repeats(_with_the_letter_at_the_edge(sheet))
    divisions = _divisions(sheet)
    before: Bar | None = None
    ending: tuple[int, ...] = ()
    ended: dict[int, dict[StaffPosition, int]] = {}
    for number, bar in enumerate(sheet.bars):
        ending = bar.marks.ending or ending
        measure = SubElement(part, "measure", number=str(bar.number) if bar.number >= 0 else f"X{-bar.number}")
        if bar.number <= 0 or for_engraver:  # whose numbers are left out beside a section's letter
            measure.set("implicit", "yes")
        if bar.new_line or bar.new_page:
            SubElement(measure, "print", {"new-page" if bar.new_page else "new-system": "yes"})
        _attributes(measure, sheet, bar, before, divisions)
        _left_line(measure, bar)
        if before is None and not for_engraver:
            write_manner(measure, sheet)
        signs_at_the_start(measure, sheet, bar, for_engraver=for_engraver)
        if for_engraver:
            what_next_under(measure, sheet, bar, sheet.bars[number + 1] if number + 1 < len(sheet.bars) else None)
        signs = {}
        for staff in sheet.staves:
            here = [voice for voice in bar.voices if voice.staff == staff]
            signs[staff] = accidentals(here, sheet.fifths, ended.get(staff))
            ended[staff] = altered(here, sheet.fifths)
        for which, voice in enumerate(bar.voices):
            if which:
                SubElement(SubElement(measure, "backup"), "duration").text = str(int(bar.length * divisions))
            write_voice(measure, bar, which, sheet.staves, divisions, signs[voice.staff], named=for_engraver)
        signs_at_the_end(measure, sheet, bar, divisions, for_engraver=for_engraver)
        _right_line(measure, bar, ending, last=bar is sheet.bars[-1])
        before = bar


def _with_slashes(sheet: Sheet) -> Sheet:
    """The sheet with a slash on the middle line for each beat, which an engraver takes for a note."""
    middle = (Pitch("B", -1 if sheet.fifths < 0 else 0, 4),)
    bars = []
    for bar in sheet.bars:
        pulse, ends = bar.metre.pulse, bar.length
        beats = [VoiceSpan(k * pulse, min((k + 1) * pulse, ends), middle) for k in range(-int(-ends // pulse))]
        heads = tuple(replace(head, slash=True, beams=()) for head in write_bar(beats, bar.length, bar.metre))
        bars.append(replace(bar, voices=(Voice(1, 1, heads),)))
    return replace(sheet, bars=tuple(bars))


def _with_the_letter_at_the_edge(sheet: Sheet) -> Sheet:
    """The sheet with the first section's letter over the pickup, where it doesn't stand in a chord symbol's way."""
    bars = list(sheet.bars)
    if len(bars) > 1 and not bars[0].heading and bars[1].heading:
        bars[:2] = replace(bars[0], heading=bars[1].heading), replace(bars[1], heading=None)
    return replace(sheet, bars=tuple(bars))


def _with_ties_cut_at_repeats(sheet: Sheet) -> Sheet:
    """The sheet with ties that lead over a repeat written as ties to nowhere; an engraver looks for their other end."""
    bars = list(sheet.bars)
    for k, bar in enumerate(bars):
        following = bars[k + 1].voices if k + 1 < len(bars) else ()
        goes_on = {(v.staff, v.number) for v in following if v.heads[0].tied_back}
        voices = tuple(
            replace(voice, heads=(*voice.heads[:-1], replace(voice.heads[-1], tied_on=False, tied_away=True)))
            if voice.heads[-1].tied_on and (voice.staff, voice.number) not in goes_on
            else voice
            for voice in bar.voices
        )
        bars[k] = replace(bar, voices=voices)
    return replace(sheet, bars=tuple(bars))


def _left_line(measure: Element, bar: Bar) -> None:
    marks = bar.marks
    if not marks.repeat_start and not marks.ending:
        return
    line = SubElement(measure, "barline", location="left")
    if marks.repeat_start:
        SubElement(line, "bar-style").text = "heavy-light"
    if marks.ending:
        times = _times(marks.ending)
        SubElement(line, "ending", number=times, type="start").text = f"{times}."
    if marks.repeat_start:
        SubElement(line, "repeat", direction="forward")


def _right_line(measure: Element, bar: Bar, ending: tuple[int, ...], *, last: bool) -> None:
    marks = bar.marks
    if not (last or bar.double or marks.repeat_end or marks.ending_stops):
        return
    line = SubElement(measure, "barline", location="right")
    if last or bar.double or marks.repeat_end:
        SubElement(line, "bar-style").text = "light-heavy" if last or marks.repeat_end else "light-light"
    if marks.ending_stops:
        SubElement(line, "ending", number=_times(ending), type="stop" if marks.repeat_end else "discontinue")
    if marks.repeat_end:
        repeat = SubElement(line, "repeat", direction="backward")
        if marks.repeat_end > 2:
            repeat.set("times", str(marks.repeat_end))
        if marks.repeat_after_jump:
            repeat.set("after-jump", "yes")


def _times(ending: tuple[int, ...]) -> str:
    return ", ".join(map(str, ending))


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
        if sheet.slashes:
            SubElement(SubElement(attributes, "measure-style"), "slash", {"type": "start", "use-stems": "no"})
