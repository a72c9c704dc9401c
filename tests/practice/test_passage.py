"""A passage: the bars of the tune as they are, with their way in, and the companion's part as it is in its place."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.errors import UseError
from companion.load import load
from companion.practice.passage import (
    Arranged,
    arranged_chart,
    check_bars,
    companion_parts,
    passage,
    roots_alone,
    section_bars,
)
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences
from companion.resources import chart_path

PLAIN = """
format = 1
title = "Four Plain Bars"
key = "C major"
tempo = 100
form = "A B"

[section.A]
chords = "| C6      | Am7     |"
melody = "G2 | c4 d4 | e8    |"

[section.B]
chords = "| Dm7 G7  | C6      |"
melody = "f4 d4   | c8      |"
"""


@pytest.fixture(scope="module")
def plain() -> Chart:
    return parse_toml(PLAIN)


def test_the_bar_before_is_the_way_in(plain: Chart) -> None:
    cut = passage(plain, 3, 4)
    form = cut.chart.unfold()
    assert (cut.bars, cut.start, cut.way_in, cut.length, form.length) == ((3, 4), 4, 4, 8, 12)
    assert (form.melody[0].beat, form.melody[0].pitch.midi) == (0, 76)
    assert [span.chord.symbol for span in form.chords] == ["Am7", "Dm7", "G7", "C6"]


def test_before_the_first_bar_there_is_its_pickup_alone(plain: Chart) -> None:
    cut = passage(plain, 1, 2)
    assert (cut.start, cut.way_in) == (0, 0)
    assert cut.chart.unfold().pickup == plain.unfold().pickup > 0


def test_bars_that_there_are_not_are_named(plain: Chart) -> None:
    with pytest.raises(UseError, match=r"no bar 5.*bars 1 to 4"):
        passage(plain, 4, 5)


def test_a_section_is_found_by_its_name_in_any_case(plain: Chart) -> None:
    assert section_bars(plain.unfold(), "b") == (3, 4)
    with pytest.raises(UseError, match=r"no section 'C'.*A, B"):
        section_bars(plain.unfold(), "C")


def test_whoever_solos_leaves_chords_and_bass() -> None:
    assert companion_parts({"solo"}) == {"chords", "bass"}
    assert companion_parts({"melody", "chords"}) == {"bass"}


@pytest.mark.parametrize("name", ["ferry-without-lights", "mill-wheel-at-rest", "lamplight-by-the-yard"])
def test_a_passage_is_the_tune_as_it_is_arranged_in_its_place(name: str) -> None:
    chart = arranged_chart(load(chart_path(name)), Arranged(frozenset({"bass", "chords"})))
    form = chart.unfold()
    bars = len(form.bars)
    for first in range(1, bars, 5):
        cut = passage(chart, first, min(first + 3, bars))
        short = cut.chart.unfold()
        low, high = cut.start, cut.start + short.length

        def inside(beat: Fraction, low: Fraction = low, high: Fraction = high) -> bool:
            return low <= beat < high or (low == 0 and beat < 0)

        assert [(n.beat + low, n.pitch) for n in short.melody] == [
            (n.beat, n.pitch) for n in form.melody if inside(n.beat)
        ]
        for part in short.written:
            whole = form.written_part(part.part)
            assert whole is not None
            assert [(n.beat + low, n.pitch) for n in part.notes] == [
                (n.beat, n.pitch) for n in whole.notes if inside(n.beat)
            ]


def test_roots_alone_are_the_roots_for_as_long_as_each_chord(plain: Chart) -> None:
    bass = roots_alone(plain).unfold().written_part("bass")
    assert bass is not None
    assert [(n.beat, n.length, n.pitch.name.pc) for n in bass.notes] == [
        (0, 4, 0), (4, 4, 9), (8, 2, 2), (10, 2, 7), (12, 4, 0)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("first", "last", "way_in", "start", "before", "length"),
    [
        (1, 1, 0, 0, 0, 4), (1, 1, 1, 0, 0, 4), (1, 4, 2, 0, 0, 16), (2, 2, 0, 4, 0, 4), (2, 2, 1, 0, 4, 4),
        (2, 3, 2, 0, 4, 8), (4, 4, 1, 8, 4, 4), (4, 4, 2, 4, 8, 4), (4, 4, 9, 0, 12, 4),
    ],
)  # fmt: skip
def test_a_passage_has_its_bars_and_as_many_before_them_as_there_are_up_to_the_way_in(
    plain: Chart, first: int, last: int, way_in: int, start: int, before: int, length: int
) -> None:
    cut = passage(plain, first, last, way_in)
    form, whole = cut.chart.unfold(), plain.unfold()
    assert (cut.bars, cut.start, cut.way_in, cut.length) == ((first, last), start, before, length)
    melody = [(note.beat + start, note.pitch) for note in form.melody]
    low = start if start else -whole.pickup
    assert melody == [(note.beat, note.pitch) for note in whole.melody if low <= note.beat < 4 * last]
    assert [(c.start + start, c.end + start) for c in form.chords] == [
        (c.start, c.end) for c in whole.chords if start <= c.start < 4 * last
    ]


@pytest.mark.parametrize(
    ("first", "last", "named"), [(0, 2, 0), (-1, 2, -1), (5, 5, 5), (1, 5, 5), (4, 9, 9), (3, 2, 2)]
)
def test_of_bars_that_there_are_not_the_one_that_is_missing_is_named(
    plain: Chart, first: int, last: int, named: int
) -> None:
    with pytest.raises(UseError, match=rf"no bar {named}\b.*bars 1 to 4"):
        check_bars(plain, first, last)
    check_bars(plain, 1, 4)
    check_bars(plain, 4, 4)


@pytest.mark.parametrize(("name", "bars"), [("A", (1, 2)), ("B", (3, 4)), (" b ", (3, 4)), ("a", (1, 2))])
def test_a_section_goes_from_its_first_bar_to_its_last(plain: Chart, name: str, bars: tuple[int, int]) -> None:
    assert section_bars(plain.unfold(), name) == bars


@pytest.mark.parametrize(
    ("you", "left"),
    [
        ({"melody"}, {"chords", "bass"}), ({"chords"}, {"melody", "bass"}), ({"bass"}, {"melody", "chords"}),
        ({"melody", "bass"}, {"chords"}), ({"melody", "chords", "bass"}, set()), (set(), {"melody", "chords", "bass"}),
        ({"solo", "bass"}, {"chords"}),
    ],
)  # fmt: skip
def test_the_companion_takes_what_the_player_leaves(you: set[str], left: set[str]) -> None:
    assert companion_parts(you) == left


def test_roots_lie_in_the_octave_from_the_lowest_key_of_the_bass(plain: Chart) -> None:
    bass = roots_alone(plain).unfold().written_part("bass")
    low = preferences(BassPreferences).range.lowest
    assert bass is not None and all(low <= note.pitch.midi < low + 12 for note in bass.notes)
    assert bass.bars == {1, 2, 3, 4}


@pytest.mark.parametrize(
    ("parts", "written"),
    [({"bass"}, {"bass"}), ({"chords"}, {"chords"}), ({"bass", "chords", "click"}, {"bass", "chords"}), (set(), set())],
)
def test_the_companions_parts_are_written_in_every_bar(plain: Chart, parts: set[str], written: set[str]) -> None:
    form = arranged_chart(plain, Arranged(frozenset(parts))).unfold()
    assert {part.part: part.bars for part in form.written} == dict.fromkeys(written, frozenset({1, 2, 3, 4}))
    for part in form.written:
        assert {form.bar_at(note.beat) for note in part.notes} == {1, 2, 3, 4}, "from the first to the last"


def test_what_is_written_in_the_chart_stays_but_for_another_treatment(plain: Chart) -> None:
    roots = roots_alone(plain)
    assert arranged_chart(roots, Arranged(frozenset({"bass"}))).written == roots.written
    treated = arranged_chart(roots, Arranged(frozenset({"bass"}), treatment="walking"))
    assert treated.written != roots.written
    two = replace(roots, written=(replace(roots.written[0], bars=frozenset({1, 2}), notes=roots.written[0].notes[:2]),))
    bass = arranged_chart(two, Arranged(frozenset({"bass"}))).unfold().written_part("bass")
    assert bass is not None and bass.bars == {1, 2, 3, 4}
    assert [note.pitch for note in bass.notes if note.beat < 8] == [note.pitch for note in roots.written[0].notes[:2]]


def test_a_tune_is_arranged_in_the_key_that_is_asked_for(plain: Chart) -> None:
    form = arranged_chart(plain, Arranged(frozenset({"bass"}), key=-3)).unfold()
    assert form.fifths == -3
    assert [span.chord.symbol for span in form.chords] == ["Eb6", "Cm7", "Fm7", "Bb7", "Eb6"]


def test_an_arrangement_is_the_charts_own_unless_otherwise_is_asked_for() -> None:
    assert Arranged(frozenset()) == Arranged(frozenset(), treatment=None, seed=0, key=None, style=None)


def test_written_parts_are_cut_to_the_bars_with_what_leads_into_the_first(plain: Chart) -> None:
    """A bass of roots, and a pickup before it; the last note ends with the passage."""
    (bass,) = roots_alone(plain).written
    led = replace(bass, notes=(replace(bass.notes[0], beat=Fraction(-1), length=Fraction(1)), *bass.notes))
    longer = replace(led, bars=frozenset({1, 2, 4}), notes=(*led.notes[:4], replace(led.notes[4], length=Fraction(6))))
    for first, last, way_in, bars, notes in (
        (1, 2, 1, {1, 2}, [(-1, 1), (0, 4), (4, 4)]),
        (2, 3, 1, {1, 2}, [(-1, 1), (0, 4), (4, 4), (8, 2), (10, 2)]),
        (2, 3, 0, {1}, [(0, 4), (4, 2), (6, 2)]),
        (3, 3, 1, {1}, [(0, 4), (4, 2), (6, 2)]),
        (4, 4, 2, {1, 3}, [(0, 4), (4, 2), (6, 6)]),
    ):
        (cut,) = passage(replace(plain, written=(longer,)), first, last, way_in).chart.written
        assert cut.bars == bars, (first, last, way_in)
        assert [(note.beat, note.length) for note in cut.notes] == notes, (first, last, way_in)


def test_a_section_that_comes_again_within_a_passage_has_its_number() -> None:
    again = parse_toml(PLAIN.replace('form = "A B"', 'form = "A B A"'))
    cut = passage(again, 2, 6).chart
    assert cut.form == ("A", "B", "A (3)") == tuple(section.name for section in cut.sections)
    assert [[(c.start, c.end) for c in section.chords] for section in cut.sections] == [
        [(0, 4), (4, 8)], [(0, 2), (2, 4), (4, 8)], [(0, 4), (4, 8)]
    ]  # fmt: skip
    assert [[note.beat for note in section.melody] for section in cut.sections] == [
        [-1, 0, 2, 4],
        [0, 2, 4, 7],
        [0, 2, 4],
    ]
    assert [section.bars for section in cut.sections] == [(4, 4)] * 3


def test_roots_alone_leave_the_other_parts_as_they_are_and_rest_without_a_chord(plain: Chart) -> None:
    chords = arranged_chart(plain, Arranged(frozenset({"chords"}))).written
    both = roots_alone(replace(roots_alone(plain), written=(*chords, *roots_alone(plain).written)))
    assert both.written == (*chords, *roots_alone(plain).written)
    silent = roots_alone(parse_toml(PLAIN.replace("Am7 ", "N.C."))).written[0]
    assert [note.beat for note in silent.notes] == [0, 8, 10, 12]
