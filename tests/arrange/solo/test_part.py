"""The companion's own line, as a teacher would hear it.

That an improvised line keeps chord tones on the strong beats, goes one way for a few notes, moves by steps and thirds
for the most part, and breathes every few bars, is common practice; the numbers are the project's targets.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby, pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.arrange.lookup import harmony_at
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.arrange.solo.ideas import Idea
from companion.arrange.solo.line import Onset
from companion.arrange.solo.part import (
    _aim,
    _line_notes,
    _onsets,
    _reason,
    _retold,
    _source,
    _stop,
    _weight,
    improvised_line,
)
from companion.arrange.solo.story import PhrasePlan
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.solo import SoloPreferences
from tests.arrange.dice import Thrown

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


# by hand

TASTE = preferences(SoloPreferences)
F = Fraction


def phrase(start: float = 16, stop: float = 32, role: str = "again", heat: float = 0.0, **more: Any) -> PhrasePlan:
    return PhrasePlan(F(start), F(stop), role, heat, **more)  # type: ignore[arg-type]


IDEAS: list[Idea] = [((F(0), 70), (F(1), 72)), ((F(0), 60), (F(1), 62))]


@pytest.mark.parametrize(
    ("told", "ideas", "fallen", "begins"),
    [
        ({}, IDEAS, 0.74, 60),
        ({}, IDEAS, 0.75, 70),  # one time in four what was before the last
        ({"riff": True}, IDEAS, 0.99, 60),
        ({"role": "varied"}, IDEAS, 0.0, 60),
        ({"role": "new"}, IDEAS, 0.0, None),
        ({}, [(), IDEAS[0]], 0.9, 70),
        ({}, [()], 0.0, None),
    ],
)
def test_a_phrase_takes_up_the_last_idea_or_now_and_then_the_one_before(
    told: dict[str, Any], ideas: list[Idea], fallen: float, begins: int | None
) -> None:
    found = _source(phrase(**told), ideas, Thrown(fallen))
    assert (found[0][1] if found else None) == begins


@pytest.mark.parametrize(
    ("told", "room", "fallen", "before_its_end"),
    [
        ({"heat": 1.0}, 0, 0.0, 1.5),  # the shortest breath
        ({"heat": 1.0}, 0, 1.0, 3.0),  # the longest
        ({"heat": 0.0}, 0, 0.0, 3.0),  # calm: a beat and a half more
        ({"heat": 0.4}, 0, 0.0, 2.5),  # 2.4, to the quaver
        ({"heat": 1.0}, 1.5, 0.0, 3.0),  # and room for a pickup to the next
        ({"heat": 0.0, "stop": 20}, 0, 1.0, 2.0),  # half of the phrase at the most
        ({"riff": True}, 3, 1.0, 0.5),  # a riff that comes again comes whole
        ({"riff": True, "role": "new", "heat": 1.0}, 0, 0.0, 1.5),
    ],
)
def test_a_phrase_ends_a_breath_before_the_next(
    told: dict[str, Any], room: float, fallen: float, before_its_end: float
) -> None:
    plan = phrase(**told)
    assert plan.stop - _stop(TASTE, plan, F(room), Thrown(fallen)) == before_its_end


def onsets(form: Form, *beats: float) -> list[Onset]:
    return _onsets(form, [(F(beat), None, "") for beat in beats])


def test_where_an_onset_lies_in_its_chord_and_its_beat(minor_swing: Form) -> None:
    found = onsets(minor_swing, 0, 0.5, 3, 4, 12, 12.5, 14, 127, 128, -0.5)
    assert [one.harmony.chord.symbol for one in found[:7]] == ["Gm6", "Gm6", "Gm6", "C7", "Am7b5", "Am7b5", "D7alt"]
    assert [one.strong for one in found] == [True, False, True, True, True, False, True, True, True, False]
    assert [one.first for one in found] == [True, False, False, True, True, False, True, True, True, True]
    assert [one.harmony.chord.symbol for one in found[7:]] == ["D7alt", "Gm6", "D7alt"], "the form goes round"


@pytest.mark.parametrize(
    ("heat", "begins", "top", "aim"),
    [
        (0.0, None, 85, (60, 72, 74, None)),
        (1.0, None, 85, (65, 79, 81, None)),
        (1.0, None, 82, (65, 79, 80, None)),  # two below the top, which no other reaches
        (0.5, None, 85, (62, 76, 78, None)),
        (0.0, 50, 85, (60, 72, 74, 60)),
        (0.0, 80, 85, (60, 72, 74, 72)),
        (0.0, 66, 85, (60, 72, 74, 66)),
    ],
)
def test_a_phrase_lies_the_higher_the_hotter_it_is(
    heat: float, begins: int | None, top: int, aim: tuple[int | None, ...]
) -> None:
    found = _aim(TASTE, phrase(heat=heat), (), begins, top)
    assert (found.low, found.high, found.ceiling, found.begins) == aim
    assert (found.stays, found.tops, found.top) == (False, frozenset(), 127)
    assert _aim(TASTE, phrase(heat=heat, riff=True), (), begins, top).stays


@pytest.mark.parametrize(
    ("peak", "tops"),
    [((18, 20), {4, 5, 6, 7}), ((16, 18), {3}), ((16, 17.5), {1, 2}), ((16, 16.5), set()), ((30, 32), set())],
)
def test_the_highest_note_of_all_comes_after_three_others_where_there_are_so_many(
    minor_swing: Form, peak: tuple[float, float], tops: set[int]
) -> None:
    row = onsets(minor_swing, *(16 + n / 2 for n in range(8)))
    found = _aim(TASTE, phrase(heat=1.0, peak=(F(peak[0]), F(peak[1]))), row, None, 84)
    assert (found.low, found.high, found.ceiling, found.top) == (65, 84, 85, 83)
    assert found.tops == tops


@pytest.mark.parametrize(
    ("midi", "n", "fallen", "weight"),
    [
        ((60, 64, 62), 1, 0.0, "peak"),
        ((64, 60, 62), 1, 0.14, "ghost"),  # off the beat between two higher ones
        ((64, 60, 62), 1, 0.15, "off_beat"),
        ((64, 60, 62), 2, 0.0, "on_beat"),
        ((64, 60, 62), 0, 0.0, "on_beat"),  # the first is no peak, nor the last
        ((60, 62, 64), 1, 0.0, "off_beat"),
        ((60, 62, 62), 1, 0.0, "off_beat"),
        ((62, 62, 60), 1, 0.0, "off_beat"),
        ((62, 60, 60), 1, 0.0, "off_beat"),
    ],
)
def test_peaks_stand_out_and_a_note_between_two_higher_ones_may_be_swallowed(
    minor_swing: Form, midi: tuple[int, ...], n: int, fallen: float, weight: str
) -> None:
    row = onsets(minor_swing, 0, 0.5, 1)
    assert _weight(TASTE.touch, row[n], midi, n, Thrown(fallen)) == getattr(TASTE.touch, weight)


def test_a_note_says_where_it_is_from_or_what_it_is(minor_swing: Form) -> None:
    on, off = onsets(minor_swing, 0, 0.5)
    assert _reason(on, "5", "scale") == "5 of Gm6, on the beat; in a run"
    assert _reason(off, "b3", "leap") == "b3 of Gm6, between; after a leap, back by steps"
    assert _reason(off, "x", "scale") == "leads by a semitone into the beat"
    assert _reason(replace(on, taken="taken up from the player"), "x", "scale") == "taken up from the player"


def test_a_note_sounds_to_the_next_for_a_dotted_quarter_at_most_and_the_last_to_its_stop(minor_swing: Form) -> None:
    def lengths(*beats: float, stop: float, fallen: float = 0.99) -> list[Fraction]:
        row = onsets(minor_swing, *beats)
        midi = [67 + n for n in range(len(row))]
        notes = _line_notes(TASTE.touch, minor_swing, row, midi, ["scale"] * len(row), F(stop), Thrown(fallen))
        assert [(n.beat, n.midi, n.part, n.hand) for n in notes] == [
            (one.beat, pitch, "solo", "right") for one, pitch in zip(row, midi, strict=True)
        ]
        return [note.length for note in notes]

    assert lengths(0, 0.5, 3, 4, stop=5) == [F(1, 2), F(3, 2), 1, 1]
    assert lengths(0, 3.5, stop=8) == [F(3, 2), F(3, 2)]
    assert lengths(0, 3.5, stop=8, fallen=0.44) == [F(3, 2), F(1, 2)], "a short one off the beat"
    assert lengths(0, 3.5, stop=8, fallen=0.45) == [F(3, 2), F(3, 2)]
    assert lengths(0, 3, stop=8, fallen=0.0) == [F(3, 2), F(3, 2)], "on the beat it stays"
    assert lengths(0, 3, stop=2) == [F(3, 2), F(1, 2)], "for a quaver at least"


def test_an_idea_comes_again_from_its_place_in_the_bar_a_little_higher_where_it_is_hot(minor_swing: Form) -> None:
    idea: Idea = ((F(1, 2), 60), (F(1), 62), (F(2), 59))

    def again(free: float = 0, fallen: float = 0.0, latest: float = 30, **told: Any) -> tuple[list[Any], int | None]:
        rests = replace(TASTE, phrase=replace(TASTE.phrase, rests=1.0), idea=replace(TASTE.idea, lift=(2, 2)))
        plan = phrase(**told)
        draft = _retold(rests, minor_swing, plan, (F(17), F(latest)), F(free), idea, Thrown(fallen))
        return [(float(beat), step) for beat, step, _ in draft.onsets], draft.begins

    whole = [(16.5, None), (17.0, 2), (18.0, -3)]
    assert again() == (whole, 62)
    assert again(heat=0.0, fallen=0.4)[1] == 62, "it rises, and is rather higher then"
    assert again(heat=0.0, fallen=0.6)[1] == 58, "it falls"
    assert again(heat=0.6, fallen=0.6)[1] == 62, "where it is hot it rises"
    assert again(heat=0.5, fallen=0.5)[1] == 58
    assert again(free=16.5)[0] == whole
    assert again(free=16.75)[0] == [(17.5, None), (18.0, 2), (19.0, -3)], "a beat later, where the one before is on"
    assert again(free=18)[0] == [(18.5, None), (19.0, 2), (20.0, -3)]
    assert again(latest=18)[0] == whole[:2]
    assert again(riff=True) == (whole, 60), "a riff comes where it was"
