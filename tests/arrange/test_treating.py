"""Sections treated otherwise than the chart says: what is played changes there, and nowhere else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.arrange.events import Stretch, order
from companion.arrange.plan import arrange
from companion.arrange.treating import left_written, treated_otherwise
from companion.arrange.written import written_part
from companion.chart.toml.read import parse_toml

TEXT = """
format = 1
title = "t"
key = "C major"
form = "A B A"
order = [{ play = "introduction", how = "last-four" }, { play = "head" }, { play = "solos", treatment = "modal" },
  { play = "ending", how = "tag" }]
[section.A]
treatment = "walking"
chords = "| C6 | G7 |"
[section.B]
chords = "| F6 | Bb7 |"
"""


@pytest.fixture(scope="module")
def stretches() -> tuple[Stretch, ...]:
    return order(parse_toml(TEXT))


def treatments(stretch: Stretch) -> list[str | None]:
    return [place.treatment for place in stretch.form.sections]


def test_a_section_is_treated_otherwise_wherever_it_comes(stretches: tuple[Stretch, ...]) -> None:
    head, solos = stretches[1:3]
    assert treatments(treated_otherwise(head, (("A", "bossa"),))) == ["bossa", None, "bossa"]
    assert treatments(treated_otherwise(head, (("B", "open"),))) == ["walking", "open", "walking"]
    found = treated_otherwise(solos, (("B", "open"),))
    assert treatments(found) == ["modal", "open", "modal"], "the stretch's own treatment goes on elsewhere"
    assert found.treatment is None
    assert treatments(treated_otherwise(solos, (("B", "open"),), "ballad")) == ["ballad", "open", "ballad"]


def test_where_nothing_is_treated_otherwise_nothing_changes(stretches: tuple[Stretch, ...]) -> None:
    assert all(treated_otherwise(one, ()) is one for one in stretches)


def test_introductions_and_endings_stay_but_lead_on_to_what_is_played(stretches: tuple[Stretch, ...]) -> None:
    opening, head, _, ending = stretches
    found = treated_otherwise(opening, (("A", "bossa"),))
    assert found.form == opening.form and found.onward is not None
    assert [place.treatment for place in found.onward.sections] == ["bossa", None, "bossa"]
    before = treated_otherwise(head, (("A", "bossa"),)).before
    assert before is not None and before.onward == found.onward
    closing = treated_otherwise(ending, (("A", "bossa"),))
    assert closing.form == ending.form and closing.onward is None
    assert closing.before is not None and treatments(closing.before) == ["bossa", "modal", "bossa"]


def test_what_is_written_stays_in_the_other_sections() -> None:
    form = parse_toml(TEXT).unfold()
    whole = replace(form, written=(written_part(form, "bass", arrange(form, "bass")),))
    (left,) = left_written(whole, {"A"})
    assert left.bars == {3, 4} and {form.bar_at(note.beat) for note in left.notes} == {3, 4}
    assert left_written(whole, {"A", "B"}) == ()
    assert left_written(whole, set()) == whole.written
    stretch = order(parse_toml(TEXT))[1]
    assert treated_otherwise(replace(stretch, form=whole, treatment=None), (("B", "open"),)).form.written[0].bars == {
        1, 2, 5, 6,
    }  # fmt: skip
    assert treated_otherwise(replace(stretch, form=whole), (("B", "open"),), "ballad").form.written == ()
