"""Introductions of a bar, of odd numbers of bars, and of tunes with and without a pickup, to their last note.

What stands here is what is made of these tunes today, not what is right: kept as in test_written_out.py.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.arrange.introductions import introduction
from companion.chart.model import Form

Composer = Callable[..., Form]
MADE: list[tuple[str, bool, str, str, int, str, str]] = [
    (
        "C6 | Dm7 | G7 | C6",
        False,
        "-2:0.5:71 -1.5:1:68 -0.5:3:61 2.5:2:72 5.5:3:74 9.5:0.5:60 11:2:70",
        "pedal",
        1,
        "0:G7b9",
        "",
    ),
    (
        "C6 | C6 | Fm6 | Fm6",
        True,
        "-1:2:61 1:3:63 5:3:61 8:0.5:62 10.5:2:62 12.5:0.5:77",
        "pedal",
        0,
        "0:E7b9",
        "1:1:D4",
    ),
    (
        "Am7 | D7 | Gmaj7 | Dm7 G7",
        False,
        "0:1:68 1:1:60 3:3:74 6:1:77 7:2:65 11:2:65 13:1:61 14:1:76",
        "vamp",
        5,
        "0:C6 2:A7b9 4:Dm7 6:G7 8:Em7 10:A7b9 12:Dm7 14:G7 16:Bm7b5 18:E7b9",
        "0:1:C5 1:1:E4 3:3:E5 8:1:B4 9:1:E4 11:3:E5 16:1:D5 17:1:F4",
    ),
    (
        "Dm7 | G7 | Cmaj7 | Cmaj7",
        False,
        "-0.5:0.5:70 0:0.5:73 2.5:0.5:63 3:1:75 6:2:66 8:1:70 10:2:62 14:2:62",
        "last",
        1,
        "0:Em7b5 2:A7b9",
        "2:3/2:D4",
    ),
    (
        "C6 | C6 | Fm6 | Fm6",
        False,
        "-2:0.5:78 -0.5:2:72 2.5:1:66 4.5:2:60 6.5:3:74 9.5:0.5:62 12:2:60",
        "last",
        1,
        "0:Fm6",
        "0:2:C4",
    ),
    (
        "Am7 | D7 | Gmaj7 | Dm7 G7",
        False,
        "-2:1:69 1:0.5:68 1.5:1:78 4.5:0.5:78 5:3:66 9:1:77 11:3:75 14:0.5:79",
        "last",
        5,
        "0:Am7 4:D7 8:Gmaj7 12:Bm7b5 14:E7b9",
        "1:1/2:Ab4 3/2:1:F#5 9/2:1/2:F#5 5:3:F#4 9:1:F5 11:3:Eb5",
    ),
    (
        "Am7 | D7 | Gmaj7 | Dm7 G7",
        False,
        "-0.5:1:65 2.5:3:69 6.5:2:78 8.5:1:60 11.5:1:64 13.5:1:68 14.5:0.5:78",
        "vamp",
        5,
        "0:C6 2:A7b9 4:Dm7 6:G7 8:Em7 10:A7b9 12:Dm7 14:G7 16:Bm7b5 18:E7b9",
        "7/2:1:F4 13/2:3:A4 21/2:1:G5 23/2:1:G4 29/2:3:B4",
    ),
    (
        "C6 | Dm7 | G7 | C6",
        False,
        "-2:2:74 2:1:79 5:2:79 8:1:61 9:1:61 10:2:65 12:0.5:75 13.5:1:72 14.5:2:76",
        "vamp",
        4,
        "0:C6 2:A7b9 4:Dm7 6:G7 8:Em7 10:A7b9 12:Dm7 14:G7",
        "2:2:C#5 6:1:G5 9:1:G5 10:2:E5",
    ),
    (
        "Dm7 | G7 | Cmaj7 | Cmaj7",
        False,
        "1:3:71 4:3:79 7:2:69 11:3:78 14:3:77",
        "vamp",
        3,
        "0:C6 2:A7b9 4:Dm7 6:G7 8:Em7b5 10:A7b9",
        "1:3:B4 4:3:G5 7:1:A4 9:2:D5",
    ),
]
"""Changes, whether in minor, and melody as beat:length:MIDI number; how, and how many bars; its chords and melody."""


@pytest.mark.parametrize(("changes", "minor", "melody", "how", "bars", "chords", "sung"), MADE)
def test_an_introduction_to_its_last_note(
    compose: Composer, changes: str, minor: bool, melody: str, how: str, bars: int, chords: str, sung: str
) -> None:
    words = [word.split(":") for word in melody.split()]
    notes = [(float(beat), float(length), int(midi)) for beat, length, midi in words]
    made = introduction(compose(changes, minor=minor, melody=notes), how, bars)
    assert " ".join(f"{span.start}:{span.chord.symbol}" for span in made.chords) == chords
    assert " ".join(f"{note.beat}:{note.length}:{note.pitch}" for note in made.melody) == sung


@pytest.mark.parametrize("how", ["vamp", "pedal", "last"])
@pytest.mark.parametrize(("bars", "made"), [(-1, 1), (0, 1), (1, 1), (2, 2), (3, 3)])
def test_an_introduction_has_as_many_bars_as_are_asked_for_and_at_least_one(
    compose: Composer, how: str, bars: int, made: int
) -> None:
    form = introduction(compose("C6 | Am7 | Dm7 | G7", melody=[(0, 2, 72), (4, 1, 74)]), how, bars)
    assert (len(form.bars), form.length) == (made, 4 * made)
