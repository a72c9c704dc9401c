"""Small tunes of our own, arranged and written out to the last note.

What stands here is what the arranger makes of them today, not what is right: many notes would do as well. It is kept
because every rule and every cost of the arranger has its part in it. When a change of the arranger changes it, look at
what is different (and play it), and keep the new text if the music is as good; when something else changes it, that has
changed the music without meaning to.

Written so: ``/length bar| beat:pitches/length*weight``, beats and lengths in quarters, bars and beats counted from 0;
the length that most notes have stands at the beginning, and a weight of 1 is left out; ``P`` for the pedal.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

import pytest

from companion.arrange.audit.arrangement import audit, figures
from companion.arrange.audit.figures import AuditFigure
from companion.arrange.events import order, stretch_notes
from companion.arrange.explain import explain
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.arrange.touch.performed import performed
from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]
WIDTH = 116
TUNE = """
format = 1
title = "Kettle at Six"
key = "G minor"
metre = "4/4"
tempo = 132
feel = "swing"
form = "A B"
order = [
  { play = "introduction", how = "vamp", bars = 2 },
  { play = "head" },
  { play = "solos", choruses = 2, treatment = "solos" },
  { play = "ending", how = "tag" },
]
[section.A]
treatment = "walking"
chords = "| Gm6 | C7 | Am7b5 | D7alt |"
melody = "DF | G6 z2 | c4 e4 | c4 A4 | ^F8 |"
[section.B]
treatment = "sparse"
chords = "| Cm7 | F7 Bb7 | Ebmaj7 | Am7b5 D7 |"
melody = "| e4 c4 | A4 F4 | d8 | B4 G4 |"
"""

WHOLE_TUNE = """
introduction 1, melody
/1/2 -2| 3:D4 7/2:F4 -1| 0:G4/2
introduction 1, chords
/1/2 -2| 2:G3.Bb3.D4.E4/1 -1| 1/2:G3.C4.D4 2:F#3.Bb3.C4.Eb4 7/2:Bb3.D4.E4
introduction 1, bass
/9/10 -2| 0:G2 1:F#2 2:E2 3:G2 -1| 0:A2 1:Eb2 2:D2/3/10 7/3:Db2/3/10*0.9 8/3:C2/3/10*0.9 3:D2
head 1, melody
/2 -1| 3:D4/1/2 7/2:F4/1/2 0| 0:G4/3 1| 0:C5 2:Eb5 2| 0:C5 2:A4 3| 0:F#4/4 4| 0:Eb5 2:C5 5| 0:A4 2:F4 6| 0:D5/4
7| 0:Bb4 2:G4
head 1, chords
/1/2 0| 1:Bb3.D4.E4 3/2:Bb3.D4.E4/2 1| 1/2:Bb3.E4 3/2:Bb3.E4.G4 2| 1:C4.Eb4.G4.A4 3/2:C4.Eb4.G4
3| 1/2:F#3.Bb3.C4.Eb4 3/2:F#3.C4.Eb4/3/2 4| 1:G3.C4.F4/2 3:F3.Bb3.Eb4/1 5| 1:Eb3.A3.D4/1 7/2:D3.G3.C4
6| 2:F3.G3.D4/2 7| 1:D3.G3.C4/1
head 1, bass
/9/10 0| 0:G2 1:E2 2:D2 3:Db2 1| 0:C2 1:A1 2:C2 3:Bb1 2| 0:A1 1:Ab1 2:G1/9/20 5/2:G1/1/3*0.4 3:A1
3| 0:D2 1:Eb2 2:F#2/3/10 7/3:G2/3/10*0.9 8/3:G#2/3/10*0.9 3:Bb2 4| 0:C3/4P 5| 0:F2/2P 2:Bb1/2P 6| 0:Eb2/4P
7| 0:A1/2P 2:D2/2P
solos 1, solo
/1/2 0| 0:Bb4*0.97 1/2:Ab4*1.03 1:G4/3/2*0.97 5/2:F#4*1.03 3:E4*0.97 7/2:G4*1.03 1| 0:Bb4*0.97 1/2:C5*1.03
2| 0:G4*0.97 1/2:F4*1.03 1:Eb4/3/2*0.97 5/2:D4*1.03 3:C4*0.97 7/2:Eb4*1.03 3| 0:F#4/3/2*0.97
4| 0:Eb4/1/3*0.97 1/3:Bb4/1/3*1.12 2/3:A4/1/3*1.03 1:G4*0.97 3/2:Bb4*1.03 2:D5*0.97 5/2:F5*1.12 3:Eb5*0.97 7/2:F5*1.12
5| 0:Eb5*0.97 1/2:D5*1.03 1:C5*0.97 3/2:Bb4/1*1.03 5/2:Ab4*1.03 3:Bb4*0.97 7/2:C5*1.03
6| 0:D5*0.97 1/2:Eb5*1.12 1:D5*0.97 3/2:C5*1.03 2:Bb4*0.97 5/2:A4*1.03 3:Bb4*0.97 7/2:C5*1.03
7| 0:D5*0.97 1/2:Eb5*1.03
solos 1, chords
/1/2 0| 0:Bb3.D4.E4/3/2 3/2:Bb3.D4.E4 1| 1/2:Bb3.D4.E4.G4/1 3:E4.G4.Bb4 2| 0:C4.Eb4.G4.A4/3/2 3/2:C4.Eb4.G4
3| 1/2:F#3.Bb3.C4.Eb4/1 3:F#3.Bb3.C4 4| 3:Bb3.Eb4 5| 1:G3.A3.Eb4/1 7/2:G3.Bb3.D4 6| 3/2:D4.G4/2
7| 1/2:C4.Eb4.G4 3/2:C4.Eb4.F#4
solos 1, bass
/9/10 0| 0:G2 1:F#2 2:E2 3:G2 1| 0:C3 1:D3 2:Bb2 3:G2 2| 0:A2 1:Ab2 2:G2 3:Eb2 3| 0:D2 1:C2 2:B1 3:Bb1
4| 0:C2 1:B1 2:Bb1 3:G1 5| 0:F1 1:A1 2:Bb1 3:F2 6| 0:Eb2 1:C2 2:D2 3:G2 7| 0:A2 1:C3/9/20 3/2:D3/1/3*0.4 2:D3 3:D2
solos 2, solo
/1/2 0| 1:Bb4*0.97 3/2:C5*1.03 2:D5/1*0.97 3:E5*1.12 7/2:D5/1*1.03 1| 1/2:C5/3/2*1.03
2| 1:Eb5*0.97 3/2:F5*1.03 2:G5/1*0.97 3:C6*1.12 7/2:Bb5*1.03 3| 0:F#5*0.97 1/2:Eb5*1.03
4| 1:C5*0.97 3/2:D5*1.03 2:Eb5/1*0.97 3:G5*1.12 7/2:F5*1.03
5| 0:Eb5*0.97 1/2:C5*1.03 1:A4*0.97 3/2:F4*1.03 2:D4/1*0.97 3:Ab4*0.97 7/2:C5*1.03
6| 0:Eb5*1.12 1/2:D5*1.03 1:C5*0.97 3/2:Bb4*1.03 2:G4*0.97 5/2:F4*1.03 3:Bb4*1.12 7/2:G4/3/2*1.03
solos 2, chords
/1/2 0| 5/2:A3.Bb3.E4/1 1| 1:Bb3.E4 5/2:E3.A3.Bb3.Eb4/1 2| 5/2:G3.C4.D4/1
3| 1:F#3.C4.Eb4 5/2:F#3.Bb3.C4/1 7/2:F#3.Bb3.C4.Eb4 4| 3/2:Bb3.Eb4/1 3:Bb3.Eb4.F4
5| 0:A3.D4.Eb4.G4/3/2 3/2:G3.A3.Eb4 7/2:G3.Bb3.D4 6| 3/2:D4.G4/1 3:D4.G4.Bb4
7| 0:C4.G4/3/2 3/2:C4.Eb4.G4 7/2:Bb3.Eb4.F4/2
solos 2, bass
/9/10 0| 0:G1 1:F#1 2:Bb1 3:B1 1| 0:C2 1:E2/9/20 3/2:E2/1/3*0.4 2:G2 3:E2 2| 0:A2 1:Bb2 2:G2 3:Eb2
3| 0:D2 1:Bb1 2:C2 3:G#1/3/10 10/3:A1/3/10*0.9 11/3:Bb1/3/10*0.9 4| 0:C2 1:F2 2:G2 3:Eb2/9/20 7/2:Eb2/1/3*0.4
5| 0:F2 1:A2 2:Bb2 3:F3 6| 0:Eb3 1:D3 2:D2 3:G1 7| 0:A1 1:C#2 2:D2 3:B1
ending 1, melody
/2 8| 0:Eb5 2:C5 9| 0:A4 2:F4 10| 0:D5/4 11| 0:Bb4 2:G4 12| 0:Eb5 2:C5 13| 0:A4 2:F4 14| 0:D5/4 15| 0:Bb4 2:G4
16| 0:F#4/8
ending 1, chords
/1 8| 1:F3.Bb3.Eb4/3 9| 1:Eb3.A3.D4 7/2:D3.G3.C4/1/2 10| 1:G3.C4.F4/3 11| 1:G3.C4.Eb4 7/2:G3.C4.F4/1/2
12| 3/2:F3.Bb3.Eb4/5/2 13| 1:Eb3.A3.D4 3:F3.Ab3.D4 14| 3/2:G3.C4.F4/5/2 15| 1:G3.C4.Eb4 16| 1/2:F#3.Bb3.D4/15/2
ending 1, bass
/2 8| 0:C2/4P 9| 0:F2P 2:Bb2P 10| 0:Eb2/4P 11| 0:A1P 2:D2P 12| 0:C2/4P 13| 0:F1P 2:Bb1P 14| 0:Eb2/4P 15| 0:A2P 2:D2P
16| 0:G2/8P
"""

REASONS = """
A: walking, a walking bass, rootless chords in the melody's gaps
1  | Gm6 |
bass    G2 the root says Gm6; F#2 the major seventh of Gm6; Bb2 the third of Gm6; G2 leads to C: its fifth, above
chords  beat 2: Bb3 D4 E4 (b3 5 6), thinned to third, fifth, sixth: one hand holds it with the melody's G4; takes up the melody's rhythm, a riff, while the melody holds G4
chords  beat 2.5: Bb3 D4 E4 (b3 5 6), thinned to third, fifth, sixth: one hand holds it with the melody's G4; the same again; takes up the melody's rhythm, a riff, while the melody holds G4
scales  G melodic minor
2  | C7 |
bass    C2 the root says C7; E2 the third of C7; G2 the fifth of C7; E2 leads to A: its fifth, below
chords  beat 1.5: Bb3 E4 (b7 3), thinned to seventh and third: one hand holds it with the melody's C5; two notes stay; the and of 1 and of 2, a riff, while the melody holds C5
chords  beat 2.5: Bb3 E4 G4 (b7 3 5), thinned to seventh, third, fifth: one hand holds it with the melody's C5; two notes stay; the and of 1 and of 2, a riff, while the melody holds C5
scales  C mixolydian
3  | Am7b5 |
bass    A2 the root says Am7b5; Ab2 passes from the note before to the next; G2 the seventh of Am7b5; Eb2 leads to D: a semitone above
chords  beat 2: C4 Eb4 G4 A4 (b3 b5 b7 1), rootless from the third: one note stays; takes up the melody's rhythm, a riff, while the melody holds C5
chords  beat 2.5: C4 Eb4 G4 (b3 b5 b7), thinned to third, fifth, seventh: one hand holds it with the melody's C5; three notes stay; takes up the melody's rhythm, a riff, while the melody holds C5
scales  A locrian
4  | D7alt |
bass    D2 the root says D7alt; C2 the seventh of D7alt; B1 passes from the note before to the next; Bb1 leads to C: a step below
chords  beat 1.5: F#3 Bb3 C4 Eb4 (3 b13 b7 b9), rootless from the third: two notes stay; the and of 1 and of 2, a riff, while the melody holds F#4
chords  beat 2.5: F#3 Bb3 C4 (3 b13 b7), thinned to third, thirteenth, seventh: one hand holds it with the melody's F#4; three notes stay; the and of 1 and of 2, a riff, while the melody holds F#4
chords  beat 4.5: F#3 C4 Eb4 (3 b7 b9), thinned to third, seventh, ninth: between the bass and the melody's F#4 is no room for more; two notes stay; the quaver before the bar, while the melody holds F#4
scales  D altered
B: sparse, roots held in the left hand, fourths in the right, no walking
5  | Cm7 |
bass    C2 the root says Cm7
chords  beat 2: G3 C4 F4 (5 1 4), fourths from the fifth: one note stays, the rest moves by step; the quaver before the bar, while the melody holds Eb5
chords  beat 4: F3 Bb3 Eb4 (4 b7 b3), fourths from the fourth: every voice moves by step; the quaver before the bar, while the melody holds C5
scales  C dorian
6  | F7  Bb7 |
bass    F2 the root says F7; Bb2 the root says Bb7
chords  beat 2: Eb3 A3 D4 (b7 3 13), fourths from the seventh: every voice moves by step; on 2, held, while the melody holds A4
chords  beat 4.5: D3 G3 C4 (7 3 6), fourths from the seventh: every voice moves by step; a quaver before Ebmaj7 begins, while the melody holds F4
scales  F7: F mixolydian; Bb7: Bb mixolydian
7  | Ebmaj7 |
bass    Eb2 the root says Ebmaj7
chords  beat 2: G3 C4 F4 (3 6 9), fourths from the third: the hand goes up; the quaver before the bar, while the melody holds D5
scales  Eb lydian
8  | Am7b5  D7 |
bass    A2 the root says Am7b5; D2 the root says D7
chords  beat 2.5: Bb3 C4 F#4 (b13 b7 3), thinned to fifth, seventh, third: its fifth would rub against the melody's Bb4; one note stays; it resolves to minor, so what the symbol leaves open is altered; the and of 2, held, a quaver before D7 begins, while the melody holds Bb4
scales  Am7b5: A locrian; D7: D phrygian dominant
A: sliding, the melody dropped for its last bars, fourths sliding by semitones to chords that fit
1  | Fmaj7 |
bass    F2 the root says Fmaj7
chords  beat 2.5: B3 E4 A4 (x x x), fourths sliding up by semitones to C on top, 3 to go; three steps off the beat
chords  beat 3.5: C4 F4 Bb4 (x x x), fourths sliding up by semitones to C on top, 2 to go; three steps off the beat
chords  beat 4.5: Db4 F#4 B4 (x x x), fourths sliding up by semitones to C on top, 1 to go; three steps off the beat
melody  let go here
scales  F lydian
2  | Fmaj7 |
bass    F3 the root of Fmaj7 again, an octave up
chords  beat 1: D4 G4 C5 (6 9 5), fourths from the sixth: every voice moves by step; where the fourths land, with the melody's own note on top
scales  F lydian
3  | Ebmaj7 |
bass    Eb3 the root says Ebmaj7
chords  beat 1: Ab4 Db5 F5 (x x x), fourths sliding down by semitones to D on top, 3 to go; three steps across the beat
chords  beat 2.5: G4 C5 E5 (x x x), fourths sliding down by semitones to D on top, 2 to go; three steps across the beat
chords  beat 4: F#4 B4 Eb5 (x x x), fourths sliding down by semitones to D on top, 1 to go; three steps across the beat
melody  let go here
scales  Eb ionian
4  | Ebmaj7 |
bass    Eb2 the root of Ebmaj7 again, an octave down
chords  beat 1: F4 Bb4 D5 (2 5 7), fourths under the melody's note: every voice moves by step; where the fourths land, with the melody's own note on top
scales  Eb lydian
"""  # noqa: E501

STRUCK = """
0 G2: -0.003-0.845 67
1 E2: 0.996-1.844 68
2 D2: 1.994-2.840 62
3 Db2: 3.002-3.853 68
4 C2: 4.001-4.848 65
5 A1: 4.997-5.830 69
6 C2: 5.996-6.836 64
7 Bb1: 6.991-7.841 72
8 A1: 7.989-8.833 67
9 Ab1: 8.995-9.844 74
10 G1: 9.993-10.539 70
21/2 G1: 10.668-10.864 28
11 A1: 10.994-11.832 75
1 Bb3: 1.003-1.581 50
1 D4: 0.996-1.575 50
1 E4: 0.989-1.568 58
3/2 Bb3: 1.684-3.573 51
3/2 D4: 1.677-3.566 51
3/2 E4: 1.670-3.559 59
9/2 Bb3: 4.670-4.896 53
9/2 E4: 4.657-4.882 62
11/2 Bb3: 5.666-5.899 53
11/2 E4: 5.659-5.892 53
11/2 G4: 5.652-5.885 62
9 C4: 9.009-9.646 48
9 Eb4: 9.004-9.641 48
9 G4: 9.000-9.637 48
9 A4: 8.996-9.633 55
19/2 C4: 9.672-9.897 53
19/2 Eb4: 9.666-9.891 53
19/2 G4: 9.659-9.884 62
0 G4: 0.023-2.614 71
4 C5: 4.030-5.901 64
6 Eb5: 6.031-7.901 78
8 C5: 8.014-9.921 71
10 A4: 10.031-11.746 68
"""

COUNTED = """
walking bass, root on the first beat of a new chord: 1.000 of 16
walking bass, the last note before a new chord leads to it: 1.000 of 12
walking bass, leaps over a fifth, octaves apart: 0.000 of 65
walking bass, the same pitch twice running: 0.000 of 65
walking bass, the same pitch three times: 0.000 of 65
walking bass, notes between changes of direction: 3.250 of 65
walking bass, third or seventh in bars of one chord: 1.000 of 16
walking bass, share of the commonest pattern of degrees: 0.000 of 1
walking bass, choruses with the same line: 0.000 of 2
walking bass, bars shared between two choruses, at most: 0.000 of 2
walking bass, a chord tone on the third beat of a bar of one chord: 0.875 of 16 (bar 4 beat 3; bar 4 beat 3)
walking bass, two chord tones on the first three beats of such a bar: 1.000 of 16
walking bass, bars of one chord that begin with its third: 0.000 of 16
walking bass, bars of a minor tonic that spell its subdominant: 0.000 of 4
walking bass, approaches by a semitone: 0.583 of 12
walking bass, approaches by a step: 0.083 of 12
walking bass, approaches from a fourth or fifth away: 0.333 of 12
walking bass, phrases with a direction: 0.750 of 4 (bar 1 beat 1)
walking bass, phrases with one high or one low point: 0.750 of 4 (bar 1 beat 1)
walking bass, phrases that end with a fill: 0.750 of 4 (bar 4 beat 4)
bass, outside E1 to G3: 0.000 of 96
bass, neither chord, scale, passing nor leading note: 0.000 of 96
chords, clashes with the melody: 0.000 of 59
chords, below the low limits: 0.000 of 59
chords, wider than a hand: 0.000 of 59
chords, above a sounding melody note: 0.000 of 59
chords, rootless voicings with the root in them: 0.000 of 34
chords, rootless voicings without third and seventh: 0.000 of 34
chords, movement of a voice between chords, semitones: 1.212 of 80
chords, bars running with one rhythm of the chords: 3.000 of 1
chords, chords struck with a moving melody note: 0.000 of 59
chords, the chords' top voice stands still: 0.200 of 55 (bar 1 beat 2.5; bar 2 beat 1.5; bar 4 beat 2.5)
chords, the very same voicing again: 0.073 of 55 (bar 1 beat 2.5; bar 1 beat 2.5; bar 1 beat 2.5)
chords, leaps of the top voice, over a third: 0.000 of 20
chords, rootless chords in gaps with two or three notes: 0.765 of 34
hands, a hand holds more than a ninth: 0.000 of 34
hands, a hand holds more than a tenth: 0.000 of 34
hands, a hand holds more than five notes: 0.000 of 34
harmony, notes of bass and chords where no chord is written: 0.000 of 277
harmony, chords with a note outside the scale that is named: 0.000 of 59
rhythm of the chords, bars that answer the melody or are of a riff: 0.844 of 32 (bar 4; bar 6; bar 7)
rhythm of the chords, bars of a riff: 3.429 of 7
rhythm of the chords, bars running with one rhythm, or two in turn: 4.000 of 1
rhythm of the chords, bars with the commonest rhythm of two chords: 0.281 of 32
rhythm of the chords, a new chord a quaver after one on the last beat: 0.000 of 32
rhythm of the chords, early chords where the harmony turns: 0.600 of 5 (bar 8 beat 2.5; bar 8 beat 2.5)
touch, bass within 5 ms of its place: 1.000 of 47
touch, chords: spread in ms: 7.011 of 29
touch, chords: correlation with the stroke before: 0.379 of 29
touch, melody: spread in ms: 7.075 of 30
touch, melody: correlation with the stroke before: 0.153 of 30
touch, solo: spread in ms: 10.404 of 61
touch, solo: correlation with the stroke before: 0.668 of 61
touch, bass: spread in velocity: 3.276 of 47
touch, chords: spread in velocity: 4.088 of 29
touch, melody: spread in velocity: 3.846 of 30
touch, solo: spread in velocity: 5.828 of 61
touch, chords whose top note is the firmest: 1.000 of 29
touch, chords: long quaver to short one: 2.114 of 12
touch, solo: long quaver to short one: 1.823 of 32
solo, phrases that take up one of the last two: 0.417 of 12
solo, highest note in the third quarter: 1.000 of 2
solo, phrases of five bars at most: 1.000 of 14
solo, phrases without a leap wider than an octave: 1.000 of 14
solo, chord tones on the beat: 0.887 of 62
solo, share of silence: 0.340 of 2
solo, semitones from the first quarter up to the third: 6.572 of 2
solo, choruses that are another again: 0.000 of 2
introductions and endings, introductions made of the tune's own melody: 1.000 of 3
introductions and endings, introductions that stay open: 1.000 of 3
introductions and endings, endings that close once: 1.000 of 5
"""

MISCOUNTED = """
walking bass, root on the first beat of a new chord: 0.667 of 12 (bar 1 beat 1; bar 2 beat 1; bar 3 beat 1)
walking bass, the last note before a new chord leads to it: 1.000 of 9
walking bass, leaps over a fifth, octaves apart: 0.000 of 51
walking bass, the same pitch twice running: 0.020 of 51 (bar 4 beat 2)
walking bass, the same pitch three times: 0.000 of 51
walking bass, notes between changes of direction: 4.545 of 50
walking bass, third or seventh in bars of one chord: 1.000 of 12
walking bass, share of the commonest pattern of degrees: 0.000 of 1
walking bass, choruses with the same line: 1.000 of 3
walking bass, bars shared between two choruses, at most: 1.000 of 3
walking bass, a chord tone on the third beat of a bar of one chord: 0.833 of 12 (bar 1 beat 3; bar 4 beat 3)
walking bass, two chord tones on the first three beats of such a bar: 0.833 of 12 (bar 1 beat 1; bar 4 beat 1)
walking bass, bars of one chord that begin with its third: 0.000 of 12
walking bass, bars of a minor tonic that spell its subdominant: 0.000 of 3
walking bass, approaches by a semitone: 0.556 of 9
walking bass, approaches by a step: 0.111 of 9
walking bass, approaches from a fourth or fifth away: 0.333 of 9
walking bass, phrases with a direction: 1.000 of 3
walking bass, phrases with one high or one low point: 1.000 of 3
walking bass, phrases that end with a fill: 1.000 of 3
bass, outside E1 to G3: 0.000 of 75
bass, neither chord, scale, passing nor leading note: 0.067 of 75 (bar 1 beat 3 Eb2; bar 3 beat 2 F#2; bar 4 beat 1 G1)
chords, clashes with the melody: 0.333 of 42 (bar 1 beat 3: D4 F#4 Ab4; bar 1 beat 3.5: D4 F#4 Ab4; bar 2 beat 2.5: D4 Ab4)
chords, below the low limits: 0.000 of 42
chords, wider than a hand: 0.000 of 42
chords, above a sounding melody note: 0.333 of 42 (bar 1 beat 3: D4 F#4 Ab4; bar 1 beat 3.5: D4 F#4 Ab4; bar 3 beat 3: E4 G4 B4 Db5)
chords, rootless voicings with the root in them: 0.083 of 24 (bar 4 beat 2.5: Bb3 D4 E4 G4; bar 4 beat 2.5: Bb3 D4 E4 G4)
chords, rootless voicings without third and seventh: 0.583 of 24 (bar 1 beat 3: D4 F#4 Ab4; bar 1 beat 3.5: D4 F#4 Ab4; bar 2 beat 2.5: D4 Ab4)
chords, movement of a voice between chords, semitones: 1.273 of 66
chords, bars running with one rhythm of the chords: 1.000 of 1
chords, chords struck with a moving melody note: 0.000 of 42
chords, the chords' top voice stands still: 0.231 of 39 (bar 1 beat 3.5; bar 2 beat 2.5; bar 4 beat 3.5)
chords, the very same voicing again: 0.077 of 39 (bar 1 beat 3.5; bar 1 beat 3.5; bar 1 beat 2.5)
chords, leaps of the top voice, over a third: 0.000 of 12
chords, rootless chords in gaps with two or three notes: 0.750 of 24
hands, a hand holds more than a ninth: 0.050 of 40 (bar 5 beat 1: Bb3 E4 G4 Eb5; bar 5 beat 1: Bb3 E4 G4 Eb5)
hands, a hand holds more than a tenth: 0.050 of 40 (bar 5 beat 1: Bb3 E4 G4 Eb5; bar 5 beat 1: Bb3 E4 G4 Eb5)
hands, a hand holds more than five notes: 0.300 of 40 (bar 1 beat 3.5: D4 D4 F#4 F#4 G4 Ab4 Ab4; bar 2 beat 2.5: D4 D4 F#4 Ab4 Ab4 C5; bar 2 beat 3: D4 D4 F#4 Ab4 Ab4 Eb5)
harmony, notes of bass and chords where no chord is written: 0.000 of 204
harmony, chords with a note outside the scale that is named: 0.524 of 42 (bar 1 beat 3: D4 F#4 Ab4; bar 1 beat 3.5: D4 F#4 Ab4; bar 2 beat 3.5: D4 Ab4 B4)
rhythm of the chords, bars that answer the melody or are of a riff: 0.750 of 24 (bar 5; bar 7; bar 8)
rhythm of the chords, bars of a riff: 3.750 of 4
rhythm of the chords, bars running with one rhythm, or two in turn: 4.000 of 1
rhythm of the chords, bars with the commonest rhythm of two chords: 0.167 of 24
rhythm of the chords, a new chord a quaver after one on the last beat: 0.000 of 24
rhythm of the chords, early chords where the harmony turns: 1.000 of 1
"""  # noqa: E501

TREATED = {
    ("in-two", "4/4", "swing", 140.0): """
chords
/1/2 0| 2:C4.E4.F4.A4/1 3:E4.F4.C5/1 1| 2:F4.B4 5/2:F4.Ab4.B4.Eb5/1 7/2:E4.G4.B4.D5/1 2| 3:B4.E5 7/2:B4.D5.E5
3| 2:G4.C#5.F5 5/2:G4.C#5/1 7/2:E4.F4.C5 4| 2:C4.E4.F4.A4 5/2:E4.F4.C5/1 5| 3:Eb4.F4.B4 6| 3:E4.G4.B4/1
7| 3:C#4.F4.G4.Bb4
bass
/19/10 0| 0:D2 2:A1 1| 0:G1 2:G2 2| 0:C3 2:B2 3| 0:A2 2:E2/19/20 3:A2/19/60 10/3:Bb2/19/60 11/3:C#3/19/60
4| 0:D3 2:D2 5| 0:G2 2:G3 6| 0:C3/57/40 3/2:C2/19/40 2:G1 7| 0:A1 2:E2/19/20 3:F2/19/60 10/3:G2/19/60 11/3:Eb2/19/60
""",
    ("walking", "3/4", "swing", 150.0): """
chords
/1/2 0| 3/2:F4.A4.C5/1 1| 1:F4.B4.D5 5/2:G4.B4.E5/1 2| 5/2:B4.D5.E5 3| 1:Bb4.C#5.G5/3/2 5/2:A4.C5.F5
4| 3/2:C4.E4.F4.A4/1 5/2:B3.E4.F4.A4 5| 1:F4.A4.B4 3/2:F4.Ab4.B4 2:F4.Ab4.B4/1 6| 0:E4.G4.B4.D5
7| 0:G4.Bb4.C#5 1:F4.G4.C#5/3/2 5/2:F4.A4.C5
bass
/9/10 0| 0:D2 1:G1/9/20 3/2:G1/1/3*0.4 2:F1 1| 0:G1 1:Ab1 2:G1 2| 0:C2 1:E2 2:B1 3| 0:A1 1:C#2 2:A1
4| 0:D2 1:C2 2:F#2 5| 0:G2 1:A2 2:G2 6| 0:C3 1:A2 2:B2 7| 0:A2 1:G2 2:F2/9/20 5/2:E2/9/20*0.9
""",
    ("modal", "4/4", "swing", 200.0): """
chords
/1 0| 2:D4.G4.C5/1/2 5/2:E4.A4.D5 1| 1:F4.B4.E5 2:F4.Bb4.Eb5/3/2 7/2:E4.A4.D5 2| 3:A4.D5.G5/1/2
3| 1:G4.C#5.F5 2:G4.Bb4.C#5/3/2 7/2:D4.G4.C5/1/2 4| 3/2:C4.F4.A4/2
5| 1:D4.F4.B4/1/2 3/2:F4.A4.B4/1/2 2:F4.Ab4.B4 7/2:E4.A4.D5 6| 5/2:E4.G4.B4
7| 2:F4.G4.C#5/1/2 5/2:G4.Bb4.C#5 7/2:E4.A4.D5/1/2
bass
/9/10 0| 0:D2 1:A1/9/20 3/2:A1/1/3*0.4 2:C2 3:Ab1 1| 0:G1 1:D2 2:G1 3:Bb1 2| 0:C2 1:D2 2:C2 3:B1
3| 0:A1 1:A2 2:G2 3:Eb2 4| 0:D2 1:C2 2:E2 3:F2 5| 0:G2 1:F2 2:G2 3:Db3 6| 0:C3 1:G2 2:B2 3:Bb2
7| 0:A2 1:G2 2:F2 3:E2/9/20 7/2:C#2/9/20*0.9
""",
    ("open", "4/4", "swing", 120.0): """
chords
/5/2 0| 3/2:D3.G3.C4.F4.A4P 1| 1/2:F3.B3.E4.A4/3/2P 3:F3.B3.Eb4.Bb4/1P 2| 3/2:E3.A3.D4.G4.B4P 3| 2:G3.C#4.F4.Bb4/2P
4| 3/2:F3.C4.E4.A4P 5| 1:B3.F4.A4/1 5/2:F3.B3.Eb4.Bb4/3/2P 6| 3/2:E4.G4.B4 7| 1:C#4.G4.Bb4/2 3:G3.C#4.F4.Bb4/1P
bass
/4 0| 0:D2P 1| 0:G1/2P 2:G2/2P 2| 0:C3P 3| 0:A2P 4| 0:D3P 5| 0:G3/2P 2:G2/2P 6| 0:C2P 7| 0:A1P
""",
    ("pedal", "4/4", "swing", 120.0): """
chords
/1/2 0| 2:D4.G4.C5 5/2:E4.A4.D5 3:D4.G4.C5/1 1| 2:B3.F4.Bb4 5/2:B3.Eb4.F4.Ab4/1 2| 3:A3.D4.G4 7/2:B3.E4.A4
3| 2:C#4.F4.G4.Bb4 5/2:G3.C#4.F4/1 7/2:G3.C4.F4/2 4| 2:A3.D4.G4 5/2:G3.C4.F4/1 7/2:F3.B3.E4
5| 2:F3.Bb3.Eb4 5/2:B3.Eb4.F4.Ab4/1 7/2:B3.E4.A4/2 6| 3:A3.D4.G4 7/2:B3.E4.A4
7| 2:C#4.F4.G4.Bb4 5/2:G3.C#4.F4/1 7/2:A3.D4.G4
bass
/4 0| 0:G1P 1| 0:G1P 2| 0:G2P 3| 0:G2/5/2P 5/2:G2/3/2P 4| 0:G1P 5| 0:G2P 6| 0:G2/5/2P 5/2:G1/3/2P 7| 0:G1/3P 3:G1/1P
""",
    ("ballad", "4/4", "swing", 60.0): """
chords
/1/2 0| 2:E4.F4.A4.C5/3/2 1| 2:F4.Ab4.B4 5/2:B3.F4.Bb4/1 3:Eb4 7/2:B3.D4.E4.A4/2 2| 3:B3.D4.E4.G4 7/2:G3.B3.D4.E4
3| 2:G3.Bb3.C#4/3/2 5/2:F4/1 7/2:F3.A3.C4.E4 4| 2:C4.F4.G4 5/2:C4.F4.A4/3/2 3:G4/1
5| 1:B3.E4.F4.A4/1 3:B3.Eb4.F4/1 7/2:Ab4 6| 3:B3.D4.E4.G4/1 7| 2:C#4.F4.G4 5/2:C#4.F4.G4/1 3:Bb4 7/2:C4.E4.F4.A4
bass
/1 0| 0:D2P 1:C3P 2:F3/2P 1| 0:G1P 1:D2P 2:G1P 3:B2P 2| 0:C2P 1:G2P 2:E3/2P 3| 0:A1P 1:E2P 2:C#3/2P
4| 0:D2P 1:A2P 2:F3/2P 5| 0:G1P 1:D2P 2:G1/1/2P 5/2:G2/1/2P 3:B2P 6| 0:C2P 1:G2P 2:C3P 3:E3P 7| 0:A1P 1:E2P 2:C#3/2P
""",
    ("waltz", "3/4", "swing", 140.0): """
chords
/1/2 0| 2:E4.F4.A4.C5/3/5 1| 1:F4.A4.B4 3/2:F4.Ab4.B4 2:F4.Ab4.B4.Eb5/1 2| 0:E4.G4.B4.D5
3| 1:G4.Bb4.C#5 3/2:G4.Bb4.C#5.F5 2:G4.C#5/1 4| 3/2:C4.F4.A4/6/5 5| 1:D4.F4.B4 5/2:D4.E4.B4/1 6| 5/2:E4.G4.B4
7| 1:F4.G4.C#5 3/2:F4.G4.C#5/1 5/2:F4.A4.C5
bass
/9/10 0| 0:D2 1:C2 2:A1 1| 0:G1 1:F1/9/20 3/2:G1/9/20 2:Db2 2| 0:C2 1:B1 2:G#1 3| 0:A1 1:E2 2:Eb2 4| 0:D2 1:A2/9/5
5| 0:G2 1:F2/9/20 3/2:G2/9/20 2:B2 6| 0:C3 1:G2 2:G#2 7| 0:A2 1:E2/9/5
""",
    ("waltz", "6/8", "straight", 100.0): """
chords
/1/2 0| 3/2:F4.A4.C5/6/5 1| 1:F4.A4.B4 2:F4.Ab4.B4.Eb5/1 2| 0:E4.G4.B4.D5 5/2:B4.D5.E5 3| 1:G4.C#5.F5/1 2:G4.C#5/1
4| 2:E4.F4.C5/2/5 5/2:E4.F4.A4.C5/2/5 5| 1:D4.F4.B4 5/2:D4.E4.B4/1 6| 5/2:E4.G4.B4/2/5
7| 1:F4.G4.C#5/3/2 5/2:F4.A4.C5
bass
/27/20 0| 0:D2 3/2:A1/9/10 5/2:F1/9/20 1| 0:G1 3/2:G2/9/10 5/2:Bb2/9/20
2| 0:C3/9/10 1:B2/9/20 3/2:G2/9/10 5/2:G#2/9/20 3| 0:A2 3/2:E3 4| 0:D3 3/2:A2/9/10 5/2:F#2/9/20
5| 0:G2 3/2:G2/9/10 5/2:Db2/9/20 6| 0:C2 3/2:B1 7| 0:A1/9/10 1:C#2/9/20 3/2:E2/9/10 5/2:Eb2/9/20
""",
    ("bossa", "4/4", "bossa", 130.0): """
chords
/1 0| 2:C4.E4.F4.A4 3:E4.F4.C5 1| 2:F4.B4/1/2 5/2:F4.Ab4.B4.Eb5 7/2:E4.G4.B4.D5 2| 5/2:B4.D5.E5
3| 2:G4.C#5.F5/1/2 5/2:G4.C#5 4| 2:E4.F4.C5/1/2 5/2:C4.E4.F4.A4/1/2 3:E4.F4.C5
5| 1/2:D4.F4.B4/1/2 1:D4.F4.B4 7/2:E4.G4.B4.D5 6| 5/2:E4.G4.B4 7| 2:F4.G4.C#5/1/2 5/2:F4.G4.C#5 7/2:E4.F4.A4.C5/1/2
bass
/69/50 0| 0:D2 3/2:F1/23/50 2:A1 7/2:D2/23/50 1| 0:G1 3/2:B1/23/50 2:G1 7/2:B1/23/50
2| 0:C2 3/2:E2/23/50 2:G2 7/2:B2/23/50 3| 0:A2 3/2:C#3/23/50 2:E3 7/2:A2/23/50
4| 0:D3 3/2:F2/23/50 2:A2 7/2:D2/23/50 5| 0:G1 3/2:B1/23/50 2:G1 7/2:Db2/23/50
6| 0:C2 3/2:E1/23/50 2:G1 7/2:G1/23/50 7| 0:A1/23/25 1:C#2/23/25 2:E2/23/25 3:A2/23/25
""",
    ("tumbao", "4/4", "latin", 180.0): """
chords
/1 0| 2:C4.E4.F4.A4 3:E4.F4.C5 1| 2:F4.B4/1/2 5/2:F4.Ab4.B4.Eb5 7/2:E4.G4.B4.D5 2| 5/2:B4.D5.E5
3| 2:G4.Bb4.C#5.F5/1/2 5/2:G4.Bb4.C#5 4| 2:E4.F4.A4.C5/1/2 5/2:C4.F4.A4/1/2 3:E4.F4.A4.C5
5| 1/2:F4.A4.B4/1/2 1:F4.A4.B4 7/2:E4.G4.B4.D5 6| 5/2:E4.G4.B4 7| 2:F4.G4.C#5/1/2 5/2:F4.G4.C#5 7/2:E4.F4.A4.C5/1/2
bass
/57/40 0| 3/2:A2 3:G2/19/8 1| 3/2:D2/19/40 2:G2/19/20 3:C2/19/8 2| 3/2:G1 3:A1/19/8 3| 3/2:E2 3:D2/19/8
4| 3/2:A2 3:G2/19/8 5| 3/2:D2/19/40 2:G2/19/20 3:C2/19/8 6| 3/2:G2 3:A2 7| 1/2:E2/19/20 3/2:A1 3:D2/19/20
""",
    ("shells", "4/4", "swing", 140.0): """
chords
/1/2 0| 2:D4.C5 5/2:D4.C5 3:D4.C5/1 1| 2:G4.B4 5/2:G3.F4/1 2| 3:C4.E4 7/2:C4.E4 3| 2:A3.G4 5/2:A3.G4/1 7/2:D4.F4/2
4| 2:D4.F4 5/2:D4.F4/1 7/2:G3.F4 5| 2:G4.B4 5/2:G3.F4/1 7/2:C4.E4/2 6| 3:C4.E4 7/2:C4.E4
7| 2:A3.G4 5/2:A3.G4/1 7/2:D4.F4
bass
/4 0| 0:D2P 1| 0:G1/2P 2:G2/2P 2| 0:C3P 3| 0:A2P 4| 0:D3P 5| 0:G3/2P 2:G2/2P 6| 0:C2P 7| 0:A1P
""",
    ("sliding-under", "4/4", "swing", 110.0): """
chords
/1/2 0| 5/2:Eb4.A4.D5 3:E4.Bb4.Eb5 7/2:F4.B4.E5/5/2*1.05 1| 2:F4.Bb4.Eb5/2 3| 0:C#4.G4.Bb4/4*1.05
4| 7/2:D4.F4.B4/5/2*1.05 5| 2:Eb4.F4.B4/2 7| 0:C#4.G4.Bb4/7/2*1.05
bass
/4 0| 0:D2P 1| 0:G1/2P 2:G2/2P 2| 0:C3P 3| 0:A2P 4| 0:D3P 5| 0:G3/2P 2:G2/2P 6| 0:C2P 7| 0:A1P
""",
    ("block", "4/4", "swing", 140.0): """
chords
/1 0| 1:F4.A4.C5*1.08 1| 0:F4.B4.D5/2*1.08 2| 1:G4.B4.E5*1.08 2:B4.D5.E5/2*1.08 3| 1/2:G4.C#5/5/2*1.08
4| 1:C4.F4.A4*1.08 5| 0:D4.F4.B4/2*1.08 6| 1:D4.E4.B4*1.08 2:E4.G4.B4/2*1.08 7| 1/2:F4.G4.C#5/5/2*1.08
bass
/19/10 0| 0:D2 2:A1 1| 0:G1 2:G2 2| 0:C3 2:B2 3| 0:A2 2:E2/19/20 3:A2/19/60 10/3:Bb2/19/60 11/3:C#3/19/60
4| 0:D3 2:D2 5| 0:G2 2:G3 6| 0:C3/57/40 3/2:C2/19/40 2:G1 7| 0:A1 2:E2/19/20 3:F2/19/60 10/3:G2/19/60 11/3:Eb2/19/60
""",
    ("walking", "5/4", "swing", 150.0): """
chords
/1/2 0| 3:A3.C4.F4 7/2:C4.E4.F4.A4/1 1| 3:B3.Eb4.F4.Ab4 7/2:B3.Eb4.F4.Bb4 4:Eb4.F4.B4/1 2| 3:B4.E5 7/2:B4.E5/1
3| 3:C#4.G4.Bb4 7/2:Bb3.C#4.F4.G4 4:G3.Bb3.C#4.F4/1 4| 2:F3.A3.C4.G4 5/2:C4.F4.A4 3:E4.F4.A4.C5/1
5| 1:F4.A4.B4 3/2:F4.A4.B4 2:F4.A4.B4 9/2:E4.G4.B4.D5/1 6| 3:E4.G4.B4/9/5
7| 1:F4.G4.C#5 3/2:G4.Bb4.C#5 2:F4.G4.C#5/1
bass
/9/10 0| 0:D2 1:C2 2:A1 3:E1/9/20 7/2:E1/1/3*0.4 4:F#1 1| 0:G1 1:E1 2:F#1 3:G1 4:B1 2| 0:C2 1:D2 2:E2 3:F2 4:G2
3| 0:A2 1:F2 2:G2 3:G#2 4:A2/9/20 9/2:C#3/9/20*0.9 4| 0:D3 1:B2 2:A2 3:F2 4:F#2 5| 0:G2 1:E2 2:D2 3:G1 4:B1
6| 0:C2 1:B1 2:A1 3:G1 4:G#1 7| 0:A1 1:C#2 2:F2 3:A2/9/20 7/2:F2/9/20*0.9 4:E2
""",
    ("solos", "4/4", "shuffle", 120.0): """
chords
/1/2 0| 1/2:F4.A4.C5/1 3:E4.F4.A4.C5 1| 0:F4.A4.B4/3/2 1:E5 3/2:F4.Ab4.B4.Eb5 7/2:E4.G4.B4/3/2 2| 0:D5/1 3:B4.D5.E5
3| 1/2:G4.Bb4.C#5.F5 2:G4.Bb4.C#5 7/2:E4.F4.A4.C5 4| 3/2:C4.F4.A4/1 2:G4 3:E4.F4.A4.C5 5| 1/2:F4.A4.B4 3/2:F4.A4.B4
6| 3/2:E4.B4/1 3:E4.G4.B4 7| 1/2:F4.G4.C#5 3/2:G4.Bb4.C#5/3/2
bass
/9/10 0| 0:D2 1:B1 2:C2 3:A1/9/20 7/2:A1/1/3*0.4 1| 0:G1 1:F1 2:G1 3:G2 2| 0:C2 1:E2 2:B2 3:Bb2
3| 0:A2 1:F2 2:G2/9/20 5/2:G#2/9/20*0.9 3:A2/9/20 7/2:C#3/9/20*0.9 4| 0:D3 1:B2 2:C3 3:Ab2 5| 0:G2 1:C2 2:G1 3:Bb1
6| 0:C2 1:D2 2:B1 3:Bb1 7| 0:A1 1:A2 2:G2/3/10 7/3:Gb2/3/10*0.9 8/3:F2/3/10*0.9 3:E2
""",
}


def written(notes: Sequence[Note], bar: Fraction = Fraction(4)) -> list[str]:
    """The bars of a part, as many in a row as fit; before the first the length that most of its notes have."""
    usual = Counter(n.length for n in notes).most_common(1)[0][0] if notes else Fraction(1)
    rows = [f"/{usual}"]
    for number, inside in groupby(sorted(notes, key=lambda n: (n.beat, n.length, n.midi)), lambda n: n.beat // bar):
        words = [struck(list(chord), bar, usual) for _, chord in groupby(inside, key=lambda n: (n.beat, n.length))]
        one = f"{number}| {' '.join(words)}"
        if len(rows[-1]) + len(one) < WIDTH:
            rows[-1] += f" {one}"
        else:
            rows.append(one)
    return rows


def struck(chord: Sequence[Note], bar: Fraction, usual: Fraction) -> str:
    first = chord[0]
    weight = "" if first.weight == 1 else f"*{first.weight:g}"
    length = "" if first.length == usual else f"/{first.length}"
    pitches = ".".join(str(n.pitch) for n in chord)
    return f"{first.beat % bar}:{pitches}{length}{weight}{'P' if first.pedal else ''}"


def rows(text: str) -> list[str]:
    return [line.strip() for line in text.strip().splitlines()]


def test_a_whole_tune_from_the_introduction_to_the_last_chord() -> None:
    found = []
    for stretch in order(parse_toml(TUNE)):
        for part in (*["solo"][: stretch.kind == "solos"], *["melody"][: stretch.kind != "solos"], "chords", "bass"):
            found += [f"{stretch.kind} {stretch.time}, {part}", *written(stretch_notes(stretch, part))]
    assert found == rows(WHOLE_TUNE)


CHANGES = "Dm9 | G13 G7alt | Cmaj7 | A7b9 | Dm9 | G13 G7alt | Cmaj7 | A7b9"
MELODY = [
    (0, 0.5, 74),
    (0.5, 0.5, 76),
    (1, 1, 77),
    (4, 3, 79),
    (8.5, 0.5, 76),
    (9, 1, 79),
    (10, 2, 83),
    (12.5, 2.5, 81),
]


@pytest.mark.parametrize(("treatment", "metre", "feel", "tempo"), sorted(TREATED), ids=str)
def test_each_treatment_of_the_same_four_bars(
    compose: Composer, treatment: str, metre: str, feel: str, tempo: float
) -> None:
    form = compose(CHANGES, metre=metre, feel=feel, tempo=tempo, melody=twice(metre))
    found = []
    for part in ("chords", "bass"):
        found += [part, *written(arrange(form, part, Request(treatment, chorus=2, seed=3)), form.metre.bar)]
    assert found == rows(TREATED[treatment, metre, feel, tempo])


def twice(metre: str) -> list[tuple[float, float, int]]:
    """The melody in eight bars of so many quarters, the second time a fourth lower."""
    bar = float({"4/4": 4, "3/4": 3, "6/8": 3, "5/4": 5, "2/4": 2}[metre])
    once = [(beat // 4 * bar + beat % 4, length, midi) for beat, length, midi in MELODY if beat % 4 < bar - 0.5]
    return once + [(beat + 4 * bar, length, midi - 5) for beat, length, midi in once]


def test_the_reasons_for_every_note(compose: Composer) -> None:
    form = parse_toml(TUNE).unfold()
    found = [line for bar in explain(form, Request(chorus=2)) for line in str(bar).splitlines()]
    slid = compose("Fmaj7 | Fmaj7 | Ebmaj7 | Ebmaj7", melody=[(0, 1, 69), (1, 6, 72), (8, 8, 74)])
    found += [line for bar in explain(slid, Request("sliding")) for line in str(bar).splitlines()]
    assert [line.strip() for line in found] == rows(REASONS)


def test_the_hand_that_strikes_them() -> None:
    form = parse_toml(TUNE).unfold()
    notes = [n for part in ("bass", "chords", "melody") for n in arrange(form, part) if 0 <= n.beat < 12]
    found = [
        f"{one.note.beat} {one.note.pitch}: {one.start:.3f}-{one.end:.3f} {one.velocity}"
        for one in performed(form, notes, 5)
    ]
    assert found == rows(STRUCK)


def told(figure: AuditFigure) -> str:
    places = f" ({'; '.join(figure.places[:3])})" if figure.places else ""
    return f"{figure.part}, {figure.name}: {figure.value:.3f} of {figure.of}{places}"


def test_what_an_audit_counts_in_it() -> None:
    assert [told(f) for f in audit(parse_toml(TUNE).unfold(), seeds=2, choruses=2) if f.of] == rows(COUNTED)


def test_what_an_audit_counts_where_everything_is_wrong() -> None:
    """The chords come a crotchet late and a third high, the bass from the end to the beginning."""
    form = parse_toml(TUNE).unfold()
    bass, chords = arrange(form, "bass"), arrange(form, "chords")
    backward = [replace(a, pitch=b.pitch, reason=b.reason) for a, b in zip(bass, reversed(bass), strict=True)]
    late = [replace(n, beat=n.beat + 1, pitch=pitch_in_key(n.midi + 4, 0), length=n.length * 2) for n in chords]
    found = figures(form, plan(form), [backward, bass, bass], [late, late, chords], 3, [arrange(form, "melody")] * 3)
    assert [told(figure) for figure in found if figure.of] == rows(MISCOUNTED)
