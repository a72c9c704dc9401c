"""Small charts with all that a chart can have, in the treatments and metres that other tests seldom play, written out.

Silences, slashes, chords on quavers, every kind of chord, pickups, sections of an odd number of bars, bars of five and
seven. What stands here is what the arranger makes of them today, not what is right: it is kept as in
:mod:`test_written_out`, and for the same reason. Look at what is different when a change of the arranger changes it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from companion.arrange.explain import explain
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Form
from tests.arrange.behaviour.test_written_out import rows, written

Composer = Callable[..., Form]
SILENCES = "C/E | Fm6 N.C. | N.C. | Bb7sus4 Bb7 | Ebmaj7/G | Abmaj7#11 Db7#11 | Dm7b5 G7b9 | Cm(maj7) Cdim7 B7#9 Bbm6"
KINDS = "Csus2 | F5 | Eaug | Amaj13 | Dadd9 | Gm11 | C7#5 | F13b9 | Bbm7b5 | Eb9sus4 | Abm | Db6/9"
STAYS = "Dm7 | Dm7 | Dm7 | Dm7 | Ebm7 | Ebm7 | Ebm7 | Dm7"
QUICK = "C Am Dm7 G7 | Em7 A7 | C Am Dm7 G7 C Am Dm7 Db7 | F Bb7 Em7 A7 | Dm7 | G7 | C Eb7 Abmaj7 B7 | C"
AABA = "Gm7 | C7 | Fmaj7 | D7 | Gm7 | C7 | Fmaj7 | Fmaj7 | Bbmaj7 | Bbm6 | Am7 | D7b9 | Gm7 | C7 | F6 | F6"
MELODY = (
    (-1, 0.5, 67), (-0.5, 0.5, 70), (0, 1.5, 72), (1.5, 2.5, 75), (4, 2, 77), (8.5, 0.5, 79), (9, 1, 77), (10, 0.5, 75),
    (10.5, 0.5, 74), (11, 5, 72), (16.5, 1, 67), (17.5, 0.5, 68), (18, 2, 70), (20, 3, 72), (23.5, 4.5, 80),
    (28, 1, 79), (29, 1, 77), (30, 2, 75),
)  # fmt: skip
LONG_NOTES = tuple((4 * n, 4 if n % 3 else 3, 76 + (5 * n) % 7) for n in range(16))
MINOR, FLAT = {"fifths": -3, "minor": True}, {"fifths": -1}
FIVE_AND_THREE = [("A", 5, None), ("B", 3, None)]
AABA_SECTIONS = [("A", 4, None), ("A", 4, None), ("B", 4, None), ("A", 4, None)]
CHARTS: dict[str, tuple[str, str, dict[str, Any]]] = {
    "walking over silences": (
        SILENCES,
        "walking",
        MINOR | {"tempo": 96.0, "melody": MELODY, "sections": FIVE_AND_THREE},
    ),
    "walking with chords on quavers": (QUICK, "walking", {"tempo": 116.0, "melody": MELODY}),
    "walking slowly on one chord": (STAYS, "walking", {"tempo": 44.0, "melody": LONG_NOTES}),
    "walking fast over all kinds": (KINDS, "walking", {"tempo": 250.0}),
    "walking in two beats": (SILENCES, "walking", MINOR | {"metre": "2/4", "tempo": 150.0}),
    "walking in six eights": (QUICK, "walking", {"metre": "6/8", "tempo": 90.0, "feel": "straight"}),
    "walking in three eights": (AABA, "walking", FLAT | {"metre": "3/8", "tempo": 100.0}),
    "walking in six crotchets": (STAYS, "walking", {"metre": "6/4", "tempo": 160.0}),
    "modal over all kinds": (KINDS, "modal", {"tempo": 130.0, "melody": LONG_NOTES}),
    "in two over silences": (
        SILENCES,
        "in-two",
        MINOR | {"tempo": 120.0, "melody": MELODY, "sections": FIVE_AND_THREE},
    ),
    "in two in seven": (AABA, "in-two", FLAT | {"metre": "7/4", "tempo": 130.0}),
    "in two in two": (QUICK, "in-two", {"metre": "2/4", "tempo": 130.0}),
    "a bossa in four sections": (
        AABA,
        "bossa",
        FLAT | {"feel": "bossa", "tempo": 128.0, "melody": LONG_NOTES, "sections": AABA_SECTIONS},
    ),
    "a bossa in three": (SILENCES, "bossa", MINOR | {"metre": "3/4", "feel": "straight"}),
    "a bossa in five": (STAYS, "bossa", {"metre": "5/4", "feel": "straight"}),
    "a bossa in two": (QUICK, "bossa", {"metre": "2/4", "feel": "straight"}),
    "a tumbao in four sections": (AABA, "tumbao", FLAT | {"feel": "latin", "tempo": 170.0, "sections": AABA_SECTIONS}),
    "a ballad over silences": (
        SILENCES,
        "ballad",
        MINOR | {"tempo": 58.0, "melody": MELODY, "sections": FIVE_AND_THREE},
    ),
    "a ballad with chords on quavers": (QUICK, "ballad", {"tempo": 66.0, "melody": LONG_NOTES}),
    "a ballad in three": (KINDS, "ballad", {"metre": "3/4", "tempo": 60.0}),
    "a ballad in seven": (AABA, "ballad", FLAT | {"metre": "7/4", "tempo": 60.0}),
    "a waltz in six": (AABA, "waltz", FLAT | {"metre": "6/4", "tempo": 150.0}),
    "open over silences": (SILENCES, "open", MINOR | {"tempo": 100.0, "melody": MELODY}),
    "open over all kinds": (KINDS, "open", {"tempo": 100.0, "melody": LONG_NOTES}),
    "sparse over silences": (SILENCES, "sparse", MINOR | {"tempo": 100.0, "melody": MELODY}),
    "sparse over all kinds": (KINDS, "sparse", {"tempo": 100.0, "melody": LONG_NOTES}),
    "a pedal in three": (KINDS, "pedal", {"metre": "3/4", "tempo": 100.0}),
    "shells over all kinds": (KINDS, "shells", {"tempo": 140.0, "melody": LONG_NOTES}),
    "sliding in four sections": (
        AABA,
        "sliding",
        FLAT | {"tempo": 100.0, "melody": LONG_NOTES, "sections": AABA_SECTIONS},
    ),
    "sliding under in three": (
        AABA,
        "sliding-under",
        FLAT | {"metre": "3/4", "tempo": 90.0, "melody": LONG_NOTES[:12]},
    ),
    "block chords over silences": (SILENCES, "block", MINOR | {"tempo": 130.0, "melody": MELODY}),
    "solos over all kinds": (KINDS, "solos", {"tempo": 130.0, "feel": "swing"}),
}

WRITTEN = {
    "walking over silences": """
chords
/1/2 0| 1:C4.E4.G4 2:E4.G4.C5/1 1| 1:G4.Ab4.D5/1 3| 1:Eb4.F4.Ab4/1 7/2:D4.Eb4.G4/1 4| 3:Bb3.D4.Eb4.G4
5| 3/2:C4.D4.G4.Bb4 6| 2:Ab4.B4.F5 5/2:Ab4.B4.F5/1 7/2:Ab4.B4.F5
bass
/9/10 0| 0:E2 1:B1 2:C2 3:E2 1| 0:F2 1:Ab2 3| 0:Bb2 1:Ab2 2:Bb2 3:F2
4| 0:G2/9/20 1/2:G2/1/3*0.4 1:Eb2/9/20 3/2:D2/9/20*0.9 2:Db2/9/20 5/2:C2/9/20*0.9 3:Bb1/9/20 7/2:A1/9/20*0.9
5| 0:Ab1 1:C2 2:Db2 3:Eb2 6| 0:D2 1:F#2 2:G2 3:G3
7| 0:C3/9/20 1/2:B2/9/20*0.9 1:C3 2:B2/9/20 5/2:B2/1/3*0.4 3:Bb2/9/20 7/2:F2/9/20*0.9
""",
    "walking with chords on quavers": """
chords
/1/2 0| 2:F4.A4.C5/1 3:F4.A4.B4 1| 1:F#4.G4.D5/1 2:E4.G4.C#5/1 3:C#4.F#4.G4.B4 2| 0:D4.E4.G4.A4
3| 1:D4.F4.Ab4/1 2:D4.G4.A4/1 3:C#4.F4.G4 4| 3:C4.F4 7/2:C4.F4.G4 5| 3:E4.F4.A4.B4 6| 3:A4.C#5.D#5 7/2:A4.D#5.F#5
bass
/9/20 0| 0:C3 1/2:Bb2*0.9 1:A2 3/2:Eb2*0.9 2:D2/9/10 3:G2 7/2:F2*0.9 1| 0:E2/9/10 1:E3/9/10 2:A2/9/10 3:G2/9/10
2| 0:C3 1/2:A2*0.9 1:D2 3/2:G2*0.9 2:C3 5/2:A2*0.9 3:D2 7/2:Db2*0.9
3| 0:F2/9/10 1:Bb1 3/2:F2*0.9 2:E2/9/10 3:A1 7/2:C#2*0.9 4| 0:D2/9/10 1:F2/9/10 2:A2/9/10 3:Ab2/9/10
5| 0:G2/9/10 1:F2/9/10 2:D2/9/10 3:Db2/9/10 6| 0:C2 1/2:F2*0.9 1:Eb2 3/2:Ab1/1/3*0.4 2:Ab1 5/2:A#1*0.9 3:B1/9/10
7| 0:C2/9/10 1:D2/9/10 2:E2/3/10 7/3:F2/3/10*0.9 8/3:G2/3/10*0.9 3:B2/9/10
""",
    "walking slowly on one chord": """
