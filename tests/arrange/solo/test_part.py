"""The companion's own line, as a teacher would hear it.

That an improvised line keeps chord tones on the strong beats, goes one way for a few notes, moves by steps and thirds
for the most part, and breathes every few bars, is common practice; the numbers are the project's targets.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import groupby, pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from companion.arrange.lookup import harmony_at
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.arrange.solo.part import improvised_line
from companion.chart.model import Form

Composer = Callable[..., Form]


@settings(max_examples=15)
@given(st.integers(1, 20), st.integers(0, 20))
def test_strong_beats_have_chord_tones_and_what_is_foreign_leads(minor_swing: Form, chorus: int, seed: int) -> None:
    line = improvised_line(minor_swing, chorus=chorus, seed=seed)
    strong = [n for n in line if n.beat.denominator == 1]
    chordal = sum(n.midi % 12 in harmony_at(minor_swing, n.beat).tones for n in strong)
    assert chordal >= 0.75 * len(strong)
    for note, after in pairwise(line):
        if note.degree == "x":
            assert abs(after.midi - note.midi) == 1
            assert after.beat.denominator == 1


@settings(max_examples=15)
@given(st.integers(1, 20))
def test_a_line_breathes(minor_swing: Form, chorus: int) -> None:
    line = improvised_line(minor_swing, chorus=chorus)
    ends = [(n.beat + n.length, after.beat) for n, after in pairwise(line)]
    longest = max(
        b - a for a, b in pairwise([0, *(start for end, start in ends if start - end >= Fraction(1, 2)), 128])
    )
    assert longest <= 20, "a breath at least every five bars"


@settings(max_examples=15)
@given(st.integers(0, 3), st.integers(1, 9), st.integers(0, 5))
def test_it_never_speaks_over_the_player(minor_swing: Form, four: int, chorus: int, seed: int) -> None:
    start, end = Fraction(32 * four), Fraction(32 * four + 16)
    line = improvised_line(minor_swing, start=start, end=end, chorus=chorus, seed=seed)
    assert line[0].beat >= start
    assert line[-1].beat + line[-1].length < end


def test_it_takes_up_what_the_player_just_played(minor_swing: Form) -> None:
    heard = [(12.02, 67), (12.65, 70), (13.0, 72), (14.0, 74), (15.5, 72)]
    line = improvised_line(minor_swing, start=Fraction(16), end=Fraction(32), heard=heard)
    first = [n for n in line if n.beat < 20]
    assert [n.beat - 16 for n in first][:5] == [0, Fraction(2, 3), 1, 2, Fraction(7, 2)]
    assert sum("taken up" in n.reason for n in first) == 4


def test_phrases_end_on_a_chord_tone_and_no_two_choruses_are_the_same(minor_swing: Form) -> None:
    lines = [improvised_line(minor_swing, chorus=c) for c in range(1, 5)]
    for line in lines:
        assert line[-1].midi % 12 in harmony_at(minor_swing, line[-1].beat).tones
    assert len({tuple((n.beat, n.midi) for n in line) for line in lines}) == 4


def test_a_solo_is_a_part_like_any_other(minor_swing: Form) -> None:
    notes = arrange(minor_swing, "solo", Request(chorus=2, seed=3))
    assert notes == arrange(minor_swing, "solo", Request(chorus=2, seed=3))
    assert {n.part for n in notes} == {"solo"}
    assert all(58 <= n.midi <= 85 and n.reason for n in notes)


def test_fast_tunes_have_no_triplets_and_ballads_may_have_semiquavers(compose: Composer) -> None:
    changes = " | ".join(["Dm7", "G7", "Cmaj7", "A7"] * 8)
    fast = improvised_line(compose(changes, tempo=260.0))
    slow = improvised_line(compose(changes, tempo=54.0))
    assert {n.beat.denominator for n in fast} <= {1, 2}
    assert 4 in {n.beat.denominator for n in slow}


def test_any_metre_and_no_chords_at_all_make_a_line(compose: Composer) -> None:
    for metre in ("3/4", "6/8", "5/4", "2/2"):
        assert improvised_line(compose("N.C. | N.C. | C | F7", metre=metre))


def lines(form: Form, count: int = 8) -> list[tuple[Note, ...]]:
    return [improvised_line(form, chorus=c) for c in range(1, count + 1)]


def phrases(line: Sequence[Note]) -> list[list[Note]]:
    """A line cut at its breaths, three quarters of a beat or more."""
    found = [[line[0]]]
    for note, after in pairwise(line):
        if after.beat - note.beat - note.length >= Fraction(3, 4):
            found.append([])
        found[-1].append(after)
    return found


def test_a_line_goes_one_way_for_a_few_notes(minor_swing: Form) -> None:
    runs = []
    for phrase in (p for line in lines(minor_swing) for p in phrases(line)):
        ways = [1 if b.midi > a.midi else -1 for a, b in pairwise(phrase)]
        runs += [len(list(group)) + 1 for _, group in groupby(ways)]
    assert 3 <= sum(runs) / len(runs) <= 6 and max(runs) <= 14
    assert sum(run == 2 for run in runs) < 0.4 * len(runs), "it doesn't zigzag"


def test_steps_and_thirds_are_the_rule_and_leaps_turn_back(minor_swing: Form) -> None:
    steps = [b.midi - a.midi for line in lines(minor_swing) for p in phrases(line) for a, b in pairwise(p)]
    assert sum(abs(s) <= 4 for s in steps) > 0.85 * len(steps) and sum(abs(s) > 4 for s in steps) > 0.01 * len(steps)
    assert sum(s == 0 for s in steps) < 0.03 * len(steps) and max(abs(s) for s in steps) <= 14
    leaps = [(a, b) for a, b in pairwise(steps) if abs(a) > 5]
    assert sum(a * b < 0 for a, b in leaps) > 0.7 * len(leaps)


def test_phrases_last_two_to_four_bars_and_are_not_all_alike(minor_swing: Form) -> None:
    lengths = sorted(
        float(p[-1].beat + p[-1].length - p[0].beat) / 4 for line in lines(minor_swing) for p in phrases(line)
    )
    assert lengths[-1] <= 5 and 1.3 <= lengths[len(lengths) // 2] <= 3.7
    begins = Counter(tuple(n.beat - p[0].beat for n in p[:6]) for line in lines(minor_swing) for p in phrases(line))
    assert len(begins) > 0.4 * len(lengths) and max(begins.values()) < 0.25 * len(lengths)


def test_a_motif_comes_over_the_new_chords_with_its_contour(minor_swing: Form) -> None:
    heard = [(12.0, 67), (12.65, 70), (13.0, 72), (13.65, 70), (14.0, 67)]
    kept = 0
    for chorus in range(1, 11):
        first = improvised_line(minor_swing, start=Fraction(16), end=Fraction(32), heard=heard, chorus=chorus)[:5]
        ways = [(b.midi > a.midi) - (b.midi < a.midi) for a, b in pairwise(first)]
        kept += ways == [1, 1, -1, -1]
        assert all(n.midi % 12 in {**harmony_at(minor_swing, n.beat).scale} or n.degree == "x" for n in first)
    assert kept >= 8


def test_a_chord_of_the_players_is_taken_up_by_its_top_note(minor_swing: Form) -> None:
    heard = [(13.0, 55), (13.01, 60), (13.02, 72), (14.0, 57), (14.0, 74), (15.0, 75)]
    line = improvised_line(minor_swing, start=Fraction(16), end=Fraction(32), heard=heard)
    assert [n.beat - 16 for n in line][:3] == [1, 2, 3]


def test_a_line_goes_on_from_the_note_before(minor_swing: Form) -> None:
    near = [abs(improvised_line(minor_swing, last=64, chorus=c)[0].midi - 64) for c in range(1, 9)]
    far = [abs(improvised_line(minor_swing, last=82, chorus=c)[0].midi - 64) for c in range(1, 9)]
    assert sum(near) < 0.7 * sum(far)
