"""The companion's own line."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from companion.arrange.figures import harmony_at
from companion.arrange.plan import arrange
from companion.arrange.solo import solo
from companion.chart.model import Form

Composer = Callable[..., Form]


@given(st.integers(1, 20), st.integers(0, 20))
def test_strong_beats_have_chord_tones_and_what_is_foreign_leads(minor_swing: Form, chorus: int, seed: int) -> None:
    line = solo(minor_swing, chorus=chorus, seed=seed)
    strong = [n for n in line if n.beat.denominator == 1]
    chordal = sum(n.midi % 12 in harmony_at(minor_swing, n.beat).tones for n in strong)
    assert chordal >= 0.65 * len(strong)
    for note, after in pairwise(line):
        if note.degree == "x":
            assert abs(after.midi - note.midi) == 1
            assert after.beat.denominator == 1


@given(st.integers(1, 20))
def test_a_line_breathes(minor_swing: Form, chorus: int) -> None:
    line = solo(minor_swing, chorus=chorus)
    ends = [(n.beat + n.length, after.beat) for n, after in pairwise(line)]
    longest = max(
        b - a for a, b in pairwise([0, *(start for end, start in ends if start - end >= Fraction(1, 2)), 128])
    )
    assert longest <= 20, "a breath at least every five bars"


@given(st.integers(0, 3), st.integers(1, 9), st.integers(0, 5))
def test_it_never_speaks_over_the_player(minor_swing: Form, four: int, chorus: int, seed: int) -> None:
    start, end = Fraction(32 * four), Fraction(32 * four + 16)
    line = solo(minor_swing, start=start, end=end, chorus=chorus, seed=seed)
    assert line[0].beat >= start
    assert line[-1].beat + line[-1].length < end


def test_it_takes_up_what_the_player_just_played(minor_swing: Form) -> None:
    heard = [(12.02, 67), (12.65, 70), (13.0, 72), (14.0, 74), (15.5, 72)]
    line = solo(minor_swing, start=Fraction(16), end=Fraction(32), heard=heard)
    first = [n for n in line if n.beat < 20]
    assert [n.beat - 16 for n in first][:5] == [0, Fraction(2, 3), 1, 2, Fraction(7, 2)]
    assert sum("taken up" in n.reason for n in first) == 4


def test_phrases_end_on_a_chord_tone_and_no_two_choruses_are_the_same(minor_swing: Form) -> None:
    lines = [solo(minor_swing, chorus=c) for c in range(1, 5)]
    for line in lines:
        assert line[-1].midi % 12 in harmony_at(minor_swing, line[-1].beat).tones
    assert len({tuple((n.beat, n.midi) for n in line) for line in lines}) == 4


def test_a_solo_is_a_part_like_any_other(minor_swing: Form) -> None:
    notes = arrange(minor_swing, "solo", chorus=2, seed=3)
    assert notes == arrange(minor_swing, "solo", chorus=2, seed=3)
    assert {n.part for n in notes} == {"solo"}
    assert all(60 <= n.midi <= 84 and n.reason for n in notes)


def test_fast_tunes_have_no_triplets_and_ballads_may_have_semiquavers(compose: Composer) -> None:
    changes = " | ".join(["Dm7", "G7", "Cmaj7", "A7"] * 8)
    fast = solo(compose(changes, tempo=260.0))
    slow = solo(compose(changes, tempo=54.0))
    assert {n.beat.denominator for n in fast} <= {1, 2}
    assert 4 in {n.beat.denominator for n in slow}


def test_any_metre_and_no_chords_at_all_make_a_line(compose: Composer) -> None:
    for metre in ("3/4", "6/8", "5/4", "2/2"):
        assert solo(compose("N.C. | N.C. | C | F7", metre=metre))
