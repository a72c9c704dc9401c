"""What an account says of the player's notes: how much of their part came, how near to the beats, where they stopped.

Taken while it is played, so that a long evening takes no more room than a short one. It says only what a rehearsal
knows, and leaves the judging of single notes to a review: between two beats that the companion sounded, each note of
the player's part is looked for by its letter, in any octave, within half a beat of where it is written. Not counted
is what the companion can't know of: bars in which it wasn't sure of the place, bars that were thought to be improvised
over, the pickup, and what was silent because the player had stopped.

Conventions: chart beats in quarters, seconds on the rehearsal's clock, tempo in quarters a minute.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from companion.messages import Beat, Heard, Order, Part, Report, State, Wish

if TYPE_CHECKING:
    from companion.chart.model import Form

NEAR = 0.5
"""Beats of the metre within which a written note counts as come."""
ON_THE_BEAT = 0.2
"""Beats of the metre within which a note is meant to be on the beat; the off-beat quaver before it is farther off."""
SURE = 0.5
"""Probability of the place from which notes are held against the chart."""
TOGETHER = 0.035
"""Seconds within which notes are struck together."""
KEPT = 8.0
"""Seconds for which a note may still be looked for."""
ENOUGH = 8
"""Notes, or beats, from which a distribution is told."""
NAMED = 3
"""Bars that are named at most."""
RATE_OVER = 4
"""Beats over which a tempo is taken."""
FASTEST = 1000.0
"""Quarters a minute above which a measured tempo is cut off."""
COUNTED: tuple[Part, ...] = ("melody", "bass")
"""Parts of which the chart says what is to come: the melody's notes, and the bass of each chord as it changes."""


@dataclass
class _Stroke:
    """A key that went down."""

    seconds: float
    midi: int
    taken: bool = False


@dataclass(frozen=True)
class _Expected:
    """A note that the chart has for the player."""

    beat: float
    pitch_class: int
    bar: int