chords
/1/2 0| 1:F4.A4.C5 3:E4.F4.A4.C5 1| 3/2:A4.C5.F5/2 2| 1:F4.C5.E5 3:F4.C5 3| 3/2:F4.A4.C5/2 7/2:Db4.F4.Gb4.Bb4
4| 3/2:Bb4.Db5.Gb5 5/2:Bb4.Db5.Gb5/3/2 5| 3/2:Gb4.Bb4.Db5.F5/1 3:Gb4.Bb4.Db5 6| 3/2:Gb4.Db5 5/2:Gb4.Bb4.Db5/3/2
7| 3/2:F4.A4.C5/1 3:F4.A4.C5
bass
/9/10 0| 0:D2/27/40 3/4:Db2/9/40*0.9 1:C2 2:B1 3:D2/9/20 7/2:E2/9/20*0.9 1| 0:F2 1:G2 2:A2 3:B2
2| 0:D3 1:C3 2:A2/9/20 5/2:G2/9/20*0.9 3:E2 3| 0:D2 1:B1 2:A1/9/20 5/2:C2/9/20*0.9 3:C#2/9/20 7/2:D2/9/20*0.9
4| 0:Eb2 1:Gb2/9/20 3/2:Eb2/9/20*0.9 2:D2 3:Db2
5| 0:Bb1 1:Ab1/9/20 3/2:C2/9/20*0.9 2:Db2 3:Gb2/3/10 10/3:F2/3/10*0.9 11/3:E2/3/10*0.9
6| 0:Eb2 1:Gb2 2:Bb2/27/40 11/4:C3/9/40*0.9 3:Db3 7| 0:D3 1:B2 2:A2 3:F2/3/10 10/3:E2/3/10*0.9 11/3:Eb2/3/10*0.9
""",
    "walking fast over all kinds": """
chords
/1/2 0| 0:G3.C4.D4/1 3:C4.D4.G4 1| 1/2:C4.F4 2:C4.F4 7/2:G#3.B#3.D4.F#4 2| 3/2:B#3.D4.G#4/1 3:G#3.B#3.D4.F#4
3| 1/2:G#3.B3.C#4.F#4 2:G#3.B3.C#4.E4 7/2:A3.E4.F#4 4| 5/2:F#3.A3.E4/1 5| 1:F3.A3.Bb3.D4 3:F3.Bb3.C4
6| 1:E3.G#3.Bb3.D4 5/2:G#3.Bb3.E4/1 7/2:A3.C4.Eb4/2 7| 2:A3.D4.Eb4.Gb4 7/2:Db4.Fb4.Ab4 8| 1:Db4.Fb4.Ab4.Bb4/5/2
9| 0:Db4.F4.Ab4.Cb5/1 3:Db4.F4.Ab4.Bb4 10| 3/2:Eb4.F4.Cb5 5/2:Cb4.Eb4.F4.Bb4/3/2
11| 1/2:Bb3.Eb4.F4.Ab4 2:Bb3.Eb4.F4 7/2:C4.D4.G4
bass
/9/10 0| 0:C3 1:A2 2:D2 3:C2 1| 0:F2 1:E2 2:C2 3:D#2 2| 0:E2 1:F#2 2:E2 3:G#2 3| 0:A2 1:B2 2:G#2 3:E2
4| 0:D2 1:E2 2:F#2 3:A2 5| 0:G2/9/20 1/2:F2/1/3*0.4 1:F2 2:D2 3:Db2 6| 0:C2 1:B1 2:Bb1 3:C2
7| 0:F2 1:Bb1 2:A1 3:F1/9/20 7/2:Ab1/9/20*0.9 8| 0:Bb1 1:B1 2:Db2 3:D2 9| 0:Eb2 1:Db2 2:F2 3:G2
10| 0:Ab2 1:F2 2:Eb2 3:Cb2 11| 0:Db2 1:Eb2 2:Ab2 3:Bb2/9/20 7/2:B2/9/20*0.9
""",
    "walking in two beats": """
chords
/1/2 0| 1:G3.C4.E4 1| 1/2:G3.Ab3.C4.D4 3| 0:F3.Ab3.C4.Eb4 3/2:Eb3.G3.Bb3.D4 4| 1:G3.Bb3.D4.Eb4 5| 0:G3.Bb3.C4.D4/1
6| 0:F3.Ab3.C4/1 7| 0:Eb3.G3.B3.D4
bass
/9/20 0| 0:E2 1/2:F2*0.9 1:G2/9/10 1| 0:F2 1/2:D2*0.9 3| 0:Bb2 1/2:F3*0.9 1:Bb2 3/2:F#2*0.9
4| 0:G2/9/10 1:Bb2 3/2:A2*0.9 5| 0:Ab2 1/2:Eb2*0.9 1:Db2/9/10 6| 0:D2 1/2:Ab1*0.9 1:G1/9/10
7| 0:C2 1/2:C2*0.9 1:B1 3/2:Bb1*0.9
""",
    "walking in six eights": """
chords
/3/4 0| 0:E3.G3.A3.D4 3/2:F3.A3.C4 1| 0:F#3.G3.B3.D4/1 3/2:F#3.G3.B3.C#4/1 2| 0:E3.G3.A3.D4/3/8 3/2:G3.C4.E4
3| 0:A3.C4.D4.G4 3/2:G3.B3.D4.F#4 5/2:A3.C4.F4/3/2 4| 1:F3.A3.C4.E4/1/2 5/2:F3.A3.B3.D4/1/2
5| 1:F3.A3.B3.E4/1/2 5/2:E3.G3.A3.D4/1/2 6| 3/2:Eb3.G3.Bb3.C4 7| 1:E3.G3.A3.D4/1
bass
/9/10 0| 0:C3 1:A2/9/20*0.9 3/2:D2/27/20 1| 0:E2 1:G2/9/20*0.9 3/2:A2 5/2:B2/9/20*0.9
2| 0:C3 1:D3/9/20*0.9 3/2:C3 5/2:D3/9/20*0.9 3| 0:F2 1:Bb1/9/20*0.9 3/2:E2 5/2:A1/9/20*0.9
4| 0:D2 1:C2/9/20*0.9 3/2:F1/27/20 5| 0:G1 1:A1/9/20*0.9 3/2:B1 5/2:Db2/9/20*0.9
6| 0:C2 1:Eb2/9/20*0.9 3/2:Ab2 5/2:B2/9/20*0.9 7| 0:C3 1:A2/9/20*0.9 3/2:E2 5/2:B2/9/20*0.9
""",
    "walking in three eights": """
chords
/27/20 0| 0:A3.Bb3.D4.F4 1| 0:A3.Bb3.D4.E4 2| 0:G3.A3.C4.E4 3| 1:F3.A3.Bb3.D4/3/2 4| 1:F3.Bb3.C4/1/2
5| 0:E3.A3.Bb3.D4/1 1:E3.G3.A3.C4/3/2 6| 1:E3.G3.A3.D4/1/2 7| 0:A3.C4.E4 8| 1/2:A3.C4.D4.F4/1 9| 0:G3.C4.Db4.F4
10| 0:G3.B3.C4.E4 11| 1:Bb3.D4.F4/3/2 12| 1:Bb3.D4.F4.A4/1/2 13| 0:Bb3.D4.E4.G4/1 1:D4.G4.A4/3/2
14| 1:A3.C4.D4.G4/1/2 15| 0:D4.G4.A4
bass
/9/20 0| 0:G2 1/2:F2 1:D2 1| 0:C2 1/2:D2 1:E2 2| 0:F2 1/2:E2 1:A2 3| 0:D2 1/2:F#2 1:A2 4| 0:G2 1/2:F2 1:D2
5| 0:C2 1/2:E2 1:G2 6| 0:F2 1/2:E2 1:A2 7| 0:F2 1/2:E2/9/40 3/4:D2/9/40*0.9 1:A1 8| 0:Bb1 1/2:D2 1:C2
9| 0:Bb1 1/2:G1 1:G#1 10| 0:A1 1/2:C2 1:C#2 11| 0:D2 1/2:Eb2 1:F#2 12| 0:G2 1/2:F2 1:B2 13| 0:C3 1/2:Bb2 1:Gb2
14| 0:F2 1/2:G2 1:D3 15| 0:C3 1/2:A2 1:F2/9/40 5/4:F#2/9/40*0.9
""",
    "walking in six crotchets": """
