"""Fourths sliding in parallel by semitones to an arrival that fits (common practice)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from companion.arrange.audit.chords import chords_of
from companion.arrange.chords.context import BarPlan, CompingContext, Strike, bar_plan
from companion.arrange.chords.shapes import Shape
from companion.arrange.chords.sliding import (
    _aim,
    _at,
    _degree,
    _liking,
    _reach,
    _unbroken,
    _way,
    _ways,
    landings,
    sliding_strikes,
    with_slides,
)
from companion.arrange.chords.voicings import Voicing
from companion.arrange.harmony import harmonies
from companion.arrange.melody.part import index_melody
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.arrange.treatments import treatment
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.comping import CompingPreferences, Route
from companion.preferences.voicings import VoicingPreferences
from tests.arrange.dice import Thrown

Composer = Callable[..., Form]
CHANGES = "Em7 | A7 | Dm7 | G7 | Cmaj7 | Fmaj7 | Em7 | Dm7"


def struck(form: Form, seed: int) -> list[list[Note]]:
    return [chord for _, chord in chords_of(arrange(form, "chords", Request(treatment="sliding", seed=seed)))]


def slides(chord: list[Note]) -> bool:
    return chord[0].reason.startswith("fourths sliding")


def routes(form: Form, seed: int) -> list[list[list[Note]]]:
    """Each row of sliding chords with the arrival at its end."""
    found: list[list[list[Note]]] = [[]]
    for chord in struck(form, seed):
        found[-1].append(chord)
        if not slides(chord):
            found.append([])
    return [row for row in found if len(row) > 1]


def test_every_step_is_a_semitone_in_all_three_voices(compose: Composer) -> None:
    form = compose(CHANGES)
    for seed in range(6):
        steps = [
            {y.midi - x.midi for x, y in zip(a, b, strict=True)} for a, b in pairwise(struck(form, seed)) if slides(a)
        ]
        assert len(steps) >= 8
        assert all(step in ({1}, {-1}) for step in steps)


def test_routes_come_from_above_and_below_in_two_to_five_steps_and_several_rhythms(compose: Composer) -> None:
    form = compose(CHANGES)
    found = [row for seed in range(6) for row in routes(form, seed)]
    assert {row[0][0].midi > row[-1][0].midi for row in found} == {True, False}
    assert {len(row) - 1 for row in found} >= {2, 3, 4, 5}
    rhythms = {tuple(float(chord[0].beat - row[-1][0].beat) for chord in row) for row in found}
    assert len(rhythms) >= 6


def test_no_route_is_taken_twice_running(compose: Composer) -> None:
    form = compose(CHANGES)
    for seed in range(6):
        ways = [[float(chord[0].beat % 8) for chord in row] for row in routes(form, seed)]
        assert all(a != b for a, b in pairwise(ways))


def test_in_the_melodys_place_the_arrival_lands_on_its_note(compose: Composer) -> None:
    tops = [77, 76, 72, 77]  # F over A7 to minor, E over G7, C over Fmaj7, F over Dm7: each is on top of three fourths
    melody = [(8 * k + 4, 4, top) for k, top in enumerate(tops)]
    for seed in range(4):
        arrivals = [row[-1][-1] for row in routes(compose(CHANGES, melody=melody), seed)]
        assert all(note.midi % 12 == top % 12 for note, top in zip(arrivals, tops, strict=True))


def test_a_note_that_no_form_has_on_top_is_landed_on_all_the_same(compose: Composer) -> None:
    """The root of a major chord, the fifth of a sus chord, a note outside the scale: fourths are laid under it."""
    tops = [(1, 76), (3, 74), (5, 73), (7, 72)]
    form = compose("Em7 | A9sus4 | F#m7 | D6 | Gm7 | C7 | Bb7 | Cmaj7", melody=[(4 * k, 4, top) for k, top in tops])
    for seed in range(6):
        arrivals = [row[-1] for row in routes(form, seed)]
        assert [chord[-1].midi % 12 for chord in arrivals] == [top % 12 for _, top in tops]
        assert all(4 <= b.midi - a.midi <= 6 for chord in arrivals for a, b in pairwise(chord))


def test_over_eight_bars_routes_answer_from_the_other_side_and_take_up_the_rhythm(compose: Composer) -> None:
    form = compose(CHANGES, melody=[(8 * k + 4, 4, top) for k, top in enumerate((77, 76, 72, 77))])
    opposite = echoes = 0
    for seed in range(8):
        found = routes(form, seed)
        sides = [row[0][0].midi > row[-1][0].midi for row in found]
        rhythms = [[float(chord[0].beat - row[-1][0].beat) for chord in row][-2:] for row in found]
        opposite += sum(sides[b] != sides[a] for a, b in ((0, 1), (0, 2), (1, 3)))
        echoes += (rhythms[0] == rhythms[2]) + (rhythms[1] == rhythms[3])
    assert opposite >= 0.8 * 24
    assert echoes >= 0.8 * 16


def test_under_a_melody_that_stays_nothing_slides_above_it(compose: Composer) -> None:
    form = compose(CHANGES, melody=[(4 * k, 4, 69 + k % 3) for k in range(8)])
    found = arrange(form, "chords", Request(treatment="sliding", player=frozenset({"melody"})))
    assert any(note.reason.startswith("fourths sliding") for note in found)
    for note in found:
        assert all(
            note.midi < m.pitch.midi
            for m in form.melody
            if m.beat < note.beat + note.length and note.beat < m.beat + m.length
        )


def test_only_what_is_a_row_of_fourths_slides(compose: Composer) -> None:
    melody = [(4 * k + b, n, p) for k in range(8) for b, n, p in ((0, 1.5, 70), (1.5, 0.5, 67), (2, 2, 69))]
    form = compose("Gm7 | Bb7alt | Fm7 | C7b9 | Am7b5 | D7alt | Gm7 | Bb7alt", fifths=-3, melody=melody)
    for seed in range(5):
        found = arrange(form, "chords", Request(treatment="sliding-under", seed=seed))
        for _, chord in chords_of(found):
            if slides(chord):
                assert all(4 <= b.midi - a.midi <= 6 for a, b in pairwise(chord))


def test_under_the_melody_an_arrival_is_let_go_when_it_would_rub(compose: Composer) -> None:
    melody = [(4 * k + b, n, p) for k in range(8) for b, n, p in ((0, 1, 74), (1, 1, 72), (2, 2, 76))]
    form = compose(CHANGES, melody=melody)
    for seed in range(5):
        for note in arrange(form, "chords", Request(treatment="sliding-under", seed=seed)):
            for above in form.melody:
                if above.beat < note.beat + note.length and note.beat < above.beat + above.length:
                    assert above.pitch.midi > note.midi
                    assert above.pitch.midi - note.midi not in (1, 13)


# where fourths land, worked by hand


def landing(compose: Composer, aim: int | None, found: list[Voicing], **told: Any) -> dict[tuple[int, ...], float]:
    """What may be landed on over a D minor seventh, with its price: a hundred for each note beside the scale."""
    shipped = preferences(VoicingPreferences)
    voicings = replace(shipped, costs=replace(shipped.costs, astray=100.0, astray_semitone=0.5))
    form = compose("Dm7 | G7", melody=told.get("melody", ()))
    strike = Strike(Fraction(1), Fraction(1), harmonies(form)[0], treatment("sliding"), "", aim=aim)
    landed = landings(voicings, strike, found, index_melody(form), told.get("bass", ()))
    return {one.midi: one.price for one in landed}


IN_FOURTHS = {(62, 67, 72): 0.0, (61, 67, 72): 101.0, (61, 66, 72): 201.0, (63, 67, 72): 101.0, (63, 68, 72): 201.0}


def test_under_a_note_that_no_form_has_fourths_are_stacked_within_the_scale_rather(compose: Composer) -> None:
    assert landing(compose, 72, []) == IN_FOURTHS
    octave_down = {midi: price + 6 for midi, price in IN_FOURTHS.items()}
    assert landing(compose, 84, []) == octave_down, "C6 lies above the register"
    assert all(midi[-1] % 12 == 5 for midi in landing(compose, 65, []))


def test_they_are_clear_of_melody_and_bass(compose: Composer) -> None:
    assert set(landing(compose, 72, [], melody=[(0, 4, 74)])) == {m for m in IN_FOURTHS if m[0] != 61}
    assert landing(compose, 72, [], melody=[(0, 4, 73)]) == {}
    assert set(landing(compose, 72, [], bass=(62,))) == {m for m in IN_FOURTHS if m[0] == 63}


def test_a_form_with_the_note_on_top_comes_before_any_of_these(compose: Composer) -> None:
    def form_of(family: str, *midi: int) -> Voicing:
        return Voicing(Shape(family, "", (), 0, 0.0), midi, 7.0)

    fits, other = form_of("quartal", 57, 62, 72), form_of("quartal", 57, 62, 67)
    assert landing(compose, 72, [other, fits]) == {fits.midi: 7.0}
    assert landing(compose, 84, [other, fits]) == {fits.midi: 7.0}, "in any octave"
    assert landing(compose, 72, [other, form_of("three", 57, 62, 72)]) == IN_FOURTHS, "of the treatment's families"
    assert set(landing(compose, None, [other, fits])) == {other.midi, fits.midi}


# routes, worked by hand

VOICINGS, COMPING = preferences(VoicingPreferences), preferences(CompingPreferences)
F = Fraction


def context(
    compose: Composer, changes: str, melody: Sequence[tuple[float, float, int]] = (), **told: Any
) -> CompingContext:
    """What is known when chords are placed; ``kept``: the form's melody, of which none is sung."""
    form = compose(changes, melody=melody or told.get("kept", ()), **{k: v for k, v in told.items() if k != "kept"})
    above = index_melody(form) if melody else index_melody(replace(form, melody=()))
    chords = harmonies(form)
    starts = [float(one.start) for one in chords]
    return CompingContext(form, above, chords, starts, float(form.length), Thrown(), COMPING, frozenset(), {})


