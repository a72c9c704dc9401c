"""What stands over and under the bars as MusicXML 4.0: section letters, signs of leaps, words, feel and tempo.

Conventions: signs stand at the first staff, words about what comes next under the last. Each sign also says by
``sound`` what it means. Source: MusicXML 4.0 (W3C Music Notation Community Group, 2021).
"""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree.ElementTree import Element, SubElement

from companion.engrave.sheet import Bar, Sheet
from companion.engrave.tempo_marking import WORDS, TempoMarking, tempo_marking

SEGNO, CODA = "segno1", "coda1"
"""Names by which leaps and signs find each other."""
REMARK_SIZE = "8"
"""Points: smaller than what belongs to the music."""
SMALL = "\u2060"
"""Stands before a remark for the engraver, which doesn't read sizes: a joiner of words, which prints nothing."""
LETTERS_OF_A_REMARK = 32
"""In one line of it."""
LETTERS_A_BAR = 22
"""Of words under a bar that stay within it."""
LETTERS_A_LINE = 48
"""Of words that begin a bar earlier."""


def write_manner(measure: Element, sheet: Sheet) -> None:
    """The tempo and feel of a sheet, for programs that play it and for people who read it."""
    how = tempo_marking(sheet)
    sound = SubElement(measure, "sound", tempo=_number(sheet.tempo))
    if how.swung:
        swing = SubElement(sound, "swing")
        for tag, value in zip(("first", "second"), how.swung, strict=True):
            SubElement(swing, tag).text = str(value)
        SubElement(swing, "swing-type").text = "eighth"
    direction = SubElement(measure, "direction", placement="above")
    # A swing tune whose quavers come out even says what it is all the same, so that its feel is read back.
    words = WORDS["swing"] if sheet.feel == "swing" and not how.swung else how.words
    if words:
        bold = {"font-weight": "bold", "font-style": "normal"}
        SubElement(SubElement(direction, "direction-type"), "words", bold).text = f"{words}\u2003"
    mark = SubElement(SubElement(direction, "direction-type"), "metronome", parentheses="no")
    SubElement(mark, "beat-unit").text = how.beat
    if how.dotted:
        SubElement(mark, "beat-unit-dot")
    SubElement(mark, "per-minute").text = str(how.per_minute)
    _on_staff(direction, sheet, 1)
    if how.swung:
        _equation(measure, sheet, how)


def _equation(measure: Element, sheet: Sheet, how: TempoMarking) -> None:
    """Two quavers are played as a crotchet and a quaver of a triplet."""
    direction = SubElement(measure, "direction", placement="above")
    mark = SubElement(SubElement(direction, "direction-type"), "metronome", parentheses="yes")
    for beam in ("begin", "end"):
        note = SubElement(mark, "metronome-note")
        SubElement(note, "metronome-type").text = "eighth"
        SubElement(note, "metronome-beam", number="1").text = beam
    SubElement(mark, "metronome-relation").text = "equals"
    for value, edge in (("quarter", "start"), ("eighth", "stop")):
        note = SubElement(mark, "metronome-note")
        SubElement(note, "metronome-type").text = value
        tuplet = SubElement(note, "metronome-tuplet", {"type": edge, "bracket": "yes", "show-number": "actual"})
        SubElement(tuplet, "actual-notes").text = "3"
        SubElement(tuplet, "normal-notes").text = "2"
        SubElement(tuplet, "normal-type").text = "eighth"
    _on_staff(direction, sheet, 1)


def signs_at_the_start(measure: Element, sheet: Sheet, bar: Bar, *, for_engraver: bool) -> None:
    """The section's letter, the signs to which one leaps, and what is remarked of the bar."""
    if bar.heading:
        direction = SubElement(measure, "direction", placement="above")
        rehearsal = SubElement(SubElement(direction, "direction-type"), "rehearsal", {"font-weight": "bold"})
        rehearsal.text = bar.heading
        _on_staff(direction, sheet, 1)
    for here, sign, name in ((bar.marks.segno, "segno", SEGNO), (bar.marks.coda, "coda", CODA)):
        if here:
            direction = SubElement(measure, "direction", placement="above")
            SubElement(SubElement(direction, "direction-type"), sign)
            _on_staff(direction, sheet, 1)
            SubElement(direction, "sound", {sign: name})
    for line in _remark_lines(bar.remark) if for_engraver else [bar.remark] * bool(bar.remark):
        direction = SubElement(measure, "direction", placement="above")
        how = {"font-size": REMARK_SIZE, "font-style": "italic", "font-weight": "normal"}
        SubElement(SubElement(direction, "direction-type"), "words", how).text = SMALL * for_engraver + line
        _on_staff(direction, sheet, 1)
    if bar.manner:
        direction = SubElement(measure, "direction", placement="below")
        how = {"font-style": "italic", "font-weight": "normal"}
        SubElement(SubElement(direction, "direction-type"), "words", how).text = bar.manner
        _on_staff(direction, sheet, 1)


