"""What a browser draws is the chart's: its form to its length, its chords as they are set, its key when it is moved."""

from __future__ import annotations

from dataclasses import replace as replace_fields
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from msgspec.structs import replace

from companion.chart.model import WrittenNote, WrittenPart
from companion.music.pitch import pitch_in_key
from companion.page.drawing import chart_of, form_drawn, systems_drawn, tune_in_short, voicings_drawn
from companion.page.outgoing import OnTheStand
from tests.page.conftest import on_the_stand

if TYPE_CHECKING:
    from companion.chart.model import Chart
    from tests.conftest import Stand


def test_the_form_is_drawn_to_its_length_with_introduction_and_ending(ferry_on_the_stand: OnTheStand) -> None:
    form = form_drawn(ferry_on_the_stand)
    spans = [(s["name"], s["start"], s["end"]) for s in form["sections"]]
    assert spans[:3] == [("introduction", -16.0, 0.0), ("A1", 0.0, 32.0), ("A2", 32.0, 64.0)]
    assert [name for name, *_ in spans] == ["introduction", "A1", "A2", "B", "A2", "ending"]
    assert [one["event"] for one in form["plan"]] == ["introduction", "head", "solos", "solos", "head", "ending"]
    assert (form["key"], form["metre"]["text"], form["counted"]["sign"]) == ("G minor", "4/4", "♩")


def test_a_chord_symbol_comes_in_the_pieces_in_which_it_is_set(stand: Stand) -> None:
    chart = stand.chart(("| Bbm7b5 | C7/Bb | N.C. | F#maj7 |", "| C8 | C8 | z8 | C8 |"))
    chords = [(c["root"], c["rest"], c["bass"]) for c in form_drawn(on_the_stand(chart))["chords"]]
    assert chords == [("B♭", "m7♭5", ""), ("C", "7", "B♭"), ("N.C.", "", ""), ("F♯", "maj7", "")]


@pytest.mark.parametrize(
    ("metre", "bar", "sign", "quarters"), [("6/8", "C6", "♩.", 1.5), ("2/2", "C8", "𝅗𝅥", 2.0), ("3/4", "C6", "♩", 1.0)]
)
def test_the_tempo_is_given_in_the_note_value_that_is_counted(
    metre: str, bar: str, sign: str, quarters: float, stand: Stand
) -> None:
    """Common practice: a dotted quarter in 6/8, a half in 2/2."""
    chart = stand.chart(("| C | F |", f"| {bar} | {bar} |"), metre=metre)
    counted = form_drawn(on_the_stand(chart))["counted"]
    assert (counted["sign"], counted["quarters"]) == (sign, quarters)


def test_in_another_key_all_of_it_is(ferry_on_the_stand: OnTheStand) -> None:
    form = form_drawn(ferry_on_the_stand, "C minor")
    assert form["key"] == "C minor"
    assert next(c for c in form["chords"] if c["start"] == 0)["root"] == "C"


def test_systems_hold_every_bar_and_each_has_its_element_in_the_drawing(ferry: Chart) -> None:
    pytest.importorskip("verovio")
    rows = systems_drawn(on_the_stand(ferry), 90.0)
    bars = [bar for row in rows for bar in row["bars"]]
    assert [bar["number"] for bar in bars] == list(range(33))  # the pickup, and 32 bars
    for row in rows:
        for bar in row["bars"]:
            assert f'id="{bar["element"]}"' in row["svg"]


def test_the_first_time_through_is_drawn_unless_another_is_meant(stand: Stand) -> None:
    pytest.importorskip("verovio")
    tune = on_the_stand(stand.tune())
    first, second = (systems_drawn(tune, 90.0, chorus=chorus) for chorus in (1, 2))
    assert systems_drawn(tune, 90.0) == first != second
    first, second = (voicings_drawn(tune, chorus=chorus) for chorus in (1, 2))
    assert voicings_drawn(tune) == first != second


def test_a_voicing_is_drawn_for_the_chord_that_it_voices(ferry: Chart) -> None:
    pytest.importorskip("verovio")
    voicings = voicings_drawn(on_the_stand(ferry))
    symbols = {float(span.start): span.chord for span in ferry.unfold().chords}
    found = [one["start"] for one in voicings]
    assert found == sorted(found) and set(found) <= set(symbols)
    voiced = {symbols[start] for start in found}
    assert set(found) == {start for start, chord in symbols.items() if chord in voiced}
    assert len(found) > 0.9 * len(symbols)
    assert all(one["svg"].startswith("<svg") and 2 <= len(one["notes"].split()) <= 5 for one in voicings)


def test_what_is_treated_otherwise_since_it_began_is_drawn_so(ferry_on_the_stand: OnTheStand) -> None:
    since = replace(ferry_on_the_stand, treated=(("B", "pedal"),))
    assert form_drawn(since)["treated"]["B"] == "pedal" != form_drawn(ferry_on_the_stand)["treated"]["B"]
    own = {one.name: one.treatment for one in chart_of(ferry_on_the_stand).sections}
    assert {one.name: one.treatment for one in chart_of(since, event="head").sections} == {**own, "B": "pedal"}
    solos = chart_of(since, event="solos")
    (by_event,) = {one.treatment for one in chart_of(ferry_on_the_stand).events if one.kind == "solos"}
    assert {one.name: one.treatment for one in solos.sections} == {**dict.fromkeys(own, by_event), "B": "pedal"}
    assert not any(one.treatment for one in solos.events)


