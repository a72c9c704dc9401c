"""What an improvised line is made of."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

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


def figures(*notes: tuple[float, int], bars: int = 8, others: int = 0) -> list[str]:
    """What is said of a line, through the choruses, beside so many notes of another part."""
    solo = [replace(one, chorus=1 + int(one.chart_beat // 32), chart_beat=one.chart_beat % 32) for one in line(*notes)]
    return solo_figures(TUNE, [*solo, *[JudgedNote("right", 0.0, 60, 60, 1.0)] * others], bars)


def _count(lines: list[str], strength: str, kind: str) -> int:
    """How many notes of a kind there are, from their share."""
    said = next((one for one in lines if one.startswith(strength)), f"0 % {kind} (0 notes)")
    share, many = re.search(rf"(\d+) % {kind}", said), re.search(r"\((\d+) notes", said)
    assert share and many
    return round(int(share[1]) * int(many[1]) / 100)


SIXTEEN = [(2.0 * n, 62) for n in range(16)]


@pytest.mark.parametrize(("many", "others", "said"), [(15, 0, False), (16, 0, True), (16, 37, True), (16, 38, False)])
def test_sixteen_notes_and_three_in_ten_make_a_line(many: int, others: int, said: bool) -> None:
    assert bool(figures(*SIXTEEN[:many], others=others)) is said


@pytest.mark.parametrize(
    ("beat", "pitch", "where"),
    [
        # Over Dm7: D F A C of the chord, E G B of its scale; over G7 B is of the chord. Strong beats: 1 and 3.
        (4.0, 67, "on strong beats: chord"), (5.0, 67, "on weak beats: chord"), (6.0, 67, "on strong beats: chord"),
        (4.19, 67, "on strong beats: chord"), (4.21, 67, "off the beat: chord"), (3.81, 61, "on strong beats: outside"),
        (0.0, 64, "on strong beats: scale"), (1.0, 66, "on weak beats: outside"), (3.5, 71, "off the beat: scale"),
        (3.9, 69, "on strong beats: chord"),
        (3.7, 71, "off the beat: chord"), (3.59, 71, "off the beat: scale"), (3.61, 71, "off the beat: chord"),
    ],
)  # fmt: skip
def test_a_note_belongs_to_the_chord_of_its_moment_or_to_one_that_comes_at_once(
    beat: float, pitch: int, where: str
) -> None:
    strength, kind = where.split(": ")
    before, after = figures(*SIXTEEN), figures(*SIXTEEN, (beat, pitch))
    assert _count(after, strength, kind) == _count(before, strength, kind) + 1


@pytest.mark.parametrize(("rest", "phrases"), [(1.4, 1), (1.5, 2)])
def test_a_phrase_begins_after_a_beat_and_a_half(rest: float, phrases: int) -> None:
    notes = [(n / 2, 62) for n in range(16)]
    said = figures(*notes, *((7.5 + rest + n / 2, 62) for n in range(4)))
    assert f"phrases: {phrases}, of " in "; ".join(said)


def test_phrases_are_measured_in_bars_and_the_range_in_semitones() -> None:
    notes = [(n / 2, 60 + n) for n in range(9)] + [(8.0 + n / 2, 70 - n) for n in range(9)] + [(20.0, 60)]
    said = figures(*notes)
    assert "range: C4 to B♭4, 10 semitones" in said
    assert "phrases: 3, of 1.0 bars at the median, 1.0 at the most" in said


@pytest.mark.parametrize(
    ("times", "said"),
    [
        (2, "no figure of 5 notes comes back 3 times"),
        (3, "what you repeat: a figure of 5 notes (semitones +2 +2 -4 +7) comes 3 times"),
    ],
)
def test_a_figure_is_repeated_in_whatever_key_and_chorus_in_the_same_rhythm(times: int, said: str) -> None:
    figure = ((0.0, 0), (0.5, 2), (1.0, 4), (2.0, 0), (2.5, 7))
    notes = [(30.0 + 5 * k + beat, 60 + k + step) for k in range(times) for beat, step in figure]
    others = [(4.0 * n**1.1 / 2, 60 + n * n % 11) for n in range(9)]
    assert said in figures(*others, *notes)
    straight = [(30.0 + 5 * k + n / (2 + k), 60 + step) for k in range(times) for n, (_, step) in enumerate(figure)]
    assert not any("comes 3" in one for one in figures(*others, *straight)), "in another rhythm it is another"


@pytest.mark.parametrize(
    ("in_b", "bars", "lines"),
    [
        (3, 8, ["form: notes in 7 of 8 bars", "form: bars 5 to 8 left open, mostly"]),
        (4, 8, ["form: notes in 8 of 8 bars", "form: bars 5 to 8 left open, mostly"]),
        (6, 8, ["form: notes in 8 of 8 bars"]),
        (3, 7, ["form: notes in 7 of 7 bars"]),  # not once through: something was left out
        (3, 2, ["form: notes in 7 of 7 bars"]),
    ],
)
def test_a_section_is_left_open_with_less_than_half_the_notes_of_others(in_b: int, bars: int, lines: list[str]) -> None:
    notes = [(float(n), 60 + n % 3) for n in range(16)] + [(16.0 + 4 * (n % 4) + n // 4, 60) for n in range(in_b)]
    assert [one for one in figures(*notes, bars=bars) if one.startswith("form")] == lines


def test_over_two_choruses_notes_are_counted_by_chorus_and_bar() -> None:
    notes = [(float(n), 60 + n % 3) for n in range(16)] + [(32.0 + n, 60) for n in range(4)]
    said = [one for one in figures(*notes, bars=16) if one.startswith("form")]
    assert said == ["form: notes in 5 of 16 bars", "form: bars 5 to 8 left open, mostly"]


def test_sections_that_are_left_open_one_after_the_other_are_told_as_one() -> None:
    four = parse_toml("""
