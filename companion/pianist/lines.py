"""Lines of the built-in player over the changes: melody, comping, walking bass, solo; and slips.

They are made here, simply, and not by the arranger, so that the follower isn't tested on lines of the arranger's own.
Roots on new chords, approaches from a semitone, a step or a fifth; rootless voicings with third and seventh around
middle C; chord notes on the beat and scale notes between (all common practice).

Conventions: beats and lengths in quarters of one chorus, as floats, written (swing is put on in
:mod:`companion.pianist.player`); MIDI numbers. Everything is drawn from the ``dice`` handed in.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

from companion.chart.model import ChordSpan, Form
from companion.messages import Hand, NoteKind
from companion.music.chords import Chord
from companion.preferences import preferences
from companion.preferences.players import (
    AnswerLine,
    BarRhythm,
    BassLine,
    Graces,
    Lines,
    PlayerManner,
    PlayerPreferences,
    SoloLine,
)

MAJOR = (0, 2, 4, 5, 7, 9, 11)
MINOR = (0, 2, 3, 5, 7, 8, 10)


@dataclass(frozen=True)
class IntendedNote:
    """A note as the player means it."""

    beat: float
    length: float
    midi: int
    weight: float = 1.0
    """How hard against the player's level."""
    lag: float = 0.0
    """Seconds by which it is meant to come after its beat."""
    swing: float | None = None
    """Long to short of the quavers in this phrase; None: the player's usual."""
    hand: Hand = "right"
    kind: NoteKind = "right"
    meant: int | None = None
    """The MIDI number that is written, when another one is struck."""


def melody_line(form: Form) -> list[IntendedNote]:
    """The melody as written; a pickup has negative beats."""
    return [IntendedNote(float(n.beat), float(n.length), n.pitch.midi) for n in form.melody]


def with_slips(line: Sequence[IntendedNote], dice: Random, manner: PlayerManner) -> list[IntendedNote]:
    """The line with notes struck wrong, left out, graced, and phrases in octaves, as often as the manner says.

    What is left out stays in the line as 'missing'. Graces and octaves are the right hand's, and 'extra'.
    """
    graces = preferences(PlayerPreferences).lines.graces
    played: list[IntendedNote] = []
    in_octaves, last = False, -10.0
    for note in line:
        if note.hand == "right":
            if note.beat - last > 0.4:  # a phrase begins
                in_octaves = dice.random() < manner.octaves
            last = note.beat + min(note.length, 1.5)
        fate = dice.random()
        if fate < manner.left_out:
            played.append(replace(note, kind="missing"))
            continue
        if fate < manner.left_out + manner.wrong:
            note = replace(note, midi=note.midi + dice.choice((-2, -1, 1, 2)), kind="wrong", meant=note.midi)
        elif fate < manner.left_out + manner.wrong + manner.ornaments and note.hand == "right":
            played += _ornament(graces, note, dice)
        played.append(note)
        if in_octaves and note.hand == "right":
            played.append(
                replace(note, midi=note.midi - 12, weight=note.weight * graces.octave, kind="extra", meant=None)
            )
    return played


def _ornament(taste: Graces, note: IntendedNote, dice: Random) -> list[IntendedNote]:
    """Grace notes into a note, or a turn on it; they last a fixed time, whatever the tempo."""
    below, above = note.midi - dice.choice((1, 2)), note.midi + dice.choice((1, 2))
    pace = dice.uniform(*taste.pace)
    kind = dice.random()
    pitches = [above, note.midi, below]
    if kind < taste.below + taste.above:
        pitches = [below] if kind < taste.below else [above]
    return [
        replace(note, midi=p, length=0.15, lag=note.lag - pace * (len(pitches) - k), weight=taste.weight, kind="extra")
        for k, p in enumerate(pitches)
    ]


def scale_at(chord: Chord, form: Form) -> tuple[int, ...]:
    """Pitch classes that go with a chord: the key's scale, bent to hold every chord tone."""
    tonic = (form.fifths * 7 + (9 if form.minor else 0)) % 12
    scale = {(tonic + s) % 12 for s in (MINOR if form.minor else MAJOR)}
    tones = set(chord.pitch_classes)
    for tone in tones - scale:
        scale -= {(tone + 1) % 12, (tone - 1) % 12} - tones
        scale.add(tone)
    return tuple(sorted(scale))


