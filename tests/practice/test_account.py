"""The review in words: what is said first, and the drill."""

from __future__ import annotations

import shlex
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from companion.messages import NoteKind, Part
from companion.practice.account import account, drill_command, sentences
from companion.practice.alignment import NOTHING, TakeMove
from companion.practice.findings import Finding, Recurrence, What
from companion.practice.judging import JudgedNote
from companion.practice.recurring import RecurringSlip
from companion.practice.review import Review, ReviewedBar, review
from tests.practice.planted import Leg, perform
from tests.practice.test_alignment import form
from tests.practice.test_review import NAME, clean, reviewed


def with_findings(*found: Finding) -> Review:
    return replace(clean(), findings=found)


WRONG = tuple(Finding(bar, 1, "wrong-note", 1.0, f"bar {bar}: C, not B") for bar in (22, 25, 25))
BACK = Finding(4, 1, "restarted", 1.0, "bar 4: begun again")
RUSHED = Finding(9, 1, "rushed", -38.2, "bar 9: rushed by 38 ms a beat")
EVEN = Finding(17, 1, "swing", 1.0, "bars 17 to 20: even quavers, elsewhere 1.6 to 1", 20)


def test_what_weighs_most_is_said_first_in_three_sentences() -> None:
    assert sentences(with_findings(RUSHED, *WRONG[:2], BACK, EVEN)) == [
        "You went back once, in bar 4.",
        "Notes are wrong in bars 22 and 25.",
        "You rushed in bar 9, by 38 ms a beat.",
    ]


def test_a_stretch_is_named_from_its_first_bar_to_its_last() -> None:
    assert sentences(with_findings(EVEN))[0] == (
        "You swung otherwise in bars 17 to 20: even quavers, elsewhere 1.6 to 1."
    )


def test_of_clean_playing_good_is_said_and_no_drill() -> None:
    said = account("Tune", clean(), form(NAME), {"melody"}, NAME)
    assert said[:3] == ["Tune", "No note was wrong, missing or too many.", "You went through 64 bars without a stop."]
    assert not any("companion drill" in line for line in said)


def test_the_drill_is_over_the_worst_bars_and_can_be_started() -> None:
    command = drill_command(with_findings(*WRONG, RUSHED), form(NAME), {"chords", "melody"}, "a chart.toml")
    assert command is not None
    words = shlex.split(command)
    assert words[:3] == ["companion", "drill", "a chart.toml"]
    said = dict(zip(words[3::2], words[4::2], strict=True))
    first, last = map(int, said["--bars"].split("-"))
    assert first <= 22 and last >= 25 and said["--you"] == "melody,chords"
    assert 0 < float(said["--from"]) < float(said["--to"])


def test_a_drill_of_what_was_planted_is_offered() -> None:
    take = perform(form(NAME), [Leg(-1, 88), Leg(80, 128, pause=0.7)])
    lines = account("Tune", reviewed(take), form(NAME), {"melody"}, NAME)
    assert lines[1] == "You went back once, in bar 22."
    assert any(line.strip().startswith(f"companion drill {NAME} --bars ") for line in lines)


def test_nothing_played_is_said_to_be() -> None:
    nothing = account("Tune", review(form(NAME), NOTHING), form(NAME), {"melody"}, NAME)
    assert nothing == ["Tune: nothing was played that can be laid on the chart"]


# Sentences, word for word


def finding(
    what: What, bar: int, figure: float = 1.0, detail: str = "so", last: int | None = None, **more: Any
) -> Finding:
    return Finding(bar, 1, what, figure, f"bar {bar}: {detail}", last, **more)


