"""Explanations of a chord: why it is voiced as it is and falls where it does, in a musician's words.

A reason names the voicing, the movement from the one before, what the melody or the resolution asked for, and what the
melody does meanwhile.

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers.
"""

from __future__ import annotations

from companion.arrange.chords.context import Strike
from companion.arrange.chords.shapes import Shape
from companion.arrange.chords.voicings import Voicing
from companion.arrange.melody.part import MelodyIndex
from companion.chart.model import MelodyNote

_NUMBERS = {1: "one note", 2: "two notes", 3: "three notes", 4: "four notes"}
_CALLED = {"5": "fifth", "9": "ninth", "13": "thirteenth", "6": "sixth", "11": "eleventh"}
_WITHOUT_A_GAP = ("accents", "held", "sliding")
"""Placements that put chords against the melody, too."""
THINNED = ("three", "two")
"""Families of few notes, used where there is no room for a full voicing."""
FAR = 4
"""Semitones from which the movement of a voice is called a leap."""


def voicing_reason(strike: Strike, voicing: Voicing, before: Voicing | None, above: MelodyIndex) -> str:
    """The sentence for one chord; ``before`` is the voicing that the hand comes from."""
    if strike.slides:
        return f"fourths {voicing.shape.why}; {strike.reason}"
    words = [_want(strike, voicing, above), _way(strike, voicing, before, above), voicing.shape.why]
    said = "; ".join(word for word in [*words, _left_out(strike, voicing, above)] if word)
    form = called(voicing.shape)
    return "; ".join(word for word in (f"{form}: {said}" if said else form, _place(strike, voicing, above)) if word)


def called(shape: Shape) -> str:
    """What musicians call a shape."""
    if shape.family in THINNED and not shape.name.startswith("fourths"):
        return f"thinned to {shape.name}"
    family = "rootless" if shape.family == "inversions" else shape.family
    return f"{family} {shape.name}" if shape.name.startswith(("from", "with")) else shape.name


def _want(strike: Strike, voicing: Voicing, above: MelodyIndex) -> str:
    """Why there isn't more of a chord: a note of it would rub against the melody, or there is no room."""
    if voicing.shape.family not in THINNED:
        return ""
    had = {midi % 12 for midi in voicing.midi}
    over = _sounding(strike, above)
    for note in over:
        rubs = (note.pitch.midi - 1) % 12
        degree = strike.harmony.tones.get(rubs) or strike.harmony.scale.get(rubs)
        name = _CALLED.get(_above_the_octave(str(degree)), "") if degree is not None else ""
        usual = name in ("ninth", "fifth") or voicing.forced
        if name and usual and rubs not in had:
            return f"its {name} would rub against the melody's {note.pitch}"
    held = next((note for note in over if note.beat < strike.beat), None)
    if not voicing.forced:
        return f"one hand holds it with the melody's {held.pitch}" if held else "it leads the top note on"
    return (
        f"between the bass and the melody's {over[0].pitch} is no room for more"
        if over
        else "there is no room for more"
    )


def _above_the_octave(degree: str) -> str:
    return {"2": "9", "4": "11"}.get(degree, degree)


def _way(strike: Strike, voicing: Voicing, before: Voicing | None, above: MelodyIndex) -> str:
    """How the hand came there, and where it had to leap, why."""
    if before is not None and _farthest(before, voicing) > FAR:
        return _leap(strike, voicing, before, above)
    return movement(voicing, before)


def _farthest(before: Voicing, voicing: Voicing) -> int:
    """Semitones of the voice that moves most; 0 where the voices can't be told apart."""
    if len(before.midi) != len(voicing.midi):
        return 0
    return max(abs(a - b) for a, b in zip(before.midi, voicing.midi, strict=True))


def movement(voicing: Voicing, before: Voicing | None) -> str:
    """How the hand came there."""
    if before is None:
        return ""
    if before.midi == voicing.midi:
        return "the same again" if before.shape.degrees == voicing.shape.degrees else "the hand need not move"
    stay = len(set(before.midi) & set(voicing.midi))
    if len(before.midi) == len(voicing.midi) and _farthest(before, voicing) <= 2:
        return f"{_stay(stay)}, the rest moves by step" if stay else "every voice moves by step"
    return _stay(stay) if stay else ""


def _stay(count: int) -> str:
    return f"{_NUMBERS.get(count, f'{count} notes')} {'stays' if count == 1 else 'stay'}"


def _leap(strike: Strike, voicing: Voicing, before: Voicing, above: MelodyIndex) -> str:
    """Where the hand goes, and what made it."""
    down = sum(voicing.midi) < sum(before.midi)
    over = _sounding(strike, above)
    coming = above.after(float(strike.beat))
    ceiling = over[0] if over else coming
    if down and ceiling is not None and before.midi[-1] >= ceiling.pitch.midi - 2:
        return f"the hand goes down, to stay under the melody's {ceiling.pitch}"
    return "the hand goes down" if down else "the hand goes up"


def _left_out(strike: Strike, voicing: Voicing, above: MelodyIndex) -> str:
    """What the melody has itself, so that the chord of three has the other note that it might have."""
    if voicing.shape.family != "three":
        return ""
    other = "13" if strike.harmony.chord.quality in ("7", "7alt") else "5"
    own = voicing.shape.degrees[-1]
    wanted = other if own.number == 9 else "9"
    for note in _sounding(strike, above):
        degree = strike.harmony.tones.get(note.pitch.name.pc) or strike.harmony.scale.get(note.pitch.name.pc)
        name = {"2": "9", "6": "13"}.get(str(degree), str(degree))
        if name == wanted and own.number in (5, 9, 13):
            return f"the {_CALLED[name]} is the melody's note, so {own} instead"
    return ""


def _place(strike: Strike, voicing: Voicing, above: MelodyIndex) -> str:
    """Where it falls, and what the melody leaves room for."""
    if strike.aim is not None and (voicing.midi[-1] - strike.aim) % 12 == 0:
        return f"{strike.reason}, with the melody's own note on top"
    if strike.treatment.placement in _WITHOUT_A_GAP or not above.notes:
        return strike.reason
    held = [note for note in _sounding(strike, above) if note.beat < strike.beat]
    where = f"while the melody holds {held[0].pitch}" if held else "where the melody rests"
    return f"{strike.reason}, {where}" if strike.reason else where


def _sounding(strike: Strike, above: MelodyIndex) -> list[MelodyNote]:
    """Melody notes during a strike, the lowest first."""
    found = above.sounding(float(strike.beat), float(strike.beat + strike.length))
    return sorted(found, key=lambda note: note.pitch.midi)
