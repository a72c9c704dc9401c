"""What the companion does because of how the player plays, as each note is struck: at 120 a minute, over Cmaj7.

A player who comps an E flat and a B flat means C minor; E and B then clash with them.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from companion.arrange.part import Note
from companion.chart.model import Event
from companion.messages import Order
from companion.music.pitch import pitch_in_key
from companion.stage.band import Band, Cue
from companion.stage.interplay import Interplay
from companion.stage.order import OrderOfEvents
from companion.stage.settings import Settings

CHANGES = "| Cmaj7 | % | Fmaj7 | % | Dm7 | % | G7 | % |"
SPEED = 2.0


def interplay(
    stand: Any, you: str = "chords", parts: str = "melody,bass", *, feel: str = "straight", **more: Any
) -> Interplay:
    told = Settings(
        you=frozenset(you.split(",")),
        parts=tuple(parts.split(",")),
        tempo=120.0,
        start=0.0,
        **more,  # type: ignore[arg-type]
    )
    chart = stand.chart((CHANGES, ""), feel=feel)
    if more.get("order") == "chart":
        chart = replace(chart, events=(Event("head"), Event("ending", how="tag")))
    tune = OrderOfEvents(chart.unfold(), told, chart)
    return Interplay(chart.unfold(), told, tune, Band(chart.unfold(), told, tune))


def cue(beat: float, midi: int, part: str, length: float = 1.0) -> Cue:
    note = Note(Fraction(beat).limit_denominator(24), Fraction(length), pitch_in_key(midi), part)  # type: ignore[arg-type]
    return Cue(beat, beat + length, note)


def another_chord(found: Interplay, beat: float) -> None:
    for midi in (51, 58):
        found.key_down(beat / SPEED, beat, SPEED, midi)


def told(orders: list[Order]) -> list[tuple[str, float, int]]:
    return [("on" if o.status == 0x90 else "off", round(o.seconds, 4), o.data1) for o in orders]


@pytest.mark.parametrize(
    ("part", "ends"),
    [("chords", 1.1), ("solo", 1.1), ("melody", 1.475), ("bass", 2.5)],  # the melody three quarters of a beat later
)
def test_what_clashes_ends_and_a_melody_note_is_not_dwelt_on(stand: Any, part: str, ends: float) -> None:
    found = interplay(stand, latency=0.1)
    found.band.strike(cue(1.0, 64, part, 4.0), 0.5, SPEED)
    found.band.strike(cue(1.0, 67, part, 4.0), 0.5, SPEED)
    assert found.give_way(0.6, 1.2, SPEED, []) == []
    another_chord(found, 2.0)
    found.give_way(1.0, 2.0, SPEED, [])
    found.band.end_due(9.0)
    assert told(found.band.take_orders()) == [
        ("on", 0.5, 64), ("on", 0.5, 67), *sorted([("off", ends, 64), ("off", 2.5, 67)], key=lambda one: one[1])
    ]  # fmt: skip


@pytest.mark.parametrize(("place", "ends"), [(7.8, True), (7.86, False)])
def test_what_sounds_just_before_a_chord_is_compared_with_what_comes(stand: Any, place: float, ends: bool) -> None:
    """From 0.15 beats before Fmaj7 on what was played over Cmaj7 is over."""
    found = interplay(stand)
    found.band.strike(cue(6.0, 64, "chords", 4.0), 3.0, SPEED)
    another_chord(found, 6.5)
    found.give_way(place / SPEED, place, SPEED, [])
    assert bool(found.band.sounding("chords")) != ends


def test_a_melody_note_that_clashes_is_struck_and_shortened(stand: Any) -> None:
    found = interplay(stand)
    another_chord(found, 0.0)
    for midi in (64, 67):
        found.strike(cue(1.0, midi, "melody", 4.0), 0.5, 0.5, 1.0, SPEED)
    assert found.band.until("melody", 64) == pytest.approx(0.5 + 0.75 / SPEED)
    assert found.band.until("melody", 67) == pytest.approx(0.5 + 4 / SPEED)
    found.strike(cue(1.0, 64, "chords", 4.0), 0.5, 0.5, 1.0, SPEED)
    assert found.band.sounding("chords") == (63,), "a chord's note goes to one that agrees"


@pytest.mark.parametrize(("length", "moved"), [(4.0, True), (1.51, True), (1.5, False), (1.49, False)])
def test_a_held_bass_note_that_clashes_goes_elsewhere_unless_it_is_nearly_over(
    stand: Any, length: float, moved: bool
) -> None:
    """More than half a beat must be left of it on the next beat."""
    found = interplay(stand)
    found.band.strike(cue(0.0, 40, "bass", length), 0.0, SPEED)
    another_chord(found, 0.5)
    found.beat(1.0, 0.5, 0.5, SPEED, 1.0, [], answers=False)
    assert found.band.sounding("bass") == ((39,) if moved else (40,))
    if moved:
        assert found.band.until("bass", 39) == pytest.approx(length / SPEED)
        assert told(found.band.take_orders()) == [("on", 0.0, 40), ("off", 0.5, 40), ("on", 0.5, 39)]


def test_a_chord_answers_a_silence_where_the_companion_plays_chords(stand: Any) -> None:
    def answered(beat: float = 16.5, *, answers: bool = True, **more: Any) -> list[Cue]:
        found = interplay(stand, **{"you": "solo", "parts": "chords,bass", **more})
        found.key_down(3.0, 6.0, SPEED, 72)
        return found.beat(beat, beat / SPEED, beat / SPEED, SPEED, 1.0, [], answers=answers)

    free = next(n / 2 for n in range(20, 40) if answered(n / 2))
    assert {c.note.part for c in answered(free)} == {"chords"}
    assert not answered(free, answers=False) and not answered(free, parts="bass")
    assert not answered(-free) and not answered(33.0, order="chart"), "neither in the count-in nor in an ending"
    ours = interplay(stand, "solo", "chords,bass,solo", trade=1)
    ours.key_down(3.0, 6.0, SPEED, 72)
    assert all(
        c.note.part == "solo"
        for bar in range(1, 8, 2)
        for c in ours.beat(4.0 * bar, 2.0 * bar, 2.0 * bar, SPEED, 1.0, [], answers=True)
    ), "not in its own turn"


def test_a_swinging_tune_is_read_and_played_by_its_tempo(stand: Any) -> None:
    """At 240 a quaver is longer than its second by less than at 60, and by another share than at 236 or 244."""
    found = interplay(stand, "solo", "chords,bass,solo", feel="swing", trade=1)
    assert len({round(found.band.written(2.6, tempo), 6) for tempo in (4.0, 236.0, 240.0, 244.0)}) == 4
    found.key_down(0.65, 2.6, 4.0, 72)
    assert found.trading._struck[-1].beat == found.band.written(2.6, 240.0)
    spoken = [c.beat for n in range(4, 8) for c in found.beat(float(n), n / 4, n / 4, 4.0, 1.0, [], answers=False)]
    by_tempo = {
        tempo: [c.beat for c in found.band.laid(4.0, 8.0, tempo, found.trading._line, 0.0)]
        for tempo in (4.0, 236.0, 240.0, 244.0)
    }
    assert spoken == by_tempo.pop(240.0) and spoken not in by_tempo.values()


def test_an_answer_off_the_beat_swings_by_the_tempo(stand: Any) -> None:
    found = interplay(stand, "solo", "chords,bass", feel="swing")
    found.key_down(0.25, 1.0, 4.0, 72)
    said = {c.beat for n in range(12, 60) for c in found.beat(float(n), n / 4, n / 4, 4.0, 1.0, [], answers=True)}
    off = {beat for beat in said if beat % 1}
    assert off and off == {found.band.swung(beat // 1 + 0.5, 240.0) for beat in off}
    assert not off & {found.band.swung(beat // 1 + 0.5, tempo) for beat in off for tempo in (4.0, 236.0, 244.0)}
    assert found.reactions.company == 0.0, "without a line of its own"


@pytest.mark.parametrize("beat", [31.0, 32.0, 33.0])
def test_an_answer_may_begin_with_a_chorus_where_no_chord_is_planned(
    stand: Any, monkeypatch: pytest.MonkeyPatch, beat: float
) -> None:
    found = interplay(stand, "solo", "chords,bass")
    monkeypatch.setattr(found.band, "cues", lambda *_: [])
    found.key_down(3.0, 6.0, SPEED, 72)
    assert found.beat(beat, beat / SPEED, beat / SPEED, SPEED, 1.0, [], answers=True)


def test_an_answer_keeps_clear_of_the_chords_that_come(stand: Any) -> None:
    found = interplay(stand, "solo", "chords,bass")
    found.key_down(0.5, 1.0, SPEED, 72)
    planned = sorted({c.beat for c in found.band.cues(0, 32, 120.0, ("chords",))})
    for n in range(8, 60):
        beat = n / 2
        added = found.beat(beat, beat / SPEED, beat / SPEED, SPEED, 1.0, [], answers=True)
        assert not added or not any(beat <= at < beat + 1.5 for at in planned)


def test_notes_of_a_beat_come_in_order_with_what_is_called_forth(stand: Any) -> None:
    found = interplay(stand, "solo", "chords,bass,solo", trade=1, seed=3)
    planned = [cue(4.9, 60, "chords"), cue(4.0, 40, "bass")]
    coming = found.beat(4.0, 2.0, 2.0, SPEED, 1.0, planned, answers=False)
    assert [c.beat for c in coming] == sorted(c.beat for c in coming)
    assert {c.note.part for c in coming} == {"chords", "bass", "solo"}
    assert all(4.0 <= c.beat < 5.0 for c in coming)


def test_whose_turn_it_is(stand: Any) -> None:
    found = interplay(stand, "solo", "solo,bass", trade=1)
    assert [found.turn(beat) for beat in (0.0, 4.0, 8.0)] == ["yours", "ours", "yours"]
    assert [found.ours(beat) for beat in (0.0, 4.0)] == [False, True]
    assert interplay(stand).turn(4.0) == ""


def test_whoever_comes_in_stops_its_line(stand: Any) -> None:
    found = interplay(stand, "solo", "solo,bass", trade=1, latency=0.05)
    assert found.beat(4.0, 2.0, 2.0, SPEED, 1.0, [], answers=False), "it speaks"
    assert found.reactions.company > 0
    for part, midi in (("solo", 72), ("bass", 40)):
        found.band.strike(cue(4.0, midi, part, 4.0), 2.0, SPEED)
    found.key_down(2.2, 4.4, SPEED, 77)
    coming = [cue(4.5, 74, "solo"), cue(4.5, 43, "bass")]
    assert found.next_moment(2.2, SPEED) == pytest.approx(2.25)
    assert found.give_way(2.21, 4.42, SPEED, coming) == coming, "it might be a chord yet"
    found.strike(coming[0], 2.3, 2.21, 4.42, SPEED)
    assert found.band.sounding("solo") == (72,), "the next note waits until that is known"
    assert [c.note.part for c in found.give_way(2.25, 4.5, SPEED, coming)] == ["bass"]
    assert found.band.sounding("solo") == () and found.band.sounding("bass") == (40,)
    assert ("off", 2.3, 72) in told(found.band.take_orders()) and found.reactions.company == 0


def test_who_does_not_trade_is_not_waited_for(stand: Any) -> None:
    found = interplay(stand, "chords", "solo,bass")
    found.key_down(2.2, 4.4, SPEED, 55)
    found.strike(cue(4.5, 74, "solo"), 2.3, 2.21, 4.42, SPEED)
    assert found.band.sounding("solo") == (74,)


def test_a_key_that_counts_later_is_come_back_to(stand: Any) -> None:
    found = interplay(stand, "solo", "chords")
    assert found.next_moment(1.0, SPEED) is None
    found.key_down(1.0, 2.0, SPEED, 75)
    assert found.next_moment(1.0, SPEED) == pytest.approx(1.0 + 0.6 / SPEED)
    found.key_up(75)
    assert found.next_moment(1.0, SPEED) is None


def test_comping_behind_a_solo_begins_and_ends_once(stand: Any) -> None:
    found = interplay(stand, "melody", "chords")
    stretch = found.tune.at(0.0)
    assert found.reactions.you == {"melody"}
    found.accompany(stretch, improvised=True)
    assert found.band.behind_a_solo and found.reactions.you == {"solo"}
    found.enter(found.tune.at(32.0))
    assert found.reactions.you == {"solo"} and found.reactions.zero == 32.0
    found.accompany(stretch, improvised=True)
    assert found.reactions.zero == 32.0, "as it was"
    found.accompany(stretch, improvised=False)
    assert not found.band.behind_a_solo and (found.reactions.you, found.reactions.zero) == ({"melody"}, 0.0)


@pytest.mark.parametrize(("sure", "struck"), [(0.4, (48,)), (0.6, (43,))])
def test_an_unsure_place_keeps_the_bass_to_roots(stand: Any, sure: float, struck: tuple[int, ...]) -> None:
    found = interplay(stand)
    found.beat(0.0, 0.0, 0.0, SPEED, sure, [], answers=False)
    found.strike(cue(0.0, 43, "bass"), 0.0, 0.0, 0.0, SPEED)
    assert found.band.sounding("bass") == struck
