"""Everything told from the keyboard while a companion plays over real ports: none of it is sounded or kept as a note.

The player's keyboard has no sound of its own here: what they play is passed on to a module, which is what would sound.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.messages import Beat, State
from companion.stage.live import play
from companion.stage.replay import replay
from companion.stage.settings import Settings
from companion.stage.take import Take, list_takes

pytestmark = pytest.mark.jack

TEMPO = 200.0
BEAT = 60 / TEMPO
SIGNALS = {21: "last time", 23: "again", 26: "stop", 101: "keep"}
"""What the ends of a piano's keyboard say over this tune."""


class Evening:
    """A companion that plays in a thread, heard through a module."""

    def __init__(self, chart: Chart, settings: Settings, keys: Any, module: Any) -> None:
        self.keys, self.module, self.screen = keys, module, StringIO()
        self.reports: list[Any] = []
        words = {"port_in": keys.name, "port_out": module.name, "through": True, "screen": self.screen}
        self._thread = threading.Thread(
            target=lambda: play(chart, settings, watch=[self.reports.append], **words), daemon=True
        )
        self._thread.start()
        assert self.waits_for(lambda: "listening to" in self.screen.getvalue())

    def waits_for(self, condition: Callable[[], object], seconds: float = 15.0) -> bool:
        end = time.monotonic() + seconds
        while not condition() and time.monotonic() < end:
            time.sleep(0.01)
        return bool(condition())

    def plays(self, chart: Chart, bars: int, signals: dict[float, int]) -> None:
        """The melody with the pedal down and a chord held, and at some beats signal keys, struck over the next note."""
        begin, notes = time.perf_counter() + 0.1, chart.unfold().melody
        events = [(float(n.beat), 0x90, n.pitch.midi) for n in notes if n.beat < 4 * bars]
        events += [(float(n.beat + n.length) - 0.1, 0x80, n.pitch.midi) for n in notes if n.beat < 4 * bars]
        events += [(beat, 0x90, key) for beat, key in signals.items()]
        events += [(beat + 0.7, 0x80, key) for beat, key in signals.items()]
        self.keys.play(0xB0, 64, 127)
        self.keys.play(0x90, 52, 50)
        for beat, status, key in sorted(events):
            time.sleep(max(0.0, begin + beat * BEAT - time.perf_counter()))
            self.keys.play(status, key, 80 if status == 0x90 else 0)
        self.keys.play(0x80, 52, 0)
        self.keys.play(0xB0, 64, 0)

    def ends(self) -> bool:
        self._thread.join(20)
        return not self._thread.is_alive()


def test_what_is_told_is_done_once_and_is_no_note_anywhere(
    instrument: Any, stand: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The pianist begins again in the second bar, marks the take in the third and stops in the fifth."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    chart = stand.tune(tempo=TEMPO)
    evening = Evening(chart, Settings(tempo=TEMPO, order="open"), instrument("upright"), instrument("module"))
    assert evening.waits_for(lambda: "lowest A: last time; B: again; D: stop" in evening.screen.getvalue())
    evening.plays(chart, 3, {6.5: 23})
    evening.plays(chart, 5, {9.5: 101, 18.0: 26})
    assert evening.ends()
    [take] = list_takes(tmp_path)
    assert isinstance(take, Take)
    assert [wish.name for wish in take.wishes or ()] == ["again", "keep", "stop"]
    assert take.kept and take.how == "stopped" and "this take is marked to be kept" in evening.screen.getvalue()
    assert not {h.data1 for h in take.heard() if h.status != 0xB0} & SIGNALS.keys()
    assert not set(evening.module.notes_on()) & SIGNALS.keys()
    assert 52 in evening.module.notes_on(), "what is playing is passed on"
    assert evening.waits_for(lambda: evening.module.sounding() == set())
    waiting = [r for r in evening.reports if isinstance(r, State) and r.name == "waiting"]
    assert len(waiting) == 1 and evening.reports[-1].name == "ended"
    check_replayed(take)


def check_replayed(take: Take) -> None:
    """A take with wishes is replayed to the same beats."""
    chart, settings = take.rehearsed()
    events = sorted([*take.heard(), *(take.wishes or ())], key=lambda event: event.seconds)
    again = [r for r in replay(chart, events, settings, until=take.seconds).reports if isinstance(r, Beat)]
    assert [b.chart_beat for b in again] == [b.chart_beat for b in take.beats]
    assert max(abs(a.seconds - b.seconds) for a, b in zip(again, take.beats, strict=True)) < 0.03
