"""The order of events on paper and in sound (its signs: common practice)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.arrange.events import order
from companion.arrange.part import Note
from companion.arrange.request import Request
from companion.chart.model import Chart, Event, Form
from companion.chart.repeats import playing_order
from companion.chart.toml.read import parse_toml
from companion.engrave.programme import (
    _held,
    _not_before,
    arrangement,
    chorus_content,
    slowing,
    sounding,
    with_order,
)
from companion.engrave.score import lead_sheet
from companion.engrave.sheet import Sheet
from companion.load import load
from companion.messages import EventKind
from companion.music.pitch import Pitch
from companion.resources import chart_path

EVENTS = (
    Event("introduction", how="vamp", bars=4),
    Event("head"),
    Event("solos", choruses=2),
    Event("head"),
    Event("ending", how="tag"),
)


def played(sheet: Sheet) -> list[int]:
    return [sheet.bars[k].number for k in playing_order([bar.marks for bar in sheet.bars])]


def test_introduction_head_and_ending_are_written_out_and_repeats_lead_through_the_rest(ferry: Chart) -> None:
    sheet = arrangement(replace(ferry, events=EVENTS))
    headings = [bar.heading for bar in sheet.bars if bar.heading]
    assert (headings[0], headings[-1]) == ("Introduction", "Ending")
    head = list(range(1, 33))
    assert played(sheet) == [-3, -2, -1, 0, *head * 4, *range(33, 43)]
    (said,) = (bar for bar in sheet.bars if bar.words)
    assert (said.number, said.words) == (32, "Head, solos 2×, head; small notes lead back")
    assert not any(bar.marks.jump or bar.marks.to_coda for bar in sheet.bars)


@pytest.mark.parametrize(
    ("events", "said"),
    [
        ((Event("head"), Event("head")), ""),
        (
            (Event("head", choruses=2), Event("solos", choruses=4), Event("head", choruses=2)),
            "Head 2×, solos 4×, head 2×",
        ),
        ((Event("head"), Event("solos", choruses=1), Event("ending", how="held")), "Head, solos"),
    ],
)
def test_a_repeat_says_in_one_line_what_each_time_is_for(ferry: Chart, events: tuple[Event, ...], said: str) -> None:
    sheet = arrangement(replace(ferry, events=events), staves=(2,))
    assert [bar.words for bar in sheet.bars if bar.marks.repeat_end] == [said]
    assert not any("\n" in bar.words for bar in sheet.bars)


@pytest.mark.parametrize(
    "name", ["ferry-without-lights", "lamplight-by-the-yard", "staircase-on-loan", "snow-on-the-awning"]
)
def test_what_leads_into_the_head_is_written_where_one_goes_back_to_it(name: str) -> None:
    """In eight bars and in twelve, and where nothing does."""
    chart = load(chart_path(name))
    form = chart.unfold()
    lead_in = [note for note in form.melody if note.beat < 0]
    sheet = arrangement(chart)
    found = [
        (Fraction(bar.number - 1) * form.metre.bar + head.start - form.length, head.pitches[0].midi)
        for bar in sheet.bars
        for voice in bar.voices
        for head in voice.heads
        if head.small and not head.tied_back
    ]
    assert found == [(note.beat, note.pitch.midi) for note in lead_in]


def test_what_leads_back_takes_the_place_of_what_is_held_there(ferry: Chart) -> None:
    bar = next(bar for bar in arrangement(replace(ferry, events=EVENTS)).bars if bar.number == 32)
    melody = next(voice for voice in bar.voices if voice.number == 1)
    assert sum(head.length for head in melody.heads) == bar.length
    assert [head.small for head in melody.heads if head.pitches][-2:] == [True, True]


def test_equal_passes_of_both_hands_are_folded_and_made_again_after_the_leap(
    ferry: Chart, monkeypatch: pytest.MonkeyPatch
) -> None:
    def plain(form: Form, part: str, asked: object) -> tuple[Note, ...]:
        pitch = {"bass": Pitch("G", 0, 2), "chords": Pitch("B", -1, 3)}.get(part)
        hand = "left" if part == "bass" else "right"
        return tuple(Note(bar, Fraction(2), pitch, part, hand) for bar in form.bars) if pitch else ()

    monkeypatch.setattr("companion.arrange.events.arrange", plain)
    section = replace(ferry.sections[0], melody=())
    chart = replace(ferry, sections=(section,), form=("A1", "A1"), events=EVENTS)
    sheet = arrangement(chart)
    assert [bar.marks.repeat_end for bar in sheet.bars if bar.marks.repeat_end] == [2]
    head = [*range(1, 9)] * 2
    assert played(sheet)[4:36] == head * 2
    assert sheet.staves == (1, 2) and any(bar.with_repeats for bar in sheet.bars)


def test_without_an_introduction_the_whole_page_is_repeated(ferry: Chart) -> None:
    section = ferry.sections[1]
    plain = replace(section, melody=tuple(note for note in section.melody if note.beat >= 0))
    chart = replace(ferry, sections=(plain,), form=("A2",), events=EVENTS[1:4])
    sheet = arrangement(chart, staves=(2,))
    assert sheet.bars[0].marks.repeat_start and sheet.bars[-1].marks.repeat_end == 4


def test_the_pickup_stands_in_the_last_bar_of_the_introduction(ferry: Chart) -> None:
    bars = arrangement(replace(ferry, events=EVENTS)).bars
    before = next(bar for bar in bars if bar.number == 0)
    melody = next(voice for voice in before.voices if voice.number == 1)
    assert before.length == 4
    struck = [(h.start, h.pitches[0].step) for h in melody.heads if h.pitches]
    assert struck[-2:] == [(3, "D"), (Fraction(7, 2), "F")]
    assert all(start < 3 for start, _ in struck[:-2]), "the introduction's own melody is over by then"


def test_a_chart_that_says_no_order_is_its_form_once_through(ferry: Chart) -> None:
    sheet = arrangement(replace(ferry, events=()))
    assert played(sheet) == list(range(33))
    assert not any(bar.words or bar.marks.jump for bar in sheet.bars)


@pytest.mark.parametrize(
    ("name", "how"),
    [("two-spoons-short", "tag"), ("five-gates-down", "vamp"), ("mill-wheel-at-rest", "held"),
     ("salt-in-the-ink", "ritardando")],
)  # fmt: skip
def test_the_last_chord_is_held_to_the_end(name: str, how: str) -> None:
    chart = load(chart_path(name))
    last = arrangement(chart).bars[-1]
    assert chart.events[-1].how == how and last.fermata
    assert all(voice.heads[-1].pitches or voice.heads[-1].hidden for voice in last.voices if voice.number in (2, 6))


def test_the_order_is_said_in_words(ferry: Chart) -> None:
    said = with_order(lead_sheet(ferry), replace(ferry, events=EVENTS)).order
    assert said == "Introduction (vamp) – head – solos (2 choruses) – head – ending (tag)"


def test_in_sound_every_event_is_played(ferry: Chart) -> None:
    chart = replace(ferry, events=EVENTS)
    form, notes = sounding(chart)
    assert form.length == sum((stretch.length for stretch in order(chart)), Fraction(0))
    assert [place.name for place in form.sections] == [
        "Introduction", "A1", "A2", "B", "A2", "Solos", "Solos", "A1", "A2", "B", "A2", "Ending",
    ]  # fmt: skip
    assert {end - start for start, end in pairwise([*form.bars, form.length])} == {form.metre.bar}
    solos = next(place for place in form.sections if place.name == "Solos")
    during = {note.part for note in notes if solos.start <= note.beat < solos.end - 2}
    assert during == {"chords", "bass"}
    assert {note.part for note in notes} == {"melody", "chords", "bass"}


@pytest.mark.parametrize("staves", [(1,), (2,)])
def test_one_hand_alone_has_its_notes_and_no_others(ferry: Chart, staves: tuple[int, ...]) -> None:
    for bar in arrangement(ferry, staves=staves).bars:
        assert {voice.staff for voice in bar.voices} == set(staves)


# a small tune, chorus by chorus

KETTLE = """
format = 1
title = "Kettle at Six"
key = "G minor"
tempo = 132
order = [
  { play = "introduction", how = "vamp", bars = 1 },
  { play = "head" },
  { play = "solos", choruses = 2 },
  { play = "head" },
  { play = "ending", how = "held" },
]
[section.A]
chords = "| Gm6 | C7 D7alt |"
melody = "DF | G3 A (3B2c2d2 | ^c4 ^F4 |"
"""
Spans = list[tuple[int, int, int]]
INTRODUCTION, PICKUP, HEAD, ENDING = [(0, -4, 4)], [(0, -1, 1)], [(1, 0, 4), (2, 4, 4)], [(3, 8, 4), (4, 12, 4)]


@pytest.mark.parametrize(
    ("event", "number", "bars", "names"),
    [
        (None, 1, PICKUP + HEAD, "A"),
        (None, 2, PICKUP + HEAD, "A"),
        ("head", 1, INTRODUCTION + HEAD + ENDING, "Introduction A Ending"),
        ("solos", 2, HEAD + ENDING, "A Ending"),
        ("solos", 3, HEAD + ENDING, "A Ending"),
        ("head", 4, PICKUP + HEAD + ENDING, "A Ending"),
        ("head", 9, PICKUP + HEAD + ENDING, "A Ending"),  # more than the chart has: another one
    ],
)
def test_a_chorus_stands_between_what_is_played_before_and_after_it(
    event: EventKind | None, number: int, bars: Spans, names: str
) -> None:
    """Number, start and length in quarters of each bar."""
    content = chorus_content(parse_toml(KETTLE), Request(chorus=number), event)
    assert list(content.bars) == bars and [place.name for place in content.places] == names.split()
    assert content.places[0].start == (-4 if "Introduction" in names else 0)
    assert content.places[-1].end == content.chords[-1].end == bars[-1][1] + 4
    assert [span.start for span in content.chords] == [
        *([-4, -2] if "Introduction" in names else []), 0, 4, 6, *([8] if "Ending" in names else []),
    ]  # fmt: skip
    first, last = bars[0][1], bars[-1][1] + 4
    assert all(first <= note.beat and note.beat + note.length <= last for note in content.notes)
    inside = {note.part for note in content.notes if 0 <= note.beat < 8}
    assert inside == ({"chords", "bass"} if event == "solos" else {"melody", "chords", "bass"})
    left = chorus_content(parse_toml(KETTLE), Request(chorus=number), event, (2,))
    assert {note.hand for note in left.notes} == {"left"}


def test_the_whole_of_a_small_tune_in_sound() -> None:
    form, notes = sounding(parse_toml(KETTLE))
    assert form.length == 44 and form.bars == tuple(range(0, 44, 4))
    assert [(place.name, place.start, place.end) for place in form.sections] == [
        ("Introduction", 0, 4), ("A", 4, 12), ("Solos", 12, 20), ("Solos", 20, 28), ("A", 28, 36), ("Ending", 36, 44),
    ]  # fmt: skip
    assert [span.start for span in form.chords] == [0, 2, 4, 8, 10, 12, 16, 18, 20, 24, 26, 28, 32, 34, 36]
    assert form.chords[-1].end == 44 and form.melody == () and form.written == ()
    assert min(note.beat for note in notes) >= 0
    assert [note.beat for note in notes if note.part == "melody" and note.beat < 4][-2:] == [3, Fraction(7, 2)]
    assert slowing(parse_toml(KETTLE)) is None, "a last chord that is just held"


def test_where_no_introduction_is_played_the_pickup_sounds_before_the_first_bar() -> None:
    text = KETTLE.replace('  { play = "introduction", how = "vamp", bars = 1 },\n', "")
    _, notes = sounding(parse_toml(text))
    assert [note.beat for note in notes if note.part == "melody"][:2] == [-1, Fraction(-1, 2)]


@pytest.mark.parametrize(("how", "low", "high"), [("tag", 44, 52), ("ritardando", 20, 36)])
def test_the_end_slows_down_some_bars_before_its_last_chord(how: str, low: int, high: int) -> None:
    """As shipped, two bars for a tag, four for a ritardando, in quarters from the start of all."""
    found = slowing(parse_toml(KETTLE.replace('"held"', f'"{how}"')))
    assert found is not None and (found.low, found.high) == (low, high)


@pytest.mark.parametrize(
    ("events", "said"),
    [
        ((Event("head"),), "Head"),
        ((Event("head", choruses=2), Event("solos")), "Head (2 choruses) – solos (1 chorus)"),
        ((Event("introduction", how="last-four"), Event("head")), "Introduction (last four) – head"),
        ((Event("head", how="loud"), Event("ending")), "Head – ending"),
        ((), ""),
    ],
)
def test_an_order_of_events_reads_as_one_says_it(ferry: Chart, events: tuple[Event, ...], said: str) -> None:
    assert with_order(lead_sheet(ferry), replace(ferry, events=events)).order == said


@pytest.mark.parametrize(
    ("how", "signs"),
    [
        ("held", {8: "hold"}),
        ("tag", {5: "rit.", 8: "hold"}),  # two bars before the last chord, which rests for two
        ("vamp", {5: "rit.", 8: "hold"}),
    ],
)
def test_the_page_of_a_small_tune_slows_down_and_rests_where_it_does_in_sound(how: str, signs: dict[int, str]) -> None:
    bars = arrangement(parse_toml(KETTLE.replace('"held"', f'"{how}"'))).bars
    last = bars[-1].number
    assert last == (4 if how == "held" else 8)
    assert {bar.number: bar.manner or "hold" for bar in bars if bar.manner or bar.fermata} == {
        **{number: sign for number, sign in signs.items() if number < last}, last: "hold",
    }  # fmt: skip
    assert [bar.length for bar in bars] == [4] * len(bars)


def note(beat: object, length: object) -> Note:
    return Note(Fraction(str(beat)), Fraction(str(length)), Pitch("C", 0, 4), "bass", "left")


def test_what_ends_less_than_two_quarters_before_the_end_is_held_to_it() -> None:
    found = _held([note(0, 6), note(0, "6.1"), note(4, 4), note(1, 2)], Fraction(8))
    assert [one.length for one in found] == [6, 8, 4, 2]


def test_nothing_sounds_before_an_introduction_and_what_lasts_into_it_begins_with_it() -> None:
    found = _not_before([note(-6, 1), note(-6, 2), note(-5, 2), note(-4, 1), note(0, 1)], Fraction(-4))
    assert [(one.beat, one.length) for one in found] == [(-4, 1), (-4, 1), (0, 1)]