@pytest.mark.parametrize(
    ("found", "sentence"),
    [
        ([finding("skipped", 3)], "You left out bar 3."),
        ([finding("skipped", 3), finding("skipped", 9)], "You left out bars 3 and 9."),
        ([finding("restarted", 0)], "You went back once, in the pickup."),
        ([finding("restarted", 0), finding("restarted", 4)], "You went back in the pickup and bar 4."),
        ([finding("clash", 0), finding("clash", 3, last=4), finding("clash", 9)],
         "Notes rub against each other in the pickup and bars 3 to 4 and 9."),
        ([finding("hesitated", 3, 1.26)], "You held back in bar 3, for 1.3 s."),
        ([finding("wrong-note", 3, detail="C, not B")], "A note is wrong in bar 3: C, not B."),
        ([finding("wrong-note", 3), finding("wrong-note", 3)], "Notes are wrong in bar 3."),
        ([finding("missed-note", 3, detail="B missed")], "A note is missing in bar 3: B missed."),
        ([finding("extra-note", 3)], "A note is too many in bar 3: so."),
        ([finding("rushed", 3, -38.2)], "You rushed in bar 3, by 38 ms a beat."),
        ([finding("dragged", 3, 38.2)], "You dragged in bar 3, by 38 ms a beat."),
        ([finding("late-chord", 3, 98.7)], "A chord came late in bar 3, by 99 ms."),
        ([finding("early-chord", 3, -98.7)], "A chord came early in bar 3, by 99 ms."),
        ([finding("swing", 3, last=6), finding("swing", 9)],
         "You swung otherwise than elsewhere in bars 3 to 6 and 9."),
        ([finding("swing", 3, last=6)], "You swung otherwise in bars 3 to 6: so."),
        ([finding("dynamics", 3, detail="the melody is softer")], "In bar 3, the melody is softer."),
        ([finding("clash", bar) for bar in (1, 2, 3, 4, 5, 6)],
         "Notes rub against each other in bars 1, 2, 3, 4, 5 and 6."),
        ([finding("clash", bar) for bar in (8, 1, 2, 3, 4, 5, 6, 7)],
         "Notes rub against each other in bars 1, 2, 3, 4, 5, 6 and 2 more."),
        ([finding("rushed", 3, -30, recurs=Recurrence(3, 4))],
         "You rushed in bar 3, by 30 ms a beat, the third time in four takes."),
        ([finding("rushed", 3, recurs=Recurrence(2, 4)), finding("rushed", 5, recurs=Recurrence(3, 4))],
         "You rushed in bars 3 and 5, in bar 5 the third time in four takes."),
        ([finding("rushed", 3, recurs=Recurrence(2, 4)), finding("rushed", 3)],
         "You rushed in bar 3, the second time in four takes."),
    ],
)  # fmt: skip
def test_each_kind_of_finding_has_its_sentence(found: list[Finding], sentence: str) -> None:
    assert sentences(with_findings(*found))[0] == sentence


def bars(*tempi: float, chorus: int = 1) -> tuple[ReviewedBar, ...]:
    return tuple(ReviewedBar(n, chorus, tempo=tempo) for n, tempo in enumerate(tempi, 1))


def note(kind: NoteKind, part: Part = "melody", expected: int | None = 60, *, forgiven: bool = False) -> JudgedNote:
    return JudgedNote(kind, 0.0, expected, 60, 1.0, None, part, forgiven)


GONE = RecurringSlip(
    ("hesitated", 5.0, -1), "hesitated", 5, 5, "hesitated for 0.9 s", (True, True, False), True, ("melody",),
    datetime(2026, 11, 28, tzinfo=UTC),
)  # fmt: skip
NO_NOTE = "No note was wrong, missing or too many."