def voicing(
    taste: Lines, chord: Chord, before: Sequence[int], dice: Random, *, to_minor: bool = False, below: int = 127
) -> list[int]:
    """Two to four rootless notes, near the last ones and under ``below``; empty for the no-chord."""
    if not chord.root:
        return []
    family = "7alt" if to_minor and chord.quality == "7" else chord.quality
    shapes = taste.voicings.of.get(family) or (tuple(t.semitones for t in chord.tones[-3:]),) * 2
    of_chord = {(p - chord.root.pc) % 12 for p in chord.pitch_classes}
    lowest, highest = taste.chords.lowest
    found = []
    for shape in shapes:
        bent = [_bent(s, of_chord) for s in shape]
        for root in range(chord.root.pc + 24, 84, 12):
            notes = [root + s for s in bent if root + s < below]
            if len(notes) > 1 and lowest <= notes[0] <= highest:
                found.append(notes)
    if not found:
        return []
    centre = sum(before) / len(before) if before else taste.chords.centre
    notes = min(found, key=lambda v: (-len(v), abs(sum(v) / len(v) - centre), v))
    size = dice.choices((4, 3, 2), taste.chords.sizes)[0]
    kept = [n for n in notes if (n - chord.root.pc) % 12 in (3, 4, 5, 9, 10, 11)]
    colours = [n for n in notes if n not in kept]
    dice.shuffle(colours)
    return sorted((kept[:size] + colours)[:size])


def _bent(semitones: int, of_chord: set[int]) -> int:
    """A colour of the usual voicing bent to what the symbol says: b9 or #9, b13, b5 in place of the natural ones."""
    pc = semitones % 12
    if pc == 2 and 2 not in of_chord:
        return semitones - 1 if 1 in of_chord else semitones + 1 if {3, 4} <= of_chord else semitones
    if pc in (7, 9) and pc not in of_chord and 8 in of_chord:
        return semitones + (8 - pc)
    return semitones - 1 if pc == 7 and 7 not in of_chord and 6 in of_chord else semitones


def comping_line(form: Form, rhythms: Mapping[float, Sequence[BarRhythm]], dice: Random) -> list[IntendedNote]:
    """Rootless chords for the left hand in syncopated rhythms, one rhythm a bar and never the same twice running."""
    taste = preferences(PlayerPreferences).lines
    line: list[IntendedNote] = []
    hand: list[int] = []
    last: BarRhythm | None = None
    for start, length in _bars(form):
        choices = rhythms.get(length) or (((0.0, length / 2),), ((length / 2, length / 4),), ((0.5, 1.0),))
        rhythm = dice.choice([r for r in choices if r is not last] or choices)
        last = rhythm
        for at, lasts in rhythm:
            beat = start + at
            span = _meant(form, beat)
            hand = voicing(taste, span.chord, hand, dice, to_minor=_to_minor(form, span)) or hand
            if span.chord.is_chord and dice.random() > taste.chords.left_out:
                until = _end_of(form, span, beat)
                held = max(0.3, min(lasts * dice.uniform(*taste.chords.held), until - beat))
                line += [IntendedNote(beat, held, n, dice.uniform(*taste.chords.weight), hand="left") for n in hand]
    return line


def answers(form: Form, melody: Sequence[IntendedNote], dice: Random) -> list[IntendedNote]:
    """Rootless chords in the melody's gaps: where it rests, and where a long note has begun.

    Now and then the fourth voice comes late, as a line of its own.
    """
    taste = preferences(PlayerPreferences).lines
    line: list[IntendedNote] = []
    hand: list[int] = []
    for k, note in enumerate(melody):
        after = melody[k + 1].beat if k + 1 < len(melody) else float(form.length)
        for beat in _openings(taste.answers, note, after, dice):
            span = _meant(form, beat)
            hand = voicing(taste, span.chord, hand, dice, to_minor=_to_minor(form, span), below=note.midi)
            held = max(0.4, min(after - 0.1, _end_of(form, span, beat)) - beat)
            late = len(hand) == 4 and held > 1.9 and dice.random() < taste.answers.late
            for v, n in enumerate(hand):
                step = dice.choice((0.5, 1.0)) if late and v == len(hand) - 1 else 0.0
                line.append(IntendedNote(beat + step, held - step, n, taste.answers.weight, hand="left"))
    return line


