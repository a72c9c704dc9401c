"""A passage of the player's revoiced with the fewest changes, in words by bar, and on the staff under what was played.

Of a passage that was played several times, or begun again in the midst of it, the last time counts. What sounded with a
chord is taken from the chart (melody) and from what was played (the player's own bass, and the companion's).

On the staff the bass stands below, as it sounded.

Conventions: bars of the form, 1 = its first full bar; chart beats in quarters; MIDI numbers.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise

from companion.arrange.chords.revoicing import ChordPlayed, Revoiced, revoice
from companion.arrange.chords.soundness import ChordFault, Surroundings, degree_above, left_hand
from companion.arrange.harmony import Harmony
from companion.arrange.part import Note
from companion.chart.model import Chart, Form, FormSection
from companion.engrave.score import SheetContent, chart_melody, form_bars, lay_out
from companion.engrave.sheet import RIGHT, Sheet
from companion.engrave.voices import staff_of
from companion.errors import UseError
from companion.messages import Order, Part
from companion.music.pitch import Pitch, pitch_in_key
from companion.practice.alignment import Alignment
from companion.practice.bass_under import PlayedSpan, bass_under
from companion.practice.chords_used import harmony_of, placed_chords
from companion.practice.comping_words import join_words
from companion.practice.findings import place_words
from companion.practice.note_words import SIGNS
from companion.practice.voicings_played import PlayedVoicing, voicings_played
from companion.preferences import preferences
from companion.preferences.like_you import LikeYouPreferences
from companion.preferences.voicings import VoicingPreferences

HALF = Fraction(1, 2)
LONGEST = Fraction(2)
"""Quarters that a chord lasts on paper, unless another comes before."""
AS_PLAYED, CHANGED = "as you played it", "with the fewest changes"
DEGREES = {"2": "second", "3": "third", "4": "fourth", "6": "sixth", "7": "seventh"}
SOUNDING = 0.05
"""Seconds before the end of a bass note up to which a chord is struck over it."""


@dataclass(frozen=True)
class PlacedRevoicing:
    """A chord of the passage."""

    bar: int
    place: Fraction
    """Chart beat at which it is written."""
    chord: Revoiced


@dataclass(frozen=True)
class RevoicedPassage:
    """A passage and what becomes of it."""

    first: int
    last: int
    chords: tuple[PlacedRevoicing, ...]
    bass: tuple[Note, ...] = ()
    """What sounded below, at its chart beats; the roots where nothing did."""

    @property
    def changes(self) -> int:
        """Notes changed in all of it."""
        return sum(one.chord.changes for one in self.chords)


def revoiced_passage(
    form: Form,
    alignment: Alignment,
    bars: tuple[int, int],
    you: Collection[Part],
    ours: Sequence[Order] = (),
    parts: Collection[Part] = (),
) -> RevoicedPassage:
    """Revoice some bars of a take that is laid on its chart.

    Parameters
    ----------
    form : Form
    alignment : Alignment
    bars : pair of int
        The first and the last.
    you : collection of str
        The player's parts.
    ours : sequence of Order
        What the companion played.
    parts : collection of str
        The companion's parts.

    Raises
    ------
    UseError
        There are no such bars, or no chord was played in them.
    """
    first, last = bars
    if last > len(form.bars):
        raise UseError(f"there is no bar {last}", mend=f"the form has {len(form.bars)} bars")
    inside = [one for one in _placed(form, alignment) if first <= one.voicing.bar <= last]
    if not inside:
        raise UseError(f"you struck no chord in {place_words(first, last)}", mend="say other bars with --revoice")
    chorus = max((one.chorus for one in inside if not one.ahead), default=max(one.chorus for one in inside))
    chords = _last_time([one for one in inside if one.chorus == chorus])
    played = [one.voicing for one in chords]
    melody = bool({"melody"} & {*you, *parts}) and "solo" not in you
    below = _bass_times(ours)
    rows = []
    for one, at in ((chord.voicing, chord.at) for chord in chords):
        over = _melody_over(form, at) if melody else ()
        under = (one.bass,) if one.bass is not None else _under(below, one.seconds)
        harmony = harmony_of(form, one)
        through = one.chart_beat + (one.chorus - 1) * float(form.length)
        rows.append((at, ChordPlayed(harmony, tuple(sorted(set(one.midi))), through, Surroundings(over, under))))
    rules = preferences(LikeYouPreferences).revoicing
    found = revoice(preferences(VoicingPreferences), rules, [chord for _, chord in rows])
    ends = [*form.bars, form.length]
    return RevoicedPassage(
        first,
        last,
        tuple(PlacedRevoicing(one.bar, at, chord) for one, (at, _), chord in zip(played, rows, found, strict=True)),
        bass_under(form, alignment, PlayedSpan(ends[first - 1], ends[last], chorus), ours),
    )


@dataclass(frozen=True)
class _Placed:
    """A chord where it is written."""

    voicing: PlayedVoicing
    chorus: int
    at: Fraction
    """Its chart beat."""
    ahead: bool
    """Whether it was struck before the end of one time through for the beginning of the next."""


def _placed(form: Form, alignment: Alignment) -> list[_Placed]:
    """The chords of a take, in order of time."""
    places = _places(form, alignment)
    found = []
    for one in voicings_played(form, alignment):
        at = places.get(one.seconds, Fraction(round(2 * one.chart_beat), 2)) % form.length
        ahead = one.chart_beat > float(at) + float(form.length) / 2
        voicing = replace(one, bar=form.bar_at(at)) if ahead else one
        found.append(_Placed(voicing, one.chorus + ahead, at, ahead))
    return found


def _last_time(played: Sequence[_Placed]) -> list[_Placed]:
    """The chords without those that were struck again at their place, or after going back before it."""
    kept: list[_Placed] = []
    for one in reversed(played):
        if not kept or one.at < kept[-1].at:
            kept.append(one)
    return kept[::-1]


def _places(form: Form, alignment: Alignment) -> dict[float, Fraction]:
    """Where each chord is written, by its moment; those that lie on no place are left out."""
    return {
        one.chord.first: Fraction(one.place).limit_denominator(24)
        for sweep, notes in zip(alignment.sweeps, alignment.judged, strict=True)
        for one in placed_chords(form, sweep, notes)
        if one.place is not None
    }


def _melody_over(form: Form, at: Fraction) -> tuple[int, ...]:
    """The chart's melody that sounds when a chord is struck."""
    return tuple(note.pitch.midi for note in form.melody if note.beat <= at < note.beat + note.length)


