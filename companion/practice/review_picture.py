"""A review as a picture: the played notes over the written ones, findings at their bars, and timing over the bars.

One picture each time through the form: the music on a page as long as it takes, every bar written out; below it how
early and late the notes were against the player's own beat, and the tempo of each bar. The music is engraved by
verovio, the timing drawn by matplotlib.

Conventions: the outer frame's units, a quarter of a millimetre; bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from xml.sax.saxutils import escape

from companion.arrange.part import Note
from companion.arrange.written import written_notes
from companion.chart.model import Chart, Form
from companion.engrave.note_places import BarPlace, bar_places, line_shifts, with_marks, without_rests
from companion.engrave.page import long_page
from companion.engrave.paper import MARGIN_MM, TOP_MM
from companion.engrave.score import chart_melody, sheet
from companion.engrave.sheet import LEFT, RIGHT, Bar, Sheet, Voice
from companion.engrave.values import VoiceSpan, write_bar
from companion.engrave.voices import staff_of
from companion.messages import Part
from companion.music.pitch import Pitch
from companion.practice.findings import Finding
from companion.practice.judging import JudgedNote
from companion.practice.marks import LEGEND, MarkKind, left_out, mark, shape, staff_for
from companion.practice.plotting import INK, SOFT, nested
from companion.practice.remarks import joined
from companion.practice.review import Review
from companion.practice.timing_picture import timing_picture

WIDTH_MM = 210.0
NARROW_MM = 92.0
"""Width for a page, and for a screen in the hand, as far as lines of two bars."""
CUT_MM = (4.0, 8.0)
"""What is cut off the margins of a narrow picture: bar numbers stand in the left one."""
MM_AN_INCH = 25.4
_UNIT = 4
"""Of the frame in a millimetre."""
LEGEND_HIGH = 26.0
LEGEND_ROW = 18.0
ROUND_A_STAFF = 2.5
"""How far above and below its staves a bar may be touched, in spaces."""


@dataclass(frozen=True)
class SaidPlace:
    """Where a bar with something said of it stands, in shares of the picture's width and height."""

    bar: int
    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True)
class ReviewPicture:
    """One time through, drawn."""

    svg: str
    places: tuple[SaidPlace, ...]


def review_pictures(
    chart: Chart,
    you: Collection[Part],
    found: Review,
    title: str,
    *,
    narrow: bool = False,
    progress: Callable[[float], None] = lambda share: None,
) -> list[ReviewPicture]:
    """The pictures of a review.

    Parameters
    ----------
    chart : Chart
    you : collection of str
        The player's parts.
    found : Review
    title : str
        What stands over it.
    narrow : bool
        For a screen in the hand: fewer bars a line, and the letters larger against the width.
    progress : callable, optional
        Told the share done, 0-1.

    Returns
    -------
    list of ReviewPicture
        An SVG document for each time through of which a bar was played; none where nothing was.

    Raises
    ------
    UseError
        The engraver or matplotlib isn't installed.
    """
    form = chart.unfold()
    choruses = sorted({bar.chorus for bar in found.bars})
    drawn = []
    for number, chorus in enumerate(choruses):
        progress(number / len(choruses))
        which = "" if len(choruses) == 1 else f"time {chorus} through"
        over = ", ".join(filter(None, (title, which)))
        drawn.append(_picture(chart, form, you, _of_chorus(found, chorus, form), over, narrow=narrow))
    return drawn


def _as_written(notes: Sequence[JudgedNote], written: Sequence[Note]) -> list[JudgedNote]:
    """The notes as this time through has them: a pickup to the next one has no heads in it that a mark could be at."""
    heads = {(float(note.beat), note.midi) for note in written}
    found = []
    for note in notes:
        if note.expected is None or (note.chart_beat, note.expected) in heads:
            found.append(note)
        elif note.kind != "missing":
            found.append(replace(note, expected=None))
    return found


def _of_chorus(found: Review, chorus: int, form: Form) -> Review:
    """What is known of one time through; the pickup to the next lies in its last bar."""
    length = float(form.length)
    notes = [note for note in found.notes if note.chorus == chorus and (note.chart_beat >= 0 or chorus == 1)]
    later = [note for note in found.notes if note.chorus == chorus + 1 and note.chart_beat < 0]
    notes += [replace(note, chart_beat=note.chart_beat + length) for note in later]
    bars = tuple(bar for bar in found.bars if bar.chorus == chorus)
    findings = tuple(one for one in found.findings if one.chorus == chorus)
    return Review(tuple(notes), bars, (), findings)


