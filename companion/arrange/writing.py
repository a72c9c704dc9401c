"""An arrangement made and written into a chart, the whole of it or some bars, so that it leads from and into the rest.

Conventions: bars are numbered through the form, 1 = its first full bar.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

from companion.arrange.chords.comping_style import CompingStyle
from companion.arrange.part import Note
from companion.arrange.plan import filled
from companion.arrange.request import Request
from companion.arrange.written import bar_number_of, written_part
from companion.chart.model import Chart, Form, MelodyNote, WrittenNote, WrittenPart
from companion.chart.toml.arrangement import WRITTEN_PARTS
from companion.messages import Part

_SUNG = frozenset({"melody"})
"""Whoever plays the melody alone has a hand for it: no note is let go for a chord."""
_ORDER: tuple[tuple[Part, frozenset[str]], ...] = (
    ("melody", _SUNG),
    ("bass", frozenset()),
    ("chords", frozenset()),
    ("melody", frozenset()),
)
"""Parts in the order in which they are made, and what has a hand of its own: each part leaves room for those before it,
and at the end the melody lets go of what its hand can't hold."""


def write_arrangement(
    chart: Chart,
    *,
    parts: Collection[str] | None = None,
    bars: Collection[int] | None = None,
    treatment: str | None = None,
    seed: int = 0,
    style: CompingStyle | None = None,
) -> Chart:
    """The chart with an arrangement written note for note.

    Parameters
    ----------
    chart : Chart
    parts : collection of str, optional
        Of melody, chords and bass. By default chords and bass, and of the melody the bars that are arranged otherwise
        than the tune has them.
    bars : collection of int, optional
        The bars to make; what is written in the others stays. By default all.
    treatment : str, optional
        One treatment for these bars; otherwise each section's own, or what suits the form.
    seed : int
        Another seed, other notes.
    style : CompingStyle, optional
        How the player comps, where free chords are to be like theirs.

    Raises
    ------
    ConfigError
        When there is no such treatment.
    """
    form = chart.unfold()
    wanted = frozenset(bars if bars is not None else range(1, len(form.bars) + 1))
    for part, player in _ORDER:
        if parts is None or part in parts:
            asked = Request(treatment=treatment, seed=seed, player=player, style=style)
            form = _with(form, part, _made(form, part, wanted, asked, sparing=parts is None))
    return replace(chart, written=form.written)


def _made(form: Form, part: Part, wanted: frozenset[int], request: Request, sparing: bool) -> WrittenPart | None:
    """A part with the wanted bars made anew; ``sparing``: a melody is written only where it isn't the tune's."""
    open_form = _with(form, part, without_bars(form, part, wanted))
    kept = open_form.written_part(part)
    notes = filled(open_form, part, request)
    if part == "melody" and sparing:
        sung = filled(open_form, part, replace(request, player=_SUNG))
        wanted &= _unlike_the_tune(open_form, written_part(form, part, sung))
    chosen = wanted | (kept.bars if kept else frozenset())
    return written_part(form, part, notes, chosen) if chosen else None


def without_bars(form: Form, part: Part, bars: Collection[int]) -> WrittenPart | None:
    """What is written of a part without some of its bars; None when nothing is left."""
    old = form.written_part(part)
    left = old.bars - frozenset(bars) if old else frozenset()
    if old is None or not left:
        return None
    return WrittenPart(part, left, tuple(note for note in old.notes if bar_number_of(form, note.beat) in left))


def _with(form: Form, part: Part, written: WrittenPart | None) -> Form:
    found = {one.part: one for one in form.written if one.part != part} | ({part: written} if written else {})
    return replace(form, written=tuple(found[name] for name in WRITTEN_PARTS if name in found))


def _unlike_the_tune(form: Form, arranged: WrittenPart) -> frozenset[int]:
    """Bars in which the melody isn't as the tune has it, arranged or by the chart's own treatments."""
    tune = _by_bar(form, form.melody)
    others = [_by_bar(form, arranged.notes), _by_bar(form, filled(form.free, "melody", Request(player=_SUNG)))]
    bars = range(1, len(form.bars) + 1)
    return frozenset(bar for bar in bars if any(one.get(bar) != tune.get(bar) for one in others))


def _by_bar(form: Form, notes: Iterable[MelodyNote | WrittenNote | Note]) -> dict[int, list[MelodyNote]]:
    """The notes that begin in each bar."""
    found: dict[int, list[MelodyNote]] = {}
    for note in notes:
        found.setdefault(bar_number_of(form, note.beat), []).append(MelodyNote(note.beat, note.length, note.pitch))
    return found
