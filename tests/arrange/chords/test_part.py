"""Chords where melody and bass leave little room: moved in the bar, shortened, left out, or taken by the left hand.

What stands here is what becomes of them today, not what is right: kept, and written, as in test_written_out.py.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from companion.arrange.chords.context import Strike
from companion.arrange.chords.part import (
    _bass_under,
    _beyond,
    _elsewhere,
    _left_reaches,
    _let_go,
    _moved,
    _ringing,
    chord_notes,
)
from companion.arrange.chords.shape import Shape
from companion.arrange.chords.voicings import Voicing
from companion.arrange.holding import PedalIndex
from companion.arrange.lookup import harmony_at
from companion.arrange.melody.part import index_melody
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.arrange.treatments import treatment
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences
from tests.arrange.behaviour.test_written_out import written

Composer = Callable[..., Form]
LITTLE_ROOM: list[tuple[str, str, float, str, str, str]] = [
    (
        "walking", "Cm7 | D9sus4 | Am7b5 | Cmaj7", 140.0,
        "1:3:59 4:1:63 8:1:59 9:6:56",
        "own",
        "/5/2 1| 1:G3.B3.C4.E4 3| 3:E3.G3.B3.D4/1",
    ),
    (
        "open", "Ebmaj7 Fm6 | Dm7 C/E | G7 | A7b9", 200.0,
        "1:6:67 8:3:65 14:1:64",
        "0:4:32 4:1:28 5:1:34 6:1:33 7:1:37 8:2:34 10:1:33 11:1:40 12:2:28 14:2:41 P",
        ("/3/2 0| 1/2:D3.G3.Bb3.F4P 3:D3.G3.C4/1 1| 1:E3.A3.D4/1 5/2:E3.G3.C4 2| 1/2:F3.A3.B3/2 5/2:F3.B3.D4 "
        "3| 1:C#3.G3.Bb3.F#4/1P 3:G3.C#4.F#4.Bb4/1/2P"),
    ),
    (
        "open", "Am7b5 | G7 | A7b9 | G7", 140.0,
        "",
        "0:2:39 2:1:40 3:2:34 5:1:31 6:1:59 7:4:48 11:4:57 15:2:47 P",
        ("/5/2 0| 3/2:C4.G4.D5.Eb5P 1| 1:B3.F4.A4/1 2| 1/2:G3.C#4.F#4.Bb4P 3| 1/2:D4.F4.B4/2 "
        "5/2:B3.F4.A4.E5/1P"),
    ),
    (
        "ballad", "Ebmaj7 | Bb7 | Abmaj7 E7alt | E7alt", 140.0,
        "2:0.5:62 2.5:6:61 8.5:1:63 9.5:0.5:65 13:3:66",
        "own",
        "/3/2 0| 1/2:G3.D4.F4 3/2:Bb3/1/2 1| 1/2:D3.F3.Ab3 2| 2:G#3.D4.G4 3:C4/1/2 3| 1/2:G#3.C4.D4.F4/1/2",
    ),
    (
        "open", "Bdim7 | G7 | Abmaj7 Fm6 | E7alt", 140.0,
        "",
        "0:4:29 4:2:31 6:1:31 7:2:48 9:1:31 10:1:54 11:1:47 12:2:61 14:1:57 15:2:46 P",
        ("/5/2 0| 3/2:F3.D4.Ab4.C#5P 1| 1:F3.B3.E4.A4/3P 2| 1/2:Eb3.C4.G4.Bb4/3/2P 3:D4.G4.C5/1 3| "
        "3/2:D4.G#4.C5/2"),
    ),
    (
        "ballad", "Abmaj7 C6 | Cm7 | Fm6 | G7", 140.0,
        "0:1:64 4:1:64 8:6:55",
        "0:4:31 4:2:32 6:1:42 7:4:35 11:2:40 13:1:37 14:2:39",
        "/3/2 0| 1/2:G3.Bb3.C4 2:E3.G3.A3.D4/2 1| 1:G3.Bb3.Eb4/3 3| 2:F3.A3.B3.E4",
    ),
    (
        "walking", "Cm7 | C/E | D9sus4 | Cmaj7", 140.0,
        "1:0.5:76 1.5:1:71 2.5:4:68 7.5:3:68 13.5:0.5:78 14:2:72",
        "0:1:56 1:1:35 2:1:40 3:2:33 5:1:30 6:4:42 10:4:31 14:1:52 15:2:31",
        ("/1/2 0| 3:Bb3.Eb4.F4 7/2:Bb3.Eb4 1| 1:C4.E4/1 2:C4.E4/3/2 2| 5/2:G3.B3.C4.E4/3/2 3| 0:B3.D4.E4.G4 "
        "1/2:B3.D4.E4.A4/1"),
    ),
    (
        "open", "Bb7 C6 | Fm6 | Abmaj7 | G7", 60.0,
        "",
        "0:1:52 1:2:31 3:2:57 5:2:51 7:2:51 9:4:51 13:1:42 14:1:60 15:2:61 P",
        ("/3/2 0| 1/2:Ab3.D4.G4.C5P 3:E4.A4.D5/1 1| 3/2:Ab3.D4.G4.C5/5/2P 2| 1:G3.C4.Eb4.Bb4/2P "
        "3:C4.G4.Bb4.Eb5/1P 3| 1/2:B3.F4.A4.E5P"),
    ),
    (
        "ballad", "Cmaj7 | Cmaj7 | Bdim7 | Bdim7", 60.0,
        "2:4:65 6:1:66 7:6:62 13:2:69",
        "0:1:32 1:1:53 2:4:28 6:2:48 8:1:47 9:4:41 13:4:42",
        "/3 0| 1/2:G3.B3.E4/3/2 2| 1:D3.F3.Ab3.B3 3| 1/2:D3.F3.Ab3.B3/1/2",
    ),
    (
        "open", "Fm6 | Bb7 Ebmaj7 | Cmaj7 | Am7b5", 100.0,
        "1:1:68 3:1:64 7:1:64 8:6:71 14:2:64",
        "0:2:33 2:2:53 4:1:53 5:4:50 9:1:30 10:4:41 14:1:43 15:2:30",
        ("/1 0| 3/2:Ab3.C4.D4/5/2 1| 1:Ab3.D4.F4 5/2:G3.Bb3.D4/3/2 2| 1:B3.E4/2 3:E3.B3.D4.G4P 3| "
        "3/2:G3.C4.D4/2"),
    ),
    (
        "modal", "Bb7 | Cm7 | Dm7 | Fm6 Bdim7", 60.0,
        "2:1:67 6:1:60 7:1:67 9:1:63 10:1:61 11:5:56",
        "own",
        "/1 0| 0:Ab3.D4.G4 1:Ab3.D4.G4 1| 0:G3.C4.F4 1:F3.Bb3.Eb4 7/2:G3.C4.F4/3/2",
    ),
    (
        "ballad", "A7b9 | Dm7 | Am7b5 E7alt | D9sus4 F13", 60.0,
        "1:6:58 10:1:67 12:0.5:55",
        "0:4:37 4:1:32 5:1:44 6:1:54 7:2:54 9:4:44 13:4:37 P",
        ("/1 0| 0:C#3.F3.G3 1/2:Bb3/1/2 2:C#3.F3.G3/2 1| 3:C4.E4.F4.A4 2| 1:Eb3.G3.C4 3/2:F4/1/2 "
        "5/2:G3.G#3.C4.D4/3/2 3| 1:G3.A3.C4 3/2:E4/1/2 3:G3.A3.C4.Eb4/1/2"),
    ),
    (
        "shells", "E7alt | C6 | Am7b5 F13 | Cm7 Am7b5", 140.0,
        "0:6:63 9:3:69 12:3:71",
        "0:4:34 4:1:30 5:2:42 7:4:38 11:1:43 12:4:38",
        "/3/2 0| 3/2:E3.G#3/5/2 1| 3/2:E3.G3.A3 2| 2:F3.A3/2 3| 3/2:C4.Eb4/1/2",
    ),
    (
        "sliding-under", "Am7b5 | A7b9 | Bdim7 A7b9 | D9sus4", 60.0,
        "2:3:69 6:1:68 7:1:69 9:6:72",
        "0:2:34 2:1:38 3:4:36 7:1:36 8:4:42 12:1:37 13:1:37 14:1:35 15:1:33",
        "/2 1| 0:G3.C#4.F#4*1.05 3| 0:C4.G4/7/2*1.05",
    ),
    (
        "block", "Cm7 | Bb7 | Dm7 | F13", 140.0,
        "0:1:71 2:6:62 11:5:63",
        "0:2:37 2:1:47 3:2:37 5:1:52 6:2:34 8:4:41 12:1:54 13:1:50 14:4:37",
        "/1/2 1| 3:D3.G3.Ab3.C4 2| 3:F3.A3.C4/1*1.08",
    ),
]  # fmt: skip
"""Treatment, changes and tempo; melody, and bass ("own": the treatment's), as beat:length:MIDI number, ``P`` where the
pedal holds it; the chords."""


def placed(text: str) -> list[tuple[float, float, int]]:
    """Notes as (beat, length, MIDI number)."""
    words = [word.split(":") for word in text.removesuffix("P").split()]
    return [(float(beat), float(length), int(midi)) for beat, length, midi in words]


@pytest.mark.parametrize(("treatment", "changes", "tempo", "melody", "bass", "found"), LITTLE_ROOM)
def test_chords_with_little_room_to_their_last_note(
    compose: Composer, treatment: str, changes: str, tempo: float, melody: str, bass: str, found: str
) -> None:
    form = compose(changes, tempo=tempo, melody=placed(melody))
    ruled = plan(form, treatment)
    if bass == "own":
        below = arrange(form, "bass", Request(treatment))
    else:
        below = tuple(
            Note(Fraction(beat), Fraction(length), pitch_in_key(midi), "bass", "left", pedal=bass.endswith("P"))
            for beat, length, midi in placed(bass)
        )
    assert " ".join(written(chord_notes(form, ruled, index_melody(form, ruled), below))) == found


def test_unless_told_otherwise_it_is_the_first_chorus_of_the_first_seed(compose: Composer) -> None:
    form = compose("Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | A7")
    ruled, above = plan(form, "walking"), index_melody(form)
    usual = chord_notes(form, ruled, above, ())
    assert usual == chord_notes(form, ruled, above, (), chorus=1, seed=0)
    for chorus, seed in ((0, 0), (2, 0), (1, 1), (1, -1)):
        assert usual != chord_notes(form, ruled, above, (), chorus=chorus, seed=seed)


# by hand

VOICINGS = preferences(VoicingPreferences)
F = Fraction


def struck_at(form: Form, beat: float, length: float, **more: Any) -> Strike:
    return Strike(F(beat), F(length), harmony_at(form, F(beat)), treatment("walking"), "", **more)


def voiced(*midi: int, left: int = 0) -> Voicing:
    return Voicing(Shape("open", "", (), left, 0.0), midi, 0.0)


def bass(*notes: tuple[float, float, int], pedal: bool = False) -> tuple[Note, ...]:
    return tuple(Note(F(b), F(n), pitch_in_key(midi), "bass", "left", pedal=pedal) for b, n, midi in notes)


def test_a_strike_is_moved_later_or_else_sooner_and_shortened_where_it_must_be(compose: Composer) -> None:
    strike = struck_at(compose("Dm7"), 1, 1)
    found = [(float(one.beat), float(one.length)) for one in _moved(strike, F(0), F(3))]
    assert found == [
        (1.5, 1.5), (1, 1.5), (0.5, 1.5), (0, 1.5),
        (1.5, 1), (2, 1), (1, 1), (0.5, 1), (0, 1),
        (1.5, 0.5), (2, 0.5), (2.5, 0.5), (1, 0.5), (0.5, 0.5), (0, 0.5),
    ]  # fmt: skip
    assert list(_moved(strike, F(1), F(1))) == []


def test_the_bass_under_a_strike_is_what_sounds_at_any_time_during_it(compose: Composer) -> None:
    form = compose("Dm7 | G7")
    under = _bass_under(bass((0, 1, 38), (1, 0.5, 40), (2, 1, 41), (3, 1, 43)))
    found = {(b, n): under(struck_at(form, b, n)) for b, n in
             ((0, 1), (0, 1.5), (1, 0.5), (1.5, 0.5), (1.5, 1), (2.5, 1), (3.5, 4), (4, 1))}  # fmt: skip
    assert found == {
        (0, 1): [38], (0, 1.5): [38, 40], (1, 0.5): [40], (1.5, 0.5): [], (1.5, 1): [41], (2.5, 1): [41, 43],
        (3.5, 4): [43], (4, 1): [],
    }  # fmt: skip
    assert _bass_under(())(struck_at(form, 0, 1)) == []


def test_a_hand_lets_go_of_a_chord_for_a_melody_note_that_it_cannot_reach_from_it(compose: Composer) -> None:
    form = compose("Dm7 | G7", melody=[(0, 1, 72), (2, 1, 67), (3, 1, 68)])
    above, none = index_melody(form), PedalIndex(form, ())
    held = struck_at(form, 1, 4)
    assert _let_go(VOICINGS, held, voiced(53, 57, 60), above, none).length == 2, "a ninth and a semitone above"
    assert _let_go(VOICINGS, held, voiced(54, 57, 60), above, none) is held, "a ninth"
    assert _let_go(VOICINGS, held, voiced(40, 53, 57, 60, left=1), above, none).length == 2, "from the right hand's"
    assert _let_go(VOICINGS, struck_at(form, 1, 2), voiced(53, 57), above, none).length == 2, "it is over by then"
    down = PedalIndex(form, bass((0, 4, 38), pedal=True))
    assert _let_go(VOICINGS, held, voiced(53, 57, 60), above, down) is held, "the pedal holds it"


def test_a_chord_is_out_of_reach_from_what_the_hand_strikes_or_holds_with_it(compose: Composer) -> None:
    form = compose("Dm7 | G7", melody=[(1, 2, 68)])
    above, none, down = index_melody(form), PedalIndex(form, ()), PedalIndex(form, bass((0, 4, 38), pedal=True))
    low, high = voiced(53, 57), voiced(54, 57)
    for beat, pedal, beyond in ((1, none, True), (2, none, True), (3, none, False), (0, none, False), (1, down, True),
                                (2, down, False)):  # fmt: skip
        strike = struck_at(form, beat, 1)
        assert _beyond(VOICINGS, strike, low, above, pedal) == beyond, beat
        assert not _beyond(VOICINGS, strike, high, above, pedal) and not _beyond(VOICINGS, strike, None, above, pedal)


def test_the_left_hand_reaches_its_notes_from_the_bass_within_a_ninth() -> None:
    chord = voiced(48, 52, 57, 60, left=2)
    assert [_left_reaches(VOICINGS, chord, bass) for bass in (37, 38, None)] == [False, True, True]
    assert _left_reaches(VOICINGS, voiced(52, 57, 60), 28), "it has none"


def test_over_a_pedal_a_chord_rings_on_until_something_would_rub(compose: Composer) -> None:
    form = compose("Dm7 | G7", melody=[(1, 1, 69), (2.5, 1, 65)])
    above, under = index_melody(form), _bass_under(())
    chord = voiced(53, 57, 60, 64)

    def rings(meant: float, until: float, beat: float = 1, length: float = 1) -> float:
        strike = struck_at(form, beat, length, meant=F(meant))
        return float(_ringing(VOICINGS, strike, chord, F(until), above, under).length)

    assert rings(3, 8) == 1.5, "up to the F above its E"
    assert rings(1.5, 8) == 1.5 and rings(1, 8) == 1 and rings(4, 2) == 1
    form = replace(form, melody=())
    above = index_melody(form)
    assert rings(2.5, 8) == 2.5 and rings(2.5, 2.5) == 1.5, "until the next chord is struck"
    assert rings(8, 8) == 3, "until another chord begins"
    assert rings(8, 8, beat=3.5, length=2) == 2, "what lies over it stays as it is"


def test_a_bar_of_rest_without_a_chord_gets_one_elsewhere(compose: Composer) -> None:
    """A bass an octave too high in the first half of the bar leaves no room there."""
    form = compose("Dm7 | G7 | Cmaj7")
    above = index_melody(form)

    def moved(under: Callable[[Strike], Sequence[int]], *beats: float, chosen: Sequence[int] = ()) -> list[float]:
        struck = [struck_at(form, beat, 0.5) for beat in beats]
        voicings = [voiced(53, 57, 60) if n in chosen else None for n in range(len(struck))]
        _elsewhere(VOICINGS, form, struck, voicings, above, under, None)
        return [float(one.beat) if voicing else -1 for one, voicing in zip(struck, voicings, strict=True)]

    free = _bass_under(())
    crowded = _bass_under(bass((4, 2, 70), (6, 2, 40)))
    assert moved(crowded, 4.5) == [6.0], "after the high bass"
    assert moved(free, 4.5) == [5.0], "a little later"
    assert moved(free, 4.5, 6, chosen=(1,)) == [-1, 6], "the bar has a chord"
    assert moved(free, 4.5, 6) == [4.5, -1], "one is enough, up to the next"
    assert moved(free, 3.5, 4, chosen=(0,)) == [3.5, 4.5], "half a beat after the last at the soonest"
    assert moved(crowded, 3.5, 4.5, 5, chosen=(0,)) == [3.5, -1, 6.0], "and before the next"