def bar_of(here: CompingContext, n: int) -> BarPlan:
    return bar_plan(here, ((F(0), here.form.length, treatment("sliding")),), n)


def told(strikes: Sequence[Strike]) -> str:
    return " ".join(f"{s.beat}/{s.length}:{'-' if s.away is None else s.away}" for s in strikes)


EIGHT = "Em7 | A7 | Dm7 | G7 | Cmaj7 | Fmaj7 | Em7 | Dm7"


def test_by_turns_a_bar_has_a_route_and_a_bar_the_arrival_the_last_of_a_section(compose: Composer) -> None:
    here = context(compose, EIGHT)
    assert [bar_of(here, n).left for n in range(8)] == [8, 7, 6, 5, 4, 3, 2, 1]
    found = [sliding_strikes(here, bar_of(here, n), []) for n in range(8)]
    assert [told(one) for one in found] == [
        "0/1:4 1/1:3 2/1:2 3/1:1", "4/4:-",
        "9/1:3 10/1:2 11/1:1", "12/4:-",
        "16/1:4 17/1:3 18/1:2 19/1:1", "20/4:-",  # the third has the first one's rhythm, the fourth the second's
        "25/1:3 26/1:2 27/1:1", "28/4:-",
    ]  # fmt: skip
    assert [one[0].answers for one in found[::2]] == [None, 0, 0, 9]
    assert here.routes == [0, 9, 16, 25] and len(here.used) == 4
    assert [one[0].reason for one in found[:2]] == ["four steps, a beat each", "where the fourths land"]


