"""Which shapes and rhythms a take shows: of players with known ones, in time and swung, with slips and bad habits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.messages import Heard, Part, Round
from companion.practice.alignment import Alignment, align
from companion.practice.chords_used import TakeUses, _place, _until_the_next, chord_uses, uses_of_take
from companion.practice.judging import JudgedNote
from companion.practice.sweeps import Sweep
from companion.stage.settings import Settings
from companion.stage.take import read_take
from tests.practice.compers import START, Shapes, comped, keep

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


# Places and lengths, each by itself

MINOR, DOMINANT, MAJOR = (53, 57, 60, 64), (53, 57, 59, 64), (52, 55, 59, 62)
"""Dm7, G7 and Cmaj7 from the third or the seventh."""
Struck = tuple[float, tuple[int, ...], float]
"""A chord: its beat through the choruses, its keys, and how many quarters it is held."""


def struck(tune: Chart, *chords: Struck, known: bool = True) -> TakeUses:
    """What chords show that are struck at exactly these beats; ``known``: how long they are held."""
    notes, heard = [], []
    for beat, keys, held in chords:
        at = START + beat * 60 / TEMPO
        chorus = 1 + int((beat + 0.25) // LENGTH)
        for key in keys:
            within = beat - (chorus - 1) * LENGTH
            notes.append(JudgedNote("right", within, None, key, at, None, "chords", chorus=chorus))
            heard += [Heard(at, 0x90, key, 64), Heard(at + held * 60 / TEMPO, 0x80, key, 0)]
    sweep = Sweep(-1.0, 80.0, ((-1.0, START - 60 / TEMPO), (80.0, START + 80 * 60 / TEMPO)))
    heard.sort(key=lambda one: (one.seconds, one.status))
    return chord_uses(tune.unfold(), Alignment((tuple(notes),), (sweep,), ()), heard if known else ())


def rhythms(found: TakeUses) -> dict[tuple[float, ...], list[tuple[float, ...]]]:
    return {places: lengths for (_, _, places), lengths in found.rhythms.items()}


@pytest.mark.parametrize(
    ("off", "there"),
    [(0.0, True), (0.16, True), (-0.16, True), (0.18, False), (-0.18, False), (0.34, True), (0.32, False),
     (0.66, True), (0.68, False), (0.82, False), (0.84, True)],
)  # fmt: skip
def test_a_chord_lies_on_a_place_within_a_sixth_of_a_quarter(off: float, there: bool) -> None:
    """On the beat or on the off-beat half; where one lies elsewhere nothing is said of the bar."""
    straight = replace(chart(), feel="straight")
    found = rhythms(struck(straight, (0.0, MINOR, 0.5), (2.0 + off, MINOR, 0.5), (5.0, DOMINANT, 0.5)))
    place = round(2 * (2.0 + off)) / 2
    assert found == ({(0.0, place): [(0.5, 0.5)]} if there else {}) | {(1.0,): [(0.5,)]}


@pytest.mark.parametrize(
    ("held", "length"),
    [(0.1, 0.5), (0.74, 0.5), (0.76, 1.0), (1.3, 1.5), (1.9, 2.0), (3.6, 3.5), (3.9, 4.0), (7.0, 4.0)],
)
def test_chords_last_from_half_a_quarter_to_four_and_by_halves(held: float, length: float) -> None:
    assert rhythms(struck(chart(), (1.0, MINOR, held))) == {(1.0,): [(length,)]}


def test_a_chord_lasts_no_longer_than_to_the_next_and_two_quarters_where_nothing_is_known() -> None:
    three = [(0.0, MINOR, 0.9), (1.0, (65, 69, 72, 76), 3.0), (3.0, MINOR, 2.0)]
    assert rhythms(struck(chart(), *three)) == {(0.0, 1.0, 3.0): [(1.0, 2.0, 2.0)]}
    assert rhythms(struck(chart(), *three, known=False)) == {(0.0, 1.0, 3.0): [(1.0, 2.0, 2.0)]}
    twice = [(0.0, MINOR, 0.5), (2.0, MINOR, 1.5)]
    assert rhythms(struck(chart(), *twice)) == {(0.0, 2.0): [(0.5, 1.5)]}, "each with its own keys"


@pytest.mark.parametrize(
    ("chords", "expected"),
    [
        ([(3.5, DOMINANT, 1.0), (6.0, DOMINANT, 0.5)], {(-0.5, 2.0): [(1.0, 0.5)]}),  # the second bar's
        ([(3.5, MINOR, 1.0)], {(3.5,): [(1.0,)]}),  # this bar's, struck late in it
        ([(3.0, MINOR, 1.0), (4.0, DOMINANT, 1.0)], {(3.0,): [(1.0,)], (0.0,): [(1.0,)]}),
        ([(31.5, MINOR, 1.0), (34.0, MINOR, 0.5)], {(-0.5, 2.0): [(1.0, 0.5)]}),  # of the next time through
        ([(31.5, MAJOR, 1.0)], {(3.5,): [(1.0,)]}),
        ([(31.0, MAJOR, 1.0), (32.0, MINOR, 1.0)], {(3.0,): [(1.0,)], (0.0,): [(1.0,)]}),
        ([(0.0, MINOR, 1.0), (32.0, MINOR, 2.0), (64.0, MINOR, 3.0)], {(0.0,): [(1.0,), (2.0,), (3.0,)]}),
    ],
)
def test_a_chord_belongs_to_the_bar_whose_chord_it_is(
    chords: list[Struck], expected: dict[tuple[float, ...], list[tuple[float, ...]]]
) -> None:
    assert rhythms(struck(chart(), *chords)) == expected


def test_in_a_compound_metre_every_quaver_is_a_place() -> None:
    tune = parse_toml(
        'format = 1\ntitle = "Six"\nkey = "C major"\nmetre = "6/8"\nform = "A"\n[section.A]\n'
        'chords = "| Dm7 | G7 | Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | Cmaj7 |"\n'
    )
    chords = [(0.0, MINOR, 0.5), (1.5, MINOR, 0.5), (2.66, MINOR, 0.5), (3.0, DOMINANT, 1.0), (4.32, DOMINANT, 0.5)]
    assert rhythms(struck(tune, *chords)) == {(0.0, 1.5, 2.5): [(0.5, 0.5, 0.5)]}


def test_whoever_has_the_bass_may_have_the_root() -> None:
    rooted = {"m7": ["1 b3 5 b7"]}
    tune = chart(bars="Dm7 | Dm7 | Dm7 | Dm7 | Dm7 | Dm7 | Dm7 | Dm7")
    heard = comped(tune, rooted)
    assert chord_uses(tune.unfold(), laid(heard), heard).shapes == {}
    own = chord_uses(tune.unfold(), laid(heard), heard, bass=True).shapes
    assert {key[:2]: len(tops) for key, tops in own.items()} == {("m7", "1 b3 5 b7"): 16}


def test_over_another_bass_a_chord_is_not_the_players_choice() -> None:
    tune = chart(bars="Dm7/G | Dm7/G | Dm7/G | Dm7/G | Dm7/G | Dm7/G | Dm7/G | Dm7/G")
    found = shown({"m7": ["b3 5 b7 9"]}, of=tune)
    assert found.shapes == {} and found.rhythms and not found.empty


@pytest.mark.parametrize(("you", "shapes"), [({"chords"}, 1), ({"chords", "bass"}, 1), ({"melody"}, 0), ({"bass"}, 0)])
def test_a_take_shows_something_where_the_player_had_the_chords(tmp_path: Path, you: set[Part], shapes: int) -> None:
    tune = chart(bars="Dm7 | Dm7 | Dm7 | Dm7")
    settings = Settings(you=frozenset(you), parts=("click",), tempo=TEMPO, start=START)
    found = uses_of_take(read_take(keep(tmp_path, "2026-11-01-200000-row", tune, comped(tune, THIRD), settings)))
    assert len(found.shapes) == shapes and found.empty == (not shapes)


@pytest.mark.parametrize(("you", "shapes"), [({"chords"}, 0), ({"chords", "bass"}, 1)])
def test_in_a_take_the_root_is_whose_bass_it_is(tmp_path: Path, you: set[Part], shapes: int) -> None:
    tune = chart(bars="Dm7 | Dm7 | Dm7 | Dm7")
    settings = Settings(you=frozenset(you), parts=("click",), tempo=TEMPO, start=START)
    rooted = comped(tune, {"m7": ["1 b3 5 b7"]})
    found = uses_of_take(read_take(keep(tmp_path, "2026-11-01-200000-row", tune, rooted, settings)))
    assert len(found.shapes) == shapes


def test_a_chord_on_the_quaver_before_the_last_bar_is_of_that_bar() -> None:
    tune = chart(bars="Dm7 | G7 | Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | Dm7")
    found = rhythms(struck(tune, (27.5, MINOR, 1.0), (30.0, MINOR, 0.5)))
    assert found == {(-0.5, 2.0): [(1.0, 0.5)]}


def test_a_drill_shows_nothing(tmp_path: Path) -> None:
    tune = chart(bars="Dm7 | Dm7 | Dm7 | Dm7")
    take = read_take(keep(tmp_path, "2026-11-01-200000-row", tune, comped(tune, THIRD)))
    assert not uses_of_take(take).empty
    one = Round(2.0, 1, 1, 4, ("chords",), "C", 120.0, 1.0, True)
    assert uses_of_take(replace(take, rounds=(one,))).empty


@pytest.mark.parametrize(
    ("beat", "swung", "place"),
    [
        (2.0, 0.5, 2.0), (2.16, 0.5, 2.0), (2.18, 0.5, None), (1.84, 0.5, 2.0), (1.82, 0.5, None),
        (2.62, 0.62, 2.5), (2.46, 0.62, 2.5), (2.44, 0.62, None), (2.78, 0.62, 2.5), (2.8, 0.62, None),
        (2.84, 0.62, 3.0), (-0.4, 0.6, -0.5), (-0.1, 0.6, 0.0),
    ],
)  # fmt: skip
def test_a_place_is_the_beat_or_the_off_beat_as_this_player_swings_it(
    beat: float, swung: float, place: float | None
) -> None:
    assert _place(chart().unfold(), beat, swung) == place


def test_a_chord_ends_with_the_next_one_and_one_that_was_not_held_is_a_quaver() -> None:
    hits = [(-0.5, 2.0), (1.0, 0.5), (2.0, 1.0), (3.0, 9.0)]
    assert _until_the_next(hits) == [(-0.5, 1.5), (1.0, 0.5), (2.0, 1.0), (3.0, 9.0)]
    assert _until_the_next([(0.0, 0.0), (1.0, 0.0)]) == [(0.0, 0.5), (1.0, 0.5)]
