"""How long the companion goes on when the player falls silent, how it comes back, and whose time is kept.

Each promise is the project's own, in the words of its manual; the tempo is 120 throughout unless said, so that a beat
lasts half a second and a bar two, and the first downbeat is at second 2.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from math import inf
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from companion.chart.toml.read import parse_toml
from companion.messages import WISHES, Beat, Heard, Order, State
from companion.stage.ears import Ears
from companion.stage.order import OrderOfEvents
from companion.stage.pace import Pace, tempo_factor
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings

QUAVERS = """
format = 1
title = "Two Crates"
key = "C major"
metre = "4/4"
tempo = 120
feel = "straight"
form = "A"
[section.A]
chords = "| Cmaj7 | Dm7 |"
melody = "| C4 E4 | F8 |"
[[arrangement]]
section = "A"
bass = "| C, E, G, A, C E, G, A, | D, F, A, C D, F, A, C |"
"""
COUNTED: dict[str, Any] = {"tempo": 120.0, "start": 2.0}


def rehearse(chart: Any, heard: list[Heard], until: float, **more: Any) -> Recording:
    return replay(chart, heard, Settings(**(COUNTED | more)), until=until)


def beats(recording: Recording, after: float = 0.0, before: float = 1e9) -> list[Beat]:
    return [r for r in recording.reports if isinstance(r, Beat) and after <= r.seconds < before]


def states(recording: Recording) -> list[tuple[str, float]]:
    return [(r.name, r.seconds) for r in recording.reports if isinstance(r, State)]


def struck(recording: Recording, part: str, after: float, before: float) -> list[Order]:
    found = [o for o in recording.orders if o.status == 0x90 and o.part == part]
    return [o for o in found if after <= o.seconds < before]


def sounding(recording: Recording, at: float) -> set[tuple[str, int]]:
    on: set[tuple[str, int]] = set()
    for order in sorted(recording.orders, key=lambda o: o.seconds):
        if order.seconds <= at:
            (on.add if order.status == 0x90 else on.discard)((order.part, order.data1))
    return on


def falls_silent(stand: Any, beat: float, tempo: float = 120.0) -> tuple[Any, list[Heard]]:
    """The tune, broken off before a beat."""
    chart = stand.tune(tempo=tempo)
    return chart, stand.melody(chart, (2.0, 0, beat, tempo))


# follow


@pytest.mark.parametrize("treatment", ["walking", None])
def test_it_plays_on_for_a_bar_thins_to_the_bass_and_holds_after_two(stand: Any, treatment: str | None) -> None:
    chart, heard = falls_silent(stand, 32)  # a note is due on beat 32, at second 18
    recording = rehearse(chart, heard, 40.0, treatment=treatment)
    assert [name for name, _ in states(recording)] == ["playing", "thinning", "holding", "ended"]
    _, thins, holds, _ = (seconds for _, seconds in states(recording))
    assert thins == pytest.approx(20.0, abs=0.3) and holds == pytest.approx(22.0, abs=0.3)
    assert struck(recording, "bass", thins - 0.01, 22.0)
    assert not struck(recording, "chords", thins + 0.01, 22.0)
    assert not [o for o in recording.orders if o.status == 0x90 and o.seconds > holds + 0.02]
    assert not sounding(recording, holds + 0.02), "it holds its breath, not its notes"


def test_as_it_was_means_the_chords_too_but_for_an_answer(stand: Any) -> None:
    chart, heard = falls_silent(stand, 32)
    recording = rehearse(chart, heard, 20.0)
    went_on = rehearse(chart, stand.melody(chart, (2.0, 0, 64, 120)), 20.0)
    for part in ("bass", "chords"):
        plays = [(o.data1, o.seconds) for o in struck(recording, part, 17.9, 19.9)]
        planned = [(o.data1, o.seconds) for o in struck(went_on, part, 17.9, 19.9)]
        assert planned and all(any(m == n and abs(s - t) < 0.02 for n, t in plays) for m, s in planned)
        assert part == "chords" or len(plays) == len(planned)


def test_it_goes_on_at_once_with_the_note_that_was_due(stand: Any) -> None:
    chart, heard = falls_silent(stand, 32)
    heard += stand.melody(chart, (31.0, 32, 64, 120))
    recording = rehearse(chart, heard, 47.0)
    back = beats(recording, after=30.0)
    assert [b.chart_beat for b in back[:4]] == [32, 33, 34, 35]
    assert [b.seconds for b in back[1:8]] == pytest.approx([31.5 + 0.5 * n for n in range(7)], abs=0.07)
    assert struck(recording, "bass", 31.4, 33.1) and struck(recording, "chords", 31.0, 35.0)


@pytest.mark.parametrize("phrase", [0, 16, 48])
def test_it_goes_on_where_the_player_takes_up_another_phrase(stand: Any, phrase: float) -> None:
    chart, heard = falls_silent(stand, 36)
    heard += stand.melody(chart, (31.0, phrase, phrase + 16, 120))
    true = {phrase + n: 31.0 + n / 2 for n in range(16)}
    back = beats(rehearse(chart, heard, 39.0), after=30.9)
    held = {b.chart_beat for b in back if abs(true.get(b.chart_beat, 0) - b.seconds) <= 0.07}
    assert held >= {phrase + n for n in range(8, 16)}, "back within two bars, and stays"


def test_it_comes_back_at_the_players_new_tempo(stand: Any) -> None:
    chart, heard = falls_silent(stand, 32)
    heard += stand.melody(chart, (31.0, 32, 64, 100))
    back = beats(rehearse(chart, heard, 50.0), after=33.0)
    late = [b.seconds - (31.0 + (b.chart_beat - 32) * 0.6) for b in back if b.chart_beat >= 36]
    assert len(late) > 20 and max(abs(x) for x in late) < 0.07


def test_a_rest_in_the_players_own_part_is_no_silence(stand: Any) -> None:
    rest = "| C2 E2 G3 A | B2 A2 G4 | z8 | z8 | z8 | z8 | G2 B2 d3 c | B4 z4 |"
    chart = stand.chart((stand.TEN[0], rest))
    for last, thinned in ((32.0, False), (24.0, True)):
        heard = stand.melody(chart, (2.0, 0, last, 120))
        names = [name for name, _ in states(rehearse(chart, heard, 18.2))]
        assert ("thinning" in names) is thinned
    assert states(rehearse(chart, stand.melody(chart, (2.0, 0, 24, 120)), 18.2))[1] == (
        "thinning",
        pytest.approx(16.0, abs=0.3),
    )


@pytest.mark.parametrize("role", ["chords", "solo"])
def test_a_player_who_comps_or_improvises_may_rest_for_some_bars(stand: Any, role: str) -> None:
    chart = stand.tune()
    heard = [h for n in range(32) for h in stand.strike(2.0 + n / 2, 64 if n % 2 else 71)]
    parts = ("bass",) if role == "chords" else ("chords", "bass")
    recording = rehearse(chart, heard, 22.0, you=frozenset({role}), parts=parts)
    assert {name for name, _ in states(recording)} <= {"playing", "ended"}
    later = rehearse(chart, heard, 60.0, you=frozenset({role}), parts=parts)
    assert "holding" in [name for name, _ in states(later)], "not for ever"


# patient


@pytest.mark.parametrize("beat", [16, 20, 32])
def test_patient_holds_at_the_first_note_unheard_and_goes_on_with_it(stand: Any, beat: float) -> None:
    chart, heard = falls_silent(stand, beat)
    due = 2.0 + beat / 2
    again = stand.melody(chart, (due + 5.0, beat, 64, 120))
    recording = rehearse(chart, heard + again, due + 9.0, time="patient")
    waited = beats(recording, after=due - 0.2, before=due + 4.9)
    assert not waited, f"beat {beat} has not been reached"
    assert not [o for o in recording.orders if o.status == 0x90 and due + 0.1 < o.seconds < due + 4.9]
    back = beats(recording, after=due + 4.9)
    assert [b.chart_beat for b in back[:3]] == [beat, beat + 1, beat + 2]
    assert back[0].seconds == pytest.approx(due + 5.0, abs=0.02), "on the player's own note"


def test_patient_keeps_time_with_a_player_who_keeps_it(stand: Any) -> None:
    chart = stand.tune()
    recording = rehearse(chart, stand.melody(chart, (2.0, 0, 64, 120)), 34.0, time="patient")
    late = [b.seconds - (2.0 + b.chart_beat / 2) for b in beats(recording)]
    assert len(late) >= 62 and max(abs(x) for x in late) < 0.03


@pytest.mark.parametrize("gap", [0.45, 0.5, 0.6])
def test_patient_strikes_together_with_the_player_what_lies_on_their_note(stand: Any, gap: float) -> None:
    chart = stand.tune()
    bass = [36, 40, 43, 45, 40, 43, 45, 49]  # Cmaj7, then Em7 and A7
    moments = [2.0 + gap * n for n in range(len(bass))]
    heard = [h for at, midi in zip(moments, bass, strict=True) for h in stand.strike(at, midi)]
    you: dict[str, Any] = {"you": frozenset({"bass"}), "parts": ("melody",), "time": "patient"}
    melody = struck(rehearse(chart, heard, moments[-1] + 0.2, **you), "melody", 1.9, moments[-1])
    on_beats = [(moments[int(n.beat)], n.pitch.midi) for n in chart.unfold().melody if n.beat in (0, 1, 2, 4, 5, 6)]
    assert len(on_beats) == 6
    missed = [(at, midi) for at, midi in on_beats if not any(struck_at(o, at, midi) for o in melody)]
    assert not missed, "not with the player's next note"


@pytest.mark.parametrize("late", [0.2, 1.0, 4.0])
def test_patient_leads_up_in_time_to_the_note_that_it_waits_for(stand: Any, late: float) -> None:
    """A short note of the bass before the third beat of a bar, where the player looks for the melody's."""
    chart = parse_toml(QUAVERS)
    heard = [*stand.strike(2.0, 60), *stand.strike(3.0 + late, 64)]
    recording = rehearse(chart, heard, 3.3 + late, time="patient", parts=("bass",))
    moments = [o.seconds for o in struck(recording, "bass", 1.9, 9.0)]
    assert moments == pytest.approx([2.0, 2.25, 2.5, 2.75, 3.0 + late, 3.25 + late], abs=0.05)


