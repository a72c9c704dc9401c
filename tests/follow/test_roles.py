"""What each role is likely to strike: whole probabilities, where the trade would look for them.

Which notes belong to a chord, and where chords and bass notes are placed, is common practice.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from companion.arrange.writing import write_arrangement
from companion.chart.model import Chart
from companion.follow.places import PROMISED, Places
from companion.follow.roles import places_for
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