def _picture(
    chart: Chart, form: Form, you: Collection[Part], found: Review, title: str, *, narrow: bool
) -> ReviewPicture:
    width = NARROW_MM if narrow else WIDTH_MM
    left, right = (cut * _UNIT for cut in CUT_MM) if narrow else (0.0, 0.0)
    written = _written(form, you)
    found = replace(found, notes=tuple(_as_written(found.notes, written)))
    laid = _written_out(chart, form, written, found, title)
    music, paper = long_page(laid, width)
    places = {place.number: place for place in bar_places(music, laid)}
    music = without_rests(music, laid, silent_staves(laid))
    absent = sorted(set(range(1, len(form.bars) + 1)) - {bar.bar for bar in found.bars})
    shifts = line_shifts(music)
    music = _marked(music, laid, places, form, found.notes, absent)
    legend, legend_high = _legend(paper.units_high, found.notes, width, whole=not absent)
    inside = width - 2 * MARGIN_MM
    plot, high = nested(
        timing_picture(form, found, inside / MM_AN_INCH), MARGIN_MM * _UNIT, paper.units_high + legend_high,
        inside * _UNIT,
    )  # fmt: skip
    height = paper.units_high + legend_high + high + MARGIN_MM * _UNIT
    wide = width * _UNIT - left - right
    frame = (
        f'<svg width="{wide / _UNIT:g}mm" height="{height / _UNIT:g}mm" viewBox="{left:g} 0 {wide:g} {height:g}" '
        'version="1.1" xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">'
    )
    page = music.replace(
        f'width="{paper.width:g}mm" height="{paper.height:g}mm"',
        f'width="{paper.units_wide:g}" height="{paper.units_high:g}"', 1,
    )  # fmt: skip
    white = f'<rect x="{left:g}" width="{wide:g}" height="{height:g}" fill="white"/>'
    said = [places[bar] for bar in sorted({one.bar for one in found.findings}) if bar in places]
    return ReviewPicture(
        "\n".join([frame, white, page, *legend, plot, "</svg>\n"]),
        tuple(_said_place(place, shifts[place.line], left, wide, height) for place in said),
    )


def _said_place(place: BarPlace, down: float, cut: float, wide: float, high: float) -> SaidPlace:
    """A bar's place in the picture: engraved ones are in hundredths of a millimetre from the page's margins."""
    staves = place.staves.values()
    reach = ROUND_A_STAFF * next(iter(staves)).space
    top = min(staff.top for staff in staves) - reach
    bottom = max(staff.top + 4 * staff.space for staff in staves) + reach
    share = _UNIT / 100
    return SaidPlace(
        place.number,
        ((place.left + MARGIN_MM * 100) * share - cut) / wide,
        (top + down + TOP_MM * 100) * share / high,
        (place.right - place.left) * share / wide,
        (bottom - top) * share / high,
    )


def _written(form: Form, you: Collection[Part]) -> list[Note]:
    """What the player was to play note for note."""
    notes: list[Note] = chart_melody(form) if "melody" in you else []
    return notes + [note for part in ("chords", "bass") if part in you for note in written_notes(form, part)]


def _written_out(chart: Chart, form: Form, notes: Sequence[Note], found: Review, title: str) -> Sheet:
    """What the player was to play, each bar in its place, with the findings over the bars."""
    staves: tuple[int, ...] = tuple(
        sorted(
            {staff_for(one, (RIGHT, LEFT)) for one in found.notes if one.expected is None}
            | {staff_of(one) for one in notes}
        )
    ) or (RIGHT,)
    laid = sheet(chart, form, notes, staves, _said(found.findings), fold=False)
    first = min(bar.chorus for bar in found.bars)
    played = [bar for bar in laid.bars if bar.number > 0 or first == 1]
    silent = silent_staves(replace(laid, bars=tuple(played)))
    bars = tuple(replace(_counted(bar, silent), high=(), octaves=(), pedals=()) for bar in played)
    return replace(laid, bars=bars, title=title, composer=None, form=())


def silent_staves(laid: Sheet) -> set[int]:
    """The staves on which nothing is written."""
    voices = [voice for bar in laid.bars for voice in bar.voices]
    return set(laid.staves) - {voice.staff for voice in voices for head in voice.heads if head.pitches}


