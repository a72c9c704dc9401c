"""What a browser needs to draw a tune: its form, its chords, its systems, and its voicings on a small staff.

Conventions: chart beats in quarters from the first downbeat of the form, as floats; widths in spaces of the staff.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any

from companion.arrange.events import order
from companion.arrange.lookup import treatment_at
from companion.arrange.plan import plan
from companion.arrange.request import Request
from companion.arrange.transposition import in_key
from companion.arrange.treatments import listed
from companion.chart.keys import write_key
from companion.chart.model import Chart, ChordSpan
from companion.chart.toml.read import parse_toml
from companion.engrave.programme import chorus_content
from companion.engrave.small_staff import small_staves
from companion.engrave.systems import engraved_systems
from companion.messages import EventKind
from companion.music.pitch import Pitch
from companion.page.how import treated
from companion.page.outgoing import OnTheStand

EARLY = Fraction(1, 2)
"""Quarters by which a chord may be struck before its place: an anticipated one is the new chord's."""
SIGNS = str.maketrans({"b": "♭", "#": "♯"})


def chart_of(stand: OnTheStand, key: str = "", event: EventKind | None = None) -> Chart:
    """The chart on the stand, in another key where one is named, treated as it is in an event of its order."""
    chart = _parsed(stand.chart)
    if stand.treated:
        chart = _treated_since(chart, stand, event)
    own = write_key(chart.fifths, chart.minor)
    return in_key(chart, key) if key and key != own else chart


@lru_cache(maxsize=4)
def _parsed(text: str) -> Chart:
    return parse_toml(text)


def _treated_since(chart: Chart, stand: OnTheStand, event: EventKind | None) -> Chart:
    """The chart with what was asked for since it began, which goes before what else rules a section."""
    by_event = (one.treatment for one in chart.events if one.kind == (event or "head"))
    whole = stand.treatment or next(by_event, None)
    told = {section.name: whole for section in chart.sections} if whole else {}
    events = tuple(replace(one, treatment=None) for one in chart.events)
    return replace(treated(chart, {**told, **dict(stand.treated)}), events=events)


def form_drawn(stand: OnTheStand, key: str = "") -> dict[str, Any]:
    """Title, key, metre, sections, bars and chords of the tune.

    Returns
    -------
    dict
        Ready for JSON; introduction and ending are sections like others, where an order of events is played.
    """
    chart = chart_of(stand, key)
    form = chart.unfold()
    sections = [(s.name, s.start, s.end) for s in form.sections]
    chords = [*form.chords]
    stretches = order(chart) if stand.begun.ordered else ()
    for stretch in stretches:
        if stretch.kind in ("introduction", "ending"):
            first = Fraction(0) - stretch.length if stretch.kind == "introduction" else form.length
            sections.append((stretch.kind, first, first + stretch.length))
            chords += [replace(span, start=span.start + first, end=span.end + first) for span in stretch.form.chords]
    return {
        "title": chart.title,
        "composer": chart.composer,
        "key": write_key(chart.fifths, chart.minor).translate(SIGNS),
        "metre": {"text": str(form.metre), "bar": float(form.metre.bar), "pulse": float(form.metre.pulse)},
        "counted": _counted(chart),
        "tempo": form.tempo,
        "length": float(form.length),
        "bars": [float(bar) for bar in form.bars],
        "sections": [
            {"name": name, "start": float(start), "end": float(end)}
            for name, start, end in sorted(sections, key=lambda section: section[1])
        ],
        "treatments": [{"name": one.name, "about": one.about} for one, _ in listed()],
        "treated": _treated_now(chart, stand),
        "chords": [_chord(span) for span in sorted(chords, key=lambda span: span.start)],
        "plan": [{"event": stretch.kind, "chorus": stretch.chorus} for stretch in stretches],
    }


