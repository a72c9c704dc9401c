"""What an audit counts in small charts, as they are arranged and as they are spoiled, written out.

What stands here is what is counted today, each figure with its targets: it is kept as in :mod:`test_written_out`, and
for the same reason. When an audit changes it, look at whether the new count is the right one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise

import pytest

from companion.arrange.audit.arrangement import figures
from companion.arrange.audit.figures import AuditFigure
from companion.arrange.audit.solo import solo_figures
from companion.arrange.audit.touch import touch_figures
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.arrange.solo.part import improvised_line
from companion.arrange.solo.story import SoloChorus
from companion.arrange.touch.performed import performed
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key
from tests.arrange.behaviour.test_corners_written_out import CHARTS
from tests.arrange.behaviour.test_solos_written_out import TUNES
from tests.arrange.behaviour.test_written_out import rows

Composer = Callable[..., Form]


def told(figure: AuditFigure) -> str:
    """A figure in one line, with its targets and the first places."""
    low, high = ("" if bound is None else f"{bound:g}" for bound in (figure.at_least, figure.at_most))
    bounds = f" [{low}..{high}]" if low or high else ""
    places = f" ({'; '.join(figure.places[:2])})" if figure.places else ""
    return f"{figure.name}: {figure.value:.3f} of {figure.of}{bounds}{places}"


def spoilt_bass(bass: Sequence[Note]) -> list[Note]:
    """Every fifth note a third higher, every seventh a quaver late, every eleventh repeats the one before."""
    found = list(bass)
    for n in range(1, len(found)):
        if n % 5 == 0:
            found[n] = replace(found[n], pitch=pitch_in_key(found[n].midi + 4))
        if n % 7 == 0:
            found[n] = replace(found[n], beat=found[n].beat + Fraction(1, 2))
        if n % 11 == 0:
            found[n] = replace(found[n], pitch=found[n - 1].pitch)
    return sorted(found, key=lambda note: note.beat)


def spoilt_chords(chords: Sequence[Note]) -> list[Note]:
    """Every third note a tone higher, those of every other bar a crotchet late and twice as long."""
    found = []
    for n, note in enumerate(chords):
        late = int(note.beat // 4) % 2
        found.append(
            replace(
                note,
                beat=note.beat + late,
                length=note.length * (1 + late),
                pitch=pitch_in_key(note.midi + 2) if n % 3 == 0 else note.pitch,
            )
        )
    return sorted(found, key=lambda note: note.beat)


@cache
def arranged(name: str, compose: Composer) -> tuple[Form, str, list[tuple[Note, ...]]]:
    changes, treatment, as_told = CHARTS[name]
    form = compose(changes, **as_told)
    parts = ("bass", "chords", "melody")
    return form, treatment, [arrange(form, part, Request(treatment, chorus=2, seed=1)) for part in parts]


def counted(compose: Composer, name: str) -> list[str]:
    """Two choruses as arranged, and between them one that is spoilt."""
    form, treatment, (bass, chords, melody) = arranged(name, compose)
    basses, comped = [bass, spoilt_bass(bass), bass], [chords, spoilt_chords(chords), chords]
    found = figures(form, plan(form, treatment), basses, comped, 2, [melody] * 3)
    return [told(figure) for figure in found if figure.of]


def improvised(compose: Composer, name: str) -> list[str]:
    """Two solos of two choruses, the second of which says the first chorus twice, with leaps and notes held."""
    changes, as_told = TUNES[name]
    form = compose(changes, **as_told)
    good = [improvised_line(form, place=SoloChorus(time, 2), seed=4) for time in (1, 2)]
    bad = [replace(n, pitch=pitch_in_key(n.midi + 13 * (k % 9 == 0))) for k, n in enumerate(good[0])]
    held = [replace(a, length=b.beat - a.beat) for a, b in pairwise(bad)]
    return [told(figure) for figure in solo_figures(form, [good, [held, held]])]


def struck(compose: Composer, name: str) -> list[str]:
    """The hand that plays it twice, and once on the spot."""
    form, _, parts = arranged(name, compose)
    notes = [note for part in parts for note in part] + list(improvised_line(form, seed=2))
    played = [performed(form, notes, seed) for seed in (1, 2)]
    played.append([replace(one, start=one.place) for one in played[0]])
    return [told(figure) for figure in touch_figures(form, played)]


COUNTED = {
    "walking over silences": """
