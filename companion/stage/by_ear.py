"""Learning a tune by ear: the companion plays a phrase, the player answers it, then the roots of its chords.

A plain object like :class:`companion.stage.rehearsal.Rehearsal`: ``advance(now, events)`` takes what was heard and
gives orders and reports. It plays a phrase with its chords' roots below, in time and with a click; the player answers
after a bar of click. What was right is told note by note. A phrase that went wrong is played again: slower after one
failure, only its first half after another, whole again when the half went right. When the melody is right, the roots
are asked for in the same way, and then the next phrase.

An answer needn't be on the beat of the first: it is compared by order, with gaps, so that a wrong or a missing note
doesn't spoil those after it (the alignment of Needleman & Wunsch, J. Molecular Biology 48, 1970); any octave will do.

Conventions: seconds on the clock of whoever drives; beats in quarters from the beginning of the phrase.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor
from typing import Literal, get_args

from companion.chart.model import Form
from companion.messages import Beat, Heard, NoteKind, Order, Part, State, StateName, Step, Wish
from companion.preferences import preferences
from companion.preferences.by_ear import ByEarPreferences
from companion.stage.outbox import Outbox

AHEAD = 0.3
"""Seconds from an order to its sound."""
FIRST = 1.2
"""Seconds from the beginning to the first sound."""
ACCENT, CLICK = 76, 77
CLICK_LASTS = 0.05
NOT_BEGUN = float("-inf")
"""The moment it has come to, before it is asked to go on to one."""
MOST_FAULTS = 5
"""Faults that are told of one answer."""


Subject = Literal["melody", "roots"]
"""What a question is about."""


@dataclass(frozen=True)
class Question:
    """What is to be answered: notes with their beats, counted from the start of a phrase."""

    what: Subject
    bars: tuple[int, int]
    """First and last bar of the form, 1 = the first."""
    notes: tuple[tuple[Fraction, Fraction, int], ...]
    """Beat, length, MIDI number; a pickup is below 0."""
    length: Fraction


@dataclass(frozen=True)
class AnsweredNote:
    """What became of one note of a question, or of one that wasn't asked for."""

    kind: NoteKind
    beat: Fraction | None
    expected: int | None
    played: int | None


@dataclass(frozen=True)
class Answer:
    """An answer, judged."""

    question: Question
    notes: tuple[AnsweredNote, ...]
    tempo: float
    seconds: float
    forgiven: int = 1
    """Notes that may be too many, as a grace note is."""

    @property
    def right(self) -> bool:
        """Every note, and nothing else but what is forgiven."""
        return all(note.kind == "right" for note in self.notes if note.kind != "extra") and self.extra <= self.forgiven

    @property
    def extra(self) -> int:
        """Notes that weren't asked for."""
        return sum(note.kind == "extra" for note in self.notes)


def questions(form: Form, first: int = 1, last: int | None = None, phrase: int = 4) -> list[Question]:
    """The phrases of some bars, each with a question for its melody and one for its roots.

    Parameters
    ----------
    form : Form
    first, last : int
        Bars of the form, 1 = the first; to the end unless said.
    phrase : int
        Bars in a phrase.
    """
    lowest = preferences(ByEarPreferences).sound.lowest_root
    last = min(last or len(form.bars), len(form.bars))
    found: list[Question] = []
    both: tuple[Subject, ...] = get_args(Subject)
    for begin in range(first, last + 1, phrase):
        end = min(begin + phrase - 1, last)
        found += [q for what in both if (q := _question(form, what, begin, end, lowest)) is not None]
    return found


def _question(form: Form, what: Subject, first: int, last: int, lowest: int) -> Question | None:
    start = form.bars[first - 1]
    stop = form.bars[last] if last < len(form.bars) else form.length
    if what == "melody":
        low = start - (form.pickup if first == 1 else 0)
        notes = tuple(
            (note.beat - start, min(note.length, stop - note.beat), note.pitch.midi)
            for note in form.melody
            if low <= note.beat < stop
        )
    else:
        roots = [
            (max(span.start, start) - start, min(span.end, stop) - max(span.start, start), span.chord.bass_name)
            for span in form.chords
            if span.start < stop and span.end > start
        ]
        notes = tuple(
            (beat, length, lowest + (name.pc - lowest) % 12) for beat, length, name in roots if name is not None
        )
    return Question(what, (first, last), notes, stop - start) if notes else None


