"""What each role makes likely: the places at which a player of the melody, the chords, the bass or a solo strikes.

A player of several parts is followed by the one that says most about the place (melody, then bass, then chords, then
solo); the notes of their other parts are expected company and cost nothing.

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers; probabilities. Which notes belong to
which chord is :mod:`companion.music.chords` and :mod:`companion.music.scales`; the shares given to them here are common
practice put into numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from companion.arrays import Floats
from companion.chart.model import Form, FormSection
from companion.follow.belief import Freedom, Manner
from companion.follow.places import PROMISED, Places
from companion.follow.readings import Reading, Readings
from companion.follow.rhythm import SLOTS, OnsetTable, trio_rhythm
from companion.music.chords import Chord
from companion.music.scales import scales_for
from companion.music.swing import swing_ratio
from companion.preferences import preferences
from companion.preferences.following import Comping, FollowingPreferences, Soloing

MEDIUM, EVEN_RATIO = 120.0, 1.05
"""A feel swings if it is above this ratio at a medium tempo (quarters a minute)."""
SOLOIST = Manner(freedoms=(Freedom(0.002, 0.0, 0.8), Freedom(0.006, 0.0, 0.2, 0.02)), touch=0.025, loosening=0.005)
IMPROVISER = Manner(freedoms=(Freedom(0.003, 0.0, 1.0, 0.01),), touch=0.0, jitter=0.0)
"""The same for the rhythm table, in which touch and jitter are contained."""
EVEN = np.full(12, 1 / 12)
EVEN.setflags(write=False)


@dataclass(frozen=True)
class PlaceDraft:
    """One place while it is being written down."""

    beat: Fraction
    strike: float
    row: Floats
    """Probability of each of the 128 MIDI numbers."""
    again: float = 0.02
    scatter: float = 0.0
    swung: float = 0.0
    late: float = 0.0


def places_for(
    form: Form, you: frozenset[str], *, hold: Fraction | None = None, likes: FollowingPreferences | None = None
) -> Places:
    """Where a player of these parts is likely to strike in a form.

    Parameters
    ----------
    form : Form
    you : frozenset of str
        The player's parts.
    hold : Fraction, optional
        The beat of a last chord, which whoever plays strikes and holds; nothing comes after it.
    likes : FollowingPreferences, optional
        What is expected of a player; that of ``following.toml``, unless given.

    Returns
    -------
    Places
    """

    likes = likes or preferences(FollowingPreferences)
    comping = likes.comping

    def until(drafts: list[PlaceDraft]) -> list[PlaceDraft]:
        return (
            drafts if hold is None else [*(draft for draft in drafts if draft.beat < hold), _last(form, hold, comping)]
        )

    other = _company(form, you, comping)
    if "melody" in you and form.melody:
        others = 0.15 if you == {"melody"} else 1.5
        return _places(form, until(melody_drafts(form)), other, others, pickup=float(form.pickup))
    if "bass" in you:
        drafts = with_written(form, "bass", bass_drafts(form), likes.written.bass)
        return _places(form, until(drafts), other, 0.06 if you == {"bass"} else 1.5, leap=0.1, rest=0.02)
    if "chords" in you:
        drafts = with_written(form, "chords", chord_drafts(form, comping), likes.written.chords)
        return _places(form, until(drafts), other, 0.05, leap=0.02, rest=0.2, resume=0.3)
    if rhythm_alone(form, you):
        return _places(form, rhythm_drafts(form), other, 1e-3, leap=0, resume=0, rhythm=trio_rhythm())
    return _places(form, until(solo_drafts(form, likes.solo)), other, 0.05, leap=0.02, rest=0.2, resume=0.05)


def readings_for(
    form: Form, you: frozenset[str], *, hold: Fraction | None = None, likes: FollowingPreferences | None = None
) -> Readings:
    """The ways in which what a player of these parts does may be taken, the parts that they were told being likeliest.

    A melody may be as it is written, phrased, or given up for a solo. Parameters as for :func:`places_for`.
    """
    likes = likes or preferences(FollowingPreferences)
    places = places_for(form, you, hold=hold, likes=likes)
    part = next((p for p in ("melody", "bass", "chords") if p in you and (p != "melody" or form.melody)), "solo")
    first = Reading(part, places)
    if part != "melody" or hold is not None:
        return Readings((first,))
    phrased = []
    for way in likes.phrasing.values():
        by = way.by * places.pulse
        phrased.append(Reading(part, places, by, _swing_of(form, places, by), way.begins, way.begins, way.ends, False))
    fills, improvising = likes.fills, likes.improvising
    phrased.append(
        Reading(part, places, share=fills.begins, taken_up=fills.begins, given_up=fills.ends, others=fills.notes)
    )
    first = replace(first, share=1 - improvising.at_first - sum(reading.share for reading in phrased))
    if any(span.chord.is_chord for span in form.chords):
        solo = places_for(form, frozenset({"solo"}), likes=likes)
        chances = (improvising.at_first, improvising.begins, improvising.ends)
        soloing = Reading("solo", solo, 0.0, None, *chances, False)
        return Readings((first, *phrased, soloing))
    return Readings((first, *phrased))


def _swing_of(form: Form, places: Places, by: float) -> Floats:
    """How much of the swing's delay a melody's strokes take when they are displaced."""
    return np.array([swung(form, Fraction(round((beat + by) * 12), 12)) for beat in places.beat])


def _last(form: Form, beat: Fraction, likes: Comping) -> PlaceDraft:
    """The stroke of a last chord: the root in the left hand, any note of the chord above."""
    chord = form.chord_at(beat).chord
    pcs = _voiced(chord, likes)
    if chord.bass_name is not None:
        pcs = 0.7 * pcs
        pcs[chord.bass_name.pc] += 0.3
    return PlaceDraft(beat, 0.95, _spread(pcs, 26, 96, 60, 16), again=0.8)


def rhythm_alone(form: Form, you: frozenset[str]) -> bool:
    """Whether nothing but rhythm tells where a soloist is: there is no chord in the form."""
    return you == {"solo"} and not form.metre.compound and not any(span.chord.is_chord for span in form.chords)


def rhythm_drafts(form: Form) -> list[PlaceDraft]:
    """The slots of the rhythm table, alike in pitch."""
    even = np.full(128, 1 / 128)
    return [PlaceDraft(Fraction(n, SLOTS), 1e-3, even, 0.2, 0.03) for n in range(int(form.length * SLOTS))]


def manner_for(form: Form, you: frozenset[str]) -> Manner:
    """How a player of these parts keeps time: a soloist over a rhythm section strictly, and with a looser touch."""
    if rhythm_alone(form, you):
        return IMPROVISER
    return SOLOIST if you == {"solo"} else Manner()


def melody_drafts(form: Form) -> list[PlaceDraft]:
    """One draft a melody note; notes struck at once are one draft.

    A pickup that the end of the form leads back with is that end's: it isn't looked for twice.
    """
    rows: dict[int, Floats] = {}
    drafts = []
    written = {(note.beat, note.pitch.midi) for note in form.melody if note.beat >= 0}
    for note in form.melody:
        midi = note.pitch.midi
        if (note.beat + form.length, midi) in written:
            continue
        if midi not in rows:
            rows[midi] = _slipping(midi)
        pickup = note.beat < 0
        drafts.append(
            PlaceDraft(
                note.beat, 0.6 if pickup else 0.95, rows[midi], swung=swung(form, note.beat), scatter=_loose(note.beat)
            )
        )
    return drafts


def chord_drafts(form: Form, likes: Comping) -> list[PlaceDraft]:
    """The beats and the quavers between them: rootless chords in syncopated rhythms."""
    rows: dict[tuple[Chord, Chord], Floats] = {}

    def row(here: Chord, coming: Chord) -> Floats:
        key = (here, coming)
        if key not in rows:
            now, soon = (_spread(_voiced(chord, likes), 45, 82, 60, 7) for chord in key)
            rows[key] = 0.3 * now + 0.7 * soon
        return rows[key]

    drafts = []
    step = Fraction(1, 2)
    for n in range(int(form.length / step)):
        beat = n * step
        on = beat % form.metre.pulse == 0
        here, coming = form.chord_at(beat).chord, form.chord_at(beat if on else beat + step).chord
        accents = likes.strikes.get(str(form.metre), likes.other_metres)
        strike = accents[n % len(accents)]
        drafts.append(PlaceDraft(beat, strike, row(here, coming), again=0.7, swung=swung(form, beat)))
    return drafts


def bass_drafts(form: Form) -> list[PlaceDraft]:
    """Every beat, and now and then the quaver before the next."""
    drafts = []
    pulse = form.metre.pulse
    half = Fraction(1, 2)
    starts = {span.start for span in form.chords}
    for n in range(int(form.length / pulse)):
        beat = n * pulse
        here, coming = form.chord_at(beat).chord, form.chord_at(beat + pulse).chord
        row = _walked(here, coming, beat in starts, (beat + pulse) % form.length in starts)
        drafts.append(PlaceDraft(beat, 0.94, row))
        drafts.append(
            PlaceDraft(
                beat + pulse - half, 0.08, _walked(here, coming, False, True), swung=swung(form, beat + pulse - half)
            )
        )
    return drafts


def with_written(form: Form, part: str, drafts: list[PlaceDraft], keeps: float) -> list[PlaceDraft]:
    """The drafts of a part, what is written of it likelier than what its player may make up in its place.

    ``keeps`` is the share of what is written that they are expected to play as it stands.
    """
    written = form.written_part(part)
    if written is None:
        return drafts
    struck = dict[Fraction, list[int]]()
    for note in written.notes:
        struck.setdefault(note.beat % form.length, []).append(note.pitch.midi)
    found = []
    for draft in drafts:
        pitches = struck.pop(draft.beat % form.length, [])
        if pitches:
            row = keeps * _struck(pitches) + (1 - keeps) * draft.row
            found.append(replace(draft, strike=keeps * 0.95 + (1 - keeps) * draft.strike, row=row))
        elif form.bar_at(draft.beat) in written.bars:
            found.append(replace(draft, strike=(1 - keeps) * draft.strike))
        else:
            found.append(draft)
    again = 0.7 if part == "chords" else 0.02
    found += [
        PlaceDraft(beat, keeps * 0.95, _struck(pitches), again=again, swung=swung(form, beat))
        for beat, pitches in struck.items()
    ]
    return found


def _struck(pitches: list[int]) -> Floats:
    """Any of the notes that are struck together, or a slip."""
    return np.asarray(sum(_slipping(midi) for midi in pitches) / len(pitches))


def solo_drafts(form: Form, likes: Soloing) -> list[PlaceDraft]:
    """The quavers, swung and straight, and what lies between them."""
    rows: dict[tuple[Chord, bool], Floats] = {}
    drafts = []
    pulse = form.metre.pulse
    strikes = likes.strikes.compound if form.metre.compound else likes.strikes.simple
    chances = sorted((Fraction(part), strike) for part, strike in strikes.items())
    for n in range(int(form.length / pulse)):
        for part, strike in chances:
            beat, on = n * pulse + part, part == 0
            chord = form.chord_at(beat).chord
            if (chord, on) not in rows:
                rows[chord, on] = _spread(
                    _improvised(chord, *(likes.on_beat if on else likes.off_beat)), 50, 92, 70, 10
                )
            scatter = 0.05 if on else 0.065 if strike > 0.2 else 0.03
            late = likes.laid_back if on else 0.0
            drafts.append(PlaceDraft(beat, strike, rows[chord, on], 0.05, scatter, swung(form, beat), late))
    return drafts


def swings(form: Form) -> bool:
    """Whether off-beat quavers are late in a form's feel."""
    return not form.metre.compound and swing_ratio(MEDIUM, form.feel) > EVEN_RATIO


