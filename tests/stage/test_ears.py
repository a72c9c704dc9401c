"""By what is listened in each stretch, from which beat on, and where a silent player is taken to go along.

The tune has an introduction of four bars, a head, two choruses of solos, the head again and a tag; a chorus has 32
beats, and the melody's last note lies on the 28th.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from companion.chart.model import Chart, Event
from companion.stage.ears import Ears, _heard_as
from companion.stage.order import OrderOfEvents
from companion.stage.settings import Settings

WHOLE = (Event("introduction", how="vamp", bars=4), Event("head"), Event("solos", 2), Event("head"))


@pytest.fixture(scope="module")
def tunes(stand: Any) -> Callable[..., Chart]:
    def tune(*events: Event, how: str = "tag", sections: tuple[str, str] = stand.TEN, **head: Any) -> Chart:
        return replace(stand.chart(sections, **head), events=events or (*WHOLE, Event("ending", how=how)))

    return tune


def ears_for(chart: Chart, **more: Any) -> Ears:
    told = Settings(**{"tempo": 120.0, "start": 10.0, "order": "chart", **more})
    return Ears(chart.unfold(), told, OrderOfEvents(chart.unfold(), told, chart))


@pytest.mark.parametrize(
    ("beat", "kind", "start"),
    [
        (-16.0, "introduction", -16), (-1.1, "introduction", -16), (-1.0, "head", 0),  # a beat before the head
        (0.0, "head", 0), (28.9, "head", 0), (29.0, "solos", 32),  # a beat after the melody's last note
        (63.9, "solos", 32), (64.0, "solos", 64), (94.9, "solos", 64), (95.0, "head", 96),
        (126.9, "head", 96), (127.0, "ending", 128),  # a beat before the ending, however early the melody is over
    ],
)  # fmt: skip
def test_from_which_beat_another_event_is_listened_for(
    tunes: Callable[..., Chart], beat: float, kind: str, start: float
) -> None:
    found = _heard_as(ears_for(tunes()).tune, beat)
    assert (found.kind, found.start) == (kind, start)


def test_a_pickup_and_a_long_last_note_move_what_is_listened_for(tunes: Callable[..., Chart], stand: Any) -> None:
    pickup = ears_for(tunes(sections=(stand.TEN[0], "GA" + stand.TEN[1]))).tune
    assert [_heard_as(pickup, beat).kind for beat in (-2.1, -2.0, 93.9, 94.0)] == [
        "introduction",
        "head",
        "solos",
        "head",
    ]
    late = ears_for(tunes(sections=(stand.TEN[0], stand.TEN[1].replace("B4 z4 |", "z6 B2 |")))).tune
    assert [_heard_as(late, beat).kind for beat in (31.9, 32.0, 127.9, 128.0)] == ["head", "solos", "head", "ending"]
    silent = ears_for(tunes(sections=(stand.TEN[0], ""))).tune
    assert [_heard_as(silent, beat).kind for beat in (31.9, 32.0)] == ["head", "solos"]
    assert [_heard_as(silent, beat).kind for beat in (126.9, 127.0)] == ["head", "ending"]
    solo_to_ending = ears_for(tunes(Event("head"), Event("solos"), Event("ending", how="tag"))).tune
    assert [_heard_as(solo_to_ending, beat).kind for beat in (62.9, 63.0)] == ["solos", "ending"]


def test_in_six_eight_a_beat_is_a_dotted_quarter(tunes: Callable[..., Chart]) -> None:
    sections = ("| C6 | F6 | G7 | C6 |", "| ceg gec | f6 | g6 | c3 z3 |")
    tune = ears_for(tunes(sections=sections, metre="6/8", feel="straight")).tune
    assert [_heard_as(tune, beat).kind for beat in (-1.6, -1.5, 10.4, 10.5)] == [
        "introduction",
        "head",
        "head",
        "solos",
    ]


def test_whether_another_event_has_begun(tunes: Callable[..., Chart]) -> None:
    ears = ears_for(tunes())
    assert ears.stretch.kind == "introduction" and ears.since == float("-inf")
    assert not ears.go_on(-4.0, 8.0) and ears.since == float("-inf")
    assert ears.go_on(0.0, 10.0) and (ears.stretch.kind, ears.since) == ("head", 10.0)
    assert not ears.go_on(31.0, 25.5) and ears.since == 10.0
    assert ears.go_on(32.0, 26.0) and ears.go_on(64.0, 42.0), "each chorus of solos is told"
    assert ears.stretch.time == 2


def test_what_is_listened_for_changes_once(tunes: Callable[..., Chart]) -> None:
    ears = ears_for(tunes())
    assert [ears.switch(beat, 10 + beat / 2) for beat in (-2.0, -1.0, 0.0)] == [False, True, False]
    ears.go_on(0.0, 10.0)
    assert [ears.switch(beat, 10 + beat / 2) for beat in (28.0, 29.0, 30.0)] == [False, True, False]


def test_after_a_solo_head_and_solo_are_listened_for_until_it_is_clear_which_it_is(tunes: Callable[..., Chart]) -> None:
    ears = ears_for(tunes())
    for beat in (0.0, 32.0, 64.0):
        ears.go_on(beat, 10 + beat / 2)
        ears.switch(beat, 10 + beat / 2)
    assert [ears.switch(beat, 10 + beat / 2) for beat in (94.0, 95.0, 96.0)] == [False, False, False]
    ears.go_on(96.0, 58.0)
    for beat in (97.0, 100.0, 104.0, 108.0):
        assert not ears.recognise(beat) and not ears.switch(beat, 10 + beat / 2), "nothing can be said yet"
    assert not ears.recognise(112.0), "after four bars it is the head"
    assert ears.switch(112.0, 66.0) and not ears.switch(113.0, 66.5)


@pytest.mark.parametrize(("right", "clear"), [(True, True), (False, False)])
def test_the_head_is_clear_as_soon_as_its_notes_are_heard(
    tunes: Callable[..., Chart], stand: Any, right: bool, clear: bool
) -> None:
    chart = tunes()
    ears = ears_for(chart)
    for beat in (0.0, 32.0, 64.0, 95.0, 96.0):
        ears.go_on(beat, 10 + beat / 2)
        ears.switch(beat, 10 + beat / 2)
    for note in chart.unfold().melody:
        if note.beat < 8:
            now = 58 + float(note.beat) / 2
            ears.follower.set_position(now, 96 + float(note.beat), 2.0)
            ears.hear(now, note.pitch.midi + (0 if right else 6), 64)
    mistaken = ears.recognise(104.0)
    assert (ears.stretch.kind, mistaken) == ("head", not right)
    assert ears.switch(104.0, 62.0) == clear
    if mistaken:  # one more chorus of solos, and the head after it
        assert [(s.kind, float(s.start)) for s in ears.tune.plan[4:6]] == [("solos", 96.0), ("head", 128.0)]


@pytest.mark.parametrize(
    ("beat", "quiet", "more", "leads"),
    [
        (-8.0, 1.3, {}, True), (-8.0, 1.2, {}, False),  # beats since the last note, in the introduction
        (-17.0, 9.0, {}, False),  # in the count-in
        (-8.0, 9.0, {"time": "steady"}, False), (-8.0, 9.0, {"time": "patient"}, True),
        (8.0, 9.0, {}, False), (8.0, 9.0, {"ours": True}, True),  # in the head only in its own turn
    ],
)  # fmt: skip
def test_where_a_silent_player_is_taken_to_go_along(
    tunes: Callable[..., Chart], beat: float, quiet: float, more: dict[str, Any], leads: bool
) -> None:
    ours = more.pop("ours", False)
    ears = ears_for(tunes(), latency=0.1, **more)
    if beat >= 0:
        ears.go_on(beat, 10 + beat / 2)
    assert ears.lead_on(beat, 30.0, quiet, ours) == leads
    lead = ears.follower.lead
    assert lead is not None and (lead.seconds == 30.0) == leads
    if leads:
        assert lead.beat == pytest.approx(beat - 0.2) and lead.speed == pytest.approx(2.0)
        assert lead.spread == pytest.approx(0.15 if ours else 0.06, rel=0.01)


def test_in_six_eight_a_silence_is_counted_in_its_own_beats(tunes: Callable[..., Chart]) -> None:
    sections = ("| C6 | F6 | G7 | C6 |", "| ceg gec | f6 | g6 | c3 z3 |")
    chart = tunes(sections=sections, metre="6/8", feel="straight")
    assert [ears_for(chart).lead_on(-6.0, 30.0, quiet) for quiet in (1.79, 1.81)] == [False, True]


def test_through_a_ritardando_a_silent_player_is_taken_along_ever_slower(tunes: Callable[..., Chart]) -> None:
    """One who improvises is silent while the companion has the melody."""
    told: dict[str, Any] = {"you": frozenset({"solo"}), "parts": ("melody", "bass")}
    ears = ears_for(tunes(Event("head"), Event("ending", how="ritardando")), **told)
    slows = ears.tune.ritardando
    assert slows is not None and slows.high - slows.low == 16.0
    speeds = []
    for beat in (slows.low - 4, slows.low + 4, slows.low + 12):
        before = ears.follower.lead
        assert before is not None and ears.lead_on(beat, 40.0 + beat, 4.0)
        after = ears.follower.lead
        assert after is not None
        speeds.append(after.speed / before.speed)
    assert speeds == pytest.approx([1.0, slows.slower(slows.low + 4, 1.0), slows.slower(slows.low + 12, 1.0)])
    assert speeds[2] < speeds[1] < 1


@pytest.mark.parametrize(
    ("how", "off", "heard_at", "awaits"),
    [
        ("ritardando", 0.0, 41.0, True), ("ritardando", 1.0, 41.0, False), ("ritardando", -1.0, 41.0, False),
        ("ritardando", 0.0, 40.0, False), ("ritardando", 0.0, 39.0, False),  # nothing was heard since it began
        ("held", 0.0, 41.0, False),  # it doesn't slow down
    ],
)  # fmt: skip
def test_the_last_chord_is_awaited_of_whoever_played_in_the_ritardando(
    tunes: Callable[..., Chart], how: str, off: float, heard_at: float, awaits: bool
) -> None:
    ears = ears_for(tunes(Event("head"), Event("ending", how=how)))
    hold = ears.tune.hold
    assert hold is not None
    assert not ears.awaits(hold + off, heard_at), "not in the head"
    ears.go_on(hold, 40.0)
    assert ears.awaits(hold + off, heard_at) == awaits


def test_without_an_order_nothing_is_awaited(stand: Any) -> None:
    assert not ears_for(stand.tune(), order="form").awaits(64.0, 1e9)


@pytest.mark.parametrize(
    ("likely", "believed"),
    [
        ([0.7, 0.7, 0.7], [False, False, False]), ([0.71, 0.71], [False, True]),
        ([0.9, 0.5, 0.9], [False, False, False]), ([0.9, 0.9, 0.3, 0.29], [False, True, True, False]),
        ([0.9, 0.9, 0.1, 0.9, 0.9], [False, True, False, False, True]),
    ],
)  # fmt: skip
def test_a_fill_is_no_solo(
    tunes: Callable[..., Chart], monkeypatch: pytest.MonkeyPatch, likely: list[float], believed: list[bool]
) -> None:
    """More than 0.7 likely at two bar lines running, and until it is less than 0.3 (configs/following.toml)."""
    ears, probabilities = ears_for(tunes()), iter(likely)
    monkeypatch.setattr(ears.follower, "improvised", lambda: next(probabilities))
    assert [ears.improvises() for _ in likely] == believed


def manner_of(ears: Ears, beat: float) -> tuple[float, float, float]:
    manner = ears._of(ears.tune.at(beat)).manner
    return manner.halt, manner.pause, manner.leap


def test_where_nobody_leaps_and_where_a_player_looks_for_their_notes(tunes: Callable[..., Chart]) -> None:
    follow, patient = ears_for(tunes()), ears_for(tunes(), time="patient")
    usual = manner_of(follow, 1.0)
    assert usual[2] > 1e-5
    for beat in (-1.0, 33.0, 129.0):
        assert manner_of(follow, beat)[2] == manner_of(patient, beat)[2] == 1e-12
    assert manner_of(patient, 1.0) == (0.8, 0.4, 0.0002)
    assert manner_of(ears_for(tunes(), time="patient", you=frozenset({"chords"})), 1.0)[0] < 0.8
    assert manner_of(ears_for(tunes(), time="patient", you=frozenset({"bass"})), 1.0)[0] == 0.8
    closing = follow._of(follow.tune.at(129.0)).manner
    assert [way.share for way in closing.freedoms] == [0.4, 0.3, 0.3] and closing.loosening == 0.01


def test_where_two_improvise_in_turn_nobody_leaps(stand: Any) -> None:
    """Round and round; with an order of events the head is played as ever."""
    for trade, you, leap in ((4, "solo", False), (0, "solo", True), (4, "melody", True)):
        ears = ears_for(stand.tune(), order="form", trade=trade, you=frozenset({you}))
        assert (manner_of(ears, 1.0)[2] > 1e-9) == leap


def test_what_is_listened_by_is_made_once_and_may_be_made_ahead(tunes: Callable[..., Chart]) -> None:
    ears = ears_for(tunes())
    solos = ears.tune.at(33.0)
    made = ears.prepare(2)()
    ahead = made._of(solos)
    ears.adopt(made)
    assert ears._of(solos) is ahead is ears._of(solos)
    other = ears_for(tunes())
    late = other.prepare(2)
    mine = other._of(solos)  # meanwhile it was needed here
    other.adopt(late())
    assert other._of(solos) is mine


def test_in_an_introduction_a_silent_melody_tells_nothing(tunes: Callable[..., Chart]) -> None:
    chart = tunes(Event("introduction", how="last", bars=4), Event("head"), Event("ending", how="tag"))
    ears = ears_for(chart)
    assert ears.tune.at(-4.0).form.melody and not ears._of(ears.tune.at(-4.0)).form.melody
    assert ears._of(ears.tune.at(4.0)).form.melody
