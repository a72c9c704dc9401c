"""What a MusicXML score says beyond a chart: words to sing, dynamics, ornaments, other voices and parts.

Each function reads elements of MusicXML 4.0 and gives remarks; nothing here changes what is played.

Conventions: other voices are written down in ABC note syntax with every accidental, a plain note lasting a quarter.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element

from companion.chart.remarks import Remark

LYRIC_BARS = 4
"""Words to sing are kept together for so many bars, as they stand on a line of the page."""
_SIGNS = {-2: "__", -1: "_", 0: "", 1: "^", 2: "^^"}
_PLAIN = frozenset(("words", "rehearsal", "segno", "coda", "metronome", "dashes", "bracket", "octave-shift"))
"""Kinds of directions that are read elsewhere, or only draw a line."""
_QUIET = frozenset(("tied", "tuplet", "accidental-mark"))
"""Notations that the notes themselves already say."""


def note_remarks(note: Element) -> Iterator[Remark]:
    """What stands at one note, but for its words."""
    if note.find("grace") is not None:
        yield Remark("grace notes", pitch_text(note))
    elif note.find("cue") is not None:
        yield Remark("cue notes", pitch_text(note))
    if note.find("unpitched") is not None:
        yield Remark("a note without a pitch")
    for notations in note.findall("notations"):
        for notation in notations:
            yield from _notation(notation)


def _notation(notation: Element) -> Iterator[Remark]:
    if notation.tag in _QUIET:
        return
    if notation.tag in ("slur", "glissando", "slide"):
        if notation.get("type") != "stop":
            yield Remark(f"a {notation.tag}")
    elif notation.tag in ("articulations", "ornaments", "technical"):
        for mark in notation:
            text = (mark.text or "").strip()
            yield Remark("a decoration", f"{mark.tag} {text}".strip())
    elif notation.tag == "dynamics":
        yield from _dynamics(notation)
    else:
        yield Remark("a decoration", notation.tag)


def _dynamics(element: Element) -> Iterator[Remark]:
    for mark in element:
        yield Remark("dynamics", (mark.text or "").strip() or mark.tag)


def direction_remarks(direction: Element) -> Iterator[Remark]:
    """Dynamics, hairpins, pedal and the like over or under the notes."""
    for kind in direction.findall("direction-type"):
        for sign in kind:
            if sign.tag == "dynamics":
                yield from _dynamics(sign)
            elif sign.tag == "wedge":
                if sign.get("type") in ("crescendo", "diminuendo"):
                    yield Remark("dynamics", sign.get("type", ""))
            elif sign.tag == "pedal":
                yield Remark("pedal", sign.get("type", ""))
            elif sign.tag not in _PLAIN:
                yield Remark("a direction", f"{sign.tag} {(sign.text or '').strip()}".strip())


def barline_remarks(barline: Element) -> Iterator[Remark]:
    """What stands on a bar line and says nothing of the order of playing."""
    for sign in barline:
        if sign.tag in ("fermata", "wavy-line") or (
            sign.tag in ("segno", "coda") and barline.get("location") != "left"
        ):
            yield Remark("on the bar line", sign.tag)


def style_remarks(attributes: Element) -> Iterator[Remark]:
    """Signs that stand for beats instead of notes."""
    for style in attributes.findall("measure-style"):
        for sign in style:
            if sign.tag in ("slash", "beat-repeat") and sign.get("type") != "stop":
                yield Remark("signs instead of notes", sign.tag)


def words_sung(notes: Iterable[Element]) -> dict[str, str]:
    """The words under some notes, a text for each verse."""
    verses: dict[str, str] = {}
    for note in notes:
        for lyric in note.findall("lyric"):
            syllable = "".join(part.text or "" for part in lyric if part.tag in ("text", "elision")).strip()
            if not syllable:
                continue
            goes_on = lyric.findtext("syllabic") in ("begin", "middle")
            verse = lyric.get("number", "1")
            verses[verse] = verses.get(verse, "") + syllable + ("-" if goes_on else " ")
    return {verse: text.strip() for verse, text in verses.items()}


def lyric_remarks(bars: Sequence[Mapping[str, str]]) -> dict[int, list[Remark]]:
    """Words to sing, a few bars of a verse together: by the index of the bar in which they begin."""
    found: dict[int, list[Remark]] = {}
    begin, verses = 0, dict[str, list[str]]()
    for index, sung in enumerate([*bars, {}]):
        if verses and (index - begin >= LYRIC_BARS or index == len(bars)):
            for verse, texts in sorted(verses.items()):
                what = "words to sing" + (f", verse {verse}" if verse != "1" else "")
                found.setdefault(begin, []).append(Remark(what, " ".join(texts).replace("- ", "-")))
            verses = {}
        if sung and not verses:
            begin = index
        for verse, text in sung.items():
            verses.setdefault(verse, []).append(text)
    return found


def line_text(notes: Iterable[tuple[Fraction, Element]]) -> str:
    """The notes of one voice in ABC, each with its length in quarters."""
    words: list[str] = []
    struck: list[str] = []
    for length, note in notes:
        sign = pitch_text(note) or "z"
        number = "" if length == 1 else str(length)
        if note.find("chord") is not None and struck:
            struck.append(sign)
            words[-1] = f"[{''.join(struck)}]{number}"
        else:
            struck = [sign]
            words.append(sign + number)
    return " ".join(words)


def pitch_text(note: Element) -> str:
    """A note's pitch in ABC; '' for a rest."""
    pitch = note.find("pitch")
    step = (pitch.findtext("step") or "").strip().upper() if pitch is not None else ""
    if pitch is None or step not in tuple("ABCDEFG"):
        return ""
    try:
        octave, alter = int(pitch.findtext("octave") or 4), round(float(pitch.findtext("alter") or 0))
    except (ValueError, OverflowError):
        return ""
    letter = step.lower() + "'" * min(octave - 5, 9) if octave > 4 else step + "," * min(4 - octave, 9)
    return _SIGNS.get(alter, "") + letter


def tune_remarks(root: Element, title: str, composer: str | None) -> Iterator[Remark]:
    """What the score's head says beyond title and composer."""
    for creator in root.findall("identification/creator"):
        kind, text = creator.get("type", "composer"), " ".join((creator.text or "").split())
        if text and (kind != "composer" or text != composer):
            yield Remark(kind, text)
    for rights in root.findall("identification/rights"):
        if text := " ".join((rights.text or "").split()):
            yield Remark("rights", text)
    known = {title, composer or ""}
    for path in ("work/work-number", "work/work-title", "movement-number", "movement-title"):
        if (text := " ".join((root.findtext(path) or "").split())) and text not in known:
            yield Remark(path.rpartition("/")[2].replace("-", " "), text)
            known.add(text)
    known |= {" ".join((e.text or "").split()) for e in root.findall("identification/*")}
    for words in root.findall("credit/credit-words"):
        if (text := " ".join((words.text or "").split())) and text not in known:
            yield Remark("words on the page", text)
            known.add(text)