def swung(form: Form, beat: Fraction) -> float:
    """How much of the swing's delay an onset there takes: all on the off-beat quaver, none on beats and triplets."""
    if not swings(form):
        return 0.0
    part = beat % 1
    if part == Fraction(1, 2):
        return 1.0
    return 0.5 if part in (Fraction(1, 4), Fraction(3, 4)) else 0.0


def _loose(beat: Fraction) -> float:
    return 0.0 if (beat % 1) == 0 else 0.02


def _slipping(midi: int) -> Floats:
    """The right note, its neighbours, its octaves, or anything."""
    row = np.full(128, 0.02 / 128)
    row[midi] += 0.92
    for step, share in ((1, 0.012), (2, 0.012), (12, 0.012)):
        for near in (midi - step, midi + step):
            if 0 <= near < 128:
                row[near] += share
    return np.asarray(row / row.sum())


def _spread(pcs: Floats, low: int, high: int, centre: float, width: float) -> Floats:
    """Pitch classes laid out over a register that fades from its centre (MIDI numbers)."""
    midi = np.arange(128)
    shape = np.exp(-0.5 * ((midi - centre) / width) ** 2) * ((midi >= low) & (midi <= high)) + 2e-3
    shape /= shape.sum()
    row = shape * pcs[midi % 12] * 12
    return np.asarray(row / row.sum())