def struck_at(order: Order, seconds: float, midi: int) -> bool:
    """Whether that note is struck so near a moment that it sounds as one with what is struck then."""
    return order.data1 == midi and abs(order.seconds - seconds) < 0.05


@pytest.mark.parametrize("gap", [0.9, 1.7, 4.0])
def test_patient_goes_along_with_someone_who_looks_for_every_note(stand: Any, gap: float) -> None:
    chart = stand.tune()
    notes = [n for n in chart.unfold().melody if n.beat < 32]
    moments = [2.0 + gap * k for k in range(len(notes))]
    heard = [h for at, n in zip(moments, notes, strict=True) for h in stand.strike(at, n.pitch.midi)]
    sounded = beats(rehearse(chart, heard, moments[-1] + 0.1, time="patient"))
    on_time = [
        any(b.chart_beat == float(n.beat) and abs(b.seconds - at) < 0.07 for b in sounded)
        for at, n in zip(moments, notes, strict=True)
        if n.beat.denominator == 1
    ]
    assert sum(on_time) >= len(on_time) - 1, "each beat on its own note, however long that took"


@pytest.mark.parametrize("pause", [1.0, 2.0, 3.0, 5.0, 5.13, 10.0])
def test_patient_takes_the_note_that_was_due_for_itself_and_for_no_other_place(stand: Any, pause: float) -> None:
    chart, heard = falls_silent(stand, 16)
    heard += stand.melody(chart, (10.0 + pause, 16, 32, 120))
    back = beats(rehearse(chart, heard, 17.9 + pause, time="patient"), after=9.9 + pause)
    assert [b.chart_beat for b in back] == [16 + n for n in range(16)]


