"""Chords like the player's own: their shapes and rhythms come more often, and every rule still holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import groupby, pairwise

import numpy as np
import pytest

from companion.arrange.audit.chords import voicing_figures
from companion.arrange.chords.comping_style import CompingStyle, UsedRhythm, UsedShape, places
from companion.arrange.chords.liking import OWN, is_own, liking_of, own_liking, rhythm_liking, with_own_shapes
from companion.arrange.chords.shapes import shapes_of_chord
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.music.kinds import degree, degrees
from companion.preferences import preferences
from companion.preferences.like_you import LikeYouPreferences, ShapeLikings
from companion.preferences.voicings import VoicingPreferences
from companion.resources import chart_path
from tests.practice.test_voicing_names import harmony

BARS = "Dm7 | G7 | Cmaj7 | Am7 | Dm7 | G7 | Em7 | Am7"
THIRD = {"m7": "b3 5 b7 9", "7": "3 13 b7 9", "maj7": "3 5 7 9"}
SEVENTH = {"m7": "b7 9 b3 5", "7": "b7 9 3 13", "maj7": "7 9 3 5"}
"""Levine, The Jazz Piano Book, 1989 (from memory)."""


@cache
def row_of_chords() -> Form:
    """Sixteen bars without a melody."""
    return parse_toml(
        f'format = 1\ntitle = "t"\nkey = "C major"\nform = "A A"\n[section.A]\nchords = "| {BARS} |"\n'
    ).unfold()


def style(rows: dict[str, str], low: int, high: int) -> CompingStyle:
    return CompingStyle(tuple(UsedShape(kind, row, 0, 0.9, low, high, 40, 8) for kind, row in rows.items()), (), 8)


@cache
def chords(form: Form, how: CompingStyle | None, *, treatment: str = "walking", choruses: int = 2) -> list[list[Note]]:
    """The chords behind a soloist, chorus after chorus, each from its lowest note up."""
    found = []
    for chorus in range(1, choruses + 1):
        asked = Request(treatment=treatment, chorus=chorus, player=frozenset({"solo"}), style=how)
        notes = [n for n in arrange(form, "chords", asked) if not n.reason.startswith("late")]
        notes.sort(key=lambda note: (note.beat, note.midi))
        found += [list(group) for _, group in groupby(notes, key=lambda note: note.beat)]
    return found


def share(found: Sequence[Sequence[Note]], rows: dict[str, str]) -> float:
    """Of the chords of four notes, those that have one of the shapes."""
    wanted = {places(degrees(row)) for row in rows.values()}
    full = [chord for chord in found if len(chord) == 4]
    return sum(places([degree(note.degree) for note in chord]) in wanted for chord in full) / len(full)


def test_shapes_of_the_player_come_more_often() -> None:
    form = row_of_chords()
    usual, third, seventh = (chords(form, how) for how in (None, style(THIRD, 62, 74), style(SEVENTH, 56, 69)))
    assert share(usual, THIRD) < 0.5 and share(third, THIRD) > 0.6
    assert share(usual, SEVENTH) < 0.6 and share(seventh, SEVENTH) > 0.75


def test_a_style_without_habits_changes_nothing() -> None:
    form = load(chart_path("two-spoons-short")).unfold()
    asked = {"treatment": "walking", "chorus": 2, "player": frozenset({"melody"})}
    assert arrange(form, "chords", Request(**asked)) == arrange(form, "chords", Request(**asked, style=CompingStyle()))


def test_the_same_habits_give_the_same_chords_and_say_whose_they_are() -> None:
    form, own = row_of_chords(), style(THIRD, 62, 74)
    assert chords(form, own, choruses=1) == chords(form, CompingStyle(own.shapes, (), 8), choruses=1)
    reasons = {OWN in chord[0].reason for chord in chords(form, own, choruses=1)}
    assert reasons == {True, False}


def test_nothing_rubs_and_no_hand_is_stretched_for_a_habit() -> None:
    """A fault that a teacher would count stays at none, under a melody and over a walking bass."""
    form = load(chart_path("ferry-without-lights")).unfold().free
    asked = Request(treatment="walking", style=style(THIRD | {"m7b5": "b3 b5 b7 1"}, 60, 80))
    made, bass = ([arrange(form, part, asked)] for part in ("chords", "bass"))
    figures = voicing_figures(form, plan(form, "walking"), made, bass)
    assert {one.name: one.value for one in figures if one.name.startswith(("clash", "below", "wider", "above"))} == {
        "clashes with the melody": 0.0,
        "below the low limits": 0.0,
        "wider than a hand": 0.0,
        "above a sounding melody note": 0.0,
    }
    assert next(one.value for one in figures if one.name.startswith("movement")) < 2


def test_a_shape_that_no_handbook_has_is_played_where_the_chord_may_have_it() -> None:
    form = row_of_chords()
    own = CompingStyle((UsedShape("m7", "5 b7 b3 11", 0, 0.9, 64, 76, 40, 8),), (), 8)
    found = {tuple(n.degree for n in chord) for chord in chords(form, own)}
    assert ("5", "b7", "b3", "11") in found
    assert ("5", "b7", "b3", "11") not in {tuple(n.degree for n in chord) for chord in chords(form, None)}


def test_a_habit_that_the_chord_may_not_have_is_left_out() -> None:
    """The natural thirteenth over a dominant that resolves to minor, the fourth over a major seventh."""
    form = parse_toml(
        'format = 1\ntitle = "t"\nkey = "C minor"\nform = "A"\n[section.A]\n'
        'chords = "| Dm7b5 | G7 | Cm6 | % | Fmaj7 | % | Fmaj7 | % |"\n'
    ).unfold()
    rows = {"7": "3 13 b7 9", "maj7": "7 3 11 5"}
    found = chords(form, style(rows, 55, 76), choruses=2)
    over_g = [chord for chord in found if 4 <= chord[0].beat < Fraction(15, 2)]
    assert over_g and not {note.midi % 12 for chord in over_g for note in chord} & {4, 9}
    assert not {n.midi % 12 for chord in found if chord[0].beat >= 16 for n in chord} & {10}


def test_sparse_fourths_stay_sparse_fourths() -> None:
    form = row_of_chords()
    busy = UsedRhythm("4/4", "swing", (0.0, 1.0, 2.0, 3.0), (0.5, 0.5, 0.5, 0.5), 0.95, 60, 9)
    own = CompingStyle(style(THIRD, 62, 74).shapes, (busy,), 9)
    assert chords(form, own, treatment="sparse") == chords(form, None, treatment="sparse")


def bars(form: Form, found: Sequence[Sequence[Note]]) -> list[tuple[float, ...]]:
    """Where the chords of each bar are struck."""
    by_bar: dict[int, list[float]] = {}
    for n, chord in enumerate(found):
        beat = chord[0].beat
        if beat >= 0:
            chorus = sum(a[0].beat > b[0].beat for a, b in pairwise(found[: n + 1]))
            bar = form.bar_at(beat)
            by_bar.setdefault(100 * chorus + bar, []).append(float(beat - form.bars[bar - 1]))
    return [tuple(at) for at in by_bar.values()]


def test_a_rhythm_of_the_players_own_is_drawn_but_not_in_every_bar() -> None:
    form = row_of_chords()
    rhythm = (0.5, 2.5)  # the swing set of comping.toml has none on the ands of 1 and 3
    own = CompingStyle((), (UsedRhythm("4/4", "swing", rhythm, (1.0, 1.0), 0.9, 30, 6),), 6)
    struck = bars(form, chords(form, own))
    assert rhythm not in bars(form, chords(form, None))
    assert 0.05 < struck.count(rhythm) / len(struck) < 0.6


# worked examples


def test_what_is_taken_off_a_price_is_the_liking_of_the_shape_where_it_lies() -> None:
    """Worth a half, liked by eight, less by a tenth for each semitone outside; another inversion by a quarter of it."""
    likes = preferences(LikeYouPreferences)
    likes = replace(likes, shapes=ShapeLikings(8.0, 0.25, 0.1))
    liking = liking_of(CompingStyle((UsedShape("m7", "b3 5 b7 9", 0, 0.5, 64, 70, 24, 5),), (), 5), likes)
    rows = [degrees(row) for row in ("b3 5 b7 9", "b3 5 b7 9", "b7 9 b3 5", "b3 b7 9")]
    found = own_liking(liking, "m7", rows, np.array([64, 72, 70, 66]))
    assert found.tolist() == pytest.approx([4.0, 3.2, 1.0, 0.0])
    assert own_liking(liking, "7", rows, np.array([64] * 4)).tolist() == [0.0] * 4


def test_a_rhythm_is_liked_by_its_worth_in_its_metre_and_feel() -> None:
    likes = preferences(LikeYouPreferences)
    likes = replace(likes, rhythms=replace(likes.rhythms, liking=4.0))
    known = [("4/4", "swing", (1.0, 2.5), 0.5), ("4/4", "swing", (1.0, 2.5), 0.75), ("3/4", "swing", (1.0,), 1.0)]
    rhythms = tuple(UsedRhythm(m, feel, at, (1.0,) * len(at), worth, 9, 3) for m, feel, at, worth in known)
    liking, form = liking_of(CompingStyle((), rhythms, 5), likes), row_of_chords()
    assert [rhythm_liking(liking, form, at) for at in ([1.0, 2.5], [1.0], [2.5])] == [3.0, 0.0, 0.0]
    assert rhythm_liking(None, form, [1.0, 2.5]) == 0.0


@pytest.mark.parametrize(
    ("row", "left", "families", "added"),
    [
        ("9 5 b7 3", 0, ("rootless",), ("rootless", 1)),
        ("9 5 b7 3", 0, ("quartal", "rootless"), ("rootless", 7)),  # a family later costs six more
        ("3 13 9", 0, ("rootless",), None),  # fourths where none are wanted
        ("b7 3 13 9", 0, ("quartal", "rootless"), ("quartal", 1)),
        ("3 13 9", 0, ("quartal",), ("three", 1)),
        ("9 b7 3", 0, ("rootless",), ("three", 1)),
        ("5 3", 0, ("rootless",), None),  # two notes only as fourths
        ("13 9", 0, ("quartal",), ("two", 1)),
        ("5 9 3 b7", 2, ("open",), ("open", 1)),
        ("5 9 3 b7", 2, ("rootless",), None),  # of both hands
        ("7 3 9", 0, ("rootless",), None),  # what the chord can't have
        ("3 13 b7 9", 0, ("rootless",), None),  # it is there
    ],
)
def test_a_shape_of_the_players_is_added_where_chord_and_treatment_may_have_it(
    row: str, left: int, families: tuple[str, ...], added: tuple[str, float] | None
) -> None:
    shipped = preferences(VoicingPreferences)
    voicings = replace(shipped, costs=replace(shipped.costs, family=6.0, inversion=1.0))
    chord = harmony("C7")
    there = shapes_of_chord(voicings, chord, frozenset(), families)
    used = UsedShape("7", row, left, 0.5, 60, 80, 9, 3)
    liking = liking_of(CompingStyle((used,), (), 5), preferences(LikeYouPreferences))
    found = with_own_shapes(liking, voicings, chord, there, families)
    new = [one for one in found.every if one.name == OWN]
    assert [(one.family, one.price, one.left) for one in new] == ([(*added, left)] if added else [])
    assert found.every[: len(there.every)] == there.every
    assert not any(is_own(liking, chord, one) for one in new), "it says so already"
