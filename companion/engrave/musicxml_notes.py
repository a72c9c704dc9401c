"""The notes and chord symbols of a voice as MusicXML 4.0.

Conventions: the order of elements is the standard's. Chord symbols carry kind, degrees and bass, and the text that is
printed. Source: MusicXML 4.0 (W3C Music Notation Community Group, 2021).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from companion.engrave.accidentals import HeadIndex
from companion.engrave.sheet import RIGHT, Bar, Voice
from companion.engrave.values import Head
from companion.engrave.voices import BASS, MELODY, OPEN
from companion.music.chords import Chord
from companion.music.pitch import Name
from companion.music.symbols import write_quality

_SIGNS = str.maketrans({"b": "♭", "#": "♯"})
Signs = dict[HeadIndex, str]


def write_voice(
    measure: Element,
    bar: Bar,
    number: int,
    staves: Sequence[int],
    divisions: int,
    signs: Signs,
    *,
    named: bool = False,
) -> None:
    """Append one voice of a bar, with the chord symbols and the signs that it carries.

    Parameters
    ----------
    measure : Element
    bar : Bar
    number : int
        Which of its voices; the first carries the chord symbols, the last the pedal.
    staves : sequence of int
        Those of the sheet.
    divisions : int
        Of a quarter.
    signs : dict of HeadIndex to str
        The accidentals of the voice's staff.
    named : bool
        Whether each head has a name by which it is found on an engraved page.
    """
    voice = bar.voices[number]
    staff = str(staves.index(voice.staff) + 1) if len(staves) > 1 else None
    chords = () if number else bar.chords
    pedal = bar.pedals if number == len(bar.voices) - 1 else ()
    shifts = {BASS: bar.octaves, MELODY: bar.high}.get((voice.staff, voice.number), ())
    above, way = (True, "down") if voice.staff == RIGHT else (False, "up")
    stem = _stem(bar, voice)
    seen = [other for other in bar.voices if other.staff == voice.staff and not other.hidden]
    held = bar.fermata and voice in seen[:1]
    for n, head in enumerate(voice.heads):
        for beat, chord in chords:
            if head.start <= beat < head.end:
                _harmony(measure, chord, (beat - head.start) * divisions, staff)
        for beat, kind in pedal:
            if head.start <= beat < head.end:
                _sign(measure, "pedal", _pedal(kind), beat - head.start, divisions, staff)
        if (head.start, "start") in shifts:
            _sign(measure, "octave-shift", {"type": way, "size": "8"}, Fraction(0), divisions, staff, above=above)
        for p in range(max(1, len(head.pitches))):
            _note(measure, voice, n, p, signs.get((voice.number, n, p)), stem, staff, divisions)
            if named and not p:
                measure[-1].set("id", head_name(bar, number, n))
            if held and n == len(voice.heads) - 1 and not p:
                notations = measure[-1].find("notations")
                SubElement(SubElement(measure[-1], "notations") if notations is None else notations, "fermata")
        if (head.end, "stop") in shifts:
            _sign(measure, "octave-shift", {"type": "stop", "size": "8"}, Fraction(0), divisions, staff, above=above)
    for beat, kind in pedal:
        if beat == voice.heads[-1].end:
            _sign(measure, "pedal", _pedal(kind), Fraction(0), divisions, staff)


def head_name(bar: Bar, voice: int, head: int) -> str:
    """The name of a head, where heads have names; bars with numbers of their own are told apart."""
    return f"bar{bar.number}voice{voice}head{head}"


def _stem(bar: Bar, voice: Voice) -> str | None:
    """Which way all stems of a voice go, or None where it is alone on its staff."""
    seen = {other.number for other in bar.voices if other.staff == voice.staff and not other.hidden}
    if len(seen) < 2:
        return None
    return "up" if voice.number in (MELODY[1], OPEN[1]) else "down"


def _pedal(kind: str) -> dict[str, str]:
    """A bracket as long as the pedal is down, which says so better than signs where it is changed often."""
    return {"type": "stop" if kind == "stop" else "start", "line": "yes", "sign": "yes" if kind == "first" else "no"}


def _sign(
    measure: Element,
    sign: str,
    how: dict[str, str],
    after: Fraction,
    divisions: int,
    staff: str | None,
    *,
    above: bool = False,
) -> None:
    direction = SubElement(measure, "direction", placement="above" if above else "below")
    SubElement(SubElement(direction, "direction-type"), sign, how)
    if after:
        SubElement(direction, "offset").text = str(int(after * divisions))
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
    note = SubElement(measure, "note", {"print-object": "no"} if head.hidden else {})
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
    held_over = bool(head.pitches) and head.held_over(head.pitches[p])
    ties = [kind for kind, tied in (("stop", held_over), ("start", head.tied_on)) if tied]
    for kind in ties:
        SubElement(note, "tie", type=kind)
    SubElement(note, "voice").text = str(voice.number)
    if not head.whole_bar:
        SubElement(note, "type", {"size": "cue"} if head.small else {}).text = head.value
    for _ in range(head.dots):
        SubElement(note, "dot")
    if sign:
        SubElement(note, "accidental").text = sign
    if head.tuplet:
        modification = SubElement(note, "time-modification")
        SubElement(modification, "actual-notes").text = str(head.tuplet.actual)
        SubElement(modification, "normal-notes").text = str(head.tuplet.normal)
    if head.slash:
        SubElement(note, "stem").text = "none"
        SubElement(note, "notehead").text = "slash"
    elif stem and head.pitches and head.value != "whole":
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
    if not ties and not brackets and not head.tied_away:
        return
    notations = SubElement(note, "notations")
    for kind in ties:
        SubElement(notations, "tied", type=kind)
    if head.tied_away:
        SubElement(notations, "tied", type="let-ring")
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