def _weighed(chord: Chord, share: Callable[[str], float], floor: float) -> Floats:
    """Pitch classes by the degree they are."""
    if not chord.is_chord or chord.root is None:
        return EVEN.copy()
    pcs = np.full(12, floor)
    for tone in (*chord.tones, *chord.available):
        pc = (chord.root.pc + tone.semitones) % 12
        pcs[pc] = max(pcs[pc], share(str(tone)))
    return np.asarray(pcs / pcs.sum())


def _voiced(chord: Chord, likes: Comping) -> Floats:
    return _weighed(chord, lambda degree: likes.degrees.get(degree, likes.other_degrees), 0.008)


def _improvised(chord: Chord, tones: float, scale: float) -> Floats:
    """Pitch classes with so much of them on chord notes, so much on the scale's other notes, the rest outside."""
    if not chord.is_chord:
        return EVEN.copy()
    pcs = np.zeros(12)
    inside = set(chord.pitch_classes)
    scales = scales_for(chord)
    others = set(scales[0].pitch_classes) - inside if scales else set()
    outside = set(range(12)) - inside - others
    for group, share in ((inside, tones), (others, scale), (outside, 1 - tones - scale)):
        pcs[list(group)] = share / max(1, len(group))
    return np.asarray(pcs / pcs.sum())


