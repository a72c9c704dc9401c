"""How the figures of an audit are laid out, for one chart and for several; the figures are made up here."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from companion.arrange.audit import arrangement
from companion.arrange.audit.figures import AuditFigure

Run = Callable[..., tuple[int, str, str]]
FIRST = [
    AuditFigure("roots on the first beat", 0.9, 0.8, None, 40, part="walking bass"),
    AuditFigure("leaps beyond an octave", 2.0, None, 0.0, 40, ("bar 3", "bar 7"), part="walking bass"),
    AuditFigure("steps", 0.514, 0.3, 0.6, 40, part="walking bass"),
    AuditFigure("chords a bar", 1.25, None, 2.0, 10, part="chords"),
    AuditFigure("low thirds", 0.0, None, None, 0, part="chords"),
]
SECOND = [
    AuditFigure("roots on the first beat", 0.7, 0.8, None, 40, part="walking bass"),
    AuditFigure("leaps beyond an octave", 0.0, None, 0.0, 40, part="walking bass"),
    AuditFigure("chords a bar", 1.75, None, 2.0, 30, part="chords"),
]
ONE = """\
two-spoons-short
  walking bass
    roots on the first beat                                   0.9   0.8 or more
  ! leaps beyond an octave                                      2   none   bar 3, bar 7
    steps                                                   0.514   0.3 to 0.6
  chords
    chords a bar                                             1.25   2 or less
    low thirds                                                  –   no target: too few cases
"""
TWO = """\
ferry-without-lights
  walking bass
  ! roots on the first beat                                   0.7   0.8 or more
    leaps beyond an octave                                      0   none
  chords
    chords a bar                                             1.75   2 or less
all 2 charts
                                                             mean    worst   target
  walking bass
    roots on the first beat                                   0.8      0.7   0.8 or more   missed by 1, most by ferry-without-lights
    leaps beyond an octave                                      1        2   none   missed by 1, most by two-spoons-short
    steps                                                   0.514    0.514   0.3 to 0.6
  chords
    chords a bar                                             1.62     1.75   2 or less
"""  # noqa: E501


@pytest.fixture
def figures(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """What each chart is found to be, one after the other; gives how it was asked for."""
    asked: list[dict[str, Any]] = []

    def audit(form: Any, **said: Any) -> list[AuditFigure]:
        asked.append(said)
        return [FIRST, SECOND, []][len(asked) - 1]

    monkeypatch.setattr(arrangement, "audit", audit)
    return asked


def test_a_chart_has_its_figures_by_part_with_their_targets_and_a_miss_says_where(
    run: Run, figures: list[dict[str, Any]]
) -> None:
    status, out, err = run("chart", "audit", "two-spoons-short")
    assert (status, out, err) == (1, ONE, "companion: a target missed\n")
    assert (figures[0]["seeds"], figures[0]["treatment"]) == (10, None)


def test_of_several_charts_the_mean_and_the_worst_are_told(
    run: Run, figures: list[dict[str, Any]], tmp_path: Path
) -> None:
    table = tmp_path / "figures.json"
    words = ["two-spoons-short", "ferry-without-lights", "--seeds", 3, "--treatment", "ballad", "--json", table]
    status, out, err = run("chart", "audit", *words)
    assert (status, out, err) == (1, ONE + TWO, "companion: 2 targets missed\n")
    assert [(asked["seeds"], asked["treatment"]) for asked in figures] == [(3, "ballad")] * 2
    written = json.loads(table.read_text(encoding="utf-8"))
    assert table.read_text(encoding="utf-8").startswith('{\n "format": 1,\n "charts": [\n  {\n'), "a value a line"
    assert list(written) == ["format", "charts", "all"] and written["format"] == 1
    assert [one["chart"] for one in written["charts"]] == words[:2]
    assert [figure["reached"] for figure in written["charts"][1]["figures"]] == [False, True, True]
    assert written["all"][0] == {
        "part": "walking bass", "name": "roots on the first beat", "mean": pytest.approx(0.8), "worst": 0.7,
        "worst_chart": "ferry-without-lights", "missed": ["ferry-without-lights"], "at_least": 0.8, "at_most": None,
    }  # fmt: skip


def test_where_all_is_reached_nothing_more_is_said(
    run: Run, figures: list[dict[str, Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(arrangement, "audit", lambda form, **said: SECOND[1:])
    status, _, err = run("chart", "audit", "two-spoons-short")
    assert (status, err) == (0, "")


def test_a_treatment_that_isnt_there_is_said_before_anything_is_arranged(
    run: Run, figures: list[dict[str, Any]]
) -> None:
    status, out, err = run("chart", "audit", "two-spoons-short", "--treatment", "stride")
    assert (status, out, figures) == (2, "", []) and "there is no treatment called 'stride'" in err