def _openings(taste: AnswerLine, note: IntendedNote, after: float, dice: Random) -> list[float]:
    """Beats on which a chord can answer a melody note before the next one comes."""
    rest = after - (note.beat + note.length)
    wait = dice.choice(taste.wait)
    if after - note.beat < wait + taste.room or (rest < 0.4 and note.length < 1.4) or dice.random() < taste.left_out:
        return []
    beat = note.beat + note.length + dice.choice((0.0, 0.5)) if rest >= 1.5 else note.beat + wait
    found = [min(round(2 * beat) / 2, after - 0.5)]
    while after - found[-1] >= taste.gap and dice.random() < taste.again:
        found.append(found[-1] + dice.choice(taste.apart))
    return [b for b in found if b >= 0]


def walking_line(form: Form, dice: Random) -> list[IntendedNote]:
    """A bass line of one note a pulse, with a ghosted skip now and then."""
    taste = preferences(PlayerPreferences).lines.bass
    line: list[IntendedNote] = []
    note, pulse = dice.randint(*taste.begins), float(form.metre.pulse)
    for index, span in enumerate(form.chords):
        if not span.chord.is_chord:
            continue
        onward = form.chords[(index + 1) % len(form.chords)].chord
        beats = _pulses(form, span)
        for k, beat in enumerate(beats):
            note = _bass_note(taste, form, span.chord, onward, k, len(beats), note, dice)
            line.append(
                IntendedNote(beat, pulse, note, taste.backbeat if round(beat / pulse) % 2 else taste.beat, hand="left")
            )
            if pulse == 1 and dice.random() < taste.skips:
                line[-1] = replace(line[-1], length=0.5)
                line.append(IntendedNote(beat + 0.5, 0.4, note, taste.skip_weight, hand="left"))
    return line


def _bass_note(
    taste: BassLine, form: Form, chord: Chord, onward: Chord, k: int, n: int, last: int, dice: Random
) -> int:
    assert chord.bass_name is not None
    if k == 0:
        return _nearest(taste, chord.bass_name.pc, last, dice)
    if k == n - 1 and n > 1 and onward.bass_name is not None:
        goal = _nearest(taste, onward.bass_name.pc, last, dice)
        steps = dice.choices(list(taste.leads), list(taste.leads.values()))[0]
        approach = goal + steps
        if taste.lowest <= approach <= taste.highest and approach != last:
            return approach
    scale = scale_at(chord, form)
    reach = range(max(taste.lowest, last - 5), min(taste.highest, last + 5) + 1)
    near = [m for m in reach if m % 12 in scale and m != last]
    weights = [
        (taste.chord_tone if m % 12 in chord.pitch_classes else 1.0) / (1 + abs(abs(m - last) - 2)) for m in near
    ]
    return dice.choices(near, weights)[0] if near else last


def _nearest(taste: BassLine, pc: int, note: int, dice: Random) -> int:
    found = [m for m in range(taste.lowest, taste.highest + 1) if m % 12 == pc]
    return min(found, key=lambda m: (abs(m - note) + dice.random(), m))


def solo_line(form: Form, dice: Random, manner: PlayerManner) -> list[IntendedNote]:
    """An improvised line: quavers mostly, chord notes on the beat, scale notes and approaches between.

    A loose player (``behind_ms`` above 0) lies behind the beat, changes the swing from phrase to phrase, begins phrases
    anywhere, groups in threes across the bar, bursts into semiquavers, rests up to two bars and steps outside.
    """
    line: list[IntendedNote] = []
    taste = preferences(PlayerPreferences).lines.solo
    at, note, length = 0.0, dice.randint(*taste.begins), float(form.length)
    while at < length - 0.5:
        phrase = _phrase(taste, form, at, note, dice, manner)
        line += [n for n in phrase if n.beat < length]
        at = phrase[-1].beat + phrase[-1].length
        note = phrase[-1].midi
        loose = manner.behind_ms[1] > 0
        at += dice.choice(taste.rests_loose if loose else taste.rests)
        at = round(2 * at) / 2 if loose or dice.random() < 0.5 else float(round(at)) - 0.5
    return line


