"""The records of practice: what was drilled and played is there, once, whatever happens to companion and disk."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import RecordsError
from companion.practice.records import BarRecord, Records, RoundRecord, SlipRecord
from tests.practice.days import a_round, a_take, evening

MONDAY = date(2026, 11, 23)
ROUND = a_round(evening(MONDAY), (9, 12), 96.0, True, why="")


def test_a_round_reads_back_as_it_was_added(tmp_path: Path) -> None:
    bad = replace(ROUND, good=False, why="bar 11: F♯ missed; 12 late by 90 ms", number=2, spread_ms=None)
    with Records(tmp_path) as records:
        assert records.add_round(ROUND) and records.add_round(bad)
    with Records(tmp_path) as records:
        assert records.rounds() == [ROUND, bad]
        assert records.rounds("another-tune") == []


@settings(max_examples=20)
@given(
    tempo=st.floats(20, 400),
    you=st.sets(st.sampled_from(["melody", "chords", "bass", "solo"]), min_size=1),
    at=st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1)).map(lambda at: at.replace(microsecond=0)),
    title=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=30),
)
def test_whatever_is_played_reads_back(tempo: float, you: set[str], at: datetime, title: str) -> None:
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as folder, Records(Path(folder)) as records:
        kept = replace(ROUND, tempo=tempo, you=tuple(sorted(you)), at=at.replace(tzinfo=UTC), title=title)
        records.add_round(kept)
        assert records.rounds() == [kept]


def test_rounds_and_takes_come_in_order_of_time_whatever_their_zone(tmp_path: Path) -> None:
    """19 h in the first zone is before 18.30 h in the second."""
    first = replace(ROUND, at=datetime(2026, 11, 23, 19, tzinfo=timezone(timedelta(hours=9))))
    second = replace(ROUND, at=datetime(2026, 11, 23, 18, 30, tzinfo=timezone(timedelta(hours=-5))))
    with Records(tmp_path) as records:
        records.add_round(second)
        records.add_round(first)
        assert records.rounds() == [first, second]


def test_a_round_told_live_and_found_in_its_take_is_one(tmp_path: Path) -> None:
    found = replace(ROUND, at=ROUND.at + timedelta(seconds=2), take="a-folder", kind="")
    with Records(tmp_path) as records:
        records.add_round(ROUND)
        take = a_take(evening(MONDAY), folder="a-folder", choruses=0)
        assert records.add_take(take, [found])
        assert records.rounds() == [replace(ROUND, take="a-folder")]
        assert not records.add_take(take, [found])
        assert records.takes() == [take]


def test_the_same_bars_on_another_evening_are_another_round(tmp_path: Path) -> None:
    with Records(tmp_path) as records:
        records.add_round(ROUND)
        assert records.add_round(replace(ROUND, at=ROUND.at + timedelta(days=1)))
        assert records.add_round(replace(ROUND, number=2, at=ROUND.at + timedelta(seconds=9)))


def test_a_take_goes_when_the_player_deletes_it_and_its_rounds_stay_practised(tmp_path: Path) -> None:
    with Records(tmp_path) as records:
        records.add_take(a_take(evening(MONDAY), folder="gone"), [replace(ROUND, take="gone")])
        records.delete_take("gone")
        assert records.takes() == []
        assert records.rounds() == [ROUND]


def test_two_companions_on_one_folder_lose_no_round(tmp_path: Path) -> None:
    def practise(chart: str) -> None:
        for number in range(20):
            with Records(tmp_path) as records:
                assert records.kept
                records.add_round(replace(ROUND, chart=chart, number=number))

    both = [threading.Thread(target=practise, args=(chart,)) for chart in ("left", "right")]
    for one in both:
        one.start()
    for one in both:
        one.join()
    with Records(tmp_path) as records:
        assert [len(records.rounds(chart)) for chart in ("left", "right")] == [20, 20]


WRITER = """
import sys
from dataclasses import replace
from pathlib import Path
from companion.practice.records import Records
from tests.practice.test_records import ROUND
records = Records(Path(sys.argv[1]))
for number in range(100_000):
    records.add_round(replace(ROUND, number=number))
    print(number, flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="kills a process")
@pytest.mark.parametrize("after", [1, 23])
def test_a_kill_in_the_midst_loses_no_round_that_was_told_to_be_kept(tmp_path: Path, after: int) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(tmp_path)], stdout=subprocess.PIPE, text=True, env={**os.environ}
    ) as process:
        assert process.stdout
        told = -1
        for _ in range(after):
            told = int(process.stdout.readline())
        process.kill()
        told = max([told, *(int(line) for line in process.stdout if line.endswith("\n"))])
    with Records(tmp_path) as records:
        assert records.kept and not records.trouble
        numbers = [one.number for one in records.rounds()]
    assert numbers[: told + 1] == list(range(told + 1))
    assert len(numbers) <= told + 2, "half a round is none"


def test_what_cant_be_written_is_an_error_of_one_line_and_changes_nothing(tmp_path: Path) -> None:
    with Records(tmp_path) as one, Records(tmp_path) as other:
        other._connection.execute("PRAGMA busy_timeout = 50")
        one._connection.execute("BEGIN IMMEDIATE")
        with pytest.raises(RecordsError, match=r"can't be added to \(another program is using it\)") as error:
            other.add_round(ROUND)
        assert "\n" not in str(error.value)
        one._connection.execute("ROLLBACK")
        assert other.rounds() == []
        assert other.add_round(ROUND)


