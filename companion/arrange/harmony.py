"""What a chord offers the arranger where it stands in the form: root, bass, chord and scale tones, where it leads.

Conventions: pitch classes 0-11 with C = 0; beats in quarters from the first downbeat of the form. Where nothing is
written (N.C.) bass and chords rest; what is played there by somebody else is heard against the last chord, before the
first one against the tonic's.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property, lru_cache

from companion.chart.model import ChordSpan, Form
from companion.music.chords import Chord, Degree, parse_chord
from companion.music.pitch import Name, name_at_fifth, name_in_key
from companion.music.scales import keys_over, resolves_to_minor, scales_for

_FLATTEST, _SHARPEST = -6, 10
"""Places on the line of fifths between which a chromatic note is spelled (G flat to A sharp): no F flat, no B sharp."""
_PLAIN = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")


@dataclass(frozen=True)
class Harmony:
    """A chord at its place in the form."""

    start: Fraction
    end: Fraction
    chord: Chord
    """The chord that sounds: under N.C. the one before, or the tonic."""
    written: bool
    """False where the chart says N.C. or nothing."""
    root: int
    bass: int
    tones: dict[int, Degree] = field(compare=False)
    """Pitch class to degree, for the chord's own tones."""
    scale: dict[int, Degree] = field(compare=False)
    """Pitch class to degree, for the scale that fits best, chord tones included."""
    guides: frozenset[int]
    """Third and seventh (sixth; fourth in sus), as pitch classes."""
    avoid: frozenset[int]
    to_minor: bool
    """A dominant that resolves to a minor chord a fifth below."""
    fifths: int
    """The key signature, for spelling what lies outside the chord."""

    @cached_property
    def label(self) -> tuple[int, str, tuple[tuple[int, str, int], ...], Name | None]:
        """What makes it another chord than its neighbour: root, kind and changes, slash bass."""
        changes = tuple((c.how, c.number, c.alter) for c in self.chord.changes)
        return self.root, self.chord.kind, tuple((n, h, a) for h, n, a in changes), self.chord.bass

    @cached_property
    def plain(self) -> frozenset[int]:
        """Pitch classes of its root, third, fifth, sixth and seventh (fourth or second in sus): no tensions."""
        return frozenset(pc for pc, degree in self.tones.items() if degree.number <= 7)

    @cached_property
    def spelled_out(self) -> bool:
        """Whether it is diminished or minor-major: no scale says such a chord as its own arpeggio does."""
        above = {(pc - self.root) % 12 for pc in self.plain}
        return 3 in above and (11 in above or (6 in above and 10 not in above))

    @cached_property
    def minor_tonic(self) -> bool:
        """Whether it is minor with a sixth in its scale and without a minor seventh: its fourth would make it IV."""
        above = {(pc - self.root) % 12 for pc in self.plain}
        return {3, 7} <= above and not above & {4, 10} and (self.root + 9) % 12 in self.scale

    @cached_property
    def colours(self) -> frozenset[int]:
        """Pitch classes that it may have in a voicing, and those of its scale that are to be avoided.

        A chord over another bass, or one that wants nothing added, has its own alone. What the symbol of a dominant
        leaves open is altered where it resolves to minor (common practice).
        """
        own = frozenset(self.tones)
        if self.bass != self.root or self.chord.is_exact:
            return own | {self.bass}
        may = {(self.root + d.semitones) % 12 for d in self.chord.available} | {*self.scale, self.root}
        if self.chord.quality == "7" and self.to_minor:
            may -= {(self.root + 2) % 12, (self.root + 9) % 12}
        return own | may

    def degree(self, pc: int) -> str:
        """Degree below the octave as musicians call it: '1', 'b3', '6'; 'x' when neither chord nor scale has it."""
        found = self.tones.get(pc) or self.scale.get(pc)
        if found is None:
            return "1" if pc == self.root else "x"
        return _PLAIN[(pc - self.root) % 12] if found.number > 7 else str(found)

    def name(self, pc: int, goal: int | None = None) -> Name:
        """Spelling of a pitch class, as a copyist would write it.

        The chord's plain tones keep their letters, then the key its own; any other note a semitone from its ``goal``
        (the pitch class that follows) is spelled as its neighbour; the rest as the scale has it, or else the key.
        """
        if self.chord.bass is not None and self.chord.bass.pc == pc:
            return self.chord.bass
        if self.chord.root is not None and pc == self.root:
            return self.chord.root
        found = self.tones.get(pc)
        if found is not None and found.number in (3, 5, 6, 7) and abs(self.name_of(found).alter) <= 1:
            return self.name_of(found)
        in_key = name_in_key(pc, self.fifths)
        if self.fifths - 1 <= in_key.fifth <= self.fifths + 5:
            return in_key
        if goal is not None and (goal - pc) % 12 in (1, 11) and (beside := self._beside(pc, goal)) is not None:
            return beside
        found = found or self.scale.get(pc)
        if found is not None and _plain(self.name_of(found)):
            return self.name_of(found)
        return in_key

    def name_of(self, degree: Degree) -> Name:
        """A degree of the chord, spelled: a raised ninth as the minor third that it sounds (common practice)."""
        if degree.alter > 0 and degree.number in (2, 9):
            degree = Degree(degree.number + 1, degree.alter - 2)
        return self.chord.name_of(degree)

    def _beside(self, pc: int, goal: int) -> Name | None:
        """A chromatic note as the neighbour of its goal: the letter below it, or above."""
        aim = name_in_key(goal, self.fifths)
        beside = aim.above(7, 11) if (goal - pc) % 12 == 1 else aim.above(2, 1)
        return beside if _plain(beside) else None


