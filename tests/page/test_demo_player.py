"""The demo on the page: what is told of it lies in the tune, and its take is kept apart from what is practised."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import msgspec
import pytest

from companion.chart.toml.read import parse_toml
from companion.page.demo_player import DEMO_MARK, BrowserSound, DemoWords, Wished, demo_takes, play_for_page
from companion.page.how import How
from companion.page.outgoing import Incoming
from companion.page.takes import Nothing, TakeAsked, reviewed, takes_listed
from companion.practice.records import Records
from companion.practice.taken_in import take_in
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.clock import now
from companion.stage.take import read_take

FERRY = str(chart_path("ferry-without-lights"))


class Hurried(BrowserSound):
    """Lets no time pass, and stops after some seconds of the performance."""

    def __init__(self, out: io.BytesIO, stops: float) -> None:
        super().__init__(out)
        self._begun = now()
        self._stops = self._begun + stops
        self._asked = False

    def wait_until(self, moment: float) -> None:
        if moment > self._stops:
            raise Wished("stop")


def played(words: DemoWords, seconds: float = 25.0, sound: type[Hurried] = Hurried) -> list[dict[str, Any]]:
    """What the page is told; what is on the stand counts as 'begun'."""
    out = io.BytesIO()
    play_for_page(words, sound(out, seconds))
    lines = [msgspec.json.decode(line) for line in out.getvalue().splitlines()]
    return [line if "kind" in line else {**line["begun"], "kind": "begun", "chart": line["chart"]} for line in lines]


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    return tmp_path


def test_bars_that_are_gone_over_bear_their_numbers_in_the_tune_and_the_take_counts_for_nobody(data: Path) -> None:
    told = played(DemoWords(FERRY, 3, how=How(bars=(11, 12))))
    rounds = [one for one in told if one["kind"] == "round"]
    assert {(one["first"], one["last"]) for one in rounds} == {(11, 12)}
    assert [one["number"] for one in rounds] == list(range(1, len(rounds) + 1)) and len(rounds) > 2
    text = parse_toml(told[0]["chart"])
    assert text.unfold().written_part("bass"), "the same in every round, and as it is drawn"
    places = [one["place"] for one in told if one["kind"] == "beat"]
    assert set(places) == {float(beat) for beat in range(40, 48)}, "bars 11 and 12 of a tune in 4/4"
    assert told[0]["title"].endswith(", bars 11–12") and told[-1]["kind"] == "over"
    (row,) = takes_listed(Nothing())["demos"]
    assert takes_listed(Nothing())["takes"] == [] and told[-1]["take"] == row["take"]
    assert row["take"].startswith(DEMO_MARK) and row["drill"]
    found = reviewed(TakeAsked(row["take"]))
    assert found["chart"] == "ferry-without-lights"
    assert {bar["bar"] for bar in found["bars"]} == {11, 12} == {bar["bar"] for bar in found["rows"][0]["bars"]}
    assert all(str(one["bar"]) in one["text"] for one in found["findings"])
    assert not any(sentence.startswith("You") for sentence in found["said"])
    with Records() as records:
        assert take_in(records) == 0 and records.takes() == [] and records.rounds() == []


def test_a_treatment_that_is_asked_for_is_taken_up_at_a_bar_line_and_kept_in_the_take(data: Path) -> None:
    class Asking(Hurried):
        def wait_until(self, moment: float) -> None:
            if not self._asked and moment > self._begun + 12:
                self._asked = True
                self._wishes.put(Incoming("treatment", ("A2", "pedal")))
                super(Hurried, self).wait_until(now() - 1)
            super().wait_until(moment)

    told, take = played(DemoWords(FERRY, 1), 25.0, Asking), takes_listed(Nothing())["demos"][0]["take"]
    (treated,) = [one for one in told if one["kind"] == "treated"]
    assert treated["sections"] == {"A2": "pedal"}
    beat = next(one for one in told if one["kind"] == "beat" and one["at"] >= treated["at"])
    assert beat["place"] % 4 == 0 and beat["at"] == treated["at"]
    wishes = read_take(demo_takes() / "takes" / take.removeprefix(DEMO_MARK)).wishes or ()
    assert [(wish.name, list(wish.value)) for wish in wishes] == [("treatment", ["A2", "pedal"])]


def test_only_the_last_demos_are_kept(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("companion.page.demo_player.KEPT", 1)
    for number in (1, 2):
        assert played(DemoWords(FERRY, number), 15.0)[-1]["take"]
    assert len(list((demo_takes() / "takes").iterdir())) == 1
