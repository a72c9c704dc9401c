"""Sections treated otherwise than the chart has it: asked for before a tune is played, or while it is.

What is written note for note in such a section is free then, for it was written for another treatment.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from functools import lru_cache

from companion.arrange.events import Stretch
from companion.arrange.writing import without_bars
from companion.chart.model import Form, WrittenPart

Treatments = tuple[tuple[str, str], ...]
"""Sections by name, in order, each with its treatment."""
AS_CHARTED: Treatments = ()


def left_written(form: Form, sections: Collection[str]) -> tuple[WrittenPart, ...]:
    """What stays written of a form where some sections are treated otherwise."""
    bars = frozenset(n for n, beat in enumerate(form.bars, 1) if form.section_at(beat).name in sections)
    left = (without_bars(form, part.part, bars) for part in form.written)
    return tuple(part for part in left if part is not None)


@lru_cache(maxsize=64)
def treated_otherwise(stretch: Stretch, treatments: Treatments, whole: str | None = None) -> Stretch:
    """A stretch of a tune with other treatments in some of its sections.

    Parameters
    ----------
    stretch : Stretch
        Introductions and endings stay as they are made, but lead on to, and come from, what is played.
    treatments : Treatments
    whole : str, optional
        The treatment under which the whole form is played otherwise, whatever chart and stretch say.
    """
    if not treatments:
        return stretch
    before = stretch.before and treated_otherwise(stretch.before, treatments, whole)
    if stretch.kind in ("introduction", "ending"):
        onward = stretch.onward and _treated(stretch.onward, dict(treatments), whole)
        return replace(stretch, before=before, onward=onward)
    form = _treated(stretch.form, dict(treatments), whole or stretch.treatment)
    return replace(stretch, form=form, before=before, treatment=None)


def _treated(form: Form, treatments: Mapping[str, str], else_by: str | None) -> Form:
    places = tuple(
        replace(place, treatment=treatments.get(place.name, else_by or place.treatment)) for place in form.sections
    )
    written = () if else_by else left_written(form, treatments)
    return replace(form, sections=places, written=written)
