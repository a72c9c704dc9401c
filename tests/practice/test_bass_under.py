"""The bass under a passage: the player's own, the companion's, or the roots; of what was begun again the last time."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from companion.engrave.sheet import LEFT
from companion.messages import Order
from companion.practice.alignment import Alignment
from companion.practice.bass_under import PlayedSpan, bass_under
from companion.practice.judging import JudgedNote
from companion.practice.revoiced import passage_sheet, revoiced_passage
from companion.practice.sweeps import Sweep
from tests.practice.test_revoiced import BAD, CHORDS, QUARTER, chart, laid, revoiced

FORM = chart().unfold()
ALL = PlayedSpan(Fraction(0), Fraction(16), 1)
Told = list[tuple[float, int]]


def walked(*notes: tuple[float, int], ahead: float = -0.01) -> list[Order]:
    """The companion's bass, at beats of the first time through."""
    return [
        Order(2.0 + QUARTER * beat + ahead + long, "bass", 0x90 if not long else 0x80, midi, 70)
        for beat, midi in notes
        for long in (0.0, 0.4)
    ]


def under(ours: list[Order], alignment: Alignment | None = None, span: PlayedSpan = ALL) -> Told:
    notes = bass_under(FORM, alignment or laid(BAD), span, ours)
    return [(float(note.beat), note.midi) for note in notes]


def test_the_companions_walk_stands_as_it_sounded_a_skip_at_the_off_beat() -> None:
    walk = [(0.0, 38), (1.0, 41), (1.66, 42), (2.0, 45), (3.0, 44)]
    assert under(walked(*walk)) == [(0.0, 38), (1.0, 41), (1.5, 42), (2.0, 45), (3.0, 44)]


def test_each_note_lasts_until_the_next() -> None:
    notes = bass_under(FORM, laid(BAD), ALL, walked((0.0, 38), (1.0, 41)))
    assert [note.length for note in notes] == [1, 15]


def test_the_players_own_left_hand_is_what_stands_below() -> None:
    mine = JudgedNote("right", 4.0, None, 43, 2.0 + QUARTER * 4, None, "bass")
    known = laid(BAD)
    assert under([], replace(known, judged=((*known.judged[0], mine),))) == [(4.0, 43)]


def test_where_no_bass_sounded_it_is_the_roots_by_bar_and_a_slash_chord_has_its_bass() -> None:
    assert under([]) == [(0.0, 38), (4.0, 43), (8.0, 36), (12.0, 36)]
    slash = chart("Dm7/G | G7 | C6 | C6").unfold()
    assert next(note.midi for note in bass_under(slash, laid(BAD), ALL, [])) == 43


def test_of_bars_that_were_begun_again_the_last_time_counts() -> None:
    sweeps = (Sweep(0.0, 8.0, ((0.0, 2.0), (8.0, 6.0))), Sweep(4.0, 16.0, ((4.0, 8.0), (16.0, 14.0))))
    again = [
        *walked((0.0, 38), (4.0, 43), (6.0, 47)),
        *[replace(o, seconds=o.seconds + 4.0) for o in walked((4.0, 31))],
    ]
    assert under(again, Alignment(((), ()), sweeps, ())) == [(0.0, 38), (4.0, 31)]


def test_the_second_time_through_has_its_own_bass() -> None:
    later = PlayedSpan(Fraction(0), Fraction(16), 2)
    assert under(walked((0.0, 38), (16.0, 50)), laid(BAD, choruses=2), later) == [(0.0, 50)]


def test_on_paper_the_bass_has_the_lower_staff_before_and_after() -> None:
    sheet = passage_sheet(chart(), revoiced(BAD, ours=walked(*[(4.0 * n, 38) for n in range(4)])), CHORDS)
    assert LEFT in sheet.staves
    low = [
        pitch.midi
        for bar in sheet.bars
        for voice in bar.voices
        if voice.staff == LEFT
        for head in voice.heads
        for pitch in head.pitches
    ]
    assert low == [38] * 8
    assert revoiced_passage(FORM, laid(BAD), (2, 3), CHORDS).bass[0].beat == 4


@pytest.mark.parametrize(("velocity", "sounds"), [(0, False), (1, True)])
def test_velocity_0_begins_no_note(velocity: int, sounds: bool) -> None:
    """MIDI 1.0: it is a note off."""
    assert under([Order(2.0, "bass", 0x90, 50, velocity)]) == ([(0.0, 50)] if sounds else under([]))
    assert under([Order(2.0, "chords", 0x90, 50, 70)]) == under([])