chords
/5/2 0| 0:F3.A3.C4.E4/3/2 3/2:A3.C4.F4 1| 3:F3.A3.C4.E4 2| 0:A3.C4.F4/3/2 3/2:F3.A3.C4.E4
3| 1:A3.C4.F4/1/2 4:F3.A3.C4.E4/1/2 11/2:Bb3.Db4.Gb4/2 4| 5/2:Gb3.Bb3.Db4.F4 5| 3:Bb3.Db4.Gb4 6| 5/2:Gb3.Bb3.Db4.F4
7| 3:F3.A3.C4.E4
bass
/9/10 0| 0:D2 1:A1 2:B1 3:C2 4:E2 5:F2 1| 0:A2 1:G2 2:F2 3:A2 4:C3 5:C#3 2| 0:D3 1:C3 2:A2 3:F2 4:E2 5:A2
3| 0:F2 1:D2 2:C2 3:A1 4:B1/9/20 9/2:C2/9/20*0.9 5:D2 4| 0:Eb2 1:Db2 2:Bb1 3:Gb1 4:Ab1 5:Bb1
5| 0:C2 1:Eb2/9/20 3/2:Db2/1/3*0.4 2:Db2 3:Bb1 4:C2 5:Db2 6| 0:Eb2 1:F2 2:Gb2 3:G2 4:Ab2 5:Db2
7| 0:D2 1:E2 2:F2 3:A2/9/20 7/2:B2/1/3*0.4 4:B2 5:C3/9/20 11/2:A2/9/20*0.9
""",
    "modal over all kinds": """
chords
/1/2 0| 1:G4.C5.D5 3:D4.G4.C5 1| 3/2:C5.F5/2 2| 1:G#4.B#4.D5 3:G#4.B#4.D5 3| 3/2:G#4.C#5/2 7/2:E4.F#4.A4
4| 1:A3.E4.F#4 5/2:F#3.A3.E4/1 5| 3:G3.C4.F4 6| 1:E4.Bb4 5/2:E4.G#4.Bb4/1 7/2:Eb4.Gb4.A4 7| 3:Eb3.A3.D4
8| 3/2:Fb3.Bb3.Eb4 5/2:Fb4.Bb4.Eb5/3/2 9| 1/2:Ab4.Db5.F5/1 3:Eb4.Ab4.Db5 10| 3/2:F4.Bb4.Eb5 5/2:F4.Bb4.Eb5/3/2
11| 1/2:Ab4.Bb4.F5/1 3:Bb4.Eb5.F5
bass
/9/10 0| 0:C3 1:D3 2:G2 3:Gb2 1| 0:F2 1:G2 2:C3 3:F2 2| 0:E2 1:D2 2:B#1 3:G#1
3| 0:A1 1:E1 2:G#1/3/10 7/3:A1/3/10*0.9 8/3:B1/3/10*0.9 3:C#2 4| 0:D2 1:B1 2:A1 3:F#1
5| 0:G1 1:A1/9/20 3/2:Bb1/1/3*0.4 2:Bb1 3:G1 6| 0:C2 1:E2 2:D2 3:Gb2 7| 0:F2 1:G#2 2:A2 3:C3
8| 0:Bb2 1:A2 2:Ab2 3:Db2 9| 0:Eb2 1:F2 2:Ab2 3:Eb2 10| 0:Ab2 1:F2 2:Eb2 3:Cb2
11| 0:Db2 1:Eb2 2:Ab2/9/20 5/2:Bb2/9/20*0.9 3:B2
""",
    "in two over silences": """
chords
/1 0| 1:C4.E4.G4/1/2 5/2:E4.G4.C5/3/2 1| 1:G4.Ab4.D5 3| 1:Eb4.F4.Ab4 2:D4.F4.Ab4/3/2 7/2:D4.Eb4.G4
4| 7/2:C4.D4.G4/1/2 5| 1:C4.D4.G4.Bb4 3:Eb4.F4.Cb5/1/2 6| 1:C5.F5 3:B4.Eb5.F5
bass
/19/20 0| 0:E2/19/10 2:G2/19/10 1| 0:F2/57/40 3/2:F3/19/40 3| 0:Bb1/19/10 2:Bb2/19/10 4| 0:G2 1:Eb2 2:D2 3:Bb1
5| 0:Ab1/19/10 2:Db2/19/10 6| 0:D2/19/10 2:G2/57/40 7/2:Db3/19/40 7| 0:C3 1:C3 2:B2 3:Bb2
""",
    "in two in seven": """
chords
/63/10 0| 0:F3.A3.Bb3.D4 1| 0:E3.A3.Bb3.D4 2| 0:G3.A3.C4.E4 3| 3:F#3.Bb3.C4.Eb4/2 4| 1/2:F3.A3.Bb3.D4/2
5| 0:E3.A3.Bb3.D4 13/2:E3.G3.A3.C4/3/2 6| 1:E3.G3.A3.D4/2 7| 0:A3.C4.E4 8| 9/2:A3.C4.D4.F4/2 9| 0:G3.C4.Db4.F4
10| 0:G3.B3.C4.E4 11| 5:F#3.Bb3.C4.Eb4/2 12| 2:Bb3.D4.F4/2 13| 0:A3.Bb3.D4.E4 13/2:A3.C4.D4.G4/2 14| 2:D4.G4.A4/2
15| 0:A3.C4.D4.G4
bass
/19/10 0| 0:G2 2:D3 4:Bb2 6:D3/19/20 1| 0:C3 2:Bb2 4:E2/57/20 2| 0:F2 2:A2/19/20 3:G2/19/20 4:F2 6:Eb2/19/20
3| 0:D2 2:C2 4:F#1 6:A1/19/20 4| 0:G1 2:Bb1/19/20 3:C2/19/20 4:D2 6:B1/19/20 5| 0:C2 2:G2 4:E2/57/20
6| 0:F2 2:C2 4:E2/57/20 7| 0:F2/19/20 1:G2/19/20 2:C3/19/20 3:A2/19/20 4:F2 6:G2/19/40 13/2:A2/19/40
8| 0:Bb2 2:F3 4:D3 6:C3/19/20 9| 0:Bb2 2:F2/57/40 7/2:C3/19/40 4:Bb2/57/20 10| 0:A2 2:E2 4:C2 6:C#2/19/20
11| 0:D2 2:A1 4:C2/57/20 12| 0:G2 2:D2 4:G1 6:Bb1/19/20 13| 0:C2 2:E2 4:G2/57/20 14| 0:F2 2:C3 4:D3 6:C3/19/20
15| 0:F2 2:D2/19/20 3:Db2/19/40 7/2:C2/19/40 4:D2/19/20 5:F2/19/20 6:F#2/19/20
""",
    "in two in two": """
chords
/1/2 0| 1/2:F3.A3.C4.E4/1 1| 0:G3.B3.D4.F#4/1 2| 1/2:A3.B3.D4.F4 3| 0:A3.C4.D4.G4 3/2:A3.C4.F4 4| 1:F3.A3.C4.E4
5| 0:F3.A3.B3.E4/3/2 3/2:E3.G3.A3.D4/1 6| 1:Eb3.G3.Bb3.C4 7| 0:E3.G3.A3.D4/3/2
bass
/19/40 0| 0:C3 1/2:A2 1:D2 3/2:G2 1| 0:E2/19/20 1:A2 3/2:C#3
2| 0:C3/19/80 1/4:A2/19/80 1/2:D2/19/80 3/4:G2/19/80 1:C3/19/80 5/4:A2/19/80 3/2:D2/19/80 7/4:Db2/19/80
3| 0:F2 1/2:Bb2 1:E2 3/2:A2 4| 0:D2/19/20 1:A1/19/20 5| 0:G1/19/20 1:B1/19/20 6| 0:C2 1/2:Eb2 1:Ab1 3/2:B1
7| 0:C2 1/2:A1 1:G1 3/2:G2
""",
    "a bossa in four sections": """
chords
/1 0| 1:F4.Bb4.C5/4/5 5/2:F4.A4.Bb4.D5/13/10 1| 1:Bb4.D5.E5/4/5 5/2:Bb4.E5.G5 7/2:A4.E5.G5/1/2
2| 1:A4.C5.E5/4/5 5/2:A4.C5.E5/13/10 3| 1:F#4.Bb4.C5.Eb5/4/5 5/2:F4.F#4.C5 7/2:D4.F4.Bb4/1/2 4| 5/2:Bb4.F5
5| 1/2:Ab4.Bb4.E5 5/2:Bb4.D5.E5 7/2:Ab4.Bb4.E5/1/2 6| 5/2:E4.G4.A4.C5 7| 1/2:E4.A4.D5 5/2:E4.A4.C5 7/2:E4.A4.D5/1/2
8| 1:A4.D5/4/5 5/2:A4.D5.F5/13/10 9| 1:G4.Db5.F5/4/5 5/2:G4.Db5/13/10 10| 1:G4.C5/4/5 5/2:G4.C5.D5/13/10
11| 1:Bb4.C5.F#5/4/5 5/2:Bb4.C5.F#5 7/2:Bb4.F5/1/2 12| 5/2:Bb4.D5.F5
13| 1/2:Bb4.D5.E5 5/2:Bb4.E5.G5 7/2:Bb4.D5.E5/1/2 14| 5/2:A4.C5.D5 15| 1/2:A4.C5.D5.G5 5/2:A4.C5.D5
bass
/23/50 0| 0:G2/69/50 3/2:D2 2:G1/69/50 7/2:B1 1| 0:C2/69/50 3/2:G2 2:C3/69/50 7/2:C3
2| 0:F2/69/50 3/2:C3 2:F2/69/50 7/2:C2 3| 0:D2/69/50 3/2:A2 2:D2/23/25 3:D2/23/25
4| 0:G1/69/50 3/2:D2 2:G2/69/50 7/2:Bb1 5| 0:C2/69/50 3/2:G1 2:C2/69/50 7/2:C2
6| 0:F2/69/50 3/2:C3 2:F2/69/50 7/2:C3 7| 0:F2/69/50 3/2:C3/23/25 5/2:F2 3:C3 7/2:F2
8| 0:Bb2/69/50 3/2:F3/46/25 7/2:C3 9| 0:Bb2/69/50 3/2:F2/46/25 7/2:G1 10| 0:A1/69/50 3/2:E2/46/25 7/2:A1
11| 0:D2/69/50 3/2:A1 2:D2/23/25 3:D2/23/25 12| 0:G1/69/50 3/2:D2 2:G1/69/50 7/2:D2
13| 0:C2/69/50 3/2:G2 2:C3/69/50 7/2:C3 14| 0:F2/69/50 3/2:C3 2:F2/69/50 7/2:C3
15| 0:F2/69/50 3/2:C2 2:F2/23/25 3:D2 7/2:D2
""",
    "a bossa in three": """
