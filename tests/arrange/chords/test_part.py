"""Chords where melody and bass leave little room: moved in the bar, shortened, left out, or taken by the left hand.

What stands here is what becomes of them today, not what is right: kept, and written, as in test_written_out.py.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from companion.arrange.chords.part import chord_notes
from companion.arrange.melody.part import index_melody
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key
from tests.arrange.behaviour.test_written_out import written

Composer = Callable[..., Form]
LITTLE_ROOM: list[tuple[str, str, float, str, str, str]] = [
    (
        "walking", "Cm7 | D9sus4 | Am7b5 | Cmaj7", 140.0,
        "1:3:59 4:1:63 8:1:59 9:6:56",
        "own",
        "/5/2 1| 1:G3.B3.C4.E4 3| 3:E3.G3.B3.D4/1",
    ),
    (
        "open", "Ebmaj7 Fm6 | Dm7 C/E | G7 | A7b9", 200.0,
        "1:6:67 8:3:65 14:1:64",
        "0:4:32 4:1:28 5:1:34 6:1:33 7:1:37 8:2:34 10:1:33 11:1:40 12:2:28 14:2:41 P",
        ("/3/2 0| 1/2:D3.G3.Bb3.F4P 3:D3.G3.C4/1 1| 1:E3.A3.D4/1 5/2:E3.G3.C4 2| 1/2:F3.A3.B3/2 5/2:F3.B3.D4 "
        "3| 1:C#3.G3.Bb3.F#4/1P 3:G3.C#4.F#4.Bb4/1/2P"),
    ),
    (
        "open", "Am7b5 | G7 | A7b9 | G7", 140.0,
        "",
        "0:2:39 2:1:40 3:2:34 5:1:31 6:1:59 7:4:48 11:4:57 15:2:47 P",
        ("/5/2 0| 3/2:C4.G4.D5.Eb5P 1| 1:B3.F4.A4/1 2| 1/2:G3.C#4.F#4.Bb4P 3| 1/2:D4.F4.B4/2 "
        "5/2:B3.F4.A4.E5/1P"),
    ),
    (
        "ballad", "Ebmaj7 | Bb7 | Abmaj7 E7alt | E7alt", 140.0,
        "2:0.5:62 2.5:6:61 8.5:1:63 9.5:0.5:65 13:3:66",
        "own",
        "/3/2 0| 1/2:G3.D4.F4 3/2:Bb3/1/2 1| 1/2:D3.F3.Ab3 2| 2:G#3.D4.G4 3:C4/1/2 3| 1/2:G#3.C4.D4.F4/1/2",
    ),
    (
        "open", "Bdim7 | G7 | Abmaj7 Fm6 | E7alt", 140.0,
        "",
        "0:4:29 4:2:31 6:1:31 7:2:48 9:1:31 10:1:54 11:1:47 12:2:61 14:1:57 15:2:46 P",
        ("/5/2 0| 3/2:F3.D4.Ab4.C#5P 1| 1:F3.B3.E4.A4/3P 2| 1/2:Eb3.C4.G4.Bb4/3/2P 3:D4.G4.C5/1 3| "
        "3/2:D4.G#4.C5/2"),
    ),
    (
        "ballad", "Abmaj7 C6 | Cm7 | Fm6 | G7", 140.0,
        "0:1:64 4:1:64 8:6:55",
        "0:4:31 4:2:32 6:1:42 7:4:35 11:2:40 13:1:37 14:2:39",
        "/3/2 0| 1/2:G3.Bb3.C4 2:E3.G3.A3.D4/2 1| 1:G3.Bb3.Eb4/3 3| 2:F3.A3.B3.E4",
    ),
    (
        "walking", "Cm7 | C/E | D9sus4 | Cmaj7", 140.0,
        "1:0.5:76 1.5:1:71 2.5:4:68 7.5:3:68 13.5:0.5:78 14:2:72",
        "0:1:56 1:1:35 2:1:40 3:2:33 5:1:30 6:4:42 10:4:31 14:1:52 15:2:31",
        ("/1/2 0| 3:Bb3.Eb4.F4 7/2:Bb3.Eb4 1| 1:C4.E4/1 2:C4.E4/3/2 2| 5/2:G3.B3.C4.E4/3/2 3| 0:B3.D4.E4.G4 "
        "1/2:B3.D4.E4.A4/1"),
    ),
    (
        "open", "Bb7 C6 | Fm6 | Abmaj7 | G7", 60.0,
        "",
        "0:1:52 1:2:31 3:2:57 5:2:51 7:2:51 9:4:51 13:1:42 14:1:60 15:2:61 P",
        ("/3/2 0| 1/2:Ab3.D4.G4.C5P 3:E4.A4.D5/1 1| 3/2:Ab3.D4.G4.C5/5/2P 2| 1:G3.C4.Eb4.Bb4/2P "
        "3:C4.G4.Bb4.Eb5/1P 3| 1/2:B3.F4.A4.E5P"),
    ),
    (
        "ballad", "Cmaj7 | Cmaj7 | Bdim7 | Bdim7", 60.0,
        "2:4:65 6:1:66 7:6:62 13:2:69",
        "0:1:32 1:1:53 2:4:28 6:2:48 8:1:47 9:4:41 13:4:42",
        "/3 0| 1/2:G3.B3.E4/3/2 2| 1:D3.F3.Ab3.B3 3| 1/2:D3.F3.Ab3.B3/1/2",
    ),
    (
        "open", "Fm6 | Bb7 Ebmaj7 | Cmaj7 | Am7b5", 100.0,
        "1:1:68 3:1:64 7:1:64 8:6:71 14:2:64",
        "0:2:33 2:2:53 4:1:53 5:4:50 9:1:30 10:4:41 14:1:43 15:2:30",
        ("/1 0| 3/2:Ab3.C4.D4/5/2 1| 1:Ab3.D4.F4 5/2:G3.Bb3.D4/3/2 2| 1:B3.E4/2 3:E3.B3.D4.G4P 3| "
        "3/2:G3.C4.D4/2"),
    ),
    (
        "modal", "Bb7 | Cm7 | Dm7 | Fm6 Bdim7", 60.0,
        "2:1:67 6:1:60 7:1:67 9:1:63 10:1:61 11:5:56",
        "own",
        "/1 0| 0:Ab3.D4.G4 1:Ab3.D4.G4 1| 0:G3.C4.F4 1:F3.Bb3.Eb4 7/2:G3.C4.F4/3/2",
    ),
    (
        "ballad", "A7b9 | Dm7 | Am7b5 E7alt | D9sus4 F13", 60.0,
        "1:6:58 10:1:67 12:0.5:55",
        "0:4:37 4:1:32 5:1:44 6:1:54 7:2:54 9:4:44 13:4:37 P",
        ("/1 0| 0:C#3.F3.G3 1/2:Bb3/1/2 2:C#3.F3.G3/2 1| 3:C4.E4.F4.A4 2| 1:Eb3.G3.C4 3/2:F4/1/2 "
        "5/2:G3.G#3.C4.D4/3/2 3| 1:G3.A3.C4 3/2:E4/1/2 3:G3.A3.C4.Eb4/1/2"),
    ),
    (
        "shells", "E7alt | C6 | Am7b5 F13 | Cm7 Am7b5", 140.0,
        "0:6:63 9:3:69 12:3:71",
        "0:4:34 4:1:30 5:2:42 7:4:38 11:1:43 12:4:38",
        "/3/2 0| 3/2:E3.G#3/5/2 1| 3/2:E3.G3.A3 2| 2:F3.A3/2 3| 3/2:C4.Eb4/1/2",
    ),
    (
        "sliding-under", "Am7b5 | A7b9 | Bdim7 A7b9 | D9sus4", 60.0,
        "2:3:69 6:1:68 7:1:69 9:6:72",
        "0:2:34 2:1:38 3:4:36 7:1:36 8:4:42 12:1:37 13:1:37 14:1:35 15:1:33",
        "/2 1| 0:G3.C#4.F#4*1.05 3| 0:C4.G4/7/2*1.05",
    ),
    (
        "block", "Cm7 | Bb7 | Dm7 | F13", 140.0,
        "0:1:71 2:6:62 11:5:63",
        "0:2:37 2:1:47 3:2:37 5:1:52 6:2:34 8:4:41 12:1:54 13:1:50 14:4:37",
        "/1/2 1| 3:D3.G3.Ab3.C4 2| 3:F3.A3.C4/1*1.08",
    ),
]  # fmt: skip
"""Treatment, changes and tempo; melody, and bass ("own": the treatment's), as beat:length:MIDI number, ``P`` where the
pedal holds it; the chords."""


def placed(text: str) -> list[tuple[float, float, int]]:
    """Notes as (beat, length, MIDI number)."""
    words = [word.split(":") for word in text.removesuffix("P").split()]
    return [(float(beat), float(length), int(midi)) for beat, length, midi in words]


@pytest.mark.parametrize(("treatment", "changes", "tempo", "melody", "bass", "found"), LITTLE_ROOM)
def test_chords_with_little_room_to_their_last_note(
    compose: Composer, treatment: str, changes: str, tempo: float, melody: str, bass: str, found: str
) -> None:
    form = compose(changes, tempo=tempo, melody=placed(melody))
    ruled = plan(form, treatment)
    if bass == "own":
        below = arrange(form, "bass", Request(treatment))
    else:
        below = tuple(
            Note(Fraction(beat), Fraction(length), pitch_in_key(midi), "bass", "left", pedal=bass.endswith("P"))
            for beat, length, midi in placed(bass)
        )
    assert " ".join(written(chord_notes(form, ruled, index_melody(form, ruled), below))) == found


def test_unless_told_otherwise_it_is_the_first_chorus_of_the_first_seed(compose: Composer) -> None:
    form = compose("Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | A7")
    ruled, above = plan(form, "walking"), index_melody(form)
    usual = chord_notes(form, ruled, above, ())
    assert usual == chord_notes(form, ruled, above, (), chorus=1, seed=0)
    for chorus, seed in ((0, 0), (2, 0), (1, 1), (1, -1)):
        assert usual != chord_notes(form, ruled, above, (), chorus=chorus, seed=seed)
