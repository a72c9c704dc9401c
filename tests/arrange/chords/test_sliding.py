"""Fourths sliding in parallel by semitones to an arrival that fits (common practice)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

from companion.arrange.audit.chords import chords_of
from companion.arrange.chords.context import Strike
from companion.arrange.chords.shapes import Shape
from companion.arrange.chords.sliding import landings
from companion.arrange.chords.voicings import Voicing
from companion.arrange.harmony import harmonies
from companion.arrange.melody.part import index_melody
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.arrange.treatments import treatment
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences

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
