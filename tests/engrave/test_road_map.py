"""How a page leads through the tune: signs and words (common practice), and small notes that lead back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.arrange.events import Stretch
from companion.arrange.part import Note
from companion.chart.model import Chart, ChordSpan, Section
from companion.chart.written import BarMarks
from companion.engrave.road_map import SMALL_NOTES, with_road_map
from companion.engrave.sheet import Bar, Sheet, Voice
from companion.engrave.values import VoiceSpan, write_bar
from companion.messages import EventKind
from companion.music.chords import parse_chord
from companion.music.meter import Metre
from companion.music.pitch import Pitch

FORM = Chart(
    "Four Bars",
    (Section("A", (Fraction(4),), (ChordSpan(Fraction(0), Fraction(4), parse_chord("C")),), ()),),
    ("A",),
).unfold()
C, D = Pitch("C", 0, 5), Pitch("D", 0, 5)


def tune(
    *kinds: EventKind,
    introduction: int = 0,
    head: int = 4,
    ending: int = 0,
    how: str = "held",
    repeats: Sequence[int] = (),
    lead_in: Sequence[Note] = (),
    last_bars: int = 1,
    staves: tuple[int, ...] = (1,),
) -> tuple[Bar, ...]:
    """The bars of a page, each with a whole note; ``repeats``: bars of the head that end a repeat."""
    bars = []
    for number in range(1 - introduction, head + ending + 1):
        heading = {1 - introduction: "Introduction", 1: "A", head + 1: "Ending"}.get(number)
        heads = write_bar([VoiceSpan(Fraction(0), Fraction(4), (C,))], Fraction(4), Metre())
        marks = BarMarks(repeat_end=2 * (number in repeats))
        bars.append(Bar(number, Fraction(4), Metre(), (Voice(1, 1, heads),), heading=heading, marks=marks, double=True))
    sheet = Sheet("Four Bars", None, Metre(), 0, False, 120.0, "swing", staves, tuple(bars))
    return with_road_map(sheet, stretches(*kinds, how=how), lead_in, last_bars).bars


def stretches(*kinds: EventKind, how: str = "held") -> list[Stretch]:
    return [Stretch(kind, 1, Fraction(0), FORM, how=how) for kind in kinds]


def signs(bars: Sequence[Bar]) -> dict[int, str]:
    """What stands at each bar, by its number."""
    found = {}
    for bar in bars:
        m = bar.marks
        words = ["|:" * m.repeat_start, "segno" * m.segno, "coda" * m.coda, bar.manner, bar.words]
        words += ["to coda" * m.to_coda, "fine" * m.fine, f"{m.jump} al {m.until}" * bool(m.jump)]
        words += ["with repeats" * bar.with_repeats, "again" * m.repeat_after_jump, "held" * bar.fermata]
        words += [f"{m.repeat_end}x:|" * bool(m.repeat_end), "single" * (not bar.double)]
        if any(words):
            found[bar.number] = ", ".join(filter(None, words))
    return found


@pytest.mark.parametrize(
    ("kinds", "more", "expected"),
    [
        (("head",), {}, {}),
        (("head", "head"), {}, {1: "|:", 4: "2x:|, single"}),
        (("head", "solos", "head"), {}, {1: "|:", 4: "Head, solos, head, 3x:|, single"}),
        (("introduction", "head", "solos"), {"introduction": 2}, {1: "|:", 4: "Head, solos, 2x:|, single"}),
        (
            ("head", "solos", "solos", "head", "head", "ending"),
            {"ending": 2},
            {1: "|:", 4: "Head, solos 2×, head 2×, 5x:|, single", 6: "held"},
        ),
        (("solos", "solos"), {}, {1: "|:", 4: "Solos 2×, 2x:|, single"}),
        (
            ("head", "solos", "head"),
            {"repeats": (2,)},
            {2: "again, 2x:|", 4: "Solos, fine, capo al fine, with repeats"},
        ),
        (
            ("head", "solos", "solos", "head", "ending"),
            {"repeats": (2, 4), "ending": 2, "introduction": 1},
            {1: "segno", 2: "again, 2x:|", 4: "Solos 2×, to coda, segno al coda, with repeats, again, 2x:|",
             5: "coda", 6: "held"},
        ),
        (("head", "head"), {"repeats": (2,)}, {2: "again, 2x:|", 4: "fine, capo al fine, with repeats"}),
        (("head", "solos"), {"repeats": (2,)}, {2: "2x:|", 4: "Solos"}),
    ],
)  # fmt: skip
def test_repeats_lead_through_the_tune_or_a_leap_where_there_are_some_inside(
    kinds: tuple[EventKind, ...], more: dict[str, int], expected: dict[int, str]
) -> None:
    assert signs(tune(*kinds, **more)) == expected  # type: ignore[arg-type]


def test_the_coda_is_called_so_and_a_page_without_events_stays_as_it_is() -> None:
    assert [bar.heading for bar in tune("head", "solos", "head", "ending", repeats=(2,), ending=1)][-1] == "Coda"
    assert [bar.heading for bar in tune("head", "solos", "head", "ending", ending=1)][-1] == "Ending"
    assert signs(tune()) == {}


@pytest.mark.parametrize(
    ("how", "head", "ending", "last_bars", "said"),
    [
        ("held", 4, 2, 1, {}),
        ("tag", 4, 2, 1, {4: "rit. the last time"}),  # two bars before the last one
        ("tag", 4, 3, 1, {5: "rit."}),
        ("tag", 4, 4, 2, {5: "rit."}),
        ("tag", 4, 4, 1, {6: "rit."}),
        ("ritardando", 3, 2, 1, {1: "rit. the last time"}),
        ("ritardando", 2, 2, 1, {}),  # it would begin before the page
    ],
)
def test_an_ending_slows_down_some_bars_before_its_last_chord(
    how: str, head: int, ending: int, last_bars: int, said: dict[int, str]
) -> None:
    """As shipped: a tag two bars, a ritardando four, a held chord none."""
    bars = tune("head", "head", "ending", head=head, ending=ending, how=how, last_bars=last_bars)
    assert {bar.number: bar.manner for bar in bars if bar.manner} == said
    once = tune("head", "ending", head=head, ending=ending, how=how, last_bars=last_bars)
    assert {bar.number: bar.manner for bar in once if bar.manner} == dict.fromkeys(said, "rit.")
    assert [bar.number for bar in bars if bar.fermata] == [head + ending]


def lead(*notes: tuple[float, float]) -> list[Note]:
    """Notes of the melody by beat and length."""
    return [Note(Fraction(beat), Fraction(length), D, "melody") for beat, length in notes]


def melody(bar: Bar) -> str:
    """Its heads: letter or rest, start; ``~`` before one tied back and after one tied on, in brackets if small."""
    words = []
    for head in bar.voices[0].heads:
        word = (head.pitches[0].step.lower() if head.pitches else "r") + str(head.start)
        word = "~" * head.tied_back + word + "~" * head.tied_on
        words.append(f"({word})" if head.small else word)
    return " ".join(words)


@pytest.mark.parametrize(
    ("notes", "written"),
    [
        (lead((-1, 1)), ["c0", "c0", "c0", "c0 (d3)"]),
        (lead((-1, 0.5), (-0.5, 0.5), (0, 4)), ["c0", "c0", "c0", "c0 (d3) (d7/2)"]),
        (lead((-4, 4)), ["c0", "c0", "c0", "(d0)"]),
        (lead((-5, 1), (-4, 4)), ["c0", "c0", "c0 (d3)", "(d0)"]),
        (lead((-5, 2), (-3, 3)), ["c0", "c0", "c0 (d3~)", "(~d0) (d1~) (~d2)"]),
        (lead((-2, 3)), ["c0", "c0", "c0", "c0 (d2)"]),  # it goes on into the head, which is written there
        (lead((-9, 9)), ["c0", "c0 (d3~)", "(~d0~)", "(~d0)"]),
    ],
)
def test_what_leads_into_the_head_takes_the_place_of_what_is_held_there(notes: list[Note], written: list[str]) -> None:
    bars = tune("head", "head", lead_in=notes)
    assert [melody(bar) for bar in bars] == written
    assert bars[-1].words == SMALL_NOTES
    assert tune("head", "solos", lead_in=notes)[-1].words == f"Head, solos; {SMALL_NOTES}"


def test_small_notes_stand_before_the_ending_and_only_where_one_goes_back() -> None:
    bars = tune("head", "head", "ending", ending=2, lead_in=lead((-1, 1)))
    assert [melody(bar) for bar in bars] == ["c0", "c0", "c0", "c0 (d3)", "c0", "c0"]
    for more in ({"lead_in": lead((-1, 1)), "staves": (2,)}, {"lead_in": lead((0, 1))}, {}):
        assert [melody(bar) for bar in tune("head", "head", **more)] == ["c0"] * 4  # type: ignore[arg-type]
        assert tune("head", "head", **more)[-1].words == ""  # type: ignore[arg-type]
    assert [melody(bar) for bar in tune("head", lead_in=lead((-1, 1)))] == ["c0"] * 4


def test_a_note_held_from_before_ends_where_the_small_ones_begin_and_one_held_on_keeps_them_off() -> None:
    plain = tune("head", "head")
    sheet = Sheet("Four Bars", None, Metre(), 0, False, 120.0, "swing", (1, 2), plain)

    def led(*voices: Voice) -> Bar:
        bars = (*plain[:-1], replace(plain[-1], voices=voices))
        return with_road_map(replace(sheet, bars=bars), stretches("head", "head"), lead((-1, 1)), 0).bars[-1]

    span = VoiceSpan(Fraction(0), Fraction(4), (C,))
    upper = Voice(1, 1, write_bar([replace(span, tied_back=True)], Fraction(4), Metre()))
    chord = Voice(1, 2, upper.heads)
    rest, bass = (Voice(staff, number, write_bar([], Fraction(4), Metre())) for staff, number in ((1, 2), (2, 6)))
    assert melody(led(upper, chord, bass)) == "~c0 (d3)"
    assert [voice.number for voice in led(upper, chord, bass).voices] == [1, 2, 6]
    assert [voice.number for voice in led(upper, rest, bass).voices] == [1, 6], "no rests beside it"
    on = Voice(1, 1, write_bar([replace(span, tied_on=True)], Fraction(4), Metre()))
    assert melody(led(on)) == "c0~" and SMALL_NOTES not in led(on).words