# steady


@pytest.mark.parametrize("what", ["nothing", "melody", "faster", "noise"])
def test_steady_keeps_the_tempo_whatever_the_player_does(stand: Any, what: str) -> None:
    chart = stand.tune()
    heard = {
        "nothing": [],
        "melody": stand.melody(chart, (2.0, 0, 64, 120)),
        "faster": stand.melody(chart, (2.3, 8, 24, 150), (20.0, 0, 16, 90)),
        "noise": [h for n in range(50) for h in stand.strike(2.0 + n * 0.37, 40 + 7 * n % 40)],
    }[what]
    recording = rehearse(chart, heard, 36.1, time="steady")
    assert [b.chart_beat for b in beats(recording)] == [n % 64 for n in range(69)]
    assert [b.seconds for b in beats(recording)] == pytest.approx([2.0 + n / 2 for n in range(69)])
    assert [name for name, _ in states(recording)] == ["playing", "ended"]


def test_steady_without_a_count_in_takes_the_players_tempo_and_then_keeps_it(stand: Any) -> None:
    chart = stand.tune()
    heard = stand.melody(chart, (2.0, 0, 24, 126), (2.0 + 24 * 60 / 126, 24, 64, 100))
    recording = replay(chart, heard, Settings(time="steady"), until=34.0)
    seconds = [b.seconds for b in beats(recording)]
    gaps = [b - a for a, b in itertools.pairwise(seconds[1:])]  # it comes in on the player's own beat
    assert len(gaps) > 50 and gaps == pytest.approx([gaps[0]] * len(gaps))
    assert 60 / gaps[0] == pytest.approx(126, rel=0.02)