def _counted(bar: Bar, silent: Collection[int]) -> Bar:
    """The bar with a rest a beat, which nobody sees, on staves for which nothing is written: it keeps beats apart."""
    pulse, middle = bar.metre.pulse, (Pitch("B", 0, 4),)
    beats = [VoiceSpan(k * pulse, min((k + 1) * pulse, bar.length), middle) for k in range(-int(-bar.length // pulse))]
    heads = tuple(replace(head, pitches=(), beams=()) for head in write_bar(beats, bar.length, bar.metre))
    kept = [voice for voice in bar.voices if voice.staff not in silent]
    empty = [Voice(staff, {RIGHT: 1, LEFT: 6}[staff], heads) for staff in silent]
    return replace(bar, voices=tuple(sorted([*kept, *empty], key=lambda voice: (voice.staff, voice.number))))


def _said(findings: Sequence[Finding]) -> Mapping[int, str]:
    by_bar: dict[int, list[Finding]] = defaultdict(list)
    for one in findings:
        by_bar[one.bar].append(one)
    return {bar: joined(said) for bar, said in by_bar.items()}


def _marked(
    music: str,
    laid: Sheet,
    places: Mapping[int, BarPlace],
    form: Form,
    notes: Sequence[JudgedNote],
    absent: Collection[int],
) -> str:
    """The music with a mark for each note, and for bars that weren't played."""
    under: dict[int, list[str]] = defaultdict(list)
    over: dict[int, list[str]] = defaultdict(list)
    for number in absent:
        if number in places:
            under[places[number].line].append(left_out(places[number]).svg)
    starts = _starts(laid)
    heads = _heads(laid)
    low, high = min(begin for begin, _ in starts.values()), max(end for _, end in starts.values())
    right = {(note.chart_beat, note.expected) for note in notes if note.kind == "right"}
    for note in notes:
        if note.kind == "missing" and (note.chart_beat, note.expected) in right:
            continue  # it was played another time, after going back
        at = min(max(note.chart_beat, float(low)), float(high) - 1e-6)  # a little before or after is in the next bar
        number = next(n for n, (begin, end) in starts.items() if begin <= at < end)
        if number not in places:
            continue
        beat, place = at - float(starts[number][0]), places[number]
        staff, pitch = heads.get((number, round(beat, 3), note.expected), (staff_for(note, laid.staves), None))
        for one in mark(note, place, beat, form, staff, pitch):
            (under if one.under else over)[place.line].append(one.svg)
    return with_marks(music, under, over)


def _heads(laid: Sheet) -> dict[tuple[int, float, int | None], tuple[int, Pitch]]:
    """The staff and the spelling of each note, by its bar, its beat there, and its MIDI number."""
    return {
        (bar.number, round(float(head.start), 3), pitch.midi): (voice.staff, pitch)
        for bar in laid.bars
        for voice in bar.voices
        for head in voice.heads
        for pitch in head.pitches
        if not head.held_over(pitch)
    }


def _starts(laid: Sheet) -> dict[int, tuple[Fraction, Fraction]]:
    """From which chart beat to which each bar goes."""
    before = sum((bar.length for bar in laid.bars if bar.number <= 0), Fraction(0))
    found, at = {}, -before
    for bar in laid.bars:
        found[bar.number] = (at, at + bar.length)
        at += bar.length
    return found


def _legend(y: float, notes: Sequence[JudgedNote], width: float, *, whole: bool) -> tuple[list[str], float]:
    """What the marks mean that are there, and how high that is."""
    hidden: set[MarkKind] = {"left out"} if whole else set()
    if not any(note.expected is not None for note in notes):
        hidden.add("right")
    if all(note.expected is not None or note.pitch is None or note.is_fault for note in notes):
        hidden.add("free")
    drawn, high = [f'<path d="{_rule(y, width)}" stroke="{SOFT}" stroke-width="0.5"/>'], LEGEND_HIGH
    begin, end = MARGIN_MM * _UNIT + 8, (width - MARGIN_MM) * _UNIT
    x = begin
    for kind, words in (one for one in LEGEND if one[0] not in hidden):
        room = 40 + 6.6 * len(words)
        if x > begin and x + room - 26 > end:
            x, y, high = begin, y + LEGEND_ROW, high + LEGEND_ROW
        drawn.append(shape(kind, x * 100, (y + 8) * 100, 700).join(('<g transform="scale(0.01)">', "</g>")))
        drawn.append(
            f'<text x="{x + 14:g}" y="{y + 12:g}" font-size="11" fill="{INK}" font-family="DejaVu Sans, sans-serif">'
            f"{escape(words)}</text>"
        )
        x += room
    return drawn, high


def _rule(y: float, width: float) -> str:
    return f"M{MARGIN_MM * _UNIT:g} {y - 6:g} h{(width - 2 * MARGIN_MM) * _UNIT:g}"