def test_of_an_odd_number_of_bars_the_first_is_an_arrival(compose: Composer) -> None:
    here = context(compose, "Em7 | A7 | Dm7")
    assert [told(sliding_strikes(here, bar_of(here, n), [])) for n in range(3)] == [
        "0/4:-", "4/1:4 5/1:3 6/1:2 7/1:1", "8/4:-"
    ]  # fmt: skip


def test_a_route_that_lands_early_has_its_arrival_a_quaver_before_the_bar(compose: Composer) -> None:
    here = context(compose, "Em7 | A7")
    early = Route("early", ((2.5, 2), (3.0, 1)), -0.5)
    slides = replace(COMPING.slides, routes={"4": (early,)})
    here = replace(here, comping=replace(COMPING, slides=slides))
    found = sliding_strikes(here, bar_of(here, 0), [])
    assert told(found) == "5/2/1/2:2 3/1/2:1 7/2/9/2:-"
    assert (found[-1].reason, found[-1].harmony.root) == ("where the fourths land, a quaver early", 9)
    assert (found[-1].meant, found[-1].weight) == (F(9, 2), COMPING.placement.arrival)
    assert sliding_strikes(here, bar_of(here, 1), found) == [], "it sounds in its bar already"
    gone = [replace(found[-1], length=F(1, 2))]
    assert told(sliding_strikes(here, bar_of(here, 1), gone)) == "4/4:-"
    assert told(sliding_strikes(here, bar_of(here, 1), found[:2])) == "4/4:-"


