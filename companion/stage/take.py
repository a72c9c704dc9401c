"""Takes: folders on the disk that keep what was played, from the first note, through crashes as well.

A take is a folder under ``takes`` in the folder for user data, named by date, time and chart. In it:

- ``take.mid``: what the player and the companion played, a track each (:mod:`companion.stage.performance`);
- ``take.json``: the chart, the settings, the beats, and what the player wished;
- while it is played, ``journal.jsonl`` instead (:mod:`companion.stage.journal`), forced to the disk twice a second. At
  the end the two files are written (:mod:`companion.stage.take_writer`); after a crash they are made from it when the
  companion is next started (:mod:`companion.stage.recovery`).

Nothing is ever overwritten: a folder is new or isn't used. A take can be replayed: ``companion replay TAKE``.

Conventions: seconds from the take's start, which lies a second before its first event.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.errors import InputError, PerformanceError
from companion.messages import PARTS, Beat, Heard, Order, Round, State, Wish
from companion.midi_file import read_standard_midi
from companion.stage.journal import JOURNAL
from companion.stage.performance import KINDS, MOST_BYTES, TICKS_A_SECOND, read_performance
from companion.stage.recovery import recover, take_folders
from companion.stage.sending_figures import SendingFigures
from companion.stage.take_files import DATA, FORMAT, MIDI, Outcome, check_head, moment
from companion.stage.typed_rows import from_table, of_type

if TYPE_CHECKING:
    from companion.chart.model import Chart
    from companion.stage.settings import Settings


@dataclass(frozen=True)
class Take:
    """A kept take, without its notes."""

    folder: Path
    title: str
    started: datetime
    seconds: float
    """From its start to its last event."""
    how: Outcome
    source: str | None
    """The file that the chart was read from."""
    chart: str
    """The chart as TOML."""
    settings: dict[str, Any]
    beats: tuple[Beat, ...]
    states: tuple[State, ...] = ()
    rounds: tuple[Round, ...] = ()
    """Of a drill."""
    wishes: tuple[Wish, ...] | None = None
    """What was wished while it was played, by keys and pedals as well; None where these are among the notes still."""
    kept: bool = False
    """Whether the player marked it to be kept."""
    sending: SendingFigures | None = None
    """How late the companion's messages were, where they were sent to an instrument."""

    @property
    def midi(self) -> Path:
        """The Standard MIDI File."""
        return self.folder / MIDI

    def heard(self) -> list[Heard]:
        """What the player played. Raises PerformanceError when the file is damaged."""
        return read_performance(self.midi)

    def sounded(self) -> list[Order]:
        """What the companion played, in order of time within each part.

        Raises
        ------
        PerformanceError
            The file is damaged.
        """
        midi = read_standard_midi(self.midi, MOST_BYTES, "a take", PerformanceError)
        orders = []
        for part in PARTS:
            for tick, message in (row for track in midi.tracks if track.name == part for row in track.messages):
                if message.type in KINDS:
                    status, data1, data2 = message.bytes()
                    orders.append(Order(tick / TICKS_A_SECOND, part, status & 0xF0, data1, data2))
        return orders

    def rehearsed(self) -> tuple[Chart, Settings]:
        """The chart and the settings, to replay it.

        Raises
        ------
        InputError
            The chart is damaged or of a newer format, or the settings are no settings.
        """
        from companion.chart.toml.read import parse_toml
        from companion.stage.settings import Settings

        try:
            settings = from_table(Settings, self.settings)
            if (settings.tempo or 1) <= 0:
                raise ValueError
        except ValueError:
            raise InputError("its settings are damaged", file=str(self.folder / DATA)) from None
        return parse_toml(self.chart), settings


@dataclass(frozen=True)
class DamagedTake:
    """A folder that holds a take, or what is left of one, and can't be read."""

    folder: Path
    started: datetime
    """By the folder's name; where that says none, when something in it was changed last."""
    why: str
    """A line that names the file."""


def list_takes(data: Path | None = None) -> list[Take | DamagedTake]:
    """Every kept take, the latest first; those of a crash are completed before.

    One that can't be read, or can't be completed, is named with the reason. What is being played now is left out, and
    so is a folder in which nothing was ever kept.
    """
    recovered = recover(data, set_aside=False)  # that is said where one plays
    broken_off = dict((*recovered.damaged, *recovered.waiting))
    found: list[Take | DamagedTake] = []
    for place in take_folders(data):
        if place in broken_off:
            found.append(_damaged(place, f"{place / JOURNAL}: {broken_off[place]}"))
        elif (place / DATA).exists() or (place / MIDI).exists():
            found.append(_read_or_named(place))
    return sorted(found, key=lambda take: (take.started, take.folder.name), reverse=True)


def _read_or_named(place: Path) -> Take | DamagedTake:
    try:
        take = read_take(place)
    except InputError as error:
        return _damaged(place, str(error))
    return take if take.midi.exists() else _damaged(place, f"{take.midi}: there is no such file")


def _damaged(place: Path, why: str) -> DamagedTake:
    try:
        started = datetime.strptime(place.name[:17], "%Y-%m-%d-%H%M%S").astimezone()
    except (ValueError, OverflowError, OSError):
        started = datetime.fromtimestamp(place.stat().st_mtime).astimezone()
    return DamagedTake(place, started, why)


def read_take(folder: Path) -> Take:
    """Read a take.

    Raises
    ------
    InputError
        There is none in that folder, it is damaged, or it is of a newer format.
    """
    file = folder / DATA
    try:
        table = json.loads(file.read_text(encoding="utf-8"))
        if of_type(table["format"], int) > FORMAT:
            raise InputError("is of a newer format", file=str(file), mend="update the companion")
        check_head(table)
        return Take(
            folder,
            table["title"],
            moment(table["started"]),
            of_type(table["seconds"], float),
            of_type(table["how"], Outcome),
            table["chart"]["source"],
            table["chart"]["toml"],
            table["settings"],
            tuple(from_table(Beat, row) for row in table["beats"]),
            tuple(from_table(State, row) for row in table.get("states", [])),
            tuple(from_table(Round, row) for row in table.get("rounds", [])),
            tuple(from_table(Wish, row) for row in table["wishes"]) if "wishes" in table else None,
            of_type(table.get("kept", False), bool),
            from_table(SendingFigures, table["sending"]) if "sending" in table else None,
        )
    except OSError:
        mend = f"a take is a folder with {DATA} and {MIDI}"
        raise InputError("there is no take", file=str(folder), mend=mend) from None
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"damaged ({type(error).__name__})", file=str(file)) from None
