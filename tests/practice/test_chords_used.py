"""Which shapes and rhythms a take shows: of players with known ones, in time and swung, with slips and bad habits."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.messages import Heard
from companion.practice.alignment import Alignment, align
from companion.practice.chords_used import TakeUses, chord_uses
from companion.practice.judging import JudgedNote
from companion.practice.sweeps import Sweep
from companion.stage.settings import Settings
from tests.practice.compers import START, Shapes, comped

TEMPO, LENGTH = 120.0, 32.0
THIRD = {"m7": ["b3 5 b7 9"], "7": ["3 13 b7 9"], "maj7": ["3 5 7 9"]}
"""Levine, The Jazz Piano Book, 1989 (from memory)."""


def chart(key: str = "C major", bars: str = "Dm7 | G7 | Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | Cmaj7") -> Chart:
    return parse_toml(
        f'format = 1\ntitle = "Row of Pots"\nkey = "{key}"\nform = "A"\n[section.A]\nchords = "| {bars} |"\n'
    )


def laid(heard: Sequence[Heard], choruses: int = 1) -> Alignment:
    """What was comped, laid on the chart by the click that it was played to."""
    notes = []
    for event in heard:
        if event.is_note_on:
            at = (event.seconds - START) * TEMPO / 60
            chorus = 1 + int(max(at + 0.25, 0.0) // LENGTH)
            within = at - (chorus - 1) * LENGTH
            notes.append(JudgedNote("right", within, None, event.data1, event.seconds, None, "chords", chorus=chorus))
    whole = LENGTH * choruses
    sweep = Sweep(-1.0, whole, ((-1.0, START - 60 / TEMPO), (whole, START + whole * 60 / TEMPO)))
    return Alignment((tuple(notes),), (sweep,), ())


def shown(shapes: Shapes, places: Sequence[float] = (0.0, 2.0), *, of: Chart | None = None, **how: float) -> TakeUses:
    tune = of or chart()
    choruses = int(how.get("choruses", 1))
    heard = comped(tune, shapes, places, **how)  # type: ignore[arg-type]
    return chord_uses(tune.unfold(), laid(heard, choruses), heard)


def test_each_shape_is_counted_under_its_kind_with_its_top_notes() -> None:
    found = shown(THIRD)
    assert {key: len(tops) for key, tops in found.shapes.items()} == {
        ("m7", "b3 5 b7 9", 0): 6,
        ("7", "3 13 b7 9", 0): 4,
        ("maj7", "3 5 7 9", 0): 6,
    }
    assert set(found.shapes["7", "3 13 b7 9", 0]) == {69}


def test_a_shape_is_the_same_in_every_key() -> None:
    flat = chart("Gb major", "Abm7 | Db7 | Gbmaj7 | Ebm7 | Abm7 | Db7 | Gbmaj7 | Gbmaj7")
    assert shown(THIRD, of=flat).shapes.keys() == shown(THIRD).shapes.keys()


@pytest.mark.parametrize("swung", [0.5, 0.6, 0.67])
def test_a_rhythm_is_written_as_it_was_meant_however_it_swings(swung: float) -> None:
    found = shown(THIRD, (0.0, 1.5), swung=swung, choruses=2)
    assert {key: len(rows) for key, rows in found.rhythms.items()} == {("4/4", "swing", (0.0, 1.5)): 16}


def test_a_chord_is_held_as_long_as_its_keys() -> None:
    assert set(shown(THIRD, (1.0,), held=2.1).rhythms["4/4", "swing", (1.0,)]) == {(2.0,)}
    assert set(shown(THIRD, (0.0, 2.0), held=1.6).rhythms["4/4", "swing", (0.0, 2.0)]) == {(1.5, 1.5)}


def test_a_chord_on_the_quaver_before_the_bar_belongs_to_the_bar_that_it_reaches() -> None:
    found = shown(THIRD, (-0.5, 2.0), swung=0.6, choruses=2)
    assert max(found.rhythms, key=lambda key: len(found.rhythms[key])) == ("4/4", "swing", (-0.5, 2.0))


def test_bad_habits_are_no_habits() -> None:
    """The root doubled in the right hand over somebody's bass, the fourth over a major third, no third at all."""
    bad = {"m7": ["1 b3 5 b7"], "maj7": ["11 5 7 9"], "7": ["5 b7 9"]}
    assert shown(bad).shapes == {}


def test_a_slip_among_right_chords_is_left_out() -> None:
    tune = chart()
    heard = comped(tune, THIRD)
    slipped = [
        Heard(one.seconds, one.status, one.data1 + 1 if n in (2, 3) else one.data1, one.data2)
        for n, one in enumerate(heard)
    ]
    counts = {key: len(tops) for key, tops in chord_uses(tune.unfold(), laid(slipped), slipped).shapes.items()}
    assert sum(counts.values()) <= 16 and counts.keys() == shown(THIRD).shapes.keys()


def test_chords_that_the_chart_has_note_for_note_are_no_choice() -> None:
    from companion.arrange.writing import write_arrangement

    tune = write_arrangement(chart(), parts=("chords",))
    found = chord_uses(tune.unfold(), laid(comped(tune, THIRD)))
    assert found.shapes == {} and found.rhythms == {}


def test_nothing_played_shows_nothing() -> None:
    assert chord_uses(chart().unfold(), Alignment((), (), ())).empty


def test_a_whole_take_is_laid_on_its_chart_and_shows_the_same() -> None:
    tune = chart(bars="Dm7 | G7 | Cmaj7 | Am7")
    heard = comped(tune, THIRD, (0.0, 1.5), swung=0.62)
    settings = Settings(you=frozenset({"chords"}), tempo=TEMPO, start=START)
    found = chord_uses(tune.unfold(), align(tune, settings, heard), heard)
    assert {key: len(tops) for key, tops in found.shapes.items()} == {
        ("m7", "b3 5 b7 9", 0): 4,
        ("7", "3 13 b7 9", 0): 2,
        ("maj7", "3 5 7 9", 0): 2,
    }
    assert ("4/4", "swing", (0.0, 1.5)) in found.rhythms