# announcing


def test_a_beat_is_announced_once(stand: Any) -> None:
    chart = stand.tune()
    recording = rehearse(chart, stand.melody(chart, (2.0, 0, 128, 120)), 65.9)
    said = [(b.chorus, b.chart_beat) for b in beats(recording)]
    assert len(said) == len(set(said)) == 128


def test_beats_held_through_a_silence_are_announced_again_only_by_resuming_on_them(stand: Any) -> None:
    chart, heard = falls_silent(stand, 32)
    recording = rehearse(chart, heard + stand.melody(chart, (31.0, 32, 64, 120)), 46.9)
    said = [b.chart_beat for b in beats(recording)]
    twice = {beat for beat in said if said.count(beat) > 1}
    assert twice <= set(range(32, 41)), "only what it played on into while the player was silent"
    assert max(said.count(beat) for beat in said) <= 2


def test_how_sure_it_is_falls_in_a_silence_and_is_right_when_all_goes_well(stand: Any) -> None:
    chart, heard = falls_silent(stand, 32)
    recording = rehearse(chart, heard, 30.0)
    settled = [b.sure for b in beats(recording, after=6.0, before=17.9)]
    assert min(settled) > 0.9
    assert beats(recording)[-1].sure < min(settled) - 0.2


# Worked out, for a player of whom everything is known: at beat 8 at second 10, at 120 a minute


@pytest.fixture
def paced(stand: Any) -> Callable[..., Pace]:
    """A pace whose follower believes what is told of it; the tune has four bars with a note on each beat."""
    chart = stand.chart(("| C6 | Am7 | Dm7 | G7 |", "| c2 d2 e2 f2 | e2 d2 c2 B2 | A2 B2 c2 d2 | B2 A2 G2 B2 |"))
    form = chart.unfold()

    def pace(you: str = "melody", *, time: Any = "follow", alike: float = 0.0, begun: bool = True, **lead: Any) -> Pace:
        told = Settings(you=frozenset({you}), tempo=120.0, start=2.0, time=time)
        real = Ears(form, told, OrderOfEvents(form, told, chart)).follower
        assert real.lead is not None
        known = {"seconds": 10.0, "beat": 8.0, "speed": 2.0, "mass": 1.0, "spread": 0.06, "speed_spread": 0.01,
                 "free": 0.0, "stopped": 0.0, "heard": 7, **lead}  # fmt: skip
        player = SimpleNamespace(
            lead=replace(real.lead, **known), begun=begun, habits=real.habits, places=real.places,
            mass_alike=lambda: alike, look=lambda now: None,
        )  # fmt: skip
        return Pace(form, told, player)  # type: ignore[arg-type]

    return pace


