"""The top of a chord isn't a wrong note of the melody."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.messages import NoteKind, Part
from companion.practice.alignment import Alignment
from companion.practice.chord_tops import without_chord_tops
from companion.practice.judging import JudgedNote
from companion.practice.sweeps import Sweep
from tests.practice.test_voicings_played import two_five_one

FORM = two_five_one("C").unfold()
SWEEP = Sweep(0.0, 32.0, ((0.0, 2.0), (32.0, 18.0)))
BOTH = {"melody", "chords"}


def taken_for(top: int, *under: int, kind: NoteKind = "wrong", expected: int = 69) -> Alignment:
    """A chord whose top was taken for the melody's note, at the first beat, over Dm7."""
    part: Part = "chords"
    chord = [JudgedNote("right", 0.0, None, key, 2.0, None, part) for key in under]
    return Alignment(((*chord, JudgedNote(kind, 0.0, expected, top, 2.004, 4.0)),), (SWEEP,), ())


def told(alignment: Alignment, parts: set[str] = BOTH) -> list[tuple[str, str, int | None]]:
    return [(n.kind, n.part, n.pitch) for n in without_chord_tops(FORM, alignment, parts).notes][-2:]


def test_the_melodys_note_is_missing_and_the_chord_has_its_top() -> None:
    assert told(taken_for(60, 53, 57)) == [("missing", "melody", None), ("right", "chords", 60)]


def test_a_slip_near_its_note_or_outside_the_chord_stays_wrong() -> None:
    assert told(taken_for(68, 53, 57))[-1] == ("wrong", "melody", 68)
    assert told(taken_for(61, 53, 57))[-1] == ("wrong", "melody", 61)


def test_the_melodys_note_in_another_octave_is_the_chords() -> None:
    take = taken_for(57, 53, kind="right")
    assert told(take)[-1] == ("right", "melody", 57), "who plays all of it an octave lower"
    others = tuple(JudgedNote("right", 4.0 + n, 69, 69, 4.0 + n, 0.0) for n in range(2))
    assert told(replace(take, judged=((*others, *take.judged[0]),))) == [
        ("missing", "melody", None),
        ("right", "chords", 57),
    ]


def test_a_note_of_the_melody_under_the_top_of_a_chord_is_right() -> None:
    assert sorted(told(taken_for(64, 53, 60, expected=60))) == [("right", "chords", 64), ("right", "melody", 60)]


def test_a_chord_that_is_struck_elsewhere_in_the_take_keeps_its_top_however_near_the_melody_lies() -> None:
    near = taken_for(57, 53, expected=59)
    assert told(near)[-1] == ("wrong", "melody", 57)
    again = tuple(JudgedNote("right", 4.0, None, key, 4.0, None, "chords") for key in (53, 57))
    assert told(replace(near, judged=((*again, *near.judged[0]),))) == [
        ("missing", "melody", None),
        ("right", "chords", 57),
    ]


def test_how_firmly_a_key_is_struck_tells_a_slip_from_a_chord() -> None:
    rows = [(pitch, part) for n in range(10) for pitch, part in ((53, "chords"), (72, "melody"))]
    others = tuple(
        JudgedNote("right", 1.0 + n, None if part == "chords" else pitch, pitch, 4.0 + n, 0.0, part)  # type: ignore[arg-type]
        for n, (pitch, part) in enumerate(rows)
    )
    take = taken_for(57, 53, expected=59)
    take = replace(take, judged=((*others, *take.judged[0]),))
    for level, part in ((60, "chords"), (82, "melody")):
        levels = {53: 58, 72: 82, 57: level}
        given = without_chord_tops(FORM, take, BOTH, lambda note, levels=levels: levels[note.pitch or 0])  # type: ignore[misc]
        assert given.notes[-1].part == part


def test_a_key_without_a_chord_under_it_stays_as_it_is() -> None:
    assert told(taken_for(60, 53))[-1] == ("wrong", "melody", 60)
    assert told(taken_for(69, 53, 57, kind="right"))[-1] == ("right", "melody", 69)


def test_of_a_player_of_the_melody_alone_nothing_changes() -> None:
    assert told(taken_for(60, 53, 57), {"melody"})[-1] == ("wrong", "melody", 60)


# Where the limits lie


@pytest.mark.parametrize(
    ("top", "under", "expected", "kind", "given"),
    [
        # Over Dm7. Farther than a tone from the melody's note, over two keys, and of the chord or its scale:
        (67, (53, 57), 69, "wrong", False), (65, (53, 57), 69, "wrong", True), (66, (53, 57), 69, "wrong", False),
        (72, (53, 57), 69, "wrong", True), (71, (53, 57), 69, "wrong", False),
        # Over one key only what lies too far down for a slip:
        (60, (53,), 69, "wrong", False), (59, (53,), 69, "wrong", True), (60, (53,), 70, "wrong", True),
        (77, (53,), 64, "wrong", False), (76, (53,), 64, "right", False),
        # An octave lower than the melody is: a chord's; an octave higher isn't.
        (57, (53,), 69, "right", True), (56, (53,), 68, "right", True),
        (81, (53,), 69, "right", False), (69, (53, 57), 69, "right", False),
        (65, (53, 57), 69, "extra", False), (65, (53, 57), 69, "missing", False),
    ],
)  # fmt: skip
def test_what_may_be_a_slip_is_one_and_what_lies_farther_is_the_chords(
    top: int, under: tuple[int, ...], expected: int, kind: NoteKind, given: bool
) -> None:
    take = taken_for(top, *under, kind=kind, expected=expected)
    others = tuple(JudgedNote("right", 4.0 + n, 69, 69, 4.0 + n, 0.0) for n in range(3))
    found = without_chord_tops(FORM, replace(take, judged=((*others, *take.judged[0]),)), BOTH).notes
    assert [note.part for note in found if note.pitch == top and note.chart_beat == 0.0] == [
        "chords" if given else "melody"
    ]


