"""Solos of the companion's own over small tunes of ours, written out to the last note.

What stands here is what it improvises today, not what is right: it is kept as in :mod:`test_written_out`, and for the
same reason. Look at what is different when a change of the arranger changes it, and play it.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest

from companion.arrange.solo.part import improvised_line
from companion.arrange.solo.story import SoloChorus
from companion.chart.model import Form
from tests.arrange.behaviour.test_written_out import rows, written

Composer = Callable[..., Form]
BLUES = "F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | D7alt | Gm7 | C7 | F7 D7b9 | Gm7 C7"
HEARD = ((12.0, 65), (12.52, 69), (13.0, 72), (13.03, 60), (14.66, 74), (15.34, 72))
"""What the player has just played: quavers, two notes together, a triplet."""
TUNES: dict[str, tuple[str, dict[str, Any]]] = {
    "blues": (BLUES, {"fifths": -1, "tempo": 150.0}),
    "slow": (
        "Cm7 | Fm7 | Dm7b5 | G7alt | Cm7 | Abmaj7 | Dm7b5 G7b9 | Cm6",
        {"fifths": -3, "minor": True, "tempo": 66.0},
    ),
    "fast": (
        "Dm7 | G13 | Cmaj9 | Em7b5 A7 | Dm7 | G7sus4 | C6",
        {"tempo": 230.0, "sections": [("A", 5, None), ("B", 2, None)]},
    ),
    "lilting": ("Gmaj7 | Em7 | Am7 | D7 | Bm7 | Em7 | Am7 D7 | G6", {"fifths": 1, "metre": "6/8", "tempo": 110.0}),
    "waltz": ("Fmaj7 | Gm7 C7 | Am7 | D7b9 | Gm7 | C13 | F6 | C7#5", {"fifths": -1, "metre": "3/4", "tempo": 120.0}),
    "trading": ("Dm7 | G7 | Em7 | A7 | Dm7 | G7 | Cmaj7 | Cmaj7", {"tempo": 140.0}),
}
TRADED = {"start": Fraction(16), "end": Fraction(32), "heard": HEARD, "last": 72}
SOLOS: dict[str, tuple[str, dict[str, Any]]] = {
    "the first of three choruses, one riff": ("blues", {"place": SoloChorus(1, 3), "seed": 2}),
    "the second of three, with the peak": ("blues", {"place": SoloChorus(2, 3), "seed": 2}),
    "the last of three": ("blues", {"place": SoloChorus(3, 3), "seed": 2}),
    "one chorus alone": ("blues", {"seed": 0}),
    "one chorus alone, a riff": ("blues", {"seed": 1}),
    "one chorus alone, another riff": ("blues", {"seed": 3}),
    "a ballad, the second of two": ("slow", {"place": SoloChorus(2, 2), "seed": 1}),
    "fast, five bars and two": ("fast", {"place": SoloChorus(1, 2), "seed": 4}),
    "six quavers in a bar": ("lilting", {"seed": 3}),
    "a waltz": ("waltz", {"seed": 6}),
    "four bars in turn with the player": ("trading", TRADED),
    "the same once more": ("trading", TRADED | {"seed": 1}),
    "begun a beat late": ("trading", TRADED | {"seed": 1, "start": Fraction(17)}),
    "three beats late, without anything heard": (
        "trading",
        {"start": Fraction(19), "end": Fraction(28), "last": 79, "seed": 5},
    ),
}

WRITTEN = {
    "the first of three choruses, one riff": """
