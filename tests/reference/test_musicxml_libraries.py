"""Our reading of MusicXML against music21 and partitura, where these are right.

music21 10 is right on notes, ties, repeats, endings, D.C. and the kinds of MusicXML; partitura 1.9 on notes, ties,
repeats and endings. Both fail on brackets that stop short of their repeat, so no such sheet is compared. The sheets lie
in tests/data.
"""

from __future__ import annotations

import warnings
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from companion.chart.musicxml.read import read_musicxml
from companion.music.chords import Chord

DATA = Path(__file__).parents[1] / "data"
SHEETS = ["pickup-and-endings.musicxml", "three-times.musicxml", "ties-and-triplets.musicxml", "da-capo.musicxml"]


@pytest.fixture(scope="module")
def music21() -> Any:
    return pytest.importorskip("music21", reason="the test extra music21 isn't installed")  # takes seconds


def ours(name: str) -> list[tuple[Fraction, int]]:
    """Onsets in quarters from the first note, and MIDI numbers, repeats played."""
    melody = read_musicxml(DATA / name).unfold().melody
    return [(note.beat - melody[0].beat, note.pitch.midi) for note in melody]


def by_music21(music21: Any, name: str) -> list[tuple[Fraction, int]]:
    score = music21.converter.parse(DATA / name)
    part = score.parts[0].expandRepeats().stripTies()
    notes = [n for n in part.recurse().notes if not isinstance(n, music21.harmony.ChordSymbol)]
    notes = [n for n in notes if not n.duration.isGrace]
    onsets = [Fraction(n.getOffsetInHierarchy(part)).limit_denominator(48) for n in notes]
    return [(onset - onsets[0], n.pitch.midi) for onset, n in zip(onsets, notes, strict=True)]


@pytest.mark.parametrize("name", SHEETS)
def test_music21_plays_the_same_notes_at_the_same_beats(music21: Any, name: str) -> None:
    assert ours(name) == by_music21(music21, name)


@pytest.mark.slow  # importing partitura takes seconds
@pytest.mark.parametrize("name", [name for name in SHEETS if name != "da-capo.musicxml"])
def test_partitura_plays_the_same_notes_at_the_same_beats(name: str) -> None:
    partitura = pytest.importorskip("partitura", reason="the test extra partitura isn't installed")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = partitura.load_musicxml(DATA / name)[0]
        unfolded = partitura.score.unfold_part_maximal(part)
        notes = [row for row in unfolded.note_array() if row["duration_quarter"] > 0]
    rows = [(Fraction(float(row["onset_quarter"])).limit_denominator(48), int(row["pitch"])) for row in notes]
    first = min(onset for onset, _ in rows)
    assert ours(name) == sorted((onset - first, pitch) for onset, pitch in rows)


def kinds(music21: Any) -> list[tuple[Chord, Any]]:
    """Each chord of the sheet of all kinds, as we and as music21 read it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = music21.converter.parse(DATA / "all-kinds.musicxml")
        theirs = list(score.recurse().getElementsByClass(music21.harmony.ChordSymbol))
    read = [span.chord for span in read_musicxml(DATA / "all-kinds.musicxml").unfold().chords]
    return list(zip(read, theirs, strict=True))


NO_NOTES_IN_THE_STANDARD = {"none", "other", "pedal", "Neapolitan", "Italian", "French", "German", "Tristan"}


def test_every_kind_has_the_pitch_classes_that_music21_gives_it(music21: Any) -> None:
    compared = 0
    for chord, other in kinds(music21):
        if chord.kind in NO_NOTES_IN_THE_STANDARD:
            continue
        assert set(chord.pitch_classes) == {pitch.pitchClass for pitch in other.pitches}, chord.kind
        compared += 1
    assert compared >= 24
