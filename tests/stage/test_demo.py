"""The demo: a player with human timing is followed, in real time as at once, and a take is kept of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import groupby
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.errors import DeviceError
from companion.load import load
from companion.messages import Beat, Heard, Order, State, Wish
from companion.pianist.player import SimulatedPerformance, TrueBeat, simulate
from companion.resources import chart_path
from companion.stage import demo, sounding_marks
from companion.stage.demo import (
    DemoTake,
    closeness,
    demo_folder,
    forget_older_demos,
    perform,
    play_in_time,
    played_by,
    returns,
    route_of,
)
from companion.stage.performance import read_performance
from companion.stage.settings import Settings
from companion.stage.take import read_take
from companion.stage.take_files import DATA


@pytest.fixture(scope="module")
def blues() -> Chart:
    return load(chart_path("two-spoons-short"))


@pytest.fixture(autouse=True)
def own_takes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))


def _evening(chart: Chart, manner: str = "human", **more: Any) -> tuple[SimulatedPerformance, Settings]:
    player = simulate(chart.unfold(), "melody", manner=manner, seed=4)
    return player, replace(Settings(), tempo=player.tempo, start=player.start, choruses=1, **more)


class Clock:
    """A clock that only sleeping moves."""

    def __init__(self) -> None:
        self.seconds = 100.0

    def __call__(self) -> float:
        return self.seconds

    def sleep(self, seconds: float) -> None:
        self.seconds += seconds


def test_in_real_time_it_plays_what_it_plays_at_once(blues: Chart, monkeypatch: pytest.MonkeyPatch) -> None:
    player, settings = _evening(blues, count_in=2)
    at_once = perform(blues, settings, player, fast=True)
    clock = Clock()
    monkeypatch.setattr(demo, "now", clock)
    monkeypatch.setattr(demo.time, "sleep", clock.sleep)
    in_time = perform(blues, settings, player, fast=False)
    assert in_time.recording == at_once.recording
    last = max(player.heard[-1].seconds, player.truth[-1].seconds)
    assert clock.seconds - 100.0 == pytest.approx(demo.BEFORE + last + demo.AFTER, abs=0.01)


def test_the_count_in_is_even_and_leads_to_the_players_first_beat(blues: Chart) -> None:
    player, settings = _evening(blues, "clean", count_in=2)
    recording = perform(blues, settings, player, fast=True).recording
    clicks = [order.seconds for order in recording.orders if order.part == "click" and order.status == 0x90]
    beat = 60 / player.tempo
    assert clicks[:8] == pytest.approx([player.start - n * beat for n in range(8, 0, -1)], abs=0.005)
    states = [report.name for report in recording.reports if isinstance(report, State)]
    counted = 8  # each beat of it is told, and its beginning before the first
    assert states[: counted + 2] == ["counting"] * (counted + 1) + ["playing"]


def test_each_note_is_handed_over_before_it_is_due(blues: Chart, monkeypatch: pytest.MonkeyPatch) -> None:
    player, settings = _evening(blues)
    clock = Clock()
    sent: list[tuple[float, float, tuple[int, ...]]] = []

    class Sound:
        def order(self, due: float, message: tuple[int, ...]) -> None:
            sent.append((clock.seconds, due, message))

        def wait_until(self, moment: float) -> None:
            clock.sleep(max(0.0, moment - clock.seconds))

    monkeypatch.setattr(demo, "now", clock)
    monkeypatch.setattr(demo.time, "sleep", clock.sleep)
    perform(blues, settings, player, fast=False, sound=Sound(), channels={"bass": 2, "chords": 3})  # type: ignore[arg-type]
    assert all(given <= due + 1e-6 for given, due, _ in sent)
    assert {message[0] & 0x0F for _, _, message in sent} == {0, 1, 2}  # the player, the bass, the chords
    sounding: set[tuple[int, int]] = set()
    for _, _, (status, note, velocity) in sorted(sent, key=lambda row: row[1]):
        if status & 0xF0 == 0x90 and velocity:
            sounding.add((status & 0x0F, note))
        elif status & 0xF0 in (0x80, 0x90):
            sounding.discard((status & 0x0F, note))
    assert not sounding


def test_ctrl_c_keeps_what_was_played(blues: Chart) -> None:
    player, settings = _evening(blues)

    def stop(seconds: float, *_: object) -> None:
        if seconds > 10.0:
            raise KeyboardInterrupt

    evening = perform(blues, settings, player, fast=True, watch=stop)
    assert evening.interrupted and evening.take
    notes = [event for event in read_performance(evening.take / "take.mid") if event.is_note_on]
    assert [note.data1 for note in notes] == [h.data1 for h in evening.recording.heard if h.is_note_on]
    assert 0 < len(notes) < sum(event.is_note_on for event in player.heard)


@pytest.mark.parametrize("fast", [True, False])
def test_a_chorus_that_cannot_be_arranged_ends_it_with_the_take_kept(
    blues: Chart, break_from: Callable[[int, Exception], None], monkeypatch: pytest.MonkeyPatch, fast: bool
) -> None:
    clock, fault = Clock(), ZeroDivisionError("a bar without beats")
    monkeypatch.setattr(demo, "now", clock)
    monkeypatch.setattr(demo.time, "sleep", clock.sleep)
    player = simulate(blues.unfold(), "melody", manner="clean", seed=4, choruses=4)
    settings = Settings(tempo=player.tempo, start=player.start, choruses=4)
    break_from(3, fault)
    evening = perform(blues, settings, player, fast=fast)
    assert evening.error is fault and not evening.interrupted and evening.take
    kept = read_take(evening.take)
    assert kept.how == "lost" and max(beat.chorus for beat in kept.beats) == 1
    assert kept.heard() and kept.sounded()
    assert 0 < evening.closeness.beats < len(player.beats)


@pytest.mark.parametrize("manner", ["clean", "evening"])
def test_a_player_in_time_is_followed_beat_by_beat(blues: Chart, manner: str) -> None:
    player, settings = _evening(blues, manner)
    close = perform(blues, settings, player, fast=True).closeness
    assert close.beats == len(player.beats) >= 48
    assert close.held >= 0.85 * close.beats and close.median_ms < 35


def test_closeness_counts_a_beat_by_its_place_and_its_moment(blues: Chart) -> None:
    player, _ = _evening(blues, "clean")
    true = [Beat(row.chart_beat, row.seconds, 1.0) for row in player.beats]
    assert closeness(player, true).held == len(true)
    late = [replace(beat, seconds=beat.seconds + 0.030) for beat in true]
    assert (closeness(player, late).held, round(closeness(player, late).median_ms)) == (len(true), 30)
    assert closeness(player, [replace(beat, seconds=beat.seconds + 0.080) for beat in true]).held == 0
    assert closeness(player, [replace(beat, chart_beat=beat.chart_beat + 100) for beat in true]).held == 0


def test_coming_back_after_a_stop_is_counted_in_beats(blues: Chart) -> None:
    player = simulate(blues.unfold(), "melody", manner="stopping", seed=4, choruses=2)
    true = [Beat(row.chart_beat, row.seconds, 1.0) for row in player.beats]
    resumed = [k for k, row in enumerate(player.beats) if row.mark == "resume"]
    assert resumed
    assert [lost for _, lost in returns(player, true)] == [0] * len(resumed)
    assert all(pause > 2.0 for pause, _ in returns(player, true))
    first = resumed[0]
    two_missed = [beat for k, beat in enumerate(true) if k not in (first, first + 1)]
    assert returns(player, two_missed)[0][1] == 2


def test_only_the_beats_up_to_ctrl_c_count(blues: Chart) -> None:
    player, settings = _evening(blues, "clean")

    def stop(seconds: float, *_: object) -> None:
        if seconds > 12.0:
            raise KeyboardInterrupt

    close = perform(blues, settings, player, fast=True, watch=stop).closeness
    assert 0 < close.beats < len(player.beats) / 2 and close.held > 0.8 * close.beats


def test_a_whole_tune_is_played_the_last_time_told_and_understood() -> None:
    """The player tells it in the first of two solo choruses: the head follows, and the ending."""
    chart = parse_toml(EVENTS % (2, "held"))
    settings = Settings(order="chart")
    player = simulate(chart.unfold(), "melody", manner="clean", seed=4, tune=route_of(chart, settings))
    settings = replace(settings, tempo=player.tempo, start=player.start, count_in=2)
    evening = perform(chart, settings, player, fast=True)
    said = [(r.event, r.last) for r in evening.recording.reports if isinstance(r, State)]
    assert [key for key, _ in groupby(said)] == [
        ("introduction", False), ("head", False), ("solos", False), ("solos", True), ("head", False), ("ending", False)
    ]  # fmt: skip
    assert evening.closeness.held >= 0.93 * evening.closeness.beats
    ended = next(r for r in evening.recording.reports if isinstance(r, State) and r.name == "ended")
    assert player.truth[-1].seconds + 1.5 < ended.seconds < player.truth[-1].seconds + 9
    assert evening.take
    kept = read_take(evening.take)
    assert kept.settings["start"] == pytest.approx(player.start, abs=0.01), "the take begins with the count-in"
    assert [key for key, _ in groupby(state.event for state in kept.states)] == [
        "introduction", "head", "solos", "head", "ending"
    ]  # fmt: skip
    assert {beat.event for beat in kept.beats} == {"introduction", "head", "solos", "ending"}


EVENTS = """
format = 1
title = "Kettle at Six"
key = "G minor"
tempo = 144
order = [
  { play = "introduction", how = "vamp", bars = 2 },
  { play = "head" },
  { play = "solos", choruses = %d },
  { play = "head" },
  { play = "ending", how = "%s" },
]
[section.A]
chords = "| Gm6 | C7 | Am7b5 | D7alt |"
melody = "DF | G6 z2 | c4 e4 | c4 A4 | ^F8 |"
"""


@pytest.mark.parametrize(
    ("you", "solos", "how", "passages"),
    [
        # From and up to which beat, which chorus, the parts where they aren't the usual ones; whether the last time is
        # told, half way through the first of several solo choruses; from how far before the last beat it slows down.
        ("melody", 2, "held", ["-8-0 1 none", "0-16 1", "0-16 2 solo, told at 8", "0-16 3", "16-17 3 melody, rests"]),
        ("bass", 1, "held", ["-8-0 1 bass", "0-16 1", "0-16 2 bass", "0-16 3", "16-17 3 bass, rests"]),
        ("melody,chords", 3, "ritardando", ["-8-0 1 chords", "0-16 1", "0-16 2 chords solo, told at 8", "0-16 3",
                                            "16-17 3 chords melody, slows 16, rests"]),
        ("melody", 1, "tag", ["-8-0 1 none", "0-16 1", "0-16 2 solo", "0-16 3", "16-49 3 melody, slows 8, rests"]),
    ],
)  # fmt: skip
def test_how_the_player_goes_through_the_events(you: str, solos: int, how: str, passages: list[str]) -> None:
    chart = parse_toml(EVENTS % (solos, how))
    told = []
    for p in route_of(chart, Settings(you=frozenset(you.split(",")))):
        parts = "" if p.parts is None else " " + (" ".join(sorted(p.parts)) or "none")
        more = f", told at {p.tells:g}" if p.tells is not None else ""
        more += f", slows {p.slows:g}" * bool(p.slows) + ", rests" * p.rests
        told.append(f"{p.start:g}-{p.end:g} {p.chorus}{parts}{more}")
        assert (p.form is not None) == (len(told) in (1, len(passages))), "an introduction has bars of its own"
    assert told == passages


@pytest.mark.parametrize(
    ("bars", "asked", "choruses"), [(7, None, 5), (8, None, 4), (31, None, 2), (32, None, 1), (33, None, 1), (8, 2, 2)]
)
def test_a_demo_lasts_for_32_bars_unless_it_is_said_how_often(bars: int, asked: int | None, choruses: int) -> None:
    text = f'format = 1\ntempo = 100\n[section.A]\nchords = "{"| C6 " * bars}|"\nmelody = "{"| c8 " * bars}|"\n'
    player, how = played_by("clean", parse_toml(text), Settings(choruses=asked))
    assert (how.choruses, how.count_in, how.tempo, how.start) == (choruses, 2, player.tempo, player.start)
    assert player.truth[-1].chorus == choruses and len(player.beats) == 4 * bars * choruses


def test_with_an_order_of_events_the_demo_goes_through_it() -> None:
    player, how = played_by("clean", parse_toml(EVENTS % (1, "held")), Settings(order="chart"))
    assert how.choruses is None and [p.start for p in player.route] == [-8.0, 0.0, 0.0, 0.0, 16.0]
    assert not played_by("clean", parse_toml(EVENTS % (1, "held")), Settings())[0].route[0].form


def test_who_trades_is_silent_while_the_companion_improvises(stand: Any) -> None:
    told = Settings(you=frozenset({"solo"}), parts=("solo", "bass"), trade=2, choruses=1)
    player, how = played_by("clean", stand.tune(), told)
    beat = 60 / player.tempo
    places = [(h.seconds - how.start) / beat % 16 for h in player.heard if h.is_note_on]
    assert places and not any(8.5 < place < 15 for place in places)
    alone, _ = played_by("clean", stand.tune(), replace(told, trade=0))
    assert any(8.5 < (h.seconds - how.start) / beat % 16 < 15 for h in alone.heard if h.is_note_on)


def a_second_a_beat(*marks: str) -> SimulatedPerformance:
    return SimulatedPerformance(
        (), tuple(TrueBeat(float(n), float(n), 1, mark) for n, mark in enumerate(marks)), 60.0, 0.0
    )


def test_what_a_median_is_taken_of_are_the_beats_that_are_held() -> None:
    """A beat is held within 70 ms, the tolerance of ``beat.f_measure`` in mir_eval."""
    off = [0.0, 0.01, -0.03, 0.07, 0.0701]
    said = [Beat(float(n), n + late, 1.0) for n, late in enumerate(off)]
    said.append(Beat(1.0, 1.05, 1.0))  # sounded twice: the nearer one counts
    found = closeness(a_second_a_beat(*[""] * 5), said)
    assert (found.beats, found.held, found.median_ms) == (5, 4, pytest.approx(20.0))
    assert closeness(a_second_a_beat("", ""), []) == demo.Closeness(2, 0, 0.0)
    assert closeness(a_second_a_beat(""), [Beat(0.0, 0.07, 1.0)]).held == 1, "70 ms are within it"


@pytest.mark.parametrize(
    ("place", "said", "held"),
    [(0.0, 0.0004, 1), (0.0, 0.004, 0), (1 / 3, 0.3333, 1), (1 / 3, 0.33, 0), (0.3333, 1 / 3, 1)],
)
def test_places_are_compared_to_a_thousandth_of_a_beat(place: float, said: float, held: int) -> None:
    player = SimulatedPerformance((), (TrueBeat(place, 1.0, 1, ""),), 60.0, 0.0)
    assert closeness(player, [Beat(said, 1.0, 1.0)]).held == held


@pytest.mark.parametrize(
    ("held", "lost"), [({0, 1, 2, 3, 4}, 0), ({0, 1, 3, 4}, 1), ({0, 1, 4}, 2), ({0, 1}, 3), (set(), 3)]
)
def test_after_how_many_beats_the_companion_is_back(held: set[int], lost: int) -> None:
    player = a_second_a_beat("", "", "resume", "", "")
    # What is sounded at the moment but elsewhere, or there but not at the moment, is no beat held.
    said = [Beat(n, n + 0.069, 1.0) for n in map(float, held)]
    said += [Beat(n + 0.01, n, 1.0) for n in map(float, range(5))] + [
        Beat(n, n + 0.071, 1.0) for n in map(float, range(5))
    ]
    assert returns(player, said) == [(1.0, lost)]


@pytest.mark.parametrize(
    ("keep", "left"), [(1, ["c", "unfinished"]), (2, ["b", "c", "unfinished"]), (9, ["a", "b", "c", "unfinished"])]
)
def test_only_the_last_demos_are_kept(tmp_path: Path, keep: int, left: list[str]) -> None:
    for name in ("b", "a", "c"):
        (tmp_path / "takes" / name).mkdir(parents=True)
        (tmp_path / "takes" / name / DATA).write_text("{}")
    (tmp_path / "takes" / "unfinished").mkdir()
    forget_older_demos(tmp_path, keep)
    assert sorted(place.name for place in (tmp_path / "takes").iterdir()) == left


def test_takes_of_demos_lie_in_a_folder_of_their_own(tmp_path: Path) -> None:
    assert demo_folder() == tmp_path / "demo"


def test_a_take_has_what_was_played_and_ordered_up_to_each_moment_in_order() -> None:
    kept: list[Any] = []
    performance = [Heard(at, 0x90, 60, 64) for at in (0.5, 1.0, 1.5)]
    take = DemoTake(SimpleNamespace(add=kept.append), performance)  # type: ignore[arg-type]
    assert take.reached == 0.0
    take.watch(1.0, [Order(0.75, "bass", 0x90, 40, 64)], [Beat(0.0, 0.9, 1.0)])
    assert [event.seconds for event in kept] == [0.5, 0.75, 0.9, 1.0]
    take.watch(0.8, [], [])
    assert take.reached == 1.0 and take.heard == performance[:2]
    take.watch(9.0, [], [])
    assert take.reached == 9.0 and take.heard == performance and kept[-1] == performance[2]


@pytest.mark.parametrize(("order", "after"), [("form", 2.0), ("chart", 10.0)])
def test_how_long_it_goes_on_after_the_last_note(order: str, after: float, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr(demo, "replay", lambda *args, until, **more: asked.append(until))
    player = replace(a_second_a_beat(*[""] * 4), heard=(Heard(1.0, 0x90, 60, 64), Heard(3.5, 0x80, 60, 0)))
    perform(parse_toml(EVENTS % (1, "held")), Settings(order=order), player, fast=True)  # type: ignore[arg-type]
    perform(parse_toml(EVENTS % (1, "held")), Settings(order=order), replace(player, heard=()), fast=True)  # type: ignore[arg-type]
    assert asked == [3.5 + after, 3.0 + after]


def test_a_demo_takes_as_long_as_the_take_that_is_kept(blues: Chart, tmp_path: Path) -> None:
    player, settings = _evening(blues, "clean")
    evening = perform(blues, settings, player, fast=True, data=tmp_path / "there")
    assert evening.take and evening.take.is_relative_to(tmp_path / "there") and not evening.interrupted
    assert evening.trouble is None and evening.error is None and read_take(evening.take).how == "ended"


@pytest.fixture
def silent_clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(demo, "now", clock)
    monkeypatch.setattr(demo.time, "sleep", clock.sleep)
    return clock


def test_what_lies_on_the_last_moment_is_heard_and_nothing_after_it(stand: Any, silent_clock: Clock) -> None:
    heard = [key for at in (1.0, 2.0, 3.0) for key in stand.strike(at, 60, 0.5)]
    begun: list[float] = []
    asked: list[float] = []

    def wishes(at: float) -> list[Any]:
        asked.append(at)
        return []

    found = play_in_time(stand.tune(), heard, Settings(), until=2.0, begins=begun.append, wishes=wishes)
    assert [h.seconds for h in found.heard] == [1.0, 1.5, 2.0]
    assert begun == [100.5] and silent_clock.seconds == pytest.approx(102.5)
    assert asked == sorted(asked) and asked[-1] == 2.0


def test_parts_without_a_channel_of_their_own_sound_on_the_first(stand: Any, silent_clock: Clock) -> None:
    sent: list[tuple[float, tuple[int, ...]]] = []

    class Sound:
        def order(self, due: float, message: tuple[int, ...]) -> None:
            sent.append((due, message))

        def wait_until(self, moment: float) -> None:
            silent_clock.sleep(max(0.0, moment - silent_clock.seconds))

    told = Settings(time="steady", start=1.0, tempo=120, parts=("bass", "click"), you=frozenset(), click="2,4")
    found = play_in_time(
        stand.tune(), stand.strike(1.2, 60), told, until=3.0, sound=Sound(), channels={"bass": 16, "click": 10}
    )
    assert [(due - 100.5, message[0] & 0xF0, message[1]) for due, message in sent if message[0] & 15 == 0] == [
        (pytest.approx(1.2), 0x90, 60), (pytest.approx(1.4), 0x80, 60)
    ]  # fmt: skip
    assert {message[0] & 15 for _, message in sent} == {0, 9, 15}
    bass = [(due - 100.5, message) for due, message in sent if message[0] & 15 == 15]
    assert bass == [
        (pytest.approx(o.seconds), (o.status | 15, o.data1, o.data2)) for o in found.orders if o.part == "bass"
    ]
    before = len(sent)
    play_in_time(stand.tune(), [], told, until=3.0, sound=Sound())
    assert {message[0] & 15 for _, message in sent[before:]} == {0}


def test_each_order_is_given_at_its_moment_and_once_all_has_ended_nothing_is_waited_for(
    stand: Any, silent_clock: Clock
) -> None:
    heard = [key for at in (1.0, 3.0) for key in stand.strike(at, 60, 0.5)]
    told = Settings(time="steady", start=0.005, tempo=120, parts=("bass",), order="open")
    steps: list[float] = []

    def watch(at: float, orders: Any, _: Any) -> None:
        steps.append(at)
        assert all(order.seconds <= at + 0.011 for order in orders)

    def wishes(at: float) -> list[Any]:
        return [Wish(at, "stop")] if at == 2.0 else []

    more = [Heard(2.0, 0xB0, 64, 0)]
    found = play_in_time(stand.tune(), sorted([*heard, *more], key=lambda h: h.seconds), told, until=60.0,
                         watch=watch, wishes=wishes)  # fmt: skip
    assert steps[0] == 0.0 and [h.seconds for h in found.heard] == [1.0, 1.5, 2.0, 3.0, 3.5]
    assert silent_clock.seconds == pytest.approx(104.0), "up to the player's last key, and not for a minute"


def test_what_a_port_is_started_with(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ports = SimpleNamespace(outputs=["Other", "Stage Grand 1", "Stage Grand 2"], api="alsa")
    monkeypatch.setattr(demo, "find_ports", lambda midi: ports)
    words, channels = demo.words_for_sender("grand", None, title="Kettle at Six", ask=None)
    assert (words.api, words.port, words.synth, words.title) == ("alsa", "Stage Grand 1", None, "Kettle at Six")
    assert words.marks == str(tmp_path / sounding_marks.FOLDER) and channels["click"] == 10
    with pytest.raises(DeviceError, match="no MIDI output is called 'organ'"):
        demo.words_for_sender("organ", None, title="", ask=None)


def test_what_the_computers_sound_is_started_with(tmp_path: Path) -> None:
    """Channels and programs from 0 (MIDI 1.0); the acoustic bass is program 33 from 1 (General MIDI level 1)."""
    words, channels = demo.words_for_sender(None, None, title="Kettle at Six", ask=None)
    assert channels == {"bass": 2, "chords": 3, "melody": 4, "solo": 4, "click": 10}
    assert words.channels == (0, 1, 2, 3, 9) and dict(words.programs)[1] == 32
    assert words.synth is not None and words.port is None and words.marks is None