root on the first beat of a new chord: 0.897 of 39 [0.95..] (bar 5 beat 1; bar 6 beat 3)
the last note before a new chord leads to it: 0.917 of 36 [0.9..] (bar 4 beat 4; bar 6 beat 4.5)
leaps over a fifth, octaves apart: 0.033 of 90 [..0.03] (bar 5 beat 2; bar 7 beat 4)
the same pitch twice running: 0.011 of 90 [..0.03] (bar 7 beat 1)
the same pitch three times: 0.000 of 90 [..0]
notes between changes of direction: 2.342 of 89 [2..6]
third or seventh in bars of one chord: 1.000 of 6 [0.7..]
share of the commonest pattern of degrees: 0.000 of 1 [..0.15]
choruses with the same line: 0.000 of 1 [..0]
bars shared between two choruses, at most: 0.250 of 1 [..0.25]
a chord tone on the third beat of a bar of one chord: 0.500 of 6 [0.75..] (bar 5 beat 3; bar 5 beat 3)
two chord tones on the first three beats of such a bar: 0.833 of 6 [0.95..] (bar 5 beat 1)
bars of one chord that begin with its third: 0.833 of 6
approaches by a semitone: 0.533 of 30
approaches by a step: 0.267 of 30
approaches from a fourth or fifth away: 0.100 of 30 [0.1..0.2]
phrases with a direction: 1.000 of 6 [0.75..]
phrases with one high or one low point: 0.500 of 6 [0.85..] (bar 1 beat 1; bar 1 beat 1)
phrases that end with a fill: 1.000 of 6 [0.3..0.8]
outside E1 to G3: 0.010 of 99 [..0] (bar 7 beat 4)
neither chord, scale, passing nor leading note: 0.040 of 99 [..0] (bar 5 beat 1 B2; bar 5 beat 1.5 B2)
clashes with the melody: 0.067 of 30 [..0] (bar 5 beat 1.5: Eb4 E4 G4; bar 5 beat 4: C4 D4 Eb4 A4)
below the low limits: 0.000 of 30 [..0]
wider than a hand: 0.000 of 30 [..0]
above a sounding melody note: 0.000 of 30 [..0]
rootless voicings with the root in them: 0.000 of 18 [..0]
rootless voicings without third and seventh: 0.278 of 18 [..0] (bar 4 beat 3: F4 F4 Ab4; bar 6 beat 3.5: C4 D4 A4 Bb4)
movement of a voice between chords, semitones: 2.562 of 48 [..2]
bars running with one rhythm of the chords: 1.000 of 1 [..4]
chords struck with a moving melody note: 0.033 of 30 [..0.03] (bar 5 beat 1.5)
bars without a melody note left unanswered: 0.000 of 6 [..0.05]
the chords' top voice stands still: 0.296 of 27 [..0.25] (bar 5 beat 4; bar 7 beat 3.5)
the very same voicing again: 0.222 of 27 [..0.1] (bar 7 beat 3.5; bar 7 beat 4.5)
leaps of the top voice, over a third: 0.474 of 19 [..0.25] (bar 1 beat 3; bar 4 beat 2)
rootless chords in gaps with two or three notes: 0.800 of 30 [0.2..0.9]
a hand holds more than a ninth: 0.000 of 31 [..0.05]
a hand holds more than a tenth: 0.000 of 31 [..0]
a hand holds more than five notes: 0.000 of 31 [..0]
chords over a slash bass without their root: 0.000 of 12 [..0]
notes of bass and chords where no chord is written: 0.015 of 195 [..0] (bar 2 beat 3: A4; bar 2 beat 3: Ab4)
chords with a note outside the scale that is named: 0.069 of 29 [..0] (bar 5 beat 1.5: Eb4 E4 G4; bar 6 beat 3.5: C4 D4 A4 Bb4)
bars that answer the melody or are of a riff: 0.333 of 18 (bar 1; bar 5)
bars of a riff: 2.000 of 3
bars running with one rhythm, or two in turn: 3.000 of 1 [..4]
bars with the commonest rhythm of two chords: 0.167 of 18
a new chord a quaver after one on the last beat: 0.000 of 18
early chords where the harmony turns: 1.000 of 2
""",  # noqa: E501
    "walking slowly on one chord": """