def _treated_now(chart: Chart, stand: OnTheStand) -> dict[str, str]:
    """The treatment of each section, as it is played."""
    ruled = plan(chart.unfold(), None if stand.treated else stand.treatment)
    return {place.name: treatment_at(ruled, place.start).name for place in chart.unfold().sections}


def _counted(chart: Chart) -> dict[str, Any]:
    """The note value that is counted, as a musician writes it before a tempo, and its quarters."""
    metre = chart.metre
    if metre.compound:
        return {"sign": "♩.", "words": "dotted quarter", "quarters": 1.5}
    if metre.beat_type == 2:
        return {"sign": "𝅗𝅥", "words": "half", "quarters": 2.0}
    return {"sign": "♩", "words": "quarter", "quarters": 1.0}


def _chord(span: ChordSpan) -> dict[str, Any]:
    """A chord symbol in the pieces in which it is set: root, what stands beside it, the bass after the slash."""
    chord = span.chord
    root, bass = (str(name or "").translate(SIGNS) for name in (chord.root, chord.bass))
    rest = chord.symbol.removeprefix(str(chord.root or ""))
    if chord.bass:
        rest = rest.removesuffix(f"/{chord.bass}")
    return {
        "start": float(span.start),
        "end": float(span.end),
        "root": root or "N.C.",
        "rest": rest.translate(SIGNS) if root else "",
        "bass": bass,
    }


def systems_drawn(
    stand: OnTheStand, width: float, *, key: str = "", chorus: int = 1, event: EventKind | None = None
) -> list[dict[str, Any]]:
    """The systems of one time through the form, each with its bars and where their onsets stand.

    Raises
    ------
    UseError
        The engraver isn't installed.
    """
    chart = chart_of(stand, key, event)
    return [asdict(system) for system in engraved_systems(chart, width, _request(stand, chorus), event=event)]


def _request(stand: OnTheStand, chorus: int) -> Request:
    you = frozenset(stand.begun.you)
    whole = None if stand.treated else stand.treatment
    return Request(treatment=whole, seed=stand.seed, chorus=chorus, player=you, style=stand.style)


def tune_in_short(chart: Chart) -> dict[str, Any]:
    """What one chooses a chart by."""
    form = chart.unfold()
    return {
        "title": chart.title,
        "composer": chart.composer,
        "key": write_key(chart.fifths, chart.minor).translate(SIGNS),
        "metre": str(form.metre),
        "feel": chart.feel,
        "tempo": round(form.tempo / _counted(chart)["quarters"]),
        "counted": _counted(chart),
        "bars": len(form.bars),
        "melody": bool(form.melody),
    }


def voicings_drawn(
    stand: OnTheStand, *, key: str = "", chorus: int = 1, event: EventKind | None = None
) -> list[dict[str, Any]]:
    """How each chord of one time through the form is voiced first, on a small staff.

    Returns
    -------
    list of dict
        'start', the chart beat of the chord, 'svg' and 'notes', the names of the notes from the lowest up. A chord that
        nobody strikes there is voiced as it is elsewhere, or left out.
    """
    chart = chart_of(stand, key, event)
    content = chorus_content(chart, _request(stand, chorus), event)
    struck = [note for note in content.notes if note.part == "chords"]
    found: dict[float, tuple[Pitch, ...]] = {}
    for span in content.chords:
        here = [note for note in struck if span.start - EARLY <= note.beat < span.end]
        if here:
            first = min(note.beat for note in here)
            pitches = {note.pitch.midi: note.pitch for note in here if note.beat == first}
            found[float(span.start)] = tuple(pitches[midi] for midi in sorted(pitches))
    elsewhere = {span.chord: found[float(span.start)] for span in content.chords if float(span.start) in found}
    for span in content.chords:
        if span.chord in elsewhere:
            found.setdefault(float(span.start), elsewhere[span.chord])
    drawn = small_staves(found.values())
    return [
        {"start": start, "svg": drawn[voicing], "notes": " ".join(str(pitch).translate(SIGNS) for pitch in voicing)}
        for start, voicing in sorted(found.items())
    ]
