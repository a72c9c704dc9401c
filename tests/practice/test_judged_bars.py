"""The bars of takes are judged once, when somebody asks; drills, solos and what cannot be read stay as they are."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.chart.model import Chart
from companion.messages import NoteKind
from companion.practice.judged_bars import bar_record, judge_takes, judged_take
from companion.practice.judging import JudgedNote
from companion.practice.records import Records
from companion.practice.review import ReviewedBar
from companion.practice.taken_in import take_in
from companion.stage.take_files import DATA, takes_folder
from tests.practice.takes_of_days import played_on
from tests.practice.test_partner import TUNE, WALK, take_of
from tests.practice.test_proposal import LINE
from tests.practice.test_taken_in import drilled_take

BAD: list[int | None] = [*LINE[:4], 80, None, None, None, *LINE[8:]]
"""Bar 2 with a wrong note, and one left out."""


def judged(data: Path) -> Records:
    records = Records(data)
    take_in(records, data)
    judge_takes(records, data)
    return records


def test_each_bar_has_its_counts_each_time_that_it_was_played(tmp_path: Path) -> None:
    take = take_of(tmp_path, [LINE, BAD], you="melody")
    with judged(tmp_path) as records:
        bars = records.bars()
    assert [(bar.chorus, bar.bar, bar.right, bar.faults) for bar in bars] == [
        (1, 1, 2, 0), (1, 2, 2, 0), (1, 3, 1, 0), (1, 4, 1, 0),
        (2, 1, 2, 0), (2, 2, 0, 2), (2, 3, 1, 0), (2, 4, 1, 0),
    ]  # fmt: skip
    assert (bars[5].wrong, bars[5].missing, bars[5].extra) == (1, 1, 0)
    assert {bar.take for bar in bars} == {take.folder.name}
    assert all(abs(bar.tempo - 120) < 6 for bar in bars)


def test_a_take_is_judged_once(tmp_path: Path) -> None:
    take_of(tmp_path, [LINE], you="melody")
    with judged(tmp_path) as records:
        before = records.bars()
        assert records.unjudged() == [] and judge_takes(records, tmp_path) == 0
        records.add_bars(before[0].take, before)
        assert records.bars() == before, "who judges it a second time changes nothing"


def test_the_rounds_of_a_drill_are_not_judged_again_as_a_take(tmp_path: Path, ferry: Chart) -> None:
    drilled_take(ferry, tmp_path, 2)
    with judged(tmp_path) as records:
        assert records.bars() == [] and records.unjudged() == []
        assert len(records.rounds()) == 2


def test_nothing_is_held_against_what_is_made_up_as_it_goes(tmp_path: Path) -> None:
    outside: list[int | None] = [beat + 1 for beat in WALK]
    assert all(not bar.wrong for bar in judged_take(take_of(tmp_path, [outside], you="bass")).bars)


def test_a_solo_stays_as_it_is(tmp_path: Path) -> None:
    assert not judged_take(take_of(tmp_path, [LINE], you="solo")).bars


def test_a_take_whose_folder_is_away_is_asked_again_and_a_damaged_one_is_not(tmp_path: Path) -> None:
    take = take_of(tmp_path, [LINE], you="melody")
    with Records(tmp_path) as records:
        take_in(records, tmp_path)
        away = takes_folder(tmp_path).rename(tmp_path / "elsewhere")
        assert judge_takes(records, tmp_path) == 0 and records.unjudged() == [take.folder.name]
        away.rename(takes_folder(tmp_path))
        (take.folder / DATA).write_text("{", encoding="utf-8")
        assert judge_takes(records, tmp_path) == 0 and records.unjudged() == []


def test_the_chart_of_a_take_that_is_deleted_is_not_asked_for_again(tmp_path: Path) -> None:
    take = take_of(tmp_path, [LINE], you="melody", chart=TUNE)
    with judged(tmp_path) as records:
        (word,) = {one.chart for one in records.takes()}
        records.delete_chart(word)
        assert records.bars() == [] and records.takes() == []
        assert take_in(records, tmp_path) == 0, "its folder stands, but the player wished it out of the records"
        records.delete_take(take.folder.name)
        assert not records.knows_take(take.folder.name), "with the folder goes what was known of it"


def note(kind: NoteKind, late: float | None = None, *, forgiven: bool = False) -> JudgedNote:
    return JudgedNote(kind, 0.0, 60, 60, 1.0, late, forgiven=forgiven)


@pytest.mark.parametrize(
    ("late", "median", "spread"),
    [
        ((), None, None),
        ((4.0,), 4.0, None),
        ((0.26,), 0.3, None),
        ((-4.0, 10.0), 3.0, 7.0),
        ((0.04, 5.0, -3.02), 0.0, 3.3),
    ],
)
def test_a_bars_timing_is_its_median_and_its_spread(
    late: tuple[float, ...], median: float | None, spread: float | None
) -> None:
    """Standard deviation of the whole, to a tenth of a millisecond; of one note there is none."""
    found = bar_record("a-take", ReviewedBar(3, 2, [note("right", one) for one in late], 96.04))
    assert (found.deviation_ms, found.spread_ms, found.tempo) == (median, spread, 96.0)
    assert (found.take, found.bar, found.chorus, found.right) == ("a-take", 3, 2, len(late))


def test_ornaments_are_no_notes_too_many_in_the_records() -> None:
    kinds: list[NoteKind] = ["right", "wrong", "wrong", "missing", "missing", "missing", "extra"]
    notes = [*map(note, kinds), note("extra", forgiven=True)]
    found = bar_record("a-take", ReviewedBar(1, 1, notes, 120.0))
    assert (found.right, found.wrong, found.missing, found.extra) == (1, 2, 3, 1)


def test_only_the_takes_that_are_asked_for_are_judged_and_how_far_it_is_is_told(tmp_path: Path) -> None:
    days = [played_on(tmp_path, day, LINE).folder.name for day in range(3)]
    with Records(tmp_path) as records:
        take_in(records, tmp_path)
        told: list[float] = []
        assert judge_takes(records, tmp_path, only=days[1:], progress=told.append) == 2
        assert (records.unjudged(), told) == ([days[0]], [0.0, 0.5])
        assert judge_takes(records, tmp_path, chart="another") == 0
        assert judge_takes(records, tmp_path, patience=-1.0) == 0 and records.unjudged() == [days[0]]
        assert judge_takes(records, tmp_path, patience=60.0) == 1


@pytest.mark.parametrize(("off", "median", "spread"), [((), None, None), ((5.0,), 5.0, None), ((4.0, 10.0), 7.0, 3.0)])
def test_two_notes_show_how_far_the_notes_of_a_bar_scatter_and_one_does_not(
    off: tuple[float, ...], median: float | None, spread: float | None
) -> None:
    notes = [JudgedNote("right", float(n), 60, 60, 1.0 + n, one) for n, one in enumerate(off)]
    found = bar_record("2026-11-01-200000-row", ReviewedBar(1, 1, notes, 120.0))
    assert (found.deviation_ms, found.spread_ms) == (median, spread)
