"""The chords of a take, each named as it was played, and where notes of it rub.

A chord belongs to the chart's chord of its moment, or to the coming one where it is struck less than a beat before and
is that chord rather. A voice that follows a chord by itself within a beat belongs to it where it makes it whole. The
lowest note is a bass where it lies low or apart (:func:`companion.music.chord_names.with_bass`).

Two notes struck together rub where the upper lies a semitone or a minor ninth above a note of the chord: a melody note
over the chord, or a chord's over the bass; unless it is the chord's own ninth or seventh (common practice).

Conventions: chart beats in quarters; seconds on the take's clock; MIDI numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.arrange.chords.soundness import RUBS, is_own_rub
from companion.arrange.harmony import Harmony
from companion.arrange.lookup import harmony_at
from companion.chart.model import Form
from companion.music.chord_names import with_bass
from companion.practice.alignment import Alignment
from companion.practice.chord_timing import TakeChord, struck_chords
from companion.practice.findings import Finding, bar_at, place_words
from companion.practice.judging import JudgedNote
from companion.practice.note_words import note_name
from companion.practice.voicing_names import VoicingName, voicing_name
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences

AHEAD = 0.75
"""Quarters before a chord within which what is struck may be that chord."""
NEAR = 0.12
"""Quarters before a bar from which a chord is struck in it: with a human hand nothing is quite on the beat."""
VOICE_LATE = 1.1
"""Quarters after a chord within which one more voice belongs to it."""


@dataclass(frozen=True)
class PlayedVoicing:
    """A chord as it was played."""

    bar: int
    chorus: int
    chart_beat: float
    seconds: float
    chord: str
    """The chart's symbol."""
    midi: tuple[int, ...]
    bass: int | None
    called: VoicingName
    rubs: tuple[tuple[int, int], ...] = ()
    """Notes that rub: the lower, the upper."""
    late_voice: bool = False

    @property
    def text(self) -> str:
        """Its name: "rootless from the third, 9 missing"."""
        return self.called.text + (", the last voice late" if self.late_voice else "")


def voicings_played(form: Form, alignment: Alignment) -> list[PlayedVoicing]:
    """Every chord of a take, in order."""
    voicings = preferences(VoicingPreferences)
    found: list[PlayedVoicing] = []
    for notes in alignment.judged:
        chords = struck_chords(notes)
        voices = [note for note in notes if note.part == "chords" and note.seconds is not None]
        for n, chord in enumerate(chords):
            following = chords[n + 1].first if n + 1 < len(chords) else float("inf")
            named = _named(form, voicings, chord, None)
            late = _voice_after(chord, voices, following)
            if named is not None and late is not None:
                whole = _named(form, voicings, chord, late)
                if whole is not None and whole.called.price < named.called.price:
                    named = replace(whole, late_voice=True)
            if named is not None:
                found.append(named)
    return found


def _voice_after(chord: TakeChord, voices: Sequence[JudgedNote], until: float) -> JudgedNote | None:
    """A voice that follows a chord by itself."""
    beat = _beat(chord)
    after = [v for v in voices if chord.last < (v.seconds or 0.0) < until and v.chart_beat - beat <= VOICE_LATE]
    return after[0] if len(after) == 1 else None


def _beat(chord: TakeChord) -> float:
    return min(note.chart_beat for note in chord.notes)


def _named(form: Form, voicings: VoicingPreferences, chord: TakeChord, late: JudgedNote | None) -> PlayedVoicing | None:
    """A chord with its name; None: it is none."""
    keys = [note.pitch for note in (*chord.notes, late) if note and note.part == "chords" and note.pitch is not None]
    sounded = with_bass(keys) if keys else None
    if sounded is None or len(set(sounded.notes)) < 2:
        return None
    beat = max(_beat(chord), 0.0)
    ways = []
    for at in (beat + NEAR, beat + AHEAD):
        harmony = harmony_at(form, Fraction(at).limit_denominator(960))
        ways.append((voicing_name(voicings, harmony, sounded.notes, sounded.bass), harmony))
    called, harmony = min(ways, key=lambda way: (bool(way[0].other), way[0].price))
    bar = bar_at(form, (beat + NEAR) % float(form.length))
    top = max((n.pitch for n in chord.notes if n.part == "melody" and n.kind == "right" and n.pitch), default=None)
    rubs = _rubs(harmony, sounded.notes, sounded.bass, top)
    return PlayedVoicing(
        bar, chord.notes[0].chorus, beat, chord.first, harmony.chord.symbol, sounded.notes, sounded.bass, called, rubs
    )


def _rubs(harmony: Harmony, midi: Sequence[int], bass: int | None, melody: int | None) -> tuple[tuple[int, int], ...]:
    """Notes of a chord that rub with the melody or the bass."""
    pairs = [(low, melody) for low in midi] if melody is not None else []
    pairs += [(bass, high) for high in midi] if bass is not None else []
    return tuple((low, high) for low, high in pairs if high - low in RUBS and not is_own_rub(harmony, low, high))


def voicing_findings(form: Form, played: Sequence[PlayedVoicing]) -> list[tuple[float, Finding]]:
    """Chords that are another chord than the chart's, and notes that rub, each with its moment."""
    found = []
    for one in played:
        place = place_words(one.bar)
        if one.called.other:
            text = f"{place}: {one.called.other}, where the chart has {one.chord}"
            found.append((one.seconds, Finding(one.bar, one.chorus, "voicing", 1.0, text)))
        for low, high in one.rubs:
            text = f"{place}: {note_name(low, form)} under {note_name(high, form)}"
            found.append((one.seconds, Finding(one.bar, one.chorus, "clash", float(high - low), text)))
    return found
