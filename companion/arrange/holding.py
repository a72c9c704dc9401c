"""What a hand can hold: a melody note ends where its hand leaves it for a chord that lies too far below.

A chord is voiced so that the hand reaches it with the melody's note wherever there is such a voicing. Where there is
none, the pedal holds the note, if it is down; else the hand lets go of it, and that is what is written and played.

Conventions: beats in quarters from the first downbeat of the form; spans in semitones. Source: common practice.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from companion.arrange.part import Note
from companion.chart.model import Form


class PedalIndex:
    """Where the pedal is down: from a note that it holds to the end of what it holds.

    It is changed where such a note begins a bar or a chord, and stays down under the others, as it is printed.

    Parameters
    ----------
    form : Form
    notes : iterable of Note
        Those that it holds count.
    """

    def __init__(self, form: Form, notes: Iterable[Note]) -> None:
        changes = pedal_changes(form)
        self._starts: list[float] = []
        self._ends: list[float] = []
        for note in sorted((n for n in notes if n.pedal), key=lambda n: float(n.beat)):
            start, end = float(note.beat), float(note.beat + note.length)
            if self._starts and start <= self._ends[-1] and note.beat % form.length not in changes:
                self._ends[-1] = max(self._ends[-1], end)
            else:
                if self._ends:
                    self._ends[-1] = min(self._ends[-1], start)
                self._starts.append(start)
                self._ends.append(end)

    def is_down(self, beat: Fraction) -> bool:
        """Whether it went down before a beat and is down still; where it is changed, nothing is held."""
        at = float(beat)
        n = bisect_left(self._starts, at - _TINY) - 1
        return n >= 0 and self._ends[n] > at + _TINY


@lru_cache(maxsize=32)
def pedal_changes(form: Form) -> frozenset[Fraction]:
    """Beats on which a bar or a chord begins."""
    return frozenset((*form.bars, *(span.start for span in form.chords)))


def let_go_for_chords(
    form: Form, melody: Sequence[Note], chords: Iterable[Note], bass: Iterable[Note], span: int
) -> tuple[Note, ...]:
    """The melody, each note as long as its hand can hold it.

    Parameters
    ----------
    form : Form
    melody, chords, bass : of Note
        One chorus.
    span : int
        What a hand takes, in semitones.
    """
    lowest: dict[float, int] = {}
    beats: dict[float, Fraction] = {}
    for note in chords:
        if note.hand == "right":
            at = float(note.beat)
            lowest[at] = min(note.midi, lowest.get(at, note.midi))
            beats[at] = note.beat
    struck, pedal = sorted(lowest), PedalIndex(form, bass)
    found = []
    for note in melody:
        under = struck[bisect_right(struck, float(note.beat)) : bisect_left(struck, float(note.beat + note.length))]
        far = (beats[at] for at in under if note.midi - lowest[at] > span and not pedal.is_down(beats[at]))
        end = next(far, None)
        if end is not None and note.hand == "right" and not note.pedal:
            note = replace(note, length=end - note.beat, reason=f"{note.reason}, let go for the chord")
        found.append(note)
    return tuple(found)


_TINY = 1e-6
