"""Kinds of chord against the MusicXML schema's own words, and against music21 reading the same MusicXML.

The schema is W3C's MusicXML 3.1 as partitura carries it; its kind-values and their definitions are those of 4.0 (from
memory: 4.0 changed nothing there). music21 is asked through MusicXML alone: its reading of chord names as text is
another matter (it takes C-7 for C flat 7).
"""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from companion.music.chords import Change, from_musicxml, parse_chord
from companion.music.kinds import KINDS
from companion.music.pitch import Name

C = Name("C")


@cache
def kind_value() -> str:
    """The definition of the type kind-value in the schema."""
    package = importlib.util.find_spec("partitura")
    assert package and package.submodule_search_locations
    schema = Path(package.submodule_search_locations[0], "assets", "musicxml.xsd").read_text(encoding="utf-8")
    found = re.search(r'<xs:simpleType name="kind-value">.*?</xs:simpleType>', schema, re.DOTALL)
    assert found
    return found[0]


def test_there_are_the_kinds_of_the_standard_and_no_others() -> None:
    named = re.findall(r'enumeration value="([^"]+)"', kind_value())
    assert len(named) == 33
    assert sorted(KINDS) == sorted(named)


_INTERVALS = {
    "major third": "3", "minor third": "b3", "perfect fifth": "5", "augmented fifth": "#5", "diminished fifth": "b5",
    "minor seventh": "b7", "major seventh": "7", "diminished seventh": "bb7", "added sixth": "6", "major second": "2",
    "perfect fourth": "4", "major ninth": "9", "perfect 11th": "11", "major 13th": "13",
}  # fmt: skip


def _in_words(definition: str, known: dict[str, set[str]]) -> set[str]:
    """The degrees of a definition such as 'major triad, minor seventh'."""
    tones = {"1"}
    for word in definition.split(", "):
        earlier = {"dominant-seventh": "dominant"}.get(word, word.removesuffix(" triad"))
        tones |= {_INTERVALS[word]} if word in _INTERVALS else known[earlier]
    return tones


def test_the_tones_of_a_kind_are_those_that_the_standard_puts_into_words() -> None:
    known: dict[str, set[str]] = {}
    for kind, definition in re.findall(r"^\s+([a-z\d-]+) \(([^)]+)\)$", kind_value(), re.MULTILINE):
        if kind != "pedal":  # "pedal-point bass": no interval is named
            known[kind] = _in_words(definition, known)
    assert len(known) == 25
    assert {kind: {str(tone) for tone in KINDS[kind]} for kind in known} == known


def in_music21(harmonies: Iterable[tuple[str, list[Change]]]) -> list[set[int]]:
    """Pitch classes of chords on C as music21 reads them from MusicXML."""
    from music21 import converter, harmony  # takes seconds

    bars = []
    for number, (kind, changes) in enumerate(harmonies, start=1):
        altered = "".join(
            f"<degree><degree-value>{change.number}</degree-value><degree-alter>{change.alter}</degree-alter>"
            f"<degree-type>{change.how}</degree-type></degree>"
            for change in changes
        )
        bars.append(
            f'<measure number="{number}"><harmony><root><root-step>C</root-step></root><kind>{kind}</kind>{altered}'
            "</harmony><note><rest/><duration>4</duration></note></measure>"
        )
    score = converter.parseData(
        '<?xml version="1.0"?><score-partwise version="4.0"><part-list><score-part id="P1"><part-name/></score-part>'
        f'</part-list><part id="P1">{"".join(bars)}</part></score-partwise>',
        format="musicxml",
    )
    symbols = score.recurse().getElementsByClass(harmony.ChordSymbol)
    return [{pitch.pitchClass for pitch in symbol.pitches} for symbol in symbols]


def test_music21_reads_every_kind_alike_but_the_neapolitan() -> None:
    kinds = [kind for kind in KINDS if kind != "none"]
    theirs = dict(zip(kinds, in_music21((kind, []) for kind in kinds), strict=True))
    ours = {kind: set(from_musicxml(kind, root=C).pitch_classes) for kind in kinds}
    # The standard gives the functional sixths no notes. music21 builds C Db E Gb on C; a Neapolitan sixth in C major
    # is F Ab Db (common practice).
    assert theirs.pop("Neapolitan") == {0, 1, 4, 6}
    assert ours.pop("Neapolitan") == {5, 8, 1}
    assert ours == theirs


SYMBOLS = [
    "C7b9", "C7#9", "C7#11", "C7b13", "C7b5", "C9#11", "C13b9", "C7(b9,b13)", "C13#11", "Cmaj7#11", "Cmaj7#5", "Cadd9",
    "Cm(add9)", "C6/9", "Cm6/9", "C9#5", "C13(#9,#11)", "C7(no5)", "C(b5)", "Cm9b5", "Cdim7(9)", "Cm7(11)", "C(add4)",
]  # fmt: skip


def test_music21_reads_our_kinds_and_degrees_alike() -> None:
    chords = [parse_chord(symbol) for symbol in SYMBOLS]
    theirs = in_music21((chord.kind, list(chord.changes)) for chord in chords)
    ours = [set(chord.pitch_classes) for chord in chords]
    assert dict(zip(SYMBOLS, ours, strict=True)) == dict(zip(SYMBOLS, theirs, strict=True))


def test_an_added_seventh_is_minor_by_the_standard_where_music21_makes_it_major() -> None:
    # The standard: an added degree counts from "a dominant chord (major and perfect intervals except for a minor
    # seventh)"; so lead sheets say 7sus4 by an added 7 without alteration. music21 counts from the major seventh.
    change = Change("add", 7)
    assert set(from_musicxml("suspended-fourth", "7sus", [change], C).pitch_classes) == {0, 5, 7, 10}
    assert in_music21([("suspended-fourth", [change])]) == [{0, 5, 7, 11}]
