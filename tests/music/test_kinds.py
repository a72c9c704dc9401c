"""Kinds and their changes, as MusicXML 4.0 counts them (elements ``degree-type``, ``degree-alter``)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.music.kinds import FUNCTIONAL, KINDS, Change, Degree, _cost, degree, degrees, described, tones_of

DEGREES = st.builds(Degree, st.integers(1, 13), st.integers(-2, 2))
CHANGES = st.lists(
    st.builds(Change, st.sampled_from(["add", "alter", "subtract"]), st.integers(1, 15), st.integers(-2, 2)), max_size=4
)


def said(tones: tuple[Degree, ...]) -> str:
    return " ".join(map(str, tones))


@pytest.mark.parametrize(
    ("text", "semitones"),
    [("1", 0), ("b3", 3), ("#4", 6), ("bb7", 9), ("7", 11), ("b9", 13), ("#9", 15), ("#11", 18), ("13", 21), ("x1", 2)],
)
def test_a_degree_counts_from_the_root_in_its_major_scale(text: str, semitones: int) -> None:
    assert degree(text).semitones == semitones
    assert degree(text).pc == semitones % 12


@given(DEGREES)
def test_a_degree_reads_back_from_its_text(tone: Degree) -> None:
    assert degree(str(tone)) == tone


@pytest.mark.parametrize("text", ["", "0", "14", "b", "9b", "b#9", "bbb7"])
def test_what_is_no_degree_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a degree"):
        degree(text)


def test_there_are_no_degrees_beyond_the_thirteenth() -> None:
    with pytest.raises(ValueError, match="there is no degree 14"):
        Degree(14)


def test_a_degree_is_added_altered_or_subtracted_and_nothing_else() -> None:
    with pytest.raises(ValueError, match="not 'omit'"):
        Change("omit", 5)


@pytest.mark.parametrize(
    ("kind", "changes", "tones"),
    [  # MusicXML 4.0: an added degree counts from a dominant chord, an altered one from the degree in the chord
        ("dominant", [("add", 9, -1)], "1 3 5 b7 b9"),
        ("major", [("add", 7, 0)], "1 3 5 b7"),
        ("major", [("add", 7, 1)], "1 3 5 7"),
        ("diminished", [("add", 7, -1)], "1 b3 b5 bb7"),
        ("suspended-fourth", [("add", 7, 0)], "1 4 5 b7"),
        ("major-seventh", [("alter", 7, -1)], "1 3 5 b7"),
        ("half-diminished", [("alter", 5, 1)], "1 b3 5 b7"),
        ("augmented", [("alter", 5, -2)], "1 3 b5"),
        ("dominant-13th", [("alter", 11, 1), ("alter", 9, -1)], "1 3 5 b7 b9 #11 13"),
        ("dominant", [("subtract", 5, 0)], "1 3 b7"),
        ("dominant", [("subtract", 3, 0), ("add", 4, 0)], "1 4 5 b7"),
        ("other", [("add", 2, 0), ("add", 5, 0)], "1 2 5"),
        # As files in the wild write it: an alteration of what the kind lacks, degrees beyond the thirteenth.
        ("dominant", [("alter", 9, -1)], "1 3 5 b7 b9"),
        ("major", [("add", 16, 0)], "1 3 5 9"),
        ("dominant", [("add", 9, -1), ("add", 9, 1)], "1 3 5 b7 b9 #9"),
    ],
)
def test_changes_count_as_the_standard_counts_them(kind: str, changes: list[tuple[str, int, int]], tones: str) -> None:
    assert said(tones_of(kind, [Change(*change) for change in changes])) == tones


@pytest.mark.parametrize(
    ("tones", "kind", "changes"),
    [
        ("1 3 5 b7 b9", "dominant", [("add", 9, -1)]),
        ("1 3 5 b7 9 #11", "dominant-ninth", [("add", 11, 1)]),
        ("1 3 5 b7 b9 11 13", "dominant-13th", [("alter", 9, -1)]),
        ("1 3 b5 b7", "dominant", [("alter", 5, -1)]),
        ("1 3 #5 b7 9", "dominant-ninth", [("alter", 5, 1)]),
        ("1 3 #5 7", "major-seventh", [("alter", 5, 1)]),
        ("1 3 5 9", "major", [("add", 9, 0)]),
        ("1 3 5 6 9", "major-sixth", [("add", 9, 0)]),
        ("1 4 5 b7 9", "suspended-fourth", [("add", 7, 0), ("add", 9, 0)]),
        ("1 b3 b5 7", "diminished", [("add", 7, 1)]),
        ("1 b3 bb5 bb7", "diminished-seventh", [("alter", 5, -1)]),
        ("1 3 b7", "dominant", [("subtract", 5, 0)]),
        ("1 5", "power", []),
        ("1", "pedal", []),
    ],
)
def test_the_kind_with_the_fewest_changes_is_chosen(tones: str, kind: str, changes: list[tuple[str, int, int]]) -> None:
    assert described(frozenset(degrees(tones))) == (kind, tuple(Change(*change) for change in changes))


def test_a_changed_fifth_or_tension_is_cheap_and_a_changed_root_the_last_resort() -> None:
    """Common practice: 7b5 and 7b9 are symbols, and a changed third, sixth or seventh names another kind."""
    for how in ("alter", "subtract"):
        assert [_cost(Change(how, number)) for number in range(1, 14)] == [5, 4, 4, 4, 1, 3, 3, 1, 1, 1, 1, 1, 1]
    assert {_cost(Change("add", number)) for number in range(1, 14)} == {1}


@given(st.frozensets(DEGREES, max_size=8))
def test_every_set_of_degrees_can_be_described_and_nothing_is_lost(tones: frozenset[Degree]) -> None:
    assert frozenset(tones_of(*described(tones))) == tones


@given(st.sampled_from(sorted(set(KINDS) - FUNCTIONAL)), CHANGES)
def test_the_same_notes_are_always_described_alike(kind: str, changes: list[Change]) -> None:
    tones = frozenset(tones_of(kind, changes))
    again = described(tones)
    assert described(frozenset(tones_of(*again))) == again


def test_a_kind_describes_itself() -> None:
    own = set(KINDS) - FUNCTIONAL - {"other"}
    assert {kind: described(frozenset(KINDS[kind])) for kind in own} == {kind: (kind, ()) for kind in own}