/1/2 0| 3/2:G4*1.03 2:A4/3/2*0.97 7/2:Bb4*1.03 1| 0:D5/3/2*0.97 2| 3/2:G4*1.03 2:A4/3/2*0.97 7/2:Bb4*1.03
3| 0:Eb5/3/2*0.97 4| 3/2:G4*1.03 2:Ab4/3/2*0.97 7/2:Bb4*1.03 5| 0:D5/3/2*0.97
6| 3/2:G4*1.03 2:A4/3/2*0.97 7/2:C5*1.03 7| 0:Eb5/3/2*0.97 8| 3/2:G4*1.03 2:Bb4/3/2*0.97 7/2:B4*1.03
9| 0:C5/3/2*1.12 3/2:A4*1.03 2:Bb4/3/2*0.97 7/2:C5*1.03
10| 0:Eb5/1*1.12 1:C5*0.97 3/2:Bb4*1.03 2:C5*0.97 5/2:D5*1.03 3:D#5*0.97 7/2:E5*1.03
11| 0:F5*1.12 1/2:E5*1.03 1:D5/3/2*0.97
""",
    "the second of three, with the peak": """
/1/2 0| 1/2:D4/1*1.03 3/2:Eb4*1.03 2:F4*0.97 5/2:G4*1.03 3:A4/1*0.97 1| 0:Bb4/3/2*0.97
2| 1/2:A4/1*1.03 3/2:Bb4*1.03 2:C5*0.97 5/2:D5*1.03 3:F5*1.12 7/2:Eb5*1.03
4| 0:F5*0.97 1/2:C5*0.72 1:D5/1/3*0.97 4/3:F5/1/3*1.12 5/3:D5/4/3*1.03 3:Bb4*0.97 7/2:G4*1.03 5| 0:F4/3/2*0.97
6| 0:Eb5*0.97 1/2:Bb4*1.03 1:C5/1/3*0.97 4/3:Eb5/1/3*1.12 5/3:C5/3/2*1.03 7/2:F5/3/2*1.03
8| 1:F5*0.97 3/2:C5*1.03 2:D5/1/3*0.97 7/3:F5/1/3*1.12 8/3:D5/5/6*1.03 7/2:Bb4/1*1.03 9| 1/2:G4/5/4*1.03
10| 1:A5*0.97 3/2:G5*0.72 2:A5/1/3*0.97 7/3:C6/1/3*1.12 8/3:Bb5/5/6*1.03 7/2:A5*1.03
""",
    "the last of three": """
/1/2 0| 1/2:A4/1*1.03 3/2:Bb4*1.03 2:C5*0.97 5/2:D5*1.03 3:Eb5*0.97 7/2:F5*1.03 1| 0:G5*0.97 1/2:Ab5/3/2*1.03
2| 1/2:A4/1*1.03 3/2:Bb4*1.03 2:C5*0.97 5/2:D5*1.03 3:Eb5*0.97 7/2:F5*1.03 3| 0:G5*1.12 1/2:Eb5*1.03
4| 0:F5*0.97 1/2:C5*0.72 1:D5/1/3*0.97 4/3:F5/1/3*1.12 5/3:D5/4/3*1.03 3:Bb4*0.97 7/2:G4*1.03 5| 0:Ab4/3/2*0.97
6| 0:Eb5*0.97 1/2:Bb4*1.03 1:C5/1/3*0.97 4/3:Eb5/1/3*1.12 5/3:C5/5/6*1.03 5/2:F5*1.12 3:Eb5/3/2*0.97
8| 0:G4*0.97 1/2:C5*1.12 1:Bb4/1/3*0.97 4/3:G4/1/3*1.03 5/3:Bb4/5/6*1.12 5/2:F4*1.03 3:G4*1.12 7/2:D4*1.03
10| 0:A4*0.97 1/2:D5*1.12 1:C5/1/3*0.97 4/3:G4/1/3*1.03 5/3:Bb4/5/6*1.12 5/2:F4*1.03 3:F#4/3/2*0.97
""",
    "one chorus alone": """
