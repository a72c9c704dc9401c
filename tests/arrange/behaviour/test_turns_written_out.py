"""Introductions and endings of small tunes in every way, and what is said of notes that are given, written out.

What stands here is what is made of them today, not what is right: it is kept as in :mod:`test_written_out`, and for the
same reason.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from companion.arrange.analysis import explain_bass, explain_chords
from companion.arrange.audit.turns import all_turn_figures
from companion.arrange.endings import ENDINGS
from companion.arrange.events import ending_form, introduction_form
from companion.arrange.introductions import INTRODUCTIONS
from companion.arrange.melody.part import index_melody
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Event, Form, WrittenNote
from tests.arrange.behaviour.test_corners_written_out import CHARTS
from tests.arrange.behaviour.test_written_out import rows

Composer = Callable[..., Form]
TUNES: dict[str, tuple[str, dict[str, Any]]] = {
    "major, with a pickup": (
        "C6 | Am7 | Dm7 | G7 | Em7 A7 | Dm7 | G7 | C6",
        {"melody": [(-1, 1, 67), (0, 1.5, 72), (1.5, 2.5, 76), (4, 1, 74), (5, 3, 72), (8, 2, 69), (10, 1, 71),
                    (11, 4, 74), (16, 2, 76), (18, 2, 73), (20, 1, 74), (21, 1, 77), (22, 2, 76), (24, 1, 74),
                    (25, 2.5, 71), (28, 3, 72)]},
    ),
    "minor, that ends on its dominant": (
        "Gm6 | Gm6 | Cm7 | F7 | Bbmaj7 | Ebmaj7 | Am7b5 | D7b9",
        {"fifths": -2, "minor": True, "melody": [(0, 0.5, 67), (0.5, 0.5, 70), (1, 2, 74), (4, 3, 72), (8, 1, 75),
                                                 (9, 2, 74), (12, 2, 72), (16, 1, 74), (17, 2, 77), (20, 3, 79),
                                                 (24, 1, 75), (25, 1, 72), (26, 2, 69), (28, 3, 66)]},
    ),
    "a blues": (
        "F7 | Bb7 | F7 | F7 | Bb7 | Bb7 | F7 | D7 | Gm7 | C7 | F7 | C7",
        {"fifths": -1, "melody": [(4 * n + b, long, 65 + p) for n in range(0, 12, 2) for b, long, p in (
            (0.5, 0.5, 0), (1, 1, 3), (2.5, 2, 7), (5, 1, 5))]},
    ),
    "a waltz": (
        "Bbmaj7 | Gm7 | Cm7 | F7 | Dm7 | G7b9 | Cm7 F7 | Bb6",
        {"fifths": -2, "metre": "3/4", "melody": [(3 * n + b, long, 74 + (n * 3 + p) % 8) for n in range(7)
                                                  for b, long, p in ((0, 1, 0), (1, 1.5, 2))] + [(21, 3, 70)]},
    ),
    "on two chords": (
        "Dm7 | Em7 | Dm7 | Em7",
        {"minor": True, "melody": [(1, 1, 74), (2, 1, 76), (5, 2, 77), (9, 1, 74), (10, 5, 72)]},
    ),
    "without a melody": ("Fmaj7 | Bb7 | Am7 D7 | Gm7 C7", {"fifths": -1}),
}  # fmt: skip


def told(form: Form) -> list[str]:
    """The chords of a form by their bars, and its melody."""
    bars = zip(form.bars, (*form.bars[1:], form.length), strict=True)
    inside = (" ".join(c.chord.symbol for c in form.chords if a <= c.start < b) for a, b in bars)
    sung = " ".join(f"{n.beat}:{n.pitch}/{n.length}" for n in form.melody)
    return [f"| {' | '.join(inside)} |", *([sung] if sung else [])]


def ways(compose: Composer, name: str) -> list[str]:
    changes, as_told = TUNES[name]
    form = compose(changes, **as_told)
    found: list[str] = []
    for how in INTRODUCTIONS:
        for bars in (4, 3):
            made = introduction_form(form, Event("introduction", how=how, bars=bars))
            found += [f"introduction, {how} {bars}", *told(made)]
    for how in ENDINGS:
        found += [f"ending, {how}", *told(ending_form(form, Event("ending", how=how)))]
    found += [
        f"{figure.name}: {figure.value:.3f} of {figure.of} {'; '.join(figure.places)}".strip()
        for figure in all_turn_figures(form)
    ]
    return found


def analysed(compose: Composer, name: str) -> list[str]:
    """What is said of an arrangement's notes, where they are given: the bass's, and of each chord's lowest note."""
    changes, treatment, as_told = CHARTS[name]
    form = compose(changes, **as_told)
    found: list[str] = []
    for part in ("bass", "chords"):
        arranged = arrange(form, part, Request(treatment, chorus=2, seed=1))
        notes = [WrittenNote(n.beat, n.length, n.pitch, n.hand, n.voice, n.weight) for n in arranged]
        said = explain_bass(form, notes) if part == "bass" else explain_chords(form, notes, index_melody(form))
        found += [f"{n.beat} {n.pitch} {degree}: {why}" for n, (degree, why) in zip(notes, said, strict=True)]
    return found


