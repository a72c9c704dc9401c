"""What to drill where nothing was said: what was played worst in the last take of the tune."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from companion.chart.model import Form
from companion.errors import ConfigError
from companion.load import load
from companion.practice.judged_bars import judge_takes
from companion.practice.proposal import Recorded, beginning, faults_by_bar, proposed, worst_bars
from companion.practice.records import Records, RoundRecord
from companion.practice.recurring import RecurringSlip
from companion.practice.taken_in import take_in
from companion.preferences import preferences
from companion.preferences.drills import DrillPreferences
from companion.preferences.review import ReviewPreferences
from companion.resources import DATA_VARIABLE, chart_path
from tests.practice.days import a_round, evening
from tests.practice.takes_of_days import LINE as LINE
from tests.practice.takes_of_days import WITHOUT, played_on
from tests.practice.test_partner import TUNE, take_of

FORM: Form = TUNE.unfold()


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


def test_the_worst_row_of_bars_is_the_earliest_of_several() -> None:
    assert worst_bars(FORM, {2: 2.0, 4: 2.0}, 1, 2.0) == (2, 2)
    assert worst_bars(FORM, {2: 1.0, 3: 1.5, 4: 1.0}, 2, 2.0) == (2, 3)
    assert worst_bars(FORM, {2: 0.5}, 2, 2.0) is None


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
