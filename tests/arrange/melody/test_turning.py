"""Endings turned the other way when a section comes again (common practice)."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from companion.arrange.harmony import harmonies
from companion.arrange.melody.turning import last_phrase, turned
from companion.chart.model import Form

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


def test_a_last_note_alone_is_no_ending_to_turn(compose: Composer) -> None:
    form = compose(CHANGES, melody=[(0, 4, 72), (12, 4, 67)])
    assert last_phrase(form, form.bars[0], form.length) == []