MADE = {
    "major, with a pickup": """
introduction, last 4
| Em7 A7 | Dm7 | G7 | Am7 G9sus4 |
0:E5/2 2:Db5/2 4:D5/1 5:F5/1 6:E5/2 8:D5/1 9:B4/5/2 12:C5/3
introduction, last 3
| Dm7 | G7 | Abmaj7 G9sus4 |
0:D5/1 1:F5/1 2:E5/2 4:D5/1 5:B4/5/2 8:C5/3
introduction, vamp 4
| C6 A7b9 | Dm7 G7 | Em7 A7b9 | Dm7 G7 |
3:G4/1 4:C5/3/2 11/2:E5/5/2 11:A4/1 12:D5/3/2 27/2:F5/1/2
introduction, vamp 3
| C6 A7b9 | Dm7 G7 | Dm7 G7 |
3:G4/1 4:C5/3/2 11/2:E5/5/2
introduction, pedal 4
| G9sus4 | C6 | G9sus4 | G7b9 |
3:G4/1 4:C5/3/2 11/2:E5/5/2 11:A4/1 12:D5/3/2 27/2:F5/1/2
introduction, pedal 3
| G9sus4 | C6 | G7b9 |
3:G4/1 4:C5/3/2 11/2:E5/5/2
ending, held
| Cmaj9 |
ending, tag
| Em7 A7 | Dm7 | G7 | Am7 G9sus4 | Em7 A7 | Dm7 | G7 | C6 | Cmaj9 |
0:E5/2 2:Db5/2 4:D5/1 5:F5/1 6:E5/2 8:D5/1 9:B4/5/2 12:C5/3 16:E5/2 18:Db5/2 20:D5/1 21:F5/1 22:E5/2 24:D5/1 25:B4/5/2 28:C5/3
ending, vamp
| C6 A7b9 | Dm7 G7 | Em7 A7b9 | Dm7 G7 | Cmaj9 |
3:G4/1 4:C5/3/2 11/2:E5/5/2 11:A4/1 12:D5/3/2 27/2:F5/5/2 16:B4/1/2 33/2:D5/1/2 17:E5/1/2 35/2:G5/13/2
ending, ritardando
| Cmaj9 |
ending, turnaround
| Em7 A7b9 | Dm7 G7 | Em7 A7b9 | Dm7 G7 | Cmaj9 |
0:B4/1 1:D5/1 2:C#5/2 8:B4/1 9:D5/1 10:C#5/2 16:B4/1/2 33/2:D5/1/2 17:E5/1/2 35/2:G5/13/2
ending, deceptive
| Abmaj7 | Dbmaj7 | Cmaj9 |
0:C5/8 8:B4/8
introductions made of the tune's own melody: 1.000 of 3
introductions that stay open: 1.000 of 3
endings that close once: 1.000 of 5
""",  # noqa: E501
    "minor, that ends on its dominant": """
introduction, last 4
| Bbmaj7 | Ebmaj7 | Am7b5 | D7b9 |
0:D5/1 1:F5/2 4:G5/3 8:Eb5/1 9:C5/1 10:A4/2 12:Gb4/3
introduction, last 3
| Ebmaj7 | Am7b5 | D7b9 |
0:G5/3 4:Eb5/1 5:C5/1 6:A4/2 8:Gb4/3
introduction, vamp 4
| Gm6 Em7b5 | Am7b5 D7alt | Bbmaj7 Ebmaj7 | Am7b5 D7b9 |
0:G4/1/2 1/2:Bb4/1/2 1:D5/2 8:A4/1/2 17/2:C5/1/2 9:F5/2
introduction, vamp 3
| Gm6 Em7b5 | Am7b5 D7alt | Am7b5 D7b9 |
0:G4/1/2 1/2:Bb4/1/2 1:D5/2 8:C5/1/2 17/2:Eb5/1/2 9:G5/2
introduction, pedal 4
| Gm6 | D7sus4b9 | Gm6 | D7b9 |
0:G4/1/2 1/2:Bb4/1/2 1:D5/2 8:Bb4/1/2 17/2:C5/1/2 9:E5/2
introduction, pedal 3
| Gm6 | D7sus4b9 | D7b9 |
0:G4/1/2 1/2:Bb4/1/2 1:D5/2 8:A4/1/2 17/2:C5/1/2 9:Eb5/2
ending, held
| Gm(maj7) |
0:F#4/8
ending, tag
| Bbmaj7 | Ebmaj7 | Am7b5 | D7b9 | Bbmaj7 | Ebmaj7 | Am7b5 | D7b9 | Gm(maj7) |
0:D5/1 1:F5/2 4:G5/3 8:Eb5/1 9:C5/1 10:A4/2 12:Gb4/3 16:D5/1 17:F5/2 20:G5/3 24:Eb5/1 25:C5/1 26:A4/2 28:Gb4/3 32:F#4/8
ending, vamp
| Gm6 Em7b5 | Am7b5 D7alt | Bbmaj7 Ebmaj7 | Am7b5 D7b9 | Gm(maj7) |
0:G4/1/2 1/2:Bb4/1/2 1:D5/2 8:A4/1/2 17/2:C5/1/2 9:F5/2 16:F#4/1/2 33/2:Bb4/1/2 17:D5/1/2 35/2:F#5/13/2
ending, ritardando
| Gm(maj7) |
0:F#4/8
ending, turnaround
| Bbmaj7 Ebmaj7 | Am7b5 D7alt | Bbmaj7 Ebmaj7 | Am7b5 D7b9 | Gm(maj7) |
0:D5/1 1:Bb4/1 2:G4/2 8:D5/1 9:Bb4/1 10:G4/2 16:F#4/1/2 33/2:Bb4/1/2 17:D5/1/2 35/2:F#5/13/2
ending, deceptive
| Ebmaj7 | Abmaj7 | Gm(maj7) |
0:G4/8 8:F#4/8
introductions made of the tune's own melody: 1.000 of 3
introductions that stay open: 1.000 of 3
endings that close once: 1.000 of 5
""",
    "a blues": """
introduction, last 4
| Gm7 | C7 | Dbmaj7 | C7 |
1/2:F4/1/2 1:Ab4/1 5/2:C5/2 5:Bb4/1 17/2:F4/1/2 9:Ab4/1 21/2:C5/2 13:Bb4/1
introduction, last 3
| C7 | Dbmaj7 | C7 |
1:Bb4/1 9/2:F4/1/2 5:Ab4/1 13/2:C5/2 9:Bb4/1
introduction, vamp 4
| F7 | Bb7 | F7 | Bb7 |
1/2:D4/1/2 1:F4/1 5/2:A4/2 17/2:A4/1/2 9:C5/1 21/2:Eb5/2
introduction, vamp 3
| F7 | Bb7 | F7 |
1/2:D4/1/2 1:F4/1 5/2:A4/2 17/2:A4/1/2 9:C5/1 21/2:Eb5/1/2
introduction, pedal 4
| F7 | C9sus4 | F7 | C7b9 |
1/2:D4/1/2 1:F4/1 5/2:A4/2 17/2:A4/1/2 9:C5/1 21/2:Eb5/2
introduction, pedal 3
| F7 | C9sus4 | C7b9 |
1/2:D4/1/2 1:F4/1 5/2:A4/2 17/2:A4/1/2 9:C5/1 21/2:E5/1/2
ending, held
| F13 |
0:Bb4/8
ending, tag
| Gm7 | C7 | Dbmaj7 | C7 | Gm7 | C7 | Dbmaj7 | C7 | F13 |
1/2:F4/1/2 1:Ab4/1 5/2:C5/2 5:Bb4/1 17/2:F4/1/2 9:Ab4/1 21/2:C5/2 13:Bb4/1 33/2:F4/1/2 17:Ab4/1 37/2:C5/2 21:Bb4/1 49/2:F4/1/2 25:Ab4/1 53/2:C5/2 29:Bb4/1 32:Bb4/8
ending, vamp
| F7 | Bb7 | F7 | Bb7 | F13 |
1/2:D4/1/2 1:F4/1 5/2:A4/2 17/2:A4/1/2 9:C5/1 21/2:Eb5/2 16:Bb4/1/2 33/2:C5/1/2 17:D5/1/2 35/2:Eb5/13/2
ending, ritardando
| F13 |
0:Bb4/8
ending, turnaround
| Am7 D7b9 | Gm7 C7 | Am7 D7b9 | Gm7 C7 | F13 |
1/2:F#4/1/2 1:A4/1 5/2:C5/3/2 17/2:F#4/1/2 9:A4/1 21/2:C5/3/2 16:Bb4/1/2 33/2:C5/1/2 17:D5/1/2 35/2:Eb5/13/2
ending, deceptive
| Dbmaj7 | Gbmaj7 | F13 |
0:F4/8 8:Bb4/8
introductions made of the tune's own melody: 1.000 of 3
introductions that stay open: 1.000 of 3
endings that close once: 1.000 of 5
""",  # noqa: E501
    "a waltz": """
introduction, last 4
| Dm7 | G7b9 | Cm7 F7 | Em7b5 F9sus4 |
0:Gb5/1 1:Ab5/3/2 3:A5/1 4:Eb5/3/2 6:E5/1 7:Gb5/3/2 9:Bb4/3
introduction, last 3
| G7b9 | Cm7 F7 | Gm7 F9sus4 |
0:A5/1 1:Eb5/3/2 3:E5/1 4:Gb5/3/2 6:Bb4/3
introduction, vamp 4
| Bb6 | G7b9 | Cm7 | F7 |
0:F5/1 1:G5/3/2 3:Ab5/1 4:B5/3/2 6:F5/1 7:G5/3/2
introduction, vamp 3
| Bb6 | G7b9 | F7 |
0:F5/1 1:G5/3/2 3:Ab5/1 4:B5/3/2 6:Eb5/1 7:F5/1
introduction, pedal 4
| Bbmaj7 | F9sus4 | Bbmaj7 | F7b9 |
0:C5/1 1:D5/3/2 3:Eb5/1 4:F5/3/2 6:F5/1 7:A5/3/2
introduction, pedal 3
| Bbmaj7 | F9sus4 | F7b9 |
0:C5/1 1:D5/3/2 3:Eb5/1 4:F5/3/2 6:Eb5/1 7:F5/1
ending, held
| Bb6/9 |
ending, tag
| Dm7 | G7b9 | Cm7 F7 | Em7b5 F9sus4 | Dm7 | G7b9 | Cm7 F7 | Bb6 | Bb6/9 |
0:Gb5/1 1:Ab5/3/2 3:A5/1 4:Eb5/3/2 6:E5/1 7:Gb5/3/2 9:Bb4/3 12:Gb5/1 13:Ab5/3/2 15:A5/1 16:Eb5/3/2 18:E5/1 19:Gb5/3/2 21:Bb4/3
ending, vamp
| Bb6 | G7b9 | Cm7 | F7 | Bb6/9 |
0:F5/1 1:G5/3/2 3:Ab5/1 4:B5/3/2 6:F5/1 7:G5/3/2 12:C5/1/2 25/2:D5/1/2 13:F5/1/2 27/2:G5/9/2
ending, ritardando
| Bb6/9 |
ending, turnaround
| Dm7 | G7b9 | Cm7 | F7 | Bb6/9 |
0:A4/3 6:Bb4/3 12:C5/1/2 25/2:D5/1/2 13:F5/1/2 27/2:G5/9/2
ending, deceptive
| Gbmaj7 | Cbmaj7 | Bb6/9 |
0:Bb4/6 6:C5/6
introductions made of the tune's own melody: 1.000 of 3
introductions that stay open: 1.000 of 3
endings that close once: 1.000 of 5
""",  # noqa: E501
    "on two chords": """
introduction, last 4
| Dm7 | Em7 | Dm7 | Em7b5 A7b9 |
1:D5/1 2:E5/1 5:F5/2 9:D5/1 10:C5/5
introduction, last 3
| Em7 | Dm7 | Em7b5 A7b9 |
1:F5/2 5:D5/1 6:C5/5
introduction, vamp 4
| Am6 F#m7b5 | Bm7b5 E7alt | Cmaj7 Fmaj7 | Em7b5 A7b9 |
1:D5/1 2:E5/1 5:F5/2 9:G5/1 10:A5/1
introduction, vamp 3
| Am6 F#m7b5 | Bm7b5 E7alt | Em7b5 A7b9 |
1:D5/1 2:E5/1 5:F5/2 9:G5/1 10:A5/1
introduction, pedal 4
| Am6 | E7sus4b9 | Am6 | E7b9 |
1:D5/1 2:E5/1 5:F5/2 9:E5/1 10:F#5/1
introduction, pedal 3
| Am6 | E7sus4b9 | E7b9 |
1:D5/1 2:E5/1 5:F5/2 9:F5/1 10:G#5/1
ending, held
| Am(maj7) |
0:C5/8
ending, tag
| Dm7 | Em7 | Dm7 | Em7 | Dm7 | Em7 | Dm7 | Em7 | Am(maj7) |
1:D5/1 2:E5/1 5:F5/2 9:D5/1 10:C5/5 17:D5/1 18:E5/1 21:F5/2 25:D5/1 26:C5/5 32:C5/8
ending, vamp
| Am6 F#m7b5 | Bm7b5 E7alt | Cmaj7 Fmaj7 | Em7b5 A7b9 | Am(maj7) |
1:D5/1 2:E5/1 5:F5/2 9:G5/1 10:A5/1 16:C5/1/2 33/2:E5/1/2 17:G#5/1/2 35/2:C6/13/2
ending, ritardando
| Am(maj7) |
0:C5/8
ending, turnaround
| Cmaj7 Fmaj7 | Bm7b5 E7alt | Cmaj7 Fmaj7 | Bm7b5 E7b9 | Am(maj7) |
16:C5/1/2 33/2:E5/1/2 17:G#5/1/2 35/2:C6/13/2
ending, deceptive
| Fmaj7 | Bbmaj7 | Am(maj7) |
0:A4/8 8:C5/8
introductions made of the tune's own melody: 1.000 of 3
introductions that stay open: 0.333 of 3 introduction 0; introduction 1
endings that close once: 1.000 of 5
""",
    "without a melody": """
introduction, last 4
| Fmaj7 | Bb7 | Am7 D7 | Gm7 C7 |
introduction, last 3
| Bb7 | Am7 D7 | Gm7 C7 |
introduction, vamp 4
| F6 D7b9 | Gm7 C7 | Am7 D7b9 | Gm7 C7 |
introduction, vamp 3
| F6 D7b9 | Gm7 C7 | Gm7 C7 |
introduction, pedal 4
| Fmaj7 | C9sus4 | Fmaj7 | C7b9 |
introduction, pedal 3
| Fmaj7 | C9sus4 | C7b9 |
ending, held
| F6/9 |
ending, tag
| Fmaj7 | Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 | Bb7 | Am7 D7 | Gm7 C7 | F6/9 |
ending, vamp
| F6 D7b9 | Gm7 C7 | Am7 D7b9 | Gm7 C7 | F6/9 |
ending, ritardando
| F6/9 |
ending, turnaround
| Am7 D7b9 | Gm7 C7 | Am7 D7b9 | Gm7 C7 | F6/9 |
ending, deceptive
| Dbmaj7 | Gbmaj7 | F6/9 |
0:F4/8
introductions made of the tune's own melody: 0.000 of 0
introductions that stay open: 1.000 of 3
endings that close once: 1.000 of 5
""",
}

