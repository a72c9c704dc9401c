"""ABC note syntax read from left to right: the notes and rests of a bar, and what is written beside them.

Charts of ours hold a melody in it (:mod:`companion.chart.toml.melody`), tunes in ABC hold everything in it
(:mod:`companion.chart.abc.tune`).

Source: The ABC Music Standard 2.1 (December 2011), sections 4.1 pitch, 4.2 accidentals, 4.3 note lengths, 4.4 broken
rhythm, 4.5 rests, 4.11 ties and slurs, 4.12 grace notes, 4.13 tuplets, 4.14 decorations, 4.17 chords, 4.18 chord
symbols, 4.19 annotations; 11.3 for how far an accidental reaches (all octaves, to the end of the bar, unless a tune
says otherwise).

Conventions: lengths in quarter notes as Fractions; ``unit`` is the length of a note without a number. Of notes struck
together the highest is the melody.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from companion.errors import ChartError
from companion.music.meter import Metre
from companion.music.pitch import Pitch

Aside = Callable[[str, str], None]
"""Called with what is neither note nor rest: its kind, and its text.

Kinds: ``text`` in quotes; ``decoration``, its name or letter; ``grace`` notes; ``slur``, where one begins; ``struck``,
notes struck together; ``fault``, what can't be read and why.
"""

MOST_SIGNS = 4000
"""Characters of a bar; a full one has a hundred."""
MOST_SLASHES = 8
"""Each halves a note: this many make a 256th of it."""
_ACCIDENTALS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}
NOTE_PARTS = re.compile(
    r"(?P<acc>\^\^|\^|__|_|=)?(?P<letter>[A-Ga-g])(?P<octave>[',]*)(?P<length>\d{0,4}/*\d{0,4})(?P<tie>\.?-)?"
)
_TOKENS = re.compile(
    r"""(?P<space>[\s`$]+ | y\d* | \)+)
    | (?P<decoration>[.~H-Wh-w](?=[\s\[({"^_=A-Ga-gzx!.~H-Wh-w]) | ![^\s!|][^!|]{0,80}! | \+[^\s+|]{1,80}\+)
    | (?P<grace>\{[^}|]{0,200}\})
    | (?P<tuplet>\((?P<p>[2-9])(?::(?P<q>\d*))?(?::(?P<r>\d*))?)
    | (?P<slur>\.?\()
    | (?P<text>"[^"]{0,400}")
    | (?P<struck>\[(?P<inner>[^\]|:\d/"][^\]|:"]{0,200})\](?P<struck_length>\d{0,4}/*\d{0,4}))
    | (?P<whole>[ZX](?P<bars>\d{0,3}))
    | (?P<rest>[zx])(?P<rest_length>\d{0,4}/*\d{0,4})
    | (?P<note>(?:\^\^|\^|__|_|=)?[A-Ga-g][',]*\d{0,4}/*\d{0,4})
    | (?P<tie>\.?-)
    | (?P<broken>>{1,3}|<{1,3})""",
    re.VERBOSE,
)
_LETTERS = ".~HLMOPSTuv"
"""Decorations of one letter that the standard gives a meaning (section 4.14)."""
_TUPLETS = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
"""Section 4.13: p notes in the time of q; 5, 7 and 9 go in the time of 2, or of 3 in compound time."""
_ORDER = "FCGDAEB"


@dataclass
class AbcNote:
    """A note head or a rest."""

    pitch: Pitch | None
    length: Fraction
    tied: bool = False


def default_unit(metre: Metre) -> Fraction:
    """Length of a plain note, in quarters: an eighth, or a sixteenth in short metres (ABC 2.1, section 3.1.7)."""
    return Fraction(1, 2) if metre.bar >= 3 else Fraction(1, 4)


def key_alterations(fifths: int) -> dict[str, int]:
    """Letters that a key signature alters, and by how much.

    >>> key_alterations(-2), key_alterations(8)["F"]
    ({'B': -1, 'E': -1}, 2)
    """
    altered = {letter: (fifths + 6 - place) // 7 for place, letter in enumerate(_ORDER)}
    order = _ORDER if fifths > 0 else _ORDER[::-1]
    return {letter: altered[letter] for letter in order if altered[letter]}


class NoteReader:
    """Reads bar after bar; a tie takes its pitch over the bar line.

    Parameters
    ----------
    unit : Fraction
        Length of a plain note in quarters.
    key : mapping
        Letters that the key signature alters.
    compound : bool
        The metre is compound, for tuplets of 5, 7 and 9.
    aside : callable, optional
        Is told of all that is no note, and of what can't be read; reading then goes on. Without it decorations, slurs,
        grace notes are passed over, and what can't be read is an error.
    """

    def __init__(self, unit: Fraction, key: Mapping[str, int], compound: bool, aside: Aside | None = None):
        self.unit = unit
        self.key = dict(key)
        self.compound = compound
        self.aside = aside
        self.octaves = 0
        """By how many octaves everything is raised (section 4.6)."""
        self.reach = "pitch"
        """How far an accidental reaches (section 11.3): 'pitch', 'octave' or 'not'."""
        self.held: Pitch | None = None
        """What the last note is tied to."""
        self.begin_bar()

    def begin_bar(self) -> None:
        """Forget accidentals and whatever was left open."""
        self.events: list[AbcNote] = []
        self.position = Fraction(0)
        """Beat in the bar, in quarters, after what has been read of it."""
        self.whole_bars = 0
        """How many bars a rest of whole bars takes; 0: none stands in this bar."""
        self.altered = dict(self.key)
        self.altered_places: dict[tuple[str, int], int] = {}
        self.tuplet, self.left = Fraction(1), 0
        self.broken = Fraction(0)

    def read(self, text: str, where: str, length: Fraction) -> None:
        """Read a bar, or some of it, to the end of :attr:`events`. Raises ChartError unless there is an ``aside``.

        Parameters
        ----------
        text : str
        where : str
            The place that an error names.
        length : Fraction
            Of a whole bar, in quarters.
        """
        if len(text) > MOST_SIGNS:
            raise ChartError(f"has more than {MOST_SIGNS} signs", where=where, mend="look for a missing bar line")
        at = 0
        while at < len(text):
            token = _TOKENS.match(text, at)
            if token is None or (self.aside is None and not _sung(token)):
                wrong = text[at:].split()[0]
                fault = ChartError(f"{wrong!r} is not ABC note syntax", where=where, mend=_mend(text[at]))
                if self.aside is None:
                    raise fault
                self.aside("fault", text[at])
                at += 1
                continue
            at = token.end()
            try:
                self._take(token, where, length)
            except ChartError as error:
                if self.aside is None:
                    raise
                self.aside("fault", error.what)

    def end_bar(self, where: str) -> None:
        """See to it that nothing is left open. Raises ChartError unless there is an ``aside``."""
        if self.broken:
            self.broken = Fraction(0)
            fault = ChartError("a broken rhythm without a note after it", where=where)
            if self.aside is None:
                raise fault
            self.aside("fault", fault.what)

    def _take(self, token: re.Match[str], where: str, length: Fraction) -> None:
        if token["tuplet"]:
            self.tuplet, self.left = self.tuplet_of(token, where)
        elif token["tie"]:
            if not self.events or self.events[-1].pitch is None:
                raise ChartError("a tie without a note before it", where=where)
            self.events[-1].tied = True
            self.held = self.events[-1].pitch
        elif token["broken"]:
            self.broken = self._break(token["broken"], where)
        elif token["whole"]:
            if self.events:
                raise ChartError(f"{token['whole'][0]} stands for a whole bar and stands alone", where=where)
            self.whole_bars = max(1, int(token["bars"] or 1))
            self._add(AbcNote(None, length))
            self.held = None
        elif self.whole_bars and (token["note"] or token["struck"] or token["rest"]):
            raise ChartError("a rest of whole bars stands alone", where=where, mend="put a bar line after it")
        elif token["note"] or token["struck"] or token["rest"]:
            event = self._event(token, where)
            if self.left:
                event.length *= self.tuplet
                self.left -= 1
            if self.broken:
                event.length *= self.broken
                self.broken = Fraction(0)
            self._add(event)
        elif self.aside is not None:
            for kind in ("decoration", "grace", "slur", "text"):
                if token[kind]:
                    self.aside(kind, token[kind])

    def _add(self, event: AbcNote) -> None:
        self.events.append(event)
        self.position += event.length

    def _event(self, token: re.Match[str], where: str) -> AbcNote:
        if token["rest"]:
            self.held = None
            return AbcNote(None, self.unit * multiple(token["rest_length"], where))
        if token["note"]:
            event = self.note(token["note"], where)
            self.held = None
            return event
        inner = token["inner"]
        struck = [self.note(one[0], where) for one in NOTE_PARTS.finditer(inner)]
        if not struck:
            raise ChartError(f"{token['struck']!r} holds no note", where=where)
        event = max(struck, key=lambda one: one.pitch.midi if one.pitch else 0)
        event.length = struck[0].length * multiple(token["struck_length"], where)
        self.held = event.pitch if event.tied else None
        if self.aside is not None and len(struck) > 1:
            self.aside("struck", token["struck"])
        return event

    def note(self, text: str, where: str) -> AbcNote:
        """A note from its letter and what belongs to it, in the light of what came before. Raises ChartError."""
        parts = NOTE_PARTS.fullmatch(text)
        if parts is None:
            raise ChartError(f"{text!r} is not a note", where=where)
        step = parts["letter"].upper()
        octave = (5 if parts["letter"].islower() else 4) + parts["octave"].count("'") - parts["octave"].count(",")
        pitch = Pitch(step, self._alter(step, octave, parts["acc"]), octave + self.octaves)
        if not 0 <= pitch.midi <= 127:
            raise ChartError(f"{text!r} is beyond every keyboard", where=where)
        return AbcNote(pitch, self.unit * multiple(parts["length"], where), bool(parts["tie"]))

    def _alter(self, step: str, octave: int, accidental: str | None) -> int:
        """Semitones by which a note is altered, by its own accidental, an earlier one's, a tie's or the key's."""
        if accidental:
            alter = _ACCIDENTALS[accidental]
            if self.reach == "pitch":
                self.altered[step] = alter
            elif self.reach == "octave":
                self.altered_places[step, octave] = alter
            return alter
        held = self.held
        if held is not None and (held.step, held.octave) == (step, octave + self.octaves):
            return held.alter
        return self.altered_places.get((step, octave), self.altered.get(step, 0))

    def tuplet_of(self, token: re.Match[str], where: str) -> tuple[Fraction, int]:
        """What a tuplet makes of a length, and for how many notes. ``token`` has the groups tuplet, p, q and r."""
        p = int(token["p"])
        q = int(token["q"] or _TUPLETS.get(p, 3 if self.compound else 2))
        if not 0 < q <= 32:
            raise ChartError(f"{token['tuplet']!r} is not a tuplet", where=where)
        return Fraction(q, p), int(token["r"] or p)

    def _break(self, sign: str, where: str) -> Fraction:
        """Lengthen or shorten the note before; the factor for the note after."""
        if not self.events:
            raise ChartError("a broken rhythm without a note before it", where=where)
        short = Fraction(1, 2 ** len(sign))
        before, after = (2 - short, short) if sign[0] == ">" else (short, 2 - short)
        self.position += (before - 1) * self.events[-1].length
        self.events[-1].length *= before
        return after


def _sung(token: re.Match[str]) -> bool:
    """Whether a token has a place in a melody alone: no text, no letter that only a tune could give a meaning."""
    sign = token["decoration"] or ""
    return not token["text"] and (len(sign) > 1 or sign in _LETTERS)


def multiple(text: str, where: str) -> Fraction:
    """A note's length in units: '' 1, '3' 3, '/' 1/2, '//' 1/4, '3/2' 3/2."""
    numerator, slash, denominator = text.partition("/")
    if not slash:
        value = Fraction(int(numerator or 1))
    else:
        if text.count("/") > MOST_SLASHES:
            raise ChartError(f"more than {MOST_SLASHES} halvings of a length", where=where)
        halvings = 2 ** (1 + len(denominator) - len(denominator.lstrip("/")))
        digits = denominator.lstrip("/")
        if digits and halvings > 2:
            raise ChartError(f"{text!r} is not a length", where=where)
        if digits and int(digits) == 0:
            raise ChartError(f"{text!r} is not a length", where=where)
        value = Fraction(int(numerator or 1), int(digits) if digits else halvings)
    if not 0 < value <= 256:
        raise ChartError(f"{text!r} is not a length", where=where)
    return value


def _mend(sign: str) -> str | None:
    if sign == '"':
        return "chord symbols stand in the section's chords"
    if sign in "HhIiJjKk":
        return "notes are the letters A to G"
    return None
