"""The whole window during a rehearsal, to be read from the bench: the place, this chord and the next, in large letters.

It takes the place of :class:`companion.stage.console.LiveLine` where the terminal is large enough. What is said in
words (:meth:`Window.say`) stands at the foot meanwhile, and stays in the terminal when the window is given back. A
thread of its own does the writing: a terminal that is held up delays no note.

Conventions: chart beats in quarters; rows and columns of the terminal. Control sequences are those of ECMA-48 and
xterm's alternate screen (mode 1049), which every terminal emulator in use knows.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from queue import SimpleQueue
from typing import TYPE_CHECKING, TextIO

from companion.chart.keys import write_key
from companion.messages import Beat, Report, Round, State
from companion.stage.console import SPAN, TURNS, WORDS, doubt_text, event_text, round_text, tempo_of, told_text
from companion.stage.glyphs import large, largest, width

if TYPE_CHECKING:
    from companion.chart.model import Form

LEAST = (48, 15)
"""Columns and rows of a window that is worth it."""
HELD_UP = 3.0
"""Seconds: longer than a busy machine takes to write the last of it, shorter than anybody thinks that it hangs."""
OPEN, CLOSE = "\x1b[?1049h\x1b[?25l", "\x1b[?25h\x1b[?1049l"
HOME, WIPE, REST_OF_LINE, REST = "\x1b[H", "\x1b[2J", "\x1b[K", "\x1b[J"
DIM, BRIGHT, PLAIN = "\x1b[2m", "\x1b[1m", "\x1b[0m"
SIGNS = str.maketrans({"b": "♭", "#": "♯"})
MARGIN = 2
"""Columns left free on each side."""


@dataclass(frozen=True)
class Scene:
    """What is to be seen."""

    place: str = ""
    """Section and bar."""
    ahead: str = ""
    """What comes next in the form, and when."""
    now: str = ""
    """The chord, or the count."""
    then: str = ""
    """The chord after it."""
    head: str = ""
    """Small, on top: the event, the tempo."""
    note: str = ""
    """Small, below: how things stand, where that needs a word."""
    foot: str = ""
    """Small, at the foot: what was said last."""


def fits(stream: TextIO) -> bool:
    """Whether a stream is a terminal with room for the window."""
    try:
        size = os.get_terminal_size(stream.fileno())
    except (OSError, ValueError, AttributeError):
        return False
    plain = os.environ.get("TERM", "") in ("dumb", "") and sys.platform != "win32"
    return stream.isatty() and not plain and size.columns >= LEAST[0] and size.lines >= LEAST[1]


def drawn(scene: Scene, columns: int, rows: int) -> list[str]:
    """The rows of a window.

    Parameters
    ----------
    scene : Scene
    columns, rows : int

    Returns
    -------
    list of str
        At most ``rows`` of at most ``columns`` characters, control sequences not counted.
    """
    room = columns - 2 * MARGIN
    top = _either_side(scene.place, scene.ahead, room, max(4, (rows - 6) // 5))
    left = rows - len(top) - 6
    now = largest(scene.now, room, max(4, left * 3 // 5)) if scene.now else []
    below = left - len(now) - 1
    smaller = max(4, min(below, len(now) - 1)) if now else below  # what is now is the largest
    then = largest(scene.then, room, smaller) if scene.then and below >= 4 else []
    body = [*top, "", *(BRIGHT + row + PLAIN for row in now), "", *(DIM + row + PLAIN for row in then)]
    lines = [scene.head[:room], "", *body[: rows - 5]]
    lines += [""] * (rows - 2 - len(lines))
    lines += [scene.note[:room], scene.foot[:room]]
    return [" " * MARGIN + line for line in lines]


def _either_side(left: str, right: str, columns: int, rows: int) -> list[str]:
    """Two texts in large letters, one at each side; the second one below where there is no room beside."""
    for size in (size for size in (4, 2, 1) if size == 1 or 3.5 * size <= rows):
        gap = columns - width(left, size) - width(right, size)
        if gap >= 4:
            pairs = zip(large(left, size), large(right, size), strict=True)
            return [a + " " * gap + b for a, b in pairs]
    return largest(left, columns, 4)


class Window:
    """Shows where the rehearsal is, in the whole window; used as :class:`companion.stage.console.LiveLine` is.

    Parameters
    ----------
    form : Form
        For bars, sections and chords.
    stream : text file
        A terminal.
    in_key : callable, optional
        Gives the form in the key that a round of a drill is played in.
    """

    def __init__(self, form: Form, stream: TextIO, in_key: Callable[[str], Form] | None = None):
        self._form, self._stream = form, stream
        self._tune, self._in_key = form, in_key
        self._key = write_key(form.fifths, form.minor)
        self._scene, self._said = Scene(), list[str]()
        self._beats: list[Beat] = []
        self._round: Round | None = None
        self._state: State | None = None
        self._queue: SimpleQueue[Scene | None] = SimpleQueue()
        self._thread = threading.Thread(target=self._write, daemon=True)
        self._thread.start()

    # What is told

    def wait(self) -> None:
        """Show that it is the player's turn to begin."""
        self._show(then=self._opening(), note=WORDS["waiting"])

    def say(self, text: str) -> None:
        """A line that stays when the window is gone."""
        self._said.append(text)
        self._show(foot=text)

    def report(self, report: Report) -> None:
        """Take a report of the rehearsal's."""
        if isinstance(report, Beat):
            self._beats = [*self._beats[-SPAN:], report]
            self._at(report)
        elif isinstance(report, State):
            before, self._state = self._state, report
            if told := told_text(report, before.last if before else False):
                self.say(told)
            if report.name == "counting":
                self._count(report)
            else:
                self._show(note=self._note(None))
        elif isinstance(report, Round):
            self._go_round(report)

    def close(self) -> None:
        """Give the window back, and leave what was said; a terminal that is held up is waited for so long."""
        self._queue.put(None)
        self._thread.join(HELD_UP)

    # What is seen

    def _count(self, state: State) -> None:
        metre = self._form.metre
        place = Fraction(state.chart_beat or 0).limit_denominator(960)
        count = int(place % metre.bar / metre.pulse) + 1
        head, note = self._head(None), WORDS["counting"]
        self._show(now=str(count), then=self._opening(), place="", ahead="", head=head, note=note)

    def _go_round(self, report: Round) -> None:
        """A round of a drill is laid out, or over: what became of it, and how fast the next one is."""
        self._round = report
        if self._in_key is not None and report.key != write_key(self._form.fifths, self._form.minor):
            self._form = self._tune if report.key == self._key else self._in_key(report.key)
        if report.why:
            self.say(round_text(report))
        if report.good is not None:
            then = "" if report.then is None else f"{report.then:g}"
            self._show(place="", ahead="", now="clean" if report.good else "again", then=then, note=report.why)
        self._show(head=self._head(None))

    def _opening(self) -> str:
        """The first chord of the tune, or of the bars that are drilled."""
        if self._round and self._round.hidden:
            return ""
        first = self._form.bars[self._round.first - 1] if self._round else 0
        opening = self._form.chord_at(first).chord
        return str(opening).translate(SIGNS) if opening.is_chord else ""

    def _at(self, beat: Beat) -> None:
        form, place = self._form, Fraction(beat.chart_beat).limit_denominator(960)
        if beat.event in ("introduction", "ending"):
            self._outside(beat, place)
            return
        if self._round and self._round.hidden:
            self._show(place="by heart", ahead="", now="", then="", head=self._head(beat), note=self._note(beat))
            return
        span = form.chord_at(place)
        after = form.chord_at(span.end)
        section = form.section_at(place)
        bars = sum(1 for bar in form.bars if place % form.length < bar < section.end) + 1
        following = form.section_at(section.end).name
        self._show(
            place=f"{section.name}  {form.bar_at(place)}",
            ahead=f"{following} in {bars}" if len(form.sections) > 1 else f"{bars} to go",
            now=str(span.chord).translate(SIGNS),
            then=str(after.chord).translate(SIGNS),
            head=self._head(beat),
            note=self._note(beat),
        )

    def _outside(self, beat: Beat, place: Fraction) -> None:
        bar = self._form.metre.bar
        if beat.event == "introduction":
            now, place_text = str(max(1, -(place // bar))), "head in"
        else:
            now, place_text = str(int((place - self._form.length) // bar) + 1), "ending, bar"
        self._show(place=place_text, ahead="", now=now, then="", head=self._head(beat), note=self._note(beat))

    def _head(self, beat: Beat | None) -> str:
        if self._round:
            key = "" if self._round.key == self._key else f" · {self._round.key}"
            return round_text(replace(self._round, why="", then=None)) + key
        tempo = tempo_of(self._beats) or (self._state.tempo if self._state else None)
        event = event_text(self._state) if self._state and self._state.event else ""
        words = [event or (f"chorus {beat.chorus}" if beat else ""), f"♩ = {tempo:.0f}" if tempo else ""]
        return "   ".join(word for word in words if word)

    def _note(self, beat: Beat | None) -> str:
        state = self._state.name if self._state else "waiting"
        if state not in ("playing", "counting"):
            return WORDS[state]
        if beat is None:
            return ""
        return doubt_text(beat.sure) or (TURNS[beat.turn] if beat.turn else "")

    def _show(self, **parts: str) -> None:
        self._scene = replace(self._scene, **parts)
        self._queue.put(self._scene)

    # In a thread of its own

    def _write(self) -> None:
        size: os.terminal_size | None = None
        try:
            self._stream.write(OPEN)
            while (scene := self._queue.get()) is not None:
                while not self._queue.empty():  # only the newest of several is worth showing
                    following = self._queue.get()
                    if following is None:
                        self._queue.put(None)
                        break
                    scene = following
                before, size = size, os.get_terminal_size(self._stream.fileno())
                rows = drawn(scene, size.columns - 1, size.lines)
                start = HOME if size == before else WIPE + HOME
                self._stream.write(start + (REST_OF_LINE + "\r\n").join(rows) + REST_OF_LINE + REST)
                self._stream.flush()
            self._stream.write(CLOSE + "".join(f"{text}\n" for text in self._said))
            self._stream.flush()
        except (OSError, ValueError):
            return  # nobody is looking