/1/2 0| 1/2:Eb5/1*1.03 3/2:C5*1.03 2:A4*0.97 5/2:Gb4*1.03 3:F4*0.97 7/2:Bb4*1.12 1| 0:Ab4/3/2*0.97
2| 1/2:D5/1*1.03 3/2:Bb4*1.03 2:F4*0.97 5/2:D4*1.03 3:C4*0.97 7/2:F4*1.12
3| 0:Eb4/3/2*0.97 3:Eb4/1/3*0.97 10/3:F4/1/3*1.03 11/3:G4/1/3*1.03
4| 0:Ab4*0.97 1/2:A4*1.12 1:Ab4*0.97 3/2:Bb4*1.12 2:Ab4*0.97 5/2:G4/1*1.03 7/2:F4*1.03
5| 3:Ab4/1/3*0.97 10/3:B4/1/3*1.03 11/3:C#5/1/3*1.03
6| 0:Eb5*0.97 1/2:Gb5*1.12 1:F5*0.97 3/2:G5*1.03 2:A5*0.97 5/2:B5*1.03 3:C6*1.12 7/2:G5*1.03
7| 0:Eb5*0.97 1/2:Bb4*1.03 1:Eb5/3/2*0.97
8| 0:F5/1/3*0.97 1/3:E5/1/3*1.03 2/3:Eb5/1/3*1.03 1:D5*0.97 3/2:C5*1.03 2:D5*1.12 5/2:C5*1.03 3:Bb4*0.97 7/2:G4*1.03
9| 0:E4/3/2*0.97 10| 0:Eb5/1/3*0.97 1/3:D5/1/3*1.03 2/3:C5/1/3*1.03 1:A4*0.97 3/2:G4*0.72 2:A4*1.12 5/2:F#4*1.03
""",
    "one chorus alone, a riff": """
/1/3 0| 1/2:Bb4/1*1.03 3/2:A4/1/2*1.03 2:G4/1*0.97 3:F4/1/2*0.97 7/2:Eb4/3/2*1.03
2| 1/2:Bb4/1*1.03 3/2:A4/1/2*1.03 2:G4/1*0.97 3:F4/1/2*0.97 7/2:Eb4/3/2*1.03
4| 2:Ab4*0.97 7/3:C5*1.12 8/3:A4*1.03 3:Bb4/1/2*0.97 7/2:C5/1/2*1.03 5| 0:D5/3/2*0.97
6| 2:Eb5*0.97 7/3:A5*1.12 8/3:G5*1.03 3:A5/1/2*0.97 7/2:Bb5/1/2*1.03 7| 0:C6/1/2*1.12 1/2:Bb5/3/2*1.03
8| 2:Bb4*0.97 7/3:D5*1.12 8/3:C5*1.03 3:D5/1*1.12 9| 0:Bb4*0.97 1/3:E5*1.12 2/3:D5*1.03 1:E5/3/2*0.97
10| 2:A4*0.97 7/3:C5*1.12 8/3:Bb4*1.03 3:C5/1/2*1.12 7/2:Eb4/1*1.03 11| 1/2:F4/3/2*1.03
""",
    "one chorus alone, another riff": """
/1/2 0| 1/2:Eb4*1.03 1:F4*1.12 3/2:D4*1.03 2:Eb4/3/2*0.97 7/2:F4/3/2*1.03
2| 1/2:Eb4*1.03 1:F4*1.12 3/2:D4*0.72 2:Eb4/3/2*0.97 7/2:F4/3/2*1.03
4| 1/2:Eb4*1.03 1:F4*1.12 3/2:Eb4*1.03 2:F4/3/2*0.97 7/2:Ab4/3/2*1.03
6| 1/2:Eb4*1.03 1:F4*1.12 3/2:Eb4*1.03 2:F4/3/2*0.97 7/2:A4/3/2*1.03
8| 3/2:E4*1.03 2:G4*1.12 5/2:F4*1.03 3:G4/3/2*0.97
9| 1/2:B4*1.03 1:C5*1.12 3/2:Bb4*1.03 2:C5*0.97 5/2:D5*1.03 3:E5*0.97 7/2:Gb5*1.12
10| 0:F5*0.97 1/2:E5*1.03 1:Eb5*0.97 3/2:D5*1.03 2:C5*0.97 5/2:Bb4/1*1.03 7/2:C5/1*1.03 11| 1/2:D5/3/2*1.03
""",
    "a ballad, the second of two": """
