"""What a chart and the settings name is looked up before the count-in: one line with file, place and nearest name."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from companion.chart.model import Chart, Event, EventKind
from companion.errors import ChartError, UseError
from companion.stage.names import check_names
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import Settings

SOURCE = "ten-to-ten.toml"


@pytest.fixture
def tune(stand: Any) -> Chart:
    return replace(stand.tune(), source=SOURCE)


def with_order(chart: Chart, **third: Any) -> Chart:
    """A head, solos and something else."""
    kind: EventKind = third.pop("kind")
    return replace(chart, events=(Event("head"), Event("solos", 2), Event(kind, **third)))


def with_treatment(chart: Chart, name: str) -> Chart:
    """The second section's."""
    first, second = chart.sections
    return replace(chart, sections=(first, replace(second, treatment=name)))


def test_a_misspelt_treatment_in_the_order_is_said_before_anything_sounds(tune: Chart) -> None:
    chart = with_order(tune, kind="head", treatment="walkin")
    line = f"{SOURCE}: order, event 3: there is no treatment 'walkin'; did you mean 'walking'?"
    for look_up in (check_names, Rehearsal):
        with pytest.raises(ChartError) as fault:
            look_up(chart, Settings(order="chart"))
        assert str(fault.value) == line


def test_a_misspelt_treatment_of_a_section_is_said_with_the_section(tune: Chart) -> None:
    with pytest.raises(ChartError) as fault:
        Rehearsal(with_treatment(tune, "Sparce"), Settings())
    assert str(fault.value) == f"{SOURCE}: section B: there is no treatment 'Sparce'; did you mean 'sparse'?"


def test_a_name_that_resembles_none_is_answered_with_all_there_are(tune: Chart) -> None:
    with pytest.raises(ChartError, match=r"no treatment 'zzz'; use one of .*in-two.*walking"):
        Rehearsal(with_treatment(tune, "zzz"), Settings())


def test_a_misspelt_treatment_that_was_asked_for_is_said_with_the_option(tune: Chart) -> None:
    with pytest.raises(UseError) as fault:
        Rehearsal(tune, Settings(treatment="walkng"))
    assert str(fault.value) == "--treatment: there is no treatment called 'walkng'; did you mean 'walking'?"


@pytest.mark.parametrize(
    ("kind", "how", "nearest"), [("ending", "tagg", "tag"), ("ending", "ritardanod", "ritardando")]
)
@pytest.mark.parametrize("order", ["chart", "open"])
def test_an_ending_made_in_no_known_way_is_said_before_it_comes_or_is_told(
    tune: Chart, kind: EventKind, how: str, nearest: str, order: str
) -> None:
    with pytest.raises(UseError) as fault:
        Rehearsal(with_order(tune, kind=kind, how=how), Settings(order=order))  # type: ignore[arg-type]
    said = f"{SOURCE}: order, event 3: {how!r} is no way to make an {kind}; did you mean {nearest!r}?"
    assert str(fault.value) == said


def test_an_introduction_that_nobody_knows_is_said_with_its_place(tune: Chart) -> None:
    chart = replace(tune, events=(Event("introduction", how="vampp"), Event("head")))
    with pytest.raises(UseError, match=r"ten-to-ten.toml: order, event 1: 'vampp' .* did you mean 'vamp'\?"):
        Rehearsal(chart, Settings(order="chart"))
    Rehearsal(chart, Settings(order="open"))  # where it isn't played


def test_a_misspelt_feel_is_said_where_it_is_going_to_swing(tune: Chart) -> None:
    with pytest.raises(ChartError) as fault:
        Rehearsal(replace(tune, feel="swimg"), Settings())
    assert str(fault.value) == f"{SOURCE}: feel: there is no feel 'swimg'; did you mean 'swing'?"


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"you": frozenset({"melodie"})}, "there is no part called 'melodie'; did you mean 'melody'?"),
        ({"parts": ("bass", "cords")}, "there is no part called 'cords'; did you mean 'chords'?"),
        ({"time": "stedy"}, "there is no time called 'stedy'; did you mean 'steady'?"),
        ({"order": "oben"}, "there is no order called 'oben'; did you mean 'open'?"),
    ],
)
def test_a_misspelt_part_time_or_order_is_one_line(tune: Chart, told: dict[str, Any], said: str) -> None:
    with pytest.raises(UseError) as fault:
        Rehearsal(tune, Settings(**told))
    assert str(fault.value) == said


def test_what_is_not_going_to_be_played_keeps_nobody_from_playing(tune: Chart) -> None:
    ordered = with_order(tune, kind="ending", how="tag", treatment="walkin")
    check_names(ordered, Settings(order="form"))
    check_names(ordered, Settings(order="chart", treatment="walking"))
    check_names(with_order(tune, kind="solos", treatment="walkin"), Settings(order="open"))
    check_names(replace(with_treatment(tune, "walkin"), form=("A",)), Settings())
