"""What one chooses by: sections once each with their treatments, every bar with its chords, and how bars sound."""

from __future__ import annotations

from companion.page.choosing import HearAsked, TuneAsked, hear, tune
from companion.page.how import How
from companion.resources import chart_path

FERRY = str(chart_path("ferry-without-lights"))


def test_a_section_that_comes_again_is_chosen_once_and_its_bars_are_all_there() -> None:
    told = tune(TuneAsked(FERRY))
    assert [(s["name"], s["times"], s["treatment"]) for s in told["sections"]] == [
        ("A1", 1, "walking"),
        ("A2", 2, "walking"),
        ("B", 1, "sparse"),
    ]
    assert [row["name"] for row in told["rows"]] == ["A1", "A2", "B", "A2"]
    bars = [bar for row in told["rows"] for bar in row["bars"]]
    assert [bar["bar"] for bar in bars] == list(range(1, 33))
    assert bars[3]["chords"] == ["Am7♭5", "D7alt"] and bars[17]["chords"] == [], "held from the bar before"


def test_every_treatment_that_is_listed_can_be_heard() -> None:
    heard = []
    for one in tune(TuneAsked(FERRY))["treatments"]:
        found = hear(HearAsked(FERRY, How(treatments={"B": one["name"]}, bars=(17, 18))))
        heard.append(tuple(found["notes"]))
        assert found["notes"] and found["seconds"] == 8 * 60 / 132
    assert len(set(heard)) > len(heard) / 2


def test_what_is_heard_ends_every_note_that_it_begins() -> None:
    notes = hear(HearAsked(FERRY, How(bars=(17, 20))))["notes"]
    on = [(status & 15, key) for _, status, key, force in notes if status & 0xF0 == 0x90 and force]
    off = [(status & 15, key) for _, status, key, _ in notes if status & 0xF0 == 0x80]
    assert sorted(on) == sorted(off) and [at for at, *_ in notes] == sorted(at for at, *_ in notes)


def test_a_part_alone_is_heard_alone() -> None:
    notes = hear(HearAsked(FERRY, How(bars=(1, 2)), parts=("bass",)))["notes"]
    assert {status & 15 for _, status, _, _ in notes} == {1}


def test_each_kind_of_drill_says_what_it_is_for_and_what_it_stands_for() -> None:
    kinds = {one["kind"]: one for one in tune(TuneAsked(FERRY))["drills"]}
    assert all(one["about"] for one in kinds.values())
    assert (kinds["usual"]["start"], kinds["usual"]["goal"]) == (round(0.6 * 132), 132), "shares of the tune's tempo"
    assert kinds["notes"]["time"] == "patient" and kinds["keys"]["keys"] == "fourths"