class PlayerTally:
    """Counts what the player plays.

    Parameters
    ----------
    form : Form
    you : set of Part
        The player's parts.
    """

    def __init__(self, form: Form, you: Iterable[Part]):
        self._form, self._you = form, frozenset(you)
        self._pulse, self._length = float(form.metre.pulse), float(form.length)
        self._expected = {part: _expected(form, part) for part in COUNTED if part in self._you}
        self._strokes: deque[_Stroke] = deque()
        self._beats: deque[Beat] = deque(maxlen=RATE_OVER + 1)
        """The latest that follow each other."""
        self._undecided: list[tuple[Part, int, bool]] = []
        """Of each written note since the player was last heard: its part, its bar, and whether it came."""
        self.came: Counter[Part] = Counter()
        """Written notes that came, by part."""
        self.missed: Counter[tuple[Part, int]] = Counter()
        """Those that didn't, by part and bar."""
        self.off: Counter[int] = Counter()
        """How far strokes on a beat were from it, in milliseconds; late is positive."""
        self.velocities: Counter[int] = Counter()
        self.tempi: Counter[int] = Counter()
        """Over some beats each, in whole quarters a minute."""
        self.stops: Counter[int] = Counter()
        """How often the companion had to hold, by bar."""
        self.leaps: Counter[tuple[int, int, int]] = Counter()
        """How often the player went on elsewhere: from a bar, to a bar, over so many beats (negative: back)."""
        self._stopped = False

    def add(self, event: Heard | Wish | Order | Report) -> None:
        """Take what was heard or reported, in the order in which it came."""
        if isinstance(event, Heard) and event.is_note_on:
            self.velocities[event.data2] += 1
            self._strokes.append(_Stroke(event.seconds, event.data1))
        elif isinstance(event, Beat):
            self._take(event)
        elif isinstance(event, State) and event.name == "holding":
            self._undecided.clear()
            self._stopped = True
            if self._beats:
                self.stops[self._bar(self._beats[-1])] += 1

    def _bar(self, beat: Beat) -> int:
        return self._form.bar_at(beat.chart_beat % self._length)

    def _take(self, beat: Beat) -> None:
        last = self._beats[-1] if self._beats else None
        if last is not None and not self._follows(last, beat):
            if self._form_beat(last) and self._form_beat(beat) and not self._stopped:
                over = round((beat.chart_beat - last.chart_beat) / self._pulse) - 1
                self.leaps[self._bar(last), self._bar(beat), over] += 1
                self._undecided.clear()
            self._beats.clear()
        self._stopped = False
        self._beats.append(beat)
        if len(self._beats) > RATE_OVER:
            took = beat.seconds - self._beats[0].seconds
            if took > 0:
                self.tempi[round(min(60 * RATE_OVER * self._pulse / took, FASTEST))] += 1
        if len(self._beats) > 2:  # what belongs to a beat may come until the next but one is sounded
            self._settle(self._beats[-3], self._beats[-2])
        while self._strokes and self._strokes[0].seconds < beat.seconds - KEPT:
            self._strokes.popleft()

    def _form_beat(self, beat: Beat) -> bool:
        return beat.event not in ("introduction", "ending") and 0 <= beat.chart_beat < self._length

    def _follows(self, last: Beat, beat: Beat) -> bool:
        if last.event != beat.event:
            return not self._stopped
        step = beat.chart_beat - last.chart_beat
        again = abs(beat.chart_beat) < self._pulse / 4 and self._length - last.chart_beat < 1.25 * self._pulse
        return abs(step - self._pulse) < self._pulse / 4 or again

    def _settle(self, beat: Beat, following: Beat) -> None:
        """See what came from one beat to the next, the latter excluded."""
        lasts = following.seconds - beat.seconds
        window = NEAR * lasts
        near = [s for s in self._strokes if beat.seconds - window <= s.seconds < following.seconds + window]
        for stroke in near:
            if abs(stroke.seconds - beat.seconds) <= ON_THE_BEAT * lasts:
                self.off[round(1000 * (stroke.seconds - beat.seconds))] += 1
        if not self._form_beat(beat) or beat.event == "solos" or beat.turn or beat.sure < SURE:
            return
        for part, notes in self._expected.items():
            heard = self._line(near, part)
            for note in notes:
                if beat.chart_beat - 1e-6 <= note.beat < beat.chart_beat + self._pulse - 1e-6:
                    due = beat.seconds + (note.beat - beat.chart_beat) / self._pulse * lasts
                    self._undecided.append((part, note.bar, _find(heard, note.pitch_class, due, window)))
        if any(beat.seconds - window <= s.seconds for s in near):
            self._decide()

    def _line(self, strokes: Sequence[_Stroke], part: Part) -> list[_Stroke]:
        """What of the strokes may be the part's: where several are played, the highest or lowest of those together."""
        if len(self._you) == 1:
            return list(strokes)
        up = 1 if part == "melody" else -1
        return [
            stroke
            for stroke in strokes
            if not any(
                abs(other.seconds - stroke.seconds) <= TOGETHER and up * other.midi > up * stroke.midi
                for other in strokes
            )
        ]

    def _decide(self) -> None:
        for part, bar, has_come in self._undecided:
            if has_come:
                self.came[part] += 1
            else:
                self.missed[part, bar] += 1
        self._undecided.clear()

    # In words

    def lines(self) -> list[str]:
        """What can be said of the playing, a line each."""
        found = [line for part in self._expected if (line := self._part_line(part))]
        if (count := self.off.total()) >= ENOUGH:
            early, middle, late = (_quantile(self.off, share) for share in (0.1, 0.5, 0.9))
            side = f"{abs(middle)} ms {'after' if middle > 0 else 'before'} it" if middle else "on it"
            spread = f"8 of 10 from {_signed(early)} to {_signed(late)} ms"
            found.append(f"on the beat: {count} notes, at the median {side}, {spread}")
        if self.tempi.total() >= ENOUGH:
            low, middle, high = (_quantile(self.tempi, share) for share in (0.05, 0.5, 0.95))
            found.append(f"tempo: {middle} quarters a minute" + (f", from {low} to {high}" if low < high else ""))
        if self.velocities.total() >= ENOUGH:
            soft, middle, firm = (_quantile(self.velocities, share) for share in (0.1, 0.5, 0.9))
            found.append(f"touch: velocity {middle} at the median, 8 of 10 notes from {soft} to {firm}")
        if self.stops:
            found.append(f"stopped {_times(self.stops.total())}, in {_bars(self.stops)}")
        if self.leaps:
            many = [self._leap(*leap) for leap, _ in self.leaps.most_common(NAMED)]
            more = ", among them " if len(self.leaps) > NAMED else ", "
            found.append(f"went on elsewhere {_times(self.leaps.total())}{more}{_and(many)}")
        return found

    def _leap(self, bar: int, to: int, over: int) -> str:
        """A leap in words: within a bar's length by its beats, else by its bars."""
        if abs(over) >= self._form.metre.bar / self._pulse or not over:
            return f"from bar {bar} to bar {to}"
        beats = "a beat" if abs(over) == 1 else f"{abs(over)} beats"
        return f"{beats} left out in bar {to}" if over > 0 else f"{beats} twice in bar {to}"

    def _part_line(self, part: Part) -> str:
        missed = Counter({bar: count for (one, bar), count in self.missed.items() if one == part})
        came, written = self.came[part], self.came[part] + missed.total()
        if not written:
            return ""
        what = f"{written} note" if part == "melody" else f"the bass of {written} chord"
        what += "s" * (written > 1)
        where = f"; missing in {_bars(missed)}" if missed else ""
        return f"the {part}: {came} of {what} within half a beat of {'their' if written > 1 else 'its'} place{where}"


