"""The terminal during a rehearsal: one status line while it goes, a summary at the end.

On a terminal the line is rewritten in place, at most a few times a second, and never wraps: what doesn't fit is left
out, the least useful first. Into a file or a pipe only changes of state are written, a line each. A thread of its own
does the writing: a terminal that is held up (Ctrl-S) delays no note.

Conventions: chart beats in quarters, seconds from the start of the rehearsal, tempo in quarters a minute.
"""

from __future__ import annotations

import os
import statistics
import threading
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil
from pathlib import Path
from queue import SimpleQueue
from textwrap import wrap
from typing import TYPE_CHECKING, TextIO

from companion.messages import Beat, Order, Report, Round, State, StateName, WhoseTurn

if TYPE_CHECKING:
    from companion.chart.model import Form

WORDS: dict[StateName, str] = {
    "waiting": "waiting for you",
    "counting": "counting in",
    "playing": "playing",
    "thinning": "thinning out",
    "holding": "holding, go on when you like",
    "tapping": "tap four beats on any key",
    "melody": "play the melody",
    "chords": "now the chords",
    "listening": "listen",
    "answering": "your turn",
    "resting": "a bar of rest",
    "ended": "the end",
}
"""States as they are shown."""
FASTEST = 1000.0
"""Quarters a minute above which a measured tempo is cut off."""
ECHO = 2
"""Columns of the ^C that a terminal shows by itself."""
COLUMNS = 80
"""Of a terminal that doesn't say how wide it is."""
GAP = "   "
SPAN = 8
"""Beats over which the shown tempo is taken."""


def tempo_of(beats: Sequence[Beat]) -> float | None:
    """Tempo in quarters a minute over beats that follow each other; the median, so that a leap doesn't count."""
    rates = [
        60 * (b.chart_beat - a.chart_beat) / (b.seconds - a.seconds)
        for a, b in pairwise(beats)
        if b.seconds > a.seconds and 0 < b.chart_beat - a.chart_beat <= 2
    ]
    return statistics.median(rates) if rates else None


class BeatTally:
    """What an account says of beats, taken while they come, so that a long evening takes no more room than a short."""

    def __init__(self, beats: Iterable[Beat] = ()):
        self.count = 0
        self.chorus = 0
        """The last one."""
        self._sure = 0.0
        self._last: Beat | None = None
        self._rates: Counter[int] = Counter()
        """How often two beats that follow each other had each tempo, in whole quarters a minute."""
        for beat in beats:
            self.add(beat)

    def add(self, beat: Beat) -> None:
        """Take a beat, in order of time."""
        self.count += 1
        self.chorus = max(self.chorus, beat.chorus)
        self._sure += beat.sure
        if self._last and (tempo := tempo_of([self._last, beat])) is not None:
            self._rates[round(min(tempo, FASTEST))] += 1
        self._last = beat

    @property
    def sure(self) -> float:
        """The mean of the beats' probabilities."""
        return self._sure / self.count if self.count else 0.0

    @property
    def tempo(self) -> int | None:
        """The median tempo, in quarters a minute; None before two beats follow each other."""
        passed, middle = 0, (self._rates.total() + 1) // 2
        for tempo, count in sorted(self._rates.items()):
            passed += count
            if passed >= middle:
                return tempo
        return None


def event_text(state: State) -> str:
    """Which event is on and, where it has several choruses, which of them: 'solos, chorus 2 of 3'."""
    many = state.event in ("head", "solos") and (state.times or 1) > 1
    return state.event + (f", chorus {state.time} of {state.times}" if many else "")


TURNS: dict[WhoseTurn, str] = {"yours": "your turn", "ours": "its turn"}
"""Where two improvise in turn, whose it is."""