@pytest.mark.parametrize(
    ("mass", "stopped", "spread", "speed", "sure"),
    [
        # Within 70 ms of a normal distribution of sqrt((spread / speed)^2 + 14 ms^2), to the power 0.6.
        (1.0, 0.0, 0.06, 2.0, 0.9792), (0.9, 0.0, 0.06, 2.0, 0.9192), (1.0, 0.5, 0.06, 2.0, 0.646),
        (1.0, 0.0, 0.2, 2.0, 0.6691), (1.0, 0.0, 0.06, 1.0, 0.8375), (0.8, 0.25, 0.1, 2.5, 0.6916),
        (1.0, 0.0, 0.0, 2.0, 1.0), (0.0, 0.0, 0.06, 2.0, 0.0),
    ],
)  # fmt: skip
def test_how_sure_a_beat_is(
    paced: Callable[..., Pace], mass: float, stopped: float, spread: float, speed: float, sure: float
) -> None:
    assert paced(mass=mass, stopped=stopped, spread=spread, speed=speed).sure() == pytest.approx(sure, abs=2e-4)


@pytest.mark.parametrize(("stopped", "alive"), [(0.0, True), (0.59, True), (0.6, False), (1.0, False)])
def test_from_which_probability_a_player_has_stopped(paced: Callable[..., Pace], stopped: float, alive: bool) -> None:
    assert paced(stopped=stopped).alive() == alive


@pytest.mark.parametrize(
    ("notes", "more", "ready"),
    [
        (2, {}, False), (3, {}, True), (3, {"speed_spread": 0.139}, True),
        (3, {"speed_spread": 0.14}, False), (3, {"speed_spread": 0.141}, False),
        (3, {"mass": 0.6}, False), (3, {"mass": 0.61}, True), (3, {"mass": 0.1, "alike": 0.61}, True),
        (3, {"mass": 0.1, "alike": 0.6}, False),
    ],
)  # fmt: skip
def test_when_enough_is_known_to_come_in(
    paced: Callable[..., Pace], notes: int, more: dict[str, Any], ready: bool
) -> None:
    """Three notes, the tempo within seven in a hundred, the place more likely than 0.6 (configs/following.toml)."""
    pace = paced(**more)
    for n in range(notes):
        pace.hear(9.0 + n / 10, 72)
    assert pace.ready() == ready


@pytest.mark.parametrize(
    ("joined", "seconds", "notes", "long"),
    [
        (False, 4.0, 2, False),
        (False, 4.1, 2, True),
        (False, 9.0, 1, False),
        (True, 2.0, 2, False),
        (True, 2.1, 2, True),
    ],
)
def test_how_long_a_player_is_left_to_play_alone(
    paced: Callable[..., Pace], joined: bool, seconds: float, notes: int, long: bool
) -> None:
    """Two bars at first, one when they had been joined before; a bar lasts two seconds here."""
    pace = paced(mass=0.1)
    if joined:
        pace.hear(0.5, 72)
        pace.together()
    for n in range(notes):
        pace.hear(1.0 + n * seconds, 72)
    assert pace.played_alone_long(1.0 + seconds) == long