def _bass_times(orders: Sequence[Order]) -> list[tuple[float, float, int]]:
    """When each bass note of the companion's begins and ends."""
    down: dict[int, float] = {}
    found = []
    for order in sorted((o for o in orders if o.part == "bass"), key=lambda o: o.seconds):
        begun = down.pop(order.data1, None)
        if begun is not None:
            found.append((begun, order.seconds, order.data1))
        if order.status == 0x90 and order.data2:
            down[order.data1] = order.seconds
    return found


def _under(times: Sequence[tuple[float, float, int]], at: float) -> tuple[int, ...]:
    return tuple(midi for begun, ended, midi in times if begun - SOUNDING <= at < ended - SOUNDING)[-1:]


# In words


def passage_lines(form: Form, found: RevoicedPassage) -> list[str]:
    """What is changed, bar by bar."""
    lines = []
    before: tuple[int, PlacedRevoicing] | None = None
    for bar, group in groupby(found.chords, key=lambda one: one.bar):
        said = []
        for one in group:
            said.append(_chord_words(form, one, before[1] if before else None))
            before = bar, one
        lines += [f"{place_words(bar)}, {text}" for text in _without_again(said)]
    many = found.changes
    head = f"{place_words(found.first, found.last)}, {'a note' if many == 1 else f'{many} notes'} changed"
    return [f"{place_words(found.first, found.last)}: nothing need be changed"] if not many else [head, *lines]


def _without_again(said: Sequence[str]) -> Iterator[str]:
    """What is said of the chords of a bar, the same thing running once."""
    for text, group in groupby(said):
        times = len(list(group))
        yield text if times == 1 else f"{text} ({'twice' if times == 2 else f'{times} times'})"


def _chord_words(form: Form, one: PlacedRevoicing, before: PlacedRevoicing | None) -> str:
    harmony, chord = one.chord.played.harmony, one.chord
    symbol = harmony.chord.symbol.translate(SIGNS)
    if not chord.changes:
        left = [_why(form, harmony, fault) for fault in chord.faults]
        return f"{symbol}: as you played it" + (f"; {join_words(left)}, and no change mends it here" if left else "")
    gone = sorted({*chord.played.midi} - {*chord.midi})
    new = sorted({*chord.midi} - {*chord.played.midi})
    words = _exchanged(form, harmony, gone, new)
    reasons = [_why(form, harmony, fault) for fault in chord.faults]
    if not reasons:
        reasons = ["the hand need not leap"] if chord.thrown else ["so the next chord lies near"]
    held = [note for note in new if before is not None and note in before.chord.midi]
    if held and before is not None and before.bar != one.bar:
        names = join_words([_name(form, harmony, note) for note in held])
        reasons.append(f"{names} {'is' if len(held) == 1 else 'are'} held from {place_words(before.bar)}")
    return f"{symbol}: {words} ({'; '.join(dict.fromkeys(reasons))})"


