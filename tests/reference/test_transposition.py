"""Charts in other keys, held to music21's transposition by the interval between the two tonics.

music21 moves every name by the same interval, as :mod:`companion.chart.transpose` does wherever no name would need a
double sharp or flat, or be one that players don't read; there the sound alone is compared (its text of chord symbols
isn't used: it reads 'C-7' as C flat 7).
"""

from __future__ import annotations

import pytest

from companion.chart.transpose import transposed
from companion.load import load
from companion.music.pitch import Name, name_at_fifth
from companion.resources import shipped_folder

CHARTS = sorted((shipped_folder() / "charts").glob("*.toml"))
SIGNS = {-2: "--", -1: "-", 0: "", 1: "#", 2: "##"}


def theirs(name: Name, octave: int = 4) -> str:
    """A name as music21 writes it."""
    return f"{name.step}{SIGNS[name.alter]}{octave}"


def fewest_signs(pitch_class: int, minor: bool) -> int:
    """Of the keys on a pitch class (0 = C) the one with the fewest sharps (positive) or flats, in fifths."""
    tonic = (7 * pitch_class) % 12 - (3 if minor else 0)
    return min((tonic, tonic - 12), key=lambda fifths: (abs(fifths), fifths))


@pytest.mark.parametrize("file", CHARTS[::2], ids=[file.stem for file in CHARTS[::2]])
def test_melody_and_roots_move_as_music21_moves_them(file) -> None:  # type: ignore[no-untyped-def]
    from music21.interval import Interval
    from music21.pitch import Pitch

    chart = load(file)
    same = other = 0
    for pitch_class in (1, 3, 5, 6, 8, 10, 11):
        fifths = fewest_signs(pitch_class, chart.minor)
        moved = transposed(chart, fifths)
        old, new = (name_at_fifth(f + (3 if chart.minor else 0)) for f in (chart.fifths, fifths))
        if old == new:
            continue
        first, second = chart.unfold().melody[0].pitch, moved.unfold().melody[0].pitch
        up = Interval(Pitch(theirs(first.name, first.octave)), Pitch(theirs(second.name, second.octave)))
        for a, b in zip(chart.unfold().melody, moved.unfold().melody, strict=True):
            expected = up.transposePitch(Pitch(theirs(a.pitch.name, a.pitch.octave)), maxAccidental=None)
            assert expected.midi == b.pitch.midi
            agrees = expected.nameWithOctave == theirs(b.pitch.name, b.pitch.octave)
            same, other = same + agrees, other + (not agrees)
            assert agrees or abs(b.pitch.alter) <= 1
        for was, now in zip(chart.unfold().chords, moved.unfold().chords, strict=True):
            if was.chord.root and now.chord.root:
                root = up.transposePitch(Pitch(theirs(was.chord.root)), maxAccidental=None)
                assert root.pitchClass == now.chord.root.pc
    assert same > 4 * other, "other names are the exception, even in a study through all keys"