@pytest.fixture
def six(stand: Stand) -> Chart:
    """Ten bars in three sections, of which the first comes again."""
    first = ("| Bbm7b5 | C7/Bb | N.C. | F#maj7 |", "| C8 | C8 | z8 | C8 |")
    return stand.chart(first, ("| C | F |", "| C8 | C8 |"), tempo=96, composer="Somebody", form="A B A")


def test_a_tune_without_an_order_is_drawn_as_its_form(six: Chart) -> None:
    form = form_drawn(on_the_stand(six))
    assert (form["title"], form["composer"], form["key"]) == ("Ten to Ten", "Somebody", "C major")
    assert (form["metre"], form["tempo"]) == ({"text": "4/4", "bar": 4.0, "pulse": 1.0}, 96.0)
    assert (form["length"], form["bars"]) == (40.0, [4.0 * bar for bar in range(10)])
    assert form["sections"] == [
        {"name": "A", "start": 0.0, "end": 16.0},
        {"name": "B", "start": 16.0, "end": 24.0},
        {"name": "A", "start": 24.0, "end": 40.0},
    ]
    assert form["plan"] == [] and [(one["start"], one["end"]) for one in form["chords"]] == [
        (4.0 * bar, 4.0 * bar + 4) for bar in range(10)
    ]


def test_an_order_adds_its_chords_before_and_after_the_form(ferry: Chart, ferry_on_the_stand: OnTheStand) -> None:
    form = form_drawn(ferry_on_the_stand)
    chords = [(one["start"], one["end"]) for one in form["chords"]]
    assert chords == sorted(chords) and chords[0][0] == -16.0, "four bars of introduction"
    assert chords[-1][1] == form["sections"][-1]["end"] > form["length"] == 128.0
    assert form_drawn(on_the_stand(ferry))["chords"] == [
        one for one in form["chords"] if 0 <= one["start"] < form["length"]
    ]
    assert [one["chorus"] for one in form["plan"]][:3] == [1, 1, 2]


@pytest.mark.parametrize(("metre", "bar", "tempo"), [("4/4", "C8", 90), ("6/8", "C6", 60), ("2/2", "C8", 45)])
def test_one_chooses_a_tune_by_the_tempo_that_is_counted(stand: Stand, metre: str, bar: str, tempo: int) -> None:
    chart = stand.chart(("| Bb | F |", f"| {bar} | {bar} |"), metre=metre, tempo=90, key="Bb")
    told = tune_in_short(chart)
    assert (told["tempo"], told["metre"], told["bars"], told["key"]) == (tempo, metre, 2, "B♭ major")
    assert told["melody"] and not tune_in_short(stand.chart(("| C |", "")))["melody"]


def test_a_chord_that_comes_early_is_the_new_chords_voicing(stand: Stand) -> None:
    """Written chords: on the first beat, then half a beat before the second bar; and nothing over the third."""
    pytest.importorskip("verovio")
    chart = stand.chart(("| Cmaj7 | F7 | Cmaj7 |", "| z8 | z8 | z8 |"))

    def struck(beat: Fraction, *keys: int) -> list[WrittenNote]:
        return [WrittenNote(beat, Fraction(1, 2), pitch_in_key(midi, -3)) for midi in keys]

    notes = [*struck(Fraction(0), 64, 67, 71), *struck(Fraction(1), 64, 71)]
    notes += [*struck(Fraction(3), 64, 67), *struck(Fraction(7, 2), 63, 69)]  # the last beat is the old chord's still
    written = WrittenPart("chords", frozenset({1, 2, 3}), tuple(notes))
    drawn = voicings_drawn(on_the_stand(replace_fields(chart, written=(written,))))
    assert [(one["start"], one["notes"]) for one in drawn] == [
        (0.0, "E4 G4 B4"),
        (4.0, "E♭4 A4"),
        (8.0, "E4 G4 B4"),
    ]


def test_one_treatment_for_the_whole_tune_rules_until_another_is_asked_for(six: Chart) -> None:
    pytest.importorskip("verovio")
    whole = replace(on_the_stand(six), treatment="shells")
    since = replace(whole, treated=(("B", "block"),))
    assert form_drawn(whole)["treated"] == {"A": "shells", "B": "shells"}
    assert form_drawn(since)["treated"] == {"A": "shells", "B": "block"}

    def by_section(treatments: dict[str, str]) -> OnTheStand:
        sections = tuple(replace_fields(one, treatment=treatments[one.name]) for one in six.sections)
        return on_the_stand(replace_fields(six, sections=sections))

    shells, both = by_section({"A": "shells", "B": "shells"}), by_section({"A": "shells", "B": "block"})
    assert voicings_drawn(whole) == voicings_drawn(shells) != voicings_drawn(on_the_stand(six))
    assert voicings_drawn(since) == voicings_drawn(both) != voicings_drawn(shells)
