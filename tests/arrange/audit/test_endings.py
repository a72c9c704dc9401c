"""What is counted of sections that come again with another ending, on melodies made by hand (common practice)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.arrange.audit.endings import _due, _last_bars, ending_figures
from companion.arrange.melody.part import treated
from companion.arrange.treatments import Treatment, TreatmentPlan, treatment
from companion.chart.model import Form, WrittenNote, WrittenPart

Composer = Callable[..., Form]
TURNED = replace(treatment("walking"), melody="turned")
WRITTEN = replace(treatment("walking"), melody="as-written")


def sections(form: Form, *ways: Treatment) -> TreatmentPlan:
    return tuple((place.start, place.end, way) for place, way in zip(form.sections, ways, strict=True))


@pytest.fixture(scope="module")
def tune(compose: Composer) -> Form:
    """Two times four bars, each with six notes in its last two bars."""
    notes = [(16 * half + beat, 1.0, midi) for half in (0, 1) for beat, midi in
             ((0, 60), (8, 64), (9, 65), (10, 67), (11, 65), (12, 64), (14, 60))]  # fmt: skip
    return compose(
        "C6 | F6 | G7 | C6 | " * 2 + "C6", melody=notes, sections=[("A", 4, None), ("A", 4, None), ("B", 1, None)]
    )


def test_a_section_is_due_another_ending_when_it_comes_for_the_last_time(compose: Composer) -> None:
    form = compose(" | ".join(["C6"] * 5), sections=[(name, 1, None) for name in "ABAAC"])
    assert _due(form, sections(form, *[TURNED] * 5)) == [(12, 16)]
    assert _due(form, sections(form, *[TURNED] * 3, WRITTEN, TURNED)) == [], "where its melody is to be turned"


def test_its_last_phrase_lies_in_its_last_four_bars(compose: Composer) -> None:
    form = compose(" | ".join(["C6"] * 8), sections=[("A", 6, None), ("B", 2, None)])
    assert _last_bars(form, Fraction(0), Fraction(24)) == 8 and _last_bars(form, Fraction(24), Fraction(32)) == 24


def test_what_is_turned_is_told_note_by_note(tune: Form) -> None:
    ruled = sections(tune, TURNED, TURNED, WRITTEN)
    arranged = {note.beat: note.pitch.midi for note, _ in treated(tune, ruled)}
    changed = [note.beat for note in tune.melody if arranged[note.beat] != note.pitch.midi]
    assert changed and changed[0] >= 16, "only in the second section"
    there, others, by_step = ending_figures(tune, ruled)
    assert (there.value, there.of, there.at_least) == (1.0, 1, 1.0)
    between = [note for note in tune.melody if changed[0] <= note.beat <= changed[-1]]
    assert (others.of, others.value, others.at_least) == (len(between), len(changed) / len(between), 0.7)
    close = next((note for note in tune.melody if note.beat > changed[-1]), None)
    assert by_step.at_least == 0.5 and by_step.of == (close is not None)
    if close is not None:
        assert by_step.value == (abs(arranged[changed[-1]] - close.pitch.midi) <= 2)


def test_where_nothing_is_turned_or_hardly_anything_is_sung_nothing_is_asked(tune: Form) -> None:
    assert [figure.of for figure in ending_figures(tune, sections(tune, WRITTEN, WRITTEN, WRITTEN))] == [0, 0, 0]
    few = replace(tune, melody=tuple(note for note in tune.melody if note.beat < 27))
    assert len([note for note in few.melody if note.beat >= 16]) == 4
    assert ending_figures(few, sections(few, TURNED, TURNED, WRITTEN))[0].of == 1
    fewer = replace(tune, melody=tuple(note for note in tune.melody if note.beat < 26))
    assert ending_figures(fewer, sections(fewer, TURNED, TURNED, WRITTEN))[0].of == 0


def test_an_ending_that_was_to_be_turned_and_was_not_is_found(tune: Form) -> None:
    """A written arrangement has the melody as it was."""
    notes = tuple(WrittenNote(note.beat, note.length, note.pitch) for note in tune.melody)
    kept = replace(tune, written=(WrittenPart("melody", frozenset(range(1, 10)), notes),))
    there, others, by_step = ending_figures(kept, sections(kept, TURNED, TURNED, WRITTEN))
    assert (there.value, there.of, there.places) == (0.0, 1, ("bar 5 beat 1",))
    assert (others.of, by_step.of) == (0, 0)
