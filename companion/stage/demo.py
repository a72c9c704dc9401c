"""The demo: the built-in player plays a chart, and the companion follows, in real time or at once.

In real time the rehearsal gets each note at its moment and is woken when it asks to be, as live; because it hears the
same at the same moments, what it plays is what :func:`companion.stage.replay.replay` gives at once. The player's notes
and the companion's go to one output, where there is one.

Conventions: seconds from the start of the performance. A beat is held when the companion sounds it within 70 ms of
where the player has it (a common tolerance for beats in music information retrieval; mir_eval's ``beat.f_measure``).
"""

from __future__ import annotations

import shutil
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Protocol

from companion.chart.model import Chart
from companion.errors import DeviceError
from companion.messages import HELD_WITHIN, Beat, Heard, Order, Part, Report, Wish
from companion.pianist.player import SimulatedPerformance, simulate
from companion.pianist.route import Passage, TrueBeat
from companion.ports.instruments import read_instruments
from companion.ports.midi import find_ports
from companion.resources import data_folder
from companion.stage import sounding_marks
from companion.stage.clock import now
from companion.stage.link import Notice, SenderLink
from companion.stage.order import OrderOfEvents, roles
from companion.stage.recovery import take_folders
from companion.stage.rehearsal import Rehearsal
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings
from companion.stage.take_files import DATA, Outcome
from companion.stage.take_writer import TakeWriter
from companion.stage.trading import Trading
from companion.stage.wire import SenderWords

BEFORE = 0.5
"""Seconds from the command to the performance's second 0."""
AFTER, HELD_FOR = 2.0, 10.0
"""Seconds that a demo goes on after the last note and beat, and after a last chord."""
PLAYER_CHANNEL = 0

BARS = 32
"""Bars that a demo lasts at least, unless it is said how often."""
COUNT_IN = 2
"""Bars that the built-in pianist waits for."""


class Sounds(Protocol):
    """Where a demo sounds; :class:`companion.stage.link.SenderLink` is one."""

    def order(self, due: float, message: tuple[int, ...]) -> None:
        """Have a message sounded at a moment of the live clock."""

    def wait_until(self, moment: float) -> None:
        """Let time pass up to a moment of the live clock."""


Watch = Callable[[float, Sequence[Order], Sequence[Report]], None]


