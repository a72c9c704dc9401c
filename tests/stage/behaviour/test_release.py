"""Every key that is struck is released: whatever is played, whoever plays what, at any time.

A piano has one key for a pitch, whichever part strikes it; that it goes down once before it comes up, and that notes of
a harmony gone by don't ring on, is common practice. Note-on and note-off: MIDI 1.0.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from hypothesis import example, given, settings
from hypothesis import strategies as st

from companion.arrange.part import Note
from companion.load import load
from companion.messages import Beat, Heard, Order, Report
from companion.music.pitch import Pitch
from companion.ports.sounding import Sounding
from companion.resources import shipped_folder
from companion.stage.band import Band, Cue
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import TIMES, Settings

START = 2.0
ROLES = {
    "solo": ("chords", "bass"),
    "bass,solo": ("chords",),
    "melody": ("chords", "bass"),
    "chords": ("melody", "bass"),
    "bass": ("melody", "chords"),
    "melody,chords": ("bass",),
    "melody,chords,bass": ("click",),
    "click": ("melody", "chords", "bass"),
}
"""Who plays what: the player, and the companion."""


def alternating(orders: Sequence[Order]) -> None:
    """Each part's key goes down, comes up, goes down ...; in order of sounding, then of giving."""
    down: dict[tuple[str, int], float] = {}
    for order in sorted(orders, key=lambda o: o.seconds):
        key = order.part, order.data1
        if order.status == 0x90:
            assert key not in down, f"{key} is struck at {order.seconds} while it is down since {down[key]}"
            down[key] = order.seconds
        elif order.status == 0x80:
            assert key in down, f"{key} is let go at {order.seconds} and wasn't down"
            del down[key]
    assert not down, f"left down: {down}"


def on_one_piano(orders: Sequence[Order]) -> list[tuple[float, int, int]]:
    """What a piano that hears one channel gets: seconds, status, MIDI number."""
    piano = Sounding({0}, shared=True)
    parts = [order for order in sorted(orders, key=lambda o: o.seconds) if order.part != "click"]
    sent = [(o.seconds, m) for o in parts for m in piano.order((o.status, o.data1, o.data2))]
    return [(seconds, message[0] & 0xF0, message[1]) for seconds, message in sent]


def left_down(sent: Sequence[tuple[float, int, int]]) -> set[int]:
    """The keys that are down after all that."""
    down: set[int] = set()
    for _, status, midi in sent:
        (down.add if status == 0x90 else down.discard)(midi)
    return down


# The band


