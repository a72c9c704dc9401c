"""A key by itself beside the melody is one too many, a late voice isn't, and the bass is what lies lowest."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.chart.toml.read import parse_toml
from companion.messages import NoteKind, Part
from companion.practice.alignment import NOTHING, Alignment
from companion.practice.judging import JudgedNote
from companion.practice.registers import by_register, octave_played
from companion.practice.sweeps import Sweep
from tests.practice.test_voicings_played import two_five_one

FORM = two_five_one("C").unfold()
SWEEP = Sweep(0.0, 32.0, ((0.0, 2.0), (32.0, 18.0)))
BOTH = {"melody", "chords"}
ALL = {"melody", "chords", "bass"}
LINE = (JudgedNote("right", 0.0, 69, 69, 2.0, 0.0), JudgedNote("right", 2.0, 72, 72, 3.0, 0.0))
"""A4 and C5 over Dm7."""


def free(pitch: int, seconds: float, kind: NoteKind = "right") -> JudgedNote:
    return JudgedNote(kind, (seconds - 2) * 2, None, pitch, seconds, None, "chords")


def told(parts: set[str], *notes: JudgedNote) -> list[tuple[str, Part, int | None]]:
    found = by_register(FORM, Alignment((notes,), (SWEEP,), ()), parts)
    return [(note.kind, note.part, note.pitch) for note in found.notes]


@pytest.mark.parametrize("pitch, kind", [(70, "wrong"), (67, "right"), (71, "right"), (63, "wrong")])
def test_a_key_by_itself_at_the_height_of_the_melody_is_one_too_many(pitch: int, kind: NoteKind) -> None:
    assert told(BOTH, *LINE, free(pitch, 2.5, kind))[-1] == ("extra", "melody", pitch)


@pytest.mark.parametrize("pitch", [65, 62, 60])
def test_a_voice_of_the_chord_that_comes_late_is_none_too_many(pitch: int) -> None:
    assert told(BOTH, *LINE, free(pitch, 2.5))[-1] == ("right", "chords", pitch)


def test_a_key_far_from_any_note_of_the_melody_is_left_alone() -> None:
    far = free(67, 9.0)
    assert told(BOTH, *LINE, far)[-1] == ("right", "chords", 67)
    assert told(BOTH, *LINE, replace(far, seconds=2.5, chart_beat=1.0, pitch=56))[-1][0] == "right"


def test_keys_struck_together_are_a_chord_wherever_they_lie() -> None:
    assert [kind for kind, *_ in told(BOTH, *LINE, free(65, 2.5), free(71, 2.51, "wrong"))][-2:] == ["right", "wrong"]


def test_a_melody_an_octave_lower_has_its_strays_there() -> None:
    low = tuple(replace(note, pitch=(note.pitch or 0) - 12) for note in LINE)
    assert told(BOTH, *low, free(59, 2.5))[-1] == ("extra", "melody", 59)
    assert told(BOTH, *LINE, free(59, 2.5))[-1] == ("right", "chords", 59)


@pytest.mark.parametrize(
    "keys, bass",
    [
        ((38, 53, 57, 60), 38),
        ((50, 57, 60, 64), 50),
        ((53, 57, 60), None),
        ((54,), 54),
        ((47, 50), 47),
        ((55, 60), None),
    ],
)
def test_the_bass_is_the_lowest_key_if_it_lies_apart(keys: tuple[int, ...], bass: int | None) -> None:
    found = told({"chords", "bass"}, *(free(key, 2.0) for key in keys))
    assert [pitch for _, part, pitch in found if part == "bass"] == ([bass] if bass else [])


def test_the_bass_never_stands_for_a_note_of_the_melody() -> None:
    taken = JudgedNote("right", 0.0, 69, 45, 2.0, 0.0)
    assert told(ALL, *LINE[1:] * 2, taken)[-2:] == [("missing", "melody", None), ("right", "bass", 45)]
    assert told(BOTH, *LINE[1:] * 2, taken)[-1] == ("right", "melody", 45), "who has no bass has no bass note"


def test_the_chart_says_what_a_single_part_is() -> None:
    notes = (*LINE, free(70, 2.5, "wrong"))
    assert told({"melody"}, *notes)[-1] == ("wrong", "chords", 70)


# Where the limits lie


@pytest.mark.parametrize(
    ("pitch", "kind", "seconds", "stray"),
    [
        (74, "right", 2.5, True), (75, "wrong", 2.5, True), (81, "wrong", 2.5, False), (80, "wrong", 2.5, True),
        (58, "wrong", 2.5, True), (57, "wrong", 2.5, False), (66, "right", 2.5, True), (67, "right", 2.5, True),
        (64, "right", 2.5, True), (63, "right", 2.5, False), (65, "right", 2.5, False),
        (67, "right", 3.99, True), (67, "right", 4.01, False), (67, "right", 1.01, True), (67, "right", 0.99, False),
        (77, "right", 2.75, True), (77, "right", 2.25, False), (69, "right", 2.75, False), (70, "right", 2.75, True),
    ],
)  # fmt: skip
def test_a_key_by_itself_is_a_stray_within_a_fourth_of_the_melody_and_two_beats(
    pitch: int, kind: NoteKind, seconds: float, stray: bool
) -> None:
    """Beside A4 (69) up to beat 1 and C5 (72) from there on, over Dm7; a wrong key within an octave."""
    assert (told(BOTH, *LINE, free(pitch, seconds, kind))[-1][1] == "melody") is stray


@pytest.mark.parametrize(
    ("keys", "bass"),
    [
        ((47, 51, 60), 47), ((48, 51, 60), None), ((48, 52, 60), None), ((48, 53, 60), 48), ((54, 59), 54),
        ((54, 58), None), ((55, 72), None), ((47,), 47),
    ],
)  # fmt: skip
def test_below_c3_all_is_bass_and_below_g3_what_lies_a_fourth_apart(keys: tuple[int, ...], bass: int | None) -> None:
    found = told({"chords", "bass"}, *(free(key, 2.0) for key in keys))
    assert [pitch for _, part, pitch in found if part == "bass"] == ([bass] if bass else [])


@pytest.mark.parametrize(("apart", "bass"), [(0.044, None), (0.046, 50)])
def test_keys_within_45_ms_went_down_together(apart: float, bass: int | None) -> None:
    """D3 a third under F3 is a chord's; by itself, with nothing over it, it is a bass."""
    found = told({"chords", "bass"}, free(50, 2.0), free(53, 2.0 + apart))
    assert (50 in [pitch for _, part, pitch in found if part == "bass"]) is (bass is not None)


