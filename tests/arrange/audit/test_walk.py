"""The figures of how a bass spells its chords and is phrased, each held to lines made by hand.

What counts as right is common practice, as bass methods teach it: chord tones on the strong beats, a fill where a
phrase ends, a bossa that keeps its pattern.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from companion.arrange.audit.figures import AuditFigure
from companion.arrange.audit.walk import (
    directedness,
    pattern_figures,
    phrase_bounds,
    says_subdominant,
    walk_figures,
)
from companion.arrange.part import Note
from companion.arrange.plan import plan
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]

THIRD_BEAT = "a chord tone on the third beat of a bar of one chord"
TWO_TONES = "two chord tones on the first three beats of such a bar"
ON_THIRD = "bars of one chord that begin with its third"
OWN = "chord tones of diminished and minor-major chords, the last beat apart"
SUBDOMINANT = "bars of a minor tonic that spell its subdominant"
SEMITONE = "approaches by a semitone"
FIFTH = "approaches from a fourth or fifth away"
DIRECTION = "phrases with a direction"
POINT = "phrases with one high or one low point"
FILL = "phrases that end with a fill"
SLOW = "beats of a slow walk that are subdivided"
PICKUP = "phrases in two with a pickup to the next"
KEPT = "bars of a section that keep its pattern"
VARIED = "sections whose last bar varies the pattern"


def bass(*midi: int, beats: Sequence[float | Fraction] | None = None) -> tuple[Note, ...]:
    """A line of a crotchet to each number, or at given beats."""
    places = [Fraction(b).limit_denominator(24) for b in (beats or range(len(midi)))]
    return tuple(Note(at, Fraction(9, 10), pitch_in_key(m), "bass", "left") for at, m in zip(places, midi, strict=True))


def walked(form: Form, *lines: tuple[Note, ...]) -> dict[str, AuditFigure]:
    return {f.name: f for f in walk_figures(form, plan(form, "walking"), lines)}


def patterned(form: Form, treatment: str, *lines: tuple[Note, ...]) -> dict[str, AuditFigure]:
    return {f.name: f for f in pattern_figures(form, plan(form, treatment), lines)}


def test_a_bar_that_has_no_chord_tone_on_three_is_found_and_a_ninth_is_none(compose: Composer) -> None:
    form = compose("C9 | F9 | C9 | F9")
    good = [36, 38, 40, 43, 41, 43, 45, 48]
    found = walked(form, bass(*good, *good))
    assert found[THIRD_BEAT].value == found[TWO_TONES].value == 1
    ninth = walked(form, bass(36, 40, 38, 43, *good[4:], *good))[THIRD_BEAT]
    assert ninth.value == 0.75 and ninth.places == ("bar 1 beat 3",)


def test_a_bar_with_the_root_alone_among_its_first_three_notes_is_found(compose: Composer) -> None:
    form = compose("C7 | C7")
    found = walked(form, bass(36, 38, 41, 43, 36, 40, 38, 41))[TWO_TONES]
    assert found.value == 0.5 and found.places == ("bar 1 beat 1",)


def test_bars_of_two_chords_and_bars_in_three_are_not_asked(compose: Composer) -> None:
    assert walked(compose("C7 F7"), bass(36, 38, 41, 43))[THIRD_BEAT].of == 0
    assert walked(compose("C7", metre="3/4"), bass(36, 38, 41))[THIRD_BEAT].of == 0


def test_a_bar_that_begins_on_its_third_is_counted(compose: Composer) -> None:
    form = compose("C7 | C7")
    assert walked(form, bass(36, 38, 40, 41, 40, 43, 48, 43))[ON_THIRD].value == 0.5


def test_a_diminished_chord_walked_by_another_scale_is_found(compose: Composer) -> None:
    form = compose("Bdim7 | Cmaj7 | Cm(maj7)")
    line = [35, 37, 40, 42, 36, 38, 40, 41, 36, 39, 43, 47]
    found = walked(form, bass(*line))[OWN]
    assert found.of == 6 and found.value == pytest.approx(4 / 6)


def test_the_fourth_of_a_minor_tonic_on_a_strong_beat_or_beside_its_sixth_spells_another_chord(
    compose: Composer,
) -> None:
    assert says_subdominant([0, 3, 5, 7]) and says_subdominant([0, 9, 7, 5]) and says_subdominant([0, 5, 9, 0])
    assert not says_subdominant([0, 3, 7, 5]) and not says_subdominant([0, 9, 7, 3]) and not says_subdominant([0, 5, 7])
    form = compose("Cm6 | Cm7 | Fm6 | G7", minor=True, fifths=-3)
    line = [36, 33, 41, 43, 36, 33, 41, 43, 41, 44, 48, 47, 43, 47, 50, 41]
    found = walked(form, bass(*line))[SUBDOMINANT]
    assert found.of == 2 and found.places == ("bar 1 beat 1",), "a minor seventh isn't asked"


def test_approaches_are_told_apart_and_a_root_after_a_root_is_none(compose: Composer) -> None:
    form = compose("C7 | F7 | Bb7 F7 | C7")
    line = [36, 40, 43, 40, 41, 45, 43, 41, 46, 48, 41, 48, 36, 40, 43, 46]
    found = walked(form, bass(*line))
    assert found[SEMITONE].value == found[SEMITONE].of ** -1 == 1 / 4, "E to F; the rest: F to B flat, C to F, C to C"
    assert found[FIFTH].value == 2 / 4
    roots = compose("C7 F7 Bb7 Eb7")
    assert walked(roots, bass(36, 41, 46, 39))[FIFTH].of == 0


def test_a_phrase_that_climbs_has_a_direction_and_one_that_saws_has_none(compose: Composer) -> None:
    form = compose("C7 | C7 | C7 | C7")
    climb = [28, 31, 33, 34, 36, 38, 40, 41, 43, 45, 46, 48, 50, 52, 53, 55]
    saw = [36, 48, 40, 52] * 4
    assert directedness(bass(*climb)) > 0.95 > 0.2 > directedness(bass(*saw))
    there_and_back = climb[::2] + climb[::-2]
    assert directedness(bass(*there_and_back)) > 0.9
    found = walked(form, bass(*climb), bass(*saw))
    assert found[DIRECTION].value == 0.5


def test_a_phrase_that_comes_to_its_top_and_bottom_again_has_no_high_point(compose: Composer) -> None:
    form = compose("C7 | C7 | C7 | C7")
    once = [36, 38, 40, 41, 43, 45, 46, 48, 50, 48, 46, 45, 43, 41, 40, 38]
    again = [36, 40, 43, 48, 36, 40, 43, 48, 36, 40, 43, 48, 36, 40, 43, 48]
    assert walked(form, bass(*once))[POINT].value == 1
    assert walked(form, bass(*again))[POINT].value == 0


def test_a_fill_is_a_note_between_the_last_two_beats_of_a_phrase(compose: Composer) -> None:
    form = compose("C7 | C7 | C7 | C7 | C7 | C7 | C7 | C7")
    beats = [*range(16), 15.5, *range(16, 26), 25.5, *range(26, 32)]
    line = bass(*([36, 38, 40, 43] * 9)[: len(beats)], beats=beats)
    assert walked(form, line)[FILL].value == 0.5, "the quaver in bar 7 is no fill"
    assert phrase_bounds(form) == [(0, 16), (16, 32)]
    assert phrase_bounds(compose("C7 | C7 | C7 | C7 | C7 | C7 | C7 | C7", tempo=280.0)) == [(0, 32)]


def test_a_slow_walk_is_counted_by_its_divided_beats(compose: Composer) -> None:
    slow, medium = (compose("C7 | C7", tempo=tempo) for tempo in (40.0, 120.0))
    line = bass(*[36, 38, 40, 43] * 2, 45, 46, beats=[0, 1, 2, 3, 4, 5, 6, 7, Fraction(22, 3), Fraction(23, 3)])
    assert walked(slow, line)[SLOW].value == 1 / 8
    assert walked(medium, line)[SLOW].of == 0


def test_a_phrase_in_two_that_ends_without_a_pickup_is_found(compose: Composer) -> None:
    form = compose("C7 | F7 | C7 | G7 | C7 | F7 | C7 | G7")
    beats = [*range(0, 16, 2), 15, *range(16, 32, 2)]
    found = patterned(form, "in-two", bass(*[36, 43] * 8, 38, beats=beats))[PICKUP]
    assert found.value == 0.5 and found.places == ("bar 8 beat 4",)


def test_a_bossa_that_deals_out_patterns_at_random_and_one_that_never_varies_are_found(compose: Composer) -> None:
    form = compose(" | ".join(["C7"] * 8), feel="straight")
    plain, turned = [0, 1.5, 2, 3.5], [0, 2, 3]

    def line(*ways: list[float]) -> tuple[Note, ...]:
        beats = [4 * k + at for k, way in enumerate(ways) for at in way]
        return bass(*[36] * len(beats), beats=beats)

    good = patterned(form, "bossa", line(*[plain] * 7, turned))
    assert good[KEPT].value == good[VARIED].value == 1
    assert patterned(form, "bossa", line(*[plain] * 8))[VARIED].value == 0
    dealt = patterned(form, "bossa", line(*[plain, turned] * 4))[KEPT]
    assert dealt.value == pytest.approx(4 / 7) and not dealt.reached
    assert patterned(form, "walking", line(*[plain] * 8))[KEPT].of == 0


@pytest.mark.parametrize(("tempo", "asked"), [(66.0, 0), (67.0, 2), (208.0, 1), (209.0, 0)])
def test_a_fill_is_asked_for_where_a_walk_is_neither_slow_nor_too_fast(
    compose: Composer, tempo: float, asked: int
) -> None:
    """At 208 a bar is so short that eight are a phrase."""
    form = compose(" | ".join(["C7"] * 8), tempo=tempo)
    assert walked(form, bass(*[36, 38, 40, 43] * 8))[FILL].of == asked
    assert walked(form, bass(*[36, 38, 40, 43] * 8))[SLOW].of == (32 if tempo == 66 else 0)


def test_of_two_beats_of_a_diminished_chord_both_are_its_own(compose: Composer) -> None:
    found = walked(compose("Bdim7 | Bdim7", metre="2/4"), bass(35, 37, 38, 41))[OWN]
    assert (found.of, found.value, found.places) == (4, 0.75, ("bar 1 beat 2",))


@pytest.mark.parametrize(("many", "asked"), [(7, 0), (8, 1)])
def test_a_phrase_of_fewer_than_eight_notes_has_no_direction_to_count(compose: Composer, many: int, asked: int) -> None:
    line = bass(*range(36, 36 + many), beats=[2 * n for n in range(many)])
    assert walked(compose("C7 | C7 | C7 | C7"), line)[DIRECTION].of == asked


@pytest.mark.parametrize(("apart", "once"), [(4, 1), (5, 0)])
def test_a_high_point_is_one_place_of_a_bar_at_most(compose: Composer, apart: int, once: int) -> None:
    """Within a tone of its top; at its bottom it stands all along."""
    line = [36] * 16
    line[4], line[4 + apart] = 48, 46
    assert walked(compose("C7 | C7 | C7 | C7"), bass(*line))[POINT].value == once
