"""Players of rounds: they are told when a round begins and how fast, and play it well, badly, or not at all."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import pytest

from companion.arrange.touch.swinging import part_ratio
from companion.chart.model import Chart
from companion.chart.toml.write import write_toml
from companion.load import load
from companion.messages import Beat, Heard, Order
from companion.music.swing import straight_quarters, to_sounding
from companion.practice.drill import Drill
from companion.practice.request import Said, drill_request
from companion.practice.rounds import RoundPlayed
from companion.resources import chart_path
from companion.stage.settings import Settings
from companion.stage.take import Take, read_take
from companion.stage.take_files import FORMAT, TakeFiles
from companion.stage.take_writer import settings_table

TOUCH = 0.008
"""Seconds, standard deviation: how far a good player's notes fall from their place."""


@dataclass
class Slips:
    """What goes wrong in a round: indices of the notes of the passage, in order."""

    wrong: frozenset[int] = frozenset()
    """A semitone too high."""
    missing: frozenset[int] = frozenset()
    hesitates: dict[int, float] = field(default_factory=dict)
    """Seconds by which a note, and all after it, come late."""
    stops_at: int | None = None
    """The first note that isn't played, nor any after it."""
    slower: float = 1.0
    """The player's tempo against the round's."""
    silent: bool = False


CLEAN = Slips()


class RoundPlayer:
    """Plays the melody of rounds, way in included.

    Parameters
    ----------
    seed : int
    touch : float
        Seconds, standard deviation.
    """

    def __init__(self, seed: int = 0, touch: float = TOUCH) -> None:
        self._random = random.Random(seed)
        self._touch = touch

    def plays(self, told: RoundPlayed, slips: Slips = CLEAN) -> list[Heard]:
        """The notes of one round, in order of time."""
        if slips.silent:
            return []
        form = told.passage.chart.unfold()
        quarter = 60 / told.tempo / slips.slower
        zero = told.start - float(told.passage.way_in) * quarter
        ratio = part_ratio(form, "melody", told.tempo)
        straight = straight_quarters(note.beat for note in form.melody)
        heard: list[Heard] = []
        late, index = 0.0, 0
        for note in form.melody:
            inside = note.beat >= told.passage.way_in
            number = index if inside else -1
            index += inside
            if slips.stops_at is not None and number >= slips.stops_at:
                break
            late += slips.hesitates.get(number, 0.0)
            if number in slips.missing:
                continue
            at = zero + late + to_sounding(note.beat, ratio, straight) * quarter + self._random.gauss(0, self._touch)
            midi = note.pitch.midi + (number in slips.wrong)
            heard += [Heard(at, 0x90, midi, 70), Heard(at + 0.8 * float(note.length) * quarter, 0x80, midi, 0)]
        return sorted(heard, key=lambda event: (event.seconds, event.status))


def drilled(
    chart: Chart,
    bars: tuple[int, int],
    player: Callable[[RoundPlayed], Sequence[Heard]],
    *,
    kind: str = "usual",
    said: Said | None = None,
    rounds: int = 12,
) -> Drill:
    """A drill played round by round: the player hears of each round when it is laid out, and nothing before."""
    drill = Drill(chart, drill_request(chart, bars, said or Said(you=frozenset({"melody"})), kind))
    for _ in range(rounds):
        go_through(drill, player(drill.round))
        if drill.ended:
            break
    return drill


def go_through(drill: Drill, heard: Sequence[Heard]) -> None:
    """Play the notes of the round that is laid out, and go on until the next one is, or nothing is to come."""
    number = drill.round.number
    for event in heard:
        step = drill.advance(event.seconds, [event])
    step = drill.advance(drill.round.first_click, []) if not heard else step
    while step.wake is not None and drill.round.number == number and not drill.ended:
        step = drill.advance(step.wake, [])


@pytest.fixture
def round_player() -> RoundPlayer:
    return RoundPlayer()


@pytest.fixture(scope="session")
def kept_take(tmp_path_factory: pytest.TempPathFactory) -> Take:
    """A take of two notes and their beats, kept on a computer whose owner's name is in the chart's path."""
    chart = load(chart_path("two-spoons-short"))
    folder = tmp_path_factory.mktemp("kept") / "2026-11-28-210400-two-spoons-short"
    folder.mkdir()
    head = {
        "format": FORMAT,
        "companion": "1",
        "title": chart.title,
        "started": "2026-11-28T21:04:00+01:00",
        "chart": {"source": "/homes/the-teacher/two-spoons-short.toml", "toml": write_toml(chart)},
        "settings": settings_table(Settings()),
    }
    files = TakeFiles()
    for number in range(8):
        files.add(Beat(1 + number / 2, float(number), 1.0))
        files.add(Heard(1 + number / 2, 0x90, 60 + number, 80))
        files.add(Order(1 + number / 2, "bass", 0x90, 36, 70))
        files.add(Heard(1.4 + number / 2, 0x80, 60 + number, 0))
        files.add(Order(1.4 + number / 2, "bass", 0x80, 36, 0))
    files.write(folder, head, "ended")
    files.close()
    return read_take(folder)
