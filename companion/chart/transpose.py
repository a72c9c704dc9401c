"""A chart in another key: chords, melody and written arrangement, spelled as a copyist would.

Conventions: a move is so many places on the line of fifths (+1 a fifth up) and so many semitones; both name the same
interval. What is chromatic stays as chromatic as it was: every name moves by the same interval, and only what would
need a double sharp or flat is called by its other name, but for the leading note of a minor key; and chords by the name
that players read more easily (common practice). So there and back again is the same unless a name had to change.

Everything moves to the nearest octave, by a tritone at most, so that the melody stays where it can be sung, and the
other hand beside it. Written parts move with it; :mod:`companion.arrange.transposition` keeps them in reach.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.chart.model import Chart, Form, Section, WrittenNote, WrittenPart
from companion.errors import UseError
from companion.music.chords import Chord
from companion.music.pitch import Name, Pitch, name_at_fifth, parse_name

_KEY = re.compile(r"([A-Ga-g][#♯b♭]?)\s*(major|maj|minor|min|m|)", re.IGNORECASE)
_MOST_SIGNS = 7
_TO_MINOR = 3
"""A minor key has the signature of the major key so many fifths below its tonic's."""
_LEADING = 5
"""The leading note lies so many fifths above the tonic."""
_SAME_SOUND = 12
_QUAVER = Fraction(1, 2)


def transposed(chart: Chart, key: str | int) -> Chart:
    """A chart in another key of its own mode.

    Parameters
    ----------
    chart : Chart
    key : str or int
        The new tonic ('Eb'; the mode may be said, 'F minor'), or the new key's signature in fifths.

    Raises
    ------
    UseError
        When the text names no key, or one of the other mode.

    Examples
    --------
    >>> from companion.chart.toml.read import parse_toml
    >>> tune = parse_toml('format = 1\\n[section.A]\\nchords = "| Dm7 Db7/F | Cmaj7 |"')
    >>> [span.chord.symbol for span in transposed(tune, "Eb").sections[0].chords]
    ['Fm7', 'E7/G#', 'Ebmaj7']
    """
    fifths = key if isinstance(key, int) else signature(key, chart.minor)
    move = _Interval(fifths - chart.fifths, _nearest(fifths - chart.fifths), fifths, _leading(fifths, chart.minor))
    if not move.fifths:
        return chart
    sections = tuple(_section(section, move) for section in chart.sections)
    written = _written(chart.unfold(), move) if chart.written else ()
    return replace(chart, sections=sections, fifths=fifths, written=written)


def signature(text: str, minor: bool) -> int:
    """The key signature, in fifths, of the key that is named, in a chart's own mode.

    A key with more than seven signs is called by its other name (G sharp major is A flat major). Raises UseError.

    >>> signature("Eb", minor=False), signature("f minor", minor=True), signature("Db", minor=True)
    (-3, -4, 4)
    """
    match = _KEY.fullmatch(text.strip())
    if match is None:
        raise UseError(f"{text!r} is not a key", mend="name its tonic, as in --key Eb or --key 'F# minor'")
    said = match[2].lower() if match[2] not in ("m", "M") else {"m": "minor", "M": "major"}[match[2]]
    if said and said.startswith("min") != minor:
        mode, other = ("minor", "major") if minor else ("major", "minor")
        tonic = match[1][0].upper() + match[1][1:]
        raise UseError(f"the tune is in {mode}, so it can't be in {other}", mend=f"say --key {tonic}")
    fifths = parse_name(match[1][0].upper() + match[1][1:].lower()).fifth - (_TO_MINOR if minor else 0)
    return _within_signs(fifths)


def _within_signs(fifths: int) -> int:
    while abs(fifths) > _MOST_SIGNS:
        fifths -= _SAME_SOUND if fifths > 0 else -_SAME_SOUND
    return fifths