def _walked(here: Chord, coming: Chord, arrives: bool, leaves: bool) -> Floats:
    """A walking bass note: the root as a chord begins, an approach before the next, chord and scale notes between."""
    pcs = _improvised(here, 0.6, 0.25)
    if arrives and here.bass_name:
        pcs *= 0.25
        pcs[here.bass_name.pc] += 0.75
    elif leaves and coming.bass_name:
        goal = coming.bass_name.pc
        pcs *= 0.35
        for step, share in ((1, 0.2), (-1, 0.2), (2, 0.06), (-2, 0.06), (7, 0.08), (5, 0.05)):
            pcs[(goal + step) % 12] += share
    return _spread(pcs / pcs.sum(), 26, 60, 42, 7)


def _company(form: Form, you: frozenset[str], likes: Comping) -> Floats:
    """Log probabilities of the pitches of notes that belong to no place, by quarter: shape (quarters, 128)."""
    cells = max(1, int(np.ceil(float(form.length))))
    loose = np.full(128, 0.3 / 128)
    loose[48:88] += 0.7 / 40
    if you <= {"melody"} or you <= {"solo"} or you <= {"bass"}:
        return np.asarray(np.log(np.tile(loose / loose.sum(), (cells, 1))))
    voiced = [_voiced(form.chord_at(n).chord, likes) for n in range(cells)]
    rows = [0.3 * loose / loose.sum() + 0.7 * _spread(pcs, 45, 82, 60, 7) for pcs in voiced]
    return np.asarray(np.log(np.array(rows)))


