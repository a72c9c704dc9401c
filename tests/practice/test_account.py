"""The review in words: what is said first, and the drill."""

from __future__ import annotations

import shlex
from dataclasses import replace

from companion.practice.account import account, drill_command, sentences
from companion.practice.alignment import NOTHING
from companion.practice.findings import Finding
from companion.practice.review import Review, review
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