def test_whoever_is_joined_is_alone_no_longer(paced: Callable[..., Pace]) -> None:
    pace = paced(mass=0.1)
    for at in (1.0, 2.0, 9.0):
        pace.hear(at, 72)
    assert pace.played_alone_long(9.0) and pace.alone_since == 1.0 and pace.heard_at == 9.0
    assert pace.ready(), "at any place rather than none"
    pace.together()
    assert not pace.played_alone_long(99.0)
    pace.hear(10.0, 72)
    assert pace.alone_since == 10.0 and pace.notes_alone == 1 and pace.notes == 4


@pytest.mark.parametrize(
    ("more", "likely"),
    [({"mass": 0.3}, False), ({"mass": 0.31}, True), ({"mass": 0.0, "alike": 0.31}, True),
     ({"mass": 0.0, "alike": 0.3}, False), ({"mass": 1.0, "time": "steady"}, False)],
)  # fmt: skip
def test_from_which_probability_another_place_is_gone_to(
    paced: Callable[..., Pace], more: dict[str, Any], likely: bool
) -> None:
    assert paced(**more).place_is_likely() == likely


@pytest.mark.parametrize(
    ("hesitations", "displaced", "longest"),
    [(0.0, 0.0, 0.7), (0.17, 0.0, 0.7), (0.19, 0.0, 2.6), (0.19, 2.0, 0.7), (0.25, 2.0, 2.6)],
)
def test_who_often_looks_for_a_note_is_waited_for_longer(
    paced: Callable[..., Pace], hesitations: float, displaced: float, longest: float
) -> None:
    """Two and a half times as often as usual, and more often than their phrases are displaced."""
    pace = paced()
    pace.follower.habits = replace(pace.follower.habits, hesitations=hesitations, displaced=displaced)  # type: ignore[misc]
    assert pace.longest == longest


@pytest.mark.parametrize(
    ("beat", "more", "looked", "heard_at", "bars"),
    [
        # The first note that is missing is the one on beat 8; of whoever strikes others the silence is shorter.
        (12.0, {}, 12.0, 9.5, 1.0), (14.0, {}, 13.0, 9.5, 1.5), (14.0, {}, 11.0, 9.5, 0.75), (8.0, {}, 10.0, 9.5, 0.0),
        (12.0, {"heard": 9}, 12.0, 9.5, 0.5), (12.0, {"time": "steady"}, 12.0, 9.5, 0.0),
        # In the count-in nothing was due.
        (4.0, {"begun": False, "heard": -5}, 4.0, 0.0, 1.0), (4.0, {"begun": False, "heard": 0}, 4.0, 0.0, 0.75),
        # Where nothing is promised the part may rest for eight bars.
        (12.0, {"you": "solo", "heard": 0}, 12.0, 4.0, 3.0 - 8),
        (12.0, {"you": "solo", "heard": 0}, 12.0, 9.5, 1.25 - 8),
    ],
)  # fmt: skip
def test_for_how_many_bars_a_player_has_been_silent(
    paced: Callable[..., Pace], beat: float, more: dict[str, Any], looked: float, heard_at: float, bars: float
) -> None:
    pace = paced(**more)
    pace.heard_at = heard_at
    pace.look(looked)
    if more.get("you") == "solo":  # places between the beats count as well
        beat = pace.follower.places.place_at(0) + beat
    assert pace.silent_bars(beat) == pytest.approx(bars)


