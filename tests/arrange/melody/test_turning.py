"""Endings turned the other way when a section comes again (common practice)."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

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