/1/2 0| 2/3:Eb4/5/6*1.03 3/2:F4*1.03 2:G4*0.97 5/2:A4*1.03 3:Bb4*0.97 7/2:C5/1*1.12 1| 1/2:Bb4*1.03 1:Ab4/3/2*0.97
2| 2/3:C5/5/6*1.03 3/2:Eb5*1.03 2:F5*0.97 5/2:G5*1.03 3:Ab5*0.97 7/2:C6*1.12
3| 0:B5*0.97 1/2:Bb5*1.03 1:C#6*1.12 3/2:Bb5/3/2*1.03
4| 2/3:D4/5/6*1.03 3/2:F4*1.03 2:G4*0.97 5/2:A4*1.03 3:Bb4*0.97 7/2:D5*1.12
5| 0:C5*0.97 1/2:Bb4*1.03 1:Ab4*0.97 3/2:Bb4*1.12 2:Ab4/1*0.97 3:G4*0.97 7/2:Bb4*1.12
6| 0:Ab4*0.97 1/2:Gb4*1.03 1:F4*0.97 3/2:D4*1.03 2:D5*1.12 5/2:C5*1.03 3:B4*0.97 7/2:Ab4*1.03
7| 0:G4*0.97 1/2:A4/3/2*1.03
""",
    "fast, five bars and two": """
/1/2 0| 1:C4/3/2*0.97 5/2:D4*1.03 3:E4*0.97 7/2:F4*1.03
1| 0:G4*1.12 1/2:E4*1.03 1:F4/1*0.97 2:G4*0.97 5/2:A4*1.03 3:B4*1.12 7/2:A4*1.03
2| 0:G4/1*0.97 1:E4*0.97 3/2:D4/1*1.03 5/2:D5*1.12 3:C5*0.97 7/2:A4*1.03
3| 0:G4*0.97 1/2:A4*1.03 1:Bb4/3/2*0.97 5/2:C#5*1.03 3:E5/3/2*0.97
5| 1:F5/3/2*0.97 5/2:E5*1.03 3:D5*0.97 7/2:C5/1*1.03 6| 1/2:A4*1.03 1:E4/3/2*0.97
""",
    "six quavers in a bar": """
/1/2 0| 0:D5*0.97 1/2:C5*1.03 1:A4*1.03 3/2:G4/1*0.97 5/2:F#4/3/2*1.03
2| 0:C5*0.97 1/2:A4*1.03 1:F#4*1.03 3/2:E4/3/2*0.97 4| 3/2:D5*0.97 2:B4*1.03 5/2:F#4*1.03
5| 0:E4/1*0.97 1:F#4*1.12 3/2:E4*0.97 2:F#4*1.03 5/2:A4*1.03
6| 0:C5*0.97 1/2:E5*1.03 1:F#5*1.03 3/2:A5/1*0.97 5/2:C6*1.12 7| 0:B5/3/2*0.97
""",
    "a waltz": """
/1/2 0| 2:C5/1*0.97 1| 0:Bb4/1*0.97 1:A4*0.97 3/2:Ab4/3/2*1.03
2| 0:G4*0.97 1/2:F4*1.03 1:E4/1*0.97 2:F#4*0.97 5/2:G4/3/2*1.03 4| 2:F5/1*0.97
5| 0:G5/1*0.97 1:A5*0.97 3/2:Bb5*1.12 2:C5*0.97 5/2:Eb5*1.12
6| 0:D5*0.97 1/2:F5/1*1.12 3/2:Bb4*1.03 2:C5*0.97 5/2:D5*1.03
""",
    "four bars in turn with the player": """