def judge(question: Question, played: Sequence[int]) -> tuple[AnsweredNote, ...]:
    """Compare an answer with its question, note by note in order.

    Parameters
    ----------
    question : Question
    played : sequence of int
        MIDI numbers in order; any octave is right.
    """
    asked = [note[2] for note in question.notes]
    rows, columns = len(asked) + 1, len(played) + 1
    cost = [[float(i + j) for j in range(columns)] for i in range(rows)]  # at the edges all is missing, or too much

    def apart(i: int, j: int) -> float:
        return 0.0 if (asked[i - 1] - played[j - 1]) % 12 == 0 else 1.2

    for i in range(1, rows):
        for j in range(1, columns):
            cost[i][j] = min(cost[i - 1][j - 1] + apart(i, j), cost[i - 1][j] + 1.0, cost[i][j - 1] + 1.0)
    found: list[AnsweredNote] = []
    i, j = rows - 1, columns - 1
    while i or j:
        if i and j and cost[i][j] == cost[i - 1][j - 1] + apart(i, j):
            kind: NoteKind = "right" if not apart(i, j) else "wrong"
            found.append(AnsweredNote(kind, question.notes[i - 1][0], asked[i - 1], played[j - 1]))
            i, j = i - 1, j - 1
        elif i and cost[i][j] == cost[i - 1][j] + 1.0:
            found.append(AnsweredNote("missing", question.notes[i - 1][0], asked[i - 1], None))
            i -= 1
        else:
            found.append(AnsweredNote("extra", None, None, played[j - 1]))
            j -= 1
    return tuple(reversed(found))


def halved(question: Question) -> Question | None:
    """The first half of a question, in whole bars; None when it can't be halved."""
    first, last = question.bars
    if last == first:
        return None
    bars = last - first + 1
    kept = (bars + 1) // 2
    length = question.length * kept / bars
    notes = tuple((beat, min(span, length - beat), midi) for beat, span, midi in question.notes if beat < length)
    return Question(question.what, (first, first + kept - 1), notes, length) if notes else None


class ByEar:
    """Asks and hears answers until every question has been answered right, or often enough.

    Parameters
    ----------
    form : Form
        The tune.
    asked : sequence of Question
    tempo : float, optional
        Quarters a minute; the tune's own unless given.
    """

    def __init__(self, form: Form, asked: Sequence[Question], tempo: float | None = None):
        self.form, self.questions = form, list(asked)
        self.rules = preferences(ByEarPreferences)
        self.tempo = self._first_tempo = tempo or form.tempo
        self.answers: list[Answer] = []
        self.state: StateName = "waiting"
        self._number = 0
        self._question: Question | None = None
        self._tries = 0
        self._now = NOT_BEGUN
        self._zero = 0.0
        """The moment of beat 0 of what is played or answered."""
        self._next = 0.0
        """The beat to be clicked next."""
        self._to_play: list[Order] = []
        self._heard: list[tuple[float, int]] = []
        self._down: set[int] = set()
        self._last = 0.0
        self._ended = False
        self._out = Outbox()

    # What drives it

    def advance(self, now: float, events: Sequence[Heard | Wish]) -> Step:
        """Go on to a moment, with what was heard up to then in order of time."""
        if self._now == NOT_BEGUN:
            self._now = now
            self._ask(now + FIRST)
        for event in events:
            self._run(event.seconds)
            self._take(event)
        self._run(now)
        return self._out.step(self._wake())

    def prepare(self, chorus: int) -> None:
        """There is no longer work to be done ahead of time."""

    def adopt(self, prepared: object) -> None:
        """Nothing was worked out ahead of time."""

    def finish(self, now: float) -> Step:
        """End everything that sounds."""
        self._run(now)
        self._end(self._now)
        return self._out.step(None)

    # Asking

    def _ask(self, moment: float) -> None:
        """Play the question, beginning at a moment."""
        question = self._question or self.questions[self._number]
        self._question = question
        quarter, bar = 60.0 / self.tempo, self.form.metre.bar
        begins = min(Fraction(0), floor(question.notes[0][0] / bar) * bar)
        self._zero = moment - float(begins) * quarter
        self._next = float(begins)
        part: Part = "melody" if question.what == "melody" else "bass"
        for beat, length, midi in question.notes:
            on, off = self._moment(float(beat)), self._moment(float(beat) + 0.9 * float(length))
            velocity = self.rules.sound.melody if part == "melody" else self.rules.sound.roots
            self._to_play += [Order(on, part, 0x90, midi, velocity), Order(off, part, 0x80, midi, 0)]
        self._to_play.sort(key=lambda order: (order.seconds, order.status))
        self._heard, self._down = [], set()
        self._say("listening", moment)

    def _moment(self, beat: float) -> float:
        return self._zero + beat * 60.0 / self.tempo

    def _wake(self) -> float | None:
        if self._ended:
            return None
        ahead = 0.0 if self._answer_over() else AHEAD
        return max(self._moment(self._next) - ahead, self._now)

    def _run(self, until: float) -> None:
        begun = self._question is not None
        while begun and not self._ended and (wake := self._wake()) is not None and wake <= until:
            self._now = max(self._now, wake)
            self._turn()
        self._now = max(self._now, until)

    def _turn(self) -> None:
        assert self._question is not None
        if self._answer_over():
            self._judge()
            return
        beat, seconds = self._next, self._moment(self._next)
        if self.state == "listening" and beat >= float(self._question.length):
            # The answer's beat 0 lies a bar after the question's end.
            self._zero += (float(self._question.length) + float(self.form.metre.bar)) * 60.0 / self.tempo
            self._next = beat = -float(self.form.metre.bar)
            self._last = self._moment(0.0)
            self._say("answering", seconds)
        opens = beat % float(self.form.metre.bar) == 0
        note = ACCENT if opens else CLICK
        self._out.orders.append(Order(seconds, "click", 0x90, note, self.rules.sound.click))
        self._out.orders.append(Order(seconds + CLICK_LASTS, "click", 0x80, note, 0))
        if 0 <= beat < self._question.length:  # whoever takes longer over an answer is in no later bar
            start = self.form.bars[self._question.bars[0] - 1]
            self._out.reports.append(Beat(float(start) + beat, seconds, 1.0))
        self._next += float(self.form.metre.pulse)
        while self._to_play and self._to_play[0].seconds < self._moment(self._next):
            self._out.orders.append(self._to_play.pop(0))

    # Hearing

    def _take(self, event: Heard | Wish) -> None:
        self._now = max(self._now, event.seconds)
        if isinstance(event, Wish):
            if event.name == "stop":
                self._end(event.seconds)
            return
        if self._ended or self.state != "answering":
            return
        self._last = max(self._last, event.seconds)
        if event.is_note_on:
            self._heard.append((event.seconds, event.data1))
            self._down.add(event.data1)
        elif event.status == 0x80:
            self._down.discard(event.data1)

    def _answer_over(self) -> bool:
        """The player has said all: as many notes as were asked for, or a bar of silence after the question's length."""
        if self.state != "answering" or self._down or self._question is None:
            return False
        bar = float(self.form.metre.bar) * 60.0 / self.tempo
        silent = self._moment(self._next) - self._last
        rules = self.rules.answer
        if not self._heard:
            return silent >= float(self._question.length) * 60.0 / self.tempo + rules.silence * bar
        enough = len(self._heard) >= len(self._question.notes)
        return silent >= (rules.enough if enough else rules.silence) * bar

    def _judge(self) -> None:
        assert self._question is not None
        tempo, rules = self.rules.tempo, self.rules.answer
        judged = judge(self._question, [midi for _, midi in self._heard])
        answer = Answer(self._question, judged, self.tempo, self._last, rules.extra)
        self.answers.append(answer)
        self._tries += 1
        moment = self._moment(self._next) + 60.0 / self.tempo
        whole = self.questions[self._number]
        if answer.right and self._question != whole:
            self._question = whole  # the half went right
        elif answer.right or self._tries >= rules.tries:
            self._number += 1
            self._question, self._tries, self.tempo = None, 0, self._first_tempo
            if self._number >= len(self.questions):
                self._end(moment)
                return
        elif self._tries % 2 and self.tempo > tempo.slowest * self._first_tempo:
            self.tempo = max(tempo.slowest * self._first_tempo, tempo.slower * self.tempo)
        else:
            self._question = halved(self._question) or self._question
        self._ask(moment)

    def _end(self, seconds: float) -> None:
        if not self._ended:
            self._ended = True
            self._out.orders += [order for order in self._to_play if order.status == 0x80]
            self._to_play.clear()
            self._say("ended", seconds)

    def _say(self, name: StateName, seconds: float) -> None:
        self.state = name
        start = float(self.form.bars[self._question.bars[0] - 1]) if self._question else None
        self._out.reports.append(State(seconds, name, start, self.tempo))