def _phrase(
    taste: SoloLine, form: Form, at: float, note: int, dice: Random, manner: PlayerManner
) -> list[IntendedNote]:
    loose = manner.behind_ms[1] > 0
    lag = dice.uniform(*manner.behind_ms) / 1000
    swing = dice.uniform(*taste.swing_loose) if loose and not form.metre.compound else None
    end = at + dice.uniform(*taste.phrase)
    direction, phrase = dice.choice((-1, 1)), []
    while at < end:
        step, pattern = _figure(taste, dice, loose)
        for _ in range(pattern):
            note, direction = _next_note(taste, form, at, note, direction, dice, manner.outside)
            on_beat = abs(at - round(at)) < 0.01
            weight = dice.uniform(*taste.weight) + taste.on_beat * on_beat
            phrase.append(IntendedNote(at, step, note, weight, lag if on_beat else lag * 0.3, swing))
            at += step
        at = round(at * 12) / 12
    return phrase


def _figure(taste: SoloLine, dice: Random, loose: bool) -> tuple[float, int]:
    """Length of a note, and how many of them: quavers, a crotchet, triplets, a burst, threes across the bar line."""
    kinds = (*taste.figures, *taste.figures_loose) if loose else taste.figures
    quarters, notes, _ = dice.choices(kinds, [often for _, _, often in kinds])[0]
    return quarters / notes, notes


def _next_note(
    taste: SoloLine, form: Form, at: float, note: int, direction: int, dice: Random, outside: float
) -> tuple[int, int]:
    chord = form.chord_at(at).chord
    scale = scale_at(chord, form)
    wanted = (
        chord.pitch_classes
        if abs(at - round(at)) < 0.01 and chord.is_chord and dice.random() < taste.on_chord
        else scale
    )
    if note >= taste.highest - 3 or note <= taste.lowest + 3:
        direction = -1 if 2 * note > taste.lowest + taste.highest else 1
    elif dice.random() < taste.turns:
        direction = -direction
    leap = dice.choices(list(taste.steps), list(taste.steps.values()))[0]
    found = note + direction * leap
    for distance in range(8):
        if found % 12 in wanted and found != note:
            break
        found += direction if distance or direction > 0 else -1
    if dice.random() < outside:
        found += dice.choice((-1, 1))
    return max(taste.lowest, min(taste.highest, found)), direction


def last_chord(
    form: Form, beat: float, parts: frozenset[str], before: Sequence[IntendedNote], dice: Random
) -> list[IntendedNote]:
    """What is struck last and held: the root in the bass, a chord, or the tonic where the melody was."""
    taste = preferences(PlayerPreferences).lines
    chord, length = form.chord_at(beat).chord, 6.0
    if chord.root is None:
        return []
    found = []
    if "bass" in parts:
        found.append(IntendedNote(beat, length, _nearest(taste.bass, chord.root.pc, 36, dice), hand="left"))
    if "chords" in parts:
        found += [IntendedNote(beat, length, n, 0.95, hand="left") for n in voicing(taste, chord, (), dice)]
    if parts & {"melody", "solo"}:
        near = before[-1].midi if before else 72
        top = min((m for m in range(60, 85) if m % 12 == chord.root.pc), key=lambda m: abs(m - near))
        found.append(IntendedNote(beat, length, top))
    return found


def _bars(form: Form) -> Iterator[tuple[float, float]]:
    """Start and length of every bar in quarters."""
    starts = [float(b) for b in form.bars]
    for start, end in zip(starts, [*starts[1:], float(form.length)], strict=True):
        yield start, end - start


def _pulses(form: Form, span: ChordSpan) -> list[float]:
    """The pulses of the metre on which a chord rules."""
    pulse = form.metre.pulse
    first = -(-span.start // pulse)
    return [float(k * pulse) for k in range(int(first), int(-(-span.end // pulse)))]


def _meant(form: Form, beat: float) -> ChordSpan:
    """The chord that a player means at a beat: on the last quaver before a new chord already the new one."""
    span = form.chord_at(beat)
    after = form.chord_at(beat + 0.5)
    return after if beat % 1 and after.start != span.start else span


def _end_of(form: Form, span: ChordSpan, beat: float) -> float:
    """Where the chord meant at a beat ends, in the beats of that chorus."""
    end = float(span.end)
    return end if end > beat else end + float(form.length)


def _to_minor(form: Form, span: ChordSpan) -> bool:
    """A dominant a fifth above a minor chord that follows it."""
    after = form.chord_at(span.end).chord
    return bool(
        span.chord.root
        and after.root
        and after.quality.startswith("m")
        and not after.quality.startswith("maj")
        and (span.chord.root.pc - after.root.pc) % 12 == 7
    )