/1/2 4| 0:F4*0.97 1/2:A4*1.03 1:C5/3/2*0.97 8/3:D5/2/3*1.12 10/3:B4/7/6*1.03 5| 1/2:A4/1*1.03 3/2:G4/3/2*1.03
6| 0:G4*0.97 1/2:B4*1.03 1:D5/3/2*0.97 8/3:E5/2/3*1.12 10/3:C5/7/6*1.03 7| 1/2:D5/1*1.03 3/2:E5/3/2*1.03
""",
    "the same once more": """
/1/2 4| 0:F4*0.97 1/2:A4*1.03 1:D5/3/2*0.97 8/3:E5/2/3*1.12 10/3:D5/7/6*1.03 5| 1/2:B4*1.03 1:G4/3/2*0.97
6| 0:G4*0.97 1/2:B4*1.03 1:E5/3/2*0.97 8/3:F5/2/3*1.12 10/3:D#5/2/3*1.03 7| 0:E5*1.12 1/2:D5*0.72 1:E5/3/2*0.97
""",
    "begun a beat late": """
/1/2 4| 1:F4*0.97 3/2:A4*1.03 2:C5/3/2*0.97 11/3:D5/2/3*1.12 5| 1/3:C5/2/3*1.03 1:B4/3/2*0.97
6| 0:E4*0.97 1/2:A4*1.03 1:C5/3/2*0.97 8/3:D5/2/3*1.12 10/3:C5/2/3*1.03 7| 0:B4/3/2*0.97
""",
    "three beats late, without anything heard": """
/1 4| 7/2:G5*1.03 5| 1/2:F5/3/2*1.03 2:E5*0.97 3:D5*0.97 6| 0:C5/1/2*0.97 1/2:B4/1/2*1.03
""",
}

REASONS = """
F4 b3 of Dm7, on the beat; opens the phrase
A4 taken up from the player
C5 taken up from the player
D5 taken up from the player
C5 taken up from the player
B4 3 of G7, on the beat; along the scale
E4 taken up from a phrase before
A4 taken up from a phrase before
C5 taken up from a phrase before
D5 taken up from a phrase before
C5 taken up from a phrase before
B4 taken up from a phrase before
F5 5 of Bb7, between; after a leap, back by steps
D5 3 of Bb7, between; in an arpeggio
Bb4 1 of Bb7, on the beat; in an arpeggio
G4 6 of Bb7, between; in an arpeggio
F4 b5 of Bdim7, on the beat; in a run
Eb5 taken up from a phrase before
Bb4 taken up from a phrase before
C5 taken up from a phrase before
Eb5 taken up from a phrase before
C5 taken up from a phrase before
F5 1 of F7, between; after a leap, back by steps
F5 taken up from a phrase before
C5 taken up from a phrase before
D5 taken up from a phrase before
F5 taken up from a phrase before
D5 taken up from a phrase before
Bb4 b3 of Gm7, between; in an arpeggio
G4 5 of C7, between; in an arpeggio
A5 taken up from a phrase before
G5 taken up from a phrase before
A5 taken up from a phrase before
C6 taken up from a phrase before
Bb5 taken up from a phrase before
A5 taken up from a phrase before
"""


def improvised(compose: Composer, name: str) -> tuple[Form, list[Any]]:
    tune, told = SOLOS[name]
    changes, as_told = TUNES[tune]
    form = compose(changes, **as_told)
    return form, list(improvised_line(form, **told))


@pytest.mark.parametrize("name", SOLOS)
def test_a_solo_to_its_last_note(compose: Composer, name: str) -> None:
    form, notes = improvised(compose, name)
    assert written(notes, form.metre.bar) == rows(WRITTEN[name])


def test_the_reason_for_each_note_of_a_solo(compose: Composer) -> None:
    _, late = improvised(compose, "begun a beat late")
    _, peak = improvised(compose, "the second of three, with the peak")
    assert [f"{n.pitch} {n.reason}" for n in (*late, *peak[-24:])] == rows(REASONS)
