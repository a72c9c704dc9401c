"""What introductions and endings are made of: turnarounds, closes put off, and the tune's own motif.

I-VI-II-V and III-VI-II-V, the last bar II-V of the tune's first chord, a close put off by a chord that has the melody's
note, and an ending that closes once, are common practice.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.arrange.audit.turns import closes, tunes_own, turn_figures
from companion.arrange.events import ending_form, introduction_form
from companion.arrange.introductions import INTRODUCTIONS
from companion.arrange.lookup import harmony_at
from companion.arrange.turnarounds import motif, put_off, turnaround
from companion.chart.model import Chart, Event, Form

Composer = Callable[..., Form]


def symbols(form: Form) -> list[str]:
    return [span.chord.symbol for span in form.chords]


def test_a_turnaround_in_major_goes_from_the_first_degree_and_then_from_the_third(compose: Composer) -> None:
    tune = compose("C6 | Am7 | Dm7 | G7")
    assert symbols(turnaround(tune, 4)) == ["C6", "A7b9", "Dm7", "G7", "Em7", "A7b9", "Dm7", "G7"]


def test_a_turnaround_leads_to_the_first_chord_where_that_is_not_the_tonic(compose: Composer) -> None:
    assert symbols(turnaround(compose("Dm7 | G7 | C6 | C6"), 2))[-2:] == ["Em7b5", "A7b9"]
    assert symbols(turnaround(compose("F6 | G7 | C6 | C6"), 2))[-2:] == ["Gm7", "C7"]


def test_in_three_a_turnaround_has_a_chord_a_bar(compose: Composer) -> None:
    assert symbols(turnaround(compose("C6 | Am7 | Dm7 | G7", metre="3/4"), 4)) == ["C6", "A7b9", "Dm7", "G7"]


@pytest.mark.parametrize(("metre", "starts"), [("4/4", [0, 2, 4, 6]), ("5/4", [0, 3, 5, 8]), ("3/4", [0, 3])])
def test_the_second_chord_of_a_bar_comes_on_the_beat_that_begins_its_second_half(
    compose: Composer, metre: str, starts: list[int]
) -> None:
    found = turnaround(compose("C6 | Am7 | Dm7 | G7", metre=metre), 2)
    assert [span.start for span in found.chords] == starts
    assert [span.end for span in found.chords] == [*starts[1:], found.length]


def test_a_close_is_put_off_under_the_same_melody_by_a_chord_that_has_its_note(compose: Composer) -> None:
    tune = compose("Dm7 | G7 | C6 | C6", melody=[(0, 2, 65), (4, 2, 67), (8, 4, 72)])
    made = put_off(tune)
    assert made.melody == tune.melody
    assert symbols(made)[:2] == ["Dm7", "G7"] and symbols(made)[-2:] == ["Dm7", "G9sus4"]
    assert symbols(made)[2] in ("Am7", "Abmaj7", "F#m7b5")
    assert 0 in harmony_at(made, Fraction(8)).tones


def test_the_motif_is_the_first_notes_up_to_the_first_rest_with_their_pickup(compose: Composer) -> None:
    melody = [(-1, 0.5, 62), (-0.5, 0.5, 65), (0, 3, 67), (4, 1, 70), (5, 1, 72)]
    assert [note.pitch.midi for note in motif(compose("Gm6 | Gm6 | D7 | D7", melody=melody))] == [62, 65, 67]


@pytest.mark.parametrize("how", INTRODUCTIONS)
def test_an_introduction_is_the_tunes_own_stays_open_and_leaves_the_pickup_its_room(shipped: Chart, how: str) -> None:
    form = shipped.unfold()
    made = introduction_form(form, Event("introduction", how=how))
    assert tunes_own(form, made.melody) >= 0.5
    assert all(n.beat + n.length <= made.length - form.pickup for n in made.melody)
    assert all(a.beat + a.length <= b.beat for a, b in pairwise(made.melody))
    assert made.chords[0].start == 0 and made.chords[-1].end == made.length
    assert all(a.end == b.start for a, b in pairwise(made.chords))


@pytest.mark.parametrize("how", ["held", "tag", "ritardando", "turnaround", "deceptive"])
def test_an_ending_closes_once_on_the_tonic_held(shipped: Chart, how: str) -> None:
    form = shipped.unfold()
    made = ending_form(form, Event("ending", how=how))
    assert closes(form, made) == 1
    assert all(a.end == b.start for a, b in pairwise(made.chords))
    assert all(n.beat + n.length <= made.length for n in made.melody)


def test_no_two_tunes_begin_or_end_alike(compose: Composer) -> None:
    tunes = [
        compose("C6 | Am7 | Dm7 | G7 | C6 | F7 | Dm7 G7 | C6", melody=melody)
        for melody in (
            [(0, 1, 67), (1, 1, 69), (2, 2, 72), (24, 2, 74), (26, 1, 71), (28, 4, 72)],
            [(0, 3, 76), (3, 1, 74), (4, 2, 72), (24, 1, 69), (28, 2, 67), (30, 2, 64)],
        )
    ]
    for how in INTRODUCTIONS:
        one, other = (introduction_form(tune, Event("introduction", how=how)) for tune in tunes)
        assert one.melody != other.melody
    made = [ending_form(tune, Event("ending", how="tag")) for tune in tunes]
    assert symbols(made[0]) != symbols(made[1])


@pytest.mark.parametrize("how", ["vamp", "turnaround"])
def test_after_a_vamp_a_figure_rises_to_the_last_note(shipped: Chart, how: str) -> None:
    form = shipped.unfold()
    made = ending_form(form, Event("ending", how=how))
    figure = [n for n in made.melody if n.beat >= made.bars[-1]]
    assert len(figure) == 4 and figure[-1].beat + figure[-1].length == made.length
    assert all(a.pitch.midi < b.pitch.midi for a, b in pairwise(figure))
    assert all(n.pitch.midi % 12 in harmony_at(made, n.beat).tones for n in figure)


def test_what_is_counted_misses_a_strange_introduction_and_an_ending_that_closes_three_times(compose: Composer) -> None:
    tune = compose("C6 | Am7 | Dm7 | G7", melody=[(0, 1, 67), (1, 1, 69), (2, 2, 72)])
    strange = compose("C6 | G7", melody=[(0, 0.5, 72), (0.5, 0.5, 60), (1, 3, 71)])
    thrice = compose("Dm7 | G7 | C6 | G7 | C6 | G7 | C6")
    own, open_, once = turn_figures(tune, [strange], [thrice])
    assert not own.reached and open_.reached and not once.reached


@pytest.mark.parametrize(
    ("changes", "starts"),
    [
        ("Dm7 | G7 | C6 | C6 | C6", [0, 4, 8, 16, 18]),  # two and five in the last of three bars
        ("Dm7 | G7 | C6 | C6", [0, 4, 8, 12, 14]),
        ("Dm7 | G7 | C6", [0, 4, 8, 10]),  # five alone in the half of one
    ],
)
def test_a_close_that_lasts_for_bars_is_put_off_up_to_two_and_five_in_its_last(
    compose: Composer, changes: str, starts: list[int]
) -> None:
    made = put_off(compose(changes))
    assert [span.start for span in made.chords] == starts
    assert made.chords[-1].chord.symbol == "G9sus4" and made.chords[-1].end == made.length
    if len(starts) == 5:
        assert made.chords[-2].chord.symbol == "Dm7"
