"""MusicXML's ``<harmony>`` as a chord symbol.

Kinds, degrees and bass after MusicXML 4.0 (``harmony``, ``kind-value``, ``degree``). A numeral root (MusicXML 4.0) is
read in the key signature in force.
"""

from __future__ import annotations

from dataclasses import replace
from xml.etree.ElementTree import Element

from companion.errors import ChartError, ChordError
from companion.music.chords import NO_CHORD, Change, Chord, from_musicxml, parse_chord
from companion.music.pitch import Name, name_at_fifth

_MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)
_MINOR_SCALE = (0, 2, 3, 5, 7, 8, 10)


def read_harmony(element: Element, fifths: int = 0, minor: bool = False) -> Chord | None:
    """The chord of a ``<harmony>``, or None when it names none (a bare ``<function>``).

    Raises
    ------
    ChordError
        When its parts are no chord.
    """
    kind_element = element.find("kind")
    kind = (kind_element.text or "").strip() if kind_element is not None else "major"
    text = (kind_element.get("text") or "").strip() if kind_element is not None else ""
    if kind == "none":
        return NO_CHORD
    root = _name(element.find("root"), "root") if element.find("root") is not None else _numeral(element, fifths, minor)
    if root is None:
        return None
    bass_element = element.find("bass")
    bass = _name(bass_element, "bass") if bass_element is not None else None
    degrees = _degrees(element)
    try:
        chord = from_musicxml(kind or "other", text, degrees, root, bass)
    except ChordError:
        chord = _by_text(root, text, kind, bass)
    inversion = (element.findtext("inversion") or "0").strip()
    if bass is None and inversion.isdigit() and 0 < int(inversion[:2]) < len(chord.tones):
        return replace(chord, bass=chord.name_of(chord.tones[int(inversion[:2])]))
    return chord


def _by_text(root: Name, text: str, kind: str, bass: Name | None) -> Chord:
    """A kind that the standard doesn't list, by the text that is printed for it."""
    try:
        chord = parse_chord(f"{root}{text or kind}")
    except ChordError:
        raise ChordError(f"{root} with kind {kind!r} and text {text!r} is not a chord") from None
    return replace(chord, bass=bass or chord.bass)


def _name(element: Element | None, what: str) -> Name | None:
    if element is None:
        return None
    step = (element.findtext(f"{what}-step") or "").strip().upper()
    alter = (element.findtext(f"{what}-alter") or "0").strip()
    try:
        altered = round(float(alter))
    except (ValueError, OverflowError):
        raise ChartError(f"<{what}-alter> should be a number, not {alter!r}") from None
    if step not in tuple("CDEFGAB") or abs(altered) > 2:
        raise ChordError(f"a chord's {what} is {step!r} altered by {alter}")
    return Name(step, altered)


def _numeral(element: Element, fifths: int, minor: bool) -> Name | None:
    numeral = element.find("numeral")
    if numeral is None:
        return None
    number = (numeral.findtext("numeral-root") or "").strip()
    if number not in tuple("1234567"):
        raise ChordError(f"a chord's numeral is {number!r}")
    if (key := numeral.find("numeral-key")) is not None:
        fifths = int(key.findtext("numeral-fifths") or 0)
        minor = "minor" in (key.findtext("numeral-mode") or "")
    tonic = name_at_fifth(fifths + 3 if minor else fifths)
    scale = _MINOR_SCALE if minor else _MAJOR_SCALE
    altered = round(float(numeral.findtext("numeral-alter") or 0))
    return tonic.above(int(number), scale[int(number) - 1] + altered)


def _degrees(element: Element) -> tuple[Change, ...]:
    changes = []
    for degree in element.findall("degree"):
        number = (degree.findtext("degree-value") or "").strip()
        alter = (degree.findtext("degree-alter") or "0").strip()
        how = (degree.findtext("degree-type") or "").strip()
        try:
            change = Change(how, int(number), round(float(alter)))
        except (ValueError, OverflowError):
            raise ChordError(f"a chord's degree is {number!r} altered by {alter!r}") from None
        if not 1 <= change.number <= 13 or abs(change.alter) > 2:
            raise ChordError(f"a chord's degree is {how!r} {number} altered by {alter}")
        changes.append(change)
    return tuple(changes)
