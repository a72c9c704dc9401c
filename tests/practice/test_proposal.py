"""What to drill where nothing was said: what was played worst in the last take of the tune."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import asdict, replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from companion.chart.model import Form
from companion.errors import ConfigError
from companion.load import load
from companion.messages import Round
from companion.practice.findings import Finding, Recurrence
from companion.practice.history import WeakBar
from companion.practice.judged_bars import judge_takes
from companion.practice.proposal import (
    Recorded,
    beginning,
    faults_by_bar,
    findings_by_bar,
    latest_take,
    proposed,
    worst_bars,
)
from companion.practice.records import Records, RoundRecord, SlipRecord
from companion.practice.records_file import FILE
from companion.practice.recurring import RecurringSlip
from companion.practice.repertoire import PassageStanding, standings
from companion.practice.taken_in import take_in
from companion.preferences import preferences
from companion.preferences.drills import DrillPreferences
from companion.preferences.repertoire import RepertoirePreferences
from companion.preferences.review import ReviewPreferences
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.take_files import DATA
from tests.practice.days import a_bar, a_round, a_take, evening
from tests.practice.takes_of_days import LINE as LINE
from tests.practice.takes_of_days import WITHOUT, played_on
from tests.practice.test_partner import TUNE, take_of

FORM: Form = TUNE.unfold()
EIGHT = replace(TUNE, title="Eight Steps", form=("A", "A"))
"""The same tune twice over."""


def test_without_a_take_it_is_the_beginning(tmp_path: Path) -> None:
    assert proposed(FORM, data=tmp_path) == beginning(FORM)


def test_the_bars_with_the_most_faults_are_proposed_and_the_part_that_was_played(tmp_path: Path) -> None:
    bad = [*LINE]
    bad[4], bad[6] = 80, None  # bar 2: a wrong note, and one left out
    take = take_of(tmp_path, [LINE, bad], you="melody")
    assert set(faults_by_bar(take)) == {2}
    found = proposed(FORM, data=tmp_path)
    assert found.bars[0] <= 2 <= found.bars[1]
    assert found.you == {"melody"}
    assert "played worst" in found.why


def test_a_clean_take_proposes_nothing_of_its_own(tmp_path: Path) -> None:
    take_of(tmp_path, [LINE], you="melody")
    assert proposed(FORM, data=tmp_path) == beginning(FORM)


def test_takes_of_another_part_tell_nothing_of_this_one(tmp_path: Path) -> None:
    take_of(tmp_path, [[*LINE[:4], 80, None, None, None, *LINE[8:]]], you="melody")
    assert proposed(FORM, frozenset({"bass"}), data=tmp_path) == beginning(FORM)


@pytest.mark.parametrize(("bars", "first"), [(1, (1, 1)), (3, (1, 3)), (4, (1, 4)), (32, (1, 4))])
def test_the_beginning_is_four_bars_or_as_many_as_there_are(bars: int, first: tuple[int, int]) -> None:
    form = load(chart_path(FERRY)).unfold()
    assert beginning(replace(form, bars=form.bars[:bars])).bars == first


@pytest.mark.parametrize(
    ("faults", "many", "worst"),
    [
        ({2: 2.0, 4: 2.0}, 1, (2, 2)),  # the earliest of several
        ({2: 1.0, 3: 1.5, 4: 1.0}, 2, (2, 3)),
        ({1: 2.0}, 2, (1, 2)),
        ({4: 2.0}, 1, (4, 4)),
        ({4: 2.0}, 2, (3, 4)),
        ({4: 2.0}, 4, (1, 4)),
        ({1: 1.9}, 4, None),  # worth no drill
        ({2: 0.5}, 2, None),
        ({}, 2, None),
        ({5: 9.0}, 2, None),  # of a tune that was made shorter since
    ],
)
def test_the_worst_bars_are_a_row_with_as_much_as_is_worth_a_drill(
    faults: dict[int, float], many: int, worst: tuple[int, int] | None
) -> None:
    assert worst_bars(FORM, faults, many, 2.0) == worst


def test_a_finding_weighs_in_each_of_its_bars_and_more_where_it_recurs() -> None:
    """A rush weighs 1.5, a missed note 1; what recurs three times as much; a pickup belongs to bar 1."""
    rushed = Finding(2, 1, "rushed", 30.0, "rushed", last=4)
    missed = Finding(4, 1, "missed-note", 1.0, "A missed", recurs=Recurrence(2, 3))
    pickup = Finding(0, 1, "missed-note", 1.0, "E missed")
    assert findings_by_bar([rushed, missed, pickup]) == {1: 1.0, 2: 1.5, 3: 1.5, 4: 1.5 + 3.0}


# What the records say

FERRY = "ferry-without-lights"
TODAY = evening(date(2026, 11, 23))


def drilled(folder: Path, *rounds: RoundRecord) -> None:
    with Records(folder) as records:
        for one in rounds:
            records.add_round(one)


def failed(days: int, bars: tuple[int, int], **more: tuple[str, ...]) -> RoundRecord:
    """A round that wasn't good, so many days ago."""
    return a_round(TODAY - timedelta(days=days), bars, 90, False, chart=FERRY, **more)  # type: ignore[arg-type]


