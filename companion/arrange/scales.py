"""The scale that is named for each chord of a form: the first of those that serve which holds what the hands play.

Conventions: beats in quarters from the first downbeat of the form.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from fractions import Fraction
from itertools import groupby

from companion.arrange.analysis import EARLY, heard_as
from companion.arrange.harmony import Harmony
from companion.arrange.part import Note
from companion.chart.model import Form
from companion.music.scales import Scale, scales_over


def named_scales(form: Form, chords: Iterable[Note] = ()) -> dict[Fraction, Scale]:
    """A scale for each chord, by the beat on which the chord begins; none where no chord is written.

    Parameters
    ----------
    form : Form
    chords : iterable of Note
        The notes of the chords that are struck; of two scales that serve, the one that has them is named. Notes that
        slide through the harmony say nothing of it.
    """
    played: dict[Fraction, set[int]] = {}
    told = sorted((note for note in chords if note.degree), key=lambda note: note.beat)
    for beat, struck in groupby(told, key=lambda note: note.beat):
        group = list(struck)
        classes = {note.midi % 12 for note in group}
        said = chord_said(form, beat, max(note.length for note in group), classes)
        played.setdefault(said.start, set()).update(classes)
    found: dict[Fraction, Scale] = {}
    for span, scales in zip(form.chords, scales_over(form), strict=True):
        if scales:
            bass = {span.chord.bass.pc} if span.chord.bass is not None else set()
            wanted = played.get(span.start, set()) - bass
            found[span.start] = max(scales, key=lambda one: len(wanted & set(one.pitch_classes)))
    return found


def chord_said(form: Form, beat: Fraction, length: Fraction, classes: Collection[int]) -> Harmony:
    """The chord that some pitch classes say, struck together: on the quaver before another chord it may be that one.

    Of two that they say as well, one over another bass is meant only where its root is heard.
    """

    def worth(way: Harmony) -> tuple[int, bool]:
        told = sum((pc in way.scale) + (pc in way.guides) for pc in classes)
        return told, way.bass == way.root or way.root in classes

    return max((heard_as(form, beat, span)[0] for span in (length, length + EARLY)), key=worth)
