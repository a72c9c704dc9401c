"""A demo as text, a line a bar: position, changes, beats held or missed, how sure the companion was, and the notes.

Columns have heads and stay in line: what is too long for its column is cut, and where the terminal is narrow the least
useful columns are left out (:mod:`companion.stage.columns`). Each line is written when the next bar begins; lines
between them say where the player stops or leaps and where the companion thins out or holds.

Conventions: beats in quarters from the first downbeat of the form; seconds from the start of the performance. Notes of
one part within 35 ms are a chord. Pitches are spelled by the chord they sound over and by the key, without octaves.
"""

from __future__ import annotations

import bisect
import sys
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from companion.messages import HELD_WITHIN, Beat, EventKind, Heard, Order, Report, State
from companion.music.tonality import spell
from companion.stage.columns import CUT, Column, fitting, line_of_columns
from companion.stage.console import event_text, told_text

if TYPE_CHECKING:
    from companion.chart.model import Form
    from companion.music.chords import Chord
    from companion.pianist.player import SimulatedPerformance

NEAR = 0.150
"""Seconds from the player's own beat within which one that isn't in time is near it."""
MARKS = ("●", "◐", "○")
PLAIN = ("*", "+", "o")
"""Held, near and off, and the same for a terminal without the signs."""
TOGETHER = 0.035
"""Seconds within which notes are one chord."""
EARLY = 0.060
"""Seconds by which a note may come before the bar that it belongs to."""
INDENT = 9
"""Columns by which is set in what happens between two bars, where there is room."""
ROOMY = 60
"""Columns of a line from which there is."""
BAR = "     bar"
"""Head of the first column, above the bars' numbers."""
OURS = "its line:"
"""Words before the companion's improvised line."""