def test_playing_counts_up_to_the_last_pause(tmp_path: Path) -> None:
    now = evening(MONDAY)
    pause = timedelta(minutes=5)

    def minutes_ago(minutes: float, lasts: float) -> RoundRecord | None:
        records.add_take(a_take(now - timedelta(minutes=minutes), seconds=60 * lasts))
        return None

    with Records(tmp_path) as records:
        assert records.played_without(pause, now) == 0
        minutes_ago(60, 20)  # ended 40 minutes ago
        minutes_ago(30, 12)  # ended 18 minutes ago, ...
        minutes_ago(14, 10)  # ... four minutes before this one began
        assert records.played_without(pause, now) == 60 * 22
        assert records.played_without(pause, now - timedelta(minutes=14)) == 60 * 22, "one that begins just then counts"
        assert records.played_without(pause, now + timedelta(minutes=10)) == 0


@pytest.mark.parametrize(("seconds", "new"), [(9.999, False), (10.0, False), (-10.0, False), (10.001, True)])
def test_two_rounds_of_one_number_within_ten_seconds_are_one(tmp_path: Path, seconds: float, new: bool) -> None:
    """The take becomes known of the round that it is."""
    again = replace(ROUND, at=ROUND.at + timedelta(seconds=seconds), take="a-folder")
    with Records(tmp_path) as records:
        records.add_round(replace(ROUND, number=2))
        records.add_round(ROUND)
        assert records.add_round(again) is new
        known = {(one.number, one.take) for one in records.rounds()}
        assert known == ({(2, None), (1, None), (1, "a-folder")} if new else {(2, None), (1, "a-folder")})


@pytest.mark.parametrize("change", [{"chart": "other"}, {"number": 2}, {"first": 8}, {"last": 13}])
def test_rounds_of_another_number_or_passage_are_others(tmp_path: Path, change: dict[str, object]) -> None:
    with Records(tmp_path) as records:
        records.add_round(ROUND)
        assert records.add_round(replace(ROUND, **change))  # type: ignore[arg-type]


FIRST, SECOND = (a_take(evening(MONDAY, hour), folder=f"at-{hour}") for hour in (18, 20))
BAR = BarRecord("at-18", 3, 1, right=1, wrong=2, missing=4, extra=8, tempo=96.0, deviation_ms=-3.5, spread_ms=None)
SLIP = SlipRecord("at-18", 3, 4, 1, "missed-note", 9.5, 11, "bar 3: E missed")


def test_faults_are_notes_wrong_missing_and_too_many() -> None:
    assert BAR.faults == 14


def test_bars_and_slips_read_back_in_order_of_playing(tmp_path: Path) -> None:
    later = replace(BAR, take="at-20", bar=1), replace(BAR, take="at-20", bar=0, chorus=2, spread_ms=8.0)
    slip = replace(SLIP, take="at-20", beat=None, degree=None)
    with Records(tmp_path) as records:
        assert records.add_take(SECOND) is True and records.add_take(FIRST) is True
        assert records.add_take(FIRST) is False
        records.add_bars("at-20", later, [slip], "a-tune")
        records.add_bars("at-18", [BAR], [SLIP, replace(SLIP, bar=2)])
        assert records.bars() == records.bars("a-tune") == [BAR, *later]
        assert records.slips() == records.slips("a-tune") == [SLIP, replace(SLIP, bar=2), slip]
        assert records.bars("other") == records.slips("other") == []
        assert records.tunes() == {"at-20": "a-tune"}, "of the other that isn't known"


def test_a_take_is_judged_once(tmp_path: Path) -> None:
    with Records(tmp_path) as records:
        records.add_take(FIRST)
        for tune in ("a-tune", "another"):
            records.add_bars("at-18", [BAR], [SLIP], tune)
            records.add_bars("unknown", [replace(BAR, take="unknown")], [replace(SLIP, take="unknown")], tune)
        assert (records.bars(), records.slips(), records.tunes()) == ([BAR], [SLIP], {"at-18": "a-tune"})


def test_takes_wait_to_be_judged_the_latest_first(tmp_path: Path) -> None:
    other = a_take(evening(MONDAY, 19), chart="other", folder="at-19")
    with Records(tmp_path) as records:
        for take in (SECOND, FIRST, other):
            records.add_take(take)
        assert records.unjudged() == ["at-20", "at-19", "at-18"]
        assert records.unjudged("a-tune") == ["at-20", "at-18"]
        records.add_bars("at-20", [])  # nothing can be said of it
        records.add_bars("at-18", [BAR])
        assert records.unjudged() == ["at-19"]
        records._connection.execute("UPDATE takes SET tune = '' WHERE folder <> 'at-19'")
        assert records.unjudged() == ["at-19", "at-18"], "judged before slips were kept"
        records.add_bars("at-18", [replace(BAR, bar=4)], [SLIP], "a-tune")
        assert (records.bars(), records.slips()) == ([BAR], [SLIP])
        judged = records._connection.execute("SELECT folder, judged FROM takes ORDER BY folder").fetchall()
        assert judged == [("at-18", 1), ("at-19", 0), ("at-20", 2)], "as the file says it"


@pytest.mark.parametrize(
    ("gap", "lasts", "played"),
    [(4.99, 300.0, 660), (5.0, 300.0, 360), (5.0, 0.0, 360)],
)
def test_a_pause_is_one_from_its_length_on(tmp_path: Path, gap: float, lasts: float, played: float) -> None:
    """A take of six minutes ended just now; before it a gap."""
    now = evening(MONDAY)
    last = a_take(now - timedelta(minutes=6), seconds=360.0)
    before = a_take(last.started - timedelta(minutes=gap, seconds=lasts), seconds=lasts, folder="before")
    with Records(tmp_path) as records:
        records.add_take(last)
        records.add_take(before)
        assert records.played_without(timedelta(minutes=5), now) == played
        records.add_take(a_take(now + timedelta(minutes=1), folder="by a wrong clock"))
        assert records.played_without(timedelta(minutes=5), now) == 0