@pytest.mark.parametrize(("apart", "given"), [(0.044, True), (0.046, False)])
def test_what_lies_under_a_top_went_down_within_45_ms_of_it(apart: float, given: bool) -> None:
    (chord,) = taken_for(60, 53, 57).judged
    later = tuple(replace(note, seconds=2.0 + apart) if note.part == "melody" else note for note in chord)
    assert told(Alignment((later,), (SWEEP,), ()))[-1][1] == ("chords" if given else "melody")
    inner = taken_for(64, 53, 60, expected=60).judged[0]
    own = tuple(replace(note, seconds=2.0 + apart) if note.part == "melody" else note for note in inner)
    assert (("right", "melody", 60) in told(Alignment((own,), (SWEEP,), ()))) is given


def by_loudness(
    level: int, chords: int = 58, melody: int = 82, *, many: int = 10, spread: int = 0, expected: int = 59
) -> str:
    """The part that a key a tone under the melody's is given to, struck with a key of a chord under it."""
    others = []
    for n in range(many):
        others.append(JudgedNote("right", 1.0 + n, 72, 72, 4.0 + n, 0.0))
        others.append(JudgedNote("right", 1.0 + n, None, 53, 4.0 + n, None, "chords"))
    take = taken_for(57, 53, expected=expected)
    take = replace(take, judged=((*others, *take.judged[0]),))

    def loudness(note: JudgedNote) -> int | None:
        if note.pitch == 57:
            return level
        wide = spread if round(note.seconds or 0) % 2 else -spread
        return (melody if note.pitch == 72 else chords) + wide

    return without_chord_tops(FORM, take, BOTH, loudness).notes[-1].part


@pytest.mark.parametrize(
    ("part", "expected"),
    [
        (by_loudness(69), "chords"), (by_loudness(70), "melody"),  # half way between 58 and 82
        (by_loudness(69, many=8), "chords"), (by_loudness(40, many=7), "melody"),  # too few notes tell nothing
        (by_loudness(40, spread=24), "chords"), (by_loudness(40, spread=25), "melody"),  # two standard deviations apart
        (by_loudness(69, expected=69), "chords"), (by_loudness(70, expected=69), "melody"),  # the octave below
        (by_loudness(40, 80, 82), "chords"), (by_loudness(40, 81, 82), "melody"),
    ],
)  # fmt: skip
def test_loudness_tells_where_chords_and_melody_are_struck_apart(part: str, expected: str) -> None:
    assert part == expected


@pytest.mark.parametrize(("last", "part"), [(0.08, "chords"), (0.1, "melody")])
def test_a_chord_that_is_rolled_elsewhere_is_the_same_chord_each_key_within_45_ms_of_the_one_before(
    last: float, part: str
) -> None:
    near = taken_for(57, 53, 55, expected=59)
    keys = ((53, 0.0), (55, 0.04), (57, last))
    rolled = tuple(JudgedNote("right", -4.0, None, key, at, None, "chords") for key, at in keys)
    assert told(replace(near, judged=((*rolled, *near.judged[0]),)))[-1][1] == part


def test_the_melody_an_octave_higher_over_its_own_note_stays_where_it_is() -> None:
    assert told(taken_for(81, 69, kind="right"))[-1] == ("right", "melody", 81)


def test_a_note_of_the_melody_that_was_not_struck_takes_no_key_of_a_chord() -> None:
    gone = JudgedNote("missing", 0.0, 60, None, None)
    chord = [JudgedNote("right", 0.0, None, key, 2.0, None, "chords") for key in (53, 60)]
    assert without_chord_tops(FORM, Alignment(((*chord, gone),), (SWEEP,), ()), BOTH).notes == (*chord, gone)


def test_at_the_very_first_moment_of_a_take_the_melodys_note_is_found_under_a_top() -> None:
    chord = [JudgedNote("right", 0.0, None, key, 0.0, None, "chords") for key in (53, 60)]
    top = JudgedNote("wrong", 0.0, 60, 64, 0.004, 4.0)
    found = without_chord_tops(FORM, Alignment(((*chord, top),), (SWEEP,), ()), BOTH).notes
    assert sorted((note.part, note.pitch) for note in found) == [("chords", 53), ("chords", 64), ("melody", 60)]


@pytest.mark.parametrize(("late", "part"), [(0.004, "chords"), (0.045, "chords"), (0.05, "melody")])
def test_at_the_very_first_moment_of_a_take_a_top_is_its_chords(late: float, part: str) -> None:
    chord = [JudgedNote("right", 0.0, None, key, 0.0, None, "chords") for key in (53, 57)]
    top = JudgedNote("wrong", 0.0, 69, 60, late, 4.0)
    assert told(Alignment(((*chord, top),), (SWEEP,), ()))[-1][1] == part


def test_a_key_too_many_stands_for_no_note_that_could_be_missing() -> None:
    chord = [JudgedNote("right", 0.0, None, key, 2.0, None, "chords") for key in (53, 57)]
    extra = JudgedNote("extra", 0.0, None, 65, 2.0)
    assert without_chord_tops(FORM, Alignment(((*chord, extra),), (SWEEP,), ()), BOTH).notes == (*chord, extra)