def _exchanged(form: Form, harmony: Harmony, gone: Sequence[int], new: Sequence[int]) -> str:
    """Which notes are played instead of which: "E instead of F♯, without C"."""
    pairs, left, rest = [], list(gone), list(new)
    while left and rest:
        ways = ((a, b) for a in left for b in rest)
        out, into = min(ways, key=lambda pair: ((pair[0] - pair[1]) % 12 != 0, abs(pair[0] - pair[1])))
        pairs.append((into, out))
        left.remove(out)
        rest.remove(into)
    words = [_instead(form, harmony, into, out) for into, out in sorted(pairs)]
    words += [f"{_name(form, harmony, note)} besides" for note in rest]
    words += [f"without {_name(form, harmony, note)}" for note in left]
    return join_words(list(dict.fromkeys(words)))


def _instead(form: Form, harmony: Harmony, into: int, out: int) -> str:
    name = _name(form, harmony, into)
    if (into - out) % 12 == 0:
        return f"{name} an octave {'higher' if into > out else 'lower'}"
    return f"{name} instead of {_name(form, harmony, out)}"


def _why(form: Form, harmony: Harmony, fault: ChordFault) -> str:
    each = list(dict.fromkeys(_name(form, harmony, note) for note in fault.notes))  # in two octaves it is one name
    names, many = join_words(each), len(each) > 1
    symbol = harmony.chord.symbol.translate(SIGNS)
    if fault.kind == "incomplete":
        return f"its {DEGREES.get(fault.degree.lstrip('b#'), fault.degree.translate(SIGNS))} was missing"
    return {
        "wrong": f"{names} {'are no notes' if many else 'is no note'} of {symbol}",
        "avoid": f"{names} {'clash' if many else 'clashes'} with {symbol} when held",
        "root": f"{names} is the bass's",
        "against": f"{names} exclude each other",
        "rubs": f"{names} {'rub' if many else 'rubs'} against melody or bass",
        "crosses": f"{names} {'cross' if many else 'crosses'} melody or bass",
        "mud": f"{names} lie too low to be told apart",
        "hand": "it is wider than the hands",
        "alone": "it is no chord",
    }[fault.kind]


def _name(form: Form, harmony: Harmony, midi: int) -> str:
    """A note's name as the chord spells it, without its octave."""
    return str(_pitch(form, harmony, midi)).rstrip("-0123456789").translate(SIGNS)


def _pitch(form: Form, harmony: Harmony, midi: int) -> Pitch:
    name = harmony.name_of(degree_above(harmony, midi))
    if midi % 12 not in harmony.colours or abs(name.alter) > 1:
        return pitch_in_key(midi, form.fifths)
    return name.at(midi)


# On the staff


def passage_sheet(chart: Chart, found: RevoicedPassage, you: Collection[Part]) -> Sheet:
    """The passage as it was played, and after it with the fewest changes."""
    form = chart.unfold()
    spans = [span for span in form_bars(form) if found.first <= span[0] <= found.last]
    start = spans[0][1]
    length = spans[-1][1] + spans[-1][2] - start
    sung = [note for note in chart_melody(form) if "melody" in you and start <= note.beat < start + length]
    notes: list[Note] = []
    for copy, changed in enumerate((False, True)):
        by = copy * length - start
        notes += [
            replace(note, beat=note.beat + by)
            for note in (*sung, *_written(form, found, start + length, changed), *found.bass)
        ]
    bars = tuple((number, at + copy * length - start, long) for copy in (0, 1) for number, at, long in spans)
    chords = tuple(
        replace(span, start=max(span.start, start) + by, end=min(span.end, start + length) + by)
        for by in (-start, length - start)
        for span in form.chords
        if span.start < start + length and span.end > start
    )
    places = (FormSection(AS_PLAYED, Fraction(0), length), FormSection(CHANGED, length, 2 * length))
    staves = tuple(sorted({staff_of(note) for note in notes})) or (RIGHT,)
    laid = lay_out(chart, form, SheetContent(tuple(notes), bars, places, chords), staves, fold=False)
    half = len(spans)
    lined = [replace(bar, new_line=n == half or bar.new_line) for n, bar in enumerate(laid.bars)]
    return replace(laid, bars=tuple(lined), form=(), title=f"{chart.title}, {place_words(found.first, found.last)}")


def _written(form: Form, found: RevoicedPassage, end: Fraction, changed: bool) -> Iterator[Note]:
    """The chords as notes, at their chart beats."""
    hand = preferences(VoicingPreferences).hand
    by_place = {one.place: one for one in found.chords}
    for place, after in pairwise([*sorted(by_place), end]):
        chord = by_place[place].chord
        midi = chord.midi if changed else tuple(sorted(set(chord.played.midi)))
        left = left_hand(hand, midi)
        for n, note in enumerate(midi):
            yield Note(
                place,
                max(min(after - place, LONGEST), HALF),
                _pitch(form, chord.played.harmony, note),
                "chords",
                "left" if n < (left or 0) else "right",
                n + 1,
            )