def of_ferry(data: Path, you: frozenset[str] | None = None, now: datetime = TODAY) -> tuple[tuple[int, int], str]:
    found = proposed(load(chart_path(FERRY)).unfold(), you, data, chart=FERRY, now=now)  # type: ignore[arg-type]
    return found.bars, found.why


def test_a_passage_that_failed_is_proposed_again_with_its_part(tmp_path: Path) -> None:
    drilled(tmp_path, failed(1, (17, 20), you=("bass",)))
    found = proposed(load(chart_path(FERRY)).unfold(), None, tmp_path, chart=FERRY, now=TODAY)
    assert (found.bars, found.you) == ((17, 20), {"bass"})
    assert found.why == "failed when you drilled bars here on 22 November"


def test_a_passage_of_two_bars_that_failed_weighs_as_much_as_one_of_four(tmp_path: Path) -> None:
    drilled(tmp_path, failed(1, (18, 19)))
    bars, _ = of_ferry(tmp_path)
    assert bars[0] <= 18 and bars[1] >= 19


def test_a_passage_that_held_since_or_of_another_part_tells_nothing(tmp_path: Path) -> None:
    form = load(chart_path(FERRY)).unfold()
    good = a_round(TODAY - timedelta(hours=1), (17, 20), 90, True, chart=FERRY)
    drilled(tmp_path, failed(1, (17, 20)), good)
    assert of_ferry(tmp_path)[0] == beginning(form).bars
    drilled(tmp_path, failed(1, (25, 28)))
    assert of_ferry(tmp_path, frozenset({"bass"}))[0] == beginning(form).bars
    assert of_ferry(tmp_path, frozenset({"melody"}))[0] == (25, 28)


def test_the_records_of_another_tune_tell_nothing(tmp_path: Path) -> None:
    drilled(tmp_path, a_round(TODAY, (17, 20), 90, False, chart="another-tune"))
    assert of_ferry(tmp_path)[0] == beginning(load(chart_path(FERRY)).unfold()).bars


def test_a_bar_that_failed_before_tips_the_scales_between_two_that_were_as_bad(tmp_path: Path) -> None:
    """In the take one fault in bar 2 and one in bar 4; the drill of bar 4 failed."""
    line = [*LINE]
    line[6], line[12] = 78, 80
    take_of(tmp_path, [line, line], you="melody")
    form = TUNE.unfold()
    alone = proposed(form, data=tmp_path, chart="four-steps", now=TODAY)
    assert alone.bars == (1, 4), "the tune has no more bars than a passage"
    with Records(tmp_path) as records:
        records.add_round(a_round(TODAY, (4, 4), 90, False, chart="four-steps"))
    both = proposed(form, data=tmp_path, chart="four-steps", now=TODAY)
    assert "played worst in your take" in both.why and "failed when you drilled it on 23 November" in both.why