chords
/1/2 0| 1:G3.C4.E4/9/5 1| 1/2:G3.Ab3.C4.D4/1 3| 0:F3.Ab3.C4.Eb4/3/2 3/2:F3.Ab3.C4.D4/1 5/2:Eb3.G3.Bb3.D4/3/2
4| 1:G3.Bb3.D4.Eb4 2:Eb3.G3.Bb3.D4 5| 3/2:F3.G3.Cb4.Eb4/1 6| 1:F3.Ab3.C4.D4 2:F3.Ab3.B3.Eb4 7| 3/2:D#3.G#3.A3.D4/3/4
bass
/23/50 0| 0:E2/69/50 3/2:G2/23/25 5/2:G2 1| 0:F2/69/50 3| 0:Bb2/69/50 3/2:Bb2/23/25 5/2:F2
4| 0:G2/69/50 3/2:Bb2/23/25 5/2:G2 5| 0:Ab2/69/50 3/2:Db2/23/25 5/2:Db2 6| 0:D2/69/50 3/2:G1/23/25 5/2:G1
7| 0:C2/69/100 3/4:C2/69/100 3/2:B1 2:F2/23/100 9/4:Bb1/23/100 5/2:Eb2
""",
    "a bossa in five": """
chords
/1 0| 0:F3.A3.C4.E4/3/2 3:A3.C4.F4/3/2 1| 3:F3.A3.C4.E4/9/5 2| 0:A3.C4.F4/3/2 3:F3.A3.C4.E4/3/2
3| 3/2:A3.C4.F4 3:F3.A3.C4.E4 9/2:Gb3.Bb3.Db4.F4/3/2 4| 1:Bb3.Db4.Gb4 7/2:Gb3.Bb3.Db4.F4
5| 1:Bb3.Db4.Gb4 7/2:Gb3.Bb3.Db4.F4 6| 1:Bb3.Db4.Gb4 7/2:Gb3.Bb3.Db4.F4 7| 1:F3.A3.C4.E4 7/2:A3.C4.F4
bass
/69/100 0| 0:D2/69/50 3/2:A1/23/25 5/2:D2/23/50 3:A2 15/4:A2/23/100 4:D2 19/4:A2/23/100
1| 0:D2/69/50 3/2:A2/23/25 5/2:D3/23/50 3:A2 15/4:A2/23/100 4:D2 19/4:A2/23/100
2| 0:D2/69/50 3/2:A1/23/25 5/2:D2/23/50 3:F2 15/4:A2/23/100 4:D2 19/4:A1/23/100
3| 0:D2/69/50 3/2:A1/23/25 5/2:D2/23/50 3:A1 15/4:A1/23/100 4:D2 19/4:D2/23/100
4| 0:Eb2/69/50 3/2:Bb1/23/25 5/2:Eb2/23/50 3:Bb1 15/4:Bb1/23/100 4:Eb2 19/4:Bb1/23/100
5| 0:Eb2/69/50 3/2:Bb1/23/25 5/2:Eb2/23/50 3:Db2 15/4:Bb1/23/100 4:Eb2 19/4:Bb2/23/100
6| 0:Eb3/69/50 3/2:Bb2/23/25 5/2:Eb2/23/50 3:Bb2 15/4:Bb2/23/100 4:Eb2 19/4:Eb2/23/100
7| 0:D2/69/50 3/2:A2/23/50 2:D2/23/50 5/2:A2/23/50 3:D2 15/4:A2/23/100 4:A2/23/50 9/2:A2/23/50
""",
    "a bossa in two": """
chords
/1/2 0| 1/2:F3.A3.C4.E4/1 1| 1/2:G3.B3.C#4.F#4/1 2| 1/2:F3.A3.B3.E4 3| 0:G3.A3.C4.D4 3/2:F3.A3.C4.E4
4| 3/2:F3.A3.B3.D4 5| 3/2:A3.D4.E4 6| 1:G3.Bb3.C4.Eb4 7| 0:A3.D4.E4/3/5 3/2:E3.G3.A3.D4
bass
/23/100 0| 0:C3/23/50 1/2:A2 3/4:E2 1:D2/23/50 3/2:G1 7/4:D2 1| 0:E2/69/100 3/4:B2 1:A2/69/100 7/4:G2
2| 0:C3 1/4:A2 1/2:D3 3/4:G2 1:C3 5/4:A2 3/2:D2 7/4:Db2 3| 0:F2/23/50 1/2:Bb2 3/4:F2 1:E2/23/50 3/2:A2 7/4:A2
4| 0:D2/69/100 3/4:A2/23/25 7/4:Ab2 5| 0:G2/69/100 3/4:D2/23/25 7/4:D2
6| 0:C2/23/50 1/2:Eb2 3/4:Bb1 1:Ab1/23/50 3/2:B1 7/4:B1 7| 0:C2/69/100 3/4:G2 1:C3/23/50 3/2:G2/23/50
""",
    "a tumbao in four sections": """
chords
/4/5 0| 0:F3.A3.Bb3.D4 3/2:F3.Bb3.C4 3:F3.A3.Bb3.D4 1| 1/2:E3.A3.Bb3.D4/1 5/2:E3.G3.Bb3/1 7/2:E3.G3.A3.C4/2
2| 3/2:E3.A3.D4 3:G3.A3.C4.E4 3| 1:F#3.Bb3.C4.F4 5/2:F#3.Bb3.C4.Eb4/1 7/2:F3.A3.Bb3.D4/2 4| 3/2:F3.Bb3.C4/9/5
5| 0:E3.A3.Bb3.D4 3/2:G3.Bb3.D4.E4 3:E3.A3.Bb3.D4 6| 0:E3.G3.A3.C4/1 3/2:E3.G3.A3.D4/9/5
7| 0:E3.G3.A3.C4 3/2:E3.G3.A3.D4 3:E3.G3.A3.C4 8| 1:F3.A3.D4 5/2:D3.F3.A3.C4/13/10
9| 1:F3.G3.Db4 5/2:G3.C4.Db4.F4/13/10 10| 1:G3.C4.D4 5/2:G3.B3.C4.E4/13/10
11| 1:F#3.Bb3.C4.Eb4 5/2:F#3.Bb3.C4/1 7/2:F3.A3.Bb3.D4/2 12| 5/2:F3.Bb3.C4/1 13| 0:E3.A3.Bb3.D4/1 3/2:E3.G3.Bb3/9/5
14| 1/2:D3.G3.A3.C4/1 5/2:A3.C4.D4/1 7/2:D3.G3.A3.C4/1 15| 1:A3.C4.D4 5/2:D3.G3.A3.C4
bass
/57/40 0| 3/2:D2 3:C2/19/8 1| 3/2:G2 3:F2/19/8 2| 3/2:C2 3:D2 3| 1/2:A2/19/20 3/2:A2/19/20 5/2:D2/19/40 3:G1/19/8
4| 3/2:D2 3:C2/19/8 5| 3/2:G2 3:F2/19/8 6| 3/2:C2 3:F2/19/8 7| 3/2:C2/19/40 2:C3/19/40 5/2:A2/19/40 3:Bb2/19/8
8| 3/2:F2 3:Bb2/19/8 9| 3/2:Db3 3:A2/19/8 10| 3/2:G2 3:D2 11| 1/2:A1/19/20 3/2:A2/19/20 5/2:D2/19/40 3:G1/19/8
12| 3/2:D2 3:C2/19/8 13| 3/2:G2 3:F2/19/8 14| 3/2:C3 3:F2/19/8 15| 3/2:C2/19/40 2:D2/19/40 5/2:A1/19/40 3:G1/19/20
""",
    "a ballad over silences": """