def round_text(report: Round) -> str:
    """A round of a drill in a line, under way or over: 'bars 17–24 · round 5 · ♩ = 96, next 100 · clean'."""
    bars = f"bar {report.first}" if report.first == report.last else f"bars {report.first}–{report.last}"
    tempo = f"♩ = {report.tempo:g}"
    if report.then is not None:
        tempo += f", next {report.then:g}" if report.then != report.tempo else ", again"
    return " · ".join(word for word in (bars, f"round {report.number}", tempo, report.why) if word)


def told_text(state: State, before: bool) -> str:
    """What was understood, when the player has told the last time or taken it back; empty when nothing changed."""
    if state.last == before:
        return ""
    if not state.last:
        return "taken back: it goes on as before" if state.name != "ended" else ""
    return "last time: " + ("the head comes next" if state.event == "solos" else "the ending comes next")


UNSURE, LOST = 0.6, 0.3
"""Probability of the beat below which it is said that the place isn't sure, and that it is being looked for."""


def doubt_text(sure: float) -> str:
    """That the place isn't sure, where it isn't; else nothing."""
    if sure < LOST:
        return "looking for you: roots alone until the place is clear"
    return "not sure of the place" if sure < UNSURE else ""


LEAST_USEFUL = ("tempo", "sure", "event", "turn", "state")
"""Parts of the status line that are left out where there is no room, in this order; the place always stays."""


def columns_of(stream: TextIO) -> int:
    """How wide a terminal is, in characters."""
    try:
        return os.get_terminal_size(stream.fileno()).columns or COLUMNS
    except (OSError, ValueError):
        return COLUMNS


class LiveLine:
    """Shows where the rehearsal is.

    Parameters
    ----------
    form : Form
        For bars and sections.
    stream : text file
        Where it is shown.
    """

    def __init__(self, form: Form, stream: TextIO):
        self._form, self._stream = form, stream
        self._terminal = stream.isatty()
        self._state: StateName = "waiting"
        self._beats: list[Beat] = []
        self._event, self._last = "", False
        self._round: Round | None = None
        self._queue: SimpleQueue[tuple[bool, str] | None] = SimpleQueue()
        self._thread = threading.Thread(target=self._write, daemon=True)
        self._thread.start()

    def wait(self) -> None:
        """Show that it is the player's turn to begin."""
        if self._terminal:
            self._queue.put((False, WORDS["waiting"]))

    def report(self, report: Report) -> None:
        """Take a report of the rehearsal's."""
        if isinstance(report, Beat):
            self._beats = [*self._beats[-SPAN:], report]
            if self._terminal:
                self._queue.put((False, self.place(report, columns_of(self._stream) - 1)))
        elif isinstance(report, State):
            self._take(report)
        elif isinstance(report, Round):
            self._round = report
            if report.why or not self._terminal:
                self._queue.put((True, round_text(report)))

    def _take(self, state: State) -> None:
        if state.name != self._state:
            self._state = state.name
            self._queue.put((not self._terminal, WORDS[state.name]))
        event = "" if state.name == "counting" else event_text(state)
        if event != self._event:
            self._event, self._last = event, state.last
            if event and state.name != "ended":
                self._queue.put((not self._terminal, event))
        elif told := told_text(state, self._last):
            self._last = state.last
            self._queue.put((True, told))

    def say(self, text: str) -> None:
        """Write a line that stays."""
        self._queue.put((True, text))

    def place(self, beat: Beat, columns: int | None = None) -> str:
        """Chorus, section, bar, tempo and how sure, in a line; of so many columns, the most useful of them."""
        tempo = tempo_of(self._beats)
        words = {
            "event": self._event or f"{'round' if self._round else 'chorus'} {beat.chorus}",
            "bar": self._bar(beat),
            "turn": TURNS[beat.turn] if beat.turn else "",
            "tempo": f"♩ = {tempo:.0f}" if tempo else "",
            "sure": f"{100 * beat.sure:.0f} % sure",
            "state": "" if self._state == "playing" else WORDS[self._state],
        }
        said = {name: text for name, text in words.items() if text}
        for name in LEAST_USEFUL:
            if columns is None or len(GAP.join(said.values())) <= columns:
                break
            said.pop(name, None)
        return GAP.join(said.values())

    def _bar(self, beat: Beat) -> str:
        bar = float(self._form.metre.bar)
        if beat.event == "introduction":
            left = ceil(-beat.chart_beat / bar)
            return f"the head in {left} bars" if left > 1 else "the head in a bar"
        if beat.event == "ending":
            return f"bar {int((beat.chart_beat - float(self._form.length)) / bar) + 1}"
        return f"{self._form.section_at(beat.chart_beat).name}, bar {self._form.bar_at(beat.chart_beat)}"

    def close(self) -> None:
        """Leave the cursor on a line of its own; waits a second at most for a terminal that is held up."""
        self._queue.put(None)
        self._thread.join(1.0)

    def _write(self) -> None:
        shown = 0
        while (item := self._queue.get()) is not None:
            stays, text = item
            while not stays and not self._queue.empty():
                following = self._queue.get()
                if following is None:
                    self._queue.put(None)
                    break
                stays, text = following  # only the newest of several is worth showing
            try:
                room = max(1, columns_of(self._stream) - 1)
                if stays:
                    text = folded(text, room) if self._terminal else text
                    self._stream.write(("\r" + " " * shown + "\r" if shown else "") + text + "\n")
                    shown = 0
                else:
                    text = text if len(text) <= room else text[: room - 1] + "…"
                    self._stream.write("\r" + text.ljust(min(shown, room)))
                    shown = len(text)
                self._stream.flush()
            except (OSError, ValueError):
                return  # nobody is looking
        if self._terminal:
            try:
                cleared = min(shown + ECHO, max(1, columns_of(self._stream) - 1))
                self._stream.write("\r" + " " * cleared + "\r")
                self._stream.flush()
            except (OSError, ValueError):
                return