@pytest.mark.parametrize(
    ("beat", "more", "now", "moment"),
    [
        # On beat 8, at second 10, a note is promised: it is waited for one and a half times its doubt beyond 25 ms, or
        # six times where the time is quite free; 0.7 beats at most (configs/following.toml).
        (8.0, {}, 10.2, 10.0 + 1.5 * (0.03 - 0.025)), (8.0, {"spread": 0.05}, 10.2, 10.0),
        (8.0, {"spread": 0.056}, 10.2, 10.0 + 1.5 * 0.003), (8.0, {"free": 0.5}, 10.2, 10.0 + 3.75 * 0.005),
        (8.0, {"free": 1.0}, 10.2, 10.0 + 6 * 0.005), (8.0, {"spread": 2.0}, 10.2, 10.0 + 0.7 / 2),
        (8.0, {"speed": 1.0, "spread": 2.0}, 10.2, 10.0 + 0.7), (8.0, {"hesitations": 0.19}, 10.2, 10.0 + 2.6 / 2),
        # What isn't on the beat by a fiftieth promises nothing there.
        (8.01, {}, 10.2, 10.0125), (7.99, {}, 10.2, 10.0025), (8.03, {}, 10.2, 10.015), (7.97, {}, 10.2, 9.985),
        # The doubt of the tempo grows with the time ahead; after a note that was waited for in vain time goes on.
        (9.0, {"heard": 8, "speed_spread": 0.2}, 10.2, 10.5 + 1.5 * (0.1166190379 / 2 - 0.025)),
        (9.0, {}, 10.2, 10.5), (8.5, {}, 10.2, 10.25),
        # A note that was heard already is struck with, if their time is free.
        (8.0, {"heard": 8, "free": 0.51}, 9.9, 9.9), (8.0, {"heard": 8, "free": 0.5}, 9.9, 10.0),
        (8.0, {"heard": 8, "free": 0.51}, 10.1, 10.0), (8.0, {"heard": 9, "free": 0.6}, 9.9, 9.9),
        # The last chord is waited for by a beat; in the count-in, or where the companion leads, nothing is.
        (8.0, {"fermata": True}, 10.2, 10.5), (8.0, {"fermata": True, "led": True}, 10.2, 10.5),
        (8.0, {"led": True, "spread": 2.0}, 10.2, 10.0), (8.0, {"begun": False, "spread": 2.0}, 10.2, 10.0),
        (8.0, {"time": "steady", "spread": 2.0}, 10.2, 6.0),
    ],
)  # fmt: skip
def test_when_a_beat_is_due(
    paced: Callable[..., Pace], beat: float, more: dict[str, Any], now: float, moment: float
) -> None:
    known = dict(more)
    led, fermata = known.pop("led", False), known.pop("fermata", False)
    hesitations = known.pop("hesitations", None)
    pace = paced(**known)
    if hesitations is not None:
        pace.follower.habits = replace(pace.follower.habits, hesitations=hesitations)  # type: ignore[misc]
    pace.expect(led=led, fermata=fermata)
    assert pace.foreseen(beat, now) == (pytest.approx(moment), inf)


@pytest.mark.parametrize(
    ("beat", "more", "moment", "waits_at"),
    [
        # Time stands still just before the note on beat 8, also for what comes after it.
        (8.0, {}, 10.0, 7.98), (8.5, {}, 10.25, 7.98), (9.0, {}, 10.5, 8.98),
        (8.5, {"heard": 8}, 10.25, inf), (8.0, {"heard": 8}, 10.0, inf), (8.0, {"begun": False}, 10.0, 7.98),
    ],
)  # fmt: skip
def test_patient_waits_at_the_note_that_is_promised_where_none_is_written(
    paced: Callable[..., Pace], beat: float, more: dict[str, Any], moment: float, waits_at: float
) -> None:
    pace = paced(time="patient", **more)
    pace.expect_written(False, 8.0, 10.0)
    assert pace.lead() is pace.follower.lead
    assert pace.foreseen(beat, 10.2) == (moment, pytest.approx(waits_at))


def test_patient_knows_the_place_by_the_note_that_it_waits_for(paced: Callable[..., Pace]) -> None:
    """The tune begins at second 2; its first note hasn't come, however sure the follower is of another place."""
    pace = paced(time="patient", mass=0.2, stopped=0.9, free=0.8)
    pace.look(3.0)
    lead = pace.lead()
    assert lead and (lead.seconds, lead.beat, lead.speed) == (3.0, 0.0, 2.0)
    assert (lead.mass, lead.spread, lead.free, lead.stopped) == (1.0, pytest.approx(0.03), 0.0, 0.0)
    assert pace.alive() and pace.place_is_likely() and pace.silent_bars(99.0) == 0.0
    assert pace.foreseen(9.0, 3.0) == (pytest.approx(6.5), pytest.approx(-0.02))
    pace.expect(led=True, fermata=False)
    assert pace.foreseen(9.0, 3.0).waits_at == inf
    pace.hear(3.5, 72)
    pace.look(3.75)
    lead = pace.lead()
    assert lead and (lead.seconds, lead.beat) == (3.75, pytest.approx(0.5))