chords
/1 0| 1:C4.E4.G4/3/2 5/2:G3.C4.E4/3/2 1| 1:Ab3.C4.D4 3| 1:Ab3.C4.Eb4 3/2:F4/1/2 2:C4.D4.Ab4/3/2 7/2:Bb3.D4.G4
4| 0:Eb4/1/2 3:G3.Bb3.D4.Eb4 5| 1:G3.Bb3.C4 3/2:D4/1/2 6| 1:F3.Ab3.C4.D4 2:F3.Ab3.B3/3/2 5/2:Eb4 7/2:B3.Eb4.F4/1/2
bass
/1 0| 0:E1P 1:G1P 2:E2/2P 1| 0:F1P 1:C2P 3| 0:Bb1P 1:F2P 2:Bb1P 3:D3P 4| 0:G1/1/2P 1/2:Bb1/1/2P 1:G2/3P
5| 0:Ab1P 1:G2P 2:Db2P 3:F2P 6| 0:D2P 1:Ab2P 2:G1P 3:B2P 7| 0:C2P 1:C2P 2:B1P 3:Bb1P
""",
    "a ballad with chords on quavers": """
chords
/1 0| 1:E4.G4.C5 3/2:D5/1/2 3:E4.F4.A4.B4 1| 1:D4.F#4.G4.B4 2:G4.B4.C#5/2 3:E5 2| 1:F4.C5.E5/1/2 3:F4.A4.C5/1/2
3| 1:F4.Ab4.D5 7/2:E4.F4.A4.C5/1/2 4| 1:E4.F4.C5/3 5| 2:E4.F4.B4/2 7/2:Ab4/1/2
6| 1:Gb4.G4.Db5 5/2:D#4.G#4.A4.C#5/3/2 7| 2:E4.G4.D5/2 5/2:A4/3/2
bass
/1 0| 0:C2P 1:A1P 2:D2P 3:G1P 1| 0:E2P 1:B2P 2:A1P 3:G2P
2| 0:C2/1/2P 1/2:A1/1/2P 1:D2/1/2P 3/2:G1/1/2P 2:C2/1/2P 5/2:A1/1/2P 3:D2/1/2P 7/2:Db2/1/2P
3| 0:F1P 1:Bb1P 2:E1P 3:A1P 4| 0:D2P 1:A2P 2:F3/2P 5| 0:G1P 1:D2P 2:B2/3/2P 7/2:B1/1/2P 6| 0:C2P 1:Eb2P 2:Ab1P 3:B1P
7| 0:C2/1/2P 1/2:G2/1/2P 1:E3/3P
""",
    "a ballad in three": """
chords
/2 0| 1:C4.D4.G4 1| 1:C4.F4 2| 1:G#3.B#3.D4.F#4 3| 1:G#3.B3.C#4.E4/3/2 5/2:F#3.A3.E4/5/2 4| 2:A3.E4.F#4/1
5| 1:Bb3.D4.F4 2:A4/1 6| 1:Bb3.D4.E4.G#4 7| 1:A3.Eb4.Gb4/3/2 2:B4/1/2 5/2:Db4.Fb4.Ab4/7/2
9| 1:Db4.F4.Ab4/3/2 2:C5/1/2 5/2:Eb4.F4.Cb5/5/2 10| 2:Cb4.Eb4.F4/1 5/2:Bb4/1/2
11| 1:Bb3.Eb4.F4.Ab4/1 2:Eb4.F4.Bb4/1 5/2:Ab4/1/2
bass
/1 0| 0:C2P 1:G2P 2:D3P 1| 0:F1P 1:F2/2P 2| 0:E1P 1:B#1P 2:G#2P 3| 0:A1/1/2P 1/2:E2/1/2P 1:C#3/2P
4| 0:D2P 1:A2P 2:F#3P 5| 0:G1P 1:Bb2/2P 6| 0:C2P 1:Bb2P 2:E3P 7| 0:F1/1/2P 1/2:C2/1/2P 1:A2/2P
8| 0:Bb1P 1:Fb2P 2:Db3P 9| 0:Eb2P 1:Bb2P 2:Ab2P 10| 0:Ab1P 1:Eb2P 2:Cb3P 11| 0:Db2P 1:Ab2P 2:F3P
""",
    "a ballad in seven": """
chords
/63/10 0| 0:Bb3.D4.F4.A4 1| 0:Bb3.D4.E4.A4 2| 0:A3.C4.E4 1:G4/53/10 3| 3:Bb3.C4.Eb4.F#4/2 4| 1/2:Bb3.D4.F4/2
5| 0:Bb3.D4.E4 1:G4/53/10 13/2:C4.E4.A4/7/2 7| 0:A3.C4.E4.G4 8| 9/2:A3.D4.F4/2 11/2:C4/1 9| 0:G3.C4.Db4.F4
10| 0:G3.B3.C4.E4 11| 5:Bb3.C4.F#4/2 6:Eb4/1 12| 2:A3.Bb3.D4.F4/2 13| 0:A3.Bb3.D4.E4 13/2:A3.D4.G4/2
14| 1/2:C4/1 2:D4.G4.A4/2 15| 0:A3.D4.G4 1/2:C4/29/5
bass
/3/2 0| 0:G1P 3/2:D2P 3:Bb2/3P 6:F3/1P 1| 0:C2/2P 2:G2/2P 4:E3/2P 6:Bb2/1P 2| 0:F1P 3/2:C2P 3:A2/3P 6:F1/1P
3| 0:D2P 3/2:A2P 3:F#3/3P 6:A2/1P 4| 0:G1P 3/2:D2P 3:Bb2/3P 6:Bb1/1P 5| 0:C2/2P 2:G2/2P 4:E3/2P 6:G2/1P
6| 0:F1P 3/2:C2P 3:A2/3P 6:C2/1P 7| 0:F1P 3/2:C2P 3:A2/3P 6:E2/1P 8| 0:Bb1/2P 2:F2/2P 4:D3/2P 6:A2/1P
9| 0:Bb1P 3/2:F2P 3:Db3/3P 6:G2/1P 10| 0:A1P 3/2:E2P 3:C3/3P 6:G1/1P 11| 0:D2P 3/2:A2P 3:F#3/3P 6:A2/1P
12| 0:G1/2P 2:D2/2P 4:Bb2/2P 6:G1/1P 13| 0:C2P 3/2:G2P 3:E3/3P 6:G2/1P 14| 0:F1/2P 2:C2/2P 4:A2/2P 6:D2/1P
15| 0:F1P 3/2:C2P 3:A2/3P 6:D2/1P
""",
    "a waltz in six": """
chords
/3/5 0| 1:Bb3.D4.F4.A4 2:D4.F4.Bb4 4:Bb3.D4.F4.A4/8/5 1| 1:Bb3.D4.E4.G4 2:Bb3.D4.E4.A4 4:Bb3.D4.E4.G4 5:Bb3.D4.E4.A4
2| 1:A3.C4.E4.G4 2:C4.E4.A4 4:A3.C4.E4.G4 5:G3.A3.C4.E4
3| 1:F#3.Bb3.C4.F4/9/5 4:F#3.Bb3.C4.Eb4/3/2 11/2:F3.A3.Bb3.D4/3/2 4| 1:F3.Bb3.C4/9/5 4:F3.A3.Bb3.D4/9/5
5| 1:E3.A3.Bb3.D4/9/5 4:E3.G3.Bb3/3/2 11/2:E3.G3.A3.C4/3/2 6| 1:E3.G3.A3.D4 2:E3.G3.A3.C4 4:E3.G3.A3.D4 5:A3.C4.E4
7| 1:E3.G3.A3.D4 2:E3.G3.A3.C4 4:E3.G3.A3.D4 5:E3.G3.A3.C4 8| 1:F3.A3.D4/9/5 4:D3.F3.A3.C4/9/5
9| 1:F3.G3.Db4/9/5 4:G3.C4.Db4.F4/9/5 10| 1:G3.B3.C4.E4/9/5 4:G3.C4.D4/9/5
11| 1:F#3.Bb3.C4.Eb4/9/5 4:F#3.Bb3.C4/3/2 11/2:F3.A3.Bb3.D4/3/2
12| 1:F3.Bb3.C4 2:F3.A3.Bb3.D4 4:Bb3.D4.F4 5:Bb3.D4.F4.A4 13| 1:Bb3.D4.E4.G4/8/5 4:Bb3.D4.E4.A4 5:Bb3.D4.E4.G4
14| 1:D4.G4.A4 2:A3.C4.D4.G4 4:D4.G4.A4 5:A3.C4.D4.G4 15| 1:D4.G4.A4 2:A3.C4.D4.G4 4:D4.G4.A4 5:A3.C4.D4.G4
bass
/9/5 0| 0:G2 2:D2/9/10 3:F2 5:D2/9/10 1| 0:C2/27/10 3:G2 5:Gb2/9/10 2| 0:F2 2:A2/9/10 3:F2 5:E2/9/10
3| 0:D2 2:C2/9/10 3:A1 5:Ab1/9/10 4| 0:G1 2:D2/9/10 3:G1 5:B1/9/10 5| 0:C2/27/10 3:G2 5:E2/9/10
6| 0:F2 2:A2/9/10 3:E2 5:D2/9/10 7| 0:F2 2:A2/9/10 3:C3 5:B2/9/10 8| 0:Bb2 2:A2/9/10 3:D2 5:F2/9/10
9| 0:Bb2 2:G2/9/10 3:Db3 5:Bb2/9/10 10| 0:A2/27/10 3:E2 5:Eb2/9/10 11| 0:D2 2:C2/9/10 3:A1 5:F#1/9/10
12| 0:G1 2:Bb1/9/10 3:F2 5:D2/9/10 13| 0:C2 2:E2/9/10 3:G2 5:Gb2/9/10 14| 0:F2/27/10 3:C3 5:A2/9/10
15| 0:F2 2:C2/9/10 3:D2 5:F2/9/10
""",
    "open over silences": """