def test_an_arrival_lasts_as_long_as_its_chord_and_until_the_melody_moves(compose: Composer) -> None:
    two = context(compose, "Em7 | A7 D7")
    assert told(sliding_strikes(two, bar_of(two, 1), [])) == "4/2:- 6/2:-"
    sung = context(compose, "Em7 | A7", [(4, 1.5, 76), (5.5, 2, 77)])
    (landed,) = sliding_strikes(sung, bar_of(sung, 1), [])
    assert (landed.length, landed.meant, landed.aim) == (F(3, 2), 4, None), "the melody is sung: it aims at nothing"
    quick = context(compose, "Em7 | A7", [(4, 0.25, 76), (4.25, 2, 77)])
    assert sliding_strikes(quick, bar_of(quick, 1), [])[0].length == F(1, 2), "for half a beat at least"
    long = context(compose, "Em7 | A7 | A7")
    assert told(sliding_strikes(long, bar_of(long, 2), [])) == "8/4:-"


def test_where_the_melody_is_dropped_the_arrival_aims_at_the_note_it_would_hold_longest(compose: Composer) -> None:
    here = context(compose, "Em7 | A7 | Dm7", kept=[(2, 3, 70), (5, 1.5, 72), (6.5, 3, 76), (9.5, 2, 77)])
    bars = [(F(0), F(4)), (F(4), F(8)), (F(8), F(12))]
    assert [_aim(here, *bar) for bar in bars] == [70, 72, 77], "within the bar: 2; 1, 1.5, 1.5; 1.5, 2 quarters"
    assert _aim(here, F(0), F(2)) is None
    assert _aim(here, F(4), F(5)) == 70
    assert sliding_strikes(here, bar_of(here, 2), [])[0].aim == 77


def test_routes_of_other_bars_are_a_step_a_beat(compose: Composer) -> None:
    five = context(compose, "Em7 | A7", metre="5/4")
    (way,) = _ways(five, bar_of(five, 0))
    assert (way.name, way.steps, way.lands) == (
        "a step a beat", ((0.0, 5), (1.0, 4), (2.0, 3), (3.0, 2), (4.0, 1)), 0.0
    )  # fmt: skip
    six = context(compose, "Em7 | A7", metre="6/8")
    assert [way.steps for way in _ways(six, bar_of(six, 0))] == [((0.0, 2), (1.5, 1))], "three quarters, but two beats"
    assert len(_ways(context(compose, "Em7 | A7", metre="3/4"), bar_of(five, 0))) == 1
    three = context(compose, "Em7 | A7", metre="3/4")
    assert len(_ways(three, bar_of(three, 0))) == 5


def test_a_route_is_disliked_for_each_moving_note_it_meets_and_twice_for_each_time_lately(compose: Composer) -> None:
    rules = COMPING.placement
    here = context(compose, "Em7 | A7", [(1, 0.5, 74), (2, 0.5, 76), (3.5, 0.5, 77)])
    bar = bar_of(here, 0)
    quarters, off = (Route(name, steps) for name, steps in
                     (("on", ((0.0, 4), (1.0, 3), (2.0, 2), (3.0, 1))), ("off", ((1.5, 2), (2.5, 1)))))  # fmt: skip
    assert _liking(here, bar, quarters) == -2 * rules.lost and _liking(here, bar, off) == 0.0
    here.used.extend(["off", "on", "off", "on", "on"])
    assert _liking(here, bar, off) == -2 * rules.worn
    assert _liking(here, bar, quarters) == -2 * rules.lost - 4 * rules.worn


def test_a_call_is_not_taken_up_where_the_melody_moves_with_it(compose: Composer) -> None:
    here = context(compose, EIGHT, [(17, 0.5, 79)])
    here.used.extend(["four steps, a beat each", "three steps off the beat"])
    here.routes.extend([F(0), F(8)])
    way, answers = _way(here, bar_of(here, 4))
    assert (way.name != "four steps, a beat each", answers) == (True, 8), "it answers the last one at least"
    here.used.append("two steps, the landing early")
    here.routes.append(F(16))
    way, answers = _way(here, bar_of(here, 6))
    assert (way.name, answers) == ("three steps off the beat", 8), "nothing moves there"
    here.routes.clear()
    assert _way(here, bar_of(here, 6))[1] is None
    here.routes.append(F(0))
    assert _way(here, bar_of(here, 6))[1] == 0, "a third can't answer the first of one"


ARRIVAL = Voicing(Shape("quartal", "", (), 0, 0.0), (57, 62, 67), 0.0)