def _firsts(form: Form, beats: Floats) -> NDArray[np.bool_]:
    """The first place of each section."""
    first = np.zeros(len(beats), bool)
    first[np.searchsorted(beats, [float(section.start) - 1e-9 for section in form.sections]) % len(beats)] = True
    return first


def _tops(form: Form, beats: Floats, strike: Floats, pickup: float) -> NDArray[np.bool_]:
    """Where a player who begins at the top strikes first: a melody's first note, in the pickup if there is one;
    anywhere in the first two bars where no stroke is promised."""
    if strike.max() < PROMISED:
        return np.asarray(beats < 2 * float(form.metre.bar))
    top = np.zeros(len(beats), bool)
    top[np.searchsorted(beats, (-pickup) % float(form.length) - 1e-9) % len(beats)] = True
    return top


def _openings(form: Form, beats: Floats) -> NDArray[np.bool_]:
    """Where phrases begin: after a gap of two beats, and at the first onset of a section (common practice)."""
    after_rest = np.diff(beats, prepend=beats[-1] - float(form.length)) >= 2.0
    if not after_rest.any():
        # No gaps to tell phrases by: four bars each.
        downbeats = [float(form.bars[n]) for place in form.sections for n in _bars_of(form, place)[::4]]
        after_rest[np.searchsorted(beats, np.array(downbeats) - 1e-9) % len(beats)] = True
    return after_rest | _firsts(form, beats)


def _bars_of(form: Form, place: FormSection) -> list[int]:
    return [n for n, start in enumerate(form.bars) if place.start <= start < place.end]


def _places(
    form: Form,
    drafts: list[PlaceDraft],
    other: Floats,
    others: float,
    leap: float = 1.0,
    rest: float = 0.004,
    resume: float = 1.0,
    rhythm: OnsetTable | None = None,
    pickup: float = 0.0,
) -> Places:
    if not drafts:
        raise ValueError("a role without a single place can't be followed")
    period = float(form.length)
    laid = sorted(((float(s.beat) % period, s) for s in drafts), key=lambda one: one[0])
    rows: dict[int, int] = {}
    table: list[Floats] = []
    for _, draft in laid:
        if id(draft.row) not in rows:
            rows[id(draft.row)] = len(table)
            table.append(draft.row)
    beats = np.array([beat for beat, _ in laid])
    strike = np.array([s.strike for _, s in laid])
    opening = _openings(form, beats)
    if pickup:  # a phrase of its own, however short the rest before it is
        opening[np.searchsorted(beats, (-pickup) % period - 1e-9) % len(beats)] = True
    return Places(
        period=period,
        beat=beats,
        opening=opening,
        bar=float(form.metre.bar),
        pulse=float(form.metre.pulse),
        first=_firsts(form, beats),
        top=_tops(form, beats, strike, pickup),
        leap=leap,
        rest=rest,
        resume=resume,
        rhythm=rhythm,
        swung=np.array([s.swung for _, s in laid]),
        strike=strike,
        again=np.array([s.again for _, s in laid]),
        scatter=np.array([s.scatter for _, s in laid]),
        row=np.array([rows[id(s.row)] for _, s in laid]),
        pitch=np.log(np.array(table)),
        other=other,
        others=others,
        late=np.array([s.late for _, s in laid]),
    )