chords
/1 0| 1/2:C4.E4.G4/2 5/2:G3.C4.E4/3/2 1| 1/2:Ab3.C4.D4/3/2 3| 1:Eb3.Ab3.C4.F4P 5/2:D3.Ab3.C4.G4/3/2P
4| 1:Ab3.D4.Eb4/2 3:Bb2.Eb3.D4.G4P 5| 1:C3.F3.Bb3.D4.G4P 6| 1:G3.C4.F4 3:F3.B3.Eb4.Ab4P
7| 1/2:Eb3.B3.D4.G4/1/2P 3/2:Eb4.Gb4.A4/1/2 5/2:D#4.F#4.A4/1/2 7/2:Db4.F4.G4/1/2
bass
/2 0| 0:E2/4P 1| 0:F2P 3| 0:Bb1P 2:Bb1P 4| 0:G1/4P 5| 0:Ab1P 2:Db2P 6| 0:D2P 2:G1P
7| 0:C2/1P 1:C3/1P 2:B2/1P 3:Bb2/1P
""",
    "open over all kinds": """
chords
/2 0| 1/2:C4.D4.G4 5/2:G3.C4.D4/3/2 1| 1/2:F3.C4/7/2 2| 3/2:G#3.B#3.D4/5/2 3| 1:G#3.C#4.F#4 3:G#3.C#4.E4.B4/1P
4| 1:A3.E4.F#4/3 5| 2:F3.Bb3.D4.A4P 6| 1:D4.E4.Bb4 3:E3.Bb3.D4.G#4/1P 7| 3/2:Eb3.A3.D4.Gb4/5/2P
8| 1/2:Fb3.Bb3.Eb4 5/2:Db3.Ab3.Eb4.Fb4/3/2P 9| 1:Ab3.Db4.F4/3 10| 1:Bb3.Eb4.Ab4 3:Eb3.Cb4.F4.Bb4/1P
11| 1/2:F3.Bb3.Eb4.Ab4P 5/2:F3.Bb3.Eb4.Ab4.C5/3/2P
bass
/4 0| 0:C3P 1| 0:F2P 2| 0:E2P 3| 0:A2P 4| 0:D3P 5| 0:G2P 6| 0:C2P 7| 0:F2P 8| 0:Bb1P 9| 0:Eb2P 10| 0:Ab2P 11| 0:Db3P
""",
    "sparse over silences": """
chords
/1 0| 1:C4.E4.G4/3/2 5/2:G3.C4.E4/3/2 1| 1:Ab3.D4.G4 3| 1:Bb3.Eb4.Ab4 2:C4.D4.Ab4/3/2 7/2:Bb3.D4.Eb4.G4
4| 3:G3.Bb3.D4.Eb4 5| 3/2:F3.Bb3.D4/1/2 6| 1:G3.C4.F4 2:F3.B3.Eb4/1/2 5/2:Ab3.B3.F4 7/2:F3.B3.Eb4/1/2
bass
/2 0| 0:E2/4P 1| 0:F2P 3| 0:Bb1P 2:Bb1P 4| 0:G1/4P 5| 0:Ab1P 2:Db2P 6| 0:D2P 2:G1P
7| 0:C2/1P 1:C3/1P 2:B2/1P 3:Bb2/1P
""",
    "sparse over all kinds": """
chords
/2 0| 1:G3.C4.D4/3 1| 2:F3.C4 2| 1:G#3.B#3.D4/3 3| 2:G#3.C#4.F#4/3/2 7/2:A3.E4.F#4/1/2 4| 3/2:F#3.A3.E4/5/2
5| 3/2:G3.C4.F4/5/2 6| 3/2:Bb3.E4.G#4 7/2:A3.Eb4.Gb4/1/2 7| 3/2:Eb3.A3.D4 7/2:Eb3.Ab3.Db4/1/2 8| 2:Fb3.Bb3.Eb4
9| 1:Ab3.Db4.F4 3:Bb3.Eb4.Ab4/1 10| 2:Cb4.F4.Bb4 11| 1:Bb3.Eb4.Ab4 3:F3.Bb3.Eb4/1
bass
/4 0| 0:C3P 1| 0:F2P 2| 0:E2P 3| 0:A2P 4| 0:D3P 5| 0:G2P 6| 0:C2P 7| 0:F2P 8| 0:Bb1P 9| 0:Eb2P 10| 0:Ab2P 11| 0:Db3P
""",
    "a pedal in three": """
chords
/2 0| 0:G3.C4.D4/3 1| 0:F3.C4/3 2| 0:G#3.B#3.D4/3 3| 1:F#3.B3.E4/3/2 5/2:F#3.A3.E4/3/2 4| 1:A3.E4.F#4 5| 1:A3.D4.G4
6| 0:Bb3.E4.G#4/5/2 5/2:A3.D4.Eb4.Gb4/3/2 7| 1:Eb3.A3.D4 8| 1:Fb3.Bb3.Eb4 9| 0:Eb3.Ab3.Db4/3 10| 1:F3.Bb3.Eb4
11| 0:F3.Bb3.Eb4/3
bass
/3 0| 0:G1P 1| 0:G2/2P 2:G2/1P 2| 0:G2P 3| 0:G1P 4| 0:G2P 5| 0:G2/2P 2:G2/1P 6| 0:G2P 7| 0:G2P 8| 0:G1P 9| 0:G1P
10| 0:G1/2P 2:G1/1P 11| 0:G1P
""",
    "shells over all kinds": """
chords
/2 0| 1:G3.C4.D4/3 1| 2:F3.C4 2| 1:E3.B#3/3 3| 2:A3.C#4/3/2 7/2:F#3.A3.E4/1/2 4| 3/2:F#3.A3.E4/5/2 5| 3/2:G3.F4/5/2
6| 3/2:C4.E4 7/2:F3.Eb4/1/2 7| 3/2:F3.A3 7/2:Bb3.Db4/1/2 8| 2:Bb3.Db4 9| 1:Eb3.Ab3 3:Eb3.Db4/1 10| 2:Ab3.F4
11| 1:Db4.F4 3:Db4.Bb4/1
bass
/4 0| 0:C3P 1| 0:F2P 2| 0:E2P 3| 0:A2P 4| 0:D3P 5| 0:G2P 6| 0:C2P 7| 0:F2P 8| 0:Bb1P 9| 0:Eb2P 10| 0:Ab2P 11| 0:Db3P
""",
    "sliding in four sections": """
chords
/1 0| 0:G3.Db4.Gb4/3/2 3/2:Ab3.D4.G4/3/2 3:A3.Eb4.Ab4 1| 0:Bb3.E4.A4/4*1.05
2| 0:Bb3.E4.A4 1:A3.Eb4.Ab4 2:Ab3.D4.G4 3:G3.Db4.Gb4 3| 0:F#3.C4.F4/4*1.05
4| 0:C4.F4.B4/3/2 3/2:B3.E4.Bb4/3/2 3:Bb3.Eb4.A4 5| 0:A3.D4.Ab4/4*1.05
6| 0:Eb3.Ab3.C4 1:E3.A3.Db4 2:F3.Bb3.D4 3:Gb3.B3.Eb4 7| 0:G3.C4.E4/4*1.05 8| 0:G3.C4.E4/2 2:Ab3.Db4.F4 3:A3.D4.Gb4
9| 0:Bb3.Eb4.G4/4*1.05 10| 3/2:Eb4.A4.Db5 5/2:D4.Ab4.C5 7/2:Db4.G4.B4/1/2 11| 0:C4.F#4.Bb4/4*1.05
12| 0:C4.F4.A4/2 2:B3.E4.Ab4 3:Bb3.Eb4.G4 13| 0:A3.D4.Gb4/4*1.05 14| 3/2:A3.Db4.Gb4 5/2:Bb3.D4.G4 7/2:B3.Eb4.Ab4/1/2
15| 0:C4.E4.A4/4*1.05
bass
/4 0| 0:G2P 1| 0:C2P 2| 0:F2P 3| 0:D2P 4| 0:G2P 5| 0:C2P 6| 0:F1P 7| 0:F2P 8| 0:Bb1P 9| 0:Bb1P 10| 0:A1P 11| 0:D2P
12| 0:G1P 13| 0:C2P 14| 0:F1P 15| 0:F2P
melody
/1
""",
    "sliding under in three": """
