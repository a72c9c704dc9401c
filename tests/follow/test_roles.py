"""What each role is likely to strike: whole probabilities, where the trade would look for them.

Which notes belong to a chord, and where chords and bass notes are placed, is common practice.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from companion.arrange.writing import write_arrangement
from companion.chart.model import Chart, WrittenNote, WrittenPart
from companion.follow import roles
from companion.follow.places import PROMISED, Places
from companion.follow.roles import PlaceDraft, manner_for, places_for, readings_for
from companion.music.chords import parse_chord
from companion.music.pitch import pitch_in_key
from companion.preferences import preferences
from companion.preferences.following import FollowingPreferences

CHORDS = "| Dm7 | G7 | Cmaj7 | Em7b5 A7alt |"


def places(chart: Chart, role: str) -> Places:
    return places_for(chart.unfold(), frozenset(role.split(",")))


def chances(where: Places, beat: float) -> np.ndarray[Any, Any]:
    """Probability of each MIDI number at the place nearest to a beat."""
    k = int(np.argmin(np.abs(where.beat - beat)))
    return np.exp(where.pitch[where.row[k]])


@pytest.fixture(scope="session")
def changes(stand: Any) -> Chart:
    return stand.chart((CHORDS, "| D2 F2 A2 c2 | B3 A G4 | E2 G2 B2 d2 | _B2 G2 ^c4 |"))


@pytest.mark.parametrize("role", ["melody", "chords", "bass", "solo", "melody,chords", "bass,solo"])
@pytest.mark.parametrize("metre", ["4/4", "3/4", "5/4", "6/8", "7/8"])
def test_what_is_expected_are_whole_probabilities(stand: Any, role: str, metre: str) -> None:
    for chords in (CHORDS, "| N.C. | % | % | % |", "| Dm7 | N.C. | Cmaj7 | % |"):
        found = places(stand.chart((chords, ""), metre=metre), role)
        assert np.exp(found.pitch).sum(axis=1) == pytest.approx(1.0)
        assert np.exp(found.other).sum(axis=1) == pytest.approx(1.0)
        assert ((found.strike > 0) & (found.strike < 1)).all() and ((found.again >= 0) & (found.again < 1)).all()
        assert (np.diff(found.beat) >= 0).all() and found.beat[0] >= 0 and found.beat[-1] < found.period
        assert found.first.any() and found.opening.any()


def test_a_melodys_places_are_its_notes_and_each_expects_its_own(changes: Chart) -> None:
    found = places(changes, "melody")
    written = changes.unfold().melody
    assert list(found.beat) == [float(n.beat) for n in written]
    for note in written:
        chance = chances(found, float(note.beat))
        assert chance[note.pitch.midi] > 0.5 and chance.argmax() == note.pitch.midi
        assert chance.min() > 0, "any key may be struck by mistake"
        assert chance[note.pitch.midi + 1] > chance[note.pitch.midi + 6], "neighbours sooner than others"
    assert (found.strike >= PROMISED).all()


def test_a_pickup_lies_at_the_end_of_the_form_and_is_no_promise(stand: Any) -> None:
    found = places(stand.chart((stand.TEN[0], "GA" + stand.TEN[1])), "melody")
    assert list(found.beat[-2:]) == [31.0, 31.5] and (found.strike[-2:] < PROMISED).all()


def test_whoever_plays_melody_and_bass_is_followed_by_the_melody(changes: Chart) -> None:
    assert list(places(changes, "melody,chords,bass").beat) == list(places(changes, "melody").beat)


def test_a_melody_that_is_not_in_the_chart_is_followed_by_the_chords(stand: Any) -> None:
    chart = stand.chart((CHORDS, ""))
    assert list(places(chart, "melody").beat) == list(places(chart, "solo").beat)
    assert list(places(chart, "melody,chords").beat) == list(places(chart, "chords").beat)


@pytest.mark.parametrize(("beat", "root"), [(0, 2), (4, 7), (8, 0), (12, 4), (14, 9)])
def test_a_walking_bass_is_expected_on_the_root_where_a_chord_begins(changes: Chart, beat: float, root: int) -> None:
    chance = chances(places(changes, "bass"), beat)
    by_class = [chance[pc::12].sum() for pc in range(12)]
    assert int(np.argmax(by_class)) == root and by_class[root] > 0.5
    assert chance[28:56].sum() > 0.8, "E1 to G3"


def test_before_a_new_chord_the_bass_approaches_it(changes: Chart) -> None:
    chance = chances(places(changes, "bass"), 3)  # to G
    by_class = np.array([chance[pc::12].sum() for pc in range(12)])
    assert by_class[[6, 8]].sum() > by_class[[1, 10]].sum() * 2


def test_bass_notes_are_promised_on_every_beat_and_chords_and_solos_promise_nothing(changes: Chart) -> None:
    bass = places(changes, "bass")
    assert set(bass.beat[bass.strike >= PROMISED]) == {float(n) for n in range(16)}
    for role in ("chords", "solo"):
        assert (places(changes, role).strike < PROMISED).all()


def test_rootless_chords_are_expected_by_third_and_seventh(changes: Chart) -> None:
    chance = chances(places(changes, "chords"), 4)
    by_class = [chance[pc::12].sum() for pc in range(12)]
    assert {11, 5} <= set(np.argsort(by_class)[-4:]), "B and F of G7"
    assert by_class[6] < 0.5 * by_class[11], "not F sharp"


def test_a_chord_just_before_the_bar_line_is_the_chord_to_come(changes: Chart) -> None:
    late = chances(places(changes, "chords"), 3.5)
    by_class = [late[pc::12].sum() for pc in range(12)]
    assert by_class[11] > by_class[0], "the third of G7 sooner than the seventh of Dm7"


def test_swing_delays_off_beat_quavers_and_no_triplet(stand: Any) -> None:
    chart = stand.chart(("| C6 |", "| (3cde fg a2 b2 |"))
    found = places(chart, "melody")
    swung = dict(zip(np.round(found.beat, 3), found.swung, strict=True))
    assert swung == {0.0: 0, 0.333: 0, 0.667: 0, 1.0: 0, 1.5: 1, 2.0: 0, 3.0: 0}
    assert not places(stand.chart(("| C6 |", "| cdef g4 |"), feel="straight"), "melody").swung.any()
    assert not places(stand.chart(("| C6 |", "| cde fga |"), metre="6/8"), "melody").swung.any()


@pytest.mark.parametrize("part", ["bass", "chords"])
def test_what_is_written_of_a_part_is_what_its_player_is_expected_to_play(changes: Chart, part: str) -> None:
    written = write_arrangement(changes, parts=(part,), treatment="walking", seed=1)
    kept = written.unfold().written_part(part)
    assert kept is not None
    found, free = places(written, part), places(changes, part)
    struck: dict[float, list[int]] = {}
    for note in kept.notes:
        struck.setdefault(float(note.beat % written.unfold().length), []).append(note.pitch.midi)
    keeps = getattr(preferences(FollowingPreferences).written, part)
    for beat, pitches in struck.items():
        k = int(np.argmin(np.abs(found.beat - beat)))
        assert found.beat[k] == pytest.approx(beat) and found.strike[k] > keeps * 0.9
        assert chances(found, beat)[pitches].sum() > keeps * 0.85
    rests = [k for k, beat in enumerate(free.beat) if not any(abs(beat - b) < 1e-6 for b in struck)]
    assert rests, "the part rests somewhere"
    for k in rests:
        here = int(np.argmin(np.abs(found.beat - free.beat[k])))
        assert found.strike[here] < free.strike[k] * 0.5, "where nothing is written, less is expected"


def test_bars_that_are_not_written_are_expected_as_ever(changes: Chart) -> None:
    written = write_arrangement(changes, parts=("bass",), bars=(1, 2), treatment="walking", seed=1)
    found, free = places(written, "bass"), places(changes, "bass")
    for beat in (8.0, 9.0, 13.0, 15.5):
        k = int(np.argmin(np.abs(found.beat - beat)))
        assert found.strike[k] == free.strike[int(np.argmin(np.abs(free.beat - beat)))]
        assert chances(found, beat) == pytest.approx(chances(free, beat))


# What is common practice of each role, as one hears it. The numbers themselves: tests/benchmarks/following.py


def test_a_slip_is_as_likely_to_the_neighbour_below_as_to_the_one_above(changes: Chart) -> None:
    for note in changes.unfold().melody[:6]:
        chance, right = chances(places(changes, "melody"), float(note.beat)), note.pitch.midi
        for step in (1, 2, 12):
            assert chance[right - step] == pytest.approx(chance[right + step])
            assert 5 * chance[right + 6] < chance[right - step] < 0.05 * chance[right]


def test_two_hands_strike_more_beside_their_melody_or_bass_than_one(changes: Chart) -> None:
    for role in ("melody", "bass"):
        alone, both = places(changes, role).others, places(changes, f"{role},chords").others
        assert 0 < alone < 0.25, "a slip or an ornament in every bar at most"
        assert both > 1, "a chord of three or four notes every few beats"


def test_a_melody_is_left_out_least_and_a_soloist_or_comper_rests_as_they_like(changes: Chart) -> None:
    melody, bass, chords, solo = (places(changes, role) for role in ("melody", "bass", "chords", "solo"))
    assert melody.rest < bass.rest < 0.05 < chords.rest == solo.rest
    assert melody.leap > bass.leap > chords.leap > 0, "what is written note for note tells where somebody is"
    assert melody.resume == bass.resume == 1.0 > chords.resume > solo.resume > 0


def test_a_chord_has_several_notes_at_once_and_a_line_hardly_ever(changes: Chart) -> None:
    assert (places(changes, "chords").again > 0.5).all()
    for role in ("melody", "bass", "solo"):
        assert (places(changes, role).again < 0.1).all()


def test_a_soloist_strikes_off_the_beat_as_readily_as_on_it_and_lays_back_on_the_beat(stand: Any) -> None:
    solo = places(stand.chart((CHORDS, "")), "solo")
    on, off = solo.beat % 1 == 0, solo.beat % 1 == 0.5
    assert solo.strike[on].min() > 0.3 and solo.strike[off].min() > 0.3
    assert solo.strike[~on & ~off].max() < 0.5 * solo.strike[on].min(), "triplets and semiquavers are rarer"
    assert (solo.late[on] > 0).all() and not solo.late[~on].any()
    assert set(solo.swung[off]) == {1.0} and not solo.swung[on].any()


def test_a_soloist_plays_chord_notes_on_the_beat_scale_notes_between_and_others_seldom(
    changes: Chart,
) -> None:
    solo = places(changes, "solo")
    for beat in (4.0, 4.5):  # over G7: G B D F; A C E of the mixolydian; the rest
        by_class = np.array([chances(solo, beat)[pc::12].sum() for pc in range(12)])
        tones, scale, outside = by_class[[7, 11, 2, 5]], by_class[[9, 0, 4]], by_class[[8, 10, 1, 3, 6]]
        assert min(tones.min(), scale.min()) > 2 * outside.max()
        assert beat % 1 or tones.min() > scale.max(), "passing notes stand off the beat"
    share = [chances(solo, beat)[np.isin(np.arange(128) % 12, [7, 11, 2, 5])].sum() for beat in (4.0, 4.5)]
    assert share[0] > share[1]


def test_a_last_chord_is_struck_with_its_root_or_bass_and_nothing_comes_after_it(stand: Any) -> None:
    form = stand.chart(("| Dm7 | G7 | Cmaj7 | C6/E |", "")).unfold()
    for role, low in (("chords", 4), ("bass", 4)):
        found = places_for(form, frozenset({role}), hold=Fraction(12))
        assert found.beat.max() == 12.0 and found.strike[-1] > 0.9
        by_class = [chances(found, 12.0)[pc::12].sum() for pc in range(12)]
        assert int(np.argmax(by_class)) == low, "E, the bass that is written"
        assert by_class[6] < 0.05, "no F sharp"


def test_before_a_chord_a_bass_approaches_by_half_steps_first_then_by_the_fifth(changes: Chart) -> None:
    """From above and below alike; a leap of a fifth down or a fourth up leads as well."""
    chance = chances(places(changes, "bass"), 3)  # Dm7 to G7
    by_class = np.array([chance[pc::12].sum() for pc in range(12)])
    neighbours, whole_steps = by_class[[6, 8]], by_class[[5, 9]]
    assert neighbours[0] == pytest.approx(neighbours[1], rel=0.35)
    assert neighbours.min() > by_class[2] * 0.8 > by_class[[1, 10, 11]].max(), "D leads to G as its fifth"
    assert whole_steps.min() > by_class[[1, 10]].max()


def test_a_walking_bass_is_low_and_comping_lies_round_middle_c(changes: Chart) -> None:
    notes = np.arange(128)
    for role, low, high in (("bass", 33, 50), ("chords", 50, 72), ("solo", 58, 82)):
        chance = chances(places(changes, role), 4)
        assert chance[low : high + 1].sum() > 0.6 and low < (notes * chance).sum() < high


def test_phrases_begin_after_two_beats_without_a_note_and_where_there_are_none_every_four_bars(stand: Any) -> None:
    sung = stand.chart(("| C6 | % | Dm7 | G7 |", "| c2 d2 e2 g2 | e4 z4 | d2 f2 a2 b2 | g2 f2 e2 d2 |"))
    found = places(sung, "melody")
    assert list(found.beat[found.opening]) == [0, 8]
    even = stand.chart(("| C6 | % | % | % | % | % | % | % |", "| " + " | ".join(["c2 d2 e2 f2"] * 8) + " |"))
    found = places(even, "melody")
    assert list(found.beat[found.opening]) == [0.0, 16.0]


def test_a_soloist_keeps_time_strictly_and_touches_the_keys_more_loosely(changes: Chart) -> None:
    melody, solo = (manner_for(changes.unfold(), frozenset({role})) for role in ("melody", "solo"))
    assert solo.touch > melody.touch
    assert manner_for(changes.unfold(), frozenset({"bass", "solo"})) == melody


def test_a_melodys_player_may_phrase_it_fill_in_or_give_it_up_and_one_who_comps_is_taken_at_their_word(
    changes: Chart, stand: Any
) -> None:
    readings = readings_for(changes.unfold(), frozenset({"melody"})).each
    assert sum(reading.share for reading in readings if reading.part == "melody") > 0.9
    assert readings[0].share == max(reading.share for reading in readings), "as it is written, above all"
    assert readings[-1].part == "solo"
    assert [r.part for r in readings_for(changes.unfold(), frozenset({"chords"})).each] == ["chords"]
    bare = stand.chart(("| N.C. | % |", "| c2 d2 e2 f2 | g8 |")).unfold()
    assert {reading.part for reading in readings_for(bare, frozenset({"melody"})).each} == {"melody"}


# The shares by which pitches, strokes and strays are expected, worked by hand


@pytest.mark.parametrize(
    ("midi", "neighbours"), [(60, 6), (0, 3), (1, 4), (127, 3), (11, 5), (12, 6), (115, 6), (116, 5)]
)
def test_of_a_hundred_strokes_ninety_two_are_right_and_one_each_goes_to_a_neighbour_or_an_octave(
    midi: int, neighbours: int
) -> None:
    """1.2 each to a semitone, a whole tone and an octave above and below, where there is such a key; 2 to any."""
    row = roles._slipping(midi)
    whole = 0.02 + 0.92 + 0.012 * neighbours
    near = [key for step in (1, 2, 12) for key in (midi - step, midi + step) if 0 <= key <= 127]
    assert len(near) == neighbours
    for key in range(128):
        share = 0.02 / 128 + 0.92 * (key == midi) + 0.012 * (key in near)
        assert row[key] == pytest.approx(share / whole)


def test_pitch_classes_lie_in_a_register_that_fades_from_its_centre() -> None:
    pcs = np.array([0.5, 0.0, 0.0, 0.0, 0.25, 0.0, 0.0, 0.25, 0.0, 0.0, 0.0, 0.0])
    row = roles._spread(pcs, 48, 72, 60, 6.0)
    bell = [np.exp(-0.5 * ((midi - 60) / 6) ** 2) * (48 <= midi <= 72) + 0.002 for midi in range(128)]
    share = [bell[midi] * pcs[midi % 12] for midi in range(128)]
    assert row == pytest.approx(np.array(share) / sum(share))


def test_notes_of_no_place_are_anywhere_round_the_middle_or_in_the_chord_that_accompanies(changes: Chart) -> None:
    form = changes.unfold()
    loose = np.array([0.3 / 128 + 0.7 / 40 * (48 <= midi < 88) for midi in range(128)])
    for role in ("melody", "bass", "solo"):
        other = np.exp(places(changes, role).other)
        assert other.shape == (16, 128) and other == pytest.approx(np.tile(loose, (16, 1)))
    other = np.exp(places(changes, "melody,chords").other)
    likes = preferences(FollowingPreferences).comping
    for cell, symbol in ((3, "Dm7"), (4, "G7"), (13, "Em7b5")):
        assert form.chord_at(cell).chord.symbol == symbol
        voiced = roles._spread(roles._voiced(form.chord_at(cell).chord, likes), 45, 82, 60, 7)
        assert other[cell] == pytest.approx(0.3 * loose + 0.7 * voiced)


@pytest.mark.parametrize(
    ("role", "others", "leap", "rest", "resume", "again"),
    [
        ("melody", 0.15, 1.0, 0.004, 1.0, 0.02),
        ("melody,chords", 1.5, 1.0, 0.004, 1.0, 0.02),
        ("bass", 0.06, 0.1, 0.02, 1.0, 0.02),
        ("bass,solo", 1.5, 0.1, 0.02, 1.0, 0.02),
        ("chords", 0.05, 0.02, 0.2, 0.3, 0.7),
        ("solo", 0.05, 0.02, 0.2, 0.05, 0.05),
    ],
)
def test_how_a_role_strays_leaps_rests_and_begins_again(
    changes: Chart, role: str, others: float, leap: float, rest: float, resume: float, again: float
) -> None:
    found = places(changes, role)
    assert (found.others, found.leap, found.rest, found.resume, set(found.again)) == (
        others,
        leap,
        rest,
        resume,
        {again},
    )
    assert (found.period, found.bar, found.pulse, found.cell) == (16.0, 4.0, 1.0, 1.0)


def test_rhythm_alone_has_a_slot_for_each_part_of_the_beat_alike_in_pitch(stand: Any) -> None:
    found = places(stand.chart(("| N.C. | % |", "")), "solo")
    assert found.count == 8 * 24 and found.beat[1] == pytest.approx(1 / 24) and found.rhythm is not None
    assert (found.others, found.leap, found.resume) == (1e-3, 0, 0)
    assert set(found.strike) == {1e-3} and set(found.again) == {0.2} and set(found.scatter) == {0.03}
    assert np.exp(found.pitch) == pytest.approx(np.full((1, 128), 1 / 128))


def test_strokes_of_each_role_are_scattered_and_late_as_its_notes_are(changes: Chart) -> None:
    melody = places(changes, "melody")
    assert set(melody.strike) == {0.95} and set(melody.scatter[melody.beat % 1 == 0]) == {0.0}
    assert set(places_for(changes.unfold(), frozenset({"bass"})).strike) == {0.94, 0.08}
    likes = preferences(FollowingPreferences).solo
    solo = places(changes, "solo")
    for beat, strike, scatter, late in zip(solo.beat % 1, solo.strike, solo.scatter, solo.late, strict=True):
        assert strike == likes.strikes.simple[str(Fraction(float(beat)).limit_denominator(12))]
        assert scatter == (0.05 if beat == 0 else 0.065 if strike > 0.2 else 0.03)
        assert late == (likes.laid_back if beat == 0 else 0.0)


def test_an_off_beat_of_a_melody_is_struck_less_exactly_and_a_pickup_left_out_sooner(stand: Any) -> None:
    found = places(stand.chart(("| Cmaj7 | Dm7 |", "G | c3 d e2 f2 | g8 |")), "melody")
    by_beat = dict(zip(found.beat, zip(found.strike, found.scatter, found.swung, strict=True), strict=True))
    assert by_beat == {0.0: (0.95, 0.0, 0.0), 1.5: (0.95, 0.02, 1.0), 2.0: (0.95, 0.0, 0.0), 3.0: (0.95, 0.0, 0.0),
                       4.0: (0.95, 0.0, 0.0), 7.5: (0.6, 0.02, 1.0)}  # fmt: skip
    assert list(found.beat[found.top]) == [7.5] and list(found.beat[found.opening]) == [0.0, 7.5]
    assert places(stand.chart(("| Cmaj7 |", "c d/2e/2 f4 g2")), "melody").swung == pytest.approx([0, 1, 0.5, 0, 0])


def test_who_begins_at_the_top_without_a_promise_begins_anywhere_in_two_bars(changes: Chart, stand: Any) -> None:
    solo = places(changes, "solo")
    assert solo.beat[solo.top].max() == solo.beat[solo.beat < 8].max() and solo.top.sum() == (solo.beat < 8).sum()
    bass = places(changes, "bass")
    assert list(bass.beat[bass.top]) == [0.0]


def test_phrases_begin_after_two_beats_and_not_after_less(stand: Any) -> None:
    found = places(stand.chart(("| Cmaj7 | Dm7 | G7 | C6 |", "| c2 d2 z3 e | z4 f4 | z3 g z4 | a2 b2 c'4 |")), "melody")
    assert list(found.beat[found.opening]) == [0.0, 3.5, 6.0, 9.5, 12.0]


def test_a_last_chord_is_held_over_its_root_or_the_bass_that_is_written(stand: Any) -> None:
    form = stand.chart(("| C6/E |", "")).unfold()
    likes = preferences(FollowingPreferences).comping
    last = places_for(form, frozenset({"chords"}), hold=Fraction(0))
    pcs = 0.7 * roles._voiced(form.chord_at(0).chord, likes)
    pcs[4] += 0.3
    assert (list(last.strike), list(last.again)) == ([0.95], [0.8])
    assert chances(last, 0.0) == pytest.approx(roles._spread(pcs, 26, 96, 60, 16))


def by_class(row: Any) -> list[float]:
    return [float(row[pc::12].sum()) for pc in range(12)]


def test_a_walking_note_is_a_root_an_approach_or_what_lies_between(changes: Chart) -> None:
    """Dm7 to G7: three quarters to a root where a chord begins; of what leads, a fifth to each semitone by the goal,
    six in a hundred to each whole tone, eight to its fifth above, five to that below; the rest as between."""
    dm, g7 = parse_chord("Dm7"), parse_chord("G7")
    between = np.array([roles._improvised(dm, 0.6, 0.25)[pc] for pc in range(12)])
    arrives, leads = 0.25 * between, 0.35 * between
    arrives[2] += 0.75
    for step, share in ((1, 0.2), (-1, 0.2), (2, 0.06), (-2, 0.06), (7, 0.08), (5, 0.05)):
        leads[(7 + step) % 12] += share
    for (here, there), pcs in (((False, False), between), ((True, True), arrives), ((False, True), leads)):
        row = roles._spread(pcs / pcs.sum(), 26, 60, 42, 7)
        assert roles._walked(dm, g7, here, there) == pytest.approx(row)


def test_an_improvised_note_is_of_the_chord_of_its_scale_or_outside(changes: Chart) -> None:
    found = roles._improvised(parse_chord("G7"), 0.6, 0.3)
    tones, scale, outside = [7, 11, 2, 5], [9, 0, 4], [8, 10, 1, 3, 6]
    assert [found[group] for group in (tones, scale, outside)] == [
        pytest.approx(np.full(4, 0.15)), pytest.approx(np.full(3, 0.1)), pytest.approx(np.full(5, 0.02)),
    ]  # fmt: skip
    assert roles._improvised(parse_chord("N.C."), 0.6, 0.3) == pytest.approx(np.full(12, 1 / 12))


def test_what_is_written_of_a_part_is_likelier_and_what_is_not_less(stand: Any) -> None:
    """Of a bass that is written, nine tenths as it stands: G where D was likely, and the second beat left out."""
    form = stand.chart(("| Dm7 | G7 |", "")).unfold()
    note = WrittenNote(Fraction(0), Fraction(2), pitch_in_key(43), "left")
    off = WrittenNote(Fraction(5, 4), Fraction(1), pitch_in_key(40), "left")
    form = replace(form, written=(WrittenPart("bass", frozenset({1}), (note, off)),))
    plain = [PlaceDraft(Fraction(n), 0.5, np.full(128, 1 / 128)) for n in (0, 1, 4)]
    found = {float(draft.beat): draft for draft in roles.with_written(form, "bass", plain, 0.9)}
    assert {beat: draft.strike for beat, draft in found.items()} == {
        0.0: pytest.approx(0.9 * 0.95 + 0.05), 1.0: pytest.approx(0.05), 4.0: 0.5, 1.25: pytest.approx(0.9 * 0.95),
    }  # fmt: skip
    assert found[0.0].row == pytest.approx(0.9 * roles._slipping(43) + 0.1 / 128)
    assert found[1.25].row == pytest.approx(roles._slipping(40)) and found[1.25].again == 0.02
    assert roles.with_written(form, "chords", plain, 0.9) is plain


# where each role is looked for


@pytest.mark.parametrize(
    ("metre", "first", "many", "swung"),
    [
        ("4/4", [0, 0.5, 1, 1.5], 32, [0, 1, 0, 1]),
        ("3/4", [0, 0.5, 1, 1.5], 24, [0, 1, 0, 1]),
        ("6/8", [0, 1, 1.5, 2.5], 16, [0, 0, 0, 0]),
    ],
)
def test_a_bass_is_looked_for_on_each_beat_and_a_quaver_before_the_next(
    stand: Any, metre: str, first: list[float], many: int, swung: list[float]
) -> None:
    drafts = roles.bass_drafts(stand.chart((CHORDS, ""), metre=metre).unfold())
    assert [float(draft.beat) for draft in drafts[:4]] == first and len(drafts) == many
    assert [draft.swung for draft in drafts[:4]] == swung
    assert {draft.strike for draft in drafts[::2]} == {0.94} and {draft.strike for draft in drafts[1::2]} == {0.08}
    assert {(draft.again, draft.scatter, draft.late) for draft in drafts} == {(0.02, 0.0, 0.0)}


def test_a_quaver_before_a_chord_leads_to_it_and_the_last_to_the_first(stand: Any) -> None:
    form = stand.chart(("| Cmaj7 | Dm7 G7 |", "")).unfold()
    drafts = {float(draft.beat): draft.row for draft in roles.bass_drafts(form)}
    c, d, g = (form.chord_at(Fraction(beat)).chord for beat in (0, 4, 6))
    expected = {
        0: (c, c, True, False), 2: (c, c, False, False), 3: (c, d, False, True), 3.5: (c, d, False, True),
        4: (d, d, True, False), 5: (d, g, False, True), 5.5: (d, g, False, True), 7: (g, c, False, True),
        2.5: (c, c, False, True), 7.5: (g, c, False, True),
    }  # fmt: skip
    for beat, walked in expected.items():
        assert drafts[beat] == pytest.approx(roles._walked(*walked)), beat


def test_chords_are_looked_for_on_every_quaver_as_often_as_their_metre_has_them_there(stand: Any) -> None:
    likes = replace(
        preferences(FollowingPreferences).comping, strikes={"4/4": (0.1, 0.2, 0.3)}, other_metres=(0.4, 0.5)
    )
    drafts = roles.chord_drafts(stand.chart((CHORDS, "")).unfold(), likes)
    assert [float(draft.beat) for draft in drafts] == [n / 2 for n in range(32)]
    assert [draft.strike for draft in drafts[:5]] == [0.1, 0.2, 0.3, 0.1, 0.2]
    assert [draft.swung for draft in drafts[:4]] == [0, 1, 0, 1] and {draft.again for draft in drafts} == {0.7}
    other = roles.chord_drafts(stand.chart((CHORDS, ""), metre="3/4").unfold(), likes)
    assert [draft.strike for draft in other[:3]] == [0.4, 0.5, 0.4] and len(other) == 24


def test_a_pickup_that_the_end_leads_back_with_is_looked_for_once(stand: Any) -> None:
    form = stand.chart((CHORDS, "A| D2 F2 A2 c2 | B3 A G4 | E2 G2 B2 d2 | _B2 G2 ^c3 A |")).unfold()
    assert form.melody[0].beat < 0 and form.melody[0].pitch == form.melody[-1].pitch
    assert form.melody[0].beat + form.length == form.melody[-1].beat
    drafts = roles.melody_drafts(form)
    assert len(drafts) == len(form.melody) - 1 and drafts[0].beat == 0
    other = replace(form, melody=(replace(form.melody[0], pitch=form.melody[1].pitch), *form.melody[1:]))
    assert len(roles.melody_drafts(other)) == len(form.melody), "another note is looked for by itself"
    assert [draft.strike for draft in roles.melody_drafts(other)[:2]] == [0.6, 0.95]


@pytest.mark.parametrize(
    ("beat", "share"),
    [("0", 0.0), ("1/2", 1.0), ("7/2", 1.0), ("1/4", 0.5), ("3/4", 0.5), ("1/3", 0.0), ("2/3", 0.0), ("1/8", 0.0),
     ("-1/2", 1.0)],
)  # fmt: skip
def test_swing_delays_the_off_beat_quaver_wholly_and_semiquavers_by_half(stand: Any, beat: str, share: float) -> None:
    form = stand.chart((CHORDS, "")).unfold()
    assert roles.swings(form) and roles.swung(form, Fraction(beat)) == share
    straight = replace(form, feel="straight")
    assert not roles.swings(straight) and roles.swung(straight, Fraction(beat)) == 0.0


@pytest.mark.parametrize(
    ("you", "others", "leap", "rest", "resume"),
    [("melody", 0.15, 1.0, 0.004, 1.0), ("melody,chords", 1.5, 1.0, 0.004, 1.0), ("bass", 0.06, 0.1, 0.02, 1.0),
     ("bass,chords", 1.5, 0.1, 0.02, 1.0), ("chords", 0.05, 0.02, 0.2, 0.3), ("solo", 0.05, 0.02, 0.2, 0.05)],
)  # fmt: skip
def test_what_else_is_expected_of_a_player_by_their_parts(
    changes: Chart, you: str, others: float, leap: float, rest: float, resume: float
) -> None:
    found = places(changes, you)
    assert (found.others, found.leap, found.rest, found.resume) == (others, leap, rest, resume)