@pytest.mark.parametrize(
    ("found", "said"),
    [
        ({"notes": (note("right"),), "bars": bars(100, 100, 100, 100, 102.9)},
         [NO_NOTE, "You went through 5 bars without a stop.",
          "You kept the tempo: ♩ = 100 at the beginning, 100 at the end."]),
        ({"notes": (note("right"),), "bars": bars(*[100.0] * 4, *[103.1] * 4)},
         [NO_NOTE, "You went through 8 bars without a stop."]),
        ({"notes": (note("right"),), "bars": bars(*[100.0] * 4, *[96.9] * 4)},
         [NO_NOTE, "You went through 8 bars without a stop."]),
        ({"notes": (note("right"),), "bars": bars(*[100.0] * 4, *[97.1] * 4), "moves": (TakeMove(1, 2, 3, 0),)},
         [NO_NOTE, "You kept the tempo: ♩ = 100 at the beginning, 97 at the end."]),
        ({"notes": (note("right"), note("extra", expected=None, forgiven=True), note("wrong", "solo", None)),
          "bars": bars(100, 120, chorus=2)}, [NO_NOTE, "You went through 2 bars without a stop.",
          "You kept the tempo: ♩ = 110 at the beginning, 110 at the end."]),
        ({"notes": (note("right"), note("extra", expected=None)), "bars": (ReviewedBar(0, 1, tempo=90.0),)},
         ["You went through 0 bars without a stop."]),
        ({"notes": (note("right"), note("missing")), "bars": ()}, ["You went through 0 bars without a stop."]),
        ({"notes": (note("wrong"),), "bars": (), "moves": (TakeMove(1, 2, 3, 0),), "gone": (GONE, GONE)},
         ["Bar 5: hesitated for 0.9 s in two of three takes, not this time."]),
        ({"figures": ("range: so", "on strong beats: so", "phrases: so", "form: bars 1 to 4 left open, mostly",
                      "form: notes in 3 bars"), "moves": (TakeMove(1, 2, 3, 0),)},
         ["On strong beats: so.", "Phrases: so.", "Form: bars 1 to 4 left open, mostly."]),
    ],
)  # fmt: skip
def test_what_went_well_is_said_where_nothing_else_is(found: dict[str, Any], said: list[str]) -> None:
    assert sentences(Review(**({"notes": (), "bars": (), "moves": (), "findings": ()} | found))) == said


def test_the_whole_of_an_account() -> None:
    listed = [finding("missed-note", n % 30 + 1, detail=f"{n} missed") for n in range(26)]
    listed[1] = replace(listed[1], chorus=2)
    listed[2] = replace(listed[2], chorus=3, recurs=Recurrence(3, 4))
    notes = (*[note("right")] * 7, note("wrong"), note("missing"), note("extra", expected=None))
    found = Review(notes, (*bars(*[100.0] * 4, *[104.0] * 4), *bars(106.0, 106.0, chorus=2)), (), tuple(listed),
                   figures=("tempo: so",), gone=(GONE,))  # fmt: skip
    told = account("Tune", found, form(NAME), {"melody", "solo"}, NAME, " --now")
    assert told[0] == "Tune" and len(told[1:4]) == 3
    assert told[4:7] == ["", "to mend it:", f"  {drill_command(found, form(NAME), {'melody', 'solo'}, NAME)} --now"]
    assert told[7:11] == [
        "", "7 of 9 notes right", "10 bars, 2 times through; ♩ = 100 at the beginning, 105 at the end", "tempo: so",
    ]  # fmt: skip
    assert told[11:14] == [
        "bar 1: 0 missed",
        "bar 2: 1 missed (time 2 through)",
        "bar 3: 2 missed (time 3 through; the third time in four takes)",
    ]
    assert told[-3:] == [
        "bar 24: 23 missed", "and 2 more", "not this time: bar 5: hesitated for 0.9 s in two of three takes",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("parts", "bars_played", "weights", "drilled"),
    [
        ({"melody"}, bars(100.0, 110.0, 120.0), 2, "--you melody --from 66 --to 110"),
        ({"bass", "solo", "chords"}, bars(100.0), 2, "--you chords,bass --from 60 --to 100"),
        ({"solo"}, bars(100.0), 2, None),
        ({"melody"}, (ReviewedBar(0, 1, tempo=90.0),), 2, None),
        ({"melody"}, bars(100.0), 1, None),  # not worth a drill
    ],
)
def test_a_drill_begins_at_six_tenths_of_the_tempo_that_was_played(
    parts: set[Part], bars_played: tuple[ReviewedBar, ...], weights: int, drilled: str | None
) -> None:
    wrong = tuple(finding("wrong-note", 9) for _ in range(weights))
    command = drill_command(Review((), bars_played, (), wrong), form(NAME), parts, NAME)
    assert (command is None) if drilled is None else (command is not None and command.endswith(drilled))