chords
/3 0| 5/2:E4.Bb4.D5/7/2*1.05 3| 0:F4.G4.C5*1.05 4| 5/2:D4.F4.Bb4/7/2*1.05 7| 0:C4.E4.A4*1.05
8| 1:D4.G4.C5/1 2:Db4.Gb4.B4/1 9| 0:C4.F4.Bb4*1.05 11| 0:C4.F#4.Bb4*1.05 12| 1:Ab3.D4.G4/1 2:A3.Eb4.Ab4/1
13| 0:Bb3.E4.A4/1*1.05 14| 3/2:A3.Db4.Gb4/3/2 15| 0:Bb3.D4.G4*1.05
bass
/3 0| 0:G2P 1| 0:C2P 2| 0:F2P 3| 0:D2P 4| 0:G2P 5| 0:C2P 6| 0:F1P 7| 0:F2P 8| 0:Bb1P 9| 0:Bb1P 10| 0:A1P 11| 0:D2P
12| 0:G1P 13| 0:C2P 14| 0:F1P 15| 0:F2P
melody
/4 0| 0:E5/3 1| 1:A5 2| 2:G5 4| 0:F5/3 5| 1:Bb5 6| 2:Ab5/1 8| 0:Gb5/3 9| 1:E5 10| 2:A5/1 12| 0:G5/3 13| 1:F5
14| 2:Bb5/1
""",
    "block chords over silences": """
chords
/1 0| 0:C4.E4.G4/3/2*1.08 3/2:E4.G4.C5/5/2*1.08 1| 0:G4.Ab4.D5/2*1.08
3| 1/2:Eb4.F4.Ab4/1/2 2:D4.F4.Ab4/1/2 7/2:D4.Eb4.G4/1/2 4| 1/2:G3.Bb3.D4.Eb4*1.08 2:Bb3.D4.Eb4.G4/2*1.08
5| 0:C4.G4.Bb4/2*1.08 7/2:C5.F5/3/2*1.08 6| 1:Ab4.C5.F5/1/2 2:Ab4.B4.F5
7| 0:G4.B4.Eb5*1.08 1:Eb4.Gb4.A4.C5*1.08 2:D#4.F#4.A4*1.08
bass
/19/10 0| 0:E2 2:G2 1| 0:F2/57/40 3/2:F3/19/40 3| 0:Bb1/19/20 1:C2/19/20 2:Bb1/19/20 3:Ab1/19/20 4| 0:G1 2:G2
5| 0:Ab2 2:Db2/57/40 7/2:Db2/19/40 6| 0:D2 2:G2
7| 0:C2/19/20 1:C3/19/20 2:B2/19/20 3:Bb2/19/60 10/3:A2/19/60 11/3:F2/19/60
""",
    "solos over all kinds": """
chords
/1/2 0| 0:C4.D4.G4/1 3:G3.C4.D4 1| 1/2:F3.C4 2:F3.C4 7/2:G#3.B#3.D4 2| 3/2:G#3.B#3.D4.F#4/2
3| 1/2:G#3.B3.C#4.F#4 2:G#3.B3.C#4.E4 7/2:A3.E4.F#4 4| 5/2:F#3.A3.E4/1 5| 1:F3.A3.Bb3.D4 3:F3.Bb3.C4
6| 1:E3.G#3.Bb3.D4 5/2:G#3.Bb3.E4/1 7/2:A3.C4.Eb4/2 7| 2:A3.D4.Eb4.Gb4 7/2:Db4.Fb4.Ab4 8| 1:Db4.Fb4.Ab4.Bb4/5/2
9| 0:Db4.F4.Ab4.Cb5/1 3:Db4.F4.Ab4.Bb4 10| 3/2:Eb4.F4.Cb5 5/2:Cb4.Eb4.F4.Bb4/3/2
11| 1/2:Bb3.Eb4.F4.Ab4 2:Bb3.Eb4.F4 7/2:C4.D4.G4
bass
/9/10 0| 0:C3 1:D3 2:G2 3:Gb2 1| 0:F2 1:G2 2:C3 3:F2 2| 0:E2 1:D2 2:B#1 3:G#1
3| 0:A1 1:E1 2:G#1/3/10 7/3:A1/3/10*0.9 8/3:B1/3/10*0.9 3:C#2 4| 0:D2 1:B1 2:A1 3:F#1
5| 0:G1 1:A1/9/20 3/2:Bb1/1/3*0.4 2:Bb1 3:G1 6| 0:C2 1:E2 2:D2 3:Gb2 7| 0:F2 1:G#2 2:A2 3:C3
8| 0:Bb2 1:A2 2:Ab2 3:Db2 9| 0:Eb2 1:F2 2:Ab2 3:Eb2 10| 0:Ab2 1:F2 2:Eb2 3:Cb2
11| 0:Db2 1:Eb2 2:Ab2/9/20 5/2:Bb2/9/20*0.9 3:B2
""",
}

REASONS = {
    "walking over silences": """