def _remark_lines(remark: str) -> list[str]:
    """A remark in lines that stay over their bar, the last first: the engraver sets each above the one before."""
    steps = remark.split("; ") if remark else []
    return _packed([*(f"{step};" for step in steps[:-1]), *steps[-1:]], LETTERS_OF_A_REMARK)[::-1]


def signs_at_the_end(measure: Element, sheet: Sheet, bar: Bar, divisions: int, *, for_engraver: bool) -> None:
    """Where one leaves for the coda or leaps back, and how often a stretch is played.

    The engraver keeps clear only of words that begin where they stand: for it, those at the end begin in mid-bar.
    """
    marks = bar.marks
    back = int(bar.length / 2 * divisions) if for_engraver else 0
    if marks.repeat_end > 2 and not marks.ending_stops:
        _words(measure, sheet, f"{marks.repeat_end}×", above=True, back=back)
    if marks.to_coda:
        _words(measure, sheet, "To Coda", above=True, back=back, sound={"tocoda": CODA})
    if marks.fine:
        _words(measure, sheet, "Fine", above=True, back=back, sound={"fine": "yes"})
    if not for_engraver:
        sound = {"segno": {"dalsegno": SEGNO}, "capo": {"dacapo": "yes"}}.get(marks.jump)
        steps = _what_next(bar)
        for line in [" ".join(steps)] * bool(steps):
            _words(measure, sheet, line, above=False, sound=sound)


def what_next_under(measure: Element, sheet: Sheet, bar: Bar, following: Bar | None) -> None:
    """For the engraver: what is said under the end of a bar, begun where there is room for it before the margin.

    That is under the bar itself where it is short, or begins a line; otherwise under the bar before.
    """
    if _fits(bar):
        for line in _packed(_what_next(bar), LETTERS_A_BAR):
            _words(measure, sheet, line, above=False)
    if following is not None and not _fits(following):
        for line in _packed(_what_next(following), LETTERS_A_LINE):
            _words(measure, sheet, line, above=False)


def _fits(bar: Bar) -> bool:
    """Whether what is said under a bar has no room but under itself, or enough there."""
    steps = _what_next(bar)
    return bar.new_line or bar.new_page or sum(map(len, steps)) + len(steps) - 1 <= LETTERS_A_BAR


def _what_next(bar: Bar) -> list[str]:
    """What is said under the end of a bar: what is played next, and where one leaps back to, step by step."""
    marks = bar.marks
    steps = bar.words.split("; ") if bar.words else []
    leap = {"segno": "D.S.", "capo": "D.C."}.get(marks.jump, "")
    leap += f" al {marks.until.capitalize()}" if leap and marks.until else ""
    if leap:
        steps.append(f"then {leap}" if steps else leap)
        if bar.with_repeats:
            steps[-1:] = [steps[-1], "with repeats"]
    return [f"{step};" for step in steps[:-1]] + steps[-1:]


def _packed(steps: Iterable[str], letters: int) -> list[str]:
    """Steps in as many lines as they need, each of so many letters."""
    lines: list[str] = []
    for step in steps:
        if lines and len(lines[-1]) + 1 + len(step) <= letters:
            lines[-1] += f" {step}"
        else:
            lines.append(step)
    return lines


def _words(
    measure: Element, sheet: Sheet, text: str, *, above: bool, back: int = 0, sound: dict[str, str] | None = None
) -> None:
    direction = SubElement(measure, "direction", placement="above" if above else "below")
    how = {"font-weight": "bold", "font-style": "normal"}
    SubElement(SubElement(direction, "direction-type"), "words", how).text = text
    if back:
        SubElement(direction, "offset").text = str(-back)
    _on_staff(direction, sheet, 1 if above else len(sheet.staves))
    if sound:
        SubElement(direction, "sound", sound)


def _on_staff(direction: Element, sheet: Sheet, staff: int) -> None:
    if len(sheet.staves) > 1:
        SubElement(direction, "staff").text = str(staff)


def _number(value: float) -> str:
    return f"{value:.10f}".rstrip("0").rstrip(".")