def _expected(form: Form, part: Part) -> list[_Expected]:
    """What the chart has for a part, but for the pickup."""
    if part == "melody":
        placed = [(float(note.beat), note.pitch.midi % 12) for note in form.melody]
    else:
        names = [(float(span.start), span.chord.bass_name) for span in form.chords if span.chord.is_chord]
        placed = [(beat, name.pc) for beat, name in names if name is not None]
    return [_Expected(beat, pc, form.bar_at(beat)) for beat, pc in placed if 0 <= beat < form.length]


def _find(strokes: Iterable[_Stroke], pitch_class: int, due: float, window: float) -> bool:
    """Take the nearest stroke of that letter, if there is one."""
    able = [s for s in strokes if not s.taken and s.midi % 12 == pitch_class and abs(s.seconds - due) <= window]
    if not able:
        return False
    min(able, key=lambda s: abs(s.seconds - due)).taken = True
    return True


def _quantile(counts: Counter[int], share: float) -> int:
    """The value below which that share of the counted lies, at most."""
    passed, wanted = 0, share * counts.total()
    for value, count in sorted(counts.items()):
        passed += count
        if passed >= wanted:
            return value
    return max(counts)


def _bars(counts: Counter[int]) -> str:
    """Bars, those with most first where there are too many to be named: 'bars 3, 9 and 14'."""
    most = sorted(bar for bar, _ in counts.most_common(NAMED))
    named = f"{'bars' if len(most) > 1 else 'bar'} {_and([str(bar) for bar in most])}"
    return named if len(counts) <= NAMED else f"{len(counts)} bars, most of them in {named}"


def _and(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _times(count: int) -> str:
    return "once" if count == 1 else "twice" if count == 2 else f"{count} times"


def _signed(value: int) -> str:
    return f"{value:+d}".replace("-", "−") if value else "0"


def tally_of(form: Form, you: Iterable[Part], events: Iterable[Heard | Report]) -> PlayerTally:
    """The tally of a recording: what was heard and reported, in any order."""
    tally = PlayerTally(form, you)
    for event in sorted(events, key=lambda one: one.seconds):
        tally.add(event)
    return tally