A: walking, a walking bass, rootless chords in the melody's gaps
1  | C/E |
bass    E2 the slash bass of C/E; B1 the major seventh of C/E; C2 the root of C/E; E2 leads to F: a semitone below
chords  beat 2: C4 E4 G4 (1 3 5), root position: the bass has another note, so the root is in the chord; takes up the melody's rhythm, a riff, while the melody holds C5
chords  beat 3: E4 G4 C5 (3 5 1), first inversion: the hand goes up; the bass has another note, so the root is in the chord; takes up the melody's rhythm, a riff, while the melody holds Eb5
scales  C ionian
2  | Fm6  N.C. |
bass    F2 the root says Fm6; Ab2 the third of Fm6
chords  beat 2: G4 Ab4 D5 (9 b3 6), thinned to ninth, third, sixth: one hand holds it with the melody's F5; one note stays; on 2, long, a riff, while the melody holds F5
scales  F dorian
3  | N.C. |
4  | Bb7sus4  Bb7 |
bass    Bb2 the root says Bb7sus4; Ab2 leads to Bb: a step below; Bb2 the root says Bb7; F2 leads to G: a step below
chords  beat 2: Eb4 F4 Ab4 (4 5 b7), thinned to fourth, fifth, seventh: one hand holds it with the melody's C5; the hand goes down, to stay under the melody's C5; on 2, long, a riff, while the melody holds C5
chords  beat 4.5: D4 Eb4 G4 (7 1 3), thinned to seventh, root, third: one hand holds it with the melody's C5; one note stays, the rest moves by step; the bass has another note, so the root is in the chord; a quaver before Ebmaj7/G begins, while the melody holds C5
scales  Bb7sus4: Bb mixolydian; Bb7: Bb mixolydian
5  | Ebmaj7/G |
bass    G2 the slash bass of Ebmaj7/G; G2 a ghosted skip into the next beat; Eb2 the root of Ebmaj7/G; D2 the major seventh of Ebmaj7/G; Db2 passes from the note before to the next; C2 the sixth of Ebmaj7/G; Bb1 the fifth of Ebmaj7/G; A1 leads to Ab: a semitone above, on the quaver
chords  beat 4: Bb3 D4 Eb4 G4 (5 7 1 3), second inversion: three notes stay; the bass has another note, so the root is in the chord; the quaver before the bar, while the melody holds Bb4
scales  Eb ionian
B: walking, a walking bass, rootless chords in the melody's gaps
6  | Abmaj7#11  Db7#11 |
bass    Ab1 the root says Abmaj7#11; C2 leads to Db: a semitone below; Db2 the root says Db7#11; Eb2 leads to D: a semitone above
chords  beat 2.5: C4 D4 G4 Bb4 (3 #11 7 9), rootless from the third: two notes stay; takes up the melody's rhythm, while the melody holds C5
scales  Abmaj7#11: Ab lydian; Db7#11: Db lydian dominant
7  | Dm7b5  G7b9 |
bass    D2 the root says Dm7b5; F#2 leads to G: a semitone below; G2 the root says G7b9; G3 leads to C: its fifth, above
chords  beat 3: Ab4 B4 F5 (b9 3 b7), thinned to ninth, third, seventh: one hand holds it with the melody's Ab5; takes up the melody's rhythm, while the melody holds Ab5
chords  beat 3.5: Ab4 B4 F5 (b9 3 b7), thinned to ninth, third, seventh: one hand holds it with the melody's Ab5; the same again; takes up the melody's rhythm, while the melody holds Ab5
chords  beat 4.5: Ab4 B4 F5 (b9 3 b7), thinned to ninth, third, seventh: one hand holds it with the melody's Ab5; the same again; while the melody holds Ab5
scales  Dm7b5: D locrian; G7b9: G phrygian dominant
8  | Cm(maj7)  Cdim7  B7#9  Bbm6 |
bass    C3 the root says Cm(maj7); B2 leads to C: a semitone below, on the quaver; C3 the root says Cdim7; B2 the root says B7#9; B2 a ghosted skip into the next beat; Bb2 the root says Bbm6; F2 leads to E: a semitone above, on the quaver
scales  Cm(maj7): C melodic minor; Cdim7: C whole-half diminished; B7#9: B half-whole diminished; Bbm6: Bb melodic minor
""",  # noqa: E501
    "a ballad with chords on quavers": """
A: ballad, roots and tenths held by the pedal, a late fourth voice in the chords
1  | C  Am  Dm7  G7 |
bass    C2 the root says C; A1 the root says Am; D2 the root says Dm7; G1 the root says G7
chords  beat 2: E4 G4 C5 (5 b7 b3), thinned to fifth, seventh, third: one hand holds it with the melody's E5; on 2 and 4, a riff, while the melody holds E5
chords  beat 2.5: D5 (11), late fourth voice, a line of its own: the 11
chords  beat 4: E4 F4 A4 B4 (13 b7 9 3), rootless from the thirteenth: one note stays; on 2 and 4, a riff, where the melody rests
scales  C: C ionian; Am: A aeolian; Dm7: D dorian; G7: G mixolydian
2  | Em7  A7 |
bass    E2 the root says Em7; B2 the fifth of Em7; A1 the root says A7; G2 the seventh of A7
chords  beat 2: D4 F#4 G4 B4 (b7 9 b3 5), rootless from the seventh: one note stays, the rest moves by step; on 2, held, a riff, while the melody holds A5
chords  beat 3: G4 B4 C#5 (b7 9 3), thinned to seventh, ninth, third: one hand holds it with the melody's A5; two notes stay; as the harmony moves, while the melody holds A5
chords  beat 4: E5 (5), late fourth voice, a line of its own: the 5
scales  Em7: E dorian; A7: A mixolydian
3  | C  Am  Dm7  G7  C  Am  Dm7  Db7 |
bass    C2 the root says C; A1 the root says Am; D2 the root says Dm7; G1 the root says G7; C2 the root says C; A1 the root says Am; D2 the root says Dm7; Db2 the root says Db7
chords  beat 2: F4 C5 E5 (b3 b7 9), thinned to third, seventh, ninth: one hand holds it with the melody's G5; on 2 and 4, a riff, while the melody holds G5
chords  beat 4: F4 A4 C5 (b3 5 b7), thinned to third, fifth, seventh: one hand holds it with the melody's G5; two notes stay; on 2 and 4, a riff, while the melody holds G5
scales  C: C ionian; Am: A aeolian; Dm7: D dorian; G7: G mixolydian; C: C ionian; Am: A aeolian; Dm7: D dorian; Db7: Db lydian dominant
4  | F  Bb7  Em7  A7 |
bass    F1 the root says F; Bb1 the root says Bb7; E1 the root says Em7; A1 the root says A7
chords  beat 2: F4 Ab4 D5 (5 b7 3), thinned to fifth, seventh, third: one hand holds it with the melody's F5; one note stays, the rest moves by step; on 2, held, a riff, while the melody holds F5
chords  beat 4.5: E4 F4 A4 C5 (9 b3 5 b7), rootless from the ninth: one note stays; a quaver before Dm7 begins, where the melody rests
scales  F: F lydian; Bb7: Bb lydian dominant; Em7: E dorian; A7: A phrygian dominant
5  | Dm7 |
bass    D2 the root says Dm7; A2 the fifth of Dm7; F3 the third of Dm7, a tenth above the root
chords  beat 2: E4 F4 C5 (9 b3 b7), thinned to ninth, third, seventh: its fifth would rub against the melody's Bb5; three notes stay; the quaver before the bar, a riff, while the melody holds Bb5
scales  D dorian
6  | G7 |
bass    G1 the root says G7; D2 the fifth of G7; B2 the third of G7, a tenth above the root; B1 leads to C: a semitone below
chords  beat 3: E4 F4 B4 (13 b7 3), rootless from the thirteenth: two notes stay; coloured as the melody is; on 3, held, a riff, while the melody holds Ab5
chords  beat 4.5: Ab4 (b9), late fourth voice, a line of its own: the b9
scales  G half-whole diminished
7  | C  Eb7  Abmaj7  B7 |
bass    C2 the root says C; Eb2 the root says Eb7; Ab1 the root says Abmaj7; B1 the root says B7
chords  beat 2: Gb4 G4 Db5 (#9 3 b7), thinned to ninth, third, seventh: its ninth would rub against the melody's F#5; coloured as the melody is; the quaver before the bar, a riff, while the melody holds F#5
chords  beat 3.5: D#4 G#4 A4 C#5 (3 13 b7 9), rootless from the third: one note stays; a quaver before B7 begins, while the melody holds F#5
scales  C: C ionian; Eb7: Eb half-whole diminished; Abmaj7: Ab lydian; B7: B mixolydian
8  | C |
bass    C2 the root says C; G2 the fifth of C; E3 the third of C, a tenth above the root
chords  beat 3: E4 G4 D5 (3 5 9), rootless from the third: one note stays, the rest moves by step; on 3, held, a riff, while the melody holds E5
chords  beat 3.5: A4 (6), late fourth voice, a line of its own: the 6
scales  C ionian
""",  # noqa: E501
    "open over all kinds": """
A: open, roots caught by the pedal, open voicings in both hands
1  | Csus2 |
bass    C3 the root says Csus2
chords  beat 1.5: C4 D4 G4 (1 2 5), root position: its own notes and no more; held, half a beat after the root, and once more
chords  beat 3.5: G3 C4 D4 (5 1 2), second inversion: the hand goes down; its own notes and no more; held, half a beat after the root, and once more
scales  C ionian
2  | F5 |
bass    F2 the root says F5
chords  beat 1.5: F3 C4 (1 5), root position: one note stays; its own notes and no more; held, half a beat after the root
scales  F lydian
3  | Eaug |
bass    E2 the root says Eaug
chords  beat 2.5: G#3 B#3 D4 (3 #5 b7), third, fifth, seventh: one note stays; held, a beat and a half after the root
scales  E whole tone
4  | Amaj13 |
bass    A2 the root says Amaj13
chords  beat 2: G#3 C#4 F#4 (7 3 6), fourths from the seventh: one note stays; held, a beat after the root, and once more
chords  beat 4: G#3 C#4 E4 B4 (7 3 5 9), open, seventh and third: two notes stay; held, a beat after the root, and once more
scales  A ionian
5  | Dadd9 |
bass    D3 the root says Dadd9
chords  beat 2: A3 E4 F#4 (5 9 3), second inversion: one note stays; its own notes and no more; held, a beat after the root
scales  D ionian
6  | Gm11 |
bass    G2 the root says Gm11
chords  beat 3: F3 Bb3 D4 A4 (b7 b3 5 9), open, seventh and third; held, half a bar after the root
scales  G dorian
7  | C7#5 |
bass    C2 the root says C7#5
chords  beat 2: D4 E4 Bb4 (9 3 b7), thinned to ninth, third, seventh: one hand holds it with the melody's F#5; one note stays; held, a beat after the root, and once more
chords  beat 4: E3 Bb3 D4 G#4 (3 b7 9 #5), open, third and seventh: one note stays; held, a beat after the root, and once more
scales  C whole tone
8  | F13b9 |
bass    F2 the root says F13b9
chords  beat 2.5: Eb3 A3 D4 Gb4 (b7 3 13 b9), open, seventh and third: one note stays, the rest moves by step; held, a beat and a half after the root
scales  F half-whole diminished
9  | Bbm7b5 |
bass    Bb1 the root says Bbm7b5
chords  beat 1.5: Fb3 Bb3 Eb4 (b5 1 11), fourths from the fifth; held, half a beat after the root, and once more
chords  beat 3.5: Db3 Ab3 Eb4 Fb4 (b3 b7 11 b5), open, third and seventh: one note stays; held, half a beat after the root, and once more
scales  Bb locrian
10  | Eb9sus4 |
bass    Eb2 the root says Eb9sus4
chords  beat 2: Ab3 Db4 F4 (4 b7 9), thinned to fourth, seventh, ninth: one hand holds it with the melody's G5; one note stays; held, a beat after the root
scales  Eb mixolydian
11  | Abm |
bass    Ab2 the root says Abm
chords  beat 2: Bb3 Eb4 Ab4 (9 5 1), fourths from the ninth; held, a beat after the root, and once more
chords  beat 4: Eb3 Cb4 F4 Bb4 (5 b3 6 9), open, fifth and third; held, a beat after the root, and once more
scales  Ab melodic minor
12  | Db6/9 |
bass    Db3 the root says Db6/9
chords  beat 1.5: F3 Bb3 Eb4 Ab4 (3 6 9 5), open, third and sixth: every voice moves by step; held, half a beat after the root, and once more
chords  beat 3.5: F3 Bb3 Eb4 Ab4 C5 (3 6 9 5 7), fourths and a third from the third: four notes stay; held, half a beat after the root, and once more
scales  Db lydian
""",  # noqa: E501
}


@pytest.mark.parametrize("name", CHARTS)
def test_a_chart_in_a_treatment_to_its_last_note(compose: Composer, name: str) -> None:
    changes, treatment, told = CHARTS[name]
    form, request = compose(changes, **told), Request(treatment, chorus=2, seed=1)
    parts = ("chords", "bass", "melody") if treatment in ("sliding", "sliding-under") else ("chords", "bass")
    found = []
    for part in parts:
        found += [part, *written(arrange(form, part, request), form.metre.bar)]
    assert found == rows(WRITTEN[name])


@pytest.mark.parametrize("name", REASONS)
def test_the_reason_for_each_note_of_a_chart(compose: Composer, name: str) -> None:
    changes, treatment, told = CHARTS[name]
    bars = explain(compose(changes, **told), Request(treatment, chorus=2, seed=1))
    assert [line.strip() for bar in bars for line in str(bar).splitlines()] == rows(REASONS[name])