def folded(text: str, columns: int) -> str:
    """A line that doesn't fit, broken between words; what is one word, such as a path, stays whole."""
    if len(text) <= columns:
        return text
    return "\n".join(wrap(text, columns, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False))


@dataclass(frozen=True)
class Account:
    """What happened, in words: first what the player did, then what the companion did."""

    title: str
    seconds: float
    notes_heard: int
    beats: BeatTally
    notes_by_part: dict[str, int]
    player: Sequence[str] = ()
    """What can be said of the player's notes, a line each (:mod:`companion.stage.player_tally`)."""
    take: Path | None = None
    who: str = "you"
    """Who played: 'you', or somebody else in a demo."""
    drilled: bool = False
    """Whether the beats are those of a drill's rounds, and not of choruses."""
    stopped: bool = False
    """Whether the player wished to stop."""

    def lines(self) -> list[str]:
        """The account in words."""
        if not self.notes_heard:
            return [f"{self.title}: no note of yours was heard, so nothing is kept"]
        notes = "note" if self.notes_heard == 1 else "notes"
        lines = [f"{self.title}: {_duration(self.seconds)}, {self.who} played {self.notes_heard} {notes}"]
        lines += self.player
        said = []
        if self.notes_by_part:
            said.append(", ".join(f"{part} {count}" for part, count in self.notes_by_part.items()))
        if self.beats.count:
            beats = "1 beat" if self.beats.count == 1 else f"{self.beats.count} beats"
            sure = f"{100 * self.beats.sure:.0f} % sure of the place on average"
            unit = "round" if self.drilled else "chorus"
            said.append(f"{beats}, into {unit} {self.beats.chorus}, {sure}")
        if said:
            lines.append(
                f"the companion's notes: {'; '.join(said)}" if self.notes_by_part else f"the companion: {said[0]}"
            )
        if self.take:
            lines.append(f"kept in {self.take}")
        return lines


def count_notes(orders: Sequence[Order]) -> dict[str, int]:
    """Notes by part."""
    return dict(Counter(o.part for o in orders if o.status & 0xF0 == 0x90 and o.data2 > 0))


def _duration(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"
