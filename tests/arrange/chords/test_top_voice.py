"""The line of the chords' top notes: it moves, by step, against the melody, and rests under its peaks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from companion.arrange.audit.chords import chords_of
from companion.arrange.audit.top_voice import top_voice_figures
from companion.arrange.chords.top_voice import WAYS, MelodyMove, line_costs, melody_move, ways_of
from companion.arrange.melody.part import MelodyIndex, index_melody
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.chart.model import Form, MelodyNote
from companion.load import load
from companion.music.pitch import pitch_in_key
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences
from companion.resources import chart_names, chart_path

Composer = Callable[..., Form]


def struck(form: Form, treatment: str | None = None, chorus: int = 1, seed: int = 0) -> list[list[int]]:
    notes = arrange(form, "chords", Request(treatment=treatment, chorus=chorus, seed=seed))
    return [[n.midi for n in chord] for _, chord in chords_of(notes)]


def test_on_one_chord_the_top_voice_moves_rather_than_stands(compose: Composer) -> None:
    form = compose(" | ".join(["Dm7"] * 16))
    for chorus in range(1, 5):
        tops = [chord[-1] for chord in struck(form, "solos", chorus)]
        still = sum(a == b for a, b in pairwise(tops))
        assert still <= 0.1 * len(tops)


def test_the_very_same_voicing_is_rare_again_in_our_tunes() -> None:
    same = moves = still = 0
    for name in chart_names()[::3]:
        row = struck(load(chart_path(name)).unfold(), seed=5)
        moves += len(row) - 1
        same += sum(a == b for a, b in pairwise(row))
        still += sum(a[-1] == b[-1] for a, b in pairwise(row))
    assert same <= 0.10 * moves
    assert still <= 0.25 * moves


def test_the_top_voice_goes_against_a_melody_that_climbs_or_falls(compose: Composer) -> None:
    """Contrary motion between outer voices (common practice); the hand still reaches both."""
    rising = [(4 * k, 4, 67 + 2 * k) for k in range(6)]
    falling = [(4 * k, 4, 77 - 2 * k) for k in range(6)]
    ways = {}
    for way, melody in (("up", rising), ("down", falling)):
        form = compose("Dm7 | G7 | Cmaj7 | Fmaj7 | Dm7 | G7", melody=melody)
        along = against = 0
        for chorus in range(1, 9):
            notes = arrange(form, "chords", Request(treatment="walking", chorus=chorus))
            for (before, a), (beat, b) in pairwise(chords_of(notes)):
                if int(before // 4) != int(beat // 4) and a[-1].midi != b[-1].midi:
                    rose = b[-1].midi > a[-1].midi
                    along += rose == (way == "up")
                    against += rose != (way == "up")
        ways[way] = against / (along + against)
    assert min(ways.values()) >= 0.3, ways


def test_under_a_held_melody_note_a_chord_has_fewer_notes_than_in_the_open(compose: Composer) -> None:
    changes = " | ".join(["Dm7", "G7", "Cmaj7", "A7"] * 4)
    held = compose(changes, melody=[(4 * k, 4, 74) for k in range(16)])
    few = [len(c) for chorus in range(1, 4) for c in struck(held, "walking", chorus)]
    full = [len(c) for chorus in range(1, 4) for c in struck(compose(changes), "walking", chorus)]
    assert sum(few) / len(few) <= 3.3 < 3.7 <= sum(full) / len(full)


def test_what_the_melody_does_between_two_chords_is_told(compose: Composer) -> None:
    form = compose("C | F | G | C", melody=[(0, 2, 67), (4, 4, 72), (8, 2, 65)])
    melody = index_melody(form)
    assert melody_move(melody, 1, 5, 8).way == 1
    assert melody_move(melody, 1, 5, 8).peak
    assert melody_move(melody, 5, 9, 8).way == -1
    assert not melody_move(melody, 5, 9, 8).peak
    assert melody_move(melody, 9, 11, 8).rests


def test_a_top_voice_that_stands_and_chords_that_come_again_are_found(compose: Composer) -> None:
    form = compose("Dm7 | G7", melody=[(0, 4, 77)])

    def chord(beat: int, *midi: int) -> list[Note]:
        return [Note(Fraction(beat), Fraction(1), pitch_in_key(m), "chords") for m in midi]

    notes = [*chord(1, 60, 65, 69), *chord(2, 60, 65, 69), *chord(3, 62, 69), *chord(5, 59, 65, 76)]
    found = {f.name: f.value for f in top_voice_figures(form, plan(form, "walking"), [notes])}
    assert found["the chords' top voice stands still"] == 2 / 3
    assert found["the very same voicing again"] == 1 / 3
    assert found["leaps of the top voice, over a third"] == 1
    assert found["rootless chords in gaps with two or three notes"] == 1


# what its moves cost: each price another power of two, so that a sum says which are in it

COSTS = replace(
    preferences(VoicingPreferences).top_voice,
    still=1, still_on_one_chord=2, still_again=4, under_a_peak=0.5, third=8, leap=16, along=32, turn=64,
)  # fmt: skip
STILL, DOWN, UP = range(WAYS)
HOLDS, REST = MelodyMove(0, False, False), MelodyMove(0, False, True)
PEAK, RISEN, FALLEN = MelodyMove(0, True, False), MelodyMove(1, False, False), MelodyMove(-1, False, False)


@pytest.mark.parametrize(
    ("move", "came", "same", "melody", "cost"),
    [
        (0, DOWN, False, HOLDS, 1),
        (0, UP, False, HOLDS, 1),
        (0, STILL, False, HOLDS, 1 + 4),  # the second time
        (0, UP, True, HOLDS, 2),
        (0, STILL, True, HOLDS, 2 + 4),
        (0, STILL, False, PEAK, (1 + 4) / 2),
        (0, UP, True, PEAK, 2 / 2),
        (0, UP, False, RISEN, 1),
        (1, STILL, False, HOLDS, 0),
        (1, UP, False, HOLDS, 0),
        (1, DOWN, False, HOLDS, 64),  # it turns round
        (-1, UP, False, HOLDS, 64),
        (-1, DOWN, False, HOLDS, 0),
        (1, DOWN, False, REST, 0),  # as it may where the melody rests
        (-1, UP, False, REST, 0),
        (2, UP, False, HOLDS, 0),
        (3, UP, False, HOLDS, 8),
        (-4, DOWN, True, HOLDS, 8),
        (5, UP, False, HOLDS, 8 + 16),
        (-7, DOWN, False, HOLDS, 8 + 3 * 16),
        (2, UP, False, RISEN, 32),  # along with the melody
        (-2, DOWN, False, RISEN, 0),
        (-2, DOWN, False, FALLEN, 32),
        (2, UP, False, FALLEN, 0),
    ],
)
def test_a_move_of_the_top_voice_costs_what_it_does(
    move: int, came: int, same: bool, melody: MelodyMove, cost: float
) -> None:
    tops = np.array([[60, 72], [60 + move, 79]])
    assert line_costs(COSTS, tops, [same], [melody])[0, 0, came, 0] == cost


def test_the_way_of_a_move_is_still_down_or_up() -> None:
    assert ways_of(np.array([[60, 61, 0], [60, 59, 62]])).tolist() == [[[STILL, DOWN, UP], [DOWN, DOWN, UP], [UP] * 3]]


@pytest.mark.parametrize(
    ("before", "beat", "around", "found"),
    [
        (-30, -20, 8, MelodyMove(0, False, True)),  # not begun
        (-30, 1, 8, MelodyMove(0, False, True)),
        (0, 1, 8, MelodyMove(0, False, False)),
        (0, 1, 2.9, MelodyMove(0, True, False)),  # the higher one is three quarters on
        (0, 1, 3, MelodyMove(0, False, False)),
        (0, 1.5, 0, MelodyMove(0, True, False)),
        (0, 2, 1, MelodyMove(0, False, True)),  # ended, and a rest is no peak
        (0, 4, 8, MelodyMove(1, True, False)),
        (4, 8, 4, MelodyMove(-1, False, False)),
        (4, 8, 3.9, MelodyMove(-1, True, False)),
        (8, 10, 1, MelodyMove(0, True, False)),  # the same note again
        (4, 13, 1, MelodyMove(-1, False, True)),
    ],
)
def test_what_the_melody_has_done_counts_from_its_notes_on(
    compose: Composer, before: float, beat: float, around: float, found: MelodyMove
) -> None:
    form = compose("C | F | G | C", melody=[(0, 2, 67), (4, 4, 72), (8, 2, 65), (10, 2, 65)])
    assert melody_move(index_melody(form), before, beat, around) == found


def test_before_its_first_note_a_melody_has_not_moved() -> None:
    notes = tuple(MelodyNote(Fraction(beat), Fraction(1), pitch_in_key(midi)) for beat, midi in ((1, 60), (2, 64)))
    sung = MelodyIndex(notes, (1.0, 2.0), (2.0, 3.0))
    assert melody_move(sung, 0.0, 2.0, 4.0) == melody_move(sung, 0.0, 0.5, 4.0) == MelodyMove(0, False, True)
    assert melody_move(sung, 1.0, 2.0, 4.0) == MelodyMove(1, True, False), "from its first note on it has"
    assert melody_move(sung, 1.0, 1.5, 0.25) == MelodyMove(0, True, False)
    assert melody_move(sung, 1.0, 1.5, 0.5) == MelodyMove(0, False, False), "a higher note is near"
    assert melody_move(sung, 2.0, 3.0, 4.0) == MelodyMove(0, False, True)
