"""The late fourth voice: as often as it is asked for, and a line by step (common practice)."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from companion.arrange.audit.chords import chords_of
from companion.arrange.audit.late import late_figures, lines
from companion.arrange.chords.context import Strike
from companion.arrange.chords.late import (
    NEVER,
    LateVoice,
    _asked,
    _choices,
    _delays,
    _End,
    _extended,
    _join,
    _line,
    _notes,
    gathered,
    with_late_voice,
)
from companion.arrange.chords.shape import Shape
from companion.arrange.chords.soundness import row
from companion.arrange.chords.voicings import Voicing
from companion.arrange.harmony import harmonies
from companion.arrange.melody.part import index_melody
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.arrange.treatments import treatment
from companion.chart.model import Form
from companion.music.kinds import degree
from companion.music.pitch import pitch_in_key
from companion.preferences import preferences
from companion.preferences.comping import CompingPreferences
from companion.preferences.voicings import VoicingPreferences
from tests.arrange.dice import Thrown

Composer = Callable[..., Form]
BALLADS = ["Dm7 | G7 | Cmaj7 | Am7", "Cm7b5 | F7alt | Bbm9 | Eb9sus4", "Dbmaj7 | Gbmaj7 | Fm7 | Bb7alt"]


def ballad(compose: Composer, changes: str) -> Form:
    """Long notes on the first beat, so that every bar has room."""
    return compose(" | ".join([changes] * 8), tempo=60.0, melody=[(4 * k, 4, 79 + k % 3) for k in range(32)])


@pytest.mark.parametrize("changes", BALLADS)
def test_late_voices_come_as_often_as_their_treatment_asks(compose: Composer, changes: str) -> None:
    form = ballad(compose, changes)
    for seed in range(4):
        chords = chords_of(arrange(form, "chords", Request(treatment="ballad", seed=seed)))
        late = sum(any(note.beat > beat for note in chord) for beat, chord in chords)
        assert 0.28 <= late / len(chords) <= 0.42, (late, len(chords))


@pytest.mark.parametrize("changes", BALLADS)
def test_their_notes_join_by_step_into_a_line(compose: Composer, changes: str) -> None:
    form = ballad(compose, changes)
    choruses = [arrange(form, "chords", Request(treatment="ballad", seed=seed)) for seed in range(4)]
    found = {figure.name: figure.value for figure in late_figures(form, plan(form, "ballad"), choruses)}
    assert found["late voices that go on by step"] >= 0.8
    assert found["late voices in a line over four bars or more"] >= 0.6


def test_a_late_note_stands_alone_under_the_melody_and_ends_with_its_chord(compose: Composer) -> None:
    melody = [(4 * k + b, n, p) for k in range(16) for b, n, p in ((0, 3, 74), (3, 1, 76))]
    form = compose(" | ".join(["Dm7 | G7 | Cmaj7 | Am7"] * 4), tempo=60.0, melody=melody)
    for seed in range(6):
        for beat, chord in chords_of(arrange(form, "chords", Request(treatment="ballad", seed=seed))):
            for note in (note for note in chord if note.beat > beat):
                assert note.midi > min(one.midi for one in chord)
                assert note.beat + note.length == max(one.beat + one.length for one in chord)
                assert all(abs(note.beat - sung.beat) >= Fraction(1, 4) for sung in form.melody)
                under = (m for m in form.melody if m.beat < note.beat + note.length and note.beat < m.beat + m.length)
                assert all(note.midi < sung.pitch.midi for sung in under)


def test_a_chord_that_would_be_said_again_is_left_to_the_late_voice(compose: Composer) -> None:
    """Where late voices are asked for, a chord is seldom struck twice within two beats of one harmony."""
    form = ballad(compose, BALLADS[0])
    again = {"ballad": 0, "in-two": 0}
    for named in again:
        for seed in range(6):
            chords = chords_of(arrange(form, "chords", Request(treatment=named, seed=seed)))
            again[named] += sum(b - a <= 2 and a // 4 == b // 4 for (a, _), (b, _) in pairwise(chords))
    assert again["ballad"] < again["in-two"]


def test_where_none_is_asked_for_none_comes(compose: Composer) -> None:
    form = ballad(compose, BALLADS[0])
    for beat, chord in chords_of(arrange(form, "chords", Request(treatment="walking"))):
        assert all(note.beat == beat for note in chord)


def test_the_audit_breaks_a_line_at_a_leap_and_at_a_long_wait() -> None:
    def late(beat: int, midi: int) -> Note:
        return Note(Fraction(beat), Fraction(1), pitch_in_key(midi), "chords")

    row = [late(1, 60), late(5, 62), late(9, 63), late(13, 67), late(17, 65), late(40, 64)]
    assert [len(line) for line in lines(row, Fraction(8))] == [3, 2, 1]


# where a chord is struck twice


@pytest.mark.parametrize(
    ("beats", "told", "melody", "left"),
    [
        ((1, 2), {}, [], [(1, 2)]),  # the second is left to a late voice, and the first lasts as long as both
        ((1, 3), {}, [], [(1, 3)]),
        ((1, 3.5), {}, [], [(1, 1), (3.5, 1)]),  # too far apart
        ((3, 4), {}, [], [(3, 1), (4, 1)]),  # another chord
        ((1, 2, 3), {}, [], [(1, 2), (3, 1)]),  # once only
        ((1, 2), {"late": 0.0}, [], [(1, 1), (2, 1)]),
        ((1, 2), {"away": 1}, [], [(1, 1), (2, 1)]),  # fourths that slide
        ((1, 2), {}, [(1.5, 1, 76)], [(1, 1), (2, 1)]),  # the melody moves meanwhile
        ((1, 2), {}, [(2, 1, 76)], [(1, 1), (2, 1)]),
        ((1, 2), {}, [(1, 1, 76)], [(1, 1), (2, 1)]),
        ((1, 2), {}, [(0.5, 1, 76), (2.5, 1, 77)], [(1, 2)]),
    ],
)
def test_a_chord_said_again_is_left_to_a_late_voice_where_one_is_asked_for(
    compose: Composer,
    beats: tuple[float, ...],
    told: dict[str, Any],
    melody: list[tuple[float, float, int]],
    left: list[tuple[float, float]],
) -> None:
    form = compose("Dm7 | G7 | Cmaj7", melody=melody)
    ruled = replace(treatment("ballad"), late=told.get("late", 0.5))  # asked for in half of the chords: always
    struck = [
        Strike(Fraction(beat), Fraction(1), harmonies(form)[int(beat // 4)], ruled, "", away=told.get("away"))
        for beat in beats
    ]
    found = gathered(struck, index_melody(form), random.Random(1))
    assert [(one.beat, one.length) for one in found] == left
    assert [one.again for one in found if one.length > 1] == [beats[1] for _, length in left if length > 1]


def test_what_may_ring_over_a_pedal_may_ring_as_long_again(compose: Composer) -> None:
    form = compose("Dm7 | G7")
    ruled = replace(treatment("ballad"), late=0.5)
    for first, second, meant in ((2, 3, 4), (5, 2, 5), (0, 3, 0)):
        struck = [
            Strike(Fraction(beat), Fraction(1), harmonies(form)[0], ruled, "", meant=Fraction(long))
            for beat, long in ((1, first), (2, second))
        ]
        (one,) = gathered(struck, index_melody(form), random.Random(1))
        assert one.meant == meant


# by hand

COMPING, VOICINGS = preferences(CompingPreferences), preferences(VoicingPreferences)
LATE = COMPING.late


def chord(
    compose: Composer, symbol: str, *midi: int, long: float = 2, left: int = 0, sung: float | None = None, **more: Any
) -> tuple[Strike, Voicing, Any]:
    """A chord struck on the first beat, and the melody, whose only note begins at a beat."""
    form = compose(f"{symbol} | G7", melody=[] if sung is None else [(sung, 1, 79)])
    harmony = harmonies(form)[0]
    strike = Strike(Fraction(0), Fraction(long), harmony, treatment("ballad"), "", **more)
    voicing = Voicing(Shape("rootless", "", row(harmony, midi), left, 0.0), midi, 0.0, False)
    return strike, voicing, index_melody(form)


@pytest.mark.parametrize(
    ("wanted", "fallen", "asked"),
    [(0.0, 0.0, 0), (0.0, 0.99, 0), (1.0, 0.24, 4), (1.0, 0.25, 0), (3.9, 0.97, 4), (3.9, 0.98, 0), (4.0, 0.5, 4),
     (5.5, 0.4, 5), (5.5, 0.6, 6)],
)  # fmt: skip
def test_there_are_enough_late_voices_for_a_line_or_none(wanted: float, fallen: float, asked: int) -> None:
    assert _asked(LATE, wanted, Thrown(fallen)) == asked


@pytest.mark.parametrize(
    ("told", "delays"),
    [
        ({"long": 2}, "1:0 1/2:0.3 3/2:0.6"),  # the last sounds for a half
        ({"long": 1.75}, "1:0 1/2:0.3"),
        ({"long": 1.25}, "1/2:0.3"),
        ({"long": 2, "again": Fraction(3, 2)}, "3/2:0 1:0.3 1/2:0.6"),  # where it would have been struck again
        ({"sung": 0.5}, "1:0 3/2:0.6"),
        ({"sung": 0.74}, "1:0 3/2:0.6"),  # a semiquaver after a note of the melody, not less
        ({"sung": 0.75}, "1/2:0.3 3/2:0.6"),
        ({"sung": 1.2}, "1/2:0.3 3/2:0.6"),
        ({"sung": 1.25}, "1:0 1/2:0.3"),
        ({"sung": 1.75}, "1:0 1/2:0.3 3/2:0.6"),
    ],
)
def test_a_late_note_waits_so_long_that_it_sounds_alone_and_for_a_while(
    compose: Composer, told: dict[str, Any], delays: str
) -> None:
    strike, _, above = chord(compose, "Dm7", 53, 57, 60, 64, **told)
    assert " ".join(f"{delay}:{price:.2g}" for delay, price in _delays(COMPING, strike, above)) == delays


@pytest.mark.parametrize(
    ("symbol", "midi", "sounding", "found"),
    [
        # fifth and ninth may wait; the eleventh may come in place of either
        ("Dm7", (53, 57, 60, 64), (), "57-5-1-0 64-9-3-0 55-11-1-0.6 67-11-1-0.6 55-11-3-0.6 67-11-3-0.6"),
        ("Dm7", (53, 57, 60, 64), (65,), "57-5-1-0 64-9-3-0 55-11-1-0.6 55-11-3-0.6"),  # under the melody
        # one more than three, or than two
        ("Dm7", (53, 57, 60), (), "55-11-None-0.3 64-9-None-0.3 67-11-None-0.3"),
        ("Dm7", (53, 60), (), "55-11-None-0.6 57-5-None-0.6 64-9-None-0.6 67-11-None-0.6"),
        ("C", (52, 57, 62), (), "55-5-None-0.3"),
        # nothing comes in place of the sixth that makes a triad whole
        ("C", (52, 57, 62, 67), (), "57-13-1-0 62-9-2-0 67-5-3-0"),
        # nothing stands for a chord's own notes
        ("Dm7/G", (53, 57, 60, 62), (), "57-5-1-0 62-1-3-0"),
        ("Bdim7", (59, 62, 65, 68), (), "65-b5-2-0 64-11-2-0.6 73-9-2-0.6"),
    ],
)
def test_which_notes_may_come_late_to_a_chord_and_in_place_of_which_voice(
    compose: Composer, symbol: str, midi: tuple[int, ...], sounding: tuple[int, ...], found: str
) -> None:
    strike, voicing, _ = chord(compose, symbol, *midi)
    notes = _notes(LATE, VOICINGS, strike, voicing, sounding)
    assert " ".join(f"{n.midi}-{n.degree}-{n.instead}-{n.price:.2g}" for n in notes) == found
    assert all(n.delay == 0 for n in notes)


def test_the_likeliest_of_the_notes_and_their_delays_comes_first(compose: Composer) -> None:
    strike, voicing, above = chord(compose, "Dm7", 53, 57, 60, 64, long=1.5)
    choices = _choices(COMPING, VOICINGS, strike, voicing, above, Thrown(0.0))
    found = [(n.midi, n.delay, n.instead, round(n.price, 6)) for n in choices]
    assert found == [(57, 1, 1, 0.0), (64, 1, 3, 0.0), (55, 1, 1, 0.6), (67, 1, 1, 0.6)]
    for told in ({"left": 2}, {"away": 1}):
        assert _choices(COMPING, VOICINGS, *chord(compose, "Dm7", 53, 57, 60, 64, **told), Thrown(0.0)) == []
    for midi in ((57,), (53, 57, 60, 64, 67)):
        assert _choices(COMPING, VOICINGS, *chord(compose, "Dm7", *midi), Thrown(0.0)) == []
    assert _choices(COMPING, VOICINGS, strike, None, above, Thrown(0.0)) == []


def late_at(midi: int, price: float = 0.0) -> LateVoice:
    return LateVoice(midi, degree("9"), Fraction(1), None, price)


@pytest.mark.parametrize(
    ("midi", "after", "price"),
    [(60, 4, 3.0), (61, 4, 0.0), (58, 4, 0.0), (63, 4, 3.0), (57, 4, 3.0), (65, 4, 9.0), (60, 3, 3.0), (62, 3, 0.0),
     (62, 2.5, 0.6), (60, 2.5, 3.6), (64, 2.5, 6.6)],
)  # fmt: skip
def test_what_it_costs_to_go_on_to_a_late_voice(midi: int, after: float, price: float) -> None:
    """Nothing by step; the same note and a third 3, each semitone more 3; 0.6 where it is less than three beats on."""
    before = _End(0, 8.0, late_at(60), np.zeros(2), [None, None])
    assert _join(LATE, late_at(midi), before, 8.0 + after) == pytest.approx(price)


def test_a_line_begins_anew_for_seven_or_goes_on_with_one_late_voice_more() -> None:
    first = _End(0, 0.0, late_at(60), np.array([NEVER, 7.5, NEVER, NEVER]), [None] * 4)
    best: list[tuple[float, _End | None]] = [(0.0, None), (7.2, None), (NEVER, None), (NEVER, None)]
    on = _extended(LATE, (1, 4.0), late_at(62, 0.25), [first], best, 3)
    assert on.costs.tolist() == [NEVER, 7.25, pytest.approx(7.75), pytest.approx(NEVER)]
    assert (on.chord, on.beat, on.before[:3]) == (1, 4.0, [None, None, first])
    far = _extended(LATE, (1, 4.0), late_at(70), [first], best, 3)
    assert far.costs.tolist()[:3] == [NEVER, 7.0, pytest.approx(14.2)] and far.before[2] is None


def chosen(beats: list[float], choices: list[list[LateVoice]], asked: int) -> dict[int, int]:
    return {n: voice.midi for n, voice in sorted(_line(LATE, beats, choices, asked).items())}


def test_the_line_that_joins_best_has_as_many_late_voices_as_are_asked_for_never_two_running() -> None:
    steps = [[late_at(60)], [late_at(70)], [late_at(62), late_at(69)], [late_at(71)], [late_at(64)]]
    beats = [0.0, 4.0, 8.0, 12.0, 16.0]
    assert chosen(beats, steps, 3) == {0: 60, 2: 62, 4: 64}
    assert chosen(beats, steps, 2) == {0: 60, 2: 62}
    assert chosen(beats, steps, 9) == {0: 60, 2: 62, 4: 64}, "no more than can be"
    assert chosen(beats, [[], [late_at(60)], [], [], []], 2) == {1: 60}
    assert chosen(beats, [[]] * 5, 2) == {}
    dear = [[late_at(60)], [late_at(60)], [late_at(62, 8.0)], [late_at(61, 0.5)], []]
    assert chosen(beats, dear, 2) == {1: 60, 3: 61}, "eight beats apart is near"
    assert chosen([0.0, 3.9, 8.0, 12.0, 16.0], [[], [late_at(60)], [], [late_at(61), late_at(75, -0.1)], []], 2) == {
        1: 60, 3: 75,
    }, "further is not: it begins anew, with what is cheapest"  # fmt: skip


def test_a_late_note_is_written_after_its_chord_in_another_voices_place_or_as_one_more(compose: Composer) -> None:
    form = compose("Dm7 | G7")
    strike = Strike(Fraction(4), Fraction(3), harmonies(form)[0], treatment("ballad"), "")
    struck = [
        Note(Fraction(4), Fraction(3), pitch_in_key(midi), "chords", voice=n, reason="rootless")
        for n, midi in enumerate((53, 57, 60), 1)
    ]
    late = LateVoice(64, degree("9"), Fraction(1, 2), None, 0.0)
    more = with_late_voice(form, strike, struck, late)
    assert [(n.midi, n.beat, n.length, n.voice) for n in more] == [
        (53, 4, 3, 1), (57, 4, 3, 2), (60, 4, 3, 3), (64, Fraction(9, 2), Fraction(5, 2), 4)
    ]  # fmt: skip
    assert (str(more[-1].pitch), more[-1].degree) == ("E4", "9")
    assert more[-1].reason == "late fourth voice, a line of its own: the 9; rootless"
    instead = with_late_voice(form, strike, struck, replace(late, midi=55, degree=degree("11"), instead=1))
    assert [(n.midi, n.beat, n.voice) for n in instead] == [(53, 4, 1), (60, 4, 3), (55, Fraction(9, 2), 2)]
