"""Endings turned the other way when a section comes again (common practice)."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.arrange.audit.endings import ending_figures
from companion.arrange.harmony import harmonies
from companion.arrange.melody.part import treated
from companion.arrange.melody.turning import last_phrase, turned
from companion.arrange.plan import plan
from companion.chart.model import Form
from companion.load import load
from companion.resources import chart_names, chart_path

Composer = Callable[..., Form]
CHANGES = "Dm7 | G7 | Cmaj7 | Am7"
RISING = [(4, 1, 65), (5, 1, 67), (6, 1, 69), (7, 1, 71), (8, 1, 72), (9, 1, 74), (10, 2, 76), (12, 4, 72)]
rows = st.lists(st.integers(60, 84), min_size=6, max_size=12)


def test_what_rose_falls_and_arrives_where_it_did(compose: Composer) -> None:
    form = compose(CHANGES, melody=RISING)
    phrase = last_phrase(form, form.bars[0], form.length)
    other = turned(form, phrase)
    assert [(n.beat, n.length) for n in other] == [(n.beat, n.length) for n in phrase]
    assert (other[0].pitch, other[-1].pitch) == (phrase[0].pitch, phrase[-1].pitch)
    moves = [b.pitch.midi - a.pitch.midi for a, b in pairwise(phrase)]
    turned_moves = [b.pitch.midi - a.pitch.midi for a, b in pairwise(other)]
    assert sum(x * y < 0 for x, y in zip(moves, turned_moves, strict=True)) >= len(moves) / 2


@given(rows)
def test_strong_beats_keep_chord_tones_and_the_line_stays_singable(compose: Composer, midi: list[int]) -> None:
    form = compose(CHANGES, melody=[(4 + k, 1, m) for k, m in enumerate(midi)])
    for note in turned(form, form.melody)[1:-1]:
        harmony = next(h for h in harmonies(form) if h.start <= note.beat < h.end)
        assert note.pitch.midi % 12 in harmony.scale
        if note.beat % 2 == 0:
            assert note.pitch.midi % 12 in harmony.tones
        assert min(midi) - 3 <= note.pitch.midi <= max(midi) + 3 or min(midi) == max(midi)


def test_the_pickup_to_the_next_section_is_not_part_of_the_ending(compose: Composer) -> None:
    form = compose(CHANGES, melody=[*RISING[:-1], (12, 2, 72), (15, 0.5, 67), (15.5, 0.5, 69)])
    assert [n.pitch.midi for n in last_phrase(form, form.bars[0], form.length)][-2:] == [76, 72]


def test_a_whole_phrase_is_turned_from_its_breath_on(compose: Composer) -> None:
    """After the long G the phrase begins that ends the section; a short ending reaches back to the breath before."""
    melody = [(0, 1, 64), (1, 3, 67), *RISING]
    form = compose(CHANGES, melody=melody)
    assert [n.beat for n in last_phrase(form, form.bars[0], form.length)] == [n[0] for n in RISING]
    short = compose(CHANGES, melody=[*RISING[:3], (7, 3, 71), (12, 1, 74), (13, 3, 72)])
    assert len(last_phrase(short, short.bars[0], short.length)) == 6


@given(rows)
def test_the_last_note_is_reached_by_step_or_as_it_was(compose: Composer, midi: list[int]) -> None:
    form = compose("Cmaj7 | Cmaj7 | Cmaj7 | Cmaj7", melody=[(4 + k, 1, 60 + m % 12) for k, m in enumerate(midi)])
    scale = {0, 2, 4, 5, 7, 9, 11}
    other = turned(form, form.melody)
    last = other[-1].pitch.midi
    if last % 12 in scale and len({n.pitch.midi for n in form.melody}) > 1:
        assert abs(other[-2].pitch.midi - last) <= 4


def test_a_section_that_comes_three_times_is_turned_the_last_time_only(compose: Composer) -> None:
    melody = [
        (8 * k + b, n, p) for k in range(3) for b, n, p in ((0, 2, 72), (2, 2, 74), (4, 1, 76), (5, 1, 74), (6, 2, 72))
    ]
    sections = [("A", 2, "turned"), ("A", 2, "turned"), ("A", 2, "turned")]
    form = compose("C | G7 | C | G7 | C | C", melody=melody, sections=sections)
    lines = [[n.pitch.midi for n, _ in treated(form, plan(form)) if 8 * k <= n.beat < 8 * k + 8] for k in range(3)]
    assert lines[0] == lines[1] != lines[2]


@pytest.mark.parametrize("name", chart_names())
def test_every_tune_of_ours_that_repeats_a_section_has_a_turned_ending(name: str) -> None:
    form = load(chart_path(name)).unfold().free
    there, changed, _ = ending_figures(form, plan(form))
    names = [place.name for place in form.sections]
    assert there.reached and changed.reached
    if len(set(names)) < len(names):
        assert there.of, "none is turned"


def test_a_last_note_alone_is_no_ending_to_turn(compose: Composer) -> None:
    form = compose(CHANGES, melody=[(0, 4, 72), (12, 4, 67)])
    assert last_phrase(form, form.bars[0], form.length) == []


# What stands here is how endings are turned today, not how they should be: kept as in test_written_out.py. Which
# changes, the melody as beat:length:MIDI number, and the last phrase as it is turned.
ENDINGS = [
    (0, ("0:1:67 1:0.5:69 1.5:1:72 2.5:1:71 3.5:1.5:69 5.5:0.5:66 6:1.5:65 7.5:0.5:70 8:2:66 10:0.5:69 "
     "10.5:1.5:70 12:1.5:68 13.5:1:71"),
     "G4 F4 D4 E4 G4 B4 C5 G4 C5 B4 A4 C5 B4"),
    (1, "0:0.5:67 0.5:1:63 2:1:65 3:0.5:63 3.5:1:65 4.5:2:58 6.5:1.5:58 8:0.5:59 9:0.5:62 9.5:2:64 11.5:2:66 14:1:64",
     "G4 Bb4 G4 Bb4 G4 Bb4 Bb4 A4 G4 F4 Eb4 E4"),
    (2, ("0:0.5:67 1:0.5:68 1.5:1:67 2.5:0.5:72 3:1:69 4:1:72 5:1.5:74 6.5:0.5:67 7:1:68 8:0.5:71 8.5:0.5:69 "
     "9.5:0.5:70 10.5:1:73"),
     "G4 F4 A4 F4 Bb4 Ab4 F4 Bb4 D5 C5 E5 D5 Db5"),
    (0, ("0:0.5:67 0.5:1:64 1.5:2:66 3.5:0.5:71 4:1:73 5:2:71 7:1:74 8:0.5:71 8.5:1:74 9.5:0.5:70 10:0.5:75 "
     "10.5:1:68 11.5:2:70 13.5:1:72 14.5:1:77"),
     "B4 A4 C5 A4 D5 C5 F5 D5 G5 F5 G5 F5"),
    (1, ("0:0.5:67 0.5:1:69 1.5:0.5:65 2:0.5:64 2.5:1:67 3.5:0.5:64 4:2:58 6:0.5:58 6.5:2:58 8.5:0.5:59 9:2:60 "
     "11:0.5:58 11.5:0.5:58 12:1:61 13.5:1.5:60"),
     "G4 E4 F#4 G4 E4 G4 C5 Bb4 A4 F4 Eb4 F#4 Eb4 Bb3 C4"),
    (2, "0:1.5:67 1.5:2:68 3.5:0.5:71 4:2:69 6.5:0.5:66 7:1:64 8:0.5:69 9:1:67 10:0.5:69 10.5:0.5:65",
     "G4 F4 Eb4 D4 F4 G4 D4 F4 E4 F4"),
    (0, "0:1.5:67 1.5:1:69 3:2:66 5:1:67 6:1:66 7:1.5:68 8.5:0.5:64 9:2:63 11:1:59 12:1:58 13:1:58 14:2:58",
     "G4 D4 E4 C4 C4 A3 B3 C4 D4 E4 C4 Bb3"),
    (1, ("0:1:67 1:2:69 3.5:0.5:72 4:1.5:65 5.5:1:61 6.5:0.5:59 7:1.5:58 9:2:58 11:1.5:58 12.5:0.5:58 13.5:1:58 "
     "14.5:0.5:61"),
     "C5 Eb5 C5 D5 Eb5 Eb5 C5 G4 D4 Db4"),
    (2, "0:0.5:67 0.5:0.5:69 1:0.5:62 2:0.5:65 2.5:1:58 3.5:1:60 4.5:0.5:62 5:2:58 7:1:60 8:2:62 10.5:0.5:61",
     "G4 E4 A4 G4 C5 Bb4 G4 Bb4 F4 C4 Db4"),
]  # fmt: skip
UNDER: list[tuple[str, dict[str, Any]]] = [
    ("C6 | Am7 | Dm7 G7 | C6", {}),
    ("Gm6 | Cm7 | Am7b5 D7b9 | Gm6", {"fifths": -2, "minor": True}),
    ("Fmaj7 | Bb7 | Gm7 C7 | F6", {"fifths": -1, "metre": "3/4"}),
]


@pytest.mark.parametrize(("under", "melody", "found"), ENDINGS)
def test_an_ending_turned_to_its_last_note(compose: Composer, under: int, melody: str, found: str) -> None:
    changes, as_told = UNDER[under]
    notes = [tuple(map(float, note.split(":"))) for note in melody.split()]
    form = compose(changes, melody=[(beat, length, int(midi)) for beat, length, midi in notes], **as_told)
    phrase = last_phrase(form, Fraction(0), form.length)
    assert [str(note.pitch) for note in turned(form, phrase)] == found.split()