format = 1
title = "Four Sections"
key = "C major"
form = "A B A A"

[section.A]
chords = "| Dm7 | G7 | Cmaj7 | Cmaj7 |"

[section.B]
chords = "| Dm7 | G7 | Cmaj7 | Cmaj7 |"
""").unfold()
    told = solo_figures(four, line(*((16.0 + n, 60 + n % 3) for n in range(16))), 16)
    assert told[-2:] == ["form: bars 1 to 4 left open, mostly", "form: bars 9 to 16 left open, mostly"]


def test_with_exactly_half_the_notes_of_a_bar_on_average_nothing_is_left_open() -> None:
    """Fifteen in four bars and five in four: two and a half a bar."""
    notes = [(float(n), 60 + n % 3) for n in range(15)] + [(16.0 + 3 * n, 60) for n in range(5)]
    assert [one for one in figures(*notes) if one.startswith("form")] == ["form: notes in 8 of 8 bars"]


def test_what_is_open_the_first_time_through_and_full_the_second_is_not_left_open() -> None:
    notes = [*((float(n), 60 + n % 3) for n in range(16)), *((48.0 + n, 60) for n in range(16))]
    assert [one for one in figures(*notes, bars=16) if one.startswith("form")] == ["form: notes in 8 of 16 bars"]


def test_a_phrase_goes_on_over_the_end_of_the_form() -> None:
    said = figures(*((28.0 + n / 2, 60 + n % 5) for n in range(16)))
    assert "phrases: 1, of 1.9 bars at the median, 1.9 at the most" in said


def test_of_a_last_time_through_that_was_not_finished_nobody_says_what_it_left_open() -> None:
    """Two and a half times through: what is in the half says nothing of the whole ones."""
    notes = [*((float(n), 60 + n % 3) for n in range(16)), *((80.0 + n, 60) for n in range(16))]
    said = [one for one in figures(*notes, bars=20) if one.startswith("form")]
    assert said == ["form: notes in 8 of 20 bars", "form: bars 5 to 8 left open, mostly"]
