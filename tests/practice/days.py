"""A player over weeks, in virtual dates: what they practise holds the better, fades while they are away, and some of it
is harder than the rest. They know nothing of how it is judged; they play what comes, on the days on which they come.

The model: a passage is remembered by half after its *half-life* of days (forgetting over time as an exponential:
Ebbinghaus, 1885); each day on which it is played makes that longer, less so for what is hard.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone

from companion.practice.records import BarRecord, RoundRecord, TakeRecord

Bars = tuple[int, int]
MELODY = ("melody",)


@dataclass
class Memory:
    """How well a passage sits."""

    hard: float
    """0: each practice doubles what is kept; 1: none makes it last."""
    half_life: float = 0.7
    """Days."""
    tempo: float = 70.0
    """Fastest clean tempo, quarters a minute."""
    played: datetime | None = None

    def kept(self, now: datetime) -> float:
        """The probability of a good round."""
        away = (now - self.played).total_seconds() / 86400 if self.played else 30.0
        return 0.5 ** (away / self.half_life)


class PlayerOfDays:
    """Somebody who practises passages of one tune.

    Parameters
    ----------
    hard : dict
        How hard each passage is, by its bars.
    """

    def __init__(
        self, hard: dict[Bars, float], *, seed: int = 1, chart: str = "a-tune", tune_tempo: float = 120.0
    ) -> None:
        self.memory = {bars: Memory(value) for bars, value in hard.items()}
        self.chart, self.tune_tempo = chart, tune_tempo
        self.rounds: list[RoundRecord] = []
        self._random = random.Random(seed)

    def comes(self, often: float = 0.75) -> bool:
        """Whether they practise on a day."""
        return self._random.random() < often

    def drills(self, bars: Bars, now: datetime, rounds: int = 6) -> None:
        """Drill a passage: faster after good rounds, slower after bad ones."""
        memory = self.memory[bars]
        first = self._random.random() < memory.kept(now)
        tempo = round(memory.tempo * (1.0 if first else 0.9))
        for number in range(1, rounds + 1):
            chance = 0.9 - 0.5 * memory.hard if number > 1 or first else 0.1
            good = self._random.random() < chance and (first or tempo < memory.tempo)
            moment = now + timedelta(seconds=30 * number)
            self.rounds.append(a_round(moment, bars, tempo, good, chart=self.chart, tune_tempo=self.tune_tempo))
            tempo = min(tempo + 4, self.tune_tempo) if good else max(tempo - 4, 40)
        memory.tempo = min(self.tune_tempo, memory.tempo + 12 * (1 - memory.hard))
        memory.half_life *= 2.2 - 1.3 * memory.hard
        memory.played = now


def a_round(
    at: datetime,
    bars: Bars,
    tempo: float,
    good: bool,
    *,
    chart: str = "a-tune",
    tune_tempo: float | None = 120.0,
    you: tuple[str, ...] = MELODY,
    number: int = 1,
    why: str = "",
    own_key: bool = True,
    kind: str = "usual",
    take: str | None = None,
) -> RoundRecord:
    """A round as the records have it."""
    return RoundRecord(
        at=at, chart=chart, title=_title(chart), kind=kind, number=number, first=bars[0], last=bars[1],
        section="", you=you, key="F", own_key=own_key, tempo=tempo, tune_tempo=tune_tempo, time="follow", good=good,
        why=why or ("" if good else f"bar {bars[0]}: F♯ missed"), right=12 - (not good), wrong=0, missing=int(not good),
        extra=0, spread_ms=9.5, seconds=12.0, take=take,
    )  # fmt: skip


def _title(chart: str) -> str:
    return chart.replace("-", " ").title()


def a_take(
    started: datetime,
    *,
    tempo: float | None = 120.0,
    stops: int = 0,
    choruses: int = 2,
    chart: str = "a-tune",
    folder: str | None = None,
    seconds: float = 180.0,
    time: str = "follow",
    you: tuple[str, ...] = MELODY,
) -> TakeRecord:
    """A take as the records have it."""
    return TakeRecord(
        folder=folder or f"{started:%Y-%m-%d-%H%M%S}-{chart}", started=started, chart=chart,
        title=_title(chart), you=you, key="F", tempo=tempo, tune_tempo=120.0, time=time,
        seconds=seconds, how="stopped", bars=32, choruses=choruses, stops=stops,
    )  # fmt: skip


def a_bar(take: TakeRecord, number: int, faults: int = 0, chorus: int = 1) -> BarRecord:
    """A bar of a take with so many notes missing."""
    return BarRecord(take.folder, number, chorus, 4 - faults, 0, faults, 0, 100.0, 3.0, 8.0)


def evening(day: date, hour: int = 19) -> datetime:
    """A moment of a day, in a zone of its own."""
    return datetime(day.year, day.month, day.day, hour, tzinfo=timezone(timedelta(hours=1)))