def route_of(chart: Chart, settings: Settings) -> list[Passage]:
    """How a player goes through the events of a chart.

    Where there is more than one chorus of solos they tell the last time half way through the first.
    """
    tune = OrderOfEvents(chart.unfold(), replace(settings, order="chart", start=0.0), chart)
    telling = next((s for s in tune.plan if s.kind == "solos" and s.times > 1), None)
    if telling is not None:
        tune.tell(float(telling.start))
    route = []
    for s in tune.plan:
        you, first, length = roles(s, settings.you), float(s.first), float(s.length)
        if s.kind == "introduction":
            route.append(Passage(first, 0.0, s.chorus, form=s.form, parts=you - {"melody", "solo"}))
        elif s.kind == "ending":
            last = float(s.form.bars[-1] + s.form.metre.pulse)
            slows = tune.ritardando.high - tune.ritardando.low if tune.ritardando else 0.0
            route.append(Passage(first, first + last, s.chorus, form=s.form, parts=you, slows=slows, rests=True))
        elif s.kind == "solos":
            bar_line = float(s.form.bars[len(s.form.bars) // 2]) if s.start == (telling and telling.start) else None
            route.append(Passage(first, first + length, s.chorus, parts=you, tells=bar_line))
        else:
            route.append(Passage(first, first + length, s.chorus))
    return route


def played_by(manner: str, chart: Chart, how: Settings) -> tuple[SimulatedPerformance, Settings]:
    """The built-in pianist's performance of a chart, and the settings with which the companion is counted in by it.

    Raises UseError when there is nothing to play for their parts, and ConfigError when there is no such manner.
    """
    form = chart.unfold()
    way = route_of(chart, how) if how.order == "chart" and chart.events else None
    choruses = how.choruses or (None if way else max(1, -(-BARS // len(form.bars))))
    silent = Trading(how, OrderOfEvents(form, how, chart)).is_silent if how.trade else None
    player = simulate(
        form,
        how.you,
        manner=manner,
        tempo=how.tempo,
        seed=how.seed,
        choruses=choruses or 1,
        tune=way,
        silent=silent,
    )
    return player, replace(how, tempo=player.tempo, start=player.start, count_in=COUNT_IN, choruses=choruses)


@dataclass(frozen=True)
class Closeness:
    """How closely the companion followed a player whose beats are known."""

    beats: int
    """The player's."""
    held: int
    """Those that the companion sounded within :data:`companion.messages.HELD_WITHIN`."""
    median_ms: float
    """Median distance of those it held, in milliseconds."""


def closeness(player: SimulatedPerformance, reports: Sequence[Report]) -> Closeness:
    """Compare the beats that the companion sounded with the player's own."""
    sounded: dict[float, list[float]] = {}
    for report in reports:
        if isinstance(report, Beat):
            sounded.setdefault(round(report.chart_beat, 3), []).append(report.seconds)
    gaps = []
    for beat in player.beats:
        near = [abs(seconds - beat.seconds) for seconds in sounded.get(round(beat.chart_beat, 3), [])]
        if near and min(near) <= HELD_WITHIN:
            gaps.append(min(near))
    return Closeness(len(player.beats), len(gaps), 1000 * statistics.median(gaps) if gaps else 0.0)


def returns(player: SimulatedPerformance, reports: Sequence[Report]) -> list[tuple[float, int]]:
    """For each stop of the player's its seconds, and after how many beats the companion held one again (0: at once)."""
    said = [report for report in reports if isinstance(report, Beat)]

    def is_held(row: TrueBeat) -> bool:
        return any(
            abs(b.seconds - row.seconds) <= HELD_WITHIN and abs(b.chart_beat - row.chart_beat) < 1e-3 for b in said
        )

    found = []
    for k, (before, row) in enumerate(pairwise(player.beats), 1):
        if row.mark == "resume":
            after = player.beats[k:]
            lost = next((n for n, true in enumerate(after) if is_held(true)), len(after))
            found.append((row.seconds - before.seconds, lost))
    return found


def demo_folder() -> Path:
    """Where takes of demos lie, apart from the player's own: they are none of what the player practised."""
    return data_folder() / "demo"


def forget_older_demos(folder: Path, keep: int) -> None:
    """Delete all but the last takes of demos in a folder: nobody played in them."""
    done = sorted(place for place in take_folders(folder) if (place / DATA).exists())
    for place in done[:-keep]:
        shutil.rmtree(place, ignore_errors=True)


class DemoTake:
    """A take of a demo, kept as it goes: a watch for :func:`play_in_time`.

    Parameters
    ----------
    take : TakeWriter
    performance : sequence of Heard
        What the built-in player plays, in order of time.
    """

    def __init__(self, take: TakeWriter, performance: Sequence[Heard]) -> None:
        self._take, self._coming = take, list(performance)
        self.heard: list[Heard] = []
        self.reached = 0.0

    def watch(self, at: float, orders: Sequence[Order], reports: Sequence[Report]) -> None:
        """Keep what was played and ordered up to a moment."""
        self.reached = max(self.reached, at)
        new = [event for event in self._coming if event.seconds <= at]
        self.heard.extend(new)
        del self._coming[: len(new)]
        for event in sorted((*new, *orders, *reports), key=lambda event: event.seconds):
            self._take.add(event)  # in order of time: the take begins with what sounds first, be it the count-in


@dataclass(frozen=True)
class DemoResult:
    """What came of a demo."""

    recording: Recording
    closeness: Closeness
    returns: list[tuple[float, int]]
    """Of each stop: its seconds, and the beats until the companion was back."""
    take: Path | None
    """Its folder; None when it could not be kept, for the reason in ``trouble``."""
    trouble: str | None
    interrupted: bool
    """Ctrl-C ended it early."""
    error: Exception | None = None
    """What went wrong with the companion itself, and ended it early."""


def perform(
    chart: Chart,
    settings: Settings,
    player: SimulatedPerformance,
    *,
    fast: bool,
    sound: SenderLink | None = None,
    channels: dict[Part, int] | None = None,
    watch: Watch | None = None,
    data: Path | None = None,
) -> DemoResult:
    """Let the companion follow the built-in player, and keep a take of it.

    Parameters
    ----------
    chart, settings
        What is played, and how.
    player : SimulatedPerformance
        The player's performance.
    fast : bool
        At once, instead of in real time.
    sound, channels
        As for :func:`play_in_time`.
    watch : callable, optional
        Called with the moment, the orders and the reports of each step.
    data : path, optional
        The folder under which the take is kept.

    Returns
    -------
    DemoResult
    """
    take = TakeWriter(chart, settings, data)
    kept = DemoTake(take, player.heard)
    orders: list[Order] = []
    reports: list[Report] = []

    def keep(at: float, new_orders: Sequence[Order], new_reports: Sequence[Report]) -> None:
        kept.watch(at, new_orders, new_reports)
        orders.extend(new_orders)
        reports.extend(new_reports)
        if watch:
            watch(at, new_orders, new_reports)

    after = AFTER if settings.order == "form" else HELD_FOR
    until = max([*(event.seconds for event in player.heard[-1:]), player.truth[-1].seconds]) + after
    how: Outcome = "interrupted"
    folder, failed = None, None
    try:
        if fast:
            replay(chart, player.heard, settings, until=until, watch=keep)
        else:
            play_in_time(chart, player.heard, settings, until=until, sound=sound, channels=channels, watch=keep)
        how = "ended"
    except KeyboardInterrupt:
        pass
    except Exception as error:  # told by whoever called, once the take is kept
        how, failed = "lost", error
    finally:
        folder = take.close(how)
    recording = Recording(tuple(kept.heard), tuple(orders), tuple(reports))
    so_far = replace(player, truth=tuple(row for row in player.truth if row.seconds <= kept.reached))
    close, back = closeness(so_far, reports), returns(so_far, reports)
    return DemoResult(recording, close, back, folder, take.trouble, how == "interrupted", failed)


def play_in_time(
    chart: Chart,
    performance: Sequence[Heard],
    settings: Settings,
    *,
    until: float,
    sound: Sounds | None = None,
    channels: dict[Part, int] | None = None,
    watch: Watch | None = None,
    begins: Callable[[float], None] = lambda origin: None,
    wishes: Callable[[float], Sequence[Wish]] = lambda at: (),
) -> Recording:
    """Let the companion follow a performance that sounds as it goes.

    Parameters
    ----------
    chart, performance, settings, until, watch
        As for :func:`companion.stage.replay.replay`.
    sound : Sounds, optional
        Where both are sounded; nowhere if not given.
    channels : dict of Part to int, optional
        Channel of each part, 1-16; the player is on channel 1.
    begins : callable, optional
        Told the moment of the live clock at which the performance's seconds begin.
    wishes : callable, optional
        Gives what was wished up to a moment, for the rehearsal.

    Returns
    -------
    Recording
        As ``replay`` gives it. Whatever breaks it off, ``watch`` gets the orders that end what sounds.
    """
    rehearsal = Rehearsal(chart, settings)
    origin = now() + BEFORE
    begins(origin)
    heard: list[Heard] = []
    orders: list[Order] = []
    reports: list[Report] = []

    def carry_out(at: float, new_orders: Sequence[Order], new_reports: Sequence[Report]) -> None:
        for order in new_orders if sound else ():
            channel = (channels or {}).get(order.part, 1) - 1
            message = (order.status & 0xF0 | channel, order.data1, order.data2)
            sound.order(origin + order.seconds, message)  # type: ignore[union-attr]
        orders.extend(new_orders)
        reports.extend(new_reports)
        if watch:
            watch(at, new_orders, new_reports)

    wait_until = sound.wait_until if sound else lambda moment: time.sleep(max(0.0, moment - now()))
    step, at, coming = rehearsal.advance(0.0, []), 0.0, [event for event in performance if event.seconds <= until]
    carry_out(at, step.orders, step.reports)
    try:
        while at < until and not (settings.order != "form" and step.wake is None and not coming):
            wake = max(step.wake, at) if step.wake is not None else until
            at = min(wake, coming[0].seconds if coming else until, until)
            wait_until(origin + at)
            events = [coming.pop(0)] if coming and coming[0].seconds <= at else []
            for event in events:
                heard.append(event)
                if sound:
                    sound.order(origin + at, (event.status | PLAYER_CHANNEL, event.data1, event.data2))
            step = rehearsal.advance(at, [*wishes(at), *events])
            carry_out(at, step.orders, step.reports)
    finally:
        step = rehearsal.finish(at)
        carry_out(at, step.orders, step.reports)
    return Recording(tuple(heard), tuple(orders), tuple(reports))


def open_sound(
    port: str | None = None,
    midi: str | None = None,
    notify: Callable[[Notice], None] = lambda notice: None,
    *,
    title: str = "",
    ask: sounding_marks.Ask | None = None,
) -> tuple[SenderLink, dict[Part, int]]:
    """Open what the demo sounds on.

    Parameters
    ----------
    port : str, optional
        Part of the name of a MIDI port; by default the computer's sound.
    midi : str, optional
        The MIDI service.
    notify : callable, optional
        Gets what the sender says, in a thread of its own: that the port went away, for one.
    title : str
        What is played, for another companion that wants to play there meanwhile.
    ask : callable, optional
        Asks whether to play on a port that another companion uses; nobody does unless given.

    Returns
    -------
    sound : SenderLink
    channels : dict of Part to int
        Channel of each part, 1-16.

    Raises
    ------
    DeviceError
        There is no such port, or another companion uses it; or FluidSynth, a soundfont or a sound card is missing.
    """
    words, channels = words_for_sender(port, midi, title=title, ask=ask)
    return SenderLink(words, notify), channels


def words_for_sender(
    port: str | None, midi: str | None, *, title: str, ask: sounding_marks.Ask | None
) -> tuple[SenderWords, dict[Part, int]]:
    """What the sender is started with, and the channels of the parts (1-16); see :func:`open_sound`."""
    instruments = read_instruments()
    setup = instruments.setups["synth" if port is None else "module"]
    programs = {setup.channels[part] - 1: program - 1 for part, program in setup.programs.items()}
    words = SenderWords(
        api="",
        port=None,
        channels=tuple(sorted({PLAYER_CHANNEL, *(channel - 1 for channel in setup.channels.values())})),
        programs=tuple(programs.items()),
        synth=instruments.synth,
    )
    if port is not None:
        ports = find_ports(midi or instruments.midi)
        fits = [name for name in ports.outputs if port.casefold() in name.casefold()]
        if not fits:
            raise DeviceError(f"no MIDI output is called '{port}'", mend="see 'companion ports'")
        marks = data_folder() / sounding_marks.FOLDER
        sounding_marks.check_alone(marks, ports.api, output=fits[0], ask=ask)
        words = replace(words, api=ports.api, port=fits[0], synth=None, marks=str(marks), title=title)
    return words, dict(setup.channels)
