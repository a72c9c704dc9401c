"""How a tune is asked for: other treatments, another tempo, some bars of it; and what there is no sense in."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

import pytest

from companion.arrange.writing import write_arrangement
from companion.errors import ConfigError, InputError, UseError
from companion.page.how import AS_WRITTEN, DrillAsked, How, chart_asked, drill_said, settings_asked, treated
from companion.practice.request import Said, drill_request
from companion.stage.settings import Settings

if TYPE_CHECKING:
    from companion.chart.model import Chart
    from tests.conftest import Stand


def test_as_written_the_chart_is_as_it_is(ferry: Chart) -> None:
    assert How(time="follow", tempo=None, treatments={}, bars=None, seed=0, like_you=None) == AS_WRITTEN
    assert chart_asked(ferry, AS_WRITTEN) == ferry


def test_some_bars_are_a_tune_of_their_own_at_the_tempo_that_is_asked_for(ferry: Chart) -> None:
    cut = chart_asked(ferry, How(bars=(17, 18), tempo=60))
    assert len(cut.unfold().bars) == 2 and cut.tempo == 60
    assert cut.title == f"{ferry.title}, bars 17–18"
    assert chart_asked(ferry, How(bars=(17, 17))).title == f"{ferry.title}, bar 17"


def test_where_a_section_is_treated_otherwise_what_is_written_there_is_free_and_stays_elsewhere(ferry: Chart) -> None:
    written = write_arrangement(ferry, parts=("bass",), bars=range(15, 19))
    (part,) = treated(written, {"B": "open"}).written
    assert part.bars == {15, 16}
    assert [s.treatment for s in treated(written, {"B": "open"}).sections] == ["walking", "walking", "open"]


@pytest.mark.parametrize(
    ("how", "error"),
    [(How(treatments={"B": "stroll"}), ConfigError), (How(tempo=9), InputError), (How(bars=(30, 40)), UseError)],
)
def test_what_there_isnt_is_said(how: How, error: type[Exception], ferry: Chart) -> None:
    with pytest.raises(error):
        chart_asked(ferry, how)


def test_the_companion_has_what_the_player_leaves(ferry: Chart) -> None:
    assert settings_asked(ferry, ("bass",), AS_WRITTEN).parts == ("melody", "chords")
    assert settings_asked(ferry, ("melody",), AS_WRITTEN).order == "chart"
    assert settings_asked(ferry, ("melody",), How(bars=(1, 4))).order == "form"
    assert settings_asked(ferry, ("bass", "solo"), AS_WRITTEN).parts == ("chords",)
    with pytest.raises(UseError, match="nobody plays"):
        settings_asked(ferry, (), AS_WRITTEN)


def test_a_drill_round_the_keys_with_a_click_is_asked_for_as_at_a_terminal(ferry: Chart) -> None:
    asked = DrillAsked("hands", start=80, step=2, click="2,4", divide=2, swap=0, keys="fourths", each=2, anywhere=True)
    said = Said(
        frozenset({"melody"}), start=80, goal=120, step=2, click="2,4", divide=2, swap=0, keys="fourths", each=2,
        anywhere=True, seed=3,
    )  # fmt: skip
    assert drill_said(asked, ("melody",), How(tempo=120, seed=3)) == said
    request = drill_request(ferry, (1, 4), drill_said(asked, ("melody",), How(tempo=120, seed=3)), "hands")
    assert [request.key(n) for n in (1, 2, 3, 5)] == [-2, -2, -3, -4], "G minor, C minor, F minor"


def test_whatever_can_be_said_of_a_drill_is_asked_on_the_page_or_chosen_elsewhere_there() -> None:
    elsewhere = {"you", "parts", "treatment", "seed", "style"}
    for_files = {"ladder"}  # a kind of drill brings its own
    asked = set(DrillAsked.__struct_fields__) - {"kind", "minutes"}
    assert {one.name for one in fields(Said)} == asked | elsewhere | for_files


def test_a_chart_without_a_melody_is_shared_without_one(stand: Stand) -> None:
    changes = stand.chart(("| C | F |", ""))
    assert settings_asked(changes, ("bass",), AS_WRITTEN).parts == ("chords",)
    assert settings_asked(changes, ("melody", "bass"), AS_WRITTEN).parts == ("chords",)
    with pytest.raises(UseError, match="the chart has no melody to play; take the bass or the chords"):
        settings_asked(changes, ("melody",), AS_WRITTEN)


def test_what_was_chosen_is_how_it_is_played(ferry: Chart) -> None:
    settings = settings_asked(ferry, ("melody", "chords"), How(time="patient", tempo=90, seed=4))
    assert settings == Settings(
        you=frozenset({"melody", "chords"}), parts=("bass",), time="patient", tempo=90, seed=4, order="chart"
    )
    assert settings_asked(ferry, ("solo",), AS_WRITTEN).order == "form"


def test_the_goal_of_a_drill_goes_before_the_tempo_of_the_tune() -> None:
    assert drill_said(DrillAsked(goal=100), ("melody",), How(tempo=120)).goal == 100
    assert drill_said(DrillAsked(), ("melody",), How(tempo=120)).goal == 120
    assert drill_said(DrillAsked(), ("melody",), AS_WRITTEN).goal is None


def test_a_treatment_that_isnt_named_stays_as_it_is(ferry: Chart) -> None:
    assert treated(ferry, {"B": ""}) == ferry
    assert chart_asked(ferry, How(tempo=60.5)).tempo == 60.5