def cue(beat: float, length: float, midi: int, part: str = "chords") -> Cue:
    pitch = Pitch("CCDDEFFGGAAB"[midi % 12], (0, 1, 0, 1, 0, 0, 1, 0, 1, 0, 1, 0)[midi % 12], midi // 12 - 1)
    note = Note(Fraction(beat).limit_denominator(), Fraction(length).limit_denominator(), pitch, part)
    return Cue(beat, beat + length, note)


DEEDS = st.lists(
    st.tuples(
        st.sampled_from(["strike", "strike", "sound", "silence", "shorten", "end", "release", "take", "beat"]),
        st.sampled_from(["chords", "bass"]),
        st.integers(60, 62),
        st.sampled_from([0.0, 0.0, 1e-9, 0.02, 0.04, 0.5, 1 / 3]),
        st.sampled_from([0.0, 0.5, 1.0, 4.0]),
    ),
    max_size=30,
)


@given(deeds=DEEDS)
def test_whatever_is_struck_and_cut_short_each_key_goes_down_and_comes_up(stand: Any, deeds: Any) -> None:
    plays = Band(stand.tune().unfold(), Settings(parts=("chords", "bass")))
    taken: list[Order] = []  # each time in order of sounding, ends first, as they go to the instrument
    now = 10.0
    for deed, part, midi, later, length in deeds:
        now += later
        plays.end_due(now)
        match deed:
            case "strike":
                plays.strike(cue(0, length, midi, part), now, 2.0)
            case "sound":
                plays.sound(part, midi, now, length, 2.0)
            case "silence":
                plays.silence(part, midi, now)
            case "shorten":
                plays.shorten(part, midi, now + length / 8)
            case "release":
                plays.release(now, keep=lambda one: one == "bass")
            case "take":
                taken += sorted(plays.take_orders(), key=lambda o: (o.seconds, o.status))
    plays.release(now)
    taken += sorted(plays.take_orders(), key=lambda o: (o.seconds, o.status))
    alternating(taken)
    assert left_down(on_one_piano(taken)) == set()
    assert not any(plays.sounding(part) for part in ("chords", "bass")) and plays.next_end() is None


def test_a_key_struck_twice_at_one_moment_goes_down_once_and_lasts_as_long_as_the_longer(stand: Any) -> None:
    plays = Band(stand.tune().unfold(), Settings(parts=("chords",)))
    plays.strike(cue(0, 2.0, 60), 10.0, 2.0)
    plays.strike(cue(0, 1.0, 60), 10.0, 2.0)
    plays.end_due(20.0)
    assert [(o.seconds, o.status) for o in plays.take_orders()] == [(10.0, 0x90), (11.0, 0x80)]


def test_a_note_that_is_cut_off_at_its_very_beginning_is_not_struck(stand: Any) -> None:
    plays = Band(stand.tune().unfold(), Settings(parts=("chords",)))
    plays.strike(cue(0, 2.0, 60), 10.0, 2.0)
    plays.silence("chords", 60, 10.0)
    assert plays.take_orders() == [] and plays.sounding("chords") == ()


def test_a_note_begun_in_a_slow_bar_does_not_ring_on_when_the_player_races_away(stand: Any) -> None:
    plays = Band(stand.tune().unfold(), Settings(parts=("bass",)))
    plays.strike(cue(0, 4.0, 40, "bass"), 10.0, 0.4)
    for beat in range(1, 9):  # ten seconds by the tempo it was struck in
        plays.beat_sounded(10.0 + beat * 0.2)
    [on, off] = plays.take_orders()
    assert (on.status, off.status) == (0x90, 0x80) and 10.0 + 4 * 0.2 <= off.seconds <= 10.0 + 6 * 0.2 + 1e-9


# The rehearsal


def soloist(seed: int, tempo: float, bars: int, tidy: float) -> list[Heard]:
    """Somebody who plays any line and any chord, and lets go of a share of the keys only."""
    dice = random.Random(seed)
    heard: list[Heard] = []
    at, beat = START, 60 / tempo
    while at < START + 4 * bars * beat:
        if dice.random() < 0.8:
            pitch = dice.randrange(48, 84)
            heard.append(Heard(at, 0x90, pitch, dice.randrange(30, 110)))
            if dice.random() < tidy:
                heard.append(Heard(at + dice.random(), 0x80, pitch, 0))
        else:
            root, chord = dice.randrange(48, 72), dice.choice([(0, 4, 7, 10), (0, 3, 7), (0, 4, 8), (0, 3, 6, 9)])
            heard += [Heard(at, 0x90, root + step, 60) for step in chord]
        at += dice.choice([0.25, 0.5, 0.5, 1, 1, 2, 4]) * beat
    return sorted(heard, key=lambda h: h.seconds)


def rehearsed(chart: Any, told: Settings, heard: Sequence[Heard], end: float) -> tuple[list[Order], list[Report]]:
    rehearsal = Rehearsal(chart, told)
    steps = [rehearsal.advance(event.seconds, [event]) for event in heard]
    steps += [rehearsal.advance(end, []), rehearsal.finish(end)]
    return [o for step in steps for o in step.orders], [r for step in steps for r in step.reports]


def outlasting(orders: Sequence[Order], beats: Sequence[Beat], bars: int) -> list[Order]:
    """The notes that still sound when so many bars of four beats have been sounded since they began."""
    moments = [beat.seconds for beat in beats]
    begun: dict[tuple[str, int], Order] = {}
    found: list[Order] = []
    for order in sorted(orders, key=lambda o: o.seconds):
        if order.status == 0x90:
            begun[order.part, order.data1] = order
        elif (on := begun.pop((order.part, order.data1), None)) is not None:
            gone = sum(on.seconds < moment < order.seconds for moment in moments)
            found += [on] if gone > 4 * bars else []
    return found


@settings(max_examples=settings.default.max_examples // 4)
@example("snow-on-the-awning", 11, 0.3, "solo", 2, "follow", 180.0, 2)
@example("two-spoons-short", 6, 0.9, "solo", 2, "follow", 180.0, 2)
@given(
    tune=st.sampled_from(["two-spoons-short", "twelve-front-doors", "snow-on-the-awning"]),
    seed=st.integers(0, 10**6),
    tidy=st.sampled_from([0.0, 0.3, 0.9]),
    role=st.sampled_from(sorted(ROLES)),
    trade=st.sampled_from([0, 1, 2, 4]),
    time=st.sampled_from(TIMES),
    tempo=st.sampled_from([60.0, 120.0, 180.0, 240.0]),
    count_in=st.sampled_from([0, 2]),
)
def test_after_the_end_and_two_bars_on_every_key_that_was_struck_is_released(
    tune: str, seed: int, tidy: float, role: str, trade: int, time: str, tempo: float, count_in: int
) -> None:
    trade = trade if "solo" in role else 0
    you = frozenset() if role == "click" else frozenset(role.split(","))
    told = Settings(you=you, parts=ROLES[role], tempo=tempo, start=START, count_in=count_in, trade=trade, time=time)
    heard = soloist(seed, tempo, 16, tidy)
    chart = load(shipped_folder() / "charts" / f"{tune}.toml")
    orders, reports = rehearsed(chart, told, heard, heard[-1].seconds + (seed % 7) * 0.5)
    alternating(orders)
    assert left_down(on_one_piano(orders)) == set()
    assert outlasting(orders, [r for r in reports if isinstance(r, Beat)], bars=2) == []
