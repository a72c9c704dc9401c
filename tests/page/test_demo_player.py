"""The demo on the page: what is told of it lies in the tune, and its take is kept apart from what is practised."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import msgspec
import pytest

from companion.chart.toml.read import parse_toml
from companion.errors import UseError
from companion.load import load
from companion.messages import Beat, Round, State, Wish
from companion.page.demo_player import (
    CHANNELS,
    DEMO_MARK,
    KEPT,
    BrowserSound,
    DemoWords,
    Teller,
    Wished,
    demo_takes,
    piece_asked,
    play_for_page,
)
from companion.page.how import How
from companion.page.outgoing import Incoming, to_line
from companion.page.takes import Nothing, TakeAsked, reviewed, takes_listed
from companion.practice.records import Records
from companion.practice.taken_in import take_in
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.clock import now
from companion.stage.settings import Settings
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


# Message by message


def notes_told(out: io.BytesIO) -> list[tuple[int, int, int]]:
    """What is to be sounded, without its moments."""
    lines = [msgspec.json.decode(line) for line in out.getvalue().splitlines()]
    return [tuple(note[1:]) for line in lines for note in line["notes"]]


def test_what_still_sounds_at_the_end_is_ended_and_the_pedal_lifted() -> None:
    out = io.BytesIO()
    sound = BrowserSound(out)
    begun = [(0x91, 36, 80), (0x92, 64, 70), (0x92, 67, 70), (0x91, 40, 1), (0x93, 36, 60), (0x90, 72, 64)]
    others = [(0xB0, 64, 127), (0xA1, 36, 50), (0xC1, 5, 0), (0xB1, 36, 0), (0xE2, 64, 64)]
    ended = [(0x82, 67, 0), (0x91, 40, 0), (0x80, 72, 64)]
    for message in (*begun, *others, *ended):
        sound.order(1.0, message)
    sound.order(2.0, (0xC1, 7))
    assert notes_told(out) == [*begun, *others, *ended, (0xC1, 7, 0)]
    out.truncate(0)
    out.seek(0)
    sound.silence()
    assert notes_told(out) == [(0x81, 36, 64), (0x82, 64, 64), (0x83, 36, 64), (0xB0, 64, 0)]


def test_waiting_ends_at_its_moment_or_with_a_wish_and_a_treatment_waits_for_its_bar() -> None:
    sound = BrowserSound(io.BytesIO())
    until = now() + 0.02
    sound.wait_until(until)
    assert now() >= until
    treatment = Incoming("treatment", ("B", "pedal"))
    wishes = to_line(treatment) + b"nonsense\n" + to_line(Incoming("again"))
    sound.listen(io.BytesIO(wishes))
    with pytest.raises(Wished, match="again"):
        sound.wait_until(now() + 30)
    assert sound.treatments(4.0) == [Wish(4.0, "treatment", ("B", "pedal"))] and sound.treatments(5.0) == []
    with pytest.raises(Wished, match="stop"):
        sound.wait_until(now() + 30)  # nothing can come any more


@pytest.mark.parametrize(("bars", "which", "start"), [((11, 12), "bars 11–12", 40.0), ((1, 1), "bar 1", 0.0)])
def test_bars_that_are_gone_over_are_a_piece_in_its_place(bars: tuple[int, int], which: str, start: float) -> None:
    piece = piece_asked(load(FERRY), ("melody",), How(bars=bars, seed=3))
    assert (piece.bars, piece.start, piece.tune.title) == (bars, start, f"Ferry Without Lights, {which}")
    assert len(piece.played.unfold().bars) == bars[1] - bars[0] + 1
    assert {part.part for part in piece.tune.written} == {"chords", "bass"}, "as it is drawn"


def test_bars_that_there_are_not_are_refused() -> None:
    with pytest.raises(UseError):
        piece_asked(load(FERRY), ("melody",), How(bars=(31, 33)))


def test_each_time_over_the_bars_is_a_round_in_the_places_of_the_tune() -> None:
    out = io.BytesIO()
    piece = piece_asked(load(FERRY), ("melody",), How(bars=(11, 12)))
    teller = Teller(piece, Settings(you=frozenset({"melody"}), tempo=99.6), BrowserSound(out))
    reports = [
        State(1.0, "waiting"), Beat(0.0, 2.0, 1.0, 1), Beat(7.0, 3.0, 1.0, 1), Beat(0.0, 4.0, 1.0, 2),
        State(4.5, "playing", 0.5), Beat(1.0, 5.0, 1.0, 2),
    ]  # fmt: skip
    rounds = teller.tell(reports)
    assert rounds == [
        Round(1.0, 1, 11, 12, ("melody",), "G minor", 100.0, 1.0),
        Round(4.0, 2, 11, 12, ("melody",), "G minor", 100.0, 4.0),
    ]
    told = [msgspec.json.decode(line) for line in out.getvalue().splitlines()]
    assert [one["place"] for one in told if one["kind"] == "beat"] == [40.0, 47.0, 40.0, 41.0]


@dataclass
class Stage:
    """What is to be played in time; the first time it is asked to begin again."""

    asked: list[tuple[Settings, float]] = field(default_factory=list)

    def play_in_time(self, chart: Any, heard: Any, settings: Settings, *, until: float, **more: Any) -> None:
        self.asked.append((settings, until - heard[-1].seconds))
        more["sound"].order(1.0, (0x90, 60, 64))
        if len(self.asked) == 1:
            raise Wished("again")


@pytest.mark.parametrize(("bars", "choruses", "wishes"), [(None, 1, 3), ((11, 12), 12, 2)])
def test_a_demo_goes_on_after_its_last_note_and_bars_are_gone_over_a_dozen_times(
    monkeypatch: pytest.MonkeyPatch, bars: tuple[int, int] | None, choruses: int, wishes: int
) -> None:
    stage, out = Stage(), io.BytesIO()
    monkeypatch.setattr("companion.page.demo_player.play_in_time", stage.play_in_time)
    play_for_page(DemoWords(FERRY, 5, how=How(bars=bars)), BrowserSound(out))
    assert len(stage.asked) == 2, "it was asked to begin again once"
    assert all(2.0 <= after < 3.0 for _, after in stage.asked)
    if bars:
        assert {settings.choruses for settings, _ in stage.asked} == {choruses}
    first, *rest = [msgspec.json.decode(line) for line in out.getvalue().splitlines()]
    begun = first["begun"]
    assert (begun["number"], begun["demo"], begun["you"], begun["parts"]) == (5, True, ["melody"], ["chords", "bass"])
    assert begun["ordered"] is (bars is None)
    assert begun["wishes"] == ["stop", "again", "treatment"][:wishes]
    assert [line["kind"] for line in rest].count("over") == 1 and rest[-1]["kind"] == "over"
    sounded = [note[1:] for line in rest if line["kind"] == "notes" for note in line["notes"]]
    assert sounded == [[0x90, 60, 64], [0x80, 60, 64], [0xB0, 64, 0]] * 2


def test_the_parts_have_channels_of_their_own_and_ten_demos_are_kept() -> None:
    # General MIDI level 1 (The MIDI Association, 1991): channel 10 is percussion's.
    assert CHANNELS == {"bass": 2, "chords": 3, "melody": 4, "solo": 4, "click": 10} and KEPT == 10
