"""What one chooses by: sections once each with their treatments, every bar with its chords, and how bars sound."""

from __future__ import annotations

from pathlib import Path

from companion.messages import Order
from companion.page.choosing import HearAsked, TuneAsked, hear, messages, tune
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


SHORT = """format = 1
title = "Back Stairs"
tempo = 100
form = "A B A"
[section.A]
chords = "| C | F G | % |"
melody = "| c8 | d8 | e8 |"
[section.B]
treatment = "open"
chords = "| Bb7 | Am7 |"
melody = "| f8 | e8 |"
"""


def test_all_that_a_short_tune_is_chosen_by(tmp_path: Path) -> None:
    path = tmp_path / "stairs.toml"
    path.write_text(SHORT, encoding="utf-8")
    told = tune(TuneAsked(str(path)))
    assert (told["title"], told["quarters"], told["bars"]) == ("Back Stairs", 100.0, 8)
    assert (told["own"], told["shipped"], told["written"], told["ordered"]) == (False, False, [], False)
    assert [tuple(one[key] for key in ("name", "first", "last", "said", "times")) for one in told["sections"]] == [
        ("A", 1, 3, False, 2),
        ("B", 4, 5, True, 1),
    ]
    assert told["sections"][1]["treatment"] == "open"
    assert told["rows"] == [
        {"name": "A", "bars": [{"bar": n, "chords": c} for n, c in ((1, ["C"]), (2, ["F", "G"]), (3, ["F", "G"]))]},
        {"name": "B", "bars": [{"bar": 4, "chords": ["B♭7"]}, {"bar": 5, "chords": ["Am7"]}]},
        {"name": "A", "bars": [{"bar": n, "chords": c} for n, c in ((6, ["C"]), (7, ["F", "G"]), (8, ["F", "G"]))]},
    ]
    (usual,) = [one for one in told["drills"] if one["kind"] == "usual"]
    assert (usual["start"], usual["goal"]) == (60, 100)
    ferry = tune(TuneAsked(FERRY))
    assert (ferry["shipped"], ferry["ordered"], ferry["quarters"]) == (True, True, 132.0)


def test_what_is_heard_is_told_with_the_channels_of_its_parts_and_lasts_as_long_as_its_bars(tmp_path: Path) -> None:
    path = tmp_path / "stairs.toml"
    path.write_text(SHORT, encoding="utf-8")
    heard = hear(HearAsked(str(path), How(bars=(4, 5), tempo=120)))
    assert heard["seconds"] == 8 * 60 / 120
    assert {status & 0x0F for _, status, _, _ in heard["notes"]} == {1, 2, 3}, "bass, chords, melody"


def test_orders_are_told_as_a_browser_sounds_them() -> None:
    orders = [Order(1.00004, "click", 0x90, 76, 100), Order(2.0, "bass", 0x81, 36, 0), Order(3.0, "solo", 0x9F, 60, 9)]
    assert messages(orders) == [(1.0, 0x99, 76, 100), (2.0, 0x81, 36, 0), (3.0, 0x93, 60, 9)]


def test_sections_of_a_waltz_go_to_their_last_bars(tmp_path: Path) -> None:
    path = tmp_path / "waltz.toml"
    bars = 'chords = "| C | F | G7 |"\nmelody = "| c6 | f6 | g6 |"\n'
    head = 'format = 1\ntitle = "Waltz"\nmetre = "3/4"\nform = "A B"\n'
    path.write_text(f"{head}[section.A]\n{bars}[section.B]\n{bars}", encoding="utf-8")
    found = tune(TuneAsked(str(path)))["sections"]
    assert [(one["name"], one["first"], one["last"]) for one in found] == [("A", 1, 3), ("B", 4, 6)]


def test_what_sounds_is_told_to_a_tenth_of_a_millisecond() -> None:
    """The click is on channel 10, the bass on 2 (counted from 0 on the wire)."""
    told = messages([Order(1.23456, "click", 0x90, 76, 60), Order(1.5, "bass", 0x80, 40, 0)])
    assert told == [(1.2346, 0x99, 76, 60), (1.5, 0x81, 40, 0)]