def answer_text(answer: Answer, form: Form) -> str:
    """An answer in a line: what was right, and what wasn't and where.

    Such as "bars 1-4, melody: 6 of 7 right; bar 2, beat 3: G4, not A4".
    """
    from companion.music.pitch import pitch_in_key

    def name(midi: int) -> str:
        return str(pitch_in_key(midi, form.fifths, form.minor))

    first, last = answer.question.bars
    asked = [note for note in answer.notes if note.kind != "extra"]
    right = sum(note.kind == "right" for note in asked)
    where = f"bars {first}-{last}" if last > first else f"bar {first}"
    faults = []
    for note in asked:
        if note.kind == "right" or note.beat is None or note.expected is None:
            continue
        bar = floor(note.beat / form.metre.bar)
        beat = float(note.beat - bar * form.metre.bar) / float(form.metre.pulse) + 1
        place = f"bar {first + bar}, beat {beat:.3g}" if note.beat >= 0 else "pickup"
        wanted = name(note.expected) if answer.question.what == "melody" else name(note.expected).rstrip("0123456789-")
        faults.append(f"{place}: {wanted}" + (f", not {name(note.played)}" if note.played is not None else ", missing"))
    where_line = f"{where}, {answer.question.what}"
    if all(note.kind == "missing" for note in answer.notes):
        return f"{where_line}: nothing was heard"
    if len(faults) > MOST_FAULTS:
        faults[MOST_FAULTS - 1 :] = [f"and {len(faults) - MOST_FAULTS + 1} more"]
    if answer.extra:
        faults.append(f"{answer.extra} more than were asked for")
    line = f"{where_line}: {'right' if answer.right else f'{right} of {len(asked)} right'}"
    return "; ".join([line, *faults])