@pytest.mark.parametrize(("pitch", "taken"), [(54, True), (55, False)])
def test_a_key_far_below_the_melodys_note_and_below_g3_is_the_bass(pitch: int, taken: bool) -> None:
    far = JudgedNote("right", 0.0, 69, pitch, 2.0, 0.0)
    near = JudgedNote("wrong", 0.0, 66, 54, 2.0, 0.0)
    only = JudgedNote("wrong", 0.0, 65, 54, 2.0, 0.0)
    assert (told(ALL, *LINE[1:] * 2, far)[-1][1] == "bass") is taken
    assert told(ALL, *LINE[1:] * 2, near)[-1][1] == "bass" and told(ALL, *LINE[1:] * 2, only)[-1][1] == "melody"


@pytest.mark.parametrize(("pitch", "part"), [(54, "melody"), (46, "melody"), (45, "bass")])
def test_of_a_melody_an_octave_lower_what_lies_an_octave_under_that_is_the_bass(pitch: int, part: Part) -> None:
    low = tuple(replace(note, pitch=(note.pitch or 0) - 12) for note in LINE)
    assert told(ALL, *low, JudgedNote("wrong", 4.0, 69, pitch, 4.0, 0.0))[-1][1] == part


def test_who_has_the_bass_alone_has_nothing_to_part_it_from() -> None:
    off = JudgedNote("wrong", 0.0, None, 40, 2.0, None, "bass")
    assert told({"bass"}, off) == [("wrong", "bass", 40)]


@pytest.mark.parametrize(("lower", "octave"), [(0, 0), (1, 0), (2, -12), (3, -12), (4, -12)])
def test_a_melody_lies_where_most_of_its_notes_do(lower: int, octave: int) -> None:
    notes = [JudgedNote("right", float(n), 69, 69 - 12 * (n < lower), 2.0 + n, 0.0) for n in range(4)]
    wrong = JudgedNote("wrong", 5.0, 69, 45, 9.0, 0.0)
    beside = [free(57, 2.5 + n) for n in range(9)]
    assert octave_played(Alignment(((*notes, wrong, *beside),), (SWEEP,), ())) == octave
    apart = [replace(note, pitch=69 + 12 * n) for n, note in enumerate(notes)]
    assert octave_played(Alignment((tuple(apart),), (SWEEP,), ())) == 0, "no octave has half of them"
    assert octave_played(NOTHING) == 0


def test_written_chords_and_a_written_bass_stay_as_the_chart_has_them() -> None:
    chord, bass = "[DFA]8 | z8 | z8 | z8", "D,,8 | z8 | z8 | z8"
    held = parse_toml(
        'format = 1\ntitle = "t"\nkey = "C major"\nform = "A"\n[section.A]\nchords = "| Dm7 | G7 | Cmaj7 | C6 |"\n'
        f'[[arrangement]]\nsection = "A"\nchords = "| {chord} |"\nbass = "| {bass} |"\n'
    ).unfold()
    notes = (*LINE, free(70, 2.5, "wrong"), free(36, 2.7))
    alignment = Alignment((notes,), (SWEEP,), ())
    assert by_register(held, alignment, ALL) == alignment
