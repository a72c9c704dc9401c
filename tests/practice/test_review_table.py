"""A review as other programs read it, row by row."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from companion.practice.alignment import TakeMove
from companion.practice.findings import Finding, Recurrence
from companion.practice.judging import JudgedNote
from companion.practice.recurring import RecurringSlip
from companion.practice.review import Review, ReviewedBar
from companion.practice.review_table import review_table
from companion.practice.voicing_names import VoicingName
from companion.practice.voicings_played import PlayedVoicing

NOTES = (
    JudgedNote("right", 0.333333, 60, 60, 1.234567, 12.0),
    JudgedNote("wrong", 1.0, 62, 63, 1.7, -30.4, chorus=2),
    JudgedNote("missing", 2.0, 64, None, None, 5.0),
    JudgedNote("extra", 2.5, None, 65, 2.6, 5.0),
)


def table(**found: object) -> dict[str, list[object]]:
    empty = {"notes": (), "bars": (), "moves": (), "findings": ()}
    return review_table(Review(**(empty | found)))  # type: ignore[arg-type]


def test_a_note_has_its_place_and_how_far_it_is_off_if_it_was_asked_for_and_struck() -> None:
    keys = "kind", "chart_beat", "pass", "expected", "pitch", "seconds", "deviation_ms"
    rows = [
        ("right", 0.3333, 1, 60, 60, 1.2346, 12.0),
        ("wrong", 1.0, 2, 62, 63, 1.7, -30.4),
        ("missing", 2.0, 1, 64, None, None, None),
        ("extra", 2.5, 1, None, 65, 2.6, None),
    ]
    assert table(notes=NOTES)["notes"] == [dict(zip(keys, row, strict=True)) for row in rows]


@pytest.mark.parametrize(
    ("notes", "swing", "figures"),
    [
        # deviations 12, -30.4, 5 and 5: their median 5, their standard deviation 16.59
        (NOTES, 1.618, (1, 1, 1, 1, 5.0, 16.6, 1.62)),
        (NOTES[:2], None, (1, 1, 0, 0, -9.2, 21.2, None)),
        (NOTES[:1], 1.0, (1, 0, 0, 0, 12.0, None, 1.0)),
        ((), None, (0, 0, 0, 0, None, None, None)),
    ],
)
def test_a_bar_has_its_notes_by_kind_and_how_they_lie(
    notes: tuple[JudgedNote, ...], swing: float | None, figures: tuple[float | None, ...]
) -> None:
    right, wrong, missing, extra, deviation, spread, ratio = figures
    assert table(bars=(ReviewedBar(7, 2, list(notes), 119.96, swing),))["bars"] == [
        {
            "bar": 7, "pass": 2, "right": right, "wrong": wrong, "missing": missing, "extra": extra,
            "deviation_ms": deviation, "spread_ms": spread, "tempo": 120.0, "swing": ratio,
        }
    ]  # fmt: skip


def test_what_is_said_has_how_often_it_was_said_before_and_what_is_gone_stands_apart() -> None:
    again = Finding(3, 2, "rushed", -38.2, "bar 3: rushed", recurs=Recurrence(3, 4))
    slip = RecurringSlip(
        ("swing", 5.0, -1),
        "swing",
        5,
        6,
        "even quavers",
        (True, True, False),
        True,
        ("melody",),
        datetime(2026, 11, 28, tzinfo=UTC),
    )
    found = table(findings=(again, Finding(4, 1, "clash", 1.0, "bar 4: C under B")), gone=(slip,))
    recurs = {"times": 3, "takes": 4, "text": "the third time in four takes"}
    row = {"bar": 3, "pass": 2, "what": "rushed", "figure": -38.2, "text": "bar 3: rushed", "recurs": recurs}
    assert found["findings"] == [
        row,
        {"bar": 4, "pass": 1, "what": "clash", "figure": 1.0, "text": "bar 4: C under B", "recurs": None},
    ]
    text = "bars 5 to 6: even quavers in two of three takes"
    assert found["gone"] == [{"bar": 5, "what": "swing", "times": 2, "takes": 3, "text": text}]


def test_moves_and_chords_have_their_moments_and_figures_are_lines() -> None:
    chord = PlayedVoicing(2, 1, 4.00006, 3.00016, "Dm7", (53, 57, 60), 38, VoicingName("shell", ("9",)))
    found = table(moves=(TakeMove(1.00016, 3.00006, 4.00024, 0.1236),), voicings=(chord,), figures=("tempo: even",))
    assert found["moves"] == [{"seconds": 1.0002, "from_beat": 3.0001, "to_beat": 4.0002, "pause_s": 0.124}]
    assert found["voicings"] == [
        {
            "bar": 2, "pass": 1, "chart_beat": 4.0001, "seconds": 3.0002, "chord": "Dm7", "notes": [53, 57, 60],
            "bass": 38, "name": "shell, 9 missing",
        }
    ]  # fmt: skip
    assert found["figures"] == ["tempo: even"]