@pytest.mark.parametrize(
    ("beat", "place"), [(1.0, 1.0), (1.29, 1.0), (1.32, 1.5), (1.5, 1.5), (1.69, 1.5), (1.72, 2.0), (0.72, 1.0)]
)
def test_a_note_stands_on_the_beat_or_half_way_to_the_next(beat: float, place: float) -> None:
    """Within three tenths of a beat it is that beat's."""
    assert under(walked((beat, 41), ahead=0.0)) == [(place, 41)]


def test_the_roots_lie_from_the_low_c_upwards_and_last_their_chord_or_bar() -> None:
    form = chart("C6 | B7 | Dm7 G7 | Bb7").unfold()
    notes = bass_under(form, laid(BAD), ALL, [])
    assert [(note.beat, note.length, note.midi) for note in notes] == [
        (0, 4, 36), (4, 4, 47), (8, 2, 38), (10, 2, 43), (12, 4, 46)
    ]  # fmt: skip
    assert {(note.part, note.hand) for note in notes} == {("bass", "left")}


@pytest.mark.parametrize(
    ("bars", "midi", "name"),
    [("Gb7", 42, "Gb2"), ("F#7", 42, "F#2"), ("Dm7", 42, "F#2"), ("Dm7", 46, "Bb2"), ("D7/F#", 42, "F#2"),
     ("Ebm/Gb", 42, "Gb2"), ("Gb7", 43, "G2")],
)  # fmt: skip
def test_a_bass_note_has_its_chords_name_for_it_else_the_keys(bars: str, midi: int, name: str) -> None:
    form = chart(f"{bars} | G7 | C6 | C6").unfold()
    (note,) = bass_under(form, laid(BAD), ALL, walked((0.0, midi)))
    assert str(note.pitch) == name


def test_of_what_was_begun_again_in_the_second_time_through_the_last_time_counts() -> None:
    """Its bars 1 and 2, and then from bar 2 on anew."""
    sweeps = (Sweep(16.0, 24.0, ((16.0, 2.0), (24.0, 6.0))), Sweep(20.0, 32.0, ((20.0, 8.0), (32.0, 14.0))))
    again = [
        *walked((0.0, 38), (4.0, 43), (6.0, 47), ahead=0.0),
        *[replace(o, seconds=o.seconds + 4.0) for o in walked((4.0, 31), ahead=0.0)],
    ]
    later = PlayedSpan(Fraction(0), Fraction(16), 2)
    assert under(again, Alignment(((), ()), sweeps, ()), later) == [(0.0, 38), (4.0, 31)]


@pytest.mark.parametrize(("high", "midi"), [(4.0, 47), (5.0, 43)])
def test_bars_that_were_not_reached_again_are_as_they_were(high: float, midi: int) -> None:
    """Of bar 2: back at the beginning, one who ended before it played none of it, and one within it struck no bass."""
    sweeps = (Sweep(0.0, 16.0, ((0.0, 2.0), (16.0, 10.0))), Sweep(0.0, high, ((0.0, 12.0), (16.0, 20.0))))
    alignment = Alignment(((), ()), sweeps, ())
    assert under(walked((4.0, 47)), alignment, PlayedSpan(Fraction(4), Fraction(8), 1)) == [(4.0, midi)]


def test_a_note_on_the_downbeat_after_a_passage_is_not_in_it() -> None:
    bar = PlayedSpan(Fraction(4), Fraction(8), 1)
    assert under(walked((4.0, 43), (8.0, 36), ahead=0.0), span=bar) == [(4.0, 43)]


def test_where_bars_begun_again_have_no_bass_on_their_downbeat_there_is_none() -> None:
    sweeps = (Sweep(0.0, 8.0, ((0.0, 2.0), (8.0, 6.0))), Sweep(4.0, 16.0, ((4.0, 8.0), (16.0, 14.0))))
    again = [
        *walked((0.0, 38), (4.0, 43), ahead=0.0),
        *[replace(o, seconds=o.seconds + 4.0) for o in walked((6.0, 47), ahead=0.0)],
    ]
    assert under(again, Alignment(((), ()), sweeps, ())) == [(0.0, 38), (6.0, 47)]
