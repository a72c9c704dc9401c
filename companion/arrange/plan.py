"""The plan: which treatment each section gets, and the notes of each part for one chorus.

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers. All functions are pure: the same form,
treatment, chorus and seed give the same notes.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from companion.arrange.bass import part as bass
from companion.arrange.bass.strikes import PatternPlan
from companion.arrange.chords import part as chords
from companion.arrange.holding import let_go_for_chords
from companion.arrange.melody import part as melody
from companion.arrange.part import Note
from companion.arrange.request import USUAL, Request
from companion.arrange.solo.part import improvised_line
from companion.arrange.treatments import Treatment, TreatmentPlan, proposed, treatment
from companion.arrange.written import as_struck, bar_number_of, is_whole, with_written_notes, written_notes
from companion.chart.model import Form
from companion.errors import UseError
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences


def arrange(form: Form, part: str, request: Request = USUAL) -> tuple[Note, ...]:
    """The notes of one part for one chorus: the written ones where the chart has them, free ones elsewhere.

    What is written is the same in every chorus; what is free is new in each.

    Parameters
    ----------
    form : Form
        The unfolded chart.
    part : str
        'bass', 'chords', 'melody' or 'solo'.
    request : Request, optional
        Treatment, chorus, seed and the like; what the chart says, the first time through, unless given.

    Returns
    -------
    tuple of Note
        In order of beat, written (swing is put on when it is played). A chord before the first downbeat has a negative
        beat.

    Raises
    ------
    UseError
        When there is no such part.
    ConfigError
        When there is no such treatment.
    """
    if form.length <= 0:
        return ()
    if request.free or request.treatment is not None:
        form = form.free
    return filled(form, part, request)


def filled(form: Form, part: str, request: Request = USUAL) -> tuple[Note, ...]:
    """As :func:`arrange`, but what is written always stays, and the treatment rules the bars that it leaves open."""
    if part == "melody":
        return _melody(form, replace(request, free=False))
    if part == "bass":
        return _bass(form, request.treatment, request.chorus, request.seed, request.first)
    if part == "chords":
        return _chords(form, replace(request, free=False))
    if part == "solo":
        return improvised_line(form, chorus=request.chorus, place=request.solo, seed=request.seed)
    raise UseError(f"there is no part called {part!r} to arrange", mend="use melody, chords, bass or solo")


@lru_cache(maxsize=64)
def plan(form: Form, name: str | None = None) -> TreatmentPlan:
    """From where to where which treatment rules: the one named, each section's own, or the one proposed."""
    if name is not None:
        return ((Fraction(0), form.length, treatment(name)),)
    found: list[tuple[Fraction, Fraction, Treatment]] = []
    for place in form.sections:
        chosen = treatment(place.treatment) if place.treatment else proposed(form, place)
        found.append((place.start, place.end, chosen))
    return tuple(found) or ((Fraction(0), form.length, proposed(form, None)),)


@lru_cache(maxsize=64)
def _melody(form: Form, request: Request) -> tuple[Note, ...]:
    """The melody; where its hand has the chords as well, each note as long as it can hold it."""
    name = request.treatment
    sung = as_struck(form, melody.melody_notes(form, plan(form.free, name)))
    if not sung or request.player & {"melody", "chords"}:
        return sung
    bass = _bass(form, name, request.chorus, request.seed, request.first)
    held = let_go_for_chords(form, sung, _chords(form, request), bass, preferences(VoicingPreferences).hand.span)
    written = form.written_part("melody")
    kept = written.bars if written else frozenset[int]()
    return tuple(a if bar_number_of(form, a.beat) in kept else b for a, b in zip(sung, held, strict=True))


def _bass(form: Form, name: str | None, chorus: int, seed: int, first: int | None) -> tuple[Note, ...]:
    patterns = tuple((start, end, one.bass) for start, end, one in plan(form.free, name))
    return _patterned_bass(form, patterns, chorus, seed, first)


@lru_cache(maxsize=64)
def _patterned_bass(form: Form, patterns: PatternPlan, chorus: int, seed: int, first: int | None) -> tuple[Note, ...]:
    """The bass of some patterns, which many treatments share."""
    if is_whole(form, form.written_part("bass")):
        return written_notes(form, "bass")
    kept = {note.beat: note.midi for note in written_notes(form, "bass")}
    free = bass.bass_notes(form.free, patterns, chorus=chorus, seed=seed, first=first, kept=kept)
    return with_written_notes(form, "bass", free)


@lru_cache(maxsize=64)
def _chords(form: Form, request: Request) -> tuple[Note, ...]:
    name, chorus, seed, player = request.treatment, request.chorus, request.seed, request.player
    if is_whole(form, form.written_part("chords")):
        return written_notes(form, "chords")
    treatments = plan(form.free, name)
    if "solo" in player:
        above = melody.NOTHING
    else:
        above = melody.index_melody(form, () if "melody" in player else treatments)
    below = () if "bass" in player else _bass(form, name, chorus, seed, request.first)
    if below and chorus > 1:  # the first chord may come early, over the last note of the chorus before
        last = _bass(form, name, chorus - 1, seed, None)[-1:]
        below = (*(replace(note, beat=note.beat - form.length) for note in last), *below)
    written = form.written_part("chords")
    free = chords.chord_notes(
        form.free,
        treatments,
        above,
        below,
        chorus=chorus,
        seed=seed,
        kept=written_notes(form, "chords"),
        kept_bars=written.bars if written else (),
        style=request.style,
    )
    return with_written_notes(form, "chords", free)
