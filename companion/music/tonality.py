"""The key of a tune from its notes, and how its notes are spelled.

Conventions: MIDI numbers; keys as ``fifths`` (sharps positive) and minor; weights are lengths in any unit.

Key: the profile of pitch classes is correlated with those of the 24 keys (Krumhansl, Cognitive Foundations of Musical
Pitch, 1990), with the profiles as revised by Temperley (The Cognition of Basic Musical Structures, 2001, chapter 7;
values from memory); the note and the chord on which the tune ends count more.

Spelling: a chord's own notes are spelled as the chord spells them; notes of the key as the key does; a chromatic note
moves on by a semitone to the next letter, as Longuet-Higgins (The Perception of Melodies, Nature 263, 1976) and
Meredith (The ps13 Pitch Spelling Algorithm, J. New Music Research 35(2), 2006) have it, each from memory; another one
is taken nearest on the line of fifths.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from companion.music.chords import Chord
from companion.music.pitch import STEP_SEMITONES, STEPS, Name, Pitch, name_in_key

MAJOR_PROFILE = (5.0, 2.0, 3.5, 2.0, 4.5, 4.0, 2.0, 4.5, 2.0, 3.5, 1.5, 4.0)
MINOR_PROFILE = (5.0, 2.0, 3.5, 4.5, 2.0, 4.0, 2.0, 4.5, 3.5, 2.0, 1.5, 4.0)
LAST_NOTE, LAST_CHORD, FIRST_CHORD = 0.12, 0.25, 0.08
"""What it adds to a key's correlation that the tune ends on its tonic, ends or begins with its tonic chord."""
CHORD_WEIGHT = 0.5
"""How much a chord's tones count against the melody's, for the time that the chord lasts."""


def find_key(notes: Sequence[tuple[int, float]], chords: Sequence[tuple[Chord, float]] = ()) -> tuple[int, bool]:
    """The likeliest key.

    Parameters
    ----------
    notes : sequence of (MIDI number, length)
        In order.
    chords : sequence of (Chord, length)
        In order.

    Returns
    -------
    fifths : int
        -5 to 6.
    minor : bool

    >>> find_key([(p, 1.0) for p in (60, 62, 64, 65, 67, 69, 71, 72)])
    (0, False)
    >>> find_key([(69, 2), (72, 1), (76, 2), (68, 1), (69, 2)])
    (0, True)
    """
    weights = [0.0] * 12
    for midi, length in notes:
        weights[midi % 12] += length
    for chord, length in chords:
        for pc in chord.pitch_classes[:4]:
            weights[pc] += CHORD_WEIGHT * length
    named = [chord for chord, _ in chords if chord.root]
    scores: dict[tuple[int, bool], float] = {}
    for fifths in range(-5, 7):
        for minor in (False, True):
            tonic = (fifths * 7 + (9 if minor else 0)) % 12
            profile = MINOR_PROFILE if minor else MAJOR_PROFILE
            score = _correlation(weights, [profile[(pc - tonic) % 12] for pc in range(12)])
            score += LAST_NOTE if notes and notes[-1][0] % 12 == tonic else 0.0
            score += LAST_CHORD if named and _is_tonic(named[-1], tonic, minor) else 0.0
            score += FIRST_CHORD if named and _is_tonic(named[0], tonic, minor) else 0.0
            scores[fifths, minor] = score
    return max(scores, key=lambda key: (scores[key], -abs(key[0])))


def _is_tonic(chord: Chord, tonic: int, minor: bool) -> bool:
    small = chord.quality.startswith("m") and not chord.quality.startswith("maj")
    return chord.root is not None and chord.root.pc == tonic and small == minor and chord.quality not in ("7", "7alt")


def _correlation(xs: Sequence[float], ys: Sequence[float]) -> float:
    mx, my = sum(xs) / len(xs), sum(ys) / len(ys)
    top = sum((x - mx) * (y - my) for x, y in zip(xs, ys, strict=True))
    under = sqrt(sum((x - mx) ** 2 for x in xs) * sum((y - my) ** 2 for y in ys))
    return top / under if under else 0.0


def spell(notes: Sequence[int], chords: Sequence[Chord | None], fifths: int, minor: bool = False) -> tuple[Pitch, ...]:
    """Spell a melody.

    Parameters
    ----------
    notes : sequence of int
        MIDI numbers in order.
    chords : sequence of Chord or None
        What sounds under each.
    fifths, minor
        The key.

    >>> from companion.music.chords import parse_chord
    >>> e7 = parse_chord("E7")
    >>> [str(p) for p in spell([68, 66, 67, 63, 62], [e7, None, None, None, None], 0)]
    ['G#4', 'F#4', 'G4', 'Eb4', 'D4']
    """
    spelled = []
    for k, midi in enumerate(notes):
        after = notes[k + 1] if k + 1 < len(notes) else None
        spelled.append(_name(midi, after, chords[k], fifths, minor).at(midi))
    return tuple(spelled)


def _name(midi: int, after: int | None, chord: Chord | None, fifths: int, minor: bool) -> Name:
    pc, usual = midi % 12, name_in_key(midi % 12, fifths, minor)
    if fifths - 1 <= usual.fifth <= fifths + 5:
        return usual
    if chord is not None and chord.root is not None:
        own = next((chord.name_of(tone) for tone in chord.tones if chord.name_of(tone).pc == pc), None)
        if own is not None and abs(own.alter) < 2:
            return own
    if usual.alter and after is not None and abs(after - midi) == 1:
        return _leading(pc, name_in_key(after % 12, fifths, minor), after > midi) or usual
    return usual


def _leading(pc: int, goal: Name, up: bool) -> Name | None:
    """The name on the letter next to the goal's from which it is a semitone's step; None when that isn't usual."""
    step = STEPS[(STEPS.index(goal.step) + (-1 if up else 1)) % 7]
    alter = (pc - STEP_SEMITONES[step] + 6) % 12 - 6
    return Name(step, alter) if abs(alter) <= 1 else None
