"""Notes that are given, explained: the degree of each, and what a musician would say of it (common practice)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from companion.arrange.analysis import explain_bass, explain_chords, heard_as
from companion.arrange.melody.part import index_melody
from companion.chart.model import Form, WrittenNote
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]
CHANGES = "Dm7 | G7 | Cmaj7 | Am7"


@pytest.mark.parametrize(
    ("beat", "length", "symbol", "early"),
    [
        ("7/2", "1/2", "Dm7", False),  # ends with its chord
        ("7/2", "51/100", "G7", True),
        ("7/2", "1", "G7", True),
        ("3", "2", "Dm7", False),  # on the beat
        ("28/9", "2", "G7", True),  # within a beat of the next chord
        ("5/2", "2", "Dm7", False),  # more than a beat before it
        ("31/2", "1", "Dm7", True),  # the last bar leads to the first
        ("-1/2", "1", "Dm7", True),
        ("-1/2", "1/2", "Am7", False),
        ("4", "1", "G7", False),
        ("39/2", "1", "G7", True),  # in the second chorus
    ],
)
def test_a_chord_off_the_beat_that_sounds_into_the_next_is_the_next_ones(
    compose: Composer, beat: str, length: str, symbol: str, early: bool
) -> None:
    harmony, ahead = heard_as(compose(CHANGES), Fraction(beat), Fraction(length))
    assert (harmony.chord.symbol, ahead) == (symbol, early)


def test_nothing_is_ahead_of_a_chord_that_goes_on(compose: Composer) -> None:
    harmony, early = heard_as(compose("Dm7 | Dm7 | G7"), Fraction(7, 2), Fraction(1))
    assert (harmony.start, early) == (0, False)


def line(*notes: tuple[float, float, int] | tuple[float, float, int, float]) -> list[WrittenNote]:
    """A bass line of (beat, length, MIDI number, weight)."""
    return [
        WrittenNote(Fraction(beat), Fraction(length), pitch_in_key(midi), "left", 1, *weight)
        for beat, length, midi, *weight in notes
    ]


def quarters(*midi: int) -> list[WrittenNote]:
    """A bass line of quarters."""
    return line(*((n, 1, one) for n, one in enumerate(midi)))


def said(form: Form, notes: Sequence[WrittenNote]) -> list[str]:
    return [f"{degree} {reason}" for degree, reason in explain_bass(form, notes)]


@pytest.mark.parametrize(
    ("last", "how"),
    [
        (42, "a semitone below"), (44, "a semitone above"), (41, "a step below"), (45, "a step above"),
        (50, "its fifth, above"), (38, "its fifth, below"), (40, ""), (46, ""), (31, ""), (47, ""),
    ],
)  # fmt: skip
def test_the_last_note_of_a_chord_leads_to_the_root_of_the_next(compose: Composer, last: int, how: str) -> None:
    reasons = [reason for _, reason in explain_bass(compose(CHANGES), quarters(38, 45, 48, last, 43, 47, 50, 53))]
    assert reasons[4] == "the root says G7"
    assert (reasons[3] == f"leads to G: {how}") if how else ("leads" not in reasons[3])


@pytest.mark.parametrize(
    ("changes", "midi", "expected"),
    [
        (
            "Dm7 | Dm7 | G7 | G7",
            (38, 50, 38, 41, 45, 48, 47, 45, 43, 47, 50, 53, 41, 40, 38, 37),
            [
                "1 the root says Dm7",
                "1 the root of Dm7 again, an octave up",
                "1 the root of Dm7 again, an octave down",
                "b3 the third of Dm7",
                "5 the fifth of Dm7",
                "b7 the seventh of Dm7",
                "6 the sixth of Dm7",
                "5 leads to G: a step above",
                "1 the root says G7",
                "3 the third of G7",
                "5 the fifth of G7",
                "b7 the seventh of G7",
                "b7 the seventh of G7",
                "6 the sixth of G7",
                "5 the fifth of G7",
                "x leads to D: a semitone below",
            ],
        ),
        (
            "Cmaj7/E | Fmaj7",
            (40, 36, 35, 40, 41, 40, 39, 38),
            [
                "3 the slash bass of Cmaj7/E",
                "1 the root of Cmaj7/E",
                "7 the major seventh of Cmaj7/E",
                "3 leads to F: a semitone below",
                "1 the root says Fmaj7",
                "7 the major seventh of Fmaj7",
                "x passes from the note before to the next",
                "6 leads to E: a step below",
            ],
        ),
        (
            "Dm7 | Dm7 | Am7b5 | Am7b5",
            (41, 38, 40, 41, 43, 47, 40, 42, 51, 50, 48, 46, 45, 51, 57, 46),
            [
                "b3 the third of Dm7",
                "1 the root of Dm7",
                "2 passes from the note before to the next",
                "b3 the third of Dm7",
                "4 a scale note over Dm7 (4)",
                "6 the sixth of Dm7",
                "2 a scale note over Dm7 (2)",
                "x passes from the note before to the next",
                "b5 the fifth of Am7b5",
                "4 passes from the note before to the next",
                "b3 the third of Am7b5",
                "b2 passes from the note before to the next",
                "1 the root of Am7b5",
                "b5 the fifth of Am7b5",
                "1 the root of Am7b5",
                "b2 a scale note over Am7b5 (b2)",
            ],
        ),
    ],
)
def test_each_note_of_a_line_says_what_it_does(
    compose: Composer, changes: str, midi: tuple[int, ...], expected: list[str]
) -> None:
    assert said(compose(changes), quarters(*midi)) == expected


def test_a_note_between_two_that_are_one_does_not_pass(compose: Composer) -> None:
    assert said(compose("Dm7"), quarters(38, 40, 38, 45))[1] == "2 a scale note over Dm7 (2)"
    assert said(compose("Dm7"), quarters(38, 40, 41, 45))[1] == "2 passes from the note before to the next"
    assert said(compose("Dm7"), quarters(41, 43, 46, 45))[1] == "4 a scale note over Dm7 (4)", "a third is no step"
    assert said(compose("Dm7"), quarters(43, 40, 38, 45))[1] == "2 a scale note over Dm7 (2)"


def test_the_root_ahead_of_its_bar_is_said_to_be(compose: Composer) -> None:
    form = compose("Dm7 | G7")
    root = said(form, line((0, 3.5, 38), (3.5, 4, 43), (7.5, 0.5, 38)))
    assert root[1] == "1 the root of G7, ahead of the bar line"
    assert said(form, line((0, 3.5, 38), (3.5, 4, 47), (7.5, 0.5, 38)))[1] == "3 ahead of G7"


@pytest.mark.parametrize(
    ("weight", "midi", "coming", "why"),
    [
        (0.4, 38, 45, "a ghosted skip into the next beat"),
        (0.59, 45, 45, "a ghosted skip: the note to come, ahead of time"),
        (0.59, 41, 45, "a ghosted skip into the next beat"),
        (0.6, 45, 45, "the fifth of Dm7"),
        (0.4, 38, 38, "a ghosted skip into the next beat"),  # both neighbours are the same note: an echo
    ],
)
def test_a_ghosted_note_belongs_to_the_beat_before_or_after(
    compose: Composer, weight: float, midi: int, coming: int, why: str
) -> None:
    notes = line((0, 0.45, 38), (0.5, 0.33, midi, weight), (1, 1, coming), (2, 1, 41), (3, 1, 40))
    assert explain_bass(compose("Dm7"), notes)[1][1] == why


def test_a_line_is_led_past_its_ghosts(compose: Composer) -> None:
    notes = line((0, 3, 38), (3, 0.45, 42), (3.5, 0.33, 36, 0.4), (4, 2, 43), (6, 2, 37))
    assert said(compose("Dm7 | G7"), notes) == [
        "1 the root says Dm7",
        "x leads to G: a semitone below",
        "b7 a ghosted skip into the next beat",
        "1 the root says G7",
        "x leads to D: a semitone below",
    ]


def test_ghosts_alone_and_no_notes_are_explained_too(compose: Composer) -> None:
    form = compose("Dm7")
    assert said(form, []) == []
    assert said(form, line((0, 1, 38, 0.4), (1, 1, 45, 0.4))) == [
        "1 a ghosted skip into the next beat",
        "5 a ghosted skip into the next beat",
    ]


def struck(
    *chords: tuple[float, float, Sequence[int]], late: tuple[float, float, int, int] | None = None
) -> list[WrittenNote]:
    """Chords of (beat, length, MIDI numbers), and after them a note of its own voice."""
    notes = [
        WrittenNote(Fraction(beat), Fraction(length), pitch_in_key(one), "right", voice)
        for beat, length, midi in chords
        for voice, one in enumerate(midi, 1)
    ]
    if late:
        beat, length, midi, voice = late
        notes.append(WrittenNote(Fraction(beat), Fraction(length), pitch_in_key(midi), "right", voice))
    return notes


def degrees_and_reasons(form: Form, notes: Sequence[WrittenNote]) -> tuple[str, list[str]]:
    """The degrees of all notes, and the reason of the first of each beat."""
    found = explain_chords(form, notes, index_melody(form))
    firsts = [n for n in range(len(notes)) if n == 0 or notes[n].beat != notes[n - 1].beat]
    return " ".join(degree for degree, _ in found), [found[n][1] for n in firsts]


@pytest.mark.parametrize(
    ("symbol", "midi", "degrees", "called"),
    [
        ("Dm7", (53, 57, 60, 64), "b3 5 b7 9", "rootless from the third"),
        ("Dm7", (60, 64, 65, 69), "b7 9 b3 5", "rootless from the seventh"),
        ("G7", (53, 57, 59, 64), "b7 9 3 13", "rootless from the seventh"),
        ("Cmaj7", (50,), "9", "a single note"),
        ("Cmaj7", (52, 59, 62), "3 7 9", "thinned to third, seventh, ninth"),
        ("Cmaj7", (50, 55, 60), "9 5 1", "fourths"),
        ("Cmaj7", (57, 62), "13 9", "notes of its own"),
        ("Cmaj7", (55, 60, 66), "5 1 x", "notes of its own"),
        ("Cmaj7", (60, 61, 63, 65, 66, 68, 70), "1 x x 11 x x x", "notes of its own"),
        ("Cmaj7", (48, 52, 55), "1 3 5", "notes of its own"),
    ],
)
def test_a_chord_is_called_by_its_handbook_name_and_each_note_by_its_degree(
    compose: Composer, symbol: str, midi: tuple[int, ...], degrees: str, called: str
) -> None:
    said, why = degrees_and_reasons(compose(symbol), struck((0, 2, midi)))
    assert said == degrees
    assert why[0].startswith(called), why


@pytest.mark.parametrize(
    ("first", "second", "how"),
    [
        ((50, 55, 60), (51, 56, 61), "slides up a semitone"),
        ((50, 55, 60), (49, 54, 59), "slides down a semitone"),
        ((50, 55), (51, 56), "every voice moves by step"),
        ((50, 55, 60), (52, 57, 62), "every voice moves by step"),
        ((50, 55, 60), (51, 56, 59), "every voice moves by step"),
        ((50, 55, 60), (50, 56, 61), "one note stays, the rest moves by step"),
        ((50, 55, 60), (53, 58, 63), ""),
        ((50, 55, 60), (50, 55, 60), "the same again"),
        ((50, 55, 60, 65), (51, 56, 61), ""),
    ],
)
def test_a_chord_says_how_the_hand_came_to_it(
    compose: Composer, first: tuple[int, ...], second: tuple[int, ...], how: str
) -> None:
    _, reasons = degrees_and_reasons(compose("Dm7"), struck((0, 1, first), (2, 1, second)))
    said, _, placed = reasons[1].rpartition("; ")
    assert placed == "on 3"
    assert said.endswith(f": {how}") if how else ":" not in said


@pytest.mark.parametrize(
    ("beat", "length", "place"),
    [
        (0, 1, "on 1, with the melody"),
        (0.5, 1, "on 1.5, under the melody's long note"),
        (1, 1, "on 2, where the melody rests"),
        (2.5, 0.5, "on 3.5, beside the melody"),
        (3, 1, "on 4, where the melody rests"),
        (3.5, 1, "on 4.5, ahead of its chord"),
        (4, 1, "on 1, where the melody rests"),
        (7.5, 1, "on 4.5, ahead of its chord"),
        (-0.5, 1, "on 4.5, ahead of its chord"),
    ],
)
def test_a_chord_says_where_it_falls_and_what_the_melody_does(
    compose: Composer, beat: float, length: float, place: str
) -> None:
    form = compose("Dm7 | G7", melody=[(0, 1, 81), (2.25, 0.5, 84)])
    _, reasons = degrees_and_reasons(form, struck((beat, length, (53, 60))))
    assert reasons[0].endswith(f"; {place}")


@pytest.mark.parametrize(
    ("late", "is_late"),
    [
        ((1, 1, 64, 4), True),
        ((1, 1, 55, 2), True),
        ((1, 1, 55, 3), True),
        ((1, 1, 51, 1), False),  # the lowest voice waits for nobody
        ((1, 1, 67, 5), False),
        ((1, 0.5, 64, 4), False),  # it ends before the others
        ((1, 2, 64, 4), False),
    ],
)
def test_a_voice_that_comes_late_and_ends_with_its_chord_is_one_of_it(
    compose: Composer, late: tuple[float, float, int, int], is_late: bool
) -> None:
    notes = struck((0, 2, (53, 57, 60)), late=late)
    reason = explain_chords(compose("Dm7"), notes, index_melody(compose("Dm7")))[-1][1]
    assert reason.startswith("late voice, a line of its own; ") == is_late
    assert reason.endswith("on 1" if is_late else "on 2")


def test_two_notes_struck_after_a_chord_are_a_chord_of_their_own(compose: Composer) -> None:
    notes = struck((0, 2, (53, 57)), (1, 1, (60, 64)))
    assert [why.rpartition("; ")[2] for why in degrees_and_reasons(compose("Dm7"), notes)[1]] == ["on 1", "on 2"]


def test_a_short_chord_on_the_last_quaver_is_the_next_chords_where_it_makes_a_handbook_voicing(
    compose: Composer,
) -> None:
    said, reasons = degrees_and_reasons(compose("Dm7 | G7 | Dm7 | G7"), struck((3.5, 0.5, (59, 64, 65, 69))))
    assert (said, reasons[0].rpartition("; ")[2]) == ("3 13 b7 9", "on 4.5, ahead of its chord")
    said, reasons = degrees_and_reasons(compose("Dm7 | G7 | Dm7 | G7"), struck((3.5, 0.5, (53, 57, 60, 64))))
    assert (said, reasons[0].rpartition("; ")[2]) == ("b3 5 b7 9", "on 4.5")
