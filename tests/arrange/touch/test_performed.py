"""Parts as they are performed: swung, struck by hand, every key let go before it is struck again."""

from __future__ import annotations

from itertools import pairwise

import pytest

from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.arrange.touch.performed import Performed, performed
from companion.chart.model import Chart, Form

PARTS = ("melody", "chords", "bass", "solo")


def notes(form: Form, seed: int = 0) -> list[Note]:
    return [note for part in PARTS for note in arrange(form, part, Request(seed=seed))]


def test_no_key_is_down_twice_and_every_note_sounds(shipped: Chart) -> None:
    form = shipped.unfold()
    keys: dict[tuple[str, int], list[Performed]] = {}
    for one in sorted(performed(form, notes(form)), key=lambda one: one.start):
        keys.setdefault((one.note.part, one.note.midi), []).append(one)
        assert one.end > one.start
    for row in keys.values():
        assert all(a.end <= b.start + 1e-6 for a, b in pairwise(row) if b.start > a.start + 1e-6)


def test_every_note_is_there_once_within_its_hand_of_its_place(shipped: Chart) -> None:
    form = shipped.unfold()
    written = notes(form)
    found = performed(form, written)
    assert sorted(map(id, written)) == sorted(id(one.note) for one in found if one.note in written)
    assert all(abs(one.start - one.place) * 60 / form.tempo <= 0.0251 for one in found)


def test_the_same_seed_sounds_the_same_and_another_seed_otherwise(ferry: Chart) -> None:
    form = ferry.unfold()
    written = notes(form)
    once, again, other = (performed(form, written, seed) for seed in (1, 1, 2))
    assert once == again != other


@pytest.mark.parametrize("part", ["bass", "chords", "melody", "solo"])
def test_velocities_differ_and_stay_within_midis(ferry: Chart, part: str) -> None:
    form = ferry.unfold()
    struck = [one.velocity for one in performed(form, arrange(form, part, Request()))]
    assert len(set(struck)) > 8 and min(struck) >= 1 and max(struck) <= 127