def _plain(name: Name) -> bool:
    """Whether a name is easy to read: no F flat, no B sharp, no double accidental."""
    return _FLATTEST <= name.fifth <= _SHARPEST


def tonic(form: Form) -> Chord:
    """The tonic as a sixth chord, for where no chord is written yet."""
    return parse_chord(f"{_tonic_name(form)}{'m6' if form.minor else '6'}")


def _tonic_name(form: Form) -> Name:
    return name_at_fifth(form.fifths + (3 if form.minor else 0))


@lru_cache(maxsize=32)
def harmonies(form: Form) -> tuple[Harmony, ...]:
    """The chords of a form in order, equal neighbours kept apart as they are written."""
    spans = form.chords or (ChordSpan(Fraction(0), form.length, Chord(None, "none")),)
    sounding = _sounding(form, spans)
    keys = keys_over(sounding, _tonic_name(form), form.minor)
    found = []
    for n, (span, chord) in enumerate(zip(spans, sounding, strict=True)):
        after = next((c for c in _cycle(sounding, n + 1) if c.root != chord.root or c.quality != chord.quality), chord)
        found.append(_harmony(span, chord, after, form, keys[n]))
    return tuple(found)


def _cycle(chords: list[Chord], start: int) -> Iterable[Chord]:
    return (chords[(start + k) % len(chords)] for k in range(len(chords)))


def _sounding(form: Form, spans: Iterable[ChordSpan]) -> list[Chord]:
    chords: list[Chord] = []
    last = tonic(form)
    for span in spans:
        if span.chord.is_chord and span.chord.root is not None:
            last = span.chord
        chords.append(last)
    return chords


def _harmony(span: ChordSpan, chord: Chord, after: Chord, form: Form, key: tuple[Name, bool]) -> Harmony:
    assert chord.root is not None
    root = chord.root.pc
    tones = {(root + d.semitones) % 12: d for d in reversed(chord.tones)}
    to_minor = resolves_to_minor(chord, after)
    scale = dict(tones)
    for pc, degree in _scale(chord, after, key).items():
        scale.setdefault(pc, degree)
    return Harmony(
        start=span.start,
        end=span.end,
        chord=chord,
        written=span.chord.is_chord,
        root=root,
        bass=(chord.bass_name or chord.root).pc,
        tones=tones,
        scale=scale,
        guides=frozenset((root + s) % 12 for s in guide_semitones(chord)),
        avoid=frozenset((root + d.semitones) % 12 for d in chord.avoid),
        to_minor=to_minor,
        fifths=form.fifths,
    )


def guide_semitones(chord: Chord) -> tuple[int, ...]:
    """Third and seventh above the root in semitones; the fourth in a sus chord, the sixth where there is no seventh."""
    found = {d.semitones for d in chord.tones}
    third = next((s for s in (4, 3, 5, 2) if s in found), None)
    seventh = next((s for s in (11, 10, 9) if s in found), None)
    return tuple(s for s in (third, seventh) if s is not None)


_PLAIN_FAMILIES = frozenset({"maj7", "6", "maj", "m7", "m"})


def _scale(chord: Chord, after: Chord, key: tuple[Name, bool]) -> dict[int, Degree]:
    """Pitch class to degree of the scale that fits a chord where it stands, without the notes that are in doubt.

    A plain major or minor chord has the scale of its family and that of its place in the key; what only one of them has
    (the F of Em7 in C, or its F sharp) is left to chromatic passing.
    """
    best = scales_for(chord, follows=after, tonic=key[0], minor=key[1])[0]
    found = {(best.root.pc + d.semitones) % 12: d for d in best.degrees}
    if chord.quality in _PLAIN_FAMILIES:
        usual = set(scales_for(chord)[0].pitch_classes)
        found = {pc: d for pc, d in found.items() if pc in usual}
    return found