def test_faults_in_the_takes_before_count_where_they_were_judged(tmp_path: Path) -> None:
    """The last take is clean; the one before had three faults in bar 2 each time."""
    bad = [*LINE]
    bad[4], bad[5], bad[6] = 80, 82, None
    take_of(tmp_path, [bad], you="melody")
    with Records(tmp_path) as records:
        take_in(records, tmp_path)
        judge_takes(records, tmp_path)
        (word,) = {take.chart for take in records.takes()}
        assert {bar.bar for bar in records.bars() if bar.faults} == {2}
    assert "played worst" in proposed(FORM, data=tmp_path, chart=word, now=TODAY).why


def test_records_that_cannot_be_read_keep_nobody_from_drilling(tmp_path: Path) -> None:
    (tmp_path / "records.db").mkdir()
    assert of_ferry(tmp_path)[0] == beginning(load(chart_path(FERRY)).unfold()).bars


def test_without_a_moment_given_it_is_now(tmp_path: Path) -> None:
    now = datetime.now().astimezone()
    drilled(tmp_path, a_round(now - timedelta(minutes=10), (17, 20), 90, False, chart=FERRY))
    assert proposed(load(chart_path(FERRY)).unfold(), data=tmp_path, chart=FERRY).bars == (17, 20)


def test_records_of_a_newer_companion_keep_nobody_from_drilling(tmp_path: Path) -> None:
    drilled(tmp_path, failed(1, (17, 20)))
    with closing(sqlite3.connect(tmp_path / FILE)) as file:
        file.execute("PRAGMA user_version = 1000")
    assert of_ferry(tmp_path)[0] == (1, 4)