def test_a_route_is_unbroken_up_to_its_arrival() -> None:
    a, b, c = (replace(ARRIVAL, midi=(n,)) for n in range(3))
    assert _unbroken([a, b, c]) == [a, b, c]
    assert _unbroken([a, None, c]) == [None, None, c]
    assert _unbroken([None, b, c]) == [None, b, c]
    assert _unbroken([a, b, None]) == [None, None, None]


def test_the_side_with_more_of_a_route_that_answers_and_begins_near_the_hand() -> None:
    near, far = replace(ARRIVAL, midi=(60, 65, 70)), replace(ARRIVAL, midi=(54, 59, 64))
    assert _reach([None, near, far], True, 72, 3.0, Thrown()) == (2, True, -2.0)
    assert _reach([far], False, 70, 3.0, Thrown()) == (1, False, -6.0)
    assert _reach([None], False, 70, 3.0, Thrown()) == (0, False, 0.0)


@pytest.mark.parametrize(
    ("away", "sign", "midi", "why"),
    [
        (3, 1, (60, 65, 70), "sliding down by semitones to G on top, 3 to go"),
        (3, -1, (54, 59, 64), "sliding up by semitones to G on top, 3 to go"),
        (1, 1, (58, 63, 68), "sliding down by semitones to G on top, 1 to go"),
        (0, 1, (57, 62, 67), "sliding through G"),
        (-1, 1, (56, 61, 66), "sliding past G by a semitone and back"),
        (-1, -1, (58, 63, 68), "sliding past G by a semitone and back"),
    ],
)
def test_a_sliding_chord_is_its_arrival_so_many_semitones_away(
    compose: Composer, away: int, sign: int, midi: tuple[int, ...], why: str
) -> None:
    form = compose("Em7 | A7")
    strike = Strike(F(0), F(1), harmonies(form)[0], treatment("sliding"), "", away=away)
    found = _at(VOICINGS, strike, ARRIVAL, sign, "G", index_melody(form), ())
    assert found is not None and (found.midi, found.shape.why) == (midi, why)
    assert _at(VOICINGS, strike, ARRIVAL, sign, "G", index_melody(form), (midi[0],)) is None, "on the bass"
    sung = index_melody(compose("Em7 | A7", melody=[(0.5, 1, midi[-1] + 1)]))
    assert _at(VOICINGS, strike, ARRIVAL, sign, "G", sung, ()) is None, "a semitone under the melody"


def test_a_note_that_is_no_degree_of_the_scale_is_told_by_its_distance_from_the_root(compose: Composer) -> None:
    (d, *_) = harmonies(compose("Dm7 | G7"))
    assert [str(_degree(d, pc)) for pc in (5, 0, 7)] == ["b3", "b7", "4"]
    assert (_degree(d, 3).number, _degree(d, 3).alter) == (1, 1)


def test_an_answer_slides_from_the_other_side_than_its_call_or_else_from_where_the_hand_is(compose: Composer) -> None:
    form = compose(EIGHT)
    chords, ruled = harmonies(form), treatment("sliding")
    landed = Voicing(Shape(ruled.chords[0], "", (), 0, 0.0), (57, 62, 67), 0.0)

    def slid(answers: Fraction | None, hand: int) -> list[tuple[int, ...] | None]:
        struck = [
            Strike(F(0), F(1), chords[0], ruled, ""),
            *(Strike(F(n), F(1), chords[0], ruled, "", away=4 - n) for n in (2, 3)),
            Strike(F(4), F(4), chords[1], ruled, ""),
            *(Strike(F(n), F(1), chords[2], ruled, "", away=12 - n, answers=answers) for n in (10, 11)),
            Strike(F(12), F(4), chords[3], ruled, ""),
        ]
        first = replace(landed, midi=(hand - 10, hand - 5, hand))
        chosen = [first, None, None, landed, None, None, landed]
        found = with_slides(VOICINGS, 0.0, struck, chosen, index_melody(form), [()] * 7, Thrown())
        return [voicing and voicing.midi for voicing in found]

    above, below = [(59, 64, 69), (58, 63, 68)], [(55, 60, 65), (56, 61, 66)]
    assert slid(None, 70)[1:3] == above and slid(None, 64)[1:3] == below, "nearer the hand"
    assert slid(F(2), 70)[4:6] == below and slid(F(2), 64)[4:6] == above, "from the other side"
    assert slid(F(2), 70)[0] == (60, 65, 70) and slid(F(2), 70)[3] == slid(F(2), 70)[6] == landed.midi