@dataclass(frozen=True)
class _Interval:
    """By how much everything moves."""

    fifths: int
    semitones: int
    signature: int
    """Of the new key, in fifths."""
    leading: Name | None
    """The leading note of a minor key, which may have a double sharp."""

    def name(self, name: Name) -> Name:
        """A name moved, without double sharps and flats."""
        moved = name_at_fifth(name.fifth + self.fifths)
        if abs(moved.alter) < 2 or moved == self.leading:
            return moved
        return name_at_fifth(moved.fifth + (_SAME_SOUND if moved.alter < 0 else -_SAME_SOUND))

    def pitch(self, pitch: Pitch, turned: int = 0, *, sung: bool = False) -> Pitch:
        """A pitch moved; where its chord has another name, ``turned`` places on the line of fifths, so has the pitch.

        What is ``sung`` keeps its name where the key has it.
        """
        name = self.name(pitch.name)
        if turned and not (sung and self.has(name)):
            other = name_at_fifth(pitch.name.fifth + self.fifths + turned)
            name = other if abs(other.alter) < 2 else name
        return name.at(pitch.midi + self.semitones)

    def has(self, name: Name) -> bool:
        """Whether the new key has a name."""
        return self.signature - 1 <= name.fifth <= self.signature + 5

    def turned(self, chord: Chord) -> int:
        """By how much a chord's root has another name than its interval asks for, in fifths."""
        return self.root(chord).fifth - chord.root.fifth - self.fifths if chord.root is not None else 0

    def root(self, chord: Chord) -> Name:
        """The root of a chord moved; by its other name where players would stumble over its tones.

        Common practice: B7 rather than C flat 7 with its B double flat, F sharp minor rather than G flat minor (but for
        the fourth degree's minor chord in D flat), and F flat, C flat, E sharp or B sharp only where the key has them.
        """
        assert chord.root is not None
        root = self.name(chord.root)
        thirds_and_sevenths = (degree for degree in chord.tones if degree.number in (3, 7) and degree.alter > -2)
        heavy = any(root.above(d.number, d.semitones).alter < -1 for d in thirds_and_sevenths)
        odd = str(root) in ("Fb", "Cb", "E#", "B#")
        if not (heavy or odd) or (self.has(root) and not (heavy and self.leading)):
            return root
        return name_at_fifth(root.fifth + (_SAME_SOUND if root.alter < 0 else -_SAME_SOUND))

    def chord(self, chord: Chord) -> Chord:
        """A chord moved; its bass note stays the interval from the root that it was, if that can be written."""
        if chord.root is None:
            return chord
        root = self.root(chord)
        if chord.bass is None:
            return replace(chord, root=root)
        shift = root.fifth - chord.root.fifth
        bass = name_at_fifth(chord.bass.fifth + shift)
        return replace(chord, root=root, bass=bass if abs(bass.alter) < 2 else self.name(chord.bass))


def _nearest(fifths: int) -> int:
    """Semitones of a move, to the nearest octave: a tritone up where sharps are added, down where they are taken."""
    up = 7 * fifths % 12
    if up == 6:
        return 6 if fifths > 0 else -6
    return up if up < 6 else up - 12


def _leading(fifths: int, minor: bool) -> Name | None:
    return name_at_fifth(fifths + _TO_MINOR + _LEADING) if minor else None


def _section(section: Section, move: _Interval) -> Section:
    def turned(beat: Fraction) -> int:
        return next((move.turned(span.chord) for span in section.chords if span.start <= beat < span.end), 0)

    return replace(
        section,
        chords=tuple(replace(span, chord=move.chord(span.chord)) for span in section.chords),
        melody=tuple(replace(n, pitch=move.pitch(n.pitch, turned(n.beat), sung=True)) for n in section.melody),
    )


def _written(before: Form, move: _Interval) -> tuple[WrittenPart, ...]:
    """The written parts moved; ``before`` is the form in its old key."""
    return tuple(
        replace(part, notes=tuple(_written_note(note, part.part, before, move) for note in part.notes))
        for part in before.written
    )


def _written_note(note: WrittenNote, part: str, before: Form, move: _Interval) -> WrittenNote:
    """One note moved, and named as its chord is; what sounds for more than a quaver is heard with the chord to come."""
    place = note.beat + (_QUAVER if note.length > _QUAVER else 0)
    turned = move.turned(before.chord_at(place).chord)
    return replace(note, pitch=move.pitch(note.pitch, turned, sung=part == "melody"))