@pytest.mark.parametrize(("soon", "bars"), [(0, (1, 4)), (1, (17, 20))])
def test_what_failed_today_is_due_tomorrow_and_told_where_a_day_is_soon(
    soon: int, bars: tuple[int, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    (tmp_path / "configs").mkdir()
    (tmp_path / "configs" / "drills.toml").write_text(f"[proposal]\nsoon = {soon}\n", encoding="utf-8")
    drilled(tmp_path, failed(0, (17, 20)))
    assert of_ferry(tmp_path)[0] == bars


# What the records hold against each bar


def stands(bars: tuple[int, int], played: datetime = TODAY) -> PassageStanding:
    """A passage of the tune that failed."""
    (tune,) = standings([a_round(played, bars, 90, False)], [], TODAY, preferences(RepertoirePreferences))
    return tune.passages[0]


def recurs(bars: tuple[int, int], *made: bool, what: str = "missed-note", text: str = "F missed") -> RecurringSlip:
    return RecurringSlip(("note", 5.0, 0), what, *bars, text, made or (True, True), True, ("melody",), TODAY)


def weights(recorded: Recorded, many: int = 4) -> dict[int, float]:
    """By the preferences: a fault before 0.5; a missed note 1, a rush 1.5, thrice that as they recur; a passage 3."""
    rules = preferences(DrillPreferences).proposal
    return dict(recorded.by_bar(EIGHT.unfold(), many, rules, preferences(ReviewPreferences)))


@pytest.mark.parametrize(
    ("recorded", "expected"),
    [
        (Recorded(weak=(WeakBar(2, 3.0, 2), WeakBar(5, 0.5, 2))), {2: 1.5, 5: 0.25}),
        (Recorded(slips=(recurs((2, 2), True, False, False, True, True),)), {2: 2.0}),
        (Recorded(slips=(recurs((2, 4), what="rushed"),)), {2: 4.5, 3: 4.5, 4: 4.5}),
        (Recorded(slips=(recurs((0, 0)), recurs((1, 1)))), {1: 6.0}),  # a pickup belongs to bar 1
        (Recorded(failed=(stands((3, 3)),)), {3: 3.0}),
        (Recorded(failed=(stands((2, 3)),)), {2: 1.5, 3: 1.5}),
        (Recorded(failed=(stands((1, 6)),)), dict.fromkeys(range(1, 7), 0.75)),  # of four of its bars
        (Recorded(failed=(stands((7, 12)),)), {7: 1.5, 8: 1.5}),  # the tune was made shorter since
        (Recorded(failed=(stands((8, 8)),), weak=(WeakBar(8, 1.0, 1),)), {8: 3.5}),
    ],
)
def test_what_was_weak_recurs_and_failed_weighs_by_the_preferences(
    recorded: Recorded, expected: dict[int, float]
) -> None:
    assert weights(recorded) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("bars", "here"),
    [((1, 4), False), ((1, 5), True), ((6, 6), True), ((7, 9), True), ((8, 9), False)],
)
def test_a_slip_and_a_passage_are_in_bars_that_they_touch(bars: tuple[int, int], here: bool) -> None:
    slip, passage = recurs((5, 7)), stands((5, 7))
    recorded = Recorded(failed=(passage,), slips=(slip,))
    assert recorded.slips_in(bars) == ([slip] if here else [])
    assert recorded.failed_in(bars) == (passage if here else None)


def test_a_slip_in_the_pickup_is_in_the_first_bar() -> None:
    slip = recurs((0, 0))
    assert Recorded(slips=(slip,)).slips_in((1, 1)) == [slip]
    assert Recorded(slips=(slip,)).slips_in((2, 4)) == []


def test_of_several_slips_that_of_most_takes_comes_first_and_of_passages_the_latest() -> None:
    twice, thrice = recurs((1, 1), True, False, True), recurs((4, 4), True, True, True)
    assert Recorded(slips=(twice, thrice)).slips_in((1, 4)) == [thrice, twice]
    before, now = stands((1, 2), TODAY - timedelta(days=2)), stands((3, 4))
    assert Recorded(failed=(before, now, before)).failed_in((1, 4)) == now


def test_only_what_is_in_the_bars_that_are_proposed_is_said_of_them(tmp_path: Path) -> None:
    """A key too many, in the take, beside the passage that failed."""
    line = [*LINE, *LINE]
    line[17] = 90
    take_of(tmp_path, [line], you="melody", chart=EIGHT)
    form = EIGHT.unfold()
    with Records(tmp_path) as records:
        records.add_round(a_round(TODAY, (1, 4), 90, False, chart="eight"))
        records.add_round(a_round(TODAY, (6, 8), 90, False, chart="other"))
    before = proposed(form, data=tmp_path, chart="eight", now=TODAY)
    assert (before.bars, before.why) == ((1, 4), "failed when you drilled bars here on 23 November")
    after = proposed(form, data=tmp_path, chart="other", now=TODAY)
    assert after.bars == (5, 8) and after.why.startswith("played worst in your take of ")


def test_a_fault_in_the_last_bar_of_the_proposed_ones_is_told(tmp_path: Path) -> None:
    line = [*LINE, *LINE]
    line[28], line[29], line[30] = 80, 90, 85
    take = take_of(tmp_path, [line], you="melody", chart=EIGHT)
    assert set(faults_by_bar(take)) == {8}
    found = proposed(EIGHT.unfold(), data=tmp_path)
    assert (found.bars, found.why) == ((5, 8), f"played worst in your take of {take.started:%d %B, %H:%M}")


# The takes before


def judged(data: Path, *faults: int | None, you: tuple[str, ...] = ("melody",), slips: int = 0) -> None:
    """A take of the tune a day, with so many notes missing in each of the bars 21-24; None: not judged."""
    with Records(data) as records:
        for number, many in enumerate(faults, 1):
            take = a_take(TODAY - timedelta(days=20 - number), chart=FERRY, you=you, folder=f"{''.join(you)}-{number}")
            records.add_take(take)
            slipped = [SlipRecord(take.folder, 2, 2, 1, "missed-note", 5.0, 0, "bar 2: F missed")]
            slipped += [SlipRecord(take.folder, 3, 3, 1, "missed-note", 9.0, 0, "bar 3: F missed")]
            if many is not None:
                bars = [a_bar(take, bar, many if bar > 20 else 0) for bar in range(1, 25)]
                records.add_bars(take.folder, bars, slipped if number <= slips else (), "a-tune")


@pytest.mark.parametrize(
    ("faults", "bars"),
    [
        ((1,), (21, 24)),  # half a note in each of four bars
        ((0, 1, 0), (1, 4)),  # a third of that
        ((4, 1, 1, 1, 1), (21, 24)),
        ((0, 1, 1, 1, 1, 1), (21, 24)),  # the five before
        ((4, 0, 0, 0, 0, 0), (1, 4)),
        ((1, None, None, None, None, None), (21, 24)),  # those that were judged
    ],
)
def test_the_faults_of_the_five_takes_before_count_half(
    faults: tuple[int | None, ...], bars: tuple[int, int], tmp_path: Path
) -> None:
    judged(tmp_path, *faults)
    assert of_ferry(tmp_path)[0] == bars
    assert of_ferry(tmp_path, frozenset({"bass"}))[0] == (1, 4), "of the other hand they tell nothing"
    if bars != (1, 4):
        assert of_ferry(tmp_path)[1] == "a weak place in your takes before"


def test_takes_with_another_part_are_none_of_the_five(tmp_path: Path) -> None:
    judged(tmp_path, 1)
    judged(tmp_path, 0, 0, 0, 0, 0, 0, you=("bass",))
    assert of_ferry(tmp_path, frozenset({"melody"}))[0] == (21, 24)


def test_the_takes_before_count_for_nothing_where_none_are_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    (tmp_path / "configs").mkdir()
    (tmp_path / "configs" / "drills.toml").write_text("[proposal]\ntakes = 0\n", encoding="utf-8")
    judged(tmp_path, 4)
    assert of_ferry(tmp_path)[0] == (1, 4)


def test_the_last_take_counts_once(tmp_path: Path) -> None:
    """A wrong note and a key too many weigh 1.5, too little for a drill; with what the records have of them, 2.5."""
    line = [*LINE]
    line[4], line[9] = 80, 90
    take = take_of(tmp_path, [line], you="melody")
    assert sum(faults_by_bar(take).values()) == 1.5
    with Records(tmp_path) as records:
        take_in(records, tmp_path)
        (word,) = {one.chart for one in records.takes()}
    assert proposed(FORM, data=tmp_path, chart=word, now=TODAY).why == "the beginning"


@pytest.mark.parametrize(
    ("takes", "said"),
    [
        ((0, 0), "bar 2: F missed in each of two takes; failed"),
        ((0, 0, 0, 0, 0), "failed"),  # it is gone
    ],
)
def test_one_slip_is_told_of_until_it_is_gone(takes: tuple[int, ...], said: str, tmp_path: Path) -> None:
    judged(tmp_path, *takes, slips=2)
    drilled(tmp_path, failed(1, (1, 4)))
    assert of_ferry(tmp_path)[1].startswith(said)
    assert of_ferry(tmp_path, frozenset({"bass"}))[1] == "the beginning"


# Which take is the last one


def test_a_take_is_of_the_tune_where_its_bars_and_its_melody_are(tmp_path: Path) -> None:
    take = take_of(tmp_path, [LINE], you="melody")
    assert latest_take(FORM, data=tmp_path) == take
    assert latest_take(FORM, frozenset({"melody"}), tmp_path) == take
    assert latest_take(FORM, frozenset({"bass"}), tmp_path) is None
    assert latest_take(replace(FORM, melody=FORM.melody[1:]), data=tmp_path) is None
    assert latest_take(replace(FORM, bars=FORM.bars[1:]), data=tmp_path) is None


def test_a_drill_and_a_solo_are_no_take_of_the_tune(tmp_path: Path) -> None:
    take_of(tmp_path / "solo", [LINE], you="solo")
    assert latest_take(FORM, data=tmp_path / "solo") is None
    take = take_of(tmp_path / "drill", [LINE], you="melody")
    told = json.loads((take.folder / DATA).read_text(encoding="utf-8"))
    told["rounds"] = [asdict(Round(2.0, 1, 1, 4, ("melody",), "C", 120.0, 1.0, True))]
    (take.folder / DATA).write_text(json.dumps(told), encoding="utf-8")
    assert latest_take(FORM, data=tmp_path / "drill") is None


@pytest.mark.parametrize(("others", "found"), [(19, True), (20, False)])
def test_a_tune_is_looked_for_in_the_last_twenty_takes(others: int, found: bool, tmp_path: Path) -> None:
    take = take_of(tmp_path, [LINE], you="melody")
    for number in range(others):
        shutil.copytree(take.folder, take.folder.parent / f"3000-01-01-0000{number:02}-another")
        data = take.folder.parent / f"3000-01-01-0000{number:02}-another" / DATA
        data.write_text(data.read_text(encoding="utf-8").replace("e8", "d8"), encoding="utf-8")
    assert latest_take(FORM, data=tmp_path) == (take if found else None)


# What recurs


def test_a_slip_that_recurs_is_proposed_though_the_last_take_was_clean(tmp_path: Path) -> None:
    """In bar 2, twice in the takes of the days before."""
    for day, line in enumerate([WITHOUT, WITHOUT, LINE]):
        played_on(tmp_path, day, line)
    with Records(tmp_path) as records:
        take_in(records, tmp_path)
        (word,) = {take.chart for take in records.takes()}
    found = proposed(FORM, data=tmp_path, chart=word, now=TODAY)
    assert "bar 2: F missed in two of three takes" in found.why


def test_a_slip_that_recurs_weighs_by_the_table_of_the_review_and_by_how_many_of_the_last_takes_have_it() -> None:
    review, drills = preferences(ReviewPreferences), preferences(DrillPreferences)
    made = (True, True, False, True, False)
    slip = RecurringSlip(("note", 5.0, 0), "missed-note", 2, 2, "F missed", made, True, ("melody",), TODAY)
    weights = Recorded(slips=(slip,)).by_bar(FORM, 4, drills.proposal, review)
    assert weights == {2: pytest.approx(review.recurring.weight * review.weights["missed-note"] / 3)}


def test_the_proposal_and_the_review_weigh_by_one_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    take = take_of(tmp_path, [[*LINE[:6], None, *LINE[7:]]], you="melody")
    (tmp_path / "configs").mkdir()
    (tmp_path / "configs" / "review.toml").write_text("[weights]\nmissed-note = 7.0\n", encoding="utf-8")
    assert faults_by_bar(take) == {2: 7.0}


@pytest.mark.parametrize(("key", "goes_to"), [("missing", "missed-note"), ("left", "restarted")])
def test_a_weight_of_a_file_of_before_is_one_line_that_says_where_it_went(
    key: str, goes_to: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    (tmp_path / "configs").mkdir()
    (tmp_path / "configs" / "drills.toml").write_text(f"[proposal]\n{key} = 2.0\n", encoding="utf-8")
    with pytest.raises(ConfigError) as found:
        preferences(DrillPreferences)
    said = str(found.value)
    assert said.count("\n") == 0 and "drills.toml" in said and key in said
    assert "review.toml" in said and goes_to in said
