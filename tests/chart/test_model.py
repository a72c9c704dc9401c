"""From sections to the form: pickups laid over what is there, chords without gaps."""

# ruff: noqa: E501 (rows stand whole in the tables)

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.chart.model import MOST_BARS, Chart, ChordSpan, Event, Section, WrittenNote, WrittenPart
from companion.chart.toml.read import parse_toml
from companion.errors import ChartError
from companion.music.chords import NO_CHORD, parse_chord
from companion.music.meter import Metre
from companion.music.pitch import Pitch

TWO = """format = 1
form = "A B A"
[section.A]
treatment = "walking"
chords = "| C | F |"
melody = "G2 | c8 | d4 e4 |"
[section.B]
treatment = "sparse"
chords = "| . . G7 . | C |"
melody = "e2 f2 | g8 | z4 a4- | a4"
"""


def chart() -> Chart:
    return parse_toml(TWO)


def test_the_same_chart_read_again_is_the_very_same_form() -> None:
    assert chart().unfold() is chart().unfold()
    assert replace(chart(), tempo=90.0).unfold() is not chart().unfold()


def test_a_chart_is_laid_out_once_however_often_its_form_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who plays and judges a round asks at every note."""
    tune = chart()
    form = tune.unfold()
    monkeypatch.delattr("companion.chart.model._unfolded")
    assert tune.unfold() is form


@pytest.mark.parametrize("third", [Fraction(1, 3), Fraction(2, 3)])
def test_a_bar_begins_on_its_first_beat_and_not_a_triplet_before(third: Fraction) -> None:
    form = chart().unfold()
    starts = [(bar, n) for n, bar in enumerate(form.bars, 1)]
    assert [form.bar_at(bar) for bar, _ in starts] == [n for _, n in starts]
    assert [form.bar_at(bar - third) for bar, _ in starts] == [n - 1 or len(starts) for _, n in starts]
    assert [form.bar_at(bar + 3 * form.length + third) for bar, _ in starts] == [n for _, n in starts]


def test_the_first_pickup_lies_below_zero() -> None:
    form = chart().unfold()
    assert (form.melody[0].beat, form.pickup) == (-1, 1)


def test_a_pickup_takes_the_place_of_what_stands_in_the_bar_before() -> None:
    form = chart().unfold()
    around = [(float(n.beat), float(n.length), str(n.pitch)) for n in form.melody if 4 <= n.beat < 9]
    # The e of section A gives way to the pickup of section B.
    assert around == [(4, 2, "D5"), (6, 1, "E5"), (7, 1, "F5"), (8, 4, "G5")]


def test_a_note_held_into_a_pickup_is_cut_where_it_begins() -> None:
    text = TWO.replace("d4 e4", "d8")
    around = [(float(n.beat), float(n.length)) for n in parse_toml(text).unfold().melody if 4 <= n.beat < 8]
    assert around == [(4, 2), (6, 1), (7, 1)]


def test_a_note_tied_over_a_section_sounds_until_the_next_note() -> None:
    form = chart().unfold()
    end = [(float(n.beat), float(n.length), str(n.pitch)) for n in form.melody if 14 <= n.beat < 16]
    assert end == [(14, 1, "A5"), (15, 1, "G4")]  # the pickup to the last A comes in
    alone = parse_toml(TWO.replace('"A B A"', '"A B"')).unfold()
    assert (alone.melody[-1].beat, alone.melody[-1].length) == (14, 4)


def test_chords_cover_the_whole_form_and_no_chord_fills_the_gaps() -> None:
    form = chart().unfold()
    spans = form.chords
    assert (spans[0].start, spans[-1].end, form.length) == (0, 24, 24)
    assert all(a.end == b.start for a, b in pairwise(spans))
    assert [s.chord for s in spans if 8 <= s.start < 10] == [NO_CHORD]


def test_every_bar_and_section_has_its_place() -> None:
    form = chart().unfold()
    assert form.bars == tuple(Fraction(4 * k) for k in range(6))
    assert [(p.name, p.start, p.end, p.treatment) for p in form.sections] == [
        ("A", 0, 8, "walking"), ("B", 8, 16, "sparse"), ("A", 16, 24, "walking"),
    ]  # fmt: skip
    assert (form.bar_at(0), form.bar_at(Fraction(15, 2)), form.bar_at(24)) == (1, 2, 1)


def test_a_form_that_names_no_section_is_refused() -> None:
    with pytest.raises(ChartError, match="names a section 'Z'"):
        Chart("x", chart().sections, ("A", "Z")).unfold()


def test_a_form_without_end_is_refused() -> None:
    with pytest.raises(ChartError, match="more than 2000 bars"):
        parse_toml(
            TWO.replace('"A B A"', '"' + "A " * 900 + '"')
            .replace("| C | F |", "| C | F |" + " C |" * 5)
            .replace("| d4 e4 |", "| d4 e4 | Z5 |")
        ).unfold()


def test_places_in_the_form_are_found_by_beat_over_and_over() -> None:
    form = chart().unfold()
    assert [form.section_at(Fraction(beat)).name for beat in (0, 7, 8, 15, 16, 23, 24, 32, -1, -9)] == list(
        "AABBAAABAB"
    )
    assert [form.chord_at(beat).chord.symbol for beat in (0, 3.999, 4, 8, 10, 23, 24, -1, 4 - 1e-12)] == [
        "C", "C", "F", "N.C.", "G7", "F", "C", "F", "F",
    ]  # fmt: skip
    assert [form.bar_at(beat) for beat in (0, 3.5, 4, 23.9, 24, -0.5, 28, Fraction(-9))] == [1, 1, 2, 6, 1, 6, 2, 4]
    assert form.bar_starts == (0, 4, 8, 12, 16, 20)


def test_a_form_says_what_is_written_of_it_and_without_it_is_free() -> None:
    bass = WrittenPart("bass", frozenset({1}), (WrittenNote(Fraction(0), Fraction(1), Pitch("C", 0, 2)),))
    form = replace(chart(), written=(bass,)).unfold()
    assert form.written_part("bass") is bass and form.written_part("chords") is None
    assert form.free.written == () and form.free.free is form.free and chart().unfold().free is chart().unfold()
    note = bass.notes[0]
    assert (note.hand, note.voice, note.weight, note.pedal) == ("right", 1, 1.0, False)


def test_forms_that_differ_in_anything_that_is_heard_are_told_apart() -> None:
    one = chart()
    others = [replace(one, **{name: value}) for name, value in (
        ("fifths", 1), ("minor", True), ("tempo", 90.0), ("feel", "straight"), ("metre", Metre(2, 2)),
    )]  # fmt: skip
    forms = [one.unfold(), *(other.unfold() for other in others)]
    assert len({hash(form) for form in forms}) == len(forms) == len({id(form) for form in forms})


def test_a_chart_leaves_out_what_is_usual() -> None:
    bare = Chart("Lid", chart().sections, ("A",))
    assert (bare.metre, bare.fifths, bare.minor, bare.tempo, bare.feel) == (Metre(4, 4), 0, False, 120.0, "swing")
    assert (bare.composer, bare.events, bare.written, bare.source) == (None, (), (), None)
    assert Event("head") == Event("head", 1, None, None, None)


def test_without_a_pickup_the_form_begins_on_its_first_beat() -> None:
    late = parse_toml('format = 1\n[section.A]\nchords = "| C |"\nmelody = "| z4 c4 |"').unfold()
    assert (late.pickup, late.melody[0].beat) == (0, 2)
    assert parse_toml('format = 1\n[section.A]\nchords = "| C |"').unfold().pickup == 0


@pytest.mark.parametrize(
    ("spans", "filled"),
    [
        ([], [(0, 8, "N.C.")]), ([(0, 8, "C")], [(0, 8, "C")]), ([(2, 4, "C")], [(0, 2, "N.C."), (2, 4, "C"), (4, 8, "N.C.")]),
        ([(0, 4, "C"), (4, 8, "F")], [(0, 4, "C"), (4, 8, "F")]), ([(-2, 4, "C"), (6, 12, "F")], [(0, 4, "C"), (4, 6, "N.C."), (6, 8, "F")]),
        ([(0, 9, "C"), (9, 10, "F")], [(0, 8, "C")]),
    ],
)  # fmt: skip
def test_where_no_chord_is_written_there_is_none(
    spans: list[tuple[int, int, str]], filled: list[tuple[int, int, str]]
) -> None:
    chords = tuple(ChordSpan(Fraction(a), Fraction(b), parse_chord(symbol)) for a, b, symbol in spans)
    form = Chart("Lid", (Section("A", (Fraction(4),) * 2, chords),), ("A",)).unfold()
    assert [(s.start, s.end, s.chord.symbol) for s in form.chords] == filled


def test_a_chord_in_a_pickup_takes_the_place_of_what_the_section_before_ends_with() -> None:
    def section(name: str, *spans: tuple[int, int, str]) -> Section:
        chords = tuple(ChordSpan(Fraction(a), Fraction(b), parse_chord(symbol)) for a, b, symbol in spans)
        return Section(name, (Fraction(4),), chords)

    tune = Chart("Lid", (section("A", (0, 3, "C"), (3, 4, "F")), section("B", (-2, 4, "G"))), ("A", "B"))
    assert [(s.start, s.end, s.chord.symbol) for s in tune.unfold().chords] == [(0, 2, "C"), (2, 8, "G")]
    tune = Chart("Lid", (section("A", (0, 1, "D"), (1, 3, "C"), (3, 4, "F")), section("B", (-2, 4, "G"))), ("A", "B"))
    assert [(s.start, s.end, s.chord.symbol) for s in tune.unfold().chords] == [(0, 1, "D"), (1, 2, "C"), (2, 8, "G")]


def test_a_form_of_two_thousand_bars_is_a_tune_and_one_bar_more_is_none() -> None:
    bar = Section("A", (Fraction(1),) * 1000)
    assert len(Chart("Lid", (bar,), ("A", "A")).unfold().bars) == MOST_BARS == 2000
    with pytest.raises(ChartError, match=r"^lid\.toml: form: the form has more than 2000 bars$"):
        Chart("Lid", (bar, Section("B", (Fraction(1),))), ("A", "A", "B"), source="lid.toml").unfold()
    assert Section("A", (Fraction(4), Fraction(5, 2))).length == Fraction(13, 2)
    assert Chart("Lid", (Section("A", (Fraction(1, 2),)),), ("A",)).unfold().length == Fraction(1, 2)
    with pytest.raises(ChartError, match="form: the form has no bar to play"):
        Chart("Lid", (Section("A", ()),), ("A",)).unfold()
