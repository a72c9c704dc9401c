"""What was planted in the takes of good players is found, of its kind and in its bar, and little else is said.

A small part of ``tests/benchmarks/reviewing.py``, on our own charts.
"""

from __future__ import annotations

from collections import Counter

import pytest

from companion.load import load
from companion.practice.alignment import align
from companion.practice.review import Review, review
from companion.resources import chart_path
from companion.stage.settings import Settings
from tests.practice.planted_faults import KINDS, FaultKind, FaultyTake, faulty

CHARTS = ("ferry-without-lights", "confetti-on-the-stairs", "salt-in-the-ink")
FOUND, INVENTED = 0.9, 1 / 20
SEEDS = range(4, 9)


def reviewed(name: str, parts: str, take: FaultyTake) -> Review:
    chart = load(chart_path(name))
    settings = Settings(you=frozenset(parts.split(",")))
    return review(chart.unfold(), align(chart, settings, take.heard), settings.you, take.heard)


@pytest.mark.parametrize("parts", ["melody", "melody,chords"])
def test_what_goes_wrong_is_found_of_its_kind_and_in_its_bar(parts: str) -> None:
    planted: Counter[str] = Counter()
    missed: Counter[str] = Counter()
    invented, bars = [], 0
    for seed, name in enumerate(CHARTS):
        form = load(chart_path(name)).unfold()
        take = faulty(form, parts.split(","), kinds=KINDS[parts], tempo=100 + 25 * seed, seed=seed)
        found = reviewed(name, parts, take)
        near = {bar for fault in take.faults for bar in range(fault.first, fault.last + 1)}
        for fault in take.faults:
            planted[fault.what] += 1
            told = [one for one in found.findings if one.what == fault.what and fault.first <= one.bar <= fault.last]
            missed[fault.what] += not told
        invented += [(name, one) for one in found.findings if one.bar not in near]
        bars += len(form.bars)
    assert missed.total() <= (1 - FOUND) * planted.total(), (missed, planted)
    assert len(invented) < INVENTED * bars, invented


@pytest.mark.parametrize(
    ("kind", "parts"),
    [
        ("rushed", "melody"),
        ("dragged", "melody"),
        ("swing", "melody"),
        ("late-chord", "melody,chords"),
        ("extra-note", "melody,chords"),
    ],
)
def test_one_fault_is_said_once_and_hardly_anything_besides(kind: FaultKind, parts: str) -> None:
    form = load(chart_path(CHARTS[0])).unfold()
    told = besides = 0
    for seed in SEEDS:
        take = faulty(form, parts.split(","), kinds=[kind], many=1, tempo=96, seed=seed)
        (fault,) = take.faults
        found = reviewed(CHARTS[0], parts, take).findings
        here = [one for one in found if one.what == kind and fault.first <= one.bar <= fault.last]
        told += len(here) == 1
        besides += len(found) - len(here)
    assert told >= len(SEEDS) - 1
    assert besides < INVENTED * len(SEEDS) * len(form.bars)


def test_of_a_good_take_nothing_is_said() -> None:
    form = load(chart_path(CHARTS[0])).unfold()
    for parts in ("melody", "melody,chords"):
        take = faulty(form, parts.split(","), kinds=["rushed"], many=0, seed=7)
        assert reviewed(CHARTS[0], parts, take).findings == ()