def test_before_anything_is_known_nothing_is_due_sure_or_missed(paced: Callable[..., Pace]) -> None:
    pace = paced()
    pace.follower.lead = None  # type: ignore[misc]
    assert pace.foreseen(8.0, 10.0) == (inf, inf)
    assert pace.sure() == pace.silent_bars(8.0) == 0.0
    assert not pace.alive() and not pace.ready() and not pace.place_is_likely() and not pace.played_alone_long(99.0)


@pytest.mark.parametrize(
    ("promised", "own", "bars"),
    [
        # Five beats have passed since the last note heard, four since the first that wasn't; a bar has four.
        (5, False, 1.0), (4, False, 1.25 - 2), (4, True, 1.25 - 8), (0, True, 1.25 - 8), (20, True, 1.0),
    ],
)  # fmt: skip
def test_where_less_than_a_quarter_of_the_places_is_promised_the_player_may_rest(
    paced: Callable[..., Pace], promised: int, *, own: bool, bars: float
) -> None:
    """Eight bars in a part that is free by itself, two where the melody is improvised over (configs/following.toml)."""
    pace = paced()
    strike = np.array([0.95] * promised + [0.85] * (20 - promised))
    places = SimpleNamespace(strike=strike, count=20, place_at=float)
    lead = pace.follower.lead
    assert lead is not None
    pace.follower.lead = replace(lead, reading=SimpleNamespace(places=places))  # type: ignore[misc,arg-type]
    if own:
        pace.follower.places = places  # type: ignore[misc,assignment]
    pace.heard_at = 9.0
    pace.look(12.0)
    assert pace.silent_bars(12.0) == pytest.approx(bars)


def test_after_a_bar_of_silence_it_thins_and_after_two_it_holds() -> None:
    assert (Pace.THIN, Pace.HOLD) == (1, 2)


@pytest.mark.parametrize("wish", WISHES)
def test_by_how_much_the_tempo_changes(wish: Any) -> None:
    """Five in a hundred, and as much back (configs/signals.toml)."""
    assert tempo_factor(wish) == {"faster": 1.05, "slower": 1 / 1.05}.get(wish, 1.0)


@pytest.mark.parametrize(("tempo", "speed"), [(90.0, 1.5), (None, 2.0)])
def test_steady_time_is_the_wished_tempo_or_else_the_charts(stand: Any, tempo: float | None, speed: float) -> None:
    chart = stand.tune(tempo=120)
    told = Settings(tempo=tempo, start=2.0, time="steady")
    form = chart.unfold()
    lead = Pace(form, told, Ears(form, told, OrderOfEvents(form, told, chart)).follower).lead()
    assert lead and (lead.speed, lead.seconds, lead.beat) == (speed, 2.0, 0.0)


def test_in_steady_time_the_clock_goes_on_from_where_it_is_at_another_tempo(paced: Callable[..., Pace]) -> None:
    pace = paced(time="steady", mass=0.2, stopped=0.9)
    lead = pace.lead()
    assert lead and (lead.seconds, lead.beat, lead.speed, lead.mass, lead.stopped) == (2.0, 0.0, 2.0, 1.0, 0.0)
    assert pace.change_tempo(6.0, 1.05)
    lead = pace.lead()
    assert lead and (lead.seconds, lead.beat, lead.speed) == (6.0, 8.0, pytest.approx(2.1))
    assert pace.change_tempo(7.0, 1 / 1.05)
    lead = pace.lead()
    assert lead and (lead.beat, lead.speed) == (pytest.approx(10.1), pytest.approx(2.0))
    assert paced().change_tempo(6.0, 1.05) is False, "where the player leads"
