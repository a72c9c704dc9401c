"""Nobody is given up: while a player plays, the companion sounds something, whatever they play.

Silence is judged by the tempo that the companion goes by at the time, or by the player's, whichever is slower: from one
thing sounded (a note of one of its parts, or a beat announced) to the next no more than two bars may pass, as long as
notes keep coming, at least one a bar.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.chart.model import Chart
from companion.load import load
from companion.messages import Beat, Belief, Heard, State
from companion.resources import chart_path
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings

BARS = 2.0
SLACK = 0.25
"""Beats that a sounded moment may be beside its bar line without a longer silence being heard."""
CHARTS = ("ferry-without-lights", "snow-on-the-awning", "two-spoons-short")
ROLES = ("melody", "chords", "solo", "bass", "melody,chords", "bass,solo")


@dataclass(frozen=True)
class Silence:
    """A stretch in which nothing was sounded."""

    bars: float
    since: float
    until: float
    states: tuple[str, ...]
    """What the companion was doing as it began, and came to do in it."""
    leads: tuple[Belief, ...]
    """What it believed meanwhile."""

    def __str__(self) -> str:
        told = "; ".join(
            f"{b.seconds:.2f} s {b.event} {b.pitch} beat {b.chart_beat:.2f} tempo {b.tempo:.0f} mass {b.mass:.2f}"
            f" stopped {b.stopped:.2f} free {b.free:.2f}" for b in self.leads
        )  # fmt: skip
        return f"{self.bars:.1f} bars from {self.since:.2f} to {self.until:.2f} s, {' > '.join(self.states)}: {told}"


def longest_silence(recording: Recording, chart: Chart, tempo: float) -> Silence:
    """The longest stretch without a sound from when both have begun to the last note heard; if none, 0 bars."""
    bar = float(chart.unfold().metre.bar)
    sounds = sorted(
        [o.seconds for o in recording.orders if o.status & 0xF0 == 0x90 and o.data2]
        + [r.seconds for r in recording.reports if isinstance(r, Beat)]
    )
    struck = [h.seconds for h in recording.heard if h.is_note_on]
    first, last = (struck[0], struck[-1]) if struck else (0.0, 0.0)
    beliefs = [r for r in recording.reports if isinstance(r, Belief)]
    states = [r for r in recording.reports if isinstance(r, State)]
    found = [Silence(0.0, last, last, (), ())]
    for since, until in pairwise([s for s in sounds if s < last] + [last]):
        since = max(since, first)  # before the first note nobody is left alone
        inside = tuple(b for b in beliefs if since <= b.seconds <= until)
        before = [b.tempo for b in beliefs if b.seconds < since][-1:]
        slowest = min([tempo, *before, *(b.tempo for b in inside)])
        held = [s.name for s in states if s.seconds <= since][-1:] + [
            s.name for s in states if since < s.seconds < until
        ]
        found.append(Silence(((until - since) * slowest / 60 - SLACK) / bar, since, until, tuple(held), inside))
    return max(found, key=lambda s: s.bars)


def passage(chart: Chart, start: float, first: int, count: int, tempo: float) -> list[Heard]:
    """So many notes of the melody from the one numbered ``first``, with no gap longer than a bar, from a moment on."""
    form = chart.unfold()
    heard, at = [], start
    for n in range(count):
        this = form.melody[(first + n) % len(form.melody)]
        after = form.melody[(first + n + 1) % len(form.melody)]
        heard.append(Heard(at, 0x90, this.pitch.midi, 70))
        apart = float(after.beat - this.beat) % float(form.length)
        at += min(apart or 1.0, 0.95 * float(form.metre.bar)) * 60 / tempo
    return [*heard, Heard(at, 0xFF, 0, 0)]  # where the next one begins


@st.composite
def performances(draw: st.DrawFn, chart: Chart) -> tuple[list[Heard], float]:
    """Passages of the melody from anywhere, notes at random, a key struck evenly: at least one a bar; and the tempo."""
    tempo = draw(st.sampled_from((60.0, 90.0, 120.0, 180.0)))
    bar = float(chart.unfold().metre.bar) * 60 / tempo
    heard: list[Heard] = []
    at = 1.0 + draw(st.floats(0.0, 2.0))
    for _ in range(draw(st.integers(1, 6))):
        kind = draw(st.sampled_from(("passage", "evenly", "random")))
        if kind == "evenly":
            key, apart = draw(st.integers(30, 90)), bar * draw(st.sampled_from((0.25, 0.5, 0.9, 0.95)))
            for _ in range(draw(st.integers(2, 16))):
                heard.append(Heard(at, 0x90, key, 70))
                at += apart
        elif kind == "passage":
            first, count = draw(st.integers(0, 80)), draw(st.integers(1, 24))
            *notes, end = passage(chart, at, first, count, tempo)
            heard += notes
            at = end.seconds
        else:
            for _ in range(draw(st.integers(1, 16))):
                heard.append(Heard(at, 0x90, draw(st.integers(21, 108)), draw(st.integers(10, 120))))
                at += bar * draw(st.sampled_from((0.0, 0.06, 0.125, 0.25, 0.33, 0.5, 0.75, 0.95)))
    return heard, tempo


@st.composite
def rehearsals(draw: st.DrawFn) -> tuple[Chart, Settings, list[Heard], float]:
    chart = load(chart_path(draw(st.sampled_from(CHARTS))))
    heard, tempo = draw(performances(chart))
    you = frozenset(draw(st.sampled_from(ROLES)).split(","))
    rest = tuple(p for p in ("melody", "chords", "bass") if p not in you and (p != "melody" or "solo" not in you))
    told: dict[str, Any] = {}
    if draw(st.booleans()):
        told = {"tempo": tempo, "start": 1.0}
    return chart, Settings(you=you, parts=rest, trace=True, **told), heard, tempo


@settings(max_examples=settings.default.max_examples // 4)
@given(rehearsals())
def test_while_the_player_plays_the_companion_is_never_silent_for_more_than_two_bars(
    rehearsed: tuple[Chart, Settings, list[Heard], float],
) -> None:
    chart, told, heard, tempo = rehearsed
    silence = longest_silence(replay(chart, heard, told), chart, tempo)
    assert silence.bars <= BARS, silence


FOUND = {
    "a place far ahead is waited for when the place believed in has leapt back": (
        "snow-on-the-awning", "melody,chords", 120.0, True,
        [(3.63, 22), (4.38, 82), (4.875, 103), (6.3, 97), (6.675, 92), (6.675, 105), (6.862, 77), (7.612, 41),
         (8.362, 47), (8.362, 94), (8.737, 30), (9.487, 108), (10.612, 32), (10.612, 69), (11.112, 66), (11.612, 68),
         (12.112, 71), (13.537, 69), (14.037, 67), (14.537, 66), (15.537, 65), (16.037, 38), (17.221, 100),
         (18.414, 27)],
    ),
    "each note ends the holding and the next look begins it again": (
        "snow-on-the-awning", "solo", 120.0, True,
        [*((1.934 + 1.35 * n, 34) for n in range(10)), (15.434, 70), (16.184, 70)],
    ),
    "nothing is believed enough to go to, and the holding has no end": (
        "two-spoons-short", "melody", 60.0, True,
        [(1.756, 75), (2.756, 41), (4.076, 38), (6.076, 48), (6.576, 103), (7.076, 68), (10.076, 105), (10.316, 93),
         (11.636, 70), (15.236, 70), (18.836, 70), (22.436, 65), (24.336, 65)],
    ),
    "the same with no holding told": (
        "two-spoons-short", "bass,solo", 180.0, False,
        [*((2.352 + 0.6667 * n, 59) for n in range(9)), (8.352, 65), (8.736, 68), (8.993, 72), (9.249, 75),
         (9.634, 74), (10.608, 72), (10.736, 74), (10.865, 69), (12.131, 69), (13.398, 69), (14.665, 69), (15.931, 69),
         (17.198, 69), (18.465, 39)],
    ),
    "an even note every 1.9 s, the tempo run away to twice that of the chart": (
        "ferry-without-lights", "melody", 120.0, False,
        [(1.6, 95), (2.6, 58), (3.1, 102), (4.6, 101), (4.6, 36), (4.6, 94), (6.5, 44), (7.0, 87), (7.66, 91),
         (8.32, 69), (8.32, 29), (9.82, 72), (10.195, 38), (12.095, 38), (13.995, 38), (15.895, 38), (17.795, 38),
         (19.695, 38), (21.595, 38)],
    ),
}  # fmt: skip
"""Players who were given up: chart, part, tempo, whether counted in at 1 s, and (seconds, MIDI number) of each note."""


@pytest.mark.parametrize("name", FOUND)
def test_a_player_who_was_given_up_once_isnt_any_more(name: str) -> None:
    title, role, tempo, counted, notes = FOUND[name]
    chart, you = load(chart_path(title)), frozenset(role.split(","))
    rest = tuple(p for p in ("melody", "chords", "bass") if p not in you and (p != "melody" or "solo" not in you))
    told: dict[str, Any] = {"tempo": tempo, "start": 1.0} if counted else {}
    heard = [Heard(seconds, 0x90, midi, 70) for seconds, midi in notes]
    silence = longest_silence(replay(chart, heard, Settings(you=you, parts=rest, trace=True, **told)), chart, tempo)
    assert silence.bars <= BARS, silence