ANALYSED = {
    "walking over silences": """
0 E2 3: the slash bass of C/E
1 B1 7: the major seventh of C/E
2 C2 1: the root of C/E
3 E2 3: leads to F: a semitone below
4 F2 1: the root says Fm6
5 Ab2 b3: leads to Bb: a step below
12 Bb2 1: the root says Bb7sus4
13 Ab2 b7: leads to Bb: a step below
14 Bb2 1: the root says Bb7
15 F2 5: leads to G: a step below
16 G2 3: the slash bass of Ebmaj7/G
33/2 G2 3: a ghosted skip into the next beat
17 Eb2 1: the root of Ebmaj7/G
35/2 D2 7: the major seventh of Ebmaj7/G
18 Db2 x: passes from the note before to the next
37/2 C2 6: the sixth of Ebmaj7/G
19 Bb1 5: the fifth of Ebmaj7/G
39/2 A1 x: leads to Ab: a semitone above
20 Ab1 1: the root says Abmaj7#11
21 C2 3: leads to Db: a semitone below
22 Db2 1: the root says Db7#11
23 Eb2 2: leads to D: a semitone above
24 D2 1: the root says Dm7b5
25 F#2 x: leads to G: a semitone below
26 G2 1: the root says G7b9
27 G3 1: leads to C: its fifth, above
28 C3 1: the root says Cm(maj7)
57/2 B2 7: leads to C: a semitone below
29 C3 1: the root says Cdim7
30 B2 1: the root says B7#9
61/2 B2 1: a ghosted skip into the next beat
31 Bb2 1: the root says Bbm6
63/2 F2 5: leads to E: a semitone above
1 C4 1: root position: the bass has another note, so the root is in the chord; on 2, under the melody's long note
1 E4 3: root position: the bass has another note, so the root is in the chord; on 2, under the melody's long note
1 G4 5: root position: the bass has another note, so the root is in the chord; on 2, under the melody's long note
2 E4 3: first inversion: the bass has another note, so the root is in the chord; two notes stay; on 3, under the melody's long note
2 G4 5: first inversion: the bass has another note, so the root is in the chord; two notes stay; on 3, under the melody's long note
2 C5 1: first inversion: the bass has another note, so the root is in the chord; two notes stay; on 3, under the melody's long note
5 G4 9: thinned to ninth, third, sixth: one note stays; on 2, under the melody's long note
5 Ab4 b3: thinned to ninth, third, sixth: one note stays; on 2, under the melody's long note
5 D5 6: thinned to ninth, third, sixth: one note stays; on 2, under the melody's long note
13 Eb4 4: thinned to fourth, fifth, seventh: one note stays; on 2, under the melody's long note
13 F4 5: thinned to fourth, fifth, seventh: one note stays; on 2, under the melody's long note
13 Ab4 b7: thinned to fourth, fifth, seventh: one note stays; on 2, under the melody's long note
31/2 D4 7: thinned to seventh, root, third: the bass has another note, so the root is in the chord; one note stays, the rest moves by step; on 4.5, ahead of its chord
31/2 Eb4 1: thinned to seventh, root, third: the bass has another note, so the root is in the chord; one note stays, the rest moves by step; on 4.5, ahead of its chord
31/2 G4 3: thinned to seventh, root, third: the bass has another note, so the root is in the chord; one note stays, the rest moves by step; on 4.5, ahead of its chord
19 Bb3 5: second inversion: the bass has another note, so the root is in the chord; three notes stay; on 4, under the melody's long note
19 D4 7: second inversion: the bass has another note, so the root is in the chord; three notes stay; on 4, under the melody's long note
19 Eb4 1: second inversion: the bass has another note, so the root is in the chord; three notes stay; on 4, under the melody's long note
19 G4 3: second inversion: the bass has another note, so the root is in the chord; three notes stay; on 4, under the melody's long note
43/2 C4 3: rootless from the third: two notes stay; on 2.5, under the melody's long note
43/2 D4 #11: rootless from the third: two notes stay; on 2.5, under the melody's long note
43/2 G4 7: rootless from the third: two notes stay; on 2.5, under the melody's long note
43/2 Bb4 9: rootless from the third: two notes stay; on 2.5, under the melody's long note
26 Ab4 b9: thinned to ninth, third, seventh; on 3, under the melody's long note
26 B4 3: thinned to ninth, third, seventh; on 3, under the melody's long note
26 F5 b7: thinned to ninth, third, seventh; on 3, under the melody's long note
53/2 Ab4 b9: thinned to ninth, third, seventh: the same again; on 3.5, under the melody's long note
53/2 B4 3: thinned to ninth, third, seventh: the same again; on 3.5, under the melody's long note
53/2 F5 b7: thinned to ninth, third, seventh: the same again; on 3.5, under the melody's long note
55/2 Ab4 b9: thinned to ninth, third, seventh: the same again; on 4.5, under the melody's long note
55/2 B4 3: thinned to ninth, third, seventh: the same again; on 4.5, under the melody's long note
55/2 F5 b7: thinned to ninth, third, seventh: the same again; on 4.5, under the melody's long note
""",  # noqa: E501
    "open over silences": """
0 E2 3: the slash bass of C/E
4 F2 1: the root says Fm6
12 Bb1 1: the root says Bb7sus4
14 Bb1 1: the root says Bb7
16 G1 3: the slash bass of Ebmaj7/G
20 Ab1 1: the root says Abmaj7#11
22 Db2 1: the root says Db7#11
24 D2 1: the root says Dm7b5
26 G1 1: the root says G7b9
28 C2 1: the root says Cm(maj7)
29 C3 1: the root says Cdim7
30 B2 1: the root says B7#9
31 Bb2 1: the root says Bbm6
1/2 C4 1: root position: the bass has another note, so the root is in the chord; on 1.5, under the melody's long note
1/2 E4 3: root position: the bass has another note, so the root is in the chord; on 1.5, under the melody's long note
1/2 G4 5: root position: the bass has another note, so the root is in the chord; on 1.5, under the melody's long note
5/2 G3 5: second inversion: the bass has another note, so the root is in the chord; two notes stay; on 3.5, under the melody's long note
5/2 C4 1: second inversion: the bass has another note, so the root is in the chord; two notes stay; on 3.5, under the melody's long note
5/2 E4 3: second inversion: the bass has another note, so the root is in the chord; two notes stay; on 3.5, under the melody's long note
9/2 Ab3 b3: thinned to third, fifth, sixth: one note stays, the rest moves by step; on 1.5, under the melody's long note
9/2 C4 5: thinned to third, fifth, sixth: one note stays, the rest moves by step; on 1.5, under the melody's long note
9/2 D4 6: thinned to third, fifth, sixth: one note stays, the rest moves by step; on 1.5, under the melody's long note
13 Eb3 4: open, fourth and seventh: two notes stay; on 2, under the melody's long note
13 Ab3 b7: open, fourth and seventh: two notes stay; on 2, under the melody's long note
13 C4 9: open, fourth and seventh: two notes stay; on 2, under the melody's long note
13 F4 5: open, fourth and seventh: two notes stay; on 2, under the melody's long note
29/2 D3 3: open, third and seventh: two notes stay, the rest moves by step; on 3.5, under the melody's long note
29/2 Ab3 b7: open, third and seventh: two notes stay, the rest moves by step; on 3.5, under the melody's long note
29/2 C4 9: open, third and seventh: two notes stay, the rest moves by step; on 3.5, under the melody's long note
29/2 G4 13: open, third and seventh: two notes stay, the rest moves by step; on 3.5, under the melody's long note
17 Ab3 4: thinned to fourth, seventh, root: the bass has another note, so the root is in the chord; one note stays; on 2, under the melody's long note
17 D4 7: thinned to fourth, seventh, root: the bass has another note, so the root is in the chord; one note stays; on 2, under the melody's long note
17 Eb4 1: thinned to fourth, seventh, root: the bass has another note, so the root is in the chord; one note stays; on 2, under the melody's long note
19 Bb2 5: second inversion, open: the bass has another note, so the root is in the chord; one note stays; on 4, under the melody's long note
19 Eb3 1: second inversion, open: the bass has another note, so the root is in the chord; one note stays; on 4, under the melody's long note
19 D4 7: second inversion, open: the bass has another note, so the root is in the chord; one note stays; on 4, under the melody's long note
19 G4 3: second inversion, open: the bass has another note, so the root is in the chord; one note stays; on 4, under the melody's long note
21 C3 3: fourths and a third from the third: two notes stay; on 2, under the melody's long note
21 F3 6: fourths and a third from the third: two notes stay; on 2, under the melody's long note
21 Bb3 9: fourths and a third from the third: two notes stay; on 2, under the melody's long note
21 D4 #11: fourths and a third from the third: two notes stay; on 2, under the melody's long note
21 G4 7: fourths and a third from the third: two notes stay; on 2, under the melody's long note
25 G3 11: fourths from the eleventh; on 2, under the melody's long note
25 C4 b7: fourths from the eleventh; on 2, under the melody's long note
25 F4 b3: fourths from the eleventh; on 2, under the melody's long note
27 F3 b7: open, seventh and third: it resolves to minor, so what the symbol leaves open is altered; on 4, under the melody's long note
27 B3 3: open, seventh and third: it resolves to minor, so what the symbol leaves open is altered; on 4, under the melody's long note
27 Eb4 b13: open, seventh and third: it resolves to minor, so what the symbol leaves open is altered; on 4, under the melody's long note
27 Ab4 b9: open, seventh and third: it resolves to minor, so what the symbol leaves open is altered; on 4, under the melody's long note
57/2 Eb3 b3: open, third and seventh: one note stays, the rest moves by step; on 1.5, under the melody's long note
57/2 B3 7: open, third and seventh: one note stays, the rest moves by step; on 1.5, under the melody's long note
57/2 D4 9: open, third and seventh: one note stays, the rest moves by step; on 1.5, under the melody's long note
57/2 G4 5: open, third and seventh: one note stays, the rest moves by step; on 1.5, under the melody's long note
59/2 Eb4 b3: third, fifth, seventh; on 2.5, under the melody's long note
59/2 Gb4 b5: third, fifth, seventh; on 2.5, under the melody's long note
59/2 A4 bb7: third, fifth, seventh; on 2.5, under the melody's long note
61/2 D#4 3: thinned to third, fifth, seventh: the hand need not move; on 3.5, under the melody's long note
61/2 F#4 5: thinned to third, fifth, seventh: the hand need not move; on 3.5, under the melody's long note
61/2 A4 b7: thinned to third, fifth, seventh: the hand need not move; on 3.5, under the melody's long note
63/2 Db4 b3: thinned to third, fifth, sixth: every voice moves by step; on 4.5, with the melody
63/2 F4 5: thinned to third, fifth, sixth: every voice moves by step; on 4.5, with the melody
63/2 G4 6: thinned to third, fifth, sixth: every voice moves by step; on 4.5, with the melody
""",  # noqa: E501
    "a ballad with chords on quavers": """
0 C2 1: the root says C
1 A1 1: the root says Am
2 D2 1: the root says Dm7
3 G1 1: the root says G7
4 E2 1: the root says Em7
5 B2 5: the fifth of Em7
6 A1 1: the root says A7
7 G2 b7: leads to C: its fifth, above
8 C2 1: the root says C
17/2 A1 1: the root says Am
9 D2 1: the root says Dm7
19/2 G1 1: the root says G7
10 C2 1: the root says C
21/2 A1 1: the root says Am
11 D2 1: the root says Dm7
23/2 Db2 1: the root says Db7
12 F1 1: the root says F
13 Bb1 1: the root says Bb7
14 E1 1: the root says Em7
15 A1 1: the root says A7
16 D2 1: the root says Dm7
17 A2 5: the fifth of Dm7
18 F3 b3: the third of Dm7
20 G1 1: the root says G7
21 D2 5: the fifth of G7
22 B2 3: the third of G7
47/2 B1 3: leads to C: a semitone below
24 C2 1: the root says C
25 Eb2 1: the root says Eb7
26 Ab1 1: the root says Abmaj7
27 B1 1: the root says B7
28 C2 1: the root says C
57/2 G2 5: the fifth of C
29 E3 3: the third of C
1 E4 5: notes of its own; on 2, under the melody's long note
1 G4 b7: notes of its own; on 2, under the melody's long note
1 C5 b3: notes of its own; on 2, under the melody's long note
3/2 D5 11: late voice, a line of its own; notes of its own; on 2, under the melody's long note
3 E4 13: rootless from the thirteenth: one note stays; on 4, where the melody rests
3 F4 b7: rootless from the thirteenth: one note stays; on 4, where the melody rests
3 A4 9: rootless from the thirteenth: one note stays; on 4, where the melody rests
3 B4 3: rootless from the thirteenth: one note stays; on 4, where the melody rests
5 D4 b7: rootless from the seventh: one note stays, the rest moves by step; on 2, under the melody's long note
5 F#4 9: rootless from the seventh: one note stays, the rest moves by step; on 2, under the melody's long note
5 G4 b3: rootless from the seventh: one note stays, the rest moves by step; on 2, under the melody's long note
5 B4 5: rootless from the seventh: one note stays, the rest moves by step; on 2, under the melody's long note
6 G4 b7: rootless from the seventh, with the fifth: two notes stay; on 3, under the melody's long note
6 B4 9: rootless from the seventh, with the fifth: two notes stay; on 3, under the melody's long note
6 C#5 3: rootless from the seventh, with the fifth: two notes stay; on 3, under the melody's long note
7 E5 5: late voice, a line of its own; rootless from the seventh, with the fifth: two notes stay; on 3, under the melody's long note
9 F4 b3: thinned to third, seventh, ninth: one note stays; on 2, under the melody's long note
9 C5 b7: thinned to third, seventh, ninth: one note stays; on 2, under the melody's long note
9 E5 9: thinned to third, seventh, ninth: one note stays; on 2, under the melody's long note
11 F4 b3: thinned to third, fifth, seventh: two notes stay; on 4, under the melody's long note
11 A4 5: thinned to third, fifth, seventh: two notes stay; on 4, under the melody's long note
11 C5 b7: thinned to third, fifth, seventh: two notes stay; on 4, under the melody's long note
13 F4 5: thinned to fifth, seventh, third: one note stays, the rest moves by step; on 2, under the melody's long note
13 Ab4 b7: thinned to fifth, seventh, third: one note stays, the rest moves by step; on 2, under the melody's long note
13 D5 3: thinned to fifth, seventh, third: one note stays, the rest moves by step; on 2, under the melody's long note
31/2 E4 9: rootless from the ninth: one note stays; on 4.5, ahead of its chord
31/2 F4 b3: rootless from the ninth: one note stays; on 4.5, ahead of its chord
31/2 A4 5: rootless from the ninth: one note stays; on 4.5, ahead of its chord
31/2 C5 b7: rootless from the ninth: one note stays; on 4.5, ahead of its chord
17 E4 9: thinned to ninth, third, seventh: three notes stay; on 2, under the melody's long note
17 F4 b3: thinned to ninth, third, seventh: three notes stay; on 2, under the melody's long note
17 C5 b7: thinned to ninth, third, seventh: three notes stay; on 2, under the melody's long note
22 E4 13: rootless from the thirteenth: coloured as the melody is; two notes stay; on 3, under the melody's long note
22 F4 b7: rootless from the thirteenth: coloured as the melody is; two notes stay; on 3, under the melody's long note
22 B4 3: rootless from the thirteenth: coloured as the melody is; two notes stay; on 3, under the melody's long note
47/2 Ab4 b9: late voice, a line of its own; rootless from the thirteenth: coloured as the melody is; two notes stay; on 3, under the melody's long note
25 Gb4 #9: thinned to ninth, third, seventh: coloured as the melody is; on 2, under the melody's long note
25 G4 3: thinned to ninth, third, seventh: coloured as the melody is; on 2, under the melody's long note
25 Db5 b7: thinned to ninth, third, seventh: coloured as the melody is; on 2, under the melody's long note
53/2 D#4 3: rootless from the third: one note stays; on 3.5, ahead of its chord
53/2 G#4 13: rootless from the third: one note stays; on 3.5, ahead of its chord
53/2 A4 b7: rootless from the third: one note stays; on 3.5, ahead of its chord
53/2 C#5 9: rootless from the third: one note stays; on 3.5, ahead of its chord
30 E4 3: rootless from the third: one note stays, the rest moves by step; on 3, under the melody's long note
30 G4 5: rootless from the third: one note stays, the rest moves by step; on 3, under the melody's long note
30 D5 9: rootless from the third: one note stays, the rest moves by step; on 3, under the melody's long note
61/2 A4 6: late voice, a line of its own; rootless from the third: one note stays, the rest moves by step; on 3, under the melody's long note
""",  # noqa: E501
    "sliding under in three": """
0 G2 1: the root says Gm7
3 C2 1: the root says C7
6 F2 1: the root says Fmaj7
9 D2 1: the root says D7
12 G2 1: the root says Gm7
15 C2 1: the root says C7
18 F1 1: the root says Fmaj7
21 F2 1: leads to Bb: its fifth, above
24 Bb1 1: the root says Bbmaj7
27 Bb1 1: the root says Bbm6
30 A1 1: the root says Am7
33 D2 1: the root says D7b9
36 G1 1: the root says Gm7
39 C2 1: the root says C7
42 F1 1: the root says F6
45 F2 1: leads to G: a step below
5/2 E4 3: thinned to third, seventh, ninth; on 3.5, ahead of its chord
5/2 Bb4 b7: thinned to third, seventh, ninth; on 3.5, ahead of its chord
5/2 D5 9: thinned to third, seventh, ninth; on 3.5, ahead of its chord
9 F4 #9: thinned to ninth, third, seventh: it resolves to minor, so what the symbol leaves open is altered; on 1, under the melody's long note
9 G4 4: thinned to ninth, third, seventh: it resolves to minor, so what the symbol leaves open is altered; on 1, under the melody's long note
9 C5 b7: thinned to ninth, third, seventh: it resolves to minor, so what the symbol leaves open is altered; on 1, under the melody's long note
29/2 D4 9: thinned to ninth, third, seventh: the melody has the fourth, so the third gives way; one note stays; on 3.5, ahead of its chord
29/2 F4 4: thinned to ninth, third, seventh: the melody has the fourth, so the third gives way; one note stays; on 3.5, ahead of its chord
29/2 Bb4 b7: thinned to ninth, third, seventh: the melody has the fourth, so the third gives way; one note stays; on 3.5, ahead of its chord
21 C4 5: thinned to fifth, seventh, third: every voice moves by step; on 1, under the melody's long note
21 E4 7: thinned to fifth, seventh, third: every voice moves by step; on 1, under the melody's long note
21 A4 3: thinned to fifth, seventh, third: every voice moves by step; on 1, under the melody's long note
25 D4 3: fourths from the third; on 2, under the melody's long note
25 G4 6: fourths from the third; on 2, under the melody's long note
25 C5 9: fourths from the third; on 2, under the melody's long note
26 Db4 x: fourths: slides down a semitone; on 3, under the melody's long note
26 Gb4 x: fourths: slides down a semitone; on 3, under the melody's long note
26 B4 x: fourths: slides down a semitone; on 3, under the melody's long note
27 C4 9: fourths from the ninth: slides down a semitone; on 1, where the melody rests
27 F4 5: fourths from the ninth: slides down a semitone; on 1, where the melody rests
27 Bb4 1: fourths from the ninth: slides down a semitone; on 1, where the melody rests
33 C4 b7: fourths from the seventh: it resolves to minor, so what the symbol leaves open is altered; two notes stay, the rest moves by step; on 1, under the melody's long note
33 F#4 3: fourths from the seventh: it resolves to minor, so what the symbol leaves open is altered; two notes stay, the rest moves by step; on 1, under the melody's long note
33 Bb4 b13: fourths from the seventh: it resolves to minor, so what the symbol leaves open is altered; two notes stay, the rest moves by step; on 1, under the melody's long note
37 Ab3 x: notes of its own; on 2, under the melody's long note
37 D4 5: notes of its own; on 2, under the melody's long note
37 G4 1: notes of its own; on 2, under the melody's long note
38 A3 9: notes of its own: slides up a semitone; on 3, under the melody's long note
38 Eb4 x: notes of its own: slides up a semitone; on 3, under the melody's long note
38 Ab4 x: notes of its own: slides up a semitone; on 3, under the melody's long note
39 Bb3 b7: fourths from the seventh: slides up a semitone; on 1, where the melody rests
39 E4 3: fourths from the seventh: slides up a semitone; on 1, where the melody rests
39 A4 13: fourths from the seventh: slides up a semitone; on 1, where the melody rests
87/2 A3 3: notes of its own; on 2.5, under the melody's long note
87/2 Db4 x: notes of its own; on 2.5, under the melody's long note
87/2 Gb4 x: notes of its own; on 2.5, under the melody's long note
45 Bb3 4: fourths from the third: the melody has the fourth, so the third gives way; slides up a semitone; on 1, under the melody's long note
45 D4 6: fourths from the third: the melody has the fourth, so the third gives way; slides up a semitone; on 1, under the melody's long note
45 G4 9: fourths from the third: the melody has the fourth, so the third gives way; slides up a semitone; on 1, under the melody's long note
""",  # noqa: E501
}


@pytest.mark.parametrize("name", TUNES)
def test_introductions_and_endings_of_a_tune(compose: Composer, name: str) -> None:
    assert ways(compose, name) == rows(MADE[name])


@pytest.mark.parametrize("name", ANALYSED)
def test_what_is_said_of_given_notes(compose: Composer, name: str) -> None:
    assert analysed(compose, name) == rows(ANALYSED[name])
