"""What an improvised line is made of."""

from __future__ import annotations

from companion.chart.toml.read import parse_toml
from companion.practice.judging import JudgedNote
from companion.practice.solo_figures import solo_figures

TUNE = parse_toml("""
format = 1
title = "Two Sections"
key = "C major"
form = "A B"

[section.A]
chords = "| Dm7 | G7 | Cmaj7 | Cmaj7 |"

[section.B]
chords = "| Dm7 | G7 | Cmaj7 | Cmaj7 |"
""").unfold()


def line(*notes: tuple[float, int]) -> list[JudgedNote]:
    return [JudgedNote("right", beat, None, pitch, 1.0 + beat / 2, None, "solo") for beat, pitch in notes]


LICK = (62, 65, 69, 72)
"""D F A C: the tones of Dm7."""


def in_a_alone() -> list[JudgedNote]:
    beats = [bar * 4.0 + n for bar in range(4) for n in range(4)]
    return line(*((beat, LICK[n % 4]) for n, beat in enumerate(beats)))


def test_notes_are_counted_by_chord_scale_and_outside_and_by_strength_of_beat() -> None:
    notes = line(*((float(n), 62) for n in range(16)), (4.5, 61), (8.5, 66))
    told = solo_figures(TUNE, notes, 8)
    assert told[0].startswith("on strong beats: ") and told[0].endswith("(8 notes)")
    assert told[2].startswith("off the beat: ") and "outside (2 notes)" in told[2]
    # D is a tone of Dm7 and of G7; over Cmaj7 it is its ninth
    assert told[0].startswith("on strong beats: 50 % chord, 50 % scale, 0 % outside")


def test_range_phrases_and_what_comes_again_are_said() -> None:
    told = solo_figures(TUNE, in_a_alone(), 8)
    assert "range: D4 to C5, 10 semitones" in told
    assert "phrases: 1, of 3.8 bars at the median, 3.8 at the most" in told
    assert any(
        one.startswith("what you repeat: a figure of 5 notes (semitones +3 +4 +3 -10) comes 3 times") for one in told
    )


def test_a_rest_begins_a_phrase() -> None:
    notes = [note for note in in_a_alone() if not 6 <= note.chart_beat < 8]
    notes += line((16.0, 60), (17.0, 62), (18.0, 64))
    assert any(one.startswith("phrases: 2, ") for one in solo_figures(TUNE, notes, 8))


def test_where_the_form_is_left_open_is_said() -> None:
    told = solo_figures(TUNE, in_a_alone(), 8)
    assert "form: notes in 4 of 8 bars" in told
    assert "form: bars 5 to 8 left open, mostly" in told


def test_of_a_few_notes_nothing_is_said() -> None:
    assert solo_figures(TUNE, in_a_alone()[:8], 8) == []