root on the first beat of a new chord: 0.889 of 9 [0.95..] (bar 5 beat 1)
the last note before a new chord leads to it: 0.833 of 6 [0.9..] (bar 4 beat 4.5)
leaps over a fifth, octaves apart: 0.031 of 129 [..0.03] (bar 3 beat 3; bar 6 beat 4)
the same pitch twice running: 0.031 of 129 [..0.03] (bar 3 beat 2; bar 5 beat 2)
the same pitch three times: 0.008 of 129 [..0] (bar 5 beat 2.5)
notes between changes of direction: 3.571 of 125 [2..6]
third or seventh in bars of one chord: 0.917 of 24 [0.7..] (bar 3; bar 5)
share of the commonest pattern of degrees: 0.000 of 1 [..0.15]
choruses with the same line: 0.000 of 1 [..0]
bars shared between two choruses, at most: 0.000 of 1 [..0.25]
a chord tone on the third beat of a bar of one chord: 0.667 of 24 [0.75..] (bar 1 beat 3; bar 5 beat 3)
two chord tones on the first three beats of such a bar: 0.792 of 24 [0.95..] (bar 3 beat 1; bar 4 beat 1)
bars of one chord that begin with its third: 0.208 of 24
approaches by a semitone: 1.000 of 5
approaches by a step: 0.000 of 5
approaches from a fourth or fifth away: 0.000 of 5 [0.1..0.2]
phrases with a direction: 1.000 of 6 [0.75..]
phrases with one high or one low point: 1.000 of 6 [0.85..]
beats of a slow walk that are subdivided: 0.333 of 96 [0.15..0.6]
outside E1 to G3: 0.000 of 132 [..0]
neither chord, scale, passing nor leading note: 0.091 of 132 [..0] (bar 1 beat 4.5 Ab2; bar 3 beat 1 F#3)
clashes with the melody: 0.067 of 45 [..0] (bar 3 beat 2: F4 C5 F#5; bar 4 beat 3.5: G4 A4 C5)
below the low limits: 0.000 of 45 [..0]
wider than a hand: 0.000 of 45 [..0]
above a sounding melody note: 0.000 of 45 [..0]
rootless voicings with the root in them: 0.156 of 45 [..0] (bar 1 beat 4: F4 F#4 A4 D5; bar 5 beat 1.5: Eb4 F4 Gb4 C5)
rootless voicings without third and seventh: 0.222 of 45 [..0] (bar 1 beat 2: G4 A4 C5; bar 1 beat 4: F4 F#4 A4 D5)
movement of a voice between chords, semitones: 1.056 of 18 [..2]
bars running with one rhythm of the chords: 1.000 of 1 [..4]
chords struck with a moving melody note: 0.000 of 45 [..0.03]
the chords' top voice stands still: 0.405 of 42 [..0.25] (bar 1 beat 4; bar 4 beat 2.5)
the very same voicing again: 0.143 of 42 [..0.1] (bar 5 beat 3.5; bar 8 beat 4)
leaps of the top voice, over a third: 0.280 of 25 [..0.25] (bar 2 beat 2.5; bar 5 beat 2.5)
rootless chords in gaps with two or three notes: 0.800 of 45 [0.2..0.9]
a hand holds more than a ninth: 0.375 of 48 [..0.05] (bar 1 beat 2: F4 A4 C5 E5 A5; bar 1 beat 4: E4 F4 A4 C5 A5)
a hand holds more than a tenth: 0.146 of 48 [..0] (bar 1 beat 4: E4 F4 A4 C5 A5; bar 4 beat 2.5: F4 A4 C5 F5 Bb5)
a hand holds more than five notes: 0.188 of 48 [..0] (bar 6 beat 2.5: Gb4 Bb4 Db5 F5 F#5 Ab5; bar 1 beat 1: F4 F4 A4 A4 D5 D5 E5 A5)
notes of bass and chords where no chord is written: 0.000 of 270 [..0]
chords with a note outside the scale that is named: 0.044 of 45 [..0] (bar 1 beat 4: F4 F#4 A4 D5; bar 3 beat 2: F4 C5 F#5)
bars that answer the melody or are of a riff: 0.875 of 24 (bar 5; bar 5)
bars of a riff: 3.500 of 6
bars running with one rhythm, or two in turn: 4.000 of 1 [..4]
bars with the commonest rhythm of two chords: 0.250 of 24
a new chord a quaver after one on the last beat: 0.000 of 24
early chords where the harmony turns: 1.000 of 2
""",  # noqa: E501
    "in two over silences": """
phrases in two with a pickup to the next: 1.000 of 6 [0.7..]
outside E1 to G3: 0.000 of 57 [..0]
neither chord, scale, passing nor leading note: 0.053 of 57 [..0] (bar 6 beat 3 C2; bar 8 beat 1 Db3)
clashes with the melody: 0.061 of 33 [..0] (bar 5 beat 1.5: Eb4 E4 G4; bar 6 beat 3: D4 D4 G4 C5)
below the low limits: 0.000 of 33 [..0]
wider than a hand: 0.000 of 33 [..0]
above a sounding melody note: 0.000 of 33 [..0]
rootless voicings with the root in them: 0.000 of 21 [..0]
rootless voicings without third and seventh: 0.190 of 21 [..0] (bar 4 beat 3: F4 F4 Ab4; bar 4 beat 4: E4 F4 Ab4)
movement of a voice between chords, semitones: 1.590 of 61 [..2]
bars running with one rhythm of the chords: 2.000 of 1 [..4]
chords struck with a moving melody note: 0.030 of 33 [..0.03] (bar 5 beat 1.5)
bars without a melody note left unanswered: 0.000 of 6 [..0.05]
the chords' top voice stands still: 0.300 of 30 [..0.25] (bar 4 beat 3; bar 5 beat 4.5)
the very same voicing again: 0.000 of 30 [..0.1]
leaps of the top voice, over a third: 0.429 of 21 [..0.25] (bar 1 beat 3.5; bar 4 beat 2)
rootless chords in gaps with two or three notes: 0.909 of 33 [0.2..0.9]
a hand holds more than a ninth: 0.061 of 33 [..0.05] (bar 6 beat 4.5: D4 D4 G4 C5 Ab5; bar 7 beat 1: Eb4 F4 Db5 Ab5)
a hand holds more than a tenth: 0.061 of 33 [..0] (bar 6 beat 4.5: D4 D4 G4 C5 Ab5; bar 7 beat 1: Eb4 F4 Db5 Ab5)
a hand holds more than five notes: 0.091 of 33 [..0] (bar 4 beat 4: E4 F4 F4 F4 Ab4 Ab4 C5; bar 5 beat 1.5: Eb4 E4 E4 F4 G4 G4 Ab4)
chords over a slash bass without their root: 0.100 of 10 [..0] (bar 5 beat 4.5: D4 D4 G4)
notes of bass and chords where no chord is written: 0.019 of 156 [..0] (bar 2 beat 3: A4; bar 2 beat 3: Ab4)
chords with a note outside the scale that is named: 0.094 of 32 [..0] (bar 5 beat 1.5: Eb4 E4 G4; bar 6 beat 3: D4 D4 G4 C5)
bars that answer the melody or are of a riff: 0.444 of 18 (bar 1; bar 2)
bars of a riff: 2.000 of 2
bars running with one rhythm, or two in turn: 2.000 of 1 [..4]
bars with the commonest rhythm of two chords: 0.222 of 18
a new chord a quaver after one on the last beat: 0.000 of 18
early chords where the harmony turns: 1.000 of 2
late voices found of those asked for: 0.000 of 3
""",  # noqa: E501
    "a bossa in four sections": """
bars of a section that keep its pattern: 0.806 of 36 [0.7..] (bar 2 beat 1; bar 3 beat 1)
sections whose last bar varies the pattern: 1.000 of 12 [0.8..]
outside E1 to G3: 0.000 of 189 [..0]
neither chord, scale, passing nor leading note: 0.016 of 189 [..0] (bar 2 beat 2.5 B2; bar 10 beat 1 E3)
clashes with the melody: 0.049 of 102 [..0] (bar 3 beat 2: A4 C5 F#5; bar 3 beat 3.5: A4 C5 F#5)
below the low limits: 0.000 of 102 [..0]
wider than a hand: 0.000 of 102 [..0]
above a sounding melody note: 0.010 of 102 [..0] (bar 3 beat 1.5: A4 E5 A5)
rootless voicings with the root in them: 0.088 of 102 [..0] (bar 1 beat 2: G4 Bb4 C5; bar 1 beat 3.5: G4 A4 Bb4 E5)
rootless voicings without third and seventh: 0.216 of 102 [..0] (bar 1 beat 2: G4 Bb4 C5; bar 2 beat 3: Bb4 D5 F#5)
movement of a voice between chords, semitones: 1.093 of 107 [..2]
bars running with one rhythm of the chords: 3.000 of 1 [..4]
chords struck with a moving melody note: 0.000 of 102 [..0.03]
the chords' top voice stands still: 0.232 of 99 [..0.25] (bar 2 beat 4.5; bar 3 beat 3.5)
the very same voicing again: 0.061 of 99 [..0.1] (bar 3 beat 3.5; bar 12 beat 3.5)
leaps of the top voice, over a third: 0.132 of 76 [..0.25] (bar 5 beat 3.5; bar 16 beat 1.5)
rootless chords in gaps with two or three notes: 0.882 of 102 [0.2..0.9]
a hand holds more than a ninth: 0.049 of 102 [..0.05] (bar 5 beat 1: F4 Ab4 C5 Bb5; bar 5 beat 1.5: D4 F4 G4 Ab4 Bb4 C5 Bb5)
a hand holds more than a tenth: 0.049 of 102 [..0] (bar 5 beat 1: F4 Ab4 C5 Bb5; bar 5 beat 1.5: D4 F4 G4 Ab4 Bb4 C5 Bb5)
a hand holds more than five notes: 0.108 of 102 [..0] (bar 1 beat 2: G4 A4 Bb4 C5 D5 D5 E5; bar 2 beat 4.5: Bb4 Bb4 D5 E5 F#5 A5 A5)
notes of bass and chords where no chord is written: 0.000 of 492 [..0]
chords with a note outside the scale that is named: 0.098 of 102 [..0] (bar 3 beat 2: A4 C5 F#5; bar 3 beat 3.5: A4 C5 F#5)
bars that answer the melody or are of a riff: 0.667 of 48 (bar 5; bar 13)
bars of a riff: 3.556 of 9
bars running with one rhythm, or two in turn: 4.000 of 1 [..4]
bars with the commonest rhythm of two chords: 0.333 of 48
a new chord a quaver after one on the last beat: 0.000 of 48
early chords where the harmony turns: 1.000 of 7
sections that come again with another ending: 1.000 of 1 [1..]
notes of a turned ending that are others: 1.000 of 2 [0.7..]
turned endings that close by step: 0.000 of 1 (bar 16 beat 1)
""",  # noqa: E501
    "a ballad over silences": """
outside E1 to G3: 0.000 of 72 [..0]
neither chord, scale, passing nor leading note: 0.028 of 72 [..0] (bar 6 beat 4 A2; bar 8 beat 1 E2)
clashes with the melody: 0.061 of 33 [..0] (bar 1 beat 2: D4 E4 G4; bar 5 beat 1.5: Bb3 D4 A4)
below the low limits: 0.000 of 33 [..0]
wider than a hand: 0.000 of 33 [..0]
above a sounding melody note: 0.030 of 33 [..0] (bar 5 beat 1.5: Bb3 D4 A4)
rootless voicings with the root in them: 0.095 of 21 [..0] (bar 4 beat 3: Bb3 C4 Eb4 G4; bar 4 beat 4: C4 D4 Eb4 Bb4)
rootless voicings without third and seventh: 0.238 of 21 [..0] (bar 2 beat 3: Bb3 C4 D4; bar 4 beat 3: Bb3 C4 Eb4 G4)
movement of a voice between chords, semitones: 1.014 of 69 [..2]
bars running with one rhythm of the chords: 1.000 of 1 [..4]
chords struck with a moving melody note: 0.030 of 33 [..0.03] (bar 5 beat 1.5)
bars without a melody note left unanswered: 0.000 of 6 [..0.05]
the chords' top voice stands still: 0.067 of 30 [..0.25] (bar 7 beat 2; bar 7 beat 2)
the very same voicing again: 0.000 of 30 [..0.1]
leaps of the top voice, over a third: 0.071 of 28 [..0.25] (bar 4 beat 3; bar 5 beat 4)
rootless chords in gaps with two or three notes: 0.455 of 33 [0.2..0.9]
a hand holds more than a ninth: 0.286 of 7 [..0.05] (bar 6 beat 3: A3 Bb3 C4 C5; bar 6 beat 3.5: A3 Bb3 C4 E4 C5)
a hand holds more than a tenth: 0.000 of 7 [..0]
a hand holds more than five notes: 0.000 of 7 [..0]
chords over a slash bass without their root: 0.083 of 12 [..0] (bar 5 beat 1.5: Bb3 D4 A4)
notes of bass and chords where no chord is written: 0.016 of 189 [..0] (bar 2 beat 3: Bb3; bar 2 beat 3: C4)
chords with a note outside the scale that is named: 0.031 of 32 [..0] (bar 6 beat 3: A3 Bb3 C4 E4)
bars that answer the melody or are of a riff: 0.167 of 18 (bar 1; bar 2)
bars running with one rhythm, or two in turn: 0.000 of 1 [..4]
bars with the commonest rhythm of two chords: 0.167 of 18
a new chord a quaver after one on the last beat: 0.000 of 18
early chords where the harmony turns: 1.000 of 2
late voices found of those asked for: 1.039 of 12
late voices that go on by step: 0.889 of 9 (bar 5 beat 1)
late voices in a line over four bars or more: 0.667 of 12 (bar 4 beat 3.5; bar 5 beat 1)
""",
    "sliding in four sections": """
outside E1 to G3: 0.000 of 48 [..0]
neither chord, scale, passing nor leading note: 0.042 of 48 [..0] (bar 11 beat 1 Db2; bar 12 beat 1 Db2)
bars running with one rhythm of the chords: 0.000 of 1 [..4]
notes of bass and chords where no chord is written: 0.000 of 354 [..0]
bars running with one rhythm, or two in turn: 0.000 of 1 [..4]
sliding fourths that land on the note asked for: 1.000 of 24 [1..]
routes from the other side than one before: 1.000 of 18 [0.8..]
routes with the rhythm of four bars before: 1.000 of 12 [0.7..]
""",
    "block chords over silences": """
phrases in two with a pickup to the next: 1.000 of 6 [0.7..]
outside E1 to G3: 0.000 of 63 [..0]
neither chord, scale, passing nor leading note: 0.048 of 63 [..0] (bar 4 beat 2 E2; bar 6 beat 3 C3)
clashes with the melody: 0.068 of 44 [..0] (bar 7 beat 1.5: C5 G5; bar 7 beat 2: Ab4 C5 G5)
below the low limits: 0.000 of 44 [..0]
wider than a hand: 0.023 of 44 [..0] (bar 5 beat 1.5: A3 Bb3 D4 Eb4 E4 F4 G4)
above a sounding melody note: 0.000 of 44 [..0]
rootless voicings with the root in them: 0.067 of 30 [..0] (bar 7 beat 3: Ab4 B4 G5; bar 8 beat 3: Eb4 Gb4 B4 C5)
rootless voicings without third and seventh: 0.233 of 30 [..0] (bar 4 beat 2.5: F4 F4 Ab4; bar 4 beat 4: E4 F4 Ab4)
movement of a voice between chords, semitones: 1.667 of 87 [..2]
bars running with one rhythm of the chords: 0.000 of 1 [..4]
the chords' top voice stands still: 0.244 of 41 [..0.25] (bar 4 beat 3; bar 7 beat 2)
the very same voicing again: 0.000 of 41 [..0.1]
leaps of the top voice, over a third: 0.323 of 31 [..0.25] (bar 1 beat 2.5; bar 4 beat 1.5)
a hand holds more than a ninth: 0.042 of 48 [..0.05] (bar 6 beat 4.5: C4 A4 Bb4 Ab5; bar 7 beat 1.5: C4 A4 Bb4 C5 G5 Ab5)
a hand holds more than a tenth: 0.042 of 48 [..0] (bar 6 beat 4.5: C4 A4 Bb4 Ab5; bar 7 beat 1.5: C4 A4 Bb4 C5 G5 Ab5)
a hand holds more than five notes: 0.146 of 48 [..0] (bar 1 beat 1: D4 D#4 E4 G4 Ab4 A4 C5; bar 5 beat 1.5: A3 Bb3 D4 Eb4 E4 F4 G4 G4)
chords over a slash bass without their root: 0.071 of 14 [..0] (bar 5 beat 3: Bb3 D4 F4 G4)
notes of bass and chords where no chord is written: 0.000 of 204 [..0]
chords with a note outside the scale that is named: 0.114 of 44 [..0] (bar 2 beat 2: Ab4 A4 D5; bar 5 beat 1.5: A3 Bb3 D4 Eb4 E4 F4 G4)
bars running with one rhythm, or two in turn: 0.000 of 1 [..4]
""",  # noqa: E501
    "walking fast over all kinds": """
root on the first beat of a new chord: 0.917 of 36 [0.95..] (bar 6 beat 1; bar 7 beat 1)
the last note before a new chord leads to it: 0.939 of 33 [0.9..] (bar 4 beat 4; bar 6 beat 4)
leaps over a fifth, octaves apart: 0.014 of 147 [..0.03] (bar 2 beat 3; bar 10 beat 3)
the same pitch twice running: 0.027 of 147 [..0.03] (bar 3 beat 4; bar 4 beat 4)
the same pitch three times: 0.000 of 147 [..0]
notes between changes of direction: 2.918 of 143 [2..6]
third or seventh in bars of one chord: 0.970 of 33 [0.7..] (bar 11)
share of the commonest pattern of degrees: 0.000 of 1 [..0.15]
choruses with the same line: 0.000 of 1 [..0]
bars shared between two choruses, at most: 0.167 of 1 [..0.25]
a chord tone on the third beat of a bar of one chord: 0.861 of 36 [0.75..] (bar 10 beat 3; bar 4 beat 3)
two chord tones on the first three beats of such a bar: 0.944 of 36 [0.95..] (bar 4 beat 1; bar 11 beat 1)
bars of one chord that begin with its third: 0.056 of 36
bars of a minor tonic that spell its subdominant: 0.000 of 3 [..0.02]
approaches by a semitone: 0.406 of 32
approaches by a step: 0.312 of 32
approaches from a fourth or fifth away: 0.219 of 32 [0.1..0.2]
phrases with a direction: 1.000 of 6 [0.75..]
phrases with one high or one low point: 1.000 of 6 [0.85..]
outside E1 to G3: 0.000 of 153 [..0]
neither chord, scale, passing nor leading note: 0.033 of 153 [..0] (bar 2 beat 2 Ab2; bar 6 beat 1 B2)
clashes with the melody: 0.000 of 78 [..0]
below the low limits: 0.000 of 78 [..0]
wider than a hand: 0.000 of 78 [..0]
above a sounding melody note: 0.000 of 78 [..0]
rootless voicings with the root in them: 0.105 of 57 [..0] (bar 3 beat 1.5: G#3 B#3 E4 F#4; bar 3 beat 2.5: B#3 E4 G#4)
rootless voicings without third and seventh: 0.140 of 57 [..0] (bar 3 beat 1.5: G#3 B#3 E4 F#4; bar 3 beat 2.5: B#3 E4 G#4)
movement of a voice between chords, semitones: 1.071 of 112 [..2]
bars running with one rhythm of the chords: 1.000 of 1 [..4]
the chords' top voice stands still: 0.067 of 75 [..0.25] (bar 2 beat 3; bar 4 beat 1.5)
the very same voicing again: 0.027 of 75 [..0.1] (bar 2 beat 3; bar 2 beat 3)
leaps of the top voice, over a third: 0.043 of 70 [..0.25] (bar 1 beat 4; bar 1 beat 4)
notes of bass and chords where no chord is written: 0.000 of 417 [..0]
chords with a note outside the scale that is named: 0.064 of 78 [..0] (bar 10 beat 1: Db4 F4 Ab4 Cb5; bar 4 beat 2.5: Bb3 B3 C#4 Ab4)
sus2, power and added-note chords with what isn't theirs: 0.238 of 21 [..0] (bar 1 beat 1: A3 C4 D4; bar 2 beat 2.5: D4 F4)
bars that answer the melody or are of a riff: 0.250 of 36 (bar 1; bar 5)
bars of a riff: 3.000 of 3
bars running with one rhythm, or two in turn: 3.000 of 1 [..4]
bars with the commonest rhythm of two chords: 0.167 of 36
a new chord a quaver after one on the last beat: 0.000 of 36
early chords where the harmony turns: 0.818 of 11 (bar 2 beat 4.5; bar 2 beat 4.5)
turns reached early, of those with room for it: 0.583 of 12 (bar 11 beat 1; bar 5 beat 1)
""",  # noqa: E501
}

IMPROVISED = {
    "blues": """
phrases that take up one of the last two: 0.200 of 10 [0.333333..]
highest note in the third quarter: 0.500 of 2 [0.9..] (at 0.36)
phrases of five bars at most: 0.833 of 12 [1..] (bar 1 beat 2; bar 1 beat 2)
phrases without a leap wider than an octave: 0.833 of 12 [1..]
chord tones on the beat: 0.885 of 78 [0.75..]
share of silence: 0.220 of 2 [0.2..0.5]
semitones from the first quarter up to the third: 2.182 of 2 [1..]
choruses that are another again: 0.250 of 2 [..0]
""",
    "lilting": """
phrases that take up one of the last two: 0.750 of 4 [0.333333..]
highest note in the third quarter: 0.500 of 2 [0.9..] (at 0.03)
phrases of five bars at most: 0.667 of 6 [1..] (bar 1 beat 2.5; bar 1 beat 2.5)
phrases without a leap wider than an octave: 0.667 of 6 [1..]
chord tones on the beat: 0.833 of 42 [0.75..]
share of silence: 0.240 of 2 [0.2..0.5]
semitones from the first quarter up to the third: 2.091 of 2 [1..]
choruses that are another again: 0.250 of 2 [..0]
""",
}

STRUCK = {
    "walking over silences": """
bass within 5 ms of its place: 1.000 of 93 [1..]
melody: spread in ms: 5.968 of 54 [5..15]
melody: correlation with the stroke before: 0.514 of 54 [0.2..0.9]
solo: spread in ms: 8.269 of 105 [5..15]
solo: correlation with the stroke before: 0.708 of 105 [0.2..0.9]
bass: spread in velocity: 3.754 of 93 [1..14]
chords: spread in velocity: 4.379 of 30 [3..14]
melody: spread in velocity: 5.042 of 54 [3..14]
solo: spread in velocity: 7.079 of 105 [3..14]
chords whose top note is the firmest: 1.000 of 30 [0.95..]
bass: long quaver to short one: 2.183 of 15 [1..5.57895]
chords: long quaver to short one: 2.131 of 12 [1..5.57895]
melody: long quaver to short one: 2.055 of 21 [1..5.57895]
solo: long quaver to short one: 1.800 of 51 [1..2.13143]
""",
    "a waltz in six": """
bass within 5 ms of its place: 1.000 of 180 [1..]
chords: spread in ms: 5.739 of 153 [5..15]
chords: correlation with the stroke before: 0.483 of 153 [0.2..0.9]
solo: spread in ms: 8.162 of 399 [5..15]
solo: correlation with the stroke before: 0.602 of 399 [0.2..0.9]
bass: spread in velocity: 3.793 of 180 [1..14]
chords: spread in velocity: 3.811 of 153 [3..14]
melody: spread in velocity: 0.000 of 0 [3..14]
solo: spread in velocity: 8.829 of 399 [3..14]
chords whose top note is the firmest: 1.000 of 153 [0.95..]
bass: long quaver to short one: 0.000 of 0 [1..3.21053]
chords: long quaver to short one: 0.000 of 0 [1..3.21053]
melody: long quaver to short one: 0.000 of 0 [1..3.21053]
solo: long quaver to short one: 1.688 of 180 [1..3.21053]
""",
}


@pytest.mark.parametrize("name", COUNTED)
def test_what_is_counted_in_a_chart_and_in_one_that_is_spoilt(compose: Composer, name: str) -> None:
    assert counted(compose, name) == rows(COUNTED[name])


@pytest.mark.parametrize("name", IMPROVISED)
def test_what_is_counted_in_solos(compose: Composer, name: str) -> None:
    assert improvised(compose, name) == rows(IMPROVISED[name])


@pytest.mark.parametrize("name", STRUCK)
def test_what_is_counted_in_the_touch_of_hands(compose: Composer, name: str) -> None:
    assert struck(compose, name) == rows(STRUCK[name])
