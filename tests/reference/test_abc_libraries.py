"""Tunes in ABC, read by us and by music21's reader of ABC: the same notes at the same beats.

Left out is what music21 passes over: rests written x, and changes of key within a line (10.5).
"""

from __future__ import annotations

import warnings
from fractions import Fraction
from pathlib import Path

import pytest

from companion.chart.abc.tune import import_abc

HEAD = "X:1\nT:Trial\nM:{metre}\nL:{unit}\nK:{key}\n"
TUNES = {
    "pickup, ties, accidentals": HEAD.format(metre="4/4", unit="1/8", key="Gm")
    + '"D7"DF|"Gm6"G6 zB|"C7"c2 Bc =e3d-|d6 z2|"Am7b5"ze2c "D7"B2 ^F2|\nG4 z2 Bd|f3_d f2 g2-|g6 z2|z2 e2 d2 z2|]',
    "repeats and endings": HEAD.format(metre="3/4", unit="1/8", key="D")
    + "|:d2 f2 a2|b4 f2|1 e6|c6:|2 e4 c2|d6||\n|:A2 B2 c2|d6:|",
    "tuplets and broken rhythm": HEAD.format(metre="4/4", unit="1/8", key="F")
    + "(3FGA B>c d<e f2|(3:2:2F2G (3ABc d4|a>>b c'2 B,,2 z2|z2 f4 z2|]",
    "compound, chords struck": HEAD.format(metre="6/8", unit="1/8", key="Bb")
    + "[FB]3 d2c|(B3 d3)|[F2A2c2]3|B2c d/e/f g|]",
    "modes": HEAD.format(metre="2/4", unit="1/16", key="Ador") + "A4 c4|e2f2 g4|c4 =f2^g2|a8|]",
    "bare sixteenths by the metre": "X:1\nT:Trial\nM:2/4\nK:C\nCDEF GABc|d4 e4|]",
}


@pytest.mark.parametrize("text", TUNES.values(), ids=TUNES)
def test_music21_reads_the_same_notes(tmp_path: Path, text: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21

        part = music21.converter.parse(text, format="abc").parts[0]
        if any(True for _ in part.recurse().getElementsByClass(music21.bar.Repeat)):
            part = part.expandRepeats()
        theirs = [
            (
                Fraction(note.offset).limit_denominator(96),
                Fraction(note.quarterLength).limit_denominator(96),
                max(pitch.midi for pitch in note.pitches),
            )
            for note in part.flatten().stripTies().notes
            if not isinstance(note, music21.harmony.Harmony)
        ]
    path = tmp_path / "trial.abc"
    path.write_text(text)
    form = import_abc(path).chart.unfold()
    ours = [(note.beat + form.pickup, note.length, note.pitch.midi) for note in form.melody]
    assert ours == theirs