class BarLines:
    """Writes the bars of a rehearsal with the built-in player.

    Parameters
    ----------
    form : Form
    player : SimulatedPerformance
        The performance, and where its beats really are.
    say : callable
        Gets each line.
    width : int, optional
        Columns that a line may take; as many as it needs if not given.
    """

    def __init__(self, form: Form, player: SimulatedPerformance, say: Callable[[str], None], width: int | None = None):
        self._form, self._say, self._width = form, say, width
        self._truth = player.beats
        self._times = [row.seconds for row in self._truth]
        self._breaks = [(a.seconds, b) for a, b in pairwise(self._truth) if b.mark in ("jump", "resume")]
        self._heard = [h for h in player.heard if h.is_note_on]
        self._marks = MARKS if _can_show("".join(MARKS)) else PLAIN
        self._beats: list[Beat] = []
        self._orders: list[Order] = []
        self._chorus = 0
        self._told: list[str] = []
        """What is said when the bar that is on has been written."""
        self._event, self._last = "", False
        self._between = {float(s.start): s.form for s in player.route if s.form is not None}
        """The bars of the introduction and of the ending, by the chart beat at which each begins."""
        forms = form, *self._between.values()
        wide = max(len(self._changes(bar, one)) for one in forms for bar in range(1, len(one.bars) + 1))
        beats = max(5, round(float(form.metre.bar / form.metre.pulse)))
        self._columns = fitting(
            [
                Column(BAR, 8, 8),
                Column("changes", 7, max(7, wide), leave_out=1),
                Column("beats", beats, beats),
                Column("sure", 5, 5, leave_out=4),
                Column("pianist", 12, 30),
                Column("bass", 12, 18, leave_out=2),
                Column("above the bass", 14, 60, leave_out=3),
            ],
            width,
        )

    def heading(self) -> list[str]:
        """What the lines hold."""
        held, near, off = self._marks
        in_time, not_far = round(1000 * HELD_WITHIN), round(1000 * NEAR)
        beats = f"beats: {held} within {in_time} ms of the pianist's own, {near} within {not_far}, {off} farther off"
        heads = self._row({one.head: one.head for one in self._columns})
        return [*textwrap.wrap(beats, self._width or len(beats)), heads]

    def _row(self, cells: Mapping[str, str]) -> str:
        return line_of_columns(self._columns, cells, CUT if _can_show(CUT) else ".")

    def _between_bars(self, text: str) -> str:
        """A line of what happens between two bars, in the column of the changes where there is room."""
        width = self._width or 1000
        indent = " " * (INDENT if width >= ROOMY else 1)
        return textwrap.fill(text, width, initial_indent=indent, subsequent_indent=indent)

    def watch(self, now: float, orders: Iterable[Order], reports: Iterable[Report]) -> None:
        """Take one step of the rehearsal, as ``replay`` tells it."""
        self._orders += [o for o in orders if o.status & 0xF0 == 0x90 and o.data2 and o.part != "click"]
        for report in reports:
            if isinstance(report, Beat):
                if self._beats and self._bar(report) != self._bar(self._beats[-1]):
                    self._write(report.seconds)
                self._beats.append(report)
            elif isinstance(report, State):
                self._take(report)
        while self._breaks and self._breaks[0][1].seconds <= now:
            before, row = self._breaks.pop(0)
            bar = self._form.bar_at(row.chart_beat)
            place = f"bar {bar}" + self._within(row.chart_beat, bar)
            if row.mark == "resume":
                self._say(
                    self._between_bars(f"the pianist goes on from {place} after a stop of {row.seconds - before:.1f} s")
                )
            else:
                self._say(self._between_bars(f"the pianist leaps to {place}"))

    def _take(self, state: State) -> None:
        event = event_text(state)
        if event != self._event:
            self._write(state.seconds)
            self._event, self._last = event, state.last
            if state.name != "ended":
                self._say(event)
        elif told := told_text(state, self._last):
            self._last = state.last
            self._say_after(self._between_bars(f"the pianist tells the {told}" if state.last else told))
        if state.name == "thinning":
            self._say_after(self._between_bars("the companion thins out"))
        elif state.name == "holding":
            self._write(state.seconds)
            self._say(self._between_bars("the companion holds"))

    def _say_after(self, line: str) -> None:
        """Say something when the bar that is on has been written; at once between two bars."""
        if self._beats:
            self._told.append(line)
        else:
            self._say(line)

    def _within(self, beat: float, bar: int) -> str:
        """Where in its bar a beat lies; nothing for the first."""
        into = beat % float(self._form.length) - float(self._form.bars[bar - 1])
        number = round(into / float(self._form.metre.pulse))
        return f", beat {number + 1}" if number else ""

    def finish(self, now: float) -> None:
        """Write what is left."""
        self._write(now + 1.0)

    def _bar(self, beat: Beat) -> tuple[EventKind | Literal[""], int, int]:
        form, begins = self._bars_of(beat)
        return beat.event, beat.chorus, form.bar_at(beat.chart_beat - begins)

    def _bars_of(self, beat: Beat) -> tuple[Form, float]:
        """The bars that a beat is one of, and the chart beat at which they begin."""
        begins = max((b for b in self._between if b <= beat.chart_beat), default=0.0)
        if beat.event in ("introduction", "ending") and begins in self._between:
            return self._between[begins], begins
        return self._form, 0.0

    def _write(self, until: float) -> None:
        if not self._beats:
            return
        event, chorus, bar = self._bar(self._beats[0])
        form, _ = self._bars_of(self._beats[0])
        if chorus != self._chorus and not event:
            self._say(f"chorus {chorus}")
        self._chorus = chorus
        marks = "".join(self._mark(beat) for beat in self._beats)
        sure = 100 * sum(beat.sure for beat in self._beats) / len(self._beats)
        own = form is self._form
        section = form.section_at(self._beats[0].chart_beat).name if own else ""
        end = until - EARLY
        heard = [h for h in self._heard if h.seconds < end]
        orders = sorted((o for o in self._orders if o.seconds < end), key=lambda o: o.seconds)
        self._heard, self._orders = self._heard[len(heard) :], [o for o in self._orders if o.seconds >= end]
        line = [o for o in orders if o.part == "solo"] if any(beat.turn == "ours" for beat in self._beats) else []
        above = [o for o in orders if o.part != "bass" and o not in line]
        cells = {
            BAR: f"{section:>4.4s} {bar:3d}",
            "changes": self._changes(bar, form),
            "beats": marks,
            "sure": f"{sure:3.0f} %",
            "pianist": f"{OURS} {self._letters(line)}" if line and not heard else self._letters(heard),
            "bass": self._letters([o for o in orders if o.part == "bass"]),
            "above the bass": self._letters(above),
        }
        self._say(self._row(cells))
        self._beats = []
        told, self._told = self._told, []
        for text in told:
            self._say(text)

    def _mark(self, beat: Beat) -> str:
        """How far a beat lies from the player's own at that place of the chart."""
        off, k = 9.0, bisect.bisect_left(self._times, beat.seconds - NEAR)
        while k < len(self._times) and self._times[k] <= beat.seconds + NEAR:
            if abs(self._truth[k].chart_beat - beat.chart_beat) < 1e-3:
                off = min(off, abs(self._times[k] - beat.seconds))
            k += 1
        return self._marks[0 if off <= HELD_WITHIN else 1 if off <= NEAR else 2]

    def _changes(self, bar: int, form: Form | None = None) -> str:
        """The chords of a bar; one that goes on from the bar before is not said again."""
        form = form or self._form
        start = form.bars[bar - 1]
        end = form.bars[bar] if bar < len(form.bars) else form.length
        return " ".join(span.chord.symbol for span in form.chords if start <= span.start < end) or "%"

    def _letters(self, notes: Sequence[Heard | Order]) -> str:
        """Notes of one part in the bar that is on, by their names; what is struck together from the bottom up."""
        strokes: list[list[Heard | Order]] = []
        for note in notes:
            if strokes and note.seconds - strokes[-1][0].seconds < TOGETHER:
                strokes[-1].append(note)
            else:
                strokes.append([note])
        ordered = [sorted(stroke, key=lambda note: note.data1) for stroke in strokes]
        under = [self._chord_under(note) for stroke in ordered for note in stroke]
        keys = [note.data1 for stroke in ordered for note in stroke]
        names = iter([str(pitch.name) for pitch in spell(keys, under, self._form.fifths, self._form.minor)])
        return " ".join("-".join(next(names) for _ in stroke) for stroke in ordered)

    def _chord_under(self, note: Heard | Order) -> Chord:
        """The chord at the last beat before a note, or just after it."""
        begun = [beat for beat in self._beats if beat.seconds <= note.seconds + EARLY]
        beat = begun[-1] if begun else self._beats[0]
        form, begins = self._bars_of(beat)
        return form.chord_at(beat.chart_beat - begins).chord


def _can_show(text: str) -> bool:
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
